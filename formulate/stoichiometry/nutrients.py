"""Nutrient keys: what people write (N, P2O5, NO3-N ...) and the forms that count for it.

One table ties keys to forms, and one resolver serves every look-up. Whatever is asked of
a solution, a salt, a label or a target, "NO3", "nitrate" and "NO3-" mean the same.
"""

import difflib
import re
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from formulate.errors import InputError, UnknownName, shortened
from formulate.stoichiometry.formula import molar_mass, parse_formula
from formulate.tables import read_table

__all__ = [
    "Form",
    "Nutrient",
    "form",
    "form_names",
    "nutrient",
    "nutrient_keys",
]

PLAIN = str.maketrans("₀₁₂₃₄₅₆₇₈₉⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻₋−–‑", "01234567890123456789+-----")


@dataclass(frozen=True)
class Form:
    """
    What is conserved and counted in a solution.

    Attributes
    ----------
    key : str
        Its name in the program, such as "iron_iii".
    name : str
        Its name for people.
    ion : str
        The ion or molecule that one millimole counts.
    nominal_ion : str
        The ion as which it is counted where no pH is known.
    nominal_charge : int
        Charge number of that ion. [-]
    symbol : str
        Nutrient key under which it is shown.
    lightest_mass : float
        Mass of the least that can carry it in a solid, such as half a P2O5. [g/mol]
    """

    key: str
    name: str
    ion: str
    nominal_ion: str
    nominal_charge: int
    symbol: str
    lightest_mass: float


@dataclass(frozen=True)
class Nutrient:
    """
    A nutrient on a stated basis.

    Attributes
    ----------
    key : str
        How it is written: "P2O5" is never "P".
    name : str
        Its name for people.
    basis : str
        The formula that is weighed when it is given in mg.
    weights : mapping of str to float
        Form to moles of the basis per mole of the form. [-]
    molar_mass : float
        Molar mass of the basis. [g/mol]
    group : str
        "macro", "micro", "chelate", "water" or "other".
    ion_charge : int or None
        Charge number of the ion that the key names, if it names one. [-]
    """

    key: str
    name: str
    basis: str
    weights: MappingProxyType
    molar_mass: float
    group: str
    ion_charge: int | None = None

    def amount(self, forms):
        """
        Return the amount of the basis in a set of forms.

        Equation [definition]::

            amount = Σ w a        w moles of the basis in one of the form: P2O5 from P, ½

        Parameters
        ----------
        forms : mapping of str to float or array
            Form to amount. [mmol]

        Returns
        -------
        float or array
            Amount of the basis, in the unit of the forms. [mmol]

        Examples
        --------
        >>> nutrient("P2O5").amount({"phosphate": 2.0})
        1.0
        """
        return sum(
            (w * forms[form] for form, w in self.weights.items() if form in forms), 0.0
        )

    def charge_per_amount(self):
        """
        Return the charge of one mole of the basis.

        That of the ion which the key names (CO3, HPO4), else that of the nominal ions.

        Returns
        -------
        float
            Charge number, with its sign. [-]

        Raises
        ------
        InputError
            If the forms behind the key do not share one charge.

        Examples
        --------
        >>> nutrient("Ca").charge_per_amount()
        2.0
        """
        if self.ion_charge is not None:
            return float(self.ion_charge)
        charges = {form(key).nominal_charge / w for key, w in self.weights.items()}
        if len(charges) > 1:
            parts = ", ".join(form(key).symbol for key in self.weights)
            raise InputError(
                f"{self.key} has no single charge; ask for its parts: {parts}"
            )
        return float(charges.pop())


@cache
def _forms():
    rows = {}
    for row in read_table("forms"):
        rows[row["form"]] = Form(
            row["form"],
            row["name"],
            row["ion"],
            row["nominal_ion"],
            parse_formula(row["nominal_ion"]).charge,
            row["symbol"],
            molar_mass(row["lightest"]) / row.number("lightest_count"),
        )
    return MappingProxyType(rows)


def form_names():
    """
    Return the keys of all forms, in the order of the table.

    Returns
    -------
    tuple of str
        Keys.

    Examples
    --------
    >>> form_names()[:3]
    ('nitrate', 'nitrite', 'ammonium')
    """
    return tuple(_forms())


def form(key):
    """
    Return a form by its key.

    Parameters
    ----------
    key : str
        Key of a form, such as "nitrate".

    Returns
    -------
    Form
        The form.

    Raises
    ------
    UnknownName
        If there is no such form.

    Examples
    --------
    >>> form("phosphate").nominal_charge
    -1
    """
    try:
        return _forms()[key]
    except (KeyError, TypeError):
        known = ", ".join(form_names())
        raise UnknownName(f"{shortened(key)} is no form; there are {known}") from None


def _spelling(text, *, with_charge=False):
    """Return a key without what people write in many ways: case, blanks, scripts."""
    plain = " ".join(str(text).translate(PLAIN).split()).casefold().replace("_", "-")
    plain = plain.replace(" -", "-").replace("- ", "-")
    if with_charge:
        return plain
    plain = re.sub(r"(\++|--+)$", lambda signs: f"{len(signs[0])}".strip("1"), plain)
    return plain.rstrip("+-").replace("+-", "-")


@cache
def _nutrients():
    rows = {}
    for row in read_table("nutrients"):
        pairs = (pair.split(":") for pair in row["forms"].split())
        weights = MappingProxyType({name: float(weight) for name, weight in pairs})
        mass = molar_mass(row["basis"])
        key = row["key"]
        charge = parse_formula(row["ion"]).charge if row["ion"] else None
        rows[key] = Nutrient(
            key, row["name"], row["basis"], weights, mass, row["group"], charge
        )
    return MappingProxyType(rows)


@cache
def _spellings():
    """Return every accepted spelling, made plain, to its key."""
    spellings = {}
    for row in read_table("nutrients"):
        for text in (row["key"], row["name"], *row["aliases"].split("|")):
            if text:
                spellings.setdefault(_spelling(text), row["key"])
    for row in read_table("nutrients"):
        if row["ion"]:
            ion, sign, number = re.fullmatch(r"(.+)([+-])(\d)", row["ion"]).groups()
            for charge in (f"{sign}{number}", f"{number}{sign}", sign * int(number)):
                text = ion + charge
                spellings.setdefault(_spelling(text, with_charge=True), row["key"])
                spellings.setdefault(_spelling(text), row["key"])
    return MappingProxyType(spellings)


def nutrient_keys():
    """
    Return all nutrient keys, in the order of the table.

    Returns
    -------
    tuple of str
        Keys.

    Examples
    --------
    >>> "P2O5" in nutrient_keys()
    True
    """
    return tuple(_nutrients())


def nutrient(key):
    """
    Return a nutrient by any of its spellings.

    Parameters
    ----------
    key : str or Nutrient
        Such as "NO3", "nitrate", "NO3-", "NO3-N", "P2O5".

    Returns
    -------
    Nutrient
        The nutrient on the basis that was written.

    Raises
    ------
    UnknownName
        If nothing is written so; the message lists the nearest and all known keys.

    Examples
    --------
    >>> nutrient("nitrate").key, nutrient("NO3⁻").key, nutrient("potash").key
    ('NO3', 'NO3', 'K2O')
    """
    if isinstance(key, Nutrient):
        return key
    known = _nutrients().get(key) if isinstance(key, str) else None
    if known:
        return known
    known = _spellings()
    found = known.get(_spelling(key, with_charge=True)) or known.get(_spelling(key))
    if found is None:
        near = difflib.get_close_matches(_spelling(key), _spellings(), n=3, cutoff=0.6)
        hint = "".join(
            f"; near: {', '.join(dict.fromkeys(_spellings()[n] for n in near))}"
            * bool(near)
        )
        keys = ", ".join(nutrient_keys())
        raise UnknownName(f"{shortened(key)} is no nutrient key{hint}; known: {keys}")
    return _nutrients()[found]
