"""Reads numbers with their units as people write them, and refuses what reads two ways."""

import math
import re
from numbers import Real

from formulate.errors import InputError, shortened
from formulate.stoichiometry.units import unit, unit_names

__all__ = ["check_volume", "checked_number", "read_number", "read_quantity"]

NUMBER = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?"


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


def _is_finite(value):
    """Return whether a value is a number that fits a float."""
    if not isinstance(value, Real) or isinstance(value, bool):
        return False
    try:
        return math.isfinite(value)
    except OverflowError:
        return False


def read_number(text):
    """
    Return a number as people write it, with a decimal point or comma.

    Parameters
    ----------
    text : str, int or float
        Such as "1.5", "1,5" or 1.5. [-]

    Returns
    -------
    float
        The number. [-]

    Raises
    ------
    InputError
        If it is no finite number, or a comma may be a decimal or a thousands mark.

    Examples
    --------
    >>> read_number("2,5")
    2.5
    """
    if isinstance(text, bool) or text is None:
        raise InputError(f"{shortened(text)} is no number")
    plain = str(text).strip().replace("−", "-").replace("\N{NO-BREAK SPACE}", " ")
    if re.fullmatch(r"[+-]?\d{1,3}(?:,\d{3})+", plain) and not plain.lstrip(
        "+-"
    ).startswith("0,"):
        digits, point = plain.replace(",", ""), plain.replace(",", ".")
        which = f"{digits} or {point}" if plain.count(",") == 1 else digits
        raise InputError(
            f"{shortened(text)}: is the comma a decimal mark? write {which}"
        )
    if not re.fullmatch(NUMBER, plain):
        raise InputError(f"{shortened(text)} is no number; write it like 2.5")
    number = float(plain.replace(",", "."))
    if number in (float("inf"), float("-inf")):
        raise InputError(f"{shortened(text)} is too large a number")
    return number


def read_quantity(text, *kinds, default=None):
    """
    Return a number with its unit.

    Parameters
    ----------
    text : str, int or float
        Such as "5 mL/L"; a bare number takes the default unit. [-]
    *kinds : str
        Kinds of unit that fit here; any if none is given.
    default : str or None
        Unit of a bare number; None if a unit must be written.

    Returns
    -------
    value : float
        The number, in the unit. [-]
    unit : Unit
        The unit.

    Raises
    ------
    InputError
        If there is no number, or a unit is needed and none is there.
    UnitError
        If the unit is unknown or of another kind.

    Examples
    --------
    >>> value, of = read_quantity("2,5 oz/100 US gal", "mass_concentration")
    >>> value, of.name
    (2.5, 'oz/100 US gal')
    """
    match = re.match(
        rf"\s*({NUMBER})\s*(.*?)\s*$", str(text).replace("−", "-"), re.DOTALL
    )
    if not match or isinstance(text, bool):
        raise InputError(f"{shortened(text)} is no quantity; write a number and a unit")
    number, name = match.groups()
    if name.startswith(","):
        raise InputError(f"{shortened(text)}: more than one comma; write it like 2.5")
    if name:
        return read_number(number), unit(name, *kinds)
    if default is None:
        known = ", ".join(unit_names(*kinds))
        raise InputError(f"{shortened(text)} has no unit; write one of {known}")
    return read_number(number), unit(default, *kinds)


def check_volume(volume):
    """
    Return a volume if it can be one.

    Parameters
    ----------
    volume : float or str
        Final made-up volume; text may carry its unit. [L]

    Returns
    -------
    float
        The volume. [L]

    Raises
    ------
    InputError
        If it is not above 0.

    Examples
    --------
    >>> check_volume("2 m3")
    2000.0
    """
    if isinstance(volume, str):
        value, of_unit = read_quantity(volume, "volume", default="L")
        volume = value * of_unit.factor
    try:
        litres = float(volume)
    except (TypeError, ValueError):
        raise InputError(
            f"volume: {shortened(volume)} is no number of litres"
        ) from None
    if not (math.isfinite(litres) and litres > 0) or isinstance(volume, bool):
        raise InputError(f"volume: {litres:g} L; it must be above 0")
    return litres
