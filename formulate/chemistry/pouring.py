"""How an acid or alkali is poured: thin, in portions, with its cautions."""

import math

from formulate.chemistry.acid_doses import acid_rule
from formulate.working import printed

__all__ = ["CAUTIONS", "how_to_pour", "poured", "times_water"]

PERCENT = 100.0
CAUTIONS = {
    "acid": "acid into water, never the reverse",
    "alkali": "it gets hot: small portions into cold water",
}


def times_water(ingredient):
    """
    Return how many times its volume of water brings a liquid to the strength to pour.

    Parameters
    ----------
    ingredient : Ingredient
        What is poured.

    Returns
    -------
    float
        Times its volume; 0 for a stock. [-]

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> times_water(as_ingredient("nitric acid (67 %)"))
    18
    """
    if ingredient.measured_in == "mL":
        return 0.0  # a stock is thin already
    strength = ingredient.purity_percent if ingredient.is_liquid else PERCENT
    times = (strength / acid_rule("strength to pour") - 1.0) * (
        ingredient.density or 1.0
    )
    return max(0.0, math.ceil(times))


def poured(ingredient, grams):
    """
    Return an amount as it is measured: in mL if it is a liquid, else in g.

    Parameters
    ----------
    ingredient : Ingredient
        What is measured.
    grams : float
        How much. [g]

    Returns
    -------
    value : float
        How much. [-]
    unit : str
        "mL" or "g".

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> poured(as_ingredient("nitric acid (67 %)"), 14.0)
    (10.0, 'mL')
    """
    if ingredient.measured_in == "mL":
        return grams, "mL"
    if ingredient.density is None:
        return grams, "g"
    return grams / ingredient.density, "mL"


def how_to_pour(ingredient, grams):
    """
    Return how an acid or alkali that belongs to a recipe goes into the batch.

    Parameters
    ----------
    ingredient : Ingredient
        The acid or alkali.
    grams : float
        How much of it the batch takes. [g]

    Returns
    -------
    str
        A sentence with its cautions.

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> how_to_pour(as_ingredient("nitric acid (67 %)"), 14.0)[:65]
    'nitric acid (67 %): pour 8.00 mL slowly into at least 18 times as'
    """
    share, times = acid_rule("first portion") / PERCENT, times_water(ingredient)
    value, unit = poured(ingredient, share * grams)
    way = "pour" if unit == "mL" else "stir"
    into = (
        f"slowly into at least {times:.0f} times as much cold water, " if times else ""
    )
    caution = CAUTIONS.get(ingredient.role, "dissolve it fully before more goes in")
    return (
        f"{ingredient.name}: {way} {printed(value, 3)} {unit} {into}then into the batch; "
        f"aerate, measure, and finish with the rest ({PERCENT - PERCENT * share:.0f} %) by "
        f"the meter. Eye protection and gloves; {caution}"
    )
