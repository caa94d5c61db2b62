"""The headings and cells of a laboratory's table: what a column holds, what a value says."""

import re
from dataclasses import dataclass
from functools import cache

from formulate.claims.allowances import same_nutrient
from formulate.claims.assay_names import named_part, nutrient_part
from formulate.errors import InputError, UnitError, shortened
from formulate.ingredients.label_items import segment
from formulate.ingredients.label_tokens import plain_line, tokens
from formulate.ingredients.label_words import (
    BASES,
    unit_named,
    unit_pattern,
    unit_scale,
)
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.quantities import read_number
from formulate.tables import read_table

__all__ = [
    "Value",
    "doubt_of",
    "heading_role",
    "is_nutrient",
    "language_words",
    "nutrient_named",
    "role_of",
    "scale_of",
    "unit_apart",
    "value_of",
]

BEHIND = r"\s*(?:no\.?|nr\.?|#)?\s*(?:\d{1,2}|[a-z])"  # which sample: 1, no. 2, B
PLUS_MINUS = r"\s*(?:±|\+/-|\+-)\s*"
AT_LEAST = r"^(?:≥|>=|min\.?|at least)\s*"
RELATIVE = r"%\s*(?:rel\.?|relative|of (?:the )?value)|rel\.?\s*%"
NUMBER = r"[-+]?[\d.,]*\d(?:[.,]?[eE][-+]?\d+)?"
SPEAKING = {
    "us": "us",
    "oxide": "us",
    "eu!": "eu",
}  # of words; a language tells nothing of one alone
PERCENT = 100.0


@dataclass(frozen=True)
class Value:
    """
    What one cell says.

    Attributes
    ----------
    percent : float
        Mass share; of what lies below detection the limit. [%]
    below : bool
        Whether it lies anywhere between 0 and there.
    doubt : float or None
        How far it may be off either way, if the cell says so. [%]
    """

    percent: float
    below: bool = False
    doubt: float | None = None


@cache
def _words():
    """Return each word in small letters and its role."""
    return {
        word.casefold(): row["role"]
        for row in read_table("assay_words")
        for word in row["words"].split("|")
    }


def role_of(text):
    """
    Return what a word of a laboratory's table does.

    Parameters
    ----------
    text : str
        A cell.

    Returns
    -------
    str
        "nutrient", "guaranteed", "found", "unit", "uncertainty", "method", "note",
        "other", "none", "setting rule" and so on; "" if it is none of these.

    Examples
    --------
    >>> role_of("Parameter"), role_of("Sample no. 2"), role_of("n.d."), role_of("Zn")
    ('nutrient', 'found', 'none', '')
    """
    plain = " ".join(text.casefold().split()).strip(" :")
    found = _words().get(plain, "")
    if found or not plain:
        return found
    behind = re.fullmatch(rf"(.+?){BEHIND}", plain)
    is_found = behind and _words().get(behind[1].strip()) == "found"
    return "found" if is_found else ""


def unit_apart(text):
    """
    Return a cell without the unit at its end, and the unit.

    Parameters
    ----------
    text : str
        Such as "Zn (mg/kg)".

    Returns
    -------
    name : str
        What stands before the unit.
    of_unit : str
        The unit as printed; "" if there is none.

    Examples
    --------
    >>> unit_apart("Zn (mg/kg)"), unit_apart("found, % w/w"), unit_apart("Iron (Fe)")
    (('Zn', 'mg/kg'), ('found', '% w/w'), ('Iron (Fe)', ''))
    """
    bracketed = re.fullmatch(r"(.*\S)\s*[(\[]([^()\[\]]+)[)\]]", text)
    if bracketed and _is_unit(bracketed[2]):
        return bracketed[1].rstrip(" ,:"), bracketed[2].strip()
    for match in re.finditer(r"[\s,]+(?:in\s+)?", text):
        rest = text[match.end() :]
        if match.start() and _is_unit(rest):
            return text[: match.start()].rstrip(" ,:"), rest.strip()
    return text, ""


def _is_unit(text):
    """Return whether a text is a unit of a share."""
    return unit_pattern("unit").fullmatch(text.strip()) is not None


def scale_of(of_unit):
    """
    Return how many percent one of a unit is.

    Parameters
    ----------
    of_unit : str
        A unit as printed.

    Returns
    -------
    float
        Grams in 100 g of one of it. [%]

    Raises
    ------
    UnitError
        If it is no unit of a share by mass.

    Examples
    --------
    >>> scale_of("ppm"), scale_of("g/kg")
    (0.0001, 0.1)
    """
    listed = "%, g/kg, mg/kg or ppm"
    if not _is_unit(of_unit):
        raise UnitError(f"unit {shortened(of_unit)} is not known; give {listed}")
    _, name, kind = unit_named(of_unit)
    if kind == "w/v":
        what = "counts by volume, the rules count by mass"
        how = f"divide by the density and give {listed}"
        raise UnitError(f"unit {shortened(of_unit)} {what}; {how}")
    return unit_scale(name)


def value_of(text, scale, comma=True):
    """
    Return what a cell with a number says.

    Parameters
    ----------
    text : str
        Such as "9.6", "< 0.01", "480 mg/kg" or "9.6 ± 0.3".
    scale : float
        How many percent one of its unit is, where it tells none itself. [%]
    comma : bool
        Whether a comma may be a decimal mark.

    Returns
    -------
    Value
        Share, whether it is a limit of detection, doubt.

    Raises
    ------
    InputError
        If it is no number, or more than everything.

    Examples
    --------
    >>> value_of("<100", 0.0001).below, round(value_of("480 mg/kg", 1.0).percent, 6)
    (True, 0.048)
    """
    main, *rest = re.split(PLUS_MINUS, text.strip())
    below = main.startswith("<")
    number, of_unit = _number(main.lstrip("< "), comma)
    if rest and not of_unit:
        of_unit = _number(rest[0], comma)[1] if "rel" not in rest[0] else ""
    scale = scale_of(of_unit) if of_unit else scale
    percent = number * scale
    if not 0 <= percent <= PERCENT or (below and not percent):
        raise InputError(f"{shortened(text)} is {percent:.6g} %, not from 0 to 100 %")
    doubt = doubt_of(rest[0], scale, percent, comma) if rest else None
    return Value(percent, below, doubt)


def doubt_of(text, scale, percent, comma=True):
    """
    Return an uncertainty in points of percent.

    Parameters
    ----------
    text : str
        Such as "0.3", "± 20 mg/kg" or "5 % rel".
    scale : float
        How many percent one of its unit is, where it tells none itself. [%]
    percent : float
        What was found, for an uncertainty that is a share of it. [%]
    comma : bool
        Whether a comma may be a decimal mark.

    Returns
    -------
    float
        Points of percent. [%]

    Raises
    ------
    InputError
        If it is no number, or a percentage that may be of the value or of the product.

    Examples
    --------
    >>> doubt_of("± 0.3", 1.0, 10.0), doubt_of("5 % rel", 1.0, 10.0)
    (0.3, 0.5)
    """
    plain = re.sub(rf"^{PLUS_MINUS}", "", text.strip())
    told = re.fullmatch(rf"({NUMBER})\s*(?:{RELATIVE})", plain, re.IGNORECASE)
    number, of_unit = (_plain(told[1], comma), "") if told else _number(plain, comma)
    if told:
        return _checked(number / PERCENT * percent, text)
    if of_unit.startswith("%") and scale != 1:
        what = "may be of the value or of the product"
        raise InputError(f"{shortened(text)} {what}; write {number:g} % rel, or mg/kg")
    return _checked(number * (scale_of(of_unit) if of_unit else scale), text)


def _checked(points, text):
    """Return an uncertainty unless it is negative."""
    if points < 0:
        raise InputError(f"{shortened(text)}: an uncertainty is not negative")
    return points


def _number(text, comma):
    """Return a number and the unit behind it, as printed."""
    plain = re.sub(AT_LEAST, "", text.strip(), flags=re.IGNORECASE)
    match = re.fullmatch(rf"({NUMBER})\s*(.*)", plain)
    if not match:
        what = "is no number; write it like 9.6, < 0.01, or - if it was not analysed"
        raise InputError(f"{shortened(text)} {what}")
    return _plain(match[1], comma), match[2]


def _plain(text, comma):
    """Return a number; a comma only where it parts no cells."""
    if "," in text and not comma:
        what = "a decimal comma in a file whose cells are parted by commas"
        raise InputError(f"{shortened(text)}: {what}; part them by ; or write a point")
    return read_number(text)


# --- names -------------------------------------------------------------------------------


def nutrient_named(text, basis, rule):
    """
    Return the nutrient, or part of it, that a cell names.

    Parameters
    ----------
    text : str
        Such as "Available phosphate" or "Fe EDTA".
    basis : str or None
        What a bare word means: "us", "eu" or "element"; None: it must not read two ways.
    rule : str
        "us" or "eu", whose words are read two ways if they mean something else as elements.

    Returns
    -------
    str
        Name, such as "P2O5" or "Fe chelated by EDTA".

    Raises
    ------
    InputError
        If it is no nutrient, an ion or its nitrogen, or on either of two bases.

    Examples
    --------
    >>> nutrient_named("Total Nitrogen (N)", None, "us"), nutrient_named("Fe EDTA", None, "us")
    ('N', 'Fe chelated by EDTA')
    """
    pieces = tokens(plain_line(text))
    items = segment(pieces).items
    strange = [piece.text for piece in pieces if piece.sort != "word"]
    if len(items) != 1 or strange:
        key = nutrient(text).key  # says what is near
        return named_part(key, "")
    if items[0].is_ion:
        raise InputError("may be nitrogen or the whole ion; write it like NO3-N or NO3")
    told = basis or _spoken_basis(pieces)
    means = {items[0].key(one) for one in (told or rule, told or "element")}
    if len(means) > 1:
        two = " or ".join(sorted(means))
        raise InputError(
            f"{shortened(text)} may be {two}; write one of them, or a line above the "
            f"headings: basis and one of {', '.join(BASES)}"
        )
    key, part, sort = nutrient_part(text, told or "element")
    name = named_part(key, part)
    return f"{sort} {name}" if sort and same_nutrient(key, "P") else name


def _spoken_basis(pieces):
    """Return the basis that words such as "available phosphate" speak for; None if none."""
    spoken = [SPEAKING.get(p.word.evidence) for p in pieces if p.word]
    return next(filter(None, spoken), None)


def language_words(texts):
    """
    Return the words of languages other than English, if none speaks for US labels.

    Parameters
    ----------
    texts : iterable of str
        Cells that name nutrients, without their units.

    Returns
    -------
    list of str
        The words; none if any speaks for another basis.

    Examples
    --------
    >>> language_words(["Gesamtstickstoff", "Phosphat", "Zn"])
    ['Gesamtstickstoff', 'Phosphat']
    """
    words = [
        piece for text in texts for piece in tokens(plain_line(text)) if piece.word
    ]
    if any(piece.word.evidence == "us" for piece in words):
        return []
    foreign = [piece.text for piece in words if piece.word.evidence == "eu"]
    return list(dict.fromkeys(foreign))


def is_nutrient(text):
    """
    Return whether a cell names a nutrient, on whatever basis.

    Parameters
    ----------
    text : str
        A cell, without its unit.

    Returns
    -------
    bool
        True for "Zn" and "chelated iron".

    Examples
    --------
    >>> is_nutrient("Phosphorus"), is_nutrient("Sample 1")
    (True, False)
    """
    if not text or role_of(text):
        return False
    pieces = tokens(plain_line(text))
    strange = any(piece.sort != "word" for piece in pieces)
    return len(segment(pieces).items) == 1 and not strange


def heading_role(text):
    """
    Return what a column holds, and its unit.

    Parameters
    ----------
    text : str
        A heading.

    Returns
    -------
    role : str
        As of `role_of`; "" if the heading is not known.
    of_unit : str
        The unit as printed; "" if there is none.

    Examples
    --------
    >>> heading_role("Sample 1 (mg/kg)"), heading_role("uncertainty (± %)")
    (('found', 'mg/kg'), ('uncertainty', '%'))
    """
    plain = re.sub(r"[(\[]\s*(?:±|\+/-)\s*", "(", text)
    if re.search(RELATIVE, plain, re.IGNORECASE):
        plain = re.sub(rf"[,(\[\s]*(?:{RELATIVE})[)\]\s]*$", "", plain, flags=re.I)
        return role_of(plain), "% rel"
    if role_of(plain):
        return role_of(plain), ""
    name, of_unit = unit_apart(plain)
    return role_of(name), of_unit
