"""The numerical core: non-negative amounts that come nearest to rows, checked each time.

One-sided rows become equations with a slack amount of their own, so that everything rests
on non-negative least squares. The optimality conditions (Karush, Kuhn, Tucker) of every
result are checked to 1e-9.

Equation of the nearest amounts [scipy-nnls; lawson-hanson-1974]::

    minimise   Σ w (d / scale)²        d: how far a wanted row lies from [low, high]
    subject to hard rows within [low, high] and every amount at least 0
"""

from dataclasses import dataclass

import numpy as np

from formulate.checks import checked_number
from formulate.errors import Faults, Infeasible, NoConvergence
from formulate.recipes.conflicting import conflicting
from formulate.recipes.equals import SAME_POINT, can_move, idle_columns, ranked
from formulate.recipes.least_distance import OPTIMALITY, held, pull_of, violation_of
from formulate.recipes.nonnegative import misfit
from formulate.recipes.requirements import Requirement
from formulate.recipes.system import system_of

__all__ = ["OPTIMALITY", "Optimum", "nearest_amounts"]


@dataclass(frozen=True, eq=False)
class Optimum:
    """
    The result of one solve.

    Attributes
    ----------
    amounts : ndarray, shape (n,)
        Amount of each ingredient. [g/L]
    pull : ndarray, shape (n,)
        Gradient of the squared deviations at each amount, columns scaled to 1: 0 where an
        amount is free, positive where more of it would do harm. [-]
    forces : tuple of (Requirement, float)
        The hard rows that hold the amounts back, and by what half the squared deviations
        would fall for each unit more of the row; negative where less of it would help. [-]
    violation : float
        Largest violation of the optimality conditions. [-]
    is_unique : bool
        Whether no other recipe is as good.
    ranked_by : tuple of str
        What chose among equal recipes.
    idle : ndarray, shape (k, r)
        For each column that equal recipes might use and this one does not, what the
        columns in use cannot make up for; slacks come last. [-]
    idle_columns : ndarray, shape (k,)
        Which columns these are. [-]
    """

    amounts: np.ndarray
    pull: np.ndarray
    forces: tuple
    violation: float
    is_unique: bool
    ranked_by: tuple
    idle: np.ndarray
    idle_columns: np.ndarray

    @property
    def binding(self):
        """Return the names of the hard rows that hold the amounts back."""
        return tuple(dict.fromkeys(row.name for row, _ in self.forces))

    def can_enter(self, column):
        """
        Return whether an ingredient not in use could be, without changing what is reached.

        Parameters
        ----------
        column : int
            Place of the ingredient on the shelf, counted from 0. [-]

        Returns
        -------
        bool
            Whether some equal recipe uses it.

        Examples
        --------
        >>> from formulate.recipes.requirements import Requirement
        >>> row = Requirement("K", (10.0, 5.0), 5.0, 5.0, scale=5.0)
        >>> nearest_amounts([row], 2).can_enter(1)
        True
        """
        place = np.flatnonzero(self.idle_columns == column)
        if not len(place):
            return False
        others = np.delete(self.idle, place[0], axis=0)
        if not others.size:
            return bool(np.abs(self.idle[place[0]]).max(initial=0.0) <= SAME_POINT)
        return misfit(others.T, -self.idle[place[0]]) <= SAME_POINT


def _check(requirements, count, prices):
    """Raise if rows, ingredients and prices do not fit together."""
    faults = Faults("solve")
    rows = [row for row in requirements if isinstance(row, Requirement)]
    if len(rows) < len(requirements) or not rows or count < 1:
        faults.add("give rows (Requirement) and at least one ingredient")
    for row in rows:
        if len(row.coefficients) != count:
            given = len(row.coefficients)
            faults.add(f"{row.name}: {given} coefficients for {count} ingredients")
    if prices is not None and len(prices) != count:
        faults.add(f"{len(prices)} prices for {count} ingredients")
    for price in prices or ():
        with faults.collecting():
            checked_number(price, "price", least=0)
    faults.raise_if_any()


def nearest_amounts(requirements, count, *, prices=None, avoid=None, rank=True):
    """
    Return the amounts that come nearest to a set of requirements.

    Equation of the proof that nothing is nearer [scipy-nnls]::

        pull = W'(W x − a) − H'm        0 where x > 0, at least 0 where x = 0
        m = 0 where a hard row does not bind, of the sign of its side where it does

    Parameters
    ----------
    requirements : sequence of Requirement
        Rows over the same ingredients.
    count : int
        Number of ingredients. [-]
    prices : sequence of float or None
        Price of each ingredient, to choose among equal recipes; None if not all are known.
        [currency/kg]
    avoid : sequence of float or None
        What each ingredient brings of what is better avoided; among equal recipes the one
        with least of it is taken before any other choice. [mmol/g]
    rank : bool
        Whether to choose among equal recipes; else the first that was found stands.

    Returns
    -------
    Optimum
        The amounts per litre, with the proof that none are better.

    Raises
    ------
    InputError
        If rows, ingredients and prices do not fit together.
    Infeasible
        If the hard rows cannot all hold.
    NoConvergence
        If the result fails its own check.

    Examples
    --------
    >>> from formulate.recipes.requirements import Requirement
    >>> row = Requirement("K", (10.0, 5.0), 5.0, 5.0, scale=5.0)
    >>> best = nearest_amounts([row], 2, prices=(1.0, 1.0))
    >>> best.amounts.round(6).tolist(), best.is_unique
    ([0.5, 0.0], False)
    """
    requirements = tuple(requirements)
    _check(requirements, count, prices)
    system = system_of(requirements, count)
    amounts, multipliers = held(system)
    if violation_of(system, amounts, multipliers) > OPTIMALITY:
        raise _not_held(requirements, count, system, amounts, multipliers)
    free = np.flatnonzero(
        (pull_of(system, amounts, multipliers) <= OPTIMALITY)
        & (np.abs(system.rows).max(axis=0, initial=0.0) > 0)
    )
    columns, idle, independent = idle_columns(system, amounts, free)
    is_unique = independent and not can_move(idle)
    ranked_by = ()
    if not is_unique and rank:
        chosen, words = ranked(system, amounts, free, prices, avoid)
        if violation_of(system, chosen, multipliers) <= OPTIMALITY:
            amounts, ranked_by = chosen, words
            columns, idle, _ = idle_columns(system, amounts, free)
    return Optimum(
        amounts[:count] / system.columns[:count],
        pull_of(system, amounts, multipliers)[:count],
        _forces(system, multipliers),
        violation_of(system, amounts, multipliers),
        is_unique,
        ranked_by,
        idle,
        columns,
    )


def _forces(system, multipliers):
    """Return the hard rows whose multiplier is not 0, with it in their own unit."""
    least = OPTIMALITY * (1 + np.abs(multipliers).max(initial=0.0))
    binds = np.flatnonzero(np.abs(multipliers) > least)
    return tuple(
        (system.owners[i], float(multipliers[i] * system.factors[i])) for i in binds
    )


def _not_held(requirements, count, system, amounts, multipliers):
    """Return the error for a failed check: a conflict of hard rows, or lost digits."""
    conflict = [row.name for row in conflicting(requirements, count)]
    if conflict:
        what = f"these cannot all hold: {', '.join(conflict)}"
        return Infeasible(what, requirements=conflict)
    missed = violation_of(system, amounts, multipliers)
    what = f"the solve misses its optimality conditions by {missed:.1e}"
    return NoConvergence(what, state=(requirements, amounts))
