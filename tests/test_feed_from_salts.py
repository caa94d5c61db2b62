"""The same feed from single salts: blends come back, what cannot be matched is told."""

import itertools
import random

import pytest

from formulate.claims.feed_from_salts import common_salts, feed_from_salts
from formulate.claims.product_comparison import compare_products
from formulate.ingredients.ingredient import analysed
from formulate.ingredients.labels import label
from formulate.ingredients.salts import salt
from formulate.ingredients.shelf import shelf
from formulate.ingredients.stock import blend
from formulate.recipes.target import target

# Standard atomic weights, abridged, IUPAC 2021 (Prohaska et al. 2022), g/mol
H, C, N, OX, MG, P, S, K = 1.008, 12.011, 14.007, 15.999, 24.305, 30.974, 32.06, 39.098
KNO3, K2SO4 = K + N + 3 * OX, 2 * K + S + 4 * OX
CLOSE = 1e-4  # share: five printed digits of the atomic weights
SALTS = (
    "KNO3", "Ca(NO3)2·4H2O", "KH2PO4", "MgSO4·7H2O", "NH4H2PO4", "K2SO4",
    "H3BO3", "MnSO4·H2O", "ZnSO4·7H2O", "CuSO4·5H2O", "Na2MoO4·2H2O",
)  # fmt: skip


def subjects(found):
    return {finding.subject: finding for finding in found.findings}


@pytest.mark.parametrize("seed", range(12))
def test_the_blend_of_a_bag_comes_back(seed):
    """A law: what the bag's feed holds determines the salts it was blended from."""
    draw = random.Random(seed)
    chosen = draw.sample(SALTS, draw.randint(1, 9))
    grams = {name: round(draw.uniform(0.5, 60.0), 3) for name in chosen}
    made = blend("bag", grams)
    dose, volume = draw.uniform(0.3, 2.0), draw.choice([1.0, 10.0, 1000.0])
    found = feed_from_salts({made: f"{dose!r} g/L"}, salts=SALTS, volume=volume)
    whole = sum(grams.values())
    for name in SALTS:
        expected = dose * volume * grams.get(name, 0.0) / whole
        # within 1e-6 of the product that is weighed
        assert found.amounts.get(name, 0.0) == pytest.approx(
            expected, abs=1e-6 * dose * volume
        )
    assert found.finding.is_right
    assert found.unmatched == ()
    assert found.besides == {}


def test_the_order_of_salts_does_not_matter():
    made = blend("bag", {"KNO3": 5, "MgSO4·7H2O": 2, "KH2PO4": 1})
    names = ("KNO3", "MgSO4·7H2O", "KH2PO4", "K2SO4")
    first = feed_from_salts({made: 10.0}, salts=names, volume=10).amounts
    for order in itertools.permutations(names):
        again = feed_from_salts({made: 10.0}, salts=order, volume=10).amounts
        assert {n: round(g, 9) for n, g in again.items()} == {
            n: round(g, 9) for n, g in first.items()
        }


def test_a_label_made_of_a_known_blend_comes_back():
    # 60 g KNO3 and 40 g MgSO4·7H2O in 100 g, as an exact analysis of all ions
    mg, s = 40 * MG, 40 * S
    epsom = MG + S + 4 * OX + 7 * (2 * H + OX)
    shares = {
        "NO3-N": 60 * N / KNO3,
        "K": 60 * K / KNO3,
        "Mg": mg / epsom,
        "S": s / epsom,
    }
    found = feed_from_salts({analysed("bag", shares): 100.0}, salts=SALTS, volume=100)
    assert found.amounts["KNO3"] == pytest.approx(60, rel=2 * CLOSE)
    assert found.amounts["MgSO4·7H2O"] == pytest.approx(40, rel=2 * CLOSE)


def test_what_cannot_be_matched_is_told_by_how_much():
    made = blend("bag", {"KNO3": 9, "FeSO4·7H2O": 1})
    found = feed_from_salts({made: "1 g/L"}, salts=["KNO3"])
    rows = {row[0]: row for row in found.unmatched}
    assert set(rows) == {"S", "Fe"}
    assert rows["Fe"][4] == pytest.approx(-100.0)
    assert found.finding.verdict == "cannot tell"
    assert "Fe 0 instead of" in found.finding.what


def test_less_chloride_than_in_the_product_is_no_fault_and_more_is_kept_off():
    found = feed_from_salts({"KCl": "1 g/L"}, salts=["KNO3", "K2SO4", "KCl"])
    assert found.recipe.solution.mg_l("Cl") <= found.solution.mg_l("Cl") * (1 + 1e-9)
    without = feed_from_salts({"KCl": "1 g/L"}, salts=["K2SO4"])
    assert all(row[0] != "Cl" for row in without.unmatched)


def test_costs_of_both_are_by_hand():
    made = blend("bag", {"KNO3": 3, "KH2PO4": 1}).renamed("bag")
    bags = {"bag": made, "other": "KNO3"}
    salts = shelf([salt("KNO3", price_per_kg=2.0), salt("KH2PO4", price_per_kg=4.0)])
    found = compare_products(
        bags, salts=salts, volume=100, dose={"bag": "1 g/L"}, prices={"bag": 5.0}
    )
    (feed,) = found.salt_feeds
    assert feed.salts_cost == pytest.approx(0.075 * 2.0 + 0.025 * 4.0)  # 0.25
    assert feed.cost == pytest.approx(0.1 * 5.0)
    assert feed.dearer_percent == pytest.approx(-50.0)
    assert "50.0 % cheaper" in subjects(found)["bag from single salts"].what


def test_without_prices_of_salts_their_cost_is_not_guessed():
    found = feed_from_salts({salt("KNO3", price_per_kg=2.0): "1 g/L"}, salts=["KNO3"])
    assert found.salts_cost is None
    assert found.dearer_percent is None
    assert "no price of KNO3" in found.finding.what


def test_the_usual_salts_leave_out_what_would_be_another_feed():
    made = common_salts(["potassium", "nitrate"], target({"K": 200, "B": 0.5}))
    forms = {form for one in made for form in one.forms}
    assert not forms & {"urea", "sodium", "chloride", "edta", "citrate", "nickel"}
    assert {
        "potassium",
        "nitrate",
        "phosphate",
        "magnesium",
        "calcium",
        "borate",
    } <= forms
    assert not any(one.is_liquid or one.role for one in made)
    names = {one.name for one in made}
    # common practice, no source: these stand in every store room
    assert {
        "potassium nitrate",
        "monopotassium phosphate",
        "magnesium sulfate heptahydrate",
        "boric acid",
    } <= names
    assert "diammonium phosphate" not in names


def test_by_default_a_plain_salt_is_itself():
    found = feed_from_salts({"KNO3": "1 g/L"})
    assert found.amounts == {"potassium nitrate": pytest.approx(1.0, rel=1e-9)}


def test_ions_that_a_label_leaves_unnamed_are_told_where_salts_stay_off():
    odd = label("odd", basis="us", guarantees={"nitrate nitrogen": 10, "potash": 1})
    found = feed_from_salts({odd: "1 g/L"}, salts=["KNO3"])
    assert found.finding.verdict == "cannot tell"
    assert any("cations are not named" in notice.what for notice in found.notices)


# --- traces of sodium and chloride -----------------------------------------------------


def test_iron_is_not_given_up_to_save_traces_of_sodium():
    # 10 mg/L Fe as Na2FeDTPA bring 2 x 22.990 / 55.845 x 10 = 8.23 mg/L Na, 4.23 more than
    # the 4 mg/L of the label
    made = label(
        "b",
        basis="us",
        guarantees={
            "iron": "1.0",
            "potash": "10.0",
            "nitrate nitrogen": "3.0",
            "sodium": "0.4",
        },
    )
    salts = ["KNO3", "K2SO4", "iron DTPA chelate (11 % Fe)"]
    found = feed_from_salts({made: "1 g/L"}, salts=salts)
    rows = {row[0]: row for row in found.rows()}
    assert rows["Fe"][2] == pytest.approx(10.0, rel=1e-3)
    assert rows["Na"][2] == pytest.approx(8.23, rel=2e-3)
    assert found.finding.is_right
    assert "Na 4.233 mg/L more" in found.finding.what


def test_a_hundred_times_the_iron_is_hardly_given_up_either():
    # 50 mg/L Fe bring 41 mg/L Na; 0.5 % of the iron is what the weights by hand give up:
    # f = 0.1² x 41.2 / 50 x (41.2 - 9) / 50
    made = label("a", basis="us", guarantees={"iron": "5.0", "sodium": "0.4"})
    found = feed_from_salts({made: "1 g/L"}, salts=["iron DTPA chelate (11 % Fe)"])
    iron = found.recipe.solution.mg_l("Fe")
    assert 50 - iron == pytest.approx(50 * 0.0053, rel=0.05)


def test_sodium_that_nothing_needs_is_kept_off():
    # calcium nitrate brings both, 14.007 x 2 to 40.078; sodium nitrate is not needed
    made = analysed("a", {"NO3-N": 7.0, "Ca": 10.0, "Na": 0.4})
    found = feed_from_salts({made: "1 g/L"}, salts=["NaNO3", "Ca(NO3)2·4H2O"])
    assert found.recipe.solution.mg_l("Na") <= 9.0 * (1 + 1e-9)
    assert found.finding.is_right
