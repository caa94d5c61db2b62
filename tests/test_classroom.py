"""Drawing, reading and judging: what every exercise rests on. Expected values are worked out in the test."""

import random
import subprocess
import sys

import pytest

import formulate as fm
from formulate.classroom import exercise, exercise_titles, exercises
from formulate.classroom.lot import checked_seed, lot
from formulate.classroom.pictures import bars
from formulate.classroom.register import LESSONS
from formulate.classroom.reply import judged_number, judged_option, read_answer
from formulate.classroom.task import Option, Slip, Task, faults_of
from formulate.errors import InputError, UnitError, UnknownName
from formulate.working import Quantity, Step, Working

KEY = f"{LESSONS[0]}.1"
SAYS = "That is P2O5; the question asks for P."


# --- drawing -----------------------------------------------------------------------------


def test_a_seed_gives_what_python_promises_for_it():
    """Python keeps `random()` of a text seed: the documented reproducibility of `random`."""
    by_hand = random.Random("03.1 0 ada")
    drawn = lot("03.1", "Ada ")
    assert drawn.between(0, 9, 1) == int(by_hand.random() * 10)
    assert drawn.one_of("abc") == "abc"[int(by_hand.random() * 3)]


def test_numbers_are_whole_steps_from_end_to_end():
    found = {lot("x", n).between(0.1, 0.5, 0.1) for n in range(200)}
    assert sorted(found) == [0.1, 0.2, 0.3, 0.4, 0.5]
    assert {lot("x", n).between(2, 4, 1) for n in range(100)} == {2, 3, 4}
    assert type(lot("x", 1).between(2, 4, 1)) is int
    assert {lot("x", n).between(0, 1, 0.25) for n in range(99)} == {
        0,
        0.25,
        0.5,
        0.75,
        1,
    }


def test_things_are_drawn_once_each():
    for n in range(50):
        assert sorted(lot("x", n).some_of("abcde", 5)) == list("abcde")
        assert len(set(lot("x", n).some_of("abcde", 2))) == 2


@pytest.mark.parametrize("seed", ["", "  ", None, True, 1.5, ["ada"]])
def test_a_seed_that_names_nobody_is_refused(seed):
    with pytest.raises(InputError, match="give a name"):
        checked_seed(seed)


def test_one_pupil_however_the_name_is_written():
    assert checked_seed("  ADA  Lovelace ") == checked_seed("ada lovelace")
    assert checked_seed("Zoë") == checked_seed("Zoe\N{COMBINING DIAERESIS}")
    assert checked_seed(7) == checked_seed("7")


# --- reading -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "number"),
    [
        (12.5, 12.5),
        ("12.5", 12.5),
        ("12,5", 12.5),
        ("12.5 g", 12.5),
        ("12,5g", 12.5),
        ("= 12.5 grams", 12.5),
        ("about 12.5 g", 12.5),
        ("12500 mg", 12.5),
        ("0.0125 kg", 12.5),
        ("1.25e1 g", 12.5),
        ("1.25 x 10^1 g", 12.5),
        ("1.25 · 10¹ g", 12.5),
        ("125*10**-1", 12.5),
        ("125 × 10⁻¹ g", 12.5),
        ("−12.5\N{NO-BREAK SPACE}g", -12.5),
        ("12.5 g.", 12.5),
        ("12.5.", 12.5),
    ],
)
def test_a_number_is_read_as_pupils_write_it(text, number):
    assert read_answer(text, "g", ("mg", "kg")) == pytest.approx(number, rel=1e-12)


def test_amounts_time_and_money_are_read_too():
    assert read_answer("0.25 mol", "mmol", ("mol",)) == 250
    assert read_answer("2 hours", "min", ("h",)) == 120
    assert read_answer("150 cents", "EUR", ("ct",)) == 1.5
    assert read_answer("101.1 g/mol", "g/mol") == 101.1
    assert read_answer("150 ppm", "mg/L") == 150  # the word of the trade for mg/L
    assert read_answer("pH 5.8", "") == 5.8
    for text in ("12.5 %.", "12.5 percent", "12.5 per cent", "12,5%!"):
        assert read_answer(text, "%") == 12.5


@pytest.mark.parametrize(
    "text", ["1/3", "25 × 0.5 g", "12-15 g", "12 – 15", "3*4", "2^3"]
)
def test_arithmetic_is_to_be_worked_out(text):
    with pytest.raises(InputError, match=r"more than one number: work it out.*1\.23 g"):
        read_answer(text, "g")


def test_a_unit_that_is_not_taken_names_those_that_are():
    with pytest.raises(
        UnitError, match=r"'mmol/L' is no unit of this answer.*mg/L.*g/L"
    ):
        read_answer("3 mmol/L", "mg/L", ("g/L",))
    with pytest.raises(UnitError, match="plain number"):
        read_answer("5.8 g", "")


# --- judging -----------------------------------------------------------------------------


SLIPS = (Slip(20.0, SAYS),)


def judged(answer, right=8.73, slips=SLIPS):
    return judged_number(answer, right, 0.01 * right, "g", ("kg",), slips)


@pytest.mark.parametrize(
    ("answer", "verdict", "says"),
    [
        (8.73, "right", "Right: 8.73 g."),
        ("8,73 g", "right", "Right: 8,73 g."),
        (8.73 * 1.0099, "right", "Right"),
        (20.1, "slip", SAYS),
        (8730, "slip", "decimal point"),
        (0.0873, "slip", "decimal point"),
        (-8.73, "slip", "sign"),
        (8.9, "not yet", "Very near"),
        (15, "not yet", "too large"),
        (1, "not yet", "too small"),
        ("8.73 L", "cannot read", "no unit of this answer"),
    ],
)
def test_an_answer_gets_its_sentence(answer, verdict, says):
    reply = judged(answer)
    assert (reply.verdict, bool(reply)) == (verdict, verdict == "right")
    assert says in str(reply)


def test_two_slips_of_one_number_are_both_told():
    reply = judged(20.0, slips=(Slip(20.0, SAYS), Slip(20.05, "That is the hydrate.")))
    assert str(reply) == f"{SAYS} Or: That is the hydrate."


def test_an_option_by_letter_or_words():
    options = {
        "A": Option("the sodium"),
        "B": Option("the EC", "It follows from ions."),
    }
    assert judged_option("a", "A", options).right
    assert all(
        judged_option(text, "A", options).right for text in ("(A)", "a)", "A.", "'A'")
    )
    bracket = {"A": Option("salt (NaCl)"), "B": Option("sand")}
    assert judged_option("Salt (NaCl).", "A", bracket).right
    assert judged_option(" The  Sodium ", "A", options).right
    assert judged_option("B", "A", options).says == "It follows from ions."
    assert judged_option("", "A", options).verdict == "cannot read"
    assert "A, B" in judged_option("C", "A", options).says
    assert "A, B" in judged_option(3, "A", options).says


def task(value=2.0, slips=(), **more):
    step = Step("salt", (Quantity(value, "g"), "+", Quantity(2.0, "g")), "g")
    return Task({}, "?", Working("salt", (step,)), ("a", "b", "c"), slips=slips, **more)


def test_numbers_that_make_no_good_exercise_are_drawn_again():
    assert faults_of(task()) == ()
    assert faults_of(task(slips=(Slip(4.05, "near"),))) == (
        "a slip is the right answer: near",
    )
    assert faults_of(task(slips=(Slip(4.2, "far"),))) == ()
    assert faults_of(task(options={"A": Option("x")}, right="B")) == (
        "no option is right",
    )


# --- exercises ---------------------------------------------------------------------------


def test_hints_come_one_after_the_other_and_stay_at_the_last():
    one = exercise(KEY, seed="ada")
    said = [str(one.hint()) for _ in range(4)]
    assert [text[:11] for text in said] == [
        "Hint 1 of 3",
        "Hint 2 of 3",
        "Hint 3 of 3",
        "Hint 3 of 3",
    ]
    assert str(one.hint(1)) == said[0]
    for step in (0, 4, "2", True):
        with pytest.raises(InputError, match="1 to 3"):
            one.hint(step)


def test_a_plain_terminal_shows_the_question_and_not_the_answer():
    one = exercise(KEY, seed="ada")
    assert repr(one) == str(one)
    assert one.asked in repr(one)
    assert "slips" not in repr(one)
    assert not any(hint in repr(one) for hint in one.task.hints)


def test_a_lesson_alone_is_its_first_exercise():
    lesson = LESSONS[0]
    assert (
        exercise(int(lesson), seed="ada").key == exercise(lesson, seed="ada").key == KEY
    )
    assert [one.key for one in exercises(lesson)] == [
        k for k in exercise_titles() if k.startswith(lesson)
    ]
    assert fm.exercise(KEY, seed="ada").question == exercise(KEY, seed="ada").question


@pytest.mark.parametrize("key", ["99", "00", "03.99", "03.0"])
def test_an_exercise_that_is_not_there_is_told(key):
    with pytest.raises(UnknownName, match="exercises"):
        exercise(key)


@pytest.mark.parametrize("key", ["", "three", 3.1, "3,1", True, None, "03.2.1"])
def test_a_key_that_is_none_is_told(key):
    with pytest.raises(InputError, match=r"'03\.2'"):
        exercise(key)


def test_the_pupil_is_named_with_or_without_seed():
    assert exercise(KEY, "Ada").question == exercise(KEY, seed="Ada").question
    asked = [one.question for one in exercises(KEY[:2], "Ada")]
    assert asked == [one.question for one in exercises(KEY[:2], seed="Ada")]
    assert fm.exercises is exercises


def test_exercises_of_floors_1_to_4_need_no_numpy():
    """What a notebook without any server computes with: a process where those are barred."""
    lines = (
        "import sys",
        "for name in ('numpy', 'scipy', 'pandas', 'matplotlib', 'jinja2'): sys.modules[name] = None",
        "from formulate.classroom import exercises",
        "print(sum(len(exercises(key, seed='ada')) for key in ('02', '03', '04')))",
    )
    done = subprocess.run(
        [sys.executable, "-c", "\n".join(lines)],
        check=False,
        capture_output=True,
        text=True,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert int(done.stdout) >= 15


# --- pictures ----------------------------------------------------------------------------


def test_bars_are_as_long_as_their_values():
    import re

    drawn = bars("K", {"a": 50.0, "b": 100.0}, unit="mg", wanted={"a": 75})
    first, second = (
        float(w)
        for w in re.findall(r'<rect x="170.0" y="\d+" width="([\d.]+)"', drawn.svg)
    )
    assert first / second == pytest.approx(0.5, abs=0.001)
    mark = float(re.search(r'<path d="M([\d.]+)', drawn.svg)[1])
    assert (mark - 170) / second == pytest.approx(0.75, abs=0.001)


def test_a_meter_that_shows_two_decimals_is_drawn_with_two():
    drawn = bars("EC", {"a": 1.88, "b": 0.07}, unit="mS/cm", decimals=2)
    for text in (str(drawn), drawn.alt_text, drawn.svg, drawn._repr_html_()):
        assert "1.88" in text
        assert "0.07" in text
        assert "1.880" not in text
        assert "0.0700" not in text


def test_a_picture_has_words_and_a_table_and_is_escaped():
    drawn = bars("<K>", {"a & b": {"K": 38.67, "<N>": 13.85}}, unit="%")
    page = drawn._repr_html_()
    assert page.count("<svg") == page.count("<desc>") == page.count("<table>") == 1
    assert "<K>" not in page
    assert "<N>" not in page
    assert "&lt;N&gt; 13.85" in page
    assert "38.67" in page.split("<table>")[1]


def test_what_cannot_be_drawn_is_told_at_once():
    with pytest.raises(InputError) as told:
        bars("K", {"a": -1, "b": float("nan")}, unit="g")
    assert len(told.value.faults) == 2
    with pytest.raises(InputError, match="nothing to draw"):
        bars("K", {"a": 0}, unit="g")
