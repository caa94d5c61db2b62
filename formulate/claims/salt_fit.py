"""How the numbers of a row agree with a material: pure, at one purity, or which do not."""

from dataclasses import dataclass

from formulate.claims.as_sold import grades_as_sold
from formulate.claims.salt_columns import MOLAR_MASS
from formulate.claims.table_slips import waterless_factor
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.salts import catalogue
from formulate.stoichiometry.formula import molar_mass, parse_formula
from formulate.tables import read_table, rule_of

__all__ = [
    "RowFit",
    "chelate_between",
    "fit_of",
    "least_as_sold",
    "least_purity",
    "older_masses",
    "right_value",
    "sold_as",
    "sold_chelate",
    "sold_grade",
]

PERCENT = 100.0
GRADE = ("N", "P2O5", "K2O")
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


def least_purity():
    """
    Return the least purity that a salt of the trade has, as far as it is a good one.

    Returns
    -------
    float
        Share of the pure salt. [-]

    Examples
    --------
    >>> least_purity()
    0.9
    """
    return rule_of("paper_rules", "least purity").number("value") / PERCENT


def older_masses():
    """
    Return what older atomic masses change of a number.

    Returns
    -------
    float
        Share of the number. [%]

    Examples
    --------
    >>> older_masses()
    0.03
    """
    return rule_of("paper_rules", "older masses").number("value")


def least_as_sold():
    """
    Return the least purity at which a whole row may agree.

    Returns
    -------
    float
        Share of the pure salt. [-]

    Examples
    --------
    >>> least_as_sold()
    0.8
    """
    return rule_of("paper_rules", "least as sold").number("value") / PERCENT


def fit_of(made, cells, purity=None, allowed=3e-4, least=None):
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
    least : float or None
        Least purity that counts; that of good salts if None. [-]

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
    least, most = _domain(made, purity, least)
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


def _domain(made, purity, least):
    """Return the least and greatest purity that count."""
    if purity is not None:
        half = purity.step / 2
        return (purity.low - half) / PERCENT, (purity.high + half) / PERCENT
    if not made.formula:
        return SOLD_RANGE
    is_rich = not made.is_liquid and made.purity_percent > least_purity() * PERCENT
    top = PERCENT / made.purity_percent if is_rich else 1.0
    return least or least_purity(), top + ROUND_OFF


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


def sold_grade(made, cells):
    """
    Return the grade of the trade that the numbers of a row are.

    Parameters
    ----------
    made : Ingredient
        The material that the row names.
    cells : sequence of SaltCell
        Its mass shares.

    Returns
    -------
    str
        Such as "11-48-0"; empty if they are none that is known.

    Examples
    --------
    >>> from formulate.claims.printed_numbers import printed_number
    >>> from formulate.claims.salt_columns import SaltCell
    >>> from formulate.ingredients.salts import as_ingredient
    >>> pairs = (("N", "11"), ("P2O5", "52"))
    >>> cells = [SaltCell(key, key, printed_number(text)) for key, text in pairs]
    >>> sold_grade(as_ingredient("NH4H2PO4"), cells)
    '11-52-0'
    """
    if not made.formula:
        return ""
    cells = [c for c in cells if c.number.high or made.percent(c.key)]
    named = all({"P": "P2O5", "K": "K2O"}.get(c.key, c.key) in GRADE for c in cells)
    atoms = parse_formula(made.formula).atoms
    for row in read_table("sold_grades"):
        shares = {key: row.number(key) for key in GRADE}
        is_same = parse_formula(row["formula"]).atoms == atoms and named
        if is_same and _are_printed(made, cells, shares):
            return "-".join(f"{share:g}" for share in shares.values())
    return ""


def _are_printed(made, cells, shares):
    """Return whether the numbers of a row are the shares of a grade, N and one more."""
    for cell in cells:
        key = {"P": "P2O5", "K": "K2O"}.get(cell.key, cell.key)
        share = shares[key]
        if key != cell.key and share:
            share *= made.percent(cell.key) / made.percent(key)
        share /= cell.scale
        if not (cell.number.holds(share) or cell.number.is_cut(share)):
            return False
    return sum(bool(cell.number.high) for cell in cells) == sum(
        bool(share) for share in shares.values()
    )


# --- chelates ----------------------------------------------------------------------------


def sold_chelate(made, cells):
    """
    Return the grade of a chelate in which all numbers of a row lie.

    Parameters
    ----------
    made : Ingredient
        The material that the row names.
    cells : sequence of SaltCell
        Its mass shares.

    Returns
    -------
    str
        Such as "Fe 6 to 7 %"; empty if they lie in none.

    Examples
    --------
    >>> from formulate.claims.printed_numbers import printed_number
    >>> from formulate.claims.salt_columns import SaltCell
    >>> from formulate.ingredients.salts import as_ingredient
    >>> cells = [SaltCell("Fe", "Fe", printed_number("7"))]
    >>> sold_chelate(as_ingredient("Fe-DTPA"), cells)
    'Fe 6 to 7 %'
    """
    for grade in _chelate_grades(made):
        ends = [grade.range_of(cell.key) for cell in cells]
        pairs = zip(cells, ends, strict=True)
        if cells and all(pair and _lies_in(cell, pair) for cell, pair in pairs):
            told = (f"{key} {a:g} to {b:g} %" for key, (a, b) in grade.ranges.items())
            return ", ".join(told)
    return ""


def chelate_between(made, cell):
    """
    Return why a number of a chelate cannot be told, though no usual bag holds it.

    Parameters
    ----------
    made : Ingredient
        The material that the row names.
    cell : SaltCell
        The number.

    Returns
    -------
    str
        Between what it lies; empty if a chelate cannot hold it or it is too little.

    Examples
    --------
    >>> from formulate.claims.printed_numbers import printed_number
    >>> from formulate.claims.salt_columns import SaltCell
    >>> from formulate.ingredients.salts import as_ingredient
    >>> cell = SaltCell("Fe", "Fe", printed_number("9"))
    >>> chelate_between(as_ingredient("Fe-EDDHA"), cell)
    'bags hold 5 to 6 %, the pure compound up to 12.8 %'
    """
    grades = [] if cell.key == MOLAR_MASS else _chelate_grades(made)
    sold = [pair for g in grades if (pair := g.range_of(cell.key))]
    if not sold:
        return ""
    most = made.percent(cell.key) * waterless_factor(made)
    if not _lies_in(cell, (min(sold)[0], most)):
        return ""
    bags = " or ".join(f"{least:g} to {greatest:g}" for least, greatest in sold)
    return f"bags hold {bags} %, the pure compound up to {most:.3g} %"


def _chelate_grades(made):
    """Return the grades of a material if it is a chelate."""
    grades = (g for g in grades_as_sold() if g.material == made.name)
    return [grade for grade in grades if "chelate" in grade.grade]


def _lies_in(cell, ends):
    """Return whether a printed share lies in a range, its rounding allowed."""
    number, (least, most) = cell.number, ends
    half = number.step / 2 + ROUND_OFF
    low, high = (number.low - half) * cell.scale, (number.high + half) * cell.scale
    return low <= most and high >= least
