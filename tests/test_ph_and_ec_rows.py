"""pH and EC inside the solve: what comes out has them, and acids count as what they bring."""

import csv
from pathlib import Path

import numpy as np
import phreeqc_oracle as oracle
import pytest

import formulate as fm
from formulate.errors import Infeasible, InputError, OutOfReach
from formulate.ingredients.ingredient import analysed
from formulate.recipes.at_ec import at_ec
from formulate.recipes.drawing import agree, draw
from formulate.recipes.ions_of_target import start_of
from formulate.recipes.limits import limit
from formulate.recipes.meters import reading
from formulate.recipes.problem import Problem
from formulate.recipes.settling import settled
from formulate.recipes.solve import metered_limit, solve
from formulate.recipes.target import target
from formulate.stoichiometry.solution import solution
from formulate.stoichiometry.units import convert

SALTS = (
    "KNO3",
    "Ca(NO3)2·4H2O",
    "KH2PO4",
    "MgSO4·7H2O",
    "K2SO4",
    "NH4NO3",
    "Mg(NO3)2·6H2O",
)
ACIDS = ("nitric acid (67 %)", "phosphoric acid (85 %)", "sulfuric acid (96 %)")
ALKALIS = ("K2CO3", "KOH")
EVERYTHING = (*SALTS, *ACIDS, *ALKALIS)
FEED = {"N": 150, "P": 40, "K": 200, "Ca": 150, "Mg": 40, "S": 60}
HARD, SOFT, SULFATE = (
    "hard-tap-voehringen",
    "soft-tap-st-ingbert",
    "sulfate-tap-eisenach",
)
SODIC = {"Na": "115 mg/L", "Ca": "30 mg/L", "alkalinity": "5.6 meq/L", "Cl": "35 mg/L"}
PUBLISHED = Path(__file__).parent / "published" / "acid_neutralisation.csv"
DATABASE = "Amm.dat"
AIR = "\n C(+4) 1 CO2(g) -3.37675071"  # log10 of 420 ppm


def random_feed(seed):
    rng = np.random.default_rng(seed)
    strength = rng.uniform(0.4, 1.3)
    wanted = {key: v * strength * rng.uniform(0.7, 1.3) for key, v in FEED.items()}
    return target(wanted)


def random_tap(seed):
    rng = np.random.default_rng(1000 + seed)
    alkalinity = rng.uniform(0.5, 5)
    calcium = rng.uniform(0.2, 0.9) * alkalinity * 20
    chloride = rng.uniform(0, 1)
    sodium = (alkalinity + chloride - calcium / 20.039) * 22.990
    return fm.water(
        {
            "Ca": f"{calcium:.3f} mg/L",
            "Na": f"{sodium:.3f} mg/L",
            "Cl": f"{chloride * 35.45:.3f} mg/L",
            "alkalinity": f"{alkalinity:.3f} meq/L",
        }
    )


# --- the pH comes out --------------------------------------------------------------------


@pytest.mark.parametrize("water", [None, SOFT, HARD, SULFATE, SODIC])
@pytest.mark.parametrize("closed", [False, True])
@pytest.mark.parametrize("ph", [5.5, 5.8, 6.5])
def test_the_recipe_has_the_ph_that_was_asked_for(water, closed, ph):
    recipe = solve(
        target(FEED), EVERYTHING, volume=100, water=water, ph=ph, closed=closed
    )
    subject = "pH when mixed" if closed else "pH"
    assert reading(subject, recipe.solution) == pytest.approx(ph, abs=0.005)
    assert recipe.optimum.violation <= 1e-9
    ((held, value, _),) = [one for one in recipe.limits if one[0].is_metered]
    assert held.subject == subject
    assert value == pytest.approx(ph, abs=0.005)


@pytest.mark.parametrize("air", ["", AIR])
def test_iphreeqc_finds_the_same_ph(air):
    """IPhreeqc 3.8.6, Amm.dat: other constants of some pairs, hence 0.02."""
    engine = oracle.engine(oracle.database(DATABASE))
    found = []
    for seed in range(20):
        recipe = solve(
            random_feed(seed),
            (*SALTS, *ACIDS[:2], *ALKALIS),
            volume=100,
            water=random_tap(seed),
            ph=5.8,
            closed=not air,
        )
        state = fm.speciate(recipe.solution)
        forms = recipe.solution.forms
        per_kg = {f: [v / 1000 / state.water_kg_l] for f, v in forms.items() if v}
        if air:
            per_kg.pop("carbonate", None)
        text = oracle.solutions_text(per_kg)
        text = text.replace(" pH 7 charge", f" pH 7 charge{air}")
        found += oracle.run(engine, text, ['-LA("H+")'])["v0"]
    assert np.abs(np.array(found) - 5.8).max() <= 0.02


def test_a_range_of_ph_leaves_a_recipe_alone_that_lies_in_it():
    free = solve(target(FEED), SALTS, volume=100)
    held = solve(target(FEED), SALTS, volume=100, ph="4.5 to 7")
    assert held.masses == pytest.approx(dict(free.masses))
    assert not held.binding


def test_a_range_of_ph_is_met_at_its_nearer_end():
    shelf = (*SALTS, "K2CO3")
    recipe = solve(target(FEED), shelf, volume=100, ph="5.6 to 6")
    free = solve(target(FEED), SALTS, volume=100)
    assert reading("pH", free.solution) < 5.5
    assert 5.595 <= reading("pH", recipe.solution) <= 6.005


def test_ph_may_stand_among_the_limits_of_the_target():
    wish = target(FEED, limits={"pH": "exactly 6"})
    there = solve(wish, EVERYTHING, volume=100, water=HARD)
    here = solve(target(FEED), EVERYTHING, volume=100, water=HARD, ph=6.0)
    assert there.masses == pytest.approx(dict(here.masses))


# --- alkalinity neutralised while feeding ------------------------------------------------


def bailey(name):
    """bailey-alkalinity, from memory: fl oz in 1000 US gal for each meq/L, to pH 5.8."""
    with PUBLISHED.open(encoding="utf-8", newline="") as file:
        (row,) = (
            r
            for r in csv.DictReader(file)
            if r["acid"] == name and "to reach about pH 5.8" in r["table_quantity"]
        )
    return row


@pytest.mark.parametrize("alkalinity", [1, 2, 4])
@pytest.mark.parametrize("name", ["nitric", "phosphoric", "sulfuric"])
def test_the_acid_of_a_recipe_is_that_of_the_university_table(name, alkalinity):
    """The table counts 78 % of the bicarbonate, closed; from memory, so 4 %.

    It counts one proton of phosphoric acid; at pH 5.8 its second one (pK 7.20, 7.0 in that
    salt) is 4 to 6 % gone too, so 5 % less acid does.
    """
    row = bailey(name)
    formula = {"nitric": "HNO3", "phosphoric": "H3PO4", "sulfuric": "H2SO4"}[name]
    acid = fm.acid(
        formula,
        percent=float(row["percent_w_w"]),
        density=float(row["density_g_mL_used"]),
    )
    tap = fm.water(
        {"Na": f"{alkalinity * 22.99} mg/L", "alkalinity": f"{alkalinity} meq/L"}
    )
    wish = target({"K": 100}, ammonium_share=(0, 1))
    recipe = solve(wish, ["KCl", acid], volume=100, water=tap, ph=5.8, closed=True)
    ounces = convert(recipe.millilitres[acid.name] / 100, "mL/L", "US fl oz/100 US gal")
    protons = 1.05 if name == "phosphoric" else 1.0
    published = float(row["published_value"]) / protons
    assert 10 * ounces / alkalinity == pytest.approx(published, rel=0.04)


def test_the_nitrogen_of_the_acid_counts():
    """A millimole of HNO3 for each milliequivalent: 14.007 mg/L N (exact by formula)."""
    wish = target({"NO3-N": 180, "K": 200, "P": 40, "Ca": 150})
    recipe = solve(wish, EVERYTHING[:8], volume=100, water=HARD, ph=5.8)
    assert abs(recipe.misses["NO3-N"]) < 0.002
    grams = recipe.masses["nitric acid (67 %)"]
    by_acid = grams * 0.67 / 63.012 * 14.007 * 1000 / 100
    without = solve(wish, SALTS, volume=100, water=HARD)
    # the alkalinity that is gone was neutralised by it, in meq/L
    gone = without.alkalinity_left - recipe.alkalinity_left
    assert by_acid / 14.007 == pytest.approx(gone, rel=0.02)
    assert recipe.solution.mg_l("NO3-N") == pytest.approx(180, rel=0.002)


# --- EC ----------------------------------------------------------------------------------


@pytest.mark.parametrize("wanted", [1.0, 1.8, 2.5])
@pytest.mark.parametrize("water", [None, SOFT, HARD])
def test_a_wanted_ec_is_that_of_the_model(wanted, water):
    recipe = solve(target(FEED), EVERYTHING, volume=100, water=water, ec=wanted)
    assert fm.ec(recipe.solution) == pytest.approx(wanted, rel=0.001)


def test_a_ceiling_binds_only_where_it_is_reached():
    free = fm.ec(solve(target(FEED), SALTS, volume=100).solution)
    high = solve(target(FEED), SALTS, volume=100, ec=f"at most {1.1 * free:.4f} mS/cm")
    assert not high.binding
    low = solve(target(FEED), SALTS, volume=100, ec=f"at most {0.8 * free:.4f} mS/cm")
    assert fm.ec(low.solution) == pytest.approx(0.8 * free, rel=0.001)
    assert low.binding == (f"EC at most {0.8 * free:.4g} mS/cm",)


def test_ph_and_ec_together():
    for seed in range(25):
        recipe = solve(
            random_feed(seed),
            EVERYTHING,
            volume=100,
            water=random_tap(seed),
            ph=5.8,
            ec=1.7,
        )
        assert reading("pH", recipe.solution) == pytest.approx(5.8, abs=0.005)
        assert fm.ec(recipe.solution) == pytest.approx(1.7, rel=0.002)
        assert recipe.optimum.violation <= 1e-9


def test_no_small_step_along_the_lines_comes_nearer():
    """The last lines are straight: the KKT check holds for them, the notice says so."""
    recipe = solve(target(FEED), EVERYTHING, volume=100, water=HARD, ph=5.8, ec=1.5)
    assert any("lines drawn at this recipe" in n.what for n in recipe.notices)
    assert recipe.optimum.violation <= 1e-9
    made, _ = Problem.of(recipe).made(recipe.optimum.amounts)
    again = draw(recipe.target.limits, made, recipe.drawing)
    assert agree(recipe.drawing, again, made)


def test_the_tangent_of_the_ec_is_its_slope():
    """Against the EC of the model itself, a little of each ingredient more."""
    base = solve(target(FEED), EVERYTHING, volume=100, water=SOFT).solution
    held = limit("EC", "at most 9")
    line = draw([held], base).lines[held, "high"]
    for one in map(fm.salt, ("KNO3", "KHCO3", "MgSO4·7H2O", "Ca(NO3)2·4H2O", "NaCl")):
        more = {k: v + 0.01 * one.forms.get(k, 0.0) for k, v in base.forms.items()}
        more |= {k: 0.01 * v for k, v in one.forms.items() if k not in base.forms}
        moved = type(base)(more, base.unassigned_charge)
        slope = fm.ec(moved) - fm.ec(base)
        drawn = line.value(moved) - line.value(base)
        assert drawn == pytest.approx(slope, rel=0.02), one.name


def test_settled_returns_what_agrees():
    recipe = solve(target(FEED), EVERYTHING, volume=100, water=HARD, ph=5.8, ec=1.5)
    fewer = 0.9 * recipe.optimum.amounts
    amounts, rows = settled(recipe, lambda rows: fewer)
    assert amounts is not None
    made, _ = Problem.of(recipe).made(fewer)
    told = {row.name: row for row in rows}
    row = told["EC exactly 1.5 mS/cm"]
    value = row.constant + float(np.dot(row.coefficients, fewer))
    assert value == pytest.approx(fm.ec(made), rel=0.002)


# --- what cannot be ----------------------------------------------------------------------


def test_no_acid_on_the_shelf_is_told_with_all_other_faults():
    with pytest.raises(InputError) as caught:
        solve(
            target(FEED),
            SALTS,
            volume=100,
            water=HARD,
            ph=5.8,
            amounts={"KNO3": "x", "elsewhere": "none"},
        )
    told = str(caught.value)
    assert "no acid is on the shelf" in told
    assert "elsewhere" in told
    assert len(caught.value.faults) == 3


def test_no_alkali_where_one_is_needed():
    with pytest.raises(OutOfReach, match="no alkali is on the shelf"):
        solve(target(FEED), (*SALTS, *ACIDS), volume=100, ph=6.2)


def test_an_acid_that_may_not_be_used_is_none():
    kept = {"nitric acid (67 %)": "none"}
    with pytest.raises(OutOfReach, match="no acid"):
        solve(target(FEED), EVERYTHING[:8], volume=9, water=HARD, ph=5.8, amounts=kept)


def test_a_bag_of_unknown_counter_ions_refuses_a_ph_and_says_why():
    base = analysed("grey sack", {"NO3-N": 5, "P": 4.8, "K": 21.6})
    with pytest.raises(InputError, match=r"grey sack.*counter-ion"):
        solve(target(FEED), (base, *EVERYTHING), volume=100, ph=5.8)
    assert solve(target(FEED), (base, *EVERYTHING), volume=100).masses
    kept = {"grey sack": "none"}
    assert solve(target(FEED), (base, *EVERYTHING), volume=100, ph=5.8, amounts=kept)


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"ph": 2}, "3"),
        ({"ph": float("nan")}, "pH"),
        ({"ph": "sour"}, "sour"),
        ({"ec": -1}, "EC"),
        ({"ec": "at most"}, "at most"),
        ({"ph": 6, "closed": "yes"}, "closed"),
        ({"ph": 2, "ec": "x"}, "2 faults"),
    ],
)
def test_what_is_no_ph_and_no_ec(given, told):
    with pytest.raises(InputError, match=told):
        solve(target(FEED), EVERYTHING, volume=100, **given)


def test_a_ph_asked_for_twice_is_refused():
    wish = target(FEED, limits={"pH": "exactly 6"})
    with pytest.raises(InputError, match="limits it already"):
        solve(wish, EVERYTHING, volume=100, ph=6)


def test_an_ec_below_that_of_the_water_is_a_conflict_with_a_way_out():
    with pytest.raises(Infeasible) as caught:
        solve(target(FEED), SALTS, volume=100, water=HARD, ec="at most 0.3 mS/cm")
    told = str(caught.value)
    assert "EC at most 0.3 mS/cm" in told
    most = float(told.split("EC at most ")[2].split(maxsplit=1)[0])
    assert most == pytest.approx(fm.ec(fm.water(HARD).solution), rel=0.02)
    assert solve(
        target(FEED), SALTS, volume=100, water=HARD, ec=f"at most {most} mS/cm"
    )


def test_bounds_are_read_as_typed():
    assert metered_limit("EC", "1800 µS/cm").low == pytest.approx(1.8)
    assert metered_limit("pH", "5,8").high == pytest.approx(5.8)
    assert metered_limit("pH", "5.5-6.2").sides == ("low", "high")
    assert metered_limit("pH", "at most 6", closed=True).subject == "pH when mixed"


def test_lines_begin_at_the_ions_of_the_target():
    assert start_of(target({"K": 39.0983})).forms == pytest.approx(
        {"potassium": 1.0, "nitrate": 1.0}
    )
    sour = start_of(target({"NO3-N": 14.007}))
    assert sour.forms == pytest.approx({"nitrate": 1.0, "calcium": 0.5}, rel=1e-4)
    assert sour.cations() == pytest.approx(solution({"Ca": 0.5}).cations(), rel=1e-4)


# --- an EC with the ratios kept ----------------------------------------------------------


@pytest.mark.parametrize("wanted", [0.8, 1.8, 3.0])
@pytest.mark.parametrize("water", [None, SOFT])
def test_an_ec_with_the_ratios_kept(wanted, water):
    keys = [key for key in FEED if key != "N"]
    recipe = at_ec(target(FEED), SALTS, ec=wanted, water=water, volume=100)
    assert fm.ec(recipe.solution) == pytest.approx(wanted, rel=0.002)
    made = recipe.solution
    strength = recipe.target.mg_l("K") / 200
    for key in keys:
        assert made.mg_l(key) == pytest.approx(strength * FEED[key], rel=0.02), key


def test_an_ec_with_the_ratios_and_the_ph_kept():
    recipe = at_ec(target(FEED), EVERYTHING, ec=1.6, water=HARD, volume=100, ph=5.8)
    assert fm.ec(recipe.solution) == pytest.approx(1.6, rel=0.002)
    assert reading("pH", recipe.solution) == pytest.approx(5.8, abs=0.005)


def test_an_ec_that_no_strength_gives():
    with pytest.raises(OutOfReach, match=r"alone has .*; ask for more, or use"):
        at_ec(target(FEED), SALTS, ec=0.3, water=HARD, volume=100)
    with pytest.raises(OutOfReach, match=r"5 times .*; ask for less, or raise"):
        at_ec(target({"K": 10}), ["KCl"], ec=9, volume=100)
    with pytest.raises(InputError, match="the one that is wanted"):
        at_ec(target(FEED), SALTS, ec="1 to 2 mS/cm", volume=100)
