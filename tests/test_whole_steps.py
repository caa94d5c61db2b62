"""Whole steps against every number of steps there is, and what is told where nothing fits."""

from dataclasses import replace

import numpy as np
import pytest

from formulate.errors import Infeasible, InputError, NoConvergence
from formulate.ingredients.salts import salt
from formulate.ingredients.stock import stock
from formulate.jobs import DEMO, read_job
from formulate.outcome import run_job
from formulate.recipes import programme
from formulate.recipes import whole_steps as module
from formulate.recipes.cheapest import cheapest
from formulate.recipes.few_bags import few_bags
from formulate.recipes.practical import Weighing, weigh
from formulate.recipes.solve import solve
from formulate.recipes.target import target
from formulate.recipes.whole_steps import whole_steps

WANTED = {"NO3-N": 160, "P": 40, "K": 220, "Ca": 150, "Mg": 40, "S": 60, "B": 0.4}
SALTS = (
    "KNO3",
    "Ca(NO3)2·4H2O",
    "KH2PO4",
    "MgSO4·7H2O",
    "K2SO4",
    "KCl",
    "NaNO3",
    "Mg(NO3)2·6H2O",
    "CaCl2·2H2O",
    "H3BO3",
)
MOST_ROWS = 3_000_000  # of an enumeration


def drawn(seed, *, nutrients=4, salts=4, **given):
    """Return a seeded recipe and a coarse step for every ingredient of its shelf."""
    rng = np.random.default_rng(seed)
    keys = rng.choice(list(WANTED), nutrients, replace=False).tolist()
    names = rng.choice(SALTS, salts, replace=False).tolist()
    shelf = [salt(name, price_per_kg=float(rng.uniform(1, 9))) for name in names]
    feed = target({k: WANTED[k] * float(rng.uniform(0.6, 1.5)) for k in keys})
    recipe = solve(feed, shelf, volume=100, **given)
    steps = {name: float(rng.choice([3.0, 4.0, 5.0, 7.0])) for name in names}
    steps |= {"H3BO3": 0.05} if "H3BO3" in names else {}
    return recipe, steps


# --- the oracle: every number of steps, counted here ---------------------------------------


def enumerated(recipe, steps, most=None):
    """Return every number of steps that may matter, as grams per litre, a line each."""
    ends = []
    for place, one in enumerate(recipe.ingredients):
        size, reach = steps[one.name] / recipe.volume, []
        for row in recipe.requirements:
            counts = np.array(row.coefficients)
            if row.origin in ("target", "kept low") and counts[place] > 0:
                value = row.constant + counts @ recipe.optimum.amounts
                high = max(row.high, value)  # at a worst of 1 the row's scale more
                more = row.scale / (
                    np.sqrt(row.weight) if row.origin != "target" else 1
                )
                reach.append((high + more - row.constant) / counts[place])
        top = (
            int(min(reach) / size) + 1 if reach else 0
        )  # what serves nothing only harms
        ends.append(np.arange(top + 1) * size)
    assert np.prod([len(end) for end in ends]) < MOST_ROWS
    every = np.stack([grid.ravel() for grid in np.meshgrid(*ends)], axis=1)
    if most is not None:
        every = every[(every > 0).sum(axis=1) <= most]
    return every


def judged(recipe, steps, every):
    """Return the worst deviation of every line, infinite where a hard row breaks."""
    worst = np.zeros(len(every))
    exact = recipe.optimum.amounts
    sizes = np.array([steps[one.name] for one in recipe.ingredients]) / recipe.volume
    for row in recipe.requirements:
        counts = np.array(row.coefficients)
        values = row.constant + every @ counts
        low, high = row.low, row.high
        if row.kind == "hard":
            give = 1e-9 * (abs(low) if np.isfinite(low) else abs(high) or 1.0)
            if low == high:
                give += np.abs(counts * sizes * (exact > 1e-9)).sum() / 2
            worst[(values < low - give) | (values > high + give)] = np.inf
        elif any(counts):
            value = row.constant + exact @ counts
            off = np.maximum(min(low, value) - values, values - max(high, value))
            factor = np.sqrt(row.weight) if row.origin == "kept low" else 1.0
            worst = np.maximum(worst, off * factor / row.scale)
    return worst


def grams(found):
    return {one.name: amount for one, amount in found.weighing.amounts}


def per_litre(found):
    """Return the amounts of what was found over the whole shelf."""
    recipe, has = found.recipe, grams(found)
    return np.array(
        [[has.get(i.name, 0.0) / recipe.volume for i in recipe.ingredients]]
    )


@pytest.mark.parametrize("seed", range(25))
def test_no_steps_are_better(seed):
    recipe, steps = drawn(seed)
    found = whole_steps(recipe, steps=steps)
    best = judged(recipe, steps, enumerated(recipe, steps)).min()
    assert found.value == pytest.approx(best, abs=1e-7)
    assert judged(recipe, steps, per_litre(found))[0] == pytest.approx(best, abs=1e-7)
    assert found.proven
    assert found.gap == 0
    for name, amount in grams(found).items():
        assert amount / steps[name] == pytest.approx(
            round(amount / steps[name]), abs=1e-9
        )


@pytest.mark.parametrize("seed", range(10))
def test_no_steps_of_so_few_are_better(seed):
    recipe, steps = drawn(seed)
    found = whole_steps(recipe, steps=steps, most=2)
    best = judged(recipe, steps, enumerated(recipe, steps, 2)).min()
    assert found.value == pytest.approx(best, abs=1e-7)
    assert len(grams(found)) <= 2
    assert found.proven


@pytest.mark.parametrize("seed", range(12))
def test_no_steps_are_better_within_amounts(seed):
    recipe, steps = drawn(seed)
    (first, amount), *_ = recipe.amounts
    limits = {first.name: f"at most {0.8 * amount:.4f} g"}
    held = solve(recipe.target, recipe.ingredients, volume=100, amounts=limits)
    found = whole_steps(held, steps=steps)
    best = judged(held, steps, enumerated(held, steps)).min()
    assert found.value == pytest.approx(best, abs=1e-7)
    assert grams(found).get(first.name, 0) <= 0.8 * amount + 1e-4


@pytest.mark.parametrize("seed", range(8))
def test_an_exact_amount_may_be_off_by_half_a_step_of_all(seed):
    recipe, steps = drawn(seed)
    first = recipe.amounts[0][0]
    held = solve(
        recipe.target,
        recipe.ingredients,
        volume=100,
        amounts={first.name: "exactly 10.3 g"},
    )
    found = whole_steps(held, steps=steps)
    best = judged(held, steps, enumerated(held, steps)).min()
    assert found.value == pytest.approx(best, abs=1e-7)
    assert abs(grams(found)[first.name] - 10.3) <= steps[first.name] / 2 + 1e-9


@pytest.mark.parametrize("seed", range(16))
def test_none_are_cheaper(seed):
    recipe, steps = drawn(seed)
    every = enumerated(recipe, steps)
    worst = judged(recipe, steps, every)
    price = np.array([one.price / 1000 for one in recipe.ingredients])
    cost = (every @ price)[worst <= 0.12]
    if not len(cost):
        with pytest.raises(Infeasible, match="smallest share that does") as caught:
            whole_steps(recipe, steps=steps, objective="cost", within=0.12)
        told = float(str(caught.value).rsplit(" is ", 1)[1].rstrip(" %"))
        assert told == pytest.approx(100 * worst.min(), rel=5e-3)
        return
    found = whole_steps(recipe, steps=steps, objective="cost", within=0.12)
    assert found.value == pytest.approx(cost.min() * 100, rel=1e-7)
    assert found.weighing.cost == pytest.approx(found.value, rel=1e-9)
    assert judged(recipe, steps, per_litre(found))[0] <= 0.12 + 1e-9
    assert found.proven


def test_by_hand():
    """KH2PO4 13.18 g and KNO3 41.93 g exactly; in steps of 1 and 5 g.

    13 g bring 1.4 % too little P and with 40 g of KNO3 4.0 % too little K; 14 g bring 6.2 %
    too much P, 45 g of KNO3 5.7 % too much K.
    """
    recipe = solve(target({"K": 200, "P": 30}), ["KNO3", "KH2PO4"], volume=100)
    found = whole_steps(recipe, steps={"KNO3": "5 g", "KH2PO4": "1 g"})
    assert grams(found) == {"KNO3": 40.0, "KH2PO4": 13.0}
    potassium = (40 / 101.103 + 13 / 136.086) * 39.0983 * 10
    assert found.value == pytest.approx(1 - potassium / 200, abs=2e-4)
    assert found.price.exact == pytest.approx(0, abs=1e-9)
    assert isinstance(found.weighing, Weighing)


@pytest.mark.parametrize("seed", range(20))
def test_never_worse_than_the_nearest_rounding(seed):
    recipe, steps = drawn(seed, nutrients=6, salts=8)
    found = whole_steps(recipe, steps=steps)
    assert found.price.proven <= found.price.nearest + 1e-9
    assert found.price.proven == pytest.approx(found.value, abs=1e-9)
    assert found.price.exact == pytest.approx(0, abs=1e-9)


def test_one_miss_that_cannot_be_helped_does_not_hide_the_rest():
    """No calcium on the shelf: all of it is missed, and the rest is held all the same."""
    feed = target({"K": 200, "P": 30, "Ca": 100})
    recipe = solve(feed, ["KCl", "KH2PO4"], volume=100)
    found = whole_steps(recipe, steps={"KCl": 1, "KH2PO4": 1})
    assert found.value < 0.02


def test_the_next_worst_is_least_too():
    """Boron is off by 12.6 % in steps of 0.1 g whatever is done; potassium need not be.

    0.4 mg/L in 100 L are 0.2288 g of boric acid: 0.2 g are 12.6 % too little. 53.8 g of
    KNO3 in steps of 4 g might be 48 (10.8 % too little) to 60, and are best 52.
    """
    recipe = solve(target({"K": 208, "B": 0.4}), ["KNO3", "H3BO3"], volume=100)
    found = whole_steps(recipe, steps={"KNO3": 4, "H3BO3": 0.1})
    assert found.value == pytest.approx(1 - 0.2 * 10.81 / 61.83 / 0.04, abs=2e-3)
    assert grams(found) == {"KNO3": 52.0, "H3BO3": 0.2}


def test_what_has_no_step_stays_free_and_makes_up_for_the_rest():
    plain = replace(salt("KNO3"), name="plain", weighing_step=None)
    recipe = solve(target({"K": 200, "P": 30}), ["KH2PO4", plain], volume=100)
    found = whole_steps(recipe, steps={"KH2PO4": 4})
    assert grams(found)["KH2PO4"] == 12.0
    assert found.weighing.solution.mg_l("K") == pytest.approx(200, rel=1e-6)
    assert any("no weighing step" in notice.what for notice in found.notices)
    assert found.proven


def test_doses_of_a_stock_come_in_steps_of_millilitres():
    dose = stock("A", {"KNO3": 100}, volume=1)
    recipe = solve(target({"K": 200, "P": 30}), ["KH2PO4", dose], volume=100)
    found = whole_steps(recipe, steps={"KH2PO4": 1, "A": "50 mL"})
    assert grams(found) == {"KH2PO4": 13.0, "A": 400.0}


def test_hard_limits_hold_without_rounding_to_spare():
    feed = target({"K": 200, "P": 30, "NO3-N": 50}, limits={"Cl": "at most 60 mg/L"})
    recipe = solve(feed, ["KCl", "KH2PO4", "KNO3", "K2SO4"], volume=100)
    found = whole_steps(recipe, steps=dict.fromkeys(("KCl", "KH2PO4", "KNO3"), 3.0))
    assert found.weighing.solution.mg_l("Cl") <= 60
    assert found.proven


def test_twice_is_the_same():
    recipe, steps = drawn(3, nutrients=6, salts=8)
    first, second = (whole_steps(recipe, steps=steps) for _ in range(2))
    assert grams(first) == grams(second)
    assert str(first) == str(second)


def test_what_is_left_out_and_what_is_new_is_told():
    recipe, steps = drawn(4, nutrients=6, salts=8)
    found = whole_steps(recipe, steps=steps, most=3)
    text = str(found)
    left = [i.name for i, _ in recipe.amounts if i.name not in grams(found)]
    assert left
    assert all(f"{name}: left out" in text for name in left)


def test_a_ph_is_told_as_it_comes_out():
    shelf = ["KNO3", "KH2PO4", "MgSO4·7H2O", "Ca(NO3)2·4H2O", "nitric acid (67 %)"]
    feed = target({"NO3-N": 150, "K": 200, "P": 30, "Mg": 40, "Ca": 130})
    facts = {"volume": 100, "water": "hard-tap-voehringen"}
    found = whole_steps(solve(feed, shelf, ph="5.5 to 6.2", **facts))
    told = [notice.what for notice in found.notices]
    assert any(what.startswith("pH and EC count as straight lines") for what in told)
    assert not any("broken" in what for what in told)
    found = whole_steps(solve(feed, shelf, ph=5.8, **facts))
    assert any(n.what.startswith("pH exactly 5.8: whole steps") for n in found.notices)


# --- stocks of traces ------------------------------------------------------------------------


def test_traces_of_the_demo_are_dosed_from_a_stock():
    recipe = run_job(read_job(DEMO)).recipe
    plain, dosed = (whole_steps(recipe, stocks=given) for given in (False, True))
    off = [made.weighing.solution.mg_l("Mo") / 0.05 - 1 for made in (plain, dosed)]
    assert abs(off[0]) > 0.1
    assert abs(off[1]) < 0.01
    assert dosed.proven
    (made,) = dosed.weighing.stocks
    assert made.ingredient.name in grams(dosed)
    assert dosed.weighing.steps[made.ingredient.name] == made.dose_step
    assert not {part.name for part, _ in made.parts} & set(grams(dosed))
    told = [notice.what for notice in dosed.notices]
    assert not any("molybdate" in what and "left out" in what for what in told)
    assert not any(what.startswith(made.ingredient.name + ": not in") for what in told)
    by_weigh = weigh(recipe, stocks=True).stocks
    assert [one.dose for one in by_weigh] == [made.dose]


@pytest.mark.parametrize("seed", [2, 3, 4, 7, 8, 11, 12, 13])
def test_no_steps_are_better_beside_a_stock(seed):
    """What the stock brings is given; every number of steps of the rest is counted."""
    rng = np.random.default_rng(seed)
    wanted = {"K": 200, "P": 30, "NO3-N": 60, "B": 0.4}
    feed = target({key: v * float(rng.uniform(0.8, 1.2)) for key, v in wanted.items()})
    recipe = solve(feed, ["KCl", "KH2PO4", "KNO3", "H3BO3"], volume=100)
    steps = {"KCl": 0.7, "KH2PO4": 0.5, "KNO3": 1.3, "H3BO3": 0.05}
    found = whole_steps(recipe, steps=steps, stocks=True)
    (made,) = found.weighing.stocks
    boron = made.parts[0][1] * made.dose / made.ingredient.made_of / 100
    every = enumerated(recipe, steps | {"H3BO3": 1000.0})
    every = every[every[:, 3] == 0]
    every[:, 3] = boron
    best = judged(recipe, steps, every).min()
    assert found.value == pytest.approx(best, abs=1e-7)
    assert found.proven


def test_what_keeps_in_no_stock_is_told():
    recipe = solve(target({"K": 200, "B": 0.4}), ["KNO3", "H3BO3"], volume=0.1)
    steps = {"KNO3": 0.05, "H3BO3": 0.001}
    found = whole_steps(recipe, steps=steps, stocks=True)
    by_weigh = [n.what for n in weigh(recipe, steps=steps, stocks=True).notices]
    stays = [what for what in by_weigh if "no stock of it" in what]
    assert stays
    assert set(stays) <= {notice.what for notice in found.notices}


# --- of a recipe that was held at a cost ---------------------------------------------------


@pytest.mark.parametrize("seed", range(4))
def test_whole_steps_of_the_cheapest(seed):
    recipe, steps = drawn(seed)
    cheap = cheapest(recipe, within=0.1).recipe
    found = whole_steps(cheap, steps=steps)
    plain = replace(recipe, optimum=cheap.optimum)
    best = judged(plain, steps, enumerated(plain, steps)).min()
    assert found.value == pytest.approx(best, abs=1e-6)
    assert found.recipe is cheap


@pytest.mark.parametrize("seed", range(4))
def test_cost_and_whole_steps_go_together(seed):
    """The band is that of the wishes, not once more beyond that of the cheapest."""
    recipe, steps = drawn(seed)
    cheap = cheapest(recipe, within=0.1).recipe
    first, second = (
        whole_steps(one, steps=steps, objective="cost", within=0.2)
        for one in (recipe, cheap)
    )
    assert second.value == pytest.approx(first.value, rel=1e-9)


def test_whole_steps_of_few_cheap_ingredients():
    recipe, steps = drawn(2)
    few = few_bags(recipe, most=3, objective="cost", within=0.3)
    found = whole_steps(few.recipe, steps={n: steps[n] for n in few.chosen})
    assert found.proven
    assert set(grams(found)) <= set(few.chosen)


# --- what is not proven, and what there is not --------------------------------------------


def test_a_search_that_was_cut_short_says_so_and_keeps_the_hard_rows(monkeypatch):
    wanted = {"NO3-N": 161, "P": 41, "K": 223, "Ca": 149, "Mg": 37, "S": 63}
    feed = target(wanted, limits={"Cl": "at most 50 mg/L"})
    recipe = solve(feed, SALTS, volume=100)
    steps = dict.fromkeys(SALTS, 0.37) | {"KNO3": 0.91, "KH2PO4": 0.53, "K2SO4": 1.3}
    monkeypatch.setattr(programme, "NODES", 0)
    found = whole_steps(recipe, steps=steps, time_limit=None)
    assert not found.proven
    assert 0 < found.gap <= 1
    assert found.bound < found.value
    assert "not proven, gap" in str(found)
    assert found.weighing.solution.mg_l("Cl") <= 50
    assert found.price.proven <= found.price.nearest + 1e-9


def test_none_found_is_told(monkeypatch):
    recipe, steps = drawn(1)
    monkeypatch.setattr(module, "best_counts", lambda *_, **__: None)
    with pytest.raises(NoConvergence, match="finer steps or more time"):
        whole_steps(recipe, steps=steps)


def test_hard_rows_that_no_steps_keep():
    amounts = {"KH2PO4": "12.1 to 12.4 g"}
    feed = target({"K": 200, "P": 30}, limits={"Cl": "at most 500 mg/L"})
    recipe = solve(feed, ["KCl", "KH2PO4"], volume=100, amounts=amounts)
    with pytest.raises(Infeasible) as caught:
        whole_steps(recipe, steps={"KCl": 1, "KH2PO4": 1})
    ends = "amount of KH2PO4 at least 12.1 g, amount of KH2PO4 at most 12.4 g"
    told = f"no whole steps keep {ends}; use finer steps"
    assert str(caught.value) == told


# --- what cannot be asked ------------------------------------------------------------------


def test_every_fault_at_once():
    recipe = solve(target({"K": 200}), ["KNO3", "KCl"], volume=10)
    with pytest.raises(InputError) as caught:
        whole_steps(
            recipe,
            steps={"KNO3": "5 kg", "NaCl": 1},
            most=0,
            objective="cost",
            within=-1,
            time_limit=-1,
        )
    text = str(caught.value)
    for words in (
        "KNO3: 5000 g is more than",
        "NaCl",
        "most ingredients",
        "within",
        "time limit",
        "no price for KNO3, KCl",
    ):
        assert words in text
    assert len(caught.value.faults) == 6


def test_the_sum_is_not_offered_and_says_why():
    recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    with pytest.raises(InputError, match="cannot prove it"):
        whole_steps(recipe, objective="sum")
    with pytest.raises(InputError, match='use "worst" or "cost"'):
        whole_steps(recipe, objective=3)
    for thing in (None, "KNO3", weigh(recipe)):
        with pytest.raises(InputError, match="is no recipe"):
            whole_steps(thing)
