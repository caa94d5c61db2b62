"""How near a solution is to each solid: saturation indices.

    SI = log10(product of activities) − log10 K        of the reaction that dissolves it

Above 0 the solid can form, below it dissolves; whether and how fast it forms is another
question (reference/glossary.md, "Saturation index").
"""

from dataclasses import dataclass
from functools import cache

from formulate.chemistry.constants import log_k
from formulate.chemistry.water_properties import kelvin
from formulate.errors import UnknownName, shortened
from formulate.tables import read_table

__all__ = ["Mineral", "mineral", "mineral_names", "saturation_index"]


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
    source_key : str
        Where the constant comes from.
    note : str
        What to know of it.
    """

    name: str
    formula: str
    components: tuple
    log_k: tuple
    source_key: str
    note: str


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
            row["source_key"],
            row["note"],
        )
    return found


def mineral_names():
    """
    Return the names of the solids and gases of the table minerals.

    Returns
    -------
    tuple of str
        Names.

    Examples
    --------
    >>> mineral_names()[0]
    'gypsum'
    """
    return tuple(_minerals())


def mineral(name):
    """
    Return a solid by its name.

    Parameters
    ----------
    name : str
        Name, such as "gypsum".

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
