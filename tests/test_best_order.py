"""The best order against all orders, one by one; reasons; what no order can avoid."""

from itertools import permutations

import numpy as np
import pytest
from random_batches import batches

import formulate as fm
from formulate.errors import InputError
from formulate.mixing.best_order import best_order
from formulate.mixing.mixing_classes import mixing_class, trade_order
from formulate.mixing.nearness import mixing_rule
from formulate.mixing.order_paths import Paths, all_sets
from formulate.mixing.sequence import simulate_mixing

BUCKET = {"Ca(NO3)2·4H2O": 40.0, "KNO3": 20.0, "MgSO4·7H2O": 25.0, "KH2PO4": 5.0}


def every_cost(paths):
    """Return every order with what it costs, the cheapest first."""
    orders = permutations(range(paths.count))
    return sorted((*paths.cost(order), order) for order in orders)


@pytest.mark.parametrize("seed", range(50))
def test_the_best_of_fifty_recipes_is_the_best_of_all_orders(seed):
    """Complete enumeration of up to 5040 orders is the oracle."""
    (batch,) = batches(1, 400 + seed, most=7 if seed % 5 == 0 else 6)
    grams, volume, tap, share, order = batch
    some = {name: grams[name] for name in order}
    found = best_order(some, volume=volume, water=tap, start_fraction=share)
    ranked = every_cost(found.paths)
    assert found.paths.best() == ranked[0][-1]
    worst = max(one[0] for one in ranked)
    assert found.paths.cost(found.paths.worst())[0] == worst


@pytest.mark.parametrize("seed", range(20))
def test_paths_of_random_costs_are_the_best_of_all(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 7))
    paths = Paths(
        rng.integers(-3, 4, 2**count),
        rng.integers(0, 3, 2**count),
        tuple(rng.integers(1, 4, count).tolist()),
    )
    ranked = every_cost(paths)
    assert paths.best() == ranked[0][-1]
    assert paths.cost(paths.worst())[0] == max(one[0] for one in ranked)


def test_costs_are_those_of_the_steps_of_a_log():
    """Two ways to the same numbers: sets of the table, and the steps of each log."""
    found = best_order(BUCKET, volume=20, start_fraction=0.25)
    floor = mixing_rule("floor of an index")
    for order in permutations(found.batch.names):
        log = simulate_mixing(BUCKET, order, volume=20, start_fraction=0.25)
        steps = sorted((max(s.index, floor) for s in log.steps[:-1]), reverse=True)
        assert found.grades(order) == pytest.approx(tuple(steps), abs=2e-6)


def test_in_pure_water_the_trade_order_is_as_good_as_any():
    found = best_order(BUCKET, volume=20, start_fraction=0.75)
    assert found.order[-1] == "Ca(NO3)2·4H2O"
    assert found.trade_order == ("KNO3", "KH2PO4", "MgSO4·7H2O", "Ca(NO3)2·4H2O")
    assert found.trade_is_best
    assert "trade" not in " ".join(map(str, found.notices))


def test_in_hard_water_the_trade_order_may_not_be_the_best_and_that_is_said():
    hard = "hard-tap-voehringen"
    some = {"KNO3": 300.0, "MgSO4·7H2O": 350.0, "KH2PO4": 150.0, "Ca(NO3)2·4H2O": 300.0}
    found = best_order(some, volume=1000, water=hard, start_fraction=0.75)
    rank, mine, theirs, solid = found.ahead(found.trade_order)
    assert rank
    assert theirs - mine >= 0.01
    assert solid in ("calcite", "brushite")
    assert any(
        "the trade's order is not the best here" in n.what for n in found.notices
    )
    assert "the trade's order" in str(found)


def test_silicate_first_and_the_acid_that_sets_it_free_last():
    """Silica is nearest once acid has met the silicate: the fewer steps so, the better."""
    acid = fm.acid("HNO3", percent=38, density=1.23)
    found = best_order({"KNO3": 20.0, acid: 8.0, "K2SiO3": 4.0, "NaCl": 1.0}, volume=20)
    assert found.order == ("K2SiO3", "KNO3", "NaCl", acid.name)
    assert "silica at" in found.reasons[-1]


def test_habit_and_the_written_order_decide_what_chemistry_does_not():
    plain = {"KCl": 1.0, "KNO3": 1.0, "NaCl": 1.0}
    found = best_order(plain, volume=20)
    assert found.order == tuple(plain)
    assert found.indifferent
    acid = fm.acid("HNO3", percent=38, density=1.23)
    late = best_order({"KNO3": 1.0, acid: 0.5, "CaCl2": 0.5}, volume=20)
    assert late.order == (acid.name, "KNO3", "CaCl2")
    assert "no order is worse" in str(found)


def test_a_chelate_waits_until_the_acid_has_lowered_the_ph():
    """Fe-EDTA holds to pH 6.5 at most (chelates.csv); potash brings this water to 8.3."""
    acid = fm.acid("HNO3", percent=38, density=1.23)
    chelate = fm.salt("iron EDTA chelate (13 % Fe)")
    found = best_order({"KHCO3": 10.0, chelate: 1.0, acid: 16.0}, volume=200)
    assert found.order == (acid.name, "KHCO3", chelate.name)
    assert found.trade_order == (acid.name, "KHCO3", chelate.name)
    assert "a chelate or ammonia" in found.reasons[0]
    assert "a chelate or ammonia" in found.reasons[2]


def test_each_reason_is_true():
    """A number in a reason is the grade of an order with that ingredient moved."""
    found = best_order(BUCKET, volume=20, start_fraction=0.25)
    assert len(found.reasons) == 4
    last = found.reasons[-1]
    assert last.startswith("not earlier: ")
    index = float(last.partition("gypsum at ")[2].partition(",")[0])
    moved = (found.order[-1], *found.order[:-1])
    assert any(abs(index - grade) <= 0.005 for grade in found.grades(moved))
    assert not any(
        abs(index - grade) <= 0.001 for grade in found.grades(found.order)[:1]
    ) or (found.ahead(moved)[0] > 1)


def test_sets_and_classes():
    assert all_sets(3)[5].tolist() == [1, 0, 1]
    assert mixing_class(fm.salt("KNO3")) == "base"
    assert mixing_class(fm.salt("Na2MoO4·2H2O")) == "trace"
    assert mixing_class(fm.salt("MnSO4·H2O")) == "trace"
    assert mixing_class(fm.salt("KOH")) == "alkali"
    batch = best_order({"CaCl2": 1.0, "K2SiO3": 1.0, "H3BO3": 0.1}, volume=100).batch
    assert trade_order(batch) == ("K2SiO3", "H3BO3", "CaCl2")


def test_fourteen_work_and_fifteen_are_refused_with_advice():
    salts = [
        "KNO3",
        "KCl",
        "NaCl",
        "CaCl2",
        "MgSO4",
        "KH2PO4",
        "K2SO4",
        "NH4Cl",
        "NaNO3",
    ]
    salts += ["H3BO3", "MnSO4", "ZnSO4", "CuSO4", "Na2MoO4", "MgCl2"]
    some = dict.fromkeys(salts[:14], 1.0)
    assert len(best_order(some, volume=20).order) == 14
    with pytest.raises(InputError, match="one stock"):
        best_order(dict.fromkeys(salts, 1.0), volume=20)


def test_one_and_zero_grams():
    assert best_order({"KNO3": 5.0}, volume=10).rows() == (
        ("1", "KNO3", "it is the only one"),
    )
    assert best_order({"KNO3": 0.0, "CaCl2": 0.0}, volume=10).order == ("KNO3", "CaCl2")


def test_one_call_makes_one_stack(monkeypatch):
    """All 2^n states are speciated at once; the log adds one more stack."""
    from formulate.mixing import nearness as module

    calls = []
    real = module.speciate
    monkeypatch.setattr(
        module, "speciate", lambda *a, **k: calls.append(1) or real(*a, **k)
    )
    found = best_order(BUCKET, volume=20)
    assert found.order
    assert len(calls) == 1
    assert found.log.steps
    assert len(calls) == 2


def test_a_trace_of_rust_does_not_decide():
    """This water brings 0.02 mg/L of iron: what could fall out of it is no cloud."""
    some = {"Ca(NO3)2·4H2O": 90.0, "KH2PO4": 20.0, "MgSO4·7H2O": 50.0, "KNO3": 30.0}
    found = best_order(some, volume=100, water="medium-tap-zarnewanz")
    assert found.order[-1] == "Ca(NO3)2·4H2O"
    assert "ferric" not in str(found)
    rusty = best_order(
        {**some, "FeCl3·6H2O": 2.0}, volume=100, water="medium-tap-zarnewanz"
    )
    assert "ferric hydroxide" in str(
        rusty
    )  # 4 mg/L of iron that no chelate holds do count


def test_what_moves_no_index_is_told_so():
    hard = "hard-tap-voehringen"
    some = {**BUCKET, "H3BO3": 0.05}
    found = best_order(some, volume=20, water=hard)
    why = dict(zip(found.order, found.reasons, strict=True))
    assert "moves no index itself" in why["H3BO3"]


def test_silicate_that_may_as_well_go_first_is_told():
    acid = fm.acid("HNO3", percent=38, density=1.23)
    feed = {"KNO3": 30.0, "Ca(NO3)2·4H2O": 90.0, "MgSO4·7H2O": 50.0, "KH2PO4": 20.0}
    silicate = "potassium silicate solution (12.6 % K2O, 26.5 % SiO2)"
    found = best_order({**feed, silicate: 15.0, acid: 10.0}, volume=100)
    assert found.order[0] != silicate  # the indices decide before habit does
    (told,) = [n.what for n in found.notices if "as habit has it" in n.what]
    first = (silicate, *(name for name in found.order if name != silicate))
    worst = max(step.index for step in found.log_of(first).steps[:-1])
    assert worst < 0  # nothing above saturation that way either
    assert f"at worst {worst:+.2f}" in told
