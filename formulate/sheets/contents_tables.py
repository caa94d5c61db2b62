"""The tables of what a litre holds: as weighed against what was wanted, and what comes along."""

import math
from dataclasses import dataclass, fields
from functools import cached_property

from formulate.recipes.practical import Weighing
from formulate.recipes.recipe import Recipe
from formulate.sheets.table import Table
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import recipe_rule
from formulate.working import printed, printed_mg_l, printed_percent

__all__ = ["along", "as_weighed", "contents", "limits", "printed_spread"]

LEAST_SPREAD = 0.01  # %: nobody needs to know it closer
OVER, UNDER = "▲", "▼"
WITHIN = "in range"


@dataclass(frozen=True, eq=False)
class _Weighed(Recipe):
    """A recipe in which the amounts are those that the balance shows."""

    weighing: Weighing | None = None

    @cached_property
    def amounts(self):
        """Return (ingredient, amount) as weighed. [g, or mL of a stock]"""
        return self.weighing.amounts


def as_weighed(weighing):
    """
    Return a recipe whose amounts, solution, misses and cost are those of the weights.

    Parameters
    ----------
    weighing : Weighing
        What the balance shows.

    Returns
    -------
    Recipe
        The recipe as weighed.

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> round(as_weighed(weigh(recipe)).misses["K"], 4)
    0.0055
    """
    recipe = weighing.recipe
    facts = {field.name: getattr(recipe, field.name) for field in fields(Recipe)}
    return _Weighed(**facts, weighing=weighing)


def printed_spread(percent):
    """
    Return how far something may be off either way, as it is shown.

    Parameters
    ----------
    percent : float
        Half a step as a share of it. [%]

    Returns
    -------
    str
        Two digits with the unit; below a hundredth of a percent that it is so.

    Examples
    --------
    >>> printed_spread(0.9615), printed_spread(0.0004)
    ('0.96 %', 'under 0.01 %')
    """
    return f"{printed(percent, 2)} %" if percent >= LEAST_SPREAD else "under 0.01 %"


def contents(weighing):
    """
    Return the table of what a litre then holds of what was wanted.

    Parameters
    ----------
    weighing : Weighing
        What the balance shows.

    Returns
    -------
    Table
        Wanted value or range, reached as weighed, how far off, how far the steps may
        move it, what the water brings.

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> contents(weigh(recipe)).rows[0]
    ('K', '200.0', '201.1', '+0.5 %', '0.96 %', '0', '5.143')
    """
    made = as_weighed(weighing)
    rows = [
        _cells(made, row, worst) for row, worst in _lines(made) if row[1] is not None
    ]
    rows.append(_alkalinity_cells(made))
    columns = ("nutrient", "wanted mg/L", "reached mg/L", "off", "± steps")
    columns += ("from water mg/L", "mmol/L")
    title = "A litre then holds"
    return Table("contents", title, columns, tuple(rows), (1, 2, 3, 4, 5, 6))


def _alkalinity_cells(made):
    """Return the row of alkalinity, which has a unit of its own."""
    left, wanted, off = made.alkalinity_left, "", ""
    brought = made.water.solution.alkalinity()
    if made.target.alkalinity is not None:
        ends = dict.fromkeys(printed(end, 3) for end in made.target.alkalinity)
        wanted, miss = " to ".join(ends), 100 * made.alkalinity_miss
        off = _marked(miss, miss, within=WITHIN)
    cells = (f"{text} meq/L" if text else "" for text in (wanted, printed(left, 3)))
    from_water = f"{printed(brought, 3)} meq/L"
    return ("alkalinity left", *cells, off, "", from_water, "")


def _lines(made):
    """Yield what is shown of each nutrient, and how far the steps may move it. [%]"""
    moved = {key: worst for key, _, _, _, worst, _ in made.weighing.rows()}
    for row in made.rows():
        yield row, moved.get(row[0])


def _cells(made, row, worst):
    key, wanted, has, tap, deviation = row
    return (
        key,
        _asked(made.target, key, wanted),
        printed_mg_l(has),
        _off(made, key, deviation),
        printed_spread(worst) if worst else "",
        printed_mg_l(tap),
        printed(made.solution.mmol_l(key)),
    )


def _asked(target, key, wanted):
    """Return a wanted value or range as it is shown. [mg/L]"""
    if key not in target.ranges:
        return printed_mg_l(wanted)
    mass = nutrient(key).molar_mass
    return " to ".join(_short(printed_mg_l(e * mass)) for e in target.ranges[key])


def _short(text):
    """Return a number without the zeros at its end that no table gave."""
    return text.rstrip("0").rstrip(".") if "." in text else text


def _off(made, key, deviation):
    """Return how far a value is off, marked where that is told as a miss."""
    miss = 100 * made.misses.get(key, 0.0)
    if key in made.target.ranges:
        return _marked(miss, miss, within=WITHIN)
    return _marked(miss, deviation)


def _marked(miss, deviation, within=""):
    """Return a deviation in percent; over and under what is told as a miss is marked."""
    if within and not float(printed_percent(miss).removesuffix(" %")):
        return within
    if abs(miss) <= _miss_limit():
        return "" if deviation is None else printed_percent(deviation)
    sign = OVER if miss > 0 else UNDER
    return f"{sign} {'none wanted' if deviation is None else printed_percent(miss)}"


def _miss_limit():
    """Return the greatest miss that is not marked. [%]"""
    return recipe_rule("miss").number("high")


def along(weighing):
    """
    Return the table of what else a litre holds, not asked for by name.

    Parameters
    ----------
    weighing : Weighing
        What the balance shows.

    Returns
    -------
    Table
        Reached as weighed, from the water, and in mmol/L.

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> along(weigh(recipe)).rows
    (('NO3-N', '72.04', '0', '5.143'),)
    """
    made, rows = as_weighed(weighing), []
    for key, wanted, has, tap, _ in made.rows():
        if wanted is None:
            mmol = printed(made.solution.mmol_l(key))
            rows.append((key, printed_mg_l(has), printed_mg_l(tap), mmol))
    columns = ("nutrient", "reached mg/L", "from water mg/L", "mmol/L")
    return Table("along", "Also in it, not asked for", columns, tuple(rows), (1, 2, 3))


def limits(weighing):
    """
    Return the table of what had to hold, and whether it holds of the weights.

    Parameters
    ----------
    weighing : Weighing
        What the balance shows.

    Returns
    -------
    Table
        Each limit in words, what the weights make of it, and whether it holds back.

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> feed = target({"K": 200}, limits={"NO3-N": "at most 60 mg/L"})
    >>> limits(weigh(solve(feed, ["KNO3"], volume=10))).rows
    (('NO3-N at most 60 mg/L', '59.57 mg/L', 'holds the recipe back'),)
    """
    dosed = {name: row[1] for made in weighing.stocks for name, *row in made.rows()}
    rows = []
    for held, value, binds in as_weighed(weighing).limits:
        asked = " and ".join(held.named(side) for side in held.sides)
        here = dosed.get(held.subject, value) if held.of_amount else value
        told = "holds the recipe back" if binds else ""
        has = f"{printed(here)} {held.unit}".strip()
        rows.append((asked, has if math.isfinite(here) else "not to be told", told))
    columns = ("what had to hold", "here, as weighed", "")
    return Table("limits", "Limits", columns, tuple(rows), (1,))
