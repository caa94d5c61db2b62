"""How full each stock tank is: the solubility it uses in the cold, and its nearest solid."""

from formulate.chemistry.risks import RISKS, SHOWN_FROM, risk_level
from formulate.errors import InputError, shortened
from formulate.mixing.stock_tank import ROOM, SALTS
from formulate.mixing.stock_tanks import StockTanks
from formulate.sheets.figures.index_bars import BANDS
from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.risk_marks import index_text
from formulate.sheets.figures.style import (
    INK,
    LARGE,
    QUIET,
    SMALL,
    drawing,
    fitted,
    new_figure,
    panel,
    write,
)
from formulate.sheets.tables import Table
from formulate.tables import read_table
from formulate.working import printed

__all__ = ["tank_use"]

HEAD, ROW, LINE, BEFORE, AFTER, FOOT = 1.0, 0.27, 0.19, 0.3, 0.16, 0.5  # in
NAME, LEFT, SPAN, SAID, SOLID, EDGE = 0.08, 1.4, 2.55, 4.05, 5.3, 7.1  # in
RIGHT = 130.0  # % of the solubility: what lies beyond ends in an arrow
MOST = 3  # salts of a tank
WHOLE, TRACE = 100.0, 0.5  # %
TITLE = "How full the stocks are"
NO_SALT = "no salt of known solubility"
FAR = f"none above {SHOWN_FROM:g}".replace("-", "−")


def tank_use(tanks):
    """
    Return a picture of how much of its solubility each stock tank uses in the cold.

    Parameters
    ----------
    tanks : StockTanks
        The concentrates, as `split_tanks` returns them.

    Returns
    -------
    Picture
        Bars of the fullest salts of each tank before the bands where they are to be
        watched, likely and certain; beside them the nearest solid.

    Raises
    ------
    InputError
        If it is something else, or holds no tank.

    Examples
    --------
    >>> from formulate.mixing.tanks import split_tanks
    >>> picture = tank_use(split_tanks({"KNO3": 50.0, "CaCl2": 50.0}, volume=100))
    >>> picture.alt[:60]
    'Solubility used in the stocks 1:100 at 10 °C, in percent: st'
    """
    if not isinstance(tanks, StockTanks):
        what = "give what split_tanks returns"
        raise InputError(f"tank_use: {shortened(tanks)} is no StockTanks; {what}")
    if not tanks.tanks:
        raise InputError("tank_use: there is no tank; nothing to draw")
    with drawing():
        figure = _drawn(tanks)
    return Picture(
        key="tank-use",
        title=TITLE,
        alt=_alt(tanks),
        table=_table(tanks),
        source=made_by(tanks.stock_water, *tanks.batch.ingredients),
        figure=figure,
    )


def _salts(tank):
    """Return the fullest salts of a tank with their shares, the first and no traces. [%]"""
    fullest = [(salt, float(used)) for salt, used in list(tank.uses.items())[:MOST]]
    return fullest[:1] + [pair for pair in fullest[1:] if pair[1] >= TRACE]


def _nearest(risks):
    """Return the gravest solid that matters, of these the nearest; None if all are far."""
    found = [risk for risk in risks.solids if risk.role == "matters"]
    return max(found, key=lambda risk: (risk.level, risk.index), default=None)


def _warmer(tank):
    """Return the solid that is graver at room temperature than any in the cold, or None."""
    cold, warm = _nearest(tank.risks), _nearest(tank.warm_risks)
    graver = warm is not None and warm.level > (cold.level if cold else 0)
    return warm if graver else None


def _edges():
    """Return word to the share from which a soluble salt is told so, of the table. [%]"""
    rows = {row["solid"]: row for row in read_table("solid_risks")}
    return {word: rows[SALTS].number(word) for word in BANDS}


def _solid_lines(tank):
    """Return in a few lines what is nearest to falling out of a tank, with their weight."""
    risk, warm = _nearest(tank.risks), _warmer(tank)
    lines = [(FAR, 0)]
    if risk is not None:
        lines = [(risk.name, risk.level), (_index_said(risk), risk.level)]
    if risk is not None and risk.high > risk.low:
        lines += [(words, 0) for words in _spread(risk)]
    if warm is not None:
        head = f"at {ROOM:g} °C {warm.name}"
        lines += [(head, warm.level), (_index_said(warm), warm.level)]
    return lines


def _index_said(risk):
    return f"{index_text(risk.index)}, {risk.word}"


def _spread(risk):
    """Return the ends of the models, and their words where they differ."""
    low, high = risk.words_by_model
    told = [f"by model {index_text(risk.low)} to {index_text(risk.high)}"]
    return told + [f"{low} to {high}"] * (low != high)


def _solid_said(risk):
    """Return the name, the index and the word of a solid, with what the models give."""
    if risk is None:
        return FAR
    spread = f" ({', '.join(_spread(risk))})" if risk.high > risk.low else ""
    return f"{risk.name} {_index_said(risk)}{spread}"


def _height(tank):
    """Return how high the bars of a tank are. [in]"""
    lines = ROW + LINE * (len(_solid_lines(tank)) - 1)
    return max(ROW * max(len(_salts(tank)), 1), lines)


def _drawn(tanks):
    """Draw the tanks one below the other."""
    blocks = [BEFORE + _height(tank) + AFTER for tank in tanks.tanks]
    figure = new_figure(HEAD + sum(blocks) + FOOT)
    head = f"{TITLE}, {tanks.strength.as_ratio} at {tanks.coldest:g} °C"
    write(figure, NAME, 0.18, head, fontsize=LARGE, weight="bold")
    _key(figure)
    for left, words in ((SAID, "used"), (SOLID, "nearest solid in the cold")):
        write(figure, left, HEAD - 0.04, words, fontsize=SMALL, color=QUIET)
    top = HEAD
    for place, (tank, block) in enumerate(zip(tanks.tanks, blocks, strict=True)):
        _block(figure, tank, top, is_last=place == len(blocks) - 1)
        top += block
    return figure


def _key(figure):
    """Say what the bands are."""
    axes = panel(figure, NAME, 0.34, 7.0, 0.2)
    axes.set(xlim=(0, 7.0), ylim=(1, 0), xticks=[], yticks=[])
    for place, (word, edge) in enumerate(_edges().items()):
        left = 1.7 * place
        axes.barh([0.5], [0.3], 0.8, left=[left], color=BANDS[word])
        words = f"{word} from {edge:g} %"
        write(figure, NAME + left + 0.36, 0.44, words, fontsize=SMALL)
    words = f"Share used of what dissolves of each salt; at {WHOLE:g} % it begins to crystallise."
    write(figure, NAME, 0.69, words, fontsize=SMALL)


def _block(figure, tank, top, *, is_last):
    """Draw one tank: its bars, and beside them its nearest solid."""
    salts, height = _salts(tank), _height(tank)
    name = f"{tank.label}, {printed(tank.volume, 3)} L"
    write(figure, NAME, top + 0.16, name, fontsize=SMALL, weight="bold")
    axes = panel(figure, LEFT, top + BEFORE, SPAN, height)
    rows = height / ROW
    axes.set(xlim=(0, RIGHT), ylim=(rows - 0.5, -0.5), xticks=[], yticks=[])
    axes.spines["left"].set_visible(True)
    if salts:
        _bands(axes)
    if is_last:
        axes.set_xticks(range(0, 121, 20))
        axes.set_xlabel("% of the solubility", fontsize=SMALL)
        axes.spines["bottom"].set_visible(True)
    for place, (salt, used) in enumerate(salts):
        _bar(figure, axes, place, salt, used, top + BEFORE + ROW * (place + 0.5))
    if not salts:
        middle = top + BEFORE + ROW / 2
        write(figure, LEFT + 0.08, middle, NO_SALT, fontsize=SMALL, color=QUIET)
    _beside(figure, tank, top + BEFORE)


def _bands(axes):
    """Draw behind the bars where a salt is to be watched, likely and certain."""
    for word, edge in _edges().items():
        axes.axvspan(edge, RIGHT, facecolor=BANDS[word], zorder=0)
    axes.axvline(WHOLE, color=INK, linewidth=1.2, zorder=4)


def _bar(figure, axes, place, salt, used, middle):
    """Draw one salt: its bar, its share and its word."""
    look = {"facecolor": INK, "edgecolor": "white", "linewidth": 0.9, "zorder": 3}
    axes.barh([place], [min(used, RIGHT)], 0.6, **look)
    if used > RIGHT:
        axes.plot([RIGHT], [place], ">", color=INK, ms=9, zorder=5, clip_on=False)
    name = fitted(salt, LEFT - NAME - 0.1, SMALL)
    write(figure, LEFT - 0.08, middle, name, ha="right", fontsize=SMALL)
    level = risk_level(SALTS, used)
    weight = "bold" if level else "normal"
    words = f"{_share(used)} %, {RISKS[level]}"
    write(figure, SAID, middle, words, fontsize=SMALL, weight=weight)


def _share(used):
    return "under 1" if used < TRACE else f"{used:.0f}"


def _beside(figure, tank, top):
    """Write what is nearest to falling out, in a few lines."""
    for place, (words, level) in enumerate(_solid_lines(tank)):
        weight = "bold" if level else "normal"
        short = fitted(words, EDGE - SOLID - 0.1, SMALL)
        down = top + ROW / 2 + LINE * place
        write(figure, SOLID, down, short, fontsize=SMALL, weight=weight)


def _table(tanks):
    """Return every bar with its tank, and the nearest solid of each tank."""
    columns = ("tank", "L", "salt", "% of its solubility", "risk", "nearest solid")
    columns += ("index", "least by model", "most by model", "its risk", "warmer")
    rows = [row for tank in tanks.tanks for row in _rows(tank)]
    table = Table("tank-use", TITLE, columns, tuple(rows), (1, 3, 6, 7, 8))
    return table.without_empty("least by model", "most by model", "warmer")


def _rows(tank):
    risk, warm = _nearest(tank.risks), _warmer(tank)
    solid = (FAR, "", "", "", "none")
    if risk is not None:
        ends = (risk.low, risk.high) if risk.high > risk.low else ()
        spread = [index_text(end) for end in ends] or ["", ""]
        solid = (risk.name, index_text(risk.index), *spread, risk.words)
    told = f"at {ROOM:g} °C {_solid_said(warm)}" if warm else ""
    head = (tank.label, printed(tank.volume, 3))
    for salt, used in _salts(tank):
        word = RISKS[risk_level(SALTS, used)]
        yield (*head, salt, _share(used), word, *solid, told)
    if not _salts(tank):
        yield (*head, NO_SALT, "", "none", *solid, told)


def _alt(tanks):
    """Return of each tank its fullest salts and its nearest solid."""
    parts = []
    for tank in tanks.tanks:
        used = [
            f"{salt} {_share(share)}, {RISKS[risk_level(SALTS, share)]}"
            for salt, share in _salts(tank)
        ]
        told = [*used, f"nearest solid {_solid_said(_nearest(tank.risks))}"]
        if (warm := _warmer(tank)) is not None:
            told.append(f"at {ROOM:g} °C {_solid_said(warm)}")
        parts.append(f"{tank.label} ({'; '.join(told)})")
    head = f"Solubility used in the stocks {tanks.strength.as_ratio} at "
    return f"{head}{tanks.coldest:g} °C, in percent: {', '.join(parts)}."
