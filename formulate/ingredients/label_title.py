"""The name of a material with numbers behind it, as the title of a label: no guarantee."""

import re
from dataclasses import dataclass

from formulate.ingredients.label_words import known_word
from formulate.ingredients.salts import known_materials

__all__ = ["NumberedTitle", "numbered_title"]

HEAD = 4  # lines among which the title stands
NUMBER = r"(?:100|\d{1,2})(?:[.,]\d{1,2})?"
TITLE = re.compile(
    rf"(?P<name>[^\d%:;=]*[^\W\d_]\)?)\s+"
    rf"(?P<numbers>{NUMBER}(?:\s*[-–+/(]{{1,2}}\s*\+?\s*{NUMBER}\s*\)?)*)\s*(?P<percent>%)?"
)
NAMING = ("nutrient", "symbol", "form", "ion")  # "urea 5" among forms of N
CHELATE = re.compile("edta|dtpa|eddha|hbed", re.I)  # "Fe-EDTA 0.1" is a share
ALONE = re.compile(r"\d+(?:[.,]\d+)?")
OF_GRADE = 3  # numbers that N-P2O5-K2O has


@dataclass(frozen=True)
class NumberedTitle:
    """
    A title that names a material and a number of its trade.

    Attributes
    ----------
    line : int
        Line of the label, counted from 1. [-]
    why : str
        Why it is no guarantee.
    missing : tuple of str
        Its numbers that stand nowhere below.
    """

    line: int
    why: str
    missing: tuple


def numbered_title(lines):
    """
    Return the title of a label that is the name of a material with numbers.

    Three numbers in a row stay a grade, N-P2O5-K2O, except behind the name of what holds
    neither N nor P and where each of them stands below.

    Parameters
    ----------
    lines : sequence of str
        The lines of the label.

    Returns
    -------
    NumberedTitle or None
        The title; None if the first number of the label belongs to something else.

    Examples
    --------
    >>> numbered_title(["Ammonium sulfate 21", "Total nitrogen 21 %"]).missing
    ()
    >>> numbered_title(["Potassium nitrate 13-0-46", "Soluble potash 46 %"]) is None
    True
    """
    place = next((n for n, line in enumerate(lines[:HEAD]) if ALONE.search(line)), None)
    match = None if place is None else TITLE.fullmatch(lines[place].strip())
    below = {_value(t) for t in ALONE.findall("\n".join(lines[place or 0 :][1:]))}
    if match is None or _names_a_share(match["name"]):
        return None
    materials = known_materials(match["name"])
    texts = ALONE.findall(match["numbers"])
    missing = tuple(text for text in texts if _value(text) not in below)
    is_share = missing and (match["percent"] or CHELATE.search(match["name"]))
    is_grade = len(texts) >= OF_GRADE and (missing or _may_have_grade(materials))
    if not materials or is_share or is_grade:
        return None
    why = f"a title: {match['name'].strip()} with {match['numbers']}, no guarantee"
    return NumberedTitle(place + 1, why, missing)


def _value(text):
    return float(text.replace(",", "."))


def _names_a_share(name):
    """Return whether a name is one of a nutrient or of a form of it."""
    word = known_word(name.strip(), False, True)
    return word is not None and word.role in NAMING


def _may_have_grade(materials):
    """Return whether N-P2O5-K2O may stand behind the name of a material."""
    return any(made.percent(key) for made in materials for key in ("N", "P"))
