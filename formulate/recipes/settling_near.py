"""Rows that depend on the recipe, settled where lines drawn too far away leave no room.

A line of EC or pH is true where it was drawn. Drawn at amounts far from the recipe at hand it
may forbid what EC or pH themselves allow; then it is drawn half the way back.
"""

from formulate.errors import Infeasible
from formulate.recipes.settling import settled

__all__ = ["settled_near"]


def settled_near(recipe, pick):
    """
    Return rows drawn at the very amounts that are picked from them.

    Parameters
    ----------
    recipe : Recipe
        The recipe that the rows start from.
    pick : callable
        Takes rows (a tuple of Requirement), returns an amount per litre of each
        ingredient, or raises Infeasible.

    Returns
    -------
    tuple of Requirement
        The rows.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> settled_near(recipe, lambda rows: recipe.optimum.amounts) is recipe.requirements
    True
    """
    return settled(recipe, _Steps(recipe, pick).picked)[1]


class _Steps:
    """Amounts picked one after the other, and the last ones whose lines left room."""

    def __init__(self, recipe, pick):
        self.pick = pick
        self.start = self.last = recipe.optimum.amounts

    def picked(self, rows):
        """Return the amounts that rows give, or half the way back if they give none."""
        try:
            found = self.pick(rows)
        except Infeasible:
            self.last = (self.start + self.last) / 2
            return self.last
        self.start, self.last = self.last, found
        return found
