"""Rounding a recipe to whole steps: nearest first, then the steps that bring it nearer.

Single steps and pairs of steps are taken as long as they keep hard rows better or bring the
wanted values nearer. Where that leaves a hard row broken, an integer programme looks for
the nearest whole steps that keep them all.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from formulate.ingredients.dissolve import poured_litres
from formulate.recipes.highs import quiet

__all__ = ["KEPT", "Plan", "plan_rounding", "whole_steps"]

KEPT = 1e-8  # a hard row broken by less, relative to its size, is kept
MARGIN = 1e-6  # by how much more the integer search keeps a hard row
BETTER = 1e-12  # relative gain below which a move is not taken
ROUNDS = 500
REACH = 20  # steps either way that the integer search looks
NEAR = 2.0  # steps from the exact amount that moves may go


@dataclass(frozen=True, eq=False)
class Plan:
    """
    A rounding as rows over steps; a part of a stock counts as it reaches a batch.

    Attributes
    ----------
    names : tuple of str
        Name of each ingredient that is rounded.
    exact : ndarray, shape (n,)
        Exact number of steps of each, not whole. [-]
    sizes : ndarray, shape (n,)
        What one step brings into the batch. [g]
    rows : ndarray, shape (m, n)
        What one step adds to each requirement. [mmol/L]
    constant : ndarray, shape (m,)
        What water and amounts that are not rounded bring. [mmol/L]
    low : ndarray, shape (m,)
        Least value asked for; of a hard row that asks for one exact value, half a step
        of everything less. [mmol/L]
    high : ndarray, shape (m,)
        Greatest value asked for, likewise. [mmol/L]
    factor : ndarray, shape (m,)
        Factor on the distance from [low, high]. [L/mmol]
    is_hard : ndarray, shape (m,)
        Whether a row must hold. [-]
    """

    names: tuple
    exact: np.ndarray
    sizes: np.ndarray
    rows: np.ndarray
    constant: np.ndarray
    low: np.ndarray
    high: np.ndarray
    factor: np.ndarray
    is_hard: np.ndarray

    def distances(self, values):
        """
        Return how far values of the rows lie outside what is asked, scaled.

        Parameters
        ----------
        values : ndarray, shape (..., m)
            Value of each row. [mmol/L]

        Returns
        -------
        ndarray, shape (..., m)
            Distance; 0 within. [-]

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
        >>> plan = plan_rounding(recipe, {"KNO3": 0.1})
        >>> plan.distances(plan.values([52])).round(4).tolist()[:1]
        [0.0055]
        """
        beyond = np.maximum(self.low - values, values - self.high)
        return np.maximum(beyond, 0.0) * self.factor

    def score(self, values):
        """
        Return what is broken of hard rows, and the squared misses of the wanted ones.

        Parameters
        ----------
        values : ndarray, shape (..., m)
            Value of each row. [mmol/L]

        Returns
        -------
        broken : float or ndarray, shape (...)
            Sum over the hard rows, each relative to its size; 0 if they are kept. [-]
        misses : float or ndarray, shape (...)
            Weighted sum of squares over the wanted rows. [-]

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
        >>> plan = plan_rounding(recipe, {"KNO3": 0.1})
        >>> [round(float(value), 6) for value in plan.score(plan.values([52]))]
        [0.0, 3e-05]
        """
        off = self.distances(values)
        broken = off[..., self.is_hard]
        broken = np.where(broken > KEPT, broken, 0.0).sum(axis=-1)
        return broken, (off[..., ~self.is_hard] ** 2).sum(axis=-1)

    def values(self, counts):
        """
        Return the value of each row at so many steps.

        Parameters
        ----------
        counts : array_like, shape (n,)
            Steps of each ingredient. [-]

        Returns
        -------
        ndarray, shape (m,)
            The values. [mmol/L]

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
        >>> plan = plan_rounding(recipe, {"KNO3": 0.1})
        >>> plan.values([52]).round(3).tolist()[:1]
        [5.143]
        """
        return self.constant + self.rows @ counts


def plan_rounding(recipe, steps, made=()):
    """
    Return the rounding of a recipe as rows over the steps of what is used and has one.

    Parameters
    ----------
    recipe : Recipe
        The exact recipe.
    steps : mapping of str to float
        Name to step. [g]
    made : sequence of TraceStock
        Stocks that take the place of some ingredients.

    Returns
    -------
    Plan
        The rounding.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> plan_rounding(recipe, {"KNO3": 0.1}).exact.round(2).tolist()
    [51.72]
    """
    used = {ingredient.name: amount for ingredient, amount in recipe.amounts}
    sizes = {name: steps[name] for name in used if name in steps}
    for one in made:
        sizes |= {name: step / one.batches for name, step in one.steps.items()}
    matrix, constant, factor = _rows(recipe, made)
    places = [j for j, i in enumerate(recipe.ingredients) if i.name in sizes]
    names = tuple(recipe.ingredients[j].name for j in places)
    size = np.array([sizes[name] for name in names])
    left = [j for j, i in enumerate(recipe.ingredients) if i.name in used]
    left = [j for j in left if j not in places]
    fixed = [used[recipe.ingredients[j].name] for j in left]
    constant = constant + matrix[:, left] @ np.array(fixed)
    asked = recipe.requirements
    low, high = (np.array([getattr(r, end) for r in asked]) for end in ("low", "high"))
    give = np.where(low == high, np.abs(matrix[:, places] * size).sum(axis=1) / 2, 0.0)
    give *= [row.kind == "hard" for row in asked]  # no balance meets an exact value
    return Plan(
        names,
        np.array([used[name] for name in names]) / size,
        size,
        matrix[:, places] * size,
        constant,
        low - give,
        high + give,
        factor,
        np.array([row.kind == "hard" for row in asked], dtype=bool),
    )


def _rows(recipe, made):
    """Return rows over amounts in a batch, what stands without them, and their factors.

    Liquids take the place of water, so a millilitre takes away what the water brought.
    """
    asked, volume = recipe.requirements, recipe.volume
    litres = np.array([i.millilitres(1.0) / 1000 for i in recipe.ingredients])
    poured = poured_litres(recipe.amounts)
    share = 1 - poured / volume
    matrix = np.array([row.coefficients for row in asked]).reshape(-1, len(litres))
    constant = np.array([row.constant for row in asked])
    of_water = np.array([row.origin != "caller" for row in asked]) * constant
    full = of_water / share if share > BETTER else 0.0 * of_water
    dosed = sum(one.dose for one in made) / 1000 / volume
    room = np.array([row.origin == "room" for row in asked]) * dosed
    used = np.zeros(len(litres))
    amounts = {ingredient.name: amount for ingredient, amount in recipe.amounts}
    for j, ingredient in enumerate(recipe.ingredients):
        used[j] = amounts.get(ingredient.name, 0.0)
    size = np.abs(matrix * used / volume).max(axis=1, initial=0.0)
    for bound in ("low", "high"):
        limit = np.abs([getattr(row, bound) for row in asked])
        size = np.maximum(size, np.where(np.isfinite(limit), limit, 0.0))
    size = np.where(size > 0, size, 1.0)
    wanted = [math.sqrt(row.weight) / row.scale for row in asked]
    is_hard = [row.kind == "hard" for row in asked]
    rows = (matrix - np.outer(full, litres)) / volume
    rest = constant - of_water + full * (1 - dosed) + room
    return rows, rest, np.where(is_hard, 1 / size, wanted)


def whole_steps(plan):
    """
    Return whole steps of each ingredient, near the recipe, hard rows kept if possible.

    Parameters
    ----------
    plan : Plan
        The rounding.

    Returns
    -------
    ndarray, shape (n,)
        Whole numbers of steps. [-]

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> whole_steps(plan_rounding(recipe, {"KNO3": 0.1})).tolist()
    [52.0]
    """
    counts = _improved(plan, np.rint(plan.exact))
    if len(counts) and plan.score(plan.values(counts))[0] > 0:
        kept = _kept(plan)
        counts = counts if kept is None else _improved(plan, kept)
    return counts


def _moves(count):
    """Return every move of one ingredient by a step, and of two by a step each."""
    singles = np.vstack([np.eye(count), -np.eye(count)])
    first, second = np.triu_indices(2 * count, 1)
    pairs = singles[first] + singles[second]
    moves = np.vstack([singles, pairs[np.abs(pairs).sum(axis=1) == 2]])
    return moves[np.abs(moves).max(axis=1) == 1]


def _improved(plan, counts):
    """Return counts after the best moves, taken one by one until none helps."""
    if not len(counts):
        return counts
    moves = _moves(len(counts))
    shifts = moves @ plan.rows.T
    room = np.maximum(np.abs(counts - plan.exact), NEAR)
    broken, misses = plan.score(plan.values(counts))
    for _ in range(ROUNDS):
        moved = plan.values(counts) + shifts
        all_broken, all_misses = plan.score(moved)
        tried = counts + moves
        impossible = (tried.min(axis=1) < 0) | (np.abs(tried - plan.exact) > room).any(
            axis=1
        )
        all_broken = np.where(impossible, np.inf, all_broken)
        best = np.lexsort((all_misses, all_broken))[0]
        gains = all_broken[best] < broken * (1 - KEPT)
        same = all_broken[best] <= broken
        if not gains and not (same and all_misses[best] < misses * (1 - BETTER)):
            break
        counts = counts + moves[best]
        broken, misses = all_broken[best], all_misses[best]
    return counts


def _kept(plan):
    """Return the nearest whole steps that keep every hard row, or None if none do."""
    count = len(plan.names)
    hard = plan.is_hard
    factor = plan.factor[hard]
    rows = plan.rows[hard] * factor[:, None]
    low, high = (
        (bound[hard] - plan.constant[hard]) * factor for bound in (plan.low, plan.high)
    )
    same = plan.low[hard] == plan.high[hard]
    inner = np.where(same, 0.0, MARGIN)
    apart = np.eye(count)
    limits = [
        LinearConstraint(
            np.hstack([rows, np.zeros((len(rows), count))]), low + inner, high - inner
        ),
        LinearConstraint(np.hstack([apart, -apart]), -np.inf, plan.exact),
        LinearConstraint(np.hstack([apart, apart]), plan.exact, np.inf),
    ]
    least = np.maximum(np.floor(plan.exact) - REACH, 0)
    most = np.ceil(plan.exact) + REACH
    with quiet():
        found = milp(
            np.concatenate([np.zeros(count), np.ones(count)]),
            integrality=np.concatenate([np.ones(count), np.zeros(count)]),
            bounds=Bounds(
                np.concatenate([least, np.zeros(count)]),
                np.concatenate([most, np.full(count, np.inf)]),
            ),
            constraints=limits,
        )
    return None if found.x is None else np.rint(found.x[:count])
