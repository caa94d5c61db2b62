"""`formulate side-by-side`: two jobs held against each other, from a shell."""

import json

from formulate.errors import Faults
from formulate.jobs import read_job

__all__ = ["add_side_by_side"]

DONE, SERIOUS = 0, 1
DESCRIPTION = (
    "Tell how two jobs differ: what was asked, what is weighed, what it costs, what a litre "
    "holds, what meters show and what may fall out, notices that only one of them has. A job "
    "whose limits cannot hold together has no recipe; the rest is told all the same."
)


def add_side_by_side(commands):
    """
    Add the command to a command line.

    Parameters
    ----------
    commands : argparse action
        Where commands are added.

    Examples
    --------
    >>> import argparse
    >>> parser = argparse.ArgumentParser()
    >>> add_side_by_side(parser.add_subparsers())
    >>> parser.parse_args(["side-by-side", "spring.toml", "autumn.toml"]).second
    'autumn.toml'
    """
    beside = commands.add_parser(
        "side-by-side", help="how two jobs differ", description=DESCRIPTION
    )
    beside.add_argument("first", help="a job file (TOML); percents are of this one")
    beside.add_argument("second", help="the job file that is held against it")
    beside.add_argument(
        "--json", action="store_true", help="print one JSON object instead"
    )
    beside.add_argument("--out", metavar="DIR", help="write it as HTML and CSV, too")
    beside.set_defaults(do=_side_by_side)


def _side_by_side(options):
    """Print how two jobs differ."""
    from formulate.sheets.two_jobs_asked import part_or_why
    from formulate.sheets.two_jobs_page import (
        two_jobs_data,
        two_jobs_text,
        write_two_jobs,
    )

    both = _outcomes(options.first, options.second)
    files = write_two_jobs(*both, options.out) if options.out else ()
    if options.json:
        data = {**two_jobs_data(*both), "files": [str(path) for path in files]}
        print(json.dumps(data, ensure_ascii=False, indent=1))
    else:
        print(two_jobs_text(*both))
        print("\n".join(f"written: {path}" for path in files), end="\n" * bool(files))
    told = [part_or_why(side, "notices")[0] for side in both]
    return SERIOUS if any(map(_is_serious, told)) else DONE


def _is_serious(notices):
    """Return whether something serious is to be known, such as that there is no recipe."""
    return notices is None or any(n.severity == "serious" for n in notices)


def _outcomes(*paths):
    """Return the outcome of each job; the faults of all are told at once."""
    from formulate.outcome import run_job

    faults, found = Faults(), []
    for path in paths:
        with faults.collecting(path):
            found.append(run_job(read_job(path)))
    faults.raise_if_any()
    return found
