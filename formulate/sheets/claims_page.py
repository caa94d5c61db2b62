"""Claims as people read them: each paper with its answer, its findings, its numbers."""

from dataclasses import dataclass

from formulate.claims.paper_check import NOT_LEGAL
from formulate.claims.paper_kinds import KIND_WORDS
from formulate.sheets.claims_tables import (
    comparison_tables,
    gravest_first,
    number_tables,
    ruled,
    told_tables,
    verdict_counts,
)
from formulate.sheets.parts import Part, parts_markup, parts_text, write_parts
from formulate.sheets.table import Table, table_text

__all__ = [
    "AnswerPart",
    "answer_parts",
    "claims_markup",
    "claims_parts",
    "claims_text",
    "comparison_parts",
    "figures_of",
    "number_parts",
    "paper_parts",
    "write_claims",
]

HEADING = "claims"
CANNOT = "cannot be read"
NOTHING = "no paper is to be checked; paste a label, a chart, an assay or a table"


@dataclass(frozen=True, eq=False)
class AnswerPart(Part):
    """
    The part of a page that gives the answer on a paper.

    Attributes
    ----------
    title : str
        The answer.
    words : tuple of str
        Slips that would explain what is wrong, or why it cannot be read.
    picture : Picture or None
        None.
    table : Table or None
        None.
    cautions : tuple of str
        What to beware of.
    verdict : str
        The gravest verdict, or "cannot be read".
    """

    verdict: str = ""


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
        The answers, if there are several papers; for each paper its answer and findings,
        then its numbers; then products held against each other. A paper that cannot be
        read says why.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> from formulate.outcome import Outcome
    >>> from formulate.papers import Paper
    >>> job = Job(papers=(Paper("K2O 62 %", name="bag", rule="us"),))
    >>> [part.title for part in claims_parts(Outcome(job))][:2]
    ['bag, a label: yes, this is right (4 right, 1 cannot tell)', 'what cannot be told']
    """
    claims = outcome.claims
    parts = [part for paper in claims.checked for part in paper_parts(paper)]
    first = _answers(claims.checked) if len(claims.checked) > 1 else ()
    parts = [*first, *parts, *comparison_parts(claims)]
    return tuple(parts) or (Part("claims", (NOTHING,)),)


def _answers(papers):
    """Return the part that gives the answers on all papers at a glance."""
    rows = tuple(
        (
            paper.name,
            KIND_WORDS.get(paper.kind, "").split(" ", 1)[-1],
            CANNOT if paper.faults else paper.verdict,
            "" if paper.faults else verdict_counts(f.verdict for f in paper.findings),
        )
        for paper in papers
    )
    columns = ("paper", "what it is", "verdict", "of what was found")
    return (Part("the answers", table=Table("answers", "answers", columns, rows)),)


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
    return (*answer_parts(paper), *number_parts(paper, figures_of(paper)))


def answer_parts(paper):
    """
    Return the answer on a paper: the verdict and the slips, what is not right, what is.

    Parameters
    ----------
    paper : PaperCheck
        The paper.

    Returns
    -------
    tuple of Part
        The answer, the findings, what was assumed and is to be known.

    Examples
    --------
    >>> from formulate.claims.paper_check import check_paper
    >>> answer_parts(check_paper("K2O 90 %", name="bag", rule="us"))[0].verdict
    'impossible'
    """
    if paper.faults:
        return (AnswerPart(paper.answer, paper.faults, verdict=CANNOT),)
    slips = tuple(f"slip that would explain it: {text}" for text in paper.slips)
    beware = tuple(n.what for n in paper.notices if n.severity != "note")
    known = tuple(_known(paper))
    first = AnswerPart(paper.answer, slips, cautions=beware, verdict=paper.verdict)
    told = (Part(_untitled(t, paper), table=t) for t in told_tables(paper))
    rest = (Part("assumed, and to know", known),) if known else ()
    return (first, *told, *rest)


def _untitled(table, paper):
    """Return the title of a table without the name of its paper."""
    return table.title.removeprefix(f"{paper.name}: ")


def _known(paper):
    """Yield what was assumed, and what is to be known."""
    yield from (f"assumed: {text}" for text in paper.assumed)
    yield from (str(n) for n in paper.notices if n.severity == "note")


def number_parts(paper, figures):
    """
    Return the numbers of each check of a paper.

    Parameters
    ----------
    paper : PaperCheck
        The paper.
    figures : tuple of Picture or None
        The figure of each check, as `figures_of` gives them.

    Returns
    -------
    tuple of Part
        Tables, each figure above the first table of its check.

    Examples
    --------
    >>> from formulate.claims.paper_check import check_paper
    >>> number_parts(check_paper("K2O 62 %", rule="us"), (None,))
    ()
    """
    parts = []
    for result, figure in zip(paper.results, figures, strict=True):
        for place, table in enumerate(number_tables(result)):
            parts.append(Part(table.title, (), None if place else figure, table))
    return tuple(parts)


def figures_of(paper):
    """
    Return the figure of each check of a paper.

    Parameters
    ----------
    paper : PaperCheck
        The paper.

    Returns
    -------
    tuple of Picture or None
        None where there is nothing to draw.

    Examples
    --------
    >>> from formulate.claims.paper_check import check_paper
    >>> figures_of(check_paper("K2O 62 %", rule="us"))
    (None,)
    """
    return tuple(map(_picture, paper.results))


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

    told = (
        f"{one.subject}: {one.what}" for one in found.findings
    )  # nothing is claimed
    words = (*told, *map(str, found.notices))
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
    lines += [f"  slip that would explain it: {text}" for text in paper.slips]
    lines += [f"  {text}" for text in _known(paper)]
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
