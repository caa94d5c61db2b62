"""The lines and cells of a chart as a spreadsheet saves it: its text, its mark between cells."""

import contextlib
import csv
import re
from pathlib import Path

from formulate.errors import InputError, shortened
from formulate.files import read_text

__all__ = ["MOST_TITLES", "MOST_WEEKS", "chart_rows", "chart_text"]

MOST_WEEKS, MOST_COLUMNS, MOST_TITLES = 500, 100, 20
MOST_LINES = MOST_WEEKS + 2 * MOST_TITLES  # with headings, titles and notes
DELIMITERS = (";", "\t", ",")


def chart_text(path_or_text):
    """
    Return the text of a chart and what to call it.

    Parameters
    ----------
    path_or_text : str or Path
        A CSV file, or its text where that has more than one line.

    Returns
    -------
    text : str
        The text.
    name : str
        Name of the file, or "chart".

    Raises
    ------
    InputError
        If it is empty, or neither.

    Examples
    --------
    >>> chart_text("week;A g/L\\n1;2\\n")[1]
    'chart'
    """
    if isinstance(path_or_text, str) and not path_or_text.strip():
        raise InputError("chart: empty; give a CSV of weeks and products")
    if isinstance(path_or_text, str) and re.search(r"[\r\n]", path_or_text):
        return path_or_text.removeprefix("\ufeff"), "chart"
    if not isinstance(path_or_text, str | Path):
        raise InputError(f"chart: {shortened(path_or_text)}: give a file or its text")
    return read_text(path_or_text), Path(path_or_text).name


def chart_rows(text, name, recognised):
    """
    Return the lines of a chart that are not empty, parted into cells.

    They are parted at the mark that gives the most headings that are recognised.

    Parameters
    ----------
    text : str
        Text of a CSV file.
    name : str
        What it is called in faults.
    recognised : callable
        Cells of a line to how many of them are headings.

    Returns
    -------
    list of tuple
        Number of the line in the file, and its cells. [-]

    Raises
    ------
    InputError
        If it is empty, too long, or its quotes are not closed.

    Examples
    --------
    >>> chart_rows("week;A g/L\\n1;0,5\\n", "chart", len)
    [(1, ['week', 'A g/L']), (2, ['1', '0,5'])]
    """
    lines = text.splitlines(keepends=True)
    written = [line for line in lines if line.strip(" \t\r\n;,")]
    if not written:
        raise InputError(f"{name}: empty; give a CSV of weeks and products")
    told = re.fullmatch(r"sep=([;,\t])", written[0].strip(" \r\n\"'"))
    if told:
        found = _split(lines, told[1], name)[1:]
        if not found:
            raise InputError(f"{name}: empty; give a CSV of weeks and products")
        return found
    usual = max(DELIMITERS, key=written[0].count)
    best, most = None, 0
    for delimiter in (usual, *(d for d in DELIMITERS if d != usual)):
        with contextlib.suppress(InputError):
            cells = _split(lines, delimiter, name)
            count = max(recognised(one) for _, one in cells[:MOST_TITLES])
            best, most = (cells, count) if count > most else (best, most)
    return best or _split(lines, usual, name)


def _split(lines, delimiter, name):
    """Return (line number, cells) of each line that is not empty, parted at a delimiter."""
    reader, found, first = csv.reader(lines, delimiter=delimiter, strict=True), [], 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                found.append((first, [" ".join(cell.split()) for cell in cells]))
            if len(found) > MOST_LINES or len(cells) > MOST_COLUMNS:
                most = f"{MOST_LINES} lines or {MOST_COLUMNS} columns"
                raise InputError(f"{name}: line {first}: more than {most}")
            first = reader.line_num + 1
    except csv.Error as error:
        what = f"line {first}: {error}; look at the quotes"
        raise InputError(f"{name}: {what}") from None
    return found
