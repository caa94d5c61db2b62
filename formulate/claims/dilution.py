"""What a dilution of a product shows at each of the blends that its label allows."""

from dataclasses import dataclass

import numpy as np

from formulate.checks import checked_number
from formulate.chemistry.conductivity import ec
from formulate.chemistry.speciation import speciate
from formulate.claims.blend_ranges import WHOLE
from formulate.claims.blend_sums import forms_held
from formulate.stoichiometry.solution import Solution
from formulate.working import Shown

__all__ = ["Dilution", "dilute"]

STRONGEST = 100.0  # g/L


@dataclass(frozen=True, eq=False)
class Dilution(Shown):
    """
    What a dilution in pure water shows at the blends that are least or greatest in something.

    Attributes
    ----------
    grams_per_litre : float
        Product in a litre. [g/L]
    blends : array, shape (m, n)
        Grams of each material in 100 g; the central blend is the last. [g]
    ec : array, shape (m,)
        Conductivity of each. [mS/cm]
    ph : array, shape (m,)
        pH of each. [-]
    """

    grams_per_litre: float
    blends: np.ndarray
    ec: np.ndarray
    ph: np.ndarray

    @property
    def ec_range(self):
        """Return least and greatest conductivity. [mS/cm]"""
        return float(self.ec.min()), float(self.ec.max())

    @property
    def ph_range(self):
        """Return least and greatest pH. [-]"""
        return float(self.ph.min()), float(self.ph.max())

    def __str__(self):
        least, most = self.ec_range
        low, high = self.ph_range
        return (
            f"{self.grams_per_litre:g} g/L in pure water: EC {least:.3g} to {most:.3g} mS/cm, "
            f"pH {low:.2f} to {high:.2f}"
        )


def dilute(materials, blends, grams_per_litre, *, temperature, air_co2_ppm=None):
    """
    Return EC and pH of blends in pure water.

    Equation of a dilution of a product [definition]::

        c = g f / V        in pure water, at each extreme blend

    Parameters
    ----------
    materials : sequence of Ingredient
        The materials.
    blends : array, shape (m, n)
        Grams of each in 100 g of product. [g]
    grams_per_litre : float
        Product in a litre. [g/L]
    temperature : float
        Temperature. [°C]
    air_co2_ppm : float or None
        Carbon dioxide of the air it stands open to; None means closed. [µmol/mol]

    Returns
    -------
    Dilution
        EC and pH of each.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> found = dilute([salt("KCl")], np.array([[74.55]]), 1.0, temperature=25.0)
    >>> found.ec.round(1).tolist()  # 10 mmol/L: 1.41 mS/cm in every handbook
    [1.4]
    """
    grams = checked_number(grams_per_litre, "g/L", above=0, most=STRONGEST)
    factor = grams / WHOLE
    forms = {
        name: blends @ np.array([m.forms.get(name, 0.0) for m in materials]) * factor
        for name in forms_held(materials)
    }
    charge = blends @ np.array([m.unassigned_charge for m in materials]) * factor
    state = speciate(Solution(forms, charge, temperature), air_co2_ppm=air_co2_ppm)
    return Dilution(grams, blends, np.asarray(ec(state)), np.asarray(state.ph))
