"""What a concentrate is worth: solids in the cold and the warm, solubility, company.

A soluble salt is judged by its handbook solubility like a solid by its index: with s the
share that its ions use of it and ν the number of its ions. Solids differ in how far above
saturation they stay away (chalk farther than gypsum), so a concentrate is graded by how far
each index is from where its solid is likely.

Equation of how near a concentrate is to clouding [definition]::

    index = ν log10 s                       0 in the saturated solution of the salt alone
    distance = index − likely index of the solid       likely at 0 of a soluble salt
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from formulate.chemistry.risks import RISKS, likely_from, salt_shares
from formulate.chemistry.solids import mineral_names
from formulate.errors import MissingData
from formulate.ingredients.hazards import is_meant
from formulate.ingredients.solubility import solubility
from formulate.mixing.batch import Batch, column_of
from formulate.mixing.nearness import (
    WORST,
    Nearness,
    level_of,
    mixing_rule,
    most_of,
    nearness,
)
from formulate.mixing.order_paths import all_sets
from formulate.mixing.tank_split import Splits
from formulate.stoichiometry.formula import parse_formula
from formulate.stoichiometry.nutrients import form
from formulate.tables import read_table

__all__ = ["Concentrates", "concentrates", "density_of", "splits_of"]

PERCENT, CLEAR, LIKELY, CHALK = 100.0, 0, 2, "calcite"
SALTS = "soluble salts"  # their line in the table solid_risks
CLOUDY = 1000.0  # grades above every one that stays clear


@dataclass(frozen=True, eq=False)
class Concentrates:
    """
    Many concentrates as one stack: parts of a batch in a litre each.

    Attributes
    ----------
    batch : Batch
        What a litre of concentrate would hold if everything were in it.
    shares : array, shape (m, n)
        How much of each ingredient is in each. [-]
    cold : Nearness
        Each at the coldest temperature.
    warm : Nearness
        Each in the warm.
    """

    batch: Batch
    shares: np.ndarray
    cold: Nearness
    warm: Nearness

    @cached_property
    def indices(self):
        """Return solid to its index, the larger of cold and warm, where it counts. [-]"""
        warm = self.warm.counting
        return {k: np.maximum(v, warm.get(k, v)) for k, v in self.cold.counting.items()}

    @cached_property
    def of_traces(self):
        """Return solid to its index, of those that take trace elements slowly. [-]"""
        state = self.warm.state
        found = {k: state.saturation_index(k) for k in mineral_names("trace")}
        return {k: np.asarray(v) for k, v in found.items() if np.isfinite(v).any()}

    @cached_property
    def uses(self):
        """Return salt to the share that is used of its solubility in the cold. [%]"""
        found = {k: np.asarray(v) for k, v in salt_shares(self.cold.state).items()}
        water, temperature = self.cold.state.water_kg_l, self.cold.state.temperature
        for place, (ingredient, amount) in enumerate(self.batch.amounts):
            if ingredient.is_liquid or not ingredient.formula:
                continue
            try:
                most = solubility(ingredient, temperature).per_100g_water
            except MissingData:
                continue
            grams = self.shares[:, place] * amount / self.batch.volume
            own = PERCENT * grams / (10.0 * most * water)
            waterless = parse_formula(ingredient.formula).text.partition("·")[0]
            if not any(waterless == salt.partition("·")[0] for salt in found):
                found[ingredient.name] = own
        return found

    @cached_property
    def use(self):
        """Return the largest share of a solubility that each uses. [%]"""
        none = np.zeros(len(self.shares))
        return np.max([none, *self.uses.values()], axis=0)

    @cached_property
    def distance(self):
        """Return how far the nearest solid of each is from being likely. [-]"""
        rows = [np.full(len(self.shares), -np.inf)]
        rows += [v - clouds_from(name) for name, v in self.indices.items()]
        for salt, share in self.uses.items():
            with np.errstate(divide="ignore"):
                rows.append(_ions(salt) * np.log10(share / PERCENT))
        return np.where(self.settled, np.max(rows, axis=0), WORST)

    @property
    def settled(self):
        """Return whether the equations of each came to rest, in the cold and in the warm."""
        return self.cold.settled & self.warm.settled

    def likely_solids(self, place):
        """
        Return the solids that are likely to fall out of one, what there is most of first.

        Parameters
        ----------
        place : int
            Which concentrate. [-]

        Returns
        -------
        list of str
            Names.

        Examples
        --------
        >>> from formulate.mixing.batch import batch_of
        >>> strong = batch_of({"CaCl2": 50.0, "MgSO4": 50.0}, volume=1)
        >>> concentrates(strong, [[1, 1]], coldest=10).likely_solids(0)
        ['gypsum']
        """
        near = {k: v[place] - clouds_from(k) for k, v in self.indices.items()}
        solution = column_of(self.cold.state.solution, place)
        return sorted(
            (name for name, above in near.items() if above >= 0),
            key=lambda name: -most_of(name, solution.forms),
        )

    def levels(self):
        """
        Return how grave it is: the gravest level of any solid or salt of each.

        Returns
        -------
        array of int
            A place in `risks.RISKS`: 0 none, 1 watch, 2 likely, 3 certain. [-]

        Examples
        --------
        >>> from formulate.mixing.batch import batch_of
        >>> strong = batch_of({"CaCl2": 50.0, "MgSO4": 50.0}, volume=1)
        >>> concentrates(strong, [[1, 0], [1, 1]], coldest=10).levels().tolist()
        [0, 3]
        """
        found = np.zeros(len(self.shares), int)
        for name, index in self.indices.items():
            found = np.maximum(found, stock_level(name, index))
        for share in self.uses.values():
            over = np.where(
                share > PERCENT, np.maximum(LIKELY, level_of(SALTS, share)), CLEAR
            )
            found = np.maximum(found, over)
        return np.where(self.settled, found, len(RISKS) - 1)

    @cached_property
    def against(self):
        """Return what the rules hold against the company in each. [-]"""
        found = np.zeros(len(self.shares), int)
        inside = self.shares > 0
        for first, second, cost, _ in company(self.batch.ingredients):
            found += cost * (inside[:, first] & inside[:, second])
        for index in self.of_traces.values():
            found += index >= mixing_rule("trace solid from")
        return found + np.round(10 * self.warm.excursion).astype(int)


def clouds_from(name):
    """
    Return the index from which a solid clouds a stock.

    Parameters
    ----------
    name : str
        Name of the solid.

    Returns
    -------
    float
        Saturation index: where it is likely; of chalk more. [-]

    Examples
    --------
    >>> clouds_from("gypsum"), clouds_from("calcite")
    (0.3, 2.0)
    """
    if name == CHALK:
        return mixing_rule("chalk clouds a stock from")
    return likely_from(name)


def stock_level(name, index):
    """
    Return how likely a solid is to cloud a stock: 0 none, 1 watch, 2 likely, 3 certain.

    Parameters
    ----------
    name : str
        Name of the solid.
    index : float or array
        Its saturation index. [-]

    Returns
    -------
    int or array
        A place in `risks.RISKS`; chalk is only watched before it clouds. [-]

    Examples
    --------
    >>> stock_level("calcite", 1.2), stock_level("gypsum", 1.2)
    (1, 3)
    """
    level = level_of(name, index)
    if name != CHALK:
        return level
    level = np.where(np.asarray(index) < clouds_from(name), np.minimum(level, 1), level)
    return level if np.ndim(index) else int(level)


def concentrates(batch, shares, *, coldest):
    """
    Return some concentrates of a batch as one stack.

    Parameters
    ----------
    batch : Batch
        What all concentrates together hold, each in that volume.
    shares : array_like, shape (m, n)
        How much of each ingredient is in each. [-]
    coldest : float
        Coldest temperature in which they are kept. [°C]

    Returns
    -------
    Concentrates
        The stack.

    Examples
    --------
    >>> from formulate.mixing.batch import batch_of
    >>> stock = batch_of({"KNO3": 100.0}, volume=1)
    >>> concentrates(stock, [[1.0]], coldest=10).use.round().tolist()
    [49.0]
    """
    shares = np.asarray(shares, float)
    water = batch.volume - shares @ batch.poured
    made = batch.mixtures(shares, water)
    given = {"strict": False}
    cold = nearness(made, temperature=coldest, **given)
    warm = nearness(made, temperature=mixing_rule("warm store"), **given)
    return Concentrates(batch, shares, cold, warm)


def company(ingredients):
    """
    Return the pairs of ingredients that the rules would rather keep apart.

    Parameters
    ----------
    ingredients : sequence of Ingredient
        The ingredients.

    Returns
    -------
    list of (int, int, int, str)
        Places of both, what it counts, and why. [-]

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> some = [salt("iron EDTA chelate (13 % Fe)"), salt("KH2PO4"), salt("KNO3")]
    >>> [pair[:3] for pair in company(some)]
    [(0, 1, 1)]
    """
    found = []
    for row in read_table("company_rules"):
        for i, one in enumerate(ingredients):
            for j, other in enumerate(ingredients):
                if (
                    i != j
                    and is_meant(one, row["first"])
                    and is_meant(other, row["second"])
                ):
                    found.append((i, j, int(row["cost"]), row["text"]))
    return found


def splits_of(batch, *, coldest):
    """
    Return what every set of the ingredients costs as a tank.

    Parameters
    ----------
    batch : Batch
        What all tanks together hold, each in that volume.
    coldest : float
        Coldest temperature in which they are kept. [°C]

    Returns
    -------
    Splits
        The costs.

    Examples
    --------
    >>> from formulate.mixing.batch import batch_of
    >>> stock = batch_of({"CaCl2": 50.0, "MgSO4": 50.0, "KNO3": 50.0}, volume=1)
    >>> splits_of(stock, coldest=10).best(2)
    (5, 2)
    """
    found = concentrates(batch, all_sets(len(batch.amounts)), coldest=coldest)
    floor = mixing_rule("floor of an index")
    above = np.maximum(found.distance, floor) - floor
    clouds = CLOUDY * (found.distance >= 0)  # never the same grade as what stays clear
    habits = [_habit(ingredient) for ingredient in batch.ingredients]
    return Splits(
        np.round(above / mixing_rule("resolution of a stock") + clouds).astype(
            np.int64
        ),
        found.against,
        np.round(found.use / mixing_rule("resolution of use")).astype(np.int64),
        tuple(habit == "calcium tank" for habit in habits),
        tuple(habit == "sulfate and phosphate tank" for habit in habits),
    )


def _habit(ingredient):
    """Return the tank in which habit puts an ingredient, by what it brings if unnamed."""
    if ingredient.tank:
        return ingredient.tank
    if is_meant(ingredient, "form:calcium !form:edta|dtpa"):
        return "calcium tank"
    if is_meant(ingredient, "form:sulfate|phosphate"):
        return "sulfate and phosphate tank"
    return "either"


def _ions(salt):
    """Return how many ions a formula unit of a salt falls into; 2 if that is not known."""
    try:
        return sum(parse_formula(salt).forms.values())
    except ValueError:
        return 2


def density_of(state):
    """
    Return the density of a solution: its water and what is dissolved in it.

    Equation [definition]::

        ρ = kg of water in a litre + Σ M c / 10^6        c in mmol/L

    Parameters
    ----------
    state : Speciation
        The solution or a stack.

    Returns
    -------
    float or array
        Density. [kg/L]

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> round(density_of(speciate(solution({"K": 1000.0, "NO3": 1000.0}))), 2)
    1.06
    """
    held = state.solution.forms.items()
    grams = sum(parse_formula(form(key).ion).molar_mass * v / 1000 for key, v in held)
    return state.water_kg_l + grams / 1000
