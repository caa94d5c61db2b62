"""A dose as people write it: how much of a product in how much water, and how sure that is."""

import contextlib
import re
import unicodedata
from dataclasses import dataclass, replace

from formulate.errors import (
    AmbiguousName,
    InputError,
    MissingData,
    UnitError,
    shortened,
)
from formulate.ingredients.salts import catalogue
from formulate.stoichiometry.quantities import check_volume, read_number, read_quantity
from formulate.stoichiometry.units import grams_from_scoop, unit
from formulate.tables import read_table, rule_of
from formulate.working import Shown, printed

__all__ = ["MeasuredDose", "read_dose"]

WHOLE = ("mass", "volume")
PER_LITRE = ("mass_concentration", "amount_concentration", "dose")
MIXED = r"\s*(?:(\d+)[\s-]+)?(\d+)/([1-9]\d*)(?=[\s A-Za-z])"
PARTED = r"(.+?)\s*(?:/|\b(?:in|per|to)\b)\s*((?:[\d.,]+\s*)?[^/\d]+)"
NUMBER = r"\s*[+-]?[\d.,]+(?:[eE][+-]?\d+)?"
BEFORE = r"(.*?)(?:\s*[,;]?\s*(?:\bat\b|@)?\s*[(\[]?)(?<![\d.,])"
RATIO = rf"{BEFORE}1\s*(?P<mark>[:+])\s*(\d[\d.,]*)\s*[)\]]?\s*"
SHARE = rf"{BEFORE}(?P<mark>)(\d[\d.,]*)\s*%\s*[)\]]?\s*"
GALLONS = r"(?<![A-Za-z])gal(?:s|lons?)?\b"
TRADE = {"volume": ("US gal",), "mass": ("oz", "lb")}
TABLE_OUNCES = 10.0  # from which tables round them
PERCENT = 100.0


@dataclass(frozen=True)
class MeasuredDose(Shown):
    """
    A dose, read.

    Attributes
    ----------
    text : str
        The dose as given.
    amount : str
        How much of the product goes into `litres`, with its unit.
    litres : float
        Volume of the finished solution. [L]
    rounding_percent : float
        How far the measure may be off by the rounding that the trade or a kitchen uses. [%]
    why : str
        What that rounding is, in words; empty if there is none.
    source_key : str
        Where the rounding comes from.
    assumed : str
        How a short unit was read, such as tsp/gal; empty if it says which.
    ounces_percent : float
        How far ounces for a tank may be off, for tables print them to the half. [%]
    ratio : float or None
        The n of 1 : n of a concentrate; None if the dose has none. [-]
    """

    text: str
    amount: str
    litres: float
    rounding_percent: float = 0.0
    why: str = ""
    source_key: str = ""
    assumed: str = ""
    ounces_percent: float = 0.0
    ratio: float | None = None

    def __str__(self):
        why = f"; ± {self.rounding_percent:.2g} %: {self.why}" if self.why else ""
        return f"{self.amount} in {self.litres:g} L{why}"


def read_dose(dose, ingredient, *, volume=None):
    """
    Return a dose with the volume it goes into and the rounding of its measure.

    Parameters
    ----------
    dose : str or float
        Such as "5 mL/L", "1/2 tsp/gal", "2 lb/100 US gal" or "10 g in 25 L"; "1:100" is 1 L
        of a liquid in 100 L of finished solution; "13.5 oz/gal at 1:100" is a concentrate
        and its injector, as "1+99" and "1 %" are. A bare number is grams, or millilitres of what is measured so. A
        gallon is the US one if nothing else is said. [g]
    ingredient : Ingredient
        What is dosed.
    volume : float, str or None
        Volume of the finished solution, where the dose does not say. [L]

    Returns
    -------
    MeasuredDose
        The dose.

    Raises
    ------
    InputError
        If it cannot be read, lacks a volume or is not above 0.
    AmbiguousName
        If a unit means several, such as "gal" between US and imperial.

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> print(read_dose("2 lb/100 US gal", as_ingredient("KNO3")))
    2.0 lb/100 US gal in 1 L; ± 0.14 %: lb/100 US gal taken as 1200 mg/L
    """
    text, ratio, said = _injected(_decimal(dose), ingredient)
    times = ratio or 1.0
    (value, of_unit), litres, assumed = _parted(text, ingredient)
    assumed = "; ".join(filter(None, (assumed, said)))
    if not value > 0:
        raise InputError(f"dose {shortened(dose)} is not above 0")
    if of_unit.kind in WHOLE and litres is None:
        if volume is None:
            what = "it does not say in how much; write it like 10 g in 25 L or give volume="
            raise InputError(f"dose {shortened(dose)}: {what}")
        litres = unit("L"), check_volume(volume)
    of_volume, number = litres or (unit("L"), 1.0)
    litres = number * of_volume.factor * times
    if of_unit.kind in ("volume", "dose") and _is_solid(ingredient):
        amount = value * of_unit.factor / (times if of_unit.kind == "dose" else 1.0)
        made = _scooped(str(dose), amount, of_unit, ingredient, litres)
        return replace(made, assumed=assumed, ratio=ratio)
    names = _names(of_unit, of_volume)
    if of_unit.kind not in WHOLE:
        litres, value = number * of_volume.factor, value / times
    weighed = _of_a_table(value * (times if of_unit.kind not in WHOLE else 1), names)
    amount = f"{value!r} {of_unit}"
    given = (*_rounding(names), assumed, weighed, ratio)
    return MeasuredDose(str(dose), amount, litres, *given)


def _injected(text, ingredient):
    """Return a dose without its ratio, the n of 1 : n or None, and what was assumed."""
    flags = re.DOTALL | re.IGNORECASE
    found = re.fullmatch(RATIO, text.strip(), flags)
    found = found or re.fullmatch(SHARE, text.strip(), flags)
    if not found:
        return text, None, ""
    times, said = _times(text, found["mark"], found[3])
    if found[1].strip():
        return found[1].strip(), times, said
    if _is_solid(ingredient):
        what = (
            "a ratio alone is for a liquid; write the concentrate, as 100 g/L at 1:100"
        )
        raise InputError(f"dose {shortened(text)}: {what}")
    return "1000 mL/L", times, said


def _times(text, mark, written):
    """Return in how many parts of the finished solution one is, and how that was read."""
    number = read_number(written)
    if mark and number < 1:
        raise InputError(
            f"dose {shortened(text)}: 1 {mark} n with n from 1 up, as 1:100"
        )
    if mark == ":":
        return number, f"1:{written} read as 1 in {written} of the finished solution"
    if mark == "+":
        said = f"1+{written} read as 1 in {number + 1:g} of the finished solution"
        return number + 1.0, said
    if not 0 < number <= PERCENT:
        raise InputError(f"dose {shortened(text)}: give a share above 0, up to 100 %")
    share = PERCENT / number
    return share, f"{written} % read as 1 in {share:g} of the finished solution"


def _decimal(dose):
    """Return the text of a dose, with fractions such as 13 1/2 or ½ as decimals."""
    if isinstance(dose, bool) or not isinstance(dose, str | int | float):
        raise InputError(f"{shortened(dose)} is no dose; write it like 5 mL/L")
    text = re.sub(
        r"(\d*)\s*([¼-¾⅐-⅞])",
        lambda m: repr(int(m[1] or 0) + unicodedata.numeric(m[2])),
        str(dose),
    )
    return re.sub(
        rf"^{MIXED}", lambda m: repr(int(m[1] or 0) + int(m[2]) / int(m[3])), text
    )


def _parted(text, ingredient):
    """Return (value, unit), the volume named as (unit, number) or None, and what was assumed."""
    default = ingredient.measured_in
    try:
        return read_quantity(text, *WHOLE, *PER_LITRE, default=default), None, ""
    except AmbiguousName as error:
        return _only_reading(text, error), None, _assumed(error, text)
    except UnitError:
        parts = re.fullmatch(PARTED, text.strip())
        if not parts:
            raise
    written = re.fullmatch(r"([\d.,]+)?\s*(.+?)\s*", parts[2])
    number = read_number(written[1]) if written[1] else 1.0
    if not number > 0:
        raise InputError(f"{shortened(parts[2])}: the volume is not above 0")
    of_volume, gallon = _volume(written[2])
    amount, assumed = _amount(parts[1], of_volume)
    told = "; ".join(filter(None, (assumed, gallon)))
    return amount, (of_volume, number), told


def _volume(name):
    """Return a unit of volume, and what was assumed: a gallon is the US one."""
    try:
        return unit(name, "volume"), ""
    except AmbiguousName as error:
        chosen = _american(error, name)
        if not chosen:
            raise
        return unit(chosen), _assumed(error, name)


def _amount(text, of_volume):
    """Return a quantity and what was assumed: a spoon into US gallons is a US spoon."""
    try:
        return read_quantity(text, *WHOLE), ""
    except AmbiguousName as error:
        country = of_volume.name.split()[0]
        same = [name for name in error.readings if name.split()[0] == country]
        if len(same) != 1:
            raise
        number = re.match(NUMBER, text)
        value = read_number(number[0]) if number else 1.0
        return (value, unit(same[0])), f"read as {same[0]}, as its volume"


def _american(error, text):
    """Return the US reading of a unit with a gallon, or "" if there is no single one."""
    if len(error.readings) == 1:
        return error.readings[0]
    if not re.search(GALLONS, text, re.IGNORECASE):
        return ""
    found = [name for name in error.readings if "US" in name.split("/")[-1].split()]
    found = found or [name for name in error.readings if "US gal" in name]
    return found[0] if len(found) == 1 else ""


def _assumed(error, text):
    """Return how a unit was read, in words."""
    told = f"read as {_american(error, text)}"
    other = [name for name in error.readings if "imp gal" in name]
    return f"{told}; write imp gal if that is meant" if other else told


def _only_reading(text, error):
    """Return a quantity whose unit has one reading, or one in US gallons; raise if not."""
    chosen = _american(error, text)
    if not chosen:
        raise error
    return read_number(re.match(NUMBER, text)[0]), unit(chosen)


def _is_solid(ingredient):
    return not ingredient.is_liquid and ingredient.role != "acid"


def _scooped(text, millilitres, of_unit, ingredient, litres):
    """Return the dose of a solid measured by volume: a range, for it packs as it likes."""
    if of_unit.kind == "dose":
        millilitres *= litres
    else:
        millilitres /= unit("mL").factor
    low, high = _packed(millilitres, ingredient)
    percent = PERCENT * (high - low) / (high + low)
    why = f"a solid by volume weighs {printed(low, 3)} to {printed(high, 3)} g"
    return MeasuredDose(
        text, f"{(low + high) / 2!r} g", litres, percent, why, "bulk-density-sheet"
    )


def _packed(millilitres, ingredient):
    """Return the range of grams of a solid by volume, under any name of its formula."""
    same = [e.name for e in catalogue().values() if e.formula == ingredient.formula]
    for name in same if ingredient.formula else ():
        with contextlib.suppress(MissingData):
            return grams_from_scoop(millilitres, "mL", name)
    return grams_from_scoop(millilitres, "mL", ingredient.name)


def _names(of_unit, of_volume):
    """Return the names under which a dose may stand in the table of roundings."""
    names = {of_unit.name, *re.split(r"/(?:1000? )?", of_unit.name)}
    if of_volume.name in TRADE["volume"] and of_unit.name in TRADE["mass"]:
        names.add(f"{of_unit}/{of_volume}")
    return names


def _of_a_table(value, names):
    """Return the rounding of a dose in ounces by the gallon, as tables print it. [%]"""
    in_trade = any(re.fullmatch("oz/(?:100 )?US gal", name) for name in names)
    if not in_trade or value < TABLE_OUNCES:
        return 0.0
    return (
        PERCENT
        * rule_of("chart_rules", "ounces of a table").number("value")
        / 2
        / value
    )


def _rounding(names):
    """Return percent, words and source of the rounding of a measure; the largest."""
    found = [(0.0, "", "")]
    for row in read_table("measure_roundings"):
        if row["measure"] in names:
            exact = unit(row["measure"]).factor
            rounded = row.number("rounded") * _unit_of(row).factor
            why = f"{row['measure']} taken as {row['rounded']} {row['unit']}"
            off = PERCENT * abs(rounded / exact - 1.0)
            found.append((off, why, row["source_key"]))
    return max(found)


def _unit_of(row):
    return unit(row["unit"], "volume", "mass_concentration")
