"""Numbers as they are printed, with the step of their last digit."""

import re
from dataclasses import dataclass

from formulate.errors import InputError, shortened

__all__ = ["PrintedNumber", "is_untold", "printed_number"]

NOT_TOLD = re.compile(r"[-–—−.…?]*|n\.?\s*/?\s*[ad]\.?|none given|not given", re.I)
PLAIN_NUMBER = r"\d+(?:[.,]\d+)?|[.,]\d+"
SPACED = re.compile(r"(?<=\d)[\s'’](?=\d{3}(?:\D|$))")
BEFORE = re.compile(r"^(?:ca\.?|about|approx\.?|[~≈])\s*", re.I)
BEHIND = re.compile(r"\s*(?:%|°C|g/mol|[*†‡§¹²³]+|\s[a-e]|\([a-e1-9]\))$")
RANGE = re.compile(rf"({PLAIN_NUMBER})\s*(?:[-–—]|to)\s*({PLAIN_NUMBER})")


@dataclass(frozen=True)
class PrintedNumber:
    """
    A number as printed, with the step of its last digit.

    Attributes
    ----------
    text : str
        As printed.
    low : float
        Its value, or the lower end of a range. [-]
    high : float
        Its value, or the upper end. [-]
    step : float
        One unit of its last digit. [-]
    """

    text: str
    low: float
    high: float
    step: float

    @property
    def value(self):
        """Return its value, or the middle of a range. [-]"""
        return (self.low + self.high) / 2

    @property
    def digits(self):
        """Return how many significant digits are printed. [-]"""
        found = re.sub(r"\D", "", self.text.split("-")[0]).lstrip("0")
        return max(len(found), 1)

    def holds(self, exact, allowed=0.0):
        """
        Return whether it is a value rounded to the nearest, or a value is in the range.

        Parameters
        ----------
        exact : float
            The value. [-]
        allowed : float
            What more it may be off. [-]

        Returns
        -------
        bool
            Whether it holds.

        Examples
        --------
        >>> printed_number("0.4364").holds(0.43643), printed_number("0.4365").holds(0.43643)
        (True, False)
        """
        reach = self.step / 2 + allowed + 1e-9 * max(abs(exact), 1e-3)
        return self.low - reach <= exact <= self.high + reach

    def is_cut(self, exact):
        """
        Return whether it is a value whose further digits were cut off.

        Parameters
        ----------
        exact : float
            The value. [-]

        Returns
        -------
        bool
            Whether it is.

        Examples
        --------
        >>> printed_number("0.4487").is_cut(0.44878)
        True
        """
        return self.low <= exact < self.high + self.step * (1 - 1e-9)


def is_untold(text):
    """
    Return whether a cell tells nothing.

    Parameters
    ----------
    text : str
        The cell.

    Returns
    -------
    bool
        Whether it is empty, a dash or "n/a".

    Examples
    --------
    >>> is_untold("–"), is_untold("0")
    (True, False)
    """
    return bool(NOT_TOLD.fullmatch(text.strip()))


def printed_number(text):
    """
    Return a number or a range of numbers as printed.

    Parameters
    ----------
    text : str
        Such as "46.6", "46,6 %", "1 290" or "17-18".

    Returns
    -------
    PrintedNumber
        With the step of its last digit.

    Raises
    ------
    InputError
        If it is no number.

    Examples
    --------
    >>> printed_number("46,60 %").value, printed_number("46,60").step
    (46.6, 0.01)
    """
    plain = SPACED.sub("", BEFORE.sub("", text.strip()))
    while BEHIND.search(plain):
        plain = BEHIND.sub("", plain)
    found = RANGE.fullmatch(plain)
    parts = found.groups() if found else (plain, plain)
    if not all(re.fullmatch(PLAIN_NUMBER, part) for part in parts):
        raise InputError(f"{shortened(text)} is no number; write it like 46.6")
    low, high = (float(part.replace(",", ".")) for part in parts)
    decimals = max(
        len(re.split("[.,]", part)[1:2] and re.split("[.,]", part)[1]) for part in parts
    )
    if low > high:
        raise InputError(f"{shortened(text)}: a range ends above where it begins")
    return PrintedNumber(plain, low, high, 10.0**-decimals)
