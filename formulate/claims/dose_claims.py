"""A dose held against what is claimed of it: mg/L of nutrients, EC, or TDS on a stated scale.

The margin is made of what nobody can know better: the rounding of the printed guarantees,
of the claim and of the measure, and, for EC, the stated error of the model.
"""

import re
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import hypot, log
from types import MappingProxyType

from formulate.checks import checked_number
from formulate.claims.claim_reading import READINGS, Claim, read_claims
from formulate.claims.dose_margins import (
    dose_case,
    ec_margin,
    nutrient_margin,
)
from formulate.claims.dose_measures import MeasuredDose, read_dose
from formulate.claims.finding import Finding, gravest_finding
from formulate.claims.slip_pairs import MOST_SUBJECTS
from formulate.claims.slip_search import explain
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
        Nutrient key, "EC" or "TDS".
    claimed : float
        The claim, in `unit`. [-]
    computed : float or None
        What the dose gives, in `unit`; None if it cannot be worked out. [-]
    unit : str
        "mg/L", or a unit of conductivity.
    parts : mapping of str to float
        What the margin is made of: "label", "claim", "measure", and for EC "model" and
        "unnamed ions"; in `unit`. [-]
    finding : Finding
        The verdict and why.
    """

    subject: str
    claimed: float
    computed: float | None
    unit: str
    parts: MappingProxyType
    finding: Finding

    @property
    def margin(self):
        """Return how far apart the two may be and still agree, in `unit`. [-]"""
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
            uncertainty of their ratio, the margin taken as a bound; what is less sure than
            one half tells nothing and is left out. [-]

        Examples
        --------
        >>> found = check_dose("KNO3", "1 g/L", {"K": 387})
        >>> {key: round(pair[1], 1) for key, pair in found.pairs().items()}
        {'K': 386.7}
        """
        found = {}
        for c in self.claims:
            if c.computed and c.claimed:
                sure = c.margin / ROOT_3 / min(c.claimed, c.computed)
                found[c.subject] = (c.claimed, c.computed, sure)
        return {key: pair for key, pair in found.items() if pair[2] <= MOST_UNSURE}

    @cached_property
    def slips(self):
        """Return which slip, or which two, explain the claims; None if there are no pairs."""
        pairs = {key: self._widened(key, *pair) for key, pair in self.pairs().items()}
        found = {key: pair for key, pair in pairs.items() if pair[2] <= MOST_UNSURE}
        some = dict(list(found.items())[:MOST_SUBJECTS])
        return explain(some, density=self.ingredient.density) if some else None

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
        if self.verdict != "right" and self.slips and self.slips.groups:
            told.append(f"perhaps {self.slips.finding.what}")
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
        Such as "5 mL/L", "1/2 tsp/gal", "2 lb/100 US gal", "10 g in 25 L"; grams of a bare
        number. [g]
    claims : mapping of str to float or str
        Nutrient key on any basis to mg/L (or text such as "10 mmol/L"); "EC" to "1.8 mS/cm";
        "TDS" to "1200 ppm (500)", the scale said. [mg/L]
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
    perhaps K taken for K2O (K2O) or the number of K printed for K2O (or, less plainly, 3 of \
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


def _judged(case, claim, computed, parts):
    """Return a claim with its verdict."""
    kept = MappingProxyType({name: part for name, part in parts.items() if part})
    margin = sum(kept.values())
    verdict, more = _verdict(case, claim, computed, margin)
    if verdict == "right":
        words = f"yes, this is right: {_both(claim, computed)}, {_margin(margin, kept)}"
    else:
        off = _off(claim, computed)
        words = f"{off}, {_margin(margin, kept)}{more}{_hint(case, claim)}"
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
    return DoseClaim(claim.subject, claim.value, computed, str(claim.unit), kept, told)


def _verdict(case, claim, computed, margin):
    """Return the verdict, and what minima have to do with it."""
    off = claim.value - computed
    if abs(off) <= margin * (1 + ROUNDING):
        return "right", ""
    if _is_too_much(case, claim, margin):
        mass = printed(1000 * case.grams)
        return "impossible", f"; more than the {mass} mg/L of product that are put in"
    if off < 0 and case.minima:
        return "cannot tell", (
            "; guarantees are minima, so more than claimed is no fault by itself, yet as a "
            "figure it does not follow from the label"
        )
    minima = "; the guarantees, which are minima, vouch for no more"
    return "wrong", minima if case.minima and computed else ""


def _is_too_much(case, claim, margin):
    """Return whether more is claimed than product and water hold of anything."""
    if claim.subject in READINGS or case.ingredient.measured_in != "g":
        return False
    is_element = re.fullmatch("[A-Z][a-z]?", nutrient(claim.subject).basis)
    of_water = float(case.water.solution.mg_l(claim.subject))
    most = 1000 * case.grams + of_water
    return bool(is_element) and claim.value - margin > most


def _both(claim, computed):
    return f"{claim.shown} claimed, {printed(computed)} {claim.unit} computed"


def _margin(margin, parts):
    made = ", ".join(f"{name} {part:.2g}" for name, part in parts.items())
    return f"margin ± {margin:.2g} ({made})"


def _off(claim, computed):
    """Return by how much a claim is off, in words."""
    if not computed:
        return f"{claim.shown} claimed, none computed: nothing in it brings {claim.subject}"
    off = claim.value / computed - 1.0
    share, side = f"{PERCENT * abs(off):.1f} %", "more" if off > 0 else "less"
    told = f"{1.0 + off:.3g} times that" if off > 1 else f"{share} {side} than that"
    return f"{_both(claim, computed)}: {told}"


def _hint(case, claim):
    """Return as what a wrong claim would be right, if as anything."""
    if claim.subject == "TDS" or "scale" in str(claim.unit):
        return _scale_hint(case, claim)
    if claim.subject in READINGS:
        return ""
    names = [key for key in nutrient_keys() if _fits(case, claim, key)]
    own = set(nutrient(claim.subject).weights)
    alike = [key for key in names if not own.isdisjoint(nutrient(key).weights)]
    fitting = ", ".join((alike or names)[:MOST_HINTS])
    return f"; it would be right as {fitting}" if fitting else ""


def _fits(case, claim, key):
    """Return whether a claim would be right for another nutrient, or on another basis."""
    computed, parts = nutrient_margin(case, replace(claim, subject=key))
    return computed > 0 and abs(claim.value - computed) <= sum(parts.values())


def _scale_hint(case, claim):
    """Return on which other scale a reading would be right."""
    for row in read_table("meter_scales"):
        other = unit(f"ppm ({row['scale']} scale)")
        computed, parts = ec_margin(case, Claim("TDS", claim.value, claim.half, other))
        if abs(claim.value - computed) <= sum(parts.values()):
            return f"; it would be right on the {row['scale']} scale"
    return ""
