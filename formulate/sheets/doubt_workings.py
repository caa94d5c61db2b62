"""The arithmetic behind how sure a batch is: ends of intervals, and shares of the spread."""

from functools import partial

import numpy as np

from formulate.errors import InputError
from formulate.sheets.table import Followed
from formulate.stoichiometry.nutrients import nutrient
from formulate.working import Quantity, Step, Working

__all__ = ["doubt_workings"]

PERCENT = 100.0
LEAST_SHARE = 5e-4  # of the spread: what is less is summed up in one number


def doubt_workings(found, table):
    """
    Yield what is behind the numbers of a doubt, as `doubt_bars` shows them.

    Parameters
    ----------
    found : Doubt
        The doubt of a batch.
    table : Table
        Its table.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> from formulate.recipes.uncertainty import doubt
    >>> from formulate.sheets.figures.doubt_bars import doubt_bars
    >>> found = doubt(solve(target({"K": 200}), ["KNO3"], volume=10), draws=1000)
    >>> made = dict(doubt_workings(found, doubt_bars(found).table))
    >>> made[0, 2].worked().title
    'K in the middle one of 1000 batches'
    """
    places = {name: place for place, name in enumerate(table.columns)}
    words = {"low": _low, "middle": _middle, "high": _high, "its share %": _share}
    for row, cells in enumerate(table.rows):
        one = found.intervals[cells[0]]
        for name, worked in words.items():
            if name in places:
                yield (row, places[name]), Followed(partial(worked, found, one))
        target = found.thing.target
        if "wanted" in places and one.name in set(target.wanted) - set(target.ranges):
            behind = partial(_wanted, target, one.name)
            yield (row, places["wanted"]), Followed(behind)


def _wanted(target, key):
    """Return the working of a wanted value in mg/L."""
    known, wanted = nutrient(key), Quantity(target.wanted[key], "mmol/L")
    terms = (wanted, "×", Quantity(known.molar_mass, "mg/mmol"))
    step = Step("wanted, times the molar mass", terms, "mg/L", "stoichiometry")
    return Working(f"{key} wanted by {target.name or 'the target'}", (step,))


def _low(found, one):
    end = 0.5 - found.level / 2
    return _quantile(found, one, end, f"below which {PERCENT * end:.3g} of 100 lie")


def _middle(found, one):
    return _quantile(found, one, 0.5, "in the middle one")


def _high(found, one):
    end = 0.5 + found.level / 2
    return _quantile(
        found, one, end, f"above which {PERCENT * (1 - end):.3g} of 100 lie"
    )


def _quantile(found, one, end, words):
    """Return the working of an end of an interval: a place among the sorted draws."""
    drawn = found.drawn[one.name]
    kept = np.sort(drawn[np.isfinite(drawn)])
    if not kept.size:
        raise InputError(f"{one.name}: no draw came to rest, so there is no interval")
    place = Step(
        f"place among {kept.size} batches in the order of their {one.name}, from 0",
        (Quantity(end), "×", Quantity(float(kept.size - 1))),
        "",
        "jcgm-100",
    )
    first = min(int(place.value), kept.size - 1)
    over = round(place.value - first, 9)
    after = min(first + 1, kept.size - 1)
    terms = [Quantity(float(kept[first]), one.unit)]
    text = f"the batch at {first}"
    if over:
        terms += ["×", Quantity(1 - over), "+"]
        terms += [Quantity(float(kept[after]), one.unit), "×", Quantity(over)]
        text = f"between the batches at {first} and {after}, as far as the place is"
    steps = (place, Step(text, tuple(terms), one.unit))
    if words.startswith("in"):
        return Working(f"{one.name} {words} of {kept.size} batches", steps)
    return Working(f"{one.name} {words}, of {kept.size} batches", steps)


def _share(found, one):
    """Return the working of a share of the spread: what the other shares leave."""
    name, _ = one.dominates
    others = [(n, v) for n, v in one.shares.items() if n != name]
    large = [(n, v) for n, v in others if abs(v) >= LEAST_SHARE]
    small = sum(v for n, v in others if abs(v) < LEAST_SHARE)
    terms = [Quantity(PERCENT, "%")]
    for value in (*(v for _, v in large), *([small] if small else ())):
        terms += ["−" if value >= 0 else "+", Quantity(abs(PERCENT * value), "%")]
    told = [n for n, _ in large] + ["the rest"] * bool(small)
    words = f"the whole spread less the shares of {'; '.join(told) or 'nothing else'}"
    drawn = f"by least squares on {found.draws} draws"
    title = f"Share of {name} in the spread of {one.name}, {drawn}"
    return Working(title, (Step(words, tuple(terms), "%", "jcgm-100"),))
