"""From a target, a shelf and a water to a recipe."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace

from formulate.checks import checked_number
from formulate.errors import Faults, InputError, UnknownName, shortened
from formulate.ingredients.salts import as_ingredient
from formulate.ingredients.water import Water
from formulate.ingredients.water import water as as_water
from formulate.recipes.limits import Limit, amount_limit, limit
from formulate.recipes.ph_means import check_counter_ions, check_water
from formulate.recipes.problem import Problem
from formulate.recipes.reaching import reached
from formulate.recipes.recipe import Recipe
from formulate.recipes.requirements import Requirement, amount_rows
from formulate.recipes.target import Target, published_target
from formulate.stoichiometry.quantities import check_volume

__all__ = ["checked_shelf", "metered_limit", "rows_of_amounts", "solve"]


def solve(
    target,
    shelf,
    *,
    volume,
    water=None,
    requirements=(),
    amounts=None,
    ph=None,
    ec=None,
    closed=False,
):
    """
    Return the recipe that comes nearest to a target.

    Least weighted squares of relative deviations, amounts not negative, what the water
    brings counted. Ions that the target does not name are free, but sodium and chloride
    from the shelf are kept low. What the recipe reaches of the wanted values is unique;
    among recipes that reach the same it is the one with least of trace elements that nobody
    asked for, then of least cost, then fewest grams (a
    millilitre of a stock counting as one), then first on the shelf.

    Parameters
    ----------
    target : Target or str
        What is wanted, or the key of a published target.
    shelf : iterable of Ingredient or str
        What is at hand, in the order of preference; of a `Shelf` no more is used than is
        on hand.
    volume : float or str
        Final volume. [L]
    water : Water, str or None
        The water, or the name of one; pure water if None.
    requirements : iterable of Requirement
        Further rows over the shelf, one coefficient for each ingredient that may be used.
    amounts : mapping of str to str or pair, or None
        Name of an ingredient to how much of it the batch may take: "at most 300 g",
        "at least 5 g", "exactly 40 g", "at most 0.5 g/L", "none". [g]
    ph : float, str or None
        A pH that must come out, in balance with the air: a number, or text such as "5.5
        to 6.2". Acids and alkalis of the shelf serve it, and what they bring of nutrients
        counts. [-]
    ec : float, str or None
        An EC that must come out, as mixed, at 25 °C: a number, or text such as "at most
        1.8 mS/cm". [mS/cm]
    closed : bool
        Whether the pH is meant as mixed, closed to the air.

    Returns
    -------
    Recipe
        Grams per batch, what they achieve, what binds and what to know.

    Raises
    ------
    InputError
        With every fault of shelf, water, volume, pH and EC.
    OutOfReach
        If nothing at hand brings the pH.
    Infeasible
        If hard requirements cannot all hold; the error names the fewest that conflict and
        what each would have to give.
    NoConvergence
        If pH or EC do not settle, or a result fails its own check.

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> feed = target({"NO3-N": 210, "K": 235, "P": 31})
    >>> recipe = solve(feed, ["KNO3", "Ca(NO3)2·4H2O", "KH2PO4"], volume=100)
    >>> {name: round(grams, 1) for name, grams in recipe.masses.items()}
    {'KNO3': 50.6, 'Ca(NO3)2·4H2O': 117.9, 'KH2PO4': 13.6}

    The nitrogen of the acid counts where a hard water is brought to its pH:

    >>> shelf = ["KNO3", "Ca(NO3)2·4H2O", "KH2PO4", "nitric acid (67 %)"]
    >>> recipe = solve(feed, shelf, volume=100, water="hard-tap-voehringen", ph=5.8)
    >>> round(recipe.millilitres["nitric acid (67 %)"], 1)
    37.7
    """
    faults = Faults("solve")
    with faults.collecting("target"):
        target = target if isinstance(target, Target) else _named_target(target)
    with faults.collecting():
        volume = check_volume(volume)
    with faults.collecting("water"):
        water = (
            water
            if isinstance(water, Water)
            else as_water({} if water is None else water)
        )
    ingredients = checked_shelf(shelf, faults)
    with faults.collecting():
        target = _asking(target, ph, ec, closed)
    faults.raise_if_any()
    barred = tuple(
        i for i in ingredients if "urea" in i.forms and not target.urea_allowed
    )
    usable = tuple(i for i in ingredients if i not in barred)
    if not usable:
        raise InputError("solve: every ingredient brings urea, which this target bars")
    own_rows = _checked_rows(requirements, usable, faults)
    on_hand = getattr(shelf, "on_hand", {})
    own_rows += rows_of_amounts(amounts, on_hand, usable, volume, faults)
    problem = Problem(target, usable, water, own_rows, volume)
    if problem.wants_ph:
        with faults.collecting():
            check_counter_ions(problem.at_hand)
    if problem.wants_ph and faults.found:  # what else is plain to see
        with faults.collecting():
            check_water(target.limits, problem.at_hand, water)
    faults.raise_if_any()
    rows, optimum, dropped, drawing = reached(problem)
    return Recipe(
        target, usable, water, volume, rows, optimum, barred, dropped, drawing
    )


def _asking(target, ph, ec, closed):
    """Return a target that asks for a pH and an EC besides."""
    if not isinstance(target, Target) or (ph is None and ec is None):
        return target
    faults, limits = Faults(), list(target.limits)
    if not isinstance(closed, bool):
        faults.add(f"closed: {shortened(closed)}; write True or False")
    for subject, value in (("pH", ph), ("EC", ec)):
        if value is None:
            continue
        with faults.collecting(subject):
            held = metered_limit(subject, value, closed=closed is True)
            if any(held.subject == other.subject for other in limits):
                raise InputError("the target limits it already; give one or the other")
            limits.append(held)
    faults.raise_if_any()
    return replace(target, limits=tuple(limits))


def _checked_rows(requirements, usable, faults):
    """Return the caller's rows as a tuple; what does not fit the shelf is noted."""
    if isinstance(requirements, str) or not isinstance(requirements, Iterable):
        faults.add(f"requirements: {shortened(requirements)} is no list of Requirement")
        return ()
    rows = tuple(requirements)
    names = ", ".join(ingredient.name for ingredient in usable)
    for row in rows:
        if not isinstance(row, Requirement):
            faults.add(f"requirements: {shortened(row)} is no Requirement")
        elif len(row.coefficients) != len(usable):
            given = len(row.coefficients)
            faults.add(f"{row.name}: {given} coefficients for {len(usable)}: {names}")
    return rows


def rows_of_amounts(amounts, on_hand, usable, volume, faults):
    """
    Return the rows of what a batch may take of each ingredient.

    Parameters
    ----------
    amounts : mapping of str to str or pair, or None
        Name of an ingredient to its limit, as in `solve`. [g]
    on_hand : mapping of str to float
        Name to what is there. [g]
    usable : sequence of Ingredient
        The shelf.
    volume : float
        Volume of the batch. [L]
    faults : Faults
        Where to note what cannot be read.

    Returns
    -------
    tuple of Requirement
        The rows.

    Examples
    --------
    >>> shelf = [as_ingredient("KNO3")]
    >>> rows = rows_of_amounts({"KNO3": "at most 5 g"}, {}, shelf, 10, Faults())
    >>> rows[0].name
    'amount of KNO3 at most 5 g'
    """
    named = {ingredient.name: ingredient for ingredient in usable}
    limits = []
    for name, there in on_hand.items():
        if name in named:
            unit = named[name].measured_in
            limits.append(Limit(name, high=there, unit=unit, of_amount=True))
    if amounts is not None and not isinstance(amounts, Mapping):
        faults.add(f"amounts: {shortened(amounts)} is no mapping of name to amount")
        amounts = None
    for name, value in (amounts or {}).items():
        with faults.collecting(f"amount of {shortened(name)}"):
            if name not in named:
                raise UnknownName(f"is not on the shelf; there are {', '.join(named)}")
            limits.append(amount_limit(name, value, named[name], volume))
    rows = (row for held in limits for row in amount_rows(held, usable, volume))
    return tuple(rows)


def metered_limit(subject, value, *, closed=False):
    """
    Return the limit that a wanted pH or EC means.

    Parameters
    ----------
    subject : str
        "pH" or "EC".
    value : float or str
        A number or a quantity is wanted exactly; else text such as "5.5 to 6.2" or
        "at most 1.8 mS/cm". [-]
    closed : bool
        Whether a pH is meant as mixed, closed to the air.

    Returns
    -------
    Limit
        The limit.

    Raises
    ------
    InputError
        If it cannot be read, or is none that a nutrient solution has.

    Examples
    --------
    >>> metered_limit("pH", 5.8).named("low"), metered_limit("EC", "1800 µS/cm").low
    ('pH exactly 5.8', 1.8)
    """
    if subject == "pH" and closed:
        subject = "pH when mixed"
    if not isinstance(value, str | tuple | list):
        value = f"exactly {checked_number(value, subject):.12g}"
    try:
        return limit(subject, value)
    except InputError:
        if isinstance(value, str) and re.match(r"\s*[\d.,]+\s*[^\d\s–—-]*\s*$", value):
            return limit(subject, f"exactly {value}")
        raise


def _named_target(thing):
    if isinstance(thing, str):
        return published_target(thing)
    raise InputError(
        "no target; make one with target({'N': 150, ...}) or name a published one"
    )


def checked_shelf(shelf, faults):
    """
    Return the ingredients of a shelf; every fault is collected.

    Parameters
    ----------
    shelf : iterable of Ingredient or str
        What is at hand.
    faults : Faults
        Where to note what is at fault.

    Returns
    -------
    tuple of Ingredient
        The ingredients, in the order of the shelf.

    Examples
    --------
    >>> [ingredient.name for ingredient in checked_shelf(["KNO3"], Faults())]
    ['KNO3']
    """
    if isinstance(shelf, str) or not hasattr(shelf, "__iter__"):
        faults.add("the shelf is a list of ingredients, such as ['KNO3', 'MgSO4·7H2O']")
        return ()
    found, names = [], set()
    for place, thing in enumerate(shelf, 1):
        with faults.collecting(f"ingredient {place}"):
            ingredient = as_ingredient(thing)
            if ingredient.name in names:
                raise InputError(f"{ingredient.name} is on the shelf twice; rename one")
            names.add(ingredient.name)
            found.append(ingredient)
    if not found and not faults.found:
        faults.add("the shelf is empty")
    return tuple(found)
