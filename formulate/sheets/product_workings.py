"""The arithmetic behind products held against each other: contents, costs, a target, salts."""

from functools import partial

from formulate.recipes.recipe_working import content_steps, weight_working
from formulate.sheets.mixture_workings import Mixture, mixture_working
from formulate.sheets.table import Followed
from formulate.stoichiometry.nutrients import nutrient
from formulate.working import Quantity, Step, Working

__all__ = ["against_workings", "salt_workings", "share_workings"]

PERCENT, PER_KG = 100.0, 1000.0


def share_workings(found):
    """
    Yield what is behind contents and costs, before empty columns are left out.

    Parameters
    ----------
    found : ProductComparison
        The comparison.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.claims.product_comparison import compare_products
    >>> found = compare_products({"A": "KNO3", "B": "urea"}, dose="1 g/L")
    >>> round(dict(share_workings(found))[0, 1].worked().value, 1)
    138.5
    """
    products = {one.name: one for one in found.products}
    keys, names = {}, [one.name for one in found.products]
    for share in found.shares:
        row = keys.setdefault(share.key, len(keys))
        if not share.is_there:
            continue
        first = 1 + 4 * names.index(share.name)
        one = products[share.name]
        ways = (_in_gram, _in_millilitre, _for_money, _gram_cost)
        for column, worked in enumerate(ways, first):
            yield (row, column), Followed(partial(worked, one, share.key))


def _content(one, key):
    """Return the lines of a content in what a product is measured in, and its unit."""
    return content_steps(one, nutrient(key)), one.measured_in


def _in_gram(one, key):
    """Return the working of a content in a gram."""
    steps, own = _content(one, key)
    if own == "mL":
        terms = (Quantity(steps[-1].value, "mg/mL"), "÷", Quantity(one.density, "g/mL"))
        steps = [*steps, Step("in a gram: over its density", terms, "mg/g")]
    return Working(f"{key} in a gram of {one.name}", tuple(steps))


def _in_millilitre(one, key):
    """Return the working of a content in a millilitre."""
    steps, own = _content(one, key)
    if own == "g":
        terms = (Quantity(steps[-1].value, "mg/g"), "×", Quantity(one.density, "g/mL"))
        steps = [*steps, Step("in a millilitre: times its density", terms, "mg/mL")]
    return Working(f"{key} in a millilitre of {one.name}", tuple(steps))


def _priced(one, key):
    """Return content lines, and content and price as quantities of the same measure."""
    steps, own = _content(one, key)
    whole = {"g": "kg", "mL": "L"}[own]
    content = Quantity(steps[-1].value, f"mg/{own}")
    times = Quantity(PER_KG, f"{own}/{whole}")
    return steps, content, times, Quantity(one.price, f"currency/{whole}")


def _for_money(one, key):
    """Return the working of what a unit of the currency buys."""
    steps, content, times, price = _priced(one, key)
    terms = (content, "×", times, "÷", price)
    last = Step(f"{key} for a unit of the currency", terms, "mg/currency")
    return Working(f"{key} for the money of {one.name}", (*steps, last))


def _gram_cost(one, key):
    """Return the working of what a gram of a nutrient costs."""
    steps, content, times, price = _priced(one, key)
    terms = (price, "÷", times, "÷", content, "×", Quantity(PER_KG, "mg/g"))
    last = Step(f"a gram of {key}, bearing the whole price", terms, "currency/g")
    return Working(f"What a gram of {key} costs from {one.name}", (*steps, last))


def against_workings(found):
    """
    Yield what is behind how each feed stands to the target.

    Parameters
    ----------
    found : ProductComparison
        The comparison.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.claims.product_comparison import compare_products
    >>> found = compare_products({"A": "KNO3", "B": "KCl"}, target={"K": 200})
    >>> round(dict(against_workings(found))[0, 2].worked().value)
    200
    """
    row = -1
    for feed in found.feeds:
        for line in feed.against:
            row += 1
            yield (row, 2), Followed(partial(_there, feed, line[0]))
            yield (row, 3), Followed(partial(_wanted, feed, line[0]))
            yield (row, 4), Followed(partial(_off, feed, line, "mg/L"))
            yield (row, 5), Followed(partial(_off, feed, line, "%"))


def _there(feed, key):
    """Return the working of a nutrient in a feed."""
    return mixture_working(
        Mixture(feed.parts, feed.water), key, f"{key} in {feed.name}"
    )


def _wanted(feed, key):
    """Return the working of what is wanted of a nutrient, in mg/L."""
    known, wanted = nutrient(key), Quantity(feed.target.wanted[key], "mmol/L")
    terms = (wanted, "×", Quantity(known.molar_mass, "mg/mmol"))
    step = Step("wanted, times the molar mass", terms, "mg/L", "stoichiometry")
    return Working(f"{key} wanted by {feed.target.name or 'the target'}", (step,))


def _off(feed, line, of_unit):
    """Return the working of how far a feed is off what is wanted."""
    key, there, _, off, percent = line
    nearest = Quantity(there - off, "mg/L")
    apart = Step(
        "there, less what is wanted", (Quantity(there, "mg/L"), "−", nearest), "mg/L"
    )
    steps = [*_there(feed, key).steps, apart]
    if of_unit == "%":
        terms = (
            Quantity(apart.value, "mg/L"),
            "÷",
            nearest,
            "×",
            Quantity(PERCENT, "%"),
        )
        nothing = (Quantity(percent or 0.0, "%"),)
        steps.append(Step("of that", terms if percent else nothing, "%"))
    return Working(f"How far {key} of {feed.name} is off", tuple(steps))


def salt_workings(made):
    """
    Yield what is behind the salts that stand for a product.

    Parameters
    ----------
    made : SaltFeed
        The product's feed from single salts.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.claims.product_comparison import compare_products
    >>> found = compare_products({"A": "KNO3", "B": "urea"}, dose="1 g/L")
    >>> dict(salt_workings(found.salt_feeds[0]))[0, 1].worked().unit
    'mg/L'
    """
    for row, name in enumerate(made.amounts):
        yield (row, 1), Followed(partial(weight_working, made.recipe, name))
