"""Whether a wanted pH is within reach: not refused where it is, not met at any price."""

import pytest

import formulate as fm
from formulate.errors import Infeasible, OutOfReach
from formulate.recipes.meters import reading
from formulate.recipes.solve import solve
from formulate.recipes.target import target

WISH = target({"N": 150, "P": 40, "K": 210, "Ca": 160, "Mg": 45, "S": 60})
SALTS = ("Ca(NO3)2·4H2O", "KNO3", "KH2PO4", "MgSO4·7H2O", "K2SO4")
NITRIC = "nitric acid (67 %)"
HARD = "hard-tap-voehringen"


def thin(alkalinity):
    return fm.water(
        {"Ca": f"{20.04 * alkalinity} mg/L", "alkalinity": f"{alkalinity} meq/L"}
    )


@pytest.mark.parametrize("alkalinity", [0.15, 0.3, 0.5])
@pytest.mark.parametrize("closed", [False, True])
def test_a_ph_that_the_salts_have_by_themselves_is_not_refused(alkalinity, closed):
    subject = "pH when mixed" if closed else "pH"
    given = {"volume": 100, "water": thin(alkalinity)}
    bare = solve(WISH, SALTS, **given)
    own = reading(subject, bare.solution)
    for wanted in (f"{own - 0.3:.2f} to {own + 0.3:.2f}", f"at most {own + 0.2:.2f}"):
        recipe = solve(WISH, SALTS, ph=wanted, closed=closed, **given)
        assert reading(subject, recipe.solution) == pytest.approx(own, abs=0.31)
        for key, miss in recipe.misses.items():
            assert abs(miss) < abs(bare.misses[key]) + 0.05, key


def test_a_little_phosphate_may_do_what_an_acid_would():
    recipe = solve(WISH, SALTS, volume=100, water=thin(0.7), ph=6.8)
    assert reading("pH", recipe.solution) == pytest.approx(6.8, abs=0.01)


def test_an_acid_that_is_capped_is_named_in_place_of_phosphate_by_the_hundred_grams():
    with pytest.raises(OutOfReach) as caught:
        solve(
            WISH,
            (*SALTS, NITRIC),
            volume=100,
            water=HARD,
            ph=5.8,
            amounts={NITRIC: "at most 20 mL"},
        )
    told = str(caught.value)
    assert "times the 40.00 wanted" in told
    assert "held back by amount of nitric acid" in told


def test_phosphoric_acid_alone_is_no_way_in_a_hard_water():
    # 5.7 meq/L of it bring 5.7 x 31 = 177 mg/L of phosphorus (one proton each, by hand)
    with pytest.raises(OutOfReach, match=r"P 1\d\d\.\d mg/L"):
        solve(WISH, (*SALTS, "phosphoric acid (85 %)"), volume=100, water=HARD, ph=5.8)


def test_tons_of_salts_are_no_way_either():
    """Boric acid (pK 9.24) gives up a proton in three thousand at pH 5.8."""
    with pytest.raises(OutOfReach, match=r"g of salts a litre|no acid|was found"):
        solve(target({"K": 100}), ["KCl", "H3BO3"], volume=100, water=HARD, ph=5.8)


def test_contradictory_ph_are_named():
    limits = {"pH when mixed": "at least 6.5", "pH": "at most 6"}
    wish = target({"N": 150, "K": 210, "Ca": 160}, limits=limits)
    with pytest.raises(Infeasible) as caught:
        solve(wish, (*SALTS, NITRIC), volume=10, water=HARD)
    assert "pH when mixed at least 6.5" in str(caught.value)
    assert "pH at most 6" in str(caught.value)


def test_no_ec_at_all_is_a_conflict_and_no_crash():
    with pytest.raises(Infeasible, match="EC exactly 0"):
        solve(WISH, SALTS, volume=10, ec=0)


@pytest.mark.parametrize("alkali", ["KOH", "K2HPO4"])
def test_a_feed_at_its_ph_is_not_told_to_be_alkaline(alkali):
    recipe = solve(WISH, (*SALTS, alkali), volume=100, water="reverse-osmosis", ph=6.2)
    assert not any(
        "pH above 9" in n.what or "will climb" in n.what for n in recipe.notices
    )


def test_an_acid_in_the_recipe_carries_its_caution():
    recipe = solve(WISH, (*SALTS, NITRIC), volume=100, water=HARD, ph=5.8)
    assert any("acid into water, never water to acid" in n.what for n in recipe.notices)


def test_what_rounding_does_to_the_ph_is_told():
    recipe = solve(WISH, (*SALTS, NITRIC), volume=1, water=HARD, ph=5.8)
    made = fm.weigh(recipe)
    has = reading("pH", made.solution)
    assert abs(has - 5.8) > 0.1
    (told,) = [n for n in made.notices if n.what.startswith("pH exactly 5.8")]
    assert told.number == pytest.approx(has)


def test_the_ph_is_the_first_reason_that_is_named():
    recipe = solve(WISH, (*SALTS, NITRIC), volume=100, water=HARD, ph=5.8)
    told = [n.what for n in recipe.notices if "it would be met if not for" in n.what]
    assert told
    assert all("if not for pH exactly 5.8" in text.split(";")[1] for text in told)


def test_an_ec_that_free_acid_would_carry_is_settled_with_the_ph_held():
    wish = target(
        {"N": 219.75, "P": 33.9, "K": 147.2, "Ca": 91.5, "Mg": 38.9, "S": 89.8}
    )
    shelf = (*SALTS[:4], "nitric acid (53 %)")
    recipe = solve(wish, shelf, volume=100, ec="at most 2.22 mS/cm")
    assert fm.ec(recipe.solution) <= 2.22 * 1.002


@pytest.mark.parametrize("what", ["pH", "pH when mixed", "EC"])
def test_the_recipe_shows_the_working_of_its_meters(what):
    recipe = solve(WISH, (*SALTS, NITRIC), volume=100, water=HARD, ph=5.8, ec=1.9)
    shown = recipe.working(what)
    wanted = {"pH": 5.8, "EC": 1.9}.get(what, reading("pH when mixed", recipe.solution))
    assert shown.value == pytest.approx(wanted, rel=0.005)
