"""Write reference/validation.md: what agrees with what, and how fast it is here.

    python tests/make_validation.py
    python tests/make_validation.py --pictures     only the pictures, all else as it was

Published values stand in tests/published/; every line shows the published number, ours,
and the difference. Times are medians on the machine that ran it.
"""

import csv
import json
import platform
import random
import statistics
import subprocess
import sys
import time
from pathlib import Path

import numpy
import scipy
import validation_chemistry
import validation_claims
import validation_mixing
import validation_pictures
import validation_recipes
import validation_solids

import formulate as fm
from formulate.ingredients.salts import catalogue
from formulate.jobs import DEMO, read_job
from formulate.outcome import run_job
from formulate.recipes.target import published_target_names
from formulate.sheets.bench_sheet import bench_sheet
from formulate.stoichiometry.formula import molar_mass
from formulate.tables import checksum
from formulate.verify import verify

ROOT = Path(__file__).parent.parent
PAGE = ROOT / "reference" / "validation.md"
PUBLISHED = Path(__file__).parent / "published"
READ_REPORTS = (
    "voehringen.txt",
    "eisenach.txt",
    "us_lab.csv",
    "fr_controle.txt",
    "es_riego.csv",
)
NUTRIENTS = ("NO3", "NH4", "P", "K", "Ca", "Mg", "S", "Fe", "Mn", "Zn", "Cu", "B")


def table(columns, rows):
    """Return a Markdown table."""
    lines = [" | ".join(columns), " | ".join("---" for _ in columns)]
    lines += [" | ".join(str(cell) for cell in row) for row in rows]
    return "\n".join(f"| {line} |" for line in lines)


def median_ms(action, repeats):
    """Return the median time of an action in milliseconds."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        action()
        times.append(1000 * (time.perf_counter() - start))
    return statistics.median(times)


def rows_of(name):
    path = PUBLISHED / f"{name}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


# --- agreement -------------------------------------------------------------------------


def salt_rows():
    """Yield published salt analyses against ours."""
    for row in rows_of("salt_analyses"):
        if not row["formula"] or not row["element_percent_from_published_grade"]:
            continue
        published = float(row["element_percent_from_published_grade"])
        ours = fm.salt(row["formula"]).percent(row["element"])
        yield (
            row["salt"],
            row["element"],
            f"{published:.3f}",
            f"{ours:.3f}",
            f"{ours - published:+.3f}",
            row["source_key"],
        )


def factor_rows():
    """Yield published conversion factors against ours."""
    atoms = {"P": 2, "K": 2, "Na": 2}
    oxides = {"P2O5", "K2O", "CaO", "MgO", "SO3", "Na2O", "SO4", "NO3", "NH4"}
    for row in rows_of("conversion_factors"):
        first, second = row["from"], row["to"]
        pair = {first, second} & oxides
        if len(pair) != 1 or not {first, second} - oxides <= set("NPKS") | {
            "Ca",
            "Mg",
            "Na",
        }:
            continue
        (oxide,) = pair
        (element,) = {first, second} - pair
        share = atoms.get(element, 1) * molar_mass(element) / molar_mass(oxide)
        ours = share if first == oxide else 1 / share
        published = float(row["published_factor"])
        off = 100 * (published / ours - 1)
        yield (
            first,
            second,
            row["published_factor"],
            f"{ours:.5f}",
            f"{off:+.3f}",
            row["source_key"],
        )


def water_rows():
    """Yield printed ion sums against ours."""
    tap = fm.water("hard")
    yield ("Vöhringen, cations meq/L", "6.88", f"{tap.cations:.3f}", "voehringen-2025")
    yield ("Vöhringen, anions meq/L", "7.05", f"{tap.anions:.3f}", "voehringen-2025")


def target_rows():
    """Yield how near pure salts come to each published target."""
    salts = [entry for entry in catalogue().values() if not entry.is_liquid]
    for key in published_target_names():
        recipe = fm.solve(key, salts, volume=100)
        worst = max(recipe.residuals, key=lambda k: abs(recipe.residuals[k]))
        told = sum(notice.severity != "note" for notice in recipe.notices)
        yield (key, recipe.status, worst, f"{100 * recipe.residuals[worst]:+.2f}", told)


# --- speed -----------------------------------------------------------------------------


def import_ms():
    """Return the median time that importing the package adds to a bare interpreter."""
    code = (
        "import time; t = time.perf_counter(); import formulate; "
        "print(1000 * (time.perf_counter() - t))"
    )
    runs = [
        float(
            subprocess.run(
                [sys.executable, "-c", code], capture_output=True, check=True
            ).stdout
        )
        for _ in range(9)
    ]
    return statistics.median(runs)


def unique_problem():
    """Return 12 nutrients over 20 ingredients whose recipe is unique."""
    generator = random.Random(12)
    names = [
        "KNO3", "KH2PO4", "MgSO4·7H2O", "Ca(NO3)2·4H2O", "NH4NO3", "NaFeEDTA·3H2O",
        "MnSO4·H2O", "ZnSO4·7H2O", "CuSO4·5H2O", "H3BO3",
    ]  # fmt: skip
    shelf = [
        fm.blend(
            f"blend {n}",
            {name: generator.uniform(5, 50) for name in generator.sample(names, 3)},
        )
        for n in range(20)
    ]
    wanted = dict(
        zip(
            NUTRIENTS,
            (14, 1, 1.3, 6, 4, 2, 0.5, 0.04, 0.01, 0.005, 0.001, 0.03),
            strict=True,
        )
    )
    return fm.target(wanted, unit="mmol/L"), shelf


def limited_problem(wish):
    """Return the same wishes with limits, and how many hard rows these make."""
    limits = {
        "Na": "at most 50 mg/L",
        "Cl": "at most 100 mg/L",
        "K:Ca": "1.2 to 1.9",
        "Ca:Mg": "2 to 6",
        "hardness": "at most 900 mg/L",
        "salts": "at most 3 g/L",
        "S": "at most 100 mg/L",
        "NO3-N": "at least 100 mg/L",
    }
    limited = fm.target(dict(wish.wanted), unit="mmol/L", limits=limits)
    return limited, sum(len(held.sides) for held in limited.limits)


def speed_rows():
    """Yield what was timed, the median, and the bar."""
    tap = fm.water("hard")
    demo = read_job(DEMO)
    tied = [
        e for e in catalogue().values() if not e.is_liquid and "urea" not in e.forms
    ][:20]
    hoagland = fm.published_target("hoagland1-1950")
    wish, shelf = unique_problem()
    recipe = fm.solve(wish, shelf, volume=100, water=tap)
    if not recipe.optimum.is_unique:
        raise SystemExit("the problem meant to be unique is not")
    if fm.solve(hoagland, tied, volume=100).optimum.is_unique:
        raise SystemExit("the problem meant to have equals has none")
    amounts = dict(run_job(demo).recipe.amounts)
    yield ("import formulate, ms", import_ms(), "300")
    yield (
        f"solve, {len(wish.wanted)} nutrients x {len(shelf)} ingredients, unique, ms",
        median_ms(lambda: fm.solve(wish, shelf, volume=100, water=tap), 300),
        "1",
    )
    yield (
        f"solve, {len(hoagland.wanted)} nutrients x {len(tied)} ingredients, equals ranked, ms",
        median_ms(lambda: fm.solve(hoagland, tied, volume=100), 100),
        "5",
    )
    limited, ten = limited_problem(wish)
    if not fm.solve(limited, shelf, volume=100, water=tap).optimum.is_unique:
        raise SystemExit("the problem with hard rows meant to be unique is not")
    yield (
        f"solve, the same with {ten} hard rows, unique, ms",
        median_ms(lambda: fm.solve(limited, shelf, volume=100, water=tap), 100),
        "2",
    )
    demo_recipe = run_job(demo).recipe
    yield (
        f"what to buy, whole catalogue ({len(catalogue())}), demo, ms",
        median_ms(lambda: fm.what_to_buy(demo_recipe), 10),
        "100",
    )
    yield (
        "weigh in whole steps, trace stocks proposed, demo, ms",
        median_ms(lambda: fm.weigh(demo_recipe, stocks=True), 20),
        "-",
    )
    yield "verify, all check values, ms", median_ms(verify, 3), "1000"
    yield (
        "bench sheet of the demo with its figure, ms",
        median_ms(lambda: bench_sheet(run_job(demo)), 3),
        "-",
    )
    yield (
        "dissolve 12 ingredients, ms",
        median_ms(
            lambda: fm.dissolve(amounts, volume=200, water=tap),
            20,
        ),
        "-",
    )
    reports = sorted((Path(__file__).parent / "waters").glob("*.*"))
    texts = [path for path in reports if path.name in READ_REPORTS]
    yield (
        f"a water report, median of {len(texts)}, ms",
        statistics.median(
            median_ms(lambda path=path: fm.read_water(path), 5) for path in texts
        ),
        "20",
    )
    with (Path(__file__).parent / "labels" / "expected.csv").open(
        encoding="utf-8"
    ) as file:
        expected = list(csv.DictReader(file))
    names = {row["file"] for row in expected} - {
        row["file"] for row in expected if row["refused"]
    }
    labels = [
        (Path(__file__).parent / "labels" / name).read_text(encoding="utf-8")
        for name in sorted(names)
    ]
    times = [median_ms(lambda text=text: fm.read_label(text), 5) for text in labels]
    yield f"a label, median of {len(labels)}, ms", statistics.median(times), "20"
    yield f"a label, slowest of {len(labels)}, ms", max(times), "20"
    yield (
        "the demo job, read and done, ms",
        median_ms(lambda: run_job(read_job(DEMO)).recipe.notices, 20),
        "-",
    )


def bench_rows():
    """Yield what the workbench takes in Python for one changed number, and the bar."""
    from formulate.workbench.bench import Bench
    from formulate.workbench.state import State

    panels = Bench(State()).panels
    panels["water"].receive({"kind": "change", "name": "way", "value": "typed"})

    def changing(part, name, values):
        typed = iter(values)
        return lambda: panels[part].receive(
            {"kind": "change", "name": name, "value": str(next(typed))}
        )

    for what, part, name in (
        ("a value of the water", "water", "value Ca"),
        ("a price", "shelf", "line 1 price_per_kg"),
        ("the volume", "head", "entry volume"),
    ):
        action = changing(part, name, range(30, 60))
        yield f"{what} changed: every number shown, ms", median_ms(action, 21), "50"
    for slot in ("figure", "more"):
        panels["recipe"].receive({"kind": "seen", "name": slot, "value": True})
    drawn = median_ms(changing("water", "value Ca", range(60, 90)), 9)
    yield (
        "a value of the water changed: numbers, figure and what to buy, ms",
        drawn,
        "300 (50 + 250)",
    )
    measured = json.loads((ROOT / "tests" / "browser" / "measured.json").read_text())
    yield from ((row["what"], row["median"], row["bar"]) for row in measured)


def main():
    """Write the file."""
    parts = [
        "# Validation",
        "Made by `python tests/make_validation.py`; do not edit by hand. "
        f"formulate {fm.__version__}, tables {checksum()}, Python {platform.python_version()}, "
        f"numpy {numpy.__version__}, scipy {scipy.__version__}, {platform.machine()}, medians.",
        "## Speed",
        table(
            ("what", "median", "bar"),
            [(what, f"{value:.3g}", bar) for what, value, bar in speed_rows()],
        ),
        "## The workbench",
        "One changed number in Python, and as a browser sees it (`python tests/browser/measure.py`, Chromium).",
        table(
            ("what", "median", "bar"),
            [(what, f"{value:.3g}", bar) for what, value, bar in bench_rows()],
        ),
        "## The chemistry",
        "Largest deviations; sources stand beside the tests (`tests/test_speciation.py`, `test_conductivity.py`, "
        "`test_acidity.py`, `test_solids.py`, `test_chemistry_waters.py`). Agreement with IPhreeqc 3.8.6 is agreement "
        "of two models; against measured mixtures both are 3 to 5 % off.",
        table(("what", "farthest off", "bar"), validation_chemistry.agreement_rows()),
        validation_pictures.drawn("ph"),
        validation_pictures.drawn("ec"),
        "Conductivity of single salts at 25 °C, largest deviation from the handbook in percent.",
        table(("salt", "range", "off %", "bar"), validation_chemistry.salt_rows()),
        "Throughput beside IPhreeqc 3.8.6 in one process, one thread, taking turns; IPhreeqc gets all solutions in one "
        "string and a database stripped to the elements used; pH, ionic strength, EC and five indices from both.",
        table(
            ("solutions", "pH", "IPhreeqc, µs each", "ours, µs each", "ratio", "bar"),
            validation_chemistry.speed_rows(),
        ),
        "## Solids, acids, oxygen",
        "Against IPhreeqc 3.8.6 with Amm.dat, to which our brushite, struvite and newberyite are added, and against "
        "measured solubility (usgs-gypsum-tests). In sodium sulfate the model dissolves too little: the laboratory of "
        "these rows found 6.6 % more in pure water than the others, the rest is the model.",
        table(("what", "farthest off", "bar"), validation_solids.solids_rows()),
        validation_pictures.drawn("gypsum"),
        "Solids let form from 10 000 feeds, a fifth supersaturated with brushite, pH from the charges, beside IPhreeqc.",
        table(
            (
                "solutions",
                "forming",
                "IPhreeqc, µs each",
                "ours, µs each",
                "ratio",
                "bar",
            ),
            validation_solids.solids_speed_rows(),
        ),
        "Solubility products at 25 °C: ours, and the least and the most of the collections in "
        "`tests/published/mineral_solubility.csv` (P phreeqc.dat, W WATEQ4F, N NIST 46, S sit.dat, T Thermoddem, "
        "L llnl.dat, Z pitzer.dat, C ColdChem, lit papers). Where they differ by 3 or more, only the order of "
        "magnitude is known.",
        table(
            ("solid", "role", "ours", "least", "most", "source"),
            validation_solids.constant_rows(),
        ),
        "Oxygen in balance with moist air at 101.325 kPa, mg/L (do-points).",
        table(("at", "published", "ours"), validation_solids.oxygen_rows()),
        "## Recipes in full",
        "Processor times (`time.process_time`) in one process and one thread, of several medians the least; whole "
        "steps by the clock, because their limit is. In hard tap water; pH 5.8 in balance with the air, EC at most "
        "2 mS/cm. Rounds: how often the rows are made until recipe and rows agree.",
        table(
            ("solve", "asked", "median, ms", "rounds", "bar"),
            validation_recipes.solve_rows(unique_problem()),
        ),
        "Seeded cases, each timed once (solves: the least of two medians of three).",
        table(
            ("what", "median", "90 %", "worst", "bar"),
            validation_recipes.spread_rows(unique_problem()),
        ),
        "Agreement with other solvers (daqp, scipy's linprog and milp on programmes set up anew), with our own "
        "readings, and with IPhreeqc 3.8.6 (Amm.dat).",
        table(("what", "farthest off", "bar"), validation_recipes.agreement_rows()),
        "The same, with published solutions in place of other solvers (`tests/test_published_recipes.py`).",
        validation_pictures.drawn("recipes"),
        "## Mixing",
        "Seeded orders of invented recipes in pure, soft, hard and sulfate water, with and against their strength, against "
        "IPhreeqc 3.8.6 (Amm.dat with the solids it lacks), WATEQ on both sides: the equations alone with its constants, and the "
        "model as it is with ours (WATEQ4F). Beyond 0.5 mol/kg WATEQ is beyond its range, and ours are damped from 5 on.",
        table(("what", "farthest off", "bar"), validation_mixing.agreement_rows()),
        "What went wrong: 300 seeded mistakes with meter errors (EC 2 %, pH 0.05) for each seed. First: of those that two "
        "meter errors tell apart from every other; listed: of the rest, answered by cannot tell with the true one on the list, "
        "with our own errors counted and without.",
        table(
            ("seed", "apart", "first, %", "listed, %", "listed, own errors 0, %"),
            validation_mixing.mistake_rows(),
        ),
        "Processor times, one thread, medians of five.",
        table(("what", "median, ms", "bar, ms"), validation_mixing.speed_rows()),
        "## Claims",
        "Seeded labels, charts and tables made from salts with and without a slip, and published ones; generators and "
        "sources stand in the tests. Ranges of blends are held against programmes set up anew from the formulas. What "
        "labels of whole digits leave open, nobody can prove: a source too many may always be there in traces. "
        "Documented discrepancies are the rows of `tests/published/discrepancies.csv`.",
        table(("what", "found", "bar"), validation_claims.agreement_rows()),
        "Processor times, one thread, medians of five.",
        table(("what", "median, ms", "bar, ms"), validation_claims.speed_rows()),
        "## Salt analyses",
        "Published grades, in percent of the element, against the pure salt. Technical grades hold less than "
        "the pure salt; grades are rounded down by law.",
        table(
            ("salt", "element", "published", "pure salt", "difference", "source"),
            salt_rows(),
        ),
        "## Oxide and ion factors",
        "Published factor against ours (masses from `periodictable`); differences beyond the last printed digit "
        "are slips or old atomic masses of the source.",
        table(("from", "to", "published", "ours", "off %", "source"), factor_rows()),
        "## Water",
        "Ion sums that a utility prints itself.",
        table(("sum", "printed", "ours", "source"), water_rows()),
        "## Published targets from the salts of the catalogue",
        "How near every solid of the catalogue together comes to each target in pure water: the nutrient that is "
        "farthest off, in percent of the wanted value (of its scale where 0 is wanted).",
        table(
            ("target", "status", "farthest off", "%", "notices above note"),
            target_rows(),
        ),
    ]
    PAGE.write_text("\n\n".join(parts) + "\n", encoding="utf-8")


def pictures():
    """Draw the pictures anew; every number of the page stays."""
    text = PAGE.read_text(encoding="utf-8")
    PAGE.write_text(validation_pictures.redrawn(text), encoding="utf-8")


if __name__ == "__main__":
    pictures() if sys.argv[1:] == ["--pictures"] else main()
