"""Dissolving: published recipes come out, and every atom weighed in is in the solution."""

import csv
import math
import re
from pathlib import Path

import numpy as np
import periodictable
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import FormulateError, InputError
from formulate.ingredients.dissolve import (
    displaced_millilitres,
    dissolve,
    measured_amounts,
)
from formulate.ingredients.ingredient import analysed
from formulate.ingredients.salts import acid, as_ingredient, catalogue, salt
from formulate.ingredients.stock import stock
from formulate.ingredients.water import water

ROOT = Path(__file__).parent
GREENHOUSE = "greenhouse calcium nitrate"
LIGANDS = {  # the acids without their protons, from textbooks
    "EDTA": "C10H12N2O8",
    "DTPA": "C14H18N3O10",
    "EDDHA": "C18H16N2O6",
    "HBED": "C20H20N2O6",
}
# fmt: off
FORMS = {  # what one millimole of each form holds
    "nitrate": "N", "nitrite": "N", "ammonium": "N", "urea": "CN2", "phosphate": "P",
    "potassium": "K", "calcium": "Ca", "magnesium": "Mg", "sulfate": "S",
    "chloride": "Cl", "sodium": "Na", "carbonate": "C", "silicate": "Si",
    "iron_ii": "Fe", "iron_iii": "Fe", "manganese": "Mn", "zinc": "Zn", "copper": "Cu",
    "nickel": "Ni", "cobalt": "Co", "borate": "B", "molybdate": "Mo", "fluoride": "F",
    "edta": "C10N2", "dtpa": "C14N3", "eddha": "C18N2", "hbed": "C20N2",
    "citrate": "C6",
}
# fmt: on
ELEMENTS = {
    symbol for atoms in FORMS.values() for symbol in re.findall("[A-Z][a-z]?", atoms)
}
TAP = {"Ca": 94.4, "Mg": 18.3, "Na": 13.9, "K": 2.3, "Cl": 24.4, "Si": 5.0, "F": 0.2}


def table(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def published(name):
    return table(ROOT / "published" / f"{name}.csv")


def mass(formula):
    return periodictable.formula(formula).mass


def molar(formula):
    """Return a stock of 1 mol/L of a salt."""
    return stock(f"1 mol/L {formula}", {formula: mass(formula)}, volume=1)


def half_digit(text):
    return 0.5 * 10.0 ** -len(text.partition(".")[2])


def same(one, other, rel=1e-12):
    return dict(one.forms) == pytest.approx(dict(other.forms), rel=rel, abs=1e-15)


# --- published recipes -------------------------------------------------------------------


@pytest.mark.parametrize(
    "row",
    [row for row in published("recipes_salts") if "1 mol/L stock" in row["item"]],
    ids=lambda row: f"{row['recipe']} {row['formula']} {row['gives_element']}",
)
def test_a_molar_stock_by_the_millilitre(row):
    # hershey-1997 and hoagland2-copy, read; mg/L recomputed in recipes_salts.csv with
    # atomic masses rounded to 0.001 g/mol, K 39.098 for 39.0983: 8e-6 of the value
    made = dissolve({molar(row["formula"]): f"{row['amount']} mL/L"}, volume=40)
    text = row["recomputed_mg_L"]
    allowed = half_digit(text) + 1e-5 * float(text)
    assert made.mg_l(row["gives_element"]) == pytest.approx(float(text), abs=allowed)


@pytest.mark.parametrize(
    ("recipe", "printed"),
    [
        # mg/L of the whole solutions as printed (wiki-hoagland; hershey-1997, read)
        ("hoagland1", "N 210 NH4-N 0 P 31 K 235 Ca 200 Mg 48.6 S 64"),
        ("hoagland2", "N 210 NH4-N 14 P 31 K 235 Ca 160 Mg 48.6 S 64"),
    ],
)
def test_a_whole_hoagland_solution(recipe, printed):
    rows = [row for row in published("recipes_salts") if row["recipe"] == recipe]
    doses = {row["formula"]: row["amount"] for row in rows}
    made = dissolve({molar(f): f"{dose} mL/L" for f, dose in doses.items()}, volume=20)
    words = printed.split()
    for key, text in zip(words[::2], words[1::2], strict=True):
        assert made.mg_l(key) == pytest.approx(float(text), abs=half_digit(text))
    assert made.unassigned_charge == pytest.approx(0, abs=1e-12)


def test_the_micronutrient_stock_of_hoagland():
    # 1 mL/L of a stock (hershey-1997, read); molybdic acid holds 85 % MoO3
    rows = [row for row in published("recipes_salts") if "micro" in row["recipe"]]
    grams = {row["formula"].split()[0]: float(row["amount"]) for row in rows}
    grams[salt("MoO3", purity_percent=85)] = grams.pop("MoO3")
    made = dissolve({stock("micro", grams, volume=1): "1 mL/L"}, volume=10)
    for row in rows:
        for text in (row["published_mg_L"], row["recomputed_mg_L"]):
            found = made.mg_l(row["gives_element"])
            assert found == pytest.approx(float(text), abs=half_digit(text))


def test_the_iron_stocks_of_hoagland():
    # hoagland2-copy, read: 24.9 g FeSO4·7H2O and 26.1 g EDTA per litre, 0.25 mL/L
    iron = stock("Fe", {"FeSO4·7H2O": 24.9, "C10H16N2O8": 26.1}, volume=1)
    made = dissolve({iron: "0.25 mL/L"}, volume=100)
    assert made.mg_l("Fe") == pytest.approx(1.2505, abs=0.00005)
    assert made.mmol_l("EDTA") == pytest.approx(made.mmol_l("Fe"), rel=0.01)


def example(key):
    (row,) = [r for r in published("worked_examples_salts") if r["id"] == key]
    return row["published_answer"]


NITROGEN_15 = analysed("15 % N", {"NO3-N": 15})
NITROGEN_20 = analysed("20 % N", {"NO3-N": 20})
MKP_GRADE = analysed("0-52-34", {"P2O5": 52, "K2O": 34})
NITRE_GRADE = analysed("13-0-46", {"NO3-N": 13, "K2O": 46})
CALCIUM_188 = analysed("18.8 % Ca", {"Ca": 18.8})


@pytest.mark.parametrize(
    ("key", "amounts", "nutrient", "relative", "absolute"),
    [
        # 75 mg/L for 1 oz in 100 US gal is 0.15 % high
        ("w-oz-cn-1", {NITROGEN_15: "1 oz/100 US gal"}, "N", 0.002, 0),
        ("w-1gL-cn", {GREENHOUSE: "1 g/L"}, "N", 0, 0.5),
        ("w-1gL-mkp-P", {MKP_GRADE: "1 g/L"}, "P", 0, 0.05),
        # 0.8301 stands for 0.83015: 0.006 % beside the last printed digit
        ("w-1gL-mkp-K", {MKP_GRADE: "1 g/L"}, "K", 0, 0.05 + 282.2 * 6e-5),
        ("w-1gL-kno3-K", {NITRE_GRADE: "1 g/L"}, "K", 0, 0.05 + 381.8 * 6e-5),
        ("w-cn-100N-Ca", {GREENHOUSE: "645 mg/L"}, "Ca", 0, 0.05),
    ],
)
def test_a_worked_example(key, amounts, nutrient, relative, absolute):
    answer = float(example(key))
    made = dissolve(amounts, volume=10)
    assert made.mg_l(nutrient) == pytest.approx(answer, rel=relative, abs=absolute)


@pytest.mark.parametrize(
    ("key", "bag", "unit", "nutrient", "wanted", "step"),
    [
        # the answer is a dose; half a step of it is what the result may differ by
        ("w-umass-20", NITROGEN_20, "oz/100 US gal", "N", 200, 0.5),
        ("w-umass-15", NITROGEN_15, "oz/100 US gal", "N", 200, 0.5),
        ("w-cn-100N", GREENHOUSE, "mg/L", "N", 100, 1),
        ("w-cn-200Ca", CALCIUM_188, "mg/L", "Ca", 200, 0.1),
    ],
)
def test_a_worked_dose_gives_what_was_wanted(key, bag, unit, nutrient, wanted, step):
    dose = float(example(key))
    made = dissolve({bag: f"{dose} {unit}"}, volume=10)
    assert made.mg_l(nutrient) == pytest.approx(wanted, rel=0.5 * step / dose)


def test_a_pound_in_a_thousand_gallons():
    # ext-general, memory: 120 mg/L of material, 0.15 % above the exact 119.83
    made = dissolve({"KCl": "1 lb/1000 US gal"}, volume="1000 US gal")
    material = made.mg_l("K") + made.mg_l("Cl")
    assert material == pytest.approx(float(example("w-lb-1000")), rel=0.002)


def test_a_third_of_an_ounce_in_five_gallons():
    # ph-mgmt-5, read: 0.33 oz of 20 % N in 5 US gal for 100 ppm, printed to 0.01 oz
    ounces = float(example("w-5gal"))
    made = dissolve({NITROGEN_20: f"{ounces} oz"}, volume="5 US gal")
    assert made.mg_l("N") == pytest.approx(100, rel=0.005 / ounces)


def test_common_practice_by_the_gallon():
    # common practice, no source: 2.4 g calcium nitrate and 1.2 g Epsom salt per US gal
    made = dissolve({GREENHOUSE: 2.4, "Epsom salt": 1.2}, volume="1 US gal")
    assert made.mg_l("Ca") == pytest.approx(120, abs=0.5)
    assert made.mg_l("Mg") == pytest.approx(31, abs=0.5)


def test_phosphorus_of_an_acid_dose():
    # acid-choices-table, read: 0.94 US fl oz of 75 % acid in 100 US gal bring 27.5 mg/L P
    (row,) = [
        r
        for r in published("acid_neutralisation")
        if r["table_quantity"].startswith("P ")
    ]
    made = dissolve(
        {"phosphoric acid (75 %)": "0.94 US fl oz/100 US gal"}, volume="100 US gal"
    )
    text = row["published_value"]
    assert made.mg_l("P") == pytest.approx(float(text), abs=half_digit(text))


# --- every way to say how much -----------------------------------------------------------


MILLIMOLE = mass("KNO3") / 1000
OUNCES_PER_100_GALLONS = 0.0748915170  # g/L: 28.349523125 g in 378.5411784 L


@pytest.mark.parametrize(
    "amount",
    [
        40 * MILLIMOLE,
        f"{40 * MILLIMOLE} g",
        f"{0.04 * MILLIMOLE:.9f} kg".replace(".", ","),
        f"{1000 * MILLIMOLE} mg/L",
        f"{1000 * MILLIMOLE} ppm",
        f"{MILLIMOLE} g/L",
        "1 mmol/L",
        "1000 µmol/L",
        f"{MILLIMOLE / OUNCES_PER_100_GALLONS} oz/100 US gal",
    ],
)
def test_one_amount_said_in_many_ways(amount):
    made = dissolve({"KNO3": amount}, volume=40)
    assert made.mmol_l("K") == pytest.approx(1, rel=1e-6)


def test_mmol_per_litre_looks_through_the_purity():
    bag = salt("KNO3", purity_percent=50)
    assert dissolve({bag: "2 mmol/L"}, volume=7).mmol_l("K") == pytest.approx(2)
    ((_, grams),) = measured_amounts({bag: "2 mmol/L"}, 7)
    assert grams == pytest.approx(2 * 7 * mass("KNO3") / 1000 * 2)


@pytest.mark.parametrize("amount", ["50 mL", 50, "0.05 L", "5 mL/L", "5 L/m3"])
def test_a_stock_is_poured(amount):
    made = dissolve({molar("KNO3"): amount}, volume=10)
    assert made.mmol_l("K") == pytest.approx(5)


@pytest.mark.parametrize("amount", ["10 mL", 14, "14 g", "1 mL/L", "1.4 g/L"])
def test_an_acid_is_poured_or_weighed(amount):
    made = dissolve({"nitric acid (67 %)": amount}, volume=10)  # 1.40 kg/L
    assert made.mmol_l("NO3") == pytest.approx(1400 * 0.67 / mass("HNO3"), rel=1e-9)


# --- laws --------------------------------------------------------------------------------


def weighed_elements():
    """Return name to element masses in one gram, from the raw catalogue."""
    shares = {}
    for row in table(ROOT.parent / "formulate" / "data" / "catalogue.csv"):
        if row["analysis"]:
            pairs = [item.rsplit(" ", 1) for item in row["analysis"].split(";")]
            found = {}
            for key, share in pairs:
                element = key.strip().removeprefix("NO3-").removeprefix("NH4-")
                found[element] = found.get(element, 0.0) + float(share) / 100
        else:
            formula = row["formula"].replace("·", "+")
            for name, atoms in LIGANDS.items():
                formula = formula.replace(name, atoms)
            share = float(row["percent"] or row["purity_percent"]) / 100
            fractions = periodictable.formula(formula).mass_fraction
            found = {el.symbol: share * f for el, f in fractions.items()}
        shares[row["name"]] = found
    return shares


WEIGHED = weighed_elements()
DENSITIES = {
    row["name"]: float(row["density"])
    for row in table(ROOT.parent / "formulate" / "data" / "catalogue.csv")
    if row["density"]
}
RECIPES = st.dictionaries(
    st.sampled_from(sorted(WEIGHED)), st.floats(0, 50), max_size=6
)
VOLUMES = st.floats(1, 1000)


def elements_of(made):
    """Return element to mg/L of a solution, by its forms."""
    found = dict.fromkeys(ELEMENTS, 0.0)
    for form, amount in made.forms.items():
        for symbol, count in re.findall(r"([A-Z][a-z]?)(\d*)", FORMS[form]):
            atom = periodictable.elements.symbol(symbol).mass
            found[symbol] += amount * int(count or 1) * atom
    return found


STOCK = {"potassium nitrate": 100, "magnesium sulfate heptahydrate": 50}  # g in a litre
TANK = stock("tank B", STOCK, volume=1)
POURED = st.floats(0, 500)


def weighed_in(element, recipe, millilitres):
    """Return the milligrams of an element in what was weighed and poured."""
    grams = [(recipe[name], name) for name in recipe]
    grams += [(STOCK[name] * millilitres / 1000, name) for name in STOCK]
    return math.fsum(1000 * g * WEIGHED[name].get(element, 0.0) for g, name in grams)


@given(RECIPES, POURED, VOLUMES, st.sampled_from([{}, TAP]))
def test_made_up_to_a_volume_every_atom_is_in_it(recipe, millilitres, volume, tap):
    made = dissolve(recipe | {TANK: millilitres}, volume=volume, water=tap)
    acids = set(recipe) & set(DENSITIES)
    litres = [recipe[name] / DENSITIES[name] / 1000 for name in acids]
    of_water = volume - math.fsum([*litres, millilitres / 1000])
    found = elements_of(made)
    for element in ELEMENTS:
        brought = weighed_in(element, recipe, millilitres)
        brought += tap.get(element, 0.0) * of_water
        assert found[element] * volume == pytest.approx(brought, rel=1e-12, abs=1e-12)


@given(RECIPES, POURED, VOLUMES)
def test_added_to_a_volume_every_atom_is_in_it(recipe, millilitres, volume):
    # fluoride comes with the water alone, so its thinning tells the final volume
    amounts = recipe | {TANK: f"{millilitres!r} mL"}
    made = dissolve(amounts, volume=volume, water=TAP, way="added to")
    found = elements_of(made)
    final = volume * TAP["F"] / found["F"]
    for element in ELEMENTS:
        brought = weighed_in(element, recipe, millilitres)
        brought += TAP.get(element, 0.0) * volume
        assert found[element] * final == pytest.approx(brought, rel=1e-12, abs=1e-12)


@given(RECIPES, VOLUMES, st.randoms(use_true_random=False))
def test_the_order_of_ingredients_does_not_matter(recipe, volume, shuffler):
    names = list(recipe)
    shuffler.shuffle(names)
    turned = {name: recipe[name] for name in names}
    for way in ("made up to", "added to"):
        one = dissolve(recipe, volume=volume, water="hard", way=way)
        other = dissolve(turned, volume=volume, water="hard", way=way)
        assert same(one, other)
        assert one.unassigned_charge == pytest.approx(other.unassigned_charge, abs=1e-9)


@given(RECIPES, VOLUMES, st.floats(0.01, 100))
def test_twice_everything_is_the_same_solution(recipe, volume, times):
    more = {name: grams * times for name, grams in recipe.items()}
    for way in ("made up to", "added to"):
        one = dissolve(recipe, volume=volume, water="hard", way=way)
        assert same(dissolve(more, volume=volume * times, water="hard", way=way), one)


@given(RECIPES, VOLUMES)
def test_salts_of_known_formula_bring_no_open_charge(recipe, volume):
    known = {name: g for name, g in recipe.items() if catalogue()[name].formula}
    assert dissolve(known, volume=volume).unassigned_charge == 0.0


# --- volumes -----------------------------------------------------------------------------


def test_made_up_to_leaves_less_room_for_water_and_added_to_does_not():
    tap = {"Cl": 100}
    acid_dose = {"nitric acid (67 %)": "100 mL"}
    made_up = dissolve(acid_dose, volume=1, water=tap)
    added = dissolve(acid_dose, volume=1, water=tap, way="added to")
    assert made_up.mg_l("Cl") == pytest.approx(90)
    assert added.mg_l("Cl") == pytest.approx(100 / 1.1)
    assert made_up.mmol_l("NO3") == pytest.approx(added.mmol_l("NO3") * 1.1)


@pytest.mark.parametrize(
    ("formula", "volume"),
    [
        # partial molar volumes at 25 °C in mL/mol: sums of ions with H+ as 0
        # (K 9.0, NO3 29.5, Mg -21.9, SO4 14.9 of phreeqc.dat, computed; water 18.07, memory)
        ("KNO3", 9.0 + 29.5),
        ("MgSO4·7H2O", -21.9 + 14.9 + 7 * 18.07),
        ("MgSO4", -21.9 + 14.9),
        ("K2SO4", 2 * 9.0 + 14.9),
    ],
)
def test_a_mole_of_a_salt_swells_the_water_by_its_partial_molar_volume(formula, volume):
    grams = mass(formula.replace("·", "+"))
    found = displaced_millilitres(as_ingredient(formula), grams)
    assert found == pytest.approx(volume, rel=1e-9)
    assert displaced_millilitres(as_ingredient(formula), 0) == 0


def test_a_catalogue_name_is_an_ingredient_here_too():
    assert displaced_millilitres("KNO3", 1) == displaced_millilitres(salt("KNO3"), 1)


def test_salt_added_to_water_ends_a_little_larger():
    # 101.1 g of KNO3 in 1 L of water make about 1.04 L: density tables give 1.060 kg/L for
    # 9.2 % KNO3 (handbooks, memory), so (1000 * 0.997 + 101.1)/1060 = 1.036 L
    made = dissolve({"KNO3": 101.102}, volume=1, way="added to")
    assert 1000 / made.mmol_l("K") == pytest.approx(1.036, abs=0.005)


def test_no_room_for_the_water_is_refused():
    with pytest.raises(InputError, match="liquids alone"):
        dissolve({"nitric acid (67 %)": "2 L"}, volume=1)
    brim = dissolve({molar("KNO3"): "1 L"}, volume=1, water={"Cl": 100})
    assert brim.mmol_l("K") == pytest.approx(1000)
    assert brim.mg_l("Cl") == 0


@pytest.mark.parametrize("way", ["made up to", "added to"])
def test_more_salt_than_water_is_refused_in_words_a_grower_knows(way):
    with pytest.raises(FormulateError) as caught:
        dissolve({"MgSO4": 1e6}, volume=1, way=way)
    assert "is negative" not in str(caught.value)


@pytest.mark.parametrize(
    "amount",
    ["1 US tsp", "2 US tbsp", "1 US cup", "1 metric tsp", "5 mL", "1 L", "5 mL/L"],
)
def test_a_spoon_of_a_solid_is_refused_with_the_reason(amount):
    reason = r"(by grain and packing|of a solid is a range).*give grams"
    with pytest.raises(InputError, match=reason):
        dissolve({"KNO3": amount}, volume=10)


def test_a_spoon_of_a_liquid_is_a_volume():
    spoon = dissolve({molar("KNO3"): "1 metric tsp"}, volume=1)
    assert spoon.mmol_l("K") == pytest.approx(5)


def test_what_a_stock_and_an_analysis_cannot_tell_is_asked_for():
    with pytest.raises(FormulateError, match="no single compound"):
        dissolve({GREENHOUSE: "1 mmol/L"}, volume=1)
    with pytest.raises(FormulateError, match="no single compound"):
        dissolve({molar("KNO3"): "1 mmol/L"}, volume=1)
    with pytest.raises(FormulateError, match="density"):
        dissolve({acid("HNO3", percent=50): "1 mL"}, volume=1)


# --- edges and bad input -----------------------------------------------------------------


def test_nothing_in_water_is_the_water():
    tap = water("rain")
    for nothing in ({}, {"KNO3": 0}, {"KNO3": "0 g/L"}):
        made = dissolve(nothing, volume=3, water=tap)
        assert made.ph == tap.ph
        for key, amount in tap.solution.forms.items():
            assert made.forms[key] == pytest.approx(amount, rel=1e-15)
    assert dissolve({"KNO3": 1}, volume=3, water=tap).ph is None
    assert dict(dissolve({}, volume=3).forms) == {}


NO_NUMBER = [-1, math.nan, math.inf, True, np.True_, None, [], 1j, b"1", 10**400, ""]
NO_AMOUNT = ["some", "-1 g", "1,000 g", "1e400 g", "5 mS/cm", "1 gal", "3 parsec"]


def short(value):
    return repr(value)[:16]


@pytest.mark.parametrize("value", [*NO_NUMBER, *NO_AMOUNT], ids=short)
def test_what_is_no_amount_is_refused(value):
    with pytest.raises(FormulateError, match="KNO3"):
        dissolve({"KNO3": value}, volume=1)


@pytest.mark.parametrize("volume", [*NO_NUMBER, 0, "3 g"], ids=short)
def test_what_is_no_volume_is_refused(volume):
    for work in (dissolve, lambda a, *, volume: measured_amounts(a, volume)):
        with pytest.raises(FormulateError):
            work({"KNO3": "1 g/L"}, volume=volume)


@pytest.mark.parametrize("amounts", [None, 7, True, "KNO3", ["KNO3"], [("KNO3", 1)]])
def test_what_is_no_recipe_is_refused(amounts):
    with pytest.raises(InputError, match="dissolve"):
        dissolve(amounts, volume=1)


@pytest.mark.parametrize("value", ["", "filled to", None, 7, "Made up to"])
def test_what_is_no_way_lists_the_two(value):
    with pytest.raises(InputError, match="made up to or added to"):
        dissolve({"KNO3": 1}, volume=1, way=value)


@pytest.mark.parametrize(
    "tap", ["swimming pool", 7, {"Zz": 1}, {"alkalinity": 5}, True]
)
def test_what_is_no_water_is_refused(tap):
    with pytest.raises(FormulateError, match="water"):
        dissolve({"KNO3": 1}, volume=1, water=tap)


@pytest.mark.parametrize("number", [np.int64(2), np.float32(2), np.float64(2)])
def test_numbers_of_numpy_are_numbers(number):
    made = dissolve({"KNO3": number}, volume=number)
    assert made.mmol_l("K") == pytest.approx(1000 / mass("KNO3"))
    assert type(made.mmol_l("K")) is float


def test_every_fault_is_listed_at_once():
    faulty = {"KNO3": -1, "calcium nitrate": 1, "zzz": 1, "KCl": "1 gal", "urea": True}
    with pytest.raises(InputError) as caught:
        dissolve(faulty, volume=1)
    assert len(caught.value.faults) == 5
    with pytest.raises(InputError) as caught:
        dissolve(faulty, volume=0, water="swimming pool", way="filled to")
    assert len(caught.value.faults) == 8
