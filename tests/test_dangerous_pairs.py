"""What must not meet, what a label must say, where sale is limited: nothing left out."""

import csv
from itertools import combinations, permutations
from pathlib import Path

import pytest

from formulate.errors import InputError
from formulate.ingredients.hazards import (
    dangerous_pairs,
    hazard_codes,
    hazard_label,
    restrictions,
)
from formulate.ingredients.salts import acid, as_ingredient, catalogue
from formulate.ingredients.stock import stock
from formulate.stoichiometry.nutrients import form
from formulate.tables import read_table, source

PUBLISHED = Path(__file__).parent / "published"


def published(name):
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def told(*things):
    return dangerous_pairs(as_ingredient(thing) for thing in things)


def pairs(*things):
    """Return the notices about several ingredients at once."""
    return [notice for notice in told(*things) if " with " in notice.what.split(":")[0]]


def words(notices):
    return " | ".join(map(str, notices))


# --- pairs that must never meet --------------------------------------------------------------


@pytest.mark.parametrize(
    ("one", "other", "fragment"),
    [
        # compatibility charts (memory), gischem-4520 and gischem-4285 (read)
        ("ammonium sulfate", "potassium hydroxide", "ammonia gas"),
        ("ammonium nitrate", "Ca(OH)2", "ammonia gas"),
        ("DAP", "potassium carbonate", "ammonia gas"),
        ("nitric acid (67 %)", "potassium hydroxide", "must never meet"),
        ("phosphoric acid (85 %)", "sodium hydroxide", "must never meet"),
        ("sulfuric acid (35 %)", "potassium metasilicate", "must never meet"),
        ("nitric acid (38 %)", "potassium bicarbonate", "carbon dioxide"),
        ("citric acid anhydrous", "calcium carbonate", "carbon dioxide"),
        ("urea", "nitric acid (53 %)", "urea nitrate"),
        ("nitric acid (60 %)", "citric acid monohydrate", "burns organic matter"),
        ("nitric acid (67 %)", "sulfuric acid (96 %)", "concentrated acids"),
        ("nitric acid (67 %)", "hydrochloric acid (32 %)", "concentrated acids"),
    ],
)
def test_what_is_dangerous_together_is_serious_in_either_order(one, other, fragment):
    for things in ((one, other), (other, one)):
        found = [n for n in pairs(*things) if n.severity == "serious"]
        assert fragment in words(found)
        assert all(as_ingredient(thing).name in words(found) for thing in things)


@pytest.mark.parametrize(
    ("one", "other", "fragment"),
    [
        # fertigation-interaction-page, compat-tanks-copy (read), charts (memory)
        ("calcium nitrate tetrahydrate", "Epsom salt", "gypsum"),
        ("calcium chloride dihydrate", "manganese sulfate monohydrate", "gypsum"),
        ("calcium nitrate tetrahydrate", "sulfuric acid (35 %)", "gypsum"),
        ("calcium nitrate tetrahydrate", "MKP", "calcium phosphate"),
        ("calcium chloride dihydrate", "potassium metasilicate", "calcium silicate"),
        ("phosphoric acid (75 %)", "potassium metasilicate", "silica gel"),
        ("nitric acid (38 %)", "iron DTPA", "fall apart"),
        ("MKP", "ferrous sulfate heptahydrate", "metal phosphates"),
        ("MAP", "magnesium nitrate hexahydrate", "magnesium phosphate"),
        ("sulfuric acid (96 %)", "potassium chloride", "hydrogen chloride"),
        ("sulfuric acid (96 %)", "potassium nitrate", "nitric acid fumes"),
    ],
)
def test_what_spoils_together_is_a_caution(one, other, fragment):
    found = [n for n in pairs(one, other) if n.severity == "caution"]
    assert fragment in words(found)


@pytest.mark.parametrize(
    ("thing", "fragment"),
    [
        # gischem-4520, gischem-4285, gischem-779 (read); bleach and ammonia: advice page
        ("nitric acid (67 %)", "chlorine gas"),
        ("citric acid monohydrate", "chlorine gas"),
        ("ammonium sulfate", "chloramine"),
        ("urea", "chloramine"),
        ("calcium nitrate, greenhouse grade (15.5-0-0, 19 % Ca)", "chloramine"),
        ("potassium nitrate", "fuel, oil, sawdust"),
        ("calcium nitrate tetrahydrate", "metal powder"),
        ("nitric acid (67 %)", "never with metals"),
        ("sulfuric acid (35 %)", "hydrogen gas"),
        ("potassium hydroxide", "aluminium"),
        ("ammonium nitrate", "explosives"),
    ],
)
def test_what_is_never_to_meet_something_else_is_told_of_it_alone(thing, fragment):
    found = told(thing)
    assert fragment in words(found)
    assert pairs(thing) == []
    assert all(notice.severity == "caution" for notice in found)


@pytest.mark.parametrize(
    "things",
    [
        ("potassium chloride", "Epsom salt"),
        ("gypsum",),  # calcium and sulfate in one solid are no pair
        ("monocalcium phosphate monohydrate",),
        ("boric acid", "sodium molybdate dihydrate"),
        ("MKP", "Epsom salt"),  # compatible below pH 6 (chart, memory)
        ("iron EDTA",),
        (),
    ],
)
def test_what_is_harmless_together_is_not_told(things):
    assert told(*things) == ()


# --- the published compatibility chart ---------------------------------------------------

MEANT = {
    "calcium nitrate": "calcium nitrate tetrahydrate",
    "magnesium sulfate": "Epsom salt",
    "magnesium nitrate": "magnesium nitrate hexahydrate",
    "calcium chloride": "calcium chloride dihydrate",
    "phosphoric acid": "phosphoric acid (75 %)",
    "sulfuric acid": "sulfuric acid (35 %)",
    "nitric acid": "nitric acid (67 %)",
    "strong acid (any)": "nitric acid (38 %)",
    "phosphate (any)": "MKP",
    "phosphates": "MKP",
    "sulfates": "potassium sulfate",
    "iron salt": "ferrous sulfate heptahydrate",
    "phosphorus source": "MKP",
    "iron chelate": "iron DTPA",
    "iron/zinc/copper/manganese sulfate": "zinc sulfate heptahydrate",
    "mono/diammonium phosphate": "MAP",
    "carbonate, bicarbonate": "potassium bicarbonate",
    "lime, hydroxide, carbonate": "calcium hydroxide",
    "ammonium salt": "ammonium sulfate",
    "sulfates and phosphates": "MKP",
    "potassium silicate": "potassium metasilicate",
    "anything acid or calcium": "nitric acid (38 %)",
    "calcium fertilisers": "calcium nitrate tetrahydrate",
    "sulfate or phosphate fertilisers": "potassium sulfate",
    "potassium chloride or nitrate": "potassium nitrate",
    "borate (borax)": "borax decahydrate",
}
# a chart for dry blends (discrepancies.md 15), or advice to use a mixture soon
NOT_OURS = ("listed as prohibited", "moderate: use soon")
BENCH = ("hypochlorite", "organic matter, metals")  # told of the acid alone, see above
CHART = [
    row
    for row in published("stock_compatibility")
    if row["verdict"] not in NOT_OURS and row["fertiliser_b"] not in BENCH
]


@pytest.mark.parametrize(
    "row", CHART, ids=lambda row: f"{row['fertiliser_a']} {row['fertiliser_b']}"
)
def test_the_published_chart_is_reproduced(row):
    things = [MEANT.get(row[c], row[c]) for c in ("fertiliser_a", "fertiliser_b")]
    found = {notice.severity for notice in pairs(*things)}
    verdict = row["verdict"]
    if verdict.startswith("compatible"):
        assert found == set()
    elif verdict.startswith("dangerous"):
        assert "serious" in found
    elif verdict == "reduced solubility" or "caution" in verdict:
        assert found & {"note", "caution"}
    else:
        assert found & {"caution", "serious"}, verdict


def test_the_chart_is_long_enough_to_count():
    assert len(CHART) >= 38


# --- laws --------------------------------------------------------------------------------

BENCHFUL = (
    "nitric acid (67 %)",
    "potassium hydroxide",
    "ammonium sulfate",
    "calcium nitrate tetrahydrate",
    "iron EDTA",
)


def test_the_order_of_the_bench_changes_no_danger():
    first = {(n.severity, n.what.split(": ")[-1]) for n in told(*BENCHFUL)}
    for order in list(permutations(BENCHFUL))[::17]:
        assert {(n.severity, n.what.split(": ")[-1]) for n in told(*order)} == first


def test_what_two_bring_is_told_of_any_bench_that_holds_them():
    everything = {n.what.split(": ")[-1] for n in told(*BENCHFUL)}
    for one, other in combinations(BENCHFUL, 2):
        assert {n.what.split(": ")[-1] for n in told(one, other)} <= everything


def test_the_most_serious_comes_first():
    found = [notice.severity for notice in told(*BENCHFUL)]
    assert found == sorted(found, key=("serious", "caution", "note").index)


def test_an_iterator_does_and_nothing_is_told_twice():
    once = [as_ingredient(thing) for thing in BENCHFUL]
    found = dangerous_pairs(iter(once))
    assert found == dangerous_pairs(once)
    assert len({notice.what for notice in found}) == len(found)


def test_stocks_count_as_what_is_in_them():
    a = stock("stock A", {"calcium nitrate tetrahydrate": 100}, volume=1)
    b = stock("stock B", {"Epsom salt": 100, "MKP": 20}, volume=1)
    found = words(dangerous_pairs([a, b]))
    assert "stock A with stock B: not dangerous, but gypsum" in found
    assert "calcium phosphate" in found


def test_a_chelated_metal_is_none_of_the_metals_that_fall_out():
    assert pairs("MKP", "zinc EDTA chelate (15 % Zn)") == []
    assert pairs("MKP", "zinc sulfate heptahydrate")


def test_every_rule_can_come_up_and_is_well_written():
    codes = {row["code"] for row in read_table("hazard_statements")}
    everything = [*catalogue().values()]
    found = {notice.what.split(": ", 1)[1] for notice in dangerous_pairs(everything)}
    for row in read_table("dangerous_pairs"):
        assert row["text"] in found, row["key"]
        assert row["severity"] in ("serious", "caution", "note")
        for key in row["source_key"].split("; "):
            assert source(key).title
        for term in f"{row['first']} {row['second']}".split():
            kind, _, names = term.removeprefix("!").partition(":")
            assert kind in ("role", "form", "code")
            for name in names.split("|"):
                if kind == "form":
                    assert form(name)
                elif kind == "role":
                    assert name in ("acid", "alkali")
                else:
                    assert name in codes


# --- labels ------------------------------------------------------------------------------

HAZARDS = [row for row in published("chemical_hazards") if row["cas"]]
STRENGTH = {"65-70": 67, "26-65": 45, "65-<70": 67, "5-<20": 10, ">=25": 75, ">=15": 35}
STRENGTH[">=5 (1A) / solid"] = 90


@pytest.mark.parametrize("row", HAZARDS, ids=lambda row: row["substance"])
def test_published_hazards_are_reproduced(row):
    # In doubt the stricter: two sheets of nitric acid 65-70 % are told together.
    percent = STRENGTH.get(row["concentration_percent"])
    label = hazard_label(row["cas"], percent)
    assert set(row["hazard_codes"].split()) <= set(label.codes)
    if row["cas"] != "7697-37-2":
        assert set(row["hazard_codes"].split()) == set(label.codes)
        assert row["signal_word"] == label.signal_word
        assert len(label.pictograms) == len(row["pictograms"].split())


def test_the_signal_word_and_the_pictograms_are_words():
    # sheet of nitric acid 65-70 % (sds-nitric-65-70, read): Danger, GHS03 GHS05
    label = hazard_label("7697-37-2", 67)
    assert label.signal_word == "Danger"
    assert {"flame over circle", "corrosion"} <= set(label.pictograms)
    assert "May intensify fire" in str(label)


@pytest.mark.parametrize(
    ("cas", "percent", "codes"),
    [
        # teaching table of dilutions (acid-dilution-table, read): 25 % and 10 %
        ("7647-01-0", 32, "H290 H314 H335"),
        ("7647-01-0", 10, "H290 H315 H319 H335"),
        # limits of Annex VI (annex6-transcript, read)
        ("7664-38-2", 24, "H290 H315 H319"),
        ("7664-38-2", 26, "H290 H302 H314"),
        ("1310-58-3", 3, "H290 H314"),
        ("1310-58-3", 1, "H315 H319"),
        # not listed: as the next stronger that is
        ("7664-93-9", 10, "H290 H314"),
        ("7647-01-0", 5, "H290 H315 H319 H335"),
    ],
)
def test_codes_go_by_strength(cas, percent, codes):
    assert hazard_codes(cas, percent) == tuple(sorted(codes.split()))


def test_at_the_border_of_two_strengths_both_are_told():
    assert set(hazard_codes("7664-38-2", 25)) == {
        *("H290", "H302", "H314", "H315", "H319")
    }


def test_memory_is_admitted_and_no_data_is_not_harmless():
    # copper sulfate: sheet read; zinc sulfate: from memory
    assert "memory" not in str(hazard_label("7758-99-8"))
    assert "[from memory]" in str(hazard_label("7446-20-0"))
    nothing = hazard_label("0-0-0")
    assert (nothing.codes, nothing.signal_word, nothing.pictograms) == ((), "", ())
    assert str(nothing) == "no data: treat as hazardous"
    assert str(hazard_label("57-13-6")).startswith("not classified")


def test_signal_words_and_pictograms_follow_from_the_statements():
    # GHS: the pictogram of each statement stands on the label, save that a corrosive needs
    # no exclamation mark for skin and eyes; "Danger" if any statement asks for it
    signs, danger = {}, {}
    for row in read_table("hazard_statements"):
        signs.setdefault(row["code"], set()).add(row["pictogram"])
        danger.setdefault(row["code"], set()).add(row["signal_word"])
    for row in read_table("hazards"):
        codes = [code for code in row["codes"].split() if code != "none"]
        shown = set(row["pictograms"].split())
        asked = {next(iter(signs[code])) for code in codes} - {""}
        doubtful = {"GHS07"} if "doubtful" in row["note"] else set()
        assert shown - doubtful <= asked, row["substance"]
        assert asked - shown <= {"GHS07"}, row["substance"]
        if any(danger[code] == {"Danger"} for code in codes):
            assert row["signal_word"] == "Danger", row["substance"]
        if not codes:
            assert row["signal_word"] == "" == row["pictograms"]


@pytest.mark.parametrize("percent", [0, -1, 101, "40", True, float("nan"), [], 10**400])
def test_what_is_no_strength_is_refused(percent):
    for function in (hazard_codes, hazard_label, restrictions):
        with pytest.raises(InputError, match="strength"):
            function("7697-37-2", percent)


# --- limits of sale ----------------------------------------------------------------------


@pytest.mark.parametrize("row", published("precursor_lists"), ids=str)
def test_the_lists_of_the_law_are_reproduced(row):
    # a state authority's list of both annexes of (EU) 2019/1148, and SI 2023/63 (read)
    above = float(row["above_percent"])
    found = restrictions(row["cas"], above + 0.1)
    assert (row["place"], row["level"]) in {(r.place, r.level) for r in found}
    if row["level"] == "restricted":
        below = restrictions(row["cas"], above)
        assert (row["place"], "restricted") not in {(r.place, r.level) for r in below}


def test_a_limit_of_nitrogen_is_one_of_ammonium_nitrate():
    # 16 % N from ammonium nitrate; 35.0 % N in the salt (salt_analyses)
    (limit, *_) = restrictions("6484-52-2")
    assert limit.above_percent == pytest.approx(16 / 0.35, abs=0.05)


@pytest.mark.parametrize(
    ("thing", "level"),
    [
        ("ammonium nitrate", "restricted"),
        ("nitric acid (38 %)", "restricted"),
        ("sulfuric acid (96 %)", "restricted"),
        ("phosphoric acid (75 %)", "restricted"),  # Great Britain
        ("hydrochloric acid (32 %)", "restricted"),  # Great Britain
        ("potassium nitrate", "reported"),
        ("sodium nitrate", "reported"),
        ("calcium nitrate tetrahydrate", "reported"),
        ("calcium nitrate, greenhouse grade (15.5-0-0, 19 % Ca)", "reported"),
        ("magnesium nitrate hexahydrate", "reported"),
        ("citric acid monohydrate", ""),
        ("potassium sulfate", ""),
        ("urea", ""),
        ("HNO3", "restricted"),
        ("KNO3", "reported"),
    ],
)
def test_an_ingredient_knows_its_level(thing, level):
    assert as_ingredient(thing).restricted == level


def test_a_weak_acid_is_only_reported():
    assert acid("HNO3", percent=2).restricted == "reported"
    assert acid("H2SO4", percent=15).restricted == "reported"
    assert acid("H3PO4", percent=20).restricted == ""
    assert acid("HNO3", percent=10).restricted == "restricted"


def test_the_sentence_names_place_and_limit_and_says_ask_locally():
    text = str(restrictions("7697-37-2")[0])
    assert "nitric acid above 3 %" in text
    assert "European Union" in text
    assert "in some places" in text
    assert "ask locally" in text
    memory = [r for r in restrictions("7664-93-9") if r.how_known == "memory"]
    assert memory
    assert all(str(r).endswith("[from memory]") for r in memory)


@pytest.mark.parametrize("cas", ["", None, 7, (), [], "7757-79-2"])
def test_what_is_not_listed_has_no_entry(cas):
    assert restrictions(cas) == ()
    assert hazard_label(cas).codes == ()
