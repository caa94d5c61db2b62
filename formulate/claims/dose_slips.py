"""What may lie behind the wrong claims of a dose: slips, rounded factors, misprints last.

Claims that are wrong were made by hand, often with rounded factors: what a slip is to
explain is given room for that, while the verdict stays as strict as it is.
"""

import re
from dataclasses import replace

from formulate.claims.misprints import misprints
from formulate.claims.slip_moves import absent_hydrates
from formulate.claims.slip_pairs import MOST_SUBJECTS
from formulate.claims.slip_search import NOISE, explain
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import read_table
from formulate.working import printed

__all__ = ["dose_slips", "misprinted", "rounded_factor"]

MOST_UNSURE = 0.5
ROUNDED = r"rounded factor (\S+) of (\S+)"  # rules of the table of charts
WRONG = ("wrong", "impossible")


def dose_slips(pairs, claims, ingredient, *, ratio=None):
    """
    Return which slip, or which two, explain the claims of a dose.

    Parameters
    ----------
    pairs : mapping of str to tuple
        Subject to claimed, computed and relative uncertainty. [-]
    claims : sequence of DoseClaim
        The claims with their verdicts.
    ingredient : Ingredient
        What is dosed.
    ratio : float or None
        The n of a dilution 1 : n. [-]

    Returns
    -------
    SlipSearch or None
        What explains them; None if there are no pairs.

    Examples
    --------
    >>> dose_slips({}, (), None) is None
    True
    """
    sure = {key: pair for key, pair in pairs.items() if pair[2] <= MOST_UNSURE}
    sure = dict(list(sure.items())[:MOST_SUBJECTS])
    if not sure:
        return None
    given = {"ratio": ratio, "density": ingredient.density}
    given["shares"] = absent_hydrates([ingredient])
    off = {one.subject for one in claims if one.finding.verdict in WRONG}
    if not off:
        return explain(sure, **given)
    found = explain(
        {key: _roomy(key, pair, off) for key, pair in sure.items()}, **given
    )
    sharp = explain(sure, most_slips=1, **given)
    is_plain = bool(sharp.groups) and not sharp.is_right
    if found.is_right:
        return sharp if is_plain else found.untold
    if is_plain or (
        found.groups and len(found.groups[0].first.moves) > 1 and not found.is_weak
    ):
        return found
    told = {one.subject: misprinted(one, sure) for one in claims if one.subject in off}
    return replace(found, misprints={key: made for key, made in told.items() if made})


def _roomy(key, pair, off):
    """Return a pair with room for rounded factors where its claim is wrong."""
    claimed, computed, sure = pair
    return claimed, computed, max(sure, NOISE) if key in off else sure


def misprinted(claim, pairs):
    """
    Return the misprints that would explain a claim.

    Parameters
    ----------
    claim : DoseClaim
        The claim.
    pairs : mapping of str to tuple
        Subject to claimed, computed and relative uncertainty. [-]

    Returns
    -------
    tuple of Misprint
        The nearest first; none if there are none, or if its print is not known.

    Examples
    --------
    >>> from formulate.claims.dose_claims import check_dose
    >>> found = check_dose("KNO3", "0.9 g/L", {"K": "438"})
    >>> [str(one) for one in misprinted(found.claims[0], found.pairs())]
    ['two neighbouring digits exchanged: 348 printed 438']
    """
    if claim.subject not in pairs or not claim.as_printed:
        return ()
    claimed, computed, sure = pairs[claim.subject]
    right = computed * float(claim.as_printed.replace(",", ".")) / claimed
    return misprints(claim.as_printed, right, sure * right)


def rounded_factor(claim, computed, sides):
    """
    Return with which rounded factor between oxide and element a claim would be right.

    Parameters
    ----------
    claim : Claim
        The claim.
    computed : float
        What the dose gives, in the unit of the claim. [-]
    sides : tuple of float
        How far below and above the claim may be, likewise. [-]

    Returns
    -------
    str
        In words; empty if with none.

    Examples
    --------
    >>> from formulate.claims.claim_reading import read_claims
    >>> from formulate.errors import Faults
    >>> rounded_factor(*read_claims({"P": "229"}, Faults()), 227.6, (1.0, 0.5))
    'P2O5 × 0.44 instead of 0.4364'
    """
    for row in read_table("chart_rules"):
        named = re.fullmatch(ROUNDED, row["rule"])
        if not named or named[1] != claim.subject:
            continue
        exact = _factor(*named.groups())
        off = claim.value - computed * row.number("value") / exact
        if -sides[0] <= off <= sides[1]:
            return f"{named[2]} × {row['value']} instead of {printed(exact)}"
    return ""


def _factor(key, other):
    """Return the mass of one basis in a gram of another of the same element. [-]"""
    one, whole = nutrient(key), nutrient(other)
    ((form, count),) = one.weights.items()
    return one.molar_mass * count / (whole.molar_mass * whole.weights[form])
