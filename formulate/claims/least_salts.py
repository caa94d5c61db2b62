"""Can this grade exist: the least mass of salts that brings every guarantee.

First of the solid salts of the catalogue that are neither acid nor alkali, and lime; where
they weigh more than 100 g, of all its solids and of the richest compound of each nutrient
(nitric acid, ammonia, oxides and the like). If these too weigh more than 100 g, the product
is impossible.

Equation of the least mass of salts [lp-kkt-notes]::

    minimise Σ x        A x ≥ guarantees, x ≥ 0        x in g for 100 g of product
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.optimize import linprog

from formulate.checks import checked_number
from formulate.claims.blend_ranges import WHOLE
from formulate.claims.finding import Finding
from formulate.errors import Faults, NoConvergence
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.salts import catalogue
from formulate.recipes.highs import quiet
from formulate.stoichiometry.formula import parse_formula
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.quantities import read_quantity
from formulate.tables import read_table
from formulate.working import Shown, printed

__all__ = ["LeastSalts", "least_salts", "room_finding"]

PER_GRAM = 1000.0  # mmol in a mol
SHOWN = 0.05  # g in 100 g: less is not listed
SAME = 1e-6  # g
HALF = 0.5
SEVERITY = {"right": "note", "cannot tell": "caution", "impossible": "serious"}
RULE = "the least mass of pure materials for the guarantees, by linear programming"


@dataclass(frozen=True, eq=False)
class LeastSalts(Shown):
    """
    The lightest blend of materials that brings some guarantees.

    Attributes
    ----------
    grams : float
        What it weighs for 100 g of product. [g]
    parts : tuple of (str, float)
        The materials with their grams, the heaviest first. [g]
    unsupplied : tuple of str
        Nutrient keys that no material holds.
    """

    grams: float
    parts: tuple
    unsupplied: tuple = ()

    @property
    def listed(self):
        """Return the materials with their grams, in words."""
        seen = [f"{name} {printed(g)}" for name, g in self.parts if g > SHOWN]
        return ", ".join(seen) or "nothing"

    @property
    def words(self):
        """Return mass and materials in words."""
        return f"{printed(self.grams)} g in 100 g of product: {self.listed}"

    def __str__(self):
        return f"{printed(self.grams)} g for 100 g: {self.listed}"


@cache
def _materials(salts_only):
    """Return the salts of the catalogue; or all its solids and the richest compounds."""
    solids = [made for made in catalogue().values() if not made.is_liquid]
    if salts_only:
        too = _formulas("salt too")
        return tuple(m for m in solids if not m.role or m.formula in too)
    known = {made.formula for made in solids}
    for row in read_table("label_limits"):
        if row["kind"] == "richest" and row["formula"] not in known:
            mass = parse_formula(row["formula"]).molar_mass / row.number("count")
            solids.append(Ingredient(row["formula"], {row["subject"]: PER_GRAM / mass}))
    return tuple(solids)


def _formulas(kind):
    """Return the formulas of one kind in the table of limits."""
    return {row["formula"] for row in read_table("label_limits") if row["kind"] == kind}


@cache
def _held(key, salts_only):
    """Return the share of a nutrient in each material. [g/g]"""
    return np.array([made.percent(key) for made in _materials(salts_only)]) / WHOLE


def least_salts(percents, *, salts_only=True):
    """
    Return the lightest blend of pure materials with at least these shares.

    Parameters
    ----------
    percents : mapping of str to float or str
        Nutrient key to share. [%]
    salts_only : bool
        Whether acids, alkalis and the richest compound of each nutrient are left out.

    Returns
    -------
    LeastSalts
        Its mass and its parts; above 100 g in 100 g no such blend can be.

    Raises
    ------
    InputError
        With every share that is none, and every nutrient that is not known.
    NoConvergence
        If the linear programme was not solved.

    Examples
    --------
    >>> print(least_salts({"N": 46.0, "K2O": 1.0}))
    100.1 g for 100 g: urea 97.98, potassium nitrate 2.147
    """
    asked = {key: share for key, share in _checked(percents).items() if share > 0}
    lacking = tuple(key for key in asked if not _held(key, salts_only).any())
    rows = {key: share for key, share in asked.items() if key not in lacking}
    if not rows:
        return LeastSalts(0.0, (), lacking)
    matrix = np.array([_held(key, salts_only) / share for key, share in rows.items()])
    with quiet():
        found = linprog(
            np.ones(matrix.shape[1]), A_ub=-matrix, b_ub=-np.ones(len(rows))
        )
    if found.status:
        raise NoConvergence(f"the least mass of salts was not found: {found.message}")
    names = [made.name for made in _materials(salts_only)]
    pairs = [(name, float(g)) for name, g in zip(names, found.x, strict=True)]
    parts = sorted((p for p in pairs if p[1] > SAME), key=lambda pair: -pair[1])
    return LeastSalts(float(found.fun), tuple(parts), lacking)


def _checked(percents):
    """Return key to share as numbers, every fault told."""
    faults, made = Faults("least salts"), {}
    for key, share in dict(percents).items():
        with faults.collecting(key):
            value = share
            if isinstance(share, str):
                number, unit = read_quantity(share, "mass_fraction", default="%")
                value = number * unit.factor
            checked = checked_number(value, "share in %", least=0, most=WHOLE)
            made[nutrient(key).key] = checked
    faults.raise_if_any()
    return made


def room_finding(subject, guarantees):
    """
    Return whether salts, or anything else, can bring guarantees in 100 g of product.

    Shares are counted less half a unit of their last digit, as far as they may have been
    rounded up.

    Parameters
    ----------
    subject : str
        What the finding is about, such as "grade".
    guarantees : sequence of Guarantee
        What is guaranteed.

    Returns
    -------
    Finding
        "right" if salts or one pure compound have room, "cannot tell" if only a blend with
        acids, alkalis or oxides has, or nothing in the tables holds a nutrient,
        "impossible" if nothing has room.

    Examples
    --------
    >>> from formulate.claims.guarantees import Guarantee
    >>> acid = Guarantee("P2O5", 73.0, 73.0, 74.0, 0.1)
    >>> print(room_finding("grade", [acid]))
    grade: impossible; needs at least 100.7 g in 100 g of product: H3PO4 100.7
    """
    shares = {}
    for each in (each for each in guarantees if not each.is_upper):
        least = max(each.percent - HALF * each.step, 0.0)
        shares[each.key] = max(shares.get(each.key, 0.0), least)
    salts = least_salts(shares)
    if salts.grams <= WHOLE + SAME and not salts.unsupplied:
        return _finding(subject, "right", f"salts bring it: {salts.words}", salts)
    every = least_salts(shares, salts_only=False)
    if every.grams > WHOLE + SAME:
        return _finding(subject, "impossible", f"needs at least {every.words}", every)
    one_brings_all = len(every.parts) == 1 and not every.unsupplied
    verdict = "right" if one_brings_all else "cannot tell"
    return _finding(subject, verdict, _beyond_salts(salts, every), every)


def _beyond_salts(salts, every):
    """Return what is told where salts alone do not bring everything."""
    if every.unsupplied:
        lacking = ", ".join(every.unsupplied)
        return f"no material of the tables holds {lacking}; the rest: {every.words}"
    told = f"only acids, alkalis or oxides bring it: {every.words}"
    if salts.grams > WHOLE:
        told += f"; salts alone would weigh {printed(salts.grams)} g"
    return told


def _finding(subject, verdict, what, found):
    """Return the finding on a least mass."""
    severity = SEVERITY[verdict]
    facts = (found.grams, WHOLE, severity, RULE, "stoichiometry")
    return Finding(subject, verdict, what, *facts)
