"""What one more unit of each limit is worth to a recipe: how much nearer it would come.

The multiplier of a hard row is by what half the squared deviations fall for each unit more
of room; it holds as long as what is used and what binds stay the same.
"""

from dataclasses import dataclass

from formulate.errors import InputError, shortened
from formulate.recipes.recipe import Recipe
from formulate.recipes.worths import worth_of
from formulate.working import Shown, printed

__all__ = ["LimitWorth", "limit_worths"]


@dataclass(frozen=True)
class LimitWorth(Shown):
    """
    What one hard row holds back.

    Attributes
    ----------
    name : str
        The row, in words.
    unit : str
        Unit in which it would be let out.
    nearer : float
        By what the weighted sum of squared deviations falls for each unit of room. [-]
    """

    name: str
    unit: str
    nearer: float

    def __str__(self):
        unit = self.unit or "unit"
        return (
            f"{self.name}: the sum of squares falls by {printed(self.nearer, 3)} for "
            f"each {unit}"
        )


def limit_worths(recipe):
    """
    Return what one more unit of each limit that holds a recipe back is worth.

    Parameters
    ----------
    recipe : Recipe
        The recipe.

    Returns
    -------
    tuple of LimitWorth
        The largest first; none if no limit is reached.

    Raises
    ------
    InputError
        If it is no recipe.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> feed = target({"K": 200}, limits={"K": "at most 150 mg/L"})
    >>> (one,) = limit_worths(solve(feed, ["KCl"], volume=10))
    >>> one.name, one.unit, round(one.nearer, 5)
    ('K at most 150 mg/L', 'mg/L', 0.002)
    """
    if not isinstance(recipe, Recipe):
        raise InputError(f"{shortened(recipe)} is no recipe; make one with solve")
    found = {}
    for row, force in recipe.optimum.forces:
        side = "low" if force < 0 else "high"
        squares = 2 * abs(force) / recipe.volume
        worth = worth_of(recipe, row, side, squares)
        held = found.get(row.name)
        if held is None or held.nearer < worth.saved:
            found[row.name] = LimitWorth(worth.name, worth.unit, worth.saved)
    return tuple(sorted(found.values(), key=lambda one: -one.nearer))
