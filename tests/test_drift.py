"""No result moves unnoticed: thirty canonical jobs against what is stored of them.

A change of results that is meant goes with a line in reference/changes.md; see

    python tests/drift_report.py
"""

import math
from dataclasses import fields

import drift_report
import pytest
import tomlkit
from drift.canonical import ASKS, FOLDER, canonical_jobs
from drift.differences import (
    FAULT,
    Difference,
    differences_of,
    effect_words,
    line_of_changes,
    sorted_by_effect,
    summary_lines,
    table_lines,
)
from drift.stored import digit, read_stored, text_of, written

from formulate.errors import InputError
from formulate.jobs import MIXING_KEYS, OPTIONS, TARGET_KEYS, ShelfLine
from formulate.papers import PAPER_KINDS, Paper

ADVICE = "python tests/drift_report.py shows all of it and the line it asks for"
CHANGES = """# Changes

## 0.2.0 (not yet released)

| choice | value | where |
|---|---|---|
{line}

## 0.1.0

| an older choice | {older} | `x.csv` |
"""


@pytest.fixture(scope="module")
def stored():
    return read_stored()[1]


# --- the thirty jobs ---------------------------------------------------------------------


@pytest.mark.parametrize("job", canonical_jobs())
def test_no_result_of_a_canonical_job_moved(job, stored):
    found = differences_of(job, stored.get(job, {}), drift_report.results_of(job))
    assert not found, "\n".join([*table_lines(found), effect_words(found), ADVICE])


def test_there_are_thirty_jobs_each_with_its_file_and_its_results(stored):
    jobs = canonical_jobs()
    assert len(jobs) == 30
    assert set(jobs) == {path.stem for path in FOLDER.glob("*.toml")}
    assert list(stored) == list(jobs)


def test_the_jobs_ask_for_everything_that_can_be_asked():
    asked = {ask for asks in canonical_jobs().values() for ask in asks}
    assert asked == set(ASKS)


def test_between_them_the_jobs_use_every_key_of_a_job():
    """A new key of a job needs a job here; names and the like give no number."""
    files = [
        tomlkit.parse(p.read_text("utf-8")).unwrap() for p in FOLDER.glob("*.toml")
    ]
    told = {
        "top": set(),
        "target": set(),
        "mixing": set(),
        "shelf": set(),
        "paper": set(),
    }
    for file in files:
        told["top"] |= set(file)
        for part in ("target", "mixing"):
            told[part] |= set(file.get(part, {}))
        for part in ("shelf", "paper"):
            told[part] |= {key for entry in file.get(part, []) for key in entry}
    assert set(OPTIONS) <= told["top"]
    assert set(TARGET_KEYS) - {"crop", "stage"} <= told["target"]
    assert set(MIXING_KEYS) <= told["mixing"]
    assert {field.name for field in fields(ShelfLine)} == told["shelf"]
    assert {field.name for field in fields(Paper)} == told["paper"]
    kinds = {value for (_, job) in read_stored()[1].items() for value in _kinds(job)}
    assert kinds == set(PAPER_KINDS)


def _kinds(job):
    return [value for name, (value, _) in job.items() if name.endswith(": kind")]


# --- what a difference is, by hand --------------------------------------------------------


def told(before, now, unit="g"):
    pairs = ({"x": (value, unit)} for value in (before, now))
    return differences_of("job", *pairs)


@pytest.mark.parametrize(
    ("before", "now", "unit", "percent"),
    [
        (2.0, 2.01, "g", 0.5),  # 0.01 of 2
        (2.0, 1.0, "g", -50.0),
        (-0.5, -0.6, "meq/L", -20.0),  # further below nothing by a fifth
        (6.0, 6.01, "pH", 2.3293),  # 10^0.01 = 1.023293
        (6.0, 5.0, "pH", -90.0),
        (-0.1, 0.2, "log10", 99.526),  # 10^0.3 = 1.995262
        (0.0, 3.0, "g", math.inf),
        (4.0, 0.0, "g", -100.0),
    ],
)
def test_a_changed_number_is_told_with_its_percent(before, now, unit, percent):
    (found,) = told(before, now, unit)
    assert found.percent == pytest.approx(percent, rel=1e-4)


@pytest.mark.parametrize(
    ("before", "same", "moved", "unit"),
    [
        (123456.0, 123457.0, 123458.0, "g"),
        (1.23456, 1.23457, 1.23458, "g"),
        (0.000999999, 0.00100000, 0.00100001, "g"),
        (5.8, 5.80001, 5.80002, "pH"),
        (-0.00012, -0.00013, -0.00014, "log10"),
        (0.0, 1e-9, 2e-9, "g"),
    ],
)
def test_one_unit_of_the_last_digit_is_no_difference_and_two_are(
    before, same, moved, unit
):
    assert told(before, same, unit) == []
    assert told(before, 2 * before - same, unit) == []
    assert len(told(before, moved, unit)) == 1


def test_digits_are_six_and_of_a_logarithm_five_decimals():
    assert text_of(1234.56789, "g") == "1234.57"
    assert text_of(0.000123456789, "g") == "0.000123457"
    assert text_of(5.8, "pH") == "5.80000"
    assert text_of(-1e-12, "g") == "0"
    assert digit(1234.56789, "g") == pytest.approx(0.01)


def test_what_vanished_and_what_is_new_is_told():
    before, now = {"x": (1.0, "g"), "y": (2.0, "g")}, {"y": (2.0, "g"), "z": (3.0, "g")}
    found = differences_of("job", before, now)
    assert [(one.quantity, one.words, one.ends) for one in found] == [
        ("x", "gone", ("1", "-")),
        ("z", "new", ("-", "3")),
    ]
    assert effect_words(found) == "1 gone, 1 new in 1 drift job"


def test_another_unit_is_another_quantity():
    found = differences_of("job", {"x": (1.0, "g")}, {"x": (1.0, "mL")})
    assert [(one.words, one.unit) for one in found] == [("gone", "g"), ("new", "mL")]


def test_other_words_are_told_old_and_new():
    found = told("A > B", "B > A", "word")
    assert found[0].percent is None
    assert table_lines(found)[1:] == ["job  x", "    A > B", "    -> B > A"]
    assert told("A  >\nB", "A > B", "word") == []


def test_the_largest_effect_comes_first_and_words_before_numbers():
    found = [
        Difference("a", "small", 1.0, 1.01, "g"),
        Difference("a", "large", 1.0, 0.9, "g"),
        Difference("b", "word", "x", "y", "word"),
        Difference("b", "from nothing", 0.0, 1.0, "g"),
    ]
    names = [one.quantity for one in sorted_by_effect(found)]
    assert names == ["word", "from nothing", "large", "small"]
    (head, *_, last) = table_lines(found)
    assert head.split() == ["job", "quantity", "stored", "now", "unit", "effect"]
    assert last.split() == ["a", "small", "1", "1.01", "g", "+1", "%"]
    assert table_lines(found, most=1)[-1] == "... and 3 more; --all shows them"


def test_there_is_a_line_for_each_job_and_one_for_all():
    found = [
        Difference("a", "K", 200.0, 201.0, "mg/L"),
        Difference("a", "pH", 6.0, 6.01, "pH"),
    ]
    assert summary_lines({"a": 5, "b": 3}, found) == [
        "a: 5 values, 2 moved; numbers by at most +0.5 % (K 200 to 201 mg/L); "
        "activities by at most +2.33 % (pH 6.00000 to 6.01000 pH)",
        "b: 3 values as stored",
        "in all: 8 values, 2 moved; numbers by at most +0.5 % (a, K 200 to 201 mg/L); "
        "activities by at most +2.33 % (a, pH 6.00000 to 6.01000 pH); 1 of 2 jobs",
    ]


def test_a_job_that_cannot_be_done_any_more_is_told_as_one_difference(monkeypatch):
    def fails(_):
        raise InputError("no such salt")

    monkeypatch.setattr(drift_report, "values_of", fails)
    now = drift_report.results_of("job")
    (found,) = differences_of("job", {"x": (1.0, "g"), "y": (2.0, "g")}, now)
    assert (found.quantity, found.now) == (FAULT, "no such salt")
    assert "no such salt" in drift_report.why_refused([found], "words", "")


# --- storing ------------------------------------------------------------------------------

BEFORE = {"a": {"K": (200.0, "mg/L"), "pH": (6.0, "pH"), "order": ("x > y", "word")}}
NOW = {"a": {"K": (201.0, "mg/L"), "pH": (6.000001, "pH"), "order": ("x > y", "word")}}
EFFECT = "1 moved in 1 drift job; numbers by at most +0.5 % (a, K 200 to 201 mg/L)"
WORDS = "potassium of the bag, read again"


def tried(tmp_path, line="", older="", words=WORDS):
    """Return why nothing is stored, and the file of results after it."""
    path, changes = tmp_path / "stored.csv", tmp_path / "changes.md"
    written(path, {"change": "the first"}, BEFORE)
    changes.write_text(CHANGES.format(line=line, older=older), encoding="utf-8")
    stored = read_stored(path)[1]
    return drift_report.store(stored, NOW, words, path, changes), path


def test_results_read_back_as_they_were_stored(tmp_path):
    path = tmp_path / "stored.csv"
    written(path, {"change": "one: two"}, BEFORE)
    assert read_stored(path) == ({"change": "one: two"}, BEFORE)
    assert read_stored(tmp_path / "none.csv") == ({}, {})


@pytest.mark.parametrize(
    ("line", "older", "words"),
    [
        ("", "", WORDS),
        (f"| {WORDS} | less | `x.csv` |", "", WORDS),  # the effect is not told
        (f"| something else | {EFFECT} | `x.csv` |", "", WORDS),
        (f"| {WORDS} |\n| {EFFECT} |", "", WORDS),  # not in one line
        ("", f"{WORDS} {EFFECT}", WORDS),  # released long ago
        (f"| {WORDS} | {EFFECT} | `x.csv` |", "", "  "),
    ],
)
def test_nothing_is_stored_without_a_line_of_the_change(tmp_path, line, older, words):
    why, path = tried(tmp_path, line, older, words)
    assert why
    assert read_stored(path) == ({"change": "the first"}, BEFORE)
    if words.strip():
        assert f"| {WORDS} | {EFFECT} | `WHERE` |" in why


def test_with_its_line_what_moved_is_stored_and_nothing_else(tmp_path):
    why, path = tried(tmp_path, f"| {WORDS}: less | {EFFECT}; why | `bags.csv` |")
    assert why == ""
    head, stored = read_stored(path)
    assert head["change"] == WORDS
    assert stored["a"] == {**BEFORE["a"], "K": (201.0, "mg/L")}


def test_where_nothing_moved_nothing_is_asked_for(tmp_path):
    path = tmp_path / "stored.csv"
    assert drift_report.store(BEFORE, BEFORE, "", path, tmp_path / "no.md") == ""
    assert not path.exists()


def test_a_job_that_is_gone_leaves_the_stored_results(tmp_path):
    path, changes = tmp_path / "stored.csv", tmp_path / "changes.md"
    before = {**BEFORE, "b": {"K": (1.0, "g")}}
    found = drift_report.all_differences(before, BEFORE)
    line = line_of_changes(found, "b is no longer done")
    assert "1 gone in 1 drift job" in line
    changes.write_text(CHANGES.format(line=line, older=""), encoding="utf-8")
    given = (before, BEFORE, "b is no longer done", path, changes)
    assert drift_report.store(*given) == ""
    assert read_stored(path)[1] == BEFORE


def test_the_command_prints_the_report_and_tells_by_its_code(monkeypatch, capsys):
    monkeypatch.setattr(drift_report, "canonical_jobs", lambda: {"a": ()})
    monkeypatch.setattr(drift_report, "read_stored", lambda: ({}, BEFORE))
    monkeypatch.setattr(drift_report, "values_of", lambda _: NOW["a"])
    assert drift_report.main([]) == 1
    printed = capsys.readouterr().out
    assert "a    K         200     201  mg/L  +0.5 %" in printed
    assert f"| WHAT CHANGED AND WHY | {EFFECT} | `WHERE` |" in printed
    assert drift_report.main(["--write", "nobody has written this"]) == 2
    assert "not stored" in capsys.readouterr().out
    monkeypatch.setattr(drift_report, "values_of", lambda _: BEFORE["a"])
    assert drift_report.main([]) == 0
    assert "a: 3 values as stored" in capsys.readouterr().out
