"""How strong a split of tanks may be made: what is first to fall out, and when."""

import math
from dataclasses import replace

import numpy as np

from formulate.ingredients.dissolve import poured_litres
from formulate.mixing.batch import column_of
from formulate.mixing.nearness import most_of
from formulate.mixing.strength import Strength
from formulate.mixing.tank_contents import (
    CLEAR,
    LIKELY,
    PERCENT,
    concentrates,
    stock_level,
)
from formulate.tables import rule_of

__all__ = ["greatest_strength", "limiting_at", "shares_of"]

PLACES, ROUNDS = 33, 3  # strengths tried at once, and how often more finely
MOST = 1e4  # beyond this it is no concentrate
JUST_ABOVE, HALF, ROUNDING = 1.02, 0.5, 1e-9


def _stack_at(tanks, times):
    """Return every tank at several strengths as one stack, strengths outermost."""
    batch = replace(tanks.batch, water=tanks.stock_water)
    tank_shares = [shares_of(batch, tank) for tank in tanks.tanks]
    shares = np.array([share * t for t in times for share in tank_shares])
    return concentrates(batch, shares, coldest=tanks.coldest)


def shares_of(batch, tank):
    """
    Return what share of each ingredient of a batch is in a tank.

    Parameters
    ----------
    batch : Batch
        The batch.
    tank : StockTank
        One of its concentrates.

    Returns
    -------
    array, shape (n,)
        Shares, 1 for all of an ingredient. [-]

    Examples
    --------
    >>> from formulate.mixing.tanks import split_tanks
    >>> found = split_tanks({"MgSO4": 50.0, "CaCl2": 50.0}, volume=100)
    >>> shares_of(found.batch, found["A"]).tolist()
    [0.0, 1.0]
    """
    parts = {i.name: grams / tank.volume for i, grams in tank.parts}
    whole = [amount * tank.strength.times / batch.volume for _, amount in batch.amounts]
    pairs = zip(batch.names, whole, strict=True)
    return np.array([parts.get(n, 0.0) / w if w else 0.0 for n, w in pairs])


def greatest_strength(tanks):
    """
    Return the greatest strength at which every tank dissolves and stays clear.

    Nothing may be above saturation in the cold or in the warm; where the water of the
    stocks is itself above it with something, nothing may be likely to fall out.

    Parameters
    ----------
    tanks : StockTanks
        The concentrates.

    Returns
    -------
    Strength
        The strength; 1:1 if there is none.

    Examples
    --------
    >>> from formulate.mixing.tanks import split_tanks
    >>> found = split_tanks({"KNO3": 100.0}, volume=100)
    >>> print(round(greatest_strength(found).times))
    197
    """
    now, most = tanks.strength.times, _most_that_fits(tanks)
    for allowed in (CLEAR, LIKELY - 1):
        up = _levels(tanks, [now])[0] <= allowed
        low, high = (now, max(most, now)) if up else (1.0, now)
        found = _last_clear(tanks, low, high, allowed, up)
        if found:
            return Strength(_rounded_down(found))
    return Strength(1.0)


def _levels(tanks, times):
    """Return the gravest level of all tanks at each strength. [-]"""
    return _stack_at(tanks, times).levels().reshape(len(times), -1).max(axis=1)


def _last_clear(tanks, low, high, allowed, up):
    """Return the last clear strength before the first cloud upwards, or below downwards."""
    found = low if up else 0.0
    for _ in range(ROUNDS):
        times = np.geomspace(low, high, PLACES)
        clear = _levels(tanks, times) <= allowed
        if clear.all():
            return float(high)
        if not clear.any():
            return found
        place = int(clear.argmin()) - 1 if up else int(np.flatnonzero(clear)[-1])
        if place < 0:
            return found
        found = float(times[place])
        if place + 1 == PLACES:
            return found
        low, high, up = found, times[place + 1], True
    return found


def _rounded_down(times):
    """Return a strength with three digits, no stronger than it was. [-]"""
    step = 10.0 ** (math.floor(math.log10(times)) - 2)
    return round(math.floor(times / step + ROUNDING) * step, 9)


def _most_that_fits(tanks):
    """Return up to which strength solids and liquids have room in a litre of each tank."""
    most = rule_of("dissolving_rules", "solids made up to").number("limit")
    fits = [MOST]
    for tank in tanks.tanks:
        per_litre = 1.0 / tank.volume / tank.strength.times
        solids = sum(g for i, g in tank.parts if not i.is_liquid) * per_litre
        liquids = poured_litres(tank.parts) * per_litre
        fits += [HALF * most / solids] if solids else []
        fits += [HALF / liquids] if liquids else []
    return max(2.0, min(fits))


def limiting_at(tanks, times):
    """
    Return in which tank what is first to fall out just above a strength.

    Parameters
    ----------
    tanks : StockTanks
        The concentrates.
    times : float
        The strength. [-]

    Returns
    -------
    tank : str
        What stands on the tank.
    solid : str
        The solid or salt, in words if there is none.

    Examples
    --------
    >>> from formulate.mixing.tanks import split_tanks
    >>> found = split_tanks({"KNO3": 100.0}, volume=100)
    >>> limiting_at(found, greatest_strength(found).times)
    ('stock A', 'KNO3')
    """
    found = _stack_at(tanks, [JUST_ABOVE * times])
    place, at = int(found.levels().argmax()), len(tanks.tanks)
    before = _stack_at(tanks, [times])
    levels = {k: stock_level(k, v[place]) for k, v in found.indices.items()}
    under = {k: stock_level(k, v[place]) for k, v in before.indices.items()}
    crossed = [name for name, level in levels.items() if level > under.get(name, 0)]
    used = before.uses
    over = [
        k for k, u in found.uses.items() if u[place] > PERCENT >= used.get(k, u)[place]
    ]
    forms = column_of(found.cold.state.solution, place).forms
    crossed.sort(key=lambda name: (-levels[name], -most_of(name, forms)))
    label = tanks.tanks[place % at].label
    return label, next(iter((*crossed, *over)), "no more has room")
