"""From the sources that a label names to materials of known composition.

A chelate or an acid that is named without its strength may be anything up to the pure
compound, which then stands beside the grades of the catalogue.
"""

from dataclasses import dataclass, replace
from functools import cache

from formulate.claims.loose_sources import ANYTHING, loose_source
from formulate.errors import AmbiguousName, InputError, UnknownName, shortened
from formulate.ingredients.catalogue_search import found_in_catalogue
from formulate.ingredients.ingredient import Ingredient, from_formula
from formulate.ingredients.label_lists import listed_sources
from formulate.ingredients.salts import as_ingredient, catalogue
from formulate.tables import read_table

__all__ = ["NamedSource", "named_sources"]

MOST_READINGS = 8
PURE = 100.0  # %


@dataclass(frozen=True, eq=False)
class NamedSource:
    """
    One source as the label names it.

    Attributes
    ----------
    name : str
        As printed, or the name of the material that was given.
    materials : tuple of Ingredient
        What it may be: several, where the name does not tell the hydrate or the grade.
    uncounted : frozenset of str
        Elements of which it may bring more than is counted; "*" if nothing is known.
    note : str
        Why not all of it is counted.
    """

    name: str
    materials: tuple
    uncounted: frozenset = frozenset()
    note: str = ""

    @property
    def assumed(self):
        """Return what had to be assumed, in words; empty if nothing."""
        names = [material.name for material in self.materials]
        if not names:
            return f"{shortened(self.name)} is left out: what it brings is not counted"
        if len(names) > 1:
            return (
                f"{shortened(self.name)} may be {' or '.join(names)}, or a mix of them"
            )
        if isinstance(self.name, str) and names[0].casefold() != self.name.casefold():
            return f"{shortened(self.name)} is counted as {names[0]}"
        return ""


def named_sources(sources, faults, *, keep_going=False):
    """
    Return the materials that the sources of a label may be.

    Parameters
    ----------
    sources : str, or sequence of str or Ingredient
        The sources: catalogue names, formulas, names that leave the hydrate open, or
        ingredients. One text may name several, between commas.
    faults : Faults
        Where faults go; an unknown source is asked back with what is near.
    keep_going : bool
        Whether an unknown source beside known ones is kept, without materials, instead.

    Returns
    -------
    tuple of NamedSource
        Each source once.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> found = named_sources("potassium nitrate, magnesium nitrate", Faults())
    >>> [len(source.materials) for source in found]
    [1, 2]
    >>> [material.name for material in named_sources("iron EDTA", Faults())[0].materials]
    ['iron EDTA chelate (13 % Fe)', 'pure NaFeEDTA']
    """
    if isinstance(sources, str | Ingredient):
        sources = (sources,)
    if not isinstance(sources, list | tuple):
        faults.add(f"sources: {shortened(sources)}: give a list of names")
        return ()
    found = {}
    for thing in sources:
        for part in _parts(thing):
            with faults.collecting("source"):
                made = _named(part, keep_going)
                key = tuple(sorted(m.name for m in made.materials)) or made.name
                found.setdefault(key, made)
    if not sources or not any(map(_parts, sources)):
        faults.add("no sources; give what the product is said to be derived from")
    if found and not any(made.materials for made in found.values()):
        names = ", ".join(shortened(made.name) for made in found.values())
        faults.add(f"no source of known composition: {names}; nothing can be derived")
    return tuple(found.values())


def _parts(thing):
    """Return the names in a text; a catalogue name with commas stays whole."""
    if not isinstance(thing, str):
        return (thing,)
    if "," in thing and thing.strip() not in catalogue():
        return listed_sources(thing)
    return (thing.strip(),) if thing.strip() else ()


def _named(thing, keep_going):
    """Return one source with its materials."""
    if isinstance(thing, Ingredient):
        if thing.measured_in != "g":
            raise InputError(
                f"{thing.name} is measured in mL; give its analysis by mass"
            )
        return NamedSource(thing.name, (thing,))
    try:
        return NamedSource(thing, _up_to_pure(thing, _materials(thing)))
    except UnknownName:
        loose = loose_source(thing)
        if loose is None and not keep_going:
            raise
        if loose is None:
            return NamedSource(thing, (), frozenset(ANYTHING))
        return NamedSource(thing, loose.materials, loose.uncounted, loose.note)


def _materials(thing):
    """Return the materials of the catalogue that a name means."""
    try:
        return (as_ingredient(thing),)
    except AmbiguousName as error:
        return tuple(catalogue()[name] for name in error.readings)
    except UnknownName as error:
        near = _near(thing)
        if not near:
            what = "give a catalogue name, a formula, or an ingredient by its analysis"
            raise UnknownName(f"{error}; {what}") from None
        return near


def _up_to_pure(name, materials):
    """Return the materials with the pure compound, where a name leaves the strength open."""
    if "%" in name:
        return materials
    diluted = [m for m in materials if m.formula in _pure() and _is_diluted(m)]
    pure = {m.formula: _pure_of(m) for m in diluted}
    return (*materials, *pure.values())


def _is_diluted(material):
    return material.purity_percent < PURE or material.crystal_water > 0


@cache
def _pure():
    """Return the formula of a chelate or an acid of the catalogue to that of the pure one."""
    rows = (row for row in read_table("label_limits") if row["kind"] == "pure")
    return {row["subject"]: row["formula"] for row in rows}


def _pure_of(material):
    """Return the pure compound of a chelate or an acid; handled as the diluted one is."""
    formula = _pure()[material.formula]
    facts = {"hazards": material.hazards, "role": material.role}
    made = from_formula(formula, name=f"pure {formula}", **facts)
    return replace(made, formula="", dissolved=material.is_liquid)


def _near(name):
    """Return the materials whose own name holds every word of a name, if few."""
    words = name.casefold().split()
    found = [
        made
        for made in found_in_catalogue(name, most=MOST_READINGS + 1)
        if all(word in made.name.casefold() for word in words)
    ]
    return tuple(found) if len(found) <= MOST_READINGS else ()
