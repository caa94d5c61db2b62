"""From a target, a shelf and a water to a recipe."""

from collections.abc import Iterable, Mapping

from formulate.errors import (
    Faults,
    Infeasible,
    InputError,
    NoConvergence,
    UnknownName,
    shortened,
)
from formulate.ingredients.salts import as_ingredient
from formulate.ingredients.water import Water
from formulate.ingredients.water import water as as_water
from formulate.notices import Notice
from formulate.recipes.conflict_words import explained
from formulate.recipes.limits import Limit, amount_limit
from formulate.recipes.recipe import Recipe
from formulate.recipes.requirements import (
    Requirement,
    amount_rows,
    requirements_of,
    room_for_liquids,
    uncalled_traces,
)
from formulate.recipes.stages import amounts_in_order
from formulate.recipes.target import Target, published_target
from formulate.stoichiometry.quantities import check_volume
from formulate.stoichiometry.solution import Solution

__all__ = ["checked_shelf", "rows_of_amounts", "solve"]

ROUNDS = 50
SETTLED = 1e-12  # share of water: closer than this is the same


def solve(target, shelf, *, volume, water=None, requirements=(), amounts=None):
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

    Returns
    -------
    Recipe
        Grams per batch, what they achieve, what binds and what to know.

    Raises
    ------
    InputError
        With every fault of shelf, water and volume.
    Infeasible
        If hard requirements cannot all hold; the error names the fewest that conflict and
        what each would have to give.

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> feed = target({"NO3-N": 210, "K": 235, "P": 31})
    >>> recipe = solve(feed, ["KNO3", "Ca(NO3)2·4H2O", "KH2PO4"], volume=100)
    >>> {name: round(grams, 1) for name, grams in recipe.masses.items()}
    {'KNO3': 50.6, 'Ca(NO3)2·4H2O': 117.9, 'KH2PO4': 13.6}
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
    faults.raise_if_any()
    rows, optimum, dropped = _solved(target, usable, water, own_rows, volume)
    return Recipe(target, usable, water, volume, rows, optimum, barred, dropped)


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


def _solved(target, usable, water, requirements, volume):
    """Return rows, optimum and dropped rules, the room that liquids take reckoned with.

    Liquids take the place of water. The share of water is what the last round left of it,
    never something to be gained by pouring more.
    """
    prices = [ingredient.price for ingredient in usable]
    known = None if None in prices else prices
    share = 1.0
    for _ in range(ROUNDS):
        tap = Solution(
            {key: v * share for key, v in water.solution.forms.items()},
            water.solution.unassigned_charge * share,
        )
        rows = (
            *requirements_of(target, usable, tap),
            *room_for_liquids(usable),
            *requirements,
        )
        try:
            optimum, dropped = _in_order(rows, usable, target, known), ()
        except Infeasible as error:
            rows, dropped = _without_share(rows, error, usable, water, volume)
            optimum = _in_order(rows, usable, target, known)
        pairs = zip(usable, optimum.amounts.tolist(), strict=True)
        poured = sum(i.millilitres(a) for i, a in pairs if a > 0) / 1000
        if abs(1 - poured - share) <= SETTLED or not water.solution.forms:
            return rows, optimum, dropped
        share = 1 - poured
    raise NoConvergence("the share of water does not settle", state=optimum)


def _in_order(rows, usable, target, prices):
    facts = {"prices": prices, "avoid": uncalled_traces(target, usable)}
    return amounts_in_order(rows, len(usable), target.priorities, **facts)


def _without_share(rows, error, usable, water, volume):
    """Return the rows without the share of ammonium, if only that cannot be kept."""
    share = {row.name for row in rows if row.origin == "ammonium share"}
    if not set(error.requirements) <= share:
        raise explained(rows, usable, volume)
    name = water.name or "the water"
    what = f"ammonium cannot be kept in its share: {name} alone breaks it"
    kept = tuple(row for row in rows if row.origin != "ammonium share")
    return kept, (Notice(what, "caution", source_key="ext-general"),)


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
