"""Saving a job: text that reads back as the same job, comments and order kept."""

import os
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from formulate.errors import Faults, InputError, shortened
from formulate.files import read_text, write_text
from formulate.jobs import (
    FORMAT,
    MIXING_KEYS,
    OPTIONS,
    PAIRED,
    Job,
    job_from_text,
)
from formulate.papers import paper_as_mapping
from formulate.shelf_lines import lines_of_shelf

__all__ = ["in_folder", "save_job", "self_contained", "text_of_job"]

EMPTY = ("", {}, [])  # read as if they were not there
CANNOT_KEEP = (TOMLKitError, InputError, AttributeError, LookupError, TypeError)
CANNOT_KEEP += (ValueError,)
NOT_AS_IT_IS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")  # all but tab and line feed


def _as_mapping(job):
    """Return a job as the plain mapping that its file holds."""
    document = {"formulate": FORMAT}
    told = {key: getattr(job, key) for key in ("title", "volume", *OPTIONS)}
    document |= {
        k: list(v) if isinstance(v, tuple) else v
        for k, v in told.items()
        if v != getattr(Job, k)
    }
    tables = {
        "target": {key: _target_value(key, value) for key, value in job.target},
        "water": dict(job.water),
        "mixing": {
            key: list(value) if isinstance(value, tuple) else value
            for key, value in sorted(job.mixing, key=_place_in_mixing)
        },
        "shelf": [_line_as_mapping(line) for line in job.shelf],
        "paper": [paper_as_mapping(paper) for paper in job.papers],
    }
    return document | {key: value for key, value in tables.items() if value}


def _place_in_mixing(pair):
    """Return where an entry of the mixing stands; unknown ones last."""
    return MIXING_KEYS.index(pair[0]) if pair[0] in MIXING_KEYS else len(MIXING_KEYS)


def _target_value(key, value):
    """Return one entry of a target as its file holds it."""
    if key in PAIRED:
        return dict(value)
    if key == "priorities":
        return [list(group) for group in value]
    return list(value) if isinstance(value, tuple) else value


def _line_as_mapping(line):
    return {
        key: dict(value) if isinstance(value, tuple) else value
        for key, value in line.given.items()
    }


def text_of_job(job, *, before=""):
    """
    Return the text of a job file.

    Parameters
    ----------
    job : Job
        The job.
    before : str
        Text of the file it replaces; comments and order are kept where they fit.

    Returns
    -------
    str
        Text that reads back as the same job.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> job = read_job(DEMO)
    >>> job_from_text(text_of_job(job)) == job
    True
    """
    fresh = tomlkit.document()
    _update(fresh, _as_mapping(job))
    if before:
        try:
            document = tomlkit.parse(before)
            _update(document, _as_mapping(job))
            text = tomlkit.dumps(document)
            if job_from_text(text) == job:
                return text
        except CANNOT_KEEP:
            pass  # a file of another shape: it is written anew
    return tomlkit.dumps(fresh)


def _update(old, new):
    """Bring a document in line with a mapping, leaving alone what is the same already."""
    for key in [key for key in old if key not in new]:
        if _plain(old[key]) not in EMPTY:
            del old[key]
    for key, value in new.items():
        there = old.get(key)
        if isinstance(there, Mapping) and isinstance(value, dict):
            _update(there, value)
        elif key in ("shelf", "paper"):
            if _plain(there) != value:
                old[key] = _listed(there or [], value)
        elif (
            there is None
            or _plain(there) != value
            or type(_plain(there)) is not type(value)
        ):
            old[key] = _item(value)


def _item(value):
    """Return a value for the file; a pasted text keeps its lines."""
    if isinstance(value, dict):
        table = tomlkit.table()
        for key, entry in value.items():
            table[key] = _item(entry)
        return table
    if isinstance(value, str) and "\n" in value:
        return _of_several_lines(value)
    return tomlkit.item(value)


def _of_several_lines(text):
    """Return a TOML string of as many lines; escaped where it holds what must be."""
    if "'''" in text or NOT_AS_IT_IS.search(text):
        escaped = text.replace("\\", "\\\\").replace('"', '\\"')
        escaped = escaped.replace("\r", "\\r")
        escaped = NOT_AS_IT_IS.sub(lambda sign: f"\\u{ord(sign[0]):04x}", escaped)
        written = f'"""\n{escaped}"""'
    else:
        written = f"'''\n{text}'''"
    return tomlkit.parse(f"text = {written}")["text"]


def _listed(old, new):
    """Return shelf or papers, each line that was there before with its comments."""
    left = [line for line in old if isinstance(line, Mapping)]
    listed = tomlkit.aot()
    for mapping in new:
        same = [line for line in left if _named(line) == _named(mapping)]
        if same:
            left.remove(same[0])
            _update(same[0], mapping)
            listed.append(same[0])
        else:
            listed.append(_item(mapping))
    return listed


def _named(line):
    told = line.get("name") or line.get("label") or line.get("text")
    return (line.get("ingredient"), told)


def _plain(item):
    return item.unwrap() if hasattr(item, "unwrap") else item


def in_folder(job, folder):
    """
    Return a job as it is to stand in another folder.

    Parameters
    ----------
    job : Job
        The job.
    folder : str or Path
        Where its file will lie.

    Returns
    -------
    Job
        The same; the place of a shelf file is told from that folder.

    Examples
    --------
    >>> in_folder(Job(shelf_file="shelf.csv", folder="/home/a"), "/home/b").shelf_file
    '../a/shelf.csv'
    """
    if not job.shelf_file or not job.folder:
        return job
    there = os.path.relpath(Path(job.folder) / job.shelf_file, folder)
    return replace(job, shelf_file=Path(there).as_posix(), folder=str(folder))


def self_contained(job):
    """
    Return a job that needs no other file: what stands in its shelf file stands in it.

    A report of a water and papers are part of a job as it is; the shelf is all that may
    stand in a file beside it. Comments and notes of that file are not taken along.

    Parameters
    ----------
    job : Job
        The job.

    Returns
    -------
    Job
        One that gives the same recipe wherever its file lies.

    Raises
    ------
    InputError
        With every fault: a shelf file that cannot be read or is at fault by line and
        column, lines of a shelf beside it.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_text(Path(folder) / "shelf.csv", "ingredient;step\\nKNO3;0.1 g\\n")
    ...     made = self_contained(Job(shelf_file="shelf.csv", folder=folder))
    >>> made.shelf_file, made.shelf[0].ingredient
    ('', 'KNO3')
    """
    if not isinstance(job, Job):
        raise InputError(f"{shortened(job)} is no job; read one with read_job")
    if not job.shelf_file:
        return replace(job, folder="")
    faults, lines = Faults("shelf_file"), ()
    if job.shelf:
        faults.add("there are [[shelf]] lines too; give one or the other")
    with faults.collecting():
        path = Path(job.folder) / job.shelf_file
        lines = lines_of_shelf(read_text(path), name=path.name)
    faults.raise_if_any()
    return replace(job, shelf=lines, shelf_file="", folder="")


def save_job(job, path):
    """
    Save a job; the file is replaced in one step, or not at all.

    Parameters
    ----------
    job : Job
        The job.
    path : str or Path
        Where to; comments of a file that is there already are kept.

    Raises
    ------
    InputError
        If the file cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from formulate.jobs import DEMO, read_job
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     save_job(read_job(DEMO), Path(folder) / "job.toml")
    ...     read_job(Path(folder) / "job.toml") == read_job(DEMO)
    True
    """
    path = Path(path)
    try:
        before = path.read_text(encoding="utf-8-sig")
    except (OSError, ValueError):  # UnicodeDecodeError is a ValueError
        before = ""
    write_text(path, text_of_job(in_folder(job, path.parent), before=before))
