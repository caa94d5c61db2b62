"""The catalogue of salts, acids and bases, and the way from a name or formula to one."""

import difflib
import re
from dataclasses import replace
from functools import cache
from types import MappingProxyType

from formulate.checks import checked_number
from formulate.errors import (
    AmbiguousName,
    Faults,
    FormulaError,
    InputError,
    UnknownName,
    shortened,
)
from formulate.ingredients.hazards import hazard_codes, restrictions
from formulate.ingredients.ingredient import (
    Ingredient,
    analysed,
    from_formula,
)
from formulate.ingredients.salt_words import plain_words, usual_names, without_grade
from formulate.notices import Notice
from formulate.stoichiometry.formula import parse_formula
from formulate.tables import read_table

__all__ = [
    "acid",
    "as_ingredient",
    "catalogue",
    "catalogue_names",
    "known_materials",
    "salt",
]

SHARE = r"\(?(?P<percent>\d{1,2}(?:[.,]\d+)?)\s*"
STRENGTHS = (  # "nitric acid 65 %", "65 % nitric acid"
    re.compile(rf"(?P<name>.*[^\W\d_]\d?)(?:,|\s)+(?:[àa] )?{SHARE}%(?:ig)?\)?"),
    re.compile(rf"{SHARE}%(?:ige)?\)?\s+(?P<name>.+)"),
)


@cache
def catalogue():
    """
    Return every ingredient of the catalogue.

    Returns
    -------
    mapping of str to Ingredient
        Name to ingredient, in the order of the table.

    Examples
    --------
    >>> round(catalogue()["boric acid"].percent("B"), 1)
    17.5
    """
    return MappingProxyType(
        {row["name"]: _entry(row) for row in read_table("catalogue")}
    )


def catalogue_names():
    """
    Return the names of the catalogue.

    Returns
    -------
    tuple of str
        Names, in the order of the table.

    Examples
    --------
    >>> "potassium nitrate" in catalogue_names()
    True
    """
    return tuple(catalogue())


def _entry(row):
    """Return the ingredient of one row of the catalogue."""
    strength = row.number("percent") or row.number("purity_percent")
    facts = {
        "name": row["name"],
        "weighing_step": row.number("weighing_step"),
        "source_key": row["source_key"],
        "how_known": row["how_known"],
        "note": row["note"],
        "sold_purity": row["sold_purity"],
        "use": row["use"],
        "tank": row["tank"],
        **_handling(row["cas"], strength),
    }
    if row["analysis"]:
        shares = (item.rsplit(" ", 1) for item in row["analysis"].split(";"))
        percents = {key.strip(): float(share) for key, share in shares}
        return analysed(facts.pop("name"), percents, **facts)
    density = row.number("density")
    return from_formula(row["formula"], percent=strength, density=density, **facts)


def _handling(cas, percent):
    """Return what follows from a CAS number and a strength for handling and buying."""
    found = restrictions(cas, percent)
    return {
        "cas": cas,
        "hazards": hazard_codes(cas, percent),
        "restricted": found[0].level if found else "",
    }


@cache
def _by_words():
    """Return every name and alias, made plain, to the name in the catalogue."""
    names = {}
    for row in read_table("catalogue"):
        for text in (row["name"], *row["aliases"].split("|")):
            if text:
                names.setdefault(plain_words(text), row["name"])
    return names


@cache
def _asked_back():
    """Return names that mean several materials, made plain, to their entries."""
    names = {}
    for row in read_table("catalogue"):
        for text in filter(None, row["asked_back"].split("|")):
            meant = names.setdefault(plain_words(text), [])
            if row["name"] not in meant:
                meant.append(row["name"])
    return names


@cache
def _by_formula():
    """Return each compound of the catalogue to its entry, solids before liquids."""
    found = {}
    solids_first = sorted(catalogue().values(), key=lambda entry: entry.is_liquid)
    for entry in solids_first:
        if entry.formula:
            found.setdefault(_compound(entry.formula), entry)
    return found


def _compound(formula):
    """Return what tells a compound from others, however its formula is written."""
    read = parse_formula(formula)
    counts = (read.atoms, read.forms)
    return tuple(tuple(sorted(count.items())) for count in counts)


def as_ingredient(thing):
    """
    Return the ingredient that a formula or a catalogue name means.

    Parameters
    ----------
    thing : str or Ingredient
        An ingredient, a formula or a name of the catalogue.

    Returns
    -------
    Ingredient
        The ingredient.

    Raises
    ------
    AmbiguousName
        If the name means several materials; the message lists them.
    UnknownName
        If it is neither a name of the catalogue nor looks like a formula.
    FormulaError
        If it looks like a formula and cannot be read.

    Examples
    --------
    >>> as_ingredient("Epsom salt").formula
    'MgSO4·7H2O'
    >>> as_ingredient("calcium nitrate")
    Traceback (most recent call last):
        ...
    formulate.errors.AmbiguousName: 'calcium nitrate' is not one material; write calcium nitrate, \
greenhouse grade (15.5-0-0, 19 % Ca) or calcium nitrate tetrahydrate or calcium nitrate anhydrous
    """
    if isinstance(thing, Ingredient):
        return thing
    if not isinstance(thing, str):
        raise InputError(
            f"{shortened(thing)} is no ingredient; give a name or a formula"
        )
    asked = _asked(thing)
    if len(asked) == 1 and not _is_asked_back(thing):
        return catalogue()[asked[0]]
    meant = asked or _meant(thing)
    if len(meant) > 1 or asked:
        what = f"{shortened(thing)} is not one material; write {' or '.join(meant)}"
        if len(meant) == 1:
            what = f"{what}, or the formula with the crystal water that the bag tells"
        raise AmbiguousName(what, readings=meant)
    diluted = _of_strength(thing)
    if diluted is not None:
        return diluted
    if not _looks_like_formula(thing):
        raise UnknownName(_unknown(thing, meant))
    made = from_formula(thing, source_key="stoichiometry", how_known="computed")
    warned = (*_strength_notices(made), *_hydrate_notices(made))
    return replace(_with_catalogue_facts(made), notices=warned)


def _strength_notices(made):
    """Yield a warning that what is sold by strength is counted as 100 %."""
    sold = [e.name for e in catalogue().values() if e.formula == made.formula]
    liquids = [name for name in sold if catalogue()[name].is_liquid]
    if liquids and len(liquids) == len(sold):
        what = (
            f"{made.name} is counted as 100 %, and bottles hold less; write its strength, "
            f"such as {liquids[0]}"
        )
        yield Notice(what, "serious", source_key="stoichiometry")


def _hydrate_notices(made):
    """Yield a warning that a salt is counted dry where bags usually hold a hydrate."""
    if made.crystal_water:
        return
    hydrates = [
        entry.name
        for entry in catalogue().values()
        if entry.crystal_water and _same_salt(entry.formula, made.formula)
    ]
    if hydrates:
        what = (
            f"{made.name} is counted without crystal water; bags usually hold "
            f"{' or '.join(hydrates)}"
        )
        yield Notice(what, "caution", source_key="stoichiometry")


def _same_salt(formula, other):
    """Return whether two formulas differ in crystal water only."""
    first, second = (dict(parse_formula(text).forms) for text in (formula, other))
    return first == second


def known_materials(name):
    """
    Return the materials of the catalogue that a whole name means.

    Parameters
    ----------
    name : str
        A name of the trade, in any language that is known; no formula.

    Returns
    -------
    tuple of Ingredient
        One, or several where it leaves open which; none if the name is not known.

    Examples
    --------
    >>> [made.name for made in known_materials("Kalisalpeter")]
    ['potassium nitrate']
    >>> known_materials("potassium")
    ()
    """
    return tuple(catalogue()[found] for found in _asked(name))


def _spellings(name):
    """Return the names that a name may stand for: itself, or what the trade means by it."""
    for text in dict.fromkeys((plain_words(name), without_grade(name))):
        if text in _by_words() or text in _asked_back():
            return (text,)
        if usual_names(text):
            return tuple(map(plain_words, usual_names(text)))
    return ()


def _is_asked_back(name):
    """Return whether a name leaves the hydrate or the material open."""
    return any(text not in _by_words() for text in _spellings(name))


def _asked(name):
    """Return the entries that a name of the trade means, none if it is no such name."""
    found = []
    for text in _spellings(name):
        own = _by_words().get(text)
        found += [own] if own else _asked_back().get(text) or _meant(text)
    return list(dict.fromkeys(found))


def _meant(name):
    """Return the entries that an incomplete name may mean."""
    wanted = set(plain_words(name).split())
    return [n for n in catalogue() if wanted and wanted <= set(plain_words(n).split())]


def _with_catalogue_facts(made):
    """Return a compound made from its formula with what the catalogue knows of it."""
    known = _by_formula().get(_compound(made.formula))
    if known is None:
        return made
    if known.purity_percent == made.purity_percent and known.density == made.density:
        return replace(known, name=made.name, price=made.price)
    return replace(
        made,
        use=known.use,
        tank=known.tank,
        weighing_step=known.weighing_step,
        **_handling(known.cas, made.purity_percent),
    )


def _of_strength(text):
    """Return what is sold dissolved, at the strength that a text tells, or None."""
    match = next(filter(None, (p.fullmatch(text.strip()) for p in STRENGTHS)), None)
    percent = float(match["percent"].replace(",", ".")) if match else 0.0
    if not percent:
        return None
    name = match["name"].strip().removesuffix(" à")
    meant = [catalogue()[found] for found in _asked(name) or _meant(name)]
    alike = [e for e in catalogue().values() if e.is_liquid and e.formula == name]
    found = meant or alike
    if not found or not all(each.is_liquid and each.formula for each in found):
        return None
    if len({each.formula for each in found}) > 1:
        return None
    called = f"{found[0].name.split(' (')[0]} ({percent:g} %)"
    same = [each for each in found if each.name == called]
    return same[0] if same else acid(found[0].formula, percent=percent, name=called)


def _looks_like_formula(text):
    """Return whether a text is better read as a formula than as a name."""
    try:
        parse_formula(text)
    except FormulaError as error:
        in_one_piece = " " not in text.strip() and any(map(str.isdigit, text))
        return error.suggestion is not None or in_one_piece
    return True


def _unknown(thing, meant):
    near = meant or [
        _by_words()[words]
        for words in difflib.get_close_matches(
            plain_words(thing), _by_words(), n=3, cutoff=0.6
        )
    ]
    hint = f"; near: {', '.join(dict.fromkeys(near))}" if near else ""
    return f"{shortened(thing)} is no name in the catalogue and no formula{hint}"


def salt(
    formula, *, name=None, purity_percent=None, price_per_kg=None, weighing_step=None
):
    """
    Return a salt as an ingredient.

    Parameters
    ----------
    formula : str
        A formula, taken as pure, or a name of the catalogue, taken as the catalogue says.
    name : str or None
        How it is to be called; the text given if None.
    purity_percent : float or None
        Mass share of the salt in what is weighed; 100 for a formula. [%]
    price_per_kg : float or None
        Price. [currency/kg]
    weighing_step : float or None
        Smallest step in which it is weighed. [g]

    Returns
    -------
    Ingredient
        The salt.

    Raises
    ------
    InputError
        With every fault of name, purity, price and step.

    Examples
    --------
    >>> round(salt("Ca(NO3)2·4H2O", purity_percent=98).percent("Ca"), 2)
    16.63
    """
    faults = Faults()
    with faults.collecting():
        found = as_ingredient(formula)
    limits = {
        "price per kg": (price_per_kg, {"least": 0}),
        "purity in %": (purity_percent, {"above": 0, "most": 100}),
        "weighing step in g": (weighing_step, {"above": 0}),
    }
    for what, (value, limit) in limits.items():
        with faults.collecting():
            if value is not None:
                checked_number(value, what, **limit)
    faults.raise_if_any()
    if purity_percent is not None:
        found = _of_purity(found, purity_percent)
    step = weighing_step or found.weighing_step
    return replace(
        found, name=name or found.name, price=price_per_kg, weighing_step=step
    )


def _of_purity(found, purity_percent):
    """Return the ingredient with its compound at another share."""
    factor = purity_percent / found.purity_percent
    density = found.density
    if factor != 1 and density is not None:
        density = _tabled_density(found.formula, purity_percent)
    return replace(
        found,
        forms={key: amount * factor for key, amount in found.forms.items()},
        unassigned_charge=found.unassigned_charge * factor,
        crystal_water=found.crystal_water * factor,
        purity_percent=purity_percent,
        density=density,
        dissolved=found.is_liquid,
        **_handling(found.cas, purity_percent),
    )


def _tabled_density(formula, percent):
    """Return the density of a dissolved compound, or None if no table holds it."""
    for row in read_table("acid_densities"):
        if row["acid"] == formula and row.number("percent") == percent:
            return row.number("density")
    return None


def acid(formula, *, percent, density=None, name=None, price_per_kg=None):
    """
    Return an acid, or another dissolved compound sold by strength, as an ingredient.

    Parameters
    ----------
    formula : str
        Formula of the compound, such as "HNO3".
    percent : float
        Mass share of the compound in the liquid. [%]
    density : float or None
        Density; from the table of acids if None and the strength stands there. [kg/L]
    name : str or None
        How it is to be called.
    price_per_kg : float or None
        Price. [currency/kg]

    Returns
    -------
    Ingredient
        The liquid, measured in grams; in mL too where the density is known.

    Raises
    ------
    InputError
        With every fault of formula, strength, density and price.

    Examples
    --------
    >>> round(acid("HNO3", percent=67).percent("N"), 1)
    14.9
    """
    made = from_formula(
        formula,
        percent=percent,
        density=density,
        price_per_kg=price_per_kg,
        name=name or f"{formula} {percent} %",
        source_key="stoichiometry",
        how_known="computed",
    )
    made = replace(made, dissolved=made.purity_percent < 100)
    if density is None:
        made = replace(made, density=_tabled_density(made.formula, made.purity_percent))
    return _with_catalogue_facts(made)
