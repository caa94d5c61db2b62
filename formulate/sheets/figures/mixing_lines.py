"""Where concentrates meet: the largest index on the way from one liquid to the other."""

from dataclasses import dataclass

import numpy as np

from formulate.chemistry.risks import RISKS, SHOWN_FROM
from formulate.errors import InputError, shortened
from formulate.mixing.meeting import Meetings, MixingLine
from formulate.sheets.figures.foot_lines import LINE, foot_lines, write_foot
from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.risk_marks import (
    gravest,
    index_text,
    mark_key,
    risk_mark,
)
from formulate.sheets.figures.species_ph import DASHES, label_places
from formulate.sheets.figures.style import (
    INK,
    LARGE,
    QUIET,
    SMALL,
    WANTED,
    drawing,
    fitted,
    new_figure,
    panel,
    write,
)
from formulate.sheets.tables import Table

__all__ = ["mixing_lines"]

TOP, LEFT, SPAN, RISE, FOOT = 0.98, 0.75, 6.2, 3.6, 0.56  # in
BARE = 1.2  # in: height without a line
NAME, WIDEST = 0.08, 3.0  # in
LOW, HIGH = -3.0, 3.0  # of the axis
MOST = 7  # lines drawn
PERCENT, AT = 100.0, (1, 10, 25, 50, 75, 90, 100)  # %: where the table tells a line
SHORT = {"stock ": "", " stock": "", "the water": "water", " in it": "", ", both": ","}
SHORT = {"all stocks": "all"} | SHORT | {" and ": ", "}
TITLE = "Where the stocks meet"
NOTE = "Largest index on the way from one liquid to the other. Shaded: above 0 a solid can form."
STOPS = "A line ends at the last share worked out at which a solid can form."
NOTHING = "no solid can form"


def mixing_lines(found):
    """
    Return a picture of what happens wherever the concentrates of a batch meet.

    Parameters
    ----------
    found : Meetings
        The meetings, as `meetings` returns them.

    Returns
    -------
    Picture
        The largest index against the share of what is poured: in turn, into each other
        undiluted, all at once. A mark stands where a line is worst.

    Raises
    ------
    InputError
        If it is something else, or holds no line.

    Examples
    --------
    >>> from formulate.mixing.meeting import meetings
    >>> from formulate.mixing.tanks import split_tanks
    >>> feed = {"MgSO4·7H2O": 50.0, "Ca(NO3)2·4H2O": 90.0}
    >>> picture = mixing_lines(meetings(split_tanks(feed, volume=100)))
    >>> picture.alt[:62]
    'Largest saturation index from 0 to 100 % of what is poured: st'
    """
    if not isinstance(found, Meetings):
        what = "give what meetings returns"
        raise InputError(f"mixing_lines: {shortened(found)} is no Meetings; {what}")
    if not found.lines:
        raise InputError("mixing_lines: there is no line; nothing to draw")
    drawn, left_out = _sorted(found)
    with drawing():
        figure = _drawn(drawn, left_out)
    tanks = found.tanks
    return Picture(
        key="mixing-lines",
        title=TITLE,
        alt=_alt(drawn, left_out),
        table=_table(drawn),
        source=made_by(tanks.batch.water, tanks.stock_water, *tanks.batch.ingredients),
        figure=figure,
    )


@dataclass(frozen=True, eq=False)
class _Way:
    """A line with its largest index, and where, with what and how gravely it is worst."""

    line: MixingLine
    largest: np.ndarray
    at: int
    solid: str
    level: int

    @classmethod
    def of(cls, line):
        """Return a line with what is told of it."""
        none = np.full(line.shares.shape, -np.inf)
        largest = np.max([none, *line.indices.values()], axis=0)
        told = gravest(line.indices) or [("", -np.inf, 0)]
        at = max(range(len(told)), key=lambda n: (told[n][2], told[n][1]))
        return cls(line, largest, at, told[at][0], told[at][2])

    @property
    def index(self):
        """Return the index of the solid that is told."""
        return float(self.line.indices[self.solid][self.at]) if self.solid else -np.inf

    @property
    def percent(self):
        """Return the share of what is poured at the worst place. [%]"""
        return PERCENT * float(self.line.shares[self.at])

    @property
    def is_near(self):
        """Return whether it comes near enough to anything to be drawn."""
        return bool(self.largest.max() >= SHOWN_FROM)

    @property
    def stops(self):
        """Return whether it ends in the panel, for want of a solid in what is poured."""
        last = self.largest[np.isfinite(self.largest)][-1:]
        return bool(np.isneginf(self.largest[-1]) and np.any(last >= LOW))

    @property
    def look(self):
        """Return colour and width of its line: what is never to be done is thick or grey."""
        if self.line.way == "at once":
            return INK, 3.0
        return (QUIET, 2.0) if self.line.way == "undiluted" else (INK, 1.8)


def _sorted(found):
    """Return the lines to draw, and those left out: far from any solid, or too many."""
    shown = ("in turn", "undiluted", "at once")
    ways = [_Way.of(line) for line in found.lines if line.way in shown]
    near = [way for way in ways if way.is_near]
    first = sorted(near, key=lambda w: (w.line.way == "undiluted", -w.level, -w.index))
    drawn = [way for way in ways if way in first[:MOST]]
    return drawn, [way for way in ways if way not in drawn]


def _drawn(drawn, left_out):
    """Draw the lines with their names, and say which are left out."""
    notes = foot_lines(_notes(drawn, left_out))
    rise = RISE if drawn else BARE
    figure = new_figure(TOP + rise + FOOT + LINE * len(notes) + 0.06)
    write(figure, NAME, 0.18, TITLE, fontsize=LARGE, weight="bold")
    write(figure, NAME, 0.44, NOTE, fontsize=SMALL)
    write(figure, NAME, 0.69, "Where a line is worst, how likely:", fontsize=SMALL)
    mark_key(figure, 2.35, 0.69)
    axes, high = panel(figure, LEFT, TOP, SPAN, rise), _high(drawn)
    axes.set(xlim=(0, PERCENT), ylim=(LOW, high))
    axes.set_xlabel("share of what is poured, %", fontsize=SMALL)
    words = "largest saturation index (logarithm)" if drawn else "index"
    axes.set_ylabel(words, fontsize=SMALL)
    axes.locator_params(axis="y", nbins=10 if drawn else 4)
    axes.spines[["left", "bottom"]].set_visible(True)
    axes.axhspan(0.0, high, facecolor=WANTED, zorder=0)
    axes.axhline(0.0, color=INK, linewidth=1.2, zorder=1)
    _lines(axes, drawn)
    _names(figure, axes, drawn, high)
    write_foot(figure, TOP + rise + FOOT, notes)
    return figure


def _high(drawn):
    """Return where the axis ends: a little above the largest index."""
    most = max((way.largest.max() for way in drawn), default=0.0)
    return min(max(float(np.ceil(2 * (most + 0.3)) / 2), 1.0), HIGH)


def _looks(drawn):
    """Return colour, width and dashes of each line, no two alike."""
    used, found = {}, []
    for way in drawn:
        place = used[way.look] = used.get(way.look, -1) + 1
        found.append((*way.look, DASHES[place % len(DASHES)]))
    return found


def _lines(axes, drawn):
    """Draw each line and mark where it is worst; nothing where nothing can form."""
    for way, (shade, width, dashes) in zip(drawn, _looks(drawn), strict=True):
        x, y = PERCENT * way.line.shares, way.largest
        y = np.where(np.isfinite(y), y, np.nan)
        axes.plot(x, y, color=shade, ls=dashes, lw=width, zorder=3)
    top = axes.get_ylim()[1]
    for way in drawn:
        at = min(float(way.largest[way.at]), top)
        axes.plot([way.percent], [at], zorder=5, **risk_mark(way.level))


def _names(figure, axes, drawn, high):
    """Write at each line what is poured into what."""
    lines = [_places(way, high) for way in drawn]
    words = [fitted(_short(way.line.what), WIDEST, SMALL) for way in drawn]
    marks = [_mark_box(way, high) for way in drawn]
    found = label_places(lines, words, SPAN, RISE, taken=marks)
    for text, (left, up, ends) in zip(words, found, strict=True):
        write(figure, LEFT + left, TOP + RISE - up, text, ha="center", fontsize=SMALL)
        if ends:
            x, y = np.array(ends).T
            x, y = PERCENT * x / SPAN, LOW + y / RISE * (high - LOW)
            axes.plot(x, y, "-o", color=INK, lw=0.6, ms=2.5, markevery=[1], zorder=4)


def _short(what):
    """Return what is poured into what, as short as it stands at a line."""
    for words, shorter in SHORT.items():
        what = what.replace(words, shorter)
    return what


def _places(way, high):
    """Return the places of a line in the panel, as far as it lies in it. [in]"""
    y = np.clip(way.largest, LOW, high)
    inside = (way.largest >= LOW) & np.isfinite(way.largest)
    return SPAN * way.line.shares[inside], RISE * (y[inside] - LOW) / (high - LOW)


def _mark_box(way, high):
    """Return the box of the mark of a line. [in]"""
    x = SPAN * way.percent / PERCENT
    y = RISE * (min(float(way.largest[way.at]), high) - LOW) / (high - LOW)
    return x - 0.08, y - 0.08, x + 0.08, y + 0.08


def _notes(drawn, left_out):
    """Return what is not drawn, a line each."""
    least = f"{SHOWN_FROM:g}".replace("-", "−")
    far = [way.line.what for way in left_out if not way.is_near]
    crowded = [way for way in left_out if way.is_near]
    found = [STOPS] if any(way.stops for way in drawn) else []
    found += [] if drawn else [f"No solid comes nearer than {least} on any line."]
    if far:
        found.append(f"Left out, nowhere above {least}: {'; '.join(far)}.")
    if crowded:
        told = "; ".join(f"{w.line.what} ({_said(w)})" for w in crowded)
        found.append(f"Left out for want of room: {told}.")
    return found


def _said(way):
    if not way.solid:
        return NOTHING
    return f"{way.solid} {index_text(way.index)}, {RISKS[way.level]}"


def _table(drawn):
    """Return each line with where it is worst, and its largest index on the way."""
    columns = ("what", "solid", "index", "at %", "risk", "% of the way above 0")
    columns += tuple(f"at {at} %" for at in AT)
    rows = tuple(_row(way) for way in drawn)
    return Table("mixing-lines", TITLE, columns, rows, (2, 3, *range(5, len(columns))))


def _row(way):
    line = way.line
    row = (line.what, way.solid, index_text(way.index), f"{way.percent:.3g}")
    row += (RISKS[way.level], f"{line.supersaturated_percent:.0f}")
    return row + tuple(index_text(_index_at(way, at)) for at in AT)


def _index_at(way, percent):
    """Return the largest index at a share of what is poured, as it is drawn."""
    known = np.where(np.isfinite(way.largest), way.largest, np.nan)
    at = float(np.interp(percent / PERCENT, way.line.shares, known))
    return at if np.isfinite(at) else -np.inf


def _alt(drawn, left_out):
    told = [
        f"{way.line.what}: {_said(way)}, at {way.percent:.3g} %, "
        f"{way.line.supersaturated_percent:.0f} % of the way above 0"
        for way in drawn
    ]
    head = "Largest saturation index from 0 to 100 % of what is poured: "
    text = head + "; ".join(told) + "." if told else TITLE + "."
    return " ".join([text, *_notes(drawn, left_out)])
