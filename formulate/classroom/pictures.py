"""Draws bars as a picture of text (SVG), so that a lesson has figures where no drawing library is.

A bar is one value, or parts side by side; what is wanted of it is a line across. Each picture has alt text, and its
numbers stand beside it in a table.
"""

import html
from dataclasses import dataclass

from formulate.errors import Faults, shortened
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import read_table
from formulate.working import Shown, printed

__all__ = ["Bar", "Picture", "bars"]

WIDTH, LEFT, RIGHT = 640, 170, 70
ROW, BAR, TOP, FOOT = 34, 20, 34, 34
INK, QUIET, PLAIN = "#111111", "#555555", "#8A8A8A"
LETTER = (
    6.6  # px, a usual letter of 12 px: parts narrower than their words have none inside
)
DIGITS = 4


@dataclass(frozen=True)
class Bar:
    """
    One bar of a picture.

    Attributes
    ----------
    label : str
        What stands to the left of it.
    parts : tuple of (str, float)
        Name and size of each part, in the unit of the picture; a nutrient key gives its colour. [-]
    wanted : float or None
        A line across the bar. [-]

    Examples
    --------
    >>> Bar("KNO3", (("K", 38.67), ("N", 13.85))).total
    52.52
    """

    label: str
    parts: tuple
    wanted: float | None = None

    @property
    def total(self):
        """Return the length of the bar, in the unit of the picture."""
        return sum(value for _, value in self.parts)


@dataclass(frozen=True, eq=False, repr=False)
class Picture(Shown):
    """
    Bars with their title; it shows itself in a notebook, and as a table in a terminal.

    Attributes
    ----------
    title : str
        What is drawn.
    unit : str
        Unit of the values.
    drawn : tuple of Bar
        The bars from top to bottom.
    decimals : int or None
        Decimals of the numbers; else four significant digits. [-]
    """

    title: str
    unit: str
    drawn: tuple
    decimals: int | None = None

    @property
    def alt_text(self):
        """Return the picture in words."""
        lines = "; ".join(
            f"{bar.label}: "
            + ", ".join(f"{name} {_text(self, v)}" for name, v in bar.parts)
            + (f" (wanted {_text(self, bar.wanted)})" if bar.wanted else "")
            for bar in self.drawn
        )
        return f"{self.title}, in {self.unit}. {lines}."

    @property
    def svg(self):
        """Return the picture as SVG."""
        height = TOP + ROW * len(self.drawn) + FOOT
        longest = max(max(bar.total, bar.wanted or 0) for bar in self.drawn)
        scale = (WIDTH - LEFT - RIGHT) / longest
        rows = "".join(
            _row(bar, TOP + ROW * place, scale, _text(self, bar.total))
            for place, bar in enumerate(self.drawn)
        )
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" '
            f'role="img" font-family="DejaVu Sans, sans-serif" font-size="12" style="max-width:100%;background:#fff">'
            f"<title>{html.escape(self.title)}</title><desc>{html.escape(self.alt_text)}</desc>"
            f'<rect width="{WIDTH}" height="{height}" fill="#fff"/>'
            + _words(8, 20, self.title, weight="bold")
            + rows
            + _words(LEFT, height - 10, self.unit, colour=QUIET)
            + "</svg>"
        )

    def _repr_html_(self):
        return self.svg + _table(self)

    def __repr__(self):
        return str(self)

    def __str__(self):
        lines = [f"{self.title} [{self.unit}]"]
        for bar in self.drawn:
            parts = ", ".join(f"{n} {_text(self, v)}" for n, v in bar.parts)
            wanted = (
                f"; wanted {_text(self, bar.wanted)}" if bar.wanted is not None else ""
            )
            lines.append(f"  {bar.label}: {parts}{wanted}")
        return "\n".join(lines)


def bars(title, rows, *, unit, wanted=None, decimals=None):
    """
    Return a picture of bars.

    Parameters
    ----------
    title : str
        What is drawn.
    rows : mapping of str to float, or of str to mapping of str to float
        Label to value, or to the parts of the bar by name, in `unit`. [-]
    unit : str
        Unit of the values.
    wanted : mapping of str to float or None
        Label to a line across its bar, in `unit`. [-]
    decimals : int or None
        Decimals of the numbers, as a meter shows them; else four significant digits. [-]

    Returns
    -------
    Picture
        The bars, with alt text and a table.

    Raises
    ------
    InputError
        If there is nothing to draw, or a value is negative or no number.

    Examples
    --------
    >>> print(bars("K in 1 g", {"KNO3": 386.7, "K2SO4": 448.7}, unit="mg"))
    K in 1 g [mg]
      KNO3: KNO3 386.7
      K2SO4: K2SO4 448.7
    """
    faults = Faults()
    drawn = [
        Bar(str(label), tuple(_parts(label, value)), (wanted or {}).get(label))
        for label, value in dict(rows).items()
    ]
    for bar in drawn:
        for name, value in (*bar.parts, ("wanted", bar.wanted or 0)):
            if not 0 <= value < float("inf"):
                faults.add(
                    f"{shortened(bar.label)}, {shortened(name)}: {value!r} has no length; give a number from 0 on"
                )
    if not any(bar.total for bar in drawn):
        faults.add("there is nothing to draw: give at least one value above 0")
    faults.raise_if_any()
    return Picture(title, unit, tuple(drawn), decimals)


def _text(picture, value):
    """Return a number as a picture writes it."""
    if picture.decimals is None:
        return printed(value, DIGITS)
    return f"{value:.{picture.decimals}f}"


def _parts(label, value):
    """Return name and size of each part of a bar."""
    if hasattr(value, "items"):
        return [(str(name), float(size)) for name, size in value.items()]
    return [(str(label), float(value))]


def _row(bar, top, scale, total):
    """Return one bar with its label, its parts and what is wanted."""
    middle = top + BAR / 2 + 4
    pieces = [_words(LEFT - 8, middle, bar.label, anchor="end")]
    left = LEFT
    for name, value in bar.parts:
        pieces.append(_part(name, value, left, top, scale, alone=len(bar.parts) == 1))
        left += value * scale
    if bar.wanted is not None:
        x = LEFT + bar.wanted * scale
        pieces.append(
            f'<path d="M{x:.1f} {top - 4}v{BAR + 8}" stroke="{INK}" stroke-width="2.5" stroke-dasharray="4 2"/>'
        )
        left = max(left, x)
    pieces.append(_words(left + 6, middle, total))
    return "".join(pieces)


def _part(name, value, left, top, scale, *, alone):
    """Return one part of a bar, with its name inside where there is room."""
    fill, long = _colour(name), value * scale
    drawn = f'<rect x="{left:.1f}" y="{top}" width="{long:.1f}" height="{BAR}" fill="{fill}" stroke="#fff"/>'
    if alone or long < LETTER * len(name) + 4:
        return drawn
    ink = INK if _is_light(fill) else "#FFFFFF"
    return drawn + _words(
        left + long / 2, top + BAR / 2 + 4, name, anchor="middle", colour=ink
    )


def _words(x, y, text, *, anchor="start", colour=INK, weight="normal"):
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{colour}" font-weight="{weight}">'
        f"{html.escape(text)}</text>"
    )


def _colour(name):
    """Return the colour of a nutrient, the same in every figure; grey for anything else."""
    try:
        form = next(iter(nutrient(name).weights))
    except LookupError:
        return PLAIN
    found = {row["form"]: row["colour"] for row in read_table("colours")}
    return found.get(form, PLAIN)


def _is_light(colour):
    """Return whether dark letters are read better on a colour."""
    red, green, blue = (int(colour[place : place + 2], 16) for place in (1, 3, 5))
    return 0.299 * red + 0.587 * green + 0.114 * blue > 140


def _table(picture):
    """Return the numbers of a picture as a table."""
    names = list(dict.fromkeys(name for bar in picture.drawn for name, _ in bar.parts))
    alone = all(len(bar.parts) == 1 for bar in picture.drawn)
    with_wanted = any(bar.wanted is not None for bar in picture.drawn)
    head = [picture.title, *([picture.unit] if alone else names)]
    rows = []
    for bar in picture.drawn:
        parts = dict(bar.parts)
        cells = list(parts.values()) if alone else [parts.get(n) for n in names]
        cells += [bar.wanted] if with_wanted else []
        rows.append(
            [bar.label, *("" if c is None else _text(picture, c) for c in cells)]
        )
    head += ["wanted"] if with_wanted else []
    first = "".join(f"<th>{html.escape(cell)}</th>" for cell in head)
    body = "".join(
        "<tr>" + "".join(f"<td>{html.escape(cell)}</td>" for cell in row) + "</tr>"
        for row in rows
    )
    return f"<table><thead><tr>{first}</tr></thead><tbody>{body}</tbody></table>"
