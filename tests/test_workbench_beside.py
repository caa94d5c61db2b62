"""Two jobs side by side on the bench: put there, exchanged, kept, shared; nothing is lost."""

import html
from dataclasses import replace

import pytest

from formulate.errors import InputError
from formulate.job_saving import text_of_job
from formulate.jobs import DEMO, Job, job_from_text, read_job
from formulate.workbench.bench import Bench
from formulate.workbench.edits import with_entry
from formulate.workbench.state import State

HOSTILE = "<script>alert(1)</script>"
SHELF = """ingredient;price;pack;step
potassium nitrate;65;25 kg;0.1 g
Epsom salt;30;25 kg;0.1 g
calcium nitrate tetrahydrate;48;25 kg;0.1 g
"""


@pytest.fixture
def bench():
    made = Bench(State())
    yield made
    made.close()


def send(panel, kind, name, value="", buffers=()):
    """Send a message as a browser would; return whether it was taken."""
    panel.receive({"kind": kind, "name": name, "value": value}, buffers)
    return not panel.fault


def upload(panel, text, name="theirs.toml"):
    """Give a file to a panel."""
    return send(panel, "upload", "second", name, [text.encode()])


def told(panel, slot):
    """Return what is read in a part."""
    return html.unescape(panel.slots[slot])


def look(panel):
    """Look at every part that is shown."""
    for slot in panel.SLOTS:
        if f'data-slot="{slot}"' in panel.html:
            send(panel, "seen", slot, True)


def test_what_is_changed_from_now_on_is_the_difference(bench):
    panel = bench.panels["beside"]
    assert send(panel, "press", "set")
    look(panel)
    assert "nothing differs" in told(panel, "asked").lower()
    bench.state.enter(("strength_percent",), "50", with_entry, "strength_percent")
    assert "strength" in told(panel, "asked")
    assert bench.state.beside.strength_percent is None
    assert bench.job.strength_percent == 50
    bench.state.undo()
    assert "nothing differs" in told(panel, "asked").lower()


def test_doubling_the_batch_doubles_each_weight_and_changes_no_litre(bench):
    panel = bench.panels["beside"]
    send(panel, "press", "set")
    bench.state.enter(("volume",), "400 L", with_entry, "volume")
    look(panel)
    weighed = told(panel, "weighed")
    second, first = (bench.panels["beside"].second.outcome, bench.outcome)
    twice = {i.name: 2 * grams for i, grams in second.recipe.amounts}
    assert {i.name: g for i, g in first.recipe.amounts} == pytest.approx(
        twice
    )  # linear
    assert "Epsom salt" in weighed
    assert 'data-slot="litres"' in panel.html


@pytest.mark.parametrize("text", ["200000 mL", "0.2 m3", "200", "200.0 L"])
def test_the_same_volume_in_another_unit_is_no_difference(bench, text):
    """The demo's batch is of 200 L: 1000 mL and 0.001 m3 are a litre each."""
    panel = bench.panels["beside"]
    send(panel, "press", "set")
    bench.state.enter(("volume",), text, with_entry, "volume")
    assert bench.job.volume == text
    assert 'data-slot="litres"' not in panel.html
    bench.state.enter(("volume",), "201 L", with_entry, "volume")
    assert 'data-slot="litres"' in panel.html


def test_which_parts_there_are_is_told_without_working_anything_out(bench):
    panel = bench.panels["beside"]
    text = text_of_job(replace(read_job(DEMO), volume="100 L"))
    upload(panel, text)
    assert 'data-slot="litres"' in panel.html
    assert "_worked_out" not in vars(panel.second)
    assert "recipe" not in vars(panel.second.outcome)


def test_a_number_of_either_job_opens_its_working(bench):
    panel = bench.panels["beside"]
    send(panel, "press", "set")
    bench.state.enter(("strength_percent",), "50", with_entry, "strength_percent")
    look(panel)
    worked = {}
    for key, (_, behind) in panel.followed.items():
        slot, column = key.partition(" ")[0], key.rpartition(", ")[2]
        worked.setdefault((slot, column), []).append(behind)
    assert len(worked["weighed", "first"]) >= 8
    for which, outcome in (("first", bench.outcome), ("second", panel.second.outcome)):
        values = [one.worked().value for one in worked["contents", which]]
        shown = [outcome.weighing.working(k).value for k in ("N", "P", "K")]
        assert values[:3] == pytest.approx(shown)
    # potassium: half of 120 mg/L is wanted, the water brings 2.3 [voehringen-2025]
    key = next(k for k in panel.followed if k.endswith("K, %"))
    assert send(panel, "press", f"working {key}")
    first, second = (
        s.weighing.working("K").value for s in (bench.outcome, panel.second.outcome)
    )
    change = panel.followed[key][1].worked()
    assert change.value == pytest.approx(100 * (second / first - 1), abs=0.01)
    assert change.lines[-1] in told(panel, "contents")


def test_nothing_is_worked_out_before_it_is_seen(bench):
    panel = bench.panels["beside"]
    send(panel, "press", "set")
    assert panel.drawn == {}
    send(panel, "seen", "asked", True)
    assert set(panel.drawn) == {"asked"}


def test_a_file_is_put_beside_and_this_job_stays(bench):
    panel, before = bench.panels["beside"], bench.job
    theirs = replace(read_job(DEMO), title=HOSTILE, volume="4 L")
    assert upload(panel, text_of_job(theirs))
    look(panel)
    assert bench.job is before
    assert HOSTILE not in panel.html
    assert HOSTILE in html.unescape(panel.html)
    assert not any(HOSTILE in text for text in panel.slots.values())


def test_a_file_that_is_no_job_leaves_what_stood_there(bench):
    panel = bench.panels["beside"]
    send(panel, "press", "set")
    there = bench.state.beside
    assert not upload(panel, "volume = [", "broken.toml")
    assert "broken.toml" in html.unescape(panel.html)
    assert not upload(panel, 'formulate = 1\nshelf_file = "shelf.csv"\n')
    assert "download it as one file" in html.unescape(panel.html)
    assert bench.state.beside is there


def test_exchanged_put_away_and_brought_back(bench):
    panel, mine = bench.panels["beside"], bench.job
    assert not send(panel, "press", "exchange")
    assert "no job stands beside this one" in panel.html
    upload(panel, text_of_job(replace(mine, volume="4 L")))
    theirs = bench.state.beside
    assert send(panel, "press", "exchange")
    assert (bench.job, bench.state.beside) == (theirs, mine)
    bench.state.undo()
    assert bench.job is mine
    assert send(panel, "press", "away")
    assert bench.state.beside is None
    assert panel.slots == {}
    assert send(panel, "press", "return")
    assert bench.state.beside is mine
    assert send(panel, "press", "return")
    assert bench.state.beside == theirs


def test_a_second_job_without_a_recipe_says_why(bench):
    panel = bench.panels["beside"]
    upload(panel, text_of_job(Job(volume="10 L")))
    look(panel)
    assert "choose a target or type one" in told(panel, "weighed")
    assert "published = " not in told(panel, "weighed")
    assert "what was asked" in panel.html


def test_both_are_shown_in_the_units_that_are_chosen(bench):
    panel = bench.panels["beside"]
    send(panel, "press", "set")
    bench.state.look_in("us")
    look(panel)
    assert "oz" in told(panel, "weighed")
    assert panel.second.outcome.job.units == "us"


def test_the_second_job_is_kept_with_the_first_and_put_away_with_it(tmp_path):
    first, key = State(), "0" * 32
    first.keep_as(key, tmp_path)
    first.put_beside(Job(volume="4 L"))
    again = State()
    again.keep_as(key, tmp_path)
    assert again.beside.volume == "4 L"
    assert not again.had_beside
    again.put_beside(None)
    third = State()
    third.keep_as(key, tmp_path)
    assert third.beside is None
    assert len(list(tmp_path.glob("*.toml"))) == 0 or third.job == first.job


def test_a_job_is_shared_as_one_file_with_its_shelf_inside(tmp_path, bench):
    (tmp_path / "shelf.csv").write_text(SHELF, encoding="utf-8")
    path = tmp_path / "job.toml"
    target = '[target]\npublished = "cornell-lettuce"\n'
    path.write_text(
        f'formulate = 1\nvolume = "50 L"\nshelf_file = "shelf.csv"\n{target}',
        encoding="utf-8",
    )
    bench.state.open(path)
    sent, head = [], bench.panels["head"]
    head.send = lambda content, buffers=None: sent.append(content)
    assert send(head, "press", "keep")
    (file,) = [m for m in sent if m["kind"] == "file"]
    alone = State(job_from_text(file["text"]))
    assert alone.job.shelf_file == ""
    amounts = [[g for _, g in s.outcome.recipe.amounts] for s in (bench.state, alone)]
    assert amounts[0] == amounts[1]
    (tmp_path / "shelf.csv").unlink()
    with pytest.raises(InputError, match=r"shelf\.csv"):
        _ = bench.state.shared
