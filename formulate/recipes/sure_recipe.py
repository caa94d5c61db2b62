"""A recipe that keeps its limits although nothing is known exactly.

A recipe on its limit breaks it in about half of all batches. So each limit is drawn in by
a margin: the quantile that the draws show at that limit, less the value that the recipe
itself has. The recipe is solved anew and drawn anew with the same errors, and the quantile
is raised until all limits together are kept as often as was asked. A second set of draws
that had no part in this tells the probability.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from formulate.checks import checked_number
from formulate.errors import Faults, Infeasible, InputError, NoConvergence, shortened
from formulate.notices import Notice, gravest_first
from formulate.recipes.doubtful_inputs import Sizes
from formulate.recipes.drawn_batches import batch_of, deviations, stack_of
from formulate.recipes.drawn_readings import (
    SHARE,
    Readings,
    limits_asked,
    wilson_half,
)
from formulate.recipes.problem import Problem
from formulate.recipes.recipe import Recipe
from formulate.recipes.requirement import HARD
from formulate.recipes.uncertainty import check_draws, checked_inputs
from formulate.recipes.variance_shares import columns_of, shares_of
from formulate.working import Shown, printed

__all__ = ["Margin", "Surely", "surely"]

SETTLES = 8  # rounds in which margins come to agree with the recipe they make
SAME_MARGIN = 0.01  # share of a margin: closer than this agrees
HALVINGS = 4
SPARE = 2.0  # standard errors of the count that are kept in hand
SAFETY = "safety"  # origin of rows that were drawn in
LEAST_BROKEN = 10  # draws that may break a limit; fewer tell nothing


@dataclass(frozen=True)
class Margin:
    """
    By how much one bound was drawn in, and why.

    Attributes
    ----------
    name : str
        The bound in words.
    margin : float
        By how much it was drawn in, in the unit of its limit. [-]
    unit : str
        The unit.
    kept : float
        Share of the batches of the second set that keep this bound. [-]
    shares : mapping of str to float
        Input to its share of the variance at this bound, the largest first. [-]
    """

    name: str
    margin: float
    unit: str
    kept: float
    shares: Mapping

    @property
    def dominates(self):
        """Return (input, share) of what matters most, or ("", 0.0)."""
        return next(iter(self.shares.items()), ("", 0.0))

    def __str__(self):
        name, share = self.dominates
        why = f"; mostly {name} ({100 * share:.0f} %)" if name else ""
        by = f"drawn in by {printed(self.margin, 3)} {self.unit}".rstrip()
        return f"{self.name}: {by}, kept by {100 * self.kept:.1f} %{why}"


@dataclass(frozen=True, eq=False)
class Surely(Shown):
    """
    A recipe that keeps its limits with a probability.

    Attributes
    ----------
    recipe : Recipe
        The recipe; its limits are those that were set, its weights those found with limits
        drawn in.
    before : Recipe
        The recipe that it was made from.
    wanted : float
        The probability that was asked for. [-]
    reached : bool
        Whether it was reached.
    probability : float
        Share of a second, independent set of batches that keep all limits. [-]
    probability_error : float
        How far that may be off for the number of draws, 95 of 100 times. [-]
    probability_before : float
        The same share for the recipe that it was made from. [-]
    margins : tuple of Margin
        Each bound and its margin.
    draws : int
        Batches in each set. [-]
    notices : tuple of Notice
        What to know, the gravest first.
    """

    recipe: Recipe
    before: Recipe
    wanted: float
    reached: bool
    probability: float
    probability_error: float
    probability_before: float
    margins: tuple
    draws: int
    notices: tuple = ()

    @property
    def price(self):
        """Return what it takes: "cost" more [currency; None if not known], "miss" more [%]."""
        costs = [one.cost for one in (self.recipe, self.before)]
        more = None if None in costs else costs[0] - costs[1]
        miss = _miss(self.recipe) - _miss(self.before)
        return MappingProxyType({"cost": more, "miss": miss})

    def __str__(self):
        share = f"{100 * self.probability:.1f} % of batches"
        error = printed(100 * self.probability_error, 2)
        words = "kept" if self.reached else "not reached: kept"
        lines = [
            f"limits {words} by {share} (± {error} %), {100 * self.wanted:g} % wanted; "
            f"before {100 * self.probability_before:.1f} %",
            *map(str, self.margins),
        ]
        cost, miss = self.price["cost"], self.price["miss"]
        dear = "" if cost is None else f", {cost:+.2f} in cost"
        lines.append(f"it takes {miss:+.2f} % in the mean miss of wanted values{dear}")
        return "\n".join([*lines, str(self.recipe), *map(str, self.notices)])


def _miss(recipe):
    """Return the root of the mean square of the misses of wanted values. [%]"""
    return 100 * math.sqrt(np.mean(np.square(list(recipe.misses.values()))))


def surely(recipe, *, probability=0.95, draws=10_000, seed=1, doubts=None, scoops=()):
    """
    Return a recipe that keeps its limits with a probability.

    Parameters
    ----------
    recipe : Recipe
        The recipe; it needs limits with a least or a greatest value.
    probability : float
        How often all limits together are to be kept. [-]
    draws : int
        Batches in each set of draws. [-]
    seed : int
        Number that the draws follow from; the second set takes the next one. [-]
    doubts : mapping of str to float, or None
        As in `doubt`. [%]
    scoops : iterable of str
        As in `doubt`.

    Returns
    -------
    Surely
        The recipe, how sure it is, the margins and what they take; `reached` is False
        with the surest recipe that was found if none is sure enough.

    Raises
    ------
    InputError
        With every fault: no limits, exact ones, too few draws for the probability.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> wish = target({"K": 200, "NO3-N": 80}, limits={"K": "at most 190 mg/L"})
    >>> found = surely(solve(wish, ["KNO3"], volume=10))
    >>> found.reached, round(found.recipe.solution.mg_l("K"))
    (True, 187)
    """
    asked, sizes, scoops = _checked(recipe, probability, draws, seed, doubts, scoops)
    search = _Search(recipe, asked, sizes, scoops, draws, seed)
    spare = SPARE * math.sqrt(probability * (1 - probability) / draws)
    goal = min(probability + spare, 1 - 1 / draws)
    first = search.trial(recipe)
    best = first if first.probability >= goal else _narrowed(search, first, goal)
    return _told(search, best, probability)


def _checked(recipe, probability, draws, seed, doubts, scoops):
    """Return what is asked and the sizes of inputs; raise with every fault."""
    faults, asked = Faults("surely"), ()
    check_draws(draws, seed, faults)
    with faults.collecting():
        checked_number(probability, "probability", above=0.0)
        if probability >= 1:
            raise InputError(f"probability: {probability:g} is not a number below 1")
    if not faults.found and (1 - probability) * draws < LEAST_BROKEN:
        need = math.ceil(LEAST_BROKEN / (1 - probability))
        faults.add(f"draws: {draws} tell nothing at {probability:g}; take {need}")
    sizes = Sizes({})
    if not isinstance(recipe, Recipe):
        faults.add(f"{shortened(recipe)} is no Recipe; solve makes one")
    else:
        sizes, scoops = checked_inputs(recipe, doubts, scoops, faults)
        asked = limits_asked(recipe.target, recipe.requirements)
        for one in asked:
            if not one.side:
                faults.add(f"{one.name}: no batch keeps an exact value; set a range")
        if not asked:
            faults.add("the recipe has no limits; set some in its target")
    faults.raise_if_any()
    return asked, sizes, scoops


@dataclass(frozen=True, eq=False)
class _Trial:
    """A recipe, and what its batches have of everything asked."""

    recipe: Recipe
    values: list
    probability: float
    margins: tuple = ()


@dataclass(frozen=True, eq=False)
class _Search:
    """What stays the same while margins are sought."""

    recipe: Recipe
    asked: tuple
    sizes: Sizes
    scoops: tuple
    draws: int
    seed: int

    def trial(self, recipe, margins=(), seed=None):
        """Return what the batches of a recipe have."""
        batch = batch_of(recipe, self.sizes, self.scoops)
        moved = deviations(batch.inputs, self.draws, seed or self.seed)
        found = Readings(stack_of(batch, moved, self.draws))
        values = [found.value(one.limit) for one in self.asked]
        keeps = [one.keeps(v[1:]) for one, v in zip(self.asked, values, strict=True)]
        share = float(np.all(keeps, axis=0).mean())
        return _Trial(recipe, values, share, margins or (0.0,) * len(self.asked))

    def margins(self, trial, level):
        """Return the margin of each bound that the draws of a trial show at a level."""
        return tuple(
            _margin(one, values, level)
            for one, values in zip(self.asked, trial.values, strict=True)
        )

    def solved(self, margins):
        """Return the trial of the recipe whose limits are drawn in; None if there is none."""
        target = _drawn_in(self.recipe.target, self.asked, margins)
        if target is None:
            return None
        problem = replace(Problem.of(self.recipe), target=target)
        try:
            rows, optimum, dropped, drawing = problem.solved()
        except (Infeasible, NoConvergence):
            return None
        facts = {"requirements": rows, "optimum": optimum, "dropped": dropped}
        made = replace(self.recipe, target=target, drawing=drawing, **facts)
        return self.trial(made, margins)

    def at_level(self, start, level):
        """Return the trial whose own draws show the margins that it was made with."""
        trial, margins = start, self.margins(start, level)
        for _ in range(SETTLES):
            trial = self.solved(margins)
            if trial is None:
                return None
            shown = self.margins(trial, level)
            if _agree(shown, margins):
                break
            pairs = zip(shown, margins, strict=True)
            margins = tuple((new + old) / 2 for new, old in pairs)
        return trial


def _agree(shown, margins):
    """Return whether the margins that draws show are those that they were made with."""
    pairs = zip(shown, margins, strict=True)
    return all(abs(new - old) <= SAME_MARGIN * max(new, old) for new, old in pairs)


def _margin(asked, values, level):
    """Return by how much a bound is to be drawn in so that a share of the draws keeps it."""
    drawn = values[1:][np.isfinite(values[1:])]
    if not drawn.size or not math.isfinite(values[0]):
        return 0.0
    if asked.side == "low":
        found = values[0] - np.quantile(drawn, 1 - level)
    else:
        found = np.quantile(drawn, level) - values[0]
    return max(float(found), 0.0)


def _drawn_in(target, asked, margins):
    """Return the target with its limits drawn in; None if one has nothing left."""
    found = {}
    for one, margin in zip(asked, margins, strict=True):
        before = found.get(one.limit, one.limit)
        found[one.limit] = replace(one, limit=before).moved(margin)
    if any(held.low > held.high for held in found.values()):
        return None
    shares = [held for old, held in found.items() if old.subject == SHARE]
    share = target.ammonium_share
    if shares:
        share = (shares[0].low / 100, shares[0].high / 100)
    limits = tuple(found.get(held, held) for held in target.limits)
    return replace(target, limits=limits, ammonium_share=share)


# --- how much is enough ----------------------------------------------------------------


def _narrowed(search, first, goal):
    """Return the trial with the least margins that reach the goal, or the surest one."""
    high = 1 - (1 - goal) / len(search.asked)
    best = search.at_level(first, goal)
    if best is None:
        return _part_of_the_way(search, first, goal)
    if _reaches(best, goal) or len(search.asked) == 1:
        return best
    low, seen, latest = goal, [best], best
    for _ in range(HALVINGS):
        level = high if len(seen) == 1 else (low + high) / 2
        trial = search.at_level(latest, level)
        if trial is not None and _reaches(trial, goal):
            high, latest = level, trial
        elif trial is None:
            high = level
        else:
            low = level
        if trial is not None:
            seen.append(trial)
    enough = [trial for trial in seen if _reaches(trial, goal)]
    if enough:
        return min(enough, key=lambda trial: sum(trial.margins))
    return max(seen, key=lambda trial: trial.probability)


def _reaches(trial, goal):
    """Return whether a trial reaches a goal, a draw more or less."""
    return trial.probability >= goal - 1 / (len(trial.values[0]) - 1)


def _part_of_the_way(search, first, goal):
    """Return the surest trial with a part of the margins, where all of them are too much."""
    margins, low, high = search.margins(first, goal), 0.0, 1.0
    best = first
    for _ in range(HALVINGS):
        part = (low + high) / 2
        trial = search.solved(tuple(part * margin for margin in margins))
        if trial is None:
            high = part
            continue
        low = part
        best = max(best, trial, key=lambda one: one.probability)
    return best


def _told(search, best, wanted):
    """Return what was found, checked by a second set of draws."""
    again = search.trial(best.recipe, best.margins, search.seed + 1)
    before = search.trial(search.recipe, (), search.seed + 1)
    batch = batch_of(best.recipe, search.sizes, search.scoops)
    moved = deviations(batch.inputs, search.draws, search.seed + 1)
    columns = columns_of({one: array[1:] for one, array in moved.items()})
    margins = tuple(
        Margin(
            one.name,
            margin,
            one.limit.unit,
            float(one.keeps(values[1:]).mean()),
            shares_of(columns, values[1:]),
        )
        for one, margin, values in zip(
            search.asked, best.margins, again.values, strict=True
        )
    )
    error = wilson_half(again.probability, search.draws)
    made = Surely(
        _with_own_limits(search.recipe, best.recipe, margins),
        search.recipe,
        float(wanted),
        best.probability >= wanted and again.probability + error >= wanted,
        again.probability,
        error,
        before.probability,
        margins,
        search.draws,
    )
    return replace(made, notices=gravest_first(_notices(made, batch)))


def _with_own_limits(own, made, margins):
    """Return a recipe with the limits that were set, its rows drawn at its amounts.

    What was drawn in stays as rows of no limit, so that weighing keeps off the limits too.
    """
    if made is own:
        return own
    rows, drawing = _rows_at(own, made.optimum.amounts)
    inner, _ = _rows_at(made, made.optimum.amounts)
    names = {new.name for new in rows}
    drawn_in = [row for row in inner if row.kind == HARD and row.name not in names]
    safe = [_for_safety(row, made.optimum.amounts) for row in drawn_in]
    facts = {"target": own.target, "requirements": (*rows, *safe), "drawing": drawing}
    told = (*made.dropped, *_drawn_in_for_safety(margins))
    forces = _forces(made, rows, inner)
    optimum = replace(made.optimum, forces=forces)
    return replace(made, optimum=optimum, dropped=told, **facts)


def _for_safety(row, amounts):
    """Return a row that was drawn in as one of no limit, which the amounts keep."""
    value = row.constant + float(np.dot(row.coefficients, amounts))
    ends = {"low": min(row.low, value), "high": max(row.high, value)}
    facts = {"limit": None, "origin": SAFETY}
    return replace(row, name=f"{row.name}, for safety", **ends, **facts)


def _rows_at(recipe, amounts):
    """Return the rows of a recipe drawn at some amounts, and their drawing."""
    problem = Problem.of(recipe)
    solution, share = problem.made(amounts)
    drawing = recipe.drawing and problem.drawn(solution, recipe.drawing)
    return problem.rows(share, drawing, asked=recipe.requirements), drawing


def _forces(made, rows, inner):
    """Return what holds a recipe back, limits drawn in by the names of those that were set."""
    if len(rows) != len(inner):
        return made.optimum.forces
    names = {old.name: new for old, new in zip(inner, rows, strict=True)}
    return tuple((names.get(row.name, row), f) for row, f in made.optimum.forces)


def _drawn_in_for_safety(margins):
    """Yield by how much the weights stay off the limits."""
    by = [
        f"{one.name} by {printed(one.margin, 3)} {one.unit}".rstrip()
        for one in margins
        if one.margin > 0
    ]
    if by:
        what = "found with limits drawn in for safety, so that few batches break them"
        yield Notice(f"{what}: {', '.join(by)}")


def _notices(made, batch):
    """Yield what to know about a recipe that is to be sure."""
    if not made.reached:
        worst = min(made.margins, key=lambda one: one.kept)
        name, share = worst.dominates
        mostly = f", mostly for {name} ({100 * share:.0f} %)" if name else ""
        what = (
            f"no recipe over this shelf was found that keeps its limits in "
            f"{100 * made.wanted:g} % of batches; the surest keeps them in "
            f"{100 * made.probability:.1f} %. {worst.name} stands in the way{mostly}: make "
            "that surer, or set the limit wider"
        )
        yield Notice(what, "serious", made.probability, made.wanted)
    for words in batch.not_varied:
        yield Notice(f"not varied: {words}")
