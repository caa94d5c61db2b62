"""Where habit and the trade's rule put an ingredient in the order of mixing."""

from functools import cache

from formulate.ingredients.hazards import is_meant
from formulate.tables import read_table

__all__ = ["class_row", "mixing_class", "trade_order"]


@cache
def _classes():
    return sorted(
        read_table("mixing_classes"), key=lambda row: row.number("looked_for")
    )


def class_row(ingredient):
    """
    Return the line of the class that an ingredient belongs to.

    Parameters
    ----------
    ingredient : Ingredient
        The ingredient.

    Returns
    -------
    Row
        Its line in the table mixing_classes.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> class_row(salt("CaCl2"))["class"]
    'calcium'
    """
    return next(row for row in _classes() if is_meant(ingredient, row["terms"]))


def mixing_class(ingredient):
    """
    Return which class an ingredient belongs to in the order of mixing.

    Parameters
    ----------
    ingredient : Ingredient
        The ingredient.

    Returns
    -------
    str
        "silicate", "alkali", "acid", "base", "sulfate", "trace" or "calcium".

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> mixing_class(salt("MgSO4·7H2O"))
    'sulfate'
    """
    return class_row(ingredient)["class"]


def trade_order(batch):
    """
    Return the order of the trade's rule: base first, Epsom salt next, calcium last.

    Parameters
    ----------
    batch : Batch
        The batch.

    Returns
    -------
    tuple of str
        Names; silicate and acids before the base, traces before the calcium.

    Examples
    --------
    >>> from formulate.mixing.batch import batch_of
    >>> trade_order(batch_of({"CaCl2": 5.0, "MgSO4": 5.0, "KNO3": 5.0}, volume=10))
    ('KNO3', 'MgSO4', 'CaCl2')
    """
    ranks = [class_row(i).number("trade_place") for i in batch.ingredients]
    places = sorted(range(len(ranks)), key=ranks.__getitem__)
    return tuple(batch.names[place] for place in places)
