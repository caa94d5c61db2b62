"""Names of salts in other spellings and languages lead to the same entry of the catalogue.

The pairs are common names of the trade and of chemistry (from memory, no source).
"""

import pytest

from formulate.errors import AmbiguousName, UnknownName
from formulate.ingredients.catalogue_search import found_in_catalogue
from formulate.ingredients.salt_words import plain_words, usual_names
from formulate.ingredients.salts import as_ingredient, catalogue_names
from formulate.tables import read_table

GREENHOUSE = "calcium nitrate, greenhouse grade (15.5-0-0, 19 % Ca)"


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        ("mono-ammonium phosphate", "monoammonium phosphate"),
        ("Mono Ammonium Phosphate", "monoammonium phosphate"),
        ("di-ammonium phosphate", "diammonium phosphate"),
        ("mono-potassium phosphate", "monopotassium phosphate"),
        ("di-potassium phosphate", "dipotassium phosphate"),
        ("sulfate of potash-magnesia", "potassium magnesium sulfate"),
        ("sulphate of potash", "potassium sulfate"),
        ("ammonium calcium nitrate double salt", GREENHOUSE),
        ("ammonium calcium nitrate", GREENHOUSE),
        ("sodium ferric EDTA", "iron EDTA chelate (13 % Fe)"),
        ("ferric sodium EDTA", "iron EDTA chelate (13 % Fe)"),
        ("ferric EDTA", "iron EDTA chelate (13 % Fe)"),
        ("iron EDTA chelate", "iron EDTA chelate (13 % Fe)"),
        ("sodium ferric DTPA", "iron DTPA chelate (11 % Fe)"),
        ("sodium ferric EDDHA", "iron EDDHA chelate (6 % Fe)"),
        (
            "sodium ferric ethylenediamine-N,N'-bis(2-hydroxyphenylacetate)",
            "iron EDDHA chelate (6 % Fe)",
        ),
        ("ferric sodium ethylenediaminetetraacetate", "iron EDTA chelate (13 % Fe)"),
        ("disodium zinc EDTA", "zinc EDTA chelate (15 % Zn)"),
        ("manganese disodium EDTA", "manganese EDTA chelate (13 % Mn)"),
        ("disodium copper EDTA", "copper EDTA chelate (15 % Cu)"),
        ("low biuret urea", "urea"),
        ("technical grade potassium nitrate", "potassium nitrate"),
        ("Kaliumnitrat", "potassium nitrate"),
        ("Kalisalpeter", "potassium nitrate"),
        ("Harnstoff", "urea"),
        ("Monokaliumphosphat", "monopotassium phosphate"),
        ("Monoammoniumphosphat", "monoammonium phosphate"),
        ("Kaliumsulfat", "potassium sulfate"),
        ("Bittersalz", "magnesium sulfate heptahydrate"),
        ("Kieserit", "magnesium sulfate monohydrate"),
        ("Borsäure", "boric acid"),
        ("Ammoniumsulfat", "ammonium sulfate"),
        ("schwefelsaures Ammoniak", "ammonium sulfate"),
        ("nitrate de potassium", "potassium nitrate"),
        ("sulfate de potassium", "potassium sulfate"),
        ("phosphate monopotassique", "monopotassium phosphate"),
        ("phosphate monoammonique", "monoammonium phosphate"),
        ("urée", "urea"),
        ("acide borique", "boric acid"),
        ("nitrato de potasio", "potassium nitrate"),
        ("nitrato potásico", "potassium nitrate"),
        ("fosfato monopotásico", "monopotassium phosphate"),
        ("sulfato de amonio", "ammonium sulfate"),
        ("ácido bórico", "boric acid"),
    ],
)
def test_a_name_of_the_trade_is_one_material(name, meant):
    assert as_ingredient(name).name == meant


@pytest.mark.parametrize(
    ("name", "readings"),
    [
        ("Magnesiumsulfat", 3),
        ("sulfate de magnésium", 3),
        ("sulfato de magnesio", 3),
        ("Calciumnitrat", 3),
        ("nitrate de calcium", 3),
        ("nitrato de calcio", 3),
        ("Mangansulfat", 3),
        ("cupric sulfate", 2),
        ("manganous sulfate", 3),
        ("Eisensulfat", 2),
        ("sodium borate", 3),
        ("urea ammonium nitrate", 2),
    ],
)
def test_a_name_without_its_hydrate_is_asked_back_in_any_language(name, readings):
    with pytest.raises(AmbiguousName) as caught:
        as_ingredient(name)
    assert len(caught.value.readings) == readings
    assert len(set(caught.value.readings)) == readings
    assert set(caught.value.readings) <= set(catalogue_names())


def test_calcium_ammonium_nitrate_is_asked_back():
    # greenhouse double salt, or ammonium nitrate with limestone (27 % N)
    with pytest.raises(AmbiguousName) as caught:
        as_ingredient("calcium ammonium nitrate")
    assert GREENHOUSE in caught.value.readings
    assert "ammonium nitrate" in caught.value.readings


@pytest.mark.parametrize("name", ["Kaliumnitrit", "grade", "technical grade", "mono"])
def test_what_is_no_name_stays_unknown(name):
    with pytest.raises(UnknownName):
        as_ingredient(name)


def readings(name):
    """Return the entries that a name means: one, or those that are asked back."""
    try:
        return (as_ingredient(name).name,)
    except AmbiguousName as error:
        return error.readings


def test_every_name_of_the_table_leads_somewhere():
    for row in read_table("salt_names"):
        for text in row["words"].split("|"):
            for name in usual_names(text):
                assert set(readings(name)) <= set(catalogue_names())
                assert readings(name)


def test_no_name_means_two_things_and_none_hides_a_catalogue_name():
    owners = {}
    for row in read_table("salt_names"):
        for text in row["words"].split("|"):
            assert owners.setdefault(plain_words(text), row["name"]) == row["name"]
    own = {plain_words(name): name for name in catalogue_names()}
    assert not {words for words in owners if words in own}


def test_the_search_knows_other_languages():
    assert [f.name for f in found_in_catalogue("Kaliumnitrat")] == ["potassium nitrate"]
    assert found_in_catalogue("bittersalz")[0].formula == "MgSO4·7H2O"
