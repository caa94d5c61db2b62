"""Can this liquid stay clear at label strength: its ions speciated in the cold."""

import numpy as np

from formulate.checks import checked_number
from formulate.chemistry.risks import LIKELY, RISKS, salt_shares
from formulate.chemistry.solids import mineral
from formulate.claims.finding import Finding
from formulate.errors import FormulateError
from formulate.mixing.nearness import mixing_rule, nearness
from formulate.mixing.tank_contents import stock_level
from formulate.stoichiometry.solution import Solution
from formulate.working import printed

__all__ = ["clear_finding"]

PERCENT, PER_LITRE = 100.0, 1000.0
OPEN_CHARGE = 0.02  # share of the charge that may be unnamed before nothing is said
SUBJECT = "clear liquid"
RULE = "saturation indices and handbook solubilities at label strength"


def clear_finding(made, density, *, coldest=None):
    """
    Return whether a liquid can stay clear as it is sold.

    Parameters
    ----------
    made : Ingredient
        The liquid with all its ions.
    density : float or None
        Density; None if it is not known. [kg/L]
    coldest : float or None
        Coldest temperature in which it is kept; the usual one of stocks, 10, if None. [°C]

    Returns
    -------
    Finding
        "right", "cannot tell" where ions are not known, "wrong" if a solid is likely.

    Examples
    --------
    >>> from formulate.ingredients.ingredient import from_formula
    >>> print(clear_finding(from_formula("KNO3", percent=40), 1.29))
    clear liquid: wrong; at 10 °C KNO3 uses 301 % of its solubility
    """
    coldest = mixing_rule("coldest") if coldest is None else coldest
    coldest = checked_number(coldest, "coldest in °C", least=0, most=PERCENT)
    if density is None and made.measured_in == "g":
        return _unknown("the density is not known, so the strength in a litre is not")
    factor = PER_LITRE * (density if made.measured_in == "g" else 1.0)
    charge = made.unassigned_charge * factor
    forms = {key: amount * factor for key, amount in made.forms.items()}
    if abs(charge) > OPEN_CHARGE * max(sum(forms.values()), 1.0):
        return _unknown(
            f"{printed(abs(charge))} meq/L of ions are not named by the label or sources"
        )
    try:
        near = nearness(Solution(forms, charge, coldest), strict=False)
        return _judged(near, coldest)
    except FormulateError as error:
        return _unknown(f"its ions could not be settled ({error.faults[0]})")


def _unknown(why):
    what = f"{why}; it cannot be told whether it stays clear"
    return Finding(SUBJECT, "cannot tell", what, rule=RULE, source_key="stoichiometry")


def _judged(near, coldest):
    """Return the finding on a liquid whose ions are settled."""
    if not np.all(near.settled):
        return _unknown("too little water has room in it for the model to hold")
    rows = [(float(v), name) for name, v in near.counting.items()]
    levels = [(stock_level(name, index), index, name) for index, name in rows]
    gravest = max(levels, default=(0, 0.0, ""))
    uses = [(float(v), salt) for salt, v in salt_shares(near.state).items()]
    most, salt = max(uses, default=(0.0, ""))
    if most > PERCENT:
        what = f"at {coldest:g} °C {salt} uses {most:.0f} % of its solubility"
        return _made("wrong", what, most, PERCENT)
    level, index, name = gravest
    if level:
        what = (
            f"at {coldest:g} °C {name}: {RISKS[level]}, saturation index {index:+.2f}"
        )
        verdict = "wrong" if level >= LIKELY else "cannot tell"
        return _made(verdict, what, index, 0.0, mineral(name).source_key)
    what = f"at {coldest:g} °C no solid is near"
    what += f"; {salt} uses {most:.0f} % of its solubility" if salt else ""
    return _made("right", what, most, PERCENT)


def _made(verdict, what, number, limit, source_key="crc-solubility"):
    severity = "note" if verdict == "right" else "caution"
    return Finding(SUBJECT, verdict, what, number, limit, severity, RULE, source_key)
