"""The products of a chart: those that are given, and those that its headings name."""

import contextlib
import difflib
import re
from collections.abc import Mapping

from formulate.claims.dose_measures import read_dose
from formulate.errors import AmbiguousName, FormulateError, InputError, shortened
from formulate.ingredients.salts import as_ingredient
from formulate.stoichiometry.nutrients import nutrient

__all__ = [
    "asked_back",
    "chart_products",
    "named_in_headings",
    "product_of",
    "unknown_product",
]

NEAR = 0.5  # likeness from which a name is suggested
PARTS = r"[;\t,]"


def chart_products(products, faults):
    """
    Return name to ingredient of the products that are given for a chart.

    Parameters
    ----------
    products : mapping of str to Ingredient
        Name in the headings to product, salt or formula.
    faults : Faults
        Where faults go.

    Returns
    -------
    dict of str to Ingredient
        The products.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> chart_products({"A": "KNO3"}, Faults())["A"].formula
    'KNO3'
    """
    found = {}
    if not isinstance(products, Mapping):
        faults.add("products: give a mapping such as {'A': label, 'B': 'KNO3'}")
        return found
    for name, thing in products.items():
        with faults.collecting(f"product {shortened(name)}"):
            plain = " ".join(str(name).split())
            if not plain or plain.casefold() in map(str.casefold, found):
                raise InputError("give each product a name of its own")
            found[plain] = as_ingredient(thing)
    return found


def named_in_headings(text, known, most_lines):
    """
    Return materials of the catalogue that headings name with the unit of a dose.

    Parameters
    ----------
    text : str
        The chart.
    known : mapping of str to Ingredient
        The products that are given; they go before the catalogue.
    most_lines : int
        Among how many lines the headings are. [-]

    Returns
    -------
    dict of str to Ingredient
        Name in the headings to material.

    Examples
    --------
    >>> list(named_in_headings("week;A g/L;Epsom salt (g/L);K mg/L\\n", {}, 20))
    ['Epsom salt']
    """
    found = {}
    for line in text.splitlines()[:most_lines]:
        for cell in re.split(PARTS, line):
            plain = " ".join(cell.strip("\"' ").split())
            if plain and not product_of(plain, known):
                found |= _material(plain)
    return found


def _material(cell):
    """Return name to material if a cell is one of the catalogue with the unit of a dose."""
    words = cell.split()
    for count in range(len(words) - 1, 0, -1):
        name, of_unit = " ".join(words[:count]), " ".join(words[count:]).strip("()[]")
        if not _is_nutrient(name):
            with contextlib.suppress(FormulateError):
                made = as_ingredient(name)
                read_dose(f"1 {of_unit}", made)
                return {name: made}
    return {}


def _is_nutrient(name):
    """Return whether a heading would be a claim: K mg/L is no dose of potassium metal."""
    with contextlib.suppress(FormulateError):
        return bool(nutrient(name))
    return False


def product_of(cell, known):
    """
    Return the product with whose name a cell begins.

    Parameters
    ----------
    cell : str
        A heading.
    known : iterable of str
        Names of products.

    Returns
    -------
    str
        Its name, or "".

    Examples
    --------
    >>> product_of("grow 2 mL/L", ["grow", "grow 2"])
    'grow 2'
    """
    for name in sorted(known, key=len, reverse=True):
        rest = cell[len(name) :]
        whole = cell.casefold().startswith(name.casefold())
        if whole and (not rest or not rest[0].isalnum()):
            return name
    return ""


def unknown_product(name, known):
    """
    Return that a product is not known, with those that are near.

    Parameters
    ----------
    name : str
        What a heading says.
    known : iterable of str
        Names of products.

    Returns
    -------
    str
        The fault in words.

    Examples
    --------
    >>> unknown_product("gro mL/L", ["grow", "bloom"])
    "product 'gro mL/L' is not known; near: grow"
    """
    folded = {one.casefold(): one for one in known}
    for part in _beginnings(name):
        near = difflib.get_close_matches(part.casefold(), folded, n=3, cutoff=NEAR)
        if near:
            meant = ", ".join(folded[one] for one in near)
            return f"product {shortened(name)} is not known; near: {meant}"
    there = ", ".join(known) or "none is given, nor is it in the catalogue"
    unknown = f"product {shortened(name)} is not known; known: {there}"
    return asked_back(name) or unknown


def _beginnings(name):
    """Return a heading and what is left of it without its last words."""
    words = name.split()
    return [" ".join(words[:count]) for count in range(len(words), 0, -1)]


def asked_back(name):
    """
    Return what a heading is asked that begins with a name of several materials.

    Parameters
    ----------
    name : str
        What a heading says.

    Returns
    -------
    str
        The question, or "" if there is none.

    Examples
    --------
    >>> asked_back("calcium nitrate g/L")[:35]
    "'calcium nitrate' is not one materi"
    """
    for part in _beginnings(name):
        try:
            as_ingredient(part)
        except AmbiguousName as error:
            return str(error)
        except FormulateError:
            continue
    return ""
