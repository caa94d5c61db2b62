"""Practical weights: whole steps, hard rows, mass balance, errors, bad input."""

import itertools
import math
import random

import numpy as np
import pytest

from formulate.errors import InputError
from formulate.ingredients.dissolve import dissolve
from formulate.ingredients.ingredient import analysed
from formulate.ingredients.salts import acid, salt
from formulate.ingredients.stock import stock
from formulate.ingredients.water import water
from formulate.recipes.practical import weigh
from formulate.recipes.requirements import Requirement, brought
from formulate.recipes.rounding import Plan, plan_rounding, whole_steps
from formulate.recipes.solve import solve
from formulate.recipes.target import target
from formulate.stoichiometry.solution import solution

BAG = "greenhouse calcium nitrate"
SHELF = [
    salt(BAG, name="bag", price_per_kg=2),
    *(
        salt(f, price_per_kg=3)
        for f in (
            *("KNO3", "KH2PO4", "MgSO4·7H2O", "K2SO4", "MnSO4·H2O", "ZnSO4·7H2O"),
            *("H3BO3", "CuSO4·5H2O", "Na2MoO4·2H2O"),
        )
    ),
    salt("iron DTPA chelate (11 % Fe)", name="iron", price_per_kg=9),
    acid("HNO3", percent=38, density=1.234, name="acid", price_per_kg=2),
]
STEPS = {ingredient.name: ingredient.weighing_step for ingredient in SHELF}
TRACES = {"Fe": 2.8, "Mn": 0.8, "Zn": 0.3, "B": 0.7, "Cu": 0.2, "Mo": 0.05}


def seeded(seed):
    """Return a recipe for an invented target, batch and water."""
    draw = random.Random(seed)
    wanted = {"N": draw.uniform(70, 200), "P": draw.uniform(20, 60)}
    wanted |= {"K": draw.uniform(100, 300), "Ca": draw.uniform(80, 200)}
    wanted |= {"Mg": draw.uniform(20, 60), "S": draw.uniform(30, 90)} | TRACES
    volume = draw.choice([4, 10, 50, 200, 1000])
    water = draw.choice([None, "medium", "hard"])
    return solve(target(wanted), SHELF, volume=volume, water=water)


def exact_misses(recipe, amounts):
    """Return the squared misses of the wanted rows, from the dissolved solution."""
    has = dissolve(dict(amounts), volume=recipe.volume, water=recipe.water)
    total = 0.0
    for row in recipe.requirements:
        if row.origin == "target":
            off = max(row.low - has.mmol_l(row.key), has.mmol_l(row.key) - row.high, 0)
            total += row.weight * (off / row.scale) ** 2
        elif row.kind == "wanted":
            tap = brought(row.key, (), recipe.water.solution)[1]
            poured = sum(i.millilitres(a) for i, a in amounts) / 1000 / recipe.volume
            from_shelf = has.mmol_l(row.key) - tap * (1 - poured)
            total += row.weight * (from_shelf / row.scale) ** 2
    return total


# --- laws ------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("stocks", [False, True])
def test_whole_steps_and_mass_balance(seed, stocks):
    weighed = weigh(seeded(seed), stocks=stocks)
    for ingredient, amount in weighed.amounts:
        count = amount / weighed.steps[ingredient.name]
        assert count == pytest.approx(round(count), abs=1e-6)
    for made in weighed.stocks:
        for part, grams in made.parts:
            count = grams / made.steps[part.name]
            assert count == pytest.approx(round(count), abs=1e-6)
    # what is printed, its stocks taken apart, weighs out to the same elements
    flat = {}
    for ingredient, amount in weighed.amounts:
        for part, grams in ingredient.parts or ((ingredient, ingredient.made_of or 1),):
            share = amount / ingredient.made_of if ingredient.parts else amount
            flat[part] = flat.get(part, 0.0) + grams * share
    tap = weighed.water.solution
    poured = sum(i.millilitres(a) for i, a in weighed.amounts) / 1000
    for key in ("K", "Ca", "S", "Fe", "Mo", "NO3-N"):
        brings = sum(i.amount(key) * a for i, a in flat.items()) / weighed.volume
        from_tap = tap.mmol_l(key) * (1 - poured / weighed.volume)
        assert weighed.solution.mmol_l(key) == pytest.approx(brings + from_tap)


@pytest.mark.parametrize("seed", range(120))
def test_never_worse_than_the_nearest_steps(seed):
    recipe = seeded(seed)
    plan = plan_rounding(recipe, STEPS)
    nearest = plan.score(plan.values(np.rint(plan.exact)))
    found = plan.score(plan.values(whole_steps(plan)))
    assert found[0] <= nearest[0]
    assert found[0] < nearest[0] or found[1] <= nearest[1]


@pytest.mark.parametrize("seed", range(10))
def test_the_rows_count_what_the_solution_holds(seed):
    """The linear rows and a plain dissolve agree, liquids and water reckoned with."""
    recipe = seeded(seed)
    plan = plan_rounding(recipe, STEPS)
    weighed = weigh(recipe)
    counted = plan.score(plan.values(whole_steps(plan)))[1]
    assert exact_misses(recipe, weighed.amounts) == pytest.approx(counted, rel=1e-6)


@pytest.mark.parametrize("seed", range(8))
def test_no_neighbour_is_better(seed):
    """The oracle: every combination of -1, 0, +1 steps of four salts."""
    draw = random.Random(seed)
    wanted = {"N": draw.uniform(80, 200), "K": 200, "Ca": 120, "P": 30, "Mg": 30}
    shelf = [BAG, "KNO3", "KH2PO4", "MgSO4·7H2O"]
    shelf = [salt(name, name=f"salt {n}") for n, name in enumerate(shelf)]
    recipe = solve(target(wanted), shelf, volume=2)
    amounts = weigh(recipe).amounts
    best = exact_misses(recipe, amounts)
    better = []
    for moves in itertools.product((-1, 0, 1), repeat=len(amounts)):
        if sum(map(abs, moves)) > 2:
            continue
        near = [(i, a + m * 0.1) for (i, a), m in zip(amounts, moves, strict=True)]
        if min(a for _, a in near) >= 0:
            better.append(exact_misses(recipe, near) < best * (1 - 1e-9))
    assert len(better) > 30
    assert not any(better)


@pytest.mark.parametrize("most", [0.2, 0.55, 1.0, 1.3])
@pytest.mark.parametrize("volume", [1, 3, 7])
def test_a_hard_row_is_kept(most, volume):
    """No more chloride than a limit, on a balance of 0.1 g."""
    shelf = [salt("KCl"), salt("KNO3"), salt("CaCl2·2H2O"), salt("MgSO4·7H2O")]
    row, _ = brought("Cl", shelf, solution({}))
    rule = Requirement("Cl at most", row, high=most, kind="hard")
    feed = target({"K": 200, "Ca": 60, "Mg": 30})
    recipe = solve(feed, shelf, volume=volume, requirements=[rule])
    weighed = weigh(recipe)
    assert recipe.solution.mmol_l("Cl") == pytest.approx(most)  # it binds
    assert weighed.solution.mmol_l("Cl") <= most * (1 + 1e-7)
    assert not any(notice.severity == "serious" for notice in weighed.notices)


def test_hard_rows_are_kept_wherever_a_search_of_all_neighbours_keeps_them():
    """The oracle: every combination of steps from two below to three above."""
    kept = 0
    for seed in range(150):
        draw = np.random.default_rng(seed)
        rows, exact = draw.uniform(-0.3, 1, (5, 3)), draw.uniform(0.3, 6, 3)
        values = rows @ exact
        low, high = np.full(5, -np.inf), np.add(values, (0, 0.1, 0.1, 0, 0))
        low[0], low[3:] = values[0] - 0.1, values[3:]
        is_hard = np.array([True, True, True, False, False])
        ones, none = np.ones(3), np.zeros(5)
        plan = Plan(
            ("a", "b", "c"), exact, ones, rows, none, low, high, np.ones(5), is_hard
        )
        near = itertools.product(range(-2, 4), repeat=3)
        near = [np.floor(exact) + move for move in near]
        scores = [plan.score(plan.values(n)) for n in near if n.min() >= 0]
        if any(broken == 0 for broken, _ in scores):
            kept += 1
            assert plan.score(plan.values(whole_steps(plan)))[0] == 0
    assert kept > 20


def test_an_exact_value_is_kept_within_half_a_step():
    # 1 g of KCl in 10 L is 1.341 mmol/L (39.098 + 35.45 = 74.548 g/mol); 1.5 is nearest
    shelf = [salt("KCl")]
    row, _ = brought("Cl", shelf, solution({}))
    rule = Requirement("Cl exactly", row, 1.5, 1.5, kind="hard")
    recipe = solve(target({"K": 60}), shelf, volume=10, requirements=[rule])
    weighed = weigh(recipe, steps={"KCl": 1})
    assert weighed.amounts[0][1] == 1
    assert all(n.severity != "serious" for n in weighed.notices if "exactly" in n.what)


def test_a_hard_row_that_no_steps_keep_is_serious():
    # 1 g of KCl in 10 L is 1.341 mmol/L (39.098 + 35.45 = 74.548 g/mol); 1.5 to 1.6 only
    shelf = [salt("KCl")]
    row, _ = brought("Cl", shelf, solution({}))
    rule = Requirement("Cl exactly", row, 1.5, 1.6, kind="hard")
    recipe = solve(target({"K": 60}), shelf, volume=10, requirements=[rule])
    weighed = weigh(recipe, steps={"KCl": 1})
    first = weighed.notices[0]
    assert first.severity == "serious"
    assert "Cl exactly" in first.what
    assert "0.159 mmol/L" in first.what  # 1.5 - 1.341


# --- errors by hand --------------------------------------------------------------------


def test_the_error_of_a_balance_by_hand():
    recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    weighed = weigh(recipe, steps={"KNO3": "0.5 g"})
    # 5.17 g becomes 5.0 g; half a step is 0.25 g
    assert weighed.errors() == (("KNO3", 5.0, 0.5, 5.0),)
    key, exact, has, change, worst, likely = weighed.rows()[0]
    assert (key, round(exact, 6)) == ("K", 200)
    # 5.0 g / 10 L * 39.098 / 101.102 (CIAAW 2021, abridged)
    assert has == pytest.approx(500 * 39.098 / 101.102, rel=3e-5)
    assert change == pytest.approx(100 * (has / 200 - 1))
    assert worst == pytest.approx(5.0)
    assert likely == pytest.approx(5.0)


def test_two_errors_add_at_worst_and_as_squares():
    shelf = [salt("KCl"), salt("KNO3")]
    recipe = solve(target({"K": 200, "NO3-N": 40, "Cl": 76}), shelf, volume=10)
    weighed = weigh(recipe)
    moles = {"KCl": 1 / 74.548, "KNO3": 1 / 101.102}  # mol K in 1 g
    brings = {i.name: a * moles[i.name] for i, a in weighed.amounts}
    whole = sum(brings.values())
    each = [0.05 * moles[name] / whole * 100 for name in brings]
    _, _, _, _, worst, likely = weighed.rows()[0]
    assert worst == pytest.approx(sum(each), rel=1e-4)
    assert likely == pytest.approx(math.hypot(*each), rel=1e-4)


# --- stocks ----------------------------------------------------------------------------


def test_stocks_take_the_place_of_traces():
    recipe = solve(target({"K": 200, "Ca": 150} | TRACES), SHELF, volume=20)
    plain, better = weigh(recipe), weigh(recipe, stocks=True)
    assert plain.stocks == ()
    assert better.stocks
    inside = {part.name for made in better.stocks for part, _ in made.parts}
    assert "H3BO3" in inside
    assert not inside & {i.name for i, _ in better.amounts}
    doses = {made.ingredient: made.dose for made in better.stocks}
    assert doses.items() <= dict(better.amounts).items()
    off = {row[0]: row for row in better.rows()}
    worse = {row[0]: row for row in plain.rows()}
    for key in ("B", "Mn", "Zn", "Cu"):
        assert abs(off[key][3]) < 1
        assert off[key][5] < worse[key][5]
    assert better.working("B").value == pytest.approx(better.solution.mg_l("B"))


def test_what_rounds_to_nothing_is_told():
    recipe = solve(target({"K": 200, "Mo": 0.05}), ["KNO3", "Na2MoO4·2H2O"], volume=4)
    weighed = weigh(recipe)
    assert "Na2MoO4·2H2O" not in {i.name for i, _ in weighed.amounts}
    assert any("rounds to nothing" in notice.what for notice in weighed.notices)


def test_nothing_to_stock_in_a_large_batch():
    recipe = solve(target({"K": 200, "Ca": 150} | TRACES), SHELF, volume=50_000)
    assert weigh(recipe, stocks=True).stocks == ()
    for _, _, _, change, *_ in weigh(recipe).rows():
        assert change is None or abs(change) < 0.1


# --- liquids and steps -----------------------------------------------------------------


def test_liquids_are_poured_in_steps_of_their_measure():
    shelf = [
        stock("A", {"KNO3": 100}, volume=1),
        acid("HNO3", percent=38, density=1.234, name="acid"),
    ]
    recipe = solve(target({"K": 200, "N": 150}), shelf, volume=10)
    weighed = weigh(recipe, steps={"acid": "1 mL"})
    amounts = {i.name: (i, a) for i, a in weighed.amounts}
    assert amounts["A"][1] == round(amounts["A"][1])  # 52 mL: a cylinder, steps of 1 mL
    poured = amounts["acid"][0].millilitres(amounts["acid"][1])
    assert poured == pytest.approx(round(poured), abs=1e-6)


def test_an_ingredient_without_a_step_is_left_as_it_is():
    bag = analysed("my bag", {"NO3-N": 14.4, "NH4-N": 1.1, "Ca": 19})
    recipe = solve(target({"Ca": 150}), [bag], volume=7)
    weighed = weigh(recipe)
    assert weighed.amounts == recipe.amounts
    assert any("no weighing step" in notice.what for notice in weighed.notices)
    assert weigh(recipe, steps={"my bag": 1}).amounts[0][1] == 6.0  # 5.53 g


@pytest.mark.parametrize("step", [0, -1, math.nan, math.inf, True, "x", "1 mg/L", None])
def test_a_step_that_is_none_is_refused(step):
    recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    with pytest.raises(InputError, match="KNO3"):
        weigh(recipe, steps={"KNO3": step})


def test_every_fault_is_told_at_once():
    recipe = solve(target({"K": 200, "P": 30}), ["KNO3", "KH2PO4"], volume=10)
    with pytest.raises(InputError) as told:
        weigh(recipe, steps={"KNO3": "100 kg", "KH2PO4": -1, "sand": 1})
    assert len(told.value.faults) == 3


def test_a_step_as_large_as_the_batch_is_refused():
    recipe = solve(target({"K": 200}), ["KNO3"], volume=1)
    with pytest.raises(InputError, match="of all ingredients together"):
        weigh(recipe, steps={"KNO3": 100})


def test_bad_recipe_and_steps_are_refused():
    with pytest.raises(InputError, match="no recipe"):
        weigh("KNO3")
    with pytest.raises(InputError, match="mapping"):
        weigh(solve(target({"K": 200}), ["KNO3"], volume=1), steps=0.1)


def test_a_recipe_that_uses_nothing():
    recipe = solve(target({"K": 200}), ["MgCl2·6H2O"], volume=10)
    assert recipe.amounts == ()
    weighed = weigh(recipe, stocks=True)
    assert weighed.amounts == ()
    assert weighed.stocks == ()
    assert weighed.cost == 0
    assert weighed.to_frame().loc["K", "weighed"] == 0


def test_cost_and_words():
    recipe = seeded(1)
    weighed = weigh(recipe, stocks=True)
    flat = sum(i.cost(a) for i, a in weighed.amounts)
    assert weighed.cost == pytest.approx(flat)
    assert weighed.cost == pytest.approx(recipe.cost, rel=0.05)
    text = str(weighed)
    assert "at worst" in text
    assert "weighed" in text
    for made in weighed.stocks:
        assert made.ingredient.name in text


def test_an_exact_limit_does_not_walk_the_weights_away():
    """Each step of a liquid displaces a little potassium of the water: no way to follow."""
    shelf = [
        salt("Ca(NO3)2·4H2O"), salt("KNO3"), salt("KH2PO4"), salt("MgSO4·7H2O"),
        acid("HNO3", percent=38, density=1.23, name="nitric acid"),
    ]  # fmt: skip
    wish = {"N": 180, "P": 45, "K": 240, "Ca": 120, "Mg": 40, "S": 60}
    limited = target(wish, limits={"K": "exactly 240 mg/L"})
    recipe = solve(limited, shelf, volume=4, water=water("hard"))
    weighed = weigh(recipe, steps={one.name: "0.1 g" for one in shelf})
    exact = {one.name: amount for one, amount in recipe.amounts}
    for one, amount in weighed.amounts:
        assert abs(amount - exact[one.name]) <= 2 * 0.1 + 1e-9
    # half a step of each: 0.05 g of nitrate and of phosphate in 4 L, 386.7 and 287.3 mg/g
    assert abs(weighed.solution.mg_l("K") - 240) <= 0.05 * (386.7 + 287.3) / 4 + 0.1


def test_free_acid_is_told_of_what_is_weighed():
    # 1 meq/L of bicarbonate meets 1 mmol/L of acid: 0.1658 g at 38 % (63.01 g/mol); the
    # balance makes 0.2 g of it, 1.206 mmol/L, and 0.206 meq/L of acid are left
    strong = acid("HNO3", percent=38, density=1.23, name="nitric acid")
    wish, shelf = target({"NO3-N": 14.007, "K": 100}), [strong, salt("KCl")]
    recipe = solve(wish, shelf, volume=1, water={"HCO3": 61.017})
    weighed = weigh(recipe, steps={"nitric acid": "0.2 g"})
    assert weighed.solution.alkalinity() == pytest.approx(-0.206, abs=0.002)
    assert any("0.21 meq/L of free acid" in n.what for n in weighed.notices)
    assert not any("free acid" in n.what for n in recipe.notices)
