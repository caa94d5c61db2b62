"""Units in and out: one closed list, converted at the door; inside, bare house units.

House units are g, L, mg/L (for show), mmol/L, meq/L, mL/L, % of a product, mS/cm at 25 °C
and °C. Between mass, amount, charge and "as CaCO3" a conversion needs to know of what.
"""

import difflib
import re
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from formulate.checks import checked_number, checked_values
from formulate.errors import (
    AmbiguousName,
    MissingData,
    UnitError,
    shortened,
)
from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import read_table

__all__ = [
    "CONCENTRATIONS",
    "Unit",
    "convert",
    "grams_from_scoop",
    "house_value",
    "unit",
    "unit_names",
]

CONCENTRATIONS = (
    "mass_concentration",
    "amount_concentration",
    "charge_concentration",
    "caco3",
)
MILLI = 1000.0  # grams per litre to mg/L, litres per litre to mL/L


@dataclass(frozen=True)
class Unit:
    """
    A unit of the list.

    Attributes
    ----------
    name : str
        How it is written.
    kind : str
        What it measures: "mass", "volume", "mass_concentration", "amount_concentration",
        "charge_concentration", "caco3", "mass_fraction", "dose", "conductivity" or
        "temperature".
    factor : float
        House units in one of it. [-]
    offset : float
        What is taken off before the factor; only for temperatures. [-]
    """

    name: str
    kind: str
    factor: float
    offset: float = 0.0

    def __str__(self):
        return self.name


MEGA = ("ML", "Ml")  # a million litres, to be told from mL by its capital
SCRIPTS = str.maketrans("−⁻⁺¹²³⁴⁵⁶⁷⁸⁹⁰₁₂₃₄₅₆₇₈₉₀", "--+12345678901234567890")


def _spelling(text):
    """Return a unit with its blanks and fractions written in one way: mg L-1 is mg/L."""
    plain = " ".join(str(text).translate(SCRIPTS).split())
    plain = re.sub(r"(?<=\w)[ ·.*]+([A-Za-z]+)-1$", r"/\1", plain)
    return plain.replace(" /", "/").replace("/ ", "/")


@cache
def _short_words():
    """Return each word that does not say which unit, to what it may mean."""
    return MappingProxyType(
        {
            word if word in MEGA else word.casefold(): tuple(row["readings"].split("|"))
            for row in read_table("short_units")
            for word in row["words"].split("|")
        }
    )


@cache
def _units():
    """Return (kind, spelling) to unit; a second entry for each spelling in lower case."""
    exact, folded, by_name = {}, {}, {}
    for row in read_table("units"):
        factor = row.number("number")
        if row["base"]:
            per = row.number("per_number") * by_name[row["per_unit"]].factor
            factor *= by_name[row["base"]].factor / per * MILLI
        if row["as_formula"]:
            factor *= molar_mass("CaCO3") / molar_mass(row["as_formula"])
        known = Unit(row["unit"], row["kind"], factor, row.number("offset") or 0.0)
        by_name.setdefault(known.name, known)
        for text in (row["unit"], *row["aliases"].split("|")):
            if text:
                exact.setdefault(_spelling(text), []).append(known)
                folded.setdefault(_spelling(text).casefold(), []).append(known)
    return MappingProxyType(exact), MappingProxyType(folded)


def unit_names(*kinds):
    """
    Return the names of the known units.

    Parameters
    ----------
    *kinds : str
        Kinds to list; all if none is given.

    Returns
    -------
    tuple of str
        Names, in the order of the table.

    Examples
    --------
    >>> unit_names("temperature")
    ('°C', '°F', 'K')
    """
    rows = read_table("units")
    return tuple(row["unit"] for row in rows if not kinds or row["kind"] in kinds)


def unit(text, *kinds):
    """
    Return a unit by any of its spellings.

    Parameters
    ----------
    text : str or Unit
        Such as "mg/L", "ppm", "oz/100 US gal".
    *kinds : str
        Kinds that fit here; any if none is given.

    Returns
    -------
    Unit
        The unit.

    Raises
    ------
    AmbiguousName
        If the word means several units ("gal"); the message lists them.
    UnitError
        If the unit is unknown or of another kind; the message lists the known ones.

    Examples
    --------
    >>> round(unit("oz/100 US gal").factor, 2)
    74.89
    >>> unit("ppm", "mass_fraction").name
    'mg/kg'
    """
    if isinstance(text, Unit):
        return _fitting([text], text.name, kinds)
    spelling = _spelling(text)
    exact, folded = _units()
    found = exact.get(spelling)
    if not found and spelling not in MEGA:
        found = folded.get(spelling.casefold())
    if found:
        return _fitting(found, text, kinds)
    short = _short_words().get(spelling if spelling in MEGA else spelling.casefold())
    if short:
        what = f"{shortened(text)} is not one unit; write {' or '.join(short)}"
        raise AmbiguousName(what, readings=short)
    names = unit_names(*kinds)
    near = difflib.get_close_matches(spelling, names, n=2, cutoff=0.6)
    hint = f"; near: {', '.join(near)}" if near else ""
    raise UnitError(
        f"unit {shortened(text)} is not known{hint}; known: {', '.join(names)}"
    )


def _fitting(found, text, kinds):
    """Return the one unit of the kinds asked for, or say why there is none."""
    fitting = [known for known in found if not kinds or known.kind in kinds]
    names = tuple(dict.fromkeys(known.name for known in fitting))
    if len(names) == 1:
        return fitting[0]
    if names:
        what = f"{shortened(text)} is not one unit here; write {' or '.join(names)}"
        raise AmbiguousName(what, readings=names)
    wanted = " or ".join(kind.replace("_", " ") for kind in kinds)
    is_kind = found[0].kind.replace("_", " ")
    known = ", ".join(unit_names(*kinds))
    what = (
        f"unit {shortened(text)} measures {is_kind}, here {wanted} is needed: {known}"
    )
    raise UnitError(what)


def house_value(value, from_unit):
    """
    Return a value in the house unit of its kind.

    Parameters
    ----------
    value : float or array
        The value, in `from_unit`. [-]
    from_unit : str or Unit
        Its unit.

    Returns
    -------
    float or array
        The value in g, L, mg/L, mmol/L, meq/L, mg/L as CaCO3, %, mL/L, mS/cm or °C. [-]

    Examples
    --------
    >>> house_value(77, "°F")
    25.0
    """
    known = unit(from_unit)
    value = checked_values(value, f"value in {known}")
    return (value - known.offset) * known.factor


def convert(value, from_unit, to_unit, *, of=None):
    """
    Convert a value from one unit to another.

    Equation of the steps between kinds of concentration [stoichiometry]::

        mg/L = mmol/L × M                           M molar mass, of the basis the key says
        meq/L = mmol/L × |z|                        z charge number of the nominal ion
        mg/L as CaCO3 = meq/L × M(CaCO3)/2          50.04 to three digits

    Parameters
    ----------
    value : float or array
        The value, in `from_unit`. [-]
    from_unit : str or Unit
        Its unit.
    to_unit : str or Unit
        The unit wanted.
    of : str or None
        Nutrient key, needed between mg/L, mmol/L, meq/L and as CaCO3.

    Returns
    -------
    float or array
        The value in `to_unit`. [-]

    Raises
    ------
    UnitError
        If the units measure different things, or the nutrient is needed and missing.

    Examples
    --------
    >>> round(convert(100, "mg/L", "mmol/L", of="Ca"), 4)
    2.4951
    >>> round(convert(10, "German degree", "mg/L as CaCO3"), 1)
    178.5
    """
    start, target = _pair(from_unit, to_unit)
    house = house_value(value, start)
    if start.kind != target.kind:
        house = _crossed(house, start, target, of)
    return house / target.factor + target.offset


def _pair(first, second):
    """Return two units; where one word has several kinds (ppm), the kind of the other."""
    try:
        first = unit(first)
    except AmbiguousName:
        return unit(first, *_alike(unit(second))), unit(second)
    try:
        return first, unit(second)
    except AmbiguousName:
        return first, unit(second, *_alike(first))


def _alike(known):
    return CONCENTRATIONS if known.kind in CONCENTRATIONS else (known.kind,)


def _crossed(house, start, target, of):
    """Return a concentration in the house unit of another kind of concentration."""
    if start.kind not in CONCENTRATIONS or target.kind not in CONCENTRATIONS:
        raise UnitError(f"{start} and {target} do not measure the same thing")
    if {start.kind, target.kind} == {"charge_concentration", "caco3"}:
        mmol = _mmol_l(house, start.kind, 1.0, 1.0)
        return _from_mmol_l(mmol, target.kind, 1.0, 1.0)
    if of is None:
        raise UnitError(f"from {start} to {target}: say of what, for instance of='Ca'")
    key = nutrient(of)
    charge = 1.0
    if "charge_concentration" in (start.kind, target.kind) or "caco3" in (
        start.kind,
        target.kind,
    ):
        charge = abs(key.charge_per_amount())
        if not charge:
            raise UnitError(
                f"{key.key} carries no charge, so {start} to {target} is no question"
            )
    return _from_mmol_l(
        _mmol_l(house, start.kind, key.molar_mass, charge),
        target.kind,
        key.molar_mass,
        charge,
    )


def _mg_caco3_per_meq():
    return molar_mass("CaCO3") / 2


def _mmol_l(house, kind, mass, charge):
    per_mmol = {
        "mass_concentration": mass,
        "amount_concentration": 1.0,
        "charge_concentration": charge,
        "caco3": charge * _mg_caco3_per_meq(),
    }
    return house / per_mmol[kind]


def _from_mmol_l(mmol, kind, mass, charge):
    return mmol / _mmol_l(1.0, kind, mass, charge)


def grams_from_scoop(value, scoop_unit, material):
    """
    Return how much a spoon or cup of a solid may weigh.

    A solid is lighter or heavier by grain and packing, so the answer is a range; a balance
    gives a number.

    Parameters
    ----------
    value : float
        How many spoons or cups. [-]
    scoop_unit : str or Unit
        Such as "US tsp".
    material : str
        Name of the solid as in the table of bulk densities.

    Returns
    -------
    low : float
        Least likely weight. [g]
    high : float
        Greatest likely weight. [g]

    Raises
    ------
    MissingData
        If no bulk density is known; the weight is asked for.

    Examples
    --------
    >>> low, high = grams_from_scoop(1, "US tsp", "magnesium sulfate heptahydrate")
    >>> round(low, 1), round(high, 1)
    (4.4, 5.4)
    """
    scoops = checked_number(value, "spoons or cups", least=0)
    millilitres = house_value(scoops, unit(scoop_unit, "volume")) * MILLI
    for row in read_table("bulk_densities"):
        names = (row["material"], row["material"].partition(",")[0])
        if str(material).casefold() in map(str.casefold, names):
            return millilitres * row.number("low"), millilitres * row.number("high")
    known = ", ".join(row["material"] for row in read_table("bulk_densities"))
    what = (
        f"no bulk density is known for {shortened(material)}: weigh it (known: {known})"
    )
    raise MissingData(what)
