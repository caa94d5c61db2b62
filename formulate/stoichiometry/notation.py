"""Reads the notation of chemical formulas: parts, brackets, counts, hydrate dots, charge.

A formula is read with a list of open brackets, never by recursion, so that hostile text
ends after as many steps as it has characters.
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import pairwise

import periodictable

from formulate.errors import FormulaError, shortened
from formulate.tables import read_table

__all__ = [
    "Item",
    "Part",
    "ligand_names",
    "notation_fault",
    "printed_ion",
    "read_notation",
]

LONGEST_TEXT = 200
LARGEST_COUNT = 9999
DEEPEST_BRACKETS = 12

SEPARATORS = "·•*⋅∙‧・"
OPENING, CLOSING = "([{", ")]}"
PLAIN = str.maketrans("₀₁₂₃₄₅₆₇₈₉⁰¹²³⁴⁵⁶⁷⁸⁹₊₋⁺⁻−–", "01234567890123456789+-+---")
LOWERED = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
RAISED = str.maketrans("0123456789+-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻")
SUPERSCRIPTS = re.compile(r"[⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻]+$")
CHARGE = re.compile(r"(?:\^|\s+)(\d*)([+-])$|([+-])(\d+)$|([+-]+)$")
COEFFICIENT = re.compile(r"\d+(?:[.,]\d+)?")
SYMBOLS = frozenset(
    element.symbol for element in periodictable.elements if element.number > 0
)


@dataclass(frozen=True)
class Item:
    """
    An element, a named ligand or a bracket, with its count.

    Attributes
    ----------
    symbol : str or None
        Element or ligand; None for a bracket.
    inside : tuple of Item
        What stands in the bracket.
    count : int
        How often. [-]
    """

    symbol: str | None
    inside: tuple
    count: int


WATER = (Item("H", (), 2), Item("O", (), 1))


@dataclass(frozen=True)
class Part:
    """
    One stretch of a formula between hydrate dots.

    Attributes
    ----------
    coefficient : Fraction
        The number before it. [-]
    items : tuple of Item
        What it is made of, in the order written.
    """

    coefficient: Fraction
    items: tuple

    @property
    def is_water(self):
        """Return whether the part is water of crystallisation."""
        return self.items == WATER or (
            len(self.items) == 1 and self.items[0].inside == WATER
        )

    @property
    def waters(self):
        """Return the moles of water in the part, if it is water. [-]"""
        times = 1 if self.items == WATER else self.items[0].count
        return self.coefficient * times if self.is_water else Fraction(0)


@cache
def ligand_names():
    """
    Return the names of the ligands that a formula may hold, longest first.

    Returns
    -------
    tuple of str
        Names as they are written in a formula.

    Examples
    --------
    >>> "EDTA" in ligand_names()
    True
    """
    return tuple(
        sorted((row["ligand"] for row in read_table("ligands")), key=len, reverse=True)
    )


def notation_fault(text, position, what):
    """
    Return the error for one fault of a formula.

    Parameters
    ----------
    text : str
        The formula as given.
    position : int or None
        Place of the fault, counted from 0. [-]
    what : str
        What is wrong and what to do.

    Returns
    -------
    FormulaError
        The error, to be raised.

    Examples
    --------
    >>> print(notation_fault("K2", 1, "one potassium is enough"))
    'K2': one potassium is enough
    """
    return FormulaError(f"{shortened(text)}: {what}", text=text, position=position)


def read_notation(text):
    """
    Read the notation of a formula: its parts and its charge.

    Parameters
    ----------
    text : str
        The formula.

    Returns
    -------
    parts : tuple of Part
        What stands between the hydrate dots.
    charge : int
        Charge number. [-]

    Raises
    ------
    FormulaError
        At the first fault, with its place.

    Examples
    --------
    >>> parts, charge = read_notation("SO4-2")
    >>> [(item.symbol, item.count) for item in parts[0].items], charge
    ([('S', 1), ('O', 4)], -2)
    """
    if len(text) > LONGEST_TEXT:
        what = f"{len(text)} characters, at most {LONGEST_TEXT} are read"
        raise notation_fault(text, LONGEST_TEXT, what)
    if not text.strip():
        raise notation_fault(text, 0, "nothing there; write a formula such as KNO3")
    marked = SUPERSCRIPTS.sub(lambda m: "^" + m.group().translate(PLAIN), text.rstrip())
    body, charge = _split_charge(text, marked.translate(PLAIN))
    stretches = _split_parts(text, body)
    return tuple(_read_part(text, *stretch) for stretch in stretches), charge


def _split_charge(text, plain):
    """Return the formula without its charge, and the charge number."""
    superscript = re.search(r"\^(\d*)([+-]+)(\d*)$", plain)
    match = superscript or CHARGE.search(plain)
    if not match:
        return plain, 0
    body = plain[: match.start()].rstrip()
    groups = [group for group in match.groups() if group]
    signs = "".join(group for group in groups if not group.isdigit())
    digits = "".join(group for group in groups if group.isdigit())
    if len(set(signs)) > 1:
        raise notation_fault(
            text, match.start(), f"{signs!r} is no charge; write SO4-2 or Ca+2"
        )
    if not digits and len(signs) == 1 and not superscript:
        body, digits = _digits_of_lone_sign(text, body)
    number = int(digits) if digits else len(signs)
    if number > 20:
        raise notation_fault(
            text, match.start(), f"a charge of {number} is not possible"
        )
    return body, number if signs[0] == "+" else -number


def _digits_of_lone_sign(text, body):
    """Tell the charge in Ca2+ (two) from that in NO3- (one); refuse SO42-."""
    single = re.fullmatch(r"([A-Z][a-z]?|.*\])(\d)", body)  # Ca2+, [Fe(H2O)6]3+
    if single:
        return single.group(1), single.group(2)
    tail = re.search(r"\d{2,}$", body)
    if tail and re.fullmatch(r".*[A-Z][a-z]?", body[: tail.start()]):
        stem, count, number = body[: tail.start()], tail.group()[:-1], tail.group()[-1]
        sign = text.rstrip()[-1]
        raise notation_fault(
            text,
            tail.start(),
            f"{tail.group()} may be a count or a count and a charge; "
            f"write {stem}{count}{sign}{number}, or {body}{sign}1 for {tail.group()} atoms",
        )
    return body, ""


def _split_parts(text, body):
    """Return (start, stretch) for each stretch of a formula between hydrate dots."""
    for separator in SEPARATORS:
        body = body.replace(separator, "·")
    body = re.sub(r"(?<=\s)\.|\.(?=\s)", "·", body)
    if not body:
        raise notation_fault(text, 0, "a charge, but no element")
    stretches, start = [], 0
    for number, blanked in enumerate(body.split("·")):
        stretch = blanked.strip()
        place = start + len(blanked) - len(blanked.lstrip())
        if not stretch:
            what = f"nothing beside the dot at character {place + 1}"
            raise notation_fault(text, place, what)
        stretches.extend(_split_at_full_stops(text, place, stretch, number > 0))
        start += len(blanked) + 1
    return stretches


def _split_at_full_stops(text, start, stretch, after_dot):
    """Split where a full stop stands for the hydrate dot; refuse what reads two ways."""
    if "." not in stretch:
        return [(start, stretch)]
    leading = COEFFICIENT.match(stretch)
    if not after_dot and leading and "." in leading.group():
        what = f"{leading.group()}: a formula starts with a whole number"
        raise notation_fault(text, start, what)
    if leading and "." in leading.group():
        rest = _split_at_full_stops(text, start, stretch[leading.end() :], True)
        first_start, first = rest[0]
        return [(first_start, leading.group() + first), *rest[1:]]
    pieces = stretch.split(".")
    for before, after in pairwise(pieces):
        digits = re.match(r"\d+", after)
        after_digits = after[digits.end() :] if digits else after
        if before == "" or after == "":
            raise notation_fault(text, start, "a dot with nothing beside it")
        if digits and not after_digits:
            raise _two_dots(text, stretch)
        if before[-1:].isdigit() and digits and after_digits.upper() != "H2O":
            raise _two_readings(text, stretch, before, after)
    out, place = [], start
    for piece in pieces:
        out.append((place, piece))
        place += len(piece) + 1
    return out


def _two_dots(text, stretch):
    """Return the error for CaSO4.0.5H2O."""
    place = stretch.index(".")
    better = stretch[:place] + "·" + stretch[place + 1 :]
    if re.fullmatch(r".*·\d+\.\d+[A-Z(\[].*", better):
        return notation_fault(
            text, place, f"two dots, one of them a decimal point; write {better}"
        )
    return notation_fault(text, place, "a number with nothing after it")


def _two_readings(text, stretch, before, after):
    """Return the error for a dot that may be a decimal point or a hydrate dot."""
    return notation_fault(
        text,
        text.find("."),
        f"the dot in {shortened(stretch)} may be a decimal point or join two parts; "
        f"write {before}·{after} for two parts, or whole numbers for counts",
    )


def _read_part(text, start, stretch):
    """Read one stretch: a coefficient, then elements, ligands and brackets."""
    leading = COEFFICIENT.match(stretch)
    coefficient, place = Fraction(1), 0
    if leading:
        coefficient = Fraction(leading.group().replace(",", "."))
        place = len(stretch) - len(stretch[leading.end() :].lstrip())
        if not 0 < coefficient <= LARGEST_COUNT:
            what = f"{leading.group()} is no possible number of parts"
            raise notation_fault(text, start, what)
        if coefficient.denominator > 1 and not text[:start].strip():
            what = f"{leading.group()}: a formula starts with a whole number"
            raise notation_fault(text, start, what)
    stack = [[]]
    opened = []
    while place < len(stretch):
        char, where = stretch[place], start + place + 1
        if char in OPENING:
            if len(stack) > DEEPEST_BRACKETS:
                raise notation_fault(
                    text, where - 1, f"more than {DEEPEST_BRACKETS} open brackets"
                )
            stack.append([])
            opened.append((char, where))
            place += 1
        elif char in CLOSING:
            place = _close_bracket(text, stretch, place, where, stack, opened)
        else:
            symbol = _symbol_at(text, stretch, place, where)
            count, place = _count_at(text, stretch, place + len(symbol), start)
            stack[-1].append(Item(symbol, (), count))
    if opened:
        char, where = opened[-1]
        raise notation_fault(
            text, where - 1, f"the bracket {char!r} at character {where} is not closed"
        )
    if not stack[0]:
        raise notation_fault(text, start, f"no element in {shortened(stretch)}")
    return Part(coefficient, tuple(stack[0]))


def _close_bracket(text, stretch, place, where, stack, opened):
    """Fold the innermost open bracket into one item; return the place after it."""
    char = stretch[place]
    if not opened:
        raise notation_fault(
            text, where - 1, f"{char!r} at character {where} closes no open bracket"
        )
    opening, opening_where = opened.pop()
    if OPENING.index(opening) != CLOSING.index(char):
        raise notation_fault(
            text,
            where - 1,
            f"{char!r} at character {where} does not match {opening!r} "
            f"at character {opening_where}",
        )
    inside = tuple(stack.pop())
    if not inside:
        raise notation_fault(
            text, where - 1, f"nothing inside the bracket at character {where}"
        )
    count, after = _count_at(text, stretch, place + 1, where - 1 - place)
    stack[-1].append(Item(None, inside, count))
    return after


def _symbol_at(text, stretch, place, where):
    """Return the ligand or element symbol that starts here."""
    for name in ligand_names():
        if stretch.startswith(name, place):
            return name
    match = re.compile(r"[A-Z][a-z]?").match(stretch, place)
    if not match:
        raise notation_fault(
            text,
            where - 1,
            f"{stretch[place]!r} at character {where} starts no element",
        )
    symbol = match.group()
    if symbol in SYMBOLS:
        return symbol
    if symbol[0] in SYMBOLS and len(symbol) == 2:
        raise notation_fault(
            text, where, f"{symbol[1]!r} at character {where + 1} starts no element"
        )
    raise notation_fault(
        text, where - 1, f"{symbol!r} at character {where} is no element"
    )


def _count_at(text, stretch, place, start):
    """Return the whole number that stands here (1 if none) and the place after it."""
    match = re.compile(r"\d+").match(stretch, place)
    if not match:
        return 1, place
    if (
        len(match.group()) > len(str(LARGEST_COUNT))
        or int(match.group()) > LARGEST_COUNT
    ):
        raise notation_fault(
            text,
            start + place,
            f"{shortened(match.group(), 20)} at character {start + place + 1} is too large "
            f"a count; at most {LARGEST_COUNT}",
        )
    if int(match.group()) == 0:
        raise notation_fault(
            text, start + place, f"a count of 0 at character {start + place + 1}"
        )
    if stretch[match.end() : match.end() + 1] == ",":
        raise notation_fault(text, start + match.end(), "a count is a whole number")
    return int(match.group()), match.end()


def printed_ion(ion):
    """
    Return an ion as a chemist prints it.

    Parameters
    ----------
    ion : str
        Name of an ion, with its sign and charge number at the end.

    Returns
    -------
    str
        The same with raised and lowered digits.

    Examples
    --------
    >>> printed_ion("H2PO4-1"), printed_ion("Ca+2"), printed_ion("HCO3-")
    ('H₂PO₄⁻', 'Ca²⁺', 'HCO₃⁻')
    """
    found = re.fullmatch(r"(.+?)([+-])(\d?)", ion)
    if not found:
        return ion.translate(LOWERED)
    body, sign, count = found.groups()
    charge = f"{count if count != '1' else ''}{sign}"
    return body.translate(LOWERED) + charge.translate(RAISED)
