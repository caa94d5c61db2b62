"""No number in a table changes unnoticed: sums over every column that holds numbers.

After a change that is meant, refresh the sums on purpose and say why in
reference/changes.md:

    python tests/test_table_sums.py --write
"""

import csv
import re
import shutil
import sys
from decimal import Context, Decimal
from pathlib import Path

import pytest

DATA = Path(__file__).parent.parent / "formulate" / "data"
SUMS = Path(__file__).parent / "published" / "table_sums.csv"
COLUMNS = ("table", "column", "rows", "sum", "moment")
NUMBER = re.compile(r"(?<![\w.)])(?:(?<!\S)-)?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?(?![\w(])")
PROSE = {"note", "title", "where", "source_key", "key", "aliases", "slip", "target"}
EXACT = Context(prec=60)  # sums are exact: the last digit of the least number counts
REFRESH = "if this is meant: python tests/test_table_sums.py --write"


def numbers(cell):
    """Return the numbers that stand alone in a cell: "<0.01", "Ca 19; N 1", "1-5"."""
    return [Decimal(text) for text in NUMBER.findall(cell)]


def exact_sum(values):
    """Return the sum as text without an exponent and without trailing zeros."""
    total = Decimal(0)
    for value in values:
        total = EXACT.add(total, value)
    return format(EXACT.normalize(total), "f")


def table_sums(folder):
    """Return (table, column) to (cells filled, sum, moment) where numbers stand.

    The moment weighs each cell by its line, so that two values that change places are
    noticed too.
    """
    sums = {}
    for path in sorted(folder.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            lines = list(csv.DictReader(file))
        for column in sorted(set(lines[0]) - PROSE):
            cells = [(n, line[column]) for n, line in enumerate(lines, 2)]
            filled = [(n, numbers(cell)) for n, cell in cells if cell]
            if not any(found for _, found in filled):
                continue
            pairs = [(n, value) for n, found in filled for value in found]
            total = exact_sum(value for _, value in pairs)
            moment = exact_sum(n * value for n, value in pairs)
            sums[path.stem, column] = (str(len(filled)), total, moment)
    return sums


def kept_sums():
    with SUMS.open(encoding="utf-8", newline="") as file:
        rows = [
            tuple(row[column] for column in COLUMNS) for row in csv.DictReader(file)
        ]
    return {row[:2]: row[2:] for row in rows}


def differences(folder):
    """Return a line for each column whose sums differ from those kept."""
    now, kept = table_sums(folder), kept_sums()
    return [
        f"{key}: kept {kept.get(key)}, now {now.get(key)}; {REFRESH}"
        for key in sorted(set(now) | set(kept))
        if kept.get(key) != now.get(key)
    ]


def write_sums():
    with SUMS.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(COLUMNS)
        writer.writerows((*key, *sums) for key, sums in table_sums(DATA).items())


def test_no_number_changed_unnoticed():
    assert differences(DATA) == []


@pytest.mark.parametrize(
    ("cell", "found"),
    [
        ("<0.01", [0.01]),
        ("1.15-1.25", [1.15, 1.25]),
        ("-18.2", [-18.2]),
        ("NO3-N 14.4; NH4-N 1.1; Ca 19", [14.4, 1.1, 19]),
        ("nitrate:1 urea:2", [1, 2]),
        ("1e-3", [0.001]),
        ("Ca(NO3)2·4H2O", []),
        ("H272", []),
        ("", []),
    ],
)
def test_numbers_are_found_where_they_stand_alone(cell, found):
    assert [float(number) for number in numbers(cell)] == found


@pytest.mark.parametrize(
    ("table", "old", "new"),
    [
        ("protonation", "carbonate,1,6.35", "carbonate,1,6.36"),
        ("acid_densities", "HNO3,67,1.40", "HNO3,67,1.41"),
        ("target_values", "hoagland1-1950,Fe,,1,5", "hoagland1-1950,Fe,,1,6"),
        ("water_values", "NH4,<0.01", "NH4,<0.02"),
        ("catalogue", "Ca 19,", "Ca 18.9,"),
        ("catalogue", "7757-79-1", "7757-79-2"),
        ("nutrients", "urea:2", "urea:1"),
        ("slips", "0.001 [oz]", "0.01 [oz]"),
        ("units", "0.06479891", "0.0647989"),
        ("water_values", "Mg,18.3", "Mg,"),
        ("targets", "1.15-1.25", "1.15-1.35"),
        ("forms", "nitrate,nitrate", "5,nitrate"),
    ],
)
def test_a_changed_number_is_noticed(table, old, new, tmp_path):
    folder = shutil.copytree(DATA, tmp_path / "data")
    path = folder / f"{table}.csv"
    text = path.read_text(encoding="utf-8")
    assert old in text, "the change no longer fits the table"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    assert [line for line in differences(folder) if f"'{table}'" in line]


def test_two_values_that_change_places_are_noticed(tmp_path):
    folder = shutil.copytree(DATA, tmp_path / "data")
    path = folder / "molar_volumes.csv"
    text = path.read_text(encoding="utf-8")
    swapped = text.replace("K+1,9.0", "K+1,29.5").replace("NO3-1,29.5", "NO3-1,9.0")
    assert swapped != text
    path.write_text(swapped, encoding="utf-8")
    assert [line for line in differences(folder) if "'molar_volume'" in line]


def test_a_lost_line_and_a_new_table_are_noticed(tmp_path):
    folder = shutil.copytree(DATA, tmp_path / "data")
    (folder / "new.csv").write_text("a,b\n1,x\n", encoding="utf-8")
    path = folder / "target_values.csv"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    path.write_text("".join(lines[:-1]), encoding="utf-8")
    found = differences(folder)
    assert [line for line in found if "'new', 'a'" in line]
    assert [line for line in found if "'target_values'" in line]


if __name__ == "__main__" and "--write" in sys.argv:
    write_sums()
