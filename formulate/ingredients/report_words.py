"""What the words of a water report mean: quantities, bases, units, headings.

All wording stands in the table of water words; chemical symbols come from the nutrients.
Spelling does not count: case, accents, hyphens, charges and brackets are taken off first.
"""

import re
import unicodedata
from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType

from formulate.errors import UnitError
from formulate.stoichiometry.nutrients import PLAIN, form, nutrient
from formulate.stoichiometry.units import CONCENTRATIONS, Unit, unit
from formulate.tables import read_table

__all__ = [
    "Wording",
    "kinds_of",
    "name_in_report",
    "on_basis",
    "plain_words",
    "unit_in_report",
    "word_meaning",
]

LONGEST_NAME = 120  # characters: a longer text is prose, not the name of a quantity
LONGEST_UNIT = 32
MOST_WORDS = 12
SIGNS = str.maketrans("µμº˚′’‘´`ª", "uu°°'''''a")
DEGREES = re.compile(
    r"(?:(?<![\w°])(?:bei|at|@|à|a|b\.)\s*)?@?\s*"
    r"(\d{1,3}(?:[.,]\d{1,2})?)\s*(?:°\s*C?|oC|deg\.?\s?C|(?<=\d)\s?C)(?![\w/])"
)
SPECIES_INSIDE = re.compile(r"(\w+)\s+([\w+-]+)\s*/\s*(\w+)")
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
ALKALINE = {  # what may stand after "as" beside CaCO3
    "alkalinity": ("HCO3", "CO3"),
    "bicarbonate": ("HCO3",),
    "carbonate": ("CO3",),
    "hydroxide": ("OH",),
    "p_alkalinity": ("HCO3", "CO3"),
    "hardness": ("Ca", "CaO"),
    "carbonate_hardness": ("HCO3", "CaO"),
    "noncarbonate_hardness": ("CaO",),
}


@dataclass(frozen=True)
class Wording:
    """
    What the name of a line says.

    Attributes
    ----------
    quantity : str
        What is told: key of a form, or "iron", "alkalinity", "hardness", "pH", "EC" ...
    basis : str
        Nutrient key or formula on which it is counted; empty if the name leaves it open.
    assumed : bool
        Whether the word does not say its basis, so that the usual one is taken.
    unit : Unit or None
        A unit that stands in the name.
    temperature : float or None
        A temperature that stands in the name. [°C]
    """

    quantity: str
    basis: str = ""
    assumed: bool = False
    unit: Unit | None = None
    temperature: float | None = None


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
    text = str(text).translate(SIGNS).translate(PLAIN)
    text = unicodedata.normalize("NFKD", text.casefold())
    text = re.sub(r"(?<=\d),(?=\d)", ".", text)
    text = "".join(c for c in text if not unicodedata.combining(c))
    text = re.sub(r"[^\w.%<°]|_|(?<!\d)\.|\.(?!\d)", " ", text)
    return " ".join(text.replace("<", "< ").split())


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


def _known(words):
    """Return the wording of words that stand in a table as they are, or None."""
    text = " ".join(words)
    row = _words()["quantity"].get(text)
    if row:
        return Wording(row["meaning"], row["basis"], bool(row["assumed"]))
    quantity, basis = _symbols().get(text, ("", ""))
    return Wording(quantity, basis) if quantity else None


@lru_cache(maxsize=4096)
def name_in_report(text):
    """
    Return what the name of a line in a report means.

    Parameters
    ----------
    text : str
        The name, with its symbol, basis, unit or temperature as printed.

    Returns
    -------
    Wording or None
        What it says; None if it is no quantity that is known.

    Examples
    --------
    >>> said = name_in_report("Nitrate (as N), mg/L")
    >>> said.quantity, said.basis, said.unit.name
    ('nitrate', 'NO3-N', 'mg/L')
    >>> name_in_report("Leitfähigkeit bei 20 °C").temperature
    20.0
    """
    text = str(text).translate(SIGNS).translate(PLAIN)
    if len(text) > LONGEST_NAME:
        return None
    whole = _known(plain_words(text).split())
    if whole:
        return whole
    temperature = DEGREES.search(text)
    if temperature:
        text = DEGREES.sub(" ", text)
    said = _said(text)
    if said is None or temperature is None:
        return said
    degrees = float(temperature.group(1).replace(",", "."))
    return _with(said, temperature=degrees)


def _with(said, **changes):
    facts = {**vars(said), **changes}
    return Wording(**facts)


def _said(text):
    """Return the wording of a name from its parts: words, symbol, basis, unit."""
    said = _of_words(text.split())
    if said:
        return said
    pieces = [piece.split() for piece in re.split(r"[()\[\]{}]|[,;|](?!\d)", text)]
    told = [(piece, _of_words(piece)) for piece in pieces if piece]
    named = [said for _, said in told if said]
    for other in named[1:]:
        named[0] = named[0] and _joined(named[0], other)
    found = named[0] if named else None
    for piece, said in told:
        found = found if said else found and _qualified(found, piece)
    return found


def _kept(words):
    """Return plain words without those that change nothing."""
    filler = _words()["filler"]
    return [word for word in words if word not in filler]


def _of_words(words):
    """Return the wording of one piece of a name: "Nitrat NO3", "nitrate as N", or None."""
    if len(words) > MOST_WORDS:
        return None
    exact = _head(words)
    if exact:
        return exact
    for cut in range(len(words) - 1, 0, -1):
        said = _head(words[:cut])
        if said is None:
            continue
        other = _head(words[cut:])
        both = (other and _joined(said, other)) or _qualified(said, words[cut:])
        if both:
            return both
    return None


def _head(words):
    """Return the wording of words that are a name and nothing else."""
    text = " ".join(words)
    plain = plain_words(text).split()
    return _known(plain) or (None if unit_in_report(text) else _known(_kept(plain)))


def _joined(first, second):
    """Return two wordings of one quantity as one ("Nitrate NO3-N"), or None."""
    if first.quantity != second.quantity:
        return None
    sure = [said for said in (second, first) if said.basis and not said.assumed]
    basis = sure[0] if sure else first  # "Phosphor (PO4)": the brackets tell the basis
    return _with(basis, unit=first.unit or second.unit)


def _qualified(said, words):
    """Return a wording with the unit and basis that further words tell, or None."""
    whole = _of_tail(said, " ".join(words))
    if whole:
        return whole
    for cut in range(1, len(words)):
        first = _of_tail(said, " ".join(words[:cut]))
        both = first and _of_tail(first, " ".join(words[cut:]))
        if both:
            return both
    return None


def _of_tail(said, text):
    """Return a wording with the one unit or basis that a text is."""
    text = text.strip(" ()[]{}.:=*#,;|-")
    if not _kept(plain_words(text).split()) and not unit_in_report(text):
        return said
    based = on_basis(said, _species(text))
    measured = None if based else unit_in_report(text, said.quantity)
    if measured is None:
        return based
    of_unit, species = measured
    if said.unit and said.unit != of_unit:
        return None
    said = _with(said, unit=of_unit)
    return on_basis(said, species) if species else said


def _species(text):
    """Return the formula that "as N", "(CaCO3)" or "en NO3" names, or nothing."""
    words = plain_words(text).split()
    for cut in range(3, 0, -1):
        if " ".join(words[:cut]) in _words()["as"]:
            words = words[cut:]
            break
    text = " ".join(words)
    row = _words()["basis"].get(text) or _words()["basis"].get(text[:-1].rstrip("1234"))
    if row:
        return row["meaning"]
    _, key = _symbols().get(text, ("", ""))
    return nutrient(key).basis if key else ""


def on_basis(said, species):
    """
    Return a wording on the basis named.

    Parameters
    ----------
    said : Wording
        What a name says.
    species : str
        Formula on which it is counted, such as "N" or "CaCO3".

    Returns
    -------
    Wording or None
        The wording on that basis; None if that makes no sense.

    Examples
    --------
    >>> on_basis(name_in_report("Nitrat"), "N").basis
    'NO3-N'
    """
    if not species:
        return None
    if species == "CaCO3" or said.quantity in ALKALINE:
        good = species in ("CaCO3", *ALKALINE.get(said.quantity, ("CaCO3",)))
        return _with(said, basis=species, assumed=False) if good else None
    if said.quantity == "oxidised_nitrogen":
        return _with(said, basis="N", assumed=False) if species == "N" else None
    for row in read_table("nutrients"):
        forms = {pair.partition(":")[0] for pair in row["forms"].split()}
        same = forms == {said.quantity} or (row["key"], said.quantity) == ("Fe", "iron")
        if same and species in (row["basis"], row["key"]):
            return _with(said, basis=row["key"], assumed=False)
    return None


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
        mass, species, volume = inside.groups()
        return _with_species(f"{mass}/{volume}", species, quantity)
    words = text.replace("(", " ").replace(")", " ").split()
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
    known, species = _unit(unit_text, quantity), _species(species_text)
    if not known or not species:
        return None
    if species == "CaCO3" and known.kind == "mass_concentration":
        try:
            return unit(f"{known.name} as CaCO3"), ""
        except UnitError:
            return known, species
    return known, species
