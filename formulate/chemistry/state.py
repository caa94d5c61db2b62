"""The state of a solution: which ions and pairs it holds, and what follows from them."""

import html
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType

import numpy as np

from formulate.chemistry.activity import inverse_gammas
from formulate.chemistry.columns import arithmetic_of
from formulate.chemistry.constants import constants, form_key, log_k
from formulate.chemistry.ionic_conductivity import ec_working
from formulate.chemistry.solids import mineral, saturation_index
from formulate.chemistry.state_notices import state_notices
from formulate.chemistry.state_working import index_working, ph_working
from formulate.chemistry.water_properties import kelvin
from formulate.errors import InputError, UnknownName, shortened
from formulate.stoichiometry.solution import Solution
from formulate.working import printed

__all__ = ["Speciation", "flat"]

LN10 = float(np.log(10))


@dataclass(frozen=True, eq=False)
class Speciation:
    """
    Which ions and pairs a solution holds, and its pH.

    Attributes
    ----------
    solution : Solution
        The solution.
    temperature : float
        Temperature. [°C]
    activity_model : str
        Model of the activity coefficients.
    air_co2_ppm : float or None
        Carbon dioxide in the air it stands open to; None if it is closed. [µmol/mol]
    ph_imposed : bool
        Whether the pH was given; else it follows from the charges.
    chelates : tuple of str
        Chelates in it, such as "edta:iron_iii".
    settled : bool or array of bool
        Whether the equations came to rest. [-]
    constants : Constants
        The constants it was worked out with.
    net : Network
        The species that can be there.
    shape : tuple of int
        Shape of the stack; empty for one solution. What follows is flat. [-]
    molalities : array, shape (species, n)
        Amount of each species per kg of water; a list of numbers for one solution. [mol/kg]
    ln_h : float or array
        Natural logarithm of the activity of H+. [-]
    ln_water : float or array
        Natural logarithm of the activity of water. [-]
    strength : float or array
        Ionic strength per kg of water. [mol/kg]
    water : float or array
        Water in a litre. [kg/L]
    """

    solution: Solution
    temperature: float
    activity_model: str
    air_co2_ppm: float | None
    ph_imposed: bool
    chelates: tuple
    settled: object
    constants: object = field(repr=False)
    net: object = field(repr=False)
    shape: tuple = field(repr=False)
    molalities: object = field(repr=False)
    ln_h: object = field(repr=False)
    ln_water: object = field(repr=False)
    strength: object = field(repr=False)
    water: object = field(repr=False)

    @property
    def ph(self):
        """Return the pH: minus the logarithm of the activity of H+. [-]

        Equation [iupac-p04524]::

            pH = −log10 a(H+) = −log10(m γ)
        """
        return self.shaped(-self.ln_h / LN10)

    @property
    def ionic_strength(self):
        """Return the ionic strength, pairs counted as what they are. [mmol/L]"""
        return self.shaped(1000.0 * self.strength * self.water)

    @property
    def ionic_strength_mmol_kg(self):
        """Return the ionic strength per kilogram of water. [mmol/kg]"""
        return self.shaped(1000.0 * self.strength)

    @property
    def water_activity(self):
        """Return the activity of water. [-]"""
        return self.shaped(arithmetic_of(self.ln_water).exp(self.ln_water))

    @property
    def water_kg_l(self):
        """Return the water in a litre of the solution. [kg/L]"""
        return self.shaped(self.water)

    @property
    def names(self):
        """Return the names of the species, H+ and OH- first."""
        return tuple(s.name for s in self.net.species)

    @cached_property
    def species(self):
        """Return species to concentration, what is absent left out. [mmol/L]"""
        pairs = ((name, self.amount(name)) for name in self.names)
        return MappingProxyType({name: v for name, v in pairs if np.any(v)})

    def amount(self, name):
        """
        Return the concentration of one species.

        Parameters
        ----------
        name : str
            Name of an ion or a pair, such as "CaSO4" or "HCO3-".

        Returns
        -------
        float or array
            Concentration; 0 if nothing of it can form here. [mmol/L]

        Raises
        ------
        UnknownName
            If the model has no such species.

        Examples
        --------
        >>> from formulate.chemistry.speciation import speciate
        >>> from formulate.stoichiometry.solution import solution
        >>> state = speciate(solution({"Ca": 2.0, "SO4": 2.0}))
        >>> round(state.amount("CaSO4"), 3)
        0.269
        """
        place = self._place(name)
        if place is None:
            return self.shaped(self.strength * 0.0)
        return self.shaped(1000.0 * self.molalities[place] * self.water)

    def free(self, key):
        """
        Return the concentration of the bare ion of a form.

        Parameters
        ----------
        key : str
            Form or nutrient key, such as "calcium" or "Ca".

        Returns
        -------
        float or array
            Concentration of the bare ion. [mmol/L]

        Examples
        --------
        >>> from formulate.chemistry.speciation import speciate
        >>> from formulate.stoichiometry.solution import solution
        >>> state = speciate(solution({"Ca": 2.0, "SO4": 2.0}))
        >>> round(state.free("calcium"), 3)
        1.731
        """
        form, net = form_key(key), self.net
        forms = (*net.cations, *net.ligands, *net.inert)
        if form not in forms:
            return self.shaped(self.strength * 0.0)
        return self.amount(self.names[2 + forms.index(form)])

    def activity_coefficient(self, name):
        """
        Return the activity coefficient of a species.

        Parameters
        ----------
        name : str
            Name of an ion or a pair.

        Returns
        -------
        float or array
            The coefficient γ, per kg of water. [-]

        Raises
        ------
        UnknownName
            If it is not in the solution.

        Examples
        --------
        >>> from formulate.chemistry.speciation import speciate
        >>> from formulate.stoichiometry.solution import solution
        >>> state = speciate(solution({"K": 10.0, "Cl": 10.0}))
        >>> round(state.activity_coefficient("K+"), 3)
        0.9
        """
        place = self._place(name)
        if place is None:
            raise UnknownName(f"{name} is not in this solution")
        return self.shaped(1.0 / self.inverse[place])

    def log_activity(self, name):
        """
        Return the decadic logarithm of the activity of a species.

        Parameters
        ----------
        name : str
            Name of an ion or a pair, or "H2O".

        Returns
        -------
        float or array
            Logarithm of the activity; minus infinity if there is none of it. [-]

        Examples
        --------
        >>> from formulate.chemistry.speciation import speciate
        >>> from formulate.stoichiometry.solution import solution
        >>> state = speciate(solution({"K": 10.0, "Cl": 10.0}))
        >>> round(state.log_activity("K+"), 3)
        -2.044
        """
        if name not in self.log_activities:
            self.log_activities[name] = self._log_activity(name)
        return self.log_activities[name]

    def _log_activity(self, name):
        """Return the logarithm of the activity of a species, worked out."""
        if name == "H2O":
            return self.shaped(self.ln_water / LN10)
        place = self._place(name)
        if place is None:
            return self.shaped(self.strength * 0.0 - np.inf)
        activity = self.molalities[place] / self.inverse[place]
        return self.shaped(arithmetic_of(activity).log(activity) / LN10)

    def saturation_index(self, name):
        """
        Return how near the solution is to a solid.

        Parameters
        ----------
        name : str or Mineral
            The solid or its name, such as "gypsum"; see `solids.mineral_names`.

        Returns
        -------
        float or array
            Logarithm of the product of activities over its constant. [-]

        Raises
        ------
        UnknownName
            If there is no such solid.

        Examples
        --------
        >>> from formulate.chemistry.speciation import speciate
        >>> from formulate.stoichiometry.solution import solution
        >>> state = speciate(solution({"Ca": 14.0, "SO4": 14.0}))
        >>> round(state.saturation_index("gypsum"), 2)
        -0.04
        """
        solid = mineral(name)
        return saturation_index(solid, self.log_activity, self.temperature)

    def working(self, what):
        """
        Return the arithmetic behind the pH, the EC or a saturation index.

        Parameters
        ----------
        what : str
            "pH", "EC" (at the temperature of the state) or the name of a solid.

        Returns
        -------
        Working
            The steps.

        Raises
        ------
        UnknownName
            If it is none of these.
        InputError
            If the state is a stack.

        Examples
        --------
        >>> from formulate.chemistry.speciation import speciate
        >>> from formulate.stoichiometry.solution import solution
        >>> print(speciate(solution({"K": 10.0, "Cl": 10.0})).working("EC").lines[0])
        Cl-: 10.0328 mmol/kg × 0.0718698 mS/cm per mmol/kg = 0.72106 mS/cm  [usgs-mcclesk]
        """
        if self.shape:
            raise InputError("working: the state is a stack; take one solution of it")
        if what == "pH":
            return ph_working(self)
        if what == "EC":
            return ec_working(self)
        solid = mineral(what)
        return index_working(self, solid, log_k(solid.log_k, kelvin(self.temperature)))

    def charge_left(self):
        """
        Return the charge that the species leave open, unnamed ions included.

        Nothing, where the pH follows from the charges; else what an imposed pH asks for.

        Returns
        -------
        float or array
            Sum of all charges. [meq/L]

        Examples
        --------
        >>> from formulate.chemistry.speciation import speciate
        >>> from formulate.stoichiometry.solution import solution
        >>> state = speciate(solution({"K": 10.0, "NO3": 10.0}), ph=4)
        >>> round(state.charge_left(), 3)
        0.109
        """
        charges = [s.charge for s in self.net.species]
        terms = [z * m for z, m in zip(charges, self.molalities, strict=True) if z]
        named = 1000.0 * sum(terms) * self.water
        return self.shaped(named + self.flat_unassigned)

    def to_frame(self):
        """
        Return the species as a table.

        Returns
        -------
        pandas.DataFrame
            One row per species, columns "mmol/L" and "charge"; of one solution. [mmol/L]

        Examples
        --------
        >>> from formulate.chemistry.speciation import speciate
        >>> from formulate.stoichiometry.solution import solution
        >>> speciate(solution({"K": 1.0, "NO3": 1.0})).to_frame().loc["K+", "charge"]
        np.int64(1)
        """
        import pandas

        charges = {s.name: s.charge for s in self.net.species}
        rows = {name: (v, charges[name]) for name, v in self._one().items()}
        table = pandas.DataFrame.from_dict(
            rows, orient="index", columns=["mmol/L", "charge"]
        )
        return table.sort_values("mmol/L", ascending=False)

    @property
    def notices(self):
        """Return what to know: ranges left, chelates outside their window of pH."""
        return state_notices(self)

    @cached_property
    def flat_unassigned(self):
        """Return the unassigned charge, flat. [meq/L]"""
        return flat(self.solution.unassigned_charge, self.shape)

    @cached_property
    def chelate_places(self):
        """Return the places of the chelates among the species."""
        first = self.net.first_row - len(self.net.inert)
        pairs = enumerate(self.net.inert, first)
        return frozenset(place for place, key in pairs if ":" in key)

    @cached_property
    def inverse(self):
        """Return 1/γ of every species, flat. [-]"""
        return inverse_gammas(
            self.net, self.activity_model, self.strength, self.molalities
        )

    @cached_property
    def log_activities(self):
        """Return the logarithms of activities worked out so far, by species. [-]"""
        return {}

    @cached_property
    def _places(self):
        return {name: place for place, name in enumerate(self.names)}

    def _place(self, name):
        """Return the place of a species; None if nothing of it can form here."""
        if name in self._places:
            return self._places[name]
        known = constants()
        ions = (known.hydrogen, known.hydroxide, *known.masters.values())
        if any(s.name == name for s in (*ions, *known.reactions)):
            return None
        raise UnknownName(f"{shortened(name)} is no species of the model")

    def _one(self):
        if self.shape:
            raise InputError("the state is a stack; take one solution of it")
        return self.species

    def shaped(self, value):
        """
        Return a flat value in the shape of what was given.

        Parameters
        ----------
        value : float or array
            One value for each solution. [-]

        Returns
        -------
        float or array
            The same. [-]

        Examples
        --------
        >>> from formulate.chemistry.speciation import speciate
        >>> from formulate.stoichiometry.solution import solution
        >>> speciate(solution({"K": 1.0, "Cl": 1.0})).shaped(2)
        2.0
        """
        if not self.shape:
            return float(value)
        if getattr(value, "shape", None) == self.shape:
            return value
        return np.broadcast_to(value, self.strength.shape).reshape(self.shape)

    def __str__(self):
        if self.shape:
            low, high, size = np.min(self.ph), np.max(self.ph), self.strength.size
            return f"a stack of {size} solutions, pH {low:.2f} to {high:.2f}"
        how = "given" if self.ph_imposed else "from the charges"
        ppm = self.air_co2_ppm
        air = "closed" if ppm is None else f"air {ppm:g} ppm CO2"
        head = (
            f"pH {self.ph:.2f} ({how}), ionic strength {self.ionic_strength:.3g} mmol/L, "
            f"{self.temperature:g} °C, {air}"
        )
        largest = sorted(self.species.items(), key=lambda pair: -pair[1])
        rows = [f"{name:>12} {printed(v):>10} mmol/L" for name, v in largest]
        return "\n".join([head, *rows, *map(str, self.notices)])

    def _repr_html_(self):
        return f"<pre>{html.escape(str(self))}</pre>"


def flat(value, shape):
    """
    Return a value as a number, or as one row of a stack.

    Parameters
    ----------
    value : float or array
        One value, or those of a stack. [-]
    shape : tuple of int
        Shape of the stack; empty for one solution. [-]

    Returns
    -------
    float or array, shape (n,)
        The same, flat. [-]

    Examples
    --------
    >>> flat(1, ()), flat(2.0, (3,)).tolist()
    (1.0, [2.0, 2.0, 2.0])
    """
    if not shape:
        return float(value)
    if getattr(value, "shape", None) == shape:
        return np.ascontiguousarray(value, dtype=float).reshape(-1)
    return np.broadcast_to(np.asarray(value, float), shape).reshape(-1)
