"""The arithmetic behind the amount of one ion or pair: the law of mass action, in logarithms.

What forms from bare ions follows from their activities, written like a pH as minus the
decadic logarithm p:

    p(pair) = p(cation) + n p(ligand) + protons pH + waters p(water) − lg K

with p(activity) = p(amount per kg of water) − lg γ. A bare ion is what its pairs leave.
"""

from formulate.chemistry.activity_working import (
    coefficient_steps,
    fall_of,
    root_step,
)
from formulate.chemistry.constants import COEFFICIENTS, log_k
from formulate.chemistry.water_properties import kelvin
from formulate.errors import InputError, UnknownName
from formulate.stoichiometry.notation import printed_ion
from formulate.stoichiometry.nutrients import form
from formulate.working import LogStep, Quantity, Step, Working

__all__ = [
    "bare_ions",
    "holders",
    "share_steps",
    "species_working",
    "strength_working",
]

MILLI, MICRO = 3.0, 6.0  # what minus the logarithm of mmol and µmol lacks to mol
LEAST_SHARE = 1e-4  # of a sum: what is less stands in one number
LOG_DECIMALS = 7  # of logarithms that are added


def bare_ions(net):
    """
    Return the bare ion of each form of a network, and each chelate.

    Parameters
    ----------
    net : Network
        The network.

    Returns
    -------
    dict of str to str
        Name of the ion to its form, or two forms with a colon.

    Examples
    --------
    >>> from formulate.chemistry.constants import constants
    >>> from formulate.chemistry.network import network
    >>> bare_ions(network(("calcium", "sulfate"), 25.0, constants()))
    {'Ca+2': 'calcium', 'SO4-2': 'sulfate'}
    """
    kept = (*net.cations, *net.ligands, *net.inert)
    return {s.name: key for s, key in zip(net.species[2:], kept, strict=False)}


def species_working(state, name):
    """
    Return the arithmetic of the amount of one ion, pair or molecule.

    Parameters
    ----------
    state : Speciation
        One solution.
    name : str
        Name of the species, such as "CaSO4".

    Returns
    -------
    Working
        Of a bare ion what its pairs leave of the whole; of others the law of mass action.
        [mmol/L]

    Raises
    ------
    InputError
        If it is a stack.
    UnknownName
        If it is not in this solution.

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> state = speciate(solution({"Ca": 2.0, "SO4": 2.0}))
    >>> round(species_working(state, "CaSO4").value, 3)
    0.269
    """
    if state.shape:
        raise InputError("working: the state is a stack; take one solution of it")
    found = {s.name: s for s in state.net.species}
    if name not in found:
        raise UnknownName(f"{name} is not in this solution")
    title = f"{printed_ion(name)} in the solution"
    bare = bare_ions(state.net).get(name)
    if bare is not None:
        return Working(title, (_rest_step(state, name, bare),))
    return Working(title, tuple(_mass_action(state, found[name])))


# --- what pairs leave ------------------------------------------------------------------


def holders(state, key):
    """
    Return the species that hold a form, with how many of it.

    Parameters
    ----------
    state : Speciation
        The solution.
    key : str
        Key of the form.

    Returns
    -------
    list of (str, int)
        Name and count, but for the bare ion. [-]

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> holders(speciate(solution({"K": 2.0, "SO4": 1.0})), "potassium")
    [('KSO4-', 1)]
    """
    found = []
    for species in state.net.species[2:]:
        count = species.ligands if species.ligand == key else species.cation == key
        if count:
            found.append((species.name, int(count)))
    return found


def _rest_step(state, name, key):
    """Return the line of a bare ion: the whole less what its pairs hold."""
    forms = key.split(":")
    if len(forms) > 1:  # a chelate takes part in nothing else
        words = f"{printed_ion(name)}: the chelate of {_named(forms)} stays whole"
        return Step(words, (Quantity(state.amount(name), "mmol/L"),), "mmol/L")
    held = [(n, count * state.amount(n)) for n, count in holders(state, key)]
    held += _in_chelates(state, key)
    terms, names = _sum_terms(held, "−")
    whole = sum(value for _, value in held) + state.amount(name)
    less = f" less {', '.join(names)}" if names else ": nothing holds it"
    words = f"{form(key).name} in all{less}"
    return Step(words, (Quantity(whole, "mmol/L"), *terms), "mmol/L", "definition")


def _named(forms):
    return " and ".join(form(key).name for key in forms)


def _in_chelates(state, key):
    """Return the chelates that hold a form."""
    pairs = bare_ions(state.net).items()
    return [
        (name, state.amount(name))
        for name, held in pairs
        if ":" in held and key in held.split(":")
    ]


def _sum_terms(pairs, sign):
    """Return signs and quantities, the largest first, what is little in one, and names."""
    ordered = sorted(pairs, key=lambda pair: -pair[1])
    least = LEAST_SHARE * sum(value for _, value in ordered)
    terms, names, small = [], [], 0.0
    for name, value in ordered:
        if value < least:
            small += value
            continue
        terms += [sign, Quantity(value, "mmol/L")]
        names.append(printed_ion(name))
    if small:
        terms += [sign, Quantity(small, "mmol/L")]
        names.append("others")
    return terms, names


# --- the law of mass action ------------------------------------------------------------


def _mass_action(state, species):
    """Return the lines of what forms from bare ions."""
    parts = [(name, n) for name, n in _parts(state, species) if n]
    steps, terms, words = [root_step(state)], [], []
    for name, count in parts:
        steps += coefficient_steps(state, name, steps)
        steps.append(_p_amount(state, name))
        for number in (steps[-1], fall_of(steps, name)):
            terms += _times(number.value, count)
        words.append(f"{count} {printed_ion(name)}" if count > 1 else printed_ion(name))
    protons = species.protons or (species is state.net.species[0])
    if protons:
        terms += _times(round(state.ph, LOG_DECIMALS), int(protons))
        words.append(f"{protons:+d} H⁺ (pH)")
    if species.waters:
        water = LogStep("minus lg of the activity of water", _water(state))
        steps.append(water)
        terms += _times(water.value, species.waters)
        words.append(f"{species.waters:+d} H₂O")
    steps += _constant_steps(state, species)
    steps += coefficient_steps(state, species.name, steps)
    terms += _signed(-_lg_k(state, species))
    terms += _signed(-fall_of(steps, species.name).value)
    words = (
        f"minus lg of {printed_ion(species.name)}: {', '.join(words)}, − lg K, + lg γ"
    )
    steps.append(Step(words, tuple(_led(terms)), "", species.source_key))
    steps.append(_p_amount(state, species.name, "which is that of what there is"))
    return [*steps, *_per_litre(state, species.name)]


def _parts(state, species):
    """Yield the bare ions of a species, and how many of each."""
    bare = {key: name for name, key in bare_ions(state.net).items()}
    if species.cation:
        yield bare[species.cation], 1
    if species.ligand:
        yield bare[species.ligand], species.ligands


def _signed(value):
    """Return a sign and a number."""
    value = round(value, LOG_DECIMALS)
    return ["−" if value < 0 else "+", Quantity(abs(value))]


def _times(value, count):
    """Return a sign and a number, so many times."""
    terms = _signed(value if count > 0 else -value)
    return [*terms, "×", Quantity(abs(count))] if abs(count) != 1 else terms


def _led(terms):
    """Return terms without the sign at their head."""
    return terms[1:] if terms[0] == "+" else [Quantity(0.0), *terms]


def _molality(state, name):
    """Return an amount per kg of water with its unit, and what it lacks to mol."""
    value = 1e3 * state.molalities[state.names.index(name)]
    if value >= 1e-3:
        return Quantity(value, "mmol/kg"), MILLI
    return Quantity(1e3 * value, "µmol/kg"), MICRO


def _p_amount(state, name, words=""):
    """Return the line of minus the logarithm of an amount per kg of water."""
    number, shift = _molality(state, name)
    return LogStep(words or f"minus lg of {printed_ion(name)}", number, shift)


def _water(state):
    return Quantity(round(state.water_activity, LOG_DECIMALS))


def _lg_k(state, species):
    return log_k(species.log_k, kelvin(state.temperature))


def _constant_steps(state, species):
    """Return the line of lg K at the temperature, if it is more than a number."""
    warm, words = kelvin(state.temperature), f"lg K at {state.temperature:g} °C"
    first, *others = species.log_k
    if not any(others):
        return []
    terms = [Quantity(first)] if first else []
    hot, steps = Quantity(warm, "K"), []
    for name, factor in zip(COEFFICIENTS[1:], others, strict=True):
        if not factor:
            continue
        terms += ["−" if factor < 0 else "+", Quantity(abs(factor))]
        if name == "a4":
            steps = [LogStep("minus lg of the temperature", hot)]
            terms += ["×", Quantity(round(-steps[0].value, LOG_DECIMALS))]
        else:
            by = {"a2": "×", "a3": "÷", "a5": "÷", "a6": "×"}[name]
            terms += [by, hot] * (2 if name in ("a5", "a6") else 1)
    if isinstance(terms[0], str):
        terms = _led(terms)
    return [*steps, Step(words, tuple(terms), "", species.source_key)]


def _per_litre(state, name):
    """Return the line from a kilogram of water to a litre."""
    number, _ = _molality(state, name)
    terms = [number, "×", Quantity(state.water_kg_l, "kg/L")]
    if number.unit == "µmol/kg":
        terms += ["÷", Quantity(1000.0, "µmol/mmol")]
    return [Step("in a litre, by the water in it", tuple(terms), "mmol/L")]


# --- shares and the ionic strength -----------------------------------------------------


def share_steps(state, name):
    """
    Return the lines of how much a species holds of each of its parts.

    Parameters
    ----------
    state : Speciation
        One solution.
    name : str
        Name of the species.

    Returns
    -------
    list of Step
        One for each part that the solution counts. [%]

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> state = speciate(solution({"Ca": 2.0, "SO4": 2.0}))
    >>> [round(step.value, 1) for step in share_steps(state, "CaSO4")]
    [13.4, 13.4]
    """
    species = next(s for s in state.net.species if s.name == name)
    bare = bare_ions(state.net).get(name)
    parts = {species.cation: 1, species.ligand: species.ligands}
    parts = dict.fromkeys(bare.split(":"), 1) if bare else parts
    steps = []
    for key, count in parts.items():
        whole = state.solution.forms.get(key)
        if not key or not whole:
            continue
        terms = [Quantity(state.amount(name), "mmol/L")]
        terms += ["×", Quantity(count)] if count != 1 else []
        terms += ["÷", Quantity(whole, "mmol/L"), "×", Quantity(100.0, "%")]
        steps.append(Step(f"of {form(key).name} in all", tuple(terms), "%"))
    return steps


def strength_working(state):
    """
    Return the arithmetic of the ionic strength: half the sum of c z².

    Parameters
    ----------
    state : Speciation
        One solution.

    Returns
    -------
    Working
        The sum over all ions, then half of it. [mmol/L]

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> working = strength_working(speciate(solution({"K": 2.0, "SO4": 1.0})))
    >>> round(working.value, 2)
    2.98
    """
    found = {s.name: s.charge**2 for s in state.net.species if s.charge}
    parts = [(n, sq, state.amount(n)) for n, sq in found.items() if state.amount(n)]
    parts.sort(key=lambda part: -part[1] * part[2])
    least = LEAST_SHARE * sum(sq * value for _, sq, value in parts)
    terms, names, small = [], [], 0.0
    for name, square, value in parts:
        if square * value < least:
            small += square * value
            continue
        terms += ["+", Quantity(value, "mmol/L")]
        terms += ["×", Quantity(square)] if square > 1 else []
        names.append(printed_ion(name))
    small += abs(float(state.flat_unassigned))  # unnamed ions, of one charge
    if small:
        terms += ["+", Quantity(small, "mmol/L")]
        names.append("unnamed ions and others")
    words = f"amounts times the square of the charge: {', '.join(names)}"
    whole = Step(words, tuple(terms[1:]) or (Quantity(0.0, "mmol/L"),), "mmol/L")
    half = (Quantity(whole.value, "mmol/L"), "×", Quantity(0.5))
    steps = (whole, Step("half of it", half, "mmol/L", "definition"))
    return Working("Ionic strength, pairs counted as what they are", steps)
