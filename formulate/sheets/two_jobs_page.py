"""Two jobs side by side as people get it: text for a terminal, a page, plain data, files."""

from dataclasses import replace

from formulate.outcome import Outcome
from formulate.sheets.parts import parts_markup, parts_text, write_parts
from formulate.sheets.two_jobs import two_jobs_names, two_jobs_parts
from formulate.sheets.two_jobs_asked import part_or_why

__all__ = [
    "two_jobs_data",
    "two_jobs_lines",
    "two_jobs_markup",
    "two_jobs_text",
    "write_two_jobs",
]

HEADING = "side-by-side"


def two_jobs_lines(first, second):
    """
    Return which job is called the first and which the second, and why one has no recipe.

    Parameters
    ----------
    first : Outcome
        The outcome of one job.
    second : Outcome
        The outcome of the other.

    Returns
    -------
    tuple of str
        A sentence for each.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> spring = Outcome(Job(title="spring"))
    >>> two_jobs_lines(spring, spring)[0]
    'first: spring, first; it has no recipe: nothing wanted; write published = "..." or a \
[target.wanted]'
    """
    sides = ("first", first), ("second", second)
    names = two_jobs_names(first, second)
    return tuple(
        f"{which}: {name}" + _no_recipe(side)
        for (which, side), name in zip(sides, names, strict=True)
    )


def _no_recipe(outcome):
    """Return why a job has no recipe, to stand behind its name; empty if it has one."""
    _, why = part_or_why(outcome, "weighing")
    return f"; it has no recipe: {why}" if why else ""


def two_jobs_text(first, second):
    """
    Return two jobs side by side as text for a terminal.

    Parameters
    ----------
    first : Outcome
        The outcome of one job.
    second : Outcome
        The outcome of the other.

    Returns
    -------
    str
        Which is which, tables and sentences.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> demo = run_job(replace(read_job(DEMO), title="Lindenhof"))
    >>> two_jobs_text(demo, demo).splitlines()[:2]
    ['first: Lindenhof, first', 'second: Lindenhof, second']
    """
    lines = "\n".join(two_jobs_lines(first, second))
    return f"{lines}\n\n{parts_text(two_jobs_parts(first, second), first)}"


def two_jobs_data(first, second):
    """
    Return two jobs side by side as plain data, for other programs.

    Parameters
    ----------
    first : Outcome
        The outcome of one job.
    second : Outcome
        The outcome of the other.

    Returns
    -------
    dict
        Title of each part to its columns, rows and sentences, as they are shown.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> demo = run_job(read_job(DEMO))
    >>> two_jobs_data(demo, demo)["what was asked"]["words"]
    ['nothing differs: both jobs ask the same']
    """
    return {
        part.title: {
            "columns": list(part.table.columns) if part.table else [],
            "rows": [list(row) for row in part.table.rows] if part.table else [],
            "words": list(part.words),
        }
        for part in two_jobs_parts(first, second)
    }


def two_jobs_markup(first, second, *, whole=False):
    """
    Return two jobs side by side as HTML.

    Parameters
    ----------
    first : Outcome
        The outcome of one job.
    second : Outcome
        The outcome of the other.
    whole : bool
        Whether it is a page of its own; else a part of one.

    Returns
    -------
    str
        HTML; whatever people typed is escaped.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> demo = run_job(read_job(DEMO))
    >>> "<h3>what was asked" in two_jobs_markup(demo, demo)
    True
    """
    told = {"heading": HEADING, "lines": two_jobs_lines(first, second), "whole": whole}
    return parts_markup(two_jobs_parts(first, second), _both(first, second), **told)


def write_two_jobs(first, second, folder):
    """
    Write two jobs side by side as HTML and the tables as CSV.

    Parameters
    ----------
    first : Outcome
        The outcome of one job.
    second : Outcome
        The outcome of the other.
    folder : str or Path
        Where to; it is made if it is not there.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    InputError
        If they cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> demo = run_job(replace(read_job(DEMO), title="Lindenhof"))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     [path.name for path in write_two_jobs(demo, demo, folder)]
    ['lindenhof-side-by-side.html', 'lindenhof-side-by-side.csv']
    """
    parts, lines = two_jobs_parts(first, second), two_jobs_lines(first, second)
    both = _both(first, second)
    return write_parts(parts, both, folder, heading=HEADING, lines=lines)


def _both(first, second):
    """Return an outcome with the titles of both, for the head of a page."""
    titles = dict.fromkeys(side.job.title for side in (first, second) if side.job.title)
    return Outcome(replace(first.job, title=" and ".join(titles)))
