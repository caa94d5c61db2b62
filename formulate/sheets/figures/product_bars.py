"""Products beside each other: what money buys of each nutrient, or what a gram holds."""

import math
from dataclasses import dataclass

from formulate.claims.product_comparison import ProductComparison
from formulate.claims.product_shares import (
    MAIN_KEYS,
    NITROGEN,
    SHARE_KEYS,
    NutrientShare,
)
from formulate.errors import InputError, shortened
from formulate.sheets.figures.claim_marks import note_lines
from formulate.sheets.figures.foot_lines import LINE, write_foot
from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.style import (
    INK,
    LARGE,
    QUIET,
    SMALL,
    WITHIN,
    colour,
    drawing,
    fitted,
    new_figure,
    panel,
    write,
)
from formulate.sheets.tables import Table
from formulate.working import printed

__all__ = ["product_bars"]

HEAD, ROW, GAP, FOOT = 0.74, 0.205, 0.13, 0.56  # in
NAME, PRODUCT, LEFT, SPAN, SAID = 0.08, 0.92, 2.72, 2.9, 0.08  # in
STRIPE, WIDE = 0.82, 0.05  # in: of the colour of a nutrient
HIGH, MOST_ROWS, FEW, MOST_TOLD = 8.4, 8, 4, 6  # in; of a nutrient; of the alt text
WHOLE, PER_GRAM, SMALLEST, DIGITS = 100.0, 1000.0, 0.1, 3
SHADES = (INK, WITHIN, "#777777", "#FFFFFF", "#444444", "#DADADA", "#5E5E5E", "#959595")
TITLES = {"money": "What the money buys of each nutrient"}
TITLES |= {"gram": "What a gram holds of each nutrient"}
TITLES |= {"mL": "What a millilitre holds of each nutrient"}
UNITS = {"money": "g for a unit of money", "gram": "mg/g", "mL": "mg/mL"}
HEADS = {
    "money": "One unit of the currency buys, from each product:",
    "gram": "No price is known, so by mass. A gram of each product holds:",
    "mL": "No price is known, so by volume. A millilitre of each product holds:",
}
LACKS = {"money": "no price", "gram": "no density", "mL": "no density"}


@dataclass(frozen=True)
class _Bar:
    """One product in one nutrient."""

    share: NutrientShare
    place: int
    basis: str

    @property
    def name(self):
        return " ".join(self.share.name.split())

    @property
    def value(self):
        """Return what is drawn, in the unit of its basis; None where it is not known."""
        if self.basis == "money":
            held = self.share.mg_for_money
            return None if held is None else held / PER_GRAM
        return self.share.mg_per_gram if self.basis == "gram" else self.share.mg_per_ml

    @property
    def is_known(self):
        return self.value is not None and math.isfinite(self.value)

    @property
    def told(self):
        """Return the value in words, with its unit."""
        if not self.share.is_there:
            return "none" if self.share.told else "not told"
        if self.value is None:
            return LACKS[self.basis]
        if math.isinf(self.value):
            return "free"
        if self.basis != "money":
            return f"{printed(self.value, DIGITS)} {UNITS[self.basis]}"
        if self.value < SMALLEST:
            return f"{printed(PER_GRAM * self.value, DIGITS)} mg"
        return f"{printed(self.value, DIGITS)} g"


@dataclass(frozen=True)
class _Group:
    """One nutrient with its products."""

    key: str
    bars: tuple

    @property
    def most(self):
        """Return the greatest value that is known, 1 where there is none."""
        return max((bar.value for bar in self.bars if bar.is_known), default=0.0) or 1.0

    def percent(self, bar):
        """Return a bar in percent of the greatest; of what is free, all of it."""
        return WHOLE * bar.value / self.most if bar.is_known else WHOLE

    @property
    def shown(self):
        """Return the bars for which there is room, in the order of the products."""
        ranked = sorted(self.bringing, key=lambda bar: -(bar.value or 0.0))[:MOST_ROWS]
        return [bar for bar in self.bars if bar in ranked]

    @property
    def bringing(self):
        """Return the bars of a few products; of many those that bring the nutrient."""
        if len(self.bars) <= FEW:
            return self.bars
        return [bar for bar in self.bars if bar.share.is_there]

    @property
    def height(self):
        return ROW * len(self.shown)


def product_bars(comparison):
    """
    Return a picture of what products give of each nutrient for the same money.

    Parameters
    ----------
    comparison : ProductComparison
        The comparison, as `compare_products` returns it.

    Returns
    -------
    Picture
        Bars in percent of the most that any product gives of a nutrient, with the amount
        at each; by mass where no price is known.

    Raises
    ------
    InputError
        If it is something else, or its products bring nothing.

    Examples
    --------
    >>> from formulate.claims.product_comparison import compare_products
    >>> bags = {"saltpetre": "KNO3", "sulfate of potash": "K2SO4"}
    >>> prices = {"saltpetre": 2.0, "sulfate of potash": 1.5}
    >>> print(product_bars(compare_products(bags, prices=prices)).alt)
    One unit of the currency buys, from each product: N: saltpetre 69.3 g, sulfate of \
potash none; K: saltpetre 193 g, sulfate of potash 299 g; S: saltpetre none, sulfate of \
potash 123 g.
    """
    if not isinstance(comparison, ProductComparison):
        what = "give what compare_products returns"
        raise InputError(
            f"product_bars: {shortened(comparison)} is no ProductComparison; {what}"
        )
    if not comparison.shares:
        raise InputError("product_bars: no product brings a nutrient; nothing to draw")
    basis = _basis(comparison.shares)
    groups = _groups(comparison, basis)
    with drawing():
        figure = _drawn(groups, basis)
    return Picture(
        key="product-bars",
        title=TITLES[basis],
        alt=_alt(groups, basis),
        table=_table(groups, basis),
        source=made_by(*comparison.products),
        figure=figure,
    )


# --- what is shown ----------------------------------------------------------------------


def _basis(shares):
    """Return what products are compared by: money, else mass, else volume."""
    if any(share.mg_for_money is not None for share in shares):
        return "money"
    by_mass = [share.mg_per_gram is not None for share in shares]
    by_volume = [share.mg_per_ml is not None for share in shares]
    return "mL" if sum(by_volume) > sum(by_mass) else "gram"


def _groups(comparison, basis):
    """Return the nutrients with their products, in order."""
    names = [one.name for one in comparison.products]
    found = {}
    for share in comparison.shares:
        bar = _Bar(share, names.index(share.name), basis)
        found.setdefault(share.key, []).append(bar)
    return [_Group(key, tuple(bars)) for key, bars in found.items()]


def _fitting(groups):
    """Return the nutrients for which there is room: the main ones before the others."""
    forms = [group for group in groups if group.key in NITROGEN]
    if len(forms) == 1:  # it tells no more than all nitrogen does
        groups = [group for group in groups if group not in forms]
    order = (*MAIN_KEYS, *(key for key in reversed(SHARE_KEYS) if key not in MAIN_KEYS))
    kept, high = [], 0.0
    for group in sorted(groups, key=lambda group: order.index(group.key)):
        if high + group.height + GAP <= HIGH:
            kept.append(group)
            high += group.height + GAP
    return [group for group in groups if group in kept]


def _notes(groups, shown):
    """Return what is left out, in words."""
    lone = [group.key for group in groups if group.key in NITROGEN]
    lone = lone if len(lone) == 1 else []
    left = [g.key for g in groups if g not in shown and g.key not in lone]
    notes = [f"Left out for want of room: {', '.join(left)}."] if left else []
    fewer = [group for group in shown if len(group.shown) < len(group.bringing)]
    if any(len(group.bringing) < len(group.bars) for group in shown):
        notes.append("Of each nutrient only the products that bring it are drawn.")
    if fewer:
        notes.append(
            f"Of {', '.join(group.key for group in fewer)} the {MOST_ROWS} products that "
            "give most are drawn."
        )
    return notes


# --- drawing ----------------------------------------------------------------------------


def _drawn(groups, basis):
    """Draw the nutrients one below the other."""
    shown = _fitting(groups)
    notes = note_lines(_notes(groups, shown))
    high = sum(group.height + GAP for group in shown)
    figure = new_figure(HEAD + high + FOOT + LINE * len(notes) + 0.06 * bool(notes))
    write(figure, NAME, 0.18, TITLES[basis], fontsize=LARGE, weight="bold")
    write(figure, NAME, 0.45, HEADS[basis], fontsize=SMALL)
    top = HEAD
    for group in shown:
        axes = _panel(figure, group, top)
        top += group.height + GAP
    axes.set_xticks(range(0, 101, 25))
    axes.set_xlabel("% of the most that any gives", fontsize=SMALL)
    axes.spines["bottom"].set_visible(True)
    axes.spines["bottom"].set_position(("outward", 3))
    write_foot(figure, top + FOOT, notes)
    return figure


def _panel(figure, group, top):
    """Draw one nutrient: its name beside a stripe of its colour, a bar for each product."""
    bars = group.shown
    axes = panel(figure, LEFT, top, SPAN, group.height)
    axes.set(xlim=(0, WHOLE), ylim=(len(bars) - 0.5, -0.5), xticks=[], yticks=[])
    axes.spines["left"].set_visible(True)
    stripe = panel(figure, STRIPE, top + 0.02, WIDE, group.height - 0.04)
    stripe.set(xlim=(0, 1), ylim=(0, 1), xticks=[], yticks=[])
    stripe.bar([0.5], [1.0], 1.0, facecolor=colour(group.key))
    name = fitted(group.key, STRIPE - NAME - 0.06, SMALL)
    write(figure, NAME, top + ROW / 2, name, fontsize=SMALL, weight="bold")
    for place, bar in enumerate(bars):
        _bar(figure, axes, group, place, bar, top + ROW * (place + 0.5))
    return axes


def _bar(figure, axes, group, place, bar, middle):
    """Draw one product: its name, its bar in its own shade, what it gives."""
    name = fitted(bar.name, LEFT - PRODUCT - 0.12, SMALL)
    write(figure, LEFT - 0.08, middle, name, ha="right", fontsize=SMALL)
    end, is_drawn = 0.0, bar.share.is_there and bar.value is not None
    if is_drawn:
        end = group.percent(bar)
        shade = SHADES[bar.place % len(SHADES)]
        look = {"facecolor": shade, "edgecolor": INK, "linewidth": 0.9, "zorder": 3}
        axes.barh([place], [end], 0.7, clip_on=False, **look)
    if is_drawn and not bar.is_known:
        axes.plot([end], [place], ">", color=INK, ms=9, zorder=5, clip_on=False)
    about = {"color": INK if is_drawn else QUIET, "fontsize": SMALL}
    most = [b.value for b in group.bars if b.value]
    about["weight"] = "bold" if most and bar.value == max(most) else "normal"
    room = SAID if bar.is_known or not is_drawn else 2 * SAID
    write(figure, LEFT + SPAN * end / WHOLE + room, middle, bar.told, **about)


# --- words ------------------------------------------------------------------------------


def _table(groups, basis):
    columns = ("nutrient", "product", UNITS[basis], "% of the most", "known")
    rows = tuple(_cells(group, bar) for group in groups for bar in group.bars)
    table = Table("product-bars", TITLES[basis], columns, rows, (2, 3))
    return table.without_empty("known")


def _cells(group, bar):
    """Return nutrient, product, its value, its share of the most, and what is not known."""
    cells, is_drawn = ("", ""), bar.share.is_there and bar.value is not None
    if is_drawn and bar.is_known:
        cells = printed(bar.value, 4), printed(group.percent(bar), 4)
    elif not bar.share.is_there and bar.share.told:
        cells = ("0", "0")
    return (group.key, bar.name, *cells, "" if cells[0] else bar.told)


def _alt(groups, basis):
    """Return each nutrient with its products, as far as there is room."""
    shown = _fitting(groups)
    told = [
        f"{group.key}: {', '.join(f'{b.name} {b.told}' for b in group.shown)}"
        for group in shown[:MOST_TOLD]
    ]
    left = [group.key for group in shown[MOST_TOLD:]]
    more = f"; and {', '.join(left)} in the table" if left else ""
    notes = _notes(groups, shown)
    return " ".join([f"{HEADS[basis]} {'; '.join(told)}{more}.", *notes])
