"""The grade of a fertiliser: three numbers in a row, and what is added to them."""

import re
from dataclasses import dataclass

__all__ = ["Grade", "find_grade"]

WHOLE = r"(?:0|[1-9]\d?|100)(?:[.,]\d{1,2})?"
SYMBOL = r"(?:CaO|MgO|SO3|Na2O|Ca|Mg|Fe|Mn|Zn|Cu|Mo|Si|Na|Cl|S|B)\b"
GRADE = re.compile(
    rf"(?<![\w.,/:-])(?:(?P<letters>NPK|NP|NK|PK)\b[^\d%\n]{{0,25}}?(?<![A-Za-z]))?"
    rf"(?P<a>{WHOLE}) ?(?P<mark>[-+:/]) ?(?P<b>{WHOLE})"
    rf"(?: ?(?P=mark) ?(?P<c>{WHOLE}))?(?![.,]?\d| ?%|[-/:.]\d{{3}})"
)
EXTRA = re.compile(
    rf" ?[-+(] ?\(?\+? ?(?P<value>{WHOLE}) ?%? ?(?P<symbol>{SYMBOL})? ?\)?"
)
PERCENT = 100
KEYS = {
    "N": ("N", "N", "N"),
    "P": ("P2O5", "P2O5", "P"),
    "K": ("K2O", "K2O", "K"),
}


@dataclass(frozen=True)
class Grade:
    """
    A grade in a line.

    Attributes
    ----------
    shares : tuple of tuple
        (letter or symbol, keys on each basis, digits) of each named number.
    unnamed : tuple of str
        Digits that no letter stands for.
    before : str
        What stands before it.
    behind : str
        What stands behind it.
    """

    shares: tuple
    unnamed: tuple
    before: str
    behind: str


def find_grade(plain):
    """
    Return the grade that stands in a line, if there is one.

    Parameters
    ----------
    plain : str
        A line as `plain_line` returns it.

    Returns
    -------
    Grade or None
        The grade; None for dates, times, ranges.

    Examples
    --------
    >>> [(name, digits) for name, _, digits in find_grade("NPK 15+5+30+3 MgO").shares]
    [('N', '15'), ('P', '5'), ('K', '30'), ('MgO', '3')]
    >>> find_grade("12-05-2024") is None
    True
    """
    for match in GRADE.finditer(plain):
        letters = match["letters"] or ("NPK" if match["c"] else "")
        values = [value for value in (match["a"], match["b"], match["c"]) if value]
        if len(letters) == len(values) and _may_be(match, values):
            shares = [
                (letter, KEYS[letter], value)
                for letter, value in zip(letters, values, strict=True)
            ]
            more, unnamed, end = _added(plain, match.end())
            shares += more
            before = plain[: match.start()]
            return Grade(tuple(shares), tuple(unnamed), before, plain[end:])
    return None


def _may_be(match, values):
    """Return whether numbers in a row are a grade and no date or time."""
    if match["mark"] in ":/" and not match["letters"]:
        return False
    return sum(float(value.replace(",", ".")) for value in values) <= PERCENT


def _added(plain, end):
    """Return what is added to a grade, "+3 MgO", and where it ends."""
    shares, unnamed = [], []
    while match := EXTRA.match(plain, end):
        symbol = match["symbol"]
        if symbol:
            shares.append((symbol, (symbol,) * len(KEYS), match["value"]))
        else:
            unnamed.append(match["value"])
        end = match.end()
    return shares, unnamed, end
