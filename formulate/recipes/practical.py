"""Practical weights: what a balance can show, what that costs, and stocks for traces.

Every amount becomes a whole number of steps of its balance or measure, chosen so that the
wanted values are missed least and hard rows stay kept.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

import numpy as np

from formulate.ingredients.dissolve import dissolve
from formulate.notices import Notice, gravest_first
from formulate.recipes.recipe import Recipe
from formulate.recipes.recipe_working import recipe_working
from formulate.recipes.remarks import harm
from formulate.recipes.rounding import KEPT, plan_rounding, whole_steps
from formulate.recipes.trace_stocks import propose_stocks
from formulate.recipes.weighing_steps import checked_steps, few_steps
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import recipe_rule
from formulate.working import Shown, printed, printed_mg_l, printed_percent

__all__ = ["Weighing", "rounding_changes", "weigh"]

DIGITS = 10  # decimals of a weight; beyond them is rounding


@dataclass(frozen=True, eq=False)
class Weighing(Shown):
    """
    What the balance is to show for a batch, and what that makes.

    That a
    stock or the batch is made up to its mark exactly is taken for granted.

    Equation of what a balance leaves open [jcgm-100]::

        w ± d/2        d step of the balance or measure

    Attributes
    ----------
    recipe : Recipe
        The exact recipe.
    amounts : tuple of (Ingredient, float)
        Each ingredient with its grams, or millilitres of a stock, as weighed. [g]
    steps : mapping of str to float
        Name to the step in which it is weighed or measured, a stock's dose included. [g]
    stocks : tuple of TraceStock
        Stocks that take the place of traces.
    notices : tuple of Notice
        What to know about the weights, the gravest first; those of the stocks
        among them; those of the recipe stay there.
    """

    recipe: Recipe
    amounts: tuple
    steps: Mapping
    stocks: tuple = ()
    notices: tuple = ()

    def __post_init__(self):
        object.__setattr__(self, "steps", MappingProxyType(dict(self.steps)))

    @property
    def target(self):
        """Return what was wanted."""
        return self.recipe.target

    @property
    def water(self):
        """Return the water."""
        return self.recipe.water

    @property
    def volume(self):
        """Return the final made-up volume. [L]"""
        return self.recipe.volume

    @cached_property
    def solution(self):
        """Return the solution that the printed weights make. [mmol/L]"""
        return dissolve(dict(self.amounts), volume=self.volume, water=self.water)

    @property
    def cost(self):
        """Return the cost of the batch, or None if a price is missing. [currency]"""
        costs = [ingredient.cost(amount) for ingredient, amount in self.amounts]
        return None if None in costs else sum(costs)

    def errors(self):
        """
        Return how far each ingredient may be off, either way, by its step.

        Returns
        -------
        tuple of tuple
            (name, amount, step, ± percent); step and percent are None where no step is
            known. [g]

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
        >>> [(name, grams, step, round(off, 2)) for name, grams, step, off in
        ...  weigh(recipe).errors()]
        [('KNO3', 5.2, 0.1, 0.96)]
        """
        found = []
        for ingredient, amount in self.amounts:
            step = self.steps.get(ingredient.name)
            off = 50 * step / amount if step else None
            found.append((ingredient.name, amount, step, off))
        return tuple(found)

    def rows(self):
        """
        Return what rounding changes of each nutrient, and what the steps leave open.

        Returns
        -------
        tuple of tuple
            (key, exact mg/L, weighed mg/L, change in percent, ± percent if every error
            goes the same way, ± percent as the root of the sum of squares); percentages
            are None where there is nothing to relate them to. [mg/L]

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
        >>> [round(value, 2) for value in weigh(recipe).rows()[0][1:]]
        [200.0, 201.09, 0.55, 0.96, 0.96]
        """
        found = []
        for key in self._keys():
            exact, has = (one.solution.mg_l(key) for one in (self.recipe, self))
            change = 100 * (has / exact - 1) if exact else None
            off = [100 * e / has for e in self._open(key)] if has else []
            worst, likely = (sum(off), math.hypot(*off)) if has else (None, None)
            found.append((key, exact, has, change, worst, likely))
        return tuple(found)

    def _keys(self):
        """Return the nutrients to show: those wanted, then what comes along."""
        wanted = [key for key in self.target.wanted if key != "N"]
        named = {part for key in wanted for part in nutrient(key).weights}
        rows = self.recipe.solution.rows()
        free = [key for key, mass, _ in rows if mass > 0 and key != "C"]
        along = [key for key in free if not named & set(nutrient(key).weights)]
        return (*self.target.wanted, *along)

    def _open(self, key):
        """Yield what half a step of each weight and each dose makes of a nutrient. [mg/L]"""
        to_mg_l = nutrient(key).molar_mass / self.volume
        for ingredient, _ in self.amounts:
            half = self.steps.get(ingredient.name, 0.0) / 2
            yield ingredient.amount(key) * half * to_mg_l
        for made in self.stocks:
            for part, _ in made.parts:
                half = made.steps[part.name] / 2 / made.batches
                yield part.amount(key) * half * to_mg_l

    def working(self, key):
        """
        Return the arithmetic of one nutrient from the weights as printed.

        Parameters
        ----------
        key : str
            Nutrient key.

        Returns
        -------
        Working
            What a gram of each ingredient holds, what the batch gets, and the sum.

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> print(weigh(solve(target({"K": 200}), ["KNO3"], volume=10)).working("K"))
        K in the recipe: 200.0 mg/L wanted
          1. K in 1 g of KNO3: 1 mol/mol × 39.0983 g/mol ÷ 101.102 g/mol × 1000 mg/g \
= 386.72 mg/g  [stoichiometry]
          2. from KNO3: 5.2 g ÷ 10 L × 386.72 mg/g = 201.09 mg/L
        """
        return recipe_working(self, nutrient(key))

    def to_frame(self):
        """
        Return what rounding changes of each nutrient as a table.

        Returns
        -------
        pandas.DataFrame
            One row per nutrient; "exact" and "weighed" in mg/L, the rest in percent.
            [mg/L]

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> weigh(solve(target({"K": 200}), ["KNO3"], volume=10)).to_frame().loc["K"].round(2).tolist()
        [200.0, 201.09, 0.55, 0.96, 0.96]
        """
        import pandas

        columns = ["exact", "weighed", "change", "± at worst", "± root of squares"]
        return pandas.DataFrame.from_dict(
            {row[0]: row[1:] for row in self.rows()}, orient="index", columns=columns
        )

    def __str__(self):
        lines = [f"for {self.volume:.6g} L, as the balance shows it"]
        units = {ingredient.name: ingredient for ingredient, _ in self.amounts}
        for name, amount, step, off in self.errors():
            ingredient = units[name]
            poured = ingredient.millilitres(amount) if ingredient.density else 0.0
            also = f"  ({printed(poured)} mL)" if poured else ""
            spread = "no step known" if step is None else f"± {printed(off, 2)} %"
            shown = f"{amount:.10g}" if step else printed(amount)
            lines.append(f"{shown:>9} {ingredient.measured_in} {name}{also}  {spread}")
        lines.append(f"{'':>9} {'exact':>8} {'weighed':>8}  mg/L")
        for key, exact, has, change, worst, likely in self.rows():
            moved = "" if change is None else printed_percent(change)
            left = "" if worst is None else f"± {printed(likely, 2)} %"
            most = "" if worst is None else f" (at worst ± {printed(worst, 2)} %)"
            numbers = f"{printed_mg_l(exact):>8} {printed_mg_l(has):>8}"
            lines.append(f"{key:>9} {numbers}  {moved}  {left}{most}".rstrip())
        lines += [line for made in self.stocks for line in made.lines]
        return "\n".join([*lines, *map(str, self.notices)])


def weigh(recipe, *, steps=None, stocks=False):
    """
    Return a recipe as a balance can weigh it.

    Solids are rounded to the steps of their balance, liquids to those of their measure; a
    stock without a step of its own is measured by syringe, cylinder or jug. Hard rows stay
    kept wherever some rounding near the recipe keeps them.

    Parameters
    ----------
    recipe : Recipe
        The exact recipe.
    steps : mapping of str to float or str, or None
        Name to a step that takes the place of the ingredient's own: a number is grams
        (millilitres of a stock), text may say "0.5 g" or "1 mL". [g]
    stocks : bool
        Whether stocks are proposed for what weighs under 20 of its steps.

    Returns
    -------
    Weighing
        Weights in whole steps, what they make, what rounding costs, and what to know.

    Raises
    ------
    InputError
        With every fault: names that are not on the shelf, steps that are none or larger
        than all that is weighed.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200, "B": 0.5}), ["KNO3", "H3BO3"], volume=10)
    >>> {i.name: grams for i, grams in weigh(recipe).amounts}
    {'KNO3': 5.2, 'H3BO3': 0.03}
    >>> made = weigh(recipe, stocks=True)
    >>> {i.name: amount for i, amount in made.amounts}
    {'KNO3': 5.2, 'trace stock 1': 10.0}
    """
    known = checked_steps(recipe, steps)
    made, left = (), ()
    if stocks:
        few = recipe_rule("few steps").number("low")
        taken = {i.name for i in recipe.ingredients}
        small = tuple((i, a) for i, a in recipe.amounts if _is_small(i, a, known, few))
        made, left = propose_stocks(
            small, volume=recipe.volume, steps=known, taken=taken
        )
    plan = plan_rounding(recipe, known, made)
    counts = whole_steps(plan)
    made = tuple(_restocked(one, plan, counts) for one in made)
    weighed = _weighed(recipe, plan, counts, made)
    all_steps = {i.name: known[i.name] for i, _ in weighed if i.name in known}
    all_steps |= {one.ingredient.name: one.dose_step for one in made}
    bare = Weighing(recipe, weighed, all_steps, made)
    told = (*left, *harm(bare), *_told(bare, plan, counts, known))
    of_stocks = [notice for one in made for notice in one.notices]
    told = gravest_first((*told, *rounding_changes(bare), *of_stocks))
    return Weighing(recipe, weighed, all_steps, made, told)


def _is_small(ingredient, amount, steps, few):
    """Return whether a solid weighs fewer of its steps than the rule asks."""
    step = steps.get(ingredient.name)
    return bool(step) and not ingredient.is_liquid and amount < few * step


# --- the result ------------------------------------------------------------------------


def _restocked(made, plan, counts):
    """Return a stock with its parts at the whole steps that were found."""
    steps = dict(zip(plan.names, counts.tolist(), strict=True))
    grams = {
        name: round(steps[name] * step, DIGITS) for name, step in made.steps.items()
    }
    return made.reweighed(grams)


def _weighed(recipe, plan, counts, made):
    """Return (ingredient, amount) of what is weighed or poured, stocks last."""
    whole = dict(zip(plan.names, (counts * plan.sizes).tolist(), strict=True))
    dissolved = {name for one in made for name in one.steps}
    kept = [
        (i, round(whole.get(i.name, amount), DIGITS) if i.name in whole else amount)
        for i, amount in recipe.amounts
        if i.name not in dissolved
    ]
    doses = [(one.ingredient, one.dose) for one in made]
    return tuple((i, amount) for i, amount in (*kept, *doses) if amount > 0)


def _told(weighing, plan, counts, steps):
    """Yield broken rows, what rounds to nothing, what has no step, what is too little."""
    recipe, values = weighing.recipe, plan.values(counts)
    yield from _moved_meters(weighing)
    for place in np.flatnonzero(plan.is_hard & (plan.distances(values) > KEPT)):
        row, value = recipe.requirements[place], float(values[place])
        if row.origin == "within" or (row.limit and row.limit.is_metered):
            continue  # a band is judged by what is reached; pH and EC are read anew
        limit = row.low if value < row.low else row.high
        broken = f"broken by {printed(abs(value - limit), 3)} {row.unit}".strip()
        if row.limit is not None and row.origin != "amount":
            has = row.limit.value(weighing.solution)
            broken = f"here {printed(has)} {row.limit.unit}".strip()
        what = (
            f"{row.name}: no whole steps near the recipe keep it; {broken}; use a finer "
            "balance or a stock"
        )
        yield Notice(what, "serious", value, limit)
    number = dict(zip(plan.names, counts.tolist(), strict=True))
    for ingredient, amount in recipe.amounts:
        name, in_unit = ingredient.name, ingredient.measured_in
        if name not in steps:
            what = f"{name}: no weighing step is known, so it is left as it is"
            yield Notice(f"{what}; give steps={{'{name}': ...}}")
        elif number[name] == 0:
            exact = f"{printed(amount, 3)} {in_unit}"
            step = f"{steps[name]:.10g} {in_unit}"
            what = f"{name}: {exact} rounds to nothing in steps of {step}; dose a stock"
            yield Notice(what, "caution", amount, steps[name])
    yield from few_steps({name: number[name] for name in steps if name in number})


def _moved_meters(weighing):
    """Yield a pH and an EC among the limits that whole steps move beyond the rules."""
    for held in (held for held in weighing.target.limits if held.is_metered):
        has = held.value(weighing.solution)
        off = max(held.low - has, has - held.high)
        if off > _most_moved(held):
            asked = " and ".join(held.named(side) for side in held.sides)
            comes = f"{asked}: in whole steps it comes to {printed(has, 3)} {held.unit}"
            what = f"{comes.rstrip()}; take a finer balance, or correct it by the meter"
            yield Notice(what, "caution", has, held.low)


def _most_moved(held):
    """Return by how much rounding may move a pH or an EC untold."""
    if held.subject != "EC":
        return recipe_rule("moved pH").number("high")
    ends = [end for end in (held.low, held.high) if math.isfinite(end)]
    return recipe_rule("moved EC").number("high") / 100 * max(ends)


def rounding_changes(weighing):
    """
    Yield each wanted value that rounding moves by more than the rule on misses.

    Parameters
    ----------
    weighing : Weighing
        The weights.

    Yields
    ------
    Notice
        What it was, what it is.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> made = weigh(solve(target({"K": 200}), ["KNO3"], volume=10), steps={"KNO3": 4})
    >>> [notice.what for notice in rounding_changes(made)]
    ['K: rounding makes 154.7 mg/L of 200.0 (-22.7 %)']
    """
    limit = recipe_rule("miss").number("high")
    for key, exact, has, change, *_ in weighing.rows():
        if key in weighing.target.wanted and change and abs(change) > limit:
            what = (
                f"{key}: rounding makes {printed_mg_l(has)} mg/L of "
                f"{printed_mg_l(exact)} ({printed_percent(change)})"
            )
            yield Notice(what, "caution", change, limit)
