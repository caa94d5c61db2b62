"""What falls out of a solution until nothing more would, and what dissolves again.

s are the amounts of the solids, ν what one unit of each takes.

Newton's steps in s, the slopes of the indices from small changes of the amounts. A step
leaves a twentieth of every form at least, and is shortened where it went too far: the pull
Σ SI × step falls along it, and must not turn far against it. A solid of which nothing is
left goes; of those above saturation the furthest, by ions, comes. Columns with the same
solids are worked on together, and each is done for itself.

Equation of what has come to rest [pq386-phreeqc]::

    every solid that is there     SI = 0          every other     SI < 0
    every form                    left = at first − Σ ν s
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

import numpy as np

from formulate.checks import checked_values
from formulate.chemistry.chelates import bound
from formulate.chemistry.columns import arithmetic_of
from formulate.chemistry.solids import Mineral, forms_of, mineral, mineral_names
from formulate.chemistry.speciation import speciate, speciate_again
from formulate.chemistry.state import Speciation, flat
from formulate.errors import Faults, InputError, NoConvergence, shortened
from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.solution import Solution
from formulate.working import Shown, printed

__all__ = ["Precipitation", "precipitate"]

TOLERANCE, NEAR = 1e-8, 1e-3  # of an index; where a further solid may come
CHANGE = 1e-4  # part of what there is, for a slope
KEPT = 0.05  # of every form, in one step
BEYOND, SHORTEST, LONGEST = 0.5, 0.1, 0.9  # of the pull; of a step
MOST_ROUNDS = 200
FEW = 6  # so many states are quicker with plain numbers than as a stack
WATER = 1e-3 * molar_mass("H2O")  # kg/mol
KEYS = (
    "NO3-N",
    "NH4-N",
    "P",
    "K",
    "Ca",
    "Mg",
    "S",
    "Fe",
    "Mn",
    "Zn",
    "Cu",
    "Mo",
    "Si",
    "B",
)


@dataclass(frozen=True, eq=False)
class Precipitation(Shown):
    """
    A solution after everything has fallen out that would.

    Attributes
    ----------
    before : Speciation
        The state at first, with whatever was already solid dissolved in it.
    after : Speciation
        The state with the solids beside it, in what is left of the water; amounts are per
        litre of the solution at first.
    amounts : mapping of str to float or array
        Solid to how much of it there is, per litre at first; solids that nowhere form are
        left out. [mmol/L]
    """

    before: Speciation
    after: Speciation
    amounts: MappingProxyType

    @property
    def ph(self):
        """Return the pH after. [-]"""
        return self.after.ph

    @cached_property
    def taken(self):
        """Return what the solids hold, as if it were dissolved in a litre. [mmol/L]"""
        left = self.after.solution.forms
        pairs = self.before.solution.forms.items()
        most = arithmetic_of(self.before.strength).most  # less than nothing is rounding
        return Solution({f: most(value - left[f], 0.0) for f, value in pairs}, 0.0)

    @property
    def lost(self):
        """Return nutrient to what falls out of it; nothing that stays whole. [mg/L]"""
        held = {key: self.taken.mg_l(key) for key in KEYS}
        return MappingProxyType({k: v for k, v in held.items() if np.any(v > 0)})

    @property
    def mass_mg_l(self):
        """Return the mass of all solids, water of crystallisation included. [mg/L]"""
        parts = (mineral(name).molar_mass * v for name, v in self.amounts.items())
        return sum(parts, 0.0)

    def redissolved(self):
        """
        Return the solution with everything dissolved again.

        Returns
        -------
        Solution
            What is left and what the solids hold. [mmol/L]

        Examples
        --------
        >>> from formulate.stoichiometry.solution import solution
        >>> found = precipitate(solution({"Ca": 30.0, "SO4": 30.0}), ["gypsum"])
        >>> round(found.redissolved().forms["calcium"], 9)
        30.0
        """
        forms = dict(self.after.solution.forms)
        for name, amount in self.amounts.items():
            for form, count in forms_of(mineral(name), self.after.constants).items():
                forms[form] = forms.get(form, 0.0) + count * amount
        charge = self.after.solution.unassigned_charge
        return Solution(forms, charge, self.after.solution.temperature)

    @property
    def notices(self):
        """Return what to know of the state after."""
        return self.after.notices

    def __str__(self):
        if self.after.shape:
            count = int(np.any([v > 0 for v in self.amounts.values()], axis=0).sum())
            return f"{count} of {self.after.strength.size} solutions form solids"
        if not self.amounts:
            return f"nothing falls out; pH {self.ph:.2f}"
        rows = [
            f"{name}: {printed(v)} mmol/L, {printed(mineral(name).molar_mass * v)} mg/L"
            for name, v in self.amounts.items()
        ]
        parts = [f"{key} {printed(v)} mg/L" for key, v in self.lost.items()]
        lost = ", ".join(parts) or "no nutrient"
        ends = f"pH {self.before.ph:.2f} before, {self.ph:.2f} after"
        return "\n".join([*rows, f"lost: {lost}", ends])


def precipitate(thing, solids=None, *, present=None):
    """
    Return what falls out of a solution, or of each of a stack, at equilibrium.

    That is what happens given time; how near it is to happening is told by
    `risks.solid_risks`.

    Parameters
    ----------
    thing : Solution, Water, Recipe or Speciation
        One solution or a stack. A state keeps its pH, temperature, air and models.
    solids : iterable of str or Mineral or None
        What may form; None means those that matter in practice.
    present : mapping of str to float or array or None
        Solids that are there at first and may dissolve, per litre of the solution.
        [mmol/L]

    Returns
    -------
    Precipitation
        Amounts of solids, and the state after.

    Raises
    ------
    InputError
        With every fault of what was given.
    NoConvergence
        If some solution did not come to rest.

    Examples
    --------
    Gypsum from 30 mmol/L of calcium and sulfate:

    >>> from formulate.stoichiometry.solution import solution
    >>> found = precipitate(solution({"Ca": 30.0, "SO4": 30.0}))
    >>> {name: round(amount, 1) for name, amount in found.amounts.items()}
    {'gypsum': 15.0}
    """
    chosen, there = _checked(solids, present)
    state = thing if isinstance(thing, Speciation) else speciate(thing)
    if there:
        state = _dissolved(state, there)
    tanks = _Tanks(state, chosen)
    flagged = tanks.flagged()
    if not flagged.any():
        return Precipitation(state, state, MappingProxyType({}))
    tanks.settle(np.flatnonzero(flagged))
    return Precipitation(state, tanks.state_after(), tanks.amounts_by_name())


def _checked(solids, present):
    """Return the solids that may form and those that are there, with every fault."""
    faults, there = Faults("precipitate"), {}
    if present is not None and not isinstance(present, Mapping):
        faults.add(f"present: {shortened(present)}; give solids and amounts in mmol/L")
        present = None
    if isinstance(solids, str | Mineral):
        solids = [solids]
    if solids is not None and not isinstance(solids, Iterable):
        faults.add(f"solids: {shortened(solids)}; give a list of names")
        solids = ()
    names = mineral_names("matters") if solids is None else tuple(solids)
    chosen = []
    for name in (*names, *(present or {})):
        with faults.collecting():
            one = mineral(name)
            if one.role == "gas":
                raise InputError(f"{one.name} is a gas; see air_co2_ppm of speciate")
            chosen.append(one)
    for name, amount in (present or {}).items():
        with faults.collecting():
            there[name] = checked_values(amount, f"{name} in mmol/L")
            if np.any(there[name] < 0):
                raise InputError(f"{name} in mmol/L: {shortened(amount)} is below 0")
    faults.raise_if_any()
    return tuple(dict.fromkeys(chosen)), there


def _dissolved(state, there):
    """Return the state with solids dissolved in it, their water of crystallisation too."""
    forms, water = dict(state.solution.forms), state.water_kg_l
    for name, amount in there.items():
        solid = mineral(name)
        if np.shape(amount) not in ((), state.shape):
            what = f"{solid.name} has shape {np.shape(amount)}, the solutions {state.shape}"
            raise InputError(f"precipitate: {what}; give one amount or one for each")
        for form, count in forms_of(solid, state.constants).items():
            forms[form] = forms.get(form, 0.0) + count * amount
        water = water + 1e-3 * WATER * solid.crystal_water * amount
    made = Solution(forms, state.solution.unassigned_charge)
    ph = state.ph if state.ph_imposed else None
    return speciate_again(state, solution=made, ph=ph, water_kg_l=water)


class _Tanks:
    """All solutions flat: what is dissolved and solid of each, and which solids are at work."""

    def __init__(self, state, solids):
        self.first, self.solids, self.near = state, solids, None
        size = 1 if not state.shape else state.strength.size
        shape = state.shape or (1,)
        held = {k: flat(v, shape) for k, v in state.solution.forms.items()}
        free = bound(held, np.minimum)
        self.forms, none = tuple(held), np.zeros(size)
        totals = np.array([held[f] for f in self.forms]).reshape(len(held), size)
        self.left = np.array([free.get(f, none) for f in self.forms]).reshape(-1, size)
        self.bound = totals - self.left  # by chelates: out of reach of solids
        self.charge = flat(state.solution.unassigned_charge, shape)
        self.water = flat(state.water, (size,)).copy()
        self.ph = flat(state.ph, shape) if state.ph_imposed else None
        self.counts = self._counts(state)
        self.ions = np.maximum(self.counts.sum(axis=1), 1.0)
        self.amounts = np.zeros((size, len(solids)))
        self.active = np.zeros((size, len(solids)), bool)
        self.start, self.steps = self.amounts.copy(), self.amounts.copy()
        self.pull, self.part = np.zeros(size), np.zeros(size)

    def _counts(self, state):
        """Return how many of each form are in each solid; of what the air holds, none."""
        rows = [forms_of(solid, state.constants) for solid in self.solids]
        found = np.array([[row.get(f, 0.0) for f in self.forms] for row in rows])
        if state.air_co2_ppm is not None and "carbonate" in self.forms:
            found[:, self.forms.index("carbonate")] = 0.0
        return found.reshape(len(self.solids), len(self.forms))

    def flagged(self):
        """Return which solutions are above saturation with anything that may form."""
        shape = self.first.shape or (1,)
        found = np.zeros(self.water.size, bool)
        for solid in self.solids:
            found |= flat(self.first.saturation_index(solid), shape) > TOLERANCE
        return found

    def settle(self, still):
        """Go on with some columns until nothing changes in any."""
        for _ in range(MOST_ROUNDS):
            left = []
            for active, places in _by_rows(self.active[still]):
                columns = still[places]
                left.append(columns[~self._round(columns, np.flatnonzero(active))])
            still = np.sort(np.concatenate(left))
            if not still.size:
                return
        what = f"precipitate: {still.size} of {self.water.size} solutions did not come to rest"
        raise NoConvergence(what, state=self.first)

    def _round(self, columns, active):
        """Move columns with the same solids by one step; return which are at rest."""
        index, slopes = self._indices(columns, active)
        apart = index[:, active]
        worst = np.abs(apart).max(axis=1, initial=0.0)
        beyond = self._too_far(columns, active, apart) & (worst > TOLERANCE)
        self._shorten(columns[beyond], active, apart[beyond])
        come = ~beyond & self._come(columns, active, index, worst)
        gone = ~beyond & self._go(columns, active, apart)
        moving = ~beyond & ~gone & (worst > TOLERANCE)
        if moving.any():
            self._step(columns[moving], active, apart[moving], slopes[moving])
        return ~(beyond | gone | come | moving)

    def _too_far(self, columns, active, apart):
        """Return where the last step went far beyond the end of its way."""
        step = self.steps[np.ix_(columns, active)]
        return (apart * step).sum(axis=1) < -BEYOND * self.pull[columns]

    def _shorten(self, columns, active, apart):
        """Take less of the last step: on the line through the pull at its two ends."""
        step = self.steps[np.ix_(columns, active)]
        pull = self.pull[columns]
        with np.errstate(divide="ignore", invalid="ignore"):
            part = pull / (pull - (apart * step).sum(axis=1))
        part = np.clip(np.nan_to_num(part, nan=SHORTEST), SHORTEST, LONGEST)
        self.part[columns] *= part
        at = self.start[np.ix_(columns, active)] + self.part[columns, None] * step
        self._put(columns, active, at)

    def _come(self, columns, active, index, worst):
        """Let a solid come where those at work are near rest; return where one may."""
        others = np.delete(np.arange(len(self.solids)), active)
        if not others.size:
            return np.zeros(columns.size, bool)
        excess = index[:, others]
        above = excess.max(axis=1) > TOLERANCE
        coming = others[(excess / self.ions[others]).argmax(axis=1)]
        new = above & (worst <= NEAR)
        self.active[columns[new], coming[new]] = True
        return above

    def _go(self, columns, active, apart):
        """Let solids go of which nothing is left; return where one did."""
        gone = (self.amounts[np.ix_(columns, active)] <= 0) & (apart < 0)
        self.active[np.ix_(columns, active)] &= ~gone
        return gone.any(axis=1)

    def _step(self, columns, active, apart, slopes):
        """Take as much of Newton's step as leaves amounts above nothing."""
        step = np.linalg.solve(slopes, -apart[..., None])[..., 0]
        pull = (apart * step).sum(axis=1)
        had = self.amounts[np.ix_(columns, active)]
        self.active[np.ix_(columns, active)] &= ~((had <= 0) & (step < 0))
        takes = self.counts[active].T @ step.T  # of each form in each column
        left = self.left[:, columns]
        with np.errstate(divide="ignore", invalid="ignore"):
            to_nothing = np.where(step < 0, -had / step, np.inf)
            to_last = np.where(takes > 0, (1.0 - KEPT) * left / takes, np.inf)
        part = np.minimum(to_nothing.min(axis=1), to_last.min(axis=0, initial=np.inf))
        part = np.minimum(part, 1.0)
        self.start[np.ix_(columns, active)] = had
        self.steps[columns] = 0.0
        self.steps[np.ix_(columns, active)] = step
        self.pull[columns], self.part[columns] = pull, part
        now = had + part[:, None] * step
        now[to_nothing <= part[:, None]] = 0.0
        self._put(columns, active, now)

    def _put(self, columns, active, now):
        """Set the amounts of some solids; what is dissolved and the water follow."""
        change = now - self.amounts[np.ix_(columns, active)]
        self.amounts[np.ix_(columns, active)] = now
        self.left[:, columns] -= self.counts[active].T @ change.T
        crystal = np.array([self.solids[k].crystal_water for k in active])
        self.water[columns] -= 1e-3 * WATER * (change @ crystal)

    def _indices(self, columns, active):
        """Return the index of every solid, and how those at work follow their amounts."""
        left = self.left[:, columns]
        shares = [
            (left[self.counts[k] > 0] / self.counts[k][self.counts[k] > 0, None]).min(0)
            for k in active
        ]
        changes = CHANGE * np.array(shares).reshape(len(active), columns.size)
        stack = np.repeat(left[:, None], 1 + len(active), axis=1)
        for place, k in enumerate(active, 1):
            stack[:, place] -= self.counts[k][:, None] * changes[place - 1]
        index = self._index_table(columns, stack)
        slopes = np.empty((columns.size, len(active), len(active)))
        for place in range(len(active)):
            apart = index[active, 1 + place] - index[active, 0]
            slopes[:, :, place] = (apart / changes[place]).T
        return index[:, 0].T, slopes

    def _index_table(self, columns, left):
        """Return the index of every solid by changes and columns; few go one by one."""
        held = left + self.bound[:, None, columns]
        count = held.shape[1] * columns.size
        if count > FEW:
            return self._indices_of(held, columns)
        found = np.empty((len(self.solids), *held.shape[1:]))
        for change in range(held.shape[1]):
            for n, column in enumerate(columns):
                one = self._indices_of(held[:, change, n], column)
                found[:, change, n] = one
        return found

    def _indices_of(self, held, columns):
        """Return the index of every solid where so much of every form is dissolved."""
        shape = held.shape[1:]

        def shaped(values):
            return np.broadcast_to(values, shape) if shape else float(values)

        forms = dict(zip(self.forms, map(shaped, held), strict=True))
        made = Solution(forms, shaped(self.charge[columns]))
        ph = None if self.ph is None else shaped(self.ph[columns])
        given = {"ph": ph, "water_kg_l": shaped(self.water[columns])}
        try:
            state = speciate_again(self.first, solution=made, near=self.near, **given)
        except NoConvergence as error:  # on the way; the state after must come to rest
            state = error.state
        self.near = None if shape else state
        return np.stack([state.saturation_index(s) for s in self.solids])

    def state_after(self):
        """Return the state with the solids beside it."""
        first, shape = self.first, self.first.shape

        def shaped(values):
            return values.reshape(shape) if shape else float(values[0])

        held = self.left + self.bound
        forms = {form: shaped(held[n]) for n, form in enumerate(self.forms)}
        made = Solution(forms, first.solution.unassigned_charge)
        ph = first.ph if first.ph_imposed else None
        return speciate_again(
            first, solution=made, ph=ph, water_kg_l=shaped(self.water), near=self.near
        )

    def amounts_by_name(self):
        """Return solid to its amounts, where there is any of it."""
        shape, found = self.first.shape, {}
        for place, solid in enumerate(self.solids):
            values = self.amounts[:, place]
            if values.any():
                found[solid.name] = values.reshape(shape) if shape else float(values[0])
        return MappingProxyType(found)


def _by_rows(table):
    """Yield each different row of a table with the places at which it stands."""
    rows, places = np.unique(table, axis=0, return_inverse=True)
    for number, row in enumerate(rows):
        yield row, np.flatnonzero(places.reshape(-1) == number)
