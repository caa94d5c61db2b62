"""Recipes with pH and EC as hard rows against daqp, and published feeds with a pH.

The rows that a recipe ends with are given to daqp (a dual active-set solver) and to SLSQP
as they are: whatever the lines of pH and EC were drawn at, no other amounts may be nearer.
"""

import csv
from functools import cache
from pathlib import Path

import numpy as np
import phreeqc_oracle as oracle
import pytest
import test_least_squares as core
from test_ph_and_ec_rows import ACIDS, AIR, ALKALIS, DATABASE, SALTS, random_feed
from test_ph_and_ec_rows import random_tap as tap_of

import formulate as fm
from formulate.errors import FormulateError
from formulate.ingredients.dissolve import dissolve
from formulate.ingredients.water_report import read_water
from formulate.recipes.meters import reading
from formulate.recipes.solve import solve
from formulate.recipes.target import published_target

HERE = Path(__file__).parent
EVERYTHING = (*SALTS, *ACIDS, *ALKALIS, "NH4H2PO4", "CaCl2·2H2O", "NaNO3", "KCl")
FEW = 60  # problems in each run; the table in reference/validation.md takes 500


# --- random recipes with a pH and an EC --------------------------------------------------


@cache
def metered_recipe(seed):
    """Return a seeded recipe with a pH, and often an EC; None if there is none."""
    rng = np.random.default_rng([seed, 7])
    names = rng.choice(EVERYTHING, int(rng.integers(7, 15)), replace=False).tolist()
    shelf = dict.fromkeys([*names, ACIDS[0], "KOH"])
    given = {"ph": round(float(rng.uniform(5.2, 6.6)), 2)}
    given["closed"] = bool(rng.random() < 0.5)
    if rng.random() < 0.5:
        given["ec"] = f"at most {rng.uniform(1.2, 2.2):.3f} mS/cm"
    water = tap_of(seed) if rng.random() < 0.8 else None
    try:
        return solve(random_feed(seed), list(shelf), volume=100, water=water, **given)
    except FormulateError:
        return None


def metered_seeds(count):
    """Return so many seeds that have a recipe, and how many were tried."""
    found, seed = [], 0
    while len(found) < count:
        if metered_recipe(seed) is not None:
            found.append(seed)
        seed += 1
    return found, seed


def apart_from_daqp(seed):
    """Return by how much daqp's objective is lower, and values differ, of a recipe."""
    recipe = metered_recipe(seed)
    rows, amounts = recipe.requirements, recipe.optimum.amounts
    return core._apart(rows, amounts, core._best_of_others(rows, amounts))


def test_other_solvers_find_the_same_recipe_along_the_lines():
    seeds, tried = metered_seeds(FEW)
    for seed in seeds:
        objective, values = apart_from_daqp(seed)
        assert objective <= 1e-8, seed
        assert values <= 1e-6, seed
    assert tried <= FEW * 1.25  # the rest cannot have pH and EC at once


def test_the_rows_of_pH_and_ec_are_among_those_compared():
    seeds, _ = metered_seeds(FEW)
    subjects = [
        row.limit.subject
        for seed in seeds
        for row in metered_recipe(seed).requirements
        if row.limit is not None
    ]
    assert len([s for s in subjects if s.startswith("pH")]) >= FEW
    assert len([s for s in subjects if s == "EC"]) >= FEW / 4
    binding = [name for seed in seeds for name in metered_recipe(seed).binding]
    assert len([name for name in binding if name.startswith("EC")]) >= 5


def test_no_hard_row_is_broken_and_the_conditions_of_an_optimum_hold():
    for seed in metered_seeds(FEW)[0]:
        rows, optimum = metered_recipe(seed).requirements, metered_recipe(seed).optimum
        assert core._breach(rows, optimum.amounts) <= 1e-9, seed
        assert core._unoptimal(rows, optimum.amounts) <= 1e-9, seed
