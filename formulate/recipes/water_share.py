"""How much of a water can be used: shares of two or more waters, limits and wishes kept.

The shares come from `blending`; the ordinary recipe for their blend follows. Charge and
carbonate mix linearly; the pH of a blend is not known.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from formulate.checks import checked_number
from formulate.errors import Faults, Infeasible, InputError, NoConvergence, shortened
from formulate.ingredients.water import Water
from formulate.ingredients.water import water as as_water
from formulate.notices import Notice
from formulate.recipes.blending import (
    WISHES,
    best_blend,
    chosen_amounts,
    held_rows,
    holding_back,
    inset,
    rows_over_waters,
)
from formulate.recipes.drawing import agree, draw, sum_of
from formulate.recipes.shares import WaterShare, blend_of, poured_share
from formulate.recipes.solve import checked_shelf, rows_of_amounts, solve
from formulate.recipes.target import Target, published_target
from formulate.stoichiometry.quantities import check_volume
from formulate.tables import recipe_rule
from formulate.working import printed

__all__ = ["share_of_water"]

LITRES_PER_M3 = 1000.0
ROUNDS = 20
NONE = 1e-7  # share of a water: less is none
SAME = 1e-5  # share of a wish or a cost: nearer than this is the same
WITHIN_BOUNDS = (
    1e-8,
    1e-6,
)  # share of a row that is left free where rounding asks for it
POURED = 1e-4  # share of the volume: liquids that take more are told


def share_of_water(
    target, shelf, *, volume, waters, prices=None, amounts=None, within=None
):
    """
    Return how much of each water to take so that limits are kept and wishes met.

    Hard limits and amounts are kept, and every wanted value is met within `within`, or
    within its range. What even the best blend misses, by the least squares of the
    ordinary solve, is held to what that blend reaches. Then the cost of waters and salts
    is least or, without prices, the share of the first water greatest, then that of the
    second. The recipe is the nearest one for that blend; if it would trade one wanted
    value for others beyond `within`, it is solved again with all of them held.

    Parameters
    ----------
    target : Target or str
        What is wanted, or the key of a published target.
    shelf : iterable of Ingredient or str
        What is at hand, as in `solve`.
    volume : float or str
        Final volume. [L]
    waters : mapping of str to Water or str, or iterable of Water or str
        Two waters or more, the one to be used first before the others.
    prices : mapping of str to float, sequence of float, or None
        Price of each water; every ingredient must then have one too. [currency/m3]
    amounts : mapping of str to str or pair, or None
        What the batch may take of each ingredient, as in `solve`. [g]
    within : float or None
        Share by which a wanted value may be missed; if None, the rule of misses, 5 %. [-]

    Returns
    -------
    WaterShare
        The shares, the recipe for the blend, and what holds the first water back.

    Raises
    ------
    InputError
        With every fault.
    Infeasible
        If no blend keeps the limits; the message names them.

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> wish = target({"K": 200}, limits={"Na": "at most 50 mg/L"})
    >>> tap = as_water({"Na": 80}, name="tap")
    >>> found = share_of_water(wish, ["KNO3"], volume=100, waters=[tap, "pure"])
    >>> round(found.shares["tap"], 4), found.held_back
    (0.625, ('Na at most 50 mg/L',))
    """
    faults = Faults("share of water")
    target = _checked_target(target, faults)
    volume = _collected(faults, check_volume, volume)
    waters = _checked_waters(waters, faults)
    within = _collected(faults, _within, within)
    found = checked_shelf(shelf, faults)
    shelf = shelf if hasattr(shelf, "on_hand") else found
    usable = _usable(found, target, faults)
    prices = _checked_prices(prices, waters, usable, faults)
    on_hand = getattr(shelf, "on_hand", {})
    own = rows_of_amounts(amounts, on_hand, usable, volume or 1.0, faults)
    faults.raise_if_any()
    asked = {"volume": volume, "within": within}
    orders = _orders(usable, len(waters), prices)
    rows, chosen, told = _chosen(target, usable, waters, own, orders, asked)
    facts = {"volume": volume, "amounts": amounts}
    tries = _tries(waters, rows, orders, chosen)
    shares, recipe, traded = _nearest(target, shelf, waters, tries, rows, facts)
    found = WaterShare(
        waters,
        shares,
        recipe,
        shelf,
        holding_back(rows, orders[0], chosen),
        prices,
        amounts,
        None if prices is None else float(orders[0] @ chosen) * volume,
    )
    return replace(found, told=(*told, *traded, *_remarks(found)))


def _chosen(target, usable, waters, own, orders, asked):
    """Return held rows, amounts of ingredients and waters, and what was dropped.

    Lines of pH and EC are drawn anew at the blend that was chosen, until they agree.
    """
    drawing, within = None, asked["within"]
    taps = [one.solution for one in waters.values()]
    for _ in range(ROUNDS):
        rows = rows_over_waters(target, usable, waters, own, drawing)
        rows, best, dropped = best_blend(rows, usable, waters, target, **asked)
        rows, missed = held_rows(rows, best, within)
        chosen = chosen_amounts(rows, orders)
        if not any(held.is_metered for held in target.limits):
            break
        made = sum_of((*usable, *taps), chosen.tolist())
        after = draw(target.limits, made, drawing)
        if drawing is not None and agree(drawing, after, made):
            break
        drawing = after
    else:
        raise NoConvergence("shares and the lines of pH and EC do not agree")
    return rows, chosen, (*dropped, *missed)


def _orders(usable, count, prices):
    """Return what is to be least, one after the other: the cost, less of each water."""
    none = (0.0,) * len(usable)
    share = range(count)
    each = [(*none, *(-float(i == j) for j in share)) for i in share[:-1]]
    if prices is None:
        return np.array(each)
    per_litre = (price / LITRES_PER_M3 for price in prices.values())
    return np.array([(*(i.cost(1.0) for i in usable), *per_litre), *each])


def _shares(waters, amounts):
    """Return name to the share of each water, from the amounts that end with them."""
    litres = [float(x) if x > NONE else 0.0 for x in amounts[-len(waters) :]]
    return {name: x / sum(litres) for name, x in zip(waters, litres, strict=True)}


def _tries(waters, rows, orders, chosen):
    """Yield the shares, then those a hair within all bounds, where rounding asks for it."""
    yield _shares(waters, chosen)
    for share in WITHIN_BOUNDS:
        try:
            yield _shares(waters, chosen_amounts(inset(rows, chosen, share), orders))
        except NoConvergence:
            continue


def _nearest(target, shelf, waters, tries, rows, facts):
    """Return the first shares that rounding lets a recipe hold, the recipe, and remarks.

    Where a recipe for the blend can keep the limits but not the wishes too, for the room
    that liquids take, the nearest one stands, and this is told.
    """
    kept, last = None, None
    for shares in tries:
        blend = blend_of(waters, shares)
        try:
            recipe = solve(target, shelf, water=blend, **facts)
            held = _over_shelf(rows, shares, recipe)
            if not (broken := _broken(held, recipe)):
                return shares, recipe, ()
            kept = kept or (shares, recipe, broken)
            recipe = solve(target, shelf, water=blend, requirements=held, **facts)
            return shares, recipe, (Notice(f"{_traded(broken)}; it was held"),)
        except (Infeasible, NoConvergence) as error:
            last = error
    if kept is None:
        raise last
    shares, recipe, broken = kept
    return (
        shares,
        recipe,
        (Notice(f"{_traded(broken)}; it could not be held", "caution"),),
    )


def _traded(broken):
    names = ", ".join(row.name for row in broken)
    return f"the nearest recipe for this blend would give up {names} for less of others"


def _over_shelf(rows, shares, recipe):
    """Return the held wishes over the shelf alone, the blend counted as its water.

    The shares count the whole volume as water: where liquids take some of it, a wish may
    give by as much.
    """
    litres, poured, held = list(shares.values()), poured_share(recipe), []
    for row in rows:
        if row.origin == WISHES:
            counts, taps = np.split(np.array(row.coefficients), [-len(litres)])
            brings = float(taps @ litres)
            room = poured * abs(brings)
            facts = {"low": row.low - room, "high": row.high + room}
            counts = tuple(map(float, counts))
            facts |= {"coefficients": counts, "constant": brings * (1 - poured)}
            held.append(replace(row, **facts))
    return held


def _broken(held, recipe):
    """Return the held wishes that a recipe breaks."""
    found = []
    for row in held:
        value = row.constant + float(recipe.optimum.amounts @ row.coefficients)
        give = SAME * row.scale
        if not row.low - give <= value <= row.high + give:
            found.append(row)
    return found


def _collected(faults, check, value):
    """Return a checked value; None if it is at fault, which is noted."""
    with faults.collecting():
        return check(value)
    return None


def _checked_target(target, faults):
    """Return the target, or None if there is none."""
    if isinstance(target, Target):
        return target
    if isinstance(target, str):
        return _collected(faults, published_target, target)
    faults.add("no target; make one with target({'N': 150, ...}) or name one")
    return None


def _within(within):
    """Return the share by which a wanted value may be missed."""
    if within is None:
        return recipe_rule("miss").number("high") / 100
    return checked_number(within, "within", least=0, most=1)


def _usable(found, target, faults):
    """Return the ingredients that the target does not bar."""
    if target is None or target.urea_allowed:
        return found
    usable = tuple(i for i in found if "urea" not in i.forms)
    if found and not usable:
        faults.add("every ingredient brings urea, which this target bars")
    return usable


def _checked_waters(waters, faults):
    """Return name to water; every fault is noted."""
    if isinstance(waters, Mapping):
        named = list(waters.items())
    elif isinstance(waters, Iterable) and not isinstance(waters, str):
        named = [(None, one) for one in waters]
    else:
        faults.add("waters: write a list of two waters or more, the first one to use")
        return {}
    found = {}
    for place, (name, one) in enumerate(named, 1):
        with faults.collecting(f"water {place}"):
            made = one if isinstance(one, Water) else as_water(one)
            called = str(name or made.name or f"water {place}")
            if called in found:
                raise InputError(f"{called} is there twice; give one another name")
            found[called] = replace(made, name=called)
    if len(named) < 2:
        faults.add("waters: give two or more, the one to use first before the others")
    return found


def _checked_prices(prices, waters, usable, faults):
    """Return name to the price of each water; None if none were given."""
    if prices is None:
        return None
    if not isinstance(prices, Mapping):
        is_list = isinstance(prices, tuple | list)
        if not is_list or len(prices) != len(waters):
            faults.add("prices: write one for each water, in their order or by name")
            return None
        prices = dict(zip(waters, prices, strict=True))
    for name in prices:
        if name not in waters:
            faults.add(f"price of {shortened(name)}: there are {', '.join(waters)}")
    found = {}
    for name in waters:
        with faults.collecting(f"price of {name}"):
            found[name] = checked_number(prices.get(name), "currency/m3", least=0)
    lacking = [i.name for i in usable if i.price is None]
    if lacking:
        what = f"no price for {', '.join(lacking)}: the least cost cannot be told"
        faults.add(f"{what}; give their prices, or none for the waters")
    return MappingProxyType(found)


def _remarks(found):
    """Yield what to know about shares that were found."""
    poured = poured_share(found.recipe)
    if poured > POURED:
        what = (
            f"liquids take {100 * poured:.2g} % of the volume, which the shares do not "
            "count: shares, and what a water brings, are exact to that"
        )
        yield Notice(what, "note", poured, POURED)
    if found.cost is not None and found.cost > found.least_cost * (1 + SAME):
        what = (
            f"a recipe that only just meets what is wanted would cost "
            f"{printed(found.least_cost, 3)}; this one is nearer to it"
        )
        yield Notice(what, "note", found.cost, found.least_cost)
