"""What a batch may turn out to be: the interval of each output before what was wanted."""

import math
from dataclasses import dataclass

from formulate.errors import InputError
from formulate.sheets.figures.cost_closeness import checked_rows
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
    text_width,
    write,
)
from formulate.sheets.tables import Table
from formulate.stoichiometry.nutrients import nutrient
from formulate.working import printed

__all__ = ["doubt_bars"]

ROW, HEAD, FOOT, LINE = 0.31, 1.06, 0.56, 0.22  # in
NAME, LEFT, SPAN, SAID, INPUT, EDGE = 0.08, 1.12, 2.3, 3.56, 5.12, 7.05  # in
LEAST, MOST, NEAR = 50.0, 150.0, 10.0  # %: ends of the axis, and what it shows at least
LEAST_PH = 0.5  # what the axis of a pH spans at least
PLAIN = "#6E6E6E"  # bars of what has no colour of its own
TITLE = "How sure the batch is"
MOST_TOLD = 8
DIGITS, ROOM = 3, 0.15  # of an axis: left free at either end


@dataclass(frozen=True)
class _Row:
    """One output: its interval and what was wanted, in its unit."""

    name: str
    low: float
    middle: float
    high: float
    unit: str
    input: str
    share: float
    wanted: tuple = ()

    @property
    def is_known(self):
        return all(map(math.isfinite, (self.low, self.middle, self.high)))

    @property
    def is_relative(self):
        """Whether it is told in percent of what was wanted."""
        return self.unit == "mg/L" and bool(self.wanted) and self.wanted[1] > 0

    @property
    def scale(self):
        """Return what makes percent of the wanted middle."""
        return 100 / (sum(self.wanted) / 2)

    def told(self, value):
        """Return a value with the digits it deserves."""
        if self.name.startswith("pH"):
            return f"{value:.2f}"
        return printed(value, DIGITS)

    @property
    def interval(self):
        """Return the interval in words, with its unit."""
        if not self.is_known:
            return "not known"
        return f"{self.told(self.low)} to {self.told(self.high)} {self.unit}".strip()

    @property
    def aim(self):
        """Return what was wanted in words, without unit."""
        ends = [self.told(end) for end in self.wanted if math.isfinite(end)]
        if self.wanted and math.isinf(self.wanted[1]):
            return f"at least {ends[0]}"
        if self.wanted and math.isinf(self.wanted[0]):
            return f"at most {ends[0]}"
        return " to ".join(dict.fromkeys(ends))

    @property
    def cause(self):
        return f"{self.input} {100 * self.share:.0f} %" if self.input else ""


def doubt_bars(doubt, *, wanted=None):
    """
    Return a picture of the interval of each output of a batch.

    Parameters
    ----------
    doubt : Doubt
        The doubt of a batch, or whatever has rows of output, low, middle, high, unit,
        the input that matters most, and its share of the variance.
    wanted : mapping of str to (float, float), or None
        Output to the least and greatest that is wanted, in its unit, twice the same for a
        point; if None, what the batch's target and limits say. [-]

    Returns
    -------
    Picture
        Nutrients in percent of what was wanted; EC, pH and the like on axes of their own.

    Raises
    ------
    InputError
        If it is something else, or holds nothing.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> rows = (("K", 196.5, 200.0, 203.7, "mg/L", "volume", 0.98),)
    >>> made = SimpleNamespace(rows=lambda: rows, level=0.9)
    >>> doubt_bars(made, wanted={"K": (200.0, 200.0)}).alt
    '90 of 100 batches lie within these: K 98 to 102 % of wanted (volume 98 %).'
    """
    found = checked_rows(doubt, "doubt_bars", 7)
    if not found:
        raise InputError("doubt_bars: nothing was drawn, so there is nothing to show")
    wanted = _wanted(doubt) if wanted is None else dict(wanted)
    rows = [_Row(*row, tuple(wanted.get(row[0], ()))) for row in found]
    level = getattr(doubt, "level", 0.9)
    with drawing():
        figure = _drawn(rows, level)
    thing = getattr(doubt, "thing", None)
    return Picture(
        key="doubt-bars",
        title=TITLE,
        alt=_alt(rows, level),
        table=_table(rows),
        source=made_by(getattr(thing, "target", None), getattr(thing, "water", None)),
        figure=figure,
    )


def _wanted(doubt):
    """Return output to what the target and the limits of a batch want of it."""
    target, found = getattr(getattr(doubt, "thing", None), "target", None), {}
    for kept in (*getattr(doubt, "ranges", ()), *getattr(doubt, "limits", ())):
        limit = kept.asked.limit
        low, high = found.get(limit.subject, (-math.inf, math.inf))
        found[limit.subject] = (max(low, limit.low), min(high, limit.high))
    if target is None:
        return found
    for key in target.wanted:
        ends = target.ranges.get(key, (target.wanted[key],) * 2)
        found[key] = tuple(end * nutrient(key).molar_mass for end in ends)
    if target.alkalinity is not None:
        found["alkalinity"] = target.alkalinity
    return found


def _blocks(rows):
    """Return the nutrients told in percent, then the others by their unit."""
    blocks = {"": [row for row in rows if row.is_relative]}
    for row in rows:
        if not row.is_relative:
            word = "pH" if row.name.startswith("pH") else row.unit
            if row.unit == "mg/L":
                word = (
                    "mg/L, not wanted by name" if not row.wanted else "mg/L, wanted 0"
                )
            blocks.setdefault(word, []).append(row)
    return {word: block for word, block in blocks.items() if block}


def _drawn(rows, level):
    blocks = _blocks(rows)
    height = HEAD + ROW * len(rows) + FOOT * len(blocks) - 0.06
    figure = new_figure(height)
    write(figure, NAME, 0.18, TITLE, fontsize=LARGE, weight="bold")
    _key(figure, level)
    for left, words in ((SAID, "lies between"), (INPUT, "what matters most")):
        write(figure, left, HEAD - 0.14, words, fontsize=SMALL, color=QUIET)
    top = HEAD
    for word, block in blocks.items():
        _panel(figure, block, word, top)
        top += ROW * len(block) + FOOT
    return figure


def _key(figure, level):
    """Say in a line what the marks are."""
    words = (
        f"{100 * level:.3g} of 100 batches lie within the bar, as many below as above."
    )
    write(figure, NAME, 0.43, words, fontsize=SMALL)
    axes = panel(figure, NAME, 0.56, 7.0, 0.22)
    axes.set(xlim=(0, 7.0), ylim=(1, 0), xticks=[], yticks=[])
    axes.barh([0.5], [0.34], 0.5, facecolor=PLAIN, edgecolor=INK, linewidth=0.9)
    axes.plot([0.17] * 2, [0.08, 0.92], color=INK, linewidth=2.2)
    axes.barh([0.5], [0.34], 0.9, left=[2.4], facecolor=WITHIN)
    axes.plot([5.17] * 2, [0.0, 1.0], color=INK, linewidth=1.2, linestyle=(0, (3, 1.5)))
    places = (
        (0.46, "bar, and its middle"),
        (2.86, "range that is wanted"),
        (5.3, "wanted"),
    )
    for left, words in places:
        write(figure, NAME + left, 0.67, words, fontsize=SMALL)


def _panel(figure, block, word, top):
    """Draw the outputs of one unit."""
    axes = panel(figure, LEFT, top, SPAN, ROW * len(block))
    low, high = _ends(block)
    axes.set(xlim=(low, high), ylim=(len(block) - 0.5, -0.5), yticks=[])
    axes.locator_params(axis="x", nbins=5)
    axes.ticklabel_format(axis="x", style="plain", useOffset=False)
    axes.set_xlabel(word or "% of what was wanted", fontsize=SMALL)
    axes.spines["bottom"].set_visible(True)
    axes.grid(axis="x", color="#E4E4E4", linewidth=0.6, zorder=0)
    axes.set_axisbelow(True)
    for place, row in enumerate(block):
        _behind(axes, place, row, (low, high))
        if row.is_known:
            _bar(axes, place, row, (low, high))
        _line(figure, row, top + ROW * (place + 0.5))


def _scale(row):
    return row.scale if row.is_relative else 1.0


def _ends(block):
    """Return the ends of the axis of one panel."""
    values = [
        v * _scale(row) for row in block for v in (row.low, row.high) if row.is_known
    ]
    values += [v * _scale(row) for row in block for v in row.wanted if math.isfinite(v)]
    relative = block[0].is_relative
    values += [100 - NEAR, 100 + NEAR] if relative else []
    low, high = min(values, default=0.0), max(values, default=1.0)
    room = ROOM * (high - low) or 0.05 * abs(high) or 1.0
    if not relative:
        wider = max(_least_span(block) - (high - low), 0.0) / 2
        low, high = low - room - wider, high + room + wider
        return (low, high) if min(values, default=0.0) < 0 else (max(low, 0.0), high)
    return max(low - 0.3 * room, LEAST), min(high + 0.3 * room, MOST)


def _least_span(block):
    """Return what an axis spans at least, so that what is sure looks sure."""
    if block[0].name.startswith("pH"):
        return LEAST_PH
    return 2 * NEAR / 100 * max((r.middle for r in block if r.is_known), default=1.0)


def _behind(axes, place, row, ends):
    """Draw what is wanted behind: a range as a band, a point as a dashed line."""
    if not row.wanted:
        return
    low, high = (min(max(v * _scale(row), ends[0]), ends[1]) for v in row.wanted)
    if high > low:
        axes.barh([place], [high - low], 0.9, left=[low], color=WITHIN, zorder=1)
        return
    dashed = {"color": INK, "linewidth": 1.2, "linestyle": (0, (3, 1.5)), "zorder": 2}
    axes.plot([low] * 2, [place - 0.5, place + 0.5], **dashed)


def _bar(axes, place, row, ends):
    """Draw an interval and its middle; an arrow where it leaves the axis."""
    low, middle, high = (v * _scale(row) for v in (row.low, row.middle, row.high))
    left, right = (min(max(v, ends[0]), ends[1]) for v in (low, high))
    look = {"facecolor": _colour(row), "edgecolor": INK, "linewidth": 0.9, "zorder": 3}
    axes.barh([place], [right - left], 0.44, left=[left], **look)
    if ends[0] <= middle <= ends[1]:
        marks = [place - 0.34, place + 0.34]
        axes.plot([middle] * 2, marks, color="white", linewidth=4.4, zorder=4)
        axes.plot([middle] * 2, marks, color=INK, linewidth=2.2, zorder=5)
    for end, sign, beyond in (
        (ends[0], "<", low < ends[0]),
        (ends[1], ">", high > ends[1]),
    ):
        if beyond:
            look = {
                "color": INK,
                "ms": 9,
                "mec": "white",
                "zorder": 6,
                "clip_on": False,
            }
            axes.plot([end], [place], sign, **look)


def _colour(row):
    return colour(row.name) if row.unit == "mg/L" else PLAIN


def _line(figure, row, middle):
    """Write the name of one output, its interval and what matters most for it."""
    name = fitted(row.name, LEFT - NAME - 0.06, SMALL)
    write(figure, NAME, middle, name, fontsize=SMALL, weight="bold")
    words = fitted(row.interval, INPUT - SAID - 0.06, SMALL)
    write(figure, SAID, middle, words, fontsize=SMALL)
    if not row.input:
        return
    share = f"{100 * row.share:.0f} %"
    room = EDGE - INPUT - text_width(share, SMALL) - 0.08
    text = f"{fitted(row.input, room, SMALL)} {share}"
    write(figure, INPUT, middle, text, fontsize=SMALL)


def _table(rows):
    cells = tuple(
        (
            row.name,
            *((row.told(v) if math.isfinite(v) else "not known") for v in _values(row)),
            row.unit,
            row.aim,
            row.input,
            f"{100 * row.share:.0f}" if row.input else "",
        )
        for row in rows
    )
    columns = ("output", "low", "middle", "high", "unit", "wanted", "what matters most")
    table = Table(
        "doubt-bars", TITLE, (*columns, "its share %"), cells, (1, 2, 3, 5, 7)
    )
    return table.without_empty("wanted", "what matters most", "its share %")


def _values(row):
    return row.low, row.middle, row.high


def _alt(rows, level):
    told = []
    for row in rows[:MOST_TOLD]:
        words = f"{row.name} {row.interval}"
        if row.is_relative and row.is_known:
            low, high = (f"{row.scale * v:.0f}" for v in (row.low, row.high))
            words = f"{row.name} {low} to {high} % of wanted"
        told.append(words + (f" ({row.cause})" if row.cause else ""))
    told += [
        f"{row.name} {row.interval}" for row in rows[MOST_TOLD:] if row.unit != "mg/L"
    ]
    left = sum(row.unit == "mg/L" for row in rows[MOST_TOLD:])
    more = f", and {left} more nutrients" if left else ""
    return (
        f"{100 * level:.3g} of 100 batches lie within these: {', '.join(told)}{more}."
    )
