"""The arithmetic behind the numbers of doses, of the air, of iron and of what falls out."""

from formulate.chemistry.acid_doses import acid_rule
from formulate.chemistry.chelates import AGENTS
from formulate.chemistry.iron_sources import iron_window
from formulate.chemistry.oxygen import oxygen_working, salinity_from_ec
from formulate.chemistry.pouring import times_water
from formulate.chemistry.risks import RISKS, risk_rule
from formulate.chemistry.solids import mineral
from formulate.ingredients.solubility import solubility
from formulate.recipes.recipe_working import content_steps
from formulate.sheets.chemistry_tables import COOL, ROOM, WARM
from formulate.stoichiometry.formula import molar_mass, parse_formula
from formulate.stoichiometry.nutrients import form, nutrient
from formulate.tables import rule_of
from formulate.working import LogStep, Quantity, Step, Working, printed

__all__ = [
    "DOSE_COLUMNS",
    "IRON_COLUMNS",
    "dose_working",
    "fallen_working",
    "index_with_limits",
    "iron_working",
    "oxygen_workings",
    "portion_text",
    "portion_working",
    "salt_working",
]

DOSE_COLUMNS = ("at once", "errors allow", "in all", "brings", "tomorrow", "cost")
IRON_COLUMNS = ("verdict", "by source", "amount", "cost")
PERCENT = Quantity(100.0, "%")
PER_KG = 1000.0
DIGITS = 3  # of an amount that is poured
THOUSAND = Quantity(1000.0)
LOG_DECIMALS = 7  # of logarithms that are added


def dose_working(correction, dose, column):
    """
    Return the arithmetic behind one number of a dose of acid or alkali.

    Parameters
    ----------
    correction : Correction
        How the batch is brought to its pH.
    dose : AcidDose
        The dose.
    column : str
        One of DOSE_COLUMNS.

    Returns
    -------
    Working or None
        The arithmetic; None where there is no such number.

    Examples
    --------
    >>> from formulate.chemistry.correction import correction
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.ingredients.salts import as_ingredient
    >>> from formulate.stoichiometry.solution import solution
    >>> tap = speciate(solution({"Ca": 2.35, "HCO3": 4.7}, ph=7.4))
    >>> found = correction(tap, [as_ingredient("nitric acid (67 %)")], ph=5.8, volume=100)
    >>> working = dose_working(found, found.doses[0], "brings")
    >>> working.steps[-1].text, round(working.value)
    ('NO3-N in a litre', 46)
    """
    if column == "at once":
        return correction.working(dose)
    if column == "in all":
        later = correction.in_all.get(dose.ingredient.name)
        later = dose if correction.waits else later
        return later and correction.working(later)
    if column == "tomorrow":
        return dose.tomorrow.working("pH")
    given = {"errors allow": _interval, "brings": _brought, "cost": _cost}.get(column)
    return given and given(correction, dose)


def _interval(correction, dose):
    """Return the least and the most that may be needed."""
    each = dose.working().steps[0]
    gap, error = abs(dose.gap), float(dose.error)
    open_by = Quantity(error, "meq/L")
    steps = [each, Step("charge that errors leave open", (open_by,), "meq/L")]
    for words, charge in (("least", max(gap - error, 0.0)), ("most", gap + error)):
        sign = "−" if words == "least" else "+"
        terms = (Quantity(gap, "meq/L"), sign, open_by)
        if charge:
            steps.append(Step(f"{words} charge to close", terms, "meq/L"))
        steps += _poured(correction, dose, charge, each.value, words)
    return Working(f"Between what {dose.ingredient.name} may lie", tuple(steps))


def _poured(correction, dose, charge, each, words):
    """Return the lines from a charge to what is poured into the batch."""
    grams = (Quantity(charge, "meq/L"), "÷", Quantity(each, "meq/g"))
    grams = (*grams, "×", Quantity(correction.volume, "L"))
    steps, density = (
        [Step(f"{words}, for the batch", grams, "g")],
        dose.ingredient.density,
    )
    if density is not None and dose.ingredient.measured_in == "g":
        terms = (Quantity(steps[0].value, "g"), "÷", Quantity(density, "g/mL"))
        key = dose.ingredient.source_key
        steps.append(Step(f"{words}, over the density", terms, "mL", key))
    return steps


def _brought(_correction, dose):
    """Return what a dose brings to a litre, nutrient by nutrient."""
    steps, unit = [], dose.ingredient.measured_in
    for key in dose.brings:
        contents = content_steps(dose.ingredient, nutrient(key))
        each = Quantity(contents[-1].value, f"mg/{unit}")
        terms = (Quantity(dose.grams, f"{unit}/L"), "×", each)
        steps += [*contents, Step(f"{key} in a litre", terms, "mg/L")]
    return (
        Working(f"What {dose.ingredient.name} brings", tuple(steps)) if steps else None
    )


def _cost(correction, dose):
    """Return what a dose costs."""
    if dose.ingredient.price is None:
        return None
    price = Quantity(dose.ingredient.price, "currency/kg")
    terms = (Quantity(dose.grams, "g/L"), "×", Quantity(correction.volume, "L"))
    terms = (*terms, "×", price, "÷", Quantity(PER_KG, "g/kg"))
    step = Step("dose of the batch times its price", terms, "currency")
    return Working(f"Cost of {dose.ingredient.name}", (step,))


def portion_text(correction):
    """
    Return how much is poured first, as the steps tell it.

    Parameters
    ----------
    correction : Correction
        How the batch is brought to its pH.

    Returns
    -------
    str
        The amount with its unit; empty if nothing is poured.

    Examples
    --------
    >>> from formulate.chemistry.correction import correction
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.ingredients.salts import as_ingredient
    >>> from formulate.stoichiometry.solution import solution
    >>> tap = speciate(solution({"Ca": 2.35, "HCO3": 4.7}, ph=7.4))
    >>> found = correction(tap, [as_ingredient("nitric acid (67 %)")], ph=5.8, volume=100)
    >>> portion_text(found)
    '17.5 mL'
    """
    if not correction.doses:
        return ""
    dose, share = correction.doses[0], acid_rule("first portion") / PERCENT.value
    value, in_unit = correction.amount(dose, share * dose.grams)
    return f"{printed(value, DIGITS)} {in_unit}"


def portion_working(correction):
    """
    Return the arithmetic of what is poured first, and into how much water.

    Parameters
    ----------
    correction : Correction
        How the batch is brought to its pH.

    Returns
    -------
    Working or None
        The dose, its first portion, and how many times its volume of water thins it; None
        if nothing is poured.

    Examples
    --------
    >>> from formulate.chemistry.correction import correction
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.ingredients.salts import as_ingredient
    >>> from formulate.stoichiometry.solution import solution
    >>> tap = speciate(solution({"Ca": 2.35, "HCO3": 4.7}, ph=7.4))
    >>> found = correction(tap, [as_ingredient("nitric acid (67 %)")], ph=5.8, volume=100)
    >>> round(portion_working(found).steps[-2].value, 1)
    17.5
    """
    if not correction.doses:
        return None
    dose = correction.doses[0]
    whole, rule = correction.working(dose), rule_of("acid_rules", "first portion")
    share = Quantity(rule.number("value"), "%")
    terms = (Quantity(whole.value, whole.unit), "×", share, "÷", PERCENT)
    steps = [*whole.steps, Step("poured first", terms, whole.unit, rule["source_key"])]
    if times_water(dose.ingredient):
        steps.append(_thinned(dose.ingredient))
    return Working("What is poured first", tuple(steps))


def _thinned(ingredient):
    """Return the line of how many times its volume of water a liquid goes into."""
    rule = rule_of("acid_rules", "strength to pour")
    strong = ingredient.purity_percent if ingredient.is_liquid else PERCENT.value
    density = Quantity(ingredient.density or 1.0, "kg/L")
    terms = (Quantity(strong, "%"), "÷", Quantity(rule.number("value"), "%"))
    terms = (*terms, "×", density, "−", density)
    words = "times its volume of water, by its density, rounded up"
    return Step(words, terms, "", rule["source_key"])


# --- air ---------------------------------------------------------------------------------


def oxygen_workings(ec):
    """
    Return the arithmetic of the oxygen of a batch in balance with the air.

    Parameters
    ----------
    ec : float
        Electrical conductivity at 25 °C. [mS/cm]

    Returns
    -------
    Working
        A rough salinity, then the oxygen at each temperature that is told. [mg/L]

    Examples
    --------
    >>> round(oxygen_workings(1.5).value, 1)
    8.2
    """
    salinity = salinity_from_ec(ec)
    each = Quantity(salinity / ec if ec else 0.0, "g/kg per mS/cm")
    words = "salts, roughly, by common practice"
    steps = [Step(words, (Quantity(ec, "mS/cm"), "×", each), "g/kg", "ext-general")]
    for celsius in (COOL, ROOM, WARM):
        steps += oxygen_working(celsius, salinity=salinity).steps
    return Working("Oxygen that the air keeps in this batch", tuple(steps))


# --- iron --------------------------------------------------------------------------------


def iron_working(source, column):
    """
    Return the arithmetic behind one number of a source of iron, or where it comes from.

    Parameters
    ----------
    source : IronSource
        The source of iron.
    column : str
        One of IRON_COLUMNS.

    Returns
    -------
    Working or None
        The arithmetic; for a window of pH its ends with their sources.

    Examples
    --------
    >>> from formulate.chemistry.iron_sources import iron_sources
    >>> from formulate.ingredients.salts import salt
    >>> (found,) = iron_sources([salt("Fe-EDTA")], 6.2, iron=2.0, volume=100)
    >>> for line in iron_working(found, "by source").lines:
    ...     print(line)  # doctest: +ELLIPSIS
    share held by EDTA: 2.3278 mmol/g ÷ 2.3278 mmol/g × 100 % = 100.00 %
    to pH, by every source: 6 = 6.0000  [nist-srd46-leaflet; chelate-trade-page; chelate-literature]
    to pH, by the most hopeful: 6.5 = 6.5000  [nist-srd46-leaflet; chelate-trade-page; chelate-literature]
    """
    if column == "amount":
        working = source.working()
        return Working(working.title, working.steps[:1])
    if column == "cost":
        return _iron_cost(source)
    return _window(source) if column == "by source" else None


def _iron_cost(source):
    """Return what a gram of iron costs: the price over what a gram holds."""
    ingredient = source.ingredient
    if source.cost_per_gram is None:
        return None
    unit = ingredient.measured_in
    contents = content_steps(ingredient, nutrient("Fe"))
    currency = source.currency or "currency"
    price = Quantity(ingredient.price, f"{currency}/{'kg' if unit == 'g' else 'L'}")
    each = Quantity(contents[-1].value, f"mg/{unit}")
    words = "price over what it holds; a thousand mg are a gram, a thousand g a kg"
    step = Step(words, (price, "÷", each), f"{currency}/g Fe")
    return Working(f"A gram of iron from {ingredient.name}", (*contents, step))


def _window(source):
    """Return how much of the iron each holder has, and to which pH, by its sources."""
    steps, whole = [], source.ingredient.amount("Fe")
    unit = f"mmol/{source.ingredient.measured_in}"
    for key, share in source.parts.items():
        holder = key.partition(":")[0]
        by = "nothing" if holder == "none" else form(holder).name
        terms = (
            Quantity(share * whole, unit),
            "÷",
            Quantity(whole, unit),
            "×",
            PERCENT,
        )
        steps.append(Step(f"share held by {by}", terms, "%"))
        row = iron_window(key)
        ends = (("high_least", "by every source"), ("high_most", "by the most hopeful"))
        verb = "to pH" if holder in AGENTS else "usable to about pH"
        for column, words in ends:
            end = Quantity(row.number(column))
            steps.append(Step(f"{verb}, {words}", (end,), "", row["source_key"]))
        if row["low_most"] and source.ph < row.number("low_most"):
            for column in ("low_least", "low_most"):
                words = f"strong acid breaks it up below pH ({column[4:]} by source)"
                end = Quantity(row.number(column))
                steps.append(Step(words, (end,), "", row["source_key"]))
    return Working(f"What holds the iron of {source.ingredient.name}", tuple(steps))


# --- what falls out ----------------------------------------------------------------------


def index_with_limits(state, name):
    """
    Return the arithmetic of a saturation index, after the limits of the words of risk.

    Parameters
    ----------
    state : Speciation
        One solution.
    name : str
        Name of the solid.

    Returns
    -------
    Working
        From which index a word is told, with its source; then the index. [-]

    Examples
    --------
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> state = speciate(solution({"Ca": 14.0, "SO4": 14.0}))
    >>> step = index_with_limits(state, "gypsum").steps[1]
    >>> step.text, step.value
    ('told as likely from an index of', 0.3)
    """
    rule, working, steps = risk_rule(name), state.working(name), []
    for word in RISKS[1:]:
        if (edge := rule.number(word)) is not None:
            words = f"told as {word} from an index of"
            steps.append(Step(words, (Quantity(edge),), "", rule["source_key"]))
    return Working(working.title, (*steps, *working.steps))


def fallen_working(risks, name):
    """
    Return the arithmetic of how much of a solid there would be in the end.

    Parameters
    ----------
    risks : SolidRisks
        What may fall out; what falls in the end is worked out.
    name : str
        Name of the solid.

    Returns
    -------
    Working or None
        Its amount, at which the solution is just saturated, times its molar mass. [mg/L]

    Examples
    --------
    >>> from formulate.chemistry.risks import solid_risks
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> found = solid_risks(speciate(solution({"Ca": 20.0, "SO4": 20.0})))
    >>> round(fallen_working(found, "gypsum").value)
    854
    """
    amount = float(risks.precipitation.amounts.get(name, 0.0))
    if not amount:
        return None
    solid = mineral(name)
    words = "what falls until its index is 0, times its molar mass"
    terms = (Quantity(amount, "mmol/L"), "×", Quantity(solid.molar_mass, "mg/mmol"))
    step = Step(words, terms, "mg/L", solid.source_key)
    return Working(f"{name} in the end", (step,))


def salt_working(risks, name):
    """
    Return the arithmetic of how much of its solubility a soluble salt takes up.

    Parameters
    ----------
    risks : SolidRisks
        What may fall out.
    name : str
        Formula of the salt.

    Returns
    -------
    Working or None
        Its ions against those of the saturated solution; None if it is not told. [%]

    Examples
    --------
    >>> from formulate.chemistry.risks import solid_risks
    >>> from formulate.chemistry.speciation import speciate
    >>> from formulate.stoichiometry.solution import solution
    >>> feed = speciate(solution({"K": 2600.0, "NO3": 2600.0}), temperature=20)
    >>> round(salt_working(solid_risks(feed), "KNO3").value)
    92
    """
    if name not in {r.name for r in risks.solids if r.role == "soluble"}:
        return None
    state, read = risks.state, parse_formula(name)
    known = solubility(name, round(state.temperature, 2))
    steps, terms, whole = [*_saturated(known, read)], [], sum(read.forms.values())
    saturated = Quantity(steps[-1].value, "mol/kg")
    for key, count in read.forms.items():
        held = (Quantity(state.solution.forms[key], "mmol/L"), "÷", THOUSAND)
        held = (*held, "÷", Quantity(state.water_kg_l, "kg/L"), "÷", saturated)
        ratio = Step(f"{form(key).name} of that", (*held, "÷", Quantity(count)))
        steps += [ratio, LogStep("minus its lg", Quantity(ratio.value))]
        lg = round(steps[-1].value, LOG_DECIMALS)
        terms += ["−" if lg < 0 else "+", Quantity(abs(lg)), "×", Quantity(count)]
        terms += ["÷", Quantity(whole)]
    terms = terms[1:] if terms[0] == "+" else [Quantity(0.0), *terms]
    mean = 10.0 ** -Step("", tuple(terms)).value
    steps.append(Step("their mean, each as often as it is in the salt", tuple(terms)))
    steps.append(LogStep("which is that of the share", Quantity(mean)))
    steps.append(Step("in percent", (Quantity(mean), "×", PERCENT), "%"))
    return Working(f"{name} against its solubility", tuple(steps))


def _saturated(known, read):
    """Return the lines of how much of a salt there is in its saturated solution."""
    left = (PERCENT, "−", Quantity(known.mass_percent, "%"))
    water = Step("water in the saturated solution", left, "%", known.source_key)
    mass = read.molar_mass - read.water * molar_mass("H2O")
    terms = (Quantity(known.mass_percent, "%"), "÷", Quantity(water.value, "%"))
    terms = (*terms, "×", THOUSAND, "÷", Quantity(mass, "g/mol"))
    words = "saturated, in a kilogram of water"
    return water, Step(words, terms, "mol/kg", known.source_key)
