"""The arithmetic behind a value of a water: from what its analysis says, line by line."""

import math

from formulate.errors import FormulateError
from formulate.ingredients.water import (
    ALKALINITY_WORDS,
    CARBON_CHARGES,
    EC_WORDS,
    PH_WORDS,
)
from formulate.stoichiometry.conversion_steps import steps_to_meq_l, steps_to_mmol_l
from formulate.stoichiometry.notation import printed_ion
from formulate.stoichiometry.nutrients import form, nutrient
from formulate.stoichiometry.quantities import read_quantity
from formulate.stoichiometry.units import CONCENTRATIONS
from formulate.working import Quantity, Step, Working

__all__ = ["balance_working", "reading_working", "water_working"]

MASSES = "stoichiometry"
SAME = 1e-6  # share by which what was given and what counts may differ
KINDS = ("mg/L", "mmol/L", "meq/L")
DECIMALS = 6  # of charges that are added up


def water_working(water, entries, key, unit="mg/L"):
    """
    Return the arithmetic from what an analysis says to an amount in a litre.

    Parameters
    ----------
    water : Water
        The water.
    entries : mapping of str to str
        What the analysis says, as it was given; empty for a report, which is kept with
        the water.
    key : str
        Nutrient key.
    unit : str
        "mg/L", "mmol/L" or "meq/L".

    Returns
    -------
    Working
        What was given, in mmol/L, in the unit asked for.

    Examples
    --------
    >>> from formulate.ingredients.water import water
    >>> given = {"NO3": "16.4 mg/L"}
    >>> print(water_working(water(given), given, "NO3-N"))
    NO3-N in the solution
      1. NO3 as given: 16.4 mg/L = 16.4000 mg/L
      2. NO3 in mmol/L: 16.4 mg/L ÷ 62.004 mg/mmol = 0.264499 mmol/L  [stoichiometry]
      3. NO3-N in mg/L: 0.264499 mmol/L × 14.007 mg/mmol = 3.70484 mg/L  [stoichiometry]
    """
    known = nutrient(key)
    steps = _given_steps(water, entries, known)
    if unit == "mg/L" and not water.parts and _is_told_so(steps, known):
        return Working(f"{known.key} in the solution", tuple(steps[:1]))
    if steps is None:
        steps = [water.solution.working(key).steps[0]]
    amount = Quantity(steps[-1].value, "mmol/L")
    if unit == "mg/L":
        mass = (amount, "×", Quantity(known.molar_mass, "mg/mmol"))
        steps.append(Step(f"{known.key} in mg/L", mass, unit, MASSES))
    if unit == "meq/L":
        charge = Quantity(abs(known.charge_per_amount()), "meq/mmol")
        words = f"{known.key} by the charge of its ion"
        steps.append(Step(words, (amount, "×", charge), unit, "definition"))
    return Working(f"{known.key} in the solution", tuple(steps))


def _is_told_so(steps, known):
    """Return whether an analysis tells a nutrient itself in mg/L."""
    told = steps is not None and len(steps) == 2 and steps[0].unit == "mg/L"
    return told and steps[0].text.startswith(f"{known.key} ")


def _given_steps(water, entries, known):
    """Return the lines from what was given to mmol/L; None if that does not lead there."""
    if water.parts:
        return _shared_steps(water, entries, known)
    try:
        parts = [s for given in _given(water, entries) for s in _part(*given, known)]
    except FormulateError:
        return None
    lines = [line for part in parts for line in part]
    ends = [part[-1] for part in parts]
    if len(ends) > 1:
        terms = [t for end in ends for t in ("+", Quantity(end.value, "mmol/L"))][1:]
        lines.append(Step(f"{known.key} in all", tuple(terms), "mmol/L"))
    amount = water.solution.mmol_l(known)
    is_it = bool(ends) and math.isclose(lines[-1].value, amount, rel_tol=SAME)
    return lines if is_it else None


def _shared_steps(water, entries, known):
    """Return the lines of the first water of a blend, and its share; None as above."""
    first, share = water.parts[0]
    lines = _given_steps(first, entries, known)
    lines = lines or [first.solution.working(known.key).steps[0]]
    lines = _of_share(lines, share)
    amount = water.solution.mmol_l(known)
    return lines if math.isclose(lines[-1].value, amount, rel_tol=SAME) else None


def _of_share(lines, share):
    """Return the lines of a water for a share of it, the rest pure: the last one times that.

    It stands in the same line where it can, so that no digit is lost between two.
    """
    *before, last = lines
    words = f"{last.text}, times the share of this water (the rest is pure)"
    terms = last.terms
    if "+" in terms or "−" in terms:
        before, terms = lines, (Quantity(last.value, last.unit),)
    terms = (*terms, "×", Quantity(share))
    return [*before, Step(words, terms, last.unit, last.source_key)]


def _given(water, entries):
    """Yield key, value, unit and where it stands, of each concentration that was given."""
    report = getattr(water, "report", None)
    if report is not None:
        for entry in report.entries:
            if entry.unit is not None and entry.unit.kind in CONCENTRATIONS:
                where = f"as printed in line {entry.line}"
                yield entry.basis or entry.quantity, entry.value, entry.unit, where
        return
    skipped = (*PH_WORDS, *EC_WORDS, "name", "unit")
    for key, text in dict(entries).items():
        if " ".join(str(key).split()).casefold() not in skipped:
            shown = str(text).strip()
            number, unit = read_quantity(
                shown.lstrip("<"), *CONCENTRATIONS, default="mg/L"
            )
            yield key, 0.0 if shown.startswith("<") else number, unit, "as given"


def _part(key, value, unit, where, known):
    """Yield the lines of one entry if it counts for a nutrient."""
    if " ".join(str(key).split()).casefold() in ALKALINITY_WORDS:
        return
    try:
        stated = nutrient(key)
    except FormulateError:  # a sum, a hardness
        return
    shared = [form for form in stated.weights if form in known.weights]
    if not shared or stated.key in CARBON_CHARGES:
        return
    steps = steps_to_mmol_l(value, unit, stated, f"{stated.key} {where}")
    moles = known.weights[shared[0]] / stated.weights[shared[0]]
    if moles != 1:
        amount = Quantity(steps[-1].value, "mmol/L")
        terms = (amount, "×", Quantity(moles, "mol/mol"))
        steps.append(Step(f"{known.key} in it", terms, "mmol/L", MASSES))
    yield steps


def reading_working(water, entries, reading):
    """
    Return where a pH, an EC or an alkalinity comes from: a reading, in its own unit.

    Parameters
    ----------
    water : Water
        The water.
    entries : mapping of str to str
        What the analysis says, as it was given.
    reading : str
        "pH", "EC" or "alkalinity".

    Returns
    -------
    Working or None
        The change of its unit, or the reading alone: nothing is worked out of it; None if
        the analysis does not tell it.

    Examples
    --------
    >>> from formulate.ingredients.water import water
    >>> given = {"EC": "651 uS/cm"}
    >>> print(reading_working(water(given), given, "EC").lines[0])
    EC as given: 651 uS/cm × 0.001 mS/cm in 1 uS/cm = 0.65100 mS/cm  [definition]
    """
    value = {"pH": water.ph, "EC": water.ec, "alkalinity": water.alkalinity}[reading]
    if value is None:
        return None
    if reading == "alkalinity" and water.parts:
        first, share = water.parts[0]
        told = reading_working(first, entries, reading)
        shared = _of_share(told.steps, share)
        if math.isclose(shared[-1].value, value, rel_tol=SAME):
            return Working(told.title, tuple(shared))
    steps = []
    try:
        steps = _alkaline(entries) if reading == "alkalinity" else []
        steps = _converted(entries) if reading == "EC" else steps
    except FormulateError:
        steps = []
    unit = {"pH": "", "EC": "mS/cm", "alkalinity": "meq/L"}[reading]
    if not steps or not math.isclose(steps[-1].value, value, rel_tol=SAME):
        words = f"{reading}, a reading of the analysis: nothing is worked out"
        key = water.source_key.split(";")[0]
        steps = [Step(words, (Quantity(value, unit),), unit, key)]
    return Working(f"{reading} of the water", tuple(steps))


def _converted(entries):
    """Return the line of an EC in another unit than the house unit; none if it is in it."""
    for key, text in dict(entries).items():
        if " ".join(str(key).split()).casefold() in EC_WORDS:
            number, unit = read_quantity(text, "conductivity", default="mS/cm")
            if unit.factor == 1:
                return []
            factor = Quantity(unit.factor, f"mS/cm in 1 {unit}")
            terms = (Quantity(number, unit.name), "×", factor)
            return [Step(f"{key} as given", terms, "mS/cm", "definition")]
    return []


def _alkaline(entries):
    """Return the lines of an alkalinity, or of the carbonates that stand for it."""
    steps, ends = [], []
    for key, text in dict(entries).items():
        word, lines = " ".join(str(key).split()).casefold(), []
        words = f"{key} as given"
        if word in ALKALINITY_WORDS:
            number, unit = read_quantity(str(text).lstrip("<"), *CONCENTRATIONS)
            lines = steps_to_meq_l(number, unit, words)
        elif (known := _carbon(key)) is not None:
            number, unit = read_quantity(text, *CONCENTRATIONS, default="mg/L")
            lines = steps_to_mmol_l(number, unit, known, words)
            amount = Quantity(lines[-1].value, "mmol/L")
            charge = Quantity(CARBON_CHARGES[known.key], "meq/mmol")
            takes = f"acid that {known.key} takes up"
            lines.append(Step(takes, (amount, "×", charge), "meq/L", "definition"))
        steps += lines
        ends += lines[-1:]
    if len(ends) > 1:
        terms = [t for end in ends for t in ("+", Quantity(end.value, "meq/L"))][1:]
        steps.append(Step("alkalinity in all", tuple(terms), "meq/L"))
    return steps


def _carbon(key):
    """Return a nutrient if it is bicarbonate or carbonate, else None."""
    try:
        known = nutrient(key)
    except FormulateError:
        return None
    return known if known.key in CARBON_CHARGES else None


def balance_working(water, what):
    """
    Return the arithmetic of the cations, the anions or how they balance.

    Parameters
    ----------
    water : Water
        The water.
    what : str
        "cations", "anions" or "balance".

    Returns
    -------
    Working
        Charge of each ion at the pH of the water, their sums, the difference; without its share where nothing is
        charged. [%]

    Examples
    --------
    >>> from formulate.ingredients.water import water
    >>> balance_working(water({"Ca": "2 mmol/L", "HCO3": "4 mmol/L"}), "cations").lines
    ('cations: Ca²⁺: 2 mmol/L × 2 meq/mmol = 4.0000 meq/L',)
    """
    sides = {"cations": (1,), "anions": (-1,)}.get(what, (1, -1))
    sums = [_side(water, sign) for sign in sides]
    if what in ("cations", "anions"):
        return Working(f"{what.capitalize()} of the water", tuple(sums))
    above, below = (Quantity(one.value, "meq/L") for one in sums)
    more, less = sorted((above, below), key=lambda one: -one.value)
    words = "cations less anions" if more is above else "anions less cations"
    apart = Step(words, (more, "−", less), "meq/L")
    whole = Step("cations and anions", (above, "+", below), "meq/L")
    title = "How the charges balance"
    if not whole.value:
        return Working(title, (*sums, apart, whole))  # pure water: no share of nothing
    terms = (Quantity(apart.value, "meq/L"), "÷", Quantity(whole.value, "meq/L"))
    share = Step("of it", (*terms, "×", Quantity(100.0, "%")), "%", "sm-1030e")
    return Working(title, (*sums, apart, whole, share))


def _side(water, sign):
    """Return the line that adds up the charges of one sign at the pH of the water."""
    terms, names = [], []
    pairs = zip(water.solution.forms.items(), water.charges, strict=True)
    for (key, amount), charge in pairs:
        if amount and charge * sign > 0:
            each = round(abs(charge) / amount, DECIMALS)
            terms += ["+", Quantity(amount, "mmol/L"), "×", Quantity(each, "meq/mmol")]
            names.append(printed_ion(form(key).ion))
    side = "cations" if sign > 0 else "anions"
    terms = terms[1:] or [Quantity(0.0, "meq/L")]
    words = f"{side}: {', '.join(names)}" if names else side
    return Step(words, tuple(terms), "meq/L")
