"""How much of a water can be used beside another: the limits kept, the wishes met, least cost.

The shares of the waters are amounts like those of the salts, in litres for each litre of
water, and add up to 1. One linear programme chooses them; the recipe is then solved for
their blend as for any water.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.optimize import linprog

from formulate.checks import checked_number
from formulate.errors import Faults, Infeasible, InputError, NoConvergence, shortened
from formulate.ingredients.water import Water
from formulate.ingredients.water import water as as_water
from formulate.ingredients.water_report import blend_waters
from formulate.notices import Notice
from formulate.recipes.conflict_words import explained
from formulate.recipes.forced import distance
from formulate.recipes.least_squares import nearest_amounts
from formulate.recipes.recipe import Recipe
from formulate.recipes.requirements import HARD, Requirement, requirements_of
from formulate.recipes.solve import checked_shelf, rows_of_amounts, solve
from formulate.recipes.target import Target
from formulate.stoichiometry.quantities import check_volume
from formulate.tables import read_table
from formulate.working import Shown, printed

__all__ = ["WaterShare", "share_of_water"]

NONE = 1e-9  # share of a water: less is rounding
GIVE = 1e-7  # share of a wish by which it may be missed further, for rounding
GAIN = 1e-6  # change of share or cost that counts as one
PER_M3 = 1000.0


@dataclass(frozen=True, eq=False)
class WaterShare(Shown):
    """
    How much of each water to take, and the recipe for their blend.

    Attributes
    ----------
    waters : tuple of Water
        The waters.
    shares : tuple of float
        Share of each in the water of the batch. [-]
    recipe : Recipe
        The recipe for the blend.
    holds_back : tuple of str
        What keeps the first water from a greater share, or the cost from being less: without
        any one of these it would be.
    cost : float or None
        Cost of salts and waters for the batch; None if a price is missing. [currency]
    shelf : object
        The shelf, for comparing other shares.
    amounts : mapping or None
        What the batch may take of each ingredient, as in `solve`. [g]
    notices : tuple of Notice
        What to know, beside the notices of the recipe.
    """

    waters: tuple
    shares: tuple
    recipe: Recipe
    holds_back: tuple
    cost: float | None
    shelf: object
    amounts: Mapping | None = None
    notices: tuple = ()

    @property
    def litres(self):
        """Return (name, litres of the batch) of each water; liquids take their room. [L]"""
        poured = sum(i.millilitres(a) for i, a in self.recipe.amounts) / 1000
        of_water = self.recipe.volume - poured
        names = [one.name or "water" for one in self.waters]
        return tuple(zip(names, (s * of_water for s in self.shares), strict=True))

    @cached_property
    def alone(self):
        """Return the recipe with each water alone; None where limits forbid it."""
        return tuple(
            self._at([one is other for other in self.waters]) for one in self.waters
        )

    def _at(self, shares):
        """Return the recipe at other shares; None where limits forbid it."""
        try:
            blend = _blend(self.waters, shares)
            old = self.recipe
            facts = {"volume": old.volume, "amounts": self.amounts}
            return solve(old.target, self.shelf, water=blend, **facts)
        except Infeasible:
            return None

    def curve(self, points=11):
        """
        Return how the recipe changes with the share of the first of two waters.

        Parameters
        ----------
        points : int
            How many shares from 0 to 1. [-]

        Returns
        -------
        tuple of (float, Recipe or None)
            Share and recipe; None where limits forbid it. [-]

        Raises
        ------
        InputError
            If there are not two waters, or fewer than two points.

        Examples
        --------
        >>> from formulate.recipes.target import target
        >>> wish = target({"K": 200}, limits={"Na": "at most 10"})
        >>> waters = [as_water({"Na": 20}, name="tap"), as_water({}, name="rain")]
        >>> made = share_of_water(wish, ["KNO3"], volume=10, waters=waters)
        >>> [recipe is None for _, recipe in made.curve(3)]
        [False, False, True]
        """
        points = int(checked_number(points, "points", least=2, most=1000))
        if len(self.waters) != 2:
            raise InputError(f"a curve is between two waters, not {len(self.waters)}")
        shares = np.linspace(0, 1, points).tolist()
        return tuple((share, self._at((share, 1 - share))) for share in shares)

    def __str__(self):
        lines = [
            f"{100 * share:.1f} % {name}: {printed(litres)} L"
            for share, (name, litres) in zip(self.shares, self.litres, strict=True)
        ]
        if self.holds_back:
            lines.append(f"held back by {', '.join(self.holds_back)}")
        if self.cost is not None:
            lines.append(f"cost of salts and water: {printed(self.cost, 3)}")
        return "\n".join([*lines, *map(str, self.notices), str(self.recipe)])


def share_of_water(
    target, shelf, *, volume, waters, prices=None, amounts=None, within=None
):
    """
    Return how much of each water to take so that limits are kept and wishes met.

    Parameters
    ----------
    target : Target
        What is wanted, with its limits.
    shelf : iterable of Ingredient or str
        What is at hand.
    volume : float or str
        Final volume. [L]
    waters : sequence of Water or str
        The water to use as much of as can be, then the others.
    prices : sequence of float or None
        Price of each water; if given, salts and water together are to cost least, else
        the share of the first water is to be greatest. [currency/m3]
    amounts : mapping of str to str or pair, or None
        As in `solve`. [g]
    within : float or None
        Share by which a wanted value may be missed; if None, the rule of the table (5 %).
        A value that the best blend misses by more may be missed as much as there. [-]

    Returns
    -------
    WaterShare
        The shares, the recipe for the blend, and what holds the shares back.

    Raises
    ------
    InputError
        With every fault of target, shelf, waters, prices and volume.
    Infeasible
        If no blend keeps the limits.

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> wish = target({"K": 200}, limits={"Na": "at most 50 mg/L"})
    >>> waters = [as_water({"Na": 80}, name="tap"), as_water({}, name="rain")]
    >>> made = share_of_water(wish, ["KNO3"], volume=100, waters=waters)
    >>> round(made.shares[0], 4), made.holds_back
    (0.625, ('Na at most 50 mg/L',))
    """
    faults = Faults("share of water")
    if not isinstance(target, Target):
        faults.add("no target; make one with target({'N': 150, ...})")
    with faults.collecting():
        volume = check_volume(volume)
    waters = _checked_waters(waters, faults)
    usable = checked_shelf(shelf, faults)
    prices = _checked_prices(prices, len(waters), faults)
    with faults.collecting("within"):
        within = _within(within)
    faults.raise_if_any()
    usable = [i for i in usable if target.urea_allowed or "urea" not in i.forms]
    own = rows_of_amounts(
        amounts, getattr(shelf, "on_hand", {}), usable, volume, faults
    )
    faults.raise_if_any()
    rows = _rows(target, usable, waters, own)
    shares, held, notices = _chosen(rows, usable, waters, prices, within, volume)
    blend = _blend(waters, shares)
    facts = {"volume": volume, "amounts": amounts}
    recipe = solve(target, shelf, water=blend, **facts)
    cost = _cost(recipe, shares, prices)
    return WaterShare(waters, shares, recipe, held, cost, shelf, amounts, notices)


def _checked_waters(waters, faults):
    """Return the waters; every fault is noted."""
    if isinstance(waters, str) or not isinstance(waters, tuple | list):
        faults.add("waters: write a list of two waters or more")
        return ()
    found = []
    for place, one in enumerate(waters, 1):
        with faults.collecting(f"water {place}"):
            found.append(one if isinstance(one, Water) else as_water(one))
    if len(waters) < 2:
        faults.add("waters: give two or more, the one to use first")
    return tuple(found)


def _checked_prices(prices, count, faults):
    """Return the prices of the waters per litre; None if none were given."""
    if prices is None:
        return None
    if isinstance(prices, str) or not isinstance(prices, tuple | list):
        faults.add(f"prices: {shortened(prices)}; write one for each water")
        return None
    if len(prices) != count:
        faults.add(f"{len(prices)} prices for {count} waters")
    found = []
    for price in prices:
        with faults.collecting("price of water"):
            found.append(checked_number(price, "price per m3", least=0) / PER_M3)
    return found


def _within(within):
    """Return the share by which a wanted value may be missed."""
    if within is not None:
        return checked_number(within, "share", least=0, most=1)
    rows = {row["rule"]: row for row in read_table("recipe_rules")}
    return rows["miss"].number("high") / 100


def _rows(target, usable, waters, own):
    """Return the rows over salts and waters, the waters' shares adding up to 1."""
    each = [requirements_of(target, usable, one.solution) for one in waters]
    rows = [
        replace(
            row,
            coefficients=(
                *row.coefficients,
                *(same.constant for same in (row, *others)),
            ),
            constant=0.0,
            below=(),
        )
        for row, *others in zip(*each, strict=True)
    ]
    none, ones = (0.0,) * len(waters), (1.0,) * len(waters)
    rows += [replace(row, coefficients=(*row.coefficients, *none)) for row in own]
    whole = (*((0.0,) * len(usable)), *ones)
    rows.append(Requirement("waters", whole, 1.0, 1.0, kind=HARD, origin="waters"))
    return rows


def _chosen(rows, usable, waters, prices, within, volume):
    """Return the shares, what holds them back, and what to know."""
    count = len(usable) + len(waters)
    try:
        best = nearest_amounts(rows, count, rank=False).amounts
    except Infeasible:
        raise explained(rows, [*usable, *waters], volume) from None
    bands, notices = _bands(rows, best, within)
    order = _order(usable, len(waters), prices)
    shares, value, pressed = _programme(bands, order)
    held = []
    for row in pressed:
        rest = [other for other in bands if other is not row]
        if row.origin != "waters" and _programme(rest, order)[1] < value - GAIN:
            held.append(row.name)
    if prices is not None and (free := [i.name for i in usable if i.price is None]):
        what = f"no price for {', '.join(free)}: counted as costing nothing"
        notices = (*notices, Notice(what, "caution"))
    found = np.where(shares[len(usable) :] > NONE, shares[len(usable) :], 0.0)
    shares = tuple((found / found.sum()).tolist())
    return shares, tuple(dict.fromkeys(held)), notices


def _bands(rows, best, within):
    """Return every row as a hard one: wishes as far as they may be missed."""
    bands, notices = [], []
    for row in rows:
        if row.kind == HARD:
            bands.append(row)
        elif row.origin == "target" and row.low > 0:
            least = abs(distance(row, best)) * row.scale
            give = max(within * row.scale, least) + GIVE * row.scale
            if least > within * row.scale:
                what = (
                    f"{row.name} is missed by {100 * least / row.scale:.1f} % at best"
                )
                notices.append(Notice(what, "caution", least, within * row.scale))
            name = f"{row.name}, within {100 * give / row.scale:.3g} %"
            low, high = max(row.low - give, 0.0), row.high + give
            bands.append(replace(row, kind=HARD, low=low, high=high, name=name))
    return bands, tuple(notices)


def _order(usable, count, prices):
    """Return what is to be least: the cost of a litre, or the share of all but the first."""
    if prices is None:
        return np.array([0.0] * len(usable) + [-1.0] + [0.0] * (count - 1))
    salts = [(i.price or 0.0) / PER_M3 for i in usable]
    order = np.array([*salts, *prices])
    return order / (np.abs(order).max() or 1.0)


def _programme(rows, order):
    """Return the amounts of least order within rows, that order, and the rows that press."""
    matrix = np.array([row.coefficients for row in rows])
    low, high = (np.array([getattr(r, end) for r in rows]) for end in ("low", "high"))
    constant = np.array([row.constant for row in rows])
    size = np.abs(matrix).max(axis=1)
    size[size == 0] = 1.0
    lines = np.vstack([matrix / size[:, None], -matrix / size[:, None]])
    levels = np.concatenate([(high - constant) / size, (constant - low) / size])
    finite = np.isfinite(levels)
    result = linprog(order, lines[finite], levels[finite], method="highs-ds")
    if result.status != 0:
        raise NoConvergence(f"the share of water was not found: {result.message}")
    owner = np.flatnonzero(finite) % len(rows)
    pressed = owner[np.abs(result.ineqlin.marginals) > NONE]
    return (
        result.x,
        float(result.fun),
        [rows[i] for i in dict.fromkeys(pressed.tolist())],
    )


def _blend(waters, shares):
    """Return the blend of waters by their shares."""
    used = [(one, float(s)) for one, s in zip(waters, shares, strict=True) if s > NONE]
    return used[0][0] if len(used) == 1 else blend_waters(used)


def _cost(recipe, shares, prices):
    """Return the cost of salts and waters, or None if a price is missing."""
    if prices is None or recipe.cost is None:
        return None
    of_water = sum(price * share for price, share in zip(prices, shares, strict=True))
    return recipe.cost + of_water * recipe.volume
