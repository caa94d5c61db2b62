"""The arithmetic behind the numbers of concentrates: contents, check values, where they meet."""

from functools import partial
from itertools import pairwise

import numpy as np

from formulate.chemistry.risks import salt_shares
from formulate.chemistry.speciation import speciate
from formulate.ingredients.solubility import solubility
from formulate.mixing.batch import column_of
from formulate.mixing.greatest_strength import shares_of
from formulate.mixing.nearness import mixing_rule
from formulate.mixing.stock_tank import ROOM
from formulate.sheets.mixture_workings import titled
from formulate.sheets.table import Followed
from formulate.stoichiometry.formula import molar_mass, parse_formula
from formulate.stoichiometry.mixtures import mix
from formulate.stoichiometry.notation import printed_ion
from formulate.stoichiometry.nutrients import form
from formulate.stoichiometry.units import unit
from formulate.working import Quantity, Step, Working

__all__ = [
    "content_workings",
    "injector_workings",
    "meeting_workings",
    "tank_workings",
]

PERCENT = 100.0
LEAST_SHARE = 1e-3  # of a sum: what is less is summed up in one number
SAME = 1e-9


# --- check values ----------------------------------------------------------------------


def tank_workings(tanks):
    """
    Yield what is behind the check values of each concentrate, as `tanks_table` shows them.

    Parameters
    ----------
    tanks : StockTanks
        The concentrates.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.mixing.tanks import split_tanks
    >>> found = dict(tank_workings(split_tanks({"KNO3": 50.0}, volume=100)))
    >>> print(found[0, 1].worked().lines[-1])
    the batch over the strength: 100 L ÷ 100 L/L = 1.0000 L
    """
    columns = {1: _volume, 2: _ph, 3: _density, 4: _ec, 5: _thinned, 7: _use}
    for row, tank in enumerate(tanks.tanks):
        for column, worked in columns.items():
            yield (row, column), Followed(partial(worked, tanks, tank))
        near = tank.near(tank.state)
        if near:
            behind = partial(_nearest, tank, near[0].name)
            yield (row, 8), Followed(behind, near[0].number.split(" ")[0])


def _volume(tanks, tank):
    """Return the working of the volume of a tank."""
    title, times = f"Volume of {tank.label}", tank.strength.times
    if abs(tanks.dose - tank.volume) > SAME * tank.volume:
        terms = (Quantity(tank.volume, "L"), "×", Quantity(times, "L/L"))
        feed = Step("as it was typed, it makes so much of the feed", terms, "L")
        terms = (Quantity(feed.value, "L"), "÷", Quantity(times, "L/L"))
        return Working(title, (feed, Step("over the strength", terms, "L")))
    terms = (Quantity(tanks.batch.volume, "L"), "÷", Quantity(times, "L/L"))
    return Working(title, (Step("the batch over the strength", terms, "L"),))


def _ph(_tanks, tank):
    return titled(tank.room, "pH", f"pH of {tank.label} at {ROOM:g} °C")


def _ec(_tanks, tank):
    return titled(tank.room, "EC", f"EC of {tank.label} at {ROOM:g} °C")


def _thinned(_tanks, tank):
    title = f"EC of {tank.label}, thinned alone in pure water, at {ROOM:g} °C"
    return titled(tank.thinned, "EC", title)


def _nearest(tank, solid):
    """Return the working of the index of the nearest solid in the cold."""
    title = (
        f"Saturation index of {solid} in {tank.label} at {tank.state.temperature:g} °C"
    )
    return titled(tank.state, solid, title)


def _density(_tanks, tank):
    """Return the working of a density: water and what is dissolved in a litre."""
    state, parts = tank.room, []
    for key, amount in state.solution.forms.items():
        mass = parse_formula(form(key).ion).molar_mass
        name = printed_ion(form(key).ion)
        parts.append((amount * mass, amount, mass, name))
    parts.sort(key=lambda part: -part[0])
    whole = sum(part[0] for part in parts)
    large = [part for part in parts if part[0] >= LEAST_SHARE * whole]
    small = sum(part[0] for part in parts[len(large) :])
    terms, names = [], ", ".join(part[3] for part in large)
    for _, amount, mass, _ in large:
        terms += ["+", Quantity(amount, "mmol/L"), "×", Quantity(mass, "mg/mmol")]
    terms += ["+", Quantity(small, "mg/L")] if small else []
    rest = "; the rest in the last number" if small else ""
    words = f"dissolved: {names}{rest}"
    held = Step(words, tuple(terms[1:]), "mg/L", "stoichiometry")
    terms = (Quantity(held.value, "mg/L"), "÷", Quantity(1e6, "mg/kg"))
    kilos = Step("in kilograms", terms, "kg/L")
    terms = (Quantity(state.water_kg_l, "kg/L"), "+", Quantity(kilos.value, "kg/L"))
    title = f"Density of {tank.label} at {ROOM:g} °C"
    return Working(title, (held, kilos, Step("with the water", terms, "kg/L")))


def _use(_tanks, tank):
    """Return the working of the share that is used of the fullest solubility."""
    salt, share = tank.limiting
    grams = {i.name: (i, g / tank.volume) for i, g in tank.parts}
    title = f"How much of its solubility {salt} uses at {tank.state.temperature:g} °C"
    if salt in salt_shares(tank.state):
        return Working(title, tuple(_ion_use(tank, salt, share)))
    return Working(title, tuple(_weighed_use(tank, *grams[salt])))


def _weighed_use(tank, ingredient, grams):
    """Yield the lines of a salt that is counted as it was weighed."""
    known = solubility(ingredient, tank.state.temperature)
    water = Quantity(tank.state.water_kg_l, "kg/L")
    terms = (
        Quantity(known.per_100g_water, "g per 100 g"),
        "×",
        Quantity(10.0, "100 g/kg"),
    )
    words = "a litre of it could hold: its solubility times the water in it"
    most = Step(words, (*terms, "×", water), "g/L", known.source_key)
    terms = (Quantity(grams, "g/L"), "÷", Quantity(most.value, "g/L"))
    yield most
    yield Step("used", (*terms, "×", Quantity(PERCENT, "%")), "%")


def _ion_use(tank, salt, share):
    """Yield the lines of a salt that is counted by its ions."""
    read, state = parse_formula(salt), tank.state
    known = solubility(salt, round(state.temperature, 2))
    waterless = read.molar_mass - read.water * molar_mass("H2O")
    percent = known.mass_percent
    terms = (
        Quantity(percent, "g"),
        "÷",
        Quantity(PERCENT - percent, "g of water"),
        "×",
        Quantity(1e6, "mg/kg"),
        "÷",
        Quantity(waterless, "mg/mmol"),
    )
    words = f"saturated: {salt} in a kg of water"
    full = Step(words, terms, "mmol/kg", known.source_key)
    yield full
    powers, counts = [], dict(read.forms)
    for key, count in counts.items():
        terms = (
            Quantity(state.solution.forms[key], "mmol/L"),
            "÷",
            Quantity(state.water_kg_l, "kg/L"),
            "÷",
            Quantity(full.value, "mmol/kg"),
        )
        terms += ("÷", Quantity(float(count))) if count != 1 else ()
        step = Step(
            f"{printed_ion(form(key).ion)} here, over that of the saturated", terms
        )
        yield step
        powers += [Quantity(step.value)] * round(count)
    terms = [term for power in powers for term in ("×", power)]
    product = Step("the ions of one formula together", tuple(terms[1:]))
    yield product
    part, whole = share / PERCENT, len(powers)
    if whole == 1:
        yield Step("used", (Quantity(product.value), "×", Quantity(PERCENT, "%")), "%")
        return
    terms = [Quantity(product.value)]
    for _ in range(whole - 1):
        terms += ["÷", Quantity(part)]
    words = f"the number that, taken {whole} times, makes this: over it, it comes again"
    root = Step(words, tuple(terms), "", "definition")
    yield root
    yield Step("used", (Quantity(root.value), "×", Quantity(PERCENT, "%")), "%")


# --- contents --------------------------------------------------------------------------


def content_workings(tank, tanks, rows):
    """
    Yield what is behind the amounts of one concentrate.

    Parameters
    ----------
    tank : StockTank
        The concentrate.
    tanks : StockTanks
        All of them.
    rows : sequence of tuple of str
        Cells: ingredient, amount, unit, in the stock, in the feed.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.mixing.tanks import split_tanks
    >>> tanks = split_tanks({"KNO3": 50.0}, volume=100)
    >>> rows = (("KNO3", "50.00", "g", "50.00 g/L", "0.5000 g/L"),)
    >>> found = dict(content_workings(tanks["A"], tanks, rows))
    >>> print(found[0, 3].worked().lines[-1])
    in a litre of the stock: times the strength: 0.5 g/L × 100 L/L = 50.000 g/L
    """
    for row, (ingredient, grams) in enumerate(tank.parts):
        told = (tank, tanks, ingredient, grams)
        for column, worked in ((1, _amount), (3, _in_stock), (4, _in_feed)):
            shown, of_unit = rows[row][column], rows[row][2]
            if column != 1:
                shown, of_unit = shown.split(" ", 1)
            behind = partial(worked, *told, of_unit)
            yield (row, column), Followed(behind, shown)


def _feed_steps(tank, tanks, ingredient, grams):
    """Return the lines of what a litre of the feed takes of an ingredient."""
    measured_in = ingredient.measured_in
    whole = next(a for i, a in tanks.batch.amounts if i.name == ingredient.name)
    feed = tank.volume * tank.strength.times
    share = grams / feed / (whole / tanks.batch.volume)
    terms = (Quantity(whole, measured_in), "÷", Quantity(tanks.batch.volume, "L"))
    words = "in a litre of the feed: the amount of the batch over its volume"
    if abs(share - 1.0) > SAME:
        terms = (*terms, "×", Quantity(share))
        words += f"; this share of it comes from {tank.label}"
    return [Step(words, terms, f"{measured_in}/L")]


def _stock_steps(tank, tanks, ingredient, grams):
    """Return the lines of what a litre of the stock holds."""
    steps = _feed_steps(tank, tanks, ingredient, grams)
    each = f"{ingredient.measured_in}/L"
    times = Quantity(tank.strength.times, "L/L")
    terms = (Quantity(steps[-1].value, each), "×", times)
    return [*steps, Step("in a litre of the stock: times the strength", terms, each)]


def _amount(tank, tanks, ingredient, grams, of_unit):
    """Return the working of what goes into a full tank."""
    steps, own = _stock_steps(tank, tanks, ingredient, grams), ingredient.measured_in
    terms = (Quantity(steps[-1].value, f"{own}/L"), "×", Quantity(tank.volume, "L"))
    steps.append(Step("in the whole tank", terms, own))
    poured = unit(of_unit).kind == "volume" and own == "g"
    if poured:
        density = Quantity(ingredient.density, "g/mL")
        terms = (Quantity(steps[-1].value, "g"), "÷", density)
        source = ingredient.source_key.split(";")[0]
        steps.append(Step("over its density", terms, "mL", source))
        own = "mL"
    steps += _converted(steps[-1], own, of_unit)
    return Working(f"{ingredient.name} in {tank.label}", tuple(steps))


def _size(name):
    """Return a unit in grams or millilitres."""
    known = unit(name)
    return known.factor * 1000 if known.kind == "volume" else known.factor


def _converted(step, own, of_unit):
    """Return the line that tells a weight or volume in another unit, if it is another."""
    if of_unit == own:
        return []
    size = Quantity(_size(of_unit), f"{own}/{of_unit}")
    return [Step(f"in {of_unit}", (Quantity(step.value, own), "÷", size), of_unit)]


def _in_stock(tank, tanks, ingredient, grams, _unit):
    """Return the working of what a litre of the stock holds."""
    steps = _stock_steps(tank, tanks, ingredient, grams)
    return Working(f"{ingredient.name} in a litre of {tank.label}", tuple(steps))


def _in_feed(tank, tanks, ingredient, grams, of_unit):
    """Return the working of what a litre of the feed gets, or 100 gallons."""
    steps, own = _feed_steps(tank, tanks, ingredient, grams), ingredient.measured_in
    if not of_unit.endswith("/L"):
        small, per = of_unit.split("/", 1)
        gallons = Quantity(100.0 * unit("US gal").factor, f"L/{per}")
        terms = (Quantity(steps[-1].value, f"{own}/L"), "×", gallons)
        size = Quantity(_size(small), f"{own}/{small}")
        steps.append(Step(f"in {of_unit}", (*terms, "÷", size), of_unit))
    return Working(f"{ingredient.name} from {tank.label} in the feed", tuple(steps))


# --- where they meet -------------------------------------------------------------------


def meeting_workings(found):
    """
    Yield what is behind the numbers of where concentrates meet.

    Parameters
    ----------
    found : Meetings
        The lines.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.mixing.meeting import meetings
    >>> from formulate.mixing.tanks import split_tanks
    >>> feed = {"MgSO4·7H2O": 50.0, "Ca(NO3)2·4H2O": 90.0}
    >>> made = dict(meeting_workings(meetings(split_tanks(feed, volume=100))))
    >>> made[2, 2].worked().steps[-1].text
    'saturation index of gypsum: less lg K'
    """
    for row, line in enumerate(found.lines):
        yield (row, 2), Followed(partial(_worst, found, row))
        yield (row, 4), Followed(partial(_above, line))


def _ends(tanks):
    """Return what is poured and into what, a pair for each line of the meetings."""
    batch, count = tanks.batch, range(len(tanks.tanks))
    stocks = [tank.state.solution for tank in tanks.tanks]
    shares = [shares_of(batch, tank) for tank in tanks.tanks]
    first = [(n, tuple(range(n))) for n in count]
    after = [(n, tuple(k for k in count if k != n)) for n in count]
    found = []
    for n, there in (*first, *(pair for pair in after if pair not in first)):
        row = sum((shares[k] for k in there), 0 * shares[0])
        held = column_of(batch.mixtures(row[None, :], batch.water_litres), 0)
        found.append((stocks[n], held if there else batch.water.solution))
    found += [(a, b) for n, a in enumerate(stocks) for b in stocks[n + 1 :]]
    jug = mix([(stock, 1.0) for stock in stocks])
    return [*found, (jug, batch.water.solution)]


def _worst(found, row):
    """Return the working of the worst index of a line: the mixture where it is reached."""
    line, (poured, into) = found.lines[row], _ends(found.tanks)[row]
    share = float(line.shares[int(np.argmax(line.indices[line.solid]))])
    parts = [(poured, share), (into, 1.0 - share)]
    state = speciate(mix([part for part in parts if part[1]]), temperature=ROOM)
    part, rest = Quantity(PERCENT * share, "%"), Quantity(PERCENT, "%")
    text = f"{line.what}: worst where this share of the mixture is what is poured"
    where = Step(text, (Quantity(share), "×", rest), part.unit)
    title = f"Saturation index of {line.solid} at its worst"
    return Working(title, (where, *state.working(line.solid).steps))


def _above(line):
    """Return the working of the part of a line that is above saturation."""
    none = np.full(line.shares.shape, -np.inf)
    index = np.clip(np.max([none, *line.indices.values()], axis=0), -20.0, 20.0)
    title = f"{line.what}: part of the way above saturation"
    terms = []
    for low, high in _stretches(line.shares.tolist(), index.tolist()):
        terms += ["+", Quantity(high), "−", Quantity(low)]
    words = "shares of what is poured between which an index is above 0, end less start"
    part = Step(words, tuple(terms[1:]) or (Quantity(0.0),))
    terms = (Quantity(part.value), "×", Quantity(PERCENT, "%"))
    return Working(title, (part, Step("of the way", terms, "%")))


def _stretches(shares, index):
    """Return from where to where a line of straight pieces is above 0."""
    found = []
    points = list(zip(shares, index, strict=True))
    for (a, low), (b, high) in pairwise(points):
        if low <= 0 and high <= 0:
            continue
        cross = a + (b - a) * low / (low - high) if (low > 0) != (high > 0) else None
        start = a if low > 0 else cross
        end = b if high > 0 else cross
        if found and abs(found[-1][1] - start) < SAME:
            found[-1] = (found[-1][0], end)
        else:
            found.append((start, end))
    return found


def injector_workings(tanks):
    """
    Yield what is behind EC and pH of a feed whose injector is off.

    Parameters
    ----------
    tanks : StockTanks
        The concentrates.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.mixing.tanks import split_tanks
    >>> found = dict(injector_workings(split_tanks({"KNO3": 50.0}, volume=100)))
    >>> found[1, 1].worked().title
    'EC of the feed: stock A 10 % too much'
    """
    off = mixing_rule("injector error") / PERCENT
    cases = [("as it should be", {})]
    for tank in tanks.tanks:
        cases.append(
            (f"{tank.label} {PERCENT * off:g} % too much", {tank.name: 1 + off})
        )
        cases.append(
            (f"{tank.label} {PERCENT * off:g} % too little", {tank.name: 1 - off})
        )
    for times, word in ((1 + off, "too much"), (1 - off, "too little")):
        all_of_them = {tank.name: times for tank in tanks.tanks}
        cases.append((f"all {PERCENT * off:g} % {word}", all_of_them))
    for row, (words, times) in enumerate(cases):
        for column, what in ((1, "EC"), (2, "pH")):
            yield (row, column), Followed(partial(_injected, tanks, words, times, what))


def _injected(tanks, words, times, what):
    """Return the working of the EC or the pH of a feed that is off."""
    shares = [times.get(t.name, 1.0) * shares_of(tanks.batch, t) for t in tanks.tanks]
    held = tanks.batch.mixtures(sum(shares)[None, :], tanks.batch.water_litres)
    state = speciate(column_of(held, 0), temperature=ROOM)
    return titled(state, what, f"{what} of the feed: {words}")
