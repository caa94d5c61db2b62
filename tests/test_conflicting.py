"""Two hundred sets of rows that cannot hold, each conflict proven by HiGHS.

Every set is built around amounts that keep all rows but the ones that contradict, and the
contradiction is wide (a hundredth or more), so that no tolerance decides.
"""

import math

import numpy as np
import pytest
from scipy.optimize import linprog

from formulate.errors import Infeasible
from formulate.recipes.conflicting import can_hold, conflicting, conflicts_apart
from formulate.recipes.least_squares import nearest_amounts
from formulate.recipes.requirements import Requirement

INF = math.inf
PROBLEMS, COUNT, NUTRIENTS = 200, 15, 10
KINDS = ("bounds", "ratio", "water", "fixed", "three", "four", "two", "equation")


def _hard(name, line, low=-INF, high=INF, constant=0.0):
    line = tuple(float(value) for value in line)
    return Requirement(name, line, float(low), float(high), constant, kind="hard")


def _bounds(content, wide):
    """At most 1 and at least more than 1 of the same."""
    least = _hard("least", 3 * content[0], low=3 * wide, constant=0.0)
    return [_hard("most", content[0], high=1.0), least]


def _ratio(content, wide):
    """a at least 2, b at most 1, but a : b at most less than 2."""
    line = content[0] - 2 / wide * content[1]
    return [
        _hard("a", content[0], low=2.0),
        _hard("b", content[1], high=1.0),
        _hard("a : b", line, high=0.0),
    ]


def _water(content, wide):
    """The water alone brings more than the greatest value."""
    return [_hard("water", content[0], high=1.0, constant=wide)]


def _fixed(content, wide):
    """A fixed amount brings too much."""
    picked = np.eye(COUNT)[np.argmax(content[0])]
    high = content[0].max() / wide
    return [_hard("fixed", picked, 1.0, 1.0), _hard("most", content[0], high=high)]


def _three(content, wide):
    """a at least 1, b at least 1, a + b at most less than 2."""
    return [
        _hard("a", content[0], low=1.0),
        _hard("b", content[1], low=1.0),
        _hard("sum", content[0] + content[1], high=2 / wide),
    ]


def _four(content, wide):
    """Three parts at least 1 each, their sum at most less than 3."""
    parts = [_hard(f"part {i}", content[i], low=1.0) for i in range(3)]
    return [*parts, _hard("sum", content[:3].sum(axis=0), high=3 / wide)]


def _two(content, wide):
    """Two conflicts that share no row."""
    others = [
        _hard("most 4", content[4], high=1e-3),
        _hard("least 4", content[4], low=1e-3 * wide),
    ]
    return [*_three(content, wide), *others]


def _equation(content, wide):
    """Equations for a, b and a + 2 b that do not add up."""
    return [
        _hard("a", content[0], 1.0, 1.0),
        _hard("b", content[1], 1.0, 1.0),
        _hard("a + 2 b", content[0] + 2 * content[1], 3 * wide, 3 * wide),
    ]


MAKERS = (_bounds, _ratio, _water, _fixed, _three, _four, _two, _equation)


def _problem(seed):
    """Return rows that cannot hold, others that can, and a few wishes, mixed."""
    rng = np.random.default_rng(seed)
    content = rng.uniform(0.5, 12, (NUTRIENTS, COUNT))
    content *= rng.random(content.shape) < 0.4
    content[np.arange(NUTRIENTS), np.arange(NUTRIENTS)] = rng.uniform(1, 12, NUTRIENTS)
    wide = float(rng.choice([1.01, 1.1, 2.0, 10.0]))
    rows = MAKERS[seed % len(MAKERS)](content, wide)
    inside = rng.uniform(0.05, 0.5, COUNT)
    for i in range(rng.integers(3, 9)):
        line = content[rng.integers(NUTRIENTS)] - content[rng.integers(NUTRIENTS)]
        value, room = float(line @ inside), float(rng.choice([5.0, 50.0]))
        low, high = [(-INF, value + room), (value - room, INF)][rng.integers(2)]
        rows.append(_hard(f"other {i}", line, low, high))
    wish = tuple(content[5].tolist())
    rows.append(Requirement("wish", wish, 2.0, 2.0, scale=2.0))
    return [rows[i] for i in rng.permutation(len(rows))]


def _feasible(rows):
    """Return what HiGHS says of the hard rows of a set."""
    lines, levels = [], []
    for row in rows:
        if row.kind == "hard":
            size = max(map(abs, row.coefficients)) or 1.0
            for end, sign in ((row.high, 1.0), (row.low, -1.0)):
                if math.isfinite(end):
                    lines.append(sign * np.array(row.coefficients) / size)
                    levels.append(sign * (end - row.constant) / size)
    if not lines:
        return True
    count = len(lines[0])
    options = {"primal_feasibility_tolerance": 1e-10, "presolve": False}
    facts = {"method": "highs-ds", "options": options}
    result = linprog(np.zeros(count), np.array(lines), levels, **facts)
    assert result.status in (0, 2), result.message
    return result.status == 0


def _is_irreducible(rows):
    return not _feasible(rows) and all(
        _feasible([other for other in rows if other is not row]) for row in rows
    )


def test_highs_finds_every_problem_infeasible():
    assert not any(_feasible(_problem(seed)) for seed in range(PROBLEMS))


def test_each_conflict_cannot_hold_and_needs_every_row_of_it():
    sizes = set()
    for seed in range(PROBLEMS):
        found = conflicting(_problem(seed), COUNT)
        assert _is_irreducible(found), seed
        sizes.add(len(found))
    assert {1, 2, 3, 4} <= sizes


def test_conflicts_apart_share_no_row_and_leave_a_rest_that_holds():
    several = 0
    for seed in range(PROBLEMS):
        rows = _problem(seed)
        found = conflicts_apart(rows, COUNT)
        several += len(found) > 1
        names = [row.name for conflict in found for row in conflict]
        assert len(names) == len(set(names)), seed
        assert all(map(_is_irreducible, found)), seed
        assert _feasible([row for row in rows if row.name not in names]), seed
    assert several >= PROBLEMS // len(KINDS)


def test_whether_rows_can_hold_is_what_highs_says():
    for seed in range(PROBLEMS):
        rows = _problem(seed)
        for size in range(1, len(rows) + 1, 2):
            part = rows[:size]
            assert can_hold(part, COUNT) == _feasible(part), (seed, size)


def test_the_solver_names_the_same_conflict():
    for seed in range(0, PROBLEMS, 5):
        rows = _problem(seed)
        with pytest.raises(Infeasible) as caught:
            nearest_amounts(rows, COUNT)
        named = [row for row in rows if row.name in caught.value.requirements]
        assert _is_irreducible(named), seed


@pytest.mark.parametrize("factor", [1e-3, 1e3])
def test_units_do_not_change_whether_rows_can_hold(factor):
    for seed in range(0, PROBLEMS, 3):
        turned = [
            _hard(
                row.name,
                [factor * value for value in row.coefficients],
                row.low,
                row.high,
                row.constant,
            )
            for row in _problem(seed)
            if row.kind == "hard"
        ]
        found = conflicting(turned, COUNT)
        assert _is_irreducible(found), seed


@pytest.mark.parametrize("size", [1e-6, 1e-3, 1.0, 1e3])
def test_small_bounds_contradict_like_large_ones_beside_a_row_of_usual_size(size):
    rows = [
        _hard("most", (4.0, 0.0), high=size),
        _hard("least", (4.0, 0.0), low=1.05 * size),
        _hard("usual", (0.0, 5.0), low=10.0),
    ]
    assert [row.name for row in conflicting(rows, 2)] == ["most", "least"]


def test_bounds_that_touch_can_hold():
    rows = [
        _hard("most", (0.1, 0.2), high=0.3),
        _hard("least", (0.1, 0.2), low=0.1 + 0.2),  # a last digit more than 0.3
        _hard("exact", (1.0, 2.0), 3.0, 3.0),
    ]
    assert can_hold(rows, 2)
    assert conflicting(rows, 2) == ()


def test_rows_of_zeros():
    holds = _hard("nothing", (0.0, 0.0), high=1.0)
    fails = _hard("something", (0.0, 0.0), low=1.0)
    assert can_hold([holds], 2)
    assert conflicting([holds, fails], 2) == (fails,)


def test_equal_rows_are_told_apart():
    least = _hard("least", (1.0,), low=3.0)
    twice = [_hard("most", (1.0,), high=2.0) for _ in range(2)]
    found = conflicting([*twice, least], 1)
    assert len(found) == 2
    assert found[1] is least


def test_no_hard_rows_do_not_conflict():
    assert can_hold([Requirement("wish", (1.0,), 1.0, 1.0)], 1)
    assert conflicting([], 1) == ()
    assert conflicts_apart([Requirement("wish", (1.0,), 1.0, 1.0)], 1) == ()
