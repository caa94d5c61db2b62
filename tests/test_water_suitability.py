"""What a water brings and what limits it, against published limits with their spread."""

import csv
from pathlib import Path

import pytest

from formulate.ingredients.water import water
from formulate.ingredients.water_report import (
    read_water,
    water_suitability,
)
from formulate.tables import read_table

PUBLISHED = Path(__file__).parent / "published"


def published(name):
    path = PUBLISHED / f"{name}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_limits_stand_as_published():
    """Every limit of our table with its published row; those left out are named."""
    left_out = {"magnesium / bicarbonate", "Ca + Mg + HCO3 clogging risk"}
    left_out |= {"Na accumulation ceiling (tomato root zone)"}
    names = {"Na": "sodium", "Cl": "chloride", "SO4": "sulfate", "Ca": "calcium"}
    names |= {"B": "boron", "F": "fluoride", "Fe": "iron", "Zn": "zinc"}
    names |= {"Mn": "manganese", "Cu": "copper", "NO3-N": "nitrate-N"}
    ours = {
        (names.get(r["parameter"], r["parameter"]), float(r["high"]), r["source_key"])
        for r in read_table("water_limits")
    }
    for row in published("water_quality_limits"):
        parameter = row["parameter"].replace("bicarbonate", "alkalinity")
        parameter = "sodium" if "uptake" in parameter else parameter
        if row["parameter"] not in left_out:
            assert (parameter, float(row["limit_high"]), row["source_key"]) in ours


def test_each_limit_names_its_source_and_the_spread():
    found = water_suitability(
        water({"Na": "45 mg/L", "Cl": "100 mg/L", "B": "0.6 mg/L"})
    )
    by_name = {notice.what.split()[0]: notice for notice in found.limits}
    chloride = by_name["chloride"]
    assert chloride.severity == "note"  # above the strictest, within the widest
    assert "mattson-peters-2014" in chloride.what
    assert "142 mg/L" in chloride.what  # 4 meq/L × 35.45, fao29-pmc
    assert "within 50 mg/L" in by_name["sodium"].what
    assert (by_name["boron"].limit, by_name["boron"].source_key) == (0.5, "ext-water")


@pytest.mark.parametrize(
    ("contents", "severity"),
    [
        ({"B": "0.4 mg/L"}, None),
        ({"B": "0.9 mg/L"}, "caution"),
        ({"B": "3.5 mg/L"}, "serious"),
        ({"EC": 0.6}, None),
        ({"EC": 3.5}, "serious"),
        ({"Fe": "0.5 mg/L"}, "note"),
        ({"F": "1.2 mg/L"}, "caution"),
        ({"Cu": "0.3 mg/L"}, "caution"),
        ({"NO3-N": "8 mg/L"}, "note"),  # it feeds
        ({}, None),
    ],
)
def test_the_severity_follows_the_published_classes(contents, severity):
    """FAO 29 calls B and EC above 3.0 severe (fao29-pmc); the rest by extension tables."""
    found = water_suitability(water(contents)).limits
    assert [notice.severity for notice in found] == ([severity] if severity else [])


def test_what_a_water_brings_is_told_in_its_notices():
    found = read_water({"Ca": "80 mg/L", "SO4": "30 mg/L"})
    brings = [notice.what for notice in found.notices if "brings" in notice.what]
    assert brings == [
        "the water brings, in mg/L: Ca 80.00, S 10.01"
    ]  # 30 × 32.06/96.06
    assert "brings" in str(found)
    assert "<pre>" in found._repr_html_()
