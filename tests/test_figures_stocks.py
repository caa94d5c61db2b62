"""Figures of stocks: how full the tanks are, and what happens where they meet."""

import math
import re
from itertools import pairwise

import numpy as np
import pytest
from matplotlib.colors import to_hex
from mixing_drawn import (
    DRAWN,
    acid_tanks,
    full_tanks,
    kinds,
    number,
    one_tank,
    panel_of,
    text_boxes,
    two_tanks,
    words_of,
)

from formulate.chemistry.risks import RISKS, risk_level
from formulate.mixing.meeting import meetings
from formulate.sheets.figures import index_bars as bars_file
from formulate.sheets.figures.risk_marks import index_text, risk_mark


@pytest.fixture(scope="module")
def pictures():
    """Return a picture of each kind, and of each odd case."""
    return {kind: draw() for kind, draw in DRAWN.items()}


# --- stock tanks ------------------------------------------------------------------------

TANKS = {"tanks": two_tanks, "tanks, acid too": acid_tanks}
TANKS |= {"tanks, one": one_tank, "tanks, full": full_tanks}


def tank_panels(picture):
    return [a for a in picture.figure.axes if a.get_xlim() == (0.0, 130.0)]


@pytest.mark.parametrize("kind", TANKS)
def test_bars_are_the_fullest_salts(kind, pictures):
    picture, tanks = pictures[kind], TANKS[kind]()
    panels = tank_panels(picture)
    assert len(panels) == len(tanks.tanks)
    for axes, tank in zip(panels, tanks.tanks, strict=True):
        bars = [p for p in axes.patches if p.get_zorder() == 3]
        uses = list(tank.uses.values())[:3]
        uses = uses[:1] + [used for used in uses[1:] if used >= 0.5]
        widths = [bar.get_width() for bar in bars]
        assert widths == pytest.approx([min(used, 130.0) for used in uses])
        arrows = [x for x in axes.lines if x.get_marker() == ">"]
        assert len(arrows) == sum(used > 130.0 for used in uses)
        rows = [row for row in picture.table.rows if row[0] == tank.label]
        if not uses:
            assert [row[2] for row in rows] == ["no salt of known solubility"]
            continue
        assert [row[2] for row in rows] == list(tank.uses)[: len(uses)]
        told = [0.0 if row[3] == "under 1" else float(row[3]) for row in rows]
        assert told == pytest.approx(uses, abs=0.501)
        assert [row[4] for row in rows] == [
            RISKS[risk_level("soluble salts", used)] for used in uses
        ]


def test_bands_begin_where_the_words_of_a_salt_do(pictures):
    for axes in tank_panels(pictures["tanks"]):
        bands = [p for p in axes.patches if p.get_zorder() == 0]
        edges = [band.get_x() for band in bands]
        for level, edge in enumerate(edges, 1):
            assert risk_level("soluble salts", edge) == level
            assert risk_level("soluble salts", edge - 1e-9) == level - 1
        shades = [to_hex(band.get_facecolor()).upper() for band in bands]
        assert shades == list(bars_file.BANDS.values())
        assert [list(x.get_xdata()) for x in axes.lines] == [[100.0, 100.0]]
    assert "watch from 60 %" in words_of(pictures["tanks"])


def nearest(risks):
    """Return the gravest of the solids that matter, of equal ones the nearest."""
    found = [risk for risk in risks.solids if risk.role == "matters"]
    return max(found, key=lambda risk: (risk.level, risk.index), default=None)


@pytest.mark.parametrize("kind", TANKS)
def test_the_nearest_solid_stands_beside_its_tank(kind, pictures):
    picture = pictures[kind]
    table, words = picture.table, words_of(pictures[kind])
    place = table.columns.index("nearest solid")
    for tank in TANKS[kind]().tanks:
        (row,) = {row[place : place + 2] for row in table.rows if row[0] == tank.label}
        risk = nearest(tank.risks)
        if risk is None:
            assert row[0] == "none above −1.5"
            assert row[0] in words
            continue
        assert row[0] == risk.name
        assert number(row[1]) == pytest.approx(risk.index, abs=0.0051)
        assert f"{row[1]}, {risk.word}" in words
        assert f"nearest solid {risk.name} {row[1]}, {risk.word}" in picture.alt


def test_a_solid_that_is_graver_in_the_warm_is_told(pictures):
    picture, tank = pictures["tanks, full"], full_tanks().tanks[0]
    cold, warm = nearest(tank.risks), nearest(tank.warm_risks)
    assert warm.level > cold.level
    told = f"{index_text(warm.index)}, {warm.word}"
    assert "at 25 °C calcite" in words_of(picture)
    assert told in words_of(picture)
    assert f"at 25 °C calcite {told}" in picture.alt
    assert "warmer" in picture.table.columns
    assert "warmer" not in pictures["tanks"].table.columns


def test_models_that_differ_are_told(pictures):
    picture, risk = pictures["tanks, one"], nearest(one_tank().tanks[0].risks)
    low, high = risk.words_by_model
    assert low != high
    assert f"{low} to {high}" in words_of(picture)
    ends = f"by model {index_text(risk.low)} to {index_text(risk.high)}"
    assert ends in words_of(picture)
    assert f"({ends}, {low} to {high})" in picture.alt


def test_an_acid_alone_has_no_bar(pictures):
    picture = pictures["tanks, acid"]
    assert "no salt of known solubility" in words_of(picture)
    assert [
        p for a in tank_panels(picture) for p in a.patches if p.get_zorder() == 3
    ] == []
    assert picture.table.rows[0][2] == "no salt of known solubility"


# --- where stocks meet ------------------------------------------------------------------

MET = {"lines": two_tanks, "lines, acid": acid_tanks, "lines, one": one_tank}


def ways_of(picture):
    """Return what is poured into what to its line as it is drawn."""
    lines = [x for x in panel_of(picture).lines if x.get_zorder() == 3]
    return dict(zip((row[0] for row in picture.table.rows), lines, strict=True))


@pytest.mark.parametrize("kind", MET)
def test_lines_are_the_largest_index_on_the_way(kind, pictures):
    found, ways = meetings(MET[kind]()), ways_of(pictures[kind])
    assert ways
    for what, line in ways.items():
        x, y = line.get_data()
        assert list(x) == pytest.approx(list(100 * found[what].shares))
        largest = np.max(list(found[what].indices.values()), axis=0)
        drawn = np.where(np.isfinite(y), y, -np.inf)
        assert list(drawn) == pytest.approx(list(largest))
        assert drawn.max() >= -1.5


@pytest.mark.parametrize("kind", MET)
def test_the_table_of_lines_is_what_is_drawn(kind, pictures):
    picture, found = pictures[kind], meetings(MET[kind]())
    for row in picture.table.rows:
        line, drawn = found[row[0]], ways_of(picture)[row[0]]
        assert row[4] == line.word
        assert float(row[5]) == pytest.approx(line.supersaturated_percent, abs=0.5)
        place = np.abs(100 * line.shares - float(row[3])).argmin()
        index = line.indices[row[1]][place]
        assert number(row[2]) == pytest.approx(index, abs=0.0051)
        assert RISKS[risk_level(row[1], index)] == line.word
        assert f"{row[0]}: {row[1]} {row[2]}, {row[4]}, at {row[3]} %" in picture.alt
        x, y = drawn.get_data()
        heads = picture.table.columns[6:]
        for head, cell in zip(heads, row[6:], strict=True):
            at = float(re.fullmatch(r"at (\d+) %", head)[1])
            wanted = np.interp(at, x, y)
            wanted = wanted if np.isfinite(wanted) else -math.inf
            assert number(cell) == pytest.approx(wanted, abs=0.0051)


@pytest.mark.parametrize("kind", MET)
def test_a_mark_stands_where_each_line_is_worst(kind, pictures):
    picture = pictures[kind]
    marks = [x for x in panel_of(picture).lines if x.get_zorder() == 5]
    for row, mark in zip(picture.table.rows, marks, strict=True):
        assert mark.get_marker() == risk_mark(RISKS.index(row[4]))["marker"]
        (at,), (up,) = mark.get_data()
        assert at == pytest.approx(float(row[3]), rel=5e-3, abs=1e-3)
        assert up >= number(row[2]) - 0.0051


def test_the_lines_that_matter_are_drawn_and_the_others_named(pictures):
    picture, found = pictures["lines, acid"], meetings(acid_tanks())
    drawn = set(ways_of(picture))
    count = len(acid_tanks().tanks)
    matter = {x.what for x in found.lines if "undiluted" in x.what}
    matter |= {x.what for x in found.lines[:count]}
    matter |= {x.what for x in found.lines if "at once" in x.what}
    assert len(drawn) == 7
    assert {x.what for x in found.lines[:count]} <= drawn
    assert "all stocks at once into the water" in drawn
    told = picture.alt.partition("Left out")[2]
    assert matter - drawn
    for what in matter - drawn:
        assert what in told
    note = "A line ends at the last share worked out at which a solid can form."
    assert note in words_of(picture)
    assert note not in words_of(pictures["lines"])
    for text in ("all at once into water", "B into water with A"):
        assert text in words_of(picture)


def test_where_nothing_can_form_no_line_is_drawn(pictures):
    picture = pictures["lines, none"]
    assert ways_of(picture) == {}
    assert "No solid comes nearer than −1.5 on any line." in words_of(picture)
    assert "Left out, nowhere above −1.5: stock A into the water." in picture.alt


@pytest.mark.parametrize("kind", kinds("lines"))
def test_no_name_hides_a_line(kind, pictures):
    figure = pictures[kind].figure
    boxes = [box.padded(-1.0) for box in text_boxes(figure, all_of_it=False)]
    axes = panel_of(pictures[kind])
    low = axes.get_ylim()[0]
    for line in ways_of(pictures[kind]).values():
        x, y = line.get_data()
        points = axes.transData.transform(
            np.column_stack([x, np.where(y > low, y, low)])
        )
        fine = np.concatenate([np.linspace(a, b, 60) for a, b in pairwise(points)])
        assert not any(box.contains(*point) for box in boxes for point in fine)
