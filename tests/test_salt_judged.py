"""Rows of a table of salts as the trade sells them, and numbers of other materials."""

import pytest

from formulate.claims.salt_table import check_salt_table


def only_wrong(text):
    (found,) = check_salt_table(text).not_right
    return found


@pytest.mark.parametrize(
    ("row", "purity"),
    [
        # shares of the pure salt by molar masses: (NH4)2HPO4 21.21 N, 53.74 P2O5; KNO3 13.85
        # N, 46.58 K2O; NH4H2PO4 12.18 N, 61.70 P2O5; grades of the trade: common practice,
        # no source
        ("diammonium phosphate;18;46;0", "as sold, 84.6 to 87.5 % of pure"),
        ("potassium nitrate;13;0;44", "commercial of 93.4 to 96.6 % purity"),
        ("monoammonium phosphate;11;48;0", "as sold, grade 11-48-0"),
        ("monoammonium phosphate;11;52;0", "as sold, grade 11-52-0"),
        ("monoammonium phosphate;12;61;0", "pure monoammonium phosphate"),
    ],
)
def test_grades_of_the_trade_are_right_as_sold(row, purity):
    check = check_salt_table(f"fertilizer;N;P2O5;K2O\n{row}\n")
    assert check.is_right, str(check)
    told = [f.what for f in check.findings if f.number]
    assert len(told) == 2
    assert all(purity in what for what in told), told


def test_a_grade_in_one_cell_is_right_as_sold():
    check = check_salt_table("salt;grade\nMAP;11-48-0\nDAP;18-46-0\n")
    assert check.is_right
    assert "as sold" in check.findings[0].what


@pytest.mark.parametrize(
    "row",
    [
        # 21.21 N, 53.74 P2O5: 18 is 85 %, 50 is 93 %; 15 and 38 are 71 %
        "diammonium phosphate;18;50;0",
        "diammonium phosphate;15;38;0",
        # 12.18 N: 11-40 is no grade, 10 beside 50 is one
        "monoammonium phosphate;11;40;0",
    ],
)
def test_what_shares_no_purity_is_not_right_as_sold(row):
    assert not check_salt_table(f"fertilizer;N;P2O5;K2O\n{row}\n").is_right


def test_a_nought_that_every_candidate_holds_none_of_is_right():
    # no magnesium sulfate holds N, P or K
    check = check_salt_table("salt;N;P2O5;K2O\nmagnesium sulfate;0;0;0\n")
    assert check.is_right
    assert sum(finding.number == 0 for finding in check.findings) == 3
    check = check_salt_table("salt;N;Mg\nmagnesium sulfate;0;\nKNO3;0;\n")
    assert [f.verdict for f in check.findings[-2:]] == ["right", "wrong"]


@pytest.mark.parametrize(
    ("row", "words"),
    [
        # B in boric acid 17.48, in borax (decahydrate) 11.34 % (molar masses)
        ("boric acid;;;11.3", "the number of borax decahydrate"),
        # K in 0-0-50: 50 x 0.8301 = 41.5; in pure K2SO4 44.9
        ("K2SO4;41.5;;", "its K, printed under P"),
        ("K2SO4;44.9;;", "its K, printed under P"),
    ],
)
def test_the_number_of_another_material_or_a_grade_is_named(row, words):
    found = only_wrong(f"salt;P %;Mg %;B %\n{row}\n")
    assert found.verdict == "wrong"
    assert words in found.what


def test_a_grade_of_the_trade_is_known_as_elements_too():
    # 48 % of P2O5 are 48 x 0.43643 = 20.95 % of P
    check = check_salt_table("salt;N %;P %;S %\nMAP;11;20.9;0\nMAP;11;20.5;0\n")
    assert [f.verdict for f in check.findings][:3] == ["right", "right", "right"]
    assert not check.is_right
