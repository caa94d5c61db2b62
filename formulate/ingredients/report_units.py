"""The words and units of water reports, from the table of water words.

Spelling does not count: case, accents, hyphens, charges and brackets are taken off first.
Chemical symbols come from the nutrients, units from the units of the package.
"""

import re
import unicodedata
from functools import cache, lru_cache
from types import MappingProxyType

from formulate.errors import UnitError
from formulate.stoichiometry.nutrients import PLAIN, form, nutrient
from formulate.stoichiometry.units import CONCENTRATIONS, unit
from formulate.tables import read_table

__all__ = [
    "SIGNS",
    "kinds_of",
    "plain_words",
    "species_in",
    "symbol_meaning",
    "unit_in_report",
    "word_meaning",
    "words_of",
]

LONGEST_UNIT = 32
LONGEST_KEPT = 120
DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)")
NO_WORD = re.compile(r"[^\w.%<°]|_|(?<!\d)\.|\.(?!\d)")
SIGNS = str.maketrans("µμº˚′’‘´`ª", "uu°°'''''a")
SPECIES_INSIDE = re.compile(
    r"(\w+)[\s-]+([\w+-]+)/(\w+)|(mg|[uµ]g|mmol|meq)([A-Z]\w*)/(\w+)"
)
PER_LITRE = re.compile(r"^(\S+?)\s*[·.*\s]\s*(L|l|m|cm|dm|dm3)\s*\^?-\s?[13]$")
READINGS = {
    "EC": ("conductivity",),
    "TDS": ("mass_concentration", "conductivity"),
    "temperature": ("temperature",),
    "pH": (),
    "cation_sum": ("charge_concentration", "amount_concentration"),
    "anion_sum": ("charge_concentration", "amount_concentration"),
    "ion_balance": ("mass_fraction", "charge_concentration"),
}
KINDS = (*CONCENTRATIONS, "conductivity", "temperature", "mass_fraction")


def plain_words(text):
    """
    Return a wording without what people write in many ways.

    Parameters
    ----------
    text : str
        Any wording.

    Returns
    -------
    str
        Small letters and digits, single blanks; decimals with a point.

    Examples
    --------
    >>> plain_words("Säurekapazität (bis pH 4,3)")
    'saurekapazitat bis ph 4.3'
    """
    text = str(text)
    return _plain(text) if len(text) <= LONGEST_KEPT else _plain.__wrapped__(text)


@lru_cache(maxsize=8192)
def _plain(text):
    """Return a wording made plain; short ones are kept, for they come again."""
    text = text.translate(SIGNS).translate(PLAIN).casefold()
    text = DECIMAL_COMMA.sub(".", text)
    if not text.isascii():
        text = unicodedata.normalize("NFKD", text)
        text = "".join(c for c in text if not unicodedata.combining(c))
    return " ".join(NO_WORD.sub(" ", text).replace("<", "< ").split())


@cache
def _words():
    """Return kind to plain word to row of the table."""
    kinds = {}
    for row in read_table("water_words"):
        key = _unit_key(row["word"]) if row["kind"] == "unit" else None
        kinds.setdefault(row["kind"], {}).setdefault(
            key or plain_words(row["word"]) or row["word"], row
        )
    return MappingProxyType(kinds)


def words_of(kind):
    """
    Return the words of one kind.

    Parameters
    ----------
    kind : str
        Kind of word: "quantity", "filler", "as", "basis", "column", "to" ...

    Returns
    -------
    mapping of str to Row
        Plain word to its row of the table.

    Examples
    --------
    >>> words_of("quantity")["hydrogencarbonat"]["basis"]
    'HCO3'
    """
    return _words()[kind]


def word_meaning(kind, text):
    """
    Return what a word means among the words of one kind.

    Parameters
    ----------
    kind : str
        Kind of word, as in the table: "column", "filler", "nothing", "unmeasured" ...
    text : str
        The word as written.

    Returns
    -------
    str
        Its meaning; empty if it is no word of that kind.

    Examples
    --------
    >>> word_meaning("column", "Grenzwert"), word_meaning("column", "Moyenne")
    ('limit', 'mean')
    """
    known = _words()[kind]
    row = known.get(plain_words(text) or str(text).strip())
    return row["meaning"] if row else ""


def symbol_meaning(text):
    """
    Return what a chemical symbol or the name of a nutrient means.

    Parameters
    ----------
    text : str
        Plain words, such as "so42" or "no3 n".

    Returns
    -------
    tuple of str
        Quantity and nutrient key; empty if it is neither.

    Examples
    --------
    >>> symbol_meaning("so42"), symbol_meaning("no3 n")
    (('sulfate', 'SO4'), ('nitrate', 'NO3-N'))
    """
    return _symbols().get(text, ("", ""))


@cache
def _symbols():
    """Return plain symbol or name of a nutrient to (quantity, basis)."""
    found = {}
    for row in read_table("nutrients"):
        pairs = row["forms"].split()
        key = row["key"]
        if key == "Fe":
            quantity = "iron"
        elif len(pairs) > 1 or pairs[0].startswith("carbonate:"):
            continue
        else:
            quantity = pairs[0].partition(":")[0]
        spellings = [key, row["name"], *row["aliases"].split("|")]
        spellings += _charged(key, quantity)
        for text in filter(None, spellings):
            found.setdefault(plain_words(text), (quantity, key))
    for text, quantity in (("HCO3", "bicarbonate"), ("CO3", "carbonate")):
        for spelling in (text, *_charged(text, quantity)):
            found[plain_words(spelling)] = (quantity, text)
    return MappingProxyType(found)


def _charged(key, quantity):
    """Return a symbol with the charge of its ion: Ca 2, SO42, NO31."""
    charges = {"iron": "2", "bicarbonate": "1", "carbonate": "2"}
    charge = charges.get(quantity) or str(abs(form(quantity).nominal_charge))
    if key == "PO4":
        charge = "3"
    return (f"{key}{charge}", f"{key} {charge}") if charge != "0" else ()


def species_in(text):
    """
    Return the formula that "as N", "(CaCO3)" or "en NO3" names.

    Parameters
    ----------
    text : str
        A text that may name a formula.

    Returns
    -------
    str
        The formula; empty if none is named.

    Examples
    --------
    >>> species_in("als CaCO3"), species_in("HCO3-"), species_in("gelöst")
    ('CaCO3', 'HCO3', '')
    """
    words = plain_words(text).split()
    for cut in range(3, 0, -1):
        if " ".join(words[:cut]) in _words()["as"]:
            words = words[cut:]
            break
    text = " ".join(words)
    row = _words()["basis"].get(text) or _words()["basis"].get(text[:-1].rstrip("1234"))
    if row:
        return row["meaning"]
    _, key = symbol_meaning(text)
    return nutrient(key).basis if key else ""


def _unit_key(text):
    """Return the spelling of a unit by which it is looked up."""
    text = str(text).translate(SIGNS).translate(PLAIN)
    text = " ".join(text.strip(" .:,;=*").split())
    per = PER_LITRE.match(text)
    if per:
        text = f"{per.group(1)}/{per.group(2)}"
    return re.sub(r"\s*/\s*", "/", text)


def kinds_of(quantity):
    """
    Return the kinds of unit in which a quantity of a report can be told.

    Parameters
    ----------
    quantity : str
        Quantity of a wording, such as "calcium" or "EC".

    Returns
    -------
    tuple of str
        Kinds of unit; none for a pH.

    Examples
    --------
    >>> kinds_of("EC")
    ('conductivity',)
    """
    return READINGS.get(quantity, CONCENTRATIONS)


@cache
def _units():
    """Return spelling of a unit, as written and in small letters, to what it may be."""
    exact, folded = {}, {}
    rows = [row for row in read_table("units") if row["kind"] in KINDS]
    spelled = [
        (text, row["unit"])
        for row in rows
        for text in (row["unit"], *row["aliases"].split("|"))
    ]
    spelled += [(key, row["meaning"]) for key, row in _words()["unit"].items()]
    for text, name in spelled:
        key = _unit_key(text)
        exact.setdefault(key, []).append(unit(name, *KINDS))
        folded.setdefault(key.casefold(), []).append(unit(name, *KINDS))
    return MappingProxyType(exact), MappingProxyType(folded)


def _unit(text, quantity):
    """Return the unit that a text is, of a kind that fits the quantity if there is one."""
    exact, folded = _units()
    key = _unit_key(text)
    found = [*exact.get(key, ()), *folded.get(key.casefold(), ())] if key else []
    fitting = [known for known in found if known.kind in kinds_of(quantity)]
    return next(iter([*fitting, *found]), None)


@lru_cache(maxsize=4096)
def unit_in_report(text, quantity=""):
    """
    Return the unit that a text is, with the species that stands in it.

    Parameters
    ----------
    text : str
        Such as "mg/l", "mg N/L", "mg/L as CaCO3", "mmol(eq)/l".
    quantity : str
        What is told in it; "°F" is a French degree for hardness.

    Returns
    -------
    tuple of (Unit, str) or None
        The unit and the formula of the species, empty if none is told; None if the text
        is no unit.

    Examples
    --------
    >>> of_unit, species = unit_in_report("mg N/l")
    >>> of_unit.name, species
    ('mg/L', 'N')
    >>> unit_in_report("DIN 38405") is None
    True
    """
    text = _unit_key(str(text).strip(" ()[]"))
    if not text or len(text) > LONGEST_UNIT:
        return None
    known = _unit(text, quantity)
    if known:
        return known, ""
    inside = SPECIES_INSIDE.fullmatch(text)
    if inside:
        mass, species, volume = filter(None, inside.groups())
        found = _with_species(f"{mass}/{volume}", species, quantity)
        if found:
            return found
    words = re.sub(r"[()]|(?<=[lL])-(?=[A-Z])", " ", text).split()
    if words[1:] and word_meaning("lead", words[0]):
        return unit_in_report(" ".join(words[1:]), quantity)
    for cut in range(1, len(words)):
        start, end = " ".join(words[:cut]), " ".join(words[cut:])
        found = _with_species(start, end, quantity)
        found = found or _with_species(end, start, quantity)
        if found:
            return found
    return None


def _with_species(unit_text, species_text, quantity):
    """Return a unit and a species ("mg/l", "NO3") if the texts are that."""
    known, species = _unit(unit_text, quantity), species_in(species_text)
    if known and known == _unit(species_text, quantity):
        return known, ""  # "mg/L (ppm)"
    if not known or not species:
        return None
    if species == "CaCO3" and known.kind == "mass_concentration":
        try:
            return unit(f"{known.name} as CaCO3"), ""
        except UnitError:
            return known, species
    return known, species
