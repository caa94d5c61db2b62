"""Why there is no recipe, in words: what conflicts, and how little would have to give."""

import math
from dataclasses import replace

from formulate.errors import Infeasible
from formulate.recipes.relaxing import relaxations
from formulate.working import printed

__all__ = ["explained", "let_go"]

EXACT = 10  # digits of an exact bound, which may hold on neither side
USED = 1e-9  # g/L: less is rounding, no amount
GIVE = 1e-3  # share of an EC within which lines agree
NUDGE = 1e-5  # of the last digit: 4.99999999 is 5


def explained(requirements, ingredients, volume, redraw=None):
    """
    Return the error for hard rows that cannot all hold.

    Parameters
    ----------
    requirements : sequence of Requirement
        All rows.
    ingredients : sequence of Ingredient
        The shelf.
    volume : float
        Volume of the batch. [L]
    redraw : callable or None
        As in `relaxations`.

    Returns
    -------
    Infeasible
        Its message names the fewest rows that conflict and what each would have to give;
        `conflicts` holds both, `ways` the nearest recipe of each way out.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.limits import limit
    >>> from formulate.recipes.requirements import limit_rows
    >>> from formulate.stoichiometry.solution import solution
    >>> shelf, tap = [salt("KNO3")], solution({})
    >>> rows = limit_rows(limit("K", "at least 100"), shelf, tap)
    >>> rows += limit_rows(limit("NO3-N", "at most 20"), shelf, tap)
    >>> print(explained(rows, shelf, 10))
    these cannot hold together: K at least 100 mg/L, NO3-N at most 20 mg/L. It would work \
with K at least 55.82 mg/L, or with NO3-N at most 35.83 mg/L
    >>> explained(rows, shelf, 10).ways[0][0]
    'K at least 55.82 mg/L'
    """
    found = relaxations(requirements, len(ingredients), redraw)
    words = "It would work with" if len(found) == 1 else "This one alone would end with"
    lines = [_line(conflict, ways, volume, words) for conflict, ways in found]
    names = [row.name for conflict, _ in found for row in conflict]
    each = [way for _, ways in found for way in ways]
    ways = [(_way(way, volume), _amounts(way, ingredients, volume)) for way in each]
    return Infeasible(
        *lines, requirements=names, conflicts=found, ways=[w for w in ways if w[0]]
    )


def _amounts(way, ingredients, volume):
    """Return name to the amount in a batch of the nearest recipe of one way out. [g]"""
    amounts = (way.optimum.amounts * volume).tolist()
    pairs = zip(ingredients, amounts, strict=True)
    return {i.name: amount for i, amount in pairs if amount > USED * volume}


def _line(conflict, ways, volume, words):
    names = ", ".join(row.name for row in conflict)
    if len(conflict) == 1:
        what = f"this cannot hold: {names}{_alone(conflict[0])}"
    else:
        what = f"these cannot hold together: {names}"
    told = (_way(way, volume) for way in ways)
    out = ", or with ".join(way for way in told if way)
    return f"{what}. {words} {out}" if out else what


def _alone(row):
    """Return why a row conflicts with nothing but the water."""
    if row.constant > row.high and row.origin == "limit":
        told = not row.below and not row.limit.is_metered
        brought = f" {printed(row.constant)} {row.limit.unit}" if told else ""
        return f"; the water alone brings{brought or ' more'}"
    if not any(row.coefficients) and row.low > row.constant:
        return "; nothing on the shelf brings it"
    return ""


def _way(way, volume):
    """Return one way out of a conflict, the bound rounded to the side that holds.

    A pH has none in its own unit: its row counts charge.
    """
    row, held = way.requirement, way.requirement.limit
    if row.origin == "ammonium share":
        return "any share of ammonium (0 to 100 %)"
    if not _is_told(held):
        return f"{row.name} missed by {printed(way.by, 3)} {row.unit}".rstrip()
    subject = f"amount of {held.subject}" if row.origin == "amount" else held.subject
    words, bound = _gives(way, volume)
    return f"{subject} {words} {bound} {held.unit}".rstrip()


def _is_told(held):
    """Return whether what gives is a limit with a bound in its own unit."""
    return held is not None and (held.subject == "EC" or not held.is_metered)


def _gives(way, volume):
    """Return which side of a limit gives, in words, and its new bound."""
    row, held, bound = way.requirement, way.requirement.limit, way.bound
    words = "at least" if row.low > -math.inf else "at most"
    words = words if row.low < row.high else "exactly"
    if row.origin == "amount":
        bound *= volume
    elif held.is_metered:
        words = "at most" if bound > held.high else "at least"
        bound *= 1 + GIVE if words == "at most" else 1 - GIVE
    return words, _rounded(bound, words)


def let_go(way, volume):
    """
    Return the limit that a way out leaves of its own.

    Parameters
    ----------
    way : Relaxation
        The way out.
    volume : float
        Volume of the batch. [L]

    Returns
    -------
    Limit or None
        The side that gives with its new bound, as it is told; the other side as it was
        asked. None where no limit gives, or that of a pH, whose row counts charge.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.limits import limit
    >>> from formulate.recipes.requirements import limit_rows
    >>> from formulate.stoichiometry.solution import solution
    >>> shelf, tap = [salt("KNO3")], solution({})
    >>> rows = limit_rows(limit("K", "100 to 120"), shelf, tap)
    >>> rows += limit_rows(limit("NO3-N", "at most 20"), shelf, tap)
    >>> ((_, (way, _)),) = explained(rows, shelf, 10).conflicts
    >>> found = let_go(way, 10)
    >>> found.low, found.high, found.unit
    (55.82, 120.0, 'mg/L')
    """
    held = way.requirement.limit
    if not _is_told(held) or way.requirement.origin == "ammonium share":
        return None
    words, text = _gives(way, volume)
    sides = {"at least": ("low",), "at most": ("high",)}
    return replace(
        held, **dict.fromkeys(sides.get(words, ("low", "high")), float(text))
    )


def _rounded(bound, words):
    """Return four digits of a bound, on the side where it holds; an exact one in full."""
    if words == "exactly" or not bound or not math.isfinite(bound):
        return f"{bound:.{EXACT}g}"
    step = 10.0 ** (math.floor(math.log10(abs(bound))) - 3)
    if words == "at least":
        turned = math.floor(bound / step + NUDGE)
    else:
        turned = math.ceil(bound / step - NUDGE)
    return f"{turned * step:.4g}"
