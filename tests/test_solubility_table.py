"""Published solubilities: each right within what sources say, or explained by name."""

import csv
from pathlib import Path

import pytest

from formulate.claims.finding import gravest_finding
from formulate.claims.published_table import check_table
from formulate.claims.solubility_table import check_solubility_table
from formulate.errors import InputError

PRINTED = Path(__file__).parent / "published" / "solubility_printed.csv"


def printed_rows():
    with PRINTED.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def wide(salt, unit):
    """Return the rows of a salt in one unit, and the table as a book prints it."""
    rows = [r for r in printed_rows() if (r["salt"], r["unit"]) == (salt, unit)]
    if rows[0]["temperature"] == "cold":
        heading = f"salt;solubility in cold water, {unit}"
    else:
        heading = ";".join(("salt", *(f"{r['temperature']} °C" for r in rows)))
    cells = ";".join((salt, *(r["printed"] for r in rows)))
    return rows, f"Solubility, {unit}\n{heading}\n{cells}\n"


SALTS = list(dict.fromkeys((r["salt"], r["unit"]) for r in printed_rows()))


@pytest.mark.parametrize(("salt", "unit"), SALTS)
def test_items_5_6_and_21_each_printed_number(salt, unit):
    # tests/published/solubility_printed.csv: salt_solubility.csv of the same folder with the
    # verdict that its notes justify, the reason beside each
    rows, text = wide(salt, unit)
    found = check_solubility_table(text).findings
    numbers = found[-len(rows) :]
    for row, finding in zip(rows, numbers, strict=True):
        assert finding.verdict == row["expected"], finding
        assert row["words"] in " ".join(f.what for f in found), finding
    told = [row["expected"] for row in rows]
    assert gravest_finding(numbers).split()[-1] in {word.split()[-1] for word in told}


def test_item_5_the_row_as_in_the_brief_of_ten_to_forty_degrees():
    # 133/209/316/458 g/L belong to 0/10/20/30 °C
    check = check_table("g/L;10 °C;20 °C;30 °C;40 °C\nKNO3;133;209;316;458\n")
    assert check.kind == "solubility"
    assert len(check.not_right) == 4
    assert all("one column too far right" in f.what for f in check.not_right)


def test_a_right_row_is_right():
    # kno3-curve: 13.3, 20.9, 31.6, 45.8 g per 100 g of water
    text = "salt;0 °C (g/100 g water);10 °C;20 °C;30 °C\nKNO3;13.3;20.9;31.6;45.8\n"
    assert check_solubility_table(text).is_right


@pytest.mark.parametrize(
    ("title", "row"),
    [
        ("mass percent", "KNO3;11.7;17.3;24.0;31.4"),
        ("g/L", "KNO3;133;209;316;458"),
        ("no unit", "KNO3;13.3;20.9;31.6;45.8"),
    ],
)
def test_units(title, row):
    # kno3-curve and what follows from it by w = 100 s / (100 + s)
    check = check_solubility_table(f"{title}\nsalt;0 °C;10 °C;20 °C;30 °C\n{row}\n")
    assert check.is_right
    assert bool(check.assumed) == (title == "no unit")


def test_one_row_for_each_temperature():
    text = "salt;temperature;solubility, g/L\nKNO3;10;209\nKNO3;20;31,6\n"
    check = check_solubility_table(text)
    assert [f.verdict for f in check.findings] == ["right", "wrong"]
    assert "a tenth of it" in check.not_right[0].what


def test_degrees_of_fahrenheit():
    # 68 °F is 20 °C
    assert check_solubility_table("salt;68 °F, g/L\nKNO3;316\n").is_right


def test_what_no_table_holds_cannot_be_told():
    check = check_solubility_table("g/L\nsalt;20 °C\nzinc chloride;4000\nNa2SO4;195\n")
    assert check.findings[-1].verdict == "cannot tell"


def test_a_temperature_must_be_told():
    with pytest.raises(InputError, match="at which temperature"):
        check_solubility_table("salt;solubility g/L\nKNO3;316\n")


def test_tolerance_is_asked_for():
    # 31.6 and 31.9 at 20 °C by two sources; 30.0 is 5.1 % below the lower one
    text = "salt;20 °C, g/100 g water\nKNO3;29.0\n"
    assert not check_solubility_table(text).is_right
    assert check_solubility_table(text, tolerance_percent=10).is_right
