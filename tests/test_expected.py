"""What meters will show of a batch: on the outcome, the sheet and the panel alike."""

import re

import pytest

import formulate as fm
from formulate.chemistry.expected import expected
from formulate.ingredients.salts import salt
from formulate.jobs import DEMO, Job, ShelfLine, read_job
from formulate.outcome import run_job
from formulate.sheets.bench_sheet import bench_sheet
from formulate.sheets.figures.carriers import carriers
from formulate.sheets.figures.ions import ions
from formulate.sheets.tables import as_data, sheet_tables
from formulate.stoichiometry.solution import Solution, solution


@pytest.fixture(scope="module")
def outcome():
    return run_job(read_job(DEMO))


def test_the_demo_has_the_ec_of_its_ions_and_the_ph_of_its_water(outcome):
    """By the rule EC = 0.095 C + 0.19 (sonneveld-ec-1999, memory), made for nitrate feeds.

    A third of the anions is bicarbonate here, which conducts 44 where nitrate does 71.
    """
    found = outcome.expected
    cations = outcome.weighing.solution.cations()
    assert found.conductivity.ec == pytest.approx(0.095 * cations + 0.19, rel=0.15)
    assert 6.3 < found.ph.ph < 7.3  # water at 7.41, phosphate and ammonium added
    assert found.ph_aerated.ph > found.ph.ph + 1  # its carbon dioxide leaves


def test_sheet_data_and_tables_tell_the_same(outcome):
    tables = {table.key: table for table in sheet_tables(outcome)}
    rows = dict(tables["meters"].rows)
    data = as_data(outcome)["expected"]
    assert rows["EC at 25 °C"] == f"{data['ec_ms_cm_25']:.2f} mS/cm"
    assert rows["pH when mixed"] == f"{data['ph']['closed']['ph']:.1f}"
    assert sum(data["carried_ms_cm"].values()) == pytest.approx(data["ec_ms_cm_25"])
    page = bench_sheet(outcome)
    assert "What meters will show" in page
    assert rows["EC at 25 °C"] in page
    assert "acid into water" in page.casefold()


def test_a_small_error_in_soft_water_opens_the_interval():
    feed = {"K": 5, "Ca": 4, "NO3": 13}
    tap = fm.water("reverse-osmosis")
    found = expected(solution(feed), water=tap)
    assert not found.ph.is_single
    assert any(n.what.startswith("no single pH") for n in found.notices)
    assert any("little buffers it" in n.what for n in found.notices)


def test_weighing_steps_of_what_is_acid_or_alkaline_count():
    potash, plain = salt("K2CO3"), salt("KNO3")
    made = solution({"K": 2, "HCO3": 1, "NO3": 1})
    from dataclasses import replace

    coarse = [(replace(potash, weighing_step=1.0), 10.0)]
    neutral = [(replace(plain, weighing_step=1.0), 10.0)]
    base = expected(made).alkalinity_error
    assert expected(made, amounts=neutral, volume=10).alkalinity_error == base
    wide = expected(made, amounts=coarse, volume=10).alkalinity_error
    # half a gram of K2CO3 (138.2 g/mol, two equivalents) in 10 L: 0.72 meq/L
    assert wide - base == pytest.approx(1000 * 2 * 0.5 / 138.205 / 10, rel=1e-3)


def test_a_label_without_counter_ions_has_no_single_ph():
    """A 10-5-20 by guarantee: what carries its charge is not printed."""
    text = "10-5-20\nTotal Nitrogen (N) 10 %\n10 % Nitrate Nitrogen\n"
    text += "Available Phosphate (P2O5) 5 %\nSoluble Potash (K2O) 20 %\n"
    job = Job(
        volume="10 L",
        target=(("wanted", (("K", 150),)),),
        water=(("preset", "reverse-osmosis"),),
        shelf=(ShelfLine(label=text, name="base 10-5-20"),),
    )
    outcome = run_job(job)
    assert outcome.expected.open_charge > 0.5
    told = [n.what for n in outcome.notices if n.what.startswith("no single pH")]
    assert "charge is not known" in told[0]
    rows = dict(outcome.expected.rows())
    assert rows["pH when mixed"].startswith("between")


def test_the_figures_say_what_the_numbers_say(outcome):
    found = outcome.expected
    picture = carriers(found.conductivity)
    assert picture.table.rows[0][0] == "Ca²⁺"
    shares = [float(row[2]) for row in picture.table.rows]
    assert sum(shares) == pytest.approx(100, abs=0.5)
    assert picture.png(dpi=40)[1:4] == b"PNG"
    by_charge = ions(found.state)
    assert "HCO₃⁻" in by_charge.alt
    sums = {r[1]: float(r[2]) for r in by_charge.table.rows if r[0] == "whole column"}
    assert sums["cations"] == pytest.approx(sums["anions"], rel=2e-3)


def test_pairs_stand_in_the_picture_of_ions():
    state = fm.speciate(solution({"Mg": 20, "SO4": 20, "K": 40, "NO3": 40}))
    names = [row[0] for row in ions(state).table.rows]
    assert "KSO₄⁻" in names


@pytest.mark.parametrize("thing", [Solution({"urea": 1.0})])
def test_nothing_that_conducts_is_nothing_to_draw_but_ions_of_water(thing):
    """Urea alone: the ions of water still carry their 0.055 µS/cm (textbook value)."""
    found = fm.conductivity(thing)
    assert found.ec == pytest.approx(5.5e-5, rel=0.05)
    assert set(found.by_ion) == {"H+", "OH-"}


LINE = re.compile(r"^(?:.*: )?(?P<left>[^=]+) = (?P<right>-?[\d.]+)")


@pytest.mark.parametrize("what", ["pH", "EC", "gypsum", "brushite", "calcite"])
def test_each_printed_line_gives_its_printed_result(outcome, what):
    """The line is read as a reader reads it: numbers and signs, nothing else."""
    import math

    working = outcome.expected.state.working(what)
    for line in working.lines:
        arithmetic = line.rsplit(": ", 1)[1].split("  [")[0]
        left, _, right = arithmetic.partition(" = ")
        result = re.match(r"-?[\d.]+", right).group()
        half = 0.5 * 10.0 ** -len(result.partition(".")[2])
        assert value_of(left, math.log10) == pytest.approx(float(result), abs=half)
    assert working.steps[-1].value == pytest.approx(working.value)


def value_of(text, log10):
    """Return the value of a printed line: units dropped, lg and 10^, × and ÷ before + and −."""
    text = re.sub(r"√(\d[\d.]*)", lambda root: f"{float(root[1]) ** 0.5:.17f}", text)
    text = re.sub(
        r"10\^(-?[\d.]+)", lambda power: f"{10 ** float(power[1]):.17f}", text
    )
    tokens = re.findall(r"lg|[+−×÷]|(?<![\w.])-?\d+(?:\.\d+)?(?![\w.])", text)
    total, product, sign, operator, log = 0.0, None, 1.0, "×", False
    for token in tokens:
        if token == "lg":
            log = True
        elif token in "+−":
            total += sign * (product or 0.0)
            product, sign, operator = None, (1.0 if token == "+" else -1.0), "×"
        elif token in "×÷":
            operator = token
        else:
            number = log10(float(token)) if log else float(token)
            log = False
            if product is None:
                product = number
            else:
                product = product * number if operator == "×" else product / number
    return total + sign * product


def test_the_working_of_the_ph_ends_with_it(outcome):
    state = outcome.expected.state
    assert state.working("pH").value == pytest.approx(state.ph, abs=1e-9)
    assert state.working("EC").value == pytest.approx(
        outcome.expected.conductivity.ec, rel=1e-9
    )
    assert state.working("gypsum").value == pytest.approx(
        state.saturation_index("gypsum"), abs=5e-6
    )
