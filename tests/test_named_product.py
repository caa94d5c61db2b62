"""A product that is called by a material is held against what the material holds.

Pure shares: tests/published/salt_analyses.csv, in oxides by conversion_factors.csv.
"""

import pytest

from formulate.claims.label_check import check_label
from formulate.claims.named_product import materials_called
from formulate.ingredients.salts import catalogue

MKP = "52 % P2O5 phosphate\n34 % K2O potash"


@pytest.mark.parametrize(
    ("title", "rest"),
    [
        ("Kaliumnitrat", "52 % P2O5 wasserlösliches Phosphat\n34 % K2O Kaliumoxid"),
        (
            "Potassium Nitrate 0-52-34",
            "Available Phosphate (P2O5) 52 %\nSoluble Potash (K2O) 34 %",
        ),
        ("potassium nitrate", MKP),
    ],
)
def test_what_no_purity_can_hold_is_wrong(title, rest):
    # KNO3 holds no phosphorus; 52-34 are KH2PO4's numbers
    checked = check_label(f"{title}\n{rest}")
    assert checked.verdict == "wrong"
    told = checked.about("name")
    assert [each.number for each in told if "P2O5" in each.what] == [52.0]
    assert "monopotassium phosphate" in told[0].what


@pytest.mark.parametrize(
    ("title", "rest", "told"),
    [
        # MgSO4·7H2O holds 16.4 % MgO, MgSO4·H2O 29.1 %
        ("Magnesiumsulfat-Heptahydrat", "MgO 27 %\nSO3 54 %", "monohydrate"),
        # 13 of 13.85 % N is 94 %, 38 of 46.6 % K2O is 82 %
        (
            "Kaliumnitrat 13-0-38",
            "Gesamtstickstoff (N) 13 %\nNitratstickstoff 13 %\nKaliumoxid (K2O) 38 %",
            "46.58",
        ),
    ],
)
def test_what_no_purity_brings_together_is_left_open_and_told(title, rest, told):
    checked = check_label(f"{title}\n{rest}")
    assert checked.verdict == "cannot tell"
    (found,) = checked.about("name")
    assert found.severity == "serious"
    assert told in found.what


@pytest.mark.parametrize("given", ["Borax\nB 17.4 %", "B 17.4 %\nDerived from: borax"])
def test_the_number_of_boric_acid_under_the_name_of_borax_is_told(given):
    # B: boric acid 17.48 %; borax 11.34 with ten waters, 14.84 with five, 21.5 dry
    checked = check_label(given, rule="us")
    assert checked.verdict == "cannot tell"
    (found,) = checked.about("name")
    assert found.severity == "caution"
    assert "boric acid" in found.what


@pytest.mark.parametrize("share", ["11.3", "14.8", "14.9", "21.4"])
def test_borax_with_the_number_of_one_of_its_hydrates_is_right(share):
    for text in ("Borax\nB {} %", "B {} %\nDerived from: borax"):
        checked = check_label(text.format(share), rule="us")
        assert checked.verdict == "right", str(checked)


@pytest.mark.parametrize("purity", [1.0, 0.97, 0.93, 0.9])
def test_a_salt_of_usual_purity_under_its_own_name_is_right(purity):
    # KNO3 13.85 % N, 46.58 % K2O; MgSO4·7H2O 9.86 % Mg, 13.01 % S; (NH4)2SO4 21.2, 24.3
    pure = {
        "Potassium nitrate": (("Total Nitrogen", 13.85), ("Soluble Potash", 46.58)),
        "Epsom salt": (("Magnesium", 9.86), ("Sulfur", 13.01)),
        "Ammonium sulfate": (("Total Nitrogen", 21.2), ("Sulfur", 24.26)),
    }
    for title, shares in pure.items():
        lines = [f"{word} {int(10 * v * purity) / 10} %" for word, v in shares]
        checked = check_label("\n".join([title, *lines]), rule="us")
        assert checked.verdict == "right", str(checked)
        assert [each.verdict for each in checked.about("name")] == ["right"]


def test_a_hydrate_that_lost_a_little_water_is_not_doubted():
    # CaCl2·2H2O holds 27.3 % Ca, the dry salt 36.1
    assert check_label("Calcium chloride\nCalcium (Ca) 28 %").verdict == "right"


def test_a_little_of_something_else_does_not_doubt_a_name():
    bag = "Potassium sulfate\nSoluble Potash 50 %\nSulfur 17 %\nMagnesium {} %"
    assert check_label(bag.format("1"), rule="us").verdict == "right"
    less = bag.replace("50", "40").replace("17", "14")
    assert check_label(less.format("4"), rule="us").verdict == "wrong"


@pytest.mark.parametrize(
    ("name", "many"),
    [
        ("Potassium nitrate 13.7-0-46", 1),
        ("Epsom salt", 1),
        ("Ammonium sulfate 21-0-0-24S", 1),
        ("magnesium sulfate", 3),
        ("School glasshouse feed 15-5-30", 0),
        ("NPK 15-5-30", 0),
        ("Calcium", 0),
        ("Iron chelate", 0),
        ("", 0),
    ],
)
def test_a_name_means_one_salt_or_none(name, many):
    found = materials_called(name)
    assert len(found) == many
    assert all(made.name in catalogue() for made in found)
