"""A recipe: grams per batch, what they achieve, what binds, and the working of each number."""

from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

from formulate.ingredients.dissolve import dissolve
from formulate.ingredients.water import Water
from formulate.notices import Notice
from formulate.recipes.least_squares import Optimum
from formulate.recipes.requirements import brought
from formulate.recipes.target import Target
from formulate.stoichiometry.formula import parse_formula
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import read_table
from formulate.working import (
    Quantity,
    Shown,
    Step,
    Working,
    printed,
    printed_mg_l,
    printed_percent,
)

__all__ = ["Recipe"]

USED = 1e-9  # g/L: less is rounding, not an amount
SAME_VALUE = 1e-9


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
    """

    target: Target
    ingredients: tuple
    water: Water
    volume: float
    requirements: tuple
    optimum: Optimum
    barred: tuple = ()

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
            {key: (achieved(key) - row.high) / row.scale for key, row in rows.items()}
        )

    @property
    def binding(self):
        """Return the names of the hard requirements that hold the recipe back."""
        return self.optimum.binding

    @property
    def status(self):
        """Return "met" if every wanted value is met within 0.1 %, else "nearest"."""
        worst = max((abs(miss) for miss in self.residuals.values()), default=0.0)
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

    # --- words -------------------------------------------------------------------------

    @cached_property
    def notices(self):
        """Return what to know about the recipe, the gravest first."""
        found = [
            *self._miss_notices(),
            *self._water_notices(),
            *self._nitrogen_notices(),
            *self._choice_notices(),
            *self._kept_low_notices(),
            *self.target.notices,
            *self.water.notices,
        ]
        gravity = {"serious": 0, "caution": 1, "note": 2}
        return tuple(sorted(found, key=lambda notice: gravity[notice.severity]))

    def _miss_notices(self):
        limit, grave = (
            _rule(name).number("high") / 100 for name in ("miss", "large miss")
        )
        for key, miss in self.residuals.items():
            row, constant = brought(key, self.ingredients, self.water.solution)
            wanted = self.target.wanted[key]
            known = nutrient(key)
            has = printed_mg_l(self.solution.mg_l(key))
            if wanted == 0:
                if miss > limit:
                    what = f"{key}: as little as possible was wanted, {has} mg/L came along"
                    yield Notice(what, "caution", miss, limit)
                continue
            asked = printed_mg_l(self.target.mg_l(key))
            severity = "serious" if abs(miss) > grave else "caution"
            if constant > wanted * (1 + SAME_VALUE):
                brings = printed_mg_l(constant * known.molar_mass)
                what = f"{key}: the water alone brings {brings} mg/L, {asked} mg/L is wanted"
                yield Notice(
                    what, severity if miss > limit else "note", constant, wanted
                )
            elif not any(value > 0 for value in row) and constant < wanted:
                what = f"{key}: nothing on the shelf carries it ({asked} mg/L wanted, {has} there)"
                yield Notice(what, "serious", miss, limit)
            elif abs(miss) > limit:
                more = "over" if miss > 0 else "short"
                what = (
                    f"{key}: {asked} mg/L wanted, {has} reached, {abs(miss):.0%} {more}"
                )
                yield Notice(what, severity, miss, limit)

    def _water_notices(self):
        row = _rule("alkalinity")
        alkalinity = self.water.alkalinity
        if alkalinity is not None and alkalinity > row.number("high"):
            what = (
                f"the water holds {alkalinity:.1f} meq/L of alkalinity, above "
                f"{row.number('high'):g}: pH will climb unless acid takes it up; "
                "this recipe does not reckon with pH"
            )
            yield Notice(
                what, "caution", alkalinity, row.number("high"), row["source_key"]
            )

    def _nitrogen_notices(self):
        if self.barred:
            names = ", ".join(ingredient.name for ingredient in self.barred)
            yield Notice(
                f"left out because plants without soil take urea up poorly: {names}"
            )
        share = self.target.ammonium_share
        nitrogen = self.solution.mmol_l("N")
        if share is not None and nitrogen > 0:
            has = self.solution.mmol_l("NH4-N") / nitrogen
            kept = f"{100 * share[0]:g} to {100 * share[1]:g} % of nitrogen"
            held = " (it binds)" if any("of N" in name for name in self.binding) else ""
            source = _rule("ammonium share")["source_key"]
            what = f"ammonium is kept at {kept}{held}; here {has:.1%}"
            yield Notice(what, "note", has, share[1], source)

    def _choice_notices(self):
        if self.optimum.is_unique:
            return
        by = ", ".join(self.optimum.ranked_by) or "as found"
        names = ", ".join(self.equivalents)
        also = f"; could stand in: {names}" if names else ""
        yield Notice(f"other weights reach the same values; chosen by {by}{also}")
        missing = [i.name for i in self.ingredients if i.price is None]
        if missing and len(missing) < len(self.ingredients):
            yield Notice(f"cost was not compared, no price for: {', '.join(missing)}")

    def _kept_low_notices(self):
        for row in self.requirements:
            if row.origin != "kept low":
                continue
            from_shelf = sum(
                c * a
                for c, a in zip(row.coefficients, self.optimum.amounts, strict=True)
            )
            if from_shelf > row.scale:
                mass = printed(from_shelf * nutrient(row.key).molar_mass)
                what = f"{row.key}: the shelf brings {mass} mg/L that nobody asked for"
                yield Notice(
                    what, "caution", from_shelf, row.scale, "mattson-peters-2014"
                )

    # --- the working -------------------------------------------------------------------

    def working(self, key):
        """
        Return the arithmetic of one nutrient, ingredient by ingredient.

        Parameters
        ----------
        key : str
            Nutrient key.

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
          1. K in 1 g of KNO3: 1 mol/mol × 39.0983 g/mol ÷ 101.102 g/mol × 1000 mg/g = 386.72 mg/g  [stoichiometry]
          2. from KNO3: 5.1717 g ÷ 10 L × 386.72 mg/g = 200.00 mg/L
        """
        known = nutrient(key)
        steps, shares = [], []
        if self.water.solution.mg_l(known) > 0:
            shares.append(self._water_step(known))
            steps.append(shares[-1])
        for ingredient, amount in self.amounts:
            if ingredient.amount(known):
                content = _content_step(ingredient, known)
                shares.append(self._share_step(ingredient, amount, content))
                steps += [content, shares[-1]]
        if len(shares) != 1:
            terms = [Quantity(0.0, "mg/L")] if not shares else []
            for share in shares:
                terms += ["+"] * bool(terms) + [Quantity(share.value, "mg/L")]
            steps.append(Step(f"{known.key} in all", tuple(terms), "mg/L"))
        asked = ""
        if known.key in self.target.wanted:
            asked = f": {printed_mg_l(self.target.mg_l(known))} mg/L wanted"
        return Working(f"{known.key} in the recipe{asked}", tuple(steps))

    def _share_step(self, ingredient, amount, content):
        """Return the line of what one ingredient gives to a litre."""
        weighed = Quantity(amount, ingredient.measured_in)
        per = Quantity(content.value, content.unit)
        terms = (weighed, "÷", Quantity(self.volume, "L"), "×", per)
        return Step(f"from {ingredient.name}", terms, "mg/L")

    def _water_step(self, known):
        """Return the line of what the water brings, less the room that liquids take."""
        tap = (
            Quantity(self.water.solution.mmol_l(known), "mmol/L"),
            "×",
            Quantity(known.molar_mass, "mg/mmol"),
        )
        poured = sum(i.millilitres(amount) for i, amount in self.amounts) / 1000
        source = self.water.source_key.split(";")[0]
        if not poured:
            return Step("from the water", tap, "mg/L", source)
        litres = (Quantity(self.volume - poured, "L"), "÷", Quantity(self.volume, "L"))
        return Step("from the water", (*tap, "×", *litres), "mg/L", source)

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
        named = {part for key in self.target.wanted for part in nutrient(key).weights}
        free = [
            key
            for key, mass, _ in self.solution.rows()
            if not named & set(nutrient(key).weights) and mass > 0
        ]
        rows = []
        for key in (*self.target.wanted, *free):
            wanted = self.target.mg_l(key) if key in self.target.wanted else None
            deviation = 100 * self.residuals[key] if wanted else None
            mass = nutrient(key).molar_mass
            tap = brought(key, (), self.water.solution)[1] * mass
            rows.append((key, wanted, self.solution.mg_l(key), tap, deviation))
        return tuple(rows)

    def __str__(self):
        lines = [f"for {self.volume:g} L, {self.water.name or 'pure water'}"]
        for ingredient, amount in self.amounts:
            millilitres = ingredient.millilitres(amount)
            poured = (
                f"  ({printed(millilitres)} mL)"
                if ingredient.measured_in == "g" and millilitres
                else ""
            )
            lines.append(
                f"{printed(amount):>9} {ingredient.measured_in} {ingredient.name}{poured}"
            )
        lines.append(f"{'':>9} {'wanted':>8} {'reached':>8}  mg/L")
        for key, wanted, has, _, deviation in self.rows():
            asked = "" if wanted is None else printed_mg_l(wanted)
            off = "" if deviation is None else printed_percent(deviation)
            lines.append(f"{key:>9} {asked:>8} {printed_mg_l(has):>8}  {off}".rstrip())
        return "\n".join([*lines, *map(str, self.notices)])


def _rule(name):
    return next(row for row in read_table("recipe_rules") if row["rule"] == name)


def _content_step(ingredient, known):
    """Return the line of how much of a nutrient one gram of an ingredient holds."""
    title = f"{known.key} in 1 {ingredient.measured_in} of {ingredient.name}"
    if not ingredient.formula:
        per = Quantity(ingredient.percent(known), "%")
        basis = "mg/g" if ingredient.measured_in == "g" else "mg/mL"
        ten = Quantity(10.0, f"{basis} per %")
        source = ingredient.source_key.split(";")[0]
        return Step(title, (per, "×", ten), basis, source)
    moles = known.amount(parse_formula(ingredient.formula).forms)
    terms = [
        Quantity(moles, "mol/mol"),
        "×",
        Quantity(known.molar_mass, "g/mol"),
        "÷",
        Quantity(parse_formula(ingredient.formula).molar_mass, "g/mol"),
        "×",
        Quantity(1000.0, "mg/g"),
    ]
    if ingredient.purity_percent != 100:
        terms += [
            "×",
            Quantity(ingredient.purity_percent, "%"),
            "÷",
            Quantity(100.0, "%"),
        ]
    return Step(title, tuple(terms), "mg/g", "stoichiometry")
