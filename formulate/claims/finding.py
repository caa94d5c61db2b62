"""What was found when a claim was held against arithmetic or a rule: right, or what is wrong."""

from dataclasses import dataclass

from formulate.notices import SEVERITIES
from formulate.working import Shown, printed

__all__ = ["VERDICTS", "Finding", "gravest_finding"]

VERDICTS = ("right", "cannot tell", "wrong", "impossible")


@dataclass(frozen=True)
class Finding(Shown):
    """
    One claim, or one part of a label, held against arithmetic or a rule.

    "Right" is a finding like any other.

    Attributes
    ----------
    subject : str
        What it is about, such as "P2O5" or "line 3, column K".
    verdict : str
        "right", "cannot tell", "wrong" or "impossible".
    what : str
        What was found, how much it is off and what follows, in words.
    number : float or None
        The value that was claimed or found, in the unit that `what` names. [-]
    limit : float or None
        What it was held against, in the same unit. [-]
    severity : str
        "note", "caution" or "serious".
    rule : str
        The rule or the arithmetic that it rests on.
    source_key : str
        Where the rule comes from.

    Examples
    --------
    >>> print(Finding("K2O", "right", "46 % claimed, 46.6 % in the pure salt", 46.0, 46.6))
    K2O: right; 46 % claimed, 46.6 % in the pure salt
    """

    subject: str
    verdict: str
    what: str
    number: float | None = None
    limit: float | None = None
    severity: str = "note"
    rule: str = ""
    source_key: str = ""

    def __post_init__(self):
        if self.verdict not in VERDICTS:
            raise ValueError(
                f"verdict {self.verdict!r}: use one of {', '.join(VERDICTS)}"
            )
        if self.severity not in SEVERITIES:
            raise ValueError(
                f"severity {self.severity!r}: use one of {', '.join(SEVERITIES)}"
            )

    @property
    def is_right(self):
        """Return whether the claim holds."""
        return self.verdict == "right"

    @property
    def gravity(self):
        """Return 0 to 3, the place of its verdict in `VERDICTS`. [-]"""
        return VERDICTS.index(self.verdict)

    def row(self):
        """
        Return what is shown: subject, verdict, number, limit, what, rule.

        Returns
        -------
        tuple of str
            Cells.

        Examples
        --------
        >>> Finding("N", "wrong", "too little", 3.1, 4.0).row()[:4]
        ('N', 'wrong', '3.100', '4.000')
        """
        numbers = ("" if v is None else printed(v) for v in (self.number, self.limit))
        return (self.subject, self.verdict, *numbers, self.what, self.rule)

    def __str__(self):
        return f"{self.subject}: {self.verdict}; {self.what}"


def gravest_finding(findings):
    """
    Return the verdict on the whole: the gravest of all.

    Parameters
    ----------
    findings : iterable of Finding
        The findings.

    Returns
    -------
    str
        A verdict; "cannot tell" if there is none.

    Examples
    --------
    >>> gravest_finding([Finding("N", "right", "as it should be")])
    'right'
    """
    return max(findings, key=lambda f: f.gravity).verdict if findings else "cannot tell"
