"""The command: what it prints, what it writes, and how it ends."""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

import formulate.verify
from formulate.cli import main
from formulate.jobs import DEMO

ROOT = Path(__file__).parent.parent


def test_demo_prints_recipe_ions_notices_and_file_names(tmp_path, capsys):
    assert main(["solve", "--out", str(tmp_path)]) == 0
    shown = capsys.readouterr()
    assert "Epsom salt" in shown.out
    assert "wanted" in shown.out
    assert "caution:" in shown.out
    assert "eye protection" in shown.out.casefold()
    written = [line for line in shown.out.splitlines() if line.startswith("written: ")]
    assert len(written) == 2
    for line in written:
        assert Path(line.removeprefix("written: ")).is_file()
    assert shown.err == ""


def test_json_is_one_object_and_nothing_else(tmp_path, capfd):
    assert main(["solve", str(DEMO), "--json", "--out", str(tmp_path)]) == 0
    shown = capfd.readouterr()
    data = json.loads(shown.out)
    assert data["volume_l"] == 200
    assert len(data["files"]) == 2
    assert shown.err == ""


def test_faults_are_listed_all_at_once_and_nothing_is_written(tmp_path, capsys):
    job = tmp_path / "bad.toml"
    job.write_text(
        'formulate = 1\nvolume = "-5 L"\n[target]\nwanted = { Xx = 5 }\n'
        '[[shelf]]\ningredient = "kno3"\n[[shelf]]\ningredient = "calcium nitrate"\n',
        encoding="utf-8",
    )
    out = tmp_path / "out"
    assert main(["solve", str(job), "--out", str(out)]) == 2
    shown = capsys.readouterr()
    for piece in ("volume", "Xx", "did you mean KNO3", "calcium nitrate tetrahydrate"):
        assert piece in shown.err
    assert shown.out == ""
    assert not out.exists()


def test_something_serious_ends_with_one(tmp_path, capsys):
    job = tmp_path / "missing.toml"
    job.write_text(
        'formulate = 1\nvolume = "5 L"\n[target]\nwanted = { K = 200, Mo = 0.05 }\n'
        '[[shelf]]\ningredient = "KNO3"\n',
        encoding="utf-8",
    )
    assert main(["solve", str(job), "--out", str(tmp_path)]) == 1
    assert "nothing on the shelf carries it" in capsys.readouterr().out


def test_a_failed_self_check_ends_with_three(tmp_path, capsys, monkeypatch):
    """A solver that hands back a wrong optimum is caught by the check of conditions."""

    def wrong(matrix, aim):
        return 0 * matrix[0]

    job = tmp_path / "one.toml"
    job.write_text(
        'formulate = 1\nvolume = "5 L"\n[target]\nwanted = { K = 200 }\n'
        '[[shelf]]\ningredient = "KNO3"\n',
        encoding="utf-8",
    )
    monkeypatch.setattr("formulate.recipes.least_distance.nonnegative", wrong)
    assert main(["solve", str(job), "--out", str(tmp_path)]) == 3
    assert "failed its own check" in capsys.readouterr().err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["one.toml"]


def test_a_conflict_tells_the_nearest_recipe_of_each_way_out(tmp_path, capsys):
    """By hand: 20 mg/L of nitrate nitrogen in 10 L are 1.444 g of potassium nitrate."""
    job = tmp_path / "two.toml"
    job.write_text(
        'formulate = 1\nvolume = "10 L"\n[target]\nwanted = { K = 100 }\n'
        'limits = { K = "at least 100", NO3-N = "at most 20" }\n'
        '[[shelf]]\ningredient = "KNO3"\n',
        encoding="utf-8",
    )
    assert main(["solve", str(job), "--out", str(tmp_path)]) == 2
    told = capsys.readouterr().err
    assert "K at least 100 mg/L, NO3-N at most 20 mg/L" in told
    assert "with K at least 55.82 mg/L, in g (mL of a stock): KNO3 1.444" in told


def test_doctor_tells_versions(capsys):
    assert main(["doctor"]) == 0
    shown = capsys.readouterr().out
    assert "numpy" in shown
    assert "everything needed is there" in shown


def test_doctor_tells_of_a_package_of_the_same_name(capsys, monkeypatch):
    owners = {"formulate": ["formulate", "formulate-salts"]}
    monkeypatch.setattr("importlib.metadata.packages_distributions", lambda: owners)
    assert main(["doctor"]) == 2
    assert "another package also provides" in capsys.readouterr().out


def test_no_command_shows_the_usage():
    done = subprocess.run(
        [sys.executable, "-m", "formulate.cli"],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
    )
    assert done.returncode == 2
    assert "usage: formulate" in done.stderr


def test_version_is_told(capsys):
    with pytest.raises(SystemExit) as end:
        main(["--version"])
    assert end.value.code == 0
    assert capsys.readouterr().out.startswith("formulate 0.")


def test_verify_tells_what_agrees_and_ends_with_zero(capsys):
    assert main(["verify"]) == 0
    short = capsys.readouterr()
    assert short.out.startswith("formulate 0.")
    assert short.out.endswith("checks; all agree\n")
    assert short.err == ""
    assert main(["verify", "--all"]) == 0
    assert len(capsys.readouterr().out) > len(short.out)


def test_verify_ends_with_three_where_a_value_disagrees(capsys, monkeypatch):
    monkeypatch.setitem(formulate.verify.KINDS, "salt", lambda given, asked, unit: 0.0)
    assert main(["verify"]) == 3
    shown = capsys.readouterr().out
    assert "DISAGREES: B in H3BO3: published 17.5" in shown
    assert "disagree: trust no number" in shown


@pytest.fixture
def opened(monkeypatch):
    """Return the list of ways that the command opens, none of which is started."""
    ways = []
    monkeypatch.setattr("formulate.cli.open_lab", ways.append)
    monkeypatch.setattr("formulate.cli.open_page", ways.append)
    return ways


def test_lab_and_page_open_the_workbench(opened):
    assert main(["lab"]) == 0
    assert main(["page"]) == 0
    lab, page = opened
    assert lab.notebook == page.notebook == ROOT / "notebooks" / "workbench.ipynb"
    assert lab.opens_browser
    assert page.opens_browser
    assert lab.arguments
    assert page.settings


def test_lab_and_page_take_a_notebook_a_port_and_no_browser(opened, tmp_path):
    own = tmp_path / "own.ipynb"
    own.write_text("{}", encoding="utf-8")
    for command in ("lab", "page"):
        assert main([command, str(own), "--port", "54321", "--no-browser"]) == 0
    lab, page = opened
    assert "--ServerApp.port=54321" in lab.arguments
    assert page.settings["Voila"]["port"] == 54321
    assert lab.notebook == page.notebook == own
    assert not lab.opens_browser
    assert not page.opens_browser


def test_a_way_in_that_cannot_be_had_ends_with_two(opened, capsys):
    assert main(["page", "none.ipynb", "--port", "1"]) == 2
    told = capsys.readouterr().err
    assert "none.ipynb: no such notebook" in told
    assert "port 1: write a whole number from 1024" in told
    assert opened == []


def test_a_missing_extra_ends_with_two_and_tells_what_to_install(monkeypatch, capsys):
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    assert main(["page"]) == 2
    assert "pip install 'formulate-salts[workbench]'" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["lab", "page"])
def test_help_of_the_ways_in_tells_how_they_end(command, capsys):
    with pytest.raises(SystemExit) as end:
        main([command, "--help"])
    assert end.value.code == 0
    told = " ".join(capsys.readouterr().out.split())
    for words in ("--port N", "--no-browser", "ctrl-C ends it", "any other machine"):
        assert words in told


def test_doctor_names_what_the_page_needs(capsys):
    main(["doctor"])
    told = capsys.readouterr().out
    for name in ("jupyterlab", "voila", "anywidget", "ipywidgets", "playwright"):
        assert re.search(rf"^{name} +(\d|not installed \(extra)", told, re.MULTILINE)
