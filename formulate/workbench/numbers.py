"""Rows of numbers that open their working: the cells of a row, and the working beneath it.

A key names what a number is about and its column, as "contents K: off". Cells that have not
changed are kept as they were written, so that a change of one number stays quick.
"""

import re
from functools import cached_property

from markupsafe import Markup

from formulate.errors import FormulateError
from formulate.working import Working

__all__ = ["Numbers"]

DIGIT = re.compile(r"\d")
BETWEEN = ": "
MOST_KEPT = 2000


class Numbers:
    """What a panel needs to show rows of numbers that open their working."""

    @cached_property
    def _kept(self):
        return {}

    def cells(self, subject, cells, columns, words=()):
        """
        Return the cells of a row, each number a button that opens its working.

        Parameters
        ----------
        subject : str
            What the row is about, as in "contents K".
        cells : tuple of str
            The cells.
        columns : tuple of str
            The column of each; empty where its numbers have no working.
        words : tuple of str
            Columns that hold words, and stand left.

        Returns
        -------
        Markup
            The cells in HTML.

        Examples
        --------
        >>> from formulate.workbench.state import State
        >>> from formulate.workbench.wishes_panel import WishesPanel
        >>> panel = WishesPanel(State())
        >>> str(panel.cells("wanted K", ("none",), ("counted",)))
        '<td class="fm-n">none</td>'
        """
        clicked = self.clicked if self._is_beneath(subject) else ""
        key = (subject, cells, columns, words, clicked)
        if key not in self._kept:
            if len(self._kept) > MOST_KEPT:
                self._kept.clear()
            self._kept[key] = self._written(subject, cells, columns, words)
        return self._kept[key]

    def _written(self, subject, cells, columns, words):
        """Return the cells of a row, written anew."""
        given = [
            (f"{subject}{BETWEEN}{c}" if c and DIGIT.search(cell) else "", cell, c)
            for cell, c in zip(cells, columns, strict=True)
        ]
        return Markup(self._macro("cells", self, given, words))

    def beneath(self, subject, span):
        """
        Return the row with the working of a number of a row, if it was asked for.

        Parameters
        ----------
        subject : str
            What the row is about.
        span : int
            How many columns it spans. [-]

        Returns
        -------
        Markup
            The row in HTML, or nothing.

        Examples
        --------
        >>> from formulate.workbench.state import State
        >>> from formulate.workbench.wishes_panel import WishesPanel
        >>> panel = WishesPanel(State())
        >>> panel.receive({"kind": "press", "name": "working wanted K: counted", "value": ""})
        >>> "as published" in panel.beneath("wanted K", 3)
        True
        """
        if not self._is_beneath(subject):
            return ""
        return Markup(self._macro("worked", self, self.clicked, span))

    def _is_beneath(self, subject):
        """Return whether the number that was pressed stands in the row of a subject."""
        return self.clicked.startswith(subject) and _split(self.clicked)[0] == subject

    def _worked(self, key):
        """Return the working of a number; why there is none stands in its place."""
        try:
            return self._followed(key, *_split(key))
        except FormulateError as error:
            return Working("; ".join(error.faults), ())

    def _followed(self, key, subject, column):
        """Return the working of a number by its key, or by its row and column."""
        return


def _split(key):
    """Return the subject and the column of a key."""
    subject, between, column = key.rpartition(BETWEEN)
    return (subject, column) if between else (key, "")
