"""Hazards: listed codes come back whole, nothing is called harmless for want of data."""

import csv
from types import SimpleNamespace

import pytest

from formulate.ingredients.hazards import cautions, hazard_codes, hazard_text
from formulate.ingredients.salts import acid, as_ingredient, salt
from formulate.ingredients.stock import stock
from formulate.tables import DATA, source


def rows(name):
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def ingredient(hazards=(), role=""):
    return SimpleNamespace(hazards=tuple(hazards), role=role)


def told(*ingredients):
    return " ".join(str(caution) for caution in cautions(ingredients))


@pytest.mark.parametrize(
    ("cas", "codes"),
    [
        ("7757-79-1", "H272 H319"),  # KNO3: gischem-779, read
        ("10043-35-3", "H360FD"),  # boric acid: CLP Annex VI, memory
        ("7664-93-9", "H290 H314"),  # sulfuric acid: CLP Annex VI, memory
        ("57-13-6", "none"),  # urea: notified as not classified, memory
    ],
)
def test_codes_of_a_substance(cas, codes):
    assert hazard_codes(cas) == tuple(codes.split())


def test_of_several_strengths_the_codes_of_all_are_told():
    # nitric acid: 65-70 % adds H272, 26-65 % adds H318 and H331 (gischem, read)
    codes = ("EUH071", "H272", "H290", "H314", "H318", "H331")
    assert hazard_codes("7697-37-2") == codes


@pytest.mark.parametrize(
    ("percent", "codes"),
    [
        # nitric acid (gischem-726, gischem-4190, sds-nitric-65-70, read)
        (67, "EUH071 H272 H290 H314 H318 H331"),
        (40, "EUH071 H290 H314 H318 H331"),
        (10, "EUH071 H290 H314 H318"),
        (22, "EUH071 H290 H314 H318 H331"),  # not listed: as the next stronger
        (2, "EUH071 H290 H314 H318"),
        (90, "EUH071 H272 H290 H314 H318 H331"),  # above all that is listed: all
    ],
)
def test_codes_of_a_strength_are_in_doubt_the_stricter(percent, codes):
    assert hazard_codes("7697-37-2", percent) == tuple(codes.split())


@pytest.mark.parametrize("row", rows("hazards"), ids=lambda row: row["substance"])
def test_every_listed_code_is_found_and_has_words(row):
    codes = hazard_codes(row["cas"])
    assert set(row["codes"].split()) <= set(codes)
    assert "not listed" not in hazard_text(codes)
    assert "no data" not in hazard_text(codes)


@pytest.mark.parametrize("cas", ["", "0-0-0", "7757-79-2", " 7757-79-1", None, 7, ()])
def test_no_entry_is_no_data_and_not_harmless(cas):
    assert hazard_codes(cas) == ()
    assert "no data" in hazard_text(hazard_codes(cas))


def test_words_of_codes():
    # UN GHS rev. 10 wording (ghs-rev10-data, read)
    text = hazard_text(("H272", "H319"))
    assert text == (
        "May intensify fire; oxidizer (H272); Causes serious eye irritation (H319)"
    )
    assert hazard_text(("none",)) == "not classified as hazardous"
    assert "H999" in hazard_text(("H999",))
    assert "not listed" in hazard_text(("H999",))


def test_some_cautions_always_hold():
    always = {
        row["text"] for row in rows("cautions") if row["applies_when"] == "always"
    }
    assert len(always) >= 4
    assert {str(caution) for caution in cautions([])} == always
    assert {str(caution) for caution in cautions([ingredient()])} == always


@pytest.mark.parametrize(
    ("thing", "when"),
    [
        (ingredient(role="acid"), "acid"),
        (ingredient(role="alkali"), "alkali"),
        (ingredient(hazards=["H271"]), "oxidiser"),
        (ingredient(hazards=["H272", "H319"]), "oxidiser"),
        (ingredient(hazards=["H360FD"]), "toxic trace"),
        (ingredient(hazards=["H360D"]), "toxic trace"),
    ],
)
def test_each_danger_brings_its_caution_and_only_that(thing, when):
    for row in rows("cautions"):
        expected = row["applies_when"] in ("always", when)
        assert (row["text"] in told(thing)) is expected


def test_every_caution_can_come_up_and_has_a_source():
    everything = cautions(
        [
            ingredient(role="acid"),
            ingredient(role="alkali"),
            ingredient(["H272", "H360FD"]),
        ]
    )
    assert len(everything) == len(rows("cautions"))
    for caution in everything:
        for key in caution.source_key.split("; "):
            assert source(key).title


def test_cautions_depend_on_no_order():
    parts = [ingredient(role="acid"), ingredient(["H272"]), ingredient(role="alkali")]
    assert cautions(parts) == cautions(reversed(parts)) == cautions(iter(parts * 2))


@pytest.mark.parametrize(
    "thing",
    [
        "nitric acid (67 %)",
        "phosphoric acid (75 %)",
        "sulfuric acid (35 %)",
        "citric acid monohydrate",
        "HNO3",
        "H3PO4",
        "H2SO4",
        "HCl",
        acid("HNO3", percent=38),
        acid("HCl", percent=36),
        salt("nitric acid (67 %)", name="pH down"),
        stock("pH down", {"nitric acid (67 %)": "50 mL"}, volume=1),
        stock("pH down", {"KNO3": 50, "phosphoric acid (75 %)": 20}, volume=1),
    ],
    ids=str,
)
def test_an_acid_is_handled_as_an_acid(thing):
    assert "Add acid slowly to water" in told(as_ingredient(thing))


@pytest.mark.parametrize(
    "thing",
    [
        "potassium hydroxide",
        "potassium carbonate",
        "KOH",
        "NaOH",
        "Ca(OH)2",
        "K2CO3",
        "Na2CO3",
        "K2SiO3",
        acid("KOH", percent=45),
        acid("NaOH", percent=30),
        stock("pH up", {"potassium hydroxide": 50}, volume=1),
    ],
    ids=str,
)
def test_an_alkali_is_handled_as_an_alkali(thing):
    assert "Add alkali in small portions" in told(as_ingredient(thing))


@pytest.mark.parametrize(
    "thing",
    ["H2O", "KNO3", "H3BO3", "MgSO4·7H2O", "NH4H2PO4", "CO(NH2)2", "CaSO4·2H2O"],
)
def test_what_is_neither_acid_nor_alkali_gets_no_such_caution(thing):
    words = told(as_ingredient(thing))
    assert "Add acid" not in words
    assert "Add alkali" not in words


@pytest.mark.parametrize(
    "thing",
    [
        "KNO3",
        "NH4NO3",
        "Ca(NO3)2·4H2O",
        stock("A", {"calcium nitrate tetrahydrate": 100}, volume=1),
    ],
    ids=str,
)
def test_nitrates_that_feed_fire_are_told(thing):
    assert "Nitrates feed fire" in told(as_ingredient(thing))


@pytest.mark.parametrize("thing", ["boric acid", "Na2B4O7·10H2O", "H3BO3"])
def test_borates_are_told(thing):
    assert "unborn child" in told(as_ingredient(thing))
