"""What the tests of all lessons hold of an exercise: its answer, its slips, numbers for each pupil."""

import os

import pytest

from formulate.classroom import exercise, exercises

# IUPAC standard atomic weights, abridged (CIAAW 2021), from memory; typed, so that no answer rests on the program's
H, C, N, OX, NA, MG, P, S = 1.008, 12.011, 14.007, 15.999, 22.990, 24.305, 30.974, 32.06
CL, K, CA, MN, CU, ZN, MO = 35.45, 39.098, 40.078, 54.938, 63.546, 65.38, 95.95

DEEP = os.environ.get("FORMULATE_HYPOTHESIS") == "deep"
PUPILS = 1000 if DEEP else 40
DRAWN, DISTINCT = (3000, 1000) if DEEP else (120, 100)
CLOSE = 0.002  # by how much of itself an answer may differ


def pupils(lesson, number, called="pupil"):
    """Return an exercise as each pupil of a class gets it."""
    key = f"{lesson}.{number}"
    return [exercise(key, seed=f"{called} {n}") for n in range(PUPILS)]


def keys(lesson):
    """Return the keys of a lesson's exercises, such as "03.1"."""
    return [one.key for one in exercises(lesson)]


def has_sets_for_a_school(key):
    """Hold that pupils have numbers of their own: most drawings differ, a thousand at least."""
    tasks = (exercise(key, seed=n).task for n in range(DRAWN))
    sets = {repr(sorted(task.given.items())) for task in tasks}
    assert len(sets) >= DISTINCT, f"{key}: {len(sets)} sets of numbers"


def given(one, *names):
    """Return some of the numbers that an exercise gives, in the order asked."""
    return [one.task.given[name] for name in names]


def written(one, value, form):
    """Return a number as a pupil writes it, with the unit of the answer."""
    return f"{value:{form}} {one.task.unit}".strip()


def agrees(one, value, close=CLOSE):
    """Hold that a value worked out by hand is the answer, and is taken when written."""
    assert one.task.answer == pytest.approx(value, rel=close), f"{one}\n{value}"
    assert one.check(written(one, value, ".6g")).right, f"{one}\n{value}"


def is_slip(one, wrong, word, form=None):
    """
    Hold that a wrong answer is met by the sentence that names its slip.

    With a form such as ".8g" the answer is a number, written in that form with its unit; without one it is said as it
    is.
    """
    reply = one.check(wrong if form is None else written(one, wrong, form))
    assert reply.verdict == "slip", f"{one}\n{wrong}: {reply}"
    assert word in reply.says, f"{one}\n{wrong}: {reply}"


def follows(tasks, answer_of, slips_of):
    """Hold each pupil's answer and slips, said without unit, against two functions of what is given."""
    named = 0
    for one in tasks:
        numbers = one.task.given
        right = answer_of(numbers)
        assert abs(one.task.answer / right - 1) < CLOSE, f"{one}\n{right}"
        assert one.check(f"{right:.3g}").right, f"{one}\n{right}"
        for wrong, word in slips_of(numbers, right):
            is_slip(one, f"{wrong:.4g}", word)
            named += 1
    assert named >= 2 * len(tasks), f"{named} slips of {len(tasks)} pupils"
