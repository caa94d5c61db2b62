"""A pH one can believe: how well a solution is buffered, and how far its pH may be off.

Where little buffers it, a small error in the alkalinity of the water or in a weight moves
the pH far. So a pH comes with the interval that stated errors leave open.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from formulate.checks import checked_number
from formulate.chemistry.speciation import speciate, speciate_again
from formulate.chemistry.state import Speciation
from formulate.errors import Faults, InputError, shortened
from formulate.stoichiometry.solution import Solution
from formulate.tables import rule_of
from formulate.working import Shown

__all__ = [
    "PHRange",
    "buffer_capacity",
    "ph_range",
    "ph_rule",
    "usual_alkalinity_error",
]

STEP = 0.01  # pH, for the slope


@dataclass(frozen=True, eq=False)
class PHRange(Shown):
    """
    A pH with what it may be for the errors stated.

    Attributes
    ----------
    state : Speciation
        The ions that it belongs to.
    low : float
        Lowest for these errors. [-]
    high : float
        Highest for these errors. [-]
    charge_error : float
        How far the charge balance may be off. [meq/L]
    """

    state: Speciation
    low: float
    high: float
    charge_error: float

    @property
    def ph(self):
        """Return the pH as computed, or as it was measured or given. [-]"""
        return self.state.ph

    @property
    def imposed(self):
        """Return whether the pH was measured or given."""
        return self.state.ph_imposed

    @cached_property
    def buffer_capacity(self):
        """Return the acid or alkali that moves it by one unit, near this pH. [meq/L]"""
        return buffer_capacity(self.state)

    @property
    def is_single(self):
        """Return whether the interval is narrow enough to name one pH."""
        return self.high - self.low <= ph_rule("widest single pH")

    @property
    def words(self):
        """Return the pH as it is printed: with its interval where that matters."""
        if self.imposed:
            return f"{self.ph:.2f} (given)"
        if self.high - self.low <= ph_rule("sure pH"):
            return f"{self.ph:.1f}"
        if self.is_single:
            return f"{self.ph:.1f} ({self.low:.1f} to {self.high:.1f})"
        return f"between {self.low:.1f} and {self.high:.1f}"

    def __str__(self):
        return (
            f"pH {self.words}; buffer {self.buffer_capacity:.2g} meq/L per unit, "
            f"charge within {self.charge_error:.2g} meq/L"
        )


def ph_rule(name):
    """
    Return one rule of the table of pH rules.

    Parameters
    ----------
    name : str
        Name of the rule, such as "alkalinity error".

    Returns
    -------
    float
        Its value, in the unit of the table. [-]

    Examples
    --------
    >>> ph_rule("alkalinity error")
    5.0
    """
    return rule_of("ph_rules", name).number("value")


def _solved(thing, **given):
    if isinstance(thing, Speciation):
        return thing
    held = getattr(thing, "solution", thing)
    if not isinstance(held, Solution):
        raise InputError(f"{shortened(thing)} is no Solution and no Speciation")
    return speciate(held, **given)


def _again(state, charge):
    """Return the same solution with some charge added."""
    added = state.solution.unassigned_charge + charge
    moved = replace(state.solution, unassigned_charge=added, ph=None)
    return speciate_again(state, solution=moved)


def usual_alkalinity_error(solution):
    """
    Return how far an alkalinity may be off, by the table of pH rules.

    Parameters
    ----------
    solution : Solution
        One solution or a stack.

    Returns
    -------
    float or array
        5 % of its alkalinity, at least 0.05. [meq/L]

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> round(float(usual_alkalinity_error(solution({"Ca": 2.0, "HCO3": 4.0}))), 3)
    0.2
    """
    share = ph_rule("alkalinity error") / 100.0
    found = share * np.abs(solution.alkalinity())
    return np.maximum(found, ph_rule("least alkalinity error"))


def buffer_capacity(thing):
    """
    Return how much acid or alkali moves the pH of a solution by one unit.

    The slope of the charge with pH at constant totals, pairs and ionic strength following.

    Equation [definition]::

        β = −d(charge)/d(pH) ≈ (charge at pH − h − charge at pH + h) / 2 h

    Parameters
    ----------
    thing : Solution or Speciation
        The solution.

    Returns
    -------
    float or array
        Buffer capacity. [meq/L]

    Raises
    ------
    InputError
        If it is neither.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> round(buffer_capacity(solution({"K": 1.5, "P": 1.0}, ph=7.2)), 2)
    0.58
    """
    state = _solved(thing)
    ends = [
        speciate_again(
            state, ph=np.clip(state.ph + way * STEP, 0, 14)[()]
        ).charge_left()
        for way in (-1, 1)
    ]
    return (ends[0] - ends[1]) / (2 * STEP)


def ph_range(
    thing, *, alkalinity_error=None, weight_error_percent=None, open_charge=0.0
):
    """
    Return the pH of a solution with the interval that errors leave open.

    Parameters
    ----------
    thing : Solution or Speciation
        One solution.
    alkalinity_error : float or None
        How far its alkalinity may be off; None means 5 % of it, at least 0.05. [meq/L]
    weight_error_percent : float or None
        How far weights may be off; None means 1. It counts for what acids, alkalis and
        unnamed ions bring. [%]
    open_charge : float
        Charge that is not known at all, as of a label without its counter-ions. [meq/L]

    Returns
    -------
    PHRange
        The pH, its interval and the buffer capacity.

    Raises
    ------
    InputError
        With every fault of what was given.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> found = ph_range(solution({"K": 10.0, "NO3": 10.0}))
    >>> found.low < 5 < 9 < found.high, found.is_single
    (True, False)
    """
    state = _solved(thing)
    if state.shape:
        raise InputError("ph_range: the state is a stack; take one solution of it")
    alkalinity = abs(state.solution.alkalinity())
    unnamed = abs(state.solution.unassigned_charge)
    if alkalinity_error is None:
        alkalinity_error = float(usual_alkalinity_error(state.solution))
    if weight_error_percent is None:
        weight_error_percent = ph_rule("weight error")
    faults, checked = Faults("ph_range"), []
    for value, name in (
        (alkalinity_error, "alkalinity_error in meq/L"),
        (weight_error_percent, "weight_error_percent"),
        (open_charge, "open_charge in meq/L"),
    ):
        with faults.collecting():
            checked.append(checked_number(value, name, least=0))
    faults.raise_if_any()
    error = checked[0] + checked[1] / 100.0 * (alkalinity + unnamed) + checked[2]
    ends = [state.ph]
    if not state.ph_imposed:
        ends = [_again(state, way * error).ph for way in (-1, 1)]
    return PHRange(state, min(ends), max(ends), error)
