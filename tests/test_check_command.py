"""`formulate check`: what it prints and writes, and how it ends."""

import json
import subprocess
import sys

import pytest

from formulate.check_command import job_of_papers
from formulate.cli import main
from formulate.errors import InputError
from formulate.job_saving import save_job
from formulate.jobs import Job
from formulate.papers import Paper

BAG = "13-0-46\nTotal Nitrogen (N) 13 %\nSoluble Potash (K2O) 46 %\nDerived from: potassium nitrate\n"
TOO_RICH = "Soluble Potash (K2O) 90 %\nDerived from: potassium hydroxide\n"
CHART = "week;bag g/L;K mg/L\n1;0,5;191\n2;1;382\n"


@pytest.fixture
def papers(tmp_path):
    """Write papers into a folder, and return it."""
    for name, text in (("bag.txt", BAG), ("rich.txt", TOO_RICH), ("chart.csv", CHART)):
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def test_a_right_label_ends_with_zero(papers, capsys):
    assert main(["check", str(papers / "bag.txt")]) == 0
    shown = capsys.readouterr()
    assert shown.out.startswith("bag, a label: yes, this is right")
    assert "no legal, agronomic or medical advice" in shown.out
    assert shown.err == ""


def test_an_impossible_label_ends_with_one(papers, capsys):
    # pure KOH holds 83.9 % K2O (formula)
    assert main(["check", str(papers / "rich.txt")]) == 1
    shown = capsys.readouterr().out
    assert "impossible" in shown.splitlines()[0]


def test_papers_are_checked_together_and_a_chart_finds_its_product(papers, capsys):
    files = [str(papers / name) for name in ("chart.csv", "bag.txt")]
    assert main(["check", *files]) == 0
    shown = capsys.readouterr().out
    assert "chart, a feed chart: yes, this is right" in shown
    assert "week by week" in shown


def test_what_cannot_be_read_ends_with_two_and_the_rest_is_told(papers, capsys):
    bad = papers / "bad.csv"
    bad.write_text("week;nobody's mix g/L\n1;1\n", encoding="utf-8")
    assert main(["check", str(bad), str(papers / "bag.txt")]) == 2
    shown = capsys.readouterr()
    assert "bag, a label: yes, this is right" in shown.out
    assert "bad: cannot be read" in shown.out
    assert "nobody's mix" in shown.err


def test_a_file_that_is_not_there_keeps_no_other_from_being_checked(papers, capsys):
    files = [str(papers / "bag.txt"), str(papers / "none.txt")]
    assert main(["check", *files, "--json"]) == 2
    shown = capsys.readouterr()
    data = json.loads(shown.out)
    assert [paper["verdict"] for paper in data["papers"]] == ["right"]
    assert "none.txt" in data["unread"][0]
    assert "none.txt" in shown.err


def test_what_a_laboratory_found_is_held_against_the_product(papers, capsys):
    found = papers / "found.csv"
    found.write_text("Nutrient,Found\nTotal N,12.0\nK2O,45.8\n", encoding="utf-8")
    assert main(["check", str(found)]) == 2  # no guarantee anywhere
    assert "guarant" in capsys.readouterr().err
    files = [str(papers / "bag.txt"), str(found)]
    # N 13 % guaranteed: 0.62 points are allowed [fl-576-061], 1.0 is short
    assert main(["check", *files, "--product", "bag"]) == 1
    shown = capsys.readouterr().out
    assert "13 % guaranteed, 12 % found; 1 short, 0.62 allowed" in shown


def test_a_dose_of_a_product_without_any_paper(capsys):
    # 1 g/L of KNO3 holds 386.7 mg/L K (formula)
    given = ["check", "--product", "KNO3", "--dose", "1 g/L"]
    assert main([*given, "--claim", "K=387"]) == 0
    assert main([*given, "--claim", "K=466"]) == 1
    assert "K2O taken for K" in capsys.readouterr().out


def test_json_is_one_object_with_every_finding(papers, capsys):
    out = papers / "out"
    files = [str(papers / "bag.txt"), str(papers / "chart.csv")]
    assert main(["check", *files, "--json", "--out", str(out)]) == 0
    data = json.loads(capsys.readouterr().out)
    assert [paper["kind"] for paper in data["papers"]] == ["label", "chart"]
    assert data["verdict"] == "right"
    assert {f["verdict"] for f in data["papers"][1]["findings"]} == {"right"}
    assert len(data["files"]) == 2
    page = (out / "bench-sheet-claims.html").read_text("utf-8")
    assert "yes, this is right" in page
    assert "no legal, agronomic or medical advice" in page
    table = (out / "bench-sheet-claims.csv").read_text("utf-8")
    assert "week" in table


def test_a_job_with_papers_is_checked_without_a_recipe(papers, capsys):
    job = Job(papers=(Paper(BAG, "bag"), Paper(CHART, "chart")))
    path = papers / "job.toml"
    save_job(job, path)
    assert main(["check", str(path)]) == 0
    assert "chart, a feed chart: yes" in capsys.readouterr().out


def test_products_are_compared_with_their_prices(papers, capsys):
    given = ["--price", "bag=2.00", "--compare", "bag; potassium sulfate"]
    assert main(["check", str(papers / "bag.txt"), *given]) == 0
    shown = capsys.readouterr().out
    assert "products compared" in shown
    # 2.00 a kg with 38.4 % K: 5.2 for a kilogram of K
    assert "5.2" in shown
    assert main(["check", str(papers / "bag.txt"), "--compare", "bag; nobody"]) == 2


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({}, "nothing to check"),
        ({"claim": ["N 5"], "dose": "1 g/L", "product": "KNO3"}, "write it like N=150"),
        ({"claim": ["N=5", "N=6"], "dose": "1 g/L", "product": "KNO3"}, "given twice"),
        ({"claim": ["N=5"], "dose": "1 g/L"}, "say of which product"),
        ({"price": ["A=2"]}, "no such paper"),
    ],
)
def test_faults_of_the_options_are_told(given, told):
    with pytest.raises(InputError, match=told):
        job_of_papers([], **given)


def test_every_fault_of_files_and_options_is_told_at_once(tmp_path, capsys):
    files = [
        str(tmp_path / "a.txt"),
        str(tmp_path / "b.toml"),
        str(tmp_path / "c.toml"),
    ]
    assert main(["check", *files, "--claim", "N"]) == 2
    told = capsys.readouterr().err
    for part in ("a.txt", "b.toml", "one job at a time", "write it like N=150"):
        assert part in told


def test_water_and_shelf_that_cannot_be_read_are_told(papers, capsys):
    chart = str(papers / "chart.csv")
    assert main(["check", chart, "--water", "no-such-water"]) == 2
    assert main(["check", chart, "--shelf", str(papers / "none.csv")]) == 2
    told = capsys.readouterr().err
    assert "no-such-water" in told
    assert "none.csv" in told


def test_a_product_named_as_its_own_file_is_that_paper(papers, capsys):
    told = ["--product", "bag", "--dose", "1 g/L", "--claim", "K=382"]
    assert main(["check", str(papers / "bag.txt"), *told]) == 0
    assert "yes, this is right" in capsys.readouterr().out


def test_a_reader_who_has_seen_enough_ends_it_quietly(papers):
    command = [sys.executable, "-m", "formulate.cli", "check", str(papers / "bag.txt")]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as run:
        run.stdout.close()
        told = run.stderr.read().decode()
    assert "Traceback" not in told
