"""Where concentrates meet: every mixture between two liquids, and how near it is to clouding.

Where one liquid is poured into another, all shares between them are there for a moment.
Totals mix linearly, pH does not. All shares of all such lines are one stack.

Equation of every mixture of two liquids [definition]::

    mixture = x × what is poured + (1 − x) × what it is poured into        0 ≤ x ≤ 1
"""

from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType

import numpy as np

from formulate.chemistry.precipitation import precipitate
from formulate.chemistry.risks import RISKS
from formulate.chemistry.speciation import speciate
from formulate.ingredients.hazards import dangerous_pairs
from formulate.mixing.batch import column_of
from formulate.mixing.greatest_strength import shares_of
from formulate.mixing.nearness import level_of, most_of, nearness
from formulate.mixing.stock_tanks import StockTanks
from formulate.notices import Notice, gravest_first
from formulate.stoichiometry.mixtures import mix
from formulate.stoichiometry.solution import Solution
from formulate.working import Shown, printed

__all__ = ["Meetings", "MixingLine", "meetings"]

POINTS, THINNEST = 60, 1e-4  # shares of a line, and the least of them beside an end
ROOM, PERCENT = 25.0, 100.0
AT_ONCE = "all stocks at once into the water"


@dataclass(frozen=True, eq=False)
class MixingLine(Shown):
    """
    What is passed through as one liquid is poured into another.

    Attributes
    ----------
    what : str
        What is poured into what.
    shares : array, shape (m,)
        Share of what is poured, from 0 to 1. [-]
    indices : mapping of str to array
        Solid that matters to its saturation index along the line. [-]
    most : mapping of str to float
        Solid to the most there could be of it anywhere on the line. [mmol/L]
    ph : array, shape (m,)
        The pH along the line. [-]
    way : str
        "in turn" (into the water with those before it), "others in" (into the water with
        all others), "undiluted" or "at once".
    danger : str
        What is dangerous where the two meet undiluted, or "".
    """

    what: str
    shares: np.ndarray
    indices: MappingProxyType
    most: MappingProxyType
    ph: np.ndarray
    way: str = ""
    danger: str = ""

    @cached_property
    def _largest(self):
        """Return the largest index along the line. [-]"""
        none = np.full(self.shares.shape, -np.inf)
        return np.max([none, *self.indices.values()], axis=0)

    @property
    def index(self):
        """Return the worst index of the line; minus infinity without a solid. [-]"""
        return float(self._largest.max())

    @cached_property
    def levels(self):
        """Return solid to the gravest level along the line, a place in `RISKS`. [-]"""
        return {k: int(np.max(level_of(k, v))) for k, v in self.indices.items()}

    @cached_property
    def solid(self):
        """Return the solid with the gravest word, of these the one with most of it, or ""."""
        there = {
            k: v for k, v in self.levels.items() if np.isfinite(self.indices[k]).any()
        }
        return max(
            there,
            key=lambda k: (there[k], bool(there[k]) * self.most[k], self._top(k)),
            default="",
        )

    def _top(self, name):
        """Return the worst index of one solid. [-]"""
        return float(self.indices[name].max())

    @property
    def word(self):
        """Return the gravest word along the line."""
        return RISKS[max(self.levels.values(), default=0)]

    @property
    def supersaturated_percent(self):
        """Return which part of the line is above saturation with anything. [%]"""
        above = np.clip(self._largest, -20.0, 20.0)
        left, right, width = above[:-1], above[1:], np.diff(self.shares)
        low, high = np.minimum(left, right), np.maximum(left, right)
        span = np.where(high > low, high - low, 1.0)
        part = np.where(high <= 0, 0.0, np.where(low > 0, 1.0, high / span))
        return PERCENT * float((part * width).sum())

    def __str__(self):
        if self.danger:
            return f"{self.what}: DANGEROUS; {self.danger}"
        if not self.solid:
            return f"{self.what}: nothing can fall out"
        return (
            f"{self.what}: {self.solid} {self.word} (at worst {self._top(self.solid):+.2f}; "
            f"{self.supersaturated_percent:.0f} % of the way above saturation)"
        )


@dataclass(frozen=True, eq=False)
class Meetings(Shown):
    """
    What happens wherever the concentrates of a batch meet.

    Attributes
    ----------
    tanks : StockTanks
        The concentrates.
    lines : tuple of MixingLine
        One after the other into the water; at once; one into another; in one jug.
    jug : Precipitation
        What falls out where all concentrates stand in one jug.
    """

    tanks: StockTanks
    lines: tuple
    jug: object

    def __getitem__(self, what):
        """
        Return one line by what is poured into what.

        Parameters
        ----------
        what : str
            As a line tells it.

        Returns
        -------
        MixingLine
            The line.

        Examples
        --------
        >>> from formulate.mixing.tanks import split_tanks
        >>> feed = {"MgSO4·7H2O": 50.0, "Ca(NO3)2·4H2O": 90.0}
        >>> found = meetings(split_tanks(feed, volume=100))
        >>> found["stock A into stock B, both undiluted"].solid
        'gypsum'
        """
        return {line.what: line for line in self.lines}[what]

    @property
    def working(self):
        """Return what may fall out of the working solution."""
        return self.tanks.working

    @property
    def after(self):
        """Return the word for the working solution."""
        return self.working.word

    @cached_property
    def notices(self):
        """Return what to know, the gravest first."""
        found = []
        for line in self.lines:
            level = len(RISKS) - 1 if line.danger else RISKS.index(line.word)
            if level:
                found.append(
                    Notice(
                        str(line),
                        ("note", "note", "caution", "serious")[level],
                        line.index,
                        0.0,
                        "ext-mixing",
                    )
                )
        return gravest_first(found)

    def rows(self):
        """
        Return what is shown of each line.

        Returns
        -------
        tuple of tuple of str
            What is poured into what, the worst solid, its index, its word, part of the way
            above saturation.

        Examples
        --------
        >>> from formulate.mixing.tanks import split_tanks
        >>> feed = {"MgSO4·7H2O": 50.0, "Ca(NO3)2·4H2O": 90.0}
        >>> [row[0] for row in meetings(split_tanks(feed, volume=100)).rows()][:2]
        ['stock A into the water', 'stock B into the water with A in it']
        """
        return tuple(
            (
                line.what,
                line.solid or "nothing",
                f"{line.indices[line.solid].max():+.2f}" if line.solid else "",
                "dangerous" if line.danger else line.word,
                f"{line.supersaturated_percent:.0f} %",
            )
            for line in self.lines
        )

    @property
    def jug_line(self):
        """Return what is lost where all stand in one jug, in words."""
        count, strength = len(self.tanks.tanks), self.tanks.strength.times
        dangers = [line.danger for line in self.lines if line.way == "at once"]
        if any(dangers):
            return f"all in one jug: DANGEROUS; {dangers[0]}"
        if not self.jug.amounts:
            return "all in one jug: nothing falls out"
        share = count / strength  # of a litre of working solution
        lost = {
            k: float(v) * share for k, v in self.jug.lost.items() if v * share > 0.05
        }
        told = ", ".join(f"{k} {printed(v, 3)}" for k, v in lost.items())
        names = ", ".join(self.jug.amounts)
        falls = (
            "fall out and hold" if len(self.jug.amounts) > 1 else "falls out and holds"
        )
        return (
            f"all in one jug: {names} {falls}, in mg per litre of the working solution: "
            f"{told}"
        )

    def __str__(self):
        end = f"the working solution, once all is stirred in: {self.after}"
        return "\n".join([*map(str, self.lines), self.jug_line, end])


def meetings(tanks):
    """
    Return what happens wherever the concentrates of a batch meet.

    Parameters
    ----------
    tanks : StockTanks
        The concentrates.

    Returns
    -------
    Meetings
        Lines: each into the water with those before it, stirred; each into the water with
        all others; all at once; one into another undiluted; and the jug.

    Examples
    --------
    >>> from formulate.mixing.tanks import split_tanks
    >>> feed = {"MgSO4·7H2O": 50.0, "Ca(NO3)2·4H2O": 90.0}
    >>> found = meetings(split_tanks(feed, volume=100))
    >>> found["stock B into the water with A in it"].word
    'none'
    """
    batch = tanks.batch
    stocks = [(tank.label, tank.name, tank.state.solution) for tank in tanks.tanks]
    shares = [shares_of(batch, tank) for tank in tanks.tanks]
    ways = [*_one_by_one(stocks, shares, batch), *_undiluted(stocks)]
    water, jug = batch.water.solution, _jug(stocks)
    if len(stocks) > 1:
        ways.append((AT_ONCE, "at once", jug, water))
    dangers = _dangers(tanks)
    lines = tuple(
        replace(line, danger=dangers.get(line.what, "")) for line in _lines(ways)
    )
    fallen = precipitate(speciate(jug, temperature=ROOM))
    return Meetings(tanks, lines, fallen)


def _dangers(tanks):
    """Return what is poured undiluted to what is dangerous about it."""
    found, whole = {}, []
    for n, one in enumerate(tanks.tanks):
        for other in tanks.tanks[n + 1 :]:
            told = _serious(one, other)
            if told:
                whole += told
                what = f"{one.label} into {other.label}, both undiluted"
                found[what] = "; ".join(told)
    if whole:
        found[AT_ONCE] = "; ".join(dict.fromkeys(whole))
    return found


def _serious(one, other):
    """Return what is dangerous where two stocks meet, and is not in either alone."""
    first, second = ([i for i, _ in tank.parts] for tank in (one, other))
    alone = {n.what for part in (first, second) for n in dangerous_pairs(part)}
    return [
        n.what
        for n in dangerous_pairs([*first, *second])
        if n.severity == "serious" and n.what not in alone
    ]


def _one_by_one(stocks, shares, batch):
    """Return each stock into the water with those before it, then with all others."""
    everything, in_turn, last = range(len(stocks)), [], []
    for n in everything:
        others = tuple(k for k in everything if k != n)
        in_turn.append((n, tuple(range(n))))
        if others != tuple(range(n)):
            last.append((n, others))
    found = []
    for n, which in (*in_turn, *last):
        there, names = batch.water.solution, ""
        if which:
            names = f" with {' and '.join(stocks[k][1] for k in which)} in it"
            there = _working(batch, sum(shares[k] for k in which))
        way = "in turn" if which == tuple(range(n)) else "others in"
        what = f"{stocks[n][0]} into the water{names}"
        found.append((what, way, stocks[n][2], there))
    return found


def _undiluted(stocks):
    """Return each stock into each other."""
    return [
        (f"{one} into {other}, both undiluted", "undiluted", a, b)
        for n, (one, _, a) in enumerate(stocks)
        for other, _, b in stocks[n + 1 :]
    ]


def _working(batch, share):
    """Return the working solution with only some stocks in it."""
    return column_of(batch.mixtures(share[None, :], batch.water_litres), 0)


def _jug(stocks):
    """Return equal volumes of all stocks."""
    return mix([(stock, 1.0) for _, _, stock in stocks])


def _lines(ways):
    """Return every line, all their mixtures as one stack."""
    near = np.geomspace(THINNEST, 1.0, POINTS // 2)
    even = np.linspace(0.0, 1.0, POINTS // 2)
    x = np.unique(np.concatenate([[0.0], near, even, 1.0 - near]))
    forms = dict.fromkeys(f for _, _, a, b in ways for f in (*a.forms, *b.forms))

    def along(one, other):
        return x * one + (1 - x) * other

    held = {
        f: np.concatenate(
            [along(a.forms.get(f, 0.0), b.forms.get(f, 0.0)) for _, _, a, b in ways]
        )
        for f in forms
    }
    charge = np.concatenate(
        [along(a.unassigned_charge, b.unassigned_charge) for _, _, a, b in ways]
    )
    near = nearness(Solution(held, charge), temperature=ROOM)
    found = []
    for n, (what, way, _, _) in enumerate(ways):
        part = slice(n * x.size, (n + 1) * x.size)
        indices = {k: v[part] for k, v in near.counting.items()}
        amounts = {f: v[part] for f, v in held.items()}
        most = {k: float(np.max(most_of(k, amounts))) for k in indices}
        ph = np.asarray(near.state.ph)[part]
        proxies = MappingProxyType(indices), MappingProxyType(most)
        found.append(MixingLine(what, x, *proxies, ph, way))
    return tuple(found)
