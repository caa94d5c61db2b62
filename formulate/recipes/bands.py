"""How far a recipe may be off: wanted rows as hard rows, each within its band.

A wanted value or range is widened either way by a share of its middle. What the recipe at
hand misses by more stays as near as that recipe comes, so that its own amounts always fit.
"""

import math
from dataclasses import replace

import numpy as np

from formulate.notices import Notice
from formulate.recipes.forced import distance
from formulate.recipes.requirement import HARD, WANTED
from formulate.working import printed_percent

__all__ = ["ROOM", "WITHIN", "banded", "bound_rows", "is_ceiling", "own_rows"]

WITHIN = "within"  # origin of wishes that are held
INSIDE = 1e-9  # of a band: so much less, so that rounding cannot put a value outside
ROOM = 1e-9  # of a row's scale: so much more, for rounding must not shut the last recipe out


def own_rows(requirements):
    """
    Return the rows of a recipe without the bands in which its wishes were held.

    Parameters
    ----------
    requirements : sequence of Requirement
        The rows of a recipe.

    Returns
    -------
    tuple of Requirement
        The rows; all of them if nothing else tells what is wanted.

    Examples
    --------
    >>> from formulate.recipes.requirement import Requirement
    >>> k = Requirement("K", (1.0,), 2.0, 2.0)
    >>> held = Requirement("K held", (1.0,), 1.9, 2.1, kind="hard", origin="within")
    >>> [row.name for row in own_rows([k, held])]
    ['K']
    """
    rest = tuple(row for row in requirements if row.origin != WITHIN)
    has_wishes = any(row.kind == WANTED for row in rest)
    return rest if has_wishes else tuple(requirements)


def is_ceiling(row):
    """
    Return whether a wanted row only asks for little.

    Parameters
    ----------
    row : Requirement
        The row.

    Returns
    -------
    bool
        Whether it is a wanted 0, or what is kept low unasked.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.requirements import kept_low
    >>> is_ceiling(kept_low("Cl", 0.1, [salt("KCl")]))
    True
    """
    is_nothing = row.low == row.high == 0 and row.origin == "target"
    return is_nothing or row.origin == "kept low"


def bound_rows(requirements):
    """
    Return the wanted rows that count; a weight of 0 passes a wish over.

    Parameters
    ----------
    requirements : sequence of Requirement
        The rows of a recipe.

    Returns
    -------
    tuple of Requirement
        The rows.

    Examples
    --------
    >>> from formulate.recipes.requirement import Requirement
    >>> bound_rows([Requirement("K", (1.0,), 2.0, 2.0, weight=0.0)])
    ()
    """
    rows = own_rows(requirements)
    return tuple(row for row in rows if row.kind == WANTED and row.weight > 0)


def banded(row, share, amounts, *, room=ROOM):
    """
    Return a wanted row as a hard one that holds it within its band.

    Parameters
    ----------
    row : Requirement
        The wanted row.
    share : float
        Band either way, of the row's scale: the middle of what is wanted. [-]
    amounts : ndarray, shape (n,)
        Amounts of the recipe at hand; what it misses by more is held to what it reaches.
        [g/L]
    room : float
        By how much more than that, as a share of the scale. [-]

    Returns
    -------
    row : Requirement
        The hard row.
    notice : Notice or None
        What to know if the recipe at hand misses it by more than its band.

    Examples
    --------
    >>> from formulate.recipes.requirement import Requirement
    >>> k = Requirement("K 5 mmol/L", (1.0,), 5.0, 5.0, scale=5.0)
    >>> held, notice = banded(k, 0.1, np.array([5.0]))
    >>> held.name, round(held.low, 6), round(held.high, 6), notice
    ('K 5 mmol/L, within 10 %', 4.5, 5.5, None)
    """
    low, high, words = _band(row, share)
    value = row.constant + float(np.dot(row.coefficients, amounts))
    notice = None
    if not low <= value <= high:
        near, give = ROOM * row.scale, room * row.scale
        if not low - near <= value <= high + near:
            words = ", as near as the exact recipe comes"
            notice = _widened(row, share, amounts)
        low, high = min(low, value - give), max(high, value + give)
    facts = {"kind": HARD, "origin": WITHIN, "weight": 1.0}
    return replace(row, name=f"{row.name}{words}", low=low, high=high, **facts), notice


def _band(row, share):
    """Return both ends of a band and what to call it."""
    if is_ceiling(row):
        beyond = 0.0 if row.high > 0 else row.scale  # above 0 it is where plants suffer
        return -math.inf, row.high + beyond, ", at most its scale" * bool(beyond)
    give = share * row.scale * (1 - INSIDE)
    return row.low - give, row.high + give, f", within {100 * share:g} %"


def _widened(row, share, amounts):
    """Return the notice that a band had to be widened."""
    miss = distance(row, amounts)
    if is_ceiling(row):
        what = f"{row.name}: the exact recipe brings more; no more than that is let in"
        return Notice(what, "note", miss)
    what = (
        f"{row.name}: the exact recipe misses it by {printed_percent(100 * miss)}, so "
        f"{100 * share:g} % cannot be asked for; held as near as that"
    )
    return Notice(what, "caution", miss, share)
