"""Mixing a batch in some order: which orders there can be, and what each would do."""

from formulate.errors import Faults, InputError, UnknownName, shortened
from formulate.ingredients.salts import as_ingredient
from formulate.mixing.batch import batch_of, check_share
from formulate.mixing.mixing_log import MixingLog, shares_and_water
from formulate.mixing.nearness import mixing_rule, nearness

__all__ = ["checked_order", "simulate_mixing"]


def checked_order(batch, order):
    """
    Return an order as the names of the batch, each once.

    Parameters
    ----------
    batch : Batch
        The batch.
    order : iterable of str or Ingredient, or None
        Names or formulas of all ingredients; None means as written.

    Returns
    -------
    tuple of str
        Names.

    Raises
    ------
    InputError
        With every name that is missing, unknown or there twice.

    Examples
    --------
    >>> batch = batch_of({"KNO3": 5.0, "CaCl2": 5.0}, volume=10)
    >>> checked_order(batch, ["CaCl2", "KNO3"])
    ('CaCl2', 'KNO3')
    """
    if order is None:
        return batch.names
    if isinstance(order, str) or not hasattr(order, "__iter__"):
        raise InputError(f"order: {shortened(order)}; give a list of names")
    faults, found = Faults("order"), []
    for thing in order:
        with faults.collecting():
            found.append(_name_in(batch, thing))
    for name in dict.fromkeys(n for n in found if found.count(n) > 1):
        faults.add(f"{name} stands there {found.count(name)} times; name each once")
    missing = [name for name in batch.names if name not in found]
    if missing:
        faults.add(f"{', '.join(missing)} missing; name every ingredient once")
    faults.raise_if_any()
    return tuple(found)


def _name_in(batch, thing):
    """Return the name under which an ingredient stands in the batch."""
    name = getattr(thing, "name", thing)
    names = {one.casefold(): one for one in batch.names}
    if isinstance(name, str) and name.strip().casefold() in names:
        return names[name.strip().casefold()]
    try:
        formula = as_ingredient(thing).formula
    except (InputError, UnknownName):
        formula = ""
    same = [i.name for i in batch.ingredients if formula and i.formula == formula]
    if len(same) == 1:
        return same[0]
    raise InputError(f"{shortened(name)} is not in the batch: {', '.join(batch.names)}")


def simulate_mixing(
    recipe,
    order=None,
    *,
    start_fraction=None,
    volume=None,
    water=None,
    temperature=None,
    activity=None,
):
    """
    Return what happens as a batch is mixed in some order.

    Parameters
    ----------
    recipe : Recipe, Weighing, Batch or mapping
        What is mixed; a mapping of ingredient to amount needs a volume. [g]
    order : iterable of str or Ingredient, or None
        The order in which the ingredients go in; None means as written.
    start_fraction : float or None
        Share of the final water that is in first; 0.75 if None, 0.25 for a small bucket
        that is filled up afterwards. [-]
    volume : float or str or None
        Final volume of a mapping. [L]
    water : Water, str or None
        The water of a mapping; pure water if None.
    temperature : float or None
        Temperature of the water; its own if None. [°C]
    activity : str or None
        Model of the activity coefficients for all steps; None means "blend".

    Returns
    -------
    MixingLog
        Every step with its volume, pH, EC, indices, and what falls out in the end.

    Raises
    ------
    InputError
        With every fault: an order that misses or repeats an ingredient, a share of 0 or 1,
        a liquid without density, no room for water.

    Examples
    --------
    Epsom salt and calcium nitrate, both in a quarter of the water:

    >>> bucket = {"Ca(NO3)2·4H2O": 40.0, "MgSO4·7H2O": 25.0}
    >>> log = simulate_mixing(bucket, volume=20, start_fraction=0.25)
    >>> log.worst.nearest, round(log.worst.index, 2), log.clears_at < 20
    ('gypsum', 0.1, True)
    """
    faults, batch = Faults("simulate_mixing"), None
    given = {"volume": volume, "water": water, "temperature": temperature}
    with faults.collecting():
        batch = batch_of(recipe, **given)
        order = checked_order(batch, order)
    with faults.collecting():
        if start_fraction is None:
            start_fraction = mixing_rule("water first")
        start_fraction = check_share(start_fraction)
    faults.raise_if_any()
    mixtures = batch.mixtures(*shares_and_water(batch, order, start_fraction))
    return MixingLog(
        batch, order, start_fraction, nearness(mixtures, activity=activity)
    )
