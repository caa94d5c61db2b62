"""Saving jobs: pasted labels and reports come back sign by sign, and stay readable.

How a job of other things is saved is tested in `test_jobs.py`.
"""

import tempfile
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import FormulateError
from formulate.job_saving import save_job, text_of_job
from formulate.jobs import Job, ShelfLine, job_from_text, read_job

LABELS = Path(__file__).parent / "labels"
LABEL = (LABELS / "us-01-complete-20-10-20.txt").read_text(encoding="utf-8")
REPORT = "Calcium (Ca) ........ 94,4 mg/l\nNitrat-N ..... 3,7 mg/l\n"
PASTED = Job(
    title="Lindenhof",
    volume="10 L",
    target=(("wanted", (("K", 100),)),),
    water=(("report", REPORT), ("name", "well"), ("unit", "mg/L")),
    shelf=(ShelfLine(label=LABEL, density=1.2), ShelfLine("KCl")),
)
ODD_SIGNS = [
    "\n",
    "\r\n",
    "\r",
    "'''",
    '"""',
    "'",
    '"',
    "\\",
    "\\n",
    "\\u0041",
    " ",
    "\t",
]
ODD_SIGNS += [
    "\0",
    "\x1b",
    "\x7f",
    "\x85",
    "\u2028",
    "\ufeff",
    "😀",
    "#",
    "[[shelf]]",
    "=",
]
SIGNS = st.sampled_from(ODD_SIGNS) | st.text(
    st.characters(exclude_categories=("Cs",)), max_size=4
)
TEXTS = st.lists(SIGNS, max_size=12).map("".join)


def pasted(label, report):
    shelf = (ShelfLine(label=label, name="bag"), ShelfLine("KCl"))
    return replace(PASTED, shelf=shelf, water=(("report", report), ("name", report)))


@given(TEXTS, TEXTS)
def test_any_pasted_text_reads_back_the_same(label, report):
    job = pasted(label, report)
    text = text_of_job(job)
    assert job_from_text(text) == job
    assert text_of_job(job, before=text) == text
    read = tomllib.loads(text)  # the reader of the standard library
    assert read["water"]["report"] == report
    assert read["shelf"][0].get("label", "") == label


@given(TEXTS, TEXTS, TEXTS)
def test_any_pasted_text_takes_the_place_of_any_other(label, report, other):
    before = text_of_job(pasted(other, label)) + "# kept in the shed\n"
    text = text_of_job(pasted(label, report), before=before)
    assert job_from_text(text) == pasted(label, report)
    assert text.endswith("# kept in the shed\n")


@given(TEXTS)
def test_any_pasted_text_goes_through_a_file(label):
    job = pasted(label, label)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.toml"
        save_job(job, path)
        first = path.read_bytes()
        assert read_job(path) == job
        save_job(read_job(path), path)
        assert path.read_bytes() == first


def test_a_label_and_a_report_stand_in_the_file_line_by_line():
    text = text_of_job(PASTED)
    lines = text.split("\n")
    for pasted_line in (*LABEL.splitlines(), *REPORT.splitlines()):
        assert pasted_line in lines
    assert "\\" not in text
    assert job_from_text(text) == PASTED


def test_a_label_with_the_line_ends_of_other_systems_stands_there_line_by_line_too():
    job = replace(PASTED, shelf=(ShelfLine(label=LABEL.replace("\n", "\r\n")),))
    text = text_of_job(job)
    assert "\r" not in text  # a reader may take a bare line end for another
    for pasted_line in LABEL.splitlines():
        assert pasted_line + "\\r" in text.split("\n")
    assert job_from_text(text) == job


@pytest.mark.parametrize(
    "quoted",
    [
        "label = '''\nKali\nK2O 46 %'''",
        'label = """\nKali\nK2O 46 %"""',
        'label = "Kali\\nK2O 46 %"',
        'label = """\nKali\nK2O \\\n   46 %"""',
    ],
)
def test_a_label_may_be_quoted_in_every_way_of_toml_and_is_left_as_it_was(quoted):
    text = f'formulate = 1\nvolume = "5 L"\n\n[[shelf]]\n{quoted} # of the shed\n'
    job = job_from_text(text)
    assert job.shelf == (ShelfLine(label="Kali\nK2O 46 %"),)
    assert text_of_job(job, before=text) == text


def test_labels_without_a_name_keep_their_own_comments():
    before = "formulate = 1\n"
    for what, place in (("K2O 46 %", "shed"), ("K2O 50 %", "attic")):
        before += f"\n[[shelf]]\nlabel = '''\nKali\n{what}''' # from the {place}\n"
    job = job_from_text(before)
    text = text_of_job(replace(job, shelf=job.shelf[1:]), before=before)
    assert "attic" in text
    assert "shed" not in text
    turned = replace(job, shelf=job.shelf[::-1])
    text = text_of_job(turned, before=before)
    assert job_from_text(text) == turned
    assert text.index("50 %") < text.index("attic") < text.index("46 %")


def test_a_pasted_text_that_cannot_be_written_leaves_the_old_file_whole(tmp_path):
    path = tmp_path / "job.toml"
    save_job(PASTED, path)
    old = path.read_bytes()
    with pytest.raises(FormulateError, match="cannot be written"):
        save_job(pasted("Kali\n\ud800", "Ca 80 mg/L"), path)
    assert path.read_bytes() == old
    assert [entry.name for entry in tmp_path.iterdir()] == ["job.toml"]


def test_a_report_may_stand_in_an_inline_table():
    before = 'formulate = 1\nwater = {preset = "rain"}\n'
    job = Job(water=(("report", REPORT),))
    text = text_of_job(job, before=before)
    assert job_from_text(text) == job
    assert tomllib.loads(text)["water"] == {"report": REPORT}
