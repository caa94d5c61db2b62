"""The pictures of reference/validation.md: computed against published, from data of the tests."""

import html
import re
from pathlib import Path

import numpy as np
import phreeqc_oracle as oracle
import test_acidity
import test_conductivity
import test_precipitation
import test_published_recipes
import test_speciation
from test_chemistry_waters import reports

from formulate.chemistry.conductivity import conductivity, ec
from formulate.chemistry.speciation import speciate
from formulate.sheets.figures.picture import Picture
from formulate.sheets.figures.style import (
    INK,
    LARGE,
    QUIET,
    SMALL,
    WANTED,
    colour,
    drawing,
    new_figure,
    panel,
    write,
)
from formulate.sheets.table import Table
from formulate.stoichiometry.solution import Solution, solution

FOLDER = Path(__file__).parent.parent / "reference" / "pictures"
BLUE, RED, GREEN = colour("K"), colour("Ca"), colour("Mg")
HEIGHT, LEFT, TOP, RISE, SPAN = 3.3, 0.75, 0.85, 1.9, 6.2  # in
MARKS = ("o", "s", "^", "D")
STRONGEST = 1.1  # mol/kg of salt: to there the page states errors
DIGITS = {"%": 2, "pH": 3}
KEY = r"\b(?:nist|crc|usgs|pq386|sonneveld|steiner|hoagland)-[\w-]+"


def page(title, words):
    """Return a figure with its title and one line of words."""
    figure = new_figure(HEIGHT)
    write(figure, 0.08, 0.18, title, fontsize=LARGE, weight="bold")
    write(figure, 0.08, 0.44, words, fontsize=SMALL)
    return figure


def axes_of(figure, across, up, left=LEFT, span=SPAN):
    """Return axes with a frame at left and bottom, and their words."""
    axes = panel(figure, left, TOP, span, RISE)
    axes.set_xlabel(across, fontsize=SMALL)
    axes.set_ylabel(up, fontsize=SMALL)
    axes.spines[["left", "bottom"]].set_visible(True)
    axes.grid(color="#E4E4E4", linewidth=0.6, zorder=0)
    axes.set_axisbelow(True)
    return axes


def key_line(figure, groups, shades, marks=MARKS):
    """Write what each mark means, on one line above the axes."""
    left = LEFT
    for name, mark, shade in zip(groups, marks, shades, strict=False):
        axes = panel(figure, left, 0.58, 0.16, 0.16)
        axes.set(xlim=(-1, 1), ylim=(-1, 1))
        axes.axis("off")
        axes.plot(0, 0, mark, color=shade, markeredgecolor=INK, markersize=5)
        write(figure, left + 0.2, 0.66, name, fontsize=SMALL)
        left += 0.45 + 0.075 * len(name)


def dots(axes, x, y, place, shade):
    """Draw points with the mark of their group."""
    axes.plot(
        x, y, MARKS[place], color=shade, markeredgecolor=INK, markeredgewidth=0.6,
        markersize=4.5, linestyle="none", zorder=3,
    )  # fmt: skip


def signed(value, digits):
    """Return a number with its sign; nothing has none."""
    text = f"{value:+.{digits}f}"
    return text if float(text) else text[1:]


def off_rows(groups, unit):
    """Return a row for each group: how many points, least, median and greatest."""
    digits = DIGITS[unit]
    return tuple(
        (name, str(len(y)), *(signed(f(y), digits) for f in (min, np.median, max)))
        for name, (_, y) in groups.items()
    )


def made(key, title, alt, groups, unit, figure, source):
    """Return a picture with the extremes of its groups as a table."""
    columns = ("points", "number", f"lowest, {unit}", "median", "highest")
    table = Table(key, title, columns, off_rows(groups, unit), (1, 2, 3, 4))
    return Picture(key, title, alt, table, f"sources: {source}", figure)


def told(groups, unit):
    """Return the extremes in words, for an alt text."""
    return "; ".join(
        f"{name}, {number} points, {low} to {high} {unit}"
        for name, number, low, _, high in off_rows(groups, unit)
    )


# --- the pictures --------------------------------------------------------------------------


def ec_points():
    """Return group to published EC in mS/cm and how far ours is off in percent."""
    of = test_conductivity
    standards = [
        (k, conductivity(of.molal({"K": float(m), "Cl": float(m)}, t)).ec)
        for t, m, k in of.KCL
    ]
    salts = [
        (k, ec(solution({i: 1000 * n * c for i, n in of.IONS[salt][0].items()})))
        for salt, c, k in of.SALTS
    ]
    taps = [(tap.ec, ec(speciate(tap.solution))) for _, tap in reports()]
    names = ("KCl standards, 5 to 35 °C", "six salts, handbook", "water reports")
    return {
        name: ([p for p, _ in pairs], [100 * (v / p - 1) for p, v in pairs])
        for name, pairs in zip(names, (standards, salts, taps), strict=True)
    }


def ec_picture():
    """Return the EC as computed against standards, salts and water reports."""
    groups, title = ec_points(), "Electrical conductivity, computed against measured"
    shades = (BLUE, RED, GREEN)
    with drawing():
        figure = page(title, "Deviation in percent of what is published; grey: 4 %.")
        axes = axes_of(figure, "published EC, mS/cm", "off, %")
        axes.axhspan(-4, 4, color=WANTED, zorder=0)
        axes.axhline(0, color=INK, linewidth=0.8, zorder=1)
        axes.set_xscale("log")
        axes.set_xticks([0.1, 1, 10], ["0.1", "1", "10"])
        for place, (x, y) in enumerate(groups.values()):
            dots(axes, x, y, place, shades[place])
        x, y = min(zip(*groups["water reports"], strict=True), key=lambda p: p[1])
        axes.annotate(
            "prints an EC that its ions do not bear", (x, y), (8, 0), va="center",
            textcoords="offset points", fontsize=SMALL,
        )  # fmt: skip
        key_line(figure, groups, shades)
    every = [value for x, _ in groups.values() for value in x]
    low, high = min(every), max(every)
    alt = f"{title}, published EC from {low:.3g} to {high:.3g} mS/cm: {told(groups, '%')}."
    source = "nist-kcl, crc-conductivity-dilute, crc-kno3-code, reports in tests/waters"
    return made("ec", title, alt, groups, "%", figure, source)


def gypsum_points():
    """Return group to where it was measured (°C or mol/kg), measured and ours, mmol/kg."""
    found = {}
    for row in test_precipitation.MEASURED:
        salt, celsius = float(row["salt_mol_kgw"] or 0), float(row["temperature_C"])
        if celsius > 50 or salt > STRONGEST or (salt and celsius != 25):
            continue
        name = {"none": "in water"}.get(row["salt"], f"in {row['salt']}, 25 °C")
        measured = 1000 * float(row["gypsum_dissolved_mol_kgw"])
        ours = 1000 * test_precipitation.dissolved(row)
        place = salt if salt or row["salt"] != "none" else celsius
        found.setdefault(name, []).append((place, measured, ours))
    return {name: np.array(sorted(rows)).T for name, rows in found.items()}


def gypsum_picture():
    """Return how much gypsum dissolves, measured and computed."""
    points, title = gypsum_points(), "Gypsum that dissolves, measured and computed"
    shades, names = (
        (BLUE, RED, GREEN),
        ("in water", "in NaCl, 25 °C", "in Na2SO4, 25 °C"),
    )
    words = "Marks: measured. Lines: this package. mmol in a kilogram of water."
    with drawing():
        figure = page(title, words)
        water = axes_of(figure, "°C, in water", "mmol/kg", LEFT, 2.4)
        brine = axes_of(figure, "mol/kg of the salt, at 25 °C", "", LEFT + 3.1, 3.1)
        for place, name in enumerate(names):
            x, measured, ours = points[name]
            axes = brine if place else water
            axes.plot(x, ours, color=INK, linewidth=1.4, zorder=2)
            dots(axes, x, measured, place, shades[place])
            if place:
                write_at(axes, x[-1], ours[-1], name.split(",")[0].removeprefix("in "))
        water.set_ylim(12, 18)
        brine.set(xlim=(-0.05, 1.4), ylim=(0, None))
        key_line(figure, names, shades)
    groups = {n: (points[n][0], 100 * (points[n][2] / points[n][1] - 1)) for n in names}
    alt = f"{title}; ours against measurement: {told(groups, '%')}."
    return made("gypsum", title, alt, groups, "%", figure, "usgs-gypsum-tests")


def write_at(axes, x, y, words):
    """Write words behind the end of a line."""
    axes.annotate(words, (x, y), (4, 0), textcoords="offset points", fontsize=SMALL,
                  va="center")  # fmt: skip


def ph_points():
    """Return dose, our pH and that of IPhreeqc, a row for each of forty titrations."""
    engine, found = oracle.engine(oracle.database("Amm.dat")), []
    for held, dose in test_speciation.titrations(40, 11):
        state = speciate(held)
        text = oracle.solutions_text(test_speciation.per_kg(state))
        theirs = np.array(oracle.run(engine, text, ['-LA("H+")'])["v0"])
        found.append((dose, np.asarray(state.ph), theirs))
    return found


def standard_points():
    """Return the published pH of five standards at 25 °C, and how far ours are off."""
    of, x, y = test_acidity, [], []
    for contents, published in (
        (of.PHOSPHATE, 6.865), (of.WEAK_PHOSPHATE, 7.413), (of.CARBONATE, 10.012),
        (of.BORAX, 9.180), (of.CITRATE, 3.776),
    ):  # fmt: skip
        held = test_conductivity.molal(contents)
        x.append(published)
        y.append(speciate(Solution(held.forms)).ph - published)
    return x, y


def ph_picture():
    """Return the pH against IPhreeqc along titrations, and against standards."""
    runs, standards = ph_points(), standard_points()
    title = "pH, computed against IPhreeqc 3.8.6 and against standards"
    words = "Lines: 40 feeds titrated with acid and alkali, our constants against Amm.dat. Marks: standards."
    with drawing():
        figure = page(title, words)
        axes = axes_of(figure, "pH", "off, pH")
        axes.axhspan(-0.02, 0.02, color=WANTED, zorder=0)
        axes.axhline(0, color=INK, linewidth=0.8, zorder=1)
        for _, ours, theirs in runs:
            axes.plot(theirs, ours - theirs, color=QUIET, linewidth=0.7, zorder=2)
        dots(axes, *standards, 0, BLUE)
        axes.set_ylim(-0.045, 0.045)
        key_line(figure, ("pH standards at 25 °C; grey: 0.02",), (BLUE,))
    apart = np.concatenate([ours - theirs for _, ours, theirs in runs])
    groups = {"40 titrations": ([], apart), "pH standards": standards}
    theirs = np.concatenate([theirs for *_, theirs in runs])
    low, high = theirs.min(), theirs.max()
    alt = f"{title}, from pH {low:.1f} to {high:.1f}: {told(groups, 'pH')}."
    source = "pq386-phreeqc; standards as in tests/test_acidity.py"
    return made("ph", title, alt, groups, "pH", figure, source)


def recipe_points():
    """Return solution to ion to how far the built solution is off its printed one, %."""
    of, found = test_published_recipes, {}
    for name, row in of.SUPPLIES.items():
        recipe = of.solve(name, [*of.MACROS, *of.AMMONIUM, *of.TRACES], volume=1000)
        built = of._made(recipe)
        printed = {ion: float(row[f"{ion}_mmol_L"]) for ion in of.IONS}
        found[name] = {
            ion: 100 * (built.mmol_l(ion) / value - 1)
            for ion, value in printed.items()
            if value
        }
    return found


def recipe_picture():
    """Return published supply solutions built from ordinary salts, ion by ion."""
    points = recipe_points()
    title = "Published supply solutions built from ordinary salts"
    words = "Deviation of every ion from its printed value, in percent; grey: 0.2 %."
    with drawing():
        figure = page(title, words)
        axes = axes_of(figure, "off, %", "", 2.35, 4.6)
        axes.axvspan(-0.2, 0.2, color=WANTED, zorder=0)
        axes.axvline(0, color=INK, linewidth=0.8, zorder=1)
        for line, offs in enumerate(points.values()):
            for ion, value in offs.items():
                axes.plot(value, -line, "o", color=colour(ion), markeredgecolor=INK,
                          markersize=4.5, zorder=3)  # fmt: skip
        names = [name.removeprefix("sv-").replace("-", " ") for name in points]
        axes.set_yticks([-n for n in range(len(points))], names, fontsize=SMALL)
        axes.set_xlim(-0.3, 0.3)
        ions = test_published_recipes.IONS
        key_line(figure, ions, [colour(ion) for ion in ions], "o" * len(ions))
    every = [value for offs in points.values() for value in offs.values()]
    groups = {f"{len(points)} solutions, every ion": ([], every)}
    alt = f"{title}: {told(groups, '%')}."
    source = "sonneveld-voogt-2009, steiner-1984, hoagland-umol-page"
    return made("recipes", title, alt, groups, "%", figure, source)


PICTURES = {
    "ec": ec_picture,
    "gypsum": gypsum_picture,
    "ph": ph_picture,
    "recipes": recipe_picture,
}


# --- the page ------------------------------------------------------------------------------


def marked(key, text):
    """Return a part of the page between its two marks."""
    return f"<!-- picture {key} -->\n\n{text}\n\n<!-- end of picture {key} -->"


def drawn(key):
    """Draw a picture, write its file, and return its part of the page."""
    picture = PICTURES[key]()
    FOLDER.mkdir(exist_ok=True)
    picture.save(FOLDER / f"{key}.svg")
    head = " | ".join(picture.table.columns)
    lines = [head, " | ".join("---" for _ in picture.table.columns)]
    lines += [" | ".join(row) for row in picture.table.rows]
    table = "\n".join(f"| {line} |" for line in lines)
    alt = html.escape(picture.alt, quote=False).replace("[", "(").replace("]", ")")
    sources = re.sub(KEY, r"[\g<0>](sources.md#\g<0>)", picture.source)
    text = f"![{alt}](pictures/{key}.svg)\n\n{table}\n\nS{sources[1:]}."
    return marked(key, text)


def redrawn(text):
    """Return a page with every picture drawn anew, all else as it was."""
    for key in PICTURES:
        start, end = marked(key, "\0").split("\0")
        before, _, rest = text.partition(start)
        _, found, after = rest.partition(end)
        if not found:
            raise SystemExit(f"the page has no place for the picture {key}")
        text = before + drawn(key) + after
    return text
