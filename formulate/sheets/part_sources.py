"""What each part of the bench rests on: the keys of its sources, most of them not printed."""

from formulate.chemistry.iron_sources import iron_window
from formulate.chemistry.risks import risk_rule
from formulate.chemistry.solids import mineral
from formulate.ingredients.hazards import cautions, hazard_label
from formulate.tables import read_table, recipe_rule

__all__ = [
    "chemistry_sources",
    "claims_sources",
    "exchange_sources",
    "mixing_sources",
    "recipe_sources",
    "shelf_sources",
    "water_sources",
    "wish_sources",
]

MASSES = "stoichiometry"
EQUATIONS = ("density", "permittivity", "debye-hueckel", "davies", "appelo", "air")
EQUATIONS += ("oxygen", "oxygen salt", "oxygen pressure", "salinity")
STRONG = ("sit", "blend")  # in a concentrate only


def _once(*keys):
    """Return keys, each once; one text may hold several, with ; between them."""
    parts = (part.strip() for key in keys if key for part in key.split(";"))
    return tuple(dict.fromkeys(part for part in parts if part))


def _column(table):
    return {row["source_key"] for row in read_table(table)}


def _hazards(ingredient):
    """Return where the hazard statements of an ingredient come from."""
    percent = ingredient.purity_percent if ingredient.is_liquid else None
    return hazard_label(ingredient.cas, percent).source_key if ingredient.cas else ""


def water_sources(water):
    """
    Return the keys of what the numbers of a water rest on.

    Parameters
    ----------
    water : Water or None
        The water.

    Returns
    -------
    tuple of str
        Its analysis, atomic masses, the check of its charges, its units.

    Examples
    --------
    >>> from formulate.ingredients.water import water
    >>> water_sources(water("hard"))[0]
    'voehringen-2025'
    """
    if water is None:
        return ()
    rows = read_table("water_checks")
    checks = {r["source_key"] for r in rows if r["check"] == "charge balance"}
    return _once(water.source_key, MASSES, "definition", *sorted(checks))


def wish_sources(target):
    """
    Return the keys of what the wishes rest on.

    Parameters
    ----------
    target : Target or None
        What is wanted.

    Returns
    -------
    tuple of str
        The target, the strengths of stages, atomic masses, the share of ammonium.

    Examples
    --------
    >>> from formulate.recipes.target import published_target
    >>> "ext-seedling" in wish_sources(published_target("steiner-1984"))
    True
    """
    own = "" if target is None else target.source_key
    share = recipe_rule("ammonium share")["source_key"]
    return _once(own, *sorted(_column("strengths")), MASSES, share)


def shelf_sources(ingredients):
    """
    Return the keys of what is told of ingredients.

    Parameters
    ----------
    ingredients : iterable of Ingredient
        The ingredients, with the parts of stocks and blends.

    Returns
    -------
    tuple of str
        Composition and density, hazards, restrictions of sale, atomic masses.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> "stoichiometry" in shelf_sources([salt("KNO3")])
    True
    """
    found, keys = [*ingredients], [MASSES]
    for ingredient in found:
        keys += [ingredient.source_key, _hazards(ingredient)]
        found += [part for part, _ in ingredient.parts]
    if any(ingredient.restricted for ingredient in found):
        keys += sorted(_column("restrictions"))
    return _once(*keys)


def recipe_sources(outcome):
    """
    Return the keys of what a recipe rests on.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.

    Returns
    -------
    tuple of str
        Target, water, what is used, the rules of misses and stocks, cautions.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> recipe_sources(run_job(read_job(DEMO)))[0]
    'voehringen-2025'
    """
    used = [ingredient for ingredient, _ in outcome.weighing.amounts]
    keys = [outcome.water.source_key, outcome.target.source_key]
    keys += [recipe_rule(name)["source_key"] for name in ("miss", "few steps")]
    if outcome.weighing.stocks:
        keys += sorted(_column("stock_rules"))
    if outcome.job.units != "metric":
        keys.append("nist-hb44")
    keys += [caution.source_key for caution in cautions(used)]
    keys += [notice.source_key for notice in outcome.notices]
    return _once(*keys, *shelf_sources(used))


# --- chemistry -------------------------------------------------------------------------


def chemistry_sources(outcome):
    """
    Return the keys of the constants that count at this composition.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.

    Returns
    -------
    tuple of str
        Of the ions and pairs that are there, what they conduct, the solids near
        saturation, the rules of pH and dose, acids, air, chelates.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> keys = chemistry_sources(run_job(read_job(DEMO)))
    >>> "pq386-wateq4f" in keys, "usgs-mcclesk" in keys
    (True, True)
    """
    state = outcome.expected.state
    keys = [*_of_species(state), *_of_equations(state), *_of_conduction(outcome)]
    keys += [*_of_solids(outcome), *_of_doses(outcome), *_of_iron(outcome)]
    keys += [notice.source_key for notice in outcome.chemistry_notices]
    return _once(*keys, *sorted(_column("air_times")))


def _of_species(state):
    """Yield the sources of the constants and activities of what is there."""
    there = set(state.species)
    for species in state.net.species:
        if species.name in there:
            yield species.source_key
    for row in read_table("activity"):
        if row["species"] in there:
            yield row["source_key"]


def _of_equations(state):
    """Yield the sources of the equations of water, activity and air."""
    names = (*EQUATIONS, *(STRONG if state.strength > _start() else ()))
    for row in read_table("water_equations"):
        if row["equation"] in names:
            yield row["source_key"]


def _start():
    """Return from which ionic strength the model of strong solutions has a share."""
    rows = read_table("water_equations")
    (row,) = (r for r in rows if (r["equation"], r["symbol"]) == ("blend", "start"))
    return row.number("value")


def _of_conduction(outcome):
    """Yield the sources of what ions conduct, and of how far off that may be."""
    found = outcome.expected.conductivity
    ions = {name.removeprefix("unnamed as ") for name in found.by_ion}
    ions |= {"(chelate)"} if outcome.expected.state.chelates else set()
    for row in read_table("conduction"):
        if row["species"] in ions:
            yield row["source_key"]
    yield found.worst[2]


def _of_solids(outcome):
    """Yield the sources of the solids that are named, and of the limits of their words."""
    risks = (*outcome.solids.solids, *outcome.solids_in_air.telling)
    for risk in risks:
        yield risk.source_key
        if risk.role == "soluble":
            yield from sorted(_column("solubility"))
        else:
            yield mineral(risk.name).source_key
            yield risk_rule(risk.name)["source_key"]


def _of_doses(outcome):
    """Yield the sources of the rules of pH and acids, and of what is poured."""
    yield from sorted(_column("ph_rules") | _column("acid_rules"))
    for dose in outcome.correction.doses:
        yield dose.ingredient.source_key
        yield _hazards(dose.ingredient)


def _of_iron(outcome):
    """Yield the sources of the windows of pH in which the iron of the shelf is held."""
    for source in outcome.iron:
        yield source.ingredient.source_key
        for key in source.parts:
            yield iron_window(key)["source_key"]
    yield from (row["source_key"] for row in read_table("iron_rules"))


# --- mixing, exchange, claims ------------------------------------------------------------


def mixing_sources(mixing):
    """
    Return the keys of the rules of mixing, of what is told of it so far.

    Parameters
    ----------
    mixing : JobMixing
        The mixing; nothing of it is worked out.

    Returns
    -------
    tuple of str
        Rules of orders, tanks, stocks and readings, notices of what is worked out.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> "ext-mixing" in mixing_sources(run_job(read_job(DEMO)).mixing)
    True
    """
    rules = ("mixing_rules", "mixing_classes", "dissolving_rules", "solid_risks")
    stocks = (
        ("stock_rules", "company_rules", "pair_rules") if mixing.wants_tanks else ()
    )
    found = vars(mixing).get("order_notices", ())
    keys = [key for table in (*rules, *stocks) for key in sorted(_column(table))]
    return _once(*keys, *(notice.source_key for notice in found))


def exchange_sources(outcome):
    """
    Return the keys of what doubts and trades rest on.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job; nothing of it is worked out.

    Returns
    -------
    tuple of str
        How far each input may be off, the rules of recipes, errors of the EC.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> len(exchange_sources(run_job(read_job(DEMO)))) > 2
    True
    """
    tables = ("doubts", "recipe_rules", "ec_errors")
    keys = [key for table in tables for key in sorted(_column(table))]
    return _once(outcome.target.source_key, *keys)


def claims_sources(claims):
    """
    Return the keys of the rules and values that papers were held against.

    Parameters
    ----------
    claims : JobClaims
        The papers; none is checked for this.

    Returns
    -------
    tuple of str
        Of every finding so far, of its notices, of the rules of papers.

    Examples
    --------
    >>> from formulate.job_claims import JobClaims
    >>> "definition" in claims_sources(JobClaims(()))
    True
    """
    told = [answer for answer in claims.answers if answer]
    keys = [f.source_key for answer in told for f in answer.findings]
    keys += [notice.source_key for answer in told for notice in answer.notices]
    rules = sorted(_column("claim_rules") | _column("paper_rules"))
    return _once(*keys, *rules, MASSES, "definition")
