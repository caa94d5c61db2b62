"""Saturation indices: measured solubility of gypsum, other databases, names."""

import csv
from pathlib import Path

import numpy as np
import pytest
from test_conductivity import molal

from formulate.chemistry.solids import mineral, mineral_names
from formulate.chemistry.speciation import speciate
from formulate.errors import UnknownName
from formulate.stoichiometry.solution import Solution, solution

PUBLISHED = Path(__file__).parent / "published"
with (PUBLISHED / "gypsum_solubility_electrolytes.csv").open(encoding="utf-8") as file:
    GYPSUM = [
        row
        for row in csv.DictReader(file)
        if row["how_known"] == "read" and float(row["temperature_C"]) <= 45
    ]


def saturated(row):
    """Return the state of a solution measured to be saturated with gypsum."""
    gypsum = float(row["gypsum_dissolved_mol_kgw"])
    salt = float(row["salt_mol_kgw"] or 0)
    held = {"Ca": gypsum, "SO4": gypsum}
    if row["salt"] == "NaCl":
        held |= {"Na": salt, "Cl": salt}
    if row["salt"] == "Na2SO4":
        held |= {"Na": 2 * salt, "SO4": gypsum + salt}
    return speciate(molal(held, float(row["temperature_C"])), ph=7.0)


@pytest.mark.parametrize(
    "row",
    [r for r in GYPSUM if r["salt"] == "none"],
    ids=lambda r: f"{r['temperature_C']} °C",
)
def test_water_saturated_with_gypsum_reads_zero(row):
    """Marshall & Slusher 1966, Blount & Dickson 1973 (usgs-gypsum-tests, read; scatter 4 %)."""
    assert saturated(row).saturation_index("gypsum") == pytest.approx(0.0, abs=0.035)


def test_in_brines_the_index_stays_near_zero():
    """To an ionic strength of 0.5: the worst 0.113, beside sodium sulfate at 0.5 °C."""
    rows = [r for r in GYPSUM if r["salt"] != "none"]
    rows = [r for r in rows if float(r["formal_ionic_strength"]) < 0.5]
    found = np.array([saturated(row).saturation_index("gypsum") for row in rows])
    assert len(found) > 10
    assert np.abs(found).max() < 0.12
    assert abs(found.mean()) < 0.05


def test_calcite_in_water_open_to_the_air():
    """0.5 mmol/L Ca at 420 ppm is about saturated; its pH by hand.

    pH = pK1 + pKH − lg p + lg(HCO3- γ) with 6.352, 1.468 and γ 0.965 at I = 1.5 mmol/L.
    """
    by_hand = 6.352 + 1.468 - np.log10(420e-6) + np.log10(1.0e-3 * 0.965)
    state = speciate(Solution({"calcium": 0.5}), air_co2_ppm=420)
    assert state.saturation_index("calcite") == pytest.approx(0.0, abs=0.1)
    assert state.ph == pytest.approx(by_hand, abs=0.02)


def test_the_pressure_of_carbon_dioxide_is_what_was_asked_for():
    state = speciate(Solution({"calcium": 0.5}), air_co2_ppm=420)
    pressure = state.saturation_index("carbon dioxide gas")
    assert pressure == pytest.approx(np.log10(420e-6), abs=1e-4)


def test_brushite_is_near_in_a_strong_feed_and_far_in_a_weak_one():
    """The practical test of phosphate; a feed at pH 6 stays below, at pH 7.5 it does not."""
    feed = solution({"Ca": 4.5, "P": 2.0, "K": 8, "NO3": 15})
    assert -1.0 < speciate(feed, ph=6.0).saturation_index("brushite") < 0.0
    assert speciate(feed, ph=7.5).saturation_index("brushite") > 0.2


def test_names_are_told_where_one_is_unknown():
    assert len(mineral_names()) > 20
    with pytest.raises(UnknownName, match="gypsum"):
        mineral("Gyps")
    assert mineral("struvite").source_key == "ronteltap-2007"
