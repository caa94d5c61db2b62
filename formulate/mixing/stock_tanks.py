"""The concentrates of a batch: their rows, check values, margins and what to know."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from formulate.checks import checked_number
from formulate.chemistry.risks import solid_risks
from formulate.chemistry.speciation import speciate
from formulate.errors import InputError
from formulate.ingredients.water import Water
from formulate.mixing.batch import Batch, column_of
from formulate.mixing.greatest_strength import greatest_strength, limiting_at
from formulate.mixing.injector import injected
from formulate.mixing.nearness import mixing_rule
from formulate.mixing.stock_tank import ROOM, row_of, told_of
from formulate.mixing.strength import Strength
from formulate.notices import Notice, gravest_first
from formulate.stoichiometry.mixtures import mix
from formulate.stoichiometry.units import unit
from formulate.working import Shown, printed

__all__ = ["StockTanks"]


@dataclass(frozen=True, eq=False)
class StockTanks(Shown):
    """
    The concentrates of a batch.

    Attributes
    ----------
    batch : Batch
        The working solution.
    strength : Strength
        How strong the concentrates are.
    coldest : float
        Coldest temperature in which they are kept. [°C]
    tanks : tuple of StockTank
        The tanks that hold something.
    stock_water : Water
        The water they are made up with.
    divided : str
        The ingredient that is divided between two tanks, or "".
    """

    batch: Batch
    strength: Strength
    coldest: float
    tanks: tuple
    stock_water: Water
    divided: str = ""

    def __getitem__(self, name):
        """
        Return one tank by its name.

        Parameters
        ----------
        name : str
            "A", "B", "C", "acid" or "alkaline".

        Returns
        -------
        StockTank
            The tank.

        Examples
        --------
        >>> from formulate.mixing.tanks import split_tanks
        >>> tanks = split_tanks({"KNO3": 50.0, "CaCl2": 50.0}, volume=100)
        >>> tanks["A"].label
        'stock A'
        """
        for tank in self.tanks:
            if tank.name == name:
                return tank
        there = ", ".join(tank.name for tank in self.tanks)
        raise InputError(f"no tank {name!r}; there are {there}")

    @property
    def dose(self):
        """Return what the batch takes of each concentrate. [L]"""
        return self.batch.volume / self.strength.times

    @cached_property
    def greatest(self):
        """Return the greatest strength at which this split dissolves and stays clear."""
        return greatest_strength(self)

    @cached_property
    def limiting(self):
        """Return what sets the greatest strength: the tank, and the solid or salt."""
        return limiting_at(self, self.greatest.times)

    @cached_property
    def working(self):
        """Return what may fall out once all are diluted."""
        return solid_risks(speciate(self.solution, temperature=ROOM))

    @cached_property
    def solution(self):
        """Return the working solution, with the water of the stocks in it. [mmol/L]"""
        of_stocks = min(len(self.tanks) / self.strength.times, 1.0)
        parts = [(self.stock_water.solution, of_stocks)]
        if of_stocks < 1:
            parts.append((self.batch.water.solution, 1 - of_stocks))
        water = replace(self.batch.water, solution=mix(parts), parts=())
        ones = np.ones((1, len(self.batch.amounts)))
        whole = replace(self.batch, water=water).mixtures(ones, self.batch.water_litres)
        return column_of(whole, 0)

    def injector(self, *, error_percent=None):
        """
        Return what an injector that is off does to the working solution.

        Parameters
        ----------
        error_percent : float or None
            How far it is off; 10 if None. [%]

        Returns
        -------
        tuple of tuple
            What is off; EC; pH; nutrient to its change. [%]

        Examples
        --------
        >>> from formulate.mixing.tanks import split_tanks
        >>> tanks = split_tanks({"KNO3": 50.0, "CaCl2": 50.0}, volume=100)
        >>> tanks.injector()[1][0]
        'stock A 10 % too much'
        """
        if error_percent is None:
            error_percent = mixing_rule("injector error")
        error = checked_number(error_percent, "error_percent", above=0, most=100)
        return injected(self, error)

    @cached_property
    def notices(self):
        """Return what to know of the stocks, the gravest first."""
        found = []
        for tank in self.tanks:
            found += told_of(tank, self.coldest)
        times = self.strength.times
        low, high = mixing_rule("weakest stock"), mixing_rule("strongest stock")
        if not low <= times <= high:
            what = (
                f"{self.strength.as_ratio} is outside the usual 1:{low:g} to 1:{high:g}"
            )
            found.append(
                Notice(what, "note", times, low if times < low else high, "ext-mixing")
            )
        what = (
            "never let two concentrates meet, in a jug, a hose or a drain: one into plenty of "
            "water, stirred, then the next"
        )
        found.append(Notice(what, "caution", source_key="ext-mixing"))
        return gravest_first(found)

    def rows(self):
        """
        Return what is shown of each tank.

        Returns
        -------
        tuple of tuple of str
            Tank, L, pH, kg/L, EC, EC thinned alone, limiting salt, share used of it, what
            is nearest to falling out in the cold.

        Examples
        --------
        >>> from formulate.mixing.tanks import split_tanks
        >>> tanks = split_tanks({"KNO3": 50.0, "CaCl2": 50.0}, volume=100)
        >>> tanks.rows()[0][0]
        'stock A'
        """
        return tuple(row_of(tank) for tank in self.tanks)

    def to_frame(self):
        """
        Return what each tank holds as a table.

        Returns
        -------
        pandas.DataFrame
            One row per ingredient, grams per tank in a column of its name. [g]

        Examples
        --------
        >>> from formulate.mixing.tanks import split_tanks
        >>> tanks = split_tanks({"KNO3": 50.0, "CaCl2": 50.0}, volume=100)
        >>> tanks.to_frame().loc["KNO3"].sum().item()
        50.0
        """
        import pandas

        found = {
            tank.name: {i.name: grams for i, grams in tank.parts} for tank in self.tanks
        }
        return pandas.DataFrame(found).reindex(self.batch.names).fillna(0.0)

    def ounces(self):
        """
        Return tank to what 100 US gallons of the working solution take, by ingredient.

        Returns
        -------
        dict of str to dict of str to float
            Avoirdupois ounces of solids, fluid ounces of liquids. [oz]

        Examples
        --------
        >>> from formulate.mixing.tanks import split_tanks
        >>> tanks = split_tanks({"KNO3": 74.9, "CaCl2": 1.0}, volume=1000)
        >>> [round(parts["KNO3"], 2) for parts in tanks.ounces().values() if "KNO3" in parts]
        [1.0]
        """
        gallons = 100 * unit("US gal").factor  # L
        ounce, fluid = unit("oz").factor, 1000 * unit("US fl oz").factor
        per_tank = gallons / self.strength.times
        return {
            tank.name: {
                i.name: per_tank
                / tank.volume
                * (i.millilitres(grams) / fluid if i.is_liquid else grams / ounce)
                for i, grams in tank.parts
            }
            for tank in self.tanks
        }

    def __str__(self):
        where, what = self.limiting
        head = (
            f"stocks {self.strength} for {printed(self.batch.volume)} L, "
            f"kept at {self.coldest:g} °C or above"
        )
        most = f"this split is clear up to {self.greatest.as_ratio}; then {what} in {where}"
        divided = [f"{self.divided} is divided between two tanks"] * bool(self.divided)
        lines = [head, *map(str, self.tanks), *divided, most]
        return "\n".join([*lines, *map(str, self.notices)])
