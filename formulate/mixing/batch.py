"""A batch that is about to be mixed, and any part of it in any volume of water.

A state after some ingredients depends on which are in, not on their order, so every step
of every order is one column of a stack. "Made up to" means here what it means in
`dissolve`: liquids take their own volume, solids none.

Equation of a part of a batch [definition]::

    c = (tap × litres of water + Σ share × amount × forms) / volume
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from formulate.checks import checked_number
from formulate.chemistry.water_properties import check_temperature
from formulate.chemistry.waters import water as as_water
from formulate.errors import Faults, InputError, shortened
from formulate.ingredients.dissolve import measured_amounts, poured_litres
from formulate.ingredients.water import Water
from formulate.stoichiometry.quantities import check_volume
from formulate.stoichiometry.solution import Solution
from formulate.tables import rule_of

__all__ = ["Batch", "batch_of", "check_share", "column_of"]

PERCENT = 100.0


@dataclass(frozen=True, eq=False)
class Batch:
    """
    What goes into a batch, in the order as written.

    Attributes
    ----------
    amounts : tuple of (Ingredient, float)
        Each ingredient with its grams, or millilitres of a stock. [g]
    water : Water
        The water.
    volume : float
        Final made-up volume. [L]
    temperature : float
        Temperature of the water while it is mixed. [°C]
    """

    amounts: tuple
    water: Water
    volume: float
    temperature: float

    @property
    def names(self):
        """Return the names of the ingredients, as written."""
        return tuple(ingredient.name for ingredient, _ in self.amounts)

    @property
    def ingredients(self):
        """Return the ingredients, as written."""
        return tuple(ingredient for ingredient, _ in self.amounts)

    @cached_property
    def poured(self):
        """Return the volume that each ingredient takes; 0 for solids. [L]"""
        return np.array([poured_litres([pair]) for pair in self.amounts])

    @property
    def water_litres(self):
        """Return the water of the whole batch. [L]"""
        return self.volume - float(self.poured.sum())

    @cached_property
    def forms(self):
        """Return every form of the water and of the ingredients."""
        found = dict.fromkeys(self.water.solution.forms)
        for ingredient in self.ingredients:
            found |= dict.fromkeys(ingredient.forms)
        return tuple(found)

    @cached_property
    def held(self):
        """Return what each ingredient brings: a row each, a column for each form. [mmol]"""
        rows = [[i.forms.get(f, 0.0) * a for f in self.forms] for i, a in self.amounts]
        return np.array(rows, float).reshape(len(rows), len(self.forms))

    @cached_property
    def open_charge(self):
        """Return the unassigned charge that each ingredient brings. [meq]"""
        return np.array([i.unassigned_charge * a for i, a in self.amounts])

    def volumes(self, shares, water):
        """
        Return the volume of each mixture.

        Parameters
        ----------
        shares : array_like, shape (m, n)
            How much of each ingredient is in, 1 for all of it. [-]
        water : float or array_like, shape (m,)
            Water in each mixture. [L]

        Returns
        -------
        array, shape (m,)
            Water and liquids together. [L]

        Examples
        --------
        >>> batch = batch_of({"KNO3": 10.0}, volume=10)
        >>> batch.volumes([[0.0], [1.0]], 7.5).tolist()
        [7.5, 7.5]
        """
        return water + np.asarray(shares, float) @ self.poured

    def mixtures(self, shares, water):
        """
        Return what parts of the batch make with some water, as a stack.

        Parameters
        ----------
        shares : array_like, shape (m, n)
            How much of each ingredient is in, 1 for all of it. [-]
        water : float or array_like, shape (m,)
            Water in each mixture. [L]

        Returns
        -------
        Solution
            A stack of m solutions. [mmol/L]

        Examples
        --------
        >>> batch = batch_of({"KNO3": 10.1102, "MgSO4·7H2O": 4.0}, volume=10)
        >>> batch.mixtures([[1, 0], [1, 1]], 5.0).forms["potassium"].round(3).tolist()
        [20.0, 20.0]
        """
        shares = np.asarray(shares, float)
        water = np.broadcast_to(np.asarray(water, float), shares.shape[:1])
        volume, tap = self.volumes(shares, water), self.water.solution
        brought = shares @ self.held
        forms = {
            form: (brought[:, place] + tap.forms.get(form, 0.0) * water) / volume
            for place, form in enumerate(self.forms)
        }
        charge = (shares @ self.open_charge + tap.unassigned_charge * water) / volume
        return Solution(forms, charge, self.temperature)


def column_of(stack, place):
    """
    Return one solution of a stack.

    Parameters
    ----------
    stack : Solution
        The stack.
    place : int
        Which of its solutions. [-]

    Returns
    -------
    Solution
        That one. [mmol/L]

    Examples
    --------
    >>> batch = batch_of({"KNO3": 101.102}, volume=10)
    >>> round(column_of(batch.mixtures([[0.5], [1.0]], 10.0), 1).forms["potassium"], 3)
    100.0
    """
    forms = {key: float(value[place]) for key, value in stack.forms.items()}
    return Solution(forms, float(stack.unassigned_charge[place]), stack.temperature)


def check_share(share):
    """
    Return the share of the water that is in before anything else, if it can be one.

    Parameters
    ----------
    share : float
        Share of the final water, above 0 and below 1. [-]

    Returns
    -------
    float
        The share. [-]

    Raises
    ------
    InputError
        If it is 0, 1 or beyond: salts need water, and topping up is part of every order.

    Examples
    --------
    >>> check_share(0.75)
    0.75
    """
    share = checked_number(share, "start_fraction")
    if not 0 < share < 1:
        what = "write a share between 0 and 1, such as 0.75 for three quarters of the water"
        raise InputError(f"start_fraction {share:g}: {what}")
    return share


def batch_of(thing, *, volume=None, water=None, temperature=None):
    """
    Return the batch that is meant.

    Parameters
    ----------
    thing : Recipe, Weighing, Batch or mapping
        What has amounts, a water and a volume; or ingredient to amount, as in `dissolve`,
        in the order as written. [g]
    volume : float or str or None
        Final made-up volume; of a mapping only, a recipe has its own. [L]
    water : Water, str or None
        The water of a mapping; pure water if None.
    temperature : float or None
        Temperature of the water; its own if None. [°C]

    Returns
    -------
    Batch
        The batch.

    Raises
    ------
    InputError
        With every fault: no ingredients, no volume, a liquid without density, no room for
        water, a temperature out of range.

    Examples
    --------
    >>> batch_of({"KNO3": "0.5 g/L"}, volume="20 L").amounts[0][1]
    10.0
    """
    faults, found = Faults("batch"), None
    own = hasattr(thing, "amounts") and hasattr(thing, "water")
    if own and (volume is not None or water is not None):
        faults.add("a recipe has its own volume and water; leave these out")
    with faults.collecting():
        if not own and volume is None:
            raise InputError("volume: write the final volume, such as volume=20")
        volume = check_volume(thing.volume if own else volume)
    with faults.collecting("water"):
        water = thing.water if own else water
        water = water if isinstance(water, Water) else as_water(water or {})
    if own:
        found = tuple(thing.amounts)
    else:
        with faults.collecting():
            found = measured_amounts(thing, 1.0 if faults.found else volume)
    with faults.collecting():
        if temperature is None:
            temperature = getattr(thing, "temperature", None)
        if temperature is not None:
            temperature = check_temperature(temperature)
    faults.raise_if_any()
    return _checked(found, water, volume, temperature)


def _checked(amounts, water, volume, temperature):
    """Return the batch if its liquids have densities and leave room for water."""
    faults = Faults("batch")
    if not amounts:
        faults.add("nothing to mix; give at least one ingredient")
    names = [ingredient.name for ingredient, _ in amounts]
    for name in dict.fromkeys(name for name in names if names.count(name) > 1):
        faults.add(f"{name} stands here twice; give one another name, or one amount")
    for ingredient, _ in amounts:
        if ingredient.is_liquid and ingredient.millilitres(1.0) == 0:
            what = "its density is needed, for it takes room; give density= in kg/L"
            faults.add(f"{shortened(ingredient.name)} is a liquid: {what}")
    solids = sum(a for i, a in amounts if not i.is_liquid)
    most = rule_of("dissolving_rules", "solids made up to").number("limit")
    if solids > most * volume:
        what = f"{solids:.4g} g of salts do not dissolve in {volume:g} L"
        faults.add(f"{what}; look at the amounts and their units")
    poured = poured_litres(amounts)
    if poured >= volume:
        faults.add(f"the liquids alone take {poured:.4g} L of the {volume:g} L")
    faults.raise_if_any()
    warmth = water.solution.temperature if temperature is None else temperature
    return Batch(tuple(amounts), water, volume, warmth)
