"""How much of a water can be used: against arithmetic by hand and programmes of their own."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linprog

import formulate as fm
from formulate.errors import Infeasible, InputError
from formulate.recipes.shares import SharePoint
from formulate.recipes.solve import solve
from formulate.recipes.target import target
from formulate.recipes.water_share import share_of_water

SHELF = ["Ca(NO3)2·4H2O", "KNO3", "KH2PO4", "MgSO4·7H2O", "K2SO4"]
WISH = {"N": 150, "P": 31, "K": 210, "Ca": 160, "Mg": 45, "S": 70}
RAIN = fm.water({}, name="rain")
PRICES = {"Ca(NO3)2·4H2O": 0.9, "KNO3": 1.6, "KH2PO4": 2.4, "MgSO4·7H2O": 0.6}


def _salty(sodium=80, chloride=120):
    return fm.water({"Na": sodium, "Cl": chloride, "Ca": 40, "HCO3": 120}, name="tap")


def _share(wish, shelf=("KNO3",), *, waters=None, volume=100, **facts):
    waters = [_salty(), RAIN] if waters is None else waters
    return share_of_water(wish, shelf, volume=volume, waters=waters, **facts)


def _limited(**limits):
    return target(
        {"K": 200}, limits={k.replace("_", ":"): v for k, v in limits.items()}
    )


# --- by hand ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sodium", "limit", "share"),
    # the share of a water with s mg/L that leaves l mg/L is l/s, at most 1
    [(80, 50, 0.625), (100, 25, 0.25), (40, 50, 1.0), (80, 0, 0.0), (50, 50, 1.0)],
)
def test_a_limit_on_sodium_sets_the_share(sodium, limit, share):
    waters = [fm.water({"Na": sodium, "Cl": 2 * sodium}, name="tap"), RAIN]
    made = _share(_limited(Na=f"at most {limit} mg/L"), waters=waters)
    assert made.shares["tap"] == pytest.approx(share, abs=1e-7)
    assert sum(made.shares.values()) == pytest.approx(1)
    assert made.recipe.solution.mg_l("Na") <= limit + 1e-6
    assert made.held_back == ((f"Na at most {limit} mg/L",) if share < 1 else ())


def test_a_second_water_with_some_sodium_leaves_less_room():
    # 80 s + 5 (1 - s) = 50: s = 45/75
    waters = [_salty(), fm.water({"Na": 5}, name="well")]
    made = _share(_limited(Na="at most 50"), waters=waters)
    assert made.shares == pytest.approx({"tap": 0.6, "well": 0.4}, abs=1e-7)


def test_litres_of_each_water_make_the_batch():
    made = _share(_limited(Na="at most 50 mg/L"), volume=400)
    assert made.litres == pytest.approx({"tap": 250, "rain": 150})


def test_the_tightest_of_several_limits_holds():
    # Cl 120 -> 60 is a half; Na 80 -> 50 would be 62.5 %
    made = _share(_limited(Na="at most 50", Cl="at most 60"))
    assert made.shares["tap"] == pytest.approx(0.5, abs=1e-7)
    assert made.held_back == ("Cl at most 60 mg/L",)


def test_two_limits_that_hold_back_only_together_are_both_named():
    # Na 80 -> 40 and Cl 120 -> 60: either alone gives way to the other
    made = _share(_limited(Na="at most 40", Cl="at most 60"))
    assert made.shares["tap"] == pytest.approx(0.5, abs=1e-6)
    assert set(made.held_back) == {"Na at most 40 mg/L", "Cl at most 60 mg/L"}


def test_a_ratio_of_what_the_waters_bring():
    # Ca 80 and 20, Mg 20 and 20: (80 s + 20 (1 - s)) / 20 = 2 at s = 1/3
    waters = [
        fm.water({"Ca": 80, "Mg": 20}, name="tap"),
        fm.water({"Ca": 20, "Mg": 20}, name="well"),
    ]
    made = _share(_limited(Ca_Mg="at most 2"), waters=waters)
    assert made.shares["tap"] == pytest.approx(1 / 3, abs=1e-7)


def test_an_alkalinity_limit_mixes_by_the_litre():
    # 5 meq/L to 1: a fifth
    hard = fm.water(
        {"Ca": "2.5 mmol/L", "alkalinity": "5 meq/L", "pH": 7.5}, name="tap"
    )
    made = _share(_limited(alkalinity="at most 1 meq/L"), waters=[hard, RAIN])
    assert made.shares["tap"] == pytest.approx(0.2, rel=0.01)  # hydroxide of pH 7.5 too
    assert made.recipe.alkalinity_left == pytest.approx(1)
    assert made.recipe.water.ph is None


def test_an_ec_limit_leaves_to_the_water_what_the_salts_do_not_take():
    tap = fm.water({"Na": "10 mmol/L", "Cl": "10 mmol/L"}, name="tap")
    made = _share(_limited(EC="at most 1.14 mS/cm"), waters=[tap, RAIN])
    assert fm.ec(made.recipe.solution) == pytest.approx(1.14, rel=0.001)
    assert set(made.held_back) == {"EC at most 1.14 mS/cm", "K 200.0 mg/L within 5 %"}
    # lines of the EC agree with it within a thousandth, and so does what they leave of K
    assert made.recipe.misses["K"] == pytest.approx(-0.05, abs=1e-3)


def test_within_sets_how_far_a_wish_may_give():
    # 0.5115 mmol/L less of potassium and its anion leave room for as much sodium chloride
    # as conducts alike: limits K 73.5, NO3 71.5, Na 50.1, Cl 76.3 S cm2/mol (crc)
    tap = fm.water({"Na": "10 mmol/L", "Cl": "10 mmol/L"}, name="tap")
    wish, found = _limited(EC="at most 1.14 mS/cm"), []
    for within in (0, 0.1):
        made = _share(wish, waters=[tap, RAIN], within=within)
        assert made.recipe.misses["K"] == pytest.approx(-within, abs=1e-3)
        found.append(made.shares["tap"])
    room = 0.1 * 200 / 39.0983 * (73.5 + 71.5) / (50.1 + 76.3) / 10
    assert found[1] - found[0] == pytest.approx(room, rel=0.05)


def test_a_range_is_held_as_it_is():
    # 100 mg/L Ca in the tap, 20 to 40 wanted: at most 0.4; as a point of 40, 0.42
    waters = [fm.water({"Ca": 100}, name="tap"), RAIN]
    of_range = _share(target({"Ca": "20-40", "K": 100}), waters=waters)
    of_point = _share(target({"Ca": 40, "K": 100}), waters=waters)
    assert of_range.shares["tap"] == pytest.approx(0.40, abs=1e-6)
    assert of_point.shares["tap"] == pytest.approx(0.42, abs=1e-6)
    assert of_range.held_back == ("Ca 20.00 to 40.00 mg/L",)


def test_as_little_as_possible_is_within_its_scale():
    # Na wanted 0 counts 50 mg/L as 1 (mattson-peters-2014): 5 % of it are 2.5 of 80
    made = _share(target({"K": 200, "Na": 0}))
    assert made.shares["tap"] == pytest.approx(2.5 / 80, abs=1e-6)


def test_what_is_only_kept_low_holds_nothing_back():
    # 200 mg/L K as KCl bring 181 mg/L Cl, which the recipe keeps low as far as it can
    made = _share(_limited(Na="at most 50"), ["KCl"])
    assert made.shares["tap"] == pytest.approx(0.625, abs=1e-7)
    assert made.held_back == ("Na at most 50 mg/L",)
    assert not any("best blend" in notice.what for notice in made.told)


# --- edges ------------------------------------------------------------------------------


def test_without_limits_the_first_water_is_used_alone():
    made = _share(target({"K": 200}))
    assert made.shares == {"tap": 1, "rain": 0}
    assert made.held_back == ()
    assert made.recipe.water is made.waters["tap"]


def test_the_order_of_the_waters_says_which_is_to_be_used():
    wish, tap = _limited(Na="at most 50"), _salty()
    assert _share(wish, waters=[RAIN, tap]).shares == {"rain": 1, "tap": 0}


def test_two_waters_that_hold_the_same_make_that_water():
    waters = {"tap": _salty(), "other": _salty()}
    made = _share(target(WISH), SHELF, waters=waters)
    alone = solve(target(WISH), SHELF, volume=100, water=_salty())
    assert made.shares == pytest.approx({"tap": 1, "other": 0})
    assert dict(made.recipe.masses) == pytest.approx(dict(alone.masses))


def test_the_second_water_comes_before_the_third():
    # Na 80, 30 and 0 with 40 at most: 0.2 of the first beside the second, but
    # 0.5 beside the third, and then nothing of the second
    waters = {"tap": _salty(80), "well": fm.water({"Na": 30}), "rain": RAIN}
    made = _share(_limited(Na="at most 40"), waters=waters)
    expected = {"tap": 0.5, "well": 0, "rain": 0.5}
    assert made.shares == pytest.approx(expected, abs=1e-6)
    # where the first is not used, the second is before the third
    waters = {"sea": _salty(3000), "well": fm.water({"Na": 30}), "rain": RAIN}
    made = _share(_limited(Na="at most 30", Cl="at most 0"), waters=waters)
    assert made.shares == pytest.approx({"sea": 0, "well": 1, "rain": 0}, abs=1e-6)


@pytest.mark.parametrize("order", list(itertools.permutations(["rain", "well", "tap"])))
def test_the_cheapest_blend_does_not_depend_on_the_order(order):
    waters = {"tap": _salty(90), "well": fm.water({"Na": 30}), "rain": RAIN}
    prices = {"tap": 1.0, "well": 2.0, "rain": 6.0}
    made = _share(
        _limited(Na="at most 40"),
        [fm.salt("KNO3", price_per_kg=2)],
        waters={name: waters[name] for name in order},
        prices=prices,
    )
    # by hand: tap beside rain costs 1 x 4/9 + 6 x 5/9 = 3.78; beside the well, share s
    # with 90 s + 30 (1 - s) = 40, 1/6 + 2 x 5/6 = 1.83 per m3
    expected = {"tap": 1 / 6, "well": 5 / 6, "rain": 0}
    assert made.shares == pytest.approx(expected, abs=1e-6)
    assert list(made.shares) == list(order)


@pytest.mark.parametrize("volume", [1, "50 m3"])
def test_from_one_litre_to_fifty_cubic_metres(volume):
    made = _share(_limited(Na="at most 50"), volume=volume)
    assert made.shares["tap"] == pytest.approx(0.625, abs=1e-7)
    litres = {1: 1, "50 m3": 50_000}[volume]
    assert made.litres["tap"] == pytest.approx(0.625 * litres)


def test_limits_that_no_blend_keeps_are_named():
    waters = [_salty(), fm.water({"Na": 20}, name="well")]
    with pytest.raises(Infeasible, match="Na at most 5 mg/L") as told:
        _share(_limited(Na="at most 5", Cl="at most 500"), waters=waters)
    assert told.value.requirements == ("Na at most 5 mg/L",)
    assert "Na at most 20" in str(told.value)


def test_a_wish_that_no_blend_meets_is_held_near_the_best_and_told():
    # the printed water holds 94.4 mg/L Ca, 300 are wanted: -68.5 % at best. Within 5 % of
    # 300 of that are 79.4 mg/L; chloride keeps it from being all of the tap
    hard = fm.water("hard", name="tap")
    made = _share(target({"Ca": 300, "K": 100}), waters=[RAIN, hard])
    assert made.shares["tap"] == pytest.approx(79.4 / 94.4, rel=1e-4)
    assert made.held_back == ("Ca 300.0 mg/L, as near as a blend comes",)
    (told,) = made.told
    assert told.what.startswith("Ca 300.0 mg/L: the best blend misses it by -68.5 %")


def test_traces_in_a_water_do_not_decide():
    # nothing brings phosphorus but 0.01 mg/L in the rain: the tap is used all the same
    waters = [_salty(), fm.water({"P": 0.01}, name="rain")]
    made = _share(target({"K": 200, "P": 30}), waters=waters)
    assert made.shares["tap"] == pytest.approx(1)


def test_ammonium_that_only_the_waters_bring_drops_its_rule():
    waters = [fm.water({"NH4": 5}, name="tap"), fm.water({"NH4": 2}, name="well")]
    made = _share(target({"N": 50, "K": 100}), ["K2SO4"], waters=waters)
    assert any("every blend of the waters breaks it" in n.what for n in made.told)
    assert made.recipe.dropped


# --- greatest, against a programme of its own -------------------------------------------


def _possible(wish, tap, share, limits=()):
    """Return whether some amounts meet every wish within 5 % at a share of a water.

    `limits` are (key, most in mg/L).
    """
    shelf = [fm.salt(formula) for formula in SHELF]
    lines, levels = [], []
    for key, _, side in [(k, None, s) for k in wish.wanted for s in (1, -1)]:
        brings = [10 * side * salt.percent(key) for salt in shelf]  # mg in a gram
        left = wish.mg_l(key) * (1 + 0.05 * side) - share * tap.solution.mg_l(key)
        lines.append(brings)
        levels.append(side * left)
    for key, most in limits:
        lines.append([10 * salt.percent(key) for salt in shelf])
        levels.append(most - share * tap.solution.mg_l(key))
    found = linprog(np.zeros(len(shelf)), np.array(lines), np.array(levels))
    return found.status == 0


@pytest.mark.parametrize("tap", ["hard", "medium", "sulfate-rich tap water"])
@pytest.mark.parametrize("limits", [(), (("Na", 7),), (("hardness", 560), ("Cl", 12))])
def test_a_little_more_of_the_water_breaks_a_row(tap, limits):
    tap = fm.water(tap, name="tap")
    asked = {key: f"at most {most} mg/L" for key, most in limits}
    wish = target(WISH, limits=asked)
    made = _share(wish, SHELF, waters=[tap, RAIN])
    share = made.shares["tap"]
    assert 0 < share < 1
    assert _possible(wish, tap, share - 1e-3, limits)
    assert not _possible(wish, tap, share + 1e-3, limits)
    for key, most in limits:
        assert made.recipe.solution.mg_l(key) <= most * (1 + 1e-7)
    assert max(map(abs, made.recipe.misses.values())) <= 0.05 * (1 + 1e-3)


@pytest.mark.parametrize("tap", ["hard", "medium", "sulfate-rich tap water"])
def test_without_a_row_that_holds_it_back_more_would_do(tap):
    limits = {"Na": "at most 7 mg/L", "Cl": "at most 40 mg/L"}
    tap = fm.water(tap, name="tap")
    made = _share(target(WISH, limits=limits), SHELF, waters=[tap, RAIN])
    named = [key for key in limits if any(key in row for row in made.held_back)]
    for key in limits:
        fewer = {name: limits[name] for name in limits if name != key}
        other = _share(target(WISH, limits=fewer), SHELF, waters=[tap, RAIN])
        gained = other.shares["tap"] > made.shares["tap"] + 1e-5
        assert gained == (key in named)


def test_a_recipe_that_would_trade_one_wish_for_others_is_held():
    """The nearest recipe of the blend alone misses more than 5 %, and this is told."""
    tap = fm.water("hard", name="tap")
    made = _share(target(WISH), SHELF, waters=[tap, RAIN])
    free = solve(target(WISH), SHELF, volume=100, water=made.recipe.water)
    assert max(map(abs, free.misses.values())) > 0.051
    assert max(map(abs, made.recipe.misses.values())) <= 0.05
    assert not any("mg/L wanted" in notice.what for notice in made.notices)
    assert any("it was held" in notice.what for notice in made.told)
    swapped = fm.swap(made.recipe, "KNO3", "KCl")  # what was held here binds no swap
    assert swapped.after.solution.mg_l("Cl") > 10


# --- least cost -------------------------------------------------------------------------


def _least_salts(wish, tap, share, salts):
    """Return the least cost of salts in a litre at a share, infinite if there is none."""
    lines, levels = [], []
    for key, side in itertools.product(wish.wanted, (1, -1)):
        lines.append([10 * side * salt.percent(key) for salt in salts])
        left = wish.mg_l(key) * (1 + 0.05 * side) - share * tap.solution.mg_l(key)
        levels.append(side * left)
    costs = [salt.price / 1000 for salt in salts]
    found = linprog(costs, np.array(lines), np.array(levels))
    return found.fun if found.status == 0 else math.inf


@pytest.mark.parametrize(
    "prices", [(0.2, 3.0), (2.0, 2.0), (5.0, 0.1), (0, 0), (2, 2.05)]
)
def test_the_least_cost_is_that_of_a_fine_grid(prices):
    tap = fm.water("medium", name="tap")
    wish = target({"N": 100, "P": 31, "K": 150, "Ca": 110, "Mg": 30})
    salts = [fm.salt(name, price_per_kg=price) for name, price in PRICES.items()]
    made = _share(wish, salts, waters=[tap, RAIN], volume=1000, prices=prices)
    grid = np.linspace(0, 1, 201)
    waters = [(prices[0] * s + prices[1] * (1 - s)) / 1000 for s in grid]
    every = [
        1000 * (of_water + _least_salts(wish, tap, share, salts))
        for share, of_water in zip(grid, waters, strict=True)
    ]
    step = 1000 * max(
        1e-6, *(abs(a - b) for a, b in itertools.pairwise(every) if a < 9 > b)
    )
    assert made.least_cost <= min(every) * (1 + 1e-6)
    assert made.least_cost >= min(every) - step
    assert made.cost >= made.least_cost * (1 - 1e-4)
    spent = sum(p * made.litres[n] for n, p in made.prices.items()) / 1000
    assert made.cost == pytest.approx(made.recipe.cost + spent)


def test_a_dear_first_water_is_not_used_when_prices_say_so():
    salt = fm.salt("KNO3", price_per_kg=2.0)
    made = _share(target({"K": 200}), [salt], prices=[5, 1])
    assert made.shares == pytest.approx({"tap": 0, "rain": 1})
    # 200 mg/L K less 5 %: 190 / 386.73 g/L of KNO3 at 2 per kg, 100 L; water 0.1
    assert made.least_cost == pytest.approx(100 * 190 / 386.73 * 0.002 + 0.1, rel=1e-4)
    assert any("would cost" in notice.what for notice in made.told)


def test_water_that_liquids_take_the_place_of_costs_nothing():
    # 100 g of KNO3 in a litre of stock: 200 / 386.73 x 10 = 5.1716 mL in each of 100 L
    stock = replace(fm.stock("A", {"KNO3": 100}, volume=1), price=2.0)
    made = _share(target({"K": 200}), [stock], prices=[5, 5])
    poured = 100 * 5.1716 / 1000
    expected = 2.0 * poured + 5 * (100 - poured) / 1000
    assert made.cost == pytest.approx(expected, rel=1e-4)
    assert sum(made.litres.values()) == pytest.approx(100 - poured, rel=1e-5)


# --- amounts, liquids -------------------------------------------------------------------


def test_amounts_on_hand_are_kept_and_hold_the_share_up_or_down():
    # 100 mg/L K in the well, 200 wanted less 5 %: 10 g KNO3 in 100 L bring 38.67 mg/L
    waters = [RAIN, fm.water({"K": 200}, name="well")]
    shelf = fm.shelf(["KNO3", "Ca(NO3)2·4H2O"], on_hand={"KNO3": 10})
    made = _share(target({"K": 200, "Ca": 80}), shelf, waters=waters)
    assert made.shares["rain"] == pytest.approx(1 - (190 - 38.673) / 200, abs=1e-4)
    assert made.recipe.masses["KNO3"] == pytest.approx(10)
    assert "amount of KNO3 at most 10 g" in made.held_back


def test_a_shelf_that_is_read_once_is_kept():
    made = _share(_limited(Na="at most 50"), (name for name in ["KNO3"]))
    assert len(made.curve(3)) == 3
    assert made.alone["rain"].masses["KNO3"] > 0


def test_an_acid_makes_room_for_a_hard_water_and_its_volume_is_told():
    acid = fm.acid("HNO3", percent=60, density=1.37)
    wish = target({**WISH, "alkalinity": "0.3 to 1 meq/L"}, limits={"Na": "at most 10"})
    tap = fm.water("hard", name="tap")
    without = _share(target(WISH), SHELF, waters=[tap, RAIN])
    made = _share(wish, [*SHELF, acid], waters=[tap, RAIN], volume=1000)
    assert made.shares["tap"] > without.shares["tap"]
    assert made.recipe.solution.mg_l("Na") <= 10 * (1 + 1e-7)
    poured = made.recipe.millilitres[acid.name] / 1000
    assert sum(made.litres.values()) == pytest.approx(1000 - poured)
    (told,) = [n for n in made.told if n.what.startswith("liquids take")]
    assert told.number == pytest.approx(poured / 1000)


def test_the_room_of_an_acid_breaks_no_wish():
    # calcium comes with the tap alone: 80 less 5 % are 76 of its 94.4 mg/L, less what the
    # acid takes of the room, some 0.03 %
    acid = fm.acid("HNO3", percent=60, density=1.37)
    tap = fm.water("hard", name="tap")
    wish = target({"Ca": 80, "K": 150, "alkalinity": "0.3 to 1 meq/L"})
    made = _share(wish, ["KNO3", acid], waters=[RAIN, tap])
    assert made.shares["tap"] == pytest.approx(76 / 94.4, rel=1e-5)
    poured = made.recipe.millilitres[acid.name] / 1000 / 100
    assert made.recipe.misses["Ca"] == pytest.approx(0.95 * (1 - poured) - 1, abs=1e-6)
    assert [notice.what.split()[0] for notice in made.told] == ["liquids"]


# --- other shares -----------------------------------------------------------------------


def test_the_curve_goes_from_one_water_alone_to_the_other():
    made = _share(_limited(Na="at most 50"))
    curve = made.curve(9)
    assert [point.share for point in curve] == [n / 8 for n in range(9)]
    kept = [point for point in curve if not point.broken]
    assert len(kept) == 6  # 5/8 is 62.5 %
    assert [p.sodium_mg_l for p in kept] == pytest.approx([10.0 * n for n in range(6)])
    assert [p.chloride_mg_l for p in kept] == pytest.approx(
        [15.0 * n for n in range(6)]
    )
    last = curve[-1]
    assert last == SharePoint(1, None, "", None, None, None, ("Na at most 50 mg/L",))


def test_the_curve_tells_the_largest_miss_and_the_cost():
    # Ca 100 mg/L in the tap, 40 wanted: at share s the miss is 2.5 s - 1 beyond 0.4
    salt = fm.salt("KNO3", price_per_kg=2.0)
    waters = [fm.water({"Ca": 100}, name="tap"), RAIN]
    wish = target({"Ca": 40, "K": 100})
    made = _share(wish, [salt], waters=waters, prices=[1, 4])
    curve = made.curve(5)
    assert [p.miss for p in curve] == pytest.approx([-1, -0.375, 0.25, 0.875, 1.5])
    assert {p.key for p in curve} == {"Ca"}
    grams = 100 * 100 / 386.73  # 100 mg/L of K from KNO3 in 100 L
    for point in curve:
        water = 0.1 * (point.share + 4 * (1 - point.share))
        assert point.cost == pytest.approx(0.002 * grams + water, rel=1e-4)


def test_of_three_waters_the_others_share_the_rest():
    waters = {"tap": _salty(90), "well": fm.water({"Na": 30}), "rain": RAIN}
    made = _share(
        _limited(Na="at most 40"),
        [fm.salt("KNO3", price_per_kg=2)],
        waters=waters,
        prices=[1, 2, 6],
    )  # the rest is all well: 30 mg/L at the start
    assert made.curve(2)[0].sodium_mg_l == pytest.approx(30, rel=1e-5)
    alone = _share(target({"K": 200}), waters=waters)
    assert alone.curve(2)[0].sodium_mg_l == pytest.approx(15)  # evenly


@pytest.mark.parametrize("points", [1, 0, -3, "many", None, 5000, math.nan])
def test_a_curve_of_no_points_is_refused(points):
    with pytest.raises(InputError, match="points"):
        _share(target({"K": 200})).curve(points)


def test_each_water_alone_stands_beside_or_says_why_not():
    made = _share(_limited(Na="at most 50"))
    assert isinstance(made.alone["tap"], Infeasible)
    assert made.alone["rain"].solution.mg_l("Na") == 0
    frame = made.to_frame()
    assert list(frame.columns) == ["tap", "rain", "largest miss", "Na", "Cl", "cost"]
    assert frame.loc["blend", ["tap", "Na"]].tolist() == pytest.approx([62.5, 50])
    assert math.isnan(frame.loc["tap", "Na"])
    assert frame.loc["rain", ["tap", "Na", "Cl"]].tolist() == [0, 0, 0]


def test_it_tells_itself():
    text = str(_share(_limited(Na="at most 50")))
    lines = text.splitlines()
    assert [line.strip() for line in lines[:3]] == [
        "62.5 % tap: 62.50 L",
        "37.5 % rain: 37.50 L",
        "no more because of: Na at most 50 mg/L",
    ]
    assert "tap: limits cannot be kept" in text
    assert "for 100 L, 62.5 % tap and 37.5 % rain" in text


# --- faults -----------------------------------------------------------------------------


def test_every_fault_at_once():
    with pytest.raises(InputError) as told:
        share_of_water(
            7, ["no such salt"], volume=-1, waters=[RAIN], prices=["a"], within=2
        )
    words = ("no target", "no such salt", "volume", "two or more", "price of", "within")
    assert [word for word in words if word not in str(told.value)] == []


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"waters": "tap"}, "write a list of two waters"),
        ({"waters": [RAIN, RAIN]}, "rain is there twice"),
        ({"waters": ["no water", RAIN]}, "no water of the package"),
        ({"waters": {"tap": 5, "rain": RAIN}}, "water 1"),
        ({"prices": [1]}, "one for each water"),
        ({"prices": {"tap": 1}}, "price of rain"),
        ({"prices": {"tap": 1, "rain": 2, "sea": 3}}, "price of 'sea'"),
        ({"prices": [1, -2]}, "price of rain"),
        ({"prices": [1, 2]}, "no price for KNO3"),
        ({"within": -0.1}, "within"),
        ({"within": "much"}, "within"),
        ({"amounts": {"KCl": "none"}}, "not on the shelf"),
        ({"volume": 0}, "volume"),
    ],
)
def test_what_cannot_be_used_is_refused(facts, words):
    with pytest.raises(InputError, match=words):
        _share(target({"K": 200}), **facts)


def test_a_shelf_of_urea_alone_is_refused():
    with pytest.raises(InputError, match="every ingredient brings urea"):
        _share(target({"N": 100}), ["urea"])
    with pytest.raises(InputError, match="the shelf is empty"):
        _share(target({"N": 100}), [])
