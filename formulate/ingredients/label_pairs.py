"""Which number of a label line belongs to which name."""

from dataclasses import dataclass, replace
from itertools import pairwise

from formulate.errors import InputError
from formulate.ingredients.label_items import IONS_OF_NITROGEN, Item, segment

__all__ = ["POUNDS", "SplitLine", "pairs", "split_line"]

POUNDS = ("lb", "lbs", "pound", "pounds")
QUIET = {  # what follows these words is no share
    "ph": "a pH",
    "density": "a density",
}


@dataclass(frozen=True)
class SplitLine:
    """
    A line, its numbers apart from the words around them.

    Attributes
    ----------
    segments : tuple of Segment
        What stands before, between and behind the numbers.
    numbers : tuple of Printed
        Numbers that may be shares.
    measures : tuple of Printed
        Numbers that are none: masses, volumes, temperatures, pH.
    densities : tuple of Printed
        Numbers that a word or a unit tells to be the density.
    units : tuple of str
        Units without a number, as in a heading.
    roles : frozenset of str
        What its words do.
    kinds : frozenset of str
        What its words say: "net" of contents, "liquid" of a product.
    strange : tuple of str
        Unknown words right behind a number without a unit; they may be its unit.
    """

    segments: tuple
    numbers: tuple
    measures: tuple
    densities: tuple
    units: tuple
    roles: frozenset
    kinds: frozenset
    strange: tuple = ()

    @property
    def items(self):
        """Return all that it names."""
        return tuple(item for found in self.segments for item in found.items)

    @property
    def unknown(self):
        """Return the words that no table knows."""
        return tuple(text for found in self.segments for text in found.unknown)


def split_line(pieces):
    """
    Return a line with its numbers apart from the words around them.

    Parameters
    ----------
    pieces : sequence of Token
        The line.

    Returns
    -------
    SplitLine
        Its parts.

    Examples
    --------
    >>> from formulate.ingredients.label_tokens import tokens
    >>> line = split_line(tokens("Potash 20 %, density 1.2"))
    >>> [n.text for n in line.numbers], [n.text for n in line.densities]
    (['20'], ['1.2'])
    """
    numbers, measures, densities, words, quiet = [], [], [], [[]], ""
    for token in pieces:
        quiet = _quiet(token, quiet)
        number = token.number
        if number is None:
            words[-1].append(token)
        elif _is_temperature(token, pieces):
            measures.append(number)
        elif number.sort == "density" or (
            quiet == "density" and _may_be_density(number)
        ):
            densities.append(number)
        elif quiet or number.sort == "measure":
            measures.append(number)
        else:
            numbers.append(number)
            words.append([])
    segments = [segment(found) for found in words]
    numbers, segments = _doubled(numbers, segments)
    return SplitLine(
        tuple(segments),
        tuple(numbers),
        tuple(measures),
        tuple(densities),
        tuple(token.text for token in pieces if token.sort == "unit"),
        frozenset(token.word.role for token in pieces if token.word),
        frozenset(token.word.kind for token in pieces if token.word),
        _strange(pieces),
    )


def _strange(pieces):
    """Return unknown words that stand where the unit of a number would stand."""
    return tuple(
        behind.text
        for token, behind in pairwise(pieces)
        if token.number
        and token.number.sort == "bare"
        and behind.sort == "unknown"
        and not behind.gap.strip()
        and not _is_temperature(token, pieces)
    )


def _quiet(token, quiet):
    """Return the word after which numbers are no shares, if one still holds."""
    if token.word and token.word.role in QUIET:
        return token.word.role
    if token.word and token.word.kind == "ec":
        return "ph"
    names = token.word and token.word.role in ("nutrient", "symbol", "form", "ion")
    return "" if names or token.sort == "cut" else quiet


def _may_be_density(number):
    """Return whether a number behind a word for density may be it."""
    return number.sort == "bare" or number.unit in POUNDS


def _is_temperature(token, pieces):
    """Return whether "F" or "C" stands behind a bare number."""
    place = pieces.index(token) + 1
    behind = pieces[place] if place < len(pieces) else None
    is_degree = behind is not None and behind.sort == "unknown"
    return is_degree and behind.text in ("F", "C") and token.number.sort == "bare"


def _doubled(numbers, segments):
    """Return numbers and segments, a share printed twice in a row taken as one."""
    kept, around = [], [segments[0]]
    for number, behind in zip(numbers, segments[1:], strict=True):
        if kept and around[-1].is_empty and _is_double(kept[-1], number):
            kept[-1] = replace(kept[-1], doubles=(*kept[-1].doubles, number))
            around[-1] = behind
        else:
            kept.append(number)
            around.append(behind)
    return kept, around


def _is_double(first, second):
    """Return whether two numbers in a row tell one share."""
    if "share" not in (first.sort, second.sort):
        return False
    if (first.text, first.upper) == (second.text, second.upper):
        return first.unit == second.unit
    return bool(first.unit and second.unit) and first.unit != second.unit


def pairs(segments, numbers):
    """
    Return each number of a line with what names it.

    Between k numbers there are k + 1 places for names; where exactly k of them are named,
    there is one way only.

    Parameters
    ----------
    segments : sequence of Segment
        What stands before, between and behind the numbers.
    numbers : sequence of Printed
        The numbers.

    Returns
    -------
    tuple
        (Item or Segment, Printed) for each number.

    Raises
    ------
    InputError
        If numbers and names do not pair in one way.

    Examples
    --------
    >>> from formulate.ingredients.label_tokens import tokens
    >>> line = split_line(tokens("Potash 20 %"))
    >>> pairs(line.segments, line.numbers)[0][0].keys[0]
    'K2O'
    """
    counts = [len(found.items) for found in segments]
    if max(counts) > 1:
        return _in_order(segments, numbers, counts)
    if len(numbers) == 1 and counts == [1, 1]:
        return _around(segments, numbers[0])
    tests = (
        lambda found: bool(found.items),
        lambda found: bool(found.items or found.extra),
        lambda found: not found.is_empty,
    )
    for test in tests:
        named = [test(found) for found in segments]
        if sum(named) == len(numbers):
            return _paired(segments, numbers, named.index(False))
    raise _unpaired(numbers, counts)


def _unpaired(numbers, counts):
    names = sum(counts)
    return InputError(
        f"{len(numbers)} number{'s' * (len(numbers) > 1)} and {names} "
        f"name{'s' * (names != 1)}: which belongs to which is not clear; "
        "write one name and one number a line"
    )


def _in_order(segments, numbers, counts):
    """Return pairs where all names stand before, behind or between the numbers."""
    if counts == [0, 2, 0]:  # two columns made one: "15 % nitrate copper 0.01 %"
        return tuple(zip(segments[1].items, numbers, strict=True))
    end = counts.index(max(counts))
    if sum(counts) != len(numbers) or counts[end] != len(numbers):
        raise _unpaired(numbers, counts)
    if end not in (0, len(segments) - 1):
        raise _unpaired(numbers, counts)
    return tuple(zip(segments[end].items, numbers, strict=True))


def _around(segments, number):
    """Return the pair of a number with the same name before and behind it."""
    before, behind = (found.items[0] for found in segments)
    if before.is_ion and behind.keys[0] == "N" and behind.kind in ("", "total"):
        key = IONS_OF_NITROGEN.get(before.keys[0], before.keys[0])
        nitrogen = replace(before, keys=(key,) * len(before.keys), is_ion=False)
        return ((nitrogen, number),)
    if before.family != behind.family or not set(before.keys) & set(behind.keys):
        raise _unpaired([number], [1, 1])
    return ((before.also(behind), number),)


def _paired(segments, numbers, empty):
    """Return pairs where one place, `empty`, names nothing."""
    names = [found for place, found in enumerate(segments) if place != empty]
    made = []
    for found, number in zip(names, numbers, strict=True):
        item = found.items[0] if found.items else None
        item = item or (None if found.other else found.extra)
        made.append((item or found, number))
    said, before = segments[empty].extra, max(empty - 1, 0)
    if said and isinstance(made[before][0], Item):
        made[before] = (made[before][0].also(said), made[before][1])
    if segments[0].other and empty == 0 and segments[1].items:
        raise _unpaired(numbers, [1] * (len(numbers) + 1))
    return tuple(made)
