"""What to know about whole steps: what is left out, what is new, what limits come to."""

from formulate.notices import Notice
from formulate.recipes.requirement import HARD
from formulate.working import printed

__all__ = ["changed", "limits_told"]

KEPT = 1e-6  # a limit broken by less, relative to its size, is kept
METER = 1e-3  # likewise of a pH or an EC


def changed(weighing, known):
    """
    Yield what the exact recipe takes and whole steps do not, the reverse, and no steps.

    Parameters
    ----------
    weighing : Weighing
        The weights.
    known : mapping of str to float
        Name to step. [g]

    Yields
    ------
    Notice
        One thing each.

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200, "B": 0.5}), ["KNO3", "H3BO3"], volume=10)
    >>> steps = {"KNO3": 0.1, "H3BO3": 0.1}
    >>> [notice.what for notice in changed(weigh(recipe, steps=steps), steps)]
    ['H3BO3: left out; the exact recipe takes 0.0286 g']
    """
    was, now = (
        {one.name: (one, amount) for one, amount in made.amounts}
        for made in (weighing.recipe, weighing)
    )
    dissolved = {name for made in weighing.stocks for name in made.steps}
    poured = {made.ingredient.name for made in weighing.stocks}
    for name, (one, amount) in was.items():
        if name not in now and name not in dissolved:
            exact = f"{printed(amount, 3)} {one.measured_in}"
            yield Notice(f"{name}: left out; the exact recipe takes {exact}")
    for name in (name for name in now if name not in poured):
        if name not in was:
            yield Notice(f"{name}: not in the exact recipe; whole steps of it help")
        if name not in known:
            what = f"{name}: no weighing step is known, so it may be any amount"
            yield Notice(f"{what}; give steps={{'{name}': ...}}")


def limits_told(weighing):
    """
    Yield what limits of an exact value come to, and limits that do not hold.

    Parameters
    ----------
    weighing : Weighing
        The weights.

    Yields
    ------
    Notice
        One for each such limit.

    Examples
    --------
    >>> from formulate.recipes.practical import weigh
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> feed = target({"K": 200}, limits={"K": "exactly 200 mg/L"})
    >>> made = weigh(solve(feed, ["KNO3"], volume=10))
    >>> [notice.what for notice in limits_told(made)]
    ['K exactly 200 mg/L: whole steps come to 201.1 mg/L']
    """
    rows = (row for row in weighing.recipe.requirements if row.kind == HARD)
    held = {row.limit: row for row in rows if row.limit and row.origin != "amount"}
    for limit, row in held.items():
        value = limit.value(weighing.solution)
        share = METER if limit.is_metered else KEPT
        if limit.low == limit.high:
            has = f"{printed(value)} {limit.unit}".strip()
            yield Notice(f"{row.name}: whole steps come to {has}")
        elif value < limit.low * (1 - share) or value > limit.high * (1 + share):
            has = f"{printed(value)} {limit.unit}".strip()
            yield Notice(f"{row.name}: broken; here {has}", "serious", value)
