"""Seeded random batches to mix, for the tests of mixing; the recipes are invented."""

import numpy as np

SALTS = {  # g/L of a working solution, lowest and highest
    "Ca(NO3)2·4H2O": (0.2, 1.2),
    "CaCl2·2H2O": (0.05, 0.3),
    "KNO3": (0.1, 0.7),
    "KH2PO4": (0.05, 0.35),
    "NH4H2PO4": (0.02, 0.15),
    "K2SO4": (0.05, 0.5),
    "MgSO4·7H2O": (0.1, 0.7),
    "Mg(NO3)2·6H2O": (0.05, 0.4),
    "(NH4)2SO4": (0.02, 0.15),
    "NH4NO3": (0.02, 0.15),
    "KHCO3": (0.02, 0.2),
    "H3BO3": (0.001, 0.003),
}
WATERS = (
    None,
    "soft-tap-st-ingbert",
    "medium-tap-zarnewanz",
    "hard-tap-voehringen",
    "sulfate-tap-eisenach",
)


def batches(count, seed, *, most=8, least=3, strong=0.25):
    """
    Yield so many batches: (grams by formula, litres, water, share first, order).

    A share of them, `strong`, is a concentrate, up to a hundred times as strong.
    """
    rng = np.random.default_rng(seed)
    names = list(SALTS)
    for _ in range(count):
        size = int(rng.integers(least, most + 1))
        some = [names[i] for i in rng.permutation(len(names))[:size]]
        times = 10 ** rng.uniform(0.7, 2) if rng.random() < strong else 1.0
        volume = float(rng.choice([4.0, 20.0, 200.0]))
        grams = {n: float(times * volume * rng.uniform(*SALTS[n])) for n in some}
        order = [some[i] for i in rng.permutation(size)]
        share = float(rng.choice([0.25, 0.5, 0.75]))
        yield grams, volume, WATERS[int(rng.integers(len(WATERS)))], share, order
