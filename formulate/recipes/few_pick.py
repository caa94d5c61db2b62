"""Few ingredients for rows that depend on the choice: chosen, settled, and chosen again.

The lines of pH and EC, and the share of the water, hold at one recipe. So a set is held
until its rows have settled; then a search over all sets says whether another one is better
there. If none is, this one is proven for these rows.
"""

from dataclasses import replace

import numpy as np

from formulate.errors import Infeasible, NoConvergence
from formulate.recipes.aims import relative_lines, sum_lines
from formulate.recipes.bands import reachable_bands
from formulate.recipes.few_blame import too_few
from formulate.recipes.few_choice import (
    COST,
    SUM,
    WORST,
    Task,
    chosen_few,
    good_start,
)
from formulate.recipes.programme import Budget, held_lines, lines_of, stacked
from formulate.recipes.requirement import HARD, WANTED
from formulate.recipes.settling_near import settled_near

__all__ = ["Picker"]

SAME = 1e-7  # share: what an objective may give when another is met
SOFT = 1000.0  # how often a pH or EC that cannot hold as drawn counts
SWINGS = 6  # how often the choice is made anew before it must stay


class Picker:
    """
    Chooses a set of ingredients and amounts, and remembers what it chose.

    Parameters
    ----------
    recipe : Recipe
        The recipe with the whole shelf.
    most : int
        How many ingredients, at most. [-]
    objective : str
        "sum", "worst" or "cost".
    within : float
        Share by which a wanted value may be missed by the cheapest. [-]
    time_limit : float or None
        How long the search may take. [s]

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> feed = target({"NO3-N": 210, "K": 235, "P": 31})
    >>> shelf = ["KNO3", "Ca(NO3)2·4H2O", "KH2PO4"]
    >>> picker = Picker(solve(feed, shelf, volume=100), 2, "sum", 0.05, None)
    >>> rows = picker.settled()
    >>> picker.choice.places, picker.choice.is_proven
    ((0, 2), True)
    """

    def __init__(self, recipe, most, objective, within, time_limit):
        self.recipe, self.most, self.objective = recipe, most, objective
        self.within, self.budget = within, Budget(time_limit)
        self.without, self.last_error, self.seen = [], None, []
        self.choice, self.places = None, None
        self._searched, self._banded = None, (None, None)

    @property
    def is_proven(self):
        """Return whether no other choice is better, for rows at this one."""
        return self.choice.is_proven and not self.without

    def settled(self):
        """
        Return rows drawn at a choice than which none is better there.

        Returns
        -------
        tuple of Requirement
            The rows.

        Raises
        ------
        Infeasible
            If so few cannot keep all that must hold.
        NoConvergence
            If choice and rows do not come to agree, or nothing was found in time.

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), ["KNO3", "KCl"], volume=10)
        >>> picker = Picker(recipe, 1, "sum", 0.05, None)
        >>> len(picker.settled()), len(picker.choice.places)
        (2, 1)
        """
        self._begin()
        for _ in range(SWINGS):
            rows = settled_near(self.recipe, self._held)
            if self._searched == rows or not self._is_bettered(rows):
                return rows
            if any(self.places == one.places for one in self.seen[:-1]):
                break
        raise NoConvergence("the choice of ingredients swings", state=self.seen)

    def take(self, choice):
        """
        Take a choice for what was chosen; it is not proven.

        Parameters
        ----------
        choice : Choice
            The choice.

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), ["KNO3", "KCl"], volume=10)
        >>> picker = Picker(recipe, 1, "sum", 0.05, None)
        >>> _ = picker.settled()
        >>> picker.take(picker.choice)
        >>> picker.is_proven
        False
        """
        self.choice = replace(choice, bound=0.0, is_proven=False)

    def leave_out(self, error):
        """
        Do without the last choice, which the recipe could not keep.

        Parameters
        ----------
        error : FormulateError
            Why.

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), ["KNO3", "KCl"], volume=10)
        >>> picker = Picker(recipe, 1, "sum", 0.05, None)
        >>> _ = picker.settled()
        >>> before = picker.choice.places
        >>> picker.leave_out(None)
        >>> _ = picker.settled()
        >>> picker.choice.places == before, picker.is_proven
        (False, False)
        """
        self.without.append(set(self.choice.places))
        self.choice, self._searched, self.last_error = None, None, error

    def task(self, rows):
        """
        Return what is to be least, and within what.

        Parameters
        ----------
        rows : sequence of Requirement
            The rows.

        Returns
        -------
        Task
            The task.

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), ["KNO3", "KCl"], volume=10)
        >>> picker = Picker(recipe, 1, "sum", 0.05, None)
        >>> picker.task(recipe.requirements).count
        2
        """
        count = len(self.recipe.ingredients)
        held = held_lines(rows, count)
        if self.objective == WORST:
            return Task(WORST, relative_lines(rows, count), held)
        if self.objective == SUM:
            return Task(SUM, sum_lines(rows, count), held)
        near = held_lines(self.bands(rows)[0], count)
        prices = [ingredient.cost(1.0) for ingredient in self.recipe.ingredients]
        return Task(COST, lines_of((), count), stacked(held, near), np.array(prices))

    def bands(self, rows):
        """
        Return the bands of the wishes as the cheapest keeps them, and what to know of them.

        Parameters
        ----------
        rows : sequence of Requirement
            The rows.

        Returns
        -------
        rows : tuple of Requirement
            The wishes as hard rows.
        told : tuple of Notice
            What had to be widened.

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), ["KNO3", "KCl"], volume=10)
        >>> picker = Picker(recipe, 1, "sum", 0.05, None)
        >>> picker.bands(recipe.requirements)[0][0].name
        'K 200.0 mg/L, within 5 %'
        """
        if self._banded[0] != rows:
            found = reachable_bands(rows, len(self.recipe.ingredients), self.within)
            self._banded = rows, found
        return self._banded[1]

    # --- one step each -------------------------------------------------------------------

    def _begin(self):
        """Choose a set to begin with: a good one where rows move, else the best."""
        rows = self.recipe.requirements
        if self.recipe.drawing is not None and not self.without:
            for task in self._tasks(rows):
                start = None if task.objective == COST else good_start(task, self.most)
                if start is not None:
                    self._keep(start)
                    return
        self._search(rows)

    def _keep(self, choice):
        """Hold a choice from now on."""
        self.choice, self.places = choice, choice.places
        self.seen.append(choice)

    def _held(self, rows):
        """Return the amounts of the set that is held, or of another if it cannot be."""
        if rows != self._searched:
            best = self._best(rows, only=self.places)
            if best is None:
                self._search(rows)
            else:
                self.choice = replace(best, bound=0.0, is_proven=False)
        return self.choice.amounts

    def _is_bettered(self, rows):
        """Search all sets for rows at the one that is held; say if another is better."""
        if self.budget.is_over:
            return False
        before = self.choice
        self._search(rows, before.amounts)
        return self.choice.places != before.places

    def _search(self, rows, *known):
        """Choose among all sets."""
        best = self._best(rows, known=known)
        if best is None:
            raise self._none(rows)
        self._keep(best)
        self._searched = rows
        return

    def _tasks(self, rows):
        """Yield the task, and the same with pH and EC wanted above all.

        Lines drawn far away may forbid what pH and EC themselves allow; the next ones are
        drawn nearer, and the recipe keeps them.
        """
        yield self.task(rows)
        soft = tuple(map(_softened, rows))
        if soft != rows and self.objective != COST:
            yield self.task(soft)

    def _best(self, rows, *, only=None, known=()):
        """Return the best choice of all sets or of one; None if there is none."""
        facts = {"without": self.without, "only": only, "known": known}
        for task in self._tasks(rows):
            facts["time_limit"] = self.budget.left
            best = chosen_few(task, self.most, **facts)
            if best is not None:
                return self._and_the_sum(best, task, rows, facts)
        return None

    def _and_the_sum(self, best, task, rows, facts):
        """Return a choice of the least worst with its sum made least too."""
        if self.objective != WORST:
            return best
        give = best.value * (1 + SAME) + SAME / 100
        held = stacked(task.held, task.wanted.wider(give))
        rest = Task(SUM, sum_lines(rows, task.count), held)
        facts |= {
            "known": (*facts["known"], best.amounts),
            "time_limit": self.budget.left,
        }
        found = chosen_few(rest, self.most, **facts)
        return best if found is None else replace(best, amounts=found.amounts)

    def _none(self, rows):
        """Return the error for no choice at all: none possible, or none in time."""
        if self.last_error is not None:
            return self.last_error
        if rows == self.recipe.requirements:
            banded = self.bands(rows)[0] if self.objective == COST else ()
            words = f"every wanted value within {100 * self.within:g} %"
            found = too_few(rows, banded, words, self.most, self.budget.left)
            if found is not None:
                return found
        what = "no choice was found that keeps all that must hold"
        error = NoConvergence if rows == self.recipe.requirements else Infeasible
        return error(f"{what}; give more time or more ingredients")


def _softened(row):
    """Return a hard row of a pH or an EC as one that is wanted above all."""
    if row.kind != HARD or row.limit is None or not row.limit.is_metered:
        return row
    size = max(map(abs, row.coefficients)) or 1.0
    return replace(row, kind=WANTED, scale=size / SOFT, weight=1.0)
