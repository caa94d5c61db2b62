"""First these, then those: wanted rows met in the order of their priority."""

from dataclasses import replace

import numpy as np

from formulate.recipes.least_squares import nearest_amounts

__all__ = ["amounts_in_order"]

NEAR = 1e-10  # of a row's scale: rounding, so near to its range it lies within


def amounts_in_order(
    requirements, count, priorities, *, prices=None, avoid=None, rank=True
):
    """
    Return the amounts that meet the first wanted rows best, then the next, then the rest.

    What the first rows reach is held while the next are met: the value itself where it
    misses, the range where it lies within. Rows that keep an ion low come last.

    Parameters
    ----------
    requirements : sequence of Requirement
        Rows over the same ingredients.
    count : int
        Number of ingredients. [-]
    priorities : sequence of sequence of str
        Nutrient keys, the first group first.
    prices : sequence of float or None
        As in `nearest_amounts`. [currency/kg]
    avoid : sequence of float or None
        As in `nearest_amounts`. [mmol/g]
    rank : bool
        As in `nearest_amounts`.

    Returns
    -------
    Optimum
        The amounts of the last stage.

    Examples
    --------
    >>> from formulate.recipes.requirements import Requirement
    >>> facts = {"origin": "target", "scale": 1.0}
    >>> k = Requirement("K", (1.0,), 2.0, 2.0, key="K", **facts)
    >>> n = Requirement("N", (1.0,), 1.0, 1.0, key="N", **facts)
    >>> amounts_in_order([k, n], 1, [("N",)]).amounts.round(6).tolist()
    [1.0]
    """
    held = [row for row in requirements if row.kind == "hard"]
    left = [row for row in requirements if row.kind == "wanted"]
    for group in priorities:
        first = [row for row in left if row.key in group and row.origin == "target"]
        if first:
            best = nearest_amounts([*held, *first], count, rank=False)
            held += [_held(row, best.amounts) for row in first]
            left = [row for row in left if row not in first]
    return nearest_amounts([*held, *left], count, prices=prices, avoid=avoid, rank=rank)


def _held(row, amounts):
    """Return a wanted row as a hard one: what it reached, or its range."""
    value = row.constant + float(np.dot(row.coefficients, amounts))
    low, high = row.low, row.high
    if not low - NEAR * row.scale <= value <= high + NEAR * row.scale:
        low = high = value
    return replace(row, kind="hard", low=low, high=high, name=f"{row.name}, first")
