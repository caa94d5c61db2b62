"""Stocks and blends: ingredients of ingredients, with content, price and hazards carried."""

import math

import numpy as np
import periodictable
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import FormulateError, InputError
from formulate.ingredients.ingredient import analysed
from formulate.ingredients.salts import acid, catalogue, salt
from formulate.ingredients.stock import blend, stock

SOLIDS = tuple(name for name, entry in catalogue().items() if not entry.is_liquid)
MASSES = {  # one mole in grams, by periodictable
    "KNO3": "KNO3",
    "Ca(NO3)2·4H2O": "Ca(NO3)2+4H2O",
    "KH2PO4": "KH2PO4",
    "MgSO4·7H2O": "MgSO4+7H2O",
    "NH4H2PO4": "NH4H2PO4",
}
PARTS = st.dictionaries(
    st.sampled_from(SOLIDS), st.floats(0.01, 1000), min_size=1, max_size=5
)
VOLUME = st.floats(0.1, 1000)
NO_AMOUNT = [math.nan, math.inf, -1, True, None, [], {}, 1j, 10**400, object()]
NO_AMOUNT += ["", "much", "-1 g", "1,000 g", "5 mS/cm", "1 gal", np.array([1.0, 2.0])]


def short(value):
    return repr(value)[:16]


# --- stocks ------------------------------------------------------------------------------


@pytest.mark.parametrize(("formula", "plain"), MASSES.items())
def test_one_mole_in_a_litre_is_one_mole_per_litre(formula, plain):
    atoms = {el.symbol: n for el, n in periodictable.formula(plain).atoms.items()}
    made = stock("1 mol/L", {formula: periodictable.formula(plain).mass}, volume=1)
    for element in ("N", "P", "K", "Ca", "Mg", "S"):
        assert made.amount(element) == pytest.approx(atoms.get(element, 0), rel=1e-12)
    assert made.measured_in == "mL"
    assert made.unassigned_charge == 0


@given(PARTS, VOLUME)
def test_a_stock_holds_what_was_put_in(parts, volume):
    made = stock("A", parts, volume=volume)
    for key in {key for name in parts for key in catalogue()[name].forms}:
        brought = math.fsum(
            catalogue()[name].forms.get(key, 0.0) * grams
            for name, grams in parts.items()
        )
        assert made.forms[key] * volume * 1000 == pytest.approx(brought, rel=1e-12)


@given(PARTS, VOLUME, st.floats(0.01, 100))
def test_twice_the_parts_in_twice_the_volume_is_the_same_stock(parts, volume, times):
    one = stock("A", parts, volume=volume)
    many = stock("A", {n: g * times for n, g in parts.items()}, volume=volume * times)
    assert many.forms == pytest.approx(dict(one.forms), rel=1e-12)


@given(PARTS, VOLUME)
def test_the_order_of_parts_does_not_matter(parts, volume):
    turned = dict(reversed(parts.items()))
    for make in (lambda p: stock("A", p, volume=volume), lambda p: blend("A", p)):
        assert dict(make(turned).forms) == pytest.approx(
            dict(make(parts).forms), rel=1e-12
        )


def test_a_volume_and_a_weight_carry_their_units():
    litre = stock("A", {"KNO3": 100}, volume=1)
    for parts, volume in (
        ({"KNO3": "0.1 kg"}, "1000 mL"),
        ({"potassium nitrate": "100"}, "1 L"),
        ({"KNO3": f"{100 / 28.349523125} oz"}, f"{1 / 3.785411784} US gal"),
    ):
        made = stock("A", parts, volume=volume)
        assert made.forms == pytest.approx(dict(litre.forms), rel=1e-12)


def test_a_liquid_part_is_weighed_or_poured():
    poured = stock("A", {"nitric acid (67 %)": "100 mL"}, volume=1)
    weighed = stock("A", {"nitric acid (67 %)": 140}, volume=1)  # 1.40 kg/L
    assert poured.forms == pytest.approx(dict(weighed.forms))


def test_a_stock_of_a_stock_is_a_thinner_stock():
    thick = stock("A", {"KNO3": 100}, volume=1)
    thin = stock("B", {thick: 10, "MgSO4·7H2O": 5}, volume=1)
    assert thin.amount("K") == pytest.approx(thick.amount("K") / 100)
    assert thin.amount("Mg") == pytest.approx(
        5 / periodictable.formula(MASSES["MgSO4·7H2O"]).mass
    )


# --- blends ------------------------------------------------------------------------------


@given(PARTS)
def test_a_blend_is_the_mean_of_its_parts_by_mass(parts):
    made, total = blend("base", parts), math.fsum(parts.values())
    for key in ("N", "P2O5", "K2O", "Ca", "Fe"):
        mean = math.fsum(
            catalogue()[name].percent(key) * grams for name, grams in parts.items()
        )
        assert made.percent(key) == pytest.approx(mean / total, rel=1e-9, abs=1e-12)
    water = math.fsum(
        catalogue()[name].crystal_water * grams for name, grams in parts.items()
    )
    assert made.crystal_water == pytest.approx(water / total, rel=1e-9, abs=1e-12)
    assert made.measured_in == "g"


@given(PARTS, st.floats(0.01, 100))
def test_parts_are_parts_and_not_grams(parts, times):
    scaled = blend("base", {name: grams * times for name, grams in parts.items()})
    one = dict(blend("base", parts).forms)
    assert dict(scaled.forms) == pytest.approx(one, rel=1e-12)


def test_a_blend_of_one_is_that_one():
    pure = salt("KNO3")
    assert blend("x", {"KNO3": 7}).forms == pytest.approx(dict(pure.forms))


def test_unassigned_charge_is_carried():
    bag = analysed("bag", {"K": 10})
    assert blend("x", {bag: 1, "KNO3": 3}).unassigned_charge == pytest.approx(
        bag.unassigned_charge / 4
    )
    assert stock("x", {bag: 10}, volume=1).unassigned_charge == pytest.approx(
        bag.unassigned_charge / 100
    )


@pytest.mark.parametrize(
    "liquid",
    [
        "nitric acid (67 %)",
        acid("HNO3", percent=67),
        acid("HNO3", percent=50),
        acid("KOH", percent=45),
        stock("A", {"KNO3": 100}, volume=1),
    ],
    ids=str,
)
def test_a_dry_blend_takes_no_liquid(liquid):
    with pytest.raises(InputError, match="dry blend"):
        blend("x", {"KNO3": 1, liquid: 1})


# --- price and hazards -------------------------------------------------------------------


def test_the_price_is_carried():
    nitrate, epsom = salt("KNO3", price_per_kg=2), salt("MgSO4·7H2O", price_per_kg=1)
    mixed = blend("x", {nitrate: 1, epsom: 3})
    assert mixed.price == pytest.approx(1.25)
    litre = stock("x", {nitrate: 100, epsom: 50}, volume=2)
    assert litre.price == pytest.approx((0.2 + 0.05) / 2)  # per litre
    assert litre.cost(2000) == pytest.approx(0.25)  # the whole stock


def test_without_one_price_there_is_none():
    assert blend("x", {salt("KNO3", price_per_kg=2): 1, "K2SO4": 1}).price is None
    assert stock("x", {salt("KNO3", price_per_kg=0): 1}, volume=1).price == 0


@pytest.mark.parametrize("make", [blend, lambda n, p: stock(n, p, volume=1)])
def test_hazards_are_carried(make):
    # codes by chemical_hazards rows: KNO3 H272 H319, boric acid H360FD, urea none
    assert make("x", {"KNO3": 1}).hazards == ("H272", "H319")
    assert make("x", {"KNO3": 1, "H3BO3": 1}).hazards == ("H272", "H319", "H360FD")
    assert make("x", {"KNO3": 1, "urea": 1}).hazards == ("H272", "H319")
    assert make("x", {"urea": 1, "K2SO4": 1}).hazards == ("none",)


@pytest.mark.parametrize("make", [blend, lambda n, p: stock(n, p, volume=1)])
def test_a_part_without_data_does_not_become_harmless(make):
    unlisted = analysed("unlisted", {"K": 10})
    assert make("x", {"urea": 1, unlisted: 1}).hazards == ()
    assert make("x", {unlisted: 1}).hazards == ()


def test_the_note_tells_the_parts():
    note = stock("A", {"KNO3": 100, "Epsom salt": 50}, volume=2).note
    for word in ("2 L", "KNO3 100", "magnesium sulfate heptahydrate 50"):
        assert word in note
    assert "KNO3 1" in blend("A", {"KNO3": 1}).note


# --- bad input ---------------------------------------------------------------------------


@pytest.mark.parametrize("value", NO_AMOUNT, ids=short)
def test_what_is_no_amount_is_refused(value):
    with pytest.raises(FormulateError, match="KNO3"):
        stock("A", {"KNO3": value}, volume=1)
    with pytest.raises(FormulateError, match="KNO3"):
        blend("A", {"KNO3": value})


@pytest.mark.parametrize(
    "volume",
    [
        0,
        -1,
        math.nan,
        math.inf,
        True,
        np.True_,
        None,
        "",
        "big",
        b"1",
        [],
        "3 g",
        10**400,
    ],
    ids=short,
)
def test_what_is_no_volume_is_refused(volume):
    with pytest.raises(FormulateError):
        stock("A", {"KNO3": 1}, volume=volume)


@pytest.mark.parametrize(
    "parts", [{}, None, 7, "KNO3", ["KNO3"], {"KNO3": 0}, {"KNO3": 0, "KCl": "0 kg"}]
)
def test_nothing_makes_nothing(parts):
    with pytest.raises(InputError):
        stock("A", parts, volume=1)
    with pytest.raises(InputError):
        blend("A", parts)


def test_a_part_may_be_zero():
    made = stock("A", {"KNO3": 100, "KCl": 0}, volume=1)
    assert made.amount("Cl") == 0


@pytest.mark.parametrize("number", [np.int64(100), np.float32(100), np.float64(100)])
def test_numbers_of_numpy_are_numbers(number):
    made = stock("A", {"KNO3": number}, volume=number)
    assert made.forms == pytest.approx(dict(stock("A", {"KNO3": 1}, volume=1).forms))


def test_every_fault_is_listed_at_once():
    parts = {"KNO3": -1, "calcium nitrate": 1, "zzz": 1, "KCl": "1 gal", "urea": True}
    with pytest.raises(InputError) as caught:
        stock("tank A", parts, volume=0)
    assert len(caught.value.faults) == 6
    assert all("tank A" in fault for fault in caught.value.faults)
    with pytest.raises(InputError) as caught:
        blend("base", parts | {"nitric acid (67 %)": 1})
    assert len(caught.value.faults) == 6
