"""Least squares with nothing below zero, checked: the one routine all else rests on."""

import numpy as np
from scipy.optimize import lsq_linear, nnls

__all__ = ["misfit", "nonnegative"]

TRUSTED = 1e-10  # violation, relative to the aim, up to which a first answer stands


def nonnegative(matrix, aim):
    """
    Return the amounts, none negative, whose mixture of columns comes nearest to an aim.

    Empty columns, which crash scipy's routine, get nothing. Since scipy 1.15 the routine
    now and then returns a point that is not the best (scipy issue 25389); bounded least
    squares, slower, then takes its place.

    Parameters
    ----------
    matrix : ndarray, shape (m, n)
        One column for each amount. [-]
    aim : ndarray, shape (m,)
        What the columns are to add up to. [-]

    Returns
    -------
    ndarray, shape (n,)
        The amounts. [-]

    Examples
    --------
    >>> nonnegative(np.array([[1.0, -1.0]]), np.array([2.0])).tolist()
    [2.0, 0.0]
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


def misfit(matrix, aim):
    """
    Return how far the nearest mixture of columns stays from an aim.

    Parameters
    ----------
    matrix : ndarray, shape (m, n)
        One column for each amount, none of which may be negative. [-]
    aim : ndarray, shape (m,)
        What the columns are to add up to. [-]

    Returns
    -------
    float
        The distance. [-]

    Examples
    --------
    >>> misfit(np.array([[1.0]]), np.array([-2.0]))
    2.0
    """
    return float(np.linalg.norm(matrix @ nonnegative(matrix, aim) - aim))
