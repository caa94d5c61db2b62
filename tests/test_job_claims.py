"""The claims of a job: papers in any order, products by name, water and target if asked."""

from dataclasses import replace

import pytest

from formulate.jobs import DEMO, Job, ShelfLine, read_job
from formulate.outcome import Outcome, check_job, run_job
from formulate.papers import Paper
from formulate.sheets.claims_page import claims_markup, claims_parts, claims_text
from formulate.sheets.claims_tables import claims_data

BAG = "13-0-46\nTotal Nitrogen (N) 13 %\nSoluble Potash (K2O) 46 %\nDerived from: potassium nitrate\n"
CHART = "week;bag g/L;K mg/L\n1;0,5;191\n2;1;382\n"


def claims_of(*papers, **more):
    return Outcome(Job(papers=papers, **more)).claims


def test_a_label_may_stand_below_the_chart_that_names_it():
    chart, bag = claims_of(Paper(CHART, "chart"), Paper(BAG, "bag")).checked
    assert (chart.name, chart.verdict) == ("chart", "right")
    assert (bag.name, bag.verdict) == ("bag", "right")


def test_a_dose_names_a_paper_the_shelf_or_the_catalogue():
    told = {"kind": "dose", "dose": "1 g/L", "claims": (("K", "382"),)}
    shelf = (ShelfLine(label=BAG, name="sack"),)
    names = ("bag", "sack", "potassium nitrate", "nobody's")
    papers = [Paper(BAG, "bag"), *(Paper(name=n, product=n, **told) for n in names[:0])]
    papers += [Paper(name=f"of {n}", product=n, **told) for n in names]
    _, bag, sack, salt, unknown = claims_of(*papers, shelf=shelf).checked
    assert bag.verdict == sack.verdict == "right"
    assert salt.verdict == "wrong"  # the pure salt holds 387 mg/L K (formula)
    assert "neither on the shelf" in unknown.faults[0]


def test_water_counts_only_where_it_is_asked_for():
    job = read_job(DEMO)  # its tap water brings calcium
    told = {"kind": "dose", "product": "potassium nitrate", "dose": "1 g/L"}
    papers = (
        Paper(name="pure", claims=(("Ca", "0.1"),), **told),
        Paper(name="tap", claims=(("Ca", "94"),), water="job", **told),
    )
    pure, tap = run_job(replace(job, papers=papers)).claims.checked
    assert pure.verdict == "wrong"
    assert tap.verdict == "right"  # as the demo's water report says


def test_weeks_are_held_against_the_target_that_is_named():
    job = replace(read_job(DEMO), papers=(Paper(BAG, "bag"),))
    plain = replace(job, papers=(*job.papers, Paper(CHART, "chart")))
    held = replace(job, papers=(*job.papers, Paper(CHART, "chart", target="job")))
    unknown = replace(job, papers=(Paper(CHART, "chart", target="no-such"),))
    without, against = (run_job(one).claims.checked[1] for one in (plain, held))
    assert not any(week.against for week in without.results[0].weeks)
    assert all(week.against for week in against.results[0].weeks)
    assert run_job(unknown).claims.checked[0].faults


def test_prices_go_with_labels_into_a_comparison():
    papers = (Paper(BAG, "bag", price_per_kg=2.0),)
    claims = claims_of(*papers, compared=("bag", "potassium sulfate"))
    found, why = claims.comparison_or_why
    assert why == ""
    # 2.00 a kg and 38.4 % K in it
    assert abs(found.share("K", "bag").gram_cost * 1000 - 2.0 / 0.384) < 0.05
    assert found.share("K", "potassium sulfate").gram_cost is None
    _, why = claims_of(compared=("bag",)).comparison_or_why
    assert "bag" in why


def test_a_job_at_fault_elsewhere_still_has_its_papers_checked():
    job = Job(volume="ten", papers=(Paper(BAG, "bag"),))
    checked = check_job(job)
    assert "volume" in checked.faults
    assert checked.outcome.claims.verdict == "right"


def test_a_label_tells_what_a_dilution_of_it_shows():
    outcome = Outcome(Job(papers=(Paper(BAG, "bag"),)))
    (table,) = [
        table
        for paper in claims_data(outcome.claims)["papers"]
        for key, table in paper["tables"].items()
        if key == "dilution"
    ]
    # 1 g/L of KNO3, 9.9 mmol/L: 1.34 mS/cm from the handbook's equivalent conductivity
    # of 135.8 S cm2/mol (`tests/published`), pure water else
    assert 1.30 < float(table[0]["least"]) <= float(table[0]["most"]) < 1.37
    assert float(table[1]["least"]) == pytest.approx(7.0, abs=0.1)


def test_page_text_and_data_tell_the_same():
    outcome = Outcome(Job(papers=(Paper(BAG, "bag"), Paper("milk", "list"))))
    data = claims_data(outcome.claims)
    text, page = claims_text(outcome), claims_markup(outcome, whole=True)
    for paper in data["papers"]:
        assert paper["answer"] in text
        assert paper["name"] in page
    assert "list: cannot be read" in text
    assert [part.title for part in claims_parts(outcome)][-1] == "list: cannot be read"


def test_what_people_typed_is_escaped():
    hostile = "<script>alert(1)</script>"
    outcome = Outcome(Job(papers=(Paper(f"{hostile}\nK2O 50 %", hostile),)))
    assert hostile not in claims_markup(outcome, whole=True)
