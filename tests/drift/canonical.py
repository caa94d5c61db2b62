"""A canonical job and all that is told of it: which job, what is asked, every value."""

import csv
from pathlib import Path
from unittest.mock import patch

from drift.batch_values import (
    batch_values,
    oxygen_values,
    titration_values,
    warmth_values,
)
from drift.choice_values import (
    LONG,
    bag_values,
    choice_values,
    curve_values,
    doubt_values,
    limit_values,
    price_values,
    purchase_values,
    usable_values,
)
from drift.claim_values import claim_values
from drift.mixing_values import mixing_values, order_values, pair_values
from formulate import job_recipe
from formulate.jobs import read_job
from formulate.outcome import Outcome, run_job

__all__ = ["ASKS", "FOLDER", "canonical_jobs", "values_of"]

FOLDER = Path(__file__).parent
JOBS = FOLDER / "jobs.csv"
ASKS = {
    "order": order_values,
    "pairs": pair_values,
    "warmth": warmth_values,
    "oxygen": oxygen_values,
    "titration": titration_values,
    "curve": curve_values,
    "bags": bag_values,
    "prices": price_values,
    "usable": usable_values,
    "limits": limit_values,
    "buy": purchase_values,
    "doubt": doubt_values,
}


def canonical_jobs():
    """Return name to what is asked of each canonical job, in their order."""
    with JOBS.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return {
        row["job"]: tuple(filter(None, row["asks"].replace(" ", "").split(";")))
        for row in rows
    }


def values_of(name):
    """Return quantity to (value, unit) of one job; a number, or text in "word"."""
    job = read_job(FOLDER / f"{name}.toml")
    found = {}
    with patch.object(job_recipe, "SEARCH", LONG):
        for quantity, value, unit in _told(job, canonical_jobs()[name]):
            if quantity in found:
                raise ValueError(f"{name}: {quantity} is told twice")
            found[quantity] = (value, unit)
    return found


def _told(job, asks):
    """Yield all that is told of a job: of one without a volume its papers only."""
    outcome = run_job(job) if job.volume else Outcome(job)
    if job.volume:
        yield from batch_values(outcome)
        yield from choice_values(outcome)
        yield from mixing_values(outcome)
    if job.papers:
        yield from claim_values(outcome.claims)
    for ask in asks:
        yield from ASKS[ask](outcome)
