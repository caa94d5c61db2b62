"""Which slip explains it: one or two that turn all the right numbers into the claimed ones.

Every claimed number is compared with the one computed; a slip, or a pair, must explain all
of them at once. What cannot be told apart within the noise is one group. The numbers may
be right as they are: that is looked at first. A misprinted digit is looked at last.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from statistics import NormalDist

import numpy as np

from formulate.claims.finding import Finding
from formulate.claims.misprints import misprints
from formulate.claims.slip_moves import THROUGHOUT, moves_on
from formulate.claims.slip_pairs import read_pairs
from formulate.working import Shown, printed

__all__ = ["NOISE", "SlipCandidate", "SlipGroup", "SlipSearch", "explain"]

NOISE = 0.01  # relative standard uncertainty of a number of which none is told
SURE = 0.995  # of right numbers that are to be called right
PERCENT = 100.0
SHOWN = 6
LONE = "; of one number alone two slips explain almost anything: hold more numbers against it"
PLAINNESS = (  # which kind is thought of first where the numbers cannot tell
    "basis",
    "meter",
    "hydrate",
    "ratio",
    "density",
    "unit",
    "power of ten",
    "count",
    "place",
)


@dataclass(frozen=True)
class SlipCandidate(Shown):
    """
    No slip, one slip, or two, that explain every claimed number.

    Attributes
    ----------
    moves : tuple of Move
        The slips with what they touch; none if the numbers are right.
    factors : mapping of str to float
        Subject to what its number is multiplied by. [-]
    misfit_percent : float
        The largest difference that is left over. [%]
    misfit : float
        Sum of the squares of what is left over, each in its uncertainty. [-]
    """

    moves: tuple
    factors: Mapping
    misfit_percent: float
    misfit: float

    @property
    def keys(self):
        """Return the names of its slips in the table."""
        return tuple(move.slip.key for move in self.moves)

    @property
    def plainness(self):
        """Return what orders explanations that look alike: the plainest has the least."""
        kinds = sorted(PLAINNESS.index(move.slip.kind) for move in self.moves)
        return len(self.moves), sum(kinds), self.misfit

    def __str__(self):
        if not self.moves:
            return "no slip: it is right"
        return ", and ".join(str(move) for move in self.moves)


@dataclass(frozen=True)
class SlipGroup(Shown):
    """
    Explanations that these numbers cannot tell apart.

    Attributes
    ----------
    candidates : tuple of SlipCandidate
        The plainest and nearest first.
    """

    candidates: tuple

    @property
    def first(self):
        """Return the plainest and nearest."""
        return self.candidates[0]

    def __str__(self):
        plain = [c for c in self.candidates if len(c.moves) == len(self.first.moves)]
        told = " or ".join(map(str, plain[:SHOWN]))
        more, pairs = len(plain) - SHOWN, len(self.candidates) - len(plain)
        told += f" or one of {more} more" if more > 0 else ""
        return told + (f" (or, less plainly, {pairs} of two slips)" if pairs else "")


@dataclass(frozen=True)
class SlipSearch(Shown):
    """
    What explains the claimed numbers.

    Attributes
    ----------
    pairs : mapping of str to tuple
        Subject to claimed, computed and relative uncertainty. [-]
    groups : tuple of SlipGroup
        The most likely first; none if nothing explains them.
    misprints : mapping of str to tuple of Misprint
        Subject to the misprints that would explain its number, where no slip does: weak.
    within_percent : float or None
        The noise within which the numbers agree, where something is wrong all the same, so
        that no slip can be told; else None. [%]
    """

    pairs: Mapping
    groups: tuple
    misprints: Mapping = field(default_factory=dict)
    within_percent: float | None = None

    @property
    def untold(self):
        """Return the search without an answer, for what is off is within the noise."""
        share = max(u for *_, u in self.pairs.values()) * _limit(len(self.pairs))
        return replace(self, groups=(), within_percent=PERCENT * share)

    @property
    def is_right(self):
        """Return whether the numbers are right as they are."""
        return bool(self.groups) and not self.groups[0].first.moves

    @property
    def is_weak(self):
        """Return whether only pairs fit a single number, which says next to nothing."""
        if not self.groups or len(self.groups[0].first.moves) < 2:
            return False
        return sum(f != 1.0 for f in self.groups[0].first.factors.values()) == 1

    @property
    def finding(self):
        """Return the verdict as a finding."""
        names = ", ".join(self.pairs)
        rule = "one or two slips must explain all numbers within their uncertainty"
        verdict = "right" if self.is_right else "wrong"
        verdict = verdict if self.within_percent is None else "cannot tell"
        severity = "note" if self.is_right else "caution"
        return Finding(names, verdict, self._told(), severity=severity, rule=rule)

    def _told(self):
        if self.within_percent is not None:
            noise = f"the noise of {self.within_percent:.2g} %"
            return f"off by less than {noise}: no slip can be told"
        told = "no known slip, nor any two, explains it"
        if self.groups:
            told = str(self.groups[0]) + (LONE if self.is_weak else "")
        more = "; ".join(
            f"perhaps of {subject} {' or '.join(map(str, found[:SHOWN]))}"
            for subject, found in self.misprints.items()
        )
        return f"{told}; {more}: look at the source" if more else told

    def rows(self):
        """
        Return group, slips, misfit and words of each explanation.

        Returns
        -------
        tuple of tuple
            Number of the group from 1, keys of the slips, misfit, words. [%]

        Examples
        --------
        >>> explain({"K": (100.0, 100.2)}).rows()[0][3]
        'no slip: it is right'
        """
        return tuple(
            (number, " + ".join(c.keys), c.misfit_percent, str(c))
            for number, group in enumerate(self.groups, 1)
            for c in group.candidates
        )

    def to_frame(self):
        """
        Return the explanations as a table.

        Returns
        -------
        pandas.DataFrame
            One row for each, with its group. [%]

        Examples
        --------
        >>> explain({"K": (100.0, 100.2)}).to_frame()["group"].tolist()
        [1]
        """
        import pandas as pd

        names = ["group", "slips", "misfit (%)", "words"]
        return pd.DataFrame(self.rows(), columns=names)

    def __str__(self):
        numbers = "; ".join(
            f"{key} {printed(claimed)} claimed, {printed(computed)} computed"
            for key, (claimed, computed, _) in self.pairs.items()
        )
        told = [f"{n}. {group}" for n, group in enumerate(self.groups[:SHOWN], 1)]
        told[:1] = [f"1. {self._told()}"] if told else [self._told()]
        return "\n".join([numbers, *told])


def explain(
    pairs,
    *,
    noise=NOISE,
    ratio=None,
    density=None,
    shares=None,
    most_slips=2,
    printed=None,
):
    """
    Return which slip, or which two, explain all claimed numbers at once.

    Parameters
    ----------
    pairs : mapping of str to tuple
        Nutrient key, "EC", "TDS" or another subject of the slips, to the claimed and the
        computed number, and where known the relative standard uncertainty of the two
        together. EC follows a slip of the dose only nearly, so give it a larger one. Text
        with units, such as ("336 mg/L", "3.5 mmol/L"), is brought to the first unit, on
        the basis of the subject. [-]
    noise : float
        Relative standard uncertainty where none is given. [-]
    ratio : float or None
        The n of a dilution 1 : n; it may have been another one in use. [-]
    density : float or None
        Density of a liquid. [kg/L]
    shares : mapping of str to mapping or None
        Slip of a hydrate to subject to the share of it that this salt brings. [-]
    most_slips : int
        1 or 2. [-]
    printed : mapping of str to str or None
        Subject to its claimed number as printed, for misprints; a claim that is text is
        its own print.

    Returns
    -------
    SlipSearch
        Groups of explanations, single slips before pairs; "no slip: it is right" alone if
        the numbers agree.

    Raises
    ------
    InputError
        With every fault: unknown subjects, numbers not above 0, shares not from 0 to 1.

    Examples
    --------
    >>> print(explain({"N": (150.0, 150.2), "P": (115.0, 50.0), "K": (200.0, 199.0)}))
    N 150.0 claimed, 150.2 computed; P 115.0 claimed, 50.00 computed; K 200.0 claimed, 199.0 computed
    1. P2O5 taken for P (P)
    """
    given = (noise, ratio, density, shares, most_slips, printed)
    read, texts = read_pairs(pairs, *given)
    observed = np.array([np.log(c) - np.log(x) for c, x, _ in read.values()])
    sizes = np.array([u for *_, u in read.values()])
    fit = _Fit(tuple(read), observed, sizes, _limit(len(read)))
    if fit.fits(np.zeros((1, len(read))))[0]:
        return SlipSearch(read, (SlipGroup((fit.candidate(()),)),))
    computed = {key: x for key, (_, x, _) in read.items()}
    moves = moves_on(computed, ratio=ratio, density=density, shares=shares)
    moves = [move for move in moves if fit.can_tell(move)]
    found = SlipSearch(read, _grouped(fit, moves, most_slips))
    if found.groups and not found.is_weak:
        return found
    return replace(found, misprints=_misprinted(fit, read, texts))


def _limit(count):
    """Return how many standard uncertainties some right numbers may be off together. [-]"""
    return NormalDist().inv_cdf((1 + SURE ** (1 / count)) / 2)


# --- search ------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Fit:
    """The claimed numbers over the computed ones, and how sure they are."""

    subjects: tuple
    observed: np.ndarray  # natural logarithms
    sizes: np.ndarray
    limit: float  # in standard uncertainties

    def fits(self, effects):
        """Return which rows of effects lie within the limit for every number."""
        off = np.abs(self.observed - effects) / self.sizes
        return np.all(off <= self.limit, axis=1)

    def can_tell(self, move):
        """Return whether a slip moves any number by more than the limit."""
        return bool(np.any(np.abs(move.effects) > self.limit * self.sizes))

    def candidate(self, moves):
        """Return the explanation by some moves."""
        effects = sum((np.array(m.effects) for m in moves), np.zeros(len(self.sizes)))
        left = self.observed - effects
        factors = dict(zip(self.subjects, np.exp(effects).tolist(), strict=True))
        largest = float(PERCENT * np.max(np.abs(np.expm1(left))))
        return SlipCandidate(
            moves, factors, largest, float(np.sum((left / self.sizes) ** 2))
        )

    def is_alike(self, one, other):
        """Return whether two explanations differ by less than the noise."""
        apart = [abs(np.log(one.factors[s] / other.factors[s])) for s in self.subjects]
        return bool(np.all(np.array(apart) <= self.limit * self.sizes))


def _misprinted(fit, pairs, texts):
    """Return subject to its misprints, of the numbers that are off."""
    is_off = np.abs(fit.observed) > fit.limit * fit.sizes
    found = {}
    for subject, off in zip(pairs, is_off, strict=True):
        if off and subject in texts:
            claimed, computed, sure = pairs[subject]
            right = computed * float(texts[subject].replace(",", ".")) / claimed
            made = misprints(texts[subject], right, sure * right)
            found |= {subject: made} if made else {}
    return found


def _grouped(fit, moves, most_slips):
    """Return all that fits, plainest and nearest first, in groups that look alike."""
    effects = np.array([move.effects for move in moves])
    found = [fit.candidate((moves[i],)) for i in np.flatnonzero(fit.fits(effects))]
    if most_slips > 1:
        found += [fit.candidate(pair) for pair in _pairs(fit, moves, effects)]
    found.sort(key=lambda c: (len(c.moves), c.misfit))
    groups = []
    while found:
        alike = [c for c in found if fit.is_alike(found[0], c)]
        groups.append(SlipGroup(tuple(sorted(alike, key=lambda c: c.plainness))))
        kept = set(map(id, alike))
        found = [c for c in found if id(c) not in kept]
    return tuple(groups)


def _pairs(fit, moves, effects):
    """Yield the pairs of moves that fit; two of one slip only on different subjects."""
    for i in range(len(moves) - 1):
        together = effects[i] + effects[i + 1 :]
        for j in np.flatnonzero(fit.fits(together)) + i + 1:
            if _may_meet(moves[i], moves[j]):
                yield moves[i], moves[j]


def _may_meet(one, other):
    keys = {one.slip.key, other.slip.key}
    if len(keys) == 2:
        return not any(
            whole in keys and keys & {*members, *THROUGHOUT} - {whole}
            for whole, (members, *_) in THROUGHOUT.items()
        )
    return one.slip.kind != "place" and not set(one.scope) & set(other.scope)
