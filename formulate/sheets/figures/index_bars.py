"""How near each solid is to falling out: saturation indices before their danger bands."""

from formulate.chemistry.risks import RISKS, SolidRisks
from formulate.chemistry.solids import mineral, mineral_names
from formulate.errors import InputError, shortened
from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.style import (
    INK,
    LARGE,
    QUIET,
    SMALL,
    WANTED,
    WITHIN,
    drawing,
    fitted,
    new_figure,
    panel,
    write,
)
from formulate.sheets.tables import Table
from formulate.tables import read_table

__all__ = ["index_bars"]

ROW, HEAD, GAP, FOOT = 0.34, 1.0, 0.42, 0.55  # in
NAME, LEFT, SPAN, SAID = 0.08, 2.2, 2.6, 4.95  # in
LINE, NOTHING = 0.22, 0.78  # in
LOW, HIGH = -2.5, 3.0  # of the axis: what lies beyond ends in an arrow
BANDS = dict(zip(RISKS[1:], (WANTED, WITHIN, "#808080"), strict=True))
HARMLESS = {"facecolor": "white", "edgecolor": QUIET, "hatch": "/////"}
LOOKS = {
    "matters": {"facecolor": INK, "edgecolor": "white"},
    "trace": {"facecolor": "white", "edgecolor": INK},
    "harmless": HARMLESS,
}
EMPTY = "Nothing is near saturation."
FEW = "Of the solids that matter none is near saturation."
SALTS = "soluble salts"  # their line in the table
MOST_TOLD = 6  # solids named in an alt text that are no danger


def index_bars(risks):
    """
    Return a picture of how near each solid is to falling out.

    Parameters
    ----------
    risks : SolidRisks
        The solids of one solution, as `solid_risks` returns them.

    Returns
    -------
    Picture
        A bar from 0 to the index of each solid, the models' spread at its end, before the
        bands where it is to be watched, likely and certain.

    Raises
    ------
    InputError
        If it is something else.

    Examples
    --------
    >>> from formulate.chemistry.risks import solid_risks
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> picture = index_bars(solid_risks(speciate(solution({"Ca": 20.0, "SO4": 20.0}))))
    >>> print(picture.alt)
    Saturation of solids at pH 7.08 and 25 °C. Watch: gypsum +0.16.
    """
    if not isinstance(risks, SolidRisks):
        what = "give what solid_risks returns"
        raise InputError(f"index_bars: {shortened(risks)} is no SolidRisks; {what}")
    with drawing():
        figure = _drawn(risks)
    return Picture(
        key="index-bars",
        title="What may fall out",
        alt=_alt(risks),
        table=_table(risks),
        source=made_by(*risks.solids),
        figure=figure,
    )


def _of(risks, *roles):
    return [risk for risk in risks.solids if risk.role in roles]


def _drawn(risks):
    """Draw the bars of what may form, then of what is harmless, then tell the salts."""
    named, harmless = _of(risks, "matters", "trace"), _of(risks, "harmless")
    salts = [f"Soluble salt {_salt_told(risk)}" for risk in _of(risks, "soluble")]
    figure, state = new_figure(_height(named, harmless, salts)), risks.state
    head = f"What may fall out, at pH {state.ph:.2f} and {state.temperature:g} °C"
    write(figure, NAME, 0.18, head, fontsize=LARGE, weight="bold")
    top = NOTHING
    if named:
        _key(figure, named)
        top = _panel(figure, named, HEAD)
    else:
        write(figure, NAME, 0.55, _empty(risks), fontsize=SMALL)
    if harmless:
        words = "Above 0 in healthy solutions: harmless"
        write(figure, NAME, top + 0.18, words, fontsize=SMALL, weight="bold")
        top = _panel(figure, harmless, top + GAP)
    for place, words in enumerate(salts):
        write(figure, NAME, top + LINE * (place + 0.4), words, fontsize=SMALL)
    return figure


def _height(named, harmless, salts):
    """Return how high the figure is. [in]"""
    height = HEAD + ROW * len(named) + FOOT if named else NOTHING
    height += GAP + ROW * len(harmless) + FOOT if harmless else 0.0
    return height + LINE * len(salts)


def _empty(risks):
    return FEW if risks.solids else EMPTY


def _key(figure, named):
    """Say in two lines what the bands and the bars are."""
    axes = panel(figure, NAME, 0.34, 7.0, 0.5)
    axes.set(xlim=(0, 7.0), ylim=(0.5, 0), xticks=[], yticks=[])
    samples = [({"facecolor": band}, word) for word, band in BANDS.items()]
    samples += [(LOOKS["matters"], "index"), (LOOKS["trace"], "of traces")]
    for place, (look, words) in enumerate(samples):
        left = 0.95 * place
        thick = 0.17 if place < len(BANDS) else 0.1
        axes.barh([0.11], [0.3], thick, left=[left], linewidth=0.8, **look)
        write(figure, NAME + left + 0.36, 0.45, words, fontsize=SMALL)
    if any(risk.high > risk.low for risk in named):
        left = 0.95 * len(samples) + 0.15
        axes.plot([left, left + 0.3], [0.11, 0.11], "-|", color=INK, lw=1.4, ms=8)
        write(figure, NAME + left + 0.36, 0.45, "by model", fontsize=SMALL)
    words = "Above 0 a solid can form; each has its own bands of how likely that is."
    write(figure, NAME, 0.72, words, fontsize=SMALL)


def _panel(figure, solids, top):
    """Draw some solids, each with band, number and word; return where it ends. [in]"""
    axes = panel(figure, LEFT, top, SPAN, ROW * len(solids))
    axes.set(xlim=(LOW, HIGH), ylim=(len(solids) - 0.5, -0.5), yticks=[])
    axes.set_xticks(range(int(LOW), int(HIGH) + 1))
    axes.set_xlabel("saturation index (logarithm)", fontsize=SMALL)
    axes.spines["bottom"].set_visible(True)
    for place, risk in enumerate(solids):
        if risk.role != "harmless":
            _bands(axes, place, risk)
        _bar(axes, place, risk)
        _line(figure, risk, top + ROW * (place + 0.5))
    axes.axvline(0.0, color=INK, linewidth=1.2, zorder=4)
    return top + ROW * len(solids) + FOOT


def _edges(name):
    """Return word to the index from which a solid is told so, of the table."""
    rows = {row["solid"]: row for row in read_table("solid_risks")}
    salt = name not in mineral_names()
    row = rows.get(name) or rows[SALTS if salt else mineral(name).role]
    found = {word: row.number(word) for word in BANDS}
    return {word: edge for word, edge in found.items() if edge is not None}


def _bands(axes, place, risk):
    """Draw behind a bar where the solid is to be watched, likely and certain."""
    edges = _edges(risk.name)
    for word, edge in edges.items():
        left = _within(edge)
        look = {"color": BANDS[word], "zorder": 1}
        axes.barh([place], [HIGH - left], 0.86, left=[left], **look)


def _bar(axes, place, risk):
    """Draw an index, and the spread of the models at its end; arrows at the ends."""
    at, low, high = (_within(v) for v in (risk.index, risk.low, risk.high))
    axes.barh([place], [at], 0.4, linewidth=1.0, zorder=3, **LOOKS[risk.role])
    if high > low:
        axes.plot([low, high], [place] * 2, color="white", lw=4, zorder=5)
        axes.plot([low, high], [place] * 2, "-|", color=INK, lw=1.6, ms=9, zorder=6)
    for end, sign, beyond in _arrows(risk):
        if beyond:
            axes.plot(
                [end],
                [place],
                sign,
                color=INK,
                ms=9,
                mec="white",
                zorder=7,
                clip_on=False,
            )


def _within(index):
    return min(max(index, LOW), HIGH)


def _arrows(risk):
    """Return both ends of the axis, their arrows, and whether something lies beyond."""
    lies = min(risk.low, risk.index) < LOW, max(risk.high, risk.index) > HIGH
    return (LOW, "<", lies[0]), (HIGH, ">", lies[1])


def _line(figure, risk, top):
    """Write the name, the index and the word of one solid."""
    write(
        figure, NAME, top, fitted(risk.name, LEFT - NAME - 0.04, SMALL), fontsize=SMALL
    )
    weight = "bold" if risk.level else "normal"
    word = "" if risk.role == "harmless" else f"  {risk.word}"
    spread = risk.high > risk.low
    first = top - 0.075 if spread else top
    words = f"{_number(risk.index)}{word}"
    write(figure, SAID, first, words, fontsize=SMALL, weight=weight)
    if spread:
        write(figure, SAID, top + 0.08, _spread(risk), fontsize=SMALL - 1)


def _number(index):
    return f"{index:+.2f}".replace("-", "−")


def _spread(risk):
    """Return the ends of the models, with their words where they differ."""
    told = f"{_number(risk.low)} to {_number(risk.high)}"
    low, high = risk.words_by_model
    return told if low == high else f"{told}, {low} to {high}"


def _salt_told(risk):
    return f"{risk.name}: {risk.number}" + (f", {risk.word}" if risk.level else "")


def _table(risks):
    rows = tuple(_row(risk) for risk in risks.solids)
    columns = (
        "solid",
        "index",
        "least by model",
        "most by model",
        "% of its solubility",
    )
    columns += ("risk", *(f"{word} from" for word in BANDS), "why")
    table = Table(
        "index-bars", "What may fall out", columns, rows, (1, 2, 3, 4, 6, 7, 8)
    )
    return table.without_empty("least by model", "most by model", "% of its solubility")


def _row(risk):
    """Return what is told of one solid; the limits of a salt, in percent, in words."""
    word = "harmless" if risk.role == "harmless" else risk.words
    edges = {} if risk.role == "harmless" else _edges(risk.name)
    if risk.role == "soluble":
        told = ", ".join(f"{w} from {edge:g} %" for w, edge in edges.items())
        numbers, limits = ("", "", "", f"{risk.index:.0f}"), [""] * len(BANDS)
        return (risk.name, *numbers, word, *limits, f"{risk.reason}; {told}")
    spread = [_number(v) for v in (risk.low, risk.high) if risk.high > risk.low]
    numbers = (_number(risk.index), *(spread or ("", "")), "")
    limits = (f"{edges[w]:g}".replace("-", "−") if w in edges else "" for w in BANDS)
    return (risk.name, *numbers, word, *limits, risk.reason)


def _alt(risks):
    """Return each word with its solids, gravest first, and what is capped."""
    state = risks.state
    head = f"Saturation of solids at pH {state.ph:.2f} and {state.temperature:g} °C. "
    named = _of(risks, "matters", "trace", "soluble")
    parts = [] if _of(risks, "matters", "trace") else [_empty(risks)]
    for word in reversed(RISKS):
        found = [risk for risk in named if risk.word == word]
        parts += _listed(word, found, MOST_TOLD if word == RISKS[0] else len(found))
    parts += _listed("above 0 and harmless", _of(risks, "harmless"), MOST_TOLD)
    capped = [r.name for r in risks.solids if r.role != "soluble" and _capped(r)]
    if capped:
        told = f"Drawn to the end of the axis only: {', '.join(capped)}."
        parts.append(told)
    return head + " ".join(parts)


def _capped(risk):
    return any(beyond for _, _, beyond in _arrows(risk))


def _listed(word, solids, most):
    """Return a sentence of the solids that share a word, or none."""
    if not solids:
        return []
    told = ", ".join(f"{r.name} {_alt_number(r)}" for r in solids[:most])
    told += f" and {len(solids) - most} more" * (len(solids) > most)
    return [f"{word.capitalize()}: {told}."]


def _alt_number(risk):
    if risk.role == "soluble":
        return risk.number
    return _number(risk.index) + (f" ({_spread(risk)})" if risk.high > risk.low else "")
