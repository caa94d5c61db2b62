"""What each ion of a solution carries of its conductivity.

One model throughout. Ions that McCleskey and colleagues measured follow their equation,

    λ = λ0(t) − F(t) s/(1 + b s)        each of λ0, F a polynomial l2 t² + l1 t + l0

with t in °C and s the root of the ionic strength in mol per kg; λ is per mol per kg of
water [usgs-mcclesk]. It belongs to ion pairs as WATEQ4F has them, which this package uses.
Ions they did not measure (phosphates, borate, chelates, most pairs), and potassium,
ammonium and nitrate, whose salts lie nearer to the handbook so, follow the law of
independent ions with the attenuation of Appelo,

    λ = λ0(t) γ^a        a = 0.6/√|z|, or √I/|z| where I > 0.36 |z|

with λ0(t) from 25 °C by the viscosity of water where nothing better is known.
"""

from functools import cache
from types import MappingProxyType

import numpy as np

from formulate.chemistry.columns import arithmetic_of
from formulate.chemistry.water_properties import viscosity_ksw78
from formulate.errors import MissingData
from formulate.tables import read_table
from formulate.working import Quantity, Step, Working

__all__ = ["REFERENCE", "carried", "ec_working", "lambda_appelo", "lambda_mccleskey"]

REFERENCE = 25.0  # °C
ATTENUATION, TURN = 0.6, 0.36
UNNAMED = {1: "Na+", -1: "Cl-"}
LEAST_SHARE = 0.002  # of the EC: what carries less is summed up in one line


@cache
def _rows():
    return {row["species"]: row for row in read_table("conduction")}


def lambda_mccleskey(row, celsius, root):
    """
    Return the molal conductivity of an ion by McCleskey and colleagues.

    Parameters
    ----------
    row : Row
        Line of the table conduction.
    celsius : float
        Temperature. [°C]
    root : float or array
        Root of the ionic strength. [(mol/kg)^0.5]

    Returns
    -------
    float or array
        Conductivity per mol per kg of water. [mS/cm per mol/kg]

    Examples
    --------
    >>> round(lambda_mccleskey(_rows()["Na+"], 25.0, 0.1), 1)
    45.3
    """
    t = celsius
    fall = row.number("f2") * t * t + row.number("f1") * t + row.number("f0")
    return _limit(row, t) - fall * (root / (1 + row.number("b") * root))


def lambda_appelo(limit, charge, strength, gamma):
    """
    Return the molar conductivity of an ion by Appelo's attenuation.

    Parameters
    ----------
    limit : float
        Limiting molar conductivity at the temperature. [S cm²/mol]
    charge : int
        Charge number. [-]
    strength : float or array
        Ionic strength. [mol/kg]
    gamma : float or array
        Activity coefficient. [-]

    Returns
    -------
    float or array
        Molar conductivity. [S cm²/mol]

    Examples
    --------
    >>> round(lambda_appelo(31.77, -1, 0.01, 0.9), 1)
    29.8
    """
    of, size = arithmetic_of(strength), abs(charge)
    power = of.where(
        strength < TURN * size, ATTENUATION / size**0.5, of.sqrt(strength) / size
    )
    return limit * of.exp(power * of.log(gamma))


def _limit(row, celsius):
    """Return the limiting conductivity of an ion at a temperature, in S cm²/mol."""
    if row["l0"]:
        t = celsius
        return row.number("l2") * t * t + row.number("l1") * t + row.number("l0")
    thinner = viscosity_ksw78(REFERENCE) / viscosity_ksw78(celsius)
    return row.number("limit") * thinner


def _row_of(state, place):
    """Return the line of the table for the ion at a place."""
    name = state.net.species[place].name
    name = "(chelate)" if place in state.chelate_places else name
    if name not in _rows():
        raise MissingData(f"{name}: no conductivity in the table conduction")
    return _rows()[name]


def _molal(state, place, root):
    """Return what a mol per kg of the ion at a place conducts, in mS/cm."""
    row, ion = _row_of(state, place), state.net.species[place]
    if row["model"] == "mccleskey":
        return lambda_mccleskey(row, state.temperature, root)
    limit = _limit(row, state.temperature)
    if place in state.chelate_places:
        limit *= ion.charge**2
    gamma = 1.0 / state.inverse[place]
    return lambda_appelo(limit, ion.charge, state.strength, gamma) * state.water


def carried(state):
    """
    Return what each ion carries of the conductivity at the temperature of a state.

    Parameters
    ----------
    state : Speciation
        The ions.

    Returns
    -------
    mapping of str to float or array
        Ion to its part, the largest first. [mS/cm]

    Raises
    ------
    MissingData
        If an ion has no line in the table conduction.

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> list(carried(speciate(solution({"K": 10.0, "NO3": 10.0}))))[:2]
    ['K+', 'NO3-']
    """
    of = arithmetic_of(state.strength)
    root, found = of.sqrt(state.strength), {}
    for place, ion in enumerate(state.net.species):
        if ion.charge:
            each = _molal(state, place, root)
            found[ion.name] = state.molalities[place] * each
    unnamed = 1e-3 * state.flat_unassigned / state.water
    for sign, like in UNNAMED.items():
        some = of.most(sign * unnamed, 0.0)
        if np.any(some):
            each = lambda_mccleskey(_rows()[like], state.temperature, root)
            found[f"unnamed as {like}"] = some * each
    shaped = {name: state.shaped(value) for name, value in found.items()}
    ordered = sorted(shaped.items(), key=lambda pair: -float(np.mean(pair[1])))
    return MappingProxyType({name: v for name, v in ordered if np.any(v)})


def ec_working(state):
    """
    Return the arithmetic of the conductivity: what each ion carries, added up.

    Parameters
    ----------
    state : Speciation
        The ions of one solution.

    Returns
    -------
    Working
        One line for each ion that matters, the rest in one; the last gives the sum.

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> working = ec_working(speciate(solution({"K": 10.0, "NO3": 10.0})))
    >>> working.unit, round(working.value, 2)
    ('mS/cm', 1.37)
    """
    parts = carried(state)
    whole = sum(parts.values())
    places = {s.name: place for place, s in enumerate(state.net.species)}
    steps, small = [], 0.0
    for name, part in parts.items():
        if part < LEAST_SHARE * whole:
            small += part
            continue
        unnamed = name.startswith("unnamed")
        amount = (
            abs(state.flat_unassigned) / state.water
            if unnamed
            else 1e3 * state.molalities[places[name]]
        )
        key = "usgs-mcclesk" if unnamed else _row_of(state, places[name])["source_key"]
        terms = (
            Quantity(amount, "mmol/kg"),
            "×",
            Quantity(part / amount, "mS/cm per mmol/kg"),
        )
        steps.append(Step(name, terms, "mS/cm", key))
    terms = [t for step in steps for t in ("+", Quantity(step.value, "mS/cm"))][1:]
    if small:
        terms += ["+", Quantity(small, "mS/cm")]
    words = "EC, the rest in the last number" if small else "EC"
    title = f"EC of the solution at {state.temperature:g} °C"
    return Working(title, (*steps, Step(words, tuple(terms), "mS/cm")))
