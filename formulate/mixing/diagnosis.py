"""A diagnosis: what may have happened to a batch, ranked, and what would tell more."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from formulate.chemistry.acidity import ph_rule
from formulate.mixing.batch import Batch
from formulate.mixing.hypotheses import PERCENT, Hypothesis, mistake_rule
from formulate.stoichiometry.solution import Solution
from formulate.tables import read_table
from formulate.working import Shown, printed

__all__ = ["Diagnosis", "Suspect", "distance", "ec_error"]

MOST_GROUPS, MOST_NAMES = 5, 3  # shown
STIR = "First stir well, wait until all is dissolved and read again."


def ec_error(value, percent):
    """
    Return how far the reading of an EC may be off.

    Parameters
    ----------
    value : float or array
        EC. [mS/cm]
    percent : float
        Error of the meter. [%]

    Returns
    -------
    float or array
        Its error, never less than the step of a meter. [mS/cm]

    Examples
    --------
    >>> float(ec_error(2.0, 2.0)), float(ec_error(0.0, 2.0))
    (0.04, 0.005)
    """
    return np.maximum(percent / PERCENT * value, mistake_rule("EC step"))


def distance(one, other, errors):
    """
    Return how far readings are apart, in errors of the meters.

    Parameters
    ----------
    one : tuple of (float or array, float or array)
        EC and pH. [mS/cm]
    other : tuple of (float or array, float or array)
        EC and pH. [mS/cm]
    errors : tuple of (float or None, float or None)
        Error of the EC in percent and of the pH; None where it was not read. [%]

    Returns
    -------
    float or array
        Distance. [-]

    Examples
    --------
    >>> round(distance((1.02, 6.0), (0.98, 6.0), (2.0, 0.05)), 9)
    2.0
    """
    of_ec = of_ph = 0.0
    if errors[0] is not None:
        error = ec_error((one[0] + other[0]) / 2, errors[0])
        of_ec = (one[0] - other[0]) / error
    if errors[1] is not None:
        of_ph = (one[1] - other[1]) / errors[1]
    apart = np.hypot(of_ec, of_ph)
    return apart if np.shape(apart) else float(apart)


@dataclass(frozen=True, eq=False)
class Suspect(Shown):
    """
    One hypothesis with what the meters would show by it.

    Attributes
    ----------
    hypothesis : Hypothesis
        What may have happened.
    ec : float
        EC that the meter would show. [mS/cm]
    ph : float
        pH that the meter would show. [-]
    misfit : float
        How far the readings are from that, in errors of the meters. [-]
    possible : bool
        Whether the readings allow it.
    place : int
        Its column in the stack of solutions. [-]
    ph_low : float or None
        Lowest pH that the errors of the water and of the model leave open. [-]
    ph_high : float or None
        Highest. [-]
    ph_in_air : float or None
        pH in balance with the air; None where `ph` alone counts. [-]
    """

    hypothesis: Hypothesis
    ec: float
    ph: float
    misfit: float
    possible: bool
    place: int
    ph_low: float | None = None
    ph_high: float | None = None
    ph_in_air: float | None = None

    @property
    def is_soft(self):
        """Return whether so little buffers it that its pH tells little."""
        if self.ph_low is None:
            return False
        return self.ph_high - self.ph_low > ph_rule("widest single pH")

    @property
    def shown(self):
        """Return what the meters would show, as text."""
        ph = self.ph_words
        if self.is_soft:
            ends = [self.ph_low, self.ph_high, self.ph_in_air or self.ph]
            ph = f"{min(ends):.1f} to {max(ends):.1f} (little buffers it)"
        return f"EC {printed(self.ec, 3)}, pH {ph}"

    @property
    def moves(self):
        """Return whether the air moves its pH far enough to show both."""
        if self.ph_in_air is None:
            return False
        return abs(self.ph_in_air - self.ph) > mistake_rule("air shown beyond")

    @property
    def ph_words(self):
        """Return its pH as text: at once, and aerated where that is far from it."""
        if self.moves:
            return f"{self.ph:.2f} at once to {self.ph_in_air:.2f} aerated"
        return f"{self.ph:.2f}"

    @property
    def kind(self):
        """Return its line in the table of kinds of mistakes."""
        return self.hypothesis.kind

    @property
    def words(self):
        """Return what happened."""
        return self.hypothesis.words

    @property
    def what_to_do(self):
        """Return what to do if it happened."""
        return self.hypothesis.what_to_do

    def __str__(self):
        shows = f"EC {printed(self.ec, 3)} mS/cm, pH {self.ph_words}"
        return f"{self.words}: {shows}; {self.off}"

    @property
    def off(self):
        """Return how far the readings are from it, as text."""
        at_once = " if read at once" if self.moves else ""
        return f"{self.misfit:.1f} meter errors off{at_once}"


@dataclass(frozen=True, eq=False)
class Diagnosis(Shown):
    """
    What may have gone wrong with a batch, the best fit first.

    Attributes
    ----------
    batch : Batch
        The batch as it was meant.
    ec : float or None
        EC as measured. [mS/cm]
    ph : float or None
        pH as measured. [-]
    suspects : tuple of Suspect
        All hypotheses, the best fit first.
    solutions : Solution
        A stack of what the batch holds by each, in its own order. [mmol/L]
    ec_error_percent : float
        Error of the EC meter. [%]
    ph_error : float
        Error of the pH meter. [-]
    notices : tuple of Notice
        What to know about the answer.
    """

    batch: Batch
    ec: float | None
    ph: float | None
    suspects: tuple
    solutions: Solution
    ec_error_percent: float
    ph_error: float
    notices: tuple = ()

    @cached_property
    def candidates(self):
        """Return what the readings allow, the best fit first; empty if nothing fits."""
        return tuple(suspect for suspect in self.suspects if suspect.possible)

    @property
    def named(self):
        """Return the only hypothesis that is possible, or None."""
        return self.candidates[0] if len(self.candidates) == 1 else None

    @property
    def may_be_right(self):
        """Return whether the readings allow that nothing is wrong."""
        return self.right.possible

    @cached_property
    def right(self):
        """Return the hypothesis that nothing is wrong."""
        return next(suspect for suspect in self.suspects if suspect.kind == "nothing")

    @property
    def air_words(self):
        """Return how the air may have moved the pH of a right batch; empty if it did not."""
        right = self.right
        if self.ph is None or right.ph_in_air is None or not self.may_be_right:
            return ""
        far = mistake_rule("told apart from") * self.ph_error
        rises = right.ph_in_air > right.ph
        if (self.ph - right.ph if rises else right.ph - self.ph) <= far:
            return ""
        what = "may have left" if rises else "of the air may have gone in"
        ends = f"pH from {right.ph:.2f} at once to {right.ph_in_air:.2f} aerated"
        return f"carbon dioxide {what} ({ends})"

    @property
    def what_to_do(self):
        """Return what to do now: nothing is added as long as nothing may be wrong."""
        if self.may_be_right:
            return self.right.what_to_do
        return self.candidates[0].what_to_do if self.candidates else ""

    @property
    def verdict(self):
        """Return "named", "cannot tell" or "none of these explains it"."""
        if not self.candidates:
            return "none of these explains it"
        return "named" if self.named else "cannot tell"

    @cached_property
    def groups(self):
        """Return the suspects in groups whose readings are not to be told apart."""
        found = self.candidates or self.suspects[:MOST_GROUPS]
        return _groups(self._right_first(found), self._apart)

    def _right_first(self, suspects):
        """Return suspects with the right one first, where it is possible."""
        if not self.may_be_right:
            return suspects
        return [self.right, *(s for s in suspects if s is not self.right)]

    def _apart(self, one, other):
        """Return how far the readings of two suspects are apart, in meter errors."""
        read = self.ec is not None, self.ph is not None
        errors = self.ec_error_percent, self.ph_error
        errors = [e if was else None for e, was in zip(errors, read, strict=True)]
        return distance((one.ec, one.ph), (other.ec, other.ph), errors)

    @property
    def answer(self):
        """Return the verdict in a sentence."""
        of_all = f"of {len(self.suspects)} hypotheses"
        if self.verdict == "none of these explains it":
            return f"None of these explains it: {of_all} none shows {self._read}."
        if self.named and self.air_words:
            only = f"{of_all} only this allows {self._read}"
            return f"Yes, this may well be right: {self.air_words}; {only}."
        if self.named and self.may_be_right:
            return f"Nothing is wrong: {of_all} only this shows {self._read}."
        if self.named:
            return f"{self.named.words}: {of_all} only this shows {self._read}."
        many = f"{len(self.candidates)} {of_all} fit {self._read}"
        if self.may_be_right:
            air = f": {self.air_words}" if self.air_words else ""
            return f"Yes, this may well be right{air}; cannot tell for sure: {many}."
        return f"Something is wrong, cannot tell what: {many}."

    @property
    def _read(self):
        """Return the readings as text."""
        found = []
        if self.ec is not None:
            found.append(f"EC {printed(self.ec, 3)} mS/cm")
        if self.ph is not None:
            found.append(f"pH {self.ph:.2f}")
        return " and ".join(found)

    @cached_property
    def next_reading(self):
        """Return what further reading tells the first candidates apart, in words."""
        if len(self.candidates) < 2:
            return ""
        best, *others = self._right_first(self.candidates)
        for other in others:
            found = self._test_between(best, other)
            if found:
                return found
        if any(suspect.kind == "meter" for suspect in self.candidates[:2]):
            return "read a standard solution with the meter"
        return "no strip tells these apart: weigh what is left in the bags"

    def _test_between(self, best, other):
        """Return the test that differs most between two suspects; empty if none does."""
        worth, text = 1.0, ""
        for row in read_table("field_tests"):
            values = self._held(row["nutrient"])
            if values is None:
                continue
            one, two = values[best.place], values[other.place]
            error = row.number("error_percent") / PERCENT * max(one, two)
            score = abs(one - two) / max(row.number("least"), error)
            if score > worth:
                least = row.number("least")
                text = (
                    f"measure {row['nutrient']} ({row['test']}): {_read(one, least)} if "
                    f"{best.words}, {_read(two, least)} if {other.words}"
                )
                worth = score
        return text

    def _held(self, key):
        """Return how much of a nutrient each solution holds, or None without any. [mg/L]"""
        values = np.asarray(self.solutions.mg_l(key))
        return values if values.shape else None

    @property
    def as_meant(self):
        """Return what the meters would show if nothing is wrong, as text."""
        right = self.right
        return f"EC {printed(right.ec, 3)} mS/cm and pH {right.ph_words}"

    def rows(self):
        """
        Return what is shown of each hypothesis, the best fit first.

        Returns
        -------
        tuple of (str, float, float, float, bool)
            Hypothesis, EC it would show, pH it would show, misfit in meter errors,
            possible or not. [mS/cm]

        Examples
        --------
        >>> from formulate.mixing.mistakes import what_went_wrong
        >>> found = what_went_wrong({"KNO3": 10.0}, volume=10, ec=1.37)
        >>> found.rows()[0][0]
        'nothing is wrong'
        """
        return tuple((s.words, s.ec, s.ph, s.misfit, s.possible) for s in self.suspects)

    def to_frame(self):
        """
        Return the hypotheses as a table.

        Returns
        -------
        pandas.DataFrame
            One row for each, the best fit first. [mS/cm]

        Examples
        --------
        >>> from formulate.mixing.mistakes import what_went_wrong
        >>> found = what_went_wrong({"KNO3": 10.0}, volume=10, ec=1.37)
        >>> list(found.to_frame().columns)
        ['hypothesis', 'EC (mS/cm)', 'pH', 'meter errors off', 'possible']
        """
        import pandas

        names = ["hypothesis", "EC (mS/cm)", "pH", "meter errors off", "possible"]
        return pandas.DataFrame(self.rows(), columns=names)

    @property
    def lines(self):
        """Return the answer line by line, without the notices."""
        lines = [self.answer[0].upper() + self.answer[1:]]
        lines.append(f"As meant it would show {self.as_meant}.")
        if self.verdict != "named":
            lines += ["Nearest:"] if not self.candidates else []
            lines += [_group_line(group) for group in self.groups[:MOST_GROUPS]]
            left = len(self.groups) - MOST_GROUPS
            lines += [f"  and {left} more groups"] if left > 0 else []
        if self.may_be_right:
            lines.append(f"What to do: {self.what_to_do}.")
        elif self.candidates:
            lines.append(f"If {self.candidates[0].words}: {self.what_to_do}.")
        if self.next_reading:
            lines.append(f"To tell: {self.next_reading}.")
        lines.append(f"{STIR} Never add concentrates to each other.")
        return tuple(lines)

    def __str__(self):
        return "\n".join([*self.lines, *map(str, self.notices)])


def _read(value, least):
    """Return what a test shows of an amount, no finer than its least step."""
    return (
        f"{printed(value, 3)} mg/L" if value >= least else f"less than {least:g} mg/L"
    )


def _group_line(group):
    """Return a line of suspects that are not to be told apart."""
    first, names = group[0], [suspect.words for suspect in group[:MOST_NAMES]]
    more = len(group) - len(names)
    text = "; or ".join(names) + (f"; or {more} more" if more else "")
    off = "" if first.is_soft else f" ({first.off})"
    return f"  {first.shown}{off}: {text}"


def _groups(suspects, apart):
    """Return suspects in groups in which each is near to each other one."""
    limit, groups = mistake_rule("told apart from"), []
    for suspect in suspects:
        for group in groups:
            if all(apart(suspect, other) < limit for other in group):
                group.append(suspect)
                break
        else:
            groups.append([suspect])
    return tuple(tuple(group) for group in groups)
