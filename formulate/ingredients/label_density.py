"""The density of a liquid as its label tells it, and shares by volume held against it."""

from dataclasses import dataclass, replace
from itertools import pairwise

from formulate.checks import checked_number
from formulate.errors import InputError
from formulate.ingredients.ingredient import DENSITIES
from formulate.ingredients.label_pairs import POUNDS
from formulate.ingredients.label_tokens import printed_value
from formulate.stoichiometry.units import convert

__all__ = ["Disagreement", "hold_apart", "label_density", "shares_by_mass"]

ROUNDING = 0.5  # of the last printed digit
GRAMS = 1000.0
LIKELY = (0.9, 2.0)  # kg/L: common practice, no source
OTHER_UNITS = {"kg/L": "kg/L", "lb/gal": "lb/US gal", "g/L": "g/L"}
SLACK = 0.01  # of a share told by mass and by volume: the density is rounded too


@dataclass(frozen=True)
class Disagreement:
    """
    A share that is told by volume and by mass, which the printed density does not allow.

    Attributes
    ----------
    line : int
        Line of the label, counted from 1. [-]
    key : str
        Nutrient key.
    what : str
        What was found, in words.
    number : float
        The density that the two shares make. [kg/L]
    limit : float
        The density that the label gives. [kg/L]
    """

    line: int
    key: str
    what: str
    number: float
    limit: float


def label_density(page, given, mark, foreign):
    """
    Return the density, printed or given; note a fault where they differ.

    Parameters
    ----------
    page : Page
        The label line by line.
    given : float or None
        Density that was given beside the label. [kg/L]
    mark : str
        Decimal mark of the label, "" if it is not known.
    foreign : bool
        Whether the label is in a language that writes 1.000 for a thousand.

    Returns
    -------
    float or None
        The density; None if nothing tells it. [kg/L]

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> from formulate.ingredients.label_page import read_page
    >>> label_density(read_page("Density 1.2 kg/L", Faults()), None, ".", False)
    1.2
    """
    known = []
    for line, number, says_gallon in page.densities:
        with page.faults.collecting(f"line {line}"):
            known.append(
                (line, *_kg_per_litre(page, number, says_gallon, mark, foreign))
            )
    if given is not None:
        known.insert(0, (0, given, 0.0))
    for (line, first, one), (other, second, two) in pairwise(known):
        if abs(first - second) > (one + two) * (1 + SLACK) + SLACK * first:
            where = f"line {line}" if line else "density="
            page.faults.add(
                f"{where} gives {first:.4g} kg/L, line {other} gives {second:.4g} kg/L"
            )
    return known[0][1] if known else None


def _kg_per_litre(page, number, says_gallon, mark, foreign):
    """Return a printed density and half of its last digit, in kg/L."""
    value, decimals = printed_value(number.text, mark, foreign)
    name = number.unit or "kg/L"
    if says_gallon and number.unit in POUNDS:
        name = "lb/gal"
    proofs = {proof for proof, _ in page.evidence}
    if name == "lb/gal" and ("us" in proofs or not proofs & {"eu", "eu!"}):
        page.assumed.append("gallons taken as US gallons")
        name = "lb/US gal"
    scale = _scale(name)
    _check_density(number.text, value, scale, number.unit or "kg/L")
    return value * scale, ROUNDING * 10.0**-decimals * scale


def _scale(name):
    """Return how many kg/L one of a unit is."""
    return 1.0 if name == "kg/L" else convert(1.0, name, "g/L") / GRAMS


def _worth(name, value):
    return "is likely" if name == "kg/L" else f"would be {value:.3g} kg/L"


def _check_density(text, value, scale, name):
    """Refuse a density that no liquid has, with the units in which one has it."""
    low, high = DENSITIES
    if low <= value * scale <= high:
        return
    side = "heavy" if value * scale > high else "light"
    least, most = LIKELY
    made = {other: value * _scale(full) for other, full in OTHER_UNITS.items()}
    likely = [
        f"{text} {other} {_worth(other, value)}"
        for other, value in made.items()
        if least <= value <= most
    ]
    told = "".join(f"; {each}" for each in likely)
    raise InputError(f"{text} {name}: no liquid is so {side}{told}; look at the unit")


def shares_by_mass(page, entries, density, apart):
    """
    Return the entries as shares by mass where that is possible, and of what they are.

    Parameters
    ----------
    page : Page
        The label line by line.
    entries : list of LabelEntry
        The shares as printed.
    density : float or None
        Density, if it is known. [kg/L]
    apart : list of Disagreement
        Where goes what the density does not allow.

    Returns
    -------
    entries : list of LabelEntry
        The shares.
    density : float or None
        Density, found from the shares if nothing else tells it. [kg/L]
    share_of : str
        "w/w" or "w/v".

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> from formulate.ingredients.label_page import read_page
    >>> shares_by_mass(read_page("", Faults()), [], 1.2, [])
    ([], 1.2, 'w/w')
    """
    density = _told_twice(page, density, apart)
    by_volume = [e for e in entries if e.by_volume]
    if not by_volume:
        plain = any(
            f.number and f.number.unit == "%" and not f.number.how for f in page.found
        )
        if plain and (page.is_liquid or density is not None):
            page.assumed.append("a liquid: % taken as mass in mass (w/w)")
        return entries, density, "w/w"
    if density is not None:
        page.assumed.append(
            f"shares by volume divided by the density, {density:g} kg/L"
        )
        made = [_divided(e, density) if e.by_volume else e for e in entries]
        return made, density, "w/w"
    if len(by_volume) < len(entries):
        lines = ", ".join(str(e.line) for e in by_volume)
        page.faults.add(
            f"line {lines}: a share by volume beside shares by mass; give density= in kg/L"
        )
    return entries, None, "w/v"


def _divided(entry, density):
    share, half = entry.percent / density, entry.half_digit / density
    return replace(entry, percent=share, half_digit=half)


def _told_twice(page, density, apart):
    """Hold shares told by mass and by volume against the density, or find it from them."""
    for found, volume, spread, mass, half in page.ratios:
        if not mass or not volume:
            continue
        ratio = volume / mass
        doubt = ratio * (spread / volume + half / mass + SLACK)
        if density is None:
            with page.faults.collecting(f"line {found.line}"):
                low, high = DENSITIES
                density = checked_number(ratio, "density in kg/L", least=low, most=high)
            page.assumed.append(
                f"line {found.line}: density {ratio:.3g} kg/L from w/v and w/w"
            )
        elif abs(ratio - density) > doubt + SLACK * density:
            key = found.item.keys[0]
            apart.append(_apart(found.line, key, volume, mass, density))
    return density


def _apart(line, key, volume, mass, density):
    """Return what is wrong with a share by volume beside one by mass."""
    ratio = volume / mass
    what = (
        f"{volume:g} g in 100 mL and {mass:g} % by mass make {ratio:.3g} kg/L, not "
        f"{density:.3g} kg/L"
    )
    return Disagreement(line, key, what, ratio, density)


def hold_apart(by_volume, by_mass, density, apart):
    """
    Note a share by volume, on a line of its own, that the share by mass does not allow.

    Parameters
    ----------
    by_volume : LabelEntry
        The one share, already divided by the density.
    by_mass : LabelEntry
        The other.
    density : float
        Density. [kg/L]
    apart : list of Disagreement
        Where it is noted.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> one = SimpleNamespace(line=1, key="MgO", percent=7.4, half_digit=0.05)
    >>> two, apart = SimpleNamespace(line=2, percent=8.3, half_digit=0.05), []
    >>> hold_apart(one, two, 1.35, apart)
    >>> apart[0].what
    '9.99 g in 100 mL and 8.3 % by mass make 1.2 kg/L, not 1.35 kg/L'
    """
    volume = by_volume.percent * density
    doubt = by_volume.half_digit + by_mass.half_digit + SLACK * by_mass.percent
    if abs(by_volume.percent - by_mass.percent) > doubt:
        line, key = by_volume.line, by_volume.key
        apart.append(_apart(line, key, volume, by_mass.percent, density))
