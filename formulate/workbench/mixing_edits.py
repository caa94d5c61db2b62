"""What a person changes on how a batch is mixed: one function each, to the next job."""

import re
from contextlib import suppress
from dataclasses import replace

from formulate.checks import checked_number
from formulate.errors import InputError, shortened
from formulate.ingredients.water import water
from formulate.job_mixing import check_mixing
from formulate.jobs import MIXING_KEYS, Job
from formulate.stoichiometry.quantities import read_number, read_quantity
from formulate.workbench.edits import number_or_none

__all__ = ["mended_order", "moved_order", "with_mixing_entry", "with_order"]

PERCENT = 100.0
UNITS = {"water_first_percent": "% ", "coldest": "°C ", "measured_at": "°C "}
NUMBERS = ("tanks", "measured_ph", *UNITS)
TANKS = (1, 2, 3)
BARE_SCALE = re.compile(r"\((\d+)\)")  # ppm (500) is the 500 scale


def with_mixing_entry(job, key, text):
    """
    Return a job with one entry of its mixing changed.

    Parameters
    ----------
    job : Job
        The job.
    key : str
        "water_first_percent", "strength", "tanks", "coldest", "tank_volume",
        "stock_water", "measured_ec", "measured_ph" or "measured_at".
    text : str
        What was typed; empty takes it out, so that the usual counts.

    Returns
    -------
    Job
        The next job.

    Raises
    ------
    InputError
        If it is nothing that a batch can be mixed with.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> with_mixing_entry(Job(), "coldest", "8 °C").mixing
    (('coldest', 8.0),)
    """
    if key not in MIXING_KEYS or key == "order":
        raise InputError(f"{shortened(key)} is nothing that a mixing has")
    return _with(job, key, _entry(key, str(text).strip()))


def _entry(key, text):
    """Return one entry as it was typed, if it can be one; "" if there is none."""
    if not text:
        return ""
    if key == "measured_ec":
        return _conductivity(text)
    if key == "stock_water":
        water(text)
        return text
    value = number_or_none(text.rstrip(UNITS.get(key, ""))) if key in NUMBERS else text
    if key == "water_first_percent" and not 0 < value < PERCENT:
        raise InputError(f"{shortened(text)}: write a number between 0 and 100 %")
    if key == "tanks" and value not in TANKS:
        raise InputError(f"{shortened(text)}: write 1, 2 or 3")
    faults = check_mixing(Job(mixing=((key, value),)))
    if faults:
        raise InputError(*(told.removeprefix(f"{key}: ") for told in faults))
    return int(value) if key == "tanks" else value


def _conductivity(text):
    """Return an EC as a meter showed it, its unit added if there is none."""
    with suppress(InputError):
        read_number(text)
        text = f"{text} mS/cm"
    plain = BARE_SCALE.sub(r"(\1 scale)", text)
    value, _ = read_quantity(plain, "conductivity", default="mS/cm")
    checked_number(value, "EC", least=0)
    return text


def _with(job, key, value):
    """Return a job with one entry set, all in the order in which a job file is read."""
    entries = dict(job.mixing) | {key: value}
    kept = tuple(
        (k, entries[k]) for k in MIXING_KEYS if entries.get(k, "") not in ("", ())
    )
    return replace(job, mixing=kept)


# --- order -----------------------------------------------------------------------------


def with_order(job, names=()):
    """
    Return a job that is mixed in an order of its own, or again in the best one.

    Parameters
    ----------
    job : Job
        The job.
    names : iterable of str
        All that is weighed in that order; nothing for the best order.

    Returns
    -------
    Job
        The next job.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> with_order(Job(), ["KNO3", "CaCl2"]).mixing
    (('order', ('KNO3', 'CaCl2')),)
    """
    return _with(job, "order", tuple(names))


def moved_order(order, name, by):
    """
    Return an order in which one ingredient goes in earlier or later.

    Parameters
    ----------
    order : iterable of str
        Names.
    name : str
        Which one.
    by : int
        How many places later; earlier is negative. It stops at the ends. [-]

    Returns
    -------
    tuple of str
        The order.

    Raises
    ------
    InputError
        If it is not among them.

    Examples
    --------
    >>> moved_order(("a", "b", "c"), "a", 1)
    ('b', 'a', 'c')
    """
    names = list(order)
    if name not in names:
        raise InputError(f"{shortened(name)} is not weighed in this batch")
    place = names.index(name)
    names.insert(min(max(place + by, 0), len(names) - 1), names.pop(place))
    return tuple(names)


def mended_order(order, best):
    """
    Return an order of what is weighed now, as near to an older one as can be.

    Parameters
    ----------
    order : iterable of str
        Names in the older order; some may not be weighed any more.
    best : sequence of str
        Names of all that is weighed now, in the best order.

    Returns
    -------
    tuple of str
        The older order; what is new stands after what it follows in the best order.

    Examples
    --------
    >>> mended_order(("c", "gone", "a"), ("a", "b", "c"))
    ('c', 'a', 'b')
    """
    known = {name.casefold(): name for name in best}
    old = (known.get(str(text).strip().casefold()) for text in order)
    kept = list(dict.fromkeys(name for name in old if name))
    for place, name in enumerate(best):
        if name not in kept:
            kept.insert(kept.index(best[place - 1]) + 1 if place else 0, name)
    return tuple(kept)
