"""Why each ingredient of an order stands where it does, in words.

Each is moved to the front and to the end, the others kept in their order: what would be
worse then is the reason. Where nothing would be, habit or the order as written decides.
"""

import numpy as np

from formulate.mixing.mixing_classes import class_row
from formulate.mixing.nearness import DIGITS, graded_words

__all__ = ["SAME", "reasons"]

LITTLE = 0.02  # of an index: what moves it less moves nothing
SAME = 0.01  # of an index: less is no difference to a grower
LITTLE_PH = 0.05  # of a pH: less is no difference


def reasons(found):
    """
    Return why each ingredient stands where it does.

    Parameters
    ----------
    found : BestOrder
        The best order.

    Returns
    -------
    tuple of str
        One phrase for each ingredient, in the best order.

    Examples
    --------
    >>> from formulate.mixing.best_order import best_order
    >>> bucket = {"Ca(NO3)2·4H2O": 40.0, "MgSO4·7H2O": 25.0, "KNO3": 10.0}
    >>> reasons(best_order(bucket, volume=20, start_fraction=0.25))[-1][:40]
    'not earlier: one step would have gypsum '
    """
    order = found.order
    if len(order) == 1:
        return ("it is the only one",)
    return tuple(_reason(found, place) for place in range(len(order)))


def _reason(found, place):
    """Return why the ingredient at one place stands there."""
    order, name = found.order, found.order[place]
    others = (*order[:place], *order[place + 1 :])
    if _moves_nothing(found, place):
        return _anywhere(found, name, place, others)
    told = []
    for word, moved in (("earlier", (name, *others)), ("later", (*others, name))):
        why = _worse(found, moved) if moved != order else ""
        if why:
            told.append(f"not {word}: {why}")
    return "; ".join(told) or _habit(found, name, place)


def _moves_nothing(found, place):
    """Return whether an ingredient changes no index, whatever is in before it."""
    bit = 1 << found.batch.names.index(found.order[place])
    sets = np.arange(found.near.graded.size)
    without = sets[sets & bit == 0]
    near = found.near
    changes = [of[without | bit] - of[without] for of in (near.graded, near.excursion)]
    return all(np.abs(change).max() < LITTLE for change in changes)


def _anywhere(found, name, place, others):
    """Return between which places an ingredient that changes no index may stand."""
    free = [
        n
        for n in range(len(others) + 1)
        if not _worse(found, (*others[:n], name, *others[n:]))
    ]
    first = last = place
    while first - 1 in free:
        first -= 1
    while last + 1 in free:
        last += 1
    if first == last:
        return (
            "it moves no index itself; elsewhere it would only lengthen a nearer step"
        )
    return (
        f"it moves no index itself: anywhere from {first + 1} to {last + 1} is as good"
    )


def _worse(found, moved):
    """Return what would be worse in another order; nothing if it is as good."""
    rank, mine, theirs, solid = found.ahead(moved)
    if rank:
        if theirs - mine < SAME:
            return ""
        steps = sum(v > mine + SAME / 2 for v in found.grades(moved))
        steps -= sum(v > mine + SAME / 2 for v in found.grades(found.order))
        many = "one step" if steps <= 1 else f"{steps} steps"
        return f"{many} would have {solid} at {graded_words(theirs)}, in this order {graded_words(mine)}"
    away = [found.paths.cost(found.places(o))[1] for o in (moved, found.order)]
    more = (away[0] - away[1]) / 10**DIGITS
    if more > LITTLE_PH:
        return "a chelate or ammonia would stand longer outside its range of pH"
    return ""


def _habit(found, name, place):
    """Return the habit by which an ingredient stands there."""
    batch = found.batch
    row = class_row(batch.ingredients[batch.names.index(name)])
    kind = row["class"]
    first, last = place == 0, place == len(found.order) - 1
    if kind in ("silicate", "alkali", "acid") or (kind == "calcium" and last):
        return f"by habit: {row['text']}"
    where = "first" if first else "last" if last else "here"
    return f"its place makes no difference; it stands {where} as written"
