"""What holds for every exercise of every lesson, whatever its numbers.

Each is drawn for 25 pupils; for 1 000 with FORMULATE_HYPOTHESIS=deep. What an exercise asks and answers is checked
against arithmetic of its own in tests/test_lesson_*.py; here: it can be answered, a right answer is never refused,
slips are named, nothing tells the answer too early.
"""

import os
import re
from collections import Counter
from functools import cache
from math import log10

import pytest
from test_expected import value_of

from formulate.classroom.lot import lot
from formulate.classroom.register import LESSONS, _makers, exercise, exercise_titles
from formulate.classroom.task import HINTS, faults_of

PUPILS = 1000 if os.environ.get("FORMULATE_HYPOTHESIS") == "deep" else 25
KEYS = tuple(exercise_titles())
LEAST_EACH = 5
SHARE_NAMED = 0.9  # of typical slips: the bar


@cache
def drawn(key):
    return [exercise(key, seed=f"pupil {n}") for n in range(PUPILS)]


NUMERIC = tuple(key for key in KEYS if not exercise(key, seed="Ada").task.options)


def with_numbers(key):
    """Return an exercise that asks for a number, as drawn for each pupil."""
    assert not any(one.task.options for one in drawn(key))
    return drawn(key)


def rounded(value, digits):
    """Return a number as pupils write it, with so many digits."""
    if value == 0:
        return "0"
    from math import floor

    decimals = digits - 1 - floor(log10(abs(value)))
    return f"{round(value, decimals):.{max(decimals, 0)}f}"


def readings(one):
    """Yield the right answer as pupils may write it."""
    answer, task = one.task.answer, one.task
    for digits in (3, 4, 6):
        text = rounded(answer, digits)
        if abs(float(text) - answer) > task.margin:
            continue
        yield float(text)
        yield text
        yield f"{text} {task.unit}"
        yield f"  {text}{task.unit} "
        yield f"≈ {text} {task.unit}"
        if re.fullmatch(r"-?\d+\.(\d{1,2}|\d{4,})|-?0\.\d+", text):
            yield f"{text.replace('.', ',')} {task.unit}"
    yield f"{answer / 10:.6f}e1 {task.unit}"
    yield f"{answer / 10:.6f} · 10^1 {task.unit}"


def test_every_lesson_has_at_least_five():
    for lesson in LESSONS:
        count = sum(key.startswith(f"{lesson}.") for key in KEYS)
        assert count >= LEAST_EACH, f"lesson {lesson}: {count} exercises"


@pytest.mark.parametrize("key", KEYS)
def test_numbers_of_pupils_differ(key):
    """At least 1 000 sets are there: of so many pupils few meet, by the birthday rule.

    Of N sets, n pupils draw N (1 − exp(−n/N)) different ones: of 1 000 sets, 1 000 pupils 632 and 25 pupils 24.7.
    """
    found = [tuple(map(repr, one.task.given.items())) for one in drawn(key)]
    assert len(set(found)) >= (600 if PUPILS == 1000 else 23)
    assert len({one.question for one in drawn(key)}) > 1


@pytest.mark.parametrize("key", KEYS)
def test_the_same_pupil_has_the_same_numbers(key):
    first = exercise(key, seed="Ada")
    again = exercise(key, seed="  ada ")
    assert dict(first.task.given) == dict(again.task.given)
    assert str(first) == str(again)
    assert first.task.answer == again.task.answer


@pytest.mark.parametrize("key", KEYS)
def test_most_first_drawings_are_good(key):
    lesson, number = key.split(".")
    make = _makers(lesson)[int(number) - 1][1]
    bad = [n for n in range(PUPILS) if faults_of(make(lot(key, f"pupil {n}", 0)))]
    assert len(bad) <= 0.2 * PUPILS


@pytest.mark.parametrize("key", NUMERIC)
def test_a_right_answer_is_never_refused(key):
    for one in with_numbers(key):
        tried = list(readings(one))
        assert len(tried) >= 3
        for answer in tried:
            reply = one.check(answer)
            assert reply.right, f"{one}\n{answer!r}: {reply}"


SIZES = {  # (unit offered, unit asked): how many of the first make one of the second
    ("EUR/kg", "EUR"): 1,  # of one kilogram
    ("L", "mL"): 0.001,
    ("ct", "EUR"): 100,
    ("dS/m", "mS/cm"): 1,
    ("g", "kg"): 1000,
    ("g/L", "mg/L"): 0.001,
    ("g/kg", "%"): 10,
    ("h", "day"): 24,
    ("kg", "g"): 0.001,
    ("m3", "L"): 0.001,
    ("mL", "L"): 1000,
    ("mg", "g"): 1000,
    ("mg/L", "g/L"): 1000,
    ("mg/g", "%"): 10,
    ("mg/kg", "%"): 10_000,
    ("mmol", "umol"): 0.001,
    ("mol", "mmol"): 0.001,
    ("mol", "umol"): 1e-6,
    ("oz", "g"): 16 / 453.59237,  # avoirdupois, NIST Handbook 44 appendix C
    ("uS/cm", "mS/cm"): 1000,
    ("ueq/L", "meq/L"): 1000,
    ("ug/L", "mg/L"): 1000,
    ("umol/L", "mmol/L"): 1000,
    # hardness as CaCO3 of 100.087 and CaO of 56.077 g/mol, IUPAC masses: 1 °dH is 10 mg/L CaO, 1 °fH 10 mg/L CaCO3
    ("mg/L as CaCO3", "meq/L"): 100.087 / 2,
    ("°dH", "meq/L"): 56.077 / 2 / 10,
    ("mg/L as CaCO3", "°dH"): 10 * 100.087 / 56.077,
    ("French degree", "°dH"): 100.087 / 56.077,
}


@pytest.mark.parametrize("key", NUMERIC)
def test_a_right_answer_is_taken_in_every_unit_offered(key):
    for one in with_numbers(key):
        for other in one.task.units:
            answer = f"{one.task.answer * SIZES[other, one.task.unit]:.6g} {other}"
            assert one.check(answer).right, f"{one}\n{answer}"


@pytest.mark.parametrize("key", NUMERIC)
def test_the_margin_is_small(key):
    """So that rounding passes and slips do not: at most 5 %, or a tenth of a pH."""
    for one in with_numbers(key):
        task = one.task
        assert task.margin > 0
        if task.within is None:
            assert task.within_percent <= 5
        else:
            assert task.within <= max(0.1, 0.05 * abs(task.answer))


@pytest.mark.parametrize("key", KEYS)
def test_slips_are_named(key):
    named = told = 0
    for one in drawn(key):
        task = one.task
        for slip in task.slips:
            told += 1
            reply = one.check(slip.value)
            assert not reply.right, f"{one}\n{slip}"
            named += reply.verdict == "slip" and slip.says in reply.says
        for letter, option in task.options.items():
            if letter != task.right:
                told += 1
                named += one.check(letter).says == option.says != ""
    assert told >= 2 * PUPILS
    assert named >= SHARE_NAMED * told


@pytest.mark.parametrize("key", KEYS)
def test_an_option_is_taken_by_letter_and_by_words(key):
    for one in drawn(key):
        task = one.task
        if not task.options:
            assert isinstance(task.answer, float)
            continue
        assert one.check(task.right.lower()).right
        assert one.check(f" {task.options[task.right].words} ").right
        assert len({option.words for option in task.options.values()}) >= 3
        assert one.check("Q").verdict == "cannot read"


@pytest.mark.parametrize("key", KEYS)
def test_nothing_tells_the_answer_too_early(key):
    """A text that pupils with other answers read too tells nothing; one of a pupil's own must not."""
    readers = Counter(text for one in drawn(key) for text in set(early_texts(one)))
    for one in drawn(key):
        task = one.task
        for text in early_texts(one):
            assert text.strip()
            if task.options or readers[text] > 1:
                continue
            for number in re.findall(r"\d+(?:\.\d+)?", text):
                close = abs(float(number) - task.answer) <= task.margin
                assert not close, f"{one}\n{text}"
        assert len(task.hints) == HINTS == len(set(task.hints))


def early_texts(one):
    """Return all that a pupil may read before the answer is right."""
    task = one.task
    wrong = [o.says for letter, o in task.options.items() if letter != task.right]
    return [*task.hints, *(slip.says for slip in task.slips), *wrong]


@pytest.mark.parametrize("key", KEYS)
def test_the_working_ends_with_the_answer_and_holds_as_printed(key):
    for one in drawn(key)[:25]:
        shown = one.solution()
        assert one.check(shown.answer).right
        for line in shown.working.lines:
            arithmetic = line.split("  [")[0].rpartition(": ")[2]
            left, _, right = arithmetic.rpartition(" = ")
            result = re.match(r"-?[\d.]+", right).group()
            half = 0.5 * 10.0 ** -len(result.partition(".")[2])
            again = value_of(left, log10)
            assert abs(again - float(result)) <= half * 1.000001 + 1e-12, line
        assert f"Answer: {shown.says}" in str(shown)


@pytest.mark.parametrize("key", KEYS)
def test_what_is_shown_is_escaped_and_whole(key):
    one = exercise(key, seed="<b>Ada & Co</b>")
    page = one._repr_html_()
    assert "<b>ada" not in page
    assert "&lt;b&gt;ada &amp; co" in page
    assert one.title in str(one)
    for cell in (cell for row in one.task.table for cell in row):
        assert str(cell) in str(one)


UNREADABLE = {
    "": "empty",
    "   ": "empty",
    None: "no answer yet",
    ...: "no answer yet",
    True: "no answer yet",
    "a lot": "no number",
    "12 parsec": "no unit of this answer|plain number",
    "1,234": "1234 or 1.234",
    "1.2.3": "no number",
    "1 2 3": "no unit of this answer|plain number",
}


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("answer", UNREADABLE, ids=repr)
def test_what_cannot_be_read_is_said_kindly_and_exactly(key, answer):
    one = exercise(key, seed="ada")
    reply = one.check(answer)
    assert reply.verdict == "cannot read"
    assert not reply
    if not one.task.options:
        assert re.search(UNREADABLE[answer], str(reply)), str(reply)
    assert "!" not in str(reply)
