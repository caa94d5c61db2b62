"""Activity coefficients: how much less an ion counts among many others.

Four models for one quantity, each a function on numbers or arrays. Below, s is the square
root of the ionic strength I in mol per kg of water, A and B the numbers of Debye and Hückel
at the temperature, a and b belong to the ion:

Equation of WATEQ [pq386-wateq4f]::

    log γ = −A z² s/(1 + B a s) + b I                to I about 0.5

Equation of specific ion interaction (SIT) [pq386-sit]::

    log γ = −A z² s/(1 + 1.5 s) + Σ ε m              to I about 3.5

The default, "blend", is WATEQ below 0.1, SIT above 0.3, in between a mixture of their
logarithms. An uncharged species has only the term b I; in SIT it is ideal.

Equation of Davies [pq386-phreeqc]::

    log γ = −A z² (s/(1 + s) − 0.3 I)                to I about 0.5
"""

import math

import numpy as np

from formulate.chemistry.columns import arithmetic_of
from formulate.chemistry.water_properties import coefficients
from formulate.errors import InputError, shortened
from formulate.tables import read_table

__all__ = [
    "ACTIVITY_MODELS",
    "blend_share",
    "check_model",
    "inverse_gammas",
    "range_of",
    "term",
]

ACTIVITY_MODELS = ("blend", "wateq", "davies", "sit")
DAVIES, SIT, BLEND = (coefficients(name) for name in ("davies", "sit", "blend"))
FARTHEST = 80.0  # |ln γ| on the way to rest; beyond it nothing is real


def check_model(name):
    """
    Return the name of an activity model if there is one.

    Parameters
    ----------
    name : str or None
        "wateq", "davies", "sit" or "blend"; None means the default, "blend".

    Returns
    -------
    str
        The name.

    Raises
    ------
    InputError
        If there is no such model.

    Examples
    --------
    >>> check_model(None)
    'blend'
    """
    if name is None:
        return ACTIVITY_MODELS[0]
    if name not in ACTIVITY_MODELS:
        what = f"activity {shortened(name)}: write one of {', '.join(ACTIVITY_MODELS)}"
        raise InputError(what)
    return name


def range_of(name):
    """
    Return up to which ionic strength a model has been tried.

    Parameters
    ----------
    name : str
        Name of the model.

    Returns
    -------
    float
        Ionic strength. [mol/kg]

    Examples
    --------
    >>> range_of("wateq")
    0.5
    """
    rows = {row["model"]: row for row in read_table("activity_ranges")}
    return rows[name].number("highest")


def term(root, strength, size, linear=0.0):
    """
    Return how far the logarithm of an activity coefficient falls, over A z².

    Beyond 5 mol/kg the linear part stops growing, or it would run away.

    Equation [pq386-phreeqc]::

        s/(1 + c s) − d I

    Parameters
    ----------
    root : float or array
        The square root s of the ionic strength. [(mol/kg)^0.5]
    strength : float or array
        Ionic strength I. [mol/kg]
    size : float or array
        The number c: B a for WATEQ, 1 for Davies, 1.5 for SIT. [(kg/mol)^0.5]
    linear : float or array
        The number d: 0.3 for Davies, else 0. [kg/mol]

    Returns
    -------
    float or array
        The term. [(mol/kg)^0.5]

    Examples
    --------
    >>> round(10 ** (-0.51 * float(term(0.1**0.5, 0.1, 1.0, 0.3))), 3)
    0.781
    """
    return root / (1 + size * root) - linear * np.minimum(strength, DAVIES.highest)


def blend_share(strength):
    """
    Return the share of SIT in the default model.

    Equation [definition]::

        share = 3 t² − 2 t³        t = (I − 0.1)/(0.3 − 0.1), so that neither value nor slope steps

    Parameters
    ----------
    strength : float or array
        Ionic strength. [mol/kg]

    Returns
    -------
    float or array
        0 below 0.1, 1 above 0.3 mol/kg, smooth in between. [-]

    Examples
    --------
    >>> blend_share(0.1), round(blend_share(0.2), 9), blend_share(2.0)
    (0.0, 0.5, 1.0)
    """
    width = BLEND.end - BLEND.start
    t = arithmetic_of(strength).clip((strength - BLEND.start) / width, 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)


def inverse_gammas(net, model, strength, molalities):
    """
    Return 1/γ of every species.

    Parameters
    ----------
    net : Network
        The species, with what their activity coefficients depend on.
    model : str
        "wateq", "davies", "sit" or "blend".
    strength : float or array
        Ionic strength. [mol/kg]
    molalities : sequence of float or array
        Amount of every species, for the sake of SIT. [mol/kg]

    Returns
    -------
    list of float or array
        1/γ, one for each species; species of one class share it. [-]

    Examples
    --------
    >>> from formulate.chemistry.constants import constants
    >>> from formulate.chemistry.network import network
    >>> net = network(("sodium", "chloride"), 25.0, constants())
    >>> [round(1 / value, 3) for value in inverse_gammas(net, "davies", 0.1, [0.1] * 4)]
    [0.781, 0.781, 0.781, 0.781]
    """
    of = arithmetic_of(strength)
    root, strong = of.sqrt(strength), BLEND.start if model == "blend" else math.inf
    if model != "sit" and not of.any_above(strength, strong):
        each = of.listed(np.exp(_falls(net, model, root, strength)))
        return [each[kind] for kind in net.kinds]
    falls = _falls_sit(net, root, strength, molalities)
    if model == "blend":
        share = blend_share(strength)
        dilute = of.listed(_falls(net, model, root, strength))
        falls = [
            dilute[kind] + share * (fall - dilute[kind])
            for kind, fall in zip(net.kinds, falls, strict=True)
        ]
    return [of.exp(of.clip(fall, -FARTHEST, FARTHEST)) for fall in falls]


def _falls(net, model, root, strength):
    """Return −ln γ of every class by WATEQ, or by Davies alone, one row for each."""
    column, known = arithmetic_of(strength).column, net.classes
    if model == "davies":
        fall = column(known.falls) * term(root, strength, DAVIES.size, DAVIES.slope)
        return fall - column(known.slopes * (known.falls == 0)) * strength
    sizes, linear = column(known.sizes), column(known.linear)
    terms = term(root, strength, sizes, linear)
    return column(known.falls) * terms[known.places] - column(known.slopes) * strength


def _falls_sit(net, root, strength, molalities):
    """Return −ln γ of every species by specific ion interaction."""
    base, falls, found = term(root, strength, SIT.size), net.classes.falls, []
    for kind, partners in zip(net.kinds, net.partners, strict=True):
        near = [-epsilon * molalities[place] for epsilon, place in partners]
        found.append(sum(near, falls[kind] * base))
    return found
