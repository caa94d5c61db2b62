"""Stock tanks: which concentrate holds what, the best of all splits.

Acids have a tank of their own, and so have silicate, carbonates and lyes. The rest is put
into two or three tanks as `tank_split` finds best, of all splits there are. What one tank
would be too full of is divided between two, if it keeps in both.
"""

from dataclasses import replace
from types import MappingProxyType

import numpy as np

from formulate.checks import checked_number
from formulate.chemistry.speciation import speciate
from formulate.chemistry.water_properties import check_temperature
from formulate.chemistry.waters import water as as_water
from formulate.errors import Faults, Infeasible, InputError, NoConvergence
from formulate.ingredients.hazards import is_meant
from formulate.ingredients.water import Water
from formulate.mixing.batch import Batch, batch_of, column_of
from formulate.mixing.nearness import mixing_rule
from formulate.mixing.stock_tank import MAIN, ROOM, StockTank
from formulate.mixing.stock_tanks import StockTanks
from formulate.mixing.strength import strength_of, usual_strength
from formulate.mixing.tank_contents import LIKELY, PERCENT, concentrates, splits_of
from formulate.mixing.tank_words import tank_reasons
from formulate.stoichiometry.quantities import check_volume
from formulate.tables import rule_of

__all__ = ["split_tanks"]

LEAST_STRENGTH = 2.0  # below it nothing is a concentrate
APART = (  # name of the tank, what belongs into it
    ("acid", "role:acid"),
    ("alkaline", "form:silicate"),
    ("alkaline", "role:alkali"),
    ("alkaline", "form:carbonate"),
)


def split_tanks(
    recipe,
    *,
    strength=None,
    tanks=2,
    coldest=None,
    tank_volume=None,
    stock_water=None,
    volume=None,
    water=None,
):
    """
    Return the concentrates of a batch: what goes into which tank, and how it keeps.

    Of all ways to fill the tanks the best one is taken: the nearest solid of the worst tank
    is as far as can be at the coldest temperature, then that of the next; then what the
    rules hold against company in a tank; then even use of solubility; then habit. Acids go
    into a tank of their own, and so do silicate, carbonates and lyes.

    Parameters
    ----------
    recipe : Recipe, Weighing, Batch or mapping
        The working solution; a mapping of ingredient to amount needs a volume. [g]
    strength : str, float or None
        "1:100", "1+99", "1 %" or 100; 1:100 if None. [-]
    tanks : int
        Number of tanks beside that of the acid: 1, 2 or 3. [-]
    coldest : float or None
        Coldest temperature in which they are kept, from 0 to 40; 10 if None. [°C]
    tank_volume : float, str or None
        Volume of each tank; what the batch takes if None. [L]
    stock_water : Water, str or None
        The water of the stocks; that of the batch if None.
    volume : float or str or None
        Final volume of a mapping. [L]
    water : Water, str or None
        The water of a mapping; pure water if None.

    Returns
    -------
    StockTanks
        The tanks with check values, margins, reasons, and the greatest strength.

    Raises
    ------
    InputError
        With every fault: a strength that leaves no room for water, a number of tanks.
    Infeasible
        If no split dissolves and stays clear; it says what falls out and what would do.

    Examples
    --------
    >>> feed = {"KH2PO4": 20.0, "MgSO4·7H2O": 50.0, "Ca(NO3)2·4H2O": 90.0}
    >>> found = split_tanks(feed, strength="1:100", volume=100)
    >>> [(tank.name, [i.name for i, _ in tank.parts]) for tank in found.tanks]
    [('A', ['Ca(NO3)2·4H2O']), ('B', ['KH2PO4', 'MgSO4·7H2O'])]
    """
    faults, batch, times = Faults("split_tanks"), None, None
    with faults.collecting():
        batch = batch_of(recipe, volume=volume, water=water)
    with faults.collecting():
        times = usual_strength() if strength is None else strength_of(strength)
    with faults.collecting():
        if isinstance(tanks, bool) or tanks not in (1, 2, 3):
            raise InputError(
                f"tanks: {tanks!r}; write 1, 2 or 3; the acid's is one more"
            )
    with faults.collecting():
        cold = mixing_rule("coldest") if coldest is None else coldest
        cold = checked_number(
            check_temperature(cold), "coldest in °C", least=0, most=40
        )
    with faults.collecting():
        tank_volume = None if tank_volume is None else check_volume(tank_volume)
    with faults.collecting("stock_water"):
        own = stock_water is None or isinstance(stock_water, Water)
        stock_water = stock_water if own else as_water(stock_water)
    faults.raise_if_any()
    made_with = batch.water if stock_water is None else stock_water
    stock_batch = replace(batch, water=made_with)
    _refuse_no_room(stock_batch, times, tanks)
    groups = _groups(stock_batch)
    shares, divided = _main_tanks(stock_batch, groups["main"], times, tanks, cold)
    try:
        found = _made(stock_batch, shares, groups, times, cold, tank_volume)
    except NoConvergence:
        what = f"{times.as_ratio} is so strong that the equations do not come to rest"
        raise Infeasible(f"split_tanks: {what}; make it weaker") from None
    made = StockTanks(batch, times, cold, found, made_with, divided)
    _refuse_cloud(made, tanks, made_with)
    return made


def _groups(batch):
    """Return places of the ingredients by kind of tank: main, acid, alkaline."""
    found = {"main": [], "acid": [], "alkaline": []}
    for place, ingredient in enumerate(batch.ingredients):
        kinds = [name for name, terms in APART if is_meant(ingredient, terms)]
        found[kinds[0] if kinds else "main"].append(place)
    most = mixing_rule("most ingredients")
    if len(found["main"]) > most:
        what = f"{len(found['main'])} ingredients; up to {most:g} can be split"
        raise InputError(f"split_tanks: {what}. Take the trace elements as one stock")
    return found


def _refuse_no_room(batch, strength, tanks):
    """Refuse a strength at which the salts have no room in the tanks, in words."""
    limit = rule_of("dissolving_rules", "solids made up to").number("limit")
    solids = sum(a for i, a in batch.amounts if not i.is_liquid) / batch.volume
    poured = float(batch.poured.sum()) / batch.volume
    most = tanks * limit / solids if solids else np.inf
    most = min(most, tanks / poured) if poured else most
    if strength.times > most:
        what = (
            f"{strength.as_ratio} is beyond any solubility: {solids * strength.times:.0f} g of "
            f"salts and {1000 * poured * strength.times:.0f} mL of liquids for each litre of "
            f"{tanks} tanks"
        )
        raise InputError(f"split_tanks: {what}; at most 1:{most:.0f} has room")


def _concentrate(batch, strength, places):
    """Return some ingredients of a batch as a litre of concentrate holds them."""
    amounts = [
        (batch.amounts[p][0], batch.amounts[p][1] * strength.times / batch.volume)
        for p in places
    ]
    return Batch(tuple(amounts), batch.water, 1.0, batch.temperature)


def _main_tanks(batch, places, strength, tanks, coldest):
    """Return for each main tank the share of each ingredient of the batch, and what is divided."""
    if not places:
        return [], ""
    litre = _concentrate(batch, strength, places)
    best = splits_of(litre, coldest=coldest).best(tanks)
    inside = np.array([[(s >> j) & 1 for j in range(len(places))] for s in best], float)
    inside, divided = _divided(litre, inside, coldest)
    shares = np.zeros((tanks, len(batch.amounts)))
    shares[:, places] = inside
    return list(shares), litre.names[divided] if divided is not None else ""


def _divided(litre, inside, coldest):
    """Return the split with one ingredient divided between two tanks, if that balances."""
    steps = int(mixing_rule("steps of dividing"))
    tries = [
        (place, to, step / steps)
        for place, here in enumerate(inside.argmax(axis=0))
        if litre.ingredients[place].tank in ("either", "")
        for to in range(len(inside))
        if to != here and inside[to].any()
        for step in range(1, steps)
    ]
    if not tries:
        return inside, None
    splits = np.array([_moved(inside, *one) for one in tries])
    found = concentrates(litre, np.vstack([inside, *splits]), coldest=coldest)
    shape = (len(tries) + 1, len(inside))
    use, level = (v.reshape(shape).max(axis=1) for v in (found.use, found.levels()))
    near = np.round(found.distance, 2).reshape(shape)
    floor = mixing_rule("floor of an index")
    near = np.maximum(near, floor).max(axis=1)
    against = found.against.reshape(shape).sum(axis=1)
    resolution = mixing_rule("resolution of a stock")
    good = (
        (level <= level[0])
        & (near <= near[0] + resolution / 2)
        & (against <= against[0])
    )
    place = int(np.where(good, use, np.inf).argmin())
    if use[0] - use[place] < mixing_rule("least gain of dividing"):
        return inside, None
    return splits[place - 1], tries[place - 1][0]


def _moved(inside, place, to, share):
    """Return the split with a share of one ingredient moved to another tank."""
    found = inside.copy()
    found[:, place] *= 1 - share
    found[to, place] += share
    return found


def _made(batch, shares, groups, strength, coldest, tank_volume):
    """Return the tanks that hold something, each with its state and reasons."""
    rows = list(zip(MAIN, shares, strict=False))
    for name in ("acid", "alkaline"):
        share = np.zeros(len(batch.amounts))
        share[groups[name]] = 1.0
        rows.append((name, share))
    rows = [(name, share) for name, share in rows if share.any()]
    litre = _concentrate(batch, strength, range(len(batch.amounts)))
    table = np.array([share for _, share in rows])
    found = concentrates(litre, table, coldest=coldest)
    litres = tank_volume or batch.volume / strength.times
    reasons = tank_reasons(litre, rows, coldest)
    made = []
    for n, (name, share) in enumerate(rows):
        parts = tuple(
            (i, grams * litres * float(part))
            for (i, grams), part in zip(litre.amounts, share, strict=True)
            if part
        )
        state = speciate(column_of(found.cold.state.solution, n), temperature=coldest)
        uses = {k: float(v[n]) for k, v in found.uses.items() if v[n] > 0}
        uses = dict(sorted(uses.items(), key=lambda pair: -pair[1]))
        one = Batch(parts, batch.water, litres, batch.temperature)
        made.append(
            StockTank(
                name,
                parts,
                one,
                state,
                MappingProxyType(uses),
                strength,
                MappingProxyType(reasons[n]),
            )
        )
    return tuple(made)


def _refuse_cloud(found, tanks, stock_water):
    """Raise if a tank clouds or does not dissolve, with what would do."""
    told = [fault for tank in found.tanks for fault in _faults_of(tank, found.coldest)]
    if not told:
        return
    most, ways = found.greatest, []
    if most.times > LEAST_STRENGTH:
        tank = "1 tank" if tanks == 1 else f"{tanks} tanks"
        ways.append(f"in {tank} at most {most.as_ratio} stays clear")
    if stock_water.solution.cations() > mixing_rule("hard water from"):
        ways.append('make the stocks with soft water (stock_water="pure")')
    if tanks < len(MAIN):
        ways.append(f"take {tanks + 1} tanks")
    advice = f". {', or '.join(ways).capitalize()}" if ways else ""
    what = "; ".join(told)
    raise Infeasible(f"{found.strength.as_ratio} does not keep: {what}{advice}")


def _faults_of(tank, coldest):
    """Return what falls out of a tank in the cold or in the warm, or does not dissolve."""
    found = {}
    for risks, when in ((tank.risks, coldest), (tank.warm_risks, ROOM)):
        for risk in risks.solids:
            if risk.role == "matters" and risk.level >= LIKELY:
                index = f"index {risk.index:+.2f}"
                text = f"{tank.label}: {risk.name} {risk.word} at {when:g} °C, {index}"
                found.setdefault(risk.name, (-risk.level, -risk.index, text))
    solids = [text for _, _, text in sorted(found.values())]
    return solids + [
        f"{tank.label}: {salt} would need {used:.0f} % of its solubility at {coldest:g} °C"
        for salt, used in tank.uses.items()
        if used > PERCENT
    ]
