"""A job as one file: what its shelf file holds stands in it, and the recipe is the same."""

import shutil
from dataclasses import replace

import pytest

from formulate.errors import InputError
from formulate.job_saving import save_job, self_contained
from formulate.jobs import DEMO, Job, ShelfLine, read_job
from formulate.outcome import run_job

SHELF = """# the shelf of the Lindenhof; prices are invented
ingredient;name;purity;strength;density;price;pack;on hand;step;note
calcium nitrate, greenhouse grade (15.5-0-0, 19 % Ca);calcium nitrate;;;;47,50 EUR;25 kg;18 kg;1 g;left
# potassium stands in the shed
potassium nitrate;;98,5 %;;;65.00 EUR;25 kg;22 kg;0.1 g;
"Complete feed
Total nitrogen (N) 8 %
8 % nitrate nitrogen
Soluble potash (K2O) 12 %";feed;;;1,25;12 EUR;5 L;3 L;5 mL;
"Liquid potash
Water soluble potassium oxide (K2O) 5 % w/v";potash;;;;7.10 EUR;3 L;2 L;5 mL;
KH2PO4;;;;;24.10 EUR;7 lb;4 kg;0.00005 kg;
Epsom salt;;;;;;;;;
HNO3;nitric acid 38 %;;38;1.24;21.00 EUR;10 L;6 L;1 mL;
H3BO3;;99.5;;;;;0.2 oz;0.01 g;
K2SO4;;;;;31.3;12.5 kg;;;
"""
FILED = """formulate = 1
volume = "40 L"
shelf_file = "bags/shelf.csv"
ph = 6.0

[target]
wanted = { N = 150, P = 40, K = 210, Ca = 120, Mg = 30, S = 40, B = 0.3 }

[water]
Ca = "40 mg/L"
alkalinity = "2 meq/L"
"""


@pytest.fixture
def filed(tmp_path):
    """Return a job whose shelf stands in a file of another folder."""
    folder = tmp_path / "school"
    (folder / "bags").mkdir(parents=True)
    (folder / "bags" / "shelf.csv").write_text(SHELF, encoding="utf-8")
    (folder / "job.toml").write_text(FILED, encoding="utf-8")
    return read_job(folder / "job.toml")


def test_it_gives_the_very_same_weights_where_no_shelf_file_is(filed, tmp_path):
    before = run_job(filed)
    exact = [(i.name, amount) for i, amount in before.recipe.amounts]
    weighed = [(i.name, amount) for i, amount in before.weighing.amounts]
    cost, stock = before.weighing.cost, dict(before.shelf.on_hand)
    assert len(exact) >= 5
    elsewhere = tmp_path / "other machine"
    elsewhere.mkdir()
    save_job(self_contained(filed), elsewhere / "job.toml")
    shutil.rmtree(tmp_path / "school")
    after = run_job(read_job(elsewhere / "job.toml"))
    assert [(i.name, amount) for i, amount in after.recipe.amounts] == exact
    assert [(i.name, amount) for i, amount in after.weighing.amounts] == weighed
    assert after.weighing.cost == cost
    assert dict(after.shelf.on_hand) == stock
    assert [entry.name for entry in elsewhere.iterdir()] == ["job.toml"]


def test_every_kind_of_line_makes_the_same_ingredient(filed):
    theirs, ours = run_job(filed).shelf, run_job(self_contained(filed)).shelf
    assert len(ours) == len(theirs) == 9
    for one, other in zip(ours, theirs, strict=True):
        facts = ("name", "measured_in", "unassigned_charge", "formula", "price")
        facts += ("density", "weighing_step", "purity_percent", "role", "dissolved")
        facts += ("hazards", "crystal_water", "sold_purity", "assumed", "source_key")
        for fact in facts:
            assert getattr(one, fact) == getattr(other, fact), (one.name, fact)
        assert dict(one.forms) == dict(other.forms)
        assert dict(one.analysis) == dict(other.analysis)


def test_lines_hold_what_was_typed(filed):
    lines = {line.name or line.ingredient: line for line in self_contained(filed).shelf}
    assert lines["calcium nitrate"].price_per_kg == 1.9  # 47.50 for 25 kg
    assert lines["potassium nitrate"].purity_percent == 98.5
    assert lines["nitric acid 38 %"].acid_percent == 38
    assert lines["nitric acid 38 %"].step == "1.24 g"  # 1 mL of 1.24 kg/L
    assert lines["KH2PO4"].step == "0.05 g"
    assert lines["feed"].label.startswith("Complete feed\n")
    assert lines["potash"].price_per_kg == pytest.approx(7.10 / 3)  # of a litre
    assert lines["Epsom salt"] == ShelfLine("Epsom salt")


def test_a_job_without_a_shelf_file_stays_as_it_is():
    demo = read_job(DEMO)
    made = self_contained(demo)
    assert made == demo
    assert made.folder == ""


def test_doing_it_twice_changes_nothing_more(filed):
    once = self_contained(filed)
    assert self_contained(once) == once
    assert (once.shelf_file, once.folder) == ("", "")


def test_all_else_of_the_job_is_kept(filed):
    made = self_contained(replace(filed, title="Lindenhof", strength_percent=80.0))
    assert replace(made, shelf=()) == replace(
        filed, title="Lindenhof", strength_percent=80.0, shelf_file=""
    )


def test_a_missing_file_is_named(filed):
    with pytest.raises(InputError, match=r"shelf_file: .*gone\.csv.*cannot be read"):
        self_contained(replace(filed, shelf_file="gone.csv"))


def test_every_fault_is_told_at_once(filed, tmp_path):
    broken = "ingredient;price;step\nkno3;2.60;1 g\nKCl;;0 g\nKCl;;1 furlong\n"
    (tmp_path / "school" / "bags" / "shelf.csv").write_text(broken, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        self_contained(replace(filed, shelf=(ShelfLine("KNO3"),)))
    told = "\n".join(caught.value.faults)
    for piece in ("[[shelf]] lines too", "line 2", "line 3", "line 4", "furlong"):
        assert piece in told
    assert all(fault.startswith("shelf_file: ") for fault in caught.value.faults)


@pytest.mark.parametrize("odd", [None, "job.toml", {}, DEMO])
def test_what_is_no_job_is_refused(odd):
    with pytest.raises(InputError, match="is no job"):
        self_contained(odd)


def test_an_empty_job_is_a_job():
    assert self_contained(Job()) == Job()
