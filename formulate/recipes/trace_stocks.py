"""Stocks of traces: what is too little for the balance is weighed once for many batches.

Half a step of the balance is a large part of a small weight. Weighed for many batches at
once, dissolved, and dosed by volume, the same trace is off by far less. What does not keep
together in a concentrate goes into separate stocks; what keeps in none stays weighed. That
a stock is made up to its mark exactly is taken for granted.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property
from types import MappingProxyType

from formulate.errors import MissingData
from formulate.ingredients.hazards import is_meant
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.solubility import solubility
from formulate.ingredients.stock import stock
from formulate.notices import Notice
from formulate.tables import read_table, recipe_rule
from formulate.working import Shown, printed

__all__ = ["TraceStock", "keeps_apart", "measuring_step", "propose_stocks"]

ML_PER_LITRE = 1000.0
DIGITS = 10  # decimals of a weight; beyond them is rounding
ANY = "any"


@dataclass(frozen=True, eq=False)
class TraceStock(Shown):
    """
    Traces dissolved together, and how much of the stock a batch gets.

    Attributes
    ----------
    ingredient : Ingredient
        The stock as an ingredient that is measured in millilitres.
    dose : float
        What each batch gets of it. [mL]
    dose_step : float
        Smallest step in which the dose is measured. [mL]
    steps : mapping of str to float
        Name of each part to the step in which it is weighed. [g]
    exact : mapping of str to float
        Name of each part to what the recipe asks for one batch. [g]
    notices : tuple of Notice
        What to know: how it dissolves, what to look for.
    """

    ingredient: Ingredient
    dose: float
    dose_step: float
    steps: Mapping
    exact: Mapping
    notices: tuple = ()

    def __post_init__(self):
        for name in ("steps", "exact"):
            frozen = MappingProxyType(dict(getattr(self, name)))
            object.__setattr__(self, name, frozen)

    @property
    def parts(self):
        """Return (ingredient, grams) for what is dissolved. [g]"""
        return self.ingredient.parts

    @property
    def volume(self):
        """Return the volume that the parts are made up to. [L]"""
        return self.ingredient.made_of / ML_PER_LITRE

    @property
    def batches(self):
        """Return how many batches the stock serves. [-]"""
        return self.ingredient.made_of / self.dose

    @cached_property
    def dose_error(self):
        """Return how far the dose may be off either way: half a step of it. [%]"""
        return _half_step(self.dose_step, self.dose)

    def rows(self):
        """
        Return what is weighed of each part and how far it may be off either way.

        Returns
        -------
        tuple of tuple
            (name, grams in the stock, grams that reach a batch, ± percent if it were
            weighed for each batch, ± percent through the stock at worst, and as the root
            of the sum of squares); the direct error is infinite where nothing would be
            weighed. [g]

        Examples
        --------
        >>> from formulate.ingredients.salts import salt
        >>> boric = salt("H3BO3", weighing_step=0.01)
        >>> (made,), _ = propose_stocks([(boric, 0.0286)], volume=10, steps={"H3BO3": 0.01})
        >>> [[round(value, 4) for value in row[1:]] for row in made.rows()]
        [[1.43, 0.0286, 16.6667, 0.8497, 0.6101]]
        """
        found = []
        for part, grams in self.parts:
            step, exact = self.steps[part.name], self.exact[part.name]
            direct = _half_step(step, round(exact / step) * step)
            weighed = _half_step(step, grams)
            worst, likely = (
                weighed + self.dose_error,
                math.hypot(weighed, self.dose_error),
            )
            found.append(
                (part.name, grams, grams / self.batches, direct, worst, likely)
            )
        return tuple(found)

    def reweighed(self, grams):
        """
        Return the same stock with other weights of its parts.

        Parameters
        ----------
        grams : mapping of str to float
            Name of each part to its weight in the stock. [g]

        Returns
        -------
        TraceStock
            The stock.

        Examples
        --------
        >>> from formulate.ingredients.salts import salt
        >>> boric = salt("H3BO3", weighing_step=0.01)
        >>> (made,), _ = propose_stocks([(boric, 0.0286)], volume=10, steps={"H3BO3": 0.01})
        >>> made.reweighed({"H3BO3": 1.44}).parts[0][1]
        1.44
        """
        parts = {part: grams[part.name] for part, _ in self.parts}
        made = stock(self.ingredient.name, parts, volume=self.volume)
        return replace(self, ingredient=made)

    @property
    def lines(self):
        """Return what is weighed, made up and dosed, a line for each part."""
        head = f"{self.ingredient.name}: made up to {self.volume:g} L with pure water"
        serves = f"{self.dose:g} mL for each batch, {self.batches:g} batches"
        lines = [f"{head}; {serves} (dose ± {printed(self.dose_error, 2)} %)"]
        for name, grams, reaches, direct, _, likely in self.rows():
            alone = (
                "too little to weigh alone"
                if math.isinf(direct)
                else f"± {printed(direct, 2)} % weighed alone"
            )
            lines.append(
                f"{grams:>9.10g} g {name}: {printed(reaches, 3)} g a batch, "
                f"± {printed(likely, 2)} % ({alone})"
            )
        return tuple(lines)

    def __str__(self):
        return "\n".join([*self.lines, *map(str, self.notices)])


def _half_step(step, amount):
    """Return half a step as a share of an amount. [%]"""
    return 50 * step / amount if amount else math.inf


# --- the rules -------------------------------------------------------------------------


@cache
def _rules(kind):
    """Return the rows of one kind."""
    return tuple(row for row in read_table("stock_rules") if row["kind"] == kind)


@cache
def _limit(name):
    return next(row for row in _rules("limit") if row["rule"] == name).number("value")


def _few_steps():
    return recipe_rule("few steps").number("low")


def measuring_step(millilitres):
    """
    Return the step in which a volume is measured: syringe, cylinder, jug.

    Parameters
    ----------
    millilitres : float
        The volume. [mL]

    Returns
    -------
    float
        Step; common practice. [mL]

    Examples
    --------
    >>> measuring_step(5), measuring_step(50)
    (0.1, 1.0)
    """
    rows = [row for row in _rules("measure") if row.number("value") <= millilitres]
    return max(rows, key=lambda row: row.number("value")).number("step")


def _is_meant(selector, ingredient):
    """Return whether every word of a rule's column fits an ingredient."""
    return selector == ANY or is_meant(ingredient, selector)


def _compounds(ingredient):
    """Return what an ingredient is made of, blends taken apart."""
    if not ingredient.parts:
        return (ingredient,)
    return tuple(c for part, _ in ingredient.parts for c in _compounds(part))


def _met(kind, first, second):
    """Return the first row of a kind that two ingredients meet, or None."""
    alone = first is second
    for row in _rules(kind):
        for one, other in ((first, second), (second, first)):
            for a in _compounds(one):
                for b in _compounds(other):
                    if alone and row["second"] == ANY and a is b:
                        continue
                    if _is_meant(row["first"], a) and _is_meant(row["second"], b):
                        return row
    return None


def keeps_apart(first, second):
    """
    Return why two ingredients do not keep together in a concentrate.

    Parameters
    ----------
    first : Ingredient
        One ingredient.
    second : Ingredient
        The other; the same one again asks whether it keeps by itself.

    Returns
    -------
    str
        The reason; empty if no rule speaks against it.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> keeps_apart(salt("CaCl2·2H2O"), salt("ZnSO4·7H2O"))
    'gypsum falls out'
    >>> keeps_apart(salt("H3BO3"), salt("ZnSO4·7H2O"))
    ''
    """
    row = _met("apart", first, second)
    return row["text"] if row else ""


def _solubility_share(part, grams_per_litre):
    """Return the share of its solubility that a part takes up, and what to know. [%]"""
    cold = _limit("cold store")
    try:
        known = solubility(part, cold)
    except MissingData as error:
        what = (
            f"{part.name}: no solubility at {cold:g} °C is known ({error.faults[0]}); "
            f"try {printed(grams_per_litre, 3)} g/L in a glass first"
        )
        return 0.0, (Notice(what, "caution"),)
    share = 100 * grams_per_litre / (10 * known.low)
    told = tuple(
        replace(n, what=f"{part.name}: {n.what}")
        for n in known.notices
        if n.severity != "note" or known.how_known == "memory"
    )
    return share, told


# --- the choice of volume and dose -----------------------------------------------------


@dataclass(frozen=True)
class _Choice:
    """A volume of stock and a dose, and how good they are: the less the better."""

    volume: float
    dose: float
    dose_step: float
    rank: tuple


def _choices(group, volume, steps):
    """Yield each volume and dose with which every part and the dose are large enough."""
    few, best = _few_steps(), _limit("best steps")
    of_batch = _limit("largest stock of a batch") / 100 * volume
    largest = max(_limit("largest stock"), of_batch)
    for dose in (row.number("value") for row in _rules("dose")):
        dose_step = measuring_step(dose)
        in_dose = dose / dose_step
        if dose > _limit("largest dose") * volume or round(in_dose, 6) < few:
            continue
        for litres in (row.number("value") for row in _rules("volume")):
            batches = litres * ML_PER_LITRE / dose
            counts = [round(a * batches / steps[i.name]) for i, a in group]
            if (
                min(counts) < few
                or batches < 2
                or not _gains(group, counts, steps, in_dose)
            ):
                continue
            if batches > _limit("most batches") or litres > largest:
                continue
            many = batches > _limit("usual batches")
            short = sum(count < best for count in (*counts, in_dose))
            likely = max(math.hypot(1 / count, 1 / in_dose) for count in counts)
            yield _Choice(litres, dose, dose_step, (many, short, litres, likely))


def _gains(group, counts, steps, in_dose):
    """Return whether every part is off by less through the stock than weighed alone."""
    for (ingredient, amount), count in zip(group, counts, strict=True):
        alone = round(amount / steps[ingredient.name])
        if alone and math.hypot(1 / count, 1 / in_dose) >= 1 / alone:
            return False
    return True


def _dissolves(group, choice):
    """Return whether all parts dissolve with the margin that the rules ask."""
    strength = 1 / choice.dose * ML_PER_LITRE  # batches in a litre of stock
    shares = [_solubility_share(i, a * strength)[0] for i, a in group]
    solids = sum(amount * strength for _, amount in group)
    fits = solids <= _limit("solids in a stock")
    return fits and sum(shares) <= _limit("share of solubility")


def _best(group, volume, steps):
    """Return the best choice for parts that are to be together, or None."""
    for choice in sorted(_choices(group, volume, steps), key=lambda c: c.rank):
        if _dissolves(group, choice):
            return choice
    return None


def _grouped(traces, volume, steps):
    """Return the groups that keep and dissolve together, and notices on what is left."""
    groups, left = [], []
    for trace in traces:
        ingredient = trace[0]
        reason = keeps_apart(ingredient, ingredient)
        if not reason and _best((trace,), volume, steps) is None:
            reason = _why_not(trace, volume, steps)
        if reason:
            what = f"{ingredient.name} stays weighed, no stock of it: {reason}"
            left.append(Notice(what, "caution"))
            continue
        for place, group in enumerate(groups):
            kept = not any(keeps_apart(ingredient, other) for other, _ in group)
            if kept and _joins(group, trace, volume, steps):
                groups[place] = (*group, trace)
                break
        else:
            groups.append((trace,))
    return groups, left


def _joins(group, trace, volume, steps):
    """Return whether a trace can join a group without making it last too long."""
    alone, together = (_best(g, volume, steps) for g in (group, (*group, trace)))
    return together is not None and together.rank[0] <= alone.rank[0]


def _why_not(trace, volume, steps):
    """Return why no volume and dose serve one trace by itself."""
    if any(_choices((trace,), volume, steps)):
        cold, share = _limit("cold store"), _limit("share of solubility")
        return f"it would take more than {share:g} % of its solubility at {cold:g} °C"
    most = _limit("largest dose") * volume
    return (
        f"no round volume and dose up to {printed(most, 3)} mL weigh and measure it more "
        "closely than the balance does alone"
    )


def propose_stocks(traces, *, volume, steps, taken=()):
    """
    Return stocks for what is too little to be weighed for each batch.

    The smallest stock is taken in which every part weighs, and the dose measures, 100 of
    its steps; failing that 20. Parts are whole steps. All parts together stay within half
    of their solubility in a cold store, and a stock is proposed only where it brings every
    part more closely than the balance would alone.

    Parameters
    ----------
    traces : sequence of (Ingredient, float)
        Each solid with what one batch needs of it. [g]
    volume : float
        Volume of a batch. [L]
    steps : mapping of str to float
        Name to weighing step. [g]
    taken : iterable of str
        Names that a stock may not have.

    Returns
    -------
    stocks : tuple of TraceStock
        The stocks.
    notices : tuple of Notice
        What stays weighed and why.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> zinc, copper = salt("ZnSO4·7H2O"), salt("CuSO4·5H2O")
    >>> step = {"ZnSO4·7H2O": 0.01, "CuSO4·5H2O": 0.01}
    >>> (made,), left = propose_stocks([(zinc, 0.022), (copper, 0.008)], volume=100, steps=step)
    >>> made.volume, made.dose, [grams for _, grams in made.parts], left
    (0.5, 10.0, [1.1, 0.4], ())
    """
    groups, left = _grouped(traces, volume, steps)
    found, names = [], set(taken)
    for group in groups:
        number = 1 + len(found)
        while f"trace stock {number}" in names:
            number += 1
        names.add(f"trace stock {number}")
        choice = _best(group, volume, steps)
        found.append(_made(f"trace stock {number}", group, choice, steps))
    return tuple(found), tuple(left)


def _made(name, group, choice, steps):
    """Return the stock of a group, each part in whole steps."""
    batches = choice.volume * ML_PER_LITRE / choice.dose
    parts = {}
    for ingredient, amount in group:
        step = steps[ingredient.name]
        parts[ingredient] = round(round(amount * batches / step) * step, DIGITS)
    return TraceStock(
        stock(name, parts, volume=choice.volume),
        choice.dose,
        choice.dose_step,
        {i.name: steps[i.name] for i, _ in group},
        {i.name: amount for i, amount in group},
        tuple(dict.fromkeys(_told(name, group, choice))),
    )


def _told(name, group, choice):
    """Yield what to know of a stock: what to look for, what is not known of it."""
    for place, (ingredient, amount) in enumerate(group):
        yield from _solubility_share(ingredient, amount / choice.dose * ML_PER_LITRE)[1]
        for other, _ in group[place:]:
            row = _met("watch", ingredient, other)
            if row:
                yield Notice(f"{name}: {row['text']}", source_key=row["source_key"])
    batches, usual = choice.volume * ML_PER_LITRE / choice.dose, _limit("usual batches")
    if batches > usual:
        what = (
            f"{name}: {batches:g} batches is more than a season's use; a balance with a "
            "finer step would let you make less of it"
        )
        yield Notice(what, "caution", batches, usual, "ext-mixing")
    row = _rules("storage")[0]
    yield Notice(row["text"], source_key=row["source_key"])
