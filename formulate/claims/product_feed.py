"""A product dosed into the water: what it makes, and how that stands to a target."""

from dataclasses import dataclass, field, replace
from functools import cached_property

from formulate.chemistry.acidity import ph_range
from formulate.chemistry.ionic_conductivity import REFERENCE
from formulate.chemistry.speciation import speciate
from formulate.claims.claim_reading import Claim
from formulate.claims.dose_margins import DoseCase, ec_margin
from formulate.claims.dose_measures import MeasuredDose
from formulate.claims.product_shares import rounding_together
from formulate.errors import Infeasible, InputError, MissingData
from formulate.ingredients.dissolve import dissolve
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.water import Water
from formulate.recipes.solve import solve
from formulate.recipes.target import Target
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.solution import Solution
from formulate.stoichiometry.units import unit
from formulate.working import Shown, printed

__all__ = ["ProductFeed", "dosed_feed", "nearest_feed"]

PERCENT = 100.0
MET = 0.001  # share: what a recipe counts as met
MIXTURE = Ingredient("mixture", {}, dissolved=True)
MADE = MeasuredDose("the doses", "", 1.0)
ANY_EC = Claim("EC", 0.0, 0.0, unit("mS/cm"))
SALT = "{} (single salt)"


@dataclass(frozen=True, eq=False)
class ProductFeed(Shown):
    """
    A product, or several together, dosed into the water.

    Attributes
    ----------
    parts : tuple of (Ingredient, float)
        Each product with how much of it a litre takes, in mL of what is measured so. [g/L]
    solution : Solution
        What comes of it. [mmol/L]
    water : Water
        The water.
    target : Target or None
        What the solution is to hold.
    solved : bool
        Whether the dose is the one nearest to the target.
    refused : tuple of str
        What the target asks for that could not be kept, in words.
    """

    parts: tuple
    solution: Solution = field(repr=False)
    water: Water = field(repr=False)
    target: Target | None = None
    solved: bool = False
    refused: tuple = ()

    @property
    def name(self):
        """Return the product, or the products joined by a plus."""
        return " + ".join(one.name for one, _ in self.parts)

    @property
    def dose_words(self):
        """Return how much of each product a litre takes, in words."""
        several = len(self.parts) > 1
        return ", ".join(
            f"{_dose_words(one, amount)}{f' {one.name}' if several else ''}"
            for one, amount in self.parts
        )

    @property
    def cost_per_litre(self):
        """Return what a litre costs; None without a price. [currency/L]"""
        costs = [one.cost(amount) for one, amount in self.parts]
        return None if None in costs else float(sum(costs))

    # --- pH and EC ---------------------------------------------------------------------------

    @cached_property
    def ph(self):
        """Return the pH, closed to the air, with what the labels leave open of it."""
        unnamed = sum(abs(one.unassigned_charge) * amount for one, amount in self.parts)
        return ph_range(speciate(self.solution), open_charge=float(unnamed))

    @cached_property
    def _ec(self):
        case = DoseCase(MIXTURE, MADE, self.solution, 0.0, self.water, 0.0, False)
        try:
            return ec_margin(case, ANY_EC)
        except MissingData:
            return None, {}

    @property
    def ec(self):
        """Return the EC at 25 °C; None if an ion has no known conductivity. [mS/cm]"""
        return None if self._ec[0] is None else float(self._ec[0])

    @property
    def ec_margin(self):
        """Return how far the EC may be off, by model and unnamed ions. [mS/cm]"""
        return float(sum(self._ec[1].values()))

    @property
    def readings_words(self):
        """Return EC and pH in words."""
        shown = f"EC {printed(self.ec, 3)} ± {printed(self.ec_margin, 2)} mS/cm"
        if self.ec is None:
            shown = "EC not known"
        return f"{shown} at {REFERENCE:g} °C, pH {self.ph.words}"

    # --- against the target -------------------------------------------------------------------

    @cached_property
    def against(self):
        """
        Return each wanted nutrient: key, mg/L there, wanted, off in mg/L, off in %.

        A value within a wanted range is not off; where none is wanted, there is no
        percentage. [-]
        """
        wanted = self.target.wanted if self.target else {}
        return tuple(self._off(key) for key in wanted)

    def _off(self, key):
        """Return one line of `against`."""
        mass, wanted = nutrient(key).molar_mass, self.target.wanted[key]
        there = float(self.solution.mmol_l(key))
        low, high = self.target.ranges.get(key, (wanted, wanted))
        nearest = min(max(there, low), high)
        off = there - nearest
        percent = PERCENT * off / nearest if nearest else None
        if not off:
            percent = 0.0
        return key, there * mass, wanted * mass, off * mass, percent

    def _beyond(self, row):
        """Return whether a line of `against` is off by more than rounding."""
        key, _, wanted, off, _ = row
        return abs(off) > max(MET, rounding_together(self.parts, key)) * wanted

    @property
    def lacking(self):
        """Return the lines of `against` of which there is too little."""
        return tuple(row for row in self.against if row[3] < 0 and self._beyond(row))

    @property
    def too_much(self):
        """Return the lines of `against` of which there is too much."""
        return tuple(row for row in self.against if row[3] > 0 and self._beyond(row))

    @property
    def to_add(self):
        """Return nutrient key to what would have to be added. [mg/L]"""
        return {key: -off for key, _, _, off, _ in self.lacking}

    @property
    def ammonium_share(self):
        """Return the share of ammonium in all nitrogen; None without nitrogen. [-]"""
        total = self.solution.mmol_l("N")
        return float(self.solution.mmol_l("NH4-N") / total) if total else None

    def completed(self, salts):
        """
        Return the recipe that adds single salts to this dose, towards the target.

        Parameters
        ----------
        salts : iterable of Ingredient
            What may be added.

        Returns
        -------
        Recipe
            The dose as it is and what comes to it, for one litre.

        Raises
        ------
        Infeasible
            If the target's limits cannot hold with this dose.

        Examples
        --------
        >>> from formulate.ingredients.salts import salt
        >>> from formulate.ingredients.water import water as as_water
        >>> from formulate.recipes.target import target
        >>> wish = target({"K": 238.235})
        >>> fed = dosed_feed([(salt("KNO3"), 0.5)], as_water({}), wish)
        >>> recipe = fed.completed([salt("K2SO4")])
        >>> [(name, round(grams, 3)) for name, grams in recipe.masses.items()]
        [('KNO3', 0.5), ('K2SO4', 0.1)]
        """
        names = {one.name for one, _ in self.parts}
        added = [
            one.renamed(SALT.format(one.name)) if one.name in names else one
            for one in salts
        ]
        shelf = [*(one for one, _ in self.parts), *added]
        held = {one.name: (amount, amount) for one, amount in self.parts}
        target = _free(self.target, [one for one, _ in self.parts])
        return solve(target, shelf, volume=1.0, water=self.water, amounts=held)

    def __str__(self):
        cost = self.cost_per_litre
        told = "" if cost is None else f", {printed(1000 * cost)} for 1000 L"
        return (
            f"{self.name}, {self.dose_words or 'nothing'}: {self.readings_words}{told}"
        )


def _dose_words(one, amount):
    """Return a dose in words, by volume too where a density is known."""
    volume = one.millilitres(amount) if one.measured_in == "g" else 0.0
    poured = f" ({printed(volume)} mL/L)" if volume else ""
    return f"{printed(amount)} {one.measured_in}/L{poured}"


def dosed_feed(parts, water, target=None):
    """
    Return what products make at a dose.

    Parameters
    ----------
    parts : sequence of (Ingredient, float)
        Each product with how much of it a litre takes. [g/L]
    water : Water
        The water.
    target : Target or None
        What the solution is to hold.

    Returns
    -------
    ProductFeed
        The feed.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.ingredients.water import water as as_water
    >>> print(dosed_feed([(salt("KNO3"), 1.0)], as_water({})).dose_words)
    1.000 g/L
    """
    solution = dissolve(dict(parts), volume=1.0, water=water)
    return ProductFeed(tuple(parts), solution, water, target)


def nearest_feed(products, water, target):
    """
    Return the dose of products, and of nothing else, that comes nearest to a target.

    Nearest by least squares of relative deviations, as `solve` finds it. The share of
    ammonium that a target keeps, and its bar on urea, would leave many a product no dose at
    all; they are set aside and told. So are limits that the products cannot keep.

    Parameters
    ----------
    products : sequence of Ingredient
        One product, or those that are fed together.
    water : Water
        The water.
    target : Target
        What is wanted.

    Returns
    -------
    ProductFeed
        The feed.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.ingredients.water import water as as_water
    >>> from formulate.recipes.target import target
    >>> wish = target({"K": 193.36})
    >>> fed = nearest_feed([salt("KNO3")], as_water({}), wish)
    >>> print(fed.dose_words)
    0.5000 g/L
    """
    free, refused = _free(target, products), []
    if free.urea_allowed and not target.urea_allowed:
        refused.append("the target bars urea, which is counted here")
    try:
        recipe = solve(free, products, volume=1.0, water=water)
    except (Infeasible, InputError) as error:
        if not free.limits:
            raise
        refused += [f"a limit cannot be kept: {fault}" for fault in error.faults]
        recipe = solve(replace(free, limits=()), products, volume=1.0, water=water)
    amounts = {one.name: amount for one, amount in recipe.amounts}
    parts = tuple((one, amounts.get(one.name, 0.0)) for one in products)
    made = dosed_feed(parts, water, target)
    refused += _share_words(made)
    return replace(made, solved=True, refused=tuple(refused))


def _free(target, products):
    """Return a target without a share of ammonium, urea allowed where a product holds it."""
    urea = target.urea_allowed or any("urea" in one.forms for one in products)
    return replace(target, ammonium_share=None, urea_allowed=urea)


def _share_words(made):
    """Yield a share of ammonium that is not what the target keeps, in words."""
    share, asked = made.ammonium_share, made.target.ammonium_share
    if share is None or asked is None:
        return
    low, high = (PERCENT * end for end in asked)
    if not low - MET <= PERCENT * share <= high + MET:
        yield (
            f"ammonium is {PERCENT * share:.0f} % of the nitrogen, the target keeps it "
            f"from {low:g} to {high:g} %"
        )
