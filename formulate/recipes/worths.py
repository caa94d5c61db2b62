"""What holding a row costs, in the words and units of a grower."""

from dataclasses import dataclass

import numpy as np

from formulate.recipes.wishes import WITHIN
from formulate.stoichiometry.nutrients import nutrient, nutrient_keys
from formulate.working import printed, printed_mg_l

__all__ = ["Worth", "worth_of"]

PER_CENT = 100.0


@dataclass(frozen=True)
class Worth:
    """
    What holding one row costs.

    Attributes
    ----------
    name : str
        The row, in words.
    unit : str
        Unit in which it would be let out.
    saved : float
        What the batch would be cheaper by for one more unit of room, as long as what is
        used and what binds stay the same. [currency]
    """

    name: str
    unit: str
    saved: float

    def __str__(self):
        unit = f" {self.unit}" if self.unit else ""
        return f"{self.name}: {printed(self.saved, 3)} for each{unit or ' unit'}"


def worth_of(recipe, row, side, worth):
    """
    Return what a row costs a batch, in words and in the unit a grower uses.

    Parameters
    ----------
    recipe : Recipe
        The recipe that stands on the row's bound.
    row : Requirement
        The row.
    side : str
        "low" or "high".
    worth : float
        What a unit of room there saves. [currency/L]

    Returns
    -------
    Worth
        The same for the batch.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> print(worth_of(recipe, recipe.requirements[0], "low", 0.02))
    K at least 200.0 mg/L: 0.00512 for each mg/L
    """
    bound, words = (row.low, "at least") if side == "low" else (row.high, "at most")
    saved = worth * recipe.volume
    if row.key in nutrient_keys() and row.unit == "mmol/L" and row.limit is None:
        if row.origin == "ammonium share":
            per_cent = recipe.solution.mmol_l("N") / PER_CENT
            return Worth(row.name, "% of N", saved * per_cent)
        mass = nutrient(row.key).molar_mass
        name = f"{row.key} {words} {printed_mg_l(bound * mass)} mg/L"
        return Worth(_of_shelf(row, name), "mg/L", saved / mass)
    if row.limit is not None and row.limit.is_metered and row.limit.subject != "EC":
        return Worth(row.name, "meq/L of acid or alkali less", saved)
    if row.origin == "amount":
        return Worth(row.name, row.limit.unit, worth)
    if row.below:
        lower = float(np.dot(row.below[:-1], recipe.optimum.amounts)) + row.below[-1]
        return Worth(row.limit.named(side), "1 of the ratio", saved * lower)
    if row.origin == WITHIN:
        name = f"{row.key} {words} {printed(bound, 3)} {row.unit}".strip()
        return Worth(name if row.key else row.name, row.unit, saved)
    return Worth(row.name, row.unit, saved)


def _of_shelf(row, name):
    """Return the name of a row that counts the shelf alone, with these words."""
    key, rest = name.split(" ", 1)
    return f"{key} from the shelf {rest}" if "from the shelf" in row.name else name
