"""A way out of wishes that cannot hold together: tried before it is taken, taken by a press."""

import html
import math
from dataclasses import replace

import pytest

from formulate.jobs import DEMO, Job, ShelfLine, read_job
from formulate.recipes.limits import Limit, limit
from formulate.recipes.relaxing import Relaxation
from formulate.recipes.requirement import Requirement
from formulate.workbench.bench import Bench
from formulate.workbench.edits import own_target, with_target_value
from formulate.workbench.findings import Findings
from formulate.workbench.shelf_edits import with_line_entry
from formulate.workbench.state import State
from formulate.workbench.ways_out import taken, way_out, ways_of

WATER = {
    "Na": 13.9,
    "Mg": 18.3,
}  # mg/L, as the demo's water was analysed [voehringen-2025]


def limited(job, limits):
    """Return a job with limits."""
    for key, text in limits.items():
        job = with_target_value(job, "limits", key, text)
    return job


def send(panel, kind, name, value=""):
    """Send a message as a browser would; return whether it was taken."""
    panel.receive({"kind": kind, "name": name, "value": value})
    return not panel.fault


JOBS = {
    "a limit under what the water brings": limited(
        read_job(DEMO), {"Mg": "at most 10 mg/L"}
    ),
    "typed by name": limited(read_job(DEMO), {"magnesium": "at most 10 mg/L"}),
    "two limits that clash": limited(
        own_target(read_job(DEMO)),
        {
            "K": "190 to 200",
            "NO3-N": "at most 5",
            "S": "at most 20",
            "P": "at most 30",
            "Cl": "at most 30",
        },
    ),
    "a ratio against a limit": limited(
        read_job(DEMO), {"K:Ca": "1.9 to 2.0", "K": "at most 90 mg/L"}
    ),
    "an amount that is too small": limited(
        with_line_entry(read_job(DEMO), 2, "use", "at most 1 g"),
        {"P": "at least 40 mg/L"},
    ),
}


@pytest.mark.parametrize("name", JOBS)
def test_whatever_way_out_is_offered_leads_to_a_recipe(name):
    job = JOBS[name]
    error = Findings(job).why_not
    assert error is not None
    tried = [way_out(job, way) for *_, way in ways_of(error)]
    assert tried
    for one in tried:
        assert one.job is not None
        assert Findings(one.job).has_recipe, one.job.target
        assert one.words.startswith(("misses", "every wish within"))


def relaxed(name, typed, bound, origin="limit", **facts):
    """Return a way out: a row of a limit whose side is in the way, and its new bound.

    `typed` is the limit as it was typed; the side that gives is the one that the new bound
    lies beyond.
    """
    of_amount = origin == "amount"
    held = (
        Limit(name, **facts, unit="g", of_amount=True)
        if of_amount
        else limit(name, typed)
    )
    ends = (held.low, math.inf) if bound < held.low else (-math.inf, held.high)
    row = Requirement(name, (1.0,), *ends, kind="hard", origin=origin, limit=held)
    return Relaxation(row, row, bound, 0.0, None)


def test_a_limit_gives_on_one_side_and_keeps_the_other():
    typed = "190 to 200 mg/L"
    asked = Job(volume="10 L", target=(("limits", (("K", typed),)),))
    gave = dict(taken(asked, relaxed("K", typed, 155.8)).target)["limits"]
    assert gave == (("K", "155.8 to 200 mg/L"),)
    gave = dict(taken(asked, relaxed("K", typed, 210.0)).target)["limits"]
    assert gave == (("K", "190 to 210 mg/L"),)
    way = relaxed("Na", "at most 10 mg/L", 20.0)
    gave = dict(taken(asked, way).target)["limits"]
    assert gave == (("K", typed), ("Na", "at most 20 mg/L"))


def test_a_limit_typed_in_another_unit_is_taken_from_its_row():
    """4 to 5 mmol/L K are 156.4 to 195.5 mg/L (39.0983 g/mol): the end kept is the same."""
    typed = "4 to 5 mmol/L"
    asked = Job(volume="10 L", target=(("limits", (("K", typed),)),))
    ((key, text),) = dict(taken(asked, relaxed("K", typed, 100.0)).target)["limits"]
    low, words, high, unit = text.split()
    assert (key, low, words, unit) == ("K", "100", "to", "mg/L")
    assert float(high) == pytest.approx(5 * 39.0983, rel=1e-6)


def test_an_amount_and_the_share_of_ammonium_give_where_they_were_asked():
    line = ShelfLine("KNO3", name="base", use="0.5 to 1 g")
    job = Job(volume="10 L", shelf=(line,))
    # its rows count grams in a litre: 0.03 g/L are 0.3 g in 10 L
    facts = {"low": 0.5, "high": 1.0, "origin": "amount"}
    assert taken(job, relaxed("base", "", 0.03, **facts)).shelf[0].use == "0.3 to 1 g"
    assert taken(job, relaxed("another", "", 0.03, **facts)) is None
    share = Requirement("share", (1.0,), high=0.0, kind="hard", origin="ammonium share")
    free = taken(job, Relaxation(share, share, 0.3, 0.3, None))
    assert dict(free.target)["ammonium_share_percent"] == (0.0, 100.0)
    ph = relaxed("pH", "at most 6", 6.3)
    assert taken(job, ph) is None


def test_an_amount_that_gives_keeps_its_other_side():
    """KNO3 holds 38.67 % K: 60 mg/L of it in 10 L take 1.55 g, and no more than 1 g may be used."""
    shelf = (ShelfLine("KNO3", name="base", use="0.5 to 1 g"),)
    target = (("wanted", (("K", "50"),)), ("limits", (("K", "at least 60 mg/L"),)))
    job = Job(volume="10 L", shelf=shelf, target=target)
    ways = {words: way for words, _, way in ways_of(Findings(job).why_not)}
    (words,) = [words for words in ways if words.startswith("amount of base")]
    low, to, high, unit = taken(job, ways[words]).shelf[0].use.split()
    assert (low, to, unit) == ("0.5", "to", "g")
    grams = 60 * 10 / 1000 / (39.0983 / (39.0983 + 14.007 + 3 * 15.999))
    assert float(high) == pytest.approx(grams, rel=1e-3)
    assert float(high) >= grams


def test_what_it_then_misses_is_told_before_it_is_taken_and_undo_brings_all_back():
    state = State(limited(read_job(DEMO), {"Mg": "at most 10 mg/L"}))
    bench, before = Bench(state), state.job
    recipe = bench.panels["recipe"]
    assert "working …" in recipe.html
    send(recipe, "seen", "ways", True)
    shown = html.unescape(recipe.html)
    (words, *_), *_ = ways_of(state.found.why_not)
    assert float(words.split()[3]) == pytest.approx(WATER["Mg"], abs=0.01)
    assert "misses Mg -5" in shown  # 18.3 of 40 mg/L: -54 %
    assert send(recipe, "press", "way", "0")
    assert state.found.has_recipe
    assert f"taken: {words}" in bench.panels["head"].html
    state.undo()
    assert state.job is before
    bench.close()


def test_a_way_out_that_is_gone_is_refused():
    bench = Bench(State(replace(read_job(DEMO), title="whole")))
    for value in ("0", "9", "x", ""):
        assert not send(bench.panels["recipe"], "press", "way", value)
    assert "not there any more" in bench.panels["recipe"].html
    bench.close()


HARDNESS = "Gesamthärte 16,2 °dH\nSäurekapazität bis pH 4,3 5,10 mmol/l\npH-Wert 7,42\n"


def test_a_hardness_without_calcium_is_told_where_it_is_seen_and_can_be_mended():
    bench = Bench(State())
    water, head = bench.panels["water"], bench.panels["head"]
    send(water, "change", "report", HARDNESS)
    assert "neither calcium nor magnesium" in water.html
    assert "▸" in head.html.partition("1 Water")[2].partition("</li>")[0]
    assert send(water, "change", "calcium", "90")
    # 16.2 °dH is 2.889 mmol/L (1 °dH is 10 mg/L CaO, 56.077 g/mol); less 90 / 40.078
    magnesium = (162 / 56.077 - 90 / 40.078) * 24.305
    made = bench.state.found.water.solution
    assert made.mg_l("Mg") == pytest.approx(magnesium, abs=0.01)
    assert made.mg_l("Ca") == pytest.approx(90)
    assert "neither calcium nor magnesium" not in water.html
    assert send(water, "change", "calcium", "")
    bench.state.undo()
    assert "neither calcium nor magnesium" in water.html
    bench.close()
