"""A slip made on purpose in a chart is found again from all its weeks; so is one in a dose.

The factors come from test_slips.FACTORS, worked out with periodictable and pint. What a
wrong dose gives is worked out from a chart that has that dose, EC included.
"""

import numpy as np
import pytest
from test_slips import FACTORS, ROWS

from formulate.claims.chart_claims import ChartCase
from formulate.claims.chart_slips import find_chart_slips
from formulate.claims.dose_claims import check_dose
from formulate.claims.feed_chart import read_chart
from formulate.errors import InputError
from formulate.ingredients.labels import label
from formulate.stoichiometry.nutrients import nutrient_keys
from formulate.tables import read_table

# a school glasshouse: three products, five weeks
GROW = {"nitrate nitrogen": "7.0", "ammoniacal nitrogen": "2.0", "potash": "6.0"}
BLOOM = {"available phosphate": "8.00", "potash": "9.00"}
CALCIUM = {"nitrate nitrogen": "12.0", "calcium": "15.0"}


def products():
    return {
        "Grow": label("Grow", basis="eu", guarantees=GROW, density=1.2),
        "Bloom": label("Bloom", basis="eu", guarantees=BLOOM, density=1.25),
        "Calcium": label("Calcium", basis="eu", guarantees=CALCIUM),
    }


PRODUCTS = products()
UNITS = {"Grow": "mL/L", "Bloom": "mL/L", "Calcium": "g/L"}
DOSES = [(2, 0.5, 0.3), (2.5, 0.8, 0.5), (2, 1.5, 0.6), (1.2, 2.4, 0.6), (0.5, 3, 0.2)]
KEYS = ("N", "P", "K", "Ca", "EC")
HEAD = "N ppm,P ppm,K ppm,Ca ppm,EC mS/cm"


def written(doses, claims):
    """Return a chart as text."""
    names = ",".join(f"{name} {of}" for name, of in UNITS.items())
    lines = [
        f"{week},{','.join(f'{d:.9g}' for d in row)},{','.join(said)}"
        for week, (row, said) in enumerate(zip(doses, claims, strict=True), 1)
    ]
    return "\n".join([f"week,{names},{HEAD}", *lines])


def computed(doses, water=None):
    """Return what each week of a chart holds, EC last."""
    blank = written(doses, [["" for _ in KEYS]] * len(doses))
    weeks = read_chart(blank, PRODUCTS, water=water).weeks
    return [[w.mg_l.get(key, 0.0) for key in KEYS[:-1]] + [w.ec] for w in weeks]


def said(values, noise=None):
    """Return values as a chart prints them: three significant digits or more."""
    noise = np.zeros(np.shape(values)) if noise is None else noise
    return [
        [
            f"{v * (1 + e):.{1 if v < 200 else 0}f}" if n < 4 else f"{v * (1 + e):.2f}"
            for n, (v, e) in enumerate(zip(row, more, strict=True))
        ]
        for row, more in zip(values, noise, strict=True)
    ]


def chart_of(claims, doses=DOSES, **options):
    return read_chart(written(doses, claims), PRODUCTS, **options)


def first_words(chart):
    return [str(one) for one in chart.slips.groups[0]]


def slipped_doses(name, factor, doses=DOSES):
    place = [*UNITS].index(name)
    return [
        tuple(d * (factor if n == place else 1) for n, d in enumerate(row))
        for row in doses
    ]


# --- one slip --------------------------------------------------------------------------------


def test_a_chart_without_slip_is_right():
    chart = chart_of(said(computed(DOSES)))
    assert chart.verdict == "right"
    assert (chart.slips.off, chart.slips.groups) == (0, ())
    assert str(chart.slips) == "no claim is off by more than margin and rounding allow"
    assert chart.slips.finding.is_right


def test_a_column_of_oxides_is_one_slip():
    values = computed(DOSES)
    for row in values:
        row[1] *= FACTORS["p2o5-as-p"]
    found = chart_of(said(values)).slips
    assert found.off == 5
    assert found.groups[0][0].keys == ("p2o5-as-p",)
    assert found.groups[0][0].weeks == ("1", "2", "3", "4", "5")
    assert found.groups[0][0].subjects == ("P",)
    assert found.groups[0][0].explains_all


def test_all_columns_of_oxides_are_one_slip():
    values = computed(DOSES)
    for row in values:
        row[1] *= FACTORS["p2o5-as-p"]
        row[2] *= FACTORS["k2o-as-k"]
        row[3] *= FACTORS["cao-as-ca"]
    found = chart_of(said(values)).slips
    assert found.groups[0][0].keys == ("all-oxides",)


@pytest.mark.parametrize("name", UNITS)
@pytest.mark.parametrize(
    "key",
    [
        "tablespoon-for-teaspoon",
        "imperial-for-us-gallon",
        "ounce-for-gram",
        "double",
        "ten",
    ],
)
@pytest.mark.parametrize("sign", [1, -1])
def test_a_slip_in_the_dose_of_one_product(name, key, sign):
    """Every number of what that product brings moves, the others stay; EC as the model has it."""
    factor = FACTORS[key] ** sign
    doses = [tuple(d / 4 for d in row) for row in DOSES] if factor > 9 else DOSES
    values = computed(slipped_doses(name, factor, doses))
    found = chart_of([[*row[:4], ""] for row in said(values)], doses).slips
    (whole,) = [g for g in found.groups if g[0].explains_all]
    assert (f"dose of {name}", key) in {
        (s.where, s.slip.key) for e in whole for s in e.slips
    }
    assert len(whole) <= 3  # others within the rounding of the guarantees


def test_a_wrong_gallon_moves_all_doses():
    factor = FACTORS["imperial-for-us-gallon"]
    values = computed([tuple(d * factor for d in row) for row in DOSES])
    first = chart_of(said(values)).slips.groups[0][0]
    assert first.keys == ("imperial-for-us-gallon",)
    assert first.slips[0].where == "all doses"
    assert first.subjects == KEYS


def test_what_the_water_brings_is_in_no_dose():
    water = {"Ca": 60, "NO3-N": 8}
    factor = FACTORS["imperial-for-us-gallon"]
    doses = [tuple(d * factor for d in row) for row in DOSES]
    chart = chart_of(said(computed(doses, water)), water=water)
    where = {
        e.slips[0].where
        for e in chart.slips.groups[0]
        if e.keys == ("imperial-for-us-gallon",)
    }
    assert "all doses" in where
    assert "all claims" not in where


def test_columns_in_each_others_place():
    values = computed(DOSES)
    for row in values:
        row[0], row[2] = row[2], row[0]
    found = chart_of(said(values)).slips
    assert found.groups[0][0].keys == ("exchanged",)
    assert "N and K exchanged" in str(found)


def test_a_meter_of_another_scale():
    head = "week,Grow mL/L,N ppm,TDS ppm (500 scale)\n"
    lines = "\n".join(f"{w},{d}," for w, d in enumerate((1, 2, 3), 1))
    weeks = read_chart(f"week,Grow mL/L,note\n{lines}", PRODUCTS).weeks
    text = head + "\n".join(
        f"{w.name},{d},{w.mg_l['N']:.0f},{w.ec * 700:.0f}"
        for w, d in zip(weeks, (1, 2, 3), strict=True)
    )
    found = read_chart(text, PRODUCTS).slips
    assert ("scale-700-for-500",) in [e.keys for e in found.groups[0]]


def test_a_slip_in_some_weeks_names_them():
    """Weeks 2 and 4 with three times the calcium; the others are right."""
    wrong = slipped_doses("Calcium", 3)
    doses = [wrong[n] if n in (1, 3) else row for n, row in enumerate(DOSES)]
    found = chart_of(said(computed(doses))).slips
    explained = [
        e for g in found.groups for e in g if e.keys == ("tablespoon-for-teaspoon",)
    ]
    (one,) = [e for e in explained if e.slips[0].where == "dose of Calcium"]
    assert one.weeks == ("2", "4")
    assert one.spoiled == ("1", "3", "5")
    assert not one.explains_all
    assert "in these weeks only" in str(one)


def test_a_forgotten_hydrate_is_found_by_what_its_salt_brings():
    """Ca(NO3)2·4H2O 236.15, Ca(NO3)2 164.09 g/mol (IUPAC weights): Ca 169.7 and 244.2 mg/g."""
    text = "week,CaN g/L,Saltpetre g/L,N ppm,K ppm,Ca ppm\n"
    for week, (a, b) in enumerate([(0.5, 0.2), (0.8, 0.4), (0.3, 0.7)], 1):
        n, k = a * 28.014 / 0.16409 + b * 14.007 / 0.101102, b * 39.098 / 0.101102
        text += f"{week},{a},{b},{n:.1f},{k:.1f},{a * 40.078 / 0.16409:.1f}\n"
    found = read_chart(text, {"CaN": "Ca(NO3)2·4H2O", "Saltpetre": "KNO3"}).slips
    one = next(e for e in found.groups[0] if e.keys == ("calcium-nitrate-hydrate",))
    assert one.slips[0].where == "dose of CaN"
    assert "tetrahydrate taken for anhydrous calcium nitrate" in str(one)
    assert one.explains_all


def test_the_ec_of_another_dose_is_that_of_a_chart_that_has_it():
    case = ChartCase(chart_of(said(computed(DOSES))).weeks, 0.01)
    changed = [(("Grow",), 3.0), (("Bloom",), 1 / 3), (tuple(UNITS), 1.2)]
    for (names, factor), more in zip(changed, case.more(changed), strict=True):
        doses = DOSES
        for name in names:
            doses = slipped_doses(name, factor, doses)
        expected = np.ravel(computed(doses)) - np.ravel(computed(DOSES))
        assert more == pytest.approx(expected, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("factor", [1 / 10, 1 / 3, 3, 10])
def test_ec_follows_a_dose_as_nearly_as_the_table_says(factor):
    """The rule by which an EC far off is less sure, for each product from 0.3 to 3 g/L."""
    (rule,) = (
        r for r in read_table("chart_rules") if r["rule"] == "EC of a changed dose"
    )
    for name in UNITS:
        for grams in (0.3, 1.0, 3.0):
            ecs = [
                check_dose(PRODUCTS[name], f"{g:g} g/L", {"EC": "1"}).claims[0].computed
                for g in (grams, grams * factor)
            ]
            off = np.log(ecs[1] / ecs[0] / factor)
            assert abs(off) <= rule.number("value") / 100 * abs(np.log(factor))


# --- two slips, and none ---------------------------------------------------------------------


def test_a_dose_and_a_column_are_found_as_a_pair():
    values = computed(slipped_doses("Calcium", 3))
    for row in values:
        row[1] *= FACTORS["p2o5-as-p"]
    found = chart_of(said(values)).slips
    assert found.pairs_tried
    keys = [sorted(e.keys) for e in found.groups[0]]
    assert ["p2o5-as-p", "tablespoon-for-teaspoon"] in keys
    single = find_chart_slips(chart_of(said(values)).weeks, most_slips=1)
    assert not single.pairs_tried
    assert not single.groups[0][0].explains_all


def test_a_gallon_and_a_column_are_found_as_a_pair():
    values = computed(
        [tuple(d * FACTORS["us-gallon-for-litre"] / 4 for d in row) for row in DOSES]
    )
    doses = [tuple(d / 4 for d in row) for row in DOSES]
    for row in values:
        row[2] *= FACTORS["k2o-as-k"]
    found = chart_of(said(values), doses).slips
    assert ["k2o-as-k", "us-gallon-for-litre"] in [
        sorted(e.keys) for e in found.groups[0]
    ]


def test_three_slips_are_told_beside_one_another():
    values = computed(DOSES)
    for row in values:
        row[1] *= FACTORS["p2o5-as-p"]
        row[2] *= FACTORS["k2o-as-k"]
        row[0] *= FACTORS["no3-as-n"]
    found = chart_of(said(values)).slips
    assert found.pairs_tried
    keys = {key for group in found.apart for e in group for key in e.keys}
    assert {"p2o5-as-p", "k2o-as-k", "no3-as-n"} <= keys
    claims = [pair for group in found.apart for pair in group[0].claims]
    assert len(claims) == len(set(claims)) == found.off == 15
    assert "and besides" in str(found)


def test_claims_off_by_anything_are_explained_by_no_slip_of_all_weeks():
    draw, blamed = np.random.default_rng(81), 0
    for _ in range(20):
        noise = draw.uniform(0.1, 0.6, (5, 5)) * draw.choice([-1, 1], (5, 5))
        found = chart_of(said(computed(DOSES), noise)).slips
        blamed += any(e.explains_all for g in found.groups for e in g)
    assert blamed == 0


def test_one_wrong_number_is_called_weak():
    values = said(computed(DOSES))
    values[2][1] = str(round(float(values[2][1]) * FACTORS["p2o5-as-p"], 1))
    found = chart_of(values).slips
    assert found.off == 1
    assert found.is_weak
    assert "many a slip" in str(found)


# --- rates -----------------------------------------------------------------------------------


def drawn(rng):
    """Return (text of the claims, doses, where, key) of a slip made on purpose, 0.5 % noise."""
    doses = [tuple(rng.uniform(0.2, 1.5, 3).round(2)) for _ in range(5)]
    noise = rng.normal(0, 0.005, (5, 5))
    every = [
        k
        for k, row in ROWS.items()
        if row["subjects"] == "dose" or row["subjects"] == "any"
    ]
    usual = [k for k in every if 1.1 < FACTORS[k] < 17]
    key, sign = str(rng.choice(usual)), int(rng.choice([-1, 1]))
    draw = rng.integers(0, 3)
    if draw == 0:
        name = str(rng.choice([*UNITS]))
        values = computed(slipped_doses(name, FACTORS[key] ** sign, doses))
        return said(values, noise), doses, f"dose of {name}", key
    if draw == 1:
        values = computed(
            [tuple(d * FACTORS[key] ** sign for d in row) for row in doses]
        )
        return said(values, noise), doses, "all doses", key
    place, key = [(1, "p2o5-as-p"), (2, "k2o-as-k"), (0, "no3-as-n"), (3, "cao-as-ca")][
        rng.integers(0, 4)
    ]
    values = computed(doses)
    for row in values:
        row[place] *= FACTORS[key] ** sign
    return said(values, noise), doses, f"column {KEYS[place]}", key


def test_seeded_slips_of_charts_are_found_first_or_tied_first():
    """The bar: 90 % of 60, five weeks with claims of N, P, K, Ca and EC."""
    rng, hits = np.random.default_rng(82), 0
    for _ in range(60):
        claims, doses, where, key = drawn(rng)
        found = chart_of(claims, doses).slips
        first = found.groups[0] if found.groups else ()
        hits += any((e.slips[0].where, e.keys) == (where, (key,)) for e in first)
    assert hits >= 54


def test_seeded_pairs_of_slips_are_found_first_or_tied_first():
    """The bar: 85 % of 30, a wrong dose of one product and one column on another basis."""
    rng, hits, sizes = np.random.default_rng(84), 0, []
    columns = [(1, "p2o5-as-p"), (2, "k2o-as-k"), (0, "no3-as-n"), (3, "cao-as-ca")]
    for _ in range(30):
        doses = [tuple(rng.uniform(0.2, 1.5, 3).round(2)) for _ in range(5)]
        name, sign = str(rng.choice([*UNITS])), int(rng.choice([-1, 1]))
        key = str(
            rng.choice(["tablespoon-for-teaspoon", "imperial-for-us-gallon", "double"])
        )
        place, basis = columns[rng.integers(0, 4)]
        values = computed(slipped_doses(name, FACTORS[key] ** sign, doses))
        for row in values:
            row[place] *= FACTORS[basis]
        groups = chart_of(
            said(values, rng.normal(0, 0.005, (5, 5))), doses
        ).slips.groups
        first = [{(s.where, s.slip.key) for s in e.slips} for e in groups[0]]
        sizes.append(len(first))
        hits += {(f"dose of {name}", key), (f"column {KEYS[place]}", basis)} in first
    assert hits >= 26
    assert np.median(sizes) <= 4  # a group that holds everything says nothing


def test_charts_of_anything_end_in_words():
    """Doses from a drop to a handful, claims of anything: an explanation or none, never worse."""
    draw, explained = np.random.default_rng(83), 0
    for _ in range(25):
        doses = 10.0 ** draw.uniform(-3, 1.7, (4, 3))
        claims = [[f"{10.0 ** draw.uniform(-2, 4):.3g}" for _ in KEYS] for _ in doses]
        chart = chart_of(claims, [tuple(row) for row in doses])
        assert chart.slips.off > 0
        assert str(chart.slips) in str(chart)
        explained += any(e.explains_all for g in chart.slips.groups for e in g)
    assert explained == 0


# --- results ---------------------------------------------------------------------------------


def test_results_as_rows_and_text():
    values = computed(DOSES)
    for row in values:
        row[1] *= FACTORS["p2o5-as-p"]
    chart = chart_of(said(values))
    rows = chart.slips.rows()
    assert rows[0][:4] == (1, "p2o5-as-p", "1, 2, 3, 4, 5", 5)
    assert "explains 5 of 5 wrong claims" in rows[0][4]
    assert "P2O5 taken for P" in str(chart)
    assert "P of weeks 1 to 5" in str(chart)
    assert chart.slips.finding.verdict == "wrong"


def test_what_is_no_noise_and_no_count_is_refused():
    weeks = chart_of(said(computed(DOSES))).weeks
    for given in (
        {"noise": 0.3},
        {"noise": "x"},
        {"most_slips": 3},
        {"most_slips": True},
    ):
        with pytest.raises(InputError):
            find_chart_slips(weeks, **given)


def test_a_chart_without_claims_asks_nothing():
    chart = read_chart("week,Grow mL/L\n1,2\n", PRODUCTS)
    assert chart.slips.off == 0


# --- a dose ----------------------------------------------------------------------------------


def test_a_dose_asks_which_slip_explains_its_claims():
    """12 % N and 15 % CaO, 1 g/L: N 120, CaO 150, Ca 107 (CaO to Ca 0.7147)."""
    right = check_dose(PRODUCTS["Calcium"], "1 g/L", {"N": "120", "Ca": "107"})
    assert right.slips.is_right
    wrong = check_dose(PRODUCTS["Calcium"], "1 g/L", {"N": "120", "Ca": "150"})
    assert ("cao-as-ca",) in [c.keys for c in wrong.slips.groups[0].candidates]
    assert "CaO taken for Ca" in str(wrong)
    assert "CaO" not in str(right)


def test_a_slip_of_a_dose_is_found_though_ec_follows_only_nearly():
    """Claims of 3 g/L for 1 g/L; the EC is that of a solution three times as strong."""
    strong = check_dose(PRODUCTS["Calcium"], "3 g/L", {"EC": "1.0"}).claims[0].computed
    claims = {"N": "360", "CaO": "450", "EC": f"{strong:.2f}"}
    found = check_dose(PRODUCTS["Calcium"], "1 g/L", claims).slips
    assert ("tablespoon-for-teaspoon",) in [c.keys for c in found.groups[0].candidates]


def test_a_dose_with_very_many_claims_is_searched_by_the_first():
    claims = dict.fromkeys(nutrient_keys(), "1.0")
    found = check_dose(PRODUCTS["Grow"], "1 g/L", claims)
    assert str(found)
    assert len(found.slips.pairs) <= 40


def test_a_dose_with_nothing_to_compare_has_no_slip():
    assert check_dose("KNO3", "1 g/L", {"P": "61"}).slips is None
