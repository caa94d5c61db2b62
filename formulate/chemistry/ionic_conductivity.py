"""What each ion of a solution carries of its conductivity.

One model throughout: limits λ0 at the temperature, and how they fall with ionic strength I,
by the activity coefficient (Appelo, `lambda_appelo`). The limits of the main ions are those
of McCleskey and colleagues; others are taken from 25 °C by the viscosity of water. Calcium,
the proton, hydroxide and the trace metals keep the fall these authors measured as well
(`lambda_mccleskey`), which is nearer to the handbook there. Both belong to ion pairs as this
package counts them.
"""

from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import numpy as np

from formulate.chemistry.columns import arithmetic_of
from formulate.chemistry.water_properties import coefficients, viscosity_ksw78
from formulate.errors import MissingData
from formulate.tables import read_table
from formulate.working import Quantity, Step, Working

__all__ = [
    "REFERENCE",
    "Carrier",
    "attenuation",
    "carried",
    "carrier",
    "ec_working",
    "lambda_appelo",
    "lambda_mccleskey",
]

REFERENCE = 25.0  # °C
APPELO = coefficients("appelo")
UNNAMED = {1: "Na+", -1: "Cl-"}
LEAST_SHARE = 0.002  # of the EC: what carries less is summed up in one line


@dataclass(frozen=True)
class Carrier:
    """
    How an ion conducts at one temperature.

    Attributes
    ----------
    limit : float
        Limiting molar conductivity. [S cm²/mol]
    fall : float or None
        F of McCleskey and colleagues; None where Appelo's attenuation holds. [S cm²/mol]
    size : float
        b of McCleskey and colleagues. [(kg/mol)^0.5]
    source_key : str
        Where it comes from.
    """

    limit: float
    fall: float | None
    size: float
    source_key: str


@cache
def carrier(ion, celsius):
    """
    Return how an ion conducts at a temperature.

    Equation of the limits of the main ions [usgs-mcclesk]::

        λ0 = l2 t² + l1 t + l0                       t in °C
        λ0 = λ0(25 °C) η(25 °C)/η(t)                 others

    Parameters
    ----------
    ion : str
        Name of the ion; "(chelate)" stands for all chelates, by unit of charge.
    celsius : float
        Temperature. [°C]

    Returns
    -------
    Carrier
        Its numbers at that temperature.

    Raises
    ------
    MissingData
        If the ion has no line in the table conduction.

    Examples
    --------
    >>> round(carrier("Na+", 25.0).limit, 1)
    50.5
    """
    rows = {row["species"]: row for row in read_table("conduction")}
    if ion not in rows:
        raise MissingData(f"{ion}: no conductivity in the table conduction")
    row, t = rows[ion], celsius

    def polynomial(letter):
        two, one, zero = (row.number(f"{letter}{n}") for n in (2, 1, 0))
        return two * t * t + one * t + zero

    if row["l0"]:
        limit = polynomial("l")
    else:
        thinner = viscosity_ksw78(REFERENCE) / viscosity_ksw78(celsius)
        limit = row.number("limit") * thinner
    if row["model"] == "mccleskey":
        fall = polynomial("f")
        return Carrier(limit, fall, row.number("b"), row["source_key"])
    return Carrier(limit, None, 0.0, row["source_key"])


def lambda_mccleskey(of, root):
    """
    Return the molal conductivity of an ion by McCleskey and colleagues.

    Equation [usgs-mcclesk]::

        λ = λ0(t) − F(t) s/(1 + b s)        s the root of I, F a polynomial as λ0

    Parameters
    ----------
    of : Carrier
        Its numbers at the temperature.
    root : float or array
        Root of the ionic strength. [(mol/kg)^0.5]

    Returns
    -------
    float or array
        Conductivity per mol per kg of water. [mS/cm per mol/kg]

    Examples
    --------
    >>> round(lambda_mccleskey(carrier("Ca+2", 25.0), 0.1), 1)
    101.5
    """
    return of.limit - of.fall * (root / (1 + of.size * root))


def attenuation(charge, strength):
    """
    Return the power a of Appelo's attenuation.

    Equation [pq386-phreeqc]::

        a = 0.6/√|z|        √I/|z| where I > 0.36 |z|

    Parameters
    ----------
    charge : int
        Charge number. [-]
    strength : float or array
        Ionic strength. [mol/kg]

    Returns
    -------
    float or array
        The power a. [-]

    Examples
    --------
    >>> attenuation(-1, 0.01), attenuation(2, 1.0)
    (0.6, 0.5)
    """
    of, size = arithmetic_of(strength), abs(charge)
    low = APPELO.power / size**0.5
    if not of.any_above(strength, APPELO.turn * size):
        return low
    return of.where(strength < APPELO.turn * size, low, of.sqrt(strength) / size)


def lambda_appelo(of, charge, strength, gamma):
    """
    Return the molar conductivity of an ion by Appelo's attenuation.

    Equation [pq386-phreeqc]::

        λ = λ0(t) γ^a

    Parameters
    ----------
    of : Carrier
        Its numbers at the temperature.
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
    >>> round(lambda_appelo(carrier("H2PO4-", 25.0), -1, 0.01, 0.9), 1)
    29.8
    """
    return of.limit * gamma ** attenuation(charge, strength)


UNIT = Carrier(1.0, None, 0.0, "")  # for γ^a alone


def _name(state, place):
    """Return the name under which the ion at a place stands in the table."""
    chelate = place in state.chelate_places
    return "(chelate)" if chelate else state.net.species[place].name


def _each(state):
    """Yield every ion with what a mol of it per kg of water conducts, in mS/cm."""
    strength, t = state.strength, state.temperature
    root, thinned = arithmetic_of(strength).sqrt(strength), {}
    for place, ion in enumerate(state.net.species):
        if not ion.charge:
            continue
        of = carrier(_name(state, place), t)
        if of.fall is not None:
            yield place, ion, lambda_mccleskey(of, root)
            continue
        key = (state.net.kinds[place], abs(ion.charge))
        if key not in thinned or state.net.partners[place]:  # one class, one γ^a
            gamma = 1.0 / state.inverse[place]
            thinned[key] = lambda_appelo(UNIT, ion.charge, strength, gamma)
        count = ion.charge**2 if place in state.chelate_places else 1
        yield place, ion, (of.limit * count) * (thinned[key] * state.water)


def carried(state):
    """
    Return what each ion carries of the conductivity at the temperature of a state.

    Equation of the conductivity [usgs-mcclesk]::

        EC = Σ λ m        a chelate by units of charge, unnamed ions as Na+ or Cl-

    Parameters
    ----------
    state : Speciation
        The ions.

    Returns
    -------
    mapping of str to float or array
        Ion to its part; of one solution the largest first, what is absent left out. [mS/cm]

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
    of, found = arithmetic_of(state.strength), {}
    for place, ion, each in _each(state):
        found[ion.name] = state.shaped(state.molalities[place] * each)
    if np.any(state.flat_unassigned):
        gamma = 1.0 / state.inverse[1]  # of OH-, an ion of like size
        for sign, like in UNNAMED.items():
            known = carrier(like, state.temperature)
            each = lambda_appelo(known, sign, state.strength, gamma)
            some = of.most(1e-3 * sign * state.flat_unassigned, 0.0)
            found[f"unnamed as {like}"] = state.shaped(some * each)
    if state.shape:
        return MappingProxyType(found)
    ordered = sorted(found.items(), key=lambda pair: -pair[1])
    return MappingProxyType({name: v for name, v in ordered if v})


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
        ion = (
            name.removeprefix("unnamed as ") if unnamed else _name(state, places[name])
        )
        key = carrier(ion, state.temperature).source_key
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
