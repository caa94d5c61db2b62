"""A class gets its sheets: every name its own numbers, the key fits the questions, nobody is lost."""

import csv
import io
import json
import re
from html import escape, unescape

import pytest

from formulate.classroom import exercise, exercises
from formulate.classroom.assignment import assignment, write_assignment
from formulate.classroom.class_list import class_list, read_class_list
from formulate.classroom.class_sheets import class_sheets
from formulate.classroom.register import LESSONS
from formulate.cli import main
from formulate.errors import InputError, UnknownName

CLASS = ("Ada", "Ben Öz", "Chloé")


# --- the class list ------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "Ada\nBen Öz\nChloé\n",
        "# 7b\n\nAda\n  Ben  Öz \nChloé",
        "\N{ZERO WIDTH NO-BREAK SPACE}Name;mark\nAda;1\nBen Öz;2\nChloé;3\n",
        'no,pupil\n1,Ada\n2,"Ben Öz"\n3,Chloé\n',
        "Ada\t1\nBen Öz\t2\nChloé\t3\n",
        "First name;Mark\nAda;1\nBen Öz;2\nChloé;3\n",
    ],
)
def test_a_list_is_read_as_it_is_written(tmp_path, text):
    path = tmp_path / "class.csv"
    path.write_text(text, encoding="utf-8")
    assert read_class_list(path) == CLASS


def test_a_family_name_first_is_one_name(tmp_path):
    path = tmp_path / "7b.txt"
    path.write_text("Müller, Ada\nÖz, Ben\n", encoding="utf-8")
    assert read_class_list(path) == ("Müller, Ada", "Öz, Ben")


def test_every_fault_of_a_list_is_told_at_once(tmp_path):
    path = tmp_path / "class.csv"
    path.write_text("no;name\n1;Ada\n2;\n3;ada \n4;Ben\n5;BEN\n", encoding="utf-8")
    with pytest.raises(InputError) as told:
        read_class_list(path)
    assert len(told.value.faults) == 3
    assert "line 3" in told.value.faults[0]
    assert "line 4" in told.value.faults[1]
    assert "same pupil as line 2" in told.value.faults[1]
    assert "line 6" in told.value.faults[2]


@pytest.mark.parametrize("text", ["", "\n\n", "# nobody\n", "name;mark\n"])
def test_a_list_of_nobody_is_told(tmp_path, text):
    path = tmp_path / "class.txt"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="no name in it"):
        read_class_list(path)


def test_a_list_may_be_given_as_it_is():
    assert class_list("Ada\n\nBen Öz\nChloé") == class_list(CLASS) == CLASS
    with pytest.raises(InputError, match="at most 500"):
        class_list(map(str, range(501)))


# --- sheets and key ------------------------------------------------------------------------


@pytest.mark.parametrize("lesson", LESSONS)
def test_sheets_ask_what_the_notebook_asks(lesson):
    sheets = class_sheets(lesson, CLASS)
    page = sheets.question_page()
    assert page.count('<section class="pupil"') == len(CLASS)
    for name in CLASS:
        for one in exercises(lesson, seed=name):
            for part in one.question.split("\n\n"):
                assert (
                    escape(part).replace("&#x27;", "&#39;").replace("&quot;", "&#34;")
                    in page
                )
            for row in one.task.table:
                assert all(escape(str(cell)) in page for cell in row)


@pytest.mark.parametrize("lesson", LESSONS)
def test_question_sheets_hold_no_answer_and_the_key_every_one(lesson):
    sheets = class_sheets(lesson, CLASS)
    questions, key = sheets.question_page(), sheets.key_page()
    assert 'class="answer"' not in questions
    told = re.findall(r'<p class="answer">Answer: (.*?)(?: <span|</p>)', key)
    drawn = [one for tasks in sheets.drawn.values() for one in tasks]
    assert [unescape(text) for text in told] == [one.solution().says for one in drawn]
    for one in drawn:
        lines = one.solution().working.lines
        assert not any(line in unescape(questions) for line in lines if "=" in line)


@pytest.mark.parametrize("lesson", LESSONS)
def test_each_caution_stands_once_at_the_head_of_a_pupils_sheet(lesson):
    sheets = class_sheets(lesson, CLASS)
    for page in (sheets.question_page(), sheets.key_page()):
        parts = page.split('<section class="pupil"')[1:]
        for part, tasks in zip(parts, sheets.drawn.values(), strict=True):
            head, _, rest = part.partition("<article>")
            told = re.findall(r"<li>(.*?) <span[^>]*>\((.*?)\)</span></li>", head)
            found = {unescape(text): keys.split(", ") for text, keys in told}
            assert len(found) == len(told)  # each once
            assert {(text, key) for text, keys in found.items() for key in keys} == {
                (text, one.key) for one in tasks for text in one.task.care
            }
            assert ("Care" in head) == bool(told)
            assert not any(text in unescape(rest) for text in found)


def test_cautions_are_not_lost_where_acid_is_poured():
    """Lesson 06 is the one of acids: its sheets warn, whoever gets them."""
    for page in (
        class_sheets("06", CLASS).question_page(),
        class_sheets("06", CLASS).key_page(),
    ):
        assert page.count("never water to acid") == len(CLASS)
        assert page.count('<div class="care">') == len(CLASS)


@pytest.mark.parametrize("lesson", LESSONS)
def test_what_the_key_says_is_right_is_taken(lesson):
    sheets = class_sheets(lesson, CLASS)
    assert len(sheets.key.rows) == len(CLASS) * len(exercises(lesson))
    for pupil, key, _, answer, unit, low, high in sheets.key.rows:
        one = exercise(key, seed=pupil)
        assert one.check(answer if unit == "letter" else f"{answer} {unit}").right
        if low:
            assert float(low) <= float(answer) <= float(high)


def test_a_name_is_data(tmp_path):
    name = "=1+1 <script>x</script>"
    paths = class_sheets("03", [name]).write(tmp_path)
    page, _, table = (path.read_text(encoding="utf-8-sig") for path in paths)
    assert "<script>" not in page
    rows = list(csv.reader(io.StringIO(table)))
    cells = [cell for row in rows for cell in row if "script" in cell]
    assert cells
    assert not any(cell.startswith("=") for cell in cells)


def test_the_command_writes_the_files(tmp_path, capsys):
    pupils = tmp_path / "7b.txt"
    pupils.write_text("\n".join(CLASS), encoding="utf-8")
    words = [
        "class",
        "3",
        "--pupils",
        str(pupils),
        "--notebook",
        "--out",
        str(tmp_path / "out"),
    ]
    assert main(words) == 0
    told = capsys.readouterr().out
    names = sorted(path.name for path in (tmp_path / "out").rglob("*.*"))
    assert names == [
        "lesson-03-key.csv",
        "lesson-03-key.html",
        "lesson-03-questions.html",
        "lesson-03.ipynb",
    ]
    assert all(name in told for name in names)
    assert f"3 pupils: {'; '.join(CLASS)}" in told
    assert main(["class", "3"]) == 2
    assert "class list" in capsys.readouterr().err


# --- the notebook for nbgrader -------------------------------------------------------------


@pytest.mark.parametrize("lesson", LESSONS)
def test_each_exercise_has_a_cell_to_answer_and_one_that_checks(lesson):
    cells = assignment(lesson)["cells"]
    marks = [c["metadata"].get("nbgrader") for c in cells]
    names = [mark["grade_id"] for mark in marks if mark]
    assert len(set(names)) == len(names)
    for one in exercises(lesson):
        identity = f"check-{one.key.replace('.', '-')}"
        place = next(n for n, m in enumerate(marks) if m and m["grade_id"] == identity)
        check = marks[place]
        assert (check["solution"], check["grade"], check["locked"]) == (
            False,
            True,
            True,
        )
        assert check["points"] == 1
        answer = cells[place - 1]
        assert answer["source"] == f"answer_{one.key.split('.')[1]} = ..."
        assert answer["metadata"] == {}  # nbgrader empties what it knows as a solution
    assert len({cell["id"] for cell in cells}) == len(cells)


def run(cells):
    """Run the code of a notebook's cells, one after the other, as a kernel would."""
    space = {}
    for cell in cells:
        if cell["cell_type"] == "code":
            exec(cell["source"], space)
    return space


def answered(lesson, pupil):
    """Return the cells of an assignment, each question answered as it was asked of a pupil."""
    cells = json.loads(json.dumps(assignment(lesson)["cells"]))
    for cell in cells:
        cell["source"] = cell["source"].replace(
            '"write your name here"', f'"{pupil}"', 1
        )
        found = re.fullmatch(r"answer_(\d+) = \.\.\.", cell["source"])
        if found:
            right = exercise(f"{lesson}.{found[1]}", seed=pupil).task.answer
            cell["source"] = f"answer_{found[1]} = {right!r}"
    check = next(
        c
        for c in cells
        if c["metadata"].get("nbgrader", {}).get("grade_id") == "pupil-check"
    )
    check["source"] = check["source"].replace(
        f'!= "{pupil}"', '!= "write your name here"'
    )
    return cells


@pytest.mark.parametrize("lesson", LESSONS)
def test_a_notebook_with_right_answers_runs_through(lesson, capsys):
    space = run(answered(lesson, "Ada"))
    assert space["reply"].right
    assert capsys.readouterr().out.count("Right") == len(exercises(lesson))


def test_an_empty_notebook_stops_at_the_name_and_a_wrong_answer_at_its_check():
    with pytest.raises(AssertionError, match="write your name"):
        run(assignment("03")["cells"])
    cells = answered("03", "Ada")
    wrong = next(c for c in cells if c["source"].startswith("answer_1 ="))
    wrong["source"] = 'answer_1 = ""'
    with pytest.raises(AssertionError, match="empty"):
        run(cells)


def test_points_and_lessons_that_are_none_are_told(tmp_path):
    for points in (0, 101, 1.5, True, "2"):
        with pytest.raises(InputError, match="1 to 100"):
            assignment("03", points=points)
    with pytest.raises(UnknownName):
        write_assignment("99", tmp_path)
    assert not list(tmp_path.iterdir())
