"""What is told of choices: cost, bags, whole steps, prices, limits, purchases, doubt."""

import formulate as fm
from formulate.recipes.cost_curve import cost_curve
from formulate.recipes.few_curve import few_curve

__all__ = [
    "LONG",
    "bag_values",
    "choice_values",
    "curve_values",
    "doubt_values",
    "limit_values",
    "price_values",
    "purchase_values",
    "usable_values",
]

DRAWS = 2000
SEED = 20
BOUGHT = 3  # the fourth helps clearly less than the third
LONG = 600.0  # s: so that no clock decides what is found


def choice_values(outcome):
    """Yield (quantity, value, unit) of how the recipe of a job was chosen."""
    chosen = outcome.chosen
    if chosen.few is not None:
        yield "few: taken", "; ".join(chosen.few.chosen), "word"
        yield "few: value", chosen.few.value, "-"
        yield "few: with every ingredient", chosen.few.without, "-"
    if chosen.cheapest is not None:
        yield "cheapest: cost", chosen.cheapest.cost, "EUR"
        yield "cheapest: nearest costs", chosen.cheapest.before, "EUR"
    if chosen.whole is not None:
        yield "whole steps: value", chosen.whole.value, "-"
        yield "whole steps: nearest rounding", chosen.whole.price.nearest, "-"


def curve_values(outcome):
    """Yield what coming nearer costs."""
    for place, point in enumerate(cost_curve(outcome.chosen.nearest, 5).points):
        yield f"curve {place}: deviation", point.deviation, "%"
        yield f"curve {place}: cost", point.cost, "EUR"


def bag_values(outcome):
    """Yield what one bag less costs."""
    found = few_curve(outcome.chosen.nearest, time_limit=LONG)
    for most, value, _, names, *_ in found.rows():
        yield f"of {most} bags: taken", "; ".join(names) or "none", "word"
        if value is not None:
            yield f"of {most} bags: value", value, "-"


def price_values(outcome):
    """Yield which price would change the cheapest recipe."""
    for change in outcome.trade_offs.price_changes:
        if change.below is not None:
            yield f"price of {change.name}: more below", change.below, "EUR/kg"
        if change.above is not None:
            yield f"price of {change.name}: less above", change.above, "EUR/kg"


def usable_values(outcome):
    """Yield what a gram of usable nutrient costs."""
    for cost in outcome.trade_offs.usable_costs:
        yield f"usable {cost.key} of {cost.name}", cost.credited, "EUR/g"


def limit_values(outcome):
    """Yield what one more unit of each limit is worth."""
    for worth in outcome.trade_offs.limit_worths:
        yield f"worth of {worth.name}", worth.nearer, "-"


def purchase_values(outcome):
    """Yield what of the catalogue would bring the recipe nearer, by name, not by rank.

    Two hydrates of one salt help alike, so their rank hangs on the last digit.
    """
    found = fm.what_to_buy(outcome.recipe, most=BOUGHT)
    for name, left in sorted((one.ingredient.name, one.left) for one in found):
        yield f"purchase of {name}: left of the misses", left, "-"


def doubt_values(outcome):
    """Yield where a weighed batch lies when nothing is known exactly, of one seed."""
    found = fm.doubt(outcome.weighing, draws=DRAWS, seed=SEED)
    for name, one in found.intervals.items():
        unit = "pH" if name.startswith("pH") else one.unit
        for end in ("low", "middle", "high"):
            yield f"doubt: {name}: {end}", getattr(one, end), unit
        yield f"doubt: {name}: matters most", one.dominates[0] or "nothing", "word"
    for kept in (*found.limits, *found.ranges):
        yield f"doubt: {kept.asked.name}", kept.probability, "-"
