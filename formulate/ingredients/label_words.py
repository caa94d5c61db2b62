"""The words and numbers of a label: from a printed line to tokens.

Words are looked up in the table label_words, the longest wording first; chemical symbols
count only as they are written, so "Co" is cobalt and "co" is not.
"""

import re
import unicodedata
from dataclasses import dataclass, replace
from functools import cache
from types import MappingProxyType

from formulate.errors import InputError, shortened
from formulate.stoichiometry.nutrients import nutrient, nutrient_keys
from formulate.stoichiometry.quantities import read_number
from formulate.tables import read_table

__all__ = [
    "Printed",
    "Token",
    "Word",
    "decimal_mark",
    "family",
    "nearest_words",
    "printed_value",
    "tokens",
    "unit_scale",
]

BASES = ("us", "eu", "element")
NITROGEN = ("nitrate", "nitrite", "ammonium", "urea")
NO_LABEL_SIGNS = ("C", "F", "CO2", "CO3", "HCO3", "hardness", "citrate")
WEAK_SIGNS = ("N", "P", "K", "S", "B", "Co")  # also letters of other things
LOOSE_SIGN = 3  # characters from which a symbol may be in any case
NUMBER = (
    r"(?:\d{1,3}(?:[ ']\d{3})+(?=\s?(?:ppm|mg\b))"
    r"|(?<![^\s(<>=~-])[.,]\d+|\d+(?:[.,]\d+)*)"
)
TOKEN = re.compile(rf"(?P<number>{NUMBER})|(?P<word>[^\W\d_][^\W_]*)|(?P<sign>\S)")
CUTS = "/|;•\t\\"
SIGNS = str.maketrans(
    "₀₁₂₃₄₅₆₇₈₉−–—‐‑‒’`´×\N{NO-BREAK SPACE}\u2009\u202f\u2007·…_®™",
    "0123456789------'''x        ",
)
RAISED = dict.fromkeys(map(ord, "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻*†‡§"), " ")
SPACED = (  # a subscript that a PDF has torn off
    (re.compile(r"\b(P) ?2 ?[O0] ?5\b"), "P2O5"),
    (re.compile(r"\b(K|Na) 2 ?[O0]\b|\b(K|Na)2 [O0]\b"), r"\1\2" + "2O"),
    (re.compile(r"\(\s*(SO|NO|NH) (\d)\s*(-\s*N)?\s*\)"), r"(\1\2\3)"),
    (re.compile(r"\(\s*(Ca|Mg) O\s*\)"), r"(\1O)"),
    (re.compile(r"CO\(NH2\)2|\(NH2\)2CO"), "urea"),
    (re.compile(r"\b(Fe|Mn|Zn|Cu|Ca|Mg)(EDTA|DTPA|EDDHA|HBED)\b"), r"\1 \2"),
    (re.compile(r"\bN *[-:,. ] *P *[-:,. ] *K\b"), "NPK"),
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
        "us", "eu" or "eu!" where it speaks for a basis.
    """

    role: str
    keys: MappingProxyType
    kind: str = ""
    evidence: str = ""


@dataclass(frozen=True)
class Printed:
    """
    A number as printed, with its unit.

    Attributes
    ----------
    text : str
        The digits.
    sort : str
        "share", "bare" (no unit), "density" or "measure" (a mass, a volume, a pH ...).
    unit : str
        Name of the unit, where one is printed.
    how : str
        "w/w", "w/v" or "ppm" of a share, where the unit says so.
    upper : str
        Digits of the upper end, if it is a range.
    below : bool
        Whether "<" stands before it.
    doubles : tuple of Printed
        The same share again, in another unit.
    """

    text: str
    sort: str = "bare"
    unit: str = ""
    how: str = ""
    upper: str = ""
    below: bool = False
    doubles: tuple = ()


@dataclass(frozen=True)
class Token:
    """
    A piece of a line.

    Attributes
    ----------
    sort : str
        "word", "unknown", "number", "unit" or "cut" (a mark between two languages).
    text : str
        As it stands in the line.
    word : Word or None
        What the table knows of it.
    number : Printed or None
        The number, if it is one.
    closed : bool
        Whether a bracket closes behind it.
    gap : str
        What stands between it and the piece before.
    """

    sort: str
    text: str
    word: Word | None = None
    number: Printed | None = None
    closed: bool = False
    gap: str = ""


def _bare(text):
    """Return a text without accents, its letters as they are."""
    if text.isascii():
        return text
    parts = unicodedata.normalize("NFKD", text.replace("ß", "ss").replace("œ", "oe"))
    return "".join(char for char in parts if not unicodedata.combining(char))


def plain_line(line):
    """
    Return a line without what printers add: leaders, marks, torn subscripts.

    Parameters
    ----------
    line : str
        A line of a label.

    Returns
    -------
    str
        The line, its letters without accents.

    Examples
    --------
    >>> plain_line("Phosphate (P₂O₅)* ..... 5 %")
    'Phosphate (P2O5)   5 %'
    """
    line = re.sub(r"(?<=m)[²³]", lambda m: "2" if m[0] == "²" else "3", line)
    line = _bare(line.translate(SIGNS).translate(RAISED))
    line = re.sub(r"(?:\. ?){2,}", " ", line)
    for pattern, meant in SPACED:
        line = pattern.sub(meant, line)
    return line


def _phrase(text):
    """Return the words of a phrase, in small letters, joined by one blank."""
    return " ".join(re.findall(r"[^\W_]+", _bare(text.translate(SIGNS)))).casefold()


def _exact(text):
    return " ".join(re.findall(r"[^\W_]+", text.translate(SIGNS)))


@cache
def _lexicon():
    """Return wordings in small letters, and wordings as written, each to its word."""
    folded, exact, tongues = {}, {}, {}
    for row in read_table("label_words"):
        keys = MappingProxyType({basis: row[basis] for basis in BASES})
        word = Word(row["role"], keys, row["kind"], row["evidence"])
        for text in row["words"].split("|"):
            if word.role in ("unit", "measure", "density unit"):
                continue
            if word.role == "symbol" or word.kind == "exact":
                exact.setdefault(_exact(text), word)
                continue
            folded.setdefault(_phrase(text), word)
            tongues.setdefault(_phrase(text), set()).add(row["language"])
    for text, found in tongues.items():
        if not found & {"en", ""} and not folded[text].evidence:
            folded[text] = replace(folded[text], evidence="eu")
    _add_symbols(exact)
    return folded, exact


def _add_symbols(exact):
    """Add the symbols of the table of nutrients as they are written there."""
    for key in nutrient_keys():
        if key in NO_LABEL_SIGNS or nutrient(key).group == "chelate" or key == "urea":
            continue
        proof = "eu!" if key in ("CaO", "MgO", "SO3", "Na2O") else ""
        keys = MappingProxyType(dict.fromkeys(BASES, key))
        exact.setdefault(_exact(key), Word("symbol", keys, evidence=proof))


@cache
def _loose_symbols():
    """Return symbols long enough to be known in any case, in small letters."""
    _, exact = _lexicon()
    signs = {
        text.casefold(): word for text, word in exact.items() if word.role == "symbol"
    }
    return {text: word for text, word in signs.items() if len(text) >= LOOSE_SIGN}


@cache
def _units():
    """Return the pattern of every unit, and each spelling to (role, name, how)."""
    names = {}
    for row in read_table("label_words"):
        if row["role"] in ("unit", "measure", "density unit"):
            for text in row["words"].split("|"):
                names.setdefault(
                    _unit_spelling(text), (row["role"], row["us"], row["kind"])
                )
    return names


def _unit_spelling(text):
    return re.sub(r"[\s().]", "", _bare(text.translate(SIGNS))).casefold()


@cache
def _unit_pattern(*roles):
    """Return a pattern for units of some roles, blanks and brackets as may be."""
    texts = [
        text
        for row in read_table("label_words")
        if row["role"] in roles
        for text in row["words"].split("|")
    ]
    parts = []
    for text in sorted({_bare(t.translate(SIGNS)) for t in texts}, key=len)[::-1]:
        body = r"\s*".join(map(_unit_piece, re.findall(r"[^\W_]+|\S", text)))
        parts.append(body + (r"(?![^\W_])" if text[-1].isalnum() else ""))
    return re.compile("|".join(parts), re.IGNORECASE)


def _unit_piece(piece):
    """Return the pattern of one piece of a unit; a point or a bracket may be missing."""
    if piece in ".()":
        return re.escape(piece) + "?"
    return re.escape(piece) if piece == "%" else rf"\(?{re.escape(piece)}"


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
    return _families()[nutrient(key).key]


@cache
def _families():
    elements = {row["form"]: row["element"] for row in read_table("forms")}
    found = {}
    for key in nutrient_keys():
        first = next(iter(nutrient(key).weights))
        found[key] = "N" if first in NITROGEN else elements[first] or first
    return found


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
        Percent (or grams in 100 mL) in one of it. [%]

    Examples
    --------
    >>> unit_scale("mg/kg"), unit_scale("g/L")
    (0.0001, 0.1)
    """
    from formulate.stoichiometry.units import unit

    found = unit(name, "mass_fraction", "mass_concentration")
    return found.factor / (1 if found.kind == "mass_fraction" else 10000)


def decimal_mark(text):
    """
    Return the decimal mark of a text: ".", ",", or "" if it shows none or both.

    Parameters
    ----------
    text : str
        The whole label.

    Returns
    -------
    str
        The mark.

    Examples
    --------
    >>> decimal_mark("N 15,5 %; B 1.000 mg/kg"), decimal_mark("K 20 %")
    (',', '')
    """
    found = set()
    numbers = re.findall(r"(?<![\d.,])(\d+)([.,])(\d+)(?![\d.,]*\d)", text)
    for whole, mark, digits in numbers:
        if len(digits) != 3 or whole == "0" or len(whole) > 3:
            found.add(mark)
    return found.pop() if len(found) == 1 else ""


def printed_value(text, mark="", foreign=False):
    """
    Return a printed number and the decimals it shows.

    Parameters
    ----------
    text : str
        The digits.
    mark : str
        Decimal mark of the label, "" if it is not known.
    foreign : bool
        Whether the label is in a language that writes 1.000 for a thousand.

    Returns
    -------
    value : float
        The number. [-]
    decimals : int
        Digits behind the decimal mark. [-]

    Raises
    ------
    InputError
        If it can be read in two ways, or in none.

    Examples
    --------
    >>> printed_value("1,250", mark="."), printed_value("0,50")
    ((1250.0, 0), (0.5, 2))
    """
    digits = re.sub(r"[ ']", "", text)
    if re.match(r"0\d", digits):
        raise InputError(f"{shortened(text)}: a 0 before digits; write 0.5 or 5")
    if re.fullmatch(r"[1-9]\d{0,2}(?:([.,])\d{3})(?:\1\d{3})*", digits):
        found = "." if "." in digits else ","
        many = digits.count(found) > 1
        if many or (mark and mark != found):
            digits = digits.replace(found, "")
        elif not mark and (found == "," or foreign):
            digits = digits.replace(".", ",")  # read_number asks which is meant
        else:
            digits = digits.replace(found, ".")
            return float(digits), 3
    elif grouped := re.fullmatch(r"(\d{1,3}(?:([.,])\d{3})+)(?!\2)[.,](\d+)", digits):
        digits = re.sub(r"[.,]", "", grouped[1]) + "." + grouped[3]
    return read_number(digits), len(re.split("[.,]", digits + ".")[1])


def nearest_words(text):
    """
    Return the names of nutrients that a word may have been meant for.

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
    import difflib

    near = difflib.get_close_matches(_phrase(text), _names(), n=2, cutoff=0.75)
    return tuple(near)


@cache
def _names():
    folded, _ = _lexicon()
    roles = ("nutrient", "form", "ion")
    return tuple(t for t, word in folded.items() if word.role in roles and len(t) > 2)


@cache
def _longest():
    folded, exact = _lexicon()
    return max(len(text.split()) for text in (*folded, *exact))


def tokens(line):
    """
    Return the pieces of a line: known words, unknown words, numbers with their units.

    Parameters
    ----------
    line : str
        A line as `plain_line` returns it.

    Returns
    -------
    tuple of Token
        The pieces in their order.

    Examples
    --------
    >>> [(t.sort, t.text) for t in tokens("Soluble Potash (K2O) 20 %")]
    [('word', 'Soluble Potash'), ('word', 'K2O'), ('number', '20')]
    """
    return tuple(_ranges(_words(list(_atoms(line)), line)))


def _atoms(line):
    """Yield raw pieces (sort, text, start, end, more) of a line."""
    after = _unit_pattern("unit", "measure", "density unit")
    alone = _unit_pattern("unit")
    place, below, percent = 0, False, False
    while match := TOKEN.search(line, place):
        sort, start, place = match.lastgroup, match.start(), match.end()
        if match[0] in "<≤" or match[0] in ">≥=":
            below = match[0] == "<"
            continue
        if sort == "number":
            found = after.match(line, len(line) - len(line[place:].lstrip()))
            number = _with_unit(match[0], found, below, percent)
            place = found.end() if found else place
            yield "number", match[0], start, place, number
        elif found := alone.match(line, start):
            percent = line[found.end() :].lstrip()[:1].isdigit() and found[0] == "%"
            place = found.end()
            if not percent:
                yield "unit", found[0], start, place, None
            continue
        elif sort == "word" or match[0] in CUTS:
            yield "word" if sort == "word" else "cut", match[0], start, place, None
        below, percent = False, False


def _with_unit(text, found, below, percent):
    """Return a number with the unit that stands behind it, or the "%" before it."""
    if found is None:
        sort = "share" if percent else "bare"
        return Printed(text, sort, "%" if percent else "", below=below)
    role, name, how = _units()[_unit_spelling(found[0])]
    if found[0] == "Mg":  # five Mg is magnesium, not milligrams
        return Printed(text, below=below)
    sort = {"unit": "share", "density unit": "density"}.get(role, "measure")
    return Printed(text, sort, name or found[0].casefold(), how, below=below)


def _words(atoms, line):
    """Return tokens, the longest known wording first."""
    found, place, last = [], 0, 0
    while place < len(atoms):
        sort, text, start, end, number = atoms[place]
        length, word = 1, None
        if sort == "word":
            length, word = _longest_word(atoms, place, line)
            end = atoms[place + length - 1][3]
            if _is_stray(line, start, end, found):
                word = None
            sort, text = "word" if word else "unknown", line[start:end]
        closed = line[end:].lstrip()[:1] in (")", "]") and end < len(line.rstrip())
        found.append(Token(sort, text, word, number, closed, line[last:start]))
        place, last = place + length, end
    return found


def _is_stray(line, start, end, found):
    """Return whether a letter that may be a symbol belongs to a word before it."""
    if line[start:end] not in WEAK_SIGNS or line[start - 1 : start] in ("(", "["):
        return False
    return bool(found) and found[-1].sort == "unknown"


def _longest_word(atoms, place, line):
    """Return how many atoms the longest known wording takes, and what it is."""
    texts = []
    for sort, text, start, _, _ in atoms[place : place + _longest()]:
        gap = line[atoms[place + len(texts) - 1][3] : start] if texts else ""
        if sort != "word" or gap.strip(" -.',&"):
            break
        texts.append(text)
    for length in range(len(texts), 0, -1):
        word = _known(
            texts[:length], line, atoms[place][2], atoms[place + length - 1][3]
        )
        if word:
            return length, word
    return 1, None


def _known(texts, line, start, end):
    """Return the word that some texts are, or None."""
    folded, exact = _lexicon()
    text = " ".join(texts)
    in_brackets = line[start - 1 : start] in ("(", "[") and line[end : end + 1] in (
        ")",
        "]",
    )
    if text in exact:
        known = exact[text]
        if known.kind == "exact" and line[:start].strip():
            return folded.get(text.casefold())
        return known
    if text.casefold() in folded:
        return folded[text.casefold()]
    if in_brackets and text.isupper() and text.capitalize() in exact:
        return exact[text.capitalize()]
    return _loose_symbols().get(text.casefold())


def _ranges(pieces):
    """Return tokens with two numbers that make a range as one number."""
    found, place = [], 0
    while place < len(pieces):
        first = pieces[place]
        length = _range_length(pieces[place : place + 3])
        if length:
            last = pieces[place + length - 1].number
            low = first.number.text
            both = replace(last, text=low, upper=last.text, below=first.number.below)
            first = replace(first, number=both)
        found.append(first)
        place += length or 1
    return found


def _range_length(pieces):
    """Return how many tokens make a range, or 0: "14-16", "14 to 16 %"."""
    if pieces[0].sort != "number" or len(pieces) < 2:
        return 0
    length = 2 if pieces[1].gap.strip() == "-" else 3
    if length == 3 and not (pieces[1].word and pieces[1].word.role == "range"):
        return 0
    last = pieces[length - 1] if len(pieces) >= length else None
    if last is None or last.sort != "number":
        return 0
    same = pieces[0].number.unit in ("", last.number.unit)
    return length if same else 0
