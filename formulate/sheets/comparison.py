"""What a recipe could be exchanged for, as people read it: figures, tables, words.

The same parts stand on a page of their own, in the bench and in the terminal.
"""

from functools import partial

from formulate.chemistry.acid_doses import acid_rule
from formulate.sheets.doubt_workings import doubt_workings
from formulate.sheets.figures.cost_closeness import cost_closeness
from formulate.sheets.figures.doubt_bars import doubt_bars
from formulate.sheets.figures.few_steps import few_steps
from formulate.sheets.parts import Part, parts_markup, parts_text, write_parts
from formulate.sheets.table import Table
from formulate.sheets.trade_workings import (
    cheapest_workings,
    cost_workings,
    few_workings,
    limit_workings,
    price_workings,
    usable_workings,
)
from formulate.trade_offs import TRADES
from formulate.working import printed

__all__ = [
    "comparison_data",
    "comparison_markup",
    "comparison_part",
    "comparison_parts",
    "comparison_text",
    "write_comparison",
]

HEADING = "compared"
PER_KG = 1000.0
PERCENT = 100.0


def comparison_parts(outcome):
    """
    Return what the recipe of a job could be exchanged for.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.

    Returns
    -------
    tuple of Part
        Cost against nearness, number of bags, the cheapest recipe, prices, usable
        nutrients, doubt; a part that cannot be worked out says why.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> [part.title for part in comparison_parts(run_job(read_job(DEMO)))][:2]
    ['what coming nearer costs', 'what one bag less costs']
    """
    return tuple(comparison_part(outcome, name) for name in TRADES)


def comparison_part(outcome, name):
    """
    Return one part of what the recipe of a job could be exchanged for.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.
    name : str
        One of `TRADES`, such as "cost_curve" or "doubt".

    Returns
    -------
    Part
        The part; one that cannot be worked out says why.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> comparison_part(run_job(read_job(DEMO)), "doubt").title
    'how sure the weighed batch is'
    """
    shelf = outcome.chosen.nearest.ingredients
    makers = {
        "cost_curve": _cost,
        "few_curve": _few,
        "limit_worths": partial(_limits, outcome.chosen.nearest),
        "cheapest": _cheapest,
        "price_changes": _prices,
        "usable_costs": partial(_usable, shelf),
        "doubt": _doubt,
    }
    found, title = outcome.trade_offs.part(name), TRADES[name]
    return (
        Part(title, (found,)) if isinstance(found, str) else makers[name](title, found)
    )


def _cost(title, curve):
    picture = cost_closeness(curve)
    table = picture.table.with_workings(cost_workings(curve, picture.table))
    return _pictured(title, picture, curve.notices, table=table)


def _few(title, curve):
    told = "of each number of bags the best there is; one that must be taken counts"
    picture = few_steps(curve)
    table = picture.table.with_workings(few_workings(curve))
    return _pictured(title, picture, curve.notices, (told,), table=table)


def _doubt(title, found):
    words = [str(kept) for kept in found.limits]
    if found.probability is not None:
        both = PERCENT * found.probability
        which = "all limits but the exact ones" if _has_exact(found) else "all limits"
        words.insert(0, f"{which} are kept in {both:.1f} of 100 batches")
    words += _near_ph(found)
    picture = doubt_bars(found)
    table = picture.table.with_workings(doubt_workings(found, picture.table))
    return _pictured(title, picture, found.notices, words, table=table)


def _has_exact(found):
    """Return whether one exact value stands among limits."""
    return any(one.asked.limit.low == one.asked.limit.high for one in found.limits)


def _near_ph(found):
    """Yield how often a pH that is wanted exactly comes near enough to be corrected."""
    near = acid_rule("drift")
    for one in found.limits:
        held = one.asked.limit
        if held.subject in found.drawn and held.low == held.high and held.unit == "":
            drawn = found.drawn[held.subject]
            share = PERCENT * sum(abs(v - held.low) <= near for v in drawn) / len(drawn)
            yield f"{held.subject} within {near:g} of {held.low:g} in {share:.0f} of 100 batches"


def _pictured(title, picture, notices, words=(), table=None):
    told = (*words, *(str(notice) for notice in notices))
    return Part(title, tuple(told), picture, table or picture.table)


def _cheapest(title, found):
    """Return both recipes, what each row that costs money would save, and notices."""
    rows = tuple(
        (name, printed(was), printed(now), unit, printed(cost, 3))
        for name, was, now, unit, _, cost in found.rows()
    )
    columns = ("ingredient", "nearest", "cheapest", "unit", "costs then")
    table = Table("cheapest", title, columns, rows, (1, 2, 4))
    table = table.with_workings(cheapest_workings(found))
    words = [
        f"{printed(found.cost, 3)} a batch in place of {printed(found.before, 3)}",
        *(f"{one}" for one in found.worth),
        *map(str, found.notices),
    ]
    return Part(title, tuple(words), table=table)


def _limits(recipe, title, found):
    """Return by what the deviations fall for one more unit of each limit."""
    rows = tuple((one.name, one.unit, printed(one.nearer, 3)) for one in found)
    columns = ("limit", "one more", "sum of squared deviations falls by")
    table = Table("limits-worth", title, columns, rows, (2,))
    table = table.with_workings(limit_workings(recipe, found))
    told = "as long as what is used and what binds stay the same; 0.01 is one value 10 % off"
    return Part(title, (told,), table=table)


def _prices(title, found):
    """Return between which prices the cheapest recipe stays as it is."""
    rows = tuple(
        (
            name,
            f"{printed(price, 3)} a {'kg' if unit == 'g' else 'L'}",
            f"{printed(amount)} {unit}" if amount else "none",
            "" if below is None else printed(below, 3),
            ", ".join(displaced),
            "" if above is None else printed(above, 3),
            ", ".join(instead),
        )
        for name, price, amount, unit, below, displaced, above, instead in found.rows()
    )
    columns = (
        "ingredient",
        "price",
        "used",
        "more of it below",
        "in place of",
        "less of it above",
        "then instead",
    )
    table = Table("prices", title, columns, rows, (1, 2, 3, 5))
    table = table.with_workings(price_workings(found))
    return Part(title, tuple(map(str, found.notices)), table=table)


def _usable(shelf, title, found):
    """Return what a kilogram of each nutrient costs, by bag."""
    rows = tuple(
        (key, name, printed(PER_KG * whole, 3), printed(PER_KG * credited, 3))
        for key, name, whole, credited in found.rows()
    )
    columns = ("nutrient", "from", "cost of 1 kg", "after credit for the rest")
    table = Table("usable", title, columns, rows, (2, 3))
    table = table.with_workings(usable_workings(found, shelf))
    return Part(title, tuple(map(str, found.notices)), table=table)


# --- shown -----------------------------------------------------------------------------


def comparison_text(outcome):
    """
    Return the comparison as text for a terminal.

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
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> comparison_text(run_job(read_job(DEMO))).splitlines()[0]
    'what coming nearer costs'
    """
    return parts_text(comparison_parts(outcome), outcome)


def comparison_data(outcome):
    """
    Return the comparison as plain data, for other programs.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.

    Returns
    -------
    dict
        Title to its rows and sentences.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> data = comparison_data(run_job(read_job(DEMO)))
    >>> sorted(data["what coming nearer costs"])
    ['notices', 'rows']
    """
    found = {}
    for (title, part), told in zip(
        outcome.trade_offs.parts(), comparison_parts(outcome), strict=True
    ):
        rows = [] if isinstance(part, str) else _plain_rows(part)
        found[title] = {"rows": rows, "notices": list(told.words)}
    return found


def _plain_rows(part):
    """Return the rows of a part as lists."""
    if isinstance(part, tuple):
        return [[one.name, one.unit, one.nearer] for one in part]
    return [list(row) for row in part.rows()]


def comparison_markup(outcome, *, whole=False):
    """
    Return the comparison as HTML.

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
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> "<h3>what coming nearer costs" in comparison_markup(run_job(read_job(DEMO)))
    True
    """
    lines = outcome.chosen.lines
    parts = comparison_parts(outcome)
    return parts_markup(parts, outcome, heading=HEADING, lines=lines, whole=whole)


def write_comparison(outcome, folder):
    """
    Write the comparison as HTML and its tables as CSV.

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
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     [p.suffix for p in write_comparison(run_job(read_job(DEMO)), folder)]
    ['.html', '.csv']
    """
    lines = outcome.chosen.lines
    parts = comparison_parts(outcome)
    return write_parts(parts, outcome, folder, heading=HEADING, lines=lines)
