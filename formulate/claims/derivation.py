"""What "derived from" and the guarantees tell together: every blend that fits, not one guess.

Unknown are the grams of each named material in 100 g of product, the rest being water or
inert; known are the guarantees with their rounding. What the label leaves unsaid lies
between the least and the greatest that any such blend holds.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from formulate.checks import checked_number
from formulate.claims.blend_ranges import (
    WHOLE,
    Blends,
    extremes,
    least_room,
    least_slack,
)
from formulate.claims.blend_sums import BlendRange, BlendSum, materials_of, sums_asked
from formulate.claims.derivation_findings import (
    conflict_findings,
    excess_findings,
    source_findings,
    told_once,
    unsupplied_findings,
)
from formulate.claims.derived_ingredient import derived_ingredient
from formulate.claims.dilution import dilute
from formulate.claims.finding import Finding, gravest_finding
from formulate.claims.guarantees import RULES, guarantees_of, read_guarantees
from formulate.claims.loose_sources import doubt_findings, doubted, is_open
from formulate.claims.named_sources import named_sources
from formulate.errors import Faults, Infeasible, InputError, shortened
from formulate.ingredients.ingredient import DENSITIES
from formulate.stoichiometry.nutrients import nutrient
from formulate.working import Shown

__all__ = ["Derivation", "derive"]

PERCENT = 100.0
SAME_BLEND = 6  # decimals of grams
ROUND_OFF = 1e-9  # of a guarantee


@dataclass(frozen=True, eq=False)
class Derivation(Shown):
    """
    The range of blends that a label allows.

    Attributes
    ----------
    name : str
        What the product is called.
    rule : str
        "us" or "eu".
    sources : tuple of NamedSource
        The sources.
    guarantees : tuple of Guarantee
        What is guaranteed.
    unsupplied : tuple of Guarantee
        Those that no named source holds.
    blends : Blends
        The limits that the other guarantees set.
    sums : tuple of BlendSum
        What is asked of the blends.
    vertices : array, shape (2, k, n), or None
        The blends where each of these is least and greatest; None if no blend fits. [g]
    slack : tuple
        Where no blend fits, the least change of the guarantees that ends it, below and
        above, and what they weigh beyond 100 g. [%]
    density : float or None
        Density of the product, if known. [kg/L]
    reading : LabelReading
        What the label says.
    doubtful : tuple of NamedSource
        Sources of which not all, or nothing, is counted.
    """

    name: str
    rule: str
    sources: tuple
    guarantees: tuple
    unsupplied: tuple
    blends: Blends
    sums: tuple
    vertices: object
    slack: tuple
    density: float | None
    reading: object
    doubtful: tuple = ()

    @property
    def materials(self):
        """Return every material that a source may be, one for each column."""
        return materials_of(self.sources)

    @property
    def is_possible(self):
        """Return whether some blend of the named sources keeps every guarantee."""
        return self.vertices is not None and not self.unsupplied

    @cached_property
    def ranges(self):
        """Return the range of everything; empty if no blend fits."""
        if self.vertices is None:
            return ()
        return tuple(
            asked.over(ends)
            for asked, ends in zip(
                self.sums, self.vertices.transpose(1, 0, 2), strict=True
            )
        )

    @property
    def untold(self):
        """Return the ranges of ions and of the charge that the label does not give."""
        return tuple(
            r for r in self.ranges if r.kind in ("ion", "charge") and not r.told
        )

    def range_of(self, what):
        """
        Return the range of one thing.

        Parameters
        ----------
        what : str
            Nutrient key, name of a source or material, "filler" or "unassigned charge".

        Returns
        -------
        BlendRange
            Its least and greatest.

        Raises
        ------
        Infeasible
            If no blend fits.
        UnknownName
            If it is none of these.

        Examples
        --------
        >>> bag = {"N": "13.0", "K2O": "45.0"}
        >>> found = derive(bag, ["potassium nitrate", "potassium sulfate"], rule="eu")
        >>> print(found.range_of("SO3"))
        SO3 0.9094 to 1.280 %
        """
        self._check_blends()
        for each in self.ranges:
            if each.what == what:
                return each
        known = nutrient(what)
        shares = np.array([m.percent(known.key) for m in self.materials]) / WHOLE
        asked = BlendSum(known.key, "nutrient", "%", shares)
        if not shares.any():
            return BlendRange(known.key, "nutrient", 0.0, 0.0, "%")
        return asked.over(extremes(self.blends, shares[None])[:, 0])

    def _check_blends(self):
        """Raise what stands against every blend."""
        if self.vertices is None:
            raise Infeasible(*[str(f) for f in self.findings if f.gravity == 3])

    @cached_property
    def findings(self):
        """Return what follows for guarantees and sources."""
        kept = tuple(g for g in self.guarantees if g not in self.unsupplied)
        found = [*unsupplied_findings(self.unsupplied)]
        shares = None
        if self.vertices is None:
            found += conflict_findings(kept, *self.slack)
        else:
            of_sources = [r for r in self.ranges if r.kind == "source"]
            shares = [(r.low, r.high) for r in of_sources]
        if not found:
            told = (g for g in kept if not is_open(g, self.doubtful))
            met = {g.key for g in told if g.percent or g.kind != "grade"}
            found += [_all_met(len(met))] if met else []
        if not self.unsupplied:
            found += excess_findings(kept, self._least)
        of_sources = source_findings(self.sources, shares, not self.unsupplied)
        found = doubted((*told_once(found), *of_sources), self.doubtful)
        return (*found, *self.doubts)

    @property
    def doubts(self):
        """Return the findings on sources of which not all is counted."""
        return doubt_findings(self.doubtful, self.guarantees)

    @property
    def _least(self):
        """Return nutrient key to the least that any blend holds. [%]"""
        return {r.what: r.low for r in self.ranges if r.kind in ("ion", "nutrient")}

    @property
    def verdict(self):
        """Return the gravest verdict of all findings."""
        return gravest_finding(self.findings)

    @property
    def assumed(self):
        """Return what had to be assumed."""
        told = [source.assumed for source in self.sources if source.assumed]
        left = [
            f"{e.key} {e.percent:g} % ({e.kind}) is left out: no material tells it"
            for e in self.reading.entries
            if e.kind in ("free", "uncounted", "slow")
        ]
        return (*told, *(f"{f.subject}: {f.what}" for f in self.doubts), *left)

    @cached_property
    def central(self):
        """
        Return the blend in the middle: the mean of those least and greatest in something.

        Where guarantees are minima without an upper limit, it is the mean of the blends
        that are together the least above them, by linear programming. [g]
        """
        self._check_blends()
        open_rows = ~np.isfinite(self.blends.high)
        if not open_rows.any():
            return _distinct(self.vertices).mean(axis=0)
        low, weights = self.blends.low, self.blends.weights
        _, over = least_slack(self.blends, above=False)
        near = np.where(open_rows, low + over, self.blends.high)
        tight = replace(self.blends, high=near + weights * ROUND_OFF)
        found = extremes(tight, _coefficients(self.sums))
        return _distinct(self.vertices if found is None else found).mean(axis=0)

    def diluted(self, grams_per_litre=1.0, *, temperature=25.0, air_co2_ppm=None):
        """
        Return EC and pH of a dilution in pure water, at every extreme blend.

        EC and pH are no sums of the parts, so blends in between may lie a little outside.

        Parameters
        ----------
        grams_per_litre : float
            Product in a litre. [g/L]
        temperature : float
            Temperature. [°C]
        air_co2_ppm : float or None
            Carbon dioxide of the air it stands open to; None means closed. [µmol/mol]

        Returns
        -------
        Dilution
            EC and pH of each, the central blend last.

        Raises
        ------
        Infeasible
            If no blend fits.

        Examples
        --------
        >>> found = derive({"N": "13.0", "K2O": "45.0"}, ["potassium nitrate", "KCl"])
        >>> print(found.diluted(1.0))
        1 g/L in pure water: EC 1.31 to 1.38 mS/cm, pH 7.00 to 7.00
        """
        self._check_blends()
        stack = np.vstack([_distinct(self.vertices), self.central])
        facts = {"temperature": temperature, "air_co2_ppm": air_co2_ppm}
        return dilute(self.materials, stack, grams_per_litre, **facts)

    def accepted(self, name=None):
        """
        Return the central blend as an ingredient, so that it may stand on a shelf.

        Parameters
        ----------
        name : str or None
            How it is called; as the product if None.

        Returns
        -------
        Ingredient
            Its composition is the central blend's; the ranges stand in its notices.

        Raises
        ------
        Infeasible
            If no blend keeps every guarantee.

        Examples
        --------
        >>> found = derive({"N": "13.0", "K2O": "45.0"}, ["potassium nitrate", "KCl"])
        >>> made = found.accepted("bag")
        >>> round(made.percent("N"), 1), [n.what for n in made.notices][-1]
        (13.0, 'Cl is not told: 0 to 2.932 %, counted as 0.9696 %')
        """
        if not self.is_possible:
            raise Infeasible(*[str(f) for f in self.findings if f.gravity == 3])
        parts = [
            (m, float(x)) for m, x in zip(self.materials, self.central, strict=True)
        ]
        is_open = bool(np.isinf(self.blends.high).any())
        facts = {"density": self.density, "assumed": self.assumed}
        called = str(name or self.name)
        return derived_ingredient(
            called, parts, self.untold, minima=is_open, reading=self.reading, **facts
        )

    def rows(self):
        """
        Return what is shown: the range of everything.

        Returns
        -------
        tuple of (str, float, float, str, bool)
            What, least, greatest, their unit in 100 g of product, whether the label tells
            it. [-]

        Examples
        --------
        >>> derive({"K2O": "50"}, ["K2SO4"], rule="us").rows()[0][0]
        'K2SO4'
        """
        return tuple(each.row for each in self.ranges)

    def to_frame(self):
        """
        Return the ranges as a table.

        Returns
        -------
        pandas.DataFrame
            One row for each.

        Examples
        --------
        >>> list(derive({"K2O": "50"}, ["K2SO4"]).to_frame().columns)
        ['what', 'least', 'greatest', 'unit in 100 g', 'told by the label']
        """
        import pandas

        names = ["what", "least", "greatest", "unit in 100 g", "told by the label"]
        return pandas.DataFrame(self.rows(), columns=names)

    def __str__(self):
        basis = "minima" if self.rule == "us" else "two-sided within rounding"
        lines = [f"{self.name}: {self.verdict} ({self.rule} rule, guarantees {basis})"]
        lines += [f"  {finding}" for finding in self.findings]
        lines += [
            f"  {each}{'' if each.told else ' (not told)'}" for each in self.ranges
        ]
        return "\n".join([*lines, *(f"  assumed: {text}" for text in self.assumed)])


# --- building ---------------------------------------------------------------------------------


def derive(
    claim,
    sources=None,
    *,
    rule=None,
    overage=None,
    tolerance=0.0,
    filler=WHOLE,
    density=None,
    name=None,
):
    """
    Return every blend of the named sources that keeps the guarantees, as ranges.

    Parameters
    ----------
    claim : Ingredient, str or mapping of str to float
        A label that was read, its text, or label word or nutrient key to share; a share
        given as text ("46.0") shows how it is rounded. [%]
    sources : sequence of str or Ingredient, or None
        What it is derived from; as the label says if None. A name that leaves the hydrate
        open stands for all of them.
    rule : str or None
        "us": guarantees are minima, rounded down; "eu": two-sided, rounded to the nearest.
        The basis of the label if None, else "us".
    overage : float or None
        How much more than a minimum, beside its rounding, the product may hold, in percent
        of the guarantee; None means any amount. For "us" only. [%]
    tolerance : float or mapping of str to float
        By how much the product may be off beside the rounding, in points of percent; of
        each nutrient key, if a mapping. [%]
    filler : float
        The most water or inert matter in 100 g. [g]
    density : float or None
        Density of a liquid whose shares are by volume. [kg/L]
    name : str or None
        What the product is called.

    Returns
    -------
    Derivation
        Ranges, findings, and on request an ingredient.

    Raises
    ------
    InputError
        With every fault: no sources, an unknown one, no guarantees, shares beyond 100 %.

    Examples
    --------
    >>> bag = {"N": "14", "P2O5": "5", "K2O": "30"}
    >>> named = ["potassium nitrate", "monopotassium phosphate", "ammonium sulfate"]
    >>> found = derive(bag, named, rule="us", overage=2)
    >>> found.verdict, print(found.range_of("SO4"))
    SO4 19.16 to 24.09 %
    ('right', None)
    """
    faults = Faults(str(name or "derivation"))
    if rule is not None and rule not in RULES:
        faults.add(f"rule {shortened(rule)}: give one of {', '.join(RULES)}")
        rule = None
    with faults.collecting():
        _check_numbers(faults, overage, tolerance, filler, density)
    with faults.collecting():
        reading = read_guarantees(claim, rule, faults, density=density)
    rule = rule or (reading.basis if reading.basis in RULES else RULES[0])
    by_label = sources is None  # where one unknown source stops nothing
    sources = reading.derived_from if by_label else sources
    found = named_sources(sources, faults, keep_going=by_label)
    if faults.found:
        overage, tolerance = None, 0.0
    limits = {"overage": overage, "tolerance": tolerance, "density": density}
    guarantees = guarantees_of(reading, rule, faults, **limits)
    faults.raise_if_any()
    called = name or getattr(claim, "name", "") or "product"
    return _derived(str(called), rule, found, guarantees, filler, density, reading)


def _check_numbers(faults, overage, tolerance, filler, density):
    """Note a fault for each number out of its limits."""
    each = tolerance.values() if isinstance(tolerance, Mapping) else [tolerance]
    asked = [("overage in %", overage, 0, PERCENT), ("filler in g", filler, 0, WHOLE)]
    asked += [("tolerance in %", value, 0, PERCENT) for value in each]
    asked.append(("density in kg/L", density, *DENSITIES))
    for what, value, low, high in asked:
        with faults.collecting():
            if value is not None:
                checked_number(value, what, least=low, most=high)
            elif what.startswith(("filler", "tolerance")):
                raise InputError(f"{what}: give a number")


def _derived(name, rule, sources, guarantees, filler, density, reading):
    """Return the derivation of what was read."""
    doubtful = tuple(source for source in sources if source.uncounted)
    sources = tuple(source for source in sources if source.materials)
    guarantees = tuple(
        replace(each, low=0.0) if is_open(each, doubtful) else each
        for each in guarantees
    )
    materials = materials_of(sources)
    matrix = np.array([[m.percent(g.key) for m in materials] for g in guarantees])
    matrix = matrix.reshape(len(guarantees), len(materials)) / WHOLE
    is_held = matrix.any(axis=1)
    pairs = list(zip(guarantees, is_held, strict=True))
    unsupplied = tuple(g for g, held in pairs if not held and g.low > 0)
    kept = np.array([g not in unsupplied for g in guarantees])
    limits = [
        (g.low, g.high, g.weight)
        for g, keep in zip(guarantees, kept, strict=True)
        if keep
    ]
    low, high, weights = np.array(limits, float).reshape(-1, 3).T
    blends = Blends(matrix[kept], low, high, weights, filler)
    sums = sums_asked(sources, guarantees)
    vertices = extremes(blends, _coefficients(sums))
    slack = ()
    if vertices is None:
        slack = (*least_slack(blends), least_room(blends))
    known = density or reading.density
    facts = (blends, sums, vertices, slack, known, reading, doubtful)
    return Derivation(name, rule, sources, guarantees, unsupplied, *facts)


def _coefficients(sums):
    return np.array([asked.coefficients for asked in sums])


def _distinct(vertices):
    """Return each extreme blend once."""
    flat = vertices.reshape(-1, vertices.shape[-1])
    _, first = np.unique(flat.round(SAME_BLEND), axis=0, return_index=True)
    return flat[np.sort(first)]


def _all_met(count):
    many = "the guarantee" if count == 1 else f"all {count} guarantees"
    what = f"a blend of the named sources keeps {many}"
    rule = "feasible, by linear programming"
    return Finding("guarantees", "right", what, rule=rule, source_key="stoichiometry")
