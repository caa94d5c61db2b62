"""The exercises go through the real nbgrader: released, fetched, answered, submitted, collected, graded.

Two pupils of the invented class: Ada answers all but one right, Ben leaves every answer empty. Expected points are
counted by hand from that.
"""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from formulate.classroom import exercise, exercises
from formulate.classroom.assignment import write_assignment

LESSON, COURSE = "03", "lindenhof"
NAME = f"lesson-{LESSON}"
ESSAY_POINTS = 1
CONFIG = """
c = get_config()
c.CourseDirectory.root = {course!r}
c.CourseDirectory.course_id = "{name}"
c.Exchange.root = {exchange!r}
c.Exchange.assignment_dir = {home!r}
c.ExecutePreprocessor.timeout = 300
"""


@pytest.fixture(scope="module")
def course(tmp_path_factory):
    """Return the folder of a course to which the assignment has been written and released."""
    root = tmp_path_factory.mktemp("course")
    exchange = tmp_path_factory.mktemp("exchange")
    exchange.chmod(0o777)
    home = tmp_path_factory.mktemp("home")
    text = CONFIG.format(
        course=str(root), exchange=str(exchange), home=str(home), name=COURSE
    )
    (root / "nbgrader_config.py").write_text(text, encoding="utf-8")
    write_assignment(LESSON, root)
    for command in ("generate_assignment", "release_assignment"):
        nbgrader(root, command, NAME)
    return root


def nbgrader(course, *words, user=None):
    """Run one command of nbgrader in a course."""
    kept = {
        **os.environ,
        "JUPYTER_CONFIG_DIR": str(course),
        "IPYTHONDIR": str(course / "ipython"),
    }
    if user:
        kept |= {"JUPYTERHUB_USER": user, "USER": user, "LOGNAME": user}
    done = subprocess.run(
        [sys.executable, "-m", "nbgrader", *words],
        cwd=course,
        env=kept,
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr


def answer(path, pupil, numbers):
    """Write a pupil's name and answers into the notebook that was released."""
    notebook = json.loads(path.read_text(encoding="utf-8"))
    for cell in notebook["cells"]:
        lines = "".join(cell["source"])
        if lines.startswith("pupil = "):
            cell["source"] = f'pupil = "{pupil}"'
        found = re.match(r"answer_(\d+) = ", lines)
        if found and int(found[1]) in numbers:
            cell["source"] = f"answer_{found[1]} = {numbers[int(found[1])]!r}"
    path.write_text(json.dumps(notebook), encoding="utf-8")


def submit(course, pupil, numbers):
    """Answer as a pupil and put the notebook where nbgrader collects it."""
    released = course / "release" / NAME / f"{NAME}.ipynb"
    handed_in = course / "submitted" / pupil / NAME / f"{NAME}.ipynb"
    handed_in.parent.mkdir(parents=True)
    handed_in.write_bytes(released.read_bytes())
    answer(handed_in, pupil, numbers)


def points(course, pupil):
    """Return the points that nbgrader has given for each cell."""
    from nbgrader.api import Gradebook

    with Gradebook(f"sqlite:///{course / 'gradebook.db'}") as book:
        submission = book.find_submission(NAME, pupil)
        return {
            grade.name: grade.auto_score
            for notebook in submission.notebooks
            for grade in notebook.grades
        }, submission.max_score


def test_the_release_has_no_answers_and_every_check(course):
    notebook = json.loads(
        (course / "release" / NAME / f"{NAME}.ipynb").read_text("utf-8")
    )
    text = json.dumps(notebook, ensure_ascii=False)
    for one in exercises(LESSON, seed="Ada"):
        assert f'exercise(\\"{one.key}\\", seed=pupil).check' in text
    assert not re.search(r"answer_\d+ = [\"\d]", text)
    graded = [
        c for c in notebook["cells"] if c["metadata"].get("nbgrader", {}).get("grade")
    ]
    assert len(graded) == len(exercises(LESSON)) + 1  # and the words


def test_each_pupil_gets_the_points_of_their_own_numbers(course):
    count = len(exercises(LESSON))
    right = {
        n: exercise(f"{LESSON}.{n}", seed="Ada").task.answer
        for n in range(1, count + 1)
    }
    submit(course, "ada", {**right, 2: "1e9 kg"})
    submit(course, "ben", {})
    nbgrader(course, "autograde", NAME)
    ada, most = points(course, "ada")
    ben, _ = points(course, "ben")
    assert most == count + ESSAY_POINTS
    checks = [f"check-{LESSON}-{n}" for n in range(1, count + 1)]
    assert [ada[check] for check in checks] == [1, 0, *[1] * (count - 2)]
    assert [ben[check] for check in checks] == [0] * count
    assert ada["in-your-own-words"] in (None, 0)  # for the teacher to grade


def test_the_exchange_fetches_submits_and_collects(course):
    """As pupil and teacher on one machine: the shared folder of nbgrader in between."""
    words = (course / "nbgrader_config.py").read_text(encoding="utf-8")
    home = Path(re.search(r"assignment_dir = '(.+)'", words)[1])
    nbgrader(course, "fetch_assignment", NAME)
    fetched = home / NAME / f"{NAME}.ipynb"
    answer(fetched, "Chloé", {1: exercise(f"{LESSON}.1", seed="Chloé").task.answer})
    nbgrader(course, "submit", NAME)
    nbgrader(course, "collect", NAME)
    collected = [
        path
        for path in (course / "submitted").glob(f"*/{NAME}/{NAME}.ipynb")
        if "Chloé"
        in json.dumps(json.loads(path.read_text("utf-8")), ensure_ascii=False)
    ]
    assert len(collected) == 1
