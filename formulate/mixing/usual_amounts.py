"""How much of an ingredient a litre of working solution usually holds.

The first line of the table usual_amounts that fits an ingredient gives the amount of its
leading ion; main salts are those of Hoagland No. 1, trace elements those of its
micronutrient stock. It is an order of magnitude to judge stocks by, not a recipe.
"""

from formulate.errors import MissingData, shortened
from formulate.ingredients.hazards import is_meant
from formulate.ingredients.salts import as_ingredient
from formulate.tables import read_table

__all__ = ["usual_amount", "usual_class"]


def usual_class(ingredient):
    """
    Return the line of the table usual_amounts that fits an ingredient.

    Parameters
    ----------
    ingredient : Ingredient or str
        The ingredient, its formula or its name in the catalogue.

    Returns
    -------
    Row
        The line: its leading ion, amount and source.

    Raises
    ------
    MissingData
        If none fits.

    Examples
    --------
    >>> usual_class("MgSO4·7H2O")["class"]
    'magnesium'
    """
    found = as_ingredient(ingredient)
    for row in read_table("usual_amounts"):
        if is_meant(found, row["terms"]):
            return row
    what = "no usual amount is known; write grams_per_litre"
    raise MissingData(f"{shortened(found.name)}: {what}")


def usual_amount(ingredient):
    """
    Return how much of an ingredient a litre of working solution usually holds.

    Parameters
    ----------
    ingredient : Ingredient or str
        The ingredient, its formula or its name in the catalogue.

    Returns
    -------
    float
        Grams in a litre, or millilitres of what is measured so. [g/L]

    Raises
    ------
    MissingData
        If no line of the table fits.

    Examples
    --------
    Hoagland No. 1 holds 5 mmol/L of potassium nitrate:

    >>> round(usual_amount("KNO3"), 4)
    0.5055
    """
    found = as_ingredient(ingredient)
    row = usual_class(found)
    lead = sum(found.forms.get(form, 0.0) for form in row["lead"].split("|"))
    return row.number("amount") / lead
