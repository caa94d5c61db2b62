"""How sure a batch is: what its weights make when nothing is known exactly.

Thousands of batches are drawn at once, each with its own errors of weights, contents,
strengths, marks and water, and counted. That is the propagation of distributions of
[jcgm-100] and its supplement. Which input matters is told by least squares on the draws:
every output as straight lines and parabolas of each input alone; what these do not explain
comes from several inputs together.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np

from formulate.checks import checked_number
from formulate.errors import Faults, InputError, shortened
from formulate.recipes.doubt_remarks import doubt_remarks
from formulate.recipes.doubtful_inputs import Sizes, read_sizes
from formulate.recipes.drawn_batches import (
    batch_of,
    deviations,
    read_scoops,
    stack_of,
)
from formulate.recipes.drawn_readings import (
    Asked,
    Readings,
    limits_asked,
    ranges_asked,
    wilson_half,
)
from formulate.recipes.limits import Limit
from formulate.recipes.practical import Weighing
from formulate.recipes.recipe import Recipe
from formulate.recipes.variance_shares import columns_of, shares_of
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import read_table
from formulate.working import Shown, printed, printed_mg_l

__all__ = ["Doubt", "Interval", "Kept", "check_draws", "checked_inputs", "doubt"]

LEAST_DRAWS, MOST_DRAWS = 100, 200_000
METERS_TOLD = (("EC", "mS/cm"), ("pH", ""), ("pH when mixed", ""))


@dataclass(frozen=True)
class Interval:
    """
    Where one number of the batch lies.

    Attributes
    ----------
    name : str
        Nutrient key, "alkalinity", "EC", "pH" (in balance with the air) or "pH when mixed".
    unit : str
        Unit; none of a pH.
    exact : float
        Its value if nothing is off. [-]
    low : float
        Lower end. [-]
    middle : float
        Median: half the batches have less. [-]
    high : float
        Upper end. [-]
    shares : mapping of str to float
        Input to its share of the variance, the largest first; "several together" is what
        no input explains alone. Empty if nothing varies or too little was drawn. [-]
    """

    name: str
    unit: str
    exact: float
    low: float
    middle: float
    high: float
    shares: Mapping = field(default_factory=dict)

    @property
    def dominates(self):
        """Return (input, share) of what matters most, or ("", 0.0)."""
        return next(iter(self.shares.items()), ("", 0.0))

    def __str__(self):
        low, middle, high = (
            self._digits(v) for v in (self.low, self.middle, self.high)
        )
        name, share = self.dominates
        told = f"  {name} {100 * share:.0f} %" if name else ""
        unit = f"{self.unit:<5}"
        return f"{self.name:>13} {low:>8} {middle:>8} {high:>8} {unit}{told}".rstrip()

    def _digits(self, value):
        if not np.isfinite(value):
            return "-"
        if self.name.startswith("pH"):
            return f"{value:.2f}"
        return printed_mg_l(value) if self.unit == "mg/L" else printed(value, 3)


@dataclass(frozen=True)
class Kept:
    """
    How often one bound is kept.

    Attributes
    ----------
    asked : Asked
        The bound.
    probability : float
        Share of the batches that keep it. [-]
    error : float
        How far that share may be off for the number of draws, 95 of 100 times. [-]
    """

    asked: Asked
    probability: float
    error: float

    def __str__(self):
        return f"{self.asked.name}: {_percents(self.probability, self.error)}"


@dataclass(frozen=True, eq=False)
class Doubt(Shown):
    """
    What a batch may turn out to be.

    Attributes
    ----------
    thing : Recipe or Weighing
        The batch.
    draws : int
        How many batches were drawn. [-]
    seed : int
        Number that the draws follow from. [-]
    level : float
        Share of the batches between low and high. [-]
    intervals : mapping of str to Interval
        What is told of each output.
    limits : tuple of Kept
        How often each limit is kept by itself.
    ranges : tuple of Kept
        How often each wanted range is met by itself.
    probability : float or None
        Share of the batches that keep all limits, exact ones left out; None if there are
        none. [-]
    probability_error : float or None
        How far that may be off for the number of draws, 95 of 100 times. [-]
    unsettled : int
        Draws whose ions did not come to rest; they have no EC and pH. [-]
    inputs : tuple of DoubtfulInput
        What was varied.
    not_varied : tuple of str
        What counts as exact, in words.
    notices : tuple of Notice
        What to know, the gravest first.
    drawn : mapping of str to ndarray
        Output to its value in each draw. [-]
    """

    thing: object
    draws: int
    seed: int
    level: float
    intervals: Mapping
    limits: tuple
    ranges: tuple
    probability: float | None
    probability_error: float | None
    unsettled: int
    inputs: tuple
    not_varied: tuple
    notices: tuple = ()
    drawn: Mapping = field(default_factory=dict, repr=False)

    def __post_init__(self):
        for name in ("intervals", "drawn"):
            frozen = MappingProxyType(dict(getattr(self, name)))
            object.__setattr__(self, name, frozen)

    @property
    def dominates(self):
        """Return output to (input, share of the variance) of what matters most."""
        return {name: one.dominates for name, one in self.intervals.items()}

    def rows(self):
        """
        Return what is told of each output.

        Returns
        -------
        tuple of tuple
            (output, low, middle, high, unit, input that matters most, its share of the
            variance). [-]

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> found = doubt(solve(target({"K": 200}), ["KNO3"], volume=10))
        >>> [found.rows()[0][place] for place in (0, 4, 5)]
        ['K', 'mg/L', 'volume']
        """
        return tuple(
            (one.name, one.low, one.middle, one.high, one.unit, *one.dominates)
            for one in self.intervals.values()
        )

    def to_frame(self):
        """
        Return what is told of each output as a table.

        Returns
        -------
        pandas.DataFrame
            One row per output: low, middle, high, unit, input, share. [-]

        Examples
        --------
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> doubt(solve(target({"K": 200}), ["KNO3"], volume=10)).to_frame().loc["K", "input"]
        'volume'
        """
        import pandas

        columns = ["low", "middle", "high", "unit", "input", "share"]
        return pandas.DataFrame.from_dict(
            {row[0]: row[1:] for row in self.rows()}, orient="index", columns=columns
        )

    def __str__(self):
        inside, outside = 100 * self.level, 50 * (1 - self.level)
        lines = [
            f"{self.draws} batches drawn; {inside:.4g} of 100 lie between low and high, "
            f"{outside:.4g} of 100 on either side",
            f"{'':>13} {'low':>8} {'middle':>8} {'high':>8}        what matters most",
            *map(str, self.intervals.values()),
        ]
        if self.probability is not None:
            both = _percents(self.probability, self.probability_error)
            lines.append(f"all limits kept: {both}")
        lines += [f"  {kept}" for kept in self.limits] or ["no limits are set"]
        if self.ranges:
            lines += ["wanted ranges met, each by itself:"]
            lines += [f"  {kept}" for kept in self.ranges]
        lines.append(f"varied: {self._varied()}")
        lines += [f"not varied: {words}" for words in self.not_varied]
        return "\n".join([*lines, *map(str, self.notices)])

    def _varied(self):
        """Return the kinds of inputs that were varied, with how many there are of each."""
        names = dict.fromkeys(one.name for one in self.inputs)
        counts = Counter(name.partition(":")[0] for name in names)
        told = [f"{kind} ({n})" if n > 1 else kind for kind, n in counts.items()]
        return ", ".join(told) or "nothing"


def _percents(probability, error):
    """Return a probability and how far it may be off, in percent."""
    return f"{100 * probability:.1f} % of batches (± {printed(100 * error, 2)} %)"


def doubt(thing, *, draws=10_000, seed=1, doubts=None, scoops=(), level=0.9):
    """
    Return what a batch may turn out to be when nothing is known exactly.

    Parameters
    ----------
    thing : Recipe or Weighing
        The batch; of a recipe the ingredients' own steps count.
    draws : int
        How many batches are drawn. [-]
    seed : int
        Number that the draws follow from; the same one gives the same batches. [-]
    doubts : mapping of str to float, or None
        How far an input may be off either way in percent ("water pH" in units of pH), in
        place of the tables: its name such as "balance: KNO3", or its kind such as
        "balance"; {"all": 0} switches off what is not named. [%]
    scoops : iterable of str
        Names of solids that are measured by a scoop instead of weighed.
    level : float
        Share of the batches between low and high. [-]

    Returns
    -------
    Doubt
        Intervals of every wanted nutrient, EC and pH; how often limits are kept; which
        input matters most.

    Raises
    ------
    InputError
        With every fault.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> found = doubt(recipe, doubts={"all": 0, "volume": 2.0}).intervals["K"]
    >>> round(found.low, 1), round(found.high, 1)  # 200 / 1.018, 200 / 0.982
    (196.5, 203.7)
    """
    faults = Faults("doubt")
    with faults.collecting():
        _check_thing(thing)
    check_draws(draws, seed, faults)
    with faults.collecting():
        checked_number(level, "level", above=0.0)
        if level >= 1:
            raise InputError(f"level: {level:g} is not a number below 1")
    if isinstance(thing, Recipe | Weighing):
        sizes, scoops = checked_inputs(thing, doubts, scoops, faults)
    faults.raise_if_any()
    batch = batch_of(thing, sizes, scoops)
    moved = deviations(batch.inputs, draws, seed)
    found = Readings(stack_of(batch, moved, draws))
    return _told(thing, batch, moved, found, (draws, seed, float(level)))


def _check_thing(thing):
    if not isinstance(thing, Recipe | Weighing):
        what = f"{shortened(thing)} is no Recipe and no Weighing"
        raise InputError(f"{what}; solve makes one, weigh the other")


def check_draws(draws, seed, faults):
    """
    Note what is at fault with a number of draws or a seed.

    Parameters
    ----------
    draws : int
        How many are to be drawn. [-]
    seed : int
        Number that they follow from. [-]
    faults : Faults
        Where to note it.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> faults = Faults()
    >>> check_draws(0, 1, faults)
    >>> faults.found
    ['draws: 0 is not a whole number from 100 to 200000']
    """
    for name, value, low, high in (
        ("draws", draws, LEAST_DRAWS, MOST_DRAWS),
        ("seed", seed, 0, 2**32 - 1),
    ):
        whole = isinstance(value, int | np.integer) and not isinstance(value, bool)
        if not whole or not low <= value <= high:
            what = f"is not a whole number from {low} to {high}"
            shown = value if whole else shortened(value)
            faults.add(f"{name}: {shown} {what}")


def checked_inputs(thing, doubts, scoops, faults):
    """
    Return what a caller told of inputs, checked.

    Parameters
    ----------
    thing : Recipe or Weighing
        The batch.
    doubts : mapping of str to float, or None
        As in `doubt`. [%]
    scoops : iterable of str
        As in `doubt`.
    faults : Faults
        Where to note what is at fault.

    Returns
    -------
    sizes : Sizes
        How far inputs may be off.
    scoops : tuple of str
        Names of what is measured by a scoop.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> checked_inputs(recipe, {"balance: KNO3": 2.0}, (), Faults())[0].told
    {'balance: KNO3': 0.02}
    """
    scoops = read_scoops(thing, scoops, faults)
    return read_sizes(doubts, _names(thing, scoops), faults), scoops


def _names(thing, scoops):
    """Return the name of every input that could be varied here."""
    sizes = Sizes({row["rule"]: 0.1 for row in read_table("doubts")})
    return tuple(dict.fromkeys(i.name for i in batch_of(thing, sizes, scoops).inputs))


def _told(thing, batch, moved, found, how):
    """Return all that is told of drawn batches."""
    draws, seed, level = how
    rows = getattr(thing, "recipe", thing).requirements
    target, outputs = thing.target, _outputs(thing.target, found)
    columns = columns_of({one: array[1:] for one, array in moved.items()})
    intervals = {
        name: _interval(name, unit, values, columns, level)
        for name, (values, unit) in outputs.items()
    }
    asked, ranges = limits_asked(target, rows), ranges_asked(target)
    keeps = [one.keeps(found.value(one.limit)[1:]) for one in asked]
    sides = [k for one, k in zip(asked, keeps, strict=True) if one.side]
    both = float(np.all(sides, axis=0).mean()) if sides else None
    states = (found.mixed, found.aired, found.warm)
    unsettled = ~np.all([state.settled for state in states], axis=0)[1:]
    made = Doubt(
        thing,
        draws,
        seed,
        level,
        intervals,
        tuple(map(_kept, asked, keeps)),
        tuple(_kept(one, one.keeps(found.value(one.limit)[1:])) for one in ranges),
        both,
        None if both is None else wilson_half(both, draws),
        int(unsettled.sum()),
        batch.inputs,
        batch.not_varied,
        drawn={name: _frozen(values[1:]) for name, (values, _) in outputs.items()},
    )
    return replace(made, notices=doubt_remarks(made, found))


def _outputs(target, found):
    """Return what is told of: name to its values and its unit."""
    told = {key: (found.value(Limit(key)), _unit(key)) for key in target.wanted}
    if target.alkalinity is not None:
        held = Limit("alkalinity", unit="meq/L")
        told["alkalinity"] = found.value(held), held.unit
    return told | {name: (found.meter(name), unit) for name, unit in METERS_TOLD}


def _unit(key):
    return "mg/L as CaCO3" if nutrient(key).key == "hardness" else "mg/L"


def _interval(name, unit, values, columns, level):
    """Return where an output lies and what makes it so; the first value is the exact one."""
    exact, drawn = float(values[0]), values[1:]
    ends = (0.5 - level / 2, 0.5, 0.5 + level / 2)
    kept = drawn[np.isfinite(drawn)]
    low, middle, high = np.quantile(kept, ends).tolist() if kept.size else [np.nan] * 3
    return Interval(name, unit, exact, low, middle, high, shares_of(columns, drawn))


def _kept(asked, keeps):
    """Return how often a bound is kept."""
    share = float(keeps.mean())
    return Kept(asked, share, wilson_half(share, keeps.size))


def _frozen(array):
    """Return an array that cannot be written to."""
    array = np.array(array)
    array.setflags(write=False)
    return array
