"""Five hundred problems with ten hard rows, degenerate on purpose, against daqp.

Every problem is built around amounts that keep its hard rows, so each has an answer. Many
rows are met exactly by these amounts, and some are multiples or sums of others: the
corners where a solver may turn in circles.
"""

import math
from dataclasses import replace
from functools import cache

import daqp
import numpy as np
import pytest
from test_least_squares import (
    COUNT,
    MACROS,
    NUTRIENTS,
    _apart,
    _breach,
    _misses,
    _problem,
    _unoptimal,
    _value,
)

from formulate.errors import InputError
from formulate.recipes import least_distance
from formulate.recipes.least_squares import nearest_amounts
from formulate.recipes.nonnegative import nonnegative
from formulate.recipes.requirements import Requirement
from formulate.recipes.system import system_of

INF = math.inf
PROBLEMS, HARD = 500, 10
OBJECTIVE = 1e-8  # relative: a hard row may give way by 1e-9, times what it costs
VALUES = 1e-4  # values part by at most the root of what the objectives part by
FAR = 100  # times the wanted value: so far off, optimality shows in the objective alone
TWICE = 1e-8  # the same problem written otherwise: both answers are ours
MOST_CALLS = 16  # of the non-negative least squares for one problem
USUAL_CALLS = 2  # on average


def _hard_line(rng, content):
    """Return one line over the ingredients: a nutrient, a ratio, an amount or a sum."""
    one, other = rng.integers(NUTRIENTS, size=2)
    lines = [
        content[one],
        content[one] - rng.uniform(0.3, 2) * content[other],
        np.eye(COUNT)[rng.integers(COUNT)],
        content[:MACROS].sum(axis=0),
    ]
    return lines[rng.integers(len(lines))]


@cache
def _crowded(seed, hard=HARD):
    """Return twelve wanted rows, and hard ones that some amounts keep."""
    rng = np.random.default_rng(10_000 + seed)
    rows = [row for row in _problem(seed) if row.kind == "wanted"]
    content = np.array([row.coefficients for row in rows])
    inside = rng.uniform(0, 1, COUNT) * (rng.random(COUNT) < 0.6)
    if seed % 10:  # of every tenth the trace salts are taken a thousand times too much
        inside *= np.where(content[MACROS:].any(axis=0), 1e-3, 1.0)
    lines = []
    while len(lines) < hard:
        line = _hard_line(rng, content)
        if len(lines) % 4 == 3:  # depends on those before it
            line = rng.uniform(0.2, 5) * (lines[-1] + lines[-2] * rng.integers(2))
        if any(line):
            lines.append(line)
    for i, line in enumerate(lines):
        water = float(rng.choice([0, 0, 0.5]))
        value = float(line @ inside) + water
        room = float(rng.choice([0, 0, 0.05, 0.2])) * abs(value)
        sides = [
            (value, value),
            (value - room, value + room),
            (-INF, value + room),
            (value - room, INF),
        ]
        low, high = sides[rng.integers(4)]
        numbers = tuple(line.tolist())
        rows.append(Requirement(f"hard {i}", numbers, low, high, water, kind="hard"))
    return tuple(rows)


@cache
def _answer(seed):
    return nearest_amounts(_crowded(seed), COUNT)


def test_the_problems_are_what_they_say():
    rows = [row for seed in range(PROBLEMS) for row in _crowded(seed)]
    hard = [row for row in rows if row.kind == "hard"]
    assert len(hard) == PROBLEMS * HARD
    exact = [row for row in hard if row.low == row.high]
    between = [row for row in hard if -INF < row.low < row.high < INF]
    single = [row for row in hard if np.count_nonzero(row.coefficients) == 1]
    assert min(map(len, (exact, between, single))) > PROBLEMS
    ratios = [row for row in hard if min(row.coefficients) < 0 < max(row.coefficients)]
    assert len(ratios) > PROBLEMS


def test_every_answer_keeps_its_rows_and_none_near_it_is_better():
    for seed in range(PROBLEMS):
        rows, optimum = _crowded(seed), _answer(seed)
        assert optimum.violation <= 1e-9, seed
        assert optimum.amounts.min() >= 0, seed
        assert _breach(rows, optimum.amounts) <= 1e-9, seed
        assert _unoptimal(rows, optimum.amounts) <= 1e-9, seed


def test_of_two_thousand_degenerate_problems_none_is_left_unsolved(monkeypatch):
    calls = []

    def counted(matrix, aim):
        calls.append(matrix.shape)
        return nonnegative(matrix, aim)

    monkeypatch.setattr(least_distance, "nonnegative", counted)
    total = 0
    for seed in range(2000):
        calls.clear()
        optimum = nearest_amounts(_crowded(PROBLEMS + seed), COUNT, rank=False)
        assert optimum.violation <= 1e-9, seed
        assert len(calls) <= MOST_CALLS, seed
        total += len(calls)
    assert total <= 2000 * USUAL_CALLS


# --- the other solver ------------------------------------------------------------------


def _without_equations(matrix, level):
    """Return a point that keeps equations, and the ways along which they stay kept."""
    if not len(level):
        return np.zeros(matrix.shape[1]), np.eye(matrix.shape[1])
    left, sizes, right = np.linalg.svd(matrix)
    rank = int((sizes > 1e-9 * sizes[0]).sum())
    return right[:rank].T @ (left[:, :rank].T @ level / sizes[:rank]), right[rank:].T


def _by_daqp(rows, proximity):
    """Return daqp's answer, hard equations substituted beforehand: it knows no ranks.

    A wanted row that may lie in a range has a goal of its own, within that range.
    """
    wanted = [row for row in rows if row.kind == "wanted"]
    hard = [row for row in rows if row.kind == "hard"]
    factor = np.array([math.sqrt(row.weight) / row.scale for row in wanted])
    water = factor * [row.constant for row in wanted]
    content = np.array([row.coefficients for row in wanted]) * factor[:, None]
    columns = np.linalg.norm(content, axis=0)
    columns[columns == 0] = 1.0
    bars = np.array([row.coefficients for row in hard]) / columns
    sizes = np.abs(bars).max(axis=1)
    bars /= sizes[:, None]
    low = np.array([row.low - row.constant for row in hard]) / sizes
    high = np.array([row.high - row.constant for row in hard]) / sizes
    exact = low == high
    start, ways = _without_equations(bars[exact], low[exact])
    goals = np.eye(len(wanted))
    matrix = np.hstack([content / columns @ ways, -goals])
    slope = matrix.T @ (content / columns @ start + water)
    lines = np.vstack([ways, bars[~exact] @ ways])
    sides = np.zeros((len(goals), ways.shape[1])), np.zeros((len(lines), len(goals)))
    lines = np.vstack([np.hstack([lines, sides[1]]), np.hstack([sides[0], goals])])
    passed = bars[~exact] @ start
    lows = (
        -start,
        low[~exact] - passed,
        factor * [row.low for row in wanted],
    )
    highs = (
        np.full(COUNT, INF),
        high[~exact] - passed,
        factor * [row.high for row in wanted],
    )
    lengths = np.linalg.norm(lines, axis=1)
    kept = lengths > 1e-9
    low, high = (
        np.clip(np.concatenate(ends)[kept] / lengths[kept], -1e30, 1e30)
        for ends in (lows, highs)
    )
    settings = {"eps_prox": proximity, "eta_prox": 1e-10, "primal_tol": 1e-9}
    lines = lines[kept] / lengths[kept, None]
    found, *_ = daqp.solve(matrix.T @ matrix, slope, lines, high, low, **settings)
    return np.maximum(start + ways @ found[: ways.shape[1]], 0.0) / columns


def _best_of_daqp(rows, breach=1e-9):
    """Return the best of daqp's answers that keep the hard rows."""
    found = [_by_daqp(rows, proximity) for proximity in (1e-2, 1e-3, 1e-4, 1e-6)]
    kept = [amounts for amounts in found if _breach(rows, amounts) <= breach]
    return min(
        kept, key=lambda amounts: np.linalg.norm(_misses(rows, amounts)), default=None
    )


def test_daqp_finds_the_same_objective_and_the_same_values():
    for seed in range(PROBLEMS):
        rows, amounts = _crowded(seed), _answer(seed).amounts
        objective, values = _apart(rows, amounts, _best_of_daqp(rows))
        assert objective <= OBJECTIVE, seed
        is_far = np.abs(_misses(rows, amounts)).max() > FAR
        assert values <= VALUES or is_far, (
            seed
        )  # one of them, by daqp on other machines


# --- the same problem written otherwise ------------------------------------------------


def _times(row, factor):
    """Return a row in another unit."""
    return replace(
        row,
        coefficients=tuple(factor * value for value in row.coefficients),
        low=factor * row.low,
        high=factor * row.high,
        constant=factor * row.constant,
        scale=factor * row.scale,
    )


def _columns(row, factors):
    """Return a row over ingredients in other units."""
    pairs = zip(row.coefficients, factors, strict=True)
    return replace(row, coefficients=tuple(value * by for value, by in pairs))


def _reach_the_same(seed, turned, back):
    ours = _misses(_crowded(seed), _answer(seed).amounts)
    found = back(nearest_amounts(turned, COUNT).amounts)
    assert _breach(_crowded(seed), found) <= 1e-9, seed
    theirs = _misses(_crowded(seed), found)
    if np.abs(ours).max() < FAR:
        assert theirs == pytest.approx(ours, abs=TWICE), seed
    assert theirs @ theirs == pytest.approx(ours @ ours, rel=OBJECTIVE, abs=1e-12), seed


def test_the_order_of_rows_and_ingredients_changes_nothing():
    rng = np.random.default_rng(5)
    for seed in range(0, PROBLEMS, 4):
        order = rng.permutation(COUNT)
        turned = [
            replace(row, coefficients=tuple(row.coefficients[j] for j in order))
            for row in rng.permutation(np.array(_crowded(seed), dtype=object))
        ]
        _reach_the_same(seed, turned, lambda found, order=order: found[order.argsort()])


def test_rows_in_thousandths_change_nothing():
    rng = np.random.default_rng(6)
    for seed in range(0, PROBLEMS, 4):
        turned = [_times(row, rng.choice([1e-3, 1.0, 1e3])) for row in _crowded(seed)]
        _reach_the_same(seed, turned, lambda found: found)


@pytest.mark.parametrize("factor", [1e-3, 1e3])
def test_kilograms_and_milligrams_change_nothing(factor):
    for seed in range(0, PROBLEMS, 4):
        turned = [_columns(row, [factor] * COUNT) for row in _crowded(seed)]
        _reach_the_same(seed, turned, lambda found: found * factor)


def test_each_ingredient_may_have_a_unit_of_its_own():
    rng = np.random.default_rng(7)
    for seed in range(0, PROBLEMS, 4):
        factors = rng.choice([1e-3, 1.0, 1e3], COUNT)
        turned = [_columns(row, factors.tolist()) for row in _crowded(seed)]
        _reach_the_same(seed, turned, lambda found, factors=factors: found * factors)


# --- by hand ---------------------------------------------------------------------------


def test_inside_a_range_a_row_is_free():
    rows = [
        Requirement("range", (2.0,), 3.0, 5.0, scale=4.0),
        Requirement("point", (1.0,), 2.25, 2.25, scale=1.0),
    ]
    # 2 x = 4.5 lies within 3 to 5, so only the point counts: x = 2.25
    assert nearest_amounts(rows, 1).amounts == pytest.approx([2.25], rel=1e-12)


@pytest.mark.parametrize(("point", "expected"), [(4.0, 3.25), (0.0, 0.75)])
def test_outside_a_range_the_distance_is_squared(point, expected):
    # (x - p)^2 + (2x - end)^2 / 4 with ends 3 and 5: 2x - 2p + 2x - end = 0, so
    # x = (2p + end) / 4; p = 4: 13 / 4; p = 0: 3 / 4
    rows = [
        Requirement("range", (2.0,), 3.0, 5.0, scale=2.0),
        Requirement("point", (1.0,), point, point, scale=1.0),
    ]
    assert nearest_amounts(rows, 1).amounts == pytest.approx([expected], rel=1e-12)


def test_a_hard_equation_is_held_while_the_rest_comes_near():
    rows = [
        Requirement("a", (1.0, 0.0), 3.0, 3.0),
        Requirement("b", (0.0, 1.0), 1.0, 1.0),
        Requirement("sum", (1.0, 1.0), 2.0, 2.0, kind="hard"),
    ]
    optimum = nearest_amounts(rows, 2)
    # nearest to (3, 1) on x + y = 2 is (2, 0); with s in place of 2 half the square is
    # (3 - s)^2 / 2, which falls by 3 - 2 = 1 for each unit of s
    assert optimum.amounts == pytest.approx([2.0, 0.0], abs=1e-12)
    ((row, force),) = optimum.forces
    assert row is rows[2]
    assert force == pytest.approx(1.0)


def test_hard_rows_alone_are_kept_and_nothing_more_is_taken():
    rows = [
        Requirement("sum", (1.0, 2.0), 4.0, 4.0, kind="hard"),
        Requirement("most", (1.0, 0.0), high=1.0, kind="hard"),
    ]
    optimum = nearest_amounts(rows, 2)
    # x + 2y = 4 with x at most 1: fewest grams is x = 0, y = 2
    assert optimum.amounts == pytest.approx([0.0, 2.0], abs=1e-9)
    assert optimum.violation <= 1e-9
    assert not optimum.is_unique


def test_a_hard_row_of_zeros_that_holds_is_passed_over():
    rows = [
        Requirement("wanted", (1.0, 2.0), 2.0, 2.0),
        Requirement("nothing", (0.0, 0.0), -1.0, 1.0, kind="hard"),
        Requirement("nothing exactly", (0.0, 0.0), 0.5, 0.5, 0.5, kind="hard"),
    ]
    optimum = nearest_amounts(rows, 2)
    assert _value(rows[0], optimum.amounts) == pytest.approx(2.0, rel=1e-9)


def test_an_ingredient_that_no_row_counts_gets_nothing():
    rows = [
        Requirement("wanted", (1.0, 0.0, 3.0), 2.0, 2.0),
        Requirement("hard", (1.0, 0.0, 1.0), high=1.0, kind="hard"),
    ]
    optimum = nearest_amounts(rows, 3)
    assert optimum.amounts[1] == 0
    assert _value(rows[0], optimum.amounts) == pytest.approx(2.0, rel=1e-9)


@pytest.mark.parametrize("broken", [math.nan, INF, -INF])
@pytest.mark.parametrize("field", ["coefficients", "constant", "scale", "weight"])
def test_what_is_no_number_is_refused_before_it_is_solved(broken, field):
    value = (1.0, broken) if field == "coefficients" else broken
    facts = {"coefficients": (1.0, 2.0), "low": 1.0, "high": 1.0, field: value}
    with pytest.raises(InputError):
        Requirement("broken", **facts)


def test_hundreds_of_ingredients_and_dozens_of_hard_rows():
    rng = np.random.default_rng(8)
    content = rng.uniform(0, 10, (15, 400)) * (rng.random((15, 400)) < 0.2)
    inside = rng.uniform(0, 0.1, 400) * (rng.random(400) < 0.1)
    reached = content @ inside
    rows = [
        Requirement(f"wanted {i}", tuple(line.tolist()), 1.2 * v, 1.2 * v, scale=v)
        for i, (line, v) in enumerate(zip(content, reached.tolist(), strict=True))
    ]
    picked = np.eye(400)[rng.choice(400, 40, replace=False)]
    for i, line in enumerate(picked):
        rows.append(
            Requirement(f"most {i}", tuple(line.tolist()), high=0.1, kind="hard")
        )
    total = float(inside.sum())
    rows.append(Requirement("total", (1.0,) * 400, high=total, kind="hard"))
    optimum = nearest_amounts(rows, 400, rank=False)
    assert optimum.violation <= 1e-9
    assert optimum.amounts.sum() <= total * (1 + 1e-9)
    ours = np.linalg.norm(_misses(rows, optimum.amounts))
    assert ours <= np.linalg.norm(_misses(rows, inside))


def test_a_row_in_another_unit_makes_the_same_system():
    rows = _crowded(1)
    one = system_of(rows, COUNT)
    other = system_of([_times(row, 1000.0) for row in rows], COUNT)
    assert other.hard == pytest.approx(one.hard, rel=1e-12)
    assert other.level == pytest.approx(one.level, rel=1e-12)
    assert other.wanted == pytest.approx(one.wanted, rel=1e-12)
