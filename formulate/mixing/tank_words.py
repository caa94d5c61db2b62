"""Why each ingredient is in its tank: what it would bring down in another, in words."""

import numpy as np

from formulate.mixing.tank_contents import LIKELY, company, concentrates

__all__ = ["tank_reasons"]

NAMED = "ABC"
PARTED = "divided, so that no tank is too full"
OWN = {
    "acid": "acids stand alone: they break chelates and set carbon dioxide free",
    "alkaline": "it is alkaline: metals and calcium would fall out of any other stock",
}


def tank_reasons(litre, rows, coldest):
    """
    Return why each ingredient is in its tank.

    Parameters
    ----------
    litre : Batch
        What a litre of concentrate would hold of everything.
    rows : list of (str, array)
        Tank to the share of each ingredient in it. [-]
    coldest : float
        Coldest temperature. [°C]

    Returns
    -------
    list of dict of str to str
        For each tank ingredient to reason.

    Examples
    --------
    >>> from formulate.mixing.batch import batch_of
    >>> litre = batch_of({"CaCl2": 40.0, "MgSO4": 40.0}, volume=1)
    >>> rows = [("A", np.array([1.0, 0.0])), ("B", np.array([0.0, 1.0]))]
    >>> tank_reasons(litre, rows, 10.0)[0]["CaCl2"][:27]
    'in B gypsum would fall out '
    """
    moves = [
        (place, tank, other)
        for tank, (name, share) in enumerate(rows)
        for place in np.flatnonzero(share)
        for other, (its, _) in enumerate(rows)
        if other != tank and name in NAMED and its in NAMED
    ]
    found = [{} for _ in rows]
    for tank, (name, share) in enumerate(rows):
        if name not in NAMED:
            found[tank] = {
                litre.names[p]: OWN[name.split()[0]] for p in np.flatnonzero(share)
            }
    if not moves:
        for tank, (name, share) in enumerate(rows):
            if name in NAMED:
                found[tank] = {litre.names[p]: "" for p in np.flatnonzero(share)}
        return found
    stack = np.array([_with(rows[other][1], place) for place, _, other in moves])
    made = concentrates(litre, stack, coldest=coldest)
    levels = made.levels()
    told = {}
    for n, (place, tank, other) in enumerate(moves):
        why = _why_not(litre, made, levels, n, rows[other][0], place)
        told.setdefault((tank, int(place)), []).append((rows[other][0], why))
    for (tank, place), whys in told.items():
        parted = rows[tank][1][place] < 1
        found[tank][litre.names[place]] = PARTED if parted else _said(whys)
    return found


def _with(share, place):
    """Return a tank with all of one more ingredient in it."""
    found = share.copy()
    found[place] = 1.0
    return found


def _why_not(litre, made, levels, n, name, place):
    """Return what would go wrong with an ingredient in another tank, or nothing."""
    if levels[n] >= LIKELY:
        for solid in made.likely_solids(n):
            return f"in {name} {solid} would fall out ({made.indices[solid][n]:+.1f})"
        salt = max(made.uses, key=lambda k: made.uses[k][n])
        return (
            f"in {name} {salt} would need {made.uses[salt][n]:.0f} % of its solubility"
        )
    inside = np.flatnonzero(made.shares[n]).tolist()
    for first, second, _, text in company([litre.ingredients[p] for p in inside]):
        if place in (inside[first], inside[second]):
            return f"in {name} {text}"
    return ""


def _said(whys):
    """Return the reasons as one phrase; that it may stand elsewhere if none speaks against."""
    told = [why for _, why in whys if why]
    free = [name for name, why in whys if not why]
    if free:
        told.append(f"it would keep in {' and '.join(free)}, too")
    return "; ".join(told)
