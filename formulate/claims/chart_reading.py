"""Reads a feed chart as a spreadsheet saves it: weeks down, products across, a dose a cell.

Nothing is guessed: a column without product, a dose without unit and a line that does not
fit the columns are faults, each told by line and column, all at once.
"""

import contextlib
import re
from dataclasses import dataclass

from formulate.claims.chart_products import (
    asked_back,
    chart_products,
    named_in_headings,
    product_of,
    unknown_product,
)
from formulate.claims.chart_rows import MOST_TITLES, chart_rows, chart_text
from formulate.claims.claim_reading import READINGS, Claim, read_claims
from formulate.claims.dose_measures import MeasuredDose, read_dose
from formulate.errors import Faults, FormulateError, InputError, shortened
from formulate.ingredients.dissolve import measured_amounts
from formulate.ingredients.ingredient import Ingredient
from formulate.stoichiometry.nutrients import nutrient

__all__ = [
    "ChartColumn",
    "ChartDose",
    "ChartLine",
    "ChartSheet",
    "read_chart_lines",
    "read_chart_sheet",
]

NOTES = ("note", "notes", "remark", "remarks")
NO_DOSE = r"[-–—]?|[0.,]*0[0.,]*(?:\s.*)?"
BARE = r"[-+\d\s.,/eE¼-¾⅐-⅞]+"
RANGE = r"\d\s*[-–]\s*\d(?!\d*/)"
BRACKETED = r"(.*\S)\s*[(\[]([^()\[\]]+)[)\]]"
WEEKS = (
    r"(?:(?:weeks?|wks?|w|wochen?|kw|semaines?|semanas?)\.?\s*)?"
    r"(\d{1,3})(?:\s*(?:[-–—]|to|bis|\.\.)\s*(\d{1,3}))?"
)
MARKED = r"[*†‡§#]|\(?\d\)|(?:foot)?notes?\b|remarks?\b|sources?\b"
MADE_A_DATE = (
    r"\d{1,2}[-. ]*(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?"
)
MOST_WORDS = 4  # of a week's name; what is longer and stands alone at the end is a note


@dataclass(frozen=True)
class ChartColumn:
    """
    What a column of a chart holds.

    Attributes
    ----------
    heading : str
        Its heading as written.
    kind : str
        "product", "claim" or "note".
    name : str
        The product, or the subject of the claim.
    unit : str
        Unit of bare numbers; empty if the heading says none.
    """

    heading: str
    kind: str
    name: str
    unit: str = ""


@dataclass(frozen=True, eq=False)
class ChartDose:
    """
    One cell of a chart.

    Attributes
    ----------
    ingredient : Ingredient
        The product, under its name in the chart.
    dose : MeasuredDose
        How much, in how much.
    amount : float
        Grams in a litre, or millilitres of what is measured so. [g/L]
    """

    ingredient: Ingredient
    dose: MeasuredDose
    amount: float


@dataclass(frozen=True, eq=False)
class ChartLine:
    """
    One line of a chart.

    Attributes
    ----------
    number : int
        Line in the file. [-]
    week : str
        Week or stage as written.
    doses : tuple of ChartDose
        In the order of the columns.
    claims : tuple of Claim
        What the chart claims of the week's solution.
    ph : str
        The pH that the chart tells; empty if none.
    """

    number: int
    week: str
    doses: tuple
    claims: tuple[Claim, ...] = ()
    ph: str = ""

    @property
    def numbers(self):
        """Return the weeks that it covers, such as 1 and 2 of "1-2"; none if not numbered."""
        found = re.fullmatch(WEEKS, self.week.casefold())
        if not found:
            return ()
        first, last = int(found[1]), int(found[2] or found[1])
        return tuple(range(first, last + 1)) or (first,)

    @property
    def count(self):
        """Return how many weeks it covers; 1 if it does not say. [-]"""
        return max(len(self.numbers), 1)


@dataclass(frozen=True, eq=False)
class ChartSheet:
    """
    A chart, read.

    Attributes
    ----------
    lines : tuple of ChartLine
        One for each week or stage.
    assumed : tuple of str
        What was skipped, and how it was read where that is not certain.
    """

    lines: tuple[ChartLine, ...]
    assumed: tuple[str, ...] = ()


def read_chart_lines(path_or_text, products):
    """
    Return the lines of a feed chart with every dose read.

    Parameters
    ----------
    path_or_text : str or Path
        A CSV file, or its text where that has more than one line.
    products : mapping of str to Ingredient
        Name in the headings to product, salt or formula.

    Returns
    -------
    tuple of ChartLine
        One for each week or stage.

    Raises
    ------
    InputError
        With every fault by line and column.

    Examples
    --------
    >>> (first,) = read_chart_lines("week;A g/L\\n1;0,5\\n", {"A": "KNO3"})
    >>> first.week, first.doses[0].amount
    ('1', 0.5)
    """
    return read_chart_sheet(path_or_text, products).lines


def read_chart_sheet(path_or_text, products):
    """
    Return a feed chart with every dose read, and what was skipped.

    Titles above the headings and notes below the last week are skipped and told.

    Parameters
    ----------
    path_or_text : str or Path
        A CSV file, or its text where that has more than one line.
    products : mapping of str to Ingredient
        Name in the headings to product, salt or formula.

    Returns
    -------
    ChartSheet
        The lines, and what was assumed.

    Raises
    ------
    InputError
        With every fault by line and column.

    Examples
    --------
    >>> text = "School glasshouse\\nweek;A g/L\\n1-2;0,5\\n* in rain water\\n"
    >>> sheet = read_chart_sheet(text, {"A": "KNO3"})
    >>> sheet.assumed
    ("line 1 skipped: 'School glasshouse'", "line 4 skipped: '* in rain water'")
    >>> sheet.lines[0].count
    2
    """
    text, name = chart_text(path_or_text)
    faults = Faults(name)
    known = chart_products(products, faults)
    named = named_in_headings(text, known, MOST_TITLES)
    known = {**known, **named}
    rows = chart_rows(text, name, lambda cells: _recognised(cells, known))
    above, (number, heading), lines, below = _parted(rows, known)
    columns = _columns(heading, number, known, faults)
    found, seen = [], {}
    for place, cells in lines:
        _check_cells(cells, heading, place, faults)
        _check_week(cells[0], place, seen, faults)
        found.append(_line(place, cells, columns, known, faults))
    _check_units(columns, lines, number, faults)
    if not lines:
        faults.add("no week; write one a line under the headings")
    elif not faults.found and not any(line.doses for line in found):
        faults.add("no dose in any cell")
    faults.raise_if_any()
    skipped = (
        f"line {place} skipped: {shortened(' '.join(filter(None, cells)))}"
        for place, cells in (*above, *below)
    )
    meant = (
        f"{name}: taken from the catalogue as {made.name}"
        for name, made in named.items()
    )
    return ChartSheet(tuple(found), (*skipped, *meant, *_doubtful_weeks(found)))


def _doubtful_weeks(lines):
    """Yield weeks that stand in two lines, and what looks like a range made a date."""
    seen = {}
    for line in lines:
        twice = [str(n) for n in line.numbers if n in seen]
        if twice and line.count + seen[int(twice[0])].count > 2:
            other = seen[int(twice[0])].week
            yield f"week {', '.join(twice)} stands in {other!r} and in {line.week!r}"
        seen |= dict.fromkeys(line.numbers, line)
        if re.fullmatch(MADE_A_DATE, line.week.casefold()):
            what = "a spreadsheet makes that of a range; it is counted as one week"
            yield f"line {line.number}: week {line.week!r} looks like a date: {what}"


def _recognised(cells, known):
    """Return how many cells after the first are headings; 0 if none is of a product."""
    found = []
    for cell in filter(None, cells[1:]):
        with contextlib.suppress(FormulateError):
            found.append(_column(cell, known).kind)
    return len(found) if "product" in found else 0


def _parted(cells, known):
    """Return titles, the line of headings, the weeks, and the notes below."""
    likely = [
        n for n, (_, one) in enumerate(cells[:MOST_TITLES]) if _recognised(one, known)
    ]
    named = [
        n
        for n, (_, one) in enumerate(cells[:MOST_TITLES])
        if any(product_of(cell, known) for cell in one[1:])
    ]
    place = (*likely, *named, 0)[0]
    last = len(cells)
    while last > place + 1 and _is_note(cells[last - 1][1]):
        last -= 1
    return cells[:place], cells[place], cells[place + 1 : last], cells[last:]


def _is_note(cells):
    """Return whether a line below the weeks is a note: marked, or a sentence on its own."""
    first, *others = cells
    if any(re.search(r"\d", cell) for cell in others if re.fullmatch(BARE, cell)):
        return False
    if re.match(MARKED, first, re.IGNORECASE):
        return True
    is_long = len(first.split()) > MOST_WORDS or first.endswith(".")
    return is_long and not any(others)


# --- headings ----------------------------------------------------------------------------


def _columns(heading, number, known, faults):
    """Return what each column after the first holds; None for one without heading."""
    found = []
    for cell in heading[1:]:
        column = None
        with faults.collecting(f"line {number}, column {shortened(cell)}"):
            column = _column(cell, known) if cell else None
            names = [one.name for one in found if one and one.kind != "note"]
            if column and column.name in names:
                raise InputError(f"{column.name} has a column already")
        found.append(column)
    if not any(one and one.kind == "product" for one in found) and not faults.found:
        faults.add(f"line {number}: no column of a product: {', '.join(known)}")
    return found


def _column(cell, known):
    """Return what a heading says."""
    if cell.casefold() in NOTES:
        return ChartColumn(cell, "note", cell)
    bracketed = re.fullmatch(BRACKETED, cell)
    name = product_of(cell, known)
    if name:
        of_unit = cell[len(name) :].strip(" ,:;-–_").removeprefix("in ")
        of_unit = re.sub(r"^[(\[](.*)[)\]]$", r"\1", of_unit)
        return _product_column(cell, name, of_unit.strip(), known)
    name = bracketed[1] if bracketed else cell
    first, rest = re.fullmatch(r"([^\s(\[]*)\s*(.*)", cell).groups()
    of_unit = re.sub(r"^[(\[](.*)[)\]]$", r"\1", rest)
    return _claim_column(cell, first.strip(",:"), of_unit, name, known)


def _product_column(cell, name, of_unit, known):
    """Return the column of a product if its unit can be read."""
    if of_unit:
        _measured(f"1 {of_unit}", known[name])
    return ChartColumn(cell, "product", name, of_unit)


def _claim_column(cell, subject, of_unit, name, known):
    """Return the column of a claim; what is neither claim nor product is refused."""
    if subject.casefold() == "ph":
        return ChartColumn(cell, "claim", "pH")
    try:
        if subject.upper() not in READINGS:
            nutrient(subject)
    except FormulateError:
        raise InputError(unknown_product(name, known)) from None
    faults = Faults()
    read_claims({subject: f"1 {of_unit}" if of_unit else "1"}, faults)
    if faults.found and asked_back(name):
        raise InputError(asked_back(name))
    faults.raise_if_any()
    return ChartColumn(cell, "claim", subject, of_unit)


def _check_units(columns, lines, number, faults):
    """Note each product whose bare numbers have no unit, once."""
    for place, column in enumerate(columns, 1):
        if column is None or column.kind != "product" or column.unit:
            continue
        for line, cells in lines:
            cell = cells[place] if place < len(cells) else ""
            if not re.fullmatch(NO_DOSE, cell) and re.fullmatch(BARE, cell):
                what = f"no unit for {shortened(cell)} in line {line}"
                where = f"line {number}, column {shortened(column.heading)}"
                faults.add(f"{where}: {what}; write it like {column.name} mL/L")
                break


# --- lines -------------------------------------------------------------------------------


def _check_cells(cells, heading, place, faults):
    """Note cells without heading, and headings without cell."""
    for cell in filter(None, cells[len(heading) :]):
        faults.add(f"line {place}: {shortened(cell)} stands under no column")
    for column, (name, cell) in enumerate(zip(heading, cells, strict=False), 1):
        if cell and not name and column > 1:
            where = f"line {place}, column {column}"
            what = f"{shortened(cell)} stands under no heading"
            faults.add(f"{where}: {what}; part merged cells, name each column")
    if len(cells) < len(heading):
        what = f"{len(cells)} cells under {len(heading)} headings"
        faults.add(f"line {place}: {what}; part merged cells, fill each")


def _check_week(week, place, seen, faults):
    """Note a week that is not named, or is there twice."""
    if not week:
        what = "no week; part merged cells, name the week in each line"
        faults.add(f"line {place}, column 1: {what}")
    elif week.casefold() in seen:
        what = f"week {shortened(week)} stands in line {seen[week.casefold()]} already"
        faults.add(f"line {place}, column 1: {what}")
    else:
        seen[week.casefold()] = place


def _line(place, cells, columns, known, faults):
    """Return one line with its doses and claims."""
    doses, claims, ph = [], [], ""
    for column, cell in zip(columns, cells[1:], strict=False):
        if column is None or column.kind == "note" or not cell.strip("-–— "):
            continue
        with faults.collecting(f"line {place}, column {shortened(column.heading)}"):
            if column.kind == "product":
                doses += _dose(cell, column, known[column.name])
            elif column.name == "pH":
                ph = cell
            else:
                claims += _claim(cell, column)
    return ChartLine(place, cells[0], tuple(doses), tuple(claims), ph)


def _dose(cell, column, ingredient):
    """Return the dose of a cell in a list, which is empty if there is none."""
    is_bare = re.fullmatch(BARE, cell)
    if re.fullmatch(NO_DOSE, cell) or (is_bare and not column.unit):
        return []  # a missing unit is told once for the column
    if re.search(RANGE, cell):
        raise InputError(f"{shortened(cell)} is a range; give one dose")
    dose = _measured(f"{cell} {column.unit}" if is_bare else cell, ingredient)
    ((_, amount),) = measured_amounts({ingredient: dose.amount}, dose.litres)
    return [ChartDose(ingredient.renamed(column.name), dose, amount / dose.litres)]


def _measured(text, ingredient):
    """Return a dose that says in how much water."""
    try:
        return read_dose(text, ingredient)
    except FormulateError:
        read_dose(text, ingredient, volume=1.0)  # raises again unless that is all
    what = "does not say in how much water; write it like g/L"
    raise InputError(f"{shortened(text)} {what}")


def _claim(cell, column):
    """Return the claim of a cell, in a tuple."""
    faults = Faults()
    is_bare = re.fullmatch(BARE, cell)
    text = f"{cell} {column.unit}".strip() if is_bare else cell
    if not re.match(r"\+?[\d.,]", text):
        raise InputError(f"{shortened(cell)} is no number; write it like 1.8")
    claims = read_claims({column.name: text}, faults)
    faults.raise_if_any()
    return claims
