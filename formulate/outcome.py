"""Doing a job: everything that follows from what was typed, worked out when asked for.

`run_job` is the only pipeline: command, sheets and workbench read an `Outcome`, and none
of them wires the parts together again.
"""

from dataclasses import dataclass, fields, replace
from functools import cached_property

from formulate.checks import checked_number
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
    names = {}
    for place, line in enumerate(job.shelf, 1):
        with faults.collecting(f"shelf {place}"):
            name = _ingredient_of(line).name
            if name in names:
                raise InputError(f"{name} stands here twice; give one another name")
            names[name] = place
    if not job.shelf:
        faults.add('shelf: nothing on it; add a [[shelf]] with ingredient = "KNO3"')
    faults.raise_if_any()
    return outcome


# --- from typed text to nouns ----------------------------------------------------------


def _target_of(entries):
    if not entries:
        raise InputError('nothing wanted; write published = "..." or a [target.wanted]')
    entries = dict(entries)
    share = entries.pop("ammonium_share_percent", None)
    rules = {
        "ammonium_share": None
        if share is None
        else tuple(part / 100 for part in share),
        "urea_allowed": entries.pop("urea_allowed", False),
    }
    if ("published" in entries) == ("wanted" in entries):
        raise InputError("give either published or wanted, and not both")
    if "published" in entries:
        _refuse_rest(entries, ("published",), "a published target brings its own")
        return published_target(entries["published"], **rules)
    wanted, unit = dict(entries.pop("wanted")), entries.pop("unit", "mg/L")
    return target(wanted, unit=unit, **rules, **entries)


def _refuse_rest(entries, fitting, why):
    """Raise if anything was given that would be dropped."""
    rest = [key for key in entries if key not in fitting]
    if rest:
        raise InputError(f"{', '.join(rest)}: {why}; leave it out")


def _water_of(entries):
    entries = dict(entries)
    preset, name = entries.pop("preset", None), entries.pop("name", "")
    if preset is not None:
        _refuse_rest(entries, (), "a preset is a whole analysis")
        return water(preset, name=name)
    return water(entries, name=name)


FITTING = {
    "stock": ("stock", "stock_volume"),
    "blend": ("blend",),
    "acid": ("ingredient", "acid_percent", "density"),
    "salt": ("ingredient", "purity_percent"),
}
ALWAYS = ("name", "price_per_kg", "step")


def _ingredient_of(line):
    """Return the ingredient that one line of the shelf describes."""
    ways = [word for word in ("ingredient", "stock", "blend") if getattr(line, word)]
    if len(ways) != 1:
        raise InputError("give one of ingredient, stock or blend")
    is_acid = line.acid_percent is not None
    kind = {"ingredient": "acid" if is_acid else "salt"}.get(ways[0], ways[0])
    given = {
        f.name for f in fields(line) if getattr(line, f.name) not in ("", None, ())
    }
    _refuse_rest(sorted(given), (*ALWAYS, *FITTING[kind]), f"does not belong to {kind}")
    faults, facts, made = Faults(), {}, None
    with faults.collecting():
        made = _made(kind, line)
    with faults.collecting("price_per_kg"):
        if line.price_per_kg is not None:
            facts["price"] = checked_number(line.price_per_kg, "price", least=0)
    with faults.collecting("step"):
        if line.step:
            value, of_unit = read_quantity(line.step, "mass", default="g")
            step = checked_number(value, "weighing step", above=0) * of_unit.factor
            facts["weighing_step"] = step
    faults.raise_if_any()
    return replace(made, **facts)


def _made(kind, line):
    """Return the ingredient of a line, its price and step still to come."""
    if kind == "salt":
        name = line.name or None
        return salt(line.ingredient, name=name, purity_percent=line.purity_percent)
    if kind == "acid":
        name, strength = line.name or None, line.acid_percent
        return acid(line.ingredient, name=name, percent=strength, density=line.density)
    if not line.name:
        raise InputError("a stock or blend needs a name")
    if kind == "stock":
        return stock(line.name, dict(line.stock), volume=line.stock_volume or "1 L")
    return blend(line.name, dict(line.blend))
