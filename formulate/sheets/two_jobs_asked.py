"""What two jobs ask differently: a row for each thing, nothing for what is the same."""

import math

from formulate.errors import FormulateError
from formulate.job_nouns import target_of
from formulate.sheets.measures import batch_text, shown
from formulate.stoichiometry.nutrients import form, nutrient
from formulate.working import printed, printed_mg_l

__all__ = ["asked_differently", "part_or_why", "wanted_text"]

SAME = 1e-9  # share: nearer than this is one number
MORE_DIGITS = (8, 12, 17)  # where fewer do not tell two numbers apart
NONE, OPEN = "none", "not asked"
FEW = 2  # names told of an order
YES = {True: "yes", False: "no"}
ONCE = {  # field of a job to its words, and what nothing typed means
    "ph": ("pH wanted", OPEN),
    "ec": ("EC wanted", OPEN),
    "most_ingredients": ("ingredients at most", "any number"),
    "within_percent": ("cheapest within, %", OPEN),
}


def part_or_why(outcome, part):
    """
    Return a part of an outcome, or why there is none.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.
    part : str
        Its name, such as "weighing".

    Returns
    -------
    found : object
        The part; None if there is none.
    why : str
        Why not; empty if there is one.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> from formulate.outcome import Outcome
    >>> part_or_why(Outcome(Job(volume="10 L")), "volume")
    (10.0, '')
    """
    try:
        return getattr(outcome, part), ""
    except FormulateError as error:
        return None, "; ".join(error.faults)


def asked_differently(first, second):
    """
    Return what two jobs ask differently.

    Parameters
    ----------
    first : Outcome
        The outcome of one job.
    second : Outcome
        The outcome of the other.

    Returns
    -------
    tuple of (str, str, str)
        What it is, what the first asks, what the second asks.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> demo = read_job(DEMO)
    >>> half = replace(demo, strength_percent=50, volume="300 L")
    >>> asked_differently(run_job(demo), run_job(half))
    (('batch', '200 L', '300 L'), ('strength', '100 %', '50 %'))
    """
    makers = (_batch, _once, _targets, _waters, _shelves, _mixing, _papers)
    found = [row for maker in makers for row in maker(first, second)]
    return tuple(found)


def wanted_text(target, key):
    """
    Return a wanted value or range as a sheet shows it.

    Parameters
    ----------
    target : Target
        What is wanted.
    key : str
        Nutrient key.

    Returns
    -------
    str
        Value or range, without its unit; empty if it is not asked for. [mg/L]

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> feed = target({"N": 150, "Ca": "140-170"})
    >>> wanted_text(feed, "N"), wanted_text(feed, "Ca"), wanted_text(feed, "K")
    ('150.0', '140 to 170', '')
    """
    if key not in target.wanted:
        return ""
    if key not in target.ranges:
        return printed_mg_l(target.mg_l(key))
    ends = [printed_mg_l(e * nutrient(key).molar_mass) for e in target.ranges[key]]
    return " to ".join(e.rstrip("0").rstrip(".") if "." in e else e for e in ends)


# --- rows -------------------------------------------------------------------------------


def _row(what, one, other):
    """Yield a row if two texts differ."""
    if one != other:
        yield what, one or NONE, other or NONE


def _numbers(what, one, other, unit="", digits=4, missing=NONE):
    """Yield a row if two numbers differ, with as many digits as tell them apart."""
    if None not in (one, other) and math.isclose(one, other, rel_tol=SAME):
        return
    if one is other:
        return
    for more in (digits, *MORE_DIGITS):
        texts = [_plain(value, unit, more, missing) for value in (one, other)]
        if texts[0] != texts[1]:
            break
    yield what, *texts


def _plain(value, unit, digits, missing):
    """Return a number with its unit, without zeros that nobody typed."""
    if value is None:
        return missing
    text = printed(value, digits)
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{text} {unit}".strip()


def _parts(what, first, second, part):
    """Return a part of both; and the row that tells why one cannot be read, if so."""
    (one, why), (other, why_not) = (
        part(side) if callable(part) else part_or_why(side, part)
        for side in (first, second)
    )
    if not (why or why_not):
        return one, other, ()
    texts = [f"cannot be read: {text}" if text else "" for text in (why, why_not)]
    if texts[0] == texts[1]:
        return None, None, ()
    told = tuple(text or "can be read" for text in texts)
    return None, None, ((what, *told),)


# --- batch and choices ------------------------------------------------------------------


def _batch(first, second):
    one, other, rows = _parts("batch", first, second, "volume")
    yield from rows
    if one is not None and not math.isclose(one, other, rel_tol=SAME):
        texts = [batch_text(value, first.job.units) for value in (one, other)]
        if texts[0] == texts[1]:
            texts = [f"{value!r} L" for value in (one, other)]
        yield "batch", *texts


def _once(first, second):
    """Yield what is asked once for the whole job."""
    yield from _row("strength", *(_strength(side.job) for side in (first, second)))
    for name, (words, open_words) in ONCE.items():
        one, other = (getattr(side.job, name) for side in (first, second))
        if isinstance(one or other, str):
            yield from _row(words, one.strip() or OPEN, other.strip() or OPEN)
        else:
            yield from _numbers(words, one, other, missing=open_words)
    for name, words in (
        ("whole_steps", "best whole steps"),
        ("trace_stocks", "stocks for traces"),
    ):
        sides = (getattr(side.job, name) for side in (first, second))
        yield from _row(words, *(YES.get(value, str(value)) for value in sides))
    yield from _row("shown in", *(side.job.units for side in (first, second)))


def _strength(job):
    """Return the strength in words; an EC finds its own."""
    if job.ec:
        return "what has the EC"
    return f"{100.0 if job.strength_percent is None else job.strength_percent:g} %"


# --- target -----------------------------------------------------------------------------


def _whole_target(outcome):
    """Return the target at its full strength, or why it cannot be read."""
    try:
        return target_of(dict(outcome.job.target)), ""
    except FormulateError as error:
        return None, "; ".join(error.faults)


def _targets(first, second):
    """Yield what of the targets differs at their full strength."""
    one, other, rows = _parts("target", first, second, _whole_target)
    yield from rows
    if one is None:
        return
    both = (one, other)
    yield from _row("target", *(t.name or "without a name" for t in both))
    for what in ("crop", "stage"):
        yield from _row(what, *(getattr(t, what) for t in both))
    for key in dict.fromkeys((*one.wanted, *other.wanted)):
        yield from _wanted(one, other, key)
    yield from _row("alkalinity wanted, meq/L", *(_ends(t.alkalinity) for t in both))
    shares = [
        t.ammonium_share and [100 * end for end in t.ammonium_share] for t in both
    ]
    words = [f"{_ends(share)} %" if share else "free" for share in shares]
    yield from _row("ammonium of nitrogen", *words)
    yield from _row("urea allowed", *(YES[t.urea_allowed] for t in both))
    for key in dict.fromkeys((*one.weights, *other.weights)):
        counts = (t.weights.get(key, 1.0) for t in both)
        yield from _numbers(f"{key} counts", *counts)
    yield from _row("met first", *(_groups(t.priorities) for t in both))
    held, others = _limits(one), _limits(other)
    for subject in dict.fromkeys((*held, *others)):
        yield from _row(f"limit of {subject}", held.get(subject), others.get(subject))


def _wanted(one, other, key):
    """Yield a wanted value that differs."""
    texts = [wanted_text(t, key) for t in (one, other)]
    if texts[0] != texts[1]:
        yield from _row(f"{key} wanted, mg/L", *(text or OPEN for text in texts))
    elif texts[0] and key not in one.ranges:
        values = (t.mg_l(key) for t in (one, other))
        yield from _numbers(f"{key} wanted, mg/L", *values)


def _ends(pair):
    """Return the ends of a range in words; one where they are the same."""
    return " to ".join(dict.fromkeys(f"{end:g}" for end in pair or ()))


def _groups(groups):
    return ", then ".join(" ".join(group) for group in groups)


def _limits(target):
    """Return subject to its limit in words."""
    return {
        one.subject: " and ".join(one.named(side) for side in one.sides)
        for one in target.limits
    }


# --- water ------------------------------------------------------------------------------


def _waters(first, second):
    """Yield what of the waters differs."""
    one, other, rows = _parts("water", first, second, "water")
    yield from rows
    if one is None:
        return
    yield from _row("water", *(_water_name(w) for w in (one, other)))
    keys = dict.fromkeys(
        key for water in (one, other) for key, *_ in water.solution.rows() if key != "C"
    )
    for key in keys:
        values = (water.solution.mg_l(key) for water in (one, other))
        yield from _numbers(f"water: {key}", *values, unit="mg/L")
    values = (water.solution.alkalinity() for water in (one, other))
    yield from _numbers("water: alkalinity", *values, unit="meq/L", digits=3)
    yield from _numbers("water: pH", one.ph, other.ph, missing="not told")
    yield from _numbers("water: EC", one.ec, other.ec, "mS/cm", missing="not told")


def _water_name(water):
    unnamed = "as given" if any(water.solution.forms.values()) else "pure"
    return water.name or unnamed


# --- shelf ------------------------------------------------------------------------------


def _shelves(first, second):
    """Yield what is on one shelf only, and how the same thing differs."""
    one, other, rows = _parts("shelf", first, second, "shelf")
    yield from rows
    if one is None:
        return
    here, there = ({i.name: i for i in shelf} for shelf in (one, other))
    for name in dict.fromkeys((*here, *there)):
        if name not in here or name not in there:
            texts = ("there" if name in side else "" for side in (here, there))
            yield from _row(f"on the shelf: {name}", *texts)
        else:
            yield from _ingredient(here[name], there[name])
            left = [_there(shelf, name) for shelf in (one, other)]
            yield from _row(f"{name}: on hand", *(text or "no end" for text in left))
    uses, others = (_uses(side) for side in (first, second))
    for name in (name for name in here if name in there):
        texts = (found.get(name, "as needed") for found in (uses, others))
        yield from _row(f"{name}: use", *texts)
    yield from _order(
        *([n for n in side if n in here and n in there] for side in (here, there))
    )


def _order(one, other):
    """Yield from which place on two shelves stand in another order."""
    pairs = list(zip(one, other, strict=True))
    place = next((n for n, (a, b) in enumerate(pairs) if a != b), None)
    if place is not None:
        told = (
            f"{', '.join(names[place : place + FEW])} ..." for names in (one, other)
        )
        yield "order on the shelf", *told


def _there(shelf, name):
    """Return what is on hand in words; empty if it has no end."""
    left = shelf.on_hand.get(name)
    in_unit = next(i.measured_in for i in shelf if i.name == name)
    return "" if left is None else f"{left:.10g} {in_unit}"


def _uses(outcome):
    """Return name to how much the batch may take, as it was typed."""
    pairs = zip(outcome.job.shelf, outcome.shelf, strict=False)
    return {one.name: line.use.strip() for line, one in pairs if line.use.strip()}


def _ingredient(one, other):
    """Yield how two ingredients of one name differ."""
    name, same = one.name, one.formula and one.formula == other.formula
    yield from _row(f"{name}: formula", one.formula, other.formula)
    purities = (one.purity_percent, other.purity_percent)
    yield from _numbers(f"{name}: purity", *purities, unit="%")
    if not same:
        yield from _contents(one, other)
    per = "kg" if one.measured_in == "g" else "L"
    yield from _numbers(f"{name}: density", one.density, other.density, "kg/L")
    prices, unknown = (one.price, other.price), "not known"
    yield from _numbers(f"{name}: price of a {per}", *prices, missing=unknown)
    steps = [
        " ".join(shown(i.weighing_step, i.weighing_step, i.measured_in))
        if i.weighing_step
        else "its own"
        for i in (one, other)
    ]
    yield from _row(f"{name}: step", *steps)


def _contents(one, other):
    """Yield what two ingredients hold in other shares."""
    basis = "% w/w" if one.measured_in == "g" else "% w/v"
    for key in dict.fromkeys(form(name).symbol for name in (*one.forms, *other.forms)):
        shares = (i.percent(key) for i in (one, other))
        yield from _numbers(f"{one.name}: {key}", *shares, unit=basis)


# --- mixing and papers ------------------------------------------------------------------


def _mixing(first, second):
    """Yield what is asked differently of the mixing."""
    one, other = (dict(side.job.mixing) for side in (first, second))
    for key in dict.fromkeys((*one, *other)):
        texts = (_typed(found.get(key)) for found in (one, other))
        yield from _row(f"mixing: {key.replace('_', ' ')}", *texts)


def _typed(value):
    if value is None:
        return OPEN
    return "; ".join(value) if isinstance(value, tuple) else str(value)


def _papers(first, second):
    """Yield that other papers are to be checked, or other products compared."""
    for what, of_job in (
        ("papers to check", lambda job: job.papers),
        ("products compared", lambda job: job.compared),
    ):
        one, other = (of_job(side.job) for side in (first, second))
        if one != other:
            counts = [str(len(found) or NONE) for found in (one, other)]
            same = counts[0] == counts[1]
            yield what, counts[0], f"{counts[1]} others" if same else counts[1]
