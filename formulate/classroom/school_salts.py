"""Salts as a lesson counts with them: formula, molar mass, what a gram holds."""

import re
from dataclasses import dataclass
from functools import cache

from formulate.ingredients.hazards import cautions
from formulate.ingredients.salts import salt
from formulate.stoichiometry.formula import molar_mass, parse_formula

__all__ = ["SchoolSalt", "care_of", "low_indices", "mass"]

LOW = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")


@dataclass(frozen=True)
class SchoolSalt:
    """
    A salt of the catalogue, counted by its formula.

    Attributes
    ----------
    name : str
        Its name in the catalogue.

    Examples
    --------
    >>> epsom = SchoolSalt("magnesium sulfate heptahydrate")
    >>> epsom.formula, round(epsom.molar_mass, 2), round(epsom.share("Mg"), 4)
    ('MgSO4·7H2O', 246.47, 0.0986)
    """

    name: str

    @property
    def formula(self):
        """Return its formula, crystal water included."""
        return _ingredient(self.name).formula

    @property
    def printed_formula(self):
        """Return its formula with low indices, as a chemist prints it."""
        return low_indices(self.formula)

    @property
    def printed(self):
        """Return name and formula with low indices, as a sheet of questions prints them."""
        return f"{self.name} ({self.printed_formula})"

    @property
    def molar_mass(self):
        """Return its molar mass, crystal water included. [g/mol]"""
        return molar_mass(self.formula)

    @property
    def dry_mass(self):
        """Return its molar mass without crystal water. [g/mol]"""
        return molar_mass(self.formula.partition("·")[0])

    def count(self, element):
        """
        Return how many atoms of an element one formula holds.

        Parameters
        ----------
        element : str
            Symbol of the element.

        Returns
        -------
        int
            The atoms; 0 if it holds none. [-]

        Examples
        --------
        >>> SchoolSalt("calcium nitrate tetrahydrate").count("N")
        2
        """
        return int(parse_formula(self.formula).atoms.get(element, 0))

    def share(self, element):
        """
        Return how much of an element a gram holds.

        Parameters
        ----------
        element : str
            Symbol of the element.

        Returns
        -------
        float
            Mass of the element. [g/g]

        Examples
        --------
        >>> round(SchoolSalt("potassium nitrate").share("K"), 4)
        0.3867
        """
        return self.count(element) * molar_mass(element) / self.molar_mass

    def holding(self, element):
        """
        Return the end of a line that turns a mass of the salt into that of an element in it.

        Parameters
        ----------
        element : str
            Symbol of the element.

        Returns
        -------
        tuple
            Signs and numbers, for `lines.line`.

        Examples
        --------
        >>> from formulate.classroom.lines import line
        >>> print(line("K", "g", (10, "g"), *SchoolSalt("potassium nitrate").holding("K")))
        K: 10 g × 1 × 39.0983 g/mol ÷ 101.102 g/mol = 3.8672 g
        """
        whole = (self.molar_mass, "g/mol")
        return "×", self.count(element), "×", mass(element), "÷", whole

    def bringing(self, element):
        """
        Return the end of a line that turns a mass of an element into that of the salt that brings it.

        Parameters
        ----------
        element : str
            Symbol of the element.

        Returns
        -------
        tuple
            Signs and numbers, for `lines.line`.

        Examples
        --------
        >>> from formulate.classroom.lines import line
        >>> print(line("salt", "g", (10, "g"), *SchoolSalt("potassium nitrate").bringing("K")))
        salt: 10 g ÷ 1 ÷ 39.098 g/mol × 101.10 g/mol = 25.858 g
        """
        whole = (self.molar_mass, "g/mol")
        return "÷", self.count(element), "÷", mass(element), "×", whole


def low_indices(formula):
    """
    Return a formula with low indices, as a chemist prints it.

    Parameters
    ----------
    formula : str
        The formula, such as "MgSO4·7H2O". [-]

    Returns
    -------
    str
        The same with low indices; numbers in front of a molecule stay.

    Examples
    --------
    >>> low_indices("Ca(NO3)2·4H2O")
    'Ca(NO₃)₂·4H₂O'
    """
    return re.sub(r"(?<=[A-Za-z)])\d+", lambda found: found[0].translate(LOW), formula)


@cache
def _ingredient(name):
    """Return the salt of the catalogue, looked up once."""
    return salt(name)


def mass(element):
    """
    Return the molar mass of an element for a line of arithmetic.

    Parameters
    ----------
    element : str
        Symbol of the element.

    Returns
    -------
    tuple of float and str
        The number and its unit. [g/mol]

    Examples
    --------
    >>> mass("K")
    (39.0983, 'g/mol')
    """
    return molar_mass(element), "g/mol"


def care_of(*salts):
    """
    Return the cautions that single out some of these salts, such as those of nitrates.

    Parameters
    ----------
    *salts : SchoolSalt
        What is weighed.

    Returns
    -------
    tuple of str
        The cautions, without those that stand on every sheet.

    Examples
    --------
    >>> care_of(SchoolSalt("potassium nitrate"))
    ('Nitrates feed fire: keep them from fuel, sawdust, oil and other organic matter.',)
    """
    always = set(cautions([]))
    found = cautions(_ingredient(one.name) for one in salts)
    return tuple(one.text for one in found if one not in always)
