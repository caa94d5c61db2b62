"""Achieved against wanted, nutrient by nutrient, in percent of what was wanted.

Macro- and micronutrients differ a thousandfold, so the axis is percent and mg/L stand at the
line. Wanted lies behind, achieved before it, the part of the water is hatched.
"""

from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.style import (
    HATCH,
    INK,
    LARGE,
    QUIET,
    SMALL,
    WANTED,
    WITHIN,
    colour,
    drawing,
    fitted,
    new_figure,
    panel,
    write,
)
from formulate.sheets.tables import Table
from formulate.tables import recipe_rule
from formulate.working import printed, printed_mg_l, printed_percent

__all__ = ["achieved"]

ROW, HEAD, GAP, FOOT = 0.29, 0.98, 0.62, 0.55  # in
NAME, LEFT, SPAN = 0.08, 0.95, 2.75  # in
COLUMNS = {"wanted": 4.62, "reached": 5.42, "off": 5.56}  # in: right, right, left edge
LEAST_AXIS, MOST_AXIS, BEYOND = 125.0, 210.0, 200.0  # % of wanted
MANY = 900.0  # %: from here on told as so many times
MOST_TOLD = 8  # nutrients named in an alt text


def achieved(recipe):
    """
    Return a picture of what a recipe achieves against what was wanted.

    Parameters
    ----------
    recipe : Recipe
        The recipe, or whatever has its rows, misses, target and water.

    Returns
    -------
    Picture
        One bar per nutrient in percent of wanted; below, in mg/L, what was not wanted.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> print(achieved(recipe).alt)
    Achieved against wanted for 1 nutrient: all within 5 % of what was wanted. \
Not asked for by name: NO3-N 71.65 mg/L.
    """
    rows = recipe.rows()
    named = [row for row in rows if row[1]]
    others = [row for row in rows if not row[1]]
    with drawing():
        figure = _drawn(recipe, named, others)
    return Picture(
        key="achieved",
        title="Achieved against wanted",
        alt=_alt(recipe, named, others),
        table=_table(recipe, rows),
        source=made_by(recipe.target, recipe.water, *(i for i, _ in recipe.amounts)),
        figure=figure,
    )


def _limit():
    """Return the greatest miss that is not told. [%]"""
    return recipe_rule("miss").number("high")


def _drawn(recipe, named, others):
    blocks = [rows for rows in (named, others) if rows]
    height = HEAD + ROW * (len(named) + len(others)) + FOOT
    height += GAP * (len(blocks) - 1) + (0.3 if named and others else 0.0)
    figure = new_figure(height)
    _headings(figure, recipe)
    top = HEAD
    if named:
        _percent_panel(figure, recipe, named, top)
        top += ROW * len(named) + GAP + 0.3
    if others:
        _mass_panel(figure, recipe, others, top)
    return figure


def _headings(figure, recipe):
    title = fitted(f"Achieved against wanted: {_target_name(recipe)}", 6.0, LARGE)
    write(figure, NAME, 0.18, title, fontsize=LARGE, weight="bold")
    _key(figure, bool(recipe.target.ranges))
    for name, place in COLUMNS.items():
        side = "left" if name == "off" else "right"
        write(figure, place, 0.78, name, ha=side, fontsize=SMALL, color=QUIET)
        if name != "off":
            write(figure, place, 0.92, "mg/L", ha=side, fontsize=SMALL, color=QUIET)


def _target_name(recipe):
    return getattr(recipe.target, "name", "") or "own target"


def _key(figure, ranged):
    """Say in a line what lies behind and what is hatched."""
    axes = panel(figure, NAME, 0.40, 6.5, 0.2)
    axes.set(xlim=(0, 6.5), ylim=(0, 1), xticks=[], yticks=[])
    hatched = {"facecolor": "white", "edgecolor": INK, "hatch": HATCH}
    samples = [({"color": WANTED}, "wanted (line: 100 %)")]
    samples += [({"color": WITHIN}, "range that was wanted")] if ranged else []
    samples.append((hatched, "from the water"))
    for place, (look, words) in enumerate(samples):
        left = 2.1 * place
        axes.bar([left + 0.15], [0.8], 0.3, bottom=0.1, linewidth=0.8, **look)
        write(figure, NAME + left + 0.38, 0.5, words, fontsize=SMALL)
    axes.plot([0.3, 0.3], [0, 1], color=INK, linewidth=1.6)


def _percent_panel(figure, recipe, rows, top):
    axes = panel(figure, LEFT, top, SPAN, ROW * len(rows))
    ends = [_wanted_percent(recipe, row)[1] for row in rows]
    ends += [min(100 * row[2] / row[1], BEYOND) for row in rows]
    limit = min(max(LEAST_AXIS, 1.05 * max(ends)), MOST_AXIS)
    axes.set(xlim=(0, limit), ylim=(len(rows) - 0.5, -0.5), yticks=[])
    axes.set_xticks([t for t in range(0, 201, 50) if t <= limit])
    axes.set_xlabel("% of what was wanted", fontsize=SMALL)
    axes.grid(axis="x", color="#D0D0D0", linewidth=0.6, zorder=0)
    axes.set_axisbelow(True)
    for place, row in enumerate(rows):
        _wanted(axes, place, *_wanted_percent(recipe, row))
        _bar(axes, place, row, 100 / row[1], limit)
        _line(figure, recipe, row, top + ROW * (place + 0.5))


def _wanted_percent(recipe, row):
    """Return the ends of what was wanted, in percent of its middle; equal for a value."""
    if row[0] not in recipe.target.ranges:
        return 100.0, 100.0
    wanted = recipe.target.wanted[row[0]]
    return tuple(100 * end / wanted for end in recipe.target.ranges[row[0]])


def _wanted(axes, place, low, high):
    axes.barh([place], [low], 0.86, color=WANTED, zorder=1)
    if high > low:
        axes.barh([place], [high - low], 0.86, left=[low], color=WITHIN, zorder=1)
    for end in {low, high}:
        ends = [place - 0.43, place + 0.43]
        axes.plot([end, end], ends, color=INK, linewidth=1.6, zorder=2)


def _bar(axes, place, row, factor, limit):
    """Draw what was achieved, and the part of it that the water brings."""
    key, _, has, tap, _ = row
    look = {"edgecolor": INK, "linewidth": 0.8}
    drawn = min(has * factor, limit)
    axes.barh([place], [drawn], 0.48, color=colour(key), zorder=3, **look)
    water = min(tap * factor, drawn)
    if water > 0:
        axes.barh(
            [place], [water], 0.48, facecolor="white", hatch=HATCH, zorder=4, **look
        )
    if has * factor > limit:
        axes.plot([limit], [place], ">", color=INK, ms=9, zorder=5, clip_on=False)


def _line(figure, recipe, row, top):
    """Write the name and the numbers of one nutrient."""
    write(figure, NAME, top, row[0], weight="bold")
    off, missed = _off(recipe, row)
    weight = "bold" if missed else "normal"
    for name, text in (
        ("wanted", _asked(recipe, row)),
        ("reached", printed_mg_l(row[2])),
    ):
        write(
            figure, COLUMNS[name], top, text, ha="right", fontsize=SMALL, weight=weight
        )
    write(figure, COLUMNS["off"], top, off, fontsize=SMALL, weight=weight)


def _asked(recipe, row):
    """Return a wanted value or range as it is shown. [mg/L]"""
    key, wanted = row[:2]
    if wanted is None:
        return ""
    if key in recipe.target.ranges and wanted:
        ends = (wanted * end / 100 for end in _wanted_percent(recipe, row))
        return " to ".join(_short(end) for end in ends)
    return printed_mg_l(wanted)


def _short(value):
    """Return an end of a range without the zeros that no table gave."""
    text = printed_mg_l(value)
    return text.rstrip("0").rstrip(".") if "." in text else text


def _off(recipe, row):
    """Return the deviation in words, and whether it is a miss."""
    key, wanted, has, _, deviation = row
    miss = 100 * recipe.misses.get(key, 0.0)
    missed = abs(miss) > _limit()
    if wanted is None:
        return "not asked for", False
    if not wanted:
        return ("▲ none was wanted", True) if missed else ("as little as can be", False)
    if miss > MANY:
        return f"▲ {printed(has / wanted, 2)} × wanted", True
    if missed:
        words = "▲ {} too much" if miss > 0 else "▼ {} too little"
        return words.format(printed_percent(miss).lstrip("+-")), True
    within = key in recipe.target.ranges
    return (
        "in its range" if within and not miss else printed_percent(deviation)
    ), False


def _mass_panel(figure, recipe, rows, top):
    """Draw what has no percentage, for nothing was wanted of it."""
    words = "Not asked for by name, or wanted as low as can be"
    write(figure, NAME, top - 0.16, words, fontsize=SMALL, weight="bold")
    axes = panel(figure, LEFT, top, SPAN, ROW * len(rows))
    limit = 1.05 * max(row[2] for row in rows) or 1.0
    axes.set(xlim=(0, limit), ylim=(len(rows) - 0.5, -0.5), yticks=[])
    axes.locator_params(axis="x", nbins=5)
    axes.set_xlabel("mg/L", fontsize=SMALL)
    axes.grid(axis="x", color="#D0D0D0", linewidth=0.6, zorder=0)
    axes.set_axisbelow(True)
    for place, row in enumerate(rows):
        _bar(axes, place, row, 1.0, limit)
        _line(figure, recipe, row, top + ROW * (place + 0.5))


def _table(recipe, rows):
    lines = []
    for row in rows:
        key, wanted, has, tap, _ = row
        share = f"{100 * has / wanted:.1f}" if wanted else ""
        asked, off = _asked(recipe, row), _off(recipe, row)[0]
        lines.append((key, asked, printed_mg_l(has), share, printed_mg_l(tap), off))
    columns = ("nutrient", "wanted mg/L", "reached mg/L", "% of wanted")
    columns += ("from water mg/L", "off")
    return Table(
        "achieved", "Achieved against wanted", columns, tuple(lines), (1, 2, 3, 4)
    )


def _alt(recipe, named, others):
    missed = [row for row in (*named, *others) if _off(recipe, row)[1]]
    asked = len([row for row in (*named, *others) if row[1] is not None])
    count = f"{asked} nutrient{'s' * (asked != 1)}"
    met = f"{asked - len(missed)}" if missed else "all"
    text = f"Achieved against wanted for {count}: {met} within {_limit():g} % of what "
    text += "was wanted"
    if missed:
        text += "; missed: " + ", ".join(_miss_told(recipe, row) for row in missed)
    free = [row for row in others if row[1] is None]
    if free:
        told = [f"{row[0]} {printed_mg_l(row[2])} mg/L" for row in free[:MOST_TOLD]]
        text += f". Not asked for by name: {', '.join(told)}"
        text += f" and {len(free) - MOST_TOLD} more" * (len(free) > MOST_TOLD)
    return f"{text}."


def _miss_told(recipe, row):
    off = _off(recipe, row)[0].lstrip("▲▼ ")
    asked = _asked(recipe, row)
    return f"{row[0]} {printed_mg_l(row[2])} instead of {asked} mg/L ({off})"
