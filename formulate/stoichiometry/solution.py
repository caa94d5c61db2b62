"""A solution: how much of every form a litre holds."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from formulate.checks import checked_number, checked_values
from formulate.errors import Faults, InputError, shortened
from formulate.stoichiometry.charge import charge_at_ph, check_ph, nominal_charge
from formulate.stoichiometry.nutrients import form, form_names, nutrient, nutrient_keys
from formulate.stoichiometry.quantities import read_quantity
from formulate.stoichiometry.units import CONCENTRATIONS, convert, unit
from formulate.working import Quantity, Step, Working, printed, printed_mg_l

__all__ = ["Solution", "solution"]

ROOM_TEMPERATURE = 25.0
SHOWN_KEYS = (
    "NO3-N",
    "NO2-N",
    "NH4-N",
    "urea-N",
    "P",
    "K",
    "Ca",
    "Mg",
    "S",
    "Cl",
    "Na",
    "C",
    "Si",
    "Fe",
    "Mn",
    "Zn",
    "Cu",
    "B",
    "Mo",
    "F",
    "Ni",
    "Co",
)


@dataclass(frozen=True, eq=False)
class Solution:
    """
    What a litre holds.

    Attributes
    ----------
    forms : mapping of str to float or array
        Form to concentration; a form that is not named is absent. [mmol/L]
    unassigned_charge : float or array
        Equivalents of unnamed inert ions, with their sign. [meq/L]
    temperature : float
        Temperature. [°C]
    ph : float or None
        Measured pH, if one was measured. [-]

    Examples
    --------
    >>> feed = solution({"Ca": 4.5, "NO3": 9.0})
    >>> round(feed.mg_l("Ca"), 1), feed.meq_l("Ca")
    (180.4, 9.0)
    """

    forms: Mapping
    unassigned_charge: object = 0.0
    temperature: float = ROOM_TEMPERATURE
    ph: float | None = None

    def __post_init__(self):
        faults = Faults()
        kept = {}
        for key, value in self.forms.items():
            with faults.collecting(key):
                form(key)
                kept[key] = _checked(value, "mmol/L", least=0.0)
        with faults.collecting("unassigned charge"):
            object.__setattr__(
                self,
                "unassigned_charge",
                _checked(self.unassigned_charge, "meq/L", least=None),
            )
        with faults.collecting():
            _check_shapes(kept)
        with faults.collecting():
            if self.ph is not None:
                object.__setattr__(self, "ph", check_ph(self.ph))
        with faults.collecting():
            checked_number(self.temperature, "temperature in °C")
        faults.raise_if_any()
        ordered = {key: kept[key] for key in form_names() if key in kept}
        object.__setattr__(self, "forms", MappingProxyType(ordered))

    def mmol_l(self, key):
        """
        Return the amount of a nutrient, on the basis its key says.

        Parameters
        ----------
        key : str
            Nutrient key, such as "NO3" or "P2O5".

        Returns
        -------
        float or array
            Amount of the basis. [mmol/L]

        Examples
        --------
        >>> solution({"P": 1.0}).mmol_l("P2O5")
        0.5
        """
        return nutrient(key).amount(self.forms)

    def mg_l(self, key):
        """
        Return the mass of a nutrient, on the basis its key says.

        Parameters
        ----------
        key : str
            Nutrient key.

        Returns
        -------
        float or array
            Mass of the basis. [mg/L]

        Examples
        --------
        >>> round(solution({"P": 1.0}).mg_l("P2O5"), 2)
        70.97
        """
        return self.mmol_l(key) * nutrient(key).molar_mass

    def meq_l(self, key):
        """
        Return the equivalents of a nutrient, counted as its nominal ion.

        Parameters
        ----------
        key : str
            Nutrient key whose forms share one charge.

        Returns
        -------
        float or array
            Equivalents, without sign. [meq/L]

        Raises
        ------
        InputError
            If the forms behind the key differ in charge (N).

        Examples
        --------
        >>> solution({"SO4": 2.0}).meq_l("S")
        4.0
        """
        return self.mmol_l(key) * abs(nutrient(key).charge_per_amount())

    def cations(self):
        """
        Return the sum of cations, every form counted as its nominal ion.

        Returns
        -------
        float or array
            Equivalents. [meq/L]

        Examples
        --------
        >>> solution({"Ca": 2.0, "NO3": 4.0}).cations()
        4.0
        """
        return nominal_charge(self._of_sign(+1))

    def anions(self):
        """
        Return the sum of anions, every form counted as its nominal ion.

        Returns
        -------
        float or array
            Equivalents, without sign. [meq/L]

        Examples
        --------
        >>> solution({"Ca": 2.0, "NO3": 4.0}).anions()
        4.0
        """
        return -nominal_charge(self._of_sign(-1))

    def alkalinity(self):
        """
        Return what takes up acid, down to where phosphate is H2PO4- and carbon CO2.

        The charge that carbonate and hydroxide must carry. Below 0 there is free acid.

        Equation [definition]::

            alkalinity = Σ z c of all forms but carbonate + unassigned charge

        Returns
        -------
        float or array
            Alkalinity. [meq/L]

        Examples
        --------
        >>> solution({"Ca": 1.0, "HCO3": 2.0}).alkalinity()
        2.0
        """
        others = {key: v for key, v in self.forms.items() if key != "carbonate"}
        return nominal_charge(others) + self.unassigned_charge

    def _of_sign(self, sign):
        return {
            key: v
            for key, v in self.forms.items()
            if form(key).nominal_charge * sign > 0
        }

    def working(self, key):
        """
        Return the arithmetic from what is counted to the basis asked for.

        Parameters
        ----------
        key : str
            Nutrient key.

        Returns
        -------
        Working
            The steps.

        Examples
        --------
        >>> print(solution({"P": 2.0}).working("P2O5"))
        P2O5 in the solution
          1. P2O5 in it: 2 mmol/L × 0.5 mol/mol = 1.0000 mmol/L
          2. P2O5: 1 mmol/L × 141.94 mg/mmol = 141.94 mg/L  [stoichiometry]
        """
        wanted = nutrient(key)
        terms = []
        for name, weight in wanted.weights.items():
            value = self.forms.get(name, 0.0)
            if not isinstance(value, float):
                raise InputError(
                    "working: the solution is a stack; take one solution of it"
                )
            if not value and name != next(iter(wanted.weights)):
                continue
            if terms:
                terms.append("+")
            terms.append(Quantity(value, f"mmol/L {form(name).symbol}"))
            if weight != 1:
                terms += ["×", Quantity(weight, "mol/mol")]
        if len(wanted.weights) == 1:
            terms[0] = Quantity(terms[0].value, "mmol/L")
        counted = Step(f"{wanted.key} in it", tuple(terms), "mmol/L")
        mass = (
            Quantity(counted.value, "mmol/L"),
            "×",
            Quantity(wanted.molar_mass, "mg/mmol"),
        )
        weighed = Step(wanted.key, mass, "mg/L", "stoichiometry")
        return Working(f"{wanted.key} in the solution", (counted, weighed))

    def rows(self):
        """
        Return what is shown of a solution: key, mg/L, mmol/L, for each nutrient present.

        Returns
        -------
        tuple of tuple
            (key, value in mg/L, value in mmol/L). [mg/L]

        Examples
        --------
        >>> [key for key, _, _ in solution({"Ca": 2.0, "NO3": 4.0}).rows()]
        ['NO3-N', 'Ca']
        """
        chelates = [key for key in nutrient_keys() if nutrient(key).group == "chelate"]
        keys = (*SHOWN_KEYS, *chelates)
        present = [
            key for key in keys if any(f in self.forms for f in nutrient(key).weights)
        ]
        return tuple((key, self.mg_l(key), self.mmol_l(key)) for key in present)

    def to_frame(self):
        """
        Return the nutrients as a table.

        Returns
        -------
        pandas.DataFrame
            One row per nutrient present, columns "mg/L" and "mmol/L". [mg/L]

        Examples
        --------
        >>> solution({"K": 1.0, "NO3": 1.0}).to_frame().round(2)["mg/L"].to_dict()
        {'NO3-N': 14.01, 'K': 39.1}
        """
        import pandas

        rows = {key: (mass, amount) for key, mass, amount in self.rows()}
        return pandas.DataFrame.from_dict(
            rows, orient="index", columns=["mg/L", "mmol/L"]
        )

    def __str__(self):
        if not all(isinstance(value, float) for value in self.forms.values()):
            return f"a stack of solutions, forms: {', '.join(self.forms)}"
        lines = [
            f"{key:>7} {printed_mg_l(mass):>9} mg/L {printed(amount):>9} mmol/L"
            for key, mass, amount in self.rows()
        ]
        return "\n".join(lines) or "pure water"

    def _repr_html_(self):
        if not all(isinstance(value, float) for value in self.forms.values()):
            return f"<p>{self}</p>"
        rows = "".join(
            f"<tr><th scope='row'>{key}</th><td style='text-align:right'>{printed_mg_l(mass)}</td>"
            f"<td style='text-align:right'>{printed(amount)}</td></tr>"
            for key, mass, amount in self.rows()
        )
        head = "<tr><th></th><th>mg/L</th><th>mmol/L</th></tr>"
        return f"<table>{head}{rows}</table>"


def _checked(value, in_unit, least):
    """Return a float, or a read-only copy of an array, that is finite and not too small."""
    value = checked_values(value, f"value in {in_unit}")
    if isinstance(value, float):
        lowest = highest = value
    elif not value.size:
        raise InputError("an empty array holds no solution")
    else:
        value = value.astype(float)
        lowest, highest = float(value.min()), float(value.max())
        value.setflags(write=False)
    if not (math.isfinite(lowest) and math.isfinite(highest)):
        raise InputError(f"not every value is a finite number of {in_unit}")
    if least is not None and lowest < least:
        raise InputError(f"{lowest:g} {in_unit} is negative")
    return value


def _check_shapes(forms):
    """Raise if arrays of one solution do not fit together."""
    shapes = {
        key: value.shape for key, value in forms.items() if hasattr(value, "shape")
    }
    longest = max(shapes.values(), key=len, default=())
    for key, shape in shapes.items():
        ends = zip(reversed(longest), reversed(shape), strict=False)
        if any(a != b and 1 not in (a, b) for a, b in ends):
            what = f"{key} has shape {shape}, another form {longest}; they do not fit"
            raise InputError(what)


def solution(contents, *, unit="mmol/L", ph=None, temperature=ROOM_TEMPERATURE):
    """
    Return a solution from concentrations.

    Iron without its state ("Fe") is counted as iron(III). Where no pH is given, the charge that the named ions leave open, each counted as its
    nominal ion, stays as unassigned charge; where one is given, it is the charge at that pH.

    Parameters
    ----------
    contents : mapping of str to float, str or array
        Nutrient key to concentration; text may carry its own unit. [mmol/L]
    unit : str
        Unit of bare numbers.
    ph : float or None
        Measured pH. [-]
    temperature : float
        Temperature. [°C]

    Returns
    -------
    Solution
        The solution.

    Raises
    ------
    InputError
        With every fault: unknown keys or units, negative values, one form named twice.

    Examples
    --------
    >>> tap = solution({"Ca": "80 mg/L", "HCO3": "244 mg/L"})
    >>> round(tap.mmol_l("HCO3"), 3)
    3.999
    """
    faults = Faults("solution")
    forms, named = {}, {}
    if not isinstance(contents, Mapping):
        what = f"{shortened(contents)} is no mapping, such as {{'Ca': 4.5}}"
        raise InputError(f"solution: {what}")
    for key, value in contents.items():
        with faults.collecting(str(key)):
            name, amount = _form_amount(key, value, unit)
            if name in named:
                raise InputError(
                    f"{named[name]} and {key} count the same thing; give one"
                )
            named[name] = key
            forms[name] = amount
    if ph is not None:
        with faults.collecting():
            ph = check_ph(ph)
    faults.raise_if_any()
    made = Solution(forms, temperature=temperature)
    charge = nominal_charge(made.forms) if ph is None else charge_at_ph(made.forms, ph)
    return Solution(made.forms, 0.0 - charge, temperature, ph)


def _form_amount(key, value, bare_unit):
    """Return the form a key stands for and its amount in mmol/L."""
    wanted = nutrient(key)
    if len(wanted.weights) > 1 and wanted.key != "Fe":
        parts = ", ".join(form(name).symbol for name in wanted.weights)
        raise InputError(
            f"{wanted.key} is the sum of several forms; give them apart: {parts}"
        )
    of_unit = unit(bare_unit, *CONCENTRATIONS)
    if isinstance(value, str):
        value, of_unit = read_quantity(value, *CONCENTRATIONS, default=bare_unit)
    name = "iron_iii" if wanted.key == "Fe" else next(iter(wanted.weights))
    weight = 1.0 if wanted.key == "Fe" else wanted.weights[name]
    if wanted.key == "Fe" and of_unit.kind not in (
        "mass_concentration",
        "amount_concentration",
    ):
        raise InputError("Fe has no single charge; give Fe(II) or Fe(III)")
    return name, convert(value, of_unit, "mmol/L", of=wanted) / weight
