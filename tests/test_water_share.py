"""How much of a water can be used: against arithmetic by hand and a search over shares."""

import itertools

import numpy as np
import pytest

import formulate as fm
from formulate.errors import Infeasible, InputError
from formulate.recipes.solve import solve
from formulate.recipes.target import target
from formulate.recipes.water_share import share_of_water

SHELF = ["Ca(NO3)2·4H2O", "KNO3", "KH2PO4", "MgSO4·7H2O", "K2SO4"]
WISH = {"N": 150, "P": 31, "K": 210, "Ca": 160, "Mg": 45, "S": 70}


def _salty(sodium=80, chloride=120):
    return fm.water({"Na": sodium, "Cl": chloride, "Ca": 40, "HCO3": 120}, name="tap")


RAIN = fm.water({}, name="rain")


@pytest.mark.parametrize(
    ("sodium", "limit", "share"),
    # by hand: the share of a water with s mg/L that leaves l mg/L is l/s, at most 1
    [(80, 50, 0.625), (100, 25, 0.25), (40, 50, 1.0), (80, 0, 0.0), (50, 50, 1.0)],
)
def test_a_limit_on_sodium_sets_the_share(sodium, limit, share):
    wish = target({"K": 200}, limits={"Na": f"at most {limit} mg/L"})
    waters = [fm.water({"Na": sodium, "Cl": 2 * sodium}, name="tap"), RAIN]
    made = share_of_water(wish, ["KNO3"], volume=100, waters=waters)
    assert made.shares[0] == pytest.approx(share, abs=1e-6)
    assert sum(made.shares) == pytest.approx(1)
    assert made.recipe.solution.mg_l("Na") <= limit + 1e-6
    held = ("Na at most" in " ".join(made.holds_back)) == (share < 1)
    assert held


def test_litres_of_each_water_make_the_batch():
    wish = target({"K": 200}, limits={"Na": "at most 50 mg/L"})
    waters = [fm.water({"Na": 80}, name="tap"), RAIN]
    made = share_of_water(wish, ["KNO3"], volume=400, waters=waters)
    assert dict(made.litres) == pytest.approx({"tap": 250, "rain": 150})


def test_the_tightest_of_several_limits_holds():
    # Cl 120 -> 60 is a half; Na 80 -> 50 would be 62.5 %
    limits = {"Na": "at most 50", "Cl": "at most 60"}
    made = share_of_water(
        target({"K": 200}, limits=limits), ["KNO3"], volume=100, waters=[_salty(), RAIN]
    )
    assert made.shares[0] == pytest.approx(0.5, abs=1e-6)
    assert made.holds_back == ("Cl at most 60 mg/L",)


def _keeps(recipe, wish, within=0.05):
    return all(abs(miss) <= within + 1e-6 for miss in recipe.misses.values())


def test_a_little_more_of_the_water_breaks_what_holds_it_back():
    """The share found against a search: no greater share meets limits and wishes."""
    wish = target(WISH, limits={"Na": "at most 45", "hardness": "at most 700"})
    waters = [fm.water("hard"), RAIN]
    made = share_of_water(wish, SHELF, volume=100, waters=waters)
    assert 0 < made.shares[0] < 1
    assert made.holds_back
    # by an independent search: the greatest share at which bounded least squares of
    # the largest miss, each wish within 5 %, has an answer
    assert not _possible(wish, waters, made.shares[0] + 0.002)
    assert _possible(wish, waters, made.shares[0] - 0.002)


def _possible(wish, waters, share):
    """Return whether some amounts meet every wish within 5 % at a share of waters."""
    from scipy.optimize import linprog

    shelf = [fm.salt(formula) for formula in SHELF]
    blend = share * np.array([waters[0].solution.mg_l(k) for k in wish.wanted])
    blend += (1 - share) * np.array([waters[1].solution.mg_l(k) for k in wish.wanted])
    per_gram = np.array([[10 * i.percent(k) for i in shelf] for k in wish.wanted])
    asked = np.array([wish.mg_l(k) for k in wish.wanted])
    low, high = 0.95 * asked - blend, 1.05 * asked - blend
    found = linprog(
        np.zeros(len(shelf)), np.vstack([per_gram, -per_gram]), np.hstack([high, -low])
    )
    return found.status == 0


def test_without_limits_the_first_water_is_used_alone():
    made = share_of_water(
        target({"K": 200}), ["KNO3"], volume=100, waters=[_salty(), RAIN]
    )
    assert made.shares == (1.0, 0.0)
    assert made.holds_back == ()


def test_the_order_of_the_waters_says_which_is_to_be_used():
    wish = target({"K": 200}, limits={"Na": "at most 50"})
    tap = _salty()
    first = share_of_water(wish, ["KNO3"], volume=100, waters=[tap, RAIN])
    second = share_of_water(wish, ["KNO3"], volume=100, waters=[RAIN, tap])
    assert first.shares[0] == pytest.approx(0.625, abs=1e-6)
    assert second.shares == pytest.approx((1, 0))


def test_three_waters_by_enumeration_at_least_cost():
    """Prices: every mixture on a grid that keeps the limit costs at least as much."""
    waters = [
        fm.water({"Na": 90}, name="tap"),
        fm.water({"Na": 30}, name="well"),
        fm.water({}, name="reverse osmosis"),
    ]
    prices, sodium, limit = (1.0, 2.0, 6.0), (90, 30, 0), 40
    wish = target({"K": 200}, limits={"Na": f"at most {limit}"})
    salt = fm.salt("KNO3", price_per_kg=2.0)
    made = share_of_water(wish, [salt], volume=1000, waters=waters, prices=prices)
    grid = np.linspace(0, 1, 101)
    costs = [
        a * prices[0] + b * prices[1] + (1 - a - b) * prices[2]
        for a, b in itertools.product(grid, grid)
        if a + b <= 1 + 1e-12 and a * sodium[0] + b * sodium[1] <= limit + 1e-9
    ]
    found = sum(p * s for p, s in zip(prices, made.shares, strict=True))
    assert found <= min(costs) + 1e-9
    assert found >= min(costs) - 0.06  # a step of the grid
    assert made.cost == pytest.approx(made.recipe.cost + found)


def test_a_dear_first_water_is_not_used_when_prices_say_so():
    wish = target({"K": 200})
    waters = [fm.water({"Na": 10}, name="tap"), RAIN]
    salt = fm.salt("KNO3", price_per_kg=2.0)
    made = share_of_water(wish, [salt], volume=10, waters=waters, prices=[5, 1])
    assert made.shares == pytest.approx((0, 1))


def test_a_price_that_is_missing_is_told():
    waters = [_salty(), RAIN]
    made = share_of_water(
        target({"K": 200}), ["KNO3"], volume=10, waters=waters, prices=[1, 2]
    )
    assert made.cost is None
    assert "no price for KNO3" in made.notices[0].what


def test_a_wish_that_no_blend_meets_is_held_to_the_best_and_told():
    # 94 mg/L Ca in the tap, 20 wanted within 5 %, and nothing takes calcium out: rain alone
    wish = target({"Ca": 300, "K": 100})
    made = share_of_water(wish, ["KNO3"], volume=100, waters=[fm.water("hard"), RAIN])
    assert made.shares[0] == pytest.approx(1, abs=1e-6)
    assert "Ca 300.0 mg/L is missed by 68.5 % at best" in made.notices[0].what


def test_limits_that_no_blend_keeps_are_named():
    wish = target({"K": 200}, limits={"Na": "at most 5"})
    waters = [fm.water({"Na": 80}, name="tap"), fm.water({"Na": 20}, name="well")]
    with pytest.raises(Infeasible, match="Na at most 5 mg/L"):
        share_of_water(wish, ["KNO3"], volume=100, waters=waters)


def test_two_equal_waters_make_that_water():
    waters = [_salty(), _salty()]
    made = share_of_water(target(WISH), SHELF, volume=100, waters=waters)
    alone = solve(target(WISH), SHELF, volume=100, water=_salty())
    assert dict(made.recipe.masses) == pytest.approx(dict(alone.masses), rel=1e-6)


def test_alone_and_curve_tell_what_limits_forbid():
    wish = target({"K": 200}, limits={"Na": "at most 50"})
    made = share_of_water(wish, ["KNO3"], volume=100, waters=[_salty(), RAIN])
    tap, rain = made.alone
    assert tap is None
    assert rain.solution.mg_l("Na") == 0
    curve = made.curve(9)
    assert [recipe is not None for _, recipe in curve] == [True] * 6 + [False] * 3
    sodium = [recipe.solution.mg_l("Na") for _, recipe in curve[:6]]
    assert sodium == pytest.approx([10.0 * n for n in range(6)])  # 80 mg/L in eighths


def test_amounts_on_hand_are_kept():
    wish = target({"K": 200, "Ca": 80})
    waters = [fm.water({"K": 100}, name="well"), RAIN]
    shelf = fm.shelf(["KNO3", "Ca(NO3)2·4H2O"], on_hand={"KNO3": 10})
    made = share_of_water(wish, shelf, volume=100, waters=waters)
    assert made.recipe.masses["KNO3"] <= 10 * (1 + 1e-9)


@pytest.mark.parametrize("volume", [1, 50_000])
def test_from_one_litre_to_fifty_cubic_metres(volume):
    wish = target({"K": 200}, limits={"Na": "at most 50"})
    made = share_of_water(wish, ["KNO3"], volume=volume, waters=[_salty(), RAIN])
    assert made.shares[0] == pytest.approx(0.625, abs=1e-6)


def test_every_fault_at_once():
    with pytest.raises(InputError) as told:
        share_of_water(
            "tomato", ["no such salt"], volume=-1, waters=[RAIN], prices=["a"], within=2
        )
    for words in (
        "no target",
        "no such salt",
        "volume",
        "two or more",
        "price",
        "within",
    ):
        assert words in str(told.value)


def test_it_tells_itself():
    wish = target({"K": 200}, limits={"Na": "at most 50"})
    text = str(share_of_water(wish, ["KNO3"], volume=100, waters=[_salty(), RAIN]))
    assert text.startswith("62.5 % tap: 62.50 L\n37.5 % rain: 37.50 L\nheld back by Na")
