"""The way out that a message names is typed in as it stands, and there is a recipe.

Seeded conflicts of limits and amounts over real salts and waters, through `solve`. Where
there are several conflicts, one way out of each is taken.
"""

import re
from functools import cache

import numpy as np
import pytest

from formulate.errors import Infeasible
from formulate.ingredients.water import water
from formulate.recipes.solve import solve
from formulate.recipes.target import target

SALTS = (
    "KNO3",
    "Ca(NO3)2·4H2O",
    "KH2PO4",
    "MgSO4·7H2O",
    "K2SO4",
    "NH4NO3",
    "NaNO3",
    "CaCl2·2H2O",
)
WATERS = ({}, {"Na": 25, "Cl": 40}, {"Ca": 80, "Mg": 10, "HCO3": 240, "SO4": 40})
WANTED = {"NO3-N": 150, "K": 200, "P": 30, "Ca": 120, "Mg": 30, "S": 50}
PROBLEMS = 200
LEAST = 60  # conflicts among them
ROUNDS = 6  # of typing in what a message names
CANNOT = "cannot hold"
WAY = re.compile(r"^(?P<subject>.+?) (?P<bound>(?:at least|at most|exactly) .+)$")


def _limits(rng):
    """Return limits, tight enough to conflict now and then."""
    found = {}
    for key in rng.choice(["Na", "Cl", "K", "Ca", "NO3-N", "S"], 2, replace=False):
        number = round(float(rng.uniform(5, 250)), 1)
        found[str(key)] = f"{rng.choice(['at least', 'at most'])} {number} mg/L"
    number = round(float(rng.uniform(0.3, 4)), 2)
    ratio = str(rng.choice(["K:Ca", "Ca:Mg", "NO3-N:K"]))
    found[ratio] = f"{rng.choice(['at least', 'at most', 'exactly'])} {number}"
    if rng.random() < 0.3:
        found["EC"] = f"at most {round(float(rng.uniform(0.5, 2)), 2)} mS/cm"
    return found


def _amounts(rng, volume):
    """Return what the batch may take of two of the salts."""
    found = {}
    for name in rng.choice(SALTS, 2, replace=False):
        grams = round(float(rng.uniform(0.02, 1)) * volume, 1)
        found[str(name)] = f"{rng.choice(['at least', 'at most', 'exactly'])} {grams} g"
    return found


def _problem(seed):
    rng = np.random.default_rng(seed)
    volume = float(rng.choice([10, 100, 1000]))
    return {
        "limits": _limits(rng),
        "shelf": SALTS[: rng.integers(5, len(SALTS) + 1)],
        "water": water(WATERS[rng.integers(len(WATERS))]),
        "volume": volume,
        "amounts": {},
        "asked": _amounts(rng, volume),
    }


def _solved(problem):
    shelf = problem["shelf"]
    amounts = {**problem["asked"], **problem["amounts"]}
    amounts = {name: value for name, value in amounts.items() if name in shelf}
    feed = target(WANTED, limits=problem["limits"])
    facts = {"volume": problem["volume"], "water": problem["water"]}
    return solve(feed, shelf, amounts=amounts, **facts)


def _ways(message):
    """Return the ways out of each conflict that a message names, as (subject, bound)."""
    found = []
    for line in message.splitlines():
        _, _, ways = line.partition("It would work with ")
        if ways:
            split = [
                WAY.match(way)
                for way in ways.split(", or with ")
                if " missed by " not in way and "any share" not in way
            ]
            found.append([(way["subject"], way["bound"]) for way in split])
    return [ways for ways in found if ways]


def _with(problem, ways):
    """Return a problem with the named bounds typed in."""
    limits, amounts = dict(problem["limits"]), dict(problem["asked"])
    for subject, bound in ways:
        if subject.startswith("amount of "):
            amounts[subject.removeprefix("amount of ")] = bound
        else:
            limits[subject] = bound
    return {**problem, "limits": limits, "amounts": amounts}


def _conflict(problem):
    try:
        _solved(problem)
    except Infeasible as error:
        return str(error)
    return ""


@cache
def _conflicts():
    """Return what is told of each problem that has no recipe."""
    told = ((seed, _conflict(_problem(seed))) for seed in range(PROBLEMS))
    return {seed: message for seed, message in told if message}


def test_there_are_conflicts_enough_of_every_sort():
    assert len(_conflicts()) >= LEAST
    told = "\n".join(_conflicts().values())
    for words in ("amount of", "K:Ca", "EC at most", "exactly", "the water alone"):
        assert words in told, words


def test_every_bound_that_a_message_names_holds_when_typed_in():
    tried = 0
    for seed, message in _conflicts().items():
        if message.count(CANNOT) > 1:
            continue
        for way in next(iter(_ways(message)), []):
            recipe = _solved(_with(_problem(seed), [way]))
            assert recipe.optimum.violation <= 1e-9, (seed, way)
            tried += 1
    assert tried >= 2 * LEAST


def test_what_message_after_message_names_ends_in_a_recipe():
    # of several conflicts, mending one may bring out another that shares its rows
    ended = 0
    for seed, first in _conflicts().items():
        problem, message, rounds = _problem(seed), first, 0
        while message and (ways := _ways(message)):
            problem = _with(problem, [way[0] for way in ways])
            message = _conflict(problem)
            rounds += 1
            assert rounds <= ROUNDS, (seed, message)
        ended += not message
    assert ended >= LEAST


def test_a_message_without_a_way_out_has_none():
    # one row is in two conflicts, or only an EC beyond the simple rules would do
    for seed, message in _conflicts().items():
        if message.count(CANNOT) == 1 and not _ways(message):
            problem = _problem(seed)
            for subject in (s for s in problem["limits"] if s != "EC"):
                limits = {k: v for k, v in problem["limits"].items() if k != subject}
                assert _conflict({**problem, "limits": limits}), (seed, subject)
            for name in problem["asked"]:
                asked = {k: v for k, v in problem["asked"].items() if k != name}
                assert _conflict({**problem, "asked": asked}), (seed, name)


def test_an_ec_far_beyond_its_limit_is_told_from_the_ions():
    # 7 g/L of sodium nitrate, 82 mmol/L: about 8 mS/cm (limits 50.1 + 71.5 S cm2/mol, less
    # a fifth at that strength: from memory)
    feed = target({"NO3-N": 150}, limits={"EC": "at most 1 mS/cm"})
    salts = {"NaNO3": "at least 70 g"}
    with pytest.raises(Infeasible) as caught:
        solve(feed, ["NaNO3"], volume=10, amounts=salts)
    (ways,) = _ways(str(caught.value))
    assert [subject for subject, _ in ways] == ["EC", "amount of NaNO3"]
    most = float(ways[0][1].split()[2])
    assert 7 < most < 9
    feed = target({"NO3-N": 150}, limits={"EC": f"at most {most} mS/cm"})
    assert solve(feed, ["NaNO3"], volume=10, amounts=salts).masses["NaNO3"] > 69.9


def test_what_the_water_alone_brings_can_be_asked_for():
    # nothing on the shelf brings chloride, so the row is the water's 40 mg/L alone
    for words in ("at least 40 mg/L", "at most 40 mg/L", "exactly 40 mg/L"):
        feed = target({"K": 100}, limits={"Cl": words})
        recipe = solve(feed, ["KNO3"], volume=10, water=water({"Na": 25, "Cl": 40}))
        assert recipe.solution.mg_l("Cl") == pytest.approx(40, rel=1e-9)


def test_a_share_of_ammonium_is_let_go_and_then_the_rest_holds():
    wish, shelf = {"N": 100, "K": 100}, ["NH4NO3", "KNO3"]
    limits = {"K": "at most 50 mg/L", "N": "at least 90"}
    with pytest.raises(Infeasible, match="any share of ammonium"):
        solve(target(wish, limits=limits), shelf, volume=10)
    free = target(wish, limits=limits, ammonium_share=(0, 1))
    made = solve(free, shelf, volume=10).solution
    assert made.mg_l("K") <= 50 * (1 + 1e-9)
    assert made.mg_l("N") >= 90 * (1 - 1e-9)
