"""A rough conductivity from the sum of cations, by straight rules of the trade.

Good to about 10 %. Where the ions are known the solution chemistry does better
(`chemistry/conductivity.py`); a target by itself, without salts and water, rests on these.
"""

from itertools import pairwise

from formulate.checks import checked_number
from formulate.errors import MissingData
from formulate.tables import read_table

__all__ = ["ec_of_cations", "rough_cations", "rough_ec"]


def rough_ec(solution):
    """
    Return the conductivity that a simple rule gives.

    Straight lines on the sum of cations: one rule for dilute waters [usda-hb60], one for
    feeds [sonneveld-ec-1999], and a line that joins them. Good to about 10 %.

    Equation [usda-hb60; sonneveld-ec-1999]::

        EC = 0.1 C                  C sum of cations in meq/L, to 5
        EC = 0.19 + 0.095 C         from 10 to 60; a straight line between 5 and 10

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
