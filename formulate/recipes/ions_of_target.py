"""The ions that a target itself describes, as far as it names them."""

from formulate.stoichiometry.charge import nominal_charge
from formulate.stoichiometry.nutrients import form, nutrient
from formulate.stoichiometry.solution import Solution

__all__ = ["ions_wanted", "start_of", "untold_nitrogen"]


def start_of(target):
    """
    Return the composition that a target itself describes, to draw the first lines at.

    Parameters
    ----------
    target : Target
        The target.

    Returns
    -------
    Solution
        Its ions; nitrogen of which no form is told as nitrate, and calcium or nitrate
        for what the charges leave open. [mmol/L]

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> round(start_of(target({"N": 140, "K": 195.5})).forms["nitrate"], 2)
    10.0
    """
    forms = ions_wanted(target.wanted)
    untold = untold_nitrogen(target, forms)
    if untold:
        forms["nitrate"] = forms.get("nitrate", 0.0) + untold
    left = nominal_charge(forms)
    if left < 0:
        forms["calcium"] = forms.get("calcium", 0.0) - left / 2
    else:
        forms["nitrate"] = forms.get("nitrate", 0.0) + left
    return Solution(forms)


def ions_wanted(wanted):
    """
    Return the ions that wanted values name; a total is what its parts leave of it.

    Parameters
    ----------
    wanted : mapping of str to float
        Nutrient key to wanted amount. [mmol/L]

    Returns
    -------
    dict of str to float
        Form to amount; without nitrogen of which no form is told. [mmol/L]

    Examples
    --------
    >>> ions_wanted({"N": 10.0, "NH4-N": 1.0, "K": 5.0})
    {'ammonium': 1.0, 'potassium': 5.0}
    """
    forms = {}
    for key in sorted(wanted, key=lambda key: len(nutrient(key).weights)):
        known = nutrient(key)
        if known.key == "N":
            continue
        part, weight = max(
            known.weights.items(), key=lambda item: abs(form(item[0]).nominal_charge)
        )
        told = sum(w * forms.get(other, 0.0) for other, w in known.weights.items())
        left = max(wanted[key] - told, 0.0) / weight
        forms[part] = forms.get(part, 0.0) + left
    return forms


def untold_nitrogen(target, forms):
    """
    Return the nitrogen of a target of which no form is told.

    Parameters
    ----------
    target : Target
        The target.
    forms : mapping of str to float
        Its ions, as `ions_wanted` returns them. [mmol/L]

    Returns
    -------
    float
        Nitrogen. [mmol/L]

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> wish = target({"N": "10 mmol/L", "NH4-N": "1 mmol/L"})
    >>> round(untold_nitrogen(wish, ions_wanted(wish.wanted)), 9)
    9.0
    """
    told = sum(forms.get(part, 0.0) for part in ("nitrate", "nitrite", "ammonium"))
    return max(target.wanted.get("N", 0.0) - told - 2 * forms.get("urea", 0.0), 0.0)
