"""Seeded random recipes with prices, and their programmes set up anew for scipy alone."""

from dataclasses import replace

import numpy as np
from scipy.optimize import linprog

from formulate.errors import FormulateError
from formulate.ingredients.salts import catalogue
from formulate.recipes.solve import solve
from formulate.recipes.target import target

MACRO = {"N": 150, "P": 35, "K": 200, "Ca": 150, "Mg": 40, "S": 60}
# Atomic masses: CIAAW 2021, abridged. Scales of the ions kept low: 50 mg/L Na, 70 mg/L Cl
# (mattson-peters-2014, read).
MASS = {"N": 14.007, "P": 30.973762, "K": 39.0983, "Ca": 40.078, "Mg": 24.305}
MASS |= {"S": 32.06, "Na": 22.98976928, "Cl": 35.45}
LOW = {"Na": 50 / MASS["Na"], "Cl": 70 / MASS["Cl"]}
SHARE = 0.15  # of ammonium in nitrogen: common practice, no source
TRACES = ("Fe", "Mn", "Zn", "Cu", "B", "Mo", "Ni", "Co", "Si")


def plain_salts():
    """Return what of the catalogue is weighed, has no urea and brings no traces."""
    return [
        one
        for one in catalogue().values()
        if one.measured_in == "g"
        and "urea" not in one.forms
        and not any(one.amount(key) for key in TRACES)
    ]


def priced_recipe(rng, *, least=2, most=20, volume=100):
    """Return the exact recipe of a random target from random priced bags."""
    salts = plain_salts()
    while True:
        picked = rng.choice(len(salts), int(rng.integers(least, most)), replace=False)
        bags = [replace(salts[j], price=float(rng.lognormal(0, 1))) for j in picked]
        feed = {key: mg * float(rng.uniform(0.7, 1.3)) for key, mg in MACRO.items()}
        try:
            return solve(target(feed), bags, volume=volume)
        except FormulateError:
            continue


def programme(recipe):
    """Return costs per litre, A and b (A x <= b) of a recipe held in bands.

    What each bag brings is taken from the bag anew; only the bounds are those of the rows.
    """
    bags = recipe.ingredients
    cost = np.array([bag.price for bag in bags]) / 1000
    rows, bounds = [], []
    for held in recipe.requirements:
        if held.origin != "within" or held.kind != "hard":
            continue
        row = np.array([bag.amount(held.key) for bag in bags])
        rows += [row, -row] if np.isfinite(held.low) else [row]
        bounds += [held.high, -held.low] if np.isfinite(held.low) else [held.high]
    rows.append(ammonium(bags))
    bounds.append(0.0)
    return cost, np.array(rows), np.array(bounds)


def ammonium(bags):
    """Return what each bag brings of ammonium beyond its share of nitrogen."""
    nitrogen, own = ([bag.amount(key) for bag in bags] for key in ("N", "NH4-N"))
    return np.array(own) - SHARE * np.array(nitrogen)


def least_alone(recipe, key):
    """Return the least relative deviation of one wanted value by itself, by scipy alone."""
    middle = recipe.target.wanted[key]
    row = np.array([bag.amount(key) for bag in recipe.ingredients]) / middle
    rows = [np.append(row, -1.0), np.append(-row, -1.0)]
    rows.append(np.append(ammonium(recipe.ingredients), 0.0))
    return _least(rows, [1.0, -1.0, 0.0])


def closest(recipe, own):
    """Return the smallest worst deviation by scipy alone, each counted from its own least.

    What is kept low stays at most at its scale.
    """
    bags, rows, bounds = recipe.ingredients, [], []
    for key, middle in recipe.target.wanted.items():
        row = np.array([bag.amount(key) for bag in bags]) / middle
        rows += [np.append(row, -1.0), np.append(-row, -1.0)]
        bounds += [1.0 + own.get(key, 0.0), -1.0 + own.get(key, 0.0)]
    for key, scale in LOW.items():
        row = np.array([bag.amount(key) for bag in bags]) / scale
        rows.append(np.append(row, 0.0))
        bounds.append(1.0)
    rows.append(np.append(ammonium(bags), 0.0))
    return _least(rows, [*bounds, 0.0])


def _least(rows, bounds):
    """Return the least last amount within rows."""
    rows = np.array(rows)
    aim = np.zeros(rows.shape[1])
    aim[-1] = 1.0
    found = linprog(aim, A_ub=rows, b_ub=bounds, method="highs")
    assert found.status == 0
    return float(found.fun)
