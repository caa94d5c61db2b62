"""Which input makes how much of the spread of an output, by least squares on the draws.

Each input stands in z with its deviation and with the square of it, both centred and
scaled; they do not depend on each other, so the shares are those of the variance that an
input makes alone. Shares and rest add up to 1; the rest is what several inputs make
together and what a parabola does not follow.

Equation of the shares of a variance [jcgm-100]::

    y − mean y = Σ b_j z_j + rest        share_j = b_j Σ z_j y / Σ y²
"""

from dataclasses import dataclass, field

import numpy as np

__all__ = ["TOGETHER", "Columns", "columns_of", "shares_of"]

TOGETHER = "several together"
ENOUGH = 10  # draws for each column
MOST_FITTED = 20_000  # draws that suffice
ROUNDING = 1e-10  # of a value: less is no spread


@dataclass(frozen=True, eq=False)
class Columns:
    """
    The inputs of all draws, made ready for least squares.

    Attributes
    ----------
    names : tuple of str
        Name of the input behind each column.
    table : ndarray, shape (draws, columns)
        Centred and scaled columns. [-]
    inputs : int
        How many numbers vary. [-]
    """

    names: tuple
    table: np.ndarray = field(repr=False)
    inputs: int = 0


def columns_of(moved):
    """
    Return the columns of inputs that deviate.

    Parameters
    ----------
    moved : mapping of DoubtfulInput to ndarray
        Deviations in every draw. [-]

    Returns
    -------
    Columns
        Deviations and, if there are draws enough, their squares; none if too few.

    Examples
    --------
    >>> from formulate.recipes.doubtful_inputs import DoubtfulInput
    >>> volume = DoubtfulInput("volume", "", -0.02, 0.02, "even")
    >>> columns_of({volume: np.linspace(-0.02, 0.02, 50)}).names
    ('volume', 'volume')
    """
    if not moved:
        return Columns((), np.zeros((0, 0)))
    names = [one.name for one in moved]
    plain = np.stack([array[:MOST_FITTED] for array in moved.values()], axis=1)
    if len(plain) < ENOUGH * len(names):
        return Columns((), np.zeros((0, 0)), len(names))
    plain = _scaled(plain)
    if len(plain) >= 2 * ENOUGH * len(names):
        plain = np.hstack([plain, _scaled(plain**2)])
        names = names * 2
    return Columns(tuple(names), plain, len(moved))


def _scaled(table):
    """Return columns with a mean of 0 and a variance of 1."""
    centred = table - table.mean(axis=0)
    size = np.sqrt(np.mean(centred**2, axis=0))
    return centred / np.where(size > 0, size, 1.0)


def shares_of(columns, values):
    """
    Return the share of each input in the variance of an output.

    Parameters
    ----------
    columns : Columns
        The inputs.
    values : ndarray
        The output in every draw; what is no number is left out. [-]

    Returns
    -------
    dict of str to float
        Name to share, the largest first, "several together" among them; empty if the
        output does not vary or there are too few draws. [-]

    Examples
    --------
    >>> from formulate.recipes.doubtful_inputs import DoubtfulInput
    >>> volume = DoubtfulInput("volume", "", -0.02, 0.02, "even")
    >>> off = np.linspace(-0.02, 0.02, 50)
    >>> round(shares_of(columns_of({volume: off}), 3 * off + 1)["volume"], 9)
    1.0
    """
    values = values[: len(columns.table)]
    kept = np.isfinite(values)
    if kept.sum() < ENOUGH * max(len(columns.names), 1):
        return {}
    off = values[kept] - values[kept].mean()
    whole = float(off @ off)
    if whole <= kept.sum() * (ROUNDING * np.abs(values[kept]).max()) ** 2:
        return {}
    table = columns.table if kept.all() else columns.table[kept]
    shared = table.T @ off
    slopes = np.linalg.lstsq(table.T @ table, shared, rcond=None)[0]
    found = dict.fromkeys(columns.names, 0.0)
    for name, part in zip(
        columns.names, (slopes * shared / whole).tolist(), strict=True
    ):
        found[name] += part
    found[TOGETHER] = 1.0 - sum(found.values())
    return dict(sorted(found.items(), key=lambda item: -item[1]))
