"""The arithmetic behind the numbers of what is weighed: errors, other measures, stocks."""

from formulate.sheets.measures import UNIT_SYSTEMS
from formulate.stoichiometry.units import unit
from formulate.working import Quantity, Step, Working

__all__ = ["STOCK_COLUMNS", "error_working", "measure_working", "stock_working"]

PERCENT = Quantity(100.0, "%")
HALVES = Quantity(2.0)
STOCK_COLUMNS = {  # as the table of a stock heads them
    "amount": "amount",
    "also": "also",
    "reaches a batch": "batch",
    "± through the stock": "through",
    "± weighed for each batch": "alone",
}


def error_working(weighing, name):
    """
    Return the arithmetic of how far a weight may be off by the step of its balance.

    Parameters
    ----------
    weighing : Weighing
        What the balance shows.
    name : str
        Name of an ingredient.

    Returns
    -------
    Working or None
        Half a step over the amount; None if no step is known. [%]

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> made = weigh(solve(target({"K": 200}), ["KNO3"], volume=10))
    >>> error_working(made, "KNO3").lines
    ('half a step of 0.1 g over what is weighed: 0.1 g ÷ 2 ÷ 5.2 g × 100 % = 0.96154 %',)
    """
    found = {i.name: (i, amount) for i, amount in weighing.amounts}
    step = weighing.steps.get(name)
    if name not in found or not step:
        return None
    ingredient, amount = found[name]
    line = _half_step(step, amount, ingredient.measured_in)
    return Working(f"How far {name} may be off either way", (line,))


def _half_step(step, amount, in_unit, what="what is weighed"):
    """Return the line of half a step as a share of an amount."""
    words = f"half a step of {step:g} {in_unit} over {what}"
    terms = (Quantity(step, in_unit), "÷", HALVES, "÷", Quantity(amount, in_unit))
    return Step(words, (*terms, "×", PERCENT), "%")


def measure_working(ingredient, amount, units):
    """
    Return the arithmetic of an amount in other measures.

    Parameters
    ----------
    ingredient : Ingredient
        What is measured.
    amount : float
        Grams, or millilitres of a stock. [g]
    units : str
        "metric" or "us".

    Returns
    -------
    Working
        Over the density of a liquid; over the size of a US unit. [g]

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> measure_working(salt("KNO3"), 43.4, "us").lines[-1]
    'in oz: 43.4 g ÷ 28.350 g/oz = 1.5309 oz  [nist-hb44]'
    """
    in_unit = ingredient.measured_in
    whole = Step(
        "as the balance or measure shows it", (Quantity(amount, in_unit),), in_unit
    )
    steps, pours = [whole], in_unit == "mL"
    if ingredient.density:
        per = Quantity(ingredient.density, "g/mL")
        terms = (Quantity(amount, "g"), "÷", per)
        key = ingredient.source_key.split(";")[0]
        steps.append(Step("millilitres: over the density", terms, "mL", key))
        pours = not ingredient.weighing_step
    if units != "metric":
        value = steps[-1].value if pours else amount
        steps.append(_us_step(value, "mL" if pours else "g", units))
    title = f"{ingredient.name} in other measures"
    return Working(title, tuple(steps))


def _us_step(value, in_unit, units):
    """Return the line from grams or millilitres to the unit that is printed."""
    small, large = UNIT_SYSTEMS[units][in_unit]
    sizes = {name: _size(name) for name in (small, large)}
    name = large if value >= sizes[large] else small
    terms = (Quantity(value, in_unit), "÷", Quantity(sizes[name], f"{in_unit}/{name}"))
    return Step(f"in {name}", terms, name, "nist-hb44")


def _size(name):
    """Return a unit in grams or millilitres."""
    known = unit(name)
    return known.factor * 1000 if known.kind == "volume" else known.factor


# --- stocks for traces -----------------------------------------------------------------


def stock_working(weighing, place, name, column, units="metric"):
    """
    Return the arithmetic behind one number of a stock for traces.

    Parameters
    ----------
    weighing : Weighing
        What the balance shows.
    place : int
        Which stock, counted from 1. [-]
    name : str
        Name of a part of it.
    column : str
        "amount", "also" (in other measures), "batch" (what reaches a batch), "through"
        (how far it may be off through the stock), "alone" (if weighed for each batch).
    units : str
        "metric" or "us".

    Returns
    -------
    Working or None
        The arithmetic; None where there is no such number.

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200, "B": 0.5}), ["KNO3", "H3BO3"], volume=10)
    >>> working = stock_working(weigh(recipe, stocks=True), 1, "H3BO3", "batch")
    >>> round(working.value, 4), working.unit
    (0.0286, 'g')
    """
    made = dict(enumerate(weighing.stocks, 1)).get(place)
    parts = {} if made is None else {i.name: (i, grams) for i, grams in made.parts}
    if name not in parts:
        return None
    ingredient, grams = parts[name]
    if column == "also":
        return measure_working(ingredient, grams, units)
    given = {"amount": _part, "batch": _reaches, "through": _through, "alone": _alone}
    working = given[column](made, name, grams) if column in given else None
    if column == "amount" and units != "metric":
        printed_so = _us_step(grams, "g", units)
        return Working(working.title, (*working.steps, printed_so))
    return working


def _batches(made):
    """Return the line of how many batches a stock serves."""
    whole = Quantity(made.ingredient.made_of, "mL")
    terms = (whole, "÷", Quantity(made.dose, "mL"))
    return Step("batches that the stock serves", terms, "batches")


def _part(made, name, grams):
    """Return what is weighed of a part: for all batches, in whole steps."""
    batches, step = _batches(made), made.steps[name]
    exact = Quantity(made.exact[name], "g")
    terms = (exact, "×", Quantity(batches.value, "batches"))
    asked = Step("for all of them, by the recipe", terms, "g")
    count = Step("in steps", (Quantity(asked.value, "g"), "÷", Quantity(step, "g")))
    terms = (Quantity(round(grams / step)), "×", Quantity(step, "g"))
    weighed = Step(
        "in whole steps, by which the wanted values suffer least", terms, "g"
    )
    title = f"{name} in {made.ingredient.name}"
    return Working(title, (batches, asked, count, weighed))


def _reaches(made, name, grams):
    """Return what of a part reaches one batch."""
    batches = _batches(made)
    terms = (Quantity(grams, "g"), "÷", Quantity(batches.value, "batches"))
    return Working(f"{name} in one batch", (batches, Step("a batch", terms, "g")))


def _through(made, name, grams):
    """Return how far a part may be off through the stock."""
    weighed = _half_step(made.steps[name], grams, "g")
    dosed = _half_step(made.dose_step, made.dose, "mL", "the dose")
    terms = (Quantity(weighed.value, "%"), "+", Quantity(dosed.value, "%"))
    both = Step("both the same way", terms, "%")
    return Working(f"{name} through the stock", (weighed, dosed, both))


def _alone(made, name, _grams):
    """Return how far a part would be off if it were weighed for each batch."""
    step, exact = made.steps[name], made.exact[name]
    count = round(exact / step)
    if not count:
        return None
    terms = (Quantity(count), "×", Quantity(step, "g"))
    words = f"nearest whole steps to {exact:.4g} g, what one batch asks"
    weighed = Step(words, terms, "g")
    off = _half_step(step, weighed.value, "g")
    return Working(f"{name} weighed for each batch", (weighed, off))
