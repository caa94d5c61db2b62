"""One table of a sheet, and the same table as CSV and as text for a terminal."""

import csv
import io
from dataclasses import dataclass

__all__ = ["Table", "csv_text", "table_text"]

FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


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
    """

    key: str
    title: str
    columns: tuple
    rows: tuple
    numeric: tuple = ()

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
        )


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
