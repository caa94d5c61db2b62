"""Can this liquid stay clear at label strength: its ions speciated in the cold.

How cold it is kept is no claim of a label, so what is near at that temperature is told and
does not refute it; only one salt alone, far beyond its solubility in a warm room, does.
"""

import numpy as np

from formulate.checks import checked_number
from formulate.chemistry.risks import RISKS, salt_shares
from formulate.chemistry.solids import mineral
from formulate.claims.finding import Finding
from formulate.errors import FormulateError
from formulate.mixing.nearness import mixing_rule, nearness
from formulate.mixing.tank_contents import stock_level
from formulate.stoichiometry.solution import Solution
from formulate.tables import rule_of
from formulate.working import printed

__all__ = ["clear_finding"]

PERCENT, PER_LITRE = 100.0, 1000.0
OPEN_CHARGE = 0.02  # share of the charge that may be unnamed before nothing is said
SUBJECT = "clear liquid"
RULE = "saturation indices and handbook solubilities at label strength"
TRACE = 0.01  # of the ions: less is not counted as another salt
LIQUOR = "handbook solubilities are of one salt in pure water and do not hold in such a liquor of "
MOSTLY = 1 / 3  # of all ions: about half of the charge is nitrate's then
CATIONS = ("potassium", "calcium", "magnesium", "sodium", "ammonium")


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
        "right"; "cannot tell" where ions are not known or a solid is near at that
        temperature; "wrong" only for one salt alone, far beyond its solubility at 25 °C.

    Examples
    --------
    >>> from formulate.ingredients.ingredient import from_formula
    >>> print(clear_finding(from_formula("KNO3", percent=40), 1.29))
    clear liquid: wrong; at 25 °C KNO3 uses 168 % of its solubility, and nothing else is in it
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
        found = _judged(near, coldest)
        return _alone(forms, charge) or found if found.verdict != "right" else found
    except FormulateError as error:
        return _unknown(f"its ions could not be settled ({error.faults[0]})")


def _unknown(why):
    what = f"{why}; it cannot be told whether it stays clear"
    return Finding(SUBJECT, "cannot tell", what, rule=RULE, source_key="stoichiometry")


def _judged(near, coldest):
    """Return the finding on a liquid whose ions are settled, at one temperature."""
    if not np.all(near.settled):
        return _unknown("too little water has room in it for the model to hold")
    rows = [(float(v), name) for name, v in near.counting.items()]
    levels = [(stock_level(name, index), index, name) for index, name in rows]
    level, index, name = max(levels, default=(0, 0.0, ""))
    most, salt = _greatest_use(near)
    if most > PERCENT:
        what = f"at {coldest:g} °C {salt} uses {most:.0f} % of its solubility"
        return _near(near, what, most, PERCENT, "crc-solubility")
    if level:
        what = (
            f"at {coldest:g} °C {name}: {RISKS[level]}, saturation index {index:+.2f}"
        )
        return _near(near, what, index, 0.0, mineral(name).source_key)
    what = f"at {coldest:g} °C no solid is near"
    what += f"; {salt} uses {most:.0f} % of its solubility" if salt else ""
    return _made("right", what, most, PERCENT)


def _greatest_use(near):
    """Return how much of its solubility the scarcest salt uses, and the salt. [%]"""
    uses = [(float(v), salt) for salt, v in salt_shares(near.state).items()]
    return max(uses, default=(0.0, ""))


def _alone(forms, charge):
    """Return the finding on one salt alone that no usual store keeps clear, or None."""
    whole = sum(forms.values())
    if sum(amount > TRACE * whole for amount in forms.values()) != len(
        ("one", "other")
    ):
        return None
    most = rule_of("claim_rules", "one salt alone").number("value")
    warm = rule_of("claim_rules", "solubility at").number("value")
    near = nearness(Solution(forms, charge, warm), strict=False)
    used, salt = _greatest_use(near)
    if not np.all(near.settled) or used <= most:
        return None
    what = f"at {warm:g} °C {salt} uses {used:.0f} % of its solubility"
    return _made("wrong", f"{what}, and nothing else is in it", used, most)


def _near(near, what, number, limit, source_key):
    """Return the finding on a solid that is near, which does not refute a label."""
    what += "; how cold it is kept is no claim of a label, so this does not refute it"
    liquor = _liquor(near.state.solution.forms)
    if liquor:
        what += f"; {LIQUOR}{liquor}"
    return _made("cannot tell", what, number, limit, source_key)


def _liquor(forms):
    """Return what makes a mixture so unlike pure water that handbooks tell little, or ""."""
    whole = sum(map(float, forms.values()))
    held = {name for name, amount in forms.items() if float(amount) > TRACE * whole}
    if {"urea", "nitrate", "ammonium"} <= held:
        return "urea and ammonium nitrate"
    is_nitrate = float(forms.get("nitrate", 0.0)) > MOSTLY * whole
    return "mixed nitrates" if is_nitrate and len(held & {*CATIONS}) > 1 else ""


def _made(verdict, what, number, limit, source_key="crc-solubility"):
    severity = "note" if verdict == "right" else "caution"
    return Finding(SUBJECT, verdict, what, number, limit, severity, RULE, source_key)
