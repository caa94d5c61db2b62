"""A lesson's exercises as a notebook whose cells nbgrader collects and grades.

Each exercise has a cell for the answer and a locked one that checks it. The pupil's name is the seed, so that the
same notebook asks everybody for other numbers. The cells to write in carry no marks of nbgrader: it would empty those
it knows as solutions, with the names that the checks look for. nbgrader itself is not needed to write it.
The way to every answer is one call away (`.solution()`): such marks tell who has practised, they are no test.
"""

import json

from formulate.classroom.lesson_titles import lesson_title
from formulate.classroom.register import exercise_titles, read_key
from formulate.errors import InputError
from formulate.files import make_folder, write_text

__all__ = ["assignment", "write_assignment"]

SCHEMA = 3  # of nbgrader's cell metadata
NOTEBOOK = (4, 5)  # of the notebook format
UNNAMED = "write your name here"
IN_WORDS = "Which of these numbers surprised you, and why is it as it is? Two or three sentences."
PYTHON = {"display_name": "Python 3", "language": "python", "name": "python3"}


def assignment(lesson, *, points=1):
    """
    Return a lesson's exercises as a notebook for nbgrader.

    Parameters
    ----------
    lesson : str or int
        The lesson, such as "03". [-]
    points : int
        Points of each exercise. [-]

    Returns
    -------
    dict
        The notebook as it stands in its file.

    Raises
    ------
    UnknownName
        If there is no such lesson.
    InputError
        If the points are no whole number from 1 to 100.

    Examples
    --------
    >>> cells = assignment("03")["cells"]
    >>> [cell["metadata"]["nbgrader"]["points"] for cell in cells if "points" in cell["metadata"].get("nbgrader", {})][:2]
    [1, 1]
    """
    found, _ = read_key(lesson)
    if isinstance(points, bool) or points not in range(1, 101):
        raise InputError(f"points {points!r}: give a whole number from 1 to 100")
    keys = [key for key in exercise_titles() if key.startswith(f"{found}.")]
    cells = [_words(_opening(found)), *_pupil()]
    for key in keys:
        cells += _exercise(key, points)
    cells += [_words(f"## In your own words\n\n{IN_WORDS}"), _essay(points)]
    for place, cell in enumerate(cells, 1):
        cell["id"] = f"cell-{place:02}"
    return {
        "cells": cells,
        "metadata": {"kernelspec": PYTHON, "language_info": {"name": "python"}},
        "nbformat": NOTEBOOK[0],
        "nbformat_minor": NOTEBOOK[1],
    }


def write_assignment(lesson, folder, *, points=1):
    """
    Write a lesson's exercises as a notebook where nbgrader looks for it.

    Parameters
    ----------
    lesson : str or int
        The lesson, such as "03". [-]
    folder : str or Path
        The folder of the course: the notebook goes into source/lesson-03 below it.
    points : int
        Points of each exercise. [-]

    Returns
    -------
    Path
        The file.

    Raises
    ------
    UnknownName
        If there is no such lesson.
    InputError
        If the points are no whole number from 1 to 100 or the file cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_assignment("03", folder).name
    'lesson-03.ipynb'
    """
    notebook = assignment(lesson, points=points)
    name = f"lesson-{read_key(lesson)[0]}"
    path = make_folder(make_folder(folder) / "source" / name) / f"{name}.ipynb"
    write_text(path, json.dumps(notebook, ensure_ascii=False, indent=1) + "\n")
    return path


def _opening(lesson):
    """Return the first words of the notebook."""
    return (
        f"# {lesson} {lesson_title(lesson)}: exercises\n\n"
        "Write your name into the first cell and run it: from then on the numbers are yours alone. Put each answer "
        'where `...` stands, a number with its unit, such as `"1.23 g"`. The cell below it tells whether it is right, or '
        "which slip it looks like. `task.hint()` helps, three times."
    )


def _pupil():
    """Return the cell for the pupil's name and the one that looks whether it was written."""
    asks = f'pupil = "{UNNAMED}"'
    looks = (
        "from formulate.classroom import exercise\n\n"
        f'assert pupil != "{UNNAMED}", "write your name into the cell above"'
    )
    return (
        _code(asks),
        _code(looks, _marks("pupil-check")),
    )


def _exercise(key, points):
    """Return the cells of one exercise: question, answer, check."""
    name = "answer_" + key.split(".")[1]
    identity = key.replace(".", "-")
    asks = f'task = exercise("{key}", seed=pupil)\ntask'
    checks = f'reply = exercise("{key}", seed=pupil).check({name})\nprint(reply)\nassert reply.right, reply.says'
    return (
        _code(asks, _marks(f"question-{identity}")),
        _code(f"{name} = ..."),
        _code(checks, _marks(f"check-{identity}", points)),
    )


def _words(text):
    return {"cell_type": "markdown", "metadata": {}, "source": text}


def _code(text, marks=None):
    """Return a cell of code, with nbgrader's marks if it has any."""
    return {
        "cell_type": "code",
        "execution_count": None,
        "metadata": {"nbgrader": marks} if marks else {},
        "outputs": [],
        "source": text,
    }


def _essay(points):
    """Return a cell of words that the teacher grades."""
    marks = _marks("in-your-own-words", points) | {"solution": True, "locked": False}
    return {
        "cell_type": "markdown",
        "metadata": {"nbgrader": marks},
        "source": "(write here)",
    }


def _marks(identity, points=None):
    """Return nbgrader's description of a cell that pupils cannot change."""
    marks = {
        "grade": points is not None,
        "grade_id": identity,
        "locked": True,
        "schema_version": SCHEMA,
        "solution": False,
        "task": False,
    }
    return marks if points is None else {**marks, "points": points}
