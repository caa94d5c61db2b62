"""A share of the water at the bench: typed, refused, undone, found where limits conflict."""

import html
import re
from dataclasses import replace

import pytest

from formulate.jobs import DEMO, Job, ShelfLine, read_job
from formulate.workbench import recipe_panel
from formulate.workbench.bench import Bench
from formulate.workbench.edits import (
    typed_water,
    with_report,
    with_share,
    with_target_value,
    with_water,
)
from formulate.workbench.findings import Findings
from formulate.workbench.share_kept import share_kept
from formulate.workbench.state import State

WISH = (("wanted", (("N", "150"), ("K", "210"), ("Ca", "120"))),)
WELL = (("name", "well"), ("Na", "112 mg/L"), ("Cl", "60 mg/L"), ("pH", "7.3"))
SHELF = (ShelfLine("Ca(NO3)2·4H2O"), ShelfLine("KNO3"))


def job(limit="at most 50 mg/L", **facts):
    limits = (("limits", (("Na", limit),)),)
    return replace(
        Job(volume="150 L", target=WISH + limits, water=WELL, shelf=SHELF), **facts
    )


def send(panel, kind, name, value=""):
    """Send a message as a browser would; return whether it was taken."""
    panel.fault = ""
    panel.receive({"kind": kind, "name": name, "value": value})
    return not panel.fault


def shown(panel):
    """Return what a panel shows, its signs as they are read."""
    return html.unescape(panel.html)


@pytest.fixture
def bench():
    made = Bench(State(job()))
    yield made
    made.close()


def sodium(bench):
    """Return the cells of the row of sodium in the panel of the water."""
    row = re.search(
        r'<tr data-key="Na">.*?</tr>', shown(bench.panels["water"]), re.DOTALL
    )
    return re.sub(r"<[^>]*>", " ", row[0]).split()


# --- the water ---------------------------------------------------------------------------


def test_a_share_is_typed_shown_and_undone(bench):
    # by hand: 112 mg/L x 0.25 = 28 mg/L
    panel = bench.panels["water"]
    assert "112.0" in sodium(bench)
    assert send(panel, "change", "share", "25 %")
    assert dict(bench.job.water)["share_percent"] == 25
    assert 'name="share" value="25"' in shown(panel)
    assert "28.00" in sodium(bench)
    assert "blend of waters holds: 25 % this water, the rest pure" in shown(panel)
    bench.state.undo()
    assert bench.job.water == WELL
    assert "112.0" in sodium(bench)
    assert "blend of waters" not in shown(panel)


@pytest.mark.parametrize("typed", ["half", "-3", "101", "4 2", "<b>"])
def test_a_refused_share_stays_in_its_field(bench, typed):
    panel = bench.panels["water"]
    send(panel, "change", "share", typed)
    assert bench.job.water == WELL
    assert f'name="share" value="{html.escape(typed)}"' in panel.html
    assert "not taken: " in panel.html
    send(panel, "change", "share", "")
    assert "not taken: " not in panel.html


def test_the_numbers_of_the_blend_open_their_working(bench):
    panel = bench.panels["water"]
    send(panel, "change", "share", "25")
    send(panel, "press", "working Na")
    assert panel.working("Na").value == pytest.approx(28, rel=1e-4)
    assert "× 0.25" in shown(panel)


def test_an_emptied_share_is_all_of_the_water():
    assert with_share(with_share(job(), "30"), " ") == job()


def test_a_share_stays_when_the_analysis_is_given_in_another_way():
    share = ("share_percent", 30.0)
    begun = with_share(job(), "30")
    assert with_water(begun, "hard").water == (("preset", "hard"), share)
    assert with_report(begun, "Calcium 80 mg/L").water[-1] == share
    assert typed_water(with_water(begun, "hard")).water[-1] == share


def test_a_report_typed_over_keeps_its_values_and_its_share(bench):
    # the report says 80 mg/L; the blend of half of it holds 40, and is not what is typed
    text = "Calcium 80 mg/L\nSulfate 30 mg/L"
    bench.state.change(with_share(with_report(job(), text), "50"))
    assert bench.state.found.water.solution.mg_l("Ca") == pytest.approx(40)
    send(bench.panels["water"], "change", "way", "typed")
    entries = dict(bench.job.water)
    assert (entries["Ca"], entries["share_percent"]) == ("80 mg/L", 50)
    assert bench.state.found.water.solution.mg_l("Ca") == pytest.approx(40, rel=1e-4)


def test_none_of_a_known_water_is_not_told_as_unknown():
    told = [n.what for n in Findings(with_share(job(), "0")).notices("water")]
    assert not any("nothing is known" in what for what in told)


# --- where limits cannot hold ------------------------------------------------------------


@pytest.mark.parametrize(
    ("limit", "percent"),
    [
        ("at most 50 mg/L", 44.6),  # 50 / 112 = 0.44643, rounded down
        ("at most 28 mg/L", 25.0),  # 28 / 112
        ("at most 0.05 mg/L", 0.0),  # 0.05 / 112 is under a tenth of a percent
    ],
)
def test_the_share_that_keeps_a_limit_is_that_of_arithmetic(limit, percent):
    found = share_kept(job(limit))
    assert found == (percent, (f"Na {limit}",))
    after = Findings(with_share(job(limit), str(percent)))
    assert after.has_recipe
    assert after.outcome.weighing.solution.mg_l("Na") == pytest.approx(
        1.12 * percent, rel=1e-9
    )


def test_a_wish_that_would_be_missed_holds_no_share_back():
    # 10 / 13.9 = 0.71942: sodium of the demo's water as it was analysed [voehringen-2025]
    limited = with_target_value(read_job(DEMO), "limits", "Na", "at most 10 mg/L")
    assert share_kept(limited) == (71.9, ("Na at most 10 mg/L",))


def test_a_share_that_is_typed_already_is_not_counted_twice():
    assert share_kept(with_share(job(), "60"))[0] == 44.6


def test_nothing_is_told_where_the_water_is_not_the_cause():
    # 200 mg/L K of KNO3 bring 200 x 14.007 / 39.098 = 71.6 mg/L N, whatever the water is
    clash = (("limits", (("K", "at least 200 mg/L"), ("N", "at most 5 mg/L"))),)
    assert share_kept(job(target=WISH + clash)) is None
    assert share_kept(job(water=(), target=WISH + clash)) is None
    assert share_kept(job(water=(("Xx", "1"),))) is None  # no nutrient


def test_the_panel_tells_the_share_once_it_is_seen_and_takes_it(bench):
    panel = bench.panels["recipe"]
    assert 'data-slot="share"' in panel.html
    assert "of this water keeps it" not in panel.html
    assert send(panel, "seen", "share", True)
    assert "At most 44.6 % of this water keeps it" in shown(panel)
    assert "held back by: Na at most 50 mg/L" in shown(panel)
    assert send(panel, "press", "share")
    assert dict(bench.job.water)["share_percent"] == 44.6
    assert bench.state.found.has_recipe
    assert "of this water keeps it" not in panel.html
    bench.state.undo()
    assert bench.job.water == WELL


def test_a_share_that_is_not_there_any_more_is_not_taken(bench):
    panel = bench.panels["recipe"]
    send(panel, "seen", "share", True)
    bench.state.change(job("at most 200 mg/L"))
    before = bench.job
    assert not send(panel, "press", "share")
    assert "not there any more" in panel.fault
    assert bench.job is before


def test_a_share_is_worked_out_once_and_only_where_there_is_no_recipe(monkeypatch):
    asked = []

    def counted(of_job):
        asked.append(of_job)
        return share_kept(of_job)

    monkeypatch.setattr(recipe_panel, "share_kept", counted)
    bench = Bench(State(read_job(DEMO)))
    panel = bench.panels["recipe"]
    send(panel, "seen", "share", True)
    assert asked == []  # there is a recipe
    send(panel, "seen", "share", False)
    bench.state.change(job())
    assert asked == []  # not seen
    send(panel, "seen", "share", True)
    panel.refresh()
    assert asked == [bench.job]
    bench.state.change(job("at most 28 mg/L"))
    assert len(asked) == 2
    assert "At most 25 % of this water" in shown(panel)
    bench.close()


def held_back(made):
    """Return what the recipe is said to be held back by."""
    found = re.search(
        r"What holds it back:</b> (.*?)</p>", shown(made.panels["recipe"])
    )
    return found[1]


@pytest.mark.parametrize(
    ("limit", "share", "is_named"),
    [
        ("at most 50 mg/L", "44.6", True),  # 112 × 0.446 = 49.95
        ("at most 50 mg/L", "44", False),  # 49.28, 1.4 % under it
        ("at most 3.5 mg/L", "3.1", True),  # 3.472; 3.2 % would be 3.584
        ("at most 3.5 mg/L", "3", False),  # 3.36; 3.1 % are still under it
        ("at least 50 mg/L", "44.7", True),  # 50.06; 44.6 % would be 49.95
        ("at most 112 mg/L", "100", True),
        ("at most 120 mg/L", "100", False),
        ("exactly 112 mg/L", "100", True),
    ],
)
def test_a_limit_that_the_water_alone_reaches_is_named(limit, share, is_named):
    """The well holds 112 mg/L of sodium, and neither salt brings any."""
    made = Bench(State(with_share(job(limit), share)))
    assert made.state.found.has_recipe
    assert ("Na" in held_back(made)) == is_named
    assert ("(by the water alone)" in held_back(made)) == is_named
    assert (held_back(made) == "nothing; no limit is reached") != is_named
    made.close()


def test_a_limit_that_the_salts_reach_is_named_once_and_without_the_water():
    """Calcium comes with nitrate: 150 mg/L N and 120 Ca are under no limit but this."""
    made = Bench(
        State(with_target_value(job("at most 120"), "limits", "Ca", "at most 90"))
    )
    assert held_back(made) == "Ca at most 90 mg/L"
    made.close()
