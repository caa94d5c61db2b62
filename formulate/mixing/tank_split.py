"""The best of all ways to put ingredients into tanks, by complete enumeration.

What a tank is worth depends on what is in it, so all tanks there can be are the sets of one
table, and a split is a choice of sets that share nothing and leave nothing out. Splits are
compared by

    1. how near the nearest solid of each tank is, the worst tank first (leximax)
    2. the sum of what the rules hold against the company in each tank
    3. how much of its solubility each tank uses, the fullest first (leximax)
    4. ingredients that are not where habit puts them
    5. the split itself, as written

The first tank is the one that habit gives the calcium; the others have no rank.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

__all__ = ["Splits"]

BASE = 1 << 14  # above any graded value


@dataclass(frozen=True, eq=False)
class Splits:
    """
    What every set of ingredients costs as a tank.

    Attributes
    ----------
    nearness : array of int, shape (2**n,)
        Grade of the nearest solid, from 0. [-]
    against : array of int, shape (2**n,)
        What the rules hold against the company, from 0. [-]
    use : array of int, shape (2**n,)
        Grade of the use of solubility, from 0. [-]
    first : tuple of bool
        Whether habit puts each ingredient into the first tank, and
    others : tuple of bool
        whether it puts it into one of the others; neither means either.
    """

    nearness: np.ndarray
    against: np.ndarray
    use: np.ndarray
    first: tuple
    others: tuple

    def cost(self, sets):
        """
        Return what a split costs, to be compared part by part.

        Parameters
        ----------
        sets : sequence of int
            The set of each tank: bit j for ingredient j. [-]

        Returns
        -------
        tuple
            As at the top of this file, the split itself left out. [-]

        Examples
        --------
        >>> zero = np.zeros(4, int)
        >>> Splits(np.array([0, 0, 0, 9]), zero, zero, (1, 0), (0, 1)).cost([1, 2])
        ((0, 0), 0, (0, 0), 0)
        """
        sets = list(sets)
        ranked = [
            tuple(sorted((int(of[s]) for s in sets), reverse=True))
            for of in (self.nearness, self.use)
        ]
        against = int(sum(self.against[s] for s in sets))
        return ranked[0], against, ranked[1], int(self._habit(np.array(sets[0])))

    def best(self, tanks):
        """
        Return the split that costs least.

        Parameters
        ----------
        tanks : int
            Number of tanks: 1, 2 or 3; some may stay empty. [-]

        Returns
        -------
        tuple of int
            The set of each tank. [-]

        Examples
        --------
        >>> zero = np.zeros(4, int)
        >>> Splits(np.array([0, 0, 0, 9]), zero, zero, (1, 0), (0, 1)).best(2)
        (1, 2)
        """
        return self.ranked(tanks, 1)[0]

    def ranked(self, tanks, most):
        """
        Return the splits that cost least, the best first.

        Parameters
        ----------
        tanks : int
            Number of tanks: 1, 2 or 3; some may stay empty. [-]
        most : int
            How many of them. [-]

        Returns
        -------
        list of tuple of int
            The set of each tank. [-]

        Examples
        --------
        >>> zero = np.zeros(4, int)
        >>> Splits(np.array([0, 0, 0, 9]), zero, zero, (1, 0), (0, 1)).ranked(2, 2)
        [(1, 2), (2, 1)]
        """
        sets = self._all(tanks)
        keys = [
            _leximax([self.nearness[s] for s in sets]),
            sum(self.against[s] for s in sets),
            _leximax([self.use[s] for s in sets]),
            self._habit(sets[0]),
        ]
        left = np.arange(sets[0].size)
        for key in keys:  # nothing that is dropped is among the first so many
            edge = np.partition(key[left], min(most, left.size) - 1)[
                min(most, left.size) - 1
            ]
            if np.count_nonzero(key[left] <= edge) == left.size:
                continue
            left = left[key[left] <= edge]
            break
        order = np.lexsort([left, *(key[left] for key in reversed(keys))])
        return [tuple(int(s[left[n]]) for s in sets) for n in order[:most]]

    def _all(self, tanks):
        """Return every split: for each tank the sets, one entry a split."""
        count = len(self.first)
        codes = np.arange(tanks**count)
        sets = [np.zeros(codes.size, np.int64) for _ in range(tanks)]
        for place in range(count):
            digit = codes // tanks**place % tanks
            for tank in range(tanks):
                sets[tank] |= (digit == tank).astype(np.int64) << place
        kept = np.ones(codes.size, bool)
        for one, next_ in pairwise(sets[1:]):
            kept &= one >= next_  # the tanks after the first have no rank
        return [s[kept] for s in sets]

    def _habit(self, first):
        """Return how many ingredients are not where habit puts them."""
        found = np.zeros(np.shape(first), np.int64)
        for place, (here, there) in enumerate(
            zip(self.first, self.others, strict=True)
        ):
            inside = (first >> place) & 1
            found = found + bool(here) * (1 - inside) + bool(there) * inside
        return found


def _leximax(values):
    """Return one number that ranks rows by their largest value, then the next, ..."""
    ranked = -np.sort(-np.stack(values), axis=0)
    key = np.zeros(ranked.shape[1], np.int64)
    for row in ranked:
        key = key * BASE + row
    return key
