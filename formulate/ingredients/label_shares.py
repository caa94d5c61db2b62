"""What share of each form a label gives: totals held against their parts, chelates paired."""

from formulate.ingredients.label_amounts import (
    LEGAL_FACTORS,
    SAME,
    UNCLEAR_CARBON,
    WHOLE,
    Shares,
    form_amount,
    rounding,
)
from formulate.ingredients.label_nitrogen import count_nitrogen
from formulate.ingredients.label_sources import sources_of
from formulate.ingredients.label_text import LabelEntry
from formulate.ingredients.label_words import family
from formulate.stoichiometry.nutrients import nutrient, nutrient_keys

__all__ = ["counted_shares"]

MILLI = 1000.0
ORGANIC = "may be organic carbon, which is no carbonate; write CO3 if it is; left out"


def counted_shares(reading, faults, *, name=""):
    """
    Return the share of each form that a label gives.

    Parameters
    ----------
    reading : LabelReading
        The entries of the label.
    faults : Faults
        Where faults go.
    name : str
        Name of the product; if it is a material, it tells the source too.

    Returns
    -------
    Shares
        The shares, with what was assumed.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> from formulate.ingredients.label_text import read_entries
    >>> reading, _ = read_entries("Kaliumoxid 30 %", Faults())
    >>> counted_shares(reading, Faults()).percents
    {'K2O': 30.0}
    """
    shares = Shares()
    groups = {}
    for entry in reading.entries:
        if entry.kind == "at most":
            continue
        if entry.key == UNCLEAR_CARBON:
            shares.note(f"{entry.where}: {entry.percent:g} % C {ORGANIC}", "caution")
            continue
        groups.setdefault(family(entry.key), []).append(entry)
    sources = sources_of(reading.derived_from)
    if not sources and name:
        named = sources_of([name])[0]
        sources = (named,) if named.is_known and named.brings else ()
    for element, entries in groups.items():
        if element == "N":
            count_nitrogen(shares, entries, sources, faults, groups)
        else:
            _element(shares, element, entries, sources, reading.agents, faults)
    if any("phosphite" in source.brings for source in sources):
        what = "a source is a phosphite: its phosphorus is counted, but does not feed"
        shares.note(what, "caution")
    return shares


# --- elements -------------------------------------------------------------------------------


def _excess(part, whole):
    """Return whether a part is more than its whole; where both show as many digits,
    rounding cannot make it so."""
    halves = (part.half_digit, whole.half_digit)
    slack = form_amount(whole, max(halves) if halves[0] != halves[1] else 0.0)
    if part.key != whole.key:
        slack = rounding(part, whole) + LEGAL_FACTORS * form_amount(whole)
    return form_amount(part) > form_amount(whole) + slack + SAME


def _element(shares, element, entries, sources, agents, faults):
    """Count one element: the share that stands for it, then what holds it."""
    whole = _whole(entries, faults, element)
    held = [e for e in entries if e.kind in ("chelated", "complexed", "isomer")]
    if whole is None:
        free = [e for e in entries if e.kind in ("free", "uncounted")]
        for entry in free:
            shares.note(
                f"{entry.where}: {entry.key} that does not dissolve is not counted",
                "caution",
            )
        if not held:
            return
    parts = [e for e in entries if e.kind in ("part", "combined", "available")]
    for part in (*parts, *held):
        if whole and _excess(part, whole):
            faults.add(
                f"{part.where}: {part.key} {part.percent:g} % is part of "
                f"{whole.percent:g} % ({whole.where}) and cannot be more"
            )
    _check_free(entries, faults)
    if whole:
        shares.wholes[element] = whole
        _note_undissolved(shares, whole, parts, entries)
    if whole and not held and element != "Fe":
        shares.count(whole.key, whole.percent, whole)
        return
    _metal(shares, element, whole, _by_agent(held), sources, agents, faults)


def _whole(entries, faults, element):
    """Return the entry that counts for an element, after holding like against like."""
    by_kind = {}
    for entry in entries:
        first = by_kind.setdefault(entry.kind, entry)
        different = abs(form_amount(entry) - form_amount(first))
        legal = LEGAL_FACTORS * form_amount(first)
        if first.key != entry.key and different > rounding(entry, first) + legal:
            faults.add(
                f"{first.where} and {entry.where}: {first.key} {first.percent:g} % and "
                f"{entry.key} {entry.percent:g} % are not the same amount"
            )
    order = WHOLE
    if element == "P":
        order = ("available", "total", "part")
    if element == "S":
        order = ("combined", *WHOLE)
    for kind in order:
        found = [e for e in entries if e.kind == kind]
        if found:
            whole = _first_told(max(found, key=form_amount), entries)
            return _without_free(whole, entries, kind)
    grades = [e for e in entries if e.kind == "grade"]
    held = any(e.kind in ("chelated", "complexed", "isomer") for e in entries)
    return grades[0] if grades and not held else None


def _first_told(whole, entries):
    """Return the first entry that tells the same amount on another basis."""
    for entry in entries:
        other = entry.key != whole.key and entry.kind in WHOLE
        apart = abs(form_amount(entry) - form_amount(whole))
        legal = LEGAL_FACTORS * form_amount(whole)
        if other and apart <= rounding(entry, whole) + legal:
            return entry
        if entry is whole:
            break
    return whole


def _without_free(whole, entries, kind):
    """Return the total of sulfur less what is free; other totals as they are."""
    free = [e for e in entries if e.kind == "free"]
    if not free or kind != "total":
        return whole
    left = max(whole.percent - sum(e.percent for e in free), 0.0)
    return LabelEntry(
        whole.line, whole.text, whole.key, left, half_digit=whole.half_digit
    )


def _check_free(entries, faults):
    """Hold free and combined sulfur against their total."""
    kinds = {e.kind: e for e in entries if e.kind in ("total", "free", "combined")}
    if len(kinds) < len(("total", "free", "combined")):
        return
    total, free, combined = (kinds[kind] for kind in ("total", "free", "combined"))
    if abs(form_amount(total) - form_amount(free) - form_amount(combined)) > rounding(
        *kinds.values()
    ):
        faults.add(
            f"{total.where}: {total.percent:g} % {total.key} is not {free.percent:g} % "
            f"free and {combined.percent:g} % combined ({free.where}, {combined.where})"
        )


def _note_undissolved(shares, whole, parts, entries):
    """Say how much of what is counted is not told to dissolve, or is elemental."""
    soluble = [e for e in parts if e.kind == "part"]
    most = max(soluble, key=form_amount, default=None)
    if most and form_amount(most) < form_amount(whole) - rounding(most, whole):
        what = (
            f"{most.where}: only {most.percent:g} % of the {whole.percent:g} % "
            f"{whole.key} is told to dissolve in water; all of it is counted"
        )
        shares.note(what, "note", most.percent, whole.percent)
    for entry in entries:
        if entry.kind in ("free", "uncounted"):
            what = f"{entry.where}: {entry.percent:g} % {entry.key} does not dissolve"
            shares.note(f"{what} as such and is not counted", "caution")


# --- metals and what holds them ----------------------------------------------------------------


def _by_agent(held):
    """Return agent to the entry of the metal it holds; isomers only without their sum."""
    found = {}
    for entry in held:
        if entry.kind != "isomer":
            agent = entry.agent or ("other" if entry.kind == "complexed" else "")
            found.setdefault(agent, []).append(entry)
    isomers = [e for e in held if e.kind == "isomer"]
    if isomers and isomers[0].agent not in found:
        found[isomers[0].agent] = isomers
    return found


def _metal(shares, element, whole, held, sources, agents, faults):
    """Count a metal: what each agent holds with it, the rest on its own."""
    named = {
        a: sum(map(form_amount, es)) for a, es in held.items() if a not in ("", "other")
    }
    bare = sum(map(form_amount, held.get("", [])))
    loose = sum(map(form_amount, held.get("other", [])))
    told = max(bare, sum(named.values()))
    first = whole or next(entry for found in held.values() for entry in found)
    total = form_amount(whole) if whole else max(told, 0.0) + loose
    every = [e for found in held.values() for e in found]
    if whole and sum(named.values()) > total + rounding(whole, *every):
        faults.add(
            f"{first.where}: the agents hold more {element} than there is in all"
        )
    rest = bare - sum(named.values())
    if rest > rounding(*every):
        agent = _likely_agent(element, sources, set(agents) - set(named))
        if agent:
            named[agent] = named.get(agent, 0.0) + rest
            shares.assumed.append(
                f"{element} chelated by {agent}: the only agent named"
            )
        else:
            what = f"{held[''][0].where}: {element} is chelated, by what is not told"
            shares.note(f"{what}; counted as the metal alone", "caution")
    if "other" in held:
        what = (
            f"{held['other'][0].where}: the agent that holds {element} is not counted"
        )
        shares.note(what)
    for agent, amount in named.items():
        grams = amount * nutrient(agent).molar_mass / MILLI
        shares.count(agent, grams, held.get(agent, [first])[0])
    chelated = max(sum(named.values()), bare) + loose
    _count_metal(shares, first, total, chelated, sources)


def _likely_agent(element, sources, agents):
    """Return the one agent that the label names for a metal, or None."""
    of_metal = {a for s in sources if element in s.metals for a in s.agents}
    found = of_metal or set(agents)
    chelators = {key for key in found if key in nutrient_keys()}
    return chelators.pop() if len(found) == 1 and chelators else None


def _count_metal(shares, entry, total, chelated, sources):
    """Count a metal; iron as iron(III) where it is held, else as its source tells."""
    known = nutrient(entry.key)
    grams = total * next(iter(known.weights.values())) * known.molar_mass / MILLI
    if entry.key != "Fe":
        shares.count(entry.key, grams, entry)
        return
    held = min(chelated, total) * known.molar_mass / MILLI
    free = grams - held
    if free <= entry.half_digit:
        held, free = grams, 0.0
    shares.count("Fe(III)", held if chelated else 0.0, entry)
    free = free if chelated else grams
    if free <= SAME:
        return
    states = {key for s in sources for key in s.brings if key in ("Fe(II)", "Fe(III)")}
    if entry.sulfate or states == {"Fe(II)"}:
        shares.count("Fe(II)", free, entry)
        shares.assumed.append(f"{free:.3g} % iron as iron(II), from its sulfate")
    else:
        shares.count("Fe(III)", free, entry)
        why = "" if states == {"Fe(III)"} else "; the label does not tell its state"
        shares.assumed.append(f"{free:.3g} % iron as iron(III){why}")
