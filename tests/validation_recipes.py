"""The part of reference/validation.md on recipes in full: speed, rounds, agreement.

Times are processor times (`time.process_time`), so that what else the machine does counts
little; of several medians the least is told. Only what has a time limit of its own, whole
steps, also goes by the clock.
"""

import statistics
import time
from contextlib import contextmanager
from dataclasses import replace

import numpy as np
import phreeqc_oracle as oracle
import test_cheapest
import test_few_bags
import test_ph_and_ec_rows as metered
import test_recipe_oracles as recipes
import test_whole_steps
from priced_problems import priced_recipe
from scipy.optimize import Bounds, LinearConstraint, milp

import formulate as fm
from formulate.ingredients.salts import catalogue
from formulate.recipes.cheapest import cheapest
from formulate.recipes.cost_curve import cost_curve
from formulate.recipes.few_bags import few_bags
from formulate.recipes.meters import reading
from formulate.recipes.price_changes import price_changes
from formulate.recipes.problem import Problem
from formulate.recipes.solve import solve
from formulate.recipes.uncertainty import doubt
from formulate.recipes.whole_steps import whole_steps
from formulate.stoichiometry.nutrients import nutrient

MANY, CASES, TURNS = 500, 50, 5
PH, EC = 5.8, "at most 2 mS/cm"
MOVERS = ("nitric acid (67 %)", "KOH")


def milliseconds(action):
    """Return the processor time of an action. [ms]"""
    start = time.process_time()
    action()
    return 1000 * (time.process_time() - start)


def least_median(action, repeats, turns=TURNS):
    """Return the least of several medians of the processor time. [ms]"""
    return min(
        statistics.median(milliseconds(action) for _ in range(repeats))
        for _ in range(turns)
    )


# --- one recipe with pH and EC -----------------------------------------------------------


def unlike_blends(problem):
    """Return a target and 20 ingredients, acid and alkali among them: one recipe alone."""
    wish, shelf = problem
    return wish, [*shelf[:18], *MOVERS]


def plain_salts(problem):
    """Return the same target and 20 ingredients of which many can stand in."""
    solids = [
        one
        for one in catalogue().values()
        if not one.is_liquid and "urea" not in one.forms
    ]
    return problem[0], [*solids[:18], *MOVERS]


@contextmanager
def counted_rounds():
    """Count how often rows are made: once in each round of a solve."""
    counted, own = [], Problem.rows

    def rows(self, *given, **named):
        counted.append(1)
        return own(self, *given, **named)

    Problem.rows = rows
    try:
        yield counted
    finally:
        Problem.rows = own


def solve_rows(problem):
    """Yield shelf and rows, the median, rounds, whether unique, and the bar."""
    tap = fm.water("hard")
    for what, (wish, shelf), is_unique in (
        ("20 unlike ingredients", unlike_blends(problem), True),
        ("20 salts, equals ranked", plain_salts(problem), False),
    ):
        for told, given in (
            ("no pH, no EC", {}),
            ("pH", {"ph": PH}),
            ("EC", {"ec": EC}),
            ("pH and EC", {"ph": PH, "ec": EC}),
        ):
            facts = {"volume": 100, "water": tap, **given}
            with counted_rounds() as counted:
                recipe = solve(wish, shelf, **facts)
            if recipe.optimum.is_unique != is_unique:
                raise SystemExit(f"{what}, {told}: unique is {not is_unique}")
            took = least_median(lambda w=wish, s=shelf, f=facts: solve(w, s, **f), 15)
            bar = "10" if told == "pH and EC" else "-"
            yield (
                f"{len(wish.wanted)} nutrients x {what}",
                told,
                f"{took:.2f}",
                len(counted),
                bar,
            )


def spread_rows(problem):
    """Yield what, median, 90 %, worst and the bar of seeded cases."""
    takes, rounds = [], []
    for seed in range(CASES):
        facts = {"volume": 100, "water": metered.random_tap(seed), "ph": PH, "ec": EC}
        wish = metered.random_feed(seed)
        with counted_rounds() as counted:
            solve(wish, metered.EVERYTHING, **facts)
        rounds.append(len(counted))
        takes.append(
            least_median(
                lambda w=wish, f=facts: solve(w, metered.EVERYTHING, **f), 3, 2
            )
        )
    yield _spread(f"solve with pH and EC, {CASES} seeded feeds and waters, ms", takes)
    yield _spread("the same, rounds", rounds)
    yield draws_row(problem)
    full = [test_few_bags.drawn(seed, 12, 20) for seed in range(CASES)]
    yield _few(full)
    yield _whole(full)
    for what, action in (
        ("cheapest within 5 %", cheapest),
        ("cost curve, 9 points", cost_curve),
        ("at which prices the cheapest changes", lambda r: price_changes(cheapest(r))),
    ):
        takes = [milliseconds(lambda r=r, a=action: a(r)) for r in full[:20]]
        yield _spread(f"{what}, 12 x 20, 20 recipes, ms", takes)
    held = [_priced(seed) for seed in range(20)]
    for what, action in (("cheapest within 5 %", cheapest), ("cost curve", cost_curve)):
        takes = [milliseconds(lambda r=r, a=action: a(r)) for r in held]
        yield _spread(f"{what}, pH and EC held, 6 x 12, 20 recipes, ms", takes)


def _priced(seed):
    """Return a seeded recipe with pH and EC whose ingredients have prices."""
    rng = np.random.default_rng(seed)
    recipe = solve(
        metered.random_feed(seed),
        metered.EVERYTHING,
        volume=100,
        water=metered.random_tap(seed),
        ph=PH,
        ec=EC,
    )
    prices = rng.lognormal(0, 1, len(recipe.ingredients)).tolist()
    pairs = zip(recipe.ingredients, prices, strict=True)
    priced = tuple(replace(one, price=price) for one, price in pairs)
    return replace(recipe, ingredients=priced)


def _few(full):
    """Return the spread of at most six of twenty, with how many are proven."""
    found = []
    takes = [
        milliseconds(lambda r=r: found.append(few_bags(r, most=6).proven)) for r in full
    ]
    what = f"at most six of twenty, {len(full)} recipes, {sum(found)} proven, ms"
    return _spread(what, takes, "300 (median)")


def _whole(full):
    """Return the spread of whole steps, with the share proven within a second."""
    takes, proven = [], 0
    for recipe in full:
        start = time.perf_counter()
        found = whole_steps(recipe, time_limit=1.0)
        takes.append(1000 * (time.perf_counter() - start))
        proven += found.proven
    share = 100 * proven / len(full)
    what = f"whole steps for 100 L, {len(full)} recipes of 12 x 20, {share:.0f} % proven, ms"
    return _spread(f"{what} by the clock", takes, "90 % proven in 1 s")


def _spread(what, values, bar="-"):
    """Return what, median, 90 % and the worst."""
    ends = (statistics.median(values), np.quantile(values, 0.9), max(values))
    return (what, *(f"{end:.3g}" for end in ends), bar)


def draws_row(problem):
    """Return what ten thousand batches with EC and pH take."""
    wish, shelf = unlike_blends(problem)
    recipe = solve(wish, shelf, volume=100, water=fm.water("hard"), ph=PH, ec=EC)
    took = least_median(lambda: doubt(recipe, draws=10_000), 1, 3) / 1000
    what = "10 000 draws with EC and pH, 12 x 20, hard water, s"
    return what, f"{took:.2f}", "-", "-", "2"


# --- agreement ---------------------------------------------------------------------------


def agreement_rows():
    """Yield what, how far off at most, and the bar."""
    engine = oracle.engine(oracle.database(metered.DATABASE))
    for closed, air in ((False, metered.AIR), (True, "")):
        where = "closed" if closed else "in balance with the air"
        subject = "pH when mixed" if closed else "pH"
        own, others = [], []
        for seed in range(CASES):
            recipe = _with_ph(seed, closed)
            own.append(abs(reading(subject, recipe.solution) - PH))
            others.append(
                abs(recipes.ph_by_iphreeqc(engine, recipe.solution, air) - PH)
            )
        yield (
            f"pH wanted, own speciation, {CASES} recipes {where}",
            f"{max(own):.1e}",
            "0.005",
        )
        yield (
            f"pH wanted, IPhreeqc, {CASES} recipes {where}",
            f"{max(others):.4f}",
            "0.02",
        )
    yield _ec_row()
    seeds, tried = recipes.metered_seeds(MANY)
    found = [recipes.apart_from_daqp(seed) for seed in seeds]
    objective, values = (max(one) for one in zip(*found, strict=True))
    what = f"daqp along the lines of pH and EC, {MANY} recipes of {tried} tried"
    yield f"{what}: objective, share", f"{objective:.1e}", "1e-8"
    yield "the same: values reached, weighted deviation", f"{values:.1e}", "1e-6"
    yield (
        "how far their pH, or a share of their EC, is beyond what was asked",
        _read_off(seeds),
        "0.005",
    )
    yield f"linprog, cheapest, {MANY} recipes: cost, share", f"{_linprog():.1e}", "1e-7"
    worst = max(
        _apart_from_milp(seed, kind)
        for seed in range(MANY // 2)
        for kind in ("sum", "worst")
    )
    yield (
        f"milp, at most so many of eight, {MANY} choices: value",
        f"{worst:.1e}",
        "1e-6",
    )
    worst = max(_apart_from_whole(*one) for one in _coarse(MANY))
    what = f"milp, whole steps of four, {MANY} recipes: worst deviation"
    yield what, f"{worst:.1e}", "1e-6"


def _with_ph(seed, closed):
    """Return a seeded recipe with a pH, of forms that IPhreeqc knows."""
    shelf = (*metered.SALTS, *metered.ACIDS[:2], *metered.ALKALIS)
    facts = {"volume": 100, "water": metered.random_tap(seed), "ph": PH}
    return solve(metered.random_feed(seed), shelf, closed=closed, **facts)


def _ec_row():
    """Return how far the EC of recipes is off what was wanted."""
    offs = []
    for seed in range(CASES):
        wanted = 1.4 + 0.02 * seed
        facts = {"water": metered.random_tap(seed), "ph": PH, "ec": wanted}
        recipe = solve(
            metered.random_feed(seed), metered.EVERYTHING, volume=100, **facts
        )
        offs.append(100 * abs(fm.ec(recipe.solution) / wanted - 1))
    return f"EC wanted, own model, {CASES} recipes, %", f"{max(offs):.1e}", "0.2"


def _read_off(seeds):
    """Return by how much pH and EC of recipes are beyond what was asked, at most."""
    worst = 0.0
    for recipe in map(recipes.metered_recipe, seeds):
        for held in (held for held in recipe.target.limits if held.is_metered):
            value = reading(held.subject, recipe.solution)
            size = held.high if held.subject == "EC" else 1.0
            worst = max(worst, (held.low - value) / size, (value - held.high) / size)
    return f"{worst:.1e}"


def _linprog():
    """Return the largest share by which the least cost differs from linprog's."""
    rng, offs = np.random.default_rng(29), []
    for _ in range(MANY):
        recipe = priced_recipe(rng)
        share = float(rng.choice([0.01, 0.05, 0.12, 0.3]))
        found = cheapest(recipe, within=share)
        theirs = test_cheapest.oracle(found.recipe)
        offs.append(abs(found.cost - theirs) / theirs)
    return max(offs)


def _apart_from_milp(seed, objective):
    """Return by how much the best few ingredients differ in value from milp's."""
    recipe, most = test_few_bags.drawn(1000 + seed, 6, 8), 2 + seed % 4
    few = few_bags(recipe, most=most, objective=objective)
    wanted = [row for row in recipe.requirements if row.kind == "wanted"]
    if objective == "worst":
        wanted = [r for r in wanted if r.origin == "target" and any(r.coefficients)]
    size = _summed if objective == "sum" else _factor
    count, many = len(recipe.ingredients), len(wanted)
    places = range(many) if objective == "sum" else [0] * many
    width = many if objective == "sum" else 1
    total = sum(size(row) * max(row.low - row.constant, 0.0) for row in wanted)
    lines, levels = [], []
    for place, row in zip(places, wanted, strict=True):
        give = np.zeros(width)
        give[place] = 1.0
        at = np.array(row.coefficients) * size(row)
        for sign, level in ((1, row.high), (-1, row.low)):
            if np.isfinite(level):
                lines.append(np.r_[sign * at, np.zeros(count), -give])
                levels.append(sign * (level - row.constant) * size(row))
    for row in recipe.requirements:
        for sign, level in ((1, row.high), (-1, row.low)):
            if row.kind == "hard" and np.isfinite(level):
                at = sign * np.array(row.coefficients)
                lines.append(np.r_[at, np.zeros(count + width)])
                levels.append(sign * (level - row.constant))
    for j in range(count):  # what more of it cannot pay is too much
        tops = [
            (total / size(r) + min(r.high, 1e3) - r.constant) / r.coefficients[j]
            for r in wanted
            if r.coefficients[j] > 0
        ]
        line = np.zeros(2 * count + width)
        line[j], line[count + j] = 1.0, -min(tops, default=0.0)
        lines.append(line)
        levels.append(0.0)
    lines.append(np.r_[np.zeros(count), np.ones(count), np.zeros(width)])
    levels.append(most)
    cost = np.r_[np.zeros(2 * count), np.ones(width)]
    whole = np.r_[np.zeros(count), np.ones(count), np.zeros(width)]
    found = _best(cost, lines, levels, whole, 1.0)
    return abs(few.value - found) / (1 + found)


def _summed(row):
    """Return what a deviation counts in a sum: of a trace element a twentieth."""
    is_trace = row.origin == "target" and nutrient(row.key).group == "micro"
    return _factor(row) * (0.05 if is_trace else 1.0)


def _factor(row):
    return np.sqrt(row.weight) / row.scale


def _coarse(count):
    """Yield seeded recipes with steps that are no larger than all of the batch."""
    seed = 1000
    while count:
        recipe, steps = test_whole_steps.drawn(seed)
        seed += 1
        if max(steps.values()) < sum(recipe.masses.values()):
            count -= 1
            yield recipe, steps


def _apart_from_whole(recipe, steps):
    """Return by how much the worst deviation of whole steps differs from milp's."""
    ours = whole_steps(recipe, steps=steps).value
    sizes = np.array([steps[one.name] for one in recipe.ingredients]) / recipe.volume
    exact, lines, levels = recipe.optimum.amounts, [], []
    for row in recipe.requirements:
        counts = np.array(row.coefficients)
        if not counts.any():
            continue
        low, high, give = row.low, row.high, 0.0
        if row.kind == "wanted":
            value = row.constant + counts @ exact
            low, high, give = min(low, value), max(high, value), row.scale
            give /= np.sqrt(row.weight) if row.origin == "kept low" else 1.0
        for sign, level in ((1, high), (-1, low)):
            if np.isfinite(level):
                lines.append(np.r_[sign * counts * sizes, -give])
                levels.append(sign * (level - row.constant))
    count = len(sizes)
    cost = np.r_[np.zeros(count), 1.0]
    return abs(ours - _best(cost, lines, levels, np.r_[np.ones(count), 0.0]))


def _best(cost, lines, levels, integrality, most=np.inf):
    """Return the least cost that scipy's mixed-integer solver finds."""
    high = np.where(integrality > 0, most, np.inf)
    found = milp(
        cost,
        constraints=LinearConstraint(np.array(lines), ub=np.array(levels)),
        integrality=integrality,
        bounds=Bounds(0, high),
        options={"mip_rel_gap": 0.0},
    )
    if found.status != 0:
        raise SystemExit(f"milp: {found.message}")
    return float(found.fun)
