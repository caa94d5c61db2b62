"""Solubility: published rows, hydrates by their balance, spread, range; nothing guessed."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulate.errors import FormulateError, InputError, MissingData
from formulate.ingredients.ingredient import analysed
from formulate.ingredients.salts import acid, as_ingredient, catalogue, salt
from formulate.ingredients.solubility import solubility, solubility_formulas
from formulate.ingredients.stock import blend, stock
from formulate.stoichiometry.formula import parse_formula
from formulate.tables import read_table

PUBLISHED = Path(__file__).parent / "published"
BLOG = "fertigation-solubility-blog"
URLS = {"urea": "CO(NH2)2"}
# rows that are known to be wrong, explained one by one below
SHIFTED, PERCENTS = ("KNO3", BLOG), ("KCl", BLOG)
LESS_THAN_COLDER = ("KH2PO4", "5", BLOG)
WATERLESS = ("Ca(NO3)2", "Ca(NO3)2.4H2O", "calcium-nitrate-infobox")
GREENHOUSE = "calcium nitrate, greenhouse grade (15.5-0-0, 19 % Ca)"


def published(name):
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def rows(*sources):
    found = published("salt_solubility")
    return [row for row in found if not sources or row["source_key"] in sources]


def is_wrong(row):
    key, cold = row["source_key"], row["temperature_C"]
    return (
        (row["salt_anhydrous"], key) in (SHIFTED, PERCENTS)
        or (row["salt_anhydrous"], cold, key) == LESS_THAN_COLDER
        or (row["salt_anhydrous"], row["solid_sold"], key) == WATERLESS
    )


def name_of(row):
    return f"{row['solid_sold']} {row['temperature_C']} {row['source_key']}"


def grams(formula, temperature):
    return solubility(formula, float(temperature)).per_100g_water


# --- published rows ----------------------------------------------------------------------


def test_there_are_rows_to_check():
    assert len(rows("crc-solubility")) >= 130
    assert len([row for row in rows() if row["check"] == "yes"]) == 4


@pytest.mark.parametrize("row", rows("crc-solubility"), ids=name_of)
def test_the_handbook_is_reproduced_for_the_waterless_and_the_sold_solid(row):
    # CRC Handbook 98th ed., read; the published copy keeps four digits, the bar is 1 %
    cold = row["temperature_C"]
    waterless = solubility(row["salt_anhydrous"], float(cold))
    printed = float(row["mass_percent_anhydrous"])
    assert waterless.mass_percent == pytest.approx(printed, rel=1e-9)
    expected = float(row["g_anhydrous_per_100g_water"])
    assert waterless.per_100g_water == pytest.approx(expected, rel=0.001)
    expected = float(row["g_sold_solid_per_100g_added_water"])
    assert grams(row["solid_sold"], cold) == pytest.approx(expected, rel=0.001)


@pytest.mark.parametrize("row", published("solubility_second_table"), ids=str)
def test_a_second_handbook_table_agrees_between_the_temperatures_of_the_first(row):
    # CRC Handbook 98th ed., table of molalities, read: 15 and 35 °C stand in no row of the
    # table that gives the value, which is read off a straight line there. The two tables
    # themselves differ by 1.2 % for ammonium chloride and 1.1 % for calcium nitrate at
    # 25 °C. Zinc sulfate changes its solid at 39 °C: its row at 40 °C is not copied.
    expected = float(row["mol_per_kg_water"]) * parse_formula(row["salt"]).molar_mass
    allowed = 0.012 if row["salt"] in ("NH4Cl", "Ca(NO3)2") else 0.004
    found = grams(row["salt"], row["temperature_C"])
    assert found == pytest.approx(expected / 10, rel=allowed)


OTHERS = [
    row
    for row in rows()
    if row["source_key"] != "crc-solubility"
    and not is_wrong(row)
    and "EDTA" not in row["solid_sold"]
    and "Fe-" not in row["solid_sold"]
]


@pytest.mark.parametrize("row", OTHERS, ids=name_of)
def test_other_sources_lie_within_the_spread_that_is_told(row):
    # encyclopaedia boxes, a blog, a NIST equation, a teaching page (read), handbooks
    # (memory); half a per cent for the digits printed
    formula = URLS.get(row["salt_anhydrous"], row["salt_anhydrous"])
    found = solubility(formula, float(row["temperature_C"]))
    value = float(row["g_anhydrous_per_100g_water"])
    assert found.low * 0.995 <= value <= found.high * 1.005


# --- rows that disagree, and why (discrepancies.md 5 and 6) ------------------------------


def test_the_potassium_nitrate_row_of_the_blog_stands_one_column_too_far():
    # printed at 5, 10, 20, 25, 30, 40 °C; belongs to 0, (5), 10, 20, (25), 30 °C
    printed = {row["temperature_C"]: row for row in rows(BLOG) if "KNO3" in row["note"]}
    values = {t: float(row["g_anhydrous_per_100g_water"]) for t, row in printed.items()}
    for at, belongs in (("5", 0), ("20", 10), ("25", 20), ("40", 30)):
        assert grams("KNO3", belongs) == pytest.approx(values[at], rel=0.03)
        assert grams("KNO3", at) > values[at] * 1.2


def test_the_potassium_chloride_row_of_the_blog_is_per_solution():
    for row in rows(BLOG):
        if row["salt_anhydrous"] == "KCl":
            per_solution = float(row["g_anhydrous_per_100g_water"])
            found = solubility("KCl", float(row["temperature_C"]))
            assert found.mass_percent == pytest.approx(per_solution, rel=0.025)


def test_the_figure_printed_for_calcium_nitrate_tetrahydrate_is_the_waterless_salt():
    # 129 g per 100 mL at 20 °C in an encyclopaedia box; as tetrahydrate about 440
    assert grams("Ca(NO3)2", 20) == pytest.approx(129, rel=0.02)
    assert grams("Ca(NO3)2·4H2O", 20) == pytest.approx(443.5, rel=0.001)


def test_both_figures_for_epsom_salt_are_one():
    # 71 g per 100 mL by common tables: of finished solution, whose density is about
    # 1.295 kg/L (memory); 105.8 g per 100 g of added water
    found = grams("MgSO4·7H2O", 20)
    per_100ml = found / (100 + found) * 129.5
    assert found == pytest.approx(105.8, rel=0.001)
    assert per_100ml == pytest.approx(67, abs=1)


def test_a_value_at_5_degrees_that_is_less_than_at_0_is_not_used():
    wrong = [row for row in rows(BLOG) if is_wrong(row)]
    assert any(row["salt_anhydrous"] == "KH2PO4" for row in wrong)
    assert solubility("KH2PO4", 5).low > 13.3


@pytest.mark.parametrize(
    ("formula", "temperature", "value", "tolerance"),
    [
        ("KNO3", 20, 31.6, 0.011),  # kno3-curve, read; the handbook has 31.9
        ("K2SO4", 20, 11.1, 0.006),  # k2so4-page, read
        ("KH2PO4", 20, 22.6, 0.013),  # mkp-infobox, read; the handbook has 22.3
        ("CO(NH2)2", 20, 106, 0.001),  # blog, read
        ("Ca(OH)2", 20, 0.173, 0.001),  # handbooks, memory
        ("CaSO4·2H2O", 25, 0.26, 0.01),  # gypsum 2.6 g/L, handbooks
    ],
)
def test_figures_that_growers_know(formula, temperature, value, tolerance):
    assert grams(formula, temperature) == pytest.approx(value, rel=tolerance)


# --- laws --------------------------------------------------------------------------------

SOLIDS = [entry for entry in catalogue().values() if not entry.is_liquid]


def known(temperature):
    for entry in SOLIDS:
        try:
            yield entry, solubility(entry, temperature)
        except MissingData:
            continue


def test_most_solids_of_the_catalogue_have_an_entry_and_the_rest_say_so():
    found = {entry.name for entry, _ in known(20)}
    assert len(found) >= 75
    for entry in SOLIDS:
        if entry.name not in found:
            with pytest.raises(MissingData, match="does not mean that it dissolves"):
                solubility(entry, 20)


@pytest.mark.parametrize("temperature", [0, 5, 10, 22.5, 25, 30])
def test_the_dissolved_solid_gives_back_the_solution_of_the_table(temperature):
    # salt in salt out: x g of the solid bring x - water g of salt into 100 + x g
    for entry, found in known(temperature):
        if not entry.formula:
            continue
        read = parse_formula(entry.formula)
        water = read.water * parse_formula("H2O").molar_mass / read.molar_mass
        x = found.per_100g_water
        share = x * (1 - water) / (100 + x)
        assert 100 * share == pytest.approx(found.mass_percent, rel=1e-9)


@given(st.floats(0, 100), st.sampled_from(solubility_formulas()))
def test_the_value_lies_within_its_spread_and_is_told_twice_alike(temperature, formula):
    try:
        found = solubility(formula, temperature)
    except MissingData:
        return
    assert found.low <= found.per_100g_water <= found.high
    assert 0 < found.mass_percent < 100
    assert found == solubility(formula, temperature)
    assert found.per_litre_water == pytest.approx(10 * found.per_100g_water)
    low, high = found.table_range
    outside = [n for n in found.notices if n.severity == "caution"]
    assert bool(outside) is not (low <= temperature <= high)


@pytest.mark.parametrize("formula", solubility_formulas())
def test_at_the_temperatures_of_its_table_the_printed_value_comes_back(formula):
    for row in read_table("solubility"):
        if row["formula"] != formula or row["basis"] != "mass percent":
            continue
        found = solubility(formula, row.number("temperature"))
        if found.source_key == row["source_key"]:
            x = found.per_100g_water
            printed = 100 * x / (100 + x) if "·" in formula else found.mass_percent
            assert printed == pytest.approx(row.number("value"), rel=1e-9)


def test_a_value_between_lies_on_the_straight_line():
    # CRC Handbook 98th ed., read: potassium nitrate 24.2 % at 20 °C, 27.7 % at 25 °C
    found = solubility("KNO3", 22)
    assert found.mass_percent == pytest.approx(24.2 + 0.4 * (27.7 - 24.2))


@pytest.mark.parametrize("written", ["MgSO4.7H2O", "MgSO4*7H2O", "(MgSO4)·7H2O"])
def test_one_compound_however_it_is_written(written):
    assert grams(written, 20) == grams("MgSO4·7H2O", 20)


def test_an_ingredient_counts_as_its_formula():
    assert solubility(as_ingredient("Epsom salt"), 20) == solubility("MgSO4·7H2O", 20)
    assert solubility(salt("KNO3", name="bag 7"), 20) == solubility("KNO3", 20)


def test_the_more_crystal_water_the_more_weighs_what_dissolves():
    found = [grams(f, 20) for f in ("MgSO4", "MgSO4·H2O", "MgSO4·7H2O")]
    assert found == sorted(found)
    assert found[0] < found[2]


def test_the_greenhouse_double_salt_is_found_by_its_cas_number():
    # about 1200 g/L, a figure of suppliers, memory
    found = solubility(as_ingredient(GREENHOUSE), 20)
    assert found.per_100g_water == pytest.approx(120)
    assert found.how_known == "memory"
    assert "memory" in str(found)


# --- edges -------------------------------------------------------------------------------


def test_outside_the_table_the_nearest_value_and_a_notice():
    inside, outside = solubility("KNO3", 60), solubility("KNO3", 80)
    assert outside.per_100g_water == inside.per_100g_water
    (notice,) = [n for n in outside.notices if n.severity == "caution"]
    assert "from 0 to 60 °C" in notice.what
    assert (notice.number, notice.limit) == (80, 60)
    assert not [n for n in inside.notices if n.severity == "caution"]


def test_a_single_point_says_where_it_was_measured():
    cold = solubility(as_ingredient(GREENHOUSE), 8)
    (notice,) = [n for n in cold.notices if n.severity == "caution"]
    assert "known at 20 °C, not at 8 °C" in notice.what


def test_sources_that_differ_are_told():
    # waterless calcium nitrate at 20 °C: 121.2 in a box, 131 in the handbook
    found = solubility("Ca(NO3)2", 20)
    assert (found.low, found.high) == (
        pytest.approx(121.2),
        pytest.approx(131, rel=0.001),
    )
    assert any("sources differ by 8 %" in notice.what for notice in found.notices)


@pytest.mark.parametrize("formula", ["K2SiO3", "NaFeHBED", "KNO2", "NH3", "HNO3"])
def test_no_entry_is_missing_data_and_not_zero_and_not_much(formula):
    with pytest.raises(MissingData, match="does not mean that it dissolves"):
        solubility(formula, 20)


def test_a_salt_that_melts_in_its_own_crystal_water_has_no_limit():
    # dipotassium phosphate hexahydrate: 62.7 % waterless dissolve at 25 °C, it holds 61.7 %
    with pytest.raises(MissingData, match="own crystal water"):
        solubility("K2HPO4·6H2O", 25)
    assert grams("K2HPO4·3H2O", 25) > 300


@pytest.mark.parametrize(
    "thing",
    ["nitric acid (67 %)", "potassium hydroxide solution (50 %)"],
)
def test_a_liquid_is_dissolved_already(thing):
    with pytest.raises(InputError, match="dissolved already"):
        solubility(as_ingredient(thing), 20)
    with pytest.raises(InputError, match="dissolved already"):
        solubility(acid("KOH", percent=45), 20)


def test_a_mixture_has_no_single_solubility():
    for mixture in (
        blend("base", {"KNO3": 60, "KH2PO4": 40}),
        analysed("bag", {"K2O": 45, "NO3-N": 13}),
    ):
        with pytest.raises(MissingData, match="look up its parts"):
            solubility(mixture, 20)
    with pytest.raises(InputError, match="dissolved already"):
        solubility(stock("A", {"KNO3": 100}, volume=1), 20)


def test_a_name_is_asked_for_as_an_ingredient():
    with pytest.raises(InputError, match="give salt"):
        solubility("potassium nitrate", 20)


@pytest.mark.parametrize(
    "solid",
    ["", " ", "H2O", "K+", "<b>", "=1+1", "x" * 5000, None, 7, True, [], {}, object()],
    ids=lambda value: repr(value)[:12],
)
def test_what_is_no_solid_is_refused(solid):
    with pytest.raises(FormulateError):
        solubility(solid, 20)


@pytest.mark.parametrize(
    "temperature",
    [
        *(None, "20", "", True, [], {}, 1j, np.array([20.0, 30.0])),
        *(math.nan, math.inf, -0.1, 100.1, 10**400),
    ],
    ids=lambda value: repr(value)[:12],
)
def test_what_is_no_temperature_of_liquid_water_is_refused(temperature):
    with pytest.raises(InputError, match="temperature"):
        solubility("KNO3", temperature)


# --- the table ---------------------------------------------------------------------------


def test_the_table_is_whole():
    seen = set()
    for row in read_table("solubility"):
        key = (row["formula"], row["temperature"], row["source_key"], row["how_known"])
        assert key not in seen
        seen.add(key)
        assert parse_formula(row["formula"]).charge == 0
        assert row["basis"] in ("mass percent", "g per 100 g water", "mol per kg water")
        assert 0 <= row.number("temperature") <= 60
        assert row.number("value") > 0
        low, high = row.number("low"), row.number("high")
        assert (low is None) is (high is None)
        assert low is None or low <= row.number("value") <= high
    assert len(solubility_formulas()) >= 55
