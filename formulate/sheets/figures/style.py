"""One style for every figure: colours, sizes, and text that may come from anybody.

Only this file knows matplotlib, and only inside functions, so that importing a figure
costs nothing. A figure is laid out in inches from its top left corner. Text is written as
shapes: it prints the same where the font is missing, and nothing overlaps because another
font is wider; who cannot see it has the alt text and the table.
"""

from functools import cache

from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import read_table

__all__ = [
    "colour",
    "drawing",
    "fitted",
    "lightness",
    "new_figure",
    "panel",
    "plain",
    "text_width",
    "write",
]

WIDTH = 7.2  # in, the text width of an A4 page
SIZE, SMALL, LARGE = 10.0, 9.0, 12.0  # pt
INK, QUIET, WANTED, WITHIN = "#111111", "#555555", "#E4E4E4", "#B4B4B4"
HATCH = "/////"  # what comes from the water
NO_GLYPH = "\N{WHITE SQUARE}"
POINTS = 72.0
RULES = {
    "font.family": ["DejaVu Sans"],  # comes with matplotlib
    "font.size": SIZE,
    "svg.fonttype": "path",
    "svg.hashsalt": "formulate",
    "path.simplify": False,
    "axes.linewidth": 0.8,
    "hatch.linewidth": 0.8,
    "text.usetex": False,
}


def drawing():
    """
    Return a block in which matplotlib follows the house style and nobody's settings.

    Returns
    -------
    context manager
        To be used with `with`.

    Examples
    --------
    >>> import matplotlib
    >>> with drawing():
    ...     matplotlib.rcParams["svg.fonttype"]
    'path'
    """
    import matplotlib.style

    return matplotlib.style.context(RULES, after_reset=True)


def new_figure(height):
    """
    Return an empty figure as wide as the text of a page.

    Parameters
    ----------
    height : float
        Its height. [in]

    Returns
    -------
    matplotlib.figure.Figure
        The figure; nothing of it has to be closed.

    Examples
    --------
    >>> with drawing():
    ...     new_figure(2.0).get_size_inches().tolist()
    [7.2, 2.0]
    """
    from matplotlib.figure import Figure

    return Figure(figsize=(WIDTH, height), facecolor="white")


def panel(figure, left, top, width, height):
    """
    Return axes at a place of the figure.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The figure.
    left : float
        Left edge, from the left edge of the figure. [in]
    top : float
        Upper edge, from the upper edge of the figure. [in]
    width : float
        Width. [in]
    height : float
        Height. [in]

    Returns
    -------
    matplotlib.axes.Axes
        Axes without a frame.

    Examples
    --------
    >>> with drawing():
    ...     panel(new_figure(2.0), 0.0, 0.0, 3.6, 1.0).get_position().y1.item()
    1.0
    """
    wide, high = figure.get_size_inches()
    bottom = high - top - height
    place = (left / wide, bottom / high, width / wide, height / high)
    axes = figure.add_axes(place)
    axes.spines[:].set_visible(False)
    axes.tick_params(labelsize=SMALL, length=3, color=QUIET, labelcolor=INK)
    axes.set_facecolor("none")
    return axes


def write(figure, left, top, text, **settings):
    """
    Write one line of text at a place of the figure; nothing in it is taken for a formula.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The figure.
    left : float
        Where, from the left edge of the figure. [in]
    top : float
        Where, from the upper edge of the figure. [in]
    text : str
        What to write.
    **settings : object
        How: size, weight, colour and alignment as matplotlib names them.

    Returns
    -------
    matplotlib.text.Text
        What was written.

    Examples
    --------
    >>> with drawing():
    ...     write(new_figure(2.0), 0.1, 0.2, "$a$\\nb").get_text()
    '$a$ b'
    """
    high = figure.get_size_inches()[1]
    given = {"va": "center", "color": INK, "fontsize": SIZE, "parse_math": False}
    given |= {"transform": figure.dpi_scale_trans, **settings}
    return figure.text(left, high - top, plain(text), **given)


@cache
def _font():
    from matplotlib import font_manager

    path = font_manager.findfont("DejaVu Sans", fallback_to_default=False)
    return font_manager.get_font(path)


def plain(text):
    """
    Return a text on one line, with a square for each sign that cannot be drawn.

    Parameters
    ----------
    text : object
        Anything a user gave.

    Returns
    -------
    str
        The text.

    Examples
    --------
    >>> plain("two\\n lines \\x00")
    'two lines □'
    """
    words = " ".join(str(text).split())
    drawn = (c.isprintable() and _font().get_char_index(ord(c)) for c in words)
    return "".join(c if d else NO_GLYPH for c, d in zip(words, drawn, strict=True))


def text_width(text, size=SIZE):
    """
    Return how wide a line of text is drawn.

    Parameters
    ----------
    text : str
        The text.
    size : float
        Size of the letters. [pt]

    Returns
    -------
    float
        Width. [in]

    Examples
    --------
    >>> text_width("KNO3") < text_width("KNO3", size=20.0)
    True
    """
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(family="DejaVu Sans", size=size)
    width, _, _ = text_to_path.get_text_width_height_descent(text, font, ismath=False)
    return width / POINTS


def fitted(text, width, size=SIZE):
    """
    Return a text cut in its middle until it fits a width.

    Parameters
    ----------
    text : object
        Anything a user gave.
    width : float
        Room. [in]
    size : float
        Size of the letters. [pt]

    Returns
    -------
    str
        The text, dots where something was left out.

    Examples
    --------
    >>> fitted("calcium nitrate, greenhouse grade", 1.4)
    'calcium…se grade'
    """
    text = plain(text)
    if text_width(text[:200], size) <= width and len(text) <= 200:
        return text
    for kept in range(min(len(text), 200) - 1, 1, -1):
        head, tail = kept - kept // 2, kept // 2
        short = f"{text[:head].rstrip()}…{text[-tail:].lstrip()}"
        if text_width(short, size) <= width:
            return short
    return "…"


@cache
def _colours():
    return {row["form"]: row["colour"] for row in read_table("colours")}


def colour(key):
    """
    Return the colour of a nutrient, the same in every figure.

    Parameters
    ----------
    key : str or Nutrient
        Nutrient key; what counts several forms has the colour of the first.

    Returns
    -------
    str
        Red, green and blue, two hexadecimal digits each.

    Examples
    --------
    >>> colour("K2O") == colour("K"), colour("N") == colour("NO3")
    (True, True)
    """
    return _colours()[next(iter(nutrient(key).weights))]


def lightness(shade):
    """
    Return how light a colour is, which is what is left of it in grey.

    Parameters
    ----------
    shade : str
        Red, green and blue, two hexadecimal digits each.

    Returns
    -------
    float
        CIE lightness L*, 0 for black and 100 for white. [-]

    Examples
    --------
    >>> round(lightness("#FFFFFF"), 1), round(lightness("#777777"), 1)
    (100.0, 50.0)
    """
    parts = (int(shade[i : i + 2], 16) / 255 for i in (1, 3, 5))
    linear = [
        p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts
    ]
    bright = sum(w * p for w, p in zip((0.2126, 0.7152, 0.0722), linear, strict=True))
    cut = 216 / 24389
    return 116 * bright ** (1 / 3) - 16 if bright > cut else bright * 24389 / 27
