"""Weeks of a chart held against their targets, one another, and the order of pouring."""

from itertools import pairwise

from formulate.chemistry.risks import RISKS
from formulate.claims.chart_week import CHART_KEYS
from formulate.claims.finding import Finding
from formulate.errors import FormulateError
from formulate.mixing.nearness import level_of
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import recipe_rule, rule_of
from formulate.working import printed

__all__ = ["changes", "jump_findings", "pouring_findings", "target_findings"]

PERCENT = 100.0
TEN = 10.0  # % from which a tenth of one is not shown
LIKELY = RISKS.index("likely")


def target_findings(weeks):
    """
    Return how each week stands against its target, nutrient by nutrient.

    Anywhere in a wanted range is right; a wanted point is met within the rule on misses.

    Parameters
    ----------
    weeks : sequence of ChartWeek
        The weeks, worked out; those without target are left out.

    Returns
    -------
    tuple of Finding
        One for each nutrient of each target. [mg/L]

    Examples
    --------
    >>> from formulate.claims.feed_chart import read_chart
    >>> from formulate.recipes.target import target
    >>> wanted = target({"K": (180, 200), "N": 90})
    >>> text = "week,A g/L\\n1,0.5\\n2,1\\n"
    >>> weeks = read_chart(text, {"A": "KNO3"}, targets={1: wanted}).weeks
    >>> print(*target_findings(weeks), sep="\\n")
    week 1, K against its target: right; 193.4 mg/L, within 180.0 to 200.0
    week 1, N against its target: wrong; 69.27 mg/L, 90.00 wanted: 23 % too little
    """
    return tuple(
        _against(week, *line) for week in weeks if week.target for line in week.against
    )


def _against(week, key, there, wanted, off):
    """Return one nutrient of one week against what is wanted of it."""
    subject = f"week {week.name}, {key} against its target"
    ends = week.target.ranges.get(key)
    rule = (
        "anywhere in a wanted range is right; a wanted point within the rule on misses"
    )
    if off is None:
        what = f"as little as possible is wanted, {printed(there)} mg/L is there"
        return Finding(subject, "cannot tell", what, there, wanted, rule=rule)
    if ends and not off:
        low, high = (printed(v * nutrient(key).molar_mass) for v in ends)
        what = f"{printed(there)} mg/L, within {low} to {high}"
        return Finding(subject, "right", what, there, wanted, rule=rule)
    miss = 0.0 if ends else recipe_rule("miss").number("high")
    side = "too much" if off > 0 else "too little"
    said = f"{_ends(ends, key) if ends else printed(wanted)} wanted"
    what = f"{printed(there)} mg/L, {said}: {_share(abs(off))} % {side}"
    if abs(off) <= miss:
        return Finding(subject, "right", what, there, wanted, rule=rule)
    is_large = abs(off) > recipe_rule("large miss").number("high")
    severity = "serious" if is_large else "caution"
    return Finding(subject, "wrong", what, there, wanted, severity, rule)


def _share(percent):
    return f"{percent:.0f}" if percent >= TEN else f"{percent:.1f}"


def _ends(ends, key):
    return " to ".join(printed(v * nutrient(key).molar_mass) for v in ends)


def changes(weeks, subject):
    """
    Return what changes of one subject from each week to the next.

    Parameters
    ----------
    weeks : sequence of ChartWeek
        The weeks, worked out.
    subject : str
        "EC" or a nutrient key.

    Returns
    -------
    tuple of tuple
        Week before and after, value before and after, change as a share of the larger. [%]

    Examples
    --------
    >>> from formulate.claims.feed_chart import read_chart
    >>> weeks = read_chart("week,A g/L\\n1,0.5\\n2,1\\n", {"A": "KNO3"}).weeks
    >>> [(one[0], one[1], round(one[4])) for one in changes(weeks, "K")]
    [('1', '2', 50)]
    """
    values = [w.ec if subject == "EC" else w.mg_l.get(subject, 0.0) for w in weeks]
    found = []
    for (one, a), (other, b) in pairwise(zip(weeks, values, strict=True)):
        if None not in (a, b) and a != b:
            found.append((one.name, other.name, a, b, PERCENT * (b - a) / max(a, b)))
    return tuple(found)


def jump_findings(weeks, limit=None):
    """
    Return the changes between two weeks that are beyond a limit.

    Parameters
    ----------
    weeks : sequence of ChartWeek
        The weeks, worked out.
    limit : float or None
        Greatest change as a share of the larger value; that of the table, which is common
        practice without a source, if None. [%]

    Returns
    -------
    tuple of Finding
        One for each two weeks with a jump; a single right one if there is none. [%]

    Examples
    --------
    >>> from formulate.claims.feed_chart import read_chart
    >>> weeks = read_chart("week,A g/L\\n1,0.5\\n2,1.2\\n", {"A": "KNO3"}).weeks
    >>> print(*jump_findings(weeks))
    from 1 to 2: cannot tell; EC +57 %, N +58 %, K +58 %: beyond 50 % (common practice, no \
source); change in smaller steps, or be sure that it is meant
    """
    row = rule_of("chart_rules", "jump")
    least = row.number("value") if limit is None else limit
    practice = f"beyond {least:g} %" + (
        " (common practice, no source)" if limit is None else ""
    )
    by_weeks = {}
    for subject in ("EC", *CHART_KEYS):
        for before, after, _, _, share in changes(weeks, subject):
            if abs(share) > least:
                by_weeks.setdefault((before, after), []).append((subject, share))
    advice = "change in smaller steps, or be sure that it is meant"
    rule, key = "change between two weeks as a share of the larger", row["source_key"]
    found = []
    for (before, after), jumps in by_weeks.items():
        told = ", ".join(f"{subject} {share:+.0f} %" for subject, share in jumps)
        most = max((share for _, share in jumps), key=abs)
        given = ("caution", rule, key if limit is None else "")
        what = f"{told}: {practice}; {advice}"
        found.append(
            Finding(
                f"from {before} to {after}", "cannot tell", what, most, least, *given
            )
        )
    if found or len(weeks) < 2:
        return tuple(found)
    what = f"no EC and no nutrient changes {practice} from one week to the next"
    return (Finding("jumps", "right", what, None, least, "note", rule, key),)


def pouring_findings(weeks):
    """
    Return which solids are likely to fall out when poured in the order of the chart.

    Weeks with one solid after one product are told together.

    Parameters
    ----------
    weeks : sequence of ChartWeek
        The weeks, worked out.

    Returns
    -------
    tuple of Finding
        One for each likely solid and the product after which it comes; a single right one
        if there is none. [-]

    Examples
    --------
    >>> from formulate.claims.feed_chart import read_chart
    >>> weeks = read_chart("week,A g/L\\n1,0.5\\n2,1\\n", {"A": "KNO3"}).weeks
    >>> print(*pouring_findings(weeks))
    pouring: right; poured in the order of the chart, nothing is likely to fall out
    """
    likely, doubts = {}, []
    for week in weeks:
        try:
            log = week.poured
            for solid, (name, index, word) in (_likely(log) if log else {}).items():
                likely.setdefault((solid, name), []).append((week.name, index, word))
        except FormulateError as error:
            what = f"the order cannot be worked out: {error}"
            doubts.append(Finding(f"week {week.name}, pouring", "cannot tell", what))
    found = [_poured(*of, told) for of, told in likely.items()]
    if not found and not doubts and any(week.line.doses for week in weeks):
        what = "poured in the order of the chart, nothing is likely to fall out"
        found = [Finding("pouring", "right", what)]
    return (*found, *doubts)


def _likely(log):
    """Return each solid that is likely to form: the step of its largest index, and its word."""
    found = {}
    for place, step in enumerate(log.steps[:-1]):
        for solid, values in log.near.counting.items():
            index = float(values[place])
            level = int(level_of(solid, index))
            if level >= LIKELY and index > found.get(solid, (None, index - 1.0))[1]:
                found[solid] = (step.name, index, RISKS[level])
    return found


def _poured(solid, name, told):
    """Return one likely solid with the weeks in which it comes."""
    weeks, indices = (
        ", ".join(week for week, *_ in told),
        [index for _, index, _ in told],
    )
    word = max((word for *_, word in told), key=RISKS.index)
    what = (
        f"{solid} {word} once {name} is in (weeks {weeks}; index up to {max(indices):+.2f}): "
        "pour it into more water, or last, or make it up apart"
    )
    rule = (
        "saturation index at each step of the chart's order, nothing fallen out before"
    )
    verdict = "wrong" if word == RISKS[-1] else "cannot tell"
    return Finding(
        f"pouring, {solid}", verdict, what, max(indices), 0.0, "serious", rule
    )
