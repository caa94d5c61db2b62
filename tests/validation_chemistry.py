"""The part of reference/validation.md on the chemistry: agreement, and speed side by side."""

import statistics
import time

import numpy as np
import phreeqc_oracle as oracle
import test_acidity
import test_conductivity
import test_solids
import test_speciation
from bench_chemistry import side_by_side
from random_feeds import feeds
from test_chemistry_waters import reports

from formulate.chemistry.conductivity import conductivity, ec
from formulate.chemistry.speciation import speciate
from formulate.stoichiometry.solution import Solution, solution


def percent(values, published):
    return max(abs(100 * (v / p - 1)) for v, p in zip(values, published, strict=True))


def salt_rows():
    """Yield salt, how strong, the largest deviation in percent, and the bar."""
    for name, (ions, dilute, strong) in test_conductivity.IONS.items():
        for text, bar, low, high in (
            ("to 0.01 mol/L", dilute, 0, 0.01),
            ("0.01 to 0.1 mol/L", strong, 0.0101, 0.1),
        ):
            cases = [
                (c, k)
                for salt, c, k in test_conductivity.SALTS
                if salt == name and low <= c <= high
            ]
            values = [
                ec(solution({k: 1000 * n * c for k, n in ions.items()}))
                for c, _ in cases
            ]
            yield (
                name,
                text,
                f"{percent(values, [k for _, k in cases]):.2f}",
                f"{bar:g}",
            )
    for (name, ions), points in (
        (
            ("MgSO4", {"Mg": 1, "SO4": 1}),
            ((0.001, 0.2241), (0.007, 1.185), (0.054, 6.057)),
        ),
        (("CaSO4", {"Ca": 1, "SO4": 1}), ((0.001, 0.2265), (0.005, 0.903))),
        (("KH2PO4", {"K": 1, "P": 1}), ((0.007348, 0.75),)),
    ):
        for c, published in points:
            value = ec(solution({k: 1000 * n * c for k, n in ions.items()}))
            off = 100 * (value / published - 1)
            yield name, f"{c:g} mol/L", f"{off:+.1f}", "stated"


def agreement_rows():
    """Yield what, how far off at most, and the bar."""
    values = [
        conductivity(test_conductivity.molal({"K": float(m), "Cl": float(m)}, t)).ec
        for t, m, _ in test_conductivity.KCL
    ]
    off = percent(values, [k for *_, k in test_conductivity.KCL])
    yield "EC of KCl standards, 5 to 35 °C, %", f"{off:.2f}", "2"
    worst = {True: 0.0, False: 0.0}
    engine = oracle.engine(oracle.database("Amm.dat"))
    for own in (True, False):
        known = oracle.constants_of("Amm.dat") if own else None
        for made, _ in test_speciation.titrations(40, 11):
            model = "wateq" if own else None
            state = speciate(made, constants=known, activity=model)
            text = oracle.solutions_text(test_speciation.per_kg(state))
            ph = np.array(oracle.run(engine, text, ['-LA("H+")'])["v0"])
            worst[own] = max(worst[own], float(np.abs(state.ph - ph).max()))
    yield "pH of 40 titrations, constants of Amm.dat", f"{worst[True]:.5f}", "0.002"
    yield "pH of 40 titrations, our constants", f"{worst[False]:.4f}", "0.02"
    contents = feeds(500, 21)
    ph = np.random.default_rng(22).uniform(5.0, 7.0, 500)
    state = speciate(Solution(contents), ph=ph)
    text = oracle.solutions_text(test_speciation.per_kg(state), ph=ph)
    found = oracle.run(engine, text, ["MU", "SC"], ["mu", "sc"])
    off = np.abs(state.ionic_strength_mmol_kg / 1000 / np.array(found["mu"]) - 1)
    yield (
        "ionic strength of 500 feeds against IPhreeqc, %",
        f"{100 * off.max():.2f}",
        "3",
    )
    off = 100 * np.abs(ec(state) / (np.array(found["sc"]) / 1000) - 1)
    little = test_conductivity.sulfate_share(contents) < 0.4
    name = "EC of feeds against IPhreeqc, sulfate and bicarbonate under 40 %, %"
    yield name, f"{off[little].max():.2f}", "4"
    yield (
        "EC of the other feeds against IPhreeqc, %",
        f"{off[~little].max():.2f}",
        "stated",
    )
    for name, contents, published in (
        ("phosphate 1:1", test_acidity.PHOSPHATE, 6.865),
        ("phosphate 1:3.5", test_acidity.WEAK_PHOSPHATE, 7.413),
        ("carbonate", test_acidity.CARBONATE, 10.012),
        ("borax", test_acidity.BORAX, 9.180),
        ("citrate", test_acidity.CITRATE, 3.776),
    ):
        held = test_conductivity.molal(contents)
        off = speciate(Solution(held.forms)).ph - published
        yield f"pH standard at 25 °C: {name}", f"{off:+.3f}", "0.02"
    rows = [r for r in test_solids.GYPSUM if r["salt"] == "none"]
    off = [test_solids.saturated(r).saturation_index("gypsum") for r in rows]
    yield (
        "index of gypsum in water saturated with it",
        f"{max(map(abs, off)):.3f}",
        "0.035",
    )
    told = {}
    for name, tap in reports():
        (notice,) = [n for n in tap.notices if n.what.startswith("EC from the ions")]
        told[name] = 100 * abs(notice.number / tap.ec - 1)
    median = statistics.median(told.values())
    text = f"EC of {len(told)} water reports against what they print, median %"
    yield text, f"{median:.1f}", "3 to 5"


def speed_rows():
    """Yield how many, pH, microseconds of IPhreeqc and of ours, ratio, bar."""
    for count, imposed, bar in (
        (10_000, True, "50"),
        (10_000, False, "30"),
        (1_000, True, "30"),
        (1_000, False, "30"),
        (100, True, "10"),
        (100, False, "10"),
    ):
        theirs, own = side_by_side(count, imposed=imposed)
        how = "imposed" if imposed else "from charges"
        ratio = f"{theirs / own:.0f}"
        yield f"{count}", how, f"{theirs:.0f}", f"{own:.2f}", ratio, bar
    one = Solution({f: float(v[0]) for f, v in feeds(1, 7).items()})
    for how, ph in (("imposed", 6.0), ("from charges", None)):
        times = []
        for _ in range(500):
            start = time.perf_counter()
            speciate(one, ph=ph)
            times.append(1e6 * (time.perf_counter() - start))
        yield "1", how, "", f"{statistics.median(times):.0f}", "", "300 µs"
