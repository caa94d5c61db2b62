"""What the name of a line in a water report means: quantity, basis, unit, temperature.

A name is taken apart into words that are known; whatever else stands in it makes it a
name that is not understood, for "pH after saturation" is no pH.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from formulate.ingredients.report_units import (
    SIGNS,
    plain_words,
    species_in,
    symbol_meaning,
    unit_in_report,
    words_of,
)
from formulate.stoichiometry.nutrients import PLAIN
from formulate.stoichiometry.units import Unit
from formulate.tables import read_table

__all__ = ["ALKALINE", "Wording", "name_in_report", "on_basis"]

LONGEST_NAME = 120  # characters: a longer text is prose, not the name of a quantity
MOST_WORDS = 12
DEGREES = re.compile(
    r"(?:(?<![\w°])(?:bei|at|@|à|a|b\.)\s*)?@?\s*"
    r"(\d{1,3}(?:[.,]\d{1,2})?)\s*(?:°\s*C?|oC|deg\.?\s?C|(?<=\d)\s?C)(?![\w/])"
)
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


def _known(words):
    """Return the wording of words that stand in a table as they are, or None."""
    text = " ".join(words)
    row = words_of("quantity").get(text)
    if row:
        return Wording(row["meaning"], row["basis"], bool(row["assumed"]))
    quantity, basis = symbol_meaning(text)
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
    groups = re.findall(r"[(\[]([^()\[\]]*)[)\]]", text)
    units = [group for group in groups if unit_in_report(group)]
    if units:  # "Säurekapazität (mmol/l) bei pH 4,3"
        bare = re.sub(r"[(\[]([^()\[\]]*)[)\]]", _without_unit, text)
        said = _of_words(bare.split())
        return said and _rest(said, units)
    pieces = [piece.split() for piece in re.split(r"[()\[\]{}]|[,;|](?!\d)", text)]
    told = [(piece, _of_words(piece)) for piece in pieces if piece]
    named = [said for _, said in told if said]
    for other in named[1:]:
        named[0] = named[0] and _joined(named[0], other)
    found = named[0] if named else None
    for piece, said in told:
        found = found if said else found and _rest(found, piece)
    return found


def _without_unit(match):
    return " " if unit_in_report(match.group(1)) else match.group()


def _kept(words):
    """Return plain words without those that change nothing."""
    filler = words_of("filler")
    return [word for word in words if word not in filler]


def _of_words(words):
    """Return the wording of one piece of a name: "Nitrat NO3", "nitrate as N", or None."""
    if len(words) > MOST_WORDS:
        return None
    for cut in range(len(words), 0, -1):
        said = _head(words[:cut])
        found = said and _rest(said, words[cut:])
        if found:
            return found
    return None


def _rest(said, words):
    """Return a wording with what further words add: symbol, basis, unit; or None."""
    if not words:
        return said
    for cut in range(len(words), 0, -1):
        other = _head(words[:cut])
        step = other and _joined(said, other)
        step = step or _of_tail(said, " ".join(words[:cut]))
        found = step and _rest(step, words[cut:])
        if found:
            return found
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


def _of_tail(said, text):
    """Return a wording with the one unit or basis that a text is."""
    text = text.strip(" ()[]{}.:=*#,;|-")
    if not _kept(plain_words(text).split()) and not unit_in_report(text):
        return said
    based = on_basis(said, species_in(text))
    measured = None if based else unit_in_report(text, said.quantity)
    if measured is None:
        return based
    of_unit, species = measured
    if said.unit and said.unit != of_unit:
        return None
    said = _with(said, unit=of_unit)
    return on_basis(said, species) if species else said


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
