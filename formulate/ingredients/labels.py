"""Fertilisers by their label: read, held against what can be, and counted form by form.

A label gives what it vouches for. What it leaves unsaid is never guessed: it is refused, or
carried as an assumption that is listed.
"""

import re
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

from formulate.checks import checked_number
from formulate.errors import Faults, InputError, shortened
from formulate.ingredients.ingredient import DENSITIES, analysed
from formulate.ingredients.label_checks import check_shares
from formulate.ingredients.label_grade import find_grade
from formulate.ingredients.label_items import segment
from formulate.ingredients.label_shares import counted_shares
from formulate.ingredients.label_sources import NITROGEN_FORMS
from formulate.ingredients.label_text import LabelEntry, LabelReading, read_entries
from formulate.ingredients.label_tokens import plain_line, tokens
from formulate.ingredients.label_words import BASES
from formulate.notices import Notice
from formulate.stoichiometry.nutrients import nutrient, nutrient_keys
from formulate.stoichiometry.quantities import read_number, read_quantity

__all__ = ["given_entry", "label", "read_label"]

NITROGEN_IONS = {*NITROGEN_FORMS, "nitrite"}
PERCENT = 100.0
HALF = 0.5
MOST_DECIMALS = 6
MOST_GUARANTEES = 200
NOTED_CHARGE = 0.5  # meq/g of ions that the label does not name


def label(
    name,
    *,
    basis,
    grade=None,
    guarantees=None,
    derived_from=(),
    density=None,
    price_per_kg=None,
):
    """
    Return a fertiliser from the numbers of its label.

    Parameters
    ----------
    name : str
        How it is called.
    basis : str
        What a bare word or number means: "us" (N, P2O5, K2O, all else as elements), "eu"
        (oxides, micronutrients as elements) or "element". A chemical symbol means itself.
    grade : str or None
        The grade, such as "15-5-30".
    guarantees : mapping of str to float or None
        Label word or nutrient key to share. [%]
    derived_from : sequence of str
        The sources, as printed; they may tell which nitrogen it is.
    density : float or None
        Density, if it is a liquid. [kg/L]
    price_per_kg : float or None
        Price. [currency/kg]

    Returns
    -------
    Ingredient
        The fertiliser, with what was assumed to read it.

    Raises
    ------
    InputError
        With every fault: sums, impossible shares, an unknown word, nitrogen of no form.

    Examples
    --------
    >>> bag = label("potassium nitrate", basis="us", grade="13-0-46")
    >>> round(bag.percent("NO3-N"), 1), round(bag.percent("K"), 1)
    (13.0, 38.2)
    """
    faults = Faults(str(name))
    if basis not in BASES:
        faults.add(f"basis {shortened(basis)}: give one of {', '.join(BASES)}")
        basis = BASES[0]
    entries, assumed = [], []
    with faults.collecting("grade"):
        entries += _grade_entries(grade, basis)
    with faults.collecting("guarantees"):
        entries += _guarantee_entries(guarantees, basis, faults, assumed)
    density = _checked(faults, density, "density in kg/L", *DENSITIES)
    price = _checked(faults, price_per_kg, "price per kg", 0, None)
    sources = (derived_from,) if isinstance(derived_from, str) else derived_from
    if not isinstance(sources, list | tuple) or not all(
        isinstance(source, str) for source in sources
    ):
        faults.add(f"derived_from: {shortened(derived_from)}: give a list of names")
        sources = ()
    sources = tuple(part.strip() for text in sources for part in text.split(","))
    reading = LabelReading(
        tuple(entries),
        tuple((e.key, e.percent) for e in entries if e.kind == "grade"),
        tuple(source for source in sources if source),
        basis,
        "given",
        density is not None,
        density,
    )
    return _ingredient(str(name), reading, faults, assumed, (), price)


def read_label(text, *, name="", basis=None, density=None, price_per_kg=None):
    """
    Return a fertiliser from the printed text of its label.

    Parameters
    ----------
    text : str
        The label, line by line as printed; English, German, French, Spanish, Italian or
        Dutch, also in two languages.
    name : str
        How it is called; the first line of the label if empty.
    basis : str or None
        "us", "eu" or "element"; found from wording and language if None.
    density : float or None
        Density, if it is not printed. [kg/L]
    price_per_kg : float or None
        Price. [currency/kg]

    Returns
    -------
    Ingredient
        The fertiliser; `reading` tells each entry with its line, `assumed` what was
        assumed, `notices` what to know.

    Raises
    ------
    InputError
        With every fault, each with its line.

    Examples
    --------
    >>> bag = read_label('''Total Nitrogen (N) ..... 13.7 %
    ...   13.7 % Nitrate Nitrogen
    ... Soluble Potash (K2O) ... 46 %''')
    >>> round(bag.percent("NO3-N"), 1), round(bag.percent("K2O"), 1), bag.reading.basis
    (13.7, 46.0, 'us')
    """
    if not isinstance(text, str):
        raise InputError(f"{shortened(text)} is no text; give the label as printed")
    faults = Faults(str(name))
    if basis is not None and basis not in BASES:
        faults.add(f"basis {shortened(basis)}: give one of {', '.join(BASES)}")
        basis = None
    density = _checked(faults, density, "density in kg/L", *DENSITIES)
    price = _checked(faults, price_per_kg, "price per kg", 0, None)
    reading, page = read_entries(text, faults, basis=basis, density=density)
    called = str(name) or page.title[:60] or "label"
    return _ingredient(called, reading, faults, page.assumed, page.notices, price)


def _checked(faults, value, what, least, most):
    """Return a number within limits, or None with a fault noted."""
    if value is None:
        return None
    with faults.collecting():
        return checked_number(value, what, least=least, most=most)
    return None


# --- numbers given one by one ----------------------------------------------------------------


def _grade_entries(grade, basis):
    """Return the entries of a grade such as "15-5-30" or "15-5-30+3MgO"."""
    if grade is None:
        return []
    found = find_grade(plain_line(str(grade)))
    if found is None or found.unnamed or found.before.strip() or found.behind.strip():
        raise InputError(f"{shortened(grade)} is no grade; write it like 15-5-30")
    place = BASES.index(basis)
    return [
        _numbered(keys[place], keys[place], read_number(digits), digits, "grade")
        for _, keys, digits in found.shares
    ]


def _guarantee_entries(guarantees, basis, faults, assumed):
    """Return the entries of guarantees, every fault noted."""
    if guarantees is None:
        return []
    if not isinstance(guarantees, Mapping) or len(guarantees) > MOST_GUARANTEES:
        what = f"{shortened(guarantees)} is no mapping such as {{'potash': 30}}"
        raise InputError(what)
    made = []
    for word, share in guarantees.items():
        with faults.collecting(shortened(word)):
            made.append(given_entry(word, share, basis, assumed))
    return made


def given_entry(word, share, basis, assumed):
    """
    Return the entry of one label word and its share.

    Parameters
    ----------
    word : str
        A label word or a nutrient key.
    share : float or str
        Its share; text such as "46.0" or "460 g/kg" shows how it is rounded. [%]
    basis : str
        What a bare word means: "us", "eu" or "element".
    assumed : list of str
        Where what was assumed goes.

    Returns
    -------
    LabelEntry
        The entry.

    Raises
    ------
    InputError
        If the word is not known, or the share is no number from 0 to 100.

    Examples
    --------
    >>> made = given_entry("soluble potash", "460 g/kg", "us", [])
    >>> made.key, made.percent, made.half_digit
    ('K2O', 46.0, 0.05)
    """
    key, kind, agent = _named(word, basis, assumed)
    value, scale = _share(share)
    made = _numbered(str(word), key, value, share, kind)
    return replace(made, agent=agent, half_digit=made.half_digit * scale)


def _named(word, basis, assumed):
    """Return nutrient key, kind and agent of a label word or a nutrient key."""
    if word in nutrient_keys() and word != "urea":
        known = nutrient(word)
        is_form = len(known.weights) == 1 and NITROGEN_IONS & set(known.weights)
        return known.key, "form" if is_form else "total", ""
    items = segment(tokens(plain_line(str(word)))).items
    if len(items) != 1:
        found = nutrient(word)  # says what is near, if it knows nothing
        return found.key, "total", ""
    item = items[0]
    if item.is_ion:
        raise InputError(
            f"may be nitrogen or the whole ion; write {item.keys[0]}, or the ion's formula"
        )
    key = item.key(basis)
    if item.is_open:
        assumed.append(f"{shortened(word)} read as {key}")
    return key, item.kind or "total", item.agent


def _share(share):
    """Return a share in percent, given as a number or as text, and the size of its unit."""
    scale = 1.0
    if isinstance(share, str):
        value, of_unit = read_quantity(share, "mass_fraction", default="%")
        scale = of_unit.factor
        share = value * scale
    return checked_number(share, "share in %", least=0, most=PERCENT), scale


def _numbered(text, key, value, printed, kind):
    """Return the entry of one number, its rounding told by its digits."""
    digits = printed if isinstance(printed, str) else repr(float(value))
    tail = re.split("[.,]", digits + ".")[1]
    decimals = len(re.match("[0-9]*", tail)[0])
    if not isinstance(printed, str):
        decimals = max(-Decimal(digits).normalize().as_tuple().exponent, 0)
        decimals = min(decimals, MOST_DECIMALS)
    half = HALF * 10.0**-decimals
    return LabelEntry(0, text, key, value, kind, "", (value,), half)


# --- the ingredient ------------------------------------------------------------------------------


def _ingredient(name, reading, faults, assumed, notices, price):
    """Return the ingredient of a reading, or raise every fault of it."""
    shares = counted_shares(reading, faults, name=name)
    check_shares(shares, reading, faults)
    if not reading.entries and not faults.found:
        faults.add("no guaranteed nutrient was found; give the analysis as printed")
        for notice in notices:
            faults.add(notice.what)
    faults.raise_if_any()
    facts = {
        "density": reading.density,
        "price": price,
        "how_known": "read",
        "note": "as its label guarantees",
        "measured_in": "mL" if reading.share_of == "w/v" else "g",
    }
    made = analysed(name, shares.percents, **facts)
    assumed = (*_basis_assumed(reading), *assumed, *shares.assumed)
    told = (*notices, *shares.notices, *_charge_notices(made))
    return replace(
        made, assumed=tuple(dict.fromkeys(assumed)), notices=told, reading=reading
    )


def _basis_assumed(reading):
    """Return how the basis was found, where it was not given."""
    if reading.basis_found == "given" or not reading.basis:
        return ()
    return (f"basis {reading.basis}: {reading.basis_found}",)


def _charge_notices(made):
    """Return a notice if much of the charge belongs to ions that the label does not name."""
    charge = made.unassigned_charge
    if abs(charge) < NOTED_CHARGE:
        return ()
    which = "anions" if charge < 0 else "cations"
    what = (
        f"the label does not name {abs(charge):.2g} meq/{made.measured_in} of {which}; "
        "they are carried as inert ions"
    )
    return (Notice(what, "note", charge, NOTED_CHARGE),)
