"""What to buy: which ingredient of the catalogue would bring a recipe nearest its target."""

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from formulate.checks import checked_number
from formulate.errors import Infeasible, InputError, NoConvergence, shortened
from formulate.ingredients.dissolve import poured_litres
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.salts import catalogue
from formulate.recipes.problem import Problem
from formulate.recipes.recipe import Recipe
from formulate.recipes.remarks import harm
from formulate.recipes.requirements import requirements_of, uncalled_traces
from formulate.recipes.solve import solve
from formulate.recipes.stages import amounts_in_order
from formulate.working import Shown, printed

__all__ = ["Addition", "what_to_buy"]

NO_GAIN = 1e-9  # slope of the squared deviations: steeper than this is a gain
LEAST_GAIN = 1e-3  # share of the squared deviations: less is not worth a purchase
TRIED = 2  # times as many as are asked for are solved again, where pH and EC count
RESTRICTED = "restricted"


@dataclass(frozen=True, eq=False)
class Addition(Shown):
    """
    One ingredient that is not on the shelf, and what it would do for a recipe.

    Attributes
    ----------
    ingredient : Ingredient
        What to buy.
    before : Recipe
        The recipe without it.
    left : float
        Share of the squared deviations that would be left. [-]
    squared : float
        The weighted sum of squared deviations without it. [-]
    """

    ingredient: Ingredient
    before: Recipe
    left: float
    squared: float

    @cached_property
    def recipe(self):
        """Return the recipe with it on the shelf."""
        old = self.before
        shelf = [*old.ingredients, *old.barred, self.ingredient]
        return solve(
            old.target,
            shelf,
            volume=old.volume,
            water=old.water,
            requirements=_wider(_own_rows(old), [self.ingredient]),
        )

    @property
    def closer(self):
        """Return how much of the squared deviations goes. [%]"""
        return 100 * (1 - self.left)

    def rows(self):
        """
        Return the weights before and with it.

        Returns
        -------
        tuple of (str, float, float)
            Name, amount before, amount with it, for the batch. [g]

        Examples
        --------
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200, "S": 60}), ["K2SO4"], volume=10)
        >>> what_to_buy(recipe)[0].rows()[0][0]
        'K2SO4'
        """
        before = {i.name: amount for i, amount in self.before.amounts}
        after = {i.name: amount for i, amount in self.recipe.amounts}
        names = dict.fromkeys([*before, *after])
        return tuple((n, before.get(n, 0.0), after.get(n, 0.0)) for n in names)

    @property
    def summary(self):
        """Return in one line how much of it to take and what it is good for."""
        name, unit = self.ingredient.name, self.ingredient.measured_in
        amounts = {i.name: amount for i, amount in self.recipe.amounts}
        grams = printed(amounts.get(name, 0.0), 3)
        was, now = (
            printed(round(100 * math.sqrt(squared), 2), 2)
            for squared in (self.squared, self.squared * self.left)
        )
        told = f"; its sale is {self.ingredient.restricted} in some places"
        return (
            f"{name}, {grams} {unit} a batch: misses fall from {was} to {now} % "
            f"(root of their squares){told if self.ingredient.restricted else ''}"
        )

    def __str__(self):
        lines = [f"{self.ingredient.name}: {self.closer:.0f} % closer"]
        units = {i.name: i.measured_in for i in self.recipe.ingredients}
        lines += [
            f"  {name}: {printed(first)} -> {printed(second)} {units[name]}"
            for name, first, second in self.rows()
        ]
        return "\n".join(lines)


def what_to_buy(recipe, *, restricted=False, most=5):
    """
    Return what of the catalogue would bring a recipe nearer its target.

    The squared deviations fall at first as the slope at the new ingredient's amount 0
    says; where it does not fall, none of it can help, for the deviations are convex. For
    the rest the recipe is solved again. What would leave more harm to plants than there is
    without it (free acid, too much of a trace element), or brings a trace element that nobody asked
    for, is not named.

    Parameters
    ----------
    recipe : Recipe
        The recipe as it is.
    restricted : bool
        Whether to name what is not sold to everybody, such as strong acids.
    most : int
        How many at most. [-]

    Returns
    -------
    tuple of Addition
        What helps most first; empty if nothing of the catalogue helps.

    Raises
    ------
    InputError
        If `restricted` or `most` make no sense.

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> wish = target({"NO3-N": 140, "Ca": 200, "K": 195})
    >>> best = what_to_buy(solve(wish, ["Ca(NO3)2·4H2O"], volume=10), most=1)[0]
    >>> best.ingredient.amount("K") > 0
    True
    """
    if not isinstance(recipe, Recipe):
        raise InputError(f"{shortened(recipe)} is no recipe; make one with solve")
    if not isinstance(restricted, bool):
        raise InputError(f"restricted: {shortened(restricted)}; write True or False")
    most = int(checked_number(most, "how many", least=1))
    candidates = [
        entry
        for entry in catalogue().values()
        if (restricted or entry.restricted != RESTRICTED)
        and not _is_there(entry, recipe)
        and ("urea" not in entry.forms or recipe.target.urea_allowed)
        and not any(uncalled_traces(recipe.target, [entry]))
    ]
    rows = _all_rows(recipe, candidates)
    count = len(recipe.ingredients)
    before = _squared(rows, recipe.optimum.amounts)
    found = []
    for place in _hopeful(rows, recipe, count):
        picked = [_with_one(row, count, count + place) for row in rows]
        best = amounts_in_order(picked, count + 1, recipe.target.priorities, rank=False)
        left = _squared(picked, best.amounts)
        if left < (1 - LEAST_GAIN) * before:
            found.append(Addition(candidates[place], recipe, left / before, before))
    found = sorted(found, key=lambda addition: addition.left)
    if recipe.drawing is not None:
        found = _solved_again(found[: TRIED * most], before)
    return _harmless(found, recipe, most)


def _solved_again(found, before):
    """Return additions by what they leave with pH and EC drawn at each recipe itself."""
    kept = []
    for addition in found:
        try:
            made = addition.recipe
        except (Infeasible, NoConvergence):
            continue  # it helps along the lines alone
        left = _squared(made.requirements, made.optimum.amounts) / before
        if left < 1 - LEAST_GAIN:
            kept.append(replace(addition, left=left))
            vars(kept[-1])["recipe"] = made  # worked out once
    return sorted(kept, key=lambda addition: addition.left)


def _hopeful(rows, recipe, count):
    """Return the places of the candidates that may help.

    Of a recipe with priorities the last stage alone does not tell which: all that count
    for anything asked are tried, if anything is missed.
    """
    if not recipe.target.priorities:
        return np.flatnonzero(_slopes(rows, recipe, count) < -NO_GAIN)
    if _squared(rows, recipe.optimum.amounts) <= NO_GAIN**2:
        return ()
    asked = [row.coefficients[count:] for row in rows if row.origin != "kept low"]
    return np.flatnonzero(np.any(asked, axis=0))


def _harmless(found, recipe, most):
    """Return the first few whose recipe harms plants no more than the one before."""
    before, kept = _harms(recipe), []
    for addition in found:
        after = _harms(addition.recipe)
        if all(grave <= before.get(what, 0) for what, grave in after.items()):
            kept.append(addition)
        if len(kept) == most:
            break
    return tuple(kept)


def _harms(recipe):
    """Return what harms plants, by the first word of its notice, and how gravely."""
    found = {}
    for notice in harm(recipe):
        what, grave = notice.what.split()[0], notice.gravity
        found[what] = max(grave, found.get(what, 0))
    return found


def _is_there(entry, recipe):
    """Return whether the shelf holds an ingredient of that name or that very formula."""
    return any(
        entry.name == other.name
        or (
            entry.formula
            and entry.formula == other.formula
            and entry.is_liquid == other.is_liquid
        )
        for other in (*recipe.ingredients, *recipe.barred)
    )


def _tap(recipe):
    """Return the water of a recipe, less the room that liquids take."""
    share = 1 - poured_litres(recipe.amounts) / recipe.volume
    return Problem.of(recipe).tap(share)


def _own_rows(recipe):
    """Return the rows that came with neither target nor shelf."""
    return [row for row in recipe.requirements if row.origin in ("amount", "caller")]


def _wider(rows, added):
    """Return rows over more ingredients, which count for nothing in them."""
    return [
        replace(row, coefficients=(*row.coefficients, *([0.0] * len(added))))
        for row in rows
    ]


def _all_rows(recipe, candidates):
    """Return the rows of a recipe over its shelf and all candidates, liquids included."""
    everything = (*recipe.ingredients, *candidates)
    rows = requirements_of(recipe.target, everything, _tap(recipe), recipe.drawing)
    asked = {row.origin for row in recipe.requirements}
    kept = [r for r in rows if r.origin != "ammonium share" or r.origin in asked]
    room = [row for row in recipe.requirements if row.origin == "room"]
    return [*kept, *_wider([*room, *_own_rows(recipe)], candidates)]


def _with_one(row, count, place):
    """Return a row over the shelf and one candidate."""
    picked = (*row.coefficients[:count], row.coefficients[place])
    return replace(row, coefficients=picked)


def _values(rows, amounts):
    """Return each wanted row's weight, scale and distance from its bounds."""
    wanted = [row for row in rows if row.kind == "wanted"]
    matrix = np.array([row.coefficients[: len(amounts)] for row in wanted])
    values = matrix @ amounts + np.array([row.constant for row in wanted])
    low, high = (np.array([getattr(r, end) for r in wanted]) for end in ("low", "high"))
    scale = np.array([row.scale for row in wanted])
    weight = np.array([row.weight for row in wanted])
    return weight, scale, (values - np.clip(values, low, high)) / scale


def _squared(rows, amounts):
    """Return the weighted sum of squared deviations."""
    weight, _, misses = _values(rows, amounts)
    return float(weight @ misses**2)


def _slopes(rows, recipe, count):
    """Return how fast half the squared deviations grow with each candidate.

    Each slope is counted for an amount that moves the wanted rows by 1 in all.
    """
    wanted = np.array(
        [row.coefficients[count:] for row in rows if row.kind == "wanted"]
    )
    weight, scale, misses = _values(rows, recipe.optimum.amounts)
    slopes = (weight * misses / scale) @ wanted
    names = {row.name: row for row in rows}
    for row, force in recipe.optimum.forces:
        if row.name in names:
            slopes += force * np.array(names[row.name].coefficients[count:])
    sizes = np.sqrt(((np.sqrt(weight) / scale)[:, None] * wanted) ** 2).sum(axis=0)
    return slopes / np.where(sizes > 0, sizes, 1.0)
