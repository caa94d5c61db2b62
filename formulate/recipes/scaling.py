"""Strength: a target thinned or strengthened as a whole, and a recipe for another volume."""

import re
from dataclasses import replace

from formulate.checks import checked_number
from formulate.errors import Faults, InputError, UnknownName, shortened
from formulate.ingredients.ec_rules import rough_cations
from formulate.notices import Notice
from formulate.recipes.ions_of_target import ions_wanted, untold_nitrogen
from formulate.recipes.target import LEAST_MG_L, MOST_MG_L, Target
from formulate.recipes.target_remarks import target_remarks
from formulate.stoichiometry.charge import nominal_charge
from formulate.stoichiometry.nutrients import form, nutrient
from formulate.stoichiometry.quantities import (
    check_volume,
    read_number,
    read_quantity,
)
from formulate.tables import read_table
from formulate.working import printed, printed_mg_l

__all__ = ["rescaled", "scaled", "scaled_to_ec", "strength_for"]

MOST_STRENGTH = 5.0  # no feed is made five times as strong; a larger number is in %
WORDS = re.compile(r"(?:^|,? )at ([\d.]+) % strength$")
FULL = "full strength"
IONS = ("N", "P", "K", "Ca", "Mg", "S")  # all that carry much of the charge of a feed
SAME = 1e-9  # share: nearer than this to its bound an amount stands on it


def scaled(target, strength):
    """
    Return a target at another strength.

    Wanted values, ranges and a wanted alkalinity are multiplied. Of the limits, greatest
    bounds stay, for they protect plants; below full strength least bounds become less in
    the same measure, and so does what was to be exact; ratios and shares stay.

    Parameters
    ----------
    target : Target
        The target at full strength.
    strength : float or str
        Share of it, above 0 and at most 5; text may be in percent, such as "50 %". [-]

    Returns
    -------
    Target
        The target, its strength told in its name and stage.

    Raises
    ------
    InputError
        With every fault: no target, no strength, values that no litre holds.

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> half = scaled(target({"K": 200, "Ca": "150-180"}, name="lettuce"), "50 %")
    >>> round(half.mg_l("K"), 6), half.name
    (100.0, 'lettuce at 50 % strength')
    """
    faults, share = Faults("scaled"), None
    _check_target(target, faults)
    with faults.collecting():
        share = _strength(strength)
    faults.raise_if_any()
    if share == 1.0:
        return target
    wanted = {key: _held(key, value * share) for key, value in target.wanted.items()}
    ranges = {
        key: tuple(end * share for end in ends) for key, ends in target.ranges.items()
    }
    alkalinity = target.alkalinity and tuple(end * share for end in target.alkalinity)
    made = replace(
        target,
        name=_worded(target.name, share),
        stage=_worded(target.stage, share),
        wanted=wanted,
        ranges=ranges,
        alkalinity=alkalinity,
        limits=tuple(_scaled_limit(held, share) for held in target.limits),
    )
    return replace(made, notices=_notices(target, made))


def _check_target(target, faults):
    """Note that something is no target."""
    if not isinstance(target, Target):
        faults.add(
            f"{shortened(target)} is no target; make one with target({{'N': 150, ...}}) "
            "or published_target(...)"
        )


def _strength(strength):
    """Return a strength as a share."""
    is_text, share = isinstance(strength, str), strength
    if is_text:
        text = strength.strip()
        is_percent = text.endswith("%")
        share = read_number(text.removesuffix("%")) / (100 if is_percent else 1)
    try:
        return checked_number(share, "strength", above=0, most=MOST_STRENGTH)
    except InputError:
        what = f"strength {shortened(strength)}: write a share above 0 and at most "
        what += f"{MOST_STRENGTH:g}, such as 0.5 or '50 %'"
        raise InputError(what) from None


def _held(key, value):
    """Return a scaled value if a litre can hold it and a balance could show it."""
    mass = value * nutrient(key).molar_mass
    if mass > MOST_MG_L or 0 < mass < LEAST_MG_L:
        raise InputError(f"scaled: {key} {mass:.3g} mg/L is nothing a litre can hold")
    return value


def _worded(text, share):
    """Return a name or stage with its strength; what it told before is counted in."""
    before = WORDS.search(text)
    if before:
        share, text = share * float(before[1]) / 100, text[: before.start()]
    words = f"at {100 * share:.4g} % strength"
    return f"{text} {words}" if text not in ("", FULL) else words


def _scaled_limit(held, share):
    """Return a limit below full strength with a lower least bound; else as it is."""
    is_ph = held.is_metered and held.subject != "EC"
    if share > 1 or ":" in held.subject or held.low <= 0 or is_ph:
        return held
    low = share * held.low
    return replace(held, low=low, high=low if held.low == held.high else held.high)


def _notices(target, made):
    """Return what to know of a scaled target: all of before, told anew, and its limits."""
    told = target_remarks(target)
    kept = [notice for notice in target.notices if notice not in told]
    return (*target_remarks(made), *kept, *_limit_notices(target, made))


def _limit_notices(target, made):
    """Yield which least bounds became less, and which greatest ones are in the way."""
    for old, new in zip(target.limits, made.limits, strict=True):
        if old != new:
            what = f"{old.named('low')}: taken as {new.named('low')} at this strength"
            yield Notice(what, "note", new.low, old.low)
        wanted = made.wanted.get(new.subject)
        if wanted is None or made.wanted[new.subject] <= target.wanted[new.subject]:
            continue
        mass = (
            made.ranges.get(new.subject, (wanted,))[0]
            * nutrient(new.subject).molar_mass
        )
        if mass > new.high:
            what = (
                f"{new.named('high')} stays, so {printed_mg_l(mass)} cannot be reached"
            )
            yield Notice(what, "caution", mass, new.high)


# --- to an EC ---------------------------------------------------------------------------


def scaled_to_ec(target, ec):
    """
    Return a target at the strength that gives a conductivity.

    By the simple rule of `rough_ec`, good to about 10 %, from the cations that the target
    itself names. Wanted values count what the water brings, so this is the EC of the made
    up solution, not of the salts alone; sodium of the water that the target does not name
    comes on top. Ammonium that the target leaves open is counted at what balances the
    ions, within its share.

    Parameters
    ----------
    target : Target
        The target; it must name N, P, K, Ca, Mg and S, or its ions cannot tell.
    ec : float or str
        Conductivity at 25 °C; text may carry its unit. [mS/cm]

    Returns
    -------
    Target
        The target at that strength.

    Raises
    ------
    InputError
        With every fault: ions that are not named, an EC that is none, a strength above 5.
    MissingData
        If the simple rules do not reach so far.

    Examples
    --------
    >>> from formulate.recipes.target import published_target
    >>> scaled_to_ec(published_target("steiner-universal"), 1.0).stage
    'supply at 44.53 % strength'
    """
    faults, needed, cations = Faults("scaled_to_ec"), None, None
    _check_target(target, faults)
    with faults.collecting():
        ec = _conductivity(ec)
    with faults.collecting():
        needed = rough_cations(ec) if isinstance(ec, float) else None
    with faults.collecting():
        cations = _cations(target) if isinstance(target, Target) else None
    faults.raise_if_any()
    share = needed / cations
    if share > MOST_STRENGTH:
        what = f"{printed(ec)} mS/cm would be {share:.3g} times the target"
        raise InputError(
            f"scaled_to_ec: {what}; more than {MOST_STRENGTH:g} is no feed"
        )
    made = scaled(target, share)
    what = (
        f"EC about {printed(ec, 3)} mS/cm at {100 * share:.4g} % of the target: "
        f"{printed(needed, 3)} meq/L of cations by a simple rule, good to about "
        f"{_rule_error(needed):g} %; ions that the target does not name come on top"
    )
    return replace(made, notices=(*made.notices, Notice(what, "note", ec)))


def _conductivity(ec):
    """Return a conductivity above 0 in mS/cm."""
    if isinstance(ec, str):
        value, of_unit = read_quantity(ec, "conductivity", default="mS/cm")
        ec = value * of_unit.factor
    return checked_number(ec, "EC in mS/cm", above=0)


def _rule_error(cations):
    """Return the error of the rule that counts there; between two the greater."""
    rows = read_table("ec_rules")
    inside = [r for r in rows if r.number("from_cations") <= cations]
    inside = [r for r in inside if cations <= r.number("to_cations")]
    return max(row.number("error") for row in inside or rows)


def _cations(target):
    """Return the cations that a target names, ammonium left open as the balance asks."""
    named = {part for key in target.wanted for part in nutrient(key).weights}
    missing = [k for k in IONS if not _main_forms(k) <= named]
    if missing:
        raise InputError(
            f"the target does not name {', '.join(missing)}, so its ions cannot tell an "
            "EC; name them, or give a strength"
        )
    forms = ions_wanted(target.wanted)
    charges = {k: v for k, v in forms.items() if form(k).nominal_charge > 0}
    cations = nominal_charge(charges)
    untold = untold_nitrogen(target, forms)
    if untold and "ammonium" not in forms:
        balanced = (untold - nominal_charge(forms)) / 2
        nitrogen = target.wanted.get("N", untold)
        low, high = (
            (untold, untold)
            if "nitrate" in forms  # what is left of the nitrogen can only be ammonium
            else (s * nitrogen for s in target.ammonium_share or (0.0, 1.0))
        )
        cations += min(max(balanced, low), high, untold)
    if not cations > 0:
        raise InputError("the target wants no cations, so no strength gives it an EC")
    return cations


def _main_forms(key):
    """Return the forms that must be named for a macronutrient to be."""
    return {"nitrate"} if key == "N" else set(nutrient(key).weights)


# --- stages and volumes -----------------------------------------------------------------


def strength_for(stage):
    """
    Return the share of the full target that a stage usually gets.

    Parameters
    ----------
    stage : str
        Such as "seedling" or "mature"; the table `strengths` lists them.

    Returns
    -------
    float
        Share, by common practice; the table holds the usual range. [-]

    Raises
    ------
    UnknownName
        If there is no such stage; the message lists them.

    Examples
    --------
    >>> strength_for("seedling")
    0.5
    """
    word = " ".join(str(stage).split()).casefold()
    rows = read_table("strengths")
    for row in rows:
        if word in (row["stage"], *filter(None, row["aliases"].split("|"))):
            return row.number("share") / 100
    known = ", ".join(row["stage"] for row in rows)
    raise UnknownName(f"{shortened(stage)} is no stage of the table; there are {known}")


def rescaled(recipe, volume):
    """
    Return a recipe for another volume, the same in each litre.

    What a litre gets stays the best there is, unless an amount of the batch holds it
    back: then it must be solved again, and this says so.

    Parameters
    ----------
    recipe : Recipe
        The recipe.
    volume : float or str
        Final volume. [L]

    Returns
    -------
    Recipe
        The recipe.

    Raises
    ------
    InputError
        If an amount on hand or a limit on an amount holds the recipe back, or would at
        the other volume.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> {name: round(g, 2) for name, g in rescaled(recipe, "1 m3").masses.items()}
    {'KNO3': 517.17}
    """
    volume = check_volume(volume)
    faults, rows = Faults("rescaled"), []
    for row in recipe.requirements:
        if row.origin != "amount":
            rows.append(row)
            continue
        factor = recipe.volume / volume
        rows.append(replace(row, low=row.low * factor, high=row.high * factor))
        value = row.constant + float(recipe.optimum.amounts @ row.coefficients)
        if factor != 1 and _stands_on(value, row):
            faults.add(f"{row.name} holds the recipe back; {_again(volume)}")
        elif not rows[-1].low <= value <= rows[-1].high:
            faults.add(f"{row.name} would not hold; {_again(volume)}")
    faults.raise_if_any()
    return replace(recipe, volume=volume, requirements=tuple(rows))


def _again(volume):
    return f"solve it again for {printed(volume)} L"


def _stands_on(value, row):
    """Return whether a row's value lies on a bound that moves with the volume."""
    give = SAME * max(abs(value), SAME)
    return any(abs(value - end) <= give for end in (row.low, row.high) if end)
