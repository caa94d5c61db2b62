"""Which ion carries how much of the conductivity: one bar an ion, the largest first."""

from formulate.errors import InputError
from formulate.sheets.figures.ions import look_of
from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.style import (
    INK,
    LARGE,
    SMALL,
    drawing,
    new_figure,
    panel,
    write,
)
from formulate.sheets.tables import Table
from formulate.stoichiometry.notation import printed_ion
from formulate.working import printed

__all__ = ["carriers"]

LEFT, SPAN, TOP, FOOT = 1.6, 4.3, 0.75, 0.3  # in
STEP, THICK = 0.3, 0.62  # in; share of a step
LEAST = 0.005  # share of the EC: what carries less is drawn together
DIGITS = 3


def carriers(found):
    """
    Return a picture of what each ion carries of a conductivity.

    Parameters
    ----------
    found : Conductivity
        The conductivity of one solution. [mS/cm]

    Returns
    -------
    Picture
        One bar for each ion that matters, the others in one.

    Raises
    ------
    InputError
        If it is that of a stack, or nothing conducts.

    Examples
    --------
    >>> from formulate.chemistry.conductivity import conductivity
    >>> from formulate.stoichiometry.solution import solution
    >>> picture = carriers(conductivity(solution({"K": 5.0, "NO3": 5.0})))
    >>> picture.alt[:48]
    'EC 0.695 mS/cm at 25 °C, carried by K⁺ 0.354 mS/'
    """
    if found.state.shape:
        raise InputError("carriers: this is a stack of solutions; take one of it")
    whole = found.ec
    if not whole:
        raise InputError("carriers: nothing conducts; nothing to draw")
    rows = [(ion, v) for ion, v in found.by_ion.items() if v >= LEAST * whole]
    rest = whole - sum(v for _, v in rows)
    if rest > LEAST / 10 * whole:
        rows.append(("others", rest))
    with drawing():
        figure = _drawn(found, rows)
    table = tuple(
        (_name(ion), printed(v, DIGITS), printed(100 * v / whole, DIGITS))
        for ion, v in rows
    )
    told = ", ".join(
        f"{name} {value} mS/cm ({share} %)" for name, value, share in table
    )
    return Picture(
        key="carriers",
        title="What carries the EC",
        alt=f"EC {printed(whole, DIGITS)} mS/cm at {found.state.temperature:g} °C, carried by {told}.",
        table=Table(
            "carriers",
            "What carries the EC",
            ("ion", "mS/cm", "% of EC"),
            table,
            (1, 2),
        ),
        source=made_by(*found.notices),
        figure=figure,
    )


def _name(ion):
    return ion if ion.startswith(("unnamed", "others")) else printed_ion(ion)


def _drawn(found, rows):
    """Draw the bars, each with its value at its end."""
    height = TOP + STEP * len(rows) + FOOT
    figure = new_figure(height)
    head = f"What carries the EC: {printed(found.ec, DIGITS)} mS/cm at {found.state.temperature:g} °C"
    write(figure, 0.08, 0.18, head, fontsize=LARGE, weight="bold")
    note = f"Expected within {found.error_percent:g} %; mS/cm and share of the whole."
    write(figure, 0.08, 0.45, note, fontsize=SMALL)
    axes = panel(figure, LEFT, TOP, SPAN, STEP * len(rows))
    most = max(v for _, v in rows)
    axes.set(xlim=(0, most), ylim=(len(rows) - 0.5, -0.5), xticks=[], yticks=[])
    for place, (ion, value) in enumerate(rows):
        look = look_of(ion, found.state)
        axes.barh([place], [value], THICK, edgecolor=INK, linewidth=0.9, **look)
        middle = TOP + STEP * (place + 0.5)
        write(figure, LEFT - 0.1, middle, _name(ion), ha="right")
        words = f"{printed(value, DIGITS)}  ({100 * value / found.ec:.0f} %)"
        end = LEFT + SPAN * value / most + 0.08
        write(figure, end, middle, words, fontsize=SMALL)
    return figure
