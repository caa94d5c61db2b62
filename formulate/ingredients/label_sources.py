"""What the sources of a label ("derived from ...") tell about nitrogen, iron and chelates."""

import re
from dataclasses import dataclass
from functools import cache

from formulate.errors import FormulaError
from formulate.ingredients.label_words import (
    METALS,
    family,
    known_word,
    without_accents,
)
from formulate.ingredients.salt_words import usual_names
from formulate.stoichiometry.formula import parse_formula
from formulate.tables import read_table

__all__ = ["NITROGEN_FORMS", "Source", "sources_of"]

NITROGEN_FORMS = {"nitrate": "NO3-N", "ammonium": "NH4-N", "urea": "urea-N"}
IRON_FORMS = {"iron_ii": "Fe(II)", "iron_iii": "Fe(III)"}
EQUAL = "NO3-N=NH4-N"


@dataclass(frozen=True)
class Source:
    """
    One material that a label names as a source.

    Attributes
    ----------
    text : str
        As printed.
    brings : frozenset of str
        "NO3-N", "NH4-N", "urea-N", "other-N", "Fe(II)", "Fe(III)", "phosphite".
    is_known : bool
        Whether every word of it is known.
    half_and_half : bool
        Whether it is ammonium nitrate, one nitrate to one ammonium.
    metals : frozenset of str
        Elements that its words name.
    agents : frozenset of str
        Chelating agents that its words name.
    """

    text: str
    brings: frozenset
    is_known: bool
    half_and_half: bool
    metals: frozenset
    agents: frozenset


@cache
def _wordings():
    """Return each wording of a source to what it brings, the longest first."""
    found = {}
    for row in read_table("label_sources"):
        for text in row["words"].split("|"):
            found.setdefault(_plain(text), row["brings"])
    return found


@cache
def _longest():
    return max(len(text.split()) for text in _wordings())


def _plain(text):
    return " ".join(re.findall(r"[^\W_]+", without_accents(text))).casefold()


def sources_of(texts):
    """
    Return what each source of a label brings.

    Parameters
    ----------
    texts : sequence of str
        The sources, as printed.

    Returns
    -------
    tuple of Source
        What each of them brings.

    Examples
    --------
    >>> found = sources_of(["potassium nitrate", "iron EDTA"])
    >>> [sorted(source.brings) for source in found], sorted(found[1].agents)
    ([['NO3-N'], []], ['EDTA'])
    """
    return tuple(map(_in_any_words, texts))


def _in_any_words(text):
    """Return a source by its words, or by the names that the trade means by them."""
    found = _source(text)
    names = () if found.is_known else usual_names(text)
    if not names:
        return found
    meant = [_source(name) for name in names]
    return Source(
        text,
        frozenset().union(*(each.brings for each in meant)),
        all(each.is_known for each in meant),
        len(meant) == 1 and meant[0].half_and_half,
        frozenset().union(*(each.metals for each in meant)),
        frozenset().union(*(each.agents for each in meant)),
    )


def _source(text):
    written = _from_formula(text)
    if written is not None:
        return written
    words, brings, known = _plain(text).split(), [], bool(text.strip())
    while words:
        for length in range(min(_longest(), len(words)), 0, -1):
            found = _wordings().get(" ".join(words[:length]))
            if found:
                brings.append(found)
                break
        else:
            length, known = 1, False
        del words[:length]
    told = {key for text in brings for key in re.split("[ =]", text)} - {"-"}
    metals, agents = _named(text)
    return Source(
        text,
        frozenset(told),
        known,
        EQUAL in brings,
        frozenset(metals),
        frozenset(agents),
    )


def _from_formula(text):
    """Return the source that a formula is, or None if it is no formula."""
    if " " in text.strip() or not any(map(str.isdigit, text)):
        return None
    try:
        forms = parse_formula(text.strip()).forms
    except FormulaError:
        return None
    kinds = {**NITROGEN_FORMS, **IRON_FORMS}
    brings = frozenset(kinds[form] for form in forms if form in kinds)
    halves = forms.get("nitrate", 0) == forms.get("ammonium", 0) != 0
    return Source(text, brings, True, halves, frozenset(), frozenset())


def _named(text):
    """Return the metals and the chelating agents that the words of a source name."""
    metals, agents = set(), set()
    pieces = re.findall(r"[^\W_]+", re.sub("(EDTA|DTPA|EDDHA|HBED)", r" \1 ", text))
    for piece in pieces:
        word = known_word(without_accents(piece))
        if word and word.role == "agent":
            agents.add(word.keys["us"])
        elif word and word.keys["element"] and family(word.keys["element"]) in METALS:
            metals.add(family(word.keys["element"]))
    return metals, agents - {"other"}
