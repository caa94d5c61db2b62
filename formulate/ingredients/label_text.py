"""From the printed text of a label to entries, each with its line, on a stated basis."""

from dataclasses import dataclass, replace
from itertools import pairwise

from formulate.checks import checked_number
from formulate.errors import InputError, shortened
from formulate.ingredients.ingredient import DENSITIES
from formulate.ingredients.label_page import read_page
from formulate.ingredients.label_pairs import POUNDS
from formulate.ingredients.label_tokens import decimal_mark, printed_value
from formulate.ingredients.label_words import BASES, unit_scale
from formulate.notices import LeftOut
from formulate.stoichiometry.units import convert, unit

__all__ = ["LabelEntry", "LabelReading", "read_entries"]

PERCENT = 100.0
BY_VOLUME = "g/100 mL"
OPEN_GRADE = "the grade may be N-P2O5-K2O or N-P-K: the label leaves the basis open"
GIVE_BASIS = 'give basis="us", "eu" or "element"'
ROUNDING = 0.5  # of the last printed digit
SLACK = 0.01  # of a share told by mass and by volume: the density is rounded too
REPEATABLE = ("uncounted", "slow", "isomer", "complexed", "grade")
WORDS = {
    "us": "US wording",
    "eu": "EU wording or language",
    "element": "P and K are printed as elements",
}


@dataclass(frozen=True)
class LabelEntry:
    """
    One share that a label gives.

    Attributes
    ----------
    line : int
        Line of the label, counted from 1; 0 if it was not read from a text. [-]
    text : str
        The line as printed.
    key : str
        Nutrient key.
    percent : float
        Share of the product, by mass or by volume as the reading says. [%]
    kind : str
        "total", "form", "available", "part", "chelated", "complexed", "combined", "free",
        "uncounted", "slow", "isomer", "grade".
    agent : str
        Chelating agent, "other" if no form counts it, or "".
    numbers : tuple of float
        Every number of the line that it used, as printed. [-]
    half_digit : float
        Half a unit of the last printed digit. [%]
    sulfate : bool
        Whether it is said to come from a sulfate.
    by_volume : bool
        Whether it was printed as mass in a volume.
    """

    line: int
    text: str
    key: str
    percent: float
    kind: str = "total"
    agent: str = ""
    numbers: tuple = ()
    half_digit: float = 0.0
    sulfate: bool = False
    by_volume: bool = False

    @property
    def where(self):
        """Return the place in words."""
        return f"line {self.line}" if self.line else shortened(self.text)


@dataclass(frozen=True)
class LabelReading:
    """
    What was read of a label.

    Attributes
    ----------
    entries : tuple of LabelEntry
        The shares, in the order of the label.
    grade : tuple of tuple
        (nutrient key, percent) of the grade, if one is printed.
    derived_from : tuple of str
        The sources, as printed.
    basis : str
        "us", "eu" or "element"; "" if every share names its own.
    basis_found : str
        How the basis was found.
    is_liquid : bool
        Whether it is poured.
    density : float or None
        Density. [kg/L]
    share_of : str
        "w/w" (grams in 100 g) or "w/v" (grams in 100 mL).
    left_out : tuple of LeftOut
        Lines with numbers that are no share, or were not counted, with the reason.
    agents : tuple of str
        Chelating agents that the label names apart from any metal.
    """

    entries: tuple = ()
    grade: tuple = ()
    derived_from: tuple = ()
    basis: str = ""
    basis_found: str = ""
    is_liquid: bool = False
    density: float | None = None
    share_of: str = "w/w"
    left_out: tuple = ()
    agents: tuple = ()


def read_entries(text, faults, *, basis=None, density=None):
    """
    Return what a label gives, before it is checked.

    Parameters
    ----------
    text : str
        The label as printed.
    faults : Faults
        Where faults go.
    basis : str or None
        What a bare word means: "us", "eu" or "element"; found from the label if None.
    density : float or None
        Density, if it is not printed. [kg/L]

    Returns
    -------
    reading : LabelReading
        The entries, and lines that were left out.
    page : Page
        The label line by line, with what was assumed.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> reading, _ = read_entries("Kaliumoxid 30 %", Faults())
    >>> reading.entries[0].key, reading.entries[0].percent
    ('K2O', 30.0)
    """
    page = read_page(text, faults)
    mark = decimal_mark(text)
    foreign = any(proof[:2] == "eu" for proof, _ in page.evidence)
    basis, how, bases = _basis(page, basis)
    density = _density(page, density, mark, foreign)
    entries = []
    for found in page.found:
        where = f"line {found.line}: {shortened(found.text)}"
        if f"{where}: {OPEN_GRADE}; {GIVE_BASIS}" in faults.found:
            continue
        with faults.collecting(where):
            entries.append(_entry(page, found, bases, mark, foreign))
    _say_units(page)
    entries, density, share_of = _by_mass(page, entries, density)
    entries = _distinct(page, entries)
    grade = tuple((e.key, e.percent) for e in entries if e.kind == "grade")
    sources = _listed(page.sources)
    reading = LabelReading(
        tuple(entries),
        grade,
        sources,
        basis,
        how,
        page.is_liquid or density is not None,
        density,
        share_of,
        tuple(page.left_out),
        tuple(sorted(page.agents)),
    )
    return reading, page


def _listed(lines):
    """Return the sources one by one."""
    text = " ".join(lines).replace(";", ",").replace("•", ",")
    for word in (" and ", " und ", " et ", " y ", " e ", " en ", " & "):
        text = text.replace(word, ", ")
    return tuple(item.strip(" .:") for item in text.split(",") if item.strip(" .:"))


# --- basis ---------------------------------------------------------------------------------


def _basis(page, basis):
    """Return the basis, how it was found, and the bases that remain possible."""
    if basis is not None:
        return basis, "given", (basis,)
    found = {proof for proof, _ in page.evidence}
    oxide = "oxide" in found
    found.discard("oxide")
    keys = {f.item.keys[0] for f in page.found if not f.item.is_open}
    if "us" in found and "eu!" not in found:
        known = ("us",)
    elif {"P", "K"} & keys and not {"P2O5", "K2O"} & keys and "eu!" not in found:
        known = ("element",)
    elif found and "us" not in found:
        known = ("eu",)
    else:
        oxide = oxide or found or {"P2O5", "K2O"} & keys
        known = ("us", "eu") if oxide else BASES
    if len(known) > 1:
        is_open = any(f.item.is_open for f in page.found)
        how = "open: nothing decides it" if is_open else "every share names its own"
        return "", how, known
    proofs = [text for proof, text in page.evidence if proof[:2] == known[0]][:3]
    words = "".join(f": {', '.join(dict.fromkeys(proofs))}" * bool(proofs))
    return known[0], WORDS[known[0]] + words, known


def _key(page, found, bases):
    """Return the nutrient key of a name, if the bases that remain agree."""
    keys = tuple(dict.fromkeys(found.item.key(basis) for basis in bases))
    if found.item.is_ion:
        _say_ion(page, found)
    if found.number and found.number.text == "0":
        return keys[0]
    if len(keys) > 1:
        keys = _as_signed(page, found, keys)
    if len(keys) > 1 and found.item.kind == "grade":
        raise InputError(f"{OPEN_GRADE}; {GIVE_BASIS}")
    if len(keys) > 1:
        raise InputError(
            f"{found.item.text} may be {' or '.join(keys)}: the label leaves the basis "
            f"open; {GIVE_BASIS}"
        )
    if found.item.is_open and found.item.kind != "grade":
        page.assumed.append(f"line {found.line}: {found.item.text} read as {keys[0]}")
    return keys[0]


def _as_signed(page, found, keys):
    """Return the key that the label writes elsewhere for the same element, if one only."""
    signs = {
        other.item.keys[0]
        for other in page.found
        if other.item.family == found.item.family and not other.item.is_open
    }
    return tuple(signs) if len(signs) == 1 and signs <= set(keys) else keys


def _say_ion(page, found):
    """Take an ion without a sign as its nitrogen, if the label speaks of nitrogen."""
    if not any(other.item.keys[0] == "N" for other in page.found):
        what = f"{found.item.text} may be {found.item.keys[0]} or the whole ion"
        raise InputError(f"{what}; write which, for instance {found.item.keys[0]}")
    page.assumed.append(f"line {found.line}: {found.item.text} as its nitrogen")


# --- numbers -------------------------------------------------------------------------------


def _entry(page, found, bases, mark, foreign):
    """Return the entry of one number and its name."""
    item, number = found.item, found.number
    key = _key(page, found, bases)
    kind = item.kind or "total"
    if number is None:
        page.assumed.append(f"line {found.line}: traces of {key} counted as 0")
        return LabelEntry(found.line, found.text, key, 0.0, kind, item.agent)
    number, others = _main_number(number)
    percent, half, numbers = _percent(page, found, number, mark, foreign)
    doubles = [_percent(page, found, other, mark, foreign) for other in others]
    _check_doubles(page, found, (number, percent, half), others, doubles)
    if number.below or "below" in item.marks:
        page.assumed.append(
            f"line {found.line}: {key} below {percent:g} % counted as 0"
        )
        percent = 0.0
    if "max" in item.marks:
        what = f"line {found.line}: {key} is a greatest value, counted in full"
        page.assumed.append(what)
    used = (*numbers, *(value for _, _, values in doubles for value in values))
    return LabelEntry(
        found.line,
        found.text,
        key,
        percent,
        kind,
        item.agent,
        used,
        half,
        item.sulfate,
        _is_by_volume(_unit_of(page, number)),
    )


def _main_number(number):
    """Return the number to count, by mass if it is told so too, and the others."""
    others = list(number.doubles)
    for place, other in enumerate(others):
        if _is_by_volume(number.unit) and not _is_by_volume(other.unit):
            others[place] = replace(number, doubles=())
            return other, others
    return number, others


def _is_by_volume(name):
    return bool(name) and unit(name).kind == "mass_concentration"


def _percent(page, found, number, mark, foreign):
    """Return share, half of its last digit, and the numbers as printed."""
    value, decimals = printed_value(number.text, mark, foreign)
    numbers = (value,)
    if number.upper:
        high, _ = printed_value(number.upper, mark, foreign)
        if high < value:
            raise InputError(f"{number.text} to {number.upper} is no range")
        numbers = (value, high)
        page.assumed.append(f"line {found.line}: of {value:g} to {high:g} the least")
    scale = unit_scale(_unit_of(page, number))
    percent = value * scale
    if percent > PERCENT and not _is_by_volume(_unit_of(page, number)):
        raise InputError(f"{percent:g} % is more than 100 %")
    return percent, ROUNDING * 10.0**-decimals * scale, numbers


def _unit_of(page, number):
    """Return the unit of a number, by the heading where it has none or a bare %."""
    is_plain = number.unit in ("", "%") and not number.how
    return _heading_unit(page, number.unit) if is_plain else number.unit


def _heading_unit(page, name=""):
    """Return the unit that a heading gives to numbers without one, or to a bare %."""
    names = {name for units in page.units for name, _ in units if len(units) == 1}
    found = names.pop() if len(names) == 1 else "%"
    return found if not name or found == BY_VOLUME else name


def _say_units(page):
    """Say which numbers were taken as percent, and what ppm and % were taken for."""
    numbers = [(f.line, f.number) for f in page.found if f.number]
    bare = sorted({line for line, number in numbers if not number.unit})
    if bare:
        lines = ", ".join(map(str, bare))
        name = _heading_unit(page)
        page.assumed.append(f"line {lines}: no unit printed; read as {name}")
    if any(number.how == "ppm" for _, number in numbers):
        page.assumed.append("ppm taken as mg in a kilogram of the product")


def _check_doubles(page, found, main, others, doubles):
    """Hold a share that is printed twice, by mass and by volume, against itself."""
    number, percent, half = main
    for other, (again, spread, _) in zip(others, doubles, strict=True):
        if _is_by_volume(other.unit) == _is_by_volume(number.unit):
            if abs(again - percent) > half + spread:
                raise InputError(f"{percent:g} % and {again:g} % for the same")
            continue
        page.ratios.append((found.line, again, spread, percent, half))


# --- density -------------------------------------------------------------------------------


def _density(page, given, mark, foreign):
    """Return the density, printed or given; note a fault where they differ."""
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
    scale = 1.0 if name == "kg/L" else convert(1.0, name, "g/L") / 1000
    low, high = DENSITIES
    checked_number(value * scale, "density in kg/L", least=low, most=high)
    return value * scale, ROUNDING * 10.0**-decimals * scale


def _by_mass(page, entries, density):
    """Return the entries as shares by mass where that is possible, and of what they are."""
    density = _told_twice(page, density)
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


def _told_twice(page, density):
    """Hold shares told by mass and by volume against the density, or find it from them."""
    for line, volume, spread, mass, half in page.ratios:
        if not mass or not volume:
            continue
        ratio = volume / mass
        doubt = ratio * (spread / volume + half / mass + SLACK)
        if density is None:
            with page.faults.collecting(f"line {line}"):
                low, high = DENSITIES
                density = checked_number(ratio, "density in kg/L", least=low, most=high)
            page.assumed.append(
                f"line {line}: density {ratio:.3g} kg/L from w/v and w/w"
            )
        elif abs(ratio - density) > doubt + SLACK * density:
            page.faults.add(
                f"line {line}: {volume:g} g in 100 mL and {mass:g} % by mass make "
                f"{ratio:.3g} kg/L, not {density:.3g} kg/L"
            )
    return density


# --- the same share twice ---------------------------------------------------------------------


def _distinct(page, entries):
    """Return the entries without repetitions; note a fault where they differ."""
    first, kept = {}, []
    for entry in entries:
        name = (entry.key, entry.kind, entry.agent)
        known = first.setdefault(name, entry)
        if known is entry:
            kept.append(entry)
        elif known.percent == entry.percent and entry.kind != "uncounted":
            reason = f"says again what line {known.line} says"
            page.left_out.append(LeftOut(entry.line, entry.text, reason))
        elif entry.kind in REPEATABLE and entry.kind != "grade":
            kept.append(entry)
        elif entry.kind == "part" and entry.key in ("P2O5", "P"):
            kept.append(entry)  # soluble in one thing and in another
        else:
            page.faults.add(
                f"line {known.line} and line {entry.line}: {entry.key} "
                f"{known.percent:g} % and {entry.percent:g} %; one of them is wrong"
            )
            page.left_out.append(LeftOut(entry.line, entry.text, "contradicts"))
    return kept
