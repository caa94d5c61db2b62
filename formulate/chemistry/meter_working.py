"""The arithmetic behind what meters show: the buffer, the EC of each ion, its error, a meter."""

from formulate.chemistry.acidity import STEP
from formulate.chemistry.activity_working import coefficient_steps, root_step
from formulate.chemistry.conductivity import FILTER, REFERENCE, conductivity
from formulate.chemistry.ionic_conductivity import (
    APPELO,
    attenuation,
    carrier,
    ec_working,
)
from formulate.chemistry.speciation import speciate_again
from formulate.errors import UnknownName
from formulate.stoichiometry.notation import printed_ion
from formulate.tables import rule_of
from formulate.working import LogStep, Quantity, Step, Working

__all__ = [
    "buffer_working",
    "carried_working",
    "error_working",
    "interval_working",
    "meter_working",
    "share_working",
]

DECIMALS = 7  # of meq/L, of which a small difference is taken
LOW_DECIMALS = 9
LEAST_SHARE = 0.02  # of the EC: what carries less is no row of its own


def buffer_working(state):
    """
    Return the arithmetic of the acid or alkali that moves a pH by one unit.

    Parameters
    ----------
    state : Speciation
        One solution.

    Returns
    -------
    Working
        The charge that the solution leaves open a little below and above its pH, and what
        that is for one unit. [meq/L]

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> working = buffer_working(speciate(solution({"K": 1.5, "P": 1.0}, ph=7.2)))
    >>> round(working.value, 2)
    0.58
    """
    steps, ends = [], []
    for way, words in ((-1, "below"), (1, "above")):
        ph = min(max(state.ph + way * STEP, 0.0), 14.0)
        left = speciate_again(state, ph=ph).charge_left()
        text = f"charge left open {STEP:g} {words}, at pH {ph:.3f}"
        ends.append(Quantity(round(left, DECIMALS), "meq/L"))
        steps.append(Step(text, (ends[-1],), "meq/L", "definition"))
    sign = "−" if ends[1].value > 0 else "+"
    terms = (ends[0], sign, Quantity(abs(ends[1].value), "meq/L"))
    apart = Step("from one to the other", terms, "meq/L")
    terms = (Quantity(apart.value, "meq/L"), "÷", Quantity(2 * STEP))
    slope = Step("for one unit of pH", terms, "meq/L")
    title = f"Acid or alkali for one unit, near pH {state.ph:.2f}"
    return Working(title, (*steps, apart, slope))


def interval_working(found):
    """
    Return the arithmetic of a pH, after how far the errors stated may move it.

    Parameters
    ----------
    found : PHRange
        The pH with its interval.

    Returns
    -------
    Working
        How far the charge may be off, the pH at either end, then that of the pH. [-]

    Examples
    --------
    >>> from formulate.chemistry.acidity import ph_range
    >>> from formulate.stoichiometry.solution import solution
    >>> working = interval_working(ph_range(solution({"K": 1.0, "P": 1.0})))
    >>> len(working.steps), round(working.value, 2)
    (8, 5.12)
    """
    working = found.state.working("pH")
    if found.low == found.high:
        return working
    words = "alkalinity and weights leave open, for the errors stated"
    key = rule_of("ph_rules", "alkalinity error")["source_key"]
    steps = [Step(words, (Quantity(found.charge_error, "meq/L"),), "meq/L", key)]
    for end, more in ((found.low, "more acid"), (found.high, "less acid")):
        activity = Quantity(10.0 ** (6.0 - end), "µmol/kg")
        steps.append(LogStep(f"pH with so much {more}, worked out anew", activity, 6.0))
    return Working(working.title, (*steps, *working.steps))


def meter_working(state, celsius, compensation_percent=2.0):
    """
    Return the arithmetic of what a meter shows that is read at another temperature.

    Parameters
    ----------
    state : Speciation
        One solution.
    celsius : float
        Temperature at which it is read. [°C]
    compensation_percent : float
        How much the meter takes off for each degree. [%]

    Returns
    -------
    Working
        The EC there, and what the meter makes of it. [mS/cm]

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> feed = speciate(solution({"K": 10.0, "Cl": 10.0}))
    >>> round(meter_working(feed, 15.0).value, 2)
    1.44
    """
    there = ec_working(conductivity(state, temperature=celsius).state)
    warmer = celsius - REFERENCE
    sign = "+" if warmer > 0 else "−"
    each = Quantity(compensation_percent, "% per °C")
    terms = (Quantity(1.0), sign, each, "×", Quantity(abs(warmer), "°C"))
    counted = Step(
        f"what a meter divides by, {celsius:g} °C to {REFERENCE:g}",
        (*terms, "÷", Quantity(100.0, "%")),
        "",
        "definition",
    )
    shown = (Quantity(there.value, "mS/cm"), "÷", Quantity(counted.value))
    steps = (*there.steps, counted, Step("the meter shows", shown, "mS/cm"))
    return Working(f"A meter at {celsius:g} °C", steps)


def error_working(found):
    """
    Return how far off an EC may be: the kind of solution, and what was found for it.

    Parameters
    ----------
    found : Conductivity
        The conductivity of one solution.

    Returns
    -------
    Working
        Share of sulfate and bicarbonate among the anions, then the error found in measured
        waters of that kind. [%]

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> working = error_working(conductivity(solution({"K": 10.0, "Cl": 10.0})))
    >>> working.value, working.steps[-1].source_key
    (4.0, 'usgs-mcclesk')
    """
    state = found.state
    anions = [(s, m) for s, m in _amounts(state) if s.charge < 0]
    named = [(s, m) for s, m in anions if s.name in FILTER]
    whole = Step("charge of all anions", _charges(anions), "meq/kg")
    part = Step("of sulfate and bicarbonate", _charges(named), "meq/kg")
    terms = (Quantity(part.value, "meq/kg"), "÷", Quantity(whole.value, "meq/kg"))
    share = Step("their share", (*terms, "×", Quantity(100.0, "%")), "%")
    percent, why, key = found.worst
    words = f"EC may be off by, in measured waters of this kind ({why})"
    last = Step(words, (Quantity(percent, "%"),), "%", key)
    return Working("How far off the EC may be", (whole, part, share, last))


def _amounts(state):
    """Return each species that is there with its amount. [mmol/kg]"""
    pairs = zip(state.net.species, state.molalities, strict=True)
    return [(s, 1e3 * m) for s, m in pairs if m]


def _charges(pairs):
    """Return the terms that add up charges, the largest first, what is little in one."""
    each = sorted(pairs, key=lambda pair: pair[0].charge * pair[1])
    whole = sum(-s.charge * m for s, m in each)
    terms, small = [], 0.0
    for species, m in each:
        if -species.charge * m < 1e-4 * whole:
            small -= species.charge * m
            continue
        terms += ["+", Quantity(m, f"mmol/kg {printed_ion(species.name)}")]
        terms += ["×", Quantity(-species.charge)] if species.charge < -1 else []
    terms += ["+", Quantity(small, "meq/kg")] if small else []
    return tuple(terms[1:]) or (Quantity(0.0, "meq/kg"),)


# --- what an ion carries ---------------------------------------------------------------


def carried_working(found, ion):
    """
    Return the arithmetic of what one ion carries of the EC.

    Parameters
    ----------
    found : Conductivity
        The conductivity of one solution.
    ion : str
        Name of the ion, "others" for the rest, or as in `by_ion`.

    Returns
    -------
    Working
        Its limit at the temperature, how that falls among other ions, times what there is.
        [mS/cm]

    Raises
    ------
    UnknownName
        If nothing of that name carries a part.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> found = conductivity(solution({"K": 10.0, "NO3": 10.0}))
    >>> round(carried_working(found, "NO3-").value, 3)
    0.67
    """
    if ion == "others":
        return Working("What the other ions carry", (_others(found),))
    if ion not in found.by_ion:
        raise UnknownName(f"{ion} carries nothing here")
    steps = _unnamed(found, ion) if " " in ion else _named(found.state, ion)
    return Working(f"What {printed_ion(ion)} carries of the EC", tuple(steps))


def share_working(found, ion):
    """
    Return the arithmetic of which share of the EC one ion carries.

    Parameters
    ----------
    found : Conductivity
        The conductivity of one solution.
    ion : str
        Name of the ion, or "others" for the rest.

    Returns
    -------
    Working
        What it carries over the whole. [%]

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> found = conductivity(solution({"K": 10.0, "NO3": 10.0}))
    >>> round(share_working(found, "NO3-").value)
    49
    """
    part = found.by_ion.get(ion) if ion != "others" else _others(found).value
    if part is None:
        raise UnknownName(f"{ion} carries nothing here")
    terms = (Quantity(part, "mS/cm"), "÷", Quantity(found.ec, "mS/cm"))
    words = f"{printed_ion(ion)} of the whole EC"
    share = Step(words, (*terms, "×", Quantity(100.0, "%")), "%")
    return Working(f"Share of the EC: {printed_ion(ion)}", (share,))


def _others(found):
    """Return the line of what is left beside the ions with a row of their own."""
    named = [v for v in found.by_ion.values() if v >= LEAST_SHARE * found.ec]
    terms = [Quantity(found.ec, "mS/cm")]
    for value in named:
        terms += ["−", Quantity(value, "mS/cm")]
    return Step("the EC less the ions named", tuple(terms), "mS/cm")


def _named(state, ion):
    """Return the lines of an ion that is there."""
    place = state.names.index(ion)
    species, chelate = state.net.species[place], place in state.chelate_places
    name = "(chelate)" if chelate else ion
    of = carrier(name, state.temperature)
    amount = Quantity(1e3 * state.molalities[place], "mmol/kg")
    limit = Quantity(of.limit, "S cm²/mol")
    if of.fall is not None:
        steps = [root_step(state), *_measured_fall(state, of, ion)]
        terms = (amount, "×", Quantity(steps[-1].value), "÷", Quantity(1000.0))
    else:
        gamma = state.activity_coefficient(ion)
        steps, thinned = _thinned(state, species, gamma)
        water = Quantity(state.water_kg_l, "kg/L")
        count = ["×", Quantity(species.charge**2)] if chelate else []
        terms = (amount, "×", limit, *count, "×", thinned, "×", water)
        terms = (*terms, "÷", Quantity(1000.0))
    words = f"{printed_ion(ion)}: amount × conductivity"
    return [*steps, Step(words, terms, "mS/cm", of.source_key)]


def _measured_fall(state, of, ion):
    """Return the lines of a conductivity that falls as was measured."""
    root = Quantity(float(state.strength) ** 0.5, "(mol/kg)^½")
    below = (Quantity(1.0), "+", Quantity(of.size, "(kg/mol)^½"), "×", root)
    low = Step("1 + b s", below, "", of.source_key)
    divisor = Quantity(round(low.value, LOW_DECIMALS))
    fall = (Quantity(of.fall), "×", root, "÷", divisor)
    words = f"conductivity of {printed_ion(ion)} at {state.temperature:g} °C: limit less fall"
    limit = Quantity(of.limit, "S cm²/mol")
    return [low, Step(words, (limit, "−", *fall), "S cm²/mol", of.source_key)]


def _thinned(state, species, gamma):
    """Return the lines of γ^a, in logarithms, and the number itself."""
    power = float(attenuation(species.charge, state.strength))
    before = [root_step(state)]
    before += coefficient_steps(state, species.name, before)
    carried = Quantity(round(before[-1].value, LOW_DECIMALS))
    key = "pq386-phreeqc"
    turn = APPELO.turn * abs(species.charge)
    words = f"power a: {APPELO.power:g} over the root of the charge number"
    if state.strength >= turn:
        words = "power a: root of the ionic strength over the charge number"
    terms = (Quantity(round(power, LOW_DECIMALS)), "×", carried)
    thin = Quantity(gamma**power)
    return [
        *before,
        Step(f"−lg γ times the {words}", terms, "", key),
        LogStep("which is −lg of γ^a", thin, 0.0, key),
    ], thin


def _unnamed(found, name):
    """Return the line of ions that are not named, counted like one that is."""
    like, state = name.removeprefix("unnamed as "), found.state
    amount = abs(float(state.flat_unassigned)) / state.water_kg_l
    of = carrier(like, state.temperature)
    each = Quantity(found.by_ion[name] / amount, "mS/cm per mmol/kg")
    words = f"charge of unnamed ions, which conduct as {printed_ion(like)}"
    return [
        Step(words, (Quantity(amount, "mmol/kg"), "×", each), "mS/cm", of.source_key)
    ]
