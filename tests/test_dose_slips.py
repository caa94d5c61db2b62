"""Slips behind the claims of a dose: rounded factors, ratios, misprints, what cannot be."""

import numpy as np
import pytest

from formulate.claims.dose_claims import check_dose
from formulate.claims.dose_measures import read_dose
from formulate.errors import InputError
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.labels import label
from formulate.tables import read_table

POUND, GALLON = 453.59237, 3.785411784  # exact by definition
K_IN_KNO3 = 39.0983 / 101.1032  # IUPAC weights
P_IN_MKP = 30.9738 / 136.0855
LIQUID = Ingredient("bottle", {}, dissolved=True, density=1.2)


def first_keys(found):
    return [candidate.keys for candidate in found.slips.groups[0].candidates]


# --- rounded factors -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("salt", "claims", "slip"),
    [
        # 1.2, 0.83, 2.29, 0.44: common practice, no source; 1 g/L of pure salt
        ("KNO3", {"K": f"{1000 * K_IN_KNO3 * 1.2:.0f}"}, "k2o-as-k"),
        ("KNO3", {"K2O": f"{1000 * K_IN_KNO3:.0f}"}, "k2o-as-k"),
        ("KH2PO4", {"P": f"{1000 * P_IN_MKP * 2.29:.0f}"}, "p2o5-as-p"),
        ("KH2PO4", {"P2O5": f"{1000 * P_IN_MKP * 2.2914 * 0.44:.0f}"}, "p2o5-as-p"),
        ("KNO3", {"N": "138.5", "K": "464"}, "k2o-as-k"),
    ],
)
def test_factors_rounded_by_the_trade_still_name_the_slip(salt, claims, slip):
    found = check_dose(salt, "1 g/L", claims)
    assert found.verdict in ("wrong", "impossible")
    assert (slip,) in first_keys(found)


def test_a_rounded_factor_alone_is_named():
    """P2O5 521.5 mg/L times 0.44 is 229; 227.6 with the factor of the weights, 0.4364."""
    found = check_dose("KH2PO4", "1 g/L", {"P": "229"})
    assert found.verdict == "wrong"
    assert "P2O5 × 0.44 instead of 0.4364" in found.findings[0].what
    other = check_dose("KH2PO4", "1 g/L", {"P": "231"}).findings[0].what
    assert "0.44" not in other


def test_slips_with_noise_are_named():
    """200 seeded cases: 0.5 % noise on what slipped, found first or beside the first."""
    draw, found = np.random.default_rng(72), 0
    slips = {"k2o-as-k": 94.196 / 78.1966, "imperial-for-us-gallon": 4.54609 / GALLON}
    slips |= {"double": 2.0, "us-gallon-for-litre": GALLON}
    for _ in range(200):
        key = str(draw.choice(list(slips)))
        grams = float(draw.uniform(0.1, 2.0))
        right = {"K": 1000 * grams * K_IN_KNO3, "N": 1000 * grams * 14.0067 / 101.1032}
        for name in ("K",) if key == "k2o-as-k" else ("K", "N"):
            right[name] *= slips[key] * (1 + float(draw.normal(0, 0.005)))
        told = check_dose(
            "KNO3", f"{grams:.9g} g/L", {k: f"{v:.1f}" for k, v in right.items()}
        )
        found += bool(told.slips.groups) and (key,) in first_keys(told)
    assert found >= 190


def test_what_is_wrong_by_less_than_the_noise_stays_wrong_without_a_slip():
    found = check_dose("KNO3", "1 g/L", {"K": "390.7"})
    assert found.verdict == "wrong"
    assert "no slip can be told" in found.slips.finding.what


# --- what cannot be --------------------------------------------------------------------------


@pytest.mark.parametrize("claims", [{"N": "199.3"}, {"N": "96.2", "K": "387"}])
def test_no_hydrate_of_a_salt_whose_element_is_absent(claims):
    """1.439 is Ca(NO3)2·4H2O over Ca(NO3)2; saltpetre holds no calcium and no magnesium."""
    found = check_dose("KNO3", "1 g/L", claims)
    told = {
        key for group in found.slips.groups for c in group.candidates for key in c.keys
    }
    assert not {key for key in told if key.endswith("-hydrate")}


def test_the_hydrate_of_what_is_there_is_still_found():
    """Ca 169.7 mg/g in Ca(NO3)2·4H2O, 244.2 in Ca(NO3)2 (IUPAC weights)."""
    found = check_dose("Ca(NO3)2·4H2O", "1 g/L", {"Ca": "244.2", "N": "170.7"})
    assert ("calcium-nitrate-hydrate",) in first_keys(found)


# --- ratio of an injector --------------------------------------------------------------------


def bag():
    named = {"ammoniacal nitrogen": "10", "nitrate nitrogen": "10.0"}
    return label("bag", basis="eu", guarantees=named)


@pytest.mark.parametrize("meant", ["64", "100", "200"])
def test_another_ratio_of_the_injector_is_a_slip(meant):
    """20 % N, 25 lb in 100 US gal, at 1 : n."""
    grams = 25 * POUND / (100 * GALLON)
    claimed = f"{grams * 200 / float(meant):.1f}"
    one = check_dose(bag(), "25 lb/100 US gal at 1:128", {"N": claimed})
    assert ("other-ratio",) in first_keys(one)  # one number may be NH4 or urea as well
    half = f"{grams * 100 / float(meant):.1f}"
    claims = {"N": claimed, "NO3-N": half, "NH4-N": half}
    found = check_dose(bag(), "25 lb/100 US gal at 1:128", claims)
    assert found.verdict == "wrong"
    (first, *_) = found.slips.groups[0].candidates
    assert first.keys == ("other-ratio",)
    assert str(first) == f"1:{meant} taken for 1:128"
    plain = check_dose(bag(), "1 g/L", {"N": f"{200 * 1.28:.0f}"})
    told = {k for g in plain.slips.groups for c in g.candidates for k in c.keys}
    assert "other-ratio" not in told


def test_usual_ratios_are_told_with_where_they_come_from():
    rows = [r for r in read_table("chart_rules") if r["rule"].startswith("usual ratio")]
    assert {float(r["value"]) for r in rows} == {64.0, 100.0, 128.0, 200.0}
    assert all("no source" in r["note"] for r in rows)


# --- misprints -------------------------------------------------------------------------------


def test_exchanged_digits_are_told_last():
    """Ca 16.97 % of the tetrahydrate: 0.9 g/L brings 152.7 mg/L, N 106.8."""
    claims = {"Ca": "125.7", "N": "106.8"}
    found = check_dose("Ca(NO3)2·4H2O", "0.9 g/L", claims)
    assert found.verdict == "wrong"
    assert "two neighbouring digits exchanged: 152.7 printed 125.7" in str(found)
    assert found.slips.finding.what.endswith("look at the source")
    alone = check_dose("Ca(NO3)2·4H2O", "0.9 g/L", {"Ca": "125.7"})
    assert "152.7 printed 125.7: look at the source" in str(alone)
    right = check_dose("Ca(NO3)2·4H2O", "0.9 g/L", {"Ca": "152.7"})
    assert "misprint" not in str(right)


def test_a_plain_slip_needs_no_misprint():
    assert not check_dose("KNO3", "1 g/L", {"K": "464", "N": "138.5"}).slips.misprints


# --- doses as written ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("dose", "grams"),
    [
        ("100 g/L 1+99", 1.0),
        ("100 g/L at 1 + 99", 1.0),
        ("100 g/L at 1 %", 1.0),
        ("100 g/L 1 %", 1.0),
        ("100 g/L, 0.5%", 0.5),
        ("100 g/L, 0,5 %", 0.5),
        ("100 g/L (1 %)", 1.0),
        ("100 g/L (1:100)", 1.0),
        ("1000 mg/gal", 1 / GALLON),
        ("1000 mg per gallon", 1 / GALLON),
    ],
)
def test_doses_with_an_injector_or_in_milligrams(dose, grams):
    """1 + 99 is 1 part in 100, as 1 % of the finished solution is."""
    found = check_dose("KNO3", dose, {"K": 1})
    assert found.solution.mg_l("K") == pytest.approx(1000 * grams * K_IN_KNO3, rel=1e-4)
    assert found.dose.assumed


def test_a_part_and_more_alone_is_for_a_liquid():
    assert read_dose("1+99", LIQUID).amount == "10.0 mL/L"
    assert read_dose("1 %", LIQUID).amount == "10.0 mL/L"
    with pytest.raises(InputError, match="a ratio alone is for a liquid"):
        check_dose("KNO3", "1+99", {"K": 1})


@pytest.mark.parametrize("dose", ["100 g/L 0 %", "100 g/L 120 %", "100 g/L 1+0"])
def test_ratios_that_cannot_be(dose):
    with pytest.raises(InputError, match=r"from 1 up|above 0|to 100"):
        check_dose("KNO3", dose, {"K": 1})
