"""Figures of mixing: steps of an order, worked out again; words; readable in grey."""

import math
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest
from matplotlib.colors import to_hex
from mixing_drawn import (
    BUCKET,
    DRAWN,
    KINDS,
    LEAST_STEP,
    alkaline_log,
    bucket,
    crowded_log,
    kinds,
    nothing,
    number,
    odd_log,
    order,
    panel_of,
    plain_log,
    text_boxes,
    two_tanks,
    words_of,
    worst_log,
)

from formulate.chemistry.risks import RISKS, risk_level
from formulate.errors import InputError
from formulate.mixing.meeting import meetings
from formulate.mixing.sequence import simulate_mixing
from formulate.sheets.figures import style
from formulate.sheets.figures.foot_lines import foot_lines
from formulate.sheets.figures.mixing_lines import mixing_lines
from formulate.sheets.figures.mixing_steps import mixing_steps
from formulate.sheets.figures.risk_marks import gravest, index_text, risk_mark
from formulate.sheets.figures.tank_use import tank_use


@pytest.fixture(scope="module")
def pictures():
    """Return a picture of each kind, and of each odd case."""
    return {kind: draw() for kind, draw in DRAWN.items()}


# --- steps of an order ------------------------------------------------------------------

LOGS = {
    "steps": plain_log,
    "steps, fourteen": worst_log,
    "steps, odd names": odd_log,
    "steps, two": lambda: bucket(0.1),
    "steps, one": lambda: nothing(5.0),
    "steps, no grams": lambda: nothing(0.0),
    "steps, crowded": crowded_log,
    "steps, beyond": alkaline_log,
}


def shown_solids(table):
    start = "index of "
    return [c.removeprefix(start) for c in table.columns if c.startswith(start)]


def stairs_of(picture):
    """Return solid to the index of its stairs at each step."""
    solids = shown_solids(picture.table)
    lines = [x for x in panel_of(picture).lines if x.get_zorder() == 4]
    return dict(zip(reversed(solids), lines, strict=True))


@pytest.mark.parametrize("kind", LOGS)
def test_the_table_of_steps_is_the_log(kind, pictures):
    table, log = pictures[kind].table, LOGS[kind]()
    for row, step in zip(table.rows, log.steps, strict=True):
        cells = dict(zip(table.columns, row, strict=True))
        assert cells["step"] == str(step.number)
        assert cells["after"] == " ".join(step.name.split())
        assert float(cells["L"]) == pytest.approx(step.volume, rel=5e-3)
        assert cells["risk"] == step.word
        solid = cells["gravest"]
        assert (solid == "no solid can form") == (step.nearest == "")
        if step.nearest:
            assert number(cells["index"]) == pytest.approx(
                step.indices[solid], abs=0.0051
            )
            assert RISKS[risk_level(solid, step.indices[solid])] == step.word
        for solid in shown_solids(table):
            index = step.indices.get(solid, -math.inf)
            assert number(cells[f"index of {solid}"]) == pytest.approx(
                index, abs=0.0051
            )


@pytest.mark.parametrize("kind", LOGS)
def test_stairs_stand_upright_at_the_indices(kind, pictures):
    log, picture = LOGS[kind](), pictures[kind]
    stairs = stairs_of(picture)
    assert (len(stairs) == 0) == (kind in ("steps, one", "steps, no grams"))
    for solid, line in stairs.items():
        x, y = (np.reshape(v, (-1, 2)) for v in line.get_data())
        for place, step in enumerate(log.steps):
            assert list(y[place]) == [place - 0.5, place + 0.5]
            index = step.indices.get(solid, math.nan)
            assert x[place] == pytest.approx([index, index], nan_ok=True)


@pytest.mark.parametrize("kind", LOGS)
def test_marks_tell_by_their_shape_how_likely_each_solid_is(kind, pictures):
    log, picture = LOGS[kind](), pictures[kind]
    axes, wanted = panel_of(picture), []
    low, high = axes.get_xlim()
    for place, step in enumerate(log.steps):
        for solid in shown_solids(picture.table):
            index = step.indices.get(solid, -math.inf)
            if np.isfinite(index):
                shape = risk_mark(risk_level(solid, index))["marker"]
                shape = "<" if index < low else ">" if index > high else shape
                at = round(min(max(index, low), high), 9)
                wanted.append((place, at, shape))
    marks = [x for x in axes.lines if x.get_zorder() >= 6]
    found = [
        (int(m.get_ydata()[0]), round(float(m.get_xdata()[0]), 9), m.get_marker())
        for m in marks
    ]
    assert sorted(found) == sorted(wanted)


def test_every_word_and_both_ends_of_the_axis_are_met(pictures):
    marks = {x.get_marker() for k in LOGS for x in panel_of(pictures[k]).lines}
    assert set("o^sD<>") <= marks


@pytest.mark.parametrize("kind", LOGS)
def test_what_is_left_out_of_the_steps_is_said(kind, pictures):
    log, picture = LOGS[kind](), pictures[kind]
    shown = shown_solids(picture.table)
    assert len(shown) <= 6
    peaks = {k: float(v.max()) for k, v in log.near.indices.items()}
    near = [solid for solid, peak in peaks.items() if peak >= -1.5]
    assert set(shown) <= set(near)
    assert len(shown) == min(len(near), 6)
    assert ("for want of room" in picture.alt) == (len(near) > 6)
    for solid in set(peaks) - set(shown):
        assert solid in picture.alt.partition("Left out")[2]
        assert any(solid in words for words in words_of(picture))
    told = "No solid comes nearer than −1.5 at any step."
    assert (told in words_of(picture)) == (not shown)


def test_the_shading_begins_at_saturation(pictures):
    for kind in kinds("steps"):
        axes = panel_of(pictures[kind])
        (band,) = axes.patches
        assert band.get_x() == 0.0
        assert band.get_width() == pytest.approx(axes.get_xlim()[1])
        assert axes.get_xlim()[0] == -3.0
    for kind in kinds("lines"):
        axes = panel_of(pictures[kind])
        (band,) = axes.patches
        assert (band.get_y(), axes.get_ylim()[0]) == (0.0, -3.0)
        assert band.get_height() == pytest.approx(axes.get_ylim()[1])


def test_another_order_is_its_largest_index_in_thin_dashes(pictures):
    picture, other = pictures["steps, fourteen"], order().log
    (line,) = [x for x in panel_of(picture).lines if x.get_zorder() == 3]
    x, _ = (np.reshape(v, (-1, 2)) for v in line.get_data())
    assert x[:, 0] == pytest.approx([step.index for step in other.steps])
    assert line.get_linestyle() == "--"
    solids = [x for x in panel_of(picture).lines if x.get_zorder() == 4]
    assert line.get_linewidth() < min(x.get_linewidth() for x in solids)
    rows = [row[-3:] for row in picture.table.rows]
    for (name, index, word), step in zip(rows, other.steps, strict=True):
        assert (name, word) == (step.name, step.word)
        assert number(index) == pytest.approx(step.index, abs=0.0051)
    assert "largest of the other order" in words_of(picture)
    assert f"The other order: {', '.join(other.order)}." in picture.alt
    told = "The other order, with 75.0 % of the water first: "
    assert told + ", ".join(BUCKET) in pictures["steps, two"].alt
    worst = max(other.steps, key=lambda s: (RISKS.index(s.word), s.index))
    assert f"Another order is at worst after {worst.name}: " in picture.alt


def test_each_solid_is_named_beneath_where_its_stairs_end(pictures):
    picture = pictures["steps, fourteen"]
    wide = picture.figure.get_size_inches()[0]
    axes, words = panel_of(picture), words_of(picture)
    tops = [words.index(solid) for solid in shown_solids(picture.table)]
    texts = [picture.figure.texts[place] for place in tops]
    ends = [line.get_xdata()[-1] for line in reversed(stairs_of(picture).values())]
    left, right = (wide * v for v in axes.get_position().intervalx)
    low, high = axes.get_xlim()
    for text, end in zip(texts, ends, strict=True):
        at = left + (right - left) * (max(end, low) - low) / (high - low)
        assert -0.5 < text.get_position()[0] - at < 0.5  # in
    heights = {text.get_position()[1] for text in texts}
    assert len(heights) == len(texts)


# --- words and notes --------------------------------------------------------------------


def test_the_gravest_is_told_before_the_nearest():
    # saline-pretreatment; lebedev-kosorukov-2017: calcite is watched to 1, gypsum certain at 0.6
    indices = {"calcite": np.array([0.9, 0.9]), "gypsum": np.array([0.7, 0.2])}
    assert gravest(indices) == [("gypsum", 0.7, 3), ("calcite", 0.9, 1)]
    assert gravest({"gypsum": np.array([-np.inf])}) == [("", -math.inf, 0)]
    assert gravest({}) == []


@pytest.mark.parametrize(
    ("index", "text"), [(0.0, "+0.00"), (-1.234, "−1.23"), (-math.inf, "")]
)
def test_an_index_has_a_sign_and_two_decimals(index, text):
    assert index_text(index) == text


def test_notes_are_broken_and_lose_no_word_until_they_are_too_long():
    note = "Left out: " + ", ".join(f"solid {n}" for n in range(20)) + "."
    lines = foot_lines([note])
    assert len(lines) == 2
    assert " ".join(lines) == note
    long = foot_lines(["word " * 200, "x" * 500])
    assert "…" in long[2]
    assert max(map(style.text_width, long)) <= 7.0 * style.SIZE / style.SMALL
    assert foot_lines([]) == []


# --- all of them ------------------------------------------------------------------------


@pytest.mark.parametrize("draw", [mixing_steps, tank_use, mixing_lines])
@pytest.mark.parametrize("thing", [None, 5, "log", {"KNO3": 5.0}, ()])
def test_what_cannot_be_drawn_is_told(draw, thing):
    with pytest.raises(InputError, match=f"{draw.__name__}(.|\n)*give what"):
        draw(thing)


def test_what_cannot_be_compared_is_told():
    with pytest.raises(InputError, match="another batch"):
        mixing_steps(bucket(0.1), other=nothing(5.0))
    more = {**BUCKET, "MgSO4·7H2O": 26.0}
    for other in (
        simulate_mixing(more, volume=20),
        simulate_mixing(BUCKET, volume=21),
        simulate_mixing(BUCKET, volume=20, water="hard-tap-voehringen"),
    ):
        with pytest.raises(InputError, match="another batch"):
            mixing_steps(bucket(0.1), other=other)
    with pytest.raises(InputError, match="2 faults"):
        mixing_steps("log", other="order")
    with pytest.raises(InputError, match="no tank"):
        tank_use(replace(two_tanks(), tanks=()))
    with pytest.raises(InputError, match="no line"):
        mixing_lines(replace(meetings(two_tanks()), lines=()))


@pytest.mark.parametrize("kind", KINDS)
def test_the_file_is_valid_and_says_what_is_seen(kind, pictures):
    picture = pictures[kind]
    root = ET.fromstring(picture.svg)
    told = {node.tag.partition("}")[2]: node.text for node in root}
    assert told["title"] == picture.title
    assert told["desc"] == picture.alt
    assert len(picture.alt) > 40
    assert picture.source.startswith("formulate 0.")
    page = picture._repr_html_()
    lines = list(ET.fromstring(page.replace("<br>", "<br/>")).iter("tr"))
    assert len(lines) == 1 + len(picture.table.rows)
    assert all(len(row) == len(picture.table.columns) for row in picture.table.rows)


@pytest.mark.parametrize("kind", ["steps, odd names", "tanks, full", "lines, acid"])
def test_the_same_is_drawn_twice(kind, pictures):
    assert DRAWN[kind]().svg == pictures[kind].svg


def test_names_from_anybody_are_text(pictures):
    picture = pictures["steps, odd names"]
    assert "<b>" not in picture._repr_html_()
    assert "<b>" not in picture.svg
    words = words_of(picture)
    assert any(text.startswith("1. $\\frac{a}$") for text in words)
    assert all("\n" not in text for text in words)


@pytest.mark.parametrize("kind", kinds("steps"))
def test_the_alt_text_holds_the_gravest_of_each_step(kind, pictures):
    picture = pictures[kind]
    for row in picture.table.rows:
        cells = dict(zip(picture.table.columns, row, strict=True))
        name, solid = cells["after"], cells["gravest"]
        told = f"{name} {solid}"
        told += f" {cells['index']}, {cells['risk']}" if cells["index"] else ""
        assert told in picture.alt


@pytest.mark.parametrize("kind", KINDS)
def test_no_text_leaves_the_paper_and_none_overlaps(kind, pictures):
    figure = pictures[kind].figure
    boxes = text_boxes(figure)
    assert figure.get_size_inches()[0] == 7.2  # 183 mm of the 210 of A4
    wide, high = figure.get_size_inches() * figure.dpi
    assert high < 11.0 * figure.dpi
    assert all(b.x0 >= 0 and b.x1 <= wide and b.y0 >= 0 and b.y1 <= high for b in boxes)
    boxes = [b.padded(-1.5) for b in boxes]
    assert not any(a.overlaps(b) for a, b in combinations(boxes, 2))


@pytest.mark.parametrize("kind", KINDS)
def test_letters_are_large_enough_to_read(kind, pictures):
    figure = pictures[kind].figure
    texts = [t for t in figure.texts if t.get_text()]
    texts += [t for a in figure.axes for t in (a.xaxis.label, a.yaxis.label)]
    assert min(t.get_fontsize() for t in texts if t.get_text()) >= style.SMALL
    ticks = [
        t for a in figure.axes for t in (*a.get_xticklabels(), *a.get_yticklabels())
    ]
    assert all(t.get_fontsize() >= style.SMALL for t in ticks)


def test_all_is_told_apart_in_grey(pictures):
    shades = (style.INK, style.QUIET, style.WANTED)
    levels = [style.lightness(shade) for shade in shades]
    assert min(b - a for a, b in pairwise(levels)) >= LEAST_STEP
    shapes = {risk_mark(level)["marker"] for level in range(len(RISKS))}
    assert len(shapes) == len(RISKS)
    for kind in ("steps, fourteen", "lines, acid"):
        lines = [x for x in panel_of(pictures[kind]).lines if x.get_zorder() in (3, 4)]
        assert {to_hex(x.get_color()).upper() for x in lines} <= {
            style.INK,
            style.QUIET,
        }
        looks = [
            (x.get_color(), x.get_linewidth(), str(x._unscaled_dash_pattern))
            for x in lines
        ]
        assert len(looks) == len(set(looks)) > 5
