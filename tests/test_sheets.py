"""Sheets show what the outcome holds, escape what people typed, and carry their stamp."""

import csv
import html
import io
import itertools
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from formulate.cli import main
from formulate.errors import InputError
from formulate.ingredients.dissolve import dissolve
from formulate.jobs import DEMO, Job, ShelfLine, job_from_text, read_job
from formulate.outcome import run_job
from formulate.sheets.bench_sheet import bench_sheet, file_stem, write_sheets
from formulate.sheets.measures import batch_text, per_volume, printed_steps, shown
from formulate.sheets.tables import (
    Table,
    as_data,
    csv_text,
    sheet_tables,
    stamp,
    table_text,
)
from formulate.tables import checksum

HOSTILE = "<script>alert(1)</script> $\\\\frac{x}$"
# grams in an ounce and a pound, millilitres in a US fluid ounce and gallon: exact by
# definition (NIST Handbook 44, from memory; pint 0.24 has the same)
OUNCE, POUND, FL_OZ, GALLON = 28.349523125, 453.59237, 29.5735295625, 3785.411784
SIZES = {"g": 1, "kg": 1000, "oz": OUNCE, "lb": POUND}
SIZES |= {"mL": 1, "L": 1000, "US fl oz": FL_OZ, "US gal": GALLON}
SALTS = """
Ca(NO3)2·4H2O|KNO3|KH2PO4|MgSO4·7H2O|K2SO4|MnSO4·H2O|ZnSO4·7H2O|H3BO3|CuSO4·5H2O
|Na2MoO4·2H2O
""".replace("\n", "").split("|")
WANTED = "{ N = 150, P = 40, K = 210, Ca = '140-170', Mg = 45, S = 60, Mn = 0.5, "
WANTED += "Zn = 0.3, B = 0.3, Cu = 0.05, Mo = 0.05 }"


@pytest.fixture(scope="module")
def outcome():
    return run_job(read_job(DEMO))


def table(outcome, key):
    return next(table for table in sheet_tables(outcome) if table.key == key)


def hostile_outcome():
    text = f"""
formulate = 1
title = "{HOSTILE}"
volume = "10 L"
[target]
name = "{HOSTILE}"
wanted = {{ K = 200, N = 70 }}
[water]
name = "{HOSTILE}"
Ca = "40 mg/L"
[[shelf]]
ingredient = "KNO3"
name = "=HYPERLINK(1) {HOSTILE}"
"""
    return run_job(job_from_text(text))


def made(volume, top="", wanted=WANTED, salts=SALTS, more=""):
    """Return the outcome of a job for so much of a hard water."""
    shelf = "".join(f'[[shelf]]\ningredient = "{name}"\n' for name in salts)
    return run_job(
        job_from_text(
            f'formulate = 1\nvolume = "{volume}"\n{top}\n[target]\nwanted = {wanted}\n'
            f'[water]\npreset = "hard"\n{shelf}{more}'
        )
    )


ACID = '[[shelf]]\ningredient = "HNO3"\nacid_percent = 38\ndensity = 1.234\n'
BATCHES = {
    "demo": lambda units: run_job(replace(read_job(DEMO), units=units)),
    "jug": lambda units: made("4 L", f'units = "{units}"'),
    "tank": lambda units: made("20 m3", f'units = "{units}"', more=ACID),
    "misses": lambda units: made(
        "10 US gal", f'units = "{units}"', salts=["KNO3", "H3BO3", "MgSO4·7H2O"]
    ),
}


@pytest.fixture(scope="module", params=[*itertools.product(BATCHES, ("metric", "us"))])
def batch(request):
    name, units = request.param
    return BATCHES[name](units)


class Scripts(HTMLParser):
    """Count the tags of a page."""

    def __init__(self, page):
        super().__init__()
        self.tags, self.fetched, self.cells = [], [], []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        places = ("src", "href", "xlink:href", "data", "action", "poster", "srcset")
        self.fetched += [value for name, value in attrs if name in places]
        if tag == "td":
            self.cells.append("")

    def handle_data(self, data):
        if self.cells:
            self.cells[-1] += data


def test_weights_on_the_sheet_are_whole_steps_near_the_recipe(outcome):
    steps = dict.fromkeys(outcome.recipe.masses, 0.1)  # of the demo's balances
    steps |= {"iron DTPA chelate (11 % Fe)": 0.01, "boric acid": 0.01}
    steps |= dict.fromkeys(
        ("manganese sulfate monohydrate", "zinc sulfate heptahydrate"), 0.01
    )
    shown_rows = [row for row in table(outcome, "weights").rows if row[3] == "g"]
    assert len(shown_rows) == 9
    for _, name, amount, *_ in shown_rows:
        count = float(amount) / steps[name]
        assert count == pytest.approx(round(count), abs=1e-9)
        assert float(amount) == pytest.approx(
            outcome.recipe.masses[name], abs=2 * steps[name]
        )


def test_what_is_printed_rounds_back_to_what_is_weighed(batch):
    amounts = {i.name: (i, amount) for i, amount in batch.weighing.amounts}
    rows = table(batch, "weights").rows
    assert len(rows) == len(amounts)
    for _, name, number, unit, *_ in rows:
        ingredient, amount = amounts[name]
        poured = unit in ("mL", "L", "US fl oz", "US gal")
        if poured and ingredient.measured_in == "g":
            amount = ingredient.millilitres(amount)
        step = batch.weighing.steps[name]
        value = float(number) * SIZES[unit]
        assert round(value / step) * step == pytest.approx(amount, rel=1e-9)


def test_every_weight_stands_on_the_page_before_the_working(batch):
    page = bench_sheet(batch)
    weighing = page.index("Weigh for")
    end = page.index("A litre then holds")
    cells = [cell.strip() for cell in Scripts(page[weighing:end]).cells]
    for row in table(batch, "weights").rows:
        start = cells.index(row[1])
        assert cells[start : start + 3] == list(row[1:4])
    assert end < page.index("<h2>Working</h2>")


def test_calcium_is_dissolved_last(outcome):
    """Common practice, no source: calcium salts come last."""
    last = table(outcome, "weights").rows[-1][1]
    assert last.startswith("calcium nitrate")


def test_contents_on_the_sheet_are_those_of_the_solution(outcome):
    rows = table(outcome, "contents").rows
    assert {row[0] for row in rows} >= set(outcome.target.wanted)
    *nutrients, alkalinity = rows
    assert float(alkalinity[2].split()[0]) == pytest.approx(5.72, abs=0.005)  # water's
    weighed = dict(outcome.weighing.amounts)
    has = dissolve(weighed, volume=200, water=outcome.water)
    for key, _, reached, *_ in nutrients:
        assert float(reached) == pytest.approx(has.mg_l(key), rel=5e-3)
    for key, reached, *_ in table(outcome, "along").rows:
        assert float(reached) == pytest.approx(has.mg_l(key), rel=5e-3)


def test_cautions_stand_above_the_weights(outcome):
    page = bench_sheet(outcome)
    assert 0 < page.index("eye protection") < page.index("Weigh for")
    assert "never mix concentrates" in page.casefold()
    assert "Nitrates feed fire" in page  # potassium nitrate is weighed
    assert "fertility" in page  # boric acid is weighed


def test_sheet_carries_version_checksum_sources_and_working(outcome):
    page = bench_sheet(outcome)
    assert checksum() in page
    assert stamp(outcome) in page
    assert "voehringen-2025" in page
    assert "mg/mmol" in page  # the working
    # a working for each nutrient, for the pH, the EC and each solid that may form
    told = len(outcome.target.wanted) + 2 + len(outcome.solids.telling)
    assert len(re.findall(r"<h3>", page)) == told


def test_sheet_is_one_page_that_asks_for_nothing_from_outside(outcome):
    page = bench_sheet(outcome)
    read = Scripts(page)
    assert not {"script", "link", "img", "iframe", "object", "embed"} & set(read.tags)
    assert [place for place in read.fetched if not place.startswith("#")] == []
    assert set(re.findall(r"url\((.)", page)) <= {"#"}
    assert "@import" not in page


def test_what_people_typed_is_escaped():
    page = bench_sheet(hostile_outcome())
    assert "script" not in Scripts(page).tags
    assert "&lt;script&gt;" in page


def test_csv_cells_are_no_formulas():
    text = csv_text(sheet_tables(hostile_outcome()))
    rows = list(csv.reader(io.StringIO(text)))
    cells = [cell for row in rows for cell in row]
    assert any("HYPERLINK" in cell for cell in cells)
    for cell in cells:
        assert not cell.startswith(("=", "@", "\t"))
        if cell.startswith(("+", "-")):
            assert float(cell.removesuffix(" %")) is not None


def test_csv_gives_back_the_cells():
    made = Table("t", "Title", ("a", "b"), (("1", "two, three"), ('"x"', "-1.5 %")))
    rows = list(csv.reader(io.StringIO(csv_text([made]))))
    assert rows == [["Title"], ["a", "b"], ["1", "two, three"], ['"x"', "-1.5 %"]]


def test_data_is_json_with_unrounded_numbers(outcome):
    data = json.loads(json.dumps(as_data(outcome)))
    assert data["grams"] == dict(outcome.recipe.masses)
    reached = data["contents_mg_l"]["Ca"]["reached"]
    assert reached == outcome.solution.mg_l("Ca")
    assert data["made_by"] == stamp(outcome)


def test_files_are_written_and_overwritten(outcome, tmp_path):
    first = write_sheets(outcome, tmp_path / "new folder")
    again = write_sheets(outcome, tmp_path / "new folder")
    assert first == again
    assert [path.suffix for path in first] == [".html", ".csv"]
    assert sorted(p.name for p in (tmp_path / "new folder").iterdir()) == sorted(
        p.name for p in first
    )
    assert first[0].read_text(encoding="utf-8") == bench_sheet(outcome)


def test_a_folder_that_cannot_be_made_is_told(outcome, tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(InputError, match="cannot be made"):
        write_sheets(outcome, tmp_path / "file" / "sheets")


@pytest.mark.parametrize(
    ("title", "stem"),
    [
        ("Lindenhof: Tomatoes / week 3", "lindenhof-tomatoes-week-3"),
        ("../../etc/passwd", "etc-passwd"),
        ("", "bench-sheet"),
        ("水", "bench-sheet"),
        ("x" * 300, "x" * 60),
    ],
)
def test_file_names_are_tame(title, stem):
    assert file_stem(title) == stem


def test_a_recipe_of_one_stock_shows_millilitres():
    line = ShelfLine(stock=(("KNO3", "101.1 g"),), name="stock", stock_volume="1 L")
    job = Job("", "10 L", (("wanted", (("K", 39.0),)),), (), (line,))
    (row,) = table(run_job(job), "weights").rows
    # 39/39.0983*10 = 9.975 mL; below 20 mL a syringe in steps of 0.1 (common practice)
    assert row[1:4] == ("stock", "10.0", "mL")


# --- units -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "step", "in_unit", "units", "text"),
    [
        (14.8, 0.1, "g", "metric", "14.8 g"),
        (0.5, 0.25, "g", "metric", "0.50 g"),
        (999.9, 0.1, "g", "metric", "999.9 g"),
        (1000.0, 0.1, "g", "metric", "1.0000 kg"),
        (6894, 2, "g", "metric", "6.894 kg"),
        (14.8, 0.1, "g", "us", "0.522 oz"),  # 14.8 / 28.349523
        (453.6, 0.1, "g", "us", "1.0000 lb"),  # 453.6 / 453.59237 = 1.0000168
        (16 * OUNCE, OUNCE / 2, "g", "us", "1.00 lb"),  # half an ounce: 0.03125 lb
        (1.5 * OUNCE, OUNCE / 2, "g", "us", "1.5 oz"),
        (10, 0.1, "mL", "us", "0.338 US fl oz"),  # 10 / 29.573530
        (5, None, "mL", "metric", "5.000 mL"),
        (1000, 10, "mL", "metric", "1.00 L"),
        (7570.823568, 100, "mL", "us", "2.00 US gal"),
    ],
)
def test_weights_and_volumes_are_shown_with_the_digits_of_the_step(
    value, step, in_unit, units, text
):
    assert " ".join(shown(value, step, in_unit, units)) == text


def test_no_step_is_lost_in_printing():
    steps = [10.0**n * f for n in range(-4, 3) for f in (1, 2, 2.5, 5, OUNCE, POUND)]
    for step, count in itertools.product(steps, (1, 7, 19, 333, 1999, 44449)):
        for in_unit, units in itertools.product(("g", "mL"), ("metric", "us")):
            number, name = shown(step * count, step, in_unit, units)
            assert round(float(number) * SIZES[name] / step) == count


def test_four_digits_are_shown_where_no_step_is_known():
    assert printed_steps(1.23456, None) == "1.235"


def test_the_batch_and_what_goes_into_a_round_volume():
    assert batch_text(20000) == "20 000 L"
    assert batch_text(0.25) == "0.25 L"
    assert batch_text(10 * GALLON / 1000, "us") == "10 US gal (37.8541 L)"
    # worked by hand: 1 oz in 100 US gal is 28.349523125 g in 378.5411784 L
    assert per_volume(OUNCE, "g", 378.5411784, "us") == ("1.000", "oz/100 US gal")
    assert per_volume(74.89151, "g", 1000, "us") == ("1.000", "oz/100 US gal")
    assert per_volume(500, "mL", 100) == ("5.000", "mL/L")


def test_us_units_show_grams_beside_and_the_same_concentrations():
    metric, us = (BATCHES["demo"](units) for units in ("metric", "us"))
    grams = {row[1]: " ".join(row[2:4]) for row in table(metric, "weights").rows}
    beside = {row[1]: row[4] for row in table(us, "weights").rows}
    assert beside == grams
    assert table(us, "contents") == table(metric, "contents")
    assert "oz/100 US gal" in bench_sheet(us)
    assert "g/L" in bench_sheet(metric)


# --- stocks for traces -----------------------------------------------------------------


def test_each_stock_has_its_weights_its_dose_and_a_label(batch):
    page = bench_sheet(batch)
    tables = {table.key: table for table in sheet_tables(batch)}
    for place, stock in enumerate(batch.weighing.stocks, 1):
        weights, label = tables[f"stock {place}"], tables[f"label {place}"]
        assert f"{stock.dose:g} mL" in weights.title
        assert f"{stock.batches:g} batches" in weights.title
        assert [row[1] for row in weights.rows] == [
            part.name for part, _ in stock.parts
        ]
        for row, (part, grams) in zip(weights.rows, stock.parts, strict=True):
            value = float(row[2]) * SIZES[row[3]]
            step = stock.steps[part.name]
            assert round(value / step) * step == pytest.approx(grams, rel=1e-9)
        words = "\n".join(row[0] for row in label.rows)
        assert stock.ingredient.name in words
        assert "made on" in words
        for part, _ in stock.parts:
            assert f"{part.name}: " in words  # with its hazard statements
        assert weights.title in html.unescape(page)


def test_there_are_stocks_for_a_jug_and_none_for_a_tank():
    assert BATCHES["jug"]("metric").weighing.stocks
    assert not BATCHES["tank"]("metric").weighing.stocks
    jug = made("4 L", "trace_stocks = false")
    assert jug.weighing.stocks == ()
    assert "Write on the bottle" not in bench_sheet(jug)


# --- what is missing, what must hold ---------------------------------------------------


def test_what_is_over_and_what_is_missing_is_marked(outcome):
    off = {row[0]: row[3] for row in table(outcome, "contents").rows}
    # 150 wanted; (94.4 of the water + 0.19 * 69.0 g / 200 L * 1000) / 150 - 1, by hand
    assert off["Ca"] == "▲ +6.6 %"
    few = BATCHES["misses"]("metric")
    rows = {row[0]: row for row in table(few, "contents").rows}
    assert rows["Zn"][2:4] == ("0", "▼ -100.0 %")
    assert "missed" in bench_sheet(few)


def test_something_serious_stands_above_the_weights():
    page = bench_sheet(BATCHES["misses"]("metric"))
    assert page.index("nothing on the shelf carries it") < page.index("Weigh for")


def test_a_range_is_shown_as_a_range():
    rows = {row[0]: row for row in table(BATCHES["tank"]("metric"), "contents").rows}
    assert rows["Ca"][1] == "140 to 170"
    assert rows["Ca"][3] == "in range"


def test_an_acid_is_shown_in_grams_and_millilitres():
    rows = {row[1]: row for row in table(BATCHES["tank"]("metric"), "weights").rows}
    name = next(name for name in rows if "HNO3" in name or "nitric" in name)
    _, _, number, unit, also, *_ = rows[name]
    litres, litre = also.split()
    assert (unit, litre) == ("kg", "L")
    assert float(number) / float(litres) == pytest.approx(1.234, rel=5e-4)


def test_limits_are_shown_with_what_the_weights_make():
    wanted = "{ K = 200 }\nlimits = { NO3-N = 'at most 60 mg/L' }"
    held = made("10 L", wanted=wanted, salts=["KNO3"], top="trace_stocks = false")
    (row,) = table(held, "limits").rows
    grams = held.weighing.amounts[0][1]
    # by hand: 14.007 of 101.102 is N
    has = grams / 10 * 1000 * 14.007 / 101.102
    assert row[0] == "NO3-N at most 60 mg/L"
    tap = held.water.solution.mg_l("NO3-N")
    assert float(row[1].split()[0]) == pytest.approx(has + tap, rel=1e-3)
    assert row[2] == "holds the recipe back"


# --- views -----------------------------------------------------------------------------


def test_the_figure_shows_the_digits_of_the_table(outcome):
    page = bench_sheet(outcome)
    picture = page[page.index("<svg") : page.index("</svg>")]
    assert 'role="img"' in picture
    assert "Achieved against wanted" in picture
    along = {row[0]: row[1] for row in table(outcome, "along").rows}
    assert (
        f"NO3-N {along['NO3-N']} mg/L" in picture
    )  # its words for who does not see it


def test_the_terminal_shows_the_cells_of_the_table(outcome):
    for one in sheet_tables(outcome):
        if one.rows:
            text = table_text(one)
            assert all(cell in text for row in one.rows for cell in row)
            assert len(text.splitlines()) == 1 + len(one.rows) + any(one.columns)


def test_the_command_shows_the_tables_in_the_units_asked_for(tmp_path, capsys):
    path = tmp_path / "job.toml"
    path.write_text(DEMO.read_text(encoding="utf-8"), encoding="utf-8")
    assert main(["solve", str(path), "--units", "us", "--out", str(tmp_path)]) == 0
    told = capsys.readouterr().out
    us = BATCHES["demo"]("us")
    for key in ("weights", "stock 1", "contents", "water"):
        assert table_text(table(us, key)) in told
    (page,) = tmp_path.glob("*.html")
    assert page.read_text(encoding="utf-8") == bench_sheet(us)


def test_a_batch_of_pure_water_says_so():
    line = ShelfLine("KNO3")
    job = Job("", "10 L", (("wanted", (("K", 39.0),)),), (), (line,))
    assert table(run_job(job), "water").title == "Water: pure"


def test_there_is_room_for_date_readings_and_notes(outcome):
    page = bench_sheet(outcome)
    for words in ("Date", "Weighed by", "Readings and remarks", "Notes by hand"):
        assert words in page


def test_the_page_has_no_paper_size_of_its_own(outcome):
    rule = re.search(r"@page \{(.*?)\}", bench_sheet(outcome)).group(1)
    assert "margin" in rule
    assert "size" not in rule


def test_data_tells_the_weights_the_stocks_and_the_rounding(batch):
    data = json.loads(json.dumps(as_data(batch), allow_nan=False))["weighed"]
    amounts = {i.name: a for i, a in batch.weighing.amounts if i.measured_in == "g"}
    assert data["grams"] == amounts
    assert [made["dose_ml"] for made in data["stocks"]] == [
        data["millilitres"][made["name"]] for made in data["stocks"]
    ]
    assert set(data["rounding"]) >= set(batch.target.wanted)
    for key, row in data["rounding"].items():
        reached = batch.weighing.solution.mg_l(key)
        assert row["weighed_mg_l"] == pytest.approx(reached, rel=1e-12)


def test_the_keys_of_the_data_that_were_there_stay(outcome):
    assert set(as_data(outcome)) >= {
        *("title", "volume_l", "status", "grams", "millilitres", "contents_mg_l"),
        *("forms_mmol_l", "unassigned_charge_meq_l", "binding", "equivalents"),
        *("cost", "notices", "made_by", "weighed"),
    }
