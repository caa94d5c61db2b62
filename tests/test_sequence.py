"""Mixing step by step: against IPhreeqc, against laws, against hand arithmetic."""

import math

import mixing_oracle
import numpy as np
import pytest
from random_batches import batches

import formulate as fm
from formulate.chemistry.solids import mineral
from formulate.errors import InputError
from formulate.ingredients.dissolve import dissolve
from formulate.mixing.batch import batch_of
from formulate.mixing.sequence import checked_order, simulate_mixing

BUCKET = {"KNO3": 10.0, "MgSO4·7H2O": 25.0, "Ca(NO3)2·4H2O": 40.0}
DILUTE = 0.5  # mol/kg: to here WATEQ was tried


# --- against IPhreeqc, Amm.dat with the solids it lacks, WATEQ on both sides ---------------


def test_eighty_orders_with_its_constants_are_those_of_phreeqc():
    """The equations alone: pH within 0.02, beyond 5 mol/kg, where ours are damped, 0.10."""
    found = [
        mixing_oracle.differences(mixing_oracle.log_of(batch, own=False))
        for batch in batches(80, 91)
    ]
    assert sum(len(one["verdicts"]) for one in found) == 0
    assert max(one["ph"] for one in found) < 0.10
    some = [one for one in found if one["strength"] < 5]
    assert len(some) > 70
    for key in ("ph", "ph after", "amount", "index"):
        assert max(one[key] for one in some) < 0.02
    assert sum(one["strength"] > DILUTE for one in found) > 10


def test_eighty_orders_with_our_constants_are_within_the_bars_up_to_half_a_mole():
    """WATEQ4F pairs against those of Amm.dat; beyond 0.5 mol/kg see validation.md."""
    found = [
        mixing_oracle.differences(mixing_oracle.log_of(b)) for b in batches(80, 92)
    ]
    thin = [one for one in found if one["strength"] <= DILUTE]
    assert len(thin) >= 60
    assert [one["verdicts"] for one in thin if one["verdicts"]] == []
    assert max(one["ph"] for one in thin) < 0.10
    assert max(one["ph after"] for one in thin) < 0.10
    assert max(one["amount"] for one in thin) < 0.10


def test_verdicts_of_concentrates_are_those_of_phreeqc_with_our_constants():
    found = [
        mixing_oracle.differences(mixing_oracle.log_of(b))
        for b in batches(60, 93, strong=1.0)
    ]
    assert [one["verdicts"] for one in found if one["verdicts"]] == []


# --- laws ------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(5))
def test_the_last_step_is_the_solution_of_dissolve(seed):
    (batch,) = batches(1, 200 + seed)
    grams, volume, tap, share, order = batch
    log = simulate_mixing(grams, order, volume=volume, water=tap, start_fraction=share)
    made = dissolve(grams, volume=volume, water=fm.water(tap or {}))
    for form, value in made.forms.items():
        assert log.near.state.solution.forms[form][-1] == pytest.approx(
            value, rel=1e-12
        )


def test_what_is_in_counts_and_not_its_order():
    some = simulate_mixing(BUCKET, volume=20, start_fraction=0.25)
    other = simulate_mixing(
        BUCKET, ["Ca(NO3)2·4H2O", "MgSO4·7H2O", "KNO3"], volume=20, start_fraction=0.25
    )
    for place in (0, -2, -1):
        one, two = some.steps[place], other.steps[place]
        assert (one.ph, one.ec) == pytest.approx((two.ph, two.ec), rel=1e-12)
        assert dict(one.indices) == pytest.approx(dict(two.indices), rel=1e-9)
        assert dict(one.solids) == pytest.approx(dict(two.solids), rel=1e-7)


def test_mass_is_kept_in_every_step():
    log = simulate_mixing(BUCKET, volume=4, start_fraction=0.25)
    calcium = {"gypsum": 1.0}
    assert log.fallen
    for place, step in enumerate(log.steps):
        left = log.precipitation.after.solution.forms["calcium"][place]
        solid = sum(
            calcium[name] * v / mineral(name).molar_mass
            for name, v in step.solids.items()
        )
        whole = log.near.state.solution.forms["calcium"][place]
        per_final = log.volumes[place] / log.batch.volume
        assert left * per_final + solid == pytest.approx(
            whole * per_final, rel=1e-8, abs=1e-9
        )


def test_locked_nutrients_follow_from_the_formula_of_the_solid():
    """Gypsum, CaSO4·2H2O: 40.078 of 172.17 g/mol are Ca, 32.06 are S (IUPAC masses)."""
    step = simulate_mixing(BUCKET, volume=4, start_fraction=0.25).steps[-2]
    assert set(step.solids) == {"gypsum"}
    assert step.locked["Ca"] == pytest.approx(
        step.solids["gypsum"] * 40.078 / 172.17, rel=1e-3
    )
    assert step.locked["S"] == pytest.approx(
        step.solids["gypsum"] * 32.06 / 172.17, rel=1e-3
    )


def test_it_is_clear_where_it_says_and_not_just_before():
    log = simulate_mixing(BUCKET, volume=20, start_fraction=0.25)
    at = log.clears_at
    assert 5 < at < 20
    ones = np.ones((2, 3))
    from formulate.mixing.nearness import nearness

    near = nearness(log.batch.mixtures(ones, [0.999 * at, 1.001 * at]))
    assert near.largest[0] > 0 > near.largest[1]


# --- by hand -----------------------------------------------------------------------------------


def test_volumes_and_concentrations_by_hand():
    """20 L, half of it first: 10 L, then 100 mL of acid makes 10.05 + ...: written out."""
    acid = fm.acid("HNO3", percent=38, density=1.23)
    log = simulate_mixing({"KNO3": 10.1102, acid: 123.0}, volume=20, start_fraction=0.5)
    water = 20 - 0.1  # 123 g of acid are 0.1 L
    assert log.volumes.tolist() == pytest.approx(
        [water / 2, water / 2, water / 2 + 0.1, 20]
    )
    potassium = log.near.state.solution.forms["potassium"]
    assert potassium.tolist() == pytest.approx(
        [0, 100 / 9.95, 100 / 10.05, 5.0], rel=1e-4
    )  # 10.1102 g are 100 mmol


def test_a_small_bucket_shows_gypsum_that_three_quarters_do_not():
    harsh = simulate_mixing(BUCKET, volume=20, start_fraction=0.25)
    usual = simulate_mixing(BUCKET, volume=20, start_fraction=0.75)
    assert harsh.worst.nearest == "gypsum"
    assert harsh.worst.index > 0
    assert usual.worst.index < 0
    assert usual.clears_at is None
    assert harsh.left_at_the_end == {}
    assert usual.word == "none"


def test_one_model_serves_the_whole_log():
    strong = {name: 100 * grams for name, grams in BUCKET.items()}
    for model in ("wateq", "davies", "sit", None):
        log = simulate_mixing(strong, volume=20, activity=model)
        assert log.activity_model == (model or "blend")
        assert log.precipitation.after.activity_model == log.activity_model


def test_what_the_water_itself_is_above_does_not_keep_it_from_clearing():
    hard = "hard-tap-voehringen"
    log = simulate_mixing(BUCKET, volume=20, water=hard, start_fraction=0.25)
    assert log.steps[0].index > 0
    assert log.steps[0].nearest == "calcite"
    assert log.clears_at is None or math.isfinite(log.clears_at)
    assert "the water alone is above it" in " ".join(map(str, log.notices))


# --- edges ---------------------------------------------------------------------------------------


def test_one_salt_acids_only_and_zero_grams():
    one = simulate_mixing({"KNO3": 5.0}, volume=10)
    assert [step.name for step in one.steps] == ["water", "KNO3", "topped up"]
    acids = simulate_mixing({fm.acid("HNO3", percent=60, density=1.37): 5.0}, volume=10)
    assert 2 < acids.steps[-1].ph < 2.5  # 47.6 mmol of a strong acid in 10 L: pH 2.3
    none = simulate_mixing({"KNO3": 0.0, "CaCl2": 0.0}, volume=10)
    assert [round(step.ph, 2) for step in none.steps] == [7.0] * 4
    assert none.word == "none"
    assert none.clears_at is None


def test_an_order_may_be_written_in_formulas_names_or_ingredients():
    batch = batch_of(
        {"potassium nitrate": 5.0, "magnesium sulfate heptahydrate": 5.0}, volume=9
    )
    wanted = ("magnesium sulfate heptahydrate", "potassium nitrate")
    assert checked_order(batch, ["MgSO4·7H2O", "KNO3"]) == wanted
    assert checked_order(batch, [*batch.ingredients][::-1]) == wanted
    assert checked_order(batch, [name.upper() for name in wanted]) == wanted


def test_every_fault_of_an_order_is_told_at_once():
    with pytest.raises(InputError) as error:
        simulate_mixing(BUCKET, ["KNO3", "KNO3", "sugar"], volume=20, start_fraction=1)
    text = str(error.value)
    for part in ("'sugar' is not in the batch", "KNO3 stands there 2 times"):
        assert part in text
    assert "MgSO4·7H2O, Ca(NO3)2·4H2O missing" in text
    assert "start_fraction 1" in text


@pytest.mark.parametrize("share", [0, 1, -0.5, 1.5, float("nan"), "half", None])
def test_a_share_is_between_nothing_and_all(share):
    if share is None:
        assert simulate_mixing(BUCKET, volume=20).start_fraction == 0.75
        return
    with pytest.raises(InputError, match="start_fraction"):
        simulate_mixing(BUCKET, volume=20, start_fraction=share)


def test_a_liquid_without_density_is_refused_with_what_to_do():
    liquid = fm.label("lime-green bottle", basis="eu", guarantees={"K2O": 5})
    from dataclasses import replace

    with pytest.raises(InputError, match="density="):
        simulate_mixing({replace(liquid, dissolved=True): 5.0}, volume=20)


@pytest.mark.parametrize(
    ("amounts", "volume", "told"),
    [
        ({}, 10, "nothing to mix"),
        (BUCKET, None, "volume"),
        (BUCKET, -1, "above 0"),
        ({"KNO3": -1.0}, 10, "KNO3"),
        ({"KNO3": 1e6}, 10, "do not dissolve"),
        ({"stuff": 1.0}, 10, "stuff"),
    ],
)
def test_bad_batches_are_refused(amounts, volume, told):
    with pytest.raises((InputError, LookupError), match=told):
        simulate_mixing(amounts, volume=volume)


def test_it_shows_itself():
    log = simulate_mixing(BUCKET, volume=20, start_fraction=0.25)
    assert "gypsum watch" in str(log)
    assert "clear on topping up" in str(log)
    table = log.to_frame()
    assert len(table) == 5
    assert table["gypsum"].max() == log.worst.index
    assert len(log.rows()) == 5
    assert len(log.rows()[0]) == 12
