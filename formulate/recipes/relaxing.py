"""What would have to give where hard rows conflict: each row let go as little as can be."""

import math
from dataclasses import dataclass, replace

import numpy as np

from formulate.errors import Infeasible, NoConvergence
from formulate.recipes.conflicting import can_hold, conflicts_apart
from formulate.recipes.least_squares import Optimum, nearest_amounts
from formulate.recipes.requirements import Requirement

__all__ = ["Relaxation", "relaxations"]

GIVE = 1e-8  # share of its size by which a relaxed row is let go further, for rounding
MOST_RATIO = 1e6  # a ratio that would have to be greater is not worth naming
REDRAWN = 12  # times that lines of pH and EC are drawn anew
LINES_OFF = 3e-3  # share of a bound by which such lines may be off
NEAR = 1e-7  # share of a bound: closer than this it is the same
SETTLED = 1e-6  # share of a ratio: where halving ends


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


def relaxations(requirements, count, redraw=None):
    """
    Return the conflicts among hard rows, each with what would end it.

    Parameters
    ----------
    requirements : sequence of Requirement
        Rows over the same ingredients.
    count : int
        Number of ingredients. [-]
    redraw : callable or None
        Takes rows and amounts per litre, returns the rows with those of pH and EC drawn
        at these amounts; None if there are none.

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
        ways = (_drawn_and_relaxed(row, rest, count, redraw) for row in conflict)
        found.append((conflict, tuple(way for way in ways if way)))
    return tuple(found)


def _drawn_and_relaxed(row, requirements, count, redraw):
    """Return a row let go by the least, lines of pH and EC drawn where that ends."""
    found = _relaxed(row, requirements, count)
    if redraw is None:
        return found
    place = next(i for i, other in enumerate(requirements) if other is row)
    for _ in range(REDRAWN):
        if found is None:
            break
        before, requirements = found, redraw(requirements, found.optimum.amounts)
        found = _relaxed(requirements[place], requirements, count)
        if found and abs(found.bound - before.bound) <= NEAR * abs(before.bound):
            break
    return found and _let_go_further(found)


def _let_go_further(found):
    """Return a relaxation with room for how far lines of pH and EC may be off."""
    held = found.requirement.limit if found.requirement.below else found.requirement
    asked = min(max(found.bound, held.low), held.high)
    more = math.copysign(LINES_OFF * abs(found.bound), found.bound - asked)
    return replace(found, bound=found.bound + more)


def _relaxed(row, requirements, count):
    """Return a row let go by the least that lets the others hold; None if none is proven."""
    rest = [other for other in requirements if other is not row]
    hard = [other for other in rest if other.kind == "hard"]
    find = _ratio_that_holds if row.below else _value_that_holds
    try:
        relaxed, bound = find(row, hard, count)
        optimum = nearest_amounts([*rest, relaxed], count)
    except (Infeasible, NoConvergence):
        return None
    held = row.limit if row.below else row
    asked = min(max(bound, held.low), held.high)
    return Relaxation(row, relaxed, bound, abs(bound - asked), optimum)


def _value_that_holds(row, hard, count):
    """Return a row with the bound nearest to its own that can hold, and that bound."""
    amounts = _least_missed(row, hard, count)
    value = row.constant + float(np.dot(row.coefficients, amounts))
    return _let_go(row, value), value


def _least_missed(row, hard, count):
    """Return the amounts that keep other rows and miss this one by the least."""
    size = max(map(abs, row.coefficients), default=0.0) or 1.0
    soft = replace(row, kind="wanted", scale=size, weight=1.0)
    return nearest_amounts([*hard, soft], count, rank=False).amounts


def _let_go(row, value):
    """Return a row that a value keeps, with a little room for rounding."""
    size = max(map(abs, row.coefficients), default=0.0) or 1.0
    give = GIVE * max(size, abs(value))
    low, high = min(row.low, value - give), max(row.high, value + give)
    return replace(row, low=low, high=high)


def _ratio_that_holds(row, hard, count):
    """Return a ratio's row with the bound nearest to its own that can hold, and that.

    Halving ends just outside; the amounts that miss that ratio by the least have the one
    that can hold.
    """
    asked = row.limit.low if row.low > -math.inf else row.limit.high
    side = _side_in_the_way(row, hard, count)
    near = _ratio_next_to(side, asked, hard, count)
    amounts = _least_missed(_with_ratio(side, near, asked), hard, count)
    *below, water = row.below
    part, whole = (
        constant + float(np.dot(line, amounts))
        for line, constant in ((row.coefficients, row.constant), (below, water))
    )
    ratio = asked + part / whole
    relaxed = _with_ratio(row if row.low == row.high else side, ratio, asked)
    return _let_go(relaxed, 0.0), ratio


def _side_in_the_way(row, hard, count):
    """Return the side of a ratio's row that cannot hold; of an exact one, alone.

    The ratios that can be reached have no gaps, so one side of an exact ratio can hold.
    """
    if row.low < row.high:
        return row
    least, most = replace(row, high=math.inf), replace(row, low=-math.inf)
    return most if can_hold([*hard, least], count) else least


def _ratio_next_to(side, asked, hard, count):
    """Return a ratio that fails, as near as can be to one that holds, by halving."""
    is_least = side.low > -math.inf
    holds, fails = 0.0 if is_least else MOST_RATIO * max(asked, 1.0), asked
    if not can_hold([*hard, _with_ratio(side, holds, asked)], count):
        raise Infeasible(side.name)
    while abs(holds - fails) > SETTLED * max(min(holds, fails), SETTLED * asked):
        half = (holds + fails) / 2
        if can_hold([*hard, _with_ratio(side, half, asked)], count):
            holds = half
        else:
            fails = half
    return fails


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
