"""A water report against the chemistry: its carbon, its EC, its pH.

`examined` is where waters go on into recipes: what was read without activity coefficients
is refined, and what the ions say is held against what was measured.
"""

import math
from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

from formulate.chemistry.acidity import ph_range, ph_rule
from formulate.chemistry.conductivity import ec
from formulate.chemistry.speciation import speciate
from formulate.errors import InputError, shortened
from formulate.ingredients import water_report
from formulate.ingredients.water import Water
from formulate.ingredients.water import water as plain_water
from formulate.notices import Notice
from formulate.stoichiometry.solution import Solution
from formulate.working import printed

__all__ = [
    "check_chemistry",
    "examined",
    "read_water",
    "settled",
    "water",
    "water_from_text",
]

ROUNDS, CLOSE = 20, 1e-10
HYDROLYSING = ("calcium", "magnesium")  # CaOH+ and MgOH+ take up acid
LEAST_EC = 0.05  # mS/cm: below it the carbon dioxide of the air decides


def settled(tap):
    """
    Return a water whose inorganic carbon and unnamed ions fit its pH by activities.

    The carbon is what gives the alkalinity at the measured pH; the unnamed ions then carry
    whatever charge is left, so that the pH of the water is again the one measured.

    Parameters
    ----------
    tap : Water
        The water.

    Returns
    -------
    Water
        The same, refined; unchanged where no pH was measured.

    Raises
    ------
    InputError
        If it is no Water.

    Examples
    --------
    >>> tap = plain_water({"Ca": 94.4, "alkalinity": "4.7 meq/L", "pH": 7.41})
    >>> better = settled(tap)
    >>> round(speciate(replace(better.solution, ph=None)).ph, 2)
    7.41
    """
    if not isinstance(tap, Water):
        raise InputError(f"{shortened(tap)} is no Water; make one with water")
    made = tap.solution
    if tap.ph is None or made.ph is None or not made.forms:
        return tap
    forms, bare = dict(made.forms), Solution(made.forms, 0.0, made.temperature)
    if forms.get("carbonate") and tap.alkalinity:
        for _ in range(ROUNDS):
            bare = Solution(forms, 0.0, made.temperature)
            state = speciate(bare, ph=tap.ph)
            apart = tap.alkalinity - _alkalinity(state)
            forms["carbonate"] = max(forms["carbonate"] + apart, 0.0)
            if abs(apart) < CLOSE:
                break
    left = _charge_open(bare, tap.ph)
    refined = Solution(forms, left, made.temperature, tap.ph)
    return replace(tap, solution=refined)


def _charge_open(bare, ph):
    """Return the charge that unnamed ions carry; they count in the ionic strength too."""
    left = 0.0
    for _ in range(ROUNDS):
        state = speciate(replace(bare, unassigned_charge=left), ph=ph)
        open_still = state.charge_left()
        left -= open_still
        if abs(open_still) < CLOSE:
            break
    return left


def _alkalinity(state):
    """Return what carbonate and hydroxide take up of acid, in meq/L.

    Equation of the alkalinity of a water [sm-1030e]::

        alkalinity = [OH−] − [H+] + Σ (2 − n) [carbonate with n protons] + hydroxo pairs
    """
    found = state.amount("OH-") - state.amount("H+")
    for species in state.net.species:
        if species.ligand == "carbonate" or species.name == "CO3-2":
            found += (2 - species.protons) * state.amount(species.name)
        elif species.protons < 0 and species.cation in HYDROLYSING:
            found -= species.protons * state.amount(species.name)
    return found


def check_chemistry(tap, *, refined=None):
    """
    Return what the ions of a water say against its measured EC and pH.

    Parameters
    ----------
    tap : Water
        The water.
    refined : Water or None
        The same as `settled` gives it, if it is there already.

    Returns
    -------
    tuple of Notice
        EC and pH as computed, and whether they agree; carbon dioxide and calcite, where
        they cannot be so.

    Examples
    --------
    >>> tap = plain_water({"Ca": 94.4, "alkalinity": "4.7 meq/L", "pH": 7.41, "EC": 0.45})
    >>> print(check_chemistry(tap)[0].what)
    EC from the ions 0.429 mS/cm at 25 °C, measured 0.450 (-4.7 %): they agree
    """
    tap = settled(tap) if refined is None else refined
    if not tap.solution.forms:
        return ()
    state = speciate(tap.solution)
    found = [*_against_ec(tap, state)]
    if tap.ph is not None and tap.alkalinity is not None:
        if abs(tap.balance_percent) <= ph_rule("balance for a pH"):
            found += _against_ph(tap)
        found += _carbon_dioxide(tap, state)
    return tuple(found)


def _against_ec(tap, state):
    """Yield the measured EC against that of the ions."""
    if tap.ec is None or tap.ec < LEAST_EC:
        return
    value = ec(state)
    apart, room = 100 * (value / tap.ec - 1), ph_rule("EC agrees within")
    words = (
        f"EC from the ions {printed(value, 3)} mS/cm at 25 °C, measured "
        f"{printed(tap.ec, 3)} ({apart:+.1f} %)"
    )
    if abs(apart) <= room:
        yield Notice(f"{words}: they agree", "note", value, tap.ec, "usgs-mcclesk")
        return
    why = (
        "an ion is missing or too small" if apart < 0 else "an ion is too large"
    ) + ", or the EC was read at another temperature"
    yield Notice(f"{words}: {why}", "caution", value, tap.ec, "usgs-mcclesk")


def _against_ph(tap):
    """Yield the measured pH against the one at which the named ions balance."""
    named = Solution(tap.solution.forms, 0.0, tap.solution.temperature)
    error = ph_rule("balance error") / 100 * max(tap.cations, tap.anions)
    found = ph_range(named, alkalinity_error=error, weight_error_percent=0.0)
    room = ph_rule("pH agrees within")
    words = (
        f"the named ions balance at pH {found.ph:.2f} ({found.low:.1f} to "
        f"{found.high:.1f} for {ph_rule('balance error'):g} % of error), measured "
        f"{tap.ph:g}"
    )
    if found.low - room <= tap.ph <= found.high + room:
        yield Notice(f"{words}: they agree", "note", found.ph, tap.ph, "definition")
        return
    why = "the alkalinity, the pH or an ion is off"
    yield Notice(f"{words}: {why}", "caution", found.ph, tap.ph, "definition")


def _carbon_dioxide(tap, state):
    """Yield a pressure of carbon dioxide or an index of calcite that cannot be so."""
    pressure = state.saturation_index("carbon dioxide gas")
    low, high = ph_rule("carbon dioxide low"), ph_rule("carbon dioxide high")
    if math.isfinite(pressure) and not low <= pressure <= high:
        side = "too high for its pH" if pressure > high else "far below that of the air"
        what = (
            f"alkalinity {printed(tap.alkalinity, 3)} meq/L at pH {tap.ph:g} means carbon "
            f"dioxide of {printed(1e6 * 10**pressure, 2)} ppm: {side}; measure the pH anew"
        )
        yield Notice(what, "caution", pressure, high, "definition")
    calcite, most = state.saturation_index("calcite"), ph_rule("calcite")
    if calcite > most:
        what = (
            f"saturation index of calcite {calcite:.1f}: no water stays so far above "
            "saturation; the pH or the calcium is off"
        )
        yield Notice(what, "caution", calcite, most, "definition")


def examined(tap):
    """
    Return a water refined and checked by the chemistry.

    Parameters
    ----------
    tap : Water
        The water.

    Returns
    -------
    Water
        The water of `settled`, with the notices of `check_chemistry` after its own.

    Examples
    --------
    >>> tap = examined(plain_water({"Ca": 40, "HCO3": 122, "pH": 7.5, "EC": 0.2}))
    >>> any("EC from the ions" in notice.what for notice in tap.notices)
    True
    """
    forms = tuple(tap.solution.forms.items())
    key = (forms, tap.solution.unassigned_charge, tap.solution.temperature)
    better, told = _examined(_Bare(*key, tap.ph, tap.ec, tap.alkalinity))
    return replace(tap, solution=better, notices=(*tap.notices, *told))


class _Bare(NamedTuple):
    """The numbers of a water that its chemistry depends on."""

    forms: tuple
    unassigned_charge: float
    temperature: float
    ph: float | None
    ec: float | None
    alkalinity: float | None


@lru_cache(maxsize=64)
def _examined(bare):
    """Return the refined solution of a water and what its chemistry tells."""
    charge, warmth = bare.unassigned_charge, bare.temperature
    made = Solution(dict(bare.forms), charge, warmth, bare.ph)
    tap = Water("", made, bare.ph, bare.ec, bare.alkalinity)
    better = settled(tap)
    return better.solution, check_chemistry(tap, refined=better)


def water(contents, *, name="", ph=None, ec=None, unit="mg/L", source_key=""):
    """
    Return a water from an analysis, or one of the package by name, checked.

    As `ingredients.water.water`, refined and checked by the chemistry.

    Parameters
    ----------
    contents : mapping of str to float or str, or str
        What the analysis says, or a name such as "rain". [mg/L]
    name : str
        How it is called.
    ph : float or None
        Measured pH. [-]
    ec : float or None
        Measured conductivity at 25 °C. [mS/cm]
    unit : str
        Unit of bare numbers.
    source_key : str
        Where the analysis comes from.

    Returns
    -------
    Water
        The water.

    Raises
    ------
    InputError
        With every fault of the analysis.
    UnknownName
        If there is no water of that name.

    Examples
    --------
    >>> tap = water({"Ca": 94.4, "Mg": 18.3, "alkalinity": "5.72 meq/L", "pH": 7.41})
    >>> round(tap.solution.mg_l("Ca"), 1), tap.ph
    (94.4, 7.41)
    """
    given = {"name": name, "ph": ph, "ec": ec, "unit": unit, "source_key": source_key}
    return examined(plain_water(contents, **given))


def read_water(path_or_mapping, *, name="", unit=None):
    """
    Return a water from a report, checked.

    As `ingredients.water_report.read_water`, refined and checked by the chemistry.

    Parameters
    ----------
    path_or_mapping : str, pathlib.Path or mapping
        A file, or names and values.
    name : str
        How the water is called.
    unit : str or None
        Unit of values that stand without one.

    Returns
    -------
    Water
        The water.

    Raises
    ------
    InputError
        With every fault and its line.

    Examples
    --------
    >>> tap = read_water({"Calcium": "94,4 mg/l", "Säurekapazität bis pH 4,3": "4.7 mmol/l"})
    >>> round(tap.solution.mmol_l("Ca"), 3), tap.alkalinity
    (2.355, 4.7)
    """
    return examined(water_report.read_water(path_or_mapping, name=name, unit=unit))


def water_from_text(text, *, name="", unit=None):
    """
    Return a water from the text of a report, checked.

    As `ingredients.water_report.water_from_text`, refined and checked by the chemistry.

    Parameters
    ----------
    text : str
        The lines of a report.
    name : str
        How the water is called.
    unit : str or None
        Unit of values that stand without one.

    Returns
    -------
    Water
        The water.

    Raises
    ------
    InputError
        With every fault and its line.

    Examples
    --------
    >>> tap = water_from_text("Calcium (Ca) ........ 94,4 mg/l\\nNitrat-N ..... 3,7 mg/l")
    >>> round(tap.solution.mg_l("NO3"), 1)
    16.4
    """
    return examined(water_report.water_from_text(text, name=name, unit=unit))
