"""Draws the numbers of one pupil: the same seed gives the same numbers, on every machine.

Only `random.Random(text).random()` is used, the one drawing that Python promises to keep.
"""

import random
import unicodedata
from dataclasses import dataclass

from formulate.errors import InputError, shortened

__all__ = ["Lot", "checked_seed", "lot"]


@dataclass(frozen=True, eq=False)
class Lot:
    """
    A drawing of numbers for one exercise of one pupil.

    Attributes
    ----------
    seed : str
        What the pupil wrote, as it counts: without capitals and needless spaces.
    source : random.Random
        Where the numbers come from.

    Examples
    --------
    >>> ada = lot("03.1", "Ada")
    >>> ada.between(5, 60, 0.1), ada.one_of(["KNO3", "KCl"])
    (27.2, 'KCl')
    """

    seed: str
    source: random.Random

    def below(self, count):
        """
        Return one of the whole numbers from 0 up to but without `count`.

        Parameters
        ----------
        count : int
            How many there are. [-]

        Returns
        -------
        int
            The number drawn. [-]

        Examples
        --------
        >>> lot("03.1", "Ada").below(1)
        0
        """
        return int(self.source.random() * count)

    def between(self, low, high, step):
        """
        Return a number from `low` to `high`, both possible, in whole steps.

        Parameters
        ----------
        low : float
            Least number. [-]
        high : float
            Greatest number. [-]
        step : float
            Distance of neighbours; as many decimals are kept. [-]

        Returns
        -------
        int or float
            The number, whole if all three are. [-]

        Examples
        --------
        >>> lot("03.1", "Ada").between(100, 400, 50)
        200
        """
        steps = round((high - low) / step)
        value = low + self.below(steps + 1) * step
        if all(isinstance(number, int) for number in (low, step)):
            return value
        return round(value, max(_decimals(low), _decimals(step)))

    def one_of(self, choices):
        """
        Return one of several things.

        Parameters
        ----------
        choices : sequence
            The things.

        Returns
        -------
        object
            The one drawn.

        Examples
        --------
        >>> lot("03.1", "Ada").one_of(["KNO3"])
        'KNO3'
        """
        return choices[self.below(len(choices))]

    def some_of(self, choices, count):
        """
        Return several different things, in the order drawn.

        Parameters
        ----------
        choices : sequence
            The things.
        count : int
            How many. [-]

        Returns
        -------
        tuple
            The ones drawn; all of them, shuffled, if `count` is their number.

        Examples
        --------
        >>> sorted(lot("03.1", "Ada").some_of("abc", 3))
        ['a', 'b', 'c']
        """
        left = list(choices)
        return tuple(left.pop(self.below(len(left))) for _ in range(count))


def _decimals(number):
    """Return how many decimals a number is written with."""
    return len(repr(float(number)).removesuffix(".0").partition(".")[2])


def checked_seed(seed):
    """
    Return a seed as it counts: "Ada ", "ADA" and "ada" are one pupil.

    Parameters
    ----------
    seed : str or int
        A name, a number of a class list, anything short. [-]

    Returns
    -------
    str
        The seed without capitals and needless spaces.

    Raises
    ------
    InputError
        If nothing is left of it, or it is no text and no whole number.

    Examples
    --------
    >>> checked_seed("  Ada  L. "), checked_seed(7)
    ('ada l.', '7')
    """
    if isinstance(seed, bool) or not isinstance(seed, str | int):
        raise InputError(
            f"seed {shortened(seed)}: give a name or a whole number, such as 'ada'"
        )
    plain = " ".join(unicodedata.normalize("NFKC", str(seed)).casefold().split())
    if not plain:
        raise InputError("the seed is empty: give a name or a number, such as 'ada'")
    return plain


def lot(key, seed, attempt=0):
    """
    Return the drawing for one exercise of one pupil.

    Parameters
    ----------
    key : str
        Key of the exercise, such as "03.2".
    seed : str or int
        The pupil. [-]
    attempt : int
        Drawn again so often, because the numbers did not fit. [-]

    Returns
    -------
    Lot
        The drawing.

    Raises
    ------
    InputError
        If the seed is empty or no text and no whole number.

    Examples
    --------
    >>> lot("03.2", "Ada").seed
    'ada'
    """
    plain = checked_seed(seed)
    return Lot(plain, random.Random(f"{key} {attempt} {plain}"))
