"""One table of a sheet, and the same table as CSV and as text for a terminal.

A number of it may know its working; sheets, CSV and terminal show the number alone.
"""

import csv
import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

__all__ = ["Followed", "Table", "csv_text", "table_text"]

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True)
class Followed:
    """
    A number of a table whose working can be asked for.

    Attributes
    ----------
    worked : callable
        Returns the working when it is called, and works nothing out before.
    shown : str
        The part of the cell that is the number; all of it if empty.

    Examples
    --------
    >>> Followed(str, "5.2").split("stir in 5.2 g")
    ('stir in ', '5.2', ' g')
    """

    worked: Callable
    shown: str = ""

    def split(self, cell):
        """
        Return what stands before the number of a cell, the number, and what comes after.

        Parameters
        ----------
        cell : str
            The cell.

        Returns
        -------
        tuple of str
            The three; all of the cell is the number where it does not hold it.

        Examples
        --------
        >>> Followed(str).split("5.2")
        ('', '5.2', '')
        """
        before, number, after = cell.partition(self.shown or cell)
        return (before, number, after) if number else ("", cell, "")


@dataclass(frozen=True)
class Table:
    """
    One table of a sheet.

    Attributes
    ----------
    key : str
        Short name.
    title : str
        Heading.
    columns : tuple of str
        Column names with their units.
    rows : tuple of tuple of str
        Cells as they are shown.
    numeric : tuple of int
        Columns that hold numbers, counted from 0. [-]
    workings : mapping of (int, int) to Followed
        Row and column of a number, counted from 0, to what is behind it. [-]
    """

    key: str
    title: str
    columns: tuple
    rows: tuple
    numeric: tuple = ()
    workings: Mapping = field(default_factory=dict, compare=False, repr=False)

    def __post_init__(self):
        object.__setattr__(self, "workings", MappingProxyType(dict(self.workings)))

    def with_workings(self, workings):
        """
        Return the table with what is behind its numbers.

        Parameters
        ----------
        workings : iterable of ((int, int), Followed)
            Row and column of a number, and what is behind it. [-]

        Returns
        -------
        Table
            The table; empty cells and those beyond it have no working.

        Examples
        --------
        >>> table = Table("t", "Test", ("a", "b"), (("1", ""),))
        >>> both = [((0, 0), Followed(str)), ((0, 1), Followed(str))]
        >>> list(table.with_workings(both).workings)
        [(0, 0)]
        """
        found = dict(self.workings)
        for (row, column), behind in workings:
            if row < len(self.rows) and self.rows[row][column]:
                found[row, column] = behind
        return replace(self, workings=found)

    def without_empty(self, *names):
        """
        Return the table without those of the named columns in which no cell is filled.

        Parameters
        ----------
        *names : str
            Column names.

        Returns
        -------
        Table
            The table.

        Examples
        --------
        >>> Table("t", "Test", ("a", "b"), (("1", ""),)).without_empty("b").columns
        ('a',)
        """
        places = range(len(self.columns))
        filled = [any(row[place] for row in self.rows) for place in places]
        kept = [p for p in places if filled[p] or self.columns[p] not in names]
        return Table(
            self.key,
            self.title,
            tuple(self.columns[p] for p in kept),
            tuple(tuple(row[p] for p in kept) for row in self.rows),
            tuple(kept.index(p) for p in self.numeric if p in kept),
            {
                (row, kept.index(p)): behind
                for (row, p), behind in self.workings.items()
                if p in kept
            },
        )

    def name_of(self, row):
        """
        Return what a row is about: its first cell that is no number.

        Parameters
        ----------
        row : int
            Which row, counted from 0. [-]

        Returns
        -------
        str
            The cell.

        Examples
        --------
        >>> Table("t", "Test", ("", "salt"), (("1", "KNO3"),), (0,)).name_of(0)
        'KNO3'
        """
        cells = self.rows[row]
        words = (c for p, c in enumerate(cells) if c and p not in self.numeric)
        return next(words, cells[0])

    def words_of(self, row):
        """
        Return what a row is about in words: its name, and what a mere number stands for.

        Parameters
        ----------
        row : int
            Which row, counted from 0. [-]

        Returns
        -------
        str
            The words.

        Examples
        --------
        >>> Table("t", "Test", ("", "do"), (("1", "stir"),)).words_of(0)
        '1 stir'
        """
        name = self.name_of(row)
        if not name.isdecimal():
            return name
        others = (c for c in self.rows[row] if c != name and not c.isdecimal())
        return f"{name} {next(others, '')}".rstrip()

    def keys(self):
        """
        Return the numbers that can be followed, each under a name of its own.

        Returns
        -------
        dict of str to (int, int)
            Table, row and column in words, to row and column. [-]

        Examples
        --------
        >>> table = Table("t", "Test", ("salt", "g"), (("KNO3", "1"), ("KNO3", "2")), (1,))
        >>> both = [((row, 1), Followed(str)) for row in (0, 1)]
        >>> list(table.with_workings(both).keys())
        ['t: KNO3, g', 't: KNO3, g (2)']
        """
        found = {}
        for row, column in self.workings:
            words = f"{self.key}: {self.name_of(row)}, {self.columns[column]}"
            name, times = words, 1
            while name in found:
                times += 1
                name = f"{words} ({times})"
            found[name] = (row, column)
        return found


def _safe(cell):
    """Return a cell that no spreadsheet takes for a formula."""
    is_number = cell.replace(" %", "").lstrip("+-").replace(".", "", 1).isdigit()
    return f"'{cell}" if cell.startswith(FORMULA_SIGNS) and not is_number else cell


def csv_text(tables):
    """
    Return tables as CSV, one after the other, with their titles.

    Parameters
    ----------
    tables : iterable of Table
        The tables.

    Returns
    -------
    str
        Text with commas; cells that look like formulas are made text.

    Examples
    --------
    >>> print(csv_text([Table("t", "Test", ("a",), (("=1+1",),))]).strip())
    Test
    a
    '=1+1
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    for place, table in enumerate(tables):
        if place:
            writer.writerow([])
        writer.writerow([_safe(table.title)])
        writer.writerow([_safe(column) for column in table.columns])
        writer.writerows([[_safe(cell) for cell in row] for row in table.rows])
    return buffer.getvalue()


def table_text(table):
    """
    Return a table as text for a terminal.

    Parameters
    ----------
    table : Table
        The table.

    Returns
    -------
    str
        Title, then a line for each row; numbers stand right, the last column is not cut.

    Examples
    --------
    >>> print(table_text(Table("t", "Weigh", ("", "g"), (("KNO3", "5.2"),), (1,))))
    Weigh
              g
      KNO3  5.2
    """
    lines = [table.columns, *table.rows] if any(table.columns) else list(table.rows)
    widths = [max(map(len, cells)) for cells in zip(*lines, strict=True)]
    shown = [table.title]
    for cells in lines:
        padded = [
            cell.rjust(width) if place in table.numeric else cell.ljust(width)
            for place, (cell, width) in enumerate(zip(cells, widths, strict=True))
        ]
        shown.append(f"  {'  '.join(padded)}".rstrip())
    return "\n".join(shown)
