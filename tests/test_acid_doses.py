"""A dose and what it brings: protons by hand, intervals, charge and mass, words."""

import numpy as np
import pytest

from formulate.chemistry.acid_doses import (
    acid_rule,
    charge_brought,
    fitted,
    litres_taken,
    nominal_per_gram,
    with_dose,
)
from formulate.chemistry.acidity import ph_rule
from formulate.chemistry.dosing import acid_dose, compare_acids
from formulate.chemistry.protons import mean_protons, places_of
from formulate.chemistry.speciation import speciate
from formulate.errors import InputError, MissingData
from formulate.ingredients.ingredient import analysed
from formulate.ingredients.salts import acid, as_ingredient, salt
from formulate.ingredients.stock import stock
from formulate.ingredients.water import water
from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.solution import Solution, solution
from formulate.stoichiometry.units import convert

TAP = solution({"Ca": 2.35, "HCO3": 4.7}, ph=7.4)
SOFT = solution({"Ca": 0.5, "HCO3": 1.0}, ph=5.5)
NITRIC, PHOSPHORIC = "nitric acid (67 %)", "phosphoric acid (85 %)"
SULFURIC = "sulfuric acid (35 %)"
# acid constants at 25 °C (handbooks, from memory): H2PO4-, H3PO4, HSO4-, CO2, HCO3-, NH4+
PK = {"P2": 7.20, "P1": 2.15, "S": 1.99, "C1": 6.35, "C2": 10.33, "N": 9.25}


# --- protons -----------------------------------------------------------------------------


def share_of(pk, ph):
    """Return the share of an acid that has lost its proton."""
    return 1 / (1 + 10 ** (PK[pk] - ph))


def thin(form, ph):
    return speciate(Solution({form: 0.02, "sodium": 0.02}), ph=ph)


@pytest.mark.parametrize("ph", [4.5, 5.0, 5.8, 6.5, 7.2, 8.0])
def test_protons_by_hand_in_a_thin_solution(ph):
    """pK are printed to a hundredth; 0.005 of it moves a share by 0.003 at the most."""
    phosphate = 3 - share_of("P1", ph) - share_of("P2", ph)
    assert mean_protons(thin("phosphate", ph), "phosphate") == pytest.approx(
        phosphate, abs=0.01
    )
    carbonate = 2 - share_of("C1", ph) - share_of("C2", ph)
    assert mean_protons(thin("carbonate", ph), "carbonate") == pytest.approx(
        carbonate, abs=0.01
    )
    sulfate = 1 - share_of("S", ph)
    assert mean_protons(thin("sulfate", ph), "sulfate") == pytest.approx(
        sulfate, abs=0.001
    )
    assert mean_protons(thin("nitrate", ph), "nitrate") == 0
    assert mean_protons(thin("nitrate", ph), "phosphate") == 0


@pytest.mark.parametrize("ph", [8.5, 9.25, 10.0])
def test_ammonium_loses_its_proton(ph):
    lost = share_of("N", ph)
    found = mean_protons(thin("ammonium", ph), "ammonium")
    assert found == pytest.approx(-lost, abs=0.01)


@pytest.mark.parametrize("ph", [5.0, 5.5, 6.0])
def test_protons_that_acids_give(ph):
    """A phosphoric acid one and a little, a nitric exactly one, a sulfuric two."""
    soft = solution({"Na": 0.1, "HCO3": 0.1})
    phosphoric = share_of("P1", ph) + share_of("P2", ph)
    assert acid_dose(soft, PHOSPHORIC, ph=ph).protons == pytest.approx(
        phosphoric, abs=0.01
    )
    assert acid_dose(TAP, NITRIC, ph=ph).protons == pytest.approx(1, abs=1e-12)
    assert acid_dose(TAP, SULFURIC, ph=ph).protons == pytest.approx(
        1 + share_of("S", ph), abs=0.001
    )


@pytest.mark.parametrize(
    ("name", "taken"),
    # by hand from the constants above, at pH 7 in a thin water; a silicate and a borate
    # keep their acid whole there
    [
        ("KOH", 1.0),
        ("Ca(OH)2", 2.0),
        ("K2CO3", 2 - 1 / (1 + 10 ** (6.35 - 7))),
        ("Na2CO3", 2 - 1 / (1 + 10 ** (6.35 - 7))),
        ("sodium carbonate decahydrate", 2 - 1 / (1 + 10 ** (6.35 - 7))),
        ("K2HPO4", 1 - 1 / (1 + 10 ** (7.2 - 7))),
        ("K3PO4", 2 - 1 / (1 + 10 ** (7.2 - 7))),
        ("Na2SiO3", 2.0),
        ("borax decahydrate", 2.0),
        ("ammonia solution (25 %)", 1.0),
    ],
)
def test_protons_that_alkalis_take_count_for_a_unit_of_the_formula(name, taken):
    soft = solution({"Na": 0.1, "HCO3": 0.1, "Cl": 0.09}, ph=5.5)
    dose = acid_dose(soft, name, ph=7.0)
    assert dose.protons == pytest.approx(-taken, abs=0.03)


def test_what_has_no_formula_counts_by_its_commonest_form():
    weak = stock("weak acid", {NITRIC: 50}, volume=1)
    dose = acid_dose(TAP, weak, ph=5.8)
    assert dose.protons == pytest.approx(1, abs=1e-9)


# --- equivalents -------------------------------------------------------------------------


def test_an_equivalent_of_alkalinity():
    """conversion_factors.csv: bailey-alkalinity, read: 50.04; purdue-alkalinity, read: 50.

    hightunnels-water, read, prints the water: 120 mg/L HCO3 are 1.97 meq/L (recomputed).
    """
    one = convert(1, "meq/L", "mg/L as CaCO3")
    assert one == pytest.approx(50.04, abs=0.005)
    assert one == pytest.approx(50, abs=0.5)
    tap = water({"HCO3": "120 mg/L", "Ca": "40.4 mg/L", "pH": 8.3})
    assert tap.solution.alkalinity() == pytest.approx(1.97, abs=0.005 + 0.01)  # CO3-2


def test_acetic_acid_as_it_is_sold():
    """OpenStax Chemistry, appendix F, read: 99.5 %, 1.05 kg/L, 17.4 mol/L."""
    molar = 1.05 * 995 / molar_mass("CH3COOH")
    assert molar == pytest.approx(17.4, abs=0.05 + 17.4 * 0.005 / 1.05)


# --- the dose ----------------------------------------------------------------------------


def test_what_each_acid_brings_by_hand():
    """1 meq of nitric brings 14.007 mg N, of sulfuric 16.03 mg S (equivalent weights)."""
    nitric, sulfuric, phosphoric = compare_acids(
        TAP, [NITRIC, SULFURIC, PHOSPHORIC], ph=5.8
    )
    assert nitric.brings == {"NO3-N": pytest.approx(nitric.gap * 14.007, rel=1e-4)}
    assert sulfuric.brings == {"S": pytest.approx(sulfuric.gap * 16.03, rel=2e-4)}
    brings = phosphoric.gap / phosphoric.protons * 30.974
    assert phosphoric.brings == {"P": pytest.approx(brings, rel=1e-4)}


@pytest.mark.parametrize("name", [NITRIC, SULFURIC, PHOSPHORIC, "KHSO4"])
def test_the_gap_is_the_charge_of_the_water_at_the_wanted_ph(name):
    """The water alone at pH 5.8 lacks what the dose gives; ion strength aside."""
    dose = acid_dose(TAP, name, ph=5.8)
    lacks = speciate(dose.before.solution, ph=5.8).charge_left()
    assert dose.gap == pytest.approx(lacks, rel=0.01)
    assert charge_brought(dose.after, dose.ingredient) * dose.grams == pytest.approx(
        -dose.gap, rel=1e-12
    )


def test_bicarbonate_by_hand():
    """4.7 mmol/L carbon at pH 7.4, to 5.8: C (share at 7.4 - share at 5.8), pK1 6.35.

    The activity of HCO3- takes 0.038 off it at an ionic strength of 7 mmol/L (Davies).
    """
    k1 = 6.35 - 0.038
    there, wanted = (1 / (1 + 10 ** (k1 - ph)) for ph in (7.4, 5.8))
    assert acid_dose(TAP, NITRIC, ph=5.8).gap == pytest.approx(
        4.7 * (there - wanted), rel=0.01
    )


def test_in_the_end_a_bicarbonate_water_needs_more_than_at_once():
    """At pH 6 in the air hardly any bicarbonate stays: pK1 6.35, pKH 1.47 (memory).

    lg c = -1.47 - 6.35 + lg 420e-6 + 6 = -5.2: 0.0065 of 4.35 meq/L.
    """
    closed = acid_dose(TAP, NITRIC, ph=6.0)
    aerated = acid_dose(TAP, NITRIC, ph=6.0, air_co2_ppm=420)
    assert aerated.grams > 1.2 * closed.grams
    left = 1000 * 10 ** (-1.47 - 6.35 + np.log10(420e-6) + 6.0)
    alkalinity = TAP.alkalinity()
    assert aerated.gap == pytest.approx(alkalinity - left, rel=0.02)


def test_the_interval_holds_the_dose_and_the_waters_it_stands_for():
    dose = acid_dose(TAP, NITRIC, ph=5.8, alkalinity_error=0.3)
    low, high = dose.interval
    assert isinstance(low, float)
    assert isinstance(high, float)
    assert low < dose.grams < high
    assert dose.error == pytest.approx(0.3 + 0.01 * dose.gap)
    for way, end in ((-0.3, low), (0.3, high)):
        base = dose.before.solution
        other = Solution(base.forms, base.unassigned_charge + way)
        moved = acid_dose(other, NITRIC, ph=5.8).grams
        assert low < moved < high
        assert moved == pytest.approx(end, rel=0.02)  # 1 % of it is of the weight


def test_the_error_is_that_of_the_rules():
    """ph_rules: 5 % of the alkalinity, at least 0.05 meq/L; acid_rules: 1 % of the dose."""
    dose = acid_dose(TAP, NITRIC, ph=5.8)
    assert dose.error == pytest.approx(0.05 * TAP.alkalinity() + 0.01 * dose.gap)
    pure = acid_dose(solution({}), NITRIC, ph=4.0)
    least = ph_rule("least alkalinity error")
    assert pure.error == pytest.approx(least + 0.01 * pure.gap)


def test_a_small_dose_may_be_none():
    dose = acid_dose(TAP, NITRIC, ph=7.3)
    low, high = dose.interval
    assert low == 0
    assert high > 2 * dose.grams


def test_millilitres():
    """67 % nitric acid weighs 1.40 kg/L (acid-choices-table)."""
    dose = acid_dose(TAP, NITRIC, ph=5.8)
    assert dose.millilitres == pytest.approx(dose.grams / 1.40)
    assert acid_dose(SOFT, "KOH", ph=6.5).millilitres is None


def test_a_water_has_a_solution_and_a_stock_is_poured_in_millilitres():
    tap = water({"Ca": 80, "HCO3": 244, "pH": 7.5})
    weak = stock("thin acid", {NITRIC: 100}, volume=1)
    dose = acid_dose(tap, weak, ph=5.8)
    assert dose.millilitres == dose.grams
    assert dose.before.ph == pytest.approx(7.5, abs=1e-6)
    whole = acid_dose(tap, NITRIC, ph=5.8)
    assert dose.grams / 10 == pytest.approx(whole.grams, rel=0.01)  # its water dilutes


def test_tomorrow_the_ph_has_risen():
    """In the air pH = pK1 + pKH + lg (bicarbonate) - lg (carbon dioxide), pKH 1.47 (memory).

    Activities take 0.04 off; pairs with calcium a little more.
    """
    dose = acid_dose(TAP, NITRIC, ph=5.8)
    left = TAP.alkalinity() - dose.gap
    aired = 6.35 + 1.47 + np.log10(left * 1e-3) - np.log10(420e-6) - 0.04
    assert dose.tomorrow.ph > 7.5
    assert dose.tomorrow.ph == pytest.approx(aired, abs=0.05)
    assert dose.after.ph == pytest.approx(5.8)
    open_now = acid_dose(TAP, NITRIC, ph=5.8, air_co2_ppm=ph_rule("air carbon dioxide"))
    assert open_now.tomorrow.ph == pytest.approx(5.8, abs=1e-6)


# --- mass and charge ---------------------------------------------------------------------


@pytest.mark.parametrize("name", [NITRIC, "KNO3", "KOH", "potash"])
@pytest.mark.parametrize("grams", [0.0, 0.3, np.array([0.0, 1.0, 20.0])])
def test_a_liquid_takes_room_and_nothing_is_lost(name, grams):
    made = as_ingredient("K2CO3" if name == "potash" else name)
    start = solution({"K": 1.0, "NO3": 1.0, "Ca": 2.0, "HCO3": 4.0}, ph=7.5)
    after = with_dose(start, made, grams)
    room = grams / 1.40 / 1000 if name == NITRIC else 0.0 * grams  # L
    assert litres_taken(made) * grams == pytest.approx(room)
    for key in {*start.forms, *made.forms}:
        held = start.forms.get(key, 0.0) + made.forms.get(key, 0.0) * grams
        assert after.forms.get(key, 0.0) * (1 + room) == pytest.approx(held, rel=1e-12)
    charge = start.unassigned_charge
    assert after.unassigned_charge * (1 + room) == pytest.approx(charge, rel=1e-12)


def test_unnamed_ions_of_what_goes_in_are_kept():
    """30 % K and 5 % NO3-N by analysis: what else is there carries 4.1034 meq/g, by hand."""
    made = analysed("sour blend", {"K": 30.0, "NO3-N": 5.0})
    unnamed = -(300 / 39.098 - 50 / 14.007)
    after = with_dose(TAP, made, 2.0)
    held = TAP.unassigned_charge + 2.0 * unnamed
    assert after.unassigned_charge == pytest.approx(held, rel=1e-4)


@pytest.mark.parametrize("form", ["sulfate", "zinc", "iron_iii", "potassium"])
def test_the_species_that_hold_a_form_are_all_of_it(form):
    """Pairs of two sulfates count twice."""
    totals = {"iron_iii": 1.0, "sulfate": 20.0, "zinc": 1.0, "potassium": 40.0}
    state = speciate(Solution(totals), ph=2.0)
    held = [state.amount(state.names[place]) for place in places_of(state.net, form)]
    assert sum(held) == pytest.approx(totals[form], rel=1e-9)


def test_what_is_not_there_has_no_species():
    state = speciate(TAP)
    assert places_of(state.net, "sulfate") == ()
    assert mean_protons(state, "sulfate") == 0


@pytest.mark.parametrize(
    ("name", "meq"),
    # equivalents of a mole at the nominal ions, by hand
    [
        *(("HNO3", -1), ("H2SO4", -2), ("H3PO4", -1), ("HCl", -1), ("C6H8O7", -3)),
        *(("KOH", 1), ("K2CO3", 1), ("Ca(OH)2", 2), ("NH3", 1), ("KHSO4", -1)),
        *(("KNO3", 0), ("KH2PO4", 0), ("NaHCO3", 0), ("H3BO3", 0)),
    ],
)
def test_nominal_charge_of_a_gram(name, meq):
    found = nominal_per_gram(salt(name)) * molar_mass(name) / 1000
    assert found == pytest.approx(meq, abs=1e-9)


def test_unnamed_ions_carry_what_a_measured_ph_leaves_open():
    state = fitted(TAP)
    assert abs(state.charge_left()) < 1e-10
    assert state.ph == pytest.approx(7.4)
    free = Solution(state.solution.forms, state.solution.unassigned_charge)
    assert speciate(free).ph == pytest.approx(7.4, abs=1e-6)
    unmeasured = solution({"Ca": 2.0, "HCO3": 4.0})
    assert fitted(unmeasured).solution is unmeasured


# --- words -------------------------------------------------------------------------------


def test_much_phosphorus_is_told():
    """umass-acids, read: 2.25 fl oz of 75 % acid in 100 US gal, about 66 mg/L P at most."""
    limit = acid_rule("harmful phosphoric dose")
    hard, soft = (
        acid_dose(w, PHOSPHORIC, ph=5.8)
        for w in (TAP, solution({"HCO3": 1.0, "Na": 1.0}))
    )
    assert hard.brings["P"] > limit > soft.brings["P"]
    (told,) = [n for n in hard.notices if n.source_key == "umass-acids"]
    assert told.severity == "caution"
    assert "66" in told.what
    assert not [n for n in soft.notices if n.source_key == "umass-acids"]


def test_citric_acid_does_not_last():
    dose = acid_dose(TAP, "citric acid anhydrous", ph=6.0)
    assert any("microbes" in notice.what for notice in dose.notices)


def test_the_words_of_a_dose_name_what_and_how_to_handle_it():
    told = str(acid_dose(TAP, NITRIC, ph=5.8))
    for words in ("0.219 mL", "7.40 to 5.80", "NO3-N", "never water to acid"):
        assert words in told
    many = acid_dose(TAP, NITRIC, ph=np.array([5.5, 6.0]))
    assert str(many) == "2 doses of nitric acid (67 %)"


@pytest.mark.parametrize("name", [NITRIC, PHOSPHORIC, "K2CO3"])
def test_the_working_gives_the_dose(name):
    start, ph = (SOFT, 6.5) if name == "K2CO3" else (TAP, 5.8)
    dose = acid_dose(start, name, ph=ph)
    each, whole = dose.working().steps
    assert whole.value == pytest.approx(dose.grams, rel=1e-9)
    assert each.value == pytest.approx(abs(dose.gap) / dose.grams, rel=1e-9)


def test_the_working_of_a_stack_is_refused():
    with pytest.raises(InputError, match="stack"):
        acid_dose(TAP, NITRIC, ph=np.array([5.5, 6.0])).working()


def test_cost():
    dear = acid("HNO3", percent=67, price_per_kg=2.0)
    dose = acid_dose(TAP, dear, ph=5.8)
    assert dose.cost(1000) == pytest.approx(2.0 * dose.grams)
    assert acid_dose(TAP, NITRIC, ph=5.8).cost() is None


def test_rules_stand_in_their_table():
    assert acid_rule("first portion") == 80  # common practice, no source
    with pytest.raises(MissingData, match="second portion"):
        acid_rule("second portion")
