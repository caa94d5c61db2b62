"""A row of a table of salts with the material, or the materials, that its numbers fit best."""

from dataclasses import dataclass

from formulate.claims.salt_columns import MOLAR_MASS, SaltRow
from formulate.claims.salt_fit import (
    fit_of,
    least_as_sold,
    older_masses,
    right_value,
    sold_chelate,
    sold_grade,
)
from formulate.claims.table_slips import hydrate_slips, other_hydrates

__all__ = ["JudgedRow", "judged_row"]

PERCENT = 100.0
FINE = 0.05  # steps below this are worked out, not measured
LEAST_SHARES = 2  # numbers that have to share a purity below that of good salts


@dataclass(frozen=True, eq=False)
class JudgedRow:
    """
    A row with the material it was held against.

    Attributes
    ----------
    row : SaltRow
        The row.
    fits : tuple of RowFit
        The best; several where the numbers leave it open, none of an unknown material.
    grade : str
        Grade of the trade that the whole row prints; "" if it prints none.
    """

    row: SaltRow
    fits: tuple
    grade: str = ""

    @property
    def made(self):
        """Return the material; None if it is not known."""
        return self.fits[0].made if self.fits else None

    @property
    def is_open(self):
        """Return whether several materials agree with all numbers of the row."""
        return len(self.fits) > 1 and _is_whole(self.row, self.fits[0])

    @property
    def is_trusted(self):
        """Return whether a purity below 100 % is that of a material as sold."""
        fit, cells = self.fits[0], self.row.cells
        if fit.is_pure or self.row.purity or not fit.made.formula or self.grade:
            return True
        held = [cells[p] for p in fit.agreeing if fit.made.percent(cells[p].key) > 0]
        if _hydrates_that_fit(self.row, self.made):
            return False
        coarse = all(cell.number.step * cell.scale >= FINE for cell in held)
        return len(held) > 1 or coarse

    def is_nought(self, cell):
        """
        Return whether a number is 0 and no material that fits holds any of it.

        Parameters
        ----------
        cell : SaltCell
            The number.

        Returns
        -------
        bool
            Whether it is.

        Examples
        --------
        >>> from formulate.claims.printed_numbers import printed_number
        >>> from formulate.claims.salt_columns import SaltCell, SaltRow
        >>> from formulate.ingredients.salts import as_ingredient
        >>> cells = (SaltCell("N", "N", printed_number("0")),)
        >>> one = judged_row(SaltRow(2, "KCl", cells, (as_ingredient("KCl"),)), 3e-4)
        >>> one.is_nought(cells[0])
        True
        """
        if cell.key == MOLAR_MASS or cell.number.high:
            return False
        return not any(fit.made.percent(cell.key) for fit in self.fits)

    def doubts(self, place):
        """
        Return whether a number needs an explanation.

        Parameters
        ----------
        place : int
            Its place in the row, counted from 0. [-]

        Returns
        -------
        bool
            Whether it does.

        Examples
        --------
        >>> from formulate.claims.printed_numbers import printed_number
        >>> from formulate.claims.salt_columns import SaltCell, SaltRow
        >>> from formulate.ingredients.salts import as_ingredient
        >>> cells = (SaltCell("K", "K", printed_number("46.58")),)
        >>> judged_row(SaltRow(2, "", cells, (as_ingredient("KNO3"),)), 3e-4).doubts(0)
        True
        """
        cell = self.row.cells[place]
        if cell.key == MOLAR_MASS:
            right = right_value(self.made, MOLAR_MASS)
            return right is not None and not _is_mass(cell, right)
        if self.grade or self.is_nought(cell):
            return False
        return place not in self.fits[0].agreeing or not self.is_trusted


def judged_row(row, allowed):
    """
    Return a row with the material, or the materials, that fit it best.

    A row that no good salt fits may be one as the trade sells it: all its numbers share one
    purity from 80 %, or are a grade that is known.

    Parameters
    ----------
    row : SaltRow
        The row.
    allowed : float
        Relative difference that older atomic masses explain. [-]

    Returns
    -------
    JudgedRow
        The row, judged.

    Examples
    --------
    >>> from formulate.claims.printed_numbers import printed_number
    >>> from formulate.claims.salt_columns import SaltCell, SaltRow
    >>> from formulate.ingredients.salts import as_ingredient
    >>> pairs = (("N", "11"), ("P2O5", "48"))
    >>> cells = tuple(SaltCell(key, key, printed_number(text)) for key, text in pairs)
    >>> judged_row(SaltRow(2, "MAP", cells, (as_ingredient("NH4H2PO4"),)), 3e-4).grade
    '11-48-0'
    """
    fits = [fit_of(made, row.cells, row.purity, allowed) for made in row.readings]
    if not fits:
        return JudgedRow(row, ())

    def rank(fit):
        return len(fit.agreeing) + _masses_right(row, fit.made), fit.is_pure

    best = max(map(rank, fits))
    kept = tuple(fit for fit in fits if rank(fit) == best)
    return _whole_as_sold(row, kept, allowed) or JudgedRow(row, kept)


def _whole_as_sold(row, kept, allowed):
    """Return a row that is right as the trade sells it; None if it is not."""
    if _is_whole(row, kept[0]) or row.purity:
        return None
    shares = [cell for cell in row.cells if cell.key != MOLAR_MASS]
    for made in row.readings:
        least = least_as_sold()
        fit = fit_of(made, row.cells, allowed=allowed, least=least)
        held = [cell for cell in shares if made.percent(cell.key) > 0]
        alike = len(fit.agreeing) == len(shares) and len(held) >= LEAST_SHARES
        if made.formula and alike and not _hydrates_that_fit(row, made):
            return JudgedRow(row, (fit,))
    for fit in kept:
        grade = sold_grade(fit.made, shares) or sold_chelate(fit.made, shares)
        if grade:
            return JudgedRow(row, (fit,), grade)
    return None


def _is_whole(row, fit):
    """Return whether all numbers of a row agree with a material."""
    return len(row.cells) == len(fit.agreeing) + _masses_right(row, fit.made)


def _masses_right(row, made):
    """Return how many molar masses of a row are those of a material."""
    cells = [cell for cell in row.cells if cell.key == MOLAR_MASS]
    return sum(_is_mass(cell, right_value(made, MOLAR_MASS)) for cell in cells)


def _is_mass(cell, right):
    if right is None:
        return False
    return cell.number.holds(right, older_masses() / PERCENT * right)


def _hydrates_that_fit(row, made):
    """Return the hydrates whose pure shares are those of a row that is not pure."""
    cells = [cell for cell in row.cells if cell.key != MOLAR_MASS]
    factors = dict(other_hydrates(made))
    factors |= {slip.tag: slip.value for slip in hydrate_slips(made, 1.0)}
    found = []
    for name, factor in factors.items():
        values = [made.percent(c.key) * factor / c.scale for c in cells]
        if all(c.number.holds(v) for c, v in zip(cells, values, strict=True)):
            found.append(name)
    return found
