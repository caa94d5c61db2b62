"""How a recipe is chosen, in the bench: EC, number of ingredients, cost, whole steps."""

import html

import pytest
from test_workbench_panels import send

from formulate.jobs import ShelfLine
from formulate.workbench.bench import Bench
from formulate.workbench.edits import own_target, with_target_entry
from formulate.workbench.shelf_edits import with_line
from formulate.workbench.state import State


@pytest.fixture
def bench(tmp_path, monkeypatch):
    monkeypatch.setenv("FORMULATE_WORK", str(tmp_path))
    return Bench(State())


def shown(bench):
    return html.unescape(bench.panels["recipe"].html)


def test_the_wanted_ec_is_typed_in_the_head_and_undone(bench):
    head = bench.panels["head"]
    send(head, "change", "entry ec", "1.8")
    assert bench.state.job.ec == "1.8 mS/cm"
    assert "at 136 % strength" in shown(bench)
    assert bench.state.found.outcome.expected.conductivity.ec == pytest.approx(
        1.8, rel=0.01
    )
    send(head, "press", "undo")
    assert bench.state.job.ec == ""


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("ec", "strong"),
        ("most_ingredients", "0"),
        ("most_ingredients", "2.5"),
        ("within_percent", "near"),
    ],
)
def test_what_is_no_choice_is_refused_beside_its_field(bench, field, text):
    panel = bench.panels["head" if field == "ec" else "recipe"]
    before = bench.state.job
    send(panel, "change", f"entry {field}", text)
    assert bench.state.job == before
    assert "not taken" in panel.html
    assert text in panel.html


def test_few_ingredients_with_their_price(bench):
    recipe = bench.panels["recipe"]
    send(recipe, "change", "entry most_ingredients", "9")
    assert "9 ingredients of at most 9 (proven)" in shown(bench)
    assert len(bench.state.found.outcome.recipe.amounts) == 9
    send(recipe, "change", "entry most_ingredients", "")
    assert bench.state.job.most_ingredients is None
    assert "of at most" not in shown(bench)


def test_the_cheapest_within_a_band(bench):
    send(bench.panels["recipe"], "change", "entry within_percent", "5 %")
    assert bench.state.job.within_percent == 5
    assert "the cheapest within 5 % of each wanted value" in shown(bench)


def test_a_missing_price_is_told_where_the_recipe_would_stand(bench):
    line = ShelfLine(ingredient="urea")
    bench.state.alter(with_line, line, said="urea")
    send(bench.panels["recipe"], "change", "entry within_percent", "5")
    assert "needs every price; none for urea" in shown(bench)
    send(bench.panels["recipe"], "change", "entry within_percent", "")
    assert "Weigh for" in shown(bench)


def test_whole_steps_are_ticked(bench):
    send(bench.panels["recipe"], "change", "entry whole_steps", True)
    assert bench.state.job.whole_steps is True
    assert "whole steps (proven)" in shown(bench)


def test_a_target_by_charge_becomes_own_values(bench):
    job = bench.state.job
    charge = (
        ("cations", (("K", 35), ("Ca", 45), ("Mg", 20))),
        ("anions", (("NO3", 60), ("H2PO4", 5), ("SO4", 35))),
        ("total", "20 meq/L"),
    )
    bench.state.alter(lambda job: type(job)(**{**vars(job), "target": charge}))
    wishes = html.unescape(bench.panels["wishes"].html)
    assert "Told by charge in the job file" in wishes
    own = own_target(bench.state.job)
    assert dict(own.target)["unit"] == "mmol/L"
    assert dict(dict(own.target)["wanted"])["Ca"] == "4.5"
    back = with_target_entry(bench.state.job, "published", "cornell-lettuce")
    assert back.target == (("published", "cornell-lettuce"),)
    assert job.target != charge
