"""Many batches at once: the same weights, each time with other errors, as one stack.

Each input draws its numbers from a stream of its own, named after it. So the same seed
gives the same errors whatever else is in the batch, and two recipes can be compared. Of
each input every equal part of its range is drawn once [mckay-1979]: the counts scatter less
than those of plain draws, whose error is told.

A gram of a salt brings its forms times (1 + error of the balance) times (1 + error of its
content); a stock's part also times (1 + error of the dose) over (1 + error of its mark).
All is over (1 + error of the volume). Of a water, every ion moves with its strength and
with an error of its own; the alkalinity has its own error too, carbonate goes with it, and
unnamed ions take what that leaves of charge. A label keeps its charge in the same way.

Equation of one drawn batch [jcgm-100]::

    c = Σ g f (1 + balance)(1 + content) / (1 + volume) + tap (1 + strength)(1 + own)
"""

from collections.abc import Iterable
from dataclasses import dataclass
from statistics import NormalDist
from zlib import crc32

import numpy as np
from scipy.special import ndtri

from formulate.chemistry.acidity import ph_rule
from formulate.errors import shortened
from formulate.ingredients.ingredient import Ingredient
from formulate.recipes.doubtful_inputs import content_inputs, weighing_input
from formulate.recipes.practical import Weighing
from formulate.recipes.trace_stocks import measuring_step
from formulate.stoichiometry.charge import mean_charge
from formulate.stoichiometry.nutrients import form
from formulate.stoichiometry.solution import Solution

__all__ = ["Batch", "Measured", "batch_of", "deviations", "read_scoops", "stack_of"]

BELL = NormalDist().inv_cdf(0.975)  # standard deviations that hold 95 of 100
LEAST = 1e-15  # of a share, for a bell has no end
TITRATION_END = 4.3  # pH below which there is no alkalinity to tell carbon from
CARBON = "carbonate"


@dataclass(frozen=True)
class Measured:
    """
    One ingredient in a batch, stocks and blends taken apart.

    Attributes
    ----------
    ingredient : Ingredient
        The ingredient.
    amount : float
        What of it comes into the batch. [g]
    times : tuple of DoubtfulInput
        Errors that its amount goes with.
    over : tuple of DoubtfulInput
        Errors that its amount goes against.
    content : mapping of str to tuple
        Form to the errors of its content, as `content_inputs` returns them.
    """

    ingredient: Ingredient
    amount: float
    times: tuple
    over: tuple
    content: dict


@dataclass(frozen=True, eq=False)
class Batch:
    """
    What is measured out for a batch, and what of it is not known exactly.

    Attributes
    ----------
    volume : float
        Final made-up volume. [L]
    water : Water
        The water.
    measured : tuple of Measured
        What is in it.
    poured : tuple of (float, tuple of DoubtfulInput)
        Volume of each liquid and the errors it goes with. [L]
    of_batch : mapping of str to DoubtfulInput
        The errors of volume and water, ions by their form.
    not_varied : tuple of str
        What counts as exact, in words.
    """

    volume: float
    water: object
    measured: tuple
    poured: tuple
    of_batch: dict
    not_varied: tuple = ()

    @property
    def inputs(self):
        """Return every input that may deviate, each once."""
        found = [one for m in self.measured for one in (*m.times, *m.over)]
        moves = [m.content for m in self.measured]
        found += [one for move in moves for pairs in move.values() for one, _ in pairs]
        found += self.of_batch.values()
        return tuple(dict.fromkeys(one for one in found if one.low < one.high))


def read_scoops(thing, scoops, faults):
    """
    Return the names of what is measured by a scoop.

    Parameters
    ----------
    thing : Recipe or Weighing
        The batch.
    scoops : iterable of str
        Names.
    faults : Faults
        Where to note what is at fault.

    Returns
    -------
    tuple of str
        The names.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> read_scoops(recipe, ["KNO3"], Faults())
    ('KNO3',)
    """
    if isinstance(scoops, str) or not isinstance(scoops, Iterable):
        faults.add(f"scoops: {shortened(scoops)}: write a list of names")
        return ()
    solids = [i.name for i, _ in thing.amounts if not i.is_liquid]
    names = tuple(scoops)
    for name in names:
        if name not in solids:
            there = ", ".join(solids) or "none"
            faults.add(f"scoops: {shortened(name)} is no solid of the batch: {there}")
    return names


def batch_of(thing, sizes, scoops=()):
    """
    Return what is measured out for a recipe or a weighing, and what may deviate.

    Parameters
    ----------
    thing : Recipe or Weighing
        Of a recipe the ingredients' own steps count.
    sizes : Sizes
        What a caller told of inputs.
    scoops : tuple of str
        Names of what is measured by a scoop.

    Returns
    -------
    Batch
        The batch.

    Examples
    --------
    >>> from formulate.recipes.doubtful_inputs import Sizes
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
    >>> [one.name for one in batch_of(recipe, Sizes({})).inputs]
    ['balance: KNO3', 'purity: KNO3', 'volume', 'water alkalinity']
    """
    steps, parts_steps = _steps(thing)
    measured, poured = [], []
    for ingredient, amount in thing.amounts:
        step, scooped = steps.get(ingredient.name), ingredient.name in scoops
        facts = {"scooped": scooped}
        move = weighing_input(ingredient, amount, step, sizes, **facts)
        times = () if move is None else (move,)
        if ingredient.is_liquid:
            poured.append((ingredient.millilitres(amount) / 1000, times))
        inside = parts_steps.get(ingredient.name, {})
        measured += _apart(ingredient, amount, times, (), inside, sizes)
    told = _not_varied(thing, measured, steps, scoops)
    return Batch(
        thing.volume,
        thing.water,
        tuple(measured),
        tuple(poured),
        _of_batch(thing.water, sizes),
        told,
    )


def _steps(thing):
    """Return the step of each ingredient, and of the parts of each stock."""
    if isinstance(thing, Weighing):
        inside = {made.ingredient.name: made.steps for made in thing.stocks}
        return thing.steps, inside
    steps = {i.name: _own_step(i, amount) for i, amount in thing.amounts}
    return {name: step for name, step in steps.items() if step}, {}


def _own_step(ingredient, amount):
    """Return the step in which an ingredient is weighed or measured, if one is known."""
    if ingredient.weighing_step or ingredient.measured_in == "g":
        return ingredient.weighing_step
    return measuring_step(amount)


def _apart(ingredient, amount, times, over, steps, sizes):
    """Yield what an ingredient is made of, with the errors that each goes with."""
    if not ingredient.parts:
        content = content_inputs(ingredient, sizes)
        yield Measured(ingredient, amount, times, over, content)
        return
    is_stock = ingredient.measured_in == "mL"
    if is_stock:
        over = (*over, sizes.input(f"mark: {ingredient.name}"))
    for part, grams in ingredient.parts:
        moves = ()
        if is_stock:
            step = steps.get(part.name) or _own_step(part, grams)
            facts = {"where": ingredient.name}
            one = weighing_input(part, grams, step, sizes, **facts)
            moves = () if one is None else (one,)
        reaches = amount * grams / ingredient.made_of
        yield from _apart(part, reaches, (*times, *moves), over, {}, sizes)


def _of_batch(water, sizes):
    """Return the errors of volume and water."""
    found = {"volume": sizes.input("volume")}
    found["alkalinity"] = sizes.input("water alkalinity")  # of pure water too
    forms = {key: v for key, v in water.solution.forms.items() if v}
    if not forms:
        return found
    found["water"] = sizes.input("water")
    for key in forms:
        if key != CARBON:
            found[key] = sizes.input("water analysis", part=form(key).symbol)
    if forms.get(CARBON) and water.ph is not None and water.ph > TITRATION_END:
        found["pH"] = sizes.input("water pH")
    return found


def _not_varied(thing, measured, steps, scoops):
    """Return what counts as exact, in words."""
    pure = [m.ingredient.name for m in measured if not m.content]
    held = [i.name for i, _ in thing.amounts if i.name not in (*steps, *scoops)]
    blends = [i.name for i, _ in thing.amounts if i.parts and i.measured_in == "g"]
    liquids = [i.name for i, _ in thing.amounts if i.density and i.measured_in == "g"]
    found = []
    for names, words in (
        (pure, "content, for want of a range of its purity"),
        (held, "weight, for want of a step of its balance"),
        (blends, "how evenly it is mixed"),
        (liquids, "density"),
    ):
        if names:
            found.append(f"{words}: {', '.join(dict.fromkeys(names))}")
    tap = thing.water.solution
    if not any(tap.forms.values()):
        found.append("the ions of the water, which counts as pure")
    elif tap.forms.get(CARBON) and thing.water.ph is None:
        found.append("carbon dioxide of the water, whose pH was not told")
    return tuple(found)


# --- drawing ---------------------------------------------------------------------------


def deviations(inputs, draws, seed):
    """
    Return what each input deviates by, in every draw; the first is no draw but exact.

    Parameters
    ----------
    inputs : iterable of DoubtfulInput
        The inputs.
    draws : int
        How many batches are drawn. [-]
    seed : int
        Number that the draws follow from. [-]

    Returns
    -------
    mapping of DoubtfulInput to ndarray, shape (draws + 1,)
        Deviations, as a share or in units of pH. [-]

    Examples
    --------
    >>> from formulate.recipes.doubtful_inputs import DoubtfulInput
    >>> volume = DoubtfulInput("volume", "", -0.02, 0.02, "even")
    >>> moved = deviations([volume], 1000, 1)[volume]
    >>> float(moved[0]), bool(abs(moved).max() <= 0.02)
    (0.0, True)
    """
    return {one: np.concatenate([[0.0], _drawn(one, draws, seed)]) for one in inputs}


def _drawn(one, draws, seed):
    """Return the deviations of one input, evenly over its range, in an order by chance."""
    stream = np.random.default_rng([seed, crc32(f"{one.name}|{one.part}".encode())])
    share = (stream.permutation(draws) + stream.random(draws)) / draws
    if one.shape == "even":
        return one.low + (one.high - one.low) * share
    middle, half = (one.low + one.high) / 2, (one.high - one.low) / 2
    return middle + half / BELL * ndtri(np.maximum(share, LEAST))


def stack_of(batch, moved, draws):
    """
    Return the solutions that all drawn batches make, as one stack.

    Parameters
    ----------
    batch : Batch
        The batch.
    moved : mapping of DoubtfulInput to ndarray
        What `deviations` returns. [-]
    draws : int
        How many batches were drawn. [-]

    Returns
    -------
    Solution
        A stack; its first solution is the one without any error. [mmol/L]

    Examples
    --------
    >>> from formulate.recipes.doubtful_inputs import Sizes
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> batch = batch_of(solve(target({"K": 200}), ["KNO3"], volume=10), Sizes({}))
    >>> stack = stack_of(batch, deviations(batch.inputs, 1000, 1), 1000)
    >>> round(float(stack.mg_l("K")[0]), 3)
    200.0
    """
    made = batch.volume * _factor(batch.of_batch.get("volume"), moved)
    poured = sum(litres * _product(times, moved) for litres, times in batch.poured)
    share = np.maximum(1.0 - poured / made, 0.0)
    tap, of_tap = _tap(batch.water, batch.of_batch, moved)
    forms = {key: value * share for key, value in tap.items()}
    charge = of_tap * share
    for one in batch.measured:
        reaches = one.amount / made * _product(one.times, moved)
        reaches = reaches / _product(one.over, moved)
        brought, unnamed = _contents(one, moved)
        charge = charge + unnamed * reaches
        for key, value in brought.items():
            forms[key] = forms.get(key, 0.0) + value * reaches
    whole = np.zeros(draws + 1)
    stacked = {key: value + whole for key, value in forms.items()} or {CARBON: whole}
    return Solution(stacked, charge + whole, batch.water.solution.temperature)


def _factor(one, moved):
    """Return 1 + the deviation of an input, never below nothing."""
    return 1.0 if one not in moved else np.maximum(1.0 + moved[one], 0.0)


def _product(inputs, moved):
    """Return the product of the factors of some inputs."""
    found = 1.0
    for one in inputs:
        found = found * _factor(one, moved)
    return found


def _contents(measured, moved):
    """Return the forms and unnamed charge of a gram, as its content deviates."""
    ingredient, content = measured.ingredient, measured.content
    if not content or "" in content:
        whole = _product([one for one, _ in content.get("", ())], moved)
        forms = {key: value * whole for key, value in ingredient.forms.items()}
        return forms, ingredient.unassigned_charge * whole
    forms, unnamed = {}, ingredient.unassigned_charge
    for key, value in ingredient.forms.items():
        off = sum(w * moved[one] for one, w in content.get(key, ()) if one in moved)
        forms[key] = value * np.maximum(1.0 + off, 0.0)
        unnamed = unnamed - form(key).nominal_charge * (forms[key] - value)
    return forms, unnamed


def _tap(water, of_batch, moved):
    """Return the forms and the unnamed charge of the water as it may be."""
    held, alkalinity = water.solution.forms, water.solution.alkalinity()
    strength = _factor(of_batch.get("water"), moved)
    floor = ph_rule("least alkalinity error") / (ph_rule("alkalinity error") / 100)
    off = moved.get(of_batch.get("alkalinity"), 0.0) * max(abs(alkalinity), floor)
    forms = {
        key: value * strength * _factor(of_batch.get(key), moved)
        for key, value in held.items()
        if key != CARBON
    }
    if CARBON in held:
        grown = 1.0 if alkalinity <= 0 else np.maximum(1.0 + off / alkalinity, 0.0)
        forms[CARBON] = held[CARBON] * strength * grown * _of_ph(water, of_batch, moved)
    named = sum(form(k).nominal_charge * v for k, v in forms.items() if k != CARBON)
    return forms, strength * (alkalinity + off) - named


def _of_ph(water, of_batch, moved):
    """Return by what the carbon of a water changes if its pH was read wrongly."""
    off = moved.get(of_batch.get("pH"))
    if off is None:
        return 1.0
    as_read = mean_charge(CARBON, water.ph)
    return as_read / mean_charge(CARBON, np.clip(water.ph + off, TITRATION_END, 14.0))
