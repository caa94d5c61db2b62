"""From the entries of a water report to amounts: mmol/L of every ion, meq/L of alkalinity.

What is told twice must agree; what is missing and follows from the rest (calcium from the
hardness and the magnesium) is worked out and said.
"""

import re
from dataclasses import dataclass

from formulate.errors import InputError
from formulate.ingredients.report_text import Entry
from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.nutrients import form, nutrient
from formulate.stoichiometry.units import convert, unit
from formulate.tables import read_table

__all__ = ["ALKALINE", "Told", "alkalinity_told", "check_row", "told_amounts"]

ALKALINE = {  # quantity to the nutrient key or formula on which it usually counts
    "alkalinity": "CaCO3",
    "bicarbonate": "HCO3",
    "carbonate": "CO3",
    "hydroxide": "OH",
    "p_alkalinity": "CaCO3",
    "carbonate_hardness": "CaCO3",
    "noncarbonate_hardness": "CaCO3",
}
EQUIVALENTS = {"HCO3": 1, "OH": 1, "CO3": 2, "CaCO3": 2, "CaO": 2, "Ca": 2}
NITRATE_N_LIMITS = ("10", "10.0", "10,0")
MOST_EC = 100.0  # mS/cm: above this a unit was mistaken


@dataclass(frozen=True)
class Told:
    """
    What a report tells of one quantity, in house units.

    Attributes
    ----------
    amount : float
        mmol/L of an ion or of calcium and magnesium; meq/L of alkalinity and sums; mS/cm
        at 25 °C; mg/L of dissolved solids; else as printed. [-]
    entry : Entry or None
        Where it stands; None if it was worked out from other entries.
    """

    amount: float
    entry: Entry | None = None


def check_row(check):
    """
    Return the row of the table of water checks with a name.

    Parameters
    ----------
    check : str
        Name of the check.

    Returns
    -------
    Row
        Its row: limit, low, high, unit and source.

    Examples
    --------
    >>> check_row("cation sum over EC").number("high")
    1.1
    """
    return next(row for row in read_table("water_checks") if row["check"] == check)


def told_amounts(report, faults, said):
    """
    Return what a report tells, quantity by quantity.

    Parameters
    ----------
    report : Report
        The report taken apart.
    faults : Faults
        Collects what contradicts itself.
    said : list of str
        Collects what was assumed.

    Returns
    -------
    dict of str to Told
        Quantity to what is told of it.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> from formulate.ingredients.report_text import read_report
    >>> told = told_amounts(read_report("Nitrat-N: 1,4 mg/l"), Faults(), [])
    >>> round(told["nitrate"].amount, 4)
    0.1
    """
    told = {}
    said += _said_together(report.entries)
    for entry in report.entries:
        with faults.collecting(entry.where):
            amount = _amount(entry, said)
            if amount is None:
                continue
            known = told.get(entry.quantity)
            if known is not None:
                told[entry.quantity] = _same(known, Told(amount, entry), said)
            else:
                told[entry.quantity] = Told(amount, entry)
    _derive(told, said)
    return told


def _said_together(entries):
    """Return what was assumed to read the entries, the same words once for all lines."""
    lines = {}
    for entry in entries:
        for text in entry.said:
            lines.setdefault(text, []).append(entry)
    return [
        f"{found[0].where}: {text}"
        if len(found) == 1
        else f"lines {', '.join(str(entry.line) for entry in found)}: {text}"
        for text, found in lines.items()
    ]


def _amount(entry, said):
    """Return an entry in house units, or None if its unit cannot be brought there."""
    quantity = entry.quantity
    if quantity == "EC":
        return _conductivity(entry, said)
    if quantity == "TDS":
        return _dissolved_solids(entry, said)
    if quantity in ("pH", "temperature", "ion_balance"):
        return entry.value
    if entry.value < 0:
        raise InputError(f"{entry.value:g} {entry.unit} is negative")
    if quantity in ("cation_sum", "anion_sum"):
        return entry.value * entry.unit.factor
    if quantity == "hardness":
        return _hardness(entry, said)
    if quantity in ALKALINE:
        return _equivalents(entry, said)
    if quantity == "oxidised_nitrogen":
        return _mmol_l(entry, "NO3-N", "nitrate")
    return _ion(entry, said)


def _ion(entry, said):
    """Return an ion in mmol/L of its form, with its basis said where it is a guess."""
    quantity, basis = entry.quantity, entry.basis
    name = "iron_iii" if quantity == "iron" else quantity
    if entry.assumed and quantity == "nitrate" and _us_limit(entry):
        basis = "NO3-N"
        said.append(
            f"{entry.where}: counted as N, for the printed limit of 10 mg/L is that of N"
        )
    elif entry.assumed and entry.value > 0 and _is_mass(entry):
        said.append(f"{entry.where}: basis not printed, counted as {basis}")
    return _mmol_l(entry, basis, name)


def _us_limit(entry):
    """Return whether the limit beside a nitrate is 10 mg/L, which counts nitrogen."""
    return any(text in NITRATE_N_LIMITS for text in entry.limit.split())


def _is_mass(entry):
    return entry.unit.kind == "mass_concentration"


def _mmol_l(entry, basis, name):
    """Return an entry in mmol/L of a form."""
    if basis == "CaCO3":
        of_unit = unit("mg/L as CaCO3") if _is_mass(entry) else entry.unit
        value = entry.value * (entry.unit.factor if _is_mass(entry) else 1.0)
        return convert(value, of_unit, "mmol/L", of=form(name).symbol)
    key = nutrient(basis)
    return convert(entry.value, entry.unit, "mmol/L", of=key) / key.weights[name]


def _hardness(entry, said):
    """Return a hardness in mmol/L of calcium and magnesium together."""
    if _is_mass(entry):
        species = entry.basis or "CaCO3"
        if not entry.basis and entry.value > 0:
            said.append(f"{entry.where}: basis not printed, counted as CaCO3")
        return entry.value * entry.unit.factor / molar_mass(species)
    return convert(entry.value, entry.unit, "mmol/L", of="hardness")


def _equivalents(entry, said):
    """Return an entry of the alkalinity and its relatives in meq/L."""
    usual = ALKALINE[entry.quantity]
    basis = entry.basis or usual
    kind, value = entry.unit.kind, entry.value * entry.unit.factor
    if kind == "charge_concentration":
        return value
    if kind == "caco3":
        return convert(value, "mg/L as CaCO3", "meq/L")
    if kind == "amount_concentration":
        if entry.basis or entry.quantity in ("bicarbonate", "carbonate", "hydroxide"):
            return value * EQUIVALENTS[basis]
        if entry.quantity.endswith("hardness"):
            said.append(f"{entry.where}: mmol/L counted as CaCO3, 2 meq each")
            return value * EQUIVALENTS["CaCO3"]
        return value  # acid capacity: one millimole of acid is one meq
    if entry.value > 0 and (not entry.basis or entry.assumed):
        said.append(f"{entry.where}: basis not printed, counted as {basis}")
    return value / molar_mass(basis) * EQUIVALENTS[basis]


def _conductivity(entry, said):
    """Return a conductivity in mS/cm at 25 °C."""
    value = entry.value * entry.unit.factor
    if not 0 <= value <= MOST_EC:
        raise InputError(f"{entry.printed} is {value:g} mS/cm; is the unit right?")
    if entry.temperature is None:
        said.append(f"{entry.where}: temperature not printed, taken as at 25 °C")
        return value
    if entry.temperature == 25:
        return value
    if entry.temperature == 20:
        row = check_row("EC at 20 to 25 °C")
        factor = row.number("limit")
    else:
        row = check_row("EC per degree")
        if not row.number("low") <= entry.temperature <= row.number("high"):
            said.append(
                f"{entry.where}: at {entry.temperature:g} °C, outside "
                f"{row['low']} to {row['high']} °C; not used"
            )
            return None
        factor = 1 / (1 + row.number("limit") / 100 * (entry.temperature - 25))
    keys = row["source_key"]
    said.append(
        f"{entry.where}: {value:g} mS/cm at {entry.temperature:g} °C × {factor:.4g} = "
        f"{value * factor:.4g} mS/cm at 25 °C [{keys}]"
    )
    return value * factor


def _dissolved_solids(entry, said):
    """Return dissolved solids in mg/L; a meter that shows a scale tells none."""
    if entry.unit.kind != "conductivity":
        return entry.value * entry.unit.factor
    said.append(f"{entry.where}: a meter reading of the conductivity, no mass of salts")
    return None


def _same(known, other, said):
    """Return one of two entries that tell the same; raise if they do not."""
    first, second = known.entry, other.entry
    if second.sign in ("<", "nothing"):
        return known
    if first.sign in ("<", "nothing"):
        said.append(f"{first.where} gives no number; line {second.line} is taken")
        return other
    share = check_row("told twice").number("limit") / 100
    room = share * max(known.amount, other.amount) + _rounding(known) + _rounding(other)
    if abs(known.amount - other.amount) <= room and first.line == second.line:
        return known
    if abs(known.amount - other.amount) <= room:
        said.append(
            f"{second.where}: tells the same as line {first.line}; counted once"
        )
        return known
    raise InputError(
        f"{second.printed} does not agree with line {first.line} ({first.printed}): "
        f"{other.amount:.4g} and {known.amount:.4g}; keep one of them"
    )


def _rounding(told):
    """Return half a unit of the last printed digit, in the unit of the amount."""
    value = told.entry.value
    match = re.search(r"\d+(?:[.,](\d+))?", told.entry.printed)
    if not value or not match:
        return 0.0
    return 0.5 * 10.0 ** -len(match.group(1) or "") / abs(value) * told.amount


def _derive(told, said):
    """Work out calcium, magnesium and nitrate from what else is told."""
    hardness = told.get("hardness")
    for missing, other in (("calcium", "magnesium"), ("magnesium", "calcium")):
        if hardness is None or missing in told or other not in told:
            continue
        rest = hardness.amount - told[other].amount
        if rest < 0:
            said.append(
                f"{missing} not told, and the hardness is less than the {other}"
            )
            continue
        told[missing] = Told(rest)
        said.append(
            f"{missing} not told: hardness {hardness.amount:.4g} − {other} "
            f"{told[other].amount:.4g} = {rest:.4g} mmol/L"
        )
    oxidised = told.get("oxidised_nitrogen")
    if oxidised and "nitrate" not in told:
        nitrite = told["nitrite"].amount if "nitrite" in told else 0.0
        told["nitrate"] = Told(max(oxidised.amount - nitrite, 0.0))
        said.append(
            f"nitrate not told: oxidised nitrogen {oxidised.amount:.4g} − nitrite "
            f"{nitrite:.4g} = {told['nitrate'].amount:.4g} mmol/L"
        )


def alkalinity_told(told, said):
    """
    Return the alkalinity that a report tells, by whichever of its names.

    Parameters
    ----------
    told : dict of str to Told
        Quantity to what is told of it.
    said : list of str
        Collects what was assumed.

    Returns
    -------
    Told or None
        The alkalinity [meq/L], or None if nothing tells it.

    Examples
    --------
    >>> alkalinity_told({"bicarbonate": Told(4.0), "carbonate": Told(0.5)}, []).amount
    4.5
    """
    if "alkalinity" in told:
        return told["alkalinity"]
    if "bicarbonate" in told:
        others = [told[key] for key in ("carbonate", "hydroxide") if key in told]
        total = told["bicarbonate"].amount + sum(other.amount for other in others)
        return Told(total, told["bicarbonate"].entry)
    if "carbonate_hardness" in told:
        known = told["carbonate_hardness"]
        said.append("alkalinity not told: the carbonate hardness is taken for it")
        return known
    if "hardness" in told and "noncarbonate_hardness" in told:
        total = 2 * told["hardness"].amount
        rest = total - told["noncarbonate_hardness"].amount
        if rest >= 0:
            said.append(
                f"alkalinity not told: hardness {total:.4g} − non-carbonate hardness "
                f"{total - rest:.4g} = {rest:.4g} meq/L"
            )
            return Told(rest, told["noncarbonate_hardness"].entry)
    return None
