"""Each lesson of a site, in a browser with no other machine in reach: the results are the project's."""

import json
import re
from pathlib import Path

import pytest

from formulate.site.building import MARKER
from formulate.site.lessons import LEFT_OUT, site_lessons

ROOT = Path(__file__).parent.parent.parent
LESSONS = site_lessons(ROOT / "notebooks")
CHANGING = re.compile(
    r"formulate \d+\.\d+\S* tables [0-9a-f]+"
)  # as notebooks/sanitize.cfg
TEXTS = ("text/plain", "text/html", "image/svg+xml", "text/markdown")


def shown(output):
    """Return what an output shows as text, one piece for each kind."""
    kind = output["output_type"]
    assert kind != "error", output
    data = {output["name"]: output["text"]} if kind == "stream" else output["data"]
    data = {k: "".join(v) for k, v in data.items() if kind == "stream" or k in TEXTS}
    return {name: CHANGING.sub("formulate", text) for name, text in data.items()}


def joined(outputs):
    """Return what outputs show; what was printed in several pieces is one."""
    found = []
    for output in map(shown, outputs):
        if found and set(output) == set(found[-1]) <= {"stdout", "stderr"}:
            found[-1] = {name: found[-1][name] + text for name, text in output.items()}
        else:
            found.append(output)
    return found


def results(cells):
    """Return (code, what it shows) of every code cell."""
    return [
        ("".join(cell["source"]), joined(cell["outputs"]))
        for cell in cells
        if cell["cell_type"] == "code"
    ]


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda lesson: lesson.name)
def test_a_lesson_runs_to_the_same_results_as_in_the_project(
    lesson, site, visit, run_all
):
    cells, status = run_all(visit(f"{site}lab/index.html?path={lesson.name}"))
    assert status == "idle"
    found = results(cells)
    assert found
    stored = dict(results(json.loads(lesson.path.read_text("utf-8"))["cells"]))
    left_out = [c for c in cells if "".join(c["source"]) == LEFT_OUT]
    assert len(left_out) == sum(
        bool(lesson.left_out) and lesson.left_out in code for code in stored
    )
    assert {code for code, _ in found} >= {
        code for code in stored if not (lesson.left_out and lesson.left_out in code)
    }
    for code, outputs in found:
        if code in stored:
            assert outputs == stored[code], code
        else:  # the imports of a cell that is left out
            assert lesson.left_out
            assert outputs == []


def test_the_first_page_lists_every_lesson_and_opens_it(built, site, visit, ready):
    page = visit(site)
    links = page.locator("a.lesson")
    assert links.all_inner_texts() == [lesson.title for lesson in LESSONS]
    assert [path.name for path in LESSONS] == json.loads(
        (built[0] / MARKER).read_text("utf-8")
    )["lessons"]
    links.last.click()
    ready(page)
    assert page.get_by_role("heading", name=LESSONS[-1].title).first.is_visible()


def test_what_is_not_in_the_site_is_refused_without_asking_another_machine(
    site, visit, run_code
):
    page = visit(f"{site}lab/index.html?path={LESSONS[-1].name}")
    status, told = run_code(page, "import numpy")
    assert (status, "No module named 'numpy'" in told) == ("error", True), told
    status, told = run_code(page, "import piplite; await piplite.install('tomlkit')")
    assert status == "error"
    assert "tomlkit" in told


def test_the_command_tells_size_and_how_to_serve(built):
    folder, told = built
    size = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
    assert f"{size / 1e6:.0f} MB" in told
    assert f"python3 -m http.server --bind 127.0.0.1 -d {folder}" in told
    assert "numpy" in told
