"""What to know about the doubts of a batch: what is not in them, and what stands out."""

from formulate.chemistry.conductivity import conductivity
from formulate.notices import Notice, gravest_first
from formulate.recipes.variance_shares import TOGETHER
from formulate.tables import rule_of

__all__ = ["doubt_remarks"]

SAME = 1e-9  # share of a value: nearer than this is the same
MOST_TOGETHER = 0.2  # share of a variance beyond which it is told


def doubt_remarks(made, found):
    """
    Return what to know about drawn batches.

    Parameters
    ----------
    made : Doubt
        What the batches may turn out to be.
    found : Readings
        The batches themselves.

    Returns
    -------
    tuple of Notice
        The notices, the gravest first.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> from formulate.recipes.uncertainty import doubt
    >>> made = doubt(solve(target({"K": 200}), ["KNO3"], volume=10))
    >>> [notice.severity for notice in made.notices]
    ['note', 'note', 'note']
    """
    return gravest_first(_told(made, found))


def _told(made, found):
    """Yield what to know about drawn batches."""
    if made.unsettled:
        what = (
            f"{made.unsettled} of {made.draws} draws did not come to rest: they have no EC "
            "and pH here and count as keeping no limit on them"
        )
        yield Notice(what, "caution", float(made.unsettled), 0.0)
    for kept in made.limits:
        if not kept.asked.side:
            what = f"{kept.asked.name}: no batch keeps an exact value, so it is left out of the count; set a range"
            yield Notice(what, "caution", kept.probability)
    if made.inputs and not any(one.shares for one in made.intervals.values()):
        what = "too few draws, or too little spread, to say which input matters most"
        yield Notice(what)
    yield from _shifted(made)
    yield from _of_several(made)
    yield from _of_model(found)


def _shifted(made):
    """Yield which values are counted higher or lower than nearly every batch has."""
    names = [
        one.name
        for one in made.intervals.values()
        if one.unit == "mg/L" and not _holds(one)
    ]
    if names:
        what = (
            f"{', '.join(names)}: the value counted is outside what "
            f"{100 * made.level:.4g} of 100 batches have; give the purity of the "
            "salts by their labels"
        )
        yield Notice(what, "caution")


def _holds(one):
    """Return whether the value counted lies between low and high, rounding apart."""
    give = SAME * one.high
    return one.low - give <= one.exact <= one.high + give


def _of_several(made):
    """Yield which outputs no single input explains."""
    shares = (
        (one.name, one.shares.get(TOGETHER, 0.0)) for one in made.intervals.values()
    )
    told = [f"{name} {100 * s:.0f} %" for name, s in shares if s > MOST_TOGETHER]
    if told:
        what = "of the variance comes from several inputs together, or bends too much"
        yield Notice(f"{', '.join(told)} {what} to be told apart")


def _of_model(found):
    """Yield how far the formula of the EC itself may be off."""
    state = found.warm
    percent = conductivity(state, temperature=state.temperature).error_percent
    what = (
        f"what is not in these intervals: the formula of the EC, within {percent:g} %; the "
        "constants behind the pH; what falls out, evaporates or is taken up"
    )
    row = rule_of("doubts", "water")
    told = "where nothing was told, sizes are common practice; give your own by doubts="
    yield Notice(what, "note", percent)
    yield Notice(told, source_key=row["source_key"])
