"""The chemistry panel: the wanted pH, doses, ions and pairs, solids, air and iron, pictures."""

import asyncio
import html
import re
from pathlib import Path

import pytest
from test_workbench_panels import Page, send

from formulate.jobs import ShelfLine
from formulate.sheets.chemistry_tables import species_table
from formulate.tables import read_table
from formulate.workbench.bench import Bench
from formulate.workbench.shelf_edits import with_line
from formulate.workbench.state import State


@pytest.fixture
def bench(tmp_path, monkeypatch):
    monkeypatch.setenv("FORMULATE_WORK", str(tmp_path))
    return Bench(State())


def shown(bench):
    return html.unescape(bench.panels["chemistry"].html)


def with_acid(bench):
    line = ShelfLine(ingredient="nitric acid (53 %)", price_per_kg=1.4, use="none")
    bench.state.alter(with_line, line, said="acid")


def test_the_wanted_ph_is_typed_in_the_head_and_undone(bench):
    head = bench.panels["head"]
    assert "to pH 5.8" in shown(bench)
    send(head, "change", "entry ph", "6.4")
    assert bench.state.job.ph == 6.4
    assert "to pH 6.4" in shown(bench)
    send(head, "press", "undo")
    assert bench.state.job.ph is None
    assert "to pH 5.8" in shown(bench)


@pytest.mark.parametrize("text", ["sour", "17", "-1"])
def test_a_ph_that_is_none_is_refused_beside_its_field(bench, text):
    head = bench.panels["head"]
    send(head, "change", "entry ph", text)
    assert bench.state.job.ph is None
    assert "not taken" in head.html
    assert text in head.html
    send(head, "change", "entry ph", "6")
    assert "not taken" not in head.html


def test_without_an_acid_examples_say_that_they_are_not_on_the_shelf(bench):
    assert "no acid is on the shelf; for example" in shown(bench)
    assert "nitric acid (53 %), not on the shelf" in shown(bench)


def test_an_acid_on_the_shelf_gives_steps_and_a_working(bench):
    with_acid(bench)
    assert "Finish by the meter" in shown(bench)
    assert "acid into water" in shown(bench)
    chemistry = bench.panels["chemistry"]
    text = Page(chemistry.html).buttons["working the dose"]
    send(chemistry, "press", "working the dose")
    working = chemistry.working("the dose")
    assert working.value == pytest.approx(float(text.split()[0]), rel=5e-3)
    assert working.lines[-1] in shown(bench)


def test_the_index_of_a_solid_opens_its_working(bench):
    chemistry = bench.panels["chemistry"]
    assert "What may fall out" in shown(bench)
    send(chemistry, "press", "working the index of gypsum")
    assert "Saturation index of gypsum" in shown(bench)
    send(chemistry, "press", "working the index of hydroxyapatite")
    assert "Saturation index of hydroxyapatite" in shown(bench)


def test_air_and_iron_are_told(bench):
    assert "most oxygen at sea level" in shown(bench)
    assert "Iron on the shelf at pH 5.8" in shown(bench)


def test_solids_that_may_form_are_among_the_notices(bench):
    assert "brushite likely" in shown(bench)


def test_each_acid_of_the_shelf_has_a_working_of_its_own(bench):
    with_acid(bench)
    line = ShelfLine(ingredient="sulfuric acid (35 %)", use="none")
    bench.state.alter(with_line, line, said="another acid")
    chemistry = bench.panels["chemistry"]
    name = "the dose sulfuric acid (35 %)"
    text = Page(chemistry.html).buttons[f"working {name}"]
    send(chemistry, "press", f"working {name}")
    working = chemistry.working(name)
    assert "sulfuric acid" in working.title
    assert working.value == pytest.approx(float(text.split()[0]), rel=5e-3)


def test_what_the_air_does_opens_its_working(bench):
    chemistry = bench.panels["chemistry"]
    assert "the same once corrected" not in shown(bench)  # no acid is at hand
    assert send(chemistry, "press", "buy", "nitric acid (53 %)")
    assert bench.job.shelf[-1].ingredient == "nitric acid (53 %)"
    buttons = Page(chemistry.html).buttons
    for key in ("the pH once aerated", "the pH once corrected tomorrow"):
        send(chemistry, "press", f"working {key}")
        told = float(buttons[f"working {key}"])
        assert chemistry.working(key).value == pytest.approx(told, abs=0.051)
    key = "the index in air of calcite"
    send(chemistry, "press", f"working {key}")
    assert "Saturation index of calcite" in shown(bench)
    assert f"{chemistry.working(key).value:+.2f}" in buttons[f"working {key}"]


def test_ions_and_pairs_add_up_to_what_is_in_the_batch(bench):
    # calcium by hand: 94.4 mg/L (water) + 69.0 g / 200 L x 190 mg/g (label) = 159.95 mg/L,
    # over 40.078 g/mol (IUPAC 2021); what is under 0.01 mmol/L stands in the last row
    rows = species_table(bench.outcome).rows
    holding = [float(row[2]) for row in rows if "calcium" in row[3]]
    assert len(holding) >= 4
    assert sum(holding) == pytest.approx(159.95 / 40.078, rel=5e-3)
    kinds = {row[0]: row[1] for row in rows}
    assert kinds["CaSO₄"] == "pair"
    assert kinds["NO₃⁻"] == "ion"
    assert kinds["FeDtpa²⁻"] == "chelate"
    assert kinds["CO₂"] == "molecule"
    assert rows[0][0] in shown(bench)


def test_pictures_are_drawn_once_they_are_opened_each_by_itself(bench):
    chemistry, head = bench.panels["chemistry"], bench.panels["head"]
    slots = chemistry.SLOTS
    assert all("<svg" not in chemistry.slots[slot] for slot in slots)
    send(chemistry, "seen", slots[0], True)
    first = chemistry.slots[slots[0]]
    assert "What carries the EC" in first
    assert [s for s in slots if "<svg" in chemistry.slots[s]] == [slots[0]]
    send(head, "change", "entry strength_percent", "60")
    assert chemistry.slots[slots[0]] != first
    drawn = chemistry.slots[slots[0]]
    send(head, "change", "units", "us")
    assert chemistry.slots[slots[0]] == drawn
    send(chemistry, "seen", slots[0], False)
    send(head, "change", "entry strength_percent", "50")
    assert "<svg" not in chemistry.slots[slots[0]]
    for slot in slots:  # EC, ions, solids, titration, phosphate
        send(chemistry, "seen", slot, True)
        assert chemistry.slots[slot].count("<svg") == 1
    send(head, "change", "entry volume", "a bucket")
    assert chemistry.slots == {}


def test_a_picture_with_no_table_beside_it_brings_its_numbers(bench):
    chemistry = bench.panels["chemistry"]
    told = {}
    for slot in chemistry.SLOTS:
        send(chemistry, "seen", slot, True)
        told[slot] = "The numbers of this picture" in chemistry.slots[slot]
    alone = ("picture of ions", "picture of titration", "picture of phosphate")
    assert [slot for slot, is_told in told.items() if is_told] == list(alone)


def test_ten_quick_changes_draw_a_picture_once(bench, monkeypatch):
    from formulate.sheets.figures import carriers as figure

    drawn, draw = [], figure.carriers
    monkeypatch.setattr(
        figure, "carriers", lambda found: drawn.append(1) or draw(found)
    )

    async def hurry():
        send(bench.panels["chemistry"], "seen", "picture of carriers", True)
        for share in range(50, 60):
            send(bench.panels["head"], "change", "entry strength_percent", str(share))
            await asyncio.sleep(0)
        await asyncio.sleep(0.5)

    asyncio.run(hurry())
    assert len(drawn) == 1


def test_what_falls_out_in_the_end_waits_until_it_is_seen(bench):
    chemistry = bench.panels["chemistry"]
    risks = bench.state.found.outcome.solids
    assert "precipitation" not in vars(risks)
    send(chemistry, "seen", "fallen", True)
    assert "precipitation" in vars(risks)
    row = re.search(r'data-key="solid brushite".*?</tr>', chemistry.html, re.DOTALL)[0]
    assert "mg/L" in row


def test_what_to_know_of_the_chemistry_stands_with_it_and_what_is_grave_at_the_weights(
    bench,
):
    chemical = bench.state.notices("chemistry")
    told = bench.state.notices("recipe")
    assert set(bench.outcome.notices) == {*chemical, *told}
    both = [n for n in chemical if n in told]
    assert all(n.severity == "serious" for n in both)
    assert any("brushite" in n.what for n in chemical)


def test_the_head_tells_ph_and_ec_of_the_chemistry_panel(bench):
    head, chemistry = bench.panels["head"], bench.panels["chemistry"]
    ec = Page(chemistry.html).buttons["working the EC"]
    ph = Page(chemistry.html).buttons["working the pH"]
    assert f"pH {ph}, EC {ec}" in html.unescape(head.html)


def test_the_words_that_are_explained_are_explained_as_in_the_glossary():
    glossary = Path(__file__).parent.parent / "reference" / "glossary.md"
    lines = glossary.read_text(encoding="utf-8").partition("## Parameters")[0]
    meanings = dict(re.findall(r"^\| (.+?) \| (.+) \|$", lines, re.MULTILINE))
    terms = {row["term"]: row["meaning"] for row in read_table("terms")}
    del meanings["word"]
    assert len(terms) >= 100
    assert terms == meanings


def test_a_dotted_word_shows_what_it_means(bench):
    terms = {row["term"]: row["meaning"] for row in read_table("terms")}
    for word in ("pH", "EC", "saturation index", "ion pair", "chelate", "alkalinity"):
        told = f"<summary>{word}</summary><span>{terms[word]}</span>"
        assert told in shown(bench), word
    exchange = html.unescape(bench.panels["exchange"].html)
    assert terms["doubt"] in exchange
    assert terms["band"] in exchange


def test_without_weights_the_chemistry_says_what_is_missing(bench):
    send(bench.panels["head"], "press", "fresh")
    assert "it follows from the weights" in shown(bench)
    assert "What meters will show" not in shown(bench)
    assert bench.state.notices("chemistry") == ()
