"""The charge that forms carry: nominal where no pH is known, by protonation where it is.

Hydrogen is never counted as a form. Where a pH has been measured, the mean charge of
phosphate, carbonate and their like follows from acid constants at 25 °C, without
corrections for ionic strength; the solution chemistry refines it.
"""

from functools import cache
from types import MappingProxyType

from formulate.checks import checked_number
from formulate.stoichiometry.formula import parse_formula
from formulate.stoichiometry.nutrients import form
from formulate.tables import read_table

__all__ = ["charge_at_ph", "check_ph", "mean_charge", "nominal_charge"]


@cache
def _pkas():
    steps = {}
    for row in read_table("protonation"):
        steps.setdefault(row["form"], []).append(row.number("pka"))
    return MappingProxyType({key: tuple(values) for key, values in steps.items()})


@cache
def _bare_charge(key):
    """Return the charge of a form with every listed proton gone."""
    charge = parse_formula(form(key).ion).charge
    return (
        charge - len(_pkas()[key])
        if key in ("ammonium", "borate", "silicate")
        else charge
    )


def check_ph(ph):
    """
    Return a pH if it can be one.

    Parameters
    ----------
    ph : float or array
        Measured pH. [-]

    Returns
    -------
    float or array
        The same pH. [-]

    Raises
    ------
    InputError
        If it is no number from 0 to 14.

    Examples
    --------
    >>> check_ph(7.4)
    7.4
    """
    if hasattr(ph, "dtype") and getattr(ph, "shape", ()):
        checked_number(float(ph.min()), "least pH", least=0)
        checked_number(float(ph.max()), "greatest pH", most=14)
        return ph
    return checked_number(ph, "pH", least=0, most=14)


def mean_charge(key, ph):
    """
    Return the mean charge of a form at a pH.

    Equation [handbook-misc]::

        z = z0 + Σ n w_n / Σ w_n        w_n = Π 10^(pKa − pH) over n protons

    Parameters
    ----------
    key : str
        Key of the form.
    ph : float
        The pH. [-]

    Returns
    -------
    float
        Mean charge number; for forms that take no proton simply their charge. [-]

    Examples
    --------
    >>> round(mean_charge("carbonate", 6.35), 2), mean_charge("nitrate", 6.0)
    (-0.5, -1.0)
    """
    ph, known = check_ph(ph), form(key)
    if key not in _pkas():
        return float(parse_formula(known.ion).charge)
    weights = [1.0]  # of the bare ion, then with one proton, two ...
    for pka in reversed(_pkas()[key]):
        weights.append(weights[-1] * 10 ** (pka - ph))
    protons = sum(n * weight for n, weight in enumerate(weights)) / sum(weights)
    return _bare_charge(key) + protons


def nominal_charge(forms):
    """
    Return the charge of forms counted as their nominal ions.

    Equation [definition]::

        charge = Σ z a        z of H2PO4-, HCO3-, NH4+, neutral boric and silicic acid

    Parameters
    ----------
    forms : mapping of str to float or array
        Form to amount. [mmol]

    Returns
    -------
    float or array
        Sum of charge times amount. [meq]

    Examples
    --------
    >>> nominal_charge({"calcium": 2.0, "phosphate": 1.0})
    3.0
    """
    return sum(
        (form(key).nominal_charge * amount for key, amount in forms.items()), 0.0
    )


def charge_at_ph(forms, ph):
    """
    Return the charge of forms, protons and hydroxide at a pH.

    Equation [handbook-misc]::

        charge = 1000 (10^−pH − 10^(pH − pKw)) + Σ z(pH) c

    Parameters
    ----------
    forms : mapping of str to float or array
        Form to concentration. [mmol/L]
    ph : float
        The pH. [-]

    Returns
    -------
    float or array
        Sum of all charges. [meq/L]

    Examples
    --------
    >>> round(charge_at_ph({"potassium": 1.0, "carbonate": 1.0}, 8.3), 2)
    -0.0
    """
    ph = check_ph(ph)
    water = (10.0**-ph - 10.0 ** (ph - _pkas()["water"][0])) * 1000.0
    return water + sum(mean_charge(key, ph) * amount for key, amount in forms.items())
