"""Rows that depend on the recipe, settled where amounts picked from them jump about.

A line of EC or pH is true where it was drawn. Drawn at amounts far from the recipe at hand it
may forbid what EC or pH themselves allow; then it is drawn half the way back. What is picked
at a corner may jump to another corner and back as lines move: then lines are drawn on the way
between, and at last amounts are held near those at which lines were drawn, ever nearer.
"""

import numpy as np

from formulate.errors import Infeasible, NoConvergence
from formulate.recipes.drawing import apart
from formulate.recipes.problem import Problem
from formulate.recipes.requirement import HARD, Requirement
from formulate.recipes.settling import settled
from formulate.recipes.wishes import NEAR, bound_rows

__all__ = ["settled_near"]

ON_THE_WAY = 16  # rounds of drawing on the way
HELD = 50  # rounds of holding near
FIRST_REACH = (
    0.2  # of the amount that meets a first wish: so far from where lines are drawn
)
SHRINKS = 0.6  # that reach, by the round
GROWS = 1.3  # that reach, where it leaves no room
BRAKES = 0.7  # a step on the way that came no nearer
SAME_SHARE = 1e-6  # share of water, where lines of pH and EC are no surer


def settled_near(recipe, pick):
    """
    Return rows drawn at the very amounts that are picked from them.

    Parameters
    ----------
    recipe : Recipe
        The recipe that the rows start from.
    pick : callable
        Takes rows (a tuple of Requirement), returns an amount per litre of each
        ingredient, or raises Infeasible. Rows of origin "near" hold amounts near others.

    Returns
    -------
    tuple of Requirement
        The rows; with some of origin "near" only if nothing else settles.

    Raises
    ------
    NoConvergence
        If amounts and rows do not come to agree.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> settled_near(recipe, lambda rows: recipe.optimum.amounts) is recipe.requirements
    True
    """
    steps = _Steps(recipe, pick)
    try:
        return settled(recipe, steps.picked)[1]
    except NoConvergence:
        if recipe.drawing is None:
            raise
    rounds = _Rounds(recipe, pick, (steps.start + steps.last) / 2)
    found = rounds.on_the_way() or rounds.held_near()
    if found is None:
        raise NoConvergence("amounts and the lines of pH and EC do not agree")
    return found


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


class _Rounds:
    """Lines drawn at some amounts, and how far what is picked is from agreeing with them."""

    def __init__(self, recipe, pick, amounts):
        self.recipe, self.pick = recipe, pick
        self.problem, self.drawing = Problem.of(recipe), recipe.drawing
        self.amounts = self.kept = amounts

    def drawn(self):
        """Return the rows drawn at the amounts."""
        made, self.share = self.problem.made(self.amounts)
        self.drawing = self.problem.drawn(made, self.drawing)
        asked = self.recipe.requirements
        return self.problem.rows(self.share, self.drawing, asked=asked)

    def far(self, amounts):
        """Return how far amounts are from where the rows were drawn; 1 is the same."""
        made, share = self.problem.made(amounts)
        after = self.problem.drawn(made, self.drawing)
        of_water = abs(share - self.share) / SAME_SHARE
        return max(abs(apart(self.drawing, after, made)), of_water)

    def on_the_way(self):
        """Return rows that agree with what is picked, drawn between pick and pick."""
        step, before = 0.5, np.inf
        for _ in range(ON_THE_WAY):
            rows = self.drawn()
            try:
                found = self.pick(rows)
            except Infeasible:
                self.amounts = (self.kept + self.amounts) / 2
                continue
            far = self.far(found)
            if far <= 1.0:
                return rows
            step = step * BRAKES if far > before else min(1.0, step / BRAKES)
            before, self.kept = far, self.amounts
            self.amounts = self.amounts + step * (found - self.amounts)
        return None

    def held_near(self):
        """Return rows that agree with what is picked near where they were drawn."""
        size, reach = _sizes(self.recipe), FIRST_REACH
        self.amounts = self.recipe.optimum.amounts
        for _ in range(HELD):
            rows = (*self.drawn(), *_near(self.amounts, reach * size))
            try:
                found = self.pick(rows)
            except Infeasible:
                reach = reach * GROWS
                continue
            if self.far(found) <= 1.0:
                return rows
            self.amounts, reach = found, reach * SHRINKS
        return None


def _sizes(recipe):
    """Return the amount of each ingredient that meets a first wish. [g/L]"""
    rows = [np.abs(r.coefficients) / r.scale for r in bound_rows(recipe.requirements)]
    most = np.max(rows, axis=0, initial=0.0)
    return 1 / np.where(most > 0, most, 1.0)


def _near(amounts, reach):
    """Return a row for each amount that holds it near where it is."""
    each = zip(np.eye(len(amounts)).tolist(), amounts, reach, strict=True)
    facts = {"unit": "g/L", "kind": HARD, "origin": NEAR}
    return [
        Requirement("near", tuple(one), float(at - far), float(at + far), **facts)
        for one, at, far in each
    ]
