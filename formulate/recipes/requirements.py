"""What is asked of a recipe, as rows over the ingredients.

A requirement is a named linear row: so much per gram of each ingredient, plus what the
water brings. The solver knows rows only; conflicts and misses are told in their names.
"""

import math
from functools import cache

from formulate.recipes.drawing import draw, metered_rows
from formulate.recipes.ions_of_target import start_of
from formulate.recipes.limits import Limit, counted
from formulate.recipes.requirement import HARD, Requirement
from formulate.stoichiometry.nutrients import nutrient, nutrient_keys
from formulate.stoichiometry.solution import Solution
from formulate.stoichiometry.units import convert
from formulate.tables import read_table
from formulate.working import printed, printed_mg_l

__all__ = [
    "Requirement",
    "amount_rows",
    "brought",
    "kept_low",
    "limit_rows",
    "requirements_of",
    "room_for_liquids",
    "share_of_nitrogen",
    "uncalled_traces",
]

NO_WATER = Solution({})


def brought(key, ingredients, tap):
    """
    Return what each ingredient, and the water, bring of a nutrient.

    Parameters
    ----------
    key : str
        Nutrient key.
    ingredients : sequence of Ingredient
        The shelf.
    tap : Solution
        The water.

    Returns
    -------
    coefficients : tuple of float
        Amount per gram or millilitre of each ingredient in a litre. [mmol/g]
    constant : float
        Amount that the water brings. [mmol/L]

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.stoichiometry.solution import solution
    >>> row, constant = brought("K", [salt("KNO3")], solution({"K": 0.1}))
    >>> round(row[0], 3), constant
    (9.891, 0.1)
    """
    weights = tuple(nutrient(key).weights.items())
    constant = sum((w * tap.forms.get(form, 0.0) for form, w in weights), 0.0)
    coefficients = []
    for ingredient in ingredients:
        forms = ingredient.forms
        value = sum((w * forms[form] for form, w in weights if form in forms), 0.0)
        coefficients.append(value)
    return tuple(coefficients), constant


def _ceiling(key):
    """Return the row of the table that scales a wanted value of 0."""
    known = nutrient(key)
    rows = {row["key"]: row for row in read_table("ceilings")}
    row = rows.get(known.key) or rows[f"group {known.group}"]
    return convert(row.number("scale"), row["unit"], "mmol/L", of=known), row


def requirements_of(target, ingredients, tap, drawing=None):
    """
    Return the rows that a target asks for.

    Parameters
    ----------
    target : Target
        What is wanted.
    ingredients : sequence of Ingredient
        The shelf.
    tap : Solution
        The water.
    drawing : Drawing or None
        The lines of limits on pH and EC; drawn at the target's own ions if None.

    Returns
    -------
    tuple of Requirement
        One wanted row per value of the target, the rows that keep sodium, chloride and
        trace elements of the shelf low where the target does not name them, the share of ammonium and the limits as hard
        rows.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.target import target
    >>> from formulate.stoichiometry.solution import solution
    >>> rows = requirements_of(target({"K": 200}), [salt("KNO3")], solution({}))
    >>> [row.name for row in rows]
    ['K 200.0 mg/L']
    """
    rows = [_wanted(key, target, ingredients, tap) for key in target.wanted]
    if target.alkalinity is not None:
        rows.append(_alkalinity(*target.alkalinity, ingredients, tap))
    named = {form for key in target.wanted for form in nutrient(key).weights}
    for row in read_table("ceilings"):
        if row["unnamed_weight"] and not named & set(nutrient(row["key"]).weights):
            low = kept_low(row["key"], row.number("unnamed_weight"), ingredients)
            rows += [low] * any(low.coefficients)
    rows.extend(_harmless(target, ingredients))
    if target.ammonium_share is not None:
        rows.extend(
            share_of_nitrogen("NH4-N", *target.ammonium_share, ingredients, tap)
        )
    if drawing is None and any(held.is_metered for held in target.limits):
        drawing = draw(target.limits, start_of(target))
    for held in target.limits:
        rows.extend(limit_rows(held, ingredients, tap, drawing))
    return tuple(rows)


def _wanted(key, target, ingredients, tap):
    """Return the row of one wanted value; a wanted 0 is a ceiling with its own scale."""
    coefficients, constant = brought(key, ingredients, tap)
    value, weight = target.wanted[key], target.weights.get(key, 1.0)
    facts = {"constant": constant, "key": key, "origin": "target"}
    if not value:
        scale, row = _ceiling(key)
        weight *= row.number("named_weight") ** 2
        name = f"{key} as little as possible"
        facts |= {"scale": scale, "weight": weight}
        return Requirement(name, coefficients, 0.0, 0.0, **facts)
    low, high = target.ranges.get(key, (value, value))
    mass = nutrient(key).molar_mass
    ends = " to ".join(printed(end * mass) for end in dict.fromkeys((low, high)))
    name = f"{key} {ends} mg/L"
    facts |= {"scale": value, "weight": weight}
    return Requirement(name, coefficients, low, high, **facts)


def _alkalinity(low, high, ingredients, tap):
    """Return the row of a wanted alkalinity."""
    (weights,) = Limit("alkalinity", unit="meq/L").weights()
    ends = " to ".join(printed(end, 3) for end in dict.fromkeys((low, high)))
    return Requirement(
        f"alkalinity {ends} meq/L",
        tuple(counted(weights, ingredient) for ingredient in ingredients),
        low,
        high,
        counted(weights, tap),
        unit="meq/L",
        scale=(low + high) / 2 or 1.0,
        key="alkalinity",
        origin="alkalinity",
    )


def limit_rows(held, ingredients, tap, drawing=None):
    """
    Return the hard rows of a limit on what a litre holds.

    A ratio a:b at most r is the row a - r b, at most 0. Of a pH it is the charge at that
    pH, which must be 0 there, more below it and less above; of the EC its tangent.

    Parameters
    ----------
    held : Limit
        The limit.
    ingredients : sequence of Ingredient
        The shelf.
    tap : Solution
        The water.
    drawing : Drawing or None
        The lines of limits on pH and EC; not needed for others.

    Returns
    -------
    tuple of Requirement
        One row for each side that is closed.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.limits import limit
    >>> from formulate.stoichiometry.solution import solution
    >>> held = limit("K:Ca", "1 to 1.5")
    >>> rows = limit_rows(held, [salt("KNO3")], solution({}))
    >>> [row.name for row in rows]
    ['K:Ca at least 1', 'K:Ca at most 1.5']
    """
    if held.is_metered:
        return metered_rows(held, ingredients, tap, drawing)
    above, *below = held.weights()
    rows = []
    for side in held.sides:
        bound = held.low if side == "low" else held.high
        weights, level = dict(above), bound
        if below:
            for key, weight in below[0].items():
                weights[key] = weights.get(key, 0.0) - bound * weight
            level = 0.0
        rows.append(
            Requirement(
                held.named(side),
                tuple(counted(weights, ingredient) for ingredient in ingredients),
                -math.inf if side == "high" else level,
                math.inf if side == "low" and held.low < held.high else level,
                counted(weights, tap),
                unit="" if below else held.unit,
                kind=HARD,
                key=held.subject,
                origin="limit",
                limit=held,
                below=_counts(below[0], ingredients, tap) if below else (),
            )
        )
    return tuple(rows)


def _counts(weights, ingredients, tap):
    """Return what each ingredient, and last the water, counts for."""
    return tuple(counted(weights, thing) for thing in (*ingredients, tap))


def amount_rows(held, ingredients, volume):
    """
    Return the hard rows of a limit on the amount of one ingredient.

    Parameters
    ----------
    held : Limit
        The limit, in grams or millilitres of the batch.
    ingredients : sequence of Ingredient
        The shelf.
    volume : float
        Volume of the batch. [L]

    Returns
    -------
    tuple of Requirement
        One row for each side that is closed.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.limits import amount_limit
    >>> kno3 = salt("KNO3")
    >>> held = amount_limit("KNO3", "at most 20 g", kno3, 40)
    >>> amount_rows(held, [kno3], 40)[0].high
    0.5
    """
    picked = tuple(float(i.name == held.subject) for i in ingredients)
    rows = []
    for side in held.sides:
        low = -math.inf if side == "high" else held.low / volume
        high = (
            math.inf if side == "low" and held.low < held.high else held.high / volume
        )
        name = f"amount of {held.named(side)}"
        unit = f"{held.unit}/L"
        facts = {"unit": unit, "kind": HARD, "origin": "amount", "limit": held}
        rows.append(Requirement(name, picked, low, high, **facts))
    return tuple(rows)


@cache
def _traces():
    """Return the symbols of the micronutrients, each with its forms."""
    known = (nutrient(key) for key in nutrient_keys())
    return {
        one.key: frozenset(one.weights)
        for one in known
        if one.group == "micro" and one.key == one.basis
    }


def uncalled_traces(target, ingredients):
    """
    Return how much of trace elements that nobody asked for each ingredient brings.

    Parameters
    ----------
    target : Target
        What is wanted.
    ingredients : sequence of Ingredient
        The shelf.

    Returns
    -------
    tuple of float
        Sum over the micronutrients that the target does not name. [mmol/g]

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.target import target
    >>> shelf = [salt("KNO3"), salt("MnSO4·H2O")]
    >>> [round(v, 2) for v in uncalled_traces(target({"S": 60}), shelf)]
    [0.0, 5.92]
    """
    uncalled = _uncalled(target)
    return tuple(sum(i.forms.get(form, 0.0) for form in uncalled) for i in ingredients)


def _uncalled(target):
    """Return the forms of micronutrients that a target does not name."""
    named = {form for key in target.wanted for form in nutrient(key).weights}
    return sorted({form for forms in _traces().values() for form in forms} - named)


def _harmless(target, ingredients):
    """Yield the rows that hold uncalled traces of the shelf below where plants suffer."""
    uncalled = set(_uncalled(target))
    named = {form for key in target.wanted for form in nutrient(key).weights}
    useful = [i for i in ingredients if named & set(i.forms)]
    for key, most in _harmful().items():
        forms = _traces()[key]
        if not forms <= uncalled or not any(forms & set(i.forms) for i in useful):
            continue
        brought_by, _ = brought(key, ingredients, NO_WATER)
        bound = f"{printed_mg_l(most * nutrient(key).molar_mass)} mg/L"
        facts = {"high": most, "scale": most, "key": key, "origin": "kept low"}
        yield Requirement(f"{key} from the shelf, below {bound}", brought_by, **facts)


@cache
def _harmful():
    """Return from what concentration on traces harm plants, by the gravest limit. [mmol/L]"""
    found = {}
    for row in read_table("plant_limits"):
        key = row["quantity"]
        if key in _traces() and row["stage"] == "any" and row["high"]:
            most = convert(row.number("high"), row["unit"], "mmol/L", of=nutrient(key))
            found[key] = max(most, found.get(key, 0.0))
    return found


def kept_low(key, weight, ingredients):
    """
    Return the row that keeps low what the shelf brings of an ion nobody asked for.

    Parameters
    ----------
    key : str
        Nutrient key.
    weight : float
        Weight of a deviation against one of a wanted value. [-]
    ingredients : sequence of Ingredient
        The shelf; what the water brings cannot be helped and is left out.

    Returns
    -------
    Requirement
        A wanted row with the value 0.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> kept_low("Cl", 0.1, [salt("KCl")]).high
    0.0
    """
    coefficients, _ = brought(key, ingredients, NO_WATER)
    scale, _ = _ceiling(key)
    return Requirement(
        f"{key} from the shelf, kept low",
        coefficients,
        0.0,
        0.0,
        scale=scale,
        weight=weight**2,
        key=key,
        origin="kept low",
    )


def share_of_nitrogen(key, low, high, ingredients, tap):
    """
    Return the hard rows that keep a form of nitrogen within a share of all nitrogen.

    Parameters
    ----------
    key : str
        Nutrient key of the form, such as "NH4-N".
    low : float
        Least share. [-]
    high : float
        Greatest share. [-]
    ingredients : sequence of Ingredient
        The shelf.
    tap : Solution
        The water.

    Returns
    -------
    tuple of Requirement
        At most two rows, each "form minus share of N, on one side of 0".

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.stoichiometry.solution import solution
    >>> rows = share_of_nitrogen("NH4-N", 0, 0.15, [salt("NH4NO3")], solution({}))
    >>> [row.name for row in rows]
    ['NH4-N at most 15 % of N']
    """
    part, part_water = brought(key, ingredients, tap)
    whole, whole_water = brought("N", ingredients, tap)
    rows = []
    for share, words in ((high, "at most"), (low, "at least")):
        if share in (0.0, 1.0) and words == ("at least" if share == 0.0 else "at most"):
            continue
        coefficients = tuple(p - share * w for p, w in zip(part, whole, strict=True))
        bound = {"high": 0.0} if words == "at most" else {"low": 0.0}
        rows.append(
            Requirement(
                f"{key} {words} {100 * share:g} % of N",
                coefficients,
                constant=part_water - share * whole_water,
                kind=HARD,
                key=key,
                origin="ammonium share",
                **bound,
            )
        )
    return tuple(rows)


def room_for_liquids(ingredients):
    """
    Return the hard row that liquids fit into the volume.

    Parameters
    ----------
    ingredients : sequence of Ingredient
        The shelf.

    Returns
    -------
    tuple of Requirement
        One row, in litres of liquid per litre; none if no liquid is on the shelf.

    Examples
    --------
    >>> from formulate.ingredients.stock import stock
    >>> (row,) = room_for_liquids([stock("A", {"KNO3": 100}, volume=1)])
    >>> row.coefficients, row.high
    ((0.001,), 1.0)
    """
    litres = tuple(i.millilitres(1.0) / 1000 for i in ingredients)
    if not any(litres):
        return ()
    name = "liquids at most the whole volume"
    row = Requirement(name, litres, high=1.0, unit="L/L", kind=HARD, origin="room")
    return (row,)
