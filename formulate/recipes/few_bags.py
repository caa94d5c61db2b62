"""Few bags: the best recipe of so many ingredients at most, and what doing without costs.

An integer programme chooses the ingredients by a plain objective, and proves the choice.
Their weights are those of the nearest recipe; only the cheapest keeps to its cost.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from formulate.errors import Faults, Infeasible, NoConvergence
from formulate.notices import Notice, gravest_first
from formulate.recipes.aims import (
    METERED,
    bare,
    check_objective,
    check_prices,
    check_recipe,
    checked_most,
    checked_share,
    checked_time,
    own_rows,
)
from formulate.recipes.few_choice import COST, SUM, WORST, Choice, chosen_few
from formulate.recipes.few_cost import cost_rows
from formulate.recipes.few_pick import Picker
from formulate.recipes.few_price import TRACES, WORDS, FewPrice, shown
from formulate.recipes.recipe import Recipe
from formulate.recipes.solve import solve
from formulate.working import Shown

__all__ = ["FewBags", "few_bags"]

OBJECTIVES = (SUM, WORST, COST)
TRIES = 5
SLACKS = (1e-6, 1e-4, 2e-3)  # share of the least cost, where lines leave less no room


@dataclass(frozen=True, eq=False)
class FewBags(Shown):
    """
    A recipe of few ingredients, the best of its kind.

    Attributes
    ----------
    before : Recipe
        The nearest recipe with every ingredient of the shelf.
    recipe : Recipe
        The recipe with the chosen ones alone.
    chosen : tuple of str
        The ingredients that the programme chose.
    most : int
        How many there might have been. [-]
    objective : str
        "sum", "worst" or "cost": what chose them.
    value : float
        What was to be least: sum of weighted relative deviations, in which 1 is one
        macronutrient that is lacking; worst relative deviation; or cost of the batch; at
        the programme's own amounts. [-]
    bound : float
        What no choice lies below. [-]
    proven : bool
        Whether no other choice is better.
    without : float
        The value with every ingredient allowed; of a cost within the same bands. [-]
    told : tuple of Notice
        What to know about the choice.
    """

    before: Recipe
    recipe: Recipe
    chosen: tuple
    most: int
    objective: str
    value: float
    bound: float
    proven: bool
    without: float
    told: tuple = ()

    @property
    def gap(self):
        """Return how much better another choice might be, as a share of the value. [-]"""
        if self.proven or self.value <= self.bound:
            return 0.0
        return (self.value - self.bound) / abs(self.value)

    @cached_property
    def price(self):
        """Return what doing without the others costs."""
        facts = (self.objective, self.without, self.value, self.before, self.recipe)
        return FewPrice(*facts)

    @cached_property
    def notices(self):
        """Return what to know about choice and recipe, the gravest first."""
        return gravest_first((*self.told, *self.recipe.notices))

    @property
    def head(self):
        """Return how many were taken of how many there might be, in words."""
        number, of = len(self.chosen), f"of at most {self.most}"
        return f"{number} ingredient{'' if number == 1 else 's'} {of}"

    def __str__(self):
        sure = "proven" if self.proven else f"not proven, gap {100 * self.gap:.2g} %"
        has = f"{WORDS[self.objective]} {shown(self.value, self.objective)} ({sure})"
        told = [str(notice) for notice in self.told]
        lines = [f"{self.head}: {has}", str(self.price), *told, str(self.recipe)]
        return "\n".join(lines)


def few_bags(recipe, *, most=6, objective="sum", within=None, time_limit=None):
    """
    Return the best recipe of so many ingredients at most.

    The objective chooses the ingredients, over all sets there are; within the chosen ones
    the weights are those of the nearest recipe (least squares), as `solve` finds them. The
    cheapest recipe keeps its cost: its weights are the nearest among the equally cheap.
    Priorities of the target count for the weights, not for the choice.

    Parameters
    ----------
    recipe : Recipe
        The recipe with the whole shelf.
    most : int
        How many ingredients, at most; one that must be taken counts. [-]
    objective : str
        What is least: "sum" of weighted relative deviations, what is kept low included;
        "worst" relative deviation of what the shelf can bring, and then the sum; or
        "cost" with every wanted value within a share. In a sum macronutrients come first:
        a trace element counts a twentieth, since a crop shows the lack of a macronutrient
        first and a trace is easily bought in a mix.
    within : float or None
        Share by which a wanted value may be missed by the cheapest recipe, as `cheapest`
        holds it: wider only where the shelf cannot do better; None for 0.05. [-]
    time_limit : float or None
        How long the search may take; what is found by then stands, not proven. [s]

    Returns
    -------
    FewBags
        Recipe, choice, and what doing without the others costs.

    Raises
    ------
    InputError
        With every fault of what was asked.
    Infeasible
        If so few cannot keep all that must hold; it names how many can.
    NoConvergence
        If nothing was found in time.

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> shelf = ["KNO3", "Ca(NO3)2·4H2O", "KH2PO4", "KCl"]
    >>> feed = target({"NO3-N": 210, "K": 235, "P": 31})
    >>> few = few_bags(solve(feed, shelf, volume=100), most=2)
    >>> few.chosen, few.proven, round(few.value, 3)
    (('KNO3', 'KH2PO4'), True, 0.666)
    """
    check_recipe(recipe, "few_bags")
    faults = Faults()
    with faults.collecting():
        most = checked_most(most)
    with faults.collecting():
        check_objective(objective, OBJECTIVES)
    with faults.collecting():
        within = checked_share(within)
    with faults.collecting():
        time_limit = checked_time(time_limit)
    if objective == COST:
        with faults.collecting():
            check_prices(recipe)
    faults.raise_if_any()
    picker = Picker(bare(recipe), most, objective, within, time_limit)
    for _ in range(TRIES):
        try:
            rows = picker.settled()
        except NoConvergence:
            if not picker.seen:
                raise
            break
        try:
            few = _weighed(picker, rows)
        except (Infeasible, NoConvergence) as error:  # no room left for the digits
            picker.leave_out(error)
            continue
        return _result(picker, few, rows, picker.is_proven)
    rows = picker.recipe.requirements
    return _result(picker, _best_seen(picker, rows), rows, False)


def _best_seen(picker, rows):
    """Return the best recipe of the sets that were chosen on the way, none being settled."""
    task, found, why = picker.task(rows), [], picker.last_error
    for choice in picker.seen:
        picker.take(choice)
        try:
            made = _weighed(picker, rows)
        except (Infeasible, NoConvergence) as error:
            why = error
            continue
        amounts = _over_all(picker, made)
        found.append((task.value(amounts), amounts, made))
    if not found:
        raise why
    value, amounts, made = min(found, key=lambda one: one[0])
    picker.take(Choice(amounts, value, 0.0, False))
    return made


def _over_all(picker, few):
    """Return the amounts of a recipe of the chosen ones over the whole shelf. [g/L]"""
    has = {i.name: amount for i, amount in few.amounts}
    shelf = picker.recipe.ingredients
    return np.array([has.get(i.name, 0.0) for i in shelf]) / few.volume


def _weighed(picker, rows):
    """Return the recipe of the chosen ingredients alone."""
    recipe, places = picker.recipe, _shelf_of(picker)
    facts = {"volume": recipe.volume, "water": recipe.water}
    shelf, own = [recipe.ingredients[j] for j in places], own_rows(recipe, places)
    if picker.objective != COST:
        made = solve(recipe.target, shelf, requirements=own, **facts)
        return replace(made, of_few=True)
    for slack in SLACKS:
        held = picker.bands(rows)[0]
        least = cost_rows(recipe, places, picker.choice.value, held, slack)
        try:
            made = solve(recipe.target, shelf, requirements=(*own, *least), **facts)
            return replace(made, of_few=True)
        except (Infeasible, NoConvergence) as error:
            why = error
    raise why


def _shelf_of(picker):
    """Return the chosen places; a shelf is never empty, whatever is of use."""
    used = np.flatnonzero(picker.recipe.optimum.amounts).tolist()
    return picker.choice.places or tuple(used[:1]) or (0,)


def _result(picker, few, rows, is_proven):
    """Return what was found, with what to know about it."""
    recipe, choice = picker.recipe, picker.choice
    everything = chosen_few(picker.task(rows), None)
    batch = recipe.volume if picker.objective == COST else 1.0
    without = choice.value if everything is None else everything.value
    chosen = tuple(recipe.ingredients[place].name for place in choice.places)
    return FewBags(
        recipe,
        few,
        chosen,
        picker.most,
        picker.objective,
        choice.value * batch,
        choice.bound * batch,
        is_proven,
        min(without, choice.value) * batch,
        tuple(_told(picker, rows, is_proven)),
    )


def _told(picker, rows, is_proven):
    """Yield which objective chose and which weighed, and what is not sure."""
    words, count = WORDS[picker.objective], len(picker.recipe.ingredients)
    if picker.objective == COST:
        yield Notice(
            f"chosen and weighed for {words}, every wanted value within "
            f"{100 * picker.within:g} %; nearest among the equally cheap"
        )
        yield from picker.bands(rows)[1]
    else:
        yield Notice(
            f"chosen for the {words} ({TRACES}); weighed for the least sum of weighted "
            "squares"
        )
    if any(held.is_metered for held in picker.recipe.target.limits):
        yield Notice(METERED)
    if picker.recipe.target.priorities:
        yield Notice("priorities count for the weights, not for the choice")
    if picker.most >= count:
        yield Notice(f"the shelf holds {count}, so nothing was restricted")
    if not is_proven:
        yield Notice("another choice may be better: this one is not proven", "caution")
