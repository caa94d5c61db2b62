"""What would have to give where hard rows conflict: each row let go as little as can be."""

import math
from dataclasses import dataclass, replace

import numpy as np

from formulate.errors import Infeasible
from formulate.recipes.conflicting import can_hold, conflicts_apart
from formulate.recipes.least_squares import Optimum, nearest_amounts
from formulate.recipes.requirements import Requirement

__all__ = ["Relaxation", "relaxations"]

GIVE = 1e-8  # share of its size by which a relaxed row is let go further, for rounding
MOST_RATIO = 1e6  # a ratio that would have to be greater is not worth naming
SETTLED = 1e-6  # share of a ratio: nearer than this is the same


@dataclass(frozen=True, eq=False)
class Relaxation:
    """
    One row of a conflict, let go as little as the others allow.

    Attributes
    ----------
    requirement : Requirement
        The row as it was asked for.
    relaxed : Requirement
        The same row with the bound that can hold.
    bound : float
        The bound that can hold, in the row's unit; of a ratio the ratio. [-]
    by : float
        How far the bound had to move. [-]
    optimum : Optimum
        The nearest recipe that then is possible.
    """

    requirement: Requirement
    relaxed: Requirement
    bound: float
    by: float
    optimum: Optimum


def relaxations(requirements, count):
    """
    Return the conflicts among hard rows, each with what would end it.

    Parameters
    ----------
    requirements : sequence of Requirement
        Rows over the same ingredients.
    count : int
        Number of ingredients. [-]

    Returns
    -------
    tuple of (tuple of Requirement, tuple of Relaxation)
        Each conflict with one relaxation for every row of it. Where there are several
        conflicts, those of the others are left out while one is mended.

    Examples
    --------
    >>> most = Requirement("Na at most 2", (1.0,), high=2.0, kind="hard")
    >>> least = Requirement("Na at least 3", (1.0,), low=3.0, kind="hard")
    >>> ((conflict, ways),) = relaxations([most, least], 1)
    >>> [round(way.by, 6) for way in ways]
    [1.0, 1.0]
    """
    conflicts = conflicts_apart(requirements, count)
    found = []
    for conflict in conflicts:
        others = [row for rows in conflicts if rows is not conflict for row in rows]
        rest = [row for row in requirements if not any(row is o for o in others)]
        ways = (_relaxed(row, rest, count) for row in conflict)
        found.append((conflict, tuple(way for way in ways if way)))
    return tuple(found)


def _relaxed(row, requirements, count):
    """Return a row let go by the least that lets the others hold; None if none does."""
    rest = [other for other in requirements if other is not row]
    hard = [other for other in rest if other.kind == "hard"]
    find = _ratio_that_holds if row.below else _value_that_holds
    try:
        relaxed, bound = find(row, hard, count)
        optimum = nearest_amounts([*rest, relaxed], count)
    except Infeasible:
        return None
    held = row.limit if row.below else row
    asked = min(max(bound, held.low), held.high)
    return Relaxation(row, relaxed, bound, abs(bound - asked), optimum)


def _value_that_holds(row, hard, count):
    """Return a row with the bound nearest to its own that can hold, and that bound."""
    size = max(map(abs, row.coefficients), default=0.0) or 1.0
    soft = replace(row, kind="wanted", scale=size, weight=1.0)
    amounts = nearest_amounts([*hard, soft], count, rank=False).amounts
    value = row.constant + float(np.dot(row.coefficients, amounts))
    give = GIVE * max(size, abs(value))
    low, high = min(row.low, value - give), max(row.high, value + give)
    return replace(row, low=low, high=high), value


def _ratio_that_holds(row, hard, count):
    """Return a ratio's row with the bound nearest to its own that can hold, by halving.

    Of an exact ratio only the side that cannot hold alone is let go: the ratios that can
    be reached have no gaps.
    """
    is_least = row.low > -math.inf
    if row.low == row.high:
        is_least = not can_hold([*hard, replace(row, high=math.inf)], count)
    asked = row.limit.low if row.low > -math.inf else row.limit.high
    side = replace(row, low=0.0 if is_least else -math.inf)
    side = replace(side, high=math.inf if is_least else 0.0)
    holds, fails = 0.0 if is_least else MOST_RATIO * max(asked, 1.0), asked
    if not can_hold([*hard, _with_ratio(side, holds, asked)], count):
        raise Infeasible(row.name)
    while abs(holds - fails) > SETTLED * max(min(holds, fails), SETTLED * asked):
        half = (holds + fails) / 2
        if can_hold([*hard, _with_ratio(side, half, asked)], count):
            holds = half
        else:
            fails = half
    return _with_ratio(row if row.low == row.high else side, holds, asked), holds


def _with_ratio(row, ratio, asked):
    """Return a - ratio b in place of a - asked b."""
    *below, below_water = row.below
    pairs = zip(row.coefficients, below, strict=True)
    shift = asked - ratio
    return replace(
        row,
        coefficients=tuple(value + shift * part for value, part in pairs),
        constant=row.constant + shift * below_water,
    )
