"""What a result wants its reader to know: what, how serious, how much, by which source."""

from dataclasses import dataclass

__all__ = ["SEVERITIES", "LeftOut", "Notice", "gravest_first"]

SEVERITIES = ("note", "caution", "serious")


@dataclass(frozen=True)
class Notice:
    """
    One thing to know about a result, in words.

    Attributes
    ----------
    what : str
        What is the case, how much, why it matters, what to do.
    severity : str
        "note" (for the record), "caution" (look at it) or "serious" (do not go on
        before it is settled).
    number : float or None
        The value it is about, in the unit that `what` names. [-]
    limit : float or None
        What it was held against, in the same unit. [-]
    source_key : str
        Where the limit comes from; key of the sources table.

    Examples
    --------
    >>> print(Notice("the water brings 80 mg/L Na", "caution", number=80.0, limit=50.0))
    caution: the water brings 80 mg/L Na
    """

    what: str
    severity: str = "note"
    number: float | None = None
    limit: float | None = None
    source_key: str = ""

    def __post_init__(self):
        if self.severity not in SEVERITIES:
            raise ValueError(
                f"severity {self.severity!r}: use one of {', '.join(SEVERITIES)}"
            )

    def __str__(self):
        return f"{self.severity}: {self.what}"

    @property
    def gravity(self):
        """Return 0 for a note, 1 for a caution, 2 for what is serious."""
        return SEVERITIES.index(self.severity)


def gravest_first(notices):
    """
    Return notices with the gravest first, each once.

    Parameters
    ----------
    notices : iterable of Notice
        The notices.

    Returns
    -------
    tuple of Notice
        The same, those of one gravity in the order they came.

    Examples
    --------
    >>> one, other = Notice("soft water"), Notice("boron", "serious")
    >>> [notice.what for notice in gravest_first([one, other, one])]
    ['boron', 'soft water']
    """
    return tuple(sorted(dict.fromkeys(notices), key=lambda n: -n.gravity))


@dataclass(frozen=True)
class LeftOut:
    """
    A line of a report or a label that was not counted.

    Attributes
    ----------
    line : int
        Line of the text, counted from 1. [-]
    text : str
        The line as printed.
    why : str
        Why it was left out.

    Examples
    --------
    >>> LeftOut(3, "Net weight 25 kg", "a measure, no share").line
    3
    """

    line: int
    text: str
    why: str
