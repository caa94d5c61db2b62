"""Lines of pH and EC to begin with, before any composition is known."""

from functools import cache
from types import MappingProxyType

from formulate.recipes.drawing import Drawing, Line, main_forms
from formulate.recipes.meters import air_of
from formulate.stoichiometry.charge import charge_at_ph, mean_charge
from formulate.stoichiometry.nutrients import form, form_names

__all__ = ["first_lines", "ideal_line", "is_plain_salt"]

AN_EQUIVALENT = 0.05  # mS/cm: about what a milliequivalent of any ion carries, to begin


def first_lines(limits):
    """
    Return lines to begin with, by constants alone: no composition is needed.

    Parameters
    ----------
    limits : iterable of Limit
        Limits; those on anything but pH and EC are passed over.

    Returns
    -------
    Drawing
        Lines without pairs or ionic strength; every equivalent counts alike in an EC.

    Examples
    --------
    >>> from formulate.recipes.limits import limit
    >>> held = limit("EC", "at most 2 mS/cm")
    >>> first_lines([held]).lines[held, "high"].weights["calcium"]
    0.1
    """
    lines = {}
    for held in (held for held in limits if held.is_metered):
        for side in held.sides:
            bound = held.low if side == "low" else held.high
            lines[held, side] = (
                Line(_alike(), 0.0, bound)
                if held.subject == "EC"
                else ideal_line(held, side)
            )
    return Drawing(MappingProxyType(lines), MappingProxyType({}))


@cache
def _alike():
    """Return by what the EC rises with each main form if all equivalents count alike."""
    sizes = {key: abs(form(key).nominal_charge) for key in main_forms()}
    return MappingProxyType({key: AN_EQUIVALENT * size for key, size in sizes.items()})


def ideal_line(held, side):
    """
    Return the charge at a bound of a pH by constants alone, without pairs or strength.

    Parameters
    ----------
    held : Limit
        Limit on a pH.
    side : str
        "low" or "high".

    Returns
    -------
    Line
        What each form counts. Open to the air carbonates count for nothing.

    Examples
    --------
    >>> from formulate.recipes.limits import limit
    >>> line = ideal_line(limit("pH when mixed", "exactly 6.35"), "low")
    >>> round(line.weights["carbonate"], 2)
    -0.5
    """
    ph = held.low if side == "low" else held.high
    weights = {key: mean_charge(key, ph) for key in form_names()}
    weights["charge"] = 1.0
    if air_of(held.subject) is not None:
        weights["carbonate"] = 0.0
    return Line(MappingProxyType(weights), charge_at_ph({}, ph), 0.0)


def is_plain_salt(ingredient):
    """
    Return whether an ingredient is a salt of main ions alone, neither acid nor alkali.

    Parameters
    ----------
    ingredient : Ingredient
        The ingredient.

    Returns
    -------
    bool
        Whether it is.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> is_plain_salt(salt("KNO3")), is_plain_salt(salt("H3BO3"))
    (True, False)
    """
    only_main = set(ingredient.forms) <= set(main_forms())
    return only_main and not ingredient.role and not ingredient.unassigned_charge
