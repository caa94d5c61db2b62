"""Figures: the drawn numbers are the recipe's, in every form; safe text; colours apart.

Expected numbers are worked out by hand from standard atomic masses (K 39.0983, N 14.007,
O 15.999, Ca 40.078); drawing files are checked against the standards of SVG and PNG.
"""

import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from itertools import combinations, pairwise
from types import SimpleNamespace

import numpy
import pytest

from formulate.errors import InputError
from formulate.ingredients.salts import salt
from formulate.ingredients.water import water
from formulate.jobs import DEMO, read_job
from formulate.outcome import run_job
from formulate.recipes.solve import solve
from formulate.recipes.target import target
from formulate.sheets.figures import style
from formulate.sheets.figures.achieved import achieved
from formulate.sheets.figures.brought import brought
from formulate.sheets.figures.ions import ions
from formulate.stoichiometry.nutrients import form, form_names, nutrient, nutrient_keys
from formulate.stoichiometry.solution import solution
from formulate.tables import read_table

FIGURES = (achieved, ions, brought)
MACROS = ("N", "P", "K", "Ca", "Mg", "S")
CATIONS = ("NH4", "K", "Ca", "Mg", "Na")  # in the order they are stacked
ANIONS = ("NO3", "P", "S", "Cl", "C")
LEAST_STEP = 10.0  # CIE L*: own choice; a step of 1 is just seen
NASTY = (
    "<script>alert('x')</script>",
    "a long name of a salt " * 4,
    "cost $\\nonsense{ $5",
    "two\nlines \x07\x00 -- > ]]> &amp;",
    '" id="body" onload="x" 硝酸钙',
)
HREF = "{http://www.w3.org/1999/xlink}href"


@pytest.fixture(scope="module")
def demo():
    return run_job(read_job(DEMO)).recipe


@pytest.fixture(scope="module")
def by_hand():
    """101.1023 g KNO3 in 100 L, potassium in the water, with the attributes of a recipe.

    KNO3 is 39.0983 + 14.007 + 3 x 15.999 = 101.1023 g/mol, so this is 10 mmol/L:
    390.983 mg/L K and 140.07 mg/L N. The water holds 1 mmol/L KCl: 39.0983 mg/L K.
    """
    nitre = salt("KNO3")
    tap = SimpleNamespace(solution=solution({"K": 1.0, "Cl": 1.0}), source_key="")
    made = solution({"K": 11.0, "NO3": 10.0, "Cl": 1.0})
    wanted = target({"K": 400.0, "NO3-N": 140.07})
    rows = (
        ("K", 400.0, 430.0813, 39.0983, 7.520325),
        ("NO3-N", 140.07, 140.07, 0.0, 0.0),
        ("Cl", None, 35.45, 35.45, None),
    )
    return SimpleNamespace(
        amounts=((nitre, 101.1023),),
        volume=100.0,
        water=tap,
        solution=made,
        target=wanted,
        misses={"K": 0.07520325, "NO3-N": 0.0},
        rows=lambda: rows,
    )


def nasty(demo):
    """Return the demo with names that nobody should type."""
    shelf = [i.renamed(NASTY[n]) for n, (i, _) in enumerate(demo.amounts[:5])]
    amounts = tuple(zip(shelf, (a for _, a in demo.amounts), strict=False))
    return SimpleNamespace(
        amounts=amounts,
        volume=demo.volume,
        water=demo.water,
        solution=demo.solution,
        target=target({"K": 120, "N": 70}, name=NASTY[0]),
        misses=demo.misses,
        rows=demo.rows,
    )


def bars(picture):
    """Return (width, height) of every rectangle drawn."""
    return [
        (patch.get_width(), patch.get_height())
        for axes in picture.figure.axes
        for patch in axes.patches
    ]


# --- the numbers ------------------------------------------------------------------------


def test_achieved_draws_and_tells_what_was_worked_out_by_hand(by_hand):
    picture = achieved(by_hand)
    widths = [width for width, _ in bars(picture)]
    for percent in (107.520325, 9.774575):  # 430.0813 / 400; 39.0983 / 400, the water
        assert any(width == pytest.approx(percent, rel=1e-9) for width in widths)
    assert picture.table.rows == (
        ("K", "400.0", "430.1", "107.5", "39.10", "▲ 7.5 % too much"),
        ("NO3-N", "140.1", "140.1", "100.0", "0", "0.0 %"),
        ("Cl", "", "35.45", "", "35.45", "not asked for"),
    )
    assert "K 430.1 instead of 400.0 mg/L (7.5 % too much)" in picture.alt
    assert "Cl 35.45 mg/L" in picture.alt


def test_brought_parts_add_up_to_what_was_worked_out_by_hand(by_hand):
    picture = brought(by_hand)
    # K: 390.983 of 430.0813 mg/L are 90.909 %, the water's 39.0983 are 9.091 %
    assert picture.table.rows == (
        ("from the water", "9.1", "", "100"),
        ("KNO3", "91", "100", ""),
        ("in all, mg/L", "430.1", "140.1", "35.45"),
    )
    lengths = sorted(width / 0.88 * 100 for width, _ in bars(picture))
    assert lengths == pytest.approx([100 / 11, 1000 / 11, 100, 100])


def test_the_demo_is_drawn_as_it_was_solved(demo):
    rows = demo.rows()
    widths = [width for width, _ in bars(achieved(demo))]
    for _, wanted, has, _, _ in rows:
        drawn = 100 * has / wanted if wanted else has
        assert any(width == pytest.approx(drawn, rel=1e-9) for width in widths)
    totals = brought(demo).table.rows[-1][1:]
    assert [float(total) for total in totals] == pytest.approx(
        [demo.solution.mg_l(row[0]) for row in rows], rel=1e-3
    )


def test_liquids_take_room_that_the_water_does_not_fill():
    acid = SimpleNamespace(
        name="acid",
        amount=lambda key: 10.0 if key == "NO3-N" else 0.0,
        millilitres=lambda amount: amount,
        source_key="",
    )
    recipe = SimpleNamespace(
        amounts=((acid, 100.0),),  # 100 mL of 1 L: a tenth
        volume=1.0,
        water=SimpleNamespace(solution=solution({"Ca": 10.0}), source_key=""),
        target=target({"Ca": 400}),
        rows=lambda: (("Ca", 400.0, 360.702, 400.78, -9.8),),
    )
    assert brought(recipe).table.rows[-1][1] == "360.7"  # 0.9 x 10 x 40.078


def test_a_column_of_ions_is_as_high_as_the_other_when_balanced():
    # 2 x 4 + 6 = 14 meq/L of each sign, by hand
    made = ions(solution({"Ca": 4.0, "K": 6.0, "NO3": 10.0, "SO4": 2.0}))
    heights = [height for _, height in bars(made)]
    assert sorted(heights) == pytest.approx([4.0, 6.0, 8.0, 10.0])
    assert [row[2] for row in made.table.rows if row[0] == "whole column"] == [
        "14.0",
        "14.0",
    ]
    assert made.alt.endswith("Both columns are equal.")


@pytest.mark.parametrize(
    ("contents", "unassigned", "words"),
    [
        ({"K": 3.0, "NO3": 2.0}, -1.0, "1.00 meq/L beside the anions (unassigned"),
        ({"K": 2.0, "NO3": 3.0}, 1.0, "1.00 meq/L beside the cations (unassigned"),
        ({"K": 2.0, "NO3": 3.0}, 0.0, "1.00 meq/L beside the cations (acid: H⁺"),
        ({"K": 3.0, "HCO3": 2.0}, 0.0, "1.00 meq/L beside the anions (base: OH⁻"),
    ],
)
def test_what_is_open_is_shown_as_such(contents, unassigned, words):
    forms = solution(contents).forms
    made = ions(SimpleNamespace(forms=forms, unassigned_charge=unassigned))
    assert words in made.alt
    assert sum(height for _, height in bars(made)) == pytest.approx(6.0)  # twice 3


def test_small_ions_are_drawn_together_and_told_apart_in_the_table(demo):
    picture = ions(demo)
    names = " ".join(row[0] for row in picture.table.rows)
    assert "5 others" in picture.alt
    for ion in ("NH₄⁺", "Fe³⁺ (iron(III))", "Mn²⁺", "Zn²⁺", "Cu²⁺", "MoO₄²⁻", "DTPA⁵⁻"):
        assert ion in names
    heights = {}
    for patch in picture.figure.axes[0].patches:
        left = patch.get_x()
        heights[left] = heights.get(left, 0.0) + patch.get_height()
    low, high = heights.values()
    assert low == pytest.approx(high)


def test_a_range_lies_behind_and_is_no_miss_inside():
    recipe = solve(target({"K": (150, 250), "Na": 0}), ["KNO3"], volume=10)
    picture = achieved(recipe)
    # middle 200 mg/L; 250 - 150 is half of it
    (drawn,) = [
        patch
        for axes in picture.figure.axes
        for patch in axes.patches
        if patch.get_width() == pytest.approx(50.0)
    ]
    front = max(p.get_zorder() for axes in picture.figure.axes for p in axes.patches)
    assert drawn.get_zorder() < front
    assert (
        picture.table.rows[0][1],
        picture.table.rows[0][5],
    ) == ("150 to 250", "in its range")
    assert "all within 5 %" in picture.alt


def test_the_alt_text_names_each_miss(demo):
    told = achieved(demo).alt
    missed = [key for key, miss in demo.misses.items() if abs(miss) > 0.05]
    assert missed == ["Ca"]
    assert all(f"{key} " in told.partition("missed:")[2] for key in missed)
    poor = solve(
        target({"K": 200, "Mo": 0.05, "Na": 0, "Cl": 0}),
        ["KCl", "KNO3"],
        volume=10,
        water=water("hard-tap-voehringen"),
    )
    words = achieved(poor).alt.partition("missed:")[2]
    assert "Mo 0 instead of 0.0500 mg/L (100.0 % too little)" in words
    assert "(none was wanted)" in words


# --- the files --------------------------------------------------------------------------


@pytest.mark.parametrize("draw", FIGURES)
def test_svg_is_the_same_each_time_and_valid(draw, demo):
    first, second = draw(demo), draw(demo)
    assert first.svg == second.svg
    root = ET.fromstring(first.svg)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert root.get("role") == "img"
    found = [node.get("id") for node in root.iter() if node.get("id")]
    assert len(found) == len(set(found))
    labels = {n.get("id"): n.text for n in root if n.tag.endswith(("title", "desc"))}
    names = root.get("aria-labelledby").split()
    assert [labels[name] for name in names] == [first.title, first.alt]
    used = [node.get(HREF)[1:] for node in root.iter() if node.get(HREF)]
    used += re.findall(r"url\(#([^)]+)\)", first.svg)
    assert used
    assert set(used) <= set(found)


def test_no_id_is_shared_by_two_figures(demo, by_hand):
    pictures = [draw(r) for draw in FIGURES for r in (demo, by_hand)]
    ids = [set(re.findall(r'\sid="([^"]+)"', p.svg)) for p in pictures]
    assert all(ids)
    assert [a & b for a, b in combinations(ids, 2) if a & b] == []


@pytest.mark.parametrize("draw", FIGURES)
def test_text_of_users_stays_text(draw, demo):
    picture = draw(nasty(demo))
    page = picture._repr_html_()
    ET.fromstring(picture.svg)
    ET.fromstring(page.replace("<br>", "<br/>"))
    assert "<script" not in page
    assert 'onload="' not in page
    assert picture.png(dpi=40)


def test_long_names_are_cut_in_the_drawing_and_whole_in_the_table(demo):
    picture = brought(nasty(demo))
    texts = [text.get_text() for text in picture.figure.texts]
    assert not any(len(text) > 100 for text in texts)
    assert any("…" in text for text in texts)
    assert NASTY[1] in [row[0] for row in picture.table.rows]


def overdone(demo):
    """Return the demo with a miss of every length, the longest 171 424-fold."""
    rows = tuple(
        (key, wanted, wanted * times if wanted else has, tap, 100.0 * (times - 1))
        for times, (key, wanted, has, tap, _) in zip(
            (0.0, 2.371, 7.412, 9.99, 94.4, 2538, 171424, *[1] * 99),
            demo.rows(),
            strict=False,
        )
    )
    misses = {row[0]: row[4] / 100 for row in rows if row[1]}
    kept = ("amounts", "volume", "water", "solution", "target")
    facts = {name: getattr(demo, name) for name in kept}
    return SimpleNamespace(rows=lambda: rows, misses=misses, **facts)


@pytest.mark.parametrize("draw", FIGURES)
def test_no_text_leaves_the_paper_and_none_overlaps(draw, demo):
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    for recipe in (demo, nasty(demo), overdone(demo)):
        figure = draw(recipe).figure
        with style.drawing():
            renderer = FigureCanvasAgg(figure).get_renderer()
            boxes = [text.get_window_extent(renderer) for text in figure.texts]
        wide, high = figure.get_size_inches() * figure.dpi
        assert all(b.x0 >= 0 and b.x1 <= wide for b in boxes)
        assert all(b.y0 >= 0 and b.y1 <= high for b in boxes)
        boxes = [b.padded(-1.5) for b in boxes]
        assert not any(a.overlaps(b) for a, b in combinations(boxes, 2))


def test_png_is_a_png_that_says_what_it_is(demo):
    data = achieved(demo).png(dpi=50)
    assert data[:8] == b"\x89PNG\r\n\x1a\n"  # PNG standard, section 5.2
    assert int.from_bytes(data[16:20]) == 360  # 7.2 in at 50 per inch
    assert b"Achieved against wanted" in data
    assert b"formulate 0." in data


@pytest.mark.parametrize("dpi", [0, -1, 1e9, float("nan"), "fine", None])
def test_a_resolution_that_is_none_is_told(dpi, demo):
    with pytest.raises(InputError, match="give a number from 1 to 600"):
        ions(demo).png(dpi=dpi)


def test_saving_goes_by_the_ending(demo, tmp_path):
    picture = ions(demo)
    picture.save(tmp_path / "a.svg")
    picture.save(str(tmp_path / "a.PNG"))
    assert (tmp_path / "a.svg").read_text(encoding="utf-8") == picture.svg
    assert (tmp_path / "a.PNG").read_bytes() == picture.png()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.PNG", "a.svg"]
    with pytest.raises(InputError, match=r"ends in \.svg or \.png"):
        picture.save(tmp_path / "a.gif")
    for ending in ("svg", "png"):
        with pytest.raises(InputError, match="cannot be written"):
            picture.save(tmp_path / "nowhere" / f"a.{ending}")


def test_html_holds_drawing_words_and_table(demo):
    page = achieved(demo)._repr_html_()
    root = ET.fromstring(page.replace("<br>", "<br/>"))
    assert root.tag == "figure"
    cells = [cell.text for cell in root.iter("td")]
    assert "159.9" in cells
    assert demo.target.source_key in page
    assert len(list(root.iter("tr"))) == 1 + len(demo.rows())


# --- nothing to draw --------------------------------------------------------------------


def test_nothing_to_draw_is_told(by_hand):
    with pytest.raises(InputError, match="no ion"):
        ions(solution({"urea": 1.0}))
    stack = solution({"K": numpy.array([1.0, 2.0]), "Cl": 1.0})
    with pytest.raises(InputError, match="stack"):
        ions(stack)
    empty = SimpleNamespace(**{**vars(by_hand), "rows": lambda: ()})
    with pytest.raises(InputError, match="nothing is dissolved"):
        brought(empty)


# --- colours ----------------------------------------------------------------------------


def test_every_nutrient_has_one_colour():
    table = {row["form"]: row["colour"] for row in read_table("colours")}
    assert list(table) == list(form_names())
    assert all(re.fullmatch("#[0-9A-F]{6}", shade) for shade in table.values())
    assert all(style.colour(key) in table.values() for key in nutrient_keys())
    for key in form_names():
        assert style.colour(form(key).symbol) == table[key]
    assert style.colour(nutrient("P2O5")) == style.colour("P")


def test_no_two_macronutrients_share_a_colour():
    shades = [style.colour(key) for key in (*MACROS, "NH4")]
    assert len(set(shades)) == len(shades)


@pytest.mark.parametrize("column", [CATIONS, ANIONS])
def test_ions_of_one_column_differ_in_grey(column):
    """Whichever of them are absent, neighbours differ in lightness."""
    levels = sorted(style.lightness(style.colour(key)) for key in column)
    assert min(b - a for a, b in pairwise(levels)) >= LEAST_STEP


def seen_red_blind(shade):
    """Return linear red, green, blue as seen without red cones (Vienot 1999, memory)."""
    parts = [int(shade[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (p**2.2 for p in parts)
    mixed = 0.11238 * red + 0.88762 * green
    return mixed, mixed, 0.00401 * (red - green) + blue


def seen_green_blind(shade):
    """Return linear red, green, blue as seen without green cones (Vienot 1999, memory)."""
    parts = [int(shade[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (p**2.2 for p in parts)
    mixed = 0.29275 * red + 0.70725 * green
    return mixed, mixed, 0.02234 * (green - red) + blue


@pytest.mark.parametrize("seen", [seen_red_blind, seen_green_blind])
def test_macronutrients_differ_to_colour_blind_eyes(seen):
    """Each pair differs by an eighth of the scale of a screen in some part."""
    for a, b in combinations(MACROS, 2):
        pairs = zip(seen(style.colour(a)), seen(style.colour(b)), strict=True)
        screen = [
            abs(max(p, 0) ** (1 / 2.2) - max(q, 0) ** (1 / 2.2)) for p, q in pairs
        ]
        assert max(screen) >= 1 / 8, (a, b)


def test_lightness_has_its_published_ends():
    # CIE: white 100, black 0; 18.42 % reflectance is L* 50, on a screen #777777
    assert style.lightness("#FFFFFF") == pytest.approx(100.0, abs=0.01)
    assert style.lightness("#000000") == 0.0
    assert style.lightness("#777777") == pytest.approx(50.0, abs=0.5)


# --- what is loaded ---------------------------------------------------------------------


def loaded_after(code):
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\nimport sys\nprint(*sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
    )
    return set(done.stdout.split())


def test_importing_loads_no_matplotlib_and_drawing_no_pyplot():
    before = loaded_after("import formulate, formulate.sheets.figures.achieved")
    assert "formulate.sheets.figures.style" in before
    assert "matplotlib" not in before
    after = loaded_after(
        "from formulate.sheets.figures.ions import ions\n"
        "from formulate.stoichiometry.solution import solution\n"
        "picture = ions(solution({'K': 1.0, 'NO3': 1.0}))\n"
        "picture.svg, picture.png(dpi=40)"
    )
    assert "matplotlib.figure" in after
    assert "matplotlib.pyplot" not in after


def test_settings_of_the_user_change_nothing(demo):
    import matplotlib

    wanted = ions(demo).svg
    with matplotlib.rc_context({"font.size": 30, "svg.fonttype": "none"}):
        assert ions(demo).svg == wanted
        assert matplotlib.rcParams["font.size"] == 30
