"""Seeded random nutrient solutions and wild compositions, for the tests of the chemistry."""

import numpy as np

RANGES = {  # mmol/L
    "potassium": (1, 12),
    "calcium": (1, 6),
    "magnesium": (0.3, 3),
    "ammonium": (0, 2),
    "sodium": (0, 3),
    "phosphate": (0.2, 2.5),
    "sulfate": (0.2, 5),
    "carbonate": (0, 2),
    "chloride": (0, 3),
    "borate": (0, 0.1),
    "silicate": (0, 1),
    "manganese": (0, 0.02),
    "zinc": (0, 0.01),
    "copper": (0, 0.002),
    "iron_ii": (0, 0.03),
}
MAJOR = tuple(RANGES)[:10]
CHARGES = {
    "potassium": 1,
    "ammonium": 1,
    "sodium": 1,
    "calcium": 2,
    "magnesium": 2,
    "phosphate": -1,
    "sulfate": -2,
    "carbonate": -1,
    "chloride": -1,
}


def feeds(count, seed, forms=MAJOR):
    """Return form to mmol/L of so many feeds; nitrate closes the nominal charge."""
    rng = np.random.default_rng(seed)
    found = {}
    while len(next(iter(found.values()), ())) < count:
        drawn = {form: rng.uniform(*RANGES[form], 2 * count) for form in forms}
        open_charge = sum(CHARGES.get(f, 0) * v for f, v in drawn.items())
        kept = open_charge > 0.5
        drawn["nitrate"] = open_charge
        for form, values in drawn.items():
            found[form] = np.concatenate([found.get(form, []), values[kept]])
    return {form: values[:count] for form, values in found.items()}


def wild(count, seed, forms):
    """Return compositions from nothing to 5 mol/L in all, half of each form missing."""
    rng = np.random.default_rng(seed)
    found = {}
    for form in forms:
        large = form in ("edta", "dtpa", "eddha", "hbed", "citrate")
        values = 10 ** rng.uniform(-6, np.log10(50 if large else 5000), count)
        values[rng.random(count) < 0.5] = 0.0
        found[form] = values
    total = sum(found.values())
    share = np.minimum(1.0, 5000 / np.maximum(total, 1e-9))
    return {form: values * share for form, values in found.items()}
