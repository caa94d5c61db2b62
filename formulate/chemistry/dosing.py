"""How much acid or alkali brings a solution to a wanted pH, and what it brings with it.

At the wanted pH the charges of everything dissolved leave a gap g(x) that shrinks with the
dose x. The dose is where it closes. v is the volume of a gram of a liquid. g is nearly
straight, so that the line through two doses finds it in few steps. Where the pH was measured
and the ions do not quite fit it, unnamed ions carry what is open at the measured pH.

Equation of the dose [definition]::

    g(x) = (1 + v x) Σ z c  at the wanted pH, the dose dissolved        g(x) = 0
"""

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace

import numpy as np

from formulate.checks import checked_number, checked_values
from formulate.chemistry.acid_doses import (
    AcidDose,
    acid_rule,
    charge_brought,
    fitted,
    litres_taken,
    with_dose,
)
from formulate.chemistry.acidity import usual_alkalinity_error
from formulate.chemistry.speciation import speciate, speciate_again
from formulate.errors import Faults, InputError, NoConvergence, shortened
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.salts import as_ingredient
from formulate.stoichiometry.charge import check_ph
from formulate.stoichiometry.solution import Solution

__all__ = ["acid_dose", "compare_acids"]

MOST_STEPS, CLOSE = 30, 1e-11  # of the gap, against the charge that is there
NEAR_PH = 0.005  # what counts as being there already
LITTLE, LARGEST = 1e-3, 500.0  # g in a litre
LEAST_PROTONS = 0.01  # of a form: what moves a pH by more than ionic strength does


def acid_dose(
    solution,
    acid,
    *,
    ph,
    air_co2_ppm=None,
    temperature=None,
    alkalinity_error=None,
    activity=None,
    constants=None,
):
    """
    Return how much acid or alkali brings a solution to a pH.

    Closed, it is what to add when the pH is corrected at once; open to the air, what to
    add in all until the carbon dioxide has come to balance.

    Parameters
    ----------
    solution : Solution, Water or Recipe
        One solution or a stack, or what has one as its `solution`.
    acid : Ingredient or str
        The acid or alkali, or its name in the catalogue.
    ph : float or array
        The pH that is wanted. [-]
    air_co2_ppm : float or None
        Carbon dioxide of the air it stands open to; None means closed. [µmol/mol]
    temperature : float or None
        Temperature; the solution's own if None. [°C]
    alkalinity_error : float or None
        How far the alkalinity may be off; None means 5 % of it, at least 0.05. [meq/L]
    activity : str or None
        Activity model, as in `speciate`.
    constants : Constants or None
        Other constants than those of the package.

    Returns
    -------
    AcidDose
        The dose, what it brings, and the state after.

    Raises
    ------
    InputError
        With every fault of what was given; or if it cannot bring the solution there.

    Examples
    --------
    Nitric acid for a hard water, millilitres in a litre:

    >>> from formulate.stoichiometry.solution import solution
    >>> tap = solution({"Ca": 2.35, "HCO3": 4.7}, ph=7.4)
    >>> round(acid_dose(tap, "nitric acid (67 %)", ph=5.8).millilitres, 3)
    0.219
    """
    start, acid, ph, error = _checked(solution, acid, ph, alkalinity_error)
    given = {
        "temperature": temperature,
        "activity": activity,
        "constants": constants,
    }
    before = fitted(start, **given)
    given["air_co2_ppm"] = air_co2_ppm

    states = [before]  # the last is the nearest

    def state_with(grams):
        made = with_dose(before.solution, acid, grams)
        states[:] = [speciate(made, ph=ph, near=states[0], **given)]
        return states[0]

    grams = _closing(state_with, acid, before, ph)
    after = state_with(grams)
    gap = -charge_brought(after, acid) * grams
    if error is None:
        error = usual_alkalinity_error(start)
    error = error + acid_rule("weight error") / 100.0 * np.abs(gap)
    results = (grams, gap, error)
    if not np.ndim(grams):
        results = tuple(map(float, results))
    return AcidDose(acid, ph, before, after, *results)


def _checked(thing, acid, ph, error):
    """Return what was given, checked, with every fault at once."""
    faults, found, made = Faults("acid_dose"), None, None
    held = getattr(thing, "solution", thing)
    if not isinstance(held, Solution):
        faults.add(f"{shortened(thing)} is no Solution; give one, a Water or a Recipe")
    with faults.collecting():
        made = as_ingredient(acid)
    with faults.collecting():
        found = check_ph(checked_values(ph, "pH"))
    with faults.collecting():
        if error is not None:
            error = checked_number(error, "alkalinity_error in meq/L", least=0)
    faults.raise_if_any()
    return held, made, found, error


class _NotThisWay(InputError):
    """What was given is right, and this acid or alkali does not lead there."""


def _closing(state_with, acid, before, ph):
    """Return the dose at which the gap closes: the line through the last two doses."""

    def gap(grams):
        return (1.0 + litres_taken(acid) * grams) * state_with(grams).charge_left()

    close = CLOSE * (1.0 + before.ionic_strength)
    last = 0.0 * (before.ph + ph)
    value = gap(last)
    there = np.abs(value) <= close
    per_gram = charge_brought(state_with(last + LITTLE), acid)
    if np.any(np.abs(per_gram) < LEAST_PROTONS * max(acid.forms.values(), default=1.0)):
        what = f"{acid.name} moves no pH near {np.max(ph):.2f}: neither acid nor alkali there"
        raise _NotThisWay(f"acid_dose: {what}")
    grams = -value / per_gram
    _check_way(grams, there, acid, per_gram, state_with, ph)
    for _ in range(MOST_STEPS):
        grams = np.clip(grams, 0.0, LARGEST)
        try:
            new = gap(grams)
        except (InputError, NoConvergence):
            break
        if np.all(np.abs(new) <= close):
            return grams
        with np.errstate(divide="ignore", invalid="ignore"):
            step = new * (grams - last) / (new - value)
        step = np.where(np.isfinite(step) & ~there, step, 0.0)[()]
        last, value, grams = grams, new, np.maximum(grams - step, 0.0)
        if np.any(grams >= LARGEST):
            break
    low, wanted = float(np.min(before.ph)), float(np.min(ph))
    what = f"{acid.name} cannot bring the pH from {low:.2f} to {wanted:.2f}"
    raise _NotThisWay(
        f"acid_dose: {what}; take a stronger one or a wish nearer to {low:.2f}"
    )


def _check_way(grams, there, acid, per_gram, state_with, ph):
    """Raise where the dose would be less than nothing."""
    wrong = np.asarray((grams < 0) & ~there)
    if not wrong.any():
        return
    undosed = state_with(0.0 * grams)
    loose = replace(undosed.solution, ph=None)
    at = np.asarray(speciate_again(undosed, solution=loose).ph)
    at = np.broadcast_to(at, wrong.shape)[wrong]
    aired = "" if undosed.air_co2_ppm is None else " in balance with the air"
    if np.all(np.abs(at - np.broadcast_to(ph, wrong.shape)[wrong]) <= NEAR_PH):
        what = f"pH {np.max(ph):.2f}{aired}: it is there already; nothing to add"
        raise _NotThisWay(f"acid_dose: {what}")
    lowers = np.all(np.broadcast_to(per_gram, wrong.shape)[wrong] < 0)
    some = with_dose(loose, acid, LITTLE + 0.0 * grams)
    here = charge_brought(speciate_again(undosed, solution=some), acid)
    if np.any(np.broadcast_to(here * per_gram, wrong.shape)[wrong] < 0):
        what = f"{acid.name} does not reach pH {np.max(ph):.2f}: near it, it works the"
        raise _NotThisWay(f"acid_dose: {what} other way; take a stronger one")
    span = f"{at.min():.2f}" if at.size == 1 else f"{at.min():.2f} to {at.max():.2f}"
    what = f"which is {span}{aired} and should be {np.max(ph):.2f}"
    words = ("lowers", "alkali") if lowers else ("raises", "acid")
    raise _NotThisWay(
        f"acid_dose: {acid.name} {words[0]} the pH, {what}; take an {words[1]}"
    )


def compare_acids(solution, acids, *, ph, **given):
    """
    Return the doses of several acids or alkalis, those that fit the way.

    Parameters
    ----------
    solution : Solution, Water or Recipe
        One solution.
    acids : iterable of Ingredient or str
        What is at hand.
    ph : float
        The pH that is wanted. [-]
    **given : object
        What else `acid_dose` takes.

    Returns
    -------
    tuple of AcidDose
        Cheapest first, then those without a price in the order given; those that move the
        pH the other way, or cannot reach it, are left out.

    Raises
    ------
    InputError
        With what is wrong with what was given; if it is a stack.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> tap = solution({"Ca": 2.35, "HCO3": 4.7}, ph=7.4)
    >>> names = ["nitric acid (53 %)", "phosphoric acid (85 %)", "KOH"]
    >>> [dose.ingredient.formula for dose in compare_acids(tap, names, ph=5.8)]
    ['HNO3', 'H3PO4']
    """
    found, named = [], isinstance(acids, str | Ingredient)
    held = getattr(solution, "solution", solution)
    if not named and not isinstance(acids, Iterable):
        raise InputError(f"compare_acids: {shortened(acids)} is no list of acids")
    values = (ph, *getattr(held, "forms", {}).values())
    if any(np.ndim(value) for value in values):
        raise InputError("compare_acids: a stack; take one solution of it")
    for acid in [acids] if named else acids:
        with suppress(_NotThisWay):
            found.append(acid_dose(solution, acid, ph=ph, **given))
    priced = [d for d in found if d.cost() is not None]
    rest = [d for d in found if d.cost() is None]
    return (*sorted(priced, key=lambda dose: dose.cost()), *rest)
