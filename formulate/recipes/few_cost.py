"""The least cost as rows: what holds a recipe at its cost and near what is wanted."""

from dataclasses import replace

import numpy as np

from formulate.recipes.aims import over_some, relative_factor
from formulate.recipes.requirement import HARD, WANTED, Requirement
from formulate.working import printed

__all__ = ["cost_rows"]

ROOM = 1e-7  # share: what a band may give, for rounding
SLACK = 1e-6  # share: what the least cost may give, for rounding


def cost_rows(recipe, places, amounts, rows, within):
    """
    Return the hard rows of a least cost: the cost itself, and a band for each wish.

    Parameters
    ----------
    recipe : Recipe
        The nearest recipe; what it misses by more is no worse with the rows.
    places : sequence of int
        Places of the ingredients that stay. [-]
    amounts : ndarray, shape (n,)
        Amounts of the least cost. [g/L]
    rows : sequence of Requirement
        The rows that were asked for.
    within : float
        Share by which a wanted value may be missed. [-]

    Returns
    -------
    tuple of Requirement
        The rows over what stays.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> shelf = [salt("KNO3", price_per_kg=2.0)]
    >>> recipe = solve(target({"K": 200}), shelf, volume=10)
    >>> amounts = 0.95 * recipe.optimum.amounts
    >>> made = cost_rows(recipe, [0], amounts, recipe.requirements, 0.05)
    >>> [row.name for row in made]
    ['K 200.0 mg/L, within 5 %', 'cost of the batch at most 0.009826']
    """
    reached = recipe.optimum.amounts
    found = []
    for row in rows:
        if row.kind != WANTED or not row.weight or not any(row.coefficients):
            continue
        value = row.constant + float(np.dot(row.coefficients, reached))
        give = (within + ROOM) / relative_factor(row)
        low, high = min(row.low, value) - give, max(row.high, value) + give
        name = f"{row.name}, within {100 * within:g} %"
        facts = {"low": low, "high": high, "name": name, "origin": "within"}
        found.append(over_some(replace(row, kind=HARD, **facts), places))
    prices = tuple(float(one.cost(1.0)) for one in recipe.ingredients)
    least = float(np.dot(prices, amounts))
    name = f"cost of the batch at most {printed(least * recipe.volume)}"
    most = least + SLACK * (least or max(prices))
    facts = {"unit": "currency/L", "kind": HARD, "origin": "cost"}
    found.append(over_some(Requirement(name, prices, high=most, **facts), places))
    return tuple(row for row in found if any(row.coefficients))
