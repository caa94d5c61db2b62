"""Do two ingredients keep together in one concentrated stock, and why not.

Both stand in one volume of pure water, each at so many times its usual amount in a
working solution. The verdict comes from the chemistry of that stock: what falls out at its
own pH and below pH 6, which soluble salt takes most of its solubility, which gas leaves,
which chelate loses its metal. Tables speak only where no equilibrium does. The words::

    dangerous        gases, fire or an explosive: never together
    incompatible     something falls out, or a chelate is lost
    caution          clear under a condition that the reason tells: mostly the pH; or
                     one of the two is not clear by itself
    less soluble     clear, but a salt crystallises sooner than from either alone
    compatible       nothing speaks against it
"""

from collections.abc import Mapping
from itertools import combinations

import numpy as np

from formulate.checks import checked_number
from formulate.chemistry.speciation import index_spread
from formulate.chemistry.water_properties import check_temperature
from formulate.errors import Faults, InputError, shortened
from formulate.ingredients.hazards import is_meant
from formulate.ingredients.salts import as_ingredient
from formulate.mixing.nearness import mixing_rule
from formulate.mixing.outsiders import outsider, outsider_grounds
from formulate.mixing.pair_grounds import WORDS, gravest, pair_grounds
from formulate.mixing.pair_states import (
    AGED,
    pair_limit,
    pair_states,
    solid_edges,
    solid_levels,
)
from formulate.mixing.strength import strength_of
from formulate.mixing.usual_amounts import usual_amount
from formulate.mixing.verdicts import CompatibilityTable, PairVerdict
from formulate.notices import Notice, gravest_first
from formulate.tables import read_table, rule_of

__all__ = [
    "WORDS",
    "CompatibilityTable",
    "PairVerdict",
    "compatibility_table",
    "pair_verdict",
]

CLEAR, CLOUDED = "clear", "not clear"
DIGITS = 9  # of mmol in a gram: what is smaller is rounding


def pair_verdict(
    first, second, *, strength=100, temperature=20.0, grams_per_litre=None
):
    """
    Return how two ingredients keep together in one concentrated stock.

    Parameters
    ----------
    first : Ingredient or str
        One ingredient, its formula or its name; bleach, metals and organic matter too.
    second : Ingredient or str
        The other.
    strength : float
        Final volumes that one volume of stock makes: 100 for 1:100. [-]
    temperature : float
        Temperature of the stock, from 0 to 50. [°C]
    grams_per_litre : pair of float, mapping or None
        Of each in a litre of working solution, in their order or by what was given; None
        means its usual amount. [g/L]

    Returns
    -------
    PairVerdict
        The verdict, its reasons, and what happens at working strength.

    Raises
    ------
    InputError
        With every fault: an unknown name, one ingredient twice, a strength or a
        temperature out of range, amounts that cannot dissolve.

    Examples
    --------
    >>> found = pair_verdict("calcium nitrate tetrahydrate", "Epsom salt")
    >>> found.word, found.working
    ('incompatible', 'clear')
    """
    faults, others = Faults("pair_verdict"), [outsider(first), outsider(second)]
    if all(others):
        faults.add(
            f"{others[0].name} and {others[1].name}: name at least one ingredient"
        )
    things = [a for a, b in zip((first, second), others, strict=True) if not b]
    strength, temperature = _conditions(faults, strength, temperature)
    found, grams = _amounts(faults, things, grams_per_litre, any(others))
    _check_twice(faults, found)
    _check_room(faults, found, grams, strength)
    faults.raise_if_any()
    if any(others):
        (one,), (other,) = found, [o for o in others if o]
        return _with_outsider(one, other, bool(others[0]), strength, temperature)
    states = pair_states(found, grams, strength, temperature)
    told = [*_by_model(states), *_notices(strength, grams_per_litre)]
    return _verdict(states, 0, told)


def compatibility_table(
    ingredients, *, strength=100, temperature=20.0, grams_per_litre=None
):
    """
    Return how the ingredients of a shelf keep together, each with each, as one stack.

    Parameters
    ----------
    ingredients : iterable of (Ingredient or str)
        Two ingredients or more, formulas or names.
    strength : float
        Final volumes that one volume of stock makes: 100 for 1:100. [-]
    temperature : float
        Temperature of the stocks, from 0 to 50. [°C]
    grams_per_litre : sequence of float, mapping or None
        Of each in a litre of working solution, in their order or by what was given; None
        means its usual amount. [g/L]

    Returns
    -------
    CompatibilityTable
        The words; reasons on request.

    Raises
    ------
    InputError
        With every fault, as in `pair_verdict`; or fewer than two ingredients.

    Examples
    --------
    >>> print(compatibility_table(["CaCl2·2H2O", "MgSO4·7H2O"]))
    together in one stock at 1:100 and 20 °C
      1 CaCl2·2H2O
      2 MgSO4·7H2O  incompatible
                    1
    note: each at its usual amount; for your own write grams_per_litre
    """
    faults = Faults("compatibility_table")
    single = isinstance(ingredients, str) or not hasattr(ingredients, "__iter__")
    things = [ingredients] if single else list(ingredients)
    if len(things) < 2:
        faults.add("give two ingredients or more")
    strength, temperature = _conditions(faults, strength, temperature)
    found, grams = _amounts(faults, things, grams_per_litre, False)
    _check_twice(faults, found)
    _check_room(faults, found, grams, strength)
    faults.raise_if_any()
    states = pair_states(found, grams, strength, temperature)
    verdicts = tuple(_verdict(states, n, ()) for n in range(len(states.pairs)))
    names = tuple(ingredient.name for ingredient in found)
    told = _notices(strength, grams_per_litre)
    return CompatibilityTable(names, verdicts, strength, temperature, told)


# --- what was given --------------------------------------------------------------------


def _conditions(faults, strength, temperature):
    """Return strength and temperature if they can be; 100 and 20 where they cannot."""
    checked = {"strength": mixing_rule("usual stock"), "temperature": 20.0}
    most = pair_limit("strongest stock computed")
    with faults.collecting():
        times = strength_of(strength).times
        if times > most:
            raise InputError(
                f"strength {strength!r}: 1:{most:g} is the strongest computed"
            )
        checked["strength"] = times
    with faults.collecting():
        checked["temperature"] = check_temperature(temperature)
    return checked["strength"], checked["temperature"]


def _amounts(faults, things, grams_per_litre, with_outsider):
    """Return the ingredients that were found, and grams in a litre of each."""
    found, grams = [], []
    given = _given(faults, things, grams_per_litre, with_outsider)
    for place, thing in enumerate(things):
        with faults.collecting():
            ingredient = as_ingredient(thing)
            amount = given.get(place)
            if with_outsider:
                amount = 0.0
            elif amount is None:
                amount = usual_amount(ingredient)
            else:
                what = f"{ingredient.name}, grams_per_litre"
                amount = checked_number(amount, what, above=0)
            found.append(ingredient)
            grams.append(amount)
    return found, grams


def _given(faults, things, grams_per_litre, with_outsider):
    """Return place of a thing to the grams that were given of it."""
    if grams_per_litre is None or with_outsider:
        return {}
    if isinstance(grams_per_litre, Mapping):
        names = [getattr(thing, "name", thing) for thing in things]
        left = {getattr(key, "name", key): v for key, v in grams_per_litre.items()}
        found = {n: left.pop(name) for n, name in enumerate(names) if name in left}
        for name in left:
            faults.add(f"grams_per_litre: {shortened(name)} is none of the ingredients")
        return found
    listed = hasattr(grams_per_litre, "__len__") and not isinstance(
        grams_per_litre, str
    )
    if not listed or len(grams_per_litre) != len(things):
        what = f"give {len(things)} numbers, one for each ingredient, or a mapping"
        faults.add(f"grams_per_litre: {shortened(grams_per_litre)}; {what}")
        return {}
    return dict(enumerate(grams_per_litre))


def _check_twice(faults, found):
    """Add a fault for each ingredient that stands there more than once."""
    names = [ingredient.name for ingredient in found]
    for name in dict.fromkeys(name for name in names if names.count(name) > 1):
        faults.add(f"{shortened(name)} stands here twice; a pair is two ingredients")
    for one, other in combinations(found, 2):
        same = _contents(one) == _contents(other)
        if same and one.name != other.name:
            names = f"{shortened(one.name)} and {shortened(other.name)}"
            faults.add(f"{names} are the same material; a pair is two ingredients")


def _contents(ingredient):
    """Return what tells an ingredient from others, whatever it is called."""
    forms = {form: round(held, DIGITS) for form, held in ingredient.forms.items()}
    return ingredient.measured_in, frozenset(forms.items())


def _check_room(faults, found, grams, strength):
    """Add a fault for each ingredient, or the two largest, that cannot be in a litre."""
    most = rule_of("dissolving_rules", "solids made up to").number("limit")
    solids, litres = [0.0], [0.0]
    for ingredient, amount in zip(found, grams, strict=True):
        stock = amount * strength
        if ingredient.is_liquid and ingredient.millilitres(1.0) == 0:
            faults.add(f"{shortened(ingredient.name)}: its density is needed")
        elif ingredient.is_liquid:
            litres.append(ingredient.millilitres(stock) / 1000.0)
        else:
            solids.append(stock)
    solid, liquid = sum(sorted(solids)[-2:]), sum(sorted(litres)[-2:])
    advice = "choose a weaker stock or smaller amounts"
    if solid > most:
        faults.add(f"{solid:.4g} g of salts do not dissolve in a litre; {advice}")
    if liquid >= 1:
        faults.add(f"the liquids alone take {liquid:.3g} L of a litre; {advice}")


# --- the verdict -----------------------------------------------------------------------


def _with_outsider(ingredient, other, other_first, strength, temperature):
    """Return the verdict on an ingredient and what is none, by tables alone."""
    names = [ingredient.name, other.name]
    first, second = reversed(names) if other_first else names
    grounds = outsider_grounds(ingredient, other)
    what = f"{other.name} is no ingredient here: judged by tables, nothing is computed"
    word = gravest(grounds)
    told = (Notice(what, source_key=other.source_key),)
    return PairVerdict(
        first, second, word, grounds, strength, temperature, notices=told
    )


def _verdict(states, pair, notices):
    """Return the verdict on one pair of a stack."""
    found, row = pair_grounds(states, pair), states.row(pair)[0]
    grounds = tuple(ground for ground in found if ground.word in WORDS)
    told = [Notice(g.text, "caution", None, None, g.source_key) for g in found]
    told = [n for n, g in zip(told, found, strict=True) if g.word not in WORDS]
    one, other = (states.ingredients[place] for place in states.pairs[pair])
    working, why = _working(states, pair)
    return PairVerdict(
        one.name,
        other.name,
        gravest(grounds),
        grounds,
        states.strength,
        states.temperature,
        tuple(float(states.grams[place]) for place in states.pairs[pair]),
        float(states.state.ph[row]),
        _nearest(states.indices, row),
        working,
        why,
        gravest_first([*told, *_alone(states, pair), *notices]),
    )


def _nearest(indices, row):
    """Return the solid that is nearest to falling out of one row, in words."""
    found = {name: float(index[row]) for name, index in indices.items()}
    found = {name: value for name, value in found.items() if np.isfinite(value)}
    if not found:
        return "no solid of the tables can form"
    name = max(found, key=lambda name: found[name] - solid_edges(name)[0])
    return f"the nearest solid is {name}, index {found[name]:+.2f}"


def _working(states, pair):
    """Return whether a pair is clear at working strength, acid or at pH 6, and why."""
    row = states.row(pair)[0] + states.rows
    ph, most = float(states.state.ph[row]), states.acid_steps[-1]
    held = {n: index[-1] for n, index in states.indices_held.items()}
    for indices, at in ((states.indices, ph), (held, float(most))):
        fallen = [n for n, i in indices.items() if solid_levels(n, i[row]) == 2]
        if fallen and (at == ph or ph < most):
            name = max(fallen, key=lambda n: indices[n][row])
            index = float(indices[name][row])
            return CLOUDED, f"{name} has index {index:+.2f} at pH {at:.1f}"
    return CLEAR, f"{_nearest(states.indices, row)}, at pH {ph:.1f}"


def _alone(states, pair):
    """Yield what one of the two does by itself in any stock."""
    for place in states.pairs[pair]:
        name = states.ingredients[place].name
        for row in _rules_alone():
            if is_meant(states.ingredients[place], row["first"]):
                what = f"{name}: {row['text']}"
                yield Notice(what, "caution", source_key=row["source_key"])


def _by_model(states):
    """Yield each solid of which other models of activity would say something else."""
    row, near = states.row(0)[0], pair_limit("models are asked")
    for name, index in states.indices.items():
        value, edges = float(index[row]), solid_edges(name)
        if name == AGED or min(abs(value - edge) for edge in edges) > near:
            continue
        ends = [float(end[row]) for end in index_spread(states.state, name)]
        low, high = min(*ends, value), max(*ends, value)
        if solid_levels(name, low) != solid_levels(name, high):
            span = f"{name} has index {value:+.2f}, {low:+.2f} to {high:+.2f} by model"
            what = f"{span} of activity: near the edge, so try it in a glass first"
            yield Notice(what, "caution", value, None, "pq386-sit")


def _rules_alone():
    """Return the rules about what one ingredient does by itself."""
    keys = [r["rule"] for r in read_table("pair_rules") if r["verdict"] == "alone"]
    return [row for row in read_table("stock_rules") if row["rule"] in keys]


def _notices(strength, grams_per_litre):
    """Return what to know of every verdict."""
    found = []
    low, high = mixing_rule("weakest stock"), mixing_rule("strongest stock")
    if not low <= strength <= high:
        what = f"1:{strength:g} is outside the usual 1:{low:g} to 1:{high:g}"
        limit = low if strength < low else high
        found.append(Notice(what, "note", strength, limit, "ext-mixing"))
    if grams_per_litre is None:
        what = "each at its usual amount; for your own write grams_per_litre"
        found.append(Notice(what, source_key="hershey-1997; ext-mixing"))
    return tuple(found)
