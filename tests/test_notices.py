"""A notice says what and how serious; nothing else passes for a severity."""

from dataclasses import FrozenInstanceError

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.notices import SEVERITIES, Notice


def test_there_are_three_severities_from_mild_to_grave():
    assert SEVERITIES == ("note", "caution", "serious")


@given(st.sampled_from(SEVERITIES), st.text(max_size=80))
def test_a_notice_prints_its_severity_and_its_words(severity, words):
    assert str(Notice(words, severity)) == f"{severity}: {words}"


def test_a_notice_is_a_note_without_numbers_unless_told():
    notice = Notice("stir well")
    assert (notice.severity, notice.source_key) == ("note", "")
    assert notice.number is None
    assert notice.limit is None


def test_number_limit_and_source_are_kept():
    notice = Notice("80 mg/L Na", "caution", number=80.0, limit=50.0, source_key="x")
    assert (notice.number, notice.limit, notice.source_key) == (80.0, 50.0, "x")


@pytest.mark.parametrize(
    "severity", ["", "Note", "note ", "warning", "error", None, 0, True, [], ("note",)]
)
def test_another_severity_is_refused_and_the_known_ones_listed(severity):
    with pytest.raises(ValueError, match="note, caution, serious") as caught:
        Notice("x", severity)
    assert repr(severity) in str(caught.value)


def test_a_notice_cannot_be_changed():
    notice = Notice("x")
    with pytest.raises(FrozenInstanceError):
        notice.severity = "serious"


def test_equal_notices_are_one_in_a_set():
    twice = [Notice("x", "caution", number=1.0), Notice("x", "caution", number=1.0)]
    assert len({*twice, Notice("x", "caution", number=2.0)}) == 2
