"""How well each hypothesis fits the readings, by the errors of the meters and of the model.

    misfit² = ((EC − EC of the hypothesis)/σ)² + ((pH − pH of the hypothesis)/τ)²

with σ and τ the errors of the meters; by this the hypotheses are ranked. Which are possible
is judged with the errors of the model added in quadrature, for these move all of them.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtri

from formulate.chemistry.acidity import ph_rule
from formulate.chemistry.conductivity import REFERENCE, ec
from formulate.chemistry.expected import expected
from formulate.chemistry.speciation import speciate
from formulate.mixing.diagnosis import distance
from formulate.mixing.hypotheses import PERCENT, mistake_rule
from formulate.stoichiometry.solution import Solution

__all__ = ["Fit", "Predictions", "first_of", "fit", "predictions"]

LEAST = 1e-9  # of an error, so that water without salts divides nothing by 0


@dataclass(frozen=True, eq=False)
class Predictions:
    """
    What meters show of each solution of a stack, closed to the air at 25 °C.

    Attributes
    ----------
    ec : array
        Conductivity. [mS/cm]
    ph : array
        The pH. [-]
    below : array
        How far the pH may be lower. [-]
    above : array
        How far the pH may be higher. [-]
    ec_error_percent : float
        How far the conductivity may be off. [%]
    """

    ec: np.ndarray
    ph: np.ndarray
    below: np.ndarray
    above: np.ndarray
    ec_error_percent: float

    @property
    def is_single(self):
        """Return whether the pH of the first is narrow enough to tell something."""
        return bool(self.below[0] + self.above[0] <= ph_rule("widest single pH"))


def predictions(
    batch,
    made,
    *,
    own_ec_error_percent=None,
    own_ph_error=None,
    known_right=(None, None),
):
    """
    Return what meters show of each solution of a stack, and how sure that is.

    Parameters
    ----------
    batch : Batch
        The batch as it was meant.
    made : Solution
        A stack, the batch as it was meant first. [mmol/L]
    own_ec_error_percent : float or None
        Error of the computed EC; None means what the model states for this batch. [%]
    own_ph_error : float or None
        Error of the computed pH; None means that of the table and what the alkalinity of
        the water and the steps of weighing leave open. [-]
    known_right : tuple of (float or None, float or None)
        EC and pH that the first is known to show; all are moved with it. [mS/cm]

    Returns
    -------
    Predictions
        EC and pH of all.

    Examples
    --------
    >>> from formulate.mixing.batch import batch_of
    >>> batch = batch_of({"KNO3": 10.1102}, volume=10, water="soft")
    >>> found = predictions(batch, batch.mixtures([[1.0]], 10.0))
    >>> found.ec.round(2).tolist(), found.is_single
    ([1.52], True)
    """
    state = speciate(made, temperature=REFERENCE)
    conducts, ph = np.asarray(ec(state)), np.asarray(state.ph)
    right_ec, right_ph = known_right
    given = {"amounts": batch.amounts, "volume": batch.volume, "water": batch.water}
    meant = expected(first_of(made), **given)
    if own_ec_error_percent is None:
        off = meant.conductivity.error_percent
        own_ec_error_percent = 0.0 if right_ec else off
    if own_ph_error is None and right_ph is None:
        below, above = _open(made, ph, meant)
    else:
        below = above = np.full(len(ph), own_ph_error or 0.0)
    scale = right_ec / conducts[0] if right_ec else 1.0
    shift = 0.0 if right_ph is None else right_ph - ph[0]
    return Predictions(scale * conducts, ph + shift, below, above, own_ec_error_percent)


def first_of(made):
    """
    Return the first solution of a stack: the batch as it was meant.

    Parameters
    ----------
    made : Solution
        A stack. [mmol/L]

    Returns
    -------
    Solution
        One solution. [mmol/L]

    Examples
    --------
    >>> first_of(Solution({"nitrate": np.array([1.0, 2.0])}, np.zeros(2))).forms["nitrate"]
    1.0
    """
    forms = {key: float(values[0]) for key, values in made.forms.items()}
    return Solution(forms, float(made.unassigned_charge[0]), made.temperature)


def _open(made, ph, meant):
    """Return how far each pH may be lower and higher, by the table and by the charge."""
    error, least = (
        meant.alkalinity_error + meant.open_charge,
        mistake_rule("own pH error"),
    )
    forms = {key: np.tile(values, 2) for key, values in made.forms.items()}
    charge = np.asarray(made.unassigned_charge)
    charge = np.concatenate([charge - error, charge + error])
    moved = Solution(forms, charge, made.temperature)
    ends = np.asarray(speciate(moved, temperature=REFERENCE).ph)
    low, high = np.sort(ends.reshape(2, len(ph)), axis=0)
    return np.hypot(least, ph - low), np.hypot(least, high - ph)


@dataclass(frozen=True, eq=False)
class Fit:
    """
    How well hypotheses fit the readings.

    Attributes
    ----------
    ec : array
        EC that the meter would show by each. [mS/cm]
    ph : array
        pH that the meter would show by each. [-]
    misfit : array
        How far the readings are from that, in errors of the meters. [-]
    misfit_in_all : array
        The same in errors of meters and model together. [-]
    errors : tuple of (float or None, float or None)
        Error of the EC in percent and of the pH; None where it was not read. [%]
    """

    ec: np.ndarray
    ph: np.ndarray
    misfit: np.ndarray
    misfit_in_all: np.ndarray
    errors: tuple

    @property
    def order(self):
        """Return the places, best fit first; of equal fits the plainest first.

        The first hypothesis, that nothing is wrong, leads wherever it fits and the
        readings do not tell it from the best.
        """
        steps = np.round(self.misfit / mistake_rule("same fit"))
        found = np.argsort(steps, kind="stable")
        count = sum(error is not None for error in self.errors)
        fits = self.misfit[0] ** 2 <= _limit("possible within", count)
        if fits and self._near(found[0])[0]:
            found = np.concatenate([[0], found[found != 0]])
        return found

    def _near(self, place):
        """Return which are not to be told from one."""
        there = self.ec[place], self.ph[place]
        apart = distance((self.ec, self.ph), there, self.errors)
        return np.asarray(apart) < mistake_rule("told apart from")

    @property
    def possible(self):
        """Return which the readings allow, and which are not to be told from the best."""
        count = sum(error is not None for error in self.errors)
        squared = self.misfit_in_all**2
        if squared.min() > _limit("none explains beyond", count):
            return np.zeros(len(self.ec), bool)
        allowed = squared <= _limit("possible within", count)
        return allowed | self._near(self.order[0])


def _limit(rule, count):
    """Return the limit of chi-square for so many readings, by a rule in percent."""
    return chdtri(count, 1.0 - mistake_rule(rule) / PERCENT)


def fit(readings, shown, seen, errors):
    """
    Return how well hypotheses fit the readings.

    Parameters
    ----------
    readings : tuple of (float or None, float or None)
        EC and pH as measured. [mS/cm]
    shown : array
        EC that the meter would show by each hypothesis. [mS/cm]
    seen : Predictions
        What the chemistry says of each.
    errors : tuple of (float, float)
        Error of the EC meter in percent, and of the pH meter. [%]

    Returns
    -------
    Fit
        The fit of each.

    Examples
    --------
    >>> none = np.zeros(2)
    >>> seen = Predictions(np.array([1.0, 1.5]), np.array([6.0, 6.1]), none, none, 0.0)
    >>> fit((1.02, 6.05), seen.ec, seen, (2.0, 0.05)).misfit.round(2).tolist()
    [1.41, 16.03]
    """
    measured_ec, measured_ph = readings
    of_meters, of_all = np.zeros(len(shown)), np.zeros(len(shown))
    parts, percent = [], errors[0] / PERCENT
    if measured_ec is not None:
        own = seen.ec_error_percent / PERCENT * shown
        parts.append((measured_ec - shown, percent * shown, own))
    if measured_ph is not None:
        own = np.where(measured_ph > seen.ph, seen.above, seen.below)
        parts.append((measured_ph - seen.ph, errors[1], own))
    for off, meter, own in parts:
        of_meters += (off / np.maximum(meter, LEAST)) ** 2
        of_all += (off / np.maximum(np.hypot(meter, own), LEAST)) ** 2
    read = tuple(
        None if value is None else error
        for value, error in zip(readings, errors, strict=True)
    )
    return Fit(shown, seen.ph, np.sqrt(of_meters), np.sqrt(of_all), read)
