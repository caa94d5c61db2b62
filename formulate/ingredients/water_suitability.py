"""What a water brings to plants grown without soil, and what limits it.

Published limits differ; each is named with its source, and a value is held against the
strictest and the widest of them.
"""

import math
from dataclasses import dataclass

from formulate.errors import InputError
from formulate.ingredients.water import Water
from formulate.notices import Notice
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.units import convert, unit
from formulate.tables import read_table
from formulate.working import Shown, printed, printed_mg_l

__all__ = ["WaterSuitability", "water_suitability"]

BROUGHT = (
    "NO3-N",
    "NH4-N",
    "P",
    "K",
    "Ca",
    "Mg",
    "S",
    "Fe",
    "Mn",
    "Zn",
    "Cu",
    "B",
    "Mo",
)
WORTH_TELLING = 0.005  # mg/L


@dataclass(frozen=True)
class WaterSuitability(Shown):
    """
    What a water brings, and what limits it.

    Attributes
    ----------
    brings : tuple of tuple
        Nutrient key and amount, for what a recipe can count. [mg/L]
    limits : tuple of Notice
        What exceeds published limits, or lies below a wanted range.
    """

    brings: tuple
    limits: tuple

    def notices(self):
        """
        Return all of it as notices.

        Returns
        -------
        tuple of Notice
            What the water brings, then what limits it.

        Examples
        --------
        >>> from formulate.ingredients.water import water
        >>> print(water_suitability(water({"Ca": 60, "alkalinity": "3 meq/L"})).notices()[0])
        note: the water brings, in mg/L: Ca 60.00
        """
        if not self.brings:
            return self.limits
        told = ", ".join(f"{key} {printed_mg_l(value)}" for key, value in self.brings)
        return (Notice(f"the water brings, in mg/L: {told}"), *self.limits)

    def __str__(self):
        return "\n".join(map(str, self.notices()))


def water_suitability(water):
    """
    Return what a water brings to a recipe and what limits its use without soil.

    Parameters
    ----------
    water : Water
        The water.

    Returns
    -------
    WaterSuitability
        What it brings and what limits it.

    Raises
    ------
    InputError
        If it is no water.

    Examples
    --------
    >>> from formulate.ingredients.water import water
    >>> found = water_suitability(water({"Na": 80, "Cl": 100}))
    >>> [notice.what.partition(" (")[0] for notice in found.limits]
    ['sodium 80.00 mg/L: above 16.1 mg/L', 'chloride 100.0 mg/L: above 70 mg/L']
    """
    if not isinstance(water, Water):
        raise InputError("suitability: give a water")
    forms = water.solution.forms
    present = [k for k in BROUGHT if any(f in forms for f in nutrient(k).weights)]
    amounts = [(key, water.solution.mg_l(key)) for key in present]
    brings = tuple((key, value) for key, value in amounts if value >= WORTH_TELLING)
    parameters = dict.fromkeys(row["parameter"] for row in read_table("water_limits"))
    limits = (_held_against(water, parameter) for parameter in parameters)
    return WaterSuitability(brings, tuple(filter(None, limits)))


def _value(water, parameter):
    """Return a value of a water with the unit in which it is shown, or None."""
    if parameter == "SAR":
        return _sodium_adsorption_ratio(water), ""
    readings = {
        "alkalinity": (water.alkalinity, "meq/L"),
        "EC": (water.ec, "mS/cm"),
        "pH": (water.ph, ""),
    }
    if parameter in readings:
        return readings[parameter]
    key = nutrient(parameter)
    if not any(form in water.solution.forms for form in key.weights):
        return None, "mg/L"
    return water.solution.mg_l(parameter), "mg/L"


def _sodium_adsorption_ratio(water):
    """Return Na / sqrt((Ca + Mg)/2) in meq/L [uc-anr-water], or None.

    Equation of the sodium adsorption ratio [uc-anr-water]::

        SAR = Na / √((Ca + Mg)/2)        all in meq/L
    """
    forms = water.solution.forms
    hardness = forms.get("calcium", 0.0) + forms.get("magnesium", 0.0)
    if "sodium" not in forms or not hardness:
        return None
    return forms["sodium"] / math.sqrt(hardness)


def _limit(row, column, parameter, shown):
    """Return a limit of a row in the unit in which the value is shown, or None."""
    value = row.number(column)
    if value is None or not row["unit"] or not shown:
        return value
    of = None if parameter in ("alkalinity", "EC") else parameter
    return convert(value, unit(row["unit"]), shown, of=of)


def _held_against(water, parameter):
    """Return a notice if a value lies outside published limits, or None."""
    value, shown = _value(water, parameter)
    if value is None:
        return None
    rows = [row for row in read_table("water_limits") if row["parameter"] == parameter]
    tops = [(_limit(row, "high", parameter, shown), row) for row in rows]
    above = sorted(((t, row) for t, row in tops if t < value), key=lambda pair: pair[0])
    within = sorted(((t, r) for t, r in tops if t >= value), key=lambda pair: pair[0])
    if not above:
        return _below(water, parameter, value, shown, rows)
    feeds = any(row["feeds"] for _, row in above)  # what a recipe counts is no fault
    severity = "note" if within or feeds else "caution"
    severe = [_limit(row, "severe", parameter, shown) for _, row in above]
    if any(limit is not None and value > limit for limit in severe):
        severity = "serious"
    parts = ["above " + ", ".join(_told(top, row, shown) for top, row in above)]
    if within:
        parts.append(
            "within " + ", ".join(_told(top, row, shown) for top, row in within)
        )
    what = f"{_name(parameter)} {printed(value)} {shown}".strip()
    keys = "; ".join(dict.fromkeys(row["source_key"] for _, row in above))
    return Notice(f"{what}: {'; '.join(parts)}", severity, value, above[0][0], keys)


def _below(water, parameter, value, shown, rows):
    """Return a notice if a value lies below every wanted range, or None."""
    lows = [_limit(row, "low", parameter, shown) for row in rows]
    lows = [(low, row) for low, row in zip(lows, rows, strict=True) if low is not None]
    if not lows or value >= min(low for low, _ in lows):
        return None
    low, row = min(lows, key=lambda pair: pair[0])
    what = f"{_name(parameter)} {printed(value)} {shown}".strip()
    told = _told(low, row, shown)
    return Notice(f"{what}: below {told}", "note", value, low, row["source_key"])


def _told(limit, row, shown):
    """Return a limit with its use and source."""
    memory = ", from memory" if row["how_known"] == "memory" else ""
    source = f"[{row['source_key']}{memory}]"
    return f"{limit:.3g} {shown} ({row['use']} {source})".replace("  ", " ")


def _name(parameter):
    if parameter in ("SAR", "EC", "pH", "alkalinity"):
        return parameter
    return nutrient(parameter).name
