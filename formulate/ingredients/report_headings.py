"""Finds the heading of a table in a water report: which column holds what.

The delimiter of a table is the one that parts its heading. A heading may also stand in
words with blanks between them, as a text copied from a page shows it.
"""

import csv
import re
from dataclasses import dataclass
from functools import cache

from formulate.ingredients.report_units import (
    plain_words,
    unit_in_report,
    word_meaning,
    words_of,
)
from formulate.ingredients.report_words import DEGREES, name_in_report
from formulate.stoichiometry.units import CONCENTRATIONS, Unit

__all__ = ["Heading", "glued_heading", "heading_in", "split_cells", "unit_heading"]

DELIMITERS = ("\t", ";", "|", ",")
FIXED, WORDS = "  ", " "
VALUES = ("value", "mean", "low", "high", "range")
INSIDE = ("limit", "method", "rest", "mean", "range", "low", "high", "value")
MOST_HEADING_WORDS = 14
LONGEST_CELL_WORDS = 5
FEWEST_WIDE = 3  # quantities side by side make a table that lies on its side
DATE = re.compile(
    r"\d{1,2}[./-](?:\d{1,2}|[^\W\d]{3,9}\.?)[./-](?:\d{4}|\d{2})|\d{4}-\d{2}-\d{2}"
)
YEAR = re.compile(r"(?:19|20)\d\d")
PLAIN_NUMBER = re.compile(r"\s*[<>≤≥]?\s*[-+−]?\d+(?:[.,]\d+)*\s*%?\s*")


@dataclass(frozen=True)
class Heading:
    """
    What the columns of a table hold.

    Attributes
    ----------
    delimiter : str
        What parts the cells: tab, ";", ",", "|", two blanks or one.
    roles : tuple of str
        "parameter", "value", "mean", "low", "high", "range", "unit", "limit", "basis",
        "sign", "symbol", "method", "rest", "sample"; "quantity" if the table lies on
        its side.
    titles : tuple of str
        The headings as printed.
    units : tuple of (Unit, str) or None
        Unit and species that stand in a heading, for each column.
    places : tuple of int
        Where the middle of each heading stands in its line. [-]
    """

    delimiter: str
    roles: tuple
    titles: tuple
    units: tuple
    places: tuple = ()

    @property
    def wide(self):
        """Return whether the quantities stand side by side and each line is a sample."""
        return "quantity" in self.roles


def split_cells(line, delimiter):
    """
    Return the cells of one line of a table.

    Parameters
    ----------
    line : str
        The line.
    delimiter : str
        What parts the cells.

    Returns
    -------
    list of str
        The cells without blanks around them.

    Examples
    --------
    >>> split_cells('"Calcium, dissolved",94.4,mg/L', ",")
    ['Calcium, dissolved', '94.4', 'mg/L']
    """
    if delimiter == FIXED:
        return re.split(r"\s{2,}|\t", line.strip())
    if delimiter == "|":
        cells = line.strip().removeprefix("|").removesuffix("|").split("|")
    else:
        cells = next(csv.reader([line], delimiter=delimiter), [])
    return [cell.strip() for cell in cells]


def heading_in(line):
    """
    Return the heading that a line is.

    Parameters
    ----------
    line : str
        A line of a report.

    Returns
    -------
    Heading or None
        The heading, or None if the line is none.

    Examples
    --------
    >>> heading_in("Parameter;Einheit;Messwert;Grenzwert").roles
    ('parameter', 'unit', 'value', 'limit')
    >>> heading_in("Calcium;mg/l;94,4;") is None
    True
    """
    may_be = not _heading_words().isdisjoint(plain_words(line).split())
    for delimiter in DELIMITERS:
        if delimiter in line:
            cells = split_cells(line, delimiter)
            found = (may_be and _heading(cells, delimiter)) or _wide(cells, delimiter)
            if found:
                return found
    if re.search(r"\S\s{2,}\S", line.strip()):
        spans = [match.span() for match in re.finditer(r"\S+(?:\s\S+)*", line)]
        cells = [line[start:end] for start, end in spans]
        places = tuple((start + end) // 2 for start, end in spans)
        found = (may_be and _heading(cells, FIXED, places)) or _wide(cells, FIXED)
        if found:
            return found
    return _worded(line) if may_be else None


@cache
def _heading_words():
    """Return every word that stands in the headings of the table of words."""
    return frozenset(word for text in words_of("column") for word in text.split())


def _heading(cells, delimiter, places=()):
    """Return a heading from its cells, or None."""
    if len(cells) < 2 or any(map(_is_number, cells)):
        return None
    told = [_role(cell) for cell in cells]
    roles = [role for role, _ in told]
    if sum(map(bool, roles)) < 2 or not any(role not in ("", "date") for role in roles):
        return None
    for cell, role in zip(cells, roles, strict=True):
        if not role and name_in_report(cell):
            return None
    roles = _settled(roles, cells)
    units = tuple(measured for _, measured in told)
    if roles is None:
        return None
    return Heading(delimiter, tuple(_rivals(roles, units)), tuple(cells), units, places)


def _is_number(cell):
    """Return whether a cell is a number and no date."""
    return bool(PLAIN_NUMBER.fullmatch(cell)) and not DATE.fullmatch(cell.strip())


def _settled(roles, cells):
    """Return roles with the name column, dates and unknown columns settled, or None."""
    roles = list(roles)
    if "parameter" not in roles:
        free = [n for n, role in enumerate(roles) if not role]
        if not free or free[0] > 1:
            return None
        roles[free[0]] = "parameter"
    has_values = any(role in VALUES for role in roles)
    open_columns = [
        n
        for n, role in enumerate(roles)
        if role == "date" or (not role and cells[n] and not has_values)
    ]
    for n in open_columns:
        alone = len(open_columns) == 1 and not has_values
        roles[n] = "value" if alone else ("rest" if has_values else "sample")
    if not any(role in (*VALUES, "sample") for role in roles):
        return None
    return [role or "rest" for role in roles]


def _rivals(roles, units):
    """Return roles in which a second column of results is told from the first."""
    values = [n for n, role in enumerate(roles) if role == "value"]
    if len(values) < 2:
        return roles
    apart = {units[n] for n in values}
    same = len(apart) < len(values) or None in apart
    for n in values[0 if same else 1 :]:
        roles[n] = "sample" if same else "also"
    return roles


def _role(text):
    """Return the role that one heading tells, and the unit in it."""
    if re.match(r"\W*\d", text) and not DATE.fullmatch(text.strip()):
        return "", None  # a value, not a heading
    bare = re.sub(r"[(\[].*?[)\]]", " ", text)
    few = " ".join(w for w in bare.split() if not any(c.isdigit() for c in w))
    for wording in (text, bare, few):
        role = word_meaning("column", wording) if wording.strip() else ""
        if role:
            return role, _inside(text)
    measured = unit_in_report(text)
    if measured and measured[0].kind in (*CONCENTRATIONS, "conductivity"):
        return "value", measured
    words = re.findall(r"\w+(?:\.(?=\s|$))?", few)
    if DATE.fullmatch(text.strip()):
        return "date", None
    if not words or len(words) > LONGEST_CELL_WORDS:
        return "", None
    found = {word_meaning("column", word) for word in words}
    inside = [role for role in INSIDE if role in found]
    return (inside[0] if inside else ""), _inside(text)


def _inside(text):
    """Return the unit that stands in a heading, in brackets or at its end, or None."""
    for group in re.findall(r"[(\[](.*?)[)\]]", text):
        measured = unit_in_report(group)
        if measured:
            return measured
    words = text.split()
    for cut in range(1, len(words)):
        measured = unit_in_report(" ".join(words[cut:]))
        if measured and isinstance(measured[0], Unit):
            return measured
    return None


def _wide(cells, delimiter):
    """Return the heading of a table that lies on its side, or None."""
    filled = [cell for cell in cells if cell]
    words = [word for cell in filled for word in DEGREES.sub(" ", cell).split()]
    if len(filled) < FEWEST_WIDE or any(map(_is_number, words)):
        return None  # "Ca 2 mg/L, Mg 2 mg/L" tells values
    named = [name_in_report(cell) for cell in cells]
    known = [said for said in named if said and said.quantity != "other"]
    if len(known) < FEWEST_WIDE or 2 * len(known) < len(filled):
        return None
    roles = tuple("quantity" if said else "rest" for said in named)
    return Heading(delimiter, roles, tuple(cells), tuple(None for _ in cells))


def _worded(line):
    """Return a heading whose columns are parted by single blanks, or None."""
    words = line.split()
    numbers = [word for word in words if _is_number(word) and not YEAR.fullmatch(word)]
    if numbers or not 2 <= len(words) <= MOST_HEADING_WORDS:
        return None
    titles, roles, unknown, at = [], [], 0, 0
    while at < len(words):
        for length in (3, 2, 1):
            title = " ".join(words[at : at + length])
            role = _column(title)
            if role:
                break
        if role:
            titles.append(title)
            roles.append(role)
        elif roles:
            unknown += 1
        at += length if role else 1
    if "parameter" not in roles:
        titles.insert(0, "")
        roles.insert(0, "parameter")
        unknown += 1
    known = {role for role in roles if role != "date"}
    if unknown > len(roles) or not known & {"unit", "limit", *VALUES}:
        return None
    roles = _settled(roles, titles) if len(roles) > 2 else None
    if roles is None:
        return None
    units = tuple(None for _ in roles)
    return Heading(WORDS, tuple(_rivals(roles, units)), tuple(titles), units)


def _column(title):
    """Return the role of one word of a heading; a date is a column too."""
    if DATE.fullmatch(title.strip()):
        return "date"
    bare = re.sub(r"\d+\)?$", "", title.strip(",:()"))
    return word_meaning("column", bare) if bare else ""


def glued_heading(line):
    """
    Return the word in which several column headings run together.

    Parameters
    ----------
    line : str
        A line of a report.

    Returns
    -------
    str
        The word; empty if there is none.

    Examples
    --------
    >>> glued_heading("ParameterGrenzwerteMesswerte")
    'ParameterGrenzwerteMesswerte'
    """
    if any(c.isdigit() for c in line):
        return ""
    for word in line.split()[:MOST_HEADING_WORDS]:
        parts = re.findall(r"[^\W\d_][^\W\d_A-ZÄÖÜ]+", word)
        roles = [word_meaning("column", part) for part in parts]
        if len(parts) > 1 and "".join(parts) == word and all(roles):
            return word
    return ""


def unit_heading(line):
    """
    Return the unit that a heading tells for the lines under it.

    Parameters
    ----------
    line : str
        A line of a report.

    Returns
    -------
    Unit or None
        The unit, or None if the line is no such heading.

    Examples
    --------
    >>> unit_heading("Kationen in mg/l").name
    'mg/L'
    """
    words = re.findall(r"[^\s()\[\]:,;]+", line)
    if any(c.isdigit() for c in line) or not 2 <= len(words) <= MOST_HEADING_WORDS:
        return None
    roles = {word_meaning("column", word) for word in words}
    roles |= {word_meaning("column", " ".join(words[:2]))}
    if not roles & {"parameter", "value", "unit"}:
        return None
    for length in (3, 2, 1):
        for start in range(len(words) - length + 1):
            measured = unit_in_report(" ".join(words[start : start + length]))
            if measured and measured[0].kind in CONCENTRATIONS:
                return measured[0]
    return None
