"""Claims as people read them: each paper with its answer, its findings, its numbers."""

from formulate.claims.paper_check import NOT_LEGAL
from formulate.sheets.claims_tables import (
    comparison_tables,
    findings_table,
    gravest_first,
    number_tables,
    ruled,
)
from formulate.sheets.parts import Part, parts_markup, parts_text, write_parts
from formulate.sheets.table import table_text

__all__ = [
    "claims_markup",
    "claims_parts",
    "claims_text",
    "comparison_parts",
    "paper_parts",
    "write_claims",
]

HEADING = "claims"
NOTHING = "no paper is to be checked; paste a label, a chart, an assay or a table"


def claims_parts(outcome):
    """
    Return what was found of the papers of a job.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.

    Returns
    -------
    tuple of Part
        For each paper its answer and findings, then its numbers; then products held
        against each other. A paper that cannot be read says why.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> from formulate.outcome import Outcome
    >>> from formulate.papers import Paper
    >>> job = Job(papers=(Paper("K2O 62 %", name="bag", rule="us"),))
    >>> [part.title for part in claims_parts(Outcome(job))]
    ['bag, a label: yes, this is right (4 right, 1 cannot tell)']
    """
    claims = outcome.claims
    parts = [part for paper in claims.checked for part in paper_parts(paper)]
    parts += comparison_parts(claims)
    return tuple(parts) or (Part("claims", (NOTHING,)),)


def paper_parts(paper):
    """
    Return what was found of one paper.

    Parameters
    ----------
    paper : PaperCheck
        The paper.

    Returns
    -------
    tuple of Part
        Answer and findings; then the numbers of each check, with a figure where there is
        one.

    Examples
    --------
    >>> from formulate.claims.paper_check import check_paper
    >>> paper_parts(check_paper("K2O 62 %", name="bag", rule="us"))[0].title
    'bag, a label: yes, this is right (4 right, 1 cannot tell)'
    """
    beware = tuple(n.what for n in paper.notices if n.severity != "note")
    table = findings_table(paper)
    first = Part(paper.answer, tuple(_words(paper)), None, table, beware)
    return (first, *_numbers(paper))


def _words(paper):
    """Yield what stands below the findings: slips, what was assumed, what to know."""
    yield from (f"slip that would explain it: {text}" for text in paper.slips)
    yield from (f"assumed: {text}" for text in paper.assumed)
    yield from (str(n) for n in paper.notices if n.severity == "note")


def _numbers(paper):
    """Yield the numbers of each check of a paper."""
    for result in paper.results:
        picture = _picture(result)
        tables = number_tables(result)
        for place, table in enumerate(tables):
            title = f"{paper.name}: {table.title}"
            yield Part(title, (), None if place else picture, table)


def _picture(result):
    """Return the figure of a check, or None if it has none."""
    from formulate.sheets.figures import assay_bars, chart_weeks, claim_marks

    makers = {
        "AssayReport": assay_bars.assay_bars,
        "FeedChart": chart_weeks.chart_weeks,
        "DoseCheck": claim_marks.claim_marks,
    }
    maker = makers.get(type(result).__name__)
    return maker(result) if maker else None


def comparison_parts(claims):
    """
    Return products held against each other, or why they cannot be.

    Parameters
    ----------
    claims : JobClaims
        The claims of a job.

    Returns
    -------
    tuple of Part
        Nothing if none are to be compared.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> from formulate.outcome import Outcome
    >>> comparison_parts(Outcome(Job()).claims)
    ()
    """
    found, why = claims.comparison_or_why
    if why:
        return (Part("products compared", tuple(why.split("; "))),)
    if found is None:
        return ()
    from formulate.sheets.figures.product_bars import product_bars

    words = (*map(str, found.findings), *map(str, found.notices))
    first, *others = comparison_tables(found)
    parts = [Part("products compared", words, product_bars(found), first)]
    return (*parts, *(Part(table.title, table=table) for table in others))


def claims_text(outcome):
    """
    Return what was found as text for a terminal.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.

    Returns
    -------
    str
        Tables and sentences.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> from formulate.outcome import Outcome
    >>> claims_text(Outcome(Job())).splitlines()[0]
    'claims'
    """
    told = [_paper_text(paper) for paper in outcome.claims.checked]
    rest = comparison_parts(outcome.claims)
    if not told and not rest:
        told = [f"claims\n- {NOTHING}"]
    return "\n\n".join([*told, parts_text(rest, outcome), NOT_LEGAL])


def _paper_text(paper):
    """Return one paper for a terminal: the answer, a line a finding, then the numbers."""
    lines = [paper.answer]
    for one in gravest_first(paper):
        rule = "" if one.is_right else f" ({ruled(one)})" * bool(ruled(one))
        lines.append(f"- {one}{rule}")
    lines += [f"  {text}" for text in _words(paper)]
    lines += [f"  {n}" for n in paper.notices if n.severity != "note"]
    tables = [t for result in paper.results for t in number_tables(result)]
    return "\n".join([*lines, *(f"\n{table_text(table)}" for table in tables)])


def claims_markup(outcome, *, whole=False):
    """
    Return what was found as HTML.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.
    whole : bool
        Whether it is a page of its own; else a part of one.

    Returns
    -------
    str
        HTML; whatever people typed is escaped.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> from formulate.outcome import Outcome
    >>> "no paper is to be checked" in claims_markup(Outcome(Job()))
    True
    """
    given = {"heading": HEADING, "lines": (NOT_LEGAL,), "whole": whole}
    return parts_markup(claims_parts(outcome), outcome, **given)


def write_claims(outcome, folder):
    """
    Write what was found as HTML and its tables as CSV.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.
    folder : str or Path
        Where to; it is made if it is not there.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    InputError
        If they cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from formulate.jobs import Job
    >>> from formulate.outcome import Outcome
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     [p.suffix for p in write_claims(Outcome(Job()), folder)]
    ['.html', '.csv']
    """
    given = {"heading": HEADING, "lines": (NOT_LEGAL,)}
    return write_parts(claims_parts(outcome), outcome, folder, **given)
