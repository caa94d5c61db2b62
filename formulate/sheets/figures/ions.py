"""The ions of a solution by charge: cations and anions side by side, equal when nothing is open.

Of a solution every form counts as its nominal ion; of a state of the solution chemistry
each ion and pair stands as it is at its pH, and nothing remains open. Else what remains open is carried by hydrogen: acid
and carbonic acid where anions exceed, base and further charge of carbonate and phosphate
where cations do.
"""

from formulate.chemistry.state import Speciation
from formulate.errors import InputError
from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.style import (
    INK,
    LARGE,
    SMALL,
    colour,
    drawing,
    new_figure,
    panel,
    write,
)
from formulate.sheets.tables import Table
from formulate.stoichiometry.notation import printed_ion
from formulate.stoichiometry.nutrients import form, form_names
from formulate.working import printed

__all__ = ["ions", "look_of"]

HEIGHT, TOP, BARS = 5.6, 0.98, 4.15  # in
LEFTS, THICK = {"cations": 1.95, "anions": 3.45}, 0.85  # in
LEFT, SPAN = 0.65, 6.45  # in
SMALLEST = 0.02  # share of a column; what is less is drawn with the others
STEP = 0.23  # in, from label to label
OPEN = 0.001  # share of a column that may be open by rounding
DIGITS = 3
NOTES = (
    "Each form counted as its nominal ion; sums are of the named ions.",
    "Each ion and pair as it is at the pH of the solution.",
)
OPEN_WORDS = {
    "cations": "acid: H⁺ and CO₂",
    "anions": "base: OH⁻, CO₃²⁻",
}
OPEN_TABLE = {
    "cations": "acid: H⁺, and HCO₃⁻ that is CO₂",
    "anions": "base: OH⁻, and further charge of carbonate and phosphate",
}


def ions(solution):
    """
    Return a picture of the ions of a solution by charge.

    Parameters
    ----------
    solution : Solution or Speciation
        The solution, or whatever has one as its `solution`; or its ions and pairs as
        `speciate` gives them. [mmol/L]

    Returns
    -------
    Picture
        Two columns of equal height in meq/L; small ions are drawn together.

    Raises
    ------
    InputError
        If there is no ion in it, or it is a stack of solutions.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> print(ions(solution({"K": 1.0, "Ca": 1.0, "NO3": 3.0})).alt)
    Ions by charge: cations 3.00 meq/L (K⁺ 1.00, Ca²⁺ 2.00) and anions 3.00 meq/L \
(NO₃⁻ 3.00). Both columns are equal.
    """
    state = solution if isinstance(solution, Speciation) else None
    held = getattr(solution, "solution", solution)
    if not all(isinstance(v, float) for v in (*held.forms.values(), _unnamed(held))):
        raise InputError("ions: this is a stack of solutions; take one of it")
    columns = {side: _named(held, side, state) for side in LEFTS}
    if not any(columns.values()):
        raise InputError("ions: no ion is dissolved in it; nothing to draw")
    whole = {side: _whole(held, columns, side) for side in LEFTS}
    shown = {side: _gathered(whole[side]) for side in LEFTS}
    sums = {side: sum(v for _, _, v in columns[side]) for side in LEFTS}
    with drawing():
        figure = _drawn(shown, sums, NOTES[state is not None], state)
    return Picture(
        key="ions",
        title="Ions by charge",
        alt=_alt(shown, sums),
        table=_table(whole, sums),
        source=made_by(solution, *_parts(solution)),
        figure=figure,
    )


def _parts(thing):
    """Return what a recipe is made of; nothing for a bare solution."""
    found = [getattr(thing, "target", None), getattr(thing, "water", None)]
    return [*found, *(i for i, _ in getattr(thing, "amounts", ()))]


def _unnamed(held):
    charge = held.unassigned_charge
    return float(charge) if isinstance(charge, int) else charge


def _named(held, side, state):
    """Return (key, label, meq/L) of each ion with that sign."""
    sign = 1 if side == "cations" else -1
    if state is not None:
        each = ((s, s.charge * state.amount(s.name)) for s in state.net.species)
        found = [
            (s.name, printed_ion(s.name), q * sign) for s, q in each if q * sign > 0
        ]
        return sorted(found, key=lambda entry: -entry[2])
    pairs = ((key, form(key).nominal_charge * v) for key, v in held.forms.items())
    return [
        (k, printed_ion(form(k).nominal_ion), q * sign)
        for k, q in pairs
        if q * sign > 0
    ]


def look_of(key, state=None):
    """
    Return how a segment or bar of an ion is filled.

    Parameters
    ----------
    key : str
        Form, or name of a species of a state; anything else is hatched.
    state : Speciation or None
        The state that the species belongs to.

    Returns
    -------
    dict of str to str
        Settings as matplotlib names them.

    Examples
    --------
    >>> look_of("H+")["hatch"]
    '|||'
    """
    name = key
    if state is not None:
        net = state.net
        of = {s.name: s.ligand or s.cation for s in net.species}
        bare = (*net.cations, *net.ligands, *net.inert)
        of |= dict(zip((s.name for s in net.species[2:]), bare, strict=False))
        name = of.get(key, "").partition(":")[0]
    if name not in form_names():
        return {"facecolor": "white", "hatch": "|||"}
    return {"facecolor": colour(form(name).symbol)}


def _whole(held, columns, side):
    """Return a column with the unassigned charge and what is open, so that both are equal."""
    unnamed = _unnamed(held)
    sums = {s: sum(v for _, _, v in columns[s]) for s in columns}
    sums["cations" if unnamed > 0 else "anions"] += abs(unnamed)
    found = list(columns[side])
    if abs(unnamed) > 0 and (unnamed > 0) == (side == "cations"):
        found.append(("unassigned", "unassigned", abs(unnamed)))
    lacking = max(sums.values()) - sums[side]
    if lacking > OPEN * max(sums.values()):
        found.append(("open", OPEN_WORDS[side], lacking))
    return found


def _gathered(entries):
    """Return a column with its small ions as one segment, before what is no ion."""
    least = SMALLEST * sum(value for _, _, value in entries)
    extra = ("unassigned", "open")
    small = [e for e in entries if e[2] < least and e[0] not in extra]
    if len(small) < 2:
        return entries
    rest = [e for e in entries if e not in small]
    gathered = ("others", f"{len(small)} others", sum(value for _, _, value in small))
    ends = [e for e in rest if e[0] in extra]
    return [*(e for e in rest if e[0] not in extra), gathered, *ends]


def _look(key, state):
    look = {"edgecolor": INK, "linewidth": 0.9}
    if key == "open":
        return {**look, "facecolor": "none", "linestyle": (0, (4, 3))}
    if key == "unassigned":
        return {**look, "facecolor": "white", "hatch": "xxx"}
    if key == "others":
        return {**look, "facecolor": "white", "hatch": "|||"}
    return {**look, **look_of(key, state)}


def _drawn(shown, sums, note, state):
    figure = new_figure(HEIGHT)
    write(figure, 0.08, 0.18, "Ions by charge", fontsize=LARGE, weight="bold")
    axes = panel(figure, LEFT, TOP, SPAN, BARS)
    height = max(sum(v for _, _, v in entries) for entries in shown.values())
    axes.set(xlim=(0, SPAN), ylim=(0, height), xticks=[])
    axes.set_ylabel("meq/L", fontsize=SMALL)
    axes.spines["left"].set_visible(True)
    for side, entries in shown.items():
        _column(axes, figure, side, entries, height, state)
        middle = LEFTS[side] + THICK / 2 + LEFT
        total = f"{printed(sums[side], DIGITS)} meq/L"
        write(figure, middle, TOP - 0.36, side, ha="center", weight="bold")
        write(figure, middle, TOP - 0.15, total, ha="center", fontsize=SMALL)
    write(figure, LEFT, HEIGHT - 0.22, note, fontsize=SMALL)
    return figure


def _column(axes, figure, side, entries, height, state):
    """Draw one column and its labels at the outer side."""
    bottom, middles = 0.0, []
    for key, _, value in entries:
        axes.bar(
            [LEFTS[side]],
            [value],
            THICK,
            bottom=bottom,
            align="edge",
            **_look(key, state),
        )
        middles.append((bottom + value / 2) / height * BARS)
        bottom += value
    outer = LEFTS[side] if side == "cations" else LEFTS[side] + THICK
    way = -1 if side == "cations" else 1
    heights = _spread(middles)
    for (_, label, value), middle, place in zip(entries, middles, heights, strict=True):
        ends = [outer, outer + way * 0.22], [middle, place]
        axes.plot(
            ends[0],
            [h / BARS * height for h in ends[1]],
            color=INK,
            lw=0.7,
            clip_on=False,
        )
        words = f"{label}  {printed(value, DIGITS)}"
        where = LEFT + outer + way * 0.27
        ha = "right" if side == "cations" else "left"
        write(figure, where, TOP + BARS - place, words, ha=ha, fontsize=SMALL + 0.5)


def _spread(middles):
    """Return heights of labels, moved apart where they would overlap. [in]"""
    places = list(middles)
    for i in range(1, len(places)):
        places[i] = max(places[i], places[i - 1] + STEP)
    ceiling = BARS + 0.05
    for i in reversed(range(len(places))):
        places[i] = min(places[i], ceiling)
        ceiling = places[i] - STEP
    return places


def _table(whole, sums):
    rows = []
    for side, entries in whole.items():
        for key, label, value in entries:
            named = key not in ("unassigned", "open")
            known = named and key in form_names()
            name = f"{label} ({form(key).name})" if known else label
            name = _in_words(key, side) or name
            rows.append((name, side, printed(value, DIGITS)))
        rows.append((f"sum of the named {side}", side, printed(sums[side], DIGITS)))
        total = sum(value for _, _, value in entries)
        rows.append(("whole column", side, printed(total, DIGITS)))
    columns = ("ion", "column", "meq/L")
    return Table("ions", "Ions by charge", columns, tuple(rows), (2,))


def _in_words(key, side):
    """Return what a segment is that is no ion, or nothing."""
    return {"open": OPEN_TABLE[side], "unassigned": "unassigned charge"}.get(key, "")


def _alt(shown, sums):
    parts, ends = [], []
    for side, entries in shown.items():
        named = [e for e in entries if e[0] not in ("unassigned", "open")]
        told = ", ".join(f"{name} {printed(v, DIGITS)}" for _, name, v in named)
        total = printed(sums[side], DIGITS)
        parts.append(f"{side} {total} meq/L" + (f" ({told})" if told else ""))
        ends += [
            f"{printed(v, DIGITS)} meq/L beside the {side} ({_in_words(key, side)})"
            for key, _, v in entries
            if _in_words(key, side)
        ]
    closing = f"Both columns are equal with {'; '.join(ends)}" if ends else ""
    return (
        f"Ions by charge: {' and '.join(parts)}. {closing or 'Both columns are equal'}."
    )
