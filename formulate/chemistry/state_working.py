"""The arithmetic behind a pH and a saturation index, as a teacher writes it."""

from formulate.errors import InputError
from formulate.stoichiometry.notation import printed_ion
from formulate.working import LogStep, Quantity, Step, Working

__all__ = ["index_working", "ph_working"]

MICRO = 1e6
LOG_DECIMALS = 6  # of logarithms, which are added
DECIMALS = 4  # of meq/L, where charges are taken from each other
LEAST_SHARE = 1e-4  # of the charge: what is less is summed up in one number


def ph_working(state):
    """
    Return the arithmetic of a pH: the charges that balance at it, and its definition.

    Parameters
    ----------
    state : Speciation
        One solution.

    Returns
    -------
    Working
        Charge of the cations, of the anions, what is left, the activity of H+, the pH.

    Raises
    ------
    InputError
        If it is a stack.

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> working = ph_working(speciate(solution({"K": 1.0, "P": 1.0})))
    >>> len(working.steps), round(working.value, 2)
    (5, 5.12)
    """
    if state.shape:
        raise InputError("working: the state is a stack; take one solution of it")
    sums = [_charges(state, sign) for sign in (1, -1)]
    unnamed = float(state.solution.unassigned_charge)
    above, below, open_still = (
        Quantity(round(value, DECIMALS), "meq/L")
        for value in (sums[0].value, sums[1].value, abs(unnamed))
    )
    terms = [above, "−", below]
    if unnamed:
        terms += ["+" if unnamed > 0 else "−", open_still]
    words = "left open: the pH is where this is nothing"
    if state.ph_imposed:
        words = "left open: at a given pH something else carries it"
    left = Step(words, tuple(terms), "meq/L")
    hydrogen = MICRO * state.molalities[0]
    activity = Step(
        "activity of H+: what is there × its activity coefficient",
        (Quantity(hydrogen, "µmol/kg"), "×", Quantity(1.0 / state.inverse[0])),
        "µmol/kg",
        state.net.species[0].source_key,
    )
    ph = LogStep("pH, counted from 1 mol/kg", Quantity(activity.value, "µmol/kg"), 6.0)
    return Working("pH of the solution", (*sums, left, activity, ph))


def _charges(state, sign):
    """Return the step that adds up the charges of one sign, in meq/L."""
    found = [
        (s, abs(s.charge) * 1e3 * m * state.water)
        for s, m in zip(state.net.species, state.molalities, strict=True)
        if s.charge * sign > 0 and m
    ]
    found.sort(key=lambda pair: -pair[1])
    least = LEAST_SHARE * sum(value for _, value in found)
    terms, small, names = [], 0.0, []
    for species, value in found:
        if value < least:
            small += value
            continue
        count = abs(species.charge)
        terms += ["+", Quantity(value / count, "mmol/L")]
        terms += ["×", Quantity(count)] if count > 1 else []
        names.append(printed_ion(species.name))
    if small:
        terms += ["+", Quantity(small, "meq/L")]
        names.append("others")
    side = "cations" if sign > 0 else "anions"
    return Step(f"{side}: {', '.join(names)}", tuple(terms[1:]), "meq/L")


def index_working(state, solid, log_k):
    """
    Return the arithmetic of a saturation index.

    Parameters
    ----------
    state : Speciation
        One solution.
    solid : Mineral
        The solid.
    log_k : float
        Logarithm of its constant at the temperature. [-]

    Returns
    -------
    Working
        Logarithm of the product of activities, then the index.

    Raises
    ------
    InputError
        If it is a stack, or a component is absent.

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> state = speciate(solution({"Ca": 14.0, "SO4": 14.0}))
    >>> round(state.working("gypsum").value, 2)
    -0.04
    """
    if state.shape:
        raise InputError("working: the state is a stack; take one solution of it")
    terms, names = [], []
    for species, count in solid.components:
        value = round(state.log_activity(species), LOG_DECIMALS)
        if value == -float("inf"):
            raise InputError(f"working: there is no {species} in it, so no index")
        product = count * value
        terms += ["−" if product < 0 else "+", Quantity(abs(value))]
        terms += ["×", Quantity(abs(count))] if abs(count) != 1 else []
        names.append(f"{count:g} {species}" if count != 1 else species)
    terms = [Quantity(0.0), *terms]
    product = Step(f"lg of activities: {', '.join(names)}", tuple(terms))
    sign = "−" if log_k > 0 else "+"
    constant = Quantity(abs(round(log_k, LOG_DECIMALS)))
    last = (Quantity(product.value), sign, constant)
    words = f"saturation index of {solid.name}: less lg K"
    steps = (product, Step(words, last, "", solid.source_key))
    return Working(f"Saturation index of {solid.name}", steps)
