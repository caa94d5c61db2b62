"""The arithmetic of ions and pairs leads to what the equations found, line by line."""

import math

import numpy as np
import pytest
from test_workings_of_panels import check_line

from formulate.chemistry.activity_working import coefficient_steps
from formulate.chemistry.speciation import speciate
from formulate.chemistry.species_working import (
    holders,
    share_steps,
    species_working,
    strength_working,
)
from formulate.errors import InputError, UnknownName
from formulate.stoichiometry.solution import solution

FEED = {"Ca": 4.0, "Mg": 1.5, "K": 5.0, "NO3": 12.0, "NH4": 0.5, "P": 1.2, "SO4": 1.5}
FEED |= {"HCO3": 1.0, "B": 0.05, "Fe(III)": 0.03, "Mn": 0.01, "Zn": 0.005, "Cu": 0.002}
SOLUTIONS = {
    "a feed": (solution(FEED), {}),
    "a cold feed": (solution(FEED), {"temperature": 8.0}),
    "a feed at a pH": (solution(FEED), {"ph": 5.8}),
    "a feed in the air": (solution(FEED), {"air_co2_ppm": 420.0}),
    "by Davies": (solution(FEED), {"activity": "davies"}),
    "a concentrate": (solution({k: 100 * v for k, v in FEED.items()}), {"ph": 4.5}),
    "unnamed ions": (solution({"Ca": 2.0, "HCO3": 3.0}, ph=7.5), {}),
}


@pytest.mark.parametrize("name", SOLUTIONS)
def test_each_working_ends_with_the_amount_of_its_species(name):
    # the amounts come from the equations, the working from tables, pH and activities
    made, given = SOLUTIONS[name]
    state = speciate(made, **given)
    found = {n: v for n, v in state.species.items() if v > 1e-8}
    assert len(found) > 5
    for species, amount in found.items():
        working = species_working(state, species)
        assert working.unit == "mmol/L"
        assert working.value == pytest.approx(amount, rel=1e-6), species
        for step, line in zip(working.steps, working.lines, strict=True):
            check_line(step, line)


@pytest.mark.parametrize("name", SOLUTIONS)
def test_the_logarithm_of_the_law_is_that_of_what_there_is(name):
    # both lines are worked out apart: the sum of the logarithms, and lg of the amount
    made, given = SOLUTIONS[name]
    state = speciate(made, **given)
    checked = 0
    for species in state.species:
        steps = species_working(state, species).steps
        if len(steps) > 1:
            assert steps[-3].value == pytest.approx(steps[-2].value, abs=2e-6), species
            checked += 1
    assert checked > 3


def test_an_activity_coefficient_by_davies_as_a_handbook_gives_it():
    # Davies at I = 0.1: lg γ = -0.51 (s/(1+s) - 0.3 I) = -0.107, γ = 0.781 (handbook,
    # from memory; the package takes A = 0.5100 at 25 °C)
    state = speciate(solution({"K": 100.0, "NO3": 100.0}), activity="davies")
    fall = coefficient_steps(state, "K+")[-1].value
    assert 10**-fall == pytest.approx(0.781, abs=5e-3)


def test_what_holds_calcium_adds_up_to_all_of_it():
    state = speciate(solution(FEED))
    held = sum(count * state.amount(name) for name, count in holders(state, "calcium"))
    assert held + state.free("calcium") == pytest.approx(4.0, rel=1e-9)


def test_shares_of_all_that_hold_sulfate_add_up_to_the_whole():
    state = speciate(solution(FEED))
    names = ["SO4-2", *(name for name, _ in holders(state, "sulfate"))]
    parts = [
        step.value
        for name in names
        for step in share_steps(state, name)
        if "sulfate" in step.text
    ]
    assert sum(parts) == pytest.approx(100.0, abs=1e-6)


def test_ionic_strength_by_hand():
    # potassium nitrate forms no pair here: half of (5 × 1 + 5 × 1) is 5, and water's own
    # ions add nothing that counts
    working = strength_working(speciate(solution({"K": 5.0, "NO3": 5.0})))
    assert working.value == pytest.approx(5.0, abs=1e-3)
    state = speciate(solution({"Ca": 2.0, "HCO3": 3.0}, ph=7.5))
    assert strength_working(state).value == pytest.approx(state.ionic_strength)


def test_what_is_not_there_and_stacks_are_refused():
    state = speciate(solution({"K": 1.0, "Cl": 1.0}))
    with pytest.raises(UnknownName, match="not in this solution"):
        species_working(state, "CaSO4")
    two = np.array([1.0, 2.0])
    stack = speciate(solution({"K": two, "Cl": two}))
    with pytest.raises(InputError, match="stack"):
        species_working(stack, "K+")


def test_pure_water_has_its_own_ions():
    # pH 7 at 25 °C: 1e-7 mol/kg of each, 0.0001 mmol/L (the ion product is 1e-14)
    state = speciate(solution({}))
    for name in ("H+", "OH-"):
        assert math.isclose(species_working(state, name).value, 1e-4, rel_tol=5e-3)
