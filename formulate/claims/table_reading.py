"""Reads a table of a book as a spreadsheet saves it: titles above, headings, rows, footnotes.

What stands above the headings and below the rows is left out and told. A line that does not
fit the headings, and a number that cannot be read, are faults by line and column, all at
once.
"""

import csv
import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from formulate.claims.printed_numbers import is_untold, printed_number
from formulate.errors import Faults, InputError, shortened
from formulate.files import read_text
from formulate.notices import LeftOut

__all__ = [
    "PublishedLine",
    "PublishedTable",
    "TableColumn",
    "cell_number",
    "read_published",
    "table_text",
]

MOST_LINES, MOST_COLUMNS, FIRST_LINES = 1000, 100, 30
DELIMITERS = (";", "\t", ",")
UNIT_CELL = re.compile(
    r"[\[(]?\s*(%.{0,12}|percent|g/mol|g mol-1|g/L|g/kg|g/100 ?(g|mL).{0,12}|°C)\s*[\])]?",
    re.I,
)


@dataclass(frozen=True)
class TableColumn:
    """
    What a column of a table was read as.

    Attributes
    ----------
    heading : str
        As written.
    role : str
        What it holds; "left out" if that is not known.
    key : str
        Nutrient, unit or temperature that it is about.
    scale : float
        What its numbers are multiplied by. [-]
    """

    heading: str
    role: str
    key: str = ""
    scale: float = 1.0


@dataclass(frozen=True)
class PublishedLine:
    """
    A row of a table.

    Attributes
    ----------
    number : int
        Line in the file. [-]
    cells : tuple of str
        One for each heading.
    """

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class PublishedTable:
    """
    A table as it stands in its file.

    Attributes
    ----------
    name : str
        What to call it.
    number : int
        Line of the headings. [-]
    columns : tuple of TableColumn
        One for each heading.
    lines : tuple of PublishedLine
        Its rows.
    left_out : tuple of LeftOut
        Titles, footnotes and the like.
    """

    name: str
    number: int
    columns: tuple[TableColumn, ...]
    lines: tuple[PublishedLine, ...]
    left_out: tuple[LeftOut, ...] = ()

    def cells_of(self, line, *roles):
        """
        Return the columns of some roles with what a row has in them.

        Parameters
        ----------
        line : PublishedLine
            The row.
        *roles : str
            Roles of columns.

        Returns
        -------
        list of (TableColumn, str)
            Columns and cells.

        Examples
        --------
        >>> columns = (TableColumn("salt", "name"), TableColumn("N %", "nutrient", "N"))
        >>> row = PublishedLine(2, ("KNO3", "13.9"))
        >>> table = PublishedTable("table", 1, columns, (row,))
        >>> [cell for _, cell in table.cells_of(row, "nutrient")]
        ['13.9']
        """
        pairs = zip(self.columns, line.cells, strict=True)
        return [(column, cell) for column, cell in pairs if column.role in roles]


def cell_number(column, cell, line, faults):
    """
    Return the number of a cell; None where it tells none or has a fault.

    Parameters
    ----------
    column : TableColumn
        The column.
    cell : str
        The cell.
    line : PublishedLine
        The row.
    faults : Faults
        Where a fault is noted.

    Returns
    -------
    PrintedNumber or None
        The number.

    Examples
    --------
    >>> row = PublishedLine(2, ("46,6",))
    >>> cell_number(TableColumn("N %", "nutrient", "N"), "46,6", row, Faults()).value
    46.6
    """
    if is_untold(cell):
        return None
    with faults.collecting(f"line {line.number}, column {shortened(column.heading)}"):
        return printed_number(cell)
    return None


# --- lines -------------------------------------------------------------------------------


def table_text(path_or_text):
    """
    Return the text of a table and what to call it.

    Parameters
    ----------
    path_or_text : str or Path
        A CSV file, or its text where that has more than one line.

    Returns
    -------
    text : str
        Its text.
    name : str
        Its file, or "table".

    Raises
    ------
    InputError
        If there is none, or it cannot be read.

    Examples
    --------
    >>> table_text("salt;N %\\nKNO3;13.9\\n")[1]
    'table'
    """
    if isinstance(path_or_text, str) and not path_or_text.strip("\ufeff \t\r\n"):
        raise InputError("table: empty; give a CSV with headings and rows")
    if isinstance(path_or_text, str) and re.search(r"[\r\n]", path_or_text):
        return path_or_text.removeprefix("\ufeff"), "table"
    if not isinstance(path_or_text, str | Path):
        raise InputError(f"table: {shortened(path_or_text)}: give a file or its text")
    return read_text(path_or_text).removeprefix("\ufeff"), Path(path_or_text).name


def read_published(path_or_text, columns_of, faults=None):
    """
    Return a table with its headings found and its rows cut to them.

    Parameters
    ----------
    path_or_text : str or Path
        A CSV file, or its text where that has more than one line.
    columns_of : callable
        Takes the cells of a line, returns a TableColumn for each if the line can be the
        headings, else None.
    faults : Faults or None
        Where faults of lines and cells are noted, for the caller to raise them with its
        own; they are raised here if None.

    Returns
    -------
    PublishedTable
        The table.

    Raises
    ------
    InputError
        With every fault by line and column.

    Examples
    --------
    >>> def columns_of(cells):
    ...     return [TableColumn(c, "any") for c in cells] if "N %" in cells else None
    >>> table = read_published("A title\\nsalt;N %\\nKNO3;13,9\\n", columns_of)
    >>> table.number, table.lines[0].cells, table.left_out[0].text
    (2, ('KNO3', '13,9'), 'A title')
    """
    text, name = table_text(path_or_text)
    rows, delimiter = _rows(text, name)
    place, columns, first = _headings(rows, columns_of)
    if place is None:
        what = (
            "no line of headings was understood; name a column of materials and columns"
        )
        raise InputError(f"{name}: {what} of numbers, such as salt;N %;K2O %")
    number, found = rows[place][0], Faults() if faults is None else faults
    found.where = name
    titles = [
        LeftOut(n, "  ".join(filter(None, cells)), "a title")
        for n, cells in rows[:place]
    ]
    lines, notes = _body(rows[first:], columns, columns_of, found)
    if not lines and not found.found:
        found.add("no row under the headings")
    _check_commas(lines, columns, delimiter, found)
    if faults is None:
        found.raise_if_any()
    return PublishedTable(name, number, tuple(columns), tuple(lines), (*titles, *notes))


def _rows(text, name):
    """Return (line, cells) of each line that is not empty, and what parts the cells."""
    lines = text.splitlines(keepends=True)
    told = re.fullmatch(r"sep=([;,\t])", lines[0].strip(" \r\n\"'")) if lines else None
    delimiter = told[1] if told else _delimiter(lines)
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    found, first = [], 1
    try:
        for cells in reader:
            plain = [" ".join(cell.split()) for cell in cells]
            if any(plain) and not (told and first == 1):
                found.append((first, plain))
            if len(found) > MOST_LINES or len(cells) > MOST_COLUMNS:
                most = f"{MOST_LINES} lines or {MOST_COLUMNS} columns"
                raise InputError(f"{name}: line {first}: more than {most}")
            first = reader.line_num + 1
    except csv.Error as error:
        what = f"line {first}: {error}; look at the quotes"
        raise InputError(f"{name}: {what}") from None
    if not found:
        raise InputError(f"{name}: empty; give a CSV with headings and rows")
    return found, delimiter


def _delimiter(lines):
    """Return what most lines have equally often; a semicolon or tab before a comma."""

    def agreeing(delimiter):
        counts = Counter(line.count(delimiter) for line in lines if delimiter in line)
        return max(counts.values(), default=0)

    return max(DELIMITERS, key=agreeing)


def _headings(rows, columns_of):
    """Return the place of the headings, their columns and the first line below."""
    for place, (_, cells) in enumerate(rows[:FIRST_LINES]):
        following = rows[place + 1][1] if place + 1 < len(rows) else []
        columns = columns_of(_with_units(cells, following))
        if columns:
            return place, columns, place + 1 + _is_units(following, rows[place][1])
    return None, None, None


def _with_units(cells, following):
    """Return headings with the units below them, without empty ones at the end."""
    found = list(cells)
    if _is_units(following, cells):
        pairs = zip(cells, following + [""] * len(cells), strict=False)
        found = [f"{cell} {unit}".strip() for cell, unit in pairs]
    while len(found) > 1 and not found[-1]:
        found.pop()
    return found


def _is_units(cells, above):
    """Return whether a line holds nothing but the units of the headings above it."""
    told = [cell for cell in cells if cell]
    fits = len(cells) <= max(len(above), 1) and len(told) > 0
    return fits and all(UNIT_CELL.fullmatch(cell) for cell in told)


def _body(rows, columns, columns_of, faults):
    """Return the rows, and what was left out below the headings."""
    lines, notes = [], []
    for number, cells in rows:
        why = _why_left_out(cells, columns, columns_of)
        if why:
            notes.append(LeftOut(number, "  ".join(filter(None, cells)), why))
            continue
        _check_ragged(number, cells, columns, faults)
        kept = (cells + [""] * len(columns))[: len(columns)]
        lines.append(PublishedLine(number, tuple(kept)))
    return lines, notes


def _why_left_out(cells, columns, columns_of):
    """Return why a line is no row; empty if it is one."""
    told = [cell for cell in cells if cell]
    has_number = any(re.match(r"[<~≈]?\s*[\d.,]+\s*%?$", cell) for cell in cells[1:])
    if len(told) == 1 and not has_number and cells[0]:
        return "one cell and no number: a footnote or a name of a group"
    again = None if has_number else columns_of(cells)
    if again and [c.role for c in again] == [c.role for c in columns]:
        return "headings once more"
    if not has_number and len(cells) != len(columns) and len(told) < len(columns):
        return "no number and not as many cells as headings: a footnote"
    return ""


def _check_ragged(number, cells, columns, faults):
    """Note cells without heading, headings without cell, and a row without name."""
    for place, cell in enumerate(cells[len(columns) :], len(columns) + 1):
        if cell:
            what = f"{shortened(cell)} stands under no heading"
            faults.add(f"line {number}, column {place}: {what}; name each column")
    for place, (column, cell) in enumerate(zip(columns, cells, strict=False), 1):
        if cell and column.role == "no heading":
            what = f"{shortened(cell)} stands under no heading; part merged cells"
            faults.add(f"line {number}, column {place}: {what}, name each column")
    if len(cells) < len(columns):
        what = f"{len(cells)} cells under {len(columns)} headings"
        faults.add(f"line {number}: {what}; part merged cells, fill each")


def _check_commas(lines, columns, delimiter, faults):
    """Note decimal commas where commas part the cells, or where points are used too."""
    cells = [
        (line.number, column.heading, cell)
        for line in lines
        for column, cell in zip(columns, line.cells, strict=True)
        if column.role not in ("name", "formula", "left out", "no heading")
    ]
    has_points = any(re.fullmatch(r"\d+\.\d+\s*%?", cell) for _, _, cell in cells)
    for number, heading, cell in cells:
        if re.fullmatch(r"\d*,\d+\s*%?", cell) and (has_points or delimiter == ","):
            why = "points are used elsewhere" if has_points else "commas part the cells"
            where = f"line {number}, column {shortened(heading)}"
            faults.add(
                f"{where}: {shortened(cell)} has a comma and {why}; write a point"
            )
