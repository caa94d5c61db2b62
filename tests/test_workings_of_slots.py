"""Every number of mixing, exchange and claims opens its working where one can be followed.

Everything is opened once: the demo with readings, a paper of each kind, a dose, products
held against each other. Every working is worked out again from what it prints, and its last
line gives the number that was pressed. What has no working stands in WITHOUT, with why.
"""

import asyncio
import math
import re
from collections import Counter

import pytest
from test_workbench_panels import HOSTILE, Page, send
from test_working import again, check_line

from formulate.errors import InputError
from formulate.sheets.table import Followed
from formulate.tables import read_table
from formulate.workbench.bench import Bench
from formulate.workbench.edits import with_entry
from formulate.workbench.paper_edits import EXAMPLES
from formulate.workbench.state import State
from formulate.working import LogStep, Working

BLEND = """Total Nitrogen (N) 13 %
  13 % Nitrate Nitrogen
Soluble Potash (K2O) 45 %
Derived from: potassium nitrate, potassium sulfate
"""
DOSE = {
    "product": "potassium nitrate",
    "dose": "1 g/L",
    "claims": "K 387; K2O 387; N 150; EC 1.3 mS/cm; TDS 700 ppm (500); pH 6.5",
}
PARTS = ("mixing", "exchange", "claims")
WITHOUT = {  # table and column of numbers: why they have no working
    ("log", ""): "the number of a step",
    ("few-steps", "bags at most"): "a count that was chosen",
    ("prices", "price"): "as it stands on the shelf",
    ("assay", "guaranteed (%)"): "as the label prints it",
    ("assay", "values"): "a count of what was found",
    ("doses", "claimed"): "as the paper prints it",
}
BRINGS = "What "  # an amount opens what it brings to a litre, as on the recipe
NUMBER = re.compile(r"[+-]?\d+(?:\.(\d+))?")


def fresh():
    """Return a bench whose every drawn part has something to show."""
    made = Bench(State())
    mixing, claims = made.panels["mixing"], made.panels["claims"]
    for key, text in (
        ("stock_water", "pure"),
        ("measured_ec", "1.2"),
        ("measured_ph", "6.0"),
    ):
        send(mixing, "change", f"entry {key}", text)
    for number, key in enumerate(EXAMPLES):
        send(claims, "press", f"example {number}", key)
    send(claims, "change", "pasted", BLEND)
    for key, text in DOSE.items():
        send(claims, "change", f"dosed {key}", text)
    send(claims, "press", "dose")
    for number, name in enumerate([i.name for i in made.outcome.shelf][:2]):
        send(claims, "press", f"compare {number}", name)
    return made


def open_all(bench):
    """Open every part that is drawn apart, and have it seen."""
    mixing, exchange, claims = (bench.panels[part] for part in PARTS)
    for slot in mixing.SLOTS:
        send(mixing, "seen", slot, True)
    for slot in exchange.SLOTS:
        send(exchange, "seen", slot, True)
    for place in range(len(EXAMPLES) + 2):
        send(claims, "seen", f"paper {place}", True)
    send(claims, "seen", "compared", True)


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FORMULATE_WORK", str(tmp_path_factory.mktemp("work")))
        made = fresh()
        open_all(made)
        yield made
        made.close()


@pytest.fixture
def bench(tmp_path, monkeypatch):
    monkeypatch.setenv("FORMULATE_WORK", str(tmp_path))
    made = Bench(State())
    yield made
    made.close()


def tables(bench):
    """Yield part, slot and table of all that is kept."""
    for part in PARTS:
        for slot, (kept, _) in bench.panels[part].kept.items():
            for one in kept:
                if one.table:
                    yield part, slot, one.table


def numbers(bench):
    """Yield each cell with a number: table, row, column, and what is behind it."""
    for _, _, table in tables(bench):
        for row, cells in enumerate(table.rows):
            for column, cell in enumerate(cells):
                behind = table.workings.get((row, column))
                if behind or (column in table.numeric and re.search(r"\d", cell)):
                    yield table, row, column, behind


def kind_of(table):
    return table.key.split()[0]


# --- counted -----------------------------------------------------------------------------


def test_every_part_is_drawn_and_none_of_them_failed(opened):
    for part in PARTS:
        panel = opened.panels[part]
        assert panel.fault == ""
        assert not any("working …" in text for text in panel.slots.values())
    kinds = {kind_of(table) for _, _, table in tables(opened)}
    assert kinds >= {"plan", "log", "tanks", "meetings", "injector", "diagnosis"}
    assert kinds >= {"doubt-bars", "cost-closeness", "few-steps", "cheapest", "prices"}
    assert kinds >= {"usable", "findings", "right", "weeks", "jumps", "assay", "doses"}
    assert kinds >= {"ranges", "dilution", "shares", "against", "salts"}


def test_every_number_has_a_working_or_a_reason_why_not(opened):
    found = list(numbers(opened))
    lacking = Counter(
        (kind_of(table), table.columns[column])
        for table, row, column, behind in found
        if behind is None and not is_nothing(table, row, column)
    )
    assert set(lacking) == set(WITHOUT)
    with_one = sum(behind is not None for *_, behind in found)
    assert with_one > 600
    assert sum(lacking.values()) < 0.1 * with_one


def is_nothing(table, row, column):
    """Return whether a cell says that a product holds none of a nutrient."""
    return kind_of(table) == "shares" and table.rows[row][column] == "0"


@pytest.mark.parametrize("part", PARTS)
def test_every_working_can_be_pressed_where_its_number_stands(opened, part):
    panel = opened.panels[part]
    shown = "".join(panel.slots.values())
    tags = [a for tag, a in Page(shown).tags if tag == "button"]
    names = [a["name"] for a in tags if a.get("class") == "fm-number"]
    assert sorted(names) == sorted(f"working {key}" for key in panel.followed)
    assert len(set(names)) == len(names)


def line_holds(step, line):
    """Check one printed line by what it prints."""
    text = line.removeprefix(f"{step.text}: ")
    text = text.removesuffix(f"  [{step.source_key}]")
    if not isinstance(step, LogStep):
        check_line(text)
        return
    left, _, right = text.rpartition(" = ")
    shift, _, number = left.partition(" − lg ")
    half = 0.5 * 10.0 ** -len(right.partition(".")[2])
    value = float(shift) - math.log10(float(again(number)))
    assert value == pytest.approx(float(right), abs=half * (1 + 1e-9)), line


def test_every_working_gives_the_number_by_lines_that_hold(opened):
    """A pressed number and the last line agree within half the last digit shown."""
    checked = 0
    for table, row, column, behind in numbers(opened):
        if behind is None:
            continue
        working = behind.worked()
        for step, line in zip(working.steps, working.lines, strict=True):
            line_holds(step, line)
        checked += 1
        if working.title.startswith(BRINGS):
            continue
        number = behind.split(table.rows[row][column])[1]
        shown = NUMBER.match(number)
        half = 0.5 * 10.0 ** -len(shown[1] or "")
        assert working.value == pytest.approx(float(shown[0]), abs=half * (1 + 1e-6)), (
            kind_of(table),
            table.columns[column],
            number,
            str(working),
        )
    assert checked > 600


def test_an_amount_opens_the_working_that_the_recipe_opens(opened):
    plan = opened.panels["mixing"].kept["plan"][0][0].table
    recipe = opened.panels["recipe"]
    name = opened.outcome.mixing.order[0]
    (row,) = (n for n, cells in enumerate(plan.rows) if name in cells[1])
    assert plan.workings[row, 1].worked() == recipe._worked(f"weighed {name}")


def test_every_constant_cites_a_source_that_there_is(opened):
    known = {row["key"] for row in read_table("sources")}
    cited = set()
    for *_, behind in numbers(opened):
        for step in behind.worked().steps if behind else ():
            cited |= {key.strip() for key in step.source_key.split(";")} - {""}
    assert cited <= known
    assert cited >= {"usgs-mcclesk", "pq386-wateq4f", "crc-solubility", "jcgm-100"}
    assert cited >= {"stoichiometry", "fl-576-061", "definition", "ext-mixing"}


# --- pressed -----------------------------------------------------------------------------


def key_of(panel, slot, words):
    """Return the name of the first number of a slot whose name holds some words."""
    names = (k for k, (where, _) in panel.followed.items() if where == slot)
    return next(name for name in names if words in name)


def test_pressing_draws_its_slot_alone_and_again_hides_it(bench, monkeypatch):
    panel = bench.panels["exchange"]
    for slot in ("usable_costs", "limit_worths", "cheapest"):
        send(panel, "seen", slot, True)
    before, page = dict(panel.slots), panel.html
    drawn = dict(panel.drawn)
    monkeypatch.setattr(panel, "_made", lambda slot: pytest.fail("worked out again"))
    monkeypatch.setattr(panel, "_render", lambda: pytest.fail("shown again"))
    key = key_of(panel, "usable_costs", "cost of 1 kg")
    assert send(panel, "press", f"working {key}", "")
    changed = [slot for slot in before if panel.slots[slot] != before[slot]]
    assert changed == ["usable_costs"]
    assert panel.slots["usable_costs"].count("fm-working") == 1
    assert panel.slots["usable_costs"].count('aria-expanded="true"') == 1
    assert send(panel, "press", f"working {key}", "")
    assert panel.slots == before
    assert (panel.html, panel.drawn) == (page, drawn)


def test_another_number_in_another_slot_hides_the_first(bench):
    panel = bench.panels["exchange"]
    for slot in ("usable_costs", "cheapest"):
        send(panel, "seen", slot, True)
    send(panel, "press", f"working {key_of(panel, 'usable_costs', 'kg')}", "")
    send(panel, "press", f"working {key_of(panel, 'cheapest', 'costs')}", "")
    assert "fm-working" not in panel.slots["usable_costs"]
    assert "fm-working" in panel.slots["cheapest"]
    assert "currency/kg ÷ 1000 g/kg" in panel.slots["cheapest"]


def test_a_working_that_stays_open_follows_a_change(bench):
    panel = bench.panels["mixing"]
    send(panel, "seen", "plan", True)
    send(panel, "press", "working plan plan: 1, do", "")
    assert "200 L − 0.01 L = 199.99 L" in panel.slots["plan"]  # 10 mL of a stock in it
    bench.state.alter(with_entry, "volume", "100 L")
    assert "200 L − 0.01 L" not in panel.slots["plan"]
    assert "100 L − 0.0" in panel.slots["plan"]
    assert panel.slots["plan"].count('class="fm-working"') == 1


def test_a_button_says_what_its_number_is_about(bench):
    panel = bench.panels["mixing"]
    send(panel, "seen", "plan", True)
    labels = [a.get("aria-label", "") for _, a in Page(panel.slots["plan"]).tags]
    first = bench.outcome.mixing.order[0]
    assert any(label.startswith("2 stir in ") and first in label for label in labels)


def test_a_fault_of_a_working_is_told_in_the_panel(bench):
    def refused():
        raise InputError("this one is not found again")

    panel = bench.panels["exchange"]
    send(panel, "seen", "usable_costs", True)
    key, before = key_of(panel, "usable_costs", "kg"), panel.slots["usable_costs"]
    panel.followed[key] = ("usable_costs", Followed(refused))
    send(panel, "press", f"working {key}", "")
    assert "this one is not found again" in panel.html
    assert panel.slots["usable_costs"] == before
    assert panel.clicked == ""


def test_pressing_in_one_paper_leaves_the_others(opened):
    panel = opened.panels["claims"]
    before = dict(panel.slots)
    key = key_of(panel, "paper 5", "computed")
    send(panel, "press", f"working {key}", "")
    changed = [slot for slot in before if panel.slots[slot] != before[slot]]
    send(panel, "press", f"working {key}", "")
    assert changed == ["paper 5"]
    assert panel.slots == before


def test_a_number_among_what_is_not_drawn_apart_and_one_that_is(bench):
    panel = bench.panels["chemistry"]
    send(panel, "press", "working the pH", "")
    assert panel.html.count('class="fm-working"') == 1
    send(panel, "press", "working the pH", "")
    assert "fm-working" not in panel.html


# --- nothing before it is asked for ------------------------------------------------------


def test_no_working_is_worked_out_before_its_number_is_pressed(bench, monkeypatch):
    asked = []
    worked = Working.__init__
    monkeypatch.setattr(
        Working,
        "__init__",
        lambda self, *a, **k: asked.append(a) or worked(self, *a, **k),
    )
    panel = bench.panels["exchange"]
    for slot in ("usable_costs", "doubt", "cheapest", "price_changes"):
        send(panel, "seen", slot, True)
    assert asked == []
    send(panel, "press", f"working {key_of(panel, 'doubt', 'low')}", "")
    assert len(asked) == 1


def test_a_change_forgets_what_was_kept_and_not_seen(bench):
    panel = bench.panels["exchange"]
    send(panel, "seen", "usable_costs", True)
    send(panel, "seen", "usable_costs", False)
    assert panel.followed
    bench.state.alter(with_entry, "volume", "50 L")
    assert panel.kept == {}
    assert panel.followed == {}


def test_while_a_part_is_of_the_batch_before_a_press_waits_for_the_new_one(bench):
    panel = bench.panels["exchange"]
    send(panel, "seen", "usable_costs", True)
    key = key_of(panel, "usable_costs", "kg")

    async def change():
        bench.state.alter(with_entry, "volume", "50 L")
        assert "of the batch before" in panel.slots["usable_costs"]
        send(panel, "press", f"working {key}", "")
        assert "fm-working" not in panel.slots["usable_costs"]
        while panel.late:
            await asyncio.sleep(0.005)

    asyncio.run(change())
    assert panel.slots["usable_costs"].count("fm-working") == 1


def test_hostile_names_are_text_in_every_working(bench):
    mixing, shelf = bench.panels["mixing"], bench.panels["shelf"]
    send(mixing, "change", "entry stock_water", "pure")
    for line, text in enumerate(HOSTILE[:3], 1):
        send(shelf, "change", f"line {line} name", text)
    for slot in ("plan", "steps", "stocks"):
        send(mixing, "seen", slot, True)
    for key in list(mixing.followed)[:40]:
        send(mixing, "press", f"working {key}", "")
        slot = mixing.followed[key][0]
        made = mixing.slots[slot]
        assert made.count('class="fm-working"') == 1, key
        assert "<script" not in made
        assert "<img" not in made
