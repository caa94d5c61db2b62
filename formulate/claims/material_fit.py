"""Which material, and which of its hydrates, has the analysis that a label gives.

A share p with one unit d of its last digit may be rounded down or to the nearest, so that a
material with the share q fits pure where

    p - d/2 <= q < p + d

and at purity f where this holds of f q for every share at once.
"""

from dataclasses import dataclass

from formulate.checks import checked_number
from formulate.claims.finding import Finding
from formulate.claims.guarantees import guarantees_of, read_guarantees
from formulate.errors import Faults
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.salts import catalogue
from formulate.working import Shown, printed

__all__ = ["MaterialFit", "fits_of", "material_finding", "which_material"]

PERCENT = 100.0
HALF = 0.5
ROUND_OFF = 1e-9
MAIN = {"N": "N", "P": "P2O5", "K": "K2O", "Ca": "Ca", "Mg": "Mg"}
TOLD_AS = {"P": ("P2O5", "P"), "K": ("K2O", "K"), "Ca": ("CaO",), "Mg": ("MgO",)}
UNTOLD = 1.0  # % of a main nutrient that a label would not leave out
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
        The least purity at which every share agrees. [%]
    high : float
        The greatest. [%]
    miss : float
        The largest difference of a share from the pure material, in its own size. [-]
    untold : tuple of str
        Main nutrients that it holds and the shares do not name.
    """

    ingredient: Ingredient
    low: float
    high: float
    miss: float
    untold: tuple = ()

    @property
    def is_pure(self):
        """Return whether the pure material agrees within rounding."""
        return self.high >= PERCENT

    @property
    def rank(self):
        """Return what fits are ordered by: nothing untold, pure, the smallest miss."""
        return (len(self.untold), not self.is_pure, self.miss)

    def __str__(self):
        text = self.ingredient.name
        if not self.is_pure:
            text += f" of {printed(self.low)} to {printed(self.high)} % purity"
        return text + (
            f" (which also holds {', '.join(self.untold)})" * bool(self.untold)
        )


def which_material(guarantees, *, least_purity=90.0):
    """
    Return the catalogue entries, hydrates among them, that agree with some shares.

    Parameters
    ----------
    guarantees : Ingredient, str or mapping of str to float
        A label that was read, its text, or label word or nutrient key to share; a share
        given as text ("46.0") shows how it is rounded. [%]
    least_purity : float
        The least purity of a material that counts; common practice, no source. [%]

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
        checked_number(least_purity, "least purity in %", above=0, most=PERCENT)
    with faults.collecting():
        reading = read_guarantees(guarantees, "us", faults)
        made = guarantees_of(reading, "us", faults)
    faults.raise_if_any()
    return fits_of(made, least_purity=least_purity)


def fits_of(guarantees, *, least_purity=90.0):
    """
    Return the catalogue entries that agree with guarantees.

    Parameters
    ----------
    guarantees : sequence of Guarantee
        What is guaranteed.
    least_purity : float
        The least purity of a material that counts. [%]

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
    fits = (_fit(made, guarantees, least_purity) for made in catalogue().values())
    return tuple(sorted(filter(None, fits), key=lambda fit: fit.rank))


def _fit(made, guarantees, least_purity):
    """Return how a material fits, or None."""
    low, high, miss = least_purity / PERCENT, 1.0, 0.0
    for each in guarantees:
        pure, share = made.percent(each.key), each.percent
        least, most = (
            share - HALF * each.step - ROUND_OFF,
            share + each.step - ROUND_OFF,
        )
        if pure <= 0:
            if share > 0:
                return None
            continue
        low, high = max(low, least / pure), min(high, most / pure)
        if low > high:
            return None
        miss = max(miss, abs(pure - share) / max(share, each.step, ROUND_OFF))
    return MaterialFit(
        made, low * PERCENT, high * PERCENT, miss, _untold(made, guarantees)
    )


def _untold(made, guarantees):
    """Return the main nutrients of a material that no guarantee names."""
    told = {each.key for each in guarantees}
    told |= {"N" for key in told if key.endswith("-N")}
    return tuple(
        key
        for element, key in MAIN.items()
        if made.percent(key) >= UNTOLD and not told & {key, *TOLD_AS.get(element, ())}
    )


def material_finding(guarantees):
    """
    Return which material a label may be, as a finding.

    Parameters
    ----------
    guarantees : sequence of Guarantee
        What is guaranteed.

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
    fits = fits_of(guarantees)
    facts = {"rule": RULE, "source_key": "stoichiometry"}
    if not fits:
        what = "no single material of the catalogue agrees; a blend, or one not listed"
        return Finding("material", "cannot tell", what, **facts)
    listed = ", or ".join(map(str, fits[:MOST_LISTED]))
    more = len(fits) - MOST_LISTED
    listed += f" and {more} more" if more > 0 else ""
    what = f"agrees within rounding with {listed}"
    return Finding("material", "right", what, **facts)
