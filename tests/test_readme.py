"""What the README says is what happens."""

import contextlib
import io
import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_example_prints_what_stands_under_it():
    code = re.search(r"```python\n(.*?)```", README, re.DOTALL).group(1)
    printed = re.search(r"```text\n(.*?)```", README, re.DOTALL).group(1)
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(code, {})  # the README's own lines, nothing from outside
    assert out.getvalue() == printed
    assert len([line for line in code.splitlines() if line.strip()]) <= 10


def test_the_first_paragraph_states_the_job():
    first = README.split("\n\n")[1]
    assert first.startswith("`formulate` goes from the bag to the plant")
    assert README.index("```python") < 2500  # the example is on the first screen


def test_both_commands_stand_in_the_readme_as_ci_reads_them():
    lines = re.findall(r"^python3 -m venv .*$", README, re.MULTILINE)
    assert [line.split("&& ")[-1] for line in lines] == [
        ".venv/bin/formulate solve",
        ".venv/bin/pytest",
        ".venv/bin/formulate page",
        ".venv/bin/jupyter lab notebooks/00_index.ipynb",
    ]


def test_every_linked_file_is_there():
    links = re.findall(r"\]\(([^)#]+)\)", README)
    missing = [link for link in links if not (ROOT / link).exists()]
    assert len(links) >= 6
    assert missing == []


def test_lower_bounds_are_stated_for_everything_needed():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    extras = project["project"]["optional-dependencies"]
    assert set(extras) == {"workbench", "browser", "docs", "site", "test"}
    lines = list(project["project"]["dependencies"])
    for needed in extras.values():
        lines += needed
    own = "formulate-salts["  # an extra may name another one
    assert [line for line in lines if ">=" not in line and own not in line] == []


def test_binder_pins_every_dependency_within_its_bounds():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    pins = (ROOT / "binder" / "requirements.txt").read_text(encoding="utf-8")
    pinned = dict(re.findall(r"^(\w+)==([\d.]+)$", pins, re.MULTILINE))
    bounds = project["project"]["dependencies"]
    bounds += project["project"]["optional-dependencies"]["workbench"]
    for line in bounds:
        name, _, least = line.partition(">=")
        have, want = (
            [int(part) for part in version.split(".")]
            for version in (pinned[name], least)
        )
        assert have >= want, name
    runtime = (ROOT / "binder" / "runtime.txt").read_text(encoding="utf-8")
    assert re.fullmatch(r"python-3\.\d+\n", runtime)
