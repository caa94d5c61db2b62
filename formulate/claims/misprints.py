"""A number misprinted: one digit wrong, dropped or doubled, two neighbouring digits exchanged.

A last resort and weak by nature: among all the changes of a number some fit anything that
is not sure. So a change counts only where the right number decides the digit.
"""

import re
from dataclasses import dataclass
from itertools import pairwise

from formulate.checks import checked_number
from formulate.errors import InputError, shortened
from formulate.working import Shown

__all__ = ["Misprint", "misprints"]

LEAST_DIGITS = 3
SURE = 2.0  # standard uncertainties within which a change must bring the right number
HALF = 0.5
ROUNDING = 1e-9  # of the arithmetic itself
PLAIN = r"\d+(?:[.,]\d+)?"


@dataclass(frozen=True)
class Misprint(Shown):
    """
    One reading of a number that differs by a slip of the typesetter.

    Attributes
    ----------
    how : str
        "a digit misprinted", "two neighbouring digits exchanged", "a digit dropped" or
        "a digit doubled".
    printed : str
        The number as printed.
    meant : str
        The number as it should have been printed.
    value : float
        The latter. [-]
    """

    how: str
    printed: str
    meant: str
    value: float

    def __str__(self):
        return f"{self.how}: {self.meant} printed {self.printed}"


def misprints(text, right, uncertainty):
    """
    Return the misprints that would turn the right number into the printed one.

    Parameters
    ----------
    text : str
        The number as printed, of three significant digits or more.
    right : float
        What it should be, in the unit of the print. [-]
    uncertainty : float
        Standard uncertainty of that. [-]

    Returns
    -------
    tuple of Misprint
        The nearest first; none if the print is right, has too few digits, or if the right
        number is not known well enough to decide the digit.

    Raises
    ------
    InputError
        If the text is no plain number, or a number is not above 0.

    Examples
    --------
    >>> [str(one) for one in misprints("132.75", 135.75, 0.05)]
    ['a digit misprinted: 135.75 printed 132.75']
    """
    plain = _plain(text)
    right = checked_number(right, "right number", above=0)
    sure = checked_number(uncertainty, "uncertainty", above=0)
    if len(re.sub("[.,]", "", plain).lstrip("0")) < LEAST_DIGITS:
        return ()
    if _is_near(plain, right, sure):
        return ()
    found = {}
    for how, meant, gap in _changes(plain):
        if _is_near(meant, right, sure) and (gap is None or gap > 2 * SURE * sure):
            found.setdefault(
                meant, Misprint(how, plain, meant, float(meant.replace(",", ".")))
            )
    return tuple(sorted(found.values(), key=lambda one: abs(one.value - right)))


def _is_near(text, right, sure):
    """Return whether a number agrees with the right one to its last digit."""
    decimals = len(re.split("[.,]", f"{text}.")[1])
    room = SURE * sure + HALF * 10.0**-decimals
    return abs(float(text.replace(",", ".")) - right) <= room * (1 + ROUNDING)


def _plain(text):
    """Return a number as text, or raise if it is none that can be taken apart."""
    plain = text.strip() if isinstance(text, str) else ""
    if not re.fullmatch(PLAIN, plain):
        what = "give the number as printed, such as '132.75'"
        raise InputError(f"printed: {shortened(text)}: {what}")
    return plain


def _changes(text):
    """Yield (how, number as meant, least gap between two such changes) of every misprint."""
    yield from _exchanged(text)
    yield from _doubled(text)
    yield from _replaced(text)
    yield from _dropped(text)


def _place(text, position):
    """Return what one of a digit is worth."""
    whole = re.split("[.,]", text)[0]
    is_whole = position < len(whole)
    return 10.0 ** (len(whole) - 1 - position if is_whole else len(whole) - position)


def _is_written_so(text):
    """Return whether a number begins as people write it."""
    return not re.match(r"0\d", text)


def _replaced(text):
    for n, old in enumerate(text):
        if not old.isdigit():
            continue
        for new in "0123456789".replace(old, ""):
            meant = text[:n] + new + text[n + 1 :]
            if _is_written_so(meant):
                yield "a digit misprinted", meant, _place(text, n)


def _exchanged(text):
    places = [n for n, mark in enumerate(text) if mark.isdigit()]
    for one, other in pairwise(places):
        if text[one] == text[other]:
            continue
        marks = list(text)
        marks[one], marks[other] = text[other], text[one]
        meant = "".join(marks)
        if _is_written_so(meant):
            gap = 9.0 * _place(text, other)
            yield "two neighbouring digits exchanged", meant, gap


def _doubled(text):
    for n in range(1, len(text)):
        if text[n].isdigit() and text[n] == text[n - 1]:
            yield "a digit doubled", text[:n] + text[n + 1 :], None


def _dropped(text):
    for n in range(len(text) + 1):
        for new in "0123456789":
            meant = text[:n] + new + text[n:]
            if _is_written_so(meant):
                yield "a digit dropped", meant, _place(meant, n)
