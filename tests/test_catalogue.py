"""The catalogue: compositions, CAS numbers, tanks, hydrates that are asked back."""

import csv
import re
from collections import Counter
from pathlib import Path

import pytest

from formulate.errors import AmbiguousName, UnknownName
from formulate.ingredients.hazards import hazard_codes
from formulate.ingredients.salts import as_ingredient, catalogue, catalogue_names, salt
from formulate.stoichiometry.charge import nominal_charge
from formulate.stoichiometry.formula import parse_formula
from formulate.tables import read_table, source

PUBLISHED = Path(__file__).parent / "published"
ROWS = read_table("catalogue")
TANKS = ("calcium tank", "sulfate and phosphate tank", "either", "acid tank", "alone")
OF_STEP_1 = """calcium nitrate, greenhouse grade (15.5-0-0, 19 % Ca)
calcium nitrate tetrahydrate|calcium nitrate anhydrous|potassium nitrate|saltpetre
saltpeter|nitrate of potash|monopotassium phosphate|MKP|potassium dihydrogen phosphate|KDP
dipotassium phosphate|potassium hydrogen phosphate|potassium sulfate|sulfate of potash
potassium sulphate|SOP|potassium chloride|muriate of potash|MOP
magnesium sulfate heptahydrate|Epsom salt|Epsom salts|epsomite|magnesium sulfate anhydrous
magnesium nitrate hexahydrate|monoammonium phosphate|MAP|ammonium dihydrogen phosphate
ammonium nitrate|ammonium sulfate|ammonium sulphate|urea|carbamide
calcium chloride dihydrate|gypsum|calcium sulfate dihydrate|potassium bicarbonate
potassium carbonate|potash (carbonate)|potassium hydroxide|caustic potash|boric acid
borax decahydrate|manganese sulfate monohydrate|manganese chloride tetrahydrate
zinc sulfate heptahydrate|zinc sulfate monohydrate|copper sulfate pentahydrate|blue vitriol
ferrous sulfate heptahydrate|iron(II) sulfate heptahydrate|sodium molybdate dihydrate
ammonium heptamolybdate tetrahydrate|ammonium molybdate|iron EDTA chelate (13 % Fe)|Fe-EDTA
FeEDTA|iron EDTA|iron DTPA chelate (11 % Fe)|iron DTPA|iron EDDHA chelate (6 % Fe)
iron EDDHA|nitric acid (67 %)|phosphoric acid (75 %)|sulfuric acid (35 %)
battery acid (35 %)|citric acid monohydrate"""


def published(name):
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def name_of(row):
    return row["name"]


# --- what stands in it -------------------------------------------------------------------


def test_there_are_enough_and_of_every_kind():
    assert len(ROWS) >= 62
    entries = catalogue().values()
    kinds = Counter(entry.role for entry in entries)
    assert kinds["acid"] >= 10
    assert kinds["alkali"] >= 8
    held = {key for entry in entries for key in entry.forms}
    assert {"silicate", "edta", "dtpa", "eddha", "hbed", "citrate"} <= held
    assert {"nickel", "cobalt", "molybdate", "borate", "urea", "carbonate"} <= held


@pytest.mark.parametrize("name", OF_STEP_1.replace("\n", "|").split("|"))
def test_every_name_of_the_first_version_still_works(name):
    assert as_ingredient(name).name in catalogue_names()


@pytest.mark.parametrize("row", ROWS, ids=name_of)
def test_every_composition_is_neutral_or_an_analysis(row):
    entry = catalogue()[row["name"]]
    assert bool(row["formula"]) is not bool(row["analysis"])
    if row["formula"]:
        assert parse_formula(row["formula"]).charge == 0
        assert entry.unassigned_charge == 0
    else:
        assert entry.unassigned_charge == pytest.approx(-nominal_charge(entry.forms))
        assert row["how_known"] == "read"
    assert source(row["source_key"].split("; ")[0]).title


@pytest.mark.parametrize("row", ROWS, ids=name_of)
def test_every_entry_says_what_it_is_for_and_where_it_goes(row):
    entry = catalogue()[row["name"]]
    assert entry.use == row["use"] != ""
    assert entry.tank == row["tank"]
    assert row["tank"] in TANKS
    assert (row["state"] == "liquid") is entry.is_liquid is bool(row["density"])
    assert row["state"] in ("solid", "liquid")
    if row["percent"]:
        assert row["state"] == "liquid"
        assert entry.purity_percent == float(row["percent"])
        assert f"{row['percent']} %" in row["name"] or "silicate" in row["name"]
    low, _, high = row["sold_purity"].partition("-")
    assert low == "" or 0 < float(low) <= float(high or low) <= 100


def test_what_falls_out_together_shares_no_tank():
    # common practice: calcium apart from sulfate and phosphate, acids and lyes apart
    for entry in catalogue().values():
        if entry.tank == "calcium tank":
            assert not {"sulfate", "phosphate"} & set(entry.forms), entry.name
        if entry.tank == "sulfate and phosphate tank":
            assert "calcium" not in entry.forms, entry.name
        if entry.tank == "either":
            chelated = "edta" in entry.forms
            plain = not {"calcium", "sulfate", "phosphate"} & set(entry.forms)
            assert chelated or plain, entry.name
        if entry.tank == "acid tank":
            assert {"acid"} == {entry.role} or entry.cas == "10025-77-1", entry.name
        if entry.role == "alkali":
            assert entry.tank == "alone", entry.name


# --- CAS numbers -------------------------------------------------------------------------


@pytest.mark.parametrize("row", ROWS, ids=name_of)
def test_the_check_digit_of_the_cas_number_holds(row):
    *digits, check = row["cas"].replace("-", "")
    assert sum(n * int(d) for n, d in enumerate(reversed(digits), 1)) % 10 == int(check)


LISTED = {row["cas"]: row["sum_formula"] for row in published("cas_formulas")}
# The open list writes some metal salts as metal, acid and one water (as "H4MnO5S"), leaves
# out chelates and some hydrates: 26 numbers stay from memory. Chelates of EDTA, DTPA and
# HBED carry the number of the anhydrous salt or of the acid, as their note says.


@pytest.mark.parametrize("cas", LISTED)
def test_cas_number_and_formula_belong_together(cas):
    counted = {
        symbol: float(count or 1)
        for symbol, count in re.findall(r"([A-Z][a-z]?)(\d*)", LISTED[cas])
    }
    (entry, *_) = [e for e in catalogue().values() if e.cas == cas and e.formula]
    atoms = dict(parse_formula(entry.formula).atoms)
    assert set(atoms) == set(counted)
    assert len({round(atoms[symbol] / counted[symbol], 9) for symbol in atoms}) == 1


def test_most_cas_numbers_are_held_against_the_open_list():
    assert len(LISTED) >= 75
    assert set(LISTED) <= {row["cas"] for row in ROWS}


def test_one_number_is_one_compound():
    compounds = {}
    for entry in catalogue().values():
        if entry.formula and entry.cas != "1312-76-1":  # silicates of every ratio
            key = tuple(sorted(parse_formula(entry.formula).atoms.items()))
            compounds.setdefault(entry.cas, set()).add(key)
    assert {cas for cas, found in compounds.items() if len(found) > 1} == set()


# --- hydrates are asked back -------------------------------------------------------------

FAMILIES = {
    "calcium nitrate": 3,
    "calcium chloride": 3,
    "calcium sulfate": 2,
    "calcium sulphate": 2,
    "magnesium sulfate": 3,
    "magnesium sulphate": 3,
    "magnesium nitrate": 2,
    "magnesium chloride": 2,
    "zinc sulfate": 3,
    "zinc sulphate": 3,
    "manganese sulfate": 3,
    "manganese sulphate": 3,
    "copper sulfate": 2,
    "Copper Sulphate": 2,
    "iron sulfate": 2,
    "iron sulphate": 2,
    "ferrous sulfate": 2,
    "iron(II) sulfate": 2,
    "sodium molybdate": 2,
    "borax": 3,
    "sodium tetraborate": 3,
    "citric acid": 2,
    "potassium silicate": 3,
    "sodium metasilicate": 2,
    "potassium citrate": 2,
    "sodium carbonate": 2,
    "sodium phosphate": 2,
    "nickel sulfate": 2,
    "nitric acid": 4,
    "phosphoric acid": 2,
    "sulfuric acid": 2,
    "potassium phosphate": 3,
    "ammonium phosphate": 2,
    "lime": 2,
    "potash": 3,
    "soda": 3,
    # one hydrate only in the catalogue, yet never guessed
    "cobalt sulfate": 1,
    "zinc nitrate": 1,
    "manganese chloride": 1,
    "ferric chloride": 1,
    "copper nitrate": 1,
}


@pytest.mark.parametrize(("name", "count"), FAMILIES.items())
def test_a_name_without_its_hydrate_is_asked_back(name, count):
    with pytest.raises(AmbiguousName) as caught:
        as_ingredient(name)
    readings = caught.value.readings
    assert len(readings) == count
    assert set(readings) <= set(catalogue_names())
    assert all(reading in str(caught.value) for reading in readings)
    if count == 1:
        assert "formula with the crystal water" in str(caught.value)


def test_a_name_that_is_asked_back_is_no_name_of_its_own():
    asked = {n for row in ROWS for n in row["asked_back"].split("|") if n}
    own = {row["name"] for row in ROWS}
    own |= {n for row in ROWS for n in row["aliases"].split("|") if n}
    assert {n.casefold() for n in asked} & {n.casefold() for n in own} == set()


def test_every_hydrate_of_the_catalogue_is_asked_back_without_its_water():
    names = re.compile(r" (?:anhydrous|\w+hydrate)$")
    bases = {names.sub("", n) for n in catalogue_names() if names.search(n)}
    assert len(bases) >= 25
    for base in bases:
        with pytest.raises(UnknownName) as caught:
            as_ingredient(base)
        assert base.split()[0] in str(caught.value).split("write", 1)[-1]
    one_in_trade = {"ammonium heptamolybdate", "disodium EDTA", "disodium octaborate"}
    for base in bases - one_in_trade:
        with pytest.raises(AmbiguousName):
            as_ingredient(base)


# --- facts travel with the formula -------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("CaCl2.2H2O", "calcium chloride dihydrate"),
        ("(NH4)2HPO4", "diammonium phosphate"),
        ("K3PO4", "tripotassium phosphate"),
        ("NaNO3", "sodium nitrate"),
        ("CH4N2O", "urea"),
        ("MnSO4*4H2O", "manganese sulfate tetrahydrate"),
    ],
)
def test_a_formula_brings_tank_use_and_hazards_of_its_entry(written, name):
    found, entry = as_ingredient(written), catalogue()[name]
    assert found.forms == pytest.approx(dict(entry.forms))
    assert (found.tank, found.use, found.cas) == (entry.tank, entry.use, entry.cas)
    assert (found.hazards, found.restricted) == (entry.hazards, entry.restricted)


def test_the_formula_of_an_acid_knows_its_hazards_at_full_strength():
    found = as_ingredient("H3PO4")
    assert found.cas == "7664-38-2"
    assert found.hazards == hazard_codes("7664-38-2", 100)
    assert found.density is None


def test_a_diluted_acid_changes_hazards_density_and_level():
    weak = salt("phosphoric acid (75 %)", purity_percent=20)
    assert weak.hazards == hazard_codes("7664-38-2", 20)
    assert weak.density is None
    assert weak.is_liquid
    assert weak.restricted == ""


@pytest.mark.parametrize(
    ("name", "key", "percent"),
    [
        # label figures and oxide shares: salt_analyses notes and handbooks, memory
        ("potassium silicate solution (8.3 % K2O, 20.8 % SiO2)", "K2O", 8.3),
        ("potassium silicate solution (8.3 % K2O, 20.8 % SiO2)", "SiO2", 20.8),
        ("potassium silicate solution (12.6 % K2O, 26.5 % SiO2)", "K2O", 12.6),
        ("potassium silicate solution (12.6 % K2O, 26.5 % SiO2)", "SiO2", 26.5),
        ("phosphoric acid (85 %)", "P2O5", 61.6),
        ("urea phosphate", "P2O5", 44.9),
        ("disodium octaborate tetrahydrate", "B", 20.97),
        ("diammonium phosphate", "P2O5", 53.7),
        ("zinc EDTA chelate (15 % Zn)", "Zn", 15.0),
        ("manganese EDTA chelate (13 % Mn)", "Mn", 13.0),
    ],
)
def test_contents_by_label_come_out(name, key, percent):
    assert catalogue()[name].percent(key) == pytest.approx(percent, rel=0.005)
