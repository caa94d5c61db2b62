"""Water reports read whole: a corpus, blends, bad input.

The corpus stands in tests/waters/ for people to read: reports of public utilities with
their source (sources.csv) and invented ones after layouts that laboratories use. Expected
values (expected.csv) are worked out from the printed numbers with equivalent weights.
"""

import csv
from pathlib import Path

import pytest

from formulate.errors import FormulateError, InputError
from formulate.ingredients.water import preset_names, water
from formulate.ingredients.water_report import (
    blend_waters,
    read_water,
    water_from_text,
)

WATERS = Path(__file__).parent / "waters"
ABOUT = ("expected.csv", "notices.csv", "refused.csv", "sources.csv")
REPORTS = sorted(path for path in WATERS.iterdir() if path.name not in ABOUT)


def rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def read(row):
    return read_water(WATERS / row["file"], unit=row["unit_given"] or None)


def everything(read_one):
    return "\n".join([*read_one.assumed, *map(str, read_one.notices)])


def value(read_one, quantity, unit):
    readings = {
        "pH": read_one.ph,
        "EC": read_one.ec,
        "alkalinity": read_one.alkalinity,
    }
    if quantity in readings:
        return readings[quantity]
    solution = read_one.solution
    if unit == "meq/L":
        return solution.meq_l(quantity)
    return solution.mmol_l(quantity)


def test_the_corpus_is_large_enough_and_each_file_has_its_source():
    known = {row["file"]: row for row in rows(WATERS / "sources.csv")}
    assert set(known) == {path.name for path in REPORTS}
    assert len(REPORTS) >= 30
    public = [row for row in known.values() if row["kind"] == "public"]
    assert len(public) >= 12
    assert all(row["source"] for row in public)
    told = {row["file"] for row in rows(WATERS / "expected.csv")}
    told |= {row["file"] for row in rows(WATERS / "refused.csv")}
    assert told == set(known)


@pytest.mark.parametrize(
    "file", sorted({row["file"] for row in rows(WATERS / "expected.csv")})
)
def test_a_report_reads_as_it_is_printed(file):
    """Equivalent weights are known to five digits, hence 0.02 %."""
    expected = [row for row in rows(WATERS / "expected.csv") if row["file"] == file]
    found = read(expected[0])
    for row in expected:
        got = value(found, row["quantity"], row["unit"])
        assert got == pytest.approx(float(row["value"]), rel=2e-4), row


@pytest.mark.parametrize("row", rows(WATERS / "refused.csv"), ids=lambda r: r["file"])
def test_a_faulty_report_is_refused_with_every_line(row):
    with pytest.raises(InputError) as caught:
        read(row)
    for words in row["words"].split("|"):
        assert words in str(caught.value)


@pytest.mark.parametrize("row", rows(WATERS / "notices.csv"), ids=lambda r: r["file"])
def test_what_was_assumed_or_does_not_agree_is_told(row):
    told = everything(read(row))
    for words in row["words"].split("|"):
        assert words in told, words


def test_the_text_and_the_file_read_the_same():
    path = WATERS / "de_labor.csv"
    text = path.read_text(encoding="utf-8")
    assert dict(water_from_text(text).solution.forms) == dict(
        read_water(str(path)).solution.forms
    )
    assert read_water(path).name == "de_labor"
    assert read_water(path, name="well").name == "well"


@pytest.mark.parametrize(
    "key",
    [name for name in preset_names() if name.endswith(("voehringen", "eisenach"))],
)
def test_a_report_and_the_water_of_the_package_agree(key):
    """The same public analysis by two ways."""
    known = water(key)
    found = read_water(next(WATERS.glob(f"{key.rpartition('-')[2]}.txt")))
    for form, amount in known.solution.forms.items():
        assert found.solution.forms[form] == pytest.approx(amount, rel=1e-9)


# --- blends ------------------------------------------------------------------------------


def test_a_blend_conserves_alkalinity_carbon_and_charge():
    hard, soft = water("hard"), water("soft")
    blend = blend_waters([(hard, 1.0), (soft, "3 L")])
    assert blend.ph is None
    assert blend.alkalinity == pytest.approx(0.25 * 5.72 + 0.75 * 0.75)
    for form in ("carbonate", "calcium"):
        expected = 0.25 * hard.solution.forms[form] + 0.75 * soft.solution.forms[form]
        assert blend.solution.forms[form] == pytest.approx(expected)
    difference = [one.cations - one.anions for one in (hard, soft, blend)]
    assert difference[2] == pytest.approx(
        0.25 * difference[0] + 0.75 * difference[1], abs=0.02
    )


def test_a_blend_does_not_mind_the_order_or_the_unit_of_the_shares():
    hard, rain = water("hard"), water("rain")
    first = blend_waters([(hard, 0.3), (rain, 0.7)])
    again = blend_waters([(rain, "70 %"), (hard, "30 %")])
    for form, amount in first.solution.forms.items():
        assert again.solution.forms[form] == pytest.approx(amount)
    alone = blend_waters([(hard, 5)])
    assert alone.alkalinity == pytest.approx(hard.alkalinity)
    assert any("tells no alkalinity" in text for text in first.assumed)


@pytest.mark.parametrize(
    "parts",
    [
        [],
        "hard",
        {"hard": 1},
        [("hard", 1)],
        [(1, 2)],
        [("x",)],
        7,
        [(None, None)],
    ],
)
def test_what_cannot_be_blended_is_refused(parts):
    with pytest.raises(InputError):
        blend_waters(parts)
    for share in (0, -1, float("nan"), True, "x", "0 L"):
        with pytest.raises(FormulateError):
            blend_waters([(water("hard"), share)])


# --- bad input ---------------------------------------------------------------------------


@pytest.mark.parametrize("given", [None, 7, b"x", [], "no such file.csv", "", "."])
def test_what_is_no_report_is_refused(given):
    with pytest.raises(InputError):
        read_water(given)


def test_nothing_measured_is_refused_with_what_was_seen(tmp_path):
    path = tmp_path / "poem.txt"
    path.write_text("Roses are red, 12 violets are blue", encoding="utf-8")
    with pytest.raises(InputError, match="no measurement"):
        read_water(path)


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_a_file_reads_in_the_codings_of_spreadsheets(coding, tmp_path):
    path = tmp_path / "report.csv"
    text = "Parameter;Einheit;Wert\nLeitfähigkeit bei 25 °C;µS/cm;651\nCa;mg/l;94,4\n"
    path.write_bytes(text.encode(coding))
    found = read_water(path)
    assert (found.ec, round(found.solution.mg_l("Ca"), 1)) == (0.651, 94.4)


def test_a_mapping_may_carry_bare_numbers_in_house_units():
    found = read_water({"Ca": 80, "HCO3": 244, "EC": 0.5, "pH": 7.4})
    assert found.solution.mg_l("Ca") == pytest.approx(80)
    assert found.ec == 0.5
    with pytest.raises(InputError, match="is the unit right"):
        read_water({"EC": 650})


def test_a_range_in_the_second_of_two_units_is_read_by_its_middle():
    """Chloride 71 mg/L is 2.0 meq/L (35.45 g/mol, IUPAC), the middle of 60 and 82."""
    found = water_from_text(
        "Determination;meq/L;mg/L\nCalcium;2.00;40.1\nChloride;2.00;60-82\npH;7.4;\n"
    )
    assert found.solution.mg_l("Cl") == pytest.approx(71, rel=0.005)
