"""What meters and a laboratory would find in many batches at once, and what of it holds.

A batch whose ions did not come to rest has no reading: it is not a number here, and it
counts as one that keeps no limit on a meter.
"""

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from formulate.chemistry.conductivity import ec
from formulate.chemistry.ionic_conductivity import REFERENCE
from formulate.chemistry.speciation import speciate
from formulate.errors import NoConvergence
from formulate.recipes.limits import Limit
from formulate.recipes.meters import air_of
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.solution import Solution
from formulate.working import printed

__all__ = ["SHARE", "Asked", "Readings", "limits_asked", "ranges_asked", "wilson_half"]

SAME = 1e-9  # share of a bound: nearer than this is on it
Z95 = 1.96  # standard deviations either way that hold 95 of 100
SHARE = "ammonium share"


@dataclass(frozen=True)
class Asked:
    """
    One bound of a limit, of the ammonium share or of a wanted range.

    Attributes
    ----------
    name : str
        The bound in words.
    limit : Limit
        What it is a bound of; its subject "ammonium share" is in percent of nitrogen.
    side : str
        "low", "high", or "" where both ends count together.

    Examples
    --------
    >>> from formulate.recipes.limits import limit
    >>> Asked("Na at most 50 mg/L", limit("Na", "at most 50 mg/L"), "high").bound
    50.0
    """

    name: str
    limit: Limit
    side: str = ""

    @property
    def bound(self):
        """Return the bound; of both ends the upper one. [-]"""
        return self.limit.low if self.side == "low" else self.limit.high

    def moved(self, margin):
        """
        Return the limit with this bound drawn in.

        Parameters
        ----------
        margin : float
            By how much, in the unit of the limit. [-]

        Returns
        -------
        Limit
            The narrower limit.

        Examples
        --------
        >>> from formulate.recipes.limits import limit
        >>> Asked("", limit("Na", "at most 50 mg/L"), "high").moved(5).high
        45.0
        """
        if self.side == "low":
            return replace(self.limit, low=self.limit.low + margin)
        return replace(self.limit, high=self.limit.high - margin)

    def keeps(self, values):
        """
        Return which values keep it.

        Parameters
        ----------
        values : ndarray
            Values, in the unit of the limit. [-]

        Returns
        -------
        ndarray of bool
            Whether each does; what is no number does not. [-]

        Examples
        --------
        >>> from formulate.recipes.limits import limit
        >>> held = Asked("", limit("Na", "at most 50 mg/L"), "high")
        >>> held.keeps(np.array([49.0, 51.0])).tolist()
        [True, False]
        """
        low = -math.inf if self.side == "high" else self.limit.low
        high = math.inf if self.side == "low" else self.limit.high
        low, high = low - SAME * abs(low or 1.0), high + SAME * abs(high or 1.0)
        return (values >= low) & (values <= high)


def limits_asked(target, rows=()):
    """
    Return each bound that must hold: limits on what a litre holds, and ammonium.

    Parameters
    ----------
    target : Target
        The target.
    rows : iterable of Requirement
        The rows of the recipe; without one of the ammonium share, that was dropped.

    Returns
    -------
    tuple of Asked
        The bounds. Amounts of ingredients are what is weighed, so they are no bounds here.

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> wish = target({"K": 200}, limits={"Na": "at most 50 mg/L"})
    >>> [one.name for one in limits_asked(wish)]
    ['Na at most 50 mg/L']
    """
    found = [
        Asked(held.named(side), held, "" if held.low == held.high else side)
        for held in target.limits
        if not held.of_amount
        for side in held.sides
    ]
    if any(row.origin == SHARE for row in rows):
        low, high = (100 * end for end in target.ammonium_share)
        held = Limit(SHARE, low, high, "% of N")
        ends = [("low", low, "at least")] if low > 0 else []
        ends += [("high", high, "at most")] if high < 100 else []
        names = {side: f"NH4-N {words} {end:g} % of N" for side, end, words in ends}
        found += [Asked(name, held, side) for side, name in names.items()]
    return tuple(found)


def ranges_asked(target):
    """
    Return the ranges that a target wishes for.

    Parameters
    ----------
    target : Target
        The target.

    Returns
    -------
    tuple of Asked
        One for each range, both ends together.

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> [one.name for one in ranges_asked(target({"K": "180-220"}))]
    ['K 180 to 220 mg/L']
    """
    found = []
    for key, ends in target.ranges.items():
        low, high = (end * nutrient(key).molar_mass for end in ends)
        name = f"{key} {printed(low, 3)} to {printed(high, 3)} mg/L"
        found.append(Asked(name, Limit(key, low, high)))
    if target.alkalinity is not None and target.alkalinity[0] < target.alkalinity[1]:
        low, high = target.alkalinity
        name = f"alkalinity {printed(low, 3)} to {printed(high, 3)} meq/L"
        found.append(Asked(name, Limit("alkalinity", low, high, "meq/L")))
    return tuple(found)


@dataclass(frozen=True, eq=False)
class Readings:
    """
    What a stack of batches shows; ions are worked out only once they are asked for.

    Attributes
    ----------
    stack : Solution
        The batches.
    """

    stack: Solution

    @cached_property
    def mixed(self):
        """Return the ions of the batches, closed to the air."""
        return _ions(self.stack)

    @cached_property
    def aired(self):
        """Return the ions of the batches, in balance with the air."""
        return _ions(self.stack, air_co2_ppm=air_of("pH"))

    @cached_property
    def warm(self):
        """Return the ions of the batches at the temperature that an EC is told for."""
        if self.stack.temperature == REFERENCE:
            return self.mixed
        return _ions(self.stack, temperature=REFERENCE)

    def meter(self, subject):
        """
        Return what a meter shows of each batch.

        Parameters
        ----------
        subject : str
            "EC", "pH" (in balance with the air) or "pH when mixed".

        Returns
        -------
        ndarray
            The readings; not a number where the ions did not come to rest. [-]

        Examples
        --------
        >>> from formulate.stoichiometry.solution import Solution
        >>> found = Readings(Solution({"potassium": np.ones(2), "chloride": np.ones(2)}))
        >>> found.meter("EC").round(2).tolist()
        [0.15, 0.15]
        """
        if subject not in self._shown:
            state = {"EC": "warm", "pH": "aired"}.get(subject, "mixed")
            state = getattr(self, state)
            with np.errstate(all="ignore"):
                values = ec(state) if subject == "EC" else state.ph
            self._shown[subject] = np.where(state.settled, values, np.nan)
        return self._shown[subject]

    @cached_property
    def _shown(self):
        return {}

    def value(self, held):
        """
        Return what each batch has of what a limit is about.

        Parameters
        ----------
        held : Limit
            The limit.

        Returns
        -------
        ndarray
            The values, in the unit of the limit. [-]

        Examples
        --------
        >>> from formulate.recipes.limits import limit
        >>> from formulate.stoichiometry.solution import Solution
        >>> found = Readings(Solution({"potassium": np.ones(2), "calcium": np.ones(2)}))
        >>> found.value(limit("K:Ca", "1 to 2")).round(3).tolist()
        [0.976, 0.976]
        """
        if held.subject == SHARE:
            parts = [nutrient(key).weights for key in ("NH4-N", "N")]
            sums = [_counted(weights, self.stack) for weights in parts]
            return 100 * _ratio(*sums, of_nothing=0.0)
        if held.is_metered:
            return self.meter(held.subject)
        sums = [_counted(weights, self.stack) for weights in held.weights()]
        return sums[0] if len(sums) == 1 else _ratio(*sums)


def _ions(stack, **given):
    """Return the ions of a stack; those that do not come to rest are marked as such."""
    try:
        return speciate(stack, **given)
    except NoConvergence as error:
        return error.state


def _counted(weights, stack):
    """Return the weighted sum of the forms of a stack, one for each of its solutions."""
    found = weights.get("charge", 0.0) * np.asarray(stack.unassigned_charge)
    found = found + np.zeros(np.broadcast_shapes(*map(np.shape, stack.forms.values())))
    terms = [weights[key] * v for key, v in stack.forms.items() if key in weights]
    return sum(terms, found)


def _ratio(above, below, of_nothing=math.nan):
    """Return a ratio; infinity to nothing, a stated value of nothing to nothing."""
    whole = np.where(above > 0, math.inf, of_nothing)
    return np.divide(above, below, out=whole, where=below > 0)


def wilson_half(probability, draws):
    """
    Return how far a probability counted in draws may be off, 95 of 100 times.

    Half of Wilson's interval of a binomial share; it is not 0 where all draws agree. Draws
    that are spread over each input by design scatter less, so it is an upper bound.

    Equation [wilson-1927]::

        half = z/(1 + z²/n) √(p (1 − p)/n + z²/(4 n²))        z = 1.96

    Parameters
    ----------
    probability : float
        Share of the draws. [-]
    draws : int
        How many there were. [-]

    Returns
    -------
    float
        How far either way. [-]

    Examples
    --------
    >>> round(wilson_half(0.5, 10_000), 4), round(wilson_half(1.0, 10_000), 4)
    (0.0098, 0.0002)
    """
    z = Z95
    inside = probability * (1 - probability) / draws + (z / (2 * draws)) ** 2
    return z / (1 + z**2 / draws) * math.sqrt(inside)
