"""Can this liquid stay clear at label strength: its ions speciated in the cold.

How cold it is kept is no claim of a label, so what is near at that temperature is told and
does not refute it; two things do: one salt alone, far beyond its solubility in a warm room,
and a solid such as gypsum that is certain at every temperature, hardly depends on it and is
no matter of pH.
"""

import re

import numpy as np

from formulate.checks import checked_number
from formulate.chemistry.risks import RISKS, salt_shares
from formulate.chemistry.solids import mineral
from formulate.claims.finding import Finding
from formulate.claims.loose_sources import loose_source
from formulate.errors import FormulateError
from formulate.mixing.nearness import mixing_rule, most_of, nearness
from formulate.mixing.tank_contents import stock_level
from formulate.stoichiometry.solution import Solution
from formulate.tables import rule_of
from formulate.working import printed

__all__ = ["clear_finding"]

PERCENT, PER_LITRE = 100.0, 1000.0
THICK = re.compile(r"suspen|sospens|slurr|schlamm|schlämm|papilla", re.IGNORECASE)
POLYPHOSPHATE = "P2O7"  # in the formula of what a source may be
FILLING = {True: "chloride", False: "sodium"}  # for ions that are not named
OPEN_CHARGE = 0.02  # share of the charge that may be unnamed before nothing is said
SUBJECT = "clear liquid"
RULE = "saturation indices and handbook solubilities at label strength"
TRACE = 0.01  # of the ions: less is not counted as another salt
LIQUOR = "handbook solubilities are of one salt in pure water and do not hold in such a liquor of "
MOSTLY = 1 / 3  # of all ions: about half of the charge is nitrate's then
CHARGES = {"calcium": 2, "potassium": 1, "sulfate": -2}
WEAK = ("phosphate", "carbonate", "borate", "silicate", "molybdate")
CERTAIN = RISKS.index("certain")
CATIONS = ("potassium", "calcium", "magnesium", "sodium", "ammonium")


def clear_finding(
    made, density, *, coldest=None, sources=(), text="", least_forms=None
):
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
    sources : sequence of str
        What it is derived from, as the label names it.
    text : str
        The label, on which a suspension says so.
    least_forms : mapping of str to float or None
        Form to the least of it that its sources allow, in a gram or millilitre; as `made`
        if None. [mmol]

    Returns
    -------
    Finding
        "right"; "cannot tell" where ions are not known or a solid is near at that
        temperature; "wrong" only for one salt alone, far beyond its solubility at 25 °C, and
        for a solid that is certain at 10 and at 40 °C alike.

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
    poly = [name for name in sources if _is_polyphosphate(name)]
    if poly:
        return _unknown(_poly_words(poly), "caution")
    factor = PER_LITRE * (density if made.measured_in == "g" else 1.0)
    charge = made.unassigned_charge * factor
    forms = {key: amount * factor for key, amount in made.forms.items()}
    if abs(charge) > OPEN_CHARGE * max(sum(forms.values()), 1.0):
        open_ions = f"{printed(abs(charge))} meq/L of ions are not named by the label or sources"
        if _may_be_solid(sources, text):
            return _unknown(open_ions)
        return _of_named_ions(forms, charge, open_ions)
    try:
        near = nearness(Solution(forms, charge, coldest), strict=False)
        found = _judged(near, coldest)
        if found.verdict == "right":
            return found
        lowest = {key: amount * factor for key, amount in (least_forms or {}).items()}
        steady = ()
        if not _may_be_solid(sources, text):
            steady = _steady(_at_least(forms, lowest), charge)
        if steady:
            return _made("wrong", f"{steady[0]}; it cannot stay clear", *steady[1:])
        return _alone(forms, charge) or found
    except FormulateError as error:
        return _unknown(f"its ions could not be settled ({error.faults[0]})")


def _unknown(why, severity="note"):
    what = f"{why}; it cannot be told whether it stays clear"
    facts = {"severity": severity, "rule": RULE, "source_key": "stoichiometry"}
    return Finding(SUBJECT, "cannot tell", what, **facts)


def _is_polyphosphate(name):
    """Return whether a source holds polyphosphates."""
    known = loose_source(name)
    made = known.materials if known else ()
    return any(POLYPHOSPHATE in material.name for material in made)


def _poly_words(names):
    return (
        f"{' and '.join(names)}: polyphosphates dissolve better than the orthophosphate that "
        "is counted for them"
    )


def _may_be_solid(sources, text):
    """Return whether a label tells of solids in the liquid, or of sulfur that is no sulfate."""
    is_other = any(
        "S" in known.uncounted for known in map(loose_source, sources) if known
    )
    return is_other or bool(THICK.search(text))


def _steady(forms, charge):
    """Return what is certain to fall out however warm it is, in words and numbers, or ()."""
    rules = [f"steady {each}" for each in ("from", "to", "index")]
    *ends, most = (rule_of("claim_rules", each).number("value") for each in rules)
    cold, warm = (nearness(Solution(forms, charge, end), strict=False) for end in ends)
    if not (np.all(cold.settled) and np.all(warm.settled)):
        return ()
    for name in filter(_is_steady_kind, cold.counting):
        low, high = (float(each.counting.get(name, -np.inf)) for each in (cold, warm))
        is_certain = min(stock_level(name, each) for each in (low, high)) == CERTAIN
        is_much = most_of(name, forms) > TRACE * sum(forms.values())
        if is_certain and is_much and abs(high - low) < most:
            what = (
                f"{name}: certain at {ends[0]:g} and at {ends[1]:g} °C, saturation index "
                f"{low:+.2f} and {high:+.2f}, which hardly depends on the temperature"
            )
            return what, min(low, high), 0.0, mineral(name).source_key
    return ()


def _at_least(forms, least):
    """Return the forms with the least of some, other ions without a solid in their place."""
    made = dict(forms)
    for form, amount in least.items():
        less = max(made.get(form, 0.0) - amount, 0.0)
        if less:
            filling = FILLING[form == "sulfate"]
            made[form] -= less
            made[filling] = made.get(filling, 0.0) + abs(CHARGES[form]) * less
    return made


def _is_steady_kind(name):
    """Return whether a solid is none of a pH, which untold acids may move, and no trace."""
    made = mineral(name)
    protons = any(species == "H+" for species, _ in made.components)
    return not protons and not any(form in WEAK for form in made.forms)


def _of_named_ions(forms, charge, open_ions):
    """Return the finding on a liquid of which some ions are not named."""
    if not {"calcium", "sulfate"} <= {*forms}:
        return _unknown(open_ions)
    filling = FILLING[charge < 0]
    closed = {**forms, filling: forms.get(filling, 0.0) + abs(charge)}
    try:
        steady = _steady(closed, 0.0)
    except FormulateError:
        steady = ()
    if not steady:
        return _unknown(open_ions)
    what = (
        f"{steady[0]}, if the sulfur is sulfate and the calcium is held by nothing; "
        f"{open_ions}"
    )
    return _made("cannot tell", what, *steady[1:])


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
    severity = {"right": "note", "wrong": "serious"}.get(verdict, "caution")
    return Finding(SUBJECT, verdict, what, number, limit, severity, RULE, source_key)
