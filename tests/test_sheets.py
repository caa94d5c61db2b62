"""Sheets show what the outcome holds, escape what people typed, and carry their stamp."""

import csv
import io
import json
import re
from html.parser import HTMLParser

import pytest

from formulate.errors import InputError
from formulate.jobs import DEMO, Job, ShelfLine, job_from_text, read_job
from formulate.outcome import run_job
from formulate.sheets.bench_sheet import bench_sheet, file_stem, write_sheets
from formulate.sheets.tables import Table, as_data, csv_text, sheet_tables, stamp
from formulate.tables import checksum

HOSTILE = "<script>alert(1)</script>"


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


class Scripts(HTMLParser):
    """Count the tags of a page."""

    def __init__(self, page):
        super().__init__()
        self.tags = []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)


def test_weights_on_the_sheet_are_those_of_the_recipe(outcome):
    shown = {row[1]: float(row[2]) for row in table(outcome, "weights").rows}
    assert shown.keys() == outcome.recipe.masses.keys()
    for name, grams in outcome.recipe.masses.items():
        assert shown[name] == pytest.approx(grams, rel=5e-4)  # four digits


def test_calcium_is_dissolved_last(outcome):
    """Common practice, no source: calcium salts come last."""
    last = table(outcome, "weights").rows[-1][1]
    assert last.startswith("calcium nitrate")


def test_contents_on_the_sheet_are_those_of_the_solution(outcome):
    rows = table(outcome, "contents").rows
    assert {row[0] for row in rows} >= set(outcome.target.wanted)
    *nutrients, alkalinity = rows
    assert float(alkalinity[2].split()[0]) == pytest.approx(5.72, abs=0.005)  # water's
    for key, _, reached, *_ in nutrients:
        assert float(reached) == pytest.approx(outcome.solution.mg_l(key), rel=5e-3)


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
    assert len(re.findall(r"<h3>", page)) == len(outcome.target.wanted)


def test_sheet_is_one_page_that_asks_for_nothing_from_outside(outcome):
    page = bench_sheet(outcome)
    assert "http://" not in re.sub(r"<td>.*?</td>", "", page)
    assert not {"script", "link", "img", "iframe"} & set(Scripts(page).tags)


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
    shown = table(run_job(job), "weights")
    assert shown.columns == ("", "ingredient", "g", "mL", "cost")
    assert float(shown.rows[0][3]) == pytest.approx(9.975, abs=0.005)  # 39/39.0983*10
