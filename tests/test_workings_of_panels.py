"""Every number of water, wishes, shelf, recipe and chemistry opens its working.

The numbers are counted in the HTML that is shown; those without a working stand in
REASONS, each with why it needs none. Each working is worked out again from what it prints.
"""

import html
import math
import re
from dataclasses import replace
from fractions import Fraction
from html.parser import HTMLParser

import pytest
from test_workbench_panels import send
from test_working import again

from formulate.jobs import ShelfLine
from formulate.tables import source
from formulate.workbench.bench import Bench
from formulate.workbench.shelf_edits import with_line
from formulate.workbench.state import State
from formulate.working import LogStep

PARTS = ("water", "shelf", "wishes", "recipe", "chemistry")
NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?")
REASONS = (  # caption or row, column counted from 0, text: why it needs none
    (r"^Weigh for ", 0, r"^\d+$", "the number of a row"),
    (r"makes? up to|weigh once", 0, r"^\d+$", "the number of a row"),
    (r"^What was read", 0, r"^\d+$", "the line of a report"),
    (r"^What was read", 1, r"", "as the report prints it"),
    (r"^What was read", 2, r"", "as it was read; the table above works it out"),
    (r"^Ions and pairs", 1, r"^each under 0\.01$", "from where a row is shown"),
    (
        r"^What would end it",
        2,
        r"",
        "another recipe: once it is taken, its numbers open",
    ),
)


class Cells(HTMLParser):
    """Cells of tables with a number in them: caption, column, text, key of the working."""

    def __init__(self, text):
        super().__init__()
        self.found, self.cell, self.caption, self.column = [], None, "", -1
        self.in_caption = self.in_summary = self.in_term = False
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        given = dict(attributes)
        if tag == "caption":
            self.in_caption, self.caption = True, ""
        if tag == "summary":
            self.in_summary, self.summary = True, ""
        if tag == "table":
            self.caption = getattr(self, "summary", "")
        if tag == "tr":
            self.column = -1
            self.is_working = given.get("class") == "fm-working"
        if tag in ("td", "th"):
            self.column += 1
        if tag == "td":
            self.cell = ["", None]
        name = given.get("name", "")
        if tag == "button" and given.get("class") == "fm-number" and self.cell:
            self.cell[1] = name.removeprefix("working ")
        if tag in ("input", "textarea") and self.cell:
            self.cell[1] = "typed"

    def handle_endtag(self, tag):
        if tag == "caption":
            self.in_caption = False
        if tag == "summary":
            self.in_summary = False
        if tag == "td" and self.cell:
            text, key = self.cell
            if re.search(r"\d", text) and not self.is_working:
                self.found.append(
                    (self.caption.strip(), self.column, text.strip(), key)
                )
            self.cell = None

    def handle_data(self, data):
        if self.in_caption:
            self.caption += data
        if self.in_summary:
            self.summary += data
        if self.cell is not None:
            self.cell[0] += data


def has_reason(caption, column, text):
    """Whether a number needs no working."""
    return any(
        re.search(where, caption) and column == place and re.search(words, text)
        for where, place, words, _ in REASONS
    )


def keys_of(panel):
    """Every key that the HTML of a panel offers, with what stands on its button."""
    found = re.findall(r'name="working ([^"]*)"[^>]*>([^<]*)</button>', panel.html)
    return {html.unescape(key): html.unescape(text) for key, text in found}


# --- jobs ------------------------------------------------------------------------------

OWN = {  # a well and wishes of the Lindenhof, invented
    "unit": "mg/L",
    "wanted": {"NO3-N": "9 mmol/L", "P": "30 to 40", "K": 180, "Ca": "150 mg/L"}
    | {"Mg": "1.5 mmol/L", "S": "60"},
}
WELL = {
    "name": "well of the Lindenhof",
    "Ca": "12 German degree",
    "Mg": "1 mmol/L",
    "NO3": "16.4 mg/L",
    "Na": "1.2 meq/L",
    "SO4": "40 mg/L",
    "Cl": "30 mg/L",
    "HCO3": "244 mg/L",
    "B": "0.05 mg/L",
    "pH": "7.4",
    "EC": "610 uS/cm",
}
REPORT = """Calcium 94.4 mg/L
Magnesium 18.3 mg/L
Sulfat 40 mg/L
Nitrat 16,4 mg/L
Säurekapazität bis pH 4,3 4.7 mmol/L
pH 7.4
Leitfähigkeit 651 µS/cm
"""


def demo():
    return State()


def with_acid():
    state = State()
    line = ShelfLine(ingredient="nitric acid (53 %)", price_per_kg=1.4)
    state.alter(with_line, line, said="acid")
    line = ShelfLine(ingredient="phosphoric acid (85 %)", price_per_kg=3.0, use="none")
    state.alter(with_line, line, said="acid")
    return state


def typed():
    state = State()
    limits = {"NO3-N": "at most 200 mg/L", "K:Ca": "0.5 to 3", "EC": "at most 4 mS/cm"}
    limits |= {"salts": "at most 5 g/L", "alkalinity": "at most 8 meq/L"}
    target = {"wanted": tuple(OWN["wanted"].items()), "limits": tuple(limits.items())}
    job = replace(state.job, water=tuple(WELL.items()), target=tuple(target.items()))
    state.change(replace(job, strength_percent=80.0))
    return state


def reported():
    state = State()
    state.change(replace(state.job, water=(("report", REPORT),)))
    return state


JOBS = {
    "demo": demo,
    "acid": with_acid,
    "us": with_acid,
    "typed": typed,
    "report": reported,
}


@pytest.fixture(scope="module")
def benches(tmp_path_factory):
    """Each job on a bench, made once."""
    patch = pytest.MonkeyPatch()
    patch.setenv("FORMULATE_WORK", str(tmp_path_factory.mktemp("work")))
    made = {}
    for name, make in JOBS.items():
        made[name] = Bench(make())
        if name == "us":
            send(made[name].panels["head"], "change", "units", "us")
        made[name].state.found.outcome.solids.rows()  # what falls out in the end
        made[name].panels["chemistry"].refresh()
    yield made
    patch.undo()


@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("part", PARTS)
def test_every_number_opens_its_working(benches, job, part):
    panel = benches[job].panels[part]
    cells = Cells(panel.html).found
    assert cells or part in ("shelf",)
    bare = [cell[:3] for cell in cells if cell[3] is None]
    assert [cell for cell in bare if not has_reason(*cell)] == []


def test_the_demo_has_few_numbers_without_a_working(benches):
    panels = benches["demo"].panels
    bare = {
        part: sum(c[3] is None for c in Cells(panels[part].html).found)
        for part in PARTS
    }
    assert bare["water"] == bare["shelf"] == bare["wishes"] == 0
    assert bare["chemistry"] == 1  # "each under 0.01"
    weights, stocks = 10, 2  # rows of the demo that are numbered
    assert bare["recipe"] == weights + stocks


def test_without_a_recipe_the_ways_out_are_what_has_no_working(tmp_path, monkeypatch):
    monkeypatch.setenv("FORMULATE_WORK", str(tmp_path))
    bench = Bench(State())
    send(bench.panels["wishes"], "change", "limit Na", "at most 1 mg/L")
    assert not bench.state.found.has_recipe
    for part in PARTS:
        cells = Cells(bench.panels[part].html).found
        bare = [cell[:3] for cell in cells if cell[3] is None]
        assert [cell for cell in bare if not has_reason(*cell)] == []
    ways = Cells(bench.panels["recipe"].html).found
    assert ways
    assert all(cell[0].startswith("What would end it") for cell in ways)
    bench.close()


# --- each line gives what it prints ----------------------------------------------------


def check_line(step, line):
    """A printed line gives its printed result within half its last digit."""
    text = line.removeprefix(f"{step.text}: ").split("  [")[0]
    left, _, right = text.rpartition(" = ")
    result = NUMBER.match(right).group()
    half = Fraction(1, 2) / 10 ** len(result.partition(".")[2])
    if isinstance(step, LogStep):
        shift, number = re.fullmatch(r"(-?[\d.]+) − lg (-?[\d.]+).*", left).groups()
        value = Fraction(float(shift) - math.log10(float(number)))
    else:
        value = again(left)
    allowed = half + abs(Fraction(result)) / 10**12
    assert abs(value - Fraction(result)) <= allowed, line


@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("part", PARTS)
def test_each_line_gives_what_it_prints(benches, job, part):
    panel = benches[job].panels[part]
    for key in keys_of(panel):
        working = panel._worked(key)
        assert working is not None, key
        assert working.steps, (key, working.title)
        for step, line in zip(working.steps, working.lines, strict=True):
            check_line(step, line)


def steps_tell(working, text):
    """Whether each number of a cell is the result of some line, to its last digit."""
    values = [abs(step.value) for step in working.steps]
    if text.startswith("under 0.01") or "under 1 %" in text:
        text = re.sub(r"under (?:0\.01|1) %[^,]*", "", text)
    for found in re.findall(r"(?<![\w.])\d+(?:\.\d+)?", text):
        half = 0.5 * 10 ** -len(found.partition(".")[2]) * (1 + 1e-9)
        if not any(abs(value - float(found)) <= half for value in values):
            return False
    return True


TOLD_OTHERWISE = (  # keys whose button holds more than the result of a line
    r"^weighed ",  # the weight itself; the working is what it brings
    r": air$",  # the temperatures of the oxygen
)


@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("part", PARTS)
def test_the_number_on_the_button_is_what_its_working_gives(benches, job, part):
    panel = benches[job].panels[part]
    off = [
        (key, text, panel._worked(key).lines)
        for key, text in keys_of(panel).items()
        if not any(re.search(words, key) for words in TOLD_OTHERWISE)
        and not steps_tell(panel._worked(key), text)
    ]
    assert off == []


@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("part", PARTS)
def test_every_source_that_a_working_names_is_in_the_table(benches, job, part):
    panel = benches[job].panels[part]
    for key in keys_of(panel):
        for step in panel._worked(key).steps:
            for name in filter(None, step.source_key.split(";")):
                assert source(name.strip()).title, (key, name)


def test_a_working_opens_beneath_its_row_and_closes(benches):
    panel = benches["demo"].panels["recipe"]
    send(panel, "press", "working contents K: off")
    assert "K: how far it is off" in panel.html
    assert panel.html.count('aria-expanded="true"') >= 1
    send(panel, "press", "working contents K: off")
    assert "K: how far it is off" not in panel.html


# --- by hand -----------------------------------------------------------------------------


def worked(benches, job, part, key):
    """The working of a key, which the panel offers."""
    panel = benches[job].panels[part]
    assert key in keys_of(panel), key
    return panel._worked(key)


BY_HAND = (  # job, part, key, value: arithmetic by hand, atomic masses IUPAC 2021
    ("demo", "water", "water Ca: mmol/L", 94.4 / 40.078),
    ("demo", "water", "water Ca: meq/L", 2 * 94.4 / 40.078),
    ("demo", "water", "water alkalinity: meq/L", 5.72),  # as the analysis prints it
    ("typed", "water", "Ca", 12 * 10 * 40.078 / 56.077),  # 1 °dH is 10 mg/L CaO
    ("typed", "water", "water NO3: mmol/L", 16.4 / 62.004),
    ("typed", "water", "water EC: reading", 0.61),
    ("typed", "wishes", "wanted NO3-N: counted", 0.8 * 9 * 14.007),
    ("typed", "wishes", "wanted K: counted", 0.8 * 180),
    ("typed", "wishes", "wanted Mg: counted", 0.8 * 1.5 * 24.305),
    ("report", "water", "water alkalinity: meq/L", 4.7),  # acid capacity in mmol/L
    ("demo", "wishes", "wanted P: counted", 50.0),  # as the target prints it
    ("demo", "recipe", "contents Ca: mmol", 159.95 / 40.078),
    ("demo", "recipe", "weight Epsom salt: ± step", 100 * 0.05 / 46.0),
    ("demo", "recipe", "contents Ca: tap", 94.4),
)


@pytest.mark.parametrize(("job", "part", "key", "value"), BY_HAND)
def test_a_working_gives_what_was_worked_out_by_hand(benches, job, part, key, value):
    assert worked(benches, job, part, key).value == pytest.approx(value, rel=2e-4)


def test_a_range_shows_both_ends_with_their_strength(benches):
    # 30 and 40 mg/L at 80 %, by hand
    steps = worked(benches, "typed", "wishes", "wanted P: counted").steps
    values = [step.value for step in steps]
    assert any(math.isclose(v, 24.0) for v in values)
    assert math.isclose(values[-1], 32.0)


def test_a_reading_tells_where_it_comes_from(benches):
    (step,) = worked(benches, "demo", "water", "water pH: reading").steps
    assert step.value == 7.41
    assert step.source_key == "voehringen-2025"
    assert "nothing is worked out" in step.text


def test_a_window_of_ph_names_the_sources_that_differ(benches):
    key = "iron iron DTPA chelate (11 % Fe): by source"
    told = [
        s for s in worked(benches, "demo", "chemistry", key).steps if "pH" in s.text
    ]
    assert [step.value for step in told] == [7.0, 7.5]  # table chelates
    assert all("chelate-trade-page" in step.source_key for step in told)


def test_the_first_portion_is_four_fifths_of_the_dose(benches):
    # 80 % first (table acid_rules); 53 % acid to 5 %: (53/5 − 1) × 1.328 kg/L is 12.7
    # times its volume of water, rounded up to 13 (umass-acids)
    panel = benches["acid"].panels["chemistry"]
    steps = worked(benches, "acid", "chemistry", "the first portion").steps
    whole = panel._worked("the dose").value
    assert steps[-2].value == pytest.approx(0.8 * whole, rel=1e-6)
    assert steps[-1].value == pytest.approx(12.75, abs=0.01)
    assert "at least 13 times as much cold water" in html.unescape(panel.html)


def test_what_the_search_finds_opens_its_working(benches):
    # KNO3: 39.0983/101.102 is 38.67 % K (IUPAC 2021)
    panel = benches["demo"].panels["shelf"]
    send(panel, "search", "search", "potassium nitrate")
    assert panel._worked("found potassium nitrate: K").value == pytest.approx(
        38.67, abs=5e-3
    )
    send(panel, "press", "working found potassium nitrate: K")
    assert "in percent" in panel.html
    send(panel, "press", "working found potassium nitrate: K")
    send(panel, "search", "search", "")


ODD = [
    "",
    "x",
    "contents",
    "contents : ",
    "contents X: off",
    "limit 99: here",
    "limit x: here",
]
ODD += [
    "stock 9 x: amount",
    "stock x: amount",
    "weight nobody: also",
    "dose nobody: brings",
]
ODD += [
    "iron nobody: amount",
    "species X: holds",
    "carried X: % of EC",
    "solid X: share",
]
ODD += ["wanted X: counted", "water X: mmol/L", "along X", "contents K: nothing"]


@pytest.mark.parametrize("part", ["water", "wishes", "recipe", "chemistry"])
def test_a_number_that_is_not_there_does_no_harm(benches, part):
    panel = benches["demo"].panels[part]
    before = panel.html
    for key in ODD:
        assert send(panel, "press", f"working {key}"), key
        assert send(panel, "press", f"working {key}"), key
    assert panel.html == before


# --- sources -----------------------------------------------------------------------------

RESTS_ON = {
    "water": {"voehringen-2025", "stoichiometry", "sm-1030e"},
    "shelf": {"stoichiometry", "egro-2018"},
    "wishes": {"ext-seedling", "stoichiometry"},
    "recipe": {"voehringen-2025", "stoichiometry"},
    "chemistry": {"pq386-wateq4f", "usgs-mcclesk", "chelate-trade-page", "umass-acids"},
}


@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("part", PARTS)
def test_every_source_of_a_part_is_in_the_table(benches, job, part):
    keys = benches[job].panels[part]._source_keys()
    each = {one.strip() for key in keys for one in key.split(";")} - {""}
    assert each
    assert all(source(key).title for key in each)


@pytest.mark.parametrize("part", PARTS)
def test_a_part_lists_what_it_rests_on(benches, part):
    panel = benches["demo"].panels[part]
    target = source(benches["demo"].state.found.target.source_key.split(";")[0])
    send(panel, "press", "explain")
    shown = panel.html
    send(panel, "press", "explain")
    wanted = RESTS_ON[part] | ({target.key} if part in ("wishes", "recipe") else set())
    listed = set(re.findall(r"<dt>([a-z0-9-]+)</dt>", shown))
    assert wanted <= listed
