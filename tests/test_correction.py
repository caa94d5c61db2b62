"""From the pH of a batch to the wanted one: doses, words, steps, and where they stand in a job."""

from dataclasses import replace

import numpy as np
import pytest

from formulate.chemistry.acid_doses import acid_rule, with_dose
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
from formulate.stoichiometry.solution import Solution, solution

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
    # by hand: 67/5 - 1 = 12.4 g of water for a gram, times 1.4 g/mL: 17.4 mL for a mL
    assert "at least 18 times as much cold water" in first
    assert f"{grams / NITRIC.density:.1f} mL" in first
    assert "acid into water" in first
    assert "meter" in found.steps()[2]
    assert acid_rule("first portion") == 80


def test_what_is_there_already_and_stays_needs_nothing():
    """A phosphate buffer: the air moves it by less than 0.3."""
    made = speciate(solution({"K": 1.5, "P": 1.0}, ph=7.0))
    found = correction(made, [NITRIC], ph=7.0)
    assert found.is_there
    assert not found.doses
    assert not found.steps()
    assert "there already" in found.line


def test_where_the_air_drives_the_ph_past_the_wish_nothing_is_poured_at_once():
    """The tap water is at 7.4 and goes to 8.3 in the air: acid is needed, not alkali."""
    found = correction(TAP, [NITRIC, KOH], ph=7.6)
    assert found.waits
    assert found.kind == "acid"
    assert [d.ingredient for d in found.doses] == [NITRIC]
    assert found.doses[0].after.air_co2_ppm == 420
    assert found.rows()[0][1] == "nothing yet"
    assert "Pour nothing yet" in found.steps()[0]
    assert f"{found.aired.ph:.1f}" in found.steps()[0]
    again = correction(TAP, [NITRIC], ph=7.4)  # there at once, and it does not stay
    assert again.waits
    assert not again.is_there


def test_the_last_step_names_what_is_needed_in_all():
    found = correction(TAP, [NITRIC], ph=5.8, volume=100.0)
    later = found.in_all[NITRIC.name]
    last = found.steps()[2]
    assert f"{later.millilitres * 100:.1f} mL in all" in last
    portion = with_dose(
        found.doses[0].before.solution, NITRIC, 0.8 * found.doses[0].grams
    )
    there = speciate(replace(portion, ph=None), air_co2_ppm=420).ph
    assert f"about pH {there:.1f}" in found.steps()[1]


def test_strength_decides_how_much_water_comes_first():
    weak = acid("H3PO4", percent=10, density=1.05)
    assert "at least 2 times" in correction(TAP, [weak], ph=5.8, volume=50).steps()[0]
    tank = correction(TAP, [NITRIC], ph=5.8, volume=20000).steps()[0]
    assert "in portions" in tank
    drop = correction(speciate(solution({"K": 0.1, "Cl": 0.1})), [KOH], ph=7.3)
    assert "too little to measure" in drop.steps()[0] or drop.waits
    poured = correction(TAP, [KOH], ph=9.5, volume=100).steps()[0]
    assert "it gets hot" in poured
    assert "acid into water" not in poured


def test_a_ph_that_the_air_takes_back_is_told_and_not_dosed_for():
    """Rain at pH 9.5 with KOH: in the air it would take many times as much (Henry)."""
    rain = speciate(solution({"K": 0.1, "Cl": 0.1}))
    found = correction(rain, [KOH], ph=9.5, volume=100.0)
    assert "does not last" in found.line
    assert found.rows()[0][3] == ""
    assert "in all is expected" in found.steps()[2]
    assert found.steps()[2].startswith(
        f"Finish by the meter, a little at a time: {found.rows()[0][1]}"
    )
    with pytest.raises(InputError, match="3 up and at most 10"):
        correction(rain, [KOH], ph=12)


def test_carbonates_count_as_alkalis_at_hand():
    soft = speciate(solution({"K": 1.0, "Cl": 1.0, "H2PO4": 0.2, "Na": 0.2}))
    found = correction(soft, [as_ingredient("KHCO3")], ph=6.5)
    assert found.at_hand
    assert found.doses


def test_every_odd_value_is_told_in_words():
    for wrong in (
        lambda: correction(None, [], ph=6),
        lambda: correction(TAP, 5, ph=6),
        lambda: correction(TAP, [], ph=np.array([6.0, 7.0])),
        lambda: correction(speciate(TAP.solution, ph=np.array([6.0, 7.0])), [], ph=6),
    ):
        with pytest.raises(InputError):
            wrong()
    assert correction(TAP, "nitric acid (67 %)", ph=5.8).doses


def test_without_an_acid_examples_show_what_it_would_take():
    found = correction(TAP, [KOH], ph=5.8, volume=10.0)
    assert not found.at_hand
    assert "no acid is on the shelf" in found.line
    assert all("not on the shelf" in row[0] for row in found.rows())
    assert not found.steps()
    assert found.handled  # its cautions are told


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


def test_a_dose_that_brings_too_much_is_told(outcome):
    """Nitric acid: 8.41 mmol N in a gram, 14.007 g/mol; 70 mg/L N are wanted."""
    (dose,) = outcome.correction.doses
    brought = dose.grams * 8.411 * 14.007
    (notice,) = [n for n in outcome.notices if n.what.startswith("the dose of nitric")]
    then = outcome.weighing.solution.mg_l("N") + brought
    assert notice.number == pytest.approx(then, rel=1e-3)
    assert notice.limit == pytest.approx(70, rel=1e-3)


def test_unheld_iron_in_the_batch_is_told():
    job = read_job(DEMO)
    plain = [
        replace(line, ingredient="ferrous sulfate heptahydrate", name="")
        if "DTPA" in line.ingredient
        else line
        for line in job.shelf
    ]
    found = run_job(replace(job, shelf=tuple(plain), ph=6.5))
    assert any("rust" in notice.what for notice in found.notices)


def test_the_state_in_the_air_has_its_own_risks():
    hard = read_job(DEMO)
    found = run_job(hard)
    assert found.solids_in_air.state.ph == pytest.approx(found.correction.tomorrow)
    told = [
        n.what for n in found.notices if n.what.startswith("in balance with the air")
    ]
    assert any("calcite likely" in what for what in told)


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
    values = [float(part.split(": ")[1]) for part in text.split(", ")]
    assert values[1] == pytest.approx(9.09, abs=0.2)
    assert np.all(np.diff(values) < 0)


def test_a_strong_acid_alone_is_not_advised_by_price_only():
    dear = acid("HNO3", percent=67, density=1.4, price_per_kg=5.0)
    cheap = acid("H2SO4", percent=35, density=1.26, price_per_kg=1.0)
    found = correction(TAP, [dear, cheap], ph=5.8)
    assert [d.ingredient for d in found.doses] == [cheap, dear]
    assert "S" in found.rows()[0][4]
    assert "NO3-N" in found.rows()[1][4]


def test_a_ph_that_the_air_brings_by_itself_is_not_dosed_for():
    """Acid for all but a little of a hard water: now CO2 keeps the pH low, the air lets it out."""
    tap = solution({"Ca": 2.35, "HCO3": 4.7, "NO3": 0.0})
    sour = Solution({**tap.forms, "nitrate": 4.69}, tap.unassigned_charge)
    before = speciate(sour)
    aired = speciate(sour, air_co2_ppm=420.0).ph
    assert before.ph < aired - 0.5
    found = correction(before, ["nitric acid (67 %)", "K2CO3"], ph=round(aired, 1))
    assert found.arrives
    assert found.is_there
    assert not found.doses
    assert "nothing to add, aerate" in found.line
    near = correction(speciate(sour, ph=round(aired, 1)), ["K2CO3"], ph=round(aired, 1))
    assert not near.arrives
