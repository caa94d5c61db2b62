"""Recipes that are to keep their limits: against the chance worked out by hand, and alone."""

import numpy as np
import pytest
from scipy import stats

from formulate.errors import FormulateError
from formulate.ingredients.salts import acid, salt
from formulate.ingredients.water import water
from formulate.recipes.practical import weigh
from formulate.recipes.solve import solve
from formulate.recipes.sure_recipe import surely
from formulate.recipes.target import target
from formulate.recipes.uncertainty import doubt

VOLUME = {"all": 0, "volume": 2.0}
TAP = {"Ca": 80, "Mg": 12, "Na": 20, "Cl": 30, "alkalinity": "4 meq/L", "pH": 7.4}
SHELF = [
    *(salt(f) for f in ("Ca(NO3)2·4H2O", "KNO3", "KH2PO4", "MgSO4·7H2O", "K2SO4")),
    acid("HNO3", percent=38, density=1.234, name="acid"),
]
FEED = {"N": 150, "P": 40, "K": 220, "Ca": 150, "Mg": 30, "S": 40}


def one_salt(limits, wanted=200):
    """Return potassium from saltpetre in ten litres."""
    return solve(target({"K": wanted}, limits=limits), ["KNO3"], volume=10)


def whole(limits):
    return solve(target(FEED, limits=limits), SHELF, volume=50, water=water(TAP))


@pytest.mark.parametrize("probability", [0.8, 0.9, 0.95, 0.99])
def test_one_limit_and_one_rectangle(probability):
    """K/(1 + v) is at most 190 if v is at least K/190 − 1: K = 190 (1 + v at that chance).

    Two standard errors of the count are kept in hand, so a little less is taken.
    """
    found = surely(
        one_salt({"K": "at most 190 mg/L"}), probability=probability, doubts=VOLUME
    )
    spare = 2 * np.sqrt(probability * (1 - probability) / 10_000)
    flat = stats.uniform(-0.02, 0.04)
    expected = 190 * (1 + flat.ppf(1 - probability - spare))
    assert found.reached
    has = found.recipe.solution.mg_l("K")
    one_sigma = 190 * 0.04 * spare / 2
    assert has == pytest.approx(expected, abs=4 * one_sigma + 0.01)
    assert found.probability >= probability - found.probability_error
    (margin,) = found.margins
    assert margin.margin == pytest.approx(190 - has, rel=0.02)
    assert margin.dominates[0] == "volume"


def test_a_least_value_under_a_bell():
    """Na of the water 20 ± 10 %: its least value is met by salt; with chance 0.975 at −10 %."""
    wish = target({"K": 10, "Na": 0}, limits={"Na": "at least 25 mg/L"})
    recipe = solve(wish, ["NaCl", "KNO3"], volume=10, water=water(TAP))
    found = surely(recipe, probability=0.95, doubts={"all": 0, "water": 10})
    bell = stats.norm(0, 2 / 1.959964)
    assert found.reached
    assert recipe.solution.mg_l("Na") == pytest.approx(25, rel=1e-6)
    has = found.recipe.solution.mg_l("Na")
    assert has == pytest.approx(
        25 + bell.ppf(0.9544), abs=0.1
    )  # 0.95 and what is spared


def test_several_limits_hold_together_in_draws_that_had_no_part():
    limits = {"Ca": "at most 140 mg/L", "K:Ca": "at least 1.5", "S": "at least 42 mg/L"}
    recipe = whole(limits)
    found = surely(recipe, probability=0.9)
    assert found.reached
    fresh = doubt(found.recipe, seed=99).probability
    error = 2 * np.sqrt(0.9 * 0.1 / 10_000)
    assert fresh >= 0.9 - error
    assert found.probability_before < 0.7
    assert fresh == pytest.approx(found.probability, abs=4 * error)
    assert fresh < 0.97  # and not far more than was asked for


def test_an_ec_and_a_ph_can_be_made_sure():
    limits = {"EC": "at most 1.6 mS/cm", "pH when mixed": "5.0 to 7.0"}
    found = surely(whole(limits), probability=0.9, draws=2000)
    assert found.reached
    assert found.probability >= 0.9 - found.probability_error
    assert found.probability_before < 0.7
    named = {one.name: one for one in found.margins}
    assert named["EC at most 1.6 mS/cm"].margin > 0
    assert found.recipe.target.limits[0].high == 1.6
    has = {held.subject: value for held, value, _ in found.recipe.limits}
    assert has["EC"] == pytest.approx(
        1.6 - named["EC at most 1.6 mS/cm"].margin, rel=2e-3
    )


def test_doubt_of_the_recipe_says_the_same():
    # Every batch is judged by the limits that were set, whichever function asks.
    limits = {"EC": "at most 1.6 mS/cm", "Ca": "at most 140 mg/L"}
    recipe = whole(limits)
    found = surely(recipe, probability=0.9, draws=2000, seed=5)
    assert found.recipe.target is recipe.target
    again = doubt(found.recipe, draws=2000, seed=6)
    assert again.probability == pytest.approx(found.probability, abs=1e-9)
    apart = doubt(found.recipe, draws=2000, seed=77).probability
    assert apart == pytest.approx(found.probability, abs=2 * found.probability_error)
    weighed = doubt(weigh(found.recipe), draws=2000, seed=77).probability
    # steps of a balance keep off the limits too
    assert weighed > found.probability - 0.04
    text = str(found.recipe)
    assert "kept: EC at most 1.6 mS/cm" in text
    assert "drawn in for safety" in text
    for row in found.recipe.requirements:
        if row.kind == "hard":
            value = row.constant + np.dot(
                row.coefficients, found.recipe.optimum.amounts
            )
            assert row.low - 1e-9 <= value <= row.high + 1e-9


def test_what_is_sure_already_stays_as_it_is():
    recipe = one_salt({"K": "at most 300 mg/L"})
    found = surely(recipe, doubts=VOLUME)
    assert found.recipe is recipe
    assert found.probability == 1.0
    assert [one.margin for one in found.margins] == [0.0]
    assert dict(found.price) == {"cost": None, "miss": 0.0}


def test_the_recipe_it_was_made_from_is_not_touched():
    recipe = one_salt({"K": "at most 190 mg/L"})
    before = dict(recipe.masses)
    found = surely(recipe, doubts=VOLUME)
    assert dict(recipe.masses) == before
    assert recipe.target.limits[0].high == pytest.approx(190)
    assert found.recipe.target.limits[0].high == pytest.approx(190)
    assert found.recipe.solution.mg_l("K") < 189
    assert found.price["miss"] > 0


def test_more_doubt_takes_a_larger_margin():
    margins = [
        surely(one_salt({"K": "at most 190 mg/L"}), doubts={"volume": percent})
        .margins[0]
        .margin
        for percent in (0.5, 1, 2, 4)
    ]
    assert margins == sorted(margins)
    assert margins[0] < margins[-1]


def test_a_range_too_narrow_is_told_with_the_surest_recipe():
    """K 185 to 190 under a volume ± 10 %: at K = 187.5 the chance is 0.0267/0.2 = 0.133."""
    recipe = one_salt({"K": "185 to 190 mg/L"})
    found = surely(recipe, doubts={"all": 0, "volume": 10})
    assert not found.reached
    assert found.probability == pytest.approx(0.133, abs=0.015)
    (serious,) = [one for one in found.notices if one.severity == "serious"]
    assert "stands in the way" in serious.what
    assert "volume" in serious.what
    assert "not reached" in str(found)


def test_the_text_tells_chance_margins_and_price():
    recipe = solve(
        target({"K": 200}, limits={"K": "at most 190 mg/L"}),
        [salt("KNO3", price_per_kg=2.0)],
        volume=100,
    )
    found = surely(recipe, doubts=VOLUME)
    text = str(found)
    for words in ("95 % wanted", "before", "drawn in by", "mostly volume", "in cost"):
        assert words in text
    grams = recipe.masses["KNO3"] - found.recipe.masses["KNO3"]
    assert found.price["cost"] == pytest.approx(-grams / 1000 * 2.0, rel=1e-9)


def test_every_fault_is_told_at_once():
    recipe = one_salt({"K": "exactly 190 mg/L"})
    with pytest.raises(FormulateError) as caught:
        surely(recipe, probability=1.5, draws=0, doubts={"weather": 1}, scoops=["salt"])
    text = str(caught.value)
    for words in ("probability: 1.5", "draws: 0", "weather", "salt", "exact value"):
        assert words in text


def test_no_limits_and_too_few_draws():
    with pytest.raises(FormulateError, match="no limits"):
        surely(one_salt({}))
    with pytest.raises(FormulateError, match="take 10000"):
        surely(one_salt({"K": "at most 190"}), probability=0.999, draws=1000)
    with pytest.raises(FormulateError, match="no Recipe"):
        surely("recipe")
