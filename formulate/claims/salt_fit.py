"""How the numbers of a row agree with a material: pure, at one purity, or which do not."""

from dataclasses import dataclass

from formulate.claims.salt_columns import MOLAR_MASS
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.salts import catalogue
from formulate.stoichiometry.formula import molar_mass

__all__ = ["LEAST_PURITY", "RowFit", "fit_of", "right_value", "sold_as"]

PERCENT = 100.0
LEAST_PURITY = 0.9
SOLD_RANGE = (0.95, 1.02)  # of the shares of what is known by its label only
ALMOST_PURE = 0.999  # what lies between this and 1 is rounding, no purity
ROUND_OFF = 1e-9


@dataclass(frozen=True, eq=False)
class RowFit:
    """
    A material against the numbers of a row.

    Attributes
    ----------
    made : Ingredient
        The material.
    low : float
        Least purity at which the agreeing numbers agree. [-]
    high : float
        Greatest. [-]
    agreeing : frozenset of int
        Places of the cells that agree. [-]
    is_pure : bool
        Whether they agree with the pure material.
    """

    made: Ingredient
    low: float
    high: float
    agreeing: frozenset
    is_pure: bool

    @property
    def rank(self):
        """Return what fits are ordered by, the best greatest."""
        return len(self.agreeing), self.is_pure


def right_value(made, key):
    """
    Return the right number for a material; None if it has none.

    Parameters
    ----------
    made : Ingredient
        The material.
    key : str
        Nutrient key, or "molar mass".

    Returns
    -------
    float or None
        Mass share, or molar mass. [%]

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> round(right_value(as_ingredient("KNO3"), "molar mass"), 2)
    101.1
    """
    if key == MOLAR_MASS:
        return molar_mass(made.formula) if made.formula else None
    return made.percent(key)


def fit_of(made, cells, purity=None, allowed=3e-4):
    """
    Return how the numbers of a row agree with a material.

    The purity that lets most numbers agree is taken, 100 % where that does as well.

    Parameters
    ----------
    made : Ingredient
        The material.
    cells : sequence of SaltCell
        The numbers; molar masses are not looked at.
    purity : PrintedNumber or None
        Purity that the table states. [%]
    allowed : float
        Relative difference that older atomic masses explain. [-]

    Returns
    -------
    RowFit
        Which agree, and at which purity.

    Examples
    --------
    >>> from formulate.claims.salt_columns import SaltCell
    >>> from formulate.claims.printed_numbers import printed_number
    >>> from formulate.ingredients.salts import as_ingredient
    >>> fit = fit_of(as_ingredient("K2SO4"), [SaltCell("K2O", "K2O", printed_number("50"))])
    >>> round(fit.low, 3), round(fit.high, 3), fit.is_pure
    (0.915, 0.944, False)
    """
    least, most = _domain(made, purity)
    ranges, zeros = {}, set()
    for place, cell in enumerate(cells):
        if cell.key == MOLAR_MASS:
            continue
        low, high = _range(made.percent(cell.key), cell, allowed)
        if low is None:
            zeros |= {place} if cell.number.low <= cell.number.step / 2 else set()
        elif low <= most and high >= least:
            ranges[place] = (max(low, least), min(high, most))
    if not made.formula:
        return RowFit(made, 1.0, 1.0, frozenset(zeros | set(ranges)), True)
    chosen = _chosen(ranges, least, most)
    inside = {p for p, (low, high) in ranges.items() if low <= chosen <= high}
    low = max((ranges[p][0] for p in inside), default=1.0)
    high = min((ranges[p][1] for p in inside), default=1.0)
    return RowFit(made, low, high, frozenset(inside | zeros), high >= 1.0 - ROUND_OFF)


def _domain(made, purity):
    """Return the least and greatest purity that count."""
    if purity is not None:
        half = purity.step / 2
        return (purity.low - half) / PERCENT, (purity.high + half) / PERCENT
    if not made.formula:
        return SOLD_RANGE
    is_rich = not made.is_liquid and made.purity_percent > LEAST_PURITY * PERCENT
    top = PERCENT / made.purity_percent if is_rich else 1.0
    return LEAST_PURITY, top + ROUND_OFF


def _range(pure, cell, allowed):
    """Return the purities at which a number is rounded or cut right; None of no share."""
    number, scale = cell.number, cell.scale
    if pure <= 0:
        return None, None
    low = (number.low - number.step / 2) * scale / pure * (1 - allowed)
    high = (number.high + number.step) * scale / pure * (1 + allowed)
    return low - ROUND_OFF, high - ROUND_OFF


def _chosen(ranges, least, most):
    """Return the purity at which most numbers agree: 100 % if it is among them."""
    ends = {min(max(end, least), most) for pair in ranges.values() for end in pair}
    told = [end for end in ends if not ALMOST_PURE < end < 1.0]
    tries = [1.0, *sorted(told, reverse=True)]

    def agreeing(purity):
        return sum(low <= purity <= high for low, high in ranges.values())

    return max(tries, key=agreeing)


def sold_as(made, cells):
    """
    Return the material known by its label alone that fits a whole row.

    Parameters
    ----------
    made : Ingredient
        The material that the row names by its formula.
    cells : sequence of SaltCell
        Its mass shares.

    Returns
    -------
    str
        Its name; empty if there is none.

    Examples
    --------
    >>> from formulate.claims.printed_numbers import printed_number
    >>> from formulate.claims.salt_columns import SaltCell
    >>> from formulate.ingredients.salts import as_ingredient
    >>> cells = [SaltCell("Ca", "Ca", printed_number("19.0"))]
    >>> sold_as(as_ingredient("5Ca(NO3)2·NH4NO3·10H2O"), cells)
    'calcium nitrate, greenhouse grade (15.5-0-0, 19 % Ca)'
    """
    for entry in catalogue().values():
        alike = not entry.formula and set(entry.forms) == set(made.forms)
        if alike and len(fit_of(entry, cells).agreeing) == len(cells):
            return entry.name
    return ""
