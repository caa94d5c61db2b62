"""How near a solution is to each solid: saturation indices.

Above 0 the solid can form, below it dissolves; whether and how fast it forms is another
question (reference/glossary.md, "Saturation index").

Equation of the saturation index [pq386-phreeqc]::

    SI = Σ ν log10 a − log10 K        of the reaction that dissolves it
"""

from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType

from formulate.chemistry.constants import constants, log_k
from formulate.chemistry.water_properties import kelvin
from formulate.errors import UnknownName, shortened
from formulate.stoichiometry.formula import parse_formula
from formulate.tables import read_table

__all__ = ["Mineral", "forms_of", "mineral", "mineral_names", "saturation_index"]

ROLES = ("matters", "trace", "harmless", "soluble", "gas")


@dataclass(frozen=True)
class Mineral:
    """
    A solid, or a gas, with the reaction by which it goes into solution.

    Attributes
    ----------
    name : str
        Name, such as "gypsum".
    formula : str
        Formula.
    components : tuple of (str, float)
        Species on the other side and how many of each; H+ that is used up counts below 0.
        [-]
    log_k : tuple of float
        Coefficients of its constant. [-]
    role : str
        "matters" in practice; "trace": takes a trace element, slowly; "harmless": above
        saturation in healthy solutions; "soluble": a salt judged by handbook solubility;
        "gas".
    reason : str
        Why.
    source_key : str
        Where the constant comes from.
    note : str
        What to know of it.
    """

    name: str
    formula: str
    components: tuple
    log_k: tuple
    role: str
    reason: str
    source_key: str
    note: str

    @property
    def forms(self):
        """Return form to how many of it are in one formula unit. [-]"""
        return forms_of(self, constants())

    @property
    def crystal_water(self):
        """Return how many waters of crystallisation are in one formula unit. [-]"""
        water = self.formula.partition(":")[2].removesuffix("H2O")
        return float(water or 1) if ":" in self.formula else 0.0

    @property
    def molar_mass(self):
        """Return its molar mass, waters included. [g/mol]"""
        bare = self.formula.removesuffix("(g)").replace(":", "·")
        return parse_formula(bare).molar_mass


@lru_cache(maxsize=256)
def forms_of(solid, known):
    """
    Return what a solid takes from a solution.

    Parameters
    ----------
    solid : Mineral
        The solid.
    known : Constants
        The constants in whose species its reaction is written.

    Returns
    -------
    mapping of str to float
        Form to how many of it are in one formula unit. [-]

    Examples
    --------
    >>> dict(forms_of(mineral("brushite"), constants()))
    {'calcium': 1.0, 'phosphate': 1.0}
    """
    held = {ion.name: ((form, 1),) for form, ion in known.masters.items()}
    for pair in known.reactions:
        parts = ((pair.cation, 1), (pair.ligand, pair.ligands))
        held[pair.name] = tuple((form, count) for form, count in parts if form)
    found = {}
    for species, count in solid.components:
        for form, number in held.get(species, ()):  # H+, OH- and water are no forms
            found[form] = found.get(form, 0.0) + count * number
    return MappingProxyType(found)


@cache
def _minerals():
    found = {}
    for row in read_table("minerals"):
        pairs = (part.rpartition(":") for part in row["components"].split())
        found[row["mineral"]] = Mineral(
            row["mineral"],
            row["formula"],
            tuple((species, float(count)) for species, _, count in pairs),
            tuple(row.number(f"a{n}") for n in range(1, 7)),
            row["role"],
            row["reason"],
            row["source_key"],
            row["note"],
        )
    return found


def mineral_names(*roles):
    """
    Return the names of the solids and gases of the table minerals.

    Parameters
    ----------
    *roles : str
        "matters", "trace", "harmless", "soluble" or "gas"; all, if none is given.

    Returns
    -------
    tuple of str
        Names.

    Examples
    --------
    >>> mineral_names("matters")[:3]
    ('gypsum', 'syngenite', 'calcite')
    """
    wanted = roles or ROLES
    return tuple(name for name, found in _minerals().items() if found.role in wanted)


def mineral(name):
    """
    Return a solid by its name.

    Parameters
    ----------
    name : str or Mineral
        Name, such as "gypsum"; a solid itself is given back.

    Returns
    -------
    Mineral
        The solid.

    Raises
    ------
    UnknownName
        If the table has none of that name; the message lists them.

    Examples
    --------
    >>> mineral("brushite").formula
    'CaHPO4:2H2O'
    """
    if isinstance(name, Mineral):
        return name
    try:
        return _minerals()[name]
    except (KeyError, TypeError):
        known = ", ".join(_minerals())
        what = f"{shortened(name)} is no solid of the table minerals; there are {known}"
        raise UnknownName(what) from None


def saturation_index(solid, log_activity, temperature):
    """
    Return the saturation index of a solid from activities.

    Parameters
    ----------
    solid : Mineral
        The solid.
    log_activity : function
        Gives the decadic logarithm of the activity of a species by its name.
    temperature : float
        Temperature. [°C]

    Returns
    -------
    float or array
        The index; minus infinity if a component is absent. [-]

    Examples
    --------
    >>> activities = {"Ca+2": -2.0, "SO4-2": -2.0, "H2O": 0.0}
    >>> round(saturation_index(mineral("gypsum"), activities.get, 25.0), 2)
    0.58
    """
    product = sum(count * log_activity(species) for species, count in solid.components)
    return product - log_k(solid.log_k, kelvin(temperature))
