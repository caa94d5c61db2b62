"""The work at the bench without a browser: undo, what is missing, files, what is kept."""

import os
import re
import stat
from dataclasses import replace
from pathlib import Path

import pytest

from formulate.errors import InputError
from formulate.ingredients.catalogue_search import found_in_catalogue
from formulate.job_saving import save_job
from formulate.jobs import DEMO, Job, ShelfLine, read_job
from formulate.workbench.edits import (
    own_target,
    typed_water,
    with_entry,
    with_report,
    with_target_entry,
    with_target_value,
    with_water,
    with_water_value,
)
from formulate.workbench.findings import PARTS, Findings
from formulate.workbench.keeping import Keeper, new_key
from formulate.workbench.shelf_edits import (
    moved_line,
    with_line,
    with_line_entry,
    with_step,
    without_line,
)
from formulate.workbench.state import State
from formulate.workbench.usual import rows_in_order

KEY = "0123456789abcdef" * 2


# --- undo and redo ---------------------------------------------------------------------


def test_undo_goes_back_to_the_very_first_job_and_redo_on_again():
    state = State()
    first = state.job
    for litres in (10, 20, 30):
        state.enter(("volume",), f"{litres} L", with_entry, "volume")
    last = state.job
    while state.past:
        state.undo()
    assert state.job is first
    while state.future:
        state.redo()
    assert state.job is last


def test_a_new_change_drops_what_was_undone():
    state = State()
    state.enter(("volume",), "10 L", with_entry, "volume")
    state.undo()
    state.enter(("volume",), "20 L", with_entry, "volume")
    assert state.future == ()
    assert len(state.past) == 1


def test_the_same_again_is_no_step_of_undo():
    state = State()
    state.enter(("volume",), "200 L", with_entry, "volume")
    assert state.past == ()


def test_demo_fresh_and_open_can_be_undone(tmp_path):
    save_job(Job(volume="4 L"), tmp_path / "jug.toml")
    state = State()
    first = state.job
    state.fresh()
    state.open(tmp_path / "jug.toml")
    state.demo()
    assert [job.volume for job in state.past] == ["200 L", "10 L", "4 L"]
    for _ in range(3):
        state.undo()
    assert state.job is first


# --- what was typed and refused ----------------------------------------------------------


def test_what_no_job_can_hold_stands_beside_it_until_it_is_right():
    state, at = State(), ("line", 1, "price_per_kg")
    before = state.job
    state.enter(at, "abc", with_line_entry, 1, "price_per_kg")
    assert state.job is before
    assert state.refused[at][0] == "abc"
    assert state.blockers("shelf")[0].startswith("shelf 2: price per kg: 'abc' is no")
    state.enter(at, "3.1", with_line_entry, 1, "price_per_kg")
    assert state.refused == {}
    assert state.job.shelf[1].price_per_kg == 3.1


@pytest.mark.parametrize("after", ["undo", "alter"])
def test_what_was_refused_is_forgotten_when_the_ground_moves(after):
    state = State()
    state.enter(("line", 1, "price_per_kg"), "abc", with_line_entry, 1, "price_per_kg")
    if after == "undo":
        state.undo()
    else:
        state.alter(without_line, 0)
    assert state.refused == {}


def test_a_change_that_cannot_be_made_leaves_the_job():
    state = State()
    before = state.job
    with pytest.raises(InputError, match="no line 100"):
        state.alter(without_line, 99)
    assert state.job is before


# --- what is missing ---------------------------------------------------------------------


def test_a_fresh_start_says_what_is_missing_of_each_part():
    state = State()
    state.fresh()
    assert state.blockers("water") == ()
    assert "counts as pure" in state.notices("water")[0].what
    assert state.blockers("shelf") == ("shelf: nothing on it; add an ingredient",)
    assert "nothing wanted; choose a target" in state.blockers("wishes")[0]
    assert len(state.blockers("recipe")) == len(state.blockers("sheet")) == 2
    with pytest.raises(InputError, match="nothing to print yet"):
        state.found.sheet()


@pytest.mark.parametrize(
    ("part", "job"),
    [
        ("water", with_water_value(read_job(DEMO), "Ca", "a lot")),
        ("water", with_report(read_job(DEMO), "no numbers at all")),
        ("shelf", with_line_entry(read_job(DEMO), 0, "ingredient", "Epsam salt")),
        ("shelf", with_line_entry(read_job(DEMO), 0, "use", "some")),
        ("wishes", with_entry(read_job(DEMO), "volume", "20 buckets")),
        ("wishes", with_target_value(read_job(DEMO), "limits", "Na", "little")),
    ],
)
def test_a_fault_is_told_where_it_lies_and_the_other_parts_go_on(part, job):
    found = Findings(job)
    wrong = [name for name in PARTS if found.blockers(name)]
    follow = ["recipe", "chemistry", "mixing", "exchange", "sheet"]
    assert wrong == [part, *follow]
    assert not found.has_recipe
    assert (found.water is None) == (part == "water")
    assert part != "shelf" or found.target.mg_l("Ca") == pytest.approx(150)


def test_limits_that_cannot_hold_together_are_named_with_ways_out():
    # the water brings 13.9 mg/L Na (its analysis), so that 1 mg/L cannot be kept
    job = with_target_value(read_job(DEMO), "limits", "Na", "at most 1 mg/L")
    found = Findings(job)
    assert found.checked.faults == {}
    assert any("Na" in text for text in found.blockers("recipe"))
    assert found.why_not.ways


def test_every_line_of_a_shelf_tells_its_own_faults():
    job = with_line(with_line(read_job(DEMO), ShelfLine()), ShelfLine("KNO3"))
    job = with_line_entry(job, 13, "step", "0 g")
    checked = Findings(job).checked
    assert [bool(told) for told in checked.lines] == [False] * 12 + [True, True]
    assert checked.made[0].name == "calcium nitrate (15.5-0-0, 19 % Ca)"
    assert checked.made[12] is None


# --- units are a view -----------------------------------------------------------------------


def test_units_are_shown_and_never_stored():
    state = State()
    before, recipe = state.text, state.found.outcome.recipe
    state.look_in("us")
    assert state.found.outcome.job.units == "us"
    assert state.found.outcome.recipe is recipe
    assert state.text == before
    with pytest.raises(InputError, match="metric, us"):
        state.look_in("stone")
    assert State(replace(read_job(DEMO), units="us")).units == "us"


# --- files ----------------------------------------------------------------------------------


def test_saving_keeps_comments_and_tells_whether_it_is_saved(tmp_path):
    path = tmp_path / "batch.toml"
    path.write_text(DEMO.read_text(encoding="utf-8"), encoding="utf-8")
    state = State()
    state.open(path)
    state.enter(("volume",), "50 L", with_entry, "volume")
    assert not state.is_saved
    state.save()
    assert state.is_saved
    assert read_job(path) == state.job
    assert "# What stands on the shelf" in path.read_text(encoding="utf-8")


def test_another_file_is_not_written_over(tmp_path):
    (tmp_path / "other.toml").write_text("formulate = 1\n", encoding="utf-8")
    state = State()
    state.save_as(tmp_path / "mine.toml")
    with pytest.raises(InputError, match="is there already"):
        state.save_as(tmp_path / "other.toml")
    assert state.place == tmp_path / "mine.toml"
    assert (tmp_path / "other.toml").read_text(encoding="utf-8") == "formulate = 1\n"
    with pytest.raises(InputError, match="cannot be written"):
        state.save_as(tmp_path / "no such folder" / "mine.toml")
    assert state.place == tmp_path / "mine.toml"


def test_an_upload_reads_no_file_of_the_server(tmp_path):
    (tmp_path / "secret.csv").write_text("ingredient\nKNO3\n", encoding="utf-8")
    state = State()
    before = state.job
    text = f'formulate = 1\nvolume = "1 L"\nshelf_file = "{tmp_path}/secret.csv"\n'
    with pytest.raises(InputError, match="cannot be reached"):
        state.take(text, "upload.toml")
    assert state.job is before


def test_a_shelf_file_is_found_from_wherever_the_job_is_saved(tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    (tmp_path / "a" / "shelf.csv").write_text("ingredient\nKNO3\n", encoding="utf-8")
    job = replace(read_job(DEMO), shelf=(), shelf_file="shelf.csv", folder="")
    save_job(job, tmp_path / "a" / "job.toml")
    state = State()
    state.open(tmp_path / "a" / "job.toml")
    state.save_as(tmp_path / "b" / "job.toml")
    again = State(read_job(tmp_path / "b" / "job.toml"))
    assert [i.name for i in again.outcome.shelf] == ["KNO3"]


# --- kept between sessions --------------------------------------------------------------------


def test_work_is_kept_at_every_change_and_found_by_its_key_only(tmp_path):
    state = State()
    state.keep_as(KEY, tmp_path)
    state.enter(("volume",), "77 L", with_entry, "volume")
    again, other = State(), State()
    again.keep_as(KEY, tmp_path)
    other.keep_as(new_key(), tmp_path)
    assert again.job == state.job
    assert again.said == "your work as you left it"
    again.undo()
    assert again.job == read_job(DEMO)  # even coming back can be undone
    assert other.job == read_job(DEMO)


@pytest.mark.parametrize(
    "key", ["", "../" * 10 + "ab", "A" * 32, "0" * 31, "0" * 33, None, 7, f"{KEY}\n"]
)
def test_only_a_whole_key_names_a_file(key, tmp_path):
    with pytest.raises(InputError, match="no key"):
        Keeper(key, tmp_path)


def test_work_changed_in_another_window_is_not_written_over(tmp_path):
    here, there = State(), State()
    here.keep_as(KEY, tmp_path)
    here.enter(("volume",), "10 L", with_entry, "volume")
    there.keep_as(KEY, tmp_path)
    there.enter(("volume",), "20 L", with_entry, "volume")
    here.enter(("volume",), "30 L", with_entry, "volume")
    old, new = here.take_new_key()
    assert (old, there.take_new_key(), here.take_new_key()) == (KEY, None, None)
    assert read_job(tmp_path / f"{new}.toml").volume == "30 L"
    assert "another window" in here.said
    volumes = {read_job(path).volume for path in tmp_path.glob("*.toml")}
    assert volumes == {"20 L", "30 L"}
    here.enter(("volume",), "40 L", with_entry, "volume")
    assert len(list(tmp_path.glob("*.toml"))) == 2


def test_a_job_of_ones_own_is_not_taken_over_by_what_was_kept(tmp_path):
    mine, given = State(), State(Job(volume="3 L"))
    mine.keep_as(KEY, tmp_path)
    mine.enter(("volume",), "10 L", with_entry, "volume")
    given.keep_as(KEY, tmp_path)
    assert given.job.volume == "3 L"
    given.enter(("volume",), "4 L", with_entry, "volume")
    again, same = State(), State(Job(volume="3 L"))
    again.keep_as(KEY, tmp_path)
    same.keep_as(KEY, tmp_path)
    assert (again.job.volume, same.job.volume) == ("10 L", "4 L")


def test_a_file_changed_since_goes_before_what_was_kept_of_it(tmp_path):
    path, work = tmp_path / "job.toml", tmp_path / "work"
    save_job(Job(volume="1 L"), path)
    first = State(read_job(path), place=path)
    first.keep_as(KEY, work)
    first.enter(("volume",), "2 L", with_entry, "volume")
    os.utime(path, (1, 1))
    second = State(read_job(path), place=path)
    second.keep_as(KEY, work)
    assert second.job.volume == "2 L"  # kept after the file was written
    save_job(Job(volume="5 L"), path)
    os.utime(path, (2**32, 2**32))
    third = State(read_job(path), place=path)
    third.keep_as(KEY, work)
    assert third.job.volume == "5 L"
    (aside,) = work.glob("*.aside")
    assert 'volume = "2 L"' in aside.read_text(encoding="utf-8")


def test_what_was_done_before_the_browser_came_is_not_lost_nor_what_was_kept(tmp_path):
    before, late = State(), State()
    before.keep_as(KEY, tmp_path)
    before.enter(("volume",), "10 L", with_entry, "volume")
    late.enter(("volume",), "20 L", with_entry, "volume")
    late.keep_as(KEY, tmp_path)
    assert late.job.volume == "20 L"
    assert read_job(tmp_path / f"{KEY}.toml").volume == "20 L"
    (aside,) = tmp_path.glob("*.aside")
    assert 'volume = "10 L"' in aside.read_text(encoding="utf-8")


def test_a_second_browser_on_the_same_kernel_finds_the_work_too(tmp_path):
    state, other = State(), "f" * 32
    earlier = State()
    earlier.keep_as(other, tmp_path)
    earlier.enter(("volume",), "3 L", with_entry, "volume")
    state.keep_as(KEY, tmp_path)
    state.enter(("volume",), "10 L", with_entry, "volume")
    state.keep_as(other, tmp_path)
    state.enter(("volume",), "20 L", with_entry, "volume")
    assert {read_job(tmp_path / f"{key}.toml").volume for key in (KEY, other)} == {
        "20 L"
    }
    (aside,) = tmp_path.glob("*.aside")
    assert 'volume = "3 L"' in aside.read_text(encoding="utf-8")


def test_what_cannot_be_read_is_set_aside_and_told(tmp_path):
    (tmp_path / f"{KEY}.toml").write_text("volume = [", encoding="utf-8")
    state = State()
    with pytest.raises(InputError, match="set aside"):
        state.keep_as(KEY, tmp_path)
    (aside,) = tmp_path.glob("*.aside")
    assert aside.read_text(encoding="utf-8") == "volume = ["
    state.enter(("volume",), "5 L", with_entry, "volume")
    assert read_job(tmp_path / f"{KEY}.toml").volume == "5 L"


@pytest.mark.skipif(os.name != "posix", reason="permission bits are of POSIX")
def test_the_folder_is_its_owners_alone(tmp_path):
    state = State()
    state.keep_as(KEY, tmp_path / "work")
    state.fresh()
    assert stat.S_IMODE((tmp_path / "work").stat().st_mode) == 0o700


def test_a_folder_that_cannot_be_written_is_told_and_the_work_goes_on(tmp_path):
    (tmp_path / "work").write_text("a file in the way", encoding="utf-8")
    state = State()
    state.keep_as(KEY, tmp_path / "work")
    state.fresh()
    assert state.said.startswith("this work is not kept")
    assert state.job.volume == "10 L"


# --- edits ------------------------------------------------------------------------------------


def test_a_preset_typed_over_is_the_same_water():
    job = with_water(read_job(DEMO), "hard")
    before, after = Findings(job).water, Findings(typed_water(job)).water
    assert dict(after.solution.forms) == dict(before.solution.forms)
    assert (after.ph, after.ec, after.name) == (before.ph, before.ec, before.name)


def test_a_report_typed_over_is_the_same_water_within_five_digits():
    report = "Calcium 94.4 mg/l\nSulfat 18,1 mg/l\nNitrat 16,4 mg/l\npH 7,41\nSäurekapazität bis pH 4,3 5,72 mmol/l\n"
    job = with_report(read_job(DEMO), report, "tap")
    before = Findings(job).water
    after = Findings(typed_water(job, before)).water
    assert after.name == "tap"
    assert after.solution.mg_l("Ca") == pytest.approx(94.4, rel=1e-4)
    assert after.solution.mg_l("SO4") == pytest.approx(18.1, rel=1e-4)
    assert after.alkalinity == pytest.approx(5.72)


def test_a_published_target_typed_over_is_the_same_target():
    for key in ("ufifas-tomato-1", "basil-range", "sv-rose-drip"):
        job = with_target_entry(read_job(DEMO), "published", key)
        before, after = Findings(job).target, Findings(own_target(job)).target
        assert dict(after.wanted) == dict(before.wanted)
        assert dict(after.ranges) == dict(before.ranges)


def test_limits_stay_when_another_target_is_chosen():
    job = with_target_value(read_job(DEMO), "limits", "Na", "at most 50 mg/L")
    job = with_target_entry(own_target(job), "published", "cornell-lettuce")
    assert dict(job.target) == {
        "published": "cornell-lettuce",
        "limits": (("Na", "at most 50 mg/L"),),
    }
    job = with_target_value(job, "limits", "Na", "")
    assert dict(job.target) == {"published": "cornell-lettuce"}


def test_the_share_of_ammonium_is_typed_end_by_end():
    job = with_target_entry(read_job(DEMO), "ammonium_high", "20 %")
    assert dict(job.target)["ammonium_share_percent"] == (0.0, 20.0)
    job = with_target_entry(job, "ammonium_low", "5")
    assert dict(job.target)["ammonium_share_percent"] == (5.0, 20.0)
    job = with_target_entry(
        with_target_entry(job, "ammonium_low", ""), "ammonium_high", ""
    )
    assert "ammonium_share_percent" not in dict(job.target)


def test_lines_move_and_stop_at_the_ends():
    job = replace(read_job(DEMO), shelf=tuple(map(ShelfLine, ("a", "b", "c"))))
    names = [line.ingredient for line in moved_line(job, 2, -5).shelf]
    assert names == ["c", "a", "b"]
    assert [line.ingredient for line in moved_line(job, 0, 9).shelf] == ["b", "c", "a"]
    assert {line.step for line in with_step(job, "1 g").shelf} == {"1 g"}


@pytest.mark.parametrize("key", ["stock", "__class__", "price", ""])
def test_only_cells_of_the_shelf_can_be_typed(key):
    with pytest.raises(InputError, match="no column"):
        with_line_entry(read_job(DEMO), 0, key, "1")


# --- rows and the catalogue -----------------------------------------------------------------


def test_rows_stand_where_they_stood_before_something_was_typed():
    usual = ("Ca", "NO3-N", "S", "pH", "alkalinity")
    assert rows_in_order(usual, ("HCO3", "NO3", "Ca")) == (
        "Ca",
        "NO3",
        "S",
        "pH",
        "HCO3",
    )


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("KNO3", "potassium nitrate"),
        ("mgso4·7h2o", "magnesium sulfate heptahydrate"),
        ("MgSO₄", "magnesium sulfate heptahydrate"),
        ("boric", "boric acid"),
        ("dtpa fe", "iron DTPA chelate (11 % Fe)"),
    ],
)
def test_the_catalogue_is_found_by_formula_and_name(text, name):
    assert name in [ingredient.name for ingredient in found_in_catalogue(text)]


def test_an_empty_or_strange_search_finds_nothing():
    assert found_in_catalogue("") == found_in_catalogue("   ") == ()
    assert found_in_catalogue("unobtainium") == ()
    assert len(found_in_catalogue("potassium")) <= 8


def test_the_shipped_text_of_a_fault_names_the_screen_and_not_the_file():
    state = State()
    state.fresh()
    told = " ".join(text for part in PARTS for text in state.blockers(part))
    assert not re.search(r"\[\[|\[target|published =", told)
    assert Path(DEMO).exists()
