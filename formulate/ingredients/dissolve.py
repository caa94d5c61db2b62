"""Dissolving: what a solution holds once weighed and poured ingredients are in the water.

"Made up to" a volume means that the last of the water is added until the mark is reached:
liquids take their own volume of it, solids are counted as taking none (under 0.05 % for
each gram in a litre). "Added to" a volume of water means that the solution ends a little
larger; how much follows from partial molar volumes.
"""

from collections.abc import Mapping

from formulate.checks import checked_number
from formulate.errors import Faults, InputError, MissingData, shortened
from formulate.ingredients.salts import as_ingredient
from formulate.ingredients.water import Water
from formulate.ingredients.water import water as as_water
from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.quantities import check_volume, read_quantity
from formulate.stoichiometry.solution import Solution
from formulate.stoichiometry.units import house_value, unit
from formulate.tables import read_table

__all__ = ["displaced_millilitres", "dissolve", "measured_amounts", "poured_litres"]

KINDS = ("mass", "volume", "mass_concentration", "amount_concentration", "dose")
SPOONS = ("US tsp", "US tbsp", "US cup", "metric tsp", "metric tbsp", "metric cup")
DUST = 1e-12  # share of water: less is rounding
WAYS = ("made up to", "added to")


def dissolve(amounts, *, volume, water=None, way="made up to"):
    """
    Return the solution that ingredients make in a volume of water.

    Equation of what a litre holds [definition]::

        c = (Σ g f + c_tap V_water) / V        g grams or mL of each, f mmol of a form in one
        made up to: V_water = V − liquids        added to: V = V_water + liquids + swelling

    Parameters
    ----------
    amounts : mapping
        Ingredient, formula or catalogue name to how much of it: a bare number is grams
        (millilitres of a stock), text may say "3 oz", "5 mL/L", "200 mg/L" or "2 mmol/L".
        [g]
    volume : float or str
        Final volume, or the volume of the water if it is added to. [L]
    water : Water, str or None
        The water, or the name of one; pure water if None.
    way : str
        "made up to" the volume, or "added to" it.

    Returns
    -------
    Solution
        What a litre of it holds. [mmol/L]

    Raises
    ------
    InputError
        With every fault: unknown ingredients, units, negative amounts, no room for water.

    Examples
    --------
    >>> feed = dissolve({"KNO3": 20.22, "MgSO4·7H2O": "2 mmol/L"}, volume=40)
    >>> round(feed.mmol_l("K"), 3), round(feed.mmol_l("Mg"), 3)
    (5.0, 2.0)
    """
    faults, found = Faults("dissolve"), ()
    with faults.collecting():
        volume = check_volume(volume)
    if way not in WAYS:
        faults.add(f"{shortened(way)}: write {' or '.join(WAYS)}")
    with faults.collecting("water"):
        water = water if isinstance(water, Water) else as_water(water or {})
    with faults.collecting():
        found = measured_amounts(amounts, 1.0 if faults.found else volume)
    faults.raise_if_any()
    of_water, final = _volumes(found, volume, way)
    return _together(found, water.solution, of_water, final)


def _volumes(found, volume, way):
    """Return the litres of water taken and of solution made; refuse what has no room."""
    poured = poured_litres(found)
    solids = [(i, amount) for i, amount in found if not i.is_liquid]
    rules = {row["rule"]: row for row in read_table("dissolving_rules")}
    row = rules[f"solids {way}"]
    grams = sum(amount for _, amount in solids)
    if grams > row.number("limit") * volume:
        what = f"{grams:.4g} g of salts do not dissolve in {volume:g} L"
        raise InputError(f"dissolve: {what}; look at the amounts and their units")
    if way == "added to":
        swelling = sum(displaced_millilitres(i, amount) for i, amount in solids) / 1000
        return volume, volume + poured + swelling
    if poured > volume:
        what = f"the liquids alone take {poured:.4g} L, more than the {volume:g} L"
        raise InputError(f"dissolve: {what}")
    left = volume - poured
    return (left if left > DUST * volume else 0.0), volume


def _together(found, tap, of_water, final):
    """Return the solution of measured ingredients and a volume of water."""
    share = of_water / final
    forms = {key: value * share for key, value in tap.forms.items()}
    charge = tap.unassigned_charge * share
    for ingredient, amount in found:
        per_litre = amount / final
        charge += ingredient.unassigned_charge * per_litre
        for key, value in ingredient.forms.items():
            forms[key] = forms.get(key, 0.0) + value * per_litre
    unchanged = tap.ph if not any(amount for _, amount in found) else None
    return Solution(forms, charge, tap.temperature, unchanged)


def poured_litres(amounts):
    """
    Return the volume that the liquids among some amounts take.

    Parameters
    ----------
    amounts : iterable of (Ingredient, float)
        Each ingredient with its grams, or millilitres of a stock. [g]

    Returns
    -------
    float
        Volume; solids take none. [L]

    Examples
    --------
    >>> poured_litres([(as_ingredient("KNO3"), 5.0)])
    0.0
    """
    return sum((i.millilitres(amount) for i, amount in amounts), 0.0) / 1000


def measured_amounts(amounts, volume):
    """
    Return what is measured out of each ingredient for a batch.

    Parameters
    ----------
    amounts : mapping
        As in `dissolve`. [g]
    volume : float
        Volume that doses per litre refer to. [L]

    Returns
    -------
    tuple of (Ingredient, float)
        Each ingredient with its grams, or millilitres where it is measured so. [g]

    Raises
    ------
    InputError
        With every fault.

    Examples
    --------
    >>> [(i.name, amount) for i, amount in measured_amounts({"KNO3": "0.5 g/L"}, 40)]
    [('KNO3', 20.0)]
    """
    if not isinstance(amounts, Mapping):
        raise InputError(f"{shortened(amounts)} is no mapping of ingredient to amount")
    volume = check_volume(volume)
    faults, found = Faults(), []
    for thing, amount in amounts.items():
        with faults.collecting(getattr(thing, "name", str(thing))):
            ingredient = as_ingredient(thing)
            found.append((ingredient, _measured(ingredient, amount, volume)))
    faults.raise_if_any()
    return tuple(found)


def _measured(ingredient, amount, volume):
    """Return grams or millilitres of one ingredient for a batch."""
    number, of_unit = amount, unit(ingredient.measured_in, "mass", "volume")
    if isinstance(amount, str):
        number, of_unit = read_quantity(amount, *KINDS, default=ingredient.measured_in)
    number = checked_number(number, f"amount in {of_unit}", least=0)
    if of_unit.name in SPOONS and not ingredient.is_liquid:
        what = (
            f"{number:g} {of_unit} of a solid weighs more or less by grain and packing"
        )
        raise InputError(f"{what}; weigh it and give grams")
    if of_unit.kind in ("mass", "volume"):
        return ingredient.amount_measured(number, of_unit)
    per_litre = house_value(number, of_unit)
    if of_unit.kind == "dose":
        return ingredient.amount_measured(per_litre * volume, "mL")
    if of_unit.kind == "mass_concentration":
        return ingredient.amount_measured(per_litre * volume, "mg")
    if not ingredient.formula:
        raise MissingData(
            f"{ingredient.name} is no single compound, so give grams, not {of_unit}"
        )
    pure = per_litre * volume * molar_mass(ingredient.formula) / 1000
    return pure * 100 / ingredient.purity_percent


def displaced_millilitres(ingredient, amount):
    """
    Return by how much a solid swells the water it is dissolved in.

    The sum of partial molar volumes at 25 °C in dilute solution, its crystal water
    included; what an analysis does not name is counted as nothing.

    Equation [pq386-phreeqc]::

        swelling = Σ a v        a mmol of each form and of water, v its partial molar volume

    Parameters
    ----------
    ingredient : Ingredient or str
        The solid.
    amount : float
        How much of it. [g]

    Returns
    -------
    float
        Volume. [mL]

    Examples
    --------
    >>> round(displaced_millilitres(as_ingredient("KNO3"), 101.102), 1)
    38.5
    """
    ingredient = as_ingredient(ingredient)
    amount = checked_number(amount, "amount in g", least=0)
    volumes = {
        row["form"]: row.number("molar_volume") for row in read_table("molar_volumes")
    }
    per_gram = sum(volumes[key] * value for key, value in ingredient.forms.items())
    return amount * (per_gram + volumes["water"] * ingredient.crystal_water) / 1000
