"""An ingredient: what a gram, or a millilitre, of something brings into the water."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from formulate.checks import checked_number
from formulate.errors import Faults, InputError, MissingData, shortened
from formulate.stoichiometry.charge import mean_charge, nominal_charge
from formulate.stoichiometry.formula import parse_formula
from formulate.stoichiometry.nutrients import form, nutrient
from formulate.stoichiometry.units import unit
from formulate.working import Shown, printed

__all__ = ["Ingredient", "analysed", "from_formula", "handling_role"]

PERCENT = 100.0
PER_KG = 1000.0
LARGEST_SHARE = 1.005  # g in 1 g, printed percentages being rounded
ACID_PH, ALKALI_PH, LEAST_SHARE = 3.0, 9.5, 0.05
DENSITIES = (0.5, 3.0)  # kg/L: outside this a liquid was mistyped
SHOWN = (
    "N",
    "P",
    "K",
    "Ca",
    "Mg",
    "S",
    "Cl",
    "Na",
    "Si",
    "Fe",
    "Mn",
    "Zn",
    "Cu",
    "B",
    "Mo",
)


@dataclass(frozen=True, eq=False)
class Ingredient(Shown):
    """
    Something that can be weighed or poured into the water.

    A stock solution is measured in millilitres, for its density is not known before it is
    made; everything else is measured in grams.

    Attributes
    ----------
    name : str
        How it is called on the sheet.
    forms : mapping of str to float
        Form to amount in one gram or one millilitre. [mmol]
    measured_in : str
        "g" or "mL".
    unassigned_charge : float
        Equivalents of unnamed ions in one gram or millilitre. [meq]
    formula : str
        Chemical formula, if it is one compound.
    cas : str
        CAS number, where known.
    purity_percent : float
        Mass share of the compound in what is weighed. [%]
    density : float or None
        Density of a liquid. [kg/L]
    crystal_water : float
        Water of crystallisation in one gram. [mmol]
    price : float or None
        Price of a kilogram, or of a litre where it is measured in mL. [currency/kg]
    weighing_step : float or None
        Smallest step in which it is weighed or poured. [g]
    hazards : tuple of str
        GHS codes; ("none",) is not classified, () is no data.
    role : str
        "acid", "alkali" or "".
    dissolved : bool
        Whether it is sold as a liquid, its density known or not.
    restricted : str
        "restricted" or "reported" where its sale is so in some places, or "".
    sold_purity : str
        Range of purity in which it is sold, if it is counted as pure. [%]
    use : str
        What it is used for.
    tank : str
        Where it belongs in a two-tank system, by common practice: "calcium tank",
        "sulfate and phosphate tank", "either", "acid tank", "alone", or "".
    source_key : str
        Where its composition comes from.
    how_known : str
        "read", "memory" or "computed".
    note : str
        What to know about it.
    analysis : mapping of str to float
        Nutrient key to mass share as stated, for what is known by its analysis. [%]
    parts : tuple of (Ingredient, float)
        What a stock or blend is made of, with amounts. [g]
    made_of : float
        Grams or millilitres that the parts make. [g]
    assumed : tuple of str
        What had to be assumed to read it.
    notices : tuple of Notice
        What to know about it before it is used.
    reading : object
        What was read of its label, if it was read from one.
    """

    name: str
    forms: Mapping
    measured_in: str = "g"
    unassigned_charge: float = 0.0
    formula: str = ""
    cas: str = ""
    purity_percent: float = PERCENT
    density: float | None = None
    crystal_water: float = 0.0
    price: float | None = None
    weighing_step: float | None = None
    hazards: tuple = ()
    role: str = ""
    dissolved: bool = False
    restricted: str = ""
    sold_purity: str = ""
    use: str = ""
    tank: str = ""
    source_key: str = ""
    how_known: str = ""
    note: str = ""
    analysis: Mapping = field(default_factory=dict)
    parts: tuple = ()
    made_of: float = 0.0
    assumed: tuple = ()
    notices: tuple = ()
    reading: object = None

    def __post_init__(self):
        faults = Faults(self.name)
        if self.measured_in not in ("g", "mL"):
            faults.add(f"measured in {self.measured_in!r}: write g or mL")
        for key, amount in self.forms.items():
            with faults.collecting():
                form(key)
                checked_number(amount, f"{key} in mmol", least=0)
        faults.raise_if_any()
        for name in ("forms", "analysis"):
            frozen = MappingProxyType(dict(getattr(self, name)))
            object.__setattr__(self, name, frozen)

    @property
    def is_liquid(self):
        """Return whether it is poured rather than weighed."""
        has_volume = self.measured_in == "mL" or self.density is not None
        return has_volume or self.dissolved

    def amount(self, key):
        """
        Return how much of a nutrient one gram or millilitre holds.

        Parameters
        ----------
        key : str
            Nutrient key.

        Returns
        -------
        float
            Amount of the basis in one gram or one millilitre. [mmol]

        Examples
        --------
        >>> round(from_formula("KNO3").amount("K"), 3)
        9.891
        """
        return nutrient(key).amount(self.forms)

    def percent(self, key):
        """
        Return the mass share of a nutrient.

        Parameters
        ----------
        key : str
            Nutrient key.

        Returns
        -------
        float
            Mass of the basis in 100 g, or in 100 mL where it is measured in mL. [%]

        Examples
        --------
        >>> round(from_formula("KH2PO4").percent("P2O5"), 2)
        52.15
        """
        grams = self.amount(key) * nutrient(key).molar_mass / 1000
        return grams * PERCENT

    def amount_measured(self, value, of_unit):
        """
        Return a mass or volume of it in grams, or in mL where it is measured so.

        Parameters
        ----------
        value : float
            The mass or volume, in `of_unit`. [-]
        of_unit : str or Unit
            A unit of mass or volume.

        Returns
        -------
        float
            Grams or millilitres. [g]

        Raises
        ------
        InputError
            If a solid is given by volume; a spoon of it is a range, so weigh it.
        MissingData
            If the density that is needed is not known.

        Examples
        --------
        >>> from_formula("HNO3", percent=67, density=1.4).amount_measured(10, "mL")
        14.0
        """
        known = unit(of_unit, "mass", "volume")
        value = checked_number(value, f"{self.name}, amount in {known}", least=0)
        house = value * known.factor  # g or L
        measured_as = "mass" if self.measured_in == "g" else "volume"
        if known.kind == measured_as:
            return house if known.kind == "mass" else house * 1000
        if self.density is None:
            if not self.is_liquid and self.role != "acid":
                what = f"{self.name} is weighed: a volume of a solid is a range, give grams"
                raise InputError(what)
            raise MissingData(
                f"{self.name}: its density is needed; give density= in kg/L"
            )
        return (
            house * 1000 * self.density
            if known.kind == "volume"
            else house / self.density
        )

    def millilitres(self, amount):
        """
        Return the volume that an amount of a liquid takes.

        Parameters
        ----------
        amount : float
            Grams, or millilitres where it is measured so. [g]

        Returns
        -------
        float
            Volume; 0 for what is no liquid of known density. [mL]

        Examples
        --------
        >>> round(from_formula("HNO3", percent=67, density=1.4).millilitres(14), 9)
        10.0
        """
        amount = checked_number(amount, f"{self.name}, amount", least=0)
        if self.measured_in == "mL":
            return amount
        return amount / self.density if self.density else 0.0

    def cost(self, amount):
        """
        Return what an amount costs.

        Parameters
        ----------
        amount : float
            Grams, or millilitres where it is measured so. [g]

        Returns
        -------
        float or None
            Cost, in the currency of the price; None without a price. [currency]

        Examples
        --------
        >>> from_formula("KNO3", price_per_kg=2.0).cost(500)
        1.0
        """
        amount = checked_number(amount, f"{self.name}, amount", least=0)
        return None if self.price is None else amount / PER_KG * self.price

    def renamed(self, name):
        """
        Return the same ingredient under another name.

        Parameters
        ----------
        name : str
            New name.

        Returns
        -------
        Ingredient
            The ingredient.

        Examples
        --------
        >>> from_formula("KNO3").renamed("bag in the shed").name
        'bag in the shed'
        """
        return replace(self, name=name)

    def __str__(self):
        keys = [key for key in SHOWN if self.amount(key)]
        counted = {part for key in keys for part in nutrient(key).weights}
        keys += [form(part).symbol for part in self.forms if part not in counted]
        shares = [f"{key} {printed(self.percent(key))}" for key in keys]
        basis = "% w/w" if self.measured_in == "g" else "% w/v"
        return f"{self.name}: {', '.join(shares) or 'no nutrient'} ({basis})"


def handling_role(forms):
    """
    Return whether what brings these forms is handled as an acid or an alkali.

    It is an acid if the forms, alone in water, leave a need for protons at pH 3, and an
    alkali if they leave a need for hydroxide at pH 9.5.

    Parameters
    ----------
    forms : mapping of str to float
        Form to amount in a compound of known formula. [mmol]

    Returns
    -------
    str
        "acid", "alkali" or "".

    Examples
    --------
    >>> handling_role({"nitrate": 1.0}), handling_role({"potassium": 1.0})
    ('acid', 'alkali')
    >>> handling_role({"potassium": 1.0, "nitrate": 1.0})
    ''
    """
    size = sum(forms.values())
    charge = {
        ph: sum(mean_charge(key, ph) * amount for key, amount in forms.items())
        for ph in (ACID_PH, ALKALI_PH)
    }
    if charge[ACID_PH] < -LEAST_SHARE * size:
        return "acid"
    return "alkali" if charge[ALKALI_PH] > LEAST_SHARE * size else ""


def from_formula(formula, *, percent=PERCENT, density=None, price_per_kg=None, **facts):
    """
    Return an ingredient made of one compound.

    Its charge is balanced by the formula, so its unassigned charge is exactly 0.

    Parameters
    ----------
    formula : str
        Chemical formula.
    percent : float
        Mass share of the compound in what is weighed or poured. [%]
    density : float or None
        Density, if it is a liquid. [kg/L]
    price_per_kg : float or None
        Price. [currency/kg]
    **facts : object
        Other fields of `Ingredient`.

    Returns
    -------
    Ingredient
        The ingredient, measured in grams.

    Raises
    ------
    InputError
        With every fault of formula, strength, density and price.

    Examples
    --------
    >>> round(from_formula("MgSO4·7H2O").percent("Mg"), 2)
    9.86
    """
    faults = Faults()
    with faults.collecting():
        read = parse_formula(formula)
        if read.charge:
            raise InputError(f"{formula} is an ion; a bottle holds whole salts")
        forms = read.forms
    with faults.collecting():
        percent = checked_number(percent, "share in %", above=0, most=PERCENT)
    with faults.collecting():
        if density is not None:
            low, high = DENSITIES
            density = checked_number(density, "density in kg/L", least=low, most=high)
    with faults.collecting():
        if price_per_kg is not None:
            price_per_kg = checked_number(price_per_kg, "price per kg", least=0)
    faults.raise_if_any()
    per_gram = percent / PERCENT * 1000 / read.molar_mass
    name = facts.pop("name", None) or read.text
    facts.setdefault("role", handling_role(forms))
    return Ingredient(
        name,
        {key: moles * per_gram for key, moles in forms.items()},
        formula=read.text,
        purity_percent=percent,
        density=density,
        crystal_water=read.water * per_gram,
        price=price_per_kg,
        **facts,
    )


def analysed(name, percents, **facts):
    """
    Return an ingredient from its analysis in percent by mass.

    What the analysis leaves unsaid is taken as inert ions that balance the charge of the
    named ones, each counted as its nominal ion.

    Parameters
    ----------
    name : str
        How it is called.
    percents : mapping of str to float
        Nutrient key, on its stated basis, to mass share. [%]
    **facts : object
        Other fields of `Ingredient`.

    Returns
    -------
    Ingredient
        The ingredient, measured in grams.

    Raises
    ------
    InputError
        With every fault: sums of forms, negative or impossible shares.

    Examples
    --------
    >>> bag = analysed("double salt", {"NO3-N": 14.4, "NH4-N": 1.1, "Ca": 19})
    >>> round(bag.percent("N"), 2), round(bag.unassigned_charge, 3)
    (15.5, 0.014)
    """
    faults = Faults(name)
    if not isinstance(percents, Mapping):
        what = f"{shortened(percents)} is no analysis"
        raise InputError(f"{name}: {what}; give a mapping such as {{'K': 38}}")
    forms = {}
    for key, share in percents.items():
        with faults.collecting(str(key)):
            wanted = nutrient(key)
            if len(wanted.weights) != 1:
                parts = ", ".join(form(part).symbol for part in wanted.weights)
                raise InputError(f"a sum of several forms; give them apart: {parts}")
            ((counted, weight),) = wanted.weights.items()
            if counted in forms:
                raise InputError(f"counts {form(counted).name}, which is given already")
            grams = checked_number(share, "share in %", above=0, most=PERCENT)
            forms[counted] = grams / PERCENT / wanted.molar_mass * 1000 / weight
    grams = sum(form(key).lightest_mass * v / 1000 for key, v in forms.items())
    if grams > LARGEST_SHARE:
        faults.add(f"what is named weighs {grams:.4g} g in 1 g; look at the bases")
    faults.raise_if_any()
    charge = 0.0 - nominal_charge(forms)
    stated = {key: float(share) for key, share in percents.items()}
    return Ingredient(name, forms, unassigned_charge=charge, analysis=stated, **facts)
