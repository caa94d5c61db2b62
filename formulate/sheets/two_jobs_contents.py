"""The tables of what two jobs make side by side: what a litre holds, what meters show."""

from formulate.chemistry.conductivity import REFERENCE, meter_reading
from formulate.chemistry.expected import COLD
from formulate.sheets.contents_tables import as_weighed
from formulate.sheets.table import Table
from formulate.sheets.two_jobs_asked import wanted_text
from formulate.sheets.two_jobs_weights import difference_text, percent_text, told_only
from formulate.working import printed, printed_mg_l

__all__ = ["contents_beside", "meters_beside", "readings_of"]

# --- contents ---------------------------------------------------------------------------


def contents_beside(first, second, targets):
    """
    Return what a litre of both batches holds against what was wanted.

    Parameters
    ----------
    first : Weighing or None
        What the balance shows of one job; None if it has no recipe.
    second : Weighing or None
        That of the other.
    targets : sequence of Target or None
        What each wants; None where that cannot be read.

    Returns
    -------
    Table
        Nutrient, wanted and reached of both, difference of what is reached. [mg/L]

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> feeds = [target({"K": k}) for k in (200, 100)]
    >>> whole, half = (weigh(solve(feed, ["KNO3"], volume=10)) for feed in feeds)
    >>> contents_beside(whole, half, feeds).rows[0]
    ('K', '200.0', '100.0', '201.1', '100.5', '-100.5', '-50.0 %')
    """
    made = [as_weighed(one) if one is not None else None for one in (first, second)]
    rows = []
    for key in _keys(made, targets):
        wanted = [wanted_text(t, key) if t is not None else "" for t in targets]
        held = [one.solution.mg_l(key) if one is not None else 0.0 for one in made]
        texts = [printed_mg_l(value) for value in held]
        more = difference_text(*held, *texts)
        rows.append((key, *wanted, *texts, more, percent_text(*held)))
    columns = ("nutrient, mg/L", "first wanted", "second wanted", "first", "second")
    columns += ("difference", "%")
    title = "What a litre holds"
    table = Table("contents-beside", title, columns, tuple(rows), (1, 2, 3, 4, 5, 6))
    table = told_only(table, first, second)
    return table.without_empty("first wanted", "second wanted")


def _keys(made, targets):
    """Return every nutrient that one of two sheets shows: wanted ones first."""
    wanted = [key for t in targets if t is not None for key in t.wanted]
    shown_keys = [row[0] for one in made if one is not None for row in one.rows()]
    return tuple(dict.fromkeys((*wanted, *shown_keys)))


# --- meters -----------------------------------------------------------------------------


def meters_beside(first, second):
    """
    Return what meters will show of both batches, and what may fall out.

    Parameters
    ----------
    first : Outcome or None
        The outcome of one job; None if it has no recipe.
    second : Outcome or None
        That of the other.

    Returns
    -------
    Table
        Reading or solid, both values with their unit, difference.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> demo = read_job(DEMO)
    >>> half = run_job(replace(demo, strength_percent=50))
    >>> meters_beside(run_job(demo), half).rows[3]
    ('EC at 25 °C', '1.46 mS/cm', '0.960 mS/cm', '-0.50', '-34.1 %')
    """
    sides = [readings_of(one) if one is not None else {} for one in (first, second)]
    rows = [
        (name, *_reading_cells(*(side.get(name, ("", None)) for side in sides)))
        for name in dict.fromkeys(name for side in sides for name in side)
    ]
    for name in dict.fromkeys((*_solids(first), *_solids(second))):
        words = [_solids(one).get(name, "none") for one in (first, second)]
        rows.append((name, *words, "", ""))
    columns = ("reading", "first", "second", "difference", "%")
    table = Table(
        "meters-beside", "What meters show", columns, tuple(rows), (1, 2, 3, 4)
    )
    return told_only(table, first, second)


def readings_of(outcome):
    """
    Return what meters will show of a batch, and what alkalinity is left.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job that has a recipe.

    Returns
    -------
    dict
        Reading to its text and, where it is one number, that number, else None.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> text, ec = readings_of(run_job(read_job(DEMO)))["EC at 25 °C"]
    >>> text, round(ec, 2)
    ('1.46 mS/cm', 1.46)
    """
    found = outcome.expected
    numbers = {
        "pH when mixed": found.ph.ph if found.ph.is_single else None,
        "pH once aerated": found.ph_aerated.ph if found.ph_aerated.is_single else None,
        "acid or alkali for one pH unit": found.ph.buffer_capacity,
        "EC at 25 °C": found.conductivity.ec,
        "ionic strength": found.state.ionic_strength,
    }
    reading = meter_reading(found.state, temperature=COLD, reference=REFERENCE)
    rows = {
        name: (text, reading if name.startswith("meter") else numbers.get(name))
        for name, text in found.rows()
    }
    left = as_weighed(outcome.weighing).alkalinity_left
    rows["alkalinity left"] = (f"{printed(left, 3)} meq/L", left)
    return rows


def _reading_cells(one, other):
    """Return two readings, their difference and that in percent; a pH has no percent."""
    (text, value), (other_text, other_value) = one, other
    if value is None or other_value is None:
        return text, other_text, "", ""
    numbers = [cell.partition(" ")[0] for cell in (text, other_text)]
    more = difference_text(value, other_value, *numbers)
    is_ph = text.partition(" ")[2][:1] in ("", "(")
    return text, other_text, more, "" if is_ph else percent_text(value, other_value)


def _solids(outcome):
    """Return what may fall out, when mixed and in the air, to the word of its risk."""
    if outcome is None:
        return {}
    now = {f"{r.name}, when mixed": r.words for r in outcome.solids.telling}
    return now | {
        f"{r.name}, in the air": r.words for r in outcome.solids_in_air.telling
    }
