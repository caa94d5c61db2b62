"""Finds ingredients of the catalogue by name, formula, other names, use or nutrient."""

from formulate.ingredients.salt_words import other_names, plain_words
from formulate.ingredients.salts import catalogue
from formulate.tables import read_table

__all__ = ["found_in_catalogue"]

SUBSCRIPTS = str.maketrans("₀₁₂₃₄₅₆₇₈₉·.", "0123456789  ")


def found_in_catalogue(text, *, most=8):
    """
    Return the ingredients of the catalogue that all words of a text fit.

    Parameters
    ----------
    text : str
        Words or parts of words: of a name, a formula, a use.
    most : int
        How many to return. [-]

    Returns
    -------
    tuple of Ingredient
        Those whose name begins with the text first, then those with it as words of their
        name, liquids before the rest, then in the order of the catalogue.

    Examples
    --------
    >>> [ingredient.name for ingredient in found_in_catalogue("kno3")]
    ['potassium nitrate']
    >>> found_in_catalogue("iron dtpa")[0].name
    'iron DTPA chelate (11 % Fe)'
    """
    words = _plain(text).split()
    if not words:
        return ()
    rows = [row for row in read_table("catalogue") if _fits(row, words)]
    start = " ".join(words)
    rows.sort(key=lambda row: _nearness(row, start))
    return tuple(catalogue()[row["name"]] for row in rows[:most])


def _nearness(row, start):
    """Return 0 for a name that begins so, 1 or 2 for one with these words, else 3."""
    name = _plain(row["name"])
    if name.startswith(start):
        return 0
    if f" {start} " in f" {name} ":
        return 1 if row["state"] == "liquid" else 2
    return 3


def _fits(row, words):
    told = ("name", "formula", "aliases", "use", "analysis", "sold_grade")
    where = _plain(" ".join(row[column] for column in told))
    asked = (row["name"], *row["aliases"].split("|"), *row["asked_back"].split("|"))
    others = " ".join(text for name in asked if name for text in other_names(name))
    return all(word in where or plain_words(word) in others for word in words)


def _plain(text):
    return " ".join(str(text).casefold().translate(SUBSCRIPTS).split())
