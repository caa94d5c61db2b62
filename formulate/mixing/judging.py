"""How well each hypothesis fits the readings, by the errors of the meters and of the model.

σ and τ are the errors of the meters; by the misfit the hypotheses are ranked. Which are
possible is judged with the errors of the model added in quadrature, for these move all of
them, and with EC and pH anywhere from closed to the air to in balance with it, for carbon
dioxide leaves.

Equation of the misfit of a hypothesis [jcgm-100]::

    misfit² = ((EC − EC of the hypothesis)/σ)² + ((pH − pH of the hypothesis)/τ)²
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import chdtri

from formulate.chemistry.acidity import ph_rule
from formulate.chemistry.conductivity import REFERENCE, ec
from formulate.chemistry.expected import expected
from formulate.chemistry.speciation import speciate
from formulate.errors import NoConvergence
from formulate.mixing.diagnosis import distance, ec_error
from formulate.mixing.hypotheses import PERCENT, mistake_rule
from formulate.stoichiometry.solution import Solution

__all__ = ["Fit", "Predictions", "first_of", "fit", "predictions"]


@dataclass(frozen=True, eq=False)
class Predictions:
    """
    What meters show of each solution of a stack at 25 °C.

    Attributes
    ----------
    ec : array
        Conductivity. [mS/cm]
    ph : array
        The pH, closed to the air unless it is known to be in balance with it. [-]
    below : array
        How far the pH may be lower. [-]
    above : array
        How far the pH may be higher. [-]
    ec_error_percent : float
        How far the conductivity may be off. [%]
    in_air : Predictions or None
        The same in balance with the air; None where `ph` alone counts. [-]
    unsettled : int
        How many did not come to rest in balance with the air: these count as closed. [-]
    """

    ec: np.ndarray
    ph: np.ndarray
    below: np.ndarray
    above: np.ndarray
    ec_error_percent: float
    in_air: "Predictions | None" = None
    unsettled: int = 0

    @property
    def is_single(self):
        """Return whether the pH of the first is narrow enough to tell something."""
        return bool(self.below[0] + self.above[0] <= ph_rule("widest single pH"))

    def ec_off(self, value):
        """
        Return how far a reading is from what the air allows, and the error of that.

        Parameters
        ----------
        value : float
            EC as measured. [mS/cm]

        Returns
        -------
        tuple of (array, array)
            How far off, and how far the computed EC may be off. [mS/cm]

        Examples
        --------
        >>> none = np.zeros(1)
        >>> off, error = Predictions(none + 2.0, none + 6.0, none, none, 5.0).ec_off(2.5)
        >>> off.tolist(), error.tolist()
        ([0.5], [0.1])
        """
        ends = self.ec, (self.in_air or self).ec
        off = value - np.clip(value, np.minimum(*ends), np.maximum(*ends))
        return off, self.ec_error_percent / PERCENT * self.ec

    def ph_off(self, value):
        """
        Return how far a reading is from what the air allows, and the error of that end.

        Parameters
        ----------
        value : float
            The pH as measured. [-]

        Returns
        -------
        tuple of (array, array)
            How far off, and how far the computed pH may be off there. [-]

        Examples
        --------
        >>> none = np.zeros(1)
        >>> aired = Predictions(none + 2.0, none + 8.0, none + 0.3, none + 0.1, 0.0)
        >>> seen = Predictions(none + 2.0, none + 6.0, none + 0.2, none + 0.2, 0.0, aired)
        >>> [[v.tolist() for v in seen.ph_off(ph)] for ph in (5.5, 7.0, 8.5)]
        [[[-0.5], [0.2]], [[0.0], [0.2]], [[0.5], [0.1]]]
        """
        other = self.in_air or self
        falls = other.ph < self.ph
        low, high = np.minimum(self.ph, other.ph), np.maximum(self.ph, other.ph)
        below = np.where(falls, other.below, self.below)
        above = np.where(falls, self.above, other.above)
        off = value - np.clip(value, low, high)
        return off, np.where(value > high, above, below)

    def at(self, places, shown=1.0):
        """
        Return what meters show of some of the solutions.

        Parameters
        ----------
        places : array of int
            Which, in which order. [-]
        shown : float or array
            Share of the EC that the meter shows of each. [-]

        Returns
        -------
        Predictions
            Of these.

        Examples
        --------
        >>> none = np.zeros(2)
        >>> seen = Predictions(np.array([1.0, 1.5]), np.array([6.0, 6.1]), none, none, 0.0)
        >>> seen.at([1, 0, 0], [1.0, 1.0, 0.5]).ec.tolist()
        [1.5, 1.0, 0.5]
        """
        ec_shown = self.ec[places] * np.asarray(shown)
        found = [values[places] for values in (self.ph, self.below, self.above)]
        in_air = self.in_air and self.in_air.at(places, shown)
        rest = (self.ec_error_percent, in_air, self.unsettled)
        return Predictions(ec_shown, *found, *rest)


def predictions(
    batch,
    made,
    *,
    own_ec_error_percent=None,
    own_ph_error=None,
    known_right=(None, None),
    aired=None,
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
    aired : bool or None
        Whether it is in balance with the air; None means anywhere from closed to that, or
        as the one that is known to be right.

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
    right_ec, right_ph = known_right
    given = {"amounts": batch.amounts, "volume": batch.volume, "water": batch.water}
    meant = expected(first_of(made), **given)
    off = own_ec_error_percent
    if off is None:
        off = 0.0 if right_ec else meant.conductivity.error_percent
    error = None
    if own_ph_error is None and right_ph is None:
        error = meant.alkalinity_error + meant.open_charge
    told = (made, error, own_ph_error or 0.0, off)
    air = ph_rule("air carbon dioxide")
    seen = _read(*told, air if aired else None)
    if aired is None and right_ph is None:
        seen = _opened(seen, told, air)
    if right_ph is not None:
        seen = replace(seen, ph=seen.ph + (right_ph - seen.ph[0]))
    return seen.at(slice(None), right_ec / seen.ec[0] if right_ec else 1.0)


def _opened(closed, told, air):
    """Return predictions closed to the air with those in balance with it."""
    try:
        return replace(closed, in_air=_read(*told, air))
    except NoConvergence as error:
        settled = (
            np.asarray(error.state.settled).reshape(-1, len(closed.ph)).all(axis=0)
        )
    made, *rest = told
    forms = {key: values[settled] for key, values in made.forms.items()}
    some = Solution(forms, made.unassigned_charge[settled], made.temperature)
    parts = {key: getattr(closed, key).copy() for key in ("ec", "ph", "below", "above")}
    if settled.any():
        there = _read(some, *rest, air)
        for key, values in parts.items():
            values[settled] = getattr(there, key)
    in_air = replace(closed, **parts)
    return replace(closed, in_air=in_air, unsettled=int(np.sum(~settled)))


def _read(made, error, own, off, air):
    """Return EC and pH of a stack, and how far the pH may be off by the charge or else."""
    count = len(made.unassigned_charge)
    moved = np.array([0.0] if error is None else [0.0, -error, error])[:, None]
    charge = (np.asarray(made.unassigned_charge) + moved).ravel()
    forms = {key: np.tile(values, len(moved)) for key, values in made.forms.items()}
    stack = Solution(forms, charge, made.temperature)
    state = speciate(stack, temperature=REFERENCE, air_co2_ppm=air)
    conducts, ph = np.asarray(ec(state))[:count], np.asarray(state.ph)
    ph, ends = ph[:count], np.sort(ph[count:].reshape(-1, count), axis=0)
    below = above = np.full(count, own)
    if error is not None:
        least = mistake_rule("own pH error")
        below, above = np.hypot(least, ph - ends[0]), np.hypot(least, ends[1] - ph)
    return Predictions(conducts, ph, below, above, off)


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
        The same in errors of meters and model together, with the air or without. [-]
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
        most, best = _limit("possible within", count), self.order[0]
        if squared[best] > most:
            best = int(np.argmin(squared))
        return (squared <= most) | self._near(best)


def _limit(rule, count):
    """Return the limit of chi-square for so many readings, by a rule in percent."""
    return chdtri(count, 1.0 - mistake_rule(rule) / PERCENT)


def fit(readings, seen, errors):
    """
    Return how well hypotheses fit the readings.

    Parameters
    ----------
    readings : tuple of (float or None, float or None)
        EC and pH as measured. [mS/cm]
    seen : Predictions
        What the meters would show by each hypothesis.
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
    >>> fit((1.02, 6.05), seen, (2.0, 0.05)).misfit.round(2).tolist()
    [1.41, 16.03]
    """
    measured_ec, measured_ph = readings
    of_meters, of_all, parts = np.zeros(len(seen.ec)), np.zeros(len(seen.ec)), []
    if measured_ec is not None:
        meter = ec_error(seen.ec, errors[0])
        parts.append((measured_ec - seen.ec, meter, *seen.ec_off(measured_ec)))
    if measured_ph is not None:
        parts.append((measured_ph - seen.ph, errors[1], *seen.ph_off(measured_ph)))
    for off, meter, beyond, own in parts:
        of_meters += (off / meter) ** 2
        of_all += (beyond / np.hypot(meter, own)) ** 2
    read = tuple(
        None if value is None else error
        for value, error in zip(readings, errors, strict=True)
    )
    return Fit(seen.ec, seen.ph, np.sqrt(of_meters), np.sqrt(of_all), read)
