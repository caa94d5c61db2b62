"""What the figures of mixing are tried with: orders, stock tanks, odd names, odd cases."""

import math
from dataclasses import replace
from functools import cache
from types import MappingProxyType

from matplotlib.backends.backend_agg import FigureCanvasAgg

from formulate.chemistry.speciation import speciate
from formulate.mixing.batch import batch_of
from formulate.mixing.best_order import best_order
from formulate.mixing.meeting import meetings
from formulate.mixing.sequence import simulate_mixing
from formulate.mixing.tanks import split_tanks
from formulate.sheets.figures import style
from formulate.sheets.figures.mixing_lines import mixing_lines
from formulate.sheets.figures.mixing_steps import mixing_steps
from formulate.sheets.figures.tank_use import tank_use
from formulate.stoichiometry.solution import solution

LEAST_STEP = 10.0  # CIE L*: own choice, as in test_figures
NITRIC = "nitric acid (53 %)"
FEED = {"Ca(NO3)2·4H2O": 90.0, "KNO3": 50.0, "KH2PO4": 13.6, "MgSO4·7H2O": 50.0}
FEED |= {"K2SO4": 10.0, "FeSO4·7H2O": 0.8, "MnSO4·H2O": 0.2, "ZnSO4·7H2O": 0.1}
FEED |= {"H3BO3": 0.3, "CuSO4·5H2O": 0.02, "Na2MoO4·2H2O": 0.01}
FOURTEEN = FEED | {"K2HPO4": 8.0, "NH4NO3": 5.0, "CaCl2": 20.0}
BUCKET = {"Ca(NO3)2·4H2O": 40.0, "MgSO4·7H2O": 25.0}
KEEPING = {"KNO3": 150.0, "MgSO4·7H2O": 49.0, "Ca(NO3)2·4H2O": 15.0, "KH2PO4": 19.0}
ODD = "$\\frac{{a}}$ <b>{}</b>\n & a very long trade name, grade {}"


@cache
def order():
    water = "hard-tap-voehringen"
    return best_order(FOURTEEN, volume=100, water=water, start_fraction=0.25)


@cache
def plain_log():
    return simulate_mixing(FEED, volume=100, start_fraction=0.25)


@cache
def worst_log():
    return order().log_of(order().worst_order)


@cache
def odd_log():
    batch = batch_of(FEED, volume=100, water="hard-tap-voehringen")
    amounts = tuple(
        (replace(i, name=ODD.format(i.name, n)), grams)
        for n, (i, grams) in enumerate(batch.amounts)
    )
    return simulate_mixing(replace(batch, amounts=amounts))


@cache
def alkaline_log():
    """Return an order in which indices leave the axis at both ends."""
    parts = {"MgSO4·7H2O": 300.0, "KOH": 600.0, "KH2PO4": 100.0, "CaCl2": 300.0}
    return simulate_mixing(parts, volume=10)


@cache
def crowded_log():
    """Return an order with more solids near than are drawn."""
    parts = FOURTEEN | {"KOH": 30.0, "NH4H2PO4": 10.0}
    return simulate_mixing(parts, volume=100, water="hard-tap-voehringen")


def bucket(share):
    return simulate_mixing(BUCKET, volume=20, start_fraction=share)


def nothing(grams):
    return simulate_mixing({"KNO3": grams}, volume=10)


@cache
def two_tanks():
    return split_tanks(FEED, volume=100)


@cache
def acid_tanks():
    feed, water = FEED | {NITRIC: 20.0}, "hard-tap-voehringen"
    return split_tanks(feed, volume=100, tanks=3, water=water, stock_water="pure")


@cache
def one_tank():
    return split_tanks(KEEPING, tanks=1, volume=100, strength=34)


@cache
def full_tanks():
    """Return tanks as nobody should make them: full, over full, and chalk in the warm."""
    uses = ({"KNO3": 65.0, "K2SO4": 95.0}, {"KNO3": 150.0, "KCl": 121.0, "K2SO4": 0.3})
    first, second = two_tanks().tanks
    hard = speciate(solution({"Ca": 3.5, "HCO3": 7.0}, ph=7.1), temperature=2.0)
    first = replace(first, uses=MappingProxyType(uses[0]), state=hard)
    second = replace(second, uses=MappingProxyType(uses[1]))
    return replace(two_tanks(), tanks=(first, second))


ACID = {"volume": 100, "strength": 50}
DRAWN = {
    "steps": lambda: mixing_steps(plain_log()),
    "steps, fourteen": lambda: mixing_steps(worst_log(), other=order().log),
    "steps, odd names": lambda: mixing_steps(odd_log()),
    "steps, two": lambda: mixing_steps(bucket(0.1), other=bucket(0.75)),
    "steps, one": lambda: mixing_steps(nothing(5.0)),
    "steps, no grams": lambda: mixing_steps(nothing(0.0), other=nothing(0.0)),
    "steps, crowded": lambda: mixing_steps(crowded_log()),
    "steps, beyond": lambda: mixing_steps(alkaline_log()),
    "tanks": lambda: tank_use(two_tanks()),
    "tanks, acid too": lambda: tank_use(acid_tanks()),
    "tanks, acid": lambda: tank_use(split_tanks({NITRIC: 20.0}, **ACID)),
    "tanks, one": lambda: tank_use(one_tank()),
    "tanks, full": lambda: tank_use(full_tanks()),
    "lines": lambda: mixing_lines(meetings(two_tanks())),
    "lines, acid": lambda: mixing_lines(meetings(acid_tanks())),
    "lines, one": lambda: mixing_lines(meetings(one_tank())),
    "lines, none": lambda: mixing_lines(meetings(split_tanks({"KNO3": 9.0}, **ACID))),
}
KINDS = tuple(DRAWN)


def kinds(start):
    return [kind for kind in KINDS if kind.startswith(start)]


def words_of(picture):
    return [text.get_text() for text in picture.figure.texts]


def number(cell):
    return -math.inf if cell == "" else float(cell.replace("−", "-"))


def panel_of(picture):
    """Return the panel with an axis, the lowest of the figure."""
    return [a for a in picture.figure.axes if a.get_xlabel()][-1]


def text_boxes(figure, *, all_of_it=True):
    """Return the box of each text, those of the axes too."""
    canvas, found = FigureCanvasAgg(figure), [*figure.texts]
    with style.drawing():
        canvas.draw()
        for axis in (x for a in figure.axes for x in (a.xaxis, a.yaxis)):
            low, high = sorted(axis.get_view_interval())
            ticks = [t for t in axis.get_major_ticks() if low <= t.get_loc() <= high]
            labels = [label for t in ticks for label in (t.label1, t.label2)]
            if all_of_it:
                found += [axis.label, *(x for x in labels if x.get_visible())]
        renderer = canvas.get_renderer()
        return [t.get_window_extent(renderer) for t in found if t.get_text()]
