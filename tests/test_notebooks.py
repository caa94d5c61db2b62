"""The lessons keep the house rules; nbval runs them and compares what they show."""

import ast
import copy
import json
import re
from pathlib import Path

import pytest
from nbval.plugin import get_sanitize_patterns

import formulate
from formulate.classroom import exercises
from formulate.tables import read_table

FOLDER = Path(__file__).parent.parent / "notebooks"
PATHS = sorted(p for p in FOLDER.glob("*.ipynb") if p.stem != "workbench")
LESSONS = [path for path in PATHS if re.match(r"(?!00)\d\d_", path.name)]
FEWEST, MOST = 8, 16  # code cells of a lesson, exercises and sources among them
LAST = ["Exercises", "What we learned", "Sources", "Next"]
MACHINE = {
    "a path": r"(?<![\w.])/(?:home|tmp|root|usr|work|Users|var|opt)/|\b[A-Z]:\\",
    "an address in memory": r"\b0x[0-9a-f]{6,}",
    "an address of a machine": r"localhost|\b\d{1,3}(?:\.\d{1,3}){3}\b",
    "a widget": r"model_id|widget-view",
    "an id": r"\b[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}\b",
}
UNREPEATABLE = ("Output()", "interact", "clear_output", "%matplotlib", "NBVAL_")


def read(path):
    return json.loads(path.read_text(encoding="utf-8"))


def text(lines):
    return lines if isinstance(lines, str) else "".join(lines)


def source(cell):
    return text(cell["source"])


def cells(notebook, kind):
    return [cell for cell in notebook["cells"] if cell["cell_type"] == kind]


def prose(notebook):
    return "\n".join(source(cell) for cell in cells(notebook, "markdown"))


def shown(cell):
    """Return everything that a cell has stored, as one text."""
    return json.dumps(cell["outputs"], ensure_ascii=False)


def code_lines(cell):
    lines = [line.strip() for line in source(cell).splitlines()]
    return [line for line in lines if line and not line.startswith("#")]


def is_figure(cell):
    return "<svg" in shown(cell) or "image/png" in shown(cell)


def asserts_number(cell):
    """Return whether a cell asserts something about a number that is written in it."""
    tests = [node.test for node in ast.walk(ast.parse(source(cell))) if is_assert(node)]
    numbers = [
        n for test in tests for n in ast.walk(test) if isinstance(n, ast.Constant)
    ]
    return any(isinstance(n.value, int | float) for n in numbers)


def is_assert(node):
    return isinstance(node, ast.Assert)


def sizes(notebook, _):
    for cell in cells(notebook, "code"):
        if not 2 <= len(code_lines(cell)) <= 5:
            yield f"{len(code_lines(cell))} lines: {source(cell)[:40]}"


def repeatable(notebook, _):
    for cell in cells(notebook, "code"):
        if any(line.endswith(";") for line in code_lines(cell)):
            yield f"ends with a semicolon: {source(cell)[:40]}"
        yield from (word for word in UNREPEATABLE if word in source(cell))
    if "widgets" in notebook["metadata"]:
        yield "stored widget state"


def clean_outputs(notebook, _):
    for cell in cells(notebook, "code"):
        for what, pattern in MACHINE.items():
            if re.search(pattern, shown(cell)):
                yield f"{what} in what {source(cell)[:40]!r} shows"
        for output in cell["outputs"]:
            if output["output_type"] == "error" or output.get("name") == "stderr":
                yield f"an error or a warning is shown: {source(cell)[:40]}"


def fresh_run(notebook, _):
    code = cells(notebook, "code")
    counts = [cell["execution_count"] for cell in code]
    if counts != list(range(1, len(code) + 1)):
        yield f"not run from top to bottom: {counts}"
    for cell in code:
        nodes = ast.walk(ast.parse(source(cell)))
        if not cell["outputs"] and not any(isinstance(n, ast.Assign) for n in nodes):
            yield f"shows nothing and assigns nothing: {source(cell)[:40]}"


def checked_figures(notebook, _):
    code = cells(notebook, "code")
    for cell, after in zip(code, [*code[1:], None], strict=True):
        if not is_figure(cell):
            continue
        if after is None or not asserts_number(after):
            yield f"no number asserted after the figure: {source(cell)[:40]}"
        if shown(cell).count("<svg") != shown(cell).count("<desc"):
            yield f"a figure without alt text: {source(cell)[:40]}"


def links(notebook, folder):
    for target in re.findall(r"\]\(([^)]+)\)", prose(notebook)):
        if not re.match(r"https?:", target) and not (folder / target).is_file():
            yield f"link to {target}: no such file"


def known_names(notebook, _):
    """Names of the package, in code and in exercises, are there."""
    everything = prose(notebook) + "".join(map(source, cells(notebook, "code")))
    for name in set(re.findall(r"\bfm\.(\w+)", everything)):
        if name not in formulate.__all__:
            yield f"fm.{name}: formulate has no such name"


def care_first(notebook, _):
    """Who weighs has been shown the cautions before."""
    code = [source(cell) for cell in cells(notebook, "code")]
    weighs = [place for place, lines in enumerate(code) if "fm.weigh(" in lines]
    if weighs and not any("cautions(" in lines for lines in code[: weighs[0]]):
        yield "weighs, but shows no cautions before"


RULES = [
    sizes,
    repeatable,
    clean_outputs,
    fresh_run,
    checked_figures,
    links,
    known_names,
    care_first,
]


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_rule_is_kept(path, rule):
    assert list(rule(read(path), path.parent)) == []


def endings(notebook):
    return re.findall(r"^## (.+)$", prose(notebook), re.MULTILINE)[-4:]


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_lesson_ends_as_every_lesson_does(path):
    notebook = read(path)
    assert endings(notebook) == LAST
    assert prose(notebook).startswith(f"# {path.stem[:2]} ")


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_lesson_asks_and_wonders(path):
    words = prose(read(path))
    for what in ("The question.", "What you need.", "Question.", "Why is this odd?"):
        assert f"**{what}**" in words, what
    minutes = [int(number) for number in re.findall(r"(\d+) minutes", words)]
    assert minutes
    assert max(minutes) <= 45


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_lesson_is_short_and_has_a_figure(path):
    code = cells(read(path), "code")
    assert FEWEST <= len(code) <= MOST
    assert any(is_figure(cell) for cell in code)


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_lesson_shows_all_its_exercises_and_how_they_answer(path):
    code = cells(read(path), "code")
    lesson = path.stem[:2]
    shown_all = [c for c in code if f'exercises("{lesson}", seed="ada")' in source(c)]
    assert len(shown_all) == 1
    for one in exercises(lesson, seed="ada"):
        assert one.title in text_shown(shown_all[0])
        assert one.asked in text_shown(shown_all[0])
    assert any(".check(" in source(cell) for cell in code)
    assert any(".hint(" in source(cell) for cell in code)


def text_shown(cell):
    """Return what a cell shows as plain text."""
    return "\n".join(
        text(output["data"]["text/plain"]) if "data" in output else text(output["text"])
        for output in cell["outputs"]
    )


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_lesson_leads_to_the_next_and_to_the_index(path):
    last = prose(read(path)).split("## Next")[1]
    names = [*(p.name for p in LESSONS), "workbench.ipynb"]
    assert f"({names[names.index(path.name) + 1]})" in last
    assert "(00_index.ipynb)" in last


def test_class_hears_how_to_be_safe_where_something_is_weighed_or_poured():
    for path in LESSONS:
        words = prose(read(path))
        if re.search(r"\b(weigh|pour|titrat|acid)", words):
            assert "**Safety.**" in words or "cautions(" in json.dumps(read(path)), path


def test_index_lists_every_lesson_with_one_line():
    rows = re.findall(
        r"^\| \[.+?\]\((.+?)\) \| (.+) \|$",
        prose(read(FOLDER / "00_index.ipynb")),
        re.MULTILINE,
    )
    assert [name for name, _ in rows] == [path.name for path in LESSONS]
    assert all(line.strip().endswith("?") for _, line in rows)


def test_the_table_of_lessons_is_that_of_the_notebooks():
    rows = read_table("lessons")
    assert [row["file"] for row in rows] == [path.name for path in LESSONS]
    index = prose(read(FOLDER / "00_index.ipynb"))
    for row, path in zip(rows, LESSONS, strict=True):
        assert prose(read(path)).startswith(f"# {row['lesson']} {row['title']}\n")
        assert row["question"] in index


def test_index_says_the_safety_lines_of_the_readme():
    readme = (FOLDER.parent / "README.md").read_text(encoding="utf-8")
    safety = " ".join(readme.split("## Safety")[1].split("## ")[0].split())
    assert len(safety) > 200
    assert safety in " ".join(prose(read(FOLDER / "00_index.ipynb")).split())


# --- the rules bite --------------------------------------------------------------------


def spoiled(change):
    notebook = copy.deepcopy(read(FOLDER / "01_from_bag_to_litre.ipynb"))
    change(notebook, cells(notebook, "code"))
    return notebook


def printing(words):
    return [{"output_type": "stream", "name": "stdout", "text": words}]


def add_prose(words):
    cell = {"cell_type": "markdown", "source": words}
    return lambda notebook, _: notebook["cells"].append(cell)


def drop_asserts(notebook, _):
    notebook["cells"] = [c for c in notebook["cells"] if "assert" not in source(c)]


def drop_cautions(notebook, _):
    notebook["cells"] = [c for c in notebook["cells"] if "cautions(" not in source(c)]


SPOILED = [
    (sizes, lambda _, code: code[0].update(source="a = 1")),
    (sizes, lambda _, code: code[0].update(source="a = 1\n" * 6)),
    (repeatable, lambda _, code: code[0].update(source="a = 1\na;")),
    (repeatable, lambda _, code: code[0].update(source="# NBVAL_SKIP\na = 1")),
    (repeatable, lambda notebook, _: notebook["metadata"].update(widgets={})),
    (clean_outputs, lambda _, code: code[0].update(outputs=printing("/tmp/a.html"))),
    (
        clean_outputs,
        lambda _, code: code[0].update(outputs=printing("at 0x7f00aa11bb")),
    ),
    (clean_outputs, lambda _, code: code[0].update(outputs=printing("127.0.0.1"))),
    (fresh_run, lambda _, code: code[0].update(execution_count=None)),
    (fresh_run, lambda _, code: code[0].update(source="print()", outputs=[])),
    (checked_figures, drop_asserts),
    (links, add_prose("[gone](99_gone.ipynb)")),
    (known_names, add_prose("`fm.no_such_name(1)`")),
    (care_first, drop_cautions),
]


@pytest.mark.parametrize(("rule", "change"), SPOILED)
def test_rule_finds_a_spoiled_lesson(rule, change):
    assert list(rule(spoiled(change), FOLDER))


# --- what the comparison of nbval leaves out --------------------------------------------


def sanitized(words):
    patterns = get_sanitize_patterns((FOLDER / "sanitize.cfg").read_text("utf-8"))
    for pattern, instead in patterns:
        words = re.sub(pattern, instead, words)
    return words


def figures():
    """Return the figures that the drawing library made."""
    code = [cell for path in LESSONS for cell in cells(read(path), "code")]
    data = [o["data"] for c in code for o in c["outputs"] if "data" in o]
    return [
        text(one["text/html"]) for one in data if "<metadata" in text(one["text/html"])
    ]


def test_figures_are_compared_by_alt_text_and_table_not_by_their_lines():
    assert figures()
    for figure in figures():
        kept = sanitized(figure)
        alt = re.search(r"<desc[^>]*>(.*?)</desc>", figure, re.DOTALL).group(1)
        table = re.search(r"<table>.*?</table>", figure, re.DOTALL).group()
        assert alt in kept
        assert table in kept
        assert "<path" in figure
        assert "<path" not in kept
        assert len(kept) < len(figure) / 2


@pytest.mark.parametrize(
    "words", ["Ca 133.3 mg/L", "75.1 g", "± 0.26 %", "<td>50</td>"]
)
def test_numbers_are_never_left_out_of_the_comparison(words):
    assert sanitized(words) == words
