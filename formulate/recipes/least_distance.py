"""Least squares with rows that must hold, by way of a least distance.

Lawson and Hanson's chain: the objective becomes the length of z, and the nearest such z to
the origin comes out of one non-negative least squares. Ingredients that can
stand in for one another leave R singular, so a small length of x is added to the
objective. What then is in use, and which rows bind, is solved again as equations without
that addition, and its optimality (Karush, Kuhn, Tucker) is checked.

Equation of the least distance [lawson-hanson-1974]::

    minimise |W x − a|² subject to H x (=, ≥, ≤) l and x ≥ 0
    W = Q R, z = R x − Q'a:        minimise |z|² subject to G z ≥ g
"""

import numpy as np

from formulate.recipes.nonnegative import nonnegative

__all__ = ["OPTIMALITY", "held", "pull_of", "violation_of"]

OPTIMALITY = 1e-9  # largest violation of the optimality conditions, rows scaled to 1
RANK_TOLERANCE = 1e-10
LENGTHS = (1e-4, 1e-3, 1e-2, 0.0)  # weight of the length of x, the next if one fails
NO_DISTANCE = 1e-10  # a least distance with no way to its rows: they may conflict


def held(system):
    """
    Return the best amounts that keep the hard rows, and the multipliers of those rows.

    Parameters
    ----------
    system : System
        The rows.

    Returns
    -------
    amounts : ndarray, shape (n,)
        Scaled amounts, slacks behind the ingredients; the best there are only if
        `violation_of` says so. [-]
    multipliers : ndarray, shape (h,)
        What a unit of each hard row costs. [-]

    Examples
    --------
    >>> from formulate.recipes.requirements import Requirement
    >>> from formulate.recipes.system import system_of
    >>> rows = [Requirement("K", (1.0,), 5.0, 5.0)]
    >>> rows.append(Requirement("cap", (1.0,), high=3.0, kind="hard"))
    >>> system = system_of(rows, 1)
    >>> amounts, _ = held(system)
    >>> (amounts / system.columns).round(6).tolist()
    [3.0, 0.0]
    """
    if not len(system.level):
        return nonnegative(system.wanted, system.aim), np.zeros(0)
    for length in LENGTHS:
        start = _nearest(system, length) if length else _any_that_holds(system)
        amounts, multipliers = _refined(system, start)
        if violation_of(system, amounts, multipliers) <= OPTIMALITY:
            break
    return amounts, multipliers


def _any_that_holds(system):
    """Return amounts that keep the hard rows, whatever is wanted."""
    return nonnegative(system.hard, system.level)


def _nearest(system, length):
    """Return amounts from the chain; wherever it ends nowhere, any that hold."""
    kept = np.ones(len(system.columns), dtype=bool)
    kept[system.slack[system.slack >= 0]] = False
    amounts, is_held = _least_distance(system, kept, length)
    if amounts is None:
        return _any_that_holds(system)
    full = np.zeros(len(kept))
    full[kept] = amounts
    has_slack = np.flatnonzero((system.slack >= 0) & ~is_held)
    room = system.level[has_slack] - system.hard[has_slack][:, kept] @ amounts
    places = system.slack[has_slack]
    full[places] = np.maximum(room / system.hard[has_slack, places], 0.0)
    return full


def _least_distance(system, kept, length):
    """Return the amounts nearest to what is wanted, and which hard lines bind."""
    count = int(kept.sum())
    stacked = np.vstack([system.wanted[:, kept], length * np.eye(count)])
    basis, triangle = np.linalg.qr(stacked)
    origin = basis[: len(system.aim)].T @ system.aim
    inverse = np.linalg.inv(triangle)
    low, high = system.sides <= 0, system.sides >= 0
    lines = np.vstack([system.hard[low], -system.hard[high]])[:, kept]
    rows = np.vstack([lines, np.eye(count)]) @ inverse
    bounds = np.concatenate([system.level[low], -system.level[high], np.zeros(count)])
    bounds -= rows @ origin
    aim = np.zeros(count + 1)
    aim[-1] = 1.0
    forces = nonnegative(np.vstack([rows.T, bounds]), aim)
    left = 1.0 - bounds @ forces
    if left < NO_DISTANCE:
        return None, None
    amounts = inverse @ (rows.T @ forces / left + origin)
    amounts[forces[-count:] > 0] = 0.0
    is_held = np.zeros(len(system.level), dtype=bool)
    is_held[low] |= forces[: low.sum()] > 0
    is_held[high] |= forces[low.sum() : -count] > 0
    return np.maximum(amounts, 0.0), is_held


def _refined(system, amounts):
    """Return amounts and multipliers from those in use, better with every round.

    The rows of the amounts in use are solved as equations; while their multipliers leave
    a way down, it is taken and what is in use then is solved again.
    """
    for _ in range(2 * len(amounts)):
        amounts = _solved_in_use(system, amounts, amounts > 0)
        multipliers = _multipliers(system, amounts)
        pull = pull_of(system, amounts, multipliers)
        way = -np.where(amounts > 0, pull, np.minimum(pull, 0.0))
        if np.abs(way).max(initial=0.0) <= OPTIMALITY * (
            1 + _furthest(system, amounts)
        ):
            break
        before, amounts = amounts, _lower(system, amounts, way)
        if (amounts == before).all():
            break
    return amounts, multipliers


def _furthest(system, amounts):
    """Return the largest distance from what is wanted."""
    return np.abs(system.wanted @ amounts - system.aim).max(initial=0.0)


def _lower(system, amounts, way):
    """Return the lowest point of a way down, before an amount would fall below zero.

    What is left of the pull where the multipliers take off all they can is such a way:
    it keeps the hard rows, no idle amount falls on it, and its slope is its own square.
    """
    wanted = system.wanted @ way
    curve = wanted @ wanted
    falling = way < 0
    reach = amounts[falling] / -way[falling]
    lowest = (way @ way) / curve if curve > 0 else np.inf
    step = min(reach.min(initial=np.inf), lowest)
    if step == np.inf:
        return amounts
    there = np.maximum(amounts + step * way, 0.0)
    there[np.flatnonzero(falling)[reach <= step]] = 0.0
    return there


def _solved_in_use(system, amounts, used):
    """Return the best amounts among those in use.

    Where the equations ask for less than nothing of one, the way there ends as soon as
    the first is used up, and the rest is solved again.
    """
    for _ in range(len(amounts)):
        places = np.flatnonzero(used)
        start = amounts[places]
        solved = _equations_solved(system, places, start)
        if solved.min(initial=0.0) >= 0:
            amounts = np.zeros(len(amounts))
            amounts[places] = solved
            return amounts
        falling = solved < 0
        reach = start[falling] / (start[falling] - solved[falling])
        moved = np.maximum(start + reach.min() * (solved - start), 0.0)
        moved[np.flatnonzero(falling)[reach <= reach.min()]] = 0.0
        amounts = np.zeros(len(amounts))
        amounts[places] = moved
        used = amounts > 0
    return amounts


def _equations_solved(system, places, start):
    """Return the least squares of some columns with the hard rows held, near a start."""
    if not len(places):
        return start
    hard, wanted = system.hard[:, places], system.wanted[:, places]
    left, sizes, right = np.linalg.svd(hard)
    rank = int((sizes > RANK_TOLERANCE * sizes.max(initial=0.0)).sum())
    missing = left[:, :rank].T @ (system.level - hard @ start)
    there = start + right[:rank].T @ (missing / sizes[:rank])
    along = right[rank:].T  # moves that leave hard rows alone
    residual = system.aim - wanted @ there
    rest = np.linalg.lstsq(wanted @ along, residual, rcond=RANK_TOLERANCE)[0]
    return there + along @ rest


def _multipliers(system, amounts):
    """Return multipliers of the hard rows that leave no amount a wish to change.

    They solve one equation for each amount in use. Where these leave a choice, the choice
    that pushes no idle amount is itself a non-negative least squares, every multiplier
    being a difference of two amounts and every idle column having a slack.
    """
    pull = system.wanted.T @ (system.wanted @ amounts - system.aim)
    in_use = amounts > 0
    columns = system.hard.T
    found = np.linalg.lstsq(columns[in_use], -pull[in_use], rcond=RANK_TOLERANCE)[0]
    if (pull + columns @ found).min(initial=0.0) >= -OPTIMALITY:
        return found
    slacks = -np.eye(len(amounts))[:, ~in_use]
    both = nonnegative(np.hstack([columns, -columns, slacks]), -pull)
    count = len(system.level)
    return both[:count] - both[count : 2 * count]


def pull_of(system, amounts, multipliers):
    """
    Return the gradient of the Lagrangian at each scaled amount.

    Parameters
    ----------
    system : System
        The rows.
    amounts : ndarray, shape (n,)
        Scaled amounts. [-]
    multipliers : ndarray, shape (h,)
        Multipliers of the hard rows. [-]

    Returns
    -------
    ndarray, shape (n,)
        0 where an amount is free, positive where more of it would do harm. [-]

    Examples
    --------
    >>> from formulate.recipes.requirements import Requirement
    >>> from formulate.recipes.system import system_of
    >>> system = system_of([Requirement("K", (1.0,), 5.0, 5.0)], 1)
    >>> pull_of(system, np.zeros(1), np.zeros(0)).tolist()
    [-5.0]
    """
    residual = system.wanted @ amounts - system.aim
    return system.wanted.T @ residual + system.hard.T @ multipliers


def violation_of(system, amounts, multipliers):
    """
    Return the largest violation of the optimality conditions.

    Parameters
    ----------
    system : System
        The rows.
    amounts : ndarray, shape (n,)
        Scaled amounts. [-]
    multipliers : ndarray, shape (h,)
        Multipliers of the hard rows. [-]

    Returns
    -------
    float
        The violation, rows scaled to 1. [-]

    Examples
    --------
    >>> from formulate.recipes.requirements import Requirement
    >>> from formulate.recipes.system import system_of
    >>> system = system_of([Requirement("K", (1.0,), 5.0, 5.0)], 1)
    >>> violation_of(system, np.array([4.0]), np.zeros(0))
    0.5
    """
    pull = pull_of(system, amounts, multipliers)
    gap = np.abs(system.hard @ amounts - system.level) / (1 + np.abs(system.level))
    scale = 1 + np.abs(multipliers).max(initial=0.0) + _furthest(system, amounts)
    parts = (
        -amounts.min(initial=0.0),
        -pull.min(initial=0.0) / scale,
        np.abs(pull * (amounts > 0)).max(initial=0.0) / scale,
        gap.max(initial=0.0),
    )
    return float(max(parts))
