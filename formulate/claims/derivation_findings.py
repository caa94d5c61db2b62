"""What follows from guarantees and named sources, in words: findings."""

from formulate.claims.finding import Finding
from formulate.ingredients.label_words import family
from formulate.tables import rule_of
from formulate.working import printed

__all__ = [
    "ABSENT",
    "EXCESS",
    "conflict_findings",
    "excess_findings",
    "source_findings",
    "told_once",
    "unsupplied_findings",
]

ABSENT = 1e-6  # g in 100 g: less is rounding of the arithmetic
PERCENT, INFINITE = 100.0, float("inf")
GRADE = "grade "  # how the name of a number of the grade begins
CONFLICT = "least change, by linear programming, after which a blend exists"
EXCESS = "a minimum may be exceeded, but hardly by so much"
PARTS = ("part", "chelated", "complexed", "isomer")  # that their whole exceeds anyway
SHARES = "least and greatest share, by linear programming"


def unsupplied_findings(guarantees):
    """
    Return the finding on each guarantee that no named source can supply.

    Parameters
    ----------
    guarantees : iterable of Guarantee
        Those guarantees.

    Returns
    -------
    tuple of Finding
        One for each.

    Examples
    --------
    >>> from formulate.claims.guarantees import Guarantee
    >>> found = unsupplied_findings([Guarantee("Mg", 2.0, 2.0, 3.0, 1.0)])
    >>> print(found[0])
    Mg 2 %: impossible; none of the named sources holds Mg; a source is missing, or 2 % is wrong
    """
    return tuple(
        Finding(
            str(each),
            "impossible",
            f"none of the named sources holds {each.key}; a source is missing, or "
            f"{each.percent:g} % is wrong",
            0.0,
            each.low,
            "serious",
            "a guarantee needs a source that holds the nutrient",
            "stoichiometry",
        )
        for each in guarantees
    )


def told_once(findings):
    """
    Return findings without those that say the same of a nutrient again.

    Parameters
    ----------
    findings : iterable of Finding
        The findings, of totals and their parts, of a grade and its guarantees.

    Returns
    -------
    tuple of Finding
        Each once; of a grade and a guarantee, the guarantee.

    Examples
    --------
    >>> twice = [Finding("grade N 9 %", "wrong", "too much"), Finding("N 9 %", "wrong", "too much")]
    >>> print(*told_once(twice))
    N 9 %: wrong; too much
    """
    found = {}
    for each in findings:
        name = (each.subject.removeprefix(GRADE), each.what)
        known = found.get(name)
        if known is None or known.subject.startswith(GRADE):
            found[name] = each
    return tuple(found.values())


def conflict_findings(guarantees, short, over, room):
    """
    Return the findings on guarantees that no blend can keep together.

    Parameters
    ----------
    guarantees : sequence of Guarantee
        The guarantees that some source supplies.
    short : array, shape (m,)
        How far each stays below its least value. [%]
    over : array, shape (m,)
        How far each is above its greatest value. [%]
    room : float
        Grams beyond 100 g that the guarantees need. [g]

    Returns
    -------
    tuple of Finding
        What would have to give way, by how much; it is one way out, the least.

    Examples
    --------
    >>> from formulate.claims.guarantees import Guarantee
    >>> potash = Guarantee("K2O", 60.0, 60.0, 61.0, 1.0)
    >>> found = conflict_findings([potash], [13.4], [0.0], 0.0)
    >>> print(found[0])
    K2O 60 %: impossible; needs 60 % at least; beside the other guarantees the named sources \
reach 46.60 %, 13.40 points too little
    """
    made = []
    for each, less, more in zip(guarantees, short, over, strict=True):
        if less > 0:
            what = (
                f"needs {each.low:g} % at least; beside the other guarantees the named "
                f"sources reach {printed(each.low - less)} %, {printed(less)} points too "
                "little"
            )
            made.append(_conflict(str(each), what, each.low - less, each.low))
        if more > 0:
            what = (
                f"may be {printed(each.high)} % at most; with the other guarantees the named "
                f"sources bring at least {printed(each.high + more)} %, {printed(more)} "
                "points too much"
            )
            made.append(_conflict(str(each), what, each.high + more, each.high))
    if room > ABSENT:
        what = (
            f"what the guarantees need weighs at least {printed(100.0 + room)} g in 100 g "
            "of product"
        )
        made.append(_conflict("mass", what, 100.0 + room, 100.0))
    return tuple(made)


def _conflict(subject, what, number, limit):
    facts = ("serious", CONFLICT, "stoichiometry")
    return Finding(subject, "impossible", what, float(number), float(limit), *facts)


def excess_findings(guarantees, least):
    """
    Return the findings on minima that are far exceeded, whatever the blend.

    What rounding down may have left off is not counted; where forms of nitrogen are told,
    each of them may have lost a digit.

    Parameters
    ----------
    guarantees : sequence of Guarantee
        The guarantees.
    least : mapping of str to float
        Nutrient key to the least that any blend holds. [%]

    Returns
    -------
    tuple of Finding
        One for each element that is far above its guarantee, "cannot tell".

    Examples
    --------
    >>> from formulate.claims.guarantees import Guarantee
    >>> told = Guarantee("N", 2.0, 2.0, float("inf"), 1.0)
    >>> print(excess_findings([told], {"N": 13.1})[0])
    N 2 %: cannot tell; at least 13.10 % is brought where 2 % is guaranteed; a minimum may be \
exceeded, but so much is odd: look at number and basis
    """
    row, found = rule_of("claim_rules", "excess of a minimum"), {}
    factor = 1.0 + row.number("value") / PERCENT
    lost = sum(g.step for g in guarantees if g.key.endswith("-N") and g.kind == "form")
    for each in sorted(guarantees, key=lambda g: g.kind == "grade"):
        element, brought = family(each.key), least.get(each.key, 0.0)
        digit = max(each.step, lost) if each.key == "N" else each.step
        usual = max(each.percent * factor, each.percent + digit)
        is_minimum = each.percent > 0 and each.high == INFINITE
        if is_minimum and each.kind not in PARTS and brought > usual + ABSENT:
            found.setdefault(element, _excess(each, brought, row["source_key"]))
    return tuple(found.values())


def _excess(each, brought, source_key):
    what = (
        f"at least {printed(brought)} % is brought where {each.percent:g} % is guaranteed; a "
        "minimum may be exceeded, but so much is odd: look at number and basis"
    )
    facts = (float(brought), each.percent, "serious", EXCESS, source_key)
    return Finding(str(each), "cannot tell", what, *facts)


def source_findings(sources, shares, is_met):
    """
    Return the finding on each named source.

    Parameters
    ----------
    sources : sequence of NamedSource
        The sources.
    shares : array, shape (n, 2) or None
        Least and greatest share of each; None if no blend exists. [g]
    is_met : bool
        Whether every guarantee is met by the blends that the shares are of.

    Returns
    -------
    tuple of Finding
        "right" if it must be there, "wrong" if it cannot, else "cannot tell".

    Examples
    --------
    >>> import numpy as np
    >>> from formulate.claims.named_sources import named_sources
    >>> from formulate.errors import Faults
    >>> sources = named_sources("potassium nitrate", Faults())
    >>> print(source_findings(sources, np.array([[93.0, 100.0]]), True)[0])
    potassium nitrate: right; must be there, 93.00 to 100.0 g in 100 g
    """
    if shares is None:
        shares = [(None, None)] * len(sources)
    return tuple(
        _source(source.name, *share, is_met)
        for source, share in zip(sources, shares, strict=True)
    )


def _source(name, low, high, is_met):
    """Return the finding on one source."""
    facts = {"rule": SHARES, "source_key": "stoichiometry"}
    if low is None:
        what = "no blend keeps the guarantees, so nothing can be said of its share"
        return Finding(name, "cannot tell", what, **facts)
    low, high = float(low), float(high)
    beside = "" if is_met else ", the guarantees without a source left aside"
    if high < ABSENT:
        what = f"is named, but any of it breaks a guarantee{beside}"
        facts["severity"] = "caution"
        return Finding(name, "wrong", what, high, 0.0, **facts)
    if low < ABSENT:
        what = (
            f"may be there, up to {printed(high)} g in 100 g, but the guarantees can be met "
            f"without it{beside}"
        )
        return Finding(name, "cannot tell", what, 0.0, high, **facts)
    what = f"must be there, {printed(low)} to {printed(high)} g in 100 g{beside}"
    return Finding(name, "right", what, low, high, **facts)
