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
from scipy.optimize import linprog, lsq_linear, nnls

from formulate.checks import checked_number
from formulate.errors import Faults, Infeasible, NoConvergence
from formulate.recipes.requirements import Requirement

__all__ = ["OPTIMALITY", "Optimum", "nearest_amounts"]

OPTIMALITY = 1e-9  # largest violation of the optimality conditions, rows scaled to 1
HARDNESS = 1e2  # weight of a hard row in each round, rows scaled to 1
ROUNDS = 60
PATIENCE = 12  # rounds before hard rows are made to weigh more
RANK_TOLERANCE = 1e-10
TRUSTED = 1e-10  # violation, relative to the aim, up to which a first answer stands
SAME_POINT = 1e-8  # two columns closer than this, of length 1, are the same


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
    binding : tuple of str
        Names of the hard rows that hold the amounts back.
    violation : float
        Largest violation of the optimality conditions. [-]
    is_unique : bool
        Whether no other recipe is as good.
    ranked_by : tuple of str
        What chose among equal recipes.
    idle : ndarray, shape (k, r)
        For each column that equal recipes might use and this one does not, what the
        columns in use cannot make up for; slacks come last. [-]
    idle_columns : ndarray, shape (k,)
        Which columns these are. [-]
    """

    amounts: np.ndarray
    pull: np.ndarray
    binding: tuple
    violation: float
    is_unique: bool
    ranked_by: tuple
    idle: np.ndarray
    idle_columns: np.ndarray

    def can_enter(self, column):
        """
        Return whether an ingredient not in use could be, without changing what is reached.

        Parameters
        ----------
        column : int
            Place of the ingredient on the shelf, counted from 0. [-]

        Returns
        -------
        bool
            Whether some equal recipe uses it.

        Examples
        --------
        >>> from formulate.recipes.requirements import Requirement
        >>> row = Requirement("K", (10.0, 5.0), 5.0, 5.0, scale=5.0)
        >>> nearest_amounts([row], 2).can_enter(1)
        True
        """
        place = np.flatnonzero(self.idle_columns == column)
        if not len(place):
            return False
        others = np.delete(self.idle, place[0], axis=0)
        if not others.size:
            return bool(np.abs(self.idle[place[0]]).max(initial=0.0) <= SAME_POINT)
        return _misfit(others.T, -self.idle[place[0]]) <= SAME_POINT


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
        size = max(*map(abs, coefficients), abs(value)) or 1.0
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


def _check(requirements, count, prices):
    """Raise if rows, ingredients and prices do not fit together."""
    faults = Faults("solve")
    rows = [row for row in requirements if isinstance(row, Requirement)]
    if len(rows) < len(requirements) or not rows or count < 1:
        faults.add("give rows (Requirement) and at least one ingredient")
    for row in rows:
        if len(row.coefficients) != count:
            given = len(row.coefficients)
            faults.add(f"{row.name}: {given} coefficients for {count} ingredients")
    if prices is not None and len(prices) != count:
        faults.add(f"{len(prices)} prices for {count} ingredients")
    for price in prices or ():
        with faults.collecting():
            checked_number(price, "price", least=0)
    faults.raise_if_any()


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
    InputError
        If rows, ingredients and prices do not fit together.
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
    requirements = tuple(requirements)
    _check(requirements, count, prices)
    system = _system(requirements, count)
    amounts, multipliers = _held(system)
    pull = _pull(system, amounts, multipliers)
    is_filled = np.abs(_rows(system)).max(axis=0, initial=0.0) > 0
    free = np.flatnonzero((pull <= OPTIMALITY) & is_filled)
    idle_columns, idle, independent = _idle(system, amounts, free)
    is_unique = independent and not _can_move(idle)
    ranked_by = ()
    if not is_unique:
        chosen, words = _ranked(system, amounts, free, prices)
        if _violation(system, chosen, multipliers) <= OPTIMALITY:
            amounts, ranked_by = chosen, words
            idle_columns, idle, _ = _idle(system, amounts, free)
    violation = _violation(system, amounts, multipliers)
    if violation > OPTIMALITY:
        what = f"the solve misses its optimality conditions by {violation:.1e}"
        raise NoConvergence(what, state=(requirements, amounts))
    held = np.abs(multipliers) > OPTIMALITY * (1 + np.abs(multipliers).max(initial=0.0))
    return Optimum(
        amounts[:count] / system.columns[:count],
        _pull(system, amounts, multipliers)[:count],
        tuple(dict.fromkeys(system.owners[i] for i in np.flatnonzero(held))),
        violation,
        is_unique,
        ranked_by,
        idle,
        idle_columns,
    )


def _rows(system):
    return np.vstack([system.wanted, system.hard])


def _idle(system, amounts, free):
    """Return the free columns not in use, their part outside those in use, and whether
    the columns in use are independent."""
    in_use = free[amounts[free] > 0]
    idle = free[amounts[free] <= 0]
    rows = _rows(system)
    if not len(in_use):
        return idle, rows[:, idle].T, True
    basis, sizes, _ = np.linalg.svd(rows[:, in_use], full_matrices=False)
    basis = basis[:, sizes > RANK_TOLERANCE * sizes[0]]
    outside = rows[:, idle] - basis @ (basis.T @ rows[:, idle])
    return idle, outside.T, basis.shape[1] == len(in_use)


def _can_move(idle):
    """Return whether some idle columns together leave everything reached as it is."""
    if not len(idle):
        return False
    stacked = np.vstack([idle.T, np.ones(len(idle))])
    aim = np.zeros(len(stacked))
    aim[-1] = 1.0
    return _misfit(stacked, aim) <= SAME_POINT


def _nnls(matrix, aim):
    """Return non-negative least squares, checked.

    Empty columns, which crash scipy's routine, get nothing. Since scipy 1.15 the routine
    now and then returns a point that is not the best (scipy issue 25389); bounded least
    squares, slower, then takes its place.
    """
    amounts = np.zeros(matrix.shape[1])
    sizes = np.sqrt((matrix**2).sum(axis=0))
    filled = np.flatnonzero(sizes > 0)
    if not len(filled):
        return amounts
    columns = matrix[:, filled] / sizes[filled]
    try:
        found, _ = nnls(columns, aim, maxiter=30 * len(filled))
    except RuntimeError:
        found = np.zeros(len(filled))
    pull = columns.T @ (columns @ found - aim)
    worst = max(-pull.min(), np.abs(pull * (found > 0)).max())
    if worst > TRUSTED * np.linalg.norm(aim):
        settings = {"method": "bvls", "tol": 1e-15, "max_iter": 1000}
        found = lsq_linear(columns, aim, (0, np.inf), **settings).x
    amounts[filled] = np.maximum(found, 0.0) / sizes[filled]
    return amounts


def _misfit(matrix, aim):
    """Return how far the nearest non-negative mixture of columns stays from an aim."""
    return float(np.linalg.norm(matrix @ _nnls(matrix, aim) - aim))


def _held(system):
    """Return scaled amounts that keep the hard rows, and the multipliers of those rows.

    Each round is one non-negative least squares in which hard rows weigh much, with what
    was missing so far added to what is asked. It tells which amounts are in use; with
    these the rows are then solved as equations, and the result is taken if it is optimal.
    """
    none = np.zeros(len(system.level))
    if not len(system.level):
        return _nnls(system.wanted, system.aim), none
    shift, hardness = none, HARDNESS
    for number in range(ROUNDS):
        stacked = np.vstack([system.wanted, hardness * system.hard])
        aim = np.concatenate([system.aim, hardness * (system.level - shift)])
        amounts = _nnls(stacked, aim)
        if not number and _violation(system, amounts, none) <= OPTIMALITY:
            return amounts, none  # no hard row binds
        gap = system.hard @ amounts - system.level
        exact, multipliers = _refined(system, amounts)
        if _violation(system, exact, multipliers) <= OPTIMALITY:
            return exact, multipliers
        shift = shift + gap
        if number % PATIENCE == PATIENCE - 1:
            shift, hardness = shift / 100, hardness * 10
    raise _not_held(system, np.abs(gap).max())


def _refined(system, amounts):
    """Return amounts and multipliers from those in use, one idle amount more at a time.

    The rows of the amounts in use are solved as equations; then the idle amount that
    would do most good comes into use, until none would.
    """
    amounts = amounts.copy()
    used = amounts > 0
    for _ in range(len(amounts)):
        amounts, used = _solved_in_use(system, amounts, used)
        multipliers = _multipliers(system, amounts)
        pull = _pull(system, amounts, multipliers)
        pull[used] = 0.0
        if pull.min(initial=0.0) >= -OPTIMALITY:
            break
        used = used.copy()
        used[np.argmin(pull)] = True
    return amounts, multipliers


def _solved_in_use(system, amounts, used):
    """Return the best amounts among those in use, and which stay in use.

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
            return amounts, used
        falling = solved < 0
        reach = start[falling] / (start[falling] - solved[falling])
        moved = np.maximum(start + reach.min() * (solved - start), 0.0)
        moved[np.flatnonzero(falling)[reach <= reach.min()]] = 0.0
        amounts = np.zeros(len(amounts))
        amounts[places] = moved
        used = amounts > 0
    return amounts, used


def _equations_solved(system, places, start):
    """Return the least squares of some columns with the hard rows held, near a start."""
    if not len(places):
        return start
    hard, wanted = system.hard[:, places], system.wanted[:, places]
    inverse = np.linalg.pinv(hard, rcond=RANK_TOLERANCE)
    step = inverse @ (system.level - hard @ start)
    along = np.eye(len(places)) - inverse @ hard  # moves that leave hard rows alone
    residual = system.aim - wanted @ (start + step)
    rest = np.linalg.lstsq(wanted @ along, residual, rcond=RANK_TOLERANCE)[0]
    return start + step + along @ rest


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
    both = _nnls(np.hstack([columns, -columns, slacks]), -pull)
    count = len(system.level)
    return both[:count] - both[count : 2 * count]


def _not_held(system, missing):
    """Return the error for hard rows that do not hold: a conflict, or lost digits."""
    best = _nnls(system.hard, system.level)
    scale = 1 + np.abs(system.level).max()
    if np.abs(system.hard @ best - system.level).max() <= OPTIMALITY * scale:
        return NoConvergence(f"hard rows are missed by {missing:.1e}", state=system)
    gap = np.abs(system.hard @ best - system.level)
    worst = [system.owners[i] for i in np.flatnonzero(gap > OPTIMALITY * scale)]
    worst = list(dict.fromkeys(worst))
    return Infeasible(f"these cannot all hold: {', '.join(worst)}", requirements=worst)


def _pull(system, amounts, multipliers):
    """Return the gradient of the Lagrangian at each scaled amount."""
    residual = system.wanted @ amounts - system.aim
    return system.wanted.T @ residual + system.hard.T @ multipliers


def _violation(system, amounts, multipliers):
    """Return the largest violation of the optimality conditions."""
    pull = _pull(system, amounts, multipliers)
    gap = np.abs(system.hard @ amounts - system.level)
    residual = np.abs(system.wanted @ amounts - system.aim).max(initial=0.0)
    scale = 1 + np.abs(multipliers).max(initial=0.0) + residual
    parts = (
        -amounts.min(initial=0.0),
        -pull.min(initial=0.0) / scale,
        np.abs(pull * (amounts > 0)).max(initial=0.0) / scale,
        gap.max(initial=0.0) / (1 + np.abs(system.level).max(initial=0.0)),
    )
    return float(max(parts))


def _ranked(system, amounts, free, prices):
    """Return the equal recipe of least cost, then fewest grams, then first on the shelf.

    All equal recipes reach the same values, so they are the non-negative solutions of one
    set of equations, and each choice is a linear programme over them.
    """
    matrix = _rows(system)[:, free]
    reached = _rows(system) @ amounts
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
