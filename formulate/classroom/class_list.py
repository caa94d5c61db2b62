"""Reads a class list: one name a line, or a table whose first or named column holds the names."""

import csv
from pathlib import Path

from formulate.classroom.lot import checked_seed
from formulate.errors import Faults, InputError, shortened
from formulate.files import read_text

__all__ = ["class_list", "read_class_list"]

HEADS = (
    *("name", "names", "pupil", "pupils", "student", "students"),
    *("full name", "pupil name", "student name", "first name", "vorname"),
)
DELIMITERS, NEVER = ";\t,", "\x1f"
MOST = 500


def read_class_list(path):
    """
    Return the names of a class from a file.

    Parameters
    ----------
    path : str or Path
        A text file with a name a line, or a CSV file as a spreadsheet writes it: the column headed "name", "pupil"
        or "first name" is taken, else the first. "Smith, Ada" with a space behind its comma is one name. Lines that
        begin with # are left out.

    Returns
    -------
    tuple of str
        The names in their order.

    Raises
    ------
    InputError
        If the file cannot be read, has no name, or names somebody twice; every fault is told.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder) / "class.csv"
    ...     written = path.write_text("no;name\\n1;Ada\\n2;Ben\\n")
    ...     read_class_list(path)
    ('Ada', 'Ben')
    """
    path = Path(path)
    lines = [
        (number, line)
        for number, line in enumerate(read_text(path).splitlines(), 1)
        if line.strip(" \t;,") and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise InputError(f"{path.name}: no name in it; write one a line")
    is_one_name = all(", " in line and line.count(",") == 1 for _, line in lines)
    delimiter = NEVER if is_one_name else max(DELIMITERS, key=lines[0][1].count)
    cells = [
        (n, [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter))])
        for n, line in lines
    ]
    head = [cell.casefold() for cell in cells[0][1]]
    column = next((head.index(word) for word in HEADS if word in head), None)
    rows = cells if column is None else cells[1:]
    place = column or 0
    return _checked(
        [(f"line {n}", row[place] if len(row) > place else "") for n, row in rows],
        path.name,
    )


def class_list(pupils):
    """
    Return the names of a class.

    Parameters
    ----------
    pupils : iterable of str, or str
        The names; a text has one a line.

    Returns
    -------
    tuple of str
        The names in their order.

    Raises
    ------
    InputError
        If there is no name, a name is empty, or somebody is named twice; every fault is told.

    Examples
    --------
    >>> class_list(["Ada", "Ben"])
    ('Ada', 'Ben')
    """
    if isinstance(pupils, str):
        pupils = [line for line in pupils.splitlines() if line.strip()]
    named = [(f"pupil {n}", name) for n, name in enumerate(pupils, 1)]
    return _checked(named, "class list")


def _checked(named, where):
    """Return names that each mean one pupil, or every fault."""
    faults, seen, names = Faults(where), {}, []
    if not named:
        faults.add("no name in it; write one a line")
    if len(named) > MOST:
        faults.add(f"{len(named)} names; at most {MOST} at a time")
    for place, name in named[:MOST]:
        try:
            seed = checked_seed(name)
        except InputError:
            faults.add(f"{place}: {shortened(name)} is no name; write the pupil's name")
            continue
        if seed in seen:
            faults.add(
                f"{place}: {shortened(name)} is the same pupil as {seen[seed]}; add an initial or a number"
            )
        seen.setdefault(seed, place)
        names.append(" ".join(str(name).split()))
    faults.raise_if_any()
    return tuple(names)
