"""Stock solutions and dry blends: ingredients that are made of ingredients."""

from collections.abc import Mapping

from formulate.checks import checked_number
from formulate.errors import Faults
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.salts import as_ingredient
from formulate.stoichiometry.quantities import check_volume, read_quantity

__all__ = ["blend", "stock"]

ML_PER_LITRE = 1000.0


def _weighed_parts(parts, faults):
    """Return (ingredient, grams or mL) for each part; every fault is collected."""
    found = []
    if not isinstance(parts, Mapping) or not parts:
        faults.add("no parts; give a mapping of ingredient to grams")
        return found
    for thing, amount in parts.items():
        with faults.collecting(getattr(thing, "name", str(thing))):
            ingredient = as_ingredient(thing)
            found.append((ingredient, _weight(ingredient, amount)))
    if found and not any(amount for _, amount in found):
        faults.add("every part is 0")
    return found


def _weight(ingredient, amount):
    """Return one part in grams or mL."""
    if isinstance(amount, str):
        unit = ingredient.measured_in
        value, of_unit = read_quantity(amount, "mass", "volume", default=unit)
        amount = ingredient.amount_measured(value, of_unit)
    return checked_number(amount, ingredient.measured_in, least=0)


def _sum(parts, per):
    """Return what one gram or millilitre of the whole holds, costs and threatens."""
    forms, charge = {}, 0.0
    for ingredient, amount in parts:
        share = amount / per
        charge += ingredient.unassigned_charge * share
        for key, value in ingredient.forms.items():
            forms[key] = forms.get(key, 0.0) + value * share
    prices = [ingredient.cost(amount) for ingredient, amount in parts]
    price = None if None in prices else sum(prices) / per * 1000
    codes = {code for ingredient, _ in parts for code in ingredient.hazards}
    known = all(ingredient.hazards for ingredient, _ in parts)
    hazards = tuple(sorted(codes - {"none"})) or (("none",) if known else ())
    roles = {ingredient.role for ingredient, _ in parts}
    role = next((role for role in ("acid", "alkali") if role in roles), "")
    return {
        "forms": forms,
        "unassigned_charge": charge,
        "price": price,
        "hazards": hazards,
        "role": role,
        "source_key": "stoichiometry",
        "how_known": "computed",
    }


def stock(name, parts, *, volume):
    """
    Return a stock solution as an ingredient that is measured in millilitres.

    Parameters
    ----------
    name : str
        How it is called.
    parts : mapping
        Ingredient, formula or catalogue name to grams (or text with a unit). [g]
    volume : float or str
        Final volume it is made up to. [L]

    Returns
    -------
    Ingredient
        The stock; its amounts are per millilitre.

    Raises
    ------
    InputError
        With every fault of parts and volume.

    Examples
    --------
    >>> one_molar = stock("potassium nitrate, 1 mol/L", {"KNO3": 101.102}, volume=1)
    >>> round(one_molar.amount("K"), 4)
    1.0
    """
    faults = Faults(str(name))
    found = _weighed_parts(parts, faults)
    with faults.collecting():
        volume = check_volume(volume)
    faults.raise_if_any()
    return Ingredient(
        str(name),
        measured_in="mL",
        note=f"made up to {volume:g} L: {_listed(found)}",
        parts=tuple(found),
        made_of=volume * ML_PER_LITRE,
        **_sum(found, volume * ML_PER_LITRE),
    )


def blend(name, parts):
    """
    Return a dry blend as an ingredient.

    Parameters
    ----------
    name : str
        How it is called.
    parts : mapping
        Ingredient, formula or catalogue name to parts by mass. [g]

    Returns
    -------
    Ingredient
        The blend; its amounts are per gram.

    Raises
    ------
    InputError
        With every fault of the parts.

    Examples
    --------
    >>> base = blend("base", {"KNO3": 60, "KH2PO4": 40})
    >>> round(base.percent("P"), 2)
    9.1
    """
    faults = Faults(str(name))
    found = _weighed_parts(parts, faults)
    for ingredient, _ in found:
        if ingredient.is_liquid:
            faults.add(f"{ingredient.name} is a liquid; a dry blend takes solids")
    faults.raise_if_any()
    total = sum(amount for _, amount in found)
    water = sum(i.crystal_water * amount for i, amount in found) / total
    return Ingredient(
        str(name),
        crystal_water=water,
        note=f"parts by mass: {_listed(found)}",
        parts=tuple(found),
        made_of=total,
        **_sum(found, total),
    )


def _listed(found):
    return ", ".join(f"{ingredient.name} {amount:g}" for ingredient, amount in found)
