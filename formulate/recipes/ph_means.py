"""Whether a shelf can bring a pH at all: its acids and alkalis, and bags of unknown ions."""

from formulate.chemistry.acidity import usual_alkalinity_error
from formulate.errors import InputError, OutOfReach
from formulate.recipes.drawing import draw
from formulate.recipes.first_lines import ideal_line
from formulate.recipes.limits import counted
from formulate.stoichiometry.nutrients import form
from formulate.tables import recipe_rule
from formulate.working import printed

__all__ = [
    "check_counter_ions",
    "check_water",
    "held_ph",
    "means",
    "out_of_reach",
]

KINDS = ("acid", "alkali")


def held_ph(limits):
    """
    Return the limits on a pH among some.

    Parameters
    ----------
    limits : iterable of Limit
        Limits.

    Returns
    -------
    tuple of Limit
        Those on a pH.

    Examples
    --------
    >>> from formulate.recipes.limits import limits_of
    >>> [held.subject for held in held_ph(limits_of({"pH": "5 to 6", "K": "none"}))]
    ['pH']
    """
    return tuple(held for held in limits if held.is_metered and held.subject != "EC")


def means(ingredients, line):
    """
    Return what can move a pH, by the way that it moves it.

    Parameters
    ----------
    ingredients : sequence of Ingredient
        What may be used.
    line : Line
        The charge at that pH.

    Returns
    -------
    dict of str to tuple of str
        "acid" and "alkali" to names: whatever leaves 10 % of its charges open at that pH.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.limits import limit
    >>> line = ideal_line(limit("pH", "exactly 6"), "low")
    >>> means([salt("KNO3"), salt("K2CO3")], line)
    {'acid': (), 'alkali': ('K2CO3',)}
    """
    least = recipe_rule("open charge").number("low") / 100
    found = {kind: [] for kind in KINDS}
    for one in ingredients:
        size = sum(abs(line.weights.get(key, 0.0)) * v for key, v in one.forms.items())
        left = counted(line.weights, one)
        if abs(left) > least * size:
            found["acid" if left < 0 else "alkali"].append(one.name)
    return {kind: tuple(names) for kind, names in found.items()}


def check_counter_ions(ingredients):
    """
    Raise if the counter-ions of an ingredient are not known, so that it has no single pH.

    Parameters
    ----------
    ingredients : sequence of Ingredient
        What may be used.

    Raises
    ------
    InputError
        With every ingredient whose named ions leave more than 2 % of their charge open.

    Examples
    --------
    >>> from formulate.ingredients.ingredient import analysed
    >>> check_counter_ions([analysed("base", {"NO3-N": 5, "K": 21})])
    Traceback (most recent call last):
        ...
    formulate.errors.InputError: a pH cannot be asked for with base: its label leaves \
1.80 meq/g without a counter-ion, so nobody can tell its pH. Name what it is derived from, \
take it off (use = "none"), or dissolve it, measure, then correct
    """
    most, faults = recipe_rule("unknown charge").number("high") / 100, []
    for one in ingredients:
        size = sum(abs(form(key).nominal_charge) * v for key, v in one.forms.items())
        left = abs(one.unassigned_charge)
        if left > most * size and left:
            faults.append(
                f"a pH cannot be asked for with {one.name}: its label leaves "
                f"{printed(left, 3)} meq/{one.measured_in} without a counter-ion, so nobody "
                "can tell its pH. Name what it is derived from, take it off "
                '(use = "none"), or dissolve it, measure, then correct'
            )
    if faults:
        raise InputError(*faults)


def check_water(limits, ingredients, water):
    """
    Raise if the water alone needs an acid, or an alkali, and none may be used.

    Parameters
    ----------
    limits : iterable of Limit
        Limits of the target.
    ingredients : sequence of Ingredient
        What may be used.
    water : Water
        The water.

    Raises
    ------
    InputError
        With every pH that is out of reach.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.ingredients.water import water
    >>> from formulate.recipes.limits import limit
    >>> well = water({"Ca": "100 mg/L", "alkalinity": "5 meq/L"})
    >>> check_water([limit("pH", "exactly 6")], [salt("KNO3")], well)
    Traceback (most recent call last):
        ...
    formulate.errors.InputError: pH exactly 6: the water alone asks for 5.00 meq/L of acid, \
and no acid is on the shelf that may be used
    """
    faults, give = [], usual_alkalinity_error(water.solution)
    sides = [(held, side) for held in held_ph(limits) for side in held.sides]
    for held, side in sides:
        line = ideal_line(held, side)
        kind = _needed(held, side, line.value(water.solution), give)
        if kind and not means(ingredients, line)[kind]:
            need = printed(abs(line.value(water.solution)), 3)
            faults.append(
                f"{held.named(side)}: the water alone asks for {need} meq/L of {kind}, and "
                f"no {kind} is on the shelf that may be used"
            )
    if faults:
        raise InputError(*faults)


def out_of_reach(limits, ingredients, solution):
    """
    Return the error for a pH that a recipe misses by itself and nothing at hand brings.

    Parameters
    ----------
    limits : iterable of Limit
        Limits of the target.
    ingredients : sequence of Ingredient
        What may be used.
    solution : Solution
        What the recipe makes if no pH is asked for.

    Returns
    -------
    OutOfReach or None
        The error; None if it is there already, or what it needs is at hand.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.limits import limit
    >>> from formulate.stoichiometry.solution import solution
    >>> feed = solution({"K": 5.0, "NO3": 4.0, "P": 1.0})
    >>> print(out_of_reach([limit("pH", "exactly 6")], [salt("KNO3")], feed))
    pH exactly 6: the recipe by itself comes to pH 5.1 and asks for 0.0784 meq/L of \
alkali; no alkali is on the shelf that may be used
    """
    faults = []
    for (held, side), line in draw(held_ph(limits), solution).lines.items():
        kind = _needed(held, side, line.value(solution), 0.0)
        if kind and not means(ingredients, line)[kind]:
            need = printed(abs(line.value(solution)), 3)
            faults.append(
                f"{held.named(side)}: the recipe by itself comes to "
                f"pH {held.value(solution):.1f} and asks for {need} meq/L of {kind}; no "
                f"{kind} is on the shelf that may be used"
            )
    return OutOfReach(*faults) if faults else None


def _needed(held, side, charge, give):
    """Return what brings a solution to its bound, "" if it is there already."""
    if charge > give and (side == "high" or held.low == held.high):
        return "acid"
    return "alkali" if charge < -give and side == "low" else ""
