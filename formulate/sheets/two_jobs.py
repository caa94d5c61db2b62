"""Two jobs side by side: what was asked, weighed and reached, what meters show, what to know."""

import math
import re
from collections import Counter
from dataclasses import dataclass

from formulate.sheets.contents_tables import as_weighed
from formulate.sheets.figures.two_jobs_bars import two_jobs_bars
from formulate.sheets.measures import per_volume, shown
from formulate.sheets.parts import Part
from formulate.sheets.table import Table
from formulate.sheets.two_jobs_asked import asked_differently, part_or_why
from formulate.sheets.two_jobs_contents import contents_beside, meters_beside
from formulate.sheets.two_jobs_weights import (
    cost_beside,
    litres_beside,
    percent_text,
    reaching,
    weights_beside,
)
from formulate.sheets.two_jobs_workings import (
    contents_behind,
    costs_behind,
    meters_behind,
    weights_behind,
)
from formulate.sheets.weighed_tables import printed_cost
from formulate.tables import recipe_rule
from formulate.working import printed_mg_l

__all__ = [
    "PARTS_OF_TWO",
    "two_jobs_names",
    "two_jobs_part",
    "two_jobs_parts",
    "two_jobs_titles",
]

WHICH = ("first", "second")
PARTS_OF_TWO = {
    "asked": "what was asked",
    "weighed": "what is weighed",
    "litres": "what goes into a litre",
    "cost": "what it costs",
    "contents": "what a litre holds",
    "meters": "what meters show",
    "notices": "what to know of one only",
}
SHORT = 50  # characters of one thing in a sentence
FEW = 4  # things named in a sentence
PERCENT, LITRES = 100.0, 100.0
SAME = 1e-9  # share: nearer than this is one volume
NUMBER = re.compile(r"[-+]?\d[\d.]*")
PLURALS = {"note": "notes", "caution": "cautions", "serious": "serious"}


def two_jobs_names(first, second):
    """
    Return how two jobs are called, so that they can be told apart.

    Parameters
    ----------
    first : Outcome
        The outcome of one job.
    second : Outcome
        The outcome of the other.

    Returns
    -------
    tuple of str
        Their titles; "first" and "second" behind them where they are the same.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> from formulate.outcome import Outcome
    >>> spring, autumn = (Outcome(Job(title=title)) for title in ("spring", "autumn"))
    >>> two_jobs_names(spring, autumn), two_jobs_names(spring, spring)
    (('spring', 'autumn'), ('spring, first', 'spring, second'))
    """
    titles = [" ".join(str(side.job.title).split()) for side in (first, second)]
    if titles[0].casefold() == titles[1].casefold():
        return tuple(
            f"{title}, {which}" if title else f"the {which} job"
            for title, which in zip(titles, ("first", "second"), strict=True)
        )
    return tuple(
        title or f"the {which} job"
        for title, which in zip(titles, ("first", "second"), strict=True)
    )


def two_jobs_parts(first, second):
    """
    Return two jobs side by side.

    Parameters
    ----------
    first : Outcome
        The outcome of one job.
    second : Outcome
        The outcome of the other; one of both may have no recipe.

    Returns
    -------
    tuple of Part
        What was asked, what is weighed (in the batch; in a litre if the volumes differ),
        what it costs, what a litre holds, what meters show, notices of one only. What
        cannot be told says why.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> demo = read_job(DEMO)
    >>> half = run_job(replace(demo, title="half", strength_percent=50))
    >>> for part in two_jobs_parts(run_job(demo), half):
    ...     print(f"{part.title}: {part.words[0]}")
    what was asked: 1 thing differs: strength 100 % and 50 %
    what is weighed: in all 193.1 g for the first, 71.10 g for the second (-63.2 %)
    what it costs: a batch costs 0.57 and 0.24 (-57.3 %), 100 L 0.28 and 0.12 (-57.3 %)
    what a litre holds: 16 of 17 nutrients differ by more than 5 %, most of all NH4-N \
-74.2 %, N -62.5 %, NO3-N -61.8 %, S -57.7 %
    what meters show: pH when mixed 6.8 and 7.1 (6.9 to 7.2), once aerated 8.6 and 8.7; EC \
1.46 mS/cm and 0.960 mS/cm (-34.1 %)
    what to know of one only: only in the first: 2 cautions; only in the second: 2 serious, \
4 cautions, 2 notes
    """
    names = two_jobs_titles(first, second)
    return tuple(two_jobs_part(name, first, second) for name in names)


def two_jobs_titles(first, second):
    """
    Return which parts two jobs have side by side; neither recipe is worked out for that.

    Parameters
    ----------
    first : Outcome
        The outcome of one job.
    second : Outcome
        The outcome of the other.

    Returns
    -------
    dict
        Name to title, as in `PARTS_OF_TWO`; what goes into a litre only where one batch is
        larger than the other, however both volumes were typed.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> from formulate.outcome import Outcome
    >>> litres, same, more = (Outcome(Job(volume=v)) for v in ("200 L", "200000 mL", "3 L"))
    >>> "litres" in two_jobs_titles(litres, same), "litres" in two_jobs_titles(litres, more)
    (False, True)
    """
    left_out = ("litres",) if _Pair(first, second).has_same_volume else ()
    return {k: title for k, title in PARTS_OF_TWO.items() if k not in left_out}


def two_jobs_part(name, first, second):
    """
    Return one part of two jobs side by side.

    Parameters
    ----------
    name : str
        One of `PARTS_OF_TWO`, such as "asked" or "meters".
    first : Outcome
        The outcome of one job.
    second : Outcome
        The outcome of the other.

    Returns
    -------
    Part
        The part; what cannot be told says why.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> demo = run_job(read_job(DEMO))
    >>> two_jobs_part("asked", demo, demo).words
    ('nothing differs: both jobs ask the same',)
    """
    makers = {
        "asked": _asked,
        "weighed": _weighed,
        "litres": _litres,
        "cost": _cost,
        "contents": _contents,
        "meters": _meters,
        "notices": _notices,
    }
    return makers[name](PARTS_OF_TWO[name], _Pair(first, second))


@dataclass(frozen=True, eq=False)
class _Pair:
    """Two outcomes with their weights, as far as they have any."""

    first: object
    second: object

    @property
    def sides(self):
        return self.first, self.second

    @property
    def units(self):
        """Return the units in which both are shown: those of the first."""
        return self.first.job.units

    @property
    def weighings(self):
        """Return what the balance shows of both; None where there is no recipe."""
        return [part_or_why(side, "weighing")[0] for side in self.sides]

    @property
    def missing(self):
        """Return which has no recipe, and why not."""
        whys = [part_or_why(side, "weighing")[1] for side in self.sides]
        pairs = zip(WHICH, whys, strict=True)
        return tuple(f"the {which} has no recipe: {why}" for which, why in pairs if why)

    @property
    def has_same_volume(self):
        """Return whether both batches are as large; so if a volume cannot be read."""
        volumes = [part_or_why(side, "volume")[0] for side in self.sides]
        return None in volumes or math.isclose(*volumes, rel_tol=SAME)


# --- asked ------------------------------------------------------------------------------


def _asked(title, pair):
    rows = asked_differently(*pair.sides)
    if not rows:
        return Part(title, ("nothing differs: both jobs ask the same",))
    told = [_told(*row) for row in rows[:FEW]]
    more = f"; and {len(rows) - FEW} more in the table" if len(rows) > FEW else ""
    verb = "1 thing differs" if len(rows) == 1 else f"{len(rows)} things differ"
    columns = ("", *two_jobs_names(*pair.sides))
    table = Table("asked-beside", "What was asked differently", columns, rows)
    return Part(title, (f"{verb}: {'; '.join(told)}{more}",), table=table)


def _told(what, one, other):
    """Return a row as part of a sentence; what is long stands in the table."""
    words = f"{what} {one} and {other}"
    return words if len(words) <= SHORT else what


# --- weighed ----------------------------------------------------------------------------


def _weighed(title, pair):
    """Return what is weighed for both batches."""
    table = weights_beside(*pair.weighings, pair.units)
    if not table.rows:
        return Part(title, pair.missing or ("nothing is weighed for either",))
    table = table.with_workings(weights_behind(table, pair.weighings))
    if pair.missing:
        return Part(title, pair.missing, table=table)
    words = [f"in all {_totals(pair)}", *_only(table)]
    if any(weighing.stocks for weighing in pair.weighings):
        words.append(
            "of what goes through a trace stock, what reaches the batch is told"
        )
    return Part(title, tuple(words), table=table)


def _totals(pair):
    """Return how much is weighed in all, and how much is poured by volume."""
    told = []
    for in_unit in ("g", "mL"):
        both = [_total(weighing, in_unit) for weighing in pair.weighings]
        if any(both):
            one, other = (
                " ".join(shown(total, None, in_unit, pair.units)) for total in both
            )
            change = percent_text(*both)
            told.append(f"{one} for the first, {other} for the second ({change})")
    return "; ".join(told)


def _total(weighing, in_unit):
    """Return the sum of what reaches a batch and is counted in one unit. [g]"""
    rows = reaching(weighing).values()
    return sum(amount for one, amount, *_ in rows if one.measured_in == in_unit)


def _only(table):
    """Yield what is weighed for one only."""
    for place, which in ((1, "first"), (2, "second")):
        other = 3 - place
        names = [row[0] for row in table.rows if row[other] == "none"]
        if names:
            more = f" and {len(names) - FEW} more" if len(names) > FEW else ""
            yield f"only for the {which}: {', '.join(names[:FEW])}{more}"


def _litres(title, pair):
    """Return what goes into a litre of both."""
    if pair.missing:
        return Part(title, pair.missing)
    if pair.has_same_volume:
        return Part(title, ("the batches are as large as one another",))
    pairs = [(_total(weighing, "g"), weighing.volume) for weighing in pair.weighings]
    one, other = (" ".join(per_volume(g, "g", v, pair.units)) for g, v in pairs)
    change = percent_text(*(grams / volume for grams, volume in pairs))
    words = f"in all {one} in the first, {other} in the second ({change})"
    table = litres_beside(*pair.weighings, pair.units)
    return Part(title, (words,), table=table)


# --- cost -------------------------------------------------------------------------------


def _cost(title, pair):
    weighings, missing = pair.weighings, pair.missing
    table = cost_beside(*weighings)
    if not table.rows:
        return Part(title, missing or ("no price is known",))
    table = table.with_workings(costs_behind(table, weighings))
    if missing:
        return Part(title, (*missing, *_unpriced(weighings)), table=table)
    costs = [weighing.cost for weighing in weighings]
    words = _unpriced(weighings)
    if None not in costs:
        each = [LITRES * c / w.volume for c, w in zip(costs, weighings, strict=True)]
        told = [
            f"{printed_cost(a)} and {printed_cost(b)} ({percent_text(a, b) or '0.0 %'})"
            for a, b in (costs, each)
        ]
        words = [f"a batch costs {told[0]}, {LITRES:g} L {told[1]}"]
    return Part(title, (*words, "in the currency of the prices"), table=table)


def _unpriced(weighings):
    """Return what has no price, so that a whole is not known."""
    names = dict.fromkeys(
        part.name
        for weighing in weighings
        if weighing is not None
        for ingredient, _ in weighing.amounts
        for part in _priced_parts(ingredient)
        if part.price is None
    )
    return [f"the whole is not known: no price for {', '.join(names)}"] if names else []


def _priced_parts(ingredient):
    """Return what must have a price: the ingredient, or the parts of one without."""
    lacks = ingredient.price is None and ingredient.parts
    return [part for part, _ in ingredient.parts] if lacks else [ingredient]


# --- contents ---------------------------------------------------------------------------


def _contents(title, pair):
    targets = [part_or_why(side, "target")[0] for side in pair.sides]
    table = contents_beside(*pair.weighings, targets)
    if pair.missing:
        return Part(title, pair.missing, table=table if table.rows else None)
    made = [as_weighed(weighing) for weighing in pair.weighings]
    table = table.with_workings(contents_behind(table, pair.weighings, made))
    picture = two_jobs_bars(*made)
    words = (_apart(made, table), "differences are taken before rounding")
    return Part(title, words, picture, table)


def _apart(made, table):
    """Return how many nutrients differ by more than the rule on misses, and which most."""
    limit = recipe_rule("miss").number("high")
    pairs = {row[0]: [one.solution.mg_l(row[0]) for one in made] for row in table.rows}
    pairs = {key: pair for key, pair in pairs.items() if any(pair)}
    off = {
        key: abs(other / one - 1) * PERCENT if one > 0 else PERCENT
        for key, (one, other) in pairs.items()
    }
    far = sorted((key for key in off if off[key] > limit), key=lambda key: -off[key])
    if not far:
        return f"all {len(pairs)} nutrients are within {limit:g} % of one another"
    told = ", ".join(f"{key} {_moved(*pairs[key])}" for key in far[:FEW])
    verb = "differs" if len(far) == 1 else "differ"
    return (
        f"{len(far)} of {len(pairs)} nutrients {verb} by more than {limit:g} %, "
        f"most of all {told}"
    )


def _moved(one, other):
    """Return by how much a nutrient differs; in mg/L where the first has none."""
    return (
        percent_text(one, other)
        if one > 0
        else f"{printed_mg_l(other)} mg/L in place of none"
    )


# --- meters -----------------------------------------------------------------------------


def _meters(title, pair):
    pairs = zip(pair.sides, pair.weighings, strict=True)
    sides = [side if weighing is not None else None for side, weighing in pairs]
    table = meters_beside(*sides)
    table = table.with_workings(meters_behind(table, sides))
    if pair.missing:
        return Part(title, pair.missing, table=table if table.rows else None)
    found = [side.expected for side in sides]
    cells = {row[0]: row for row in table.rows}
    mixed = " and ".join(one.ph.words for one in found)
    aired = " and ".join(one.ph_aerated.words for one in found)
    _, one, other, _, more = cells["EC at 25 °C"]
    words = (
        f"pH when mixed {mixed}, once aerated {aired}; EC {one} and {other} ({more})"
    )
    return Part(title, (words, _falls(sides)), table=table)


def _falls(sides):
    """Return what is likelier to fall out of one, when mixed."""
    levels = [{r.name: r for r in side.solids.telling} for side in sides]
    told = [
        f"{name} {' and '.join(one[name].word if name in one else 'none' for one in levels)}"
        for name in dict.fromkeys(name for one in levels for name in one)
    ]
    if not told:
        return "when mixed nothing is likely to fall out of either"
    return f"what may fall out when mixed, first and second: {'; '.join(told)}"


# --- notices ----------------------------------------------------------------------------


def _notices(title, pair):
    """Return the notices that only one of both has; other numbers make no other notice."""
    if pair.missing:
        return Part(title, pair.missing)
    found = [
        {_bare(notice, side.target.name): notice for notice in side.notices}
        for side in pair.sides
    ]
    only = [
        [notice for key, notice in one.items() if key not in other]
        for one, other in (found, found[::-1])
    ]
    if not any(only):
        return Part(title, ("both have the same notices, but for their numbers",))
    rows = tuple(
        (which, notice.severity, notice.what)
        for which, notices in zip(WHICH, only, strict=True)
        for notice in notices
    )
    table = Table(
        "notices-beside", "To know of one only", ("only in the", "weight", "what"), rows
    )
    told = [
        f"only in the {which}: {_counted(notices)}"
        for which, notices in zip(WHICH, only, strict=True)
    ]
    return Part(title, ("; ".join(told),), table=table)


def _bare(notice, name):
    """Return what a notice is about: its words without numbers and the target's name."""
    words = notice.what.replace(name, "") if name else notice.what
    return notice.severity, NUMBER.sub("#", words)


def _counted(notices):
    """Return how many of each weight there are, the gravest first."""
    counts = Counter(notice.severity for notice in notices)
    told = [
        f"{counts[word]} {PLURALS[word] if counts[word] > 1 else word}"
        for word in reversed(PLURALS)
        if counts[word]
    ]
    return ", ".join(told) or "nothing"
