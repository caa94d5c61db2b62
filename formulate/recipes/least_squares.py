"""The numerical core: non-negative amounts that come nearest to rows, checked each time.

minimise   sum over wanted rows of weight * (distance of the row from [low, high] / scale)^2
subject to hard rows within [low, high] and every amount at least 0

One-sided rows become equations with a slack amount of their own, so that everything rests
on non-negative least squares. Hard rows that the first solve breaks are then held by the
method of multipliers: each round shifts their wanted value by what is still missing.
The optimality conditions (Karush, Kuhn, Tucker) of every result are checked to 1e-9.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog, nnls

from formulate.errors import Infeasible, NoConvergence

__all__ = ["OPTIMALITY", "Optimum", "nearest_amounts"]

OPTIMALITY = 1e-9  # largest violation of the optimality conditions, rows scaled to 1
HARDNESS = 1e2  # weight of a hard row in each round, rows scaled to 1
ROUNDS = 60
RANK_TOLERANCE = 1e-10


@dataclass(frozen=True, eq=False)
class Optimum:
    """
    The result of one solve.

    Attributes
    ----------
    amounts : ndarray, shape (n,)
        Amount of each ingredient. [g/L]
    pull : ndarray, shape (n,)
        Gradient of the squared deviations at each amount, columns scaled to 1: 0 where an
        amount is free, positive where more of it would do harm. [-]
    multipliers : ndarray, shape (h,)
        What each hard row costs; 0 where it does not bind. [-]
    free : ndarray, shape (k,)
        Columns that may be used by some recipe as good as this one. [-]
    violation : float
        Largest violation of the optimality conditions. [-]
    is_unique : bool
        Whether no other recipe is as good.
    ranked_by : tuple of str
        What chose among equal recipes.
    """

    amounts: np.ndarray
    pull: np.ndarray
    multipliers: np.ndarray
    free: np.ndarray
    violation: float
    is_unique: bool
    ranked_by: tuple = ()


@dataclass(frozen=True, eq=False)
class _System:
    """Rows as matrices: wanted rows scaled by scale and weight, slacks in extra columns."""

    wanted: np.ndarray
    aim: np.ndarray
    hard: np.ndarray
    level: np.ndarray
    columns: np.ndarray
    count: int
    owners: tuple


def _equations(rows):
    """Yield (row, coefficients, level, slack sign) with one line for each finite side."""
    for row in rows:
        sides = [(row.low, -1.0), (row.high, 1.0)]
        if row.low == row.high:
            sides = [(row.low, 0.0)]
        for level, sign in sides:
            if math.isfinite(level):
                yield row, row.coefficients, level - row.constant, sign


def _system(requirements, count):
    """Return the matrices of a set of requirements."""
    lines = list(_equations(requirements))
    slacks = [i for i, (_, _, _, sign) in enumerate(lines) if sign]
    matrix = np.zeros((len(lines), count + len(slacks)))
    level = np.zeros(len(lines))
    for i, (row, coefficients, value, sign) in enumerate(lines):
        size = max(map(abs, coefficients), default=0.0) or 1.0
        factor = (
            math.sqrt(row.weight) / row.scale if row.kind == "wanted" else 1.0 / size
        )
        matrix[i, :count] = coefficients
        matrix[i, :count] *= factor
        level[i] = value * factor
        if sign:
            matrix[i, count + slacks.index(i)] = sign
    is_hard = np.array([row.kind == "hard" for row, *_ in lines], dtype=bool)
    norms = np.sqrt((matrix**2).sum(axis=0))
    columns = np.where(norms > 0, norms, 1.0)
    matrix /= columns
    owners = tuple(row.name for row, *_ in lines if row.kind == "hard")
    return _System(
        matrix[~is_hard],
        level[~is_hard],
        matrix[is_hard],
        level[is_hard],
        columns,
        count,
        owners,
    )


def nearest_amounts(requirements, count, *, prices=None):
    """
    Return the amounts that come nearest to a set of requirements.

    Parameters
    ----------
    requirements : sequence of Requirement
        Rows over the same ingredients.
    count : int
        Number of ingredients. [-]
    prices : sequence of float or None
        Price of each ingredient, to choose among equal recipes; None if not all are known.
        [currency/kg]

    Returns
    -------
    Optimum
        The amounts per litre, with the proof that none are better.

    Raises
    ------
    Infeasible
        If the hard rows cannot all hold.
    NoConvergence
        If the result fails its own check.

    Examples
    --------
    >>> from formulate.recipes.requirements import Requirement
    >>> row = Requirement("K", (10.0, 5.0), 5.0, 5.0, scale=5.0)
    >>> best = nearest_amounts([row], 2, prices=(1.0, 1.0))
    >>> best.amounts.round(6).tolist(), best.is_unique
    ([0.5, 0.0], False)
    """
    system = _system(requirements, count)
    amounts, multipliers = _held(system)
    pull = _pull(system, amounts, multipliers)
    free = np.flatnonzero(pull <= OPTIMALITY)
    is_unique = _rank(system, free) == len(free)
    ranked_by = ()
    if not is_unique:
        chosen, words = _ranked(system, amounts, free, prices)
        if _violation(system, chosen, multipliers) <= OPTIMALITY:
            amounts, ranked_by = chosen, words
            pull = _pull(system, amounts, multipliers)
    violation = _violation(system, amounts, multipliers)
    if violation > OPTIMALITY:
        what = f"the solve misses its optimality conditions by {violation:.1e}"
        raise NoConvergence(what, state=(requirements, amounts))
    return Optimum(
        amounts[:count] / system.columns[:count],
        pull[:count],
        np.abs(multipliers),
        free[free < count],
        violation,
        is_unique,
        ranked_by,
    )


def _nnls(matrix, aim):
    """Return non-negative least squares, a few more rounds allowed than scipy's default."""
    if not matrix.shape[0]:
        return np.zeros(matrix.shape[1])
    try:
        return nnls(matrix, aim, maxiter=30 * matrix.shape[1])[0]
    except RuntimeError as error:
        raise NoConvergence(
            f"non-negative least squares: {error}", state=matrix
        ) from None


def _held(system):
    """Return scaled amounts that keep the hard rows, and the multipliers of those rows."""
    none = np.zeros(len(system.level))
    if not len(system.level):
        return _nnls(system.wanted, system.aim), none
    stacked = np.vstack([system.wanted, HARDNESS * system.hard])
    shift, missing = none.copy(), np.inf
    for _ in range(ROUNDS):
        aim = np.concatenate([system.aim, HARDNESS * (system.level - shift)])
        amounts = _nnls(stacked, aim)
        gap = system.hard @ amounts - system.level
        shift = shift + gap
        missing = np.abs(gap).max()
        if missing <= 1e-3 * OPTIMALITY * (1 + np.abs(system.level).max()):
            return amounts, HARDNESS**2 * shift
    worst = [system.owners[i] for i in np.flatnonzero(np.abs(gap) > OPTIMALITY)]
    raise Infeasible(f"these cannot all hold: {', '.join(worst)}", requirements=worst)


def _pull(system, amounts, multipliers):
    """Return the gradient of the Lagrangian at each scaled amount."""
    residual = system.wanted @ amounts - system.aim
    return system.wanted.T @ residual + system.hard.T @ multipliers


def _violation(system, amounts, multipliers):
    """Return the largest violation of the optimality conditions."""
    pull = _pull(system, amounts, multipliers)
    gap = np.abs(system.hard @ amounts - system.level)
    scale = 1 + np.abs(multipliers).max(initial=0.0)
    parts = (
        -amounts.min(initial=0.0),
        -pull.min(initial=0.0) / scale,
        np.abs(pull * (amounts > 0)).max(initial=0.0) / scale,
        gap.max(initial=0.0) / (1 + np.abs(system.level).max(initial=0.0)),
    )
    return float(max(parts))


def _rank(system, free):
    """Return the rank of the columns that an equal recipe may use."""
    columns = np.vstack([system.wanted, system.hard])[:, free]
    if not columns.size:
        return 0
    values = np.linalg.svd(columns, compute_uv=False)
    return int((values > RANK_TOLERANCE * max(values[0], 1.0)).sum())


def _ranked(system, amounts, free, prices):
    """Return the equal recipe of least cost, then fewest grams, then first on the shelf.

    All equal recipes reach the same values, so they are the non-negative solutions of one
    set of equations, and each choice is a linear programme over them.
    """
    matrix = np.vstack([system.wanted, system.hard])[:, free]
    reached = np.vstack([system.wanted, system.hard]) @ amounts
    in_grams = np.where(free < system.count, 1 / system.columns[free], 0.0)
    place = np.where(free < system.count, free + 1.0, 0.0)
    orders = [("fewest grams", in_grams), ("order of the shelf", in_grams * place)]
    if prices is not None and any(prices):
        price = np.array([*prices, *([0.0] * (len(system.columns) - system.count))])
        orders.insert(0, ("least cost", in_grams * price[free]))
    used, extra, extra_level = [], [], []
    best = amounts[free]
    for words, order in orders:
        size = np.abs(order).max() or 1.0
        equations = np.vstack([matrix, *extra])
        levels = np.concatenate([reached, extra_level])
        result = linprog(order / size, A_eq=equations, b_eq=levels, method="highs-ds")
        if result.status != 0:
            break  # rounding left no room: the recipe at hand is as good
        best = result.x
        used.append(words)
        extra.append(order[np.newaxis] / size)
        extra_level.append(float(result.fun))
        if (result.lower.marginals > 1e-9).sum() >= len(free) - _rank_of(equations):
            break
    return _polished(system, matrix, reached, free, best), tuple(used)


def _rank_of(matrix):
    values = np.linalg.svd(matrix, compute_uv=False)
    return int((values > RANK_TOLERANCE * max(values[0], 1.0)).sum())


def _polished(system, matrix, reached, free, best):
    """Return the chosen recipe at full precision, from the columns that it uses."""
    used = np.flatnonzero(best > 1e-9 * max(best.max(initial=0.0), 1.0))
    amounts = np.zeros(len(system.columns))
    amounts[free[used]] = _nnls(matrix[:, used], reached)
    return amounts
