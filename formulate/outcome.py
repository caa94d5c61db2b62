"""Doing a job: everything that follows from what was typed, worked out when asked for.

`run_job` is the only pipeline: command, sheets and workbench read an `Outcome`, and none
of them wires the parts together again.
"""

from dataclasses import dataclass
from functools import cached_property

from formulate.errors import Faults, InputError
from formulate.ingredients.salts import acid, salt
from formulate.ingredients.stock import blend, stock
from formulate.ingredients.water import water
from formulate.jobs import Job
from formulate.recipes.solve import solve
from formulate.recipes.target import published_target, target
from formulate.stoichiometry.quantities import check_volume, read_quantity
from formulate.working import Shown

__all__ = ["Outcome", "run_job"]


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
        return _target_of(dict(self.job.target))

    @cached_property
    def water(self):
        """Return the water."""
        return _water_of(dict(self.job.water))

    @cached_property
    def shelf(self):
        """Return the ingredients, in the order of the shelf."""
        return tuple(_ingredient_of(line) for line in self.job.shelf)

    @cached_property
    def recipe(self):
        """Return the recipe."""
        return solve(self.target, self.shelf, volume=self.volume, water=self.water)

    @property
    def solution(self):
        """Return the solution that the recipe makes. [mmol/L]"""
        return self.recipe.solution

    @property
    def notices(self):
        """Return what to know, the gravest first."""
        return self.recipe.notices

    def __str__(self):
        return (
            f"{self.job.title}\n{self.recipe}" if self.job.title else str(self.recipe)
        )


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
    outcome, faults = Outcome(job), Faults()
    for part in ("volume", "target", "water"):
        with faults.collecting(part):
            getattr(outcome, part)
    for place, line in enumerate(job.shelf, 1):
        with faults.collecting(f"shelf {place}"):
            _ingredient_of(line)
    if not job.shelf:
        faults.add('shelf: nothing on it; add a [[shelf]] with ingredient = "KNO3"')
    faults.raise_if_any()
    return outcome


# --- from typed text to nouns ----------------------------------------------------------


def _target_of(entries):
    if not entries:
        raise InputError('nothing wanted; write published = "..." or a [target.wanted]')
    share = entries.get("ammonium_share_percent")
    rules = {
        "ammonium_share": None
        if share is None
        else tuple(part / 100 for part in share),
        "urea_allowed": entries.get("urea_allowed", False),
    }
    if ("published" in entries) == ("wanted" in entries):
        raise InputError("give either published or wanted, and not both")
    if "published" in entries:
        return published_target(entries["published"], **rules)
    facts = {key: entries[key] for key in ("name", "crop", "stage") if key in entries}
    return target(
        dict(entries["wanted"]), unit=entries.get("unit", "mg/L"), **rules, **facts
    )


def _water_of(entries):
    entries = dict(entries)
    preset, name = entries.pop("preset", None), entries.pop("name", "")
    if preset is not None:
        if entries:
            raise InputError(
                f"give either preset or an analysis, not both ({', '.join(entries)})"
            )
        return water(preset, name=name)
    return water(entries, name=name)


def _ingredient_of(line):
    """Return the ingredient that one line of the shelf describes."""
    ways = [word for word in ("ingredient", "stock", "blend") if getattr(line, word)]
    if len(ways) != 1:
        raise InputError("give one of ingredient, stock or blend")
    if line.stock:
        return stock(
            _needed_name(line), dict(line.stock), volume=line.stock_volume or "1 L"
        )
    if line.blend:
        return blend(_needed_name(line), dict(line.blend))
    if line.acid_percent is not None:
        facts = {"percent": line.acid_percent, "density": line.density}
        return acid(
            line.ingredient,
            name=line.name or None,
            price_per_kg=line.price_per_kg,
            **facts,
        )
    step = None
    if line.step:
        value, of_unit = read_quantity(line.step, "mass", default="g")
        step = value * of_unit.factor
    return salt(
        line.ingredient,
        name=line.name or None,
        purity_percent=line.purity_percent,
        price_per_kg=line.price_per_kg,
        weighing_step=step,
    )


def _needed_name(line):
    if not line.name:
        raise InputError("a stock or blend needs a name")
    return line.name
