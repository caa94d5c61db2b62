"""Waters as rows count them: by the litre, beside the ingredients, until they fill the volume.

least  cost of waters and salts, or greatest share of the first water
within hard rows, wanted rows within a few percent, litres of water that add up to 1

Charge, carbonate and every form mix linearly, so a row counts a water as it counts an
ingredient, and the shares come from one linear programme.
"""

from dataclasses import replace

import numpy as np
from scipy.optimize import linprog

from formulate.errors import Infeasible, NoConvergence
from formulate.notices import Notice
from formulate.recipes.conflict_words import explained
from formulate.recipes.requirements import HARD, Requirement, requirements_of
from formulate.recipes.stages import amounts_in_order
from formulate.working import printed_percent

__all__ = [
    "WISHES",
    "best_blend",
    "chosen_amounts",
    "held_rows",
    "holding_back",
    "inset",
    "rows_over_waters",
]

WISHES = "within"  # origin of wishes that are held
WATERS = "waters"  # origin of the row that makes the waters fill the volume
TOLD = 1e-3  # share of a wish: what the best blend misses by more is told
INSIDE = (
    1e-6  # share of what may be missed that is left, so that no wish is told as missed
)
ROOM = 1e-8  # share of a wish by which a held one may give, for rounding
GAIN = 1e-6  # share of the litre, or of the cost: more is a gain, not rounding
STEP = 1e-8  # share by which a first order may give while the next is looked at
ACTIVE = 1e-6  # share of a row: nearer than this to its bound it is active


def rows_over_waters(target, ingredients, waters, requirements=(), drawing=None):
    """
    Return what a target asks for as rows over ingredients and waters.

    Parameters
    ----------
    target : Target
        What is wanted.
    ingredients : sequence of Ingredient
        The shelf.
    waters : mapping of str to Water
        Waters by name.
    requirements : sequence of Requirement
        Rows over the shelf that are asked for besides; no water counts in them.
    drawing : Drawing or None
        The lines of limits on pH and EC; drawn at the target's own ions if None.

    Returns
    -------
    list of Requirement
        The rows, one coefficient for each ingredient and then for a litre of each water;
        the last row makes the waters fill the volume.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.ingredients.water import water
    >>> from formulate.recipes.target import target
    >>> waters = {"tap": water({"K": 39.0983}), "rain": water({})}
    >>> rows = rows_over_waters(target({"K": 200}), [salt("KCl")], waters)
    >>> [round(value, 3) for value in rows[0].coefficients], rows[-1].name
    ([13.414, 1.0, 0.0], 'all water from tap and rain')
    """
    taps, rows = [one.solution for one in waters.values()], []
    for same in zip(
        *(requirements_of(target, ingredients, tap, drawing) for tap in taps),
        strict=True,
    ):
        row, counts = same[0], tuple(float(each.constant) for each in same)
        below = ()
        if row.below:
            below = (*row.below[:-1], *(each.below[-1] for each in same), 0.0)
        counts = (*row.coefficients, *counts)
        rows.append(replace(row, coefficients=counts, constant=0.0, below=below))
    none, ones = (0.0,) * len(taps), (1.0,) * len(taps)
    for row in requirements:
        rows.append(replace(row, coefficients=(*row.coefficients, *none)))
    name = f"all water from {' and '.join(waters)}"
    whole = (*((0.0,) * len(ingredients)), *ones)
    facts = {"unit": "L/L", "kind": HARD, "origin": WATERS}
    return [*rows, Requirement(name, whole, 1.0, 1.0, **facts)]


def best_blend(requirements, ingredients, waters, target, *, volume, within):
    """
    Return the nearest that any blend comes to a target, or raise what no blend can keep.

    Nearest by weighted squares, where a wanted value within its share counts as met.

    Parameters
    ----------
    requirements : sequence of Requirement
        Rows over ingredients and waters.
    ingredients : sequence of Ingredient
        The shelf.
    waters : mapping of str to Water
        Waters by name.
    target : Target
        What is wanted, for its priorities.
    volume : float
        Volume of the batch. [L]
    within : float
        Share by which a wanted value may be missed. [-]

    Returns
    -------
    requirements : list of Requirement
        The rows that count: without those that only keep something low, and without the
        share of ammonium if every blend breaks it.
    amounts : ndarray, shape (n,)
        Grams per litre of each ingredient, then litres of each water. [g]
    notices : tuple of Notice
        What was dropped.

    Raises
    ------
    Infeasible
        If no blend keeps the hard rows.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.ingredients.water import water
    >>> from formulate.recipes.target import target
    >>> waters, wish = {"tap": water({"Ca": 80}), "rain": water({})}, target({"Ca": 20})
    >>> rows = rows_over_waters(wish, [salt("KCl")], waters)
    >>> _, best, _ = best_blend(rows, [salt("KCl")], waters, wish, volume=1, within=0)
    >>> best.round(6).tolist()
    [0.0, 0.25, 0.75]
    """
    columns, order = [*ingredients, *waters.values()], target.priorities
    rows = [row for row in requirements if row.origin != "kept low"]
    wider = [_widened(row, within) for row in rows]
    try:
        best = amounts_in_order(wider, len(columns), order, rank=False)
        return rows, best.amounts, ()
    except Infeasible as error:
        own = {row.name for row in rows if row.origin in ("ammonium share", WATERS)}
        if not set(error.requirements) <= own:
            raise _without_own(explained(rows, columns, volume), rows) from None
    rows = [row for row in rows if row.origin != "ammonium share"]
    wider = [_widened(row, within) for row in rows]
    what = "ammonium cannot be kept in its share: every blend of the waters breaks it"
    best = amounts_in_order(wider, len(columns), order, rank=False)
    return rows, best.amounts, (Notice(what, "caution", source_key="ext-general"),)


def _widened(row, within):
    """Return a wanted row with all that counts as met; a range is met within itself."""
    if row.kind == HARD or row.low < row.high:
        return row
    give = within * row.scale * (1 - INSIDE)
    return replace(row, low=row.low - give, high=row.high + give)


def _without_own(error, rows):
    """Return the error without the row that nobody asked for among its names."""
    own = {row.name for row in rows if row.origin == WATERS}
    names = [name for name in error.requirements if name not in own]
    more = {"conflicts": error.conflicts, "ways": error.ways}
    return Infeasible(*error.faults, requirements=names, **more)


def held_rows(requirements, best, within):
    """
    Return every row as a hard one, wanted ones within a share of what is wanted.

    A range is held as it is. A wish that even the best blend misses is held to what that
    reaches, within the same share: traces in a water must not decide. The weighted
    squares make what the best blend reaches unique.

    Parameters
    ----------
    requirements : sequence of Requirement
        Rows over ingredients and waters.
    best : ndarray, shape (n,)
        Amounts of the nearest blend. [g]
    within : float
        Share by which a wanted value may be missed. [-]

    Returns
    -------
    requirements : list of Requirement
        The rows; those that were wanted have the origin "within".
    notices : tuple of Notice
        Which wishes no blend can meet.

    Examples
    --------
    >>> row = Requirement("K", (1.0, 0.0), 2.0, 2.0, scale=2.0)
    >>> (held,), _ = held_rows([row], np.array([2.0, 1.0]), 0.05)
    >>> held.name, round(held.low, 3), round(held.high, 3)
    ('K within 5 %', 1.9, 2.1)
    """
    held, told = [], []
    for row in requirements:
        if row.kind == HARD:
            held.append(row)
            continue
        words = f" within {100 * within:g} %" if row.low == row.high else ""
        give, met = within * row.scale, _widened(row, within)
        low, high = met.low, met.high
        value = row.constant + float(best @ row.coefficients)
        if not low - TOLD * row.scale <= value <= high + TOLD * row.scale:
            words = ", as near as a blend comes"
            told.append(_missed_by_all(row, value, within))
            low, high = (low, value + give) if value > high else (value - give, high)
        low, high = min(low, value), max(high, value)
        low, high = low - ROOM * row.scale, high + ROOM * row.scale
        facts = {"name": f"{row.name}{words}", "kind": HARD, "origin": WISHES}
        held.append(replace(row, low=low, high=high, **facts))
    return held, tuple(told)


def _missed_by_all(row, value, within):
    """Return the notice of a wish that no blend meets."""
    miss = (value - min(max(value, row.low), row.high)) / row.scale
    what = (
        f"{row.name}: the best blend misses it by {printed_percent(100 * miss)}; the "
        f"shares are held within {100 * within:g} % of that"
    )
    return Notice(what, "caution", miss)


# --- the linear programme ---------------------------------------------------------------


def chosen_amounts(requirements, orders):
    """
    Return the amounts that are least in a first order, among these in the next, and so on.

    Parameters
    ----------
    requirements : sequence of Requirement
        Hard rows over ingredients and waters.
    orders : ndarray, shape (k, n)
        What a unit of each amount counts for in each order. [-]

    Returns
    -------
    ndarray, shape (n,)
        The amounts. [g]

    Raises
    ------
    NoConvergence
        If the linear programme finds none.

    Examples
    --------
    >>> whole = Requirement("all", (1.0, 1.0), 1.0, 1.0, kind="hard")
    >>> most = Requirement("Na at most 50", (80.0, 0.0), high=50.0, kind="hard")
    >>> chosen_amounts([whole, most], np.array([[-1.0, 0.0]])).round(6).tolist()
    [0.625, 0.375]
    """
    first, *others = orders
    amounts, before, held = _least(first, requirements), first, []
    for order in others:
        value = float(before @ amounts)
        most, counts = value + STEP * abs(value), tuple(map(float, before))
        held.append(Requirement("an order before", counts, high=most, kind=HARD))
        try:
            amounts, before = _least(order, [*requirements, *held]), order
        except NoConvergence:  # rounding left no room: what is at hand is as good
            break
    return amounts


def inset(requirements, amounts, share):
    """
    Return rows whose bounds are drawn in a little, for what rounding would break.

    Parameters
    ----------
    requirements : sequence of Requirement
        Hard rows; exact ones stay.
    amounts : ndarray, shape (n,)
        Amounts near which the rows are to hold. [g]
    share : float
        Share of a row's size. [-]

    Returns
    -------
    list of Requirement
        The rows.

    Examples
    --------
    >>> most = Requirement("Na at most 50", (80.0, 0.0), high=50.0, kind="hard")
    >>> inset([most], np.array([0.625, 0.375]), 0.01)[0].high
    49.5
    """
    drawn = []
    for row in requirements:
        give = share * float(np.abs(amounts * row.coefficients).max())
        give = give if row.low + 2 * give < row.high else 0.0
        drawn.append(replace(row, low=row.low + give, high=row.high - give))
    return drawn


def holding_back(requirements, order, amounts):
    """
    Return the rows without each of which an order would be less.

    Each active row is left out and the programme solved again. Where no single one holds
    it back, several together do: those of them of which none can be spared.

    Parameters
    ----------
    requirements : sequence of Requirement
        Hard rows over ingredients and waters.
    order : ndarray, shape (n,)
        What a unit of each amount counts for. [-]
    amounts : ndarray, shape (n,)
        The amounts at which it is least. [g]

    Returns
    -------
    tuple of str
        Their names; empty if only the filling of the volume holds it back.

    Examples
    --------
    >>> whole = Requirement("all", (1.0, 1.0), 1.0, 1.0, kind="hard", origin="waters")
    >>> most = Requirement("Na at most 50", (80.0, 0.0), high=50.0, kind="hard")
    >>> holding_back([whole, most], np.array([-1.0, 0.0]), np.array([0.625, 0.375]))
    ('Na at most 50',)
    """
    value = float(order @ amounts)
    gain = GAIN * max(abs(value), float(np.abs(order[amounts > 0]).max(initial=0.0)))
    active = [row for row in requirements if row.origin != WATERS]
    active = [row for row in active if _is_active(row, amounts)]

    def holds(rows):
        rest = [row for row in requirements if not any(row is one for one in rows)]
        return float(order @ _least(order, rest)) < value - gain

    alone = [row for row in active if holds([row])]
    if not alone and active and holds(active):
        alone = active
        for row in tuple(active):
            fewer = [other for other in alone if other is not row]
            if fewer and holds(fewer):
                alone = fewer
    return tuple(dict.fromkeys(row.name for row in alone))


def _is_active(row, amounts):
    """Return whether a row stands on one of its bounds."""
    parts = amounts * row.coefficients
    value, size = row.constant + float(parts.sum()), float(np.abs(parts).max())
    give = ACTIVE * max(
        size, *(abs(end) for end in (row.low, row.high) if end - end == 0)
    )
    return value - row.low <= give or row.high - value <= give


def _least(order, rows):
    """Return the amounts within hard rows at which an order is least."""
    matrix = np.array([row.coefficients for row in rows])
    ends = np.array([(row.low - row.constant, row.high - row.constant) for row in rows])
    columns = _columns(matrix, ends)
    matrix = matrix * columns
    sizes = np.maximum(np.abs(matrix).max(axis=1), _sizes(ends))
    sizes[sizes == 0] = 1.0
    low, high = (ends / sizes[:, None]).T
    matrix = matrix / sizes[:, None]
    lines = np.vstack([matrix[np.isfinite(high)], -matrix[np.isfinite(low)]])
    levels = np.concatenate([high[np.isfinite(high)], -low[np.isfinite(low)]])
    cost = order * columns
    cost = cost / (np.abs(cost).max() or 1.0)
    result = linprog(cost, A_ub=lines, b_ub=levels, method="highs-ds")
    if result.status != 0:
        raise NoConvergence(f"the shares were not found: {result.message}")
    return result.x * columns


def _sizes(ends):
    """Return the larger bound of each row, 0 where it has none."""
    return np.abs(np.where(np.isfinite(ends), ends, 0.0)).max(axis=1)


def _columns(matrix, ends):
    """Return of each amount how much alone would fill the row that it fills first."""
    sizes, counts = _sizes(ends)[:, None], np.abs(matrix)
    fills = np.full(matrix.shape, np.inf)
    np.divide(sizes, counts, out=fills, where=(counts > 0) & (sizes > 0))
    first = fills.min(axis=0)
    return np.where(np.isfinite(first), first, 1.0)
