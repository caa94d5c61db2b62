"""What each ingredient of a recipe costs, where every price must be known."""

from formulate.errors import InputError, MissingData, shortened
from formulate.recipes.recipe import Recipe

__all__ = ["checked_prices"]


def checked_prices(recipe):
    """
    Return the price of each ingredient of a recipe; what is barred costs nothing.

    Parameters
    ----------
    recipe : Recipe
        The recipe.

    Returns
    -------
    tuple of float
        The prices. [currency/kg]

    Raises
    ------
    InputError
        If it is no recipe.
    MissingData
        If what may be used has no price; every one is named.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> bags = [salt("KNO3", price_per_kg=2.0)]
    >>> checked_prices(solve(target({"K": 200}), bags, volume=100))
    (2.0,)
    """
    if not isinstance(recipe, Recipe):
        raise InputError(f"{shortened(recipe)} is no recipe; make one with solve")
    barred = _barred(recipe)
    pairs = list(enumerate(recipe.ingredients))
    lacking = [i.name for j, i in pairs if i.price is None and j not in barred]
    if lacking:
        what = f"no price for {', '.join(lacking)}: give prices, or limit them to none"
        raise MissingData(what)
    return tuple(float(i.price or 0.0) for _, i in pairs)


def _barred(recipe):
    """Return the places of ingredients of which the batch may take none."""
    found = set()
    for row in recipe.requirements:
        if row.origin == "amount" and row.high <= 0:
            found |= {j for j, value in enumerate(row.coefficients) if value > 0}
    return found
