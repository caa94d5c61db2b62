"""Why so few ingredients cannot do: the rows that are to blame, and how many it takes."""

from formulate.errors import Infeasible
from formulate.recipes.few_choice import SUM, Task, fewest
from formulate.recipes.programme import held_lines, lines_of
from formulate.recipes.requirement import HARD

__all__ = ["to_blame", "too_few"]


def too_few(rows, bands, words, most, time_limit=None):
    """
    Return the error for so few ingredients, if so few cannot keep what must hold.

    Parameters
    ----------
    rows : sequence of Requirement
        All rows.
    bands : sequence of Requirement
        Wishes that are held within bands.
    words : str
        What to call these.
    most : int
        How many ingredients there may be. [-]
    time_limit : float or None
        How long each search may take. [s]

    Returns
    -------
    Infeasible or None
        The error, with what is to blame and how many it takes; None if so few can, or
        nothing was found in time.

    Examples
    --------
    >>> from formulate.recipes.requirement import Requirement
    >>> k = Requirement("K at least 1", (1.0, 0.0), low=1.0, kind="hard")
    >>> p = Requirement("P at least 1", (0.0, 1.0), low=1.0, kind="hard")
    >>> cl = Requirement("Cl at most 5", (1.0, 1.0), high=5.0, kind="hard")
    >>> print(too_few([k, p, cl], (), "", 1))
    1 ingredient cannot keep K at least 1, P at least 1; it takes 2
    """

    def takes(some):
        return fewest(_task(some), time_limit) if some else 0

    def is_too_many(some):
        least = takes(some)
        return least is None or least > most

    hard = [row for row in rows if row.kind == HARD]
    least = takes([*hard, *bands])
    if least is None or least <= most:
        return None
    held = list(bands) if not is_too_many(hard) else []
    blamed = [row.name for row in to_blame(hard, held, is_too_many)]
    told = ", ".join([*blamed, *([words] if held else [])])
    some = f"{most} ingredient{'' if most == 1 else 's'}"
    return Infeasible(
        f"{some} cannot keep {told}; it takes {least}", requirements=blamed
    )


def to_blame(rows, others, is_impossible):
    """
    Return the rows without which something would be possible, each tried in turn.

    Parameters
    ----------
    rows : sequence of Requirement
        Rows that together with others are impossible.
    others : sequence of Requirement
        Rows that stay.
    is_impossible : callable
        Takes rows, says whether they are impossible.

    Returns
    -------
    list of Requirement
        Rows of which none can be left out.

    Examples
    --------
    >>> to_blame([1, 2, 3], [], lambda some: 2 in some)
    [2]
    """
    left = list(rows)
    for row in tuple(rows):
        rest = [other for other in left if other is not row]
        if is_impossible([*rest, *others]):
            left = rest
    return left


def _task(rows):
    """Return the task of keeping rows, whatever else."""
    count = len(rows[0].coefficients)
    return Task(SUM, lines_of((), count), held_lines(rows, count))
