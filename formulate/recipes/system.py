"""Requirements as matrices: one line for each finite side, slacks in columns of their own."""

import math
from dataclasses import dataclass

import numpy as np

__all__ = ["System", "system_of"]

EVENED = (
    3  # rounds of scaling hard lines and columns to each other, whatever their units
)


@dataclass(frozen=True, eq=False)
class System:
    """
    Rows as matrices, columns scaled to length 1.

    Every line is an equation; a one-sided line has a slack amount of its own, and the
    slacks stand behind the ingredients.

    Attributes
    ----------
    wanted : ndarray, shape (w, n)
        Lines that are wanted, in units of their scale and weight. [-]
    aim : ndarray, shape (w,)
        What these are to reach. [-]
    hard : ndarray, shape (h, n)
        Lines that must hold. [-]
    level : ndarray, shape (h,)
        What these must reach. [-]
    sides : ndarray, shape (h,)
        -1 for a least value, 1 for a greatest one, 0 for an equation. [-]
    slack : ndarray, shape (h,)
        Column of each hard line's slack; -1 for an equation. [-]
    columns : ndarray, shape (n,)
        Length of each column before it was scaled. [-]
    count : int
        How many of the columns are ingredients. [-]
    factors : ndarray, shape (h,)
        What each hard line was multiplied with. [-]
    owners : tuple of Requirement
        The row that each hard line belongs to.
    """

    wanted: np.ndarray
    aim: np.ndarray
    hard: np.ndarray
    level: np.ndarray
    sides: np.ndarray
    slack: np.ndarray
    columns: np.ndarray
    count: int
    factors: np.ndarray
    owners: tuple

    @property
    def rows(self):
        """Return all lines, wanted ones first."""
        return np.vstack([self.wanted, self.hard])


def _lines(requirements):
    """Return (row, level, side) with one line for each finite side of each row."""
    lines = []
    for row in requirements:
        sides = [(row.low, -1.0), (row.high, 1.0)]
        if row.low == row.high:
            sides = [(row.low, 0.0)]
        lines += [
            (row, level - row.constant, side)
            for level, side in sides
            if math.isfinite(level)
        ]
    return lines


def system_of(requirements, count):
    """
    Return the matrices of a set of requirements.

    Parameters
    ----------
    requirements : sequence of Requirement
        Rows over the same ingredients.
    count : int
        Number of ingredients. [-]

    Returns
    -------
    System
        The matrices.

    Examples
    --------
    >>> from formulate.recipes.requirements import Requirement
    >>> row = Requirement("Na", (2.0,), high=6.0, kind="hard")
    >>> system = system_of([row], 1)
    >>> system.hard.shape, system.sides.tolist()
    ((1, 2), [1.0])
    """
    lines = _lines(requirements)
    sides = np.array([side for _, _, side in lines])
    is_hard = np.array([row.kind == "hard" for row, _, _ in lines], dtype=bool)
    coefficients = np.array([row.coefficients for row, _, _ in lines], dtype=float)
    level = np.array([value for _, value, _ in lines])
    factor = np.array([_factor(row, value) for row, value, _ in lines])
    for _ in range(EVENED):
        factor[is_hard] *= _even(coefficients * factor[:, None])[is_hard]
    matrix = np.hstack([coefficients * factor[:, None], np.diag(sides)[:, sides != 0]])
    columns = _lengths(matrix)
    matrix /= columns
    slack = np.where(sides != 0, count + np.cumsum(sides != 0) - 1, -1)
    return System(
        matrix[~is_hard],
        (level * factor)[~is_hard],
        matrix[is_hard],
        (level * factor)[is_hard],
        sides[is_hard],
        slack[is_hard],
        columns,
        count,
        factor[is_hard],
        tuple(row for row, _, _ in lines if row.kind == "hard"),
    )


def _lengths(matrix):
    """Return the length of each column; 1 of an empty one."""
    lengths = np.sqrt((matrix**2).sum(axis=0))
    return np.where(lengths > 0, lengths, 1.0)


def _even(matrix):
    """Return what brings the largest number of each line to 1, columns of length 1."""
    largest = np.abs(matrix / _lengths(matrix)).max(axis=1, initial=0.0)
    return 1.0 / np.where(largest > 0, largest, 1.0)


def _factor(row, value):
    """Return what a line is multiplied with, so that deviations of 1 weigh alike."""
    if row.kind == "wanted":
        return math.sqrt(row.weight) / row.scale
    size = max(map(abs, row.coefficients)) or max(abs(row.constant), abs(value))
    return 1.0 / (size or 1.0)
