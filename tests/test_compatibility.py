"""Pair verdicts: the published chart row by row, the chemistry behind them, bad input.

The chart (stock_compatibility.csv) is held against us at 1:100 and 20 °C. The limits in
pair_limits.csv that are called our assumption were set with this chart in view, so where
they decide (soluble salts, how acid a stock may be) agreement is no independent proof; the
indices are. Its words in ours:

    incompatible, listed as prohibited, separate tanks   incompatible or dangerous
    compatible (also "keep pH 5.0-6.5")                  compatible
    reduced solubility                                   less soluble
    caution                                              caution or stricter
    caution above pH 6, compatible below pH 6            caution with a pH as its condition
    incompatible or caution                              either
    dangerous, dangerous/loss, when concentrated         dangerous
    moderate: use soon                                   what may share a tank

A row that names a group is asked of the members in `MEMBERS`, every one of them. Three
rows disagree; a fourth, magnesium nitrate with "mono/diammonium phosphate", is asked of the
di salt only, for another row contradicts it on the mono salt (a test below tells why).
"""

import csv
from collections import Counter
from itertools import product
from pathlib import Path

import numpy as np
import phreeqc_oracle as oracle
import pytest
import solids_oracle
from test_speciation import per_kg

from formulate.chemistry.speciation import speciate
from formulate.errors import InputError, MissingData, UnknownName
from formulate.ingredients.ingredient import analysed, from_formula
from formulate.ingredients.salts import as_ingredient, catalogue
from formulate.ingredients.stock import stock
from formulate.mixing.compatibility import WORDS, compatibility_table, pair_verdict
from formulate.mixing.pair_states import pair_states
from formulate.mixing.usual_amounts import usual_amount, usual_class
from formulate.stoichiometry.solution import Solution
from formulate.tables import read_table

PUBLISHED = Path(__file__).parent / "published"


def published(name):
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# --- the published chart ---------------------------------------------------------------

GREENHOUSE = "calcium nitrate, greenhouse grade (15.5-0-0, 19 % Ca)"
NITRATES = (GREENHOUSE, "calcium nitrate tetrahydrate")
ACIDS = ("nitric acid (60 %)", "sulfuric acid (96 %)", "hydrochloric acid (32 %)")
ACIDS += ("phosphoric acid (75 %)",)
SULFATES = ("ammonium sulfate", "potassium sulfate", "magnesium sulfate heptahydrate")
SULFATES += ("potassium magnesium sulfate",)
PHOSPHATES = ("monoammonium phosphate", "diammonium phosphate")
PHOSPHATES += ("monopotassium phosphate", "dipotassium phosphate")
TRACES = ("ferrous sulfate heptahydrate", "zinc sulfate heptahydrate")
TRACES += ("copper sulfate pentahydrate", "manganese sulfate monohydrate")
IRON = ("ferrous sulfate heptahydrate", "ferric chloride hexahydrate")
CHELATES = ("iron EDTA chelate (13 % Fe)", "iron DTPA chelate (11 % Fe)")
CHELATES += ("iron EDDHA chelate (6 % Fe)", "iron HBED chelate (7 % Fe)")
COMPLETE = analysed(  # N-P-K 20-20-20 as bags print it, no single compound
    "N-P-K 20-20-20",
    {"NH4-N": 4, "NO3-N": 6, "urea-N": 10, "P2O5": 20, "K2O": 20},
)
MEMBERS = {
    "calcium nitrate": NITRATES,
    "calcium chloride": ("calcium chloride dihydrate",),
    "calcium fertilisers": (*NITRATES, "calcium chloride dihydrate"),
    "magnesium sulfate": ("magnesium sulfate heptahydrate",),
    "magnesium nitrate": ("magnesium nitrate hexahydrate",),
    "phosphoric acid": ("phosphoric acid (75 %)", "phosphoric acid (85 %)"),
    "sulfuric acid": ("sulfuric acid (96 %)", "sulfuric acid (35 %)"),
    "nitric acid": ("nitric acid (60 %)", "nitric acid (38 %)"),
    "iron chelate": CHELATES,
    "borate (borax)": ("borax decahydrate", "borax pentahydrate", "borax anhydrous"),
    "iron/zinc/copper/manganese sulfate": TRACES,
    "iron salt": IRON,
    "phosphate (any)": (*PHOSPHATES, "phosphoric acid (75 %)"),
    "phosphorus source": (*PHOSPHATES, "phosphoric acid (75 %)"),
    "strong acid (any)": ACIDS,
    "carbonate, bicarbonate": (
        *("potassium carbonate", "potassium bicarbonate", "calcium carbonate"),
        *("sodium carbonate anhydrous", "sodium bicarbonate", "ammonium bicarbonate"),
    ),
    "hypochlorite": ("hypochlorite",),
    "organic matter, metals": ("organic matter", "metals", "citric acid monohydrate"),
    "ammonium salt": (
        *("ammonium sulfate", "ammonium nitrate", "ammonium chloride"),
        *("monoammonium phosphate", "diammonium phosphate"),
    ),
    "lime, hydroxide, carbonate": (
        *("calcium hydroxide", "potassium hydroxide", "sodium hydroxide"),
        *("potassium carbonate", "calcium carbonate"),
    ),
    "sulfates": SULFATES,
    "phosphates": PHOSPHATES,
    "sulfates and phosphates": (*SULFATES, *PHOSPHATES),
    "sulfate or phosphate fertilisers": (*SULFATES, *PHOSPHATES),
    "mono/diammonium phosphate": ("diammonium phosphate",),  # see the test below
    "potassium chloride or nitrate": ("potassium chloride", "potassium nitrate"),
    "potassium silicate": (
        "potassium metasilicate",
        "potassium silicate solution (8.3 % K2O, 20.8 % SiO2)",
    ),
    "anything acid or calcium": (*ACIDS, "citric acid monohydrate", *NITRATES),
    "N-P-K complexes": (COMPLETE,),
}
REFUSED = {"incompatible", "dangerous"}
MEANT = {
    "incompatible": REFUSED,
    "listed as prohibited": REFUSED,
    "separate tanks": REFUSED,
    "compatible": {"compatible"},
    "compatible, keep pH 5.0-6.5": {"compatible"},
    "reduced solubility": {"less soluble"},
    "caution": {"caution", *REFUSED},
    "caution above pH 6": {"caution"},
    "compatible below pH 6": {"caution"},
    "incompatible or caution": {"incompatible", "caution"},
    "dangerous": {"dangerous"},
    "dangerous/loss": {"dangerous"},
    "dangerous when concentrated": {"dangerous"},
    "moderate: use soon": {"compatible", "less soluble", "caution"},
}
DISAGREE = {
    # barred in the list for dry blends, which draw water; its own note says that they
    # dissolve together, and the chart calls both compatible
    ("ammonium nitrate", "calcium nitrate"): "compatible",
    ("urea", "calcium nitrate"): "compatible",
    # the chart bars every sulfate; a trace of it stays dissolved, as worked out below
    ("calcium nitrate", "iron/zinc/copper/manganese sulfate"): "compatible",
}
CHART = published("stock_compatibility")


def pair_of(row):
    return row["fertiliser_a"], row["fertiliser_b"]


def verdicts(row):
    """Return the verdict on each two members of a row."""
    sides = [MEMBERS.get(name, (name,)) for name in pair_of(row)]
    return [pair_verdict(*pair) for pair in product(*sides)]


def agrees(row):
    wanted = MEANT[row["verdict"]]
    return all(verdict.word in wanted for verdict in verdicts(row))


def name_of(row):
    return f"{' + '.join(pair_of(row))} {row['source_key']}"


def test_the_chart_is_whole():
    assert len(CHART) == 54
    assert {row["verdict"] for row in CHART} == {*MEANT}
    known = {*catalogue(), *MEMBERS}
    assert {name for row in CHART for name in pair_of(row)} <= known
    assert sum(pair_of(row) in DISAGREE for row in CHART) == 3


@pytest.mark.parametrize("row", CHART, ids=name_of)
def test_the_chart_row_by_row(row):
    assert agrees(row) is (not _is_told(row)), [str(v) for v in verdicts(row)]


def _is_told(row):
    barred = row["verdict"] in ("incompatible", "listed as prohibited")
    return barred and pair_of(row) in DISAGREE


def test_at_most_three_rows_disagree_and_each_as_it_is_told():
    wrong = [row for row in CHART if not agrees(row)]
    assert len(wrong) <= 3
    for row in wrong:
        assert {v.word for v in verdicts(row)} == {DISAGREE[pair_of(row)]}


# the solid or salt that a row names, and what we call it
NAMED = {
    "gypsum": {"gypsum"},
    "calcium phosphate": {"brushite"},
    "Ca(NO3)2 + (NH4)2SO4 -> CaSO4": {"gypsum"},
    "Ca(NO3)2 + NH4H2PO4 -> CaHPO4": {"brushite"},
    "as for calcium nitrate": {"gypsum", "brushite"},
    "insoluble compounds, clogging": {"gypsum", "brushite"},
    "potassium sulfate crystallises": {"K2SO4"},
    "common ion": {"K2SO4"},
    "common ion K": {"K2SO4"},
    "K2SO4": {"K2SO4"},
    "MgHPO4": {"newberyite"},
    "struvite / magnesium phosphate": {"struvite", "newberyite"},
    "iron phosphate": {"strengite", "vivianite"},
    "chelate protonates below about pH 3-3.5": {f"{a}:iron_iii" for a in ("edta",)}
    | {f"{a}:iron_iii" for a in ("dtpa", "eddha", "hbed")},
    "metal phosphates; acceptable only when strongly acid": {
        *("strengite", "hopeite", "cupric phosphate trihydrate"),
        "manganese hydrogen phosphate",
    },
}


@pytest.mark.parametrize("row", [r for r in CHART if r["why"] in NAMED], ids=name_of)
def test_the_reason_is_the_one_that_the_chart_names(row):
    if pair_of(row) in DISAGREE:
        return
    for verdict in verdicts(row):
        found = {ground.what for ground in verdict.grounds}
        assert found & NAMED[row["why"]], str(verdict)


def test_most_rows_with_a_reason_name_what_an_equilibrium_knows():
    reasons = [row for row in CHART if row["why"]]
    told = sum(row["why"] in NAMED for row in reasons)
    assert (len(reasons), told) == (33, 24)


def test_one_row_of_the_chart_contradicts_another_and_chemistry_takes_a_side():
    """
    Magnesium nitrate with "mono/diammonium phosphate" is barred in one table for MgHPO4;
    the chart lets the mono salt pass below pH 6. HPO4 needs pH 6 and more: the di salt is
    barred by us, the mono salt has the condition of the chart.
    """
    magnesium = "magnesium nitrate hexahydrate"
    assert pair_verdict(magnesium, "diammonium phosphate").word == "incompatible"
    mono = pair_verdict(magnesium, "monoammonium phosphate")
    assert mono.word == "caution"
    assert "clear while acid" in mono.because
    assert mono.ph < 6


def test_the_conditions_of_the_chart_are_a_ph():
    rows = [r for r in CHART if r["verdict"].endswith("pH 6")]
    assert len(rows) == 3
    for verdict in (v for row in rows for v in verdicts(row)):
        assert "clear while acid" in verdict.because
        assert verdict.ph < 6


def test_zinc_and_copper_sulfate_are_barred_where_there_is_enough_of_them():
    # the chart's gypsum comes when the sulfate is that of a main salt: 2 mmol/L
    for name in TRACES:
        some = as_ingredient(name)
        grams = (usual_amount(NITRATES[1]), 2.0 / some.forms["sulfate"])
        found = pair_verdict(NITRATES[1], name, grams_per_litre=grams)
        assert found.word == "incompatible"
        assert "gypsum" in found.numbers


# --- a plain product of concentrations cries wolf --------------------------------------

TEXTBOOK = [
    r for r in published("solubility_products") if r["source_key"] == "openstax-J"
]
KSP = {row["solid"]: float(row["Ksp_25C"]) for row in TEXTBOOK}
PLAIN = {  # openstax-J (read)
    "gypsum": (KSP["CaSO4.2H2O"], "calcium", "sulfate"),
    "brushite": (KSP["CaHPO4"], "calcium", "phosphate"),
}
WOLF = {
    # what stands in it, mmol/L, and the solid the plain product fears
    "calcium nitrate 1:100 in water with 24 mg/L of sulfate": (
        {"calcium": 500.0, "nitrate": 1000.0, "sulfate": 0.25, "sodium": 0.5},
        "gypsum",
    ),
    "calcium nitrate 1:100 with its manganese sulfate": (
        {"calcium": 500.0, "nitrate": 1000.0, "manganese": 0.915, "sulfate": 0.915},
        "gypsum",
    ),
    "Hoagland No. 1 at three times its strength": (
        {
            **{"calcium": 15.0, "nitrate": 45.0, "potassium": 18.0, "phosphate": 3.0},
            **{"magnesium": 6.0, "sulfate": 6.0},
        },
        "gypsum",
    ),
    "Hoagland No. 1 at twice its strength": (
        {
            **{"calcium": 10.0, "nitrate": 30.0, "potassium": 12.0, "phosphate": 2.0},
            **{"magnesium": 4.0, "sulfate": 4.0},
        },
        "brushite",
    ),
}


@pytest.mark.parametrize("name", WOLF)
def test_a_plain_product_of_concentrations_cries_wolf(name):
    """
    Concentrations multiplied and held against a textbook constant, all phosphate taken as
    HPO4: beyond it, and yet the index of activities is below 0, ours and that of IPhreeqc
    (Amm.dat with our constants of the solids).
    """
    forms, solid = WOLF[name]
    constant, metal, anion = PLAIN[solid]
    assert KSP["CaSO4.2H2O"] == 6.1e-5  # the largest of the textbooks' values
    assert forms[metal] * forms[anion] * 1e-6 > 1.4 * constant
    state = speciate(Solution(forms), temperature=25)
    assert state.saturation_index(solid) < -0.1
    stacked = speciate(Solution({k: np.array([v]) for k, v in forms.items()}))
    made = solids_oracle.stripped(tuple(forms), (solid,))
    phase = solids_oracle.phase_name(solid)
    text = oracle.solutions_text(per_kg(stacked))
    (theirs,) = oracle.run(oracle.engine(made), text, [f'SI("{phase}")'])["v0"]
    assert theirs < -0.1


def test_the_plain_product_is_right_where_a_solid_does_fall():
    forms = {"calcium": 500.0, "nitrate": 1000.0, "magnesium": 200.0, "sulfate": 200.0}
    assert PLAIN["gypsum"][0] < 0.1
    assert speciate(Solution(forms)).saturation_index("gypsum") > 1


# --- what the verdict says -------------------------------------------------------------


def test_hoagland_calcium_and_magnesium_fail_in_a_stock_and_keep_when_diluted():
    found = pair_verdict(*NITRATES[1:], "magnesium sulfate heptahydrate")
    assert found.word == "incompatible"
    assert found.working == "clear"
    assert found.numbers["gypsum"] > 1
    assert "gypsum falls out" in found.because
    assert "pq386" in found.reasons[0]
    assert not found.may_share
    assert found.to_frame().shape == (len(found.grounds), 5)
    assert "at working strength clear" in str(found)


def test_the_order_of_the_two_does_not_matter():
    for one, other in (("KNO3", "K2SO4"), ("urea", "nitric acid (60 %)")):
        there, back = pair_verdict(one, other), pair_verdict(other, one)
        assert there.word == back.word
        assert {g.what for g in there.grounds} == {g.what for g in back.grounds}
        for what, number in there.numbers.items():
            assert back.numbers[what] == pytest.approx(number, rel=1e-9)


def test_a_stronger_stock_is_never_better_for_gypsum():
    two = ("calcium nitrate tetrahydrate", "ferrous sulfate heptahydrate")
    index = {s: _gypsum(*two, strength=s) for s in (10, 50, 100, 200)}
    assert list(index.values()) == sorted(index.values())
    assert pair_verdict(*two, strength=200).word != "compatible"


def _gypsum(*two, strength):
    found = [as_ingredient(thing) for thing in two]
    grams = [usual_amount(i) for i in found]
    states = pair_states(found, grams, float(strength), 20.0)
    return float(states.indices["gypsum"][2])


def test_where_models_of_activity_differ_it_is_told():
    # by IPhreeqc with Amm.dat the index of this stock is 0.00, by our blend -0.19
    found = pair_verdict(NITRATES[1], "ferrous sulfate heptahydrate")
    assert found.word == "compatible"
    (told,) = [n.what for n in found.notices if "by model" in n.what]
    assert "gypsum has index -0." in told
    sure = pair_verdict(NITRATES[1], "magnesium sulfate heptahydrate")
    assert not [n for n in sure.notices if "by model" in n.what]


def test_acid_on_carbonate_foams_and_the_pressure_is_henrys():
    # 100 mmol/L of carbon dioxide over 0.0390 mol/(L atm) at 20 °C (textbook, memory)
    found = pair_verdict("potassium bicarbonate", "nitric acid (60 %)")
    assert found.numbers["carbon dioxide"] == pytest.approx(0.1 / 0.039, rel=0.1)
    assert found.word == "dangerous"


@pytest.mark.parametrize("alkali", ["calcium hydroxide", "potassium hydroxide"])
def test_ammonia_comes_off_over_lime_and_lye(alkali):
    # all of 200 mmol/L of ammonium would give 3500 ppm over 57 mol/(L atm) (textbook)
    found = pair_verdict("ammonium sulfate", alkali)
    assert found.word == "dangerous"
    assert 25 < 1e6 * found.numbers["ammonia"] < 1e6 * 0.2 / 57 * 1.3


def test_iron_sulfate_is_judged_as_what_air_makes_of_it():
    found = pair_verdict("monopotassium phosphate", "ferrous sulfate heptahydrate")
    assert "once air has been at the iron" in found.because
    assert any("rust" in notice.what for notice in found.notices)


def test_what_does_not_dissolve_alone_is_no_fault_of_the_pair():
    found = pair_verdict("gypsum", "urea")
    assert found.word == "caution"
    assert "gypsum alone is not clear" in found.because
    assert "gypsum" not in found.numbers


def test_what_is_no_ingredient_is_judged_by_tables():
    found = pair_verdict("household bleach", "ammonium nitrate")
    assert found.word == "dangerous"
    assert "chloramine" in found.because
    assert found.ph is None
    assert found.working == ""
    assert found.first == "hypochlorite (bleach)"
    unknown = pair_verdict("KCl", "bleach")
    assert unknown.word == "caution"
    assert unknown.second == "hypochlorite (bleach)"


def test_own_amounts_are_taken_by_order_or_by_name():
    two = ("CaCl2·2H2O", "MgSO4·7H2O")
    by_order = pair_verdict(*two, grams_per_litre=(1e-3, 2e-3))
    by_name = pair_verdict(*two, grams_per_litre={two[1]: 2e-3, two[0]: 1e-3})
    assert by_order.grams == by_name.grams == (1e-3, 2e-3)
    assert by_order.word == by_name.word == "compatible"
    half = pair_verdict(*two, grams_per_litre={two[0]: 1e-3})
    assert half.grams[1] == pytest.approx(usual_amount(two[1]))


def test_a_solution_of_ones_own_is_an_ingredient():
    traces = stock("traces", {"ZnSO4·7H2O": 2.2, "H3BO3": 28.6}, volume=10)
    found = pair_verdict(traces, "KH2PO4", grams_per_litre=(1.0, 0.136))
    assert found.word == "caution"
    assert "hopeite" in found.because


# --- usual amounts ---------------------------------------------------------------------


def test_every_ingredient_of_the_catalogue_has_a_usual_amount():
    for ingredient in catalogue().values():
        assert 0 < usual_amount(ingredient) < 2, ingredient.name


HOAGLAND = {  # hershey-1997 (read): mL of 1 mol/L stocks for a litre
    "KNO3": "KNO3",
    "Ca(NO3)2": "Ca(NO3)2·4H2O",
    "KH2PO4": "KH2PO4",
    "MgSO4": "MgSO4·7H2O",
}


@pytest.mark.parametrize("formula", HOAGLAND)
def test_main_salts_are_those_of_hoagland(formula):
    rows = published("recipes_salts")
    given = {r["formula"]: r["amount"] for r in rows if r["recipe"] == "hoagland1"}
    found = as_ingredient(HOAGLAND[formula])
    lead = usual_class(found)["lead"]
    assert usual_amount(found) * found.forms[lead] == pytest.approx(
        float(given[formula])
    )


def test_traces_are_those_of_hoagland_and_a_thousandth_of_the_rest():
    rows = [r for r in published("recipes_salts") if r["recipe"] == "hoagland-micro"]
    rows = [r for r in rows if "MoO3" not in r["formula"]]
    assert len(rows) == 4
    for row in rows:
        printed = float(row["amount"]) / 1000  # 1 mL of the stock in a litre
        formula = row["formula"].replace(".", "·")
        assert usual_amount(formula) == pytest.approx(printed, rel=0.01)
        assert usual_amount(formula) < 0.01 * usual_amount("KNO3")


def test_an_ingredient_of_no_class_is_asked_back():
    with pytest.raises(MissingData, match="grams_per_litre"):
        usual_amount("KF")


# --- the table of a shelf --------------------------------------------------------------

SHELF = (
    *("Ca(NO3)2·4H2O", "KNO3", "KH2PO4", "NH4H2PO4", "MgSO4·7H2O", "K2SO4"),
    *("NH4NO3", "urea", "FeSO4·7H2O", "iron EDTA chelate (13 % Fe)", "ZnSO4·7H2O"),
    *("H3BO3", "KHCO3", "phosphoric acid (75 %)", "nitric acid (60 %)"),
)


def test_the_table_is_that_of_its_pairs():
    table = compatibility_table(SHELF)
    assert len(table.verdicts) == 15 * 14 // 2
    for verdict in table.verdicts:
        alone = pair_verdict(verdict.first, verdict.second)
        assert alone.word == verdict.word
        assert [g.what for g in alone.grounds] == [g.what for g in verdict.grounds]
        assert alone.ph == pytest.approx(verdict.ph, abs=1e-9)


def test_the_table_is_symmetric_and_says_why_on_request():
    table = compatibility_table(SHELF)
    words = table.rows()
    assert all(words[n][n] == "" for n in range(15))
    assert all(words[m][n] == words[n][m] for m in range(15) for n in range(15))
    frame = table.to_frame()
    assert frame.loc["KNO3", "urea"] == table.verdict("urea", "KNO3").word
    graded = [WORDS.index(word) for _, _, word, _ in table.reasons()]
    assert graded == sorted(graded, reverse=True)
    assert len(graded) == sum(v.word != "compatible" for v in table.verdicts)
    assert str(table).count("\n") >= 16
    assert "incompatible" in str(table)


def test_a_shelf_of_fifteen_is_worked_out_as_stacks(monkeypatch):
    calls = Counter()

    def counted(*args, **given):
        calls["speciate"] += 1
        return speciate(*args, **given)

    monkeypatch.setattr("formulate.mixing.pair_states.speciate", counted)
    compatibility_table(SHELF)
    assert calls["speciate"] == 4  # own pH and imposed; the same with aired iron
    calls.clear()
    compatibility_table(SHELF[:8])
    assert calls["speciate"] == 2  # without iron(II)


def test_every_two_of_the_catalogue_come_to_rest():
    some = [name for n, name in enumerate(catalogue()) if n % 4 == 0]
    table = compatibility_table(some, strength=150, temperature=10.0)
    assert all(np.isfinite(v.ph) for v in table.verdicts)


# --- bad input -------------------------------------------------------------------------


def test_every_fault_is_told_at_once():
    with pytest.raises(InputError) as caught:
        pair_verdict("Epsomm", "KNO3", strength=1, temperature=80)
    assert len(caught.value.faults) == 3
    with pytest.raises(InputError, match="1:1000 is the strongest computed"):
        pair_verdict("KNO3", "KCl", strength=2000)
    assert pair_verdict("KNO3", "KCl", strength="1+99").strength == 100


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"first": "KNO3", "second": "KNO3"}, "twice"),
        ({"first": "saltpetre", "second": "KNO3"}, "the same material"),
        ({"first": "bleach", "second": "metals"}, "at least one ingredient"),
        ({"first": "KNO3", "second": 7}, "no ingredient"),
        ({"first": "KNO3", "second": "KCl", "strength": "much"}, "strength"),
        ({"first": "KNO3", "second": "KCl", "strength": float("nan")}, "strength"),
        ({"first": "KNO3", "second": "KCl", "grams_per_litre": (1, -1)}, "above 0"),
        ({"first": "KNO3", "second": "KCl", "grams_per_litre": (1,)}, "give 2 numbers"),
        (
            {"first": "KNO3", "second": "KCl", "grams_per_litre": {"S": 1}},
            "none of the",
        ),
        (
            {"first": "KNO3", "second": "KCl", "grams_per_litre": (20, 1)},
            "weaker stock",
        ),
        ({"first": "KNO3", "second": "calcium nitrate"}, "not one material"),
        ({"first": "KF", "second": "KNO3"}, "no usual amount"),
    ],
)
def test_what_cannot_be_judged_is_told(given, words):
    with pytest.raises((InputError, UnknownName, MissingData), match=words):
        pair_verdict(**given)


def test_a_liquid_needs_its_density():
    bare = from_formula("HNO3", percent=60, dissolved=True)
    with pytest.raises(InputError, match="density"):
        pair_verdict(bare, "KNO3")


def test_faults_of_a_shelf():
    with pytest.raises(InputError, match="two ingredients or more"):
        compatibility_table(["KNO3"])
    with pytest.raises(InputError, match="two ingredients or more"):
        compatibility_table("KNO3")
    with pytest.raises(InputError) as caught:
        compatibility_table(["KNO3", "KNO3", "nothing known", "Epsomm"])
    assert len(caught.value.faults) == 3
    table = compatibility_table(["KNO3", "KCl"])
    with pytest.raises(UnknownName, match="not in the table"):
        table.verdict("KNO3", "urea")


def test_an_unusual_strength_is_computed_with_a_notice():
    found = pair_verdict("KNO3", "KCl", strength=20)
    assert any("outside the usual" in notice.what for notice in found.notices)
    assert found.word == "compatible"


# --- the tables ------------------------------------------------------------------------


def test_the_rules_of_pairs_name_rules_that_stand_in_their_tables():
    names = {
        "dangerous_pairs": {row["key"] for row in read_table("dangerous_pairs")},
        "stock_rules": {row["rule"] for row in read_table("stock_rules")},
    }
    for row in read_table("pair_rules"):
        assert row["rule"] in names[row["in_table"]]
        assert row["verdict"] in {*WORDS, "notice", "alone"}
    for row in read_table("outsiders"):
        assert {*row["rules"].split("|")} <= names["dangerous_pairs"]


def test_usual_amounts_name_forms():
    forms = {row["form"] for row in read_table("forms")}
    for row in read_table("usual_amounts"):
        assert {*row["lead"].split("|")} <= forms
