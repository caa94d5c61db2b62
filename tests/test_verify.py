"""The shipped check values: all agree here, and what is wrong is told."""

import csv
import re
from types import MappingProxyType

import pytest

import formulate.verify
from formulate.cli import main
from formulate.tables import DATA, Row, read_table
from formulate.verify import KINDS, report, verify

COLUMNS = [
    "key",
    "kind",
    "subject",
    "what",
    "given",
    "asked",
    "value",
    "unit",
    "tolerance",
    "source_key",
    "how_known",
    "page",
    "note",
]
ROWS = read_table("check_values")
WIDEST = 0.05  # of the value, unless the note gives a reason
BY_KEY = {row["key"]: row for row in ROWS}


def changed(row, **cells):
    return Row(row.table, row.line, MappingProxyType({**row.cells, **cells}))


def without(row, column):
    cells = {name: cell for name, cell in row.cells.items() if name != column}
    return Row(row.table, row.line, MappingProxyType(cells))


@pytest.fixture
def table(monkeypatch):
    """Return a function that puts other rows in the place of the shipped ones."""

    def put(*rows):
        monkeypatch.setattr("formulate.verify.read_table", lambda name: rows)

    return put


# --- the table ---------------------------------------------------------------------------


def test_the_table_has_its_columns_and_enough_lines():
    with (DATA / "check_values.csv").open(encoding="utf-8", newline="") as file:
        assert next(csv.reader(file)) == COLUMNS
    assert len(ROWS) >= 60
    assert len(BY_KEY) == len(ROWS)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["key"])
def test_a_line_is_a_check_that_can_fail(row):
    value, tolerance = row.number("value"), row.number("tolerance")
    assert row["kind"] in KINDS
    assert row["subject"]
    assert row["what"]
    assert value > 0
    assert tolerance > 0
    assert tolerance < value / 5, "a check this wide tests little"
    if tolerance > WIDEST * value:
        assert "more than 5 %" in row["note"]
    digits = len(row["value"].partition(".")[2])
    if tolerance > 0.5 * 10.0**-digits * (1 + 1e-9):
        assert row["note"], "wider than half the last digit, and no reason given"


def test_every_kind_is_used_and_every_kind_is_known():
    assert {row["kind"] for row in ROWS} == set(KINDS)


def test_known_discrepancies_are_no_check_values():
    # discrepancies of the sources: Ca of the ideal double salt, 336 mg/L S, 1.2051
    assert not [r for r in ROWS if r["kind"] == "salt" and r["value"] in ("19", "19.0")]
    assert not [r for r in ROWS if r["value"] == "1.2051"]
    (reprint,) = (r for r in ROWS if r["value"] == "336")
    assert reprint["kind"] == "slip"


def test_nothing_from_a_doubtful_target_is_used():
    path = DATA.parent.parent / "tests" / "published" / "targets_mmol_per_L.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    doubtful = [row["id"] for row in rows if row["confidence"] == "low"]
    assert doubtful == ["sv-strawberry-drip"]
    assert not [r for r in ROWS for name in doubtful if name in r["given"]]


# --- what is worked out ------------------------------------------------------------------


def test_all_agree():
    checks = verify()
    assert [str(check) for check in checks if not check.agrees] == []
    assert len(checks) == len(ROWS)
    assert {check.key for check in checks} == set(BY_KEY)


def test_the_published_number_does_not_reach_the_computed_one(table):
    before = {check.key: check.computed for check in verify()}
    table(*(changed(r, value=str(1.37 * r.number("value"))) for r in ROWS))
    after = verify()
    assert {check.key: check.computed for check in after} == before
    assert not any(check.agrees for check in after)


def test_a_value_off_by_three_tolerances_disagrees_in_every_line(table):
    for sign in (3, -3):
        table(
            *(
                changed(r, value=repr(r.number("value") + sign * r.number("tolerance")))
                for r in ROWS
            )
        )
        assert [check.key for check in verify() if check.agrees] == []


def test_a_wrong_program_is_noticed(monkeypatch):
    """An atomic mass that is 1 % off breaks what rests on it."""

    def heavy(text):
        return 1.01 * 101.102  # KNO3: 101.102 by hand from the abridged masses

    monkeypatch.setitem(KINDS, "molar mass", lambda given, asked, unit: heavy(given))
    off = [check for check in verify() if not check.agrees]
    assert {check.subject for check in off} == {"atomic masses", "molar masses"}


@pytest.mark.parametrize(
    ("key", "cells", "words"),
    [
        ("salt-H3BO3-B", {"given": "H3BO33x"}, "H3BO33x"),
        ("salt-H3BO3-B", {"given": "unknownium"}, "unknownium"),
        ("salt-H3BO3-B", {"asked": "Xx"}, "Xx"),
        ("salt-H3BO3-B", {"kind": "horoscope"}, "no kind of check 'horoscope'"),
        ("salt-H3BO3-B", {"kind": ""}, "no kind of check ''"),
        ("salt-H3BO3-B", {"value": ""}, "no value"),
        ("salt-H3BO3-B", {"value": "many"}, "'many' is no number"),
        ("salt-H3BO3-B", {"tolerance": ""}, "no tolerance"),
        ("dh-caco3", {"unit": "furlong"}, "furlong"),
        ("voehringen-cations", {"asked": "feelings"}, "KeyError: 'feelings'"),
        ("acid-HNO3", {"given": "HNO3"}, "ValueError"),
    ],
)
def test_a_fault_is_a_disagreement_with_its_words(key, cells, words, table):
    good = BY_KEY["mass-K"]
    table(changed(BY_KEY[key], **cells), good)
    bad, other = verify()
    assert not bad.agrees
    assert words in bad.fault
    assert words in report((bad, other))
    assert other.agrees


@pytest.mark.parametrize("column", ["kind", "value", "given", "tolerance"])
def test_a_lost_column_is_told(column, table):
    table(without(BY_KEY["mass-K"], column))
    (check,) = verify()
    assert not check.agrees
    assert f"no column {column!r}" in check.fault


@pytest.mark.parametrize("tolerance", ["0", "-1", "nan"])
def test_a_tolerance_that_is_none_agrees_with_nothing(tolerance, table):
    table(changed(BY_KEY["mass-K"], tolerance=tolerance))
    (check,) = verify()
    assert not check.agrees


def test_a_number_that_is_none_agrees_with_nothing(monkeypatch):
    monkeypatch.setitem(KINDS, "slip", lambda given, asked, unit: float("nan"))
    assert [c.subject for c in verify() if not c.agrees] == ["slips"]


# --- what is told ------------------------------------------------------------------------


def test_the_report_tells_versions_counts_and_memory():
    text = report(verify())
    first, last = text.splitlines()[0], text.splitlines()[-1]
    assert re.fullmatch(
        r"formulate \S+, tables [0-9a-f]{12}, Python \S+, numpy \S+", first
    )
    assert last == f"{len(ROWS)} checks; all agree"
    for subject in {row["subject"] for row in ROWS}:
        of_it = [row for row in ROWS if row["subject"] == subject]
        (line,) = (x for x in text.splitlines() if x.startswith(f"{subject}  "))
        assert re.search(rf"{len(of_it)} of +{len(of_it)} agree", line)
        memory = sum(row["how_known"] == "memory" for row in of_it)
        assert (f"{memory} from memory" in line) == (memory > 0)


def test_every_check_is_told_when_asked():
    checks = verify()
    text = report(checks, every=True)
    assert text.count("\nagrees: ") == len(checks)
    assert len(report(checks).splitlines()) < len(text.splitlines())
    recalled = [check for check in checks if check.how_known == "memory"]
    assert recalled
    assert all("(from memory)" in str(check) for check in recalled)


def test_a_disagreement_is_told_in_full(table):
    table(changed(BY_KEY["voehringen-cations"], value="7.00"))
    text = report(verify())
    assert "DISAGREES" in text
    assert "published 7 ± 0.005" in text
    assert "computed 6.88" in text
    assert "Stadt Vöhringen" in text
    assert "1 checks; 1 disagree" in text


def test_an_unknown_source_is_told_and_does_not_break_the_report(table):
    table(changed(BY_KEY["mass-K"], value="40", source_key="nobody-2020"))
    assert "'nobody-2020' is not in the sources table" in report(verify())


def test_nothing_checked_is_no_agreement(table, capsys):
    table()
    assert main(["verify"]) == 3
    assert "nothing was checked" in capsys.readouterr().out


def test_the_kinds_are_worked_out_by_functions_of_this_file():
    assert {kind.__module__ for kind in KINDS.values()} == {formulate.verify.__name__}
    assert len(set(KINDS.values())) == len(KINDS)
