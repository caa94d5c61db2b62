"""The arithmetic of a recipe, as a teacher writes it on the board."""

from dataclasses import replace

from formulate.ingredients.dissolve import poured_litres
from formulate.stoichiometry.formula import parse_formula
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.solution import SHOWN_KEYS
from formulate.working import Quantity, Step, Working, printed, printed_mg_l

__all__ = ["content_steps", "cost_working", "recipe_working", "weight_working"]


def recipe_working(recipe, known):
    """
    Return the arithmetic of one nutrient in a recipe.

    Parameters
    ----------
    recipe : Recipe
        The recipe.
    known : Nutrient
        The nutrient.

    Returns
    -------
    Working
        What the water brings, what a gram of each ingredient holds, what the batch gets
        of it, and the sum.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"P": 31}), ["KH2PO4"], volume=10)
    >>> recipe_working(recipe, nutrient("P")).steps[-1].text
    'from KH2PO4'
    """
    steps, shares = [], []
    if recipe.water.solution.mg_l(known) > 0:
        shares.append(_water_step(recipe, known))
        steps.append(shares[-1])
    for ingredient, amount in recipe.amounts:
        if ingredient.amount(known):
            contents = content_steps(ingredient, known)
            shares.append(_share_step(recipe, ingredient, amount, contents[-1]))
            steps += [*contents, shares[-1]]
    if len(shares) != 1:
        steps.append(_sum_step(f"{known.key} in all", shares, "mg/L"))
    asked = ""
    if known.key in recipe.target.wanted:
        asked = f": {printed_mg_l(recipe.target.mg_l(known))} mg/L wanted"
    return Working(f"{known.key} in the recipe{asked}", tuple(steps))


def weight_working(recipe, name):
    """
    Return the arithmetic of what the amount of one ingredient brings to a litre.

    Parameters
    ----------
    recipe : Recipe or Weighing
        The recipe, or what the balance shows of it.
    name : str
        Name of an ingredient that it uses.

    Returns
    -------
    Working
        What a gram holds of each nutrient, and what a litre of the batch gets of it.

    Examples
    --------
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> recipe = solve(target({"P": 31}), ["KH2PO4"], volume=10)
    >>> [step.text for step in weight_working(recipe, "KH2PO4").steps]
    ['P in 1 g of KH2PO4', 'P from KH2PO4', 'K in 1 g of KH2PO4', 'K from KH2PO4']
    """
    ingredient, amount = next(pair for pair in recipe.amounts if pair[0].name == name)
    steps = []
    for key in SHOWN_KEYS:
        known = nutrient(key)
        if ingredient.amount(known):
            contents = content_steps(ingredient, known)
            share = _share_step(recipe, ingredient, amount, contents[-1])
            steps += [*contents, replace(share, text=f"{key} {share.text}")]
    shown = f"{printed(amount)} {ingredient.measured_in}"
    return Working(f"What {shown} of {name} bring to a litre", tuple(steps))


def cost_working(recipe):
    """
    Return the arithmetic of what the batch costs.

    Parameters
    ----------
    recipe : Recipe or Weighing
        The recipe, or what the balance shows of it.

    Returns
    -------
    Working
        What each ingredient costs, and the sum; only what has a price.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> priced = salt("KH2PO4", price_per_kg=4.8)
    >>> print(cost_working(solve(target({"P": 31}), [priced], volume=10)))
    Cost of the batch
      1. KH2PO4: 1.3620 g × 4.8 currency/kg ÷ 1000 g/kg = 0.0065376 currency
    """
    shares = []
    for ingredient, amount in recipe.amounts:
        if ingredient.price is None:
            continue
        whole = {"g": "kg", "mL": "L"}[ingredient.measured_in]
        terms = (
            Quantity(amount, ingredient.measured_in),
            "×",
            Quantity(ingredient.price, f"currency/{whole}"),
            "÷",
            Quantity(1000.0, f"{ingredient.measured_in}/{whole}"),
        )
        shares.append(Step(ingredient.name, terms, "currency"))
    sums = [_sum_step("the batch", shares, "currency")] if len(shares) != 1 else []
    return Working("Cost of the batch", (*shares, *sums))


def _sum_step(text, shares, unit):
    """Return the line that adds up other lines."""
    terms = [Quantity(0.0, unit)] if not shares else []
    for share in shares:
        terms += ["+"] * bool(terms) + [Quantity(share.value, unit)]
    return Step(text, tuple(terms), unit)


def _water_step(recipe, known):
    """Return the line of what the water brings, less the room that liquids take."""
    terms = [
        Quantity(recipe.water.solution.mmol_l(known), "mmol/L"),
        "×",
        Quantity(known.molar_mass, "mg/mmol"),
    ]
    poured = poured_litres(recipe.amounts)
    if poured:
        left = Quantity(recipe.volume - poured, "L")
        terms += ["×", left, "÷", Quantity(recipe.volume, "L")]
    source = recipe.water.source_key.split(";")[0]
    return Step("from the water", tuple(terms), "mg/L", source)


def _share_step(recipe, ingredient, amount, content):
    """Return the line of what one ingredient gives to a litre."""
    weighed = Quantity(amount, ingredient.measured_in)
    per = Quantity(content.value, content.unit)
    terms = (weighed, "÷", Quantity(recipe.volume, "L"), "×", per)
    return Step(f"from {ingredient.name}", terms, "mg/L")


def content_steps(ingredient, known):
    """
    Return the lines of how much of a nutrient one gram or millilitre holds.

    Parameters
    ----------
    ingredient : Ingredient
        A salt, an analysed material, a stock or a blend.
    known : Nutrient
        The nutrient.

    Returns
    -------
    list of Step
        The lines; the last one gives the content. [mg/g]

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> (step,) = content_steps(salt("KNO3"), nutrient("K"))
    >>> round(step.value, 2), step.unit
    (386.72, 'mg/g')
    """
    unit = f"mg/{ingredient.measured_in}"
    title = f"{known.key} in 1 {ingredient.measured_in} of {ingredient.name}"
    if ingredient.formula:
        return [_formula_step(ingredient, known, title)]
    if ingredient.parts:
        return _part_steps(ingredient, known, title, unit)
    return [_analysis_step(ingredient, known, title, unit)]


def _formula_step(ingredient, known, title):
    """Return the line from a formula: moles, masses, purity."""
    read = parse_formula(ingredient.formula)
    terms = [
        Quantity(known.amount(read.forms), "mol/mol"),
        "×",
        Quantity(known.molar_mass, "g/mol"),
        "÷",
        Quantity(read.molar_mass, "g/mol"),
        "×",
        Quantity(1000.0, "mg/g"),
    ]
    if ingredient.purity_percent != 100:
        share = Quantity(ingredient.purity_percent, "%")
        terms += ["×", share, "÷", Quantity(100.0, "%")]
    return Step(title, tuple(terms), "mg/g", "stoichiometry")


def _analysis_step(ingredient, known, title, unit):
    """Return the line from the percentages that an analysis states."""
    terms = []
    for key, percent in ingredient.analysis.items():
        stated = nutrient(key)
        ((part, weight),) = stated.weights.items()
        if part not in known.weights:
            continue
        terms += ["+"] * bool(terms) + [Quantity(percent, f"% {stated.key}")]
        moles = known.weights[part] / weight
        if known.basis != stated.basis or moles != 1:
            terms += ["×", Quantity(known.molar_mass, "g/mol")]
            terms += ["÷", Quantity(stated.molar_mass, "g/mol")]
        if moles != 1:
            terms += ["×", Quantity(moles, "mol/mol")]
        terms += ["×", Quantity(10.0, f"{unit} per %")]
    source = ingredient.source_key.split(";")[0]
    if not terms:
        terms = [Quantity(ingredient.percent(known), "%")]
        terms += ["×", Quantity(10.0, f"{unit} per %")]
    return Step(title, tuple(terms), unit, source)


def _part_steps(ingredient, known, title, unit):
    """Return the lines of a stock or blend: each part, then their sum."""
    steps, shares = [], []
    whole = Quantity(ingredient.made_of, ingredient.measured_in)
    for part, amount in ingredient.parts:
        if part.amount(known):
            contents = content_steps(part, known)
            terms = (
                Quantity(amount, part.measured_in),
                "÷",
                whole,
                "×",
                Quantity(contents[-1].value, contents[-1].unit),
            )
            shares.append(Step(f"{part.name} in {ingredient.name}", terms, unit))
            steps += [*contents, shares[-1]]
    return [*steps, _sum_step(title, shares, unit)]
