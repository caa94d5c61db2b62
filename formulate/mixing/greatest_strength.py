"""How strong a split of tanks may be made: what is first to fall out, and when."""

import numpy as np

from formulate.chemistry.risks import likely_from
from formulate.mixing.strength import Strength
from formulate.mixing.tank_contents import PERCENT, concentrates
from formulate.tables import rule_of

__all__ = ["greatest_strength", "shares_of"]

PLACES, ROUNDS = 33, 3  # strengths tried at once, and how often more finely
MOST = 1e4  # beyond this it is no concentrate
JUST_ABOVE = 1.02


def _stack_at(tanks, times):
    """Return every tank at several strengths as one stack, strengths outermost."""
    tank_shares = [shares_of(tanks.batch, tank) for tank in tanks.tanks]
    shares = np.array([share * t for t in times for share in tank_shares])
    return concentrates(tanks.batch, shares, coldest=tanks.coldest)


def shares_of(batch, tank):
    """Return what share of each ingredient of the batch is in a tank."""
    parts = {i.name: grams / tank.volume for i, grams in tank.parts}
    whole = [amount * tank.strength.times / batch.volume for _, amount in batch.amounts]
    return np.array(
        [
            parts.get(n, 0.0) / w if w else 0.0
            for n, w in zip(batch.names, whole, strict=True)
        ]
    )


def greatest_strength(tanks):
    """Return the greatest strength at which every tank is clear and dissolved."""
    most = _most_that_fits(tanks)
    low, high = 1.0, most
    for _ in range(ROUNDS):
        times = np.geomspace(low, high, PLACES)
        levels = _stack_at(tanks, times).levels().reshape(PLACES, -1).max(axis=1)
        cloudy = np.flatnonzero(levels > 0)
        if not cloudy.size:
            return Strength(float(times[-1]))
        if cloudy[0] == 0:
            return Strength(float(times[0]))
        low, high = times[cloudy[0] - 1], times[cloudy[0]]
    return Strength(float(low))


def _most_that_fits(tanks):
    """Return up to which strength the solids of each tank have room in a litre."""
    most = rule_of("dissolving_rules", "solids made up to").number("limit")
    grams = [
        sum(g / tank.volume for _, g in tank.parts) / tank.strength.times
        for tank in tanks.tanks
    ]
    return max(2.0, min(0.5 * most / max(grams, default=1.0), MOST))


def limiting_at(tanks, times):
    """Return in which tank what is first to fall out just above a strength."""
    found = _stack_at(tanks, [JUST_ABOVE * times])
    levels = found.levels()
    place = int(levels.argmax())
    names = {
        name: float(index[place]) - likely_from(name)
        for name, index in found.indices.items()
    }
    names |= {
        salt: float(np.log10(u[place] / PERCENT))
        for salt, u in found.uses.items()
        if u[place] > 0
    }
    if not names or not levels[place]:
        return tanks.tanks[place].label, "nothing up to what has room"
    return tanks.tanks[place].label, max(names, key=names.get)
