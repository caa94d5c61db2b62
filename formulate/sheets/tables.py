"""The tables of a sheet: what to weigh, what a litre holds, what to know, where from.

Every view (terminal, page, CSV, JSON) is made from these, so that all show the same digits.
"""

import csv
import io
from dataclasses import dataclass

import formulate
from formulate.ingredients.hazards import cautions, dangerous_pairs, hazard_text
from formulate.tables import checksum, source
from formulate.working import printed, printed_mg_l, printed_percent

__all__ = ["Table", "as_data", "csv_text", "printed_cost", "sheet_tables", "stamp"]

SMALL_COST = 0.1  # below it two decimals say nothing
FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True)
class Table:
    """
    One table of a sheet.

    Attributes
    ----------
    key : str
        Short name.
    title : str
        Heading.
    columns : tuple of str
        Column names with their units.
    rows : tuple of tuple of str
        Cells as they are shown.
    numeric : tuple of int
        Columns that hold numbers, counted from 0. [-]
    """

    key: str
    title: str
    columns: tuple
    rows: tuple
    numeric: tuple = ()


def stamp(outcome):
    """
    Return what a sheet carries so that its numbers can be made again.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.

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


def _weights(recipe):
    rows = []
    for number, (ingredient, amount) in enumerate(_in_order_of_use(recipe), 1):
        poured = ingredient.millilitres(amount)
        grams = printed(amount) if ingredient.measured_in == "g" else ""
        millilitres = printed(poured) if poured else ""
        price = printed_cost(ingredient.cost(amount))
        name = ingredient.name
        rows.append((str(number), name, grams, millilitres, price))
    columns = ("", "ingredient", "g", "mL", "cost")
    if not any(row[3] for row in rows):
        rows, columns = [row[:3] + row[4:] for row in rows], columns[:3] + columns[4:]
    title = f"Weigh for {recipe.volume:.6g} L"
    return Table("weights", title, columns, tuple(rows), tuple(range(2, len(columns))))


def printed_cost(cost):
    """
    Return a cost as it is shown.

    Parameters
    ----------
    cost : float or None
        Cost; None if it is not known. [currency]

    Returns
    -------
    str
        Two decimals, or two digits below a tenth; empty if it is not known.

    Examples
    --------
    >>> printed_cost(12.345), printed_cost(0.00312), printed_cost(None)
    ('12.35', '0.0031', '')
    """
    if cost is None:
        return ""
    return f"{cost:.2f}" if cost >= SMALL_COST or not cost else printed(cost, 2)


def _in_order_of_use(recipe):
    """Return what is used: silicate first, then acids, the rest, calcium last.

    Common practice; the order is not worked out here.
    """
    return sorted(
        recipe.amounts,
        key=lambda pair: (
            "silicate" not in pair[0].forms,
            pair[0].role != "acid",
            "calcium" in pair[0].forms,
        ),
    )


def _contents(recipe):
    rows = []
    for key, wanted, has, tap, deviation in recipe.rows():
        low_high = ""
        if key in recipe.target.ranges:
            factor = recipe.target.mg_l(key) / recipe.target.wanted[key]
            ends = (printed_mg_l(end * factor) for end in recipe.target.ranges[key])
            low_high = " to ".join(ends)
        asked = low_high or ("" if wanted is None else printed_mg_l(wanted))
        off = "" if deviation is None or low_high else printed_percent(deviation)
        mmol = printed(recipe.solution.mmol_l(key))
        rows.append((key, asked, printed_mg_l(has), off, printed_mg_l(tap), mmol))
    left = f"{printed(recipe.solution.alkalinity(), 3)} meq/L"
    brought = f"{printed(recipe.water.solution.alkalinity(), 3)} meq/L"
    rows.append(("alkalinity left", "", left, "", brought, ""))
    columns = (
        "nutrient",
        "wanted mg/L",
        "reached mg/L",
        "off",
        "from water mg/L",
        "mmol/L",
    )
    return Table(
        "contents", "A litre then holds", columns, tuple(rows), (1, 2, 3, 4, 5)
    )


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
    rows += [("assumed", text) for text in water.assumed]
    title = f"Water: {water.name or 'as given'}"
    return Table("water", title, ("", ""), tuple(rows))


def _hazards(recipe):
    rows = tuple(
        (ingredient.name, hazard_text(ingredient.hazards))
        for ingredient, _ in recipe.amounts
    )
    columns = ("ingredient", "statements (GHS)")
    return Table("hazards", "Hazards of what you handle", columns, rows)


def _cautions(recipe):
    found = cautions(ingredient for ingredient, _ in recipe.amounts)
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


def sheet_tables(outcome):
    """
    Return every table of the bench sheet.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.

    Returns
    -------
    tuple of Table
        Weights, contents, notices, water, cautions, hazards and sources.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> [table.key for table in sheet_tables(run_job(read_job(DEMO)))][:3]
    ['weights', 'contents', 'notices']
    """
    recipe = outcome.recipe
    return (
        _weights(recipe),
        _contents(recipe),
        _notices(outcome),
        _water(outcome),
        _cautions(recipe),
        _apart(recipe),
        _hazards(recipe),
        _sources(outcome),
    )


def _safe(cell):
    """Return a cell that no spreadsheet takes for a formula."""
    is_number = cell.replace(" %", "").lstrip("+-").replace(".", "", 1).isdigit()
    return f"'{cell}" if cell.startswith(FORMULA_SIGNS) and not is_number else cell


def csv_text(tables):
    """
    Return tables as CSV, one after the other, with their titles.

    Parameters
    ----------
    tables : iterable of Table
        The tables.

    Returns
    -------
    str
        Text with commas; cells that look like formulas are made text.

    Examples
    --------
    >>> print(csv_text([Table("t", "Test", ("a",), (("=1+1",),))]).strip())
    Test
    a
    '=1+1
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    for place, table in enumerate(tables):
        if place:
            writer.writerow([])
        writer.writerow([_safe(table.title)])
        writer.writerow([_safe(column) for column in table.columns])
        writer.writerows([[_safe(cell) for cell in row] for row in table.rows])
    return buffer.getvalue()


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
        Title, volume, weights, contents, notices and stamp; numbers unrounded. [mg/L]

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> sorted(as_data(run_job(read_job(DEMO))))[:3]
    ['binding', 'contents_mg_l', 'cost']
    """
    recipe = outcome.recipe
    contents = {
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
        "grams": dict(recipe.masses),
        "millilitres": dict(recipe.millilitres),
        "contents_mg_l": contents,
        "forms_mmol_l": dict(recipe.solution.forms),
        "unassigned_charge_meq_l": recipe.solution.unassigned_charge,
        "binding": list(recipe.binding),
        "equivalents": list(recipe.equivalents),
        "cost": recipe.cost,
        "notices": notices,
        "made_by": stamp(outcome),
    }
