"""The arithmetic of a wanted value: as published or typed, in mg/L, at its strength."""

import math
from dataclasses import replace

from formulate.errors import FormulateError
from formulate.recipes.limits import read_bounds
from formulate.recipes.target import published_values
from formulate.stoichiometry.conversion_steps import steps_to_meq_l, steps_to_mg_l
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.quantities import read_number, read_quantity
from formulate.stoichiometry.units import CONCENTRATIONS
from formulate.working import Quantity, Step, Working

__all__ = ["wanted_working"]

SAME = 1e-6  # share by which what was typed and what counts may differ
MASSES = "stoichiometry"
ALKALINITY = "alkalinity"


def wanted_working(target, entries, strength, key):
    """
    Return the arithmetic of what is wanted of one nutrient.

    Parameters
    ----------
    target : Target
        What is wanted, at its strength.
    entries : mapping
        What stands under [target] of the job.
    strength : float or None
        Share of it that is wanted; all of it if None. [%]
    key : str
        Nutrient key, or "alkalinity".

    Returns
    -------
    Working or None
        Value as published or typed, its units, times the strength; both ends of a range.
        None if nothing is wanted of it. [mg/L]

    Examples
    --------
    >>> from formulate.job_nouns import target_of
    >>> entries = {"wanted": {"Ca": "4 mmol/L"}}
    >>> for line in wanted_working(target_of(entries, 50), entries, 50, "Ca").lines:
    ...     print(line)
    Ca as typed: 4 mmol/L = 4.00000 mmol/L
    Ca in mg/L: 4 mmol/L × 40.078 mg/mmol = 160.312 mg/L  [stoichiometry]
    at a strength of 50 %: 160.312 mg/L × 50 % ÷ 100 % = 80.1560 mg/L
    """
    ends = _ends(target, key)
    if not ends:
        return None
    lines = _told_lines(target, entries, strength, key, ends)
    if lines is None:
        lines = [_plain_lines(key, end, strength) for end in ends]
    return Working(f"{key} wanted", tuple(step for each in lines for step in each))


def _ends(target, key):
    """Return what is wanted, both ends of a range; in mg/L, of an alkalinity in meq/L."""
    if key == ALKALINITY:
        return tuple(dict.fromkeys(target.alkalinity or ()))
    if key not in target.wanted:
        return ()
    mass, value = nutrient(key).molar_mass, target.wanted[key]
    return tuple(end * mass for end in target.ranges.get(key, (value,)))


def _told_lines(target, entries, strength, key, ends):
    """Return the lines from what was told; None if they do not lead to what is wanted."""
    try:
        told = _told(entries).get(key)
        numbers = () if told is None else _numbers(*told, key)
        key_of = target.source_key if "published" in entries else ""
        how = "as published" if "published" in entries else "as typed"
        lines = [_lines(n, u, key, how, key_of, strength) for n, u in numbers]
    except FormulateError:
        return None
    if len(lines) != len(ends):
        return None
    pairs = zip(lines, ends, strict=True)
    same = (math.isclose(line[-1].value, e, rel_tol=SAME) for line, e in pairs)
    return lines if all(same) else None


def _told(entries):
    """Return nutrient key to its value as told and the unit of bare numbers."""
    entries, found = dict(entries), {}
    unit = entries.get("unit") or "mg/L"
    pairs = dict(entries.get("wanted", ())).items()
    if "published" in entries:
        pairs, unit = published_values(entries["published"])["wanted"], "mg/L"
    for key, value in pairs:
        found[key if key == ALKALINITY else nutrient(key).key] = (value, unit)
    return found


def _numbers(value, bare, key):
    """Return number and unit of a told value, or of both ends of a range."""
    if not isinstance(value, str):
        ends = value if isinstance(value, tuple | list) else (value,)
        return [(read_number(end), bare) for end in ends]
    try:
        return [read_quantity(value, *CONCENTRATIONS, default=bare)]
    except FormulateError:
        low, high, unit = read_bounds(value)
        return [(end, unit or bare) for end in dict.fromkeys((low, high))]


def _lines(number, unit, key, how, source_key, strength):
    """Return the lines of one number."""
    if key == ALKALINITY:
        lines = steps_to_meq_l(number, unit, f"{key} {how}")
    else:
        lines = steps_to_mg_l(number, unit, key, f"{key} {how}")
    keys = "; ".join(filter(None, (source_key, lines[0].source_key)))
    lines[0] = replace(lines[0], source_key=keys)
    return _strong(lines, strength)


def _strong(lines, strength):
    """Return lines with the strength at which they are wanted."""
    if strength is None:
        return lines
    last = lines[-1]
    terms = (Quantity(last.value, last.unit), "×", Quantity(strength, "%"))
    terms = (*terms, "÷", Quantity(100.0, "%"))
    return [*lines, Step(f"at a strength of {strength:g} %", terms, last.unit)]


def _plain_lines(key, end, strength):
    """Return the lines of what is told otherwise: by charge, or by ratios."""
    share = 1.0 if strength is None else strength / 100.0
    if key == ALKALINITY:
        whole = Step(f"{key} as told", (Quantity(end / share, "meq/L"),), "meq/L")
        return _strong([whole], strength)
    mass = nutrient(key).molar_mass
    amount = Quantity(end / mass / share, "mmol/L")
    terms = (amount, "×", Quantity(mass, "mg/mmol"))
    return _strong([Step(f"{key} as told", terms, "mg/L", MASSES)], strength)
