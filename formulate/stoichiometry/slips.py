"""Classic confusions: which slip turns the expected number into the one that was found?

Every slip is a factor between two ways to write one thing, worked out from masses and
units. A slip can be made in either direction, alone or after another one.
"""

import math
import re
from dataclasses import dataclass
from functools import cache
from itertools import combinations_with_replacement

from formulate.checks import checked_number
from formulate.errors import UnknownName, shortened
from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.units import unit
from formulate.tables import read_table
from formulate.working import Quantity, Shown, Step, printed

__all__ = ["Diagnosis", "Explanation", "Slip", "explain_difference", "slips"]

LARGEST_NOISE = 0.2


@dataclass(frozen=True)
class Slip:
    """
    One way to mistake one thing for another.

    Attributes
    ----------
    key : str
        Its name in the table.
    words : str
        The slip in words, in the direction in which it was made.
    kind : str
        "basis", "hydrate", "unit", "meter", "ratio", "density", "count" or "power of ten".
    factor : float
        What the slip multiplies a number by. [-]
    """

    key: str
    words: str
    kind: str
    factor: float


@dataclass(frozen=True)
class Explanation(Shown):
    """
    One or two slips that turn the expected number into the one found.

    Attributes
    ----------
    slips : tuple of Slip
        The slips; none if the numbers agree as they are.
    factor : float
        Product of their factors. [-]
    misfit : float
        What is left over, relative to the found number. [-]
    arithmetic : str
        The line a teacher would write.
    """

    slips: tuple
    factor: float
    misfit: float
    arithmetic: str

    def __str__(self):
        words = ", and ".join(slip.words for slip in self.slips) or "the numbers agree"
        return f"{words}: {self.arithmetic}"


@dataclass(frozen=True)
class Diagnosis(Shown):
    """
    What may explain a difference.

    Attributes
    ----------
    candidates : tuple of Explanation
        Everything that fits within the noise, nearest and simplest first.
    noise : float
        Relative difference below which two numbers count as the same. [-]
    """

    candidates: tuple
    noise: float

    @property
    def agrees(self):
        """Return whether the numbers agree as they are."""
        return bool(self.candidates) and not self.candidates[0].slips

    @property
    def inseparable(self):
        """Return whether several explanations fit equally well within the noise."""
        return len(self.candidates) > 1 and not self.agrees

    def __str__(self):
        if not self.candidates:
            return f"no known slip explains it within {self.noise:.2%}"
        if self.agrees:
            return f"{self.candidates[0]} (within {self.noise:.2%})"
        if not self.inseparable:
            return str(self.candidates[0])
        lines = "\n".join(f"- {candidate}" for candidate in self.candidates)
        return f"these cannot be told apart within {self.noise:.2%}:\n{lines}"


def _value(text, ratio, density):
    """Return the number that a cell of the table stands for, or None if it lacks data."""
    if text in ("n", "n+1"):
        return None if ratio is None else ratio + (text == "n+1")
    if text == "density":
        return density
    number, _, thing = (
        text.partition(" ") if re.match(r"[\d.]+ ", text) else ("1", "", text)
    )
    if re.fullmatch(r"[\d.]+", thing):
        return float(thing)
    if thing.startswith("["):
        return float(number) * unit(thing[1:-1]).factor
    return float(number) * molar_mass(thing)


def slips(subject=None, *, ratio=None, density=None):
    """
    Return the slips that can befall a subject, in both directions.

    Parameters
    ----------
    subject : str or None
        A nutrient key, or "EC", "salt", "dilution", "liquid", "alkalinity"; all if None.
    ratio : float or None
        The n of a dilution 1 : n. [-]
    density : float or None
        Density of a liquid. [kg/L]

    Returns
    -------
    tuple of Slip
        The slips; those that need a ratio or a density only if it is given.

    Raises
    ------
    UnknownName
        If the subject is none of these.

    Examples
    --------
    >>> [slip.key for slip in slips("S") if slip.kind == "basis"][:2]
    ['so3-as-s', 'so3-as-s']
    """
    if ratio is not None:
        ratio = checked_number(ratio, "ratio", above=0)
    if density is not None:
        density = checked_number(density, "density in kg/L", above=0)
    return _slips(_subject(subject), ratio, density)


def _subject(subject):
    known = {word for row in read_table("slips") for word in row["subjects"].split()}
    if subject is None or (isinstance(subject, str) and subject in known):
        return subject
    try:
        return nutrient(subject).key
    except UnknownName:
        words = ", ".join(sorted(known))
        what = f"{shortened(subject)} is no subject of a slip; known: {words}"
        raise UnknownName(what) from None


@cache
def _slips(subject, ratio, density):
    found = []
    for row in read_table("slips"):
        words = row["subjects"].split()
        if subject is not None and subject not in words and "any" not in words:
            continue
        above = _value(row["numerator"], ratio, density)
        below = _value(row["denominator"], ratio, density)
        if above is None or below is None:
            continue
        written, meant = row["written"], row["meant"]
        key, kind, factor = row["slip"], row["kind"], above / below
        found.append(Slip(key, f"{written} taken for {meant}", kind, factor))
        found.append(Slip(key, f"{meant} taken for {written}", kind, 1 / factor))
    return tuple(found)


def explain_difference(
    found,
    expected,
    *,
    subject=None,
    noise=0.01,
    pairs=False,
    ratio=None,
    density=None,
    unit="",
):
    """
    Return what turns the expected number into the one that was found.

    Parameters
    ----------
    found : float
        The number on the label, in the report or in the answer, in `unit`. [-]
    expected : float
        What it should be, in the same unit. [-]
    subject : str or None
        A nutrient key or one of "EC", "salt", "dilution", "liquid"; all slips if None.
    noise : float
        Relative difference that rounding and measuring explain. [-]
    pairs : bool
        Whether to look for two slips at once where no single one fits.
    ratio : float or None
        The n of a dilution 1 : n. [-]
    density : float or None
        Density of a liquid. [kg/L]
    unit : str
        Unit of both numbers, for the printed line.

    Returns
    -------
    Diagnosis
        All that fits within the noise; "the numbers agree" is an answer too.

    Raises
    ------
    InputError
        If a number is not above 0, or the noise is not from 0 to 0.2.

    Examples
    --------
    >>> print(explain_difference(336, 112, subject="S", unit="mg/L"))
    SO4 taken for S: 112 mg/L × 2.99613 = 335.57 mg/L, found 336 mg/L
    """
    _check_numbers(found, expected, noise, ratio, density)
    single = [(), *((slip,) for slip in slips(subject, ratio=ratio, density=density))]
    fitting = _fitting(found, expected, noise, single, unit)
    if not fitting and pairs:
        known = slips(subject, ratio=ratio, density=density)
        double = (
            pair
            for pair in combinations_with_replacement(known, 2)
            if pair[0].key != pair[1].key
        )
        fitting = _fitting(found, expected, noise, double, unit)
    return Diagnosis(tuple(fitting), noise)


def _check_numbers(found, expected, noise, ratio, density):
    checked_number(found, "found", above=0)
    checked_number(expected, "expected", above=0)
    checked_number(noise, "noise", above=0, most=LARGEST_NOISE)


def _fitting(found, expected, noise, choices, unit):
    """Return the explanations within the noise: no slip first, then the nearest."""
    fitting = []
    for choice in choices:
        factor = math.prod(slip.factor for slip in choice)
        distance = math.log(found) - math.log(expected) - math.log(factor)
        misfit = math.expm1(min(distance, 1.0))
        if abs(misfit) <= noise:
            line = _line(found, expected, choice, unit)
            fitting.append(Explanation(choice, factor, misfit, line))
    return sorted(
        fitting, key=lambda candidate: (len(candidate.slips), abs(candidate.misfit))
    )


def _line(found, expected, choice, unit):
    terms = [Quantity(float(expected), unit)]
    for slip in choice:
        terms += ["×", Quantity(slip.factor)]
    line = Step("", tuple(terms), unit).arithmetic
    return f"{line}, found {_short(found)} {unit}".rstrip()


def _short(value):
    return f"{value:g}" if float(f"{value:g}") == value else printed(value, 6)
