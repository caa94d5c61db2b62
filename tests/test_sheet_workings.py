"""The workings behind numbers of sheets, against values from outside.

Molar masses by hand from the standard atomic weights: K 39.0983, N 14.007, O 15.999,
S 32.06, Cl 35.45 g/mol.
"""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from formulate.claims.assay import check_assay
from formulate.claims.derivation import derive
from formulate.claims.dose_claims import check_dose
from formulate.claims.feed_chart import read_chart
from formulate.claims.paper_check import check_paper
from formulate.claims.product_comparison import compare_products
from formulate.ingredients.ingredient import analysed
from formulate.ingredients.salts import as_ingredient, salt
from formulate.ingredients.water import water
from formulate.mixing.meeting import meetings
from formulate.mixing.mistakes import what_went_wrong
from formulate.mixing.plan import mixing_plan
from formulate.mixing.sequence import simulate_mixing
from formulate.mixing.tanks import split_tanks
from formulate.recipes.cheapest import cheapest
from formulate.recipes.cost_curve import cost_curve
from formulate.recipes.few_curve import few_curve
from formulate.recipes.limit_worth import limit_worths
from formulate.recipes.nutrient_worth import usable_costs
from formulate.recipes.price_changes import price_changes
from formulate.recipes.solve import solve
from formulate.recipes.target import target
from formulate.recipes.uncertainty import doubt
from formulate.sheets.assay_workings import assay_workings, range_workings
from formulate.sheets.claimed_workings import chart_workings, dose_workings
from formulate.sheets.claims_tables import told_tables
from formulate.sheets.doubt_workings import doubt_workings
from formulate.sheets.figures.cost_closeness import cost_closeness
from formulate.sheets.figures.doubt_bars import doubt_bars
from formulate.sheets.mixing_tables import (
    diagnosis_table,
    injector_table,
    log_table,
    meeting_table,
    tank_tables,
    tanks_table,
)
from formulate.sheets.mixing_workings import plan_workings
from formulate.sheets.product_workings import against_workings, share_workings
from formulate.sheets.trade_workings import (
    cheapest_workings,
    cost_workings,
    few_workings,
    limit_workings,
    price_workings,
    usable_workings,
)

KNO3 = 39.0983 + 14.007 + 3 * 15.999
K2SO4 = 2 * 39.0983 + 32.06 + 4 * 15.999
KCL = 39.0983 + 35.45
K = 39.0983
TWO = {"MgSO4·7H2O": 50.0, "Ca(NO3)2·4H2O": 90.0, "KNO3": 40.0}


def worked(pairs, *cell):
    return dict(pairs)[cell].worked()


def of(table, row, column):
    place = table.columns.index(column)
    return table.workings[row, place].worked()


# --- mixing ------------------------------------------------------------------------------


def test_the_volume_of_a_step_is_a_share_of_the_water():
    table = log_table(simulate_mixing({"KNO3": 10.0}, volume=20, start_fraction=0.25))
    assert of(table, 0, "L").value == pytest.approx(5.0, rel=1e-12)  # 20 × 0.25
    assert of(table, 1, "L").value == pytest.approx(
        5.0, rel=1e-12
    )  # a solid takes none
    assert of(table, 2, "L").value == pytest.approx(20.0, rel=1e-12)


def test_a_liquid_takes_room_from_the_water():
    acid = salt("nitric acid (67 %)")
    table = log_table(
        simulate_mixing({acid: 14.0}, volume=1)
    )  # 14 g ÷ 1.4 kg/L = 10 mL
    assert of(table, 0, "L").value == pytest.approx(0.75 * 0.99, rel=1e-6)
    assert of(table, 1, "L").value == pytest.approx(0.75 * 0.99 + 0.01, rel=1e-6)
    assert of(table, 2, "L").value == pytest.approx(1.0, rel=1e-6)


def test_an_ionic_strength_is_half_the_sum_of_c_z2():
    """A 1:1 salt of so much per litre has that ionic strength: half of c + c."""
    table = log_table(
        simulate_mixing({"KCl": 0.1 * KCL}, volume=10, start_fraction=0.5)
    )
    made = of(table, 1, "ionic strength, mmol/L")
    assert made.value == pytest.approx(100 / 5, rel=2e-3)  # 100 mmol in 5 L
    assert made.steps[-1].source_key == "definition"


def test_what_has_fallen_out_is_counted_on_the_finished_batch():
    """Gypsum, CaSO4·2H2O, weighs 172.17 g/mol by the atomic weights, 40.078 of it Ca."""
    log = simulate_mixing(
        {"CaCl2": 50.0, "Na2SO4": 60.0}, volume=10, start_fraction=0.5
    )
    table = log_table(log)
    (solid,) = of(table, 2, "fallen out by then, in the end").steps
    gypsum = 40.078 + 32.06 + 4 * 15.999 + 2 * (2 * 1.008 + 15.999)
    amount, mass = solid.terms[0].value, solid.terms[2].value
    assert mass == pytest.approx(gypsum, rel=1e-4)
    assert solid.value == pytest.approx(amount * gypsum * 5 / 10, rel=1e-4)  # of 5 L
    locked = of(table, 2, "locked in it")
    assert locked.value == pytest.approx(amount * 40.078 * 5 / 10, rel=1e-4)


def test_a_ph_that_little_buffers_tells_the_lowest_that_a_meter_may_show():
    plan = mixing_plan(simulate_mixing({"KNO3": 10.0}, volume=20))
    mixing = SimpleNamespace(plan=plan, weighing=None)
    made = dict(plan_workings(mixing, ["", "10 g", ""]))[1, 2]
    assert plan.steps[1].ph.startswith(f"{made.shown} to ")
    assert made.worked().value == pytest.approx(float(made.shown), abs=0.05)
    assert made.worked().steps[-1].text == "less what a meter may be off"


def test_a_stock_is_dose_times_strength():
    """50 g in 100 L are 0.5 g/L; a hundredfold stock holds 50 g/L, a litre of it 50 g."""
    tanks = split_tanks({"KNO3": 50.0}, volume=100, strength=100)
    table = tank_tables(tanks)[0]
    for column, value in (
        ("in the feed", 0.5),
        ("in the stock", 50.0),
        ("amount", 50.0),
    ):
        assert of(table, 0, column).value == pytest.approx(value, rel=1e-12)


def test_what_is_typed_of_a_tank_counts():
    """20 L of a hundredfold stock take 0.5 × 100 × 20 g."""
    tanks = split_tanks({"KNO3": 50.0}, volume=100, strength=100, tank_volume=20)
    table = tank_tables(tanks)[0]
    assert table.rows[0][2] == "kg"
    assert of(table, 0, "amount").value == pytest.approx(1.0)
    assert of(tanks_table(tanks), 0, "L").steps[0].text.startswith("as it was typed")


def test_us_amounts_end_in_the_unit_that_is_shown():
    """1000 g ÷ 28.349523125 g/oz = 35.27 oz; 0.5 g/L × 378.541 L = 6.676 oz."""
    tanks = split_tanks({"KNO3": 50.0}, volume=100, strength=100, tank_volume=2)
    table = tank_tables(tanks, "us")[0]
    made = of(table, 0, "amount")
    assert made.unit == table.rows[0][2]
    assert made.value == pytest.approx(100.0 / 28.349523125, rel=1e-9)
    feed = of(table, 0, "in the feed")
    assert feed.value == pytest.approx(0.5 * 378.5411784 / 28.349523125, rel=1e-9)


def test_a_divided_ingredient_tells_its_share():
    tanks = split_tanks(
        {"KNO3": 60.0, "Ca(NO3)2·4H2O": 90.0, "K2SO4": 20.0}, volume=100
    )
    shares = []
    for tank in tanks.tanks:
        table = tank_tables(tanks)[2 * tanks.tanks.index(tank)]
        for row, cells in enumerate(table.rows):
            if cells[0] == "KNO3":
                shares.append(of(table, row, "in the feed").value)
    assert sum(shares) == pytest.approx(0.6, rel=1e-9)  # 60 g in 100 L
    assert bool(tanks.divided) == (len(shares) == 2)


def test_the_use_of_a_solubility_is_that_of_the_saturated_solution():
    """KNO3 at 10 °C: 17.6 % by the handbook's table of aqueous solubility."""
    tanks = split_tanks({"KNO3": 50.0}, volume=100, strength=100, coldest=10)
    made = of(tanks_table(tanks), 0, "of its solubility")
    molal = 1000 * 50 / KNO3 / tanks.tanks[0].state.water_kg_l  # mmol/kg
    full = 1e6 * 0.176 / 0.824 / KNO3
    assert made.value == pytest.approx(100 * molal / full, rel=2e-3)
    assert made.steps[0].source_key == "crc-solubility"


def test_the_worst_of_a_meeting_is_the_mixture_it_tells():
    found = meetings(split_tanks(TWO, volume=100))
    table = meeting_table(found)
    for row, line in enumerate(found.lines):
        if line.solid:
            made, index = of(table, row, "worst index"), line.indices[line.solid]
            assert made.value == pytest.approx(float(index.max()), abs=1e-4)
        part = of(table, row, "of the way above saturation")
        assert part.value == pytest.approx(line.supersaturated_percent, abs=1e-6)


def test_an_injector_that_is_off_tells_each_case():
    tanks = split_tanks(TWO, volume=100)
    table = injector_table(tanks)
    for row, (words, ec, ph, _) in enumerate(tanks.injector()):
        for column, value in (("EC, mS/cm", ec), ("pH", ph)):
            made = of(table, row, column)
            assert made.value == pytest.approx(value, rel=2e-4)
            assert words in made.title


def test_the_distance_of_a_reading_is_its_difference_in_errors_of_the_meter():
    """EC alone: |read − shown| ÷ 2 % of what would be shown, by the definition of it.

    Lines take an EC to 0.000005 mS/cm: 0.0002 errors of a meter of 0.03 mS/cm.
    """
    found = what_went_wrong({"KNO3": 10.0}, volume=10, ec=1.5)
    table = diagnosis_table(found)
    row = next(
        n for n, cells in enumerate(table.rows) if cells[0] == "nothing is wrong"
    )
    shown = found.right.ec
    made = of(table, row, "meter errors off")
    assert made.value == pytest.approx(abs(1.5 - shown) / (0.02 * shown), abs=2e-4)


def test_a_meter_on_another_scale_shows_its_share_of_the_ec():
    found = what_went_wrong({"KNO3": 10.0}, volume=10, ec=0.68)
    row = next(n for n, s in enumerate(found.suspects[:12]) if "500 scale" in s.words)
    made = of(diagnosis_table(found), row, "EC then, mS/cm")
    assert made.value == pytest.approx(found.suspects[row].ec, rel=1e-4)
    assert made.steps[-1].text == "shown by that meter"


# --- exchange ----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def unsure():
    return doubt(solve(target({"K": 200}), ["KNO3"], volume=10), draws=2000)


@pytest.mark.parametrize(("column", "share"), [(1, 0.05), (2, 0.5), (3, 0.95)])
def test_an_end_of_an_interval_is_a_place_among_the_draws(unsure, column, share):
    """Of n sorted draws the one at (n − 1) × share, as numpy's quantiles have it."""
    table = doubt_bars(unsure).table
    made = worked(doubt_workings(unsure, table), 0, column)
    drawn = unsure.drawn["K"]
    assert made.value == pytest.approx(float(np.quantile(drawn, share)), rel=1e-9)
    assert made.steps[0].value == pytest.approx(share * 1999)


def test_shares_of_the_spread_add_up_to_all_of_it(unsure):
    table = doubt_bars(unsure).table
    (step,) = worked(doubt_workings(unsure, table), 0, 7).steps
    one = unsure.intervals["K"]
    rest = sum(v for name, v in one.shares.items() if name != one.dominates[0])
    assert step.value == pytest.approx(100 * (1 - rest), abs=1e-9)


def test_a_wanted_value_is_moles_times_molar_mass(unsure):
    table = doubt_bars(unsure).table
    made = worked(doubt_workings(unsure, table), 0, table.columns.index("wanted"))
    assert made.value == pytest.approx(200.0)


def test_the_cost_of_a_point_is_masses_times_prices():
    """KNO3 for 200 mg/L K less 12.5 %, at 2 a kilogram, for 100 L."""
    recipe = solve(target({"K": 200}), [salt("KNO3", price_per_kg=2)], volume=100)
    curve = cost_curve(recipe, 3)
    found = dict(cost_workings(curve, cost_closeness(curve).table))
    grams = 0.875 * 200 / K * KNO3 / 1000 * 100
    assert found[1, 1].worked().value == pytest.approx(grams * 2 / 1000, rel=1e-4)
    assert found[1, 0].worked().value == pytest.approx(12.5, rel=1e-3)


def test_a_point_beyond_what_is_out_of_reach_is_counted_from_there():
    """P is held at 20 of 30 mg/L by a limit: K is then the value that is 12.5 % off."""
    feed = target({"K": 200, "P": 30}, limits={"P": "at most 20 mg/L"})
    bags = [salt("KNO3", price_per_kg=2), salt("KH2PO4", price_per_kg=3)]
    curve = cost_curve(solve(feed, bags, volume=100), 3)
    found = dict(cost_workings(curve, cost_closeness(curve).table))
    for row, point in enumerate(curve.points):
        assert found[row, 1].worked().value == pytest.approx(point.cost, rel=1e-4)
    assert found[1, 0].worked().value == pytest.approx(12.5, abs=1e-3)
    assert found[1, 0].worked().title == "Worst deviation: K"


METERED = {"EC": "at most 0.6 mS/cm", "pH": "5.5 to 6.2"}
BAGS = {"KNO3": 2.6, "K2SO4": 1.0, "Ca(NO3)2·4H2O": 1.9}  # a kilogram


@pytest.mark.parametrize("meter", METERED)
def test_every_point_under_a_limit_of_a_meter_has_its_own_batch_behind_it(meter):
    """Masses times prices are the cost of each point, the first one too."""
    feed = target({"NO3-N": 100, "K": 200, "Ca": 60}, limits={meter: METERED[meter]})
    bags = [salt(name, price_per_kg=price) for name, price in BAGS.items()]
    tap = water("pure")
    if meter == "pH":  # what brings it there, and what it is brought down from
        bags.append(replace(as_ingredient("nitric acid (53 %)"), price=1.4))
        tap = water({"Ca": 20, "HCO3": 61}, ph=7.4)
    curve = cost_curve(solve(feed, bags, volume=100, water=tap), 2)
    found = dict(cost_workings(curve, cost_closeness(curve).table))
    assert len(curve.points) >= 2
    for row, point in enumerate(curve.points):
        grams = sum(i.price * amount / 1000 for i, amount in point.amounts)
        assert grams == pytest.approx(point.cost, rel=1e-9)
        assert found[row, 1].worked().value == pytest.approx(point.cost, rel=1e-6)
        off = found[row, 0].worked()
        assert off.value <= point.deviation + 1e-2
        assert off.title.startswith("Worst deviation: ")
    assert found[0, 0].worked().value == pytest.approx(
        curve.points[0].deviation, abs=1e-2
    )


def test_a_point_where_nothing_is_cheaper_shows_the_closer_batch():
    recipe = solve(target({"K": 200}), [salt("KNO3", price_per_kg=2)], volume=100)
    curve = cost_curve(recipe, 3)
    same = replace(curve.points[0], deviation=5.0)
    curve = replace(curve, points=(curve.points[0], same, *curve.points[1:]))
    found = dict(cost_workings(curve, cost_closeness(curve).table))
    made = found[1, 0].worked()
    assert made.value == pytest.approx(curve.points[0].deviation, abs=1e-3)
    assert "up to 5 % no other batch was found cheaper" in made.title


def test_few_bags_miss_what_they_cannot_bring():
    """The best single bag for K 200 and P 30 mg/L meets P and misses most of the K."""
    curve = few_curve(solve(target({"K": 200, "P": 30}), ["KCl", "KH2PO4"], volume=10))
    made = worked(few_workings(curve), 0, 1)
    # KH2PO4 alone: with P met K is 37.87 of 200, off 81.07 %: P 30.97, K 39.10 g/mol
    off = 100 * (1 - 30 / 30.973762 * K / 200)
    assert made.value == pytest.approx(off, abs=0.01)
    assert made.steps[0].text == "KH2PO4 in a litre"
    grams = 30 / 30.973762 * (K + 2 * 1.008 + 30.973762 + 4 * 15.999) / 1000
    assert made.steps[0].value == pytest.approx(grams, rel=1e-4)


def test_a_limit_is_worth_the_slope_of_the_squares():
    """((200 − 150) / 200)² falls by 2 × 50 / 200² = 0.0025 for each mg/L."""
    feed = target({"K": 200}, limits={"K": "at most 150 mg/L"})
    recipe = solve(feed, [analysed("K alone", {"K": 50})], volume=10)
    made = worked(limit_workings(recipe, limit_worths(recipe)), 0, 2)
    assert made.value == pytest.approx(0.0025, rel=1e-6)


def test_the_costs_of_the_cheapest_recipe_add_up():
    bags = [salt("KNO3", price_per_kg=2.0), salt("K2SO4", price_per_kg=1.0)]
    found = cheapest(solve(target({"K": 200, "NO3-N": 60}), bags, volume=100))
    made = dict(cheapest_workings(found))
    costs = [
        behind.worked().value for (_, column), behind in made.items() if column == 4
    ]
    assert sum(costs) == pytest.approx(found.cost, rel=1e-9)


def test_a_price_that_changes_the_recipe_lets_both_cost_the_same():
    """70 g of nitrogen in 1 kg of one, 175 g of the other at 3: 3 × 70 / 175 = 1.2."""
    weak = analysed("weak", {"NO3-N": 7}, price=1.0)
    strong = analysed("strong", {"NO3-N": 17.5}, price=3.0)
    found = cheapest(solve(target({"NO3-N": 100}), [weak, strong], volume=100))
    made = dict(price_workings(price_changes(found)))
    assert made[0, 5].worked().value == pytest.approx(1.2, rel=1e-4)
    assert made[1, 3].worked().value == pytest.approx(2.5, rel=1e-4)  # 1 × 175 / 70


def test_a_usable_kilogram_and_its_credit():
    """K of K2SO4 at 1: 1000 / 448.7; of KNO3 at 1.3 its N is credited in full where it is
    the only source of N, so that its K comes free."""
    bags = [salt("K2SO4", price_per_kg=1.0), salt("KNO3", price_per_kg=1.3)]
    found = usable_costs(bags, ["N", "K"])
    made = dict(usable_workings(found, bags))
    rows = {(key, name): row for row, (key, name, *_) in enumerate(found.rows())}
    value = made[rows["K", "K2SO4"], 2].worked().value
    assert value == pytest.approx(K2SO4 / (2 * K), rel=1e-6)
    assert made[rows["K", "KNO3"], 3].worked().value == pytest.approx(0.0, abs=1e-9)
    credit = (K2SO4 / (2 * K)) / (1.3 * KNO3 / K)
    left = 1.3 * KNO3 / 14.007 * (1 - credit)
    assert made[rows["N", "KNO3"], 3].worked().value == pytest.approx(left, rel=1e-6)


# --- claims ------------------------------------------------------------------------------


def test_a_dose_gives_its_share_of_the_salt():
    check = check_dose("KNO3", "2 g/L", {"K": 773, "EC": "2.5 mS/cm"}, water="soft")
    made = worked(dose_workings(check), 0, 2)
    of_water = check.solution.mg_l("K") - 2000 * K / KNO3
    assert made.value == pytest.approx(2000 * K / KNO3 + of_water, rel=1e-9)
    assert made.steps[-2].text == "from the water"


def test_a_scale_of_ppm_is_told_in_its_own_unit():
    """On the 500 scale 1 mS/cm is 500 ppm, by definition."""
    check = check_dose("KNO3", "1 g/L", {"EC": "1.35 mS/cm", "TDS": "676 ppm (500)"})
    found = dict(dose_workings(check))
    ec, tds = (found[row, 2].worked().value for row in (0, 1))
    assert tds == pytest.approx(500 * ec, rel=1e-9)


def test_a_margin_is_the_sum_of_its_parts():
    check = check_dose("KNO3", "2 lb/100 US gal", {"K": 930})
    made = worked(dose_workings(check), 0, 3)
    assert made.value == pytest.approx(check.claims[0].margin, rel=1e-12)


def test_a_week_is_the_sum_of_its_doses():
    text = "week,A g/L,B g/L\n1,0.5,0.25\n"
    products = {"A": salt("KNO3", price_per_kg=2), "B": salt("K2SO4", price_per_kg=1)}
    chart = read_chart(text, products, volume=10)
    found = dict(chart_workings(chart))
    potassium = 500 * K / KNO3 + 250 * 2 * K / K2SO4
    assert found[0, 3].worked().value == pytest.approx(potassium, rel=1e-9)
    last = len(chart.columns) - 1
    cost = 0.5 * 2 / 1000 + 0.25 * 1 / 1000
    assert found[0, last - 1].worked().value == pytest.approx(cost, rel=1e-12)
    assert found[0, last].worked().value == pytest.approx(10 * cost, rel=1e-12)


def test_an_assay_is_a_mean_and_its_distance_from_the_limit():
    report = check_assay({"N": 10}, [{"N": 9.1}, {"N": 9.5}])
    found = dict(assay_workings(report))
    assert found[0, 2].worked().value == pytest.approx(9.3)  # (9.1 + 9.5) / 2
    assert found[0, 3].worked().value == pytest.approx(9.1)
    assert found[0, 4].worked().value == pytest.approx(0.4)
    below = found[0, 6].worked().value
    assert found[0, 8].worked().value == pytest.approx(10 - below - 9.3, abs=1e-9)
    assert (0, 7) not in found  # under the rule us more is no fault


def test_what_is_below_detection_is_counted_from_none_to_the_limit():
    """Between (0 + 4) / 2 and (1 + 4) / 2, so 2.25 in the middle."""
    report = check_assay({"N": 3}, [{"N": "<1"}, {"N": 4}])
    assert worked(assay_workings(report), 0, 2).value == pytest.approx(2.25)


def test_an_end_of_a_range_is_a_blend_counted():
    made = derive({"N": "13.0", "K2O": "45.0"}, ["potassium nitrate", "KCl"])
    found = dict(range_workings(made))
    for row, each in enumerate(made.ranges):
        assert found[row, 2].worked().value == pytest.approx(each.low, abs=1e-6)
        assert found[row, 3].worked().value == pytest.approx(each.high, abs=1e-6)


def test_contents_and_costs_of_products():
    bags = {"nitre": "KNO3", "sulfate": "K2SO4"}
    found = compare_products(bags, prices={"nitre": 2.0}, target={"K": 200})
    rows = {cells[0]: row for row, cells in enumerate(found.rows())}
    made = dict(share_workings(found))
    row = rows["K"]
    assert made[row, 1].worked().value == pytest.approx(1000 * K / KNO3, rel=1e-9)
    assert made[row, 3].worked().value == pytest.approx(1e6 * K / KNO3 / 2, rel=1e-9)
    assert made[row, 4].worked().value == pytest.approx(2 * KNO3 / K / 1000, rel=1e-9)
    against = dict(against_workings(found))
    assert against[0, 2].worked().value == pytest.approx(200.0, rel=1e-6)
    assert against[0, 3].worked().value == pytest.approx(200.0, rel=1e-9)


def finding_of(text, about, **given):
    """Return what is behind the finding on something, and its cell."""
    for table in told_tables(check_paper(text, name="paper", **given)):
        for row, cells in enumerate(table.rows):
            if cells[0] == about and (row, 2) in table.workings:
                return table.workings[row, 2], cells[2]
    raise AssertionError(f"nothing is behind {about}")


def test_a_wrong_number_of_a_table_is_what_it_should_be_times_a_factor():
    """K2O in KH2PO4: 94.196 / 2 / 136.086 = 34.61 %; printed 52.2, 1.508 times that."""
    text = "salt;P2O5 %;K2O %\nKNO3;;46.6\nKH2PO4;34.6;52.2\nNH4H2PO4;61.7;\n"
    behind, cell = finding_of(text, "line 3, KH2PO4, K2O %")
    made = behind.worked()
    assert behind.split(cell)[1] == "52.2"
    assert made.steps[0].value == pytest.approx(34.61, abs=0.005)
    assert made.value == pytest.approx(52.2, rel=1e-9)


def test_a_right_number_of_a_table_follows_from_its_formula():
    behind, cell = finding_of(
        "salt;N %\nKNO3;13.9\nNH4H2PO4;12.2\n", "line 2, KNO3, N %"
    )
    assert behind.worked().value == pytest.approx(100 * 14.007 / KNO3, rel=1e-4)
    assert behind.split(cell)[1] == "13.854"


def test_a_mass_that_a_label_needs_is_the_sum_of_its_materials():
    text = (
        "N 13 %\n  13 % Nitrate Nitrogen\nK2O 55 %\nDerived from: potassium nitrate\n"
    )
    behind, cell = finding_of(text, "all guarantees", rule="us")
    whole = behind.worked().value
    assert float(behind.split(cell)[1]) == pytest.approx(whole, abs=0.05)
    # 13 % N as KNO3: 13 × 101.10 / 14.007 = 93.8 g at the printed minimum, less its rounding
    assert 100 < whole < 115


def test_no_finding_without_numbers_has_a_working():
    table = told_tables(check_paper("K2O 90 %", name="bag", rule="us"))
    told = [
        cells[2]
        for t in table
        for n, cells in enumerate(t.rows)
        if (n, 2) in t.workings
    ]
    assert told
    assert all(any(sign.isdigit() for sign in cell) for cell in told)
