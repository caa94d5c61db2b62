"""Doing a job: everything that follows from what was typed, worked out when asked for.

`run_job` is the only pipeline: command, sheets and workbench read an `Outcome`, and none
of them wires the parts together again.
"""

from collections.abc import Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from types import MappingProxyType

from formulate.batch_remarks import batch_remarks
from formulate.chemistry.acid_doses import check_wanted_ph
from formulate.chemistry.correction import correction
from formulate.chemistry.expected import expected
from formulate.chemistry.iron_sources import iron_sources
from formulate.chemistry.risks import solid_risks
from formulate.chemistry.solids import mineral_names
from formulate.errors import Faults, FormulateError, InputError, shortened
from formulate.ingredients.shelf import read_shelf
from formulate.job_claims import JobClaims
from formulate.job_mixing import JobMixing, check_mixing
from formulate.job_nouns import (
    checked_text,
    ingredient_of,
    on_hand,
    shelf_of,
    target_of,
    water_of,
)
from formulate.job_recipe import JobRecipe, check_choices
from formulate.jobs import UNITS, Job, ShelfLine
from formulate.notices import gravest_first
from formulate.papers import check_papers
from formulate.recipes.limits import amount_limit, read_bounds
from formulate.recipes.purchases import what_to_buy
from formulate.recipes.remarks import remarks
from formulate.stoichiometry.quantities import check_volume
from formulate.trade_offs import TradeOffs
from formulate.working import Shown

__all__ = ["Checked", "Outcome", "check_job", "run_job"]

GRAMS_PER_LITRE = 1000.0
TO_BUY = 3  # how many purchases are named
NO_SHELF = 'nothing on it; add a [[shelf]] with ingredient = "KNO3"'
ODD_KINDS = (TypeError, ValueError, AttributeError, ArithmeticError, LookupError)


@dataclass(frozen=True, eq=False)
class Outcome(Shown):
    """
    Everything that follows from a job, worked out when it is first asked for.

    Attributes
    ----------
    job : Job
        The job.
    """

    job: Job

    @cached_property
    def volume(self):
        """Return the final volume. [L]"""
        return check_volume(self.job.volume)

    @cached_property
    def target(self):
        """Return the target."""
        return target_of(dict(self.job.target), self.job.strength_percent)

    @cached_property
    def water(self):
        """Return the water."""
        return water_of(dict(self.job.water))

    @cached_property
    def shelf(self):
        """Return the shelf, in the order of preference, with what is on hand."""
        if self.job.shelf_file:
            return read_shelf(Path(self.job.folder) / self.job.shelf_file)
        return shelf_of(self.job.shelf, map(ingredient_of, self.job.shelf))

    @cached_property
    def amounts(self):
        """Return name to how much the batch may take, as it was typed."""
        pairs = zip(self.job.shelf, self.shelf, strict=True) if self.job.shelf else ()
        barred = {i.name for i in self.shelf if "urea" in i.forms}
        barred = set() if self.target.urea_allowed else barred
        limits = {i.name: (line.use, i) for line, i in pairs if line.use}
        return {
            name: use
            for name, (use, i) in limits.items()
            if name not in barred or amount_limit(name, use, i, self.volume).low > 0
        }

    @cached_property
    def chosen(self):
        """Return the recipe with how it was chosen: few ingredients, cost, EC, pH."""
        facts = (self.target, self.shelf, self.water, self.volume, self.amounts)
        return JobRecipe(self.job, *facts)

    @property
    def recipe(self):
        """Return the recipe, not rounded."""
        return self.chosen.recipe

    @property
    def weighing(self):
        """Return the recipe as the balance can weigh it, with stocks for traces."""
        return self.chosen.weighing

    @cached_property
    def trade_offs(self):
        """Return what nearness, bags and prices exchange for, and how sure it all is."""
        return TradeOffs(self.chosen)

    @cached_property
    def mixing(self):
        """Return how the weighed batch is mixed: order, plan, concentrates."""
        return JobMixing(self)

    @cached_property
    def claims(self):
        """Return the papers of the job, checked; no recipe is needed for it."""
        parts = ("shelf", "water", "target")
        shelf, water, target = map(self._if_right, parts)
        told = (self.job.papers, self.job.compared)
        return JobClaims(*told, tuple(shelf or ()), water, target)

    def _if_right(self, part):
        """Return a part of the job, or None while it is at fault."""
        with suppress(FormulateError, *ODD_KINDS):
            return getattr(self, part)
        return None

    @cached_property
    def to_buy(self):
        """Return what of the catalogue would bring the recipe nearer, what helps most first."""
        return what_to_buy(self.recipe, most=TO_BUY)

    @property
    def solution(self):
        """Return the solution that the recipe makes before it is rounded. [mmol/L]"""
        return self.recipe.solution

    @cached_property
    def expected(self):
        """Return what meters will show of the weighed batch: pH and EC."""
        batch = {"volume": self.volume, "water": self.water}
        return expected(self.weighing.solution, amounts=self.weighing.amounts, **batch)

    @cached_property
    def solids(self):
        """Return what may fall out of the weighed batch."""
        return solid_risks(self.expected.state)

    @cached_property
    def solids_in_air(self):
        """Return what may fall out once the batch, as corrected, is in balance with the air."""
        return solid_risks(self.correction.after)

    @cached_property
    def correction(self):
        """Return how the weighed batch is brought to the wanted pH with what is at hand."""
        found = self.expected
        return correction(
            found.state,
            self.shelf,
            ph=self.chosen.wanted_ph,
            volume=self.volume,
            alkalinity_error=found.alkalinity_error + found.open_charge,
        )

    @cached_property
    def iron(self):
        """Return the sources of iron on the shelf, the best at the wanted pH first."""
        wanted = self.solution.mg_l("Fe")
        if not wanted or not any(i.percent("Fe") for i in self.shelf):
            return ()
        given = {"iron": wanted, "volume": self.volume}
        return iron_sources(self.shelf, self.correction.ph, **given)

    @cached_property
    def notices(self):
        """Return what to know of recipe and weights, the gravest first, each once."""
        told = remarks(self.recipe, weighed=True)
        told = (*told, *self.chosen.notices, *self.weighing.notices)
        return gravest_first((*told, *self.chemistry_notices, *batch_remarks(self)))

    @cached_property
    def chemistry_notices(self):
        """Return what to know of pH, EC, solids and correction, the gravest first."""
        when = f"in balance with the air, at pH {self.correction.tomorrow:.1f}"
        later = self.solids_in_air.notices_beyond(self.solids, when)
        told = (*self.expected.notices, *self.solids.notices, *later)
        return gravest_first((*told, *self.correction.notices))

    def working(self, what):
        """
        Return the arithmetic behind one number of the weighed batch.

        Parameters
        ----------
        what : str
            Nutrient key, "pH", "EC", "dose" (of the first acid or alkali) or the name of a
            solid, such as "gypsum".

        Returns
        -------
        Working
            The steps.

        Raises
        ------
        InputError
            If there is no such number.

        Examples
        --------
        >>> from formulate.jobs import DEMO, read_job
        >>> run_job(read_job(DEMO)).working("gypsum").title
        'Saturation index of gypsum'
        """
        state = self.expected.state
        if what == "dose":
            return self.correction.working()
        if what in ("pH", "EC") or what in mineral_names():
            return state.working(what)
        return self.weighing.working(what)

    def shown_in(self, units):
        """
        Return the same outcome in other units; nothing is worked out again.

        Parameters
        ----------
        units : str
            "metric" or "us".

        Returns
        -------
        Outcome
            The outcome of the same job in those units.

        Raises
        ------
        InputError
            If there are no such units.

        Examples
        --------
        >>> from formulate.jobs import DEMO, read_job
        >>> outcome = run_job(read_job(DEMO))
        >>> recipe = outcome.recipe
        >>> outcome.shown_in("us").recipe is recipe
        True
        """
        if units == self.job.units:
            return self
        if units not in UNITS:
            raise InputError(_unknown_units(units))
        seen = Outcome(replace(self.job, units=units))
        vars(seen).update({k: v for k, v in vars(self).items() if k != "job"})
        return seen

    def __str__(self):
        told = str(replace(self.weighing, notices=self.notices))
        title = f"{self.job.title}\n" if self.job.title else ""
        near = [f"{r.name} {r.words}" for r in self.solids.telling]
        falls = (
            f"what may fall out: {', '.join(near)}"
            if near
            else "nothing is likely to fall out"
        )
        chosen = "".join(f"{line}\n" for line in self.chosen.lines)
        chemistry = f"{chosen}{self.expected.line}\n{self.correction.line}\n{falls}"
        return f"{title}{chemistry}\n{told}"


def run_job(job):
    """
    Return the outcome of a job.

    Parameters
    ----------
    job : Job
        The job.

    Returns
    -------
    Outcome
        Everything that follows from it.

    Raises
    ------
    InputError
        With every fault of the job.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> outcome = run_job(read_job(DEMO))
    >>> round(outcome.solution.mg_l("Fe"), 1)
    2.8
    """
    checked = check_job(job)
    faults = [text for texts in checked.faults.values() for text in texts]
    if faults:
        raise InputError(*faults)
    return checked.outcome


@dataclass(frozen=True, eq=False)
class Checked:
    """
    A job with the faults of each of its parts.

    Attributes
    ----------
    outcome : Outcome
        What follows from the job, as far as its parts are right.
    faults : mapping of str to tuple of str
        "volume", "target", "water", "units" (with title and stocks), "shelf", "mixing" or
        "claims" to what is wrong with it; a part that is right is not named.
    lines : tuple of tuple of str
        What is wrong with each line of the shelf; nothing for a shelf in a file.
    made : tuple of Ingredient or None
        What each line of the shelf makes, or what the file of the shelf holds.
    """

    outcome: Outcome
    faults: Mapping
    lines: tuple = ()
    made: tuple = ()


def check_job(job):
    """
    Return a job with the faults of each of its parts; nothing is raised for them.

    Parameters
    ----------
    job : Job
        The job.

    Returns
    -------
    Checked
        Its outcome, and what is wrong with it.

    Raises
    ------
    InputError
        If it is no job.

    Examples
    --------
    >>> check_job(Job(volume="10 furlongs")).faults["volume"][0][:40]
    "volume: unit 'furlongs' is not known; kn"
    """
    if not isinstance(job, Job):
        raise InputError(f"{shortened(job)} is no job; read one with read_job")
    outcome, found = Outcome(job), {}
    for part in ("volume", "target", "water"):
        with _odd_kinds(found.setdefault(part, Faults()), part):
            getattr(outcome, part)
    volume = vars(outcome).get("volume")  # None if it was at fault
    found["units"], found["shelf"] = _check_choices(job), Faults()
    lines, made = (), ()
    with _odd_kinds(found["shelf"], "shelf"):
        if job.shelf_file:
            made = _check_file(outcome, volume, found["shelf"])
        elif not job.shelf:
            raise InputError(NO_SHELF)
        else:
            lines, made = _check_lines(job.shelf, volume)
            found["shelf"].found += [text for texts in lines for text in texts]
            if not any(lines):
                vars(outcome)["shelf"] = shelf_of(job.shelf, made)  # made once
    with _odd_kinds(found["units"], ""):
        found["units"].found += check_choices(
            job, _may_be_used(job, made), vars(outcome).get("target")
        )
    with _odd_kinds(found.setdefault("mixing", Faults()), "mixing"):
        found["mixing"].found += check_mixing(job, made)
    with _odd_kinds(found.setdefault("claims", Faults()), "papers"):
        found["claims"].found += check_papers(job)
    faults = {part: tuple(its.found) for part, its in found.items() if its.found}
    return Checked(outcome, MappingProxyType(faults), lines, made)


def _may_be_used(job, made):
    """Return what of a shelf could be read and is not left out."""
    uses = [line.use for line in job.shelf] if len(job.shelf) == len(made) else ()
    uses = uses or [""] * len(made)
    pairs = zip(made, uses, strict=True)
    return [one for one, use in pairs if one is not None and not _is_nothing(use)]


def _is_nothing(use):
    """Return whether a line of the shelf may not be used at all."""
    faults = Faults()
    with faults.collecting():
        return bool(use) and read_bounds(use)[1] == 0
    return False


@contextmanager
def _odd_kinds(faults, where):
    """Note faults, and values of a kind that only a job made in Python can hold."""
    try:
        with faults.collecting(where):
            yield
    except ODD_KINDS as error:
        faults.add(f"{where}: a value of the wrong kind ({shortened(error, 100)})")


def _check_choices(job):
    """Return the faults of what only the sheet asks for."""
    faults = Faults()
    if job.units not in UNITS:
        faults.add(_unknown_units(job.units))
    with faults.collecting():
        checked_text(job.title, "title")
    with faults.collecting("ph"):
        if job.ph is not None:
            check_wanted_ph(job.ph)
    if not isinstance(job.trace_stocks, bool):
        faults.add(f"trace_stocks: {shortened(job.trace_stocks)}; write true or false")
    return faults


def _unknown_units(units):
    return f"units: {shortened(units)}; write one of {', '.join(UNITS)}"


def _check_file(outcome, volume, faults):
    """Note the faults of a shelf that stands in a file of its own; return what it holds."""
    made = ()
    with _odd_kinds(faults, "shelf_file"):
        if outcome.job.shelf:
            raise InputError("there are [[shelf]] lines too; give one or the other")
        made = tuple(outcome.shelf)
        for ingredient in made:
            with faults.collecting(f"shelf_file: {ingredient.name}"):
                _check_step(ingredient, volume)
    return made


def _check_lines(lines, volume):
    """Return the faults of every line of a shelf, and what it makes."""
    if not isinstance(lines, tuple | list):
        raise InputError(f"{shortened(lines)} is no list; give a ShelfLine for each")
    faults, found, names = [], [], set()
    for place, line in enumerate(lines, 1):
        told, made = _check_line(f"shelf {place}", line, names, volume)
        faults.append(tuple(told.found))
        found.append(made)
        names.add(made.name if made else None)
    return tuple(faults), tuple(found)


def _check_line(where, line, names, volume):
    """Return the faults of one line of a shelf, and what it makes or None."""
    told, made = Faults(), None
    if not isinstance(line, ShelfLine):
        told.add(f"{where}: {shortened(line)} is no line; give a ShelfLine")
        return told, made
    with _odd_kinds(told, where):
        made = ingredient_of(line)
        if made.name in names:
            raise InputError(f"{made.name} stands here twice; give one another name")
        _check_step(made, volume)
    with _odd_kinds(told, f"{where}: on_hand"):
        if line.on_hand:
            on_hand(line, made)
    with _odd_kinds(told, f"{where}: use"):
        if line.use and made:
            amount_limit(made.name, line.use, made, volume or 1.0)
        elif line.use:
            read_bounds(line.use)
    return told, made


def _check_step(ingredient, volume):
    """Raise if an ingredient is weighed in steps no smaller than the batch."""
    step, in_unit = ingredient.weighing_step, ingredient.measured_in
    if step and volume and step >= GRAMS_PER_LITRE * volume:
        what = f"step {step:g} {in_unit} is no less than the batch of {volume:g} L"
        raise InputError(f"{what} itself; take a finer one")
