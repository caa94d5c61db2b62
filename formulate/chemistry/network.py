"""Which species can be in a water, arranged the way the equations go through them.

Cations pair with ligands and with nothing else. So for given ligands every cation follows
from its own balance, and for given cations every ligand: the network lists, for each,
what it forms alone (with protons or hydroxide) and with each partner.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import log

import numpy as np

from formulate.chemistry.constants import log_k
from formulate.chemistry.water_properties import (
    coefficients,
    debye_hueckel,
    kelvin,
)

__all__ = ["CATIONS", "Classes", "Network", "network"]

CATIONS = (
    "potassium",
    "sodium",
    "ammonium",
    "calcium",
    "magnesium",
    "iron_ii",
    "iron_iii",
    "manganese",
    "zinc",
    "copper",
)


LN10 = log(10)
DAVIES = coefficients("davies")


@dataclass(frozen=True, eq=False)
class Classes:
    """
    What activity coefficients depend on: ln γ = −fall × term(size, linear) + slope × I.

    Attributes
    ----------
    sizes : array
        Each size that occurs: B a, or 1 for Davies. [(kg/mol)^0.5]
    linear : array
        Linear part of each: 0.3 for Davies, else 0. [kg/mol]
    places : array
        Place of the size of each class. [-]
    falls : array
        A z² of each class, for natural logarithms. [(kg/mol)^0.5]
    slopes : array
        Slope b of each class, for natural logarithms. [kg/mol]
    """

    sizes: np.ndarray
    linear: np.ndarray
    places: np.ndarray
    falls: np.ndarray
    slopes: np.ndarray


@dataclass(frozen=True, eq=False)
class Network:
    """
    The species between the forms of a solution, at one temperature.

    Attributes
    ----------
    cations : tuple of str
        Forms that pair as cations.
    ligands : tuple of str
        Forms that pair as ligands.
    inert : tuple of str
        Forms that pair with nothing.
    species : tuple of Species
        H+, OH-, the bare ions of cations, ligands and inert forms, then what forms of them.
    kinds : tuple of int
        Place of the activity class of each species. [-]
    classes : Classes
        What the activity coefficients of the classes depend on.
    partners : tuple of tuple of (float, int)
        SIT coefficient, for natural logarithms, and place of the partners of each species.
        [kg/mol]
    ion_product : float
        Constant of H2O = H+ + OH-. [-]
    powers : tuple of (int, int)
        Protons and waters of each power of h and w that occurs. [-]
    rows : tuple of (float, int)
        Constant, and place of the power, of each species that forms. [-]
    alone_cation : tuple of tuple of int
        Rows of what each cation forms with water alone. [-]
    alone_ligand : tuple of tuple of int
        Rows of what each ligand forms with protons alone. [-]
    pairs : tuple of (int, int, int, tuple of int)
        Cation, ligand, how many of that ligand, and the rows of what they form. [-]
    squared : tuple of int
        Ligands that go in twos into some pair. [-]
    of_cation : tuple of tuple of (int, int)
        Of each cation, its pairs, and the place of the ligand among all ligands followed
        by the squares of `squared`. [-]
    of_ligand : tuple of tuple of (int, int)
        Of each ligand, the pairs with one of it, and the cation there. [-]
    of_ligand_twice : tuple of tuple of (int, int)
        The same of pairs with two. [-]
    families : tuple of (int, tuple of (int, tuple of int))
        Place among cations and ligands of what takes or gives protons, and its species by
        the number of protons in them. [-]
    without_protons : tuple of tuple of int
        Of each ligand, the places of itself and of its pairs without protons. [-]
    by_square : tuple of (int, tuple of int)
        Square of the charge, and the places of the species with it. [-]
    """

    cations: tuple
    ligands: tuple
    inert: tuple
    species: tuple
    kinds: tuple
    classes: Classes
    partners: tuple
    ion_product: float
    powers: tuple
    rows: tuple
    alone_cation: tuple
    alone_ligand: tuple
    pairs: tuple
    squared: tuple
    of_cation: tuple
    of_ligand: tuple
    of_ligand_twice: tuple
    families: tuple
    without_protons: tuple
    by_square: tuple

    @property
    def first_row(self):
        """Return the place of the first species that forms from others."""
        return len(self.species) - len(self.rows)


@lru_cache(maxsize=64)
def network(forms, temperature, known):
    """
    Return the network between some forms.

    Parameters
    ----------
    forms : tuple of str
        Keys of the forms that are there.
    temperature : float
        Temperature. [°C]
    known : Constants
        The constants.

    Returns
    -------
    Network
        The network.

    Raises
    ------
    MissingData
        If a form has no bare ion among the constants.

    Examples
    --------
    >>> from formulate.chemistry.constants import constants
    >>> net = network(("calcium", "nitrate", "sulfate"), 25.0, constants())
    >>> net.cations, net.ligands, net.inert
    (('calcium',), ('sulfate',), ('nitrate',))
    """
    reactions = known.among(forms)
    pairing = {s.ligand for s in reactions}
    cations = tuple(f for f in CATIONS if f in forms)
    ligands = tuple(f for f in forms if f in pairing)
    inert = tuple(f for f in forms if f not in cations and f not in ligands)
    bare = [known.master(form) for form in (*cations, *ligands, *inert)]
    species = (known.hydrogen, known.hydroxide, *bare, *reactions)
    kinds, classes = _classes(species, *debye_hueckel(temperature))
    powers = tuple(sorted({(s.protons, s.waters) for s in reactions}))
    warm, first = kelvin(temperature), 2 + len(bare)
    rows = tuple(
        (10.0 ** log_k(s.log_k, warm), powers.index((s.protons, s.waters)))
        for s in reactions
    )
    found = _groups((s.cation, s.ligand, s.ligands) for s in reactions)
    pairs = tuple(
        (cations.index(cation), ligands.index(ligand), count, rows_of)
        for (cation, ligand, count), rows_of in found.items()
        if cation and ligand
    )
    squared = tuple(sorted({ligand for _, ligand, count, _ in pairs if count == 2}))
    held = range(len(ligands))
    return Network(
        cations,
        ligands,
        inert,
        species,
        kinds,
        classes,
        _partners(species, known.epsilon),
        10.0 ** log_k(known.hydroxide.log_k, warm),
        powers,
        rows,
        tuple(found.get((c, "", 0), ()) for c in cations),
        tuple(found.get(("", a, 1), ()) for a in ligands),
        pairs,
        squared,
        tuple(
            _of_cation(place, pairs, squared, len(ligands))
            for place in range(len(cations))
        ),
        tuple(_of_ligand(place, pairs, 1) for place in held),
        tuple(_of_ligand(place, pairs, 2) for place in held),
        _families((*cations, *ligands), reactions, first),
        _without_protons(cations, ligands, reactions, first),
        tuple(_groups(s.charge**2 for s in species).items()),
    )


def _of_cation(place, pairs, squared, ligands):
    """Return the pairs of a cation, and the place of what each is with."""
    return tuple(
        (p, ligand if count == 1 else ligands + squared.index(ligand))
        for p, (cation, ligand, count, _) in enumerate(pairs)
        if cation == place
    )


def _of_ligand(place, pairs, wanted):
    """Return the pairs with so many of a ligand, and their cations."""
    return tuple(
        (p, cation)
        for p, (cation, ligand, count, _) in enumerate(pairs)
        if ligand == place and count == wanted
    )


def _groups(keys):
    """Return key to the places at which it comes, in order."""
    found = {}
    for place, key in enumerate(keys):
        found.setdefault(key, []).append(place)
    return {key: tuple(places) for key, places in sorted(found.items())}


def _families(forms, reactions, first):
    """Return, for each bare ion that meets protons, its species by number of protons."""
    families = []
    for place, form in enumerate(forms):
        own = [
            (s.protons, row)
            for row, s in enumerate(reactions, first)
            if (s.ligand or s.cation) == form and s.protons
        ]
        by_protons = {}
        for protons, row in own:
            by_protons.setdefault(protons, []).append(row)
        if own:
            sorted_rows = ((n, tuple(rows)) for n, rows in sorted(by_protons.items()))
            families.append((place, tuple(sorted_rows)))
    return tuple(families)


def _without_protons(cations, ligands, reactions, first):
    """Return, for each ligand, the places of itself and of its pairs without protons."""
    return tuple(
        (
            2 + len(cations) + place,
            *(
                row
                for row, s in enumerate(reactions, first)
                if s.ligand == ligand and not s.protons
            ),
        )
        for place, ligand in enumerate(ligands)
    )


def _classes(species, a, b):
    """Return the place of each species' class of activity, and the classes, each once."""
    classes, sizes, kinds = {}, {}, []
    for s in species:
        davies = s.model == "davies"
        size = (DAVIES.size, DAVIES.slope) if davies else (b * s.size, 0.0)
        place = sizes.setdefault(size, len(sizes))
        of = (place, LN10 * a * s.charge**2, LN10 * s.slope)
        kinds.append(classes.setdefault(of, len(classes)))
    places, falls, slopes = map(np.array, zip(*classes, strict=True))
    numbers = map(np.array, zip(*sizes, strict=True))
    return tuple(kinds), Classes(*numbers, places, falls, slopes)


def _partners(species, epsilon):
    """Return SIT coefficient and place of the partners of each species."""
    places = {s.name: place for place, s in enumerate(species)}
    found = [[] for _ in species]
    for (cation, anion), value in epsilon.items():
        if value and cation in places and anion in places:
            found[places[cation]].append((LN10 * value, places[anion]))
            found[places[anion]].append((LN10 * value, places[cation]))
    return tuple(map(tuple, found))
