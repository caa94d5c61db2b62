"""The tables of mixing: the plan, each step, concentrates with their labels, readings."""

from dataclasses import replace

from formulate.ingredients.hazards import hazard_text
from formulate.sheets.measures import batch_text, per_volume, shown
from formulate.sheets.mixing_workings import (
    log_workings,
    plan_workings,
    reading_workings,
)
from formulate.sheets.stock_workings import (
    content_workings,
    injector_workings,
    meeting_workings,
    tank_workings,
)
from formulate.sheets.table import Table
from formulate.sheets.weighed_tables import measured
from formulate.stoichiometry.units import unit
from formulate.working import printed

__all__ = [
    "diagnosis_table",
    "injector_table",
    "log_table",
    "meeting_table",
    "mixing_data",
    "order_table",
    "plan_table",
    "tank_tables",
    "tanks_table",
]

SUSPECTS = 12  # rows of hypotheses that are shown
ML_PER_LITRE = 1000.0
SMALLEST = 0.05  # %: less changes nothing that is printed


def plan_table(mixing, units="metric", *, whole=True):
    """
    Return the plan: what to do, how long to wait, what meters show then.

    Parameters
    ----------
    mixing : JobMixing
        How a batch is mixed.
    units : str
        "metric" or "us".
    whole : bool
        Whether what comes after topping up is told step by step; else in one row.

    Returns
    -------
    Table
        One row per step.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> plan_table(run_job(read_job(DEMO)).mixing).columns[:2]
    ('', 'do')
    """
    plan, weighing = mixing.plan, mixing.weighing
    amounts = {i.name: (i, amount) for i, amount in weighing.amounts}
    rows, last, shown = [], len(mixing.order) + 2, []
    waits = [step.wait for step in plan.steps if step.name]
    usual = max(waits, key=waits.count)
    for step in plan.steps if whole else plan.steps[:last]:
        what, much = step.what, ""
        if step.name:
            pair = amounts[step.name]
            much = _measured(*pair, weighing.steps.get(step.name), units)
            what = f"{step.verb} {much} {step.name}"
        elif step.amount:
            much = _volume(plan.log.volumes[0 if step.number == 1 else -1], units)
            what = what.replace(step.amount, much)
        shown.append(much)
        wait = "" if step.wait == usual else step.wait
        if step.number == 1:
            wait = f"after each, unless told otherwise: {usual}"
        beware = "; ".join(filter(None, [wait, step.caution]))
        rows.append((str(step.number), what, step.ph, step.ec, beware))
    if not whole and plan.last:
        told = "bring the pH where it is wanted, as told below, then measure the EC"
        rows.append((str(last + 1), told, "", "", ""))
    columns = ("", "do", "pH then", "EC then, mS/cm", "wait, beware")
    title = f"Mix in this order ({mixing.order_words})"
    table = Table("plan", title, columns, tuple(rows))
    return table.with_workings(plan_workings(mixing, shown))


def _volume(litres, units):
    """Return a volume as a sheet prints it, to three digits."""
    rounded = float(f"{litres:.3g}")
    if units == "metric":
        return batch_text(rounded)
    gallons = litres / unit("US gal").factor
    return f"{gallons:.3g} US gal ({batch_text(rounded)})"


def _measured(ingredient, amount, step, units):
    """Return an amount with its unit: liquids by volume, their grams in brackets."""
    if ingredient.is_liquid and ingredient.density:
        ingredient, step = replace(ingredient, weighing_step=None), None
    number, of_unit, also = measured(ingredient, amount, step, units)
    return f"{number} {of_unit}" + (f" ({also})" if also else "")


def log_table(log):
    """
    Return what each step is and threatens, as mixed and in the end.

    Parameters
    ----------
    log : MixingLog
        The log.

    Returns
    -------
    Table
        One row per step.

    Examples
    --------
    >>> from formulate.mixing.sequence import simulate_mixing
    >>> len(log_table(simulate_mixing({"KNO3": 5.0}, volume=10)).rows)
    3
    """
    rows = tuple(
        tuple("" if cell == "nothing" else cell for cell in row) for row in log.rows()
    )
    columns = (
        "",
        "after",
        "L",
        "pH",
        "EC, mS/cm",
        "ionic strength, mmol/L",
        "nearest solid, its index",
        "risk",
        "pH in the end",
        "EC in the end",
        "fallen out by then, in the end",
        "locked in it",
    )
    title = "Each step: as mixed, and in the end (given time; mg per litre of the finished batch)"
    table = Table("log", title, columns, rows, (0, 2, 3, 4, 5, 8, 9))
    table = table.with_workings(log_workings(log))
    return table.without_empty(*columns[-2:])


def order_table(best):
    """
    Return why each ingredient stands where it does.

    Parameters
    ----------
    best : BestOrder
        The best order.

    Returns
    -------
    Table
        One row per ingredient.

    Examples
    --------
    >>> from formulate.mixing.best_order import best_order
    >>> order_table(best_order({"KNO3": 5.0}, volume=10)).rows
    (('1', 'KNO3', 'it is the only one'),)
    """
    return Table(
        "order", "Why this order", ("", "ingredient", "why there"), best.rows()
    )


def tanks_table(tanks):
    """
    Return the check values of each concentrate.

    Parameters
    ----------
    tanks : StockTanks
        The concentrates.

    Returns
    -------
    Table
        One row per tank.

    Examples
    --------
    >>> from formulate.mixing.tanks import split_tanks
    >>> tanks_table(split_tanks({"KNO3": 50.0}, volume=100)).rows[0][0]
    'stock A'
    """
    columns = (
        "stock",
        "L",
        "pH",
        "kg/L",
        "EC, mS/cm",
        "EC thinned alone, mS/cm",
        "fullest salt",
        "of its solubility",
        "nearest to falling out in the cold",
    )
    title = f"Stocks {tanks.strength}, kept at {tanks.coldest:g} °C or above"
    table = Table("tanks", title, columns, tanks.rows(), (1, 2, 3, 4, 5, 7))
    return table.with_workings(tank_workings(tanks))


def tank_tables(tanks, units="metric", batch=""):
    """
    Return what goes into each tank, and what to write on it.

    Parameters
    ----------
    tanks : StockTanks
        The concentrates.
    units : str
        "metric" or "us".
    batch : str
        What the batch is for.

    Returns
    -------
    tuple of Table
        For each tank its contents, then its label.

    Examples
    --------
    >>> from formulate.mixing.tanks import split_tanks
    >>> made, label = tank_tables(split_tanks({"KNO3": 50.0}, volume=100))
    >>> made.rows[0][:4], label.rows[0]
    (('KNO3', '50.00', 'g', '50.00 g/L'), ('stock A',))
    """
    found = []
    for tank in tanks.tanks:
        found.append(_contents(tank, tanks, units))
        found.append(_label(tank, tanks, units, batch))
    return tuple(found)


def _contents(tank, tanks, units):
    """Return what goes into one tank."""
    rows = []
    for ingredient, grams in tank.parts:
        liquid = ingredient.is_liquid and ingredient.density
        read = replace(ingredient, weighing_step=None) if liquid else ingredient
        number, of_unit, also = measured(read, grams, None, units)
        rate = " ".join(per_volume(grams, ingredient.measured_in, tank.volume))
        working = tank.volume * tank.strength.times
        each = per_volume(grams, ingredient.measured_in, working, units)
        rows.append(
            (
                ingredient.name,
                number,
                of_unit,
                rate,
                " ".join(each),
                tank.reasons.get(ingredient.name, ""),
                also,
            )
        )
    columns = (
        "ingredient",
        "amount",
        "unit",
        "in the stock",
        "in the feed",
        "why here",
        "also",
    )
    title = (
        f"{tank.label[0].upper()}{tank.label[1:]}: dissolve one by one, make up to "
        f"{_volume(tank.volume, units)}"
    )
    table = Table(f"tank {tank.name}", title, columns, tuple(rows), (1, 3, 4))
    table = table.with_workings(content_workings(tank, tanks, table.rows))
    return table.without_empty("why here", "also")


def _label(tank, tanks, units, batch):
    """Return the words for a tank."""
    holds = ", ".join(
        f"{_measured(i, grams, None, units)} {i.name}" for i, grams in tank.parts
    )
    lines = [tank.label, f"for {batch}"] if batch else [tank.label]
    lines += [f"in {_volume(tank.volume, units)}: {holds}"]
    lines += [f"strength {tank.strength}: {_dose(tanks, units)}"]
    lines += [f"{i.name}: {hazard_text(i.hazards)}" for i, _ in tank.parts]
    acid = tank.name.startswith("acid")
    lines += ["never mix with another concentrate"]
    lines += ["acid into water, never the reverse; goggles and gloves"] * acid
    lines += [
        f"keep at {tanks.coldest:g} °C or above, dark, closed, away from children"
    ]
    lines += ["concentrate, not for drinking; made on __________ by __________"]
    rows = tuple((line,) for line in lines)
    return Table(f"tank label {tank.name}", f"Write on {tank.label}", ("",), rows)


def _dose(tanks, units):
    """Return what the batch takes of a concentrate."""
    dose = " ".join(shown(tanks.dose * ML_PER_LITRE, None, "mL", units))
    return f"{dose} for {batch_text(tanks.batch.volume, units)}"


def meeting_table(found):
    """
    Return what happens wherever concentrates meet.

    Parameters
    ----------
    found : Meetings
        The lines.

    Returns
    -------
    Table
        One row per line.

    Examples
    --------
    >>> from formulate.mixing.meeting import meetings
    >>> from formulate.mixing.tanks import split_tanks
    >>> meeting_table(meetings(split_tanks({"KNO3": 50.0}, volume=100))).rows[0][0]
    'stock A into the water'
    """
    columns = (
        "what is poured",
        "solid",
        "worst index",
        "risk",
        "of the way above saturation",
    )
    title = "Where concentrates meet"
    table = Table("meetings", title, columns, found.rows(), (2, 4))
    return table.with_workings(meeting_workings(found))


def injector_table(tanks):
    """
    Return what an injector that is off does to the working solution.

    Parameters
    ----------
    tanks : StockTanks
        The concentrates.

    Returns
    -------
    Table
        One row per case.

    Examples
    --------
    >>> from formulate.mixing.tanks import split_tanks
    >>> injector_table(split_tanks({"KNO3": 50.0}, volume=100)).rows[1][0]
    'stock A 10 % too much'
    """
    rows = []
    for what, ec, ph, change in tanks.injector():
        moved = [f"{k} {v:+.1f}" for k, v in change.items() if abs(v) > SMALLEST]
        rows.append((what, printed(ec, 3), f"{ph:.2f}", ", ".join(moved)))
    columns = ("injector", "EC, mS/cm", "pH", "nutrients, %")
    table = Table("injector", "An injector that is off", columns, tuple(rows), (1, 2))
    return table.with_workings(injector_workings(tanks))


def diagnosis_table(found):
    """
    Return which hypotheses fit the readings, the best first.

    Parameters
    ----------
    found : Diagnosis
        What the readings tell.

    Returns
    -------
    Table
        One row per hypothesis, the most likely dozen.

    Examples
    --------
    >>> from formulate.mixing.mistakes import what_went_wrong
    >>> diagnosis_table(what_went_wrong({"KNO3": 10.0}, volume=10, ec=1.37)).rows[0][0]
    'nothing is wrong'
    """
    suspects = _meant_first(found)[:SUSPECTS]
    rows = tuple(
        (
            one.words,
            printed(one.ec, 3),
            f"{one.ph:.2f}",
            f"{one.misfit:.1f}",
            "yes" if one.possible else "no",
        )
        for one in suspects
    )
    columns = (
        "what may have happened",
        "EC then, mS/cm",
        "pH then",
        "meter errors off",
        "possible",
    )
    table = Table("diagnosis", "What the readings tell", columns, rows, (1, 2, 3))
    return table.with_workings(reading_workings(found, suspects))


def _meant_first(found):
    """Return the hypotheses, that nothing is wrong first where it may be."""
    suspects = list(found.suspects)
    if found.may_be_right:
        suspects.sort(key=lambda one: one.words != found.right.words)
    return suspects


def mixing_data(mixing):
    """
    Return how a batch is mixed as plain data, for other programs.

    Parameters
    ----------
    mixing : JobMixing
        How a batch is mixed.

    Returns
    -------
    dict
        Order, steps with pH, EC, indices, solids; concentrates if asked for. [-]

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> sorted(mixing_data(run_job(read_job(DEMO)).mixing))
    ['order', 'order_from', 'steps', 'stocks', 'water_first']
    """
    if mixing.fault:
        return {"refused": mixing.fault}
    steps = [
        {
            "after": step.name,
            "volume_l": step.volume,
            "ph": step.ph,
            "ec_ms_cm": step.ec,
            "indices": dict(step.indices),
            "risk": step.word,
            "ph_in_the_end": step.settled_ph,
            "ec_in_the_end_ms_cm": step.settled_ec,
            "solids_mg_l": dict(step.solids),
            "locked_mg_l": dict(step.locked),
        }
        for step in mixing.log.steps
    ]
    return {
        "order": list(mixing.order),
        "order_from": mixing.order_words,
        "water_first": mixing.start_fraction,
        "steps": steps,
        "stocks": _stocks_data(mixing) if mixing.wants_tanks else None,
    }


def _stocks_data(mixing):
    """Return the concentrates as plain data, or why there are none."""
    tanks, why = mixing.tanks_or_why
    if tanks is None:
        return {"refused": why}
    return {
        "strength": tanks.strength.times,
        "coldest_c": tanks.coldest,
        "greatest_strength": tanks.greatest.times,
        "limited_by": list(tanks.limiting),
        "tanks": {
            tank.name: {
                "volume_l": tank.volume,
                "grams": {i.name: grams for i, grams in tank.parts},
                "ph": tank.ph,
                "density_kg_l": tank.density,
                "ec_ms_cm": tank.ec,
                "ec_thinned_alone_ms_cm": tank.thinned_ec,
                "solubility_used_percent": dict(tank.uses),
            }
            for tank in tanks.tanks
        },
    }
