"""The cheapest amounts within hard rows: a linear programme and the proof of its result.

HiGHS (through scipy) solves it. The proof is that of duality: worths of the rows that leave
no ingredient a way to pay for itself add up to a cost below which nothing can fall. Cost
and proof are held against each other to 1e-7.

Equation of the least cost and its proof [lp-kkt-notes]::

    minimise c·x        subject to low ≤ A x ≤ high, x ≥ 0
    proof: worths y of the sides with c − A'y ≥ 0 and Σ y × level = c·x
"""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.optimize import linprog

from formulate.errors import Infeasible, NoConvergence
from formulate.recipes.highs import quiet
from formulate.recipes.requirement import WANTED
from formulate.recipes.wishes import WITHIN

__all__ = ["GAP", "LeastCost", "least_cost"]

GAP = 1e-7  # of the cost: what cost and proof may differ by
INFEASIBLE = 2  # status of linprog
NOTHING = 1e-9  # scaled: a worth, or a price too high by this, is none
TOLERANCE = 1e-10  # of HiGHS, rows and columns scaled to 1
LARGEST = 1e4  # a bound smaller than its row's numbers by more than this is about 0
REACHES = (1e-7, 0.0, 1e-5)  # of a line's size: nearer than this it stands on its bound
POLISHES = 2
NEAR = 1e-8  # of a line's size: rows that meet in one point to this are one corner
TRIES = (("highs-ds", True), ("highs-ds", False), ("highs-ipm", True))
RANK = 1e-11  # of the largest singular value: less is none
EXACT = 1e-13  # of the numbers added up: what adding leaves
OPTIONS = {
    "primal_feasibility_tolerance": TOLERANCE,
    "dual_feasibility_tolerance": TOLERANCE,
}


@dataclass(frozen=True, eq=False)
class LeastCost:
    """
    The cheapest amounts, and why nothing is cheaper.

    Attributes
    ----------
    amounts : ndarray, shape (n,)
        Amount of each ingredient. [g/L]
    cost : float
        Cost of a litre. [currency/L]
    proof : tuple of (Requirement, str, float)
        Each row that the proof counts, the side that does ("low" or "high"), and what a
        unit of it counts for. [currency/L]
    excess : ndarray, shape (n,)
        By how much a gram of each ingredient costs more than what it brings is worth; 0
        of those that may be used. [currency/g]
    idle : ndarray, shape (n,)
        Whether no equally cheap recipe uses it. [-]
    gap : float
        What cost and proof differ by, of the cost. [-]
    scaled : tuple
        The programme with bounds and amounts of about 1, and its solution.
    """

    amounts: np.ndarray
    cost: float
    proof: tuple
    excess: np.ndarray
    idle: np.ndarray
    gap: float
    scaled: tuple

    @cached_property
    def worths(self):
        """Return (row, side, saving) of each row: what a unit of room there saves. [currency/L]

        Where more rows meet in one point than there are ingredients, several proofs hold.
        What a row then saves is the least that any of them counts for it: the cost of the
        best move from here that this one unit of room allows.
        """
        if not _is_crowded(*self.scaled):
            return self.proof
        savings = (_saving(*self.scaled, *one) for one in self.proof)
        pairs = zip(self.proof, savings, strict=True)
        return tuple((row, side, own) for (row, side, _), own in pairs if own > 0)


def least_cost(requirements, prices):
    """
    Return the cheapest amounts that keep every row.

    Parameters
    ----------
    requirements : sequence of Requirement
        Rows that must hold, whatever their kind.
    prices : sequence of float
        Price of each ingredient. [currency/kg]

    Returns
    -------
    LeastCost
        The amounts, and the proof.

    Raises
    ------
    Infeasible
        If the rows cannot all hold.
    NoConvergence
        If cost and proof differ by more than 1e-7 of the cost.

    Examples
    --------
    >>> from formulate.recipes.requirement import Requirement
    >>> row = Requirement("K", (10.0, 5.0), 5.0, 6.0, kind="hard")
    >>> best = least_cost([row], (1000.0, 400.0))
    >>> best.amounts.tolist(), best.cost
    ([0.0, 1.0], 0.4)
    >>> [(side, round(worth, 9)) for _, side, worth in best.worths]
    [('low', 0.08)]
    """
    lines = _lines(requirements)
    matrix = np.array([row.coefficients for row, *_ in lines])
    matrix = matrix.reshape(-1, len(prices))
    level = np.array([value for *_, value in lines])
    rows, columns = _scales(lines, matrix)
    cost = np.asarray(prices, dtype=float) / 1000 * columns
    size = cost.max(initial=0.0) or 1.0
    sides = np.array([side for _, side, _ in lines])
    programme = _Programme(
        cost / size, matrix * rows[:, None] * columns, level * rows, sides, rows * size
    )
    found = _solved(programme)
    counts = np.abs(found.worth) > NOTHING
    return LeastCost(
        found.amounts * columns,
        float(cost @ found.amounts),
        tuple(
            _counted(lines[i], found.worth[i] * rows[i] * size)
            for i in np.flatnonzero(counts)
        ),
        found.excess * size / columns,
        (found.excess > NOTHING) & (found.amounts <= NOTHING),
        found.gap,
        (programme, found, tuple(lines)),
    )


def _lines(requirements):
    """Return (row, side, level) with one line for each finite side; "both" is exact."""
    lines = []
    for row in requirements:
        ends = (("low", row.low), ("high", row.high))
        if row.low == row.high:
            ends = (("both", row.low),)
        lines += [
            (row, side, end - row.constant) for side, end in ends if math.isfinite(end)
        ]
    return lines


def _scales(lines, matrix):
    """Return factors of rows and columns, so that bounds and amounts are about 1.

    A wish has its own scale. Other rows have the size of their bound, or of their numbers
    where they are bound near 0. Amounts are measured by what is wished: so much as meets the
    first wish.
    """
    size = np.array([_size(row, level) for row, _, level in lines])
    wished = np.array([_is_wish(row) for row, *_ in lines], dtype=bool)
    columns = np.zeros(matrix.shape[1])
    for some, by in ((wished, size), (size > 0, size), (size >= 0, np.ones(len(size)))):
        largest = np.abs(matrix[some] / by[some, None]).max(axis=0, initial=0.0)
        columns = np.where(columns > 0, columns, largest)
    columns = 1 / np.where(columns > 0, columns, 1.0)
    of_row = np.abs(matrix * columns).max(axis=1, initial=0.0)
    least = np.where(of_row > 0, of_row / LARGEST, 1.0)
    return 1 / np.where(size > least, size, np.where(of_row > 0, of_row, 1.0)), columns


def _size(row, level):
    """Return the size of a row's values."""
    return row.scale if _is_wish(row) else abs(level)


def _is_wish(row):
    """Return whether a row holds what is wanted."""
    return row.kind == WANTED or row.origin == WITHIN


@dataclass(frozen=True, eq=False)
class _Programme:
    """Costs, lines, their levels and sides, scaled; and what a scaled worth is in money."""

    cost: np.ndarray
    matrix: np.ndarray
    level: np.ndarray
    sides: np.ndarray
    money: np.ndarray

    @property
    def sign(self):
        return np.where(self.sides == "low", -1.0, 1.0)

    @property
    def exact(self):
        return self.sides == "both"


@dataclass(frozen=True, eq=False)
class _Solved:
    """Scaled amounts, what a unit more of each line's level costs, and the rest."""

    amounts: np.ndarray
    worth: np.ndarray
    excess: np.ndarray
    gap: float


def _solved(programme):
    """Return the solution of the scaled programme, checked."""
    exact, sign = programme.exact, programme.sign
    result = _least(
        programme.cost,
        (programme.matrix * sign[:, None])[~exact],
        (programme.level * sign)[~exact],
        programme.matrix[exact],
        programme.level[exact],
    )
    if result.status == INFEASIBLE:
        raise Infeasible("no amounts keep all rows of a recipe")
    if result.status != 0:
        raise NoConvergence(f"the least cost was not found: {result.message}")
    worth = np.zeros(len(sign))
    worth[~exact] = np.minimum(result.ineqlin.marginals, 0.0)
    worth[exact] = result.eqlin.marginals
    return _checked(programme, np.maximum(result.x, 0.0), worth * sign)


def _least(cost, upper, bounds, equal, levels, limits=(0, None)):
    """Return what HiGHS finds, nothing printed.

    What looks infeasible once rows are put together beforehand is tried again as it stands:
    a point that barely keeps them is lost otherwise.
    """
    for method, presolve in TRIES:
        with quiet():
            result = linprog(
                cost,
                A_ub=upper,
                b_ub=bounds,
                A_eq=equal,
                b_eq=levels,
                bounds=limits,
                method=method,
                options={**OPTIONS, "presolve": presolve},
            )
        if result.status == 0:
            break
    return result


def _checked(programme, amounts, worth):
    """Return the solution, polished, if amounts keep the rows and worths prove their cost."""
    solutions = [_polished(programme, amounts, worth, reach) for reach in REACHES]
    solutions.append((amounts, worth))
    for one in solutions:
        gap, broken = _faults(programme, *one)
        if gap <= GAP and broken <= NOTHING:
            excess = programme.cost - programme.matrix.T @ one[1]
            return _Solved(*one, np.maximum(excess, 0.0), gap)
    what = f"cost and proof differ by {gap:.1e}, rows are kept to {broken:.1e}"
    raise NoConvergence(what, state=programme)


def _faults(programme, amounts, worth):
    """Return what cost and proof differ by, and how far a row or a price is off its size."""
    matrix, level, cost = programme.matrix, programme.level, programme.cost
    off = (matrix @ amounts - level) * programme.sign
    off = np.where(programme.exact, np.abs(off), off) / _row_sizes(programme, amounts)
    sizes = np.abs(matrix.T) @ np.abs(worth)
    excess = (cost - matrix.T @ worth) / np.maximum(sizes, 1.0)
    least, spent = float(level @ worth), float(cost @ amounts)
    rounding = EXACT * float(np.abs(level) @ np.abs(worth))
    differ = max(abs(spent - least) - rounding, 0.0)
    gap = differ / max(abs(spent), NOTHING)
    return gap, max(off.max(initial=0.0), -excess.min(initial=0.0))


def _row_sizes(programme, amounts):
    """Return the size of the numbers that add up to each line, at least 1."""
    terms = np.abs(programme.matrix) @ amounts
    return np.maximum(np.maximum(terms, np.abs(programme.level)), 1.0)


def _polished(programme, amounts, worth, reach):
    """Return the corner that HiGHS found, its equations solved to the last digit.

    What is used and which lines stand on their bounds is taken from it; amounts and worths
    are moved by the least that makes their equations hold.
    """
    matrix, level, cost = programme.matrix, programme.level, programme.cost
    off = np.abs(matrix @ amounts - level) / _row_sizes(programme, amounts)
    used, counts = amounts > NOTHING, np.abs(worth) > NOTHING
    tight = counts | programme.exact | (off <= reach)
    amounts = np.where(used, amounts, 0.0)
    worth = np.where(tight, worth, 0.0)
    core = matrix[np.ix_(tight, used)]
    for _ in range(POLISHES):
        left = level[tight] - matrix[tight] @ amounts
        amounts[used] += np.linalg.lstsq(core, left, rcond=RANK)[0]
        left = cost[used] - matrix[:, used].T @ worth
        worth[tight] += np.linalg.lstsq(core.T, left, rcond=RANK)[0]
    is_wrong = ~programme.exact & (worth * programme.sign > 0)
    return np.maximum(amounts, 0.0), np.where(is_wrong, 0.0, worth)


def _counted(line, worth):
    """Return a row, the side that costs, and what a unit of it counts for."""
    row, side, _ = line
    if side == "both":
        side = "low" if worth > 0 else "high"
    return row, side, abs(float(worth))


# --- what room would save --------------------------------------------------------------


def _tight(programme, found):
    """Return which lines stand on their bounds."""
    off = programme.matrix @ found.amounts - programme.level
    near = np.abs(off) <= NEAR * _row_sizes(programme, found.amounts)
    return (near | (np.abs(found.worth) > 0)) & programme.matrix.any(axis=1)


def _is_crowded(programme, found, lines):
    """Return whether more lines and zeros meet than there are ingredients."""
    idle = int((found.amounts <= NOTHING).sum())
    return int(_tight(programme, found).sum()) + idle > len(programme.cost)


def _saving(programme, found, lines, row, side, proven):
    """Return what one unit of room of a row saves; the best move that it allows."""
    tight, exact, sign = _tight(programme, found), programme.exact, programme.sign
    place = next(
        i for i, (own, of, _) in enumerate(lines) if own is row and of in (side, "both")
    )
    matrix, upper = programme.matrix, tight & ~exact
    one = np.zeros(len(sign))
    one[place] = 1.0
    lower = exact & (one == 0)
    lines_up, room = (matrix * sign[:, None])[upper], one[upper]
    if exact[place]:
        way = -1.0 if side == "low" else 1.0
        own = matrix[place] * way
        lines_up, room = np.vstack([lines_up, own, -own]), np.append(room, [1.0, 0.0])
    limits = [(None if x > NOTHING else 0, None) for x in found.amounts]
    levels = np.zeros(int(lower.sum()))
    result = _least(programme.cost, lines_up, room, matrix[lower], levels, limits)
    if result.status != 0:
        return float(proven)  # what the proof counts for it
    saved = -result.fun if -result.fun > NOTHING else 0.0
    return float(saved * programme.money[place])
