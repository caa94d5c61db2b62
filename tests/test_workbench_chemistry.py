"""The chemistry in the recipe panel: the wanted pH, doses, solids, air and iron."""

import html

import pytest
from test_workbench_panels import Page, send

from formulate.jobs import ShelfLine
from formulate.workbench.bench import Bench
from formulate.workbench.shelf_edits import with_line
from formulate.workbench.state import State


@pytest.fixture
def bench(tmp_path, monkeypatch):
    monkeypatch.setenv("FORMULATE_WORK", str(tmp_path))
    return Bench(State())


def shown(bench):
    return html.unescape(bench.panels["recipe"].html)


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
    recipe = bench.panels["recipe"]
    text = Page(recipe.html).buttons["working the dose"]
    send(recipe, "press", "working the dose")
    working = recipe.working("the dose")
    assert working.value == pytest.approx(float(text.split()[0]), rel=5e-3)
    assert working.lines[-1] in shown(bench)


def test_the_index_of_a_solid_opens_its_working(bench):
    recipe = bench.panels["recipe"]
    assert "What may fall out" in shown(bench)
    send(recipe, "press", "working the index of gypsum")
    assert "Saturation index of gypsum" in shown(bench)
    send(recipe, "press", "working the index of hydroxyapatite")
    assert "Saturation index of hydroxyapatite" in shown(bench)


def test_air_and_iron_are_told(bench):
    assert "most oxygen at sea level" in shown(bench)
    assert "Iron on the shelf at pH 5.8" in shown(bench)


def test_solids_that_may_form_are_among_the_notices(bench):
    assert "brushite likely" in shown(bench)
