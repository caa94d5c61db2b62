"""A recipe: grams per batch, what they achieve, what binds, and the working of each number."""

import math
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

from formulate.chemistry.speciation import speciate
from formulate.ingredients.dissolve import dissolve, poured_litres
from formulate.ingredients.water import Water
from formulate.recipes.drawing import Drawing
from formulate.recipes.least_squares import Optimum
from formulate.recipes.meters import METERS, air_of
from formulate.recipes.recipe_working import recipe_working
from formulate.recipes.remarks import remarks
from formulate.recipes.requirements import brought
from formulate.recipes.target import Target
from formulate.stoichiometry.nutrients import nutrient
from formulate.working import Shown, printed, printed_mg_l, printed_percent

__all__ = ["Recipe"]

NOISE = 1e-12  # share of the ions: less is what adding up leaves
SAME_VALUE = 1e-9  # share: nearer than this to the end of a range is inside
USED = 1e-9  # g/L: less is rounding, not an amount
NITROGEN_PARTS = ("NO3-N", "NH4-N", "urea-N")


@dataclass(frozen=True, eq=False)
class Recipe(Shown):
    """
    What to weigh for a batch, and what it makes.

    Attributes
    ----------
    target : Target
        What was wanted.
    ingredients : tuple of Ingredient
        What could be used, in the order of the shelf.
    water : Water
        The water.
    volume : float
        Final made-up volume. [L]
    requirements : tuple of Requirement
        The rows that were asked for.
    optimum : Optimum
        The numerical result with its checks.
    barred : tuple of Ingredient
        What was left out because of its urea.
    dropped : tuple of Notice
        Rules that could not be kept whatever the recipe, and were dropped.
    drawing : Drawing or None
        The lines of limits on pH and EC, if there are any.
    of_few : bool
        Whether its ingredients were chosen from a larger shelf.
    """

    target: Target
    ingredients: tuple
    water: Water
    volume: float
    requirements: tuple
    optimum: Optimum
    barred: tuple = ()
    dropped: tuple = ()
    drawing: Drawing | None = None
    of_few: bool = False

    @cached_property
    def amounts(self):
        """Return (ingredient, amount) for each ingredient used. [g, or mL of a stock]"""
        pairs = zip(self.ingredients, self.optimum.amounts.tolist(), strict=True)
        return tuple(
            (i, per_litre * self.volume) for i, per_litre in pairs if per_litre > USED
        )

    @cached_property
    def masses(self):
        """Return name to grams per batch, for what is measured in grams. [g]"""
        pairs = {i.name: amount for i, amount in self.amounts if i.measured_in == "g"}
        return MappingProxyType(pairs)

    @cached_property
    def millilitres(self):
        """Return name to millilitres per batch, for every liquid of known volume. [mL]"""
        return MappingProxyType(
            {i.name: i.millilitres(a) for i, a in self.amounts if i.is_liquid}
        )

    @cached_property
    def solution(self):
        """Return the solution that the recipe makes. [mmol/L]"""
        return dissolve(dict(self.amounts), volume=self.volume, water=self.water)

    @cached_property
    def residuals(self):
        """Return nutrient key to (achieved - wanted) / wanted, or / its scale for 0. [-]"""
        achieved = self.solution.mmol_l
        rows = {row.key: row for row in self.requirements if row.origin == "target"}
        return MappingProxyType(
            {
                key: (achieved(key) - wanted) / rows[key].scale
                for key, wanted in self.target.wanted.items()
            }
        )

    @property
    def alkalinity_left(self):
        """Return the alkalinity of the solution, rounding noise taken off. [meq/L]"""
        left = self.solution.alkalinity()
        return left if abs(left) > NOISE * (1 + self.solution.cations()) else 0.0

    @property
    def alkalinity_miss(self):
        """Return how far the alkalinity is from what was wanted, as a share of it. [-]"""
        if self.target.alkalinity is None:
            return 0.0
        low, high = self.target.alkalinity
        left = self.alkalinity_left
        return (left - min(max(left, low), high)) / ((low + high) / 2 or 1.0)

    @property
    def limits(self):
        """Return (limit, value reached, whether it holds the recipe back) for each."""
        found = {}
        for row in self.requirements:
            if row.limit is not None:
                binds = found.get(row.limit, (None, False))[1]
                found[row.limit] = (row, binds or row.name in self.binding)
        amounts = {i.name: amount for i, amount in self.amounts}
        return tuple(
            (held, amounts.get(held.subject, 0.0), binds)
            if row.origin == "amount"
            else (held, held.value(self.solution), binds)
            for held, (row, binds) in found.items()
        )

    @property
    def binding(self):
        """Return the names of the hard requirements that hold the recipe back."""
        return self.optimum.binding

    @property
    def status(self):
        """Return "met" if every wanted value is met within 0.1 %, else "nearest"."""
        misses = [*self.misses.values(), self.alkalinity_miss]
        worst = max(abs(miss) for miss in misses)
        return "met" if worst <= 0.001 else "nearest"

    @property
    def cost(self):
        """Return the cost of the batch, or None if a price is missing. [currency]"""
        costs = [ingredient.cost(amount) for ingredient, amount in self.amounts]
        return None if None in costs else sum(costs)

    @cached_property
    def equivalents(self):
        """Return the names of unused ingredients that some equal recipe would use."""
        if self.optimum.is_unique:
            return ()
        used = {ingredient.name for ingredient, _ in self.amounts}
        places = enumerate(self.ingredients)
        unused = ((j, i.name) for j, i in places if i.name not in used)
        return tuple(name for j, name in unused if self.optimum.can_enter(j))

    @cached_property
    def misses(self):
        """Return nutrient key to residual; 0 within the range that was wanted. [-]"""
        found = {}
        for key, residual in self.residuals.items():
            low, high = self.target.ranges.get(key, (None, None))
            reached = self.solution.mmol_l(key)
            give = SAME_VALUE * reached
            inside = low is not None and low - give <= reached <= high + give
            edge = low if low is not None and reached < low else high
            wanted = self.target.wanted[key]
            beyond = residual if edge is None else (reached - edge) / wanted
            found[key] = 0.0 if inside else beyond
        return MappingProxyType(found)

    @cached_property
    def notices(self):
        """Return what to know about the recipe, the gravest first."""
        return remarks(self)

    def working(self, key):
        """
        Return the arithmetic of one nutrient, ingredient by ingredient.

        Parameters
        ----------
        key : str
            Nutrient key, "EC", "pH" (in balance with the air) or "pH when mixed".

        Returns
        -------
        Working
            What a gram of each ingredient holds, what the batch gets, and the sum.

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
        >>> print(recipe.working("K"))
        K in the recipe: 200.0 mg/L wanted
          1. K in 1 g of KNO3: 1 mol/mol × 39.0983 g/mol ÷ 101.102 g/mol × 1000 mg/g \
= 386.72 mg/g  [stoichiometry]
          2. from KNO3: 5.1717 g ÷ 10 L × 386.72 mg/g = 200.00 mg/L
        """
        if key in METERS:
            air = None if key == "EC" else air_of(key)
            state = speciate(self.solution, air_co2_ppm=air)
            return state.working("EC" if key == "EC" else "pH")
        return recipe_working(self, nutrient(key))

    def to_frame(self):
        """
        Return wanted and achieved values as a table.

        Returns
        -------
        pandas.DataFrame
            One row per nutrient; columns "wanted", "achieved", "from water" in mg/L and
            "deviation" in percent. [mg/L]

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> solve(target({"K": 200}), ["KNO3"], volume=10).to_frame().loc["K", "achieved"].round(3)
        np.float64(200.0)
        """
        import pandas

        columns = ["wanted", "achieved", "from water", "deviation"]
        return pandas.DataFrame.from_dict(
            {row[0]: row[1:] for row in self.rows()}, orient="index", columns=columns
        )

    def rows(self):
        """
        Return what is shown of each nutrient: wanted, achieved, from the water, deviation.

        Returns
        -------
        tuple of tuple
            (key, wanted or None, achieved, from water, deviation or None); the deviation in
            percent, the rest in mg/L. [mg/L]

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> [row[0] for row in solve(target({"K": 200}), ["KNO3"], volume=10).rows()]
        ['K', 'NO3-N']
        """
        wanted_keys = [key for key in self.target.wanted if key != "N"]
        named = {part for key in wanted_keys for part in nutrient(key).weights}
        free = [
            key
            for key, mass, _ in self.solution.rows()
            if not named & set(nutrient(key).weights) and mass > 0 and key != "C"
        ]
        poured = poured_litres(self.amounts)
        of_water = max(1 - poured / self.volume, 0.0)
        rows = []
        for key in (*self.target.wanted, *free):
            wanted = self.target.mg_l(key) if key in self.target.wanted else None
            deviation = 100 * self.misses[key] if wanted else None
            mass = nutrient(key).molar_mass
            tap = brought(key, (), self.water.solution)[1] * mass * of_water
            rows.append((key, wanted, self.solution.mg_l(key), tap, deviation))
        return tuple(rows)

    def __str__(self):
        tap = self.water.name or ("water as given" if self._has_water else "pure water")
        lines = [f"for {self.volume:.6g} L, {tap}"]
        for ingredient, amount in self.amounts:
            volume = ingredient.millilitres(amount)
            poured = f"  ({printed(volume)} mL)" if volume else ""
            poured = poured if ingredient.measured_in == "g" else ""
            in_unit = f"{printed(amount):>9} {ingredient.measured_in}"
            lines.append(f"{in_unit} {ingredient.name}{poured}")
        wide = max([8, *(len(self._asked(key)) for key in self.target.wanted)])
        lines.append(f"{'':>9} {'wanted':>{wide}} {'reached':>8}  mg/L")
        for key, wanted, has, _, deviation in self.rows():
            asked = "" if wanted is None else self._asked(key)
            off = "" if deviation is None else printed_percent(deviation)
            if key in self.target.ranges and not self.misses[key]:
                off = "within its range"
            lines.append(
                f"{key:>9} {asked:>{wide}} {printed_mg_l(has):>8}  {off}".rstrip()
            )
        left = printed(self.alkalinity_left, 3)
        asked = ""
        if self.target.alkalinity is not None:
            ends = dict.fromkeys(self.target.alkalinity)
            asked = f", {' to '.join(printed(end, 3) for end in ends)} wanted"
        lines.append(f"alkalinity left: {left} meq/L{asked}")
        for held, value, binds in self.limits:
            if held.of_amount and not binds:
                continue  # what is on hand and to spare
            asked = " and ".join(held.named(side) for side in held.sides)
            has = f"{printed(value)} {held.unit}".strip()
            if not math.isfinite(value):
                has = "not to be told"
            told = ", which holds the recipe back" if binds else ""
            lines.append(f"kept: {asked}; here {has}{told}")
        return "\n".join([*lines, *map(str, self.notices)])

    def _asked(self, key):
        """Return what was wanted of a nutrient: a value, or both ends of its range."""
        value = self.target.wanted[key]
        ends = dict.fromkeys(self.target.ranges.get(key, (value,)))
        mass = nutrient(key).molar_mass
        return " to ".join(printed_mg_l(end * mass) for end in ends)

    @property
    def _has_water(self):
        return any(self.water.solution.forms.values())
