"""From a job to its mixing: order, log, plan, concentrates, and what went wrong."""

from dataclasses import dataclass
from functools import cached_property

from formulate.checks import checked_number
from formulate.chemistry.acid_doses import acid_rule
from formulate.chemistry.risks import RISKS
from formulate.chemistry.waters import water as as_water
from formulate.errors import Faults, FormulateError, InputError, shortened
from formulate.ingredients.salts import as_ingredient
from formulate.jobs import MIXING_KEYS
from formulate.mixing.batch import batch_of
from formulate.mixing.best_order import best_order
from formulate.mixing.meeting import meetings
from formulate.mixing.mistakes import read_ec, what_went_wrong
from formulate.mixing.mixing_classes import trade_order
from formulate.mixing.nearness import mixing_rule
from formulate.mixing.plan import mixing_plan
from formulate.mixing.sequence import simulate_mixing
from formulate.mixing.strength import strength_of
from formulate.mixing.tanks import split_tanks
from formulate.notices import Notice, gravest_first
from formulate.stoichiometry.quantities import check_volume

__all__ = ["JobMixing", "check_mixing"]

PERCENT = 100.0
WORTH_IT = 0.1  # of an index
LIKELY = RISKS.index("likely")
LEAST_ALKALINITY = 1.0  # meq/L: with less, acid changes little
ASKED = ("strength", "tanks", "coldest", "tank_volume", "stock_water")
MEASURED = ("measured_ec", "measured_ph")


@dataclass(frozen=True, eq=False)
class JobMixing:
    """
    How the weighed batch of a job is mixed, worked out when it is first asked for.

    Attributes
    ----------
    outcome : Outcome
        The outcome of the job.
    """

    outcome: object

    @cached_property
    def given(self):
        """Return what the job says of its mixing."""
        return dict(self.outcome.job.mixing)

    @property
    def weighing(self):
        """Return what is mixed."""
        return self.outcome.weighing

    @cached_property
    def start_fraction(self):
        """Return the share of the water that is in first. [-]"""
        percent = self.given.get("water_first_percent")
        if percent is None:
            return mixing_rule("water first")
        return float(percent) / PERCENT

    @cached_property
    def best(self):
        """Return the best order; None if there are too many ingredients to prove one."""
        if len(self.weighing.amounts) > mixing_rule("most ingredients"):
            return None
        return best_order(self.weighing, start_fraction=self.start_fraction)

    @cached_property
    def fault(self):
        """Return why there is no plan: nothing weighed, or an order that does not fit; or ""."""
        if not self.weighing.amounts:
            return "nothing is weighed, so there is nothing to mix"
        try:
            return "" if self.order else "no order"
        except InputError as error:
            return "; ".join(error.faults)

    @cached_property
    def order(self):
        """Return the names of what is weighed in the order of this job."""
        if self.given.get("order"):
            return self._own_order()
        return self.best.order if self.best else trade_order(batch_of(self.weighing))

    @property
    def order_words(self):
        """Return where the order comes from, in words."""
        if self.given.get("order"):
            return "the order of the job"
        if self.best:
            return "the best order, proven"
        most = mixing_rule("most ingredients")
        return f"the trade's order; the best is proven for up to {most:g} ingredients"

    def _own_order(self):
        """Return the order of the job; what is in a stock stands for the stock."""
        names, faults, found = self._places(), Faults("mixing: order"), []
        for text in self.given["order"]:
            with faults.collecting():
                name = names[_meant(text, self.outcome.shelf, names)]
                if name and name not in found:
                    found.append(name)
        missing = [i.name for i, _ in self.weighing.amounts if i.name not in found]
        if missing:
            faults.add(f"{', '.join(missing)} missing; name all that is weighed")
        faults.raise_if_any()
        return tuple(found)

    def _places(self):
        """Return name to what is weighed in its place; "" for what is not used."""
        found = {i.name: "" for i in self.outcome.shelf}
        for made in self.weighing.stocks:
            found |= {part.name: made.ingredient.name for part, _ in made.parts}
        return found | {i.name: i.name for i, _ in self.weighing.amounts}

    @cached_property
    def log(self):
        """Return the log of the job's order."""
        if self.best:
            return self.best.log_of(self.order)
        given = {"start_fraction": self.start_fraction}
        return simulate_mixing(self.weighing, self.order, **given)

    @cached_property
    def plan(self):
        """Return the plan: numbered steps, the correction of the pH last."""
        found = self.outcome
        return mixing_plan(
            self.log,
            alkalinity_error=found.expected.alkalinity_error,
            last=found.correction.steps(),
            handled=found.correction.handled if found.correction.at_hand else (),
        )

    @cached_property
    def acid_first(self):
        """
        Return the log with the first portion of the correction's acid in the water first.

        Nothing if no acid is at hand, the recipe has acid of its own, or none is needed.
        """
        found = self.outcome.correction
        if not (found.at_hand and found.doses) or found.doses[0].grams <= 0:
            return None
        acid = found.doses[0].ingredient
        if acid.role != "acid" or acid.name in self.order:
            return None
        grams = (
            found.doses[0].grams * found.volume * acid_rule("first portion") / PERCENT
        )
        amounts = {acid: grams, **dict(self.weighing.amounts)}
        return simulate_mixing(
            amounts,
            (acid.name, *self.order),
            volume=self.weighing.volume,
            water=self.weighing.water,
            start_fraction=self.start_fraction,
        )

    def _acid_words(self):
        """Yield what acid in the water first would save, if it saves a cloud."""
        acid = any(i.role == "acid" for i, _ in self.weighing.amounts)
        if acid or RISKS.index(self.log.word) < LIKELY:
            return
        worst = self.log.worst
        if self.acid_first is None:
            if self.outcome.water.solution.alkalinity() < LEAST_ALKALINITY:
                return
            what = (
                f"{worst.nearest} stands at {worst.index:+.2f} in this hard water: acid in the "
                "water before the salts would lower it; put one on the shelf"
            )
        else:
            name = self.acid_first.order[0]
            then = max(step.index for step in self.acid_first.steps[1:-1])
            if worst.index - then < WORTH_IT:
                return
            what = (
                f"pour the first portion of {name} into the water before the salts: the worst "
                f"step then stands at {then:+.2f} instead of {worst.index:+.2f}. Thin it, acid "
                "into water, eye protection; finish by the meter at the end"
            )
        yield Notice(what, "caution", worst.index, None, "ext-mixing")

    @property
    def wants_tanks(self):
        """Return whether the job asks for concentrates."""
        return any(key in self.given for key in ASKED)

    @cached_property
    def tanks(self):
        """Return the concentrates."""
        named = {key: self.given[key] for key in ASKED if key in self.given}
        if "tanks" in named:
            named["tanks"] = int(named["tanks"])
        return split_tanks(self.outcome.weighing.recipe, **named)

    @cached_property
    def tanks_or_why(self):
        """Return the concentrates and "", or None and why there are none."""
        try:
            return self.tanks, ""
        except FormulateError as error:
            return None, "; ".join(error.faults)

    @cached_property
    def meetings(self):
        """Return what happens wherever the concentrates meet."""
        return meetings(self.tanks)

    @cached_property
    def meetings_or_why(self):
        """Return what happens where concentrates meet and "", or None and why not."""
        try:
            return self.meetings, ""
        except FormulateError as error:
            return None, "; ".join(error.faults)

    @property
    def was_measured(self):
        """Return whether the job tells what meters showed."""
        return any(key in self.given for key in MEASURED)

    @cached_property
    def diagnosis(self):
        """Return what the readings tell of the batch; None without a reading."""
        if not self.was_measured:
            return None
        return what_went_wrong(
            self.weighing,
            ec=self.given.get("measured_ec"),
            ph=self.given.get("measured_ph"),
            temperature=self.given.get("measured_at"),
            others=tuple(self.outcome.shelf),
            start_fraction=self.start_fraction,
            aired=self.given.get("measured_aired"),
        )

    @cached_property
    def order_notices(self):
        """Return what to know of the order, the gravest first."""
        own = self.best is None or bool(self.given.get("order"))
        found = self.log.notices if own else self.best.notices
        return gravest_first([*found, *self._acid_words()])

    @property
    def notices(self):
        """Return what to know of order and, where asked for, stocks, the gravest first."""
        found = list(self.order_notices)
        if self.wants_tanks:
            tanks, why = self.tanks_or_why
            found += tanks.notices if tanks else [Notice(why, "serious")]
        return gravest_first(found)

    @property
    def lines(self):
        """Return in a few sentences what is to be known of the mixing."""
        found = [f"{self.order_words}: {', '.join(self.order)}", self.log.summary]
        if self.is_own_and_worse:
            names = ", ".join(self.best.order)
            found.append(f"the best order is {names}: {self.best.against(self.order)}")
        return tuple(found)

    @property
    def is_own_and_worse(self):
        """Return whether the job has an order of its own that is not the best."""
        own = bool(self.best and self.given.get("order"))
        return own and bool(self.best.ahead(self.order)[0])


def _meant(text, shelf, names=()):
    """Return the name under which an ingredient of the shelf, or a stock, is known."""
    plain = {name.casefold(): name for name in (*(i.name for i in shelf), *names)}
    if str(text).strip().casefold() in plain:
        return plain[str(text).strip().casefold()]
    try:
        formula = as_ingredient(text).formula
    except FormulateError:
        formula = ""
    same = [i.name for i in shelf if formula and i.formula == formula]
    if len(same) == 1:
        return same[0]
    known = ", ".join(i.name for i in shelf)
    raise InputError(f"{shortened(text)} is not on the shelf: {known}")


def check_mixing(job, shelf=()):
    """
    Return what is wrong with how a job is to be mixed.

    Parameters
    ----------
    job : Job
        The job.
    shelf : iterable of Ingredient
        What stands on the shelf, as far as it could be read.

    Returns
    -------
    tuple of str
        Every fault.

    Examples
    --------
    >>> from formulate.jobs import Job
    >>> check_mixing(Job(mixing=(("water_first_percent", 100),)))
    ('water_first_percent: 100 %; write a share between 0 and 100, such as 75',)
    """
    faults, given = Faults(), {}
    with faults.collecting("mixing"):
        given = dict(job.mixing)
    for key in given:
        if key not in MIXING_KEYS:
            faults.add(f"mixing: {shortened(key)}: known are {', '.join(MIXING_KEYS)}")
    for key, check in CHECKS.items():
        if key in given:
            with faults.collecting(key):
                check(given[key])
    there = [ingredient for ingredient in shelf if ingredient is not None]
    if given.get("order") and there:
        with faults.collecting("order"):
            _check_order(given["order"], there)
    return tuple(faults.found)


def _check_order(order, shelf):
    """Raise if an order names what is on no shelf, or something twice."""
    faults, found = Faults(), []
    for text in order:
        if str(text).casefold().startswith("trace stock"):
            continue
        with faults.collecting():
            found.append(_meant(text, shelf))
    for name in dict.fromkeys(n for n in found if found.count(n) > 1):
        faults.add(f"{name} stands there twice")
    faults.raise_if_any()


def _check_tanks(value):
    checked_number(value, "tanks", least=1, most=3)
    if value != int(value):
        raise InputError(f"tanks: {value!r}; write 1, 2 or 3")


def _check_percent(value):
    """Raise if a share in percent leaves no water to top up with, or none at first."""
    if not 0 < checked_number(value, "share of the water in %") < PERCENT:
        raise InputError(f"{value:g} %; write a share between 0 and 100, such as 75")


def _check_water(value):
    """Raise if a water of the stocks is none."""
    as_water(value)


CHECKS = {
    "water_first_percent": _check_percent,
    "stock_water": _check_water,
    "measured_ec": read_ec,
    "strength": strength_of,
    "tanks": _check_tanks,
    "coldest": lambda value: checked_number(
        value, "temperature in °C", least=0, most=40
    ),
    "tank_volume": check_volume,
    "measured_ph": lambda value: checked_number(value, "a pH", least=0, most=14),
    "measured_at": lambda value: checked_number(
        value, "temperature in °C", least=0, most=50
    ),
}
