"""A way out of wishes that cannot hold together: tried before it is taken, taken by a press."""

import html
from dataclasses import replace

import pytest

from formulate.jobs import DEMO, Job, ShelfLine, read_job
from formulate.workbench.bench import Bench
from formulate.workbench.edits import own_target, with_target_value
from formulate.workbench.findings import Findings
from formulate.workbench.shelf_edits import with_line_entry
from formulate.workbench.state import State
from formulate.workbench.ways_out import taken, way_out

WATER = {
    "Na": 13.9,
    "Mg": 18.3,
}  # mg/L, as the demo's water was analysed [voehringen-2025]


def limited(job, limits):
    """Return a job with limits."""
    for key, text in limits.items():
        job = with_target_value(job, "limits", key, text)
    return job


def send(panel, kind, name, value=""):
    """Send a message as a browser would; return whether it was taken."""
    panel.receive({"kind": kind, "name": name, "value": value})
    return not panel.fault


JOBS = {
    "a limit under what the water brings": limited(
        read_job(DEMO), {"Mg": "at most 10 mg/L"}
    ),
    "typed by name": limited(read_job(DEMO), {"magnesium": "at most 10 mg/L"}),
    "two limits that clash": limited(
        own_target(read_job(DEMO)),
        {
            "K": "190 to 200",
            "NO3-N": "at most 5",
            "S": "at most 20",
            "P": "at most 30",
            "Cl": "at most 30",
        },
    ),
    "a ratio against a limit": limited(
        read_job(DEMO), {"K:Ca": "1.9 to 2.0", "K": "at most 90 mg/L"}
    ),
    "an amount that is too small": limited(
        with_line_entry(read_job(DEMO), 2, "use", "at most 1 g"),
        {"P": "at least 40 mg/L"},
    ),
}


@pytest.mark.parametrize("name", JOBS)
def test_whatever_way_out_is_offered_leads_to_a_recipe(name):
    job = JOBS[name]
    error = Findings(job).why_not
    assert error is not None
    tried = [way_out(job, words) for words, _ in error.ways]
    assert tried
    for one in tried:
        assert one.job is not None
        assert Findings(one.job).has_recipe, one.job.target
        assert one.words.startswith(("misses", "every wish within"))


def test_a_limit_gives_on_one_side_and_keeps_the_other():
    asked = Job(target=(("limits", (("K", "190 to 200 mg/L"),)),))
    gave = dict(taken(asked, "K at least 155.8 mg/L").target)["limits"]
    assert gave == (("K", "155.8 to 200 mg/L"),)
    gave = dict(taken(asked, "K at most 210 mg/L").target)["limits"]
    assert gave == (("K", "190 to 210 mg/L"),)
    gave = dict(taken(asked, "Na at most 20 mg/L").target)["limits"]
    assert gave == (("K", "190 to 200 mg/L"), ("Na", "at most 20 mg/L"))


def test_an_amount_and_the_share_of_ammonium_give_where_they_were_asked():
    job = Job(shelf=(ShelfLine("KNO3", name="base", use="at most 1 g"),))
    assert taken(job, "amount of base at most 3 g").shelf[0].use == "at most 3 g"
    assert taken(job, "amount of another at most 3 g") is None
    free = dict(taken(job, "any share of ammonium (0 to 100 %)").target)
    assert free["ammonium_share_percent"] == (0.0, 100.0)
    assert taken(job, "pH missed by 0.3") is None


def test_what_it_then_misses_is_told_before_it_is_taken_and_undo_brings_all_back():
    state = State(limited(read_job(DEMO), {"Mg": "at most 10 mg/L"}))
    bench, before = Bench(state), state.job
    recipe = bench.panels["recipe"]
    assert "working …" in recipe.html
    send(recipe, "seen", "ways", True)
    shown = html.unescape(recipe.html)
    (words, _), *_ = state.found.why_not.ways
    assert float(words.split()[3]) == pytest.approx(WATER["Mg"], abs=0.01)
    assert "misses Mg -5" in shown  # 18.3 of 40 mg/L: -54 %
    assert send(recipe, "press", "way", "0")
    assert state.found.has_recipe
    assert f"taken: {words}" in bench.panels["head"].html
    state.undo()
    assert state.job is before
    bench.close()


def test_a_way_out_that_is_gone_is_refused():
    bench = Bench(State(replace(read_job(DEMO), title="whole")))
    for value in ("0", "9", "x", ""):
        assert not send(bench.panels["recipe"], "press", "way", value)
    assert "not there any more" in bench.panels["recipe"].html
    bench.close()


HARDNESS = "Gesamthärte 16,2 °dH\nSäurekapazität bis pH 4,3 5,10 mmol/l\npH-Wert 7,42\n"


def test_a_hardness_without_calcium_is_told_where_it_is_seen_and_can_be_mended():
    bench = Bench(State())
    water, head = bench.panels["water"], bench.panels["head"]
    send(water, "change", "report", HARDNESS)
    assert "neither calcium nor magnesium" in water.html
    assert "▸" in head.html.partition("1 Water")[2].partition("</li>")[0]
    assert send(water, "change", "calcium", "90")
    # 16.2 °dH is 2.889 mmol/L (1 °dH is 10 mg/L CaO, 56.077 g/mol); less 90 / 40.078
    magnesium = (162 / 56.077 - 90 / 40.078) * 24.305
    made = bench.state.found.water.solution
    assert made.mg_l("Mg") == pytest.approx(magnesium, abs=0.01)
    assert made.mg_l("Ca") == pytest.approx(90)
    assert "neither calcium nor magnesium" not in water.html
    assert send(water, "change", "calcium", "")
    bench.state.undo()
    assert "neither calcium nor magnesium" in water.html
    bench.close()
