"""From target, shelf and water to a recipe: exact hits, limits, misses, bad input."""

import csv
import math
import subprocess
import sys
from itertools import permutations
from pathlib import Path

import numpy as np
import pytest

from formulate.errors import FormulateError, Infeasible, InputError
from formulate.ingredients.salts import acid, catalogue, salt
from formulate.ingredients.stock import blend, stock
from formulate.ingredients.water import preset_names, water
from formulate.recipes.requirements import Requirement, brought
from formulate.recipes.solve import solve
from formulate.recipes.target import published_target_names, target
from formulate.stoichiometry.solution import solution

PUBLISHED = Path(__file__).parent / "published"
# Standard atomic masses (CIAAW 2021, abridged) in g/mol.
MASS = {"N": 14.007, "P": 30.974, "K": 39.098, "Ca": 40.078, "Mg": 24.305, "S": 32.06}
FIVE_DIGITS = 3e-5
MACROS = [
    "KNO3",
    "Ca(NO3)2·4H2O",
    "KH2PO4",
    "MgSO4·7H2O",
    "K2SO4",
    "Mg(NO3)2·6H2O",
    "NH4NO3",
    "nitric acid (67 %)",  # these two close the charge of rounded values
    "KOH",
]
TRACES = [
    "iron DTPA chelate (11 % Fe)",
    "MnCl2·4H2O",
    "MnSO4·H2O",
    "KCl",
    "ZnSO4·7H2O",
    "H3BO3",
    "CuSO4·5H2O",
    "Na2MoO4·2H2O",
]
FEED = {"N": 150, "P": 31, "K": 200, "Ca": 150, "Mg": 40, "S": 60}
SHELF = ["KNO3", "Ca(NO3)2·4H2O", "KH2PO4", "MgSO4·7H2O", "K2SO4", "NH4NO3"]


def _rows(name):
    with (PUBLISHED / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _checks(name, wanted_in):
    """Return each published solution that is a check, as key to printed value."""
    for row in _rows(name):
        if row["check"] == "yes" and row["id"] != "ufifas-tomato-early":
            columns = [
                key for key in row if key.endswith(wanted_in) and "sum" not in key
            ]
            values = {key.removesuffix(wanted_in): row[key] for key in columns}
            yield (
                row["id"],
                {
                    key.replace("_", "-"): float(value)
                    for key, value in values.items()
                    if value and "-" not in value
                },
            )


# --- exact targets are hit -------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "printed"), list(_checks("targets_mg_per_L.csv", "_mg_L"))
)
def test_published_solutions_in_mg_are_hit(name, printed):
    # Sources: the source_key column of the table; Steiner's row is from memory.
    recipe = solve(name, MACROS + TRACES, volume=100)
    for key, value in printed.items():
        reached = recipe.solution.mg_l(key)
        assert reached == pytest.approx(value, rel=1e-4, abs=1e-4), key


@pytest.mark.parametrize(
    ("name", "printed"), list(_checks("targets_mmol_per_L.csv", "_mmol_L"))
)
def test_published_supply_solutions_in_mmol_are_hit(name, printed):
    # Sources: the source_key column of the table; all but Hoagland's are from memory.
    recipe = solve(name, MACROS + TRACES, volume=100)
    for key, value in printed.items():
        reached = recipe.solution.mmol_l(key)
        assert reached == pytest.approx(value, rel=1e-4, abs=1e-5), key
    assert recipe.status == "met"


@pytest.mark.parametrize(
    ("name", "stocks"),
    [
        # mL of 1 mol/L stocks in a litre, that is mmol/L (hershey-1997, read)
        ("hoagland1-mmol", {"KNO3": 5, "Ca(NO3)2": 5, "KH2PO4": 1, "MgSO4": 2}),
        ("hoagland2-mmol", {"KNO3": 6, "Ca(NO3)2": 4, "NH4H2PO4": 1, "MgSO4": 2}),
    ],
)
def test_the_recipe_of_hoagland_and_arnon_is_found_again(name, stocks):
    molar = [stock(formula, {salt(formula): "1 kg"}, volume=1) for formula in stocks]
    grams_per_mol = {"KNO3": 101.102, "Ca(NO3)2": 164.086, "KH2PO4": 136.084}
    grams_per_mol |= {"MgSO4": 120.361, "NH4H2PO4": 115.024}
    recipe = solve(name, molar, volume=1)
    for formula, millilitres in stocks.items():
        poured = recipe.millilitres[formula]  # of a stock of 1000 g/L
        assert poured * 1000 / grams_per_mol[formula] == pytest.approx(
            millilitres, rel=1e-4
        )


def test_an_impossible_reprint_is_reached_as_nearly_as_may_be_and_told():
    shelf = [name for name in MACROS if name not in ("KOH", "NH4NO3")]
    recipe = solve("steiner-reprint-misprint", [*shelf, *TRACES], volume=100)
    assert recipe.status == "nearest"
    assert any("cannot balance" in notice.what for notice in recipe.notices)


# --- laws ------------------------------------------------------------------------------


def test_ten_times_the_volume_takes_ten_times_the_salts():
    one = solve(target(FEED), SHELF, volume=10, water="medium")
    ten = solve(target(FEED), SHELF, volume="100 L", water="medium")
    assert dict(ten.masses) == pytest.approx(
        {name: 10 * grams for name, grams in one.masses.items()}
    )
    assert ten.solution.forms == pytest.approx(dict(one.solution.forms))


def test_half_of_everything_wanted_takes_half_of_everything():
    half = {key: value / 2 for key, value in FEED.items()}
    one = solve(target(FEED), SHELF[:4], volume=10).masses
    two = solve(target(half), SHELF[:4], volume=10).masses
    assert dict(two) == pytest.approx({name: grams / 2 for name, grams in one.items()})


def test_the_order_of_the_shelf_does_not_change_what_is_reached():
    first = solve(target(FEED), SHELF, volume=10, water="hard")
    for order in list(permutations(SHELF))[::101]:
        other = solve(target(FEED), order, volume=10, water="hard")
        for key in FEED:
            assert other.solution.mg_l(key) == pytest.approx(
                first.solution.mg_l(key), rel=1e-9
            )


def test_doing_it_twice_is_the_same_to_the_last_bit():
    one, two = (solve(target(FEED), SHELF, volume=10) for _ in range(2))
    assert dict(one.masses) == dict(two.masses)


def test_a_small_change_of_the_target_changes_the_solution_a_little():
    base = solve(target(FEED), SHELF, volume=10, water="hard").solution
    for key, value in FEED.items():
        near = target(FEED | {key: value * (1 + 1e-7)})
        moved = solve(near, SHELF, volume=10, water="hard").solution
        for seen in FEED:
            change = moved.mg_l(seen) / base.mg_l(seen) - 1
            assert abs(change) < 1e-6, (key, seen)


# --- the water -------------------------------------------------------------------------


def test_what_the_water_brings_is_counted():
    tap = water({"Ca": "40 mg/L", "NO3": "122.2 mg/L"})
    recipe = solve(target({"Ca": 100}), ["Ca(NO3)2·4H2O"], volume=10, water=tap)
    # 60 mg/L short, 10 L, 40.078 of 236.146 g/mol: 3.535 g by hand
    expected = 0.060 * 10 * 236.146 / 40.078
    assert recipe.masses["Ca(NO3)2·4H2O"] == pytest.approx(expected, rel=FIVE_DIGITS)


def test_water_that_holds_more_than_wanted_is_told_and_nothing_added():
    # voehringen-2025 (read): 94.4 mg/L Ca
    recipe = solve(target({"Ca": 60}), ["Ca(NO3)2·4H2O"], volume=10, water="hard")
    assert not recipe.masses
    (told,) = [n for n in recipe.notices if "Ca:" in n.what]
    assert "the water alone brings 94.40 mg/L" in told.what
    assert "60.00 mg/L wanted" in told.what
    assert told.severity == "serious"


@pytest.mark.parametrize(
    ("wanted", "liquid"),
    [
        ({"Ca": 60}, "phosphoric acid (75 %)"),
        ({"Ca": 60, "K": 100}, "nitric acid (67 %)"),
        ({"NO3-N": 2, "Ca": 120}, "sulfuric acid (35 %)"),
    ],
)
def test_a_liquid_is_never_poured_to_push_the_water_out(wanted, liquid):
    shelf = ["KCl", "CaCl2·2H2O", liquid]
    recipe = solve(target(wanted), shelf, volume=100, water="hard")
    assert recipe.millilitres.get(liquid, 0.0) < 100  # 0.1 % of the batch


def test_what_is_poured_finds_room_or_the_lack_of_room_is_told():
    thin = stock("thin stock", {"KNO3": 1}, volume=1)
    with pytest.raises(FormulateError, match=r"thin stock|room|volume|liquid"):
        # 1 g/L of salt can never bring the 1.293 g/L that 500 mg/L K takes
        str(solve(target({"K": 500}), [thin], volume=10, requirements=[_exactly(thin)]))
    recipe = solve(target({"K": 500}), [thin], volume=10)
    poured = recipe.millilitres["thin stock"]
    assert poured <= 10_000 * (1 + 1e-9)
    assert any(n.what.startswith("K:") for n in recipe.notices)


def _exactly(ingredient):
    """Return the hard row that asks for 500 mg/L K of one ingredient."""
    row, constant = brought("K", [ingredient], solution({}))
    level = 500 / MASS["K"]
    return Requirement("K exactly", row, level, level, constant, kind="hard")


# --- who brings what -------------------------------------------------------------------


def test_a_nutrient_that_nobody_carries_is_told():
    recipe = solve(target({"K": 100, "Si": 10}), ["KNO3"], volume=10)
    (told,) = [n for n in recipe.notices if n.what.startswith("Si")]
    assert "nothing on the shelf carries it" in told.what
    assert told.severity == "serious"
    assert recipe.solution.mg_l("K") == pytest.approx(100)


@pytest.mark.parametrize(
    ("wanted", "shelf"),
    [
        ("{'K': 100}", "['MgSO4·7H2O']"),
        ("{'K': 100}", "['CaCl2·2H2O', 'NH4NO3']"),
        ("{'N': 100, 'P': 31}", "['NH4H2PO4', '(NH4)2SO4']"),
        ("{'K': 0}", "['KNO3']"),
    ],
)
def test_a_shelf_of_no_use_gives_an_empty_recipe_in_words(wanted, shelf):
    code = (
        "from formulate.recipes.solve import solve;"
        "from formulate.recipes.target import target;"
        f"recipe = solve(target({wanted}), {shelf}, volume=10);"
        "print(len(recipe.masses), recipe.equivalents); print(recipe)"
    )
    # in a process of its own: an empty recipe once brought the whole process down
    done = subprocess.run(
        [sys.executable, "-X", "utf8", "-c", code],
        check=False,
        capture_output=True,
        encoding="utf-8",
    )
    assert done.returncode == 0, done.stderr[-300:]
    assert done.stdout.startswith("0 ")


def test_urea_is_left_out_and_told_unless_it_is_allowed():
    wanted, shelf = {"N": 100, "K": 60}, ["KNO3", "CO(NH2)2"]
    barred = solve(target(wanted), shelf, volume=10)
    assert "CO(NH2)2" not in barred.masses
    assert any("urea" in n.what and "CO(NH2)2" in n.what for n in barred.notices)
    allowed = solve(target(wanted, urea_allowed=True), shelf, volume=10)
    # by hand: 60 mg/L K brings 21.49 mg/L N, urea (46.65 % N) the other 78.51
    urea = (100 - 60 * MASS["N"] / MASS["K"]) / 1000 * 10 * 60.056 / (2 * MASS["N"])
    assert allowed.masses["CO(NH2)2"] == pytest.approx(urea, rel=1e-4)


def test_urea_in_a_blend_or_a_stock_is_urea():
    hidden = blend("bag", {"CO(NH2)2": 1, "KNO3": 9})
    poured = stock("can", {"CO(NH2)2": 10}, volume=1)
    recipe = solve(target({"N": 100}), [hidden, poured, "KNO3"], volume=10)
    assert set(recipe.masses) == {"KNO3"}
    assert {ingredient.name for ingredient in recipe.barred} == {"bag", "can"}


def test_a_shelf_of_urea_alone_is_refused_with_the_reason():
    with pytest.raises(InputError, match="urea"):
        solve(target({"N": 100}), ["CO(NH2)2"], volume=10)


def test_who_names_urea_is_not_told_that_nothing_carries_it():
    recipe = solve(target({"urea-N": 50, "K": 60}), ["KNO3", "CO(NH2)2"], volume=10)
    assert not any("nothing on the shelf carries it" in n.what for n in recipe.notices)


@pytest.mark.parametrize("shelf", [["KCl", "KNO3", "K2SO4"], ["K2SO4", "KCl"]])
def test_chloride_is_avoided_where_another_salt_serves(shelf):
    recipe = solve(target({"K": 200}), shelf, volume=10)
    assert "KCl" not in recipe.masses
    assert recipe.solution.mg_l("K") == pytest.approx(200, rel=1e-6)


def test_sodium_is_avoided_where_another_salt_serves():
    recipe = solve(target({"NO3-N": 100}), ["NaNO3", "KNO3"], volume=10)
    assert set(recipe.masses) == {"KNO3"}


def test_chloride_that_nobody_asked_for_is_told():
    recipe = solve(target({"K": 300}), ["KCl"], volume=10)
    assert any("Cl" in n.what and "nobody asked for" in n.what for n in recipe.notices)


def test_the_cheaper_of_two_like_salts_is_taken_and_the_other_named():
    dear = salt("KNO3", name="dear", price_per_kg=3.0)
    cheap = salt("KNO3", name="cheap", price_per_kg=2.0)
    recipe = solve(target({"K": 200}), [dear, cheap], volume=10)
    assert set(recipe.masses) == {"cheap"}
    assert recipe.equivalents == ("dear",)
    assert any("least cost" in n.what and "dear" in n.what for n in recipe.notices)


# --- ammonium --------------------------------------------------------------------------


def test_the_limit_of_ammonium_binds_and_is_told():
    shelf = ["NH4H2PO4", "(NH4)2SO4", "NH4NO3", "KNO3"]
    wanted = target({"N": 100, "K": 60, "P": 31})
    recipe = solve(wanted, shelf, volume=10)
    made = recipe.solution
    assert made.mmol_l("NH4") / made.mmol_l("N") == pytest.approx(0.15, rel=1e-9)
    assert "NH4-N at most 15 % of N" in recipe.binding
    assert any("ammonium" in n.what and "binds" in n.what for n in recipe.notices)


def test_without_the_limit_more_is_reached_and_nothing_binds():
    shelf = ["NH4H2PO4", "(NH4)2SO4", "NH4NO3", "KNO3"]
    wanted = target({"N": 100, "K": 60, "P": 31}, ammonium_share=(0, 1))
    recipe = solve(wanted, shelf, volume=10)
    assert recipe.status == "met"
    assert recipe.binding == ()


def test_a_least_share_of_ammonium_is_kept():
    wanted = target({"N": 100}, ammonium_share=(0.1, 0.2))
    made = solve(wanted, ["Ca(NO3)2·4H2O", "NH4NO3"], volume=10).solution
    assert 0.1 - 1e-9 <= made.mmol_l("NH4") / made.mmol_l("N") <= 0.2 + 1e-9


def test_a_trace_salt_that_holds_ammonium_does_not_make_the_limit_impossible():
    # nothing of it at all keeps the limit, so there is always an answer
    heptamolybdate = "ammonium heptamolybdate tetrahydrate"
    shelf = [heptamolybdate, "KNO3"]
    recipe = solve(target({"N": 70, "Mo": 0.05}), shelf, volume=100)
    assert recipe.solution.mg_l("Mo") == pytest.approx(0.05, rel=1e-6)


def test_ammonium_that_is_already_in_the_water_calls_for_no_nitrogen():
    # nadp-me96-2019 (read): rain with 0.159 mg/L NH4 and 0.497 mg/L NO3, half and half
    recipe = solve(
        target({"N": 0, "K": 30}), ["KNO3", "K2SO4"], volume=10, water="rain"
    )
    assert "KNO3" not in recipe.masses
    poor = solve(target({"N": 100, "P": 31}), ["KH2PO4"], volume=10, water="rain")
    assert poor.solution.mg_l("P") == pytest.approx(31, rel=1e-6)


# --- weights, priorities, ranges: one salt, two wishes ---------------------------------

KNO3_GRAMS = 101.102  # 39.098 + 14.007 + 3 x 15.999


def _millimoles(wanted, **facts):
    """Return mmol/L of KNO3 that one bag of it gives for wishes in mmol/L."""
    made = target(wanted, unit="mmol/L", ammonium_share=(0, 1), **facts)
    recipe = solve(made, ["KNO3"], volume=1)
    return recipe.masses.get("KNO3", 0.0) / KNO3_GRAMS * 1000


@pytest.mark.parametrize("weights", [(1, 1), (4, 1), (1, 9), (0.01, 1), (0, 1), (1, 0)])
@pytest.mark.parametrize("wanted", [(1, 2), (5, 3), (10, 1)])
def test_weights_by_the_closed_form_of_two_squares(weights, wanted):
    # least of v (x/a - 1)^2 + w (x/b - 1)^2: x = (v/a + w/b) / (v/a^2 + w/b^2)
    (v, w), (a, b) = weights, wanted
    expected = (v / a + w / b) / (v / a**2 + w / b**2)
    got = _millimoles({"K": a, "NO3": b}, weights={"K": v, "NO3": w})
    assert got == pytest.approx(expected, rel=FIVE_DIGITS)


@pytest.mark.parametrize(
    ("priorities", "expected"),
    [
        ((), 1.2),  # (1 + 1/2) / (1 + 1/4)
        ([["K"]], 1.0),
        ([["NO3"]], 2.0),
        ([["K"], ["NO3"]], 1.0),
        ([["NO3"], ["K"]], 2.0),
        (["NO3", "K"], 2.0),
        ([["K", "NO3"]], 1.2),
    ],
)
def test_the_first_group_wins(priorities, expected):
    got = _millimoles({"K": 1, "NO3": 2}, priorities=priorities)
    assert got == pytest.approx(expected, rel=FIVE_DIGITS)


def test_a_weight_of_the_second_group_does_not_move_the_first():
    facts = {"priorities": [["K"]], "weights": {"NO3": 1e6}}
    got = _millimoles({"K": 1, "NO3": 2}, **facts)
    assert got == pytest.approx(1.0, rel=FIVE_DIGITS)


@pytest.mark.parametrize(
    ("wanted", "expected"),
    [
        # inside all is free: the other wish decides
        ({"K": "1-3", "NO3": 2.5}, 2.5),
        ({"K": "1-3", "NO3": 1}, 1.0),
        # outside squared from the nearer end, in units of the middle (2):
        # ((x - 3)/2)^2 + (x/5 - 1)^2: x = (3/4 + 1/5) / (1/4 + 1/25)
        ({"K": "1-3", "NO3": 5}, 0.95 / 0.29),
        # ((x - 1)/2)^2 + (2 x - 1)^2: x = (1/4 + 2) / (1/4 + 4)
        ({"K": "1-3", "NO3": 0.5}, 2.25 / 4.25),
        # two ranges apart, middles 2 and 6: ((x - 3)/2)^2 + ((x - 5)/6)^2
        ({"K": "1-3", "NO3": "5-7"}, (3 / 4 + 5 / 36) / (1 / 4 + 1 / 36)),
    ],
    ids=str,
)
def test_a_range_is_free_inside_and_squared_outside(wanted, expected):
    assert _millimoles(wanted) == pytest.approx(expected, rel=FIVE_DIGITS)


def test_anywhere_in_two_ranges_that_meet_is_met():
    made = target({"K": "1-3", "NO3": "2-7"}, unit="mmol/L", ammonium_share=(0, 1))
    recipe = solve(made, ["KNO3"], volume=1)
    assert recipe.status == "met"
    assert dict(recipe.misses) == pytest.approx({"K": 0.0, "NO3": 0.0}, abs=1e-12)
    assert recipe.masses["KNO3"] / KNO3_GRAMS * 1000 * (1 + FIVE_DIGITS) >= 2


def test_a_range_that_is_first_stays_free_for_what_comes_next():
    facts = {"priorities": [["K"], ["NO3"]]}
    inside = _millimoles({"K": "1-3", "NO3": 2.5}, **facts)
    assert inside == pytest.approx(2.5, rel=FIVE_DIGITS)
    beyond = _millimoles({"K": "1-3", "NO3": 5}, **facts)
    assert beyond == pytest.approx(3.0, rel=FIVE_DIGITS)


@pytest.mark.parametrize("wanted", ["1 meq/L", "0.5 to 1 meq/L", "50.04 mg/L as CaCO3"])
def test_a_wanted_alkalinity_takes_the_acid_it_needs(wanted):
    # voehringen-2025 (read): 5.72 meq/L; 67 % acid takes 4.72 of it in 10 L, by hand
    nitric = "nitric acid (67 %)"
    recipe = solve(target({"alkalinity": wanted}), [nitric], volume=10, water="hard")
    poured = recipe.millilitres[nitric] / 10_000  # what it displaces of the water
    grams = (5.72 * (1 - poured) - 1) * 10 / 1000 * 63.012 / 0.67
    if "to" in wanted:  # anywhere in it is met
        assert 0.5 - 1e-9 <= recipe.alkalinity_left <= 1 + 1e-9
        return
    # 2e-5 of the printed 5.72 is rounding of the water's pH; 50.04 is four digits
    assert recipe.masses[nitric] == pytest.approx(grams, rel=5e-5)
    assert recipe.alkalinity_left == pytest.approx(1, rel=3e-4)


# --- hard rows of one's own ------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "most"), [("K", 150), ("Ca", 100), ("Zn", 0.2), ("Cu", 0.1), ("Mo", 0.03)]
)
def test_a_limit_on_any_nutrient_holds_and_is_named(key, most):
    wanted = target(FEED | {"Zn": 0.3, "Cu": 0.2, "Mo": 0.05})
    shelf = [salt(name) for name in [*SHELF, *TRACES[4:]]]
    row, constant = brought(key, shelf, solution({}))
    exact = solve(wanted, shelf, volume=100).solution
    level = most * exact.mmol_l(key) / exact.mg_l(key)
    limit = Requirement("my limit", row, high=level, constant=constant, kind="hard")
    recipe = solve(wanted, shelf, volume=100, requirements=[limit])
    assert recipe.solution.mg_l(key) == pytest.approx(most, rel=1e-9)
    assert "my limit" in recipe.binding
    assert any(n.what.startswith(f"{key}:") for n in recipe.notices)
    assert set(recipe.residuals) == set(wanted.wanted)


def test_limits_that_exclude_each_other_are_named():
    row, constant = brought("K", [salt("KNO3")], solution({}))
    facts = {"constant": constant, "kind": "hard"}
    rows = [
        Requirement("K at least 5", row, low=5, **facts),
        Requirement("K at most 3", row, high=3, **facts),
    ]
    with pytest.raises(Infeasible) as caught:
        solve(target({"K": 150}), ["KNO3"], volume=1, requirements=rows)
    assert set(caught.value.requirements) == {"K at least 5", "K at most 3"}


@pytest.mark.parametrize(
    "rows",
    [
        [Requirement("too short", (1.0,), low=1)],
        (Requirement("too short", (1.0,), low=1) for _ in range(1)),
        [Requirement("too long", (1.0, 2.0, 3.0), low=1)],
        [5],
        ["K at most 5"],
        5,
        None,
    ],
    ids=["short", "short generator", "long", "number", "text", "no list", "none"],
)
def test_rows_that_do_not_fit_the_shelf_are_refused(rows):
    with pytest.raises(InputError, match="solve"):
        solve(target({"K": 100}), ["KNO3", "KCl"], volume=1, requirements=rows)


# --- what is on the shelf --------------------------------------------------------------


def test_stocks_in_millilitres_and_acids_in_grams_serve_together():
    stirred = stock("stirred", {"KNO3": 100}, volume=1)
    nitric = acid("HNO3", percent=67, density=1.40)
    recipe = solve(target({"K": 100, "NO3-N": 100}), [stirred, nitric], volume=10)
    # by hand: 1 g/L K of 39.098/101.102 needs 25.86 mL of 100 g/L
    potassium = 100 / 1000 * 10 / (MASS["K"] / 101.102) / 100 * 1000
    assert recipe.millilitres["stirred"] == pytest.approx(potassium, rel=1e-4)
    nitrogen = (100 - 100 * MASS["N"] / MASS["K"]) / 1000 * 10
    grams = nitrogen / (MASS["N"] / 63.012 * 0.67)
    assert recipe.masses[nitric.name] == pytest.approx(grams, rel=1e-4)
    assert recipe.millilitres[nitric.name] == pytest.approx(grams / 1.40, rel=1e-4)
    assert "stirred" not in recipe.masses


def _random_shelf(seed):
    """Return a random shelf of the catalogue, with likes and mixtures of its own."""
    rng = np.random.default_rng(seed)
    known = [entry for entry in catalogue().values() if not entry.is_liquid]
    shelf = [
        known[i] for i in rng.choice(len(known), rng.integers(6, 22), replace=False)
    ]
    like = shelf[int(rng.integers(len(shelf)))]
    if like.formula:
        purity = float(rng.uniform(0.8, 1) * like.purity_percent)
        shelf.append(salt(like.name, name="like", purity_percent=purity))
    parts = {entry: float(rng.uniform(1, 50)) for entry in shelf[:4]}
    shelf.append(blend("blend", parts))
    # something for each macronutrient, so that the recipe is never empty
    return [*shelf, *(salt(name, name=f"own {name}") for name in SHELF[:4])]


@pytest.mark.parametrize("name", published_target_names())
def test_a_random_shelf_always_gives_a_recipe_whose_choice_is_proven(name):
    for place, tap in enumerate(preset_names()):
        seed = 100 * published_target_names().index(name) + place
        recipe = solve(name, _random_shelf(seed), volume=100, water=tap)
        assert recipe.optimum.violation <= 1e-9, (seed, tap)
        assert all(grams > 0 for grams in recipe.masses.values())
        assert all(math.isfinite(miss) for miss in recipe.residuals.values())
        assert str(recipe)


@pytest.mark.parametrize(
    ("name", "tap", "shelf"),
    [
        # scipy issue 25389: its nnls returns a wrong point for the rows of this shelf
        (
            "jensen-cucumber-1",
            "pure",
            "sodium molybdate dihydrate|potassium nitrate|ferrous sulfate heptahydrate|"
            "magnesium nitrate hexahydrate|ammonium heptamolybdate tetrahydrate|"
            "greenhouse calcium nitrate|monoammonium phosphate|boric acid|"
            "magnesium sulfate anhydrous|dipotassium phosphate|"
            "manganese sulfate monohydrate",
        ),
        # many equal recipes, a room for liquids that is far from full
        (
            "sv-pepper-drip",
            "rain",
            "greenhouse calcium nitrate|potassium metasilicate|MnCl2·4H2O|MnSO4·4H2O|"
            "copper nitrate trihydrate|disodium octaborate tetrahydrate|"
            "nickel sulfate heptahydrate|sodium molybdate dihydrate|"
            "iron HBED chelate (7 % Fe)|magnesium sulfate monohydrate|"
            "phosphoric acid (85 %)|calcium nitrate anhydrous|sulfuric acid (35 %)",
        ),
    ],
    ids=["dependent", "room"],
)
def test_shelves_on_which_the_arithmetic_once_failed_are_solved(name, tap, shelf):
    recipe = solve(name, shelf.split("|"), volume=100, water=tap)
    assert recipe.optimum.violation <= 1e-9
    assert str(recipe)


# --- bad input -------------------------------------------------------------------------


@pytest.mark.parametrize(
    "volume",
    [
        *(0, -1, math.nan, math.inf, None, True, "", "0 L", "x", [1], 5j, 10**400),
        *("5 gal", "1e400", b"5", np.array([1.0, 2.0])),
    ],
    ids=lambda volume: str(volume)[:12],
)
def test_a_volume_that_is_none_is_refused(volume):
    with pytest.raises(FormulateError, match=r"solve|gal"):
        solve(target({"K": 1}), ["KNO3"], volume=volume)


@pytest.mark.parametrize(
    ("shelf", "word"),
    [
        ([], "empty"),
        (None, "list"),
        ("KNO3", "list"),
        (5, "list"),
        ([5], "ingredient 1"),
        ([None], "ingredient 1"),
        (["KNO3", "KNO3"], "twice"),
        (["calcium nitrate"], "greenhouse grade"),
        (["some powder"], "some powder"),
        (["K+"], "ion"),
        ([""], "ingredient 1"),
    ],
)
def test_a_shelf_that_cannot_be_is_refused(shelf, word):
    with pytest.raises(InputError, match=word):
        solve(target({"K": 1}), shelf, volume=1)


@pytest.mark.parametrize("tap", [5, "nowhere", {"Ca": -1}, {"Xx": 1}, {"Ca": math.nan}])
def test_a_water_that_cannot_be_is_refused(tap):
    with pytest.raises(FormulateError, match="water"):
        solve(target({"K": 1}), ["KNO3"], volume=1, water=tap)


@pytest.mark.parametrize("wanted", [None, 5, {"K": 100}, "nowhere"])
def test_a_target_that_cannot_be_is_refused(wanted):
    with pytest.raises(FormulateError, match="target"):
        solve(wanted, ["KNO3"], volume=1)


def test_every_fault_is_told_at_once():
    shelf = ["KNO3", "KNO3", "some powder", 5]
    with pytest.raises(InputError) as caught:
        solve("nowhere", shelf, volume=-1, water={"Ca": -3, "Xx": 1})
    text = str(caught.value)
    assert len(caught.value.faults) == 7
    for word in ("nowhere", "volume", "Ca", "Xx", "twice", "powder", "ingredient 4"):
        assert word in text


@pytest.mark.parametrize("wanted", [1e-300, 1e-12, 1e12, 1e100])
def test_absurd_amounts_are_answered_or_refused_in_words(wanted):
    try:
        told = str(solve(target({"K": wanted, "P": 30}), SHELF[:3], volume=10))
    except FormulateError as error:
        told = str(error)
    assert "K" in told
