"""Two jobs side by side: differences worked out by hand, digits of the sheets, words."""

import json
from dataclasses import replace

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from formulate.cli import main
from formulate.job_saving import save_job
from formulate.jobs import DEMO, Job, ShelfLine, job_from_text, read_job
from formulate.outcome import Outcome, check_job, run_job
from formulate.sheets.contents_tables import along, as_weighed, contents
from formulate.sheets.figures.style import drawing
from formulate.sheets.figures.two_jobs_bars import two_jobs_bars
from formulate.sheets.two_jobs import (
    PARTS_OF_TWO,
    two_jobs_names,
    two_jobs_part,
    two_jobs_parts,
)
from formulate.sheets.two_jobs_page import two_jobs_markup, two_jobs_text
from formulate.sheets.weighed_tables import weights

HOSTILE = "<script>alert(1)</script> $\\frac{x}$"
FINE = "0.0001 g"


def potash(title="Lindenhof", **changes):
    """Return a job that wants 100 mg/L of potassium from potassium nitrate."""
    line = ShelfLine("KNO3", price_per_kg=2.0, step=FINE)
    facts = {
        "volume": "10 L",
        "target": (("wanted", (("K", 100),)),),
        "shelf": (line,),
        "trace_stocks": False,
    }
    return Job(title, **facts | changes)


def conflicting(title="conflict"):
    """Return a job whose limits cannot hold together: 100 mg/L K bring 35.8 of NO3-N."""
    limits = (("K", "at least 100 mg/L"), ("NO3-N", "at most 20 mg/L"))
    asked = (("wanted", (("K", 100),)), ("limits", limits))
    return potash(title, target=asked, shelf=(ShelfLine("KNO3", step="0.1 g"),))


@pytest.fixture(scope="module")
def demo():
    return run_job(read_job(DEMO))


@pytest.fixture(scope="module")
def half():
    return run_job(replace(read_job(DEMO), title="half", strength_percent=50.0))


def rows_of(name, first, second):
    """Return name to the other cells of a part's table."""
    table = two_jobs_part(name, first, second).table
    return {row[0]: row[1:] for row in table.rows}


def of_jobs(first, second):
    return run_job(first), run_job(second)


# --- by hand ----------------------------------------------------------------------------


def test_half_the_strength_is_half_of_one_salt():
    """By hand: 1 g K is 101.102 / 39.0983 = 2.58584 g KNO3; half of it 1.29292 g."""
    pair = of_jobs(potash(), potash(strength_percent=50.0))
    table = two_jobs_part("weighed", *pair).table
    assert table.columns == ("ingredient, g", "first", "second", "difference", "%")
    assert table.rows == (("KNO3", "2.5858", "1.2929", "-1.2929", "-50.0 %"),)
    assert rows_of("asked", *pair) == {"strength": ("100 %", "50 %")}
    # 0.0025858 kg at 2.0 a kilogram are 0.0052, ten times as much in 100 L
    costs = rows_of("cost", *pair)
    assert costs["the batch"] == ("0.0052", "0.0026", "-0.0026", "-50.0 %")
    assert costs["100 L"] == ("0.052", "0.026", "-0.026", "-50.0 %")
    # 258.58 and 129.29 mg/L of it × 14.007 / 101.102 are 35.82 and 17.91 mg/L of N
    held = rows_of("contents", *pair)
    assert held["K"] == ("100.0", "50.00", "100.0", "50.00", "-50.0", "-50.0 %")
    assert held["NO3-N"][2:] == ("35.82", "17.91", "-17.91", "-50.0 %")


def test_in_pure_water_half_the_strength_halves_every_weight():
    """A law: the nearest recipe is proportional to what is wanted where no water brings."""
    shelf = tuple(replace(line, step="0.00001 g") for line in read_job(DEMO).shelf)
    whole = replace(read_job(DEMO), water=(), shelf=shelf, trace_stocks=False)
    pair = of_jobs(whole, replace(whole, strength_percent=50.0))
    found = rows_of("weighed", *pair)
    assert len(found) >= 10
    assert {cells[-1] for cells in found.values()} == {"-50.0 %"}
    held = rows_of("contents", *pair)
    assert {cells[-1] for cells in held.values()} == {"-50.0 %"}


def test_half_as_much_again_of_volume_moves_nothing_in_a_litre():
    pair = of_jobs(potash(), potash(volume="15 L"))
    assert rows_of("asked", *pair) == {"batch": ("10 L", "15 L")}
    weighed = rows_of("weighed", *pair)["KNO3"]  # 2.58584 g × 1.5 = 3.87876 g
    assert weighed == ("2.5858", "3.8788", "+1.2930", "+50.0 %")
    # 2.5858 g / 10 L and 3.8788 g / 15 L
    table = two_jobs_part("litres", *pair).table
    assert table.columns[0] == "ingredient, g/L"
    assert table.rows == (("KNO3", "0.2586", "0.2586", "0", "0.0 %"),)
    costs = rows_of("cost", *pair)
    assert costs["the batch"][-1] == "+50.0 %"
    assert costs["100 L"] == ("0.052", "0.052", "0", "0.0 %")
    assert [part.title for part in two_jobs_parts(*pair)] == list(PARTS_OF_TWO.values())


def test_a_less_pure_salt_weighs_more_by_what_it_lacks():
    """By hand: 1 / 0.96 = 1.041667, so 2.58584 g become 2.69358 g; a litre holds the same."""
    line = replace(potash().shelf[0], purity_percent=96.0)
    pair = of_jobs(potash(), potash(shelf=(line,)))
    assert rows_of("asked", *pair) == {"KNO3: purity": ("100 %", "96 %")}
    assert rows_of("weighed", *pair)["KNO3"] == (
        "2.5858",
        "2.6936",
        "+0.1078",
        "+4.2 %",
    )
    assert rows_of("contents", *pair)["K"][-2:] == ("0", "0.0 %")
    words = two_jobs_part("contents", *pair).words[0]
    assert words == "all 2 nutrients are within 5 % of one another"


def test_another_price_moves_the_cost_and_nothing_else():
    line = replace(potash().shelf[0], price_per_kg=3.0)
    pair = of_jobs(potash(), potash(shelf=(line,)))
    assert rows_of("asked", *pair) == {"KNO3: price of a kg": ("2", "3")}
    assert rows_of("weighed", *pair)["KNO3"][-2:] == ("0", "0.0 %")
    cells = rows_of("cost", *pair)["KNO3"]  # 0.0051716 and 0.0077574
    assert cells == ("0.0052", "0.0078", "+0.0026", "+50.0 %")


def test_a_price_that_is_missing_leaves_the_whole_unknown():
    line = replace(potash().shelf[0], price_per_kg=None)
    part = two_jobs_part("cost", *of_jobs(potash(), potash(shelf=(line,))))
    assert part.table.rows[0][:3] == ("KNO3", "0.0052", "not known")
    assert part.words[0] == "the whole is not known: no price for KNO3"
    free = run_job(potash(shelf=(line,)))
    assert two_jobs_part("cost", free, free).words == ("no price is known",)


def test_another_salt_stands_on_one_side_only():
    other = ShelfLine("K2SO4", price_per_kg=2.0, step=FINE)
    pair = of_jobs(potash(), potash(shelf=(other,)))
    asked = rows_of("asked", *pair)
    assert asked["on the shelf: KNO3"] == ("there", "none")
    assert asked["on the shelf: K2SO4"] == ("none", "there")
    weighed = rows_of("weighed", *pair)
    assert weighed["KNO3"] == ("2.5858", "none", "-2.5858", "-100.0 %")
    # (2 × 39.0983 + 32.06 + 4 × 15.999) / (2 × 39.0983) = 2.22839 g
    assert weighed["K2SO4"][1] == "2.2284"
    assert weighed["K2SO4"][-1] == "new"
    words = two_jobs_part("weighed", *pair).words
    assert "only for the first: KNO3" in words
    assert "only for the second: K2SO4" in words


# --- what was asked ---------------------------------------------------------------------


def test_the_same_job_differs_in_nothing(demo):
    again = run_job(replace(read_job(DEMO), title="the same again"))
    parts = {part.title: part for part in two_jobs_parts(demo, again)}
    assert parts["what was asked"].words == ("nothing differs: both jobs ask the same",)
    assert parts["what was asked"].table is None
    for title in ("what is weighed", "what it costs", "what a litre holds"):
        table = parts[title].table
        place = table.columns.index("%")
        assert {row[place] for row in table.rows} == {"0.0 %"}
    assert parts["what to know of one only"].table is None
    assert "what goes into a litre" not in parts


@pytest.mark.parametrize(
    ("changes", "row"),
    [
        ({"ph": 5.8}, ("pH wanted", "not asked", "5.8")),
        ({"ec": "1.2 mS/cm"}, ("EC wanted", "not asked", "1.2 mS/cm")),
        ({"most_ingredients": 9}, ("ingredients at most", "any number", "9")),
        ({"within_percent": 5.0}, ("cheapest within, %", "not asked", "5")),
        ({"units": "us"}, ("shown in", "metric", "us")),
        ({"trace_stocks": False}, ("stocks for traces", "yes", "no")),
        ({"whole_steps": True}, ("best whole steps", "no", "yes")),
        ({"volume": "0.2 m3"}, None),
        ({"strength_percent": 100.0}, None),
        ({"mixing": (("tanks", 3),)}, ("mixing: tanks", "not asked", "3")),
    ],
)
def test_each_choice_has_a_row(demo, changes, row):
    other = Outcome(replace(demo.job, **changes))
    rows = two_jobs_part("asked", demo, other).table
    assert row in rows.rows if row else rows is None


def test_target_water_and_shelf_are_told_value_by_value():
    wanted = (("K", 100), ("Ca", "60-80"))
    limits = (("Na", "at most 50 mg/L"),)
    shelf = replace(potash().shelf[0], on_hand="2 kg", use="at most 3 g", step="1 mg")
    other = potash(
        target=(("wanted", wanted), ("limits", limits)),
        water=(("Ca", "40 mg/L"), ("name", "well")),
        shelf=(shelf,),
    )
    rows = rows_of("asked", *of_jobs(potash(), other))
    assert rows == {
        "Ca wanted, mg/L": ("not asked", "60 to 80"),
        "limit of Na": ("none", "Na at most 50 mg/L"),
        "water": ("pure", "well"),
        "water: Ca": ("0 mg/L", "40 mg/L"),
        "KNO3: step": ("0.0001 g", "0.001 g"),
        "KNO3: on hand": ("no end", "2000 g"),
        "KNO3: use": ("as needed", "at most 3 g"),
    }


def test_what_prints_alike_is_told_with_more_digits():
    asked = (("wanted", (("K", 100.001),)),)
    rows = rows_of("asked", *of_jobs(potash(), potash(target=asked)))
    assert rows == {"K wanted, mg/L": ("100", "100.001")}


def test_a_label_of_other_contents_is_told_by_nutrient():
    text = "Potash feed\nSoluble potash (K2O) {} %\n"
    bags = [ShelfLine(label=text.format(n), name="bag", step=FINE) for n in (40, 50)]
    pair = of_jobs(*(potash(shelf=(bag,)) for bag in bags))
    # 40 % K2O × 2 × 39.0983 / 94.1956 = 33.21 % K; 50 % are 41.51 %
    assert rows_of("asked", *pair)["bag: K"] == ("33.21 % w/w", "41.51 % w/w")


# --- the digits of the sheets -----------------------------------------------------------


def test_weights_stand_as_on_their_sheets(demo, half):
    cells = rows_of("weighed", demo, half)
    for place, outcome in enumerate((demo, half)):
        checked = 0
        for _, name, number, unit, *_ in weights(outcome.weighing).rows:
            if name in cells and unit == "g":
                assert cells[name][place] == number
                checked += 1
        assert checked >= 8


def test_contents_stand_as_on_their_sheets(demo, half):
    cells = rows_of("contents", demo, half)
    for place, outcome in enumerate((demo, half)):
        for key, wanted, reached, *_ in contents(outcome.weighing).rows[:-1]:
            assert cells[key][place] == wanted
            assert cells[key][2 + place] == reached
        for key, reached, *_ in along(outcome.weighing).rows:
            assert cells[key][place] == ""
            assert cells[key][2 + place] == reached


def test_meters_stand_as_expected(demo, half):
    cells = rows_of("meters", demo, half)
    for place, outcome in enumerate((demo, half)):
        for name, value in outcome.expected.rows():
            assert cells[name][place] == value
    assert cells["brushite, when mixed"][:2] == ("likely", "watch")


def test_what_goes_through_a_stock_is_told_as_what_reaches_the_batch(demo, half):
    table = two_jobs_part("weighed", demo, half).table
    rows = {row[0]: row for row in table.rows}
    grams = {row[0]: row[2] for row in half.weighing.stocks[0].rows()}
    zinc = rows["zinc sulfate heptahydrate"]
    assert zinc[1:3] == ("0.26", f"{grams['zinc sulfate heptahydrate']:.3f}")
    assert zinc[-1] == "second: trace stock 1"
    assert rows["copper sulfate pentahydrate"][-1] == "trace stock 1"
    assert "trace stock 1" not in rows


def test_costs_add_up_to_the_batch(demo, half):
    cells = rows_of("cost", demo, half)
    for place in (0, 1):
        parts = [float(c[place]) for name, c in cells.items() if name[0].isalpha()]
        whole = float(cells["the batch"][place])
        assert sum(parts) - whole == pytest.approx(whole, abs=0.02)  # two decimals each


# --- one without a recipe ---------------------------------------------------------------


@pytest.mark.parametrize("turned", [False, True])
def test_a_job_without_a_recipe_says_why_and_the_rest_is_told(turned):
    pair = [run_job(potash()), run_job(conflicting())]
    which, has, lacks = "second", "first", "second"
    if turned:
        pair, which, has, lacks = pair[::-1], "first", "second", "first"
    parts = {part.title: part for part in two_jobs_parts(*pair)}
    assert len(parts["what was asked"].table.rows) >= 4
    for title in list(parts)[1:]:
        assert parts[title].words[0].startswith(f"the {which} has no recipe: ")
        assert "NO3-N at most 20 mg/L" in parts[title].words[0]
    for title in ("what is weighed", "what it costs", "what a litre holds"):
        columns = parts[title].table.columns
        assert has in columns
        assert lacks not in columns
        assert "difference" not in columns
    assert parts["what is weighed"].table.rows == (("KNO3", "2.5858"),)
    assert parts["what a litre holds"].picture is None
    assert parts["what a litre holds"].table.rows[0][:3] == ("K", "100.0", "100.0")


def test_a_job_with_faults_is_told_as_far_as_it_can_be_read():
    faulty = check_job(potash("faulty", shelf=(ShelfLine("kno3"),))).outcome
    parts = two_jobs_parts(run_job(potash()), faulty)
    (row,) = parts[0].table.rows
    assert row[:2] == ("shelf", "can be read")
    assert "did you mean KNO3" in row[2]
    assert "did you mean KNO3" in parts[1].words[0]
    nothing = Outcome(Job())
    assert all(part.words for part in two_jobs_parts(nothing, nothing))


# --- names and notices ------------------------------------------------------------------


def test_jobs_are_told_apart_by_their_titles():
    one, other, none = (Outcome(Job(title)) for title in ("spring", "autumn", ""))
    assert two_jobs_names(one, other) == ("spring", "autumn")
    assert two_jobs_names(one, one) == ("spring, first", "spring, second")
    assert two_jobs_names(one, none) == ("spring", "the second job")
    assert two_jobs_names(none, none) == ("the first job", "the second job")


def test_only_notices_of_one_are_told_whatever_their_numbers(demo, half):
    table = two_jobs_part("notices", demo, half).table
    told = [row[2] for row in table.rows]
    assert any(text.startswith("N: 35.00 mg/L wanted") for text in told)
    assert not any(text.startswith("the recipe leaves") for text in told)
    assert not any("too few anions" in text for text in told)  # of both targets
    own = [{n.what for n in side.notices} for side in (demo, half)]
    for which, _, what in table.rows:
        assert what in own[which == "second"]


# --- the figure -------------------------------------------------------------------------


@pytest.fixture(scope="module")
def pictures(demo, half):
    """Return a picture of the demo against others, one without some nutrients."""
    other = replace(read_job(DEMO), water=(("preset", "rain"),))
    wanted = (("N", 200), ("K", 400), ("Si", 20), ("Fe", 7))
    silicate = ShelfLine("K2SiO3", step=FINE)
    other = replace(other, target=(("wanted", wanted),), shelf=(*other.shelf, silicate))
    made = [as_weighed(o.weighing) for o in (demo, half, run_job(other))]
    pairs = {"half": made[:2], "same": made[:1] * 2, "far": made[::2]}
    return {name: (pair, two_jobs_bars(*pair)) for name, pair in pairs.items()}


def test_each_nutrient_has_a_ring_and_a_diamond_at_its_percent(pictures):
    (one, other), picture = pictures["half"]
    axes = picture.figure.axes[1]
    marks = {sign: [] for sign in "oD"}
    for line in axes.lines:
        if line.get_marker() in marks:
            marks[line.get_marker()].append((line.get_xdata()[0], line.get_ydata()[0]))
    keys = [row[0] for row in picture.table.rows]
    assert [x for x, _ in marks["o"]] == [100.0] * len(keys)
    for key, (x, _) in zip(keys, marks["D"], strict=True):
        percent = 100 * other.solution.mg_l(key) / one.solution.mg_l(key)
        assert x == pytest.approx(percent)
    assert [y for _, y in marks["D"]] == list(range(len(keys)))


def test_far_and_missing_values_are_told_in_words(pictures):
    _, picture = pictures["far"]
    rows = {row[0]: row for row in picture.table.rows}
    assert rows["Si"][-2:] == ("", "not in the first")
    assert rows["P"][-2:] == ("0.0", "not in the second")
    assert any(line.get_marker() == ">" for line in picture.figure.axes[1].lines)
    assert "Si only in the second" in picture.alt


def test_the_same_is_called_the_same(pictures):
    _, picture = pictures["same"]
    assert {row[-1] for row in picture.table.rows} == {"the same"}
    assert picture.alt.endswith("all the same.")


@pytest.mark.parametrize("name", ["half", "same", "far"])
def test_no_text_is_cut_or_lies_on_another(pictures, name):
    figure = pictures[name][1].figure
    canvas = FigureCanvasAgg(figure)
    with drawing():
        canvas.draw()
        renderer = canvas.get_renderer()
        boxes = [t.get_window_extent(renderer) for t in figure.texts if t.get_text()]
    wide, high = canvas.get_width_height()
    assert len(boxes) > 20
    for place, box in enumerate(boxes):
        assert box.x0 >= 0
        assert box.x1 <= wide
        assert box.y0 >= 0
        assert box.y1 <= high
        assert not any(box.overlaps(other) for other in boxes[place + 1 :])


# --- page and command -------------------------------------------------------------------


def test_what_people_typed_is_escaped():
    text = f"""
formulate = 1
title = '{HOSTILE}'
volume = "10 L"
[target]
name = '{HOSTILE}'
wanted = {{ K = 100 }}
[[shelf]]
ingredient = "KNO3"
name = '=1 {HOSTILE}'
"""
    hostile = run_job(job_from_text(text))
    page = two_jobs_markup(hostile, run_job(potash()), whole=True)
    assert "<script>" not in page
    assert "&lt;script&gt;" in page


def test_the_text_names_both_and_every_part(demo, half):
    lines = two_jobs_text(demo, half).splitlines()
    assert lines[0] == f"first: {demo.job.title}"
    assert lines[1] == "second: half"
    for part in two_jobs_parts(demo, half):
        assert part.title in lines


@pytest.fixture
def files(tmp_path):
    for name, job in (("one", potash()), ("other", conflicting())):
        save_job(job, tmp_path / f"{name}.toml")
    return tmp_path


def test_the_command_prints_and_writes(files, capsys):
    one, out = str(files / "one.toml"), files / "out"
    assert main(["side-by-side", one, one, "--out", str(out)]) == 0
    shown = capsys.readouterr()
    assert "nothing differs" in shown.out
    assert shown.err == ""
    names = sorted(path.name for path in out.iterdir())
    assert names == ["lindenhof-side-by-side.csv", "lindenhof-side-by-side.html"]
    page = (out / names[1]).read_text(encoding="utf-8")
    assert page.count("<svg") == 1
    assert "KNO3,2.5858,2.5858,0,0.0 %" in (out / names[0]).read_text(encoding="utf-8")


def test_the_command_tells_of_a_job_without_a_recipe(files, capsys):
    pair = [str(files / name) for name in ("one.toml", "other.toml")]
    assert main(["side-by-side", *pair, "--json"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert data["what is weighed"]["rows"] == [["KNO3", "2.5858"]]
    assert data["files"] == []


def test_faults_of_both_files_are_told_at_once_and_nothing_is_written(files, capsys):
    bad = files / "bad.toml"
    bad.write_text('formulate = 1\nvolume = "-5 L"\n', encoding="utf-8")
    out = files / "out"
    pair = [str(bad), str(files / "gone.toml")]
    assert main(["side-by-side", *pair, "--out", str(out)]) == 2
    told = capsys.readouterr()
    for piece in ("bad.toml: volume", "nothing wanted", "gone.toml", "cannot be read"):
        assert piece in told.err
    assert told.out == ""
    assert not out.exists()
