"""Wordings and units of water reports in four languages."""

import pytest

from formulate.ingredients.report_units import (
    kinds_of,
    plain_words,
    unit_in_report,
)
from formulate.ingredients.report_words import name_in_report
from formulate.stoichiometry.nutrients import form_names, nutrient
from formulate.stoichiometry.units import unit
from formulate.tables import read_table

NAMES = [  # what is printed; quantity and basis, by the meaning of the words
    ("Calcium (Ca)", "calcium", "Ca"),
    ("Ca2+", "calcium", "Ca"),
    ("Ca²⁺", "calcium", "Ca"),
    ("Calcium Ca++", "calcium", "Ca"),
    ("Kalzium", "calcium", "Ca"),
    ("Ca als CaO", "calcium", "CaO"),
    ("Calcium hardness", "calcium", "CaCO3"),
    ("Magnesium (als CaCO3)", "magnesium", "CaCO3"),
    ("SO4 2-", "sulfate", "SO4"),
    ("Sulfat (SO₄²⁻)", "sulfate", "SO4"),
    ("Sulfate Sulfur (SO4-S)", "sulfate", "S"),
    ("Nitrat", "nitrate", "NO3"),
    ("NO3-", "nitrate", "NO3"),
    ("Nitrate as N", "nitrate", "NO3-N"),
    ("Nitrat-N", "nitrate", "NO3-N"),
    ("N-NO3", "nitrate", "NO3-N"),
    ("Nitrogen, Nitrate (as N)", "nitrate", "NO3-N"),
    ("azote nitrique", "nitrate", "NO3-N"),
    ("Nitrates (en NO3)", "nitrate", "NO3"),
    ("Nitratos", "nitrate", "NO3"),
    ("Nitrate + Nitrite (as N)", "oxidised_nitrogen", "N"),
    ("Ammonium (NH4+)", "ammonium", "NH4"),
    ("Ammoniumstickstoff", "ammonium", "NH4-N"),
    ("Amonio", "ammonium", "NH4"),
    ("Phosphore total (en P2O5)", "phosphate", "P2O5"),
    ("Phosphor (P)", "phosphate", "P"),
    ("o-Phosphat", "phosphate", "PO4"),
    ("Kieselsäure als SiO2", "silicate", "SiO2"),
    ("Silicium", "silicate", "Si"),
    ("Eisen, gesamt", "iron", "Fe"),
    ("Iron, Total", "iron", "Fe"),
    ("Hierro", "iron", "Fe"),
    ("Kalium als K2O", "potassium", "K2O"),
    ("Bor", "borate", "B"),
    ("Chlorures", "chloride", "Cl"),
    ("Cloruros", "chloride", "Cl"),
    ("Fluorid", "fluoride", "F"),
    ("Hydrogencarbonat (HCO3-)", "bicarbonate", "HCO3"),
    ("Hydrogénocarbonates", "bicarbonate", "HCO3"),
    ("Bicarbonatos", "bicarbonate", "HCO3"),
    ("Bicarbonate as CaCO3", "bicarbonate", "CaCO3"),
    ("Total Alkalinity as CaCO3", "alkalinity", "CaCO3"),
    ("Alkalinity (as HCO3)", "alkalinity", "HCO3"),
    ("Säurekapazität bis pH 4,3", "alkalinity", ""),
    ("Säurekapazität (m-Wert)", "alkalinity", ""),
    ("Säurekapazität bis pH-Wert 4,3 KS4,3", "alkalinity", ""),
    ("Titre alcalimétrique complet (TAC)", "alkalinity", ""),
    ("Alcalinidad total", "alkalinity", ""),
    ("Säurekapazität bis pH 8,2", "p_alkalinity", ""),
    ("Karbonathärte", "carbonate_hardness", ""),
    ("Gesamthärte", "hardness", ""),
    ("Summe Erdalkalien", "hardness", ""),
    ("Dureza total (mg/L CaCO3)", "hardness", ""),
    ("Titre hydrotimétrique (TH)", "hardness", ""),
    ("pH-Wert (vor Ort)", "pH", ""),
    ("Résidu sec à 180°", "TDS", ""),
    ("Abdampfrückstand", "TDS", ""),
    ("Kationensumme (berechnet)", "cation_sum", ""),
    ("Ionenbilanz", "ion_balance", ""),
    ("Wassertemperatur", "temperature", ""),
    ("free chlorine", "other", ""),
    ("pH (Calcitsättigung)", "other", ""),
    ("berechneter pH-Wert", "other", ""),
    ("Sodium Adsorption Ratio (SAR)", "other", ""),
    ("Basekapazität bis pH 8,2", "other", ""),
]


@pytest.mark.parametrize(("text", "quantity", "basis"), NAMES)
def test_a_name_means_its_quantity_on_its_basis(text, quantity, basis):
    said = name_in_report(text)
    assert (said.quantity, said.basis) == (quantity, basis)


@pytest.mark.parametrize(
    "text",
    [
        "Nitrate (as NH4)",
        "Calcium as nonsense",
        "Säurekapazität bis pH",
        "Leitfähigkeit bei",
        "Organic nitrogen (TKN)",
        "Calcium carbonate saturation",
        "Die Gesamthärte beträgt",
        "",
        "x" * 5000,
    ],
)
def test_a_name_that_says_something_else_is_not_understood(text):
    said = name_in_report(text)
    assert said is None or said.quantity == "other"


@pytest.mark.parametrize(
    ("text", "temperature", "unit_name"),
    [
        ("Leitfähigkeit bei 20 °C", 20.0, None),
        ("elektrische Leitfähigkeit bei 25oC", 25.0, None),
        ("Leitfähigkeit (20°)", 20.0, None),
        ("Specific Conductance @ 25C", 25.0, None),
        ("Conductivité à 20 °C (µS/cm)", 20.0, "uS/cm"),
    ],
)
def test_a_conductivity_carries_its_temperature(text, temperature, unit_name):
    said = name_in_report(text)
    assert (said.quantity, said.temperature) == ("EC", temperature)
    assert (said.unit and said.unit.name) == unit_name


@pytest.mark.parametrize(
    ("text", "name", "species"),
    [
        ("mg/l", "mg/L", ""),
        ("mg.L-1", "mg/L", ""),
        ("mg L⁻¹", "mg/L", ""),
        ("mg N/L", "mg/L", "N"),
        ("mgNO3/l", "mg/L", "NO3"),
        ("mg/l NO3", "mg/L", "NO3"),
        ("HCO31- mg/l", "mg/L", "HCO3"),
        ("mg/L (ppm)", "mg/L", ""),
        ("µgFe/l", "ug/L", "Fe"),
        ("mg CaCO3/L", "mg/L as CaCO3", ""),
        ("mg/L as CaCO3", "mg/L as CaCO3", ""),
        ("mval/l", "meq/L", ""),
        ("mmol(eq)/l", "meq/L", ""),
        ("µS cm-1", "uS/cm", ""),
        ("umhos/cm", "uS/cm", ""),
        ("° dH", "German degree", ""),
        ("ºfH", "French degree", ""),
        ("grains per gallon", "grain/US gal", ""),
        ("x 10^-5 S/cm", "10^-5 S/cm", ""),
    ],
)
def test_units_of_reports(text, name, species):
    known, told = unit_in_report(text)
    assert (known.name, told) == (name, species)


def test_a_degree_sign_means_what_fits_the_quantity():
    assert unit_in_report("°F", "hardness")[0].name == "French degree"
    assert unit_in_report("°F", "temperature")[0].name == "°F"
    assert unit_in_report("K", "temperature")[0].name == "K"


@pytest.mark.parametrize(
    "text", ["NTU", "m-1", "KBE/ml", "mmol/°dH", "ml/l", "", "=1+1"]
)
def test_other_units_are_no_units_here(text):
    assert unit_in_report(text) is None


def test_every_word_of_the_table_has_a_meaning_that_exists():
    told = {*form_names(), "iron", "other", "alkalinity", "p_alkalinity", "bicarbonate"}
    told |= {"carbonate", "hydroxide", "hardness", "carbonate_hardness"}
    told |= {"noncarbonate_hardness", "oxidised_nitrogen", "pH", "EC", "TDS"}
    told |= {"temperature", "cation_sum", "anion_sum", "ion_balance"}
    for row in read_table("water_words"):
        if row["kind"] == "quantity":
            assert row["meaning"] in told, row["word"]
            if row["meaning"] != "other":  # the word itself must lead there
                assert name_in_report(row["word"]).quantity == row["meaning"]
            if row["basis"] not in ("", "CaCO3", "OH"):
                assert nutrient(row["basis"]).weights
        if row["kind"] == "unit":
            assert unit(row["meaning"], *kinds_of("calcium"), *KINDS).name
        assert plain_words(row["word"]) or row["word"]


KINDS = ("conductivity", "temperature", "mass_fraction")
