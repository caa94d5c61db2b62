"""What to know about a batch beyond its recipe: acid to pour, doses, pH, iron."""

from formulate.chemistry.acid_doses import acid_rule
from formulate.chemistry.pouring import how_to_pour
from formulate.notices import Notice
from formulate.recipes.ph_means import held_ph
from formulate.stoichiometry.nutrients import nutrient
from formulate.working import printed

__all__ = ["batch_remarks"]


def batch_remarks(outcome):
    """
    Return what to know about a batch beyond its recipe.

    Parameters
    ----------
    outcome : Outcome
        The outcome of a job.

    Returns
    -------
    tuple of Notice
        How acids and alkalis of the recipe are poured, what hangs on the alkalinity, what
        a dose brings beyond the wish, iron that is lost.

    Examples
    --------
    >>> from formulate.jobs import DEMO, read_job
    >>> from formulate.outcome import run_job
    >>> batch_remarks(run_job(read_job(DEMO)))
    ()
    """
    return (
        *_poured(outcome),
        *_on_the_edge(outcome),
        *_dosed_too_much(outcome),
        *_lost_iron(outcome),
    )


def _dosed_too_much(outcome):
    """Yield a notice for each nutrient that the first dose brings beyond its wish."""
    found, brings = outcome.correction, {}
    if not (found.at_hand and found.doses):
        return
    for key, value in found.doses[0].brings.items():
        element = "N" if key.endswith("-N") else key
        brings[element] = brings.get(element, 0.0) + value
    most = 1 + acid_rule("beyond a wish") / 100
    for key, value in brings.items():
        wanted = outcome.target.wanted.get(key)
        if not wanted:
            continue
        wanted = wanted * nutrient(key).molar_mass
        then = outcome.weighing.solution.mg_l(key) + value
        if then > most * wanted:
            name = found.doses[0].ingredient.name
            what = (
                f"the dose of {name} brings {printed(value, 3)} mg/L {key}: {printed(then, 3)} "
                f"in all, {printed(wanted, 3)} wanted. Let the recipe use it, or take another"
            )
            yield Notice(what, "caution", then, wanted, "stoichiometry")


def _poured(outcome):
    """Yield how each acid or alkali of the recipe goes into the batch."""
    for ingredient, amount in outcome.weighing.amounts:
        if ingredient.role:
            what = how_to_pour(ingredient, amount)
            yield Notice(what, "caution", amount, None, "ext-general")


def _on_the_edge(outcome):
    """Yield that a pH which the recipe itself has hangs on the alkalinity of the water."""
    if not held_ph(outcome.recipe.target.limits):
        return
    found = outcome.expected.ph_aerated
    if not found.is_single:
        what = (
            f"the pH hangs on the alkalinity of the water: what that may be off moves it "
            f"{found.words} once aerated. Measure then, and correct by the meter"
        )
        yield Notice(what, "caution", found.high, None, "definition")


def _lost_iron(outcome):
    """Yield a notice for each source of iron in the batch that does not hold at its pH."""
    used = {ingredient.name for ingredient, _ in outcome.weighing.amounts}
    for source in outcome.iron:
        if source.holds == "lost" and source.ingredient.name in used:
            what = (
                f"iron of {source.ingredient.name} is lost at pH {source.ph:g} ({source.words}): "
                "it turns to rust in an aerated solution. Take a chelate that holds"
            )
            yield Notice(what, "caution", source.ph, source.high, "chelate-literature")
