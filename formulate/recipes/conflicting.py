"""Which rows cannot hold together: the fewest, each of them needed for the conflict."""

import numpy as np

from formulate.recipes.least_distance import OPTIMALITY
from formulate.recipes.nonnegative import nonnegative
from formulate.recipes.system import system_of

__all__ = ["can_hold", "conflicting", "conflicts_apart"]


def _missing(requirements, count):
    """Return the rows that are missed where all together are missed by the least."""
    system = system_of(requirements, count)
    gap = system.level - system.hard @ nonnegative(system.hard, system.level)
    limit = OPTIMALITY * (1 + np.abs(system.level))
    missed = [system.owners[i] for i in np.flatnonzero(np.abs(gap) > limit)]
    return [row for row in requirements if any(row is other for other in missed)]


def can_hold(requirements, count):
    """
    Return whether some amounts, none negative, keep every hard row.

    Parameters
    ----------
    requirements : sequence of Requirement
        Rows over the same ingredients; wanted ones are passed over.
    count : int
        Number of ingredients. [-]

    Returns
    -------
    bool
        Whether the hard rows can hold together.

    Examples
    --------
    >>> from formulate.recipes.requirements import Requirement
    >>> most = Requirement("Na at most 2", (1.0,), high=2.0, kind="hard")
    >>> least = Requirement("Na at least 3", (1.0,), low=3.0, kind="hard")
    >>> can_hold([most], 1), can_hold([most, least], 1)
    (True, False)
    """
    hard = [row for row in requirements if row.kind == "hard"]
    return not hard or not _missing(hard, count)


def conflicting(requirements, count):
    """
    Return hard rows that cannot hold together, none of which can be left out.

    By least squares the rows that are missed contradict one another. Of these, one after
    the other is left out where the rest still conflicts: what stays is irreducible, for
    every row in it was tried.

    Parameters
    ----------
    requirements : sequence of Requirement
        Rows over the same ingredients; wanted ones are passed over.
    count : int
        Number of ingredients. [-]

    Returns
    -------
    tuple of Requirement
        The rows; empty if all hard rows can hold.

    Examples
    --------
    >>> from formulate.recipes.requirements import Requirement
    >>> most = Requirement("Na at most 2", (1.0,), high=2.0, kind="hard")
    >>> least = Requirement("Na at least 3", (1.0,), low=3.0, kind="hard")
    >>> other = Requirement("Na at most 9", (1.0,), high=9.0, kind="hard")
    >>> [row.name for row in conflicting([most, other, least], 1)]
    ['Na at most 2', 'Na at least 3']
    """
    hard = [row for row in requirements if row.kind == "hard"]
    if not hard or not (kept := _missing(hard, count)):
        return ()
    if can_hold(kept, count):
        kept = hard  # rounding hid a row: try them all
    for row in tuple(kept):
        rest = [other for other in kept if other is not row]
        if not can_hold(rest, count):
            kept = rest
    return tuple(kept)


def conflicts_apart(requirements, count):
    """
    Return conflicts that share no row, until the rest can hold.

    Parameters
    ----------
    requirements : sequence of Requirement
        Rows over the same ingredients; wanted ones are passed over.
    count : int
        Number of ingredients. [-]

    Returns
    -------
    tuple of tuple of Requirement
        Each conflict irreducible.

    Examples
    --------
    >>> conflicts_apart([], 1)
    ()
    """
    left = [row for row in requirements if row.kind == "hard"]
    found = []
    while conflict := conflicting(left, count):
        found.append(conflict)
        left = [row for row in left if row not in conflict]
    return tuple(found)
