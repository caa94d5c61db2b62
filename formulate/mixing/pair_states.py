"""Every ingredient alone and every two together, in a stock and at working strength.

All of them are one stack: each alone, then each two, first at the strength of the stock,
then diluted. A stack at imposed pH tells how far a stock stays clear when the water, or
what else is in the tank, takes its acidity; where there is iron(II) a third one looks at
what air makes of it.
"""

from dataclasses import dataclass
from functools import cache, cached_property
from itertools import combinations

import numpy as np

from formulate.chemistry.risks import salt_shares
from formulate.chemistry.solids import mineral, mineral_names
from formulate.chemistry.speciation import speciate
from formulate.chemistry.state import Speciation
from formulate.errors import MissingData
from formulate.ingredients.solubility import solubility
from formulate.ingredients.water import water
from formulate.mixing.batch import Batch
from formulate.stoichiometry.solution import Solution
from formulate.tables import read_table, rule_of

__all__ = [
    "AGED",
    "PairStates",
    "pair_limit",
    "pair_states",
    "solid_edges",
    "solid_levels",
]

AGED = "strengite"  # the solid that is looked at once air has been at the iron


def pair_limit(name):
    """
    Return one number of the table of limits by which pairs are judged.

    Parameters
    ----------
    name : str
        Name of the limit, such as "strongly acid".

    Returns
    -------
    float
        Its value, in the dimension that the table tells. [-]

    Examples
    --------
    >>> pair_limit("highest pH of a stock")
    6.0
    """
    return rule_of("pair_limits", name).number("value")


@cache
def _edges():
    return {row["solid"]: row for row in read_table("pair_solids")}


def solid_edges(name):
    """
    Return the indices from which a solid is a caution and an incompatibility.

    Parameters
    ----------
    name : str
        Name of the solid.

    Returns
    -------
    tuple of float
        Two indices; the second may be infinite. [-]

    Examples
    --------
    >>> solid_edges("hopeite"), solid_edges("gypsum")
    ((1.0, 3.0), (0.0, 0.3))
    """
    row = _edges().get(name) or _edges().get(mineral(name).role)
    if row is None:
        rules = {row["solid"]: row for row in read_table("solid_risks")}
        row = rules.get(name) or rules[mineral(name).role]
        return row.number("watch"), row.number("likely")
    high = row.number("incompatible")
    return row.number("caution"), np.inf if high is None else high


def solid_levels(name, index):
    """
    Return what an index of a solid means for a stock: 0 clear, 1 caution, 2 falls out.

    Parameters
    ----------
    name : str
        Name of the solid.
    index : array_like
        Saturation index. [-]

    Returns
    -------
    array
        The levels. [-]

    Examples
    --------
    >>> solid_levels("gypsum", [-0.2, 0.1, 1.2]).tolist()
    [0, 1, 2]
    """
    return np.searchsorted(solid_edges(name), np.asarray(index, float), side="right")


@dataclass(frozen=True, eq=False)
class PairStates:
    """
    The states of some ingredients, each alone and each two together.

    Attributes
    ----------
    ingredients : tuple of Ingredient
        The ingredients.
    grams : array, shape (n,)
        Of each in a litre of working solution. [g/L]
    strength : float
        Final volumes that one volume of stock makes. [-]
    temperature : float
        Temperature. [°C]
    pairs : tuple of (int, int)
        Places of the two ingredients of each pair. [-]
    state : Speciation
        Alone and together, stocks first, then at working strength; pH by the charges.
    acid_steps : array, shape (s,)
        pH at which the same is looked at again. [-]
    held : Speciation
        The same at each of these pH; shape (s, m).
    aged : tuple of Speciation
        As `state` and `held`, iron(II) having turned to iron(III).
    """

    ingredients: tuple
    grams: np.ndarray
    strength: float
    temperature: float
    pairs: tuple
    state: Speciation
    acid_steps: np.ndarray
    held: Speciation
    aged: tuple

    @property
    def rows(self):
        """Return how many stocks there are: alone and together. [-]"""
        return len(self.ingredients) + len(self.pairs)

    def row(self, pair):
        """
        Return the rows of a pair and of its two ingredients alone.

        Parameters
        ----------
        pair : int
            Which pair. [-]

        Returns
        -------
        tuple of int
            Row of the pair, of the first, of the second. [-]

        Examples
        --------
        >>> from formulate.ingredients.salts import salt
        >>> states = pair_states([salt("KNO3"), salt("CaCl2")], [0.5, 0.1], 100.0, 20.0)
        >>> states.row(0)
        (2, 0, 1)
        """
        return (len(self.ingredients) + pair, *self.pairs[pair])

    @cached_property
    def indices(self):
        """Return solid to its index in every row, of those that can form. [-]"""
        return dict(_indices(self.state, self.aged[0]))

    @cached_property
    def indices_held(self):
        """Return solid to its index at each pH in every row. [-]"""
        return dict(_indices(self.held, self.aged[1]))

    @cached_property
    def shares(self):
        """Return soluble salt to the share of its solubility in every row. [%]"""
        size = np.shape(self.state.ph)
        found = salt_shares(self.state)
        return {name: np.broadcast_to(share, size) for name, share in found.items()}

    @cached_property
    def taken(self):
        """Return the share of its handbook solubility that each ingredient takes. [%]"""
        pairs = zip(self.ingredients, self.grams * self.strength, strict=True)
        return tuple(_taken(i, amount, self.temperature) for i, amount in pairs)

    def pressure(self, gas):
        """
        Return the pressure of a gas over every row, if it is closed.

        Parameters
        ----------
        gas : str
            "carbon dioxide gas" or "ammonia gas".

        Returns
        -------
        array
            Pressure. [atm]

        Examples
        --------
        >>> from formulate.ingredients.salts import salt
        >>> states = pair_states([salt("KNO3"), salt("CaCl2")], [0.5, 0.1], 100.0, 20.0)
        >>> states.pressure("ammonia gas").max()
        np.float64(0.0)
        """
        index = np.asarray(self.state.saturation_index(gas))
        return np.broadcast_to(10.0**index, np.shape(self.state.ph))


def _taken(ingredient, grams, temperature):
    """Return the share of its solubility that a solid takes; 0 if none is known. [%]"""
    if ingredient.is_liquid:
        return 0.0
    try:
        known = solubility(ingredient, temperature)
    except MissingData:
        return 0.0
    return float(100.0 * grams / known.per_litre_water)


def _indices(state, aged):
    """Yield each solid that is looked at, with its index in every row."""
    for name in (*mineral_names("matters", "trace"), *_harmless()):
        index = np.asarray((aged if name == AGED else state).saturation_index(name))
        if np.isfinite(index).any():
            yield name, np.broadcast_to(index, np.shape(state.ph))


def _harmless():
    """Return the solids that have edges of their own though feeds do not fear them."""
    return tuple(n for n in _edges() if n in mineral_names("harmless"))


def pair_states(ingredients, grams, strength, temperature):
    """
    Return the states of some ingredients, each alone and each two together.

    Parameters
    ----------
    ingredients : sequence of Ingredient
        The ingredients.
    grams : sequence of float
        Of each in a litre of working solution. [g/L]
    strength : float
        Final volumes that one volume of stock makes. [-]
    temperature : float
        Temperature. [°C]

    Returns
    -------
    PairStates
        All states, in pure water.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> states = pair_states([salt("KNO3"), salt("CaCl2")], [0.5, 0.1], 100.0, 20.0)
    >>> states.pairs, states.rows
    (((0, 1),), 3)
    """
    grams, count = np.asarray(grams, float), len(ingredients)
    pairs = tuple(combinations(range(count), 2))
    shares = np.zeros((count + len(pairs), count))
    for row, members in enumerate([*((n,) for n in range(count)), *pairs]):
        shares[row, list(members)] = 1.0
    shares = np.vstack([shares * strength, shares])
    amounts = tuple(zip(ingredients, grams.tolist(), strict=True))
    batch = Batch(amounts, water({}), 1.0, temperature)
    made = batch.mixtures(shares, 1.0 - shares @ batch.poured)
    steps = _acid_steps()
    states = _at(made, steps)
    aged = _at(_aired(made), steps) if "iron_ii" in made.forms else states
    given = (tuple(ingredients), grams, strength, temperature, pairs)
    return PairStates(*given, states[0], steps, states[1], aged)


def _at(made, steps):
    """Return the states at the pH of the charges and at each imposed one."""
    state = speciate(made)
    return state, speciate(made, ph=np.tile(steps[:, None], (1, len(state.ph))))


def _acid_steps():
    """Return the pH from strongly acid to the highest of a stock. [-]"""
    low, high = pair_limit("strongly acid"), pair_limit("highest pH of a stock")
    return np.arange(low, high + 1e-9, pair_limit("step of pH"))


def _aired(made):
    """Return the same once air has turned its iron(II) into iron(III)."""
    forms = dict(made.forms)
    ferrous = forms.pop("iron_ii")
    forms["iron_iii"] = forms.get("iron_iii", 0.0) + ferrous
    return Solution(forms, made.unassigned_charge, made.temperature)
