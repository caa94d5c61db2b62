"""The class experiment held against the chemistry: what was read, what the model says, what is left between them.

One number is fitted to each experiment: how strong the feed really was, and the alkalinity of the tap. Gypsum is not
fitted; the mixtures stand in the order of how far beyond saturation they are.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.stats import t as student

from formulate.chemistry.conductivity import ec
from formulate.chemistry.speciation import speciate
from formulate.classroom.experiment_sheet import FEWEST
from formulate.errors import InputError
from formulate.ingredients.dissolve import dissolve
from formulate.stoichiometry.solution import Solution, solution
from formulate.working import Shown, printed

__all__ = [
    "Fit",
    "GypsumSeen",
    "fit_dilution",
    "fit_titration",
    "gypsum_seen",
]

STRENGTHS = (0.3, 3.0)  # of the feed, as a share of what was meant to be weighed
ALKALINITIES = (0.02, 12.0)  # meq/L
NITRATE, EPSOM = "Ca(NO3)2·4H2O", "MgSO4·7H2O"
LEFT_OUT = 0.05  # 19 of 20 classes are within the doubt


@dataclass(frozen=True, eq=False)
class Fit(Shown):
    """
    A model fitted to the readings of a class.

    Attributes
    ----------
    title : str
        Which experiment.
    what : str
        The number that was fitted.
    value : float
        Its value, in `unit`. [-]
    doubt : float
        How far it may be off, in 19 of 20 classes, if nothing but chance was at work. [-]
    unit : str
        Unit of the value.
    settings : tuple of float
        What was set: shares of feed, or acid. [-]
    setting : str
        What the settings are, with their unit.
    read : tuple of float
        What the meter showed, in `reading`. [-]
    modelled : tuple of float
        What the model says at the fitted value. [-]
    reading : str
        Unit of the readings.
    digits : int
        Decimals of the readings. [-]
    """

    title: str
    what: str
    value: float
    doubt: float
    unit: str
    settings: tuple
    setting: str
    read: tuple
    modelled: tuple
    reading: str
    digits: int = 2

    @property
    def residuals(self):
        """Return what was read less what the model says, in the unit of the readings."""
        return tuple(r - m for r, m in zip(self.read, self.modelled, strict=True))

    @property
    def scatter(self):
        """Return the usual size of a residual: root of the mean square, one number fitted."""
        squares = sum(left * left for left in self.residuals)
        return (squares / (len(self.read) - 1)) ** 0.5

    @property
    def rows(self):
        """Return setting, reading, model and residual of each reading."""
        return tuple(
            zip(self.settings, self.read, self.modelled, self.residuals, strict=True)
        )

    def __str__(self):
        head = f"{self.title}: {self.what} {printed(self.value, 3)} ± {printed(self.doubt, 2)} {self.unit}".rstrip()
        lines = [
            head,
            f"  {self.setting:>16}  {'read':>8}  {'model':>8}  {'left':>8}  {self.reading}",
        ]
        for setting, *numbers in self.rows:
            texts = "  ".join(f"{number:8.{self.digits}f}" for number in numbers)
            lines.append(f"  {setting:16.4g}  {texts}")
        return "\n".join(
            [
                *lines,
                f"  usual residual {self.scatter:.{self.digits + 1}f} {self.reading}".rstrip(),
            ]
        )


@dataclass(frozen=True, eq=False)
class GypsumSeen(Shown):
    """
    Mixtures of calcium nitrate and Epsom salt, by how far beyond saturation they are.

    Attributes
    ----------
    rows : tuple of (float, float, bool)
        Grams of each salt in a litre, saturation index of gypsum, whether it clouded. [-]
    """

    rows: tuple

    @property
    def agrees(self):
        """Return whether what clouded is beyond saturation, and what is below stayed clear."""
        return all(index > 0 for _, index, cloudy in self.rows if cloudy)

    @property
    def clear_beyond(self):
        """Return the mixtures that stayed clear though they are beyond saturation."""
        return tuple(row for row in self.rows if row[1] > 0 and not row[2])

    def __str__(self):
        lines = ["gypsum: of each salt in a litre, saturation index, what was seen"]
        for grams, index, cloudy in self.rows:
            lines.append(
                f"  {grams:6.1f} g/L  {index:+.2f}  {'cloudy' if cloudy else 'clear'}"
            )
        return "\n".join(lines)


def fit_dilution(data):
    """
    Return how strong the feed really was, from its EC at several dilutions.

    Parameters
    ----------
    data : ClassData
        The readings.

    Returns
    -------
    Fit
        Strength as a share of what was meant, with the residual of each reading. [-]

    Raises
    ------
    InputError
        If fewer than three dilutions were read.

    Examples
    --------
    >>> from formulate.classroom.experiment_sheet import ClassData
    >>> read = ((1.0, 1.412), (0.5, 0.7174), (0.1, 0.14688))  # potassium chloride, a handbook
    >>> data = ClassData("", False, {"KCl": 0.7455}, 100.0, "HCl", 0.1, 25.0, read, (), ())
    >>> round(fit_dilution(data).value, 2)
    1.0
    """
    _ask_for(data.dilution, "dilution")
    shares, read = (np.array(column) for column in zip(*data.dilution, strict=True))
    feed = dissolve(dict(data.feed), volume="1 L")

    def modelled(strength):
        return ec(_thinned(feed, shares * strength))

    return _fitted(
        ("EC at several dilutions", "strength of the feed", "of what was meant"),
        (shares, "share of feed"),
        (read, "mS/cm", 3),
        modelled,
        STRENGTHS,
    )


def fit_titration(data):
    """
    Return the alkalinity of the tap, from its pH while acid is added.

    The water is taken as bicarbonate alone, closed to the air: what is poured so slowly that bubbles form loses
    carbon dioxide, and its pH is read too high.

    Parameters
    ----------
    data : ClassData
        The readings; the first is that without acid.

    Returns
    -------
    Fit
        Alkalinity, with the residual of each pH. [meq/L]

    Raises
    ------
    InputError
        If fewer than four readings were made or none without acid.

    Examples
    --------
    >>> from formulate.classroom.experiment_sheet import ClassData
    >>> read = ((0.0, 7.40), (1.0, 6.72), (2.0, 6.17), (3.0, 5.03))
    >>> data = ClassData("", False, {}, 100.0, "HCl", 0.1, 25.0, (), read, ())
    >>> 2.5 < fit_titration(data).value < 4.0
    True
    """
    _ask_for(data.titration, "titration")
    poured, read = (np.array(column) for column in zip(*data.titration, strict=True))
    if poured[0] != 0:
        raise InputError(
            "titration: the first reading is that without acid; write 0 mL and its pH"
        )

    per_carbon = _tap(1.0, read[0], data.temperature).alkalinity()  # at that pH

    def modelled(alkalinity):
        return speciate(_with_acid(data, alkalinity / per_carbon, read[0], poured)).ph

    return _fitted(
        ("Tap water titrated with acid", "alkalinity", "meq/L"),
        (poured, "acid added, mL"),
        (read, "pH", 2),
        modelled,
        ALKALINITIES,
    )


def gypsum_seen(data):
    """
    Return how far beyond saturation with gypsum each mixture is, beside what was seen.

    Parameters
    ----------
    data : ClassData
        The readings.

    Returns
    -------
    GypsumSeen
        The mixtures, the thinnest first.

    Raises
    ------
    InputError
        If fewer than two mixtures were looked at.

    Examples
    --------
    >>> from formulate.classroom.experiment_sheet import ClassData
    >>> seen = ((2.0, False), (20.0, True))
    >>> data = ClassData("", False, {}, 100.0, "HCl", 0.1, 25.0, (), (), seen)
    >>> gypsum_seen(data).agrees
    True
    """
    _ask_for(data.gypsum, "gypsum")
    grams = np.array([one for one, _ in data.gypsum])
    one = dissolve({NITRATE: 1.0, EPSOM: 1.0}, volume="1 L")
    mixed = _thinned(one, grams, data.temperature)
    indices = speciate(mixed, ph=7.0).saturation_index("gypsum")
    rows = zip(
        grams.tolist(), indices.tolist(), (c for _, c in data.gypsum), strict=True
    )
    return GypsumSeen(tuple(rows))


def _ask_for(readings, part):
    if len(readings) < FEWEST[part]:
        raise InputError(
            f"{part}: {len(readings)} readings; a fit needs at least {FEWEST[part]}"
        )


def _thinned(held, shares, temperature=None):
    """Return a stack: the solution at each of several shares."""
    forms = {key: amount * shares for key, amount in held.forms.items()}
    temperature = held.temperature if temperature is None else temperature
    return Solution(forms, held.unassigned_charge * shares, temperature)


def _tap(carbon, ph, temperature):
    """Return a water of so much dissolved carbon at a pH."""
    return solution({"HCO3": float(carbon)}, ph=float(ph), temperature=temperature)


def _with_acid(data, carbon, ph, poured):
    """Return a stack: the sample after each dose of acid."""
    tap = _tap(carbon, ph, data.temperature)
    kept = data.sample / (data.sample + poured)
    acid = data.acid_strength * 1000 * poured / (data.sample + poured)
    forms = {key: amount * kept for key, amount in tap.forms.items()}
    ion = "chloride" if data.acid == "HCl" else "nitrate"
    forms[ion] = forms.get(ion, 0.0) + acid
    return Solution(forms, tap.unassigned_charge * kept, data.temperature)


def _least(squares, ends):
    """Return where a sum of squares is least."""
    found = minimize_scalar(
        squares, bounds=ends, method="bounded", options={"xatol": 1e-6}
    )
    return float(found.x)


def _fitted(words, settings, readings, modelled, ends):
    """Return the fit of one number; its doubt follows from how the model leans on it."""
    (title, what, unit), (places, setting), (read, reading, digits) = (
        words,
        settings,
        readings,
    )
    value = _least(lambda v: np.sum((read - modelled(v)) ** 2), ends)
    step = 1e-3 * value
    slope = (modelled(value + step) - modelled(value - step)) / (2 * step)
    best = modelled(value)
    scatter = np.sqrt(np.sum((read - best) ** 2) / (len(read) - 1))
    times = student.ppf(1 - LEFT_OUT / 2, len(read) - 1)
    doubt = float(times * scatter / np.sqrt(np.sum(slope**2)))
    return Fit(
        title,
        what,
        value,
        doubt,
        unit,
        tuple(map(float, places)),
        setting,
        tuple(map(float, read)),
        tuple(map(float, best)),
        reading,
        digits,
    )
