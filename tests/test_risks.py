"""What may fall out, in words: limits of the table, spread of the models, soluble salts."""

import numpy as np
import pytest
from random_feeds import RANGES, feeds

from formulate.chemistry.risks import (
    RISKS,
    risk_level,
    salt_shares,
    solid_risks,
)
from formulate.chemistry.solids import mineral, mineral_names
from formulate.chemistry.speciation import speciate
from formulate.errors import InputError, UnknownName
from formulate.ingredients.solubility import solubility
from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.solution import Solution, solution
from formulate.tables import read_table

FEED = {"Ca": 4.0, "K": 6.0, "NO3": 13.0, "Mg": 1.5, "SO4": 1.5, "P": 1.0}


def words(risks):
    return {risk.name: risk.word for risk in risks.solids}


@pytest.mark.parametrize(
    ("solid", "index", "word"),
    [
        ("gypsum", -0.01, "none"),
        (
            "gypsum",
            0.05,
            "watch",
        ),  # metastable to 5 % with solid: lebedev-kosorukov-2017
        ("gypsum", 0.65, "certain"),
        (
            "brushite",
            0.5,
            "likely",
        ),  # came by itself at +0.5 ± 0.2: houwen-valsami-2001
        ("calcite", 0.1, "none"),  # above 0.2 slight scale: saline-pretreatment
        ("calcite", 0.5, "watch"),
        ("calcite", 1.1, "likely"),
        ("calcite", 2.05, "certain"),  # a cloud at 2.04: pyramid-lake-2012
        ("silica", 0.1, "watch"),  # 120 to 170 mg/L of 115 persist: morey-1964
        ("silica", np.log10(640 / 115), "likely"),  # at once: tobler-2009
        ("newberyite", 1.5, "certain"),
        ("hydroxyapatite", 9.0, "none"),
        ("manganese hydrogen phosphate", 4.0, "none"),
        ("rhodochrosite", 3.0, "watch"),
        ("KNO3", 59.0, "none"),
        ("KNO3", 130.0, "certain"),
    ],
)
def test_words_follow_the_table(solid, index, word):
    assert RISKS[risk_level(solid, index)] == word


def test_levels_of_a_stack_have_its_shape():
    found = risk_level("gypsum", np.array([[-1.0, 0.1], [0.4, 3.0]]))
    assert found.tolist() == [[0, 1], [2, 3]]


def test_limits_rise_from_watch_to_certain_and_every_solid_has_some():
    rows = {row["solid"]: row for row in read_table("solid_risks")}
    for name, row in rows.items():
        edges = [row.number(word) for word in RISKS[1:]]
        edges = [edge for edge in edges if edge is not None]
        assert edges == sorted(edges), name
    for name in mineral_names("matters", "trace", "harmless"):
        assert name in rows or mineral(name).role in rows


def test_healthy_feeds_frighten_nobody():
    """A thousand ordinary feeds at pH 5.8: no solid is told as likely or certain.

    Hydroxyapatite and MnHPO4 read far above 0 there (project notes: +3 to +3.8 of MnHPO4).
    """
    contents = feeds(1000, 71, tuple(f for f in RANGES if f != "iron_ii"))
    state = speciate(Solution(contents), ph=5.8)
    above = 0
    for name in mineral_names("matters", "trace", "harmless"):
        index = state.saturation_index(name)
        assert np.max(risk_level(name, index)) <= 1, name
        above += (index > 0).sum()
    assert above > 1000  # MnHPO4 in every one


def test_harmless_solids_come_last_and_say_why():
    contents = {**FEED, "Mn": 0.01}
    risks = solid_risks(speciate(solution(contents), ph=6.8))
    harmless = [risk for risk in risks.solids if risk.role == "harmless"]
    assert {"hydroxyapatite", "manganese hydrogen phosphate"} <= {
        r.name for r in harmless
    }
    assert all(risk.word == "none" for risk in harmless)
    assert all(risk.reason for risk in harmless)
    assert not [n for n in risks.notices if "hydroxyapatite" in n.what]


def test_a_concentrate_shows_the_spread_of_the_models_and_a_feed_none():
    feed = solid_risks(speciate(solution(FEED)), least=-3)
    (gypsum,) = [risk for risk in feed.solids if risk.name == "gypsum"]
    assert gypsum.low == gypsum.high == gypsum.index
    tank = solid_risks(
        speciate(solution({"Ca": 400.0, "NO3": 800.0, "SO4": 6.0, "Mg": 6.0}))
    )
    (gypsum,) = [risk for risk in tank.solids if risk.name == "gypsum"]
    assert gypsum.high - gypsum.low > 0.1
    assert gypsum.low <= gypsum.index <= gypsum.high
    assert "by model" in gypsum.words
    assert "(" in gypsum.number


def test_the_ninefold_mistake_is_certain_and_says_what_is_lost():
    risks = solid_risks(
        speciate(solution({"Ca": 200.0, "NO3": 400.0, "Mg": 100.0, "SO4": 100.0}))
    )
    assert risks.word == "certain"
    notice = risks.notices[0]
    assert notice.severity == "serious"
    # 85.5 mmol/kg by WATEQ, 84.2 by Pitzer (project notes, section 5): 14.5 to 14.7 g
    lost = risks.precipitation.amounts["gypsum"]
    assert lost == pytest.approx(84.5, abs=3.0)
    (row,) = [row for row in risks.rows() if row[0] == "gypsum"]
    assert row[3] == f"{lost * 172.164:.0f} mg/L"
    assert "gypsum certain" in notice.what


def test_rows_say_in_words_what_the_notices_do():
    risks = solid_risks(speciate(solution({"Ca": 30.0, "SO4": 30.0, "K": 1, "Cl": 1})))
    row = risks.rows()[0]
    assert row[0] == "gypsum"
    assert row[1] in ("likely", "certain", "watch")
    assert row[3].endswith("mg/L")
    assert "gypsum" in str(risks)


# --- soluble salts -------------------------------------------------------------------------


@pytest.mark.parametrize("formula", ["KNO3", "K2SO4", "KH2PO4", "MgSO4", "(NH4)2SO4"])
@pytest.mark.parametrize("celsius", [10.0, 25.0])
def test_a_saturated_salt_reads_a_hundred_percent(formula, celsius):
    """By handbook solubility (crc-solubility, read): its own saturated solution is 100 %."""
    known = solubility(formula, celsius).mass_percent
    per_kg = 1000 * known / (100 - known) / molar_mass(formula)
    forms = {"KNO3": {"potassium": 1, "nitrate": 1}}
    forms["K2SO4"] = {"potassium": 2, "sulfate": 1}
    forms["KH2PO4"] = {"potassium": 1, "phosphate": 1}
    forms["MgSO4"] = {"magnesium": 1, "sulfate": 1}
    forms["(NH4)2SO4"] = {"ammonium": 2, "sulfate": 1}
    made = Solution(
        {f: 1000 * n * per_kg for f, n in forms[formula].items()}, 0.0, celsius
    )
    state = speciate(made, ph=4.7, water_kg_l=1.0)
    assert salt_shares(state)[formula] == pytest.approx(100.0, abs=0.01)


def test_a_common_ion_brings_a_salt_nearer_to_its_limit():
    alone = {"potassium": 800.0, "nitrate": 800.0}
    beside = {"potassium": 1200.0, "nitrate": 800.0, "chloride": 400.0}
    shares = [salt_shares(speciate(Solution(f)))["KNO3"] for f in (alone, beside)]
    assert shares[1] > 1.2 * shares[0]


def test_phosphates_are_counted_only_with_the_protons_they_hold():
    made = Solution({"potassium": 900.0, "phosphate": 800.0, "chloride": 100.0})
    shares = salt_shares(speciate(made, ph=4.5))
    assert shares["KH2PO4"] > 30
    assert shares["K2HPO4"] == 0
    shares = salt_shares(speciate(made, ph=9.0))
    assert shares["KH2PO4"] == 0
    assert shares["K2HPO4"] > 5


def test_a_stock_that_crystallises_at_night_is_told():
    """200 g/L KNO3: 21.4 g/100 g at 10 °C, 31.9 at 20 °C (crc-solubility, read)."""
    made = solution({"K": 1978.0, "NO3": 1978.0})
    warm = solid_risks(speciate(made, temperature=20))
    cold = solid_risks(speciate(made, temperature=10))
    assert words(warm)["KNO3"] in ("watch", "none")
    assert words(cold)["KNO3"] in ("likely", "certain")


def test_boric_acid_crystallises_in_a_cold_store():
    """3.2 g in 100 g of water at 5 °C are 0.52 mol/kg (crc-solubility): 1.5 mol/L is 3 times that."""
    found = solid_risks(speciate(solution({"B": 1500.0}), temperature=5))
    assert words(found)["H3BO3"] == "certain"
    assert salt_shares(found.state)["H3BO3"] == pytest.approx(290, rel=0.1)


def test_brucite_is_told_where_much_alkali_was_poured():
    found = solid_risks(speciate(solution({"Mg": 5.0, "Cl": 10.0}), ph=12))
    assert words(found)["brucite"] == "certain"


def test_odd_names_and_limits_are_told():
    for wrong in (lambda: risk_level("foobar", 1.0), lambda: risk_level(["x"], 1.0)):
        with pytest.raises((InputError, UnknownName)):
            wrong()
    with pytest.raises(InputError, match="least"):
        solid_risks(speciate(solution(FEED)), least=float("nan"))


# --- edges ---------------------------------------------------------------------------------


def test_only_the_state_of_one_solution_is_taken():
    for thing in (solution(FEED), speciate(Solution(feeds(3, 1))), 3):
        with pytest.raises(InputError, match="state of one solution"):
            solid_risks(thing)


def test_pure_water_is_near_nothing():
    risks = solid_risks(speciate(solution({"K": 0.1, "Cl": 0.1})))
    assert risks.word == "none"
    assert str(risks) == "nothing is near saturation"
