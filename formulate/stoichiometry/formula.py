"""Chemical formulas: atoms, charge, water of crystallisation, molar mass, forms.

Masses come from `periodictable`; no atomic mass is typed anywhere in the project.
"""

import re
from dataclasses import dataclass, field
from functools import cache, cached_property, lru_cache
from itertools import islice, product
from types import MappingProxyType

import periodictable

from formulate.errors import FormulaError
from formulate.stoichiometry.groups import counted_symbols, forms_of_parts
from formulate.stoichiometry.notation import (
    CLOSING,
    OPENING,
    PLAIN,
    SYMBOLS,
    ligand_names,
    notation_fault,
    read_notation,
)
from formulate.tables import read_table
from formulate.working import Shown

__all__ = ["Formula", "atomic_mass", "ligand_atoms", "molar_mass", "parse_formula"]

LONGEST_GUESS = 60
MOST_SPELLINGS = 256


@cache
def ligand_atoms():
    """
    Return the atoms of each named ligand.

    Returns
    -------
    mapping of str to mapping of str to int
        Name of the ligand, as it is written in a formula, to its atoms. [-]

    Examples
    --------
    >>> int(ligand_atoms()["EDTA"]["N"])
    2
    """
    rows = read_table("ligands")
    atoms = {
        row["ligand"]: counted_symbols(read_notation(row["formula"])[0]) for row in rows
    }
    return MappingProxyType(atoms)


@cache
def atomic_mass(symbol):
    """
    Return the standard atomic mass of an element.

    Parameters
    ----------
    symbol : str
        Symbol of the element, such as "Ca".

    Returns
    -------
    float
        Mass. [g/mol]

    Raises
    ------
    FormulaError
        If there is no such element.

    Examples
    --------
    >>> atomic_mass("Ca")
    40.078
    """
    if symbol not in SYMBOLS:
        raise notation_fault(symbol, 0, "no element has this symbol")
    return float(periodictable.elements.symbol(symbol).mass)


@dataclass(frozen=True)
class Formula(Shown):
    """
    A chemical formula, read.

    Attributes
    ----------
    text : str
        The formula as it was written.
    parts : tuple of Part
        Its parts between hydrate dots.
    charge : int
        Charge number. [-]

    Examples
    --------
    >>> gypsum = parse_formula("CaSO4·2H2O")
    >>> gypsum.water, round(gypsum.molar_mass, 2)
    (2.0, 172.16)
    >>> dict(gypsum.forms)
    {'calcium': 1.0, 'sulfate': 1.0}
    """

    text: str
    parts: tuple = field(repr=False)
    charge: int = 0

    def __str__(self):
        return self.text

    @cached_property
    def atoms(self):
        """Return symbol to number of atoms, ligands taken apart. [-]"""
        atoms = {}
        for symbol, count in counted_symbols(self.parts).items():
            for atom, number in ligand_atoms().get(symbol, {symbol: 1}).items():
                atoms[atom] = atoms.get(atom, 0) + number * count
        return MappingProxyType(
            {symbol: float(count) for symbol, count in atoms.items()}
        )

    @cached_property
    def molar_mass(self):
        """Return the molar mass. [g/mol]"""
        return sum(count * atomic_mass(symbol) for symbol, count in self.atoms.items())

    @cached_property
    def water(self):
        """Return the moles of crystal water per mole. [-]"""
        if all(part.is_water for part in self.parts):
            return 0.0
        return float(sum(part.waters for part in self.parts))

    @cached_property
    def forms(self):
        """Return form to moles per mole of formula. [-]"""
        try:
            forms = forms_of_parts(self.text, self.parts, self.charge)
        except FormulaError as error:
            raise _with_guess(error, self.text) from None
        return MappingProxyType({form: float(moles) for form, moles in forms.items()})


def molar_mass(text):
    """
    Return the molar mass of a formula.

    Equation [stoichiometry]::

        M = Σ n A        n atoms of each element, A its standard atomic mass

    Parameters
    ----------
    text : str
        A chemical formula.

    Returns
    -------
    float
        Molar mass. [g/mol]

    Raises
    ------
    FormulaError
        If the text cannot be read.

    Examples
    --------
    >>> round(molar_mass("KNO3"), 3)
    101.102
    """
    return parse_formula(text).molar_mass


def parse_formula(text):
    """
    Read a chemical formula.

    Brackets may be nested; hydrates take `·`, `•`, `*` or `.`; a part may have a number
    before it; a charge is written `SO4-2`, `SO4^2-` or `NO3-`; the named ligands EDTA,
    DTPA, EDDHA, HBED and citrate stand for themselves.

    Parameters
    ----------
    text : str
        The formula, such as "5Ca(NO3)2·NH4NO3·10H2O".

    Returns
    -------
    Formula
        Its atoms, charge, crystal water, molar mass and forms.

    Raises
    ------
    FormulaError
        If the text cannot be read, or can be read in two ways; it names the place and,
        where one is found, the likely spelling.

    Examples
    --------
    >>> round(parse_formula("MgSO4.7H2O").molar_mass, 2)
    246.47
    >>> parse_formula("Kno3")
    Traceback (most recent call last):
        ...
    formulate.errors.FormulaError: 'Kno3': 'n' at character 2 starts no element; did you mean KNO3?
    """
    if not isinstance(text, str):
        raise notation_fault(text, None, "no text; write a formula such as KNO3")
    return _parsed(text)


@lru_cache(maxsize=4096)
def _parsed(text):
    try:
        return Formula(text.strip(), *read_notation(text))
    except FormulaError as error:
        raise _with_guess(error, text) from None


def _with_guess(error, text):
    """Return an error with the likely spelling in it, if there is one."""
    guess = _likely_spelling(text)
    if guess is None:
        return error
    faults = [f"{fault}; did you mean {guess}?" for fault in error.faults]
    return FormulaError(*faults, text=text, position=error.position, suggestion=guess)


def _likely_spelling(text):
    """Return a spelling near the given one that reads and balances, or None."""
    if len(text) > LONGEST_GUESS:
        return None
    for candidate in islice(_spellings(text), MOST_SPELLINGS):
        try:
            parts, charge = read_notation(candidate)
            if candidate != text.strip() and forms_of_parts(candidate, parts, charge):
                return candidate
        except FormulaError:
            continue
    return None


def _spellings(text):
    """Yield nearby spellings: brackets mended, then capitals set anew."""
    plain = text.strip().translate(PLAIN)
    plain = re.sub(r"\s*[x×_ -]\s*(?=\d*\.?\d*\s*[hH]2[oO0]$)", "·", plain)
    plain = re.sub(r"[hH]20$", "H2O", plain)
    mended = _balanced(plain)
    yield plain
    yield mended
    yield from _recapitalised(mended.replace(".", "·"))
    yield from _recapitalised(mended)


def _balanced(text):
    """Return the text without closing brackets that close nothing, open ones closed."""
    kept, opened = [], []
    for char in text:
        if char in OPENING:
            opened.append(CLOSING[OPENING.index(char)])
        elif char in CLOSING:
            if opened:
                kept.append(opened.pop())
            continue
        kept.append(char)
    return "".join(kept + opened[::-1])


@cache
def _spelling_symbols():
    """Return lower-case spelling to symbol, for the elements and ligands of our forms."""
    elements = {row["element"] for row in read_table("forms") if row["element"]}
    symbols = {"H", "O", "C", "N", "Fe", *elements, *ligand_names()}
    return {symbol.lower(): symbol for symbol in symbols}


def _recapitalised(text):
    """Yield the text with its letters set as known symbols, in every possible way."""
    symbols = _spelling_symbols()
    longest = max(map(len, symbols))
    choices = []
    for word in re.split(r"([A-Za-z]+)", text):
        if not word.isalpha():
            choices.append([word])
            continue
        ways = {0: [""]}
        for end in range(1, len(word) + 1):
            ways[end] = [
                start + symbols[word[begin:end].lower()]
                for begin in range(max(0, end - longest), end)
                if word[begin:end].lower() in symbols
                for start in ways[begin]
            ][:MOST_SPELLINGS]
        choices.append(ways[len(word)])
    yield from map("".join, product(*choices))
