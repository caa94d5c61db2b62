"""One ingredient for another: what stays, what is lost, what comes along."""

import pytest

import formulate as fm
from formulate.errors import Infeasible, InputError
from formulate.ingredients.salts import as_ingredient
from formulate.recipes.requirements import Requirement, limit_rows
from formulate.recipes.solve import solve
from formulate.recipes.swap import swap
from formulate.recipes.target import published_target, target

SHELF = ["Ca(NO3)2·4H2O", "KNO3", "KH2PO4", "MgSO4·7H2O"]
CAN, EPSOM = "Ca(NO3)2·4H2O", "MgSO4·7H2O"
# Hoagland No. 1 in mmol/L (hershey-1997): KNO3 5, Ca(NO3)2 5, KH2PO4 1, MgSO4 2.
# Masses in g/mol, CIAAW 2021: Ca(NO3)2·4H2O 236.15, Ca(NO3)2 164.09, KNO3 101.10,
# MgSO4·7H2O 246.47, KCl 74.55; Cl 35.45, N 14.007.


def _hoagland(shelf=SHELF, **facts):
    return solve(published_target("hoagland1-mmol"), shelf, volume=100, **facts)


def _told(made):
    return [notice.what for notice in made.notices]


# --- what is lost and what is not -------------------------------------------------------


def test_the_same_salt_with_less_crystal_water_loses_nothing():
    made = swap(_hoagland(), CAN, "Ca(NO3)2")
    assert made.lost == made.gained == made.besides == ()
    assert made.before.masses[CAN] == pytest.approx(118.07, rel=1e-4)
    assert made.after.masses["Ca(NO3)2"] == pytest.approx(82.04, rel=1e-3)
    assert any(what.startswith("nothing lost") for what in _told(made))


def test_magnesium_chloride_for_epsom_salt_loses_the_sulfate():
    # 2 mmol/L of Mg bring 4 of Cl, 141.8 mg/L, where all of the Mg is to be met; chloride
    # from the shelf is kept low, so it is a little less
    made = swap(_hoagland(), EPSOM, "MgCl2·6H2O")
    assert made.lost == ("SO4",)
    rows = {row[0]: row for row in made.rows()}
    assert rows["SO4"][1:] == pytest.approx((192.1, 192.1, 0, -192.1), rel=1e-3)
    ((key, mass),) = made.besides
    assert key == "Cl"
    assert 0.9 * 141.8 < mass <= 141.8
    assert any("SO4 192.1 mg/L wanted, 192.1 before, 0 now" in t for t in _told(made))
    assert not any(what.startswith("nothing lost") for what in _told(made))


def test_a_swap_there_and_back_is_the_same_recipe():
    recipe = _hoagland()
    once = swap(recipe, EPSOM, "MgCl2·6H2O")
    back = swap(once.after, "MgCl2·6H2O", EPSOM)
    assert dict(back.after.masses) == pytest.approx(dict(recipe.masses))
    assert back.gained == once.lost == ("SO4",)
    assert [i.name for i in back.after.ingredients] == SHELF


def test_several_can_take_the_place_of_one():
    made = swap(_hoagland(), EPSOM, ["Mg(NO3)2·6H2O", "K2SO4"])
    assert made.lost == ()  # 2 Mg(NO3)2 and 2 K2SO4 for 2 MgSO4 and 4 KNO3
    names = [i.name for i in made.after.ingredients]
    assert names == [*SHELF[:3], "Mg(NO3)2·6H2O", "K2SO4"]
    # 5 - 4 = 1 mmol/L of KNO3 is left
    assert made.after.masses["KNO3"] == pytest.approx(10.11, rel=1e-3)


def test_the_swap_is_the_recipe_of_the_other_shelf():
    made = swap(_hoagland(water="medium"), "KNO3", "KCl")
    other = [CAN, "KCl", "KH2PO4", EPSOM]
    again = solve("hoagland1-mmol", other, volume=100, water="medium")
    assert dict(made.after.masses) == pytest.approx(dict(again.masses))


def test_what_stands_on_the_shelf_already_may_take_the_place():
    recipe = _hoagland([*SHELF, "K2SO4"])
    made = swap(recipe, "KNO3", "K2SO4")
    assert [i.name for i in made.after.ingredients] == [CAN, "KH2PO4", EPSOM, "K2SO4"]
    assert "NO3" in made.lost


def test_what_is_not_used_is_told():
    made = swap(_hoagland([*SHELF, "KCl"]), "KCl", "NaNO3")
    assert "KCl was not used before" in _told(made)
    assert "NaNO3 is not used: no amount of it helps" in _told(made)
    assert dict(made.after.masses) == pytest.approx(dict(made.before.masses))


def test_a_miss_within_the_rule_of_five_percent_is_no_loss():
    wish = target({"K": 100}, limits={"NO3-N": "at most 34.4 mg/L"})
    made = swap(solve(wish, ["KCl"], volume=10), "KCl", "KNO3")
    # 34.4 / 14.007 x 39.098 = 96.02 mg/L
    assert made.after.solution.mg_l("K") == pytest.approx(96.02, rel=1e-3)
    assert made.lost == ()
    tighter = target({"K": 100}, limits={"NO3-N": "at most 33 mg/L"})
    made = swap(solve(tighter, ["K2SO4"], volume=10), "K2SO4", "KNO3")
    assert made.lost == ("K",)  # 33 / 14.007 x 39.098 = 92.1


def test_a_range_and_an_alkalinity_that_are_lost_are_told_with_both_ends():
    wish = target({"K": "90-110", "alkalinity": "1 to 2 meq/L"})
    made = swap(solve(wish, ["KHCO3"], volume=10), "KHCO3", "CaSO4·2H2O")
    assert set(made.lost) == {"K", "alkalinity"}
    text = str(made)
    assert "K 90.00 to 110.0 mg/L wanted" in text
    assert "alkalinity 1.000 to 2.000 meq/L wanted" in text


# --- what is carried over --------------------------------------------------------------


def test_what_was_asked_of_other_amounts_is_kept():
    recipe = _hoagland(amounts={"KNO3": "at most 30 g", EPSOM: "at most 10 g"})
    made = swap(recipe, EPSOM, "MgSO4")
    assert made.after.masses["KNO3"] <= 30 * (1 + 1e-9)
    kept = [row.name for row in made.after.requirements if row.origin == "amount"]
    assert kept == ["amount of KNO3 at most 30 g"]
    (gone,) = [n.what for n in made.told]
    assert gone.startswith("amount of MgSO4·7H2O at most 10 g went with it")


def test_what_is_on_hand_of_the_rest_is_kept():
    shelf = fm.shelf(SHELF, on_hand={"KNO3": 20, CAN: 500})
    made = swap(_hoagland(shelf), EPSOM, "MgSO4")
    assert made.after.masses["KNO3"] == pytest.approx(20)


def test_the_new_one_may_be_limited_too():
    made = swap(_hoagland(), CAN, "Ca(NO3)2", amounts={"Ca(NO3)2": "at most 40 g"})
    assert made.after.masses["Ca(NO3)2"] == pytest.approx(40)
    assert "Ca" in made.lost


def test_a_limit_given_beside_the_target_counts_for_the_new_one():
    wish = target({"K": 200})
    shelf = [fm.salt("KNO3"), fm.salt("K2SO4")]
    nothing = fm.solution({})
    held = target({"K": 200}, limits={"Cl": "at most 50 mg/L"}).limits[0]
    ratio = target({"K": 200}, limits={"Cl:K": "at most 0.2"}).limits[0]
    for one, most in ((held, 50), (ratio, None)):
        rows = limit_rows(one, shelf, nothing)
        recipe = solve(wish, shelf, volume=10, requirements=rows)
        after = swap(recipe, "KNO3", "KCl").after
        chloride, potassium = (after.solution.mg_l(k) for k in ("Cl", "K"))
        assert chloride <= (most or 0.2 * potassium) * (1 + 1e-9)
        (row,) = [r for r in after.requirements if r.name == one.named("high")]
        assert row.coefficients[0] != 0  # KCl stands where KNO3 stood


def test_a_row_about_a_nutrient_counts_the_new_one():
    wish, shelf = target({"K": 200}), [fm.salt("KNO3"), fm.salt("K2SO4")]
    chlorides = tuple(salt.amount("Cl") for salt in shelf)
    row = Requirement("Cl bound", chlorides, high=1.0, kind="hard", key="Cl")
    after = swap(solve(wish, shelf, volume=10, requirements=[row]), "KNO3", "KCl").after
    assert after.solution.mmol_l("Cl") <= 1 + 1e-9
    (kept,) = [r for r in after.requirements if r.name == "Cl bound"]
    assert kept.coefficients[0] == pytest.approx(1000 / 74.55, rel=1e-4)  # mmol/g


def test_a_ratio_beside_the_target_is_still_one_when_it_cannot_hold():
    shelf = [fm.salt("KNO3")]
    wish = target({"K": 200}, limits={"K": "at least 100"})
    held = target({"K": 200}, limits={"Cl:K": "at most 0.2"}).limits[0]
    rows = limit_rows(held, shelf, fm.solution({}))
    recipe = solve(wish, shelf, volume=10, requirements=rows)
    # KCl: 35.45 g of Cl to 39.098 g of K, 0.9067
    with pytest.raises(Infeasible, match=r"Cl:K at most 0\.906[78]"):
        swap(recipe, "KNO3", "KCl")


def test_a_row_of_unknown_meaning_counts_nothing_of_the_new_one_and_says_so():
    wish, shelf = target({"K": 200}), ["KNO3", "K2SO4"]
    row = Requirement("dust", (1.0, 2.0), high=3.0, kind="hard")
    made = swap(solve(wish, shelf, volume=10, requirements=[row]), "KNO3", "KCl")
    (kept,) = [r for r in made.after.requirements if r.name == "dust"]
    assert kept.coefficients == (0.0, 2.0)
    assert any("dust: KCl counts for nothing" in what for what in _told(made))


def test_limits_of_the_target_are_kept_or_the_conflict_is_told():
    wish = target({"Mg": 48, "Ca": 100}, limits={"Mg": "at least 40"})
    recipe = solve(wish, [EPSOM, CAN], volume=10)
    with pytest.raises(Infeasible, match="Mg at least 40"):
        swap(recipe, EPSOM, "KNO3")


def test_what_was_barred_stays_barred_and_may_be_replaced():
    recipe = _hoagland([*SHELF, "urea"])
    made = swap(recipe, "KNO3", "KCl")
    assert [i.name for i in made.after.barred] == ["urea"]
    assert swap(recipe, "urea", "KCl").after.barred == ()
    recipe = _hoagland(["urea", *SHELF], amounts={CAN: "at most 60 g"})
    after = swap(recipe, "KNO3", "KCl").after
    assert after.masses[CAN] == pytest.approx(60)


# --- cost, harm, words -----------------------------------------------------------------


def test_the_cost_changes_by_the_difference():
    cheap = fm.salt("KNO3", price_per_kg=2.0)
    dear = fm.salt("KNO3", name="fine KNO3", price_per_kg=5.0)
    recipe = solve(target({"K": 195.5}), [cheap], volume=100)
    # 195.5 mg/L K are 5.000 mmol/L: 50.55 g, 3 per kg dearer
    made = swap(recipe, "KNO3", dear)
    assert made.cost_change == pytest.approx(0.1517, rel=1e-3)
    assert "cost of the batch changes by +0.15" in str(made)
    assert swap(_hoagland(), CAN, "Ca(NO3)2").cost_change is None


def test_new_harm_is_told():
    # 200 mg/L K as KCl bring 181 mg/L Cl, above the limit of 140 for any crop
    wish = target({"K": 200, "Cl": "0-500"})
    made = swap(solve(wish, ["KNO3"], volume=10), "KNO3", "KCl")
    assert any(what.startswith("Cl 181.3 mg/L, above 140") for what in _told(made))


def test_it_tells_itself_and_stands_in_a_table():
    made = swap(_hoagland(), CAN, "Ca(NO3)2")
    text = str(made)
    assert text.startswith("Ca(NO3)2 in place of Ca(NO3)2·4H2O, 100.0 L")
    frame = made.to_frame()
    assert list(frame.columns) == ["wanted", "before", "after", "change"]
    assert frame.loc["Ca", "after"] == pytest.approx(200.4, rel=1e-3)
    assert frame["change"].abs().max() < 0.05
    assert {name for name, *_ in made.weights()} == {*SHELF, "Ca(NO3)2"}


@pytest.mark.parametrize(
    ("out", "into", "words"),
    [
        ("K2SO4", "KCl", "not on the shelf; there are"),
        (7, "KCl", "not on the shelf"),
        ("KNO3", fm.salt("KH2PO4"), "on the shelf already"),
        ("KNO3", [], "nothing takes its place"),
        ("KNO3", ["KCl", "KCl"], "stands here twice"),
        ("KNO3", "KNO3", "cannot take its own place"),
        ("KNO3", "CO(NH2)2", "urea, which this target bars"),
        ("KNO3", "no salt", "no name in the catalogue"),
    ],
)
def test_what_cannot_be_swapped_is_refused(out, into, words):
    with pytest.raises(InputError, match=words):
        swap(_hoagland(), out, into)


def test_every_fault_at_once():
    with pytest.raises(InputError) as told:
        swap(_hoagland(), "K2SO4", ["no salt", "urea"])
    assert len(told.value.faults) == 3
    with pytest.raises(InputError, match="no recipe"):
        swap("recipe", "KNO3", "KCl")


@pytest.mark.parametrize("out", ["KNO3", as_ingredient("KNO3"), "potassium nitrate"])
def test_a_name_of_the_catalogue_or_the_ingredient_names_what_goes(out):
    assert swap(_hoagland(), out, "KCl").out.name == "KNO3"
