"""The arithmetic behind the numbers that the findings on a paper tell."""

from functools import partial

from formulate.errors import FormulateError
from formulate.sheets.assay_workings import beyond_working, short_working
from formulate.sheets.claimed_workings import dosed_working, week_claim_working
from formulate.sheets.mixture_workings import factor_step
from formulate.sheets.table import Followed
from formulate.stoichiometry.formula import parse_formula
from formulate.stoichiometry.nutrients import nutrient
from formulate.working import Quantity, Step, Working, printed

__all__ = ["finding_workings"]

PERCENT = 100.0
NEAR = 1e-4  # share: two ways of working a number out agree within this


def finding_workings(results):
    """
    Return what is behind the numbers that findings tell.

    Parameters
    ----------
    results : iterable
        What the checks of a paper gave.

    Returns
    -------
    dict of int to Followed
        Identity of the finding to what is behind its number. [-]

    Examples
    --------
    >>> from formulate.claims.dose_claims import check_dose
    >>> check = check_dose("KNO3", "1 g/L", {"K": 387})
    >>> (behind,) = finding_workings([check]).values()
    >>> behind.shown
    '386.7'
    """
    makers = {
        "DoseCheck": _of_doses,
        "FeedChart": _of_chart,
        "AssayReport": _of_assay,
        "TableCheck": _of_table,
        "LabelCheck": _of_label,
    }
    found = {}
    for result in results:
        maker = makers.get(type(result).__name__)
        pairs = maker(result) if maker else ()
        found |= {id(finding): behind for finding, behind in pairs}
    return found


def _claim(finding, claim, worked):
    """Return what is behind a claim: what was computed; where it is wrong, its factor."""
    before, told, _ = finding.what.partition(" computed")
    printed_first, comma, computed = before.rpartition(", ")
    if not (told and comma):
        return None
    number = printed_first.split(" ", 1)[0]
    if finding.verdict == "wrong" and claim.computed and number[0].isdigit():
        return Followed(partial(_wrong, worked, claim), number)
    return Followed(worked, computed.split(" ", 1)[0])


def _wrong(worked, claim):
    """Return the working of a wrong claim: what was computed, and the factor to it."""
    working = worked()
    factor = factor_step(claim.claimed, working.value, claim.unit)
    return Working(working.title, (*working.steps, factor))


def _of_doses(result):
    """Yield each finding on a dose with what is behind it."""
    for claim in result.claims:
        behind = _claim(claim.finding, claim, partial(dosed_working, result, claim))
        if claim.computed is not None and behind:
            yield claim.finding, behind


def _of_chart(result):
    """Yield each finding on a week with what is behind it."""
    for week in result.weeks:
        for claim in week.claims:
            behind = _claim(
                claim.finding, claim, partial(week_claim_working, week, claim)
            )
            if claim.computed is not None and behind:
                yield claim.finding, behind


def _of_assay(result):
    """Yield each finding on an assay with what is behind it."""
    for line, allowed, finding in zip(
        result.lines, result.allowances, result.findings, strict=True
    ):
        if not (line.values and allowed):
            continue
        for words, worked in (
            (" points beyond", beyond_working),
            (" short", short_working),
        ):
            before, told, _ = finding.what.partition(words)
            if told:
                given = (line, allowed) if worked is beyond_working else (line,)
                shown = before.rsplit(" ", 1)[-1]
                yield finding, Followed(partial(worked, *given), shown)
                break


def _of_table(result):
    """Yield each finding on a number of a table with what is behind it."""
    for finding in result.findings:
        printed_first, told, after = finding.what.partition(" printed, ")
        if not told or not (finding.number and finding.limit):
            continue
        shown = after if finding.is_right else printed_first
        behind = partial(_of_formula, finding)
        yield finding, Followed(behind, shown.split(" ", 1)[0])


def _of_formula(finding):
    """Return the working of a number of a table: by its formula, if that gives it."""
    steps = _formula_steps(finding)
    if not steps:
        words = "as it follows from molar masses"
        steps = [Step(words, (Quantity(finding.limit),), "", finding.source_key)]
    if not finding.is_right:
        steps.append(factor_step(finding.number, steps[-1].value, steps[-1].unit))
    return Working(finding.subject, tuple(steps))


def _formula_steps(finding):
    """Return the line of a share by the formula that a finding is about, or nothing."""
    parts = [part for part in finding.subject.split(", ") if part]
    if len(parts) < 2:
        return []
    formula, column = parts[-2], parts[-1].split(" ")[0]
    try:
        read, known = parse_formula(formula), nutrient(column)
    except (FormulateError, ValueError):
        return []
    terms = (
        Quantity(known.amount(read.forms), "mol/mol"),
        "×",
        Quantity(known.molar_mass, "g/mol"),
        "÷",
        Quantity(read.molar_mass, "g/mol"),
        "×",
        Quantity(PERCENT, "%"),
    )
    step = Step(f"{column} in pure {formula}", terms, "%", "stoichiometry")
    return [step] if abs(step.value - finding.limit) <= NEAR * finding.limit else []


def _of_label(result):
    """Yield each finding on a label whose number is a sum of what it tells."""
    for finding in result.findings:
        parts = _parts_of(finding)
        if parts:
            shown = finding.what.partition(" g in 100 g")[0].rsplit(" ", 1)[-1]
            yield finding, Followed(partial(_summed, finding, parts), shown)


def _parts_of(finding):
    """Return the names and grams that a finding adds up, if it tells them."""
    head, told, tail = finding.what.partition(" g in 100 g")
    _, colon, listed = tail.partition(": ")
    if not (told and colon):
        return ()
    found = []
    for part in listed.partition(";")[0].split(", "):
        name, _, number = part.rpartition(" ")
        if not name or not number.replace(".", "", 1).isdigit():
            return ()
        found.append((name, float(number)))
    whole = head.rsplit(" ", 1)[-1]
    is_sum = printed(sum(grams for _, grams in found)) == whole
    return tuple(found) if is_sum else ()


def _summed(finding, parts):
    """Return the working of a mass: what it is made of, added."""
    terms = [t for _, grams in parts for t in ("+", Quantity(grams, "g"))]
    words = f"in 100 g: {', '.join(name for name, _ in parts)}"
    step = Step(words, tuple(terms[1:]), "g", finding.source_key)
    return Working(f"{finding.subject}: {finding.rule or 'its parts, added'}", (step,))
