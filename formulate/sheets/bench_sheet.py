"""The bench sheet: one page of HTML that prints, and the same tables as CSV."""

import re
from functools import cache
from pathlib import Path

import jinja2

from formulate.errors import InputError
from formulate.files import write_text
from formulate.sheets.tables import csv_text, printed_cost, sheet_tables, stamp

__all__ = ["bench_sheet", "file_stem", "write_sheets"]

LONGEST_STEM = 60


@cache
def _template():
    loader = jinja2.FileSystemLoader(Path(__file__).parent)
    environment = jinja2.Environment(
        loader=loader, autoescape=True, undefined=jinja2.StrictUndefined
    )
    return environment.get_template("bench_sheet.html")


def bench_sheet(outcome):
    """
    Return the bench sheet of an outcome.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.

    Returns
    -------
    str
        One self-contained HTML page; whatever people typed is escaped.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> "Weigh for" in bench_sheet(run_job(read_job(DEMO)))
    True
    """
    recipe = outcome.recipe
    return _template().render(
        title=outcome.job.title or "Bench sheet",
        target=outcome.target.name or "own target",
        volume=f"{recipe.volume:.6g}",
        cost=printed_cost(recipe.cost),
        tables={table.key: table for table in sheet_tables(outcome)},
        workings=[recipe.working(key) for key in recipe.target.wanted],
        stamp=stamp(outcome),
    )


def file_stem(title):
    """
    Return a file name, without its ending, made from a title.

    Parameters
    ----------
    title : str
        Title of a job.

    Returns
    -------
    str
        Small letters, digits and hyphens.

    Examples
    --------
    >>> file_stem("Lindenhof glasshouse: tomatoes")
    'lindenhof-glasshouse-tomatoes'
    """
    stem = re.sub(r"[^a-z0-9]+", "-", title.casefold()).strip("-")[:LONGEST_STEM]
    return stem.strip("-") or "bench-sheet"


def write_sheets(outcome, folder):
    """
    Write the bench sheet as HTML and its tables as CSV.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.
    folder : str or Path
        Where to; it is made if it is not there.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    InputError
        If the folder or the files cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     [path.suffix for path in write_sheets(run_job(read_job(DEMO)), folder)]
    ['.html', '.csv']
    """
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"{folder}: cannot be made ({error.strerror})") from None
    stem = folder / file_stem(outcome.job.title)
    contents = {
        ".html": bench_sheet(outcome),
        ".csv": csv_text(sheet_tables(outcome)),
    }
    for ending, text in contents.items():
        write_text(stem.with_name(stem.name + ending), text)
    return tuple(stem.with_name(stem.name + ending) for ending in contents)
