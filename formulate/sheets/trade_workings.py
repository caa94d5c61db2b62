"""The arithmetic behind what a recipe could be exchanged for.

What a programme found has no short arithmetic; its working counts the chosen masses again,
or, at a price where two recipes change places, lets both cost the same.
"""

import math
from contextlib import suppress
from functools import partial

import numpy as np

from formulate.errors import Infeasible, InputError, NoConvergence
from formulate.recipes.aims import bare
from formulate.recipes.few_choice import SUM, best_within
from formulate.recipes.few_pick import Picker
from formulate.recipes.least_cost import least_cost
from formulate.recipes.nutrient_worth import FORMS, WHOLE
from formulate.recipes.prices import checked_prices
from formulate.recipes.recipe_working import (
    content_steps,
    cost_working,
    weight_working,
)
from formulate.recipes.requirement import HARD, WANTED
from formulate.recipes.worths import worth_of
from formulate.sheets.mixture_workings import Mixture, mixture_working
from formulate.sheets.table import Followed
from formulate.stoichiometry.nutrients import nutrient, nutrient_keys
from formulate.working import Quantity, Step, Working

__all__ = [
    "cheapest_workings",
    "cost_workings",
    "few_workings",
    "limit_workings",
    "price_workings",
    "usable_workings",
]

PERCENT, PER_KG = 100.0, 1000.0
DECIMALS = 5  # of mg/L, where one is taken from another
NOT_AGAIN = "is not found again by itself: pH and EC bend its rows"
SEARCH = 1.0  # s, for a choice of bags
DIGITS = 5  # of the difference of two costs
NEAR = 1e-4  # of a cost: two ways of finding it agree within this
BESIDE = 1e-6  # of a price: so far beyond it another recipe is the cheapest
ROOM = 1e-9  # of a deviation: so that the smallest one has room


# --- cost and closeness ----------------------------------------------------------------


def cost_workings(curve, table):
    """
    Yield what is behind the points of a curve of cost, as `cost_closeness` shows them.

    Parameters
    ----------
    curve : CostCurve
        The curve.
    table : Table
        Its table.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.cost_curve import cost_curve
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> from formulate.sheets.figures.cost_closeness import cost_closeness
    >>> recipe = solve(target({"K": 200}), [salt("KNO3", price_per_kg=2)], volume=100)
    >>> curve = cost_curve(recipe, 3)
    >>> made = dict(cost_workings(curve, cost_closeness(curve).table))
    >>> made[1, 1].worked().title
    'Cost of the batch at 12.5 % deviation'
    """
    points = sorted(curve.points, key=lambda point: point.deviation)
    for row, point in zip(range(len(table.rows)), points, strict=True):
        yield (row, 0), Followed(partial(_worst, curve, point))
        yield (row, 1), Followed(partial(_cost_at, curve, point))


def _batch_at(curve, point):
    """Return the batch of a point."""
    return Mixture(point.amounts, curve.recipe.water, curve.recipe.volume)


def _cost_at(curve, point):
    """Return the working of the cost of a point: its masses times their prices."""
    steps = cost_working(_batch_at(curve, point)).steps
    return Working(f"Cost of the batch at {point.deviation:.4g} % deviation", steps)


def _worst(curve, point):
    """Return the working of the worst deviation: the value that is so far off."""
    closest = next(one for one in curve.points if one.amounts is point.amounts)
    if closest is not point:
        made = _worst(curve, closest)
        more = f"up to {point.deviation:.4g} % no other batch was found cheaper"
        return Working(f"{made.title}; {more}", made.steps)
    batch, target = _batch_at(curve, point), curve.recipe.target
    offs = {key: _off(batch, target, key) for key in target.wanted}
    near = min(offs, key=lambda key: abs(abs(offs[key][0]) - point.deviation))
    off, edge, reached = offs[near]
    if abs(abs(off) - point.deviation) > NEAR * PERCENT:
        what = "this deviation counts from the nearest that can be reached"
        raise InputError(f"{what}, and no single value shows it")
    ends = (round(value, DECIMALS) for value in (reached.value, edge))
    pair = tuple(Quantity(value, "mg/L") for value in ends)
    more, less = pair if off > 0 else pair[::-1]
    apart = Step(f"{near} off what is wanted", (more, "−", less), "mg/L")
    wanted = Quantity(target.mg_l(nutrient(near)), "mg/L")
    terms = (Quantity(apart.value, "mg/L"), "÷", wanted, "×", Quantity(PERCENT, "%"))
    steps = (*reached.steps, apart, Step("of what is wanted", terms, "%"))
    return Working(f"Worst deviation: {near}", steps)


def _off(batch, target, key):
    """Return how far a value is off in percent, the end it misses, and its working."""
    known, wanted = nutrient(key), target.wanted[key]
    low, high = (
        end * known.molar_mass for end in target.ranges.get(key, (wanted, wanted))
    )
    reached = mixture_working(batch, key, f"{key} in the batch")
    edge = min(max(reached.value, low), high)
    off = PERCENT * (reached.value - edge) / (wanted * known.molar_mass)
    return off, edge, reached


# --- few bags --------------------------------------------------------------------------


def few_workings(curve):
    """
    Yield what is behind the values of a curve of bags, as `few_steps` shows them.

    Parameters
    ----------
    curve : FewCurve
        The curve, of which the sum of deviations was to be least.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.recipes.few_curve import few_curve
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> curve = few_curve(solve(target({"K": 200, "P": 30}), ["KCl", "KH2PO4"], volume=10))
    >>> round(dict(few_workings(curve))[0, 1].worked().value, 1)
    81.1
    """
    for row, few in enumerate(curve.points):
        if few is not None and curve.objective == SUM:
            yield (row, 1), Followed(partial(_missed, few))


def _missed(few):
    """Return the working of a sum of deviations: each, at the amounts of the programme."""
    recipe = bare(few.before)
    rows, task, choice = _choice(few, recipe)
    rows = [row for row in rows if row.kind == WANTED and row.weight > 0]
    offs = list(zip(rows, task.wanted.distances(choice.amounts).tolist(), strict=True))
    told = [(row, off) for row, off in offs if off > ROOM]
    terms = [t for _, off in told for t in ("+", Quantity(PERCENT * off, "%"))]
    words = (
        f"off, a trace counting a twentieth: {'; '.join(row.name for row, _ in told)}"
    )
    held = [
        Step(f"{i.name} in a litre", (Quantity(grams, unit),), unit)
        for i, grams in zip(recipe.ingredients, choice.amounts.tolist(), strict=True)
        for unit in (f"{i.measured_in}/L",)
        if grams
    ]
    last = Step(words, tuple(terms[1:]) or (Quantity(0.0, "%"),), "%")
    title = f"Sum of deviations, bags at most: {few.most}"
    return Working(title, (*held, last))


def _choice(few, recipe):
    """Return rows, task and amounts of a choice: by the rows at hand, or drawn anew."""
    for ways in (_choice_by_rows, _choice_settled):
        with suppress(Infeasible, NoConvergence):
            rows, task, choice = ways(few, recipe)
            if choice and abs(choice.value - few.value) <= NEAR * max(few.value, NEAR):
                return rows, task, choice
    raise InputError(f"this choice of bags {NOT_AGAIN}")


def _choice_by_rows(few, recipe):
    rows, shelf = recipe.requirements, enumerate(recipe.ingredients)
    task = Picker(recipe, few.most, few.objective, None, None).task(rows)
    places = [place for place, one in shelf if one.name in few.chosen]
    return rows, task, best_within(task, places)


def _choice_settled(few, recipe):
    picker = Picker(recipe, few.most, few.objective, None, SEARCH)
    rows = picker.settled()
    return rows, picker.task(rows), picker.choice


# --- limits ----------------------------------------------------------------------------


def limit_workings(recipe, worths):
    """
    Yield what is behind what one more unit of each limit is worth.

    Parameters
    ----------
    recipe : Recipe
        The recipe.
    worths : sequence of LimitWorth
        The limits.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.ingredients.ingredient import analysed
    >>> from formulate.recipes.limit_worth import limit_worths
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> feed = target({"K": 200}, limits={"K": "at most 150 mg/L"})
    >>> recipe = solve(feed, [analysed("potash", {"K": 50})], volume=10)
    >>> made = dict(limit_workings(recipe, limit_worths(recipe)))
    >>> round(made[0, 2].worked().value, 5)
    0.0025
    """
    for row, one in enumerate(worths):
        yield (row, 2), Followed(partial(_limit, recipe, one))


def _limit(recipe, one):
    """Return the working of what a limit is worth: its multiplier, twice, per unit."""
    found = []
    for row, force in recipe.optimum.forces:
        side = "low" if force < 0 else "high"
        worth = worth_of(recipe, row, side, 2 * abs(force) / recipe.volume)
        if worth.name == one.name:
            found.append((abs(worth.saved - one.nearer), row, force))
    _, row, force = min(found, key=lambda three: three[0])
    words = "twice the multiplier of the row, by which half the squares fall"
    twice = Step(words, (Quantity(2.0), "×", Quantity(abs(force))), "")
    steps, title = [twice], f"What one more {one.unit or 'unit'} is worth: {one.name}"
    if row.key in nutrient_keys() and row.unit == "mmol/L" and one.unit == "mg/L":
        mass = Quantity(nutrient(row.key).molar_mass, "mg/mmol")
        terms = (Quantity(twice.value), "÷", mass)
        steps.append(Step("for a mg/L instead of a mmol/L", terms, "", "stoichiometry"))
    elif abs(one.nearer - twice.value) > NEAR * twice.value:
        terms = (Quantity(twice.value), "×", Quantity(one.nearer / twice.value))
        steps.append(Step(f"units of the row in one {one.unit or 'unit'}", terms))
    return Working(title, tuple(steps))


# --- the cheapest recipe, and prices ---------------------------------------------------


def cheapest_workings(found):
    """
    Yield what is behind the amounts and costs of the cheapest recipe.

    Parameters
    ----------
    found : Cheapest
        The recipe.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.cheapest import cheapest
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), [salt("KNO3", price_per_kg=2)], volume=10)
    >>> print(dict(cheapest_workings(cheapest(recipe)))[0, 4].worked().lines[-1])
    KNO3: 4.9131 g × 2 currency/kg ÷ 1000 g/kg = 0.0098262 currency
    """
    for row, (name, was, now, *_) in enumerate(found.rows()):
        if was:
            yield (row, 1), Followed(partial(weight_working, found.exact, name))
        if now:
            yield (row, 2), Followed(partial(weight_working, found.recipe, name))
            yield (row, 4), Followed(partial(_cost_of, found.recipe, name))


def _cost_of(recipe, name):
    """Return the working of what one ingredient costs."""
    (step,) = (s for s in cost_working(recipe).steps if s.text == name)
    return Working(f"Cost of {name} in the batch", (step,))


def price_workings(found):
    """
    Yield what is behind the prices at which the cheapest recipe changes.

    Parameters
    ----------
    found : PriceChanges
        The prices.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.ingredients.ingredient import analysed
    >>> from formulate.recipes.cheapest import cheapest
    >>> from formulate.recipes.price_changes import price_changes
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> weak = analysed("weak", {"NO3-N": 7}, price=1.0)
    >>> strong = analysed("strong", {"NO3-N": 17.5}, price=3.0)
    >>> made = cheapest(solve(target({"NO3-N": 100}), [weak, strong], volume=100))
    >>> print(dict(price_workings(price_changes(made)))[0, 5].worked().steps[-1].text)
    over how much less of weak
    """
    for row, one in enumerate(found.changes):
        if one.amount:
            behind = partial(weight_working, found.found.recipe, one.name)
            yield (row, 2), Followed(behind)
        for column, price, side in ((3, one.below, -1), (5, one.above, 1)):
            if price is not None:
                yield (
                    (row, column),
                    Followed(partial(_meeting, found, one, price, side)),
                )


def _meeting(found, one, price, side):
    """Return the working of a price at which two recipes cost the same."""
    recipe = found.found.recipe
    prices = np.array(checked_prices(recipe), dtype=float)
    names = [i.name for i in recipe.ingredients]
    place, now = names.index(one.name), recipe.optimum.amounts
    moved = prices.copy()
    moved[place] = price * (1 + side * BESIDE)
    hard = tuple(row for row in recipe.requirements if row.kind == HARD)
    then = np.asarray(least_cost(hard, moved).amounts)
    rest = prices.copy()
    rest[place] = 0.0
    own, other = (float(rest @ a) / PER_KG * recipe.volume for a in (now, then))
    whole = {"g": "kg", "mL": "L"}[recipe.ingredients[place].measured_in]
    apart = float(abs(then[place] - now[place])) * recipe.volume / PER_KG
    decimals = DIGITS - math.floor(math.log10(abs(own - other)))
    costs = [Quantity(round(v, decimals), "currency") for v in (own, other)]
    word, (first, second) = ("more", costs) if side < 0 else ("less", costs[::-1])
    order = "now, less in the other" if side < 0 else "in the other, less now"
    words = f"what all but {one.name} costs: {order}"
    saved = Step(words, (first, "−", second), "currency")
    terms = (Quantity(saved.value, "currency"), "÷", Quantity(apart, whole))
    last = Step(f"over how much {word} of {one.name}", terms, f"currency/{whole}")
    title = f"Price of {one.name} at which this recipe and the next cost the same"
    return Working(title, (saved, last))


# --- usable nutrients ------------------------------------------------------------------


def usable_workings(found, ingredients):
    """
    Yield what is behind the cost of a kilogram of each nutrient, by bag.

    Parameters
    ----------
    found : UsableCosts
        The costs.
    ingredients : iterable of Ingredient
        The bags.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.nutrient_worth import usable_costs
    >>> bags = [salt("K2SO4", price_per_kg=1.0)]
    >>> print(dict(usable_workings(usable_costs(bags, ["K"]), bags))[0, 2].worked().lines[-1])
    a kilogram of K: 1 currency/kg ÷ 448.75 mg/g × 1000 mg/g = 2.2284 currency/kg of K
    """
    bags = {ingredient.name: ingredient for ingredient in ingredients}
    for row, one in enumerate(found.costs):
        yield (row, 2), Followed(partial(_whole, bags[one.name], one))
        yield (row, 3), Followed(partial(_credited, bags[one.name], one, found))


def _whole_steps(bag, key):
    """Return the lines of what a kilogram of a nutrient costs if it bears the whole price."""
    forms = FORMS if key == WHOLE else (key,)
    steps, shares, own = [], [], bag.measured_in
    for form in (f for f in forms if bag.amount(nutrient(f))):
        contents = content_steps(bag, nutrient(form))
        steps += contents
        shares.append(contents[-1])
    if len(shares) > 1:
        terms = [t for s in shares for t in ("+", Quantity(s.value, f"mg/{own}"))]
        shares = [Step(f"usable {key} in all", tuple(terms[1:]), f"mg/{own}")]
        steps += shares
    whole = {"g": "kg", "mL": "L"}[own]
    terms = (
        Quantity(bag.price, f"currency/{whole}"),
        "÷",
        Quantity(shares[-1].value, f"mg/{own}"),
        "×",
        Quantity(PER_KG, f"mg/{own}"),
    )
    return [*steps, Step(f"a kilogram of {key}", terms, f"currency/kg of {key}")]


def _whole(bag, one):
    """Return the working of a cost that bears the whole price."""
    return Working(f"{one.key} from {one.name}", tuple(_whole_steps(bag, one.key)))


def _credited(bag, one, found):
    """Return the working of a cost after credit for the rest."""
    steps, credits = _whole_steps(bag, one.key), []
    whole = steps[-1]
    for other in (c for c in found.costs if c.name == one.name and c.key != one.key):
        if not other.whole:
            continue
        least = min(c.whole for c in found.costs if c.key == other.key)
        unit = f"currency/kg of {other.key}"
        terms = (
            Quantity(PER_KG * least, unit),
            "÷",
            Quantity(PER_KG * other.whole, unit),
        )
        words = f"{other.key} where it is cheapest, over what it costs here"
        credits.append(Step(words, terms))
    if not credits:
        return Working(
            f"{one.key} from {one.name}: nothing else is credited", tuple(steps)
        )
    terms = [Quantity(1.0)]
    for credit in credits:
        terms += ["−", Quantity(credit.value)]
    left = Step("left to bear", tuple(terms))
    terms = (Quantity(whole.value, whole.unit), "×", Quantity(left.value))
    last = Step(f"a kilogram of {one.key}, the rest taken off", terms, whole.unit)
    steps += [*credits, left, last]
    if last.value < 0:
        nothing = Step(
            "it pays for itself: nothing is left", (Quantity(0.0),), whole.unit
        )
        steps.append(nothing)
    title = f"{one.key} from {one.name}, after credit for the rest"
    return Working(title, tuple(steps))
