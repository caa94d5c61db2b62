"""Shares below the least that a rule lets be claimed are told, and never refute a label."""

import pytest

from formulate.claims.label_check import check_label
from formulate.claims.micronutrient_minimums import minimum_findings
from formulate.errors import Faults
from formulate.ingredients.label_text import read_entries

# WAC 16-200-711 (1), its table as printed; %
WASHINGTON = {
    "Calcium (Ca)": 1.0,
    "Magnesium (Mg)": 0.5,
    "Sulfur (S)": 1.0,
    "Boron (B)": 0.02,
    "Chlorine (Cl)": 0.1,
    "Cobalt (Co)": 0.0005,
    "Copper (Cu)": 0.05,
    "Iron (Fe)": 0.1,
    "Manganese (Mn)": 0.05,
    "Molybdenum (Mo)": 0.0005,
    "Sodium (Na)": 0.1,
    "Zinc (Zn)": 0.05,
}


def found(text, basis="us", **facts):
    faults = Faults()
    reading, _ = read_entries(text, faults, basis=basis)
    assert not faults.found
    return minimum_findings(reading, text, **facts)


@pytest.mark.parametrize(("word", "least"), WASHINGTON.items())
def test_each_share_of_the_code_is_the_limit(word, least):
    text = f"Soluble Potash (K2O) 20 %\n{word} {{:.6f}} %"
    at, below = found(text.format(least)), found(text.format(least * 0.98))
    assert [f.verdict for f in at] == ["right"]
    assert [f.verdict for f in below] == ["cannot tell"]
    assert below[0].limit == pytest.approx(least)
    assert below[0].source_key == "wac-16-200-711"
    assert below[0].severity == "note"


def test_nickel_is_from_memory_and_says_so():
    # 0.001 %: from memory; not in the code that was read
    (told,) = found("Soluble Potash (K2O) 20 %\nNickel (Ni) 0.0005 %")
    assert "from memory only" in told.what
    assert told.source_key == "aapfco-min"


def test_hydroponic_feeds_are_excepted():
    # WAC 16-200-711 (1): "Except guarantees for those water soluble nutrients labeled solely
    # for hydroponic or continuous liquid feed programs"
    text = "Feed\nSoluble Potash (K2O) 20 %\nCopper (Cu) 0.01 %"
    assert found(text)[0].verdict == "cannot tell"
    for words in (
        "For hydroponic use only",
        "For continuous liquid feed programs only",
    ):
        (told,) = found(f"{text}\n{words}")
        assert told.verdict == "right"
        assert told.number == pytest.approx(0.01)


def test_a_share_below_the_least_leaves_the_verdict():
    text = (
        "Total Nitrogen (N) 13 %\n  13 % Nitrate Nitrogen\nSoluble Potash (K2O) 44 %\n"
        "Copper (Cu) 0.01 %\nDerived from: potassium nitrate, copper sulfate pentahydrate"
    )
    checked = check_label(text)
    assert checked.verdict == "right", str(checked)
    assert checked.about("Cu 0.01 %")[0].verdict == "cannot tell"


def test_european_cobalt_as_the_agency_lists_it():
    # poisoncentres.echa.europa.eu: cobalt, PFC 1(C)(I)(b), 0.002 % w/w
    text = "EC fertiliser\nPotassium oxide (K2O) 20 %\nCobalt (Co) {} %"
    assert found(text.format("0.002"), "eu")[0].verdict == "right"
    (told,) = found(text.format("0.001"), "eu")
    assert (told.verdict, told.limit) == ("cannot tell", 0.002)
    assert "memory" not in told.what


def test_european_straight_micronutrients():
    # Regulation (EU) 2021/1768, annex: 10 % by mass of a micronutrient salt fertiliser; 5 %
    # and 80 % chelated of a UVCB micronutrient chelate
    salt = "EC fertiliser\nManganese (Mn) soluble in water {} %"
    assert found(salt.format(32), "eu")[0].verdict == "right"
    assert found(salt.format(9), "eu")[0].limit == 10.0
    held = (
        "EC fertiliser\nIron (Fe) soluble in water {} %\n"
        "Iron (Fe) chelated by EDTA {} %"
    )
    assert [f.verdict for f in found(held.format("6.0", "4.8"), "eu")] == ["right"] * 2
    assert [f.verdict for f in found(held.format("6.0", "4.7"), "eu")] == [
        "right",
        "cannot tell",
    ]
    two = held.format("7.0", "4.0") + "\nIron (Fe) chelated by DTPA 3.0 %"
    assert [f.number for f in found(two, "eu")] == [7.0, pytest.approx(100)]


def test_a_zero_in_the_analysis_is_told_in_the_grade_not():
    # label_rules.csv: 0 may stand in a grade but not in the analysis (from memory)
    bag = "46-0-0\nTotal Nitrogen (N) 46 %\n  46 % Urea Nitrogen\nDerived from: urea"
    assert not check_label(bag).about("zeros")
    zero = check_label(bag + "\nSoluble Potash (K2O) 0 %")
    assert not zero.is_refuted
    assert "from memory only" in zero.about("zeros")[0].what


def test_shares_by_volume_need_the_density():
    # g/L = % w/w x density x 10 (label_rules.csv): 0.6 g/L in 1.25 kg/L is 0.048 %
    text = "Nitrate Nitrogen 80 g/L\nCopper (Cu) 0.6 g/L"
    assert found(text) == ()
    (told,) = found(text, density=1.25)
    assert told.number == pytest.approx(0.048)
    assert told.verdict == "cannot tell"
