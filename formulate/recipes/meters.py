"""What meters show of a solution, as far as a recipe may be asked for it: pH and EC."""

from formulate.chemistry.acidity import ph_rule
from formulate.chemistry.conductivity import ec
from formulate.chemistry.speciation import speciate
from formulate.stoichiometry.solution import Solution

__all__ = ["METERS", "reading"]

METERS = {  # what is read: unit, and whether the solution stands open to the air
    "pH": ("", True),
    "pH when mixed": ("", False),
    "EC": ("mS/cm", False),
}


def reading(subject, solution):
    """
    Return what a meter shows of a solution.

    Parameters
    ----------
    subject : str
        "pH" (in balance with the air), "pH when mixed" (closed to it) or "EC" (as mixed,
        at 25 °C).
    solution : Solution
        One solution or a stack.

    Returns
    -------
    float or array
        The reading, by the model of the package. [-]

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> round(reading("EC", solution({"K": 10.0, "Cl": 10.0})), 2)
    1.42
    """
    if subject == "EC":
        return ec(solution)
    if solution.ph is not None:  # measured once; what is mixed has its own
        solution = Solution(
            solution.forms, solution.unassigned_charge, solution.temperature
        )
    return speciate(solution, air_co2_ppm=air_of(subject)).ph


def air_of(subject):
    """
    Return the carbon dioxide of the air that a pH is meant in balance with.

    Parameters
    ----------
    subject : str
        "pH" or "pH when mixed".

    Returns
    -------
    float or None
        Carbon dioxide; None if closed to the air. [µmol/mol]

    Examples
    --------
    >>> air_of("pH"), air_of("pH when mixed")
    (420.0, None)
    """
    return ph_rule("air carbon dioxide") if METERS[subject][1] else None
