"""The plan of a mixing: what is done, what meters show then, what to beware of."""

import pytest

import formulate as fm
from formulate.chemistry.conductivity import ec
from formulate.chemistry.speciation import speciate
from formulate.ingredients.dissolve import dissolve
from formulate.mixing.plan import mixing_plan
from formulate.mixing.sequence import simulate_mixing

BUCKET = {"KNO3": 10.0, "MgSO4·7H2O": 25.0, "Ca(NO3)2·4H2O": 40.0}
HARD = "hard-tap-voehringen"
ACID = "nitric acid (60 %)"


def plan_of(amounts, **given):
    return mixing_plan(simulate_mixing(amounts, **{"volume": 20, **given}))


def test_steps_are_the_water_each_ingredient_and_topping_up():
    plan = plan_of(BUCKET)
    told = [step.what for step in plan.steps]
    assert (
        told[0]
        == "fill in 15.0 L of the water (75 % of it), at 15 to 30 °C, and keep it moving"
    )
    assert told[1:4] == [f"stir in {g:g} g {name}" for name, g in BUCKET.items()]
    assert told[4] == "fill up to 20.00 L and stir"
    assert [step.number for step in plan.steps] == [1, 2, 3, 4, 5]


def test_what_the_meter_shows_at_the_end_is_that_of_the_batch():
    plan = plan_of(BUCKET, water=HARD, temperature=25.0)
    made = dissolve(BUCKET, volume=20, water=fm.water(HARD))
    state = speciate(made, temperature=25.0)
    last = plan.steps[-1]
    assert last.ec.split()[0] == f"{ec(state):.3g}".ljust(4, "0")
    assert float(last.ph.split()[0]) == pytest.approx(state.ph, abs=0.06)


def test_the_ph_once_aerated_is_told_where_the_air_moves_it():
    """Acid in hard water: carbon dioxide leaves and the pH rises; both are computed apart."""
    plan = plan_of({ACID: 8.0, "KNO3": 6.0}, water=HARD, temperature=25.0)
    text = plan.steps[1].ph
    assert ", aerated up to " in text
    state = plan.log.near.state
    made = dissolve({ACID: 8.0}, volume=15.0 + 0.25 * 0.00584, water=fm.water(HARD))
    open_ph = speciate(made, temperature=25.0, air_co2_ppm=420).ph
    assert float(text.rpartition(" ")[2]) == pytest.approx(open_ph, abs=0.06)
    assert float(text.split()[0]) == pytest.approx(float(state.ph[1]), abs=0.06)


def test_an_acid_is_thinned_with_its_cautions_and_waits_for_the_air():
    step = plan_of({ACID: 8.0, "KNO3": 6.0}, water=HARD).steps[1]
    assert step.what.startswith("pour in 5.8")
    assert "mL" in step.what
    for part in ("times as much cold water", "eye protection", "acid into water"):
        assert part in step.caution
    assert "aerate for 15 min" in step.wait


def test_silicate_is_thinned_first():
    silicate = "potassium silicate solution (12.6 % K2O, 26.5 % SiO2)"
    plan = plan_of({silicate: 3.0, "KNO3": 6.0})
    assert "thin it first in a tenth of the water" in plan.steps[1].caution
    assert "eye protection" in plan.steps[1].caution


def test_a_chelate_that_acid_would_break_is_told_at_its_step():
    chelate = "iron DTPA chelate (11 % Fe)"
    plan = plan_of({ACID: 30.0, chelate: 0.5, "KHCO3": 20.0}, start_fraction=0.25)
    (step,) = [s for s in plan.steps if s.name == chelate]
    assert "put the chelate in after topping up" in step.caution


def test_ammonia_that_leaves_is_told_at_its_step():
    plan = plan_of({"(NH4)2SO4": 5.0, "KOH": 5.0})
    assert "ammonia gas leaves" in plan.steps[2].caution


def test_a_risk_is_told_once_where_it_begins():
    plan = plan_of(BUCKET, volume=8, start_fraction=0.25)
    told = [step.name for step in plan.steps if "gypsum" in step.caution]
    assert told == ["Ca(NO3)2·4H2O"]


def test_little_buffered_steps_tell_a_range_and_no_ph():
    assert "little buffers it" in plan_of({"KNO3": 10.0}).steps[1].ph


def test_cautions_stand_with_the_plan():
    told = " ".join(plan_of({ACID: 8.0, "KNO3": 6.0}).cautions)
    for part in ("eye protection", "children", "concentrates", "acid"):
        assert part in told.casefold()


def test_ammonia_is_not_told_before_any_ammonium_is_in():
    chelate = "iron EDTA chelate (13 % Fe)"
    feed = {"KOH": 2.0, chelate: 0.5, "(NH4)2SO4": 1.0}
    plan = mixing_plan(simulate_mixing(feed, list(feed), volume=20))
    steps = {step.name: step.caution for step in plan.steps if step.name}
    assert "harms the chelate" in steps[chelate]
    assert "ammonia" not in steps[chelate]
