"""What to know about a recipe, in words: what it misses and why, what may go wrong."""

from itertools import chain

from formulate.chemistry.plant_safety import STAGES, plant_safety
from formulate.ingredients.hazards import dangerous_pairs
from formulate.notices import Notice, gravest_first
from formulate.recipes.forced import causes
from formulate.recipes.meters import reading
from formulate.recipes.ph_means import held_ph
from formulate.recipes.requirements import brought
from formulate.stoichiometry.nutrients import nutrient, nutrient_keys
from formulate.tables import read_table, recipe_rule
from formulate.working import printed, printed_mg_l, printed_percent

__all__ = ["harm", "remarks"]

SEEDLING_WORDS = ("seedling", "germination", "propagation")
SAME_VALUE = 1e-9
ALKALINE = 9.0  # pH
SOUR = {
    "acid": "acid into water, never water to acid; eye protection and gloves, children away",
    "alkali": "a little at a time into cold water; eye protection and gloves, children away",
}
MOST_CAUSES = 2  # more than this nobody reads


def remarks(recipe, *, weighed=False):
    """
    Return what to know about a recipe.

    Parameters
    ----------
    recipe : Recipe
        The recipe.
    weighed : bool
        Whether its weights were rounded to whole steps: then these tell of small ones,
        and of harm to plants.

    Returns
    -------
    tuple of Notice
        The gravest first.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"K": 200, "Mo": 0.05}), ["KNO3"], volume=10)
    >>> print(remarks(recipe)[0])
    serious: Mo: 0.0500 mg/L wanted, 0 reached (-100.0 %); nothing on the shelf carries it
    """
    found = chain(
        _misses(recipe),
        () if weighed else harm(recipe),
        _nitrogen(recipe),
        _kept_low(recipe),
        () if weighed else _small_amounts(recipe),
        _together(recipe),
        chain.from_iterable(i.notices for i, _ in recipe.amounts),
        _choice(recipe),
        _drawn(recipe),
        () if weighed else _sour(recipe),
        _purity(recipe),
        recipe.target.notices,
        recipe.water.notices,
    )
    return gravest_first(found)


def harm(recipe):
    """
    Return what of a recipe may harm plants: its acidity, and too much of anything.

    Parameters
    ----------
    recipe : Recipe
        The recipe.

    Returns
    -------
    tuple of Notice
        The notices.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> harm(solve(target({"B": 5}), ["boric acid"], volume=10))[0].severity
    'serious'
    """
    return (*_acidity(recipe), *_plants(recipe))


def _misses(recipe):
    """Yield each wanted value that is missed by more than the rule, with its reason."""
    limit, grave = (
        recipe_rule(name).number("high") / 100 for name in ("miss", "large miss")
    )
    for key, miss in recipe.misses.items():
        if abs(miss) <= limit or recipe.target.weights.get(key) == 0:
            continue  # met, or asked to be passed over
        has = printed_mg_l(recipe.solution.mg_l(key))
        if not recipe.target.wanted[key]:
            what = f"{key}: as little as possible was wanted, {has} mg/L came along"
            yield Notice(what, "caution", miss, limit)
            continue
        asked = _asked(recipe.target, key)
        off = printed_percent(100 * miss)
        what = (
            f"{key}: {asked} mg/L wanted, {has} reached ({off}){_reason(recipe, key)}"
        )
        severity = "serious" if abs(miss) > grave * (1 + SAME_VALUE) else "caution"
        yield Notice(what, severity, miss, limit)
    miss = recipe.alkalinity_miss
    if abs(miss) > limit:
        left, asked = recipe.alkalinity_left, recipe.target.alkalinity
        ends = " to ".join(printed(end, 3) for end in dict.fromkeys(asked))
        what = f"alkalinity: {ends} meq/L wanted, {printed(left, 3)} reached"
        yield Notice(what, "caution", left, asked[1])


def _asked(target, key):
    """Return what was wanted in mg/L, both ends of a range."""
    ends = target.ranges.get(key, (target.wanted[key],))
    mass = nutrient(key).molar_mass
    return " to ".join(printed_mg_l(end * mass) for end in ends)


def _reason(recipe, key):
    """Return why a value is missed, where the shelf or the water alone tell it."""
    row, constant = brought(key, recipe.ingredients, recipe.water.solution)
    most = recipe.target.ranges.get(key, (recipe.target.wanted[key],))[-1]
    if constant > most * (1 + SAME_VALUE):
        brings = printed_mg_l(constant * nutrient(key).molar_mass)
        return f"; the water alone brings {brings} mg/L"
    if not any(value > 0 for value in row):
        nothing = "none of the chosen" if recipe.of_few else "nothing on the shelf"
        return f"; {nothing} carries it"
    return _forced(recipe, key)


def _forced(recipe, key):
    """Return which other wish or limit keeps a value from being met."""
    missed = next(
        row for row in recipe.requirements if row.key == key and row.origin == "target"
    )
    found = causes(
        missed,
        recipe.requirements,
        recipe.optimum.amounts,
        recipe_rule("miss").number("high") / 100,
        priorities=recipe.target.priorities,
    )
    name, words = nutrient(key).name, []
    for cause in sorted(found, key=lambda cause: not cause.row.is_metered):
        row = cause.row
        other = nutrient(row.key).name if row.key in nutrient_keys() else ""
        first, second = (name, other) if recipe.misses[key] < 0 else (other, name)
        is_low = row.origin == "kept low"
        asked = "which is kept low" if is_low else f"and {row.name} is asked for"
        without = f"keeping {other} from the shelf low" if is_low else row.name
        keys = (key, row.key) if recipe.misses[key] < 0 else (row.key, key)
        if cause.every and other and _every_barred(recipe, *keys):
            where = "among the chosen" if recipe.of_few else "on the shelf"
            words.append(f"every {first} source {where} brings {second}, {asked}")
        else:
            words.append(f"it would be met if not for {without}")
    return "".join(f"; {text}" for text in words[:MOST_CAUSES])


def _every_barred(recipe, first, second):
    """Return whether what was barred also brings the one only with the other."""
    return all(i.amount(second) > 0 for i in recipe.barred if i.amount(first) > 0)


def _acidity(recipe):
    """Yield what the recipe leaves of alkalinity or free acid, unless a pH is asked for."""
    if held_ph(recipe.target.limits):
        return
    left = recipe.solution.alkalinity()
    carbon = recipe.solution.mmol_l("C")
    acid, most = recipe_rule("free acid"), recipe_rule("alkalinity")
    if left < -acid.number("high"):
        what = (
            f"the recipe leaves {printed(-left, 2)} meq/L of free acid, pH below 4, and an EC by "
            "the simple rule leaves it out: take acid off until alkalinity is left"
        )
        limit = acid.number("high")
        yield Notice(what, "serious", -left, limit, acid["source_key"])
    elif left > carbon + acid.number("high") and _is_alkaline(recipe):
        what = (
            f"the recipe leaves {printed(left, 2)} meq/L of alkalinity, more than its "
            "carbonate can hold: pH above 9; take alkali off"
        )
        yield Notice(what, "serious", left, carbon, acid["source_key"])
    elif min(left, carbon) > most.number("high"):
        tap = printed(recipe.water.solution.alkalinity(), 2)
        what = (
            f"the recipe leaves {printed(left, 2)} meq/L of alkalinity (the water brings "
            f"{tap}), above {most.number('high'):g}: pH will climb unless acid takes it "
            "up"
        )
        yield Notice(what, "caution", left, most.number("high"), most["source_key"])


def _is_alkaline(recipe):
    """Return whether the recipe comes to a pH above 9: phosphate takes alkali up, too."""
    return reading("pH when mixed", recipe.solution) > ALKALINE


def _nitrogen(recipe):
    """Yield what was barred, and what became of the share of ammonium."""
    if recipe.barred:
        names = ", ".join(ingredient.name for ingredient in recipe.barred)
        what = f"left out because plants without soil take urea up poorly: {names}"
        yield Notice(what)
    yield from recipe.dropped
    share = recipe.target.ammonium_share
    if share is None or any(n.what.startswith("ammonium") for n in recipe.dropped):
        return
    low, high = (100 * part for part in share)
    kept = f"ammonium is kept at {low:g} to {high:g} % of nitrogen"
    source = recipe_rule("ammonium share")["source_key"]
    nitrogen = recipe.solution.mmol_l("N")
    if nitrogen > SAME_VALUE:
        has = recipe.solution.mmol_l("NH4-N") / nitrogen
        held = " (it binds)" if any("of N" in name for name in recipe.binding) else ""
        yield Notice(
            f"{kept}{held}; here {100 * has:.1f} %", "note", has, share[1], source
        )
    elif any("of N" in name for name in recipe.binding):
        what = f"{kept}, which no mixture of the shelf's nitrogen meets: none was used"
        yield Notice(what, "serious", None, share[1], source)


def _kept_low(recipe):
    """Yield sodium and chloride that the shelf brings beyond their scale."""
    for row in recipe.requirements:
        if row.origin != "kept low":
            continue
        pairs = zip(row.coefficients, recipe.optimum.amounts, strict=True)
        from_shelf = float(sum(c * a for c, a in pairs))
        if from_shelf > row.scale:
            mass = printed_mg_l(from_shelf * nutrient(row.key).molar_mass)
            what = f"{row.key}: the shelf brings {mass} mg/L that nobody asked for"
            yield Notice(what, "caution", from_shelf, row.scale, "mattson-peters-2014")


def _plants(recipe):
    """Yield what may harm plants at the target's stage."""
    words = recipe.target.stage.casefold()
    is_young = any(word in words for word in SEEDLING_WORDS)
    stage = next(
        (s for s in STAGES if s in words), "seedling" if is_young else "mature"
    )
    asks_ph = held_ph(recipe.target.limits)
    for notice in plant_safety(recipe.solution, stage=stage):
        if asks_ph and notice.what.startswith("pH "):
            continue  # of the batch as mixed; the one that was asked for is kept
        if not notice.what.startswith("free acid"):  # told with the acidity
            yield notice


def _small_amounts(recipe):
    """Yield what is too little for its weighing step, all in one notice."""
    rules = {row["rule"]: row for row in read_table("dissolving_rules")}
    least = rules["small amount"].number("limit")
    small = []
    for ingredient, amount in recipe.amounts:
        step = ingredient.weighing_step
        if step and amount < least * step:
            in_unit = f"{printed(amount, 3)} {ingredient.measured_in}"
            error = printed(50 * step / amount, 2)
            small.append(f"{ingredient.name} {in_unit} (± {error} %)")
    if small:
        what = (
            f"under {least:g} weighing steps, so the balance decides: "
            f"{', '.join(small)}; dissolve a larger weight and dose by volume"
        )
        yield Notice(what, "caution", None, least)


def _purity(recipe):
    """Yield which salts were counted as pure though bags are not."""
    sold = [
        f"{ingredient.name} (sold as {ingredient.sold_purity} %)"
        for ingredient, _ in recipe.amounts
        if ingredient.sold_purity and ingredient.purity_percent == 100
    ]
    if sold:
        yield Notice(f"counted as pure: {', '.join(sold)}; give purity if a label does")


def _together(recipe):
    """Yield what must never meet while the batch is made."""
    found = dangerous_pairs(ingredient for ingredient, _ in recipe.amounts)
    yield from (notice for notice in found if notice.severity == "serious")


def _drawn(recipe):
    """Yield what a pH and an EC among the limits rest on."""
    asked = [held.subject for held in recipe.target.limits if held.is_metered]
    if asked:
        what = (
            f"{' and '.join(dict.fromkeys(asked))}: held by lines drawn at this recipe, and "
            "proven the nearest for these; the curves themselves bend a little"
        )
        yield Notice(what, "note", source_key="definition")


def _sour(recipe):
    """Yield the caution for each strong acid or alkali that is weighed or poured."""
    for ingredient, _ in recipe.amounts:
        if ingredient.role in SOUR:
            yield Notice(f"{ingredient.name}: {SOUR[ingredient.role]}", "caution")


def _choice(recipe):
    """Yield how one recipe was chosen among equals."""
    if recipe.optimum.is_unique:
        return
    by = ", ".join(recipe.optimum.ranked_by) or "as found"
    names = ", ".join(recipe.equivalents)
    also = f"; could stand in: {names}" if names else ""
    yield Notice(f"other weights reach the same wanted values; chosen by {by}{also}")
    missing = [i.name for i in recipe.ingredients if i.price is None]
    if missing and len(missing) < len(recipe.ingredients):
        yield Notice(f"cost was not compared, no price for: {', '.join(missing)}")
