"""The shape of a chart: titles above, headings, weeks, notes below; weeks down or across.

A chart whose weeks stand across the top is turned, so that they stand one below the other.
"""

import re
from itertools import zip_longest

from formulate.claims.chart_columns import dosed_cells, recognised
from formulate.claims.chart_products import product_of
from formulate.claims.chart_rows import MOST_TITLES

__all__ = ["WEEKS", "chart_shape", "headings_in"]

BARE = r"[-+\d\s.,/eE¼-¾⅐-⅞]+"
MARKED = r"[*†‡§#]|\(?\d\)|(?:foot)?notes?\b|remarks?\b|sources?\b"
MOST_WORDS = 4  # of a week's name; what is longer and stands alone at the end is a note
WEEKS = (
    r"(?:(?:weeks?|wks?|w|wochen?|kw|semaines?|semanas?)\.?\s*)?"
    r"(\d{1,3})(?:\s*(?:[-–—]|to|bis|\.\.)\s*(\d{1,3}))?"
)
TURNED = "weeks stand across the top: read with lines and columns exchanged"


def headings_in(cells, known):
    """
    Return how many headings a line has, or a line of a chart whose weeks stand across.

    Parameters
    ----------
    cells : sequence of str
        Cells of a line.
    known : mapping of str to Ingredient
        The products.

    Returns
    -------
    int
        How many cells are headings, or doses of the product that is named first. [-]

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> headings_in(["A g/L", "1", "2"], {"A": as_ingredient("KNO3")})
    2
    """
    across = recognised(["", cells[0]], known) if cells else 0
    if across:
        return len(cells) - 1
    return recognised(cells, known) or dosed_cells(cells)


def chart_shape(rows, known):
    """
    Return the parts of a chart, its weeks one below the other.

    Parameters
    ----------
    rows : list of tuple
        Number of each line in the file, and its cells. [-]
    known : mapping of str to Ingredient
        The products.

    Returns
    -------
    above : list of tuple
        Titles.
    heading : tuple
        The line of headings.
    lines : list of tuple
        The weeks.
    below : list of tuple
        Notes.
    told : tuple of str
        That it was turned, if it was.

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> rows = [(1, ["week", "1", "2"]), (2, ["A g/L", "0.5", "1"])]
    >>> chart_shape(rows, {"A": as_ingredient("KNO3")})[2]
    [(2, ['1', '0.5']), (3, ['2', '1'])]
    """
    place = _across(rows, known)
    if place is None:
        return (*_parted(rows, known), ())
    last = len(rows)
    while last > place + 1 and _is_note(rows[last - 1][1]):
        last -= 1
    turned = zip_longest(*(cells for _, cells in rows[place:last]), fillvalue="")
    lines = [(n, list(cells)) for n, cells in enumerate(turned, 1)]
    while any(lines) and not any(lines[-1][1]):
        lines.pop()
    return rows[:place], lines[0], lines[1:], rows[last:], (TURNED,)


def _across(rows, known):
    """Return the place of the line that names weeks across the top, or None."""
    for place, (_, cells) in enumerate(rows[:MOST_TITLES]):
        if recognised(cells, known):
            return None
        named = [cell.casefold() for cell in cells[1:] if cell]
        if named and all(re.fullmatch(WEEKS, cell) for cell in named):
            firsts = [one[0] for _, one in rows[place + 1 :]]
            return place if recognised(["", *firsts], known) else None
    return None


def _parted(cells, known):
    """Return titles, the line of headings, the weeks, and the notes below."""
    above = list(enumerate(cells[:MOST_TITLES]))
    likely = [n for n, (_, one) in above if recognised(one, known)]
    named = [
        n for n, (_, one) in above if any(product_of(cell, known) for cell in one[1:])
    ]
    dosed = [n for n, (_, one) in above if dosed_cells(one)]
    place = (*likely, *named, *dosed, 0)[0]
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
