"""How much of its water a job without a recipe may use, the rest pure: worked out and tried."""

import math

from formulate.errors import FormulateError
from formulate.ingredients.water import water
from formulate.recipes.water_share import share_of_water
from formulate.workbench.edits import with_share
from formulate.workbench.findings import Findings

__all__ = ["share_kept"]

PERCENT, TENTHS = 100.0, 10
TRIED = 3  # tenths of a percent: rounding of weights may ask for one less


def share_kept(job):
    """
    Return the greatest share of its water at which a job has a recipe.

    Parameters
    ----------
    job : Job
        A job without a recipe.

    Returns
    -------
    (float, tuple of str) or None
        The share, rounded down to a tenth, and what holds it back; None where less of the
        water does not help, or no share was found that has a recipe. [%]

    Examples
    --------
    >>> from formulate.jobs import Job, ShelfLine
    >>> wish = (("wanted", (("K", "180"),)), ("limits", (("Na", "at most 50 mg/L"),)))
    >>> well, shelf = (("Na", "112 mg/L"),), (ShelfLine("KNO3"),)
    >>> share_kept(Job(volume="150 L", target=wish, water=well, shelf=shelf))
    (44.6, ('Na at most 50 mg/L',))
    """
    found = Findings(job)
    alone = found.water_alone
    if alone is None or not any(alone.solution.forms.values()):
        return None
    try:
        told = _greatest(found.outcome, alone)
    except FormulateError:  # pure water alone does not keep it either
        return None
    tenths = math.floor(TENTHS * PERCENT * told.shares[told.first] + 1e-6)
    if tenths >= TENTHS * PERCENT:
        return None
    for less in range(min(TRIED, tenths + 1)):
        percent = (tenths - less) / TENTHS
        if Findings(with_share(job, f"{percent:g}")).has_recipe:
            return percent, told.held_back
    return None


def _greatest(outcome, alone):
    """Return the shares of the water of a job and of pure water that keep its limits.

    A wish may be missed by all of it: it is the limits that are in the way, and the recipe
    for the blend is the nearest one all the same.
    """
    facts = {"volume": outcome.volume, "amounts": outcome.amounts, "within": 1.0}
    waters = {"this water": alone, "pure water": water({})}
    return share_of_water(outcome.target, outcome.shelf, waters=waters, **facts)
