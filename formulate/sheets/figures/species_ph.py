"""As which species a form is dissolved, against the pH: lines that end in their names."""

import numpy as np

from formulate.checks import checked_number
from formulate.chemistry.constants import form_key
from formulate.chemistry.protons import places_of
from formulate.chemistry.speciation import speciate
from formulate.errors import Faults, InputError, shortened
from formulate.sheets.figures.picture import Picture, made_by
from formulate.sheets.figures.style import (
    INK,
    LARGE,
    QUIET,
    SMALL,
    colour,
    drawing,
    new_figure,
    panel,
    text_width,
    write,
)
from formulate.sheets.tables import Table
from formulate.stoichiometry.notation import printed_ion
from formulate.stoichiometry.nutrients import form as form_of
from formulate.stoichiometry.solution import Solution
from formulate.working import printed

__all__ = ["label_places", "species_ph"]

HEIGHT, LEFT, TOP, SPAN, RISE = 4.6, 0.75, 0.92, 6.2, 3.1  # in
POINTS, MOST_PH = 161, 14.0
SHOWN = 3.0  # %: what nowhere reaches it is gathered
LEAST_SPAN = 0.5  # of the pH
MOST = 102.0  # %: upper edge
DASHES = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (7, 2, 1.5, 2)), (0, (4, 1.5, 1, 1.5)))
OTHERS, DOTTED, WIDE = "others", (0, (1, 1.8)), 2.0  # pt
LETTER, NEAR, APART, GRID = 0.16, 0.07, 0.035, 0.06  # in
CLEAR, EDGE = (
    0.3,
    0.1,
)  # in: room that a name likes to other lines, and its leader to edges
HIGH = 0.55  # of the highest place of a line: where it may be named
TRIED = 1500  # places nearest to a line that are looked at for its name
HITS, OVER = 10.0, 1000.0  # what a hidden line and a hidden name count
NOTE = "Closed, nothing falls out; pairs with two of it count twice."


def species_ph(solution, form, *, low=4.0, high=9.0, temperature=None):
    """
    Return a picture of the species of a form against the pH.

    Parameters
    ----------
    solution : Solution, Water or Recipe
        One solution, or what has one as its `solution`.
    form : str
        Form or nutrient key, such as "phosphate" or "P".
    low : float
        Lowest pH. [-]
    high : float
        Highest pH. [-]
    temperature : float or None
        Temperature; the solution's own if None. [°C]

    Returns
    -------
    Picture
        A line for each species in percent of the form, pairs and chelates too; what stays
        below 3 % is drawn together. A thin line stands at the solution's own pH.

    Raises
    ------
    InputError
        With every fault of what was given; or if there is nothing of the form.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> feed = solution({"K": 3.0, "Ca": 4.0, "P": 1.0, "NO3": 10.0})
    >>> species_ph(feed, "P").alt[:63]
    'Species of phosphate from pH 4 to 9 at 25 °C, in percent: H₂PO₄'
    """
    held, form, low, high = _checked(solution, form, low, high)
    own = speciate(held, temperature=temperature)
    whole = np.arange(np.ceil(low), np.floor(high) + 1)
    drawn = np.linspace(low, high, POINTS)
    stack = speciate(
        held, ph=np.concatenate([drawn, whole, [own.ph]]), temperature=temperature
    )
    shares, species = _shares(stack, form)
    shown = _gathered(shares)
    with drawing():
        figure = _drawn(shown, species, form, own, drawn)
    name = form_of(form).name
    return Picture(
        key="species-ph",
        title=f"Species of {name} against pH",
        alt=_alt(shown, name, own, drawn),
        table=_table(shown, name, whole, own.ph),
        source=made_by(solution, *(species[key] for key in shown if key in species)),
        figure=figure,
    )


def _checked(solution, form, low, high):
    """Return what was given, checked, with every fault at once."""
    faults = Faults("species_ph")
    held = getattr(solution, "solution", solution)
    if not isinstance(held, Solution):
        faults.add(f"{shortened(solution)} is no Solution; give one")
    elif any(
        np.ndim(v) for v in (*held.forms.values(), held.unassigned_charge, held.ph)
    ):
        faults.add("this is a stack of solutions; take one of it")
    else:
        with faults.collecting():
            form = form_key(form)
            if not held.forms.get(form):
                raise InputError(f"no {form_of(form).name} is in it; nothing to draw")
    with faults.collecting():
        low = checked_number(low, "lowest pH", least=0, most=MOST_PH - LEAST_SPAN)
        least = low + LEAST_SPAN
        high = checked_number(high, "highest pH", least=least, most=MOST_PH)
    faults.raise_if_any()
    return held, form, low, high


def _shares(stack, form):
    """Return name to the share of the form that each species holds [%], and the species."""
    net, found = stack.net, {}
    chelates = (key for key in stack.chelates if form in key.split(":"))
    for key in (form, *chelates):
        for place in places_of(net, key):
            name = net.species[place].name
            found[name] = found.get(name, 0.0) + stack.molalities[place]
    total = sum(found.values())
    species = {s.name: s for s in net.species}
    shares = {name: 100.0 * held / total for name, held in found.items()}
    return shares, {name: species[name] for name in found}


def _gathered(shares):
    """Return the shares, largest first, those that are small at every pH as one."""
    order = sorted(shares, key=lambda name: -shares[name].max())
    shown = {name: shares[name] for name in order if shares[name].max() > SHOWN}
    small = [name for name in order if name not in shown]
    if len(small) == 1:
        shown[small[0]] = shares[small[0]]
    elif small:
        shown[OTHERS] = sum(shares[name] for name in small)
    return shown


def _drawn(shown, species, form, own, drawn):
    """Draw the lines, the pH of the solution, and the names."""
    figure = new_figure(HEIGHT)
    name, temperature = form_of(form).name, own.temperature
    head = f"Species of {name} against pH, at {temperature:g} °C"
    write(figure, 0.08, 0.18, head, fontsize=LARGE, weight="bold")
    write(figure, 0.08, 0.45, f"Share of the {name}. {NOTE}", fontsize=SMALL)
    axes = panel(figure, LEFT, TOP, SPAN, RISE)
    axes.set(xlim=(drawn[0], drawn[-1]), ylim=(0, MOST))
    axes.set_xlabel("pH", fontsize=SMALL)
    axes.set_ylabel(f"% of the {name}", fontsize=SMALL)
    axes.spines[["left", "bottom"]].set_visible(True)
    axes.grid(color="#E4E4E4", linewidth=0.6, zorder=0)
    axes.set_axisbelow(True)
    looks = _looks(shown, species, form)
    for key in reversed(shown):
        _line(axes, drawn, shown[key][:POINTS], looks[key])
    taken = _own_ph(axes, figure, own, drawn)
    _names(axes, figure, shown, drawn, taken)
    return figure


def _looks(shown, species, form):
    """Return how each line is drawn: alone in ink and dashes, in pairs as the partner."""
    looks, used = {}, []
    for key in shown:
        if key == OTHERS:
            looks[key] = (QUIET, DOTTED)
            continue
        partner = _partner(species[key], form)
        dashes = DASHES[min(used.count(partner), len(DASHES) - 1)]
        looks[key] = (colour(form_of(partner).symbol) if partner else INK, dashes)
        used.append(partner)
    return looks


def _partner(held, form):
    """Return the form that a species holds beside the one in question, or nothing."""
    parts = [*held.cation.split(":"), *held.ligand.split(":")]
    return next((part for part in parts if part and part != form), "")


def _line(axes, drawn, shares, look):
    """Draw one line; a coloured one with an edge of ink, to be seen in grey."""
    shade, dashes = look
    if shade not in (INK, QUIET):
        axes.plot(drawn, shares, color=INK, linewidth=WIDE + 1.4, zorder=2)
    axes.plot(drawn, shares, color=shade, linestyle=dashes, linewidth=WIDE, zorder=3)


def _own_ph(axes, figure, own, drawn):
    """Draw a thin line at the solution's own pH; return the box of its label. [in]"""
    low, high = drawn[0], drawn[-1]
    beyond = "" if low <= own.ph <= high else ", not in this range"
    words = f"pH {own.ph:.2f} of the solution{beyond}"
    if not beyond:
        axes.axvline(own.ph, color=QUIET, linewidth=0.9, zorder=1)
    at = SPAN * (min(max(own.ph, low), high) - low) / (high - low)
    half = text_width(words, SMALL) / 2
    middle = min(max(at, half), SPAN - half)
    write(figure, LEFT + middle, TOP - 0.13, words, ha="center", fontsize=SMALL)
    return () if beyond else ((at - APART, 0.0, at + APART, RISE),)


def _names(axes, figure, shown, drawn, taken):
    """Write the name of each line beside it."""
    low, high = drawn[0], drawn[-1]
    across = SPAN * (drawn - low) / (high - low)
    lines = [(across, RISE * shares[:POINTS] / MOST) for shares in shown.values()]
    words = [_name(key) for key in shown]
    found = label_places(lines, words, SPAN, RISE, taken=taken)
    for text, (left, up, ends) in zip(words, found, strict=True):
        write(figure, LEFT + left, TOP + RISE - up, text, ha="center", fontsize=SMALL)
        if ends:
            x, y = zip(*ends, strict=True)
            x = [low + v / SPAN * (high - low) for v in x]
            y = [MOST * v / RISE for v in y]
            axes.plot(x, y, "-o", color=INK, lw=0.6, ms=2.5, markevery=[1], zorder=4)


def _name(key):
    return key if key == OTHERS else printed_ion(key)


def label_places(lines, words, width, height, *, taken=()):
    """
    Return where the names of lines stand, so that none hides a line or another name.

    Each stands as near as can be to where its line is highest.

    Parameters
    ----------
    lines : sequence of (array, array)
        Places of each line, from the lower left corner of the panel. [in]
    words : sequence of str
        Their names; lines beyond these are only left free.
    width : float
        Width of the panel. [in]
    height : float
        Height of the panel. [in]
    taken : sequence of (float, float, float, float)
        Boxes that are to be left free: left, lower, right and upper edge. [in]

    Returns
    -------
    list of (float, float, tuple)
        Middle of each name, and the ends of a leader where one is needed. [in]

    Examples
    --------
    >>> flat = np.linspace(0.0, 2.0, 21), np.full(21, 0.5)
    >>> [(left, up, ends)] = label_places([flat], ["flat"], 2.0, 1.0)
    >>> 0.0 < abs(up - 0.5) < 0.2, ends
    (True, ())
    """
    boxes, found = [*taken], []
    for place, text in enumerate(words):
        half = np.array([text_width(text, SMALL) / 2 + APART, LETTER / 2])
        others = [line for n, line in enumerate(lines) if n != place]
        anchors = _anchors(lines[place], others, width)
        middles = _middles(half, width, height)
        full = sum(_overlaps(middles, half, box) for box in boxes)
        far = _distance(middles, half, *anchors)[0] + OVER * full
        near = far.argsort(kind="stable")[:TRIED]
        middle, ends = _best(middles[near], half, lines, place, anchors, boxes)
        boxes.append((*(middle - half), *(middle + half)))
        if ends:
            low, high = np.min(ends, axis=0), np.max(ends, axis=0)
            boxes.append((*low, *high))
        found.append((*map(float, middle), ends))
    return found


def _best(middles, half, lines, place, anchors, boxes):
    """Return the best of some places for the name of a line, and its leader. [in]"""
    own, nearest = _distance(middles, half, *anchors)
    others = [_fine(*line) for n, line in enumerate(lines) if n != place]
    away = [_distance(middles, half, *line)[0] for line in others]
    clear = np.min([own + CLEAR, *away], axis=0) - own
    doubtful = (clear < NEAR) | (own > NEAR)
    lower = np.max(lines[place][1]) - nearest[:, 1]
    cost = own + 0.5 * (CLEAR - clear) + 0.1 * lower + 0.1 * doubtful
    cost = cost + HITS * sum(_crossed(middles, half, *line) for line in lines)
    cost = cost + doubtful * _through(middles, half, nearest, boxes)
    best = np.argmin(cost)
    ends = _leader(middles[best], half, nearest[best]) if doubtful[best] else ()
    return middles[best], ends


def _middles(half, width, height):
    """Return the middles of all boxes of that size on a grid over the panel. [in]"""
    across = np.arange(half[0], width - half[0], GRID)
    up = np.arange(half[1], height - half[1], GRID / 2)
    return np.stack(np.meshgrid(across, up), axis=-1).reshape(-1, 2)


def _crossed(middles, half, x, y):
    """Return whether a line goes through each box."""
    x, y = _fine(x, y)
    inside = np.abs(middles[:, :1] - x) < half[0]
    inside &= np.abs(middles[:, 1:] - y) < half[1] + APART
    return inside.any(axis=1)


def _fine(x, y):
    """Return a line with points close enough that none jumps over a name. [in]"""
    steps = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    at = np.linspace(0.0, steps[-1], max(2, int(steps[-1] / GRID) + 1))
    return np.interp(at, steps, x), np.interp(at, steps, y)


def _through(middles, half, nearest, boxes):
    """Return how many boxes the leader of each name would go through."""
    edges, count = np.clip(nearest, middles - half, middles + half), 0
    for left, lower, right, upper in boxes:
        for share in np.arange(0.0, 0.95, 0.08):
            x, y = ((1.0 - share) * edges + share * nearest).T
            count = count + ((x > left) & (x < right) & (y > lower) & (y < upper))
    return count


def _overlaps(middles, half, box):
    left, lower, right, upper = box
    beside = (middles[:, 0] + half[0] < left) | (middles[:, 0] - half[0] > right)
    return ~(
        beside | (middles[:, 1] + half[1] < lower) | (middles[:, 1] - half[1] > upper)
    )


def _anchors(line, others, width):
    """Return where a line may be named: high up, off the edges and off other lines. [in]"""
    x, y = _fine(*line)
    kept = y >= HIGH * y.max()
    alone = np.ones(x.shape, bool)
    for other in others:
        apart = np.hypot(
            *(a[:, None] - b for a, b in zip((x, y), _fine(*other), strict=True))
        )
        alone &= apart.min(axis=1) > NEAR
    for asked in ((x > EDGE) & (x < width - EDGE), alone):
        if (kept & asked).any():
            kept = kept & asked
    return x[kept], y[kept]


def _distance(middles, half, x, y):
    """Return how far each box is from a line, and the nearest place of it. [in]"""
    across = np.maximum(np.abs(middles[:, :1] - x) - half[0], 0.0)
    up = np.maximum(np.abs(middles[:, 1:] - y) - half[1], 0.0)
    apart = across**2 + up**2
    nearest = apart.argmin(axis=1)
    return np.sqrt(apart.min(axis=1)), np.stack([x[nearest], y[nearest]], axis=1)


def _leader(middle, half, anchor):
    """Return the ends of a leader from the edge of a name to its line. [in]"""
    edge = np.clip(anchor, middle - half, middle + half)
    return (tuple(map(float, edge)), tuple(map(float, anchor)))


def _told(share):
    return "under 0.1" if share < 0.05 else f"{share:.1f}"


def _table(shown, name, whole, own_ph):
    """Return the shares at whole pH and at that of the solution."""
    columns = ("pH", *(f"{_name(key)} %" for key in shown))
    heads = [*(f"{ph:g}" for ph in whole), f"{own_ph:.2f}, of the solution"]
    rows = [
        (head, *(_told(shares[POINTS + n]) for shares in shown.values()))
        for n, head in enumerate(heads)
    ]
    title = f"Species of {name}, percent of it"
    return Table(
        "species-ph", title, columns, tuple(rows), tuple(range(1, len(columns)))
    )


def _alt(shown, name, own, drawn):
    """Return the shares at both ends and at the pH of the solution."""
    parts = []
    for key, shares in shown.items():
        ends = f"{_told(shares[0])} to {_told(shares[POINTS - 1])}"
        peak = int(shares[:POINTS].argmax())
        most = f", most {_told(shares[peak])} at pH {printed(drawn[peak], 2)}"
        inside = 0 < peak < POINTS - 1
        at_own = f", {_told(shares[-1])} at the pH of the solution"
        parts.append(f"{_name(key)} {ends}{most * inside}{at_own}")
    low, high = drawn[0], drawn[-1]
    return (
        f"Species of {name} from pH {low:g} to {high:g} at {own.temperature:g} °C, "
        f"in percent: {'; '.join(parts)}. The solution has pH {own.ph:.2f}."
    )
