"""The panels without a browser: what they show, what a message does, what is never shown."""

import asyncio
import html
import re
import time
from html.parser import HTMLParser

import pytest

import formulate.sheets.figures.achieved as achieved_figure
from formulate.ingredients.water import preset_values
from formulate.jobs import job_from_text
from formulate.workbench import bench as bench_module
from formulate.workbench.bench import Bench, open_bench
from formulate.workbench.edits import with_report, with_target_value
from formulate.workbench.later import Later
from formulate.workbench.state import State

HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "'><svg onload=alert(1)>",
    "{{ 7*7 }}{% raw %}",
    "\N{RIGHT-TO-LEFT OVERRIDE}salt",
    "x" * 5000,
)
LABEL = (
    "Total nitrogen (N) 9.5 %\n  9.5 % nitrate nitrogen\nSoluble potash (K2O) 30 %\n"
)
NUMBER = re.compile(r"-?\d[\d.]*")


class Page(HTMLParser):
    """Fields, buttons and tags of a panel."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.fields, self.buttons, self._button = [], {}, {}, None
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        found = dict(attrs)
        if tag in ("input", "select", "textarea"):
            self.fields[found["name"]] = found.get("value") or ""
        self._button = found.get("name") if tag == "button" else None

    def handle_data(self, data):
        if self._button:
            self.buttons.setdefault(self._button, data.strip())


def send(panel, kind, name, value="", buffers=()):
    """Send a message as a browser does, and return whether nothing went wrong."""
    panel._on_message(
        panel, {"kind": kind, "name": name, "value": value, "count": 1}, buffers
    )
    return not panel.fault


@pytest.fixture
def bench():
    made = Bench(State())
    yield made
    made.close()


# --- what is shown -----------------------------------------------------------------------


def test_every_field_has_a_name_and_every_button_says_what_it_does(bench):
    for panel in bench.panels.values():
        for tag, attrs in Page(panel.html).tags:
            if tag in ("input", "select", "textarea") and attrs.get("type") not in (
                "radio",
                "checkbox",
            ):
                assert attrs.get("aria-label"), (panel.part, attrs)
        for name, words in Page(panel.html).buttons.items():
            assert words, name


def test_the_demo_shows_the_sums_that_were_done_by_hand(bench):
    # by hand: Ca 94.4 mg/L (water) + 69.0 g / 200 L x 190 mg/g (label) = 159.95 mg/L;
    # Mg 18.3 mg/L + 46.0 g / 200 L x 98.614 mg/g (MgSO4·7H2O) = 40.98 mg/L
    shown = Page(bench.panels["recipe"].html).buttons
    assert float(shown["working Ca"]) == pytest.approx(159.95, abs=0.06)
    assert shown["working Mg"] == "40.98"


@pytest.mark.parametrize("part", ["water", "shelf", "recipe", "chemistry"])
def test_the_working_of_every_number_ends_with_it(bench, part):
    panel = bench.panels[part]
    keys = [n for n in Page(panel.html).buttons if n.startswith("working ")]
    assert len(keys) >= 8
    for name in keys:
        key, shown = name.removeprefix("working "), Page(panel.html).buttons[name]
        assert send(panel, "press", name)
        working = panel.working(key)
        assert working.lines[-1] in html.unescape(panel.html)
        if not key.startswith("weighed "):
            number = NUMBER.findall(shown.replace(key.split(" ")[-1], ""))[-1]
            half = 0.5 * 10.0 ** -len(number.partition(".")[2])
            assert working.value == pytest.approx(float(number), abs=1.01 * half), name
        assert send(panel, "press", name)
        assert panel.working(key) is None


def test_no_recipe_tells_why_and_what_would_end_it(bench):
    send(bench.panels["wishes"], "change", "limit Na", "at most 1 mg/L")
    shown = html.unescape(bench.panels["recipe"].html)
    assert "No recipe keeps all of this" in shown
    assert "Na at most 1 mg/L; the water alone brings 13.90 mg/L" in shown
    assert "What would end it" in shown
    buttons = [a for tag, a in Page(bench.panels["sheet"].html).tags if tag == "button"]
    assert [a["name"] for a in buttons if "disabled" in a] == ["print", "html", "csv"]


def test_a_water_nobody_told_of_is_said_to_count_as_pure(bench):
    send(bench.panels["head"], "press", "fresh")
    assert "nothing known, counts as pure" in bench.panels["head"].html
    assert "it counts as pure" in bench.panels["water"].html


def test_weights_are_shown_in_ounces_where_that_is_asked(bench):
    send(bench.panels["head"], "change", "units", "us")
    assert "52.8344 US gal" in bench.panels["recipe"].html  # 200 L / 3.785411784
    assert bench.state.job.units == "metric"


# --- messages ----------------------------------------------------------------------------


def test_a_bad_price_stays_in_its_field_with_its_fault(bench):
    shelf, name = bench.panels["shelf"], "line 1 price_per_kg"
    assert send(shelf, "change", name, "abc")
    assert Page(shelf.html).fields[name] == "abc"
    assert "not taken: &#39;abc&#39; is no number" in shelf.html
    assert send(shelf, "change", name, "3.1")
    assert Page(shelf.html).fields[name] == "3.1"
    assert "not taken" not in shelf.html


def test_a_value_typed_into_a_page_that_lags_behind_makes_the_water_a_typed_one(bench):
    water = bench.panels["water"]
    assert water.way == "preset"
    before = preset_values(dict(bench.state.job.water)["preset"])[1]
    assert send(water, "change", "value Ca", "40 mg/L")
    assert water.way == "typed"
    after = dict(bench.state.job.water)
    assert after.pop("name")
    assert after == {**before, "Ca": "40 mg/L"}
    assert not bench.state.found.checked.faults
    send(bench.panels["head"], "press", "undo")
    assert water.way == "preset"


def test_a_value_typed_beside_a_report_keeps_what_the_report_told(bench):
    water = bench.panels["water"]
    send(water, "change", "report", "Calcium 80 mg/L\nMagnesium 12 mg/L")
    assert water.way == "report"
    assert send(water, "change", "value Ca", "40")
    assert dict(bench.state.job.water) == {"Ca": "40", "Mg": "12 mg/L"}
    assert bench.state.found.water.solution.mg_l("Mg") == pytest.approx(12)


def test_a_value_wanted_of_a_published_target_makes_it_ones_own(bench):
    wanted = dict(bench.state.found.outcome.target.wanted)
    assert send(bench.panels["wishes"], "change", "wanted K", "123")
    entries = dict(bench.state.job.target)
    assert "published" not in entries
    assert dict(entries["wanted"])["K"] == "123"
    assert set(dict(entries["wanted"])) == set(wanted)
    assert not bench.state.found.checked.faults


@pytest.mark.parametrize(
    ("panel", "name", "typed", "shown"),
    [
        ("shelf", "line 1 price_per_kg", "7", "7"),
        ("shelf", "line 1 price_per_kg", "7,50", "7.5"),
        ("shelf", "line 1 purity_percent", "98", "98"),
        ("shelf", "line 1 density", "1.36", "1.36"),
        ("head", "entry strength_percent", "50", "50"),
        ("head", "entry ph", "6", "6"),
        ("recipe", "entry within_percent", "5", "5"),
        ("recipe", "entry most_ingredients", "10", "10"),
        ("wishes", "target ammonium_high", "20", "20"),
        ("mixing", "entry coldest", "4", "4"),
        ("water", "share", "100", "100"),
    ],
)
def test_a_whole_number_is_shown_as_it_was_typed(bench, panel, name, typed, shown):
    part = bench.panels[panel]
    send(bench.panels["shelf"], "press", "more 1", "1")
    assert send(part, "change", name, typed)
    assert Page(part.html).fields[name] == shown


def test_a_label_is_read_before_it_is_put_on_the_shelf(bench):
    shelf, count = bench.panels["shelf"], len(bench.job.shelf)
    send(shelf, "change", "label", LABEL)
    send(shelf, "change", "called", "two in one")
    assert len(bench.job.shelf) == count
    assert "K2O 30 %" in html.unescape(shelf.html)
    assert send(shelf, "press", "shelve")
    assert bench.job.shelf[-1].name == "two in one"
    assert "K 24.90 %" in shelf.html  # 30 % x 0.8301 (2 x 39.098 / 94.196)
    send(shelf, "change", "label", "a bag without any number")
    assert Page(shelf.html).buttons["shelve"] == "Put it on the shelf"
    assert not send(shelf, "press", "no such button")


def test_an_upload_is_read_as_files_are(bench):
    water = bench.panels["water"]
    for data in (
        "Härte 15 °dH\nCalcium 80 mg/l\n".encode(c)
        for c in ("utf-8", "utf-16", "cp1252")
    ):
        assert send(water, "upload", "report", "tap.txt", [memoryview(data)])
        assert bench.state.found.water.solution.mg_l("Ca") == pytest.approx(80.0)
    before = bench.job
    assert not send(water, "upload", "report", "big.txt", [b"x" * 1_000_001])
    assert "larger than 1000000 bytes" in water.html
    assert not send(water, "too large", "report", "big.txt")
    assert not send(bench.panels["sheet"], "upload", "job", "job.toml", [b"x"])
    assert bench.job is before


@pytest.mark.parametrize(
    "content",
    [
        {},
        {"kind": "press"},
        {"kind": "press", "name": "out", "value": "0"},
        {"kind": "press", "name": "out -1", "value": "-1"},
        {"kind": "press", "name": "out 999", "value": "999"},
        {"kind": "press", "name": "up x", "value": "x"},
        {"kind": "change", "name": "line", "value": "1"},
        {"kind": "change", "name": "line 99 step", "value": "1 g"},
        {"kind": "change", "name": "line 0 stock", "value": "1 g"},
        {"kind": "send", "name": "file a b", "value": "c"},
        {"kind": "_class", "name": "_", "value": ""},
        {"kind": "upload", "name": "label", "value": "x"},
        {"kind": "change", "name": "label", "value": "x" * 1_000_001},
        {"kind": ["press"], "name": {"a": 1}, "value": None},
    ],
)
def test_a_message_that_makes_no_sense_changes_nothing_and_is_told(
    bench, content, capsys
):
    shelf, before = bench.panels["shelf"], bench.job
    shelf._on_message(shelf, {**content, "count": 7}, ())
    assert bench.job is before
    told = shelf.fault or bench.state.said
    assert told
    shown = shelf.html + bench.panels["head"].html
    assert told in html.unescape(shown)
    assert shelf.done == 7
    capsys.readouterr()  # what went wrong is printed for who runs the server


def test_a_page_offers_no_file_of_the_server(monkeypatch):
    monkeypatch.setenv("FORMULATE_PAGE", "1")
    bench = Bench(State())
    head = bench.panels["head"]
    assert "path" not in Page(head.html).fields
    head.path = "/etc/hostname"
    assert not send(head, "press", "open")
    assert not send(head, "press", "save")
    assert "reaches no files" in head.fault
    bench.close()


# --- hostile text ------------------------------------------------------------------------


@pytest.mark.parametrize("text", HOSTILE)
def test_what_people_type_is_never_markup(bench, text):
    known = {tag for panel in bench.panels.values() for tag, _ in Page(panel.html).tags}
    known |= {"ol", "b", "li", "textarea"}
    messages = (
        ("wishes", "change", "entry title", text),
        ("shelf", "change", "line 0 name", text),
        ("shelf", "search", "search", text),
        ("shelf", "change", "label", text),
        ("shelf", "change", "called", text),
        ("wishes", "change", "subject", text),
        ("wishes", "change", "bounds", text),
        ("head", "change", "entry volume", text),
        ("head", "change", "path", text),
    )
    for part, kind, name, value in messages:
        send(bench.panels[part], kind, name, value)
        for panel in bench.panels.values():
            tags = Page(panel.html).tags
            assert {tag for tag, _ in tags} <= known
            assert not any(key.startswith("on") for _, attrs in tags for key in attrs)
            assert "<script" not in panel.html
    bench.state.undo()  # the volume
    send(bench.panels["head"], "change", "entry volume", "200 L")
    send(bench.panels["wishes"], "change", f"limit {text}", "")
    sent = []
    bench.panels["sheet"].send = sent.append
    send(bench.panels["sheet"], "press", "print")
    assert "<script>alert" not in sent[0]["text"]
    assert "<img" not in sent[0]["text"]
    bench.state.change(with_report(bench.job, text))
    assert "<script" not in bench.panels["water"].html


# --- drawn only where it is seen, and overtaken ------------------------------------------------


@pytest.fixture
def draws(monkeypatch):
    drawn, draw = [], achieved_figure.achieved
    monkeypatch.setattr(
        achieved_figure, "achieved", lambda made: drawn.append(1) or draw(made)
    )
    return drawn


def test_a_figure_is_drawn_once_a_change_and_only_if_it_is_seen(bench, draws):
    recipe, head = bench.panels["recipe"], bench.panels["head"]
    send(head, "change", "entry volume", "50 L")
    assert draws == []
    assert "looking in the catalogue" in recipe.html
    send(recipe, "seen", "figure", True)
    assert len(draws) == 1
    assert "looking in the catalogue" in recipe.html
    send(recipe, "seen", "more", True)
    assert len(draws) == 1
    assert "looking in the catalogue" not in recipe.html
    send(recipe, "seen", "more", False)
    send(head, "change", "entry strength_percent", "80")
    assert len(draws) == 2
    send(bench.panels["shelf"], "search", "search", "iron")
    send(recipe, "press", "working Ca")
    assert len(draws) == 2
    send(recipe, "seen", "figure", False)
    send(head, "change", "entry strength_percent", "70")
    assert len(draws) == 2
    send(head, "change", "entry volume", "a bucket")
    assert recipe.slots == {}


def test_ten_quick_changes_draw_once(bench, draws):
    async def hurry():
        send(bench.panels["recipe"], "seen", "figure", True)
        for share in range(50, 60):
            send(bench.panels["head"], "change", "entry strength_percent", str(share))
            await asyncio.sleep(0)
        await asyncio.sleep(0.5)

    asyncio.run(hurry())
    assert len(draws) == 1
    assert bench.panels["recipe"].drawn is bench.state.found.outcome.recipe


def test_a_step_that_is_overtaken_is_not_done():
    done = []

    async def hurry():
        later = Later()
        later.plan([lambda: done.append("old"), lambda: done.append("older")])
        later.plan([lambda: done.append("new")])
        await asyncio.sleep(0.1)
        later.plan([lambda: done.append("dropped")])
        later.drop()
        await asyncio.sleep(0.1)

    asyncio.run(hurry())
    assert done == ["new"]


def test_what_comes_in_during_a_long_step_comes_before_the_next():
    done = []

    async def hurry():
        later, loop = Later(), asyncio.get_running_loop()

        def long():
            done.append("long")
            loop.call_soon(
                lambda: loop.call_soon(later.drop)
            )  # as a message on its way
            time.sleep(0.1)

        later.plan([long, lambda: done.append("next")])
        await asyncio.sleep(0.3)

    asyncio.run(hurry())
    assert done == ["long"]


def test_a_step_that_plans_anew_has_the_last_word_and_a_failing_one_does_not_end_all():
    done = []

    async def hurry():
        later = Later()
        asyncio.get_running_loop().set_exception_handler(lambda *_: None)
        later.plan(
            [
                lambda: later.plan([lambda: done.append("planned")]),
                lambda: done.append("old"),
            ]
        )
        await asyncio.sleep(0.2)
        later.plan([lambda: 1 / 0, lambda: done.append("after")])
        await asyncio.sleep(0.2)

    asyncio.run(hurry())
    assert done == ["planned", "after"]


# --- opened again ---------------------------------------------------------------------------


def test_opening_again_goes_on_with_the_same_work_and_leaves_nothing_behind(
    monkeypatch,
):
    import ipywidgets.widgets.widget as widgets

    monkeypatch.setattr(bench_module, "_open", {})
    first = open_bench()
    send(first.panels["head"], "change", "entry volume", "80 L")
    again = open_bench()
    there = len(widgets._instances)
    for _ in range(20):
        again = open_bench()
    assert len(widgets._instances) == there
    assert again.state is first.state
    assert again.job.volume == "80 L"
    shown = first.panels["recipe"].html
    send(again.panels["head"], "change", "entry volume", "90 L")
    assert first.panels["recipe"].html == shown
    assert len(again.state._watchers) == len(again.panels)
    again.close()


def test_a_bench_tells_itself_in_words_and_hands_out_its_objects(monkeypatch):
    monkeypatch.setattr(bench_module, "_open", {})
    bench = open_bench()
    assert "69 g calcium nitrate" in repr(bench)
    assert bench.recipe is bench.outcome.recipe
    bench.state.fresh()
    assert "nothing wanted" in repr(bench)
    bench.close()


def test_what_is_sent_as_a_file_reads_back(bench):
    sent = []
    bench.panels["head"].send = sent.append
    send(bench.panels["head"], "press", "keep")
    assert job_from_text(sent[0]["text"]) == bench.job
    assert sent[0]["name"].endswith(".toml")
    job = with_target_value(bench.job, "limits", "Na", "at most 1 mg/L")
    bench.state.change(job)
    bench.panels["sheet"].send = sent.append
    assert not send(bench.panels["sheet"], "press", "csv")
    assert len(sent) == 1


def test_a_spreadsheet_goes_on_the_shelf_and_can_be_undone(bench):
    shelf, before = bench.panels["shelf"], bench.job
    data = b"ingredient;name;price;pack\npotassium nitrate;;52.00 EUR;20 kg\nH3BO3;boron;;\n"
    assert send(shelf, "upload", "spreadsheet", "bags.csv", [data])
    prices = {line.ingredient: line.price_per_kg for line in bench.job.shelf}
    # 52.00 / 20, as in the demo
    assert prices["potassium nitrate"] == pytest.approx(2.6)
    assert bench.job.shelf[-1].name == "boron"
    assert len(bench.job.shelf) == len(before.shelf) + 1
    assert not send(shelf, "upload", "spreadsheet", "bags.csv", [b"nonsense\n1\n"])
    bench.state.undo()
    assert bench.job is before
