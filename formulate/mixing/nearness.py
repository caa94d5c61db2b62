"""How near each of many mixtures is to clouding, to losing a chelate, to losing ammonia.

One model of activity serves all mixtures of a stack, so that a step between two of them
never comes from a change of model.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from formulate.chemistry.risks import risk_level
from formulate.chemistry.solids import mineral, mineral_names
from formulate.chemistry.speciation import LEAST_WATER, speciate, water_in_litre
from formulate.chemistry.state import Speciation
from formulate.errors import NoConvergence
from formulate.tables import read_table, rule_of

__all__ = ["Nearness", "graded_words", "level_of", "mixing_rule", "most_of", "nearness"]

DIGITS = 6  # of an index: what is smaller is rounding
SILICA = "silica"
FAR = -99.0  # index of what cannot form
WORST = 99.0  # index of what the equations do not settle: beyond any solubility


def mixing_rule(name):
    """
    Return one number of the table of mixing rules.

    Parameters
    ----------
    name : str
        Name of the rule, such as "water first".

    Returns
    -------
    float
        Its value, in the dimension that the table tells. [-]

    Examples
    --------
    >>> mixing_rule("floor of an index")
    -1.0
    """
    return rule_of("mixing_rules", name).number("value")


def level_of(name, index):
    """
    Return how likely a solid is to form, also where it cannot form at all.

    Parameters
    ----------
    name : str
        Name of the solid.
    index : float or array
        Its saturation index; minus infinity where it cannot form. [-]

    Returns
    -------
    int or array
        A place in `risks.RISKS`. [-]

    Examples
    --------
    >>> level_of("gypsum", np.array([-np.inf, 1.0])).tolist()
    [0, 3]
    """
    return risk_level(name, np.maximum(index, FAR))


def graded_words(index):
    """
    Return a graded index as it is printed.

    Parameters
    ----------
    index : float
        Saturation index, floored. [-]

    Returns
    -------
    str
        With its sign; at the floor "or less" is said.

    Examples
    --------
    >>> graded_words(0.317), graded_words(-1.0)
    ('+0.32', '-1.00 or less')
    """
    at_floor = index <= mixing_rule("floor of an index")
    return f"{index:+.2f}{' or less' * at_floor}"


@dataclass(frozen=True, eq=False)
class Nearness:
    """
    A stack of mixtures with what threatens each.

    Attributes
    ----------
    state : Speciation
        Ions, pairs and pH of each, as if nothing had fallen out.
    crowded : bool or array of bool
        Whether so much is dissolved that too little water has room. [-]
    """

    state: Speciation
    crowded: object = False

    @property
    def settled(self):
        """Return whether each is a solution at rest; what is not counts as the worst."""
        shape = np.shape(self.state.ph)
        return np.broadcast_to(self.state.settled & ~np.asarray(self.crowded), shape)

    @cached_property
    def indices(self):
        """Return solid to its saturation index, of those that matter and can form. [-]"""
        found = {}
        for name in mineral_names("matters"):
            index = np.asarray(self.state.saturation_index(name))
            if name == SILICA:  # chains and rings of silicate are not in the model
                limit = mixing_rule("silica is not judged above")
                index = np.where(np.asarray(self.state.ph) > limit, -np.inf, index)
            if np.isfinite(index).any():
                found[name] = index
        return found

    @cached_property
    def judged(self):
        """Return the solids that matter and whose index can be told in every mixture."""
        silicate = np.asarray(self.state.solution.forms.get("silicate", 0.0))
        alkaline = np.asarray(self.state.ph) > mixing_rule("silica is not judged above")
        names = mineral_names("matters")
        if not np.any((silicate > 0) & alkaline):
            return names
        return tuple(name for name in names if name != SILICA)

    @cached_property
    def counting(self):
        """Return the same indices, minus infinity where too little of a solid could form."""
        least, forms = mixing_rule("least that counts"), self.state.solution.forms
        return {
            name: np.where(
                mineral(name).molar_mass * most_of(name, forms) < least, -np.inf, v
            )
            for name, v in self.indices.items()
        }

    @cached_property
    def _table(self):
        """Return the indices that count as rows, and a last row for no solid at all."""
        rows = list(self.counting.values())
        none = np.full(np.shape(self.state.ph), -np.inf)
        return np.stack([*rows, none])

    @property
    def largest(self):
        """
        Return the largest index of each mixture that counts.

        Minus infinity where no solid can form, or too little of any. [-]
        """
        return np.where(self.settled, self._table.max(axis=0), WORST)

    @cached_property
    def graded(self):
        """Return the largest index, floored and without rounding's last digits. [-]"""
        floor = mixing_rule("floor of an index")
        return np.round(np.maximum(self.largest, floor), DIGITS)

    def nearest(self, place):
        """
        Return the solid that is nearest to falling out of one mixture.

        Parameters
        ----------
        place : int
            Which mixture. [-]

        Returns
        -------
        str
            Its name; empty if nothing can form.

        Examples
        --------
        >>> from formulate.mixing.batch import batch_of
        >>> batch = batch_of({"CaCl2": 10.0, "MgSO4": 10.0}, volume=10)
        >>> nearness(batch.mixtures([[1, 1]], 5.0)).nearest(0)
        'gypsum'
        """
        row = int(self._table[:, place].argmax())
        names = (*self.indices, "")
        return names[row] if np.isfinite(self._table[row, place]) else ""

    @cached_property
    def excursion(self):
        """Return how far each is outside the pH that keeps chelates and ammonia. [-]"""
        ph, found = np.asarray(self.state.ph), np.zeros(np.shape(self.state.ph))
        for row in read_table("chelates"):
            key = f"{row['ligand']}:{row['metal']}"
            if key in self.state.chelates and row["high_most"]:
                there = self._held(key) > 0
                low, high = row.number("low_least"), row.number("high_most")
                found += there * np.maximum(0.0, np.maximum(low - ph, ph - high))
        if "ammonium" in self.state.solution.forms:
            there = np.asarray(self.state.solution.forms["ammonium"]) > 0
            limit = mixing_rule("pH from which ammonia is lost")
            found += there * np.maximum(0.0, ph - limit)
        return np.round(np.where(self.settled, found, 0.0), DIGITS)

    def _held(self, key):
        """Return how much of a chelate each mixture holds. [mol/kg]"""
        net = self.state.net
        place = net.first_row - len(net.inert) + net.inert.index(key)
        return np.asarray(self.state.molalities[place])


def most_of(name, forms):
    """
    Return how much of a solid there could be at most, by its scarcest form.

    Equation [definition]::

        most = min (c / ν)        over the forms of the solid

    Parameters
    ----------
    name : str
        Name of the solid.
    forms : mapping of str to float or array
        Form to its amount in one solution or a stack. [mmol/L]

    Returns
    -------
    float or array
        Amount of the solid. [mmol/L]

    Examples
    --------
    >>> float(most_of("gypsum", {"calcium": 3.0, "sulfate": 2.0}))
    2.0
    """
    counts = mineral(name).forms.items()
    return np.min([forms.get(key, 0.0) / count for key, count in counts], axis=0)


def nearness(solutions, *, activity=None, temperature=None, strict=True):
    """
    Return what threatens each mixture of a stack.

    Parameters
    ----------
    solutions : Solution
        A stack of mixtures, closed to the air.
    activity : str or None
        Model of the activity coefficients, one for all; None means "blend".
    temperature : float or None
        Temperature; that of the mixtures if None. [°C]
    strict : bool
        Whether it is an error if some mixture does not come to rest, or has no room for
        water; else it counts as the worst there is.

    Returns
    -------
    Nearness
        Indices, the nearest solid, excursions of pH.

    Raises
    ------
    NoConvergence
        If it is strict and some mixture did not come to rest.

    Examples
    --------
    >>> from formulate.mixing.batch import batch_of
    >>> batch = batch_of({"KNO3": 10.0, "CaCl2": 10.0}, volume=10)
    >>> nearness(batch.mixtures([[0, 0], [1, 1]], 5.0)).graded.tolist()
    [-1.0, -1.0]
    """
    if strict:
        return Nearness(speciate(solutions, activity=activity, temperature=temperature))
    warmth = solutions.temperature if temperature is None else temperature
    water = water_in_litre(solutions.forms, warmth)
    given = {"temperature": temperature, "activity": activity}
    try:
        state = speciate(solutions, water_kg_l=np.maximum(water, LEAST_WATER), **given)
    except NoConvergence as error:
        state = error.state
    return Nearness(state, water < LEAST_WATER)
