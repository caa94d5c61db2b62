"""A report against itself: published checks, odd pairs, slips that mend the balance."""

import csv
import re
from pathlib import Path

import pytest

from formulate.errors import InputError
from formulate.ingredients.report_amounts import check_row
from formulate.ingredients.water_report import (
    read_water,
    water_from_text,
)

WATERS = Path(__file__).parent / "waters"
PUBLISHED = Path(__file__).parent / "published"


def published(name):
    path = PUBLISHED / f"{name}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_published_checks_stand_in_the_table():
    """Standard Methods 1030 E and two guides, rows as published."""
    by_item = {}
    for row in published("water_report_ratios") + published("water_report_example"):
        by_item.setdefault((row["item"], row["source_key"]), row)
    pairs = {
        "cation sum over EC": ("cation sum against EC", "sm-1030e"),
        "TDS over EC": ("measured TDS / EC", "sm-1030e"),
        "TDS over EC in the wider guide": (
            "sum of dissolved solids / EC",
            "sjc-gw-report",
        ),
        "TDS over sum of ions": ("measured / calculated TDS", "sm-1030e"),
    }
    for check, item in pairs.items():
        row = check_row(check)
        for column in ("low", "high"):
            assert row.number(column) == float(by_item[item][column])
    assert check_row("TDS apart from sum of ions").number("limit") == 20  # co-drms-tds


def test_the_published_example_gives_its_sums_and_its_balance():
    """hightunnels-water: cations 4.6 printed; balance 3.2 % within 0.2 by the table."""
    found = read_water(WATERS / "hightunnels.txt")
    row = {row["item"]: row for row in published("water_report_example")}
    cations = float(row["worked report: cation sum"]["high"])
    balance = float(row["worked report: charge balance"]["high"])
    assert found.cations == pytest.approx(cations, abs=0.05)
    assert found.balance_percent == pytest.approx(balance, abs=0.2)
    assert not any("against EC" in notice.what for notice in found.notices)


def test_the_german_example_prints_its_balance_by_the_mean():
    """E DIN 38402-62: -3.45 % by the mean; half of it by the sum."""
    found = read_water(WATERS / "din38402_example.csv")
    assert found.balance_percent == pytest.approx(-3.45 / 2, abs=0.01)


@pytest.mark.parametrize(
    ("at_20", "at_25"), [(332, 370), (457, 510), (242, 270), (502, 560), (233, 260)]
)
def test_conductivity_goes_from_20_to_25_degrees_as_laboratories_print_it(at_20, at_25):
    """Pairs after EN 27888 (nf-en-27888-readings); printed to the nearest ten."""
    found = read_water({"Conductivity at 20 °C": f"{at_20} µS/cm"})
    assert 1000 * found.ec == pytest.approx(at_25, abs=5)
    assert "at 20 °C × 1.116" in found.assumed[0]


GOOD = {
    "Ca": "80.2 mg/L",
    "Mg": "14.6 mg/L",
    "Na": "23.0 mg/L",
    "K": "2.0 mg/L",
    "alkalinity": "203 mg/L as CaCO3",
    "Cl": "35.5 mg/L",
    "SO4": "48.0 mg/L",
    "NO3": "12.4 mg/L",
    "pH": 7.5,
    "EC": "0.61 mS/cm",
}


def notices(changes, words):
    found = read_water({**GOOD, **changes})
    return [notice for notice in found.notices if words in notice.what]


def test_a_report_that_agrees_has_nothing_to_be_said_against_it():
    found = read_water(GOOD)
    against = [n for n in found.notices if n.severity != "note"]
    assert all("above" in notice.what for notice in against)  # limits only
    assert not any("perhaps" in notice.what for notice in found.notices)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"Ca": "120 mg/L"}, "out of balance"),
        ({"EC": "0.9 mS/cm"}, "against EC"),
        ({"TDS": "610 mg/L"}, "TDS 610 mg/L ÷ EC 610"),
        ({"TDS": "250 mg/L"}, "÷ sum of the ions"),
        ({"hardness": "330 mg/L as CaCO3"}, "hardness printed 330"),
        ({"hardness": "10 German degree"}, "is above the hardness"),
        ({"Ca": "14 mg/L", "Mg": "80 mg/L"}, "more Mg"),
        ({"NH4": "1.2 mg/L", "NO2": "0.5 mg/L"}, "ammonium 1.2 and nitrite"),
        ({"CO3": "12 mg/L", "pH": 7.0}, "at pH 7: below pH 8.3"),
        ({"Ca": "2 mg/L", "Mg": "0.5 mg/L", "Na": "170 mg/L"}, "softened"),
        ({"sum of cations": "9.9 meq/L"}, "printed cation sum 9.9"),
        ({"ion balance": "7 %"}, "does not follow"),
        ({"HCO3": "203 mg/L"}, "bicarbonate and carbonate make"),
    ],
)
def test_what_does_not_fit_is_told_and_never_refused(changes, words):
    assert notices({}, words) == []
    assert notices(changes, words)[0].severity != "serious"


def test_a_ph_that_cannot_stand_beside_the_alkalinity_is_not_used():
    for ph in (4.0, 11.5):
        found = read_water({"Ca": "80 mg/L", "alkalinity": "0.5 meq/L", "pH": ph})
        assert found.ph is None
        assert found.alkalinity == 0.5
        assert found.notices[0].severity == "serious"


SLIPS = [  # entry as misprinted; the words of the slip; the factor by molar masses
    ("alkalinity", "247.5 mg/L as CaCO3", "bicarbonate listed as alkalinity", 1.2193),
    ("Ca", "200.3 mg/L", "hardness taken for calcium", 2.4973),
    ("Ca", "112.2 mg/L", "CaO taken for Ca", 1.3992),
    ("SO4", "16.0 mg/L", "S taken for SO4", 0.33376),
    ("Mg", "60.1 mg/L", "hardness taken for magnesium", 4.1179),
    ("Na", "230 mg/L", "ten times taken for once", 10.0),
    # discrepancies.md 12: meq/L under the heading mg/L (fao29-pmc); 1 meq/L of each
    ("Cl", "1.00 mg/L", "meq/L or mmol/L taken for mg/L", 1 / 35.453),
    ("Na", "1.00 mg/L", "meq/L or mmol/L taken for mg/L", 1 / 22.9898),
    ("SO4", "1.00 mg/L", "meq/L taken for mg/L", 2 / 96.06),
    ("Ca", "4.00 mg/L", "meq/L taken for mg/L", 2 / 40.078),
    ("Ca", "2.00 mg/L", "mmol/L taken for mg/L", 1 / 40.078),
    ("alkalinity", "4.06 mg/L as CaCO3", "meq/L taken for mg/L CaCO3", 2 / 100.086),
    ("alkalinity", "11.4 mg/L as CaCO3", "German degrees taken for mg/L", 1 / 17.848),
]


@pytest.mark.parametrize(("key", "printed", "words", "factor"), SLIPS)
def test_a_slip_is_proposed_where_it_mends_the_balance(key, printed, words, factor):
    found = notices({key: printed}, "perhaps")
    fitting = [n for n in found if words in n.what and f", {key}: " in n.what]
    assert len(fitting) == 1
    number = float(re.search(r"÷ ([\d.]+) =", fitting[0].what).group(1))
    assert number == pytest.approx(factor, rel=1e-4)
    as_printed = read_water({**GOOD, key: printed})  # nothing is changed by a proposal
    assert as_printed.report.entry(ENTRY[key]).value == float(printed.split()[0])


ENTRY = {"alkalinity": "alkalinity", "Ca": "calcium", "SO4": "sulfate"}
ENTRY |= {"Mg": "magnesium", "Na": "sodium", "Cl": "chloride"}


def test_no_slip_is_proposed_where_none_mends_it():
    assert notices({"Na": "95 mg/L"}, "out of balance") != []
    assert notices({"Na": "95 mg/L"}, "perhaps") == []


def test_a_missing_alkalinity_is_proposed_and_never_counted():
    told = {key: v for key, v in GOOD.items() if key != "alkalinity"}
    found = read_water(told)
    assert found.alkalinity is None
    assert "carbonate" not in found.solution.forms
    proposal = [n for n in found.notices if "would leave" in n.what]
    assert proposal[0].number == pytest.approx(203 / 50.043, rel=0.01)  # sm-2340b


@pytest.mark.parametrize(
    ("printed", "convention"),
    [
        ("2.35 %", "by the sum of both"),
        ("4.70 %", "by the mean of both"),
        ("-2.35 %", "sign turned round"),
    ],
)
def test_a_printed_balance_is_told_by_its_convention(printed, convention):
    """(cations - anions)/(cations + anions) of the changed water is 2.35 %."""
    found = notices({"Na": "30.0 mg/L", "ion balance": printed}, "printed balance")
    assert convention in found[0].what


def test_calcium_and_magnesium_follow_from_the_hardness():
    """2.497 Ca + 4.118 Mg = hardness as CaCO3 (sm-2340b)."""
    told = {"hardness": f"{2.497 * 80 + 4.118 * 12} mg/L as CaCO3"}
    found = read_water({**told, "Mg": "12 mg/L"})
    assert found.solution.mg_l("Ca") == pytest.approx(80, rel=1e-3)
    found = read_water({**told, "Ca": "80 mg/L"})
    assert found.solution.mg_l("Mg") == pytest.approx(12, rel=5e-3)
    assert any("not told: hardness" in text for text in found.assumed)


def test_one_quantity_in_two_ways_must_agree():
    found = read_water({"NO3": "16.4 mg/L", "Nitrate-N": "3.7 mg/L", "pH": 7})
    assert found.solution.mg_l("NO3") == pytest.approx(16.4)
    with pytest.raises(InputError, match="does not agree"):
        read_water({"NO3": "16.4 mg/L", "Nitrate-N": "16.4 mg/L"})


@pytest.mark.parametrize(
    ("text", "meq"),
    [
        ("Alkalinity 150 mg/L as CaCO3", 150 / 50.043),
        ("Alkalinity (as HCO3) 150 mg/L", 150 / 61.016),
        ("Alkalinity 150 mg/L", 150 / 50.043),
        ("m-Wert 2,5 mmol/l", 2.5),
        ("Karbonathärte 10 °dH", 10 * 17.848 / 50.043),
        ("Carbonate hardness 10 °f", 10 * 10 / 50.043),
        ("Alkalinity 10 °Clark", 10 * 14.254 / 50.043),
        ("Alkalinity 10 gpg", 10 * 17.118 / 50.043),
        ("Alkalinity 3 meq/L", 3.0),
        ("Bicarbonate 122 mg/L", 122 / 61.016),
        ("Bicarbonate 100 mg/L\nCarbonate 30 mg/L", 100 / 61.016 + 30 / 30.004),
        ("Bicarbonate alkalinity 100 mg/L as CaCO3", 100 / 50.043),
        ("Gesamthärte 10 °dH\nNichtkarbonathärte 4 °dH", 6 * 17.848 / 50.043),
    ],
)
def test_alkalinity_by_all_its_names(text, meq):
    """Equivalent weights and degrees from the published table of water checks."""
    assert water_from_text(text).alkalinity == pytest.approx(meq, rel=2e-4)
