"""Conductivity: what a meter measures of a solution, and how sure that is."""

from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType

import numpy as np

from formulate.checks import checked_number
from formulate.chemistry.ionic_conductivity import REFERENCE, carried
from formulate.chemistry.speciation import speciate, speciate_again
from formulate.chemistry.state import Speciation
from formulate.chemistry.water_properties import check_temperature
from formulate.errors import Faults, InputError, shortened
from formulate.notices import Notice, gravest_first
from formulate.stoichiometry.solution import Solution
from formulate.tables import read_table
from formulate.working import Shown, printed

__all__ = [
    "REFERENCE",
    "Conductivity",
    "conductivity",
    "ec",
    "meter_reading",
]

COLDEST, WARMEST = 5.0, 40.0
FILTER = ("SO4-2", "HCO3-", "CO3-2")
SHOWN_SHARE = 0.005


@dataclass(frozen=True, eq=False)
class Conductivity(Shown):
    """
    The conductivity of a solution at its own temperature.

    Attributes
    ----------
    state : Speciation
        The ions it comes from.
    by_ion : mapping of str to float or array
        Ion to what it carries, the largest first. [mS/cm]
    """

    state: Speciation
    by_ion: MappingProxyType = field(repr=False)

    @cached_property
    def ec(self):
        """Return the conductivity at the temperature of the state. [mS/cm]"""
        return sum(self.by_ion.values(), 0.0 * self.state.ionic_strength)

    @cached_property
    def error_percent(self):
        """Return how far off it may be, from what the model was compared with. [%]"""
        return float(np.max(self.worst[0]))

    @cached_property
    def worst(self):
        """Return the greatest error of its kinds, the kind in words, and the source. [%]"""
        return _error(self)

    @property
    def notices(self):
        """Return what the number rests on, and ranges left."""
        percent, why, key = self.worst
        what = (
            f"EC from the ions: limits of McCleskey and colleagues, attenuation of Appelo; "
            f"expect it within {percent:g} % ({why})"
        )
        found = [Notice(what, "note", percent, None, key)]
        t = self.state.temperature
        if not COLDEST <= t <= WARMEST:
            what = f"{t:g} °C is outside {COLDEST:g} to {WARMEST:g} °C, where the conductivities were measured"
            found.append(Notice(what, "caution", t, None, "usgs-mcclesk"))
        return gravest_first(found)

    def share(self, ion):
        """
        Return which share of the conductivity an ion carries.

        Parameters
        ----------
        ion : str
            Name of the ion.

        Returns
        -------
        float or array
            Share. [%]

        Examples
        --------
        >>> from formulate.stoichiometry.solution import solution
        >>> found = conductivity(solution({"K": 10.0, "NO3": 10.0}))
        >>> round(found.share("K+"))
        51
        """
        return 100.0 * self.by_ion.get(ion, 0.0 * self.ec) / self.ec

    def __str__(self):
        if np.ndim(self.ec):
            return f"EC of a stack of {np.size(self.ec)} solutions"
        head = f"EC {self.ec:.3g} mS/cm at {self.state.temperature:g} °C, ± {self.error_percent:g} %"
        rows = [
            f"{ion:>10} {printed(v, 3):>8} mS/cm {100 * v / self.ec:5.1f} %"
            for ion, v in self.by_ion.items()
            if v >= SHOWN_SHARE * self.ec
        ]
        return "\n".join([head, *rows, *map(str, self.notices)])


def conductivity(thing, *, temperature=None):
    """
    Return the conductivity of a solution, and which ion carries how much.

    Parameters
    ----------
    thing : Solution or Speciation
        The solution, or its ions already worked out.
    temperature : float or None
        Temperature, from 0 to 50; its own if None. [°C]

    Returns
    -------
    Conductivity
        At that temperature, not converted to another.

    Raises
    ------
    InputError
        If it is neither, or the temperature is out of range.
    MissingData
        If an ion has no line in the table conduction.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> cold = conductivity(solution({"K": 10.0, "Cl": 10.0}), temperature=15)
    >>> round(cold.ec, 2)
    1.15
    """
    state = _state(thing, temperature)
    return Conductivity(state, carried(state))


def _state(thing, temperature):
    """Return the ions of something at a temperature."""
    if not isinstance(thing, Speciation):
        held = getattr(thing, "solution", thing)
        if not isinstance(held, Solution):
            raise InputError(f"{shortened(thing)} is no Solution and no Speciation")
        return speciate(held, temperature=temperature)
    if temperature is None or check_temperature(temperature) == thing.temperature:
        return thing
    return speciate_again(thing, temperature=temperature)


def ec(thing):
    """
    Return the conductivity at 25 °C.

    Parameters
    ----------
    thing : Solution or Speciation
        The solution, or its ions already worked out.

    Returns
    -------
    float or array
        Conductivity; expect 4 % where nitrate and chloride prevail. [mS/cm]

    Raises
    ------
    InputError
        If it is neither.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> round(ec(solution({"K": 10.0, "Cl": 10.0})), 2)
    1.42
    """
    return conductivity(thing, temperature=REFERENCE).ec


def meter_reading(
    thing,
    *,
    temperature=None,
    compensation_percent=2.0,
    reference=REFERENCE,
    scale=None,
):
    """
    Return what a meter shows: it measures at one temperature and converts by a rule.

    Equation [definition]::

        shown = EC at t / (1 + compensation (t − reference)) × scale

    Parameters
    ----------
    thing : Solution or Speciation
        The solution.
    temperature : float or None
        Temperature of the solution; its own if None. [°C]
    compensation_percent : float
        How much a meter takes off for each degree; most are set to 2, some to 1.91 or 0. [%]
    reference : float
        Temperature it converts to: 25, or 20 on some. [°C]
    scale : int or None
        500, 640 or 700: it shows "ppm"; None: it shows mS/cm. [-]

    Returns
    -------
    float or array
        What it shows: mS/cm, or ppm of its scale. [-]

    Raises
    ------
    InputError
        With every fault of what was given.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> feed = solution({"K": 10.0, "Cl": 10.0})
    >>> round(meter_reading(feed, temperature=15), 2)
    1.44
    >>> round(meter_reading(feed, scale=500))
    709
    """
    faults, factor = Faults("meter_reading"), 1.0
    with faults.collecting():
        compensation_percent = checked_number(
            compensation_percent, "compensation in %", least=0, most=5
        )
    with faults.collecting():
        reference = checked_number(reference, "reference in °C", least=15, most=30)
    with faults.collecting():
        factor = _scale_factor(scale)
    faults.raise_if_any()
    found = conductivity(thing, temperature=temperature)
    warmer = found.state.temperature - reference
    return factor * found.ec / (1.0 + compensation_percent / 100.0 * warmer)


def _scale_factor(scale):
    """Return what a scale shows for a mS/cm; 1 where none is asked for."""
    factors = {r["scale"]: r.number("factor") for r in read_table("meter_scales")}
    if scale is not None and str(scale) not in factors:
        raise InputError(f"scale {shortened(scale)}: write one of {', '.join(factors)}")
    return 1.0 if scale is None else factors[str(scale)]


def _error(found):
    """Return how far off a conductivity may be in percent, why, and the source."""
    state = found.state
    amounts = {
        s.name: (s.charge, m)
        for s, m in zip(state.net.species, state.molalities, strict=True)
    }
    anions = sum(-z * m for z, m in amounts.values() if z < 0)
    anions = np.maximum(anions, 1e-300)

    def share(*names):
        parts = [-amounts[n][0] * amounts[n][1] for n in names if n in amounts]
        return 100.0 * float(np.max(sum(parts, 0.0 * anions) / anions))

    values = {
        "sum of anions with sulfate and bicarbonate": share(*FILTER),
        "phosphate among the anions": share("H2PO4-", "HPO4-2", "PO4-3"),
        "ionic strength": 1000 * float(np.max(state.strength)),
    }
    worst = (0.0, "", "")
    for row in read_table("ec_errors"):
        subject, _, side = row["case"].rpartition(" ")
        value, limit = values[subject], row.number("limit")
        if (value > limit) == (side == "above") and row.number("error") > worst[0]:
            text = f"{row['case']} {limit:g} {row['dimension']}".replace(
                " percent", " %"
            )
            worst = (row.number("error"), text, row["source_key"])
    return worst
