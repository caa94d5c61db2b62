"""The best way through all sets of ingredients, from the empty one to the full one.

An order is a path: each step adds one ingredient to a set. What a set is worth does not
depend on how it was reached, so the best way to a set is the best way to one of the sets
before it, and one more step (Bellman). Paths are compared by

    1. the values of the sets they pass, largest first, then second largest, ... (leximax)
    2. the sum of a second cost of these sets
    3. pairs that stand against their class, then pairs that stand against the order as written
    4. the path itself

Each of these keeps its order when both paths go on with the same steps, so nothing that
is dropped could have become the best. All costs are whole numbers: there is no rounding.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

__all__ = ["Paths", "all_sets"]


def all_sets(count):
    """
    Return which of some ingredients are in each of their sets.

    Parameters
    ----------
    count : int
        Number of ingredients n. [-]

    Returns
    -------
    array, shape (2**n, n)
        Row s: 1 where bit j of s is set. [-]

    Examples
    --------
    >>> all_sets(2).tolist()
    [[0, 0], [1, 0], [0, 1], [1, 1]]
    """
    return (np.arange(2**count)[:, None] >> np.arange(count)) & 1


@dataclass(frozen=True, eq=False)
class Paths:
    """
    What every set costs, and with it every order.

    Attributes
    ----------
    values : array of int, shape (2**n,)
        What counts first: the largest counts most. [-]
    seconds : array of int, shape (2**n,)
        What counts next: its sum. [-]
    classes : tuple of int
        Place of each ingredient by habit; lower ones belong first. [-]
    """

    values: np.ndarray
    seconds: np.ndarray
    classes: tuple

    @property
    def count(self):
        """Return the number of ingredients. [-]"""
        return len(self.classes)

    def sets_of(self, order):
        """
        Return the sets that an order passes, the empty and the full one included.

        Parameters
        ----------
        order : iterable of int
            Place of each ingredient as written. [-]

        Returns
        -------
        array of int
            One set more than ingredients. [-]

        Examples
        --------
        >>> Paths(np.zeros(4), np.zeros(4), (0, 0)).sets_of([1, 0]).tolist()
        [0, 2, 3]
        """
        return np.concatenate([[0], np.cumsum(1 << np.asarray(order, int))])

    def cost(self, order):
        """
        Return what an order costs, to be compared part by part.

        Parameters
        ----------
        order : iterable of int
            Place of each ingredient as written. [-]

        Returns
        -------
        tuple
            Values of its sets, the largest first; sum of the second costs; pairs against
            their class; pairs against the order as written. [-]

        Examples
        --------
        >>> paths = Paths(np.array([0, 5, 2, 3]), np.zeros(4, int), (0, 0))
        >>> paths.cost([1, 0])
        ((3, 2, 0), 0, 0, 1)
        """
        order, sets = list(order), self.sets_of(order)
        values = tuple(sorted(self.values[sets].tolist(), reverse=True))
        against = [
            (self.classes[i] > self.classes[j], i > j)
            for n, j in enumerate(order)
            for i in order[:n]
        ]
        by_class, as_written = (
            (sum(pairs) for pairs in zip(*against, strict=True))
            if (against)
            else (0, 0)
        )
        return values, int(self.seconds[sets].sum()), by_class, as_written

    def best(self):
        """
        Return the order that costs least.

        Returns
        -------
        tuple of int
            Place of each ingredient as written, in the order in which they go in. [-]

        Examples
        --------
        >>> Paths(np.array([0, 5, 2, 3]), np.zeros(4, int), (0, 0)).best()
        (1, 0)
        """
        return self._walk(1)

    def worst(self):
        """
        Return an order whose values cost most.

        Returns
        -------
        tuple of int
            As in `best`. [-]

        Examples
        --------
        >>> Paths(np.array([0, 5, 2, 3]), np.zeros(4, int), (0, 0)).worst()
        (0, 1)
        """
        return self._walk(-1)

    @cached_property
    def _layers(self):
        """Return the sets of each size, in rising order."""
        sizes = all_sets(self.count).sum(axis=1)
        return [np.flatnonzero(sizes == size) for size in range(self.count + 1)]

    def _walk(self, sign):
        """Return the path whose cost times the sign is least."""
        passed = self.values[:1].reshape(1, 1)  # values of the best path, largest first
        costs, paths = np.zeros((1, 3), int), np.zeros((1, 0), int)
        for before, layer in zip(self._layers, self._layers[1:], strict=False):
            last = _members(layer, self.count)
            places = np.searchsorted(before, layer[:, None] ^ (1 << last))
            added = np.stack(
                [np.zeros_like(last), *self._against(layer, last)], axis=-1
            )
            keys = [
                sign * _ranks(passed)[places],
                *np.moveaxis(costs[places] + added, -1, 0),
                _ranks(paths)[places],
            ]
            chosen = _least(keys)
            rows = np.arange(layer.size)
            from_, step = places[rows, chosen], last[rows, chosen]
            own = self.values[layer, None]
            passed = -np.sort(-np.hstack([passed[from_], own]), axis=1)
            costs = costs[from_] + added[rows, chosen]
            costs[:, 0] += self.seconds[layer]
            paths = np.hstack([paths[from_], step[:, None]])
        return tuple(paths[0].tolist())

    def _against(self, layer, last):
        """Return how many of the others stand against class, and against the writing."""
        inside = all_sets(self.count)[layer]
        classes = np.array(self.classes)
        higher = classes[None, None, :] > classes[last][..., None]
        later = np.arange(self.count)[None, None, :] > last[..., None]
        return [(inside[:, None, :] * some).sum(axis=2) for some in (higher, later)]


def _members(layer, count):
    """Return the members of sets of one size, a row for each set."""
    inside = all_sets(count)[layer]
    return np.nonzero(inside)[1].reshape(layer.size, -1)


def _ranks(rows):
    """Return the rank of each row among all, by its first entry, then its second, ..."""
    if not rows.shape[1]:
        return np.zeros(len(rows), int)
    return np.unique(rows, axis=0, return_inverse=True)[1].reshape(-1)


def _least(keys):
    """Return in each row the place of the least by the first key, then the second, ..."""
    left = np.ones(keys[0].shape, bool)
    for key in keys:
        masked = np.where(left, key, np.iinfo(int).max)
        left &= masked == masked.min(axis=1, keepdims=True)
    return left.argmax(axis=1)
