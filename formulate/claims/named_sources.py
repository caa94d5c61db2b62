"""From the sources that a label names to materials of known composition."""

from dataclasses import dataclass

from formulate.errors import AmbiguousName, InputError, UnknownName, shortened
from formulate.ingredients.catalogue_search import found_in_catalogue
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.salts import as_ingredient, catalogue

__all__ = ["NamedSource", "named_sources"]

MOST_READINGS = 8


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
    """

    name: str
    materials: tuple

    @property
    def assumed(self):
        """Return what had to be assumed, in words; empty if nothing."""
        names = [material.name for material in self.materials]
        if len(names) > 1:
            return (
                f"{shortened(self.name)} may be {' or '.join(names)}, or a mix of them"
            )
        if isinstance(self.name, str) and names[0].casefold() != self.name.casefold():
            return f"{shortened(self.name)} is counted as {names[0]}"
        return ""


def named_sources(sources, faults):
    """
    Return the materials that the sources of a label may be.

    Parameters
    ----------
    sources : str, or sequence of str or Ingredient
        The sources: catalogue names, formulas, names that leave the hydrate open, or
        ingredients. One text may name several, between commas.
    faults : Faults
        Where faults go; an unknown source is asked back with what is near.

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
                made = _named(part)
                key = tuple(sorted(m.name for m in made.materials))
                found.setdefault(key, made)
    if not sources or not any(map(_parts, sources)):
        faults.add("no sources; give what the product is said to be derived from")
    return tuple(found.values())


def _parts(thing):
    """Return the names in a text; a catalogue name with commas stays whole."""
    if not isinstance(thing, str):
        return (thing,)
    if "," in thing and thing.strip() not in catalogue():
        return tuple(part.strip() for part in thing.split(",") if part.strip())
    return (thing.strip(),) if thing.strip() else ()


def _named(thing):
    """Return one source with its materials."""
    if isinstance(thing, Ingredient):
        if thing.measured_in != "g":
            raise InputError(
                f"{thing.name} is measured in mL; give its analysis by mass"
            )
        return NamedSource(thing.name, (thing,))
    try:
        return NamedSource(thing, (as_ingredient(thing),))
    except AmbiguousName as error:
        return NamedSource(thing, tuple(catalogue()[name] for name in error.readings))
    except UnknownName as error:
        near = _near(thing)
        if not near:
            what = "give a catalogue name, a formula, or an ingredient by its analysis"
            raise UnknownName(f"{error}; {what}") from None
        return NamedSource(thing, near)


def _near(name):
    """Return the materials whose own name holds every word of a name, if few."""
    words = name.casefold().split()
    found = [
        made
        for made in found_in_catalogue(name, most=MOST_READINGS + 1)
        if all(word in made.name.casefold() for word in words)
    ]
    return tuple(found) if len(found) <= MOST_READINGS else ()
