"""Whole steps that are best: an integer programme for the worst deviation or the cost."""

import math
from dataclasses import dataclass, replace

import numpy as np

from formulate.recipes.few_choice import (
    COST,
    SAME,
    SUM,
    TINY,
    WORST,
    Task,
    most_of,
)
from formulate.recipes.programme import Lines, Programme

__all__ = ["Counted", "Steps", "best_counts", "is_impossible", "ordered"]

KEPT = 1e-8  # a hard row broken by less, relative to its size, is kept
SEEN = 1e-6  # HiGHS sees no less, where amounts are not whole
CAPPED = 1e-10  # what a distance may be above its cap, for rounding
MARGIN = 1e-6  # by how much more the programme keeps a hard row, relative to its size
PERCENT = 100.0  # distances are measured so finely that HiGHS sees them
RANKS = 3  # how many worst distances, one after the other


@dataclass(frozen=True, eq=False)
class Steps:
    """
    What is asked of whole steps, over all ingredients.

    Attributes
    ----------
    near : Lines
        Rows whose worst distance counts.
    held : Lines
        Rows that must hold, an exact one by half a step of everything either way.
    squares : Lines
        Wanted rows as the nearest recipe weighs them.
    sizes : ndarray, shape (n,)
        One step in a litre; 0 for what has none. [g/L]
    usable : ndarray of bool, shape (n,)
        What may be taken. [-]
    prices : ndarray, shape (n,), or None
        What a gram, or a millilitre of a stock, costs. [currency/g]
    most : int or None
        How many ingredients, at most. [-]
    caps : ndarray, shape (m,), or None
        What the distances of rows that count no more may be; infinity of those that do,
        None if all do. [-]
    fixed : ndarray, shape (n,), or None
        What an amount must be; not a number of those that are free. [g/L]
    """

    near: Lines
    held: Lines
    squares: Lines
    sizes: np.ndarray
    usable: np.ndarray
    prices: np.ndarray | None = None
    most: int | None = None
    caps: np.ndarray | None = None
    fixed: np.ndarray | None = None

    @property
    def is_fixed(self):
        """Return which amounts are given. [-]"""
        if self.fixed is None:
            return np.zeros(len(self.sizes), dtype=bool)
        return np.isfinite(self.fixed)

    @property
    def is_free(self):
        """Return what may be used in any amount. [-]"""
        return self.usable & ~self.is_whole & ~self.is_fixed

    def none(self):
        """
        Return no amounts but those that are given.

        Returns
        -------
        ndarray, shape (n,)
            The amounts. [g/L]

        Examples
        --------
        >>> none = Lines(np.zeros((0, 1)), np.zeros(0), np.zeros(0))
        >>> Steps(none, none, none, np.ones(1), np.ones(1, bool)).none()
        array([0.])
        """
        given = 0.0 if self.fixed is None else self.fixed
        return np.where(self.is_fixed, given, 0.0)

    @property
    def is_open(self):
        """Return which rows' distances count. [-]"""
        if self.caps is None:
            return np.ones(len(self.near.low), dtype=bool)
        return np.isinf(self.caps)

    def given(self, value):
        """
        Return what the distance of each row may be, if that of those that count is known.

        Parameters
        ----------
        value : float
            Distance of those that count. [-]

        Returns
        -------
        ndarray, shape (m,)
            The distances. [-]

        Examples
        --------
        >>> none = Lines(np.zeros((0, 1)), np.zeros(0), np.zeros(0))
        >>> row = Lines(np.array([[2.0]]), np.array([3.0]), np.array([4.0]))
        >>> Steps(row, none, none, np.ones(1), np.ones(1, bool)).given(0.5)
        array([0.5])
        """
        caps = 0.0 if self.caps is None else self.caps
        return np.where(self.is_open, value, caps)

    @property
    def is_whole(self):
        """Return what comes in steps. [-]"""
        return (self.sizes > 0) & ~self.is_fixed

    def worst(self, amounts):
        """
        Return the worst distance at some amounts.

        Parameters
        ----------
        amounts : ndarray, shape (n,)
            Amounts per litre. [g/L]

        Returns
        -------
        float
            The distance. [-]

        Examples
        --------
        >>> none = Lines(np.zeros((0, 1)), np.zeros(0), np.zeros(0))
        >>> row = Lines(np.array([[2.0]]), np.array([3.0]), np.array([4.0]))
        >>> Steps(row, none, none, np.ones(1), np.ones(1, bool)).worst(np.array([1.0]))
        1.0
        """
        return float(self.near.distances(amounts)[self.is_open].max(initial=0.0))

    def is_kept(self, amounts, give=KEPT):
        """
        Return whether amounts keep all that must hold.

        Parameters
        ----------
        amounts : ndarray, shape (n,) or (k, n)
            Amounts per litre. [g/L]
        give : float
            By how much a hard row may be broken, relative to its size. [-]

        Returns
        -------
        bool or ndarray of bool, shape (k,)
            Whether they do. [-]

        Examples
        --------
        >>> none = Lines(np.zeros((0, 1)), np.zeros(0), np.zeros(0))
        >>> asked = Steps(none, none, none, np.ones(1), np.ones(1, bool))
        >>> bool(asked.is_kept(np.array([1.0])))
        True
        """
        kept = self.held.distances(amounts).max(axis=-1, initial=0.0) <= give
        kept &= (np.asarray(amounts) >= -TINY).all(axis=-1)
        off = self.near.distances(amounts) - self.given(np.inf)
        kept &= off.max(axis=-1, initial=-np.inf) <= CAPPED
        if self.most is not None:
            kept &= (np.asarray(amounts) > TINY).sum(axis=-1) <= self.most
        return kept


@dataclass(frozen=True, eq=False)
class Counted:
    """
    Amounts in whole steps.

    Attributes
    ----------
    amounts : ndarray, shape (n,)
        Amount of each ingredient. [g/L]
    value : float
        Worst distance, or cost of a litre. [-]
    bound : float
        What no whole steps lie below. [-]
    is_proven : bool
        Whether nothing is better.
    """

    amounts: np.ndarray
    value: float
    bound: float
    is_proven: bool


def best_counts(steps, objective, *, within=0.0, known=None, time_limit=None):
    """
    Return whole steps at which the worst distance, or the cost, is least.

    Equation of the best whole steps [definition]::

        minimise max over rows of d / scale, or c·x        x = step × whole number
        proven where best value − bound of the search ≤ 1e-6 (1 + value)

    Parameters
    ----------
    steps : Steps
        What is asked.
    objective : str
        "worst" or "cost".
    within : float
        What the distances may be where the cost is least. [-]
    known : ndarray, shape (n,), or None
        Amounts in whole steps that are possible. [g/L]
    time_limit : float or None
        How long to look, at most. [s]

    Returns
    -------
    Counted or None
        The steps; None if there are none, or none were found.

    Examples
    --------
    >>> none = Lines(np.zeros((0, 1)), np.zeros(0), np.zeros(0))
    >>> row = Lines(np.array([[2.0]]), np.array([3.0]), np.array([4.0]))
    >>> asked = Steps(row, none, none, np.array([1.1]), np.ones(1, bool))
    >>> best = best_counts(asked, "worst")
    >>> best.amounts.round(6).tolist(), round(best.value, 6)
    ([2.2], 0.4)
    """
    best = _known(steps, objective, within, known)
    value = math.inf if best is None else best.value
    if value <= TINY:
        return replace(best, bound=0.0, is_proven=True)
    programme, places = _programme(steps, objective, within, value)
    found = programme.least(time_limit=time_limit)
    if found.values is not None:
        amounts = _amounts(steps, found.values[places.start : places.stop])
        give = SEEN if steps.is_free.any() else KEPT
        has = _value(steps, objective, amounts)
        if steps.is_kept(amounts, give) and has < value:
            best = Counted(amounts, has, 0.0, False)
    if best is None:
        return None
    if math.isinf(value) and _known(steps, objective, within, best.amounts):
        facts = {"within": within, "known": best.amounts, "time_limit": time_limit}
        return best_counts(steps, objective, **facts)  # bounds now rest on a value
    scale = 1.0 if objective == COST else PERCENT
    bound = min(max(found.bound / scale, 0.0), best.value)
    is_near = best.value - bound <= SAME * (1 + abs(best.value))
    return replace(best, bound=bound, is_proven=found.is_proven and is_near)


def _known(steps, objective, within, known):
    """Return the better of no amounts at all and those that are known, if they will do."""
    found = []
    for amounts in (steps.none(), known):
        if amounts is None or not steps.is_kept(amounts, SEEN):
            continue
        if objective == COST and steps.worst(amounts) > within + SAME:
            continue
        found.append(Counted(amounts, _value(steps, objective, amounts), 0.0, False))
    return min(found, key=lambda one: one.value, default=None)


def _amounts(steps, values):
    """Return amounts from the columns of the programme: steps, or grams in a litre."""
    taken = np.where(steps.is_whole, np.rint(values) * steps.sizes, values)
    taken = np.where(steps.is_fixed, steps.none(), taken)
    return np.where(taken > TINY, taken, 0.0)


def _value(steps, objective, amounts):
    return float(steps.prices @ amounts) if objective == COST else steps.worst(amounts)


def _most(steps, objective, within, value):
    """Return how much of each can be in anything as good as a value; nothing if barred."""
    near = steps.near.wider(steps.given(within if objective == COST else value))
    most = most_of(Task(SUM, near, steps.held), 0.0)
    if objective == COST and math.isfinite(value):
        priced = steps.prices > 0
        most[priced] = np.minimum(
            most[priced], value / steps.prices[priced] * (1 + SAME)
        )
    most = np.where(steps.usable, most, 0.0)
    return np.where(steps.is_fixed, steps.none(), most)


def _programme(steps, objective, within, value):
    """Return the programme, and the places of its steps and grams."""
    programme, count = Programme(), len(steps.sizes)
    unit = np.where(steps.is_whole, steps.sizes, 1.0)
    most = _most(steps, objective, within, value) / unit
    most = np.where(steps.is_whole, np.floor(most * (1 + SAME)), most)
    cost = steps.prices * unit if objective == COST else 0.0
    facts = {"cost": cost, "low": steps.none(), "high": most}
    amounts = programme.columns(count, whole=steps.is_whole, **facts)
    inner = np.where(steps.held.low == steps.held.high, 0.0, MARGIN)
    held = steps.held.wider(-inner)
    programme.hold({amounts: held.matrix * unit}, held.low, held.high)
    near = steps.near.wider(steps.given(within if objective == COST else 0.0))
    matrix = near.matrix * unit * PERCENT
    low, high = near.low * PERCENT, near.high * PERCENT
    if objective == WORST:
        worst = programme.columns(1, cost=1.0, high=value * PERCENT * (1 + SAME))
        ones = steps.is_open.astype(float)[:, None]
        programme.hold({amounts: matrix, worst: -ones}, -np.inf, high)
        programme.hold({amounts: matrix, worst: ones}, low, np.inf)
    else:
        programme.hold({amounts: matrix}, low, high)
    if steps.most is not None:
        is_in = programme.columns(count, high=1.0, whole=True)
        parts = {amounts: np.eye(count), is_in: -np.diag(most)}
        programme.hold(parts, -np.inf, 0.0)
        programme.hold({is_in: np.ones((1, count))}, 0.0, steps.most)
    return programme, amounts


def is_impossible(steps, held, time_limit=None):
    """
    Return whether it is proven that no whole steps at all keep hard rows.

    Parameters
    ----------
    steps : Steps
        What is asked.
    held : Lines
        The hard rows.
    time_limit : float or None
        How long to look, at most. [s]

    Returns
    -------
    bool
        Whether there are none.

    Examples
    --------
    >>> none = Lines(np.zeros((0, 1)), np.zeros(0), np.zeros(0))
    >>> row = Lines(np.array([[2.0]]), np.array([3.0]), np.array([3.5]))
    >>> asked = Steps(none, none, none, np.ones(1), np.ones(1, bool))
    >>> is_impossible(asked, row), is_impossible(asked, none)
    (True, False)
    """
    nothing = Lines(steps.near.matrix[:0], *np.zeros((2, 0)))
    bare = replace(steps, near=nothing, held=held, caps=None, prices=None)
    found = _programme(bare, WORST, 0.0, math.inf)[0].least(time_limit=time_limit)
    return found.values is None and found.is_proven


def ordered(steps, best, *, time_limit=None):
    """
    Return whole steps as good as the best, whose next worst distances are least too.

    Rows that are at the worst stay there; then the worst of the others is made least, a
    few times over, as long as that is proven.

    Parameters
    ----------
    steps : Steps
        What is asked.
    best : Counted
        The steps of the least worst distance.
    time_limit : float or None
        How long each search may take, at most. [s]

    Returns
    -------
    amounts : ndarray, shape (n,)
        The amounts. [g/L]
    caps : ndarray, shape (m,)
        What the distance of each row may be. [-]

    Examples
    --------
    >>> none = Lines(np.zeros((0, 2)), np.zeros(0), np.zeros(0))
    >>> rows = Lines(np.eye(2), np.array([1.0, 2.2]), np.array([1.0, 2.2]))
    >>> asked = Steps(rows, none, rows, np.array([3.0, 1.0]), np.ones(2, bool))
    >>> ordered(asked, Counted(np.array([0.0, 3.0]), 1.0, 1.0, True))[0].tolist()
    [0.0, 2.0]
    """
    for _ in range(RANKS):
        off = steps.near.distances(best.amounts)
        at_worst = steps.is_open & (off >= best.value * (1 - SAME) - TINY)
        if best.value <= KEPT or not (steps.is_open & ~at_worst).any():
            break
        caps = np.where(at_worst, best.value, np.inf)
        caps = caps if steps.caps is None else np.minimum(steps.caps, caps)
        steps = replace(steps, caps=caps)
        known = replace(best, value=steps.worst(best.amounts))
        found = best_counts(steps, WORST, known=best.amounts, time_limit=time_limit)
        if not found.is_proven:
            best = known
            break
        best = found
    return best.amounts, steps.given(best.value)
