"""Figures of the solution chemistry: their numbers, worked out again; words; readable in grey."""

import csv
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from functools import partial
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgba

from formulate.chemistry.acidity import ph_rule
from formulate.chemistry.dosing import acid_dose
from formulate.chemistry.protons import places_of
from formulate.chemistry.risks import risk_level, solid_risks
from formulate.chemistry.solids import mineral
from formulate.chemistry.speciation import speciate
from formulate.chemistry.titration import titration_curve
from formulate.errors import InputError
from formulate.sheets.figures import index_bars as bars_file
from formulate.sheets.figures import style
from formulate.sheets.figures.index_bars import index_bars
from formulate.sheets.figures.species_ph import label_places, species_ph
from formulate.sheets.figures.titration import titration
from formulate.stoichiometry.notation import printed_ion
from formulate.stoichiometry.solution import solution

PUBLISHED = Path(__file__).parent / "published" / "acid_base_constants.csv"
FEED = {"K": 5.0, "Ca": 4.0, "Mg": 1.5, "NH4": 1.0, "NO3": 12.0, "SO4": 2.0}
FEED |= {"P": 1.5, "HCO3": 2.0, "Fe(III)": 0.04, "dtpa": 0.03, "Zn": 0.005}
FEED = solution(FEED)
TAP = solution({"Ca": 2.35, "Mg": 0.5, "Cl": 1.0, "HCO3": 4.7}, ph=7.4)
SOFT = solution({"K": 2.0, "NO3": 1.5, "HCO3": 0.5})
CONCENTRATE = {"Ca": 30.0, "SO4": 600.0, "P": 150.0, "K": 1300.0, "Mg": 50.0}
CONCENTRATE |= {"NO3": 250.0, "Fe(III)": 1.0, "Mn": 0.5, "Zn": 0.2}
NITRIC = "nitric acid (53 %)"
AIRED = {"wanted": 5.8, "air_co2_ppm": 420}
LEAST_STEP = 10.0  # CIE L*: own choice, as in test_figures


@pytest.fixture(scope="module")
def tank():
    return solid_risks(speciate(solution(CONCENTRATE), ph=5.5))


def titrated(of, acid, *, wanted=None, ph=None, **given):
    dose = acid_dose(of, acid, ph=wanted, **given) if wanted else None
    return titration(titration_curve(of, acid), ph=ph, dose=dose)


def barred(of, *, ph=None, least=-2.0):
    return index_bars(solid_risks(speciate(of, ph=ph), least=least))


STRONG = solution({"K": 2500.0, "NO3": 2500.0})
HEALTHY = solution({"Ca": 2.0, "P": 1.0, "Mn": 0.01, "NO3": 2.0})
INERT, THIN = solution({"K": 1.0, "Cl": 1.0}), solution({"K": 1.0, "NO3": 1.0}, ph=5.0)
FORMS = ("P", "carbonate", "NH4", "iron_iii", "Ca", "Zn", "NO3")
DRAWN = {
    "titration": lambda: titrated(TAP, NITRIC),
    "titration, dose": lambda: titrated(TAP, NITRIC, wanted=5.8),
    "titration, range": lambda: titrated(TAP, NITRIC, ph=(5.5, 6.2), **AIRED),
    "titration, unsure": lambda: titrated(THIN, "KOH", wanted=5.2),
    **{form: partial(species_ph, FEED, form) for form in FORMS},
    "narrow": lambda: species_ph(FEED, "NO3", low=7.0, high=7.5),
    "wide": lambda: species_ph(FEED, "carbonate", low=2, high=12),
    "bars": lambda: barred(FEED, ph=7.5, least=-4.0),
    "bars, models": lambda: barred(solution(CONCENTRATE), ph=5.5),
    "bars, none": lambda: barred(INERT),
    "bars, salt": lambda: barred(STRONG),
    "bars, harmless": lambda: barred(HEALTHY, ph=6.0, least=0.0),
}
KINDS = tuple(DRAWN)


@pytest.fixture(scope="module")
def pictures():
    """Return a picture of each kind, and of each odd case."""
    return {kind: draw() for kind, draw in DRAWN.items()}


def number(cell):
    """Return a cell of a table as a number; what is told as under 0.1 counts as nothing."""
    return 0.0 if cell == "under 0.1" else float(cell.replace("−", "-"))


def lines_of(picture):
    """Return name to the line drawn of each species, edges of ink left out."""
    names = [column.removesuffix(" %") for column in picture.table.columns[1:]]
    lines = [line for line in picture.figure.axes[0].lines if line.get_zorder() == 3]
    return dict(zip(names, reversed(lines), strict=True))


def text_boxes(figure, *, all_of_it=True):
    """Return the box of each text, those of the axes too."""
    canvas, found = FigureCanvasAgg(figure), [*figure.texts]
    with style.drawing():
        canvas.draw()
        for axis in (x for a in figure.axes for x in (a.xaxis, a.yaxis)):
            low, high = sorted(axis.get_view_interval())
            ticks = [t for t in axis.get_major_ticks() if low <= t.get_loc() <= high]
            if all_of_it:
                found += [axis.label, *(tick.label1 for tick in ticks)]
        renderer = canvas.get_renderer()
        return [t.get_window_extent(renderer) for t in found if t.get_text()]


# --- species against pH -----------------------------------------------------------------


def counted(name, form):
    """Return how many of a form a species holds, by its formula alone."""
    if form == "carbonate":
        return 2 * name.count("(CO3)2") or name.count("CO3") + (name == "CO2")
    return name.count({"phosphate": "PO4", "zinc": "Zn", "iron_iii": "Fe"}[form])


@pytest.mark.parametrize("form", ["phosphate", "carbonate", "zinc", "iron_iii"])
def test_shares_are_those_of_the_whole_form_by_its_formulas(form):
    table = species_ph(FEED, form).table
    for ph, *cells in table.rows[:-1]:
        state = speciate(FEED, ph=float(ph))
        held = {n: counted(n, form) * v for n, v in state.species.items()}
        assert sum(held.values()) == pytest.approx(FEED.forms[form], rel=1e-9)
        told = dict(zip(table.columns[1:], map(number, cells), strict=True))
        for name, amount in held.items():
            share, column = 100 * amount / FEED.forms[form], f"{printed_ion(name)} %"
            if share > 3.0 or column in told:
                assert told[column] == pytest.approx(share, abs=0.0501), (ph, name)


@pytest.mark.parametrize("form", FORMS)
def test_shares_add_up_to_a_hundred(form):
    picture = species_ph(FEED, form)
    for row in picture.table.rows:
        cells = [number(cell) for cell in row[1:]]
        assert sum(cells) == pytest.approx(100.0, abs=0.05 * len(cells) + 1e-9)
    drawn = [line.get_ydata() for line in lines_of(picture).values()]
    assert sum(drawn) == pytest.approx(100.0, rel=1e-9)


@pytest.mark.parametrize(
    ("form", "charges", "acid", "pair"),
    [
        ("P", (1, 2), "H₂PO₄⁻", "H2PO4-/HPO4 2-"),
        ("HCO3", (0, 1), "CO₂", "CO2(aq)+H2O/HCO3-"),
        ("NH4", (1, 0), "NH₄⁺", "NH4+/NH3"),
        ("HCO3", (1, 2), "HCO₃⁻", "HCO3-/CO3 2-"),
    ],
)
def test_acid_and_base_cross_where_handbooks_say(form, charges, acid, pair):
    """In very thin water; handbook-misc gives 7.20 to 7.21 for phosphate.

    What little there is of ions moves the crossing by 0.509 (z² of the acid - z² of the
    base) √I: limiting law of Debye and Hückel (from memory).
    """
    with PUBLISHED.open(encoding="utf-8") as file:
        known = {r["acid_base_pair"]: float(r["pKa_25C"]) for r in csv.DictReader(file)}
    wanted, thin = known[pair], solution({form: 1e-5})
    picture = species_ph(thin, form, low=wanted - 0.3, high=wanted + 0.3)
    line = lines_of(picture)[acid]
    crossing = float(np.interp(50.0, 100.0 - line.get_ydata(), line.get_xdata()))
    strength = 1e-3 * speciate(thin, ph=crossing).ionic_strength
    moved = 0.509 * (charges[0] ** 2 - charges[1] ** 2) * np.sqrt(strength)
    assert crossing == pytest.approx(wanted + moved, abs=0.01)


def test_a_pair_in_twos_counts_twice():
    net = speciate(FEED, ph=9.0).net
    places = places_of(net, "carbonate")
    names = [net.species[place].name for place in places]
    assert names.count("Zn(CO3)2-2") == 2
    assert names.count("ZnCO3") == 1
    assert places_of(net, "silicate") == ()
    assert places_of(net, "nitrate") == (
        net.species.index(speciate(FEED).constants.master("nitrate")),
    )


def test_a_chelate_holds_its_iron_at_every_ph():
    # 0.03 of 0.04 mmol/L are held by the agent: 75 %
    table = species_ph(FEED, "iron_iii").table
    place = table.columns.index("FeDtpa²⁻ %")
    assert {row[place] for row in table.rows} == {"75.0"}


def test_the_own_ph_is_marked_and_told():
    own = speciate(FEED).ph
    picture = species_ph(FEED, "P")
    (mark,) = [x for x in picture.figure.axes[0].lines if x.get_zorder() == 1]
    assert mark.get_xdata() == pytest.approx([own, own], rel=1e-12)
    assert f"The solution has pH {own:.2f}." in picture.alt
    assert picture.table.rows[-1][0] == f"{own:.2f}, of the solution"
    beyond = species_ph(replace(FEED, ph=9.5), "P")
    assert [x for x in beyond.figure.axes[0].lines if x.get_zorder() == 1] == []
    words = [text.get_text() for text in beyond.figure.texts]
    assert "pH 9.50 of the solution, not in this range" in words


def test_small_species_are_gathered_and_none_above_three_percent():
    lines = lines_of(species_ph(FEED, "P"))
    drawn = {name: line.get_ydata().max() for name, line in lines.items()}
    assert list(drawn)[-1] == "others"
    assert all(peak > 3.0 for name, peak in drawn.items() if name != "others")
    state = speciate(FEED, ph=np.linspace(4.0, 9.0, 101))
    for name in state.names:
        held = counted(name, "phosphate") * state.amount(name).max()
        share = 100 * held / FEED.forms["phosphate"]
        assert share < 3.0 or drawn[printed_ion(name)] == pytest.approx(share, abs=0.05)


def test_what_cannot_be_drawn_of_species_is_told():
    stack = solution({"P": np.array([1.0, 2.0]), "K": 1.0})
    for of, form, words in (
        (FEED, "silicate", "no silicate is in it"),
        (FEED, "Fe", "sum of several forms"),
        (stack, "P", "stack"),
    ):
        with pytest.raises(InputError, match=words):
            species_ph(of, form)
    with pytest.raises(InputError, match=r"no Solution(.|\n)*highest pH"):
        species_ph("tap", "P", low=6.0, high=5.0)


# --- titration --------------------------------------------------------------------------

KOH = 39.0983 + 15.999 + 1.008  # g/mol, standard atomic masses


def test_the_table_of_an_alkali_is_what_its_potassium_gives():
    """A dose of KOH is so much K with nothing beside it; the air holds 420 ppm."""
    curve = titration_curve(SOFT, "KOH")
    table = titration(curve).table
    assert table.columns == ("g/L", "pH at once", "pH in balance with the air")
    assert len(table.rows) == 11
    for row, grams in zip(table.rows, curve.grams[::12], strict=True):
        forms = {**SOFT.forms, "potassium": 2.0 + 1000 * grams / KOH}
        made = replace(SOFT, forms=forms)
        assert number(row[0]) == pytest.approx(grams, rel=5e-3, abs=1e-12)
        assert number(row[1]) == pytest.approx(speciate(made).ph, abs=0.006)
        aerated = speciate(made, air_co2_ppm=ph_rule("air carbon dioxide")).ph
        assert number(row[2]) == pytest.approx(aerated, abs=0.006)
    assert all(number(a[1]) < number(b[1]) for a, b in pairwise(table.rows))


def test_a_liquid_is_told_in_millilitres_and_lowers_the_ph_all_the_way():
    curve = titration_curve(TAP, NITRIC)
    table = titration(curve).table
    assert table.columns[0] == "mL/L"
    last = number(table.rows[-1][0]) * curve.ingredient.density
    assert last == pytest.approx(curve.grams[-1], rel=5e-3)
    for column in (1, 2):
        ph = [number(row[column]) for row in table.rows]
        assert all(a > b for a, b in pairwise(ph))
    assert table.rows[0][1] == "7.40"  # as measured


def test_the_dose_stands_where_it_was_worked_out_with_its_interval():
    curve, dose = titration_curve(TAP, NITRIC), acid_dose(TAP, NITRIC, ph=5.8)
    picture = titration(curve, dose=dose)
    density = dose.ingredient.density
    lines = [line.get_data() for line in picture.figure.axes[0].lines]
    drawn = [[*x, *y] for x, y in lines if len(x) <= 2]
    at, *ends = (v / density for v in (dose.grams, *dose.interval))
    for wanted in ([*ends, 5.8, 5.8], [at, 5.8]):
        assert any(np.allclose(d, wanted) for d in drawn if len(d) == len(wanted))
    (row,) = [row for row in picture.table.rows if row[3]]
    assert row[:3] == (f"{at:.3f}", "5.80", f"{dose.tomorrow.ph:.2f}")
    assert f"The dose {at:.3f} mL/L" in picture.alt
    assert "Wanted is pH 5.80." in picture.alt
    assert any("80 %" in text.get_text() for text in picture.figure.texts)


def test_a_dose_for_open_water_is_told_with_what_a_meter_shows_at_once():
    dose = acid_dose(TAP, NITRIC, ph=5.8, air_co2_ppm=420)
    curve = titration_curve(TAP, NITRIC)
    (row,) = [r for r in titration(curve, dose=dose).table.rows if r[3]]
    assert row[2] == "5.80"
    assert number(row[1]) == pytest.approx(speciate(dose.solution).ph, abs=0.006)
    near = np.interp(dose.grams, curve.grams, curve.ph)
    # between two points of a steep curve
    assert number(row[1]) == pytest.approx(near, abs=0.05)


def test_what_is_wanted_lies_behind():
    curve = titration_curve(TAP, NITRIC)
    axes = titration(curve, ph=(5.5, 6.2)).figure.axes[0]
    (band,) = axes.patches
    assert (band.get_y(), band.get_height()) == pytest.approx((5.5, 0.7))
    curves = [line for line in axes.lines if len(line.get_xdata()) > 2]
    assert band.get_zorder() < min(line.get_zorder() for line in curves)
    assert len({line.get_linestyle() for line in curves}) == 2  # told apart in grey
    assert titration(curve).figure.axes[0].patches[:] == []


def test_what_cannot_be_drawn_of_a_titration_is_told():
    curve, dose = titration_curve(TAP, NITRIC), acid_dose(TAP, NITRIC, ph=5.8)
    other = acid_dose(TAP, "phosphoric acid (85 %)", ph=5.8)
    stack = acid_dose(TAP, NITRIC, ph=np.array([5.5, 5.8]))
    for of, given, words in (
        ("curve", None, "no curve"),
        (curve, 0.3, "no dose"),
        (curve, other, "the curve of nitric acid"),
        (curve, stack, "stack"),
    ):
        with pytest.raises(InputError, match=words):
            titration(of, dose=given)
    for ph in ("acid", (6.0, 5.0), (5.0, 6.0, 7.0), 15.0):
        with pytest.raises(InputError, match="wanted pH"):
            titration(curve, ph=ph, dose=dose)


# --- bars of indices --------------------------------------------------------------------


def panels_of(picture):
    """Return the panels with bars, without the key."""
    return [axes for axes in picture.figure.axes if axes.get_xlabel()]


def bars_of(axes):
    """Return place to width of every bar before the bands."""
    bars = [patch for patch in axes.patches if patch.get_zorder() == 3]
    return {round(b.get_y() + b.get_height() / 2): b.get_width() for b in bars}


def test_bars_end_at_the_indices_or_at_the_end_of_the_axis(pictures):
    state = speciate(FEED, ph=7.5)
    named, harmless = map(bars_of, panels_of(pictures["bars"]))
    rows, found = pictures["bars"].table.rows, {True: [], False: []}
    for row in rows:
        index = state.saturation_index(row[0])
        assert number(row[1]) == pytest.approx(index, abs=0.0051)
        found[mineral(row[0]).role == "harmless"].append(min(max(index, -2.5), 3.0))
    for bars, ends in ((named, found[False]), (harmless, found[True])):
        assert [bars[place] for place in range(len(ends))] == pytest.approx(ends)
        assert len(bars) == len(ends) > 3


def test_what_lies_beyond_the_axis_is_marked_and_told(pictures):
    state = speciate(FEED, ph=7.5)
    lines = [line for axes in panels_of(pictures["bars"]) for line in axes.lines]
    arrows = [
        (x.get_xdata()[0], x.get_marker()) for x in lines if x.get_marker() in "<>"
    ]
    names = [row[0] for row in pictures["bars"].table.rows]
    above = [n for n in names if state.saturation_index(n) > 3.0]
    below = [n for n in names if state.saturation_index(n) < -2.5]
    assert min(len(above), len(below)) > 0
    assert sorted(arrows) == [(-2.5, "<")] * len(below) + [(3.0, ">")] * len(above)
    told = pictures["bars"].alt.partition("Drawn to the end of the axis only: ")[2]
    assert set(told.rstrip(".").split(", ")) == {*above, *below}


def test_bands_begin_where_the_words_do(pictures, tank):
    solids = [r for r in tank.solids if r.role in ("matters", "trace")]
    shades = [to_rgba(shade) for shade in bars_file.BANDS.values()]
    axes = panels_of(pictures["bars, models"])[0]
    bands = [p for p in axes.patches if p.get_zorder() == 1]
    assert len(bands) > len(solids)
    for patch in bands:
        risk = solids[round(patch.get_y() + patch.get_height() / 2)]
        edge, level = patch.get_x(), 1 + shades.index(patch.get_facecolor())
        assert risk_level(risk.name, edge) == level
        assert risk_level(risk.name, edge - 1e-9) == level - 1
        assert edge + patch.get_width() == pytest.approx(3.0)


def test_whiskers_are_the_spread_of_the_models(pictures, tank):
    lines = [x for axes in panels_of(pictures["bars, models"]) for x in axes.lines]
    whiskers = [line.get_xdata() for line in lines if line.get_marker() == "|"]
    drawn = {tuple(np.round(ends, 9)) for ends in whiskers}
    solids = [
        r for r in tank.solids if r.role != "soluble" and min(r.high, 3.0) > r.low
    ]
    ends = [np.clip([risk.low, risk.high], -2.5, 3.0) for risk in solids]
    wanted = {tuple(np.round(pair, 9)) for pair in ends}
    assert drawn == wanted
    assert len(wanted) > 5


def test_every_danger_is_named_with_its_word(pictures, tank):
    picture = pictures["bars, models"]
    words = " ".join(text.get_text() for text in picture.figure.texts)
    assert {risk.word for risk in tank.telling} == {"watch", "likely", "certain"}
    for risk in tank.telling:
        told = picture.alt.partition(f"{risk.word.capitalize()}: ")[2]
        assert risk.name in told.partition(". ")[0]
        assert risk.name in words
    rows = {row[0]: row for row in picture.table.rows}
    assert rows["gypsum"][5] == "likely (likely to certain by model)"
    assert rows["gypsum"][6:9] == ("0", "0.3", "0.6")  # lebedev-kosorukov-2017
    assert rows["ferric hydroxide"][6] == "−1"
    assert rows["strengite"][5] == "harmless"
    assert rows["K2SO4"][4] == "95"
    assert "likely from 90 %" in rows["K2SO4"][9]


def test_a_saturated_solution_of_gypsum_has_a_bar_of_no_length():
    """15.1 mmol/kg dissolve at 25 °C (Marshall & Slusher 1966 in usgs-gypsum-tests).

    The databases compared there read that solution at -0.031 to +0.002.
    """
    state = speciate(solution({"Ca": 15.1, "SO4": 15.1}), water_kg_l=1.0)
    width = bars_of(panels_of(index_bars(solid_risks(state)))[0])[0]
    assert width == pytest.approx(0.0, abs=0.031)


def test_nothing_near_saturation_is_said(pictures):
    words = "Nothing is near saturation."
    assert words in [text.get_text() for text in pictures["bars, none"].figure.texts]
    assert pictures["bars, none"].alt.endswith(words)
    assert pictures["bars, none"].table.rows == ()
    salt = pictures["bars, salt"]
    assert words not in salt.alt
    assert "Watch: KNO3" in salt.alt
    assert salt.table.rows[0][0] == "KNO3"
    assert "none is near saturation" in pictures["bars, harmless"].alt
    with pytest.raises(InputError, match="no SolidRisks"):
        index_bars(speciate(INERT))


# --- all of them ------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_the_file_is_valid_and_says_what_is_seen(kind, pictures):
    picture = pictures[kind]
    root = ET.fromstring(picture.svg)
    told = {node.tag.partition("}")[2]: node.text for node in root}
    assert told["title"] == picture.title
    assert told["desc"] == picture.alt
    assert len(picture.alt) > 40
    assert "pH" in picture.alt
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


@pytest.mark.parametrize("kind", KINDS[:-5])
def test_no_name_hides_a_line(kind, pictures):
    figure = pictures[kind].figure
    boxes = [box.padded(-1.0) for box in text_boxes(figure, all_of_it=False)]
    axes = figure.axes[0]
    lines = [line for line in axes.lines if len(line.get_xdata()) > 2]
    assert lines
    for line in lines:
        points = axes.transData.transform(np.column_stack(line.get_data()))
        fine = np.concatenate([np.linspace(a, b, 9) for a, b in pairwise(points)])
        assert not any(box.contains(*point) for box in boxes for point in fine)


def test_names_keep_apart_though_lines_are_crowded():
    lines = [(np.array([0.0, 5.0]), np.full(2, 0.02 * n)) for n in range(12)]
    words = [f"line {n}" for n in range(12)]
    found = label_places(lines, words, 5.0, 3.0, taken=((0.0, 0.0, 2.5, 3.0),))
    assert all(left > 2.5 for left, _, _ in found)
    for (a, up, _), (b, over, _) in combinations(found, 2):
        assert abs(a - b) > 0.3 or abs(up - over) > 0.1
    assert all(ends for _, _, ends in found[:-1])  # those below others need a leader


def test_bands_and_bars_are_told_apart_in_grey():
    shades = (*bars_file.BANDS.values(), style.INK)
    levels = [style.lightness(shade) for shade in shades]
    assert min(a - b for a, b in pairwise(levels)) >= LEAST_STEP
    assert style.lightness("#FFFFFF") - levels[0] >= LEAST_STEP / 2


@pytest.mark.parametrize("kind", FORMS)
def test_lines_are_told_apart_without_colour(kind, pictures):
    """Every coloured line has an edge of ink, and of one colour no two have equal dashes."""
    axes = pictures[kind].figure.axes[0]
    edges = [tuple(line.get_ydata()) for line in axes.lines if line.get_zorder() == 2]
    drawn = list(lines_of(pictures[kind]).values())
    coloured = [d for d in drawn if d.get_color() not in (style.INK, style.QUIET)]
    assert all(tuple(line.get_ydata()) in edges for line in coloured)
    looks = re.findall(
        r'"(fill: none; [^"]*stroke-width: 2[;"][^"]*)', pictures[kind].svg
    )
    assert len(looks) == len(drawn)
    assert len(looks) == len(set(looks))
