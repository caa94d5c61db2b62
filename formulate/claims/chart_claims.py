"""Every claim of a chart in one row of numbers, and what each product's dose adds to it."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from formulate.chemistry.conductivity import ec
from formulate.chemistry.speciation import speciate
from formulate.claims.claim_reading import READINGS
from formulate.errors import FormulateError
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.solution import Solution
from formulate.stoichiometry.units import unit
from formulate.tables import rule_of
from formulate.working import Shown

__all__ = ["ChartCase"]

PERCENT = 100.0
ROUNDING = 1e-9  # of the arithmetic itself
SURE = 2.0  # standard uncertainties
STRONGEST = 2000.0  # mmol/L of all forms: more is no solution, and no EC is asked for
BEYOND = 1e4  # mS/cm, which nothing shows
MOST_OF_IT = 3.0  # a slip must move a wrong claim by more than this times what is left


@dataclass(frozen=True, eq=False)
class ChartCase(Shown):
    """
    Every claim of a chart that could be worked out, with what each product adds to it.

    Attributes
    ----------
    weeks : tuple of ChartWeek
        The weeks, worked out.
    noise : float
        Relative standard uncertainty of claims where their own margin is less. [-]
    """

    weeks: tuple
    noise: float

    @cached_property
    def claims(self):
        """Return (place of its week, claim) of each that could be worked out."""
        return [
            (place, claim)
            for place, week in enumerate(self.weeks)
            for claim in week.claims
            if claim.computed and claim.claimed and claim.subject != "pH"
        ]

    @cached_property
    def week(self):
        """Return the place of each claim's week. [-]"""
        return np.array([place for place, _ in self.claims], dtype=int)

    @cached_property
    def subject(self):
        """Return the subject of each claim."""
        return np.array([claim.subject for _, claim in self.claims], dtype=object)

    @cached_property
    def subjects(self):
        """Return each subject once."""
        return tuple(dict.fromkeys(self.subject))

    @cached_property
    def claimed(self):
        """Return what is claimed, each in its unit. [-]"""
        return np.array([claim.claimed for _, claim in self.claims])

    @cached_property
    def computed(self):
        """Return what was computed, likewise. [-]"""
        return np.array([claim.computed for _, claim in self.claims])

    @cached_property
    def fixed(self):
        """Return the part of each margin that no slip changes: the print of the claim."""
        return np.array([claim.parts.get("claim", 0.0) for _, claim in self.claims])

    @cached_property
    def cut(self):
        """Return how much further below each may be, its last digit being cut."""
        return np.array([claim.cut for _, claim in self.claims])

    @cached_property
    def relative(self):
        """Return the rest of each margin, below and above, as shares of what was computed."""
        sides = np.array([claim.sides for _, claim in self.claims]).reshape(-1, 2).T
        return (sides - self.fixed - (self.cut, 0.0 * self.cut)) / self.computed

    @cached_property
    def off(self):
        """Return which claims are off by more than their margin and the noise, none right."""
        is_right = [claim.finding.is_right for _, claim in self.claims]
        return ~self._agrees(self.computed, 0.0) & ~np.array(is_right, dtype=bool)

    def _agrees(self, values, unsure):
        """Return which claims lie within the room around some values."""
        size = np.abs(values)
        noise = SURE * self.noise * size
        below = np.maximum(self.fixed + self.cut + self.relative[0] * size, noise)
        above = np.maximum(self.fixed + self.relative[1] * size, noise)
        below, above = below + unsure, above + unsure
        left = self.claimed - values
        return (left <= above * (1 + ROUNDING)) & (left >= -below * (1 + ROUNDING))

    @cached_property
    def products(self):
        """Return name to product, in the order of the chart."""
        doses = (one for week in self.weeks for one in week.line.doses)
        return {one.ingredient.name: one.ingredient for one in doses}

    @cached_property
    def added(self):
        """Return product to what it adds to each computed value, in the unit of the claim."""
        found = {name: np.zeros(len(self.claims)) for name in self.products}
        for n, (place, claim) in enumerate(self.claims):
            if claim.subject in READINGS:
                continue
            key = nutrient(claim.subject)
            for one in self.weeks[place].line.doses:
                brought = one.amount * one.ingredient.amount(key.key) * key.molar_mass
                found[one.ingredient.name][n] += brought
        return found

    def more(self, changed):
        """
        Return by how much each computed value changes when doses change.

        Nutrients are linear in a dose; EC and TDS are worked out anew, all in one stack.

        Parameters
        ----------
        changed : sequence of tuple
            Names of products, and the factor of their doses. [-]

        Returns
        -------
        array, shape (m, n)
            Change of each claim's computed value, in the unit of the claim. [-]

        Examples
        --------
        >>> ChartCase((), 0.01).more([]).shape
        (0, 0)
        """
        found = np.zeros((len(changed), len(self.claims)))
        for n, (names, factor) in enumerate(changed):
            found[n] = (factor - 1.0) * sum(self.added[name] for name in names)
        read = [n for n, s in enumerate(self.subject) if s in READINGS]
        if read and len(changed):
            conducting = _ec_changed(self.weeks, changed)
            for n in read:
                place, claim = self.claims[n]
                found[:, n] = conducting[:, place] / unit(claim.unit).factor
                found[:, n] -= claim.computed
        return found

    @cached_property
    def nearly(self):
        """Return how much of a change by two slips at once is unsure: that of EC."""
        row = rule_of("chart_rules", "EC of a changed dose")
        is_read = np.array([s in READINGS for s in self.subject], dtype=float)
        return is_read * row.number("value") / PERCENT

    def fits(self, values, unsure):
        """
        Return which claims agree with some values.

        Parameters
        ----------
        values : array
            What would have been claimed. [-]
        unsure : array
            How unsure that is, beside the margins. [-]

        Returns
        -------
        array of bool
            Whether each agrees; a wrong one only if it was moved by most of what it is off. [-]

        Examples
        --------
        >>> ChartCase((), 0.01).fits(np.zeros(0), 0.0).tolist()
        []
        """
        left = np.abs(self.claimed - values)
        moved = np.abs(values - self.computed)
        is_moved = ~self.off | (moved >= MOST_OF_IT * left)
        return self._agrees(values, unsure) & is_moved

    def values(self, made):
        """
        Return what would have been claimed after some slips, and how unsure that is.

        Parameters
        ----------
        made : sequence
            Slips with their factors, what more they bring, and the scale of other doses.

        Returns
        -------
        values : array
            What would have been claimed, in the unit of each claim. [-]
        unsure : array
            How unsure that is, likewise. [-]

        Examples
        --------
        >>> ChartCase((), 0.01).values(())[0].tolist()
        []
        """
        values, unsure = self.computed, np.zeros(len(self.claims))
        for one in made:
            scale = np.prod([other.scale for other in made if other is not one])
            values = values + one.more * scale
            if len(made) > 1:
                unsure = unsure + self.nearly * np.abs(one.more) * scale
        factor = np.prod([one.factors for one in made], axis=0)
        return values * factor, unsure * factor


def _ec_changed(weeks, changed):
    """Return the EC of each week after each change of doses; 0 if it is not known. [mS/cm]"""
    forms = dict.fromkeys(form for week in weeks for form in week.solution.forms)
    stack = {form: _stacked(weeks, changed, form) for form in forms}
    charge = _stacked(weeks, changed, None)
    amounts = {form: np.maximum(values, 0.0) for form, values in stack.items()}
    none = np.zeros(charge.shape)
    too_strong = sum(amounts.values(), none) > STRONGEST
    kept = {form: np.where(too_strong, 0.0, values) for form, values in amounts.items()}
    flat = {form: values.ravel() for form, values in kept.items()}
    left = np.where(too_strong, 0.0, charge).ravel()
    try:
        made = Solution(flat, left, weeks[0].solution.temperature)
        found = np.broadcast_to(ec(speciate(made)), left.size).reshape(charge.shape)
    except FormulateError:
        return none
    return np.where(too_strong, BEYOND, found)


def _stacked(weeks, changed, form):
    """Return one form, or the unassigned charge, of each week after each change."""

    def of(thing):
        return thing.unassigned_charge if form is None else thing.forms.get(form, 0.0)

    now = np.array([float(of(week.solution)) for week in weeks])
    brought = {}
    for place, week in enumerate(weeks):
        for one in week.line.doses:
            row = brought.setdefault(one.ingredient.name, np.zeros(len(weeks)))
            row[place] += one.amount * of(one.ingredient)
    none = np.zeros(len(weeks))
    return np.array(
        [
            now + (factor - 1.0) * sum(brought.get(name, none) for name in names)
            for names, factor in changed
        ]
    )
