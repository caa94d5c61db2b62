"""A product that is called by the name of a material, held against what that material holds.

The name is taken as a source would be: what no hydrate of the material can hold is wrong, what
no purity of it brings together is left open and told. Two percent of something else are taken
for an impurity.
"""

import re
from itertools import takewhile

from formulate.claims.as_sold import grades_as_sold
from formulate.claims.finding import Finding
from formulate.claims.material_fit import fit_of, fits_of, holds_agent
from formulate.claims.named_sources import named_sources
from formulate.claims.slip_blends import other_hydrates
from formulate.errors import AmbiguousName, Faults, FormulateError
from formulate.ingredients.salts import as_ingredient, catalogue
from formulate.tables import rule_of
from formulate.working import printed

__all__ = ["materials_called", "name_findings", "number_of_another"]

SUBJECT, GRADE = "name", "grade"
RULE = "a name says what is in the bag, as a source does"
NUMBERS = re.compile(
    r"[\s,;:(]*\d[\d.,\s+\-–x%()/]*[A-Z]?[a-z]?$"
)  # a grade, such as 21-0-0-24S
HALF, PERCENT = 0.5, 100.0
DOUBT = 0.004  # of a share: printed oxides follow rounded legal factors
SOLUTION = 0.1  # %: the least strength of a solution
TWO = 2  # words of a name that tells one salt


def materials_called(name):
    """
    Return the materials that a product is named after.

    Parameters
    ----------
    name : str
        What the product is called; a grade or numbers may follow.

    Returns
    -------
    tuple of Ingredient
        The material, or its hydrates where the name leaves them open, with what is pure of a
        chelate or an acid; empty if the name tells no one material.

    Examples
    --------
    >>> [made.name for made in materials_called("Potassium Nitrate 13-0-46")]
    ['potassium nitrate']
    >>> materials_called("Greenhouse feed 15-5-30")
    ()
    """
    texts = dict.fromkeys((name.strip(), NUMBERS.sub("", name).strip()))
    for text in filter(None, texts):
        try:
            if _is_one(text):
                return named_sources([text], Faults())[0].materials
        except (FormulateError, LookupError):
            continue
    return ()


def _is_one(text):
    """Return whether a text names one material of the catalogue, or one salt."""
    try:
        made = as_ingredient(text)
        return made.name in catalogue() or made.formula in _formulas()
    except AmbiguousName as error:
        readings = [catalogue()[each] for each in error.readings]
    if not all(made.formula for made in readings):
        return False
    return len({_dry(made) for made in readings}) == 1 or _same_words(readings) >= TWO


def _same_words(readings):
    """Return with how many words the names of some materials begin alike."""
    words = [made.name.replace(",", "").split() for made in readings]
    alike = takewhile(lambda each: len(set(each)) == 1, zip(*words, strict=False))
    return len(list(alike))


def _formulas():
    return {made.formula for made in catalogue().values() if made.formula}


def _dry(made):
    """Return the formula of a salt without its water."""
    return made.formula.split("·")[0]


def name_findings(name, guarantees, *, is_liquid=False):
    """
    Return how the analysis agrees with the material that a product is named after.

    Parameters
    ----------
    name : str
        What the product is called.
    guarantees : sequence of Guarantee
        What is guaranteed.
    is_liquid : bool
        Whether it is a solution, of any strength.

    Returns
    -------
    tuple of Finding
        "wrong" for each share that no hydrate of the material can hold; else "cannot tell",
        serious, where no purity of it agrees, or "right"; empty where the name tells no
        material.

    Examples
    --------
    >>> from formulate.claims.guarantees import Guarantee
    >>> shares = [Guarantee("P2O5", 52.0, 52.0, 53.0, 1.0), Guarantee("K2O", 34.0, 34.0, 35.0, 1.0)]
    >>> print(name_findings("potassium nitrate", shares)[0])
    name: wrong; called potassium nitrate, which holds no P2O5, and P2O5 52 % is guaranteed; the \
numbers are those of monopotassium phosphate
    """
    materials = materials_called(name)
    told = _told(guarantees)
    if not materials or not told:
        return ()
    beyond = _beyond(materials, told)
    if beyond:
        of_others = _numbers_of(told, materials)
        return tuple(_wrong(materials, *each, of_others) for each in beyond)
    held = [g for g in told if _most(materials, g) > 0]
    if not held or any(map(holds_agent, materials)):
        return ()
    if _agrees(materials, held, is_liquid):
        odd = () if is_liquid else number_of_another(materials, held)
        what = f"the analysis agrees with {_names(materials)}, as it is called"
        return odd or (_finding("right", what),)
    return (_finding("cannot tell", _disagreement(materials, held), "serious"),)


def number_of_another(materials, guarantees):
    """
    Return the finding on a number that is another pure material's and no hydrate's own.

    Parameters
    ----------
    materials : sequence of Ingredient
        What a name may mean.
    guarantees : sequence of Guarantee
        What is guaranteed.

    Returns
    -------
    tuple of Finding
        "cannot tell" with what each may hold, or empty.

    Examples
    --------
    >>> from formulate.claims.guarantees import Guarantee
    >>> boron = Guarantee("B", 17.4, 17.4, 17.5, 0.1)
    >>> found = number_of_another(materials_called("borax"), [boron])
    >>> print(found[0].what[:42])
    B 17.4 % is the number of boric acid, and
    """
    told = _told(guarantees)
    if not told or any(fit_of(m, told) or _is_dried(m, told) for m in materials):
        return ()
    names = {made.name for made in materials}
    pure = [
        fit for fit in fits_of(told) if fit.is_pure and fit.ingredient.name not in names
    ]
    if not pure:
        return ()
    first = told[0]
    holds = ", ".join(f"{m.name} {_share(m, first.key)}" for m in materials)
    what = (
        f"{', '.join(map(str, told))} is the number of {pure[0].ingredient.name}, and of no "
        f"hydrate that the name leaves open ({holds}); a mix of them, or a wrong name"
    )
    return (_finding("cannot tell", what, "caution"),)


def _is_dried(made, told):
    """Return whether shares are a little above those of a salt, which may have lost water."""
    dried = rule_of("claim_rules", "dried").number("value") / PERCENT
    return all(
        made.percent(g.key) < g.percent <= dried * made.percent(g.key) for g in told
    )


def _told(guarantees):
    """Return what is guaranteed of each nutrient; the grade only where nothing else is."""
    told = [g for g in guarantees if g.percent > 0 and not g.is_upper]
    keys = {g.key for g in told if g.kind != GRADE}
    return [g for g in told if g.kind != GRADE or g.key not in keys]


def _share(made, key):
    return f"{printed(made.percent(key))} % {key}"


def _names(materials):
    return " or ".join(made.name for made in materials)


def _every(materials):
    """Return materials with every other hydrate of them."""
    others = (other for made in materials for other in other_hydrates(made))
    return tuple({made.name: made for made in (*materials, *others)}.values())


def _most(materials, each):
    """Return the most of a guaranteed nutrient in any of the materials, or as sold. [%]"""
    names = {made.name for made in materials}
    grades = [grade for grade in grades_as_sold() if grade.material in names]
    ranges = filter(None, (grade.range_of(each.key) for grade in grades))
    return max([m.percent(each.key) for m in materials] + [most for _, most in ranges])


def _beyond(materials, told):
    """Return the guarantees that no hydrate can hold, each with the most that one can."""
    impure = rule_of("claim_rules", "impurity").number("value")
    found = []
    for each in told:
        most = _most(_every(materials), each)
        least = each.percent - HALF * each.step - DOUBT * each.percent
        if least > most and (most > 0 or each.percent >= impure):
            found.append((each, most))
    return found


def _wrong(materials, each, most, of_others):
    """Return the finding on a guarantee that the material cannot hold."""
    holds = f"at most {printed(most)} %" if most else "no"
    what = (
        f"called {_names(materials)}, which holds {holds} {each.key}, and {each} is "
        f"guaranteed{of_others}"
    )
    facts = (each.percent, most, "serious", RULE, "stoichiometry")
    return Finding(SUBJECT, "wrong", what, *facts)


def _numbers_of(told, materials):
    """Return in words which other material agrees, or ""."""
    names = {made.name for made in materials}
    fits = [fit for fit in fits_of(told) if fit.ingredient.name not in names]
    return f"; the numbers are those of {fits[0]}" if fits else ""


def _agrees(materials, held, is_liquid):
    """Return whether a material, a mix of its hydrates, or a solution agrees."""
    if is_liquid or any(made.is_liquid for made in materials):
        return any(fit_of(made, held, SOLUTION) for made in materials)
    least = rule_of("paper_rules", "least as sold").number("value")
    if len({_dry(made) for made in materials}) > 1:
        return any(fit_of(made, held, least) for made in materials)
    wettest, *_, driest = sorted(
        (*materials, *materials), key=lambda made: made.percent(held[0].key)
    )
    ratio = wettest.percent(held[0].key) / driest.percent(held[0].key)
    mixed = fit_of(driest, held, least * ratio)
    return mixed is not None or any(fit_of(made, held) for made in materials)


def _disagreement(materials, held):
    """Return in words how an analysis is not what a product is called."""
    first = materials[0]
    parts = ", ".join(
        f"{each} where {first.name} holds {printed(first.percent(each.key))} %"
        for each in held
    )
    others = _numbers_of(held, materials)
    return (
        f"called {_names(materials)}, and no purity of it agrees: {parts}{others}; look at "
        "the name, the numbers and their bases"
    )


def _finding(verdict, what, severity="note"):
    facts = {"severity": severity, "rule": RULE, "source_key": "stoichiometry"}
    return Finding(SUBJECT, verdict, what, **facts)
