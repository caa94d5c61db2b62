"""What forces a miss: said exactly when true, and really so when tried."""

import numpy as np
import pytest

from formulate.errors import Infeasible
from formulate.ingredients.salts import salt
from formulate.recipes.forced import causes, distance
from formulate.recipes.requirements import Requirement
from formulate.recipes.solve import solve
from formulate.recipes.target import target

EVERY = "every {} source on the shelf brings {}"
MET = 0.05  # a miss up to 5 % is none


def _told(recipe, key):
    """Return what is said of one miss."""
    return next((n.what for n in recipe.notices if n.what.startswith(f"{key}:")), "")


def _wish(wanted, **facts):
    return target(wanted, ammonium_share=(0, 1), **facts)


# --- "every ... source brings ...": the table of shelves -------------------------------

SHORT_CALCIUM = {"Ca": 200, "NO3-N": 70}


@pytest.mark.parametrize(
    ("shelf", "is_said"),
    [
        # formulas say it: Ca(NO3)2 holds nitrate, CaCl2 and CaSO4 do not
        (["Ca(NO3)2·4H2O"], True),
        (["Ca(NO3)2·4H2O", "Ca(NO3)2"], True),
        (["Ca(NO3)2·4H2O", "KNO3"], True),
        (["greenhouse calcium nitrate"], True),
        (["Ca(NO3)2·4H2O", "CaCl2·2H2O"], False),
        (["Ca(NO3)2·4H2O", "gypsum"], False),
        (["CaCl2·2H2O"], False),
        (["Ca(NO3)2·4H2O", "calcium EDTA chelate (10 % Ca)"], False),
    ],
)
def test_every_calcium_source_brings_nitrate(shelf, is_said):
    recipe = solve(_wish(SHORT_CALCIUM), shelf, volume=10)
    words = EVERY.format("calcium", "nitrate nitrogen")
    assert (words in _told(recipe, "Ca")) == is_said


def test_a_forbidden_source_still_stands_on_the_shelf():
    shelf, none = ["Ca(NO3)2·4H2O", "gypsum"], {"gypsum": "none"}
    recipe = solve(_wish(SHORT_CALCIUM), shelf, volume=10, amounts=none)
    told = _told(recipe, "Ca")
    assert "every" not in told
    assert "it would be met if not for amount of gypsum exactly 0 g" in told


@pytest.mark.parametrize(("allowed", "is_said"), [(False, False), (True, False)])
def test_urea_that_is_barred_still_stands_on_the_shelf(allowed, is_said):
    wanted = {"N": 150, "K": 60}
    recipe = solve(_wish(wanted, urea_allowed=allowed), ["KNO3", "CO(NH2)2"], volume=10)
    words = EVERY.format("nitrogen", "potassium")
    assert any(words in n.what for n in recipe.notices) == is_said
    alone = solve(_wish(wanted), ["KNO3"], volume=10)
    assert words in _told(alone, "N")


def test_a_value_that_is_over_comes_with_every_source_of_another():
    recipe = solve(_wish({"Ca": 200, "NO3-N": 70}), ["Ca(NO3)2·4H2O"], volume=10)
    words = EVERY.format("calcium", "nitrate nitrogen")
    assert words in _told(recipe, "NO3-N")
    other = solve(_wish({"K": 200, "S": 20}), ["K2SO4", "KCl"], volume=10)
    assert "every" not in _told(other, "S")


@pytest.mark.parametrize(
    ("wanted", "shelf", "key", "words"),
    [
        # a share: ammonium sulfate and phosphate bring nothing but ammonium
        (
            {"N": 100},
            ["(NH4)2SO4", "NH4H2PO4"],
            "N",
            "every nitrogen source on the shelf brings ammonium nitrogen, and NH4-N at "
            "most 15 % of N is asked for",
        ),
        (
            {"Ca": 200},
            ["CaCl2·2H2O"],
            "Ca",
            "every calcium source on the shelf brings chloride, which is kept low",
        ),
    ],
)
def test_shares_and_ions_kept_low_in_words(wanted, shelf, key, words):
    assert words in _told(solve(target(wanted), shelf, volume=10), key)


def test_a_limit_that_holds_back_is_the_reason():
    wanted = _wish({"Ca": 200}, limits={"NO3-N": "at most 70"})
    told = _told(solve(wanted, ["Ca(NO3)2·4H2O"], volume=10), "Ca")
    words = EVERY.format("calcium", "nitrate nitrogen")
    assert f"{words}, and NO3-N at most 70 mg/L is asked for" in told


def test_of_a_range_its_ends_are_told_and_not_its_middle():
    wanted = _wish({"Ca": "100-150", "NO3-N": 200})
    told = _told(solve(wanted, ["Ca(NO3)2·4H2O"], volume=10), "Ca")
    assert told.startswith("Ca: 100.0 to 150.0 mg/L wanted")
    assert "125" not in told


def test_water_within_the_range_is_not_blamed():
    # voehringen-2025 (read): 94.4 mg/L Ca; wanted 80 to 100, the shelf adds to it
    wanted = _wish({"Ca": "80-100", "NO3-N": 200})
    recipe = solve(wanted, ["Ca(NO3)2·4H2O"], volume=10, water="hard")
    assert "the water alone" not in _told(recipe, "Ca")
    over = solve(_wish({"Ca": "60-90"}), ["gypsum"], volume=10, water="hard")
    assert "the water alone brings 94.40 mg/L" in _told(over, "Ca")


def test_ammonium_is_not_blamed_where_another_wish_leaves_no_nitrogen():
    wanted = target({"N": 100, "K": 0}, limits={"K": "none"})
    recipe = solve(wanted, ["KNO3"], volume=10)
    assert not recipe.masses
    assert not any("no mixture" in n.what for n in recipe.notices)
    blamed = solve(target({"N": 100}), ["(NH4)2SO4"], volume=10)
    assert any("no mixture" in n.what for n in blamed.notices)


# --- "it would be met if not for ...": tried ----------------------------------------------

SHELVES = [
    ["Ca(NO3)2·4H2O", "KNO3", "KH2PO4", "MgSO4·7H2O"],
    ["Ca(NO3)2·4H2O", "K2SO4", "KH2PO4", "Mg(NO3)2·6H2O"],
    ["Ca(NO3)2·4H2O", "KCl", "NH4H2PO4", "MgSO4·7H2O", "CaCl2·2H2O"],
    ["greenhouse calcium nitrate", "KNO3", "K2SO4", "KH2PO4", "gypsum"],
]
WISHES = [
    {"N": 80, "P": 31, "K": 200, "Ca": 150, "Mg": 40, "S": 30},
    {"NO3-N": 100, "P": 50, "K": 300, "Ca": 100, "Mg": 60},
    {"N": 200, "P": 31, "K": 120, "Ca": 180, "S": 60},
]


def _met_without(missed, left_out, recipe):
    """Return whether a value is met when a wish is left out, by a fresh target."""
    old = recipe.target
    wanted = {k: old.mg_l(k) for k in old.wanted if k != left_out}
    again = solve(
        _wish(wanted),
        [*recipe.ingredients, *recipe.barred],
        volume=recipe.volume,
        water=recipe.water,
    )
    return abs(again.misses[missed]) <= MET


@pytest.mark.parametrize("tap", [None, "medium"])
@pytest.mark.parametrize("shelf", SHELVES, ids=lambda s: s[1])
@pytest.mark.parametrize("wanted", WISHES, ids=" ".join)
def test_what_is_said_to_force_a_miss_does_and_nothing_else(wanted, shelf, tap):
    recipe = solve(_wish(wanted), shelf, volume=10, water=tap)
    rows = {row.key: row for row in recipe.requirements if row.origin == "target"}
    for key, miss in recipe.misses.items():
        if abs(miss) <= MET:
            continue
        found = causes(rows[key], recipe.requirements, recipe.optimum.amounts, MET)
        named = {c.row.key for c in found if c.row.origin == "target"}
        sources = [i for i in recipe.ingredients if i.amount(key) > 0]
        for other in wanted:
            shared = any(i.amount(other) > 0 for i in sources)
            if other != key and shared:
                assert (other in named) == _met_without(key, other, recipe), other


@pytest.mark.parametrize("limits", [{"K": "at most 100"}, {"EC": "at most 0.4"}])
def test_a_limit_that_is_said_to_force_a_miss_does(limits):
    wanted = {"NO3-N": 72, "K": 200}
    recipe = solve(_wish(wanted, limits=limits), ["KNO3", "KCl"], volume=10)
    (name,) = recipe.binding
    assert f"without {name}" in _told(recipe, "K") or name in _told(recipe, "K")
    free = solve(_wish(wanted), ["KNO3", "KCl"], volume=10)
    assert abs(free.misses["K"]) <= MET


# --- the rows themselves ---------------------------------------------------------------


def _row(name, coefficients, wanted, **facts):
    return Requirement(name, coefficients, wanted, wanted, scale=1.0, key=name, **facts)


def test_the_distance_counts_from_the_nearer_end():
    row = Requirement("K", (2.0,), 4.0, 6.0, constant=1.0, scale=2.0)
    values = [distance(row, np.array([x])) for x in (0.5, 1.5, 2.0, 2.5, 4.0)]
    assert values == [-1.0, 0.0, 0.0, 0.0, 1.5]


def test_a_row_that_shares_no_ingredient_is_no_cause():
    ca, n = _row("Ca", (1.0, 0.0), 2.0), _row("N", (2.0, 0.0), 2.0)
    k = _row("K", (0.0, 1.0), 5.0)
    found = causes(ca, [ca, n, k], np.array([1.2, 5.0]), 0.05)
    assert [cause.row.name for cause in found] == ["N"]
    assert found[0].every


def test_two_wishes_that_each_suffice_leave_no_single_cause():
    ca = _row("Ca", (1.0,), 2.0)
    first, second = _row("N", (2.0,), 2.0), _row("S", (2.0,), 2.0)
    assert causes(ca, [ca, first, second], np.array([1.1]), 0.05) == ()


def test_a_priority_is_kept_while_a_cause_is_sought():
    wanted = {"Ca": 200, "NO3-N": 70}
    first = _wish(wanted, priorities=[["Ca"]])
    recipe = solve(first, ["Ca(NO3)2·4H2O"], volume=10)
    assert recipe.misses["Ca"] == pytest.approx(0, abs=1e-9)
    assert EVERY.format("calcium", "nitrate nitrogen") in _told(recipe, "NO3-N")


def test_a_recipe_without_misses_says_nothing_of_causes():
    recipe = solve(_wish({"K": 200}), [salt("KNO3")], volume=10)
    assert not any("every" in n.what or "without" in n.what for n in recipe.notices)


def test_leaving_out_a_row_that_makes_the_rest_impossible_is_passed_over():
    k = _row("K", (1.0,), 2.0)
    low = Requirement("low", (1.0,), low=3.0, kind="hard")
    high = Requirement("high", (1.0,), high=1.0, kind="hard")
    assert causes(k, [k, low, high], np.array([1.0]), 0.05) == ()
    with pytest.raises(Infeasible):
        solve(
            _wish({"K": 5}, limits={"K": (9, None), "K2O": (None, 1)}),
            ["KNO3"],
            volume=1,
        )
