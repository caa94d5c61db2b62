"""The numerical core against two other solvers, its optimality, and how it chooses.

Oracles: daqp (a dual active-set solver) and scipy's bounded least squares and SLSQP.
scipy's `nnls` is no oracle here: since 1.15 it can return a wrong point (scipy issue
25389).
"""

import math
import subprocess
import sys
from functools import cache
from itertools import combinations, pairwise

import daqp
import numpy as np
import pytest
from scipy.optimize import linprog, lsq_linear, minimize

from formulate.errors import FormulateError, Infeasible, InputError
from formulate.recipes.least_squares import OPTIMALITY, nearest_amounts
from formulate.recipes.requirements import Requirement

INF = math.inf
COUNT, NUTRIENTS, MACROS, PROBLEMS = 20, 12, 7, 500


@cache
def _problem(seed):
    """Return rows like those of a shelf: macro and trace salts, three of 20 dependent."""
    rng = np.random.default_rng(seed)
    levels = np.where(np.arange(NUTRIENTS) < MACROS, 1.0, 1e-3)
    own = np.concatenate([np.arange(NUTRIENTS), rng.integers(MACROS, size=8)])
    content = rng.uniform(0.5, 12, (NUTRIENTS, COUNT))
    content *= rng.random(content.shape) < 0.3
    content[MACROS:] = 0.0  # no trace elements in the other salts
    content[own, np.arange(COUNT)] = rng.uniform(0.5, 12, COUNT)
    content[:, 17] = content[:, 0]
    content[:, 18] = content[:, 11] * rng.uniform(0.2, 3)
    content[:, 19] = content[:, 2] + content[:, 3]
    recipe = rng.uniform(0, 1, COUNT) * (rng.random(COUNT) < 0.6) * levels[own]
    water = rng.uniform(0, 2, NUTRIENTS) * (rng.random(NUTRIENTS) < 0.3) * levels
    wanted = content @ recipe * rng.uniform(0.5, 1.5, NUTRIENTS)
    rows = []
    for i, value in enumerate(np.maximum(wanted, 0.5 * levels).tolist()):
        kinds = [(value, value)] * 6
        kinds += [(0.0, 0.0), (value, INF), (-INF, value), (0.9 * value, 1.1 * value)]
        low, high = kinds[rng.integers(len(kinds))]
        facts = {"scale": value, "weight": float(rng.choice([1, 1, 0.09, 0.01]))}
        row = tuple(content[i].tolist())
        rows.append(
            Requirement(f"wanted {i}", row, low, high, float(water[i]), **facts)
        )
    for i in range(seed % 4):
        place = rng.integers(NUTRIENTS)
        share = content[place % 3] - 0.15 * content[:3].sum(axis=0)
        row = [content[place], share, np.eye(COUNT)[place]][rng.integers(3)]
        value, room = float(row @ recipe), float(rng.choice([0, 0.1]) * levels[place])
        kinds = [(value, value), (-INF, value + room), (value - room, INF)]
        kinds.append((value - room, value + room))
        low, high = kinds[rng.integers(4)]
        row = tuple(row.tolist())
        rows.append(Requirement(f"hard {i}", row, low, high, kind="hard"))
    return tuple(rows)


@cache
def _solved(seed):
    try:
        return nearest_amounts(_problem(seed), COUNT)
    except FormulateError:
        return None


def _seeds(with_hard, step=1):
    return [
        seed
        for seed in range(0, PROBLEMS, step)
        if bool(seed % 4) == with_hard and _solved(seed) is not None
    ]


def _value(row, amounts):
    return row.constant + float(np.dot(row.coefficients, amounts))


def _misses(rows, amounts):
    """Return each wanted row's distance from its bounds, in its scale and weight."""
    values = [(row, _value(row, amounts)) for row in rows if row.kind == "wanted"]
    return np.array(
        [
            math.sqrt(row.weight) / row.scale * (v - min(max(v, row.low), row.high))
            for row, v in values
        ]
    )


def _breach(rows, amounts):
    """Return by how much the hard rows and the signs are broken."""
    broken = [max(0.0, -float(np.min(amounts)))]
    for row in rows:
        if row.kind == "hard":
            value = _value(row, amounts)
            broken.append(max(row.low - value, value - row.high) / max(1, abs(value)))
    return max(broken)


# --- the other solvers -----------------------------------------------------------------


def _lines(rows):
    """Return matrix, levels and which are hard; a one-sided row has a slack column."""
    lines = []
    for row in rows:
        size = max(map(abs, row.coefficients)) or 1.0
        factor = 1 / size
        if row.kind == "wanted":
            factor = math.sqrt(row.weight) / row.scale
        sides = [(row.low, -1.0), (row.high, 1.0)]
        for level, sign in [(row.low, 0.0)] if row.low == row.high else sides:
            if math.isfinite(level):
                scaled = np.multiply(row.coefficients, factor)
                reach = (level - row.constant) * factor
                lines.append((row.kind == "hard", scaled, reach, sign))
    hard, scaled, levels, signs = map(np.array, zip(*lines, strict=True))
    return np.hstack([scaled, np.diag(signs)[:, signs != 0]]), levels, hard


def _polished(rows, near):
    """Return the best point on the face where another solver's answer lies."""
    matrix, levels, hard = _lines(rows)
    columns, count = np.linalg.norm(matrix, axis=0), len(near)
    matrix = matrix / columns
    full = np.concatenate([near, np.zeros(len(columns) - count)]) * columns
    for column in range(count, len(columns)):
        (line,) = np.flatnonzero(matrix[:, column])
        gap = levels[line] - matrix[line, :count] @ full[:count]
        full[column] = max(0.0, gap / matrix[line, column])
    best = near
    for least in (1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8):
        face = full > least
        held, wanted = matrix[hard][:, face], matrix[~hard][:, face]
        start, free = full[face], np.eye(int(face.sum()))
        if len(held):
            start = start + np.linalg.lstsq(held, levels[hard] - held @ start)[0]
            _, sizes, directions = np.linalg.svd(held)
            free = directions[int((sizes > 1e-12 * sizes.max()).sum()) :].T
        step = np.linalg.lstsq(wanted @ free, levels[~hard] - wanted @ start)[0]
        point = np.zeros(len(full))
        point[face] = start + free @ step
        point = (point / columns)[:count]
        better = np.linalg.norm(_misses(rows, point)) < np.linalg.norm(
            _misses(rows, best)
        )
        if _breach(rows, point) <= 1e-10 and (better or best is near):
            best = np.maximum(point, 0.0)
    return best


def _by_daqp(rows):
    """Return daqp's answer; a row that may lie in a range has a goal of its own."""
    wanted = [row for row in rows if row.kind == "wanted"]
    hard = [row for row in rows if row.kind == "hard"]
    factor = np.array([math.sqrt(row.weight) / row.scale for row in wanted])
    content = np.array([row.coefficients for row in wanted]) * factor[:, np.newaxis]
    columns = np.linalg.norm(content, axis=0)
    count = len(columns)
    matrix = np.hstack([content / columns, -np.eye(len(wanted))])
    slope = matrix.T @ (factor * [row.constant for row in wanted])
    bars = np.zeros((len(hard), matrix.shape[1]))
    bounds = [np.zeros(count)], [np.full(count, INF)]
    bounds[0].append(factor * [row.low for row in wanted])
    bounds[1].append(factor * [row.high for row in wanted])
    for i, row in enumerate(hard):
        bars[i, :count] = row.coefficients / columns
        size = np.abs(bars[i]).max()
        bars[i] /= size
        bounds[0].append([(row.low - row.constant) / size])
        bounds[1].append([(row.high - row.constant) / size])
    low, high = (np.clip(np.concatenate(side), -1e30, 1e30) for side in bounds)
    settings = {"eps_prox": 1e-4, "eta_prox": 1e-10, "primal_tol": 1e-9}
    found, *_ = daqp.solve(matrix.T @ matrix, slope, bars, high, low, **settings)
    return np.maximum(found[:count], 0.0) / columns


def _by_bounded_least_squares(rows):
    matrix, levels, _ = _lines(rows)
    columns = np.linalg.norm(matrix, axis=0)
    settings = {"method": "bvls", "tol": 1e-15, "max_iter": 1000}
    found = lsq_linear(matrix / columns, levels, (0, INF), **settings)
    return (found.x / columns)[:COUNT]


def _by_slsqp(rows):
    matrix, levels, hard = _lines(rows)
    columns = np.linalg.norm(matrix, axis=0)
    scaled, held = matrix[~hard] / columns, matrix[hard] / columns

    def square(point):
        miss = scaled @ point - levels[~hard]
        return miss @ miss, 2 * scaled.T @ miss

    bar = {
        "type": "eq",
        "fun": lambda point: held @ point - levels[hard],
        "jac": lambda point: held,
    }
    found = minimize(
        square,
        np.full(len(columns), 0.1),
        jac=True,
        bounds=[(0, None)] * len(columns),
        constraints=[bar],
        method="SLSQP",
        options={"ftol": 1e-18, "maxiter": 1000},
    )
    return (np.maximum(found.x, 0.0) / columns)[: len(rows[0].coefficients)]


def _apart(rows, amounts, others):
    """Return by how much objective and achieved values differ between two answers."""
    ours, theirs = _misses(rows, amounts), _misses(rows, others)
    square, other = float(ours @ ours), float(theirs @ theirs)
    return abs(square - other) / max(square, 1e-6), float(np.abs(ours - theirs).max())


def _best_of_others(rows, amounts):
    """Return daqp's answer, or where it does not agree the better of it and SLSQP's."""
    others = [_polished(rows, _by_daqp(rows))]
    if max(_apart(rows, amounts, others[0])) > 1e-8:
        others.append(_polished(rows, _by_slsqp(rows)))
    kept = [other for other in others if _breach(rows, other) <= 1e-9]
    return min(kept, key=lambda other: np.linalg.norm(_misses(rows, other)))


def test_every_problem_that_has_an_answer_is_answered():
    unanswered = [seed for seed in range(PROBLEMS) if _solved(seed) is None]
    assert unanswered == []  # each was built around amounts that keep its hard rows


@pytest.mark.parametrize("with_hard", [False, True])
def test_other_solvers_find_the_same_objective_and_the_same_values(with_hard):
    for seed in _seeds(with_hard):
        rows, amounts = _problem(seed), _solved(seed).amounts
        objective, values = _apart(rows, amounts, _best_of_others(rows, amounts))
        assert objective <= 1e-8, seed
        assert values <= 1e-6, seed


def test_bounded_least_squares_finds_the_same_without_hard_rows():
    for seed in _seeds(with_hard=False):
        rows, amounts = _problem(seed), _solved(seed).amounts
        objective, values = _apart(rows, amounts, _by_bounded_least_squares(rows))
        assert objective <= 1e-8, seed
        assert values <= 1e-6, seed


def test_sequential_programming_finds_nothing_better():
    for seed in _seeds(with_hard=True, step=5):
        rows, amounts = _problem(seed), _solved(seed).amounts
        others = _by_slsqp(rows)
        ours = np.linalg.norm(_misses(rows, amounts))
        if _breach(rows, others) <= 1e-9:
            assert ours <= np.linalg.norm(_misses(rows, others)) * (1 + 1e-8), seed


# --- optimality, worked out here from the rows alone -----------------------------------


def _unoptimal(rows, amounts):
    """Return the largest violation of the conditions of Karush, Kuhn and Tucker."""
    gradient, curvature = np.zeros(len(amounts)), np.zeros(len(amounts))
    normals, least = [], []
    for row in rows:
        value, line = _value(row, amounts), np.array(row.coefficients)
        if row.kind == "wanted":
            miss = value - min(max(value, row.low), row.high)
            gradient += row.weight / row.scale**2 * miss * line
            curvature += row.weight / row.scale**2 * line**2
            continue
        near = 1e-9 * max(1.0, abs(value))
        if row.low == row.high:
            normals.append(line)
            least.append(-INF)
        elif abs(value - row.high) <= near or abs(value - row.low) <= near:
            normals.append(line if abs(value - row.high) <= near else -line)
            least.append(0.0)
    size = np.sqrt(np.where(curvature > 0, curvature, 1.0))
    for j in np.flatnonzero(amounts * size <= 1e-12):
        normals.append(-np.eye(len(amounts))[j])
        least.append(0.0)
    matrix = np.array(normals).reshape(-1, len(amounts)).T / size[:, np.newaxis]
    matrix = matrix / np.linalg.norm(matrix, axis=0)
    if not matrix.shape[1]:
        return float(np.abs(gradient / size).max())
    settings = {"method": "bvls", "tol": 1e-15, "max_iter": 1000}
    found = lsq_linear(matrix, -gradient / size, (least, INF), **settings)
    left = np.abs(matrix @ found.x + gradient / size).max()
    return float(left / (1 + np.abs(found.x).max()))


@pytest.mark.parametrize("with_hard", [False, True])
def test_no_small_change_of_the_amounts_would_be_better(with_hard):
    for seed in _seeds(with_hard):
        rows, optimum = _problem(seed), _solved(seed)
        assert _breach(rows, optimum.amounts) <= 1e-9, seed
        assert _unoptimal(rows, optimum.amounts) <= 1e-9, seed
        assert optimum.violation <= OPTIMALITY


def test_a_small_change_of_what_is_wanted_changes_what_is_reached_no_more():
    # the nearest point of a convex set moves no further than the point it is near to
    rng = np.random.default_rng(1)
    for seed in _seeds(with_hard=False, step=8):
        rows = [row for row in _problem(seed) if row.low == row.high]
        moved, step = [], 1e-7 * rng.standard_normal(len(rows))
        for row, shift in zip(rows, step, strict=True):
            level = row.low + shift * row.scale / math.sqrt(row.weight)
            facts = {"scale": row.scale, "weight": row.weight}
            moved.append(
                Requirement(
                    row.name, row.coefficients, level, level, row.constant, **facts
                )
            )
        one, two = nearest_amounts(rows, COUNT), nearest_amounts(moved, COUNT)
        reached = _misses(rows, one.amounts) - _misses(rows, two.amounts)
        assert np.linalg.norm(reached) <= np.linalg.norm(step) * (1 + 1e-4) + 1e-12


def _small_problem(seed):
    """Return nine wanted rows over eight sparse columns, weighted very unlike."""
    rng = np.random.default_rng(seed)
    content = rng.uniform(0.5, 12, (9, 8)) * (rng.random((9, 8)) < 0.25)
    values, unwanted = rng.uniform(0.5, 12, 9), rng.random(9) < 0.25
    rows = []
    for line, scale, none in zip(np.round(content, 1), values, unwanted, strict=True):
        size = round(float(scale), 1)
        level = 0.0 if none else size
        weight = 4.0 if rng.random() < 0.5 else 0.01
        row = tuple(line.tolist())
        facts = {"scale": size, "weight": weight}
        rows.append(Requirement("wanted", row, level, level, **facts))
    return rows


# The first two lead scipy's own nnls astray by up to 90 % (its issue 25389).
@pytest.mark.parametrize("seed", [9966, 19106, *range(20)])
def test_a_small_problem_is_solved_as_bounded_least_squares_does(seed):
    rows = _small_problem(seed)
    matrix, levels, _ = _lines(rows)
    columns = np.linalg.norm(matrix, axis=0)
    columns[columns == 0] = 1.0
    settings = {"method": "bvls", "tol": 1e-15, "max_iter": 1000}
    found = lsq_linear(matrix / columns, levels, (0, INF), **settings)
    amounts = nearest_amounts(rows, 8).amounts
    ours, theirs = _misses(rows, amounts), _misses(rows, found.x / columns)
    assert ours == pytest.approx(theirs, abs=1e-9)


# --- hard rows -------------------------------------------------------------------------


def test_hard_rows_that_exclude_each_other_are_named_and_no_others():
    rows = [
        Requirement("at least 5", (1.0, 0.0), low=5, kind="hard"),
        Requirement("at most 3", (2.0, 0.0), high=6, kind="hard"),
        Requirement("something else", (0.0, 1.0), high=9, kind="hard"),
    ]
    with pytest.raises(Infeasible) as caught:
        nearest_amounts(rows, 2)
    assert set(caught.value.requirements) == {"at least 5", "at most 3"}
    assert "at least 5" in str(caught.value)
    assert "at most 3" in str(caught.value)


@pytest.mark.parametrize(
    ("coefficients", "low", "high"),
    [((1.0, 1.0), -INF, -1.0), ((0.0, 0.0), 1.0, 1.0), ((-1.0, -2.0), 1.0, INF)],
)
def test_a_hard_row_that_no_amounts_can_keep_is_named(coefficients, low, high):
    row = Requirement("impossible", coefficients, low, high, kind="hard")
    wanted = Requirement("wanted", (1.0, 1.0), 1, 1)
    with pytest.raises(Infeasible, match="impossible"):
        nearest_amounts([wanted, row], 2)


@pytest.mark.parametrize("size", [1e-6, 1e-3, 1.0, 1e3])
def test_a_hard_limit_holds_however_small_the_amounts_are(size):
    # a trace element is a thousand times smaller than the rest and no less strict
    rows = [
        Requirement("much", (9.0, 0.0), 10.0, 10.0, scale=10.0),
        Requirement("little", (0.0, 4.0), size, size, scale=size),
        Requirement("limit", (0.0, 4.0), high=size / 2, kind="hard"),
    ]
    optimum = nearest_amounts(rows, 2)
    assert 4 * optimum.amounts[1] == pytest.approx(size / 2, rel=1e-9)
    assert optimum.binding == ("limit",)


def test_of_the_hard_rows_those_that_hold_back_are_named():
    rows = [
        Requirement("first", (1.0, 0.0), 4.0, 4.0, scale=4.0),
        Requirement("second", (0.0, 1.0), 9.0, 9.0, scale=9.0),
        Requirement("wide enough", (1.0, 0.0), 1.0, 6.0, kind="hard"),
        Requirement("too tight", (0.0, 1.0), 2.0, 3.0, kind="hard"),
    ]
    optimum = nearest_amounts(rows, 2)
    assert optimum.amounts == pytest.approx([4.0, 3.0])
    assert optimum.binding == ("too tight",)


# --- the choice among equal recipes ----------------------------------------------------


def _corners(matrix, levels):
    """Return every corner of the set of non-negative solutions of some equations."""
    rank = np.linalg.matrix_rank(matrix)
    corners = []
    for chosen in map(list, combinations(range(matrix.shape[1]), rank)):
        part = matrix[:, chosen]
        if np.linalg.matrix_rank(part) == rank:
            values = np.linalg.lstsq(part, levels)[0]
            misfit = np.abs(part @ values - levels).max()
            if misfit < 1e-9 and values.min() > -1e-10:
                corner = np.zeros(matrix.shape[1])
                corner[chosen] = np.maximum(values, 0.0)
                corners.append(corner)
    return np.array(corners)


@pytest.mark.parametrize("priced", [True, False])
def test_least_cost_then_fewest_grams_by_looking_at_every_corner(priced):
    for seed in range(100):
        rng = np.random.default_rng(seed)
        content = rng.uniform(0.5, 8, (3, 7)) * (rng.random((3, 7)) < 0.6)
        content[:, 6] = content[:, 0]
        levels = content @ rng.uniform(0.1, 1, 7)
        prices = np.round(rng.uniform(0.5, 5, 7), 2) if priced else np.zeros(7)
        rows = [
            Requirement(f"row {i}", tuple(line.tolist()), value, value, scale=value)
            for i, (line, value) in enumerate(
                zip(content, levels.tolist(), strict=True)
            )
            if value
        ]
        amounts = nearest_amounts(
            rows, 7, prices=tuple(prices.tolist()) if priced else None
        ).amounts
        assert content @ amounts == pytest.approx(levels, rel=1e-9), seed
        corners = _corners(content, levels)
        costs = corners @ prices
        assert amounts @ prices == pytest.approx(costs.min(), rel=1e-7), seed
        cheapest = corners[costs <= costs.min() + 1e-9]
        fewest = cheapest.sum(axis=1).min()
        assert amounts.sum() == pytest.approx(fewest, rel=1e-7), seed
        equations = {"A_eq": content, "b_eq": levels}
        assert linprog(prices, **equations).fun == pytest.approx(
            float(amounts @ prices), rel=1e-7, abs=1e-12
        ), seed


def test_the_first_on_the_shelf_is_taken_where_cost_and_grams_are_the_same():
    row = Requirement("K", (5.0, 5.0, 5.0), 10.0, 10.0, scale=10.0)
    for prices in (None, (2.0, 2.0, 2.0)):
        optimum = nearest_amounts([row], 3, prices=prices)
        assert optimum.amounts == pytest.approx([2.0, 0.0, 0.0], abs=1e-9)
        assert not optimum.is_unique
    cheap_last = nearest_amounts([row], 3, prices=(2.0, 2.0, 1.0))
    assert cheap_last.amounts == pytest.approx([0.0, 0.0, 2.0], abs=1e-9)
    assert "least cost" in cheap_last.ranked_by


def test_a_recipe_is_called_unique_where_the_others_would_need_negative_amounts():
    # both: x + z = 1, y + z = 0; only (1, 0, 0) has no negative amount
    rows = [
        Requirement("both", (1.0, 0.0, 1.0), 1.0, 1.0),
        Requirement("none", (0.0, 1.0, 1.0), 0.0, 0.0),
    ]
    assert nearest_amounts(rows, 3).is_unique


# --- laws and edges --------------------------------------------------------------------


def test_the_order_of_rows_and_ingredients_does_not_change_what_is_reached():
    rng = np.random.default_rng(3)
    for seed in _seeds(with_hard=True, step=20):
        rows = _problem(seed)
        order = rng.permutation(COUNT)
        turned = [
            Requirement(
                row.name,
                tuple(np.array(row.coefficients)[order].tolist()),
                row.low,
                row.high,
                row.constant,
                kind=row.kind,
                scale=row.scale,
                weight=row.weight,
            )
            for row in reversed(rows)
        ]
        other = np.zeros(COUNT)
        other[order] = nearest_amounts(turned, COUNT).amounts
        ours = _misses(rows, _solved(seed).amounts)
        assert _misses(rows, other) == pytest.approx(ours, abs=1e-8), seed


def test_doing_it_twice_is_the_same_to_the_last_bit():
    for seed in _seeds(with_hard=True, step=50):
        again = nearest_amounts(_problem(seed), COUNT)
        assert np.array_equal(again.amounts, _solved(seed).amounts)


def test_rows_that_the_water_has_met_already_need_nothing():
    code = (
        "from formulate.recipes.least_squares import nearest_amounts;"
        "from formulate.recipes.requirements import Requirement;"
        "row = Requirement('K', (5.0, 2.0), 3.0, 3.0, constant=3.0);"
        "print(nearest_amounts([row], 2).amounts.max())"
    )
    # in a process of its own: an empty answer once brought the whole process down
    command = [sys.executable, "-c", code]
    done = subprocess.run(command, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-200:]
    assert float(done.stdout) == 0.0


def test_more_of_a_weight_brings_a_row_nearer():
    def miss(weight):
        rows = [
            Requirement("a", (1.0,), 1.0, 1.0, weight=weight),
            Requirement("b", (1.0,), 3.0, 3.0),
        ]
        return abs(float(nearest_amounts(rows, 1).amounts[0]) - 1.0)

    reached = [miss(weight) for weight in (0.0, 0.1, 1.0, 10.0)]
    assert all(later < earlier for earlier, later in pairwise(reached))
    # hand computation: (w * 1 + 3) / (w + 1)
    assert reached == pytest.approx([2.0, 2 / 1.1, 1.0, 2 / 11.0])


@pytest.mark.parametrize(
    ("rows", "count", "prices"),
    [
        ([], 2, None),
        ([Requirement("short", (1.0,), 1, 1)], 3, None),
        ([Requirement("long", (1.0, 2.0, 3.0), 1, 1)], 2, None),
        ([Requirement("fine", (1.0, 2.0), 1, 1)], 2, (1.0,)),
        ([Requirement("fine", (1.0, 2.0), 1, 1)], 2, (1.0, None)),
        ([Requirement("fine", (1.0, 2.0), 1, 1)], 2, (1.0, math.nan)),
        (["no row"], 2, None),
        ([None], 2, None),
    ],
)
def test_rows_and_prices_that_do_not_fit_are_refused(rows, count, prices):
    with pytest.raises(InputError):
        nearest_amounts(rows, count, prices=prices)
