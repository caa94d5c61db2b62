"""What the water and each ingredient bring of each nutrient, in percent of the whole.

A matrix: a line per ingredient, so that long names stay readable, and a column per nutrient
in its colour. Micronutrients stand below, beside the few ingredients that bring them.
"""

import math

from formulate.errors import InputError
from formulate.ingredients.dissolve import poured_litres
from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.style import (
    INK,
    LARGE,
    QUIET,
    SMALL,
    colour,
    drawing,
    fitted,
    new_figure,
    panel,
    write,
)
from formulate.sheets.tables import Table
from formulate.stoichiometry.nutrients import nutrient
from formulate.working import printed_mg_l

__all__ = ["brought"]

ROW, HEAD, BLOCK, FOOT = 0.32, 0.62, 0.42, 0.42  # in
NAMES, CELL, WIDEST = 2.35, 0.475, 10  # in, in, columns
FREE = 0.05  # %: less is printed as below it
TEN = 9.95  # %: from here on without a decimal
MOST_TOLD = 6  # nutrients named in an alt text
WATER = "from the water"


def brought(recipe):
    """
    Return a picture of where each nutrient of a recipe comes from.

    Parameters
    ----------
    recipe : Recipe
        The recipe, or whatever has its rows, amounts, volume, water, solution and target.

    Returns
    -------
    Picture
        Percent of each nutrient from the water and from each ingredient.

    Raises
    ------
    InputError
        If nothing is in it.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> print(brought(recipe).alt)
    Where 2 nutrients come from: most of K from KNO3 (100 %), NO3-N from KNO3 (100 %).
    """
    parts = {row[0]: _parts(recipe, row[0]) for row in recipe.rows()}
    parts = {key: masses for key, masses in parts.items() if sum(masses) > 0}
    if not parts:
        raise InputError("brought: nothing is dissolved in it; nothing to draw")
    names = [WATER, *(ingredient.name for ingredient, _ in recipe.amounts)]
    with drawing():
        figure = _drawn(names, parts)
    return Picture(
        key="brought",
        title="What brings what",
        alt=_alt(names, parts),
        table=_table(names, parts),
        source=made_by(recipe.target, recipe.water, *(i for i, _ in recipe.amounts)),
        figure=figure,
    )


def _parts(recipe, key):
    """Return what the water, then each ingredient, brings to a litre. [mg/L]

    Poured liquids take room that the water then does not fill.
    """
    mass = nutrient(key).molar_mass
    poured = poured_litres(recipe.amounts)
    tap = recipe.water.solution.mg_l(key) * (recipe.volume - poured) / recipe.volume
    each = [
        i.amount(key) * mass * amount / recipe.volume for i, amount in recipe.amounts
    ]
    return [tap, *each]


def _percents(masses):
    return [100 * mass / sum(masses) for mass in masses]


def _printed(percent):
    """Return a share in two digits, as a matrix can show it. [%]"""
    if not percent:
        return ""
    if percent < FREE:
        return "<0.1"
    return f"{percent:.0f}" if percent >= TEN else f"{percent:.1f}"


def _blocks(parts):
    """Return the nutrients in groups that fit beside the names, micronutrients last."""
    keys = list(parts)
    if len(keys) <= WIDEST:
        return [keys]
    blocks = []
    for is_micro in (False, True):
        group = [
            k for k in keys if (nutrient(k).group in ("micro", "chelate")) == is_micro
        ]
        count = math.ceil(len(group) / WIDEST)
        size = math.ceil(len(group) / count) if count else 1
        blocks += [group[i : i + size] for i in range(0, len(group), size)]
    return blocks


def _lines(parts, keys):
    """Return the places of the ingredients that bring any of some nutrients."""
    count = len(parts[keys[0]])
    return [n for n in range(count) if any(parts[key][n] > 0 for key in keys)]


def _drawn(names, parts):
    blocks = [(keys, _lines(parts, keys)) for keys in _blocks(parts)]
    heights = [BLOCK + ROW * (len(lines) + 1.1) for _, lines in blocks]
    figure = new_figure(HEAD + sum(heights) + 0.3 * (len(blocks) - 1) + 0.1)
    title = "What brings what"
    write(figure, 0.08, 0.18, title, fontsize=LARGE, weight="bold")
    words = "percent of each nutrient; the length of a bar is the same number"
    write(figure, 0.08, 0.44, words, fontsize=SMALL, color=QUIET)
    top = HEAD
    for (keys, lines), height in zip(blocks, heights, strict=True):
        _block(figure, names, parts, keys, lines, top)
        top += height + 0.3
    return figure


def _block(figure, names, parts, keys, lines, top):
    below = top + BLOCK + ROW * len(lines)
    for place, number in enumerate(lines):
        middle = top + BLOCK + ROW * (place + 0.5)
        name = fitted(names[number], NAMES - 0.15, SMALL)
        style = "italic" if number == 0 else "normal"
        write(figure, 0.08, middle, name, fontsize=SMALL, style=style)
    write(figure, 0.08, below + 0.2, "in all, mg/L", fontsize=SMALL, weight="bold")
    axes = panel(figure, NAMES, top + BLOCK, CELL * len(keys), ROW * len(lines))
    axes.set(xlim=(0, len(keys)), ylim=(len(lines), 0), xticks=[], yticks=[])
    for y in range(len(lines) + 1):
        axes.axhline(y, color="#C8C8C8", linewidth=0.6, clip_on=False)
    for column, key in enumerate(keys):
        left = NAMES + CELL * (column + 0.5)
        total = printed_mg_l(sum(parts[key]))
        write(
            figure,
            left,
            top + 0.2,
            key,
            ha="center",
            fontsize=SMALL - 0.5,
            weight="bold",
        )
        write(figure, left, below + 0.2, total, ha="center", fontsize=SMALL - 1)
        shares = [_percents(parts[key])[number] for number in lines]
        _cells(axes, column, key, shares)


def _cells(axes, column, key, shares):
    """Draw one nutrient: in each cell the number and below it a bar of that length."""
    for place, share in enumerate(shares):
        if not share:
            continue
        look = {"color": colour(key), "edgecolor": INK, "linewidth": 0.5}
        room = {"align": "center", "left": column + 0.06}
        axes.barh([place + 0.8], [0.88 * share / 100], 0.22, **room, **look)
        axes.text(
            column + 0.5,
            place + 0.38,
            _printed(share),
            ha="center",
            va="center",
            fontsize=SMALL,
            color=INK,
        )


def _table(names, parts):
    shares = {key: _percents(masses) for key, masses in parts.items()}
    rows = [
        (name, *(_printed(shares[key][place]) for key in parts))
        for place, name in enumerate(names)
    ]
    rows.append(("in all, mg/L", *(printed_mg_l(sum(m)) for m in parts.values())))
    columns = ("brought by", *(f"{key} %" for key in parts))
    numeric = tuple(range(1, len(columns)))
    return Table("brought", "What brings what", columns, tuple(rows), numeric)


def _alt(names, parts):
    told = []
    for key, masses in list(parts.items())[:MOST_TOLD]:
        shares = _percents(masses)
        most = max(range(len(shares)), key=shares.__getitem__)
        name = "the water" if most == 0 else fitted(names[most], NAMES, SMALL)
        told.append(f"{key} from {name} ({_printed(shares[most])} %)")
    count = f"{len(parts)} nutrient{'s' * (len(parts) != 1)}"
    comes = "come" if len(parts) != 1 else "comes"
    text = f"Where {count} {comes} from: most of {', '.join(told)}"
    more = len(parts) - MOST_TOLD
    return f"{text}, and {more} more in the table." if more > 0 else f"{text}."
