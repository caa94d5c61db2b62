"""The log of one order of mixing: what each step is, threatens and leaves behind.

A part of the water first, each ingredient in turn, then topping up. Every step is seen in
two ways: as if nothing fell out yet (metastable), and with all that would have fallen out
in the end (equilibrium). Both depend on what is in, not on the way there, so all steps are
one stack.
"""

from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

import numpy as np

from formulate.chemistry.activity import BLEND
from formulate.chemistry.chelates import chelate_notices
from formulate.chemistry.conductivity import ec
from formulate.chemistry.precipitation import precipitate
from formulate.chemistry.risks import RISKS
from formulate.chemistry.solids import mineral
from formulate.mixing.batch import Batch
from formulate.mixing.nearness import Nearness, level_of, mixing_rule, nearness
from formulate.notices import Notice, gravest_first
from formulate.working import Shown, printed

__all__ = ["TOPPED", "WATER", "MixingLog", "MixingStep", "shares_and_water"]

WATER, TOPPED = "water", "topped up"
PLACES, ROUNDS = 33, 3  # volumes tried at once, and how often more finely
LEAST_EC = 0.005  # mS/cm
DUST = 1e-3  # mg/L of the final solution: less is nothing


@dataclass(frozen=True)
class MixingStep:
    """
    The batch after one step.

    Attributes
    ----------
    number : int
        0 for the water alone, then 1, 2, ... [-]
    name : str
        What went in: "water", an ingredient, or "topped up".
    volume : float
        Volume now. [L]
    ph : float
        The pH, as if nothing had fallen out. [-]
    ec : float
        The EC at 25 °C, likewise. [mS/cm]
    ionic_strength : float
        Ionic strength, likewise. [mmol/L]
    indices : mapping of str to float
        Solid that matters to its saturation index, likewise. [-]
    nearest : str
        The solid with the largest index of those of which a milligram in a litre could
        form, or "".
    index : float
        Its index; minus infinity without a solid. [-]
    word : str
        The gravest word of all solids: "none", "watch", "likely" or "certain".
    settled_ph : float
        The pH once all has fallen out that would. [-]
    settled_ec : float
        The EC at 25 °C, likewise. [mS/cm]
    solids : mapping of str to float
        Solid to its mass then, per litre of the final solution. [mg/L]
    locked : mapping of str to float
        Nutrient to what the solids hold of it, per litre of the final solution. [mg/L]
    """

    number: int
    name: str
    volume: float
    ph: float
    ec: float
    ionic_strength: float
    indices: MappingProxyType
    nearest: str
    index: float
    word: str
    settled_ph: float
    settled_ec: float
    solids: MappingProxyType
    locked: MappingProxyType


@dataclass(frozen=True, eq=False)
class MixingLog(Shown):
    """
    One order of mixing, step by step.

    Attributes
    ----------
    batch : Batch
        What is mixed.
    order : tuple of str
        Names of the ingredients in the order in which they go in.
    start_fraction : float
        Share of the water that is in first. [-]
    near : Nearness
        Every step as if nothing fell out: the water, each ingredient, topped up.
    """

    batch: Batch
    order: tuple
    start_fraction: float
    near: Nearness

    @property
    def activity_model(self):
        """Return the model of activity coefficients, the same for every step."""
        return self.near.state.activity_model

    @cached_property
    def volumes(self):
        """Return the volume after each step. [L]"""
        shares, water = shares_and_water(self.batch, self.order, self.start_fraction)
        return self.batch.volumes(shares, water)

    @cached_property
    def precipitation(self):
        """Return every step with all fallen out that would."""
        return precipitate(self.near.state, self.near.judged)

    @cached_property
    def steps(self):
        """Return every step: the water, each ingredient, topped up."""
        return tuple(self._step(place) for place in range(len(self.order) + 2))

    @cached_property
    def _readings(self):
        """Return pH and EC of every step, before and after falling out."""
        before, after = self.near.state, self.precipitation.after
        settled = (before.ph, ec(before))
        later = settled if after is before else (after.ph, ec(after))
        return settled + later

    def _step(self, place):
        """Return one step."""
        near, found = self.near, self.precipitation
        per_final = self.volumes[place] / self.batch.volume
        solids = {
            name: float(mineral(name).molar_mass * amount[place] * per_final)
            for name, amount in found.amounts.items()
        }
        locked = {key: float(v[place] * per_final) for key, v in found.lost.items()}
        indices, counting = (
            {k: float(v[place]) for k, v in of.items() if np.isfinite(v[place])}
            for of in (near.indices, near.counting)
        )
        level = max((level_of(k, v) for k, v in counting.items()), default=0)
        before_ph, before_ec, after_ph, after_ec = (v[place] for v in self._readings)
        return MixingStep(
            place,
            (WATER, *self.order, TOPPED)[place],
            float(self.volumes[place]),
            float(before_ph),
            float(before_ec),
            float(near.state.ionic_strength[place]),
            MappingProxyType(indices),
            near.nearest(place),
            float(near.largest[place]),
            RISKS[level],
            float(after_ph),
            float(after_ec),
            _above(solids),
            _above(locked),
        )

    @property
    def worst(self):
        """Return the step at which a solid is nearest, topping up left out."""
        return max(self.steps[:-1], key=lambda step: step.index)

    @property
    def word(self):
        """Return the gravest word of all steps."""
        return RISKS[max(RISKS.index(step.word) for step in self.steps)]

    @cached_property
    def fallen(self):
        """Return solid to the most there is of it at any step, in the end. [mg/L]"""
        return _most(step.solids for step in self.steps)

    @cached_property
    def clears_at(self):
        """
        Return at what volume the full mixture is clear again as it is topped up.

        Nothing if it is clear before topping up; infinity if it never is, however much of
        the same water is added. Solids for which the water alone is above saturation are
        left out. [L]
        """
        counting = self.near.counting
        of = [name for name, index in counting.items() if index[0] <= 0]
        if all(counting[name][-2] <= 0 for name in of):
            return None
        return _clearing(self.batch, self.start_fraction, self.activity_model, of)

    @property
    def left_at_the_end(self):
        """Return solid to what is left of it once topped up, in the end. [mg/L]"""
        return self.steps[-1].solids

    @cached_property
    def notices(self):
        """Return what to know, the gravest first."""
        found = [*self._of_solids(), *self._of_ph()]
        if self.near.state.strength.max() > BLEND.start:
            what = "a strong mixture: indices may be off by 0.3, by model of activity"
            found.append(Notice(what, "note", source_key="gypsum-nitrate-memory"))
        return gravest_first(found)

    def _of_solids(self):
        """Yield what falls out on the way, and whether it goes again."""
        left, water = self.left_at_the_end, self.steps[0]
        for name, most in self.fallen.items():
            if most < mixing_rule("least that counts"):
                continue
            step = max(self.steps, key=lambda s: s.indices.get(name, -np.inf))
            level = level_of(name, step.indices.get(name, -np.inf))
            stays = left.get(name, 0.0)
            own = " (the water alone is above it already)" * (name in water.solids)
            then = f"{printed(stays, 3)} of it stay" if stays else "gone once topped up"
            what = (
                f"{name} {RISKS[level]} after {step.name}: index {step.indices[name]:+.2f}{own}; "
                f"up to {printed(most, 3)} mg/L in the end, {then}"
            )
            severity = ("note", "note", "caution", "serious")[
                level if stays else min(level, 2)
            ]
            yield Notice(what, severity, step.indices[name], 0.0, "definition")

    def _of_ph(self):
        """Yield chelates and ammonia that a step on the way puts at risk."""
        excess, state = self.near.excursion, self.near.state
        place = int(excess[:-1].argmax())
        if not excess[place]:
            return
        ph, name = float(state.ph[place]), self.steps[place].name
        told = [n.what for n in chelate_notices(state.chelates, ph)]
        limit = mixing_rule("pH from which ammonia is lost")
        if ph > limit and "ammonium" in state.solution.forms:
            told.append(f"above pH {limit:g} ammonia gas leaves")
        for what in told:
            yield Notice(
                f"after {name}: {what}", "caution", ph, None, "chelate-literature"
            )

    def rows(self):
        """
        Return what is shown of each step.

        Returns
        -------
        tuple of tuple of str
            Step, what goes in, L, pH, EC, ionic strength, nearest solid with its index,
            word, pH and EC in the end, what has fallen out by then, what it locks.

        Examples
        --------
        >>> from formulate.mixing.sequence import simulate_mixing
        >>> log = simulate_mixing({"KNO3": 5.0, "CaCl2": 5.0}, volume=10)
        >>> [row[1] for row in log.rows()]
        ['water', 'KNO3', 'CaCl2', 'topped up']
        """
        return tuple(
            (
                str(step.number),
                step.name,
                printed(step.volume, 3),
                f"{step.ph:.2f}",
                _ec(step.ec),
                printed(step.ionic_strength, 3),
                f"{step.nearest} {step.index:+.2f}" if step.nearest else "",
                step.word,
                f"{step.settled_ph:.2f}",
                _ec(step.settled_ec),
                _listed(step.solids) or "nothing",
                _listed(step.locked) or "nothing",
            )
            for step in self.steps
        )

    def to_frame(self):
        """
        Return the steps as a table.

        Returns
        -------
        pandas.DataFrame
            One row per step, the index of each solid in a column of its name. [-]

        Examples
        --------
        >>> from formulate.mixing.sequence import simulate_mixing
        >>> simulate_mixing({"KNO3": 5.0}, volume=10).to_frame()["name"].tolist()
        ['water', 'KNO3', 'topped up']
        """
        import pandas

        plain = ("name", "volume", "ph", "ec", "ionic_strength", "word")
        plain = (*plain, "settled_ph", "settled_ec")
        rows = [
            {
                **{key: getattr(step, key) for key in plain},
                **step.indices,
                "fallen": sum(step.solids.values()),
            }
            for step in self.steps
        ]
        return pandas.DataFrame(rows)

    @property
    def summary(self):
        """Return in a sentence or two whether the order stays clear."""
        names = ", ".join(self.order)
        head = f"{printed(100 * self.start_fraction, 3)} % of the water, then {names}: "
        if self.word == "none":
            return head + "nothing is likely to fall out at any step"
        worst = max(self.steps, key=lambda s: (RISKS.index(s.word), s.index))
        told = f"{worst.nearest} {worst.word} after {worst.name} ({worst.index:+.2f})"
        at = self.clears_at
        if at is None:
            return head + told
        if np.isinf(at):
            return head + f"{told}; no amount of this water clears it"
        when = "on topping up" if at <= self.batch.volume else "only beyond the batch"
        return (
            head + f"{told}; it would clear {when}, at {printed(at, 3)} L, given time"
        )

    def __str__(self):
        lines = [
            self.summary,
            "  after            L     pH   EC  nearest solid     in the end",
        ]
        for row in self.rows():
            end = "" if row[10] == "nothing" else f"{row[10]}, pH {row[8]}"
            numbers = f"{row[2]:>6} {row[3]:>6} {row[4]:>5}"
            lines.append(f"  {row[1][:14]:<14} {numbers}  {row[6]:<17} {end}".rstrip())
        return "\n".join([*lines, *map(str, self.notices)])


def _ec(value):
    """Return an EC as it is printed; pure water has none that a meter shows."""
    return printed(value, 3) if value >= LEAST_EC else "0.00"


def _above(amounts):
    """Return what of some amounts is more than dust, the most first."""
    kept = {k: v for k, v in amounts.items() if v > DUST}
    return MappingProxyType(dict(sorted(kept.items(), key=lambda pair: -pair[1])))


def _most(many):
    """Return the largest of each name over several mappings."""
    found = {}
    for some in many:
        for name, value in some.items():
            found[name] = max(found.get(name, 0.0), value)
    return MappingProxyType(found)


def _listed(amounts):
    """Return amounts as they are printed, in mg per litre of the final solution."""
    return ", ".join(f"{name} {printed(v, 3)} mg/L" for name, v in amounts.items())


def shares_and_water(batch, order, share):
    """
    Return what is in at each step of an order, and how much water.

    Parameters
    ----------
    batch : Batch
        What is mixed.
    order : sequence of str
        Names in the order in which they go in.
    share : float
        Share of the water that is in first. [-]

    Returns
    -------
    shares : array, shape (n + 2, n)
        How much of each ingredient is in: the water, each step, topped up. [-]
    water : array, shape (n + 2,)
        Water in each. [L]

    Examples
    --------
    >>> from formulate.mixing.batch import batch_of
    >>> batch = batch_of({"KNO3": 5.0}, volume=10)
    >>> shares_and_water(batch, ["KNO3"], 0.75)[1].tolist()
    [7.5, 7.5, 10.0]
    """
    places, count = [batch.names.index(name) for name in order], len(order)
    shares = np.zeros((count + 2, count))
    for step, place in enumerate(places, 1):
        shares[step:, place] = 1.0
    water = np.full(count + 2, share * batch.water_litres)
    water[-1] = batch.water_litres
    return shares, water


def _clearing(batch, share, activity, solids):
    """Return at what volume the full mixture is clear of solids; infinity if never. [L]"""
    low = share * batch.water_litres
    high = mixing_rule("farthest dilution") * batch.water_litres
    ones = np.ones((PLACES, len(batch.amounts)))
    for _ in range(ROUNDS):
        water = np.geomspace(low, high, PLACES)
        found = nearness(batch.mixtures(ones, water), activity=activity).counting
        cloudy = np.any([found[name] > 0 for name in solids], axis=0)
        if cloudy[-1]:
            return np.inf
        last = int(np.flatnonzero(cloudy).max(initial=0))
        low, high = water[last], water[last + 1]
    return float(high + batch.poured.sum())
