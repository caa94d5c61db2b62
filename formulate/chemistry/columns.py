"""The same equations on one number and on a block of columns.

Below about thirty solutions Python's own numbers are quicker than arrays. Equations that
use + − × ÷ and the functions of one of these two sets serve both, so none is written twice.
"""

import math
from types import SimpleNamespace

import numpy as np

__all__ = ["ARRAYS", "BLOCK", "NUMBERS", "arithmetic_of"]

BLOCK = 4096  # columns worked on at once: what the caches of a processor hold

NUMBERS = SimpleNamespace(
    exp=math.exp,
    log=lambda x: math.log(x) if x > 0 else -math.inf,
    sqrt=math.sqrt,
    clip=lambda x, low, high: low if x < low else min(x, high),
    least=min,
    most=max,
    any_above=lambda x, limit: x > limit,
    where=lambda test, yes, no: yes if test else no,
    column=lambda values: values,
    listed=lambda rows: rows.tolist(),
)


def _log(values):
    """Return natural logarithms; minus infinity of nothing, without a warning."""
    with np.errstate(divide="ignore"):
        return np.log(values)


ARRAYS = SimpleNamespace(
    exp=np.exp,
    log=_log,
    sqrt=np.sqrt,
    clip=lambda x, low, high: np.minimum(np.maximum(x, low), high),
    least=np.minimum,
    most=np.maximum,
    any_above=lambda x, limit: bool((x > limit).any()),
    where=np.where,
    column=lambda values: values[:, None],
    listed=list,
)


def arithmetic_of(value):
    """
    Return the functions that suit a value: those of numbers or those of arrays.

    Parameters
    ----------
    value : float or array
        The value. [-]

    Returns
    -------
    SimpleNamespace
        Functions exp, log, sqrt, clip, least, most, any_above, where; column (values to stand beside rows) and listed (rows to a list).

    Examples
    --------
    >>> arithmetic_of(0.25).sqrt(0.25)
    0.5
    """
    return ARRAYS if isinstance(value, np.ndarray) else NUMBERS
