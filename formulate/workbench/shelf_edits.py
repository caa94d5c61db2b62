"""What a person changes on the shelf of a job: one function each, to the next job."""

from dataclasses import fields, replace

from formulate.errors import InputError, shortened
from formulate.jobs import ShelfLine
from formulate.workbench.edits import number_or_none

__all__ = [
    "moved_line",
    "with_line",
    "with_line_entry",
    "with_step",
    "without_line",
]

NUMBERS = tuple(f.name for f in fields(ShelfLine) if "float" in str(f.type))
TYPED = tuple(f.name for f in fields(ShelfLine) if f.type is str)


def with_line(job, line):
    """
    Return a job with one ingredient more on the shelf.

    Parameters
    ----------
    job : Job
        The job.
    line : ShelfLine
        What is put there, as the last choice.

    Returns
    -------
    Job
        The next job.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> len(with_line(Job(), ShelfLine("KNO3")).shelf)
    1
    """
    return replace(job, shelf=(*job.shelf, line))


def without_line(job, place):
    """
    Return a job with one ingredient less on the shelf.

    Parameters
    ----------
    job : Job
        The job.
    place : int
        Which line, counted from 0. [-]

    Returns
    -------
    Job
        The next job.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> without_line(with_line(Job(), ShelfLine("KNO3")), 0).shelf
    ()
    """
    _check_place(job, place)
    return replace(job, shelf=(*job.shelf[:place], *job.shelf[place + 1 :]))


def moved_line(job, place, by):
    """
    Return a job in which a line of the shelf stands higher or lower.

    Parameters
    ----------
    job : Job
        The job.
    place : int
        Which line, counted from 0. [-]
    by : int
        How far it goes down; up is negative. It stops at the ends. [-]

    Returns
    -------
    Job
        The next job.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> job = with_line(with_line(Job(), ShelfLine("KNO3")), ShelfLine("K2SO4"))
    >>> [line.ingredient for line in moved_line(job, 1, -1).shelf]
    ['K2SO4', 'KNO3']
    """
    _check_place(job, place)
    lines = list(job.shelf)
    line = lines.pop(place)
    lines.insert(min(max(place + by, 0), len(lines)), line)
    return replace(job, shelf=tuple(lines))


def with_line_entry(job, place, key, text):
    """
    Return a job with one cell of a line of the shelf changed.

    Parameters
    ----------
    job : Job
        The job.
    place : int
        Which line, counted from 0. [-]
    key : str
        A field of `ShelfLine` that holds a text or a number.
    text : str
        What was typed.

    Returns
    -------
    Job
        The next job.

    Raises
    ------
    InputError
        If a number is asked for and none was typed.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> job = with_line(Job(), ShelfLine("KNO3"))
    >>> with_line_entry(job, 0, "price_per_kg", "2,40").shelf[0].price_per_kg
    2.4
    """
    _check_place(job, place)
    if key not in (*NUMBERS, *TYPED):
        raise InputError(f"{shortened(key)} is no column of the shelf")
    value = number_or_none(text) if key in NUMBERS else str(text).strip()
    line = replace(job.shelf[place], **{key: value})
    return replace(job, shelf=(*job.shelf[:place], line, *job.shelf[place + 1 :]))


def with_step(job, text):
    """
    Return a job in which everything on the shelf is weighed in the same step.

    Parameters
    ----------
    job : Job
        The job.
    text : str
        Step with its unit, such as "1 g".

    Returns
    -------
    Job
        The next job.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> with_step(with_line(Job(), ShelfLine("KNO3")), "1 g").shelf[0].step
    '1 g'
    """
    step = str(text).strip()
    return replace(job, shelf=tuple(replace(line, step=step) for line in job.shelf))


def _check_place(job, place):
    if not 0 <= place < len(job.shelf):
        raise InputError(f"there is no line {place + 1} on this shelf")
