"""Slips behind a chart: which one explains the wrong claims of all its weeks at once.

A slip befalls the numbers of one column, all of them, or the dose of one product or of all.
What a dose brings is linear in it, so each slip is tried on every week by recomputing.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from formulate.checks import checked_number
from formulate.claims.chart_claims import ChartCase
from formulate.claims.claim_reading import READINGS
from formulate.claims.finding import Finding
from formulate.claims.slip_moves import moves_on
from formulate.claims.slip_search import PLAINNESS
from formulate.errors import InputError, shortened
from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.slips import Slip, slips
from formulate.tables import read_table
from formulate.working import Shown, printed

__all__ = ["ChartExplanation", "ChartSlip", "ChartSlips", "find_chart_slips"]

ROUNDING = 1e-9  # of the arithmetic itself
ON_DOSES = {"any", "dose", "liquid"}
NO_DOSES = ("percent-for-mg-l", "million")  # of numbers, never of what is measured out
ALL_DOSES = "all doses"
SHOWN, MOST_WEAK = 4, 6
WEAK = " (weak: so few numbers are explained by many a slip)"
LARGEST_NOISE = 0.2
MOST_WORK = 1.5e8  # numbers looked at before pairs are left out


@dataclass(frozen=True)
class ChartSlip(Shown):
    """
    A slip and what of a chart it befell.

    Attributes
    ----------
    slip : Slip
        The slip, in the direction in which it was made.
    where : str
        "dose of A", "all doses", or "column N" and the like.
    """

    slip: Slip
    where: str

    def __str__(self):
        return f"{self.where}: {self.slip.words} (× {printed(self.slip.factor, 4)})"


@dataclass(frozen=True)
class ChartExplanation(Shown):
    """
    One slip or two, and which wrong claims come right by it.

    Attributes
    ----------
    slips : tuple of ChartSlip
        The slips.
    claims : tuple of (str, str)
        Week and subject of each wrong claim that it explains.
    off : int
        How many claims are wrong by more than margin and noise. [-]
    spoiled : tuple of str
        Weeks in which it cannot have been made, for right claims would be wrong.
    """

    slips: tuple
    claims: tuple
    off: int
    spoiled: tuple = ()

    @property
    def weeks(self):
        """Return the weeks with claims that it explains."""
        return tuple(dict.fromkeys(week for week, _ in self.claims))

    @property
    def subjects(self):
        """Return the subjects of these claims."""
        return tuple(dict.fromkeys(subject for _, subject in self.claims))

    @property
    def explained(self):
        """Return how many wrong claims it explains. [-]"""
        return len(self.claims)

    @property
    def explains_all(self):
        """Return whether every wrong claim of the chart comes right, and no right one wrong."""
        return self.explained == self.off and not self.spoiled

    @property
    def is_weak(self):
        """Return whether it explains so few claims that chance would do as well."""
        return self.explained <= len(self.slips)

    @property
    def keys(self):
        """Return the names of its slips in the table."""
        return tuple(one.slip.key for one in self.slips)

    def __str__(self):
        words = ", and ".join(map(str, self.slips))
        one = len(self.weeks) == 1
        only = (
            f", in {'this week' if one else 'these weeks'} only" if self.spoiled else ""
        )
        named = f"{'week' if one else 'weeks'} {_weeks(self.weeks)}"
        which = f"{', '.join(self.subjects)} of {named}{only}"
        return f"{words}; explains {self.explained} of {self.off} wrong claims: {which}"


@dataclass(frozen=True)
class ChartSlips(Shown):
    """
    What explains the wrong claims of a chart.

    Attributes
    ----------
    off : int
        How many claims are wrong by more than margin and noise. [-]
    groups : tuple of tuple of ChartExplanation
        What explains most comes first; those of one group explain the same claims.
    pairs_tried : bool
        Whether two slips at once were looked for: only where no single one explains all.
    """

    off: int
    groups: tuple
    pairs_tried: bool = False

    @property
    def is_weak(self):
        """Return whether so few claims are explained that chance would do as well."""
        return bool(self.groups) and self.groups[0][0].is_weak

    @property
    def apart(self):
        """
        Return the groups that hold at once: each explains claims of its own.

        What explains a single number, where nothing else explains it, is among them; weak.
        """
        found, taken = [], set()
        for group in self.groups:
            claims = set(group[0].claims)
            if not claims & taken:
                found.append(group)
                taken |= claims
        return tuple(found)

    @property
    def finding(self):
        """Return the verdict as a finding."""
        verdict = "wrong" if self.off else "right"
        rule = "a slip must bring claims right in every week that it befell"
        severity = "caution" if self.off else "note"
        return Finding("claims", verdict, str(self), severity=severity, rule=rule)

    def rows(self):
        """
        Return group, slips, weeks, explained and words of each explanation.

        Returns
        -------
        tuple of tuple
            Number of the group from 1, keys of the slips, weeks, claims explained, words. [-]

        Examples
        --------
        >>> ChartSlips(0, ()).rows()
        ()
        """
        return tuple(
            (n, " + ".join(one.keys), ", ".join(one.weeks), one.explained, str(one))
            for n, group in enumerate(self.groups, 1)
            for one in group
        )

    def __str__(self):
        if not self.off:
            return "no claim is off by more than margin and rounding allow"
        if not self.groups:
            return f"no known slip explains any of the {self.off} wrong claims"
        strong = [group for group in self.apart if not group[0].is_weak]
        weak = [group for group in self.apart if group[0].is_weak]
        told = [
            *map(_alike, strong),
            *(_alike(group) + WEAK for group in weak[:MOST_WEAK]),
        ]
        more = len(weak) - MOST_WEAK
        rest = (
            f"; and {more} more numbers, each by a slip of its own" if more > 0 else ""
        )
        left = self.off - sum(group[0].explained for group in self.apart)
        none = f"; no known slip explains the other {left}" if left else ""
        return "perhaps " + "; and besides ".join(told) + rest + none


def _weeks(names):
    """Return names of weeks, those that follow one another as a range."""
    numbers = [int(name) for name in names if name.isdecimal()]
    first = numbers[0] if numbers else 0
    if len(names) > SHOWN and numbers == list(range(first, first + len(names))):
        return f"{names[0]} to {names[-1]}"
    return ", ".join(names)


def _alike(group):
    """Return explanations that cannot be told apart, in words."""
    more = len(group) - SHOWN
    told = " or ".join(map(str, group[:SHOWN]))
    return told + (f" or one of {more} more" if more > 0 else "")


def find_chart_slips(weeks, *, noise=0.01, most_slips=2):
    """
    Return which slip explains the wrong claims of all weeks of a chart at once.

    Parameters
    ----------
    weeks : sequence of ChartWeek
        The weeks, worked out.
    noise : float
        Relative standard uncertainty of claims that a slip is to explain, where their own
        margin is less, for charts are rounded. [-]
    most_slips : int
        1 or 2; two are looked for only where no single one explains all. [-]

    Returns
    -------
    ChartSlips
        Explanations in groups; none if nothing is wrong, or nothing explains it.

    Raises
    ------
    InputError
        If the noise is not from 0 to 0.2, or most_slips neither 1 nor 2.

    Examples
    --------
    >>> from formulate.claims.feed_chart import read_chart
    >>> text = "week,A g/L,N ppm,K ppm\\n1,0.5,69,233\\n2,1,139,466\\n"
    >>> print(find_chart_slips(read_chart(text, {"A": "KNO3"}).weeks))
    perhaps column K: K2O taken for K (× 1.205); explains 2 of 2 wrong claims: K of weeks 1, 2
    """
    noise = checked_number(noise, "noise", least=0, most=LARGEST_NOISE)
    if isinstance(most_slips, bool) or most_slips not in (1, 2):
        raise InputError(f"most_slips: {shortened(most_slips)}: give 1 or 2")
    case = ChartCase(tuple(weeks), noise)
    if not case.off.any():
        return ChartSlips(0, ())
    tried = _hypotheses(case)
    found = [_told(case, (one,)) for one in tried]
    found = [one for one in found if one]
    pairs = most_slips > 1 and not any(one.explains_all for one, _ in found)
    pairs = pairs and case.off.sum() > 2  # two slips explain any two numbers
    pairs = pairs and len(tried) ** 2 / 2 * len(case.off) <= MOST_WORK
    if pairs:
        found += [_told(case, pair) for pair in _pairs(case, tried)]
    return ChartSlips(int(case.off.sum()), _grouped(found), pairs)


# --- what may have happened ----------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Tried:
    """A slip: claims times `factors`, computed plus `more`; other doses times `scale`."""

    told: ChartSlip
    factors: np.ndarray
    more: np.ndarray
    scale: float = 1.0
    strange: int = 0  # 1 if no dose is written in a unit that the slip is about


def _hypotheses(case):
    """Return every slip that may have befallen a chart, those that change something."""
    found = [*_on_doses(case), *_on_columns(case), *_exchanged(case)]
    kept = {}
    for one in found:
        values, _ = case.values((one,))
        if np.any(np.abs(values / case.computed - 1.0) > ROUNDING):
            seen = (one.told.slip.key, one.told.slip.words, values.round(9).tobytes())
            kept.setdefault(seen, one)
    return list(kept.values())


def _on_doses(case):
    """Yield the slips of all doses, and of each product's dose."""
    every = tuple(case.products)
    made = [(slip, every, ALL_DOSES, slip.factor) for slip in _dose_slips(None)]
    for name, product in case.products.items():
        for slip in (*_dose_slips(product.density), *_hydrate_slips(product)):
            made.append((slip, (name,), f"dose of {name}", 1.0))
    ones = np.ones(len(case.claims))
    changes = case.more([(names, slip.factor) for slip, names, *_ in made])
    for (slip, names, where, scale), more in zip(made, changes, strict=True):
        strange = min(_is_strange(slip, case, name) for name in names)
        yield _Tried(ChartSlip(slip, where), ones, more, scale, strange)


def _dose_slips(density):
    """Return the slips that can befall a dose."""
    of_doses = {
        row["slip"]
        for row in read_table("slips")
        if ON_DOSES & set(row["subjects"].split()) and row["slip"] not in NO_DOSES
    }
    return [slip for slip in slips(None, density=density) if slip.key in of_doses]


def _hydrate_slips(product):
    """Return the slips between two hydrates of a salt, one of which is the product."""
    if not product.formula:
        return []
    mass, found = molar_mass(product.formula), []
    for row in read_table("slips"):
        if row["kind"] != "hydrate":
            continue
        own = [molar_mass(row[side]) for side in ("numerator", "denominator")]
        forward = f"{row['written']} taken for {row['meant']}"
        for one, is_forward in zip(own, (True, False), strict=True):
            if abs(one / mass - 1.0) < ROUNDING:
                found += [
                    slip
                    for slip in slips("salt")
                    if slip.key == row["slip"] and (slip.words == forward) == is_forward
                ]
    return found


def _is_strange(slip, case, name):
    """Return 1 if a slip is about units in which no dose of a product is written, else 0."""
    (row,) = (r for r in read_table("slips") if r["slip"] == slip.key)
    cells = row["numerator"], row["denominator"]
    named = [cell.split("[")[1].rstrip("]") for cell in cells if "[" in cell]
    doses = (d for week in case.weeks for d in week.line.doses)
    written = " ".join(d.dose.amount for d in doses if d.ingredient.name == name)
    return int(
        bool(named)
        and not any(f" {one}" in f" {written}".replace("/", " ") for one in named)
    )


def _on_columns(case):
    """Yield the slips of the numbers of one subject, of several, or of all."""
    none = np.zeros(len(case.claims))
    plain = np.array([s not in READINGS for s in case.subject])
    together = np.sum(list(case.added.values()), axis=0)
    is_plain = np.allclose(together[plain], case.computed[plain])
    for move in moves_on(dict.fromkeys(case.subjects, 1.0)):
        is_dose = (
            move.touches_all and len(case.subjects) > 1 and move.slip.kind != "basis"
        )
        if is_dose and is_plain and move.slip.key not in NO_DOSES:
            continue  # the same as a slip of all doses
        effects = dict(zip(case.subjects, np.exp(move.effects), strict=True))
        factors = np.array([effects[s] for s in case.subject])
        factors = np.where(_may_befall(move.slip, case), factors, 1.0)
        where = f"column {', '.join(move.scope)}"
        where = "all claims" if move.touches_all and len(case.subjects) > 1 else where
        yield _Tried(ChartSlip(move.slip, where), factors, none)


def _may_befall(slip, case):
    """Return which claims a slip may befall: one of scales only readings on the scale meant."""
    if not slip.key.startswith("scale-"):
        return np.ones(len(case.claims), dtype=bool)
    meant = slip.words.rpartition(" taken for ")[2]
    return np.array([f"({meant})" in claim.unit for _, claim in case.claims])


def _exchanged(case):
    """Yield each two columns in each other's place."""
    at = {
        (w, s): n for n, (w, s) in enumerate(zip(case.week, case.subject, strict=True))
    }
    none = np.zeros(len(case.claims))
    for one, other in combinations(case.subjects, 2):
        factors = np.ones(len(case.claims))
        turned = {one: other, other: one}
        for (place, subject), n in at.items():
            partner = at.get((place, turned.get(subject)))
            if partner is not None:
                factors[n] = case.computed[partner] / case.computed[n]
        slip = Slip("exchanged", f"{one} and {other} exchanged", "place", 1.0)
        yield _Tried(ChartSlip(slip, f"columns {one}, {other}"), factors, none)


# --- what fits -----------------------------------------------------------------------------


def _told(case, made):
    """Return an explanation with its order, or None if it brings no wrong claim right."""
    values, unsure = case.values(made)
    fits = case.fits(values, unsure)
    lost = ~case.off & ~fits
    bad = np.isin(case.week, np.unique(case.week[lost]))
    won = case.off & fits & ~bad
    if not won.any():
        return None
    explanation = ChartExplanation(
        tuple(one.told for one in made),
        tuple(
            (case.weeks[case.week[n]].name, case.subject[n])
            for n in np.flatnonzero(won)
        ),
        int(case.off.sum()),
        tuple(case.weeks[w].name for w in np.unique(case.week[lost])),
    )
    left = np.abs(np.log(values[won] / case.claimed[won]))
    strange = sum(one.strange for one in made)
    return explanation, (strange, float(left.max()), won.tobytes())


def _pairs(case, tried):
    """Yield each two slips on different things that together explain every wrong claim."""
    factors = np.array([one.factors for one in tried])
    more = np.array([one.more for one in tried])
    scales = np.array([one.scale for one in tried])[:, None]
    for n, one in enumerate(tried[:-1]):
        rest = slice(n + 1, None)
        first, second = one.more * scales[rest], more[rest] * one.scale
        factor = one.factors * factors[rest]
        values = (case.computed + first + second) * factor
        unsure = case.nearly * (np.abs(first) + np.abs(second)) * factor
        for other in np.flatnonzero(case.fits(values, unsure).all(axis=1)):
            partner = tried[n + 1 + other]
            if partner.told.where != one.told.where:
                yield one, partner


def _grouped(found):
    """Return explanations in groups that explain the same claims, the best first."""
    groups = {}
    for explanation, (strange, misfit, won) in found:
        order = (
            not explanation.explains_all,
            -explanation.explained,
            len(explanation.spoiled),
        )
        group = (*order, len(explanation.slips), won)
        groups.setdefault(group, []).append((strange, misfit, explanation))
    ordered = sorted(groups.items(), key=lambda item: item[0])
    return tuple(
        tuple(e for *_, e in sorted(group, key=_likelihood)) for _, group in ordered
    )


def _likelihood(found):
    """Return what orders explanations of the same claims; of few claims the plainest first."""
    strange, misfit, explanation = found
    kinds = [PLAINNESS.index(one.slip.kind) for one in explanation.slips]
    return strange, sum(kinds) if explanation.is_weak else 0, misfit
