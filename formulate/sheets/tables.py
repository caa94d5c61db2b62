"""The tables of a sheet: what to weigh, what a litre holds, what to know, where from.

Every view (terminal, page, CSV, JSON) is made from these, so that all show the same digits.
"""

import formulate
from formulate.ingredients.dissolve import poured_litres
from formulate.ingredients.hazards import cautions, dangerous_pairs, hazard_text
from formulate.sheets.chemistry_tables import chemistry_data, chemistry_tables
from formulate.sheets.contents_tables import along, contents, limits
from formulate.sheets.mixing_tables import (
    mixing_data,
    plan_table,
    tank_tables,
    tanks_table,
)
from formulate.sheets.table import Table, csv_text, table_text
from formulate.sheets.weighed_tables import printed_cost, rates, stock_tables, weights
from formulate.tables import checksum, source
from formulate.working import printed

__all__ = [
    "Table",
    "as_data",
    "csv_text",
    "printed_cost",
    "sheet_tables",
    "stamp",
    "table_text",
]


def stamp(outcome=None):
    """
    Return what a sheet carries so that its numbers can be made again.

    Parameters
    ----------
    outcome : Outcome or None
        The outcome of a job; all have the same.

    Returns
    -------
    str
        Version and checksum of the tables.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> stamp(run_job(read_job(DEMO))).startswith("formulate 0.")
    True
    """
    return f"formulate {formulate.__version__}, tables {checksum()}"


def _notices(outcome):
    rows = tuple((notice.severity, notice.what) for notice in outcome.notices)
    return Table("notices", "To know", ("weight", "what"), rows)


def _water(outcome):
    water = outcome.water
    readings = [("pH", water.ph, ""), ("EC at 25 °C", water.ec, "mS/cm")]
    readings.append(("alkalinity", water.alkalinity, "meq/L"))
    rows = [
        (name, f"{value:.4g} {unit}".strip()) for name, value, unit in readings if value
    ]
    rows += _litres(outcome)
    rows += [("assumed", text) for text in water.assumed]
    unnamed = "as given" if any(water.solution.forms.values()) else "pure"
    title = f"Water: {water.name or unnamed}"
    return Table("water", title, ("", ""), tuple(rows))


def _litres(outcome):
    """Yield litres of each water of a blend for the batch; liquids take their room."""
    of_water = outcome.volume - poured_litres(outcome.weighing.amounts)
    for one, share in outcome.water.parts:
        yield one.name or "the water", f"{printed(share * of_water)} L"


def _hazards(outcome):
    handled = [ingredient for ingredient, _ in outcome.recipe.amounts]
    if outcome.correction.at_hand:
        handled += outcome.correction.handled
    rows = tuple((i.name, hazard_text(i.hazards)) for i in dict.fromkeys(handled))
    columns = ("ingredient", "statements (GHS)")
    return Table("hazards", "Hazards of what you handle", columns, rows)


def _cautions(outcome):
    handled = [ingredient for ingredient, _ in outcome.recipe.amounts]
    handled += outcome.correction.handled
    found = cautions(handled)
    return Table("cautions", "Before you start", ("",), tuple((c.text,) for c in found))


def _apart(recipe):
    found = dangerous_pairs(ingredient for ingredient, _ in recipe.amounts)
    told = [n for n in found if n.severity != "note"]
    rows = tuple((notice.severity, notice.what) for notice in told)
    return Table("apart", "Keep apart", ("weight", "what"), rows)


def _sources(outcome):
    keys = [outcome.target.source_key, outcome.water.source_key]
    keys += [ingredient.source_key for ingredient, _ in outcome.recipe.amounts]
    keys += [notice.source_key for notice in outcome.notices]
    each = dict.fromkeys(key.strip() for text in keys for key in text.split(";"))
    rows = tuple((key, str(source(key))) for key in each if key)
    return Table("sources", "Sources", ("key", "what"), rows)


def sheet_tables(outcome, *, quick=False, mixed=True, chemical=True):
    """
    Return every table of the bench sheet.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.
    quick : bool
        Whether what falls out in the end is left out, which takes longest.
    mixed : bool
        Whether the plan of the mixing is among them, and the weights in its order.
    chemical : bool
        Whether the chemistry is among them.

    Returns
    -------
    tuple of Table
        Weights, stocks of traces with their labels, the plan of the mixing, concentrates
        if the job asks for them, how the recipe was chosen, contents, the chemistry (meters, what
        carries the EC, what may fall out, the correction of pH, air, iron), notices, water,
        cautions, hazards and sources.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> [table.key for table in sheet_tables(run_job(read_job(DEMO)))][:4]
    ['weights', 'stock 1', 'label 1', 'plan']
    """
    recipe, weighing, units = outcome.recipe, outcome.weighing, outcome.job.units
    fault = outcome.mixing.fault if mixed else ""
    order = outcome.mixing.order if mixed and not fault else None
    return (
        weights(weighing, units, order),
        *stock_tables(weighing, units, outcome.job.title),
        *(_mixing(outcome) if mixed else ()),
        _choice(outcome),
        contents(weighing),
        along(weighing),
        limits(weighing),
        *(chemistry_tables(outcome, quick=quick) if chemical else ()),
        _notices(outcome),
        _water(outcome),
        _cautions(outcome),
        _apart(recipe),
        _hazards(outcome),
        rates(weighing, units),
        _sources(outcome),
    )


def as_data(outcome):
    """
    Return an outcome as plain data, for other programs.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.

    Returns
    -------
    dict
        Title, volume, weights, contents, notices and stamp; numbers unrounded, except
        under "weighed", where amounts are whole steps. [mg/L]

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> sorted(as_data(run_job(read_job(DEMO))))[:3]
    ['binding', 'chosen', 'contents_mg_l']
    """
    recipe = outcome.recipe
    reached = {
        key: {"wanted": wanted, "reached": has, "from_water": tap}
        for key, wanted, has, tap, _ in recipe.rows()
    }
    notices = [
        {"severity": n.severity, "what": n.what, "number": n.number, "limit": n.limit}
        for n in outcome.notices
    ]
    return {
        "title": outcome.job.title,
        "volume_l": recipe.volume,
        "status": recipe.status,
        "chosen": list(outcome.chosen.lines),
        "grams": dict(recipe.masses),
        "millilitres": dict(recipe.millilitres),
        "contents_mg_l": reached,
        "forms_mmol_l": dict(recipe.solution.forms),
        "unassigned_charge_meq_l": recipe.solution.unassigned_charge,
        "binding": list(recipe.binding),
        "equivalents": list(recipe.equivalents),
        "weighed": _weighed_data(outcome.weighing),
        "expected": _expected_data(outcome.expected),
        **chemistry_data(outcome),
        "mixing": mixing_data(outcome.mixing),
        "cost": recipe.cost,
        "notices": notices,
        "made_by": stamp(outcome),
    }


def _mixing(outcome):
    """Yield the plan of the mixing, and the concentrates if the job asks for them."""
    mixing, units = outcome.mixing, outcome.job.units
    if mixing.fault:
        yield Table("plan", "No plan of the mixing", ("",), ((mixing.fault,),))
        return
    yield plan_table(mixing, units, whole=False)
    if not mixing.wants_tanks:
        return
    tanks, why = mixing.tanks_or_why
    if tanks is None:
        rows = tuple((text,) for text in why.split("; "))
        yield Table("tanks", "No stocks", ("",), rows)
        return
    yield tanks_table(tanks)
    yield from tank_tables(tanks, units, outcome.job.title)


def _choice(outcome):
    """Return how the recipe was chosen, if not simply the nearest."""
    rows = tuple((line,) for line in outcome.chosen.lines)
    return Table("choice", "How this recipe was chosen", ("",), rows)


def _expected_data(found):
    """Return pH, EC and what carries it as numbers."""
    ends = {"closed": found.ph, "aerated": found.ph_aerated}
    return {
        "ph": {
            name: {"ph": one.ph, "low": one.low, "high": one.high}
            for name, one in ends.items()
        },
        "buffer_capacity_meq_l": found.ph.buffer_capacity,
        "ec_ms_cm_25": found.conductivity.ec,
        "ec_error_percent": found.conductivity.error_percent,
        "carried_ms_cm": dict(found.conductivity.by_ion),
        "ionic_strength_mmol_l": found.state.ionic_strength,
    }


def _weighed_data(weighing):
    """Return the weights in whole steps, the stocks, and what rounding changes."""
    pairs = weighing.amounts
    words = ("exact_mg_l", "weighed_mg_l", "change_percent")
    words += ("steps_worst_percent", "steps_likely_percent")
    return {
        "grams": {i.name: amount for i, amount in pairs if i.measured_in == "g"},
        "millilitres": {i.name: i.millilitres(a) for i, a in pairs if i.is_liquid},
        "steps": dict(weighing.steps),
        "stocks": [_stock_data(made) for made in weighing.stocks],
        "rounding": {
            key: dict(zip(words, values, strict=True))
            for key, *values in weighing.rows()
        },
    }


def _stock_data(made):
    words = ("grams", "grams_a_batch", "alone_percent")
    words += ("stock_worst_percent", "stock_likely_percent")
    parts = {}
    for name, *values in made.rows():
        finite = [None if value == float("inf") else value for value in values]
        parts[name] = dict(zip(words, finite, strict=True))
    return {
        "name": made.ingredient.name,
        "volume_l": made.volume,
        "dose_ml": made.dose,
        "batches": made.batches,
        "parts": parts,
    }
