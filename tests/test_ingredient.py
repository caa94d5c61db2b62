"""An ingredient: what a gram or millilitre brings, what it costs, how it is measured."""

import csv
import math
from dataclasses import FrozenInstanceError
from pathlib import Path

import numpy as np
import periodictable
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import FormulateError, InputError, MissingData
from formulate.ingredients.ingredient import Ingredient, analysed, from_formula
from formulate.ingredients.stock import stock

PUBLISHED = Path(__file__).parent / "published"
SALTS = {  # formula to the same formula as periodictable writes it
    "KNO3": "KNO3",
    "Ca(NO3)2·4H2O": "Ca(NO3)2+4H2O",
    "KH2PO4": "KH2PO4",
    "MgSO4·7H2O": "MgSO4+7H2O",
    "K2SO4": "K2SO4",
    "NH4H2PO4": "NH4H2PO4",
    "CO(NH2)2": "CO(NH2)2",
    "H3BO3": "H3BO3",
    "Na2MoO4·2H2O": "Na2MoO4+2H2O",
    "FeSO4·7H2O": "FeSO4+7H2O",
    "CaCl2·2H2O": "CaCl2+2H2O",
    "K2CO3": "K2CO3",
}
ELEMENTS = {"N", "P", "K", "Ca", "Mg", "S", "Cl", "Na", "Fe", "B", "Mo"}
NO_NUMBER = [
    math.nan,
    math.inf,
    -math.inf,
    True,
    False,
    "",
    "67",
    b"67",
    [],
    [67.0],
    {},
    1j,
    10**400,
    object(),
    np.array([]),
    np.array([50.0, 60.0]),
]


def published(name):
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


def short(value):
    return repr(value)[:16]


# --- one compound ------------------------------------------------------------------------


@pytest.mark.parametrize(("formula", "plain"), SALTS.items())
def test_a_pure_salt_holds_the_mass_shares_of_its_formula(formula, plain):
    made, whole = from_formula(formula), periodictable.formula(plain)
    shares = {el.symbol: 100 * f for el, f in whole.mass_fraction.items()}
    for element in ELEMENTS:
        assert made.percent(element) == pytest.approx(
            shares.get(element, 0.0), rel=1e-12
        )
    assert made.unassigned_charge == 0.0
    assert made.formula == formula
    assert made.measured_in == "g"


@pytest.mark.parametrize(("formula", "waters"), [("MgSO4·7H2O", 7), ("KNO3", 0)])
def test_crystal_water_is_counted(formula, waters):
    mass = periodictable.formula(SALTS[formula]).mass
    assert from_formula(formula).crystal_water == pytest.approx(1000 * waters / mass)


@given(st.sampled_from(sorted(SALTS)), st.floats(0.01, 100))
def test_a_share_scales_everything(formula, percent):
    pure, weak = from_formula(formula), from_formula(formula, percent=percent)
    for key, amount in pure.forms.items():
        assert weak.forms[key] == pytest.approx(amount * percent / 100, rel=1e-12)
    assert weak.crystal_water == pytest.approx(pure.crystal_water * percent / 100)
    assert weak.unassigned_charge == 0.0


def test_an_ion_is_in_no_bottle():
    with pytest.raises(InputError, match="ion"):
        from_formula("NO3-")


# --- an analysis -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("example", "given_shares", "key"),
    [
        ("w-sop-K", {"K2O": 50}, "K"),  # 41.5 % K, to the last digit
        ("w-mop", {"K": 49.8}, "K2O"),  # 60 % K2O, to the whole percent
    ],
)
def test_an_oxide_reads_as_its_element(example, given_shares, key):
    text = published("worked_examples_salts")[example]["published_answer"]
    half_digit = 0.5 * 10.0 ** -len(text.partition(".")[2])
    made = analysed("bag", given_shares)
    assert made.percent(key) == pytest.approx(float(text), abs=half_digit)


def test_an_analysis_returns_what_was_put_in():
    shares = {"NO3-N": 14.4, "NH4-N": 1.1, "CaO": 26.6, "MgO": 0.5, "B": 0.2, "SO3": 1}
    made = analysed("bag", shares)
    for key, share in shares.items():
        assert made.percent(key) == pytest.approx(share, rel=1e-12)
    assert made.percent("N") == pytest.approx(15.5)


def test_what_an_analysis_leaves_unsaid_balances_its_charge():
    # 19 % Ca and 1.1 % ammonium N against 14.4 % nitrate N, in meq per gram
    calcium = 2 * 190 / periodictable.formula("Ca").mass
    nitrogen = (144 - 11) / periodictable.formula("N").mass
    made = analysed("bag", {"NO3-N": 14.4, "NH4-N": 1.1, "Ca": 19})
    assert made.unassigned_charge == pytest.approx(nitrogen - calcium, rel=1e-9)


@pytest.mark.parametrize(
    ("shares", "word"),
    [
        ({"N": 15.5}, "NH4"),
        ({"Fe": 6}, r"Fe\(II\)"),
        ({"K": 10, "K2O": 12}, "already"),
        ({"Zz": 5}, "Zz"),
        ({"K": -1}, "K"),
        ({"K": 100.1}, "100"),
        ({"K": "5 %"}, "K"),
    ],
)
def test_an_analysis_that_cannot_be_counted_is_asked_back(shares, word):
    with pytest.raises(InputError, match=word):
        analysed("bag", shares)


def test_no_bag_holds_more_than_itself():
    with pytest.raises(InputError):
        analysed("bag", {"K": 60, "Cl": 60})


@pytest.mark.parametrize(
    ("formula", "bases"),
    [
        # compounds that hold less oxygen or water than the ions they give
        ("Na2B8O13+4H2O", {"B": 8, "Na": 2}),
        ("Na2B4O7", {"B": 4, "Na": 2}),
        ("K2SiO3", {"Si": 1, "K": 2}),
        ("MoO3", {"Mo": 1}),
        ("KPO3", {"P": 1, "K": 1}),
    ],
)
def test_what_takes_up_water_when_it_dissolves_is_no_fault(formula, bases):
    whole = periodictable.formula(formula).mass
    shares = {
        key: 100 * n * periodictable.elements.symbol(key).mass / whole
        for key, n in bases.items()
    }
    made = analysed(formula, shares)
    for key, share in shares.items():
        assert made.percent(key) == pytest.approx(share)


def test_every_fault_of_an_analysis_is_listed():
    with pytest.raises(InputError) as caught:
        analysed("bag", {"N": 15, "Zz": 1, "K": math.nan, "Ca": -3, "Mg": True})
    assert len(caught.value.faults) == 5
    assert all("bag" in fault for fault in caught.value.faults)


@pytest.mark.parametrize("shares", [None, True, 7, "K 5", b"K", object()])
def test_what_is_no_analysis_is_refused(shares):
    with pytest.raises(InputError):
        analysed("bag", shares)


# --- bad numbers -------------------------------------------------------------------------


@pytest.mark.parametrize("value", [*NO_NUMBER, None, 0, -1, 100.01], ids=short)
def test_what_is_no_share_is_refused(value):
    with pytest.raises(InputError, match="share"):
        from_formula("KNO3", percent=value)
    with pytest.raises(InputError, match="K"):
        analysed("bag", {"K": value})


@pytest.mark.parametrize("value", [*NO_NUMBER, -1, -0.01], ids=short)
def test_what_is_no_price_is_refused(value):
    with pytest.raises(InputError, match="price"):
        from_formula("KNO3", price_per_kg=value)


@pytest.mark.parametrize("value", [*NO_NUMBER, 0, -1, 0.1, 1400], ids=short)
def test_what_is_no_density_is_refused(value):
    with pytest.raises(InputError, match="density"):
        from_formula("HNO3", percent=67, density=value)


def test_every_fault_of_a_compound_is_listed():
    with pytest.raises(InputError) as caught:
        from_formula("KNO4", percent=0, density=14, price_per_kg=-1)
    assert len(caught.value.faults) == 4


@pytest.mark.parametrize("number", [np.int64(50), np.float32(50), np.float64(50), 50])
def test_numbers_of_numpy_are_numbers(number):
    made = from_formula("KNO3", percent=number, price_per_kg=number)
    assert made.percent("K") == pytest.approx(from_formula("KNO3").percent("K") / 2)
    assert type(made.price) is type(made.purity_percent) is float


@pytest.mark.parametrize(
    "fields",
    [
        {"forms": {"potassium": math.nan}},
        {"forms": {"potassium": -1.0}},
        {"forms": {"potash": 1.0}},
        {"forms": {"potassium": 1.0}, "measured_in": "lb"},
    ],
    ids=str,
)
def test_an_impossible_ingredient_is_refused(fields):
    with pytest.raises(FormulateError):
        Ingredient("x", **fields)


# --- measured ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "unit", "grams"),
    [
        (2.5, "g", 2.5),
        (2.5, "kg", 2500),
        (1, "oz", 28.349523125),  # exact by definition (nist-hb44, memory)
        (1, "lb", 453.59237),
        (250, "mg", 0.25),
        (0, "g", 0),
    ],
)
def test_a_solid_is_weighed(value, unit, grams):
    assert from_formula("KNO3").amount_measured(value, unit) == pytest.approx(grams)


@pytest.mark.parametrize("unit", ["mL", "L", "US tsp", "US cup", "US fl oz"])
def test_a_volume_of_a_solid_is_a_range(unit):
    with pytest.raises(InputError, match=r"weighed.*range"):
        from_formula("KNO3").amount_measured(1, unit)


@given(st.floats(0.001, 1e6), st.sampled_from(["mL", "L", "US gal", "US fl oz"]))
def test_a_liquid_is_poured_or_weighed(volume, unit):
    liquid = from_formula("HNO3", percent=67, density=1.40)
    grams = liquid.amount_measured(volume, unit)
    factor = {"mL": 1, "L": 1000, "US gal": 3785.411784, "US fl oz": 29.5735295625}
    assert grams == pytest.approx(volume * factor[unit] * 1.40)
    assert liquid.millilitres(grams) == pytest.approx(volume * factor[unit])
    assert liquid.amount_measured(grams, "g") == pytest.approx(grams)
    assert liquid.is_liquid


def test_a_stock_is_poured():
    liquid = stock("A", {"KNO3": 100}, volume=1)
    assert liquid.is_liquid
    assert liquid.amount_measured(2, "L") == 2000
    assert liquid.millilitres(50) == 50
    with pytest.raises(MissingData, match="density"):
        liquid.amount_measured(1, "g")


def test_an_acid_without_its_density_is_weighed_only():
    liquid = from_formula("HNO3", percent=50, role="acid")
    assert liquid.amount_measured(10, "g") == 10
    with pytest.raises(MissingData, match="density"):
        liquid.amount_measured(10, "mL")


def test_a_solid_takes_no_volume_of_a_liquid():
    assert from_formula("KNO3").millilitres(100) == 0.0
    assert not from_formula("KNO3").is_liquid


@pytest.mark.parametrize("unit", ["mg/L", "mS/cm", "gal", "", "stone", None, 7])
def test_what_is_no_mass_or_volume_is_refused(unit):
    with pytest.raises(FormulateError):
        from_formula("KNO3").amount_measured(1, unit)


@pytest.mark.parametrize("value", ["x", None, math.nan, True, -1.0, 10**400], ids=short)
def test_what_is_no_amount_is_refused(value):
    with pytest.raises(FormulateError):
        from_formula("KNO3").amount_measured(value, "g")


@pytest.mark.parametrize("value", ["x", None])
@pytest.mark.parametrize("method", ["millilitres", "cost"])
def test_words_have_no_volume_and_no_cost(method, value):
    liquid = from_formula("HNO3", percent=67, density=1.4, price_per_kg=2)
    with pytest.raises(FormulateError):
        getattr(liquid, method)(value)


# --- cost, name, words -------------------------------------------------------------------


@given(st.floats(0, 1e6), st.floats(0, 1e4))
def test_cost_is_price_times_mass(grams, price):
    made = from_formula("KNO3", price_per_kg=price)
    assert made.cost(grams) == pytest.approx(price * grams / 1000, rel=1e-12)


def test_no_price_is_no_cost_and_free_is_zero():
    assert from_formula("KNO3").cost(100) is None
    assert from_formula("KNO3", price_per_kg=0).cost(100) == 0


def test_a_new_name_changes_nothing_else():
    made = from_formula("KNO3", price_per_kg=2)
    again = made.renamed("bag in the shed")
    assert (again.name, made.name) == ("bag in the shed", "KNO3")
    assert again.forms == made.forms
    assert again.price == made.price


def test_an_ingredient_cannot_be_changed():
    made = from_formula("KNO3")
    with pytest.raises(FrozenInstanceError):
        made.price = 3
    with pytest.raises(TypeError):
        made.forms["potassium"] = 3


def test_an_ingredient_tells_its_shares():
    text = str(from_formula("KNO3"))
    assert text == "KNO3: N 13.85, K 38.67 (% w/w)"  # shares as test_salts.py checks
    assert "% w/v" in str(stock("A", {"KNO3": 100}, volume=1))
    assert "no nutrient" in str(Ingredient("empty", {}))


@pytest.mark.parametrize("key", ["NO2", "urea", "Si", "Mo", "Ni"])
def test_every_nutrient_in_it_is_told(key):
    bare = str(analysed("bag", {"K": 1}))
    assert str(analysed("bag", {"K": 1, key: 1})) != bare


@pytest.mark.parametrize("key", ["", "Zz", None, 7])
def test_an_unknown_nutrient_is_refused(key):
    with pytest.raises(FormulateError):
        from_formula("KNO3").percent(key)
