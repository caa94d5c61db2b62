"""The cheapest recipe that keeps every hard row and every wish within a band.

The least cost comes from a linear programme with its proof (`least_cost`). Recipes that
cost the same are told apart by the house rule: the nearest to what is wanted is taken. What
the proof says of them all is exact: rows that cost money stand on their bounds, and what
would cost more than it is worth is not used.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from formulate.checks import checked_number
from formulate.errors import (
    Faults,
    FormulateError,
    Infeasible,
    NoConvergence,
    shortened,
)
from formulate.notices import Notice, gravest_first
from formulate.recipes.bands import reach_of
from formulate.recipes.equal_cost import nearest_of_equal_cost
from formulate.recipes.least_cost import least_cost
from formulate.recipes.prices import checked_prices
from formulate.recipes.recipe import Recipe
from formulate.recipes.remarks import harm
from formulate.recipes.requirement import WANTED, Requirement
from formulate.recipes.requirements import uncalled_traces
from formulate.recipes.settling_near import settled_near
from formulate.recipes.wishes import NEAR, WITHIN, bound_rows, is_ceiling, own_rows
from formulate.recipes.worths import worth_of
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import recipe_rule
from formulate.working import Shown, printed

__all__ = ["Cheapest", "cheapest"]

FIRST = 1e6  # weight of the cost against squared deviations: it is looked at first
SAME_COST = 1e-7  # share: nearer than this two costs are the same
TINY = 1e-9  # currency/L: less is no cost
PER_CENT = 100.0
A_SHARE = " (a share: write 0.05 for 5 %)"


@dataclass(frozen=True, eq=False)
class Cheapest(Shown):
    """
    The cheapest recipe within the bands.

    Attributes
    ----------
    recipe : Recipe
        The recipe; its requirements hold the bands.
    cost : float
        Cost of the batch. [currency]
    before : float
        Cost of the batch by the exact recipe. [currency]
    exact : Recipe
        The exact recipe.
    within : mapping of str to float
        Nutrient key to the band asked for. [-]
    worth : tuple of Worth
        What each row that costs money would save, the largest first within a unit.
    gap : float
        What the cost and the proof that nothing is cheaper differ by, of the cost. [-]
    notices : tuple of Notice
        What to know, the gravest first; those of the recipe stay there.
    """

    recipe: Recipe
    cost: float
    before: float
    exact: Recipe
    within: Mapping
    worth: tuple
    gap: float
    notices: tuple = ()

    def __post_init__(self):
        object.__setattr__(self, "within", MappingProxyType(dict(self.within)))

    @property
    def saved(self):
        """Return what the batch is cheaper by than the exact recipe. [currency]"""
        return self.before - self.cost

    def rows(self):
        """
        Return the amounts of both recipes, and what they cost.

        Returns
        -------
        tuple of tuple
            (name, exact amount, amount, unit, exact cost, cost) of the batch for whatever
            either uses, in the order of the shelf. [g]

        Examples
        --------
        >>> from formulate.ingredients.salts import salt
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), [salt("KNO3", price_per_kg=2)], volume=10)
        >>> [(row[0], round(row[2], 3)) for row in cheapest(recipe, within=0.1).rows()]
        [('KNO3', 4.655)]
        """
        first, second = (
            {i.name: amount for i, amount in one.amounts}
            for one in (self.exact, self.recipe)
        )
        used = (i for i in self.recipe.ingredients if i.name in first | second)
        found = []
        for i in used:
            was, now = (amounts.get(i.name, 0.0) for amounts in (first, second))
            found.append((i.name, was, now, i.measured_in, i.cost(was), i.cost(now)))
        return tuple(found)

    def to_frame(self):
        """
        Return the amounts of both recipes, and what they cost, as a table.

        Returns
        -------
        pandas.DataFrame
            One row per ingredient. [g]

        Examples
        --------
        >>> from formulate.ingredients.salts import salt
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), [salt("KNO3", price_per_kg=2)], volume=10)
        >>> cheapest(recipe).to_frame().loc["KNO3", "unit"]
        'g'
        """
        import pandas

        columns = ["exact", "cheapest", "unit", "exact cost", "cost"]
        return pandas.DataFrame.from_dict(
            {row[0]: row[1:] for row in self.rows()}, orient="index", columns=columns
        )

    def __str__(self):
        was, now = printed(self.before), printed(self.cost)
        share = (
            f" ({-PER_CENT * self.saved / self.before:+.1f} %)" if self.before else ""
        )
        lines = [f"for {self.recipe.volume:.6g} L: {now} in place of {was}{share}"]
        lines.append(self._asked())
        for name, was, now, unit, *_ in self.rows():
            lines.append(f"{printed(now):>9} {unit} {name}  (exact: {printed(was)})")
        if self.worth:
            lines.append("what holding these costs a batch:")
            lines += [f"  {worth}" for worth in self.worth]
        return "\n".join([*lines, *map(str, self.notices)])

    def _asked(self):
        """Return the bands in one line."""
        told = {key: f"{PER_CENT * share:g} %" for key, share in self.within.items()}
        bands = set(told.values())
        if len(bands) < 2:
            return "".join(f"each wanted value within {band}" for band in bands)
        parts = [f"{key or 'others'} {band}" for key, band in told.items()]
        return f"within: {', '.join(parts)}"


def cheapest(recipe, *, within=None):
    """
    Return the cheapest recipe that keeps hard rows, and wishes within a band.

    A wanted range is widened by the band either way. What is wanted at 0 or kept low unasked
    may come along up to its scale (traces: up to where plants suffer). What the hard rows
    keep further away than its band is held as near as it can be brought; if the bands cannot
    hold together, the smallest share that can takes their place. Of equally cheap recipes
    the one nearest to what is wanted is taken.

    Parameters
    ----------
    recipe : Recipe
        The exact recipe.
    within : float or mapping of str to float, or None
        Band of every wanted value, or nutrient key to band; of what is not named, and if
        None, 0.05 by the table of rules. [-]

    Returns
    -------
    Cheapest
        The recipe, what it costs, and what holding each row costs.

    Raises
    ------
    InputError
        With every fault: no recipe, bands that are no shares, keys that are not wanted.
    MissingData
        If what may be used has no price; every one is named.
    NoConvergence
        If cost and proof differ by more than 1e-7 of the cost.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> bags = [salt("KNO3", price_per_kg=2.0), salt("K2SO4", price_per_kg=1.0)]
    >>> recipe = solve(target({"K": 200, "NO3-N": 60}), bags, volume=100)
    >>> found = cheapest(recipe, within={"K": 0.05, "NO3-N": 0.2})
    >>> round(found.before, 3), round(found.cost, 3)
    (0.094, 0.082)
    """
    shares, prices = _checked(recipe, within)
    picking, rows = _settled(recipe, shares, prices)
    best, optimum, held, told = picking.picked(rows)
    asked = (*own_rows(rows), *held, *_cost_row(best, prices))
    new = replace(recipe, requirements=asked, optimum=optimum)
    notices = gravest_first((*told, *_remarks(recipe, new)))
    counted = (worth for worth in best.worths if worth[0].origin != NEAR)
    worths = [worth_of(new, *worth) for worth in counted]
    ordered = tuple(sorted(worths, key=lambda worth: (worth.unit, -worth.saved)))
    costs = (new.cost, recipe.cost)
    return Cheapest(new, *costs, recipe, shares, ordered, best.gap, notices)


# --- what is asked ---------------------------------------------------------------------


def _checked(recipe, within):
    """Return nutrient key to band, and the prices; every fault at once."""
    faults, default = Faults(), recipe_rule("band").number("high") / PER_CENT
    given = within if isinstance(within, Mapping) else {}
    keys = prices = None
    with faults.collecting():
        prices = checked_prices(recipe)
    if isinstance(recipe, Recipe):
        rows = bound_rows(recipe.requirements)
        keys = list(dict.fromkeys(row.key for row in rows if not is_ceiling(row)))
    if within is not None and not isinstance(within, Mapping):
        with faults.collecting():
            default = checked_number(within, f"within{A_SHARE}", least=0, most=1)
    found = dict.fromkeys(keys or (), default)
    for key, share in given.items():
        where = f"within {shortened(key)[1:-1]}"
        with faults.collecting(where):
            number = checked_number(share, f"band{A_SHARE}", least=0, most=1)
            found[_known_key(key, keys)] = number
        if keys is not None and _known_key(key, keys) not in keys:
            faults.add(
                f"{where}: no value of it is wanted; there are {', '.join(keys)}"
            )
    faults.raise_if_any()
    return found, prices


def _known_key(key, keys):
    """Return a nutrient key as the rows write it."""
    if keys is None or key in keys:
        return key
    try:
        return nutrient(key).key
    except FormulateError:
        return key


# --- what is picked --------------------------------------------------------------------


def _settled(recipe, shares, prices):
    """Return what picks, and the rows drawn at what it picks."""
    picking = _Picking(recipe, shares, prices)
    try:
        rows = settled_near(recipe, picking.amounts)
        picking.amounts(rows)
    except (Infeasible, NoConvergence) as error:
        what = (
            "no recipe was found at which cost, bands and the lines of pH and EC agree"
        )
        raise NoConvergence(f"{what}: {error}", state=recipe) from error
    return picking, rows


@dataclass(frozen=True, eq=False)
class _Picking:
    """The bands of one recipe, and the amounts picked within them."""

    recipe: Recipe
    shares: Mapping
    prices: tuple

    def amounts(self, rows):
        """Return the amounts of the nearest recipe at the least cost."""
        return self.picked(rows)[1].amounts

    def picked(self, rows):
        """Return least cost, the nearest recipe at it, the bands and their notices."""
        reach = reach_of(rows, len(self.prices), self.shares)
        held = [*reach.rows(), *reach.near]
        best = least_cost([*reach.hard, *held], self.prices)
        wishes = [row for row in own_rows(rows) if row.kind == WANTED]
        optimum = nearest_of_equal_cost(
            [*reach.hard, *held],
            wishes,
            best,
            avoid=uncalled_traces(self.recipe.target, self.recipe.ingredients),
            priorities=self.recipe.target.priorities,
        )
        spent = float(np.dot(self.prices, optimum.amounts)) / 1000
        if abs(spent - best.cost) > SAME_COST * max(best.cost, TINY):
            what = f"the nearest recipe costs {spent:g} a litre, not {best.cost:g}"
            raise NoConvergence(what, state=(best, optimum))
        forces = tuple(pair for pair in optimum.forces if pair[0].origin != NEAR)
        told = (*reach.told, *_near_only(reach.near, best))
        return best, replace(optimum, forces=forces), reach.rows(), told


def _near_only(near, best):
    """Yield that the least cost is sure only near the recipe, if rows held it there."""
    if any(row.origin == NEAR for row, *_ in best.proof):
        what = "the curves of pH and EC bend: nothing near this recipe is cheaper"
        yield Notice(f"{what}, one further away may be", "caution")


def _cost_row(best, prices):
    """Return the row that keeps the cost low where a recipe is rounded or looked into."""
    if best.cost <= 0:
        return ()
    per_gram = tuple(price / 1000 for price in prices)
    facts = {"unit": "currency/L", "scale": best.cost, "weight": FIRST}
    return (
        Requirement("the least cost", per_gram, high=best.cost, origin=WITHIN, **facts),
    )


# --- words -----------------------------------------------------------------------------


def _remarks(recipe, new):
    """Yield what is passed over, and whether anything was saved."""
    weights = recipe.target.weights
    free = [key for key in recipe.target.wanted if weights.get(key) == 0]
    if free:
        yield Notice(f"of weight 0, so not held to a band: {', '.join(free)}")
    if new.cost > recipe.cost * (1 + SAME_COST):
        more = printed(new.cost - recipe.cost, 3)
        yield Notice(
            f"the exact recipe costs {more} less, but it does not keep the bands"
        )
    elif new.cost >= recipe.cost * (1 - SAME_COST):
        yield Notice("the exact recipe is already as cheap as any within the bands")
    known = {(_subject(notice), notice.gravity) for notice in harm(recipe)}
    for notice in harm(new):
        if notice.gravity and (_subject(notice), notice.gravity) not in known:
            yield notice


def _subject(notice):
    """Return what a notice is about, without its numbers."""
    return "".join(sign for sign in notice.what if not sign.isdigit())
