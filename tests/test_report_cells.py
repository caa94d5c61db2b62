"""Numbers and values as laboratories print them."""

import pytest

from formulate.errors import InputError
from formulate.ingredients.report_cells import (
    cells_in,
    decimal_marks,
    may_start_value,
    number_in_report,
)


@pytest.mark.parametrize(
    ("text", "marks", "value"),
    [
        ("94,4", "", 94.4),
        ("94.4", "", 94.4),
        ("0,123", "", 0.123),
        ("1.234,5", "", 1234.5),
        ("1,234.5", "", 1234.5),
        ("1.234.567", "", 1234567.0),
        ("1'250", "", 1250.0),
        ("1.250", ",", 1250.0),
        ("1,250", ".", 1250.0),
        ("1,250", ",", 1.25),
        ("1.250", "", 1.25),
        ("1e-3", "", 0.001),
        ("-0,02", "", -0.02),
    ],
)
def test_numbers_by_the_decimal_mark_of_the_report(text, marks, value):
    assert number_in_report(text, frozenset(marks))[0] == value


@pytest.mark.parametrize(
    ("text", "marks"),
    [("1,250", ""), ("1.250", ".,"), ("12.06.2025", ""), ("1,23,4", ""), ("x", "")],
)
def test_a_number_that_reads_two_ways_is_refused(text, marks):
    with pytest.raises(InputError):
        number_in_report(text, frozenset(marks))


def test_the_decimal_mark_is_seen_from_the_numbers():
    assert decimal_marks(["94,4", "1.250", "7"]) == {","}
    assert decimal_marks(["94.4", "1,250"]) == {"."}
    assert decimal_marks(["94.4", "18,3"]) == {",", "."}
    assert decimal_marks(["1.234,5"]) == {","}
    assert decimal_marks(["1.250", "12.06.2025"]) == frozenset()


@pytest.mark.parametrize(
    ("text", "sign", "number", "upper", "rest"),
    [
        ("94,4 mg/l DIN 38406", "", "94,4", "", "DIN 38406"),
        ("< 0,05 mg/l", "<", "0,05", "", ""),
        ("less than 0.05 mg/L", "<", "0.05", "", ""),
        ("unter 0,05", "<", "0,05", "", ""),
        ("> 5", ">", "5", "", ""),
        ("80 - 110 mg/L", "", "80", "110", ""),
        ("80–110", "", "80", "110", ""),
        ("6,5…9,5", "", "6,5", "9,5", ""),
        ("80 bis 110", "", "80", "110", ""),
        ("<0.05-0.12", "", "0", "0.12", ""),
        ("94.4 ± 5 mg/L", "", "94.4", "", ""),
        ("n.n. mg/l", "nothing", "", "", ""),
        ("nicht nachweisbar", "nothing", "", "", ""),
        ("no detectado", "nothing", "", "", ""),
        ("-", "unmeasured", "", "", ""),
        ("16,2°dH (hart)", "", "16,2", "", "(hart)"),
    ],
)
def test_values_as_laboratories_print_them(text, sign, number, upper, rest):
    cells, behind = cells_in(text)
    assert (cells[0].sign, cells[0].number, cells[0].upper) == (sign, number, upper)
    assert behind == rest


@pytest.mark.parametrize("text", ["9x4.4 mg/L", "94/4", "94.4a mg/L", "94=4"])
def test_a_number_that_runs_into_something_is_refused(text):
    with pytest.raises(InputError, match="runs into"):
        cells_in(text)


def test_two_numbers_are_two_values_and_a_falling_pair_is_no_range():
    assert [cell.number for cell in cells_in("5 -2,2")[0]] == ["5", "-2,2"]
    assert [cell.number for cell in cells_in("  651 2790")[0]] == ["651", "2790"]
    assert cells_in("  651 2790")[0][0].gap
    assert may_start_value("<0,05")
    assert not may_start_value("Nitrat")
