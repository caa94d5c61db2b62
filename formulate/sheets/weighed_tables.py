"""The tables of what is weighed: weights, stocks for traces, the recipe before rounding."""

from formulate.ingredients.hazards import hazard_text
from formulate.sheets.contents_tables import printed_spread
from formulate.sheets.measures import batch_text, per_volume, shown
from formulate.sheets.table import Table
from formulate.working import printed

__all__ = [
    "in_order_of_use",
    "measured",
    "printed_cost",
    "rates",
    "stock_tables",
    "weights",
]

SMALL_COST = 0.1  # below it two decimals say nothing
ML_PER_LITRE = 1000.0
WHOLE = 100.0  # %: off by more, nothing would be weighed


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


def in_order_of_use(amounts):
    """
    Return what is used: silicate first, then acids, the rest, calcium last.

    Common practice; the order is not worked out here.

    Parameters
    ----------
    amounts : iterable of (Ingredient, float)
        What is used. [g]

    Returns
    -------
    list of (Ingredient, float)
        The same in the order of use. [g]

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> pairs = [(salt("CaCl2·2H2O"), 1.0), (salt("KNO3"), 2.0)]
    >>> [ingredient.name for ingredient, _ in in_order_of_use(pairs)]
    ['KNO3', 'CaCl2·2H2O']
    """
    return sorted(
        amounts,
        key=lambda pair: (
            "silicate" not in pair[0].forms,
            pair[0].role != "acid",
            "calcium" in pair[0].forms,
        ),
    )


# --- weights ---------------------------------------------------------------------------


def weights(weighing, units="metric", order=None):
    """
    Return the table of what to weigh and pour, in the order of use.

    Parameters
    ----------
    weighing : Weighing
        What the balance shows.
    units : str
        "metric" or "us".
    order : sequence of str or None
        Names in the order of mixing; that of common practice if None.

    Returns
    -------
    Table
        Number, ingredient, amount with its unit, the same in other words, and how far
        half a step may be off.

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> weights(weigh(recipe)).rows
    (('1', 'KNO3', '5.2', 'g', '0.96 %'),)
    """
    off = {name: percent for name, _, _, percent in weighing.errors()}
    rows, pairs = [], in_order_of_use(weighing.amounts)
    if order is not None:
        pairs.sort(key=lambda pair: order.index(pair[0].name))
    for number, (ingredient, amount) in enumerate(pairs, 1):
        step = weighing.steps.get(ingredient.name)
        spread = off[ingredient.name]
        spread = "" if spread is None else printed_spread(spread)
        cells = measured(ingredient, amount, step, units)
        rows.append((str(number), ingredient.name, *cells, spread))
    columns = ("", "ingredient", "amount", "unit", "also", "± step")
    title = f"Weigh for {batch_text(weighing.volume, units)}"
    table = Table("weights", title, columns, tuple(rows), (2, 5))
    return table.without_empty("also", "± step")


def measured(ingredient, amount, step, units="metric"):
    """
    Return an amount as it is weighed or poured.

    Parameters
    ----------
    ingredient : Ingredient
        What is measured.
    amount : float
        Grams, or millilitres of a stock. [g]
    step : float or None
        Step of its balance or measure. [g]
    units : str
        "metric" or "us".

    Returns
    -------
    number : str
        The number.
    unit_name : str
        Its unit.
    also : str
        The same in another measure, or "".

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> measured(salt("KNO3"), 43.4, 0.1)
    ('43.4', 'g', '')
    """
    pours = ingredient.measured_in == "mL"
    if ingredient.density and not ingredient.weighing_step:
        pours, grams = True, amount
        amount = ingredient.millilitres(amount)
        step = step and ingredient.millilitres(step)
        other = shown(grams, None, "g")
    elif ingredient.density:
        other = shown(ingredient.millilitres(amount), None, "mL")
    else:
        other = ()
    in_unit = "mL" if pours else "g"
    number, name = shown(amount, step, in_unit, units)
    same = shown(amount, step, in_unit) if units != "metric" else ()
    return number, name, ", ".join(" ".join(pair) for pair in (same, other) if pair)


# --- stocks for traces -----------------------------------------------------------------


def stock_tables(weighing, units="metric", batch=""):
    """
    Return what to weigh for each stock of traces, and what to write on its bottle.

    Parameters
    ----------
    weighing : Weighing
        What the balance shows.
    units : str
        "metric" or "us".
    batch : str
        What the batch is for.

    Returns
    -------
    tuple of Table
        For each stock its weights, then its label.

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200, "B": 0.5}), ["KNO3", "H3BO3"], volume=10)
    >>> made, label = stock_tables(weigh(recipe, stocks=True))
    >>> made.rows[0][:4], label.rows[0][0]
    (('1', 'H3BO3', '1.43', 'g'), 'trace stock 1')
    """
    found = []
    for place, made in enumerate(weighing.stocks, 1):
        found.append(_stock_weights(made, f"stock {place}", units))
        found.append(_label(weighing, made, f"label {place}", units, batch))
    return tuple(found)


def _stock_weights(made, key, units):
    rows = []
    for number, row in enumerate(made.rows(), 1):
        name, grams, reaches, alone, through, _ = row
        size = shown(grams, made.steps[name], "g", units)
        also = " ".join(shown(grams, made.steps[name], "g")) if units == "us" else ""
        batch = f"{printed(reaches, 3)} g"
        spread = "too little" if alone > WHOLE else printed_spread(alone)
        rows.append(
            (str(number), name, *size, also, batch, printed_spread(through), spread)
        )
    columns = ("", "part", "amount", "unit", "also", "reaches a batch")
    columns += ("± through the stock", "± weighed for each batch")
    title = f"{_bottle(made, units)}; {_doses(made, units)}"
    table = Table(key, title, columns, tuple(rows), (2, 5, 6, 7))
    return table.without_empty("also")


def _bottle(made, units):
    volume = _volume(made.volume * ML_PER_LITRE, None, units)
    return f"{made.ingredient.name}: weigh once, make up to {volume}"


def _doses(made, units):
    dose = _volume(made.dose, made.dose_step, units)
    return f"{dose} for each batch, {made.batches:g} batches"


def _volume(millilitres, step, units):
    """Return a volume with its unit; millilitres stand behind US measures."""
    plain = f"{millilitres:g} mL"
    if units == "metric":
        large = millilitres >= ML_PER_LITRE and not step
        return f"{millilitres / ML_PER_LITRE:g} L" if large else plain
    return f"{' '.join(shown(millilitres, step, 'mL', units))} ({plain})"


def _label(weighing, made, key, units, batch):
    """Return the words for a bottle."""
    holds = [
        f"{' '.join(shown(grams, made.steps[part.name], 'g', units))} {part.name}"
        for part, grams in made.parts
    ]
    whole = _volume(made.volume * ML_PER_LITRE, None, units)
    dose = _volume(made.dose, made.dose_step, units)
    lines = [made.ingredient.name, f"for {batch}"] if batch else [made.ingredient.name]
    lines += [f"in {whole}: {', '.join(holds)}"]
    lines += [f"{dose} for {batch_text(weighing.volume, units)}"]
    told = [f"{part.name}: {hazard_text(part.hazards)}" for part, _ in made.parts]
    lines += [*told, "concentrate, not for drinking; made on __________ by __________"]
    rows = tuple((line,) for line in lines)
    return Table(key, f"Write on the bottle of {made.ingredient.name}", ("",), rows)


# --- before rounding --------------------------------------------------------------------


def rates(weighing, units="metric"):
    """
    Return the table of the recipe before rounding, per volume, and what it costs.

    Parameters
    ----------
    weighing : Weighing
        What the balance shows.
    units : str
        "metric" or "us".

    Returns
    -------
    Table
        Exact amount, amount in a litre or in 100 US gallons, cost.

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> rates(weigh(recipe)).rows
    (('KNO3', '5.172', 'g', '0.5172', 'g/L'),)
    """
    recipe, rows = weighing.recipe, []
    for ingredient, amount in recipe.amounts:
        in_unit = ingredient.measured_in
        exact = shown(amount, None, in_unit, units)
        rate = per_volume(amount, in_unit, recipe.volume, units)
        cost = printed_cost(ingredient.cost(amount))
        rows.append((ingredient.name, *exact, *rate, cost))
    columns = ("ingredient", "exact", "unit", "per volume", "per volume unit", "cost")
    table = Table("rates", "Before rounding", columns, tuple(rows), (1, 3, 5))
    return table.without_empty("cost")
