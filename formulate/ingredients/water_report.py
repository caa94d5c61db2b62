"""Water reports as laboratories and utilities print them, read into a checked water.

The report is taken apart line by line, brought to mmol/L, checked against itself, and
shown with what it brings to plants and what limits it. Nothing is guessed in silence:
what was assumed stands in `assumed`, what was left out in `notices` and in `report`.
"""

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from formulate.checks import checked_number, checked_pairs
from formulate.errors import Faults, InputError, shortened
from formulate.files import read_text
from formulate.ingredients.report_amounts import (
    alkalinity_told,
    check_row,
    told_amounts,
)
from formulate.ingredients.report_text import (
    read_report,
    report_of_mapping,
)
from formulate.ingredients.water import Water, water
from formulate.ingredients.water_checks import check_water
from formulate.ingredients.water_suitability import water_suitability
from formulate.notices import Notice
from formulate.stoichiometry.charge import charge_at_ph, check_ph, mean_charge
from formulate.stoichiometry.mixtures import mix
from formulate.stoichiometry.nutrients import form, form_names
from formulate.stoichiometry.quantities import check_volume

__all__ = [
    "blend_waters",
    "read_water",
    "water_from_text",
    "water_suitability",
    "with_pure_water",
]

MOST_NAMED = 40  # lines that one notice quotes; the rest is counted
MOST_SHARE = 1.0
PERCENT = 100.0
ACID_END = 4.3  # pH at which no alkalinity is left


def read_water(path_or_mapping, *, name="", unit=None):
    """
    Return a water from a report: a file, or names and values.

    Parameters
    ----------
    path_or_mapping : str, pathlib.Path or mapping
        A CSV or text file, or the name of each quantity to its value with its unit;
        bare numbers of a mapping are mg/L, a bare conductivity is mS/cm.
    name : str
        How the water is called; the name of the file if none is given.
    unit : str or None
        Unit of values that stand without one; None if every value of a file must have
        one.

    Returns
    -------
    Water
        The water, with what was assumed, what does not agree, what it brings and what
        limits it.

    Raises
    ------
    InputError
        With every fault and its line.

    Examples
    --------
    >>> tap = read_water({"Calcium": "94,4 mg/l", "Säurekapazität bis pH 4,3": "4.7 mmol/l"})
    >>> round(tap.solution.mmol_l("Ca"), 3), tap.alkalinity
    (2.355, 4.7)
    """
    if isinstance(path_or_mapping, Mapping):
        faults = Faults("water report")
        report = report_of_mapping(path_or_mapping, unit=unit or "mg/L", faults=faults)
        return _water_of(report, faults, name)
    if isinstance(path_or_mapping, str) and "\n" in path_or_mapping:
        return water_from_text(path_or_mapping, name=name, unit=unit)
    if not isinstance(path_or_mapping, str | Path):
        what = f"{shortened(path_or_mapping)} is neither a file nor names and values"
        raise InputError(f"water report: {what}")
    text = read_text(path_or_mapping)
    return water_from_text(text, name=name or Path(path_or_mapping).stem, unit=unit)


def water_from_text(text, *, name="", unit=None):
    """
    Return a water from the text of a report.

    Parameters
    ----------
    text : str
        The lines of a report, or a CSV with a heading line.
    name : str
        How the water is called.
    unit : str or None
        Unit of values that stand without one; None if every value must have one.

    Returns
    -------
    Water
        The water.

    Raises
    ------
    InputError
        With every fault and its line.

    Examples
    --------
    >>> tap = water_from_text("Calcium (Ca) ........ 94,4 mg/l\\nNitrat-N ..... 3,7 mg/l")
    >>> round(tap.solution.mg_l("NO3"), 1)
    16.4
    """
    faults = Faults("water report")
    return _water_of(read_report(text, unit=unit, faults=faults), faults, name)


# --- from a report to a water -----------------------------------------------------------


def _water_of(report, faults, name):
    """Return the water that a report makes, checked."""
    said = []
    told = told_amounts(report, faults, said)
    alkalinity = alkalinity_told(told, said)
    if alkalinity is not None:
        told["alkalinity"] = alkalinity
    ph = _ph(told, faults)
    faults.found.sort(key=_line_of)
    faults.raise_if_any()
    if not set(told) - {"temperature"}:
        raise InputError("water report: no measurement could be read", *_left(report))
    warnings = []
    ph = _usable_ph(ph, told.get("alkalinity"), warnings)
    made = water(_contents(told), name=name, ph=ph, ec=_amount(told, "EC"))
    made = replace(made, report=report, assumed=(*said, *made.assumed))
    notices = [*warnings, *check_water(made, told)]
    notices += [*water_suitability(made).notices(), *_left_out(report)]
    return replace(made, notices=tuple(notices))


def _line_of(fault):
    """Return the line that a fault names, to sort by."""
    match = re.search(r"line (\d+)", fault)
    return int(match.group(1)) if match else 0


def _amount(told, quantity):
    return told[quantity].amount if quantity in told else None


def _contents(told):
    """Return the ions and the alkalinity as an analysis, with their units."""
    contents = {}
    for quantity, known in told.items():
        if quantity in form_names() and quantity != "carbonate":
            contents[form(quantity).symbol] = f"{known.amount!r} mmol/L"
        elif quantity == "iron":
            contents["Fe"] = f"{known.amount!r} mmol/L"
        elif quantity == "alkalinity":
            contents["alkalinity"] = f"{known.amount!r} meq/L"
    return contents


def _ph(told, faults):
    """Return the printed pH, or None."""
    if "pH" not in told:
        return None
    with faults.collecting(told["pH"].entry.where):
        return check_ph(told["pH"].amount)


def _usable_ph(ph, alkalinity, warnings):
    """Return the pH if it can stand beside the alkalinity, else None with a notice."""
    if ph is None or alkalinity is None:
        return ph
    carbon = (alkalinity.amount + charge_at_ph({}, ph)) / -mean_charge("carbonate", ph)
    most = check_row("CO2 in water at 1 bar").number("limit")
    no_acid = alkalinity.amount <= 10 ** (3 - ACID_END) or ph >= ACID_END
    if 0 <= carbon <= most + alkalinity.amount and no_acid:
        return ph
    what = (
        f"pH {ph:g} and an alkalinity of {alkalinity.amount:.3g} meq/L cannot stand "
        "together; the pH is not used. Measure both again"
    )
    warnings.append(Notice(what, "serious", ph))
    return None


def _left(report):
    return [f"line {left.line}: {shortened(left.text)}" for left in report.left_out[:5]]


def _left_out(report):
    """Yield notices that name the lines and numbers that were not read."""
    for why, what, severity in (
        ("not understood", "left out, not understood", "caution"),
        ("no value", "left out, without a value", "note"),
        ("known and not counted", "read and not counted", "note"),
        ("no measurement", "left out, no measurement seen in them", "note"),
    ):
        lines = [left for left in report.left_out if left.why == why]
        if lines:
            named = [f"line {n.line} {shortened(n.text)}" for n in lines[:MOST_NAMED]]
            more = len(lines) - len(named)
            named += [f"and {more} lines more"] if more else []
            yield Notice(f"{what}: {'; '.join(named)}", severity)
    beside = [entry for entry in report.entries if entry.beside]
    if beside:
        named = [f"line {e.line} {shortened(e.beside)}" for e in beside[:MOST_NAMED]]
        more = len(beside) - len(named)
        named += [f"and {more} lines more"] if more else []
        yield Notice(f"beside the values, not used: {'; '.join(named)}")


# --- two waters in one tank -------------------------------------------------------------


def blend_waters(parts, *, name=""):
    """
    Return the water that several waters make together.

    Alkalinity and inorganic carbon are conserved; the pH is not known afterwards.

    Parameters
    ----------
    parts : iterable of (Water, float or str)
        Each water with its share or its volume; a text may carry a unit or "%". [L]
    name : str
        How the blend is called; made from the names of the waters if none is given.

    Returns
    -------
    Water
        The blend, without a pH.

    Raises
    ------
    InputError
        If nothing is blended, or a share is not above 0.

    Examples
    --------
    >>> from formulate.ingredients.water import water
    >>> half = blend_waters([(water("hard"), 0.5), (water("reverse-osmosis"), 0.5)])
    >>> round(half.alkalinity, 2), half.ph
    (2.86, None)
    """
    pairs = checked_pairs(parts, Water, ("blend", "water", "share"), _share)
    total = sum(share for _, share in pairs)
    shares = [(one, share / total) for one, share in pairs]
    made = mix([(one.solution, share) for one, share in shares])
    assumed = [f"{share:.4g} of it: {one.name or 'water'}" for one, share in shares]
    for one, _ in shares:
        assumed += [f"{one.name or 'water'}: {text}" for text in one.assumed]
    ec = _blended_ec(shares, assumed)
    blend = Water(
        name or " and ".join(one.name or "water" for one, _ in shares),
        made,
        ec=ec,
        alkalinity=_blended_alkalinity(shares, assumed),
        assumed=tuple(assumed),
        source_key=_sources(shares),
        parts=tuple(shares),
    )
    unknown = Notice("the pH of a blend is not known: measure it", "note")
    return replace(blend, notices=(unknown, *water_suitability(blend).notices()))


def with_pure_water(tap, share_percent):
    """
    Return what a share of a water makes, the rest rain or reverse osmosis water.

    The rest counts as pure. A pH and an EC that were measured of the water do not hold for
    the blend and are not told of it.

    Parameters
    ----------
    tap : Water
        The water.
    share_percent : float
        How much of the blend is this water. [%]

    Returns
    -------
    Water
        The blend, its parts told; the water itself if it is all of it.

    Raises
    ------
    InputError
        If it is no share from 0 to 100.

    Examples
    --------
    >>> from formulate.ingredients.water import water
    >>> well = water({"Na": 112}, name="well")
    >>> made = with_pure_water(well, 25)
    >>> made.name, round(made.solution.mg_l("Na"), 6)
    ('25 % of well, 75 % pure water', 28.0)
    """
    percent = checked_number(share_percent, "share_percent", least=0, most=PERCENT)
    if percent == PERCENT:
        return tap
    share, pure = percent / PERCENT, water({}, name="pure water")
    called = tap.name or "the water"
    name = f"{percent:.4g} % of {called}, {PERCENT - percent:.4g} % {pure.name}"
    silent = replace(tap, ec=None)
    pairs = [(silent, share), (pure, 1 - share)] if share else [(pure, 1)]
    made = blend_waters(pairs, name=name)
    told = (*_of_analysis(tap), *made.notices)
    parts = ((tap, share), (pure, 1 - share))
    return replace(made, notices=told, parts=parts, source_key=tap.source_key)


def _of_analysis(tap):
    """Yield what is to know of an analysis, and not of what the water is fit for."""
    fit = water_suitability(tap).notices()
    for notice in tap.notices:
        if notice not in fit:
            yield replace(notice, what=f"of the analysis: {notice.what}")


def _sources(shares):
    """Return the source keys of waters, each once."""
    each = (key.strip() for one, _ in shares for key in one.source_key.split(";"))
    return ";".join(dict.fromkeys(filter(None, each)))


def _share(value):
    """Return a share or a volume as a number above 0."""
    if isinstance(value, str):
        text = value.strip()
        return check_volume(f"{text[:-1]} L" if text.endswith("%") else text)
    return checked_number(value, "share or volume", above=0)


def _blended_ec(shares, assumed):
    """Return the conductivity by shares, or None if one is not known."""
    known = [(one.ec, share) for one, share in shares if one.solution.forms or one.ec]
    if not known or any(ec is None for ec, _ in known):
        return None
    assumed.append("EC by shares; measured it is a little higher")
    return sum(ec * share for ec, share in known)


def _blended_alkalinity(shares, assumed):
    """Return the alkalinity by shares; a water that tells none counts as 0, said."""
    known = [(one, share) for one, share in shares if one.alkalinity is not None]
    if not known:
        return None
    for one, _ in shares:
        if one.alkalinity is None and one.solution.forms:
            assumed.append(f"{one.name or 'water'} tells no alkalinity: counted as 0")
    return sum(one.alkalinity * share for one, share in known)
