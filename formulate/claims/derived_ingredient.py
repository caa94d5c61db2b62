"""The blend in the middle of what a label allows, as an ingredient for a shelf."""

from dataclasses import replace

from formulate.claims.blend_ranges import WHOLE
from formulate.claims.blend_sums import forms_held
from formulate.ingredients.ingredient import Ingredient
from formulate.notices import Notice
from formulate.working import printed

__all__ = ["derived_ingredient"]

MIDDLE = (
    "composition from the named sources by the middle of the blends that fit the guarantees; "
    "it is one of many, see the ranges"
)
MINIMA = "guarantees are minima: it is counted as near to them as the sources allow"


def derived_ingredient(name, parts, ranges, *, minima=False, **facts):
    """
    Return an ingredient from a blend and the ranges around it.

    Parameters
    ----------
    name : str
        How it is called.
    parts : sequence of (Ingredient, float)
        Each material with its grams in 100 g. [g]
    ranges : sequence of BlendRange
        What the label does not tell, with its range.
    minima : bool
        Whether guarantees are minima without an upper limit.
    **facts : object
        Other fields of `Ingredient`.

    Returns
    -------
    Ingredient
        The blend; the ranges stand in its notices.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> made = derived_ingredient("bag", [(salt("KNO3"), 90.0)], ())
    >>> round(made.percent("K2O"), 1), made.note
    (41.9, 'middle of the blends that its label allows, g in 100 g: KNO3 90.0')
    """
    materials = [material for material, _ in parts]
    listed = ", ".join(f"{m.name} {printed(x, 3)}" for m, x in parts if x > 0)
    made = Ingredient(
        name,
        {key: _summed(parts, key) for key in forms_held(materials)},
        unassigned_charge=sum(m.unassigned_charge * x for m, x in parts) / WHOLE,
        crystal_water=sum(m.crystal_water * x for m, x in parts) / WHOLE,
        hazards=_hazards(materials),
        role=_role(parts),
        source_key="stoichiometry",
        how_known="computed",
        note=f"middle of the blends that its label allows, g in 100 g: {listed}",
        **facts,
    )
    told = [Notice(MIDDLE, "caution"), *([Notice(MINIMA)] if minima else [])]
    return replace(made, notices=(*told, *(_notice(made, each) for each in ranges)))


def _summed(parts, key):
    return sum(m.forms.get(key, 0.0) * grams for m, grams in parts) / WHOLE


def _notice(made, each):
    """Return what the label leaves open of one ion, or of the charge."""
    counted = made.unassigned_charge * WHOLE
    if each.kind == "ion":
        counted = made.percent(each.what)
    span = str(each).removeprefix(each.what).strip()
    what = f"{each.what} is not told: {span}, counted as {printed(counted)} {each.unit}"
    return Notice(what, "note", float(counted))


def _hazards(materials):
    """Return the hazard codes of all materials that may be there."""
    codes = {code for material in materials for code in material.hazards}
    known = all(material.hazards for material in materials)
    return tuple(sorted(codes - {"none"})) or (("none",) if known else ())


def _role(parts):
    roles = {material.role for material, grams in parts if grams}
    return next((role for role in ("acid", "alkali") if role in roles), "")
