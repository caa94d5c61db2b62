"""Figure of a feed chart: its weeks, what is wanted, claimed EC, the largest change.

Expected numbers are worked out by hand from standard atomic masses (K 39.0983, N 14.007,
O 15.999, P 30.974): 1 g/L KNO3, 101.1023 g/mol, gives 386.72 mg/L K and 138.54 N.
"""

from dataclasses import replace

import pytest
from claims_drawn import CHARTS, DRAWN, feed, marks_of
from matplotlib.colors import to_hex
from mixing_drawn import words_of

from formulate.sheets.figures import style
from formulate.sheets.figures.chart_weeks import chart_weeks
from formulate.sheets.figures.claim_marks import verdict_mark


@pytest.fixture(scope="module")
def pictures():
    """Return a picture of each chart."""
    return {kind: DRAWN[kind]() for kind in CHARTS}


def strips_of(picture):
    """Return "EC" or nutrient to its panel."""
    panels = [a for a in picture.figure.axes if a.get_ylabel()]
    names = [
        c.split(" ")[0] for c in picture.table.columns if c[-4:] in ("S/cm", "mg/L")
    ]
    return dict(zip(names, panels, strict=True))


def line_of(axes):
    (line,) = [x for x in axes.lines if x.get_zorder() == 4]
    return line


def test_weeks_are_drawn_as_worked_out_by_hand(pictures):
    # 0.5 and 1 g/L KNO3: N 69.27 and 138.54, K 193.36 and 386.72 mg/L
    picture = pictures["weeks, two"]
    strips = strips_of(picture)
    assert list(strips) == ["EC", "N", "K"]
    n, k = (list(line_of(strips[key]).get_ydata()) for key in ("N", "K"))
    assert n == pytest.approx([69.27, 138.54], rel=1e-4)
    assert k == pytest.approx([193.36, 386.72], rel=1e-4)
    assert "Largest change: N from 1 to 2: 69.3 to 139 mg/L (+50 %)." in picture.alt
    assert "No P, Ca, Mg, S in any week." in words_of(picture)
    assert "EC claimed: 1 right, 1 wrong (week 2: 1.900 mS/cm)." in picture.alt


@pytest.mark.parametrize("kind", CHARTS)
def test_lines_and_table_are_the_weeks_of_the_chart(kind, pictures):
    chart, picture = CHARTS[kind](), pictures[kind]
    table = picture.table
    for key, axes in strips_of(picture).items():
        wanted = [w.ec if key == "EC" else w.mg_l.get(key, 0.0) for w in chart.weeks]
        line = line_of(axes)
        assert list(line.get_ydata()) == pytest.approx(wanted)
        assert list(line.get_xdata()) == list(range(len(chart.weeks)))
        unit = "mS/cm" if key == "EC" else "mg/L"
        assert axes.get_ylabel() == unit
        place = table.columns.index(f"{key} {unit}")
        told = [float(row[place]) for row in table.rows]
        assert told == pytest.approx(wanted, rel=5e-4)
        assert axes.get_ylim()[0] == 0.0
        assert axes.get_ylim()[1] > max(wanted)
        shade = style.INK if key == "EC" else style.colour(key)
        assert to_hex(line.get_color()).upper() == shade
    assert [" ".join(w.name.split()) for w in chart.weeks] == [r[0] for r in table.rows]


@pytest.mark.parametrize("kind", CHARTS)
def test_claimed_ec_is_marked_as_its_verdict(kind, pictures):
    chart, axes = CHARTS[kind](), strips_of(pictures[kind])["EC"]
    found = marks_of(axes)
    top = axes.get_ylim()[1]
    drawn = {
        round(float(x.get_xdata()[0])): x for x in axes.lines if x.get_zorder() == 5
    }
    count = 0
    for place, week in enumerate(chart.weeks):
        for claim in (c for c in week.claims if c.subject == "EC"):
            mark, count = drawn[place], count + 1
            is_beyond = claim.claimed > top
            shape = "^" if is_beyond else verdict_mark(claim.finding.verdict)["marker"]
            assert mark.get_marker() == shape
            assert mark.get_ydata()[0] == pytest.approx(min(claim.claimed, top))
            filled = to_hex(mark.get_markerfacecolor()).upper() == style.INK
            assert filled == (claim.finding.verdict == "right")
    assert count == (len(drawn) if kind != "weeks, tds" else 0)
    assert bool(found) == bool(drawn)


def test_tds_on_its_scale_is_drawn_as_the_ec_it_means(pictures):
    axes = strips_of(pictures["weeks, tds"])["EC"]
    drawn = [x for x in axes.lines if x.get_zorder() == 5]
    # scale 500: 500 ppm at 1 mS/cm, so 676 ppm are 1.352 and 1200 ppm 2.4 mS/cm
    assert [x.get_ydata()[0] for x in drawn] == pytest.approx([1.352, 2.4])
    assert [to_hex(x.get_markerfacecolor()).upper() == style.INK for x in drawn] == [
        True,
        False,
    ]
    assert "week 2: 1200 ppm (500 scale)" in pictures["weeks, tds"].alt


def test_what_is_wanted_stands_behind_the_weeks_that_have_it(pictures):
    picture = pictures["weeks"]
    strips = strips_of(picture)
    for key, first, last in (
        ("N", (90, 130), (120, 160)),
        ("K", (120, 180), (150, 300)),
    ):
        bands = [p for p in strips[key].patches if p.get_zorder() == 1]
        assert len(bands) == 7  # the eighth week has no target
        for band, ends in zip(bands, [first] * 3 + [last] * 4, strict=True):
            assert band.get_y() == pytest.approx(ends[0])
            assert band.get_y() + band.get_height() == pytest.approx(ends[1])
    dashes = [x for x in strips["P"].lines if x.get_zorder() == 2]
    # 60 mg/L P2O5 are 60 x 61.948 / 141.943 = 26.19 mg/L P
    heights = [31.0] * 3 + [26.19] * 4
    assert [x.get_ydata()[0] for x in dashes] == pytest.approx(heights, rel=1e-3)
    bands = [p for p in strips["EC"].patches if p.get_zorder() == 1]
    ends = [(p.get_y(), p.get_y() + p.get_height()) for p in bands]
    assert ends == [pytest.approx((1.0, 1.4))] * 3
    column = picture.table.columns.index("N wanted")
    cells = [row[column] for row in picture.table.rows]
    assert cells == ["90.00 to 130.0"] * 3 + ["120.0 to 160.0"] * 4 + [""]
    assert "range that is wanted" in words_of(picture)
    assert "range that is wanted" not in words_of(pictures["weeks, two"])
    assert "K in 2 of 7 weeks" in picture.alt  # 115 of 120, 117 of 150 mg/L


@pytest.mark.parametrize("kind", CHARTS)
def test_the_largest_change_is_marked_in_its_panel(kind, pictures):
    chart, picture = CHARTS[kind](), pictures[kind]
    shaded = {
        key: [p for p in axes.patches if p.get_zorder() == 0]
        for key, axes in strips_of(picture).items()
    }
    drawn = [jump for jump in chart.jumps if jump.subject in shaded]
    words = [text for text in words_of(picture) if text.startswith("largest change")]
    if not drawn:
        assert words == []
        assert not any(shaded.values())
        return
    jump, names = drawn[0], [week.name for week in chart.weeks]
    assert [key for key, found in shaded.items() if found] == [jump.subject]
    (band,) = shaded[jump.subject]
    assert band.get_x() == names.index(jump.before)
    assert band.get_width() == 1
    assert words == [f"largest change: {jump.percent:+.0f} %".replace("-", "−")]
    assert f"Largest change: {jump}".split("\n")[0][:40] in picture.alt


def test_a_larger_change_of_what_is_not_drawn_is_told(pictures):
    words = " ".join(words_of(pictures["weeks, iron"]))
    assert "Largest change of all: Fe from 1 to 2" in words
    assert "Largest change of all" not in " ".join(words_of(pictures["weeks"]))


def test_weeks_are_named_as_far_as_there_is_room(pictures):
    words = words_of(pictures["weeks, thirty"])
    assert [n for n in map(str, range(1, 31)) if n in words] == [
        str(n) for n in range(1, 31, 2)
    ]
    assert "week, every second named" in words
    assert {f"week {n}" for n in range(1, 9)} <= set(words_of(pictures["weeks"]))
    assert "week" in words_of(pictures["weeks"])
    assert "Claimed beyond the axis: week 5: 9.000 mS/cm." in words


def test_one_week_and_one_without_ec_are_drawn():
    chart = feed(1)
    assert chart_weeks(chart).alt.startswith("1 week, week 1. EC 1.1")
    lost = replace(chart, weeks=(replace(chart.weeks[0], ec=None),))
    picture = chart_weeks(lost)
    axes = strips_of(picture)["EC"]
    assert [x for x in axes.lines if x.get_zorder() == 4] == []
    assert any(text.startswith("the EC cannot be worked") for text in words_of(picture))
    assert picture.table.rows[0][1] == "not known"
    assert "EC not known" in picture.alt
