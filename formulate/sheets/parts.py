"""Pages made of parts: each with a title, sentences, a figure, tables.

The same parts stand on a page of their own, in the bench and in the terminal. In the
bench a number whose working is known can be pressed; its working then stands beneath.
"""

from dataclasses import dataclass, replace
from pathlib import Path

import markupsafe

from formulate.files import make_folder, write_text
from formulate.sheets.bench_sheet import file_stem, template
from formulate.sheets.figures.picture import Picture
from formulate.sheets.table import Table, csv_text, table_text
from formulate.sheets.tables import stamp

__all__ = [
    "Part",
    "finished",
    "followed",
    "parts_markup",
    "parts_text",
    "write_parts",
]


@dataclass(frozen=True, eq=False)
class Part:
    """
    One part of a page.

    Attributes
    ----------
    title : str
        What it answers.
    words : tuple of str
        Sentences.
    picture : Picture or None
        Its figure; a drawing alone will do where it is only shown.
    table : Table or None
        Its numbers.
    cautions : tuple of str
        What to beware of while it is done.
    """

    title: str
    words: tuple = ()
    picture: Picture | None = None
    table: Table | None = None
    cautions: tuple = ()


@dataclass(frozen=True)
class Drawn:
    """
    A picture once it is drawn.

    Attributes
    ----------
    svg : str
        The drawing.
    """

    svg: str


def finished(parts):
    """
    Return parts whose pictures are drawn; what they were drawn from is let go.

    Parameters
    ----------
    parts : iterable of Part
        The parts.

    Returns
    -------
    tuple of Part
        The parts.

    Examples
    --------
    >>> finished([Part("why")])[0].title
    'why'
    """
    return tuple(
        replace(part, picture=part.picture and Drawn(part.picture.svg))
        for part in parts
    )


def parts_text(parts, outcome):
    """
    Return parts as text for a terminal.

    Parameters
    ----------
    parts : iterable of Part
        The parts.
    outcome : Outcome
        The outcome that they are about.

    Returns
    -------
    str
        Tables and sentences.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> parts_text([Part("why", ("so",))], run_job(read_job(DEMO))).splitlines()[:2]
    ['why', 'so']
    """
    found = []
    for part in parts:
        lines = table_text(part.table).splitlines()[1:] if part.table else []
        told = [f"caution: {text}" for text in part.cautions]
        found.append("\n".join([part.title, *lines, *part.words, *told]))
    return "\n\n".join([*found, stamp(outcome)])


def followed(parts, slot):
    """
    Return the numbers of parts whose working can be asked for.

    Parameters
    ----------
    parts : iterable of Part
        The parts.
    slot : str
        Where they are shown.

    Returns
    -------
    dict of str to Followed
        Slot, table, row and column in words, to what is behind the number.

    Examples
    --------
    >>> from formulate.sheets.table import Followed
    >>> table = Table("t", "Test", ("salt", "g"), (("KNO3", "1"),), (1,))
    >>> part = Part("one", table=table.with_workings([((0, 1), Followed(str))]))
    >>> list(followed([part], "plan"))
    ['plan t: KNO3, g']
    """
    return {
        key: part.table.workings[place]
        for part in parts
        if part.table
        for place, key in _keys(part.table, slot).items()
    }


def parts_markup(
    parts,
    outcome,
    *,
    heading,
    lines=(),
    whole=False,
    slot=None,
    pressed="",
    working=None,
    sources=(),
):
    """
    Return parts as HTML.

    Parameters
    ----------
    parts : iterable of Part
        The parts.
    outcome : Outcome
        The outcome that they are about.
    heading : str
        What was done, such as "compared".
    lines : iterable of str
        Sentences before the parts.
    whole : bool
        Whether it is a page of its own; else a part of one.
    slot : str or None
        Where it is shown, if its numbers can be pressed there.
    pressed : str
        The number that was pressed, as `followed` names it; "" if none was.
    working : Working or None
        Its working.
    sources : iterable of (str, str)
        Keys of sources that the working cites, with what they stand for.

    Returns
    -------
    str
        HTML; whatever people typed is escaped.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> outcome = run_job(read_job(DEMO))
    >>> "<h3>why</h3>" in parts_markup([Part("why")], outcome, heading="asked")
    True
    """
    pictured = [
        (
            part,
            markupsafe.Markup(part.picture.svg) if part.picture else "",
            {} if slot is None or not part.table else _keys(part.table, slot),
        )
        for part in parts
    ]
    return template("parts.html").render(
        title=outcome.job.title or heading.capitalize(),
        heading=heading,
        lines=lines,
        parts=pictured,
        stamp=stamp(outcome),
        whole=whole,
        slot=slot,
        pressed=pressed,
        working=working,
        sources=sources,
    )


def _keys(table, slot):
    """Return row and column of each number that can be followed, to its name there."""
    return {place: f"{slot} {key}" for key, place in table.keys().items()}


def write_parts(parts, outcome, folder, *, heading, lines=()):
    """
    Write parts as HTML and their tables as CSV.

    Parameters
    ----------
    parts : iterable of Part
        The parts.
    outcome : Outcome
        The outcome that they are about.
    folder : str or Path
        Where to; it is made if it is not there.
    heading : str
        What was done; it ends the name of the files.
    lines : iterable of str
        Sentences before the parts.

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
    >>> outcome = run_job(read_job(DEMO))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     [p.name[-10:] for p in write_parts([Part("why")], outcome, folder, heading="asked")]
    ['asked.html', '-asked.csv']
    """
    parts = tuple(parts)
    stem = f"{file_stem(outcome.job.title)}-{heading}"
    told = {"heading": heading, "lines": lines, "whole": True}
    contents = {
        ".html": parts_markup(parts, outcome, **told),
        ".csv": csv_text([part.table for part in parts if part.table]),
    }
    make_folder(folder)
    paths = tuple(Path(folder) / f"{stem}{ending}" for ending in contents)
    for path, text in zip(paths, contents.values(), strict=True):
        write_text(path, text)
    return paths
