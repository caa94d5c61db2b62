"""Sources that are no single compound, and unknown ones: a derivation goes on without them.

Molar masses come from periodictable; what the materials are is common practice (no source).
"""

import periodictable
import pytest

from formulate.claims.derivation import derive
from formulate.claims.label_check import check_label
from formulate.claims.loose_sources import loose_source
from formulate.errors import InputError
from formulate.tables import read_table


def share(element, count, formula):
    """Return a share of count atoms of an element in a compound [%]."""
    atom = getattr(periodictable, element).mass
    return 100 * count * atom / periodictable.formula(formula).mass


@pytest.mark.parametrize(
    ("name", "key", "percent"),
    [
        ("ammonium thiosulfate", "NH4-N", share("N", 2, "(NH4)2S2O3")),
        ("potassium thiosulfate", "K", share("K", 2, "K2S2O3")),
        ("calcium thiosulfate", "Ca", share("Ca", 1, "CaS2O3")),
        ("magnesium thiosulfate", "Mg", share("Mg", 1, "MgS2O3")),
        ("potassium phosphite", "K", share("K", 1, "KH2PO3")),
        ("magnesium oxide", "Mg", share("Mg", 1, "MgO")),
        ("superphosphoric acid", "P", share("P", 2, "H4P2O7")),
    ],
)
def test_what_a_loose_source_holds(name, key, percent):
    found = loose_source(name)
    assert found.materials[0].percent(key) == pytest.approx(percent, abs=0.006)


def test_the_sulfur_of_a_thiosulfate_is_not_counted_and_no_sulfate():
    found = loose_source("Ammonium Thiosulphate")
    assert found.uncounted == {"S"}
    assert "sulfate" not in found.materials[0].forms


def test_what_is_no_loose_source():
    assert loose_source("potassium nitrate") is None
    assert loose_source("") is None


def test_every_row_of_the_table_reads():
    for row in read_table("loose_sources"):
        for words in row["words"].split("|"):
            found = loose_source(words)
            assert found.materials or found.uncounted


def label(lines, sources):
    return check_label("\n".join([*lines, f"Derived from: {sources}"]))


NITRATE = (
    "Total Nitrogen (N) 6 %",
    " 6 % Nitrate Nitrogen",
    "Soluble Potash (K2O) 20 %",
)


def test_a_solution_of_ammonium_polyphosphate_is_possible():
    # 10-34-0, the usual grade (common practice, no source)
    lines = ("Total Nitrogen (N) 10 %", " 10 % Ammoniacal Nitrogen")
    check = label((*lines, "Available Phosphate (P2O5) 34 %"), "ammonium polyphosphate")
    assert check.derivation.is_possible


def test_superphosphoric_acid_holds_more_than_phosphoric_acid():
    # 68 % P2O5 is more than pure H3PO4 has water to lose: 72.4; and more than 85 % acid
    check = label(("Available Phosphate (P2O5) 68 %",), "superphosphoric acid")
    assert check.derivation.is_possible
    check = label(("Available Phosphate (P2O5) 82 %",), "superphosphoric acid")
    assert not check.derivation.is_possible


def test_a_guarantee_that_an_uncounted_part_may_fill_cannot_be_told():
    # 12-0-0-26S from ammonium thiosulfate, the usual grade
    lines = ("Total Nitrogen (N) 12 %", " 12 % Ammoniacal Nitrogen", "Sulfur (S) 26 %")
    check = label(lines, "ammonium thiosulfate")
    (told,) = check.derivation.doubts
    assert told.verdict == "cannot tell"
    assert "S" in told.what
    assert "not counted" in told.what
    assert "S 26 % cannot be told" in told.what
    assert check.derivation.accepted().percent("S") == 0
    assert any("S is not counted" in text for text in check.assumed)
    (met,) = [f for f in check.findings if f.subject == "guarantees"]
    assert "all 2 guarantees" in met.what
    assert not any(f.verdict == "impossible" for f in check.findings)


def test_what_no_part_may_fill_stays_impossible():
    lines = ("Total Nitrogen (N) 12 %", " 12 % Ammoniacal Nitrogen", "Boron (B) 1 %")
    check = label(lines, "ammonium thiosulfate")
    assert any(f.verdict == "impossible" and "B" in f.subject for f in check.findings)


@pytest.mark.parametrize("unknown", ["glasshouse secret", "kelp"])
def test_one_unknown_source_does_not_stop_a_derivation(unknown):
    made = label(NITRATE, f"potassium nitrate, {unknown}").derivation
    assert made.is_possible
    assert made.range_of("K2O").low >= 20
    (told,) = made.doubts
    assert (told.subject, told.verdict) == (unknown, "cannot tell")
    assert made.verdict == "cannot tell"


def test_what_an_unknown_source_may_bring_is_not_impossible():
    lines = (*NITRATE, "Magnesium (Mg) 1 %")
    without = label(lines, "potassium nitrate")
    assert without.verdict == "impossible"
    doubted = label(lines, "potassium nitrate, glasshouse secret")
    (told,) = [f for f in doubted.derivation.findings if f.subject.startswith("Mg")]
    assert told.verdict == "cannot tell"
    assert "glasshouse secret" in told.what
    assert doubted.verdict == "cannot tell"


def test_a_label_of_unknown_sources_alone_is_told_so():
    check = label(NITRATE, "glasshouse secret")
    assert check.derivation is None
    assert any("glasshouse secret" in f.what for f in check.findings)


def test_a_source_that_is_given_by_hand_is_still_asked_back():
    with pytest.raises(InputError, match="near"):
        derive({"K2O": "46"}, ["potasium nitrate"])


def test_a_comma_inside_a_chemical_name_keeps_the_source_whole():
    name = "sodium ferric ethylenediamine-N,N'-bis(2-hydroxyphenylacetate)"
    lines = ("Iron (Fe) 6 %", " 6 % Chelated Iron (Fe)")
    made = label(lines, name).derivation
    assert [source.name for source in made.sources] == [name]
