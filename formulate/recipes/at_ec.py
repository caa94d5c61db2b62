"""A recipe at an EC, its ratios kept: the target thinned or strengthened until it fits.

A wanted EC as a limit bends the recipe: some nutrients give more than others. Here all give
alike, because the whole target is taken at one strength.
"""

import math

from formulate.errors import Faults, InputError, NoConvergence, OutOfReach
from formulate.ingredients.water import Water
from formulate.ingredients.water import water as as_water
from formulate.recipes.meters import reading
from formulate.recipes.scaling import MOST_STRENGTH, scaled
from formulate.recipes.solve import checked_shelf, metered_limit, solve
from formulate.recipes.target import Target, published_target
from formulate.stoichiometry.quantities import check_volume
from formulate.working import printed

__all__ = ["at_ec"]

SAME_EC = 1e-3  # share of the EC: closer than this is met
ROUNDS = 30


def at_ec(target, shelf, *, ec, water=None, **given):
    """
    Return the recipe that has an EC, the ratios of its target kept.

    Parameters
    ----------
    target : Target or str
        What is wanted at full strength, or the key of a published target.
    shelf : iterable of Ingredient or str
        What is at hand, as in `solve`.
    ec : float or str
        The EC, as mixed, at 25 °C; text may carry its unit. [mS/cm]
    water : Water, str or None
        The water; pure water if None.
    **given : object
        What `solve` takes besides: volume, requirements, amounts, ph, closed.

    Returns
    -------
    Recipe
        The recipe; its target tells the strength that was found.

    Raises
    ------
    InputError
        If the EC is none, or not that of one value; with every fault of `solve`.
    OutOfReach
        If the water alone has more, or five times the target has less.
    NoConvergence
        If limits hold the EC where it is, whatever the strength.

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> feed = target({"NO3-N": 210, "K": 235, "P": 31, "Ca": 160}, name="leaves")
    >>> salts = ["KNO3", "Ca(NO3)2·4H2O", "KH2PO4"]
    >>> recipe = at_ec(feed, salts, ec=1.2, volume=100)
    >>> round(reading("EC", recipe.solution), 2)
    1.2
    >>> recipe.target.name
    'leaves at 67.2 % strength'
    """
    faults, held = Faults("at_ec"), None
    with faults.collecting("target"):
        if isinstance(target, str):
            target = published_target(target)
    if not isinstance(target, Target):
        faults.add("no target; make one with target({'N': 150, ...}) or name one")
    with faults.collecting("water"):
        water = water if isinstance(water, Water) else as_water(water or {})
    checked_shelf(shelf, faults)
    with faults.collecting():
        check_volume(given.get("volume"))
    if isinstance(target, Target) and any(h.subject == "EC" for h in target.limits):
        faults.add("the target limits the EC already; give one or the other")
    with faults.collecting():
        held = metered_limit("EC", ec)
        if held.low != held.high or not held.low > 0:
            raise InputError("EC: write the one that is wanted, such as 1.8")
    faults.raise_if_any()
    own = reading("EC", water.solution)
    if own >= held.low:
        what = f"{water.name or 'the water'} alone has {printed(own, 3)} mS/cm"
        what += "; ask for more, or use a water with less in it"
        raise OutOfReach(f"at_ec: EC {held.low:g} mS/cm: {what}")
    return _found(target, shelf, held.low, own, {"water": water, **given})


def _found(target, shelf, ec, own, given):
    """Return the recipe at the strength that a line between two strengths points to."""
    low, high = (0.0, own), (math.inf, math.inf)
    strength = 1.0
    for _ in range(ROUNDS):
        recipe = solve(scaled(target, strength), shelf, **given)
        has = reading("EC", recipe.solution)
        if abs(has - ec) <= SAME_EC * ec:
            return recipe
        if has < ec:
            low = strength, has
        else:
            high = strength, has
        strength = _between(low, high, ec)
        if strength > MOST_STRENGTH:
            what = f"even {MOST_STRENGTH:g} times the target has less"
            what += "; ask for less, or raise the target"
            raise OutOfReach(f"at_ec: EC {ec:g} mS/cm: {what}")
    what = f"EC {ec:g} mS/cm: limits keep it at {printed(has, 3)} whatever the strength"
    raise NoConvergence(f"at_ec: {what}", state=recipe)


def _between(low, high, ec):
    """Return the strength at which a straight line between two has the EC.

    Equation [definition]::

        strength = s1 + (s2 − s1) (EC − EC1)/(EC2 − EC1)
    """
    if math.isinf(high[0]):
        return max(low[0] * ec / low[1], 1.05 * low[0])
    share = (ec - low[1]) / (high[1] - low[1])
    return low[0] + min(max(share, 0.02), 0.98) * (high[0] - low[0])
