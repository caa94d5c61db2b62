"""Two recipes nutrient by nutrient: what the second holds in percent of the first.

Both stand on one line, joined: a ring for the first, which is 100 %, a diamond for the
second. The axis begins at 0 only where a value comes near it, for nothing is drawn as long
as it is.
"""

import math
from dataclasses import dataclass

from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.style import (
    INK,
    LARGE,
    QUIET,
    SMALL,
    colour,
    drawing,
    fitted,
    new_figure,
    panel,
    write,
)
from formulate.sheets.tables import Table
from formulate.working import printed_mg_l, printed_percent

__all__ = ["two_jobs_bars"]

ROW, HEAD, FOOT = 0.29, 0.98, 0.55  # in
NAME, LEFT, SPAN = 0.08, 0.95, 3.1  # in
COLUMNS = {
    "first": 4.92,
    "second": 5.78,
    "differs": 5.92,
}  # in: right, right, left edge
WHOLE, GRID, LEAST_SPAN, BEYOND = 100.0, 25.0, 50.0, 200.0  # % of the first
SAME = 1e-9  # share: less is what adding up leaves
MOST_TOLD = 8  # nutrients named in an alt text
TITLE = "What a litre holds: the second in percent of the first"


@dataclass(frozen=True)
class _Pair:
    """One nutrient in both. [mg/L]"""

    key: str
    first: float
    second: float

    @property
    def percent(self):
        """Return the second in percent of the first; infinite where the first has none."""
        return WHOLE * self.second / self.first if self.first > 0 else math.inf

    @property
    def is_same(self):
        texts = {printed_mg_l(self.first), printed_mg_l(self.second)}
        return len(texts) == 1 or abs(self.percent - WHOLE) <= SAME * WHOLE

    @property
    def told(self):
        """Return by how much they differ, in words."""
        if math.isinf(self.percent):
            return "not in the first"
        if not self.second > 0:
            return "not in the second"
        return "the same" if self.is_same else printed_percent(self.percent - WHOLE)


def two_jobs_bars(first, second):
    """
    Return a picture of what a litre of two recipes holds.

    Parameters
    ----------
    first : Recipe
        The recipe that is 100 %, or whatever has its rows, solution, target and water.
    second : Recipe
        The recipe that is held against it.

    Returns
    -------
    Picture
        A ring and a diamond for each nutrient, joined by a line, with mg/L beside.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> whole, half = (solve(target({"K": k}), ["KNO3"], volume=10) for k in (200, 100))
    >>> print(two_jobs_bars(whole, half).alt)
    What the second holds of 2 nutrients, in percent of the first: most apart K 50 %, NO3-N \
50 %.
    """
    pairs = _pairs(first, second)
    with drawing():
        figure = _drawn(pairs)
    parts = (first.target, second.target, first.water, second.water)
    return Picture(
        key="two-jobs-bars",
        title=TITLE,
        alt=_alt(pairs),
        table=_table(pairs),
        source=made_by(*parts),
        figure=figure,
    )


def _pairs(first, second):
    """Return every nutrient that one of both holds, in the order in which it is shown."""
    wanted = (*first.target.wanted, *second.target.wanted)
    shown = (row[0] for one in (first, second) for row in one.rows())
    pairs = [
        _Pair(key, first.solution.mg_l(key), second.solution.mg_l(key))
        for key in dict.fromkeys((*wanted, *shown))
    ]
    return [pair for pair in pairs if pair.first > 0 or pair.second > 0]


def _drawn(pairs):
    figure = new_figure(HEAD + ROW * max(len(pairs), 1) + FOOT)
    write(figure, NAME, 0.18, TITLE, fontsize=LARGE, weight="bold")
    _key(figure)
    for name, place in COLUMNS.items():
        side = "left" if name == "differs" else "right"
        write(figure, place, 0.72, name, ha=side, fontsize=SMALL, color=QUIET)
        if name != "differs":
            write(figure, place, 0.87, "mg/L", ha=side, fontsize=SMALL, color=QUIET)
    if not pairs:
        write(figure, NAME, HEAD + ROW / 2, "neither holds a nutrient", fontsize=SMALL)
        return figure
    low, high = _ends(pairs)
    axes = panel(figure, LEFT, HEAD, SPAN, ROW * len(pairs))
    axes.set(xlim=(low, high), ylim=(len(pairs) - 0.5, -0.5), yticks=[])
    wide = GRID if high - low <= 5 * GRID else 2 * GRID
    axes.set_xticks([wide * n for n in range(10) if low <= wide * n <= high])
    axes.set_xlabel("% of what the first holds", fontsize=SMALL)
    axes.grid(axis="x", color="#D0D0D0", linewidth=0.6, zorder=0)
    axes.set_axisbelow(True)
    axes.axvline(WHOLE, color=INK, linewidth=1.2, zorder=1)
    for place, pair in enumerate(pairs):
        _line(axes, place, pair, low, high)
        _words(figure, pair, HEAD + ROW * (place + 0.5))
    return figure


def _key(figure):
    """Say in a line which mark is which."""
    axes = panel(figure, NAME, 0.36, 6.5, 0.2)
    axes.set(xlim=(0, 6.5), ylim=(0, 1), xticks=[], yticks=[])
    _ring(axes, 0.15, 0.5)
    write(figure, NAME + 0.32, 0.46, "the first: 100 %", fontsize=SMALL)
    _diamond(axes, 2.0, 0.5, "white")
    write(figure, NAME + 2.17, 0.46, "the second", fontsize=SMALL)


def _ends(pairs):
    """Return the ends of the axis: whole steps of its grid, far values left out."""
    shown = [min(pair.percent, BEYOND) for pair in pairs] + [WHOLE]
    low = max(GRID * math.floor((min(shown) - 1) / GRID), 0.0)
    high = GRID * math.ceil((max(shown) + 1) / GRID)
    if high - low < 2 * LEAST_SPAN:
        low, high = min(low, WHOLE - LEAST_SPAN), max(high, WHOLE + LEAST_SPAN / 2)
    return low, high


def _line(axes, place, pair, low, high):
    """Draw both marks of one nutrient and the line that joins them."""
    end = min(pair.percent, high)
    start = WHOLE if pair.first > 0 else low
    look = {"linewidth": 3.4, "solid_capstyle": "butt", "clip_on": False}
    axes.plot([start, end], [place, place], color=INK, zorder=2, **look)
    look["linewidth"] = 2.0
    axes.plot([start, end], [place, place], color=colour(pair.key), zorder=3, **look)
    if pair.first > 0:
        _ring(axes, WHOLE, place)
    if pair.percent > high:
        axes.plot([high], [place], ">", color=INK, ms=9, zorder=5, clip_on=False)
    else:
        _diamond(axes, end, place, colour(pair.key))


def _ring(axes, x, y):
    look = {"mfc": "white", "mec": INK, "mew": 1.3, "ms": 10, "zorder": 4}
    axes.plot([x], [y], "o", clip_on=False, **look)


def _diamond(axes, x, y, shade):
    look = {"mfc": shade, "mec": INK, "mew": 1.0, "ms": 6.5, "zorder": 5}
    axes.plot([x], [y], "D", clip_on=False, **look)


def _words(figure, pair, middle):
    """Write name and numbers of one nutrient."""
    write(figure, NAME, middle, fitted(pair.key, LEFT - NAME - 0.1), weight="bold")
    for name, value in (("first", pair.first), ("second", pair.second)):
        text = printed_mg_l(value)
        write(figure, COLUMNS[name], middle, text, ha="right", fontsize=SMALL)
    write(figure, COLUMNS["differs"], middle, pair.told, fontsize=SMALL)


def _table(pairs):
    rows = tuple(
        (
            pair.key,
            printed_mg_l(pair.first),
            printed_mg_l(pair.second),
            "" if math.isinf(pair.percent) else f"{pair.percent:.1f}",
            pair.told,
        )
        for pair in pairs
    )
    columns = ("nutrient", "first mg/L", "second mg/L", "% of the first", "differs")
    return Table("two-jobs-bars", TITLE, columns, rows, (1, 2, 3))


def _alt(pairs):
    """Return how many there are, and which are furthest apart."""
    count = f"{len(pairs)} nutrient{'s' * (len(pairs) != 1)}"
    text = f"What the second holds of {count}, in percent of the first"
    apart = [pair for pair in pairs if not pair.is_same]
    if not apart:
        return f"{text}: all the same."
    apart.sort(key=lambda pair: -abs(pair.percent - WHOLE))
    told = [
        f"{p.key} only in the second"
        if math.isinf(p.percent)
        else f"{p.key} {p.percent:.0f} %"
        for p in apart[:MOST_TOLD]
    ]
    same = len(pairs) - len(apart)
    more = f"; {same} the same" if same else ""
    return f"{text}: most apart {', '.join(told)}{more}."
