"""The nitrogen of a label: its forms held against their total; unnamed ones refused."""

from formulate.errors import shortened
from formulate.ingredients.label_amounts import SAME, WHOLE, form_amount, rounding
from formulate.ingredients.label_sources import NITROGEN_FORMS
from formulate.stoichiometry.nutrients import nutrient

__all__ = ["UNNAMED", "count_nitrogen", "short_forms"]

NITROGEN = tuple(NITROGEN_FORMS.values())
NITRATE_SLACK = 0.02  # a salt may be a little wet or impure
EXACT = 0.05  # percent: half of the last digit of 15.5; whole numbers are exact
MILLI = 1000.0
UNNAMED = "does not say which nitrogen"  # in the fault on nitrogen of no told form


def count_nitrogen(shares, entries, sources, faults, groups):
    """
    Count nitrogen form by form, and hold the forms against the total.

    Parameters
    ----------
    shares : Shares
        Where the shares are counted.
    entries : sequence of LabelEntry
        What the label says of nitrogen.
    sources : sequence of Source
        What it is derived from.
    faults : Faults
        Where faults go.
    groups : mapping of str to list of LabelEntry
        Element to what the label says of it.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> from formulate.ingredients.label_amounts import Shares
    >>> from formulate.ingredients.label_text import LabelEntry
    >>> shares = Shares()
    >>> told = [LabelEntry(1, "nitrate nitrogen", "NO3-N", 5.0, "form")]
    >>> count_nitrogen(shares, told, (), Faults(), {"N": told})
    >>> shares.percents
    {'NO3-N': 5.0}
    """
    forms, other = _nitrogen_forms(entries, faults)
    total = next((e for e in entries if e.key == "N" and e.kind == "total"), None)
    grade = next((e for e in entries if e.kind == "grade"), None)
    total = total or grade
    for key, entry in forms.items():
        shares.count(key, _as_nitrogen(entry), entry)
    for entry in other:
        what = (
            f"{entry.where}: {entry.percent:g} % nitrogen of a form that is not counted"
        )
        shares.note(f"{what}: {shortened(entry.text, 40)}", "caution")
    for entry in entries:
        if entry.kind == "slow":
            what = (
                f"{entry.where}: {entry.percent:g} % of the nitrogen is released slowly"
            )
            shares.note(what, "caution")
    if total is None:
        return
    shares.wholes["N"] = total
    slow = [e for e in entries if e.kind == "slow"]
    for more in ([], slow):
        named = [*forms.values(), *other, *more]
        left = total.percent - sum(map(_as_nitrogen, named))
        if abs(left) <= _forms_rounding(total, named):
            return
    told = sum(map(_as_nitrogen, [*forms.values(), *other]))
    left = total.percent - told
    if left < 0 or (forms and not sources):
        names = [*forms.values(), *other]
        places = ", ".join(dict.fromkeys(e.where for e in names))
        faults.add(
            f"{total.where}: total nitrogen {total.percent:g} %, its forms add up to "
            f"{told:g} % ({places}); one of them is wrong or missing"
        )
        return
    _decide(shares, total, left, forms, sources, faults, groups)


def short_forms(reading):
    """
    Return total nitrogen and its forms where these, rounded down, cannot reach it.

    Of a minimum that was rounded down nearly one unit of the last digit may be missing; of
    shares in whole percents nothing is.

    Parameters
    ----------
    reading : LabelReading
        What a label was read as.

    Returns
    -------
    tuple of (LabelEntry, float, float)
        The total, what its forms add up to, and what they are at most; empty where they
        reach it, or are so far off that `count_nitrogen` tells it. [%]

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> from formulate.ingredients.label_text import read_entries
    >>> bag = "Total Nitrogen (N) 20 %\\n 9.7 % Urea Nitrogen\\n 9.9 % Nitrate Nitrogen"
    >>> total, told, most = short_forms(read_entries(bag, Faults(), basis="us")[0])
    >>> total.percent, round(told, 6), round(most, 6)
    (20.0, 19.6, 19.8)
    """
    total = next(
        (e for e in reading.entries if e.key == "N" and e.kind == "total"), None
    )
    forms = [e for e in reading.entries if e.kind == "form"]
    is_other = any(e.kind in ("uncounted", "slow") for e in reading.entries)
    if total is None or not forms or is_other:
        return ()
    told = sum(map(_as_nitrogen, forms))
    most = told + sum(2 * min(e.half_digit, EXACT) for e in forms)
    if (
        total.percent - told > _forms_rounding(total, forms)
        or most > total.percent - SAME
    ):
        return ()
    return total, told, most


def _as_nitrogen(entry):
    """Return the share of an entry as nitrogen. [%]"""
    known = nutrient(entry.key)
    if entry.key in NITROGEN or entry.key == "N":
        return entry.percent
    per_form = 2 if "urea" in known.weights else 1
    return form_amount(entry) * per_form * nutrient("N").molar_mass / MILLI


def _nitrogen_forms(entries, faults):
    """Return each form of nitrogen to its entry, and nitrogen that no form counts."""
    forms, other = {}, []
    for entry in entries:
        if entry.kind == "uncounted":
            other.append(entry)
        if entry.kind != "form":
            continue
        counted = next(iter(nutrient(entry.key).weights))
        key = NITROGEN_FORMS.get(counted, "NO2-N")
        first = forms.setdefault(key, entry)
        if abs(form_amount(first) - form_amount(entry)) > rounding(first, entry):
            faults.add(
                f"{first.where} and {entry.where}: {first.key} {first.percent:g} % and "
                f"{entry.key} {entry.percent:g} % are not the same amount"
            )
    return forms, other


def _decide(shares, total, left, forms, sources, faults, groups):
    """Give nitrogen without a form the one that the sources leave, or refuse."""
    open_fault = f"{total.where}: the label {UNNAMED} {left:g} % is; give its forms"
    brought = {key for source in sources for key in source.brings}
    known = bool(sources) and all(source.is_known for source in sources)
    candidates = (brought & set(NITROGEN)) - set(forms)
    if not known or "other-N" in brought or not candidates:
        shares.open_nitrogen = left
        faults.add(open_fault)
        return
    bringing = [s for s in sources if s.brings & set(NITROGEN)]
    if len(candidates) == 1:
        chosen = {candidates.pop(): left}
    elif len(bringing) == 1 and bringing[0].half_and_half and not forms:
        chosen = {"NO3-N": left / 2, "NH4-N": left / 2}
    else:
        shares.open_nitrogen = left
        faults.add(open_fault)
        return
    if _too_much_nitrate(chosen, bringing, groups):
        shares.open_nitrogen = left
        faults.add(f"{open_fault}: it is more nitrate than the named metals can hold")
        return
    for key, percent in chosen.items():
        shares.count(key, percent, total)
        shares.assumed.append(
            f"{percent:g} % nitrogen as {nutrient(key).name}: the sources bring no other"
        )


def _too_much_nitrate(chosen, bringing, groups):
    """Return whether nitrate is more than the metals of its sources, all told, can hold."""
    if set(chosen) != {"NO3-N"} or not all(source.metals for source in bringing):
        return False
    held, doubt = 0.0, 0.0
    for element in {metal for source in bringing for metal in source.metals} - {"N"}:
        told = [e for e in groups.get(element, ()) if e.kind in (*WHOLE, "grade")]
        if not told:
            return False
        charge = abs(nutrient(told[0].key).charge_per_amount())
        weight = next(iter(nutrient(told[0].key).weights.values()))
        held += max(map(form_amount, told)) * charge * weight
        doubt += max(map(rounding, told)) * 2
    nitrate = chosen["NO3-N"] / nutrient("N").molar_mass * MILLI
    return nitrate > held * (1 + NITRATE_SLACK) + doubt


def _forms_rounding(total, named):
    """Return how far the forms of nitrogen may be from their total. [%]

    Whole percents are meant as they stand; a total with fewer digits than its forms may
    be rounded.
    """
    finer = total.percent and any(e.half_digit < total.half_digit for e in named)
    of_total = total.half_digit if finer else min(total.half_digit, EXACT)
    return of_total + sum(min(e.half_digit, EXACT) for e in named) + SAME
