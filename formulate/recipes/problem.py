"""A target over a shelf in a water: its rows, and the amounts that agree with them.

Liquids take the place of water, and the lines of pH and EC hold where they are drawn. So
rows are made, amounts found, rows made anew at these amounts, until both agree.
"""

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from formulate.errors import Infeasible, NoConvergence
from formulate.ingredients.water import Water
from formulate.notices import Notice
from formulate.recipes.conflict_words import explained
from formulate.recipes.drawing import (
    agree,
    apart,
    draw,
    metered_rows,
    sum_of,
    through,
)
from formulate.recipes.first_lines import first_lines, is_plain_salt
from formulate.recipes.ph_means import held_ph
from formulate.recipes.requirements import (
    requirements_of,
    room_for_liquids,
    uncalled_traces,
)
from formulate.recipes.stages import amounts_in_order
from formulate.recipes.target import Target
from formulate.stoichiometry.solution import Solution

__all__ = ["Problem"]

ROUNDS = 50
SETTLED_LINES = 1e-6  # share of water, where lines of pH and EC are no surer
SOFT = 1e6  # weight of a pH or EC that cannot hold, to find where it is missed least
NEARER = 12  # times that lines are drawn nearer to what is forbidden
TURNS = 20  # rounds after which recipes that take turns are met between
LEAST_STEP = 1 / 16  # of the way to a recipe at which lines are drawn
ROOM = 2e-3  # share of an EC
SWINGS = 0.5  # lines that differ by more than this share of before
NEARLY = 10.0  # times what counts as the same: the next round may well be the last
UNRANKED = 4  # rounds after which equal recipes are told apart at once: they may swing
SETTLED = 1e-10  # share of water: closer than this is the same


@dataclass(frozen=True)
class Problem:
    """
    What is solved: a target over what may be used, in a water.

    Attributes
    ----------
    target : Target
        What is wanted.
    usable : tuple of Ingredient
        What may be used.
    water : Water
        The water.
    own_rows : tuple of Requirement
        Rows that neither target nor shelf make.
    volume : float
        Volume of the batch. [L]
    """

    target: Target
    usable: tuple
    water: Water
    own_rows: tuple
    volume: float

    @classmethod
    def of(cls, recipe):
        """
        Return the problem that a recipe solves.

        Parameters
        ----------
        recipe : Recipe
            The recipe.

        Returns
        -------
        Problem
            The problem.

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> Problem.of(solve(target({"K": 200}), ["KNO3"], volume=10)).own_rows
        ()
        """
        bare = cls(recipe.target, recipe.ingredients, recipe.water, (), recipe.volume)
        made = {(row.name, row.origin) for row in bare.rows(1.0, recipe.drawing)}
        own = (r for r in recipe.requirements if (r.name, r.origin) not in made)
        return replace(bare, own_rows=tuple(own))

    @property
    def wants_ph(self):
        """Return whether a pH is among the limits."""
        return bool(held_ph(self.target.limits))

    @property
    def at_hand(self):
        """Return what may be used, without what is limited to nothing."""
        none = {
            row.limit.subject
            for row in self.own_rows
            if row.origin == "amount" and row.limit.high == 0
        }
        return tuple(one for one in self.usable if one.name not in none)

    def drawn(self, solution, before=None):
        """
        Return the lines of pH and EC at a composition.

        Parameters
        ----------
        solution : Solution
            The composition.
        before : Drawing or None
            An earlier drawing.

        Returns
        -------
        Drawing
            The lines.

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10, ec="at most 2 mS/cm")
        >>> [row.subject for row, _ in Problem.of(recipe).drawn(recipe.solution).lines]
        ['EC']
        """
        follow = all(is_plain_salt(one) for one in self.usable)
        return draw(self.target.limits, solution, before, follow_ph=follow)

    def made(self, amounts):
        """
        Return the solution that amounts make.

        Parameters
        ----------
        amounts : ndarray, shape (n,)
            Amount of each ingredient. [g/L]

        Returns
        -------
        Solution
            The solution. [mmol/L]
        float
            Share of the water in it. [-]

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
        >>> made, share = Problem.of(recipe).made(recipe.optimum.amounts)
        >>> round(made.mg_l("K"), 6), share
        (200.0, 1.0)
        """
        used = np.maximum(amounts, 0.0).tolist()
        pairs = zip(self.usable, used, strict=True)
        share = 1 - sum(i.millilitres(amount) for i, amount in pairs) / 1000
        return sum_of((*self.usable, self.tap(share)), (*used, 1.0)), share

    def tap(self, share):
        """
        Return what a share of the water brings.

        Parameters
        ----------
        share : float
            Litres of water in a litre. [-]

        Returns
        -------
        Solution
            What it brings. [mmol/L]

        Examples
        --------
        >>> from formulate.ingredients.water import water
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> tap = water({"Ca": "40 mg/L"})
        >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10, water=tap)
        >>> round(Problem.of(recipe).tap(0.5).mg_l("Ca"), 6)
        20.0
        """
        held = self.water.solution
        forms = {key: value * share for key, value in held.forms.items()}
        return Solution(forms, held.unassigned_charge * share)

    def rows(self, share, drawing, asked=None):
        """
        Return all rows where water makes up a share, pH and EC drawn somewhere.

        Parameters
        ----------
        share : float
            Litres of water in a litre. [-]
        drawing : Drawing or None
            The lines of pH and EC.
        asked : iterable of Requirement or None
            Rows by whose names to pick: of the share of ammonium, which may have been
            dropped. All if None.

        Returns
        -------
        tuple of Requirement
            The rows.

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> problem = Problem.of(solve(target({"K": 200}), ["KNO3"], volume=10))
        >>> [row.name for row in problem.rows(1.0, None)]
        ['K 200.0 mg/L']
        """
        made = [_with_water(row, share) for row in self._unmetered]
        if drawing is not None:
            tap = self.tap(share)
            for held in (held for held in self.target.limits if held.is_metered):
                made += metered_rows(held, self.usable, tap, drawing)
        if asked is not None:
            names = {row.name for row in asked}
            made = (r for r in made if r.origin != "ammonium share" or r.name in names)
        return (*made, *self._room, *self.own_rows)

    @cached_property
    def _unmetered(self):
        """Return the rows that the target asks for but pH and EC, in the whole water."""
        limits = tuple(held for held in self.target.limits if not held.is_metered)
        target = replace(self.target, limits=limits)
        return requirements_of(target, self.usable, self.tap(1.0))

    @cached_property
    def _room(self):
        return room_for_liquids(self.usable)

    @cached_property
    def _avoided(self):
        return uncalled_traces(self.target, self.usable)

    def solved(self):
        """
        Return rows, optimum, dropped rules and drawing once all of them agree.

        The share of water is what the last round left of it, never something to be gained
        by pouring more.

        Returns
        -------
        tuple
            Rows, optimum, dropped rules, and the drawing that the rows were made with.

        Raises
        ------
        Infeasible
            If hard rows cannot all hold.
        NoConvergence
            If they do not come to agree.

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> problem = Problem.of(solve(target({"K": 200}), ["KNO3"], volume=10))
        >>> problem.solved()[1].amounts.round(3).tolist()
        [0.517]
        """
        share, drawing, ranks, optimum = 1.0, None, False, None
        at, far, step, left_to_try = None, math.inf, 1.0, NEARER
        if any(held.is_metered for held in self.target.limits):
            drawing = first_lines(self.target.limits)
        for place in range(ROUNDS):
            ranks = (
                ranks
                or abs(far) <= NEARLY
                or (place >= UNRANKED and drawing is not None)
            )
            rows = self.rows(share, drawing)
            try:
                optimum, dropped = self._in_order(rows, ranks), ()
            except Infeasible as error:
                nearer = self._drawn_nearer(rows, drawing) if left_to_try else None
                if nearer is not None:
                    drawing, left_to_try = nearer, left_to_try - 1
                    continue
                rows, dropped = self._without_share(rows, error)
                optimum = self._in_order(rows, ranks)
            made, left = self.made(optimum.amounts)
            give = SETTLED if drawing is None else SETTLED_LINES
            is_settled = abs(left - share) <= give or not self.water.solution.forms
            share = left
            if drawing is not None:
                after = self.drawn(made, drawing)
                before, far = far, apart(drawing, after, made)
                is_settled = is_settled and abs(far) <= 1.0
                step = _step(step, far / before if before else 0.0)
                if place >= TURNS and not is_settled:
                    after, at = through(after, made, at), made
                elif step < 1.0 and at is not None and not is_settled:
                    at = sum_of((at, made), (1 - step, step))
                    after = self.drawn(at, drawing)
                else:
                    at = made
            if is_settled and not (ranks or optimum.is_unique):
                ranks = True  # which of equal recipes, once it is known what they reach
            elif is_settled:
                return rows, optimum, dropped, drawing
            drawing = drawing and after
        what = "the share of water does not settle"
        if drawing is not None:
            what = "pH, EC and the share of water do not settle together"
        raise NoConvergence(what, state=optimum)

    def _drawn_nearer(self, rows, drawing):
        """Return lines drawn where pH and EC are missed by little, if that changes them.

        A tangent drawn far away may forbid what the EC itself allows.
        """
        if drawing is None:
            return None
        soft = [_softened(row) if row.is_metered else row for row in rows]
        try:
            made, _ = self.made(self._in_order(soft, False).amounts)
        except Infeasible:
            return None
        after = self.drawn(made, drawing)
        return None if agree(drawing, after, made) else after

    def _redrawn(self, rows, amounts):
        """Return rows with those of pH and EC drawn at some amounts, an EC a little tighter.

        Lines agree within a thousandth of an EC, so a way out needs as much room.
        """
        made, share = self.made(amounts)
        new = {r.name: r for r in self.rows(share, self.drawn(made)) if r.is_metered}
        return [_tighter(new[r.name]) if r.is_metered else r for r in rows]

    def _in_order(self, rows, ranks):
        prices = [ingredient.price for ingredient in self.usable]
        return amounts_in_order(
            rows,
            len(self.usable),
            self.target.priorities,
            prices=None if None in prices else prices,
            avoid=self._avoided,
            rank=ranks,
        )

    def _without_share(self, rows, error):
        """Return the rows without the share of ammonium, if only that cannot be kept."""
        share = {row.name for row in rows if row.origin == "ammonium share"}
        if not set(error.requirements) <= share:
            metered = any(row.is_metered for row in rows)
            again = self._redrawn if metered else None
            raise explained(rows, self.usable, self.volume, again)
        name = self.water.name or "the water"
        what = f"ammonium cannot be kept in its share: {name} alone breaks it"
        kept = tuple(row for row in rows if row.origin != "ammonium share")
        return kept, (Notice(what, "caution", source_key="ext-general"),)


def _with_water(row, share):
    """Return a row where water makes up a share of the volume."""
    if share == 1.0 or not (row.constant or row.below):
        return row
    below = (*row.below[:-1], row.below[-1] * share) if row.below else ()
    return replace(row, constant=row.constant * share, below=below)


def _tighter(row):
    """Return the row of an EC bound drawn in by what lines may be off; others as they are."""
    if row.limit.subject != "EC" or row.low == row.high:
        return row
    return replace(row, low=row.low * (1 + ROOM), high=row.high * (1 - ROOM))


def _softened(row):
    """Return a hard row as one that is wanted above all."""
    size = max(map(abs, row.coefficients)) or 1.0
    return replace(row, kind="wanted", scale=size, weight=SOFT)


def _step(step, ratio):
    """Return how far on the way to a recipe its lines are drawn, by how fast they near it.

    All the way, unless that swings about what is sought, or comes no nearer at all.
    """
    if ratio > 1 or ratio < -SWINGS:
        return max(step / 2, LEAST_STEP)
    return min(1.0, 2 * step) if ratio > 0 else step
