"""A shelf from a spreadsheet gives the same ingredients as lines of a job."""

from dataclasses import replace

import pytest

from formulate.errors import InputError
from formulate.ingredients.shelf import shelf_example, shelf_from_text
from formulate.job_nouns import ingredient_of
from formulate.job_saving import text_of_job
from formulate.jobs import DEMO, Job, ShelfLine, job_from_text, read_job
from formulate.outcome import run_job
from formulate.shelf_lines import lines_of_shelf, with_shelf

LABELLED = (
    'ingredient;name;price;pack;step\n"Total nitrogen (N) 9.5 %\n9.5 % nitrate nitrogen\n'
    'Soluble potash (K2O) 26 %";base;62.50 EUR;25 kg;5 g\nMgSO4·7H2O;;;;\n'
)


@pytest.mark.parametrize("text", [shelf_example(), LABELLED], ids=["example", "label"])
def test_lines_make_what_the_spreadsheet_makes(text):
    shelf = shelf_from_text(text)
    job = replace(read_job(DEMO), shelf=lines_of_shelf(text))
    made = run_job(job_from_text(text_of_job(job))).shelf
    assert len(made) == len(shelf) > 1
    for ours, theirs in zip(made, shelf, strict=True):
        assert ours.name == theirs.name
        assert dict(ours.forms) == dict(theirs.forms)
        assert (ours.price, ours.density) == (theirs.price, theirs.density)
        assert ours.weighing_step == theirs.weighing_step
    assert dict(made.on_hand) == dict(shelf.on_hand)


def test_the_price_of_a_pack_is_that_of_a_kilogram():
    base, _ = lines_of_shelf(LABELLED)
    assert base.price_per_kg == pytest.approx(2.5)  # 62.50 / 25
    assert base.name == "base"
    assert base.label.startswith("Total nitrogen")


def test_faults_are_told_by_line_and_nothing_is_taken():
    with pytest.raises(InputError, match="line 2"):
        lines_of_shelf("ingredient;price\nKNO3;2.60\n")


def test_a_line_of_the_same_name_takes_the_place_of_the_old():
    job = with_shelf(
        Job(shelf=(ShelfLine("KNO3"), ShelfLine("K2SO4"))), lines_of_shelf(LABELLED)
    )
    assert [line.name or line.ingredient for line in job.shelf] == [
        "KNO3",
        "K2SO4",
        "base",
        "MgSO4·7H2O",
    ]


def test_a_step_in_millilitres_fits_what_is_measured_by_volume_or_has_a_density():
    stock = ShelfLine(name="A", stock=(("KNO3", "100 g"),), step="5 mL")
    assert ingredient_of(stock).weighing_step == 5.0
    acid = ShelfLine(ingredient="HNO3", acid_percent=53, density=1.33, step="1 mL")
    assert ingredient_of(acid).weighing_step == pytest.approx(1.33)  # 1 mL × 1.33 g/mL
    with pytest.raises(InputError, match="step: KNO3 is weighed"):
        ingredient_of(ShelfLine(ingredient="KNO3", step="5 mL"))
