"""Checks that what was given is a number, within its limits, or pairs of a thing and one."""

import math
from collections.abc import Iterable, Mapping
from numbers import Real

from formulate.errors import Faults, InputError, shortened

__all__ = ["checked_number", "checked_pairs", "checked_values"]


def checked_number(value, what, *, above=None, least=None, most=None):
    """
    Return a number if it is one, and within its limits.

    Parameters
    ----------
    value : float
        The number. [-]
    what : str
        What it is, with its unit, for the message.
    above : float or None
        It must be greater than this. [-]
    least : float or None
        It must not be less than this. [-]
    most : float or None
        It must not be greater than this. [-]

    Returns
    -------
    float
        The same number. [-]

    Raises
    ------
    InputError
        If it is no finite number, or outside the limits.

    Examples
    --------
    >>> checked_number(67, "strength in %", above=0, most=100)
    67.0
    """
    if getattr(value, "shape", None) == () and hasattr(value, "item"):
        value = value.item()
    if (
        _is_finite(value)
        and (above is None or value > above)
        and (least is None or value >= least)
        and (most is None or value <= most)
    ):
        return float(value)
    limits = (("above", above), ("from {} up", least), ("at most", most))
    words = [
        text.format(f"{limit:g}") if "{}" in text else f"{text} {limit:g}"
        for text, limit in limits
        if limit is not None
    ]
    wanted = " ".join(["a number", " and ".join(words)]).strip()
    raise InputError(f"{what}: {shortened(value)} is not {wanted}")


def checked_values(value, what):
    """
    Return a finite number, or an array of numbers as it is.

    Parameters
    ----------
    value : float or array
        The number or numbers. [-]
    what : str
        What it is, with its unit, for the message.

    Returns
    -------
    float or array
        The same. [-]

    Raises
    ------
    InputError
        If it is no number, or an array of anything else.

    Examples
    --------
    >>> checked_values(2, "K in mg/L")
    2.0
    """
    kind = getattr(getattr(value, "dtype", None), "kind", None)
    if kind is not None and getattr(value, "shape", ()):
        if kind not in "fiu":
            raise InputError(f"{what}: {shortened(value)} is no array of numbers")
        return value
    return checked_number(value, what)


def checked_pairs(parts, kind, words, check):
    """
    Return pairs of a thing and its number, each number checked.

    Parameters
    ----------
    parts : iterable of tuple
        The pairs.
    kind : type
        What the thing must be.
    words : tuple of str
        What is done, what the thing and what the number is called, for messages.
    check : callable
        Takes a number as given, returns it in house units or raises InputError.

    Returns
    -------
    list of tuple
        The pairs.

    Raises
    ------
    InputError
        With every fault: no pairs, pairs of something else, numbers that are none.

    Examples
    --------
    >>> checked_pairs([("a", 1)], str, ("mix", "name", "volume"), float)
    [('a', 1.0)]
    """
    verb, thing, number = words
    if not isinstance(parts, Iterable) or isinstance(parts, str | Mapping):
        raise InputError(f"{verb}: give ({thing}, {number}) pairs")
    faults, found = Faults(verb), []
    for place, pair in enumerate(parts, 1):
        with faults.collecting(f"part {place}"):
            is_pair = isinstance(pair, tuple | list) and len(pair) == 2
            if not is_pair or not isinstance(pair[0], kind):
                raise InputError(f"{shortened(pair)} is no ({thing}, {number}) pair")
            found.append((pair[0], check(pair[1])))
    if not found and not faults.found:
        faults.add(f"nothing to {verb}; give ({thing}, {number}) pairs")
    faults.raise_if_any()
    return found


def _is_finite(value):
    """Return whether a value is a number that fits a float."""
    if type(value) is float:
        return math.isfinite(value)
    if not isinstance(value, Real) or isinstance(value, bool):
        return False
    try:
        return math.isfinite(value)
    except OverflowError:
        return False
