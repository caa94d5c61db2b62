"""The exchange panel: each part worked out once it is opened and seen, later, one by one."""

import asyncio
import html
import re

import pytest
from test_workbench_panels import send

from formulate.jobs import DEMO, read_job
from formulate.sheets.comparison import comparison_parts
from formulate.trade_offs import TRADES, TradeOffs
from formulate.workbench import exchange_panel
from formulate.workbench.bench import Bench
from formulate.workbench.edits import with_entry
from formulate.workbench.exchange_panel import ExchangePanel
from formulate.workbench.findings import on_screen
from formulate.workbench.shelf_edits import with_line_entry
from formulate.workbench.state import State

PARTS = ExchangePanel.SLOTS


@pytest.fixture
def bench(tmp_path, monkeypatch):
    monkeypatch.setenv("FORMULATE_WORK", str(tmp_path))
    return Bench(State())


@pytest.fixture
def made(monkeypatch):
    """Return the parts that were worked out, in their order."""
    found, make = [], exchange_panel.comparison_part
    monkeypatch.setattr(
        exchange_panel,
        "comparison_part",
        lambda outcome, name: found.append(name) or make(outcome, name),
    )
    return found


def shown(bench):
    text = re.sub(r"<[^>]+>", " ", bench.panels["exchange"].html)
    return re.sub(r"\s+", " ", html.unescape(text))


def words(markup):
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", markup)))


def test_doubt_comes_first_and_every_part_has_its_place(bench):
    panel = bench.panels["exchange"]
    assert PARTS[0] == "doubt"
    assert set(PARTS) == set(TRADES)
    found = re.findall(r'data-slot="([^"]+)"', panel.html)
    assert tuple(found) == PARTS


def test_nothing_is_worked_out_before_it_is_seen(bench, made):
    panel = bench.panels["exchange"]
    send(bench.panels["head"], "change", "entry volume", "50 L")
    assert made == []
    known = set(vars(bench.state.found.outcome.trade_offs)) - {"chosen"}
    assert known == set()
    assert set(panel.slots.values()) == {exchange_panel.WORKING}
    send(panel, "seen", "doubt", True)
    assert made == ["doubt"]
    assert "EC" in words(panel.slots["doubt"])
    assert panel.slots["cost_curve"] == exchange_panel.WORKING


def test_every_part_tells_what_the_page_of_the_comparison_tells(bench):
    panel = bench.panels["exchange"]
    for part in PARTS:
        send(panel, "seen", part, True)
    told = {part.title: part for part in comparison_parts(bench.outcome)}
    assert len(told) == len(PARTS)
    for name in PARTS:
        part, markup = told[TRADES[name]], html.unescape(panel.slots[name])
        assert markup.count("<svg") == (part.picture is not None)
        assert all(on_screen(text) in markup for text in part.words)
        assert "doubts=" not in markup  # nobody can type that here
        cells = [cell for row in part.table.rows for cell in row] if part.table else []
        assert all(cell in markup for cell in cells)
    assert sum(slot.count("<svg") for slot in panel.slots.values()) == 3


def test_without_every_price_it_says_which_is_missing(bench):
    panel = bench.panels["exchange"]
    bench.state.alter(with_line_entry, 0, "price_per_kg", "")
    for part in ("cost_curve", "cheapest", "price_changes"):
        send(panel, "seen", part, True)
        assert "no price for" in panel.slots[part]


def test_a_change_works_out_anew_what_is_seen_and_only_that(bench, made):
    panel = bench.panels["exchange"]
    send(panel, "seen", "doubt", True)
    send(panel, "seen", "few_curve", True)
    send(panel, "seen", "few_curve", False)
    before = dict(panel.slots)
    del made[:]
    send(bench.panels["head"], "change", "entry strength_percent", "70")
    assert made == ["doubt"]
    assert panel.slots["doubt"] != before["doubt"]
    assert panel.slots["few_curve"] == exchange_panel.WORKING


def test_what_changes_no_weight_works_out_nothing_anew(bench, made):
    panel = bench.panels["exchange"]
    send(panel, "seen", "doubt", True)
    del made[:]
    send(bench.panels["head"], "change", "units", "us")
    send(bench.panels["mixing"], "change", "entry coldest", "8 °C")
    send(bench.panels["claims"], "change", "pasted", "milk and bread")
    assert made == []
    assert bench.state.found.units == "us"


def test_the_newest_change_overtakes_and_the_progress_is_told(bench, made):
    panel, told = bench.panels["exchange"], []

    async def hurry():
        for part in ("doubt", "limit_worths", "usable_costs"):
            send(panel, "seen", part, True)
        told.append(shown(bench))
        panel.observe(lambda change: told.append(shown(bench)), "html")
        for share in range(60, 65):
            send(bench.panels["head"], "change", "entry strength_percent", str(share))
            await asyncio.sleep(0)
        assert made == []
        while panel.late:
            await asyncio.sleep(0.005)

    asyncio.run(hurry())
    assert made == ["doubt", "limit_worths", "usable_costs"]
    for done in range(3):
        words = f"working …: {done} of 3 opened parts done"
        assert any(words in text for text in told), words
    assert "3 opened parts, all worked out" in shown(bench)


def test_a_change_between_two_parts_drops_what_is_left(bench, made):
    panel = bench.panels["exchange"]

    async def change():
        for part in ("limit_worths", "usable_costs"):
            send(panel, "seen", part, True)
        while not made:
            await asyncio.sleep(0.001)
        send(bench.panels["head"], "change", "entry volume", "a bucket")
        await asyncio.sleep(0.2)

    asyncio.run(change())
    assert made == ["limit_worths"]
    assert panel.slots == {}


def test_what_is_of_the_batch_before_says_so_until_it_is_drawn_anew(bench):
    panel = bench.panels["exchange"]
    send(panel, "seen", "doubt", True)
    drawn = panel.slots["doubt"]

    async def change():
        send(bench.panels["head"], "change", "entry strength_percent", "70")
        assert panel.slots["doubt"] == exchange_panel.OF_BEFORE + drawn
        send(bench.panels["head"], "change", "entry strength_percent", "80")
        assert panel.slots["doubt"] == exchange_panel.OF_BEFORE + drawn
        while panel.late:
            await asyncio.sleep(0.005)

    asyncio.run(change())
    assert exchange_panel.OF_BEFORE not in panel.slots["doubt"]
    assert panel.slots["doubt"] != drawn


def test_the_head_says_how_sure_the_batch_is_once_that_is_known(bench):
    head, panel = bench.panels["head"], bench.panels["exchange"]
    assert "not worked out yet" in head.html
    send(panel, "seen", "doubt", True)
    assert "not worked out yet" not in head.html
    share = 100 * bench.outcome.trade_offs.doubt.probability
    assert f"limits kept in {share:.0f} of 100" in head.html
    send(head, "change", "entry strength_percent", "70")
    assert "limits kept in" in head.html
    send(panel, "seen", "doubt", False)
    send(head, "change", "entry strength_percent", "60")
    assert "not worked out yet" in head.html


def test_without_limits_the_head_says_between_what_the_ec_lies(bench):
    target = (("unit", "mg/L"), ("wanted", (("K", "100"), ("S", "60"))))
    bench.state.alter(lambda job: type(job)(**{**vars(job), "target": target}))
    send(bench.panels["exchange"], "seen", "doubt", True)
    doubt = bench.outcome.trade_offs.doubt
    assert doubt.probability is None
    low, high = (
        float(x) for x in (doubt.intervals["EC"].low, doubt.intervals["EC"].high)
    )
    assert f"EC {low:.2f} to {high:.2f} mS/cm" in bench.panels["head"].html


def test_what_fails_is_told_in_its_place_and_the_others_go_on(bench, monkeypatch):
    def broken(self):
        raise ArithmeticError("came to no rest")

    monkeypatch.setattr(TradeOffs, "few_curve", property(broken))
    panel = bench.panels["exchange"]
    send(panel, "seen", "few_curve", True)
    send(panel, "seen", "usable_costs", True)
    assert "came to no rest" in panel.slots["few_curve"]
    assert "<table" in panel.slots["usable_costs"]


def test_nothing_stands_there_without_a_recipe(bench):
    panel = bench.panels["exchange"]
    send(panel, "seen", "doubt", True)
    send(bench.panels["head"], "change", "entry volume", "a bucket")
    assert panel.slots == {}
    assert "it follows from the weights" in shown(bench)
    send(bench.panels["head"], "press", "undo")
    send(bench.panels["head"], "change", "entry volume", "20 L")
    assert "<svg" in panel.slots["doubt"]


def test_a_job_that_differs_only_in_its_mixing_keeps_what_was_worked_out():
    state = State()
    doubt = state.outcome.trade_offs.doubt
    state.change(
        state.job.__class__(**{**vars(state.job), "mixing": (("coldest", 8),)})
    )
    assert state.outcome.trade_offs.doubt is doubt
    state.change(with_entry(read_job(DEMO), "volume", "20 L"))
    assert "doubt" not in vars(state.outcome.trade_offs)
