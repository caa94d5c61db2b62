"""Weights and volumes as a sheet prints them: g and kg, mL and L; oz and lb, fl oz and gal.

The digits follow the step of the balance or measure, so that rounding what is printed to
that step gives back what is weighed.
"""

import math

from formulate.stoichiometry.units import unit
from formulate.working import printed

__all__ = ["UNIT_SYSTEMS", "batch_text", "per_volume", "printed_steps", "shown"]

UNIT_SYSTEMS = {  # small and large unit of what is weighed and what is poured
    "metric": {"g": ("g", "kg"), "mL": ("mL", "L")},
    "us": {"g": ("oz", "lb"), "mL": ("US fl oz", "US gal")},
}
PER_VOLUME = {  # unit of a weight or volume in so many litres of the batch
    "metric": {"g": ("g", "L", 1), "mL": ("mL", "L", 1)},
    "us": {"g": ("oz", "US gal", 100), "mL": ("US fl oz", "US gal", 100)},
}
MORE_DECIMALS = 2  # to show a step such as 0.25 g as it is
SAME = 1e-9


def _size(name):
    """Return a unit in grams or millilitres."""
    known = unit(name)
    return known.factor * 1000 if known.kind == "volume" else known.factor


def _decimals(step):
    """Return the fewest decimals with which no step is lost."""
    least = max(0, -math.floor(math.log10(step * (1 + SAME))))
    for decimals in range(least, least + MORE_DECIMALS + 1):
        if abs(round(step, decimals) - step) < SAME * step:
            return decimals
    return least


def printed_steps(value, step):
    """
    Return a number with the decimals that its step asks for.

    Parameters
    ----------
    value : float
        The number. [-]
    step : float or None
        Its step, in the same unit; four digits are shown if it is not known. [-]

    Returns
    -------
    str
        The number.

    Examples
    --------
    >>> printed_steps(14.8, 0.1), printed_steps(0.5220547, 0.003527), printed_steps(3, None)
    ('14.8', '0.522', '3.000')
    """
    return f"{value:.{_decimals(step)}f}" if step else printed(value)


def shown(value, step, in_unit, units="metric"):
    """
    Return a weight or volume as a sheet prints it.

    Parameters
    ----------
    value : float
        Grams, or millilitres. [g]
    step : float or None
        Step of the balance or measure. [g]
    in_unit : str
        "g" or "mL".
    units : str
        "metric" or "us".

    Returns
    -------
    number : str
        The number.
    unit_name : str
        Its unit: the large one from one of it on.

    Examples
    --------
    >>> shown(6894, 1, "g"), shown(14.8, 0.1, "g", "us"), shown(1000, 10, "mL", "us")
    (('6.894', 'kg'), ('0.522', 'oz'), ('33.8', 'US fl oz'))
    """
    small, large = UNIT_SYSTEMS[units][in_unit]
    name = large if value >= _size(large) * (1 - SAME) else small
    size = _size(name)
    return printed_steps(value / size, step and step / size), name


def batch_text(litres, units="metric"):
    """
    Return the volume of a batch as a sheet prints it.

    Parameters
    ----------
    litres : float
        The volume. [L]
    units : str
        "metric" or "us".

    Returns
    -------
    str
        The volume with its unit; litres stand behind gallons.

    Examples
    --------
    >>> batch_text(200), batch_text(37.85411784, "us")
    ('200 L', '10 US gal (37.8541 L)')
    """
    metric = f"{litres:,.6g} L".replace(",", " ") if litres < 1e6 else f"{litres:g} L"
    if units == "metric":
        return metric
    return f"{litres / unit('US gal').factor:.6g} US gal ({metric})"


def per_volume(value, in_unit, litres, units="metric"):
    """
    Return how much of an ingredient goes into a round volume.

    Parameters
    ----------
    value : float
        Grams, or millilitres, in the batch. [g]
    in_unit : str
        "g" or "mL".
    litres : float
        Volume of the batch. [L]
    units : str
        "metric" or "us".

    Returns
    -------
    number : str
        The number, four digits.
    unit_name : str
        Its unit: g/L, mL/L, oz/100 US gal or US fl oz/100 US gal.

    Examples
    --------
    >>> per_volume(200, "g", 200), per_volume(200, "g", 200, "us")
    (('1.000', 'g/L'), ('13.35', 'oz/100 US gal'))
    """
    name, per, times = PER_VOLUME[units][in_unit]
    amount = value / _size(name) / (litres / unit(per).factor) * times
    return printed(amount), f"{name}/{times} {per}" if times > 1 else f"{name}/{per}"
