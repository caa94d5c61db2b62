"""The arithmetic of a change of units of a concentration, line by line."""

from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.units import CONCENTRATIONS, unit
from formulate.tables import read_table
from formulate.working import Quantity, Step

__all__ = ["steps_to_meq_l", "steps_to_mg_l", "steps_to_mmol_l"]

HOUSE = {
    "mass_concentration": "mg/L",
    "amount_concentration": "mmol/L",
    "charge_concentration": "meq/L",
    "caco3": "mg/L as CaCO3",
}
MASSES = "stoichiometry"
HALF = 2.0  # meq in a millimole of CaCO3


def _source(known):
    """Return where the factor of a unit comes from."""
    rows = read_table("units")
    return next(row["source_key"] for row in rows if row["unit"] == known.name)


def _house(value, known, words):
    """Return the line that brings a value to the house unit of its kind."""
    house = HOUSE[known.kind]
    number = Quantity(value, known.name)
    if known.factor == 1:
        return Step(words, (Quantity(value, house),), house)
    factor = Quantity(known.factor, f"{house} in 1 {known.name}")
    key = MASSES if known.kind == "caco3" else _source(known)
    return Step(words, (number, "×", factor), house, key)


def steps_to_mmol_l(value, from_unit, key, words):
    """
    Return the lines from a value in any unit of concentration to mmol/L.

    Parameters
    ----------
    value : float
        The value, in `from_unit`. [-]
    from_unit : str or Unit
        Its unit.
    key : str
        Nutrient key that it counts.
    words : str
        What stands before the first line.

    Returns
    -------
    list of Step
        The lines; the last one gives the amount of the basis of the key. [mmol/L]

    Examples
    --------
    >>> for step in steps_to_mmol_l(10, "German degree", "Ca", "Ca as typed"):
    ...     print(step.arithmetic)
    10 German degree × 17.848 mg/L as CaCO3 in 1 German degree = 178.48 mg/L as CaCO3
    178.48 mg/L as CaCO3 ÷ 50.043 mg/meq ÷ 2 meq/mmol = 1.7833 mmol/L
    """
    known, of = unit(from_unit, *CONCENTRATIONS), nutrient(key)
    first = _house(value, known, words)
    terms = [Quantity(first.value, first.unit)]
    if known.kind == "amount_concentration":
        return [first]
    if known.kind == "mass_concentration":
        terms += ["÷", Quantity(of.molar_mass, "mg/mmol")]
    if known.kind == "caco3":
        terms += ["÷", Quantity(molar_mass("CaCO3") / HALF, "mg/meq")]
    if known.kind in ("caco3", "charge_concentration"):
        terms += ["÷", Quantity(abs(of.charge_per_amount()), "meq/mmol")]
    return [first, Step(f"{of.key} in mmol/L", tuple(terms), "mmol/L", MASSES)]


def steps_to_mg_l(value, from_unit, key, words):
    """
    Return the lines from a value in any unit of concentration to mg/L.

    Parameters
    ----------
    value : float
        The value, in `from_unit`. [-]
    from_unit : str or Unit
        Its unit.
    key : str
        Nutrient key that it counts.
    words : str
        What stands before the first line.

    Returns
    -------
    list of Step
        The lines; the last one gives the mass of the basis of the key. [mg/L]

    Examples
    --------
    >>> steps = steps_to_mg_l(2, "mmol/L", "Ca", "Ca as typed")
    >>> round(steps[-1].value, 2)
    80.16
    """
    known, of = unit(from_unit, *CONCENTRATIONS), nutrient(key)
    if known.kind == "mass_concentration":
        return [_house(value, known, words)]
    steps = steps_to_mmol_l(value, known, key, words)
    mass = Quantity(of.molar_mass, "mg/mmol")
    terms = (Quantity(steps[-1].value, "mmol/L"), "×", mass)
    return [*steps, Step(f"{of.key} in mg/L", terms, "mg/L", MASSES)]


def steps_to_meq_l(value, from_unit, words):
    """
    Return the lines from an alkalinity in any of its units to meq/L.

    Parameters
    ----------
    value : float
        The value, in `from_unit`. [-]
    from_unit : str or Unit
        Its unit: of charge, as CaCO3, or of an amount, for an acid capacity.
    words : str
        What stands before the first line.

    Returns
    -------
    list of Step
        The lines. [meq/L]

    Examples
    --------
    >>> print(steps_to_meq_l(286, "mg/L as CaCO3", "alkalinity")[-1].arithmetic)
    286 mg/L as CaCO3 ÷ 50.043 mg/meq = 5.7151 meq/L
    """
    known = unit(from_unit, *CONCENTRATIONS)
    first = _house(value, known, words)
    number = Quantity(first.value, first.unit)
    if known.kind == "caco3":
        terms = (number, "÷", Quantity(molar_mass("CaCO3") / HALF, "mg/meq"))
        return [first, Step("in meq/L", terms, "meq/L", MASSES)]
    if known.kind == "amount_concentration":
        terms = (number, "×", Quantity(1.0, "meq/mmol"))
        text = "acid capacity: a millimole of acid is one meq"
        return [first, Step(text, terms, "meq/L", "definition")]
    return [first]
