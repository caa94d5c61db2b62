"""Whether blends exist for many sets of limits at once, and the other hydrates of a salt."""

from functools import cache

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import bsr_array, eye_array, hstack

from formulate.claims.blend_ranges import WHOLE
from formulate.errors import NoConvergence
from formulate.ingredients.salts import catalogue
from formulate.recipes.highs import quiet

__all__ = ["other_hydrates", "ranges_left", "which_hold"]

SMALLEST = 1e-7
SLACK_PRICE = (
    1e4  # beside grams at a price of at most 1: no slack is taken that need not be
)
FREE = 1000.0  # %: a limit that no share reaches


def which_hold(matrices, low, high, filler):
    """
    Return for which sets of limits some blend of materials exists.

    The least sum of slacks of all sets is one linear programme; where a set needs none, a
    blend exists.

    Parameters
    ----------
    matrices : array, shape (m, n) or (k, m, n)
        What one gram of each material in 100 g of product adds to each row. [%]
    low : array, shape (k, m)
        Least values of each set. [%]
    high : array, shape (k, m)
        Greatest values of each set. [%]
    filler : float
        The most that may be water or inert. [g]

    Returns
    -------
    array of bool, shape (k,)
        Whether some blend keeps each set. [-]

    Examples
    --------
    >>> one = np.array([[0.4]])
    >>> which_hold(one, 50 * one, 60 * one, 100.0).tolist()
    [True]
    >>> which_hold(one, 120 * one, 130 * one, 100.0).tolist()
    [False]
    """
    shape = (len(low), *np.shape(matrices)[-2:])
    matrices = np.broadcast_to(matrices, shape)
    may = np.all(low <= WHOLE * matrices.max(axis=2) + SMALLEST, axis=1)
    if may.any():
        needed = _least(matrices[may], low[may], high[may], filler, 0.0)[1]
        may[may] = needed <= SMALLEST
    return may


def ranges_left(matrix, low, high, filler, groups):
    """
    Return the least and the greatest of some rows, each group of them left free in turn.

    Parameters
    ----------
    matrix : array, shape (m, n)
        What one gram of each material in 100 g of product adds to each row. [%]
    low : array, shape (m,)
        Least value of each row. [%]
    high : array, shape (m,)
        Greatest value of each row. [%]
    filler : float
        The most that may be water or inert. [g]
    groups : sequence of sequence of int
        The rows that are left free together. [-]

    Returns
    -------
    tuple of tuple
        For each group the least and the greatest of each of its rows; empty where no blend
        keeps the other rows. [%]

    Examples
    --------
    >>> matrix = np.array([[0.4], [0.2]])
    >>> found = ranges_left(matrix, np.zeros(2), np.array([20.0, 6.0]), 100.0, [[0]])
    >>> [tuple(round(float(v), 6) for v in pair) for pair in found[0]]
    [(0.0, 12.0)]
    """
    asked = [
        (place, row, sign)
        for place, group in enumerate(groups)
        for row in group
        for sign in (1, -1)
    ]
    lows, highs = (np.tile(limit, (len(asked), 1)) for limit in (low, high))
    for place, (group, _, _) in enumerate(asked):
        lows[place, groups[group]], highs[place, groups[group]] = 0.0, FREE
    prices = np.array([sign * matrix[row] for _, row, sign in asked])
    grams, needed = _least(matrix, lows, highs, filler, prices)
    found = [[] for _ in groups]
    for place in range(0, len(asked), 2):
        group, row, _ = asked[place]
        if needed[place : place + 2].max() <= SMALLEST:
            found[group].append(tuple(grams[place : place + 2] @ matrix[row]))
    return tuple(map(tuple, found))


def _least(matrices, low, high, filler, prices):
    """Return the blends of the least price in each set, and the slack that each needs."""
    many = len(low)
    broad = np.broadcast_to(matrices, (many, *np.shape(matrices)[-2:]))
    rows, limits = _rows(broad, low, high)
    count, size = rows.shape[1:]
    limits[:, -1] = filler / WHOLE - 1.0
    blocks = bsr_array((rows, np.arange(many), np.arange(many + 1))).tocsc()
    slack = -eye_array(many * count, format="csc")
    priced = np.broadcast_to(prices, (many, size)).ravel()
    price = np.concatenate([priced, np.full(many * count, SLACK_PRICE)])
    with quiet():
        found = linprog(price, A_ub=hstack([blocks, slack]), b_ub=limits.ravel())
    if found.status:
        raise NoConvergence(f"the blends of a label were not found: {found.message}")
    grams = found.x[: many * size].reshape(many, size)
    return grams, found.x[many * size :].reshape(many, count).sum(axis=1)


def _rows(matrices, low, high):
    """Return the one-sided limits of each set, each in its own weight, the whole last."""
    weights = np.maximum(high, SMALLEST)
    scaled = matrices / weights[:, :, None]
    ones = np.full((len(low), 1, matrices.shape[2]), 1 / WHOLE)
    whole = np.ones((len(low), 2))
    limits = np.hstack([high / weights, -low / weights, whole])
    return np.concatenate([scaled, -scaled, ones, -ones], axis=1), limits


@cache
def _by_salt():
    """Return the formula without water to the materials of the catalogue."""
    found = {}
    for made in catalogue().values():
        if made.formula:
            found.setdefault(made.formula.split("·")[0], []).append(made)
    return found


def other_hydrates(material):
    """
    Return the materials of the catalogue that are the same salt with other water.

    Parameters
    ----------
    material : Ingredient
        A salt.

    Returns
    -------
    tuple of Ingredient
        Its other hydrates, and the salt without water; empty if none is known.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> [made.formula for made in other_hydrates(salt("ZnSO4·7H2O"))]
    ['ZnSO4·6H2O', 'ZnSO4·H2O']
    """
    if not material.formula:
        return ()
    alike = _by_salt().get(material.formula.split("·")[0], ())
    return tuple(made for made in alike if made.formula != material.formula)
