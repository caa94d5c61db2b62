"""Doubts of a batch: laws of errors, published allowances, chances, what dominates.

"GUM" is JCGM 100:2008, Guide to the expression of uncertainty in measurement, from memory:
a rectangle of half width a has the variance a²/3 (4.3.7); variances of independent inputs
add up, each times the square of its slope (5.1.2).
"""

import csv
import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from formulate.chemistry.conductivity import ec
from formulate.chemistry.speciation import speciate
from formulate.errors import Faults, FormulateError, NoConvergence
from formulate.ingredients.dissolve import dissolve
from formulate.ingredients.ingredient import analysed
from formulate.ingredients.salts import acid, salt
from formulate.ingredients.stock import blend, stock
from formulate.ingredients.water import water
from formulate.recipes import drawn_readings
from formulate.recipes.doubtful_inputs import (
    Sizes,
    allowance,
    content_inputs,
    read_sizes,
    scoop_range,
)
from formulate.recipes.drawn_batches import batch_of, deviations, stack_of
from formulate.recipes.drawn_readings import Readings, wilson_half
from formulate.recipes.limits import limit
from formulate.recipes.practical import weigh
from formulate.recipes.solve import solve
from formulate.recipes.target import target
from formulate.recipes.uncertainty import doubt
from formulate.recipes.variance_shares import TOGETHER
from formulate.stoichiometry.solution import Solution
from formulate.tables import read_table, rule_of

PUBLISHED = Path(__file__).parent / "published"
MANY = 100_000
OFF = {"all": 0}
TAP = {"Ca": 80, "Mg": 12, "Na": 20, "Cl": 30, "alkalinity": "4 meq/L", "pH": 7.4}
BASE = analysed("base", {"NO3-N": 5, "P2O5": 11, "K2O": 26, "Mg": 3, "Fe(III)": 0.3})
FEED = {"N": 150, "P": 40, "K": 200, "Ca": 150, "Mg": 40, "Fe": 2, "Mo": 0.05}
SHELF = [
    salt("greenhouse calcium nitrate", name="bag"),
    *(salt(f) for f in ("KNO3", "KH2PO4", "MgSO4·7H2O", "Na2MoO4·2H2O")),
    salt("iron DTPA chelate (11 % Fe)", name="iron"),
    acid("HNO3", percent=38, density=1.234, name="acid"),
]


def published(name):
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def one_salt(wanted=200.0, **given):
    """Return potassium from saltpetre in ten litres, weighed in steps of 0.1 g."""
    wish = target({"K": wanted}, **given)
    return solve(wish, [salt("KNO3", weighing_step=0.1)], volume=10)


def full(tap=None):
    """Return a recipe with a label, chelates, an acid and a water."""
    wish = target(FEED, limits={"alkalinity": "at most 1 meq/L", "Na": "at most 30"})
    return solve(wish, SHELF, volume=50, water=water(TAP if tap is None else tap))


def drawn(thing, draws, doubts=None, scoops=(), seed=1):
    """Return the batch, its deviations by name and part, and the stack."""
    sizes = read_sizes(doubts, ["volume"], Faults())
    batch = batch_of(thing, sizes, scoops)
    moved = deviations(batch.inputs, draws, seed)
    by_name = {(one.name, one.part): array for one, array in moved.items()}
    return by_name, stack_of(batch, moved, draws)


# --- the tables --------------------------------------------------------------------------


@pytest.mark.parametrize("key", ["N", "P2O5", "K2O"])
def test_allowances_of_main_nutrients_are_those_published(key):
    column = {
        "N": "allowance_N_percent_points",
        "P2O5": "allowance_available_P2O5_percent_points",
        "K2O": "allowance_K2O_percent_points",
    }[key]
    rows = [
        r for r in published("label_allowances_npk") if r["source_key"] == "fl-576-061"
    ]
    assert len(rows) == 18
    for row in rows:
        found, source_key = allowance(key, float(row["guarantee_percent"]))
        assert (found, source_key) == (float(row[column]), "fl-576-061")


def test_allowances_in_between_and_beyond():
    """The page aapfco-ia-page: interpolate; 0.88 above 32 % of N."""
    assert allowance("K2O", 11)[0] == pytest.approx((0.70 + 0.79) / 2, abs=1e-12)
    assert allowance("N", 46)[0] == 0.88
    assert allowance("N", 2)[0] == 0.49


def test_allowances_of_other_nutrients_are_those_published():
    names = {"Calcium": "Ca", "Magnesium": "Mg", "Sulfur": "S", "Boron": "B"}
    names |= {"Chlorine": "Cl", "Cobalt": "Co", "Copper": "Cu", "Iron": "Fe"}
    names |= {"Manganese": "Mn", "Molybdenum": "Mo", "Sodium": "Na", "Zinc": "Zn"}
    names |= {"Nickel": "Ni"}
    rows = published("label_allowances_secondary_micro")
    assert {row["nutrient"] for row in rows} == set(names)
    for row in rows:
        points = float(row["allowance_constant_percent_points"])
        share = float(row["allowance_percent_of_guarantee"])
        most = float(row["max_allowance_percent_points"])
        for guarantee in (0.05, 2.0, 40.0):
            expected = min(points + share / 100 * guarantee, most)
            found, key = allowance(names[row["nutrient"]], guarantee)
            assert found == pytest.approx(expected, rel=1e-12)
            assert key == row["source_key_allowance"]


def test_the_error_of_an_alkalinity_is_one_number():
    """The rule of the pH and the doubt of the water are the same, of this project."""
    ours = rule_of("doubts", "water alkalinity").number("value")
    assert ours == rule_of("ph_rules", "alkalinity error").number("value")


def test_a_chelate_is_off_by_the_allowance_of_its_metal():
    """11 % Fe: 0.005 + 10 % of it is 1.105, at most 1 point: 1/11 of the whole compound."""
    ((one, share),) = content_inputs(SHELF[5], Sizes({}))[""]
    assert one.high == pytest.approx(1.0 / 11.0, rel=1e-3)  # the name rounds 11 % Fe
    assert (one.part, share, one.low) == ("Fe", 1.0, -one.high)


@pytest.mark.parametrize(
    ("sold", "percent", "ends"),
    [
        ("98.5-99.8", 100, (-0.015, -0.002)),
        ("98", 100, (-0.02, 0.0)),
        ("31-33", 32, (-1 / 32, 1 / 32)),
        ("98-99", 97, (-0.01, 0.01)),  # told by the caller: the table, 1 %
    ],
)
def test_a_purity_is_the_range_in_which_it_is_sold(sold, percent, ends):
    made = replace(salt("KNO3"), purity_percent=percent, sold_purity=sold)
    ((one, _),) = content_inputs(made, Sizes({}))[""]
    assert (one.low, one.high) == pytest.approx(ends, abs=1e-12)


def test_a_salt_without_a_range_counts_as_pure_and_that_is_told():
    made = replace(salt("KNO3"), sold_purity="")
    recipe = solve(target({"K": 200}), [made], volume=10)
    assert content_inputs(made, Sizes({})) == {}
    found = doubt(recipe, draws=100)
    assert any("KNO3" in words and "purity" in words for words in found.not_varied)
    assert "not varied: content" in str(found)
    told = doubt(recipe, draws=100, doubts={"purity: KNO3": 1})
    assert not any("purity" in words for words in told.not_varied)


def test_a_scoop_is_off_by_its_bulk_density():
    """Potassium nitrate 1.0 to 1.3 kg/L: 0.15/1.15 either way; of another the rule, 15 %."""
    assert scoop_range(salt("KNO3"))[0] == pytest.approx((-0.15 / 1.15, 0.15 / 1.15))
    by_name, _ = drawn(one_salt(), 1000, scoops=("KNO3",))
    assert ("balance: KNO3", "") not in by_name
    assert abs(by_name["scoop: KNO3", ""]).max() == pytest.approx(0.13, abs=0.001)
    assert scoop_range(salt("CuSO4·5H2O")) == (None, "")


# --- laws of errors ----------------------------------------------------------------------


def test_balance_and_volume_add_up_as_variances():
    """K = m(1 + b)/(V(1 + v)): exact moments of two rectangles, against 100 000 draws.

    E 1/(1+v) = ln((1+a)/(1−a))/2a, E 1/(1+v)² = 1/(1−a²), E (1+b)² = 1 + h²/3.
    """
    recipe = one_salt()
    grams = recipe.masses["KNO3"]
    h, a = 0.05 / grams, 0.01
    first = math.log((1 + a) / (1 - a)) / (2 * a)
    second = (1 + h**2 / 3) / (1 - a**2)
    off = {"purity": 0, "volume": 1.0}
    values = doubt(recipe, draws=MANY, doubts=off).drawn["K"]
    spread = 200 * math.sqrt(second - first**2)
    assert values.mean() == pytest.approx(200 * first, abs=5 * spread / MANY**0.5)
    assert values.std() == pytest.approx(spread, rel=0.01)  # 0.2 % is one sigma of it
    # GUM 5.1.2 with rectangles, to first order
    assert spread == pytest.approx(200 * math.sqrt((h**2 + a**2) / 3), rel=1e-3)


def test_the_combined_uncertainty_of_a_whole_recipe_is_that_of_the_guide():
    """GUM 5.1.2: the root of the summed squares of slope times standard uncertainty."""
    recipe = full()
    batch = batch_of(recipe, Sizes({}))
    exact = stack_of(batch, {}, 1).mg_l("Ca")[0]
    total = 0.0
    for one in batch.inputs:
        step = 1e-4 * max(abs(one.low), abs(one.high))
        ends = [
            stack_of(batch, {one: np.array([0.0, way * step])}, 1).mg_l("Ca")[1]
            for way in (-1, 1)
        ]
        half = (one.high - one.low) / 2
        deviation = half / (math.sqrt(3) if one.shape == "even" else 1.959964)
        total += ((ends[1] - ends[0]) / (2 * step) * deviation) ** 2
    values = doubt(recipe, draws=MANY).drawn["Ca"]
    assert exact == pytest.approx(recipe.solution.mg_l("Ca"), rel=1e-12)
    assert values.std() == pytest.approx(math.sqrt(total), rel=0.02)


def test_quantiles_of_one_rectangle():
    """Volume alone, ± 2 %: K is below 200/(1 + v) as often as v is above."""
    found = doubt(one_salt(), draws=MANY, doubts=OFF | {"volume": 2.0}).intervals["K"]
    flat = stats.uniform(-0.02, 0.04)
    for value, share in ((found.low, 0.95), (found.middle, 0.5), (found.high, 0.05)):
        assert value == pytest.approx(200 / (1 + flat.ppf(share)), abs=2e-3)


def test_quantiles_of_two_equal_rectangles_are_those_of_a_triangle():
    off = OFF | {"balance": 1.0, "purity": 1.0}
    found = doubt(one_salt(), draws=MANY, doubts=off, level=0.8).intervals["K"]
    tent = stats.triang(0.5, -0.02, 0.04)
    assert found.low == pytest.approx(200 * (1 + tent.ppf(0.1)), abs=0.03)
    assert found.high == pytest.approx(200 * (1 + tent.ppf(0.9)), abs=0.03)


def test_a_water_moves_as_a_bell_that_holds_95_of_100():
    recipe = solve(target({"Na": 20, "K": 10}), ["KNO3"], volume=10, water=water(TAP))
    found = doubt(recipe, draws=MANY, doubts=OFF | {"water": 10})
    bell = stats.norm(20, 20 * 0.10 / stats.norm.ppf(0.975))
    one = found.intervals["Na"]
    assert (one.low, one.high) == pytest.approx(bell.ppf([0.05, 0.95]), abs=2e-3)
    assert one.dominates[0] == "water"


def test_without_doubts_all_is_exact():
    recipe = full()
    found = doubt(recipe, draws=100, doubts=OFF)
    made = recipe.solution
    for key in recipe.target.wanted:
        one = found.intervals[key]
        ends = [one.low, one.middle, one.high, one.exact]
        assert ends == pytest.approx([made.mg_l(key)] * 4, rel=1e-12)
        assert one.dominates == ("", 0.0)
    assert found.intervals["EC"].low == pytest.approx(ec(made), rel=1e-9)
    mixed = speciate(made).ph
    aired = speciate(made, air_co2_ppm=420).ph
    assert found.intervals["pH when mixed"].high == pytest.approx(mixed, abs=1e-8)
    assert found.intervals["pH"].low == pytest.approx(aired, abs=1e-8)
    assert found.inputs == ()
    assert found.probability == 1.0
    assert "varied: nothing" in str(found)


def test_a_seed_gives_the_same_batches_and_another_one_others():
    recipe = full()
    first, again = doubt(recipe, draws=500, seed=7), doubt(recipe, draws=500, seed=7)
    other = doubt(recipe, draws=500, seed=8)
    for name, values in first.drawn.items():
        assert (values == again.drawn[name]).all()
    assert first.rows() == again.rows()
    assert (first.drawn["K"] != other.drawn["K"]).any()


def test_an_input_draws_the_same_whatever_else_is_in_the_batch():
    alone, _ = drawn(one_salt(), 200)
    among, _ = drawn(full(), 200)
    assert (alone["volume", ""] == among["volume", ""]).all()


def test_more_doubt_is_wider():
    widths = []
    for percent in (0.5, 1, 2, 4, 8):
        found = doubt(full(), draws=2000, doubts={"volume": percent, "water": percent})
        widths.append([one.high - one.low for one in found.intervals.values()])
    assert (np.diff(widths, axis=0) > 0).all(axis=0)[:5].all()  # N, P, K, Ca, Mg
    assert (np.diff(widths, axis=0)[2:] > 0).all()


# --- the stack ---------------------------------------------------------------------------


def test_the_stack_is_what_each_batch_dissolves_to_by_itself():
    """Twenty batches weighed anew, one by one: salts of other purity, another volume."""
    shelf = [salt(f, weighing_step=0.1) for f in ("KNO3", "KH2PO4", "MgSO4·7H2O")]
    poured = acid("HNO3", percent=38, density=1.234, name="acid")
    shelf.append(replace(poured, weighing_step=0.1))
    recipe = solve(target({"N": 100, "P": 30, "K": 180, "Mg": 30}), shelf, volume=10)
    by_name, stack = drawn(recipe, 100, {"strength": 3.0})
    for k in range(1, 21):
        amounts = {}
        for ingredient, grams in recipe.amounts:
            content = by_name.get(
                (f"purity: {ingredient.name}", ""),
                by_name.get((f"strength: {ingredient.name}", "")),
            )
            kept = {f: v * (1 + content[k]) for f, v in ingredient.forms.items()}
            own = replace(ingredient, forms=kept)
            amounts[own] = grams * (1 + by_name[f"balance: {ingredient.name}", ""][k])
        made = dissolve(amounts, volume=10 * (1 + by_name["volume", ""][k]))
        for key, value in made.forms.items():
            assert stack.forms[key][k] == pytest.approx(value, rel=1e-12)


def test_the_ions_of_the_stack_are_those_of_each_batch_by_itself():
    _, stack = drawn(full(), 100)
    found = Readings(stack)
    for k in range(21):
        forms = {key: float(values[k]) for key, values in stack.forms.items()}
        one = Solution(forms, float(stack.unassigned_charge[k]))
        assert found.meter("pH when mixed")[k] == pytest.approx(
            speciate(one).ph, abs=1e-6
        )
        aired = speciate(one, air_co2_ppm=420).ph
        assert found.meter("pH")[k] == pytest.approx(aired, abs=1e-6)
        assert found.meter("EC")[k] == pytest.approx(ec(one), rel=1e-6)
        for text in ("N", "K:Ca", "alkalinity", "salts", "hardness"):
            held = limit(text, "1 to 2 meq/L" if text == "alkalinity" else (1, 2))
            expected = held.value(one)
            assert found.value(held)[k] == pytest.approx(expected, rel=1e-9, abs=1e-9)


def test_the_ions_are_worked_out_twice_for_all_draws(monkeypatch):
    calls = []

    def counted(stack, **named):
        calls.append((stack.forms["calcium"].size, *named))
        return speciate(stack, **named)

    monkeypatch.setattr(drawn_readings, "speciate", counted)
    doubt(full(), draws=300)
    assert sorted(calls) == [(301,), (301, "air_co2_ppm")]


def test_no_more_is_called_for_more_draws():
    """Arrays, no loop: three times the draws call as many functions."""
    batch, counts = batch_of(full(), Sizes({})), []
    for draws in (500, 500, 1500):
        calls = []
        sys.setprofile(lambda frame, event, _, calls=calls: calls.append(event))
        try:
            stack_of(batch, deviations(batch.inputs, draws, 1), draws)
        finally:
            sys.setprofile(None)
        counts.append(len(calls))
    assert counts[1] == counts[2] > 100


def test_every_equal_part_of_a_range_is_drawn_once():
    """The design of McKay, Beckman and Conover (1979), from memory."""
    by_name, _ = drawn(one_salt(), 1000)
    parts = np.floor((by_name["volume", ""][1:] + 0.02) / 0.04 * 1000)
    assert sorted(parts.astype(int)) == list(range(1000))


def test_draws_that_do_not_come_to_rest_are_counted_and_the_rest_is_told(monkeypatch):
    def spoiled(*given, **named):
        state = speciate(*given, **named)
        settled = np.ones(state.strength.size, dtype=bool)
        settled[5:8] = False
        raise NoConvergence("3 do not", state=replace(state, settled=settled))

    whole = doubt(full(), draws=300)
    monkeypatch.setattr(drawn_readings, "speciate", spoiled)
    found = doubt(full(), draws=300)
    assert found.unsettled == 3
    assert np.isnan(found.drawn["EC"]).sum() == 3
    assert np.isfinite(found.drawn["K"]).all()
    assert found.intervals["EC"].middle == pytest.approx(
        whole.intervals["EC"].middle, rel=0.01
    )
    assert any("3 of 300" in str(notice) for notice in found.notices)


# --- water and labels keep their charge --------------------------------------------------


def test_the_alkalinity_of_a_water_moves_by_its_strength_and_its_own_error_alone():
    tap = water(TAP)
    recipe = solve(target({"Ca": 80}), ["Ca(NO3)2·4H2O"], volume=10, water=tap)
    by_name, stack = drawn(recipe, 500)
    expected = tap.solution.alkalinity() * (1 + by_name["water", ""])
    expected = expected * (1 + by_name["water alkalinity", ""])
    assert stack.alkalinity() == pytest.approx(expected, rel=1e-9)
    calcium = tap.solution.forms["calcium"] * (1 + by_name["water", ""])
    calcium = calcium * (1 + by_name["water analysis", "Ca"])
    assert stack.forms["calcium"][0] == pytest.approx(tap.solution.forms["calcium"])
    assert np.corrcoef(stack.forms["calcium"], calcium)[0, 1] == pytest.approx(1.0)


def test_the_carbon_of_a_water_follows_the_ph_that_was_read():
    """C = A (1 + [H+]/K1) where pH is far below pK2; pK1 6.35 (every textbook)."""
    tap = water({"Ca": 80, "alkalinity": "4 meq/L", "pH": 6.8})
    recipe = solve(target({"K": 20}), ["KNO3"], volume=10, water=tap)
    by_name, stack = drawn(recipe, 500, OFF | {"water pH": 0.2})
    shift = by_name["water pH", ""]
    expected = (1 + 10 ** (6.35 - 6.8 - shift)) / (1 + 10 ** (6.35 - 6.8))
    found = stack.forms["carbonate"] / stack.forms["carbonate"][0]
    assert found == pytest.approx(expected, rel=2e-3)  # K2 counts a little
    assert np.ptp(stack.alkalinity()) < 1e-9


def test_a_label_keeps_the_charge_it_brings():
    recipe = solve(target({"K": 200}), [BASE], volume=10)
    by_name, stack = drawn(recipe, 500, {"water alkalinity": 0})
    assert {name for name, _ in by_name} == {"label: base", "volume"}
    assert {part for name, part in by_name if name == "label: base"} == {
        *("N", "P2O5", "K2O", "Mg", "Fe")
    }
    off = by_name["label: base", "K2O"]
    assert abs(off).max() == pytest.approx(1.27 / 26, rel=0.01)  # the table at 26 %
    assert stack.alkalinity() == pytest.approx(np.zeros(501), abs=1e-9)


# --- limits ------------------------------------------------------------------------------


def test_a_limit_that_is_just_kept_is_broken_by_half_the_batches():
    recipe = one_salt(200, limits={"K": "at most 190 mg/L"})
    found = doubt(recipe, doubts=OFF | {"volume": 2.0})
    assert found.probability == pytest.approx(0.5, abs=found.probability_error / 10)
    assert found.probability_error == pytest.approx(0.0098, abs=2e-4)


def test_the_chance_of_a_limit_is_that_of_the_bell():
    wish = target({"K": 10}, limits={"Na": "at most 21.5 mg/L"})
    recipe = solve(wish, ["KNO3"], volume=10, water=water(TAP))
    found = doubt(recipe, doubts=OFF | {"water": 10})
    expected = stats.norm(20, 2 / 1.959964).cdf(21.5)
    (kept,) = found.limits
    assert kept.asked.name == "Na at most 21.5 mg/L"
    assert kept.probability == pytest.approx(expected, abs=kept.error / 10)


def test_all_limits_together_and_ranges_by_themselves():
    wish = target(
        {"K": "185-195", "NO3-N": 68.1},
        limits={"K": "188 to 192 mg/L", "NO3-N": "at most 500 mg/L"},
    )
    recipe = solve(wish, ["KNO3"], volume=10)
    found = doubt(recipe, doubts=OFF | {"volume": 2.0})
    potassium = found.drawn["K"]
    both = ((potassium >= 188) & (potassium <= 192)).mean()
    assert found.probability == pytest.approx(both, abs=1e-12)
    (wished,) = found.ranges
    expected = ((potassium >= 185) & (potassium <= 195)).mean()
    assert wished.probability == pytest.approx(expected, abs=1e-12)
    assert found.probability < wished.probability


def test_an_exact_limit_is_told_and_not_counted():
    recipe = one_salt(200, limits={"K": "exactly 190 mg/L"})
    found = doubt(recipe, draws=200)
    assert found.limits[0].probability == 0.0
    assert any("exact value" in str(notice) for notice in found.notices)
    assert "K exactly 190" in str(found)
    assert found.probability is None


@pytest.mark.parametrize(("count", "draws"), [(50, 100), (0, 100), (9951, 10_000)])
def test_the_error_of_a_chance_is_half_of_wilsons_interval(count, draws):
    ends = stats.binomtest(count, draws).proportion_ci(0.95, method="wilson")
    expected = (ends.high - ends.low) / 2
    assert wilson_half(count / draws, draws) == pytest.approx(expected, rel=1e-3)


# --- what dominates ----------------------------------------------------------------------


def test_shares_are_those_of_the_variances():
    """± 1 % and ± 2 %, both rectangles: variances as 1 to 4."""
    off = OFF | {"balance": 1.0, "purity": 2.0}
    shares = doubt(one_salt(), draws=MANY, doubts=off).intervals["K"].shares
    assert shares["purity: KNO3"] == pytest.approx(0.8, abs=0.01)
    assert shares["balance: KNO3"] == pytest.approx(0.2, abs=0.01)
    assert sum(shares.values()) == pytest.approx(1.0, abs=1e-12)
    assert abs(shares[TOGETHER]) < 0.001
    assert next(iter(shares)) == "purity: KNO3"


def test_what_two_inputs_do_together_is_told_apart():
    """(1 + b)(1 + p): of the variance 2s² + s⁴ the s⁴ belongs to both; s² = 0.8²/3."""
    off = OFF | {"balance": 80.0, "purity": 80.0}
    found = doubt(one_salt(), draws=MANY, doubts=off)
    square = 0.8**2 / 3
    expected = square / (2 + square)
    shares = found.intervals["K"].shares
    assert shares[TOGETHER] == pytest.approx(expected, abs=0.01)
    assert shares["balance: KNO3"] == pytest.approx((1 - expected) / 2, abs=0.02)


def test_shares_of_a_whole_recipe_add_up_and_near_straight_outputs_leave_little():
    found = doubt(full())
    for name, one in found.intervals.items():
        assert sum(one.shares.values()) == pytest.approx(1.0, abs=1e-9)
        if one.unit == "mg/L":
            assert abs(one.shares[TOGETHER]) < 0.01, name
    assert set(found.dominates) == {*FEED, "EC", "pH", "pH when mixed"}
    assert found.dominates["Fe"][0] == "label: iron"


def test_too_few_draws_tell_no_shares():
    found = doubt(full(), draws=100)
    assert all(one.shares == {} for one in found.intervals.values())
    assert any("too few draws" in str(notice) for notice in found.notices)


# --- what is weighed ---------------------------------------------------------------------


def test_a_stock_is_off_by_dose_mark_weight_and_purity():
    """As the root of the summed squares: each a rectangle (GUM 5.1.2)."""
    boric = salt("H3BO3", weighing_step=0.01)
    made = weigh(solve(target({"B": 0.5}), [boric], volume=10), stocks=True)
    (bottle,) = made.stocks
    found = doubt(made, draws=MANY, doubts={"volume": 0})
    names = {one.name for one in found.inputs}
    assert names == {
        f"measure: {bottle.ingredient.name}",
        f"mark: {bottle.ingredient.name}",
        f"balance: H3BO3 in {bottle.ingredient.name}",
        "purity: H3BO3",
        "water alkalinity",
    }
    dose = bottle.dose_step / 2 / bottle.dose
    weight = 0.005 / bottle.parts[0][1]
    purity = (0.999 - 0.99) / 2  # sold as 99 to 99.9 %
    rough = math.sqrt((dose**2 + weight**2 + purity**2 + 0.01**2) / 3)
    values = found.drawn["B"]
    assert values.std() / values.mean() == pytest.approx(rough, rel=0.02)


def test_stocks_and_blends_of_a_shelf_are_taken_apart():
    bottle = stock("A", {salt("KNO3", weighing_step=1.0): 100}, volume=1)
    mix = blend("mix", {"KH2PO4": 60, "MgSO4·7H2O": 40})
    recipe = solve(target({"K": 150, "P": 30}), [bottle, mix], volume=10)
    found = doubt(recipe, draws=200)
    assert {one.name for one in found.inputs} == {
        *("measure: A", "mark: A", "balance: KNO3 in A", "purity: KNO3"),
        *("purity: KH2PO4", "purity: MgSO4·7H2O", "volume", "water alkalinity"),
    }
    assert any("how evenly" in words for words in found.not_varied)
    assert any("mix" in words and "step" in words for words in found.not_varied)


def test_a_caller_may_say_how_far_an_input_is_off():
    recipe = one_salt()
    by_kind, _ = drawn(recipe, 2000, {"balance": 3.0})
    assert abs(by_kind["balance: KNO3", ""]).max() == pytest.approx(0.03, rel=0.01)
    found = doubt(recipe, draws=200, doubts={"balance": 3.0, "balance: KNO3": 0})
    assert "balance: KNO3" not in {one.name for one in found.inputs}


# --- what is told ------------------------------------------------------------------------


def test_the_table_and_the_text_tell_the_same():
    found = doubt(full(), draws=1000)
    table = found.to_frame()
    assert list(table.index) == [*FEED, "EC", "pH", "pH when mixed"]
    assert list(table.columns) == ["low", "middle", "high", "unit", "input", "share"]
    assert (table.low < table.middle).all()
    assert (table.middle < table.high).all()
    assert set(table.unit) == {"mg/L", "mS/cm", ""}
    text = str(found)
    for words in (
        "1000 batches",
        "mS/cm",
        "all limits kept",
        "Na at most 30",
        "density",
    ):
        assert words in text
    assert any("formula of the EC" in str(notice) for notice in found.notices)


def test_pure_water_and_a_water_without_a_ph_are_told():
    pure = doubt(one_salt(), draws=100)
    assert any("counts as pure" in words for words in pure.not_varied)
    bare = {key: value for key, value in TAP.items() if key != "pH"}
    found = doubt(full(bare), draws=100)
    assert any("pH was not told" in words for words in found.not_varied)


def test_a_value_outside_nearly_all_batches_is_told():
    made = replace(salt("KOH"), sold_purity="85-90")
    recipe = solve(target({"K": 200}), [made], volume=10)
    found = doubt(recipe, draws=500, doubts={"volume": 0})
    assert found.intervals["K"].high < found.intervals["K"].exact
    assert any("outside" in str(notice) for notice in found.notices)


def test_a_batch_of_nothing_is_pure_water():
    """Its pH may be anything that 0.05 meq/L make: 10⁻⁴·³ of acid, of alkali the same."""
    found = doubt(solve(target({"Mo": 0}), ["KNO3"], volume=10), draws=1000, level=0.95)
    one = found.intervals["pH when mixed"]
    assert one.exact == pytest.approx(7.0, abs=0.01)
    assert (one.low, one.high) == pytest.approx((4.3, 9.7), abs=0.05)
    assert found.intervals["Mo"].high == 0.0


def test_what_was_drawn_cannot_be_written_to():
    found = doubt(one_salt(), draws=100)
    with pytest.raises(ValueError, match="read-only"):
        found.drawn["K"][0] = 1.0


# --- bad input ---------------------------------------------------------------------------


def test_every_fault_is_told_at_once():
    with pytest.raises(FormulateError) as caught:
        doubt(
            one_salt(),
            draws=0,
            seed=-1,
            level=1.5,
            doubts={"weather": 2, "volume": 200, "all": 3, "water pH": 9},
            scoops=["MgSO4"],
        )
    text = str(caught.value)
    for words in (
        *("draws: 0", "seed: -1", "level: 1.5", "'weather'"[1:-1], "volume", "all"),
        *("water pH", "MgSO4"),
    ):
        assert words in text
    assert len(caught.value.faults) == 8


@pytest.mark.parametrize("draws", [True, 99, 1e4, 10**9, "many", None])
def test_draws_are_a_whole_number(draws):
    with pytest.raises(FormulateError, match="draws"):
        doubt(one_salt(), draws=draws)


@pytest.mark.parametrize("doubts", [[1], "volume", {"volume": "much"}, {3: 1.0}])
def test_doubts_that_cannot_be_read(doubts):
    with pytest.raises(FormulateError, match="doubts"):
        doubt(one_salt(), doubts=doubts)


def test_what_is_no_batch():
    with pytest.raises(FormulateError, match="no Recipe and no Weighing"):
        doubt("KNO3")


def test_every_doubt_of_the_table_is_a_size():
    for row in read_table("doubts"):
        assert row.number("value") > 0
        assert row["shape"] in ("even", "bell")
        assert row["dimension"] in ("percent", "steps", "-")
