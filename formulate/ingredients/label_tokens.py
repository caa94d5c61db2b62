"""The pieces of a printed line: known words, unknown words, numbers with their units."""

import re
from dataclasses import dataclass, replace

from formulate.errors import InputError, shortened
from formulate.ingredients.label_words import (
    Word,
    known_word,
    longest_wording,
    unit_named,
    unit_pattern,
    without_accents,
)
from formulate.stoichiometry.quantities import read_number

__all__ = ["Printed", "Token", "decimal_mark", "plain_line", "printed_value", "tokens"]

NUMBER = (
    r"(?:\d{1,3}(?:[ ']\d{3})+(?=\s?(?:ppm|mg\b))"
    r"|(?<![^\s(<>=~-])[.,]\d+|\d+(?:[.,]+\d+)*)"
)
PIECE = re.compile(rf"(?P<number>{NUMBER})|(?P<word>[^\W\d_][^\W_]*)|(?P<sign>\S)")
CUTS = "/|;•\t\\"
INSIDE_WORDING = " -.',&"
MINUS = re.compile(r"(?<=[^\s-])[ :]+-$")  # "N -5 %", but no leader or bullet
WEAK_SIGNS = ("N", "P", "K", "S", "B", "Co")  # also letters of other things
LEADER = re.compile(r"(?<!\d)\.{2,}|\.{3,}|(?:\. ){2,}")
RAISED = dict.fromkeys(map(ord, "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻*†‡§"), " ")
RAISED |= dict.fromkeys(map(ord, "\u200b\u200c\u200d\ufeff\u00ad"), "")
GROUP = r"\((?:NO3|NH4|H2PO4|HPO4|PO4|SO4|OH|CO3)\)\d?"
WATER = r"(?: {0,3}[.*x]? ?\d{1,2} ?H2O\b)"
SALT = re.compile(
    rf"\b[A-Z][A-Za-z0-9]*{GROUP}{WATER}?|{GROUP}[A-Z][A-Za-z0-9]*"
    rf"|\b[A-Z][A-Za-z0-9]*[A-Z][a-z]?\d{WATER}"
)
TORN = (  # what a PDF or a printer makes of one symbol
    (re.compile(r"\b(P) ?2 ?[O0] ?5\b"), "P2O5"),
    (re.compile(r"\b(K|Na) ?2 ?[O0]\b"), r"\g<1>2O"),
    (re.compile(r"\(\s*(SO|NO|NH) (\d)\s*(-\s*N)?\s*\)"), r"(\1\2\3)"),
    (re.compile(r"\(\s*(Ca|Mg) O\s*\)"), r"(\1O)"),
    (re.compile(r"CO\(NH2\)2|\(NH2\)2CO"), "urea"),
    (SALT, " a written formula "),
    (re.compile(r"\b(Fe|Mn|Zn|Cu|Ca|Mg)(EDTA|DTPA|EDDHA|HBED)\b"), r"\1 \2"),
    (re.compile(r"\bN ?[-:,. ] ?P ?[-:,. ] ?K\b"), "NPK"),
)


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
    negative : bool
        Whether a minus stands right before it, and apart from what is before that.
    """

    text: str
    sort: str = "bare"
    unit: str = ""
    how: str = ""
    upper: str = ""
    below: bool = False
    doubles: tuple = ()
    negative: bool = False


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


def plain_line(line):
    """
    Return a line without what printers add: leaders, marks of footnotes, torn symbols.

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
    line = line.replace("m²", "m2").replace("m³", "m3").translate(RAISED)
    line = LEADER.sub(" ", without_accents(line))
    for pattern, meant in TORN:
        line = pattern.sub(meant, line)
    return line


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
    numbers = re.findall(r"(?<![\d.,])(\d+)([.,])(\d+)(?![\d.,]*\d)", text)
    found = {
        mark
        for whole, mark, digits in numbers
        if len(digits) != 3 or whole == "0" or len(whole) > 3
    }
    return found.pop() if len(found) == 1 else ""


def printed_value(text, mark="", foreign=False):
    """
    Return a printed number and how many decimals it shows.

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
    grouped = re.fullmatch(r"(\d{1,3}(?:([.,])\d{3})+)(?!\2)[.,](\d+)", digits)
    if grouped:
        digits = re.sub(r"[.,]", "", grouped[1]) + "." + grouped[3]
    elif re.fullmatch(r"[1-9]\d{0,2}(?:([.,])\d{3})(?:\1\d{3})*", digits):
        return _thousands(digits, mark, foreign)
    return read_number(digits), len(re.split("[.,]", digits + ".")[1])


def _thousands(digits, mark, foreign):
    """Return a number whose marks may stand for thousands, by the mark of the label."""
    found = "." if "." in digits else ","
    if digits.count(found) > 1 or mark not in ("", found):
        return float(digits.replace(found, "")), 0
    if not mark and (found == "," or foreign):
        return read_number(digits.replace(".", ",")), 0  # it asks which is meant
    return float(digits.replace(found, ".")), 3


def tokens(line):
    """
    Return the pieces of a line.

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
    """Yield (sort, text, start, end, number) of each piece of a line."""
    after = unit_pattern("unit", "measure", "density unit")
    alone = unit_pattern("unit")
    place, below, percent = 0, False, False
    while match := PIECE.search(line, place):
        sort, start, place = match.lastgroup, match.start(), match.end()
        if match[0] in "<≤>≥=~":
            below = match[0] in "<≤" or (below and match[0] == "=")
            continue
        if sort == "number":
            found = after.match(line, _next_place(line, place))
            place = found.end() if found else place
            number = _with_unit(match[0], found and found[0], below, percent)
            if MINUS.search(line[:start]):
                number = replace(number, negative=True)
            yield "number", match[0], start, place, number
        elif found := alone.match(line, start):
            place = found.end()
            percent = found[0] == "%" and line[_next_place(line, place) :][:1].isdigit()
            if not percent:
                yield "unit", found[0], start, place, None
            continue
        elif sort == "word" or match[0] in CUTS:
            yield "word" if sort == "word" else "cut", match[0], start, place, None
        below, percent = False, False


def _next_place(line, place):
    """Return where the next character that is no blank stands."""
    return len(line) - len(line[place:].lstrip())


def _with_unit(text, printed_unit, below, percent):
    """Return a number with the unit that stands behind it, or the "%" before it."""
    if printed_unit is None or printed_unit == "Mg":  # 5 Mg is magnesium
        sort, name = ("share", "%") if percent else ("bare", "")
        return Printed(text, sort, name, below=below)
    role, name, how = unit_named(printed_unit)
    sort = {"unit": "share", "density unit": "density"}.get(role, "measure")
    return Printed(text, sort, name or printed_unit.casefold(), how, below=below)


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
        closed = line[_next_place(line, end) :][:1] in tuple(")]")
        found.append(Token(sort, text, word, number, closed, line[last:start]))
        place, last = place + length, end
    return found


def _is_stray(line, start, end, found):
    """Return whether a letter that may be a symbol belongs to a word before it."""
    if line[start:end] not in WEAK_SIGNS or line[max(start - 1, 0)] in "([":
        return False
    return bool(found) and found[-1].sort == "unknown"


def _longest_word(atoms, place, line):
    """Return how many atoms the longest known wording takes, and what it is."""
    texts, start = [], atoms[place][2]
    for sort, text, begin, _, _ in atoms[place : place + longest_wording()]:
        gap = line[atoms[place + len(texts) - 1][3] : begin] if texts else ""
        if sort != "word" or gap.strip(INSIDE_WORDING):
            break
        texts.append(text)
    for length in range(len(texts), 0, -1):
        end = atoms[place + length - 1][3]
        around = line[max(start - 1, 0) : start] + line[end : end + 1]
        first = not line[:start].strip()
        word = known_word(" ".join(texts[:length]), around in ("()", "[]"), first)
        if word:
            return length, word
    return 1, None


def _ranges(pieces):
    """Return tokens with two numbers that make a range as one number."""
    found, place = [], 0
    while place < len(pieces):
        first = pieces[place]
        length = _range_length(pieces[place : place + 3])
        if length:
            last = pieces[place + length - 1].number
            low = first.number.text
            ends = {"text": low, "upper": last.text, "negative": first.number.negative}
            both = replace(last, below=first.number.below, **ends)
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
    return length if pieces[0].number.unit in ("", last.number.unit) else 0
