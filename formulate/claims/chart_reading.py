"""Reads a feed chart as a spreadsheet saves it: weeks down, products across, a dose a cell.

Nothing is guessed: a column without product, a dose without unit and a line that does not
fit the columns are faults, each told by line and column, all at once.
"""

import re
from dataclasses import dataclass
from itertools import zip_longest

from formulate.claims.chart_columns import (
    ChartColumn,
    chart_columns,
    measured_dose,
    note_columns,
)
from formulate.claims.chart_products import chart_products, named_in_headings
from formulate.claims.chart_rows import MOST_TITLES, MOST_WEEKS, chart_rows, chart_text
from formulate.claims.chart_shape import WEEKS, chart_shape, headings_in
from formulate.claims.claim_reading import Claim, about_what, read_claims
from formulate.claims.dose_measures import MeasuredDose
from formulate.errors import Faults, InputError, shortened
from formulate.ingredients.dissolve import measured_amounts
from formulate.ingredients.ingredient import Ingredient

__all__ = [
    "ChartColumn",
    "ChartDose",
    "ChartLine",
    "ChartSheet",
    "read_chart_lines",
    "read_chart_sheet",
]

NO_DOSE = r"[-–—]?|[0.,]*0[0.,]*(?:\s.*)?"
BARE = r"[-+\d\s.,/eE¼-¾⅐-⅞]+"
MARKED = r"(.*\d\s*\)?.*?)\s*([*†‡§#]+)"
RANGE = r"\d\s*[-–]\s*\d(?!\d*/)"
MADE_A_DATE = (
    r"\d{1,2}[-. ]*(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?"
)


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
    rows = chart_rows(text, name, lambda cells: headings_in(cells, known))
    above, (number, heading), lines, below, told = chart_shape(rows, known)
    if told:
        faults = _turned(faults, name)
    if len(lines) > MOST_WEEKS:
        raise InputError(f"{name}: more than {MOST_WEEKS} weeks")
    notes = note_columns(heading, [cells for _, cells in lines], known)
    columns = chart_columns(heading, number, known, notes, faults)
    found, seen, marks = [], {}, []
    for place, written in lines:
        cells = _unmarked(written, heading, place, marks)
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
    noted = (f"column {shortened(one)} is taken for a note" for one in notes)
    more = (*told, *skipped, *meant, *noted, *marks, *_doubtful_weeks(found))
    return ChartSheet(tuple(found), more)


def _turned(faults, name):
    """Return faults that say that lines and columns are exchanged, those so far kept."""
    made = Faults(f"{name}, its lines and columns exchanged")
    for one in faults.found:
        made.add(one)
    return made


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


def _unmarked(cells, heading, place, marks):
    """Return cells without the marks of footnotes at their numbers, each of them told."""
    found = list(cells[:1])
    for cell, name in zip_longest(cells[1:], heading[1 : len(cells)], fillvalue=""):
        marked = re.fullmatch(MARKED, cell)
        found.append(marked[1] if marked else cell)
        if marked:
            where = f"line {place}, column {shortened(name)}"
            what = f"{shortened(cell)} read as {marked[1]}, with the mark of a footnote"
            marks.append(f"{where}: {what}")
    return found


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
    dose = measured_dose(f"{cell} {column.unit}" if is_bare else cell, ingredient)
    ((_, amount),) = measured_amounts({ingredient: dose.amount}, dose.litres)
    return [ChartDose(ingredient.renamed(column.name), dose, amount / dose.litres)]


def _claim(cell, column):
    """Return the claim of a cell, in a tuple."""
    faults, said = Faults(), about_what(cell)
    number = cell if said is None else said
    is_bare = re.fullmatch(BARE, number)
    text = f"{number} {column.unit}".strip() if is_bare else number
    if not re.match(r"\+?[\d.,]*\d", text):
        raise InputError(f"{shortened(cell)} is no number; write it like 1.8")
    about = "" if said is None else "about "
    claims = read_claims({column.name: f"{about}{text}"}, faults)
    faults.raise_if_any()
    return claims
