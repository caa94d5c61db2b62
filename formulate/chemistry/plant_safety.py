"""Is this solution safe for plants? Every solution against a table of limits, by stage.

These are limits of common knowledge and published guides, not advice for a crop; they are
told even where a target asks for more. pH and EC are those of the solution chemistry,
where none was measured.
"""

from formulate.checks import checked_number
from formulate.chemistry.acidity import ph_range
from formulate.chemistry.conductivity import REFERENCE, conductivity
from formulate.chemistry.speciation import speciate
from formulate.errors import InputError, shortened
from formulate.notices import Notice, gravest_first
from formulate.stoichiometry.charge import check_ph
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.units import convert
from formulate.tables import read_table, recipe_rule
from formulate.working import printed

__all__ = ["STAGES", "plant_safety"]

STAGES = ("seedling", "young", "mature")
SLACK = 0.005  # limits are round numbers: half a percent passes none


def plant_safety(solution, *, stage="mature", ph=None, ec=None):
    """
    Return what in a solution may harm plants at a stage.

    Parameters
    ----------
    solution : Solution
        What the roots get.
    stage : str
        "seedling", "young" or "mature".
    ph : float or None
        Measured pH; if None the solution's own, or the one that its charges give, judged by
        the near end of its interval. [-]
    ec : float or None
        Measured conductivity at 25 °C; computed from the ions if None. [mS/cm]

    Returns
    -------
    tuple of Notice
        One for each limit that is passed, the gravest first; none means that nothing in
        the table objects, not that a crop will thrive.

    Raises
    ------
    InputError
        If there is no such stage.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> for notice in plant_safety(solution({"B": "2 mg/L", "K": 5, "NO3": 5}), ph=6):
    ...     print(notice)
    caution: B 2.000 mg/L, above 0.7: sensitive crops scorch at the leaf margin
    """
    if stage not in STAGES:
        raise InputError(f"stage {shortened(stage)}: write one of {', '.join(STAGES)}")
    given = None if ph is None else check_ph(ph)
    ec = None if ec is None else checked_number(ec, "EC in mS/cm", least=0)
    state = None
    if ec is None or (given is None and solution.ph is None):
        state = speciate(solution, ph=given, temperature=REFERENCE)
    values = _values(solution, state, ec)
    values["pH"] = _ph_ends(given, solution, state)
    found = _free_acid(solution)
    for row in read_table("plant_limits"):
        value = values.get(row["quantity"])
        if value is None or row["stage"] not in (stage, "any"):
            continue
        notice = _passed(row, value)
        if notice and _is_graver(notice, found.get(row["quantity"])):
            found[row["quantity"]] = notice
    return gravest_first(found.values())


def _free_acid_limit():
    return recipe_rule("free acid").number("high")


def _free_acid(solution):
    """Return a notice if the charges leave free acid, whatever the pH meter says."""
    acid, limit = -solution.alkalinity(), _free_acid_limit()
    if acid <= limit:
        return {}
    what = f"free acid {printed(acid)} meq/L, above {limit:g}: roots burn below pH 4"
    return {"acid": Notice(what, "serious", acid, limit, "definition")}


def _ph_ends(given, solution, state):
    """Return the lowest and the highest the pH may be."""
    known = solution.ph if given is None else given
    if known is not None:
        return known, known
    found = ph_range(state)
    return found.low, found.high


def _values(solution, state, ec):
    """Return quantity to value in the unit of its limit."""
    keys = {row["quantity"]: row["unit"] for row in read_table("plant_limits")}
    nitrogen = solution.mmol_l("N")
    share = 100 * solution.mmol_l("NH4-N") / nitrogen if nitrogen else None
    values = {
        "pH": None,
        "EC": conductivity(state).ec if ec is None else ec,
        "ammonium share": share,
    }
    for key, of_unit in keys.items():
        if key not in values:
            known = nutrient(key)
            values[key] = convert(solution.mmol_l(key), "mmol/L", of_unit, of=known)
    return values


def _passed(row, value):
    """Return the notice that a limit asks for, or None; of two ends both must pass it."""
    low, high = row.number("low"), row.number("high")
    least, most = value if isinstance(value, tuple) else (value, value)
    over = high is not None and least > high * (1 + SLACK)
    under = low is not None and most < low * (1 - SLACK)
    if not (over or under):
        return None
    limit, side, value = (high, "above", least) if over else (low, "below", most)
    shown = f"{value:.1f}" if row["quantity"] == "pH" else printed(value)
    text = f"{row['quantity']} {shown} {row['unit']}".strip()
    if least != most:
        text = f"{row['quantity']} {least:.1f} to {most:.1f}"
    what = f"{text}, {side} {limit:g}: {row['effect']}"
    return Notice(what, row["severity"], value, limit, row["source_key"])


def _is_graver(notice, other):
    return other is None or notice.gravity > other.gravity
