"""Whether a wanted pH is within reach, and in words why not.

A pH is refused only where no recipe has it, or none but an absurd one: a nutrient at more
than three times what is wanted, and only for the sake of the pH.
"""

from contextlib import suppress
from dataclasses import replace

import numpy as np

from formulate.errors import FormulateError, Infeasible, NoConvergence, OutOfReach
from formulate.notices import Notice
from formulate.recipes.limits import Limit
from formulate.recipes.ph_means import held_ph, out_of_reach
from formulate.recipes.requirements import amount_rows
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import recipe_rule
from formulate.working import printed, printed_mg_l

__all__ = ["reached"]


def reached(problem):
    """
    Return what solves a problem, its pH within reach.

    Parameters
    ----------
    problem : Problem
        The problem.

    Returns
    -------
    tuple
        Rows, optimum, dropped rules and drawing.

    Raises
    ------
    OutOfReach
        If the shelf has no way to the pH, or only an absurd one.
    Infeasible
        If hard rows conflict otherwise.
    NoConvergence
        If rows and recipe do not come to agree.

    Examples
    --------
    >>> from formulate.recipes.problem import Problem
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> feed = target({"P": 31}, limits={"pH": "at least 6.5"})
    >>> problem = Problem.of(solve(feed, ["KH2PO4", "K2CO3"], volume=10))
    >>> (reached(problem)[1].amounts > 0).tolist()
    [True, True]
    """
    if not problem.wants_ph:
        return _with_an_ec(problem)
    try:
        found = problem.solved()
    except Infeasible as error:
        raise _without_means(problem) or error from None
    except FormulateError as error:
        raise _without_means(problem) or _no_litre(problem, error) from None
    absurd = _too_much(problem, found) or _absurd(problem, found)
    if absurd:
        raise _without_means(problem) or OutOfReach(absurd)
    return found


def _with_an_ec(problem):
    """Return what solves a problem without a pH, free acid and alkali kept out if need be.

    An EC that free acid carries is not settled by lines; no feed is meant to be so sour.
    """
    try:
        return problem.solved()
    except (Infeasible, NoConvergence) as failed:
        error = failed
        metered = any(held.is_metered for held in problem.target.limits)
        if not metered or not any(one.role for one in problem.usable):
            raise
    rule = recipe_rule("pH without a wish")
    low, high = rule.number("low"), rule.number("high")
    limits = (*problem.target.limits, Limit("pH when mixed", low, high, ""))
    fed = replace(problem, target=replace(problem.target, limits=limits))
    try:
        rows, optimum, dropped, drawing = fed.solved()
    except (Infeasible, NoConvergence):
        raise error from None
    what = (
        f"the EC settles only with the pH when mixed kept at {low:g} to {high:g}; ask for "
        "the pH that is wanted"
    )
    return rows, optimum, (*dropped, Notice(what, "caution", low, high)), drawing


def _free(problem):
    """Return the same problem without a pH."""
    kept = held_ph(problem.target.limits)
    limits = tuple(held for held in problem.target.limits if held not in kept)
    return replace(problem, target=replace(problem.target, limits=limits))


def _without_means(problem):
    """Return the error for a pH that the salts alone miss and nothing at hand mends."""
    bare, must = _free(problem), _asked_for(problem)
    barred = [
        Limit(one.name, 0.0, 0.0, one.measured_in, of_amount=True)
        for one in problem.usable
        if one.role and one.name not in must
    ]
    rows = (r for held in barred for r in amount_rows(held, problem.usable, 1.0))
    bare = replace(bare, own_rows=(*problem.own_rows, *rows))
    try:
        _, optimum, _, _ = bare.solved()
    except FormulateError:
        return None  # the salts alone are no recipe
    made, _ = bare.made(optimum.amounts)
    return out_of_reach(problem.target.limits, problem.at_hand, made)


def _asked_for(problem):
    """Return the names of what must be in the batch."""
    rows = (row for row in problem.own_rows if row.origin == "amount")
    return {row.limit.subject for row in rows if row.limit.low > 0}


def _no_litre(problem, error):
    """Return an error for a pH that takes more than a litre can hold."""
    names = _asked(problem)
    why = "; ".join(error.faults)
    return OutOfReach(f"{names}: no recipe of this shelf was found that has it ({why})")


def _too_much(problem, found):
    """Return in words that a pH takes salts as no feed holds them; "" if not."""
    most, grams = recipe_rule("salts for a pH").number("high"), _solids(problem, found)
    if grams <= most:
        return ""
    with suppress(FormulateError):
        if _solids(problem, _free(problem).solved()) > most:
            return ""  # the target itself is that strong
    return (
        f"{_asked(problem)}: this shelf has it only with {printed(grams, 2)} g of salts a "
        "litre; put an acid or alkali on it, or correct it after"
    )


def _solids(problem, found):
    """Return the solids of a recipe. [g/L]"""
    pairs = zip(problem.usable, found[1].amounts.tolist(), strict=True)
    return sum(amount for one, amount in pairs if not one.is_liquid)


def _asked(problem):
    """Return the pH that are asked for, in words."""
    held = held_ph(problem.target.limits)
    return ", ".join(one.named(one.sides[0]) for one in held)


def _absurd(problem, found):
    """Return in words what a pH alone would multiply; "" if nothing."""
    rows, optimum, _, _ = found
    most = recipe_rule("absurd miss").number("high") / 100
    over = [row for row in _wanted(rows) if _excess(row, optimum.amounts) > most]
    if not over:
        return ""
    try:
        free_rows, free, _, _ = _free(problem).solved()
    except FormulateError:
        return ""
    before = {row.name: _excess(row, free.amounts) for row in _wanted(free_rows)}
    own = [
        row
        for row in over
        if _excess(row, optimum.amounts) > most + max(before.get(row.name, 0.0), 0.0)
    ]
    names = _asked(problem)
    told = ", ".join(_told(row, optimum.amounts) for row in own)
    held = [n for n in optimum.binding if not n.startswith("pH")]
    back = f"; held back by {', '.join(held)}" if held else ""
    advice = (
        "Let go of what holds it back, take another acid or alkali, or correct it after"
    )
    return f"{names}: this shelf has it only with {told}{back}. {advice}" if own else ""


def _wanted(rows):
    """Return the rows of wanted nutrients, and of what is kept low, that count."""
    counted = ("target", "kept low")
    return [r for r in rows if r.origin in counted and r.weight and r.high > 0]


def _excess(row, amounts):
    """Return by what share of the wanted value a row goes beyond it."""
    value = row.constant + float(np.dot(row.coefficients, amounts))
    return (value - row.high) / row.scale


def _told(row, amounts):
    """Return in words what a row reaches."""
    value = row.constant + float(np.dot(row.coefficients, amounts))
    has, wanted = (
        printed_mg_l(v * nutrient(row.key).molar_mass) for v in (value, row.high)
    )
    times = printed(value / row.high, 2)
    what = "wanted" if row.origin == "target" else "that plants bear"
    return f"{row.key} {has} mg/L, {times} times the {wanted} {what}"
