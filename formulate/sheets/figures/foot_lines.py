"""Lines beneath a figure, such as what it leaves out, broken to the width of the page."""

from formulate.sheets.figures.style import SMALL, fitted, plain, text_width, write

__all__ = ["LINE", "foot_lines", "write_foot"]

LINE, LEFT, WIDTH = 0.19, 0.08, 7.0  # in
MOST = 3  # lines of one note


def foot_lines(notes):
    """
    Return notes broken into lines as wide as the page, at most three each.

    Parameters
    ----------
    notes : iterable of str
        The notes.

    Returns
    -------
    list of str
        Lines; where a note is too long its last one is cut in the middle.

    Examples
    --------
    >>> foot_lines(["Left out: gypsum."])
    ['Left out: gypsum.']
    >>> len(foot_lines(["word " * 40]))
    2
    """
    return [line for note in notes for line in _broken(plain(note))]


def _broken(note):
    """Return one note as lines."""
    lines, words = [""], note.split(" ")
    for place, word in enumerate(words):
        longer = f"{lines[-1]} {word}".strip()
        if text_width(longer, SMALL) <= WIDTH:
            lines[-1] = longer
        elif len(lines) == MOST:
            lines[-1] = " ".join([lines[-1], *words[place:]])
            break
        else:
            lines.append(word)
    return [fitted(line, WIDTH, SMALL) for line in lines if line]


def write_foot(figure, top, lines):
    """
    Write lines beneath a figure.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        The figure.
    top : float
        Upper edge of the first, from the upper edge of the figure. [in]
    lines : sequence of str
        The lines.

    Examples
    --------
    >>> from formulate.sheets.figures.style import drawing, new_figure
    >>> with drawing():
    ...     figure = new_figure(1.0)
    ...     write_foot(figure, 0.5, ["Left out: gypsum."])
    >>> figure.texts[0].get_text()
    'Left out: gypsum.'
    """
    for place, words in enumerate(lines):
        write(figure, LEFT, top + LINE * (place + 0.5), words, fontsize=SMALL)
