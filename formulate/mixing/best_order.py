"""The order in which the ingredients of a batch stay farthest from falling out, proven.

All sets of the ingredients in the first share of the water are one stack; the best order
is the best path through them (`order_paths`). Compared are the largest indices of solids
that matter, then how far chelates and ammonia leave their pH, then habit: silicate first,
acids next, calcium last; then the order as written.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from formulate.errors import Faults, InputError
from formulate.mixing.batch import Batch, batch_of, check_share
from formulate.mixing.mixing_classes import class_row, trade_order
from formulate.mixing.nearness import (
    DIGITS,
    Nearness,
    graded_words,
    mixing_rule,
    nearness,
)
from formulate.mixing.order_paths import Paths, all_sets
from formulate.mixing.order_words import SAME, reasons
from formulate.mixing.sequence import checked_order, simulate_mixing
from formulate.notices import Notice, gravest_first
from formulate.working import Shown

__all__ = ["BestOrder", "best_order"]


@dataclass(frozen=True, eq=False)
class BestOrder(Shown):
    """
    The best order of a batch, against all others.

    Attributes
    ----------
    batch : Batch
        What is mixed.
    start_fraction : float
        Share of the water that is in first. [-]
    near : Nearness
        Every set of the ingredients in that water; set s holds ingredient j if bit j of s
        is set.
    """

    batch: Batch
    start_fraction: float
    near: Nearness

    @cached_property
    def paths(self):
        """Return what every set and every order costs."""
        whole = [
            np.round(10**DIGITS * values).astype(np.int64)
            for values in (self.near.graded, self.near.excursion)
        ]
        classes = [int(class_row(i)["habit_place"]) for i in self.batch.ingredients]
        return Paths(*whole, tuple(classes))

    @cached_property
    def order(self):
        """Return the names of the ingredients in the best order."""
        return self._names(self.paths.best())

    @cached_property
    def worst_order(self):
        """Return the names in an order whose indices are the worst."""
        return self._names(self.paths.worst())

    @property
    def trade_order(self):
        """Return the names in the order of the trade's rule."""
        return trade_order(self.batch)

    @cached_property
    def log(self):
        """Return the best order step by step."""
        return self.log_of(self.order)

    def log_of(self, order):
        """
        Return another order of the same batch step by step.

        Parameters
        ----------
        order : iterable of str
            Names of all ingredients.

        Returns
        -------
        MixingLog
            The log, with the same share of water and the same model.

        Examples
        --------
        >>> found = best_order({"KNO3": 5.0, "CaCl2": 5.0}, volume=10)
        >>> found.log_of(["CaCl2", "KNO3"]).steps[1].name
        'CaCl2'
        """
        given = {"start_fraction": self.start_fraction}
        given["activity"] = self.near.state.activity_model
        return simulate_mixing(self.batch, order, **given)

    def grades(self, order):
        """
        Return the largest index after each step of an order, the largest of all first.

        Parameters
        ----------
        order : iterable of str
            Names of all ingredients.

        Returns
        -------
        tuple of float
            Indices, floored; that of the water and of everything in it among them. [-]

        Examples
        --------
        >>> best_order({"KNO3": 5.0, "CaCl2": 5.0}, volume=10).grades(["KNO3", "CaCl2"])
        (-1.0, -1.0, -1.0)
        """
        return tuple(v / 10**DIGITS for v in self.paths.cost(self.places(order))[0])

    def places(self, order):
        """
        Return the places of an order's ingredients as written.

        Parameters
        ----------
        order : iterable of str
            Names of all ingredients.

        Returns
        -------
        tuple of int
            Places, counted from 0. [-]

        Examples
        --------
        >>> best_order({"KNO3": 5.0, "CaCl2": 5.0}, volume=10).places(["CaCl2", "KNO3"])
        (1, 0)
        """
        names = self.batch.names
        return tuple(names.index(name) for name in checked_order(self.batch, order))

    def ahead(self, other, order=None):
        """
        Return where an order first is better than another, and by how much.

        Parameters
        ----------
        other : iterable of str
            Names in the other order.
        order : iterable of str or None
            Names in the order; the best one if None.

        Returns
        -------
        rank : int
            1 if their worst steps differ, 2 if their second worst do, ...; 0 if none. [-]
        index : float
            Index of that step in the order. [-]
        other_index : float
            Index of that step in the other. [-]
        solid : str
            The solid that is nearest there in the other.

        Examples
        --------
        >>> found = best_order({"CaCl2": 50.0, "MgSO4": 50.0, "KNO3": 5.0}, volume=10)
        >>> found.ahead(found.order)[0]
        0
        """
        own, its = self.grades(order or self.order), self.grades(other)
        for rank, (mine, theirs) in enumerate(zip(own, its, strict=True), 1):
            if abs(theirs - mine) >= SAME:
                sets = self.paths.sets_of(self.places(other))
                there = sets[np.abs(self.near.graded[sets] - theirs).argmin()]
                return rank, mine, theirs, self.near.nearest(int(there))
        return 0, 0.0, 0.0, ""

    @property
    def trade_is_best(self):
        """Return whether the trade's order is as good as the best, as far as it matters."""
        return not self.ahead(self.trade_order)[0]

    @property
    def indifferent(self):
        """Return whether no order is better than another, as far as it matters."""
        return not self.ahead(self.worst_order)[0]

    @cached_property
    def notices(self):
        """Return what to know: what the best order cannot avoid, and the trade's rule."""
        found = list(self.log.notices)
        found += self._silicate()
        if not self.trade_is_best:
            what = f"the trade's order is not the best here: {self.against(self.trade_order)}"
            found.append(Notice(what, "note", source_key="ext-mixing"))
        return gravest_first(found)

    def _silicate(self):
        """Yield that silicate may go first by habit, where the best order has it later."""
        names = [
            i.name
            for i in self.batch.ingredients
            if class_row(i)["class"] == "silicate"
        ]
        for name in names:
            first = (name, *(other for other in self.order if other != name))
            if self.order[0] != name and max(self.grades(first)) <= 0:
                what = (
                    f"{name} may as well go first, as habit has it: nothing is then above "
                    f"saturation at any step (at worst {graded_words(max(self.grades(first)))}); "
                    "later, thin it well before it meets the rest"
                )
                yield Notice(what, "note", source_key="ext-mixing")

    def against(self, other):
        """
        Return by how much the best order beats another, in words.

        Parameters
        ----------
        other : iterable of str
            Names in the other order.

        Returns
        -------
        str
            A phrase.

        Examples
        --------
        >>> found = best_order({"CaCl2": 5.0, "KNO3": 5.0}, volume=10)
        >>> found.against(["CaCl2", "KNO3"])
        'no step is nearer to a solid than in the best order'
        """
        rank, mine, theirs, solid = self.ahead(other)
        if not rank:
            return "no step is nearer to a solid than in the best order"
        which = {1: "worst", 2: "second worst", 3: "third worst"}.get(
            rank, f"{rank}th worst"
        )
        return f"its {which} step has {solid} at {graded_words(theirs)}, that of the best order {graded_words(mine)}"

    @property
    def reasons(self):
        """Return why each ingredient stands where it does, one sentence each."""
        return reasons(self)

    def rows(self):
        """
        Return what is shown: place, ingredient, why there.

        Returns
        -------
        tuple of tuple of str
            One row per ingredient.

        Examples
        --------
        >>> best_order({"CaCl2": 5.0}, volume=10).rows()
        (('1', 'CaCl2', 'it is the only one'),)
        """
        pairs = zip(self.order, self.reasons, strict=True)
        return tuple((str(n), name, why) for n, (name, why) in enumerate(pairs, 1))

    def __str__(self):
        lines = [f"{n}. {name}: {why}" for n, name, why in self.rows()]
        head = f"best order in {100 * self.start_fraction:.3g} % of the water, proven"
        if self.indifferent:
            return "\n".join([f"{head}; no order is worse", *lines, *self._told()])
        ends = [
            f"the trade's order ({', '.join(self.trade_order)}): {self.against(self.trade_order)}",
            f"the worst ({', '.join(self.worst_order)}): {self.against(self.worst_order)}",
        ]
        return "\n".join([head, *lines, *ends, *self._told()])

    def _told(self):
        """Return the notices; the trade's rule is told already."""
        return [str(notice) for notice in (*self.log.notices, *self._silicate())]

    def _names(self, places):
        return tuple(self.batch.names[place] for place in places)


def best_order(
    recipe,
    *,
    start_fraction=None,
    volume=None,
    water=None,
    temperature=None,
    activity=None,
):
    """
    Return the order in which a batch stays farthest from falling out.

    Orders are compared by their worst step, then the second worst, and so on: by the
    largest saturation index of the solids that matter, none counted below -1. What is
    equal is told apart by how far chelates and ammonia leave their pH, then by habit, then
    by the order as written. Every order is covered; there is no better one.

    Parameters
    ----------
    recipe : Recipe, Weighing, Batch or mapping
        What is mixed, of at most 14 ingredients; a mapping of ingredient to amount needs a
        volume. [g]
    start_fraction : float or None
        Share of the final water that is in first; 0.75 if None. [-]
    volume : float or str or None
        Final volume of a mapping. [L]
    water : Water, str or None
        The water of a mapping; pure water if None.
    temperature : float or None
        Temperature of the water; its own if None. [°C]
    activity : str or None
        Model of the activity coefficients; None means "blend".

    Returns
    -------
    BestOrder
        The order with reasons, its log, and how it compares.

    Raises
    ------
    InputError
        With every fault of the batch; if it has more than 14 ingredients.

    Examples
    --------
    >>> bucket = {"Ca(NO3)2·4H2O": 40.0, "KNO3": 20.0, "MgSO4·7H2O": 25.0}
    >>> best_order(bucket, volume=20, start_fraction=0.25).order
    ('KNO3', 'MgSO4·7H2O', 'Ca(NO3)2·4H2O')
    """
    faults, batch = Faults("best_order"), None
    given = {"volume": volume, "water": water, "temperature": temperature}
    with faults.collecting():
        batch = batch_of(recipe, **given)
        count, most = len(batch.amounts), mixing_rule("most ingredients")
        if count > most:
            raise InputError(
                f"{count} ingredients; all orders of up to {most:g} can be compared. Take "
                "the trace elements as one stock"
            )
    with faults.collecting():
        if start_fraction is None:
            start_fraction = mixing_rule("water first")
        start_fraction = check_share(start_fraction)
    faults.raise_if_any()
    water_first = start_fraction * batch.water_litres
    mixtures = batch.mixtures(all_sets(count), water_first)
    near = nearness(mixtures, activity=activity, strict=False)
    return BestOrder(batch, start_fraction, near)
