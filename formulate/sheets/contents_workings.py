"""The arithmetic behind the numbers of what a litre holds, column by column."""

import math

from formulate.ingredients.dissolve import poured_litres
from formulate.recipes.recipe_working import content_steps
from formulate.sheets.contents_tables import as_weighed
from formulate.sheets.wanted_workings import wanted_working
from formulate.stoichiometry.notation import printed_ion
from formulate.stoichiometry.nutrients import form, nutrient
from formulate.working import Quantity, Step, Working

__all__ = ["COLUMNS", "LEFT", "contents_working", "limit_working"]

COLUMNS = ("wanted", "reached", "off", "steps", "tap", "mmol")  # as the table has them
LEFT = "alkalinity left"
MASSES = "stoichiometry"
PERCENT = Quantity(100.0, "%")


def contents_working(weighing, told, key, column):
    """
    Return the arithmetic behind one number of what a litre holds.

    Parameters
    ----------
    weighing : Weighing
        What the balance shows.
    told : (mapping, float or None)
        What stands under [target] of the job, and its strength. [%]
    key : str
        Nutrient key, or "alkalinity left".
    column : str
        One of COLUMNS: "wanted", "reached", "off" (how far it is off), "steps" (what half
        a step of each weight moves), "tap" (what the water brings), "mmol".

    Returns
    -------
    Working or None
        The arithmetic; None where there is no such number.

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> made = weigh(solve(target({"K": 200}), ["KNO3"], volume=10))
    >>> print(contents_working(made, ({"wanted": {"K": 200}}, None), "K", "off"))
    K: how far it is off
      1. K reached less wanted: 201.0945 mg/L − 200 mg/L = 1.0945 mg/L
      2. of what was wanted: 1.0945 mg/L ÷ 200 mg/L × 100 % = 0.54725 %
    """
    made, (entries, strength) = as_weighed(weighing), told
    if key == LEFT:
        return _alkalinity(made, told, column)
    if column == "wanted":
        return wanted_working(made.target, entries, strength, key)
    if column == "reached":
        return weighing.working(key)
    if column == "off":
        return _off(made, key)
    given = {"steps": _moved, "tap": _tap, "mmol": _mmol}.get(column)
    return given and given(weighing, nutrient(key))


def _off(made, key):
    """Return how far a value is off what was wanted, or off the end of its range."""
    if not made.target.wanted.get(key):
        return None
    known, unit = nutrient(key), "mg/L"
    reached, wanted = made.solution.mg_l(key), made.target.mg_l(key)
    ends = [end * known.molar_mass for end in made.target.ranges.get(key, ())]
    edge = min(max(reached, ends[0]), ends[1]) if ends else wanted
    against = "the end of the range" if ends else "wanted"
    return _deviation(key, reached, edge, wanted, against, unit)


def _deviation(key, reached, edge, wanted, against, unit):
    """Return the lines of a deviation."""
    terms = (Quantity(reached, unit), "−", Quantity(edge, unit))
    apart = Step(f"{key} reached less {against}", terms, unit)
    terms = (Quantity(apart.value, unit), "÷", Quantity(wanted, unit), "×", PERCENT)
    of = "of what was wanted" if against == "wanted" else "of the middle of the range"
    return Working(f"{key}: how far it is off", (apart, Step(of, terms, "%")))


def _moved(weighing, known):
    """Return what half a step of every weight may move together."""
    steps, shares = [], []
    for ingredient, _ in weighing.amounts:
        step = weighing.steps.get(ingredient.name)
        if step and ingredient.amount(known):
            shares.append(_half(ingredient, step, known, weighing.volume, 1.0))
    for stock in weighing.stocks:
        for part, _ in stock.parts:
            if part.amount(known):
                facts = (known, weighing.volume, stock.batches)
                shares.append(_half(part, stock.steps[part.name], *facts))
    steps += shares
    terms = [t for s in shares for t in ("+", Quantity(s.value, "mg/L"))][1:]
    if not terms:
        return None
    whole = Step("all the same way", tuple(terms), "mg/L")
    reached = Quantity(weighing.solution.mg_l(known), "mg/L")
    terms = (Quantity(whole.value, "mg/L"), "÷", reached, "×", PERCENT)
    steps += [whole, Step(f"of {known.key} reached", terms, "%")]
    return Working(f"{known.key}: what half a step of every weight moves", tuple(steps))


def _half(ingredient, step, known, volume, batches):
    """Return the line of what half a step of one ingredient moves."""
    unit = ingredient.measured_in
    each = Quantity(content_steps(ingredient, known)[-1].value, f"mg/{unit}")
    terms = [Quantity(step / 2, unit), "×", each, "÷", Quantity(volume, "L")]
    terms += ["÷", Quantity(batches, "batches")] if batches != 1 else []
    return Step(f"half a step of {ingredient.name}", tuple(terms), "mg/L")


def _tap(weighing, known):
    """Return what the water brings, less the room that liquids take."""
    brought = Quantity(weighing.water.solution.mmol_l(known), "mmol/L")
    terms = [brought, "×", Quantity(known.molar_mass, "mg/mmol")]
    poured = poured_litres(weighing.amounts)
    if poured:
        left = Quantity(weighing.volume - poured, "L")
        terms += ["×", left, "÷", Quantity(weighing.volume, "L")]
    key = weighing.water.source_key.split(";")[0]
    step = Step("from the water", tuple(terms), "mg/L", key)
    return Working(f"{known.key} from the water", (step,))


def _mmol(weighing, known):
    """Return what was reached as an amount."""
    reached = Quantity(weighing.solution.mg_l(known), "mg/L")
    terms = (reached, "÷", Quantity(known.molar_mass, "mg/mmol"))
    step = Step(f"{known.key} reached", terms, "mmol/L", MASSES)
    return Working(f"{known.key} in mmol/L", (step,))


# --- alkalinity ------------------------------------------------------------------------


def _alkalinity(made, told, column):
    """Return the arithmetic of the alkalinity: what takes up acid."""
    if column == "reached":
        return Working("Alkalinity left", (_charges(made.solution),))
    if column == "tap":
        return Working("Alkalinity of the water", (_charges(made.water.solution),))
    if made.target.alkalinity is None:
        return None
    if column == "wanted":
        return wanted_working(made.target, *told, "alkalinity")
    if column != "off":
        return None
    low, high = made.target.alkalinity
    left = made.alkalinity_left
    edge, against = min(max(left, low), high), "the end of the range"
    against = "wanted" if low == high else against
    middle = (low + high) / 2 or 1.0
    return _deviation("alkalinity", left, edge, middle, against, "meq/L")


def _charges(solution):
    """Return the line of what takes up acid: charge of the ions, but for carbonate."""
    terms, names = [Quantity(0.0, "meq/L")], []
    for key, amount in solution.forms.items():
        charge = form(key).nominal_charge
        if key == "carbonate" or not charge or not amount:
            continue
        sign = "+" if charge > 0 else "−"
        terms += [sign, Quantity(amount, f"mmol/L {form(key).symbol}")]
        terms += ["×", Quantity(abs(charge))] if abs(charge) > 1 else []
        names.append(printed_ion(form(key).nominal_ion))
    if solution.unassigned_charge:
        charge = float(solution.unassigned_charge)
        sign = "+" if charge > 0 else "−"
        terms += [sign, Quantity(abs(charge), "meq/L")]
        names.append("unnamed ions")
    words = f"charge that carbonate must balance: {', '.join(names) or 'no ions'}"
    return Step(words, tuple(terms), "meq/L", "definition")


# --- limits ----------------------------------------------------------------------------


def limit_working(weighing, place):
    """
    Return the arithmetic of what the weights make of one limit.

    Parameters
    ----------
    weighing : Weighing
        What the balance shows.
    place : int
        Which limit, in the order of the table, counted from 0. [-]

    Returns
    -------
    Working or None
        What counts for it, added up, and the ratio of two sums; None if there is no such
        limit, or a ratio to nothing.

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> feed = target({"K": 200}, limits={"NO3-N": "at most 60 mg/L"})
    >>> made = weigh(solve(feed, ["KNO3"], volume=10))
    >>> round(limit_working(made, 0).value, 2), limit_working(made, 0).unit
    (59.57, 'mg/L')
    """
    made = as_weighed(weighing)
    held = dict(enumerate(held for held, _, _ in made.limits)).get(place)
    if held is None:
        return None
    if held.of_amount:
        return _amount_working(weighing, held)
    if held.is_metered:
        return made.working(held.subject)
    title = " and ".join(held.named(side) for side in held.sides)
    sums = [_sum(*pair, made.solution, held.unit) for pair in _halves(held)]
    if len(sums) == 1:
        return Working(title, tuple(sums))
    if not sums[1].value:
        return None
    above, below = (Quantity(one.value, one.unit) for one in sums)
    words = f"{held.subject}, one over the other"
    return Working(title, (*sums, Step(words, (above, "÷", below), held.unit)))


def _halves(held):
    """Return what is counted of a limit in words, with what each form counts for."""
    parts = held.subject.split(":")
    return list(zip(map(str.strip, parts), held.weights(), strict=True))


def _sum(words, weights, solution, unit):
    """Return the line that adds up what counts."""
    whole = {"mol/mol": "mmol/L", "meq/meq": "meq/L", "": "mg/L"}.get(unit, unit)
    terms = []
    for key, weight in weights.items():
        amount = solution.unassigned_charge if key == "charge" else None
        amount = solution.forms.get(key, 0.0) if amount is None else float(amount)
        if not amount or not weight:
            continue
        symbol = "meq/L" if key == "charge" else f"mmol/L {form(key).symbol}"
        sign = "−" if weight * amount < 0 else "+"
        terms += [sign, Quantity(abs(amount), symbol)]
        terms += ["×", Quantity(abs(weight))] if abs(weight) != 1 else []
    lead = [] if terms and terms[0] == "+" else [Quantity(0.0, whole)]
    terms = [*lead, *terms[not lead :]]
    return Step(words, tuple(terms), whole, MASSES)


def _amount_working(weighing, held):
    """Return what of an ingredient goes into the batch, through a stock if it does."""
    name = held.subject
    for stock in weighing.stocks:
        for part, grams in stock.parts:
            if part.name == name:
                terms = (Quantity(grams, "g"), "÷", Quantity(stock.batches, "batches"))
                step = Step(f"{name} through {stock.ingredient.name}", terms, "g")
                return Working(f"{name} in the batch", (step,))
    amounts = {i.name: (a, i.measured_in) for i, a in weighing.amounts}
    amount, unit = amounts.get(name, (0.0, held.unit))
    words = f"{name} as the balance shows it"
    step = Step(words, (Quantity(amount, unit),), unit)
    return Working(f"{name} in the batch", (step,)) if math.isfinite(amount) else None
