"""What the columns of a table of solubilities hold: temperatures, units, materials."""

import re
from dataclasses import dataclass

from formulate.claims.finding import Finding
from formulate.claims.printed_numbers import PrintedNumber
from formulate.claims.salt_columns import FORMULAS, HYDRATES, NAMES, row_material
from formulate.claims.table_reading import TableColumn, cell_number
from formulate.errors import Faults, shortened
from formulate.ingredients.ingredient import Ingredient, from_formula
from formulate.stoichiometry.units import unit

__all__ = [
    "COLD",
    "MASS_PERCENT",
    "UNITS",
    "SolubilityCell",
    "SolubilityRow",
    "factor_of",
    "solubility_columns",
    "solubility_row",
    "unit_of",
]

MASS_PERCENT = "mass percent"
COLD = (0.0, 10.0)  # °C: what "cold water" may mean, common practice, no source
HOTTEST = 100.0
UNITS = (  # wording, and what makes it g per 100 g of water
    (r"g\s*(/|per|in)\s*100\s*(g|ml|mL|cm3|cc)\b.*", 1.0),
    (r"g\s*(/|per|in)\s*(1\s*)?(l|L|litre|liter|dm3|kg)\b.*", 0.1),
    (r"kg\s*(/|per|in)\s*(l|L|litre|liter|m3|kg)\b.*", 100.0),
    (r"(lbs?|pounds?)\s*(/|per|in)\s*100\s*(us\s*)?(gal|gallons?)\b.*", None),
)
PERCENTS = r"(mass|weight|wt\.?|w/w|m/m)[ -]*(percent|%)|(percent|%)\s*(by (mass|weight)|w/w|m/m)|%"
DEGREES = r"(?:at\s*)?(-?\d{1,3}(?:\.0+)?)\s*(?:°|º|deg\.?)?\s*([CF]?)\b\.?"
INSIDE = r"(?:\bat|,|\()\s*(-?\d{1,3})\s*(?:°|º|deg\.?)?\s*([CF])\b"
TEMPERATURES = r"(temperature|temp\.?|t)\b.*"
VALUES = r".*(solubility|solub\.|soluble|dissolves).*"


@dataclass(frozen=True)
class SolubilityCell:
    """
    One printed solubility.

    Attributes
    ----------
    place : str
        Column, as findings tell it.
    temperatures : tuple of float
        Lowest and highest temperature that it may be of. [°C]
    number : PrintedNumber
        The number.
    unit : str
        Unit as the heading tells it; empty if it does not.
    """

    place: str
    temperatures: tuple[float, float]
    number: PrintedNumber
    unit: str = ""


@dataclass(frozen=True, eq=False)
class SolubilityRow:
    """
    One row of a table of solubilities.

    Attributes
    ----------
    line : int
        Line in the file. [-]
    name : str
        The material as the table names it.
    cells : tuple of SolubilityCell
        Its numbers, the coldest first.
    readings : tuple of Ingredient
        What the name may mean.
    told : tuple of Finding
        What the name tells by itself.
    """

    line: int
    name: str
    cells: tuple[SolubilityCell, ...]
    readings: tuple[Ingredient, ...]
    told: tuple[Finding, ...] = ()


def unit_of(text):
    """
    Return the unit of solubilities that a text tells.

    Parameters
    ----------
    text : str
        A heading, a title or a footnote.

    Returns
    -------
    str
        "mass percent", a unit with its factor to g per 100 g of water, or "".

    Examples
    --------
    >>> unit_of("Solubility at 20 °C (g/100 mL)"), unit_of("mass %"), unit_of("at 20 °C")
    ('g/100 mL', 'mass percent', '')
    """
    for pattern, _ in UNITS:
        found = re.search(pattern.removesuffix(".*"), text)
        if found:
            return found[0]
    return MASS_PERCENT if re.search(PERCENTS, text, re.I) else ""


def factor_of(text):
    """
    Return what makes a unit g per 100 g of water.

    Parameters
    ----------
    text : str
        A unit that `unit_of` returned.

    Returns
    -------
    float
        The factor. [-]

    Examples
    --------
    >>> factor_of("g/L"), round(factor_of("lb/100 gal"), 4)
    (0.1, 0.1198)
    """
    for pattern, factor in UNITS:
        if re.fullmatch(pattern, text):
            pounds = 0.1 * unit("lb").factor / (100 * unit("US gal").factor)
            return pounds if factor is None else factor
    return 1.0


def solubility_columns(cells):
    """
    Return what headings of a table of solubilities say, or None if they are none.

    Parameters
    ----------
    cells : sequence of str
        Cells of a line.

    Returns
    -------
    list of TableColumn or None
        One for each cell.

    Examples
    --------
    >>> [(c.role, c.key) for c in solubility_columns(["Salt", "0 °C", "20 °C"])]
    [('name', ''), ('degrees', '0'), ('degrees', '20')]
    """
    found = [_column(cell) for cell in cells]
    roles = [column.role for column in found]
    has_values = "degrees" in roles or {"temperature", "value"} <= set(roles)
    if len(cells) < 2 or not (has_values or "value" in roles):
        return None
    if not {"name", "formula"} & set(roles):
        is_open = roles[0] in ("left out", "no heading", "value")
        if not is_open or not _has_degrees(cells[1:]):
            return None
        found[0] = TableColumn(cells[0], "name", "assumed")
    degrees = [float(c.key) for c in found if c.role == "degrees"]
    if degrees != sorted(set(degrees)) or any(d > HOTTEST for d in degrees):
        return None
    return found


def _has_degrees(cells):
    """Return whether a temperature is written as one."""
    return any(re.search(r"\d\s*(°|º|deg)|\d\s*C\b", cell) for cell in cells)


def _column(heading):
    plain = heading.replace("_", " ").strip(" ,:")
    if not plain:
        return TableColumn(heading, "no heading")
    for role, pattern in (
        ("name", NAMES),
        ("formula", FORMULAS),
        ("hydrate", HYDRATES),
    ):
        if re.fullmatch(pattern, plain, re.I):
            return TableColumn(heading, role)
    degrees = re.match(DEGREES + r"(?=$|[\s,(\[;])", plain)
    if degrees:
        return TableColumn(heading, "degrees", _celsius(*degrees.groups()))
    if re.fullmatch(TEMPERATURES, plain, re.I):
        return TableColumn(heading, "temperature")
    inside = re.search(INSIDE, plain)
    if inside and (unit_of(plain) or re.fullmatch(VALUES, plain, re.I)):
        return TableColumn(heading, "degrees", _celsius(*inside.groups()))
    rest = plain.replace(unit_of(plain), "").strip(" ()[],") if unit_of(plain) else "x"
    if re.fullmatch(VALUES, plain, re.I) or (
        not rest and unit_of(plain) != MASS_PERCENT
    ):
        return TableColumn(
            heading, "value", "cold" if "cold" in plain.casefold() else ""
        )
    return TableColumn(heading, "left out")


def _celsius(number, letter):
    value = float(number)
    value = (value - 32) / 1.8 if letter == "F" else value
    return f"{round(value, 1):g}"


def solubility_row(table, line, faults: Faults, outside):
    """
    Return a row of a table of solubilities, its material looked up.

    Parameters
    ----------
    table : PublishedTable
        The table.
    line : PublishedLine
        The row.
    faults : Faults
        Where faults are noted by line and column.
    outside : str
        What titles and footnotes tell.

    Returns
    -------
    SolubilityRow
        The row.

    Examples
    --------
    >>> from formulate.claims.table_reading import read_published
    >>> table = read_published("salt;0 °C;20 °C\\nKNO3;13;32\\n", solubility_columns)
    >>> row = solubility_row(table, table.lines[0], Faults(), "g per 100 g")
    >>> [cell.temperatures for cell in row.cells]
    [(0.0, 0.0), (20.0, 20.0)]
    """
    texts = {"name": "", "formula": "", "hydrate": ""}
    for column, cell in table.cells_of(line, *texts):
        texts[column.role] = texts[column.role] or cell
    cells = tuple(_cells(table, line, faults, outside))
    name = texts["name"] or texts["formula"]
    if cells and not name:
        what = "numbers without a material; part merged cells, name it in each line"
        faults.add(f"line {line.number}, column 1: {what}")
    readings, told = row_material(texts, line.number) if name else ((), ())
    return SolubilityRow(line.number, name, cells, _with_waterless(readings), told)


def _with_waterless(readings):
    """Return the readings of an open name, the waterless salt among them."""
    wet = [made for made in readings if made.crystal_water and made.formula]
    if len(readings) < 2 or not wet:
        return tuple(readings)
    dry = re.sub(r"\s*[·.•*]\s*\d*\.?\d*\s*H2O$", "", wet[0].formula)
    if any(made.formula == dry for made in readings):
        return tuple(readings)
    return (*readings, from_formula(dry, name=f"{dry} without water"))


def _cells(table, line, faults, outside):
    """Yield the numbers of a row."""
    others = " ".join(column.heading for column in table.columns)
    general = unit_of(others) or unit_of(outside)
    for column, cell in table.cells_of(line, "degrees"):
        number = cell_number(column, cell, line, faults)
        if number:
            degrees = float(column.key)
            place = column.heading if "°" in column.heading else f"{degrees:g} °C"
            known = unit_of(column.heading) or general
            yield SolubilityCell(place, (degrees, degrees), number, known)
    for column, cell in table.cells_of(line, "value"):
        number = cell_number(column, cell, line, faults)
        if number:
            yield _long(table, line, faults, column, number, general, outside)


def _long(table, line, faults, column, number, general, outside):
    """Return the number of a row whose temperature stands in a cell or a title."""
    known = unit_of(column.heading) or general
    for each, cell in table.cells_of(line, "temperature"):
        if "cold" in cell.casefold():
            return SolubilityCell(f"{column.heading}, cold", COLD, number, known)
        degrees = cell_number(each, cell, line, faults)
        if degrees:
            place = f"{column.heading}, {degrees.text} °C"
            return SolubilityCell(place, (degrees.low, degrees.high), number, known)
    titled = re.search(r"(\d{1,3})\s*(?:°|º|deg\.?)\s*([CF])", outside)
    if column.key == "cold" or "cold" in outside.casefold():
        return SolubilityCell(column.heading, COLD, number, known)
    if titled:
        degrees = float(_celsius(*titled.groups()))
        return SolubilityCell(column.heading, (degrees, degrees), number, known)
    where = f"line {line.number}, column {shortened(column.heading)}"
    faults.add(f"{where}: at which temperature? name it in the heading, such as 20 °C")
    return SolubilityCell(column.heading, (20.0, 20.0), number, known)
