"""What of the bench is open: doors, folded parts, the tour; words, sources and paper of a part."""

import html
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from formulate.errors import InputError
from formulate.tables import read_table
from formulate.workbench import panel as panel_module
from formulate.workbench.bench import COLUMNS, PANELS, Bench
from formulate.workbench.edits import with_entry
from formulate.workbench.explained import sources_in, words_in
from formulate.workbench.findings import PARTS
from formulate.workbench.standing import part_label, standing
from formulate.workbench.state import State
from formulate.workbench.view import ALL, View, doors, tour

PARTS_OF = {name: panel for name, panel in PANELS.items() if name != "head"}
READ_ALOUD = 238  # words a minute, silent reading: Brysbaert 2019, J. Mem. Lang. 109 (from memory)
PRESS = 3.0  # s to find and press a button, a guess on the safe side


class Shown(HTMLParser):
    """Tags with their attributes, and the text between them."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.text = [], ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text += data

    def buttons(self, name):
        return [a for tag, a in self.tags if tag == "button" and a.get("name") == name]


@pytest.fixture
def bench():
    made = Bench(State())
    yield made
    made.close()


def send(panel, kind, name, value=""):
    """Send a message as a browser would; return whether it was taken."""
    panel.receive({"kind": kind, "name": name, "value": value})
    return not panel.fault


def messages(panel):
    """Return the list to which messages of a panel to the browser are added."""
    sent = []
    panel.send = lambda content, buffers=None: sent.append(content)
    return sent


# --- doors -------------------------------------------------------------------------------


def test_every_part_has_one_panel_one_place_and_one_number():
    assert set(PARTS_OF) == set(PARTS)
    assert sorted(part for column in COLUMNS for part in column) == sorted(PARTS)
    labels = [part_label(part) for part in PARTS]
    assert [int(label.split()[0]) for label in labels] == list(range(1, len(PARTS) + 1))


def test_each_door_opens_parts_that_are_there_and_begins_at_one_of_them():
    for door in doors().values():
        assert set(door.parts) <= set(PARTS)
        assert door.first in door.parts
    together = {part for door in doors().values() for part in door.parts}
    assert together == set(PARTS) - {"exchange"}  # for whoever wants all of it


def test_at_first_the_three_doors_are_offered_and_everything_is_open(bench):
    shown = Shown(bench.panels["head"].html)
    assert [b["value"] for b in shown.buttons("door")] == [*doors(), ALL]
    assert all(panel.is_open for panel in bench.panels.values())


@pytest.mark.parametrize("door", ["grower", "checker", "teacher"])
def test_a_door_opens_what_is_needed_and_folds_the_rest(bench, door):
    head, sent = bench.panels["head"], None
    sent = messages(head)
    assert send(head, "press", "door", door)
    opened = {name for name in PARTS_OF if bench.panels[name].is_open}
    assert opened == set(doors()[door].parts)
    for name in set(PARTS) - opened:
        folded = Shown(bench.panels[name].html)
        assert [tag for tag, _ in folded.tags].count("h2") == 1
        words, mark = standing(bench.state, name)
        assert mark + words in html.unescape(folded.text)
        assert not [t for t, _ in folded.tags if t in ("table", "input", "textarea")]
    assert {"kind": "remember", "name": "door", "value": door} in sent
    assert {"kind": "go", "part": doors()[door].first} in sent
    (chosen,) = re.findall(r'<option value="(\w+)" selected>', _doors_of(head.html))
    assert chosen == door


def _doors_of(markup):
    return markup.partition('name="door"')[2].partition("</select>")[0]


def test_a_door_nobody_built_is_refused_and_all_stays(bench):
    assert not send(bench.panels["head"], "press", "door", "cellar")
    assert "no such door; there are grower, checker, teacher, all" in (
        bench.panels["head"].html
    )
    assert all(panel.is_open for panel in bench.panels.values())
    with pytest.raises(InputError, match="no such part; there are water"):
        View().with_part("cellar")


def test_a_returning_browser_finds_the_door_it_took(bench):
    assert send(bench.panels["head"], "hello", "door", "checker")
    assert bench.state.view.opened == {"claims", "shelf"}


# --- folded ------------------------------------------------------------------------------


def test_what_is_folded_is_neither_worked_out_nor_drawn(bench, monkeypatch):
    for name in PARTS:
        send(bench.panels[name], "press", "fold")
    worked = []
    for name in PARTS:
        panel = type(bench.panels[name])
        monkeypatch.setattr(panel, "_facts", lambda self: worked.append(self) or {})
    bench.state.enter(("volume",), "90 L", with_entry, "volume")
    assert worked == []
    assert "90 L" in bench.panels["head"].html


def test_folding_drops_what_is_seen_and_opening_shows_what_holds_now(bench):
    recipe = bench.panels["recipe"]
    send(recipe, "seen", "figure", True)
    assert "<svg" in recipe.slots["figure"]
    send(recipe, "press", "fold")
    assert recipe.seen == set()
    drawn = recipe.drawn
    bench.state.enter(("strength_percent",), "50", with_entry, "strength_percent")
    assert recipe.drawn is drawn
    assert send(bench.panels["head"], "press", "unfold", "recipe")
    assert "Weigh for 200 L" in recipe.html


def test_looking_elsewhere_is_no_change_of_the_job(bench):
    first = bench.job
    send(bench.panels["head"], "press", "door", "teacher")
    send(bench.panels["water"], "press", "fold")
    send(bench.panels["head"], "press", "tour", "3")
    assert bench.job is first
    assert bench.state.past == ()


# --- the tour ----------------------------------------------------------------------------


def test_the_tour_takes_at_most_two_minutes():
    words = sum(len(text.split()) for _, text in tour())
    seconds = 60 * words / READ_ALOUD + PRESS * len(tour())
    assert seconds <= 120
    assert {part for part, _ in tour()} <= set(PARTS)


def test_the_tour_goes_from_part_to_part_and_can_be_left(bench):
    head = bench.panels["head"]
    sent = messages(head)
    send(head, "press", "door", "checker")
    for step, (part, words) in enumerate(tour(), 1):
        assert send(head, "press", "tour", str(step))
        assert words in html.unescape(head.html)
        assert bench.panels[part].is_open
        assert sent[-1] == {"kind": "go", "part": part, "stay": True}
    assert send(head, "press", "tour", str(len(tour()) + 1))
    assert bench.state.view.step == 0
    send(head, "press", "tour", "2")
    (leave,) = [b for b in Shown(head.html).buttons("tour") if b["value"] == "0"]
    assert send(head, "press", leave["name"], leave["value"])
    assert "fm-tour" not in head.html


@pytest.mark.parametrize("typed", ["", "-1", "two", "99999999999999999999", "1.5"])
def test_no_step_of_that_name_leaves_the_tour(bench, typed):
    send(bench.panels["head"], "press", "tour", "2")
    assert send(bench.panels["head"], "press", "tour", typed)
    assert bench.state.view.step == 0


# --- words, sources, paper -----------------------------------------------------------------


def test_words_are_found_as_they_are_written():
    found = dict(words_in("<p>the EC and pH of two <b>stock tanks</b>, in meq/L</p>"))
    assert {"EC", "pH", "meq", "stock tank"} <= set(found)
    assert "speciation" not in found
    assert words_in("<svg><text>EC</text></svg><i title='pH'>Echo phase</i>") == ()


def test_sources_are_found_where_they_are_cited_and_nothing_else_is():
    key = next(iter(read_table("sources")))["key"]
    found = sources_in(f"<li>a step [{key}]</li><li>[no-such-key] [o,o] 3 [g]</li>")
    assert [k for k, _ in found] == [key]
    assert sources_in("", [f"{key}; {key}"]) == found


def test_every_term_of_the_glossary_can_be_shown():
    for row in read_table("terms"):
        spelling = row["written"].split(";")[0]
        assert row["term"] in dict(words_in(f"<p>so the {spelling} is told</p>"))


@pytest.mark.parametrize("part", list(PARTS))
def test_each_part_tells_its_words_and_sources(bench, part):
    panel = bench.panels[part]
    assert send(panel, "press", "explain")
    shown = html.unescape(panel.html)
    terms = {row["term"]: row["meaning"] for row in read_table("terms")}
    told = re.findall(r"<dt>(.+?)</dt><dd>(.+?)</dd>", shown.partition("Where its")[0])
    assert told
    assert all(terms[word] == meaning for word, meaning in told)
    assert send(panel, "press", "explain")
    assert "What the words mean" not in panel.html


def test_a_working_tells_its_sources_in_full(bench):
    recipe = bench.panels["recipe"]
    send(recipe, "press", "working Ca")
    keys = {s.source_key for s in recipe.working("Ca").steps if s.source_key}
    assert keys
    known = {row["key"]: row["title"] for row in read_table("sources")}
    for key in {part.strip() for text in keys for part in text.split(";")}:
        assert f"[{key}]" in html.unescape(recipe.html)
        assert known[key] in html.unescape(recipe.html)


@pytest.mark.parametrize("part", list(PARTS))
def test_each_part_can_be_printed_with_its_title_and_its_stamp(bench, part):
    panel, sent = bench.panels[part], None
    sent = messages(panel)
    name = '<b>"A" & co</b>'
    bench.state.enter(("title",), name, with_entry, "title")
    sent.clear()
    assert send(panel, "press", "paper")
    (message,) = [m for m in sent if m["kind"] == "paper"]
    assert html.escape(name, quote=False) in message["head"].replace("&#34;", '"')
    assert "formulate 0." in message["foot"]
    assert part_label(part) in message["foot"]
    assert "not advice" in message["foot"]
    assert message["style"] == style_on_paper()


def style_on_paper():
    """Return the style sheet of printed parts, as it is shipped."""
    return (Path(panel_module.__file__).parent / "paper.css").read_text("utf-8")


def test_the_style_of_printed_parts_stands_in_its_own_file_alone():
    """A page with margins, heads of tables on each page, rows that are not cut in two."""
    style = style_on_paper()
    assert style.count("{") == style.count("}") > 20
    for rule in ("@page", "table-header-group", "break-inside: avoid"):
        assert rule in style
    script = (Path(panel_module.__file__).parent / "panel.js").read_text("utf-8")
    assert "@page" not in script
    assert "break-inside" not in script


def test_a_door_that_is_gone_opens_nothing_and_is_no_fault(bench):
    before = bench.state.view
    assert send(bench.panels["head"], "hello", "door", "cellar")
    assert bench.state.view == before


def test_what_is_under_way_is_told_above_all_that_scrolls():
    """A page of its own scrolls inside a box that holds what is fixed; a popover is outside.

    On a phone the foot of the screen is under its keys and under the tour: told at the head.
    """
    here = Path(panel_module.__file__).parent
    script, style = (
        (here / f"panel.{end}").read_text("utf-8") for end in ("js", "css")
    )
    assert "waiting.setAttribute('popover', 'manual')" in script
    assert "waiting.togglePopover?.(words !== '')" in script
    wide, _, narrow = style.partition("@media (max-width: 700px) {")
    rules = [re.findall(r"\.fm-waiting \{([^}]*)\}", part) for part in (wide, narrow)]
    assert [len(found) for found in rules] == [1, 1]
    assert "inset: auto auto 0 0" in rules[0][0]
    assert "inset: 0 0 auto" in rules[1][0]
    (tour,) = re.findall(r"\.fm-tour:popover-open \{([^}]*)\}", narrow)
    assert "inset: auto 0 0" in tour  # at the foot
