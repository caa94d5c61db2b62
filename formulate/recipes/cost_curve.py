"""Cost against closeness: what every percent of deviation saves.

Closeness is the worst relative deviation of the wanted values, beyond what the shelf cannot
avoid. The least cost at each is a linear programme with its proof. Over the deviation that
cost is a convex line of straight pieces; where two of them meet follows from their slopes.
"""

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from formulate.checks import checked_number
from formulate.errors import Faults, Infeasible, NoConvergence
from formulate.notices import Notice
from formulate.recipes.bands import ROOM, banded, bound_rows, is_ceiling, own_rows
from formulate.recipes.forced import distance
from formulate.recipes.least_cost import least_cost
from formulate.recipes.prices import checked_prices
from formulate.recipes.recipe import USED, Recipe
from formulate.recipes.requirement import HARD, Requirement
from formulate.recipes.settling_near import settled_near
from formulate.tables import recipe_rule
from formulate.working import Shown, printed, printed_percent

__all__ = ["CostCurve", "CostPoint", "cost_curve"]

PER_CENT = 100.0
SAME = 1e-9  # share: costs and deviations nearer than this are the same
MOST_POINTS = 200
DEEPEST = 60  # halvings between two points


@dataclass(frozen=True)
class CostPoint:
    """
    The least cost at one worst deviation.

    Attributes
    ----------
    deviation : float
        Worst relative deviation of a wanted value, beyond what cannot be avoided. [%]
    cost : float
        Cost of the batch. [currency]
    names : tuple of str
        What is used.
    """

    deviation: float
    cost: float
    names: tuple


@dataclass(frozen=True, eq=False)
class CostCurve(Shown):
    """
    Cost against closeness.

    Attributes
    ----------
    points : tuple of CostPoint
        The least cost at each deviation, the closest first.
    exact : CostPoint
        The recipe at hand, which weighs all deviations against each other.
    recipe : Recipe
        The recipe at hand.
    notices : tuple of Notice
        What cannot be avoided, and what else to know.
    """

    points: tuple
    exact: CostPoint
    recipe: Recipe
    notices: tuple = ()

    def rows(self):
        """
        Return the points as rows.

        Returns
        -------
        tuple of tuple
            (worst deviation in percent, cost of the batch, names of what is used). [%]

        Examples
        --------
        >>> from formulate.ingredients.salts import salt
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), [salt("KNO3", price_per_kg=2)], volume=100)
        >>> [(round(off, 1), round(cost, 4)) for off, cost, _ in cost_curve(recipe, 3).rows()]
        [(0.0, 0.1034), (12.5, 0.0905), (25.0, 0.0776)]
        """
        return tuple((one.deviation, one.cost, one.names) for one in self.points)

    def to_frame(self):
        """
        Return the points as a table.

        Returns
        -------
        pandas.DataFrame
            Columns "deviation" in percent, "cost" of the batch, "used". [%]

        Examples
        --------
        >>> from formulate.ingredients.salts import salt
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), [salt("KNO3", price_per_kg=2)], volume=100)
        >>> cost_curve(recipe).to_frame().shape
        (9, 3)
        """
        import pandas

        rows = [(off, cost, ", ".join(names)) for off, cost, names in self.rows()]
        return pandas.DataFrame(rows, columns=["deviation", "cost", "used"])

    def __str__(self):
        lines = [f"for {self.recipe.volume:.6g} L", "  worst off      cost  used"]
        before = None
        for off, cost, names in self.rows():
            used = ", ".join(names) if names != before else "the same"
            lines.append(f"{off:>9.2f} % {printed(cost):>9}  {used}")
            before = names
        off, cost = self.exact.deviation, printed(self.exact.cost)
        lines.append(f"the exact recipe: {off:.2f} %, {cost}")
        return "\n".join([*lines, *map(str, self.notices)])


def cost_curve(recipe, points=9):
    """
    Return what a batch costs at least, against how far wanted values may be off.

    The first point is the smallest worst deviation that the shelf allows, the last one
    where cost no longer falls, or 25 % by the table of rules. Between them stand the points
    at which other ingredients come in or drop out, one between each two of these, and as
    many more as asked for. What the recipe at hand misses by more than 5 % (the rule of the bands) is
    not to be avoided: deviations of it count from what that recipe reaches.

    Parameters
    ----------
    recipe : Recipe
        The recipe.
    points : int
        How many points at least. [-]

    Returns
    -------
    CostCurve
        The points, and the recipe at hand.

    Raises
    ------
    InputError
        With every fault: no recipe, a number of points that is none.
    MissingData
        If what may be used has no price.
    NoConvergence
        If a cost and its proof differ by more than 1e-7 of the cost.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> bags = [salt("KNO3", price_per_kg=2.0), salt("K2SO4", price_per_kg=1.0)]
    >>> recipe = solve(target({"K": 200, "NO3-N": 60, "S": 10}), bags, volume=100)
    >>> curve = cost_curve(recipe)
    >>> round(curve.points[0].deviation, 2), round(curve.exact.deviation, 2)
    (2.07, 2.37)
    """
    count, prices = _checked(recipe, points)
    asking = _Asking(recipe, prices)
    least = asking.least_deviation()
    most = max(recipe_rule("widest band").number("high") / PER_CENT, 2 * least)
    places = _places(asking, least, most, count)
    found = [asking.point(place) for place in places]
    lost = len(found) - len([one for one in found if one])
    kept = tuple(one for one in found if one)
    own = _point(recipe, recipe.optimum.amounts, asking.own_deviation(), prices)
    return CostCurve(kept, own, recipe, (*asking.unavoidable(), *_lost(lost)))


def _checked(recipe, points):
    """Return the number of points and the prices; every fault at once."""
    faults, count, prices = Faults(), None, None
    with faults.collecting():
        prices = checked_prices(recipe)
    with faults.collecting():
        count = checked_number(points, "number of points", least=2, most=MOST_POINTS)
        if count != int(count):
            faults.add(f"number of points: {count:g} is not a whole number")
    faults.raise_if_any()
    return int(count), prices


def _lost(count):
    """Yield that some points could not be had."""
    if count:
        what = "at so many deviations the rows that depend on the recipe did not hold"
        yield Notice(f"{what} together, so these are left out: {count}", "caution")


def _point(recipe, amounts, deviation, prices):
    """Return a point of the curve for the batch."""
    cost = float(np.dot(prices, amounts)) / 1000 * recipe.volume
    pairs = zip(recipe.ingredients, amounts, strict=True)
    names = tuple(i.name for i, amount in pairs if amount > USED)
    return CostPoint(PER_CENT * deviation, cost, names)


# --- the programme over amounts and deviation ------------------------------------------


@dataclass(frozen=True, eq=False)
class _Line:
    """The least cost of a litre at a deviation, its slope there, and what is used."""

    place: float
    cost: float
    slope: float
    used: frozenset

    def at(self, place):
        return self.cost + self.slope * (place - self.place)


@dataclass(frozen=True, eq=False)
class _Asking:
    """Rows of one recipe with the worst deviation as one more amount, the last."""

    recipe: Recipe
    prices: tuple

    def closest(self, rows):
        """Return the amounts of the smallest worst deviation."""
        own = (0.0,) * len(self.prices)
        return least_cost(self._rows(rows), (*own, 1000.0)).amounts[:-1]

    def least_deviation(self):
        """Return the smallest worst deviation that the shelf allows."""
        try:
            return self._smallest(settled_near(self.recipe, self.closest))
        except (Infeasible, NoConvergence):
            return self.drawn_least()  # pH and EC by their lines at the recipe at hand

    def drawn_least(self):
        """Return the smallest worst deviation by the rows of the recipe at hand."""
        return self._smallest(self.recipe.requirements)

    def _smallest(self, rows):
        own = (0.0,) * len(self.prices)
        return least_cost(self._rows(rows), (*own, 1000.0)).cost

    def own_deviation(self):
        """Return the worst deviation of the recipe at hand."""
        amounts = self.recipe.optimum.amounts
        offs = [
            abs(distance(self._wider(row), amounts))
            for row in bound_rows(self.recipe.requirements)
            if not is_ceiling(row)
        ]
        return max(offs, default=0.0)

    def line(self, place):
        """Return the least cost at a deviation, by the rows of the recipe at hand."""
        best, level = self._best(self.recipe.requirements, place)
        slope = sum(
            worth if side == "low" else -worth
            for row, side, worth in best.proof
            if row is level
        )
        used = frozenset(np.flatnonzero(best.amounts[:-1] > USED).tolist())
        return _Line(place, best.cost, slope, used)

    def point(self, place):
        """Return the point at a deviation; None if its rows do not hold together."""

        def picked(rows):
            return self._best(rows, place)[0].amounts[:-1]

        try:
            amounts = picked(settled_near(self.recipe, picked))
        except (Infeasible, NoConvergence):
            return None
        return _point(self.recipe, amounts, place, self.prices)

    def unavoidable(self):
        """Yield what is counted from where the recipe at hand ends."""
        amounts = self.recipe.optimum.amounts
        for row in bound_rows(self.recipe.requirements):
            if not is_ceiling(row) and self._wider(row) is not row:
                off = printed_percent(PER_CENT * distance(row, amounts))
                what = f"{row.name}: {off} cannot be avoided; counted from there"
                yield Notice(what, "caution", distance(row, amounts))

    def _best(self, rows, place):
        """Return the least cost at a deviation, and the row that sets it."""
        own = (0.0,) * len(self.prices)
        held = place * (1 + SAME)  # so that the smallest still has room
        level = Requirement("deviation", (*own, 1.0), held, held, kind=HARD)
        return least_cost([*self._rows(rows), level], (*self.prices, 0.0)), level

    def _rows(self, rows):
        """Return hard rows, ceilings, and both sides of every wanted row."""
        found = [_with(row, 0.0) for row in own_rows(rows) if row.kind == HARD]
        for row in bound_rows(rows):
            if is_ceiling(row):
                held, _ = banded(row, 0.0, self.recipe.optimum.amounts)
                found.append(_with(held, 0.0))
                continue
            wide, room = self._wider(row), ROOM * row.scale
            for side, sign in (("low", 1.0), ("high", -1.0)):
                end = getattr(wide, side)
                if math.isfinite(end):
                    ends = {"low": -math.inf, "high": math.inf}
                    ends[side] = end - sign * room
                    found.append(replace(_with(row, sign * row.scale), **ends))
        return found

    def _wider(self, row):
        """Return a wanted row, widened to what the recipe at hand reaches if it must."""
        amounts = self.recipe.optimum.amounts
        limit = recipe_rule("band").number("high") / PER_CENT
        if abs(distance(row, amounts)) <= limit + SAME:
            return row
        value = row.constant + float(np.dot(row.coefficients, amounts))
        return replace(row, low=min(row.low, value), high=max(row.high, value))


def _with(row, value):
    """Return a row over one more amount, for which this counts."""
    return replace(row, coefficients=(*row.coefficients, float(value)), below=())


# --- where the points stand ------------------------------------------------------------


def _places(asking, least, most, count):
    """Return the deviations of all points."""
    start = max(least, asking.drawn_least())
    first, last = asking.line(start), asking.line(most)
    kinks = sorted(_kinks(asking, first, last, DEEPEST))
    ends = [start, *(kink for kink in kinks if start < kink < most), most]
    lines = [asking.line((a + b) / 2) for a, b in pairwise(ends)]
    size = max(first.cost, SAME)
    while len(lines) > 1 and abs(lines[-1].slope) * most <= SAME * size:
        lines.pop()
        ends.pop()  # cost no longer falls
    inner = zip(ends[1:], pairwise(lines), strict=False)
    changes = [end for end, (a, b) in inner if a.used != b.used]
    marks = [least, *changes, ends[-1]]
    return _filled(marks, count)


def _kinks(asking, first, last, left):
    """Yield where straight pieces meet between two places, from their slopes."""
    fall = first.slope - last.slope
    size = SAME * max(abs(first.cost), SAME)
    if left <= 0 or last.place - first.place <= SAME or -fall * last.place <= size:
        return
    meet = (last.at(0.0) - first.at(0.0)) / fall
    if not first.place + SAME < meet < last.place - SAME:
        yield min(max(meet, first.place), last.place)
        return
    middle = asking.line(meet)
    if middle.cost <= first.at(meet) + size:
        yield meet
        return
    yield from _kinks(asking, first, middle, left - 1)
    yield from _kinks(asking, middle, last, left - 1)


def _filled(marks, count):
    """Return places with one between each two, and more where gaps are widest."""
    marks = [marks[0], *(b for a, b in pairwise(marks) if b - a > SAME)]
    if len(marks) > 2:
        marks = sorted([*marks, *((a + b) / 2 for a, b in pairwise(marks))])
    if len(marks) == 1:
        return marks
    parts = [1] * (len(marks) - 1)
    gaps = np.diff(marks)
    while sum(parts) + 1 < count:
        parts[int(np.argmax(gaps / parts))] += 1
    places = [marks[0]]
    for (a, b), many in zip(pairwise(marks), parts, strict=True):
        places += [a + (b - a) * k / many for k in range(1, many + 1)]
    return places
