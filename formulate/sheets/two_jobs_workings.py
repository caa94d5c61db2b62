"""The arithmetic behind the numbers of two jobs side by side, and behind what differs."""

import re
from functools import partial

from formulate.recipes.recipe_working import cost_working, weight_working
from formulate.sheets.contents_workings import LEFT, contents_working
from formulate.sheets.meter_workings import meter_workings
from formulate.sheets.mixture_workings import Mixture
from formulate.sheets.table import Followed
from formulate.sheets.two_jobs_contents import readings_of
from formulate.sheets.two_jobs_weights import COSTED, pairs_beside
from formulate.working import Quantity, Step, Working

__all__ = ["contents_behind", "costs_behind", "meters_behind", "weights_behind"]

WHICH = ("first", "second")
PERCENT = 100.0
MONEY = "currency"
DIGIT = re.compile(r"\d")
DECIMALS = 9  # of a reading, where one is taken from another


# --- what differs -----------------------------------------------------------------------


def _difference(title, one, other, unit):
    """Return the working of a difference."""
    terms = (Quantity(other, unit), "−", Quantity(one, unit))
    step = Step("the second less the first", terms, unit)
    return Working(f"{title}: what differs", (step,))


def _change(title, one, other, unit):
    """Return the working of a difference in percent of the first."""
    made = _difference(title, one, other, unit)
    terms = (Quantity(other - one, unit), "÷", Quantity(abs(one), unit))
    share = (*terms, "×", Quantity(PERCENT, "%"))
    return Working(made.title, (*made.steps, Step("of the first", share, "%")))


def _apart(table, row, title, values, unit):
    """Yield how far two numbers of a row are apart, and in percent of the first."""
    if None in values or "difference" not in table.columns:
        return
    behind = {"difference": _difference, "%": _change}
    for column, working in behind.items():
        place = table.columns.index(column)
        if DIGIT.search(table.rows[row][place]):
            yield (row, place), Followed(partial(working, title, *values, unit))


# --- weights ----------------------------------------------------------------------------


def weights_behind(table, weighings):
    """
    Yield what each weight brings to a litre, as on the recipe of its job.

    Parameters
    ----------
    table : Table
        What is weighed, as `weights_beside` tells it.
    weighings : sequence of Weighing or None
        What the balance shows of both; None where there is no recipe.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> from formulate.sheets.two_jobs_weights import weights_beside
    >>> made = [weigh(solve(target({"K": k}), ["KNO3"], volume=10)) for k in (200, 100)]
    >>> behind = dict(weights_behind(weights_beside(*made), made))
    >>> behind[0, 1].worked().title
    'What 5.200 g of KNO3 bring to a litre'
    """
    for which, weighing in zip(WHICH, weighings, strict=True):
        if weighing is None or which not in table.columns:
            continue
        used = {ingredient.name for ingredient, _ in weighing.amounts}
        column = table.columns.index(which)
        for row, (name, *_) in enumerate(table.rows):
            if name in used:
                yield (row, column), Followed(partial(weight_working, weighing, name))


# --- cost -------------------------------------------------------------------------------


def costs_behind(table, weighings):
    """
    Yield what is behind each cost: amounts times prices, their sum, a litre of it.

    Parameters
    ----------
    table : Table
        What both cost, as `cost_beside` tells it.
    weighings : sequence of Weighing or None
        What the balance shows of both; None where there is no recipe.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> from formulate.sheets.two_jobs_weights import cost_beside
    >>> bag = salt("KNO3", price_per_kg=2.5)
    >>> made = [weigh(solve(target({"K": 100}), [bag], volume=v)) for v in (10, 20)]
    >>> behind = dict(costs_behind(cost_beside(*made), made))
    >>> print(behind[2, 1].worked().lines[-1])
    100 L: 0.0065 currency ÷ 10 L × 100 L = 0.065000 currency
    """
    pairs = pairs_beside(*weighings)
    for row, (name, *_) in enumerate(table.rows):
        reached = pairs[row][1:] if row < len(pairs) else weighings
        kinds = ((_one_cost, _one), (_batch_cost, _batch), (_costed_litres, _litres))
        working, cost = kinds[max(row - len(pairs) + 1, 0)]
        costs = [0.0 if side is None else cost(side) for side in reached]
        for which, side, value in zip(WHICH, reached, costs, strict=True):
            if which in table.columns and value is not None and side is not None:
                place = table.columns.index(which)
                yield (row, place), Followed(partial(working, side))
        yield from _apart(table, row, f"Cost of {name}", costs, MONEY)


def _one(side):
    """Return what one ingredient costs; None if its price is not known."""
    return side[0].cost(side[1])


def _batch(weighing):
    """Return what a batch costs; None if a price is not known."""
    return weighing.cost


def _litres(weighing):
    """Return what so many litres of a batch cost; None if a price is not known."""
    whole = weighing.cost
    return None if whole is None else COSTED * whole / weighing.volume


def _one_cost(side):
    """Return the working of what one ingredient costs."""
    ingredient, amount, *_ = side
    made = cost_working(Mixture(((ingredient, amount),), None))
    return Working(f"Cost of {ingredient.name} in the batch", made.steps)


def _batch_cost(weighing):
    """Return the working of what a batch costs."""
    return cost_working(weighing)


def _costed_litres(weighing):
    """Return the working of what so many litres of a batch cost."""
    steps = _batch_cost(weighing).steps
    terms = (Quantity(steps[-1].value, MONEY), "÷", Quantity(weighing.volume, "L"))
    litres = Quantity(COSTED, "L")
    last = Step(f"{COSTED:g} L", (*terms, "×", litres), MONEY)
    return Working(f"Cost of {COSTED:g} L", (*steps, last))


# --- contents ---------------------------------------------------------------------------


def contents_behind(table, weighings, made):
    """
    Yield how each value was reached, and how far the two are apart.

    Parameters
    ----------
    table : Table
        What a litre holds, as `contents_beside` tells it.
    weighings : sequence of Weighing
        What the balance shows of both.
    made : sequence of Recipe
        What these weights make.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> from formulate.sheets.contents_tables import as_weighed
    >>> from formulate.sheets.two_jobs_contents import contents_beside
    >>> feeds = [target({"K": k}) for k in (200, 100)]
    >>> both = [weigh(solve(feed, ["KNO3"], volume=10)) for feed in feeds]
    >>> made = [as_weighed(one) for one in both]
    >>> behind = dict(contents_behind(contents_beside(*both, feeds), both, made))
    >>> round(behind[0, 5].worked().value, 1)
    -100.5
    """
    places = {name: place for place, name in enumerate(table.columns)}
    for row, (key, *_) in enumerate(table.rows):
        for which, weighing in zip(WHICH, weighings, strict=True):
            yield (row, places[which]), Followed(partial(weighing.working, key))
        held = [one.solution.mg_l(key) for one in made]
        yield from _apart(table, row, key, held, "mg/L")


# --- meters -----------------------------------------------------------------------------


def meters_behind(table, sides):
    """
    Yield what is behind each reading of two batches, and how far they are apart.

    Parameters
    ----------
    table : Table
        What meters show, as `meters_beside` tells it.
    sides : sequence of Outcome or None
        Both outcomes; None where there is no recipe.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number; what may fall out stands there in
        words. [-]

    Examples
    --------
    >>> from dataclasses import replace
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> from formulate.sheets.two_jobs_contents import meters_beside
    >>> demo = read_job(DEMO)
    >>> sides = [run_job(demo), run_job(replace(demo, strength_percent=50))]
    >>> behind = dict(meters_behind(meters_beside(*sides), sides))
    >>> [round(behind[3, place].worked().value, 2) for place in (1, 2, 3)]
    [1.46, 0.96, -0.5]
    """
    behind = [{} if side is None else _of_readings(side) for side in sides]
    values = [{} if side is None else readings_of(side) for side in sides]
    for row, (name, *_) in enumerate(table.rows):
        for which, made in zip(WHICH, behind, strict=True):
            if name in made and which in table.columns:
                yield (row, table.columns.index(which)), Followed(made[name])
        both = [found.get(name, ("", None)) for found in values]
        unit = both[0][0].partition(" ")[2]
        unit = "" if unit.startswith("(") else unit  # a pH with its interval
        numbers = [None if v is None else round(v, DECIMALS) for _, v in both]
        yield from _apart(table, row, name, numbers, unit)


def _of_readings(outcome):
    """Return reading to what returns its working."""
    names = (name for name, _ in outcome.expected.rows())
    made = dict(zip(names, meter_workings(outcome.expected), strict=True))
    weighing, unasked = outcome.weighing, ({}, None)
    left = partial(contents_working, weighing, unasked, LEFT, "reached")
    return made | {LEFT: left}
