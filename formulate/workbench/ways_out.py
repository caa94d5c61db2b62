"""A way out of wishes that cannot hold together, taken: the next job, and what it misses."""

import math
from dataclasses import dataclass

from formulate.errors import FormulateError
from formulate.jobs import Job
from formulate.recipes.conflict_words import let_go
from formulate.tables import recipe_rule
from formulate.workbench.edits import with_target_entry, with_target_value
from formulate.workbench.findings import Findings
from formulate.workbench.shelf_edits import with_line_entry
from formulate.workbench.usual import same_key
from formulate.working import printed, printed_percent

__all__ = ["WayOut", "taken", "way_out", "ways_of"]

PERCENT = 100.0
DIGITS = 10  # of a bound: as many as an exact one is told with


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


def ways_of(error):
    """
    Return the ways out that an error tells.

    Parameters
    ----------
    error : FormulateError or None
        Why there is no recipe.

    Returns
    -------
    tuple of (str, mapping of str to float, Relaxation)
        How each is told, the batch's amounts of the recipe then nearest, and which row
        gives how much. [g]

    Examples
    --------
    >>> from formulate.errors import InputError
    >>> ways_of(InputError("nothing wanted")), ways_of(None)
    ((), ())
    """
    told = getattr(error, "ways", ())
    ways = [way for _, ways in getattr(error, "conflicts", ()) for way in ways]
    return tuple((*pair, way) for pair, way in zip(told, ways, strict=True))


def taken(job, way):
    """
    Return a job in which a limit gives as much as a way out asks.

    Parameters
    ----------
    job : Job
        The job.
    way : Relaxation
        The way out: which row gives, and how much.

    Returns
    -------
    Job or None
        The next job; None if no limit of the job and no line of its shelf stands for it.

    Examples
    --------
    >>> from formulate.jobs import ShelfLine
    >>> facts = {"volume": "10 L", "shelf": (ShelfLine("KNO3"),)}
    >>> limits = (("K", "190 to 200"), ("NO3-N", "at most 20"))
    >>> job = Job(target=(("wanted", (("K", "180"),)), ("limits", limits)), **facts)
    >>> (words, _, way), _ = ways_of(Findings(job).why_not)
    >>> words, dict(taken(job, way).target)["limits"][0]
    ('K at least 55.82 mg/L', ('K', '55.82 to 200 mg/L'))
    """
    if way.requirement.origin == "ammonium share":
        return with_target_entry(
            with_target_entry(job, "ammonium_low", "0"), "ammonium_high", "100"
        )
    found = let_go(way, Findings(job).outcome.volume)
    if found is None:
        return None
    if found.of_amount:
        return _with_amount(job, found.subject, _typed(found))
    limits = dict(dict(job.target).get("limits", ()))
    same = (key for key in limits if same_key(key, found.subject))
    key = next(same, found.subject)
    return with_target_value(job, "limits", key, _typed(found))


def _with_amount(job, name, use):
    """Return a job that uses another amount of an ingredient; None if none is called so."""
    made = Findings(job).checked.made
    names = [None if ingredient is None else ingredient.name for ingredient in made]
    if job.shelf_file or name not in names:
        return None
    return with_line_entry(job, names.index(name), "use", use)


def _typed(found):
    """Return a limit as it would be typed."""
    low, high = (f"{end:.{DIGITS}g}" for end in (found.low, found.high))
    if found.low == found.high:
        words = f"exactly {low}"
    elif math.isinf(found.high):
        words = f"at least {low}"
    else:
        words = f"at most {high}" if math.isinf(found.low) else f"{low} to {high}"
    return f"{words} {found.unit}".rstrip()


def way_out(job, way):
    """
    Return a way out, tried: what the recipe would then miss.

    Parameters
    ----------
    job : Job
        The job without a recipe.
    way : Relaxation
        The way out: which row gives, and how much.

    Returns
    -------
    WayOut
        The next job with what is to know of its recipe.

    Examples
    --------
    >>> from formulate.jobs import ShelfLine
    >>> facts = {"volume": "10 L", "shelf": (ShelfLine("KNO3"),)}
    >>> limits = (("limits", (("K", "at least 190"), ("NO3-N", "at most 20"))),)
    >>> job = Job(target=(("wanted", (("K", "190"),)), *limits), **facts)
    >>> (_, _, way), _ = ways_of(Findings(job).why_not)
    >>> way_out(job, way).words
    'misses K -70.6 %'
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
