"""Every slip is recovered in both directions from a factor worked out elsewhere."""

import math
import re

import numpy as np
import periodictable
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import FormulateError, InputError, UnknownName
from formulate.stoichiometry.slips import Slip, explain_difference, slips
from formulate.tables import read_table

REGISTRY = pint.UnitRegistry()
RATIO, DENSITY = 5.0, 1.37


def m(text):
    """Return a molar mass as periodictable reads the formula, parts joined by +."""
    return sum(periodictable.formula(part).mass for part in text.split("+"))


def waters(salt, more, fewer=0):
    """Return how much heavier a salt is with more water than with less."""
    water = m("H2O")
    return (m(salt) + more * water) / (m(salt) + fewer * water)


def u(one, other):
    """Return how many of one unit make another, by pint."""
    return REGISTRY(one).to(other).magnitude


# slip: (number that is written) / (number that is meant), for the same real thing
FACTORS = {
    "p2o5-as-p": m("P2O5") / (2 * m("P")),
    "k2o-as-k": m("K2O") / (2 * m("K")),
    "cao-as-ca": m("CaO") / m("Ca"),
    "mgo-as-mg": m("MgO") / m("Mg"),
    "na2o-as-na": m("Na2O") / (2 * m("Na")),
    "so3-as-s": m("SO3") / m("S"),
    "so4-as-s": m("SO4") / m("S"),
    "so4-as-so3": m("SO4") / m("SO3"),
    "no3-as-n": m("NO3") / m("N"),
    "nh4-as-n": m("NH4") / m("N"),
    "no2-as-n": m("NO2") / m("N"),
    "urea-as-n": m("CO(NH2)2") / (2 * m("N")),
    "po4-as-p": m("PO4") / m("P"),
    "po4-as-p2o5": 2 * m("PO4") / m("P2O5"),
    "sio2-as-si": m("SiO2") / m("Si"),
    "h3bo3-as-b": m("H3BO3") / m("B"),
    "b2o3-as-b": m("B2O3") / (2 * m("B")),
    "moo4-as-mo": m("MoO4") / m("Mo"),
    "caco3-as-ca": m("CaCO3") / m("Ca"),
    "caco3-as-mg": m("CaCO3") / m("Mg"),
    "hco3-as-caco3": 2 * m("HCO3") / m("CaCO3"),
    "meq-as-mmol-2": 2,
    "calcium-nitrate-hydrate": waters("Ca(NO3)2", 4),
    "magnesium-sulfate-hydrate": waters("MgSO4", 7),
    "magnesium-nitrate-hydrate": waters("Mg(NO3)2", 6),
    "iron-sulfate-hydrate": waters("FeSO4", 7),
    "zinc-sulfate-hydrate": waters("ZnSO4", 7, 1),
    "manganese-sulfate-hydrate": waters("MnSO4", 4, 1),
    "copper-sulfate-hydrate": waters("CuSO4", 5),
    "calcium-chloride-hydrate": waters("CaCl2", 2),
    "molybdate-hydrate": waters("Na2MoO4", 2),
    "borax-hydrate": waters("Na2B4O7", 10, 5),
    "imperial-for-us-gallon": u("imperial_gallon", "gallon"),
    "us-gallon-for-litre": u("gallon", "L"),
    "imperial-gallon-for-litre": u("imperial_gallon", "L"),
    "ounce-for-fluid-ounce": u("fluid_ounce", "mL") / u("oz", "g"),
    "pound-for-kilogram": u("kg", "lb"),
    "ounce-for-gram": u("oz", "g"),
    "percent-for-mg-l": u("10 g/L", "mg/L"),
    "scale-700-for-500": 700 / 500,
    "scale-640-for-500": 640 / 500,
    "scale-700-for-640": 700 / 640,
    "cf-for-ms": 10,
    "us-for-ms": u("mS/cm", "uS/cm"),
    "per-litre-per-100-ml": u("g/(100*mL)", "g/L"),
    "ratio-1-to-n": (RATIO + 1) / RATIO,
    "weight-for-volume": DENSITY,
    "caco3-as-german-degree": 10 * m("CaCO3") / m("CaO"),
    "caco3-as-french-degree": 10,
    "caco3-as-grain": u("grain/gallon", "mg/L"),
    "caco3-as-meq": m("CaCO3") / 2,
    "pound-for-ounce": u("lb", "oz"),
    "tablespoon-for-teaspoon": u("tablespoon", "teaspoon"),
    "gallon-for-quart": u("gallon", "quart"),
    "acid-of-another-density": 1.381 / 1.579,  # discrepancies.md 7a
    "three-protons-for-one": 1 / 3,  # 7b
    "acid-dose-of-1.13-protons": 1 / 1.13,  # 7c
    "mmol-as-mg-chloride": 1 / m("Cl"),
    "mmol-as-mg-sodium": 1 / m("Na"),
    "mmol-as-mg-potassium": 1 / m("K"),
    "mmol-as-mg-bicarbonate": 1 / m("HCO3"),
    "mmol-as-mg-nitrate": 1 / m("NO3"),
    "mmol-as-mg-nitrogen": 1 / m("N"),
    "mmol-as-mg-ammonium": 1 / m("NH4"),
    "mmol-as-mg-phosphorus": 1 / m("P"),
    "mmol-as-mg-dihydrogen-phosphate": 1 / m("H2PO4"),
    "mmol-as-mg-calcium": 1 / m("Ca"),
    "meq-as-mg-calcium": 2 / m("Ca"),
    "mmol-as-mg-magnesium": 1 / m("Mg"),
    "meq-as-mg-magnesium": 2 / m("Mg"),
    "mmol-as-mg-sulfate": 1 / m("SO4"),
    "meq-as-mg-sulfate": 2 / m("SO4"),
    "mmol-as-mg-sulfur": 1 / m("S"),
    "meq-as-mg-sulfur": 2 / m("S"),
    "per-kilogram-for-per-litre": 0.997043,  # kg/L at 25 °C [water_properties.csv]
    "double": 2,
    "ten": 10,
    "hundred": 100,
    "thousand": 1000,
    "million": 1_000_000,
}
ROWS = {row["slip"]: row for row in read_table("slips")}
CASES = [
    (key, word)
    for key, row in ROWS.items()
    for word in row["subjects"].split()
    if word != "any"
] + [(key, None) for key in ROWS]


def explained(found, expected, **options):
    options = {"ratio": RATIO, "density": DENSITY, "noise": 1e-6} | options
    return explain_difference(found, expected, **options)


def said(diagnosis):
    """Return the single slips of a diagnosis as (key, words)."""
    return [(c.slips[0].key, c.slips[0].words) for c in diagnosis.candidates if c.slips]


def test_every_slip_of_the_table_is_worked_out_here():
    assert set(FACTORS) == set(ROWS)


@pytest.mark.parametrize(("key", "subject"), CASES)
@pytest.mark.parametrize("expected", [112.0, 0.037])
def test_a_slip_is_recovered_in_both_directions(key, subject, expected):
    row, factor = ROWS[key], FACTORS[key]
    there = explained(expected * factor, expected, subject=subject)
    back = explained(expected, expected * factor, subject=subject)
    assert (key, f"{row['written']} taken for {row['meant']}") in said(there)
    assert (key, f"{row['meant']} taken for {row['written']}") in said(back)
    for diagnosis in (there, back):
        assert not diagnosis.agrees
        assert all(abs(c.misfit) <= 1e-6 for c in diagnosis.candidates)


@pytest.mark.parametrize("key", FACTORS)
def test_a_slip_and_its_reverse_undo_each_other(key):
    one, other = [s for s in slips(ratio=RATIO, density=DENSITY) if s.key == key]
    assert one.factor == pytest.approx(FACTORS[key], rel=1e-12)
    assert one.factor * other.factor == pytest.approx(1, rel=1e-15)


def test_what_a_slip_needs_must_be_given():
    for subject, key, given_ in (
        ("dilution", "ratio-1-to-n", {"ratio": 9}),
        ("liquid", "weight-for-volume", {"density": 1.2}),
    ):
        assert key not in {slip.key for slip in slips(subject)}
        assert key in {slip.key for slip in slips(subject, **given_)}


def test_the_sulfur_of_a_much_reprinted_solution():
    """discrepancies.md 1: 336 mg/L is sulfate, 3.5 mmol/L x 96.06; sulfur is 112."""
    diagnosis = explain_difference(336, 112, subject="S", unit="mg/L")
    assert [candidate.slips[0].key for candidate in diagnosis.candidates] == [
        "so4-as-s"
    ]
    assert "336 mg/L" in str(diagnosis)


def test_k2o_and_gallons_cannot_be_told_apart():
    """83 for 100: K for K2O is 0.8301, US for imperial gallon 0.8327 (0.3 % apart)."""
    diagnosis = explain_difference(83, 100, subject="K")
    keys = {candidate.slips[0].key for candidate in diagnosis.candidates}
    assert keys == {"k2o-as-k", "imperial-for-us-gallon"}
    assert diagnosis.inseparable
    assert "cannot be told apart" in str(diagnosis)
    close = explain_difference(83.015, 100, subject="K", noise=0.001)
    assert [candidate.slips[0].key for candidate in close.candidates] == ["k2o-as-k"]
    assert not close.inseparable


@given(st.floats(1e-3, 1e6), st.floats(-0.009, 0.009))
def test_numbers_within_the_noise_agree(expected, error):
    diagnosis = explain_difference(expected * (1 + error), expected)
    assert diagnosis.agrees
    assert not diagnosis.inseparable
    assert "the numbers agree" in str(diagnosis)
    assert diagnosis.candidates[0].factor == 1


def test_what_no_slip_explains_is_said_to_be_so():
    diagnosis = explain_difference(777, 100, subject="F", unit="mg/L")
    assert diagnosis.candidates == ()
    assert not diagnosis.agrees
    assert "no known slip" in str(diagnosis)


subjects = st.sampled_from(["N", "P", "K", "S", "Ca", "EC", "salt", "liquid", None])
ratios = st.floats(1e-4, 1e4)


@given(ratios, st.floats(0.1, 1e3), st.floats(1e-3, 1e3), subjects)
def test_the_same_in_another_unit_is_explained_the_same(
    ratio, expected, scale, subject
):
    found = expected * ratio
    one = explained(found, expected, subject=subject, noise=0.02)
    other = explained(found * scale, expected * scale, subject=subject, noise=0.02)
    near_edge = any(
        abs(abs(found / (expected * s.factor) - 1) - 0.02) < 1e-9
        for s in slips(subject, ratio=RATIO, density=DENSITY)
    )
    assert near_edge or sorted(said(one)) == sorted(said(other))


@given(ratios, subjects, st.floats(1e-4, 0.1), st.booleans())
def test_candidates_fit_and_the_nearest_comes_first(ratio, subject, noise, pairs):
    options = {"subject": subject, "noise": noise, "pairs": pairs}
    diagnosis = explain_difference(100 * ratio, 100, **options)
    order = [(len(c.slips), abs(c.misfit)) for c in diagnosis.candidates]
    assert order == sorted(order)
    for candidate in diagnosis.candidates:
        product = math.prod(slip.factor for slip in candidate.slips)
        assert candidate.factor == pytest.approx(product, rel=1e-12)
        assert ratio / product - 1 == pytest.approx(candidate.misfit, abs=1e-9)
        assert abs(candidate.misfit) <= noise


def test_a_wider_noise_never_loses_an_explanation():
    narrow = said(explained(83, 100, noise=0.005))
    wide = said(explained(83, 100, noise=0.05))
    assert set(narrow) < set(wide)


PAIRS = [
    ("S", ("so4-as-s", "imperial-for-us-gallon")),
    ("P", ("p2o5-as-p", "pound-for-kilogram")),
    ("salt", ("magnesium-sulfate-hydrate", "ounce-for-gram")),
    ("EC", ("scale-700-for-500", "us-for-ms")),
]


@pytest.mark.parametrize(("subject", "keys"), PAIRS)
def test_two_slips_at_once_are_found_only_if_asked_for(subject, keys):
    found = 10 * math.prod(FACTORS[key] for key in keys)
    alone = explained(found, 10, subject=subject)
    both = explained(found, 10, subject=subject, pairs=True)
    assert alone.candidates == ()
    pairs = [{slip.key for slip in c.slips} for c in both.candidates]
    assert set(keys) in pairs
    assert all(len(pair) == 2 for pair in pairs)
    assert ", and " in str(both)


def test_two_slips_are_not_looked_for_where_one_fits():
    diagnosis = explain_difference(336, 112, subject="S", pairs=True)
    assert [len(candidate.slips) for candidate in diagnosis.candidates] == [1]


NUMBER = r"-?\d+(?:\.\d+)?(?:e[+-]?\d+)?"


@given(st.sampled_from(sorted(FACTORS)), st.floats(1e-3, 1e5), st.sampled_from([1, -1]))
def test_the_printed_line_gives_its_printed_result(key, expected, power):
    """100 mg/L × 0.83015 = 83.015 mg/L, worked out again from the print alone."""
    found = expected * FACTORS[key] ** power
    for candidate in explained(found, expected).candidates:
        line, _, tail = candidate.arithmetic.rpartition(", found ")
        left, _, result = line.rpartition(" = ")
        product = math.prod(float(text) for text in re.findall(NUMBER, left))
        half = 0.5 * 10.0 ** -len(result.partition(".")[2])
        assert product == pytest.approx(float(result), abs=half * (1 + 1e-9), rel=1e-12)
        assert float(tail) == pytest.approx(found, rel=1e-4)


@pytest.mark.parametrize(
    ("spelling", "subject"),
    [("sulfur", "S"), ("sulphur", "S"), ("nitrate", "NO3"), ("potash", "K2O")],
)
def test_a_subject_may_be_spelled_like_a_nutrient(spelling, subject):
    assert slips(spelling) == slips(subject)
    assert all(isinstance(slip, Slip) for slip in slips(spelling))


@pytest.mark.parametrize("subject", ["", "zz", 5, True, "ec ", [], {}, "x" * 1000])
def test_an_unknown_subject_lists_the_known_ones(subject):
    with pytest.raises(UnknownName, match="alkalinity") as caught:
        slips(subject)
    assert len(str(caught.value)) < 1000


@pytest.mark.parametrize("kind", [int, float, np.int64, np.float64, np.float32])
def test_numbers_of_every_kind_are_numbers(kind):
    diagnosis = explain_difference(kind(336), kind(112), subject="S")
    assert [candidate.slips[0].key for candidate in diagnosis.candidates] == [
        "so4-as-s"
    ]


NO_NUMBERS = [0, -1, True, None, "5", [1], math.nan, math.inf, 10**400, 1j, np.ones(2)]


@pytest.mark.parametrize("bad", NO_NUMBERS, ids=range(len(NO_NUMBERS)))
@pytest.mark.parametrize("name", ["found", "expected", "noise", "ratio", "density"])
def test_what_is_no_number_above_zero_is_refused(bad, name):
    if bad is None and name in ("ratio", "density"):
        bad = "None"
    numbers = {"found": 336, "expected": 112} | {name: bad}
    with pytest.raises(InputError, match=name):
        explain_difference(**numbers)


@pytest.mark.parametrize("bad", [0, -1, "5", [1], math.nan, math.inf])
@pytest.mark.parametrize("name", ["ratio", "density"])
def test_slips_refuse_what_is_no_ratio_and_no_density(bad, name):
    with pytest.raises(InputError):
        slips(**{name: bad})


def test_a_noise_of_more_than_a_fifth_explains_everything_and_is_refused():
    assert explain_difference(336, 112, noise=0.2).candidates
    with pytest.raises(InputError, match="noise"):
        explain_difference(336, 112, noise=0.21)


@pytest.mark.parametrize(
    ("found", "expected"),
    [(1, 5e-324), (5e-324, 5e-324), (1e308, 1e-308), (1e-308, 1e308)],
)
def test_numbers_at_the_ends_of_the_scale_break_nothing(found, expected):
    try:
        diagnosis = explain_difference(found, expected, pairs=True)
    except FormulateError:
        diagnosis = None
    assert diagnosis is None or diagnosis.agrees == (found == expected)
