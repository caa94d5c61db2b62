"""Slips behind a chart: which one explains the wrong claims of all its weeks at once.

A slip befalls the numbers of one column, all of them, or the dose of one product or of all.
What a dose brings is linear in it, so each slip is tried on every week by recomputing.
"""

from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from formulate.checks import checked_number
from formulate.claims.chart_claims import ChartCase
from formulate.claims.chart_explanations import (
    ChartExplanation,
    ChartSlip,
    ChartSlips,
)
from formulate.claims.claim_reading import READINGS
from formulate.claims.dose_slips import misprinted
from formulate.claims.slip_moves import absent_hydrates, moves_on
from formulate.claims.slip_search import PLAINNESS
from formulate.errors import InputError, shortened
from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.slips import Slip, slips
from formulate.tables import read_table

__all__ = ["ChartExplanation", "ChartSlip", "ChartSlips", "find_chart_slips"]

ROUNDING = 1e-9  # of the arithmetic itself
ON_DOSES = {"any", "dose", "liquid"}
NO_DOSES = ("percent-for-mg-l", "million")  # of numbers, never of what is measured out
ALL_DOSES = "all doses"
LARGEST_NOISE = 0.2
SQUARE_ROOT_OF_3 = 3.0**0.5  # a value anywhere within bounds, as standard uncertainty
MOST_WORK = 1.5e8  # numbers looked at before pairs are left out


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
    made = ChartSlips(int(case.off.sum()), _grouped(found), pairs)
    return replace(made, misprints=tuple(_misprints(case, made)))


def _misprints(case, made):
    """Yield week, subject and misprints of the claims that no slip explains but weakly."""
    sure = [group[0] for group in made.apart if not group[0].is_weak]
    known = {pair for explanation in sure for pair in explanation.claims}
    for n in np.flatnonzero(case.off):
        place, claim = case.claims[n]
        week = case.weeks[place].name
        if (week, claim.subject) in known:
            continue
        unsure = sum(claim.sides) / 2 / SQUARE_ROOT_OF_3 / claim.computed
        pair = claim.claimed, claim.computed, unsure
        found = misprinted(claim, {claim.subject: pair})
        if found:
            yield week, claim.subject, found


# --- what may have happened ----------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Tried:
    """A slip: claims times `factors`, computed plus `more`; other doses times `scale`."""

    told: ChartSlip
    factors: np.ndarray
    more: np.ndarray
    scale: float = 1.0
    strange: int = 0  # 1 if no dose is written in the slip's unit, -1 if it is plain


def _hypotheses(case):
    """Return every slip that may have befallen a chart, those that change something."""
    found = [
        *_on_doses(case),
        *_on_columns(case),
        *_exchanged(case),
        *_exchanged_weeks(case),
    ]
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
    absent = absent_hydrates(case.products.values())
    for move in moves_on(dict.fromkeys(case.subjects, 1.0), shares=absent):
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


def _exchanged_weeks(case):
    """Yield each two weeks whose wrong numbers of one column are right for one another."""
    none = np.zeros(len(case.claims))
    for one, other in combinations(np.flatnonzero(case.off), 2):
        if case.subject[one] != case.subject[other]:
            continue
        factors = np.ones(len(case.claims))
        factors[one] = case.computed[other] / case.computed[one]
        factors[other] = 1.0 / factors[one]
        if not case.fits(case.computed * factors, none)[[one, other]].all():
            continue
        first, second = (case.weeks[case.week[n]].name for n in (one, other))
        words = f"weeks {first} and {second} exchanged"
        slip = Slip("weeks-exchanged", words, "place", float(factors[one]))
        told = ChartSlip(slip, f"column {case.subject[one]}")
        yield _Tried(told, factors, none, strange=-1)  # told first


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
