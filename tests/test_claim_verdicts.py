"""One rule for a claim, whether of a dose or of a chart: rounded or cut, minima, too much."""

import random

import pytest

from formulate.claims.derivation import derive
from formulate.claims.dose_claims import check_dose
from formulate.claims.dose_margins import guarantee_sides
from formulate.claims.feed_chart import read_chart
from formulate.errors import InputError
from formulate.ingredients.labels import label, read_label

# a school glasshouse's bag; P 12 % P2O5 x 0.43643 = 5.237 % (conversion_factors.csv)
BAG = """5-12-26
Total Nitrogen (N) 5.0%
 5.0% Nitrate Nitrogen
Available Phosphate (P2O5) 12.0%
Soluble Potash (K2O) 26.0%
Magnesium (Mg) 3.0%
Sulfur (S) 4.0%
Derived from: potassium nitrate, monopotassium phosphate, potassium sulfate, \
magnesium sulfate heptahydrate"""


def three_ways(subject, value):
    """Return the verdicts of one claim of 1 g/L: dose, chart, chart of the derived bag."""
    bag = read_label(BAG)
    found = [check_dose(bag, "1 g/L", {subject: value})]
    text = f"week;Bag g/L;{subject} mg/L\n1;1;{value}\n"
    found += [read_chart(text, {"Bag": bag})]
    found += [read_chart(text, {"Bag": derive(BAG).accepted("Bag")})]
    return [one.findings[0] for one in found]


# --- rounded or cut ----------------------------------------------------------------------


def test_a_claim_may_be_cut_instead_of_rounded():
    """1 g/L KNO3, 101.103 g/mol: N 138.54, K 386.71 mg/L (IUPAC weights)."""
    found = check_dose("KNO3", "1 g/L", {"N": "138", "K": "386"})
    assert [f.verdict for f in found.findings] == ["right", "right"]
    assert all("cut" in f.what for f in found.findings)
    rounded = check_dose("KNO3", "1 g/L", {"N": "139", "K": "387"})
    assert not any("cut" in f.what for f in rounded.findings)
    off = check_dose("KNO3", "1 g/L", {"N": "137", "K": "388"})
    assert [f.verdict for f in off.findings] == ["wrong", "wrong"]


def test_300_cut_claims_are_right_and_300_moved_ones_wrong():
    """IUPAC weights K 39.0983, N 14.007, O 15.999: N 138.5428, K 386.7202 mg in a gram."""
    draw = random.Random(7)
    for _ in range(300):
        grams = draw.uniform(0.3, 3)
        n, k = (grams * share for share in (138.5428, 386.7202))
        dose, given = f"{grams:.6f} g/L", {"N": f"{int(n)}", "K": f"{int(k * 10) / 10}"}
        assert check_dose("KNO3", dose, given).verdict == "right"
        moved = {"N": f"{int(n) - 1}", "K": f"{int(k * 10) / 10 + 0.2:.1f}"}
        verdicts = [f.verdict for f in check_dose("KNO3", dose, moved).findings]
        assert verdicts == ["wrong", "wrong"]


def test_no_slip_is_never_said_to_be_right_beside_wrong():
    found = check_dose("KNO3", "1 g/L", {"N": "139", "K": "388"})
    assert found.verdict == "wrong"
    assert not found.slips.is_right
    assert "it is right" not in str(found)
    assert "less than the noise" in str(found.slips)
    assert found.slips.finding.verdict != "right"


def test_the_cut_stands_beside_the_other_margins():
    """20 ± 0.5 % in the EU: 195 - 1 to 205 + 0.5."""
    bag = label("bag", basis="eu", guarantees={"nitrate nitrogen": "20"})
    limits = {"193": "wrong", "194": "right", "205": "right", "206": "wrong"}
    for value, verdict in limits.items():
        assert check_dose(bag, "1 g/L", {"N": value}).verdict == verdict


# --- minima -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("subject", "value", "verdict"),
    [
        ("P", "120", "wrong"),  # 2.3 times what is computed
        ("N", "40", "wrong"),  # 50 computed
        ("N", "50", "right"),
        ("N", "51", "right"),  # 5.0 % may be 5.1
        ("N", "58", "cannot tell"),  # 16 % more: there may be more
        ("N", "65", "wrong"),  # 30 % more
        ("N", "5", "wrong"),
        ("N", "1200", "impossible"),
        ("Fe", "3", "wrong"),  # no iron is guaranteed
    ],
)
def test_a_claim_is_judged_alike_whichever_way(subject, value, verdict):
    assert [f.verdict for f in three_ways(subject, value)] == [verdict] * 3


def test_words_on_minima():
    high, chart, _ = three_ways("N", "65")
    assert "it would need 6.5 % N where 5 % is guaranteed" in high.what
    assert "it would need 6.5 % N where 5 % is guaranteed" in chart.what
    low, *_ = three_ways("N", "40")
    assert "does not follow from the label" in low.what
    assert "no fault" in low.what
    some, *_ = three_ways("N", "58")
    assert some.what.endswith("; guarantees are minima, there may be more")
    iron, *_ = three_ways("Fe", "3")
    assert "it would need 0.3 % Fe where none is guaranteed" in iron.what


def test_minima_are_rounded_down_and_others_to_half_a_digit():
    """20 % printed: from 20 to 21 where it is a minimum, else from 19.5 to 20.5."""
    named = {"nitrate nitrogen": "20"}
    us = label("bag", basis="us", guarantees=named)
    eu = label("bag", basis="eu", guarantees=named)
    assert guarantee_sides(us, "N") == pytest.approx((0.0, 1 / 20))
    assert guarantee_sides(eu, "N") == pytest.approx((0.5 / 20, 0.5 / 20))
    (claim,) = check_dose(us, "1 g/L", {"N": "200"}).claims
    assert claim.sides == pytest.approx((1.0, 10.5))


def test_a_derived_label_reaches_from_what_is_printed():
    """13-0-46 of KNO3: the sources bring 13.7 % N (formula); 13 is printed."""
    bag = "Total nitrogen (N) 13 %\nSoluble potash (K2O) 46 %\nDerived from: potassium nitrate"
    made = derive(bag).accepted("bag")
    below, above = guarantee_sides(made, "N")
    there = made.percent("N")
    assert there * (1 - below) == pytest.approx(13.0)
    assert there * (1 + above) == pytest.approx(14.0)


def test_more_than_the_products_weigh_is_impossible_in_a_chart():
    text = "week;A g/L;B g/L;K mg/L\n1;0.1;0.1;210\n2;0.1;0.1;190\n"
    found = read_chart(text, {"A": "KNO3", "B": "KCl"}).findings
    assert [f.verdict for f in found] == ["impossible", "wrong"]
    assert "200" in found[0].what


# --- ranges, about, pH, % ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("claim", "verdict"),
    [
        ("380-390 ppm", "right"),
        ("380 to 390", "right"),
        ("388–400", "wrong"),
        ("387–400", "right"),
        ("300-380", "wrong"),
        ("about 400", "right"),  # 3.4 % off
        ("~370 mg/L", "right"),
        ("approx. 390 ppm", "right"),
        ("ca. 410", "wrong"),  # 6 % off
    ],
)
def test_claims_as_ranges_and_about(claim, verdict):
    """K 386.7 mg/L; about is 5 % (common practice, no source)."""
    assert check_dose("KNO3", "1 g/L", {"K": claim}).verdict == verdict


def test_ec_claims_as_ranges():
    """KNO3 at 0.01 mol/L: about 1.358 mS/cm (discrepancies.md 8)."""
    for claim, verdict in (("1.2-1.4", "right"), ("1.8-2.0 mS/cm", "wrong")):
        found = check_dose("KNO3", "1.01103 g/L", {"EC": claim})
        assert found.verdict == verdict
    tds = check_dose("KNO3", "1.01103 g/L", {"TDS": "600-700 ppm (500)"})
    assert tds.verdict == "right"


def test_a_claimed_ph_is_held_closed_to_the_air():
    """0.00735 mol/kg KH2PO4 has a pH near 4.7: pKa1 2.15, pKa2 7.20 (CRC handbook, memory)."""
    right = check_dose("KH2PO4", "1 g/L", {"pH": "4.5-4.9"})
    assert right.verdict == "right"
    off = check_dose("KH2PO4", "1 g/L", {"pH": "5.8", "P": "227.6"})
    assert [f.verdict for f in off.findings] == ["cannot tell", "right"]
    assert "acid or alkali" in off.findings[0].what
    assert list(off.pairs()) == ["P"]


@pytest.mark.parametrize(
    ("claims", "what"),
    [
        ({"K": "0.0387 %"}, "mg/L"),
        ({"K": "390-380"}, "from more to less"),
        ({"pH": "15"}, "pH"),
        ({"pH": "abc"}, "pH"),
    ],
)
def test_claims_that_are_none(claims, what):
    with pytest.raises(InputError, match=what):
        check_dose("KNO3", "1 g/L", claims)


# --- doses ---------------------------------------------------------------------------------

GALLON, OUNCE = 3.785411784, 28.349523125  # household_measures.csv, exact


def bottle():
    named = {"nitrate nitrogen": "4.0"}
    return label("bottle", basis="us", guarantees=named, density=1.2)


@pytest.mark.parametrize(
    ("dose", "n"),
    [  # 4.0 % w/w at 1.2 kg/L: 48 mg in each mL
        ("1:100", 480.0),
        ("1:1000", 48.0),
        ("1 : 200", 240.0),
        ("100 mL/L at 1:100", 48.0),
        ("1 fl oz/gal", 48.0 * 7.8125),
        ("1 fl oz/gal at 1:100", 48.0 * 0.078125),
        ("1 cup/50 gal", 48.0 * 236.5882365 / (50 * GALLON)),
    ],
)
def test_doses_by_ratio_and_by_the_gallon_of_a_liquid(dose, n):
    (claim,) = check_dose(bottle(), dose, {"N": "1"}).claims
    assert claim.computed == pytest.approx(n, rel=1e-6)


@pytest.mark.parametrize(
    ("dose", "grams"),
    [
        ("13.5 oz/gal at 1:100", 13.5 * OUNCE / GALLON / 100),
        ("13.5 oz/gal 1:100", 13.5 * OUNCE / GALLON / 100),
        ("100 g/L, 1:100", 1.0),
        ("10 kg in 100 L at 1:200", 0.5),
        ("13.35 oz/100 gal", 13.35 * OUNCE / GALLON / 100),
        ("10 g in 5 gal", 2 / GALLON),
    ],
)
def test_doses_of_a_solid(dose, grams):
    found = check_dose("KNO3", dose, {"K": "1"})
    assert found.claims[0].computed == pytest.approx(386.714 * grams, rel=1e-4)
    if "gal" in dose:
        assert "US" in found.dose.assumed


def test_what_is_assumed_of_a_ratio_is_told():
    assert "finished solution" in check_dose(bottle(), "1:100", {"N": "1"}).dose.assumed
    with pytest.raises(InputError, match="a liquid"):
        check_dose("KNO3", "1:100", {"K": "1"})
    for bad in ("1:0", "1:0.5", "2:100:3", "13 oz/gal at 1:0"):
        with pytest.raises(InputError):
            check_dose(bottle(), bad, {"N": "1"})


@pytest.mark.parametrize("dose", ["13.5 oz/100 gal", "13.5 oz/gal at 1:100"])
def test_ounces_of_a_table_are_rounded_to_the_half(dose):
    """worked_examples_ppm.csv, w-umass-20: 13 1/2 oz of 20 % in 100 gal are told as 200."""
    bag = label("bag", basis="us", guarantees={"urea nitrogen": "20"})
    assert check_dose(bag, dose, {"N": "200"}).verdict == "right"
    assert check_dose(bag, dose, {"N": "195"}).verdict == "wrong"
    in_grams = f"{13.5 * OUNCE:.6f} g in {100 * GALLON:.6f} L"
    assert check_dose(bag, in_grams, {"N": "200"}).verdict == "wrong"
