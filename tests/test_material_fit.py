"""Which material a label is: trade grades as they are sold, agents, shares told on two bases.

Analyses are those of the trade (common practice, no source) unless a row of salt_analyses is
named; what must not fit follows from molar masses (periodictable).
"""

import periodictable
import pytest

from formulate.claims.as_sold import grades_as_sold
from formulate.claims.label_check import check_label
from formulate.claims.material_fit import which_material
from formulate.errors import InputError
from formulate.ingredients.salts import catalogue

GREENHOUSE = "calcium nitrate, greenhouse grade (15.5-0-0, 19 % Ca)"


def names(shares, **given):
    return [fit.ingredient.name for fit in which_material(shares, **given)]


def mass(formula):
    return periodictable.formula(formula).mass


# --- as sold ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ammonium", "nitrate", "calcium"),
    [
        # salt_analyses: labels split 14.4-14.5 and 1.0-1.1, the pure double salt 14.26 and
        # 1.30 with Ca 18.54; 26.3 % CaO is the usual EU tag (common practice, no source)
        ("1.1", "14.4", ("Ca", "19.0")),
        ("1.1", "14.4", ("Ca", "18.8")),
        ("1.0", "14.5", ("Ca", "19")),
        ("1.3", "14.2", ("Ca", "18.5")),
        ("1.2", "14.3", ("Ca", "18.5")),
        ("1.1", "14.4", ("CaO", "26.3")),
        ("1.1", "14.4", ("CaO", "26.5")),
    ],
)
def test_greenhouse_calcium_nitrate_is_found_as_it_is_sold(ammonium, nitrate, calcium):
    shares = {"N": "15.5", "NH4-N": ammonium, "NO3-N": nitrate, calcium[0]: calcium[1]}
    assert names(shares) == [GREENHOUSE]


def test_what_the_greenhouse_grade_does_not_hold_is_no_fit():
    forms = {"N": "15.5", "NH4-N": "1.1", "NO3-N": "14.4"}
    assert names({**forms, "Ca": "26.5"}) == []  # CaO printed as Ca
    assert names({**forms, "CaO": "19.0"}) == []  # Ca printed as CaO
    assert names({"NH4-N": "2.0", "NO3-N": "13.5", "Ca": "19.0"}) == []
    assert names({**forms, "Ca": "19.0", "K2O": "1"}) == []
    assert names({**forms, "Ca": "19.0", "K2O": "0.001"}) == []


@pytest.mark.parametrize(
    ("shares", "formula"),
    [
        ({"N": "11", "P2O5": "48"}, "NH4H2PO4"),
        ({"N": "11", "P2O5": "52"}, "NH4H2PO4"),
        ({"N": "12", "P2O5": "61"}, "NH4H2PO4"),
        ({"N": "18", "P2O5": "46"}, "(NH4)2HPO4"),
        ({"N": "21", "P2O5": "53"}, "(NH4)2HPO4"),
        ({"N": "13", "K2O": "44"}, "KNO3"),
        ({"N": "13.0", "K2O": "46.0"}, "KNO3"),
        ({"N": "13.7", "K2O": "46.3"}, "KNO3"),
        ({"K2O": "50", "S": "17"}, "K2SO4"),
        ({"K2O": "50", "S": "18"}, "K2SO4"),
        ({"K2O": "52", "S": "17.5"}, "K2SO4"),
        ({"K2O": "53", "S": "18"}, "K2SO4"),
        ({"K2O": "60", "Cl": "46"}, "KCl"),
        ({"K2O": "62", "Cl": "47"}, "KCl"),
        ({"MgO": "25", "SO3": "50"}, "MgSO4·H2O"),
        ({"N": "11", "Mg": "9.6"}, "Mg(NO3)2·6H2O"),
        ({"N": "11", "MgO": "16"}, "Mg(NO3)2·6H2O"),
        ({"K2O": "22", "Mg": "10.8", "S": "22"}, "K2Mg2(SO4)3"),
        ({"K2O": "22", "Mg": "11", "S": "22"}, "K2Mg2(SO4)3"),
        ({"MgO": "16", "Mg": "9.6", "SO3": "32.5", "S": "13"}, "MgSO4·7H2O"),
        ({"MgO": "16", "SO3": "32.5"}, "MgSO4·7H2O"),
    ],
)
def test_a_trade_grade_names_its_salt(shares, formula):
    assert which_material(shares)[0].ingredient.formula == formula


def test_the_purity_of_a_trade_grade_is_told():
    # 25 % MgO and 50 % SO3 of MgSO4·H2O: 25 / 29.13 and 50 / 57.85, both about 86 %
    of_magnesia = 25 * mass("MgSO4H2O") / mass("MgO")
    of_sulfate = 50 * mass("MgSO4H2O") / mass("SO3")
    fit = which_material({"MgO": "25", "SO3": "50"})[0]
    assert fit.low < of_magnesia < fit.high
    assert fit.low < of_sulfate < fit.high
    assert fit.low > 80
    assert "purity" in str(fit)


def test_a_grade_as_sold_says_so_with_its_range():
    fit = which_material({"N": "11", "P2O5": "48"})[0]
    assert not fit.is_pure
    assert "as sold" in str(fit)
    # 48 % P2O5 of 61.7 % in the pure salt
    pure = 100 * mass("P2O5") / 2 / mass("NH4H2PO4")
    assert fit.low < 100 * 48 / pure < fit.high


def test_a_purity_that_is_asked_for_holds_for_all():
    assert names({"MgO": "25", "SO3": "50"}, least_purity=90) == []
    # 24 % of 29.13 % MgO and 48 % of 57.85 % SO3: 82 and 83 %, told by both only
    kieserite = "magnesium sulfate monohydrate"
    assert names({"MgO": "24", "SO3": "48"}) == [kieserite]
    assert kieserite not in names({"MgO": "24.0"})
    with pytest.raises(InputError):
        which_material({"MgO": "25"}, least_purity=120)


def test_shares_of_no_common_purity_are_no_fit():
    # 25 % MgO is 86 % kieserite, 57 % SO3 is 98.5 % of it
    assert names({"MgO": "25", "SO3": "57"}) == []


def test_two_bases_that_disagree_stay_apart():
    assert names({"MgO": "16", "Mg": "6.9", "SO3": "32.5", "S": "13"}) == []


def test_every_grade_as_sold_is_of_the_catalogue_and_possible():
    for grade in grades_as_sold():
        made = catalogue()[grade.material]
        for key, (least, most) in grade.ranges.items():
            assert 0 < least <= most
            assert made.percent(key) > 0
            if made.formula and not set(made.forms) & {"edta", "dtpa", "eddha", "hbed"}:
                # a salt sold partly dried cannot hold more than without its crystal water
                water = made.crystal_water * 18.015 / 1000
                dry = made.percent(key) / (1 - water)
                assert most <= max(dry, made.percent(key) * 1.02), (grade.material, key)


def test_a_grade_and_a_guarantee_apart_fit_no_grade_as_sold():
    # 44 and 46 % K2O are both sold as potassium nitrate, but not in one bag
    text = "13-0-{grade}\nTotal Nitrogen (N) 13.0 %\nSoluble Potash (K2O) 46.0 %"
    assert told(text.format(grade=46)).verdict == "right"
    assert told(text.format(grade=44)).verdict == "cannot tell"


# --- agents ---------------------------------------------------------------------------------


def told(text):
    return check_label(text).about("material")[0]


CHELATE = """EU-Düngeprodukt Spurennährstoff-Dünger
{share} % Fe wasserlösliches Eisen
{share} % Fe als Chelat von {agent}"""


@pytest.mark.parametrize(
    ("agent", "share", "named"),
    [
        ("EDTA", "13", "iron EDTA"),
        ("EDTA", "13,2", "iron EDTA"),
        ("EDTA", "13,3", "iron EDTA"),
        ("DTPA", "11", "iron DTPA"),
        ("DTPA", "11,6", "iron DTPA"),
        ("DTPA", "7", "iron DTPA"),
        ("EDDHA", "6", "iron EDDHA"),
        ("HBED", "6", "iron HBED"),
        ("HBED", "9", "iron HBED"),
    ],
)
def test_the_agent_that_is_named_counts(agent, share, named):
    found = told(CHELATE.format(agent=agent, share=share))
    assert found.verdict == "right"
    assert named in found.what
    others = {"EDTA", "DTPA", "EDDHA", "HBED"} - {agent}
    assert not any(f"iron {other}" in found.what for other in others)


def test_a_chelate_cannot_hold_more_metal_than_its_compound():
    # NaFe(DTPA)H, C14H19FeN3NaO10: 11.9 % Fe (periodictable)
    iron = 100 * mass("Fe") / mass("C14H19FeN3NaO10")
    assert iron < 12
    assert told(CHELATE.format(agent="DTPA", share="13")).verdict == "cannot tell"


def test_without_an_agent_each_chelate_that_fits_is_told_with_its_range():
    found = told("EU-Düngeprodukt\n6 % Fe wasserlösliches Eisen, als Chelat")
    assert "iron EDDHA" in found.what
    assert "iron HBED" in found.what
    assert "as sold" in found.what


@pytest.mark.parametrize(
    ("agent", "verdict"), [("EDTA", "right"), ("DTPA", "cannot tell")]
)
def test_the_agent_of_the_source_counts_too(agent, verdict):
    text = (
        f"Iron (Fe) 13 %\n 13 % Chelated Iron (Fe)\nDerived from: sodium ferric {agent}"
    )
    assert told(text).verdict == verdict


def test_a_share_by_volume_and_by_mass_against_the_density_is_a_finding():
    # 10 g in 100 mL and 8.3 % make 1.2 kg/L
    check = check_label("MgO 10 % w/v, 8.3 % w/w\nDensity 1.35 kg/L")
    (found,) = check.about("MgO w/v and w/w")
    assert found.verdict == "wrong"
    assert found.number == pytest.approx(10 / 8.3)
    assert found.limit == 1.35
    assert check.verdict == "wrong"
