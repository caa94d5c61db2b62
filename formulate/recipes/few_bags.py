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
    check_objective,
    check_prices,
    check_recipe,
    checked_most,
    checked_share,
    checked_time,
    own_rows,
    reached_lines,
    relative_lines,
)
from formulate.recipes.few_choice import (
    COST,
    SUM,
    WORST,
    Choice,
    Task,
    chosen_few,
    fewest,
)
from formulate.recipes.few_cost import cost_rows
from formulate.recipes.few_price import WORDS, FewPrice, shown
from formulate.recipes.programme import Budget, held_lines, lines_of, stacked
from formulate.recipes.recipe import Recipe
from formulate.recipes.requirement import HARD, WANTED
from formulate.recipes.settling import settled
from formulate.recipes.solve import solve
from formulate.working import Shown

__all__ = ["FewBags", "few_bags"]

OBJECTIVES = (SUM, WORST, COST)
SAME = 1e-7  # share: what an objective may give when another is met
SOFT = 1000.0  # how often a pH or EC that cannot hold as drawn counts
SWINGS = 6  # how often the choice is made anew before it must stay
TRIES = 5


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
        What was to be least: sum of weighted relative deviations, worst relative
        deviation, or cost of the batch; at the programme's own amounts. [-]
    bound : float
        What no choice lies below. [-]
    proven : bool
        Whether no other choice is better.
    without : float
        The value with every ingredient allowed. [-]
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

    def __str__(self):
        sure = "proven" if self.proven else f"not proven, gap {100 * self.gap:.2g} %"
        is_one = len(self.chosen) == 1
        head = f"{len(self.chosen)} ingredient{'' if is_one else 's'} of at most {self.most}"
        has = f"{WORDS[self.objective]} {shown(self.value, self.objective)} ({sure})"
        told = [str(notice) for notice in self.told]
        return "\n".join([f"{head}: {has}", str(self.price), *told, str(self.recipe)])


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
        "cost" with every wanted value within a share.
    within : float or None
        Share by which a wanted value may be missed by the cheapest recipe, beyond what the
        recipe itself misses; None for the rule on misses, 0.05. [-]
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
    faults = Faults("few_bags")
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
    picker = _Picker(recipe, most, objective, within, time_limit)
    for _ in range(TRIES):
        try:
            amounts, rows, *_ = settled(recipe, picker)
        except NoConvergence:
            if not picker.seen:
                raise
            break
        if picker.is_kept:
            break
        try:
            few = _weighed(picker, amounts, rows)
        except (Infeasible, NoConvergence) as error:  # no room left for the digits
            picker.leave_out(error)
            continue
        return _result(picker, few, rows)
    return _result(picker, _best_seen(picker), recipe.requirements)


def _best_seen(picker):
    """Return the best recipe of the sets that were chosen on the way, none being settled."""
    recipe, best = picker.recipe, None
    rows, few = recipe.requirements, None
    task = picker.task(rows)
    for choice in picker.seen:
        picker.choice = choice
        try:
            made = _weighed(picker, choice.amounts, rows)
        except (Infeasible, NoConvergence) as error:
            picker.last_error = error
            continue
        amounts = np.zeros(len(recipe.ingredients))
        amounts[list(_shelf_of(picker))] = made.optimum.amounts
        value = task.value(amounts)
        if best is None or value < best.value:
            best, few = Choice(amounts, value, 0.0, False), made
    if best is None:
        raise picker.last_error
    picker.choice, picker.is_kept = best, True
    return few


class _Picker:
    """Chooses amounts for rows, and remembers the last choice."""

    def __init__(self, recipe, most, objective, within, time_limit):
        self.recipe, self.most, self.objective = recipe, most, objective
        self.within, self.budget = within, Budget(time_limit)
        self.without, self.last_error = [], None
        self.rows, self.choice, self.calls, self.is_kept = None, None, 0, False
        self.seen = []

    def __call__(self, rows):
        """Return the amounts of the best choice for these rows."""
        if rows != self.rows:
            self.calls += 1
            is_late = self.calls > SWINGS or (self.calls > 1 and self.budget.is_over)
            self.is_kept |= is_late
            keeps = self.choice.places if is_late else None
            self.choice, self.rows = self._chosen(rows, keeps), rows
            if not any(self.choice.places == one.places for one in self.seen):
                self.seen.append(self.choice)
        return self.choice.amounts

    def leave_out(self, error):
        """Do without the last choice, which the recipe could not keep."""
        self.without.append(set(self.choice.places))
        self.rows, self.calls, self.last_error = None, 0, error

    def task(self, rows):
        """Return what is to be least, and within what."""
        recipe, count = self.recipe, len(self.recipe.ingredients)
        held = held_lines(rows, count)
        if self.objective == WORST:
            return Task(WORST, relative_lines(rows, count), held)
        if self.objective == SUM:
            return self._sum(rows, held)
        near = reached_lines(rows, recipe.optimum.amounts).wider(self.within)
        prices = np.array([ingredient.cost(1.0) for ingredient in recipe.ingredients])
        return Task(COST, lines_of((), count), stacked(held, near), prices)

    def _sum(self, rows, held):
        """Return the task of the least sum."""
        wanted = [row for row in rows if row.kind == WANTED and row.weight > 0]
        return Task(SUM, lines_of(wanted, held.matrix.shape[1]), held)

    def _chosen(self, rows, keeps):
        """Return the best choice, of some places alone if these are to be kept."""
        task, best = self.task(rows), None
        facts = {"without": self.without, "only": keeps}
        for one in (task, self._softer(rows)):
            if best is None and one is not None:
                facts |= {"time_limit": self.budget.left}
                best = chosen_few(one, self.most, **facts)
                task = task if best is None else one
        if best is None:
            raise self._none(task)
        if self.objective != WORST:
            return best
        give = best.value * (1 + SAME) + SAME / 100
        held = stacked(task.held, task.wanted.wider(give))
        facts |= {"known": best.amounts, "time_limit": self.budget.left}
        rest = chosen_few(self._sum(rows, held), self.most, **facts)
        return best if rest is None else replace(best, amounts=rest.amounts)

    def _softer(self, rows):
        """Return the task with pH and EC wanted above all, or None if none is asked for.

        Lines drawn far away may forbid what pH and EC themselves allow; the next ones are
        drawn nearer, and the recipe keeps them.
        """
        soft = tuple(_softened(row) for row in rows)
        is_of_use = soft != rows and self.objective != COST
        return self.task(soft) if is_of_use else None

    def _none(self, task):
        """Return the error for no choice at all: none possible, or none in time."""
        if self.last_error is not None:
            return self.last_error
        least = fewest(task, self.budget.left)
        if least is None or least <= self.most or self.calls > 1:
            what = "no choice was found that keeps all that must hold"
            return NoConvergence(
                f"few_bags: {what}; give more time or more ingredients"
            )
        hard = [row.name for row in self.recipe.requirements if row.kind == HARD]
        band = f"every wanted value within {100 * self.within:g} %"
        what = ", ".join([*hard, *([band] if self.objective == COST else [])])
        text = f"few_bags: {self.most} ingredients cannot keep {what}; it takes {least}"
        return Infeasible(text, requirements=hard)


def _softened(row):
    """Return a hard row of a pH or an EC as one that is wanted above all."""
    if row.kind != HARD or row.limit is None or not row.limit.is_metered:
        return row
    size = max(map(abs, row.coefficients)) or 1.0
    return replace(row, kind=WANTED, scale=size / SOFT, weight=1.0)


def _weighed(picker, amounts, rows):
    """Return the recipe of the chosen ingredients alone."""
    recipe = picker.recipe
    places = _shelf_of(picker)
    facts = {"volume": recipe.volume, "water": recipe.water}
    shelf = [recipe.ingredients[place] for place in places]
    own = own_rows(recipe, places)
    if picker.objective == COST:
        own += cost_rows(recipe, places, amounts, rows, picker.within)
    return solve(recipe.target, shelf, requirements=own, **facts)


def _shelf_of(picker):
    """Return the chosen places; a shelf is never empty, whatever is of use."""
    used = np.flatnonzero(picker.recipe.optimum.amounts).tolist()
    return picker.choice.places or tuple(used[:1]) or (0,)


def _result(picker, few, rows):
    """Return what was found, with what to know about it."""
    recipe, choice, task = picker.recipe, picker.choice, picker.task(rows)
    everything = chosen_few(task, None)
    batch = recipe.volume if picker.objective == COST else 1.0
    is_proven = choice.is_proven and not picker.is_kept and not picker.without
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
        tuple(_told(picker, is_proven)),
    )


def _told(picker, is_proven):
    """Yield which objective chose and which weighed, and what is not sure."""
    words, count = WORDS[picker.objective], len(picker.recipe.ingredients)
    if picker.objective == COST:
        yield Notice(
            f"chosen and weighed for {words}, every wanted value within "
            f"{100 * picker.within:g} % of what is wanted or reached without the "
            "restriction; nearest among the equally cheap"
        )
    else:
        yield Notice(
            f"chosen for the {words}; weighed for the least sum of weighted squares"
        )
    if any(held.is_metered for held in picker.recipe.target.limits):
        yield Notice(METERED)
    if picker.recipe.target.priorities:
        yield Notice("priorities count for the weights, not for the choice")
    if picker.most >= count:
        yield Notice(f"the shelf holds {count}, so nothing was restricted")
    if not is_proven:
        yield Notice("another choice may be better: this one is not proven", "caution")
