"""The papers of a job: typed, saved, read again, refused by name."""

from dataclasses import replace

import pytest

from formulate.errors import InputError
from formulate.job_nouns import ingredient_of
from formulate.job_saving import text_of_job
from formulate.jobs import DEMO, Job, ShelfLine, job_from_text, read_job
from formulate.outcome import check_job
from formulate.papers import Paper

BAG = "Total nitrogen (N) 13 %\nSoluble potash (K2O) 46 %\nDerived from: potassium nitrate"
PAPERS = (
    Paper(BAG, "bag", price_per_kg=2.6),
    Paper("week;bag g/L\n1;0,5\n", "chart", kind="chart", target="job"),
    Paper(
        name="spoon", kind="dose", product="bag", dose="1 g/L", claims=(("K", "382"),)
    ),
)


def test_papers_read_back_as_they_were_saved_with_the_comments_of_the_file():
    job = replace(read_job(DEMO), papers=PAPERS, compared=("bag", "Epsom salt"))
    text = text_of_job(job)
    assert job_from_text(text) == job
    assert text_of_job(job_from_text(text)) == text
    noted = text.replace("[[paper]]", "# from the shop\n[[paper]]", 1)
    changed = replace(job, papers=(replace(PAPERS[0], price_per_kg=3.0), *PAPERS[1:]))
    kept = text_of_job(changed, before=noted)
    assert "# from the shop" in kept
    assert job_from_text(kept) == changed


def test_a_job_without_papers_says_nothing_of_them():
    assert "paper" not in text_of_job(read_job(DEMO))
    assert "compared" not in text_of_job(read_job(DEMO))


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("paper = 5", "write [[paper]] before each"),
        ("[[paper]]\nwords = 'x'", "words: unknown key"),
        ("[[paper]]\ntext = 5", "text: '5' is no text"),
        ("[[paper]]\ntext = 'x'\nkind = 'poem'", "write one of label, chart, assay"),
        ("[[paper]]\ntext = 'x'\nrule = 'mars'", "write one of us, eu, element"),
        ("[[paper]]\ntext = 'x'\nclaims = ['N']", "write [paper.claims]"),
        ("[[paper]]\ntext = 'x'\nclaims = {N = true}", "neither text nor a number"),
        ("[[paper]]\ntext = 'x'\nprice_per_kg = '2'", "without quotation marks"),
        ("compared = 'bag'", "write a list of names"),
    ],
)
def test_a_wrong_entry_is_refused_by_name(text, told):
    with pytest.raises(InputError) as error:
        job_from_text(f"formulate = 1\n{text}\n")
    assert told in str(error.value)


def test_every_fault_of_every_paper_is_told_at_once():
    with pytest.raises(InputError) as error:
        job_from_text(
            "formulate = 1\n[[paper]]\nkind = 'poem'\nrule = 'mars'\n[[paper]]\ntext = 1\n"
        )
    told = str(error.value)
    assert "paper 1: kind" in told
    assert "paper 1: rule" in told
    assert "paper 2: text" in told


def test_papers_at_fault_leave_the_recipe_alone():
    job = replace(read_job(DEMO), papers=(Paper(), Paper("x", "a"), Paper("y", "A")))
    found = check_job(job)
    assert set(found.faults) == {"claims"}
    assert "paper 1: empty" in found.faults["claims"][0]
    assert "paper 3: A stands here twice" in found.faults["claims"][1]
    assert "claims" in check_job(Job(papers=("x",))).faults
    assert "claims" in check_job(Job(papers=None)).faults


def test_a_label_counted_by_its_sources_brings_what_it_does_not_tell():
    # potassium sulfate brings its sulfur whether or not the label tells it (its formula)
    bag = "Soluble potash (K2O) 50 %\nDerived from: potassium sulfate"
    plain = ingredient_of(ShelfLine(label=bag, name="bag"))
    told = ingredient_of(ShelfLine(label=bag, name="bag", by_sources=True))
    assert plain.percent("S") == 0
    assert told.percent("S") == pytest.approx(50 / 54.06 * 18.40, rel=0.03)
    assert told.unassigned_charge == 0
    line = ShelfLine(label=bag, name="bag", by_sources=True)
    job = replace(read_job(DEMO), shelf=(line,))
    assert job_from_text(text_of_job(job)).shelf == (line,)
    with pytest.raises(InputError, match="by_sources"):
        ingredient_of(ShelfLine(ingredient="KNO3", by_sources=True))
