"""Drift: thirty canonical jobs worked out again and held against what is stored of them.

Whoever changes code or tables runs it and reads what that does to results, in percent:

    python tests/drift_report.py                the table; exit 1 if anything moved
    python tests/drift_report.py --all          every row of it
    python tests/drift_report.py --write WORDS  stores what moved

A result changes only together with a line in `reference/changes.md`. So `--write` looks for
one line in the part that is not yet released that holds both the words, which say what changed
and why, and the effect as this report prints it: no older line can stand for a new change.
Jobs stand in `tests/drift/jobs.csv`, results in `tests/drift/stored.csv`.
"""

import argparse
import sys
from pathlib import Path

from drift.canonical import canonical_jobs, values_of
from drift.differences import (
    FAULT,
    differences_of,
    effect_words,
    line_of_changes,
    summary_lines,
    table_lines,
)
from drift.stored import STORED, WORD, merged, read_stored, written

import formulate
from formulate.errors import FormulateError
from formulate.tables import checksum

CHANGES = Path(__file__).parent.parent / "reference" / "changes.md"
UNRELEASED = "(not yet released)"
SAME, MOVED, REFUSED = 0, 1, 2
SHOWN = 60  # rows without --all


def results_of(job):
    """Return quantity to (value, unit) of a canonical job, or why it cannot be done."""
    try:
        return values_of(job)
    except FormulateError as error:
        return {FAULT: (str(error), WORD)}


def all_differences(stored, now):
    """Return what moved of every job; one that is in one of both only, in full."""
    jobs = dict.fromkeys((*now, *stored))
    pairs = ((job, stored.get(job, {}), now.get(job, {})) for job in jobs)
    return [one for told in pairs for one in differences_of(*told)]


def unreleased_lines(text):
    """Return the lines of the changes that are not yet released."""
    lines, found, inside = text.splitlines(), [], False
    for line in lines:
        if line.startswith("## "):
            inside = UNRELEASED in line
        elif inside:
            found.append(" ".join(line.split()))
    return found


def why_refused(found, words, changes):
    """Return why nothing may be stored, or "" if a line tells of the change."""
    faults = [one for one in found if one.quantity == FAULT]
    if faults:
        return "; ".join(f"{one.job} cannot be done: {one.now}" for one in faults)
    words = " ".join(words.split())
    if not words:
        return "say in words what changed and why: --write WORDS"
    effect = effect_words(found)
    if any(words in line and effect in line for line in unreleased_lines(changes)):
        return ""
    return (
        f"no line under {UNRELEASED} in reference/changes.md holds both these words and "
        f"the effect; put this one there (name the file or table) and write again:\n"
        f"{line_of_changes(found, words)}"
    )


def report(stored, now, head, most=None):
    """Return the report as text: table, a line for each job, the line to be written."""
    found = all_differences(stored, now)
    counts = {job: len(of) for job, of in now.items()}
    lines = summary_lines(counts, found)
    made = f"formulate {formulate.__version__}, tables {checksum()}"
    lines.append(f"stored by {head.get('stored by', 'nobody')}; now {made}")
    if found:
        lines = [*table_lines(found, most), "", *lines, ""]
        lines += ["if this is meant, put a line into reference/changes.md:"]
        lines += [line_of_changes(found), "then --write with its first words"]
    return "\n".join(lines)


def store(stored, now, words, path=STORED, changes=CHANGES):
    """Store what moved; return why not, or "" once it is done or nothing moved."""
    found = all_differences(stored, now)
    if not found:
        return ""
    why = why_refused(found, words, changes.read_text(encoding="utf-8"))
    if why:
        return why
    head = {
        "change": " ".join(words.split()),
        "stored by": f"formulate {formulate.__version__}, tables {checksum()}",
    }
    moved = {(one.job, one.quantity) for one in found}
    written(path, head, merged(stored, now, moved))
    return ""


def main(arguments=None):
    """Print the report, or store what moved; return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--all", action="store_true", help="every row of the table")
    parser.add_argument("--write", metavar="WORDS", help="store what moved")
    given = parser.parse_args(arguments)
    head, stored = read_stored()
    now = {job: results_of(job) for job in canonical_jobs()}
    print(report(stored, now, head, None if given.all else SHOWN))
    if given.write is None:
        return MOVED if all_differences(stored, now) else SAME
    why = store(stored, now, given.write)
    print(f"not stored: {why}" if why else "stored")
    return REFUSED if why else SAME


if __name__ == "__main__":
    sys.exit(main())
