"""First these, then those: against daqp, stage by stage, on a hundred problems."""

import math
from dataclasses import replace

import numpy as np
import pytest
from test_least_distance import _best_of_daqp, _crowded
from test_least_squares import COUNT, _breach, _misses, _value

from formulate.recipes.least_squares import nearest_amounts
from formulate.recipes.requirements import Requirement
from formulate.recipes.stages import amounts_in_order

INF = math.inf
PROBLEMS = 100
HELD = 1e-8  # what the first rows reached is held by daqp to no more than this
VALUES = 1e-4  # of the wanted value: 1e-9 of a large row moves a trace by 1e5 as much


def _problem(seed):
    """Return twelve target rows with two hard ones, and two groups of keys."""
    rng = np.random.default_rng(seed)
    rows = [
        replace(row, key=f"key {i}", origin="target")
        if row.kind == "wanted"
        else replace(row, low=row.low - 0.1, high=row.high + 0.1)
        for i, row in enumerate(_crowded(seed, hard=2))
    ]
    keys = rng.permutation([row.key for row in rows if row.kind == "wanted"]).tolist()
    return rows, (tuple(keys[:3]), tuple(keys[3:7]))


def _wanted(rows, keys=None):
    return [
        row
        for row in rows
        if row.kind == "wanted" and (keys is None or row.key in keys)
    ]


def _by_stages(rows, priorities):
    """Return daqp's amounts, what the first rows reached held as equations.

    None where it finds no point: held so, the first rows may leave it a single corner,
    and it misses that by a last digit.
    """
    hard = [row for row in rows if row.kind == "hard"]
    left = _wanted(rows)
    for group in (*priorities, tuple(row.key for row in left)):
        now = [row for row in left if row.key in group]
        if not now:
            continue
        amounts = _best_of_daqp([*hard, *now], breach=HELD)
        if amounts is None:
            return None
        for row in now:
            value = _value(row, amounts)
            low = high = value
            if row.low - 1e-8 * row.scale <= value <= row.high + 1e-8 * row.scale:
                low, high = row.low, row.high
            hard.append(replace(row, kind="hard", low=low, high=high))
        left = [row for row in left if row not in now]
    return amounts


def test_no_later_group_costs_an_earlier_one_anything():
    for seed in range(PROBLEMS):
        rows, (first, second) = _problem(seed)
        hard = [row for row in rows if row.kind == "hard"]
        alone = nearest_amounts([*hard, *_wanted(rows, first)], COUNT).amounts
        both = amounts_in_order(rows, COUNT, (first, second)).amounts
        firsts = _wanted(rows, first)
        ours, best = _misses(firsts, both), _misses(firsts, alone)
        assert ours == pytest.approx(best, abs=1e-8), seed
        assert _breach(rows, both) <= 1e-8, seed


def test_daqp_reaches_the_same_stage_by_stage():
    compared = 0
    for seed in range(3 * PROBLEMS // 2):
        rows, priorities = _problem(seed)
        ours = amounts_in_order(rows, COUNT, priorities)
        assert ours.violation <= 1e-9
        amounts = _by_stages(rows, priorities)
        if amounts is not None:
            others = _misses(rows, amounts)
            assert _misses(rows, ours.amounts) == pytest.approx(others, abs=VALUES), (
                seed
            )
            compared += 1
    assert compared >= PROBLEMS


def test_without_priorities_it_is_one_solve():
    for seed in range(0, PROBLEMS, 5):
        rows, _ = _problem(seed)
        rows.sort(key=lambda row: row.kind)  # hard ones first, as stages put them
        one = nearest_amounts(rows, COUNT).amounts
        assert np.array_equal(amounts_in_order(rows, COUNT, ()).amounts, one)
        unknown = amounts_in_order(rows, COUNT, [("no such key",)]).amounts
        assert np.array_equal(unknown, one)


def _row(key, line, low, high, **facts):
    return Requirement(key, line, low, high, key=key, origin="target", **facts)


def test_a_range_that_is_reached_stays_free_for_the_next():
    rows = [_row("K", (1.0,), 2.0, 4.0), _row("N", (2.0,), 7.0, 7.0)]
    # K anywhere from 2 to 4 is as good, so N takes x = 3.5
    assert amounts_in_order(rows, 1, [("K",)]).amounts == pytest.approx([3.5])


def test_a_range_that_is_missed_is_held_where_it_was_missed():
    cap = Requirement("cap", (1.0, 1.0), high=1.0, kind="hard")
    rows = [cap, _row("K", (1.0, 0.0), 2.0, 4.0), _row("N", (0.0, 1.0), 1.0, 1.0)]
    assert amounts_in_order(rows, 2, [("K",)]).amounts == pytest.approx([1.0, 0.0])
    assert amounts_in_order(rows, 2, [("N",)]).amounts == pytest.approx([0.0, 1.0])


@pytest.mark.parametrize("size", [1e-4, 0.1, 0.3, 1 / 3, 7.1])
def test_a_range_met_at_its_end_up_to_a_last_digit_is_free_too(size):
    # the first row is met at the end of its range only because the cap ends there; with
    # the second in the way it may move inwards
    rows = [
        _row("K", (0.1, 0.2), size, 2 * size, scale=size),
        _row("N", (3.0, 0.0), 30 * size * 1.5, 30 * size * 1.5, scale=size),
    ]
    found = amounts_in_order(rows, 2, [("K",)]).amounts
    # N wants x = 15 size, of which K has 1.5 size: within its range
    assert _value(rows[1], found) == pytest.approx(45 * size, rel=1e-9)
    assert size <= _value(rows[0], found) * (1 + 1e-9) <= 2 * size * (1 + 2e-9)


def test_rows_that_keep_an_ion_low_come_last():
    low = Requirement("Cl", (1.0,), 0.0, 0.0, key="Cl", origin="kept low", weight=100.0)
    rows = [low, _row("K", (1.0,), 3.0, 3.0)]
    assert amounts_in_order(rows, 1, [("K", "Cl")]).amounts == pytest.approx([3.0])


def test_a_group_within_a_group_is_held_with_the_first():
    rows = [_row("K", (1.0,), 2.0, 2.0), _row("N", (1.0,), 1.0, 1.0)]
    once = amounts_in_order(rows, 1, [("K",), ("K", "N")]).amounts
    assert once == pytest.approx([2.0])
