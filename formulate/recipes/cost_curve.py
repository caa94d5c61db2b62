"""Cost against closeness: what every percent of deviation saves.

Closeness is the worst relative deviation of the wanted values; one that is out of reach
counts from the nearest it can be brought. The least cost at each is a linear programme with
its proof. Over the deviation that cost is a convex line of straight pieces; where two of
them meet follows from their slopes.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np

from formulate.checks import checked_number
from formulate.errors import Faults, Infeasible, NoConvergence
from formulate.notices import Notice
from formulate.recipes.bands import reach_of
from formulate.recipes.least_cost import least_cost
from formulate.recipes.prices import checked_prices
from formulate.recipes.problem import Problem
from formulate.recipes.recipe import USED, Recipe
from formulate.recipes.requirement import HARD, Requirement
from formulate.recipes.settling_near import settled_near
from formulate.tables import recipe_rule
from formulate.working import Shown, printed

__all__ = ["CostCurve", "CostPoint", "cost_curve"]

PER_CENT = 100.0
SAME = 1e-9  # share: costs and deviations nearer than this are the same
MOST_POINTS = 200
DEEPEST = 60  # halvings between two points
ROOMS = (
    0.0,
    1e-6,
    1e-5,
    1e-4,
    1e-3,
)  # share: room at the closest end, the least that does
TELLS = 1e-3  # share: more room than this is told
ROOM = 1e-9  # of a scale: so much more for what a programme found to be the least


@dataclass(frozen=True)
class CostPoint:
    """
    The least cost at one worst deviation.

    Attributes
    ----------
    deviation : float
        Worst relative deviation of a wanted value; of one that is out of reach, beyond the
        nearest it can be brought. [%]
    cost : float
        Cost of the batch. [currency]
    names : tuple of str
        What is used.
    amounts : tuple of (Ingredient, float)
        What goes into the batch. [g]
    """

    deviation: float
    cost: float
    names: tuple
    amounts: tuple = ()


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
        What is out of reach, and what else to know.
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
    many more as asked for. What cannot be brought within 5 % (the rule of the bands) even
    by itself is out of reach: deviations of it count from the nearest it can be brought.

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
    first = asking.first()
    least = first.deviation / PER_CENT
    most = max(recipe_rule("widest band").number("high") / PER_CENT, 2 * least)
    places = _places(asking, least, most, count)
    kept = [first]
    for place in places[1:]:
        point = asking.point(place)
        if point is not None and point.deviation > kept[-1].deviation + SAME:
            kept.append(_no_dearer(point, kept[-1]))
    amounts = recipe.optimum.amounts
    own = _point(recipe, amounts, asking.reach.deviation(amounts), prices)
    return CostCurve(tuple(kept), own, recipe, tuple(asking.told()))


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


def _no_dearer(point, closer):
    """Return a point; where lines of pH and EC end a little dearer, the closer recipe does."""
    if point.cost <= closer.cost:
        return point
    return replace(closer, deviation=point.deviation)


def _point(recipe, amounts, deviation, prices):
    """Return a point of the curve for the batch."""
    cost = float(np.dot(prices, amounts)) / 1000 * recipe.volume
    pairs = zip(recipe.ingredients, np.asarray(amounts).tolist(), strict=True)
    used = tuple((i, amount * recipe.volume) for i, amount in pairs if amount > USED)
    names = tuple(i.name for i, _ in used)
    return CostPoint(PER_CENT * deviation, cost, names, used)


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


class _Asking:
    """Rows of one recipe with the worst deviation as one more amount, the last."""

    def __init__(self, recipe, prices):
        self.recipe, self.prices = recipe, prices
        self.start = recipe  # the last recipe whose rows and amounts agree
        self.lost, self.room = 0, 0.0

    @cached_property
    def reach(self):
        """Return what the rows of the recipe at hand can reach."""
        return self.reach_by(self.recipe.requirements)

    def reach_by(self, rows):
        """Return what rows can reach; what the rule of bands puts out of reach is so."""
        band = recipe_rule("band").number("high") / PER_CENT
        return reach_of(rows, len(self.prices), band)

    def first(self):
        """Return the point of the smallest worst deviation, with a little room if it must."""
        for room in ROOMS:
            point = self.point(0.0, room)
            if point is not None:
                self.lost, self.room = 0, room
                return point
        what = "no recipe was found at which closeness and the lines of pH and EC agree"
        raise NoConvergence(what, state=self.recipe)

    def line(self, place):
        """Return the least cost at a deviation, by the rows of the recipe at hand."""
        best, level = self._best(self.reach, place)
        slope = sum(
            worth if side == "low" else -worth
            for row, side, worth in best.proof
            if row is level
        )
        used = frozenset(np.flatnonzero(best.amounts[:-1] > USED).tolist())
        return _Line(place, best.cost, slope, used)

    def point(self, place, room=0.0):
        """Return the point at a deviation, or at the smallest if that is greater.

        None if its amounts and the rows that depend on them do not come to agree.
        """

        def picked(rows):
            return self._at(rows, place, room)[0]

        try:
            rows = settled_near(self.start, picked)
            amounts, off = self._at(rows, place, room)
        except (Infeasible, NoConvergence):
            self.lost += 1
            return None
        self.start = self._recipe_at(rows, amounts)
        return _point(self.recipe, amounts, off, self.prices)

    def _at(self, rows, place, room):
        """Return the amounts of least cost and their deviation, no smaller than there is."""
        reach = self.reach if rows is self.recipe.requirements else self.reach_by(rows)
        off = max(place, reach.least()[0] + room)
        return self._best(reach, off)[0].amounts[:-1], off

    def _recipe_at(self, rows, amounts):
        """Return the recipe of these amounts as a start for the next."""
        own = self.recipe
        if rows is own.requirements:
            return own
        problem = Problem.of(own)
        made, share = problem.made(amounts)
        drawing = own.drawing and problem.drawn(made, own.drawing)
        rows = problem.rows(share, drawing, asked=own.requirements)
        optimum = replace(own.optimum, amounts=amounts)
        return replace(own, requirements=rows, drawing=drawing, optimum=optimum)

    def told(self):
        """Yield what is out of reach, what had to be let in, and what is left out."""
        for notice in filter(None, self.reach.out):
            yield replace(notice, what=f"{notice.what}; counted from there")
        yield from self.reach.told_ceilings
        if self.room > TELLS:
            off = f"{PER_CENT * self.room:.2g} %"
            what = "the closest recipe was found only with room for pH and EC to settle"
            yield Notice(f"{what}: {off}", "note", self.room)
        if self.lost:
            what = "at so many deviations pH, EC and the amounts do not come to agree"
            yield Notice(f"{what}, so these are left out: {self.lost}", "caution")

    def _best(self, reach, place):
        """Return the least cost at a deviation, and the row that sets it."""
        own = (0.0,) * len(self.prices)
        held = place * (1 + SAME) + 2 * ROOM  # so that the smallest still has room
        level = Requirement("deviation", (*own, 1.0), held, held, kind=HARD)
        rows = [*reach.programme(), level]
        return least_cost(rows, (*self.prices, 0.0)), level


# --- where the points stand ------------------------------------------------------------


def _places(asking, least, most, count):
    """Return the deviations of all points."""
    start = max(least, asking.reach.least()[0])
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
