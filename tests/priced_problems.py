"""Seeded random recipes with prices, and their programmes set up anew for scipy alone."""

from dataclasses import replace

import numpy as np

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


def programme(recipe, share):
    """Return costs per litre, A and b (A x <= b) of the cheapest recipe within bands."""
    bags = recipe.ingredients
    cost = np.array([bag.price for bag in bags]) / 1000
    rows, bounds = [], []
    for key, middle in recipe.target.wanted.items():
        row = np.array([bag.amount(key) for bag in bags])
        reached = float(row @ recipe.optimum.amounts)
        rows += [row, -row]
        bounds += [
            max(middle * (1 + share), reached),
            -min(middle * (1 - share), reached),
        ]
    for key, scale in LOW.items():
        row = np.array([bag.amount(key) for bag in bags])
        rows.append(row)
        bounds.append(max(scale, float(row @ recipe.optimum.amounts)))
    nitrogen, ammonium = ([bag.amount(key) for bag in bags] for key in ("N", "NH4-N"))
    rows.append(np.array(ammonium) - SHARE * np.array(nitrogen))
    bounds.append(0.0)
    return cost, np.array(rows), np.array(bounds)
