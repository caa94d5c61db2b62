"""The steps in which the ingredients of a recipe are weighed or measured."""

from collections.abc import Mapping

from formulate.checks import checked_number
from formulate.errors import Faults, InputError, shortened
from formulate.notices import Notice
from formulate.recipes.recipe import Recipe
from formulate.recipes.trace_stocks import measuring_step
from formulate.stoichiometry.quantities import read_quantity
from formulate.tables import recipe_rule
from formulate.working import printed

__all__ = ["checked_steps", "few_steps", "small_amounts"]


def checked_steps(recipe, steps, where="weigh"):
    """
    Return the step of each ingredient used, by name, where one is known.

    Parameters
    ----------
    recipe : Recipe
        The exact recipe.
    steps : mapping of str to float or str, or None
        As in `weigh`. [g]
    where : str
        What is being done, for messages.

    Returns
    -------
    dict of str to float
        Name to step; also of what is not used, if one was given for it. [g]

    Raises
    ------
    InputError
        With every fault.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> checked_steps(recipe, {"KNO3": "500 mg"})
    {'KNO3': 0.5}
    """
    faults, given = Faults(where), {}
    if not isinstance(recipe, Recipe):
        raise InputError(f"{where}: {shortened(recipe)} is no recipe; solve makes one")
    if steps is not None and not isinstance(steps, Mapping):
        raise InputError(f"{where}: steps: give a mapping such as {{'KNO3': '0.1 g'}}")
    shelf = {ingredient.name: ingredient for ingredient in recipe.ingredients}
    for name, step in (steps or {}).items():
        with faults.collecting(f"step of {shortened(name)[1:-1]}"):
            if name not in shelf:
                raise InputError(f"not in the recipe; it may use {', '.join(shelf)}")
            given[name] = _read_step(shelf[name], step)
    own = {i.name: _own_step(i, amount) for i, amount in recipe.amounts}
    found = {name: step for name, step in (own | given).items() if step}
    for name, step in found.items():
        with faults.collecting(f"step of {name}"):
            _check_size(recipe, shelf[name], step)
    faults.raise_if_any()
    return found


def _own_step(ingredient, amount):
    """Return an ingredient's own step, or that of a measure for a liquid; or None."""
    if ingredient.weighing_step:
        return ingredient.weighing_step
    if ingredient.measured_in == "mL":
        return measuring_step(amount)
    if ingredient.density:
        poured = ingredient.millilitres(amount)
        return ingredient.amount_measured(measuring_step(poured), "mL")
    return None


def _read_step(ingredient, step):
    """Return a step in grams, or mL of a stock."""
    if isinstance(step, str):
        in_unit = ingredient.measured_in
        value, of_unit = read_quantity(step, "mass", "volume", default=in_unit)
        step = ingredient.amount_measured(value, of_unit)
    return checked_number(step, f"step in {ingredient.measured_in}", above=0)


def _check_size(recipe, ingredient, step):
    """Raise if a step is larger than anything the batch could need."""
    in_unit = ingredient.measured_in
    whole = sum(amount for _, amount in recipe.amounts)
    if whole and step > whole:
        what = f"{printed(step)} {in_unit} is more than the {printed(whole)} {in_unit}"
        raise InputError(f"{what} of all ingredients together; take a finer one")
    if step >= 1000 * recipe.volume:
        what = f"{printed(step)} {in_unit} is no less than the batch of"
        raise InputError(f"{what} {recipe.volume:g} L itself; take a finer one")


def small_amounts(recipe, steps):
    """
    Return the solids that weigh fewer of their steps than the rule asks.

    Parameters
    ----------
    recipe : Recipe
        The exact recipe.
    steps : mapping of str to float
        Name to step. [g]

    Returns
    -------
    tuple of (Ingredient, float)
        Each with what the batch needs. [g]

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200, "B": 0.5}), ["KNO3", "H3BO3"], volume=10)
    >>> [i.name for i, _ in small_amounts(recipe, {"KNO3": 0.1, "H3BO3": 0.01})]
    ['H3BO3']
    """
    few = recipe_rule("few steps").number("low")
    return tuple(
        (one, amount)
        for one, amount in recipe.amounts
        if one.name in steps and not one.is_liquid and amount < few * steps[one.name]
    )


def few_steps(number):
    """
    Yield what weighs so few of its steps that the balance decides.

    Parameters
    ----------
    number : mapping of str to float
        Name to steps. [-]

    Yields
    ------
    Notice
        One at most, with all names.

    Examples
    --------
    >>> [notice.what for notice in few_steps({"KNO3": 50, "H3BO3": 3})]
    ['under 20 steps: H3BO3 (± 17 %); better by a stock']
    """
    few = recipe_rule("few steps")
    small = [
        f"{name} (± {printed(50 / steps, 2)} %)"
        for name, steps in number.items()
        if 0 < steps < few.number("low")
    ]
    if small:
        what = (
            f"under {few.number('low'):g} steps: {', '.join(small)}; better by a stock"
        )
        yield Notice(what, "caution", None, few.number("low"), few["source_key"])
