"""Figures of the recipe: cost against closeness, doubt, few bags; numbers, words, grey."""

import math
import xml.etree.ElementTree as ET
from functools import partial
from itertools import combinations, pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_hex

from formulate.errors import InputError
from formulate.recipes.target import target
from formulate.sheets.figures import doubt_bars as doubt_file
from formulate.sheets.figures import style
from formulate.sheets.figures.cost_closeness import changed_names, cost_closeness
from formulate.sheets.figures.doubt_bars import doubt_bars
from formulate.sheets.figures.few_steps import few_steps
from formulate.working import printed

LEAST_STEP = 10.0  # CIE L*: own choice, as in test_figures
SHELF = ("Ca(NO3)2·4H2O", "KNO3", "KH2PO4", "MgSO4·7H2O", "Mg(NO3)2·6H2O", "K2SO4")
LONG = "a fertiliser with a very long name from somewhere, 15-5-15"
MAGNESIUM = "magnesium sulfate, greenhouse grade"

# --- what is drawn ----------------------------------------------------------------------

COSTS = (
    (0.0, 18.40, SHELF),
    (1.0, 17.10, SHELF),
    (2.0, 16.20, SHELF[:4] + SHELF[5:]),
    (3.0, 15.70, SHELF[:4] + SHELF[5:]),
    (5.0, 15.10, (*SHELF[:4], "urea")),
    (8.0, 14.60, (*SHELF[:4], "urea")),
    (10.0, 14.31, (*SHELF[:3], "urea", MAGNESIUM)),
    (15.0, 13.90, (*SHELF[:3], MAGNESIUM)),
    (20.0, 13.60, (*SHELF[:2], MAGNESIUM)),
    (25.0, 13.50, SHELF[:2]),
)
CROWDED = [(0.1 * n, 5 - 0.02 * n, (f"salt {n}",)) for n in range(30)]
STEPS = (
    (1, 2.40, True, SHELF[:1]),
    (2, 1.73, True, SHELF[:2]),
    (3, 0.81, True, (*SHELF[:2], "K2SO4")),
    (4, 0.22, True, SHELF[:4]),
    (5, 0.05, False, (*SHELF[:4], LONG)),
    (6, 0.0, False, SHELF),
    (7, 0.0, True, SHELF),
)
NONE_AT_FIRST = ((1, None, True, ()), (2, None, True, None), (3, 18.2, True, SHELF[:3]))
NONE_AT_FIRST += ((4, 16.6, True, SHELF[:4]),)
DOUBTS = (
    ("NO3-N", 180.0, 190.0, 199.0, "mg/L", "purity: Ca(NO3)2·4H2O", 0.55),
    ("K", 220.0, 229.0, 244.0, "mg/L", "volume", 0.61),
    ("Ca", 150.0, 158.0, 168.0, "mg/L", "water analysis", 0.4),
    ("Fe", 1.1, 1.9, 2.6, "mg/L", f"scoop: {LONG}", 0.9),
    ("Mo", 0.001, 0.05, 0.3, "mg/L", "balance: Na2MoO4·2H2O", 0.99),
    ("Cl", 3.0, 5.0, 7.0, "mg/L", "water", 0.7),
    ("Na", 11.0, 14.0, 16.0, "mg/L", "water", 0.8),
    ("alkalinity", 0.1, 0.4, 0.6, "meq/L", "water alkalinity", 0.5),
    ("EC", 1.9, 1.98, 2.1, "mS/cm", "volume", 0.75),
    ("pH", 5.5, 5.9, 6.4, "", "water alkalinity", 0.6),
    ("pH when mixed", 5.1, 5.3, 5.5, "", "", 0.0),
)
WANTED = {"NO3-N": (190, 190), "K": (200, 240), "Ca": (160, 160), "Fe": (2, 2)}
WANTED |= {"Mo": (0.05, 0.05), "Cl": (0, 0), "EC": (1.8, 2.2), "pH": (5.5, 6.2)}
WANTED |= {"pH when mixed": (5.0, math.inf), "alkalinity": (-math.inf, 0.5)}
UNKNOWN = (("K", 200.0, 200.0, 200.0, "mg/L", "", 0.0),)
UNKNOWN += (("EC", math.nan, math.nan, math.nan, "mS/cm", "", 0.0),)

EXACT = SimpleNamespace(deviation=2.4, cost=1.75e6)


def rowed(rows, **facts):
    return SimpleNamespace(rows=lambda: rows, **facts)


COSTED = partial(cost_closeness, rowed(COSTS))
DRAWN = {
    "cost": COSTED,
    "cost, exact apart": lambda: cost_closeness(rowed(COSTS[:3]), exact=(0.3, 18.9)),
    "cost, flat": lambda: cost_closeness(rowed([(0, 5, ("a",)), (25, 5, ("b",))])),
    "cost, crowded": lambda: cost_closeness(rowed(CROWDED)),
    "cost, free": lambda: cost_closeness(rowed([(0, 0, ("a",)), (5, 0, ("a",))])),
    "cost, one point": lambda: cost_closeness(rowed(COSTS[:1])),
    "cost, dear": lambda: cost_closeness(
        rowed([(x, 1e5 * cost, names) for x, cost, names in COSTS], exact=EXACT)
    ),
    "few": lambda: few_steps(rowed(STEPS, objective="sum")),
    "few, none at first": lambda: few_steps(rowed(NONE_AT_FIRST, objective="cost")),
    "few, one": lambda: few_steps(rowed(STEPS[-1:])),
    "doubt": lambda: doubt_bars(rowed(DOUBTS, level=0.9), wanted=WANTED),
    "doubt, unknown": lambda: doubt_bars(rowed(UNKNOWN), wanted={"K": (200, 200)}),
    "doubt, nothing wanted": lambda: doubt_bars(rowed(DOUBTS[:3], level=0.5)),
}
KINDS = tuple(DRAWN)


@pytest.fixture(scope="module")
def pictures():
    """Return a picture of each kind, and of each odd case."""
    return {kind: draw() for kind, draw in DRAWN.items()}


def words_of(picture):
    return [text.get_text() for text in picture.figure.texts]


def text_boxes(figure):
    """Return the box of each text, those of the axes too."""
    canvas, found = FigureCanvasAgg(figure), [*figure.texts]
    with style.drawing():
        canvas.draw()
        for axis in (x for a in figure.axes for x in (a.xaxis, a.yaxis)):
            low, high = sorted(axis.get_view_interval())
            ticks = [t for t in axis.get_major_ticks() if low <= t.get_loc() <= high]
            found += [axis.label, *(tick.label1 for tick in ticks)]
        renderer = canvas.get_renderer()
        return [t.get_window_extent(renderer) for t in found if t.get_text()]


# --- cost against closeness -------------------------------------------------------------


def test_the_line_goes_through_the_points_of_the_curve(pictures):
    axes = pictures["cost"].figure.axes[0]
    line, dots = axes.lines[:2]
    for drawn in (line, dots):
        assert list(drawn.get_xdata()) == [row[0] for row in COSTS]
        assert list(drawn.get_ydata()) == [row[1] for row in COSTS]
    assert dots.get_marker() == "o"


@pytest.mark.parametrize(
    ("kind", "point"),
    [
        ("cost", (0.0, 18.4)),
        ("cost, exact apart", (0.3, 18.9)),
        ("cost, dear", (2.4, 1.75e6)),
    ],
)
def test_the_exact_recipe_is_marked_apart_and_named(kind, point, pictures):
    picture = pictures[kind]
    (mark,) = [x for x in picture.figure.axes[0].lines if x.get_marker() == "D"]
    assert (mark.get_xdata()[0], mark.get_ydata()[0]) == point
    assert f"exact recipe {printed(point[1])}" in words_of(picture)
    assert (
        f"The exact recipe costs {printed(point[1])} at {point[0]:g} %" in picture.alt
    )


def test_the_table_of_costs_is_the_curve(pictures):
    table = pictures["cost"].table
    assert table.numeric == (0, 1)
    for row, (deviation, cost, _) in zip(table.rows, COSTS, strict=True):
        assert float(row[0]) == deviation
        assert float(row[1]) == pytest.approx(cost, abs=0.005)
    same = "the same"
    changes = [row[2] for row in table.rows]
    wanted = [", ".join(COSTS[0][2]), same, "− Mg(NO3)2·6H2O", same]
    wanted += ["+ urea − K2SO4", same]
    wanted += [f"+ {MAGNESIUM} − MgSO4·7H2O", "− urea", "− KH2PO4", f"− {MAGNESIUM}"]
    assert changes == wanted


def test_what_comes_in_and_goes_out_is_written_at_its_kink(pictures):
    words = words_of(pictures["cost"])
    for change in ("− Mg(NO3)2·6H2O", "+ urea − K2SO4", "− urea", "− KH2PO4"):
        assert change in words
    assert not any("stands in the table" in text for text in words)
    assert any("27 % less" in text for text in words)  # (18.40 − 13.50) / 18.40


def test_what_has_no_room_is_said_to_stand_in_the_table(pictures):
    words = words_of(pictures["cost, crowded"])
    told = [text for text in words if text.startswith("+ salt")]
    assert 5 < len(told) < 29
    assert any("stands in the table" in text for text in words)
    assert (
        sum(row[2] != "the same" for row in pictures["cost, crowded"].table.rows) == 30
    )


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind.startswith("cost")])
def test_no_words_hide_the_line_or_a_point(kind, pictures):
    figure = pictures[kind].figure
    boxes = [box.padded(-1.0) for box in text_boxes(figure)]
    axes = figure.axes[0]
    line = axes.transData.transform(np.column_stack(axes.lines[0].get_data()))
    fine = np.vstack([line, *(np.linspace(a, b, 60) for a, b in pairwise(line))])
    (mark,) = [x for x in axes.lines if x.get_marker() == "D"]
    fine = np.vstack([fine, axes.transData.transform(np.column_stack(mark.get_data()))])
    assert not any(box.contains(*point) for box in boxes for point in fine)


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ((), ("a",), "+ a"),
        (("a",), (), "− a"),
        (("a", "b"), ("b", "a"), ""),
        (("a", "b"), ("c", "d"), "+ c, d − a, b"),
    ],
)
def test_changes_in_words(before, after, words):
    assert changed_names(before, after) == words


# --- few bags ---------------------------------------------------------------------------


def test_bars_are_the_values_and_hatched_where_not_proven(pictures):
    axes = next(a for a in pictures["few"].figure.axes if a.get_xlabel())
    bars = list(axes.patches)
    assert axes.get_xlabel() == "sum of deviations, %"
    widths = [bar.get_width() for bar in bars]
    assert widths == pytest.approx([100 * row[1] for row in STEPS])
    assert [not bar.get_hatch() for bar in bars] == [row[2] for row in STEPS]


def test_the_table_of_bags_is_the_curve(pictures):
    words = [", ".join(STEPS[0][3])]
    for before, after in pairwise(row[3] for row in STEPS):
        words.append(changed_names(before, after) or "the same")
    for row, (bags, value, proven, _), told in zip(
        pictures["few"].table.rows, STEPS, words, strict=True
    ):
        assert row[0] == str(bags)
        assert float(row[1]) == pytest.approx(100 * value, abs=0.5)
        assert row[2:] == ("yes" if proven else "no", told)
    told = [row[1:3] for row in pictures["few, none at first"].table.rows]
    assert told == [("no recipe", "")] * 2 + [("18.2", "yes"), ("16.6", "yes")]


def test_each_number_of_bags_says_what_changes(pictures):
    words = words_of(pictures["few"])
    for text in ("+ KNO3", "+ K2SO4", "+ KH2PO4, MgSO4·7H2O − K2SO4", "the same"):
        assert text in words
    assert "not proven" in pictures["few"].alt
    assert any("not proven" in text for text in words)
    words = words_of(pictures["few, none at first"])
    assert words.count("no recipe") == 2
    assert not any("not proven" in text for text in words)


# --- doubt ------------------------------------------------------------------------------


def panels_of(picture):
    """Return label to panel of those with an axis."""
    return {a.get_xlabel(): a for a in picture.figure.axes if a.get_xlabel()}


def bars_of(axes):
    """Return place to both ends of every interval."""
    bars = [patch for patch in axes.patches if patch.get_zorder() == 3]
    ends = [(b.get_x(), b.get_x() + b.get_width()) for b in bars]
    return {
        round(b.get_y() + b.get_height() / 2): e
        for b, e in zip(bars, ends, strict=True)
    }


def test_bars_are_percent_of_what_was_wanted(pictures):
    axes = panels_of(pictures["doubt"])["% of what was wanted"]
    # by hand: 180 / 190, 199 / 190; K of the middle of its range, 220; Fe of 2 mg/L
    wanted = {0: (94.737, 104.737), 1: (100.0, 110.909), 2: (93.75, 105.0)}
    wanted |= {3: (55.0, 130.0), 4: axes.get_xlim()}  # molybdenum leaves the axis
    found = bars_of(axes)
    assert found.keys() == wanted.keys()
    for place, ends in wanted.items():
        assert found[place] == pytest.approx(ends, abs=1e-3)
    arrows = sorted(x.get_marker() for x in axes.lines if x.get_marker() in "<>")
    assert arrows == ["<", ">"]


def test_other_outputs_have_axes_of_their_own(pictures):
    panels = panels_of(pictures["doubt"])
    names = {"% of what was wanted", "mg/L, wanted 0", "mg/L, not wanted by name"}
    assert set(panels) == names | {"meq/L", "mS/cm", "pH"}
    assert bars_of(panels["mS/cm"]) == {0: pytest.approx((1.9, 2.1))}
    assert bars_of(panels["pH"])[0] == pytest.approx((5.5, 6.4))
    assert bars_of(panels["pH"])[1] == pytest.approx((5.1, 5.5))
    assert bars_of(panels["mg/L, not wanted by name"])[0] == pytest.approx((11, 16))


def test_what_is_wanted_lies_behind(pictures):
    panels = panels_of(pictures["doubt"])
    (band,) = [p for p in panels["mS/cm"].patches if p.get_zorder() == 1]
    assert (band.get_x(), band.get_width()) == pytest.approx((1.8, 0.4))
    dashed = [
        x for x in panels["% of what was wanted"].lines if x.get_linestyle() == "--"
    ]
    assert [list(x.get_xdata()) for x in dashed] == [pytest.approx([100, 100])] * 4
    low, high = panels["meq/L"].get_xlim()
    (band,) = [p for p in panels["meq/L"].patches if p.get_zorder() == 1]
    assert band.get_x() == pytest.approx(low)  # at most 0.5: no lower end
    assert band.get_x() + band.get_width() == pytest.approx(0.5)
    assert high > 0.6


def test_the_dominating_input_stands_at_the_right(pictures):
    words = words_of(pictures["doubt"])
    for text in ("volume 61 %", "purity: Ca(NO3)2·4H2O 55 %", "water 70 %"):
        assert text in words
    (long,) = [text for text in words if text.startswith("scoop")]
    assert long.endswith("90 %")  # a name is cut before its number is


def test_intervals_stand_whole_beside_the_bars(pictures):
    words = words_of(pictures["doubt"])
    for text in ("180 to 199 mg/L", "0.00100 to 0.300 mg/L", "5.50 to 6.40"):
        assert text in words


def test_the_table_of_doubt_is_the_rows(pictures):
    rows = {row[0]: row for row in pictures["doubt"].table.rows}
    for name, *values, unit, cause, share in DOUBTS:
        row = rows[name]
        assert [float(cell) for cell in row[1:4]] == pytest.approx(values, rel=5e-3)
        assert (row[4], row[6]) == (unit, cause)
        assert row[7] == (f"{100 * share:.0f}" if cause else "")
    assert rows["K"][5] == "200 to 240"
    assert rows["Ca"][5] == "160"
    assert rows["alkalinity"][5] == "at most 0.500"
    assert rows["pH when mixed"][5] == "at least 5.00"


def test_what_is_not_known_is_said(pictures):
    picture = pictures["doubt, unknown"]
    assert "not known" in words_of(picture)
    assert "EC not known" in picture.alt
    assert picture.table.rows[1][1:4] == ("not known",) * 3
    assert bars_of(panels_of(picture)["mS/cm"]) == {}


def test_wanted_is_that_of_the_batch():
    made = target({"K": "200-240 mg/L", "Ca": 160}, name="own")
    held = SimpleNamespace(subject="EC", low=-math.inf, high=2.2)
    kept = SimpleNamespace(asked=SimpleNamespace(limit=held))
    doubt = rowed(DOUBTS, level=0.9, ranges=(), limits=(kept,))
    doubt.thing = SimpleNamespace(target=made, water=None)
    rows = {row[0]: row for row in doubt_bars(doubt).table.rows}
    assert (rows["K"][5], rows["Ca"][5]) == ("200 to 240", "160")
    assert rows["EC"][5] == "at most 2.20"
    assert rows["NO3-N"][5] == ""


# --- all of them ------------------------------------------------------------------------


@pytest.mark.parametrize("draw", [cost_closeness, few_steps, doubt_bars])
@pytest.mark.parametrize("thing", [None, 5, "curve", rowed([(1,)]), rowed([])])
def test_what_cannot_be_drawn_is_told(draw, thing):
    with pytest.raises(InputError, match=draw.__name__):
        draw(thing)


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
    shades = (style.INK, doubt_file.PLAIN, style.WITHIN, "#FFFFFF")
    levels = [style.lightness(shade) for shade in shades]
    assert min(b - a for a, b in pairwise(levels)) >= LEAST_STEP
    bars = [p for a in pictures["doubt"].figure.axes for p in a.patches]
    edged = [p for p in bars if p.get_zorder() == 3]
    assert len(edged) == len(DOUBTS)
    assert {to_hex(p.get_edgecolor()).upper() for p in edged} == {style.INK}
    looks = {
        bool(p.get_hatch()) for a in pictures["few"].figure.axes for p in a.patches
    }
    assert looks == {True, False}
