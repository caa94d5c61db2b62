"""Whole steps, proven: every amount a multiple of its step or scoop, the worst miss least.

`weigh` takes the nearest steps; here no other whole steps have a smaller worst deviation, or
none cost less within a band.
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
    reached_lines,
)
from formulate.recipes.few_blame import to_blame
from formulate.recipes.few_choice import COST, WORST
from formulate.recipes.practical import Weighing, rounding_changes, weigh
from formulate.recipes.problem import Problem
from formulate.recipes.programme import Budget, held_lines, lines_of
from formulate.recipes.remarks import harm
from formulate.recipes.requirement import HARD, WANTED
from formulate.recipes.settling import settled
from formulate.recipes.solve import solve
from formulate.recipes.trace_stocks import propose_stocks
from formulate.recipes.weighing_steps import checked_steps, few_steps, small_amounts
from formulate.recipes.whole_counts import Steps, best_counts, is_impossible, ordered
from formulate.recipes.whole_nearer import nearer
from formulate.recipes.whole_notices import changed, limits_told
from formulate.working import Shown, printed

__all__ = ["StepPrice", "WholeSteps", "whole_steps"]

OBJECTIVES = (WORST, COST)
NO_SUM = {
    "sum": "the least sum of deviations is not offered in whole steps, since the search "
    "cannot prove it in any useful time"
}
DIGITS = 10  # decimals of a weight; beyond them is rounding
USED = 1e-9  # g/L: less is rounding, not an amount
SWINGS = 6  # how often the steps are chosen anew before they must stay


@dataclass(frozen=True)
class StepPrice(Shown):
    """
    What whole steps cost: worst deviation beyond what the exact recipe misses.

    Attributes
    ----------
    exact : float
        Of the exact recipe. [-]
    nearest : float
        Of the nearest rounding, by `weigh`. [-]
    proven : float
        Of the whole steps found here. [-]
    """

    exact: float
    nearest: float
    proven: float

    def __str__(self):
        ends = (self.exact, self.nearest, self.proven)
        exact, nearest, found = (f"{printed(100 * v, 3)} %" for v in ends)
        return (
            f"worst deviation: exact {exact}, nearest rounding {nearest}, here {found} "
            "(beyond what the exact recipe misses)"
        )


@dataclass(frozen=True, eq=False)
class WholeSteps(Shown):
    """
    The best whole steps for a recipe.

    Attributes
    ----------
    weighing : Weighing
        What is weighed, what it makes, and what rounding changes.
    objective : str
        "worst" or "cost".
    value : float
        Worst relative deviation, beyond what the exact recipe misses [-]; or the cost of the
        batch. [currency]
    bound : float
        What no whole steps lie below. [-]
    proven : bool
        Whether no other whole steps are better.
    price : StepPrice
        Worst deviations: exact, nearest rounding, here.
    told : tuple of Notice
        What to know about the choice.
    """

    weighing: Weighing
    objective: str
    value: float
    bound: float
    proven: bool
    price: StepPrice
    told: tuple = ()

    @property
    def gap(self):
        """Return how much better other steps might be, as a share of the value. [-]"""
        if self.proven or self.value <= self.bound:
            return 0.0
        return (self.value - self.bound) / abs(self.value)

    @property
    def recipe(self):
        """Return the exact recipe."""
        return self.weighing.recipe

    @cached_property
    def notices(self):
        """Return what to know about choice and weights, the gravest first."""
        return gravest_first((*self.told, *self.weighing.notices))

    def __str__(self):
        sure = "proven" if self.proven else f"not proven, gap {100 * self.gap:.2g} %"
        words = f"least worst deviation {printed(100 * self.value, 3)} %"
        if self.objective == COST:
            words = f"least cost {printed(self.value)}"
        told = [str(notice) for notice in self.told]
        return "\n".join(
            [
                f"whole steps: {words} ({sure})",
                str(self.price),
                *told,
                str(self.weighing),
            ]
        )


def whole_steps(
    recipe,
    *,
    steps=None,
    most=None,
    objective="worst",
    within=None,
    time_limit=1.0,
    stocks=False,
):
    """
    Return the whole steps that are best for a recipe, proven.

    Every ingredient of the shelf that has a step may be taken, in whole steps only; one
    without a step stays what it is if the recipe uses it, in any amount, and else stays
    out. A deviation counts as far as it goes beyond what the exact recipe misses, so that
    one miss that cannot be helped does not hide the rest; so do ions that are kept low, by
    their weights. Hard rows hold; one that asks for an exact value may be off by half a
    step of everything. What is at the worst stays there while the next worst is made least;
    among steps that are as good, weighted squares are brought down by single steps and
    pairs of them. Of a recipe that was held at a cost and within bands only the amounts are
    taken up; the "cost" objective is what joins least cost and whole steps.

    Parameters
    ----------
    recipe : Recipe
        The exact recipe.
    steps : mapping of str to float or str, or None
        Name to a step or scoop that takes the place of the ingredient's own, as in `weigh`.
        [g]
    most : int or None
        How many ingredients, at most; None for any number. [-]
    objective : str
        What is least: the "worst" relative deviation, or the "cost" with every wanted value
        within a share.
    within : float or None
        Share by which a wanted value may be missed where the cost is least, beyond what the
        exact recipe misses; None for the rule on misses, 0.05. [-]
    time_limit : float or None
        How long the search may take; what is found by then stands, not proven. [s]
    stocks : bool
        Whether stocks are made of what weighs under 20 of its steps, as `weigh` does; what
        their doses bring is given, and the rest is searched.

    Returns
    -------
    WholeSteps
        The weights, the proof, and what whole steps cost.

    Raises
    ------
    InputError
        With every fault of what was asked.
    Infeasible
        If no whole steps keep all that must hold; of "cost" it tells the smallest share
        within which there are some.
    NoConvergence
        If none were found in time.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200, "P": 30}), ["KCl", "KH2PO4"], volume=100)
    >>> found = whole_steps(recipe, steps={"KCl": "5 g", "KH2PO4": "1 g"})
    >>> {i.name: grams for i, grams in found.weighing.amounts}, found.proven
    ({'KCl': 30.0, 'KH2PO4': 13.0}, True)
    """
    check_recipe(recipe, "whole_steps")
    faults, known = Faults(), {}
    with faults.collecting():
        known = checked_steps(recipe, steps, "")
    with faults.collecting():
        most = None if most is None else checked_most(most)
    with faults.collecting():
        check_objective(objective, OBJECTIVES, NO_SUM)
    with faults.collecting():
        within = checked_share(within)
    with faults.collecting():
        time_limit = checked_time(time_limit)
    if objective == COST:
        with faults.collecting():
            check_prices(recipe)
    faults.raise_if_any()
    stepper = _Stepper(recipe, known, most, objective, within, time_limit, stocks)
    amounts, rows, *_ = settled(stepper.recipe, stepper)
    return _result(stepper, amounts, rows)


class _Stepper:
    """Chooses whole steps for rows, and remembers the last choice."""

    def __init__(self, recipe, known, most, objective, within, time_limit, stocks):
        self.given, self.recipe = recipe, bare(recipe)
        self.most, self.objective = most, objective
        self.within, self.budget = within, Budget(time_limit)
        self.nearest = weigh(self.recipe, steps=known, stocks=stocks)
        self.small = small_amounts(recipe, known) if stocks else ()
        dissolved = {name for made in self.nearest.stocks for name in made.steps}
        spare = known | _spare_steps(recipe, known)
        self.known = {n: step for n, step in spare.items() if n not in dissolved}
        self.reached = self._reached()
        self.rows, self.best, self.amounts = None, None, None
        self.calls, self.is_kept = 0, False

    def _reached(self):
        """Return the amounts whose misses count for none: of bands those of the nearest."""
        if self.objective != COST or self.recipe is self.given:
            return self.recipe.optimum.amounts
        facts = {"volume": self.recipe.volume, "water": self.recipe.water}
        own = Problem.of(self.recipe).own_rows
        shelf = self.recipe.ingredients
        near = solve(self.recipe.target, shelf, requirements=own, **facts)
        return near.optimum.amounts

    @cached_property
    def _dosed(self):
        """Return name to what stocks bring of it. [g/L]"""
        return {
            part.name: grams / made.batches / self.recipe.volume
            for made in self.nearest.stocks
            for part, grams in made.parts
        }

    @cached_property
    def fixed(self):
        """Return what stocks bring; not a number of what they do not. [g/L]"""
        found = [self._dosed.get(i.name, np.nan) for i in self.recipe.ingredients]
        return np.array(found)

    def __call__(self, rows):
        """Return the best whole steps for these rows."""
        if rows != self.rows:
            self.calls += 1
            is_late = self.calls > SWINGS or (self.calls > 1 and self.budget.is_over)
            self.is_kept |= is_late
            if not is_late:
                self.best, self.amounts = self._chosen(rows)
            self.rows = rows
        return self.amounts

    def asked(self, rows):
        """Return what is asked of whole steps, from rows."""
        recipe = self.recipe
        exact, count = recipe.optimum.amounts, len(recipe.ingredients)
        steps = [self.known.get(one.name, 0.0) for one in recipe.ingredients]
        sizes = np.array(steps) / recipe.volume
        wanted = [row for row in rows if row.kind == WANTED and row.weight > 0]
        prices = None
        if self.objective == COST:
            prices = np.array([one.cost(1.0) for one in recipe.ingredients])
        return Steps(
            reached_lines(rows, self.reached),
            held_lines(_given(rows, exact, sizes, self.fixed), count),
            lines_of(wanted, count),
            sizes,
            (sizes > 0) | (exact > USED),
            prices,
            self.most,
            fixed=self.fixed,
        )

    def plain(self):
        """Return the amounts of the nearest rounding. [g/L]"""
        amounts = {one.name: amount for one, amount in self.nearest.amounts}
        found = [amounts.get(one.name, 0.0) for one in self.recipe.ingredients]
        weighed = np.array(found) / self.recipe.volume
        return np.where(np.isfinite(self.fixed), self.fixed, weighed)

    def _chosen(self, rows):
        """Return the best steps, and the nearest of those as good."""
        steps, plain = self.asked(rows), self.plain()
        known = plain if steps.is_kept(plain) else None
        facts = {"within": self.within, "time_limit": self.budget.left}
        best = best_counts(steps, self.objective, known=known, **facts)
        if best is None:
            raise self._none(rows, steps, known)
        if self.objective == COST:
            caps = steps.given(self.within)
            return best, nearer(steps, best.amounts, caps, best.value)
        return best, nearer(steps, *ordered(steps, best, time_limit=self.budget.left))

    def _none(self, rows, steps, known):
        """Return the error for no whole steps at all, with what would do."""
        blamed = self._blamed(rows, steps)
        if blamed:
            of_most = f" with {self.most} ingredients" if self.most else ""
            what = f"no whole steps{of_most} keep {', '.join(blamed)}; use finer steps"
            return Infeasible(what, requirements=blamed)
        if self.objective == COST:
            best = best_counts(steps, WORST, known=known, time_limit=self.budget.left)
            if best is not None and best.bound > self.within:
                smallest = (
                    "the smallest share that does" if best.is_proven else "this does"
                )
                return Infeasible(
                    f"no whole steps lie within {100 * self.within:g} % of every wanted "
                    f"value; {smallest} is {printed(100 * best.value, 3)} %"
                )
        return NoConvergence(
            "no whole steps were found in time that keep all that must hold; use finer "
            "steps or more time"
        )

    def _blamed(self, rows, steps):
        """Return the names of hard rows that no whole steps keep, none of them idle."""
        exact, count = self.recipe.optimum.amounts, len(self.recipe.ingredients)
        given = _given(rows, exact, steps.sizes, self.fixed)

        def cannot(some):
            return is_impossible(steps, held_lines(some, count), self.budget.left)

        if not cannot(given):
            return []
        return [row.name for row in to_blame(given, (), cannot)]


def _spare_steps(recipe, known):
    """Return the own steps of what the recipe does not use, where the batch can take one."""
    whole = sum(amount for _, amount in recipe.amounts)
    return {
        one.name: one.weighing_step
        for one in recipe.ingredients
        if one.name not in known and one.weighing_step and one.weighing_step <= whole
    }


def _given(rows, exact, sizes, fixed):
    """Return the hard rows, an exact one wider by half a step of all that is used."""
    dosed = np.isfinite(fixed)
    half = np.where(exact > USED, sizes, 0.0) / 2
    half = np.where(dosed, np.abs(np.where(dosed, fixed, 0.0) - exact), half)
    given = []
    for row in (row for row in rows if row.kind == HARD):
        give = float(np.abs(row.coefficients) @ half) if row.low == row.high else 0.0
        given.append(replace(row, low=row.low - give, high=row.high + give))
    return given


def _result(stepper, amounts, rows):
    """Return what was found, with what to know about it."""
    recipe, best, steps = stepper.recipe, stepper.best, stepper.asked(rows)
    ends = (recipe.optimum.amounts, stepper.plain(), amounts)
    price = StepPrice(*(steps.worst(end) for end in ends))
    batch = recipe.volume if stepper.objective == COST else 1.0
    is_proven = best.is_proven and not stepper.is_kept
    told = tuple(_told(stepper, is_proven))
    return WholeSteps(
        _weighing(stepper, amounts),
        stepper.objective,
        best.value * batch,
        best.bound * batch,
        is_proven,
        price,
        told,
    )


def _weighing(stepper, amounts):
    """Return the weights and doses, with what to know about them."""
    recipe, known, made = stepper.given, stepper.known, stepper.nearest.stocks
    weighed, number = [], {}
    pairs = zip(recipe.ingredients, amounts.tolist(), strict=True)
    dissolved = {name for one in made for name in one.steps}
    for one, per_litre in (pair for pair in pairs if pair[0].name not in dissolved):
        amount, step = per_litre * recipe.volume, known.get(one.name)
        if step:
            number[one.name] = round(amount / step)
            amount = round(number[one.name] * step, DIGITS)
        if per_litre > USED:
            weighed.append((one, amount))
    steps = {one.name: known[one.name] for one, _ in weighed if one.name in known}
    steps |= {one.ingredient.name: one.dose_step for one in made}
    weighed += [(one.ingredient, one.dose) for one in made]
    plain = Weighing(recipe, tuple(weighed), steps, made)
    told = (*harm(plain), *rounding_changes(plain), *few_steps(number))
    told += (*changed(plain, steps), *limits_told(plain), *_of_stocks(stepper))
    return replace(plain, notices=gravest_first(told))


def _of_stocks(stepper):
    """Yield what to know of the stocks, and of what stays weighed for want of one."""
    for made in stepper.nearest.stocks:
        yield from made.notices
    if stepper.small:
        steps = stepper.known | _part_steps(stepper.nearest.stocks)
        yield from propose_stocks(
            stepper.small, volume=stepper.recipe.volume, steps=steps
        )[1]


def _part_steps(stocks):
    """Return name to step of all that is dissolved in stocks. [g]"""
    return {name: step for made in stocks for name, step in made.steps.items()}


def _told(stepper, is_proven):
    """Yield what chose the steps, and what is not sure."""
    if stepper.objective == COST:
        band = f"within {100 * stepper.within:g} % of what is wanted or reached exactly"
        yield Notice(
            f"steps of the least cost {band}; then nearest by weighted squares"
        )
    else:
        yield Notice(
            "steps of the least worst deviation, then of the next worst; among those as "
            "good, moved nearer by weighted squares, which is not proven"
        )
    if any(held.is_metered for held in stepper.recipe.target.limits):
        yield Notice(METERED)
    if not is_proven:
        yield Notice("other whole steps may be better: not proven", "caution")
