"""Figures of claims: numbers of their objects, verdicts told by shape, words, odd cases.

Expected numbers are worked out by hand from standard atomic masses (K 39.0983, N 14.007,
O 15.999): 1 g/L KNO3, 101.1023 g/mol, gives 386.72 mg/L K, 465.85 K2O, 138.54 N.
"""

import math
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import combinations, pairwise

import pytest
from claims_drawn import CHECKS, COMPARED, DRAWN, KEYS, KINDS, REPORTS, G, marks_of
from mixing_drawn import LEAST_STEP, panel_of, text_boxes, words_of

from formulate.claims.finding import VERDICTS
from formulate.errors import InputError
from formulate.sheets.figures import style
from formulate.sheets.figures.assay_bars import assay_bars
from formulate.sheets.figures.chart_weeks import chart_weeks
from formulate.sheets.figures.claim_marks import claim_marks, note_lines, verdict_mark
from formulate.sheets.figures.product_bars import SHADES, product_bars


@pytest.fixture(scope="module")
def pictures():
    """Return a picture of each kind, and of each odd case."""
    return {kind: draw() for kind, draw in DRAWN.items()}


# --- claims of a dose -------------------------------------------------------------------


def test_claims_are_drawn_as_worked_out_by_hand(pictures):
    picture = pictures["claims"]
    marks = marks_of(panel_of(picture))
    for place, percent in enumerate((387 / 386.72, 387 / 465.85, 150 / 138.54)):
        assert marks[place][1] == pytest.approx(100 * percent, rel=1e-4)
    assert [marks[place][2] for place in range(3)] == [True, False, False]
    words = words_of(picture)
    assert {"−16.9 %", "+8.3 %", "none in it"} <= set(words)
    assert "wrong; right as K" in words
    # a whole number may be rounded, half a unit both ways, or cut, one unit below
    told = "K2O 387.0 mg/L claimed, 465.8 − 1.0, + 0.50: −16.9 %, wrong; right as K"
    assert told in picture.alt


@pytest.mark.parametrize("kind", CHECKS)
def test_the_table_of_claims_is_the_check(kind, pictures):
    check, table = CHECKS[kind](), pictures[kind].table
    for claim, row in zip(check.claims, table.rows, strict=True):
        cells = dict(zip(table.columns, row, strict=True))
        assert (cells["claim"], cells["unit"]) == (claim.subject, claim.unit)
        assert float(cells["claimed"]) == pytest.approx(claim.claimed, rel=5e-4)
        assert float(cells["computed"]) == pytest.approx(claim.computed, rel=5e-4)
        sides = [float(cells[name]) for name in ("margin below", "above")]
        assert sides == pytest.approx(claim.sides, rel=5e-2)
        assert cells["verdict"] == claim.finding.verdict
        if claim.computed:
            percent = 100 * claim.claimed / claim.computed
            told = float(cells["% of what the dose gives"])
            assert told == pytest.approx(percent, rel=5e-4)


@pytest.mark.parametrize("kind", CHECKS)
def test_marks_tell_the_verdict_and_bands_the_margin(kind, pictures):
    check, axes = CHECKS[kind](), panel_of(pictures[kind])
    low, high = axes.get_xlim()
    marks = marks_of(axes)
    bands = {round(p.get_y() + p.get_height() / 2): p for p in axes.patches}
    for place, claim in enumerate(check.claims[:20]):
        shape = verdict_mark(claim.finding.verdict)["marker"]
        if not claim.computed:
            assert marks.get(place, (">",))[0] == ">"
            assert (place in marks) == (claim.claimed > 0)
            continue
        at = 100 * claim.claimed / claim.computed
        shape = "<" if at < low else ">" if at > high else shape
        found = marks[place]
        assert found[0] == shape
        assert found[1] == pytest.approx(min(max(at, low), high))
        assert found[2] == (claim.finding.verdict == "right")
        below, above = (100 * side / claim.computed for side in claim.sides)
        ends = (max(100 - below, low), min(100 + above, high))
        band = bands[place]
        assert (band.get_x(), band.get_x() + band.get_width()) == pytest.approx(ends)


def test_what_is_far_off_ends_in_an_arrow_and_is_told(pictures):
    # label: 15 % N, 20 % K2O; 343 of 150 mg/L N, 1660 of 166.0 mg/L K, 5 of 50 mg/L Ca
    picture = pictures["claims, far"]
    assert panel_of(picture).get_xlim() == (50.0, 150.0)
    words = words_of(picture)
    assert {"2.29 times", "10 times", "−90.0 %", "> 999 times"} <= set(words)
    assert "none, as claimed" in words
    for part in ("N 343.0 mg/L claimed", "2.29 times, wrong", "10 times, impossible"):
        assert part in picture.alt


def test_units_of_claims_stand_in_their_rows_and_never_at_the_axis(pictures):
    picture = pictures["claims, far"]
    assert {"mg/L", "uS/cm", "ppm (700 scale)"} <= set(words_of(picture))
    assert panel_of(picture).get_xlabel() == "% of what the dose gives"


def test_claims_for_which_there_is_no_room_are_named(pictures):
    picture = pictures["claims, many"]
    assert len(CHECKS["claims, many"]().claims) == 22
    assert sum(text in KEYS.split() for text in words_of(picture)) == 20
    (note,) = [text for text in words_of(picture) if text.startswith("Left out")]
    assert "Fe (wrong), Mn (wrong)" in note
    assert len(picture.table.rows) == 22
    assert "more wrong" in picture.alt


def test_an_ec_that_cannot_be_worked_out_has_no_mark():
    check = CHECKS["claims"]()
    lost = [c for c in check.claims if c.subject == "EC"]
    unknown = replace(lost[0], computed=None, parts={})
    picture = claim_marks(replace(check, claims=(unknown,)))
    assert marks_of(panel_of(picture)) == {}
    assert "not worked out" in words_of(picture)
    assert picture.table.rows[0][2] == "not known"


# --- laboratory against guarantee -------------------------------------------------------


def test_assays_are_drawn_as_worked_out_by_hand(pictures):
    # mean of 9.3 and 9.5 of 10 % N: 94 %; 0.58 allowed below (aapfco-ia, memory), so the
    # least is 9.42 and ± 0.1 of the laboratory reaches over it; Fe 0.065 of 0.1 %: 65 %
    picture = pictures["assay"]
    axes, keys = panel_of(picture), list(G)
    marks = marks_of(axes)
    assert marks[0][:2] == ("D", pytest.approx(94.0))
    assert marks[keys.index("Fe")] == ("o", pytest.approx(65.0), False)
    assert marks[keys.index("Mg")] == ("o", pytest.approx(94.0), True)
    assert "10 %, found 9.4 ± 0.10" in words_of(picture)
    bands = {round(p.get_y() + p.get_height() / 2): p for p in axes.patches}
    assert bands[0].get_x() == pytest.approx(94.2)
    assert bands[0].get_x() + bands[0].get_width() == pytest.approx(axes.get_xlim()[1])
    reach = next(x for x in axes.lines if x.get_zorder() == 3)
    assert list(reach.get_xdata()) == pytest.approx([93.0, 95.0])
    samples = [x for x in axes.lines if x.get_zorder() == 4]
    assert [float(x.get_xdata()[0]) for x in samples[:2]] == pytest.approx([93.0, 95.0])


def test_the_eu_looks_both_ways(pictures):
    # eu-2019-1009, memory: N and P2O5 25 % of what is declared, at most 2 points, both ways:
    # 2 points of 10 % N are 20 %, 1.25 of 5 % P2O5 are 25 %
    axes = panel_of(pictures["assay, eu"])
    report = REPORTS["assay, eu"]()
    ends = [(p.get_x(), p.get_x() + p.get_width()) for p in axes.patches[:2]]
    assert ends == [pytest.approx((80, 120)), pytest.approx((75, 125))]
    bands = {round(p.get_y() + p.get_height() / 2): p for p in axes.patches}
    for place, allowed in enumerate(report.allowances):
        low, high = 100 * allowed.low / allowed.guarantee, allowed.high
        assert bands[place].get_x() == pytest.approx(low)
        end = min(100 * high / allowed.guarantee, axes.get_xlim()[1])
        assert bands[place].get_x() + bands[place].get_width() == pytest.approx(end)
        assert end > 100
    assert any("both ways" in text for text in words_of(pictures["assay, eu"]))


@pytest.mark.parametrize("kind", REPORTS)
def test_the_table_of_an_assay_is_the_report(kind, pictures):
    report, table = REPORTS[kind](), pictures[kind].table
    for line, finding, allowed, row in zip(
        report.lines, report.findings, report.allowances, table.rows, strict=True
    ):
        cells = dict(zip(table.columns, row, strict=True))
        assert cells["nutrient"] == line.key
        assert float(cells["guaranteed %"]) == pytest.approx(line.guarantee, rel=5e-4)
        assert (cells["verdict"], cells["what"]) == (finding.verdict, finding.what)
        found = cells["found % (mean)"]
        if not line.values:
            assert found == "not analysed"
            continue
        assert float(found) == pytest.approx(line.mean, rel=5e-4)
        samples = [float(text) for text in cells["samples %"].split(", ")]
        assert samples == pytest.approx(list(line.values), rel=5e-4)
        if allowed is None:
            assert cells["least allowed %"] == "not known"
            continue
        assert float(cells["least allowed %"]) == pytest.approx(allowed.low, rel=5e-4)


@pytest.mark.parametrize("kind", REPORTS)
def test_means_tell_their_verdict_and_samples_are_all_there(kind, pictures):
    report, axes = REPORTS[kind](), panel_of(pictures[kind])
    low, high = axes.get_xlim()
    wanted = []
    for line, finding in zip(report.lines, report.findings, strict=True):
        if not line.values or not line.guarantee:
            continue
        at = 100 * line.mean / line.guarantee
        shape = verdict_mark(finding.verdict)["marker"]
        shape = "<" if at < low else ">" if at > high else shape
        at = pytest.approx(min(max(at, low), high))
        wanted.append((shape, at, finding.verdict == "right"))
    if kind != "assay, many":  # where some are left out
        assert list(marks_of(axes).values()) == wanted
    count = sum(len(line.values) for line in report.lines if len(line.values) > 1)
    assert len([x for x in axes.lines if x.get_zorder() == 4]) == count
    assert len(marks_of(axes)) <= len(wanted)


def test_what_was_not_analysed_or_has_no_allowance_is_told(pictures):
    words = words_of(pictures["assay"])
    assert {"no value", "2 %, not analysed", "cannot tell"} <= set(words)
    assert "S 2 % guaranteed, not analysed: cannot tell" in pictures["assay"].alt
    words = words_of(pictures["assay, none known"])
    assert "cannot tell; no allowance known" in words
    assert "right; 0 % promises nothing" in words
    assert "no 100 %" in words
    assert len(panel_of(pictures["assay, none known"]).patches) == 0


def test_a_mean_beyond_the_axis_is_an_arrow_with_its_number(pictures):
    picture = pictures["assay"]
    assert marks_of(panel_of(picture))[7][0] == ">"  # Mo: 0.004 of 0.0005 %
    assert "800.0 %" in words_of(picture)
    # 0.0083 of 0.0005 % are 16.6 times; 21 of 0.02 % are 1050 times
    words = words_of(pictures["assay, beyond"])
    assert {"16.6 times", "> 999 times", "0.0005 %, found 0.0083 ± 0.10"} <= set(words)


def test_rules_and_overall_index_stand_beneath(pictures):
    text = " ".join(words_of(pictures["assay"]))
    assert "Rule: US investigational allowances for N, available P2O5 and K2O" in text
    assert "Overall index, all main nutrients: cannot tell; between" in text
    assert "Overall index: cannot tell." in pictures["assay"].alt
    assert "Overall index" not in " ".join(words_of(pictures["assay, eu"]))


def test_notes_lose_nothing_until_they_are_too_long():
    note = " ".join(f"word{n}" for n in range(30))
    assert " ".join(note_lines([note])) == note
    long = note_lines([note * 9])
    assert len(long) == 3
    assert long[-1].endswith("…")


# --- products -----------------------------------------------------------------------------


def groups_of(picture):
    """Return the widths of the bars of each nutrient that is drawn, top down."""
    panels = [a for a in picture.figure.axes if a.get_xlim() == (0.0, 100.0)]
    return [[p.get_width() for p in a.patches if p.get_zorder() == 3] for a in panels]


def test_products_are_drawn_as_worked_out_by_hand(pictures):
    # KNO3 at 2.0 a kg: 138.54 / 2 = 69.27 g N and 386.72 / 2 = 193.36 g K for 1;
    # K2SO4, 174.26 g/mol, at 1.5: 448.74 / 1.5 = 299.2 g K, 184.01 / 1.5 = 122.7 g S
    picture = pictures["products"]
    of_k = [100 * 193.36 / 299.2, 100.0]
    assert groups_of(picture) == [[100.0], pytest.approx(of_k, rel=1e-3), [100.0]]
    words = words_of(picture)
    assert {"69.3 g", "193 g", "299 g", "123 g", "none"} <= set(words)
    assert "K: saltpetre 193 g, sulfate of potash 299 g" in picture.alt
    bold = [t.get_text() for t in picture.figure.texts if t.get_weight() == "bold"]
    assert {"69.3 g", "299 g", "123 g"} <= set(bold)
    assert "193 g" not in bold


def test_without_a_price_products_are_compared_by_mass(pictures):
    # 1 g KNO3 holds 386.7 mg K; 2 x 39.0983 of 174.26 g/mol K2SO4 are 448.7 mg
    picture = pictures["products, no price"]
    assert "A gram of each product holds" in " ".join(words_of(picture))
    assert {"387 mg/g", "449 mg/g"} <= set(words_of(picture))
    assert picture.table.columns[2] == "mg/g"


def test_liquids_of_unknown_density_are_compared_by_volume(pictures):
    # 2 mmol/mL nitrate are 28.01 mg/mL N; 1 mmol/mL of potassium 39.10 mg/mL
    picture = pictures["products, liquid"]
    assert {"28.0 mg/mL", "14.0 mg/mL", "39.1 mg/mL"} <= set(words_of(picture))
    assert "A millilitre of each product holds" in picture.alt
    assert groups_of(picture) == [pytest.approx([100, 50]), pytest.approx([100, 100])]


@pytest.mark.parametrize("kind", COMPARED)
def test_the_table_of_products_is_the_comparison(kind, pictures):
    found, table = COMPARED[kind](), pictures[kind].table
    is_money = any(share.mg_for_money is not None for share in found.shares)
    for share, row in zip(found.shares, table.rows, strict=True):
        cells = dict(zip(table.columns, row, strict=True))
        name = " ".join(share.name.split())
        assert (cells["nutrient"], cells["product"]) == (share.key, name)
        value = share.mg_per_ml if kind.endswith("liquid") else share.mg_per_gram
        if is_money:
            value = None if share.mg_for_money is None else share.mg_for_money / 1000
        cell = row[2]
        if not share.is_there:
            assert cell == ("0" if share.told else "")
            assert share.told or cells["known"] == "not told"
        elif value is None or math.isinf(value):
            assert cells["known"] == ("no price" if value is None else "free")
        else:
            assert float(cell) == pytest.approx(value, rel=5e-4)


def test_what_is_not_told_free_or_without_price_is_told_in_words(pictures):
    words = words_of(pictures["products, far"])
    assert {"not told", "no price", "none"} <= set(words)
    words = words_of(pictures["products, free"])
    assert "free" in words
    axes = [a for a in pictures["products, free"].figure.axes if len(a.lines)]
    assert [x.get_marker() for a in axes for x in a.lines] == [">", ">"]


def test_forms_of_nitrogen_are_drawn_only_where_they_differ(pictures):
    assert {"NO3-N", "NH4-N", "urea-N"} <= set(words_of(pictures["products, one key"]))
    assert "NO3-N" not in words_of(pictures["products"])
    assert "NO3-N" in [row[0] for row in pictures["products"].table.rows]


def test_of_many_products_those_that_give_most_are_drawn(pictures):
    picture = pictures["products, many"]
    assert max(map(len, groups_of(picture))) <= 8
    words = words_of(picture)
    assert "Of N, K the 8 products that give most are drawn." in words
    assert "Of each nutrient only the products that bring it are drawn." in words
    assert "bag 9, NaCl" in words
    assert len(picture.table.rows) == len(COMPARED["products, many"]().shares)


def test_shades_of_products_differ_in_grey():
    levels = sorted(map(style.lightness, SHADES))
    assert min(b - a for a, b in pairwise(levels)) >= LEAST_STEP


# --- all of them ------------------------------------------------------------------------

FIGURES = (claim_marks, assay_bars, chart_weeks, product_bars)


@pytest.mark.parametrize("draw", FIGURES)
@pytest.mark.parametrize("thing", [None, 5, "check", {"K": 5.0}, ()])
def test_what_cannot_be_drawn_is_told(draw, thing):
    with pytest.raises(InputError, match=f"{draw.__name__}(.|\n)*give what"):
        draw(thing)


def test_every_verdict_has_a_mark_of_its_own():
    looks = [
        (verdict_mark(v)["marker"], verdict_mark(v)["mfc"] == style.INK)
        for v in VERDICTS
    ]
    assert len(set(looks)) == len(VERDICTS)
    assert [filled for _, filled in looks] == [True, False, False, False]


@pytest.mark.parametrize("kind", KINDS)
def test_the_file_is_valid_and_says_what_is_seen(kind, pictures):
    picture = pictures[kind]
    root = ET.fromstring(picture.svg)
    told = {node.tag.partition("}")[2]: node.text for node in root}
    assert told["title"] == picture.title
    assert told["desc"] == " ".join(picture.alt.split())
    assert len(picture.alt) > 40
    assert picture.source.startswith("formulate 0.")
    page = picture._repr_html_().replace("<br>", "<br/>")
    lines = list(ET.fromstring(page).iter("tr"))
    assert len(lines) == 1 + len(picture.table.rows)
    assert all(len(row) == len(picture.table.columns) for row in picture.table.rows)


@pytest.mark.parametrize("kind", ["claims, far", "assay", "weeks", "products, far"])
def test_the_same_is_drawn_twice(kind, pictures):
    assert DRAWN[kind]().svg == pictures[kind].svg


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind.endswith("far")])
def test_names_from_anybody_are_text(kind, pictures):
    picture = pictures[kind]
    assert "<b>" not in picture._repr_html_()
    assert "<b>" not in picture.svg
    words = words_of(picture)
    assert any("$\\f" in text for text in words)
    assert all("\n" not in text for text in words)


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
