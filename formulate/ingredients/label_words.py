"""The words of labels, as the table label_words knows them, and the units of their shares.

The longest wording counts; chemical symbols count only as they are written, so that "Co"
is cobalt and "co" is not.
"""

import difflib
import re
import unicodedata
from dataclasses import dataclass, replace
from functools import cache
from types import MappingProxyType

from formulate.errors import FormulaError
from formulate.stoichiometry.formula import parse_formula
from formulate.stoichiometry.nutrients import nutrient, nutrient_keys
from formulate.stoichiometry.units import unit
from formulate.tables import read_table

__all__ = [
    "BASES",
    "METALS",
    "Word",
    "family",
    "has_stuck_digits",
    "known_word",
    "longest_wording",
    "nearest_words",
    "unit_named",
    "unit_pattern",
    "unit_scale",
    "without_accents",
]

BASES = ("us", "eu", "element")
METALS = ("K", "Ca", "Mg", "Na", "Fe", "Mn", "Zn", "Cu", "Co", "Ni")
NITROGEN = ("nitrate", "nitrite", "ammonium", "urea")
NO_LABEL_SIGNS = ("C", "F", "CO2", "CO3", "HCO3", "hardness", "urea", "citrate")
OXIDES = ("CaO", "MgO", "SO3", "Na2O")  # where they are printed, EU rules were followed
UNIT_ROLES = ("unit", "measure", "density unit")
TELLING = 4  # letters from which a foreign word tells its language
LOOSE_SIGN = 3  # characters from which a symbol is known in any case
NEAR = 0.75
LOOSE_SUBSCRIPT = re.compile(r"(?<![A-Za-z₀-₉])[₀-₉]+")
SIGNS = str.maketrans(
    {
        **dict(zip("₀₁₂₃₄₅₆₇₈₉", "0123456789", strict=True)),
        **dict.fromkeys("−–—‐‑‒", "-"),
        **dict.fromkeys("’`´", "'"),
        **dict.fromkeys("\N{NO-BREAK SPACE}\u2009\u202f\u2007", " "),
        **dict.fromkeys("·…_®™", "  "),  # two blanks: no mark of thousands
        "×": "x",
    }
)


@dataclass(frozen=True)
class Word:
    """
    One wording of the table.

    Attributes
    ----------
    role : str
        What it does on a label, such as "nutrient", "kind" or "noise".
    keys : mapping of str to str
        Basis to nutrient key, where it names one.
    kind : str
        What it says of a share, such as "total" or "part".
    evidence : str
        "us", "eu" or "eu!" where it speaks for a basis; "eu!" is the stronger.
    """

    role: str
    keys: MappingProxyType
    kind: str = ""
    evidence: str = ""


def without_accents(text):
    """
    Return a text with plain letters, digits and hyphens.

    Parameters
    ----------
    text : str
        Such as "Nitrógeno (P₂O₅)".

    Returns
    -------
    str
        The same, without accents and subscripts.

    Examples
    --------
    >>> without_accents("Nitrógeno – P₂O₅")
    'Nitrogeno - P2O5'
    """
    if text.isascii():
        return text.replace("`", "'").replace("_", "  ")
    text = (
        LOOSE_SUBSCRIPT.sub(" ", text)
        .translate(SIGNS)
        .replace("ß", "ss")
        .replace("œ", "oe")
    )
    parts = unicodedata.normalize("NFKD", text)
    return "".join(char for char in parts if not unicodedata.combining(char))


def _joined(text):
    return " ".join(re.findall(r"[^\W_]+", without_accents(text)))


@cache
def _lexicon():
    """Return wordings in small letters, and wordings as written, each to its word."""
    folded, exact, tongues = {}, {}, {}
    for row in read_table("label_words"):
        if row["role"] in UNIT_ROLES:
            continue
        keys = MappingProxyType({basis: row[basis] for basis in BASES})
        word = Word(row["role"], keys, row["kind"], row["evidence"])
        for text in map(_joined, row["words"].split("|")):
            if word.role == "symbol" or word.kind == "exact":
                exact.setdefault(text, word)
                continue
            folded.setdefault(text.casefold(), word)
            tongues.setdefault(text.casefold(), set()).add(row["language"])
    for text, found in tongues.items():
        telling = len(text) >= TELLING or folded[text].role == "nutrient"
        if telling and not found & {"en", ""} and not folded[text].evidence:
            folded[text] = replace(folded[text], evidence="eu")
    _add_symbols(exact)
    return folded, exact


def _add_symbols(exact):
    """Add the symbols of the table of nutrients, as they are written there."""
    for key in nutrient_keys():
        if key in NO_LABEL_SIGNS or nutrient(key).group == "chelate":
            continue
        keys = MappingProxyType(dict.fromkeys(BASES, key))
        proof = "eu!" if key in OXIDES else ""
        exact.setdefault(_joined(key), Word("symbol", keys, evidence=proof))


@cache
def _loose_symbols():
    """Return the symbols that are long enough to be known in any case."""
    _, exact = _lexicon()
    return {
        text.casefold(): word
        for text, word in exact.items()
        if word.role == "symbol" and len(text) >= LOOSE_SIGN
    }


@cache
def longest_wording():
    """
    Return how many words the longest wording of the table has.

    Returns
    -------
    int
        The number. [-]

    Examples
    --------
    >>> longest_wording() > 5
    True
    """
    folded, exact = _lexicon()
    return max(len(text.split()) for text in (*folded, *exact))


def known_word(text, in_brackets=False, first=False):
    """
    Return what the table knows of a wording.

    Parameters
    ----------
    text : str
        Words joined by single blanks, without accents.
    in_brackets : bool
        Whether it stands alone in brackets, where "(CA)" is calcium.
    first : bool
        Whether it begins the line, where "D" is the density.

    Returns
    -------
    Word or None
        The word, or None if the table does not know it.

    Examples
    --------
    >>> known_word("soluble potash").keys["us"], known_word("Co").keys["us"]
    ('K2O', 'Co')
    """
    folded, exact = _lexicon()
    known = exact.get(text)
    if known and (known.kind != "exact" or first):
        return known
    if text.casefold() in folded:
        return folded[text.casefold()]
    if in_brackets and text.capitalize() in exact:
        return exact[text.capitalize()]
    return _loose_symbols().get(text.casefold())


def nearest_words(text):
    """
    Return the wordings of nutrients that an unknown word may have been meant for.

    Parameters
    ----------
    text : str
        A word that the table does not know.

    Returns
    -------
    tuple of str
        The nearest wordings; none if nothing is near.

    Examples
    --------
    >>> nearest_words("potasium")[0]
    'potassium'
    """
    near = difflib.get_close_matches(_joined(text).casefold(), _names(), 2, NEAR)
    return tuple(near)


@cache
def _names():
    folded, _ = _lexicon()
    roles = ("nutrient", "form", "ion")
    return tuple(t for t, word in folded.items() if word.role in roles and len(t) > 2)


def has_stuck_digits(text):
    """
    Return whether a word holds digits that belong to no formula.

    Parameters
    ----------
    text : str
        A word that the table does not know.

    Returns
    -------
    bool
        False for "KNO3" and for words without digits.

    Examples
    --------
    >>> has_stuck_digits("KNO3"), has_stuck_digits("x15"), has_stuck_digits("N15P5")
    (False, True, True)
    """
    if not any(map(str.isdigit, text)):
        return False
    try:
        return not parse_formula(text).forms
    except FormulaError:
        return True


@cache
def family(key):
    """
    Return what a nutrient key is about: an element, or N for every form of nitrogen.

    Parameters
    ----------
    key : str
        Nutrient key.

    Returns
    -------
    str
        Symbol of the element.

    Examples
    --------
    >>> family("NO3-N"), family("P2O5"), family("Fe(II)")
    ('N', 'P', 'Fe')
    """
    elements = {row["form"]: row["element"] for row in read_table("forms")}
    known = nutrient(key)
    first = next(iter(known.weights))
    return "N" if first in NITROGEN else elements[first] or known.basis


# --- units -------------------------------------------------------------------------------


def _unit_spelling(text):
    return re.sub(r"[\s().]", "", without_accents(text)).casefold()


@cache
def _unit_rows():
    rows = [row for row in read_table("label_words") if row["role"] in UNIT_ROLES]
    return tuple((text, row) for row in rows for text in row["words"].split("|"))


@cache
def _units():
    found = {}
    for text, row in _unit_rows():
        found.setdefault(_unit_spelling(text), (row["role"], row["us"], row["kind"]))
    return found


def unit_named(text):
    """
    Return what a printed unit is.

    Parameters
    ----------
    text : str
        The unit as `unit_pattern` found it.

    Returns
    -------
    role : str
        "unit" (of a share), "density unit" or "measure".
    name : str
        Its name in the table of units, if it has one.
    kind : str
        "w/w", "w/v" or "ppm" where it says so; of a measure what it measures.

    Examples
    --------
    >>> unit_named("% ( w / v )")
    ('unit', 'g/100 mL', 'w/v')
    """
    return _units()[_unit_spelling(text)]


@cache
def unit_pattern(*roles):
    """
    Return a pattern for printed units, with blanks and brackets as may be.

    Parameters
    ----------
    *roles : str
        Which units: "unit", "density unit", "measure".

    Returns
    -------
    re.Pattern
        The pattern.

    Examples
    --------
    >>> unit_pattern("unit").match("% ( w / v)")[0]
    '% ( w / v)'
    """
    texts = {
        without_accents(text) for text, row in _unit_rows() if row["role"] in roles
    }
    parts = []
    for text in sorted(texts, key=lambda text: (-len(text), text)):
        body = r"\s*".join(map(_piece, re.findall(r"[^\W_]+|\S", text)))
        parts.append(body + (r"(?![^\W_])" if text[-1].isalnum() else ""))
    return re.compile("|".join(parts), re.IGNORECASE)


def _piece(text):
    """Return the pattern of a piece of a unit; points and brackets may be missing."""
    if text in ".()":
        return re.escape(text) + "?"
    return text if text == "%" else rf"\(?{re.escape(text)}"


@cache
def unit_scale(name):
    """
    Return how many percent one of a unit is, by mass or by volume.

    Parameters
    ----------
    name : str
        A unit of the table of units: "%", "g/kg", "mg/kg", "g/100 mL", "g/L", "mg/L".

    Returns
    -------
    float
        Grams in 100 g, or in 100 mL, of one of it. [%]

    Examples
    --------
    >>> unit_scale("mg/kg"), unit_scale("g/L")
    (0.0001, 0.1)
    """
    found = unit(name, "mass_fraction", "mass_concentration")
    per_percent = unit("% w/v").factor if found.kind == "mass_concentration" else 1
    return found.factor / per_percent
