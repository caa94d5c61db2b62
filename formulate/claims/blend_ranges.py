"""The least and the greatest of many sums over all blends that keep within limits.

Every optimum is a block of one linear programme: the blocks share nothing, so the optimum
of the sum is the sum of the optima, and one call gives them all.

Equation of the least and the greatest of a sum [lp-kkt-notes]::

    minimise c·x        low ≤ A x ≤ high, x ≥ 0, Σ x + filler = 100 g
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csc_array, eye_array, kron

from formulate.errors import NoConvergence
from formulate.recipes.highs import quiet

__all__ = ["WHOLE", "Blends", "extremes", "least_room", "least_slack"]

WHOLE = 100.0  # g of product
SMALLEST = 1e-9
KEPT = 1e4  # price of a slack that no blend needs, beside 1 of the others
INFEASIBLE = 2
OPTIONS = {
    "presolve": False,
    "primal_feasibility_tolerance": 1e-10,
    "dual_feasibility_tolerance": 1e-10,
}


@dataclass(frozen=True, eq=False)
class Blends:
    """
    All blends that keep within limits.

    Attributes
    ----------
    matrix : array, shape (m, n)
        What one gram of each material in 100 g of product adds to each row. [%]
    low : array, shape (m,)
        Least value of each row. [%]
    high : array, shape (m,)
        Greatest value of each row; infinite if there is none. [%]
    weights : array, shape (m,)
        What the slack of each row is counted in. [%]
    filler : float
        The most that may be water or inert. [g]
    """

    matrix: np.ndarray
    low: np.ndarray
    high: np.ndarray
    weights: np.ndarray
    filler: float = WHOLE

    def limits(self):
        """
        Return the rows as one-sided limits, each in its own weight, the whole last.

        Returns
        -------
        rows : array
            Coefficients. [-]
        most : array
            What each row may be at most. [-]

        Examples
        --------
        >>> one = np.array([1.0])
        >>> rows, most = Blends(np.array([[0.4]]), one, one * 2, one).limits()
        >>> rows.ravel().tolist(), most.round(6).tolist()
        ([0.4, -0.4, 0.01], [2.0, -1.0, 1.0])
        """
        matrix = self.matrix / self.weights[:, None]
        above = np.isfinite(self.high)
        below = self.low > 0
        ones = np.full((1, self.matrix.shape[1]), 1 / WHOLE)
        rows, most = (
            [matrix[above], -matrix[below], ones],
            [
                (self.high / self.weights)[above] + SMALLEST,
                SMALLEST - (self.low / self.weights)[below],
                [1.0],
            ],
        )
        if self.filler < WHOLE:
            rows.append(-ones)
            most.append([self.filler / WHOLE - 1.0 + SMALLEST])
        return np.vstack(rows), np.concatenate(most)


def extremes(blends, objectives):
    """
    Return the blends in which each sum is least and greatest.

    Parameters
    ----------
    blends : Blends
        The limits.
    objectives : array, shape (k, n)
        Coefficients of each sum. [-]

    Returns
    -------
    array, shape (2, k, n), or None
        Grams of each material in 100 g where each sum is least, then greatest; None if no
        blend keeps within the limits. [g]

    Examples
    --------
    >>> one = np.array([1.0])
    >>> found = extremes(Blends(np.array([[0.4]]), one, one * 2, one), np.array([[1.0]]))
    >>> found.round(6).ravel().tolist()
    [2.5, 5.0]
    """
    rows, most = blends.limits()
    size = np.abs(objectives).max(axis=1, keepdims=True)
    scaled = objectives / np.where(size > 0, size, 1.0)
    costs = np.vstack([scaled, -scaled])
    many = len(costs)
    found = _solved(
        costs.ravel(),
        kron(eye_array(many), csc_array(rows), format="csc"),
        np.tile(most, many),
    )
    if found is None:
        return None
    return np.maximum(found.reshape(2, len(objectives), -1), 0.0)


def _solved(costs, rows, most):
    """Return the optimum of a linear programme, or None if nothing is feasible."""
    with quiet():
        found = linprog(costs, A_ub=rows, b_ub=most, method="highs-ds", options=OPTIONS)
        if found.status not in (0, INFEASIBLE):
            found = linprog(costs, A_ub=rows, b_ub=most, method="highs")
    if found.status == INFEASIBLE:
        return None
    if found.status:
        raise NoConvergence(f"the range of blends was not found: {found.message}")
    return found.x


def least_slack(blends, *, above=True):
    """
    Return by how little guarantees must give way so that some blend keeps them.

    It is the least sum of slacks, each counted in its own guarantee; another way out may
    be as good.

    Parameters
    ----------
    blends : Blends
        The limits.
    above : bool
        Whether the upper limits give way too; if not, what is found is how far above its
        lower limit each row without an upper one must be.

    Returns
    -------
    short : array, shape (m,)
        How far each row stays below its limit. [%]
    over : array, shape (m,)
        How far each row is above its limit. [%]

    Examples
    --------
    >>> pair = np.array([1.0, 1.0])
    >>> matrix = np.array([[0.4], [0.2]])
    >>> short, over = least_slack(Blends(matrix, 2 * pair, 3 * pair, pair))
    >>> short.round(6).tolist(), over.round(6).tolist()
    ([0.0, 0.5], [0.0, 0.0])
    """
    count, size = blends.matrix.shape
    has_upper = np.isfinite(blends.high)
    upper = blends.high if above else np.where(has_upper, blends.high, blends.low)
    rows, most = _elastic(blends, upper)
    price = np.ones(size + 2 * count)
    price[:size] = 0.0
    if not above:
        price[size : size + count] = KEPT  # lower limits are kept
        price[size + count :][has_upper] = KEPT
    found = _solved(price, rows, most)[size:]
    found = np.where(found > SMALLEST, found, 0.0)
    return found[:count] * blends.weights, found[count:] * blends.weights


def _elastic(blends, upper):
    """Return rows and limits with a slack below and above; the whole does not give way."""
    count, size = blends.matrix.shape
    matrix, unit = blends.matrix / blends.weights[:, None], np.eye(count)
    none, flat = np.zeros((count, count)), np.zeros((1, 2 * count))
    kept, ones = np.isfinite(upper), np.full((1, size), 1 / WHOLE)
    rows = [
        np.hstack([-matrix, -unit, none]),
        np.hstack([matrix, none, -unit])[kept],
        np.hstack([ones, flat]),
        np.hstack([-ones, flat]),
    ]
    most = [
        -blends.low / blends.weights,
        (upper / blends.weights)[kept],
        [1.0],
        [blends.filler / WHOLE - 1.0],
    ]
    return np.vstack(rows), np.concatenate(most)


def least_room(blends):
    """
    Return how much more than 100 g the guarantees weigh at least.

    Parameters
    ----------
    blends : Blends
        The limits.

    Returns
    -------
    float
        Grams beyond 100 g; 0 if they fit, or no mass of the materials keeps them. [g]

    Examples
    --------
    >>> one = np.array([1.0])
    >>> round(least_room(Blends(np.array([[0.4]]), 60 * one, 61 * one, one)), 6)
    50.0
    """
    matrix = blends.matrix / blends.weights[:, None]
    above = np.isfinite(blends.high)
    rows = np.vstack([matrix[above], -matrix])
    most = [(blends.high / blends.weights)[above], -blends.low / blends.weights]
    slack = np.concatenate(most) + SMALLEST
    found = _solved(np.ones(matrix.shape[1]), rows, slack)
    return 0.0 if found is None else max(float(found.sum()) - WHOLE, 0.0)
