"""What no label can say: more than there is room for, grades against guarantees."""

from dataclasses import replace
from functools import cache

from formulate.ingredients.label_amounts import SAME, WHOLE, form_of
from formulate.ingredients.label_words import family
from formulate.stoichiometry.formula import parse_formula
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import read_table

__all__ = ["check_shares", "element_grade", "least_mass"]

PERCENT = 100.0
MILLI = 1000.0
OXIDES = {"P2O5": "P", "K2O": "K"}  # of a grade, and their elements


@cache
def _rows(kind):
    return tuple(row for row in read_table("label_limits") if row["kind"] == kind)


@cache
def _species(kind):
    """Return subject to (formula, mass of one form in g/mol, charge of one form)."""
    found = {}
    for row in _rows(kind):
        read, count = parse_formula(row["formula"]), row.number("count")
        mass, charge = read.molar_mass / count, read.charge / count
        found[row["subject"]] = (row["formula"], mass, charge)
    return found


def _forms(percents):
    """Return form to amount in 100 g, in mmol, of shares by nutrient key."""
    forms = {}
    for key, percent in percents.items():
        counted, amount = form_of(key, percent)
        forms[counted] = forms.get(counted, 0.0) + amount
    return forms


def least_mass(percents):
    """
    Return the least that a product with these shares can weigh.

    Each form counts as the lightest species that can hold it, and the charge that is left
    over as the lightest ion that can balance it: H+, or an oxide (hydroxide where it is
    potassium or sodium that is left over and neither silicate nor borate can hold).

    Parameters
    ----------
    percents : mapping of str to float
        Nutrient key to share. [%]

    Returns
    -------
    float
        Grams for 100 g of product; above 100 no product can be so. [g]

    Examples
    --------
    >>> round(least_mass({"P2O5": 72.43}), 1)  # pure H3PO4
    100.0
    """
    return sum(_weights(percents).values())


def _weights(percents):
    """Return what weighs in a product: species and counter-ions to grams in 100 g."""
    lightest, grams, charge, alkali = _species("lightest"), {}, 0.0, 0.0
    oxide_holders = _species("alkali")
    for key, amount in _forms(percents).items():
        name, mass, each = lightest[key]
        grams[name] = grams.get(name, 0.0) + amount * mass / MILLI
        charge += amount * each
        alkali += amount if key in ("potassium", "sodium") else 0.0
        alkali += amount * oxide_holders[key][2] if key in oxide_holders else 0.0
    counter = _species("counter-ion")
    if charge < 0:
        grams["H+"] = -charge * counter["anions"][1] / MILLI
        return grams
    hydroxide = min(max(alkali, 0.0), charge)
    _, oxide, each = counter["cations"]
    rest = (charge - hydroxide) * oxide / abs(each) / MILLI
    grams["OH-"] = hydroxide * counter["K Na"][1] / MILLI
    grams["O-2"] = rest
    return {name: mass for name, mass in grams.items() if mass}


def check_shares(shares, reading, faults):
    """
    Hold the shares of a label against what can be.

    Parameters
    ----------
    shares : Shares
        The share of each form.
    reading : LabelReading
        The entries of the label.
    faults : Faults
        Where faults go.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> from formulate.ingredients.label_shares import counted_shares
    >>> from formulate.ingredients.label_text import read_entries
    >>> faults = Faults()
    >>> reading, _ = read_entries("P2O5 80 %", faults)
    >>> check_shares(counted_shares(reading, faults), reading, faults)
    >>> faults.found[0]
    'line 1: P2O5 80 % is more than pure H3PO4 holds, 72.42 %'
    """
    _check_richest(shares, faults)
    _check_chelates(shares, reading, faults)
    _check_room(shares, reading, faults)
    _check_grade(shares, reading, faults)


def _check_richest(shares, faults):
    """Hold each share against the compound that is richest in it."""
    richest = _species("richest")
    for key, percent in shares.percents.items():
        known = nutrient(key)
        counted, weight = next(iter(known.weights.items()))
        if counted not in richest:
            continue
        formula, mass, _ = richest[counted]
        most = known.molar_mass * weight / mass * PERCENT
        entry = shares.entries[key]
        if percent - entry.half_digit > most * (1 + SAME):
            faults.add(
                f"{entry.where}: {key} {percent:g} % is more than pure {formula} holds, "
                f"{most:.4g} %"
            )


def _check_chelates(shares, reading, faults):
    """Hold each metal with its agent against the chelate that is richest in it."""
    limits = {row["subject"]: row["formula"] for row in _rows("chelate")}
    for entry in reading.entries:
        metal = family(entry.key)
        formula = limits.get(f"{metal} {entry.agent}")
        if not formula or entry.kind not in ("chelated", "isomer"):
            continue
        read = parse_formula(formula)
        most = (
            read.atoms[metal] * nutrient(metal).molar_mass / read.molar_mass * PERCENT
        )
        share = entry.percent - entry.half_digit
        if share > most:
            faults.add(
                f"{entry.where}: {entry.percent:g} % {metal} chelated by {entry.agent}; "
                f"the pure chelate {formula} holds {most:.4g} %"
            )


def _check_room(shares, reading, faults):
    """Hold the least mass of everything against the mass there is."""
    percents = dict(shares.percents)
    for key, entry in shares.entries.items():
        doubt = entry.half_digit if entry else 0.0
        percents[key] = max(percents[key] - doubt, 0.0)
    if shares.open_nitrogen:
        percents["NH4-N"] = percents.get("NH4-N", 0.0) + shares.open_nitrogen
    grams = _weights(percents)
    whole = PERCENT
    if reading.share_of == "w/v":
        whole *= float(_rows("densest")[0]["formula"])
    if sum(grams.values()) > whole * (1 + SAME):
        most = sorted(grams.items(), key=lambda pair: -pair[1])[:5]
        listed = ", ".join(f"{name} {mass:.3g}" for name, mass in most)
        of = "100 mL" if reading.share_of == "w/v" else "100 g"
        faults.add(
            f"the analysis weighs at least {sum(grams.values()):.4g} g in {of}, more "
            f"than 100 %: {listed}; look at the numbers and their bases"
        )


def _check_grade(shares, reading, faults):
    """Hold each number of the grade against the guarantee of the same nutrient."""
    for entry in element_grade(reading).entries:
        if entry.kind != "grade":
            continue
        whole = shares.wholes.get(family(entry.key))
        if whole is entry or (whole is None and not entry.percent):
            continue
        if whole is None:
            percent, half = _told(shares, entry), 0.0
            where = "the analysis"
        else:
            percent, half, where = _as(whole, entry.key), whole.half_digit, whole.where
        low = entry.percent - (entry.half_digit if half < entry.half_digit else half)
        high = entry.percent + 2 * entry.half_digit
        if not low - SAME <= percent < high + SAME:
            faults.add(
                f"{entry.where}: the grade says {entry.percent:g} % {entry.key}, {where} "
                f"says {percent:.4g} %"
            )


def element_grade(reading):
    """
    Return a reading with its grade as elements, where the label tells it so in brackets.

    Parameters
    ----------
    reading : LabelReading
        What a label was read as.

    Returns
    -------
    LabelReading
        The same, P and K of the grade as elements where each agrees with a share of the
        element that is printed, and not with one of the oxide.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> from formulate.ingredients.label_text import read_entries
    >>> bag = "NPK 8-3.5-16.6\\nN 8 %\\nP2O5 8 % (P 3.5 %)\\nK2O 20 % (K 16.6 %)"
    >>> [e.key for e in element_grade(read_entries(bag, Faults())[0]).entries[:3]]
    ['N', 'P', 'K']
    """
    grades = [e for e in reading.entries if e.kind == "grade" and e.key in OXIDES]
    told = {e.key: e.percent for e in reading.entries if e.kind in WHOLE}
    pairs = [(e.percent, told.get(OXIDES[e.key], 0.0), told.get(e.key)) for e in grades]
    as_elements = all(abs(share - pure) < SAME for share, pure, _ in pairs)
    as_oxides = all(share == oxide for share, _, oxide in pairs)
    if not any(share for share, _, _ in pairs) or not as_elements or as_oxides:
        return reading
    changed = [
        replace(e, key=OXIDES[e.key]) if e in grades else e for e in reading.entries
    ]
    grade = tuple((e.key, e.percent) for e in changed if e.kind == "grade")
    return replace(reading, entries=tuple(changed), grade=grade)


def _told(shares, entry):
    """Return what the counted shares say of the nutrient of a grade. [%]"""
    wanted = nutrient(entry.key)
    forms = _forms(shares.percents)
    return wanted.amount(forms) * wanted.molar_mass / MILLI


def _as(entry, key):
    """Return a share on the basis of another key of the same element. [%]"""
    if entry.key == key:
        return entry.percent
    forms = _forms({entry.key: entry.percent})
    return nutrient(key).amount(forms) * nutrient(key).molar_mass / MILLI
