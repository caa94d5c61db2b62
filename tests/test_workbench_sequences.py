"""Random sequences of edits: nothing escapes, nothing is lost, undo ends at the first job.

Twelve seeded sequences of thirty edits; 500 with FORMULATE_HYPOTHESIS=deep. Every edit goes
to a field or button that a panel really shows, as the browser would send it.
"""

import os
import random
from html.parser import HTMLParser

import pytest

from formulate.jobs import job_from_text
from formulate.workbench.bench import Bench
from formulate.workbench.state import State

SEQUENCES = 500 if os.environ.get("FORMULATE_HYPOTHESIS") == "deep" else 12
EDITS = 30
FILES = ("job", "path", "open", "save")  # what reads or writes the machine
TEXTS = (
    *("", "10", "-5", "abc", "1e400", "nan", "2,5", "1,250", "0", "100", "x" * 3000),
    *("50 mg/L", "180 to 220", "at most 50 mg/L", "exactly 3 g", "none", "5 L"),
    *("4 US gal", "<script>alert(1)</script>", "\x00", "😀", "K:Ca", "EC", "7.4"),
    *("at most 2 mS/cm", "0.1 g", "1 kg", "3 meq/L", "10 °dH", "KNO3", "\ud800"),
    *("nitric acid (60 %)", "Total nitrogen 15 %\nK2O 30 %", "at least 500 mg/L"),
    *("Calcium 80 mg/L\nMagnesium 10 mg/L", "'", '"""', "a\r\nb\\"),
    *("1:64", "1+99", "8 °C", "50 %", "1.4 mS/cm", "1200 ppm (500)", "2", "20 L"),
)
PARTS_OF_MIXING = ("order", "plan", "why", "stocks", "wrong")
PAPERS = (
    "Soluble potash (K2O) 50 %\nDerived from: potassium sulfate",
    "week;potassium nitrate g/L;K mg/L\n1;0,5;193\n2;1;466\n",
    "nutrient;guaranteed;sample 1\nN;13;12.8\n",
    "salt;N %;K2O %\npotassium nitrate;13.9;38.7\n",
    "milk and bread",
)


class Fields(HTMLParser):
    """What can be typed, chosen and pressed in a panel."""

    def __init__(self, text):
        super().__init__()
        self.found, self.options, self._select = [], {}, None
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        told = dict(attrs)
        name, value = told.get("name"), told.get("value") or ""
        if tag in ("input", "textarea", "select") and told.get("type") != "file":
            kind = told.get("data-kind", "change")
            self.found.append((kind, name, told.get("type") == "checkbox"))
            self.options.setdefault(name, []).append(value)
            self._select = name
        elif tag == "option":
            self.options[self._select].append(value)
        elif tag == "button" and name and "disabled" not in told:
            self.found.append(("press", name, value))


def edit(chance, bench):
    """Do one thing that a panel offers, or go back, on, or to other units."""
    panel = chance.choice(list(bench.panels.values()))
    fields = Fields(panel.html)
    offered = [f for f in fields.found if f[1] and f[1] not in FILES]
    if not offered:
        return
    kind, name, value = chance.choice(offered)
    if kind != "press":
        is_box, typed = value, chance.random() < 0.7
        value = chance.choice(TEXTS if typed else fields.options[name])
        value = chance.random() < 0.5 if is_box else value
    panel.receive({"kind": kind, "name": name, "value": value})
    for odds, step in ((0.1, bench.state.undo), (0.05, bench.state.redo)):
        if chance.random() < odds:
            step()
    if chance.random() < 0.05:
        bench.state.look_in(chance.choice(["us", "metric"]))


def mix(chance, bench):
    """Look at a part of the mixing or away from it; do something there, if offered."""
    panel = bench.panels["mixing"]
    name, is_seen = chance.choice(PARTS_OF_MIXING), chance.random() < 0.6
    panel.receive({"kind": "seen", "name": name, "value": is_seen})
    moves = [f for f in Fields(panel.html).found if f[0] == "press"]
    if moves:
        kind, name, value = chance.choice(moves)
        panel.receive({"kind": kind, "name": name, "value": value})


def claim(chance, bench):
    """Paste a paper, look at one or away from it; do something there, if offered."""
    panel = bench.panels["claims"]
    if chance.random() < 0.4:
        text = chance.choice(PAPERS)
        panel.receive({"kind": "change", "name": "pasted", "value": text})
    name = chance.choice(("paper 0", "paper 1", "compared"))
    panel.receive({"kind": "seen", "name": name, "value": chance.random() < 0.7})
    moves = [f for f in Fields(panel.html).found if f[0] == "press"]
    if moves:
        kind, name, value = chance.choice(moves)
        panel.receive({"kind": kind, "name": name, "value": value})


def look(chance, bench):
    """Open a part of the chemistry or of the exchange, or look away from it."""
    panel = bench.panels[chance.choice(("chemistry", "exchange"))]
    name, is_seen = chance.choice((*panel.SLOTS, "fallen")), chance.random() < 0.5
    panel.receive({"kind": "seen", "name": name, "value": is_seen})
    moves = [f for f in Fields(panel.html).found if f[0] == "press"]
    if moves:
        kind, name, value = chance.choice(moves)
        panel.receive({"kind": kind, "name": name, "value": value})


def compare(chance, bench):
    """Put a second job beside the first, exchange them, look, put it away."""
    panel = bench.panels["beside"]
    name = chance.choice(("set", "set", "exchange", "away", "return"))
    panel.receive({"kind": "press", "name": name, "value": ""})
    if chance.random() < 0.3:
        text = chance.choice((bench.state.text, "volume = [", "formulate = 1\n"))
        upload = {"kind": "upload", "name": "second", "value": "theirs.toml"}
        panel.receive(upload, [text.encode(errors="replace")])
    slot, is_seen = chance.choice(panel.SLOTS), chance.random() < 0.5
    panel.receive({"kind": "seen", "name": slot, "value": is_seen})


def enter(chance, bench):
    """Come in by a door, or open everything again."""
    door = chance.choice(("grower", "checker", "teacher", "all", "all", "cellar"))
    bench.panels["head"].receive({"kind": "press", "name": "door", "value": door})


@pytest.mark.parametrize("seed", range(SEQUENCES))
def test_nothing_escapes_and_nothing_is_lost(seed, tmp_path):
    chance, state = random.Random(seed), State()
    first, bench = state.job, Bench(state)
    state.keep_as(f"{seed:032x}", tmp_path)
    for _ in range(EDITS):
        edit(chance, bench)
        if chance.random() < 0.2:
            mix(chance, bench)
        if chance.random() < 0.2:
            claim(chance, bench)
        if chance.random() < 0.1:
            look(chance, bench)
        if chance.random() < 0.1:
            compare(chance, bench)
        if chance.random() < 0.15:
            enter(chance, bench)
    last, second = state.job, state.beside
    kept = State()
    kept.keep_as(f"{seed:032x}", tmp_path)
    again = State(job_from_text(state.text))
    assert again.job == last
    assert "not kept" in state.said or (kept.job, kept.beside) == (last, second)
    assert again.found.has_recipe == state.found.has_recipe
    if state.found.has_recipe:
        weighed, same = (s.found.outcome.weighing for s in (state, again))
        assert [a for _, a in weighed.amounts] == [a for _, a in same.amounts]
        assert weighed.solution.forms == same.solution.forms
    assert again.found.has_mixing == state.found.has_mixing
    assert again.blockers("mixing") == state.found.blockers("mixing")
    verdicts = [paper.verdict for paper in state.found.claims.checked]
    assert [paper.verdict for paper in again.found.claims.checked] == verdicts
    if state.found.has_mixing:
        orders = [s.found.outcome.mixing.order for s in (state, again)]
        assert orders[0] == orders[1]
    while state.past:
        state.undo()
    assert state.job is first
    bench.close()
