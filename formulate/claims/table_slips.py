"""Slips of those who print tables: which one turns the right number into the printed one?

Each slip is the value that it would have brought; a slip explains a number whose rounding
holds that value, at any purity that the rest of the row leaves open.
"""

import re
from dataclasses import dataclass
from itertools import pairwise

from formulate.ingredients.label_words import family
from formulate.ingredients.salts import catalogue
from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.nutrients import nutrient, nutrient_keys
from formulate.working import Shown

__all__ = [
    "MAIN",
    "TableSlip",
    "basis_slips",
    "best_slip",
    "decimal_slips",
    "digit_slips",
    "fitting_slips",
    "hydrate_slips",
    "is_same_salt",
    "material_slips",
    "other_hydrates",
    "other_key_slips",
    "waterless_factor",
]

PLAINNESS = (
    "basis",
    "hydrate",
    "column",
    "decimal",
    "exchanged",
    "row",
    "twice",
    "digit",
    "material",
    "mass",
    "water",
)
MAIN = ("N", "P2O5", "P", "K2O", "K", "Ca", "Mg", "S", "Cl", "Na")
MAIN += ("Fe", "Mn", "Zn", "Cu", "B", "Mo", "Si", "CaO", "MgO", "SO4", "SO3", "NO3")
LIKE = 1e-6
PERCENT = 100.0
WATERS = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12)
SURE_DIGITS = 3  # fewer digits agree with too much by chance


@dataclass(frozen=True)
class TableSlip(Shown):
    """
    A slip, and the number that it would have brought.

    Attributes
    ----------
    kind : str
        "basis", "hydrate", "column", "row", "decimal", "exchanged", "digit", "twice",
        "material", "mass" or "water".
    words : str
        The slip in words.
    value : float
        What would be printed, in the unit of the table. [-]
    tag : str
        What is the same where one slip was made with several numbers.
    """

    kind: str
    words: str
    value: float
    tag: str = ""

    def __str__(self):
        return self.words


def is_same_salt(made, other):
    """
    Return whether two ingredients differ in water only.

    Parameters
    ----------
    made : Ingredient
        One.
    other : Ingredient
        Another.

    Returns
    -------
    bool
        Whether their forms stand in one proportion.

    Examples
    --------
    >>> from formulate.ingredients.ingredient import from_formula
    >>> is_same_salt(from_formula("MgSO4"), from_formula("MgSO4·7H2O"))
    True
    """
    if not made.forms or set(made.forms) != set(other.forms):
        return False
    ratios = [other.forms[key] / made.forms[key] for key in made.forms]
    return max(ratios) - min(ratios) <= LIKE * max(ratios)


def waterless_factor(made):
    """
    Return how much more the waterless salt holds of everything.

    Parameters
    ----------
    made : Ingredient
        A salt.

    Returns
    -------
    float
        Factor of its shares, 100 % purity included. [-]

    Examples
    --------
    >>> from formulate.ingredients.ingredient import from_formula
    >>> round(waterless_factor(from_formula("MgSO4·7H2O")), 3)
    2.048
    """
    water = made.crystal_water * molar_mass("H2O") / 1000
    share = made.purity_percent / 100 if made.formula else 1.0
    return 1 / (share - water) if 0 < share - water <= 1 else 1.0


def other_hydrates(made):
    """
    Return the hydrates and strengths of a salt that the catalogue knows, and the waterless.

    Parameters
    ----------
    made : Ingredient
        A salt.

    Returns
    -------
    tuple of (str, float)
        Name, and its shares over those of the salt. [-]

    Examples
    --------
    >>> from formulate.ingredients.ingredient import from_formula
    >>> [name for name, _ in other_hydrates(from_formula("MgSO4·7H2O"))]
    ['magnesium sulfate monohydrate', 'magnesium sulfate anhydrous']
    """
    if not made.forms:
        return ()
    key, amount = next(iter(made.forms.items()))
    found = [
        (entry.name, entry.forms[key] / amount)
        for entry in catalogue().values()
        if is_same_salt(made, entry)
    ]
    if made.crystal_water:
        found.append(("the waterless salt", waterless_factor(made)))
    kept, seen = [], [1.0]
    for name, factor in found:
        if all(abs(factor / other - 1) > LIKE for other in seen):
            kept.append((name, factor))
            seen.append(factor)
    return tuple(kept)


def hydrate_slips(made, value, digits=SURE_DIGITS):
    """
    Return the numbers that other hydrates or strengths of a salt would bring.

    Parameters
    ----------
    made : Ingredient
        The salt.
    value : float
        The right number for it. [-]
    digits : int
        Digits of the printed number; with few, only what the catalogue sells counts. [-]

    Returns
    -------
    list of TableSlip
        One for each.

    Examples
    --------
    >>> from formulate.ingredients.ingredient import from_formula
    >>> made = from_formula("MgSO4·7H2O")
    >>> str(hydrate_slips(made, made.percent("Mg"))[1])
    'the number of magnesium sulfate anhydrous'
    """
    found = [
        TableSlip("hydrate", f"the number of {name}", value * factor, name)
        for name, factor in other_hydrates(made)
    ]
    is_pure = made.formula and made.purity_percent == PERCENT
    if digits < SURE_DIGITS or not is_pure:
        return found
    dry = waterless_factor(made)
    mass = molar_mass(made.formula) / dry
    for count in WATERS:
        words = f"the number with {count} H2O in the formula"
        wet = value * dry * mass / (mass + count * molar_mass("H2O"))
        known = (value, *(slip.value for slip in found))
        if all(abs(wet / other - 1) > LIKE for other in known):
            found.append(TableSlip("water", words, wet, f"{count} H2O"))
    return found


def basis_slips(made, key):
    """
    Return the numbers that another basis of the same nutrient would bring.

    Parameters
    ----------
    made : Ingredient
        The material.
    key : str
        Nutrient key of the number.

    Returns
    -------
    list of TableSlip
        P2O5 printed for P, its nitrate alone for all nitrogen, a factor used twice.

    Examples
    --------
    >>> from formulate.ingredients.ingredient import from_formula
    >>> str(basis_slips(from_formula("KH2PO4"), "P")[0])
    'P2O5 printed as P'
    """
    right, found = made.percent(key), []
    alike = [k for k in nutrient_keys() if k != key and family(k) == family(key)]
    for other in sorted(alike, key=lambda k: (k not in MAIN, len(k))):
        value = made.percent(other)
        if value <= 0 or right <= 0 or abs(value / right - 1) < LIKE:
            continue
        tag = f"{other} for {key}"
        found.append(TableSlip("basis", f"{other} printed as {key}", value, tag))
        if nutrient(other).basis != nutrient(key).basis:
            words = f"turned from {key} to {other} the wrong way"
            found.append(TableSlip("basis", words, right * right / value, words))
    return found


def other_key_slips(made, key, keys):
    """
    Return the numbers that belong into other columns.

    Parameters
    ----------
    made : Ingredient
        The material.
    key : str
        Nutrient key of the number.
    keys : sequence of str
        Keys of the other columns.

    Returns
    -------
    list of TableSlip
        One for each column, then for nutrients without column.

    Examples
    --------
    >>> from formulate.ingredients.ingredient import from_formula
    >>> [str(s) for s in other_key_slips(from_formula("KNO3"), "P", ["K"])][:2]
    ['its K, printed under P', 'its N, printed under P']
    """
    own = family(key)
    rest = [k for k in MAIN if k not in keys] if not made.percent(key) else []
    return [
        TableSlip("column", f"its {k}, printed under {key}", made.percent(k), k)
        for k in (*keys, *rest)
        if k != key and family(k) != own and made.percent(k) > 0
    ]


def material_slips(made, key):
    """
    Return the numbers of other pure materials that bring the same nutrient.

    Parameters
    ----------
    made : Ingredient
        The material.
    key : str
        Nutrient key of the number.

    Returns
    -------
    list of TableSlip
        One for each of the catalogue.

    Examples
    --------
    >>> from formulate.ingredients.ingredient import from_formula
    >>> str(material_slips(from_formula("H3BO3"), "B")[0])
    'the number of borax decahydrate'
    """
    return [
        TableSlip("material", f"the number of {e.name}", e.percent(key), e.name)
        for e in catalogue().values()
        if e.formula and e.percent(key) > 0 and not is_same_salt(made, e)
    ]


def decimal_slips(value):
    """
    Return the numbers with the point in the wrong place, doubled or halved.

    Parameters
    ----------
    value : float
        The right number. [-]

    Returns
    -------
    list of TableSlip
        Six of them.

    Examples
    --------
    >>> str(decimal_slips(13.85)[0])
    'the point one place too far right'
    """
    places = ((10, "one place too far right"), (0.1, "one place too far left"))
    places += ((100, "two places too far right"), (0.01, "two places too far left"))
    found = [TableSlip("decimal", f"the point {w}", value * f, w) for f, w in places]
    found.append(TableSlip("twice", "counted twice", value * 2, "2"))
    found.append(TableSlip("twice", "counted half", value / 2, "1/2"))
    return found


def digit_slips(number, value, low=1.0, high=1.0, scale=1.0):
    """
    Return the misprints of digits that explain a number.

    Parameters
    ----------
    number : PrintedNumber
        The number as printed.
    value : float
        The right number. [-]
    low : float
        Least purity that is open. [-]
    high : float
        Greatest. [-]
    scale : float
        What the number is multiplied by. [-]

    Returns
    -------
    list of TableSlip
        Two digits exchanged, one digit wrong, left out or too many.

    Examples
    --------
    >>> from formulate.claims.printed_numbers import printed_number
    >>> str(digit_slips(printed_number("38.76"), 38.672)[0])
    'digits exchanged: 38.76 for 38.67'
    """
    text = number.text.replace(",", ".")
    if not re.fullmatch(r"[\d.]+", text) or number.digits < 2:
        return []
    found, seen = [], set()
    for kind, words, other in _misprints(text):
        exact = float(other) * scale
        step = number.step * scale / 2
        near = value * low - step * 1.001 <= exact <= value * high + step * 1.001
        if other in seen or not near:
            continue
        seen.add(other)
        found.append(TableSlip(kind, f"{words}: {text} for {other}", value, words))
    return found


def _misprints(text):
    """Yield (kind, words, text) of what may have been meant."""
    places = [i for i, char in enumerate(text) if char.isdigit()]
    for i, j in pairwise(places):
        if text[i] != text[j]:
            swapped = text[:i] + text[j] + text[i + 1 : j] + text[i] + text[j + 1 :]
            yield "exchanged", "digits exchanged", swapped
    if len(places) < SURE_DIGITS:
        return
    for i in places:
        for digit in "0123456789":
            if digit != text[i]:
                yield "digit", "one digit wrong", text[:i] + digit + text[i + 1 :]
    for i in range(len(text) + 1):
        for digit in "0123456789" if i else "123456789":
            if i <= text.find(".") or "." not in text:
                yield "digit", "a digit left out", text[:i] + digit + text[i:]
    for i in places:
        if i < text.find("."):
            yield "digit", "a digit too many", text[:i] + text[i + 1 :] or "0"


def fitting_slips(number, slips, low=1.0, high=1.0, scale=1.0):
    """
    Return the slips that explain a printed number.

    Parameters
    ----------
    number : PrintedNumber
        The number as printed.
    slips : iterable of TableSlip
        What may have been.
    low : float
        Least purity that is open. [-]
    high : float
        Greatest. [-]
    scale : float
        What the number is multiplied by. [-]

    Returns
    -------
    list of TableSlip
        Those that fit.

    Examples
    --------
    >>> from formulate.ingredients.ingredient import from_formula
    >>> from formulate.claims.printed_numbers import printed_number
    >>> number = printed_number("52.2")
    >>> [str(s) for s in fitting_slips(number, basis_slips(from_formula("KH2PO4"), "P"))]
    ['P2O5 printed as P']
    """
    half = number.step * scale / 2
    least, most = number.low * scale - half, number.high * scale + half
    found = []
    for slip in slips:
        room = 4e-4 * abs(slip.value)
        if slip.value * low - room <= most and slip.value * high + room >= least:
            found.append(slip)
    return found


def best_slip(slips, counts=None):
    """
    Return the plainest of some slips: one that explains most numbers, then by kind.

    Parameters
    ----------
    slips : sequence of TableSlip
        Those that fit.
    counts : mapping or None
        (kind, tag) to how many numbers it explains. [-]

    Returns
    -------
    tuple of TableSlip
        The best first.

    Examples
    --------
    >>> best_slip([TableSlip("row", "b", 1.0), TableSlip("basis", "a", 1.0)])[0].words
    'a'
    """
    known = counts or {}

    def rank(slip):
        return -known.get((slip.kind, slip.tag), 0), PLAINNESS.index(slip.kind)

    return tuple(sorted(slips, key=rank))
