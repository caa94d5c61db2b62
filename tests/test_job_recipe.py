"""How a job chooses its recipe: pH, EC, few ingredients, cost, whole steps, charge."""

import json
from dataclasses import replace

import pytest

import formulate as fm
from formulate.cli import main
from formulate.errors import InputError
from formulate.job_saving import text_of_job
from formulate.jobs import DEMO, ShelfLine, job_from_text, read_job
from formulate.outcome import check_job, run_job
from formulate.recipes.meters import reading
from formulate.sheets.bench_sheet import bench_sheet
from formulate.sheets.comparison import comparison_markup, comparison_parts
from formulate.sheets.tables import as_data

JOB = read_job(DEMO)
ACID = ShelfLine(ingredient="phosphoric acid (85 %)", price_per_kg=2.0, step="0.1 g")
NITRIC = ShelfLine(ingredient="nitric acid (53 %)", price_per_kg=1.1, step="0.1 g")
SOUR = replace(JOB, shelf=(*JOB.shelf, ACID, NITRIC), ph=5.8)
RATIOS = """
formulate = 1
volume = "100 L"
[target]
name = "by charge"
total = "20 meq/L"
[target.cations]
K = 35
Ca = 45
Mg = 20
[target.anions]
NO3 = 60
H2PO4 = 5
SO4 = 35
[target.traces]
Fe = "2 mg/L"
[[shelf]]
ingredient = "KNO3"
[[shelf]]
ingredient = "Ca(NO3)2·4H2O"
[[shelf]]
ingredient = "KH2PO4"
[[shelf]]
ingredient = "MgSO4·7H2O"
[[shelf]]
ingredient = "K2SO4"
[[shelf]]
ingredient = "iron DTPA chelate (11 % Fe)"
"""
CHOICES = (
    {"ph": 5.8},
    {"ec": "1.8 mS/cm"},
    {"most_ingredients": 9},
    {"within_percent": 5},
    {"whole_steps": True},
    {"most_ingredients": 10, "within_percent": 20.0, "whole_steps": True},
)


@pytest.mark.parametrize("choice", CHOICES)
def test_a_job_that_chooses_reads_back_as_it_was_saved(choice):
    job = replace(JOB, **choice)
    assert job_from_text(text_of_job(job)) == job


def test_an_ec_may_be_typed_as_a_number():
    text = text_of_job(JOB).replace('volume = "200 L"', 'volume = "200 L"\nec = 1.8')
    assert job_from_text(text).ec == "1.8 mS/cm"


def test_the_recipe_itself_has_the_ph_where_an_acid_may_be_used():
    outcome = run_job(SOUR)
    assert reading("pH", outcome.recipe.solution) == pytest.approx(5.8, abs=0.005)
    assert any("met by the recipe itself" in line for line in outcome.chosen.lines)
    assert not outcome.correction.doses  # the air brings it there
    assert "acid into water" in bench_sheet(outcome).casefold()


def test_without_an_acid_to_use_the_ph_is_left_to_the_correction():
    kept = [replace(line, use="none") for line in (ACID, NITRIC)]
    outcome = run_job(replace(JOB, shelf=(*JOB.shelf, *kept), ph=5.8))
    assert outcome.chosen.ph is None
    assert outcome.recipe.masses == pytest.approx(dict(run_job(JOB).recipe.masses))
    assert outcome.correction.doses


def test_a_bag_of_unknown_ions_leaves_the_ph_to_the_correction_and_says_why():
    label = ShelfLine(
        label="5-11-26\nTotal Nitrogen (N) 5 %\nnitrate nitrogen 5 %\n"
        "Available Phosphate (P2O5) 11 %\nSoluble Potash (K2O) 26 %",
        name="base",
    )
    outcome = run_job(replace(SOUR, shelf=(*SOUR.shelf, label)))
    told = [n.what for n in outcome.notices if "left to a correction" in n.what]
    assert len(told) == 1
    assert "base" in told[0]


def test_an_alkali_that_is_missing_leaves_the_ph_to_the_correction():
    job = replace(SOUR, water=(("preset", "pure"),), shelf=(*JOB.shelf, ACID), ph=6.5)
    outcome = run_job(job)
    assert any("no alkali is on the shelf" in n.what for n in outcome.notices)
    assert outcome.weighing.amounts


def test_a_wanted_ec_finds_the_strength():
    outcome = run_job(replace(JOB, ec="1.8 mS/cm"))
    assert fm.ec(outcome.recipe.solution) == pytest.approx(1.8, rel=0.002)
    with pytest.raises(InputError, match="leave strength_percent out"):
        run_job(replace(JOB, ec="1.8 mS/cm", strength_percent=50))


def test_few_ingredients_are_few_and_their_price_is_told():
    outcome = run_job(replace(JOB, most_ingredients=9))
    assert len(outcome.recipe.amounts) == 9
    (line,) = outcome.chosen.lines
    assert "9 ingredients of at most 9 (proven)" in line
    assert as_data(outcome)["chosen"] == [line]
    assert "9 ingredients of at most 9" in bench_sheet(outcome)


def test_the_cheapest_is_no_dearer_and_stays_within_its_band():
    nearest = run_job(JOB).recipe
    outcome = run_job(replace(JOB, within_percent=5))
    assert outcome.recipe.cost < nearest.cost
    for key, miss in outcome.recipe.misses.items():
        room = max(0.05, abs(nearest.misses[key]))
        assert abs(miss) <= room + 1e-6, key


def test_whole_steps_are_whole():
    outcome = run_job(replace(JOB, whole_steps=True))
    for ingredient, amount in outcome.weighing.amounts:
        steps = amount / outcome.weighing.steps[ingredient.name]
        assert steps == pytest.approx(round(steps), abs=1e-6)
    assert outcome.chosen.whole.proven


def test_every_fault_of_the_choices_is_told_at_once():
    bare = tuple(replace(line, price_per_kg=None) for line in JOB.shelf)
    job = replace(
        JOB,
        shelf=bare,
        most_ingredients=0,
        within_percent=-1,
        ec="sour",
        whole_steps="yes",
    )
    told = check_job(job).faults["units"]
    assert len(told) == 5  # the prices that are missing too
    priced = check_job(replace(JOB, shelf=bare, within_percent=5)).faults["units"]
    assert "needs every price" in priced[0]
    assert "Epsom salt" in priced[0]
    half = check_job(replace(JOB, most_ingredients=2.5)).faults["units"]
    assert "whole number" in half[0]


def test_a_target_by_charge_in_a_job():
    job = job_from_text(RATIOS)
    assert job_from_text(text_of_job(job)) == job
    recipe = run_job(job).recipe
    # Steiner (steiner-1984, memory): 35:45:20 and 60:5:35 of 20 meq/L, by hand in mmol/L
    for key, wanted in {
        "K": 7,
        "Ca": 4.5,
        "Mg": 2,
        "NO3": 12,
        "P": 1,
        "S": 3.5,
    }.items():
        assert recipe.solution.mmol_l(key) == pytest.approx(wanted, rel=0.002), key


def test_a_target_closed_by_ammonium_in_a_job():
    closed = RATIOS.split("[target.cations]", maxsplit=1)[0].replace(
        'total = "20 meq/L"', 'closing = "NH4"\nunit = "mmol/L"'
    )
    wanted = "[target.wanted]\nNO3 = 12\nP = 1\nS = 3.5\nK = 7\nCa = 4\nMg = 2\n"
    shelf = RATIOS[RATIOS.index("[[shelf]]") :]
    target = run_job(job_from_text(closed + wanted + shelf)).target
    assert target.wanted["NH4"] == pytest.approx(12 + 1 + 7 - 7 - 8 - 4)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('most_ingredients = "six"', "write a number"),
        ("whole_steps = 1", "true or false"),
        ("within_percent = true", "within_percent"),
        ("ec = []", "ec"),
        ("fewest = 3", "unknown key"),
    ],
)
def test_a_wrong_entry_is_refused_by_name(text, told):
    with pytest.raises(InputError, match=told):
        run_job(
            job_from_text(RATIOS.replace("formulate = 1", f"formulate = 1\n{text}"))
        )


# --- compared ----------------------------------------------------------------------------


def test_the_comparison_has_every_part_with_its_numbers():
    parts = comparison_parts(run_job(JOB))
    assert len(parts) == 7
    told = [part for part in parts if part.table is None]
    assert [part.words for part in told] == [
        ("no limit is reached, so none holds the recipe back",)
    ]
    assert all(part.table.rows for part in parts if part not in told)
    assert sum(part.picture is not None for part in parts) == 3
    costs = [float(row[1]) for row in parts[0].table.rows]
    assert len(costs) >= 8
    assert costs == sorted(costs, reverse=True)


def test_without_prices_the_comparison_says_which_are_missing():
    bare = (replace(JOB.shelf[0], price_per_kg=None), *JOB.shelf[1:])
    parts = {
        part.title: part for part in comparison_parts(run_job(replace(JOB, shelf=bare)))
    }
    assert "no price for calcium nitrate" in parts["what coming nearer costs"].words[0]
    assert parts["what one bag less costs"].table.rows


def test_a_hostile_name_is_text_in_the_comparison():
    name = "<img src=x onerror=alert(1)>"
    job = replace(
        JOB, title=name, shelf=(replace(JOB.shelf[0], name=name), *JOB.shelf[1:])
    )
    assert "<img" not in comparison_markup(run_job(job), whole=True)


def test_the_command_compares_and_writes(tmp_path, capfd):
    assert main(["compare", "--out", str(tmp_path)]) == 0
    shown = capfd.readouterr().out
    for words in ("what coming nearer costs", "what one bag less costs", "how sure"):
        assert words in shown
    assert len(list(tmp_path.iterdir())) == 2


def test_the_comparison_as_json_is_one_object_and_nothing_else(capfd):
    assert main(["compare", str(DEMO), "--json"]) == 0
    data = json.loads(capfd.readouterr().out)
    assert len(data["what one bag less costs"]["rows"]) >= 5


# --- what to know of a recipe with acid --------------------------------------------------


def test_how_the_acid_of_a_recipe_is_poured_is_told_with_its_cautions():
    outcome = run_job(replace(JOB, shelf=(*JOB.shelf, NITRIC), ph=5.8))
    name = "nitric acid (53 %)"
    (told,) = [n.what for n in outcome.notices if n.what.startswith(f"{name}: pour")]
    grams = {i.name: a for i, a in outcome.weighing.amounts}[name]
    # four fifths of it (acid_rules, common practice), 1.33 kg/L; 53 % to 5 %: 13 volumes
    poured = float(told.split("pour ")[1].split(" mL")[0])
    assert poured == pytest.approx(0.8 * grams / 1.33, rel=0.01)
    assert "at least 13 times as much cold water" in told
    assert "acid into water, never the reverse" in told
    assert told in bench_sheet(outcome)


def test_a_ph_that_hangs_on_the_alkalinity_is_told():
    outcome = run_job(SOUR)
    told = [n for n in outcome.notices if "hangs on the alkalinity" in n.what]
    assert len(told) == 1
    assert outcome.expected.ph_aerated.high == told[0].number
    still = run_job(JOB).notices
    assert not any("hangs on the alkalinity" in n.what for n in still)


def test_the_comparison_tells_how_often_an_exact_ph_comes_near():
    parts = {part.title: part for part in comparison_parts(run_job(SOUR))}
    words = parts["how sure the weighed batch is"].words
    (near,) = [text for text in words if text.startswith("pH within 0.3 of 5.8 in")]
    share = float(near.split(" in ")[1].split()[0])
    assert 0 < share < 100
    assert any("all limits but the exact ones" in text for text in words)


def test_a_ph_and_its_limit_are_one_too_many():
    limited = (*JOB.target, ("limits", (("pH", "5.5 to 6.2"),)))
    told = check_job(replace(SOUR, target=limited)).faults["units"]
    assert any("limits the pH already" in text for text in told)
    outcome = run_job(replace(SOUR, target=limited, ph=None))
    assert 5.49 <= reading("pH", outcome.recipe.solution) <= 6.21
    assert 5.5 <= outcome.correction.ph <= 6.2


def test_a_wanted_ec_is_kept_when_cost_or_few_bags_choose():
    for choice in ({"within_percent": 10}, {"most_ingredients": 9}):
        outcome = run_job(replace(JOB, ec="1.8 mS/cm", **choice))
        assert fm.ec(outcome.recipe.solution) == pytest.approx(1.8, rel=0.003)


def test_an_ec_of_a_range_belongs_to_the_limits():
    told = check_job(replace(JOB, ec="1.5 to 2 mS/cm")).faults["units"]
    assert "limit of the target" in told[0]
