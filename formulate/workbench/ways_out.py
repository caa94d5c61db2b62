"""A way out of wishes that cannot hold together, taken: the next job, and what it misses."""

import math
import re
from dataclasses import dataclass

from formulate.errors import FormulateError
from formulate.jobs import Job
from formulate.recipes.limits import limit
from formulate.tables import recipe_rule
from formulate.workbench.edits import with_target_entry, with_target_value
from formulate.workbench.findings import Findings
from formulate.workbench.shelf_edits import with_line_entry
from formulate.workbench.usual import same_key
from formulate.working import printed, printed_percent

__all__ = ["WayOut", "taken", "way_out"]

TOLD = re.compile(r"(.+?) (at least|at most|exactly) (.+)")
OF_AMOUNT, ANY_SHARE = "amount of ", "any share of ammonium"
PERCENT = 100.0


@dataclass(frozen=True, eq=False)
class WayOut:
    """
    A way out, tried.

    Attributes
    ----------
    job : Job or None
        The job with what has to give; None where nothing of a job stands for it.
    words : str
        What the recipe then misses, or that something else still conflicts.
    """

    job: Job | None
    words: str = ""


def taken(job, way):
    """
    Return a job in which a limit gives as much as a way out asks.

    Parameters
    ----------
    job : Job
        The job.
    way : str
        The way out as it is told, such as "Na at most 112 mg/L".

    Returns
    -------
    Job or None
        The next job; None if no limit of the job and no line of its shelf stands for it.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> asked = Job(target=(("wanted", (("K", "180"),)), ("limits", (("K", "190 to 200"),))))
    >>> dict(taken(asked, "K at least 155.8 mg/L").target)["limits"]
    (('K', '155.8 to 200 mg/L'),)
    """
    if way.startswith(ANY_SHARE):
        return with_target_entry(
            with_target_entry(job, "ammonium_low", "0"), "ammonium_high", "100"
        )
    found = TOLD.fullmatch(way)
    if not found:
        return None
    subject, words, bound = found.groups()
    if subject.startswith(OF_AMOUNT):
        return _with_amount(job, subject.removeprefix(OF_AMOUNT), f"{words} {bound}")
    limits = dict(dict(job.target).get("limits", ()))
    typed = next((key for key in limits if same_key(key, subject)), subject)
    text = _other_side_kept(typed, limits.get(typed), words, bound)
    return with_target_value(job, "limits", typed, text)


def _with_amount(job, name, use):
    """Return a job that uses another amount of an ingredient; None if none is called so."""
    made = Findings(job).checked.made
    names = [None if ingredient is None else ingredient.name for ingredient in made]
    if job.shelf_file or name not in names:
        return None
    return with_line_entry(job, names.index(name), "use", use)


def _other_side_kept(subject, typed, words, bound):
    """Return a limit whose one side gives; the other stays as it was typed."""
    try:
        before = limit(subject, typed) if typed else None
    except FormulateError:
        before = None
    value, _, unit = bound.partition(" ")
    if before is None or unit != before.unit:
        return f"{words} {bound}"
    low, high = f"{before.low:.10g}", f"{before.high:.10g}"
    if words == "at least" and math.isfinite(before.high):
        return f"{value} to {high} {unit}".strip()
    if words == "at most" and math.isfinite(before.low):
        return f"{low} to {value} {unit}".strip()
    return f"{words} {bound}"


def way_out(job, way):
    """
    Return a way out, tried: what the recipe would then miss.

    Parameters
    ----------
    job : Job
        The job without a recipe.
    way : str
        The way out as it is told.

    Returns
    -------
    WayOut
        The next job with what is to know of its recipe.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> way_out(Job(), "pH missed by 0.3").job is None
    True
    """
    try:
        job = taken(job, way)
    except FormulateError:
        job = None
    if job is None:
        return WayOut(None, "loosen it where it was asked")
    found = Findings(job)
    if not found.has_recipe and found.why_not is None:
        return WayOut(None, "loosen it where it was asked")
    if not found.has_recipe:
        return WayOut(job, "something else still conflicts then")
    return WayOut(job, _missed(found.outcome.recipe))


def _missed(recipe):
    """Return what a recipe misses by more than the rule, in words."""
    least = recipe_rule("miss").number("high")
    misses = {key: PERCENT * miss for key, miss in recipe.misses.items()}
    told = [
        f"{key} {printed_percent(miss)}"
        for key, miss in sorted(misses.items(), key=lambda pair: -abs(pair[1]))
        if abs(miss) > least
    ]
    if not told:
        return f"every wish within {printed(least, 2)} %"
    return f"misses {', '.join(told)}"
