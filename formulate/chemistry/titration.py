"""Titration curves: the pH of a solution against the acid or alkali that goes into it."""

from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from formulate.checks import checked_number
from formulate.chemistry.acid_doses import fitted, nominal_per_gram, with_dose
from formulate.chemistry.acidity import ph_rule
from formulate.chemistry.dosing import LARGEST, acid_dose
from formulate.chemistry.speciation import speciate
from formulate.errors import Faults, InputError, shortened
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.salts import as_ingredient
from formulate.stoichiometry.solution import Solution
from formulate.working import Shown, printed

__all__ = ["TitrationCurve", "titration_curve"]

POINTS = 121
ENDS = {True: (4.0, 3.0), False: (10.0, 11.0)}  # pH at which a curve ends by itself
FARTHER = 1.15  # beyond it


@dataclass(frozen=True, eq=False)
class TitrationCurve(Shown):
    """
    The pH of a solution against what goes into it.

    Attributes
    ----------
    ingredient : Ingredient
        The acid or alkali.
    grams : array, shape (n,)
        Doses, in a litre of the solution before. [g]
    ph : array, shape (n,)
        The pH at each, closed: what a meter shows at once. [-]
    ph_aerated : array, shape (n,)
        The pH once it is in balance with the air. [-]
    """

    ingredient: Ingredient
    grams: np.ndarray
    ph: np.ndarray
    ph_aerated: np.ndarray

    @property
    def millilitres(self):
        """Return the doses in millilitres; None of what is weighed. [mL]"""
        if self.ingredient.measured_in == "mL":
            return self.grams
        density = self.ingredient.density
        return None if density is None else self.grams / density

    def __str__(self):
        return (
            f"{self.ingredient.name}: 0 to {printed(float(self.grams[-1]), 3)} g/L takes the "
            f"pH from {self.ph[0]:.2f} to {self.ph[-1]:.2f}; in balance with the air "
            f"{self.ph_aerated[0]:.2f} to {self.ph_aerated[-1]:.2f}"
        )


def titration_curve(solution, acid, *, most=None, temperature=None):
    """
    Return how the pH of a solution follows an acid or alkali, closed and aerated.

    Parameters
    ----------
    solution : Solution, Water or Recipe
        One solution, or what has one as its `solution`.
    acid : Ingredient or str
        The acid or alkali, or its name in the catalogue.
    most : float or None
        Last dose, in a litre; None means a little more than what brings pH 4 or 10. [g]
    temperature : float or None
        Temperature; the solution's own if None. [°C]

    Returns
    -------
    TitrationCurve
        The curve. [g]

    Raises
    ------
    InputError
        With every fault of what was given.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> tap = solution({"Ca": 2.0, "HCO3": 4.0}, ph=7.5)
    >>> curve = titration_curve(tap, "nitric acid (53 %)")
    >>> bool(curve.ph[0] > curve.ph[-1]), len(curve.ph)
    (True, 121)
    """
    faults, made = Faults("titration_curve"), None
    held = getattr(solution, "solution", solution)
    if not isinstance(held, Solution):
        faults.add(f"{shortened(solution)} is no Solution; give one")
    elif any(
        np.ndim(value) for value in (*held.forms.values(), held.unassigned_charge)
    ):
        faults.add("a stack; take one solution of it")
    with faults.collecting():
        made = as_ingredient(acid)
    with faults.collecting():
        if most is not None:
            most = checked_number(most, "last dose in g", above=0, most=LARGEST)
    faults.raise_if_any()
    if most is None:
        most = _most(held, made, temperature)
    grams = np.linspace(0.0, most, POINTS)
    first = fitted(held, temperature=temperature).solution
    stack = with_dose(replace(first, ph=None), made, grams)
    closed = speciate(stack, temperature=temperature)
    air = ph_rule("air carbon dioxide")
    aerated = speciate(stack, temperature=temperature, air_co2_ppm=air)
    return TitrationCurve(made, grams, closed.ph, aerated.ph)


def _most(held, acid, temperature):
    """Return a dose a little beyond the one that brings pH 4, or 10; else a gram."""
    lowers = nominal_per_gram(acid) < 0
    for ph in ENDS[lowers]:
        with suppress(InputError):
            return FARTHER * acid_dose(held, acid, ph=ph, temperature=temperature).grams
    return 1.0
