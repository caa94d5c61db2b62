"""Recipes that reach the same: whether there are several, and which of them to take."""

import numpy as np
from scipy.optimize import linprog

from formulate.recipes.nonnegative import misfit, nonnegative

__all__ = ["SAME_POINT", "can_move", "idle_columns", "ranked"]

RANK_TOLERANCE = 1e-10
SAME_POINT = 1e-8  # two columns closer than this, of length 1, are the same


def idle_columns(system, amounts, free):
    """
    Return which free columns are not in use, and what of them those in use cannot make.

    Parameters
    ----------
    system : System
        The rows.
    amounts : ndarray, shape (n,)
        Scaled amounts. [-]
    free : ndarray, shape (k,)
        Columns that equal recipes may use. [-]

    Returns
    -------
    idle : ndarray, shape (i,)
        Free columns not in use. [-]
    outside : ndarray, shape (i, r)
        Their part outside the columns in use. [-]
    independent : bool
        Whether the columns in use are independent.

    Examples
    --------
    >>> from formulate.recipes.requirements import Requirement
    >>> from formulate.recipes.system import system_of
    >>> system = system_of([Requirement("K", (2.0, 1.0), 4.0, 4.0)], 2)
    >>> idle, outside, _ = idle_columns(system, np.array([4.0, 0.0]), np.arange(2))
    >>> idle.tolist(), bool(abs(outside).max() < 1e-12)
    ([1], True)
    """
    in_use = free[amounts[free] > 0]
    idle = free[amounts[free] <= 0]
    rows = system.rows
    if not len(in_use):
        return idle, rows[:, idle].T, True
    basis, sizes, _ = np.linalg.svd(rows[:, in_use], full_matrices=False)
    basis = basis[:, sizes > RANK_TOLERANCE * sizes[0]]
    outside = rows[:, idle] - basis @ (basis.T @ rows[:, idle])
    return idle, outside.T, basis.shape[1] == len(in_use)


def can_move(idle):
    """
    Return whether some idle columns together leave everything reached as it is.

    Parameters
    ----------
    idle : ndarray, shape (i, r)
        Part of each idle column outside those in use. [-]

    Returns
    -------
    bool
        Whether they do.

    Examples
    --------
    >>> can_move(np.array([[1.0], [-1.0]])), can_move(np.array([[1.0], [2.0]]))
    (True, False)
    """
    if not len(idle):
        return False
    stacked = np.vstack([idle.T, np.ones(len(idle))])
    aim = np.zeros(len(stacked))
    aim[-1] = 1.0
    return misfit(stacked, aim) <= SAME_POINT


def ranked(system, amounts, free, prices, avoid=None):
    """
    Return the equal recipe of least cost, then fewest grams, then first on the shelf.

    Before these comes least of what is to be avoided. All equal recipes reach the same values, so they are the non-negative solutions of one
    set of equations, and each choice is a linear programme over them.

    Parameters
    ----------
    system : System
        The rows.
    amounts : ndarray, shape (n,)
        Scaled amounts of one of the recipes. [-]
    free : ndarray, shape (k,)
        Columns that equal recipes may use. [-]
    prices : sequence of float or None
        Price of each ingredient; None if not all are known. [currency/kg]
    avoid : sequence of float or None
        What each ingredient brings of what is better avoided. [mmol/g]

    Returns
    -------
    amounts : ndarray, shape (n,)
        Scaled amounts of the chosen recipe. [-]
    words : tuple of str
        What chose it.

    Examples
    --------
    >>> from formulate.recipes.requirements import Requirement
    >>> from formulate.recipes.system import system_of
    >>> system = system_of([Requirement("K", (2.0, 1.0), 4.0, 4.0)], 2)
    >>> best, words = ranked(system, np.array([0.0, 4.0]), np.arange(2), (1.0, 9.0))
    >>> best.tolist(), words
    ([4.0, 0.0], ('least cost',))
    """
    matrix = system.rows[:, free]
    reached = system.rows @ amounts
    in_grams = np.where(free < system.count, 1 / system.columns[free], 0.0)
    place = np.where(free < system.count, free + 1.0, 0.0)
    orders = [("fewest grams", in_grams), ("order of the shelf", in_grams * place)]
    if prices is not None and any(prices):
        price = np.array([*prices, *([0.0] * (len(system.columns) - system.count))])
        orders.insert(0, ("least cost", in_grams * price[free]))
    if avoid is not None:
        traces = np.array([*avoid, *([0.0] * (len(system.columns) - system.count))])
        if traces[free].any():
            words = "least of trace elements nobody asked for"
            orders.insert(0, (words, in_grams * traces[free]))
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
    amounts[free[used]] = nonnegative(matrix[:, used], reached)
    return amounts
