"""The tables of what two jobs weigh side by side: the batch, a litre of it, what it costs."""

from dataclasses import replace

from formulate.sheets.measures import per_volume, printed_steps, shown
from formulate.sheets.table import Table
from formulate.sheets.weighed_tables import in_order_of_use, printed_cost
from formulate.stoichiometry.units import unit
from formulate.working import printed, printed_percent

__all__ = [
    "COSTED",
    "cost_beside",
    "difference_text",
    "litres_beside",
    "pairs_beside",
    "percent_text",
    "reaching",
    "told_only",
    "weights_beside",
]

ML_PER_LITRE, PERCENT, COSTED = 1000.0, 100.0, 100.0  # mL; %; L that a cost is told for
DIGITS_OF_STOCK = 3  # as the sheet shows what reaches a batch through a stock
SAME = 1e-9  # share: less is what adding up leaves
NEVER = ("difference", "%")


def reaching(weighing):
    """
    Return what reaches the batch of each ingredient, traces through their stocks too.

    Parameters
    ----------
    weighing : Weighing or None
        What the balance shows; None if there is no recipe.

    Returns
    -------
    dict
        Name to (ingredient, amount, step or None, name of the stock or ""), in the order
        of use. [g]

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200, "B": 0.5}), ["KNO3", "H3BO3"], volume=10)
    >>> found = reaching(weigh(recipe, stocks=True))
    >>> [(name, round(row[1], 4), row[3]) for name, row in found.items()]
    [('KNO3', 5.2, ''), ('H3BO3', 0.0286, 'trace stock 1')]
    """
    found, stocks = {}, {}
    if weighing is not None:
        stocks = {made.ingredient.name: made for made in weighing.stocks}
    for ingredient, amount in in_order_of_use(weighing.amounts if weighing else ()):
        made = stocks.get(ingredient.name)
        if made is None:
            step = weighing.steps.get(ingredient.name)
            found[ingredient.name] = (ingredient, amount, step, "")
            continue
        grams = {row[0]: row[2] for row in made.rows()}
        for part, _ in made.parts:
            found[part.name] = (part, grams[part.name], None, ingredient.name)
    return found


def difference_text(one, other, *texts):
    """
    Return by how much a second number is more than a first, with as many decimals as shown.

    Parameters
    ----------
    one : float
        The first, not rounded. [-]
    other : float
        The second. [-]
    *texts : str
        Both as they are shown.

    Returns
    -------
    str
        The difference with its sign: the fewer decimals of the two, more only where it
        would vanish; 0 where both are shown alike.

    Examples
    --------
    >>> difference_text(159.94, 99.5, "159.9", "99.50"), difference_text(2.0, 2.0, "2", "2")
    ('-60.4', '0')
    >>> difference_text(1000.0, 999.6, "1000", "999.6")
    '-0.4'
    """
    more, is_same = other - one, len(texts) > 1 and len(set(texts)) == 1
    if is_same or abs(more) <= SAME * max(abs(one), abs(other)):
        return "0"
    decimals = sorted(len(text.partition(".")[2]) for text in texts)
    for places in decimals:
        text = f"{more:+.{places}f}"
        if float(text):
            return text
    return f"{'+' if more > 0 else ''}{printed(more, 2)}"


def percent_text(one, other):
    """
    Return by how much a second number is more than a first, in percent of the first.

    Parameters
    ----------
    one : float
        The first. [-]
    other : float
        The second. [-]

    Returns
    -------
    str
        One decimal and the unit; a word where the first is none, nothing where one is
        below and one above zero.

    Examples
    --------
    >>> percent_text(80.0, 40.0), percent_text(0.0, 40.0), percent_text(1.0, -1.0)
    ('-50.0 %', 'new', '')
    """
    if one * other < 0:
        return ""
    if abs(one) > 0:
        return printed_percent(PERCENT * (other - one) / abs(one))
    return "new" if other else ""


# --- what is weighed --------------------------------------------------------------------


def pairs_beside(first, second):
    """
    Return what reaches both batches of each ingredient, as the tables have it.

    Parameters
    ----------
    first : Weighing or None
        What the balance shows of one job; None if it has no recipe.
    second : Weighing or None
        That of the other.

    Returns
    -------
    list of tuple
        Name, and of each side what `reaching` tells of it or None, in the order of use;
        two rows where one is weighed and the other poured.

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> made = weigh(solve(target({"K": 200}), ["KNO3"], volume=10))
    >>> [(name, one is None, other is None) for name, one, other in pairs_beside(made, None)]
    [('KNO3', False, True)]
    """
    found = [reaching(weighing) for weighing in (first, second)]
    every = {name: row[0] for one in found[::-1] for name, row in one.items()}
    ordered = in_order_of_use((ingredient, name) for name, ingredient in every.items())
    first_of = [(name, *(one.get(name) for one in found)) for _, name in ordered]
    return [row for pair in first_of for row in _alike(*pair)]


def _alike(name, one, other):
    """Yield a pair; two rows where one is weighed and the other poured."""
    if one and other and _measure(one)[0] != _measure(other)[0]:
        yield name, one, None
        yield name, None, other
    else:
        yield name, one, other


def _measure(row):
    """Return unit, amount and step as it is weighed or poured."""
    ingredient, amount, step, _ = row
    if (
        ingredient.measured_in == "g"
        and ingredient.density
        and not ingredient.weighing_step
    ):
        step = step and ingredient.millilitres(step)
        return "mL", ingredient.millilitres(amount), step
    return ingredient.measured_in, amount, step


def weights_beside(first, second, units="metric"):
    """
    Return what is weighed for both batches.

    Parameters
    ----------
    first : Weighing or None
        What the balance shows of one job; None if it has no recipe.
    second : Weighing or None
        That of the other.
    units : str
        "metric" or "us".

    Returns
    -------
    Table
        Ingredient, both amounts in one unit, difference; what goes through a stock
        with what reaches the batch.

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> whole, half = (weigh(solve(target({"K": k}), ["KNO3"], volume=10)) for k in (200, 100))
    >>> weights_beside(whole, half).rows
    (('KNO3', '5.2', '2.6', '-2.6', '-50.0 %'),)
    """
    rows = [
        (name, *_weighed_cells(one, other, units), _through(one, other))
        for name, one, other in pairs_beside(first, second)
    ]
    columns = ("ingredient", "first", "second", "unit", "difference", "%", "through")
    table = Table(
        "weights-beside", "What is weighed", columns, tuple(rows), (1, 2, 4, 5)
    )
    return told_only(table, first, second)


def told_only(table, first, second):
    """
    Return a table without the columns of a job that has no recipe.

    Parameters
    ----------
    table : Table
        A table with columns "first", "second" and those of their difference; a unit that
        all rows share moves to the head.
    first : object or None
        What the first column is about; None if there is nothing.
    second : object or None
        What the second is about.

    Returns
    -------
    Table
        What can be told.

    Examples
    --------
    >>> table = Table("t", "Test", ("", "first", "second", "%"), (("K", "1", "0", ""),), (1, 2))
    >>> told_only(table, "a recipe", None).columns
    ('', 'first')
    """
    sides = {"first": first, "second": second}
    lacking = [name for name, one in sides.items() if one is None]
    dropped = (*lacking, *NEVER) if lacking else ()
    places = [n for n, c in enumerate(table.columns) if c not in dropped]
    kept = Table(
        table.key,
        table.title,
        tuple(table.columns[n] for n in places),
        tuple(tuple(row[n] for n in places) for row in table.rows),
        tuple(places.index(n) for n in table.numeric if n in places),
    )
    return _one_unit(kept.without_empty("through"))


def _one_unit(table):
    """Return a table with its unit at the head, if all its rows have the same."""
    place = table.columns.index("unit") if "unit" in table.columns else None
    names = {row[place] for row in table.rows} if place is not None else ()
    if len(names) != 1:
        return table
    rows = [(*row[:place], "", *row[place + 1 :]) for row in table.rows]
    columns = (f"{table.columns[0]}, {names.pop()}", *table.columns[1:])
    return replace(table, columns=columns, rows=tuple(rows)).without_empty("unit")


def _weighed_cells(one, other, units):
    """Return both amounts in one unit, their difference and that in percent."""
    sides = [_measure(row) if row else None for row in (one, other)]
    in_unit = next(side[0] for side in sides if side)
    values = [side[1] if side else 0.0 for side in sides]
    _, name = shown(max(values), None, in_unit, units)
    known = unit(name)
    size = known.factor * (ML_PER_LITRE if known.kind == "volume" else 1.0)
    texts = [
        _amount_text(side, row, size)
        for side, row in zip(sides, (one, other), strict=True)
    ]
    scaled = [value / size for value in values]
    shown_texts = [text for text, side in zip(texts, sides, strict=True) if side]
    more = difference_text(*scaled, *shown_texts)
    return (*texts, name, more, percent_text(*scaled))


def _amount_text(side, row, size):
    """Return an amount with the digits that the sheet gives it."""
    if side is None:
        return "none"
    _, amount, step = side
    if row[3]:
        return printed(amount / size, DIGITS_OF_STOCK)
    return printed_steps(amount / size, step and step / size)


def _through(one, other):
    """Return through which stock it goes, and of which job."""
    names = [row[3] if row else "" for row in (one, other)]
    if names[0] == names[1] or not (one and other):
        return names[0] or names[1]
    told = zip(("first", "second"), names, strict=True)
    return ", ".join(f"{which}: {name}" for which, name in told if name)


def litres_beside(first, second, units="metric"):
    """
    Return what goes into a litre of both batches, whatever their volumes.

    Parameters
    ----------
    first : Weighing or None
        What the balance shows of one job; None if it has no recipe.
    second : Weighing or None
        That of the other.
    units : str
        "metric" or "us".

    Returns
    -------
    Table
        Ingredient, both rates in one unit, difference.

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> few, more = (weigh(solve(target({"K": 100}), ["KNO3"], volume=v)) for v in (10, 20))
    >>> litres_beside(few, more).rows
    (('KNO3', '0.2600', '0.2600', '0', '0.0 %'),)
    """
    volumes = [weighing.volume if weighing else 1.0 for weighing in (first, second)]
    rows = []
    for name, *pair in pairs_beside(first, second):
        rates = [_rate(row, v) for row, v in zip(pair, volumes, strict=True)]
        in_unit = next(_measure(row)[0] for row in pair if row)
        cells = [per_volume(rate, in_unit, 1.0, units) for rate in rates]
        texts = [
            cell[0] if row else "none" for cell, row in zip(cells, pair, strict=True)
        ]
        more = _rate_difference(rates, texts, in_unit, units)
        rows.append((name, *texts, cells[0][1], more, percent_text(*rates)))
    columns = ("ingredient", "first", "second", "unit", "difference", "%")
    table = Table("litres-beside", "What goes in", columns, tuple(rows), (1, 2, 4, 5))
    return told_only(table, first, second)


def _rate(row, litres):
    return _measure(row)[1] / litres if row else 0.0


def _rate_difference(rates, texts, in_unit, units):
    """Return the difference of two rates in the unit of their table."""
    name = per_volume(1.0, in_unit, 1.0, units)[1].partition("/")[0]
    known = unit(name)
    size = known.factor * (ML_PER_LITRE if known.kind == "volume" else 1.0)
    if units == "us":
        size /= 100.0 * unit("US gal").factor  # rates are told for 100 US gal
    return difference_text(
        *(rate / size for rate in rates), *(text for text in texts if text != "none")
    )


# --- cost -------------------------------------------------------------------------------


def cost_beside(first, second):
    """
    Return what both batches cost: each ingredient, the batch, 100 L of it.

    Parameters
    ----------
    first : Weighing or None
        What the balance shows of one job; None if it has no recipe.
    second : Weighing or None
        That of the other.

    Returns
    -------
    Table
        Both costs in the currency of the prices; "not known" where a price is missing. No
        rows if no price is known.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> bag = salt("KNO3", price_per_kg=2.5)
    >>> one, other = (weigh(solve(target({"K": 100}), [bag], volume=v)) for v in (10, 20))
    >>> cost_beside(one, other).rows[-1]
    ('100 L', '0.065', '0.065', '0', '0.0 %')
    """
    rows, sides = [], [one for one in (first, second) if one is not None]
    priced = False
    for name, *pair in pairs_beside(first, second):
        costs = [row[0].cost(row[1]) if row else 0.0 for row in pair]
        there = [bool(row) for row in pair]
        priced |= any(row and row[0].price is not None for row in pair)
        rows.append((name, *_cost_cells(costs, there)))
    totals = [None if one is None else one.cost for one in (first, second)]
    there = [one is not None for one in (first, second)]
    rows.append(("the batch", *_cost_cells(totals, there)))
    each = [
        None if one is None or one.cost is None else COSTED * one.cost / one.volume
        for one in (first, second)
    ]
    rows.append((f"{COSTED:g} L", *_cost_cells(each, there)))
    columns = ("ingredient", "first", "second", "difference", "%")
    rows = tuple(rows) if priced and sides else ()
    table = Table("cost-beside", "What it costs", columns, rows, (1, 2, 3, 4))
    return told_only(table, first, second)


def _cost_cells(costs, there):
    """Return two costs, their difference and that in percent."""
    texts = [
        ("not known" if cost is None else printed_cost(cost)) if is_there else "none"
        for cost, is_there in zip(costs, there, strict=True)
    ]
    if None in costs:
        return (*texts, "", "")
    told = [text for text, is_there in zip(texts, there, strict=True) if is_there]
    return (*texts, difference_text(*costs, *told), percent_text(*costs))
