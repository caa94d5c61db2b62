"""One week of a feed chart: what its doses make, and what the chart claims of it."""

from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType

from formulate.claims.chart_reading import ChartLine
from formulate.claims.claim_reading import ACIDITY, READINGS, read_claims
from formulate.claims.claim_verdicts import (
    Poured,
    claim_verdict,
    margin_sides,
    margin_words,
    ph_finding,
)
from formulate.claims.dose_claims import GRAVITY, DoseClaim
from formulate.claims.dose_margins import (
    DoseCase,
    ec_margin,
    guarantee_sides,
    has_minima,
)
from formulate.claims.dose_measures import MeasuredDose
from formulate.claims.finding import Finding
from formulate.errors import Faults, FormulateError, MissingData, shortened
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.water import Water
from formulate.mixing.sequence import simulate_mixing
from formulate.recipes.target import Target
from formulate.stoichiometry.solution import Solution
from formulate.working import Shown, printed

__all__ = ["CHART_KEYS", "CHART_RATIOS", "ChartWeek"]

PERCENT = 100.0
MIXTURE = Ingredient("mixture", {}, dissolved=True)
MADE = MeasuredDose("the chart's doses", "", 1.0)
SHARES = ("label below", "label above", "measure", "ounces")
MAIN = ("N", "P", "K", "Ca", "Mg", "S")
CHART_KEYS = (*MAIN, "Cl", "Na", "Si", "Fe", "Mn", "Zn", "Cu", "B", "Mo")
CHART_RATIOS = (("N", "K"), ("K", "Ca"), ("Ca", "Mg"), ("NH4-N", "N"))


@dataclass(frozen=True, eq=False)
class ChartWeek(Shown):
    """
    One week, or stage, of a chart.

    Attributes
    ----------
    line : ChartLine
        What the chart says.
    solution : Solution
        What the doses make in the water. [mmol/L]
    ph : float
        Its pH, closed to the air. [-]
    ec : float or None
        Its EC at 25 °C; None if an ion has no known conductivity. [mS/cm]
    water : Water
        The water.
    target : Target or None
        What the week is to hold.
    """

    line: ChartLine
    solution: Solution = field(repr=False)
    ph: float
    ec: float | None
    water: Water = field(repr=False)
    target: Target | None = None

    @property
    def name(self):
        """Return the week as the chart calls it."""
        return self.line.week

    @property
    def mg_l(self):
        """Return nutrient key to what there is of it; what is absent is left out. [mg/L]"""
        values = {key: float(self.solution.mg_l(key)) for key in CHART_KEYS}
        return MappingProxyType({key: v for key, v in values.items() if v})

    @property
    def ratios(self):
        """Return a pair such as "N:K" to its ratio by mass; None without the second. [-]"""
        values = {key: self.solution.mg_l(key) for pair in CHART_RATIOS for key in pair}
        return {
            f"{a}:{b}": float(values[a] / values[b]) if values[b] else None
            for a, b in CHART_RATIOS
        }

    @property
    def cost_per_litre(self):
        """Return what a litre costs; None if a product has no price. [currency/L]"""
        costs = [one.ingredient.cost(one.amount) for one in self.line.doses]
        return None if None in costs else float(sum(costs))

    @property
    def against(self):
        """
        Return each nutrient of the target: key, mg/L there, mg/L wanted, how far off in %.

        A value within a wanted range is not off; where none is wanted, how far is None. [%]
        """
        wanted = self.target.wanted if self.target else {}
        return tuple(self._off(key) for key in wanted)

    def _off(self, key):
        """Return one line of `against`."""
        there, wanted = self.solution.mmol_l(key), self.target.wanted[key]
        low, high = self.target.ranges.get(key, (wanted, wanted))
        nearest = min(max(there, low), high)
        off = 0.0 if there == nearest else None
        if off is None and nearest:
            off = PERCENT * float(there / nearest - 1.0)
        return key, float(self.solution.mg_l(key)), float(self.target.mg_l(key)), off

    @cached_property
    def poured(self):
        """Return the log of pouring the doses together in the chart's order, or None."""
        amounts = {one.ingredient: one.amount for one in self.line.doses}
        if not amounts:
            return None
        return simulate_mixing(amounts, volume=1.0, water=self.water)

    @property
    def poured_words(self):
        """Return what happens when poured in the chart's order, in words."""
        try:
            log = self.poured
        except FormulateError as error:
            return f"cannot be worked out: {error}"
        if log is None:
            return "nothing is poured"
        worst = log.worst
        if not worst.nearest:
            return "nothing can fall out"
        what = f"{worst.nearest}, {worst.word} (index {worst.index:+.2f})"
        left = [f"{printed(v, 3)} mg/L {k}" for k, v in log.left_at_the_end.items()]
        stays = f"; left at the end: {', '.join(left)}" if left else ""
        return f"nearest to falling out with {worst.name}: {what}{stays}"

    @property
    def assumed(self):
        """Return how short units such as tsp/gal were read, by product."""
        doses = self.line.doses
        return tuple(
            f"{o.ingredient.name}: {o.dose.assumed}" for o in doses if o.dose.assumed
        )

    @cached_property
    def claims(self):
        """Return every claim of the chart on this week, with its verdict."""
        found = [self._held(claim) for claim in self.line.claims]
        return (*found, *([self._held_ph()] if self.line.ph else []))

    @property
    def findings(self):
        """Return one finding for each claim."""
        return tuple(claim.finding for claim in self.claims)

    def _held(self, claim):
        """Return a claim held against what the doses give."""
        if claim.subject not in READINGS:
            computed = float(self.solution.mg_l(claim.subject))
            parts, label = self._margin_of(claim)
            of_water = float(self.water.solution.mg_l(claim.subject))
            return self._judged(claim, computed, parts, label, of_water)
        try:
            computed, parts = ec_margin(self._case, claim)
        except MissingData as error:
            what = f"{claim.shown} claimed; the EC cannot be worked out: {error}"
            return self._doubt(claim.subject, claim.value, str(claim.unit), what)
        *sides, measure, ounces = self._shares
        of_water = self._case.plain / claim.unit.factor
        added = max(computed - of_water, 0.0)
        label = tuple(side * added for side in sides)
        parts |= {"label": max(label), "measure": measure * added}
        parts["ounces"] = ounces * added
        return self._judged(claim, computed, parts, label, of_water)

    @cached_property
    def _case(self):
        return DoseCase(MIXTURE, MADE, self.solution, 0.0, self.water, 0.0, False)

    @cached_property
    def _poured(self):
        """Return the products with their amounts."""
        return tuple(
            Poured(one.ingredient, one.amount, has_minima(one.ingredient))
            for one in self.line.doses
        )

    def _margin_of(self, claim):
        """Return the parts of the margin of a nutrient, and the sides of the labels."""
        brought = [one.added(claim.subject) for one in self._poured]
        shares = [self._shares_of(one, claim.subject) for one in self.line.doses]
        pairs = list(zip(brought, shares, strict=True))
        below, above, measure, ounces = (
            sum(added * share[n] for added, share in pairs) for n in range(len(SHARES))
        )
        parts = {"label": max(below, above), "claim": claim.half}
        parts |= {"measure": measure, "ounces": ounces}
        return parts, (below, above)

    @staticmethod
    def _shares_of(one, key):
        """Return what SHARES names of one dose and nutrient. [-]"""
        below, above = guarantee_sides(one.ingredient, key)
        dose = one.dose
        return (
            below,
            above,
            dose.rounding_percent / PERCENT,
            dose.ounces_percent / PERCENT,
        )

    @property
    def _shares(self):
        """Return what SHARES names, of all that is added."""
        total, sums = 0.0, [0.0] * len(SHARES)
        for one, product in zip(self.line.doses, self._poured, strict=True):
            for key in MAIN:
                added = product.added(key)
                total += added
                shares = self._shares_of(one, key)
                sums = [s + added * x for s, x in zip(sums, shares, strict=True)]
        return tuple(one / total if total else 0.0 for one in sums)

    def _judged(self, claim, computed, parts, label, of_water):
        """Return a claim with its verdict."""
        kept = {name: part for name, part in parts.items() if part}
        sides = margin_sides(kept, label, claim)
        verdict, more = claim_verdict(claim, computed, sides, self._poured, of_water)
        both = f"{claim.shown} claimed, {printed(computed)} {claim.unit} computed"
        words = f"{both}, {margin_words(kept, label)}{more}"
        rule = "sum of doses times shares, claim within the margin"
        subject = f"week {self.name}, {claim.subject}"
        severity = GRAVITY[verdict]
        told = Finding(subject, verdict, words, claim.value, computed, severity, rule)
        of_unit, held = str(claim.unit), MappingProxyType(kept)
        given = (claim.subject, claim.value, computed, of_unit, held, told)
        return DoseClaim(*given, sides, claim.cut, claim.as_printed)

    def _held_ph(self):
        """Return the pH that the chart tells; acid and air may have been at it."""
        said, faults = self.line.ph, Faults()
        claims = read_claims({ACIDITY: said}, faults)
        if not claims:
            what = f"pH {shortened(said)} is no number; {self.ph:.2f} computed"
            return self._doubt(ACIDITY, 0.0, "", what)
        (claim,) = claims
        told = ph_finding(f"week {self.name}, {ACIDITY}", claim, self.ph)
        parts = MappingProxyType({"claim": claim.half})
        sides = claim.half + claim.cut, claim.half
        given = (ACIDITY, claim.value, self.ph, "", parts, told)
        return DoseClaim(*given, sides, claim.cut)

    def _doubt(self, subject, value, of_unit, what):
        """Return a claim on which nothing can be told."""
        told = Finding(f"week {self.name}, {subject}", "cannot tell", what, value)
        none = MappingProxyType({})
        return DoseClaim(subject, value, None, of_unit, none, told)

    def __str__(self):
        shown = ", ".join(f"{key} {printed(v, 3)}" for key, v in self.mg_l.items())
        ec = "EC unknown" if self.ec is None else f"EC {self.ec:.2f} mS/cm"
        head = f"{self.name}: {ec}, pH {self.ph:.2f}; {shown or 'no nutrient'} mg/L"
        off = [f"{key} {off:+.0f} %" for key, _, _, off in self.against if off]
        told = [f"  off target: {', '.join(off)}"] if off else []
        return "\n".join([head, *told, *(f"  - {one}" for one in self.findings)])
