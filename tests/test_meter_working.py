"""The arithmetic of what meters show leads to what they are said to show, line by line."""

import pytest
from test_species_working import SOLUTIONS
from test_workings_of_panels import check_line

from formulate.chemistry.acidity import buffer_capacity, ph_range
from formulate.chemistry.conductivity import conductivity, meter_reading
from formulate.chemistry.meter_working import (
    buffer_working,
    carried_working,
    error_working,
    interval_working,
    meter_working,
    share_working,
)
from formulate.chemistry.speciation import speciate
from formulate.errors import UnknownName
from formulate.stoichiometry.solution import solution


def state_of(name):
    made, given = SOLUTIONS[name]
    return speciate(made, **given)


def check_lines(working):
    for step, line in zip(working.steps, working.lines, strict=True):
        check_line(step, line)


@pytest.mark.parametrize("name", SOLUTIONS)
def test_what_each_ion_carries_is_worked_out_from_its_limit(name):
    found = conductivity(state_of(name))
    rows = {ion: v for ion, v in found.by_ion.items() if v >= 1e-4 * found.ec}
    assert len(rows) >= 3
    for ion, part in rows.items():
        working = carried_working(found, ion)
        assert working.value == pytest.approx(part, rel=1e-6), ion
        check_lines(working)


@pytest.mark.parametrize("name", SOLUTIONS)
def test_the_shares_of_the_ec_add_up_to_the_whole(name):
    found = conductivity(state_of(name))
    named = [ion for ion, v in found.by_ion.items() if v >= 0.02 * found.ec]
    shares = [share_working(found, ion).value for ion in (*named, "others")]
    assert sum(shares) == pytest.approx(100.0, abs=1e-9)


@pytest.mark.parametrize("name", SOLUTIONS)
def test_the_buffer_is_the_slope_of_the_charge(name):
    state = state_of(name)
    working = buffer_working(state)
    assert working.value == pytest.approx(buffer_capacity(state), rel=1e-4, abs=1e-5)
    check_lines(working)


def test_a_buffer_by_hand():
    # half-neutralised acid, Van Slyke: 2.303 C/4 = 0.576 C per unit (from memory); 1 mmol/L
    # of phosphate at its second constant, where H2PO4- and HPO4-2 are alike
    state = speciate(solution({"Na": 1.5, "P": 1.0}, ph=7.15))
    assert buffer_working(state).value == pytest.approx(0.576, rel=0.05)


def test_a_meter_at_20_degrees_divides_by_nine_tenths():
    # 1 + 2 %/°C × (20 − 25 °C) = 0.9, by hand
    state = state_of("a feed")
    working = meter_working(state, 20.0)
    assert working.steps[-2].value == pytest.approx(0.9)
    shown = meter_reading(state, temperature=20.0)
    assert working.value == pytest.approx(shown, rel=1e-9)
    check_lines(working)


@pytest.mark.parametrize(("hard", "error"), [(True, 6.0), (False, 4.0)])
def test_the_error_of_an_ec_is_that_of_its_kind_of_water(hard, error):
    # 4 % where nitrate and chloride prevail, 6 % where sulfate and bicarbonate are above
    # 40 % of the anions (table ec_errors, from the measured waters of usgs-mcclesk)
    contents = {"Ca": 2.0, "HCO3": 4.0} if hard else {"K": 5.0, "NO3": 5.0}
    working = error_working(conductivity(solution(contents)))
    assert working.value == error
    assert working.steps[-1].source_key == "usgs-mcclesk"
    assert (working.steps[2].value > 40) == hard


def test_the_interval_of_a_ph_stands_before_it():
    found = ph_range(solution({"K": 1.0, "P": 1.0}))
    working = interval_working(found)
    assert [step.value for step in working.steps[1:3]] == pytest.approx(
        [found.low, found.high]
    )
    assert working.value == pytest.approx(found.ph, abs=1e-6)


def test_an_ion_that_carries_nothing_is_refused():
    found = conductivity(solution({"K": 5.0, "NO3": 5.0}))
    for what in (carried_working, share_working):
        with pytest.raises(UnknownName, match="carries nothing"):
            what(found, "Ca+2")
