"""Rows of tables of salts: chelates as they are sold, rows exchanged, acids by strength.

Shares of pure compounds by the atomic masses of IUPAC 2021; those of chelates as sold are
common practice, no source, as are the strengths of acids.
"""

import pytest

from formulate.claims.published_table import check_table
from formulate.ingredients.salts import as_ingredient

# IUPAC 2021: Fe 55.845, Zn 65.38, Cu 63.546, S 32.06, O 15.999, H 1.008, N 14.007


@pytest.mark.parametrize(
    ("name", "percent"),
    [
        ("Fe-DTPA", "7"),  # 6 to 7 %: cut with salts; common practice, no source
        ("Fe-DTPA", "6"),
        ("Fe-DTPA", "11"),
        ("Fe-DTPA", "11.6"),
        ("Fe-EDTA", "13"),
        ("Fe-EDTA", "14"),
        ("Fe-EDDHA", "6"),
        ("Fe-EDDHA", "5"),
        ("Fe-HBED", "9"),
        ("Zn-EDTA", "15"),
    ],
)
def test_a_chelate_as_it_is_sold_is_right(name, percent):
    assert check_table(f"salt,{name[:2]} %\n{name},{percent}\n").verdict == "right"


@pytest.mark.parametrize(
    ("name", "percent", "verdict"),
    [
        ("Fe-DTPA", "8.5", "cannot tell"),  # between the two grades that are sold
        ("Fe-EDDHA", "9", "cannot tell"),  # pure NaFeEDDHA holds 12.8 %
        ("Fe-DTPA", "15", "impossible"),  # pure Na2FeDTPA holds 11.4 %
        ("Fe-DTPA", "1.1", "wrong"),
        ("Fe-EDDHA", "15", "impossible"),
    ],
)
def test_a_chelate_that_no_bag_holds(name, percent, verdict):
    assert check_table(f"salt,Fe %\n{name},{percent}\n").verdict == verdict


def test_a_molar_mass_beside_a_chelate_is_no_share():
    # Fe-EDTA has no one formula of the trade; a molar mass of ZnSO4·7H2O is 287.5, not 25.5
    check = check_table("salt,M\nFe-EDTA,500\nZnSO4·7H2O,255\n")
    assert check.findings[-1].verdict == "wrong"


def test_rows_exchanged_between_two_columns_are_named():
    # Zn in ZnSO4·7H2O: 65.38 / 287.54 = 22.74 %; Cu in CuSO4·5H2O: 63.546 / 249.68 = 25.45 %
    text = "salt,Zn %,Cu %\nZnSO4·7H2O,25.5,\nCuSO4·5H2O,,22.7\n"
    first, second = check_table(text).not_right
    assert first.verdict == second.verdict == "wrong"
    assert "exchanged with line 3, CuSO4·5H2O" in first.what
    assert "exchanged with line 2, ZnSO4·7H2O" in second.what


def test_rows_exchanged_are_named_by_few_digits_where_both_say_so():
    wrong = check_table("salt,N %,K2O %\nKNO3,0,54\nK2SO4,13.9,46.6\n").not_right
    assert "exchanged with line 3, K2SO4" in wrong[1].what  # 0-0-54 and 13.9-0-46.6


def test_rows_that_are_right_are_not_called_exchanged():
    text = "salt,Zn %,Cu %\nZnSO4·7H2O,22.7,\nCuSO4·5H2O,,25.5\n"
    assert check_table(text).verdict == "right"
    one = check_table("salt,Zn %,Cu %\nZnSO4·7H2O,25.5,\nCuSO4·5H2O,,25.5\n").not_right
    assert "exchanged with" not in one[0].what  # the other row is right


@pytest.mark.parametrize(
    ("name", "percent"),
    [  # N in HNO3: 14.007 / 63.012 = 22.23 %; P in H3PO4: 30.974 / 97.994 = 31.61 %
        ("nitric acid 65 %", "14.4"),
        ("nitric acid (65 %)", "14.4"),
        ("65 % nitric acid", "14.4"),
        ("acide nitrique à 60 %", "13.3"),
        ("Salpetersäure 53 %", "11.8"),
        ("acido nitrico 60%", "13.3"),
    ],
)
def test_an_acid_of_any_strength_is_known(name, percent):
    assert check_table(f"material,N %\n{name},{percent}\n").verdict == "right"
    wrong = check_table(f"material,N %\n{name},{float(percent) + 2:.1f}\n")
    assert wrong.verdict in ("wrong", "impossible")


def test_the_strength_is_that_of_the_name():
    assert as_ingredient("nitric acid (65 %)").purity_percent == 65
    assert as_ingredient("phosphoric acid 85 %").name == "phosphoric acid (85 %)"
    assert as_ingredient("H2SO4 50 %").percent("S") == pytest.approx(
        50 * 32.06 / 98.072,
        rel=1e-3,  # IUPAC 2021: H2SO4 98.072
    )


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        ("Nitrate de calcium tétrahydraté", "calcium nitrate tetrahydrate"),
        ("Nitrates de calcium tétrahydratés", "calcium nitrate tetrahydrate"),
        ("nitrate de calcium tetrahydrate", "calcium nitrate tetrahydrate"),
        ("Sulfates de zinc monohydratés", "zinc sulfate monohydrate"),
        ("nitrates de potassium", "potassium nitrate"),
        ("nitrate de calcium anhydre", "calcium nitrate anhydrous"),
        ("sulfato de zinc heptahidratado", "zinc sulfate heptahydrate"),
        ("solfato di rame pentaidrato", "copper sulfate pentahydrate"),
        ("Magnesiumnitrat-Hexahydrat", "magnesium nitrate hexahydrate"),
    ],
)
def test_a_hydrate_is_known_in_other_languages(name, meant):
    assert as_ingredient(name).name == meant
