"""Which few ingredients: the best set by what is to be least, proven by an integer programme.

How much of an ingredient can be of use follows from rows that none of the others can
lessen and a value that is known to be possible. With bounds as tight as these the programme
leaves little to look through.
"""

import math
from dataclasses import dataclass

import numpy as np

from formulate.recipes.nonnegative import misfit, nonnegative
from formulate.recipes.programme import Lines, Programme

__all__ = ["Choice", "Task", "best_within", "chosen_few", "fewest", "good_start"]

MOST = 2000.0  # g/L, and mL/L: more is in no litre
KEPT = 1e-6  # a hard row broken by less, relative to its size, is kept: HiGHS sees 1e-7
SAME = 1e-6  # values as near as this, relative, are the same
NONE = 1e-9  # a distance of less is none
LOOSE = 1e-6  # a bound on amounts leaves so much room: HiGHS minds bounds of nothing
TINY = 1e-9  # g/L: less is rounding, not an amount
TRIES = 20
HARD_ROWS = 100.0  # how often a hard row counts where least squares look for a start
SUM, WORST, COST = "sum", "worst", "cost"


@dataclass(frozen=True, eq=False)
class Task:
    """
    What is to be least, and within what.

    Attributes
    ----------
    objective : str
        "sum" or "worst" of the distances, or "cost".
    wanted : Lines
        Rows whose distances count; of "cost" none.
    held : Lines
        Rows that must hold.
    prices : ndarray, shape (n,), or None
        What a gram, or a millilitre of a stock, costs. [currency/g]
    """

    objective: str
    wanted: Lines
    held: Lines
    prices: np.ndarray | None = None

    @property
    def count(self):
        """Return the number of ingredients. [-]"""
        return self.held.matrix.shape[1]

    def value(self, amounts):
        """
        Return what is to be least, at some amounts.

        Parameters
        ----------
        amounts : ndarray, shape (n,)
            Amounts per litre. [g/L]

        Returns
        -------
        float
            Sum or greatest of the distances, or the cost of a litre. [-]

        Examples
        --------
        >>> none = Lines(np.zeros((0, 1)), np.zeros(0), np.zeros(0))
        >>> row = Lines(np.array([[2.0]]), np.array([3.0]), np.array([4.0]))
        >>> Task("sum", row, none).value(np.array([1.0]))
        1.0
        """
        if self.objective == COST:
            return float(self.prices @ amounts)
        off = self.wanted.distances(amounts)
        return float(off.sum() if self.objective == SUM else off.max(initial=0.0))

    def is_kept(self, amounts):
        """
        Return whether all that must hold does, at some amounts.

        Parameters
        ----------
        amounts : ndarray, shape (n,)
            Amounts per litre. [g/L]

        Returns
        -------
        bool
            Whether it does.

        Examples
        --------
        >>> none = Lines(np.zeros((0, 1)), np.zeros(0), np.zeros(0))
        >>> Task("sum", none, none).is_kept(np.array([1.0]))
        True
        """
        return bool(self.held.distances(amounts).max(initial=0.0) <= KEPT)


@dataclass(frozen=True, eq=False)
class Choice:
    """
    Some ingredients, and the amounts at which they are best.

    Attributes
    ----------
    amounts : ndarray, shape (n,)
        Amount of every ingredient; 0 for what was not chosen. [g/L]
    value : float
        What is to be least, at these. [-]
    bound : float
        What no choice lies below. [-]
    is_proven : bool
        Whether nothing is better.
    """

    amounts: np.ndarray
    value: float
    bound: float
    is_proven: bool

    @property
    def places(self):
        """Return the places of the chosen ones on the shelf. [-]"""
        return tuple(np.flatnonzero(self.amounts > TINY).tolist())


def most_of(task, value):
    """
    Return how much of each ingredient can be in anything as good as a value.

    Parameters
    ----------
    task : Task
        What is to be least.
    value : float
        A value that is possible; infinity if none is known. [-]

    Returns
    -------
    ndarray, shape (n,)
        Greatest amounts. [g/L]

    Examples
    --------
    >>> none = Lines(np.zeros((0, 1)), np.zeros(0), np.zeros(0))
    >>> row = Lines(np.array([[2.0]]), np.array([3.0]), np.array([4.0]))
    >>> most_of(Task("sum", row, none), 2.0).round(3)
    array([3.])
    """
    most = np.full(task.count, MOST)
    if task.objective == COST and math.isfinite(value):
        priced = task.prices > 0
        most[priced] = np.minimum(most[priced], value / task.prices[priced])
    give = LOOSE if task.objective == COST else max(value, LOOSE)
    for lines, room in ((task.wanted, give), (task.held, LOOSE)):
        plain = (lines.matrix >= 0).all(axis=1) & np.isfinite(lines.high + room)
        for row, high in zip(lines.matrix[plain], lines.high[plain], strict=True):
            brings = row > 0
            least = max(high + room, 0.0) / row[brings]
            most[brings] = np.minimum(most[brings], least)
    counts = np.vstack([task.wanted.matrix, task.held.matrix]).any(axis=0)
    return np.where(counts, most * (1 + SAME), 0.0)


def _programme(task, places, most, value, without=()):
    """Return the programme of a task over some places, its amounts and their units."""
    programme, places = Programme(), list(places)
    unit = most_of(task, value)[places]
    usable = unit > 0
    unit = np.where(usable, unit, 1.0)
    cost = task.prices[places] * unit if task.objective == COST else 0.0
    amounts = programme.columns(len(places), cost=cost, high=usable.astype(float))
    held = task.held.matrix[:, places] * unit
    programme.hold({amounts: held}, task.held.low, task.held.high)
    _add_distances(programme, task, amounts, task.wanted.matrix[:, places] * unit)
    if most is not None:
        is_in = programme.columns(len(places), high=1.0, whole=True)
        each = np.eye(len(places))
        programme.hold({amounts: each, is_in: -each}, -np.inf, 0.0)
        programme.hold({is_in: np.ones((1, len(places)))}, 0.0, most)
        for carriers in _carriers(task, places, value):
            programme.hold({is_in: carriers[None, :]}, 1.0, np.inf)
        for one in without:  # not this very set, nor a part of it
            others = np.array([[float(place not in one) for place in places]])
            programme.hold({is_in: others}, 1.0, np.inf)
    return programme, amounts, unit


def _carriers(task, places, value):
    """Yield what brings each row that must be brought if the worst is to be less."""
    if task.objective != WORST or not math.isfinite(value):
        return
    needed = task.wanted.low >= value * (1 - SAME)
    yield from (task.wanted.matrix[needed][:, places] > 0).astype(float)


def _add_distances(programme, task, amounts, matrix):
    """Add the columns that measure the distances, and their lines."""
    wanted, count = task.wanted, len(task.wanted.low)
    if task.objective == SUM:
        over, under = (programme.columns(count, cost=1.0) for _ in range(2))
        each = np.eye(count)
        parts = {amounts: matrix, over: -each, under: each}
        programme.hold(parts, wanted.low, wanted.high)
    elif task.objective == WORST:
        worst = programme.columns(1, cost=1.0)
        ones = np.ones((count, 1))
        programme.hold({amounts: matrix, worst: -ones}, -np.inf, wanted.high)
        programme.hold({amounts: matrix, worst: ones}, wanted.low, np.inf)


def best_within(task, places, value=math.inf):
    """
    Return the best amounts of some ingredients alone.

    Parameters
    ----------
    task : Task
        What is to be least.
    places : sequence of int
        Their places on the shelf. [-]
    value : float
        A value that is known to be possible with them. [-]

    Returns
    -------
    Choice or None
        The amounts; None if they cannot hold what must.

    Examples
    --------
    >>> none = Lines(np.zeros((0, 1)), np.zeros(0), np.zeros(0))
    >>> row = Lines(np.array([[2.0]]), np.array([3.0]), np.array([3.0]))
    >>> best_within(Task("sum", row, none), [0]).amounts
    array([1.5])
    """
    programme, columns, unit = _programme(task, places, None, value)
    found = programme.least()
    amounts = np.zeros(task.count)
    if found.values is None:
        return None
    taken = found.values[columns.start : columns.stop] * unit
    amounts[list(places)] = np.where(taken > TINY, taken, 0.0)
    if not task.is_kept(amounts):
        return None
    least = task.value(amounts)
    return Choice(amounts, least, least, True)


def chosen_few(task, most, *, without=(), only=None, known=(), time_limit=None):
    """
    Return the best choice of so many ingredients at most.

    Equation of the best few ingredients [definition]::

        minimise Σ w d, max d or c·x        0 ≤ x ≤ most × b, Σ b ≤ count, b 0 or 1

    Parameters
    ----------
    task : Task
        What is to be least.
    most : int or None
        How many ingredients, at most; None for any number. [-]
    without : sequence of set of int
        Sets, with all their parts, that do not count. [-]
    only : sequence of int or None
        The places to which the choice is restricted already. [-]
    known : sequence of ndarray, shape (n,)
        Amounts of choices that may be possible; of equals the first of them stays. [g/L]
    time_limit : float or None
        How long to look, at most. [s]

    Returns
    -------
    Choice or None
        The choice; None if none was found that holds what must.

    Examples
    --------
    >>> none = Lines(np.zeros((0, 2)), np.zeros(0), np.zeros(0))
    >>> row = Lines(np.array([[2.0, 0], [1, 1]]), np.array([3.0, 6]), np.array([3.0, 6]))
    >>> best = chosen_few(Task("sum", row, none), 1)
    >>> best.places, round(best.value, 6)
    ((1,), 3.0)
    """
    everything = range(task.count)
    if most is None or only is not None:
        return best_within(task, everything if only is None else only)
    without, start = list(without), None if without else _start(task, most, known)
    if start is not None and start.value <= NONE:
        return Choice(start.amounts, start.value, 0.0, True)
    for _ in range(TRIES):
        value = math.inf if start is None else start.value
        programme, _, _ = _programme(task, everything, most, value, without)
        found = programme.least(time_limit=time_limit)
        if found.values is None and start is not None:
            is_least = task.objective == WORST and found.is_proven  # nothing is less
            bound = start.value if is_least else 0.0
            return Choice(start.amounts, start.value, bound, is_least)
        if found.values is None:
            return None
        is_in = found.values[-task.count :] > 0.5
        best = best_within(task, np.flatnonzero(is_in))
        if best is None:
            without.append(set(np.flatnonzero(is_in).tolist()))
        elif start is None:
            start = best  # once more: bounds on amounts that rest on a value hold water
        else:
            return _judged(best, start, found)
    return start


def _judged(best, start, found):
    """Return the better of two choices, and whether it is proven to be the best."""
    if start is not None and start.value <= best.value * (1 + SAME) + NONE:
        best = start
    bound = min(max(found.bound, 0.0), best.value)  # neither is ever negative
    is_near = best.value - bound <= SAME * (1 + abs(best.value))
    return Choice(best.amounts, best.value, bound, found.is_proven and is_near)


def _start(task, most, known):
    """Return a good choice that was not looked for long, or None."""
    found = [
        Choice(amounts, task.value(amounts), -math.inf, False)
        for amounts in (*known, np.zeros(task.count))
        if task.is_kept(amounts)
    ]
    if task.objective != COST and not known:
        by_squares = good_start(task, most)
        found += [] if by_squares is None else [by_squares]
    return min(found, key=lambda one: one.value, default=None)


def good_start(task, most):
    """
    Return a choice that least squares find good, without any search.

    One by one what least squares miss least is left out.

    Parameters
    ----------
    task : Task
        What is to be least: a sum, or a worst distance.
    most : int
        How many ingredients, at most. [-]

    Returns
    -------
    Choice or None
        The choice; None if it cannot hold what must.

    Examples
    --------
    >>> none = Lines(np.zeros((0, 2)), np.zeros(0), np.zeros(0))
    >>> row = Lines(np.array([[2.0, 0], [1, 1]]), np.array([3.0, 6]), np.array([3.0, 6]))
    >>> good_start(Task("sum", row, none), 1).places
    (1,)
    """
    return best_within(task, _by_squares(task, most))


def _by_squares(task, most):
    """Return places found by leaving out, one by one, what least squares miss least."""
    matrix, aim = _equations(task)
    slacks = list(range(task.count, matrix.shape[1]))

    def missed(some):
        return misfit(matrix[:, [*some, *slacks]], aim)

    places = np.flatnonzero(nonnegative(matrix, aim)[: task.count]).tolist()
    while len(places) > most:
        places = min(([j for j in places if j != out] for out in places), key=missed)
    return places


def _equations(task):
    """Return all rows as equations, with a slack for each that is open on a side."""
    both = ((task.wanted, 1.0), (task.held, HARD_ROWS))
    lines = [(lines, factor) for lines, factor in both if len(lines.low)]
    matrix, aim, sides = [], [], []
    for one, factor in lines:
        for row, low, high in zip(one.matrix, one.low, one.high, strict=True):
            ends = ((low, 0.0),) if low == high else ((low, -1.0), (high, 1.0))
            for end, side in ends:
                if math.isfinite(end):
                    matrix.append(row * factor)
                    aim.append(end * factor)
                    sides.append(side * factor)
    slacks = np.diag(sides)[:, np.flatnonzero(sides)]
    matrix = np.array(matrix).reshape(len(aim), task.count)
    return np.hstack([matrix, slacks.reshape(len(aim), -1)]), np.array(aim)


def fewest(task, time_limit=None):
    """
    Return the least number of ingredients that can hold what must.

    Parameters
    ----------
    task : Task
        What must hold.
    time_limit : float or None
        How long to look, at most. [s]

    Returns
    -------
    int or None
        How many; None if no number of them can, or none was found. [-]

    Examples
    --------
    >>> none = Lines(np.zeros((0, 2)), np.zeros(0), np.zeros(0))
    >>> row = Lines(np.array([[2.0, 0], [0, 1]]), np.array([3.0, 6]), np.array([3.0, 6]))
    >>> fewest(Task("sum", none, row))
    2
    """
    only = Task(WORST, Lines(task.wanted.matrix[:0], *np.zeros((2, 0))), task.held)
    unit = most_of(only, 0.0)
    programme, usable = Programme(), unit > 0
    unit = np.where(usable, unit, 1.0)
    amounts = programme.columns(task.count, high=usable.astype(float))
    is_in = programme.columns(task.count, cost=1.0, high=1.0, whole=True)
    each = np.eye(task.count)
    programme.hold({amounts: each, is_in: -each}, -np.inf, 0.0)
    programme.hold({amounts: task.held.matrix * unit}, task.held.low, task.held.high)
    found = programme.least(time_limit=time_limit)
    if found.values is None:
        return None
    return round(found.values[task.count :].sum())
