"""Stock tanks: the best of all splits, what falls out of a bad one, check values."""

from dataclasses import replace
from itertools import product

import numpy as np
import phreeqc_oracle as oracle
import pytest
from random_batches import batches
from test_speciation import per_kg

import formulate as fm
from formulate.chemistry.speciation import speciate
from formulate.errors import Infeasible, InputError
from formulate.ingredients.dissolve import dissolve
from formulate.ingredients.solubility import solubility
from formulate.mixing.batch import batch_of
from formulate.mixing.meeting import meetings
from formulate.mixing.sequence import simulate_mixing
from formulate.mixing.strength import strength_of
from formulate.mixing.tank_contents import concentrates, splits_of
from formulate.mixing.tank_split import Splits
from formulate.mixing.tanks import split_tanks

# Hoagland solution No. 1, mmol/L: Ca(NO3)2 5, KNO3 5, MgSO4 2, KH2PO4 1 (tests/published/
# recipes_salts.csv), as grams for 100 L
HOAGLAND = {
    "Ca(NO3)2·4H2O": 118.1,
    "KNO3": 50.55,
    "MgSO4·7H2O": 49.3,
    "KH2PO4": 13.61,
}
TRACES = {
    "iron EDTA chelate (13 % Fe)": 2.0,
    "MnCl2·4H2O": 0.181,
    "H3BO3": 0.286,
    "ZnSO4·7H2O": 0.022,
}


# --- the split against every other split --------------------------------------------------


def litre_of(batch):
    """Return what a litre of concentrate at 1:100 would hold of a random batch."""
    grams, volume, _, _, order = batch
    return batch_of({n: 100 * grams[n] / volume for n in order}, volume=1)


@pytest.mark.parametrize("tanks", [2, 3])
@pytest.mark.parametrize("seed", range(20))
def test_the_best_split_is_the_best_of_all_splits(seed, tanks):
    """Complete enumeration over tanks^n splits is the oracle, n up to 8."""
    (batch,) = batches(1, 600 + seed, most=8 if tanks == 2 else 7, strong=0.0)
    splits = splits_of(litre_of(batch), coldest=10.0)
    count = len(splits.first)
    costs = [
        splits.cost(
            [sum(1 << j for j, at in enumerate(ways) if at == t) for t in range(tanks)]
        )
        for ways in product(range(tanks), repeat=count)
    ]
    assert splits.cost(splits.best(tanks)) == min(costs)


def test_three_tanks_of_eight_are_the_best_of_all():
    (batch,) = batches(1, 650, most=8, least=8, strong=0.0)
    splits = splits_of(litre_of(batch), coldest=10.0)
    costs = [
        splits.cost(
            [sum(1 << j for j, at in enumerate(ways) if at == t) for t in range(3)]
        )
        for ways in product(range(3), repeat=8)
    ]
    assert splits.cost(splits.best(3)) == min(costs)


@pytest.mark.parametrize("seed", range(15))
def test_splits_of_random_costs_are_the_best_of_all(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 6))
    columns = [rng.integers(0, 4, 2**count) for _ in range(3)]
    habits = rng.integers(0, 3, count)
    splits = Splits(*columns, tuple(habits == 0), tuple(habits == 1))
    for tanks in (1, 2, 3):
        costs = [
            splits.cost(
                [
                    sum(1 << j for j, at in enumerate(ways) if at == t)
                    for t in range(tanks)
                ]
            )
            for ways in product(range(tanks), repeat=count)
        ]
        best = splits.best(tanks)
        assert splits.cost(best) == min(costs)
        assert sum(best) == 2**count - 1


# --- what the trade knows -----------------------------------------------------------------


def test_hoagland_in_one_tank_at_a_hundred_times_is_refused_with_gypsum_named():
    with pytest.raises(Infeasible) as error:
        split_tanks(HOAGLAND, strength="1:100", tanks=1, volume=100)
    text = str(error.value)
    assert "gypsum certain" in text
    assert "take 2 tanks" in text
    most = float(text.partition("at most 1:")[2].split()[0])
    kept = split_tanks(HOAGLAND, strength=0.98 * most, tanks=1, volume=100)
    assert kept.tanks[0].risks.word in ("none", "watch")


def test_hoagland_at_working_strength_is_clear():
    log = simulate_mixing(HOAGLAND, volume=100)
    assert log.steps[-1].word == "none"
    assert log.left_at_the_end == {}


def test_hoagland_in_two_tanks_is_split_as_books_split_it():
    """Calcium and iron chelate apart from sulfate, phosphate, metals (common practice)."""
    found = split_tanks({**HOAGLAND, **TRACES}, strength="1:100", volume=100)
    where = {i.name: tank.name for tank in found.tanks for i, _ in tank.parts}
    assert where["Ca(NO3)2·4H2O"] == where["iron EDTA chelate (13 % Fe)"] == "A"
    for name in ("MgSO4·7H2O", "KH2PO4", "MnCl2·4H2O", "ZnSO4·7H2O"):
        assert where[name] == "B"
    assert found.divided == "KNO3"
    assert "gypsum would fall out" in found["A"].reasons["Ca(NO3)2·4H2O"]


def test_acid_and_silicate_stand_alone():
    acid = fm.acid("HNO3", percent=38, density=1.23)
    found = split_tanks({**HOAGLAND, acid: 20.0, "K2SiO3": 10.0}, volume=100)
    assert [tank.name for tank in found.tanks] == ["A", "B", "acid", "alkaline"]
    assert [i.name for i, _ in found["acid"].parts] == [acid.name]
    assert [i.name for i, _ in found["alkaline"].parts] == ["K2SiO3"]
    assert any("acid into water" in n.what for n in found.notices)
    assert any("never let two concentrates meet" in n.what for n in found.notices)


# --- laws --------------------------------------------------------------------------------


@pytest.mark.parametrize("tanks", [2, 3])
def test_the_tanks_together_are_the_batch(tanks):
    found = split_tanks(
        {**HOAGLAND, **TRACES}, strength="1:120", tanks=tanks, volume=100
    )
    total = {}
    for tank in found.tanks:
        assert tank.volume == pytest.approx(100 / 120)
        for ingredient, grams in tank.parts:
            total[ingredient.name] = total.get(ingredient.name, 0.0) + grams
    assert total == pytest.approx({**HOAGLAND, **TRACES}, rel=1e-12)
    made = dissolve(HOAGLAND | TRACES, volume=100)
    for form, value in made.forms.items():
        assert found.solution.forms[form] == pytest.approx(value, rel=1e-12)


def test_a_fuller_tank_of_the_same_strength_holds_the_same_stock():
    small = split_tanks(HOAGLAND, volume=100)
    large = split_tanks(HOAGLAND, volume=100, tank_volume="20 L")
    for one, other in zip(small.tanks, large.tanks, strict=True):
        assert other.volume == 20.0
        assert other.grams_per_litre == pytest.approx(one.grams_per_litre)
        assert (other.ph, other.density) == pytest.approx((one.ph, one.density))


def test_at_the_greatest_strength_all_is_clear_and_just_above_it_is_not():
    for tanks in (2, 3):
        found = split_tanks(HOAGLAND, tanks=tanks, volume=100)
        most = found.greatest.times
        for factor, clear in ((0.99, True), (1.03, False)):
            shares = [
                [
                    {i.name: g / t.volume for i, g in t.parts}.get(name, 0.0)
                    * factor
                    * most
                    / 100
                    for name in found.batch.names
                ]
                for t in found.tanks
            ]
            one = batch_of(dict.fromkeys(found.batch.names, 1.0), volume=1)
            levels = concentrates(one, shares, coldest=found.coldest).levels()
            assert bool(levels.max() == 0) is clear


def test_a_warmer_store_or_weaker_stock_leaves_more_margin():
    cold = split_tanks(HOAGLAND, volume=100, coldest=2)
    warm = split_tanks(HOAGLAND, volume=100, coldest=20)
    weak = split_tanks(HOAGLAND, volume=100, coldest=2, strength="1:50")
    assert warm.greatest.times > cold.greatest.times
    for one, other in zip(cold.tanks, weak.tanks, strict=True):
        assert other.margin_percent > one.margin_percent


# --- numbers from outside ------------------------------------------------------------------


def test_densities_are_those_of_phreeqc_within_one_percent():
    """RHO of IPhreeqc (Amm.dat), Hoagland stocks at 1:50 to 1:200 and two tanks."""
    for times in (50, 100, 200):
        for tank in split_tanks(HOAGLAND, strength=times, volume=100).tanks:
            forms = {k: v for k, v in tank.room.solution.forms.items() if v}
            state = speciate(replace(tank.room.solution, forms=forms), activity="wateq")
            some = {f: [v] for f, v in per_kg(state).items()}
            engine = oracle.engine(oracle.database("Amm.dat"))
            text = oracle.solutions_text(some)
            rho = oracle.run(engine, text, ["RHO"])["v0"][0]
            assert tank.density == pytest.approx(rho, rel=0.01)


def test_one_salt_uses_the_share_that_the_handbook_says():
    """KNO3 at 10 °C: 17.6 % by mass, 21.4 g in 100 g of water (CRC, by solubility.csv).

    A litre with g grams of it holds 1 - 0.38 g/1000 kg of water (partial molar volumes),
    so it is full at g = 214 (1 - 0.00038 g), that is 198 g/L.
    """
    most = solubility("KNO3", 10.0).per_100g_water
    found = split_tanks({"KNO3": 100.0}, strength=100, volume=100)
    (tank,) = found.tanks
    water = tank.state.water_kg_l
    assert tank.uses["KNO3"] == pytest.approx(100 * 100 / (10 * most * water), rel=0.01)
    assert tank.margin_percent == pytest.approx(100 - tank.uses["KNO3"])
    assert found.greatest.times == pytest.approx(214 / (1 + 214 * 0.38e-3), rel=0.01)


def test_ounces_for_a_hundred_us_gallons_by_hand():
    """1 g/L is 378.541 g in 100 US gal, 13.353 oz (units: NIST, exact factors)."""
    found = split_tanks({"KNO3": 100.0, "KCl": 50.0}, volume=100)
    total = {}
    for parts in found.ounces().values():
        for name, ounces in parts.items():
            total[name] = total.get(name, 0.0) + ounces
    assert total["KNO3"] == pytest.approx(378.541 / 28.3495, rel=1e-4)
    assert total["KCl"] == pytest.approx(0.5 * 378.541 / 28.3495, rel=1e-4)


def test_an_injector_that_is_off_by_hand():
    found = split_tanks(HOAGLAND, volume=100)
    told = {word: rest for word, *rest in found.injector()}
    _, _, change = told["stock A 10 % too much"]
    assert change["Ca"] == pytest.approx(10.0)
    assert change["Mg"] == 0.0
    assert told["all 10 % too little"][2]["P"] == pytest.approx(-10.0)
    ec = {word: rest[0] for word, rest in told.items()}
    assert ec["all 10 % too little"] < ec["as it should be"] < ec["all 10 % too much"]
    nitrate = sum(grams * i.amount("NO3-N") for i, grams in found["A"].parts) / sum(
        g * fm.salt(n).amount("NO3-N") for n, g in HOAGLAND.items()
    )
    assert change["NO3-N"] == pytest.approx(10 * nitrate, rel=1e-6)


# --- where they meet ----------------------------------------------------------------------


def test_a_then_b_stays_clear_and_both_at_once_does_not():
    found = meetings(split_tanks({**HOAGLAND, **TRACES}, volume=100))
    assert found["stock A into the water"].index < 0
    assert found["stock B into the water with A in it"].word == "none"
    assert found["stock A into stock B, both undiluted"].word == "certain"
    assert found["all stocks at once into the water"].word == "certain"
    assert found.after == "none"
    assert set(found.jug.amounts) >= {"gypsum"}
    assert "all in one jug: gypsum" in found.jug_line


def test_the_jug_holds_what_phreeqc_finds_in_it():
    """Gypsum in equal parts of both Hoagland stocks, WATEQ on both sides, within 2 %."""
    import solids_oracle

    from formulate.chemistry.precipitation import precipitate
    from formulate.stoichiometry.mixtures import mix

    tanks = split_tanks(HOAGLAND, volume=100).tanks
    jug = mix([(tank.state.solution, 1.0) for tank in tanks])
    state = speciate(replace(jug, temperature=25.0), activity="wateq")
    gypsum = [m for m in solids_oracle.minerals_of("Amm.dat") if m.name == "Gypsum"]
    engine = oracle.engine(solids_oracle.stripped(tuple(jug.forms), gypsum))
    some = {f: [v] for f, v in per_kg(state).items()}
    theirs = solids_oracle.equilibria(engine, some, ["Gypsum"], ["MU"])["Gypsum"][1][0]
    ours = precipitate(state, ["gypsum"]).amounts["gypsum"] / state.water_kg_l
    assert ours == pytest.approx(1000 * theirs, rel=0.02)


def test_the_ends_of_a_line_are_the_liquids():
    found = split_tanks(HOAGLAND, volume=100)
    line = meetings(found)["stock A into stock B, both undiluted"]
    ends = [speciate(found[n].state.solution, temperature=25.0) for n in "BA"]
    assert line.shares[[0, -1]].tolist() == [0.0, 1.0]
    for place, state in zip((0, -1), ends, strict=True):
        assert line.ph[place] == pytest.approx(state.ph, abs=1e-9)


def test_the_share_of_a_line_by_hand():
    from types import MappingProxyType

    from formulate.mixing.meeting import MixingLine

    x = np.array([0.0, 0.5, 1.0])
    index = MappingProxyType({"gypsum": np.array([-1.0, 1.0, -3.0])})
    line = MixingLine("a into b", x, index, MappingProxyType({"gypsum": 1.0}), x)
    assert line.supersaturated_percent == pytest.approx(25 + 12.5)
    assert line.index == 1.0


# --- words people write, bad input -----------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "times"),
    [
        ("1:100", 100),
        ("1+99", 100),
        ("1+100", 101),
        ("1 %", 100),
        ("0,5 %", 200),
        ("10 mL/L", 100),
        (64, 64),
        ("2:128", 64),
    ],
)
def test_strengths_as_people_write_them(text, times):
    assert strength_of(text).times == pytest.approx(times)


@pytest.mark.parametrize(
    "text",
    ["", "strong", "1:0", "1:1", "-5", "0 %", "100 %", "1:1e9", None, "1:x", "nan"],
)
def test_strengths_that_are_none(text):
    with pytest.raises(InputError, match="strength"):
        strength_of(text)


def test_every_fault_is_told_at_once():
    with pytest.raises(InputError) as error:
        split_tanks({}, strength="0", tanks=4, coldest=90, volume=0, tank_volume=-1)
    text = str(error.value)
    for part in ("strength", "tanks: 4", "90", "volume in L"):
        assert part in text


def test_a_strength_beyond_any_solubility_says_what_has_room():
    with pytest.raises(InputError, match="beyond any solubility") as error:
        split_tanks(HOAGLAND, strength="1:5000", volume=100)
    assert "at most 1:" in str(error.value)


def test_a_strength_that_does_not_dissolve_names_the_salt_and_what_would():
    with pytest.raises(Infeasible) as error:
        split_tanks({"KNO3": 100.0}, strength=300, tanks=1, volume=100)
    assert "KNO3 would need" in str(error.value)
    most = float(str(error.value).partition("at most 1:")[2].split()[0])
    assert 100 < most < 300


def test_hard_water_in_the_stocks_is_told_and_soft_water_mends_it():
    feed = {**HOAGLAND, **TRACES}
    hard = "hard-tap-voehringen"
    with pytest.raises(Infeasible, match="soft water"):
        split_tanks({**feed, "Ca(NO3)2·4H2O": 180.0}, volume=100, water=hard)
    kept = split_tanks(feed, volume=100, water=hard, stock_water="pure")
    assert kept.stock_water.name == "pure" or not any(
        kept.stock_water.solution.forms.values()
    )
    whole = dissolve(feed, volume=100, water=fm.water(hard))
    two_percent = 0.98 * fm.water(hard).solution.forms["carbonate"]
    assert kept.solution.forms["carbonate"] == pytest.approx(two_percent, rel=1e-9)
    assert whole.forms["carbonate"] > two_percent


def test_one_salt_acids_only_and_zero_grams():
    assert [t.name for t in split_tanks({"KNO3": 20.0}, volume=100).tanks] in (
        ["A"],
        ["A", "B"],
    )
    acid = fm.acid("HNO3", percent=38, density=1.23)
    (only,) = split_tanks({acid: 20.0}, volume=100).tanks
    assert only.name == "acid"
    assert split_tanks({"KNO3": 0.0, "CaCl2": 1.0}, volume=100).tanks


def test_they_show_themselves():
    found = split_tanks({**HOAGLAND, **TRACES}, volume=100)
    text = str(found)
    for part in ("stock A", "stock B", "kg/L", "clear up to 1:", "divided"):
        assert part in text
    assert found.to_frame().sum(axis=1)["KH2PO4"] == pytest.approx(13.61)
    assert len(found.rows()) == 2
    assert "certain" in str(meetings(found))


# --- what an outside reader found ----------------------------------------------------------


def test_ammonium_never_shares_a_tank_with_lye():
    """Rows of dangerous_pairs.csv: ammonium and alkali give off ammonia gas."""
    found = split_tanks({"KOH": 10.0, "(NH4)2SO4": 40.0, "NH4HCO3": 5.0}, volume=100)
    where = {i.name: tank.name for tank in found.tanks for i, _ in tank.parts}
    assert len(set(where.values())) == 3
    assert {where["KOH"], where["NH4HCO3"]} == {"alkaline", "alkaline 2"}


def test_gas_where_concentrates_meet_is_told_as_dangerous():
    acid = fm.acid("HNO3", percent=60, density=1.37)
    feed = {"KHCO3": 10.0, acid: 20.0, "KNO3": 20.0, "Ca(NO3)2·4H2O": 50.0}
    found = meetings(split_tanks(feed, volume=100))
    line = found["acid stock into alkaline stock, both undiluted"]
    assert "carbon dioxide" in line.danger
    assert "DANGEROUS" in str(line)
    assert "DANGEROUS" in found.jug_line
    assert any(n.severity == "serious" for n in found.notices)
    assert found["stock A into the water"].danger == ""


def test_calcium_nitrate_in_hard_water_makes_a_stock_with_a_caution():
    """Chalk at +1.2: nothing came in months in lake water (solid_risks.csv, pyramid-lake-2012)."""
    hard = "hard-tap-voehringen"
    found = split_tanks({"Ca(NO3)2·4H2O": 90.0}, volume=100, water=hard)
    told = [n for n in found.notices if "calcite" in n.what]
    assert told
    assert "5.7 meq/L" in told[0].what
    assert "acid into water" in told[0].what


def test_a_silicate_stock_is_not_judged_by_monomers():
    silicate = "potassium silicate solution (12.6 % K2O, 26.5 % SiO2)"
    found = split_tanks({silicate: 20.0, "KNO3": 30.0}, volume=100)
    assert [tank.name for tank in found.tanks] == ["A", "alkaline"]
    assert any("beyond the model" in n.what for n in found.notices)


def test_advice_of_a_refusal_has_been_tried():
    feed = {**HOAGLAND, **TRACES}
    with pytest.raises(Infeasible) as error:
        split_tanks(feed, volume=100, strength=320)
    text = str(error.value)
    most = text.partition("at most ")[2].split()[0]
    assert split_tanks(feed, volume=100, strength=most).tanks
    assert "take 3 tanks" in text
    assert split_tanks(feed, volume=100, strength=320, tanks=3).tanks
    assert "brushite" not in text  # phosphate beside calcium is no better split


def test_what_sets_the_greatest_strength_is_what_crosses_its_limit():
    feed = {"Ca(NO3)2·4H2O": 90.0, "KH2PO4": 21.7, "MgSO4·7H2O": 23.01}
    found = split_tanks({**feed, "K2SO4": 6.594, "KNO3": 7.4}, volume=100)
    tank, solid = found.limiting
    assert (tank, solid) == ("stock B", "newberyite")
    assert found["B"].uses["K2SO4"] * found.greatest.times / 100 < 100


def test_stocks_that_fill_the_batch_are_refused():
    with pytest.raises(InputError, match="leave no room for water"):
        split_tanks(HOAGLAND, volume=100, strength="1:1.5")


def test_liquids_are_told_in_fluid_ounces():
    """100 g of 38 % nitric acid at 1.23 kg/L are 81.3 mL, 2.749 US fl oz (NIST factors)."""
    acid = fm.acid("HNO3", percent=38, density=1.23)
    found = split_tanks({acid: 100.0}, volume=378.5411784)
    assert found.ounces()["acid"][acid.name] == pytest.approx(
        100 / 1.23 / 29.57353, rel=1e-4
    )
