"""How a job is mixed: order, plan, stocks, readings; sheet, page, command."""

import json
from dataclasses import replace

import pytest

import formulate as fm
from formulate.cli import main
from formulate.errors import InputError
from formulate.job_saving import text_of_job
from formulate.jobs import DEMO, ShelfLine, job_from_text, read_job
from formulate.outcome import check_job, run_job
from formulate.sheets.bench_sheet import bench_sheet
from formulate.sheets.mixing_page import mixing_markup, mixing_parts
from formulate.sheets.tables import as_data, sheet_tables

JOB = read_job(DEMO)
ACID = ShelfLine(ingredient="nitric acid (53 %)", price_per_kg=1.1, step="0.1 g")
NAMES = [line.name or line.ingredient for line in JOB.shelf]
STOCKS = (("strength", "1:100"), ("stock_water", "pure"), ("coldest", 8))


def mixed(**entries):
    """Return the demo with something said of its mixing."""
    return replace(JOB, mixing=tuple(entries.items()))


def outcome_of(**entries):
    return run_job(mixed(**entries))


@pytest.mark.parametrize(
    "entries",
    [
        {},
        {"order": tuple(NAMES)},
        {"water_first_percent": 50, "strength": "1:64", "tanks": 3, "coldest": 5.5},
        {"tank_volume": "20 L", "stock_water": "pure"},
        {"measured_ec": "1.5 mS/cm", "measured_ph": 6.8, "measured_at": 19},
        {"measured_ph": 6.8, "measured_aired": True},
    ],
)
def test_a_job_that_says_how_it_is_mixed_reads_back_as_it_was_saved(entries):
    job = mixed(**entries)
    again = job_from_text(text_of_job(job))
    assert dict(again.mixing) == dict(job.mixing)
    assert text_of_job(again) == text_of_job(job)
    assert check_job(job).faults == {}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[mixing]\nspeed = 3", "mixing.speed: unknown key"),
        ('[mixing]\norder = "KNO3"', "write a list of names"),
        ('[mixing]\ntanks = "two"', "write a number without quotation marks"),
        ("mixing = 5", "write [mixing]"),
        ("[mixing]\norder = [1, 2]", "write a list of names"),
    ],
)
def test_a_wrong_entry_is_refused_by_name(text, told):
    with pytest.raises(InputError) as error:
        job_from_text(f"formulate = 1\n{text}\n")
    assert told in str(error.value)


def test_every_fault_of_the_mixing_is_told_at_once():
    job = mixed(
        order=("sugar", "Epsom salt", "epsom salt"),
        water_first_percent=100,
        strength="1:0",
        tanks=2.5,
        coldest=99,
        measured_ph=15,
        tank_volume="0 L",
    )
    faults = " ".join(check_job(job).faults["mixing"])
    for part in (
        "'sugar' is not on the shelf",
        "Epsom salt stands there twice",
        "100 %; write a share",
        "strength '1:0'",
        "tanks: 2.5",
        "'99' is not a number",
        "'15' is not a number",
        "volume in L",
    ):
        assert part in faults, part


def test_without_a_word_the_order_is_the_best_and_the_plan_follows_it():
    mixing = run_job(JOB).mixing
    assert mixing.order == mixing.best.order
    assert mixing.order_words == "the best order, proven"
    named = [step.name for step in mixing.plan.steps if step.name]
    assert tuple(named) == mixing.order
    assert mixing.plan.steps[0].what.startswith("fill in 150 L of the water (75 %")
    assert mixing.plan.steps[len(named) + 1].what.startswith("fill up to")


def test_another_order_is_taken_and_what_it_costs_is_told():
    own = (NAMES[0], *NAMES[1:])
    mixing = outcome_of(order=own).mixing
    assert mixing.order[0] == NAMES[0]
    assert mixing.order_words == "the order of the job"
    assert mixing.is_own_and_worse
    assert "the best order is" in " ".join(mixing.lines)
    assert "calcite at" in " ".join(mixing.lines)


def test_traces_named_in_an_order_stand_for_their_stock():
    """The demo puts copper and molybdenum into a stock; what is not used is passed over."""
    mixing = outcome_of(order=tuple(NAMES[::-1])).mixing
    assert mixing.order[0] == "trace stock 1"
    assert set(mixing.order) == {i.name for i, _ in mixing.weighing.amounts}


def test_an_order_that_leaves_something_out_says_what():
    with pytest.raises(InputError, match="Epsom salt"):
        tuple(outcome_of(order=(NAMES[0],)).mixing.order)


def test_an_order_may_be_written_in_formulas():
    names = [n for n in NAMES if n != "potassium nitrate"]
    mixing = outcome_of(order=("KNO3", *names)).mixing
    assert mixing.order[0] == "potassium nitrate"


def test_ph_and_ec_of_the_last_step_are_those_of_the_outcome():
    """Both are worked out apart: once of the batch, once as the last of all steps."""
    outcome = run_job(JOB)
    last = outcome.mixing.log.steps[-1]
    assert last.ec == pytest.approx(outcome.expected.conductivity.ec, rel=1e-6)
    assert last.ph == pytest.approx(outcome.expected.state.ph, abs=0.02)  # 25 and 20 °C


def test_acid_on_the_shelf_is_proposed_first_where_it_keeps_the_batch_clear():
    kept = replace(ACID, use="none")  # for the correction, not for the recipe
    mixing = run_job(replace(JOB, shelf=(*JOB.shelf, kept))).mixing
    first = mixing.acid_first
    assert first.order == (ACID.ingredient, *mixing.order)
    then = max(step.index for step in first.steps[1:-1])
    assert then < mixing.log.worst.index - 0.1
    (told,) = [n.what for n in mixing.notices if "before the salts" in n.what]
    assert f"{then:+.2f} instead of {mixing.log.worst.index:+.2f}" in told
    assert "acid into water" in told


def test_in_hard_water_without_an_acid_one_is_advised():
    told = " ".join(n.what for n in run_job(JOB).mixing.notices)
    assert "put one on the shelf" in told


def test_stocks_of_a_job_stand_on_the_sheet_with_labels():
    outcome = run_job(replace(JOB, mixing=STOCKS))
    tables = {table.key: table for table in sheet_tables(outcome)}
    assert {"plan", "tanks", "tank A", "tank label A", "tank B"} <= set(tables)
    label = "\n".join(row[0] for row in tables["tank label A"].rows)
    for part in (
        "stock A",
        "1:100 (1+99, 1 %, 10 mL/L)",
        "made on",
        "H302",
        "never mix",
    ):
        assert part in label
    sheet = bench_sheet(outcome)
    assert "Write on stock A" in sheet
    assert "Mix in this order" in sheet
    plain = {table.key for table in sheet_tables(run_job(JOB))}
    assert "tanks" not in plain
    assert "plan" in plain


def test_stocks_that_do_not_keep_are_told_on_the_sheet_and_as_serious():
    outcome = run_job(mixed(strength="1:100"))  # made with the hard tap water itself
    tables = {table.key: table for table in sheet_tables(outcome)}
    assert tables["tanks"].title == "No stocks"
    assert "newberyite likely" in tables["tanks"].rows[0][0]
    assert 'stock_water="pure"' in tables["tanks"].rows[0][0]  # tried before it is told
    assert any(n.severity == "serious" for n in outcome.mixing.notices)


def test_weights_stand_in_the_order_of_mixing():
    outcome = run_job(JOB)
    tables = {table.key: table for table in sheet_tables(outcome)}
    assert tuple(row[1] for row in tables["weights"].rows) == outcome.mixing.order


def test_in_us_units_the_plan_and_the_stocks_are_in_ounces_and_gallons():
    outcome = run_job(replace(JOB, mixing=STOCKS, units="us"))
    tables = {table.key: table for table in sheet_tables(outcome)}
    assert "US gal" in tables["plan"].rows[0][1]
    assert " oz (43.4 g) monopotassium phosphate" in tables["plan"].rows[1][1]
    assert "oz/100 US gal" in " ".join(tables["tank A"].rows[0])


def test_readings_of_a_job_are_held_against_hypotheses():
    outcome = outcome_of(measured_ec="1.46 mS/cm", measured_ph=6.8)
    assert outcome.mixing.diagnosis.may_be_right
    titles = [part.title for part in mixing_parts(outcome)]
    assert "what went wrong" in titles
    assert run_job(JOB).mixing.diagnosis is None


def test_data_hold_order_steps_and_stocks():
    data = as_data(run_job(replace(JOB, mixing=STOCKS)))["mixing"]
    assert json.loads(json.dumps(data)) == data
    assert data["order"][-1].startswith("calcium nitrate")
    assert len(data["steps"]) == len(data["order"]) + 2
    assert set(data["stocks"]["tanks"]) == {"A", "B"}
    assert as_data(run_job(JOB))["mixing"]["stocks"] is None


def test_a_hostile_name_is_text_on_the_page():
    shelf = list(JOB.shelf)
    shelf[3] = replace(shelf[3], name="<script>alert(1)</script>")
    page = mixing_markup(run_job(replace(JOB, shelf=tuple(shelf))), whole=True)
    assert "<script>" not in page
    assert "&lt;script&gt;" in page


def test_more_than_fourteen_ingredients_take_the_trade_order():
    extra = ("NaCl", "KCl", "NaNO3", "NH4NO3")
    lines = [ShelfLine(ingredient=name, use="exactly 1 g") for name in extra]
    job = replace(JOB, shelf=(*JOB.shelf, *lines), trace_stocks=False)
    mixing = run_job(job).mixing
    assert len(mixing.order) > 14
    assert mixing.best is None
    assert mixing.order[-1].startswith("calcium nitrate")
    assert "up to 14 ingredients" in mixing.order_words
    assert mixing_parts(run_job(job))


# --- the command ---------------------------------------------------------------------------


def test_the_command_tells_plan_order_stocks_and_writes(tmp_path, capfd):
    given = [
        "mix",
        "--strength",
        "1:100",
        "--stock-water",
        "pure",
        "--out",
        str(tmp_path),
    ]
    assert main(given) == 0
    shown = capfd.readouterr()
    for part in (
        "the plan",
        "why this order",
        "stock A",
        "where concentrates meet",
        "all in one jug",
        "eye protection",
        "never let two concentrates meet",
    ):
        assert part in shown.out, part
    files = [line for line in shown.out.splitlines() if line.startswith("written: ")]
    assert [line[-10:] for line in files] == ["mixed.html", "-mixed.csv"]
    assert shown.err == ""


def test_the_command_says_what_is_serious_by_its_end():
    assert main(["mix", "--strength", "1:100"]) == 1  # chalk in the hard tap water


def test_the_command_as_json_is_one_object_and_nothing_else(capfd):
    assert main(["mix", "--json", "--water-first", "25"]) in (0, 1)
    shown = capfd.readouterr()
    data = json.loads(shown.out)
    assert data["water_first"] == 0.25
    assert shown.err == ""


def test_the_command_takes_an_order_and_readings(capfd):
    order = "; ".join(NAMES)
    assert main(["mix", "--order", order, "--ec", "1.1 mS/cm", "--ph", "6.9"]) in (0, 1)
    shown = capfd.readouterr().out
    assert "the order of the job" in shown
    assert "what went wrong" in shown


def test_the_command_lists_every_fault_and_writes_nothing(tmp_path, capfd):
    given = [
        "mix",
        "--order",
        "sugar",
        "--strength",
        "much",
        "--out",
        str(tmp_path / "x"),
    ]
    assert main(given) == 2
    shown = capfd.readouterr()
    assert "'sugar' is not on the shelf" in shown.err
    assert "strength 'much'" in shown.err
    assert not (tmp_path / "x").exists()


def test_public_names_are_there():
    for name in (
        "best_order",
        "compatibility_table",
        "meetings",
        "pair_verdict",
        "simulate_mixing",
        "split_tanks",
        "what_went_wrong",
    ):
        assert callable(getattr(fm, name))
