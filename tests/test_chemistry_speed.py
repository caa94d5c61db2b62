"""Rounds, memory and the ratio to IPhreeqc at half the bar: nothing fails by the clock."""

import tracemalloc

import numpy as np
import pytest
from bench_chemistry import side_by_side
from random_feeds import feeds

from formulate.chemistry import equilibrium
from formulate.chemistry.speciation import speciate
from formulate.stoichiometry.solution import Solution


@pytest.mark.parametrize(
    ("count", "imposed", "half_the_bar"),
    [(4096, True, 25.0), (4096, False, 15.0), (1000, True, 15.0), (100, True, 5.0)],
)
def test_the_throughput_is_well_above_that_of_a_general_engine(
    count, imposed, half_the_bar
):
    theirs, own = side_by_side(count, imposed=imposed, turns=2)
    assert theirs / own > half_the_bar


@pytest.mark.parametrize(("given", "most"), [({"ph": 6.0}, 6), ({}, 10)])
def test_few_rounds_are_enough(monkeypatch, given, most):
    counted = []
    one = equilibrium._round
    monkeypatch.setattr(equilibrium, "_round", lambda *a: counted.append(1) or one(*a))
    for place in range(20):
        contents = {f: float(v[place]) for f, v in feeds(20, 3).items()}
        counted.clear()
        speciate(Solution(contents), **given)
        assert len(counted) <= most


def test_a_hundred_thousand_need_little_beyond_what_goes_in_and_comes_out():
    count = 100_000
    contents = feeds(count, 5)
    made, ph = Solution(contents), np.full(count, 6.0)
    tracemalloc.start()
    state = speciate(made, ph=ph)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    out = state.molalities.nbytes + 5 * 8 * count
    assert peak - out < 50e6


def test_networks_are_built_once():
    from formulate.chemistry.network import network

    made = Solution({"potassium": 5.0, "nitrate": 4.0, "phosphate": 1.0})
    speciate(made)
    before = network.cache_info().misses
    speciate(made)
    assert network.cache_info().misses == before
