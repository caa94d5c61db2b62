"""What was understood of a file: a water report, a label or a shelf, in words.

What was read, what was assumed, what was left out and what to know stand together, so that
a person can hold them against the paper.
"""

import re

from formulate.errors import FormulateError, InputError
from formulate.files import read_text
from formulate.ingredients.labels import read_label
from formulate.ingredients.shelf import nutrient_costs, shelf_from_text
from formulate.ingredients.water import Water
from formulate.ingredients.water_report import water_from_text
from formulate.working import printed

__all__ = ["READERS", "explain_file", "explain_text"]

SHELF_MARK = "ingredient"
SHARE, PER_LITRE = "%", ("/l", "l-1", "per l", "ppm", "°")  # of labels, of waters


def _explain_water(text):
    made = water_from_text(text)
    return made, ["a water report", str(made)]  # its notices quote what was left out


def _explain_label(text):
    made = read_label(text)
    reading = made.reading
    lines = [f"a label, {reading.basis_found}" if reading.basis_found else "a label"]
    lines += [
        f"{entry.where}: {entry.key} {entry.percent:g} % ({entry.kind})"
        for entry in reading.entries
    ]
    lines += [str(made), *(f"assumed: {text}" for text in made.assumed)]
    told = [str(notice) for notice in made.notices]
    lines += [
        f"left out, line {item.line}: {item.text} ({item.why})"
        for item in reading.left_out
        if not any(f"line {item.line} was left out" in notice for notice in told)
    ]
    return made, [*lines, *told]


def _explain_shelf(text):
    made = shelf_from_text(text)
    lines = [f"a shelf of {len(made)}", str(made)]
    costs = nutrient_costs(made)
    if costs:
        lines.append(f"a gram costs, {made.currency or 'currency of the prices'}:")
    lines += [f"{key:>7} {printed(cost, 3):>8}  {name}" for key, name, cost in costs]
    return made, lines


READERS = {"water": _explain_water, "label": _explain_label, "shelf": _explain_shelf}


def explain_text(text, *, kind=None):
    """
    Return what was understood of a text.

    Parameters
    ----------
    text : str
        A water report, a label or a shelf.
    kind : str or None
        "water", "label" or "shelf"; found out if None.

    Returns
    -------
    made : Water, Ingredient or Shelf
        What was read.
    lines : list of str
        What to show of it.

    Raises
    ------
    InputError
        If it cannot be read, with every fault.

    Examples
    --------
    >>> made, lines = explain_text("Calcium 80 mg/L\\nMagnesium 12 mg/L\\npH 7.4\\n")
    >>> lines[0], round(made.solution.mg_l("Ca"), 1)
    ('a water report', 80.0)
    """
    if kind is not None and kind not in READERS:
        raise InputError(f"kind {kind!r}: write one of {', '.join(READERS)}")
    if kind:
        return READERS[kind](text)
    first = next(
        (line for line in text.splitlines() if line.strip()[:1] not in ("", "#")), ""
    )
    if SHELF_MARK in re.findall(r"[^;,\t\"]+", first.casefold()):
        return _explain_shelf(text)
    if SHARE in text and not any(unit in text.casefold() for unit in PER_LITRE):
        return _explain_label(text)
    read, faults = {}, {}
    for name in ("water", "label"):
        try:
            read[name] = READERS[name](text)
        except FormulateError as error:
            faults[name] = error.faults
    if not read:
        told = [f"as a {name}: {fault}" for name in faults for fault in faults[name]]
        raise InputError("neither a water report nor a label; say which", *told)
    return min(read.values(), key=lambda pair: _lines_left_out(pair[0]))


def _lines_left_out(made):
    return len((made.report if isinstance(made, Water) else made.reading).left_out)


def explain_file(path, *, kind=None):
    """
    Return what was understood of a file.

    Parameters
    ----------
    path : str or Path
        A water report, a label or a shelf.
    kind : str or None
        "water", "label" or "shelf"; found out if None.

    Returns
    -------
    made : Water, Ingredient or Shelf
        What was read.
    lines : list of str
        What to show of it.

    Raises
    ------
    InputError
        If it cannot be read, with every fault.

    Examples
    --------
    >>> explain_file("no-such-file.txt")
    Traceback (most recent call last):
        ...
    formulate.errors.InputError: 'no-such-file.txt': cannot be read (No such file or directory)
    """
    return explain_text(read_text(path), kind=kind)
