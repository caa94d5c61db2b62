"""The plan of a mixing: numbered steps with weights, waiting, and what meters show after each."""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from formulate.chemistry.acidity import ph_rule
from formulate.chemistry.conductivity import conductivity
from formulate.chemistry.pouring import CAUTIONS, poured, times_water
from formulate.chemistry.risks import RISKS
from formulate.chemistry.speciation import speciate_again
from formulate.errors import NoConvergence
from formulate.ingredients.hazards import cautions, dangerous_pairs
from formulate.mixing.mixing_classes import mixing_class
from formulate.mixing.mixing_log import MixingLog
from formulate.mixing.nearness import mixing_rule
from formulate.stoichiometry.solution import Solution
from formulate.working import Shown, printed

__all__ = ["MixingPlan", "PlanStep", "mixing_plan"]

WIDE = 1.0  # of a pH: wider, and a pH tells nothing
MOVED = 0.3  # of a pH: what the air moves less is not told
LOW_EC = 0.05  # mS/cm: below it a meter shows noise
DIGITS = 10


@dataclass(frozen=True)
class PlanStep:
    """
    One thing to do.

    Attributes
    ----------
    number : int
        Its place, from 1. [-]
    what : str
        What to do.
    amount : str
        How much, with its unit.
    wait : str
        How long to wait, and for what.
    ph : str
        The pH that a meter shows then, with its tolerance.
    ec : str
        The EC at 25 °C that a meter shows then, with its tolerance, in mS/cm.
    caution : str
        What to beware of at this step.
    verb : str
        How an ingredient goes in, such as "stir in".
    name : str
        The ingredient.
    """

    number: int
    what: str
    amount: str
    wait: str
    ph: str
    ec: str
    caution: str = ""
    verb: str = ""
    name: str = ""

    def __str__(self):
        parts = [f"{self.number}. {self.what}", self.wait]
        shown = [f"pH {self.ph}"] * bool(self.ph) + [f"EC {self.ec}"] * bool(self.ec)
        parts.append("then " + ", ".join(shown) if shown else "")
        return ". ".join(filter(None, [*parts, self.caution]))


@dataclass(frozen=True, eq=False)
class MixingPlan(Shown):
    """
    How a batch is mixed, step by step.

    Attributes
    ----------
    log : MixingLog
        The order, with the state after each step.
    alkalinity_error : float
        How far the alkalinity of the water may be off. [meq/L]
    last : tuple of str
        What to do once the batch is topped up, such as correcting its pH.
    handled : tuple of Ingredient
        What else is handled then, such as the acid of that correction.
    """

    log: MixingLog
    alkalinity_error: float
    last: tuple = ()
    handled: tuple = ()

    def _phs(self, error=0.0, air_co2_ppm=None):
        """Return the pH of every step for an error of the alkalinity, closed or aerated. [-]"""
        held = self.log.near.state.solution
        made = Solution(held.forms, held.unassigned_charge + error, held.temperature)
        try:
            state = speciate_again(
                self.log.near.state, solution=made, air_co2_ppm=air_co2_ppm
            )
        except NoConvergence as unsettled:
            state = unsettled.state
        return np.where(state.settled, np.asarray(state.ph), np.nan)

    @cached_property
    def _ph_ends(self):
        """Return the lowest and highest pH of every step for that error. [-]"""
        found = [self._phs(sign * self.alkalinity_error) for sign in (-1, 1)]
        give = mixing_rule("pH meter error")
        return np.min(found, axis=0) - give, np.max(found, axis=0) + give

    @cached_property
    def ec_error_percent(self):
        """Return how far a meter may show another EC: by itself and by the model. [%]"""
        model = conductivity(self.log.near.state).error_percent
        return math.hypot(model, mixing_rule("EC meter error"))

    @cached_property
    def _ph_aired(self):
        """Return the pH of every step in balance with the air. [-]"""
        return self._phs(air_co2_ppm=ph_rule("air carbon dioxide"))

    def _ph_words(self, place):
        """Return the pH after a step as a meter may show it, at once and once aerated."""
        low, high = (float(end[place]) for end in self._ph_ends)
        if not low <= high:
            return "not known"
        if high - low > WIDE:
            return f"{low:.1f} to {high:.1f} (little buffers it)"
        at_once = f"{self.log.steps[place].ph:.1f} ({low:.1f} to {high:.1f})"
        if not self._air_counts(place):
            return at_once
        aired = float(self._ph_aired[place])
        if not abs(aired - self.log.steps[place].ph) >= MOVED:
            return at_once
        return f"{at_once}, aerated up to {aired:.1f}"

    def _air_counts(self, place):
        """Return whether the batch stands long enough after a step for the air to move it."""
        name = self.log.steps[place].name
        roles = {i.name: i.role for i in self.log.batch.ingredients}
        return place == len(self.log.order) + 1 or bool(roles.get(name))

    def _ec_words(self, place):
        """Return the EC after a step as a meter may show it."""
        ec = self.log.steps[place].ec
        if ec < LOW_EC:
            return f"below {LOW_EC:g}"
        return f"{printed(ec, 3)} ± {printed(self.ec_error_percent * ec / 100, 2)}"

    @cached_property
    def steps(self):
        """Return the steps: the water, each ingredient, topping up, and what comes last."""
        found = [self._water()]
        found += [
            self._ingredient(place) for place in range(1, len(self.log.order) + 1)
        ]
        found.append(self._topping_up())
        for text in self.last:
            found.append(PlanStep(len(found) + 1, text, "", "", "", ""))
        return tuple(found)

    def _water(self):
        """Return the first step: a share of the water."""
        batch, share = self.log.batch, self.log.start_fraction
        litres = f"{printed(share * batch.water_litres, 3)} L"
        of_each = self._of_each(share)
        low, high = mixing_rule("warm water from"), mixing_rule("warm water to")
        what = (
            f"fill in {litres} of the water ({100 * share:.3g} % of it{of_each}), at {low:g} to "
            f"{high:g} °C, and keep it moving"
        )
        return PlanStep(1, what, litres, "", self._ph_words(0), self._ec_words(0))

    def _of_each(self, share):
        """Return what a share of the water takes of each water it is blended from."""
        litres = share * self.log.batch.water_litres
        told = [
            f"{printed(part * litres, 3)} L {one.name or 'of the water'}"
            for one, part in self.log.batch.water.parts
            if part
        ]
        return f": {' and '.join(told)}" if told else ""

    def _ingredient(self, place):
        """Return the step of one ingredient."""
        log = self.log
        name = log.order[place - 1]
        ingredient, grams = next(p for p in log.batch.amounts if p[0].name == name)
        amount, unit = poured(ingredient, grams)
        text = f"{round(amount, DIGITS):.4g} {unit}"
        verb = "pour in" if unit == "mL" else "stir in"
        what, wait = f"{verb} {text} {name}", self._wait(ingredient)
        caution = "; ".join(self._cautions_at(place, ingredient, unit))
        shown = self._ph_words(place), self._ec_words(place)
        return PlanStep(place + 1, what, text, wait, *shown, caution, verb, name)

    def _cautions_at(self, place, ingredient, unit):
        """Yield what to beware of at the step of one ingredient."""
        kind, times = mixing_class(ingredient), times_water(ingredient)
        if kind == "silicate":
            yield (
                "thin it first in a tenth of the water, and pour it slowly into the rest; "
                "eye protection and gloves"
            )
        elif ingredient.role in CAUTIONS:
            thin = (
                f"thin it first in at least {times:.0f} times as much cold water; "
                if times
                else ""
            )
            yield f"{thin}eye protection and gloves; {CAUTIONS[ingredient.role]}"
        elif kind == "trace" and unit == "g":
            yield "dissolve it first in a cup of the water"
        if ingredient.role == "alkali" and "ammonium" in ingredient.forms:
            yield "ammonia gas comes off: open the doors"
        yield from self._risks_at(place)

    def _risks_at(self, place):
        """Yield what a step puts at risk that the one before did not."""
        step, before = self.log.steps[place], self.log.steps[place - 1]
        if RISKS.index(step.word) > RISKS.index(before.word):
            yield f"{step.nearest} {step.word} here ({step.index:+.2f}): stir well, go on soon"
        near = self.log.near
        if near.excursion[place] <= near.excursion[place - 1]:
            return
        ammonium = near.state.solution.forms.get(
            "ammonium", np.zeros(len(self.log.steps))
        )
        limit = mixing_rule("pH from which ammonia is lost")
        if ammonium[place] > 0 and step.ph > limit:
            yield f"at pH {step.ph:.1f} ammonia gas leaves: stir gently, open the doors, go on soon"
        else:
            yield f"pH {step.ph:.1f} harms the chelate: put the chelate in after topping up"

    def _wait(self, ingredient):
        """Return how long to wait after an ingredient."""
        if ingredient.role == "acid":
            return f"aerate for {mixing_rule('wait after an acid'):g} min"
        if ingredient.is_liquid:
            return "until it is even"
        return f"until no grain is left, then {mixing_rule('wait after a salt'):g} min"

    def _topping_up(self):
        """Return the step of topping up."""
        batch, place = self.log.batch, len(self.log.order) + 1
        litres = f"{printed(batch.volume, 4)} L"
        of_each = self._of_each(1 - self.log.start_fraction)
        same = f" with the same blend of waters{of_each}," if of_each else ""
        return PlanStep(
            place + 1,
            f"fill up to {litres}{same} and stir",
            litres,
            "",
            self._ph_words(place),
            self._ec_words(place),
        )

    @property
    def cautions(self):
        """Return what to beware of with what is handled, one sentence each."""
        ingredients = (*self.log.batch.ingredients, *self.handled)
        found = [caution.text for caution in cautions(ingredients)]
        pairs = [n for n in dangerous_pairs(ingredients) if n.severity == "serious"]
        return (*(n.what for n in pairs), *found)

    def rows(self):
        """
        Return what is shown of each step.

        Returns
        -------
        tuple of tuple of str
            Number, what to do, waiting, pH then, EC then, what to beware of.

        Examples
        --------
        >>> from formulate.mixing.sequence import simulate_mixing
        >>> plan = mixing_plan(simulate_mixing({"KNO3": 5.0}, volume=10))
        >>> [row[1] for row in plan.rows()][1:]
        ['stir in 5 g KNO3', 'fill up to 10.00 L and stir']
        """
        return tuple(
            (str(s.number), s.what, s.wait, s.ph, s.ec, s.caution) for s in self.steps
        )

    def __str__(self):
        return "\n".join(
            [*map(str, self.steps), *(f"- {text}" for text in self.cautions)]
        )


def mixing_plan(log, *, alkalinity_error=None, last=(), handled=()):
    """
    Return the plan of a mixing.

    Parameters
    ----------
    log : MixingLog
        The order, as `simulate_mixing` or `best_order(...).log` returns it.
    alkalinity_error : float or None
        How far the alkalinity of the water may be off; 5 % of it if None. [meq/L]
    last : iterable of str
        What to do once the batch is topped up.
    handled : iterable of Ingredient
        What else is handled then, for its cautions.

    Returns
    -------
    MixingPlan
        Numbered steps with weights, waiting, pH and EC with their tolerance, cautions.

    Examples
    --------
    >>> from formulate.mixing.sequence import simulate_mixing
    >>> print(mixing_plan(simulate_mixing({"KNO3": 10.0}, volume=20)).steps[1])
    2. stir in 10 g KNO3. until no grain is left, then 5 min. then pH 4.2 to 9.8 (little buffers it), EC 0.911 ± 0.041
    """
    if alkalinity_error is None:
        tap = abs(log.batch.water.solution.alkalinity())
        alkalinity_error = max(
            ph_rule("alkalinity error") / 100 * tap, ph_rule("least alkalinity error")
        )
    return MixingPlan(log, alkalinity_error, tuple(last), tuple(handled))
