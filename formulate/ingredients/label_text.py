"""From the printed text of a label to entries, each with its line, on a stated basis."""

from dataclasses import dataclass, replace

from formulate.errors import InputError, shortened
from formulate.ingredients.label_density import (
    Disagreement,
    hold_apart,
    label_density,
    shares_by_mass,
)
from formulate.ingredients.label_lists import listed_sources
from formulate.ingredients.label_page import read_page
from formulate.ingredients.label_tokens import decimal_mark, printed_value
from formulate.ingredients.label_words import BASES, unit_scale
from formulate.notices import LeftOut
from formulate.stoichiometry.units import unit

__all__ = ["Disagreement", "LabelEntry", "LabelReading", "read_entries"]

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
        "uncounted", "slow", "isomer", "grade", "at most" (an upper limit only).
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
    disagreements : tuple of Disagreement
        Shares by volume and by mass that disagree, where reading went on in spite of them.
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
    disagreements: tuple = ()


def read_entries(text, faults, *, basis=None, density=None, keep_going=False):
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
    keep_going : bool
        Whether shares by volume and by mass that disagree stand in the reading and are no
        faults; the shares by mass are counted.

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
    page, apart = read_page(text, faults), []
    mark = decimal_mark(text)
    foreign = any(proof[:2] == "eu" for proof, _ in page.evidence)
    basis, how, bases = _basis(page, basis)
    density = label_density(page, density, mark, foreign)
    entries = []
    for found in page.found:
        where = f"line {found.line}: {shortened(found.text)}"
        if f"{where}: {OPEN_GRADE}; {GIVE_BASIS}" in faults.found:
            continue
        with faults.collecting(where):
            entries.append(_entry(page, found, bases, mark, foreign))
    _say_units(page)
    entries, density, share_of = shares_by_mass(page, entries, density, apart)
    entries = _distinct(page, entries, density, apart)
    if not keep_going:
        for each in apart:
            page.faults.add(f"line {each.line}: {each.what}")
    grade = tuple((e.key, e.percent) for e in entries if e.kind == "grade")
    sources = listed_sources(" ".join(page.sources))
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
        tuple(apart) if keep_going else (),
    )
    return reading, page


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
    if number.below or {"below", "max"} & set(item.marks):
        kind = "at most"
        what = f"{key} is {percent:g} % at most, an upper limit only; counted as 0"
        page.assumed.append(f"line {found.line}: {what}")
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
        page.ratios.append((found, again, spread, percent, half))


# --- the same share twice ---------------------------------------------------------------------


def _distinct(page, entries, density, apart):
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
        elif entry.by_volume is not known.by_volume and density:
            mass, other = sorted((known, entry), key=lambda each: each.by_volume)
            first[name] = kept[kept.index(known)] = mass
            hold_apart(other, mass, density, apart)
            reason = f"says by volume what line {mass.line} says by mass"
            page.left_out.append(LeftOut(other.line, other.text, reason))
        else:
            page.faults.add(
                f"line {known.line} and line {entry.line}: {entry.key} "
                f"{known.percent:g} % and {entry.percent:g} %; one of them is wrong"
            )
            page.left_out.append(LeftOut(entry.line, entry.text, "contradicts"))
    return kept
