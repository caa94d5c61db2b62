"""Sources of labels that are no single compound, or hold what no form counts.

What such a source brings beside what is counted is a doubt: it may fill a guarantee, so that
nothing that needs it to be absent can be told.
"""

from dataclasses import dataclass, replace
from functools import cache

from formulate.claims.finding import Finding
from formulate.ingredients.ingredient import analysed, from_formula
from formulate.ingredients.label_words import family
from formulate.ingredients.salt_words import plain_words
from formulate.tables import read_table

__all__ = [
    "ANYTHING",
    "LooseSource",
    "doubt_findings",
    "doubted",
    "is_open",
    "loose_source",
]

ANYTHING = "*"
RULE = "what a source brings beside what is counted may fill a guarantee"
FACTS = {"rule": RULE, "source_key": "stoichiometry"}


@dataclass(frozen=True, eq=False)
class LooseSource:
    """
    A source that is no single compound of the catalogue.

    Attributes
    ----------
    materials : tuple of Ingredient
        What it may be, or a mix of them; empty if nothing of it is counted.
    uncounted : frozenset of str
        Elements of which it may hold more than is counted; "*" for any.
    note : str
        Why.
    """

    materials: tuple = ()
    uncounted: frozenset = frozenset()
    note: str = ""


@cache
def _rows():
    found = {}
    for row in read_table("loose_sources"):
        for text in row["words"].split("|"):
            found.setdefault(plain_words(text), row)
    return found


def loose_source(name):
    """
    Return what a source of no single composition may be.

    Parameters
    ----------
    name : str
        As the label names it.

    Returns
    -------
    LooseSource or None
        What is known of it; None if the table does not name it.

    Examples
    --------
    >>> found = loose_source("ammonium thiosulfate")
    >>> round(found.materials[0].percent("NH4-N"), 1), sorted(found.uncounted)
    (18.9, ['S'])
    """
    row = _rows().get(plain_words(name))
    if row is None:
        return None
    facts = {"source_key": row["source_key"], "how_known": row["how_known"]}
    made = [
        from_formula(formula, name=formula, **facts)
        for formula in filter(None, row["materials"].split("|"))
    ]
    if row["analysis"]:
        key, share = row["analysis"].rsplit(" ", 1)
        made.append(analysed(row["words"].split("|")[0], {key: float(share)}, **facts))
    return LooseSource(tuple(made), frozenset(row["uncounted"].split()), row["note"])


def doubt_findings(sources, guarantees=()):
    """
    Return the finding on each source of which not all is counted.

    Parameters
    ----------
    sources : iterable of NamedSource
        The sources.
    guarantees : iterable of Guarantee
        The guarantees, some of which it may fill.

    Returns
    -------
    tuple of Finding
        "cannot tell", one for each of them.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> facts = {"uncounted": frozenset("S"), "note": "sulfur that is no sulfate"}
    >>> print(*doubt_findings([SimpleNamespace(name="ammonium thiosulfate", **facts)]))
    ammonium thiosulfate: cannot tell; its S is not counted: sulfur that is no sulfate
    """
    return tuple(
        Finding(
            each.name,
            "cannot tell",
            _uncounted(each, guarantees),
            severity="caution",
            **FACTS,
        )
        for each in sources
        if each.uncounted
    )


def _uncounted(source, guarantees):
    """Return in words what of a source is not counted, and what cannot be told for it."""
    if ANYTHING in source.uncounted:
        why = source.note or "a source that is not known"
        return (
            f"{why}; what it brings is not counted, and the rest is derived without it"
        )
    names, count = " and ".join(sorted(source.uncounted)), len(source.uncounted)
    left = [str(each) for each in guarantees if is_open(each, [source])]
    told = f"; {', '.join(left)} cannot be told" if left else ""
    return (
        f"its {names} {'are' if count > 1 else 'is'} not counted: {source.note}{told}"
    )


def doubted(findings, sources):
    """
    Return findings with what an unknown source may change told so.

    Parameters
    ----------
    findings : iterable of Finding
        What follows if the other sources are all there is.
    sources : iterable of NamedSource
        The sources, those of which nothing is known among them.

    Returns
    -------
    tuple of Finding
        The findings; "cannot tell" for what such a source may overturn.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> kelp = SimpleNamespace(name="kelp", uncounted=frozenset("*"))
    >>> print(*doubted([Finding("Mg 1 %", "impossible", "no source holds Mg")], [kelp]))
    Mg 1 %: cannot tell; no source holds Mg, unless kelp brings some: of it nothing is known
    """
    names = [each.name for each in sources if ANYTHING in each.uncounted]
    if not names:
        return tuple(findings)
    unless = f", unless {' or '.join(names)} brings some: of it nothing is known"
    return tuple(
        replace(
            each, verdict="cannot tell", what=each.what + unless, severity="caution"
        )
        if each.gravity > 1 or each.what.startswith("must be there")
        else each
        for each in findings
    )


def is_open(guarantee, sources):
    """
    Return whether an uncounted part of a source may fill a guarantee.

    Parameters
    ----------
    guarantee : Guarantee
        The guarantee.
    sources : iterable of NamedSource
        The sources.

    Returns
    -------
    bool
        True where the least of it cannot be asked of what is counted.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> from formulate.claims.guarantees import Guarantee
    >>> source = SimpleNamespace(name="ammonium thiosulfate", uncounted=frozenset("S"))
    >>> is_open(Guarantee("S", 26.0, 26.0, 27.0, 1.0), [source])
    True
    """
    element = family(guarantee.key)
    return any(element in each.uncounted for each in sources)
