"""What forces a miss: the wishes that, let go, would let a nutrient be met."""

from dataclasses import dataclass

import numpy as np

from formulate.errors import Infeasible
from formulate.recipes.requirements import Requirement
from formulate.recipes.stages import amounts_in_order

__all__ = ["Cause", "causes", "distance"]

TINY = 1e-12  # mmol/g: a trace of rounding is no source


@dataclass(frozen=True)
class Cause:
    """
    One row that keeps a wanted value from being met.

    Attributes
    ----------
    row : Requirement
        The row: without it the wanted value is met.
    every : bool
        Whether every source of the one on the shelf brings the other.
    """

    row: Requirement
    every: bool


def distance(row, amounts):
    """
    Return how far a row is from its bounds, in its scale.

    Parameters
    ----------
    row : Requirement
        The row.
    amounts : ndarray, shape (n,)
        Amount of each ingredient. [g/L]

    Returns
    -------
    float
        Negative below its least value, positive above its greatest. [-]

    Examples
    --------
    >>> row = Requirement("K", (2.0,), 5.0, 5.0, scale=5.0)
    >>> distance(row, np.array([2.0]))
    -0.2
    """
    value = row.constant + float(np.dot(row.coefficients, amounts))
    return (value - min(max(value, row.low), row.high)) / row.scale


def causes(missed, requirements, amounts, limit, *, priorities=()):
    """
    Return the rows that keep a wanted value from being met.

    Each other row that shares an ingredient with it is left out and the recipe solved
    again: it is a cause if then the value is met.

    Parameters
    ----------
    missed : Requirement
        The wanted row that is missed.
    requirements : sequence of Requirement
        All rows, the missed one among them.
    amounts : ndarray, shape (n,)
        Amount of each ingredient in the recipe. [g/L]
    limit : float
        A deviation up to this counts as met. [-]
    priorities : sequence of sequence of str
        Nutrient keys to be met first, as in the recipe.

    Returns
    -------
    tuple of Cause
        The causes; empty if no single row is one.

    Examples
    --------
    >>> facts = {"scale": 1.0, "origin": "target"}
    >>> ca = Requirement("Ca", (1.0,), 2.0, 2.0, key="Ca", **facts)
    >>> n = Requirement("N", (2.0,), 2.0, 2.0, key="N", **facts)
    >>> [cause.row.name for cause in causes(ca, [ca, n], np.array([1.2]), 0.05)]
    ['N']
    """
    is_short = distance(missed, amounts) < 0
    found = []
    for row in requirements:
        if row is missed or not _shares_a_source(row, missed):
            continue
        rest = [other for other in requirements if other is not row]
        try:
            tried = amounts_in_order(rest, len(amounts), priorities, rank=False).amounts
        except Infeasible:
            continue
        if abs(distance(missed, tried)) <= limit:
            found.append(Cause(row, _brings_with_it(missed, row, is_short)))
    return tuple(found)


def _shares_a_source(row, missed):
    """Return whether some ingredient counts for both rows."""
    pairs = zip(row.coefficients, missed.coefficients, strict=True)
    return any(abs(first) > TINY and abs(second) > TINY for first, second in pairs)


def _brings_with_it(missed, row, is_short):
    """Return whether every source of the one brings the other.

    A value that is short is held down by what every source of it brings besides; one that
    is over comes along with every source of another.
    """
    of, besides = (missed, row) if is_short else (row, missed)
    pairs = zip(of.coefficients, besides.coefficients, strict=True)
    return all(other > TINY for source, other in pairs if source > TINY)
