"""Targets at another strength, and water rebuilt from hardness and alkalinity."""

import math

import pytest

import formulate as fm
from formulate.errors import FormulateError, InputError, UnknownName
from formulate.ingredients.ec_rules import rough_ec
from formulate.recipes.scaling import rescaled, scaled, scaled_to_ec, strength_for
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


# --- limits, names, notices ------------------------------------------------------------


def _only_limit(subject, value, strength):
    (held,) = scaled(target(WISH, limits={subject: value}), strength).limits
    return held.low, held.high


@pytest.mark.parametrize(
    ("subject", "value", "strength", "expected"),
    [  # by hand: greatest bounds stay, least ones and exact ones follow below 1
        ("Na", "at most 50", 0.5, (-math.inf, 50)),
        ("Na", "at most 50", 2, (-math.inf, 50)),
        ("Fe", "at least 2", 0.25, (0.5, math.inf)),
        ("Fe", "exactly 2", 0.25, (0.5, 0.5)),
        ("Fe", "exactly 2", 2, (2, 2)),
        ("hardness", "100 to 200", 0.5, (50, 200)),
        ("alkalinity", "at least 1 meq/L", 0.5, (0.5, math.inf)),
        ("salts", "at least 1 g/L", 0.5, (0.5, math.inf)),
        ("K:Ca", "at least 1", 0.5, (1, math.inf)),
        ("EC", "at least 2.09 mS/cm", 0.5, (1.045, math.inf)),
        ("pH", "5.5 to 6.5", 0.5, (5.5, 6.5)),
        ("EC", "at most 2.09 mS/cm", 0.5, (-math.inf, 2.09)),
    ],
)
def test_what_becomes_of_a_limit(subject, value, strength, expected):
    assert _only_limit(subject, value, strength) == pytest.approx(expected)


def test_a_least_bound_that_became_less_is_told():
    made = scaled(target(WISH, limits={"Ca": "at least 120"}), 0.5)
    told = [notice.what for notice in made.notices]
    assert "Ca at least 120 mg/L: taken as Ca at least 60 mg/L at this strength" in told


def test_a_greatest_bound_below_what_is_wanted_is_told():
    made = scaled(target(WISH, limits={"Ca": "at most 200"}), 1.5)
    told = [n for n in made.notices if n.severity == "caution"]
    assert [n.what for n in told if n.what.startswith("Ca")] == [
        "Ca at most 200 mg/L stays, so 240.0 cannot be reached"
    ]


def test_alkalinity_wanted_follows():
    made = scaled(target({"K": 200, "alkalinity": "1 to 2 meq/L"}), 0.25)
    assert made.alkalinity == pytest.approx((0.25, 0.5))


def test_what_is_no_concentration_stays():
    facts = {"weights": {"Ca": 3}, "priorities": [["K"]], "ammonium_share": (0, 0.1)}
    full = target({**WISH, "Na": 0}, **facts)
    half = scaled(full, 0.5)
    assert (half.weights, half.priorities) == (full.weights, full.priorities)
    assert half.ammonium_share == (0, 0.1)
    assert half.wanted["Na"] == 0


@pytest.mark.parametrize(
    ("name", "strength", "expected"),
    [
        ("", 0.5, "at 50 % strength"),
        ("lettuce", "33.3 %", "lettuce at 33.3 % strength"),
        ("full strength", 0.25, "at 25 % strength"),
        ("lettuce at 50 % strength", 0.5, "lettuce at 25 % strength"),
        ("at 50 % strength", 0.5, "at 25 % strength"),
        ("lettuce at 50 % strength", 2, "lettuce at 100 % strength"),
    ],
)
def test_strength_stands_in_name_and_stage(name, strength, expected):
    made = scaled(target(WISH, name=name, stage=name), strength)
    assert (made.name, made.stage) == (expected, expected)


@pytest.mark.parametrize("key", ["hoagland2-1950", "cornell-lettuce"])
@pytest.mark.parametrize(("first", "second"), [(0.5, 0.5), (0.25, 3), (2, 0.1)])
def test_two_steps_are_one(key, first, second):
    twice = scaled(scaled(published_target(key), first), second)
    once = scaled(published_target(key), first * second)
    assert dict(twice.wanted) == pytest.approx(dict(once.wanted))
    assert [n.what.split(" (")[0] for n in twice.notices] == [
        n.what.split(" (")[0] for n in once.notices
    ]


def test_a_target_out_of_balance_is_still_told_with_its_new_name():
    odd = target({**WISH, "Ca": 400}, name="odd")
    (told,) = [n for n in scaled(odd, 0.5).notices if "anions" in n.what]
    assert "'odd at 50 % strength'" in told.what
    (before,) = [n for n in odd.notices if "anions" in n.what]
    assert told.number == pytest.approx(before.number / 2)


def test_what_no_litre_holds_is_refused():
    with pytest.raises(InputError, match="K"):
        scaled(target({"K": 900_000}), 5)
    with pytest.raises(InputError, match="Mo"):
        scaled(target({"Mo": 2e-9}), 0.1)


def test_every_fault_of_a_strength_at_once():
    with pytest.raises(InputError) as told:
        scaled("steiner-1984", "no number")
    assert len(told.value.faults) == 2
    with pytest.raises(InputError, match=r"0\.5 or '50 %'"):
        scaled(target(WISH), 50)  # percent without its sign


# --- EC by hand ------------------------------------------------------------------------


def test_ammonium_that_is_left_open_counts_as_the_balance_asks():
    # mmol/L: K 5, Ca 4, Mg 2 are 17 meq/L; H2PO4 1 and SO4 2 are 5; N 14 is 13 NO3 and
    # 1 NH4 where 17 + x = 5 + 14 - x, so 18 meq/L: EC 0.095 x 18 + 0.19 = 1.90
    wish = {"N": 14, "P": 1, "K": 5, "Ca": 4, "Mg": 2, "S": 2}
    full = target(wish, unit="mmol/L")
    made = scaled_to_ec(full, 1.9)
    assert made.wanted["K"] == pytest.approx(5)
    # a share of at most 5 % lets 0.7 be ammonium: 17.7 meq/L
    less = scaled_to_ec(target(wish, unit="mmol/L", ammonium_share=(0, 0.05)), 1.9)
    assert less.wanted["K"] == pytest.approx(5 * 18 / 17.7)


def test_parts_and_totals_are_counted_once():
    # the same ions named otherwise: N beside NO3-N, hardness beside Ca, K2O, P2O5, SO4
    same = {
        "N": "14 mmol/L",
        "NO3-N": "13 mmol/L",
        "P2O5": "0.5 mmol/L",
        "K2O": "2.5 mmol/L",
        "Ca": "4 mmol/L",
        "hardness": "6 mmol/L",
        "SO4": "2 mmol/L",
    }
    made = scaled_to_ec(target(same), 1.9)
    assert made.wanted["Ca"] == pytest.approx(4)


@pytest.mark.parametrize(
    ("ec", "share"),
    # Steiner is 20 meq/L; dilute waters 0.1 mS/cm for each meq/L [usda-hb60]
    [(0.4, 4 / 20), ("400 uS/cm", 4 / 20), (1.14, 10 / 20), (3.99, 40 / 20)],
)
def test_an_ec_by_the_two_rules(ec, share):
    full = published_target("steiner-universal")
    assert scaled_to_ec(full, ec).wanted["K"] == pytest.approx(share * full.wanted["K"])


def test_an_ec_that_takes_more_than_any_feed_is_refused():
    weak = scaled(published_target("steiner-universal"), 0.1)
    with pytest.raises(InputError, match="more than 5"):
        scaled_to_ec(weak, 4)


@pytest.mark.parametrize("ec", [0, -1, "much", None, math.nan, "1 kg"])
def test_what_is_no_ec_is_refused(ec):
    with pytest.raises(FormulateError):
        scaled_to_ec(published_target("steiner-universal"), ec)


def test_faults_of_target_and_ec_at_once():
    with pytest.raises(InputError) as told:
        scaled_to_ec(target({"K": 200}), -1)
    assert len(told.value.faults) == 2


# --- another volume --------------------------------------------------------------------

FOUR = ["Ca(NO3)2·4H2O", "KNO3", "KH2PO4", "MgSO4·7H2O"]


@pytest.mark.parametrize("volume", [1, "50 m3", 37.5])
def test_a_recipe_for_another_volume_is_the_one_solved_for_it(volume):
    made = rescaled(fm.solve("hoagland1-mmol", FOUR, volume=10, water="soft"), volume)
    again = fm.solve("hoagland1-mmol", FOUR, volume=volume, water="soft")
    assert dict(made.masses) == pytest.approx(dict(again.masses), rel=1e-9)
    assert made.solution.mg_l("K") == pytest.approx(again.solution.mg_l("K"))
    assert made.volume == again.volume


def test_an_amount_to_spare_lets_a_recipe_grow_until_it_is_used_up():
    # 0.50551 g/L of KNO3 (hershey-1997): 100 g last for 197.8 L
    shelf = fm.shelf(FOUR, on_hand={"KNO3": 100})
    recipe = fm.solve("hoagland1-mmol", shelf, volume=100)
    made = rescaled(recipe, 190)
    assert made.masses["KNO3"] == pytest.approx(0.50551 * 190, rel=1e-4)
    (held,) = [row for row in made.requirements if row.origin == "amount"]
    assert held.high == pytest.approx(100 / 190)
    with pytest.raises(InputError, match="would not hold; solve it again for 200"):
        rescaled(recipe, 200)


@pytest.mark.parametrize("volume", [20, 200])
def test_an_amount_that_binds_means_to_solve_again(volume):
    amounts = {"KNO3": "at most 20 g", "KH2PO4": "at least 30 g"}
    recipe = fm.solve("hoagland1-mmol", FOUR, volume=100, amounts=amounts)
    with pytest.raises(InputError) as told:
        rescaled(recipe, volume)
    assert len(told.value.faults) == 2
    assert rescaled(recipe, 100).masses == recipe.masses


def test_what_is_not_to_be_used_stays_so_at_any_volume():
    recipe = fm.solve("hoagland1-mmol", FOUR, volume=10, amounts={"KNO3": "none"})
    assert "KNO3" not in rescaled(recipe, 5000).masses


# --- rebuilt waters by hand ------------------------------------------------------------


def test_rebuilt_water_by_hand():
    # 8 °dH are 1.42664 mmol/L: gypsum, 172.164 g/mol; 3 °dH are 1.06995 meq/L: KHCO3,
    # 100.115 g/mol; masses CIAAW 2021, 10 mg CaO (56.077 g/mol) to the degree
    wish = target({"hardness": "8 °dH", "alkalinity": "3 °dH"})
    recipe = fm.solve(
        wish, ["CaSO4·2H2O", "KHCO3"], volume=100, water="reverse-osmosis"
    )
    assert recipe.masses["CaSO4·2H2O"] == pytest.approx(24.562, rel=1e-4)
    assert recipe.masses["KHCO3"] == pytest.approx(10.712, rel=1e-4)
    assert recipe.alkalinity_miss == pytest.approx(0, abs=1e-9)


def test_degrees_and_chalk_are_the_same_wish():
    # 1 °dH is 17.848 mg/L as CaCO3: 100.087 / 56.077 x 10
    degrees = target({"hardness": "8 °dH", "alkalinity": "3 °dH"})
    chalk = target({"hardness": 142.784, "alkalinity": "53.544 mg/L as CaCO3"})
    assert degrees.wanted["hardness"] == pytest.approx(
        chalk.wanted["hardness"], rel=1e-5
    )
    assert degrees.alkalinity == pytest.approx(chalk.alkalinity, rel=1e-4)
