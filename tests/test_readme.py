"""What the README says is what happens."""

import contextlib
import io
import re
import tomllib
from pathlib import Path

import formulate

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
        ".venv-site/bin/formulate site lessons-site",
    ]


def test_the_picture_is_of_the_example():
    """Its alt text, written into the file by the figure, is that of the recipe the ten lines make now."""
    from formulate.sheets.figures.achieved import achieved

    code = re.search(r"```python\n(.*?)```", README, re.DOTALL).group(1)
    space = {}
    with contextlib.redirect_stdout(io.StringIO()):
        exec(code, space)  # the README's own lines, nothing from outside
    file = (ROOT / "reference" / "pictures" / "readme.png").read_bytes()
    assert file.startswith(b"\x89PNG")
    told = png_texts(file)["Description"]
    assert told == achieved(space["recipe"]).alt
    masses = re.findall(r"([\d.]+) g ", README.split("*")[1])
    found = [f"{grams:.4g}" for grams in space["recipe"].masses.values() if grams]
    assert [f"{float(mass):.4g}" for mass in masses] == found


def png_texts(file):
    """Return the texts in a PNG file by keyword (tEXt and iTXt, PNG specification, sections 11.3.4)."""
    place, texts = 8, {}
    while place < len(file):
        length, kind = (
            int.from_bytes(file[place : place + 4]),
            file[place + 4 : place + 8],
        )
        data = file[place + 8 : place + 8 + length]
        if kind == b"tEXt":
            key, _, value = data.partition(b"\0")
            texts[key.decode()] = value.decode("latin-1")
        elif kind == b"iTXt":
            key, _, rest = data.partition(b"\0")
            assert rest[0] == 0  # not compressed
            texts[key.decode()] = rest[2:].split(b"\0", 2)[2].decode("utf-8")
        place += length + 12
    return texts


def test_the_three_doors_and_the_citation_are_there():
    doors = README.split("## Three doors")[1].split("## ")[0]
    assert [
        word for word in ("**grow**", "**check**", "**teach**") if word not in doors
    ] == []
    cite = re.search(r"```yaml\n(.*?)```", README, re.DOTALL).group(1)
    assert f"version: {formulate.__version__}\n" in cite
    for needed in (
        "cff-version: 1.2.0",
        "message:",
        "title:",
        "authors:",
        "license: BSD-3-Clause",
    ):
        assert needed in cite


def test_the_lines_of_the_other_pages_run(capsys):
    pages = [
        README.split("## In class")[1],
        (ROOT / "reference" / "commands.md").read_text("utf-8"),
    ]
    blocks = [
        b for page in pages for b in re.findall(r"```python\n(.*?)```", page, re.DOTALL)
    ]
    assert len(blocks) >= 3
    for block in blocks:
        exec(block, {})  # our own pages, nothing from outside
        assert capsys.readouterr().out.strip()


def test_every_linked_file_is_there():
    links = re.findall(r"\]\(([^)#]+)\)", README)
    missing = [link for link in links if not (ROOT / link).exists()]
    assert len(links) >= 6
    assert missing == []


def test_lower_bounds_are_stated_for_everything_needed():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    extras = project["project"]["optional-dependencies"]
    assert set(extras) == {"workbench", "browser", "docs", "grading", "site", "test"}
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
