"""How the pH follows a dose of acid or alkali: at once, and in balance with the air."""

import numpy as np

from formulate.checks import checked_number
from formulate.chemistry.acid_doses import AcidDose, acid_rule
from formulate.chemistry.speciation import speciate_again
from formulate.chemistry.titration import TitrationCurve
from formulate.errors import Faults, InputError, shortened
from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.species_ph import label_places
from formulate.sheets.figures.style import (
    INK,
    LARGE,
    QUIET,
    SMALL,
    WITHIN,
    drawing,
    fitted,
    new_figure,
    panel,
    write,
)
from formulate.sheets.tables import Table
from formulate.working import printed

__all__ = ["titration"]

HEIGHT, LEFT, TOP, SPAN, RISE = 4.7, 0.75, 0.98, 6.2, 3.1  # in
NAMES = ("at once", "in balance with the air")
DASHED = (0, (6, 2))
ROWS, DIGITS = 11, 3
BEYOND = 1.06  # of the last dose: where the axis ends


def titration(curve, *, ph=None, dose=None):
    """
    Return a picture of the pH of a solution against what goes into it.

    Parameters
    ----------
    curve : TitrationCurve
        The curve, as `titration_curve` returns it.
    ph : float or tuple of (float, float) or None
        The wanted pH, or its range; that of the dose if None. [-]
    dose : AcidDose or None
        A dose for the same solution, to be marked with the interval of its errors.

    Returns
    -------
    Picture
        Two lines, over millilitres in a litre of a liquid, else over grams.

    Raises
    ------
    InputError
        With every fault of what was given.

    Examples
    --------
    >>> from formulate.chemistry.titration import titration_curve
    >>> from formulate.stoichiometry.solution import solution
    >>> tap = solution({"Ca": 2.0, "HCO3": 4.0}, ph=7.5)
    >>> picture = titration(titration_curve(tap, "nitric acid (53 %)"), ph=5.8)
    >>> picture.alt[:70]
    'pH against nitric acid (53 %), 0 to 0.398 mL/L: at once 7.50 to 3.21, '
    """
    wanted = _checked(curve, ph, dose)
    with drawing():
        figure = _drawn(curve, wanted, dose)
    name = curve.ingredient.name
    return Picture(
        key="titration",
        title=f"pH against {name}",
        alt=_alt(curve, wanted, dose),
        table=_table(curve, dose),
        source=made_by(curve.ingredient),
        figure=figure,
    )


def _checked(curve, ph, dose):
    """Return the ends of the wanted pH, or nothing; every fault at once."""
    faults, wanted = Faults("titration"), ()
    if not isinstance(curve, TitrationCurve):
        faults.add(f"{shortened(curve)} is no curve; give what titration_curve returns")
    with faults.collecting():
        _check_dose(curve, dose)
        ph = dose.ph if ph is None and dose is not None else ph
    with faults.collecting():
        if ph is not None and not isinstance(ph, AcidDose):
            wanted = _range_of(ph)
    faults.raise_if_any()
    return wanted


def _check_dose(curve, dose):
    """Raise if a dose does not belong to a curve."""
    if dose is None:
        return
    if not isinstance(dose, AcidDose):
        raise InputError(f"{shortened(dose)} is no dose; give what acid_dose returns")
    if np.ndim(dose.grams):
        raise InputError("the doses are a stack; take one of it")
    told = getattr(getattr(curve, "ingredient", None), "name", dose.ingredient.name)
    if dose.ingredient.name != told:
        raise InputError(f"the dose is of {dose.ingredient.name}, the curve of {told}")


def _range_of(ph):
    """Return the ends of a wanted pH; equal for a value."""
    ends = ph if isinstance(ph, tuple | list) else (ph, ph)
    if len(ends) != 2:
        raise InputError(f"wanted pH {shortened(ph)}: give a number or two")
    low = checked_number(ends[0], "wanted pH", least=0, most=14)
    return low, checked_number(ends[1], "wanted pH, upper end", least=low, most=14)


def _liquid(curve):
    return curve.millilitres is not None


def _unit(curve):
    return "mL/L" if _liquid(curve) else "g/L"


def _amounts(curve, grams):
    """Return doses in the unit of the axis."""
    return (
        grams * (curve.millilitres[-1] / curve.grams[-1]) if _liquid(curve) else grams
    )


def _drawn(curve, wanted, dose):
    figure = new_figure(HEIGHT)
    title = fitted(f"pH against {curve.ingredient.name}", 7.0, LARGE)
    write(figure, 0.08, 0.18, title, fontsize=LARGE, weight="bold")
    _head(figure, curve, dose)
    axes = panel(figure, LEFT, TOP, SPAN, RISE)
    most = BEYOND * max(_amounts(curve, curve.grams[-1]), _dose_end(curve, dose))
    low, high = _ph_ends(curve, wanted, dose)
    axes.set(xlim=(0, most), ylim=(low, high))
    axes.set_xlabel(
        f"{_unit(curve)}, in a litre of the solution before", fontsize=SMALL
    )
    axes.set_ylabel("pH", fontsize=SMALL)
    axes.spines[["left", "bottom"]].set_visible(True)
    axes.ticklabel_format(axis="x", style="plain", useOffset=False)
    axes.grid(color="#E4E4E4", linewidth=0.6, zorder=0)
    axes.set_axisbelow(True)
    doses = _amounts(curve, curve.grams)
    axes.plot(doses, curve.ph, color=INK, linewidth=2.2, zorder=4)
    axes.plot(
        doses, curve.ph_aerated, color=INK, linewidth=2.0, linestyle=DASHED, zorder=4
    )
    if wanted:
        _wanted(axes, wanted)
    taken = _marked(axes, curve, dose, most, low, high) if dose is not None else ()
    _names(figure, curve, wanted, axes, taken)
    return figure


def _head(figure, curve, dose):
    """Say what is drawn, and what the dose is."""
    words = "Of a closed solution, and once it has come to balance with the air."
    write(figure, 0.08, 0.43, words, fontsize=SMALL)
    if dose is not None:
        words = f"● dose {_dose_told(curve, dose)}. {_portion()}"
        write(figure, 0.08, 0.68, words, fontsize=SMALL, weight="bold")


def _portion():
    return f"Give {acid_rule('first portion'):g} % of it first, stir, measure."


def _dose_told(curve, dose):
    """Return a dose with its interval."""
    low, high = (printed(_amounts(curve, end), DIGITS) for end in dose.interval)
    at = printed(_amounts(curve, dose.grams), DIGITS)
    return f"{at} {_unit(curve)} ({low} to {high} for the errors stated)"


def _dose_end(curve, dose):
    """Return where the axis has to end for a dose: its interval, to thrice the curve."""
    if dose is None:
        return 0.0
    most = 3.0 * max(curve.grams[-1], dose.grams)
    return _amounts(curve, min(dose.interval[1], most))


def _ph_ends(curve, wanted, dose):
    """Return whole pH below and above everything drawn."""
    given = [*wanted, *([dose.ph] if dose is not None else [])]
    values = np.concatenate([curve.ph, curve.ph_aerated, given])
    return np.floor(values.min() - 0.2), np.ceil(values.max() + 0.2)


def _wanted(axes, wanted):
    """Draw the wanted pH behind."""
    axes.axhspan(*wanted, facecolor=WITHIN, zorder=1)
    for end in {*wanted}:
        axes.axhline(end, color=INK, linewidth=0.9, zorder=2)


def _marked(axes, curve, dose, most, low, high):
    """Draw a dose with its interval; return the box of it. [in]"""
    at = _amounts(curve, dose.grams)
    ends = [min(_amounts(curve, end), most) for end in dose.interval]
    axes.plot([at, at], [low, dose.ph], color=QUIET, linewidth=0.9, zorder=3)
    axes.plot(ends, [dose.ph] * 2, color="white", lw=5, zorder=5)
    axes.plot(ends, [dose.ph] * 2, "-|", color=INK, lw=2.2, ms=11, mew=1.6, zorder=6)
    if _amounts(curve, dose.interval[1]) > most:
        axes.plot([most], [dose.ph], ">", color=INK, ms=9, zorder=6, clip_on=False)
    axes.plot([at], [dose.ph], "o", color=INK, ms=8, mec="white", mew=1.0, zorder=7)
    left, right = (SPAN * end / most for end in ends)
    up = RISE * (dose.ph - low) / (high - low)
    middle = SPAN * at / most
    return [
        (left - 0.1, up - 0.1, right + 0.1, up + 0.1),
        (middle - 0.03, 0.0, middle + 0.03, up),
    ]


def _names(figure, curve, wanted, axes, taken):
    """Write at each line what it is."""
    (_, most), (low, high) = axes.get_xlim(), axes.get_ylim()
    across = SPAN * _amounts(curve, curve.grams) / most
    lines = [
        (across, RISE * (y - low) / (high - low)) for y in (curve.ph, curve.ph_aerated)
    ]
    for end in sorted({*wanted}, reverse=True):
        up = RISE * (end - low) / (high - low)
        lines.append((np.array([0.0, SPAN]), np.array([up, up])))
    words = [*NAMES, *([f"wanted pH {_told(wanted)}"] if wanted else [])]
    found = label_places(lines, words, SPAN, RISE, taken=taken)
    for text, (left, up, _) in zip(words, found, strict=True):
        write(figure, LEFT + left, TOP + RISE - up, text, ha="center", fontsize=SMALL)


def _told(wanted):
    """Return a wanted pH or its range as it is printed."""
    return " to ".join(dict.fromkeys(printed(end, DIGITS) for end in wanted))


def _table(curve, dose):
    """Return some doses with both pH, and that of the dose if one is given."""
    places = np.linspace(0, len(curve.grams) - 1, ROWS).round().astype(int)
    rows = [(curve.grams[n], curve.ph[n], curve.ph_aerated[n], "") for n in places]
    if dose is not None:
        at_once, later = _ph_of(dose)
        rows.append((dose.grams, at_once, later, f"dose {_dose_told(curve, dose)}"))
        rows.sort(key=lambda row: row[0])
    cells = tuple(
        (printed(_amounts(curve, g), DIGITS), f"{once:.2f}", f"{later:.2f}", what)
        for g, once, later, what in rows
    )
    columns = (_unit(curve), "pH at once", "pH in balance with the air", "what")
    title = f"pH against {curve.ingredient.name}"
    return Table("titration", title, columns, cells, (0, 1, 2)).without_empty("what")


def _ph_of(dose):
    """Return the pH after a dose, closed and in balance with the air."""
    if dose.after.air_co2_ppm is None:
        return dose.ph, dose.tomorrow.ph
    return speciate_again(
        dose.after, solution=dose.after.solution, air_co2_ppm=None
    ).ph, dose.ph


def _alt(curve, wanted, dose):
    last = printed(_amounts(curve, curve.grams[-1]), DIGITS)
    text = f"pH against {curve.ingredient.name}, 0 to {last} {_unit(curve)}: "
    text += f"at once {curve.ph[0]:.2f} to {curve.ph[-1]:.2f}, in balance with the air "
    text += f"{curve.ph_aerated[0]:.2f} to {curve.ph_aerated[-1]:.2f}."
    if wanted:
        text += f" Wanted is pH {_told(wanted)}."
    if dose is not None:
        at_once, later = _ph_of(dose)
        text += f" The dose {_dose_told(curve, dose)} brings pH {at_once:.2f} at once, "
        text += f"{later:.2f} in balance with the air."
    return text
