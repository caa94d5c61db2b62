"""The arithmetic behind the numbers of a mixing: each step, and what the readings tell.

Nothing here is worked out before a number is pressed: a state of a stack is then settled
once more by itself.
"""

import math
from functools import partial

from formulate.chemistry.acidity import ph_rule
from formulate.chemistry.conductivity import REFERENCE
from formulate.chemistry.solids import mineral
from formulate.chemistry.speciation import speciate, speciate_again
from formulate.mixing.batch import column_of
from formulate.mixing.mixing_log import shares_and_water
from formulate.mixing.nearness import mixing_rule
from formulate.recipes.recipe_working import weight_working
from formulate.sheets.mixture_workings import sum_of, titled
from formulate.sheets.table import Followed
from formulate.stoichiometry.notation import printed_ion
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.units import unit
from formulate.tables import rule_of
from formulate.working import Quantity, Step, Working, printed

__all__ = ["log_workings", "plan_workings", "reading_workings"]

PERCENT = 100.0
LEAST_SHARE = 1e-3  # of a sum: what is less is summed up in one number
SAME_PH = 0.005
DECIMALS = 5  # of a reading, where one is taken from another; digits of a line


def _with_last(working, title, *steps):
    """Return a working under another title that goes on with more lines."""
    return Working(title, (*working.steps, *steps))


def _single_state(stack, place):
    """Return one state of a stack, settled once more by itself."""
    given = {"temperature": stack.temperature, "activity": stack.activity_model}
    return speciate(column_of(stack.solution, place), **given)


def _conducting(state):
    """Return a state at the temperature at which an EC is told."""
    if state.temperature == REFERENCE:
        return state
    return speciate_again(state, temperature=REFERENCE)


# --- one step ------------------------------------------------------------------------------


def _after(log, place):
    """Return in words after what a number is."""
    return f"after {log.steps[place].name}"


def _ph(log, place):
    state = _single_state(log.near.state, place)
    return titled(state, "pH", f"pH as mixed, {_after(log, place)}")


def _ec(log, place):
    state = _conducting(_single_state(log.near.state, place))
    return titled(
        state, "EC", f"EC as mixed, {_after(log, place)}, at {REFERENCE:g} °C"
    )


def _index(log, place, solid):
    state = _single_state(log.near.state, place)
    return titled(state, solid, f"Saturation index of {solid}, {_after(log, place)}")


def _settled_ph(log, place):
    state = _single_state(log.precipitation.after, place)
    title = f"pH once all has fallen out that would, {_after(log, place)}"
    return titled(state, "pH", title)


def _settled_ec(log, place):
    state = _conducting(_single_state(log.precipitation.after, place))
    title = f"EC once all has fallen out that would, {_after(log, place)}"
    return titled(state, "EC", title)


def _strength(log, place):
    """Return the working of an ionic strength: half the sum of c × z²."""
    state = _single_state(log.near.state, place)
    pairs = [
        (1000.0 * m * state.water, s)
        for s, m in zip(state.net.species, state.molalities, strict=True)
        if s.charge and m
    ]
    pairs.sort(key=lambda pair: -pair[0] * pair[1].charge ** 2)
    unnamed = abs(float(state.solution.unassigned_charge))
    whole = sum(c * s.charge**2 for c, s in pairs) + unnamed
    large = [(c, s) for c, s in pairs if c * s.charge**2 >= LEAST_SHARE * whole]
    small = sum(c * s.charge**2 for c, s in pairs[len(large) :])
    terms, names = [], ", ".join(printed_ion(s.name) for _, s in large)
    for c, s in large:
        terms += ["+", Quantity(c, "mmol/L")]
        terms += ["×", Quantity(s.charge**2)] if abs(s.charge) > 1 else []
    terms += ["+", Quantity(small, "mmol/L")] if small else []
    terms += ["+", Quantity(unnamed, "mmol/L")] if unnamed else []
    told = ["others"] * bool(small) + ["ions that are not named"] * bool(unnamed)
    names = ", ".join([names, *told])
    added = Step(f"c × z² of {names}", tuple(terms[1:]), "mmol/L")
    half = (Quantity(0.5), "×", Quantity(added.value, "mmol/L"))
    title = f"Ionic strength, {_after(log, place)}"
    return Working(title, (added, Step("half of it", half, "mmol/L", "definition")))


def _volume(log, place):
    """Return the working of the volume after a step: the water that is in, and liquids."""
    batch, share = log.batch, log.start_fraction
    shares, water = shares_and_water(batch, log.order, share)
    own = share == mixing_rule("water first")
    source = rule_of("mixing_rules", "water first")["source_key"] if own else ""
    steps = []
    taken = [(n, v) for n, v in zip(batch.names, batch.poured, strict=True) if v]
    if taken:
        terms = [t for _, v in taken for t in ("−", Quantity(v, "L"))]
        words = f"water of the batch: its volume less {', '.join(n for n, _ in taken)}"
        steps.append(Step(words, (Quantity(batch.volume, "L"), *terms), "L"))
    whole = Quantity(batch.water_litres, "L")
    if place <= len(log.order):
        terms = (whole, "×", Quantity(share))
        steps.append(Step("of the water that is in first", terms, "L", source))
    parts = [Quantity(float(water[place]), "L")]
    for n, v in taken:
        if shares[place][batch.names.index(n)]:
            parts += ["+", Quantity(v, "L")]
    if len(parts) > 1 or not steps:
        words = "the water and the liquids that are in" if taken else "the water"
        steps.append(Step(words, tuple(parts), "L"))
    return Working(f"Volume {_after(log, place)}", tuple(steps))


def _fallen(log, place, solid):
    """Return the working of how much of a solid has fallen out."""
    amount = float(log.precipitation.amounts[solid][place])
    mass = Quantity(mineral(solid).molar_mass, "mg/mmol")
    terms = (Quantity(amount, "mmol/L"), "×", mass, *_per_batch(log, place))
    words = f"{solid} without room in a litre of the mixture, on the finished batch"
    step = Step(words, terms, "mg/L", mineral(solid).source_key)
    title = f"{solid} fallen out in the end, {_after(log, place)}"
    return Working(title, (step,))


def _per_batch(log, place):
    """Return what counts an amount of a mixture on a litre of the finished batch."""
    volumes = float(log.volumes[place]), log.batch.volume
    return "×", Quantity(volumes[0], "L"), "÷", Quantity(volumes[1], "L")


def _locked(log, place, key):
    """Return the working of how much of a nutrient the solids hold."""
    known, steps = nutrient(key), []
    for solid, amounts in log.precipitation.amounts.items():
        atoms, amount = known.amount(mineral(solid).forms), float(amounts[place])
        if not (atoms and amount):
            continue
        terms = (Quantity(amount, "mmol/L"), "×", Quantity(atoms, "mol/mol"))
        terms = (*terms, "×", Quantity(known.molar_mass, "mg/mmol"))
        words = f"{key} in {solid}, on the finished batch"
        source = mineral(solid).source_key
        steps.append(Step(words, (*terms, *_per_batch(log, place)), "mg/L", source))
    if len(steps) != 1:
        steps.append(sum_of("in all", steps, "mg/L"))
    return Working(f"{key} locked in solids, {_after(log, place)}", tuple(steps))


def log_workings(log):
    """
    Yield what is behind the numbers of each step of a log, as `log_table` shows them.

    Parameters
    ----------
    log : MixingLog
        The log.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.mixing.sequence import simulate_mixing
    >>> found = dict(log_workings(simulate_mixing({"KNO3": 5.0}, volume=10)))
    >>> print(found[1, 2].worked().title)
    Volume after KNO3
    """
    columns = {2: _volume, 3: _ph, 4: _ec, 5: _strength}
    columns |= {8: _settled_ph, 9: _settled_ec}
    for place, step in enumerate(log.steps):
        for column, worked in columns.items():
            yield (place, column), Followed(partial(worked, log, place))
        if step.nearest:
            behind = partial(_index, log, place, step.nearest)
            yield (place, 6), Followed(behind, f"{step.index:+.2f}")
        for column, held, worked in (
            (10, step.solids, _fallen),
            (11, step.locked, _locked),
        ):
            for name, value in tuple(held.items())[:1]:
                behind = partial(worked, log, place, name)
                yield (place, column), Followed(behind, printed(value, 3))


# --- the plan --------------------------------------------------------------------------


def plan_workings(mixing, shown):
    """
    Yield what is behind the numbers of a plan, as `plan_table` shows them.

    Parameters
    ----------
    mixing : JobMixing
        How a batch is mixed.
    shown : sequence of str
        The amount of each step as it is shown; empty where a step has none.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> mixing = run_job(read_job(DEMO)).mixing
    >>> dict(plan_workings(mixing, ["150 L"]))[0, 1].worked().unit
    'L'
    """
    plan = mixing.plan
    for row, (step, much) in enumerate(zip(plan.steps, shown, strict=False)):
        if step.name:
            behind = partial(weight_working, mixing.weighing, step.name)
            yield (row, 1), Followed(behind, much)
        elif much:
            behind = partial(_poured, plan.log, row, "US gal" in much)
            yield (row, 1), Followed(behind, much)
        if row < len(plan.log.steps):
            yield from (((row, column), one) for column, one in _meters(plan, row))


def _poured(log, place, in_gallons):
    """Return the working of a volume, in US gallons if it is shown so."""
    working = _volume(log, place)
    if not in_gallons:
        return working
    each = Quantity(unit("US gal").factor, "L/US gal")
    terms = (Quantity(working.value, "L"), "÷", each)
    return _with_last(working, working.title, Step("in gallons", terms, "US gal"))


def _meters(plan, place):
    """Yield column and what is behind the pH and the EC that meters show at a step."""
    log, step = plan.log, plan.steps[place]
    first, ph = step.ph.split(" ")[0], log.steps[place].ph
    is_single = step.ph.startswith(f"{ph:.1f} (")
    behind = partial(_ph, log, place) if is_single else partial(_lowest_ph, plan, place)
    if first.replace(".", "", 1).isdecimal():  # else it is not known
        yield 2, Followed(behind, first)
    ec = printed(log.steps[place].ec, 3)
    yield 3, Followed(partial(_ec, log, place), ec)


def _lowest_ph(plan, place):
    """Return the working of the lowest pH that a meter may show."""
    log, off = plan.log, plan.alkalinity_error
    held = column_of(log.near.state.solution, place)
    given = {"temperature": held.temperature, "activity": log.activity_model}
    states = [
        speciate(
            type(held)(held.forms, held.unassigned_charge + e, held.temperature),
            **given,
        )
        for e in (-off, off)
    ]
    lowest = min(states, key=lambda state: state.ph)
    rule = rule_of("mixing_rules", "pH meter error")
    give = Quantity(rule.number("value"))
    terms = (Quantity(lowest.working("pH").value), "−", give)
    last = Step("less what a meter may be off", terms, "", rule["source_key"])
    words = f"with the alkalinity off by {printed(off, 2)} meq/L"
    title = f"Lowest pH that a meter may show {_after(log, place)}, {words}"
    return _with_last(lowest.working("pH"), title, last)


# --- readings --------------------------------------------------------------------------


def reading_workings(found, suspects):
    """
    Yield what is behind the numbers of hypotheses, as `diagnosis_table` shows them.

    Parameters
    ----------
    found : Diagnosis
        What the readings tell.
    suspects : sequence of Suspect
        The hypotheses in the order of the rows.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.mixing.mistakes import what_went_wrong
    >>> found = what_went_wrong({"KNO3": 10.0}, volume=10, ec=1.37)
    >>> dict(reading_workings(found, found.suspects))[0, 3].worked().title
    'How far the readings are from: nothing is wrong'
    """
    for row, one in enumerate(suspects):
        columns = {1: _shown_ec, 2: _shown_ph, 3: _misfit}
        for column, worked in columns.items():
            yield (row, column), Followed(partial(worked, found, one))


def _shown_ec(found, one):
    """Return the working of the EC that a meter would show."""
    state = speciate(column_of(found.solutions, one.place), temperature=REFERENCE)
    if abs(state.ph - one.ph) > SAME_PH:
        state = _aired(state)
    title, working = f"EC that the meter would show if {one.words}", state.working("EC")
    share = one.hypothesis.shown
    if share == 1.0:
        return _with_last(working, title)
    terms = (Quantity(working.value, "mS/cm"), "×", Quantity(share))
    return _with_last(working, title, Step("shown by that meter", terms, "mS/cm"))


def _shown_ph(found, one):
    """Return the working of the pH that a meter would show."""
    state = speciate(column_of(found.solutions, one.place), temperature=REFERENCE)
    if abs(state.ph - one.ph) > SAME_PH:
        state = _aired(state)
    return titled(state, "pH", f"pH that the meter would show if {one.words}")


def _aired(state):
    return speciate_again(state, air_co2_ppm=ph_rule("air carbon dioxide"))


def _misfit(found, one):
    """Return the working of how far the readings are from a hypothesis."""
    steps, offs = [], []
    if found.ec is not None:
        steps += _ec_off(found, one)
        offs.append(steps[-1])
    if found.ph is not None:
        apart = (Quantity(found.ph), "−", Quantity(round(one.ph, DECIMALS)))
        steps.append(Step("pH read, less the one it would show", apart))
        error = Quantity(found.ph_error)
        terms = (Quantity(_short(steps[-1].value)), "÷", error)
        source = rule_of("mistake_rules", "pH error")["source_key"]
        steps.append(Step("in errors of the meter", terms, "", source))
        offs.append(steps[-1])
    title = f"How far the readings are from: {one.words}"
    return Working(title, (*steps, *_root(offs)))


def _ec_off(found, one):
    """Return the lines of how far the EC is off, in errors of its meter."""
    rule, least = (rule_of("mistake_rules", name) for name in ("EC error", "EC step"))
    percent = Quantity(found.ec_error_percent, "%")
    shown = Quantity(round(one.ec, DECIMALS), "mS/cm")
    terms = (shown, "×", percent, "÷", Quantity(PERCENT, "%"))
    error = Step("error of the EC meter", terms, "mS/cm", rule["source_key"])
    if error.value < least.number("value"):
        step = (Quantity(least.number("value"), "mS/cm"),)
        error = Step("step of the EC meter", step, "mS/cm", least["source_key"])
    apart = (Quantity(found.ec, "mS/cm"), "−", shown)
    off = Step("EC read, less the one it would show", apart, "mS/cm")
    pair = (Quantity(_short(step.value), "mS/cm") for step in (off, error))
    return [error, off, Step("in errors of the meter", (next(pair), "÷", next(pair)))]


def _short(value):
    """Return a number with as many digits as a line prints, so that lines chain."""
    return float(f"{value:.{DECIMALS}g}")


def _root(offs):
    """Return the lines that make one distance of two."""
    values = [Quantity(_short(off.value)) for off in offs]
    terms = [term for value in values for term in ("+", value, "×", value)]
    squares = Step("squares of these added", tuple(terms[1:]), "", "definition")
    if not squares.value:
        return (squares,)
    whole = _short(squares.value)
    terms = (Quantity(whole), "÷", Quantity(_short(math.sqrt(whole))))
    return squares, Step("the square root: over it, it comes again", terms)
