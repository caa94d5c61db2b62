"""Each printed line, worked out again from what is printed, gives the printed result."""

import html
import math
import re
from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.working import (
    LogStep,
    Quantity,
    Shown,
    Step,
    Working,
    printed,
    printed_mg_l,
    printed_percent,
)

SIGNS = "+−×÷"
UNITS = ["", "mg/L", "oz/100 US gal", "mmol/L of a divalent ion", "m3", "°dH", "%"]
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")

# twelve orders of magnitude, as round numbers and as measured ones
sizes = st.integers(-6, 5).map(lambda power: 10.0**power)
round_numbers = st.integers(1, 999).map(float)
measured = st.floats(1, 10, exclude_max=True)
values = st.builds(lambda a, b: a * b, st.one_of(round_numbers, measured), sizes)
quantities = st.builds(Quantity, values, st.sampled_from(UNITS))
signed = st.builds(
    lambda quantity, sign: Quantity(sign * quantity.value, quantity.unit),
    quantities,
    st.sampled_from([1, 1, 1, -1]),
)


@st.composite
def steps(draw, signs=SIGNS, numbers=signed):
    terms = [draw(numbers)]
    for _ in range(draw(st.integers(0, 4))):
        terms += [draw(st.sampled_from(signs)), draw(numbers)]
    return Step("x", tuple(terms), draw(st.sampled_from(UNITS)))


def read(text):
    """Return the number at the start of a printed term, exactly."""
    return Fraction(NUMBER.match(text).group())


def again(left):
    """Work out a printed line exactly: products first, then sums, units ignored."""
    pieces = re.split(r" ([+−×÷]) ", left)
    totals = [read(pieces[0])]
    for sign, term in zip(pieces[1::2], pieces[2::2], strict=True):
        if sign == "×":
            totals[-1] *= read(term)
        elif sign == "÷":
            totals[-1] /= read(term)
        else:
            totals.append(read(term) if sign == "+" else -read(term))
    return sum(totals)


def check_line(line):
    """The printed result is met within half its last digit.

    The allowance beyond half a digit is that of binary numbers, 1e-12 of the result.
    """
    left, _, right = line.rpartition(" = ")
    result = NUMBER.match(right).group()
    half = Fraction(1, 2) / 10 ** len(result.partition(".")[2])
    result = Fraction(result)
    assert abs(again(left) - result) <= half + abs(result) / 10**12, line


@given(steps())
def test_a_printed_line_gives_its_printed_result(step):
    check_line(step.arithmetic)


@given(steps(signs="×÷", numbers=quantities))
def test_a_printed_product_gives_its_printed_result(step):
    check_line(step.arithmetic)


@pytest.mark.parametrize(
    "numbers",
    [
        (0.1, "+", 0.2, "−", 0.3),
        (3, "×", 0.1, "−", 0.3),
        (200, "−", 199.99999999999997),
        (1e6, "+", 0.1, "−", 1e6),
    ],
)
def test_a_printed_difference_gives_its_printed_result(numbers):
    """What is left of binary rounding is not printed as a result."""
    terms = [x if isinstance(x, str) else Quantity(x, "L") for x in numbers]
    check_line(Step("x", tuple(terms), "L").arithmetic)


@given(steps())
def test_the_line_holds_every_unit_and_sign_in_order(step):
    left, _, right = step.arithmetic.rpartition(" = ")
    pieces = re.split(r" ([+−×÷]) ", left)
    for term, piece in zip(step.terms, pieces, strict=True):
        if isinstance(term, str):
            assert piece == term
        else:
            assert NUMBER.sub("", piece, count=1).strip() == term.unit
    assert NUMBER.sub("", right, count=1).strip() == step.unit


@given(st.lists(quantities, min_size=1, max_size=5), st.randoms(use_true_random=False))
def test_the_order_of_a_sum_does_not_matter(numbers, random):
    def total(these):
        terms = [these[0]]
        for quantity in these[1:]:
            terms += ["+", quantity]
        return Step("x", tuple(terms)).value

    shuffled = random.sample(numbers, len(numbers))
    assert math.isclose(total(shuffled), total(numbers), rel_tol=1e-12)


def test_products_come_before_sums():
    """School rule: 1 + 2 × 3 − 8 ÷ 4 is 5, not 0.25 or 1."""
    terms = [Quantity(1), "+", Quantity(2), "×", Quantity(3)]
    step = Step("x", (*terms, "−", Quantity(8), "÷", Quantity(4)))
    assert step.value == 5.0


WORKED = [
    # tests/published/worked_examples_ppm.csv: id, terms, printed answer
    ("w-oz-cn-1", (75, "×", 15, "÷", 100), "11.25"),
    ("w-5gal", (100, "×", 5, "÷", 20, "÷", 75), "0.33"),
    ("w-cn-100N", (100, "÷", 0.155), "645"),
    ("w-massbal-N", (40, "×", 3), "120"),
    ("w-sop-K", (50, "×", 0.8301), "41.5"),
]


@pytest.mark.parametrize(("key", "numbers", "answer"), WORKED)
def test_a_worked_example_of_a_university_page(key, numbers, answer):
    terms = [x if isinstance(x, str) else Quantity(x) for x in numbers]
    half = 0.5 * 10.0 ** -len(answer.partition(".")[2])
    assert Step(key, tuple(terms)).value == pytest.approx(float(answer), abs=half)


@pytest.mark.parametrize("sign", ["-", "*", "/", ":", "", "x", "·"])
def test_a_sign_that_is_none_of_the_four_is_refused(sign):
    """A hyphen must not silently divide: 5 - 3 is not 1.6667."""
    with pytest.raises(ValueError, match="sign"):
        _ = Step("x", (Quantity(5.0), sign, Quantity(3.0))).arithmetic


def test_a_step_names_its_source_and_its_words():
    step = Step("rate", (Quantity(6.0, "g"), "÷", Quantity(2.0, "L")), "g/L", "nist")
    assert str(step) == "rate: 6 g ÷ 2 L = 3.0000 g/L  [nist]"


def test_a_working_numbers_its_lines_and_ends_with_its_result():
    first = Step("a", (Quantity(2.0, "g"), "×", Quantity(3.5)), "g")
    last = Step("b", (Quantity(6.0, "g"), "÷", Quantity(4.0, "L")), "g/L")
    working = Working("title", (first, last))
    assert (working.value, working.unit) == (1.5, "g/L")
    assert str(working).splitlines() == ["title", f"  1. {first}", f"  2. {last}"]


def chain(first, *terms):
    """Return a working whose second line goes on with the result of the first."""
    carried = Quantity(float(first.value), first.unit)
    return Working("title", (first, Step("y", (carried, *terms), "L")))


def check_chain(working):
    """Each line holds, and the second goes on with what the first ended with."""
    lines = [line.partition(": ")[2] for line in str(working).splitlines()[1:]]
    for line in lines:
        check_line(line)
    result = NUMBER.match(lines[0].rpartition(" = ")[2]).group()
    half = Fraction(1, 2) / 10 ** len(result.partition(".")[2])
    assert abs(read(lines[1]) - Fraction(result)) <= half, lines


@given(steps(), st.sampled_from(SIGNS), signed)
def test_a_printed_chain_gives_its_printed_results(first, sign, other):
    check_chain(chain(first, sign, other))


@pytest.mark.parametrize("other", [0.3, 0.33, 0.3333, 0.333333, 0.33333334, -0.333333])
def test_a_chain_that_cancels_gives_its_printed_results(other):
    """A third, less nearly a third: the first line must print the digits this needs."""
    third = Step("x", (Quantity(1.0), "÷", Quantity(3.0)), "g")
    check_chain(chain(third, "−", Quantity(other, "g")))


def test_a_working_in_a_notebook_shows_text_as_text():
    evil = "<script>alert('x')</script>"
    step = Step(evil, (Quantity(1.0, evil),), evil, evil)
    shown = Working(evil, (step,))._repr_html_()
    assert "<script" not in shown
    assert shown.count("&lt;script&gt;") == 5


def test_a_noun_shows_in_a_notebook_what_it_prints_and_no_markup():
    class Noun(Shown):
        def __str__(self):
            return "a <b> & 'c'\nsecond line"

    shown = Noun()._repr_html_()
    assert "<b>" not in shown
    assert html.unescape(shown) == f"<pre>{Noun()}</pre>"


reals = st.builds(lambda a, s: a * s, values, st.sampled_from([1, -1]))


@given(reals, st.integers(1, 12))
def test_printed_rounds_to_so_many_digits_and_never_cuts_whole_ones(value, digits):
    exact = Decimal(value)
    whole = max(exact.adjusted() + 1, 0)
    expected = Context(max(digits, whole), rounding=ROUND_HALF_EVEN).create_decimal(
        exact
    )
    assert Decimal(printed(value, digits)) == expected


@given(reals, st.integers(1, 12))
def test_printed_has_as_many_digits_as_asked_and_no_exponent(value, digits):
    text = printed(value, digits)
    assert re.fullmatch(r"-?\d+(\.\d+)?", text)
    shown = text.lstrip("-0.").replace(".", "")
    assert len(shown) == digits or ("." not in text and len(shown) > digits)


@given(reals, st.integers(1, 12))
def test_printing_what_was_printed_changes_nothing(value, digits):
    text = printed(value, digits)
    assert printed(float(text), digits) == text
    assert printed(-value, digits) == ("-" + text).replace("--", "")


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (0, 4, "0"),
        (-0.0, 4, "0"),
        (9.9996, 4, "10.00"),
        (99.996, 4, "100.0"),
        (0.99996, 4, "1.000"),
        (999.96, 4, "1000"),
        (0.00096, 1, "0.001"),
        (123456.7, 3, "123457"),
        (-1.5, 4, "-1.500"),
        (math.inf, 4, "inf"),
        (math.nan, 4, "nan"),
    ],
)
def test_printed_at_the_edges(value, digits, text):
    assert printed(value, digits) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [(1.0, "1.000"), (0.99949, "0.999"), (0.05, "0.0500"), (-210.04, "-210.0")],
)
def test_a_concentration_has_four_digits_and_three_below_one(value, text):
    assert printed_mg_l(value) == text


@given(st.floats(-1e6, 1e6))
def test_a_percentage_has_its_sign_and_one_decimal(value):
    text = printed_percent(value)
    assert re.fullmatch(r"0\.0 %|[+-]\d+\.\d %", text)
    assert float(text.removesuffix(" %")) == pytest.approx(value, abs=0.05 + 1e-9)


@given(st.floats(1e-9, 1e6), st.integers(0, 9))
def test_a_logarithm_on_the_board_gives_what_is_printed(number, shift):
    step = LogStep("pH", Quantity(number, "µmol/kg"), float(shift))
    line, result, holds = step.written({}, 5)
    assert holds
    shown = float(re.search(r"lg ([\d.]+)", line)[1])
    again = shift - math.log10(shown)
    half = 0.5 * 10.0 ** -len(result.partition(".")[2])
    assert again == pytest.approx(float(result), abs=half * (1 + 1e-9))
    assert step.value == pytest.approx(float(result), abs=2 * half)


def test_a_logarithm_takes_what_the_line_before_gave():
    first = Step("activity", (Quantity(2.0, "µmol/kg"), "÷", Quantity(3.0)), "µmol/kg")
    last = LogStep("pH", Quantity(first.value, "µmol/kg"), 6.0)
    lines = Working("pH", (first, last)).lines
    assert "lg 0.66667 µmol/kg" in lines[1]
    assert str(last).endswith("6.1761")


@given(st.floats(-8, 8, allow_nan=False), st.integers(3, 5))
def test_a_power_of_ten_gives_its_printed_result(power, digits):
    from formulate.working import PowerStep

    line, result, holds = PowerStep(
        "", Quantity(round(power, digits)), "mol/L"
    ).written({}, 5)
    shown = re.match(r"10\^(-?[\d.]+) = ", line)[1]
    half = 0.5 * 10.0 ** -len(result.partition(".")[2])
    assert holds
    assert abs(10 ** float(shown) - float(result)) <= half * (1 + 1e-9)
    assert line.endswith("mol/L")
