"""The verdict on each guaranteed nutrient of an assay, and on the main ones together."""

import math
from dataclasses import replace

from formulate.claims.allowances import (
    MAIN,
    eu_tolerance,
    same_nutrient,
    share_as,
    us_allowance,
)
from formulate.claims.finding import Finding
from formulate.errors import MissingData
from formulate.ingredients.label_amounts import SAME
from formulate.ingredients.label_words import family
from formulate.tables import read_table, rule_of

__all__ = ["beyond_limit", "judged", "named_rule", "overall_index", "worst_value"]

PERCENT = 100.0
RULED_PARTS = ("available", "water-soluble")  # of N.H. and Florida: total or soluble
NAMES = {
    "us": "US investigational allowances",
    "eu": "tolerances of EU 2019/1009 Annex III",
}


# --- one nutrient -------------------------------------------------------------------------


def judged(line, rule, form, material):
    """
    Return the allowance of one nutrient and what was found of it.

    Parameters
    ----------
    line : Assayed
        Guarantee and values.
    rule : str
        "us" or "eu".
    form : str
        "solid" or "liquid".
    material : str or None
        A material with an allowance of its own.

    Returns
    -------
    allowed : Allowance or None
        The allowance; None where none is known.
    finding : Finding
        The verdict.

    Examples
    --------
    >>> from formulate.claims.assay_values import Assayed
    >>> judged(Assayed("N", 10.0, (9.3,), 0.0, (1,)), "us", "solid", None)[1].verdict
    'wrong'
    """
    try:
        allowed = _allowance(line, rule, form, material)
    except MissingData as missing:
        return None, _without_allowance(line, rule, str(missing))
    if not line.values or not line.guarantee:
        return allowed, _untested(line, allowed)
    return allowed, _tested(line, allowed)


def _allowance(line, rule, form, material):
    """Return the allowance of a nutrient; of a part that no rule names a doubtful one."""
    if rule == "us":
        allowed = us_allowance(line.key, line.guarantee, material=material)
    else:
        allowed = eu_tolerance(line.key, line.guarantee, form=form)
    if not line.part or (rule == "us" and line.part in RULED_PARTS):
        return allowed
    doubt = f"it is that of all {line.key}; no rule that was read names this part"
    return replace(allowed, doubt=doubt, sure_below=0.0)


def _untested(line, allowed):
    """Return the finding where there is nothing to hold against something."""
    if not line.guarantee:
        what, verdict = "0 % guaranteed, which promises nothing", "right"
    else:
        what, verdict = (
            f"{_plain(line.guarantee)} % guaranteed, not analysed",
            "cannot tell",
        )
    return Finding(
        line.name, verdict, what, rule=named_rule(allowed), limit=allowed.low
    )


def _without_allowance(line, rule, why):
    """Return the finding where no allowance is known: only enough is surely right."""
    if not line.values:
        what = f"{_plain(line.guarantee)} % guaranteed, not analysed; {why}"
        return Finding(
            line.name, "cannot tell", what, limit=line.guarantee, rule=NAMES[rule]
        )
    enough = rule == "us" and line.least >= line.guarantee - SAME
    if enough:
        what = f"{_told(line)}; nothing is missing, whatever the allowance"
    else:
        what = f"{_told(line)}; {why}"
    verdict = "right" if enough else "cannot tell"
    severity = "note" if enough else "caution"
    return Finding(
        line.name, verdict, what, line.nearest, line.guarantee, severity, NAMES[rule]
    )


def _tested(line, allowed):
    """Return the finding of a nutrient with values and an allowance."""
    off = line.nearest - line.guarantee
    beyond = beyond_limit(line.nearest, allowed)
    verdict, why = _verdict(line, allowed)
    parts = [_told(line), _distance(off, allowed, line.below)]
    if beyond > SAME:
        parts[-1] += f": {_plain(beyond)} points beyond"
    parts += [why, _alone(line, allowed), _memory(allowed)]
    if verdict == "wrong":
        parts += [allowed.other_edition]
    if verdict != "right":
        parts += [_slip(line, allowed)]
    over = off > 0 and not math.isinf(allowed.high)
    return Finding(
        line.name,
        verdict,
        "; ".join(filter(None, parts)),
        line.nearest,
        allowed.high if over else allowed.low,
        "note" if verdict == "right" and not _alone(line, allowed) else "caution",
        named_rule(allowed),
        allowed.source_key,
    )


def beyond_limit(value, allowed):
    """
    Return by how much a value lies beyond what is allowed.

    Parameters
    ----------
    value : float
        What was found. [%]
    allowed : Allowance
        What is allowed.

    Returns
    -------
    float
        Points of percent; negative within the limits. [%]

    Examples
    --------
    >>> from formulate.claims.allowances import us_allowance
    >>> round(beyond_limit(9.3, us_allowance("N", 10)), 2)
    0.12
    """
    return max(allowed.low - value, value - allowed.high)


def _verdict(line, allowed):
    """Return the verdict on the mean, and why if nothing can be told."""
    least, most = line.least, line.most
    sure = allowed.guarantee - allowed.sure_below
    if least >= sure - SAME and most <= allowed.high + SAME:
        return "right", ""
    if allowed.doubt:
        return "cannot tell", f"the allowance is doubtful: {allowed.doubt}"
    if most < allowed.low - SAME or least > allowed.high + SAME:
        return "wrong", ""
    if not line.uncertainty:
        what = "what was found is an upper end, which leaves open where the value lies"
        return "cannot tell", f"{what}; ask for a finer analysis"
    doubt = f"± {_plain(line.uncertainty)} of the laboratory"
    return "cannot tell", f"{doubt} reaches over the limit; analyse again"


def _plain(value):
    """Return a percentage as text, without what floats add."""
    return f"{round(value, 6):.5g}"


def _told(line):
    """Return what is guaranteed and what was found, in words."""
    low, high = line.ends
    value = _plain(high) if low == high else f"{_plain(low)} to {_plain(high)}"
    if not low < SAME < high:
        found = f"{_plain(line.guarantee)} % guaranteed, {value} % found"
    else:
        found = f"{_plain(line.guarantee)} % guaranteed, below {_plain(high)} % found"
    if len(line.values) == 1:
        return found
    least, most = min(line.values), max(line.values)
    mark = "< " if line.below and least not in line.lows else ""
    ends = f"{mark}{_plain(least)} to {_plain(most)}"
    return f"{found} (mean of {len(line.values)}, {ends})"


def _distance(off, allowed, below):
    """Return in words how far off the guarantee it is, and how far it may be."""
    if abs(off) <= SAME:
        return "it may be as guaranteed or less" if below else "as guaranteed"
    least = "at least " if below and off < 0 else ""
    if off < 0:
        return f"{least}{_plain(-off)} short, {_plain(allowed.below)} allowed"
    if math.isinf(allowed.above):
        return f"{_plain(off)} more, which this rule does not mind"
    return f"{_plain(off)} over, {_plain(allowed.above)} allowed"


def worst_value(line, allowed):
    """
    Return the value of an assay that is worst off.

    Parameters
    ----------
    line : Assayed
        Guarantee and values.
    allowed : Allowance or None
        What is allowed; None where it is not known.

    Returns
    -------
    value : float
        What was found; of what lies below detection the limit. [%]
    place : int
        Its place among the values, counted from 0. [-]

    Examples
    --------
    >>> from formulate.claims.assay_values import Assayed
    >>> worst_value(Assayed("N", 10.0, (9.9, 9.3), 0.0, (1, 2)), None)
    (9.3, 1)
    """
    if allowed is None:
        places = [(abs(v - line.guarantee), v, n) for n, v in enumerate(line.values)]
    else:
        places = [(beyond_limit(v, allowed), v, n) for n, v in enumerate(line.values)]
    _, value, place = max(places)
    return value, place


def _alone(line, allowed):
    """Return in words which samples are beyond the limits where the mean is not."""
    if beyond_limit(line.nearest, allowed) > SAME:
        return ""
    told = [
        f"sample {number} alone, {_plain(value)} %, is beyond"
        for number, value in zip(line.samples, line.values, strict=True)
        if beyond_limit(value, allowed) > SAME
    ]
    return "; ".join(told)


def _memory(allowed):
    """Return in words that an allowance is known from memory only."""
    return "allowance from memory only" if allowed.how_known == "memory" else ""


def _slip(line, allowed):
    """Return in words which other basis of the laboratory would make it right."""
    for other in () if line.below else _other_keys(line.key):
        meant = share_as(line.mean, other, line.key)
        if abs(meant - line.guarantee) <= allowed.below + SAME:
            return (
                f"if the laboratory's number is {other}, it is {_plain(meant)} % "
                f"{line.key} and right: ask for its basis"
            )
    return ""


def _other_keys(key):
    """Return the keys on which a laboratory may have told the same nutrient."""
    oxides = {
        other
        for row in read_table("eu_tolerances")
        for other in row["nutrients"].split()
        if same_nutrient(key, other)
    }
    others = {family(key), *oxides} - {key}
    return sorted(other for other in others if same_nutrient(key, other))


def named_rule(allowed):
    """
    Return rule and edition in words.

    Parameters
    ----------
    allowed : Allowance
        What is allowed.

    Returns
    -------
    str
        Both.

    Examples
    --------
    >>> from formulate.claims.allowances import us_allowance
    >>> named_rule(us_allowance("Zn", 1)).split("; ")[1]
    'N.H. Admin. Code Agr 1105.04, as in force from 30 April 2024'
    """
    return f"{allowed.rule}; {allowed.edition}"


# --- all main nutrients together ----------------------------------------------------------


def overall_index(lines):
    """
    Return the finding on the overall index value of the main nutrients.

    It is a mean of found over guaranteed, weighed by money values that are not told (from
    memory); so it lies between the least and the greatest of them. Not every state asks
    for it: it stands beside the verdict.

    Parameters
    ----------
    lines : sequence of Assayed
        Guarantee and values of each nutrient.

    Returns
    -------
    Finding or None
        The finding; None if no main nutrient is guaranteed.

    Examples
    --------
    >>> from formulate.claims.assay_values import Assayed
    >>> overall_index([Assayed("N", 10.0, (9.9,), 0.0, (1,))]).verdict
    'right'
    """
    main = [
        line
        for line in lines
        if line.guarantee
        and not line.part
        and any(same_nutrient(line.key, key) for key in MAIN)
    ]
    if not main:
        return None
    limit = rule_of("allowance_limits", "overall index")
    rule = rule_of("assay_rules", "us page")
    facts = {
        "rule": f"{rule['name']}; {rule['edition']}",
        "source_key": limit["source_key"],
    }
    least = limit.number("value")
    if not all(line.values for line in main):
        what = "not every main nutrient was analysed"
        return Finding("overall index", "cannot tell", what, limit=least, **facts)
    verdict, number, what = _index_verdict(main, least)
    severity = "caution" if verdict == "wrong" else "note"
    return Finding("overall index", verdict, what, number, least, severity, **facts)


def _index_verdict(main, least):
    """Return verdict, the end of the range that decides, and words on the index."""
    low = [PERCENT * line.least / line.guarantee for line in main]
    high = [PERCENT * line.most / line.guarantee for line in main]
    ends = [_index_words(end, least) for end in (min(low), max(high))]
    if min(low) >= least - SAME:
        return "right", min(low), f"at least {ends[0]} %, {least:g} % asked"
    if max(high) < least - SAME:
        what = f"at most {ends[1]} %, {least:g} % asked"
        return "wrong", max(high), f"{what} where the rule is applied"
    what = (
        f"between {ends[0]} and {ends[1]} %, {least:g} % asked; it weighs each nutrient by "
        "its money value, which is not told"
    )
    return "cannot tell", None, what


def _index_words(value, least):
    """Return an index with one digit behind the point, more where it would be the limit."""
    is_limit = abs(value - least) > SAME and round(value, 1) == least
    return _plain(value) if is_limit else f"{value:.1f}"
