"""Saturation indices: measured solubility of gypsum, other databases, names."""

import csv
from pathlib import Path

import numpy as np
import phreeqc_oracle as oracle
import pytest
from random_feeds import RANGES, feeds
from solids_oracle import minerals_of, phase_name, phases_text
from test_conductivity import molal
from test_speciation import per_kg

from formulate.chemistry.solids import mineral, mineral_names
from formulate.chemistry.speciation import speciate
from formulate.errors import UnknownName
from formulate.stoichiometry.formula import parse_formula
from formulate.stoichiometry.solution import Solution, solution

PUBLISHED = Path(__file__).parent / "published"
with (PUBLISHED / "gypsum_solubility_electrolytes.csv").open(encoding="utf-8") as file:
    GYPSUM = [
        row
        for row in csv.DictReader(file)
        if row["how_known"] == "read" and float(row["temperature_C"]) <= 50
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


def test_with_its_constants_indices_are_those_of_phreeqc():
    """All phases of Amm.dat that the model reaches; 300 feeds with traces, pH 5 to 8."""
    contents = feeds(300, 81, tuple(RANGES))
    ph = np.random.default_rng(82).uniform(5.0, 8.0, 300)
    known = oracle.constants_of("Amm.dat")
    state = speciate(Solution(contents), ph=ph, constants=known, activity="wateq")
    redox = (
        "Fe(OH)3(a)",
        "Goethite",
        "Hematite",
        "Jarosite-K",
    )  # iron(III) from iron(II)
    phases = [p for p in minerals_of("Amm.dat") if p.name not in (*redox, "H2O(g)")]
    phases = [p for p in phases if p.name != "Amm(g)"]
    engine = oracle.engine(oracle.database("Amm.dat"))
    text = oracle.solutions_text(per_kg(state), ph=ph)
    terms = [f'SI("{phase.name}")' for phase in phases]
    found, compared = oracle.run(engine, text, terms), 0
    for phase, values in zip(phases, found.values(), strict=True):
        theirs = np.array(values, float)
        if np.all(theirs < -900):
            continue
        ours = state.saturation_index(phase)
        compared += 1
        assert np.abs(ours - theirs).max() < 0.001, phase.name
    assert compared > 20


def test_our_indices_are_near_those_of_phreeqc():
    """500 feeds; gypsum, calcite, brushite, struvite within 0.05, hydroxyapatite 0.15."""
    found = off_phreeqc(500, 83)
    for name, (low, high) in found.items():
        bar = 0.15 if name == "hydroxyapatite" else 0.05
        assert max(abs(low), abs(high)) < bar, name


def off_phreeqc(count, seed):
    """Return solid to the least and the most that our index is above the engine's."""
    contents = feeds(count, seed)
    ph = np.random.default_rng(seed + 1).uniform(5.0, 7.0, count)
    state = speciate(Solution(contents), ph=ph)
    engine = oracle.engine(oracle.database("Amm.dat"))
    engine.RunString(phases_text())
    names = (
        "gypsum",
        "calcite",
        "brushite",
        "struvite",
        "hydroxyapatite",
        "newberyite",
    )
    terms = [f'SI("{phase_name(name)}")' for name in names]
    found = oracle.run(engine, oracle.solutions_text(per_kg(state), ph=ph), terms)
    apart = {
        name: state.saturation_index(name) - np.array(theirs)
        for name, theirs in zip(names, found.values(), strict=True)
    }
    return {name: (v.min(), v.max()) for name, v in apart.items()}


@pytest.mark.parametrize("name", mineral_names())
def test_a_reaction_takes_the_atoms_of_its_formula(name):
    """Mass: forms, waters and protons of the reaction weigh what the formula weighs."""
    solid = mineral(name)
    read = parse_formula(solid.formula.removesuffix("(g)").replace(":", "·"))
    assert solid.molar_mass == pytest.approx(read.molar_mass, rel=1e-9)
    assert solid.crystal_water == read.water
    for form, count in solid.forms.items():
        assert count > 0, form
    assert solid.reason
    assert solid.role in ("matters", "trace", "harmless", "soluble", "gas")
