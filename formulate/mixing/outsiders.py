"""What is no ingredient and must still not meet some: bleach, metals, organic matter."""

from dataclasses import dataclass
from functools import cache

from formulate.ingredients.hazards import is_meant
from formulate.mixing.pair_grounds import Ground
from formulate.tables import read_table

__all__ = ["Outsider", "outsider", "outsider_grounds"]


@dataclass(frozen=True)
class Outsider:
    """
    Something of which only rules are known, no composition.

    Attributes
    ----------
    name : str
        Its name.
    rules : tuple of str
        Keys of the table dangerous_pairs that speak of it.
    source_key : str
        Where the rules come from.
    """

    name: str
    rules: tuple
    source_key: str


@cache
def _by_words():
    """Return every word for an outsider, in small letters, to it."""
    found = {}
    for row in read_table("outsiders"):
        rules = tuple(row["rules"].split("|"))
        made = Outsider(row["name"], rules, row["source_key"])
        for word in (row["name"], *row["words"].split("|")):
            found[word.casefold()] = made
    return found


def outsider(thing):
    """
    Return the outsider that is meant.

    Parameters
    ----------
    thing : object
        A name.

    Returns
    -------
    Outsider or None
        It; None if the name means none.

    Examples
    --------
    >>> outsider("bleach").name, outsider("KNO3")
    ('hypochlorite (bleach)', None)
    """
    if isinstance(thing, Outsider):
        return thing
    if not isinstance(thing, str):
        return None
    return _by_words().get(" ".join(thing.split()).casefold())


def outsider_grounds(ingredient, other):
    """
    Return what the tables say of an ingredient and an outsider.

    Parameters
    ----------
    ingredient : Ingredient
        The ingredient.
    other : Outsider
        What it meets.

    Returns
    -------
    tuple of Ground
        Dangers; or one caution that no table says that the two keep together.

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> outsider_grounds(as_ingredient("nitric acid (60 %)"), outsider("bleach"))[0].word
    'dangerous'
    """
    found = [
        Ground("dangerous", row["key"], row["text"], None, row["source_key"])
        for row in read_table("dangerous_pairs")
        if row["key"] in other.rules and is_meant(ingredient, row["first"])
    ]
    text = (
        f"no table says that {other.name} may meet {ingredient.name}: keep them apart"
    )
    unknown = Ground("caution", other.name, text, None, other.source_key)
    return tuple(found) or (unknown,)
