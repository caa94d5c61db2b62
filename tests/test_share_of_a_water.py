"""A share of a water, the rest pure: in a blend, in a job, on the sheet and in the plan.

Mixing is linear in what is conserved: a share s of a water with 112 mg/L sodium, the rest
pure, has 112 s + 0 (1 - s) mg/L.
"""

from dataclasses import replace

import pytest

import formulate as fm
from formulate.chemistry.waters import water
from formulate.errors import InputError
from formulate.ingredients.water_report import with_pure_water
from formulate.ingredients.water_working import reading_working, water_working
from formulate.job_nouns import water_of
from formulate.job_saving import save_job, text_of_job
from formulate.jobs import DEMO, job_from_text, read_job
from formulate.sheets.tables import sheet_tables

WELL = {"Na": "112 mg/L", "Cl": "60 mg/L", "HCO3": "190 mg/L", "pH": 7.3, "EC": 0.55}
JOB = """formulate = 1
volume = "150 L"  # the big tank

[target]
wanted = {N = 150, K = 210, Ca = 120}
limits = {Na = "at most 50 mg/L"}

[water]
name = "well"  # softened
Na = "112 mg/L"
Cl = "60 mg/L"
HCO3 = "190 mg/L"
pH = 7.3
EC = "0.55 mS/cm"
share_percent = 42

[[shelf]]
ingredient = "Ca(NO3)2·4H2O"

[[shelf]]
ingredient = "KNO3"
"""


def well():
    return water(WELL, name="well")


# --- the blend ---------------------------------------------------------------------------


@pytest.mark.parametrize("percent", [0.5, 42, 44.6, 99.9])
def test_what_is_conserved_mixes_linearly(percent):
    # by hand: 112 and 60 mg/L times the share; charge and carbon likewise; HCO3 as
    # alkalinity: 190 mg/L / 61.016 g/mol (IUPAC masses) = 3.1139 meq/L
    tap, made = well(), with_pure_water(well(), percent)
    share = percent / 100
    assert made.solution.mg_l("Na") == pytest.approx(112 * share, rel=1e-12)
    assert made.solution.mg_l("Cl") == pytest.approx(60 * share, rel=1e-12)
    assert made.alkalinity == pytest.approx(190 / 61.016 * share, rel=1e-5)
    for key, value in tap.solution.forms.items():
        assert made.solution.forms[key] == pytest.approx(value * share, rel=1e-12)
    charge = tap.solution.unassigned_charge
    assert made.solution.unassigned_charge == pytest.approx(charge * share, rel=1e-12)
    alkalinity = tap.solution.alkalinity()
    assert made.solution.alkalinity() == pytest.approx(alkalinity * share, rel=1e-9)


def test_readings_of_the_water_are_not_told_of_the_blend():
    made = with_pure_water(well(), 42)
    assert (made.ph, made.ec, made.solution.ph) == (None, None, None)
    assert not any("EC" in text for text in made.assumed)
    assert any("pH of a blend is not known" in n.what for n in made.notices)
    (first, share), (pure, rest) = made.parts
    assert (first.ph, first.ec, share) == (7.3, 0.55, 0.42)
    assert not any(pure.solution.forms.values())
    assert share + rest == 1


def test_all_of_a_water_is_that_water_and_none_of_it_is_pure():
    tap = well()
    assert with_pure_water(tap, 100) is tap
    none = with_pure_water(tap, 0)
    assert not any(none.solution.forms.values())
    assert none.solution.unassigned_charge == 0
    assert none.name == "0 % of well, 100 % pure water"


@pytest.mark.parametrize("percent", [-1, 100.1, float("nan"), "42", True, None])
def test_what_is_no_share_is_refused(percent):
    with pytest.raises(InputError, match="share_percent"):
        with_pure_water(well(), percent)


def test_what_limits_the_blend_is_judged_by_the_blend():
    # what the well's 112 mg/L exceed, a tenth of it (11.2 mg/L) does not
    told = [n.what for n in with_pure_water(well(), 10).notices]
    assert not any("112" in text for text in told)
    assert any("of the analysis: EC from the ions" in text for text in told)


def test_a_working_of_the_blend_ends_with_its_share():
    # by hand: 112 / 22.98977 x 0.42 = 2.04612 mmol/L; x 22.98977 = 47.04 mg/L
    made = with_pure_water(well(), 42)
    working = water_working(made, WELL, "Na")
    assert working.value == pytest.approx(47.04, abs=0.0005)
    assert any("× 0.42 =" in line for line in working.lines)
    told = reading_working(made, WELL, "alkalinity")
    assert told.value == pytest.approx(190 / 61.016 * 0.42, rel=1e-5)
    assert reading_working(made, WELL, "pH") is None
    assert reading_working(made, WELL, "EC") is None


# --- in a job ----------------------------------------------------------------------------


def test_the_recipe_and_all_below_it_use_the_blend():
    # by hand: 112 x 0.42 = 47.04 mg/L; neither salt brings sodium
    outcome = fm.run_job(job_from_text(JOB))
    assert outcome.weighing.solution.mg_l("Na") == pytest.approx(47.04, rel=1e-9)
    assert outcome.mixing.log.batch.water is outcome.water
    assert outcome.expected.state.solution.mg_l("Na") == pytest.approx(47.04, rel=1e-9)


def test_a_share_of_100_changes_nothing():
    job = read_job(DEMO)
    all_of_it = replace(job, water=(*job.water, ("share_percent", 100)))
    one, other = fm.run_job(job), fm.run_job(all_of_it)
    assert dict(one.water.solution.forms) == dict(other.water.solution.forms)
    assert str(one.water) == str(other.water)
    amounts = [[(i.name, a) for i, a in o.weighing.amounts] for o in (one, other)]
    assert amounts[0] == amounts[1]
    assert one.expected.state.ph == other.expected.state.ph


def test_a_share_of_0_is_pure_water():
    text = JOB.replace("share_percent = 42", "share_percent = 0")
    pure = text.partition("[water]")[0] + "[[shelf]]" + text.partition("[[shelf]]")[2]
    one, other = (fm.run_job(job_from_text(t)) for t in (text, pure))
    assert one.weighing.solution.mg_l("Na") == 0
    amounts = [[(i.name, a) for i, a in o.weighing.amounts] for o in (one, other)]
    assert amounts[0] == amounts[1]


def test_a_share_of_a_preset_and_of_a_report():
    # 94.4 mg/L Ca: analysis of the preset "hard" [voehringen-2025]; a quarter is 23.6
    made = water_of({"preset": "hard", "share_percent": 25})
    assert made.solution.mg_l("Ca") == pytest.approx(23.6, rel=1e-9)
    assert made.source_key == "voehringen-2025"
    made = water_of({"report": "Calcium 80 mg/L\nSulfate 30 mg/L", "share_percent": 25})
    assert made.solution.mg_l("Ca") == pytest.approx(20, rel=1e-9)


def test_every_fault_of_a_water_and_its_share_is_told_at_once():
    text = JOB.replace("= 42", "= 142").replace('Cl = "60 mg/L"', "Xx = 3")
    with pytest.raises(InputError) as caught:
        fm.run_job(job_from_text(text))
    told = "\n".join(caught.value.faults)
    assert "share_percent: '142' is not a number from 0 up and at most 100" in told
    assert "Xx" in told


@pytest.mark.parametrize("typed", ['"42"', "true", "nan", "[42]", '"half"'])
def test_a_share_that_is_no_number_is_refused_where_it_is_read(typed):
    with pytest.raises(InputError) as caught:
        job_from_text(JOB.replace("= 42", f"= {typed}").replace("= 7.3", "= [1]"))
    assert len(caught.value.faults) == 2
    assert any("share_percent" in fault for fault in caught.value.faults)


def test_a_share_is_saved_with_its_comments_and_reads_back(tmp_path):
    job = job_from_text(JOB)
    assert dict(job.water)["share_percent"] == 42
    assert text_of_job(job, before=JOB) == JOB
    assert job_from_text(text_of_job(job)) == job
    path = tmp_path / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    less = tuple((k, 40.5 if k == "share_percent" else v) for k, v in job.water)
    save_job(replace(job, water=less), path)
    assert path.read_text(encoding="utf-8") == JOB.replace("= 42", "= 40.5")


# --- on paper ----------------------------------------------------------------------------


def test_the_sheet_tells_the_shares_and_litres_of_each():
    # by hand: 150 L x 0.42 = 63 L, the other 87 L; no liquid takes room
    outcome = fm.run_job(job_from_text(JOB))
    table = {t.key: t for t in sheet_tables(outcome)}["water"]
    assert table.title == "Water: 42 % of well, 58 % pure water"
    assert ("well", "63.00 L") in table.rows
    assert ("pure water", "87.00 L") in table.rows
    assert not any(name in ("pH", "EC at 25 °C") for name, _ in table.rows)


def test_the_plan_tells_what_to_fill_in_of_each():
    # by hand: 200 L x 0.75 = 150 L: 63 L and 87 L; then 50 L: 21 L and 29 L
    plan = fm.run_job(job_from_text(JOB.replace("150 L", "200 L"))).mixing.plan
    first, last = (s.what for s in plan.steps if s.what.startswith("fill"))
    assert "of the water (75 % of it: 63.0 L well and 87.0 L pure water)" in first
    assert "with the same blend of waters: 21.0 L well and 29.0 L pure water" in last


def test_without_a_share_the_plan_tells_one_water():
    job = job_from_text(
        JOB.replace("share_percent = 42", "").replace("50 mg", "150 mg")
    )
    first, last = (
        s.what for s in fm.run_job(job).mixing.plan.steps if s.what.startswith("fill")
    )
    assert "(75 % of it), at" in first
    assert last == "fill up to 150.0 L and stir"
