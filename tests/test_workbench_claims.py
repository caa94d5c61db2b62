"""The claims panel without a browser: pasted, answered, changed, taken away, compared."""

import html
import re

import pytest
from test_workbench_panels import HOSTILE, Page, send

from formulate import job_claims
from formulate.jobs import job_from_text
from formulate.outcome import Outcome
from formulate.workbench.bench import Bench
from formulate.workbench.paper_edits import EXAMPLES
from formulate.workbench.state import State

POTASH = "Soluble potash (K2O) 50 %\nDerived from: potassium sulfate"
TOO_RICH = "Soluble potash (K2O) 90 %\nDerived from: potassium hydroxide"
ASSAY = "nutrient;guaranteed;found;unit\nK2O;46;41.2;%\n"
CHART = "week;potassium nitrate g/L;K mg/L\n1;0,5;193\n2;1;466\n"


@pytest.fixture
def bench(tmp_path, monkeypatch):
    monkeypatch.setenv("FORMULATE_WORK", str(tmp_path))
    made = Bench(State())
    yield made
    made.close()


@pytest.fixture
def claims(bench):
    return bench.panels["claims"]


def paste(panel, text):
    """Paste a paper, and scroll to it."""
    before = len(panel.state.job.papers)
    assert send(panel, "change", "pasted", text)
    for place in range(before, len(panel.state.job.papers)):
        send(panel, "seen", f"paper {place}", True)


def words(markup):
    return " ".join(re.sub(r"<[^>]+>", " ", html.unescape(markup)).split())


def test_nothing_is_claimed_at_first_and_nothing_is_worked_out(bench, claims):
    assert "paper" not in claims.slots
    assert "nothing claimed" in bench.panels["head"].html
    assert "checked" not in vars(bench.state.found.claims)


def test_a_pasted_label_is_answered_and_undone(bench, claims):
    paste(claims, POTASH)
    # 50 % K2O from potassium sulfate: its formula holds 54.05 %
    assert "yes, this is right" in words(claims.slots["paper 0"])
    assert "✓ 1 paper: 1 right" in bench.panels["head"].html
    paste(claims, TOO_RICH)  # KOH holds 83.9 % K2O by its formula
    assert "impossible" in words(claims.html)
    bench.state.undo()
    assert len(bench.job.papers) == 1
    assert "paper 1" not in claims.slots


def test_a_paper_is_no_reason_to_work_the_recipe_out_again(bench, claims):
    recipe = bench.recipe
    paste(claims, POTASH)
    assert bench.recipe is recipe
    found = bench.state.found.claims
    assert send(bench.panels["head"], "change", "entry volume", "100 L")
    assert bench.recipe is not recipe
    assert bench.state.found.claims is found


def test_papers_are_checked_without_any_recipe(bench, claims):
    bench.state.fresh()
    paste(claims, POTASH)
    assert not bench.state.found.has_recipe
    assert "yes, this is right" in words(claims.slots["paper 0"])
    assert send(claims, "press", "keep")


def test_a_label_goes_onto_the_shelf_by_its_sources_and_a_chart_finds_it(bench, claims):
    bench.state.fresh()
    paste(claims, POTASH)
    assert send(claims, "change", "paper 0 name", "potash bag")
    send(claims, "seen", "paper 0", True)
    assert "Put it on the shelf" in claims.html
    assert send(claims, "press", "shelve 0", "0")
    (line,) = bench.job.shelf
    assert (line.name, line.by_sources) == ("potash bag", True)
    made = bench.state.found.checked.made[0]
    assert made.percent("S") > 16  # K2SO4 holds 18.4 % S
    assert job_from_text(bench.state.text) == bench.job
    paste(claims, "week;potash bag g/L;EC mS/cm\n1;1;1.5\n")
    assert "cannot be read" not in words(claims.html)


def test_a_chart_tells_the_week_that_is_wrong_and_the_slip(claims):
    paste(claims, CHART)
    told = words(claims.slots["paper 0"])
    # 1 g/L of KNO3 holds 386.7 mg/L K, and 465.8 mg/L as K2O (formula)
    assert "wrong week 2, K" in told
    assert "K2O taken for K" in told
    assert "right week 1, K" in told


def test_a_dose_is_checked_and_what_lacks_is_told(bench, claims):
    assert not send(claims, "press", "dose")
    assert "a dose needs its product, dose, claims" in claims.fault
    for key, text in (
        ("product", "potassium nitrate"),
        ("dose", "1 g/L"),
        ("claims", "K 387; N 138"),
    ):
        assert send(claims, "change", f"dosed {key}", text)
    assert send(claims, "press", "dose")
    send(claims, "seen", "paper 0", True)
    assert "yes, this is right" in words(claims.slots["paper 0"])
    assert bench.job.papers[0].claims == (("K", "387"), ("N", "138"))


class Steps:
    """What a panel plans, done by hand, one step at a time."""

    def __init__(self):
        self.steps = []

    def plan(self, steps):
        self.steps = list(steps)

    def drop(self):
        self.steps = []

    def go(self, count=None):
        done = 0
        while self.steps and done != count:
            self.steps.pop(0)()
            done += 1
        return done


@pytest.fixture
def checked(monkeypatch):
    """Return the names of the papers that were checked, in turn."""
    names, real = [], job_claims.check_paper

    def noted(text, **given):
        names.append(given["name"])
        return real(text, **given)

    monkeypatch.setattr(job_claims, "check_paper", noted)
    return names


def test_only_what_rests_on_a_change_is_checked_again(bench, claims, checked):
    for text in (POTASH, CHART, TOO_RICH, ASSAY):
        paste(claims, text)
    names = [f"paper {number}" for number in (1, 2, 3, 4)]
    assert checked == names
    before = bench.state.found.claims.checked
    assert send(claims, "change", "paper 2 text", TOO_RICH.replace("90", "80"))
    assert checked == [*names, "paper 3"]  # the chart names none of the labels
    now = bench.state.found.claims.checked
    assert [a is b for a, b in zip(now, before, strict=True)] == [1, 1, 0, 1]
    assert send(claims, "press", "out 0", "0")
    bench.state.undo()
    bench.state.undo()
    assert bench.state.found.claims.checked[2].verdict == "impossible"
    assert checked == [*names, "paper 3"]
    assert send(bench.panels["head"], "change", "entry strength_percent", "90")
    assert checked == [*names, "paper 3"]


def test_a_chart_that_names_a_label_is_checked_again_with_it(bench, claims, checked):
    paste(claims, POTASH)
    assert send(claims, "change", "paper 0 name", "potash bag")
    paste(claims, "week;potash bag g/L;K mg/L\n1;1;415\n")
    checked.clear()
    # 50 % K2O is 41.5 % K, 45 % is 37.4 % K (formula)
    assert send(claims, "change", "paper 0 text", POTASH.replace("50", "45"))
    assert checked == ["potash bag", "paper 2"]
    assert send(claims, "change", "paper 1 target", "job")
    checked.clear()
    assert send(bench.panels["wishes"], "change", "entry strength_percent", "90")
    assert checked == ["paper 2"]  # its target is another now


def test_nothing_unseen_is_worked_out_and_each_paper_is_a_step(bench, claims, checked):
    claims.later = Steps()
    for text in (CHART, POTASH, ASSAY):
        assert send(claims, "change", "pasted", text)
    assert claims.later.steps == []
    assert checked == []
    send(claims, "seen", "whole", True)
    for done in (
        ["paper 2"],
        ["paper 2", "paper 1"],
        ["paper 2", "paper 1", "paper 3"],
    ):
        assert claims.later.go(1) == 1
        assert checked == done  # labels come first: others may name them
    assert claims.later.go() == 1
    assert "3 papers: 2 wrong, 1 right" in words(claims.html)
    assert not claims.made  # nothing is drawn that is not seen
    send(claims, "seen", "paper 0", True)
    assert claims.later.go(2) == 2
    assert "K2O taken for K" in claims.slots["paper 0"]
    assert "<svg" not in claims.slots["paper 0"]  # the answer is there first
    claims.later.go()
    assert "<svg" in claims.slots["paper 0"]


def test_the_newest_stands_on_top_and_the_grave_before_the_right(claims):
    paste(claims, POTASH)
    paste(claims, CHART)
    told = words(claims.html)
    assert told.index("paper 2 , a feed chart") < told.index("paper 1 , a label")
    assert "2 papers: 1 wrong, 1 right" in told
    slot = claims.slots["paper 1"]
    assert slot.index("week 2, K") < slot.index("<details") < slot.index("week 1, K")


def test_a_paper_that_stood_here_before_is_drawn_again(bench, claims):
    paste(claims, CHART)
    bench.state.fresh()
    paste(claims, CHART)
    assert "K2O taken for K" in claims.slots["paper 0"]


def test_examples_answer_as_papers_do_and_each_has_a_slip(bench, claims):
    for place, key in enumerate(EXAMPLES):
        assert ("one of ours" in words(claims.html)) == (place == 0)
        assert send(claims, "press", f"example {place}", key)
        send(claims, "seen", f"paper {place}", True)
    answers = bench.state.found.claims.checked
    assert [paper.kind for paper in answers] == list(EXAMPLES)
    assert all(paper.is_refuted for paper in answers)
    assert not send(claims, "press", "example 9", "poem")


def test_products_are_compared_and_compared_no_more(bench, claims):
    for name in ("potassium nitrate", "potassium sulfate"):
        place = [
            attrs["name"]
            for tag, attrs in Page(claims.html).tags
            if tag == "button" and attrs.get("value") == name
        ]
        assert send(claims, "press", place[0], name)
    send(claims, "seen", "compared", True)
    told = words(claims.slots["compared"])
    assert "K for the money" in told
    assert send(claims, "press", "compare 0", "potassium nitrate")
    assert bench.job.compared == ("potassium sulfate",)


def test_what_cannot_be_read_is_told_and_kept(bench, claims):
    paste(claims, "a shopping list: milk, bread")
    assert bench.job.papers[0].text.startswith("a shopping list")
    assert "cannot be read" in words(claims.html)
    assert send(claims, "change", "paper 0 text", POTASH)
    assert "yes, this is right" in words(claims.slots["paper 0"])


@pytest.mark.parametrize(
    ("name", "value", "told"),
    [
        ("paper 0 claims", "N", "write it like N 150 ppm"),
        ("paper 0 claims", "N 1; N 2", "N is claimed twice"),
        ("paper 0 price_per_kg", "-1", "price"),
        ("paper 0 kind", "poem", "choose one of"),
        ("paper 0 colour", "red", "is nothing that a paper has"),
    ],
)
def test_an_entry_that_none_can_hold_is_refused_beside_it(
    bench, claims, name, value, told
):
    paste(claims, POTASH)
    before = bench.job
    assert send(claims, "change", name, value)
    assert bench.job is before
    assert told in bench.state.said
    if name != "paper 0 colour":  # it has a field, and stays in it
        assert claims.refused("paper", 0, name.split()[2])[0] == value
        assert "Take it away" in words(claims.html)
    assert any(told in text for text in bench.state.blockers("claims"))


def test_two_papers_never_have_one_name(bench, claims):
    paste(claims, POTASH)
    assert send(claims, "change", "paper 0 name", "bag")
    paste(claims, TOO_RICH)
    assert send(claims, "change", "paper 1 name", "BAG")
    assert "is the name of another paper" in bench.state.said
    assert send(claims, "upload", "paper", "bag.txt", [POTASH.encode()])
    assert [paper.name for paper in bench.job.papers] == ["bag", "paper 2", "bag 2"]


def test_messages_nobody_sends_are_told_and_change_nothing(bench, claims):
    before = bench.job
    for name in ("out 7", "out x", "shelve 3", "shelve x"):
        assert not send(claims, "press", name, name.split()[1])
    assert not send(claims, "change", "dosed colour", "red")
    assert bench.job is before


@pytest.mark.parametrize("text", HOSTILE)
def test_what_people_typed_is_shown_as_text(bench, claims, text):
    paste(claims, f"{text}\nK2O 50 %")
    send(claims, "change", "paper 0 name", text)
    shown = claims.html + "".join(claims.slots.values())
    assert "<script>alert" not in shown
    assert "<img src=x" not in shown
    assert "<svg onload" not in shown


def test_what_is_taken_over_equals_what_is_checked_anew(bench, claims):
    """Law: after any change the answers are those of the same job without a past."""
    bench.state.fresh()
    chart = "week;bag g/L;Epsom salt g/L;K mg/L\n1;1;0.5;415\n"
    steps = [
        ("change", "pasted", chart),  # no product of that name yet
        ("change", "pasted", POTASH),
        ("change", "paper 1 name", "bag"),
        ("change", "dosed product", "bag"),
        ("change", "dosed dose", "1 g/L"),
        ("change", "dosed claims", "K 415"),
        ("press", "dose", ""),
        ("change", "pasted", POTASH.replace("50", "45")),
        ("change", "paper 3 name", "Epsom salt"),  # now the chart means that
        ("press", "shelve 1", "1"),  # the same name on the shelf
        ("change", "paper 1 name", "Bag"),  # two names that differ by a capital
        ("change", "paper 1 rule", "element"),
        ("press", "out 1", "1"),
        ("change", "paper 0 water", "job"),
        ("change", "paper 0 target", "job"),
    ]
    for kind, name, value in steps:
        assert send(claims, kind, name, value), (name, claims.fault)
        send(claims, "seen", "whole", True)
        fresh = Outcome(bench.job).claims.checked
        now = bench.state.found.claims.checked
        assert [str(one) for one in now] == [str(one) for one in fresh], name


def test_a_check_that_breaks_is_told_and_the_others_go_on(claims, monkeypatch):
    real = job_claims.check_paper

    def breaks(text, **given):
        if "week" in text:
            raise ZeroDivisionError("by nothing")
        return real(text, **given)

    monkeypatch.setattr(job_claims, "check_paper", breaks)
    paste(claims, CHART)
    assert "paper 1 cannot be checked" in claims.html
    assert "by nothing" in claims.html
    send(claims, "change", "pasted", POTASH)
    assert "paper 2 , a label" in words(claims.html)
    assert "Take it away" in words(claims.html)


def test_the_head_marks_no_wrong_paper_as_done(bench, claims):
    head = bench.panels["head"]

    def told():
        return re.search(r"8 Claims</b> <span.*?>(.*?)</span>", head.html)[1]

    assert told() == "✓ nothing claimed"
    paste(claims, POTASH.replace("50 %", "62 %"))
    # potassium sulfate holds 54.05 % K2O by its formula, so 62 % cannot be
    assert told() in ("▸ 1 paper: 1 wrong", "▸ 1 paper: 1 impossible")
    paste(claims, POTASH)
    assert told().startswith("▸ 2 papers: ")
    send(bench.panels["head"], "change", "entry volume", "90 L")
    assert told().startswith("▸ 2 papers: ")
    assert "not checked" not in told()


def test_the_head_says_what_is_not_checked_yet(bench, claims):
    head = bench.panels["head"]
    send(claims, "change", "pasted", POTASH)
    assert "<span>1 paper: 1 not checked yet</span>" in head.html
    send(claims, "seen", "whole", True)
    assert "✓ 1 paper: 1 right" in head.html
