"""What a label guarantees, as limits on what 100 g of the product hold."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from formulate.errors import shortened
from formulate.ingredients.ingredient import DENSITIES, Ingredient
from formulate.ingredients.label_amounts import UNCLEAR_CARBON
from formulate.ingredients.label_checks import element_grade
from formulate.ingredients.label_text import LabelReading, read_entries
from formulate.ingredients.label_words import family
from formulate.ingredients.labels import given_entry
from formulate.stoichiometry.nutrients import nutrient

__all__ = ["RULES", "Guarantee", "guarantees_of", "read_guarantees"]

RULES = ("us", "eu")
PERCENT = 100.0
HALF = 0.5
ROUND_OFF = 1e-9
OF_WHICH = ("part", "chelated", "complexed", "isomer")
NOT_WEIGHED = ("free", "uncounted", "slow")
UPPER = "at most"


@dataclass(frozen=True)
class Guarantee:
    """
    One share that a label gives, and what it may truly be.

    Attributes
    ----------
    key : str
        Nutrient key.
    percent : float
        The share as printed, by mass. [%]
    low : float
        The least it may be. [%]
    high : float
        The most it may be; infinite where the share is a minimum only. [%]
    step : float
        One unit of its last printed digit. [%]
    where : str
        Its place on the label.
    kind : str
        As in `LabelEntry`.
    agent : str
        Chelating agent, "other" if no form counts it, or "".
    """

    key: str
    percent: float
    low: float
    high: float
    step: float
    where: str = ""
    kind: str = "total"
    agent: str = ""

    @property
    def is_upper(self):
        """Return whether it is an upper limit only, and no guarantee of any."""
        return self.kind == UPPER

    @property
    def weight(self):
        """Return what its slack is counted in: its share, or a digit if that is 0. [%]"""
        return max(self.percent, self.step, ROUND_OFF)

    def __str__(self):
        name = f"grade {self.key}" if self.kind == "grade" else self.key
        return f"{name}{' at most' * self.is_upper} {self.percent:g} %"


def read_guarantees(claim, rule, faults, *, density=None):
    """
    Return a label, or what is known of it, as a reading.

    Parameters
    ----------
    claim : Ingredient, str or mapping of str to float
        A label that was read, its text, or label word or nutrient key to share; a share
        given as text shows its digits. [%]
    rule : str or None
        "us" or "eu": what a bare word means.
    faults : Faults
        Where faults go.
    density : float or None
        Density, where shares are by volume and the label does not print it. [kg/L]

    Returns
    -------
    LabelReading
        The entries.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> found = read_guarantees({"K2O": "46.0"}, "eu", Faults())
    >>> found.entries[0].key, found.entries[0].half_digit
    ('K2O', 0.05)
    """
    before = len(faults.found)
    reading = _reading(claim, rule, faults, density)
    if not reading.entries and len(faults.found) == before:
        faults.add("no guarantees; give shares such as {'N': '15', 'K2O': '30'}")
    return reading


def _reading(claim, rule, faults, density):
    """Return what was read, faults noted."""
    if isinstance(claim, Ingredient) and isinstance(claim.reading, LabelReading):
        return element_grade(claim.reading)
    if isinstance(claim, str):
        return element_grade(
            read_entries(claim, faults, basis=rule, density=density)[0]
        )
    if not isinstance(claim, Mapping):
        faults.add(
            f"{shortened(claim)} is no label; give one that was read, its text, or "
            "shares such as {'K2O': '46.0'}"
        )
        return LabelReading()
    entries = []
    for word, share in claim.items():
        with faults.collecting(shortened(word)):
            entries.append(given_entry(word, share, rule or RULES[0], []))
    return LabelReading(tuple(entries), basis=rule or "", density=density)


def guarantees_of(reading, rule, faults, *, overage=None, tolerance=0.0, density=None):
    """
    Return what the product may hold of each guaranteed nutrient.

    "us": shares are minima, rounded down; no upper limit but with `overage`. "eu": two-sided
    within the printed rounding. What is said to be part of another share is a minimum; "not
    more than" is an upper limit and nothing else, as printed.

    Parameters
    ----------
    reading : LabelReading
        The entries.
    rule : str
        "us" or "eu".
    faults : Faults
        Where faults go: no guarantee, more than 100 % in all, a share by volume without a
        density.
    overage : float or None
        How much more than a minimum, beside its rounding, the product may hold; None means
        any amount. [%]
    tolerance : float or mapping of str to float
        By how much the product may be off, beside the rounding; of each nutrient key, if a
        mapping. [%]
    density : float or None
        Density, where shares are by volume. [kg/L]

    Returns
    -------
    tuple of Guarantee
        In the order of the label.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> reading = read_guarantees({"K2O": "46"}, "us", Faults())
    >>> found = guarantees_of(reading, "us", Faults(), overage=0)
    >>> found[0].low, found[0].high
    (46.0, 47.0)
    """
    factor = _by_mass(reading, density, faults)
    made = tuple(
        _guarantee(entry, factor, rule, overage, _allowed(tolerance, entry.key))
        for entry in reading.entries
        if entry.kind not in NOT_WEIGHED and entry.key != UNCLEAR_CARBON
    )
    if reading.entries and not made:
        faults.add("no share tells what all of the product holds; give the guarantees")
    _check_sum(made, faults)
    return made


def _by_mass(reading, density, faults):
    """Return what turns a printed share into a share by mass."""
    if reading.share_of != "w/v":
        return 1.0
    known = density or reading.density
    if known is None:
        low, high = DENSITIES
        faults.add(f"shares by volume: give density= in kg/L, from {low:g} to {high:g}")
    return 1.0 / (known or 1.0)


def _allowed(tolerance, key):
    if isinstance(tolerance, Mapping):
        return float(tolerance.get(key, 0.0))
    return float(tolerance)


def _guarantee(entry, factor, rule, overage, allowed):
    """Return the limits of one entry."""
    share, half = entry.percent, entry.half_digit
    if rule == "us":
        low, high = share, math.inf
        if overage is not None:
            high = share * (1 + overage / PERCENT) + 2 * half + allowed
    else:
        low, high = share - half, share + half + allowed
    if entry.kind in OF_WHICH:
        high = math.inf
    if entry.kind == UPPER:
        low, high = 0.0, share + allowed
    return Guarantee(
        entry.key,
        share * factor,
        max(low - allowed, 0.0) * factor,
        high * factor,
        2 * half * factor,
        entry.where,
        entry.kind,
        entry.agent,
    )


def _check_sum(made, faults):
    """Note a fault if the elements that are guaranteed weigh more than the product."""
    of_element = {}
    for each in (each for each in made if not each.is_upper):
        element, known = family(each.key), nutrient(each.key)
        share = max(each.percent - each.step, 0.0) * _content(element, known)
        parts = of_element.setdefault(element, {})
        parts[each.key] = max(parts.get(each.key, 0.0), share)
    total = sum(map(_most, of_element.values()))
    if total > PERCENT + ROUND_OFF:
        listed = ", ".join(f"{e} {_most(p):.3g}" for e, p in of_element.items())
        faults.add(
            f"the guarantees hold at least {total:.4g} g of elements in 100 g "
            f"({listed}); look at the numbers and their bases"
        )


def _content(element, known):
    """Return the mass of an element in a mass of a nutrient as it is stated. [-]"""
    try:
        pure = nutrient(element)
    except LookupError:
        return 1.0
    name, weight = next(iter(known.weights.items()))
    atoms = weight / pure.weights.get(name, weight)
    return pure.molar_mass / known.molar_mass / atoms


def _most(shares):
    """Return the most that shares of one element tell: its whole, or its forms together."""
    forms = [v for k, v in shares.items() if len(nutrient(k).weights) == 1]
    seen = {}
    for key, value in shares.items():
        name = next(iter(nutrient(key).weights))
        if len(nutrient(key).weights) == 1:
            seen[name] = max(seen.get(name, 0.0), value)
    wholes = [v for k, v in shares.items() if len(nutrient(k).weights) > 1]
    return max([sum(seen.values()) if forms else 0.0, *wholes])
