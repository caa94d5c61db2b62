"""Which material, and which of its hydrates, has the analysis that a label gives.

A share p with one unit d of its last digit may be rounded down or to the nearest, so that a
material with the share q fits where the inequality holds for every share at once, pure at f
= 1. Two elements that agree on one purity may be further from the pure salt than one alone.
What the trade sells otherwise than pure fits where p - d/2 <= q and p + d > q for some q of
each range of the table as_sold. A share that is told on two bases, MgO 16 (Mg 9.6), may
have been converted after rounding.

Equation of what a printed share leaves open [definition]::

    p − d/2 ≤ f q < p + d        f purity
"""

from dataclasses import dataclass
from functools import cache

from formulate.checks import checked_number
from formulate.claims.as_sold import SoldGrade, grades_as_sold
from formulate.claims.finding import Finding
from formulate.claims.guarantees import guarantees_of, read_guarantees
from formulate.errors import Faults
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.label_words import family
from formulate.ingredients.salts import catalogue
from formulate.stoichiometry.nutrients import nutrient, nutrient_keys
from formulate.tables import rule_of
from formulate.working import Shown, printed

__all__ = [
    "MaterialFit",
    "fit_of",
    "fits_of",
    "holds_agent",
    "material_finding",
    "which_material",
]

PERCENT = 100.0
HALF = 0.5
ROUND_OFF = 1e-9
MAIN = {"N": "N", "P": "P2O5", "K": "K2O", "Ca": "Ca", "Mg": "Mg"}
TOLD_AS = {"P": ("P2O5", "P"), "K": ("K2O", "K"), "Ca": ("CaO",), "Mg": ("MgO",)}
UNTOLD = 1.0  # % of a main nutrient that a label would not leave out
ALONE, AGREED = "least purity", "least as sold"  # of one share; of two elements or more
PURE_ENOUGH = 95.0  # % of purity that is not worth a word
HELD = ("chelated", "complexed", "isomer")
LIMIT = "at most"  # a share that is a greatest value asks for nothing
MOST_LISTED = 4
RULE = "the analysis of catalogue entries within the rounding of each share"


@dataclass(frozen=True, eq=False)
class MaterialFit(Shown):
    """
    A material whose analysis agrees with some shares.

    Attributes
    ----------
    ingredient : Ingredient
        The material.
    low : float
        The least purity at which every share agrees; of the largest share, if it is a grade
        as sold. [%]
    high : float
        The greatest. [%]
    miss : float
        The largest difference of a share from the pure material, in its own size. [-]
    untold : tuple of str
        Main nutrients that it holds and the shares do not name.
    grade : SoldGrade or None
        The grade of the trade that agrees, where the pure material does not.
    """

    ingredient: Ingredient
    low: float
    high: float
    miss: float
    untold: tuple = ()
    grade: SoldGrade | None = None

    @property
    def is_pure(self):
        """Return whether the pure material agrees within rounding."""
        return self.high >= PERCENT and self.grade is None

    @property
    def rank(self):
        """Return what fits are ordered by: nothing untold, pure, the smallest miss."""
        return (len(self.untold), not self.is_pure, self.miss)

    def __str__(self):
        text = self.ingredient.name
        if self.grade is not None:
            text += f" {self.grade}"
        if self.grade is None or _is_salt(self.ingredient):
            text += self._purity()
        return text + (
            f" (which also holds {', '.join(self.untold)})" * bool(self.untold)
        )

    def _purity(self):
        """Return the purity in words, where it is not near 100 %."""
        if self.is_pure and self.low >= PURE_ENOUGH:
            return ""
        low, high = (printed(value, 3) for value in (self.low, self.high))
        return f" of {low} % purity" if low == high else f" of {low} to {high} % purity"


def which_material(guarantees, *, least_purity=None):
    """
    Return the catalogue entries, hydrates among them, that agree with some shares.

    Parameters
    ----------
    guarantees : Ingredient, str or mapping of str to float
        A label that was read, its text, or label word or nutrient key to share; a share
        given as text ("46.0") shows how it is rounded. [%]
    least_purity : float or None
        The least purity of a material that counts. If None 90, and 80 where two elements
        or more agree on it, and grades as they are sold. [%]

    Returns
    -------
    tuple of MaterialFit
        The best first; empty if none agrees.

    Raises
    ------
    InputError
        With every fault.

    Examples
    --------
    >>> [str(fit) for fit in which_material({"Mg": "9.8", "S": "13"})]
    ['magnesium sulfate heptahydrate']
    """
    faults = Faults("which material")
    with faults.collecting():
        if least_purity is not None:
            checked_number(least_purity, "least purity in %", above=0, most=PERCENT)
    with faults.collecting():
        reading = read_guarantees(guarantees, "us", faults)
        made = guarantees_of(reading, "us", faults)
    faults.raise_if_any()
    return fits_of(made, least_purity=least_purity)


def fits_of(guarantees, *, least_purity=None, agents=()):
    """
    Return the catalogue entries that agree with guarantees.

    Parameters
    ----------
    guarantees : sequence of Guarantee
        What is guaranteed.
    least_purity : float or None
        The least purity of a material that counts; as `which_material` if None. [%]
    agents : sequence of str
        Chelating agents that the label names apart from any share.

    Returns
    -------
    tuple of MaterialFit
        The best first.

    Examples
    --------
    >>> from formulate.claims.guarantees import Guarantee
    >>> str(fits_of([Guarantee("N", 46.0, 46.0, 47.0, 1.0)])[0])
    'urea'
    """
    if not any(each.percent for each in guarantees):
        return ()
    held = [each for each in guarantees if each.kind in HELD or each.agent]
    named = {each.agent for each in held if each.agent} or set(agents if held else ())
    fits = (
        _fit_or_grade(made, guarantees, least_purity)
        for made in catalogue().values()
        if _is_held(made, bool(held), named)
    )
    return tuple(sorted(filter(None, fits), key=lambda fit: fit.rank))


@cache
def _purity(rule):
    """Return the least purity that counts, by a rule of the table. [%]"""
    return rule_of("paper_rules", rule).number("value")


def fit_of(made, guarantees, least_purity=None):
    """
    Return how one material agrees with guarantees: from some purity, or as it is sold.

    Parameters
    ----------
    made : Ingredient
        The material.
    guarantees : sequence of Guarantee
        What is guaranteed.
    least_purity : float or None
        The least purity that counts; that of a good salt if None. [%]

    Returns
    -------
    MaterialFit or None
        Its common purity; None if there is none.

    Examples
    --------
    >>> from formulate.claims.guarantees import Guarantee
    >>> str(fit_of(catalogue()["urea"], [Guarantee("N", 45.0, 45.0, 46.0, 0.1)]))
    'urea of 96.4 to 96.7 % purity'
    """
    least_purity = _purity(ALONE) if least_purity is None else least_purity
    plain = _plain_fit(made, guarantees, least_purity)
    return plain or _as_sold(made, guarantees)


def _as_sold(made, guarantees):
    """Return how a material fits as the trade sells it, or None."""
    grades = (grade for grade in grades_as_sold() if grade.material == made.name)
    found = (_grade_fit(made, grade, guarantees) for grade in grades)
    return next(filter(None, found), None)


def holds_agent(made):
    """
    Return whether a material is a chelate or a chelating agent.

    Parameters
    ----------
    made : Ingredient
        The material.

    Returns
    -------
    bool
        True where its metal is sold by what is held, not by a compound.

    Examples
    --------
    >>> holds_agent(catalogue()["urea"])
    False
    """
    return bool(_agents(made))


def _agents(made):
    """Return the chelating agents that a material holds."""
    return {form.upper() for form in made.forms} & _every_agent()


@cache
def _every_agent():
    return {key for key in nutrient_keys() if nutrient(key).group == "chelate"}


def _is_salt(made):
    """Return whether a material is told by its compound, not by an analysis or a metal."""
    return bool(made.formula) and not _agents(made)


def _is_held(made, is_told, named):
    """Return whether a material holds its metal as the label tells."""
    if not is_told:
        return True
    return _agents(made) == named if named else bool(_agents(made))


def _fit_or_grade(made, guarantees, least_purity):
    """Return how a material fits: pure, cut, told on two bases, or as it is sold."""
    plain = _plain_fit(made, guarantees, least_purity)
    if plain is None:
        coarse = _coarser(made, guarantees)
        if len(coarse) < len(guarantees):
            plain = _plain_fit(made, coarse, least_purity)
    if plain is not None or least_purity is not None:
        return plain
    return _as_sold(made, guarantees)


def _plain_fit(made, guarantees, least_purity):
    """Return how a material fits at one purity; a chelate only as its name tells it."""
    if least_purity is None:
        elements = {family(each.key) for each in guarantees if each.percent > 0}
        least_purity = _purity(AGREED if len(elements) > 1 else ALONE)
    fit = _fit(made, guarantees, least_purity)
    if fit is None or not _agents(made):
        return fit
    near = all(
        abs(made.percent(each.key) - each.percent) <= HALF * each.step + ROUND_OFF
        for each in guarantees
    )
    return fit if near else None


def _ends(each):
    """Return between which shares the true one lies."""
    least = 0.0 if each.kind == LIMIT else each.percent - HALF * each.step
    return least - ROUND_OFF, each.percent + each.step - ROUND_OFF


def _fit(made, guarantees, least_purity):
    """Return how a material fits at one purity, or None."""
    low, high, miss = least_purity / PERCENT, 1.0, 0.0
    for each in guarantees:
        pure, share = made.percent(each.key), each.percent
        least, most = _ends(each)
        if pure <= 0:
            if share > 0 and each.kind != LIMIT:
                return None
            continue
        low, high = max(low, least / pure), min(high, most / pure)
        if low > high:
            return None
        if each.kind != LIMIT:
            miss = max(miss, _miss(each, pure, share))
    untold = _untold(made, guarantees)
    return MaterialFit(made, low * PERCENT, high * PERCENT, miss, untold)


def _miss(each, pure, share):
    return abs(pure - share) / max(share, each.step, ROUND_OFF)


def _coarser(made, guarantees):
    """Return guarantees without those that repeat a coarser one on another basis."""
    return [
        each
        for each in guarantees
        if not any(_is_converted(made, each, other) for other in guarantees)
    ]


def _is_converted(made, each, other):
    """Return whether a share may be another, coarser one, converted after rounding."""
    same = family(each.key) == family(other.key) != "N" and each.key != other.key
    if not same or made.percent(other.key) <= 0 or not other.percent:
        return False
    factor = made.percent(each.key) / made.percent(other.key)
    is_finer = each.step < factor * other.step
    return is_finer and abs(each.percent - factor * other.percent) <= each.step


def _grade_fit(made, grade, guarantees):
    """Return how a grade of the trade fits, or None."""
    miss, windows = 0.0, {}
    for each in guarantees:
        pure = made.percent(each.key)
        if pure <= 0 and each.percent > 0 and each.kind != LIMIT:
            return None
        sold = grade.range_of(each.key) or (_purity(AGREED) / PERCENT * pure, pure)
        known, ends = windows.get(each.key, sold), _ends(each)
        low, high = max(known[0], ends[0]), min(known[1], ends[1])
        if low > high:
            return None
        windows[each.key] = (low, high)
        miss = max(miss, _miss(each, pure, each.percent))
    first = max(guarantees, key=lambda each: each.percent)
    pure = made.percent(first.key)
    low, high = (min(PERCENT, PERCENT * end / pure) for end in _ends(first))
    return MaterialFit(made, low, high, miss, _untold(made, guarantees), grade)


def _untold(made, guarantees):
    """Return the main nutrients of a material that no guarantee names."""
    told = {each.key for each in guarantees}
    told |= {"N" for key in told if key.endswith("-N")}
    return tuple(
        key
        for element, key in MAIN.items()
        if made.percent(key) >= UNTOLD and not told & {key, *TOLD_AS.get(element, ())}
    )


def material_finding(guarantees, agents=()):
    """
    Return which material a label may be, as a finding.

    Parameters
    ----------
    guarantees : sequence of Guarantee
        What is guaranteed.
    agents : sequence of str
        Chelating agents that the label names apart from any share.

    Returns
    -------
    Finding
        "right" with the materials that fit, "cannot tell" if it must be a blend.

    Examples
    --------
    >>> from formulate.claims.guarantees import Guarantee
    >>> print(material_finding([Guarantee("N", 46.0, 46.0, 47.0, 1.0)]))
    material: right; agrees within rounding with urea
    """
    fits = fits_of(guarantees, agents=agents)
    facts = {"rule": RULE, "source_key": "stoichiometry"}
    if not fits:
        what = "no single material of the catalogue agrees; a blend, or one not listed"
        return Finding("material", "cannot tell", what, **facts)
    listed = ", or ".join(map(str, fits[:MOST_LISTED]))
    more = len(fits) - MOST_LISTED
    listed += f" and {more} more" if more > 0 else ""
    what = f"agrees within rounding with {listed}"
    return Finding("material", "right", what, **facts)
