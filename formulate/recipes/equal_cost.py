"""Recipes that cost the same: the nearest of them to what is wanted.

Any worths that prove a least cost describe all recipes of that cost: their rows of some
worth stand on their bounds, and what costs more than it is worth is not used.
"""

from dataclasses import replace

import numpy as np

from formulate.recipes.requirement import HARD, Requirement
from formulate.recipes.stages import amounts_in_order

__all__ = ["nearest_of_equal_cost"]


def nearest_of_equal_cost(hard, wishes, best, *, avoid, priorities=()):
    """
    Return the recipe of least cost that comes nearest to what is wanted.

    Parameters
    ----------
    hard : sequence of Requirement
        The rows that must hold.
    wishes : sequence of Requirement
        The wanted rows.
    best : LeastCost
        The least cost within the hard rows, and its proof.
    avoid : sequence of float
        What each ingredient brings of what is better avoided. [mmol/g]
    priorities : sequence of sequence of str
        Nutrient keys to be met first.

    Returns
    -------
    Optimum
        The amounts, over all ingredients.

    Examples
    --------
    >>> from formulate.recipes.least_cost import least_cost
    >>> from formulate.recipes.requirement import Requirement
    >>> held = Requirement("K", (1.0, 2.0), 4.0, 6.0, kind="hard")
    >>> n = Requirement("N", (1.0, 0.0), 3.0, 3.0, scale=3.0)
    >>> best = least_cost([held], (1.0, 2.0))
    >>> nearest_of_equal_cost([held], [n], best, avoid=(0.0, 0.0)).amounts.round(6).tolist()
    [3.0, 0.5]
    """
    kept = np.flatnonzero(~best.idle)
    if not len(kept):
        kept = np.zeros(
            1, dtype=int
        )  # nothing at all is cheapest: so much of the first
    sides = {id(row): side for row, side, _ in best.proof}
    rows = [_on_bound(row, sides.get(id(row)), kept) for row in hard]
    rows += [_over(row, kept) for row in wishes]
    if best.idle.all():
        rows.append(Requirement("none of it", (1.0,), 0.0, 0.0, kind=HARD))
    left = [avoid[j] for j in kept]
    found = amounts_in_order(rows, len(kept), priorities, avoid=left)
    return _over_all(found, kept, best)


def _over(row, kept):
    """Return a row over the ingredients that may be used."""
    return replace(row, coefficients=tuple(row.coefficients[j] for j in kept), below=())


def _on_bound(row, side, kept):
    """Return a row over what may be used; one that costs money as an equation."""
    ends = {"low": {"high": row.low}, "high": {"low": row.high}}.get(side, {})
    return replace(_over(row, kept), **ends)


def _over_all(found, kept, best):
    """Return an optimum over all ingredients; what was left out costs too much.

    Rows that cost money hold a recipe back, whatever they do to its squares.
    """
    count, few = len(best.idle), len(kept)
    amounts, pull = np.zeros(count), np.ones(count)
    amounts[kept], pull[kept] = found.amounts, found.pull
    places = [kept[j] if j < few else j - few + count for j in found.idle_columns]
    paying = ((row, 0.0) for row, *_ in best.proof if row.name not in found.binding)
    return replace(
        found,
        amounts=amounts,
        pull=pull,
        forces=(*found.forces, *paying),
        idle_columns=np.array(places, dtype=int),
    )
