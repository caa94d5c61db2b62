"""The page of models: each number it takes from the validation stands there."""

import re
from pathlib import Path

import pytest

REFERENCE = Path(__file__).parent.parent / "reference"
QUOTED = re.compile(r'\[([^\]]+)\]\(validation\.md "([^"]+)"\)')


def cells_of(line):
    return [cell.strip() for cell in line.strip().strip("|").split("|")]


def validation():
    """Return the rows of all tables of the validation page."""
    text = (REFERENCE / "validation.md").read_text(encoding="utf-8")
    return [cells_of(line) for line in text.splitlines() if line.startswith("|")]


ROWS = validation()
MODELS = (REFERENCE / "models.md").read_text(encoding="utf-8")
FOUND = QUOTED.findall(MODELS)


def told(name):
    """Return the values of the rows that are called so, by one cell or the first two."""
    return [
        value
        for row in ROWS
        for count in (1, 2)
        if ", ".join(row[:count]) == name
        for value in row[count:]
    ]


@pytest.mark.parametrize(("value", "name"), FOUND, ids=[name for _, name in FOUND])
def test_each_number_stands_in_the_validation(value, name):
    assert value in told(name), "change reference/models.md to what was measured"


def test_there_are_numbers_to_hold():
    assert len(FOUND) > 40
    assert told("no such row") == []


def test_each_model_tells_all_five_things():
    rows = [cells_of(line) for line in MODELS.splitlines() if line.startswith("|")]
    assert len(rows) > 40
    assert all(len(row) == 5 and all(row) for row in rows)


def test_each_test_that_is_named_is_there():
    named = set(re.findall(r"`(tests/test_\w+\.py)`", MODELS))
    assert len(named) > 8
    assert [path for path in named if not (REFERENCE.parent / path).exists()] == []
