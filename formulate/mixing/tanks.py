"""Stock tanks: which concentrate holds what, the best of all splits.

Acids have a tank of their own, and so have silicate, carbonates and lyes. The rest is put
into two or three tanks as `tank_split` finds best, of all splits there are. What one tank
would be too full of is divided between two, if it keeps in both.
"""

from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from formulate.checks import checked_number
from formulate.chemistry.speciation import speciate
from formulate.chemistry.waters import water as as_water
from formulate.errors import (
    Faults,
    FormulateError,
    Infeasible,
    InputError,
    NoConvergence,
)
from formulate.ingredients.hazards import is_meant
from formulate.ingredients.water import Water
from formulate.mixing.batch import Batch, batch_of, column_of
from formulate.mixing.nearness import mixing_rule
from formulate.mixing.stock_tank import MAIN, ROOM, StockTank
from formulate.mixing.stock_tanks import StockTanks
from formulate.mixing.strength import Strength, strength_of, usual_strength
from formulate.mixing.tank_contents import (
    LIKELY,
    PERCENT,
    concentrates,
    splits_of,
    stock_level,
)
from formulate.mixing.tank_words import tank_reasons
from formulate.stoichiometry.quantities import check_volume
from formulate.tables import read_table, rule_of

__all__ = ["split_tanks"]

LEAST_STRENGTH = 2.0  # below it nothing is a concentrate
HARDLY = 20.0  # solubilities
THINNED = ("nitric with other acids",)  # of dangerous_pairs: not once each is thinned
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
        cold = checked_number(cold, "coldest in °C", least=0, most=40)
    with faults.collecting("tank_volume"):
        tank_volume = None if tank_volume is None else check_volume(tank_volume)
    with faults.collecting("stock_water"):
        own = stock_water is None or isinstance(stock_water, Water)
        stock_water = stock_water if own else as_water(stock_water)
    faults.raise_if_any()
    made_with = batch.water if stock_water is None else stock_water
    asked = _Asked(batch, times, tanks, cold, made_with, tank_volume)
    _refuse_no_room(batch, times, tanks)
    made = asked.made()
    _refuse_cloud(made, asked)
    return made


@dataclass(frozen=True, eq=False)
class _Asked:
    """What is asked of the tanks, checked."""

    batch: Batch
    strength: Strength
    tanks: int
    coldest: float
    stock_water: Water
    tank_volume: float | None

    def rows(self):
        """Return (name, shares) of each tank that holds something, and what is divided."""
        batch = replace(self.batch, water=self.stock_water)
        groups = _groups(batch)
        shares, divided = _main_tanks(batch, groups.pop(""), self)
        rows = list(zip(MAIN, (share for share in shares if share.any()), strict=False))
        for name in sorted(groups):
            share = np.zeros(len(batch.amounts))
            share[groups[name]] = 1.0
            rows.append((name, share))
        rows = [(name, share) for name, share in rows if share.any()]
        if len(rows) >= self.strength.times:
            what = f"{len(rows)} stocks at {self.strength.as_ratio} leave no room for water"
            raise InputError(f"split_tanks: {what}; make them stronger")
        return rows, divided

    @property
    def litre(self):
        """Return what a litre of concentrate would hold of everything."""
        batch = replace(self.batch, water=self.stock_water)
        return _concentrate(batch, self.strength, range(len(batch.amounts)))

    def made(self):
        """Return the tanks, clear or not."""
        rows, divided = self.rows()
        try:
            found = _made(self, rows)
        except NoConvergence:
            what = f"{self.strength.as_ratio} is so strong that the equations do not settle"
            raise Infeasible(f"split_tanks: {what}; make it weaker") from None
        given = (self.coldest, found, self.stock_water, divided)
        return StockTanks(self.batch, self.strength, *given)

    def keeps(self, **changes):
        """Return whether it would keep with some changes."""
        asked = replace(self, **changes)
        try:
            table = np.array([share for _, share in asked.rows()[0]])
            found = concentrates(asked.litre, table, coldest=asked.coldest)
        except FormulateError:
            return False
        return bool(found.levels().max() < LIKELY)


def _groups(batch):
    """Return name of the tank to places of ingredients; "" for the main tanks."""
    found = {"": []}
    for place, ingredient in enumerate(batch.ingredients):
        kinds = [name for name, terms in APART if is_meant(ingredient, terms)]
        name = kinds[0] if kinds else ""
        number = 1
        while name and _is_danger(batch, found.get(name, []), place):
            number += 1
            name = f"{kinds[0]} {number}"
        found.setdefault(name, []).append(place)
    most = mixing_rule("most ingredients")
    if len(found[""]) > most:
        what = f"{len(found[''])} ingredients; up to {most:g} can be split"
        raise InputError(f"split_tanks: {what}. Take the trace elements as one stock")
    return found


def _is_danger(batch, places, place):
    """Return whether an ingredient must not meet others, even thinned."""
    for row in read_table("dangerous_pairs"):
        if row["severity"] != "serious" or row["key"] in THINNED:
            continue
        for other in places:
            pair = batch.ingredients[place], batch.ingredients[other]
            if any(
                is_meant(one, row["first"]) and is_meant(two, row["second"])
                for one, two in (pair, pair[::-1])
            ):
                return True
    return False


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


def _main_tanks(batch, places, asked):
    """Return for each main tank the share of each ingredient of the batch, and what is divided."""
    if not places:
        return [], ""
    litre = _concentrate(batch, asked.strength, places)
    most = int(mixing_rule("splits that are divided"))
    inside, divided = _divided(litre, _ranked(litre, asked, 1)[0], asked.coldest)
    ranked = []
    if concentrates(litre, inside, coldest=asked.coldest).levels().max() >= LIKELY:
        ranked = _ranked(litre, asked, most)
        inside, divided = _clearest(litre, [(one, None) for one in ranked], asked)
    made = concentrates(litre, inside, coldest=asked.coldest)
    if asked.tanks > 1 and made.use.max() > PERCENT:
        for place in _dividable(litre):  # as if half of it were elsewhere
            ranked += _ranked(_halved(litre, place), asked, most)
        unlike = {one.tobytes(): one for one in ranked}.values()
        tried = [_divided(litre, one, asked.coldest) for one in unlike]
        inside, divided = _clearest(litre, tried, asked)
    shares = np.zeros((asked.tanks, len(batch.amounts)))
    shares[:, places] = inside
    return list(shares), litre.names[divided] if divided is not None else ""


def _ranked(litre, asked, most):
    """Return the best splits of a litre, each as shares: a row for each tank."""
    splits = splits_of(litre, coldest=asked.coldest)
    found = splits.ranked(asked.tanks, most)
    return [_inside(sets, len(litre.amounts)) for sets in found]


def _dividable(litre):
    """Return the places of what may stand in either tank and weighs most, at most two."""
    found = [p for p, i in enumerate(litre.ingredients) if i.tank in ("either", "")]
    return sorted(found, key=lambda p: -litre.amounts[p][1])[:2]


def _halved(litre, place):
    """Return the litre with half of one ingredient."""
    pairs = enumerate(litre.amounts)
    amounts = tuple((i, a / 2 if p == place else a) for p, (i, a) in pairs)
    return replace(litre, amounts=amounts)


def _inside(sets, count):
    """Return sets as shares: a row for each tank."""
    return np.array([[(s >> j) & 1 for j in range(count)] for s in sets], float)


def _clearest(litre, tried, asked):
    """Return the split that is least likely to cloud, with what of it is divided."""
    stack = np.vstack([inside for inside, _ in tried])
    made = concentrates(litre, stack, coldest=asked.coldest)
    levels, far = (
        v.reshape(len(tried), -1).max(axis=1) for v in (made.levels(), made.distance)
    )
    return tried[int(np.lexsort([np.round(far, 2), levels])[0])]


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
    good = (level < level[0]) | (
        (level <= level[0])
        & (near <= near[0] + resolution / 2)
        & (against <= against[0])
    )
    ranked = np.where(good, 1e6 * level + use, np.inf)
    place = int(ranked.argmin())
    gains = use[0] - use[place] >= mixing_rule("least gain of dividing")
    if not gains and level[place] >= level[0]:
        return inside, None
    return splits[place - 1], tries[place - 1][0]


def _moved(inside, place, to, share):
    """Return the split with a share of one ingredient moved to another tank."""
    found = inside.copy()
    found[:, place] *= 1 - share
    found[to, place] += share
    return found


def _made(asked, rows):
    """Return each tank with its state and reasons."""
    strength, coldest, litre = asked.strength, asked.coldest, asked.litre
    table = np.array([share for _, share in rows])
    found = concentrates(litre, table, coldest=coldest)
    litres = asked.tank_volume or asked.batch.volume / strength.times
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
        one = Batch(parts, litre.water, litres, litre.temperature)
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


def _refuse_cloud(found, asked):
    """Raise if a tank clouds or does not dissolve, with what would do, tried before."""
    told = [fault for tank in found.tanks for fault in _faults_of(tank, found.coldest)]
    if not told:
        return
    ways, tanks = [], asked.tanks
    most = found.greatest
    if LEAST_STRENGTH < most.times < found.strength.times and asked.keeps(
        strength=most
    ):
        tank = "1 tank" if tanks == 1 else f"{tanks} tanks"
        ways.append(f"in {tank} at most {most.as_ratio} stays clear")
    hard = asked.stock_water.solution.cations() > mixing_rule("hard water from")
    if hard and asked.keeps(stock_water=as_water({})):
        ways.append('make the stocks with soft water (stock_water="pure")')
    ways += [
        f"take {more} tanks"
        for more in range(tanks + 1, len(MAIN) + 1)
        if asked.keeps(tanks=more)
    ][:1]
    words = ", or ".join(ways) or "no such change ends it: take other salts"
    advice = f". {words[0].upper()}{words[1:]}"
    what = "; ".join(told)
    raise Infeasible(f"{found.strength.as_ratio} does not keep: {what}{advice}")


def _faults_of(tank, coldest):
    """Return what falls out of a tank in the cold or in the warm, or does not dissolve."""
    found = {}
    for state, when in ((tank.state, coldest), (tank.room, ROOM)):
        for risk in tank.near(state):
            if stock_level(risk.name, risk.index) >= LIKELY:
                index = f"index {risk.index:+.2f}"
                text = f"{tank.label}: {risk.name} {risk.word} at {when:g} °C, {index}"
                found.setdefault(risk.name, (-risk.level, -risk.index, text))
    solids = [text for _, _, text in sorted(found.values())]
    return solids + [
        f"{tank.label}: {_too_much(salt, used)} at {coldest:g} °C"
        for salt, used in tank.uses.items()
        if used > PERCENT
    ]


def _too_much(salt, used):
    """Return in words that a salt needs more than its solubility."""
    if used > HARDLY * PERCENT:
        return f"{salt} hardly dissolves"
    return f"{salt} would need {used:.0f} % of its solubility"
