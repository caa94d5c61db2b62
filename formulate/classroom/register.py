"""Finds an exercise by its key and draws it for a pupil."""

import re
from importlib import import_module

from formulate.classroom.lot import checked_seed, lot
from formulate.classroom.task import Exercise, faults_of
from formulate.errors import InputError, MissingData, UnknownName, shortened
from formulate.tables import read_table

__all__ = ["LESSONS", "exercise", "exercise_titles", "exercises", "read_key"]

LESSONS = tuple(row["lesson"] for row in read_table("lessons"))
ATTEMPTS = 200
SEED = "lindenhof"


def exercise(key, seed=SEED):
    """
    Return an exercise with a pupil's own numbers.

    Parameters
    ----------
    key : str or int
        Lesson and number, such as "03.2"; "03" is the first of lesson 03. [-]
    seed : str or int
        The pupil: the same seed gives the same numbers. [-]

    Returns
    -------
    Exercise
        The exercise; show it to read the question, then `.check(answer)`, `.hint()`, `.solution()`.

    Raises
    ------
    UnknownName
        If there is no such lesson or exercise.
    InputError
        If the key is no lesson and number, or the seed is empty or no text and no whole number.
    TypeError
        If the pupil is given without `seed=`.

    Examples
    --------
    >>> task = exercise("03", seed="ada")
    >>> task.key, task.check(task.solution().answer).right
    ('03.1', True)
    """
    lesson, number = read_key(key)
    makers = _makers(lesson)
    if number > len(makers):
        raise UnknownName(
            f"{shortened(key)}: lesson {lesson} has {len(makers)} exercises, {lesson}.1 to {lesson}.{len(makers)}"
        )
    title, make = makers[number - 1]
    return _drawn(f"{lesson}.{number}", title, make, seed)


def exercises(lesson, seed=SEED):
    """
    Return all exercises of a lesson with a pupil's own numbers.

    Parameters
    ----------
    lesson : str or int
        The lesson, such as "03". [-]
    seed : str or int
        The pupil. [-]

    Returns
    -------
    tuple of Exercise
        The exercises in their order.

    Raises
    ------
    UnknownName
        If there is no such lesson.
    InputError
        If the lesson is none, or the seed is empty or no text and no whole number.
    TypeError
        If the pupil is given without `seed=`.

    Examples
    --------
    >>> len(exercises("03", seed="ada")) >= 5
    True
    """
    found, _ = read_key(lesson)
    return tuple(
        _drawn(f"{found}.{number}", title, make, seed)
        for number, (title, make) in enumerate(_makers(found), 1)
    )


def exercise_titles():
    """
    Return what exercises there are.

    Returns
    -------
    dict of str to str
        Key to title, in the order of the lessons.

    Examples
    --------
    >>> "03.1" in exercise_titles()
    True
    """
    return {
        f"{lesson}.{number}": title
        for lesson in LESSONS
        for number, (title, _) in enumerate(_makers(lesson), 1)
    }


def read_key(key):
    """
    Return the lesson and the number that a key means.

    Parameters
    ----------
    key : str or int
        Such as "03.2", "03" or 3. [-]

    Returns
    -------
    lesson : str
        The lesson in two digits.
    number : int
        The number of the exercise, 1 if none is named. [-]

    Raises
    ------
    InputError
        If it is no lesson and number.
    UnknownName
        If there is no such lesson.

    Examples
    --------
    >>> read_key("3.2"), read_key(3)
    (('03', 2), ('03', 1))
    """
    found = re.fullmatch(r"\s*0*(\d{1,2})(?:\.(\d{1,2}))?\s*", str(key))
    if isinstance(key, bool | float) or not found:
        raise InputError(
            f"{shortened(key)} is no exercise: write lesson, point and number in quotes, such as '03.2'"
        )
    lesson, number = f"{int(found[1]):02}", int(found[2] or 1)
    if lesson not in LESSONS or number < 1:
        raise UnknownName(
            f"{shortened(key)}: there are exercises of lessons {LESSONS[0]} to {LESSONS[-1]}, "
            "counted from 1, such as '03.2'"
        )
    return lesson, number


def _makers(lesson):
    """Return the titles and functions of a lesson's exercises."""
    return import_module(f"formulate.classroom.lesson_{lesson}").EXERCISES


def _drawn(key, title, make, seed):
    """Return an exercise, drawn again until its numbers make a good one."""
    for attempt in range(ATTEMPTS):
        task = make(lot(key, seed, attempt))
        faults = faults_of(task)
        if not faults:
            return Exercise(key, title, checked_seed(seed), task)
    raise MissingData(f"{key}: no good numbers in {ATTEMPTS} drawings: {faults[0]}")
