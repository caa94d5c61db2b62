"""Oxygen in water: how much the air keeps in it, how full it is, and when that is little."""

import math

import numpy as np

from formulate.checks import checked_number, checked_values
from formulate.chemistry.water_properties import coefficients, kelvin
from formulate.errors import Faults, InputError
from formulate.notices import Notice, gravest_first
from formulate.tables import read_table, rule_of
from formulate.working import LogStep, Quantity, Step, Working, printed

__all__ = [
    "air_times",
    "oxygen_mg_l",
    "oxygen_notices",
    "oxygen_percent",
    "oxygen_saturation",
    "oxygen_working",
    "salinity_from_ec",
]

PERCENT = 100.0
DIGITS = 3  # of oxygen in a notice: meters show no more
LOG_DECIMALS = 7  # of logarithms carried from line to line
LIMITS = {  # what is given: its words, its ends in the table
    "temperature": ("temperature in °C", "coldest", "warmest"),
    "pressure": ("air pressure in kPa (1013 hPa are 101.3)", "thinnest", "densest"),
    "altitude": ("altitude in m", "lowest", "highest"),
    "salinity": ("salinity in g/kg (1000 mg/L are 1)", "freshest", "saltiest"),
}


def oxygen_saturation(temperature, *, pressure=None, altitude=None, salinity=0.0):
    """
    Return the oxygen of water in balance with moist air.

    Without a pressure and an altitude at one atmosphere.

    Equation of the oxygen at one atmosphere [benson-krause-eq; usgs-oxygen-2011]::

        ln C = a0 + a1/T + a2/T² + a3/T³ + a4/T⁴ − S (s0 + s1/T + s2/T²)
        at P: C (P − w)(1 − θ P) / ((1 − w)(1 − θ))        vapour pressure w

    Equation of the pressure of the standard atmosphere [iso-2533]::

        P = 101.325 (1 − 2.25577e-5 h)^5.25588        kPa, h in m

    Parameters
    ----------
    temperature : float or array
        Temperature of the water, 0 to 40. [°C]
    pressure : float or array, optional
        Air pressure at the place, as a barometer shows it there; a weather report gives
        it reduced to the sea: then give the altitude instead. [kPa]
    altitude : float or array, optional
        Height above the sea, for the pressure of the standard atmosphere. [m]
    salinity : float or array
        Salts in the water, 0 to 40, counted as sea salt. [g/kg]

    Returns
    -------
    float or ndarray
        Oxygen. [mg/L]

    Raises
    ------
    InputError
        With every fault: something out of range, pressure and altitude both given, arrays
        whose shapes do not go together.

    Examples
    --------
    >>> round(oxygen_saturation(20), 2), round(oxygen_saturation(20, altitude=1500), 2)
    (9.09, 7.55)
    """
    given = _given(temperature, pressure, altitude, salinity)
    return _plain(_saturation(given))


def oxygen_percent(
    reading_mg_l, temperature, *, pressure=None, altitude=None, salinity=0.0
):
    """
    Return how full of oxygen water is, from a reading.

    Parameters
    ----------
    reading_mg_l : float or array
        Oxygen as read. [mg/L]
    temperature : float or array
        Temperature of the water. [°C]
    pressure : float or array, optional
        Air pressure at the place. [kPa]
    altitude : float or array, optional
        Height above the sea, instead of the pressure. [m]
    salinity : float or array
        Salts in the water. [g/kg]

    Returns
    -------
    float or ndarray
        Share of what the air would keep in it. [%]

    Examples
    --------
    >>> round(oxygen_percent(4.55, 20), 1)
    50.0
    """
    reading = ("oxygen in mg/L", reading_mg_l)
    given = _given(temperature, pressure, altitude, salinity, reading)
    return _plain(PERCENT * given["other"] / _saturation(given))


def oxygen_mg_l(percent, temperature, *, pressure=None, altitude=None, salinity=0.0):
    """
    Return the oxygen of water from a reading in percent of saturation.

    Parameters
    ----------
    percent : float or array
        Percent of saturation as read. [%]
    temperature : float or array
        Temperature of the water. [°C]
    pressure : float or array, optional
        Air pressure at the place. [kPa]
    altitude : float or array, optional
        Height above the sea, instead of the pressure. [m]
    salinity : float or array
        Salts in the water. [g/kg]

    Returns
    -------
    float or ndarray
        Oxygen. [mg/L]

    Examples
    --------
    >>> round(oxygen_mg_l(80, 20), 2)
    7.27
    """
    reading = ("oxygen in percent of saturation", percent)
    given = _given(temperature, pressure, altitude, salinity, reading)
    return _plain(given["other"] / PERCENT * _saturation(given))


def salinity_from_ec(ec):
    """
    Return a rough salinity of a nutrient solution, good enough for its oxygen.

    Common practice, no source. Up to 4 mS/cm that lowers the oxygen by less than 2 percent.

    Equation [ext-general]::

        S = 0.7 EC        g/kg from mS/cm

    Parameters
    ----------
    ec : float or array
        Electrical conductivity at 25 °C. [mS/cm]

    Returns
    -------
    float or ndarray
        Salinity. [g/kg]

    Raises
    ------
    InputError
        If it is no number or negative.

    Examples
    --------
    >>> round(salinity_from_ec(2.0), 2)
    1.4
    """
    return _plain(coefficients("salinity").per_ec * _checked(ec, "EC in mS/cm", 0.0))


def air_times():
    """
    Return how long carbon dioxide takes to leave water, and oxygen to enter it.

    Rough words, common practice without a source. As the carbon dioxide leaves, the pH
    goes up.

    Returns
    -------
    tuple of tuple of str
        How the water meets the air, time for carbon dioxide, time for oxygen. [-]

    Examples
    --------
    >>> air_times()[1]
    ('vigorous air stone', 'hours', 'about an hour')
    """
    columns = ("how", "carbon_dioxide", "oxygen")
    return tuple(tuple(row[c] for c in columns) for row in read_table("air_times"))


def oxygen_notices(
    reading_mg_l, temperature, *, pressure=None, altitude=None, salinity=0.0
):
    """
    Return what to know about one reading of oxygen.

    Parameters
    ----------
    reading_mg_l : float
        Oxygen as read. [mg/L]
    temperature : float
        Temperature of the water. [°C]
    pressure : float, optional
        Air pressure at the place. [kPa]
    altitude : float, optional
        Height above the sea, instead of the pressure. [m]
    salinity : float
        Salts in the water. [g/kg]

    Returns
    -------
    tuple of Notice
        The gravest first; none if all is as usual.

    Raises
    ------
    InputError
        With every fault, as in `oxygen_saturation`; or if it is an array.

    Examples
    --------
    >>> [notice.severity for notice in oxygen_notices(4.0, 27)]
    ['caution', 'note']
    >>> oxygen_notices(8.0, 20)
    ()
    """
    reading = ("oxygen in mg/L", reading_mg_l)
    given = _given(temperature, pressure, altitude, salinity, reading)
    _refuse_arrays("oxygen notices", given)
    full = float(_saturation(given))
    found = (
        _little(given["other"], full),
        _warm(given["temperature"], full),
        _much(given["other"], full),
    )
    return gravest_first(notice for notice in found if notice)


def _little(reading, full):
    """Return the notice of little oxygen, if it is little."""
    rules = ((name, rule_of("oxygen_rules", name)) for name in ("serious", "caution"))
    below = [(name, rule) for name, rule in rules if reading < rule.number("value")]
    if not below:
        return None
    severity, rule = below[0]
    limit, least = (
        rule.number("value"),
        rule_of("oxygen_rules", "no loss").number("value"),
    )
    words = (
        f"oxygen is {printed(reading, DIGITS)} mg/L, below {limit:g}; water in balance "
        f"with the air would hold {printed(full, DIGITS)}. Roots short of oxygen take up "
        "less and rot sooner: check the meter, then bubble, circulate or cool"
    )
    if severity == "serious":
        words += (
            ". Sources differ: an experiment with lettuce in stirred water found no loss "
            f"at {least:g} mg/L"
        )
    return Notice(words, severity, reading, limit, rule["source_key"])


def _warm(celsius, full):
    """Return the notice of warm water, if it is warm."""
    rule = rule_of("oxygen_rules", "warm")
    limit = rule.number("value")
    if celsius <= limit:
        return None
    words = (
        f"the water is at {celsius:g} °C, above {limit:g}: from the air it holds at most "
        f"{printed(full, DIGITS)} mg/L of oxygen while roots need more, and root rot is "
        "likelier; shade or cool it"
    )
    return Notice(words, "note", celsius, limit, rule["source_key"])


def _much(reading, full):
    """Return the notice of more oxygen than air alone gives, if it is more."""
    rule = rule_of("oxygen_rules", "supersaturated")
    limit = rule.number("value")
    percent = PERCENT * reading / full
    if percent <= limit:
        return None
    words = (
        f"oxygen is {printed(reading, DIGITS)} mg/L, {percent:.0f} % of what the air "
        f"keeps in this water ({printed(full, DIGITS)} mg/L): bubbling with pure oxygen or "
        "algae in the light do that; else check the meter, its temperature, its pressure "
        "and whether it shows percent. Pure oxygen feeds fire: no flame, oil or grease "
        "near it"
    )
    return Notice(words, "note", percent, limit, rule["source_key"])


def oxygen_working(temperature, *, pressure=None, altitude=None, salinity=0.0):
    """
    Return the arithmetic of an oxygen saturation.

    A line cannot raise e to a power, so the logarithm is worked out first and then shown
    to be that of the number.

    Parameters
    ----------
    temperature : float
        Temperature of the water. [°C]
    pressure : float, optional
        Air pressure at the place. [kPa]
    altitude : float, optional
        Height above the sea, instead of the pressure. [m]
    salinity : float
        Salts in the water. [g/kg]

    Returns
    -------
    Working
        Oxygen at one atmosphere by its logarithm, then at the pressure of the air.

    Raises
    ------
    InputError
        With every fault, as in `oxygen_saturation`; or if it is an array.

    Examples
    --------
    >>> working = oxygen_working(20, pressure=95)
    >>> round(working.value, 2), working.unit
    (8.51, 'mg/L')
    """
    given = _given(temperature, pressure, altitude, salinity)
    _refuse_arrays("oxygen working", given)
    steps = (*_logarithm_steps(given), *_pressure_steps(given))
    return Working("Oxygen in balance with the air", steps)


def _logarithm_steps(given):
    """Return the lines from the temperature to the oxygen at one atmosphere."""
    celsius = Quantity(given["temperature"], "°C")
    hot = Step("absolute temperature", (celsius, "+", Quantity(kelvin(0.0))), "K")
    a, kelvins = coefficients("oxygen"), Quantity(hot.value, "K")
    terms = [Quantity(a.a1), "÷", kelvins]
    for power, factor in ((0, a.a0), (2, a.a2), (3, a.a3), (4, a.a4)):
        terms += _term(factor, kelvins, power)
    words = "natural logarithm of oxygen, fresh water at one atmosphere"
    steps = [hot, Step(words, tuple(terms), "", _key("oxygen"))]
    if given["salinity"]:
        steps.append(_salt_step(steps[-1].value, given["salinity"], kelvins))
    carried = Quantity(round(steps[-1].value, LOG_DECIMALS))
    lg = (carried, "÷", Quantity(math.log(10)))
    steps.append(Step("as a decadic logarithm", lg))
    words = "the oxygen of that logarithm, shown with a minus"
    return (*steps, LogStep(words, Quantity(float(_one_atmosphere(given)), "mg/L")))


def _salt_step(logarithm, salinity, kelvins):
    """Return the line that takes off what salts do to the logarithm."""
    s, terms = coefficients("oxygen salt"), [Quantity(round(logarithm, LOG_DECIMALS))]
    for power, factor in enumerate((s.s0, s.s1, s.s2)):
        sign, *rest = _term(-factor, kelvins, power)
        terms += [sign, Quantity(salinity, "g/kg"), "×", *rest]
    return Step("less what the salts do", tuple(terms), "", _key("oxygen salt"))


def _term(factor, kelvins, power):
    """Return a factor over a power of the temperature, with its sign before it."""
    sign = "+" if factor > 0 else "−"
    return [sign, Quantity(abs(factor)), *["÷", kelvins] * power]


def _pressure_steps(given):
    """Return the lines from one atmosphere to the pressure of the air."""
    atmosphere, key = coefficients("air").atmosphere, _key("oxygen pressure")
    vapour = Quantity(float(_vapour(given["temperature"])) * atmosphere, "kPa")
    here, there = (
        Step(words, (Quantity(pressure, "kPa"), "−", vapour), "kPa", key)
        for words, pressure in (
            ("air without its vapour", given["pressure"]),
            ("the same at one atmosphere", atmosphere),
        )
    )
    one = Quantity(float(_one_atmosphere(given)), "mg/L")
    share = (Quantity(here.value, "kPa"), "÷", Quantity(there.value, "kPa"))
    terms = (one, "×", *share, "×", Quantity(_real_gas(given)))
    words = "oxygen in proportion; the last factor, as air is no ideal gas"
    return here, there, Step(words, terms, "mg/L", key)


def _key(equation):
    """Return the source key of an equation."""
    rows = read_table("water_equations")
    return next(row["source_key"] for row in rows if row["equation"] == equation)


def _saturation(given):
    """Return the oxygen of what was given: at one atmosphere, then at its pressure."""
    atmospheres = given["pressure"] / coefficients("air").atmosphere
    vapour = _vapour(given["temperature"])
    ratio = (atmospheres - vapour) / (1 - vapour) * _real_gas(given)
    return _one_atmosphere(given) * ratio


def _one_atmosphere(given):
    """Return the oxygen at one atmosphere, in mg/L."""
    a, s = coefficients("oxygen"), coefficients("oxygen salt")
    x = 1 / kelvin(given["temperature"])
    fresh = a.a0 + x * (a.a1 + x * (a.a2 + x * (a.a3 + x * a.a4)))
    return np.exp(fresh - given["salinity"] * (s.s0 + x * (s.s1 + x * s.s2)))


def _vapour(celsius):
    """Return the vapour pressure of water, in atmospheres."""
    p, x = coefficients("oxygen pressure"), 1 / kelvin(celsius)
    return np.exp(p.w0 + x * (p.w1 + x * p.w2))


def _real_gas(given):
    """Return (1 − θ P)/(1 − θ): how far moist air is from an ideal gas."""
    p, celsius = coefficients("oxygen pressure"), given["temperature"]
    theta = p.c0 + celsius * (p.c1 + celsius * p.c2)
    atmospheres = given["pressure"] / coefficients("air").atmosphere
    return (1 - theta * atmospheres) / (1 - theta)


def _given(temperature, pressure, altitude, salinity, other=None):
    """Return what was given, checked, with a pressure; every fault is told at once."""
    values = {"temperature": temperature, "salinity": salinity}
    values |= {} if pressure is None else {"pressure": pressure}
    values |= {} if altitude is None else {"altitude": altitude}
    faults, found = Faults("oxygen"), {}
    for name, value in values.items():
        with faults.collecting():
            found[name] = _checked(value, *_limits(name))
    if other is not None:
        with faults.collecting():
            found["other"] = _checked(other[1], other[0], 0.0)
    if pressure is not None and altitude is not None:
        faults.add("pressure and altitude are both given; give the one you measured")
    _check_shapes(faults, found.values())
    faults.raise_if_any()
    found.setdefault("pressure", _standard_pressure(found.get("altitude", 0.0)))
    return found


def _standard_pressure(altitude):
    """Return the pressure of the standard atmosphere, in kPa, at an altitude in m."""
    air = coefficients("air")
    return air.atmosphere * (1 - air.fall * altitude) ** air.power


def _limits(name):
    """Return the words and the ends of something given."""
    words, low, high = LIMITS[name]
    ends = coefficients("oxygen range")
    return words, getattr(ends, low), getattr(ends, high)


def _checked(value, what, least, most=None):
    """Return a number or an array of numbers that lies within its limits."""
    if not getattr(value, "shape", ()):
        return checked_number(value, what, least=least, most=most)
    values = checked_values(value, what).astype(float)
    top = np.inf if most is None else most
    outside = values[~(np.isfinite(values) & (values >= least) & (values <= top))]
    if outside.size:
        raise InputError(
            f"{what}: {outside.size} of {values.size} numbers are not from {least:g} "
            f"to {top:g}, the first of them {outside[0]:g}"
        )
    return values


def _check_shapes(faults, values):
    """Note it if arrays do not go together."""
    shapes = [np.shape(value) for value in values]
    try:
        np.broadcast_shapes(*shapes)
    except ValueError:
        words = " and ".join(str(shape) for shape in dict.fromkeys(shapes) if shape)
        faults.add(f"arrays of shapes {words} do not go together; give equal ones")


def _refuse_arrays(where, given):
    """Raise InputError if what was given is an array."""
    if any(np.ndim(value) for value in given.values()):
        raise InputError(f"{where}: an array is given; take one reading of it")


def _plain(value):
    """Return a number as a float, an array as it is."""
    return value if np.ndim(value) else float(value)
