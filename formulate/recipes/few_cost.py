"""The least cost as rows: what holds a recipe at its cost and near what is wanted."""

from formulate.recipes.aims import over_some
from formulate.recipes.requirement import HARD, Requirement
from formulate.working import printed

__all__ = ["cost_rows"]


def cost_rows(recipe, places, cost, held, slack):
    """
    Return the hard rows of a least cost: the bands, and the cost itself.

    Parameters
    ----------
    recipe : Recipe
        The recipe with the whole shelf.
    places : sequence of int
        Places of the ingredients that stay. [-]
    cost : float
        The least cost of a litre. [currency/L]
    held : sequence of Requirement
        The bands.
    slack : float
        Share by which the cost may be above the least, for rounding. [-]

    Returns
    -------
    tuple of Requirement
        The rows over what stays.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.bands import reachable_bands
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), [salt("KNO3", price_per_kg=2.0)], volume=10)
    >>> held, _ = reachable_bands(recipe.requirements, 1, 0.05)
    >>> [row.name for row in cost_rows(recipe, [0], 0.00098, held, 1e-6)]
    ['K 200.0 mg/L, within 5 %', 'cost of the batch at most 0.009800']
    """
    prices = tuple(float(one.cost(1.0)) for one in recipe.ingredients)
    name = f"cost of the batch at most {printed(cost * recipe.volume)}"
    most = cost + slack * (cost or max(prices))
    facts = {"unit": "currency/L", "kind": HARD, "origin": "within"}
    rows = [over_some(row, places) for row in held]
    rows.append(over_some(Requirement(name, prices, high=most, **facts), places))
    return tuple(row for row in rows if any(row.coefficients))
