"""From the pH of a batch to the wanted one: doses, words, steps, and where they stand in a job."""

from dataclasses import replace

import numpy as np
import pytest

from formulate.chemistry.acid_doses import acid_rule
from formulate.chemistry.correction import correction
from formulate.chemistry.dosing import acid_dose
from formulate.chemistry.speciation import speciate, speciate_again
from formulate.errors import InputError
from formulate.ingredients.salts import acid, as_ingredient
from formulate.job_saving import text_of_job
from formulate.jobs import DEMO, Job, ShelfLine, job_from_text, read_job
from formulate.outcome import check_job, run_job
from formulate.sheets.bench_sheet import bench_sheet
from formulate.sheets.tables import as_data, sheet_tables
from formulate.stoichiometry.solution import solution

TAP = speciate(solution({"Ca": 2.35, "HCO3": 4.7}, ph=7.4))
NITRIC = as_ingredient("nitric acid (67 %)")
KOH = as_ingredient("KOH")


@pytest.fixture(scope="module")
def outcome():
    """The demo with nitric acid on the shelf that the recipe may not use."""
    job = read_job(DEMO)
    line = ShelfLine(ingredient="nitric acid (53 %)", price_per_kg=1.4, use="none")
    return run_job(replace(job, shelf=(*job.shelf, line), ph=6.0))


def test_the_dose_is_that_of_acid_dose_for_the_whole_batch():
    found = correction(TAP, [NITRIC, KOH], ph=5.8, volume=250.0)
    dose = acid_dose(TAP.solution, NITRIC, ph=5.8)
    assert [d.ingredient for d in found.doses] == [NITRIC]
    value, unit = found.amount(found.doses[0])
    assert unit == "mL"
    assert value == pytest.approx(250 * dose.millilitres, rel=1e-9)
    assert found.needed == pytest.approx(dose.gap, rel=0.02)
    assert found.kind == "acid"


def test_upwards_only_alkalis_are_tried():
    soft = speciate(solution({"K": 1.0, "Cl": 1.0, "H2PO4": 0.2, "Na": 0.2}))
    found = correction(soft, [NITRIC, KOH], ph=6.5)
    assert [d.ingredient for d in found.doses] == [KOH]
    assert found.kind == "alkali"
    assert found.needed < 0
    assert found.rows()[0][1].endswith(" g")


def test_in_all_is_more_than_at_once_where_carbon_dioxide_leaves():
    """A hard water at pH 5.8 holds carbon dioxide that leaves: what is left is alkaline."""
    found = correction(TAP, [NITRIC], ph=5.8)
    assert found.in_all[NITRIC.name].grams > 1.2 * found.doses[0].grams
    assert found.tomorrow > 7.0
    dosed = replace(found.doses[0].solution, ph=None)
    aired = speciate_again(
        found.doses[0].after, solution=dosed, ph=None, air_co2_ppm=420
    )
    assert found.tomorrow == pytest.approx(aired.ph, abs=1e-6)


def test_the_first_portion_is_diluted_to_five_percent_before_it_goes_in():
    """80 % of the dose (common practice), to about 5 % strength (umass-acids, read)."""
    found = correction(TAP, [NITRIC], ph=5.8, volume=100.0)
    first = found.steps()[0]
    grams = 0.8 * found.doses[0].grams * 100
    water = grams * (67 / 5 - 1)
    assert f"{water:.3g} mL of water"[:3] in first
    assert f"{grams / NITRIC.density:.1f} mL" in first
    assert "acid into water" in first
    assert "meter" in found.steps()[2]
    assert acid_rule("first portion") == 80


def test_what_is_there_already_needs_nothing():
    found = correction(TAP, [NITRIC], ph=7.4)
    assert found.is_there
    assert not found.doses
    assert not found.steps()
    assert "there already" in found.line


def test_without_an_acid_examples_show_what_it_would_take():
    found = correction(TAP, [KOH], ph=5.8, volume=10.0)
    assert not found.at_hand
    assert "no acid is on the shelf" in found.line
    assert all("not on the shelf" in row[0] for row in found.rows())
    assert not found.steps()
    assert not found.handled


def test_the_interval_follows_the_error_of_the_alkalinity():
    narrow = correction(TAP, [NITRIC], ph=5.8, alkalinity_error=0.05).doses[0].interval
    wide = correction(TAP, [NITRIC], ph=5.8, alkalinity_error=0.5).doses[0].interval
    assert wide[0] < narrow[0] < narrow[1] < wide[1]


def test_a_wrong_wish_is_told():
    with pytest.raises(InputError, match="pH"):
        correction(TAP, [NITRIC], ph=17)
    with pytest.raises(InputError, match="volume"):
        correction(TAP, [NITRIC], ph=6, volume=0)


# --- in the job ----------------------------------------------------------------------------


def test_the_job_keeps_the_wanted_ph_and_the_outcome_reaches_it(outcome):
    assert outcome.correction.ph == 6.0
    assert outcome.correction.volume == 200.0
    (dose,) = outcome.correction.doses
    assert dose.after.ph == pytest.approx(6.0)
    again = job_from_text(text_of_job(outcome.job))
    assert again.ph == 6.0
    assert run_job(read_job(DEMO)).correction.ph == acid_rule("wanted pH")


def test_a_wrong_ph_of_a_job_is_told_with_the_others():
    job = read_job(DEMO)
    found = check_job(replace(job, ph=25, volume="3 furlongs")).faults
    assert "pH" in found["units"][0] or "ph" in found["units"][0]
    assert "volume" in found
    with pytest.raises(InputError, match="ph"):
        job_from_text('formulate = 1\nph = "sour"')


def test_workings_of_the_outcome(outcome):
    assert outcome.working("gypsum").value == pytest.approx(
        outcome.expected.state.saturation_index("gypsum"), abs=5e-6
    )
    dose = outcome.working("dose")
    value, unit = outcome.correction.amount(outcome.correction.doses[0])
    assert dose.value == pytest.approx(value, rel=1e-3)
    assert dose.unit == unit == "mL"
    assert outcome.working("N").value == pytest.approx(
        outcome.weighing.solution.mg_l("N"), rel=1e-3
    )


def test_sheet_and_data_carry_solids_dose_air_and_iron(outcome):
    tables = {table.key: table for table in sheet_tables(outcome)}
    assert tables["correction"].rows[0][0] == "nitric acid (53 %)"
    assert len(tables["correcting"].rows) == 3
    assert {row[0] for row in tables["solids"].rows} >= {
        "gypsum",
        "brushite",
        "calcite",
    }
    assert tables["air"].rows
    assert tables["iron"].rows[0][1] in (
        "holds",
        "sources differ",
        "held in part",
        "lost",
    )
    assert any("acid slowly to water" in row[0] for row in tables["cautions"].rows)
    assert any(row[0] == "nitric acid (53 %)" for row in tables["hazards"].rows)
    page = bench_sheet(outcome)
    for words in ("What may fall out", "Finish by the meter", "Dose of nitric acid"):
        assert words in page
    data = as_data(outcome)
    assert data["correction"]["ph"] == 6.0
    grams = data["correction"]["doses"]["nitric acid (53 %)"]["grams"]
    assert grams == pytest.approx(200 * outcome.correction.doses[0].grams)
    assert data["solids"]["gypsum"]["risk"] == "none"


def test_notices_tell_what_may_fall_out(outcome):
    assert any("brushite likely" in n.what for n in outcome.notices)
    assert "to pH 6:" in str(outcome)
    assert "what may fall out: brushite" in str(outcome)


def test_a_job_without_iron_has_no_sources_of_iron():
    job = Job(
        volume="10 L",
        target=(("wanted", (("K", 39.1),)), ("unit", "mg/L")),
        shelf=(ShelfLine(ingredient="KNO3"),),
    )
    assert run_job(job).iron == ()


def test_the_oxygen_of_the_sheet_is_that_of_the_handbook(outcome):
    """9.09 mg/L at 20 °C in pure water (do-points, read); salts take off up to 2 %."""
    tables = {table.key: table for table in sheet_tables(outcome)}
    (text,) = [value for name, value in tables["air"].rows if "oxygen" in name]
    values = [float(part.split(" at ")[0]) for part in text.split(", ")]
    assert values[1] == pytest.approx(9.09, abs=0.2)
    assert np.all(np.diff(values) < 0)


def test_a_strong_acid_alone_is_not_advised_by_price_only():
    dear = acid("HNO3", percent=67, density=1.4, price_per_kg=5.0)
    cheap = acid("H2SO4", percent=35, density=1.26, price_per_kg=1.0)
    found = correction(TAP, [dear, cheap], ph=5.8)
    assert [d.ingredient for d in found.doses] == [cheap, dear]
    assert "S" in found.rows()[0][4]
    assert "NO3-N" in found.rows()[1][4]
