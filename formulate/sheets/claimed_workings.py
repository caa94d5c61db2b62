"""The arithmetic behind doses and charts of doses, held against what is claimed of them."""

from functools import partial

from formulate.chemistry.conductivity import REFERENCE
from formulate.chemistry.speciation import speciate
from formulate.claims.chart_week import CHART_KEYS, CHART_RATIOS
from formulate.ingredients.dissolve import measured_amounts
from formulate.recipes.recipe_working import content_steps
from formulate.sheets.mixture_workings import Mixture, mixture_working, sum_of, titled
from formulate.sheets.table import Followed
from formulate.stoichiometry.nutrients import nutrient, nutrient_keys
from formulate.stoichiometry.units import unit
from formulate.working import Quantity, Step, Working

__all__ = [
    "chart_workings",
    "dose_workings",
    "dosed_working",
    "jump_workings",
    "week_claim_working",
]

PERCENT, PER_KG = 100.0, 1000.0
NOTHING = 1e-9  # mg/L


def dose_workings(result):
    """
    Yield what is behind the numbers of a dose, as its table shows them.

    Parameters
    ----------
    result : DoseCheck
        The dose and its claims.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.claims.dose_claims import check_dose
    >>> found = dict(dose_workings(check_dose("KNO3", "1 g/L", {"K": 387})))
    >>> round(found[0, 2].worked().value, 2)
    386.72
    """
    for row, claim in enumerate(result.claims):
        if claim.computed is not None:
            yield (row, 2), Followed(partial(dosed_working, result, claim))
        if claim.parts:
            yield (row, 3), Followed(partial(_margin, claim))


def dosed_working(result, claim):
    """
    Return the working of what a dose gives of what is claimed.

    Parameters
    ----------
    result : DoseCheck
        The dose.
    claim : DoseClaim
        One of its claims.

    Returns
    -------
    Working
        The dose times what the product holds, and what the water brings; of an EC or a pH
        that of the solution.

    Examples
    --------
    >>> from formulate.claims.dose_claims import check_dose
    >>> check = check_dose("KNO3", "1 g/L", {"K": 387})
    >>> dosed_working(check, check.claims[0]).title
    'K of 1 g/L KNO3'
    """
    title = f"{claim.subject} of {result.dose.text} {result.ingredient.name}"
    if claim.subject not in nutrient_keys():
        return _reading(result.solution, claim, title)
    known, ingredient = nutrient(claim.subject), result.ingredient
    amounts = {ingredient: result.dose.amount}
    ((_, amount),) = measured_amounts(amounts, result.dose.litres)
    contents = content_steps(ingredient, known) if ingredient.amount(known) else []
    steps, own = [*contents], ingredient.measured_in
    shares = []
    if contents:
        terms = (
            Quantity(amount, own),
            "÷",
            Quantity(result.dose.litres, "L"),
            "×",
            Quantity(contents[-1].value, contents[-1].unit),
        )
        source = result.dose.source_key
        shares.append(Step("the dose, in a litre", terms, "mg/L", source))
    rest = claim.computed - sum(share.value for share in shares)
    if abs(rest) > NOTHING or not shares:
        shares.append(Step("from the water", (Quantity(rest, "mg/L"),), "mg/L"))
    steps += shares
    if len(shares) > 1:
        steps.append(sum_of("in all", shares, "mg/L"))
    return Working(title, tuple(steps))


def _reading(solution, claim, title):
    """Return the working of an EC, a scale of ppm or a pH of a solution."""
    if claim.subject == "pH":
        return titled(speciate(solution), "pH", title)
    working = titled(speciate(solution, temperature=REFERENCE), "EC", title)
    size = unit(claim.unit).factor
    if abs(size - 1.0) < NOTHING:
        return working
    each = Quantity(size, f"mS/cm per {claim.unit}")
    terms = (Quantity(working.value, "mS/cm"), "÷", each)
    last = Step(f"in {claim.unit}", terms, claim.unit)
    return Working(title, (*working.steps, last))


def _margin(claim):
    """Return the working of a margin: its parts, added."""
    terms = [t for v in claim.parts.values() for t in ("+", Quantity(v, claim.unit))]
    words = f"rounding and doubt of {', '.join(claim.parts)}"
    title = f"Margin of {claim.subject}: how far apart the two may be"
    return Working(title, (Step(words, tuple(terms[1:]), claim.unit),))


# --- charts ----------------------------------------------------------------------------


def _of_week(week):
    """Return what is dosed in a week."""
    amounts = tuple((one.ingredient, one.amount) for one in week.line.doses)
    return Mixture(amounts, week.water)


def _week_nutrient(week, key):
    return mixture_working(_of_week(week), key, f"{key} in week {week.name}")


def _week_ec(week):
    return titled(
        speciate(week.solution, temperature=REFERENCE), "EC", f"EC in week {week.name}"
    )


def _week_ph(week):
    return titled(speciate(week.solution), "pH", f"pH in week {week.name}")


def _week_ratio(week, pair):
    """Return the working of a ratio by mass."""
    parts = [_week_nutrient(week, key) for key in pair]
    over, under = (Quantity(part.value, "mg/L") for part in parts)
    steps = [step for part in parts for step in part.steps]
    last = Step(f"{pair[0]} over {pair[1]}", (over, "÷", under))
    return Working(f"{':'.join(pair)} by mass in week {week.name}", (*steps, last))


def _week_cost(week, volume=None):
    """Return the working of what a litre, or all that is used, costs."""
    steps = []
    for one in week.line.doses:
        own = one.ingredient.measured_in
        whole = {"g": "kg", "mL": "L"}[own]
        price = Quantity(one.ingredient.price, f"currency/{whole}")
        terms = (Quantity(one.amount, f"{own}/L"), "×", price)
        terms = (*terms, "÷", Quantity(PER_KG, f"{own}/{whole}"))
        steps.append(Step(one.ingredient.name, terms, "currency/L"))
    if len(steps) != 1:
        steps.append(sum_of("a litre", steps, "currency/L"))
    if volume is not None:
        terms = (Quantity(steps[-1].value, "currency/L"), "×", Quantity(volume, "L"))
        steps.append(Step("all that is used", terms, "currency"))
    return Working(f"Cost in week {week.name}", tuple(steps))


def chart_workings(result):
    """
    Yield what is behind the numbers of each week, before empty columns are left out.

    Parameters
    ----------
    result : FeedChart
        The chart.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.claims.feed_chart import read_chart
    >>> chart = read_chart("week,A g/L\\n1,0.5\\n", {"A": "KNO3"})
    >>> round(dict(chart_workings(chart))[0, 3].worked().value, 1)
    193.4
    """
    after = 1 + len(CHART_KEYS)
    for row, week in enumerate(result.weeks):
        for column, key in enumerate(CHART_KEYS, 1):
            if key in week.mg_l:
                yield (row, column), Followed(partial(_week_nutrient, week, key))
        yield (row, after), Followed(partial(_week_ec, week))
        yield (row, after + 1), Followed(partial(_week_ph, week))
        for column, pair in enumerate(CHART_RATIOS, after + 2):
            yield (row, column), Followed(partial(_week_ratio, week, pair))
        last = after + 2 + len(CHART_RATIOS)
        yield (row, last), Followed(partial(_week_cost, week))
        yield (row, last + 1), Followed(partial(_week_cost, week, result.volume))


def jump_workings(result):
    """
    Yield what is behind the largest changes of a chart.

    Parameters
    ----------
    result : FeedChart
        The chart.

    Yields
    ------
    tuple of ((int, int), Followed)
        Row and column, and what is behind the number. [-]

    Examples
    --------
    >>> from formulate.claims.feed_chart import read_chart
    >>> chart = read_chart("week,A g/L\\n1,0.5\\n2,1\\n", {"A": "KNO3"})
    >>> round(dict(jump_workings(chart))[0, 5].worked().value)
    50
    """
    weeks = {week.name: week for week in result.weeks}
    for row, jump in enumerate(result.jumps):
        for column, name in ((3, jump.before), (4, jump.after)):
            behind = partial(_week_nutrient, weeks[name], jump.subject)
            if jump.subject == "EC":
                behind = partial(_week_ec, weeks[name])
            yield (row, column), Followed(behind)
        yield (row, 5), Followed(partial(_change, jump))


def _change(jump):
    """Return the working of a change as a share of the larger value."""
    of_unit = "mS/cm" if jump.subject == "EC" else "mg/L"
    before, after = (
        Quantity(v, of_unit) for v in (jump.value_before, jump.value_after)
    )
    apart = Step("after less before", (after, "−", before), of_unit)
    larger = Quantity(max(before.value, after.value), of_unit)
    terms = (Quantity(apart.value, of_unit), "÷", larger, "×", Quantity(PERCENT, "%"))
    title = f"Change of {jump.subject} from {jump.before} to {jump.after}"
    return Working(title, (apart, Step("of the larger", terms, "%")))


def week_claim_working(week, claim):
    """
    Return the working of what a week gives of what is claimed.

    Parameters
    ----------
    week : ChartWeek
        The week.
    claim : DoseClaim
        One of its claims.

    Returns
    -------
    Working
        As for a dose.

    Examples
    --------
    >>> from formulate.claims.feed_chart import read_chart
    >>> (week,) = read_chart("week,A g/L,K mg/L\\n1,0.5,193\\n", {"A": "KNO3"}).weeks
    >>> week_claim_working(week, week.claims[0]).title
    'K in week 1'
    """
    if claim.subject in nutrient_keys():
        return _week_nutrient(week, claim.subject)
    return _reading(week.solution, claim, f"{claim.subject} in week {week.name}")
