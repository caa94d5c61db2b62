"""Is this solution safe for plants? Every solution against a table of limits, by stage.

These are limits of common knowledge and published guides, not advice for a crop; they are
told even where a target asks for more.
"""

from itertools import pairwise

from formulate.checks import checked_number
from formulate.errors import InputError, MissingData, shortened
from formulate.notices import Notice, gravest_first
from formulate.stoichiometry.charge import check_ph
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.units import convert
from formulate.tables import read_table, recipe_rule
from formulate.working import printed

__all__ = ["STAGES", "ec_of_cations", "plant_safety", "rough_cations", "rough_ec"]

STAGES = ("seedling", "young", "mature")
SLACK = 0.005  # limits are round numbers: half a percent passes none


def rough_ec(solution):
    """
    Return the conductivity that a simple rule gives.

    Straight lines on the sum of cations: one rule for dilute waters [usda-hb60], one for
    feeds [sonneveld-ec-1999], and a line that joins them. Good to about 10 %.

    Parameters
    ----------
    solution : Solution
        The solution.

    Returns
    -------
    float
        Conductivity at 25 °C. [mS/cm]

    Raises
    ------
    MissingData
        If the solution is stronger than any rule of the table.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> round(rough_ec(solution({"K": 7, "Ca": 4.5, "Mg": 2, "NO3": 12})), 2)
    2.09
    """
    return ec_of_cations(solution.cations())


def ec_of_cations(cations):
    """
    Return the rough conductivity of a solution with so many cations.

    Parameters
    ----------
    cations : float
        Sum of the cations. [meq/L]

    Returns
    -------
    float
        Conductivity at 25 °C. [mS/cm]

    Raises
    ------
    MissingData
        If it is more than any rule of the table reaches.

    Examples
    --------
    >>> round(ec_of_cations(20.0), 2)
    2.09
    """
    return _along(_rule_points(), cations, "{:.3g} meq/L of cations")


def rough_cations(ec):
    """
    Return the cations that a simple rule takes a conductivity to mean.

    The other way round of `rough_ec`.

    Parameters
    ----------
    ec : float
        Conductivity at 25 °C. [mS/cm]

    Returns
    -------
    float
        Sum of the cations. [meq/L]

    Raises
    ------
    MissingData
        If it is more than any rule of the table reaches.

    Examples
    --------
    >>> round(rough_cations(2.09), 1)
    20.0
    """
    ec = checked_number(ec, "EC in mS/cm", least=0)
    points = [(value, cations) for cations, value in _rule_points()]
    return _along(points, ec, "EC {:.3g} mS/cm")


def _rule_points():
    """Return the ends of the straight rules, one after the other: (cations, EC)."""
    return [point for row in read_table("ec_rules") for point in _ends(row)]


def _along(points, value, words):
    """Return the second of a pair of numbers from the first, on lines between points."""
    for (start, first), (end, last) in pairwise(points):
        if start <= value <= end:
            return first + (last - first) * (value - start) / (end - start)
    what = f"{words.format(value)}: the simple EC rules end at {points[-1][0]:.3g}"
    raise MissingData(f"{what}; dilute, or measure")


def _ends(row):
    """Return the two ends of one straight rule: (cations, EC) each."""
    slope, intercept = row.number("slope"), row.number("intercept")
    ends = (row.number("from_cations"), row.number("to_cations"))
    return [(cations, slope * cations + intercept) for cations in ends]


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
        Measured pH; the solution's own if None, and not looked at if that is None too. [-]
    ec : float or None
        Measured conductivity at 25 °C; by a simple rule if None. [mS/cm]

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
    >>> for notice in plant_safety(solution({"B": "2 mg/L", "K": 5, "NO3": 5})):
    ...     print(notice)
    caution: B 2.000 mg/L, above 0.7: sensitive crops scorch at the leaf margin
    """
    if stage not in STAGES:
        raise InputError(f"stage {shortened(stage)}: write one of {', '.join(STAGES)}")
    ph = solution.ph if ph is None else check_ph(ph)
    ec = None if ec is None else checked_number(ec, "EC in mS/cm", least=0)
    values, about = _values(solution, ph, ec)
    found = _free_acid(solution)
    for row in read_table("plant_limits"):
        value = values.get(row["quantity"])
        if value is None or row["stage"] not in (stage, "any"):
            continue
        notice = _passed(row, value, about)
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


def _values(solution, ph, ec):
    """Return quantity to value in the unit of its limit, and which are only about so."""
    keys = {row["quantity"]: row["unit"] for row in read_table("plant_limits")}
    nitrogen = solution.mmol_l("N")
    values = {
        "pH": ph,
        "EC": ec,
        "ammonium share": 100 * solution.mmol_l("NH4-N") / nitrogen
        if nitrogen
        else None,
    }
    for key, of_unit in keys.items():
        if key not in values:
            known = nutrient(key)
            values[key] = convert(solution.mmol_l(key), "mmol/L", of_unit, of=known)
    if ec is not None or solution.alkalinity() < -_free_acid_limit():
        return values, ()  # acid carries current that the rules do not know
    try:
        values["EC"] = rough_ec(solution)
    except MissingData:
        values["EC"] = float("inf")
    return values, ("EC",)


def _passed(row, value, about):
    """Return the notice that a limit asks for, or None."""
    low, high = row.number("low"), row.number("high")
    over = high is not None and value > high * (1 + SLACK)
    under = low is not None and value < low * (1 - SLACK)
    if not (over or under):
        return None
    limit, side = (high, "above") if over else (low, "below")
    text = f"{row['quantity']} beyond what the simple rules tell"
    if value != float("inf"):
        word = "about " if row["quantity"] in about else ""
        text = f"{row['quantity']} {word}{printed(value)} {row['unit']}".strip()
    what = f"{text}, {side} {limit:g}: {row['effect']}"
    return Notice(what, row["severity"], value, limit, row["source_key"])


def _is_graver(notice, other):
    return other is None or notice.gravity > other.gravity
