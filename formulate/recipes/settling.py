"""Rows that depend on the recipe itself, worked out anew until recipe and rows agree.

Liquids take the place of water, and pH and EC are no straight lines. So their rows are drawn
at the last amounts, the amounts chosen anew, and again, until they repeat.
"""

import numpy as np

from formulate.errors import NoConvergence
from formulate.recipes.drawing import agree
from formulate.recipes.problem import Problem

__all__ = ["settled"]

ROUNDS = 30
SAME = 1e-9  # share of the water, and of an amount: closer than this is the same


def settled(recipe, pick):
    """
    Return amounts chosen from rows that were drawn at these very amounts.

    Parameters
    ----------
    recipe : Recipe
        The recipe that the rows start from.
    pick : callable
        Takes rows (a tuple of Requirement), returns an amount per litre of each
        ingredient of the recipe.

    Returns
    -------
    amounts : ndarray, shape (n,)
        The amounts. [g/L]
    rows : tuple of Requirement
        The rows, drawn at these amounts.

    Raises
    ------
    NoConvergence
        If amounts and rows do not come to agree.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> amounts, rows = settled(recipe, lambda rows: recipe.optimum.amounts)
    >>> amounts.round(3).tolist(), rows is recipe.requirements
    ([0.517], True)
    """
    problem = Problem.of(recipe)
    rows, drawing = recipe.requirements, recipe.drawing
    _, share = problem.made(recipe.optimum.amounts)
    for _ in range(ROUNDS):
        amounts = np.asarray(pick(rows), dtype=float)
        made, left = problem.made(amounts)
        after = drawing and problem.drawn(made, drawing)
        is_same = abs(left - share) <= SAME or not problem.water.solution.forms
        if is_same and (drawing is None or agree(drawing, after, made)):
            return amounts, rows
        share, drawing = left, after
        rows = problem.rows(share, drawing, asked=recipe.requirements)
    raise NoConvergence(
        "amounts and the lines of pH and EC do not agree", state=amounts
    )
