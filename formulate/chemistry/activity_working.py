"""The arithmetic of an activity coefficient, as minus its decadic logarithm, line by line."""

from formulate.chemistry.activity import BLEND, DAVIES
from formulate.chemistry.water_properties import debye_hueckel
from formulate.stoichiometry.notation import printed_ion
from formulate.tables import read_table
from formulate.working import LogStep, Quantity, Step

__all__ = ["coefficient_steps", "fall_of", "root_step"]

LOW_DECIMALS = 9  # of a divisor, which is then printed as closely as its line needs
CHELATE = "pq386-phreeqc"  # Davies, as all ions without a size of their own


def root_step(state):
    """
    Return the line of the root of the ionic strength: it times itself.

    Parameters
    ----------
    state : Speciation
        One solution.

    Returns
    -------
    Step
        The line; its first number is the root. [mol/kg]

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> step = root_step(speciate(solution({"K": 10.0, "Cl": 10.0})))
    >>> round(step.value, 4)
    0.01
    """
    root = Quantity(float(state.strength) ** 0.5, "(mol/kg)^½")
    words = "root s of the ionic strength, which times itself gives it"
    return Step(words, (root, "×", root), "mol/kg", "definition")


def fall_of(steps, name):
    """
    Return the line among others that gives −lg γ of a species.

    Parameters
    ----------
    steps : sequence of Step
        The lines.
    name : str
        Name of the species.

    Returns
    -------
    Step
        The line. [-]

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> state = speciate(solution({"K": 10.0, "Cl": 10.0}))
    >>> fall_of(coefficient_steps(state, "K+"), "K+").text
    '−lg γ of K⁺'
    """
    return next(s for s in reversed(steps) if s.text == _fall_words(name))


def _fall_words(name):
    return f"−lg γ of {printed_ion(name)}"


def coefficient_steps(state, name, before=()):
    """
    Return the lines of minus the logarithm of an activity coefficient.

    Parameters
    ----------
    state : Speciation
        One solution.
    name : str
        Name of the species.
    before : sequence of Step
        Lines that stand already; what is among them is not written again.

    Returns
    -------
    list of Step
        By the equation where the solution is dilute, else of the number itself.

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> state = speciate(solution({"K": 10.0, "Cl": 10.0}))
    >>> round(10 ** -coefficient_steps(state, "K+")[-1].value, 3)
    0.9
    """
    known = {s.text for s in before}
    steps = [s for s in _coefficient(state, name) if s.text not in known]
    return steps if _fall_words(name) not in known else []


def _coefficient(state, name):
    """Return the lines of −lg γ of a species."""
    species = next(s for s in state.net.species if s.name == name)
    strength, words = float(state.strength), _fall_words(name)
    dilute = state.activity_model == "wateq"
    dilute = dilute or (state.activity_model == "blend" and strength <= BLEND.start)
    if not dilute:
        gamma = Quantity(state.activity_coefficient(name))
        return [LogStep(words, gamma, 0.0, "pq386-sit")]
    a, b = debye_hueckel(state.temperature)
    root = Quantity(strength**0.5, "(mol/kg)^½")
    strong, key = Quantity(strength, "mol/kg"), _activity_source(name)
    slope = [
        "−" if species.slope >= 0 else "+",
        Quantity(abs(species.slope), "kg/mol"),
        "×",
        strong,
    ]
    if not species.charge:
        zero = [Quantity(0.0), *slope] if species.slope else [Quantity(0.0)]
        return [Step(words, tuple(zero), "", key)]
    is_davies = species.model == "davies"
    size = DAVIES.size if is_davies else b * species.size
    below = (Quantity(1.0), "+", Quantity(size, "(kg/mol)^½"), "×", root)
    kind = "Davies" if is_davies else f"an ion of {species.size:g} Å: B × size"
    low = Step(f"1 + c s, c for {kind}", below, "", key)
    fall = Quantity(a * species.charge**2, "(kg/mol)^½")
    terms = [fall, "×", root, "÷", Quantity(round(low.value, LOW_DECIMALS))]
    if is_davies:
        linear = Quantity(DAVIES.slope, "kg/mol")
        terms += ["−", fall, "×", linear, "×", strong]
    elif species.slope:
        terms += slope
    return [low, Step(words, tuple(terms), "", key)]


def _activity_source(name):
    """Return where what the activity coefficient of a species depends on comes from."""
    rows = (r for r in read_table("activity") if r["species"] == name)
    return next((row["source_key"] for row in rows), CHELATE)
