"""The mixing panel without a browser: orders, fields, what is worked out and when."""

import asyncio
import html
import re
from dataclasses import replace

import pytest
from test_workbench_panels import HOSTILE, Page, send

from formulate.errors import FormulateError, InputError
from formulate.jobs import DEMO, ShelfLine, job_from_text, read_job
from formulate.outcome import run_job
from formulate.workbench.bench import Bench
from formulate.workbench.findings import Findings
from formulate.workbench.mixing_edits import (
    mended_order,
    moved_order,
    with_mixing_entry,
    with_order,
)
from formulate.workbench.shelf_edits import with_line, with_line_entry, without_line
from formulate.workbench.state import State

CALCIUM = "calcium nitrate (15.5-0-0, 19 % Ca)"
SLOTS = ("plan", "why", "steps", "stocks", "wrong")


@pytest.fixture
def bench(tmp_path, monkeypatch):
    monkeypatch.setenv("FORMULATE_WORK", str(tmp_path))
    made = Bench(State())
    yield made
    made.close()


@pytest.fixture
def mixing(bench):
    """Return the panel as it stands once it is in view."""
    panel = bench.panels["mixing"]
    send(panel, "seen", "order", True)
    return panel


def words(markup):
    return " ".join(re.sub(r"<[^>]+>", " ", html.unescape(markup)).split())


def shown(panel):
    return words(panel.html)


def listed(panel):
    """Return the order as the panel lists it."""
    pressed = [a for tag, a in Page(panel.html).tags if tag == "button"]
    return [a["value"] for a in pressed if a["name"].startswith("later ")]


def order_of(bench):
    return list(bench.state.found.outcome.mixing.order)


def press(panel, word, name):
    """Press earlier or later of an ingredient, as the list shows it."""
    place = listed(panel).index(name)
    return send(panel, "press", f"{word} {place}", name)


# --- orders ------------------------------------------------------------------------------


def test_the_best_order_is_listed_and_calcium_goes_in_last(bench, mixing):
    # common practice, and what the indices say here: phosphate first, calcium last
    assert listed(mixing)[-1] == CALCIUM
    assert listed(mixing) == order_of(bench)
    assert "The best order, proven." in shown(mixing)
    assert "Against the best" not in shown(mixing)
    assert bench.job.mixing == ()


def test_another_order_is_the_jobs_own_and_tells_what_it_costs(bench, mixing):
    best = listed(mixing)
    for _ in range(len(best) - 1):
        assert press(mixing, "earlier", CALCIUM)
    assert listed(mixing) == [CALCIUM, *best[:-1]]
    assert dict(bench.job.mixing)["order"] == (CALCIUM, *best[:-1])
    told = re.search(
        r"Against the best: its worst step has (\w+) at \+(\d\.\d+), "
        r"that of the best order \+(\d\.\d+)",
        shown(mixing),
    )
    assert float(told[2]) > float(told[3])
    assert f"{CALCIUM} goes in at place 1" in bench.state.said
    assert "own order" in bench.panels["head"].html


def test_a_move_is_undone_and_done_again_as_everywhere(bench, mixing):
    first, best = bench.job, listed(mixing)
    press(mixing, "later", best[0])
    press(mixing, "later", best[0])
    moved = listed(mixing)
    assert moved[:3] == [best[1], best[2], best[0]]
    bench.state.undo()
    assert listed(mixing)[:3] == [best[1], best[0], best[2]]
    bench.state.undo()
    assert listed(mixing) == best
    assert bench.job is first
    bench.state.redo()
    bench.state.redo()
    assert listed(mixing) == moved
    assert send(mixing, "press", "best")
    assert listed(mixing) == best
    assert bench.job.mixing == ()
    bench.state.undo()
    assert listed(mixing) == moved


def test_nothing_moves_beyond_the_ends(bench, mixing):
    best, before = listed(mixing), bench.job
    assert press(mixing, "earlier", best[0])
    assert press(mixing, "later", best[-1])
    assert bench.job is before
    ends = [a for _, a in Page(mixing.html).tags if a.get("aria-disabled") == "true"]
    assert [a.get("value") for a in ends] == [best[0], best[-1], None]
    assert not any("disabled" in a for a in ends)  # the focus can stay on them


def test_every_button_of_the_order_names_its_ingredient(mixing):
    tags = Page(mixing.html).tags
    labels = [a.get("aria-label", "") for tag, a in tags if tag == "button"]
    for name in listed(mixing):
        assert f"move {name} earlier" in labels
        assert f"move {name} later" in labels


@pytest.mark.parametrize("name", ["", "sand", "<b>", "KNO3"])
def test_what_is_not_weighed_cannot_be_moved(bench, mixing, name):
    before = bench.job
    assert not send(mixing, "press", "later 0", name)
    assert "is not weighed in this batch" in mixing.fault
    assert bench.job is before


def test_an_own_order_without_what_is_weighed_now_is_told_and_mended(bench, mixing):
    press(mixing, "later", listed(mixing)[0])
    own = listed(mixing)
    bench.state.alter(with_line, ShelfLine("KCl", use="exactly 2 g"))
    assert bench.state.found.has_recipe
    assert "KCl" in " ".join(bench.state.blockers("mixing"))
    assert bench.state.blockers("recipe") == ()
    assert bench.state.blockers("sheet") == bench.state.blockers("mixing")
    assert "No order yet" in shown(mixing)
    assert mixing.slots == {}
    assert send(mixing, "press", "mend")
    assert bench.state.blockers("mixing") == ()
    mended = listed(mixing)
    assert [name for name in mended if name in own] == [n for n in own if n in mended]
    weighed = [i.name for i, _ in bench.state.found.outcome.weighing.amounts]
    assert sorted(mended) == sorted(weighed)


def test_what_leaves_the_shelf_leaves_a_word_and_not_a_ruin(bench, mixing):
    press(mixing, "later", listed(mixing)[0])
    names = [line.name or line.ingredient for line in bench.job.shelf]
    bench.state.alter(without_line, names.index("boric acid"))
    assert bench.state.found.has_recipe  # weights do not hang on the order
    assert "is not on the shelf" in bench.state.blockers("mixing")[0]
    buttons = [a for tag, a in Page(bench.panels["sheet"].html).tags if tag == "button"]
    assert [a["name"] for a in buttons if "disabled" in a] == ["print", "html", "csv"]
    assert send(mixing, "press", "best")
    assert bench.state.blockers("mixing") == ()
    assert "boric acid" not in listed(mixing)


def test_more_ingredients_than_can_be_proven_go_in_by_the_trades_rule(bench, mixing):
    job = replace(read_job(DEMO), trace_stocks=False)
    extra = ("KCl", "NaCl", "K2SO4", "MgCl2", "CaCl2", "NH4Cl")
    for formula in extra:
        job = with_line(job, ShelfLine(formula, use="exactly 1 g"))
    bench.state.change(job)
    assert len(bench.state.found.outcome.weighing.amounts) > 14
    assert "The trade's order; the best is proven for up to 14" in shown(mixing)
    assert "the trade&#39;s order" in bench.panels["head"].html
    first = listed(mixing)
    assert len(first) > 14
    press(mixing, "later", first[0])
    assert listed(mixing)[1] == first[0]
    assert "The order of the job." in shown(mixing)
    assert "Against the best" not in shown(mixing)


def test_a_batch_without_weights_has_nothing_to_mix(bench, mixing):
    bench.state.change(replace(bench.job, shelf=(ShelfLine("KNO3", use="none"),)))
    if bench.state.found.has_recipe:
        assert "nothing to mix" in bench.state.blockers("mixing")[0]
    assert bench.state.blockers("mixing")
    assert listed(mixing) == []


# --- fields ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "text", "value"),
    [
        ("water_first_percent", "50 %", 50.0),
        ("strength", "1+63", "1+63"),
        ("tanks", "3", 3),
        ("coldest", "4,5 °C", 4.5),
        ("tank_volume", "20 L", "20 L"),
        ("stock_water", "pure", "pure"),
        ("measured_ec", "1.5", "1.5 mS/cm"),
        ("measured_ec", "1200 ppm (500)", "1200 ppm (500)"),
        ("measured_ph", "6.4", 6.4),
        ("measured_at", "19", 19.0),
    ],
)
def test_a_field_is_taken_kept_in_the_file_and_emptied(bench, key, text, value):
    mixing, first = bench.panels["mixing"], bench.job
    assert send(mixing, "change", f"entry {key}", text)
    assert dict(bench.job.mixing) == {key: value}
    assert bench.state.blockers("mixing") == ()
    assert job_from_text(bench.state.text) == bench.job
    assert run_job(bench.job).mixing.notices is not None
    send(mixing, "change", f"entry {key}", " ")
    assert bench.job.mixing == ()
    assert len(bench.state.past) == 2
    bench.state.undo()
    bench.state.undo()
    assert bench.job is first


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("water_first_percent", "100"),
        ("water_first_percent", "0"),
        ("water_first_percent", "most"),
        ("strength", "strong"),
        ("strength", "0.5"),
        ("tanks", "2.5"),
        ("tanks", "4"),
        ("coldest", "99"),
        ("coldest", "nan"),
        ("tank_volume", "a jug"),
        ("measured_ec", "-1"),
        ("measured_ec", "much"),
        ("measured_ph", "15"),
        ("measured_at", "-200"),
    ],
)
def test_what_no_mixing_has_is_refused_at_its_field_and_kept(bench, key, text):
    mixing, before = bench.panels["mixing"], bench.job
    assert send(mixing, "change", f"entry {key}", text)
    assert bench.job is before
    assert Page(mixing.html).fields[f"entry {key}"] == text
    assert "not taken" in mixing.html
    (told,) = bench.state.blockers("mixing")
    assert told.startswith(f"mixing: {key.replace('_', ' ')}: ")
    assert "1 to settle" in bench.panels["head"].html
    assert bench.state.found.has_mixing  # the rest goes on
    send(mixing, "change", f"entry {key}", "")
    assert bench.state.blockers("mixing") == ()


@pytest.mark.parametrize("key", ["order", "", "speed", "__class__", "stock_water"])
def test_only_what_a_mixing_has_can_be_typed(key):
    with pytest.raises(FormulateError, match=r"moon|nothing that a mixing has"):
        with_mixing_entry(read_job(DEMO), key, "moon")


def test_empty_fields_show_what_counts(mixing):
    hints = {
        a["name"]: a.get("placeholder")
        for tag, a in Page(mixing.html).tags
        if tag == "input"
    }
    # the table mixing_rules: three quarters of the water, 1:100, 10 °C; 200 L / 100
    assert hints["entry water_first_percent"] == "75"
    assert hints["entry strength"] == "1:100"
    assert hints["entry tanks"] == "2"
    assert hints["entry coldest"] == "10"
    assert hints["entry tank_volume"] == "2 L"


def test_a_faulty_mixing_of_a_file_leaves_the_weights(bench):
    bench.state.change(replace(bench.job, mixing=(("coldest", 99), ("tanks", 7))))
    assert bench.state.found.has_recipe
    assert len(bench.state.blockers("mixing")) == 2
    assert bench.state.blockers("recipe") == ()
    assert bench.state.notices("mixing") == ()
    with pytest.raises(InputError, match="nothing to print yet"):
        bench.state.found.sheet()


def test_what_is_typed_of_the_stocks_stands_on_the_sheet(bench, mixing):
    assert "Write on stock A" not in bench.state.found.sheet()
    send(mixing, "change", "entry stock_water", "pure")
    send(mixing, "change", "entry strength", "1:64")
    sheet = bench.state.found.sheet()
    assert "Write on stock A" in sheet
    assert "1:64" in sheet


def test_weights_and_plan_do_not_tell_two_orders(bench, mixing):
    recipe = bench.panels["recipe"]
    assert "in this order" not in recipe.html
    assert "the order to mix in stands under 6 Mixing" in recipe.html
    send(mixing, "seen", "plan", True)
    named = [mixing.slots["plan"].index(html.escape(name)) for name in listed(mixing)]
    assert named == sorted(named)


# --- edits -------------------------------------------------------------------------------


def test_orders_move_and_are_mended():
    assert moved_order(("a", "b", "c"), "c", -5) == ("c", "a", "b")
    assert moved_order(("a", "b", "c"), "a", 9) == ("b", "c", "a")
    assert mended_order((), ("a", "b")) == ("a", "b")
    assert mended_order(("B ", "b", "x"), ("a", "b")) == ("a", "b")
    assert mended_order(("d", "c"), ("a", "b", "c", "d")) == ("a", "b", "d", "c")
    assert with_order(with_order(read_job(DEMO), ["a"])).mixing == ()


def test_only_mixed_otherwise_keeps_the_recipe_and_tells_the_same(bench):
    state = bench.state
    recipe, weighing = state.found.outcome.recipe, state.found.outcome.weighing
    names = [i.name for i, _ in weighing.amounts]
    state.look_in("us")
    state.alter(with_order, names)
    assert state.found.outcome.recipe is recipe
    assert state.found.outcome.job.units == "us"
    anew = Findings(state.job, "us")
    assert anew.outcome.mixing.order == state.found.outcome.mixing.order == tuple(names)
    assert anew.outcome.mixing.lines == state.found.outcome.mixing.lines
    for key, text in (("coldest", "4"), ("stock_water", "pure"), ("measured_ec", "1")):
        state.enter(("mixing", key), text, with_mixing_entry, key)
        anew, now = Findings(state.job, "us"), state.found.outcome.mixing
        assert now.best.order == anew.outcome.mixing.best.order
        assert str(now.tanks_or_why) == str(anew.outcome.mixing.tanks_or_why)
        assert str(now.diagnosis) == str(anew.outcome.mixing.diagnosis)
    tanks = state.found.outcome.mixing.tanks
    state.alter(with_order)
    assert state.found.outcome.mixing.tanks is tanks  # they hang on no order
    state.enter(("mixing", "strength"), "1:64", with_mixing_entry, "strength")
    assert state.found.outcome.mixing.tanks.strength.times == 64
    state.alter(with_line_entry, 0, "price_per_kg", "3")
    assert state.found.outcome.recipe is not recipe


# --- worked out when it is seen, and overtaken -----------------------------------------------


def test_nothing_is_worked_out_before_it_is_seen(bench):
    mixing = bench.panels["mixing"]
    there = vars(bench.state.found.outcome.mixing)
    assert "best" not in there
    assert "working …" in shown(mixing)
    assert mixing.slots == dict.fromkeys(SLOTS, "<p>working …</p>")
    send(mixing, "seen", "order", True)
    assert "working …" not in shown(mixing)
    assert {"best", "log"} <= set(there)
    assert "tanks_or_why" not in there
    assert "diagnosis" not in there
    assert "working …" in mixing.slots["plan"]


def test_only_opened_parts_are_drawn_and_follow_a_change(bench, mixing):
    send(mixing, "seen", "plan", True)
    assert "fill in 150 L of the water" in words(mixing.slots["plan"])
    assert "Never mix concentrates with one another" in mixing.slots["plan"]
    assert "working …" in mixing.slots["steps"]
    send(mixing, "seen", "steps", True)
    assert mixing.slots["steps"].count("<svg") == 1
    send(mixing, "seen", "stocks", True)
    assert "1:100 does not keep" in mixing.slots["stocks"]  # hard water
    assert "stock_water" not in mixing.slots["stocks"]
    assert "choose it under Stocks" in mixing.slots["stocks"]
    send(mixing, "change", "entry stock_water", "pure")
    assert mixing.slots["stocks"].count("<svg") == 2
    send(mixing, "seen", "steps", False)
    send(bench.panels["head"], "change", "entry volume", "100 L")
    assert "fill in 75 L of the water" in words(mixing.slots["plan"])
    assert "working …" in mixing.slots["steps"]  # no old numbers
    send(bench.panels["head"], "change", "units", "us")
    assert "US gal" in mixing.slots["plan"]
    send(bench.panels["head"], "change", "entry volume", "a bucket")
    assert mixing.slots == {}


def test_readings_are_judged_once_there_are_any(bench, mixing):
    assert 'slot="wrong"' not in mixing.html
    ec = bench.state.found.outcome.expected.conductivity.ec
    send(mixing, "change", "entry measured_ec", f"{ec:.3f}")
    assert 'data-slot="wrong"' in mixing.html
    send(mixing, "seen", "wrong", True)
    assert "nothing is wrong" in mixing.slots["wrong"]
    send(mixing, "change", "entry measured_ec", f"{ec / 2:.3f}")
    # by definition 500 ppm of that scale are 1 mS/cm, so that its g/L are half of it
    assert "on the 500 scale, read as mS/cm" in mixing.slots["wrong"]


def test_why_this_order_tells_a_reason_for_each_ingredient(mixing):
    send(mixing, "seen", "why", True)
    for name in listed(mixing):
        assert html.escape(name) in mixing.slots["why"]


def test_ten_quick_changes_are_judged_once(bench, monkeypatch):
    mixing, drawn = bench.panels["mixing"], []
    draw = mixing._draw
    monkeypatch.setattr(mixing, "_draw", lambda slot: drawn.append(slot) or draw(slot))

    async def hurry():
        send(mixing, "seen", "order", True)
        send(mixing, "seen", "plan", True)
        for share in range(50, 60):
            send(bench.panels["head"], "change", "entry strength_percent", str(share))
            await asyncio.sleep(0)
        for _ in range(100):
            if drawn:
                break
            await asyncio.sleep(0.05)
        await asyncio.sleep(0.2)

    asyncio.run(hurry())
    assert drawn == ["plan"]
    assert mixing.shown is bench.state.found.outcome.mixing
    assert "working …" not in shown(mixing)


def test_a_message_between_two_steps_leaves_nothing_waiting(bench):
    # every part seen in turn while the steps of the one before are still to come
    mixing = bench.panels["mixing"]

    async def scroll():
        for name in ("order", "plan", "why", "plan", "order"):
            send(mixing, "seen", name, True)
            await asyncio.sleep(0.03)
        for _ in range(200):
            if (
                "working"
                not in mixing.html + mixing.slots["plan"] + mixing.slots["why"]
            ):
                break
            await asyncio.sleep(0.05)

    asyncio.run(scroll())
    assert "working …" not in shown(mixing)
    assert "working …" not in mixing.slots["plan"] + mixing.slots["why"]


# --- hostile -------------------------------------------------------------------------------


def test_hostile_names_are_text_wherever_they_are_mixed(bench, mixing):
    """All of them at once, each on a line of the shelf of its own."""
    send(mixing, "change", "entry stock_water", "pure")
    send(mixing, "change", "entry measured_ec", "1.2")
    for line, text in enumerate(HOSTILE, 1):
        send(bench.panels["shelf"], "change", f"line {line} name", text)
    send(bench.panels["wishes"], "change", "entry title", "".join(HOSTILE))
    names = [text.strip() for text in HOSTILE if text.strip() in listed(mixing)]
    assert len(names) >= len(HOSTILE) - 1
    press(mixing, "later", names[0])
    assert set(names) <= set(dict(bench.job.mixing)["order"])
    for slot in SLOTS:
        send(mixing, "seen", slot, True)
    assert job_from_text(bench.state.text) == bench.job
    drawn = "".join(mixing.slots.values())
    for made in (mixing.html, drawn):
        assert "<script" not in made
        assert "<img" not in made
        assert not any(key.startswith("on") for _, a in Page(made).tags for key in a)


@pytest.mark.parametrize("text", HOSTILE)
def test_a_hostile_entry_is_text_where_it_was_typed(mixing, text):
    for key in ("strength", "measured_ec", "stock_water", "coldest"):
        send(mixing, "change", f"entry {key}", text)
        assert "<script" not in mixing.html
        assert "<img" not in mixing.html


@pytest.mark.parametrize(
    ("kind", "name", "value"),
    [
        ("press", "later", "1"),
        ("press", "earlier x", None),
        ("press", "mend", ""),
        ("change", "entry", "x"),
        ("change", "entry order", "KNO3"),
        ("press", "move", "x"),
        ("seen", "nowhere", True),
    ],
)
def test_a_message_that_makes_no_sense_leaves_the_recipe(
    bench, mixing, kind, name, value, capsys
):
    recipe = bench.state.found.outcome.recipe
    send(mixing, kind, name, value)
    assert bench.state.found.outcome.recipe is recipe
    bench.state.undo()
    assert "The best order, proven." in shown(mixing)
    capsys.readouterr()
