"""How far a recipe may be off: wanted rows as hard rows, each within its band.

A wanted value or range is widened either way by a share of its middle. What the hard rows
alone keep further away than that is out of reach and held as near as it can be brought. If
the bands cannot hold together, the smallest share that can takes their place. Each answer is
that of a linear programme; no recipe at hand has a say.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from formulate.errors import Infeasible
from formulate.notices import Notice
from formulate.recipes.forced import distance
from formulate.recipes.least_cost import least_cost
from formulate.recipes.requirement import HARD
from formulate.recipes.wishes import NEAR, WITHIN, bound_rows, is_ceiling, own_rows
from formulate.working import printed_percent

__all__ = [
    "Reach",
    "reach_of",
    "reachable_bands",
    "with_deviation",
]

INSIDE = 1e-9  # of a band: so much less, so that rounding cannot put a value outside
ROOM = 1e-9  # of a scale: so much more for what a programme found to be the least
SEEN = 1e-7  # share: less is what programmes leave
STEP = 1e-4  # share: a common share is told and taken to this
TELLS = 1e-6  # share: less is no widening to tell of
PER_CENT = 100.0


def reachable_bands(requirements, count, share):
    """
    Return wanted rows as hard ones, each within a band that all can keep together.

    Wishes whose bands cannot hold take the smallest common share that can; the others keep
    their bands.

    Parameters
    ----------
    requirements : sequence of Requirement
        The rows of a recipe, hard and wanted.
    count : int
        How many ingredients there are. [-]
    share : float or mapping of str to float
        Band either way, of a row's scale; or nutrient key to band, 0 of what is not named.
        [-]

    Returns
    -------
    rows : tuple of Requirement
        The hard row of each wanted one that counts, with origin "within".
    told : tuple of Notice
        What is out of reach, and what had to be taken in place of the bands.

    Raises
    ------
    Infeasible
        If the hard rows alone cannot all hold.

    Examples
    --------
    Two wishes of one ingredient that are 20 % apart can both be 10 % off at best:

    >>> from formulate.recipes.requirement import Requirement
    >>> k = Requirement("K", (1.0,), 0.9, 0.9, key="K")
    >>> n = Requirement("N", (1.0,), 1.1, 1.1, key="N")
    >>> rows, told = reachable_bands([k, n], 1, 0.05)
    >>> [(row.name, round(row.low, 6), round(row.high, 6)) for row in rows]
    [('K, within 10 %', 0.8, 1.0), ('N, within 10 %', 1.0, 1.2)]
    >>> told[0].what
    'K, N: 5 % cannot be kept together with the rest; 10 % is the least, so that is taken'
    """
    reach = reach_of(requirements, count, share)
    return reach.rows(), reach.told


# --- what the shelf can reach ----------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Reach:
    """
    What of the wanted rows can be reached, and how near all come together.

    Attributes
    ----------
    count : int
        How many ingredients there are. [-]
    hard : tuple of Requirement
        The rows that must hold.
    wishes : tuple of Requirement
        The wanted rows; one out of reach has room up to the nearest it can be brought.
    bands : tuple of float
        Band of each wish; 0 beyond the nearest of one that is out of reach. [-]
    out : tuple of Notice or None
        Of each wish, what to know if it is out of reach.
    ceilings : tuple of Requirement
        Hard rows of what is to stay low.
    told_ceilings : tuple of Notice
        What of these had to be let in.
    near : tuple of Requirement
        Hard rows that hold amounts near others; what is out of reach does not hang on them.
    """

    count: int
    hard: tuple
    wishes: tuple
    bands: tuple
    out: tuple
    ceilings: tuple
    told_ceilings: tuple = ()
    near: tuple = ()

    def programme(self, places=None, share=0.0):
        """
        Return rows over the amounts and one amount more: the share by which all are off.

        Parameters
        ----------
        places : collection of int or None
            Places of the wishes that may be off by the share; others keep their bands.
            All may if None. [-]
        share : float
            A share that is free. [-]

        Returns
        -------
        tuple of Requirement
            The hard rows.

        Examples
        --------
        >>> from formulate.recipes.requirement import Requirement
        >>> reach = reach_of([Requirement("K", (1.0,), 1.0, 1.0)], 1, 0.05)
        >>> [(row.coefficients, row.low) for row in reach.programme()]
        [((1.0, 1.0), 1.0), ((1.0, -1.0), -inf)]
        """
        held = (*self.hard, *self.ceilings, *self.near)
        rows = [with_deviation(row, 0.0) for row in held]
        for place, row in enumerate(self.wishes):
            if places is None or place in places:
                rows += _both_sides(row, share)
            else:
                held = _held(row, self.bands[place], "")
                rows.append(with_deviation(held, 0.0))
        return tuple(rows)

    def least(self):
        """
        Return the smallest share by which the worst wish is off, and such amounts.

        Returns
        -------
        share : float
            The share; what is out of reach counts from its nearest. [-]
        amounts : ndarray, shape (n,)
            Amounts at which it is. [g/L]

        Examples
        --------
        >>> from formulate.recipes.requirement import Requirement
        >>> wishes = [Requirement("K", (1.0,), 0.9, 0.9), Requirement("N", (1.0,), 1.1, 1.1)]
        >>> reach_of(wishes, 1, 0.2).least()[0].__round__(9)
        0.1
        """
        return _least(self.programme(), self.count)

    def deviation(self, amounts):
        """
        Return the share by which the worst wish is off at some amounts.

        Parameters
        ----------
        amounts : ndarray, shape (n,)
            The amounts. [g/L]

        Returns
        -------
        float
            The share; what is out of reach counts from its nearest. [-]

        Examples
        --------
        >>> from formulate.recipes.requirement import Requirement
        >>> reach = reach_of([Requirement("K", (1.0,), 1.0, 1.0)], 1, 0.05)
        >>> reach.deviation(np.array([0.75]))
        0.25
        """
        return max((abs(distance(row, amounts)) for row in self.wishes), default=0.0)

    def common(self):
        """
        Return the share that takes the place of bands that cannot hold; 0 if all hold.

        Returns
        -------
        float
            The smallest share with which all bands hold together, rounded up to 0.01 %: at
            the last digit cost would depend on rounding. [-]

        Examples
        --------
        >>> from formulate.recipes.requirement import Requirement
        >>> wishes = [Requirement("K", (1.0,), 0.9, 0.9), Requirement("N", (1.0,), 1.1, 1.1)]
        >>> reach_of(wishes, 1, 0.2).common(), round(reach_of(wishes, 1, 0.05).common(), 9)
        (0.0, 0.1)
        """
        return self._common

    @cached_property
    def _common(self):
        """Return the smallest share, group by group of the bands that give way first."""
        levels = sorted(set(self.bands))
        for level, after in zip(levels, [*levels[1:], math.inf], strict=False):
            places = {j for j, band in enumerate(self.bands) if band <= level}
            try:
                share, _ = _least(self.programme(places, level), self.count)
            except Infeasible:
                continue  # what has wider bands must give way too
            if share <= ROOM / 2:
                return 0.0
            if share <= SEEN:
                return level + share
            if level + share <= after:
                return math.ceil((level + share - 10 * ROOM) / STEP) * STEP
        return 0.0

    @cached_property
    def _gives(self):
        """Return which wishes must be off by the common share, so that the others need not.

        The least sum of what they are off beyond their bands tells them apart.
        """
        level = self._common + SEEN / 4
        places = [j for j, band in enumerate(self.bands) if band < self._common]
        rows = [*self.hard, *self.ceilings, *self.near]
        rows += [_held(row, max(self.bands[j], level), "") for j, row in self._numbered]
        rows = [_over_many(row, [0.0] * len(places)) for row in rows]
        for place, j in enumerate(places):
            rows += _over_own(self.wishes[j], place, len(places), self.bands[j])
        prices = (*(0.0,) * self.count, *(1000.0,) * len(places))
        off = least_cost(rows, prices).amounts[self.count :] if places else ()
        return {j for j, share in zip(places, off, strict=True) if share > SEEN}

    @property
    def _numbered(self):
        """Return (place, wish) of each wish."""
        return tuple(enumerate(self.wishes))

    def rows(self):
        """
        Return the wishes and ceilings as hard rows within their bands.

        Returns
        -------
        tuple of Requirement
            The rows.

        Examples
        --------
        >>> from formulate.recipes.requirement import Requirement
        >>> [row.name for row in reach_of([Requirement("K", (1.0,), 1.0, 1.0)], 1, 0.05).rows()]
        ['K, within 5 %']
        """
        found = []
        for place, row in self._numbered:
            share = self.bands[place]
            if place in self._gives:
                share = self._common
            words = f", within {_told_share(share)}"
            if self.out[place] is not None:
                words = ", as near as it can be brought"
            if self.out[place] is not None:
                share = share + STEP
            elif share <= self._common > 0:
                share = share + SEEN
            share = share or 2 * ROOM
            found.append(_held(row, share, words))
        return (*found, *self.ceilings)

    @property
    def told(self):
        """Return what is out of reach, and what is taken in place of the bands."""
        out = tuple(notice for notice in self.out if notice is not None)
        give = [(self.bands[j], self.wishes[j].key) for j in sorted(self._gives)]
        give = [pair for pair in give if pair[0] < self._common - TELLS]
        if not give:
            return (*out, *self.told_ceilings)
        asked = " and ".join(_told_share(band) for band in sorted({b for b, _ in give}))
        keys = _listed([key for _, key in give])
        what = (
            f"{keys}: {asked} cannot be kept together with the rest; "
            f"{_told_share(self._common)} is the least, so that is taken"
        )
        notice = Notice(what, "caution", self._common, min(give)[0])
        return (*out, notice, *self.told_ceilings)


def reach_of(requirements, count, share):
    """
    Return what of the wanted rows can be reached.

    Parameters
    ----------
    requirements : sequence of Requirement
        The rows of a recipe, hard and wanted.
    count : int
        How many ingredients there are. [-]
    share : float or mapping of str to float
        As in `reachable_bands`. [-]

    Returns
    -------
    Reach
        Wishes with their bands, and what is to stay low.

    Raises
    ------
    Infeasible
        If the hard rows alone cannot all hold.

    Examples
    --------
    Of the one ingredient there is half a gram:

    >>> from formulate.recipes.requirement import Requirement
    >>> on_hand = Requirement("on hand", (1.0,), high=0.5, kind="hard")
    >>> reach = reach_of([on_hand, Requirement("K", (1.0,), 1.0, 1.0)], 1, 0.05)
    >>> print(reach.out[0])
    caution: K: cannot be brought within 5 %: at best -50.0 %
    """
    hard = tuple(row for row in own_rows(requirements) if row.kind == HARD)
    near = tuple(row for row in requirements if row.origin == NEAR)
    bound = bound_rows(requirements)
    wishes = [row for row in bound if not is_ceiling(row)]
    low = [_held(row, 0.0, "") for row in bound if is_ceiling(row)]
    pull = [math.sqrt(row.weight) for row in bound if is_ceiling(row)]
    given = isinstance(share, Mapping)
    bands = [share.get(row.key, 0.0) if given else share for row in wishes]
    out = [None] * len(wishes)
    amounts = _closest(hard, wishes, low, pull, count)
    for j, row in enumerate(wishes):
        if abs(distance(row, amounts)) > bands[j] + ROOM:
            wishes[j], out[j] = _brought_near(hard, row, bands[j], count)
            bands[j] = 0.0 if out[j] else bands[j]
    if any(out):
        amounts = _closest(hard, wishes, low, pull, count)
    told = [_let_in(row, amounts) for row in low if distance(row, amounts) > TELLS]
    low = [_raised(row, amounts) for row in low]
    return Reach(count, hard, *map(tuple, (wishes, bands, out, low, told, near)))


def _brought_near(hard, row, band, count):
    """Return a row with room up to the nearest it can be brought by itself, and a notice."""
    rows = [with_deviation(one, 0.0) for one in hard]
    share, amounts = _least([*rows, *_both_sides(row, 0.0)], count)
    if share <= band + TELLS:
        return row, None
    value = row.constant + float(np.dot(row.coefficients, amounts))
    wider = replace(row, low=min(row.low, value), high=max(row.high, value))
    miss = distance(row, amounts)
    what = (
        f"{row.name}: cannot be brought within {_told_share(band)}: "
        f"at best {printed_percent(PER_CENT * miss)}"
    )
    return wider, Notice(what, "caution", miss, band)


def _closest(hard, wishes, low, pull, count):
    """Return amounts of the least sum of deviations.

    What is to stay low counts with the root of its weight, as in all objectives.
    """
    many = len(wishes) + len(low)
    rows = [_over_many(row, [0.0] * many) for row in hard]
    for place, row in enumerate((*wishes, *low)):
        rows += _over_own(row, place, many, 0.0)
    prices = [0.0] * count + [1000.0] * len(wishes)
    prices += [1000.0 * factor for factor in pull]
    return least_cost(rows, prices).amounts[:count]


def _let_in(row, amounts):
    """Return that what is to stay low comes along with what is wanted."""
    what = f"{row.name}: what is wanted brings more along; no more than that is let in"
    return Notice(what, "note", distance(row, amounts))


def _raised(row, amounts):
    """Return a ceiling that lets in what comes along."""
    over = distance(row, amounts)
    return (
        replace(row, high=row.high + (over + SEEN) * row.scale) if over > ROOM else row
    )


# --- rows ------------------------------------------------------------------------------


def with_deviation(row, value):
    """
    Return a row over one more amount, the deviation, for which this counts.

    Parameters
    ----------
    row : Requirement
        The row.
    value : float
        What one unit of deviation counts. [mmol/L]

    Returns
    -------
    Requirement
        The row.

    Examples
    --------
    >>> from formulate.recipes.requirement import Requirement
    >>> with_deviation(Requirement("K", (1.0,), 2.0, 2.0), 3.0).coefficients
    (1.0, 3.0)
    """
    return replace(row, coefficients=(*row.coefficients, float(value)), below=())


def _both_sides(row, floor):
    """Return both sides of a wanted row over the deviation beyond a floor."""
    give = floor * row.scale * (1 - INSIDE)
    found = []
    for side, sign in (("low", 1.0), ("high", -1.0)):
        end = getattr(row, side)
        if math.isfinite(end):
            ends = {"low": -math.inf, "high": math.inf}
            ends[side] = end - sign * give
            found.append(replace(with_deviation(row, sign * row.scale), **ends))
    return found


def _held(row, share, words):
    """Return a wanted row as a hard one within a band."""
    facts = {"kind": HARD, "origin": WITHIN, "weight": 1.0}
    if is_ceiling(row):
        beyond = 0.0 if row.high > 0 else row.scale  # above 0 it is where plants suffer
        name = f"{row.name}{', at most its scale' * bool(beyond)}"
        ends = {"low": -math.inf, "high": row.high + beyond}
        return replace(row, name=name, **ends, **facts)
    give = share * row.scale * (1 - INSIDE)
    ends = {"low": row.low - give, "high": row.high + give}
    return replace(row, name=f"{row.name}{words}", **ends, **facts)


def _least(rows, count):
    """Return the least deviation that rows allow, the last amount, and the other amounts."""
    best = least_cost(rows, (*(0.0,) * count, 1000.0))
    return best.cost, best.amounts[:-1]


def _over_own(row, place, many, floor):
    """Return both sides of a row over many deviations, of which one is its own."""
    found = []
    for side in _both_sides(row, floor):
        own = [0.0] * many
        own[place] = side.coefficients[-1]
        bare = replace(side, coefficients=side.coefficients[:-1])
        found.append(_over_many(bare, own))
    return found


def _over_many(row, values):
    """Return a row over some more amounts, for which these count."""
    more = (*row.coefficients, *map(float, values))
    return replace(row, coefficients=more, below=())


def _listed(names):
    """Return names in one line, each once."""
    return ", ".join(dict.fromkeys(names))


def _told_share(share):
    """Return a share in percent."""
    return f"{PER_CENT * share:.4g} %"
