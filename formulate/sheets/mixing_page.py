"""How a batch is mixed, as people read it: plan, order, steps, stocks, readings."""

from formulate.sheets.mixing_tables import (
    diagnosis_table,
    injector_table,
    log_table,
    meeting_table,
    order_table,
    plan_table,
    tank_tables,
    tanks_table,
)
from formulate.sheets.parts import Part, parts_markup, parts_text, write_parts

__all__ = [
    "mixing_markup",
    "mixing_parts",
    "mixing_text",
    "order_part",
    "plan_part",
    "reading_parts",
    "steps_part",
    "stock_parts",
    "write_mixing",
]

HEADING = "mixed"
ALIKE = "  "  # begins the lines of what would show the same


def mixing_parts(outcome):
    """
    Return how the weighed batch of a job is mixed.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.

    Returns
    -------
    tuple of Part
        The plan with its cautions; why this order; each step; the stocks with what goes
        into each and what to write on it; where they meet; an injector that is off; what
        the readings tell, if there are any. A part that cannot be worked out says why.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> [part.title for part in mixing_parts(run_job(read_job(DEMO)))][:3]
    ['the plan', 'why this order', 'each step']
    """
    mixing = outcome.mixing
    return (
        plan_part(mixing, outcome.job.units),
        order_part(mixing),
        steps_part(mixing),
        *reading_parts(mixing),
        *stock_parts(mixing, outcome.job),
    )


def plan_part(mixing, units):
    """
    Return the plan with what to beware of.

    Parameters
    ----------
    mixing : JobMixing
        How a batch is mixed.
    units : str
        "metric" or "us".

    Returns
    -------
    Part
        The plan.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> plan_part(run_job(read_job(DEMO)).mixing, "metric").title
    'the plan'
    """
    plan = mixing.plan
    return Part(
        "the plan",
        mixing.lines,
        table=plan_table(mixing, units),
        cautions=plan.cautions,
    )


def order_part(mixing):
    """
    Return why the best order is the best, and by how much.

    Parameters
    ----------
    mixing : JobMixing
        How a batch is mixed.

    Returns
    -------
    Part
        The reasons.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> order_part(run_job(read_job(DEMO)).mixing).title
    'why this order'
    """
    best = mixing.best
    if best is None:
        return Part("why this order", (mixing.order_words,))
    if best.indifferent:
        words = ("no order is nearer to a solid at any step than another",)
    else:
        words = (
            f"the trade's order ({', '.join(best.trade_order)}): {best.against(best.trade_order)}",
            f"the worst order ({', '.join(best.worst_order)}): {best.against(best.worst_order)}",
        )
    return Part("why this order", words, table=order_table(best))


def steps_part(mixing):
    """
    Return each step, with its figure.

    Parameters
    ----------
    mixing : JobMixing
        How a batch is mixed.

    Returns
    -------
    Part
        The steps.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> steps_part(run_job(read_job(DEMO)).mixing).title
    'each step'
    """
    from formulate.sheets.figures.mixing_steps import mixing_steps

    log = mixing.log
    words = tuple(map(str, mixing.order_notices))
    other = mixing.best.log if mixing.is_own_and_worse else None
    return Part("each step", words, mixing_steps(log, other=other), log_table(log))


def stock_parts(mixing, job):
    """
    Yield the stocks, where they meet, what an injector does; or why there are none.

    Parameters
    ----------
    mixing : JobMixing
        How a batch is mixed.
    job : Job
        The job, for its units and title.

    Yields
    ------
    Part
        One after the other.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> outcome = run_job(read_job(DEMO))
    >>> next(stock_parts(outcome.mixing, outcome.job)).title
    'stocks'
    """
    tanks, why = mixing.tanks_or_why
    if tanks is None:
        yield Part("stocks", tuple(why.split("; ")))
        return
    from formulate.sheets.figures.tank_use import tank_use

    where, what = tanks.limiting
    words = (
        f"this split stays clear up to {tanks.greatest.as_ratio}; then {what} in {where}",
        *(
            [f"{tanks.divided} is divided, so that no tank is too full"]
            * bool(tanks.divided)
        ),
        *(str(n) for n in tanks.notices if n.severity == "note"),
    )
    beware = [n.what for n in tanks.notices if n.severity != "note"]
    yield Part("stocks", words, tank_use(tanks), tanks_table(tanks), tuple(beware))
    tables = tank_tables(tanks, job.units, job.title)
    for made, label in zip(tables[::2], tables[1::2], strict=True):
        told = tuple(row[0] for row in label.rows)
        yield Part(made.title, (f"{label.title}:", *told), table=made)
    yield _meetings(mixing)
    yield Part("an injector that is off", table=injector_table(tanks))


def _meetings(mixing):
    """Return what happens where concentrates meet, or why that is not known."""
    from formulate.sheets.figures.mixing_lines import mixing_lines

    title, (found, why) = "where concentrates meet", mixing.meetings_or_why
    if found is None:
        return Part(title, (why,))
    ends = (found.jug_line, f"the working solution, all stirred in: {found.after}")
    return Part(title, ends, mixing_lines(found), meeting_table(found))


def reading_parts(mixing):
    """
    Yield what the readings tell, if there are any.

    Parameters
    ----------
    mixing : JobMixing
        How a batch is mixed.

    Yields
    ------
    Part
        What the readings tell.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> list(reading_parts(run_job(read_job(DEMO)).mixing))
    []
    """
    found = mixing.diagnosis
    if found is not None:
        told = [line for line in found.lines if not line.startswith(ALIKE)]
        alike = [line.strip() for line in found.lines if line.startswith(ALIKE)]
        yield Part("what went wrong", (*told, *map(str, found.notices)))
        yield Part("what may have happened", tuple(alike), table=diagnosis_table(found))


def mixing_text(outcome):
    """
    Return how a batch is mixed as text for a terminal.

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
    >>> mixing_text(run_job(read_job(DEMO))).splitlines()[0]
    'the plan'
    """
    return parts_text(mixing_parts(outcome), outcome)


def mixing_markup(outcome, *, whole=False):
    """
    Return how a batch is mixed as HTML.

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
    >>> "<h3>the plan" in mixing_markup(run_job(read_job(DEMO)))
    True
    """
    return parts_markup(mixing_parts(outcome), outcome, heading=HEADING, whole=whole)


def write_mixing(outcome, folder):
    """
    Write how a batch is mixed as HTML and its tables as CSV.

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
    ...     [p.suffix for p in write_mixing(run_job(read_job(DEMO)), folder)]
    ['.html', '.csv']
    """
    return write_parts(mixing_parts(outcome), outcome, folder, heading=HEADING)
