"""The species of the model and their constants, each from a line of a table.

Every reaction is written from bare ions: a cation, a ligand (an anion, or the uncharged
acid of boron and silicon), protons, water. The constant follows the temperature as

    log K = a1 + a2 T + a3/T + a4 log10(T) + a5/T² + a6 T²        (T in kelvin)
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType

from formulate.errors import InputError, MissingData, UnknownName
from formulate.stoichiometry.nutrients import form, nutrient
from formulate.tables import read_table

__all__ = ["Constants", "Species", "constants", "form_key", "log_k"]

COEFFICIENTS = ("a1", "a2", "a3", "a4", "a5", "a6")
MODELS = ("ion", "davies", "neutral")


@dataclass(frozen=True)
class Species:
    """
    One ion, pair or molecule in the water.

    Attributes
    ----------
    name : str
        Name, such as "CaHPO4" or "HCO3-".
    charge : int
        Charge number. [-]
    cation : str
        Form of the cation in it; empty if there is none.
    ligand : str
        Form of the ligand in it; empty if there is none.
    ligands : int
        How many of that ligand, 1 or 2. [-]
    protons : int
        Protons taken up, below 0 those given off, when it forms from bare ions. [-]
    waters : int
        Water molecules used when it forms, below 0 those set free. [-]
    log_k : tuple of float
        Coefficients a1 to a6 of the logarithm of its constant. [-]
    model : str
        How its activity coefficient is found at low strength: "ion" (WATEQ Debye-Hückel
        with size and slope), "davies", or "neutral" (slope alone).
    size : float
        Size of the ion in that equation. [Å]
    slope : float
        Slope with ionic strength in that equation. [kg/mol]
    source_key : str
        Where the constant comes from.
    """

    name: str
    charge: int
    cation: str = ""
    ligand: str = ""
    ligands: int = 0
    protons: int = 0
    waters: int = 0
    log_k: tuple = (0.0,) * 6
    model: str = "davies"
    size: float = 0.0
    slope: float = 0.0
    source_key: str = ""


@dataclass(frozen=True, eq=False)
class Constants:
    """
    A set of species with their constants.

    Attributes
    ----------
    hydrogen : Species
        The ion H+.
    hydroxide : Species
        The ion OH-, with the ion product of water.
    masters : mapping of str to Species
        Form to the bare ion that stands for it in every reaction.
    reactions : tuple of Species
        Everything that forms from bare ions.
    epsilon : mapping of (str, str) to float
        Cation and anion to their interaction coefficient in the SIT model. [kg/mol]
    """

    hydrogen: Species
    hydroxide: Species
    masters: Mapping
    reactions: tuple
    epsilon: Mapping = field(default_factory=dict)

    def master(self, key):
        """
        Return the bare ion of a form.

        Parameters
        ----------
        key : str
            Key of the form; "edta:iron_iii" means the chelate of the two.

        Returns
        -------
        Species
            The ion.

        Raises
        ------
        MissingData
            If the set has none for that form.

        Examples
        --------
        >>> constants().master("phosphate").name
        'PO4-3'
        """
        if ":" in key:
            return _chelate(*key.split(":"))
        try:
            return self.masters[key]
        except KeyError:
            what = f"{form(key).name}: no bare ion with an activity coefficient"
            raise MissingData(f"{what} in the table activity") from None

    def among(self, forms):
        """
        Return the reactions between some forms only.

        Parameters
        ----------
        forms : iterable of str
            Keys of the forms.

        Returns
        -------
        tuple of Species
            The reactions whose cation and ligand are both among them.

        Examples
        --------
        >>> [s.name for s in constants().among({"calcium", "sulfate"})]
        ['CaOH+', 'HSO4-', 'CaSO4', 'CaHSO4+']
        """
        there = {*forms, ""}
        return tuple(
            s for s in self.reactions if s.cation in there and s.ligand in there
        )


def log_k(coefficients, kelvin):
    """
    Return a logarithm of a constant at a temperature.

    Equation [pq386-phreeqc]::

        log K = a1 + a2 T + a3/T + a4 log10 T + a5/T² + a6 T²        T in kelvin

    Parameters
    ----------
    coefficients : sequence of float
        The six coefficients a1 to a6. [-]
    kelvin : float
        Temperature. [K]

    Returns
    -------
    float
        The decadic logarithm. [-]

    Examples
    --------
    >>> water = constants().hydroxide
    >>> round(log_k(water.log_k, 298.15), 3)
    -14.0
    """
    a1, a2, a3, a4, a5, a6 = coefficients
    t = kelvin
    return a1 + a2 * t + a3 / t + a4 * math.log10(t) + a5 / t**2 + a6 * t**2


def form_key(key):
    """
    Return the form that a key stands for.

    Parameters
    ----------
    key : str
        Form, such as "calcium", or nutrient key of one form, such as "Ca".

    Returns
    -------
    str
        The form.

    Raises
    ------
    UnknownName
        If it is neither.
    InputError
        If it is the sum of several forms.

    Examples
    --------
    >>> form_key("SO4")
    'sulfate'
    """
    try:
        return form(key).key
    except UnknownName:
        forms = tuple(nutrient(key).weights)
    if len(forms) > 1:
        raise InputError(f"{key} is the sum of several forms: {', '.join(forms)}")
    return forms[0]


@cache
def constants():
    """
    Return the constants of the package, read from its tables.

    Returns
    -------
    Constants
        The set: pairs of WATEQ4F, what it lacks from phreeqc.dat and NIST 46.

    Raises
    ------
    MissingData
        If a species of the table association has no line in the table activity.

    Examples
    --------
    >>> len(constants().reactions) > 100
    True
    """
    activities = {row["species"]: row for row in read_table("activity")}
    reactions = [
        _species(row, _activity_of(row["species"], activities))
        for row in read_table("association")
    ]
    masters = {row["form"]: _master(row) for row in activities.values() if row["form"]}
    epsilon = {
        (row["cation"], row["anion"]): row.number("epsilon")
        for row in read_table("sit")
    }
    (hydroxide,) = (s for s in reactions if not s.cation and not s.ligand)
    return Constants(
        _master(activities["H+"]),
        hydroxide,
        MappingProxyType(masters),
        tuple(s for s in reactions if s is not hydroxide),
        MappingProxyType(epsilon),
    )


@cache
def _chelate(ligand, metal):
    """Return a chelate as one ion that takes part in nothing else."""
    ion, of = constants().masters[metal], constants().masters[ligand]
    charge = ion.charge + of.charge
    sign = "" if not charge else "+" if charge > 0 else "-"
    size = "" if abs(charge) < 2 else str(abs(charge))
    name = ion.name.rstrip("+-0123456789") + of.name.rstrip("+-0123456789")
    return Species(f"{name}{sign}{size}", charge)


def _activity_of(name, activities):
    try:
        return activities[name]
    except KeyError:
        what = f"{name}: no activity coefficient in the table activity"
        raise MissingData(what) from None


def _behaviour(row):
    """Return how the activity coefficient of a line is found, as keywords."""
    if row["model"] not in MODELS:
        raise MissingData(f"{row['species']}: no model {row['model']!r} of activity")
    size, slope = row.number("size"), row.number("slope")
    return {"model": row["model"], "size": size or 0.0, "slope": slope or 0.0}


def _master(row):
    """Return the bare ion that a line of the table activity describes."""
    charge, key = int(row.number("charge")), row["source_key"]
    return Species(row["species"], charge, source_key=key, **_behaviour(row))


def _species(row, activity):
    """Return what a line of the table association describes."""
    counts = ("charge", "ligands", "protons", "waters")
    return Species(
        row["species"],
        cation=row["cation"],
        ligand=row["ligand"],
        log_k=tuple(row.number(a) for a in COEFFICIENTS),
        source_key=row["source_key"],
        **{name: int(row.number(name)) for name in counts},
        **_behaviour(activity),
    )
