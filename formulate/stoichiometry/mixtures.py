"""How solutions mix and thin.

Totals, unassigned charge and inorganic carbon are conserved and mix linearly. pH is a
reading that belongs to one solution; it is never averaged and does not survive mixing.
"""

from formulate.checks import checked_number, checked_pairs
from formulate.stoichiometry.quantities import check_volume
from formulate.stoichiometry.solution import Solution

__all__ = ["dilute", "mix"]


def mix(parts):
    """
    Return the solution that several solutions make together.

    Volumes are taken to add up, which holds within a few parts in a thousand for what is
    fed to plants.

    Equation of a mixture [definition]::

        c = Σ c_i V_i / Σ V_i        forms, unassigned charge and warmth alike; no pH

    Parameters
    ----------
    parts : iterable of (Solution, float)
        Each solution with its volume. [L]

    Returns
    -------
    Solution
        The mixture; without a pH, for pH does not mix linearly.

    Raises
    ------
    InputError
        If nothing is mixed, or a volume is not above 0.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> a, b = solution({"K": 2.0, "NO3": 2.0}), solution({})
    >>> mix([(a, 1.0), (b, 3.0)]).mmol_l("K")
    0.5
    """
    parts = checked_pairs(parts, Solution, ("mix", "solution", "volume"), check_volume)
    total = sum(volume for _, volume in parts)
    forms = {}
    for part, volume in parts:
        for key, value in part.forms.items():
            forms[key] = forms.get(key, 0.0) + value * (volume / total)
    charge = sum(part.unassigned_charge * (volume / total) for part, volume in parts)
    warmth = sum(part.temperature * (volume / total) for part, volume in parts)
    return Solution(forms, charge, warmth)


def dilute(solution, factor):
    """
    Return a solution thinned with pure water.

    Equation of a dilution [definition]::

        c = c before / factor        factor = final volume / volume taken

    Parameters
    ----------
    solution : Solution
        The solution.
    factor : float
        Final volume over the volume taken: 100 means 1 part made up to 100. [-]

    Returns
    -------
    Solution
        The thinner solution; without a pH.

    Raises
    ------
    InputError
        If the factor is below 1.

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> dilute(solution({"K": 200.0, "NO3": 200.0}), 100).mmol_l("K")
    2.0
    """
    factor = checked_number(factor, "dilute: factor", least=1)
    forms = {key: value / factor for key, value in solution.forms.items()}
    charge = solution.unassigned_charge / factor
    return Solution(
        forms, charge, solution.temperature, solution.ph if factor == 1 else None
    )
