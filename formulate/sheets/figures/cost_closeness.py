"""What closeness costs: the cheapest batch against the worst deviation it may have."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from formulate.errors import InputError, shortened
from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.style import (
    INK,
    LARGE,
    QUIET,
    SMALL,
    drawing,
    fitted,
    new_figure,
    panel,
    text_width,
    write,
)
from formulate.sheets.tables import Table
from formulate.working import printed

__all__ = ["changed_names", "checked_rows", "cost_closeness"]

HEIGHT, LEFT, TOP, SPAN, RISE, EDGE = 4.7, 0.98, 0.98, 5.97, 3.1, 7.05  # in
LETTER, APART, MARK, WIDEST = 0.16, 0.05, 0.1, 2.6  # in
AWAY, STEP = 0.12, 0.06  # in: from a point to its words, and between places tried
DIGITS, MOST_TOLD = 4, 6
BEYOND = 1.05  # of the last deviation: where the axis ends
HEADROOM = 0.35  # of the span of costs, above the dearest
TITLE = "What closeness costs"
KEY = ((0.08, "● cheapest at that deviation"), (2.3, "◆ exact recipe"))
KEY += ((3.6, "+ comes in"), (4.6, "− goes out"))
UNSAID = "more stands in the table"


def cost_closeness(curve, *, exact=None):
    """
    Return a picture of the cost of a batch against its worst deviation.

    Parameters
    ----------
    curve : CostCurve
        The curve, or whatever has rows of worst deviation in percent, cost, and names.
    exact : (float, float) or None
        Worst deviation in percent and cost of the exact recipe; if None, what
        the curve tells, else its closest point. [-]

    Returns
    -------
    Picture
        A line through the points worked out; at its kinks what comes in and goes out.

    Raises
    ------
    InputError
        If it is something else, or holds no point.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> rows = ((0.0, 5.0, ("KNO3", "NH4NO3")), (5.0, 4.0, ("KNO3",)))
    >>> cost_closeness(SimpleNamespace(rows=lambda: rows)).alt
    'Cost of the batch against the worst deviation: 5.000 at 0 %, 4.000 at 5 %. The exact \
recipe costs 5.000 at 0 %. At 5 %: − NH4NO3.'
    """
    rows = sorted(checked_rows(curve, "cost_closeness", 3), key=lambda row: row[0])
    rows = [(float(x), float(cost), tuple(names)) for x, cost, names in rows]
    if not rows:
        raise InputError("cost_closeness: the curve holds no point")
    exact = _exact(curve, rows) if exact is None else tuple(map(float, exact))
    with drawing():
        figure = _drawn(rows, exact)
    return Picture(
        key="cost-closeness",
        title=TITLE,
        alt=_alt(rows, exact),
        table=_table(rows),
        source=made_by(curve),
        figure=figure,
    )


def checked_rows(thing, who, width):
    """
    Return the rows of what is to be drawn.

    Parameters
    ----------
    thing : object
        What has rows.
    who : str
        Who asks, for the message.
    width : int
        Cells that each row must have; further ones are left out. [-]

    Returns
    -------
    list of tuple
        The rows.

    Raises
    ------
    InputError
        If it has none, or of another width.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> checked_rows(SimpleNamespace(rows=lambda: [(1, 2)]), "figure", 2)
    [(1, 2)]
    """
    if not callable(getattr(thing, "rows", None)):
        raise InputError(f"{who}: {shortened(thing)} has no rows to draw")
    rows = [tuple(row) for row in thing.rows()]
    if any(len(row) < width for row in rows):
        raise InputError(f"{who}: give rows of {width} cells each")
    return [row[:width] for row in rows]


def changed_names(before, after):
    """
    Return in words what comes in and what goes out between two sets of names.

    Parameters
    ----------
    before : iterable of str
        Names at first.
    after : iterable of str
        Names then.

    Returns
    -------
    str
        Such as "+ urea − KNO3"; "" if they are the same.

    Examples
    --------
    >>> changed_names(("KNO3", "K2SO4"), ("K2SO4", "urea"))
    '+ urea − KNO3'
    """
    before, after = tuple(before), tuple(after)
    new = ", ".join(name for name in after if name not in before)
    gone = ", ".join(name for name in before if name not in after)
    return " ".join([f"+ {new}"] * bool(new) + [f"− {gone}"] * bool(gone))


def told_changes(sets):
    """
    Return sets of names in words: the first in full, then what comes in and goes out.

    Parameters
    ----------
    sets : sequence of sequence of str
        Names, one set after the other.

    Returns
    -------
    list of str
        Words for each.

    Examples
    --------
    >>> told_changes([("KNO3", "K2SO4"), ("KNO3", "K2SO4"), ("KNO3",)])
    ['KNO3, K2SO4', 'the same', '− K2SO4']
    """
    if not sets:
        return []
    pairs = ((changed_names(a, b) or "the same") for a, b in pairwise(sets))
    return [", ".join(sets[0]), *pairs]


def _exact(curve, rows):
    """Return deviation and cost of the recipe that a curve was made of."""
    point = getattr(curve, "exact", None)
    return rows[0][:2] if point is None else (point.deviation, point.cost)


@dataclass(frozen=True)
class _Scale:
    """From deviations and costs to places in the panel. [in]"""

    right: float
    low: float
    high: float

    def at(self, deviation, cost):
        """Return where a point lies. [in]"""
        across = SPAN * np.asarray(deviation) / self.right
        return across, RISE * (np.asarray(cost) - self.low) / (self.high - self.low)


def _scaled(rows, exact):
    """Return the ends of the axes: from 0 %, and room above the costs for words."""
    costs = [row[1] for row in rows] + [exact[1]]
    span = max(max(costs) - min(costs), 0.02 * max(map(abs, costs))) or 1.0
    right = BEYOND * max(*(row[0] for row in rows), exact[0], 1e-9)
    return _Scale(
        right, max(min(costs) - 0.12 * span, 0.0), max(costs) + HEADROOM * span
    )


def _drawn(rows, exact):
    figure, scale = new_figure(HEIGHT), _scaled(rows, exact)
    write(figure, 0.08, 0.18, TITLE, fontsize=LARGE, weight="bold")
    write(figure, 0.08, 0.43, _said(rows), fontsize=SMALL)
    for left, words in KEY:
        write(figure, left, 0.68, words, fontsize=SMALL)
    axes = panel(figure, LEFT, TOP, SPAN, RISE)
    axes.set(xlim=(0, scale.right), ylim=(scale.low, scale.high))
    axes.set_xlabel("worst deviation from what is wanted, %", fontsize=SMALL)
    axes.set_ylabel("cost of the batch, in the currency of the prices", fontsize=SMALL)
    axes.spines[["left", "bottom"]].set_visible(True)
    axes.ticklabel_format(style="plain", useOffset=False)
    axes.grid(color="#E4E4E4", linewidth=0.6, zorder=0)
    axes.set_axisbelow(True)
    across, costs = [row[0] for row in rows], [row[1] for row in rows]
    axes.plot(across, costs, color=INK, linewidth=2.0, zorder=3)
    dot = {"color": INK, "mec": "white", "mew": 1.0, "clip_on": False}
    axes.plot(across, costs, "o", ms=7, zorder=4, **dot)
    axes.plot(*[[end] for end in exact], "D", ms=10, zorder=5, **dot)
    _words(figure, axes, rows, exact, scale)
    return figure


def _said(rows):
    """Return in a sentence what can be saved."""
    first, last = rows[0], rows[-1]
    if len(rows) == 1:
        return (
            f"At {_percent(first[0])} % deviation the batch costs {printed(first[1])}."
        )
    saved = 100 * (first[1] - last[1]) / first[1] if first[1] else 0.0
    return (
        f"From {_percent(first[0])} to {_percent(last[0])} % deviation the batch costs "
        f"{printed(first[1])} to {printed(last[1])}: {saved:.0f} % less."
    )


def _percent(deviation):
    """Return a deviation to two decimals, without those that are nothing."""
    return f"{round(deviation, 2) + 0.0:g}"


def _kinks(rows):
    """Return the place of each row whose names differ from the row before, and how."""
    pairs = pairwise(rows)
    told = [changed_names(a[2], b[2]) for a, b in pairs]
    return [(place, words) for place, words in enumerate(told, 1) if words]


def _words(figure, axes, rows, exact, scale):
    """Write the exact recipe's cost, then at each kink what changes, where there is room."""
    across, up = scale.at([row[0] for row in rows], [row[1] for row in rows])
    fine = _fine(across, up)
    boxes = [
        (x - MARK, y - MARK, x + MARK, y + MARK)
        for x, y in zip(across, up, strict=True)
    ]
    at = tuple(map(float, scale.at(*exact)))
    boxes.append((at[0] - MARK, at[1] - MARK, at[0] + MARK, at[1] + MARK))
    named = [(at, f"exact recipe {printed(exact[1])}")]
    named += [
        ((across[n], up[n]), fitted(text, WIDEST, SMALL)) for n, text in _kinks(rows)
    ]
    missing = False
    for point, text in named:
        box = _free(point, text, boxes, fine)
        if box is None:
            missing = True
            continue
        boxes.append(box)
        left, middle = box[0] + APART, (box[1] + box[3]) / 2
        write(figure, LEFT + left, TOP + RISE - middle, text, fontsize=SMALL)
        if box[1] - point[1] > 2 * AWAY:
            _leader(axes, scale, point, box, boxes)
    if missing:
        write(figure, EDGE, 0.68, UNSAID, ha="right", fontsize=SMALL, color=QUIET)


def _fine(across, up):
    """Return points along the line, near to each other. [in]"""
    places = np.linspace(0, len(across) - 1, 40 * len(across))
    steps = np.arange(len(across))
    return np.column_stack(
        [np.interp(places, steps, across), np.interp(places, steps, up)]
    )


def _free(point, text, boxes, fine):
    """Return the first free box for words above a point, or None. [in]"""
    width = text_width(text, SMALL) + 2 * APART
    for rise in np.arange(AWAY, RISE, STEP):
        for shift in (0.02, -width / 2, -width + 0.02):
            left, low = point[0] + shift, point[1] + rise
            box = (left, low, left + width, low + LETTER)
            inside = box[0] >= 0.02 and box[2] <= SPAN and box[3] <= RISE
            if inside and not _hits(box, boxes, fine) and _is_clear(point, box, boxes):
                return box
    return None


def _hits(box, boxes, fine):
    """Return whether a box lies over another or over the line."""
    left, low, right, high = box
    over = any(
        left < b[2] and right > b[0] and low < b[3] and high > b[1] for b in boxes
    )
    inside = (fine[:, 0] > left) & (fine[:, 0] < right)
    return over or bool(
        (inside & (fine[:, 1] > low - 0.03) & (fine[:, 1] < high)).any()
    )


def _is_clear(point, box, boxes):
    """Return whether a leader straight up to a box crosses no other words."""
    return not any(
        b[0] - 0.03 < point[0] < b[2] + 0.03
        and point[1] + MARK < b[3]
        and b[1] < box[1]
        for b in boxes
    )


def _leader(axes, scale, point, box, boxes):
    """Draw a thin line from a point to its words."""
    ends = (point[1] + MARK, box[1])
    boxes.append((point[0] - 0.02, ends[0], point[0] + 0.02, ends[1]))
    back = [scale.low + end / RISE * (scale.high - scale.low) for end in ends]
    deviation = point[0] / SPAN * scale.right
    axes.plot([deviation] * 2, back, color=QUIET, linewidth=0.8, zorder=2)


def _table(rows):
    cells = tuple(
        (_percent(x), printed(cost, DIGITS), words)
        for (x, cost, _), words in zip(
            rows, told_changes([r[2] for r in rows]), strict=True
        )
    )
    columns = ("worst deviation %", "cost of the batch", "made of, then what changes")
    return Table("cost-closeness", TITLE, columns, cells, (0, 1))


def _alt(rows, exact):
    told = ", ".join(
        f"{printed(row[1], DIGITS)} at {_percent(row[0])} %" for row in rows
    )
    if len(rows) > MOST_TOLD:
        ends = (rows[0], rows[-1])
        told = " to ".join(
            f"{printed(r[1], DIGITS)} at {_percent(r[0])} %" for r in ends
        )
        told += f", {len(rows)} points"
    text = f"Cost of the batch against the worst deviation: {told}. The exact recipe costs "
    text += f"{printed(exact[1], DIGITS)} at {_percent(exact[0])} %."
    kinks = [f"At {_percent(rows[n][0])} %: {words}." for n, words in _kinks(rows)]
    return " ".join([text, *kinks[:MOST_TOLD]])
