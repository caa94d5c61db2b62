"""What falls out: against IPhreeqc, measured solubility of gypsum, laws, edges."""

import csv
from pathlib import Path

import numpy as np
import phreeqc_oracle as oracle
import pytest
import solids_oracle
from bench_chemistry import solids_side_by_side
from random_feeds import CHARGES, RANGES, feeds, wild
from test_speciation import per_kg

from formulate.chemistry.precipitation import precipitate
from formulate.chemistry.solids import mineral, mineral_names
from formulate.chemistry.speciation import index_spread, speciate
from formulate.errors import InputError, NoConvergence, UnknownName
from formulate.stoichiometry.solution import Solution, solution

PUBLISHED = Path(__file__).parent / "published"
DATABASE = "Amm.dat"


def alkaline_feeds(count, seed):
    """Return strong feeds with potassium hydroxide, so that brushite may form."""
    rng = np.random.default_rng(seed)
    contents = feeds(count, seed)
    contents["potassium"] = contents["potassium"] + rng.uniform(0.0, 3.0, count)
    contents["phosphate"] = contents["phosphate"] + rng.uniform(0.0, 1.5, count)
    contents["nitrate"] = contents["nitrate"] + rng.uniform(-0.5, 0.5, count)
    return {form: np.maximum(values, 0.0) for form, values in contents.items()}


def concentrates(count, seed):
    """Return calcium nitrate met by sulfates: concentrates of 20- to 200-fold strength."""
    rng = np.random.default_rng(seed)
    calcium, magnesium, potassium, more = (
        rng.uniform(*ends, count) for ends in ((50, 800), (20, 400), (0, 150), (0, 600))
    )
    return {
        "calcium": calcium,
        "magnesium": magnesium,
        "potassium": 2 * potassium + more,
        "nitrate": 2 * calcium + more,
        "sulfate": magnesium + potassium,
    }


def gypsum_database(forms):
    """Return a database with some forms and the engine's own gypsum."""
    theirs = [m for m in solids_oracle.minerals_of(DATABASE) if m.name == "Gypsum"]
    return solids_oracle.stripped(tuple(forms), theirs)


def after(made, phases, names, terms):
    """Return the engine's values before and after phases form from our solutions."""
    state = speciate(made)
    forms = tuple(made.forms)
    database = solids_oracle.stripped(forms, names)
    engine = oracle.engine(database)
    return state, solids_oracle.equilibria(engine, per_kg(state), phases, terms)


# --- against IPhreeqc ----------------------------------------------------------------------


def test_brushite_formed_in_five_hundred_feeds_is_that_of_phreeqc():
    """Both with the recommended brushite; ours WATEQ4F pairs, the engine Amm.dat: 0.02."""
    made = Solution(alkaline_feeds(500, 51))
    terms = ['-LA("H+")']
    state, found = after(made, ["Brushite"], ["brushite"], terms)
    ours = precipitate(state, ["brushite"])
    per_kg_water = ours.amounts["brushite"] / state.water_kg_l
    theirs = 1000 * found["Brushite"][1]
    assert (theirs > 0.1).sum() > 100
    assert np.abs(per_kg_water - theirs).max() < 0.02
    assert np.abs(ours.ph - found['-LA("H+")'][1]).max() < 0.02


def test_with_its_constants_brushite_gypsum_and_calcite_together_are_those_of_phreeqc():
    contents = {f: 6 * v for f, v in alkaline_feeds(100, 52).items()}
    made, known = Solution(contents), oracle.constants_of(DATABASE)
    state = speciate(made, constants=known, activity="wateq")
    phases = {m.name: m for m in solids_oracle.minerals_of(DATABASE)}
    solids = [phases["Gypsum"], phases["Calcite"], mineral("brushite")]
    names = ("Gypsum", "Calcite", "Brushite")
    engine = oracle.engine(solids_oracle.stripped(tuple(contents), solids))
    found = solids_oracle.equilibria(engine, per_kg(state), names, ['-LA("H+")'])
    ours = precipitate(state, solids)
    together = 0
    for name in names:
        theirs = 1000 * found[name][1]
        amounts = ours.amounts.get(name, ours.amounts.get(name.lower(), 0.0))
        assert amounts / state.water_kg_l == pytest.approx(theirs, abs=0.02), name
        together = together + (theirs > 0.01)
    assert (together > 1).sum() > 10
    assert np.abs(ours.ph - found['-LA("H+")'][1]).max() < 0.02


def test_gypsum_formed_in_concentrates_is_that_of_phreeqc_within_ten_percent():
    """Like model against like: WATEQ; where the index exceeds 1."""
    made = Solution(concentrates(50, 53))
    state = speciate(made, activity="wateq")
    engine = oracle.engine(gypsum_database(made.forms))
    found = solids_oracle.equilibria(
        engine, per_kg(state), ["Gypsum"], ['SI("Gypsum")']
    )
    index = found['SI("Gypsum")'][0]
    ours = precipitate(state, ["gypsum"])
    formed, theirs = (
        ours.amounts["gypsum"] / state.water_kg_l,
        1000 * found["Gypsum"][1],
    )
    above = index > 1.0
    assert above.sum() > 20
    assert np.abs(formed / theirs - 1)[above].max() < 0.10
    own = state.saturation_index("gypsum")
    telling = np.abs(index) > 0.3
    assert np.array_equal(own[telling] > 0, index[telling] > 0)
    low, high = index_spread(state, "gypsum")
    inside = (index >= low - 0.05) & (index <= high + 0.05)
    assert inside.all()


# --- against measurement -------------------------------------------------------------------


with (PUBLISHED / "gypsum_solubility_electrolytes.csv").open(encoding="utf-8") as file:
    MEASURED = [r for r in csv.DictReader(file) if r["how_known"] == "read"]


def dissolved(row):
    """Return how much gypsum our model dissolves in a salt solution. [mol/kg]"""
    salt, t = 1000 * float(row["salt_mol_kgw"] or 0), float(row["temperature_C"])
    held = {"none": {}, "NaCl": {"sodium": salt, "chloride": salt}}
    held["Na2SO4"] = {"sodium": 2 * salt, "sulfate": salt}
    made = Solution(held[row["salt"]], 0.0, t)
    if not made.forms:
        made = Solution({"calcium": 1e-9, "nitrate": 2e-9}, 0.0, t)
    state = speciate(made, water_kg_l=1.0)
    found = precipitate(state, ["gypsum"], present={"gypsum": 200.0})
    return (200.0 - found.amounts["gypsum"]) / found.after.water_kg_l / 1000


def off(row):
    return dissolved(row) / float(row["gypsum_dissolved_mol_kgw"]) - 1


@pytest.mark.parametrize(
    "row",
    [r for r in MEASURED if r["salt"] == "none" and float(r["temperature_C"]) <= 50],
    ids=lambda r: f"{r['temperature_C']} °C",
)
def test_gypsum_dissolves_in_water_as_measured_within_five_percent(row):
    """Marshall & Slusher 1966, Blount & Dickson 1973 (usgs-gypsum-tests, read)."""
    assert abs(off(row)) < 0.05


SHORT = pytest.mark.xfail(strict=True, reason="14 to 23 % too little, validation.md")


@pytest.mark.parametrize("salt", ["NaCl", pytest.param("Na2SO4", marks=SHORT)])
def test_gypsum_dissolves_in_brines_as_measured(salt):
    """Within 8 % up to 0.5 mol/kg; in sodium sulfate the model falls short of it.

    usgs-gypsum-tests, read. The rows for sodium sulfate come from a laboratory whose value
    for pure water is 6.6 % above the others: held against that, the first are within 8 %.
    """
    rows = [
        r for r in MEASURED if r["salt"] == salt and float(r["temperature_C"]) <= 50
    ]
    rows = [r for r in rows if 0 < float(r["salt_mol_kgw"]) <= 0.5]
    found = np.array([off(row) for row in rows])
    assert len(found) > 5
    assert np.abs(found).max() < 0.08


# --- laws ----------------------------------------------------------------------------------


def test_precipitate_and_redissolve_gives_the_start_back():
    contents = {f: 6 * v for f, v in alkaline_feeds(200, 61).items()}
    made = Solution(contents)
    found = precipitate(made)
    again = found.redissolved()
    for form, values in contents.items():
        assert again.forms[form] == pytest.approx(values, rel=1e-9, abs=1e-12), form
    before, after_all = speciate(made), speciate(again)
    assert after_all.ph == pytest.approx(before.ph, abs=1e-9)


def test_what_is_solid_dissolves_again_in_enough_water():
    strong = solution({"Ca": 30.0, "SO4": 30.0, "K": 5.0, "NO3": 5.0})
    fallen = precipitate(strong)
    amount = fallen.amounts["gypsum"]
    thin = Solution({f: v / 4 for f, v in fallen.after.solution.forms.items()})
    found = precipitate(thin, present={"gypsum": amount / 4})
    assert not found.amounts
    for form, value in strong.forms.items():
        assert found.after.solution.forms[form] == pytest.approx(value / 4, rel=1e-9)


@pytest.mark.parametrize("given", [{}, {"ph": 6.0}], ids=["from charges", "imposed"])
def test_every_solid_is_at_saturation_or_absent(given):
    contents = {f: 8 * v for f, v in feeds(300, 62, tuple(RANGES)).items()}
    state = speciate(Solution(contents), **given)
    found = precipitate(state)
    for name in mineral_names("matters"):
        index = found.after.saturation_index(name)
        there = found.amounts.get(name, np.zeros(300)) > 0
        assert np.abs(index[there]).max(initial=0.0) < 2e-8, name
        assert index[~there].max(initial=-1.0) < 2e-8, name
    assert any((v > 0).any() for v in found.amounts.values())


def test_mass_closes_and_lost_nutrients_are_what_the_solids_hold():
    made = solution({"Ca": 8.0, "P": 5.0, "K": 10.0, "NO3": 21.0, "HCO3": 3.0}, ph=7.5)
    found = precipitate(made)
    solids = sum(
        amount * mineral(name).forms.get("phosphate", 0.0)
        for name, amount in found.amounts.items()
    )
    assert solids > 1.0
    # P 30.974 g/mol, IUPAC
    assert found.lost["P"] == pytest.approx(30.974 * solids, rel=1e-4)
    assert found.lost["P"] == pytest.approx(
        made.mg_l("P") - found.after.solution.mg_l("P"), rel=1e-9
    )
    assert "K" not in found.lost


def test_a_stack_equals_its_parts():
    contents = {f: 6 * v for f, v in alkaline_feeds(8, 63).items()}
    together = precipitate(Solution(contents))
    for place in range(8):
        one = precipitate(Solution({f: float(v[place]) for f, v in contents.items()}))
        assert one.ph == pytest.approx(together.ph[place], abs=1e-7)
        for name, amounts in together.amounts.items():
            assert one.amounts.get(name, 0.0) == pytest.approx(amounts[place], abs=1e-6)


def test_a_solid_takes_its_acid_or_its_alkali_with_it():
    """Brushite from H2PO4- leaves a proton; calcite from HCO3- too."""
    held = {"calcium": 6.0, "phosphate": 4.0, "potassium": 2.0, "nitrate": 8.0}
    feed = precipitate(Solution(held))
    assert feed.amounts["brushite"] > 0.1
    assert feed.ph < feed.before.ph
    tap = precipitate(solution({"Ca": 6.0, "HCO3": 12.0}, ph=8.0), ["calcite"])
    assert tap.before.ph_imposed
    assert tap.ph == pytest.approx(8.0, abs=1e-9)
    tap = precipitate(solution({"Ca": 6.0, "HCO3": 12.0}), ["calcite"])
    assert tap.ph < tap.before.ph


def test_calcite_falls_out_of_hard_water_that_stands_in_the_air():
    """4 mmol/L Ca as bicarbonate: about 0.5 mmol/L stays (test_solids, by hand)."""
    hard = speciate(solution({"Ca": 4.0, "HCO3": 8.0}), air_co2_ppm=420)
    left = precipitate(hard, ["calcite"]).after.solution.forms["calcium"]
    assert left == pytest.approx(0.5, abs=0.06)


def test_wild_compositions_come_to_rest():
    forms = (*RANGES, "nitrate", "molybdate", "edta", "iron_iii")
    state = speciate(Solution(wild(600, 64, forms)), ph=6.5)
    found = precipitate(state)
    for name, amounts in found.amounts.items():
        assert np.all(np.isfinite(amounts)), name
        assert amounts.min() >= 0.0, name
    for form, value in found.after.solution.forms.items():
        assert value.min() >= 0.0, form


# --- edges ---------------------------------------------------------------------------------


def test_nothing_falls_out_of_a_working_feed():
    feed = solution({"Ca": 4.0, "K": 6.0, "NO3": 13.0, "Mg": 1.5, "SO4": 1.5, "P": 1.0})
    found = precipitate(feed)
    assert not found.amounts
    assert found.after is found.before
    assert found.mass_mg_l == 0.0
    assert not found.lost
    assert "nothing falls out" in str(found)


def test_chelated_iron_stays_and_free_iron_falls():
    free = precipitate(Solution({"iron_iii": 0.05, "potassium": 5.2, "nitrate": 5.0}))
    assert free.amounts["ferric hydroxide"] > 0.049
    chelated = {"iron_iii": 0.05, "dtpa": 0.05, "potassium": 5.1, "nitrate": 5.0}
    assert "ferric hydroxide" not in precipitate(Solution(chelated)).amounts


def test_every_fault_is_told_at_once():
    with pytest.raises(InputError) as told:
        precipitate(
            solution({"Ca": 1.0, "NO3": 2.0}),
            ["gypsun", "carbon dioxide gas"],
            present={"calcite": -1.0},
        )
    for words in ("gypsun", "is a gas", "calcite in mmol/L"):
        assert words in str(told.value)
    with pytest.raises((InputError, UnknownName)):
        precipitate(solution({"Ca": 1.0, "NO3": 2.0}), present=3)


def test_what_does_not_come_to_rest_is_told(monkeypatch):
    from formulate.chemistry import precipitation

    monkeypatch.setattr(precipitation, "MOST_ROUNDS", 1)
    with pytest.raises(NoConvergence, match="1 of 1 solutions"):
        precipitate(solution({"Ca": 30.0, "SO4": 30.0}))


def test_solids_are_found_well_faster_than_by_a_general_engine():
    """Half the bar of five times, a fifth of the stack forming one."""
    theirs, own, share = solids_side_by_side(2000, turns=2)
    assert 0.15 < share < 0.25
    assert theirs / own > 2.5


def test_charges_of_the_feeds_are_those_that_the_engine_balances():
    contents = alkaline_feeds(20, 51)
    charge = sum(CHARGES.get(f, 0) * v for f, v in contents.items())
    assert np.abs(charge - contents["nitrate"]).max() > 0.5  # so the pH is not imposed
