"""Reads what stands in the value cells of a water report: numbers, ranges, "< 0,05", "n.n.".

Laboratories write decimal points and decimal commas. Which one a report uses is seen from
its own numbers; a number that still reads two ways is refused, never guessed.
"""

import re
from dataclasses import dataclass
from functools import cache

from formulate.errors import InputError, shortened
from formulate.ingredients.report_units import plain_words, unit_in_report, word_meaning
from formulate.ingredients.report_words import ALKALINE, name_in_report
from formulate.stoichiometry.quantities import read_number
from formulate.stoichiometry.units import Unit
from formulate.tables import read_table

__all__ = ["Cell", "cells_in", "decimal_marks", "may_start_value", "number_in_report"]

NUMBER = (
    r"\d{1,3}(?:['’]\d{3})+(?:[.,]\d+)?(?!['’]?\d)"
    r"|\d+(?:[.,]\d+)*(?:[eE][+-]?\d+)?|[.,]\d+"
)
AFTER_NUMBER = re.compile(r"\s|$|[)\]*;|(<>%°±](?!\d)|[.,](?:\s|$)")
UNIT_WORDS = 4  # most words in a unit: "mg/L as CaCO3", "grains per US gallon"
GROUP = 3  # digits between thousands marks
STARTS_VALUE = re.compile(r"[<>≤≥‹›~≈+\-−±]{0,2}[.,]?\d|[<>≤≥‹›\-–—/]+$")


@dataclass(frozen=True)
class Cell:
    """
    One value as printed.

    Attributes
    ----------
    printed : str
        The value with its unit, as it stands in the report.
    sign : str
        "<", ">", "nothing" (looked for, not found), "unmeasured" or empty.
    number : str
        The number as printed, or the low end of a range.
    upper : str
        High end of a range; empty if there is none.
    unit : Unit or None
        Its own unit, if one stands with it.
    species : str
        Formula that stands with the unit.
    gap : bool
        Whether more than one blank stands before it.
    """

    printed: str
    sign: str = ""
    number: str = ""
    upper: str = ""
    unit: Unit | None = None
    species: str = ""
    gap: bool = False


@cache
def _value():
    """Return the pattern of a number with its sign, range and uncertainty."""
    words = "|".join(
        re.escape(row["word"])
        for row in read_table("water_words")
        if row["kind"] == "to"
    )
    less = "|".join(
        re.escape(row["word"])
        for row in read_table("water_words")
        if row["kind"] == "less"
    )
    return re.compile(
        rf"(?P<sign>[<>≤≥‹›]=?|(?:{less})(?=\s)|[~≈]|ca\.)?\s*(?P<minus>[-−+](?=[\d.,]))?"
        rf"(?P<a>{NUMBER})"
        rf"(?:(?:\s[-–—]\s|[-–—…]|\.\.|\s(?:{words})\s)(?P<sign_b>[<>]?)\s?(?P<b>{NUMBER}))?"
        rf"(?:\s*(?:±|\+/-)\s*(?:{NUMBER})\s?%?)?",
        re.IGNORECASE,
    )


@cache
def _first_words():
    """Return the first words of what may stand in place of a number."""
    rows = read_table("water_words")
    wordy = [row for row in rows if row["kind"] in ("nothing", "unmeasured", "less")]
    return frozenset(
        words[0]
        for words in (plain_words(row["word"]).split() for row in wordy)
        if words
    )


def may_start_value(word):
    """
    Return whether a value may begin with a word of a line.

    Parameters
    ----------
    word : str
        One word.

    Returns
    -------
    bool
        True for a number, a sign such as "<", and for words such as "n.n.".

    Examples
    --------
    >>> may_start_value("<0,05"), may_start_value("n.n."), may_start_value("Nitrat")
    (True, True, False)
    """
    if STARTS_VALUE.match(word):
        return True
    plain = plain_words(word).split()
    return bool(plain) and plain[0] in _first_words()


def cells_in(text, quantity=""):
    """
    Return the values at the beginning of a text, and what stands after them.

    Parameters
    ----------
    text : str
        What follows the name of a quantity, or one cell of a table.
    quantity : str
        What is told, so that "°F" is understood.

    Returns
    -------
    cells : list of Cell
        The values in their order.
    rest : str
        The text after the last of them.

    Raises
    ------
    InputError
        If a number runs into letters or signs that are no unit.

    Examples
    --------
    >>> cells, rest = cells_in("< 0,05 mg/l DIN 38406")
    >>> cells[0].sign, cells[0].number, cells[0].unit.name, rest
    ('<', '0,05', 'mg/L', 'DIN 38406')
    """
    found = []
    while text.strip():
        gap = len(text) - len(text.lstrip()) > 1
        cell, after = _next_cell(text.lstrip(), gap, quantity)
        if cell is None:
            break
        found.append(cell)
        text = after
    return found, text.strip()


def _next_cell(text, gap, quantity):
    """Return the value with which a text begins, or None, and the text after it."""
    wordy = _words(text, gap, quantity)
    if wordy:
        return wordy
    match = _value().match(text)
    if not match:
        return None, text
    if match["b"] and _upside_down(match["a"], match["b"]):
        match = _value().match(text[: match.end("a")])
    after = text[match.end() :]
    of_unit, species, end = _unit_after(after, quantity)
    if not of_unit and not AFTER_NUMBER.match(after):
        what = f"{shortened(text)}: the number runs into something that is no unit"
        raise InputError(what)
    sign = _sign(match["sign"] or "")
    number = (match["minus"] or "").replace("+", "") + match["a"]
    if match["b"] and sign == "<":
        number, sign = "0", ""  # "<0.05-0.12": from nothing up
    printed = text[: match.end() + end].strip()
    cell = Cell(printed, sign, number, match["b"] or "", of_unit, species, gap)
    return cell, after[end:]


def _sign(text):
    """Return "<" or ">" for a sign or a word such as "less than"; "about" is none."""
    first = text[:1].casefold()
    if first in ("", "~", "≈", "c"):
        return ""
    return ">" if first in ">≥›" else "<"


def _upside_down(low, high):
    """Return whether a range would run from more to less: two numbers, no range."""
    whole = [re.match(r"\d*", text.replace("'", "")).group() for text in (low, high)]
    return int(whole[0] or 0) > int(whole[1] or 0)


def _words(text, gap, quantity):
    """Return a cell for words such as "n.n.", "not detected", "-", and the text after."""
    for last in reversed(list(re.finditer(r"\S+", text[:60]))[:UNIT_WORDS]):
        said = text[: last.end()]
        for kind in ("nothing", "unmeasured"):
            if word_meaning(kind, said.strip(";|")):
                after = text[last.end() :]
                of_unit, species, end = _unit_after(after, quantity)
                return Cell(said, kind, "", "", of_unit, species, gap), after[end:]
    return None


def _unit_after(text, quantity):
    """Return the unit with which a text begins, its species, and where it ends."""
    near = re.split(r"(?<=\S)\s\s", text[:60])[0]
    words = list(re.finditer(r"[^\s;|]+", near))[:UNIT_WORDS]
    for last in reversed(words):
        found = unit_in_report(near[: last.end()].strip(), quantity)
        if found and not (
            found[1] and _is_next(last.group(), text[last.end() :], quantity)
        ):
            return *found, last.end()
    return None, "", 0


def _is_next(word, after, quantity):
    """Return whether a word behind a unit names the next quantity: "14 mg/L K 2"."""
    said = name_in_report(word)
    if said is None or said.quantity in ("other", quantity) or not quantity:
        return False
    related = quantity in ALKALINE or quantity == "hardness"
    return not related or bool(re.match(r"\s*[:=]?\s*[<>]?\s*\d", after))


def decimal_marks(texts):
    """
    Return the decimal marks that the numbers of a report prove.

    Parameters
    ----------
    texts : iterable of str
        Numbers as printed.

    Returns
    -------
    frozenset of str
        "." or "," or both; empty if no number tells.

    Examples
    --------
    >>> decimal_marks(["94,4", "1.250", "7"])
    frozenset({','})
    """
    proven = set()
    for text in texts:
        marks = re.findall(r"[.,]", text)
        whole, _, digits = text.strip("+-−<> ").rpartition(marks[-1] if marks else ".")
        if len(set(marks)) == 2:
            proven.add(marks[-1])
        elif len(marks) == 1 and (len(digits) != GROUP or not _groups(whole)):
            proven.add(marks[0])
    return frozenset(proven)


def _groups(whole):
    """Return whether digits can stand before a thousands mark."""
    return 1 <= len(whole) <= GROUP and not whole.startswith("0")


def number_in_report(text, marks=frozenset()):
    """
    Return a number as the report means it.

    Parameters
    ----------
    text : str
        The number as printed.
    marks : frozenset of str
        Decimal marks that the report uses.

    Returns
    -------
    value : float
        The number. [-]
    said : str
        What had to be assumed to read it; empty if nothing.

    Raises
    ------
    InputError
        If it is no number, or reads two ways.

    Examples
    --------
    >>> number_in_report("1.250", frozenset(","))
    (1250.0, "'1.250' read as 1250")
    """
    plain = re.sub(r"(?<=\d)['’\s](?=\d{3})", "", text)
    present = re.findall(r"[.,]", plain)
    if len(set(present)) == 2:
        decimal = present[-1]
        thousands = present[0]
        if present.count(decimal) > 1 or not _in_groups(plain, thousands, decimal):
            raise InputError(f"{shortened(text)} is no number")
        return read_number(plain.replace(thousands, "").replace(decimal, ".")), ""
    if not present or not _open(plain, present):
        return _checked(plain, present, marks, text)
    return _thousands_or_decimal(plain, present, marks, text)


def _thousands_or_decimal(plain, present, marks, text):
    """Return a number such as 1.250 or 1,250 by the other numbers of the report."""
    mark = present[0]
    other = "." if mark == "," else ","
    if len(present) == 1 and mark in marks and other not in marks:
        return read_number(plain.replace(mark, ".")), ""
    if len(present) == 1 and mark == "." and not marks:
        return read_number(plain), ""
    if len(present) > 1 or (other in marks and mark not in marks):
        value = read_number(plain.replace(mark, ""))
        return value, f"{shortened(text)} read as {value:.15g}"
    readings = plain.replace(mark, ""), plain.replace(mark, ".")
    raise InputError(
        f"{shortened(text)}: is the '{mark}' a decimal mark? write "
        f"{readings[0]} or {float(readings[1]):g}"
    )


def _open(plain, present):
    """Return whether the marks could all be thousands marks."""
    return _in_groups(plain, present[0], None) and _groups(
        plain.lstrip("+-−").partition(present[0])[0]
    )


def _in_groups(plain, thousands, decimal):
    """Return whether three digits stand between thousands marks."""
    whole = plain.rpartition(decimal)[0] if decimal else plain
    first, *groups = whole.lstrip("+-−").split(thousands)
    return _groups(first) and all(len(group) == GROUP for group in groups)


def _checked(plain, present, marks, text):
    """Return a number with at most one mark that can only be a decimal mark."""
    if len(present) > 1:
        raise InputError(f"{shortened(text)} is no number")
    return read_number(plain.replace(",", ".")), ""
