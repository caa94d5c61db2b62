"""The cheapest recipe: hand arithmetic, scipy alone and all vertices are the judges."""

from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest
from priced_problems import LOW, MASS, closest, least_alone, priced_recipe, programme
from scipy.optimize import linprog

from formulate.errors import InputError, MissingData
from formulate.ingredients.ingredient import analysed
from formulate.ingredients.salts import acid, salt
from formulate.recipes.cheapest import cheapest
from formulate.recipes.least_cost import GAP, least_cost
from formulate.recipes.practical import weigh
from formulate.recipes.requirement import Requirement
from formulate.recipes.solve import solve
from formulate.recipes.target import target

KNO3 = salt("KNO3", price_per_kg=2.0)
K2SO4 = salt("K2SO4", price_per_kg=1.0)
# Molar masses from atomic masses of CIAAW 2021, abridged.
M_KNO3, M_K2SO4 = 101.1023, 174.2536


def two_bags(**given):
    return solve(target({"K": 200, "NO3-N": 60, **given}), [KNO3, K2SO4], volume=100)


# --- by hand ---------------------------------------------------------------------------


def test_two_bags_by_hand():
    # Potassium comes cheaper from sulfate, so as little nitrate as its band allows and
    # as little potassium: NO3-N 48 mg/L (60 - 20 %), K 190 mg/L (200 - 5 %).
    nitrate, potassium = 48 / MASS["N"], 190 / MASS["K"]
    grams = [nitrate * M_KNO3 / 10, (potassium - nitrate) / 2 * M_K2SO4 / 10]
    found = cheapest(two_bags(), within={"K": 0.05, "NO3-N": 0.2})
    amounts = found.recipe.optimum.amounts * 100
    assert amounts == pytest.approx(grams, rel=1e-5)
    assert found.cost == pytest.approx((2 * grams[0] + grams[1]) / 1000, rel=1e-5)
    # the exact recipe meets both values
    n, k = 60 / MASS["N"], 200 / MASS["K"]
    before = (2 * n * M_KNO3 + (k - n) / 2 * M_K2SO4) / 10 / 1000
    assert found.before == pytest.approx(before, rel=1e-5)
    assert dict(found.within) == {"K": 0.05, "NO3-N": 0.2}


def test_worth_by_hand():
    # One mg/L of K less saves 1/39.0983/2 mmol of K2SO4; one of NO3-N less replaces KNO3
    # by half as much K2SO4. 100 L, prices per kg.
    found = cheapest(two_bags(), within={"K": 0.05, "NO3-N": 0.2})
    of_k = 100 / MASS["K"] / 2 * M_K2SO4 / 1e6
    of_n = 100 / MASS["N"] * (2 * M_KNO3 - M_K2SO4 / 2) / 1e6
    saved = {worth.name: worth.saved for worth in found.worth}
    assert saved == {
        "K at least 190.0 mg/L": pytest.approx(of_k, rel=1e-5),
        "NO3-N at least 48.00 mg/L": pytest.approx(of_n, rel=1e-5),
    }
    assert {worth.unit for worth in found.worth} == {"mg/L"}


def test_rows_that_coincide_save_nothing_alone():
    # KNO3 alone brings K and N in one ratio: letting one out saves nothing while the
    # other still holds. The dual of a linear programme alone does not tell this.
    nitrogen = 200 / MASS["K"] * MASS["N"]
    wish = target({"K": 200, "NO3-N": nitrogen})
    found = cheapest(solve(wish, [KNO3], volume=100), within=0.1)
    assert found.recipe.optimum.amounts[0] == pytest.approx(
        180 / MASS["K"] * M_KNO3 / 1000, rel=1e-5
    )
    together = sum(worth.saved for worth in found.worth)
    assert together == 0


def test_limit_on_an_amount_is_worth_what_solving_again_says():
    def cost(grams):
        wish = target({"K": 200, "S": 40, "NO3-N": 60})
        bags = [KNO3, K2SO4, salt("KCl", price_per_kg=5.0)]
        recipe = solve(wish, bags, volume=100, amounts={"K2SO4": f"at most {grams} g"})
        return cheapest(recipe, within={"S": 0.5, "NO3-N": 0.3})

    found = cost(12)
    (worth,) = (one for one in found.worth if "amount" in one.name)
    assert worth.unit == "g"
    assert worth.saved == pytest.approx(
        (found.cost - cost(12.001).cost) / 0.001, rel=1e-3
    )


def test_ratio_and_share_are_worth_what_solving_again_says():
    bags = [KNO3, salt("NH4NO3", price_per_kg=0.5), salt("KCl", price_per_kg=0.4)]
    bags.append(salt("Ca(NO3)2·4H2O", price_per_kg=0.5))
    feed = {"K": 200, "N": 100}

    def found(most, share):
        limits = {"K:Cl": f"at least {most}"}
        wish = target(feed, limits=limits, ammonium_share=(0, share))
        return cheapest(solve(wish, bags, volume=100))

    at = found(4.0, 0.15)
    by_name = {worth.name: worth for worth in at.worth}
    ratio, share = by_name["K:Cl at least 4"], by_name["NH4-N at most 15 % of N"]
    assert share.unit == "% of N"
    step = 1e-4
    looser = (at.cost - found(4.0, 0.15 + step / 100).cost) / step
    assert share.saved == pytest.approx(looser, rel=1e-3)
    looser = (at.cost - found(4.0 - step, 0.15).cost) / step
    assert ratio.saved == pytest.approx(looser, rel=1e-3)


# --- scipy alone, and every vertex -----------------------------------------------------


def oracle(recipe):
    cost, rows, bounds = programme(recipe)
    size = np.abs(rows).max(axis=1, initial=0.0)
    size = np.where(size > 0, size, 1.0)
    slack = 1e-13 * np.abs(bounds)
    result = linprog(
        cost, A_ub=rows / size[:, None], b_ub=(bounds + slack) / size, method="highs-ds"
    )
    assert result.status == 0
    return result.fun * recipe.volume


@pytest.mark.parametrize("part", range(4))
def test_same_cost_as_a_programme_set_up_anew(part):
    rng = np.random.default_rng(20 + part)
    for _ in range(60):
        recipe = priced_recipe(rng)
        share = float(rng.choice([0.01, 0.05, 0.12, 0.3]))
        found = cheapest(recipe, within=share)
        assert found.cost == pytest.approx(oracle(found.recipe), rel=1e-7, abs=1e-12)
        assert found.gap <= GAP


def test_every_vertex_of_small_problems():
    rng = np.random.default_rng(7)
    checked = 0
    for _ in range(40):
        recipe = priced_recipe(rng, most=5)
        found = cheapest(recipe, within=0.08)
        cost, rows, bounds = programme(found.recipe)
        count = len(cost)
        rows = np.vstack([rows, -np.eye(count)])
        bounds = np.append(bounds, np.zeros(count))
        size = np.abs(rows).max(axis=1)
        rows, bounds = (
            rows[size > 0] / size[size > 0, None],
            bounds[size > 0] / size[size > 0],
        )
        best = np.inf
        for picked in map(list, combinations(range(len(bounds)), count)):
            if abs(np.linalg.det(rows[picked])) < 1e-9:
                continue
            corner = np.linalg.solve(rows[picked], bounds[picked])
            if (rows @ corner <= bounds + 1e-8).all():
                best = min(best, float(cost @ corner))
        assert found.cost / 100 == pytest.approx(best, rel=1e-6)
        checked += 1
    assert checked == 40


# --- laws ------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def recipes():
    rng = np.random.default_rng(3)
    return [priced_recipe(rng) for _ in range(25)]


def is_widened(found):
    """Return whether some band could not be kept."""
    return any("cannot be" in notice.what for notice in found.notices)


def test_bands_that_the_exact_recipe_keeps_never_cost_more_than_it(recipes):
    looked = 0
    for recipe in recipes:
        worst = max(abs(miss) for miss in recipe.misses.values())
        found = cheapest(recipe, within=min(worst + 1e-6, 1.0))
        if any(recipe.solution.mmol_l(key) > scale for key, scale in LOW.items()):
            continue  # it brings more sodium or chloride than must be
        assert not is_widened(found)
        assert found.cost <= found.before * (1 + 1e-6)
        looked += 1
    assert looked > 2


def test_bands_hold_in_the_solution(recipes):
    # No value is further off than its band, or than all together must be by scipy alone.
    kept = 0
    for recipe in recipes:
        found = cheapest(recipe, within=0.06)
        alone = {key: least_alone(recipe, key) for key in recipe.target.wanted}
        out = {key: off for key, off in alone.items() if off > 0.06}
        together = closest(recipe, out)
        for key, middle in recipe.target.wanted.items():
            off = abs(found.recipe.solution.mmol_l(key) / middle - 1)
            assert off <= max(out.get(key, 0.0) + together + 3e-4, 0.06 * (1 + 1e-8))
        told = {
            n.what.split()[0] for n in found.notices if "cannot be brought" in n.what
        }
        assert told == set(out)
        if together <= 0.06 and not out:
            assert not is_widened(found)
            kept += 1
    assert kept > 2


def test_wider_bands_never_cost_more(recipes):
    compared = 0
    for recipe in recipes:
        found = [cheapest(recipe, within=share) for share in (0, 0.01, 0.03, 0.1, 0.3)]
        for near, far in pairwise(found):
            if not is_widened(near):
                assert far.cost <= near.cost * (1 + 1e-9)
                compared += 1
    assert compared > 10


def test_twice_the_prices_cost_twice(recipes):
    for recipe in recipes[:10]:
        dear = tuple(replace(i, price=2 * i.price) for i in recipe.ingredients)
        one, two = cheapest(recipe), cheapest(replace(recipe, ingredients=dear))
        assert two.cost == pytest.approx(2 * one.cost, rel=1e-9)
        assert two.recipe.optimum.amounts == pytest.approx(
            one.recipe.optimum.amounts, rel=1e-6, abs=1e-9
        )


def test_cheapest_of_the_cheapest_is_the_same(recipes):
    for recipe in recipes[:10]:
        once = cheapest(recipe)
        twice = cheapest(once.recipe)
        assert twice.cost == pytest.approx(once.cost, rel=1e-7)
        assert len(twice.recipe.requirements) == len(once.recipe.requirements)


def test_what_costs_nothing_is_as_near_as_the_exact_recipe(recipes):
    looked = 0
    for recipe in recipes:
        if max(abs(miss) for miss in recipe.misses.values()) > 0.05:
            continue  # it does not keep the bands
        looked += 1
        free = tuple(replace(i, price=0.0) for i in recipe.ingredients)
        found = cheapest(replace(recipe, ingredients=free))
        assert found.cost == 0
        for key, residual in recipe.residuals.items():
            assert found.recipe.residuals[key] == pytest.approx(residual, abs=1e-6)
    assert looked > 2


def test_among_equal_costs_the_nearest():
    # Both bags bring potassium at one price, so any mixture costs the same: sulfur decides,
    # 12 mg/L of it, far from both ends of its wide band.
    dear = replace(K2SO4, price=2.0 * K2SO4.amount("K") / KNO3.amount("K"))
    wish = target({"K": 200, "S": 12})
    recipe = solve(wish, [KNO3, dear], volume=100)
    found = cheapest(recipe, within={"K": 0.05, "S": 0.9})
    assert found.recipe.solution.mg_l("S") == pytest.approx(12, rel=1e-3)
    assert found.recipe.solution.mg_l("K") == pytest.approx(190, rel=1e-6)


def test_worths_are_what_solving_again_says(recipes):
    step, looked, paying = 1e-5, 0, 0  # share of band
    for recipe in recipes:
        found = cheapest(recipe)
        if is_widened(found):
            continue  # bands that move together are not moved one by one
        saved = {worth.name.split()[0]: worth.saved for worth in found.worth}
        for key in recipe.misses:
            looser = cheapest(recipe, within={key: 0.05 + step})
            room = step * recipe.target.wanted[key] * MASS[key]
            fall = (found.cost - looser.cost) / room
            size = 1e-6 * found.cost / room
            assert saved.get(key, 0.0) == pytest.approx(fall, rel=1e-4, abs=size)
            looked, paying = looked + 1, paying + (key in saved)
    assert looked > 30
    assert paying > 20


# --- rows of other kinds ---------------------------------------------------------------


def test_ranges_are_widened_by_the_band_of_their_middle():
    wish = target({"K": "180-220", "NO3-N": 60})
    found = cheapest(solve(wish, [KNO3, K2SO4], volume=100), within=0.1)
    assert found.recipe.solution.mg_l("K") == pytest.approx(180 - 20, rel=1e-6)
    assert found.recipe.solution.mg_l("NO3-N") == pytest.approx(54, rel=1e-6)


def test_chloride_comes_up_to_its_scale_and_no_further():
    bags = [KNO3, K2SO4, salt("KCl", price_per_kg=0.1)]
    unasked = cheapest(solve(target({"K": 200, "NO3-N": 30}), bags, volume=100))
    assert unasked.recipe.solution.mg_l("Cl") == pytest.approx(70, rel=1e-6)
    wish = target({"K": 200, "NO3-N": 30, "Cl": 0})
    asked = cheapest(solve(wish, bags, volume=100))
    assert asked.recipe.solution.mg_l("Cl") == pytest.approx(70, rel=1e-6)


def test_what_nothing_carries_is_told_and_stays():
    wish = target({"K": 200, "NO3-N": 60, "Mg": 30})
    found = cheapest(solve(wish, [KNO3, K2SO4], volume=100))
    (told,) = (n for n in found.notices if n.what.startswith("Mg"))
    assert told.severity == "caution"
    assert "-100.0 %" in told.what
    assert found.recipe.solution.mg_l("Mg") == 0


def test_weight_of_nothing_binds_nothing():
    wish = target({"K": 200, "NO3-N": 60}, weights={"NO3-N": 0})
    found = cheapest(solve(wish, [KNO3, K2SO4], volume=100))
    assert found.recipe.masses.keys() == {"K2SO4"}
    assert any("NO3-N" in notice.what for notice in found.notices)
    assert "NO3-N" not in found.within


def test_priorities_choose_among_equal_costs_only():
    wish = target({"K": 200, "NO3-N": 60}, priorities=[["NO3-N"]])
    found = cheapest(solve(wish, [KNO3, K2SO4], volume=100))
    plain = cheapest(two_bags())
    assert found.cost == pytest.approx(plain.cost, rel=1e-9)


def test_liquids_and_water_settle():
    nitric = replace(acid("HNO3", percent=60, density=1.37), price=0.3)
    bags = [nitric, KNO3, K2SO4, salt("Ca(NO3)2·4H2O", price_per_kg=0.5)]
    tap = {"Ca": 60, "HCO3": 120, "Mg": 8, "pH": 7.5}
    wish = target({"K": 200, "NO3-N": 120, "Ca": 120})
    found = cheapest(solve(wish, bags, volume=100, water=_water(tap)), within=0.04)
    for key, value in (("K", 200), ("NO3-N", 120), ("Ca", 120)):
        has = found.recipe.solution.mg_l(key)
        assert value * 0.96 * (1 - 1e-6) <= has <= value * 1.04 * (1 + 1e-6)


def test_ph_and_ec_hold_at_the_cheapest_recipe():
    # The limits are read off the solution by the chemistry, not off the lines drawn for them.
    prices = {"Ca(NO3)2·4H2O": 0.6, "KNO3": 1.3, "KH2PO4": 1.8, "K2SO4": 1.1}
    prices |= {"MgSO4·7H2O": 0.4, "NH4NO3": 0.6, "KCl": 0.5}
    bags = [salt(formula, price_per_kg=price) for formula, price in prices.items()]
    bags.append(acid("HNO3", percent=60, density=1.37, price_per_kg=0.3))
    feed = {"N": 150, "P": 35, "K": 200, "Ca": 150, "Mg": 40, "S": 60}
    wish = target(feed, limits={"pH": "exactly 5.8", "EC": "at most 2"})
    tap = _water({"Ca": 70, "HCO3": 200, "Mg": 8, "Na": 10, "Cl": 15, "pH": 7.5})
    recipe = solve(wish, bags, volume=1000, water=tap)
    found = cheapest(recipe)
    values = {held.subject: value for held, value, _ in found.recipe.limits}
    assert values["pH"] == pytest.approx(5.8, abs=0.005)
    assert values["EC"] <= 2 * 1.002
    assert found.cost < found.before
    for key, value in feed.items():
        low, high = sorted((recipe.solution.mg_l(key), value))
        has = found.recipe.solution.mg_l(key)
        assert 0.949 * low <= has <= 1.051 * high


@pytest.mark.parametrize("place", ["medium-tap-zarnewanz", "hard-tap-voehringen"])
@pytest.mark.parametrize("within", [0.02, 0.05, 0.15])
def test_acid_recipes_at_a_ph_keep_bands_at_the_least_cost(place, within):
    # A bend of the pH line makes rows of many sizes; scipy alone solves the final rows anew.
    prices = {"Ca(NO3)2·4H2O": 1, "KNO3": 1.7, "KH2PO4": 2.4, "MgSO4·7H2O": 3.1}
    prices |= {"K2SO4": 3.8}
    bags = [salt(formula, price_per_kg=price) for formula, price in prices.items()]
    bags.append(acid("HNO3", percent=67, density=1.4, price_per_kg=2.0))
    feed = {"N": 150, "P": 40, "K": 210, "Ca": 160, "Mg": 45, "S": 60}
    for ph in (5.5, 5.8, 6.2):
        wish = target(feed, limits={"pH": f"exactly {ph}"})
        recipe = solve(wish, bags, volume=100, water=place)
        found = cheapest(recipe, within=within)
        (reached,) = (value for held, value, _ in found.recipe.limits)
        assert reached == pytest.approx(ph, abs=0.005)
        taken = [n.number for n in found.notices if "is the least" in n.what]
        share = max([within, *taken])
        for miss in found.recipe.misses.values():
            assert abs(miss) <= share + 1e-6
        assert found.gap <= GAP
        hard = [row for row in found.recipe.requirements if row.kind == "hard"]
        anew = scipy_cost(hard, [bag.price / 1000 for bag in bags]) * 100
        assert found.cost == pytest.approx(anew, rel=1e-7)


def scipy_cost(rows, prices):
    """Return the least cost of a litre by scipy alone, each row scaled by its numbers."""
    upper, most, equal, level = [], [], [], []
    for row in rows:
        own = np.array(row.coefficients)
        size = np.abs(own).max(initial=0.0) or 1.0
        low, high = ((end - row.constant) / size for end in (row.low, row.high))
        if low == high:
            equal.append(own / size)
            level.append(low)
            continue
        for sign, end in ((1.0, high), (-1.0, low)):
            if np.isfinite(end):
                upper.append(sign * own / size)
                most.append(sign * end)
    equal = {"A_eq": np.array(equal), "b_eq": level} if equal else {}
    found = linprog(prices, A_ub=np.array(upper), b_ub=most, method="highs", **equal)
    assert found.status == 0
    return found.fun


def test_a_corner_of_rows_of_many_sizes_is_exact():
    # x + y >= 3 and a line whose numbers are 10^5 apart: 1e-5 x - y = 0. By hand, y = 1e-5 x
    # and x = 3 / (1 + 1e-5).
    rows = [
        Requirement("K", (1.0, 1.0), 3.0, 9.0, kind="hard"),
        Requirement("line", (1e-5, -1.0), 0.0, 0.0, kind="hard"),
    ]
    best = least_cost(rows, (1.0, 2.0))
    x = 3 / (1 + 1e-5)
    assert best.amounts.tolist() == pytest.approx([x, 1e-5 * x], rel=1e-12)
    assert best.gap <= 1e-12


def _water(contents):
    from formulate.ingredients.water import water

    contents = dict(contents)
    return water(contents, ph=contents.pop("pH"))


# --- what comes of it ------------------------------------------------------------------


def test_recipe_weighs_shows_and_works():
    found = cheapest(two_bags(), within=0.1)
    weighed = weigh(found.recipe)
    for key, value in (("K", 200), ("NO3-N", 60)):
        assert 0.9 * value <= weighed.solution.mg_l(key) <= 1.1 * value
    assert all(round(grams / 0.1, 6).is_integer() for _, grams in weighed.amounts)
    assert "K in all" in str(found.recipe.working("K"))
    assert str(found.recipe).startswith("for 100 L")
    assert "-10.0 %); it would be met if not for the least cost" in str(found.recipe)
    text = str(found)
    assert "each wanted value within 10 %" in text
    assert "KNO3" in text
    frame = found.to_frame()
    assert frame["cost"].sum() == pytest.approx(found.cost)
    assert frame["exact cost"].sum() == pytest.approx(found.before)


def test_a_miss_within_the_rule_is_no_miss():
    found = cheapest(two_bags())
    assert not any(
        "wanted" in n.what and "reached" in n.what for n in found.recipe.notices
    )


def test_more_harm_than_before_is_told():
    nitric = acid("HNO3", percent=60, density=1.37, price_per_kg=0.01)
    wish = target({"K": 200, "NO3-N": 71.6})
    recipe = solve(wish, [KNO3, nitric], volume=100)
    found = cheapest(recipe, within={"K": 0.4})
    assert any(n.severity == "serious" and "acid" in n.what for n in found.notices)


def test_nothing_saved_is_told():
    found = cheapest(solve(target({"K": 200}), [KNO3], volume=10), within=0)
    assert any("already as cheap" in notice.what for notice in found.notices)
    assert found.saved == pytest.approx(0, abs=1e-9)


def test_limits_that_cost_money_hold_the_recipe_back():
    wish = target({"K": 200, "NO3-N": 60}, limits={"NO3-N": "at least 58"})
    found = cheapest(solve(wish, [KNO3, K2SO4], volume=100))
    ((_, value, binds),) = found.recipe.limits
    assert value == pytest.approx(58, rel=1e-6)
    assert binds
    assert {worth.name for worth in found.worth} == {
        "NO3-N at least 58 mg/L",
        "K at least 190.0 mg/L",
    }


# --- bad input -------------------------------------------------------------------------


def test_every_fault_at_once():
    bags = [salt("KNO3"), K2SO4, salt("KH2PO4")]
    recipe = solve(target({"K": 200, "NO3-N": 60, "P": 20, "S": 0}), bags, volume=100)
    bad = {"K": -1, "P": float("nan"), "Zn": 0.5, "NO3-N": 20, "S": 0.3, "nonsense": 1}
    with pytest.raises(InputError) as caught:
        cheapest(recipe, within=bad)
    text = str(caught.value)
    assert "no price for KNO3, KH2PO4" in text
    for word in ("K: band", "P: band", "Zn: no value", "NO3-N: band", "S: no value"):
        assert f"within {word}" in text
    assert "nonsense" in text


@pytest.mark.parametrize(
    "bad", [-1, 1.01, 5, float("nan"), float("inf"), "five", True, [5]]
)
def test_a_band_is_a_share(bad):
    with pytest.raises(InputError, match=r"within .*write 0\.05 for 5 %"):
        cheapest(two_bags(), within=bad)


def test_no_recipe_and_no_band_together():
    with pytest.raises(InputError) as caught:
        cheapest("a recipe", within=-3)
    assert "is no recipe" in str(caught.value)
    assert "write 0.05 for 5 %" in str(caught.value)


def test_lacking_prices_have_their_own_kind():
    recipe = solve(target({"K": 200}), [salt("KNO3"), K2SO4], volume=100)
    with pytest.raises(MissingData, match="KNO3"):
        cheapest(recipe)


def test_what_is_barred_needs_no_price():
    bags = [salt("KCl"), KNO3, K2SO4]
    wish = target({"K": 200, "NO3-N": 60})
    recipe = solve(wish, bags, volume=100, amounts={"KCl": "none"})
    found = cheapest(recipe)
    assert found.cost == pytest.approx(cheapest(two_bags()).cost, rel=1e-9)


# --- the programme itself --------------------------------------------------------------


def test_least_cost_by_hand():
    # 4 <= x + 2 y, x at 1, y at 3 a kilogram: x = 4 is cheapest, a unit of room saves 1/1000.
    row = Requirement("K", (1.0, 2.0), 4.0, 9.0, kind="hard")
    best = least_cost([row], (1.0, 3.0))
    assert best.amounts.tolist() == [4.0, 0.0]
    assert best.cost == pytest.approx(0.004)
    assert best.excess.tolist() == pytest.approx([0.0, 0.001])
    ((held, side, worth),) = best.worths
    assert (held is row, side, worth) == (True, "low", pytest.approx(0.001))


def test_an_analysis_may_be_a_bag():
    bag = analysed("mixed bag", {"NO3-N": 10, "K": 20}, price=1.0)
    found = cheapest(solve(target({"K": 200}), [bag], volume=100), within=0.05)
    # 190 mg/L of K at 200 g in a kilogram: 0.95 g/L, 95 g a batch
    assert found.cost == pytest.approx(0.095, rel=1e-6)
