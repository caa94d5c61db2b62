"""The part of reference/validation.md on solids, acids and oxygen."""

import csv
from pathlib import Path

import numpy as np
import phreeqc_oracle as oracle
import test_precipitation as falling
import test_solids
from bench_chemistry import solids_side_by_side
from test_speciation import per_kg

from formulate.chemistry.constants import log_k
from formulate.chemistry.oxygen import oxygen_saturation
from formulate.chemistry.precipitation import precipitate
from formulate.chemistry.solids import mineral, mineral_names
from formulate.chemistry.speciation import speciate
from formulate.stoichiometry.solution import Solution

PUBLISHED = Path(__file__).parent / "published"
ROOM = 298.15
OTHERS = {  # names of the published table that differ from ours
    "ferric hydroxide": "ferric hydroxide, amorphous",
    "hopeite": "zinc phosphate (hopeite)",
    "zinc hydroxide": "zinc hydroxide, amorphous",
    "silica": "silica, amorphous",
}


def solids_rows():
    """Yield what, how far off at most, and the bar."""
    for name, (low, high) in test_solids.off_phreeqc(500, 83).items():
        bar = {"hydroxyapatite": "0.15", "newberyite": "stated"}.get(name, "0.05")
        yield (
            f"index of {name}, 500 feeds against IPhreeqc",
            f"{low:+.3f} to {high:+.3f}",
            bar,
        )
    state = speciate(Solution(falling.alkaline_feeds(500, 51)))
    _, found = falling.after(state.solution, ["Brushite"], ["brushite"], ['-LA("H+")'])
    ours = precipitate(state, ["brushite"])
    off = ours.amounts["brushite"] / state.water_kg_l - 1000 * found["Brushite"][1]
    yield "brushite formed, 500 feeds, mmol/kg", f"{np.abs(off).max():.4f}", "0.02"
    off = ours.ph - found['-LA("H+")'][1]
    yield "pH after it", f"{np.abs(off).max():.4f}", "stated"
    yield from _concentrates()
    for salt in ("none", "NaCl", "Na2SO4"):
        yield from _gypsum(salt)


def _concentrates():
    state = speciate(Solution(falling.concentrates(50, 53)), activity="wateq")
    engine = oracle.engine(falling.gypsum_database(state.solution.forms))
    found = falling.solids_oracle.equilibria(
        engine, per_kg(state), ["Gypsum"], ['SI("Gypsum")']
    )
    index = found['SI("Gypsum")'][0]
    formed = precipitate(state, ["gypsum"]).amounts["gypsum"] / state.water_kg_l
    off = 100 * np.abs(formed / (1000 * found["Gypsum"][1]) - 1)[index > 1]
    yield "gypsum formed, 50 concentrates, index above 1, %", f"{off.max():.2f}", "10"
    off = np.abs(state.saturation_index("gypsum") - index)
    yield "index of gypsum in them, WATEQ against WATEQ", f"{off.max():.3f}", "0.3"


def _gypsum(salt):
    rows = [r for r in falling.MEASURED if r["salt"] == salt]
    rows = [r for r in rows if float(r["temperature_C"]) <= 50.2]
    groups = (
        ((0.0, 0.0),) if salt == "none" else ((0.001, 0.15), (0.15, 0.5), (0.5, 1.1))
    )
    for low, high in groups:
        some = [r for r in rows if low <= float(r["salt_mol_kgw"] or 0) <= high]
        some = [r for r in some if float(r["temperature_C"]) <= 50]
        off = [100 * falling.off(row) for row in some]
        where = (
            "water, 0 to 50 °C"
            if salt == "none"
            else f"{salt} {low:.2g} to {high:g} mol/kg"
        )
        bar = "5" if salt == "none" else "8"
        text = f"{min(off):+.1f} to {max(off):+.1f}"
        yield f"gypsum dissolved in {where}, {len(off)} rows, %", text, bar


def constant_rows():
    """Yield solid, our log K at 25 °C, the least and the most of other collections."""
    with (PUBLISHED / "mineral_solubility.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    for name in mineral_names("matters", "trace", "harmless"):
        solid = mineral(name)
        published = OTHERS.get(name, name)
        values = [
            (float(r["logK_25"]), r["source"])
            for r in rows
            if r["mineral"] == published
        ]
        ends = [f"{v:.2f} ({s})" for v, s in (min(values), max(values))]
        ours = float(log_k(solid.log_k, ROOM))
        yield name, solid.role, f"{ours:.2f}", *ends, solid.source_key


def oxygen_rows():
    """Yield temperature, oxygen as published and ours."""
    with (PUBLISHED / "dissolved_oxygen_saturation.csv").open(encoding="utf-8") as file:
        rows = [r for r in csv.DictReader(file) if r["DO_published_mg_L_760mmHg"]]
    for row in rows:
        published = row["DO_published_mg_L_760mmHg"]
        ours = oxygen_saturation(float(row["temperature_C"]))
        yield f"{row['temperature_C']} °C", published, f"{ours:.4f}"


def solids_speed_rows():
    """Yield how many, the share that forms a solid, microseconds of both, ratio, bar."""
    theirs, own, share = solids_side_by_side(10_000)
    yield (
        "10000",
        f"{100 * share:.0f} %",
        f"{theirs:.0f}",
        f"{own:.1f}",
        f"{theirs / own:.0f}",
        "5",
    )
