"""Ions, pairs and pH: the arithmetic against PHREEQC, the constants against it, the laws.

The engine is IPhreeqc 3.8.6 (package phreeqc) with its database Amm.dat, in which ammonium
is not exchanged with nitrate. It is fed mol per kg of water, as worked out here.
"""

import numpy as np
import phreeqc_oracle as oracle
import pytest
from random_feeds import CHARGES, MAJOR, RANGES, feeds, wild

import formulate as fm
from formulate.chemistry.constants import Constants, constants
from formulate.chemistry.speciation import (
    index_spread,
    speciate,
)
from formulate.errors import InputError, MissingData, NoConvergence, UnknownName
from formulate.stoichiometry.mixtures import dilute, mix
from formulate.stoichiometry.nutrients import form_names
from formulate.stoichiometry.solution import Solution, solution

DATABASE = "Amm.dat"


@pytest.fixture(scope="module")
def engine():
    return oracle.engine(oracle.database(DATABASE))


def per_kg(state):
    """Return form to mol per kg of water, as a state took it."""
    water = state.water_kg_l
    return {f: v / 1000 / water for f, v in state.solution.forms.items()}


# --- the arithmetic: PHREEQC's own constants ---------------------------------------------


def test_activities_are_those_of_phreeqc_with_its_constants(engine):
    contents = feeds(100, 1, tuple(RANGES))
    ph = np.random.default_rng(2).uniform(4.5, 8.5, 100)
    own = oracle.constants_of(DATABASE)
    state = speciate(Solution(contents), ph=ph, constants=own, activity="wateq")
    terms = ["MU", 'LA("H2O")', *(f'LA("{name}")' for name in state.names)]
    heads = [f"v{n}" for n in range(len(terms))]
    text = oracle.solutions_text(per_kg(state), ph=ph)
    found = oracle.run(engine, text, terms, heads)
    strength = np.array(found["v0"]) * 1000
    assert state.ionic_strength_mmol_kg == pytest.approx(strength, rel=1e-5)
    for name, head in zip(("H2O", *state.names), heads[1:], strict=True):
        apart = np.abs(state.log_activity(name) - np.array(found[head]))
        assert apart.max() < 0.001, name


def titrations(count, seed):
    """Yield the contents of feeds with acid and alkali added, 31 steps each."""
    dose = np.linspace(-2.5, 2.5, 31)
    every = feeds(count, seed)
    for place in range(count):
        one = {form: np.full(31, values[place]) for form, values in every.items()}
        one["nitrate"] = one["nitrate"] + np.clip(-dose, 0, None)
        one["sodium"] = one["sodium"] + np.clip(dose, 0, None)
        yield Solution(one), dose


def steepness(ph, dose):
    """Return how fast the pH moves with the dose, in units per meq/L."""
    return np.abs(np.gradient(ph, dose))


@pytest.mark.parametrize("own", [True, False], ids=["its constants", "ours"])
def test_forty_titrations_run_as_those_of_phreeqc(engine, own):
    known = oracle.constants_of(DATABASE) if own else None
    for made, dose in titrations(40, 11):
        state = speciate(made, constants=known, activity="wateq" if own else None)
        text = oracle.solutions_text(per_kg(state))
        ph = np.array(oracle.run(engine, text, ['-LA("H+")'])["v0"])
        apart, steep = np.abs(state.ph - ph), steepness(ph, dose) > 1.0
        assert apart[~steep].max(initial=0.0) < (0.002 if own else 0.02)
        assert apart.max() < (0.002 if own else 0.15)


def test_ionic_strength_with_our_constants_is_within_three_percent(engine):
    contents = feeds(500, 21)
    ph = np.random.default_rng(22).uniform(5.0, 7.0, 500)
    state = speciate(Solution(contents), ph=ph)
    text = oracle.solutions_text(per_kg(state), ph=ph)
    strength = 1000 * np.array(oracle.run(engine, text, ["MU"])["v0"])
    assert np.abs(state.ionic_strength_mmol_kg / strength - 1).max() < 0.03


@pytest.mark.parametrize("celsius", [5.0, 15.0, 35.0])
def test_the_ph_follows_the_temperature_as_that_of_phreeqc(engine, celsius):
    contents = feeds(30, 31)
    own = oracle.constants_of(DATABASE)
    made = Solution(contents)
    state = speciate(made, temperature=celsius, constants=own, activity="wateq")
    text = oracle.solutions_text(per_kg(state), celsius=celsius)
    ph = np.array(oracle.run(engine, text, ['-LA("H+")'])["v0"])
    assert state.ph == pytest.approx(ph, abs=0.002)


def test_in_balance_with_the_air_the_ph_is_that_of_phreeqc(engine):
    """A tap water under 420 ppm of carbon dioxide; its logarithm of pressure is -3.3768."""
    tap = Solution({"calcium": 2.0, "magnesium": 0.5, "sodium": 1.0, "chloride": 2.0})
    own = oracle.constants_of(DATABASE)
    state = speciate(tap, air_co2_ppm=420, constants=own, activity="wateq")
    text = oracle.solutions_text({f: [v] for f, v in per_kg(state).items()})
    text = text.replace(" pH 7 charge", " pH 7 charge\n C(+4) 1 CO2(g) -3.37675071")
    ph = oracle.run(engine, text, ['-LA("H+")'])["v0"][0]
    # the two collections give Henry's constant a part in two thousand apart
    assert state.ph == pytest.approx(ph, abs=0.002)


# --- laws --------------------------------------------------------------------------------


def balances(state):
    """Yield each form with how far its species are from its total, relative."""
    ions = {key: constants().masters[key] for key in state.solution.forms}
    for key, total in state.solution.forms.items():
        name = ions[key].name
        counted = sum(
            (s.ligands if s.ligand == key else 1) * state.amount(s.name)
            for s in state.net.species
            if key in (s.cation, s.ligand)
        )
        yield key, np.max(np.abs((counted + state.amount(name)) / total - 1))


@pytest.mark.parametrize("given", [{"ph": 6.0}, {}], ids=["pH imposed", "from charges"])
def test_mass_and_charge_close_to_a_part_in_ten_milliards(given):
    made = Solution(feeds(300, 41, tuple(RANGES)), 0.1)
    state = speciate(made, **given)
    for key, apart in balances(state):
        assert apart < 1e-10, key
    if not given:
        charges = sum(made.forms[f] * abs(z) for f, z in CHARGES.items())
        assert np.max(np.abs(state.charge_left()) / charges) < 1e-10


@pytest.mark.parametrize(
    "given", [{"ph": 6.2}, {}, {"air_co2_ppm": 420}], ids=["imposed", "charges", "air"]
)
def test_a_stack_is_the_same_as_one_by_one(given):
    contents = feeds(25, 51, tuple(RANGES))
    contents["calcium"][3] = contents["sulfate"][4] = 0.0
    state = speciate(Solution(contents, 0.2), **given)
    for place in range(25):
        alone = {form: float(values[place]) for form, values in contents.items()}
        one = speciate(Solution(alone, 0.2), **given)
        assert one.ph == pytest.approx(state.ph[place], rel=1e-12)
        for name in one.names:
            amount = state.amount(name)[place]
            assert one.amount(name) == pytest.approx(amount, rel=1e-12, abs=1e-300)


def test_stacks_of_any_size_and_shape_give_the_same():
    """More than one block, and two axes that broadcast."""
    calcium, ph = np.linspace(1, 5, 5000)[:, None], np.array([5.0, 6.0])
    made = Solution({"calcium": calcium, "phosphate": 1.0, "nitrate": 8.0})
    state = speciate(made, ph=ph)
    assert state.amount("CaHPO4").shape == (5000, 2)
    one = speciate(
        Solution({"calcium": calcium[4321, 0], "phosphate": 1.0, "nitrate": 8.0}),
        ph=6.0,
    )
    held = state.amount("CaHPO4")[4321, 1]
    assert one.amount("CaHPO4") == pytest.approx(held, rel=1e-12)


def test_an_inert_ion_moves_only_the_charge():
    """Chloride for nitrate, of one activity model each: no pair, pH imposed, Davies."""
    base = {"potassium": 5.0, "calcium": 3.0, "phosphate": 1.0, "sulfate": 2.0}
    states = [
        speciate(Solution({**base, key: 6.0}), ph=6.0, activity="davies")
        for key in ("nitrate", "chloride")
    ]
    nitrate, chloride = states
    for name in ("Ca+2", "CaSO4", "H2PO4-", "CaHPO4", "HSO4-", "KSO4-"):
        held = chloride.amount(name)
        # the room of one ion in the litre differs by 11 mL/mol, 0.007 % here
        assert nitrate.amount(name) == pytest.approx(held, rel=2e-4)
    assert nitrate.charge_left() == pytest.approx(chloride.charge_left(), abs=2e-3)


def test_mixing_commutes_and_doubling_a_volume_changes_nothing():
    acid = Solution({"nitrate": 10.0})
    tap = Solution({"calcium": 2.0, "carbonate": 4.0})
    one, other = mix([(acid, 1.0), (tap, 4.0)]), mix([(tap, 4.0), (acid, 1.0)])
    assert speciate(one).ph == pytest.approx(speciate(other).ph, abs=1e-9)
    double = mix([(acid, 2.0), (tap, 8.0)])
    assert speciate(double).ph == pytest.approx(speciate(one).ph, abs=1e-9)
    assert speciate(dilute(one, 1)).ph == pytest.approx(speciate(one).ph, abs=1e-12)


def test_nothing_is_exchanged_between_states_of_oxidation():
    contents = {"iron_ii": 0.1, "iron_iii": 0.05, "nitrate": 1.0, "ammonium": 1.0}
    state = speciate(Solution(contents), ph=3.0)
    for key, apart in balances(state):
        assert apart < 1e-10, key


def test_pure_water_is_neutral():
    """pH 7.00 at 25 °C: half of 13.995 to 14.000, the ion product (acid-base tables)."""
    state = speciate(solution({}))
    assert state.ph == pytest.approx(7.0, abs=0.005)
    assert state.ionic_strength == pytest.approx(1e-4, rel=0.01)


def test_strong_acid_and_base_give_the_ph_of_their_concentration():
    """pH = -lg(0.01 γ); γ of H+ at I = 0.01 is 0.914 by the table of Kielland 1937 (memory)."""
    assert speciate(Solution({"nitrate": 10.0})).ph == pytest.approx(2.04, abs=0.01)
    assert speciate(Solution({"sodium": 10.0})).ph == pytest.approx(11.95, abs=0.01)


# --- concentrates ------------------------------------------------------------------------


def test_no_step_where_one_activity_model_hands_over_to_the_other():
    strength = np.linspace(200, 900, 141)
    made = Solution(
        {"calcium": strength / 3, "nitrate": strength / 1.5, "sulfate": 0.1}
    )
    index = speciate(made, ph=6.0).saturation_index("gypsum")
    second = np.diff(index, 2)
    assert np.abs(np.diff(index)).max() < 0.02
    assert np.abs(second).max() < 0.002


@pytest.mark.parametrize(
    ("calcium", "magnesium", "low", "high"),
    # mol/kg, Ca(NO3)2 + MgSO4: index of gypsum by Pitzer's model and by ThermoChimie's SIT
    # (figures of this project's notes, made with pitzer.dat + Kim & Frederick and sit.dat)
    [(0.05, 0.05, 0.41, 0.43), (0.4, 0.2, 1.11, 1.20), (0.8, 0.4, 1.38, 1.50)],
)
def test_gypsum_in_mistakes_of_concentrates_is_near_pitzer(
    calcium, magnesium, low, high
):
    per_litre = {"calcium": calcium, "magnesium": magnesium}
    per_litre |= {"nitrate": 2 * calcium, "sulfate": magnesium}
    water = 1.0
    for _ in range(20):  # mol/kg to mmol/L
        made = Solution({f: 1000 * v * water for f, v in per_litre.items()})
        water = speciate(made, ph=6.0).water_kg_l
    index = speciate(made, ph=6.0).saturation_index("gypsum")
    assert low - 0.15 < index < high + 0.15


def test_an_index_in_a_concentrate_shows_the_spread_of_the_models():
    tank = speciate(solution({"Ca": 800.0, "NO3": 1600.0, "SO4": 0.5, "K": 1.0}))
    low, high = index_spread(tank, "gypsum")
    assert low <= tank.saturation_index("gypsum") <= high
    assert high - low > 0.3  # 0.47 between SIT and Davies at I = 2.4 in the notes
    feed = speciate(solution({"Ca": 4.0, "NO3": 8.0, "SO4": 2.0, "Mg": 2.0}))
    low, high = index_spread(feed, "gypsum")
    assert high - low < 0.05


@pytest.mark.parametrize(
    ("contents", "ph", "apart"),
    # water in a litre, against the volume that PHREEQC works out (Appelo's volumes)
    [
        ({"calcium": 4.0, "nitrate": 8.0}, 7.0, 1e-4),
        ({"potassium": 300.0, "sulfate": 150.0}, 7.0, 2e-3),
        ({"potassium": 1000.0, "phosphate": 1000.0}, 5.0, 4e-3),
        ({"calcium": 1000.0, "nitrate": 2000.0}, 7.0, 8e-3),
        ({"calcium": 2000.0, "nitrate": 4000.0}, 7.0, 2.1e-2),
    ],
)
def test_the_water_in_a_litre_of_a_concentrate(engine, contents, ph, apart):
    state = speciate(Solution(contents), ph=ph)
    text = oracle.solutions_text({f: [v] for f, v in per_kg(state).items()}, ph=[ph])
    found = oracle.run(engine, text, ["SOLN_VOL", 'TOT("water")'], ["v", "w"])
    theirs = found["w"][0] / found["v"][0]
    assert state.water_kg_l == pytest.approx(theirs, rel=apart)


def test_beyond_the_tried_range_a_notice_tells_it():
    strong = speciate(Solution({"calcium": 1800.0, "nitrate": 3600.0}), ph=6.0)
    assert any("was tried" in notice.what for notice in strong.notices)
    assert not speciate(solution({"K": 5, "NO3": 5})).notices


# --- what cannot be ----------------------------------------------------------------------


def test_every_fault_is_told_at_once():
    with pytest.raises(InputError) as caught:
        speciate(
            solution({"K": 1, "NO3": 1}),
            ph=15,
            temperature=60,
            air_co2_ppm=-1,
            activity="ideal",
        )
    told = " ".join(caught.value.faults)
    for word in ("pH", "0 to 50", "air_co2_ppm", "blend"):
        assert word in told


@pytest.mark.parametrize("thing", [None, {"Ca": 1}, 7, "tap"])
def test_what_is_no_solution_is_refused(thing):
    with pytest.raises(InputError, match="no Solution"):
        speciate(thing)


def test_what_has_a_solution_will_do():
    tap = fm.water({"Ca": 80, "HCO3": 244, "pH": 7.5})
    assert speciate(tap).ph == pytest.approx(7.5)
    recipe = fm.solve(fm.target({"K": 200}), ["KNO3"], volume=10, water=tap)
    assert fm.ec(recipe) == pytest.approx(fm.ec(recipe.solution))
    assert fm.ph_range(recipe).ph == pytest.approx(speciate(recipe).ph)


def test_the_free_ion_is_told_by_form_also_with_other_constants():
    made = solution({"NH4": 2.0, "NO3": 2.0, "SO4": 1.0, "K": 2.0})
    own = speciate(made, ph=6, constants=oracle.constants_of(DATABASE))
    assert own.free("ammonium") == own.amount("AmmH+")
    assert own.free("Ca") == 0.0


def test_other_constants_are_kept_where_a_state_is_worked_out_anew():
    known = constants()
    bare = Constants(known.hydrogen, known.hydroxide, known.masters, ())
    made = Solution({"magnesium": 5.0, "sulfate": 5.0})
    alone = speciate(made, ph=7, constants=bare)
    assert alone.amount("MgSO4") == 0.0
    cold = fm.conductivity(alone, temperature=10)
    assert cold.state.amount("MgSO4") == 0.0
    low, high = index_spread(alone, "gypsum")
    assert low == high == -np.inf
    loose = speciate(made, constants=bare)
    assert fm.ph_range(loose).state.constants is bare


def test_shapes_that_do_not_fit_are_refused():
    with pytest.raises(InputError, match="do not fit"):
        speciate(Solution({"calcium": np.ones(3)}), ph=np.ones(4))


def test_a_litre_without_water_is_refused():
    with pytest.raises(InputError, match="kg of water"):
        speciate(Solution({"eddha": 4000.0}), ph=7)


def test_a_missing_constant_names_species_and_table():
    known = constants()
    bare = {key: s for key, s in known.masters.items() if key != "zinc"}
    few = Constants(known.hydrogen, known.hydroxide, bare, known.reactions)
    with pytest.raises(MissingData, match=r"zinc.*activity"):
        speciate(Solution({"zinc": 0.1}), ph=6.0, constants=few)


def test_an_unknown_species_or_solid_is_told():
    state = speciate(solution({"K": 1, "NO3": 1}))
    for ask in (state.amount, state.log_activity, state.saturation_index):
        with pytest.raises(UnknownName):
            ask("unobtainium")
    assert state.amount("CaSO4") == 0.0
    assert state.saturation_index("gypsum") == -np.inf


@pytest.mark.parametrize("mode", ["imposed", "charges"])
def test_wild_compositions_come_to_rest_or_are_told(mode):
    contents = wild(4000, 61, form_names())
    ph = np.random.default_rng(62).uniform(1, 13, 4000)
    given = {"ph": ph} if mode == "imposed" else {}
    told = ""
    try:
        state = speciate(Solution(contents, 0.0), **given)
    except NoConvergence as error:
        state, told = error.state, str(error)
    assert state.settled.all() != ("did not come to rest" in told)
    assert (~state.settled).sum() < 8
    assert np.isfinite(state.molalities).all()
    assert np.isfinite(state.ph).all()
    for key, apart in balances_where(state, state.settled):
        assert apart < 1e-9, key


def balances_where(state, settled):
    """Yield each form with how far its species are from its total, where at rest."""
    for key, total in state.solution.forms.items():
        if key in ("edta", "dtpa", "eddha", "hbed", "urea") or not total.any():
            continue
        if any(chelate.endswith(key) for chelate in state.chelates):
            continue  # partly held by a chelating agent
        name = constants().masters[key].name
        counted = state.amount(name) + sum(
            (s.ligands if s.ligand == key else 1) * state.amount(s.name)
            for s in state.net.species
            if key in (s.cation, s.ligand)
        )
        there = settled & (total > 0)
        yield key, np.max(np.abs(counted[there] / total[there] - 1))


def test_majors_of_the_seeded_feeds_are_all_there():
    assert set(MAJOR) <= set(feeds(3, 1))
