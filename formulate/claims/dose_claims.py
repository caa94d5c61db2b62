"""A dose held against what is claimed of it: mg/L of nutrients, EC, TDS on a scale, or pH.

The margin is made of what nobody can know better: the rounding of the printed guarantees,
of the claim and of the measure, and, for EC, the stated error of the model.
"""

from dataclasses import dataclass, field, replace
from functools import cached_property
from math import hypot, log
from types import MappingProxyType

from formulate.checks import checked_number
from formulate.chemistry.speciation import speciate
from formulate.claims.claim_reading import ACIDITY, READINGS, Claim, read_claims
from formulate.claims.claim_verdicts import (
    Poured,
    claim_verdict,
    margin_sides,
    margin_words,
    ph_finding,
)
from formulate.claims.dose_margins import (
    dose_case,
    ec_margin,
    nutrient_margin,
)
from formulate.claims.dose_measures import MeasuredDose, read_dose
from formulate.claims.dose_slips import dose_slips, rounded_factor
from formulate.claims.finding import Finding, gravest_finding
from formulate.errors import Faults, FormulateError, MissingData, shortened
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.labels import read_label
from formulate.ingredients.salts import as_ingredient
from formulate.ingredients.water import Water
from formulate.ingredients.water import water as as_water
from formulate.stoichiometry.nutrients import nutrient, nutrient_keys
from formulate.stoichiometry.quantities import check_volume
from formulate.stoichiometry.solution import Solution
from formulate.stoichiometry.units import unit
from formulate.tables import read_table, rule_of
from formulate.working import Shown, printed

__all__ = ["DoseCheck", "DoseClaim", "check_dose"]

PERCENT = 100.0
UNKNOWN = Ingredient(
    "product", {}, dissolved=True
)  # so that its dose is read all the same
ROOT_3 = 3.0**0.5  # standard uncertainty of a value that lies anywhere within a bound
MOST_HINTS = 3
MOST_UNSURE = 0.5
ROUNDING = 1e-9  # of the arithmetic itself
EC_FOLLOWS = "EC of a changed dose"  # rule of the table of charts
GRAVITY = {
    "right": "note",
    "cannot tell": "caution",
    "wrong": "caution",
    "impossible": "serious",
}


@dataclass(frozen=True, eq=False)
class DoseClaim(Shown):
    """
    One claim and what the arithmetic gives.

    Attributes
    ----------
    subject : str
        Nutrient key, "EC", "TDS" or "pH".
    claimed : float
        The claim, in `unit`; the middle of a range. [-]
    computed : float or None
        What the dose gives, in `unit`; None if it cannot be worked out. [-]
    unit : str
        "mg/L", or a unit of conductivity.
    parts : mapping of str to float
        What the margin is made of: "label", "claim", "measure", "ounces", and for EC
        "model" and "unnamed ions"; in `unit`. [-]
    finding : Finding
        The verdict and why.
    sides : tuple of float
        How far below and above what was computed it may be and agree, in `unit`. [-]
    cut : float
        How much of the former is for a last digit that is cut, likewise. [-]
    as_printed : str
        The number of the claim as it is printed; empty if it is not one plain number.
    """

    subject: str
    claimed: float
    computed: float | None
    unit: str
    parts: MappingProxyType
    finding: Finding
    sides: tuple = (0.0, 0.0)
    cut: float = 0.0
    as_printed: str = ""

    @property
    def margin(self):
        """Return how far apart the two may be, the claim rounded, in `unit`. [-]"""
        return sum(self.parts.values())

    @property
    def difference_percent(self):
        """Return how far the claim is above what was computed; None without that. [%]"""
        if not self.computed:
            return None
        return PERCENT * (self.claimed / self.computed - 1.0)

    def __str__(self):
        return str(self.finding)


@dataclass(frozen=True, eq=False)
class DoseCheck(Shown):
    """
    A dose and every claim that was made of it.

    Attributes
    ----------
    ingredient : Ingredient
        What is dosed.
    dose : MeasuredDose
        How much, in how much.
    solution : Solution
        What comes of it. [mmol/L]
    claims : tuple of DoseClaim
        Each claim with its verdict.
    """

    ingredient: Ingredient
    dose: MeasuredDose
    solution: Solution = field(repr=False)
    claims: tuple

    @property
    def findings(self):
        """Return one finding for each claim."""
        return tuple(claim.finding for claim in self.claims)

    @property
    def verdict(self):
        """Return the gravest verdict."""
        return gravest_finding(self.findings)

    def pairs(self):
        """
        Return the claims as they are searched for slips.

        Returns
        -------
        dict of str to tuple
            Subject to what is claimed, what was computed, and the relative standard
            uncertainty of their ratio, what agrees taken as bounds; what is less sure than
            one half tells nothing and is left out, and so is a pH. [-]

        Examples
        --------
        >>> found = check_dose("KNO3", "1 g/L", {"K": 387})
        >>> {key: round(pair[1], 1) for key, pair in found.pairs().items()}
        {'K': 386.7}
        """
        found = {}
        for c in self.claims:
            if c.computed and c.claimed and c.subject != ACIDITY:
                sure = sum(c.sides) / 2 / ROOT_3 / min(c.claimed, c.computed)
                found[c.subject] = (c.claimed, c.computed, sure)
        return {key: pair for key, pair in found.items() if pair[2] <= MOST_UNSURE}

    @cached_property
    def slips(self):
        """
        Return which slip, or which two, explain the claims; None if there are no pairs.

        Where a claim is wrong by less than their noise, no slip is told.
        """
        pairs = {key: self._widened(key, *pair) for key, pair in self.pairs().items()}
        return dose_slips(pairs, self.claims, self.ingredient, ratio=self.dose.ratio)

    def _widened(self, key, claimed, computed, sure):
        """Return a pair; an EC is less sure the further it is off, for it follows nearly."""
        if key in READINGS:
            nearly = rule_of("chart_rules", EC_FOLLOWS).number("value") / PERCENT
            sure = hypot(sure, nearly * abs(log(claimed / computed)))
        return claimed, computed, sure

    def rows(self):
        """
        Return subject, claimed, computed, margin, unit and verdict of each claim.

        Returns
        -------
        tuple of tuple
            One row for each claim. [-]

        Examples
        --------
        >>> check_dose("KNO3", "1 g/L", {"K": 387}).rows()[0][-1]
        'right'
        """
        return tuple(
            (c.subject, c.claimed, c.computed, c.margin, c.unit, c.finding.verdict)
            for c in self.claims
        )

    def to_frame(self):
        """
        Return the claims as a table.

        Returns
        -------
        pandas.DataFrame
            One row for each claim, numbers in the unit of the row. [-]

        Examples
        --------
        >>> check_dose("KNO3", "1 g/L", {"K": 387}).to_frame()["verdict"].tolist()
        ['right']
        """
        import pandas as pd

        names = ["subject", "claimed", "computed", "margin", "unit", "verdict"]
        return pd.DataFrame(self.rows(), columns=names)

    def __str__(self):
        assumed = f" ({self.dose.assumed})" if self.dose.assumed else ""
        head = f"{self.ingredient.name}, {self.dose.text}{assumed}: {self.verdict}"
        told = [head, *(f"- {claim}" for claim in self.claims)]
        slips = self.slips if self.verdict != "right" else None
        if slips and (slips.groups or slips.misprints) and not slips.is_right:
            told.append(f"perhaps {slips.finding.what}")
        return "\n".join(told)


def check_dose(
    ingredient,
    dose,
    claims,
    *,
    volume=None,
    water=None,
    tolerance_percent=None,
    minima=None,
):
    """
    Return whether a dose gives what is claimed of it.

    Parameters
    ----------
    ingredient : Ingredient or str
        The product, a salt by name or formula, or the printed text of a label.
    dose : str or float
        Such as "5 mL/L", "1/2 tsp/gal", "2 lb/100 US gal", "10 g in 25 L"; "1:100" of a
        liquid, "13.5 oz/gal at 1:100" of a concentrate; grams of a bare number. [g]
    claims : mapping of str to float or str
        Nutrient key on any basis to mg/L (or text such as "10 mmol/L"); "EC" to "1.8 mS/cm";
        "TDS" to "1200 ppm (500)", the scale said; "pH". Ranges such as "140-160" and
        "about 150" as well. [mg/L]
    volume : float, str or None
        Volume of the solution, where the dose does not say. [L]
    water : Water, str, mapping or None
        The water; pure if None.
    tolerance_percent : float or None
        How far the product may be off its guarantee, where that is more than the rounding
        of the printed guarantee. [%]
    minima : bool or None
        Whether the guarantees are minima, so that more than claimed is no fault; if None,
        they are on a label of basis "us".

    Returns
    -------
    DoseCheck
        A finding for each claim, "right" being one.

    Raises
    ------
    InputError
        With every fault of product, dose, water and claims.

    Examples
    --------
    >>> print(check_dose("KNO3", "1 g/L", {"K": 387, "K2O": "387"}))
    KNO3, 1 g/L: wrong
    - K: right; yes, this is right: 387.0 mg/L claimed, 386.7 mg/L computed, margin ± 0.5 (claim 0.5)
    - K2O: wrong; 387.0 mg/L claimed, 465.8 mg/L computed: 16.9 % less than that, margin ± 0.5 \
(claim 0.5); it would be right as K
    perhaps K taken for K2O (K2O) or the number of K printed for K2O (or, less plainly, 5 of \
two slips)
    """
    faults, made = Faults(), None
    with faults.collecting():
        made = _product(ingredient)
    read = read_claims(claims, faults)
    with faults.collecting("water"):
        water = water if isinstance(water, Water) else as_water(water or {})
    tolerance = 0.0
    with faults.collecting():
        tolerance = _tolerance(tolerance_percent)
    if minima not in (None, True, False):
        faults.add(f"minima: {shortened(minima)}: give True, False or None")
    with faults.collecting():
        volume = None if volume is None else check_volume(volume)
    measured = None
    with faults.collecting():
        measured = read_dose(dose, made or UNKNOWN, volume=volume)
    faults.raise_if_any()
    case = dose_case(made, measured, water=water, tolerance=tolerance, minima=minima)
    held = tuple(_held(case, claim) for claim in read)
    return DoseCheck(made, measured, case.solution, held)


def _product(thing):
    """Return an ingredient, by name, formula or the printed text of its label."""
    if isinstance(thing, str) and ("\n" in thing.strip() or "%" in thing):
        try:
            return as_ingredient(thing)  # names such as nitric acid 67 %
        except FormulateError:
            return read_label(thing)
    return as_ingredient(thing)


def _tolerance(percent):
    if percent is None:
        return 0.0
    what = "tolerance in %"
    return checked_number(percent, what, least=0, most=PERCENT) / PERCENT


# --- judging -----------------------------------------------------------------------------------


def _held(case, claim):
    """Return a claim held against what the dose gives."""
    if claim.subject == ACIDITY:
        return _held_ph(case, claim)
    if claim.subject not in READINGS:
        computed, parts = nutrient_margin(case, claim)
        return _judged(case, claim, computed, parts)
    try:
        computed, parts = ec_margin(case, claim)
    except (MissingData, ArithmeticError) as error:
        what = f"{claim.shown} claimed; the EC cannot be worked out: {error}"
        told = Finding(claim.subject, "cannot tell", what, claim.value)
        none = MappingProxyType({})
        return DoseClaim(claim.subject, claim.value, None, str(claim.unit), none, told)
    return _judged(case, claim, computed, parts)


def _held_ph(case, claim):
    """Return a claimed pH held against that of the solution closed to the air."""
    ph = float(speciate(case.solution).ph)
    parts = MappingProxyType({"claim": claim.half})
    sides = claim.half + claim.cut, claim.half
    told = ph_finding(ACIDITY, claim, ph)
    return DoseClaim(ACIDITY, claim.value, ph, "", parts, told, sides, claim.cut)


def _judged(case, claim, computed, parts):
    """Return a claim with its verdict."""
    kept = MappingProxyType({name: part for name, part in parts.items() if part})
    label = case.label_sides(claim)
    sides = margin_sides(kept, label, claim)
    products = (Poured(case.ingredient, case.grams, case.minima),)
    verdict, more = claim_verdict(
        claim, computed, sides, products, _of_water(case, claim)
    )
    margin = margin_words(kept, label)
    if verdict == "right":
        words = f"yes, this is right: {_both(claim, computed)}, {margin}{more}"
    else:
        off = _off(claim, computed)
        words = f"{off}, {margin}{more}{_hint(case, claim, computed, sides)}"
    told = Finding(
        claim.subject,
        verdict,
        words,
        claim.value,
        computed,
        GRAVITY[verdict],
        "dose times share, claim within the margin",
        case.dose.source_key if kept.get("measure") else "",
    )
    held = (claim.subject, claim.value, computed, str(claim.unit), kept, told, sides)
    return DoseClaim(*held, claim.cut, claim.as_printed)


def _of_water(case, claim):
    """Return what the water alone gives, in the unit of the claim. [-]"""
    if claim.subject in READINGS:
        return case.plain / claim.unit.factor
    return float(case.water.solution.mg_l(claim.subject))


def _both(claim, computed):
    return f"{claim.shown} claimed, {printed(computed)} {claim.unit} computed"


def _off(claim, computed):
    """Return by how much a claim is off, in words."""
    if not computed:
        return f"{claim.shown} claimed, none computed: nothing in it brings {claim.subject}"
    near = min(max(computed, claim.value - claim.half), claim.value + claim.half)
    off = (near if " to " in claim.text else claim.value) / computed - 1.0
    share, side = f"{PERCENT * abs(off):.1f} %", "more" if off > 0 else "less"
    told = f"{1.0 + off:.3g} times that" if off > 1 else f"{share} {side} than that"
    return f"{_both(claim, computed)}: {told}"


def _hint(case, claim, computed, sides):
    """Return as what a wrong claim would be right, if as anything."""
    if claim.subject == "TDS" or "scale" in str(claim.unit):
        return _scale_hint(case, claim)
    if claim.subject in READINGS:
        return ""
    factor = rounded_factor(claim, computed, sides)
    if factor:
        return f"; it would be right as {factor}"
    names = [key for key in nutrient_keys() if _fits(case, claim, key)]
    own = set(nutrient(claim.subject).weights)
    alike = [key for key in names if not own.isdisjoint(nutrient(key).weights)]
    fitting = ", ".join((alike or names)[:MOST_HINTS])
    return f"; it would be right as {fitting}" if fitting else ""


def _fits(case, claim, key):
    """Return whether a claim would be right for another nutrient, or on another basis."""
    other = replace(claim, subject=key)
    computed, parts = nutrient_margin(case, other)
    return computed > 0 and _is_within(case, other, computed, parts)


def _is_within(case, claim, computed, parts):
    below, above = margin_sides(parts, case.label_sides(claim), claim)
    return -below <= claim.value - computed <= above


def _scale_hint(case, claim):
    """Return on which other scale a reading would be right."""
    for row in read_table("meter_scales"):
        other = unit(f"ppm ({row['scale']} scale)")
        same = Claim("TDS", claim.value, claim.half, other, claim.cut)
        if _is_within(case, same, *ec_margin(case, same)):
            return f"; it would be right on the {row['scale']} scale"
    return ""
