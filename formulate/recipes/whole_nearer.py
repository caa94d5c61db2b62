"""Whole steps that are as good as the best, and nearer: moves that lose nothing.

What is least leaves most of the steps free. Among all that are as good, single steps and
pairs of steps are taken as long as they bring the weighted squares down; that is not proven.
"""

from dataclasses import replace

import numpy as np

from formulate.errors import FormulateError
from formulate.recipes.few_choice import TINY
from formulate.recipes.least_squares import nearest_amounts
from formulate.recipes.programme import Lines, stacked
from formulate.recipes.requirement import HARD, Requirement

__all__ = ["nearer"]

BETTER = 1e-12  # relative gain below which a move is not taken
ROUNDS = 500


def nearer(steps, amounts, caps, cost=None):
    """
    Return whole steps that are as good as some and nearer by weighted squares.

    Parameters
    ----------
    steps : Steps
        What is asked.
    amounts : ndarray, shape (n,)
        Amounts in whole steps. [g/L]
    caps : ndarray, shape (m,)
        What the distance of each row may be. [-]
    cost : float or None
        What a litre may cost. [currency/L]

    Returns
    -------
    ndarray, shape (n,)
        The amounts. [g/L]

    Examples
    --------
    >>> from formulate.recipes.whole_counts import Steps
    >>> none = Lines(np.zeros((0, 1)), np.zeros(0), np.zeros(0))
    >>> row = Lines(np.array([[2.0]]), np.array([3.0]), np.array([4.0]))
    >>> at = Lines(np.array([[2.0]]), np.array([4.0]), np.array([4.0]))
    >>> asked = Steps(row, none, at, np.array([0.5]), np.ones(1, bool))
    >>> nearer(asked, np.array([1.5]), np.zeros(1)).tolist()
    [2.0]
    """
    near = steps.near
    if cost is not None:
        row = steps.prices[None, :] / max(cost, TINY)
        near = stacked(near, Lines(row, np.array([-np.inf]), np.ones(1)))
        caps = np.append(caps, 0.0)
    held = replace(steps, near=near, caps=caps)
    amounts = _moved(held, amounts)
    if not steps.is_free.any():
        return amounts
    return _moved(held, _evened(held, amounts))


def _moved(steps, amounts):
    """Return amounts after the best moves of one or two steps, until none helps."""
    moves = _moves(steps)
    misses = _squared(steps, amounts)
    for _ in range(ROUNDS if len(moves) else 0):
        tried = amounts + moves
        squared = np.where(steps.is_kept(tried), _squared(steps, tried), np.inf)
        best = int(np.argmin(squared))
        if not squared[best] < misses * (1 - BETTER):
            break
        amounts, misses = np.where(tried[best] > TINY, tried[best], 0.0), squared[best]
    return amounts


def _squared(steps, amounts):
    return (steps.squares.distances(amounts) ** 2).sum(axis=-1)


def _moves(steps):
    """Return every move of one ingredient by a step, and of two by a step each."""
    places = np.flatnonzero(steps.is_whole & steps.usable)
    one = np.zeros((len(places), len(steps.sizes)))
    one[np.arange(len(places)), places] = steps.sizes[places]
    first, second = np.triu_indices(len(places), 1)
    pairs = [a * one[first] + b * one[second] for a in (1, -1) for b in (1, -1)]
    return np.vstack([one, -one, *pairs])


def _evened(steps, amounts):
    """Return the amounts with what has no step as near as the steps allow."""
    places = np.flatnonzero(steps.is_free)
    if steps.most is not None:
        places = places[amounts[places] > TINY]
    fixed = amounts.copy()
    fixed[places] = 0.0
    near = steps.near.wider(steps.caps)
    rows = [
        *_rows(steps.held, places, fixed, HARD),
        *_rows(near, places, fixed, HARD),
        *_rows(steps.squares, places, fixed),
    ]
    if not any(row.kind != HARD for row in rows):
        return amounts
    try:
        found = nearest_amounts(rows, len(places), rank=False).amounts
    except FormulateError:  # no room left for the digits
        return amounts
    tried = fixed
    tried[places] = np.where(found > TINY, found, 0.0)
    return tried if steps.is_kept(tried) else amounts


def _rows(lines, places, fixed, kind="wanted"):
    """Yield lines as rows over some places, the rest at what it is."""
    constant = lines.matrix @ fixed
    ends = zip(lines.matrix[:, places], constant, lines.low, lines.high, strict=True)
    for row, has, low, high in ends:
        if row.any():
            numbers = tuple(map(float, row))
            facts = {"constant": float(has), "kind": kind}
            yield Requirement("row", numbers, float(low), float(high), **facts)
