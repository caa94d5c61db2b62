"""Ions, pairs and pH of a solution, or of a hundred thousand."""

from dataclasses import dataclass
from functools import cache

import numpy as np

from formulate.checks import checked_number, checked_values
from formulate.chemistry.activity import check_model
from formulate.chemistry.chelates import bound
from formulate.chemistry.columns import BLOCK, arithmetic_of
from formulate.chemistry.constants import constants as default_constants
from formulate.chemistry.constants import log_k
from formulate.chemistry.equilibrium import equilibrate
from formulate.chemistry.feed import Balance, Feed
from formulate.chemistry.network import network
from formulate.chemistry.solids import mineral
from formulate.chemistry.state import Speciation, flat
from formulate.chemistry.water_properties import (
    check_temperature,
    density_wp02,
    kelvin,
)
from formulate.errors import Faults, InputError, NoConvergence, shortened
from formulate.stoichiometry.charge import check_ph
from formulate.stoichiometry.solution import Solution
from formulate.tables import read_table

__all__ = [
    "LEAST_WATER",
    "index_spread",
    "speciate",
    "speciate_again",
    "water_in_litre",
]

LN10 = float(np.log(10))
LEAST_WATER = 0.3  # kg in a litre
PPM = 1e-6
MOST_CO2 = 1e6


def speciate(
    solution,
    *,
    ph=None,
    temperature=None,
    air_co2_ppm=None,
    activity=None,
    constants=None,
    water_kg_l=None,
    near=None,
):
    """
    Return the ions and pairs of a solution in equilibrium, and its pH.

    Where a pH is given, or the solution carries a measured one, it is imposed; else it is
    the pH at which all charges balance, unnamed ions included. Nitrate, nitrite, ammonium,
    iron(II) and iron(III) stay what they are.

    Parameters
    ----------
    solution : Solution, Water or Recipe
        One solution or a stack, or what has one as its `solution`.
    ph : float or array or None
        The pH to impose. [-]
    temperature : float or None
        Temperature, from 0 to 50; the solution's own if None. [°C]
    air_co2_ppm : float or None
        Carbon dioxide of the air it stands open to; None means closed. [µmol/mol]
    activity : str or None
        "wateq", "davies", "sit" or "blend"; None means "blend": WATEQ below an ionic
        strength of 100 mmol/kg, SIT above 300.
    constants : Constants or None
        Other constants than those of the package.
    water_kg_l : float or array or None
        Water that the amounts of a litre stand in; None means what dissolved matter leaves
        room for. [kg/L]
    near : Speciation or None
        A state not far from it, from which one solution is found in fewer rounds.

    Returns
    -------
    Speciation
        The state.

    Raises
    ------
    InputError
        With every fault of what was given.
    MissingData
        If a form has no constants.
    NoConvergence
        If some solution did not come to rest; the error carries the state.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> state = speciate(solution({"K": 5.0, "H2PO4": 1.0, "NO3": 4.0}))
    >>> round(state.ph, 2)
    5.1
    """
    solution = getattr(solution, "solution", solution)
    ph, temperature, air, model = _checked(
        solution, ph, temperature, air_co2_ppm, activity
    )
    known = constants or default_constants()
    shape = _shape_of(solution, ph)
    of_charge = flat(solution.unassigned_charge, shape)
    totals = {key: flat(value, shape) for key, value in solution.forms.items()}
    if water_kg_l is None:
        water = _water_kg(totals, temperature)
    else:
        water = flat(water_kg_l, shape)
    least = arithmetic_of(water).least
    held = bound(totals, least)
    if air is not None:
        held.setdefault("carbonate", water * 0.0)
    net = network(tuple(held), temperature, known)
    ln_h = None if ph is None else -LN10 * flat(ph, shape)
    open_to = _held(net, known, temperature, air)
    start = None if near is None or shape else _start_from(near, net, ln_h)
    solve = _Problem(net, model, held, of_charge, water, ln_h, open_to, start)
    balance = solve.whole() if not shape else solve.in_blocks()
    state = Speciation(
        solution,
        temperature,
        model,
        air,
        ph is not None,
        tuple(key for key in held if ":" in key),
        balance.settled,
        known,
        net,
        shape,
        balance.amounts,
        balance.ln_h,
        balance.ln_water,
        balance.strength,
        water,
    )
    _check_settled(state)
    return state


def _start_from(near, net, ln_h):
    """Return where the rounds begin if a near state has the same forms, else None."""
    forms = (net.cations, net.ligands, net.inert)
    there = (near.net.cations, near.net.ligands, near.net.inert)
    if near.shape or forms != there or len(near.net.species) != len(net.species):
        return None
    first = 2 + len(net.cations)
    places = range(first, first + len(net.ligands))
    ligands = [near.molalities[p] / near.inverse[p] for p in places]
    ln_h = near.ln_h if ln_h is None else ln_h
    strength = near.strength
    results = (ln_h, near.ln_water, strength, (strength, None))
    return Balance(list(near.molalities), ligands, *results, rounds=1)


def speciate_again(state, *, solution=None, **changes):
    """
    Return a state worked out anew, with what it was worked out with but for some changes.

    Parameters
    ----------
    state : Speciation
        The state.
    solution : Solution or None
        Another solution in its place, whose pH follows from its charges or is given.
    **changes : object
        What `speciate` takes: ph, temperature, air_co2_ppm, activity, constants,
        water_kg_l, near.

    Returns
    -------
    Speciation
        The new state.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> state = speciate(solution({"K": 10.0, "NO3": 10.0}), ph=6.0)
    >>> round(speciate_again(state, temperature=10.0).ph, 9)
    6.0
    """
    kept = {
        "ph": state.ph if solution is None and state.ph_imposed else None,
        "temperature": state.temperature,
        "air_co2_ppm": state.air_co2_ppm,
        "activity": state.activity_model,
        "constants": state.constants,
        "near": state,
    }
    return speciate(solution or state.solution, **{**kept, **changes})


def index_spread(state, name):
    """
    Return how far the activity models differ on a saturation index.

    Parameters
    ----------
    state : Speciation
        The state.
    name : str
        Name of the solid.

    Returns
    -------
    low : float or array
        Lowest index of WATEQ, Davies and SIT. [-]
    high : float or array
        Highest. [-]

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> tank = solution({"Ca": 800.0, "NO3": 1600.0, "SO4": 0.5, "K": 1.0})
    >>> low, high = index_spread(speciate(tank), "gypsum")
    >>> round(high - low, 1)
    0.4
    """
    indices = [
        speciate_again(state, activity=model).saturation_index(name)
        for model in ("wateq", "davies", "sit")
    ]
    low, high = np.min(indices, axis=0), np.max(indices, axis=0)
    return (low, high) if state.shape else (float(low), float(high))


def _checked(solution, ph, temperature, air, activity):
    """Return what was given, checked, with every fault at once."""
    if not isinstance(solution, Solution):
        what = "give a Solution, or what has one: a Water or a Recipe"
        raise InputError(f"speciate: {shortened(solution)} is no Solution; {what}")
    faults, model = Faults("speciate"), None
    with faults.collecting():
        ph = solution.ph if ph is None else check_ph(checked_values(ph, "pH"))
    with faults.collecting():
        own = solution.temperature if temperature is None else temperature
        temperature = check_temperature(own)
    with faults.collecting():
        if air is not None:
            air = checked_number(air, "air_co2_ppm", least=0, most=MOST_CO2)
    with faults.collecting():
        model = check_model(activity)
    faults.raise_if_any()
    return ph, temperature, air, model


def _shape_of(solution, ph):
    """Return the shape of the stack, or nothing for one solution."""
    parts = [*solution.forms.values(), solution.unassigned_charge, ph]
    shapes = [part.shape for part in parts if hasattr(part, "shape")]
    if not shapes:
        return ()
    try:
        return np.broadcast_shapes(*shapes)
    except ValueError:
        what = ", ".join(str(shape) for shape in dict.fromkeys(shapes))
        raise InputError(f"speciate: shapes {what} do not fit together") from None


@cache
def _molar_volumes():
    return {r["form"]: r.number("molar_volume") for r in read_table("molar_volumes")}


def water_in_litre(forms, temperature):
    """
    Return the water in a litre: what dissolved matter leaves room for.

    Equation [pq386-phreeqc]::

        kg of water = ρ (1 − Σ c V)        V partial molar volume of each form at 25 °C

    Parameters
    ----------
    forms : mapping of str to float or array
        Form to its amount in one solution or a stack. [mmol/L]
    temperature : float
        Temperature. [°C]

    Returns
    -------
    float or array
        Water; less than nothing where there is no room for what is dissolved. [kg/L]

    Examples
    --------
    >>> round(water_in_litre({"potassium": 1000.0, "nitrate": 1000.0}, 25.0), 3)
    0.959
    """
    volumes = _molar_volumes()
    taken = sum(volumes[key] * value for key, value in forms.items())
    return density_wp02(temperature) * (1.0 - PPM * taken)


def _water_kg(totals, temperature):
    """Return the water in a litre, enough to be a solution, in kg/L."""
    water = water_in_litre(totals, temperature)
    if not np.all(np.asarray(water) >= LEAST_WATER):
        what = f"less than {LEAST_WATER:g} kg of water is left in a litre"
        raise InputError(f"speciate: {what}; look at the amounts and their units")
    if isinstance(water, np.ndarray):
        return water
    return float(water)


def _held(net, known, temperature, air):
    """Return the place of carbonate and what the air holds it at, if it is open.

    Equation of the carbon dioxide that air keeps in water (Henry) [pq386-wateq4f]::

        a(CO2) = K_H p        p = ppm × 10^−6 atmospheres
    """
    if air is None:
        return None
    henry = log_k(mineral("carbon dioxide gas").log_k, kelvin(temperature))
    (gas,) = (
        s
        for s in known.reactions
        if s.ligand == "carbonate" and not s.cation and not s.charge and s.ligands == 1
    )
    in_water = henry + np.log10(max(air, 1e-300) * PPM)
    activity = 10.0 ** float(in_water - log_k(gas.log_k, kelvin(temperature)))
    return net.ligands.index("carbonate"), gas.protons, activity


@dataclass(frozen=True)
class _Problem:
    """What the kernel is asked, for all solutions: totals in mmol/L, charge in meq/L."""

    net: object
    model: str
    totals: dict
    unnamed: object
    water: object
    ln_h: object
    held: object
    start: object = None

    def whole(self):
        """Return the balance of everything at once."""
        return self._part(lambda value: value)

    def in_blocks(self):
        """Return the balance of a stack, worked on block by block."""
        size = self.water.size
        if size <= BLOCK:
            found = self.whole()
            found.amounts = np.array(found.amounts)
            return found
        found = None
        for start in range(0, size, BLOCK):
            which = slice(start, start + BLOCK)
            part = self._part(lambda value, which=which: value[which])
            if found is None:
                found = part.emptied(len(self.net.species), size)
            found.putting(which, part)
        return found

    def _part(self, taking):
        """Return the balance of some of the solutions."""
        per_kg = 1e-3 / taking(self.water)
        some = {key: taking(value) * per_kg for key, value in self.totals.items()}
        net, unnamed = self.net, taking(self.unnamed) * per_kg
        names = (*net.cations, *net.ligands, *net.inert)
        groups = [
            [some[key] for key in keys]
            for keys in (net.cations, net.ligands, net.inert)
        ]
        charge, rough = None, 0.0
        if self.ln_h is None:
            place = None if self.held is None else len(net.cations) + self.held[0]
            terms = [
                s.charge * some[key]
                for n, (s, key) in enumerate(zip(net.species[2:], names, strict=False))
                if s.charge and n != place
            ]
            charge = sum(terms, unnamed)
            rough = sum(map(abs, terms), abs(unnamed))
        ln_h = None if self.ln_h is None else taking(self.ln_h)
        feed = Feed(*groups, charge, rough, ln_h, abs(unnamed), self.held)
        return equilibrate(net, feed, self.model, self.start)


def _check_settled(state):
    """Raise if some solution did not come to rest."""
    settled = np.asarray(state.settled)
    if settled.all():
        return
    count, size = int((~settled).sum()), settled.size
    what = f"{count} of {size} solutions did not come to rest"
    raise NoConvergence(
        f"speciate: {what}; see .state.settled of this error, and whether amounts are "
        "what was meant",
        state=state,
    )
