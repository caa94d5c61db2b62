"""What to buy: the whole catalogue tried one by one is the judge."""

import re
from itertools import pairwise

import pytest

from formulate.chemistry.plant_safety import plant_safety
from formulate.chemistry.speciation import speciate
from formulate.errors import FormulateError, InputError
from formulate.ingredients.dissolve import dissolve
from formulate.ingredients.salts import acid, catalogue, salt
from formulate.ingredients.shelf import shelf as as_shelf
from formulate.ingredients.stock import blend
from formulate.recipes import purchases
from formulate.recipes.purchases import what_to_buy
from formulate.recipes.solve import solve
from formulate.recipes.target import published_target, target

FEED = {"N": 150, "P": 31, "K": 200, "Ca": 150, "Mg": 40, "S": 60}
CAN, EPSOM, MKP = "Ca(NO3)2·4H2O", "MgSO4·7H2O", "KH2PO4"
WORTH = 1e-3  # share of the squared deviations: what gains less is not worth buying
GRAVITY = {"note": 0, "caution": 1, "serious": 2}
# Scale of the ions kept low in mmol/L: 50 mg/L Na, 70 mg/L Cl (mattson-peters-2014, read),
# counted a tenth; masses CIAAW 2021, abridged.
LOW = {"Na": 50 / 22.990, "Cl": 70 / 35.45}

CASES = {
    "two salts": (FEED, [CAN, "KNO3"], None, {}),
    "no magnesium": (FEED, [CAN, "KNO3", MKP, "K2SO4"], None, {}),
    "no sulfate": (FEED, [CAN, "KNO3", MKP, "Mg(NO3)2·6H2O"], None, {}),
    "no phosphate": (FEED, [CAN, "KNO3", EPSOM], None, {}),
    "no calcium": (FEED, ["KNO3", MKP, EPSOM, "NH4NO3"], None, {}),
    "no potassium": (FEED, [CAN, "NH4H2PO4", EPSOM], None, {}),
    "chloride only": (FEED, ["CaCl2·2H2O", "KCl", EPSOM], None, {}),
    "one salt": (FEED, ["KNO3"], None, {}),
    "sulfur alone": ({"S": 100}, ["KNO3"], None, {}),
    "ammonium only": ({"N": 150, "K": 100}, ["NH4NO3", "K2SO4"], None, {}),
    "silicon": ({"K": 200, "Si": 20}, ["KNO3"], None, {}),
    "iron": ({"K": 200, "Fe": 2}, ["KNO3"], None, {}),
    "boron": ({"K": 200, "B": 0.3, "Mn": 0.5}, ["KNO3", "MnSO4·H2O"], None, {}),
    "range": (FEED | {"Ca": "120-180", "K": "150-250"}, [CAN, MKP], None, {}),
    "zero": ({"N": 100, "K": 100, "Cl": 0}, ["KCl", "NH4NO3"], None, {}),
    "rain": (FEED, [CAN, "NH4H2PO4"], "rain", {}),
    "hard": (FEED, [CAN, "KNO3", MKP], "hard", {}),
    "medium": (FEED, ["KNO3", EPSOM], "medium", {}),
    "limit": (FEED, [CAN, "KNO3", MKP], "soft", {"limits": {"NO3-N": "at most 100"}}),
    "ratio": (FEED, [CAN, "KNO3", MKP], None, {"limits": {"K:Ca": "at most 1"}}),
    "ec": (FEED, [CAN, "KNO3", MKP], None, {"limits": {"EC": "at most 1"}}),
    "weights": (FEED, [CAN, "KNO3"], None, {"weights": {"S": 10, "Mg": 0}}),
    "free ammonium": (FEED, [CAN, MKP], None, {"ammonium_share": (0, 1)}),
    "urea": (FEED, [CAN, MKP, EPSOM], None, {"urea_allowed": True}),
    "first calcium": (
        {"Ca": 200, "NO3-N": 100, "K": 100},
        [CAN, "KCl"],
        None,
        {"priorities": [["Ca"]]},
    ),
    "first sulfur": (FEED, [CAN, "KNO3", EPSOM], None, {"priorities": [["S"], ["K"]]}),
}


# mmol/L from which plants are harmed, from the mg/L of plant_limits.csv
TRACES = {
    "Fe": 6 / 55.845,
    "Mn": 5 / 54.938,
    "Zn": 2 / 65.38,
    "Cu": 1 / 63.546,
    "B": 3 / 10.81,
    "Mo": 0.2 / 95.95,
    "Ni": 0.2 / 58.693,
    "Co": 0.05 / 58.933,
}


def _case(name):
    wanted, things, tap, facts = CASES[name]
    return solve(target(wanted, **facts), things, volume=100, water=tap)


def _squared(recipe):
    """Return the squared deviations, from the weights and the target alone."""
    wish, total = recipe.target, 0.0
    amounts = {i.name: amount for i, amount in recipe.amounts}
    made = dissolve(dict(recipe.amounts), volume=recipe.volume, water=recipe.water)
    for key, value in wish.wanted.items():
        low, high = wish.ranges.get(key, (value, value))
        off = made.mmol_l(key) - min(max(made.mmol_l(key), low), high)
        scale, weight = (value, wish.weights.get(key, 1)) if value else (LOW[key], 0.09)
        total += weight * (off / scale) ** 2
    for key, scale in LOW.items():
        if key not in wish.wanted and amounts:
            shelf = sum(i.amount(key) * a for i, a in recipe.amounts) / recipe.volume
            total += 0.01 * (shelf / scale) ** 2
    for key, most in TRACES.items():
        if key not in wish.wanted and amounts:
            shelf = sum(i.amount(key) * a for i, a in recipe.amounts) / recipe.volume
            total += max(shelf / most - 1, 0) ** 2
    return total


def _harms(recipe):
    """Return what harms plants, by the limits of another module and by alkalinity."""
    made = dissolve(dict(recipe.amounts), volume=recipe.volume, water=recipe.water)
    found = {}
    for notice in plant_safety(made):
        acid = notice.what.startswith("free acid")
        word = "acidity" if acid else notice.what.split()[0]
        found[word] = max(GRAVITY[notice.severity], found.get(word, 0))
    left = made.alkalinity()
    if left > made.mmol_l("C") + 0.1 and speciate(made).ph > 9:
        found["acidity"] = 2
    elif min(left, made.mmol_l("C")) > 2:  # purdue-alkalinity (read)
        found["acidity"] = max(1, found.get("acidity", 0))
    return found


def _by_trying(recipe, everything=False):
    """Return name to share left, of all of the catalogue that helps and harms nothing."""
    before, harms, found = _squared(recipe), _harms(recipe), {}
    formulas = {(i.formula, i.is_liquid) for i in recipe.ingredients if i.formula}
    if before < 1e-12:
        return found
    for entry in catalogue().values():
        if (entry.formula, entry.is_liquid) in formulas:
            continue
        if entry.restricted == "restricted" and not everything:
            continue
        if "urea" in entry.forms and not recipe.target.urea_allowed:
            continue
        if any(entry.amount(k) and k not in recipe.target.wanted for k in TRACES):
            continue
        shelf = [*recipe.ingredients, entry]
        tried = solve(recipe.target, shelf, volume=recipe.volume, water=recipe.water)
        left = _squared(tried) / before
        is_fine = all(v <= harms.get(k, 0) for k, v in _harms(tried).items())
        if left < 1 - WORTH and is_fine:
            found[entry.name] = left
    return found


@pytest.mark.parametrize("name", CASES)
def test_the_best_and_their_order_are_those_of_trying_all(name):
    recipe = _case(name)
    judge = _by_trying(recipe)
    found = {a.ingredient.name: a.left for a in what_to_buy(recipe, most=200)}
    assert set(found) == set(judge)
    wet = {name for name in found if catalogue()[name].is_liquid}  # takes water's room
    for name, left in found.items():
        assert left == pytest.approx(judge[name], abs=1e-4 if name in wet else 1e-6), (
            name
        )
    left = list(found.values())
    assert left == sorted(left)
    assert all(judge[a] <= judge[b] + 1e-6 for a, b in pairwise(found))


def test_the_cases_are_not_empty():
    helped = [name for name in CASES if what_to_buy(_case(name), most=1)]
    assert len(helped) >= 24


def test_the_first_few_are_the_first_of_all():
    recipe = _case("two salts")
    names = [a.ingredient.name for a in what_to_buy(recipe, most=200)]
    assert [a.ingredient.name for a in what_to_buy(recipe)] == names[:5]
    assert [a.ingredient.name for a in what_to_buy(recipe, most=1)] == names[:1]


def test_what_is_missing_is_what_to_buy():
    assert what_to_buy(_case("no phosphate"))[0].ingredient.amount("P") > 0
    assert what_to_buy(_case("iron"))[0].ingredient.amount("Fe") > 0
    for addition in what_to_buy(_case("silicon")):
        assert addition.ingredient.amount("Si") > 0


# --- what is not named -----------------------------------------------------------------


def test_restricted_materials_are_named_only_when_asked_for():
    wanted = {"alkalinity": "1 meq/L", "NO3-N": 70, "P": 31}
    recipe = solve(target(wanted), [MKP], volume=100, water="hard")
    plain = what_to_buy(recipe, most=200)
    assert all(a.ingredient.restricted != "restricted" for a in plain)
    every = what_to_buy(recipe, restricted=True, most=200)
    added = {a.ingredient.restricted for a in every}
    assert "restricted" in added
    assert every[0].left < plain[0].left if plain else every


@pytest.mark.parametrize("metal", ["Ni", "Co", "Cu", "Zn", "Mn"])
def test_no_trace_metal_is_named_for_its_sulfate(metal):
    for name in ("sulfur alone", "no sulfate", "two salts"):
        for addition in what_to_buy(_case(name), most=200):
            assert addition.ingredient.amount(metal) == 0


def test_one_harm_is_not_traded_for_another():
    # too much boron in the only sulfate: nickel sulfate would cure that with nickel
    borated = blend("borated", {"K2SO4": 98, "H3BO3": 2})
    few = {"B": 0.001, "K": 0.001}
    wanted = target({"S": 100, "B": 0.3, "K": 20}, weights=few)
    recipe = solve(wanted, [borated], volume=100)
    assert "B" in _harms(recipe)
    found = what_to_buy(recipe, most=200)
    assert found
    assert all(a.ingredient.amount("Ni") == 0 for a in found)


def test_nothing_strongly_acid_or_alkaline_is_named_for_a_feed_that_is_neither():
    for name in ("two salts", "no potassium", "no phosphate"):
        for addition in what_to_buy(_case(name), restricted=True, most=200):
            made = addition.recipe.solution
            assert made.alkalinity() > -0.1
            assert speciate(made).ph < 9


def test_what_is_on_the_shelf_is_not_named_even_under_another_name():
    mine = salt("KNO3", name="my bag", purity_percent=90)
    recipe = solve(target({"K": 200, "S": 50}), [mine], volume=10)
    assert all(a.ingredient.formula != "KNO3" for a in what_to_buy(recipe, most=200))


def test_urea_is_named_only_where_it_is_allowed():
    wanted = {"N": 150, "K": 60}
    barred = solve(target(wanted), ["KNO3"], volume=10)
    assert all("urea" not in a.ingredient.forms for a in what_to_buy(barred, most=200))
    allowed = solve(target(wanted, urea_allowed=True), ["KNO3"], volume=10)
    assert any("urea" in a.ingredient.forms for a in what_to_buy(allowed, most=200))


@pytest.mark.parametrize("restricted", [False, True])
def test_a_recipe_that_is_met_needs_nothing(restricted):
    recipe = solve("hoagland1-mmol", ["KNO3", CAN, MKP, EPSOM], volume=10)
    assert recipe.status == "met"
    assert what_to_buy(recipe, restricted=restricted) == ()
    inside = solve(target({"K": "100-300"}), ["KNO3"], volume=10)
    assert what_to_buy(inside) == ()
    first = target({"K": 200}, priorities=[["K"]])
    assert what_to_buy(solve(first, ["KNO3"], volume=10)) == ()


# --- what stays as it was --------------------------------------------------------------


def test_amounts_that_were_limited_stay_limited():
    held = as_shelf([CAN, "KNO3"], on_hand={CAN: 30})
    wanted = target({"NO3-N": 150, "Ca": 150, "K": 100})
    recipe = solve(wanted, held, volume=100, amounts={"KNO3": "at most 20 g"})
    found = what_to_buy(recipe, most=50)
    assert found
    for addition in found:
        assert addition.recipe.masses.get(CAN, 0) <= 30 * (1 + 1e-9)
        assert addition.recipe.masses.get("KNO3", 0) <= 20 * (1 + 1e-9)
        assert addition.recipe.misses.keys() == recipe.misses.keys()


def test_the_words_show_the_weights_before_and_after():
    best = what_to_buy(_case("no magnesium"), most=1)[0]
    lines = str(best).splitlines()
    assert re.match(r".+: \d+ % closer$", lines[0])
    assert len(lines) >= len(best.rows()) + 1
    assert all(line.endswith(" g") for line in lines[1 : len(best.rows()) + 1])
    after = dict(best.recipe.masses)
    for name, before, with_it in best.rows():
        assert before == _case("no magnesium").masses.get(name, 0.0)
        assert with_it == after.get(name, 0.0)
    assert best.closer == pytest.approx(100 * (1 - best.left))


def test_a_dose_of_acid_on_the_shelf_is_reckoned_with():
    shelf = [CAN, "KNO3", acid("HNO3", percent=67)]
    wish = target(FEED, limits={"alkalinity": "at most 1 meq/L"})
    recipe = solve(wish, shelf, volume=100, water="hard")
    for addition in what_to_buy(recipe):
        assert addition.recipe.alkalinity_left <= 1 + 1e-6


# --- work, and bad input ---------------------------------------------------------------


def _solved(recipe, monkeypatch, **facts):
    """Return how many recipes are solved to choose, and how many candidates there are."""
    count, true = [], purchases.amounts_in_order

    def counted(*given, **options):
        count.append(1)
        return true(*given, **options)

    monkeypatch.setattr(purchases, "amounts_in_order", counted)
    what_to_buy(recipe, **facts)
    return len(count)


@pytest.mark.parametrize("name", CASES)
def test_only_what_can_help_is_solved(name, monkeypatch):
    recipe = _case(name)
    brings = [
        entry
        for entry in catalogue().values()
        if any(entry.amount(key) > 0 for key in recipe.target.wanted)
    ]
    assert _solved(recipe, monkeypatch) <= len(brings)
    assert len(brings) < len(catalogue())


def test_nothing_is_solved_for_a_recipe_that_is_met(monkeypatch):
    recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    assert _solved(recipe, monkeypatch, restricted=True) == 0


@pytest.mark.parametrize(
    "facts",
    [{"most": 0}, {"most": -1}, {"most": "x"}, {"most": None}, {"restricted": "no"}],
    ids=str,
)
def test_bad_input_is_refused_in_words(facts):
    recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    with pytest.raises(InputError, match=r"how many|restricted"):
        what_to_buy(recipe, **facts)


@pytest.mark.parametrize("key", [f"ufifas-tomato-{stage}" for stage in range(1, 6)])
def test_a_published_target_on_two_bags_is_brought_nearer(key):
    recipe = solve(published_target(key), [CAN, "KNO3"], volume=100, water="hard")
    found = what_to_buy(recipe)
    assert found
    for addition in found:
        assert _squared(addition.recipe) < (1 - WORTH) * _squared(recipe)
    with pytest.raises(FormulateError):
        what_to_buy(recipe, most=float("nan"))
