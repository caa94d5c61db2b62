"""Cost against closeness: hand arithmetic, scipy alone and a fine grid are the judges."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from priced_problems import closest, least_alone, priced_recipe
from scipy.optimize import linprog

from formulate.errors import InputError, MissingData
from formulate.ingredients.salts import acid, salt
from formulate.recipes.cheapest import cheapest
from formulate.recipes.cost_curve import cost_curve
from formulate.recipes.solve import solve
from formulate.recipes.target import target

KNO3 = salt("KNO3", price_per_kg=2.0)
K2SO4 = salt("K2SO4", price_per_kg=1.0)
RULE = 0.05  # what cannot be brought nearer by itself is out of reach


@pytest.fixture(scope="module")
def curves():
    rng = np.random.default_rng(11)
    return [cost_curve(priced_recipe(rng)) for _ in range(25)]


def slopes(curve):
    rows = curve.rows()
    return [(b[1] - a[1]) / (b[0] - a[0]) for a, b in pairwise(rows)]


def test_first_point_by_hand():
    # K = N + 2 S in mmol. 200 mg/L K, 60 mg/L N and 10 mg/L S ask for 5.1153 K where N and
    # S bring 4.9077: every value off by the same share e, (1 - e) 5.1153 = (1 + e) 4.9077.
    wish = target({"K": 200, "NO3-N": 60, "S": 10})
    curve = cost_curve(solve(wish, [KNO3, K2SO4], volume=100))
    k, others = 200 / 39.0983, 60 / 14.007 + 2 * 10 / 32.06
    assert curve.points[0].deviation == pytest.approx(
        100 * (k - others) / (k + others), rel=1e-4
    )
    grams = others * (1 + curve.points[0].deviation / 100)
    assert grams == pytest.approx(k * (1 - curve.points[0].deviation / 100), rel=1e-6)
    assert curve.exact.deviation > curve.points[0].deviation


def test_one_salt_by_hand():
    curve = cost_curve(solve(target({"K": 200}), [KNO3], volume=100))
    whole = 200 / 39.0983 * 101.1023 / 1e6 * 100 * 2.0  # 200 mg/L, 100 L, 2 a kilogram
    assert len(curve.points) == 9
    for deviation, cost, names in curve.rows():
        assert cost == pytest.approx(whole * (1 - deviation / 100), rel=1e-5)
        assert names == ("KNO3",)
    assert curve.points[0].deviation == pytest.approx(0, abs=1e-6)
    assert curve.points[-1].deviation == pytest.approx(25)


def test_costs_fall_and_their_fall_slows(curves):
    for curve in curves:
        size = max(curve.points[0].cost, 1e-9)
        falls = slopes(curve)
        assert all(fall <= 1e-8 * size for fall in falls)
        assert all(b >= a - 1e-6 * size for a, b in pairwise(falls))


def test_points_are_enough_and_in_order(curves):
    for curve in curves:
        places = [point.deviation for point in curve.points]
        assert len(places) >= 9
        assert all(b > a for a, b in pairwise(places))


def out_of_reach(recipe):
    """Return what cannot be brought within the rule by itself, and its own least."""
    alone = {key: least_alone(recipe, key) for key in recipe.target.wanted}
    return {key: off for key, off in alone.items() if off > RULE}


def test_first_point_is_the_smallest_worst_deviation(curves):
    looked = 0
    for curve in curves:
        recipe = curve.recipe
        if any("let in" in notice.what for notice in curve.notices):
            continue  # what must be let in then counts by itself
        least = 100 * closest(recipe, out_of_reach(recipe))
        assert curve.points[0].deviation == pytest.approx(least, rel=1e-6, abs=1e-5)
        looked += 1
    assert looked > 12


def test_what_is_out_of_reach_is_so_by_itself(curves):
    for curve in curves:
        told = {n.what.split()[0] for n in curve.notices if "cannot be" in n.what}
        assert told == set(out_of_reach(curve.recipe))


def test_hard_water_by_scipy_alone():
    # Six values from five salts in a hard water: the exact recipe is 19.5 % off in N, yet
    # all six come within 13.2 %, and nothing is out of reach.
    prices = {"Ca(NO3)2·4H2O": 1, "KNO3": 1.7, "KH2PO4": 2.4, "MgSO4·7H2O": 3.1}
    prices |= {"K2SO4": 3.8}
    bags = [salt(formula, price_per_kg=price) for formula, price in prices.items()]
    feed = {"N": 150, "P": 40, "K": 210, "Ca": 160, "Mg": 45, "S": 60}
    recipe = solve(target(feed), bags, volume=100, water="hard-tap-voehringen")
    aim, rows, bounds = np.append(np.zeros(5), 1.0), [], []
    for key, value in recipe.target.wanted.items():
        row = np.array([bag.amount(key) for bag in bags]) / value
        tap = recipe.water.solution.mmol_l(key) / value
        rows += [np.append(row, -1.0), np.append(-row, -1.0)]
        bounds += [1.0 - tap, tap - 1.0]
    least = linprog(aim, A_ub=np.array(rows), b_ub=bounds, method="highs").fun
    assert 100 * least == pytest.approx(13.17, abs=0.005)
    curve = cost_curve(recipe)
    assert curve.points[0].deviation == pytest.approx(100 * least, rel=1e-6)
    worst = max(abs(miss) for miss in recipe.misses.values())
    assert curve.exact.deviation == pytest.approx(100 * worst, rel=1e-9)
    assert curve.exact.deviation > curve.points[0].deviation
    assert curve.notices == ()
    nearer = cheapest(recipe)
    offs = [abs(miss) for miss in nearer.recipe.misses.values()]
    assert max(offs) == pytest.approx(least, abs=1e-4)
    assert any("13.17 % is the least" in notice.what for notice in nearer.notices)


def test_closest_point_with_an_acid_and_a_ph():
    # Limits of 4.5 % either way on all six values are kept by a solve that knows no bands.
    prices = {"Ca(NO3)2·4H2O": 1, "KNO3": 1.7, "KH2PO4": 2.4, "MgSO4·7H2O": 3.1}
    prices |= {"K2SO4": 3.8}
    bags = [salt(formula, price_per_kg=price) for formula, price in prices.items()]
    bags.append(acid("HNO3", percent=67, density=1.4, price_per_kg=2.0))
    feed = {"N": 150, "P": 40, "K": 210, "Ca": 160, "Mg": 45, "S": 60}
    facts = {"volume": 100, "water": "hard-tap-voehringen"}
    recipe = solve(target(feed, limits={"pH": "exactly 5.8"}), bags, **facts)
    limits = {key: f"{0.955 * mg} to {1.045 * mg} mg/L" for key, mg in feed.items()}
    near = solve(target(feed, limits={**limits, "pH": "exactly 5.8"}), bags, **facts)
    assert max(abs(miss) for miss in near.misses.values()) <= 0.045 * (1 + 1e-6)
    curve = cost_curve(recipe)
    assert curve.points[0].deviation <= 4.5
    assert len(curve.points) >= 9
    assert not [n for n in curve.notices if "left out" in n.what or "cannot" in n.what]
    found = cheapest(recipe, within=0.05)
    assert found.cost <= near.cost * (1 + 1e-6)
    assert max(abs(miss) for miss in found.recipe.misses.values()) <= 0.05 * (1 + 1e-6)


def test_points_cost_what_the_cheapest_recipe_costs():
    rng = np.random.default_rng(5)
    compared = 0
    while compared < 10:
        recipe = priced_recipe(rng, least=15)
        if out_of_reach(recipe):
            continue  # beyond what is out of reach, bands are counted otherwise
        for deviation, cost, _ in cost_curve(recipe).rows()[1:]:
            found = cheapest(recipe, within=deviation / 100)
            nothing = 1e-7 * recipe.cost  # where all but nothing is left to pay
            assert cost == pytest.approx(found.cost, rel=1e-6, abs=nothing)
        compared += 1
    assert compared == 10


def test_every_set_of_ingredients_shows():
    rng = np.random.default_rng(8)
    seen = 0
    for _ in range(8):
        recipe = priced_recipe(rng, least=25, most=30)
        if max(abs(miss) for miss in recipe.misses.values()) > 0.01:
            continue
        curve = cost_curve(recipe, points=2)
        shown = {names for _, _, names in curve.rows()}
        last = curve.points[-1].deviation
        for share in np.linspace(0.3, 0.999 * last, 25):
            found = cheapest(recipe, within=float(share) / 100)
            names = tuple(i.name for i, _ in found.recipe.amounts)
            assert names in shown
        seen += len(shown) > 2
    assert seen >= 3


def test_last_point_is_where_cost_no_longer_falls():
    # All is free but K2SO4, which is used only for sulfur: 10 % less of it at 10 % off ...
    # until 25 %; of KNO3 alone at no price the cost is 0 from the start.
    free = replace(KNO3, price=0.0)
    flat = cost_curve(solve(target({"K": 200}), [free], volume=10))
    assert {cost for _, cost, _ in flat.rows()} == {0.0}
    # K wanted 200, from KNO3; 2 mg/L of S asks for some K2SO4, given up where K allows no more
    wish = target({"K": "190-210", "S": 2}, weights={"S": 0})
    curve = cost_curve(solve(wish, [KNO3, K2SO4], volume=100))
    assert curve.points[-1].deviation == pytest.approx(25)


def test_exact_recipe_stands_apart(curves):
    for curve in curves:
        recipe = curve.recipe
        assert curve.exact.cost == pytest.approx(recipe.cost)
        out = out_of_reach(recipe)
        offs = [abs(miss) - out.get(key, 0.0) for key, miss in recipe.misses.items()]
        assert curve.exact.deviation == pytest.approx(100 * max(offs), abs=1e-5)
        if not any("let in" in notice.what for notice in curve.notices):
            assert curve.exact.deviation >= curve.points[0].deviation - 1e-4
        dearest = curve.points[0]
        if recipe.target.wanted and curve.exact.deviation <= dearest.deviation:
            assert dearest.cost <= curve.exact.cost * (1 + 1e-6)


def test_what_cannot_be_avoided_is_told():
    wish = target({"K": 200, "Mg": 30})
    curve = cost_curve(solve(wish, [KNO3], volume=100))
    assert any(n.what.startswith("Mg") and "-100.0 %" in n.what for n in curve.notices)
    assert curve.points[0].deviation == pytest.approx(0, abs=1e-6)


def test_table_and_text():
    curve = cost_curve(solve(target({"K": 200}), [KNO3, K2SO4], volume=100), 12)
    assert curve.to_frame().shape == (len(curve.points), 3)
    assert len(curve.points) >= 12
    assert "the exact recipe:" in str(curve)


def test_every_fault_at_once():
    recipe = solve(target({"K": 200}), [salt("KNO3")], volume=100)
    with pytest.raises(InputError) as caught:
        cost_curve(recipe, points=1)
    assert "no price for KNO3" in str(caught.value)
    assert "number of points" in str(caught.value)
    with pytest.raises(MissingData):
        cost_curve(recipe)
    with pytest.raises(InputError, match="is no recipe"):
        cost_curve(3)


@pytest.mark.parametrize("bad", [0, -4, 2.5, float("nan"), "nine", 10**6, True])
def test_points_are_a_whole_number(bad):
    recipe = solve(target({"K": 200}), [KNO3], volume=100)
    with pytest.raises(InputError, match="number of points"):
        cost_curve(recipe, points=bad)
