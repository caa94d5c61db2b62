"""How many bags it takes: what the best recipe of so many ingredients reaches."""

from formulate.errors import InputError
from formulate.sheets.figures.cost_closeness import (
    changed_names,
    checked_rows,
    told_changes,
)
from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.style import (
    INK,
    LARGE,
    QUIET,
    SMALL,
    drawing,
    fitted,
    new_figure,
    panel,
    text_width,
    write,
)
from formulate.sheets.tables import Table
from formulate.working import printed

__all__ = ["few_steps"]

ROW, HEAD, FOOT, LEFT, TOP_NAME = 0.34, 1.0, 0.55, 0.62, 0.08  # in
SPAN, SAID, WORDS, EDGE = 2.1, 0.08, 3.5, 7.0  # in
DIGITS, MOST_TOLD = 3, 6
TITLE = "How many bags it takes"
LOOKS = {
    True: {"facecolor": INK, "edgecolor": INK},
    False: {"facecolor": "white", "edgecolor": INK, "hatch": "/////"},
}
OBJECTIVES = {
    "sum": "sum of deviations, %",
    "worst": "worst deviation, %",
    "cost": "cost of the batch, in the currency of the prices",
}
PERCENT = ("sum", "worst")
PLAIN = "value of the objective"


def few_steps(curve, *, objective=None):
    """
    Return a picture of what so many ingredients reach.

    Parameters
    ----------
    curve : FewCurve
        The curve, or whatever has rows of number of bags, value, whether it is proven,
        and names; a value of None stands where no recipe exists.
    objective : str or None
        What the value is: "sum", "worst" or "cost"; that of the curve if None. Sums and
        worst deviations are told in percent.

    Returns
    -------
    Picture
        A bar for each number of bags, hatched where it is not proven to be the best.

    Raises
    ------
    InputError
        If it is something else, or holds nothing.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> rows = ((1, 1.2, True, ("KNO3",)), (2, 0.1, False, ("KNO3", "urea")))
    >>> few_steps(SimpleNamespace(rows=lambda: rows, objective="sum")).alt
    'Sum of deviations, %, against the number of bags: 1 bag 120 (KNO3); 2 bags 10.0 (+ urea), \
not proven.'
    """
    objective = getattr(curve, "objective", "") if objective is None else objective
    rows = sorted(checked_rows(curve, "few_steps", 4), key=lambda row: row[0])
    if not rows:
        raise InputError("few_steps: the curve holds no number of bags")
    factor = 100.0 if objective in PERCENT else 1.0
    rows = [
        (
            int(k),
            None if v is None else factor * float(v),
            bool(proven),
            tuple(names or ()),
        )
        for k, v, proven, names in rows
    ]
    what = OBJECTIVES.get(objective, PLAIN)
    with drawing():
        figure = _drawn(rows, what)
    return Picture(
        key="few-steps",
        title=TITLE,
        alt=_alt(rows, what),
        table=_table(rows, what),
        source=made_by(curve),
        figure=figure,
    )


def _drawn(rows, what):
    figure = new_figure(HEAD + ROW * len(rows) + FOOT)
    write(figure, TOP_NAME, 0.18, TITLE, fontsize=LARGE, weight="bold")
    _key(figure, rows)
    for left, words in ((TOP_NAME, "bags"), (WORDS, "made of, then what changes")):
        write(figure, left, HEAD - 0.14, words, fontsize=SMALL, color=QUIET)
    axes = panel(figure, LEFT, HEAD, SPAN, ROW * len(rows))
    most = max([v for _, v, _, _ in rows if v is not None], default=0.0) or 1.0
    axes.set(xlim=(0, 1.02 * most), ylim=(len(rows) - 0.5, -0.5), yticks=[])
    axes.set_xlabel(what, fontsize=SMALL)
    axes.spines[["left", "bottom"]].set_visible(True)
    axes.locator_params(axis="x", nbins=4)
    axes.ticklabel_format(axis="x", style="plain", useOffset=False)
    axes.grid(axis="x", color="#E4E4E4", linewidth=0.6, zorder=0)
    axes.set_axisbelow(True)
    names = ["", *(row[3] for row in rows)]
    for place, row in enumerate(rows):
        _line(figure, axes, place, row, names[place], most)
    return figure


def _key(figure, rows):
    """Say in a line what a hatched bar is."""
    words = "The best recipe of so many ingredients at most."
    write(figure, TOP_NAME, 0.43, words, fontsize=SMALL)
    axes = panel(figure, TOP_NAME, 0.53, 7.0, 0.2)
    axes.set(xlim=(0, 7.0), ylim=(1, 0), xticks=[], yticks=[])
    shown = [True, *([False] if not all(row[2] for row in rows) else [])]
    for place, proven in enumerate(shown):
        left = 1.7 * place
        axes.barh([0.5], [0.3], 0.6, left=[left], linewidth=0.8, **LOOKS[proven])
        words = "proven to be best" if proven else "the best that was found, not proven"
        write(figure, TOP_NAME + left + 0.38, 0.63, words, fontsize=SMALL)


def _line(figure, axes, place, row, before, most):
    """Draw one number of bags: its bar, its value, what it is made of."""
    bags, value, proven, names = row
    middle = HEAD + ROW * (place + 0.5)
    write(figure, LEFT - 0.12, middle, str(bags), ha="right", weight="bold")
    if value is None:
        write(figure, LEFT + SAID, middle, "no recipe", fontsize=SMALL, color=QUIET)
        return
    axes.barh([place], [value], 0.62, linewidth=0.9, zorder=3, **LOOKS[proven])
    end = SPAN * value / (1.02 * most)
    text = printed(value, DIGITS)
    wide = text_width(text, SMALL)
    if end + SAID + wide > SPAN + 0.55:
        end = SPAN
    write(figure, LEFT + end + SAID, middle, text, fontsize=SMALL)
    told = _change(before, names)
    write(figure, WORDS, middle, fitted(told, EDGE - WORDS, SMALL), fontsize=SMALL)


def _change(before, names):
    """Return what a recipe is made of; of a later one only what changes."""
    if not before:
        return ", ".join(names)
    return changed_names(before, names) or "the same"


def _table(rows, what):
    known = [row[3] for row in rows if row[1] is not None]
    words = iter(told_changes(known))
    cells = tuple(
        (
            str(bags),
            "no recipe" if value is None else printed(value, DIGITS),
            "" if value is None else "yes" if proven else "no",
            "" if value is None else next(words),
        )
        for bags, value, proven, _ in rows
    )
    columns = ("bags at most", what, "proven", "made of, then what changes")
    return Table("few-steps", TITLE, columns, cells, (0, 1))


def _alt(rows, what):
    shown = rows if len(rows) <= MOST_TOLD else rows[:MOST_TOLD]
    names, parts = ["", *(row[3] for row in rows)], []
    for (bags, value, proven, made), before in zip(shown, names, strict=False):
        word = "bag" if bags == 1 else "bags"
        if value is None:
            parts.append(f"{bags} {word} no recipe")
            continue
        told = f"{bags} {word} {printed(value, DIGITS)} ({_change(before, made)})"
        parts.append(told + ", not proven" * (not proven))
    more = f"; and {len(rows) - len(shown)} more" if len(rows) > len(shown) else ""
    head = what[0].upper() + what[1:]
    return f"{head}, against the number of bags: {'; '.join(parts)}{more}."
