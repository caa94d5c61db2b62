"""Targets at another strength, and water rebuilt from hardness and alkalinity."""

import pytest

import formulate as fm
from formulate.errors import FormulateError, InputError, UnknownName
from formulate.ingredients.plant_safety import rough_ec
from formulate.recipes.scaling import scaled, scaled_to_ec, strength_for
from formulate.recipes.target import published_target, published_target_names, target
from formulate.tables import read_table

WISH = {"N": 150, "P": 31, "K": "200-240", "Ca": 160, "Mg": 48, "S": 64}


def test_half_of_everything_wanted_and_of_each_range():
    full = target(WISH)
    half = scaled(full, 0.5)
    for key, value in full.wanted.items():
        assert half.wanted[key] == pytest.approx(value / 2)
    assert half.ranges["K"] == pytest.approx([end / 2 for end in full.ranges["K"]])
    assert half.name == "at 50 % strength"


def test_caps_ratios_and_exact_limits_stay_and_least_amounts_follow():
    limits = {
        "Na": "at most 50",
        "Ca": "at least 120",
        "K:Ca": "1 to 2",
        "Cl": (10, 30),
    }
    half = scaled(target(WISH, limits=limits), 0.5)
    held = {one.subject: (one.low, one.high) for one in half.limits}
    assert held["Na"][1] == pytest.approx(50)
    assert held["Ca"][0] == pytest.approx(60)
    assert held["K:Ca"] == (1, 2)
    assert held["Cl"] == pytest.approx((5, 30))


def test_a_least_amount_is_not_scaled_up():
    one = scaled(target(WISH, limits={"Ca": (100, 150)}), 2).limits[0]
    assert (one.low, one.high) == pytest.approx((100, 150))


@pytest.mark.parametrize("key", published_target_names())
def test_there_and_back_again(key):
    full = published_target(key)
    again = scaled(scaled(full, 0.5), 2)
    for name, value in full.wanted.items():
        assert again.wanted[name] == pytest.approx(value)
    assert scaled(full, 1) is full
    doubtful = [n.what for n in full.notices if "doubtful" in n.what]
    assert [n.what for n in again.notices if "doubtful" in n.what] == doubtful


def test_percent_is_read_as_a_share():
    assert scaled(target({"K": 200}), "25 %").mg_l("K") == pytest.approx(50)


@pytest.mark.parametrize(
    "strength", [0, -1, float("nan"), 6, "half", "600 %", None, True]
)
def test_what_is_no_strength_is_refused(strength):
    with pytest.raises(FormulateError):
        scaled(target({"K": 200}), strength)


def test_the_recipe_of_half_a_target_in_pure_water_is_half_the_recipe():
    shelf = ["Ca(NO3)2·4H2O", "KNO3", "KH2PO4", "MgSO4·7H2O"]
    full = published_target("hoagland1-mmol")
    whole, half = (
        fm.solve(wish, shelf, volume=100) for wish in (full, scaled(full, 0.5))
    )
    for name, grams in whole.masses.items():
        assert half.masses[name] == pytest.approx(grams / 2)


@pytest.mark.parametrize("volume", [1, 50_000])
def test_from_one_litre_to_fifty_cubic_metres(volume):
    # Hoagland No. 1 takes 5 mmol/L of potassium nitrate, 101.10 g/mol (hershey-1997)
    shelf = ["Ca(NO3)2·4H2O", "KNO3", "KH2PO4", "MgSO4·7H2O"]
    recipe = fm.solve("hoagland1-mmol", shelf, volume=volume)
    assert recipe.masses["KNO3"] == pytest.approx(0.50551 * volume, rel=1e-4)


# --- EC --------------------------------------------------------------------------------


@pytest.mark.parametrize("ec", [0.5, 1.14, 2.09, 2.4])
def test_the_recipe_of_a_target_for_an_ec_has_that_ec_by_the_rule(ec):
    shelf = ["Ca(NO3)2·4H2O", "KNO3", "KH2PO4", "MgSO4·7H2O", "K2SO4"]
    wish = scaled_to_ec(published_target("steiner-universal"), ec)
    recipe = fm.solve(wish, shelf, volume=100)
    assert recipe.status == "met"
    assert rough_ec(recipe.solution) == pytest.approx(ec, rel=1e-6)
    assert any("10 %" in notice.what for notice in wish.notices)


def test_steiner_at_full_strength_is_ec_2_09():
    # 20 meq/L of cations, 0.095 x 20 + 0.19 = 2.09 (sonneveld-ec-1999)
    full = published_target("steiner-universal")
    made = scaled_to_ec(full, "2.09 mS/cm")
    assert made.mg_l("K") == pytest.approx(full.mg_l("K"), rel=1e-9)


def test_an_ec_cannot_be_told_of_half_a_target():
    with pytest.raises(InputError, match="does not name P, Ca, Mg"):
        scaled_to_ec(target({"K": 200, "N": 100}), 2)


def test_an_ec_beyond_the_rules_is_refused():
    with pytest.raises(FormulateError, match="rules end"):
        scaled_to_ec(published_target("steiner-universal"), 50)


# --- stages ----------------------------------------------------------------------------


def test_seedlings_get_half_by_common_practice():
    # common practice, no source: half strength from the first true leaf
    assert strength_for("seedling") == 0.5
    assert strength_for("mature") == 1.0


def test_the_table_rises_from_stage_to_stage():
    shares = [strength_for(row["stage"]) for row in read_table("strengths")]
    assert shares == sorted(shares)


def test_an_unknown_stage_lists_the_known():
    with pytest.raises(UnknownName, match="seedling"):
        strength_for("harvest")


# --- rebuilding reverse-osmosis water --------------------------------------------------

SALTS = ["CaCl2·2H2O", "CaSO4·2H2O", "MgSO4·7H2O", "NaHCO3", "KHCO3"]


def test_german_degrees_of_hardness_and_alkalinity_are_rebuilt():
    # 1 degree is 10 mg CaO in a litre, 56.077 g/mol: 0.17833 mmol/L, 0.35665 meq/L
    recipe = fm.solve(
        target({"hardness": "8 °dH", "alkalinity": "3 °dH"}), SALTS, volume=100
    )
    assert recipe.status == "met"
    has = recipe.solution
    assert has.mmol_l("Ca") + has.mmol_l("Mg") == pytest.approx(8 * 0.17833, rel=1e-4)
    assert has.alkalinity() == pytest.approx(3 * 0.35665, rel=1e-4)


def test_alkalinity_comes_from_bicarbonate_alone_by_hand():
    # 1 meq/L as KHCO3, 100.115 g/mol, in 50 L: 5.0057 g
    recipe = fm.solve(target({"alkalinity": "1 meq/L"}), ["KHCO3"], volume=50)
    assert recipe.masses["KHCO3"] == pytest.approx(5.0057, rel=1e-4)


def test_an_alkalinity_that_cannot_be_reached_is_told():
    recipe = fm.solve(target({"alkalinity": "1 meq/L", "K": 50}), ["KNO3"], volume=50)
    assert recipe.status == "nearest"
    assert any(
        n.what.startswith("alkalinity: 1.00 meq/L wanted") for n in recipe.notices
    )


def test_acid_takes_alkalinity_down_to_what_is_wanted():
    # 5.72 meq/L of the printed water down to 1: 4.72 meq/L of acid, nitric 63.01 g/mol
    tap, acid = fm.water("hard"), fm.acid("HNO3", percent=60, density=1.37)
    recipe = fm.solve(target({"alkalinity": "1 meq/L"}), [acid], volume=1000, water=tap)
    grams = (tap.solution.alkalinity() - 1) * 63.012 / 0.60  # no room for the acid
    assert recipe.masses[acid.name] == pytest.approx(grams, rel=0.002)
    assert recipe.solution.alkalinity() == pytest.approx(1, abs=1e-9)
