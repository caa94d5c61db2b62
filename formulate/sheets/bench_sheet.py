"""The bench sheet: HTML that prints on A4 and Letter, and the same tables as CSV."""

import re
from functools import cache
from pathlib import Path

import jinja2
import markupsafe

from formulate.files import make_folder, write_text
from formulate.sheets.contents_tables import as_weighed
from formulate.sheets.measures import batch_text
from formulate.sheets.tables import csv_text, printed_cost, sheet_tables, stamp
from formulate.tables import recipe_rule

__all__ = ["bench_sheet", "file_stem", "template", "write_sheets"]

LONGEST_STEM = 60


@cache
def template(name):
    """
    Return a template of this folder; whatever it is given is escaped.

    Parameters
    ----------
    name : str
        File name.

    Returns
    -------
    jinja2.Template
        The template.

    Examples
    --------
    >>> template("bench_sheet.html").name
    'bench_sheet.html'
    """
    loader = jinja2.FileSystemLoader(Path(__file__).parent)
    environment = jinja2.Environment(
        loader=loader, autoescape=True, undefined=jinja2.StrictUndefined
    )
    return environment.get_template(name)


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
        One self-contained HTML file; whatever people typed is escaped.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> "Weigh for" in bench_sheet(run_job(read_job(DEMO)))
    True
    """
    weighing = outcome.weighing
    tables = {table.key: table for table in sheet_tables(outcome)}
    places = range(1, len(weighing.stocks) + 1)
    return template("bench_sheet.html").render(
        title=outcome.job.title or "Bench sheet",
        target=outcome.target.name or "own target",
        volume=batch_text(weighing.volume, outcome.job.units),
        cost=printed_cost(weighing.cost),
        tables=tables,
        stocks=[(tables[f"stock {n}"], tables[f"label {n}"]) for n in places],
        tanks=_tanks(tables),
        few_steps=_few_steps(),
        figure=_figure(weighing),
        workings=[
            *(weighing.working(key) for key in weighing.target.wanted),
            outcome.working("pH"),
            outcome.working("EC"),
            *_workings_of_chemistry(outcome),
        ],
        stamp=stamp(outcome),
    )


def _tanks(tables):
    """Return contents and label of each concentrate."""
    names = [key.removeprefix("tank label ") for key in tables if "tank label" in key]
    return [(tables[f"tank {n}"], tables[f"tank label {n}"]) for n in names]


def _workings_of_chemistry(outcome):
    """Yield the arithmetic of the first dose and of the solids that may form."""
    if outcome.correction.at_hand and outcome.correction.doses:
        yield outcome.working("dose")
    for risk in outcome.solids.telling:
        if risk.role != "soluble":
            yield outcome.working(risk.name)


def _few_steps():
    """Return the number of steps below which a stock is proposed. [-]"""
    return f"{recipe_rule('few steps').number('low'):g}"


def _figure(weighing):
    """Return the picture of achieved against wanted, as weighed, as markup."""
    from formulate.sheets.figures.achieved import achieved

    return markupsafe.Markup(achieved(as_weighed(weighing)).svg)


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
    stem = make_folder(folder) / file_stem(outcome.job.title)
    contents = {
        ".html": bench_sheet(outcome),
        ".csv": csv_text(sheet_tables(outcome)),
    }
    for ending, text in contents.items():
        write_text(stem.with_name(stem.name + ending), text)
    return tuple(stem.with_name(stem.name + ending) for ending in contents)
