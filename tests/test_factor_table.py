"""Published conversion factors: each right within its digits, or explained by name."""

import csv
from pathlib import Path

import pytest

from formulate.claims.factor_table import check_factor_table
from formulate.claims.published_table import check_table
from formulate.errors import InputError

FACTORS = Path(__file__).parent / "published" / "factor_tables.csv"


def rows_of(source):
    with FACTORS.open(encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if row["source_key"] == source]


def check_of(source):
    lines = [f"{r['from']};{r['to']};{r['factor']}" for r in rows_of(source)]
    return check_factor_table("\n".join(["from;to;factor", *lines]) + "\n")


@pytest.mark.parametrize("source", ["vt-spes201", "oxide-divisors", "eu-2019-1009"])
def test_each_published_factor(source):
    # tests/published/factor_tables.csv: conversion_factors.csv of the same folder, the verdict
    # from its column difference_percent and the last printed digit
    rows, check = rows_of(source), check_of(source)
    single = [finding for finding in check.findings if finding.subject[:5] == "line "]
    assert len(single) == len(rows)
    for row, finding in zip(rows, single, strict=True):
        assert finding.verdict == row["expected"], finding
        assert row["words"] in finding.what, finding


def test_item_3_a_pair_that_is_not_reciprocal_is_told():
    # 1.2051 is not the reciprocal of 0.8301, which is 1.2046 to 1.2047
    check = check_of("vt-spes201")
    pairs = {f.subject: f for f in check.findings if f.subject.startswith("lines")}
    wrong = [subject for subject, f in pairs.items() if f.verdict == "wrong"]
    assert any("K to K2O" in subject for subject in wrong)
    assert pairs["lines 9 and 10, Mg to MgO and back"].is_right
    assert pairs["lines 2 and 3, P to P2O5 and back"].is_right


@pytest.mark.parametrize(
    ("text", "verdicts"),
    [
        ("P2O5 × 0.4364 = P\nK to K2O: 1.2046\nCaO / 1.3992 = Ca\n", ["right"] * 3),
        ("K to K2O;P2O5 to P\n1,2046;0,4364\n", ["right", "right"]),
        ("conversion;multiply by\nK2O to K;0.8302\n", ["right"]),
        ("from;to;divide by\nK2O;K;1.2046\n", ["right"]),
        ("from;to;factor\nUS gallon;L;3.785\n", ["right"]),
        ("from;to;factor\nsugar;salt;2\n", ["cannot tell"]),
        ("from;to;factor\nHCO3;CaCO3 alkalinity;0.8202\n", ["right"]),
    ],
)
def test_ways_to_print_factors(text, verdicts):
    # factors: conversion_factors.csv, column recomputed_factor; 3.785 L by egro-2018
    assert [f.verdict for f in check_table(text).findings] == verdicts


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("K;K2O;0.8301", "the other way round"),
        ("P;P2O5;2.2193", "digits exchanged"),
        ("P2O5;P;4.364", "the point one place too far right"),
        ("MgSO4;Mg;0.0986", "magnesium sulfate heptahydrate"),
        ("N;NO3;1.2878", "the factor from N to NH4"),
        ("SO4;S;0.4005", "the factor from SO3 to S"),
        ("NO3;N;0.7765", "the factor from NH4 to N"),
    ],
)
def test_a_slip_is_named(line, words):
    # 0.8301, 2.2913, 0.4364, Mg in the heptahydrate 9.861 %, NH4/N 1/0.77648, S/SO3 0.40046
    (found,) = check_factor_table(f"from;to;factor\n{line}\n").findings
    assert found.verdict == "wrong"
    assert words in found.what


def test_rounding_to_the_last_digit_is_right():
    # K2O to K is 0.830150, on the edge between 0.8301 and 0.8302
    for factor in ("0.83", "0.830", "0.8301", "0.8302", "0.83015"):
        (found,) = check_factor_table(f"from;to;factor\nK2O;K;{factor}\n").findings
        assert found.is_right, found


@pytest.mark.parametrize(
    ("line", "words", "severity"),
    [
        # 2.29133 today; with O = 16 and P = 30.98, the masses of the 1940s, 2.29116; with
        # P 30.974 and O 16: (61.948 + 80) / 61.948 = 2.29141
        ("P;P2O5;2.2914", "O taken as 16 g/mol", "note"),
        # 0.603042 today; with Mg 24.32 (until 1961) 24.32 / 40.319 = 0.60319
        ("MgO;Mg;0.6032", "24.32", "note"),
        # 40.078/56.077 = 0.714696: 0.7148 is one unit of the last digit off, Ca 40.08 too
        (
            "CaO;Ca;0.7148",
            "right in all but the last digit, 0.7147 is nearest",
            "caution",
        ),
    ],
)
def test_older_masses_and_a_last_digit_one_off_are_not_wrong(line, words, severity):
    (found,) = check_factor_table(f"from;to;factor\n{line}\n").findings
    assert found.verdict == "right", found
    assert words in found.what
    assert found.severity == severity
    assert "+0.00 % off" not in found.what


def test_two_units_of_the_last_digit_are_wrong():
    # 0.436427: 0.4366 is two units off, and P = 31 alone is no table of atomic masses
    (found,) = check_factor_table("from;to;factor\nP2O5;P;0.4366\n").findings
    assert found.verdict == "wrong"


def test_tolerance_is_asked_for():
    text = "from;to;factor\nK;K2O;1.2051\n"
    assert not check_factor_table(text).is_right
    assert check_factor_table(text, tolerance_percent=0.05).is_right
    with pytest.raises(InputError, match="tolerance"):
        check_factor_table(text, tolerance_percent=50)


def test_two_factors_of_one_conversion_are_told():
    check = check_factor_table("from;to;factor\nK;K2O;1.2046\nK;K2O;1.205\n")
    assert any("lines 2 and 3 both tell K to K2O" in str(n) for n in check.notices)


def test_every_fault_at_once():
    with pytest.raises(InputError) as caught:
        check_factor_table("from;to;factor\nK;K2O;l.2\n;K;0.83\n")
    assert "line 2, column 'factor': 'l.2' is no number" in str(caught.value)
    assert "line 3, column 'factor': 0.83 without from and to" in str(caught.value)
