"""Numbers that a label tells twice: in its grade, on two bases, as a total and its forms."""

from formulate.ingredients.label_amounts import WHOLE, form_of
from formulate.ingredients.label_words import family
from formulate.stoichiometry.nutrients import nutrient

__all__ = ["DOUBT", "LIMIT", "twice_told"]

LIMIT = 2.8  # standard uncertainties within which `explain` takes a number for right
DOUBT = 0.004  # of a share: printed oxides follow rounded legal factors
EXACT = 0.05  # percent: whole percents of nitrogen are meant as they stand
MILLI = 1000.0


def twice_told(reading):
    """
    Return the numbers that a label tells twice, and not alike.

    Parameters
    ----------
    reading : LabelReading
        What a label was read as.

    Returns
    -------
    list of (str, dict)
        What they are held against, and key to claimed and computed number with the relative
        uncertainty of the two.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> from formulate.ingredients.label_text import read_entries
    >>> bag = "Phosphorus pentoxide (P2O5) 20 %\\nPhosphorus (P) 20 %"
    >>> told = twice_told(read_entries(bag, Faults(), basis="eu")[0])
    >>> told[0][0], round(told[0][1]["P"][1], 2)
    ('P2O5 20 %', 8.73)
    """
    by_element = {}
    for entry in reading.entries:
        by_element.setdefault(family(entry.key), []).append(entry)
    told = [_grade(by_element)]
    for element, entries in by_element.items():
        told += _bases(entries)
        if element == "N":
            told += _forms(entries)
    return [(what, pairs) for what, pairs in told if pairs and _differ(pairs)]


def _differ(pairs):
    """Return whether some number is not as it is told elsewhere."""
    return any(abs(a / b - 1) > LIMIT * u for a, b, u in pairs.values())


def _pair(entry, computed, *halves):
    """Return claimed and computed number with their relative uncertainty."""
    doubt = (entry.half_digit + sum(halves)) / entry.percent
    return entry.percent, computed, min((DOUBT + doubt) / LIMIT, 0.5)


def _as(entry, key):
    """Return the share of an entry, on the basis of another key of its element. [%]"""
    known, forms = nutrient(key), dict([form_of(entry.key, entry.percent)])
    return known.amount(forms) * known.molar_mass / MILLI


def _grade(by_element):
    """Return the numbers of the grade against the guarantees."""
    pairs = {}
    for entries in by_element.values():
        whole = next((e for e in entries if e.kind in WHOLE and e.percent), None)
        grade = next((e for e in entries if e.kind == "grade" and e.percent), None)
        if whole and grade:
            computed = (
                whole.percent if whole.key == grade.key else _as(whole, grade.key)
            )
            if computed > 0:
                pairs[grade.key] = _pair(grade, computed, grade.half_digit)
    return "its guarantees", pairs


def _bases(entries):
    """Yield a total on one basis against the total on another."""
    wholes = [e for e in entries if e.kind in WHOLE and e.percent]
    for other in wholes[1:]:
        first = wholes[0]
        if other.key != first.key and _as(first, other.key) > 0:
            computed = _as(first, other.key)
            half = first.half_digit * computed / first.percent
            yield (
                f"{first.key} {first.percent:g} %",
                {other.key: _pair(other, computed, half)},
            )


def _forms(entries):
    """Yield each form of nitrogen, and the total, against what the others leave for it."""
    total = next((e for e in entries if e.key == "N" and e.kind in WHOLE), None)
    forms = [e for e in entries if e.kind == "form" and e.percent]
    if not total or not forms or not total.percent:
        return
    shares = {e.key: e for e in forms}
    if not all(key.endswith("-N") for key in shares):
        return
    finest = {key: min(e.half_digit, EXACT) for key, e in shares.items()}
    of_total, halves = min(total.half_digit, EXACT), sum(finest.values())
    summed = sum(e.percent for e in shares.values())
    for each in shares.values():
        left = total.percent - (summed - each.percent)
        if left > 0:
            others = halves + of_total - each.half_digit
            yield (
                "the total of nitrogen",
                {each.key: _pair(each, left, others)},
            )
    if len(shares) > 1:
        yield (
            "the forms of nitrogen",
            {"N": _pair(total, summed, halves + of_total - total.half_digit)},
        )
