"""The chemistry and IPhreeqc side by side: the same feeds, one process, taking turns.

IPhreeqc gets all solutions in one string and a database with nothing in it but the elements
used; both give pH, ionic strength, conductivity and five saturation indices.
"""

import time

import numpy as np
import phreeqc_oracle as oracle
import solids_oracle
from random_feeds import feeds

from formulate.chemistry.conductivity import conductivity
from formulate.chemistry.precipitation import precipitate
from formulate.chemistry.speciation import speciate
from formulate.stoichiometry.solution import Solution

INDICES = ("gypsum", "calcite", "brushite", "struvite", "hydroxyapatite")
PHASES = """
PHASES
Gypsum
 CaSO4:2H2O = Ca+2 + SO4-2 + 2 H2O
 log_k -4.58
Calcite
 CaCO3 = CO3-2 + Ca+2
 log_k -8.48
Brushite
 CaHPO4:2H2O = Ca+2 + HPO4-2 + 2 H2O
 log_k -6.62
Struvite
 MgAmmHPO4:6H2O = Mg+2 + AmmH+ + PO4-3 + 6 H2O
 log_k -13.26
Hydroxyapatite
 Ca5(PO4)3OH + 4 H+ = H2O + 3 HPO4-2 + 5 Ca+2
 log_k -3.421
END
"""
TERMS = ['-LA("H+")', "MU", "SC", *(f'SI("{name.capitalize()}")' for name in INDICES)]


def ours(made, ph):
    """Work out everything that the engine is asked for."""
    state = speciate(made, ph=ph)
    indices = [state.saturation_index(name) for name in INDICES]
    return conductivity(state).ec, indices


def seconds(action):
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def side_by_side(count, *, imposed, turns=3):
    """Return microseconds per solution: the engine's and ours, each the best of its turns."""
    contents = feeds(count, 7)
    ph = np.random.default_rng(1).uniform(5.0, 7.0, count) if imposed else None
    made = Solution(contents)
    water = speciate(made, ph=ph).water_kg_l
    per_kg = {form: v / 1000 / water for form, v in contents.items()}
    database = oracle.stripped("Amm.dat", tuple(contents)) + PHASES
    engine, text = oracle.engine(database), oracle.solutions_text(per_kg, ph=ph)
    repeats = max(1, 2000 // count)
    times = [
        (
            seconds(lambda: oracle.run(engine, text, TERMS)),
            min(seconds(lambda: ours(made, ph)) for _ in range(repeats)),
        )
        for _ in range(turns)
    ]
    theirs, own = (min(column) for column in zip(*times, strict=True))
    return 1e6 * theirs / count, 1e6 * own / count


def solids_side_by_side(count, *, turns=3):
    """Return microseconds per solution where brushite may form, and the share where it does.

    A fifth of the feeds is supersaturated; both start from totals, pH from the charges.
    """
    contents = feeds(6 * count, 9)
    index = speciate(Solution(contents)).saturation_index("brushite")
    forming, clear = np.flatnonzero(index > 0.02), np.flatnonzero(index < -0.02)
    some = np.concatenate([forming[: count // 5], clear[: count - count // 5]])
    contents = {form: values[np.sort(some)] for form, values in contents.items()}
    made = Solution(contents)
    water = speciate(made).water_kg_l
    per_kg = {form: v / 1000 / water for form, v in contents.items()}
    engine = oracle.engine(oracle.stripped("Amm.dat", tuple(contents)) + PHASES)
    text = solids_oracle.equilibria_text(per_kg, ["Brushite"])
    terms, found = ['-LA("H+")', 'EQUI("Brushite")'], []
    times = [
        (
            seconds(lambda: oracle.run(engine, text, terms)),
            seconds(lambda: found.append(precipitate(made, ["brushite"]))),
        )
        for _ in range(turns)
    ]
    theirs, own = (min(column) for column in zip(*times, strict=True))
    share = float((found[-1].amounts["brushite"] > 0).mean())
    return 1e6 * theirs / count, 1e6 * own / count, share
