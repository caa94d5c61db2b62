"""Doing a job: everything that follows from what was typed, worked out when asked for.

`run_job` is the only pipeline: command, sheets and workbench read an `Outcome`, and none
of them wires the parts together again.
"""

from collections.abc import Mapping
from contextlib import contextmanager
from dataclasses import dataclass, fields, replace
from functools import cached_property
from pathlib import Path
from types import MappingProxyType

from formulate.checks import checked_number
from formulate.chemistry.expected import expected
from formulate.chemistry.waters import water, water_from_text
from formulate.errors import Faults, InputError, shortened
from formulate.ingredients.labels import read_label
from formulate.ingredients.salts import acid, salt
from formulate.ingredients.shelf import Shelf, read_shelf
from formulate.ingredients.stock import blend, stock
from formulate.jobs import UNITS, Job, ShelfLine
from formulate.notices import gravest_first
from formulate.recipes.limits import amount_limit, read_bounds
from formulate.recipes.practical import weigh
from formulate.recipes.purchases import what_to_buy
from formulate.recipes.remarks import remarks
from formulate.recipes.solve import solve
from formulate.recipes.target import published_target, target
from formulate.stoichiometry.quantities import check_volume, read_quantity
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
        return _target_of(dict(self.job.target), self.job.strength_percent)

    @cached_property
    def water(self):
        """Return the water."""
        return _water_of(dict(self.job.water))

    @cached_property
    def shelf(self):
        """Return the shelf, in the order of preference, with what is on hand."""
        if self.job.shelf_file:
            return read_shelf(Path(self.job.folder) / self.job.shelf_file)
        return _shelf_of(self.job.shelf, map(_ingredient_of, self.job.shelf))

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
    def recipe(self):
        """Return the recipe, not rounded."""
        given = {"volume": self.volume, "water": self.water, "amounts": self.amounts}
        return solve(self.target, self.shelf, **given)

    @cached_property
    def weighing(self):
        """Return the recipe as the balance can weigh it, with stocks for traces."""
        return weigh(self.recipe, stocks=self.job.trace_stocks)

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
    def notices(self):
        """Return what to know of recipe and weights, the gravest first, each once."""
        told = remarks(self.recipe, weighed=True)
        told = (*told, *self.weighing.notices, *self.expected.notices)
        return gravest_first(told)

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
        return f"{title}{self.expected.line}\n{told}"


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
        "volume", "target", "water", "units" (with title and stocks) or "shelf" to what
        is wrong with it; a part that is right is not named.
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
                vars(outcome)["shelf"] = _shelf_of(job.shelf, made)  # made once
    faults = {part: tuple(its.found) for part, its in found.items() if its.found}
    return Checked(outcome, MappingProxyType(faults), lines, made)


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
        _text(job.title, "title")
    if not isinstance(job.trace_stocks, bool):
        faults.add(f"trace_stocks: {shortened(job.trace_stocks)}; write true or false")
    return faults


def _unknown_units(units):
    return f"units: {shortened(units)}; write one of {', '.join(UNITS)}"


def _text(value, what):
    """Return a value that must be text."""
    if not isinstance(value, str):
        raise InputError(f"{what}: {shortened(value)} is no text")
    return value


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
        made = _ingredient_of(line)
        if made.name in names:
            raise InputError(f"{made.name} stands here twice; give one another name")
        _check_step(made, volume)
    with _odd_kinds(told, f"{where}: on_hand"):
        if line.on_hand:
            _on_hand(line, made)
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


# --- from typed text to nouns ----------------------------------------------------------


def _target_of(entries, strength_percent=None):
    faults, made, share = Faults(), None, None
    with faults.collecting():
        made = _whole_target_of(entries)
    with faults.collecting():
        if strength_percent is not None:
            share = checked_number(strength_percent, "strength_percent", above=0) / 100
    faults.raise_if_any()
    if share is None:
        return made
    from formulate.recipes.scaling import scaled

    return scaled(made, share)


def _whole_target_of(entries):
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
    for key in ("limits", "weights"):
        rules[key] = dict(entries.pop(key, ()))
    rules["priorities"] = entries.pop("priorities", ())
    if ("published" in entries) == ("wanted" in entries):
        raise InputError("give either published or wanted, and not both")
    for key in (key for key in TEXTS if key in entries):
        _text(entries[key], key)
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
    if isinstance(name, bool) or not isinstance(name, str | int | float):
        _text(name, "name")
    name = str(name)
    if preset is not None:
        _refuse_rest(entries, (), "a preset is a whole analysis")
        return water(preset, name=name)
    if "report" in entries:
        text, unit = entries.pop("report"), entries.pop("unit", None) or None
        _refuse_rest(entries, (), "a report is a whole analysis")
        return water_from_text(_text(text, "report"), name=name, unit=unit)
    return water(entries, name=name)


TEXTS = ("published", "unit", "name", "crop", "stage")  # of a target
FITTING = {
    "label": ("label", "density"),
    "stock": ("stock", "stock_volume"),
    "blend": ("blend",),
    "acid": ("ingredient", "acid_percent", "density"),
    "salt": ("ingredient", "purity_percent"),
}
WAYS = ("ingredient", "label", "stock", "blend")
ALWAYS = ("name", "price_per_kg", "step", "on_hand", "use")


def _ingredient_of(line):
    """Return the ingredient that one line of the shelf describes."""
    _text(line.name, "name")
    ways = [word for word in WAYS if getattr(line, word)]
    if len(ways) != 1:
        raise InputError("give one of ingredient, label, stock or blend")
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


def _shelf_of(lines, made):
    """Return the shelf of lines and what they make, with what is on hand."""
    made = tuple(made)
    pairs = zip(lines, made, strict=True)
    there = {i.name: _on_hand(line, i) for line, i in pairs if line.on_hand}
    return Shelf(made, there)


def _on_hand(line, ingredient):
    """Return what is there of an ingredient, in grams or millilitres of a stock."""
    value, of_unit = read_quantity(line.on_hand, "mass", "volume")
    checked_number(value, "what is there", least=0)
    return ingredient.amount_measured(value, of_unit) if ingredient else value


def _made(kind, line):
    """Return the ingredient of a line, its price and step still to come."""
    if kind == "salt":
        name = line.name or None
        return salt(line.ingredient, name=name, purity_percent=line.purity_percent)
    if kind == "acid":
        name, strength = line.name or None, line.acid_percent
        return acid(line.ingredient, name=name, percent=strength, density=line.density)
    if kind == "label":
        return read_label(line.label, name=line.name, density=line.density)
    if not line.name:
        raise InputError("a stock or blend needs a name")
    if kind == "stock":
        return stock(line.name, dict(line.stock), volume=line.stock_volume or "1 L")
    return blend(line.name, dict(line.blend))
