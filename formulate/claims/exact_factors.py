"""Exact factors from one thing to another by molar masses: K to K2O, KNO3 to N, oz to g."""

import re
from functools import cache

from formulate.errors import FormulateError
from formulate.stoichiometry.formula import atomic_mass, molar_mass, parse_formula
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.units import unit

__all__ = ["exact_factor", "mass_by", "meant_by", "mole_ratio"]

EQUIVALENTS = {"HCO3": 1, "CaCO3": 2}  # alkalinity told as CaCO3


@cache
def exact_factor(start, goal):
    """
    Return the factor from one thing to another; 0 if it is not known.

    Equation [stoichiometry]::

        factor from A to B = r M(B)/M(A)        r moles of B in a mole of A: K to K2O ½

    Parameters
    ----------
    start : str
        Nutrient key, compound or unit that is known.
    goal : str
        That which is wanted.

    Returns
    -------
    float
        What the mass, or the number, is multiplied by. [-]

    Examples
    --------
    >>> round(exact_factor("K", "K2O"), 4), round(exact_factor("KNO3", "N"), 4)
    (1.2046, 0.1385)
    """
    ratio = mole_ratio(start, goal)
    if ratio:
        return ratio[0] * mass_by(ratio[2], {}) / mass_by(ratio[1], {})
    try:
        one, other = unit(start), unit(goal)
    except FormulateError:
        return 0.0
    alike = one.kind == other.kind and not (one.offset or other.offset)
    return one.factor / other.factor if alike else 0.0


@cache
def mole_ratio(start, goal):
    """
    Return the moles of one thing in a mole of another, and both formulas.

    Parameters
    ----------
    start : str
        Nutrient key or compound that is known.
    goal : str
        That which is wanted.

    Returns
    -------
    tuple or None
        Moles of the goal in a mole of the start, both formulas; None if it is not known.

    Examples
    --------
    >>> mole_ratio("K", "K2O")
    (0.5, 'K', 'K2O')
    """
    one, other = meant_by(start), meant_by(goal)
    if not one or not other or one == other:
        return None
    (key, formula), (wanted, its_formula) = one, other
    if {formula, its_formula} == set(EQUIVALENTS):
        moles = EQUIVALENTS[formula] / EQUIVALENTS[its_formula]
        return moles, formula, its_formula
    if key and wanted:
        return _between_keys(nutrient(key), nutrient(wanted))
    if wanted:
        return _of_compound(formula, nutrient(wanted))
    if key:
        found = _of_compound(its_formula, nutrient(key))
        return (1 / found[0], found[2], found[1]) if found else None
    return _by_atoms(formula, its_formula)


def meant_by(text):
    """
    Return what a word of a table of factors means.

    Parameters
    ----------
    text : str
        Such as "P2O5", "phosphorus", "KNO3" or "CaCO3 equivalent".

    Returns
    -------
    tuple of str or None
        Nutrient key, "" for a compound, and formula; None if it is not known.

    Examples
    --------
    >>> meant_by("phosphorus (P)"), meant_by("KNO3"), meant_by("sugar")
    (('P', 'P'), ('', 'KNO3'), None)
    """
    plain = re.sub(r"\b(equivalents?|alkalinity|of|as|content)\b", "", text, flags=re.I)
    inside = re.findall(r"[\[(]([A-Z][^\[\]()\s]*)[\])]", plain)
    outside = re.sub(r"\s[\[(][^\[\]()]*[\])]", "", plain)
    for each in filter(None, (plain.strip(), *inside, outside.strip())):
        try:
            known = nutrient(each)
            return known.key, known.basis
        except FormulateError:
            pass
        try:
            molar_mass(each)  # raises unless it is a formula of known elements
            return "", each
        except FormulateError:
            continue
    return None


def _between_keys(one, other):
    """Return moles of one basis in a mole of another that shares a form."""
    for form, weight in one.weights.items():
        if form in other.weights:
            return other.weights[form] / weight, one.basis, other.basis
    return _by_atoms(one.basis, other.basis)


def _of_compound(formula, wanted):
    """Return moles of a nutrient's basis in a mole of a compound."""
    try:
        moles = wanted.amount(parse_formula(formula).forms)
    except FormulateError:
        moles = 0.0
    return (moles, formula, wanted.basis) if moles else _by_atoms(formula, wanted.basis)


def _by_atoms(formula, other):
    """Return moles of one compound in another by an element that both hold."""
    one, two = parse_formula(formula).atoms, parse_formula(other).atoms
    shared = [e for e in one if e in two]
    shared = [e for e in shared if e not in ("O", "H")] or shared
    if len(shared) != 1:
        return None
    return one[shared[0]] / two[shared[0]], formula, other


def mass_by(formula, masses):
    """
    Return the molar mass of a formula with some atomic masses replaced.

    Parameters
    ----------
    formula : str
        The formula.
    masses : mapping of str to float
        Element to the atomic mass that is taken instead of today's. [g/mol]

    Returns
    -------
    float
        Molar mass. [g/mol]

    Examples
    --------
    >>> mass_by("MgO", {"Mg": 24.0, "O": 16.0})
    40.0
    """
    atoms = parse_formula(formula).atoms
    return sum(n * masses.get(e, atomic_mass(e)) for e, n in atoms.items())
