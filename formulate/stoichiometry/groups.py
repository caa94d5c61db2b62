"""Turns a formula into forms: ammonium, nitrate, phosphate and the rest, by its groups.

Groups that the elements alone do not tell (nitrate or ammonium, carbonate or urea) are
looked up as they are written. Every element that has one form only then becomes that form,
and the charge proves it: all oxygen is water or belongs to an ion, every hydrogen beyond
that is a proton, and the sum must be the charge of the formula.
"""

from fractions import Fraction
from functools import cache

from formulate.stoichiometry.notation import notation_fault, read_notation
from formulate.tables import read_table

__all__ = ["counted_symbols", "forms_of_parts"]


def counted_symbols(parts):
    """
    Return how often each element and named ligand stands in a formula.

    Parameters
    ----------
    parts : tuple of Part
        The formula, read.

    Returns
    -------
    dict of str to Fraction
        Symbol to count. [-]

    Examples
    --------
    >>> parts, _ = read_notation("Ca(NO3)2")
    >>> {symbol: int(count) for symbol, count in counted_symbols(parts).items()}
    {'Ca': 1, 'N': 2, 'O': 6}
    """
    counts = {}
    todo = [(item, part.coefficient) for part in parts for item in part.items]
    while todo:
        item, times = todo.pop(0)
        if item.symbol:
            counts[item.symbol] = counts.get(item.symbol, 0) + times * item.count
        else:
            todo.extend((inner, times * item.count) for inner in item.inside)
    return counts


@cache
def _group_patterns():
    """Return (items, form, count) of each group of the table, longest first."""
    rows = [
        (read_notation(row["group"])[0][0].items, row["form"], int(row["count"]))
        for row in read_table("groups")
    ]
    return tuple(sorted(rows, key=lambda row: len(row[0]), reverse=True))


@cache
def _form_of_symbol():
    """Return element or ligand to the one form it can be."""
    forms = {
        row["element"]: row["form"] for row in read_table("forms") if row["element"]
    }
    return forms | {row["ligand"]: row["form"] for row in read_table("ligands")}


@cache
def _ions():
    """Return form to (its symbols with counts, its charge)."""
    ions = {row["form"]: read_notation(row["ion"]) for row in read_table("forms")}
    return {
        form: (counted_symbols(parts), charge) for form, (parts, charge) in ions.items()
    }


@cache
def _protonated():
    """Return ligand form to the hydrogen and oxygen of its fully stripped ion."""
    rows = read_table("ligands")
    return {
        row["form"]: counted_symbols(read_notation(row["formula"])[0]) for row in rows
    }


def forms_of_parts(text, parts, charge):
    """
    Return the forms that a formula holds.

    Parameters
    ----------
    text : str
        The formula as given, for messages.
    parts : tuple of Part
        The formula, read.
    charge : int
        Its charge number. [-]

    Returns
    -------
    dict of str to Fraction
        Form to moles per mole of formula. [-]

    Raises
    ------
    FormulaError
        If atoms are left over, or the charges do not add up.

    Examples
    --------
    >>> parts, charge = read_notation("NH4NO3")
    >>> {form: int(n) for form, n in forms_of_parts("NH4NO3", parts, charge).items()}
    {'ammonium': 1, 'nitrate': 1}
    """
    forms, left = {}, {}
    for part in parts:
        if not part.is_water:
            _take_groups(part.items, part.coefficient, forms, left)
    written_out = {form: n for form, n in forms.items() if form in _protonated()}
    for symbol in [symbol for symbol in left if symbol in _form_of_symbol()]:
        form = _form_of_symbol()[symbol]
        forms[form] = forms.get(form, 0) + left.pop(symbol)
    iron = left.pop("Fe", 0)
    foreign = {symbol: n for symbol, n in left.items() if symbol not in "HO"}
    if foreign:
        atoms = " ".join(
            f"{s}{'' if n == 1 else f'{float(n):g}'}" for s, n in foreign.items()
        )
        what = (
            f"atoms left over that belong to no known form: {atoms}; write groups as such "
            "(NH4, NO3, CO(NH2)2) and chelates by name (NaFeEDTA)"
        )
        raise notation_fault(text, None, what)
    missing = charge - _charge_with_protons(parts, forms, written_out)
    return {**forms, **_iron_of_charge(text, forms, iron, missing)}


def _take_groups(items, times, forms, left):
    """Add the groups found among items to forms, and all other atoms to left."""
    place = 0
    while place < len(items):
        for pattern, form, count in _group_patterns():
            if items[place : place + len(pattern)] == pattern:
                forms[form] = forms.get(form, 0) + times * count
                place += len(pattern)
                break
        else:
            item = items[place]
            if item.symbol:
                left[item.symbol] = left.get(item.symbol, 0) + times * item.count
            else:
                _take_groups(item.inside, times * item.count, forms, left)
            place += 1


def _charge_with_protons(parts, forms, written_out):
    """Return the charge of the forms and of the protons that the formula leaves over."""
    counted = counted_symbols(parts)
    hydrogen, oxygen = counted.get("H", 0), counted.get("O", 0)
    charge = Fraction(0)
    for form, moles in forms.items():
        ion, number = _ions()[form]
        charge += number * moles
        as_atoms = moles
        if form in _protonated():  # a named ligand keeps its atoms to itself
            ion, as_atoms = _protonated()[form], written_out.get(form, 0)
        hydrogen -= ion.get("H", 0) * as_atoms
        oxygen -= ion.get("O", 0) * as_atoms
    return charge + hydrogen - 2 * oxygen


def _iron_of_charge(text, forms, iron, missing):
    """Return the iron in the state that the charge asks for; refuse what cannot balance."""
    if not iron and not missing:
        return {}
    if iron and 2 * iron <= missing <= 3 * iron:
        three = missing - 2 * iron
        return {
            form: n for form, n in (("iron_ii", iron - three), ("iron_iii", three)) if n
        }
    if iron:
        missing -= (3 if missing > 3 * iron else 2) * iron
    known = ", ".join(forms) or "none"
    what = (
        f"the charges do not add up, {float(missing):+g} is missing (forms found: {known}"
        f"{', iron' if iron else ''}); look at the counts, or write the charge of an ion"
    )
    raise notation_fault(text, None, what)
