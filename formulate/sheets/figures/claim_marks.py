"""Claims of a dose against its arithmetic: each in percent of what the dose gives."""

import textwrap
from dataclasses import dataclass

from formulate.claims.dose_claims import DoseCheck, DoseClaim
from formulate.claims.finding import VERDICTS
from formulate.errors import InputError, shortened
from formulate.sheets.figures.foot_lines import LINE, foot_lines, write_foot
from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.style import (
    INK,
    LARGE,
    QUIET,
    SMALL,
    WITHIN,
    drawing,
    fitted,
    new_figure,
    panel,
    write,
)
from formulate.sheets.tables import Table
from formulate.working import printed

__all__ = ["claim_marks", "note_lines", "verdict_key", "verdict_mark"]

HEAD, ROW, FOOT = 1.3, 0.42, 0.5  # in
NAME, LEFT, SPAN, SAID, EDGE = 0.08, 2.02, 1.66, 4.74, 7.1  # in
BESIDE = 0.74  # in: room for the percent before the axis
LEAST, MOST, NEAR, WHOLE = 50.0, 150.0, 10.0, 100.0  # %: of the axis
ROWS, MOST_TOLD = 20, 8
LETTERS, LINES = 92, 3  # of a note: letters are drawn wider on a coarse screen
TWICE, MANY, DIGITS = 2.0, 999.0, 4
BOLD = 1.14  # how much wider bold letters are
KEY, EACH, HEIGHT, LONG = 5.6, 1.28, 0.24, 7.0  # in: of the key
TITLE = "What is claimed against what the dose gives"
HINT = "; it would be right "
MINIMA = "guarantees are minima"
LOOKS = {
    "right": {"marker": "o", "ms": 9.0, "mfc": INK},
    "cannot tell": {"marker": "D", "ms": 8.0, "mfc": WITHIN},
    "wrong": {"marker": "o", "ms": 9.0, "mfc": "white"},
    "impossible": {"marker": "X", "ms": 10.0, "mfc": "white"},
}


def verdict_mark(verdict):
    """
    Return how a mark tells a verdict: filled is right, hollow is not.

    Parameters
    ----------
    verdict : str
        One of `formulate.claims.finding.VERDICTS`.

    Returns
    -------
    dict of str to object
        Marker, its size, colour and edge, as matplotlib names them.

    Examples
    --------
    >>> [verdict_mark(word)["marker"] for word in ("right", "cannot tell", "impossible")]
    ['o', 'D', 'X']
    """
    return LOOKS[verdict] | {"mec": INK, "mew": 1.6, "ls": "none", "clip_on": False}


def verdict_key(figure, left, top, verdicts):
    """
    Draw what the marks of verdicts mean, in a line.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The figure.
    left : float
        Left edge, from the left edge of the figure. [in]
    top : float
        Its middle, from the upper edge of the figure. [in]
    verdicts : iterable of str
        Those that the figure shows.

    Examples
    --------
    >>> with drawing():
    ...     figure = new_figure(1.0)
    ...     verdict_key(figure, 0.1, 0.5, {"wrong", "right"})
    >>> [text.get_text() for text in figure.texts]
    ['right', 'wrong']
    """
    verdicts = set(verdicts)
    shown = [word for word in VERDICTS if word in verdicts]
    axes = panel(figure, left, top - HEIGHT / 2, KEY, HEIGHT)
    axes.set(xlim=(0, KEY), ylim=(0, 1), xticks=[], yticks=[])
    for place, word in enumerate(shown):
        at = EACH * place + 0.08
        axes.plot([at], [0.5], **verdict_mark(word))
        write(figure, left + at + 0.16, top, word, fontsize=SMALL)


def note_lines(notes):
    """
    Return notes as lines beneath a figure, short enough for a coarse screen.

    Parameters
    ----------
    notes : iterable of str
        The notes.

    Returns
    -------
    list of str
        At most three lines of each; what is longer ends in dots.

    Examples
    --------
    >>> [len(note_lines(["word " * count])) for count in (5, 30, 500)]
    [1, 2, 3]
    """
    cut = {"width": LETTERS, "max_lines": LINES, "placeholder": " …"}
    return foot_lines(line for note in notes for line in textwrap.wrap(note, **cut))


@dataclass(frozen=True)
class _Row:
    """One claim as it is drawn."""

    claim: DoseClaim

    @property
    def verdict(self):
        return self.claim.finding.verdict

    @property
    def percent(self):
        """Return the claim in percent of what the dose gives; None without that."""
        off = self.claim.difference_percent
        return None if off is None else WHOLE + off

    @property
    def band(self):
        """Return the ends of what agrees, in percent of what the dose gives."""
        below, above = (WHOLE * side / self.claim.computed for side in self.claim.sides)
        return WHOLE - below, WHOLE + above

    @property
    def margin_words(self):
        """Return how far below and above a claim may be, in words."""
        below, above = (printed(side, 2) for side in self.claim.sides)
        return f"± {above}" if below == above else f"− {below}, + {above}"

    @property
    def is_beyond(self):
        """Return whether something is claimed of what the dose holds nothing of."""
        return self.claim.computed == 0 and self.claim.claimed > 0

    @property
    def off(self):
        """Return in words how far off the claim is."""
        if self.percent is None:
            none = "none in it" if self.is_beyond else "none, as claimed"
            return "not worked out" if self.claim.computed is None else none
        times = self.percent / WHOLE
        if times > MANY:
            return f"> {MANY:g} times"
        if times > TWICE:
            return f"{times:.3g} times"
        return f"{self.percent - WHOLE:+.1f} %".replace("-", "−")

    @property
    def hint(self):
        """Return as what the claim would be right, or ""."""
        return self.claim.finding.what.partition(HINT)[2]

    @property
    def numbers(self):
        """Return in words what is claimed and what was computed, without unit."""
        claimed = f"{printed(self.claim.claimed, DIGITS)} claimed"
        if self.claim.computed is None:
            return f"{claimed}, not worked out"
        if not self.claim.computed:
            return f"{claimed}, none computed"
        both = f"{claimed}, {printed(self.claim.computed, DIGITS)}"
        return f"{both} {self.margin_words}"

    @property
    def told(self):
        """Return the verdict in words, with what goes with it."""
        if self.hint:
            return f"{self.verdict}; right {self.hint}"
        minima = MINIMA in self.claim.finding.what and self.verdict == "cannot tell"
        return self.verdict + f"; {MINIMA}" * minima


def claim_marks(dose_check):
    """
    Return a picture of the claims of a dose, each in percent of what the dose gives.

    Parameters
    ----------
    dose_check : DoseCheck
        The check, as `check_dose` returns it.

    Returns
    -------
    Picture
        A row for each claim: the margin as a band about 100 %, the claim as a mark, filled
        where it is right; beside it the numbers, in the claim's own unit.

    Raises
    ------
    InputError
        If it is something else, or holds no claim.

    Examples
    --------
    >>> from formulate.claims.dose_claims import check_dose
    >>> print(claim_marks(check_dose("KNO3", "1 g/L", {"K": 387, "K2O": 387})).alt)
    KNO3, 1 g/L, against 2 claims: wrong. K 387.0 mg/L claimed, 386.7 − 1.0, + 0.50: right; \
K2O 387.0 mg/L claimed, 465.8 − 1.0, + 0.50: −16.9 %, wrong; right as K.
    """
    if not isinstance(dose_check, DoseCheck):
        what = "give what check_dose returns"
        raise InputError(
            f"claim_marks: {shortened(dose_check)} is no DoseCheck; {what}"
        )
    if not dose_check.claims:
        raise InputError("claim_marks: there is no claim; nothing to draw")
    rows = [_Row(claim) for claim in dose_check.claims]
    with drawing():
        figure = _drawn(dose_check, rows)
    return Picture(
        key="claim-marks",
        title=TITLE,
        alt=_alt(dose_check, rows),
        table=_table(rows),
        source=made_by(dose_check.ingredient, dose_check.dose),
        figure=figure,
    )


def _shown(rows):
    """Return the rows for which there is room, in their order: the gravest stay."""
    gravest = sorted(rows, key=lambda row: -row.claim.finding.gravity)[:ROWS]
    return [row for row in rows if any(row is kept for kept in gravest)]


def _notes(rows, shown):
    """Return what is left out, in words."""
    left = [row for row in rows if not any(row is kept for kept in shown)]
    if not left:
        return []
    told = ", ".join(f"{row.claim.subject} ({row.verdict})" for row in left)
    return [f"Left out for want of room: {told}."]


def _drawn(check, rows):
    """Draw the rows one below the other."""
    shown = _shown(rows)
    notes, high = note_lines(_notes(rows, shown)), ROW * len(shown)
    figure = new_figure(HEAD + high + FOOT + LINE * len(notes) + 0.06 * bool(notes))
    write(figure, NAME, 0.18, TITLE, fontsize=LARGE, weight="bold")
    name = f"{check.ingredient.name}, {check.dose.text}"
    write(figure, NAME, 0.44, fitted(name, LONG - 0.5, SMALL), fontsize=SMALL)
    _key(figure, shown)
    for left, words in ((NAME, "claim"), (SAID, "claimed, computed ± margin")):
        write(figure, left, HEAD - 0.16, words, fontsize=SMALL, color=QUIET)
    axes, ends = panel(figure, LEFT, HEAD, SPAN, high), _ends(shown)
    axes.set(xlim=ends, ylim=(len(shown) - 0.5, -0.5), yticks=[])
    axes.locator_params(axis="x", nbins=5)
    axes.set_xlabel("% of what the dose gives", fontsize=SMALL)
    axes.spines["bottom"].set_visible(True)
    axes.grid(axis="x", color="#E4E4E4", linewidth=0.6, zorder=0)
    axes.set_axisbelow(True)
    for place, row in enumerate(shown):
        _mark(figure, axes, place, row, ends)
        _words(figure, row, HEAD + ROW * (place + 0.5))
    write_foot(figure, HEAD + high + FOOT, notes)
    return figure


def _key(figure, rows):
    """Say in two lines what band and marks are."""
    axes = panel(figure, NAME, 0.58, LONG, 0.22)
    axes.set(xlim=(0, LONG), ylim=(1, 0), xticks=[], yticks=[])
    axes.barh([0.5], [0.4], 0.8, facecolor=WITHIN)
    axes.plot([0.2] * 2, [0.0, 1.0], color=INK, linewidth=1.2, linestyle=(0, (3, 1.5)))
    words = "what the dose gives, 100 %, and the margin about it: a claim within it is right"
    write(figure, NAME + 0.5, 0.69, words, fontsize=SMALL)
    write(figure, NAME, 0.93, "the claim is", fontsize=SMALL)
    verdict_key(figure, NAME + 0.92, 0.93, (row.verdict for row in rows))


def _ends(rows):
    """Return the ends of the axis: as far as the claims go, within limits. [%]"""
    known = [row for row in rows if row.percent is not None]
    values = [row.percent for row in known]
    values += [end for row in known for end in row.band]
    far = max((abs(v - WHOLE) for v in values), default=0.0)
    half = min(max(1.15 * far, NEAR), WHOLE - LEAST)
    return WHOLE - half, WHOLE + half


def _mark(figure, axes, place, row, ends):
    """Draw one claim: its margin as a band, the claim as a mark or an arrow."""
    middle = HEAD + ROW * (place + 0.5)
    if row.percent is None and not row.is_beyond:
        about, look = LEFT + SPAN / 2, {"ha": "center", "color": QUIET}
        write(figure, about, middle, row.off, fontsize=SMALL, **look)
        return
    if row.is_beyond:
        look = verdict_mark(row.verdict) | {"marker": ">", "ms": 10.0}
        axes.plot([ends[1]], [place], zorder=5, **look)
        _beside(figure, row, middle, LEFT + SPAN)
        return
    low, high = (min(max(end, ends[0]), ends[1]) for end in row.band)
    axes.barh([place], [high - low], 0.6, left=[low], facecolor=WITHIN, zorder=1)
    dashed = {"color": INK, "linewidth": 1.2, "linestyle": (0, (3, 1.5)), "zorder": 2}
    axes.plot([WHOLE] * 2, [place - 0.5, place + 0.5], **dashed)
    at = min(max(row.percent, ends[0]), ends[1])
    look = verdict_mark(row.verdict)
    if at != row.percent:
        look |= {"marker": "<" if at == ends[0] else ">", "ms": 10.0}
    axes.plot([at], [place], zorder=5, **look)
    if row.verdict != "right":
        _beside(figure, row, middle, LEFT + SPAN * (at - ends[0]) / (ends[1] - ends[0]))


def _beside(figure, row, middle, at):
    """Write how far off the claim is, on the side of its mark that is away from 100 %."""
    side = 1 if row.is_beyond or row.percent >= WHOLE else -1
    where, look = at + 0.14 * side, {"ha": "right" if side < 0 else "left"}
    write(figure, where, middle, row.off, fontsize=SMALL, weight="bold", **look)


def _words(figure, row, middle):
    """Write what a claim is about, its numbers and the verdict."""
    up, down = middle - 0.095, middle + 0.095
    name = fitted(row.claim.subject, (LEFT - BESIDE - NAME) / BOLD, SMALL)
    write(figure, NAME, up, name, fontsize=SMALL, weight="bold")
    of_unit = fitted(row.claim.unit, LEFT - BESIDE - NAME, SMALL)
    write(figure, NAME, down, of_unit, fontsize=SMALL, color=QUIET)
    is_off, room = VERDICTS.index(row.verdict) > 1, EDGE - SAID
    write(figure, SAID, up, fitted(row.numbers, room, SMALL), fontsize=SMALL)
    told = fitted(row.told, room / (BOLD if is_off else 1.0), SMALL)
    weight = "bold" if is_off else "normal"
    write(figure, SAID, down, told, fontsize=SMALL, weight=weight)


def _table(rows):
    columns = ("claim", "claimed", "computed", "margin below", "above", "unit")
    columns += ("% of what the dose gives", "verdict", "it would be right")
    cells = tuple(_cells(row) for row in rows)
    table = Table("claim-marks", TITLE, columns, cells, (1, 2, 3, 4, 6))
    return table.without_empty("it would be right", "% of what the dose gives")


def _cells(row):
    claim, known = row.claim, row.claim.computed is not None
    return (
        claim.subject,
        printed(claim.claimed, DIGITS),
        printed(claim.computed, DIGITS) if known else "not known",
        *(printed(side, 2) if known else "" for side in claim.sides),
        claim.unit,
        "" if row.percent is None else printed(row.percent, DIGITS),
        row.verdict,
        row.hint,
    )


def _alt(check, rows):
    """Return every claim that is not right, and the others as far as there is room."""
    told = sorted(rows, key=lambda row: -row.claim.finding.gravity)[:MOST_TOLD]
    parts = [_part(row) for row in rows if any(row is kept for kept in told)]
    left = [row.verdict for row in rows if not any(row is kept for kept in told)]
    more = [f"{left.count(w)} more {w}" for w in VERDICTS if w in left]
    count = f"{len(rows)} claim" + "s" * (len(rows) > 1)
    head = f"{check.ingredient.name}, {check.dose.text}, against {count}"
    return f"{head}: {check.verdict}. {'; '.join([*parts, *more])}."


def _part(row):
    claim = f"{printed(row.claim.claimed, DIGITS)} {row.claim.unit} claimed"
    numbers = row.numbers.replace(row.numbers.split(",")[0], claim)
    is_off = row.verdict != "right" and row.percent is not None
    off = f"{row.off}, " if is_off else ""
    return f"{row.claim.subject} {numbers}: {off}{row.told}"
