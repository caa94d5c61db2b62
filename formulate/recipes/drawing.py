"""pH and EC as straight lines over the forms of a solution, drawn at one composition.

A pH is where all charges balance: at a given pH every form counts with its mean charge. That
is a straight line, but for what pairs and ionic strength change of the mean charges. Open
to the air the carbonates are no longer what was added: they drop out, and what the air
holds there at that pH stands as a number. The EC is a curve that bends down; its tangent
stands for it. Lines are drawn anew at each recipe until recipe and lines agree.

Equation of the line of a pH [definition]::

    Σ (z + protons) c + unnamed ions + [H+] − [OH−] = 0        z + protons: mean charge at that pH
"""

import math
from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType

import numpy as np

from formulate.chemistry.conductivity import conductivity
from formulate.chemistry.protons import places_of
from formulate.chemistry.speciation import speciate
from formulate.recipes.limits import counted
from formulate.recipes.meters import air_of, reading
from formulate.recipes.requirement import HARD, Requirement
from formulate.stoichiometry.nutrients import form, form_names, nutrient, nutrient_keys
from formulate.stoichiometry.solution import Solution

__all__ = [
    "Drawing",
    "Line",
    "agree",
    "apart",
    "draw",
    "main_forms",
    "metered_rows",
    "sum_of",
    "through",
]

MAIN = ("macro", "other")  # groups of nutrients
SLOPE_STEP = 0.01  # share of the cations, for the slope of the EC
PH_STEP = 0.01
SAME_PH = 0.002  # lines that agree on a pH better than this, or on an EC better than
SAME_EC = 0.001  # this share of it, are the same
LEAST_EC = 1e-6  # mS/cm
LN10 = math.log(10)
SLOPE_KEPT = 0.2  # share by which the EC may move before its slopes are taken anew


@dataclass(frozen=True)
class Line:
    """
    A straight line over the forms of a solution.

    Attributes
    ----------
    weights : mapping of str to float
        Form to what a millimole of it counts; "charge" for a milliequivalent of unnamed
        ions. [-]
    shift : float
        What counts whatever is added. [-]
    level : float
        The value that is asked for: at least, at most, or exactly. [-]
    """

    weights: MappingProxyType
    shift: float
    level: float

    def value(self, solution):
        """
        Return what a solution has of it.

        Parameters
        ----------
        solution : Solution
            The solution.

        Returns
        -------
        float
            The value: meq/L of a pH, mS/cm of an EC. [-]

        Examples
        --------
        >>> from formulate.stoichiometry.solution import solution
        >>> Line({"calcium": 2.0}, 0.5, 1.0).value(solution({"Ca": 1.5}))
        3.5
        """
        return self.shift + counted(self.weights, solution)


@dataclass(frozen=True, eq=False)
class Drawing:
    """
    The lines of all limits on pH and EC, drawn at one composition.

    Attributes
    ----------
    lines : mapping of (Limit, str) to Line
        Limit and side ("low" or "high") to its line.
    near : mapping of str to Speciation
        States to begin from the next time.
    slopes : (float, mapping of str to float) or None
        EC at which its slopes were taken, and the slopes. [mS/cm]
    """

    lines: MappingProxyType
    near: MappingProxyType = field(repr=False)
    slopes: tuple | None = None


def draw(limits, solution, before=None, *, follow_ph=False):
    """
    Return the lines of limits on pH and EC at a composition.

    Parameters
    ----------
    limits : iterable of Limit
        Limits; those on anything else are passed over.
    solution : Solution
        The composition.
    before : Drawing or None
        An earlier drawing, whose states and slopes serve as a start.
    follow_ph : bool
        Whether the slopes of the EC count how what is added moves the pH: nearer to the
        truth among salts; strong acids and alkalis swing it too far to follow.

    Returns
    -------
    Drawing
        The lines.

    Examples
    --------
    >>> from formulate.recipes.limits import limit
    >>> from formulate.stoichiometry.solution import solution
    >>> held = limit("pH", "exactly 6")
    >>> drawn = draw([held], solution({"K": 5.0, "P": 1.0, "NO3": 4.0}))
    >>> round(drawn.lines[held, "low"].weights["phosphate"], 2)
    -1.07
    """
    near = dict(before.near) if before else {}
    slopes = before.slopes if before else None
    loose = Solution(solution.forms, solution.unassigned_charge)
    lines = {}
    for held in limits:
        if not held.is_metered:
            continue
        if held.subject == "EC":
            ec_line, near["EC"], slopes = _ec_line(
                loose, near.get("EC"), slopes, follow_ph
            )
        for side in held.sides:
            bound = held.low if side == "low" else held.high
            if held.subject == "EC":
                lines[held, side] = Line(*ec_line, bound)
                continue
            name = _name(held, side)
            state = speciate(
                loose, ph=bound, air_co2_ppm=air_of(held.subject), near=near.get(name)
            )
            near[name] = state
            lines[held, side] = Line(*_charge_line(state), 0.0)
    return Drawing(MappingProxyType(lines), MappingProxyType(near), slopes)


def through(drawing, here, there):
    """
    Return a drawing whose line of the EC goes through two compositions.

    Where two recipes take turns, a line true at both finds the one between them.

    Parameters
    ----------
    drawing : Drawing
        Lines drawn at the first.
    here : Solution
        The first composition.
    there : Solution
        The second.

    Returns
    -------
    Drawing
        The same with the slopes of the EC turned as little as can be.

    Examples
    --------
    >>> from formulate.recipes.limits import limit
    >>> from formulate.stoichiometry.solution import solution
    >>> held = limit("EC", "exactly 1")
    >>> thin, thick = (solution({"K": v, "NO3": v}) for v in (5.0, 9.0))
    >>> line = through(draw([held], thin), thin, thick).lines[held, "low"]
    >>> round(abs(line.value(thick) - reading("EC", thick)), 6)
    0.0
    """
    lines = dict(drawing.lines)
    keys = sorted({*here.forms, *there.forms} & {*main_forms()})
    apart_by = {k: there.forms.get(k, 0.0) - here.forms.get(k, 0.0) for k in keys}
    size = sum(value * value for value in apart_by.values())
    for (held, side), line in drawing.lines.items():
        if held.subject != "EC" or not size:
            continue
        off = reading("EC", there) - line.value(there)
        weights = dict(line.weights)
        for key, value in apart_by.items():
            weights[key] = weights.get(key, 0.0) + off * value / size
        told = Line(weights, 0.0, 0.0).value(here)
        shift = line.value(here) - told
        lines[held, side] = Line(MappingProxyType(weights), shift, line.level)
    return Drawing(MappingProxyType(lines), drawing.near, drawing.slopes)


def metered_rows(held, ingredients, tap, drawing):
    """
    Return the hard rows of a limit on pH or EC, along its lines.

    Parameters
    ----------
    held : Limit
        The limit.
    ingredients : sequence of Ingredient
        The shelf.
    tap : Solution
        The water.
    drawing : Drawing
        Its lines.

    Returns
    -------
    tuple of Requirement
        One row for each side that is closed: meq/L of a pH, mS/cm of an EC. [meq/L]

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.limits import limit
    >>> from formulate.stoichiometry.solution import solution
    >>> held, feed = limit("pH", "exactly 6"), solution({"K": 5.0, "P": 1.0, "NO3": 4.0})
    >>> (row,) = metered_rows(held, [salt("KH2PO4")], feed, draw([held], feed))
    >>> row.name, round(row.coefficients[0], 2)
    ('pH exactly 6', -0.53)
    """
    rows = []
    for side in held.sides:
        line = drawing.lines[held, side]
        low, high = -math.inf, math.inf
        if side == "low" or held.low == held.high:
            low = line.level
        if side == "high" or held.low == held.high:
            high = line.level
        rows.append(
            Requirement(
                held.named(side),
                tuple(counted(line.weights, one) for one in ingredients),
                low,
                high,
                line.value(tap),
                unit=held.unit or "meq/L",
                kind=HARD,
                key=held.subject,
                origin="limit",
                limit=held,
            )
        )
    return tuple(rows)


def agree(first, second, solution):
    """
    Return whether two drawings say the same of a solution.

    Parameters
    ----------
    first : Drawing
        The lines that a recipe was solved with.
    second : Drawing
        The lines drawn at it.
    solution : Solution
        What the recipe makes.

    Returns
    -------
    bool
        Whether pH agree within 0.002, and EC within 0.1 %.

    Examples
    --------
    >>> from formulate.recipes.limits import limit
    >>> from formulate.stoichiometry.solution import solution
    >>> held, feed = limit("pH", "exactly 6"), solution({"K": 5.0, "P": 1.0, "NO3": 4.0})
    >>> drawn = draw([held], feed)
    >>> agree(drawn, draw([held], feed, drawn), feed)
    True
    """
    return abs(apart(first, second, solution)) <= 1.0


def apart(first, second, solution):
    """
    Return how far two drawings differ on a solution.

    Lines that both leave it well within their bound do not differ, whatever they say.

    Parameters
    ----------
    first : Drawing
        The lines that a recipe was solved with.
    second : Drawing
        The lines drawn at it.
    solution : Solution
        What the recipe makes.

    Returns
    -------
    float
        The largest difference, with its sign; 1 is what counts as the same. [-]

    Examples
    --------
    >>> from formulate.recipes.limits import limit
    >>> from formulate.stoichiometry.solution import solution
    >>> held, feed = limit("EC", "at most 1"), solution({"K": 5.0, "NO3": 5.0})
    >>> drawn = draw([held], feed)
    >>> apart(drawn, drawn, solution({"K": 1.0, "NO3": 1.0}))
    0.0
    """
    found = 0.0
    for (held, side), line in second.lines.items():
        own, other = (
            each.value(solution) - line.level
            for each in (line, first.lines[held, side])
        )
        give = _give(second, held, side, line)
        way = 1.0 if side == "low" else -1.0
        if held.low == held.high or min(way * own, way * other) <= give:
            found = max(found, float((own - other) / give), key=abs)
    return found


def _give(drawing, held, side, line):
    """Return by how much lines may differ, in the unit of the line."""
    if held.subject == "EC":
        return max(SAME_EC * line.level, LEAST_EC)
    state = drawing.near[_name(held, side)]
    return float(SAME_PH * _buffered(state) * 1000.0 * state.water)


def _buffered(state):
    """Return what moves the pH of a state by one, but for carbonates and pairs. [mol/kg]"""
    found = state.molalities[0] + state.molalities[1]
    for place, families in state.net.families:
        key = (*state.net.cations, *state.net.ligands)[place]
        if key == "carbonate":
            continue
        total = sum(state.molalities[row] for row in places_of(state.net, key))
        parts = [(n, state.molalities[r]) for n, rows in families for r in rows]
        if total > 0:
            mean = sum(n * m for n, m in parts) / total
            found += sum(n * n * m for n, m in parts) - mean * mean * total
    return LN10 * found


def _name(held, side):
    """Return the name under which the state at a bound is kept."""
    return f"{held.subject} {held.low if side == 'low' else held.high:.9g}"


# --- pH --------------------------------------------------------------------------------


def _charge_line(state):
    """Return what each form counts in the charge at the pH of a state, and the rest."""
    weights = {key: float(form(key).nominal_charge) for key in form_names()}
    for key in (*state.net.cations, *state.net.ligands):
        weights[key] = _mean_charge(state, key)
    is_open = state.air_co2_ppm is not None
    if is_open:
        weights["carbonate"] = 0.0
    weights["charge"] = 1.0
    told = Line(weights, 0.0, 0.0).value(state.solution)
    return MappingProxyType(weights), state.charge_left() - told


def _mean_charge(state, key):
    """Return the charge of a form's bare ion and of the protons that it holds."""
    net = state.net
    place = (*net.cations, *net.ligands).index(key)
    bare = float(net.species[2 + place].charge)
    families = dict(net.families).get(place, ())
    total = sum(state.molalities[row] for row in places_of(net, key))
    held = sum(n * state.molalities[row] for n, rows in families for row in rows)
    return bare + float(held / total) if total > 0 else float(form(key).nominal_charge)


# --- EC --------------------------------------------------------------------------------


def _ec_line(solution, near, slopes, follow_ph):
    """Return the tangent of the EC: weights, shift; its state; where slopes were taken."""
    state = speciate(solution, near=near)
    ec = conductivity(state).ec
    if slopes is None or abs(ec - slopes[0]) > SLOPE_KEPT * slopes[0]:
        slopes = ec, MappingProxyType(_slopes(state, ec, follow_ph))
    told = Line(slopes[1], 0.0, 0.0).value(solution)
    return (slopes[1], ec - told), state, slopes


def _slopes(state, ec, follow_ph):
    """Return by what the EC rises with each main form.

    At constant pH by small steps; then, if it is to follow, by how far the charge that a
    form brings moves the pH, and what that does to the EC.

    Equation of the tangent of the EC [definition]::

        EC ≈ EC0 + Σ s (c − c0)        s by small steps of each main form
    """
    forms = state.solution.forms
    keys = [key for key in main_forms() if key in forms]
    step = SLOPE_STEP * max(state.solution.cations(), 1.0)
    count = len(keys) + 1
    stack = {key: np.full(count, forms.get(key, 0.0)) for key in {*forms, *keys}}
    for place, key in enumerate(keys):
        stack[key][place] += step
    ph = np.full(count, state.ph)
    ph[-1] += PH_STEP
    moved = speciate(Solution(stack, state.solution.unassigned_charge), ph=ph)
    rise, charge = conductivity(moved).ec - ec, moved.charge_left()
    by_charge = -rise[-1] / charge[-1] if follow_ph else 0.0  # for one step of pH
    slopes = ((rise + by_charge * charge) / step).tolist()
    return {**dict(zip(keys, slopes, strict=False)), "charge": float(by_charge)}


@cache
def main_forms():
    """
    Return the ions that can carry much of an EC: those of no trace and no chelate.

    Returns
    -------
    tuple of str
        Keys of forms.

    Examples
    --------
    >>> "calcium" in main_forms(), "zinc" in main_forms()
    (True, False)
    """
    known = (nutrient(key) for key in nutrient_keys())
    main = {k for one in known if one.group in MAIN for k in one.weights}
    return tuple(k for k in form_names() if k in main and form(k).nominal_charge)


def sum_of(things, amounts):
    """
    Return the solution that amounts of ingredients and waters make together.

    Parameters
    ----------
    things : iterable of Ingredient or Solution
        What is put together.
    amounts : iterable of float
        Grams (or millilitres) of an ingredient, litres of a water, in each litre. [g]

    Returns
    -------
    Solution
        The solution. [mmol/L]

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.stoichiometry.solution import solution
    >>> made = sum_of([salt("KCl"), solution({"K": 1.0})], [0.0745513, 0.5])
    >>> round(made.forms["potassium"], 4)
    1.5
    """
    forms, charge = {}, 0.0
    for thing, amount in zip(things, amounts, strict=True):
        charge += thing.unassigned_charge * amount
        for key, value in thing.forms.items():
            forms[key] = forms.get(key, 0.0) + value * amount
    return Solution(forms, charge)
