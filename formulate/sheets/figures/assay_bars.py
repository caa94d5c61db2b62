"""Laboratory values against guarantees: each nutrient in percent of what is guaranteed."""

import math
from dataclasses import dataclass

from formulate.claims.allowances import Allowance
from formulate.claims.assay import AssayReport
from formulate.claims.assay_findings import beyond_limit
from formulate.claims.assay_values import Assayed
from formulate.claims.finding import VERDICTS, Finding
from formulate.errors import InputError, shortened
from formulate.sheets.figures.claim_marks import note_lines, verdict_key, verdict_mark
from formulate.sheets.figures.foot_lines import LINE, write_foot
from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.style import (
    INK,
    LARGE,
    QUIET,
    SMALL,
    WITHIN,
    colour,
    drawing,
    fitted,
    new_figure,
    panel,
    write,
)
from formulate.sheets.tables import Table
from formulate.working import printed

__all__ = ["assay_bars"]

HEAD, ROW, FOOT = 1.3, 0.44, 0.52  # in
NAME, LEFT, SPAN, SAID, EDGE, LONG = 0.08, 1.5, 2.25, 4.74, 7.1, 7.0  # in
BESIDE, BOLD = 0.72, 1.14  # in; how much wider bold letters are
LEAST, NEAR, WHOLE = 0.0, 5.0, 100.0  # %: of the axis
MOST = {"us": 150.0, "eu": 200.0}  # %: of the axis
ROOM = 1.25  # of the axis beyond the farthest value
ROWS, MOST_TOLD, DIGITS = 17, 8, 4
TEN, MANY = 10.0, 999.0  # times the guarantee
DASHES = (0, (3, 1.5))
TITLE = "What a laboratory found against the guarantee"
BANDS = {
    "us": "within the allowance; more than guaranteed is no fault under this rule",
    "eu": "within the tolerance, which looks both ways",
}


@dataclass(frozen=True)
class _Row:
    """One nutrient as it is drawn."""

    line: Assayed
    allowed: Allowance | None
    finding: Finding

    @property
    def verdict(self):
        return self.finding.verdict

    @property
    def is_drawn(self):
        """Return whether there is anything to draw in percent of the guarantee."""
        return bool(self.line.values and self.line.guarantee)

    def percent(self, value):
        """Return a value in percent of the guarantee."""
        return WHOLE * value / self.line.guarantee

    @property
    def band(self):
        """Return the least and greatest that is allowed, in percent of the guarantee."""
        return tuple(map(self.percent, (self.allowed.low, self.allowed.high)))

    @property
    def numbers(self):
        """Return in words what was found of what is guaranteed."""
        guaranteed = f"{_plain(self.line.guarantee)} % guaranteed"
        if not self.line.values:
            return f"{guaranteed}, not analysed"
        found = f"{guaranteed}, {_plain(self.line.mean)}"
        unsure = self.line.uncertainty
        return found + (f" ± {printed(unsure, 2)}" if unsure else "") + " found"

    @property
    def short(self):
        """Return the same in fewer words, so that no number is cut."""
        found = self.numbers.partition(" guaranteed, ")
        if not self.line.values:
            return f"{found[0]}, {found[2]}"
        return f"{found[0]}, found {found[2].removesuffix(' found')}"

    @property
    def told(self):
        """Return the verdict in words, with what goes with it."""
        more = self._beyond
        if not self.line.guarantee:
            more = "0 % promises nothing"
        elif self.allowed is None:
            more = "no allowance known"
        elif not self.line.values:
            more = ""
        elif self.verdict == "cannot tell":
            more = "doubtful allowance" if self.allowed.doubt else "within ± of a limit"
        return f"{self.verdict}; {more}" if more else self.verdict

    @property
    def _beyond(self):
        if self.verdict != "wrong":
            return ""
        return f"{_plain(beyond_limit(self.line.mean, self.allowed), 3)} points beyond"


def _plain(value, digits=DIGITS):
    """Return a percentage as text, without what floats add."""
    return f"{round(value, 6):.{digits}g}"


def assay_bars(assay_report):
    """
    Return a picture of laboratory values, each in percent of what is guaranteed.

    Parameters
    ----------
    assay_report : AssayReport
        The report, as `check_assay` returns it.

    Returns
    -------
    Picture
        A row for each nutrient: what the rule allows as a band, every sample as a small
        mark, their mean as a larger one with the laboratory's uncertainty.

    Raises
    ------
    InputError
        If it is something else, or holds no nutrient.

    Examples
    --------
    >>> from formulate.claims.assay import check_assay
    >>> print(assay_bars(check_assay({"Fe": 0.1, "Zn": 0.05}, {"Fe": 0.08})).alt)
    Of 2 guarantees 1 wrong, 1 cannot tell. Fe 0.1 % guaranteed, 0.08 found, 80.0 %: wrong; \
0.005 points beyond; Zn 0.05 % guaranteed, not analysed: cannot tell.
    """
    if not isinstance(assay_report, AssayReport):
        what = "give what check_assay returns"
        raise InputError(
            f"assay_bars: {shortened(assay_report)} is no AssayReport; {what}"
        )
    if not assay_report.lines:
        raise InputError("assay_bars: there is no nutrient; nothing to draw")
    parts = (assay_report.lines, assay_report.allowances, assay_report.findings)
    rows = [_Row(*three) for three in zip(*parts, strict=True)]
    with drawing():
        figure = _drawn(assay_report, rows)
    return Picture(
        key="assay-bars",
        title=TITLE,
        alt=_alt(assay_report, rows),
        table=_table(rows),
        source=made_by(*assay_report.findings),
        figure=figure,
    )


def _shown(rows):
    """Return the rows for which there is room, in their order: the gravest stay."""
    gravest = sorted(rows, key=lambda row: -row.finding.gravity)[:ROWS]
    return [row for row in rows if any(row is kept for kept in gravest)]


def _notes(report, rows, shown):
    """Return what stands beneath: the overall index, the rules, what is left out."""
    notes, index = [], report.overall_index
    if index is not None:
        notes.append(
            f"Overall index, all main nutrients: {index.verdict}; {index.what}."
        )
    notes += [f"Rule: {edition}." for edition in report.editions[:2]]
    left = [row for row in rows if not any(row is kept for kept in shown)]
    if left:
        told = ", ".join(f"{row.line.key} ({row.verdict})" for row in left)
        notes.append(f"Left out for want of room: {told}.")
    return notes


def _drawn(report, rows):
    """Draw the rows one below the other."""
    shown = _shown(rows)
    notes, high = note_lines(_notes(report, rows, shown)), ROW * len(shown)
    figure = new_figure(HEAD + high + FOOT + LINE * len(notes) + 0.08 * bool(notes))
    write(figure, NAME, 0.18, TITLE, fontsize=LARGE, weight="bold")
    _key(figure, report.rule, shown)
    for left, words in ((NAME, "nutrient"), (SAID, "guaranteed, found (mean)")):
        write(figure, left, HEAD - 0.14, words, fontsize=SMALL, color=QUIET)
    axes, ends = panel(figure, LEFT, HEAD, SPAN, high), _ends(shown, MOST[report.rule])
    axes.set(xlim=ends, ylim=(len(shown) - 0.5, -0.5), yticks=[])
    axes.locator_params(axis="x", nbins=5)
    axes.set_xlabel("% of the guarantee", fontsize=SMALL)
    axes.spines["bottom"].set_visible(True)
    axes.grid(axis="x", color="#E4E4E4", linewidth=0.6, zorder=0)
    axes.set_axisbelow(True)
    for place, row in enumerate(shown):
        _row(figure, axes, place, row, ends)
    write_foot(figure, HEAD + high + FOOT, notes)
    return figure


def _key(figure, rule, rows):
    """Say in three lines what band and marks are."""
    axes = panel(figure, NAME, 0.33, LONG, 0.22)
    axes.set(xlim=(0, LONG), ylim=(1, 0), xticks=[], yticks=[])
    axes.barh([0.5], [0.4], 0.8, facecolor=WITHIN)
    dashed = {"color": INK, "linewidth": 1.2, "linestyle": DASHES}
    axes.plot([0.26] * 2, [0.0, 1.0], **dashed)
    words = f"guarantee, 100 %, and what is {BANDS[rule]}"
    write(figure, NAME + 0.5, 0.44, words, fontsize=SMALL)
    axes = panel(figure, NAME, 0.57, LONG, 0.22)
    axes.set(xlim=(0, LONG), ylim=(1, 0), xticks=[], yticks=[])
    axes.plot([0.08, 0.2, 0.32], [0.5] * 3, **_small(QUIET))
    axes.plot([2.08, 2.44], [0.5] * 2, color=INK, linewidth=1.6)
    axes.plot([2.26], [0.5], **verdict_mark("right"))
    for left, words in ((0.5, "a sample each"), (2.54, "mean ± laboratory")):
        write(figure, NAME + left, 0.68, words, fontsize=SMALL)
    write(figure, NAME, 0.93, "the mean is", fontsize=SMALL)
    verdict_key(
        figure, NAME + 0.92, 0.93, (row.verdict for row in rows if row.is_drawn)
    )


def _small(shade):
    """Return the look of the mark of a sample."""
    return {
        "marker": "o",
        "ms": 4.8,
        "mfc": shade,
        "mec": INK,
        "mew": 0.7,
        "ls": "none",
    }


def _ends(rows, most):
    """Return the ends of the axis: as far as values and limits go, within limits. [%]"""
    drawn, values = [row for row in rows if row.is_drawn], []
    for row in drawn:
        unsure = row.line.uncertainty
        values += map(row.percent, row.line.values)
        values += [row.percent(row.line.mean + s * unsure) for s in (-1, 1)]
    for row in (row for row in drawn if row.allowed):
        values += [end for end in row.band if math.isfinite(end)]
    low = min([*values, WHOLE - NEAR], default=WHOLE) - WHOLE
    high = max([*values, WHOLE + NEAR], default=WHOLE) - WHOLE
    return max(WHOLE + ROOM * low, LEAST), min(WHOLE + ROOM * high, most)


def _row(figure, axes, place, row, ends):
    """Draw one nutrient: band, samples, mean; write its words."""
    middle = HEAD + ROW * (place + 0.5)
    _words(figure, row, middle)
    if row.line.guarantee and row.allowed:
        low, high = (min(max(end, ends[0]), ends[1]) for end in row.band)
        axes.barh([place], [high - low], 0.66, left=[low], facecolor=WITHIN, zorder=1)
    if row.line.guarantee:
        dashed = {"color": INK, "linewidth": 1.2, "linestyle": DASHES, "zorder": 2}
        axes.plot([WHOLE] * 2, [place - 0.5, place + 0.5], **dashed)
    if row.is_drawn:
        _values(axes, place, row, ends)
        _beside(figure, row, middle, ends)
        return
    words = "no value" if row.line.guarantee else "no 100 %"
    room = {"ha": "right", "fontsize": SMALL, "color": QUIET}
    write(figure, LEFT - 0.12, middle - 0.095, words, **room)


def _values(axes, place, row, ends):
    """Draw the samples in a line beneath the mean; an arrow where one leaves the axis."""
    shade, line = colour(row.line.key), row.line
    if len(line.values) > 1:
        for value in line.values:
            _mark(axes, row.percent(value), place + 0.24, ends, _small(shade), 4)
    high = place - 0.1 if len(line.values) > 1 else place
    mean, unsure = row.percent(line.mean), row.percent(line.uncertainty)
    reach = [min(max(mean + s * unsure, ends[0]), ends[1]) for s in (-1, 1)]
    axes.plot(reach, [high] * 2, color=INK, linewidth=1.6, zorder=3)
    _mark(axes, mean, high, ends, verdict_mark(row.verdict), 5)


def _mark(axes, value, height, ends, look, order):
    """Draw a value as a mark; as an arrow where it leaves the axis."""
    at = min(max(value, ends[0]), ends[1])
    if at != value:
        look = look | {"marker": "<" if at == ends[0] else ">", "clip_on": False}
    axes.plot([at], [height], zorder=order, **look)


def _beside(figure, row, middle, ends):
    """Write beside the panel what share of the guarantee was found, if it matters."""
    mean = row.percent(row.line.mean)
    if row.verdict == "right" and ends[0] <= mean <= ends[1]:
        return
    times = min(mean / WHOLE, MANY)
    words = f"{mean:.1f} %" if times < TEN else f"{times:.3g} times"
    words = f"> {words}" if times == MANY else words
    weight = "normal" if row.verdict == "right" else "bold"
    if mean < WHOLE:
        where, look = LEFT - 0.12, {"ha": "right"}
    else:
        where, look = LEFT + SPAN + 0.12, {"ha": "left"}
    write(figure, where, middle - 0.095, words, fontsize=SMALL, weight=weight, **look)


def _words(figure, row, middle):
    """Write the name of a nutrient, its numbers and the verdict."""
    up, down, room = middle - 0.095, middle + 0.095, EDGE - SAID
    name = fitted(row.line.key, (LEFT - BESIDE - NAME) / BOLD, SMALL)
    write(figure, NAME, up, name, fontsize=SMALL, weight="bold")
    count = len(row.line.values)
    if count > 1:
        words = f"{count} samples"
        write(figure, NAME, down, words, fontsize=SMALL, color=QUIET)
    write(figure, SAID, up, fitted(row.short, room, SMALL), fontsize=SMALL)
    is_off = VERDICTS.index(row.verdict) > 1
    told = fitted(row.told, room / (BOLD if is_off else 1.0), SMALL)
    weight = "bold" if is_off else "normal"
    write(figure, SAID, down, told, fontsize=SMALL, weight=weight)


def _table(rows):
    columns = ("nutrient", "guaranteed %", "found % (mean)", "±", "samples %")
    columns += ("least allowed %", "most allowed %", "verdict", "what")
    cells = tuple(_cells(row) for row in rows)
    table = Table("assay-bars", TITLE, columns, cells, (1, 2, 3, 5, 6))
    return table.without_empty("±", "least allowed %", "most allowed %", "samples %")


def _cells(row):
    line, ends = row.line, ("not known", "")
    if row.allowed:
        high = row.allowed.high
        ends = (_plain(row.allowed.low), _plain(high) if math.isfinite(high) else "")
    return (
        line.key,
        _plain(line.guarantee),
        _plain(line.mean) if line.values else "not analysed",
        printed(line.uncertainty, 2) if line.uncertainty and line.values else "",
        ", ".join(map(_plain, line.values)),
        *ends,
        row.verdict,
        row.finding.what,
    )


def _alt(report, rows):
    """Return every nutrient that is not right, and the others as there is room."""
    told = sorted(rows, key=lambda row: -row.finding.gravity)[:MOST_TOLD]
    parts = [_part(row) for row in rows if any(row is kept for kept in told)]
    left = [row.verdict for row in rows if not any(row is kept for kept in told)]
    parts += [f"{left.count(w)} more {w}" for w in VERDICTS if w in left]
    words = [row.verdict for row in rows]
    counts = [f"{words.count(w)} {w}" for w in reversed(VERDICTS) if w in words]
    index = report.overall_index
    more = f" Overall index: {index.verdict}." if index and not index.is_right else ""
    many = f"{len(rows)} guarantee" + "s" * (len(rows) > 1)
    return f"Of {many} {', '.join(counts)}. {'; '.join(parts)}.{more}"


def _part(row):
    share = f", {row.percent(row.line.mean):.1f} %" if row.is_drawn else ""
    return f"{row.line.key} {row.numbers}{share}: {row.told}"
