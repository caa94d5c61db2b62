"""What would have to give, against linear programmes that ask for the least.

HiGHS finds how far a row must move for the others to hold; of a ratio, the least or
greatest there is (the programme of Charnes and Cooper, 1962, Naval Research Logistics
Quarterly 9, 181).
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linprog
from test_conflicting import COUNT, PROBLEMS, _feasible, _hard, _problem

from formulate.errors import Infeasible
from formulate.recipes.least_squares import nearest_amounts
from formulate.recipes.limits import Limit
from formulate.recipes.relaxing import relaxations

INF = math.inf
MOVE = 1e-6  # share of a move that may differ: bounds are let go 1e-8 further
RATIO = 1e-8  # share of a ratio
OPTIONS = {
    "method": "highs-ds",
    "options": {
        "primal_feasibility_tolerance": 1e-10,
        "dual_feasibility_tolerance": 1e-10,
    },
}


def _sides(row):
    """Return (line, level): what the line of amounts may be at most, for each side."""
    line = np.array(row.coefficients)
    ends = ((row.high, 1.0), (row.low, -1.0))
    return [
        (sign * line, sign * (end - row.constant))
        for end, sign in ends
        if math.isfinite(end)
    ]


def _least_move(row, others):
    """Return by how much a row must be broken for the others to hold; None if never."""
    size = max(map(abs, row.coefficients)) or 1.0
    lines, levels = [], []
    for other in others:
        length = max(map(abs, other.coefficients)) or 1.0
        for line, level in _sides(other):
            lines.append(np.append(line, 0.0) / length)
            levels.append(level / length)
    for line, level in _sides(row):
        lines.append(np.append(line / size, -1.0))
        levels.append(level / size)
    cost = np.append(np.zeros(len(row.coefficients)), 1.0)
    result = linprog(cost, np.array(lines), levels, **OPTIONS)
    return float(result.fun) * size if result.status == 0 else None


def _hard_rows(rows):
    return [row for row in rows if row.kind == "hard"]


def _cases():
    """Yield (seed, conflict, ways, the hard rows that stay) of every problem."""
    for seed in range(PROBLEMS):
        rows = _problem(seed)
        found = relaxations(rows, COUNT)
        assert found, seed
        for conflict, ways in found:
            named = [
                row for rows_, _ in found if rows_ is not conflict for row in rows_
            ]
            rest = [row for row in _hard_rows(rows) if row not in named]
            yield seed, conflict, ways, rest


def test_each_row_gives_way_by_the_least_there_is():
    seen = 0
    for seed, conflict, ways, hard in _cases():
        moves = {}
        for row in conflict:
            move = _least_move(row, [other for other in hard if other is not row])
            if move is not None:
                moves[row.name] = move
        assert {way.requirement.name for way in ways} == set(moves), seed
        for way in ways:
            expected = moves[way.requirement.name]
            assert way.by == pytest.approx(expected, rel=MOVE), (seed, way.requirement)
            seen += 1
    assert seen > PROBLEMS


def _moved(row, share, way):
    """Return a row let go by a share of the move of its relaxation."""
    if way.bound < row.low:
        return replace(row, low=row.low - share * way.by)
    return replace(row, high=row.high + share * way.by)


def test_with_the_bound_all_can_hold_and_with_a_little_less_they_cannot():
    for seed, _, ways, hard in _cases():
        for way in ways:
            rest = [row for row in hard if row is not way.requirement]
            assert _feasible([*rest, way.relaxed]), seed
            tight = _moved(way.requirement, 0.999, way)
            assert not _feasible([*rest, tight]), seed


def test_the_recipe_of_a_way_out_keeps_every_row_of_it():
    for seed, _, ways, hard in _cases():
        for way in ways:
            rest = [row for row in hard if row is not way.requirement]
            for row in [*rest, way.relaxed]:
                value = row.constant + float(
                    np.dot(row.coefficients, way.optimum.amounts)
                )
                give = 1e-8 * max(1.0, abs(value), *map(abs, row.coefficients))
                assert row.low - give <= value <= row.high + give, (seed, row)
            assert way.optimum.violation <= 1e-9


def test_a_range_gives_way_on_the_side_that_was_in_the_way():
    between = _hard("between 1 and 2", [1.0], 1.0, 2.0)
    least = _hard("least", [1.0], low=5.0)
    ((_, ways),) = relaxations([between, least], 1)
    # up from 2 to 5, not from 1; and from 5 down to 2
    assert [way.by for way in ways] == pytest.approx([3.0, 3.0])
    assert [way.bound for way in ways] == pytest.approx([5.0, 2.0])


# --- ratios ----------------------------------------------------------------------------


def _ratio_row(part, whole, asked, side):
    """Return the row of a ratio; the last number of a part is the water's."""
    low, high = {"least": (0.0, INF), "most": (-INF, 0.0), "exact": (0.0, 0.0)}[side]
    bounds = {"least": (asked, INF), "most": (-INF, asked), "exact": (asked, asked)}
    held = Limit("a:b", *bounds[side], "")
    *line, water = (part - asked * whole).tolist()
    row = _hard(f"a:b {side} {asked}", line, low, high, water)
    return replace(row, limit=held, below=tuple(whole.tolist()), origin="limit")


def _extreme_ratio(part, whole, others, sign):
    """Return the least (sign 1) or greatest (-1) ratio that others allow."""
    lines, levels = [], []
    for row in others:
        for line, level in _sides(row):
            lines.append(np.append(line, -level))
            levels.append(0.0)
    facts = {"A_eq": whole[np.newaxis], "b_eq": [1.0], **OPTIONS}
    result = linprog(sign * part, np.array(lines), levels, **facts)
    assert result.status == 0, result.message
    return sign * float(result.fun)


def _ratio_problem(seed):
    """Return parts of a ratio, and rows that bound every amount and both parts."""
    rng = np.random.default_rng(50_000 + seed)
    part, whole = rng.uniform(0.5, 10, (2, 9)) * (rng.random((2, 9)) < 0.7)
    part[-1], whole[-1] = rng.choice([0.0, 0.5], 2)
    inside = rng.uniform(0.1, 1, 8)
    rows = [
        _hard(f"most {i}", line, high=3 * inside[i]) for i, line in enumerate(np.eye(8))
    ]
    for name, line in (("a", part), ("b", whole)):
        value = float(line[:-1] @ inside) + line[-1]
        rows.append(_hard(f"{name} least", line[:-1], 0.7 * value, INF, line[-1]))
        rows.append(_hard(f"{name} most", line[:-1], -INF, 1.4 * value, line[-1]))
    return part, whole, rows


@pytest.mark.parametrize("side", ["least", "most", "exact above", "exact below"])
def test_a_ratio_gives_way_to_the_nearest_there_is(side):
    for seed in range(40):
        part, whole, rows = _ratio_problem(seed)
        from_above = side in ("most", "exact below")
        bound = _extreme_ratio(part, whole, rows, 1.0 if from_above else -1.0)
        asked = bound * (0.7 if from_above else 1.5)
        row = _ratio_row(part, whole, asked, side.split()[0])
        assert not _feasible([*rows, row]), seed
        ((conflict, ways),) = relaxations([*rows, row], 8)
        assert row in conflict, seed
        (way,) = (way for way in ways if way.requirement is row)
        assert way.bound == pytest.approx(bound, rel=RATIO), seed
        assert way.by == pytest.approx(abs(asked - bound), rel=10 * RATIO), seed
        assert _feasible([*rows, way.relaxed]), seed
        near = bound + 1e-3 * (asked - bound)
        tight = _ratio_row(part, whole, near, side.split()[0])
        assert not _feasible([*rows, tight]), seed


def test_a_ratio_that_nothing_helps_is_left_out():
    # b is never there, a always is: no greatest ratio however large would do
    part, whole = np.array([1.0, 0.0]), np.array([0.0, 0.0])
    row = _ratio_row(part, whole, 2.0, "most")
    least = _hard("a", [1.0], low=1.0)
    ((conflict, ways),) = relaxations([row, least], 1)
    assert set(conflict) == {row, least}
    assert [way.requirement.name for way in ways] == ["a"]
    assert ways[0].bound == pytest.approx(0.0, abs=1e-9)


def test_rows_that_hold_have_nothing_to_give():
    assert relaxations([_hard("most", [1.0], high=2.0)], 1) == ()
    with pytest.raises(Infeasible):
        nearest_amounts([_hard("most", [1.0], high=-2.0)], 1)
