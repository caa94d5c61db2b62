"""A picture: what was drawn, as SVG and PNG, with alt text and the same numbers as a table."""

import hashlib
import html
import io
import re
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import formulate
from formulate.errors import InputError, shortened
from formulate.files import write_bytes, write_text
from formulate.sheets.figures.style import drawing
from formulate.sheets.tables import Table
from formulate.tables import checksum

__all__ = ["Picture", "made_by"]

MOST_DPI = 600
IDS = re.compile(r'(\sid="|xlink:href="#|url\(#)')
NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
SIZED = 'style="display: block; max-width: 100%; height: auto"'


@dataclass(frozen=True, eq=False)
class Picture:
    """
    A figure with all that belongs to it.

    Attributes
    ----------
    key : str
        Short name.
    title : str
        What it shows.
    alt : str
        What is seen, with the numbers that matter, for who does not see it.
    table : Table
        The same numbers.
    source : str
        Version, checksum of the tables and source keys.
    figure : matplotlib.figure.Figure
        What was drawn.
    """

    key: str
    title: str
    alt: str
    table: Table
    source: str
    figure: object

    @cached_property
    def svg(self):
        """Return the drawing as SVG, to stand in a page or alone in a file."""
        text = self._saved("svg", Date=None).getvalue().decode()
        head, body = text[text.index("<svg") :].split("</metadata>", 1)
        body = re.sub(r"<!--.*?-->\s*", "", body, flags=re.DOTALL)
        name = f"{self.key}-{hashlib.sha256(text.encode()).hexdigest()[:8]}"
        body = IDS.sub(rf"\g<1>{name}-", body)
        tag, rest = head.split(">", 1)
        labels = f"{name}-title {name}-alt"
        tag += f' role="img" aria-labelledby="{labels}" {SIZED}>'
        told = f'<title id="{name}-title">{_escaped(self.title)}</title>'
        told += f'<desc id="{name}-alt">{_escaped(self.alt)}</desc>'
        return f"{tag}\n {told}{rest}</metadata>{body}"

    def png(self, *, dpi=150):
        """
        Return the drawing as PNG.

        Parameters
        ----------
        dpi : float
            Dots per inch, up to 600. [1/in]

        Returns
        -------
        bytes
            The file.

        Raises
        ------
        InputError
            If the resolution is none.

        Examples
        --------
        >>> from formulate.sheets.figures.ions import ions
        >>> from formulate.stoichiometry.solution import solution
        >>> ions(solution({"K": 1.0, "NO3": 1.0})).png(dpi=50)[1:4]
        b'PNG'
        """
        if not isinstance(dpi, int | float) or not 1 <= dpi <= MOST_DPI:
            raise InputError(f"dpi {dpi!r}: give a number from 1 to {MOST_DPI}")
        return self._saved("png", dpi=dpi).getvalue()

    def _saved(self, kind, dpi=None, **more):
        facts = {"Title": _clean(self.title), "Source": _clean(self.source)} | more
        if kind == "png":
            facts["Description"] = _clean(self.alt)
        buffer = io.BytesIO()
        with drawing():
            settings = {"dpi": dpi} if dpi else {}
            self.figure.savefig(buffer, format=kind, metadata=facts, **settings)
        return buffer

    def save(self, path):
        """
        Write the drawing to a file.

        Parameters
        ----------
        path : str or Path
            Where to; it ends in .svg or .png.

        Raises
        ------
        InputError
            If it has another ending or cannot be written.

        Examples
        --------
        >>> from formulate.sheets.figures.ions import ions
        >>> from formulate.stoichiometry.solution import solution
        >>> ions(solution({"K": 1.0, "NO3": 1.0})).save("ions.bmp")
        Traceback (most recent call last):
            ...
        formulate.errors.InputError: 'ions.bmp': write a name that ends in .svg or .png
        """
        ending = Path(path).suffix.casefold()
        if ending == ".svg":
            write_text(path, self.svg)
        elif ending == ".png":
            write_bytes(path, self.png())
        else:
            what = f"{shortened(path)}: write a name that ends in .svg or .png"
            raise InputError(what)

    def _repr_html_(self):
        source = f"<br><small>{_escaped(self.source)}</small>"
        return (
            f'<figure style="margin: 0">{self.svg}'
            f"<figcaption>{_escaped(self.title)}{source}</figcaption>"
            f"<details><summary>The same numbers as a table</summary>"
            f"{_table_html(self.table)}</details></figure>"
        )

    def __str__(self):
        return f"{self.title}\n{self.alt}"


def made_by(*things):
    """
    Return what made a picture, so that its numbers can be made again.

    Parameters
    ----------
    *things : object
        Whatever it was made from; those that have a source key tell it.

    Returns
    -------
    str
        Version, checksum of the tables, source keys.

    Examples
    --------
    >>> from formulate.ingredients.water import water
    >>> made_by(water("rain")).startswith("formulate 0.")
    True
    """
    texts = [getattr(thing, "source_key", "") for thing in things]
    keys = dict.fromkeys(key.strip() for text in texts for key in text.split(";"))
    keys.pop("", None)
    told = f"formulate {formulate.__version__}, tables {checksum()}"
    return f"{told}; sources: {', '.join(keys)}" if keys else told


def _clean(text):
    """Return a text without what no XML may hold."""
    return NO_XML.sub(" ", " ".join(str(text).split()))


def _escaped(text):
    return html.escape(_clean(text))


def _table_html(table):
    """Return a table as HTML, its first column naming the rows."""
    head = "".join(f'<th scope="col">{_escaped(name)}</th>' for name in table.columns)
    lines = []
    for name, *cells in table.rows:
        line = f'<th scope="row" style="text-align: left">{_escaped(name)}</th>'
        for place, cell in enumerate(cells, 1):
            right = ' style="text-align: right; font-variant-numeric: tabular-nums"'
            line += (
                f"<td{right if place in table.numeric else ''}>{_escaped(cell)}</td>"
            )
        lines.append(f"<tr>{line}</tr>")
    return (
        f'<div style="overflow-x: auto"><table><caption>{_escaped(table.title)}</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{''.join(lines)}</tbody></table></div>"
    )
