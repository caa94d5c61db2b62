"""What explains the wrong claims of a chart: slips with where they befell it, in words."""

from dataclasses import dataclass

from formulate.claims.finding import Finding
from formulate.stoichiometry.slips import Slip
from formulate.working import Shown, printed

__all__ = ["ChartExplanation", "ChartSlip", "ChartSlips"]

SHOWN, MOST_WEAK = 4, 6
WEAK = " (weak: so few numbers are explained by many a slip)"


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
        by = f" (× {printed(self.slip.factor, 4)})" if self.slip.kind != "place" else ""
        return f"{self.where}: {self.slip.words}{by}"


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
    misprints : tuple of (str, str, tuple)
        Week, subject and misprints of each wrong claim that no slip explains, or none but
        a weak one; weak as well.
    """

    off: int
    groups: tuple
    pairs_tried: bool = False
    misprints: tuple = ()

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
            none = f"no known slip explains any of the {self.off} wrong claims"
            return none + self._misprinted()
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
        told = "perhaps " + "; and besides ".join(told) + rest + none
        return told + self._misprinted()

    def _misprinted(self):
        """Return the misprints in words, those of few claims; they come last."""
        told = "; ".join(
            f"perhaps of week {week}, {subject} {' or '.join(map(str, found[:SHOWN]))}"
            for week, subject, found in self.misprints[:MOST_WEAK]
        )
        return f"; {told}: look at the source" if told else ""


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
