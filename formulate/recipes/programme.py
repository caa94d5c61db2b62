"""Integer programmes over rows: what is to be least, within what, and how surely it is."""

import math
import time
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from formulate.recipes.highs import quiet
from formulate.recipes.requirement import HARD

__all__ = ["Budget", "Found", "Lines", "Programme", "held_lines", "lines_of", "stacked"]

RAISED = 1000.0  # what is to be least counts so often: HiGHS stops 1e-6 from the least
PROVEN = 1e-6  # relative gap below which a value is proven
LEAST_TIME = 0.02  # s
NODES = None  # branches looked at, at most; None for all
DONE, NOTHING = 0, 2  # status of a search: ended, or there is nothing


@dataclass(frozen=True, eq=False)
class Lines:
    """
    Rows as a matrix, what the water brings taken off, each in units of its own size.

    Attributes
    ----------
    matrix : ndarray, shape (m, n)
        What a gram of each ingredient in a litre adds to each row. [L/g]
    low : ndarray, shape (m,)
        Least value; minus infinity if none. [-]
    high : ndarray, shape (m,)
        Greatest value; infinity if none. [-]
    """

    matrix: np.ndarray
    low: np.ndarray
    high: np.ndarray

    def distances(self, amounts):
        """
        Return how far each row lies outside what is asked.

        Parameters
        ----------
        amounts : ndarray, shape (n,) or (k, n)
            Amounts per litre. [g/L]

        Returns
        -------
        ndarray, shape (m,) or (k, m)
            Distance; 0 within. [-]

        Examples
        --------
        >>> Lines(np.array([[2.0]]), np.array([3.0]), np.array([4.0])).distances([1.0])
        array([1.])
        """
        values = np.asarray(amounts) @ self.matrix.T
        return np.maximum(np.maximum(self.low - values, values - self.high), 0.0)

    def wider(self, by):
        """
        Return the same rows with so much more allowed on either side.

        Parameters
        ----------
        by : float or ndarray, shape (m,)
            How much. [-]

        Returns
        -------
        Lines
            The rows.

        Examples
        --------
        >>> Lines(np.array([[2.0]]), np.array([3.0]), np.array([4.0])).wider(1).high
        array([5.])
        """
        return Lines(self.matrix, self.low - by, self.high + by)


def lines_of(rows, count, factors=None):
    """
    Return rows as lines.

    Parameters
    ----------
    rows : sequence of Requirement
        The rows.
    count : int
        Number of ingredients. [-]
    factors : sequence of float or None
        What each row is multiplied with; None for the root of its weight over its scale.
        [L/mmol]

    Returns
    -------
    Lines
        The lines.

    Examples
    --------
    >>> from formulate.recipes.requirement import Requirement
    >>> lines_of([Requirement("K", (10.0,), 5.0, 5.0, 1.0, scale=2.0)], 1).low
    array([2.])
    """
    if factors is None:
        factors = [math.sqrt(row.weight) / row.scale for row in rows]
    factor = np.array(factors, dtype=float)
    matrix = np.array([row.coefficients for row in rows], dtype=float)
    constant = np.array([row.constant for row in rows], dtype=float)
    low, high = (
        np.array([getattr(row, end) for row in rows], dtype=float)
        for end in ("low", "high")
    )
    matrix = matrix.reshape(len(rows), count) * factor[:, None]
    return Lines(matrix, (low - constant) * factor, (high - constant) * factor)


def held_lines(rows, count):
    """
    Return the hard ones of rows as lines.

    Parameters
    ----------
    rows : sequence of Requirement
        The rows.
    count : int
        Number of ingredients. [-]

    Returns
    -------
    Lines
        The lines, each in units of its bounds, what the water brings or its greatest
        coefficient.

    Examples
    --------
    >>> from formulate.recipes.requirement import Requirement
    >>> held_lines([Requirement("K", (10.0,), high=5.0, kind="hard")], 1).high
    array([1.])
    """
    rows = [row for row in rows if row.kind == HARD]
    return lines_of(rows, count, [1 / _size(row) for row in rows])


def _size(row):
    """Return how large a row's values are."""
    ends = [abs(v) for v in (row.low, row.high, row.constant) if math.isfinite(v)]
    return max(ends) or max(map(abs, row.coefficients), default=0.0) or 1.0


def stacked(*lines):
    """
    Return lines as one.

    Parameters
    ----------
    *lines : Lines
        Lines over the same ingredients.

    Returns
    -------
    Lines
        All of them.

    Examples
    --------
    >>> one = Lines(np.array([[2.0]]), np.array([3.0]), np.array([4.0]))
    >>> stacked(one, one).high
    array([4., 4.])
    """
    return Lines(
        np.vstack([one.matrix for one in lines]),
        np.concatenate([one.low for one in lines]),
        np.concatenate([one.high for one in lines]),
    )


class Budget:
    """
    Time for several searches together.

    Parameters
    ----------
    time_limit : float or None
        How long they may take in all; None for any time. [s]

    Examples
    --------
    >>> Budget(None).left is None, Budget(10).left <= 10, Budget(1e-9).is_over
    (True, True, True)
    """

    def __init__(self, time_limit):
        self._ends = None if time_limit is None else time.perf_counter() + time_limit

    @property
    def left(self):
        """Return what is left, enough for a start at least; None for any time. [s]"""
        if self._ends is None:
            return None
        return max(self._ends - time.perf_counter(), LEAST_TIME)

    @property
    def is_over(self):
        """Return whether nothing is left."""
        return self._ends is not None and time.perf_counter() >= self._ends


@dataclass(frozen=True, eq=False)
class Found:
    """
    What a programme came to.

    Attributes
    ----------
    values : ndarray or None
        Value of each column; None if nothing was found. [-]
    bound : float
        What the least cannot lie below. [-]
    is_proven : bool
        Whether nothing less is possible, or nothing at all if nothing was found.
    """

    values: np.ndarray | None
    bound: float
    is_proven: bool


class Programme:
    """
    Columns and lines of an integer programme, added one after the other.

    Examples
    --------
    >>> programme = Programme()
    >>> steps = programme.columns(1, cost=1.0, whole=True)
    >>> programme.hold({steps: np.array([[2.0]])}, [3.0], [np.inf])
    >>> programme.least().values.tolist()
    [2.0]
    """

    def __init__(self):
        self._blocks, self._lines, self._count = [], [], 0

    def columns(self, count, *, cost=0.0, low=0.0, high=np.inf, whole=False):
        """
        Add columns and return their places.

        Parameters
        ----------
        count : int
            How many. [-]
        cost : float or ndarray, shape (n,)
            What each adds to what is to be least. [-]
        low : float or ndarray, shape (n,)
            Least value. [-]
        high : float or ndarray, shape (n,)
            Greatest value. [-]
        whole : bool or ndarray, shape (n,)
            Whether it must be a whole number. [-]

        Returns
        -------
        range
            The places. [-]

        Examples
        --------
        >>> Programme().columns(3)
        range(0, 3)
        """
        facts = (cost, low, high, whole)
        self._blocks.append([np.broadcast_to(fact, count) for fact in facts])
        self._count += count
        return range(self._count - count, self._count)

    def hold(self, parts, low, high):
        """
        Add lines that must hold.

        Parameters
        ----------
        parts : mapping of range to ndarray, shape (m, n)
            Places of columns to their coefficients. [-]
        low : float or ndarray, shape (m,)
            Least value of each line. [-]
        high : float or ndarray, shape (m,)
            Greatest value of each line. [-]

        Examples
        --------
        >>> programme = Programme()
        >>> one = programme.columns(1, cost=1.0)
        >>> programme.hold({one: np.array([[4.0]])}, 2.0, np.inf)
        >>> programme.least().values.tolist()
        [0.5]
        """
        self._lines.append((parts, low, high))

    def least(self, *, time_limit=None):
        """
        Return the columns at which the costs are least.

        Parameters
        ----------
        time_limit : float or None
            How long to look, at most. [s]

        Returns
        -------
        Found
            The columns, and how sure it is.

        Examples
        --------
        >>> programme = Programme()
        >>> _ = programme.columns(1, cost=1.0, low=0.5, whole=True)
        >>> programme.least().values.tolist()
        [1.0]
        """
        cost, low, high, whole = (
            np.concatenate([block[place] for block in self._blocks]).astype(float)
            for place in range(4)
        )
        options = {"mip_rel_gap": 0.0, "time_limit": time_limit, "node_limit": NODES}
        options = {name: value for name, value in options.items() if value is not None}
        with quiet():
            found = milp(
                cost * RAISED,
                integrality=whole,
                bounds=Bounds(low, high),
                constraints=list(self._constraints()),
                options=options,
            )
        return _read(found, whole.any())

    def _constraints(self):
        """Yield the lines as scipy takes them."""
        for parts, low, high in self._lines:
            matrix = np.zeros((len(next(iter(parts.values()))), self._count))
            for places, values in parts.items():
                matrix[:, places.start : places.stop] = values
            if len(matrix):
                yield LinearConstraint(matrix, low, high)


def _read(found, is_whole):
    """Return what HiGHS found in our own words."""
    if found.x is None:
        return Found(None, -math.inf, found.status == NOTHING)
    value = found.fun / RAISED
    bound = found.mip_dual_bound if is_whole else found.fun
    bound = -math.inf if bound is None else bound / RAISED
    is_proven = found.status == DONE or value - bound <= PROVEN * abs(value)
    return Found(found.x, min(bound, value), is_proven)
