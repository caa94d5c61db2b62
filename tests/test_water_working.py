"""The arithmetic of a water starts from what its analysis prints, in its own units."""

import re

import pytest
from test_workings_of_panels import check_line

from formulate.ingredients.water import water
from formulate.ingredients.water_report import water_from_text
from formulate.ingredients.water_working import (
    balance_working,
    reading_working,
    water_working,
)
from formulate.stoichiometry.conversion_steps import steps_to_meq_l, steps_to_mmol_l

# value, unit, nutrient, mmol/L by hand: atomic masses IUPAC 2021; CaCO3 100.086, CaO 56.077
TO_MMOL = [
    (94.4, "mg/L", "Ca", 94.4 / 40.078),
    (2.5, "mmol/L", "Ca", 2.5),
    (3.0, "meq/L", "Ca", 1.5),
    (250.0, "mg/L as CaCO3", "Ca", 250.0 / 100.086),
    (10.0, "German degree", "Ca", 100.0 / 56.077),
    (
        0.5,
        "oz/100 US gal",
        "K",
        0.5 * 28349.523125 / 378.5411784 / 39.0983,
    ),  # nist-hb44
]


@pytest.mark.parametrize(("value", "unit", "key", "mmol"), TO_MMOL)
def test_any_unit_of_concentration_by_hand(value, unit, key, mmol):
    steps = steps_to_mmol_l(value, unit, key, "as typed")
    assert steps[-1].unit == "mmol/L"
    assert steps[-1].value == pytest.approx(mmol, rel=2e-5)
    for step in steps:
        check_line(step, str(step))


@pytest.mark.parametrize(
    ("value", "unit", "meq"),
    [
        (5.72, "meq/L", 5.72),
        (286.2, "mg/L as CaCO3", 286.2 / 50.043),
        (16.0, "German degree", 160.0 / 28.0385),  # half of CaO
        (5.7, "mmol/L", 5.7),  # an acid capacity
    ],
)
def test_any_unit_of_alkalinity_by_hand(value, unit, meq):
    assert steps_to_meq_l(value, unit, "x")[-1].value == pytest.approx(meq, rel=2e-5)


GIVEN = {"Ca": "94.4 mg/L", "NO3": "16.4 mg/L", "SO4": "18.1 mg/L", "pH": "7.41"}
GIVEN |= {"EC": "651 uS/cm", "HCO3": "349 mg/L", "Na": "<5 mg/L"}


def test_an_element_is_worked_out_from_the_ion_that_was_given():
    # 18.1 mg/L of SO4 (96.056) hold 18.1/96.056 mmol/L, and × 32.06 of S (IUPAC 2021)
    working = water_working(water(GIVEN), GIVEN, "S")
    assert working.steps[0].text == "SO4 as given"
    assert working.value == pytest.approx(18.1 / 96.056 * 32.06, rel=1e-4)
    charged = water_working(water(GIVEN), GIVEN, "S", "meq/L")
    assert charged.value == pytest.approx(2 * 18.1 / 96.056, rel=1e-4)


def test_less_than_a_limit_counts_as_nothing():
    assert water_working(water(GIVEN), GIVEN, "Na").value == 0.0


def test_bicarbonate_is_an_alkalinity_under_another_name():
    # 349/61.016 (IUPAC 2021)
    working = reading_working(water(GIVEN), GIVEN, "alkalinity")
    assert working.value == pytest.approx(349 / 61.016, rel=1e-4)
    assert reading_working(water({"Ca": 40}), {"Ca": 40}, "alkalinity") is None


def test_a_report_names_the_line_of_its_number():
    made = water_from_text(
        "Water of the Lindenhof\nNitrat: 16,4 mg/l\nCalcium 94,4 mg/l"
    )
    working = water_working(made, {}, "NO3-N", "mmol/L")
    assert "line 2" in working.steps[0].text
    assert working.value == pytest.approx(16.4 / 62.004, rel=1e-4)


def test_the_balance_is_that_of_the_water():
    # by hand: 4 meq/L of cations, 3 of anions are 1/7 of all apart
    made = water({"Ca": "2 mmol/L", "Cl": "3 mmol/L"})
    for what, value in (("cations", 4.0), ("anions", 3.0), ("balance", 100 / 7)):
        assert balance_working(made, what).value == pytest.approx(value, rel=1e-5)
    hard = water("hard")
    working = balance_working(hard, "balance")
    assert working.value == pytest.approx(abs(hard.balance_percent), rel=1e-4)
    for step, line in zip(working.steps, working.lines, strict=True):
        check_line(step, line)


@pytest.mark.parametrize("what", ["cations", "anions", "balance"])
def test_pure_water_has_no_charges_and_no_share_of_them(what):
    working = balance_working(water("pure"), what)
    assert working.value == 0
    assert all(line.endswith("= 0 meq/L") for line in working.lines)


def test_a_working_that_is_open_outlives_a_fresh_start():
    """Pressed on a tap, drawn again on pure water: sequence 205 of the 500."""
    from formulate.workbench.bench import Bench
    from formulate.workbench.state import State

    state = State()
    panel = Bench(state).panels["water"]
    names = re.findall(r'name="(working [^"]*balance[^"]*)"', panel.html)
    assert len(names) == 1
    name = names[0]
    panel.receive({"kind": "press", "name": name, "value": ""})
    state.fresh()
    assert "cations and anions: 0 meq/L + 0 meq/L = 0 meq/L" in panel.html
