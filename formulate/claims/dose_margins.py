"""What a dose gives, and how sure that is: the parts of the margin of a claim.

The rounding of the printed guarantee, of the claim and of the measure; for EC the stated
error of the model, and what the ions that a label leaves unnamed may conduct.
"""

from dataclasses import dataclass
from functools import cached_property

from formulate.chemistry.conductivity import conductivity
from formulate.chemistry.ionic_conductivity import REFERENCE, carrier
from formulate.claims.claim_reading import READINGS
from formulate.claims.dose_measures import MeasuredDose, read_dose
from formulate.ingredients.dissolve import dissolve, measured_amounts
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.salts import as_ingredient
from formulate.ingredients.water import Water
from formulate.ingredients.water import water as as_water
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.solution import Solution
from formulate.working import Shown

__all__ = [
    "DoseCase",
    "dose_case",
    "ec_margin",
    "guarantee_sides",
    "has_minima",
    "nutrient_margin",
    "rounded_guarantee",
    "vouches_minima",
]

DERIVED = "computed"  # how the composition of a product is known, if from its sources

PERCENT = 100.0
MAIN_IONS = {1: ("Na+", "K+", "NH4+"), -1: ("Cl-", "NO3-", "HCO3-")}
MAIN_PAIRS = {1: ("Ca+2", "Mg+2"), -1: ("SO4-2",)}


@dataclass(frozen=True, eq=False)
class DoseCase(Shown):
    """
    What every claim of one dose is held against.

    Attributes
    ----------
    ingredient : Ingredient
        What is dosed.
    dose : MeasuredDose
        How much, in how much.
    solution : Solution
        What comes of it. [mmol/L]
    grams : float
        Grams, or millilitres of what is measured so, in a litre. [g/L]
    water : Water
        The water.
    tolerance : float
        How far the product may be off its guarantee, as a share. [-]
    minima : bool
        Whether the guarantees are minima.
    """

    ingredient: Ingredient
    dose: MeasuredDose
    solution: Solution
    grams: float
    water: Water
    tolerance: float
    minima: bool

    def added(self, key):
        """
        Return what the product itself brings of a nutrient.

        Parameters
        ----------
        key : str
            Nutrient key.

        Returns
        -------
        float
            Concentration. [mg/L]

        Examples
        --------
        >>> round(dose_case("KNO3", "1 g/L").added("K"), 1)
        386.7
        """
        return self.grams * self.ingredient.amount(key) * nutrient(key).molar_mass

    @property
    def measure(self):
        """Return the relative rounding of the measure. [-]"""
        return self.dose.rounding_percent / PERCENT

    @property
    def ounces(self):
        """Return the relative rounding of a dose in ounces that a table prints. [-]"""
        return self.dose.ounces_percent / PERCENT

    def label_sides(self, claim):
        """
        Return how far below and above the product may be, for what its label prints.

        Parameters
        ----------
        claim : Claim
            The claim.

        Returns
        -------
        tuple of float
            Below and above, in the unit of the claim. [-]

        Examples
        --------
        >>> from formulate.claims.claim_reading import read_claims
        >>> from formulate.errors import Faults
        >>> dose_case("KNO3", "1 g/L").label_sides(*read_claims({"K": 387}, Faults()))
        (0.0, 0.0)
        """
        if claim.subject in READINGS:
            added = max(self.conducting.ec - self.plain, 0.0) / claim.unit.factor
            half = _rounded_overall(self.ingredient)
            sides = (0.0, 2 * half) if self.minima else (half, half)
        else:
            added = self.added(claim.subject)
            sides = guarantee_sides(self.ingredient, claim.subject, minima=self.minima)
        return tuple(max(side, self.tolerance) * added for side in sides)

    @cached_property
    def conducting(self):
        """Return the conductivity of the solution at 25 °C."""
        return conductivity(self.solution, temperature=REFERENCE)

    @cached_property
    def plain(self):
        """Return the EC of the water alone. [mS/cm]"""
        return conductivity(self.water.solution, temperature=REFERENCE).ec


def dose_case(thing, dose, *, water=None, tolerance=0.0, minima=None):
    """
    Return the solution that a dose makes, with what is needed to judge claims on it.

    Parameters
    ----------
    thing : Ingredient or str
        What is dosed.
    dose : MeasuredDose or str
        How much, in how much.
    water : Water, str, mapping or None
        The water; pure if None.
    tolerance : float
        How far the product may be off its guarantee, as a share. [-]
    minima : bool or None
        Whether the guarantees are minima; those of a label of basis "us" if None.

    Returns
    -------
    DoseCase
        The case.

    Examples
    --------
    >>> round(dose_case("KNO3", "10 g in 20 L").solution.mg_l("K"), 1)
    193.4
    """
    made = as_ingredient(thing)
    measured = dose if isinstance(dose, MeasuredDose) else read_dose(dose, made)
    water = water if isinstance(water, Water) else as_water(water or {})
    amounts = {made: measured.amount}
    solution = dissolve(amounts, volume=measured.litres, water=water)
    ((_, grams),) = measured_amounts(amounts, measured.litres)
    if minima is None:
        minima = has_minima(made)
    per_litre = grams / measured.litres
    return DoseCase(made, measured, solution, per_litre, water, tolerance, minima)


def nutrient_margin(case, claim):
    """
    Return the mg/L that a dose gives, and the parts of the margin.

    Parameters
    ----------
    case : DoseCase
        The dose and what comes of it.
    claim : Claim
        The claim.

    Returns
    -------
    computed : float
        What the dose gives, in the unit of the claim. [-]
    parts : dict of str to float
        What the margin is made of, in the unit of the claim. [-]

    Examples
    --------
    >>> from formulate.claims.claim_reading import read_claims
    >>> from formulate.errors import Faults
    >>> (claim,) = read_claims({"K": 387}, Faults())
    >>> computed, parts = nutrient_margin(dose_case("KNO3", "1 g/L"), claim)
    >>> round(computed, 1), sorted(parts)
    (386.7, ['claim', 'label', 'measure', 'ounces'])
    """
    added = case.added(claim.subject)
    label = max(case.label_sides(claim))
    parts = {"label": label, "claim": claim.half, "measure": case.measure * added}
    parts["ounces"] = case.ounces * added
    return float(case.solution.mg_l(claim.subject)), parts


def has_minima(ingredient):
    """
    Return whether the guarantees of a product are minima, those of a label of basis "us".

    Parameters
    ----------
    ingredient : Ingredient
        A product.

    Returns
    -------
    bool
        Whether they are.

    Examples
    --------
    >>> from formulate.ingredients.labels import label
    >>> has_minima(label("bag", basis="us", guarantees={"potash": 46}))
    True
    """
    return getattr(ingredient.reading, "basis", "") == "us"


def vouches_minima(ingredient):
    """
    Return whether more may be in a product than it is counted with.

    Parameters
    ----------
    ingredient : Ingredient
        A product. A label of basis "us" guarantees minima; where its composition follows
        from its sources, it is known from above as well.

    Returns
    -------
    bool
        Whether its guarantees are all that is known.

    Examples
    --------
    >>> from formulate.ingredients.labels import label
    >>> vouches_minima(label("bag", basis="us", guarantees={"potash": 46}))
    True
    """
    return has_minima(ingredient) and ingredient.how_known != DERIVED


def _entries(ingredient):
    return getattr(ingredient.reading, "entries", ())


def guarantee_sides(ingredient, key, *, minima=None):
    """
    Return how far below and above a product may be, for what its label prints.

    A minimum is rounded down: the product has from the printed figure up to one of its last
    digit more. Other guarantees are rounded: half a digit both ways. Where the composition
    follows from the sources, both are counted from it.

    Equation of what a guarantee leaves open [definition]::

        minimum: p to p + d        rounded: p − d/2 to p + d/2        d one unit of the last digit

    Parameters
    ----------
    ingredient : Ingredient
        A product; what has no label has no rounding.
    key : str
        Nutrient key.
    minima : bool or None
        Whether its guarantees are minima; those of a label of basis "us" if None.

    Returns
    -------
    tuple of float
        Below and above, as shares of what it is counted with. [-]

    Examples
    --------
    >>> from formulate.ingredients.labels import label
    >>> bag = label("bag", basis="us", guarantees={"nitrate nitrogen": 20})
    >>> guarantee_sides(bag, "N")
    (0.0, 0.05)
    """
    minima = has_minima(ingredient) if minima is None else minima
    forms, found = set(nutrient(key).weights), []
    for entry in _entries(ingredient):
        if entry.percent and set(nutrient(entry.key).weights) == forms:
            found.append(_sides(ingredient, entry, minima))
    if found:
        below, above = zip(*found, strict=True)
        return min(below), min(above)
    half = rounded_guarantee(ingredient, key)
    is_minimum = minima and ingredient.how_known != DERIVED
    return (0.0, 2 * half) if is_minimum else (half, half)


def _sides(ingredient, entry, minima):
    """Return how far below and above one guarantee lets a product be, as shares of it."""
    there = entry.percent
    if ingredient.how_known == DERIVED:
        there = ingredient.percent(entry.key) or entry.percent
    half = entry.half_digit
    low, high = (0.0, 2 * half) if minima else (-half, half)
    off = entry.percent - there
    return max(-off - low, 0.0) / there, max(off + high, 0.0) / there


def rounded_guarantee(ingredient, key):
    """
    Return the rounding of the guarantee that a nutrient is counted from, as a share of it.

    Parameters
    ----------
    ingredient : Ingredient
        A product; what has no label has no rounding.
    key : str
        Nutrient key.

    Returns
    -------
    float
        Half the last printed digit over the guarantee, or as far as what the sources of
        the label bring lies from it, if that is more. [-]

    Examples
    --------
    >>> from formulate.ingredients.labels import label
    >>> bag = label("bag", basis="us", guarantees={"nitrate nitrogen": 13, "potash": 46})
    >>> round(rounded_guarantee(bag, "K"), 4)
    0.0109
    """
    forms, shares = set(nutrient(key).weights), []
    total = ingredient.percent(key)
    for entry in _entries(ingredient):
        counted = nutrient(entry.key)
        if entry.percent and set(counted.weights) == forms:
            beyond = 0.0
            if ingredient.how_known == DERIVED:
                beyond = abs(ingredient.percent(entry.key) - entry.percent)
            shares.append(max(entry.half_digit, beyond) / entry.percent)
    if shares or not total:
        return min(shares, default=0.0)
    overlapping = {}
    for entry in _entries(ingredient):
        if entry.percent and forms & set(nutrient(entry.key).weights):
            share = entry.half_digit / entry.percent
            overlapping[entry.key] = min(share, overlapping.get(entry.key, share))
    return max(overlapping.values(), default=0.0)


def _rounded_overall(ingredient):
    """Return the relative rounding of the guarantees together, totals only."""
    halves, percents = {}, {}
    for entry in _entries(ingredient):
        if entry.kind in ("total", "grade", "available") and entry.percent:
            half = halves.get(entry.key, entry.half_digit)
            halves[entry.key] = min(half, entry.half_digit)
            percents[entry.key] = entry.percent
    return sum(halves.values()) / sum(percents.values()) if halves else 0.0


def ec_margin(case, claim):
    """
    Return the EC in the unit of the claim, and the parts of the margin.

    Parameters
    ----------
    case : DoseCase
        The dose and what comes of it.
    claim : Claim
        The claim.

    Returns
    -------
    computed : float
        What the dose gives, in the unit of the claim. [-]
    parts : dict of str to float
        What the margin is made of, in the unit of the claim. [-]

    Examples
    --------
    >>> from formulate.claims.claim_reading import read_claims
    >>> from formulate.errors import Faults
    >>> (claim,) = read_claims({"EC": "1.3 mS/cm"}, Faults())
    >>> computed, parts = ec_margin(dose_case("KNO3", "1 g/L"), claim)
    >>> round(computed, 2), sorted(parts)
    (1.35, ['claim', 'label', 'measure', 'model', 'ounces', 'unnamed ions'])
    """
    found, shown = case.conducting, 1.0 / claim.unit.factor
    by_product = max(found.ec - case.plain, 0.0)
    parts = {
        "label": max(case.label_sides(claim)),
        "claim": claim.half,
        "measure": case.measure * by_product * shown,
        "ounces": case.ounces * by_product * shown,
        "model": found.error_percent / PERCENT * found.ec * shown,
        "unnamed ions": _unnamed(found) * shown,
    }
    return found.ec * shown, parts


def _unnamed(found):
    """Return how far the EC may be off because some ions are not named. [mS/cm]"""
    total = 0.0
    for sign in (1, -1):
        counted_as = MAIN_IONS[sign][0]
        carried = found.by_ion.get(f"unnamed as {counted_as}", 0.0)
        own = carrier(counted_as, REFERENCE).limit
        single = [carrier(ion, REFERENCE).limit for ion in MAIN_IONS[sign]]
        double = [carrier(ion, REFERENCE).limit / 2 for ion in MAIN_PAIRS[sign]]
        widest = max(abs(limit / own - 1.0) for limit in (*single, *double))
        total += widest * float(carried)
    return total
