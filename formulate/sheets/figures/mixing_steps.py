"""An order of mixing, step by step: how near each solid is to falling out, in stairs.

Steps are read downwards, as a batch is mixed; across is the saturation index. A step is a
state with nothing between it and the next, so its line stands upright.
"""

from dataclasses import dataclass

import numpy as np

from formulate.chemistry.risks import RISKS, SHOWN_FROM, risk_level
from formulate.errors import Faults, InputError, shortened
from formulate.mixing.mixing_log import TOPPED, WATER, MixingLog
from formulate.sheets.figures.foot_lines import LINE, foot_lines, write_foot
from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.risk_marks import (
    gravest,
    index_text,
    mark_key,
    risk_mark,
)
from formulate.sheets.figures.species_ph import DASHES
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
    text_width,
    write,
)
from formulate.sheets.tables import Table
from formulate.working import printed

__all__ = ["mixing_steps"]

HEAD, ROW, LABEL, EDGE = 1.35, 0.32, 0.19, 7.1  # in
NAME, LEFT, SPAN, SAID = 0.08, 2.1, 2.75, 5.0  # in
STEM, APART = 0.1, 0.09  # in: above the first name, and between leaders
LOW, HIGH = -3.0, 3.0  # of the axis: what lies beyond ends in an arrow
MOST, MOST_TOLD = 6, 6  # solids drawn, and named in a line
THICK, THIN = 1.8, 1.1  # pt
SMALL_DASHES = (0, (3, 1.5))
TITLE = "What each step of mixing brings near"
NOTE = "Shaded: above 0 a solid can form. A mark tells how likely it is to, by its own limits:"
OTHER = "largest of the other order"
NOTHING = "no solid can form"


def mixing_steps(log, *, other=None):
    """
    Return a picture of how near each solid comes at each step of an order of mixing.

    Parameters
    ----------
    log : MixingLog
        The order, as `simulate_mixing` returns it.
    other : MixingLog or None
        Another order of the same batch, of which the largest index is drawn.

    Returns
    -------
    Picture
        Stairs of each solid that comes near, marked with how likely it is to form.

    Raises
    ------
    InputError
        With every fault: no log, or an order of another batch.

    Examples
    --------
    >>> from formulate.mixing.sequence import simulate_mixing
    >>> bucket = {"Ca(NO3)2·4H2O": 40.0, "MgSO4·7H2O": 25.0}
    >>> picture = mixing_steps(simulate_mixing(bucket, volume=20, start_fraction=0.25))
    >>> print(picture.alt)
    Gravest solid after each step of mixing 2 ingredients: water no solid can form; \
Ca(NO3)2·4H2O no solid can form; MgSO4·7H2O gypsum +0.10, watch; topped up gypsum −0.64, none. \
Left out, nowhere above −1.5: brucite.
    """
    _check(log, other)
    seen = _Seen.of(log, other)
    with drawing():
        figure = _drawn(seen)
    batch = log.batch
    return Picture(
        key="mixing-steps",
        title=TITLE,
        alt=_alt(seen),
        table=_table(seen),
        source=made_by(batch.water, *batch.ingredients),
        figure=figure,
    )


def _check(log, other):
    """Raise with every fault of what was given."""
    faults = Faults("mixing_steps")
    for one in (log, *([] if other is None else [other])):
        if not isinstance(one, MixingLog):
            faults.add(f"{shortened(one)} is no log; give what simulate_mixing returns")
    faults.raise_if_any()
    if other is not None and _mixed(log) != _mixed(other):
        what = "the other order is of another batch; give one of the same ingredients"
        raise InputError(f"mixing_steps: {what}, amounts and volume")


def _mixed(log):
    """Return what is mixed, whatever the order."""
    batch = log.batch
    amounts = sorted((i.name, float(amount)) for i, amount in batch.amounts)
    return amounts, float(batch.volume), batch.water.solution.forms


@dataclass(frozen=True, eq=False)
class _Seen:
    """
    What is shown of an order.

    Names of the steps; solid to its index at each, of those drawn; those left out as far
    away, and for want of room; the gravest at each step; of another order the same.
    """

    log: MixingLog
    names: tuple
    drawn: dict
    far: tuple
    crowded: tuple
    told: list
    other: MixingLog
    other_told: list

    @classmethod
    def of(cls, log, other):
        """Return what is shown of an order, and of another one beside it."""
        indices = log.near.indices
        near = sorted(
            (n for n, v in indices.items() if v.max() >= SHOWN_FROM),
            key=lambda n: (-int(np.max(risk_level(n, indices[n]))), -indices[n].max()),
        )
        far = tuple(name for name in indices if name not in near)
        drawn = {name: indices[name] for name in near[:MOST]}
        return cls(
            log,
            _names(log),
            drawn,
            far,
            tuple(near[MOST:]),
            _told(log),
            other,
            [] if other is None else _told(other),
        )

    @property
    def largest(self):
        """Return the largest index of the other order at each step; nothing without one."""
        return None if self.other is None else self.other.near.largest

    @property
    def right(self):
        """Return where the axis ends."""
        values = [*self.drawn.values(), *([] if self.other is None else [self.largest])]
        most = max((float(v.max()) for v in values), default=0.0)
        return min(max(float(np.ceil(most + 0.1)), 1.0), HIGH)


def _names(log):
    """Return the names of the steps on one line each."""
    return tuple(" ".join(str(n).split()) for n in (WATER, *log.order, TOPPED))


def _told(log):
    """Return solid, index and level of each step."""
    return gravest(log.near.indices) or [("", -np.inf, 0)] * (len(log.order) + 2)


def _drawn(seen):
    """Draw the steps downwards, the stairs, and beneath them their names."""
    ends = _ends(seen)
    notes = foot_lines(_notes(seen))
    panel_height = ROW * len(seen.names)
    foot = STEM + LABEL * len(ends) + 0.1
    figure = new_figure(HEAD + panel_height + foot + LINE * len(notes) + 0.08)
    write(figure, NAME, 0.18, TITLE, fontsize=LARGE, weight="bold")
    write(figure, NAME, 0.45, NOTE, fontsize=SMALL)
    mark_key(figure, NAME, 0.68)
    for left, words in ((NAME, "after"), (SAID, "gravest solid")):
        write(figure, left, HEAD - 0.14, words, fontsize=SMALL, color=QUIET)
    axes = _axes(figure, seen, panel_height)
    for place in range(len(seen.names)):
        _line(figure, seen, place, HEAD + ROW * (place + 0.5))
    _stairs(axes, seen)
    _labels(figure, ends, HEAD + panel_height)
    write_foot(figure, HEAD + panel_height + foot, notes)
    return figure


def _axes(figure, seen, height):
    """Return the panel, the index across the top and the danger shaded."""
    count = len(seen.names)
    axes = panel(figure, LEFT, HEAD, SPAN, height)
    axes.set(xlim=(LOW, seen.right), ylim=(count - 0.5, -0.5), yticks=[])
    axes.xaxis.tick_top()
    axes.xaxis.set_label_position("top")
    axes.set_xticks(range(int(LOW), int(seen.right) + 1))
    axes.set_xlabel("saturation index (logarithm)", fontsize=SMALL)
    axes.spines["top"].set_visible(True)
    axes.axvspan(0.0, seen.right, facecolor=WANTED, zorder=0)
    axes.axvline(0.0, color=INK, linewidth=1.2, zorder=2)
    for edge in range(1, count):
        axes.axhline(edge - 0.5, color="#CCCCCC", linewidth=0.6, zorder=1)
    return axes


def _line(figure, seen, place, top):
    """Write what went in, and the gravest solid with its index and word."""
    name, log = seen.names[place], seen.log
    litres = f", {printed(log.volumes[place], 3)} L"
    inner = 0 < place < len(seen.names) - 1
    words = f"{place}. {name}" if inner else f"{name}{litres}"
    write(figure, NAME, top, fitted(words, LEFT - NAME - 0.12, SMALL), fontsize=SMALL)
    solid, index, level = seen.told[place]
    if not solid:
        write(figure, SAID, top, NOTHING, fontsize=SMALL, color=QUIET)
        return
    rest = f" {index_text(index)} {RISKS[level]}"
    room = EDGE - SAID - text_width(rest, SMALL) - 0.12
    weight = "bold" if level else "normal"
    words = fitted(solid, room, SMALL) + rest
    write(figure, SAID, top, words, fontsize=SMALL, weight=weight)


def _looks(seen):
    """Return how the stairs of each solid are drawn."""
    styles = [(INK, dashes) for dashes in DASHES] + [(QUIET, "-")]
    return dict(zip(seen.drawn, styles, strict=False))


def _stairs(axes, seen):
    """Draw the stairs of each solid with a mark at each step, and those of another order."""
    for (name, values), look in zip(
        reversed(seen.drawn.items()), reversed(_looks(seen).values()), strict=True
    ):
        shade, dashes = look
        axes.plot(*_corners(values), color=shade, ls=dashes, lw=THICK, zorder=4)
        _marks(axes, seen, values, risk_level(name, values))
    if seen.other is not None:
        stairs = _corners(seen.largest)
        axes.plot(*stairs, color=QUIET, ls=SMALL_DASHES, lw=THIN, zorder=3)


def _corners(values):
    """Return the corners of stairs: upright within a step; nothing where nothing can form."""
    edges = np.arange(len(values)) - 0.5
    down = np.column_stack([edges, edges + 1.0]).ravel()
    return np.repeat(np.where(np.isfinite(values), values, np.nan), 2), down


def _marks(axes, seen, values, levels):
    """Draw a mark at each step; an arrow where the index lies beyond the axis."""
    for place, (value, level) in enumerate(zip(values, levels, strict=True)):
        if not np.isfinite(value):
            continue
        if LOW <= value <= seen.right:
            axes.plot([value], [place], zorder=6, **risk_mark(int(level)))
            continue
        end, sign = (LOW, "<") if value < LOW else (seen.right, ">")
        look = {"color": INK, "mec": "white", "ms": 8, "zorder": 7, "clip_on": False}
        axes.plot([end], [place], sign, **look)


def _ends(seen):
    """Return where the stairs end and their names, from the right. [in]"""
    looks, found = _looks(seen), []
    for name, values in seen.drawn.items():
        found.append((_place(seen, values[-1]), name, looks[name], THICK))
    if seen.other is not None and np.isfinite(seen.largest[-1]):
        at = _place(seen, seen.largest[-1])
        found.append((at, OTHER, (QUIET, SMALL_DASHES), THIN))
    return sorted(found, key=lambda end: -end[0])


def _place(seen, value):
    """Return where an index lies across the panel. [in]"""
    value = min(max(float(value), LOW), seen.right)
    return SPAN * (value - LOW) / (seen.right - LOW)


def _labels(figure, ends, top):
    """Write the names beneath, each to the right of a leader from the end of its stairs."""
    if not ends:
        return
    height = STEM + LABEL * len(ends)
    axes = panel(figure, LEFT - 1.0, top, EDGE - LEFT + 1.0, height)
    axes.set(xlim=(-1.0, EDGE - LEFT), ylim=(height, 0), xticks=[], yticks=[])
    last = np.inf
    for row, (at, words, (shade, dashes), thick) in enumerate(ends):
        last = min(at, last - APART)
        down = STEM + LABEL * (row + 0.5)
        corners = [(at, 0.0), (last, STEM * 0.6), (last, down), (last + 0.25, down)]
        x, y = zip(*corners, strict=True)
        axes.plot(x, y, color=shade, ls=dashes, lw=min(thick, 1.2), zorder=3)
        write(figure, LEFT + last + 0.3, top + down, words, fontsize=SMALL)


def _notes(seen):
    """Return what is not drawn and what the other order is, a line each."""
    found = []
    least = f"{SHOWN_FROM:g}".replace("-", "−")
    if not seen.drawn:
        found.append(f"No solid comes nearer than {least} at any step.")
    if seen.crowded:
        found.append(f"Left out for want of room: {_listed(seen.crowded)}.")
    if seen.far:
        found.append(f"Left out, nowhere above {least}: {_listed(seen.far)}.")
    if seen.other is not None:
        found.append(_order_told(seen))
    return found


def _order_told(seen):
    """Return the other order in words, with its first water if that is not the same."""
    share = 100 * seen.other.start_fraction
    same = seen.other.start_fraction == seen.log.start_fraction
    first = "" if same else f", with {printed(share, 3)} % of the water first"
    return f"The other order{first}: {', '.join(_names(seen.other)[1:-1])}."


def _listed(names):
    more = len(names) - MOST_TOLD
    return ", ".join(names[:MOST_TOLD]) + f" and {more} more" * (more > 0)


def _table(seen):
    """Return each step with its gravest solid, the drawn indices, and the other order."""
    columns = ("step", "after", "L", "gravest", "index", "risk")
    columns += tuple(f"index of {name}" for name in seen.drawn)
    last = len(columns)
    if seen.other is not None:
        columns += ("other order, after", "its largest index", "its risk")
    rows = tuple(_row(seen, place) for place in range(len(seen.names)))
    numeric = (0, 2, 4, *range(6, last), *([last + 1] if seen.other else ()))
    return Table("mixing-steps", TITLE, columns, rows, numeric)


def _row(seen, place):
    solid, index, level = seen.told[place]
    row = (str(place), seen.names[place], printed(seen.log.volumes[place], 3))
    row += (solid or NOTHING, index_text(index), RISKS[level])
    row += tuple(index_text(values[place]) for values in seen.drawn.values())
    if seen.other is None:
        return row
    own = index_text(seen.largest[place])
    return (*row, _names(seen.other)[place], own, RISKS[seen.other_told[place][2]])


def _alt(seen):
    """Return the gravest solid of each step; the worst of the other order; what is left out."""
    count = len(seen.names) - 2
    things = "1 ingredient" if count == 1 else f"{count} ingredients"
    steps = [
        f"{name} {_said(*told)}"
        for name, told in zip(seen.names, seen.told, strict=True)
    ]
    text = [f"Gravest solid after each step of mixing {things}: {'; '.join(steps)}."]
    if seen.other is not None:
        worst = max(seen.other_told, key=lambda told: (told[2], told[1]))
        name = _names(seen.other)[seen.other_told.index(worst)]
        text.append(f"Another order is at worst after {name}: {_said(*worst)}.")
    return " ".join([*text, *_notes(seen)])


def _said(solid, index, level):
    return f"{solid} {index_text(index)}, {RISKS[level]}" if solid else NOTHING
