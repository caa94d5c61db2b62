"""Reads numbers with their units as people write them, and refuses what reads two ways."""

import math
import re

from formulate.checks import checked_number
from formulate.errors import InputError, shortened
from formulate.stoichiometry.units import unit, unit_names

__all__ = ["check_volume", "read_number", "read_quantity"]

PLAIN = str.maketrans("−\N{NO-BREAK SPACE}", "- ")
THOUSANDS = r"[+-]?\d{1,3}(?:,\d{3})+"
LIKE_NUMBER = r"[+-]?[\d.,]*\d[\d.,]*(?:[eE][+-]?\d+)?"
NUMBER = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?"


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
    try:
        plain = str(text).strip().translate(PLAIN)
    except ValueError:  # a whole number of thousands of digits
        raise InputError(f"{shortened(text)} is too large a number") from None
    _refuse_two_marks(text, plain)
    if not re.fullmatch(NUMBER, plain):
        raise InputError(f"{shortened(text)} is no number; write it like 2.5")
    number = float(plain.replace(",", "."))
    if math.isinf(number):
        raise InputError(f"{shortened(text)} is too large a number")
    return number


def _refuse_two_marks(text, plain):
    """Raise if points and commas leave open where the decimals begin."""
    if "," in plain and "." in plain:
        bare = plain.replace(",", "").replace(".", "")
        what = (
            "a comma and a point; write thousands without a mark and decimals with one"
        )
        if bare.lstrip("+-").isdigit():
            raise InputError(f"{shortened(text)}: {what}")
    if re.fullmatch(THOUSANDS, plain) and not plain.lstrip("+-").startswith("0,"):
        digits, point = plain.replace(",", ""), plain.replace(",", ".")
        which = f"{digits} or {point}" if plain.count(",") == 1 else digits
        raise InputError(
            f"{shortened(text)}: is the comma a decimal mark? write {which}"
        )


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
    try:
        plain = str(text).translate(PLAIN)
    except ValueError:  # a whole number of thousands of digits
        raise InputError(f"{shortened(text)} is too large a number") from None
    match = re.match(rf"\s*({LIKE_NUMBER})\s*(.*?)\s*$", plain, re.DOTALL)
    if not match or isinstance(text, bool):
        raise InputError(f"{shortened(text)} is no quantity; write a number and a unit")
    number, name = match.groups()
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
    return checked_number(volume, "volume in L", above=0)
