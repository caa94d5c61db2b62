"""What few bags and whole steps come near to: the wanted rows as relative deviations."""

import math
from dataclasses import replace

import numpy as np

from formulate.checks import checked_number
from formulate.errors import InputError, shortened
from formulate.recipes import bands
from formulate.recipes.problem import Problem
from formulate.recipes.programme import lines_of
from formulate.recipes.recipe import Recipe
from formulate.recipes.requirement import WANTED
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import recipe_rule

__all__ = [
    "METERED",
    "bare",
    "check_objective",
    "check_prices",
    "check_recipe",
    "checked_most",
    "checked_share",
    "checked_time",
    "over_some",
    "own_rows",
    "reached_lines",
    "relative_factor",
    "relative_lines",
    "squared_misses",
    "sum_lines",
    "trace_share",
]

KEPT_LOW, TARGET = "kept low", "target"
MICRO = "micro"  # group of the trace elements
METERED = (
    "pH and EC count as straight lines drawn at these amounts; the proof is for these"
)


def relative_lines(rows, count, *, kept_low=False):
    """
    Return the wanted rows that some ingredient carries, as shares of what is wanted.

    Parameters
    ----------
    rows : sequence of Requirement
        The rows.
    count : int
        Number of ingredients. [-]
    kept_low : bool
        Whether rows that keep an ion low count too; with their weights.

    Returns
    -------
    Lines
        The lines; a wanted value of weight 0 is none of them.

    Examples
    --------
    >>> from formulate.recipes.requirement import Requirement
    >>> relative_lines([Requirement("K", (10.0,), 5.0, 5.0, scale=5.0)], 1).matrix
    array([[2.]])
    """
    found = [
        row
        for row in rows
        if row.kind == WANTED
        and row.weight > 0
        and any(row.coefficients)
        and (kept_low or row.origin != KEPT_LOW)
    ]
    return lines_of(found, count, [relative_factor(row) for row in found])


def relative_factor(row):
    """
    Return what makes a row's value a share of what is wanted.

    Parameters
    ----------
    row : Requirement
        A wanted row; one that keeps an ion low counts with the root of its weight.

    Returns
    -------
    float
        The factor. [L/mmol]

    Examples
    --------
    >>> from formulate.recipes.requirement import Requirement
    >>> relative_factor(Requirement("K", (10.0,), 5.0, 5.0, scale=5.0, weight=4.0))
    0.2
    """
    return (math.sqrt(row.weight) if row.origin == KEPT_LOW else 1.0) / row.scale


def sum_lines(rows, count):
    """
    Return the wanted rows as they count in a sum of deviations: macronutrients first.

    Parameters
    ----------
    rows : sequence of Requirement
        The rows.
    count : int
        Number of ingredients. [-]

    Returns
    -------
    Lines
        The lines, by the roots of their weights; what is wanted of a trace element counts
        its share.

    Examples
    --------
    >>> from formulate.recipes.requirement import Requirement
    >>> facts = {"low": 5.0, "high": 5.0, "scale": 5.0, "origin": "target"}
    >>> rows = [Requirement(key, (10.0,), key=key, **facts) for key in ("K", "B")]
    >>> sum_lines(rows, 1).matrix.ravel().round(6).tolist()
    [2.0, 0.1]
    """
    wanted = [row for row in rows if row.kind == WANTED and row.weight > 0]
    factors = [_in_sum(row) * math.sqrt(row.weight) / row.scale for row in wanted]
    return lines_of(wanted, count, factors)


def _in_sum(row):
    """Return how often a row counts in a sum of deviations."""
    is_trace = row.origin == TARGET and nutrient(row.key).group == MICRO
    return trace_share() if is_trace else 1.0


def trace_share():
    """
    Return how much a trace element counts of a macronutrient where few are chosen.

    Returns
    -------
    float
        The share. [-]

    Examples
    --------
    >>> trace_share()
    0.05
    """
    return recipe_rule("trace in a choice").number("high") / 100


def reached_lines(rows, reached):
    """
    Return the relative lines, each wide enough to hold what is reached already.

    Parameters
    ----------
    rows : sequence of Requirement
        The rows.
    reached : ndarray, shape (n,)
        Amounts per litre of the recipe that is as near as can be. [g/L]

    Returns
    -------
    Lines
        The lines, those that keep an ion low among them.

    Examples
    --------
    >>> from formulate.recipes.requirement import Requirement
    >>> row = Requirement("K", (10.0,), 5.0, 5.0, scale=5.0)
    >>> reached_lines([row], np.array([1.0])).high
    array([2.])
    """
    lines = relative_lines(rows, len(reached), kept_low=True)
    values = lines.matrix @ reached
    low, high = np.minimum(lines.low, values), np.maximum(lines.high, values)
    return replace(lines, low=low, high=high)


def squared_misses(rows, amounts):
    """
    Return the weighted sum of squared deviations of the wanted rows.

    Parameters
    ----------
    rows : sequence of Requirement
        The rows.
    amounts : ndarray, shape (n,)
        Amounts per litre. [g/L]

    Returns
    -------
    float
        The sum. [-]

    Examples
    --------
    >>> from formulate.recipes.requirement import Requirement
    >>> row = Requirement("K", (10.0,), 5.0, 5.0, scale=5.0)
    >>> squared_misses([row], np.array([1.0]))
    1.0
    """
    wanted = [row for row in bands.own_rows(rows) if row.kind == WANTED]
    return float((lines_of(wanted, len(amounts)).distances(amounts) ** 2).sum())


def own_rows(recipe, places):
    """
    Return the rows that neither target nor shelf made, over some of the ingredients.

    Parameters
    ----------
    recipe : Recipe
        The recipe.
    places : sequence of int
        Places of the ingredients that stay. [-]

    Returns
    -------
    tuple of Requirement
        The rows, without those about amounts of what does not stay.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> facts = {"volume": 10, "amounts": {"KNO3": "at most 2 g"}}
    >>> recipe = solve(target({"K": 200}), ["KNO3", "KCl"], **facts)
    >>> [row.name for row in own_rows(recipe, [0])], own_rows(recipe, [1])
    (['amount of KNO3 at most 2 g'], ())
    """
    gone = {i.name for j, i in enumerate(recipe.ingredients) if j not in set(places)}
    return tuple(
        over_some(row, places)
        for row in Problem.of(recipe).own_rows
        if row.origin != "amount" or row.limit.subject not in gone
    )


def bare(recipe):
    """
    Return a recipe without the rows that held it at a cost and within bands.

    Parameters
    ----------
    recipe : Recipe
        A recipe, perhaps the cheapest.

    Returns
    -------
    Recipe
        The same amounts, with what the target asks for.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.cheapest import cheapest
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), [salt("KNO3", price_per_kg=2.0)], volume=10)
    >>> [row.name for row in bare(cheapest(recipe).recipe).requirements]
    ['K 200.0 mg/L']
    """
    rows = bands.own_rows(recipe.requirements)
    return recipe if rows == recipe.requirements else replace(recipe, requirements=rows)


def over_some(row, places):
    """
    Return a row over some of its ingredients.

    Parameters
    ----------
    row : Requirement
        The row.
    places : sequence of int
        Their places. [-]

    Returns
    -------
    Requirement
        The row.

    Examples
    --------
    >>> from formulate.recipes.requirement import Requirement
    >>> over_some(Requirement("K", (10.0, 5.0), 5.0, 5.0), [1]).coefficients
    (5.0,)
    """
    coefficients = tuple(row.coefficients[place] for place in places)
    below = tuple(row.below[place] for place in (*places, -1)) if row.below else ()
    return replace(row, coefficients=coefficients, below=below)


# --- what is asked -----------------------------------------------------------------------


def check_recipe(recipe, where):
    """
    Raise if something is no recipe.

    Parameters
    ----------
    recipe : object
        What was given.
    where : str
        What is being done.

    Raises
    ------
    InputError
        If it is none.

    Examples
    --------
    >>> check_recipe(3, "few_bags")
    Traceback (most recent call last):
        ...
    formulate.errors.InputError: few_bags: '3' is no recipe; solve makes one
    """
    if not isinstance(recipe, Recipe):
        raise InputError(f"{where}: {shortened(recipe)} is no recipe; solve makes one")


def check_objective(objective, known, reasons=None):
    """
    Raise if an objective is none of those that there are.

    Parameters
    ----------
    objective : object
        What was given.
    known : sequence of str
        Those that there are.
    reasons : mapping of str to str, or None
        Why others are not there.

    Raises
    ------
    InputError
        If it is none of them.

    Examples
    --------
    >>> check_objective("best", ("sum", "worst"))
    Traceback (most recent call last):
        ...
    formulate.errors.InputError: objective 'best': use "sum" or "worst"
    """
    if not isinstance(objective, str) or objective not in known:
        words = " or ".join(f'"{name}"' for name in known)
        why = (reasons or {}).get(objective) if isinstance(objective, str) else None
        why = f"; {why}" if why else ""
        raise InputError(f"objective {shortened(objective)}: use {words}{why}")


def check_prices(recipe):
    """
    Raise with the name of every ingredient that has no price.

    Parameters
    ----------
    recipe : Recipe
        The recipe.

    Raises
    ------
    InputError
        If any has none.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> check_prices(solve(target({"K": 200}), ["KNO3"], volume=10))
    Traceback (most recent call last):
        ...
    formulate.errors.InputError: no price for KNO3: the least cost cannot be told
    """
    lacking = [i.name for i in recipe.ingredients if i.price is None]
    if lacking:
        raise InputError(
            f"no price for {', '.join(lacking)}: the least cost cannot be told"
        )


def checked_most(most):
    """
    Return how many ingredients there may be, if it is a whole number from 1 up.

    Parameters
    ----------
    most : int
        The number. [-]

    Returns
    -------
    int
        The same. [-]

    Raises
    ------
    InputError
        If it is none.

    Examples
    --------
    >>> checked_most(6)
    6
    """
    number = checked_number(most, "most ingredients", least=1)
    if number != int(number):
        raise InputError(f"most ingredients: {number:g} is no whole number")
    return int(number)


def checked_share(within):
    """
    Return the share by which a wanted value may be missed.

    Parameters
    ----------
    within : float or None
        The share; None for the rule on misses. [-]

    Returns
    -------
    float
        The share. [-]

    Raises
    ------
    InputError
        If it is none.

    Examples
    --------
    >>> checked_share(None)
    0.05
    """
    if within is None:
        return recipe_rule("miss").number("high") / 100
    return checked_number(within, "within (a share: 0.05 is 5 %)", least=0, most=1)


def checked_time(time_limit):
    """
    Return how long may be looked, if it is a time or None.

    Parameters
    ----------
    time_limit : float or None
        The time. [s]

    Returns
    -------
    float or None
        The same. [s]

    Raises
    ------
    InputError
        If it is none.

    Examples
    --------
    >>> checked_time(1)
    1.0
    """
    if time_limit is None:
        return None
    return checked_number(time_limit, "time limit in s", above=0)
