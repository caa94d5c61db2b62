"""The numbers of checked claims as tables, and the same as plain data."""

from formulate.claims.finding import VERDICTS
from formulate.sheets.assay_workings import (
    assay_workings,
    dilution_workings,
    range_workings,
)
from formulate.sheets.claimed_workings import (
    chart_workings,
    dose_workings,
    jump_workings,
)
from formulate.sheets.finding_workings import finding_workings
from formulate.sheets.product_workings import (
    against_workings,
    salt_workings,
    share_workings,
)
from formulate.sheets.table import Table
from formulate.working import printed

__all__ = [
    "claims_data",
    "comparison_tables",
    "findings_table",
    "gravest_first",
    "number_tables",
    "ruled",
    "told_tables",
    "verdict_counts",
]

COLUMNS = ("about", "verdict", "what was found", "rule or arithmetic")
DOSE_COLUMNS = ("about", "claimed", "computed", "± margin", "unit", "verdict")
RIGHT, CANNOT_TELL = VERDICTS[:2]
A_GRAM = 1.0  # g/L, in which a product is shown


def findings_table(paper):
    """
    Return the findings of a paper as a table.

    Parameters
    ----------
    paper : PaperCheck
        The paper.

    Returns
    -------
    Table
        What it is about, the verdict, what was found, the rule with its source.

    Examples
    --------
    >>> from formulate.claims.paper_check import check_paper
    >>> findings_table(check_paper("K2O 62 %", name="bag", rule="us")).rows[0][:2]
    ('sums', 'right')
    """
    rows = tuple(map(_told, gravest_first(paper)))
    return Table(f"findings {paper.name}", paper.name, COLUMNS, rows)


def told_tables(paper):
    """
    Return the findings of a paper as two tables: what is not right, and what is.

    Parameters
    ----------
    paper : PaperCheck
        The paper.

    Returns
    -------
    tuple of Table
        Those that have a line, as `findings_table`; the gravest first.

    Examples
    --------
    >>> from formulate.claims.paper_check import check_paper
    >>> made = told_tables(check_paper("K2O 62 %", name="bag", rule="us"))
    >>> [(table.title, len(table.rows)) for table in made]
    [('bag: what cannot be told', 1), ('bag: what is right', 4)]
    """
    found, behind = gravest_first(paper), finding_workings(paper.results)
    right = [one for one in found if one.verdict == RIGHT]
    rest = [one for one in found if one.verdict != RIGHT]
    is_off = any(one.verdict != CANNOT_TELL for one in rest)
    title = "what is not right" if is_off else "what cannot be told"
    told = (
        ("findings", title, rest),
        ("right", "what is right", right),
    )
    return tuple(
        _told_table(f"{key} {paper.name}", f"{paper.name}: {title}", ones, behind)
        for key, title, ones in told
        if ones
    )


def _told_table(key, title, found, behind):
    """Return findings as a table, with what is behind their numbers."""
    table = Table(key, title, COLUMNS, tuple(map(_told, found)))
    known = ((n, behind.get(id(one))) for n, one in enumerate(found))
    return table.with_workings(((n, 2), one) for n, one in known if one)


def _told(finding):
    """Return a finding as a row."""
    return (finding.subject, finding.verdict, finding.what, ruled(finding))


def verdict_counts(verdicts):
    """
    Return how often each verdict was given, the gravest first.

    Parameters
    ----------
    verdicts : iterable of str
        Verdicts.

    Returns
    -------
    str
        Numbers and words.

    Examples
    --------
    >>> verdict_counts(["right", "wrong", "right"])
    '1 wrong, 2 right'
    """
    told = list(verdicts)
    words = dict.fromkeys((*reversed(VERDICTS), *told))
    return ", ".join(f"{told.count(word)} {word}" for word in words if word in told)


def gravest_first(paper):
    """
    Return the findings of a paper with what is wrong before what is right.

    Parameters
    ----------
    paper : PaperCheck
        The paper.

    Returns
    -------
    list of Finding
        What is impossible, what is wrong, then the others as they stand.

    Examples
    --------
    >>> from formulate.claims.paper_check import check_paper
    >>> gravest_first(check_paper("K2O 90 %", rule="us"))[0].verdict
    'impossible'
    """
    return sorted(paper.findings, key=lambda one: -_gravity(one))


def _gravity(finding):
    return finding.gravity if finding.gravity > 1 else 0


def ruled(finding):
    """
    Return the rule of a finding with its source.

    Parameters
    ----------
    finding : Finding
        The finding.

    Returns
    -------
    str
        Rule, and the key of its source in brackets; empty if it names none.

    Examples
    --------
    >>> from formulate.claims.finding import Finding
    >>> ruled(Finding("N", "right", "so", rule="sums", source_key="stoichiometry"))
    'sums [stoichiometry]'
    """
    source = f"[{finding.source_key}]" if finding.source_key else ""
    return f"{finding.rule} {source}".strip()


def number_tables(result):
    """
    Return the numbers of a check as tables.

    Parameters
    ----------
    result : LabelCheck, FeedChart, AssayReport, TableCheck or DoseCheck
        What a check gave.

    Returns
    -------
    tuple of Table
        Nothing where the findings say it all.

    Examples
    --------
    >>> from formulate.claims.dose_claims import check_dose
    >>> number_tables(check_dose("KNO3", "1 g/L", {"K": 387}))[0].rows[0][0]
    'K'
    """
    makers = {
        "LabelCheck": _label_tables,
        "FeedChart": _chart_tables,
        "AssayReport": _assay_tables,
        "DoseCheck": _dose_tables,
    }
    maker = makers.get(type(result).__name__)
    return tuple(maker(result)) if maker else ()


def _label_tables(result):
    """Yield what a label leaves unsaid, where its sources are named."""
    made = result.derivation
    if made is None or not made.ranges:
        return
    rows = tuple(
        (r.what, r.kind, printed(r.low), printed(r.high), r.unit) for r in made.ranges
    )
    columns = ("", "kind", "least", "most", "unit")
    title = "what its sources and guarantees leave open"
    table = Table("ranges", title, columns, rows, (2, 3))
    yield table.with_workings(range_workings(made))
    yield _dilution_table(made)


def _dilution_table(made):
    """Return what a gram in a litre shows at the blends that a label allows."""
    found = made.diluted(A_GRAM)
    rows = (
        ("EC at 25 °C", *map(_number, found.ec_range), "mS/cm"),
        ("pH, closed to the air", *(f"{end:.2f}" for end in found.ph_range), ""),
    )
    title = f"{A_GRAM:g} g in a litre of pure water, at every such blend"
    table = Table("dilution", title, ("", "least", "most", "unit"), rows, (1, 2))
    return table.with_workings(dilution_workings(made, found))


def _dose_tables(result):
    """Yield claims beside what was computed."""
    rows = tuple(
        (name, _number(claimed), _number(computed), _number(margin), unit, verdict)
        for name, claimed, computed, margin, unit, verdict in result.rows()
    )
    title = f"what {result.dose.text} gives"
    table = Table("doses", title, DOSE_COLUMNS, rows, (1, 2, 3))
    yield table.with_workings(dose_workings(result))


def _assay_tables(result):
    """Yield what was found beside what is guaranteed."""
    from formulate.claims.assay import COLUMNS as NAMES

    rows = tuple(
        tuple(cell if isinstance(cell, str) else _number(cell) for cell in row)
        for row in result.rows()
    )
    numeric = tuple(range(1, len(NAMES) - 2))
    table = Table("assay", "found beside guaranteed", NAMES, rows, numeric)
    yield table.with_workings(assay_workings(result))


def _chart_tables(result):
    """Yield the weeks of a chart, its jumps, and what happens when it is poured."""
    rows = tuple(
        (row[0], *(_number(cell) for cell in row[1:])) for row in result.rows()
    )
    numeric = tuple(range(1, len(result.columns)))
    weeks = Table("weeks", "week by week", result.columns, _held(rows), numeric)
    weeks = weeks.with_workings(chart_workings(result))
    yield weeks.without_empty(*result.columns[1:])
    jumps = tuple(
        (
            j.subject,
            j.before,
            j.after,
            _number(j.value_before),
            _number(j.value_after),
            f"{j.percent:+.0f}",
        )
        for j in result.jumps
    )
    columns = ("", "from", "to", "before", "after", "%")
    if jumps:
        table = Table("jumps", "the largest changes", columns, jumps, (3, 4, 5))
        yield table.with_workings(jump_workings(result))
    poured = tuple((week.name, week.poured_words) for week in result.weeks)
    title = "poured together in the order of the chart"
    yield Table("poured", title, ("week", "what happens"), poured)


def _held(rows):
    """Return rows in which a column that holds nothing in any of them is empty."""
    columns = (
        ("",) * len(cells) if set(cells) <= {"", "0"} else cells
        for cells in zip(*rows, strict=True)
    )
    return tuple(zip(*columns, strict=True))


def _number(value):
    """Return a number with the digits it deserves; empty for none."""
    if value is None:
        return ""
    if value == float("inf"):
        return "any"
    return f"{value}" if isinstance(value, int) else printed(value, 3)


def comparison_tables(found):
    """
    Return products held against each other as tables.

    Parameters
    ----------
    found : ProductComparison
        The comparison.

    Returns
    -------
    tuple of Table
        What each holds and what it costs; each feed against the target; each feed from
        single salts.

    Examples
    --------
    >>> from formulate.claims.product_comparison import compare_products
    >>> made = compare_products({"A": "KNO3", "B": "urea"}, dose="1 g/L")
    >>> [table.key for table in comparison_tables(made)]
    ['shares', 'salts A', 'salts B']
    """
    rows = tuple((row[0], *map(_number, row[1:])) for row in found.rows())
    numeric = tuple(range(1, len(found.columns)))
    title = "what a gram holds, and what it costs"
    shares = Table("shares", title, found.columns, rows, numeric)
    shares = shares.with_workings(share_workings(found))
    tables = [shares.without_empty(*found.columns[1:])]
    against = tuple(
        (*row[:2], *map(_number, row[2:5]), _percent(row[5]))
        for row in found.against_rows()
    )
    columns = ("feed", "nutrient", "there mg/L", "wanted mg/L", "off mg/L", "off %")
    if against:
        title = f"against {found.target.name or 'the target'}"
        table = Table("against", title, columns, against, (2, 3, 4, 5))
        tables.append(table.with_workings(against_workings(found)))
    return (*tables, *map(_salts_table, found.salt_feeds))


def _salts_table(made):
    """Return what to weigh of single salts for the same feed."""
    rows = [(name, printed(grams)) for name, grams in made.amounts.items()]
    title = f"{made.name} from single salts, for {made.volume:g} L"
    table = Table(f"salts {made.name}", title, ("salt", "g"), tuple(rows), (1,))
    return table.with_workings(salt_workings(made))


def _percent(value):
    """Return a share with its sign; empty for none."""
    return "" if value is None else f"{value:+.1f}"


def claims_data(claims):
    """
    Return the checked claims of a job as plain data.

    Parameters
    ----------
    claims : JobClaims
        The claims.

    Returns
    -------
    dict
        What JSON can hold: for each paper name, kind, verdict, answer, findings, slips,
        assumptions, notices, tables.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> from formulate.outcome import Outcome
    >>> claims_data(Outcome(Job()).claims)["papers"]
    []
    """
    found, why = claims.comparison_or_why
    tables = comparison_tables(found) if found else ()
    return {
        "verdicts": list(VERDICTS),
        "verdict": claims.verdict if claims.checked else None,
        "papers": [_paper_data(paper) for paper in claims.checked],
        "compared": {"why not": why} if why else _tables_data(tables),
    }


def _paper_data(paper):
    """Return one paper as plain data."""
    return {
        "name": paper.name,
        "kind": paper.kind,
        "verdict": paper.verdict,
        "answer": paper.answer,
        "findings": [_finding_data(one) for one in paper.findings],
        "slips": list(paper.slips),
        "assumed": list(paper.assumed),
        "notices": [str(notice) for notice in paper.notices],
        "tables": _tables_data(
            table for result in paper.results for table in number_tables(result)
        ),
    }


def _finding_data(finding):
    """Return one finding as plain data."""
    fields = ("subject", "verdict", "what", "number", "limit", "severity", "rule")
    pairs = {name: getattr(finding, name) for name in (*fields, "source_key")}
    return {
        k: float(v) if k in ("number", "limit") and v is not None else v
        for k, v in pairs.items()
    }


def _tables_data(tables):
    """Return tables as plain data."""
    return {
        table.key: [dict(zip(table.columns, row, strict=True)) for row in table.rows]
        for table in tables
    }
