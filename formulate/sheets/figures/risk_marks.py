"""Marks that tell by their shape how likely a solid is to form: none to certain."""

import numpy as np

from formulate.chemistry.risks import RISKS, risk_level
from formulate.sheets.figures.style import INK, SMALL, panel, write

__all__ = ["gravest", "index_text", "mark_key", "risk_mark"]

LOOKS = (  # marker, size [pt], filled
    ("o", 4.0, True),
    ("^", 8.0, False),
    ("s", 7.5, False),
    ("D", 8.5, True),
)
WIDTH, HEIGHT, EACH = 3.4, 0.2, 0.85  # in


def risk_mark(level):
    """
    Return how a point is drawn, given how likely a solid is to form there.

    Parameters
    ----------
    level : int
        A place in `RISKS`: 0 for none, 3 for certain. [-]

    Returns
    -------
    dict
        Settings of a marker: a dot, an open triangle, an open square, a full diamond.

    Examples
    --------
    >>> [risk_mark(level)["marker"] for level in range(4)]
    ['o', '^', 's', 'D']
    """
    marker, size, filled = LOOKS[level]
    look = {"marker": marker, "ms": size, "mew": 0.8 if filled else 1.6}
    inside, edge = (INK, "white") if filled else ("white", INK)
    return look | {"mfc": inside, "mec": edge, "linestyle": "none", "clip_on": False}


def mark_key(figure, left, top):
    """
    Say in a line what each mark means.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The figure.
    left : float
        Where the line begins. [in]
    top : float
        Where its middle is, from the upper edge of the figure. [in]

    Examples
    --------
    >>> from formulate.sheets.figures.style import drawing, new_figure
    >>> with drawing():
    ...     figure = new_figure(1.0)
    ...     mark_key(figure, 0.1, 0.5)
    >>> [text.get_text() for text in figure.texts]
    ['none', 'watch', 'likely', 'certain']
    """
    axes = panel(figure, left, top - HEIGHT / 2, WIDTH, HEIGHT)
    axes.set(xlim=(0, WIDTH), ylim=(0, 1), xticks=[], yticks=[])
    for level, word in enumerate(RISKS):
        at = EACH * level + 0.08
        axes.plot([at], [0.5], **risk_mark(level))
        write(figure, left + at + 0.14, top, word, fontsize=SMALL)


def index_text(index):
    """
    Return a saturation index as it is printed.

    Parameters
    ----------
    index : float
        Saturation index; minus infinity where nothing can form. [-]

    Returns
    -------
    str
        Its sign and two decimals; "" if nothing can form.

    Examples
    --------
    >>> index_text(0.305), index_text(-1.0), index_text(float("-inf"))
    ('+0.30', '−1.00', '')
    """
    return f"{index:+.2f}".replace("-", "−") if np.isfinite(index) else ""


def gravest(indices):
    """
    Return which solid is to be told at each of several places: the gravest, then nearest.

    Parameters
    ----------
    indices : mapping of str to array
        Solid to its saturation index at each place. [-]

    Returns
    -------
    list of (str, float, int)
        Solid, index, and level, a place in `RISKS`, of each; "" where none can form. [-]

    Examples
    --------
    A little chalk stays away, so much gypsum does not:

    >>> gravest({"calcite": np.array([0.9, -1.0]), "gypsum": np.array([0.7, -np.inf])})
    [('gypsum', 0.7, 3), ('calcite', -1.0, 0)]
    """
    levels = {name: risk_level(name, values) for name, values in indices.items()}
    count, found = max((len(v) for v in indices.values()), default=0), []
    for place in range(count):
        there = [
            (int(levels[name][place]), float(values[place]), name)
            for name, values in indices.items()
            if np.isfinite(values[place])
        ]
        level, index, name = max(there, default=(0, -np.inf, ""))
        found.append((name, index, level))
    return found
