"""The part of reference/validation.md on mixing: agreement with IPhreeqc, proofs, speed."""

import statistics
import time
from itertools import permutations, product

import mixing_oracle
import numpy as np
import test_compatibility as chart
import test_mistakes as mistakes
from random_batches import batches

from formulate.mixing.batch import batch_of
from formulate.mixing.best_order import best_order
from formulate.mixing.mistakes import what_went_wrong
from formulate.mixing.tank_contents import splits_of
from formulate.mixing.tanks import split_tanks

DILUTE, MANY = 0.5, 300
FEED = {  # g for 100 L, the order of a shelf
    "Ca(NO3)2·4H2O": 100.0,
    "KNO3": 50.0,
    "KH2PO4": 14.0,
    "MgSO4·7H2O": 50.0,
    "K2SO4": 20.0,
    "NH4NO3": 5.0,
    "iron EDTA chelate (13 % Fe)": 2.0,
    "MnSO4·H2O": 0.2,
    "ZnSO4·7H2O": 0.1,
    "H3BO3": 0.3,
    "CuSO4·5H2O": 0.02,
    "Na2MoO4·2H2O": 0.01,
    "CaCl2·2H2O": 10.0,
    "Mg(NO3)2·6H2O": 10.0,
}


def agreement_rows():
    """Yield what, how far off at most, and the bar."""
    for own, whose in ((False, "its constants"), (True, "our constants")):
        found = [
            mixing_oracle.differences(mixing_oracle.log_of(batch, own=own))
            for seed in (91, 92, 93)
            for batch in batches(80, seed, strong=1.0 if seed == 93 else 0.25)
        ]
        thin = [one for one in found if one["strength"] <= DILUTE]
        thick = [one for one in found if one["strength"] > DILUTE]
        for some, where in (
            (thin, "to 0.5 mol/kg"),
            (thick, "concentrates to 7 mol/kg"),
        ):
            yield from _differences(some, f"{len(some)} orders, {whose}, {where}")
    yield (
        "best order against every order, 50 recipes of up to 7: worse ones",
        _orders(),
        "0",
    )
    yield (
        "best split against every split, 40 recipes of up to 8: worse ones",
        _splits(),
        "0",
    )
    agree, rows = _chart()
    yield (
        "rows of the chart of stock compatibility that agree",
        f"{agree} of {rows}",
        "51",
    )


def _differences(some, what):
    """Yield the farthest differences of some orders."""
    bars = {"ph": 0.10, "ph after": 0.10, "amount": 0.10, "index": None}
    words = {
        "ph": "pH as mixed",
        "ph after": "pH in the end",
        "amount": "amount where the index exceeds 1, share",
        "index": "index",
    }
    for key, bar in bars.items():
        worst = max(one[key] for one in some)
        yield (
            f"{what}: {words[key]}",
            f"{worst:.4f}",
            "-" if bar is None else f"{bar:g}",
        )
    other = sum(len(one["verdicts"]) for one in some)
    yield f"{what}: other verdicts beyond ±0.3", str(other), "0"


def _orders():
    """Return how many of fifty best orders another order beats."""
    worse = 0
    for seed in range(50):
        (batch,) = batches(1, 400 + seed, most=7 if seed % 5 == 0 else 6)
        grams, volume, tap, share, order = batch
        some = {name: grams[name] for name in order}
        paths = best_order(some, volume=volume, water=tap, start_fraction=share).paths
        costs = ((*paths.cost(o), o) for o in permutations(range(paths.count)))
        worse += min(costs)[-1] != paths.best()
    return str(worse)


def _splits():
    """Return how many of forty best splits another split beats."""
    worse = 0
    for seed in range(20):
        for tanks in (2, 3):
            (batch,) = batches(1, 600 + seed, most=8 if tanks == 2 else 7, strong=0.0)
            grams, volume, _, _, order = batch
            litre = batch_of({n: 100 * grams[n] / volume for n in order}, volume=1)
            splits = splits_of(litre, coldest=10.0)
            least = min(
                splits.cost(
                    [
                        sum(1 << j for j, at in enumerate(w) if at == t)
                        for t in range(tanks)
                    ]
                )
                for w in product(range(tanks), repeat=len(order))
            )
            worse += splits.cost(splits.best(tanks)) != least
    return str(worse)


def _chart():
    """Return how many rows of the published chart agree, and how many there are."""
    return sum(chart.agrees(row) for row in chart.CHART), len(chart.CHART)


def mistake_rows():
    """Yield seeds, and in how many of a hundred the true mistake is first or listed."""
    for seed in (20, 21, 22, 23):
        rng, found = np.random.default_rng(seed), []
        while len(found) < MANY:
            batch = mistakes.recipe(rng)
            every = [s.hypothesis for s in what_went_wrong(batch, ec=1, ph=7).suspects]
            happened = every[rng.integers(len(every))]
            true = mistakes.true_readings(batch, happened)
            read = true[0] * (1 + 0.02 * rng.standard_normal())
            found.append(
                (batch, happened, true, read, true[1] + 0.05 * rng.standard_normal())
            )
        count = mistakes.counted(found)
        sure = mistakes.counted(found, **mistakes.SURE)
        yield (
            seed,
            count["separable"],
            f"{100 * count['first'] / count['separable']:.1f}",
            f"{100 * count['listed'] / count['others']:.1f}",
            f"{100 * sure['listed'] / sure['others']:.1f}",
        )


def speed_rows():
    """Yield what, median in ms, and the bar."""
    for count, bar in ((10, "1000"), (12, "300"), (14, "2000")):
        some = {name: FEED[name] for name in list(FEED)[:count]}
        given = {"volume": 100, "water": "hard-tap-voehringen", "start_fraction": 0.25}
        yield (
            f"best order of {count}",
            _ms(lambda s=some, g=given: best_order(s, **g).order),
            bar,
        )
    for count, bar in ((10, "-"), (12, "500"), (14, "-")):
        some = {name: FEED[name] for name in list(FEED)[:count]}
        for tanks in (2, 3):
            took = _ms(lambda s=some, t=tanks: split_tanks(s, volume=100, tanks=t))
            yield f"{tanks} tanks of {count}, refused or with reasons", took, bar


def _ms(action, repeats=5):
    """Return the median processor time of an action. [ms]"""
    times = []
    for _ in range(repeats):
        start = time.process_time()
        action()
        times.append(1000 * (time.process_time() - start))
    return f"{statistics.median(times):.0f}"
