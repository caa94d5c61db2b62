"""One ingredient for another: what stays, what is lost, what comes along."""

import pytest

import formulate as fm
from formulate.errors import Infeasible, InputError
from formulate.ingredients.salts import as_ingredient
from formulate.recipes.solve import solve
from formulate.recipes.swap import swap
from formulate.recipes.target import published_target, target

SHELF = ["Ca(NO3)2·4H2O", "KNO3", "KH2PO4", "MgSO4·7H2O"]


def _hoagland(**facts):
    return solve(published_target("hoagland1-mmol"), SHELF, volume=100, **facts)


def test_the_same_salt_with_less_crystal_water_loses_nothing():
    # 5 mmol/L of calcium nitrate: 236.15 g/mol with four waters, 164.09 without
    made = swap(_hoagland(), "Ca(NO3)2·4H2O", "Ca(NO3)2")
    assert made.lost == ()
    assert made.before.masses["Ca(NO3)2·4H2O"] == pytest.approx(118.07, rel=1e-3)
    assert made.after.masses["Ca(NO3)2"] == pytest.approx(82.04, rel=1e-3)
    assert "nothing wanted is lost" in str(made)


def test_magnesium_chloride_for_epsom_salt_loses_the_sulfate():
    made = swap(_hoagland(), "MgSO4·7H2O", "MgCl2·6H2O")
    assert made.lost == ("SO4",) or "S" in made.lost or "SO4" in made.lost
    rows = {row[0]: row for row in made.rows()}
    assert rows["Cl"][2] == 0
    assert rows["Cl"][3] > 0
    assert "can no longer be matched" in str(made)


def test_several_can_take_the_place_of_one():
    made = swap(_hoagland(), "MgSO4·7H2O", ["Mg(NO3)2·6H2O", "K2SO4"])
    assert made.into == ("Mg(NO3)2·6H2O", "K2SO4")
    assert made.lost == ()  # 2 Mg + 2 SO4: K and NO3 are taken from KNO3


def test_there_and_back_again_is_the_same_recipe():
    recipe = _hoagland()
    once = swap(recipe, "MgSO4·7H2O", "MgSO4")
    back = swap(once.after, "MgSO4", "MgSO4·7H2O").after
    for name, grams in recipe.masses.items():
        assert back.masses[name] == pytest.approx(grams)


def test_what_was_asked_of_other_amounts_is_kept():
    recipe = _hoagland(amounts={"KNO3": "at most 30 g", "MgSO4·7H2O": "at most 10 g"})
    made = swap(recipe, "MgSO4·7H2O", "MgSO4")
    assert made.after.masses["KNO3"] <= 30 * (1 + 1e-9)
    kept = [row.name for row in made.after.requirements if row.origin == "amount"]
    assert kept == ["amount of KNO3 at most 30 g"]


def test_limits_of_the_target_are_kept_or_the_conflict_is_told():
    wish = target({"Mg": 48, "Ca": 100}, limits={"Mg": "at least 40"})
    recipe = solve(wish, ["MgSO4·7H2O", "Ca(NO3)2·4H2O"], volume=10)
    with pytest.raises(Infeasible, match="Mg at least 40"):
        swap(recipe, "MgSO4·7H2O", "KNO3")


def test_the_cost_changes_by_the_difference():
    cheap = fm.salt("KNO3", price_per_kg=2.0)
    dear = fm.salt("KNO3", name="fine KNO3", price_per_kg=5.0)
    recipe = solve(target({"K": 195.5}), [cheap], volume=100)
    # 195.5 mg/L K are 5.000 mmol/L: 50.55 g of it, 3 per kg dearer
    assert swap(recipe, "KNO3", dear).dearer == pytest.approx(0.1517, rel=1e-3)


@pytest.mark.parametrize(
    ("out", "into", "words"),
    [
        ("K2SO4", "KCl", "not on the shelf"),
        ("KNO3", "KH2PO4", "already"),
        ("KNO3", [], "nothing to take its place"),
        ("KNO3", "CO(NH2)2", "urea"),
    ],
)
def test_what_cannot_be_swapped_is_refused(out, into, words):
    with pytest.raises(InputError, match=words):
        swap(_hoagland(), out, into)


def test_an_ingredient_itself_names_what_goes():
    recipe = _hoagland()
    assert swap(recipe, as_ingredient("KNO3"), "KCl").out == "KNO3"
