"""The rows that a table always shows, so that nothing jumps when a value is typed."""

from formulate.errors import FormulateError
from formulate.stoichiometry.nutrients import nutrient

__all__ = ["named", "rows_in_order", "same_key"]

READINGS = {"ph": "pH", "ec": "EC", "alkalinity": "alkalinity"}


def _about(key):
    """Return what a key is about: a reading, or the forms that it counts."""
    word = " ".join(str(key).split()).casefold()
    if word in READINGS:
        return word
    try:
        forms = frozenset(nutrient(key).weights)
    except FormulateError:
        return word
    return "alkalinity" if forms == {"carbonate"} else forms


def same_key(one, other):
    """
    Return whether two keys are about the same: "sodium" and "Na", "ph" and "pH".

    Parameters
    ----------
    one : str
        A key.
    other : str
        Another.

    Returns
    -------
    bool
        Whether they are.

    Examples
    --------
    >>> same_key("sodium", "Na"), same_key("K", "Ca")
    (True, False)
    """
    return _about(one) == _about(other)


def rows_in_order(usual, typed):
    """
    Return the keys of a table: the usual ones, each as it was typed where it was.

    Parameters
    ----------
    usual : sequence of str
        Keys that are always shown, in their order.
    typed : iterable of str
        Keys that were typed.

    Returns
    -------
    tuple of str
        Keys; those that are not usual stand last, as they came.

    Examples
    --------
    >>> rows_in_order(("Ca", "S", "pH"), ("pH", "SO4", "Co"))
    ('Ca', 'SO4', 'pH', 'Co')
    """
    left, found = list(dict.fromkeys(typed)), []
    for key in usual:
        same = [other for other in left if _about(other) == _about(key)]
        found += same or [key]
        left = [other for other in left if other not in same]
    return (*found, *left)


def named(key):
    """
    Return a key with its name, for a row of a table.

    Parameters
    ----------
    key : str
        Nutrient key or reading.

    Returns
    -------
    str
        Name and key.

    Examples
    --------
    >>> named("Ca"), named("pH")
    ('calcium (Ca)', 'pH')
    """
    try:
        known = nutrient(key)
    except FormulateError:
        return str(key)
    return f"{known.name} ({known.key})"
