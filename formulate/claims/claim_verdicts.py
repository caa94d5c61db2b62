"""The verdict on a claim: one rule for a dose, for a chart, and for a chart of derived labels.

Within the margin it is right. Guarantees that are minima leave open that there is somewhat
more. More than the products weigh is impossible. Anything else does not follow: wrong.
"""

import re
from dataclasses import dataclass

from formulate.claims.claim_reading import READINGS
from formulate.claims.finding import Finding
from formulate.ingredients.ingredient import Ingredient
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import rule_of
from formulate.working import Shown, printed

__all__ = ["Poured", "claim_verdict", "margin_sides", "margin_words", "ph_finding"]

PERCENT, PER_MILLE, DIGITS = 100.0, 1000.0, 3
ROUNDING = 1e-9  # of the arithmetic itself
CUT = "; its last digit is cut, not rounded"
MORE = "guarantees are minima, there may be more"
LESS = (
    "as a figure it does not follow from the label, though more being in is no fault, "
    "for guarantees are minima"
)
SET = "it may be meant as the pH to set with acid or alkali"


@dataclass(frozen=True, eq=False)
class Poured(Shown):
    """
    A product as far as it bears on a claim.

    Attributes
    ----------
    ingredient : Ingredient
        The product.
    amount : float
        Grams in a litre, or millilitres of what is measured so. [g/L]
    minima : bool
        Whether its guarantees are minima.
    """

    ingredient: Ingredient
    amount: float
    minima: bool

    def added(self, key):
        """
        Return what the product brings of a nutrient.

        Parameters
        ----------
        key : str
            Nutrient key.

        Returns
        -------
        float
            Concentration. [mg/L]

        Examples
        --------
        >>> from formulate.ingredients.salts import as_ingredient
        >>> round(Poured(as_ingredient("KNO3"), 1.0, False).added("K"), 1)
        386.7
        """
        return self.amount * self.ingredient.amount(key) * nutrient(key).molar_mass


def margin_sides(parts, label, claim):
    """
    Return how far below and above what was computed a claim may be and agree.

    Parameters
    ----------
    parts : mapping of str to float
        What the margin is made of, in the unit of the claim. [-]
    label : tuple of float
        How far below and above the label alone lets it be, in the unit of the claim. [-]
    claim : Claim
        The claim; one unit of its last digit below, for it may be cut.

    Returns
    -------
    tuple of float
        Below and above, in the unit of the claim. [-]

    Examples
    --------
    >>> from formulate.claims.claim_reading import read_claims
    >>> from formulate.errors import Faults
    >>> (claim,) = read_claims({"K": 387}, Faults())
    >>> margin_sides({"claim": 0.5, "measure": 2.0}, (0.0, 5.0), claim)
    (3.0, 7.5)
    """
    others = sum(part for name, part in parts.items() if name != "label")
    return others + label[0] + claim.cut, others + label[1]


def margin_words(parts, label):
    """
    Return the margin in words, as if the claim were rounded.

    Parameters
    ----------
    parts : mapping of str to float
        What the margin is made of, in the unit of the claim. [-]
    label : tuple of float
        How far below and above the label alone lets it be, in the unit of the claim. [-]

    Returns
    -------
    str
        The words.

    Examples
    --------
    >>> margin_words({"label": 5.0, "claim": 0.5}, (5.0, 5.0))
    'margin ± 5.5 (label 5, claim 0.5)'
    >>> margin_words({"label": 10.0, "claim": 0.5}, (0.0, 10.0))
    'margin −0.5 to +10 (label, rounded down, up to 10 more; claim 0.5)'
    """
    others = {name: part for name, part in parts.items() if name != "label" and part}
    made = [f"{name} {part:.2g}" for name, part in others.items()]
    below, above = (side + sum(others.values()) for side in label)
    if f"{label[0]:.2g}" == f"{label[1]:.2g}":
        made = [f"label {label[0]:.2g}", *made] if label[0] else made
        return f"margin ± {above:.2g} ({', '.join(made)})"
    told = f"label, rounded down, up to {label[1]:.2g} more"
    if label[0]:
        told = f"label {label[0]:.2g} less to {label[1]:.2g} more"
    both = "; ".join(filter(None, (told, ", ".join(made))))
    return f"margin −{below:.2g} to +{above:.2g} ({both})"


def claim_verdict(claim, computed, sides, products, of_water):
    """
    Return the verdict on a claim, and what more there is to say.

    Parameters
    ----------
    claim : Claim
        The claim.
    computed : float
        What products and water give, in the unit of the claim. [-]
    sides : tuple of float
        How far below and above it the claim may be, likewise. [-]
    products : sequence of Poured
        The products.
    of_water : float
        What the water alone gives, in the unit of the claim. [-]

    Returns
    -------
    verdict : str
        "right", "cannot tell", "wrong" or "impossible".
    more : str
        Words that follow; empty if there are none.

    Examples
    --------
    >>> from formulate.claims.claim_reading import read_claims
    >>> from formulate.errors import Faults
    >>> from formulate.ingredients.salts import as_ingredient
    >>> bag = Poured(as_ingredient("KNO3"), 1.0, True)
    >>> (claim,) = read_claims({"K": 420}, Faults())
    >>> claim_verdict(claim, 386.7, (1.0, 0.5), (bag,), 0.0)
    ('cannot tell', '; guarantees are minima, there may be more')
    """
    off = claim.value - computed
    room = 1 + ROUNDING
    if -sides[0] * room <= off <= sides[1] * room:
        is_cut = off < -(sides[0] - claim.cut) * room
        return "right", CUT if is_cut else ""
    weight = _weight(claim, products)
    if weight is not None and claim.value - max(sides) > weight + of_water:
        told = f"{printed(weight)} mg/L of product that {_are(products)} put in"
        return "impossible", f"; more than the {told}"
    if not any(one.minima for one in products):
        return "wrong", ""
    if off < 0:
        return "wrong", f"; {LESS}"
    share = rule_of("chart_rules", "minima").number("value") / PERCENT
    if off - claim.half <= share * _minimal(claim, computed, products, of_water) * room:
        return "cannot tell", f"; {MORE}"
    return "wrong", _needed(claim, computed, products)


def _are(products):
    return "is" if len(products) == 1 else "are"


def _weight(claim, products):
    """Return what the products weigh, which no element exceeds; None if nobody knows. [mg/L]"""
    if claim.subject in READINGS:
        return None
    is_element = re.fullmatch("[A-Z][a-z]?", nutrient(claim.subject).basis)
    if not is_element or any(one.ingredient.measured_in != "g" for one in products):
        return None
    return PER_MILLE * sum(one.amount for one in products)


def _minimal(claim, computed, products, of_water):
    """Return what is brought by products with minima, in the unit of the claim. [-]"""
    if claim.subject in READINGS:
        return max(computed - of_water, 0.0)
    return sum(one.added(claim.subject) for one in products if one.minima)


def _needed(claim, computed, products):
    """Return which share of what is claimed the products would need, in words."""
    key = claim.subject
    if key in READINGS:
        return "; the guarantees, which are minima, vouch for no more"
    bringing = [one for one in products if one.minima and one.added(key)]
    bringing = bringing or [one for one in products if one.minima]
    if len(bringing) > 1:
        return _needed_together(key, claim.value - computed, bringing)
    (one,) = bringing
    need = (claim.value - computed + one.added(key)) / one.amount / PER_MILLE * PERCENT
    there = one.added(key) / one.amount / PER_MILLE * PERCENT
    given = f"{there:.{DIGITS}g} % is" if there else "none is"
    where = f" in {one.ingredient.name}" if len(products) > 1 else ""
    of_unit = "" if one.ingredient.measured_in == "g" else " w/v"
    need = f"{need:.{DIGITS}g} %{of_unit} {key}"
    return f"; it would need {need}{where} where {given} guaranteed"


def _needed_together(key, missing, bringing):
    """Return by how much the guarantees of several products would have to be higher."""
    there = sum(one.added(key) for one in bringing)
    names = " and ".join(one.ingredient.name for one in bringing)
    if not there:
        return (
            f"; neither {' nor '.join(names.split(' and '))} is guaranteed to hold any"
        )
    times = f"{1.0 + missing / there:.{DIGITS}g}"
    return f"; it would need {times} times the {key} that is guaranteed of {names}"


def ph_finding(subject, claim, ph):
    """
    Return a claimed pH held against that of the solution closed to the air.

    Parameters
    ----------
    subject : str
        What the finding is about.
    claim : Claim
        The claim.
    ph : float
        What was computed. [-]

    Returns
    -------
    Finding
        Right within its last digit; else nothing can be told, for acid and air change it.

    Examples
    --------
    >>> from formulate.claims.claim_reading import read_claims
    >>> from formulate.errors import Faults
    >>> print(ph_finding("pH", *read_claims({"pH": "5.8"}, Faults()), 7.0))
    pH: cannot tell; pH 5.8 told, 7.00 computed; it may be meant as the pH to set with acid or \
alkali
    """
    what = f"{claim.shown} told, {ph:.2f} computed"
    room = 1 + ROUNDING
    off = claim.value - ph
    if -(claim.half + claim.cut) * room <= off <= claim.half * room:
        more = CUT if off < -claim.half * room else ""
        return Finding(subject, "right", f"{what}{more}", claim.value, ph)
    return Finding(subject, "cannot tell", f"{what}; {SET}", claim.value)
