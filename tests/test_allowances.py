"""Allowances as published, interpolation by hand, laws, and where the tables end.

Rows of the published tables whose `how_known` is "read" are the bar (0.005 points of
percent). Rows from memory, all of the EU, are only compared with the copy in tests/published,
to notice a slip of the pen; they prove nothing about the rule itself.
"""

import csv
import math
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formulate.claims.allowances import (
    Allowance,
    eu_tolerance,
    same_nutrient,
    share_as,
    us_allowance,
)
from formulate.errors import InputError, MissingData, UnknownName
from formulate.tables import read_table

PUBLISHED = Path(__file__).parent / "published"
BAR = 0.005  # points of percent
SYMBOLS = {
    **{"Calcium": "Ca", "Magnesium": "Mg", "Sulfur": "S", "Boron": "B"},
    **{"Chlorine": "Cl", "Cobalt": "Co", "Copper": "Cu", "Iron": "Fe"},
    **{"Manganese": "Mn", "Molybdenum": "Mo", "Nickel": "Ni", "Sodium": "Na"},
    "Zinc": "Zn",
}
MAIN_COLUMNS = {
    "N": "allowance_N_percent_points",
    "P2O5": "allowance_available_P2O5_percent_points",
    "K2O": "allowance_K2O_percent_points",
}
EVERY_US = (*MAIN_COLUMNS, *SYMBOLS.values())
EVERY_EU = tuple(
    key for row in read_table("eu_tolerances") for key in row["nutrients"].split()
)


def published(name):
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# --- confirmed rows: the bar --------------------------------------------------------------


@pytest.mark.parametrize("guarantee", [0.02, 0.5, 2.0, 7.0, 15.0, 40.0])
def test_confirmed_allowances_of_other_nutrients_are_those_published(guarantee):
    """nh-agr-1105, read: constant and share of the guarantee, at most one point."""
    rows = [
        row
        for row in published("label_allowances_secondary_micro")
        if row["how_known"] == "read"
    ]
    assert len(rows) == 12
    for row in rows:
        constant = float(row["allowance_constant_percent_points"])
        share = float(row["allowance_percent_of_guarantee"])
        most = float(row["max_allowance_percent_points"])
        expected = min(constant + share * guarantee / 100, most)
        found = us_allowance(SYMBOLS[row["nutrient"]], guarantee)
        assert found.value == pytest.approx(expected, abs=1e-12)
        assert found.source_key == row["source_key_allowance"]
        assert (found.how_known, found.doubt) == ("read", "")


@pytest.mark.parametrize(
    ("key", "guarantee", "points"),
    [  # worked by hand from the printed schedule [nh-agr-1105]
        ("Ca", 10.0, 0.7),
        ("Mg", 0.5, 0.225),
        ("S", 16.0, 1.0),  # 0.2 and 0.8 are one point, the most there is
        ("S", 17.0, 1.0),
        ("B", 0.02, 0.006),
        ("Zn", 0.05, 0.01),
        ("Fe", 10.0, 1.0),
        ("Mo", 0.0005, 0.00025),
    ],
)
def test_allowances_worked_by_hand(key, guarantee, points):
    assert us_allowance(key, guarantee).value == pytest.approx(points, abs=1e-12)


def test_confirmed_footnotes_of_the_main_table():
    """aapfco-ia-page, read: 0.88 for N above 32 %, 1.53 for triple superphosphate."""
    rows = {row["guarantee_percent"]: row for row in published("label_allowances_npk")}
    for guarantee in (32.5, 34.0, 46.0):
        found = us_allowance("N", guarantee)
        expected = float(rows["above 32"]["allowance_N_percent_points"])
        assert abs(found.value - expected) <= BAR
        assert found.how_known == "read"
    row = rows["triple superphosphate"]
    found = us_allowance("P2O5", 46, material="triple superphosphate")
    expected = float(row["allowance_available_P2O5_percent_points"])
    assert abs(found.value - expected) <= BAR
    assert found.how_known == "read"


@pytest.mark.parametrize("key", MAIN_COLUMNS)
def test_rows_of_the_main_table_are_those_of_the_statute(key):
    """fl-576-061, read: every row of paragraph (b)."""
    rows = [
        row
        for row in published("label_allowances_npk")
        if row["source_key"] == "fl-576-061"
    ]
    assert len(rows) == 18
    for row in rows:
        found = us_allowance(key, float(row["guarantee_percent"]))
        assert found.value == float(row[MAIN_COLUMNS[key]])
        assert found.how_known == row["how_known"] == "read"
        assert found.source_key == "fl-576-061"
        assert "until 30 June 2014" in found.edition


@pytest.mark.parametrize(
    ("key", "guarantee", "points"),
    [  # fl-576-061 (c), read: 0.40 each, in no case more than 50 percent of the guarantee
        ("NO3-N", 4.0, 0.40),
        ("NH4-N", 20.0, 0.40),
        ("urea-N", 0.6, 0.30),
        ("NO3-N", 0.8, 0.40),
        ("NH4-N", 0.2, 0.10),
    ],
)
def test_allowances_of_forms_of_nitrogen(key, guarantee, points):
    found = us_allowance(key, guarantee)
    assert found.value == pytest.approx(points, abs=1e-12)
    assert (found.how_known, found.source_key) == ("read", "fl-576-061")


def test_an_ion_is_held_against_the_allowance_of_its_nitrogen():
    """Standard atomic weights, abridged (IUPAC): N 14.007, O 15.999."""
    ion = 62.004 / 14.007
    found = us_allowance("NO3", 4.0 * ion)
    assert found.value == pytest.approx(0.40 * ion, rel=1e-6)
    assert "written for NO3-N" in found.note


# --- between and beyond the rows -----------------------------------------------------------


def test_in_between_is_interpolated():
    """aapfco-ia-page, read: interpolate. Rows around 11 and 15.5 %, by hand."""
    assert us_allowance("K2O", 11).value == pytest.approx(0.745, abs=1e-12)
    assert us_allowance("N", 15.5).value == pytest.approx(0.63 + 0.75 * 0.04, abs=1e-12)
    assert us_allowance("N", 2.5).value == us_allowance("N", 4).value == 0.49
    assert us_allowance("N", 11).note == "interpolated between two rows"
    assert us_allowance("N", 12).note == "a row of the table"


def test_the_last_row_holds_for_32_percent_or_more():
    """fl-576-061 (b), read: 32 or more. aapfco-ia-page, read: ask above 52 and 62 %."""
    for key, points, end in (("P2O5", 0.76, 52), ("K2O", 1.44, 62)):
        for percent in (32.1, 46, end):
            found = us_allowance(key, percent)
            assert (found.value, found.doubt) == (points, "")
            assert f"rows from 32 to {end} %" in found.other_edition
        assert us_allowance(key, 32).other_edition == ""
        beyond = us_allowance(key, end + 0.1)
        assert beyond.value == points
        assert "is to be asked" in beyond.doubt
    assert us_allowance("N", 46).other_edition == us_allowance("N", 46).doubt == ""


@pytest.mark.parametrize(
    ("key", "declared", "below", "above"),
    [  # by hand from label_eu_tolerances.csv, every row of it from memory
        ("N", 4.0, 1.0, 1.0),
        ("N", 8.0, 2.0, 2.0),
        ("K2O", 46.0, 2.0, 2.0),
        ("MgO", 3.0, 1.5, 3.0),
        ("SO3", 30.0, 2.0, 4.0),
        ("Na2O", 2.0, 0.5, 1.0),
        ("Na2O", 10.0, 0.9, 1.8),
        ("Fe", 0.1, 0.02, 0.02),
        ("Zn", 2.0, 0.4, 0.4),
        ("Mn", 4.0, 0.8, 0.8),
        ("B", 8.0, 1.0, 1.0),
        ("Cu", 14.0, 1.0, 1.0),
    ],
)
def test_eu_tolerances_by_hand(key, declared, below, above):
    rows = {r["how_known"] for r in published("label_eu_tolerances")}
    assert rows == {"memory"}  # if one is read one day, it belongs among the bars
    for form in ("solid", "liquid"):
        found = eu_tolerance(key, declared, form=form)
        assert found.below == pytest.approx(below, abs=1e-12)
        assert found.above == pytest.approx(above, abs=1e-12)
        assert found.how_known == "memory"
        assert "2019/1009" in found.rule


def test_eu_table_agrees_with_its_copy():
    """The numbers of the copy stand in the words of its cells."""
    ours = {row["case"]: row for row in read_table("eu_tolerances")}
    copy = [
        r for r in published("label_eu_tolerances") if "2019/1009" in r["regulation"]
    ]
    names = ("main", "secondary", "micro low", "micro middle", "micro high")
    for name, row in zip(names, copy, strict=True):
        told = [float(n) for n in re.findall(r"\d+(?:\.\d+)?", row["tolerance"])]
        cells = ("below_share", "above_share", "below_points", "above_points")
        numbers = {ours[name].number(cell) for cell in cells} - {None}
        assert numbers == set(told)
    assert "-25 % / +50 %, at most -0.9 / +1.8" in copy[1]["note"]


# --- laws -----------------------------------------------------------------------------------


@settings(deadline=None, derandomize=True)
@given(key=st.sampled_from(EVERY_US), a=st.floats(0, 52), b=st.floats(0, 52))
def test_a_larger_guarantee_never_has_a_smaller_us_allowance(key, a, b):
    low, high = sorted((a, b))
    assert us_allowance(key, low).value <= us_allowance(key, high).value + 1e-12


@settings(deadline=None, derandomize=True)
@given(key=st.sampled_from(EVERY_EU), a=st.floats(0, 100), b=st.floats(0, 100))
def test_a_larger_declaration_never_has_a_smaller_eu_tolerance(key, a, b):
    low, high = (eu_tolerance(key, x) for x in sorted((a, b)))
    assert low.below <= high.below + 1e-12
    assert low.above <= high.above + 1e-12


def test_a_basis_changes_the_numbers_and_not_the_verdict():
    """1 % P is 2.2914 % P2O5 (molar masses)."""
    told = us_allowance("P", 10 / 2.2914)
    assert told.value * 2.2914 == pytest.approx(
        us_allowance("P2O5", 10).value, rel=1e-4
    )
    assert "written for P2O5" in told.note
    assert share_as(share_as(7.0, "K", "K2O"), "K2O", "K") == pytest.approx(7.0)
    with pytest.raises(InputError, match="do not count the same"):
        share_as(1.0, "N", "NO3-N")
    assert not same_nutrient("Fe", "Fe(II)")


# --- words and bad input ---------------------------------------------------------------------


def test_an_allowance_tells_itself():
    found = us_allowance("Zn", 0.05)
    assert isinstance(found, Allowance)
    assert (found.low, found.high) == (pytest.approx(0.04), math.inf)
    assert "above" in str(eu_tolerance("N", 10))


@pytest.mark.parametrize("percent", [-1, 101, math.nan, "5", None])
def test_allowances_refuse_what_is_no_share(percent):
    for function in (us_allowance, eu_tolerance):
        with pytest.raises(InputError, match=r"N: .* in %"):
            function("N", percent)


def test_allowances_refuse_words_they_do_not_know():
    with pytest.raises(UnknownName, match="no nutrient key"):
        us_allowance("Xx", 5)
    with pytest.raises(InputError, match="form"):
        eu_tolerance("N", 5, form="gas")
    with pytest.raises(InputError, match="material"):
        us_allowance("N", 5, material="slag")
    with pytest.raises(MissingData, match="no allowance is known for Si"):
        us_allowance("Si", 5)
    with pytest.raises(MissingData, match="no allowance is known for NO3-N"):
        eu_tolerance("NO3-N", 5)
