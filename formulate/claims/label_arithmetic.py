"""What the reading of a label tells of sums, parts, grades and room, as findings."""

from formulate.claims.finding import Finding
from formulate.errors import Faults
from formulate.ingredients.ingredient import analysed
from formulate.ingredients.label_amounts import WHOLE
from formulate.ingredients.label_checks import check_shares
from formulate.ingredients.label_nitrogen import UNNAMED, short_forms
from formulate.ingredients.label_shares import counted_shares

__all__ = ["arithmetic_findings", "nominal_ingredient"]

STOICHIOMETRY = "stoichiometry"
GRADE = "the grade says"  # how `check_shares` begins this fault
SUMS = "forms and parts against their totals"
ROOM = "what can be in 100 g: pure compounds, least masses, the grade"
NAMES = "sources stand on a label behind the analysis"
GRADES = "a grade is the minimum percentages, rounded down to whole numbers"
GRADE_SOURCES = "nv-588-080; aapfco-label"
SAME = 1e-9


def arithmetic_findings(reading, name=""):
    """
    Return what the arithmetic of a label tells, and its counted shares.

    Parameters
    ----------
    reading : LabelReading
        What a label was read as.
    name : str
        What the product is called; if it is a material, it tells the source too.

    Returns
    -------
    findings : tuple of Finding
        One for each fault, "right" where there is none; then what to know.
    shares : Shares or None
        The share of each form; None if a fault stands against them.

    Examples
    --------
    >>> from formulate.ingredients.label_text import read_entries
    >>> reading, _ = read_entries("P2O5 80 %", Faults())
    >>> print(arithmetic_findings(reading)[0][1])
    analysis: impossible; line 1: P2O5 80 % is more than pure H3PO4 holds, 72.42 %
    """
    sums, room = Faults(), Faults()
    shares = counted_shares(reading, sums, name=name)
    check_shares(shares, reading, room)
    told = [*_sums(sums.found, reading), *_room(room.found)]
    told += [_noted(notice) for notice in shares.notices]
    told += [*_grade_rules(reading), *_unnamed(reading)]
    whole = not sums.found and not room.found
    return tuple(told), shares if whole else None


def _sums(faults, reading):
    """Return the findings on totals and their parts."""
    made = [*map(_sum, faults), *_short_forms(reading)]
    if made:
        return made
    what = "every total agrees with its forms and parts"
    return [Finding("sums", "right", what, rule=SUMS, source_key=STOICHIOMETRY)]


def _sum(fault):
    """Return the finding on one fault; what is not named is open, whatever else is found."""
    verdict = "cannot tell" if UNNAMED in fault else "wrong"
    severity = "caution" if verdict == "cannot tell" else "serious"
    return Finding("sums", verdict, fault, None, None, severity, SUMS, STOICHIOMETRY)


def _short_forms(reading):
    """Return the finding on forms that, rounded down, cannot reach their total."""
    short = short_forms(reading) if reading.basis == "us" else ()
    if not short:
        return []
    total, told, most = short
    what = (
        f"{total.where}: total nitrogen {total.percent:g} %, its forms add up to {told:g} %, "
        f"and to less than {most:g} % where each was rounded down: guarantees are minima, "
        f"rounded down, and {told:g} is not {total.percent:g} (that from memory only)"
    )
    facts = (most, total.percent, "serious", SUMS, "aapfco-label")
    return [Finding("sums", "wrong", what, *facts)]


def _room(faults):
    """Return the findings on what can be."""
    if not faults:
        what = "no share is beyond its richest compound, the grade agrees, all has room"
        return [Finding("analysis", "right", what, rule=ROOM, source_key=STOICHIOMETRY)]
    made = []
    for fault in faults:
        verdict = "wrong" if GRADE in fault else "impossible"
        facts = (None, None, "serious", ROOM, STOICHIOMETRY)
        made.append(Finding("analysis", verdict, fault, *facts))
    return made


def _noted(notice):
    """Return a notice of the reading as a finding that leaves the verdict open."""
    facts = (notice.number, notice.limit, notice.severity, SUMS, notice.source_key)
    return Finding("reading", "cannot tell", notice.what, *facts)


def _grade_rules(reading):
    """Return what US rules tell of a grade that the arithmetic lets pass."""
    if reading.basis != "us":
        return []
    grades = [e for e in reading.entries if e.kind == "grade"]
    told = {e.key: e for e in reading.entries if e.kind in WHOLE and e.line}
    made = [_above(e, told[e.key]) for e in grades if e.key in told]
    made = [each for each in made if each is not None]
    parts = [f"{e.percent:g}" for e in grades if e.percent % 1]
    if parts:
        what = (
            f"{', '.join(parts)} is no whole number, as one state asks of a mixed "
            "fertiliser; for special uses others let fractions stand (from memory only)"
        )
        made.append(_grade(what, None, None, "note"))
    return made


def _above(grade, guarantee):
    """Return the finding on a grade above its guarantee, or None.

    Beyond the last digit of the guarantee the two contradict each other; beyond that of the
    grade this is told with the analysis.
    """
    number, share = grade.percent, guarantee.percent
    if not SAME < number - share < 2 * grade.half_digit:
        return None
    what = (
        f"the grade says {number:g} % {grade.key}, more than the {share:g} % that is "
        "guaranteed; it may be rounded down only (that from memory only)"
    )
    if number - share > 2 * guarantee.half_digit + SAME:
        return _grade(
            f"{what}; one of the two is wrong", number, share, "serious", "wrong"
        )
    return _grade(what, number, share, "caution")


def _grade(what, number, limit, severity, verdict="cannot tell"):
    facts = (number, limit, severity, GRADES, GRADE_SOURCES)
    return Finding("grade rule", verdict, what, *facts)


def _unnamed(reading):
    """Return the finding on a label in US wording that names no sources."""
    if reading.basis != "us" or reading.derived_from:
        return []
    what = 'no "derived from": the label does not say what it is made of'
    facts = {"rule": NAMES, "source_key": "aapfco-label"}
    return [Finding("sources", "cannot tell", what, **facts)]


def nominal_ingredient(name, reading, shares):
    """
    Return what the counted shares of a label make, untold ions left unnamed.

    Parameters
    ----------
    name : str
        What the product is called.
    reading : LabelReading
        What a label was read as.
    shares : Shares
        The share of each form.

    Returns
    -------
    Ingredient
        Its forms in one gram, or one millilitre where shares are by volume.

    Examples
    --------
    >>> from formulate.ingredients.label_text import read_entries
    >>> reading, _ = read_entries("Kaliumoxid 30 %", Faults())
    >>> shares = counted_shares(reading, Faults())
    >>> round(nominal_ingredient("potash", reading, shares).percent("K2O"))
    30
    """
    measured_in = "mL" if reading.share_of == "w/v" else "g"
    facts = {"density": reading.density, "measured_in": measured_in}
    return analysed(name, shares.percents, **facts)
