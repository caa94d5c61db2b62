"""Pure water from 0 to 50 °C: density, permittivity, viscosity, the Debye-Hückel numbers.

Every coefficient stands in the table water_equations, with its source.
"""

import math
from functools import cache
from types import SimpleNamespace

from formulate.checks import checked_number
from formulate.errors import InputError, MissingData
from formulate.tables import read_table

__all__ = [
    "COLDEST",
    "WARMEST",
    "check_temperature",
    "coefficients",
    "debye_hueckel",
    "density_wp02",
    "kelvin",
    "permittivity_bp79",
    "viscosity_ksw78",
]

COLDEST, WARMEST = 0.0, 50.0
ZERO_CELSIUS = 273.15


@cache
def coefficients(equation):
    """
    Return the numbers of an equation, by their symbols.

    Parameters
    ----------
    equation : str
        Its name in the table water_equations.

    Returns
    -------
    SimpleNamespace
        Symbol to number. [-]

    Raises
    ------
    MissingData
        If the table has no such equation.

    Examples
    --------
    >>> coefficients("davies").slope
    0.3
    """
    rows = [r for r in read_table("water_equations") if r["equation"] == equation]
    if not rows:
        raise MissingData(f"equation {equation!r} is not in the table water_equations")
    return SimpleNamespace(**{row["symbol"]: row.number("value") for row in rows})


def check_temperature(celsius):
    """
    Return a temperature if the solution chemistry reaches it.

    Parameters
    ----------
    celsius : float
        Temperature. [°C]

    Returns
    -------
    float
        The same. [°C]

    Raises
    ------
    InputError
        If it is no number from 0 to 50.

    Examples
    --------
    >>> check_temperature(18)
    18.0
    """
    try:
        return checked_number(celsius, "temperature in °C", least=COLDEST, most=WARMEST)
    except InputError as error:
        why = "the constants are known from 0 to 50 °C"
        raise InputError(f"{error.faults[0]}; {why}") from None


def kelvin(celsius):
    """
    Return the absolute temperature.

    Parameters
    ----------
    celsius : float
        Temperature. [°C]

    Returns
    -------
    float
        Temperature. [K]

    Examples
    --------
    >>> kelvin(25.0)
    298.15
    """
    return celsius + ZERO_CELSIUS


def density_wp02(celsius):
    """
    Return the density of water on the saturation line.

    Equation [wagner-pruss-2002]::

        ρ = ρc (1 + b1 x^(1/3) + b2 x^(2/3) + b3 x^(5/3)
            + b4 x^(16/3) + b5 x^(43/3) + b6 x^(110/3))        x = 1 − T/Tc

    Parameters
    ----------
    celsius : float
        Temperature. [°C]

    Returns
    -------
    float
        Density. [kg/L]

    Examples
    --------
    >>> round(density_wp02(25.0), 6)
    0.996999
    """
    b = coefficients("density")
    x = 1 - kelvin(celsius) / b.Tc
    series = (
        (b.b1, 1 / 3),
        (b.b2, 2 / 3),
        (b.b3, 5 / 3),
        (b.b4, 16 / 3),
        (b.b5, 43 / 3),
        (b.b6, 110 / 3),
    )
    return b.rc * (1 + sum(factor * x**power for factor, power in series))


def permittivity_bp79(celsius):
    """
    Return the relative permittivity of water at one atmosphere.

    Equation [bradley-pitzer-1979]::

        ε = u1 exp(u2 T + u3 T²) + C ln((B + p)/(B + 1000))        p in bar
        C = u4 + u5/(u6 + T)        B = u7 + u8/T + u9 T

    Parameters
    ----------
    celsius : float
        Temperature. [°C]

    Returns
    -------
    float
        Relative permittivity. [-]

    Examples
    --------
    >>> round(permittivity_bp79(25.0), 4)
    78.3844
    """
    u, t = coefficients("permittivity"), kelvin(celsius)
    c = u.u4 + u.u5 / (u.u6 + t)
    b = u.u7 + u.u8 / t + u.u9 * t
    return u.u1 * math.exp(u.u2 * t + u.u3 * t * t) + c * math.log(
        (b + u.P) / (b + 1000)
    )


def viscosity_ksw78(celsius):
    """
    Return the viscosity of water.

    Equation [kestin-1978]::

        log10(η/η20) = (20 − t)/(t + e1) (e2 − e3 (20 − t) + e4 (20 − t)²)        t in °C

    Parameters
    ----------
    celsius : float
        Temperature. [°C]

    Returns
    -------
    float
        Viscosity. [mPa·s]

    Examples
    --------
    >>> round(viscosity_ksw78(20.0), 3)
    1.002
    """
    e = coefficients("viscosity")
    below = 20 - celsius
    power = below / (celsius + e.e1) * (e.e2 - e.e3 * below + e.e4 * below * below)
    return e.e0 * 10**power


@cache
def debye_hueckel(celsius):
    """
    Return the two numbers of the Debye-Hückel equation.

    A for decadic logarithms, and B, both from density and permittivity.

    Equation [pq386-phreeqc]::

        l = L/(ε T)        B = √(8 π N l ρ/1000)        A = B l/(2 ln 10)

    Parameters
    ----------
    celsius : float
        Temperature. [°C]

    Returns
    -------
    a : float
        A. [(kg/mol)^0.5]
    b : float
        B. [(kg/mol)^0.5/Å]

    Examples
    --------
    >>> [round(value, 4) for value in debye_hueckel(25.0)]
    [0.51, 0.3285]
    """
    d = coefficients("debye-hueckel")
    length = d.L / (permittivity_bp79(celsius) * kelvin(celsius))
    per_cubic = 8 * math.pi * d.N * length * density_wp02(celsius) / 1000
    b = math.sqrt(per_cubic)
    return b * length / (2 * math.log(10)), b * 1e-8
