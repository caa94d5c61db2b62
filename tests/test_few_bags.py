"""Few bags against every set there is, each by a linear programme of its own."""

from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest
from scipy.optimize import linprog

from formulate.errors import Infeasible, InputError, NoConvergence
from formulate.ingredients.salts import as_ingredient, salt
from formulate.recipes import few_bags as module
from formulate.recipes import few_pick, programme
from formulate.recipes.cheapest import cheapest
from formulate.recipes.few_bags import few_bags
from formulate.recipes.few_curve import few_curve
from formulate.recipes.few_price import TRACES as WORDS_OF_TRACES
from formulate.recipes.solve import solve
from formulate.recipes.target import target
from formulate.tables import recipe_rule

WANTED = {
    "NO3-N": 160,
    "NH4-N": 10,
    "P": 40,
    "K": 220,
    "Ca": 150,
    "Mg": 40,
    "S": 60,
    "Fe": 2.0,
    "Mn": 0.6,
    "Zn": 0.3,
    "Cu": 0.1,
    "B": 0.4,
}
SALTS = (
    "KNO3",
    "Ca(NO3)2·4H2O",
    "KH2PO4",
    "MgSO4·7H2O",
    "K2SO4",
    "KCl",
    "NH4H2PO4",
    "NH4NO3",
    "CaCl2·2H2O",
    "Mg(NO3)2·6H2O",
    "(NH4)2SO4",
    "K2HPO4",
    "FeSO4·7H2O",
    "MnSO4·H2O",
    "ZnSO4·7H2O",
    "CuSO4·5H2O",
    "H3BO3",
    "CaSO4·2H2O",
    "NaNO3",
    "MnCl2·4H2O",
)
TRACES = {"Fe", "Mn", "Zn", "Cu", "B"}
NEEDED = ("NO3-N", "P", "K", "Ca", "Mg", "S", "Fe", "B")
HARD_WATER = {"Ca": 60, "Mg": 12, "Na": 20, "Cl": 30, "S": 10}


def drawn(seed, nutrients, salts, *, limits=None, amounts=None, water=None, only=None):
    """Return a seeded recipe, its salts with prices."""
    rng = np.random.default_rng(seed)
    keys = rng.choice(list(WANTED)[: only or len(WANTED)], nutrients, replace=False)
    names = rng.choice(SALTS[: only and 12], salts, replace=False)
    shelf = [salt(n, price_per_kg=float(rng.uniform(1, 9))) for n in names.tolist()]
    feed = target(
        {key: WANTED[key] * float(rng.uniform(0.6, 1.5)) for key in keys.tolist()},
        limits=limits,
    )
    given = amounts(names.tolist()) if amounts else None
    return solve(feed, shelf, volume=100, amounts=given, water=water)


# --- the oracle: every set, by a linear programme written here -----------------------------


def least_of_set(recipe, places, objective, within):
    """Return the least sum, worst or cost that a set of ingredients reaches, or infinity."""
    asked, count = recipe.requirements, len(places)
    wanted = [row for row in asked if row.kind == "wanted"]
    if objective == "worst":
        wanted = [r for r in wanted if r.origin == "target" and any(r.coefficients)]
    many = {"sum": len(wanted), "worst": 1, "cost": 0}[objective]
    cost = np.r_[np.zeros(count), np.ones(many)]
    if objective == "cost":
        cost = np.array([recipe.ingredients[j].price / 1000 for j in places])
    above, below, lines, levels = [], [], [], []
    for place, row in enumerate(wanted):
        factor = np.sqrt(row.weight) / row.scale
        own = np.array(row.coefficients)
        low, high, give = row.low, row.high, np.zeros(many)
        if objective == "sum" and row.origin == "target" and row.key in TRACES:
            factor = factor / 20
        if objective == "cost":
            low, high = low - within * row.scale, high + within * row.scale
            if (
                row.origin == "kept low"
            ):  # traces up to where plants suffer, else its scale
                low, high = -np.inf, row.high + (0 if row.high > 0 else row.scale)
        else:
            give[place if objective == "sum" else 0] = 1.0
        at = own[list(places)] * factor
        for sign, level in ((1, high), (-1, low)):
            if np.isfinite(level):
                lines.append(np.r_[sign * at, -give])
                levels.append(sign * (level - row.constant) * factor)
    for row in asked:
        at = np.array(row.coefficients)[list(places)]
        for sign, level in ((1, row.high), (-1, row.low)):
            if row.kind == "hard" and np.isfinite(level):
                size = abs(level) or 1.0
                above.append(np.r_[sign * at, np.zeros(many)] / size)
                below.append(sign * (level - row.constant) / size)
    if not len(cost):
        return 0.0
    found = linprog(cost, np.array(lines + above), np.array(levels + below))
    return found.fun if found.status == 0 else np.inf


def least_of_all(recipe, most, objective, within=0.05):
    """Return the least value over every set of so many ingredients at most."""
    everything = range(len(recipe.ingredients))
    return min(  # a set holds all its parts
        least_of_set(recipe, places, objective, within)
        for places in combinations(everything, most)
    )


def off_by(found, expected):
    return abs(found - expected) / (1 + abs(expected))


@pytest.mark.parametrize("objective", ["sum", "worst"])
@pytest.mark.parametrize("seed", range(20))
def test_no_set_is_better(seed, objective):
    recipe = drawn(seed, 6, 8)
    most = 1 + seed % 4
    few = few_bags(recipe, most=most, objective=objective)
    assert off_by(few.value, least_of_all(recipe, most, objective)) < 1e-7
    assert few.proven
    assert few.gap == 0
    assert len(few.chosen) <= most
    assert {i.name for i, _ in few.recipe.amounts} <= set(few.chosen)


@pytest.mark.parametrize("objective", ["sum", "worst"])
@pytest.mark.parametrize("seed", range(8))
def test_no_set_is_better_in_a_water_that_brings_something(seed, objective):
    recipe = drawn(seed, 5, 7, water=HARD_WATER)
    few = few_bags(recipe, most=3, objective=objective)
    assert off_by(few.value, least_of_all(recipe, 3, objective)) < 1e-7
    assert few.proven


@pytest.mark.parametrize("seed", range(12))
def test_no_set_is_better_within_limits_and_amounts(seed):
    def amounts(names):
        return {names[0]: "exactly 4 g", names[1]: "at most 20 g"}

    limits = {
        "Cl": "at most 60 mg/L",
        "K": "at most 200 mg/L",
        "salts": "at most 3 g/L",
    }
    recipe = drawn(seed, 6, 8, limits=limits, amounts=amounts)
    few = few_bags(recipe, most=3)
    assert off_by(few.value, least_of_all(recipe, 3, "sum")) < 1e-7
    assert recipe.ingredients[0].name in few.chosen
    assert few.recipe.masses[recipe.ingredients[0].name] == pytest.approx(4, rel=1e-9)
    assert few.recipe.masses.get(recipe.ingredients[1].name, 0) <= 20 * (1 + 1e-9)
    assert few.recipe.solution.mg_l("Cl") <= 60 * (1 + 1e-9)


WITHIN_REACH = (0, 1, 2, 3, 5, 7, 8, 10, 11, 13, 14, 15, 16, 21, 22, 26)


@pytest.mark.parametrize("seed", WITHIN_REACH)
def test_none_is_cheaper(seed):
    recipe, most = drawn(seed, 4, 8, only=7), 2 + seed % 3
    expected = least_of_all(recipe, most, "cost", 0.05)
    try:
        few = few_bags(recipe, most=most, objective="cost", within=0.05)
    except Infeasible:
        assert expected == np.inf
        return
    assert off_by(few.value, expected * 100) < 1e-7
    assert few.recipe.cost <= few.value * (1 + 2e-6)
    assert all(abs(miss) <= 0.05 + 1e-6 for miss in few.recipe.misses.values())
    everything = least_of_set(recipe, range(8), "cost", 0.05) * 100
    assert few.without == pytest.approx(everything, rel=1e-6)
    assert few.price.cost_change == pytest.approx(few.value - everything, abs=1e-6)


def test_by_hand():
    """Without one of three: 15 of nitrogen, 6.01 of potassium, 1 mmol/L of phosphorus.

    K from KH2PO4 is 1.00, the rest, 5.01, from KNO3 brings as much N: (14.99 - 5.01)/14.99
    = 0.666 of it is missing. Calcium nitrate instead misses 5.01/6.01 of the potassium.
    """
    shelf = ["KNO3", "Ca(NO3)2·4H2O", "KH2PO4"]
    recipe = solve(target({"NO3-N": 210, "K": 235, "P": 31}), shelf, volume=100)
    few = few_bags(recipe, most=2)
    n, k, p = 210 / 14.007, 235 / 39.0983, 31 / 30.973762
    assert few.value == pytest.approx((n - (k - p)) / n, rel=1e-4)
    assert few.chosen == ("KNO3", "KH2PO4")
    assert "NO3-N" in few.price.lost
    assert few.without == pytest.approx(0, abs=1e-9)


def test_weights_are_those_of_least_squares():
    recipe = drawn(3, 6, 8)
    few = few_bags(recipe, most=3)
    shelf = [i for i in recipe.ingredients if i.name in few.chosen]
    alone = solve(recipe.target, shelf, volume=100)
    assert dict(few.recipe.masses) == dict(alone.masses)


def test_the_worst_leaves_the_rest_as_near_as_it_can_be():
    """Nothing brings boron: all else is still met, for the sum is least among those."""
    shelf = ["KNO3", "Ca(NO3)2·4H2O", "KH2PO4", "H3BO3", "KCl"]
    feed = target({"NO3-N": 150, "K": 150, "P": 31, "B": 0.4})
    few = few_bags(solve(feed, shelf, volume=100), most=3, objective="worst")
    by_sum = few_bags(solve(feed, shelf, volume=100), most=3)
    assert few.value <= 1 + 1e-9
    assert few.value <= max(abs(v) for v in by_sum.recipe.misses.values()) + 1e-9


@pytest.mark.parametrize("objective", ["sum", "worst", "cost"])
def test_enough_of_them_restrict_nothing(objective):
    recipe = drawn(1, 5, 7, only=7)
    few = few_bags(recipe, most=7, objective=objective)
    assert few.value == pytest.approx(few.without, abs=1e-9)
    assert any("nothing was restricted" in n.what for n in few.notices)


@pytest.mark.parametrize("objective", ["sum", "worst"])
def test_fewer_are_never_better(objective):
    curve = few_curve(drawn(5, 8, 10), most=6, objective=objective)
    values = [row[1] for row in curve.rows()]
    assert all(one <= other + 1e-9 for one, other in pairwise(values))
    assert [row[0] for row in curve.rows()] == [6, 5, 4, 3, 2, 1]
    assert curve.to_frame()["value"].tolist() == values


def test_the_curve_ends_at_what_the_recipe_uses_and_says_what_is_left_out():
    recipe = drawn(5, 5, 7)
    curve = few_curve(recipe)
    assert len(curve.points) == len(recipe.amounts)
    for above, below in pairwise(curve.rows()):
        names, fewer, gone = above[3], below[3], below[4]
        assert set(gone) == set(names) - set(fewer)
    assert "without" in str(curve)


def test_the_curve_says_where_so_few_cannot_do():
    shelf = ["KNO3", "KH2PO4", "KCl"]
    amounts = {"KNO3": "at least 1 g", "KH2PO4": "at least 1 g"}
    recipe = solve(target({"K": 200, "P": 30}), shelf, volume=100, amounts=amounts)
    curve = few_curve(recipe, most=2)
    assert curve.points[0] is None
    assert curve.points[1].chosen == ("KNO3", "KH2PO4")
    assert "cannot hold what must" in str(curve)


def test_too_few_name_how_many_it_takes():
    shelf = ["KNO3", "KH2PO4", "KCl"]
    amounts = {"KNO3": "at least 1 g", "KH2PO4": "at least 1 g"}
    recipe = solve(target({"K": 200, "P": 30}), shelf, volume=100, amounts=amounts)
    with pytest.raises(Infeasible, match="it takes 2") as caught:
        few_bags(recipe, most=1)
    assert "amount of KNO3 at least 1 g" in caught.value.requirements


def test_twice_is_the_same():
    first, second = (few_bags(drawn(7, 8, 14), most=5) for _ in range(2))
    assert first.value == second.value
    assert dict(first.recipe.masses) == dict(second.recipe.masses)
    assert str(first) == str(second)


def test_a_wanted_value_without_weight_does_not_choose():
    feed = target({"K": 200, "B": 0.4}, weights={"K": 0})
    recipe = solve(feed, ["KNO3", "H3BO3"], volume=100)
    assert few_bags(recipe, most=1).chosen == ("H3BO3",)


def test_priorities_are_told_to_count_for_the_weights_only():
    feed = target({"K": 200, "P": 30, "NO3-N": 100}, priorities=[["P"]])
    recipe = solve(feed, ["KNO3", "KH2PO4", "K2SO4"], volume=100)
    few = few_bags(recipe, most=2)
    assert any(n.what.startswith("priorities count") for n in few.told)


def test_liquids_take_room_and_the_rows_settle():
    acid = "nitric acid (67 %)"
    shelf = ["KNO3", "KH2PO4", "MgSO4·7H2O", acid]
    feed = target({"NO3-N": 150, "K": 120, "P": 30, "Mg": 40})
    recipe = solve(feed, shelf, volume=100, water=HARD_WATER)
    few = few_bags(recipe, most=3)
    assert few.proven
    assert len(few.recipe.amounts) <= 3


def test_a_limited_ph_stays_kept():
    shelf = ["KNO3", "KH2PO4", "MgSO4·7H2O", "Ca(NO3)2·4H2O", "nitric acid (67 %)"]
    feed = target({"NO3-N": 150, "K": 200, "P": 30, "Mg": 40, "Ca": 130})
    recipe = solve(feed, shelf, volume=100, water="hard-tap-voehringen", ph=5.8)
    few = few_bags(recipe, most=4)
    assert "nitric acid (67 %)" in few.chosen
    assert len(few.recipe.amounts) <= 4


def test_a_choice_that_swings_is_judged_by_its_recipes():
    """Lines of an EC drawn at a free acid forbid what the EC allows."""
    shelf = ["KNO3", "KH2PO4", "MgSO4·7H2O", "Ca(NO3)2·4H2O", "K2SO4", "H3BO3"]
    shelf += ["FeSO4·7H2O", "MnSO4·H2O", "nitric acid (67 %)", "phosphoric acid (85 %)"]
    feed = {"NO3-N": 150, "K": 200, "P": 30, "Mg": 40, "Ca": 130, "S": 60}
    wish = target({**feed, "Fe": 2, "B": 0.4, "Mn": 0.5})
    facts = {"volume": 100, "water": "hard-tap-voehringen"}
    few = few_bags(solve(wish, shelf, ec="at most 1.8 mS/cm", **facts), most=6)
    assert len(few.recipe.amounts) <= 6
    assert few.recipe.limits[0][1] <= 1.8 * 1.001
    assert few.value < 3
    assert any(n.what.startswith("pH and EC count as straight") for n in few.notices)


@pytest.mark.parametrize("seed", range(6))
def test_no_set_is_better_along_the_lines_of_ph_and_ec(seed):
    rng = np.random.default_rng(seed)
    shelf = [*rng.choice(SALTS[:12], 6, replace=False).tolist(), "nitric acid (67 %)"]
    feed = target({k: WANTED[k] * float(rng.uniform(0.7, 1.3)) for k in NEEDED})
    facts = {"volume": 100, "water": "hard-tap-voehringen"}
    recipe = solve(feed, shelf, ph=5.8, ec="at most 2.2 mS/cm", **facts)
    picker = few_pick.Picker(recipe, 4, "sum", 0.05, None)
    rows = picker.settled()
    expected = least_of_all(replace(recipe, requirements=rows), 4, "sum")
    assert off_by(picker.choice.value, expected) < 1e-6
    few = few_bags(recipe, most=4)
    assert few.proven
    assert few.value == pytest.approx(picker.choice.value, rel=1e-9)
    assert "nitric acid (67 %)" in few.chosen


def test_lines_that_settle_take_no_search_of_their_own(monkeypatch):
    """One search for a better set, one that proves it: not two for each set of lines."""
    real, whole = programme.Programme.least, []

    def counted(self, **facts):
        whole.append(any(block[3].any() for block in self._blocks))
        return real(self, **facts)

    shelf = [*SALTS[:18], "nitric acid (67 %)", "phosphoric acid (85 %)"]
    facts = {"volume": 100, "water": "hard-tap-voehringen", "ph": 5.8}
    recipe = solve(target(WANTED), shelf, ec="at most 2 mS/cm", **facts)
    monkeypatch.setattr(programme.Programme, "least", counted)
    few = few_bags(recipe, most=6)
    assert few.proven
    assert sum(whole) <= 3


# --- bands ------------------------------------------------------------------------------


def priced(names, prices):
    return [
        replace(as_ingredient(n), price=p) for n, p in zip(names, prices, strict=True)
    ]


def acid_recipe():
    """Return a recipe with a pH whose nearest amounts miss more than a band of 10 %."""
    names = ["Ca(NO3)2·4H2O", "KNO3", "KH2PO4", "MgSO4·7H2O", "K2SO4"]
    shelf = priced([*names, "nitric acid (67 %)"], [1, 1.7, 2.4, 3.1, 3.8, 2.0])
    feed = target({"N": 150, "P": 40, "K": 210, "Ca": 160, "Mg": 45, "S": 60})
    return solve(feed, shelf, volume=100, water="hard-tap-voehringen", ph=5.8)


def test_the_cheapest_of_few_keeps_the_band_that_was_asked_for():
    recipe = acid_recipe()
    few = few_bags(recipe, most=6, objective="cost", within=0.10)
    assert max(abs(miss) for miss in few.recipe.misses.values()) <= 0.10 + 1e-6
    assert few.recipe.cost == pytest.approx(
        cheapest(recipe, within=0.10).cost, rel=2e-3
    )
    assert few.recipe.cost == pytest.approx(few.value, rel=2e-3)


def test_a_cost_is_held_against_that_of_every_ingredient_within_the_same_band():
    """200 mg/L less 5 % in 100 L are 19 g of K: 49.13 g of KNO3 (38.67 % K) cost 0.0983."""
    shelf = priced(["KCl", "KNO3"], [1.0, 2.0])
    facts = {"volume": 100, "amounts": {"KNO3": "at least 10 g"}}
    recipe = solve(target({"K": 200}), shelf, **facts)
    few = few_bags(recipe, most=1, objective="cost", within=0.05)
    assert few.chosen == ("KNO3",)
    assert few.value == pytest.approx(0.0983, abs=1e-4)
    every = cheapest(recipe, within=0.05).cost
    assert every < 0.9 * few.value
    assert few.without == pytest.approx(every, rel=1e-6)
    assert few.price.cost_change == pytest.approx(few.value - every, rel=1e-5)
    assert "with every ingredient within the same bands" in str(few.price)
    assert f"the batch costs {few.value - every:.4f} more" in str(few.price)


def test_what_was_held_at_a_cost_is_chosen_for_by_what_is_wanted():
    recipe = acid_recipe()
    cheap = cheapest(recipe, within=0.2).recipe
    first, second = few_bags(recipe, most=4), few_bags(cheap, most=4)
    assert first.chosen == second.chosen
    assert second.value == pytest.approx(first.value, rel=1e-3)
    again = few_bags(
        few_bags(recipe, most=5, objective="cost", within=0.2).recipe, most=4
    )
    assert len(again.recipe.amounts) <= 4
    assert not any("within" in row.origin for row in again.recipe.requirements)


# --- macronutrients first, and what is told ----------------------------------------------


def test_macronutrients_come_first():
    """P is wanted once, traces of five kinds: all five together count a quarter of it."""
    shelf = ["KNO3", "KH2PO4", "H3BO3", "ZnSO4·7H2O", "CuSO4·5H2O"]
    feed = target({"NO3-N": 75, "K": 240, "P": 31, "B": 0.4, "Zn": 0.3, "Cu": 0.1})
    few = few_bags(solve(feed, shelf, volume=100), most=2)
    assert few.chosen == ("KNO3", "KH2PO4")
    assert WORDS_OF_TRACES in str(few)
    assert recipe_rule("trace in a choice").number("high") / 100 == 1 / 20


def test_a_weight_brings_a_trace_to_the_front():
    feed = target({"K": 200, "B": 0.4}, weights={"B": 500})
    few = few_bags(solve(feed, ["KNO3", "H3BO3"], volume=100), most=1)
    assert few.chosen == ("H3BO3",)


def test_all_that_is_further_off_is_told_the_worst_first():
    """P is 10 % short for want of KH2PO4 as it is; without it all of it is missing."""
    shelf = ["KNO3", "KH2PO4", "H3BO3", "K2SO4"]
    feed = target({"NO3-N": 75, "K": 240, "P": 31, "B": 0.4})
    most = f"at most {0.9 * 3.1 * 136.086 / 30.974:.4f} g"
    recipe = solve(feed, shelf, volume=100, amounts={"KH2PO4": most})
    assert recipe.misses["P"] == pytest.approx(-0.1, abs=1e-3)
    price = few_bags(recipe, most=1).price
    assert {"P", "B"} <= set(price.lost)
    off = [abs(price.after.misses[key]) for key in price.lost]
    assert off == sorted(off, reverse=True)
    assert "P -100.0 %" in str(price)
    assert "B -100.0 %" in str(price)


def test_nothing_is_told_as_nothing():
    recipe = solve(target({"K": 5, "Cl": 5}, unit="mmol/L"), ["KCl"], volume=100)
    few = few_bags(recipe, most=1)
    assert "weighted sum of squares: 0 to 0" in str(few)
    assert str(few).startswith("1 ingredient of at most 1: ")
    assert few.head == "1 ingredient of at most 1"


def test_an_error_names_what_is_to_blame_and_nothing_else():
    shelf = ["KNO3", "KH2PO4", "KCl", "nitric acid (67 %)"]
    amounts = {"KNO3": "at least 1 g", "KH2PO4": "at least 1 g"}
    feed = target({"K": 200, "P": 30}, limits={"Cl": "at most 500 mg/L"})
    recipe = solve(feed, shelf, volume=100, amounts=amounts)
    with pytest.raises(Infeasible) as caught:
        few_bags(recipe, most=1)
    assert str(caught.value) == (
        "1 ingredient cannot keep amount of KNO3 at least 1 g, "
        "amount of KH2PO4 at least 1 g; it takes 2"
    )
    dear = solve(target({"K": 200, "P": 30}), priced(shelf[:3], [1, 2, 3]), volume=100)
    with pytest.raises(Infeasible) as caught:
        few_bags(dear, most=1, objective="cost")
    told = "1 ingredient cannot keep every wanted value within 5 %; it takes 2"
    assert str(caught.value) == told


# --- what is not proven ------------------------------------------------------------------


def hard_case():
    """Return a recipe whose search needs branches: bags that bring several nutrients each."""
    rng = np.random.default_rng(34)
    keys = ["NO3-N", "P", "K", "Ca", "Mg", "S", "Fe", "Mn", "Zn", "Cu", "B"]
    base = salt("KNO3")
    forms = ["nitrate", "phosphate", "potassium", "calcium", "magnesium", "sulfate"]
    forms += ["iron_ii", "manganese", "zinc", "copper", "borate"]
    mmol = np.array([10, 1.2, 6, 4, 1.6, 2, 0.04, 0.01, 0.005, 0.002, 0.04])
    bags = []
    for number in range(20):
        share = rng.random(11) * (rng.random(11) < 0.5) * mmol
        known = {f: float(v) for f, v in zip(forms, share, strict=True) if v}
        bags.append(replace(base, name=f"bag {number}", forms=known, formula=""))
    wanted = mmol * rng.uniform(0.6, 1.4, 11)
    feed = target(dict(zip(keys, wanted.tolist(), strict=True)), unit="mmol/L")
    return solve(feed, bags, volume=100, amounts={"bag 0": "at most 10 g"})


def test_a_search_that_was_cut_short_says_so_and_keeps_the_hard_rows(monkeypatch):
    recipe = hard_case()
    whole = few_bags(recipe, most=5)
    monkeypatch.setattr(programme, "NODES", 1)
    few = few_bags(recipe, most=5)
    assert whole.proven
    assert not few.proven
    assert 0 < few.gap < np.inf
    assert few.bound <= whole.value * (1 + 1e-9) <= few.value * (1 + 2e-9)
    assert few.gap == pytest.approx((few.value - few.bound) / few.value)
    assert "not proven, gap" in str(few)
    assert len(few.recipe.amounts) <= 5
    assert few.recipe.masses.get("bag 0", 0) <= 10 * (1 + 1e-9)


def test_nothing_found_in_time_is_told(monkeypatch):
    recipe = drawn(0, 6, 8)
    monkeypatch.setattr(few_pick, "chosen_few", lambda *_, **__: None)
    with pytest.raises(NoConvergence, match="more time"):
        few_bags(recipe, most=8)


def test_a_set_that_cannot_be_weighed_is_left_out(monkeypatch):
    recipe, real, tried = drawn(2, 6, 8), module.solve, []

    def first_fails(*given, **facts):
        tried.append(tuple(i.name for i in given[1]))
        if len(tried) == 1:
            raise Infeasible("no room for the digits")
        return real(*given, **facts)

    best = few_bags(recipe, most=3)
    monkeypatch.setattr(module, "solve", first_fails)
    few = few_bags(recipe, most=3)
    assert tried[0] == best.chosen
    assert few.chosen != best.chosen
    assert few.value >= best.value
    assert not few.proven


# --- what cannot be asked ------------------------------------------------------------------


@pytest.mark.parametrize("most", [0, -1, 2.5, "six", None, True, float("inf")])
def test_a_number_that_is_none(most):
    recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    with pytest.raises(InputError, match="most ingredients"):
        few_bags(recipe, most=most)
    if most is not None:
        with pytest.raises(InputError, match="most ingredients"):
            few_curve(recipe, most=most)


def test_every_fault_at_once():
    recipe = solve(target({"K": 200}), ["KNO3", "KCl"], volume=10)
    with pytest.raises(InputError) as caught:
        few_bags(recipe, most=0, objective="cost", within=-1, time_limit=0)
    text = str(caught.value)
    assert len(caught.value.faults) == 4
    for word in ("most ingredients", "within", "time limit", "no price for KNO3, KCl"):
        assert word in text
    with pytest.raises(InputError, match='"sum" or "worst" or "cost"'):
        few_bags(recipe, objective="best")
    for thing in (None, "KNO3", recipe.target):
        with pytest.raises(InputError, match="is no recipe"):
            few_bags(thing)
        with pytest.raises(InputError, match="is no recipe"):
            few_curve(thing)
