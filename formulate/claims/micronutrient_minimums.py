"""Shares so small that a rule does not let them be claimed, and zeros where none may stand.

What a rule excepts cannot be seen on every label: a share below the least is told, and
never makes a label wrong.
"""

from formulate.claims.finding import Finding
from formulate.ingredients.label_amounts import WHOLE, form_of
from formulate.ingredients.label_words import family
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import read_table
from formulate.working import printed

__all__ = ["minimum_findings"]

PERCENT = 100.0
SAME = 1e-9
TABLE = "micronutrient_minimums"
SUBJECT = "least shares"
RULE = "the least share that may be claimed"
ZERO_RULE = "0 may stand in a grade, not in an analysis"
HELD = ("chelated", "complexed")
BY_MEMORY = " (from memory only)"


def minimum_findings(reading, text="", *, density=None):
    """
    Return which claimed shares are below the least that may be claimed.

    Parameters
    ----------
    reading : LabelReading
        What a label was read as.
    text : str
        The whole label, whose words tell what is excepted.
    density : float or None
        Density, where shares are by volume and the label does not print it. [kg/L]

    Returns
    -------
    tuple of Finding
        One for each share below the least, "right" where the label says what the rule
        excepts, else "cannot tell"; one "right" if every share is enough; none if no rule
        is known for the wording of the label.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> from formulate.ingredients.label_text import read_entries
    >>> bag = "Soluble Potash (K2O) 20 %\\nCopper (Cu) 0.01 %"
    >>> print(minimum_findings(read_entries(bag, Faults())[0])[0])
    Cu 0.01 %: cannot tell; less than the 0.05 % at which it may be claimed; shares for \
hydroponic or continuous liquid feed only are excepted, and the label does not say so
    """
    shares = _elements(reading, density)
    micro = {s: v for s, v in shares.items() if s in _least("eu")}
    if reading.basis == "eu" and len(shares) == len(micro):
        return _straight(reading, micro)
    least = _least(reading.basis)
    checked = {s: v for s, v in shares.items() if s in least}
    excepted = _excepted(reading.basis, text)
    found = [
        _too_little(subject, share, least[subject], excepted)
        for subject, share in checked.items()
        if 0 < share < float(least[subject]["percent"]) * (1 - SAME)
    ]
    if checked and not found:
        what = f"{', '.join(checked)}: each at least the share that may be claimed"
        found = [
            _finding(SUBJECT, "right", what, None, None, least[next(iter(checked))])
        ]
    return (*found, *_zeros(reading))


def _least(rule):
    """Return element to the row of its least share."""
    rows = [row for row in read_table(TABLE) if row["kind"] == "least"]
    return {row["subject"]: row for row in rows if row["rule"] == rule}


def _elements(reading, density):
    """Return element to the greatest share that the label gives of it, by mass. [%]"""
    known, found = density or reading.density, {}
    if reading.share_of == "w/v" and known is None:
        return found
    factor = known if reading.share_of == "w/v" else 1.0
    for entry in reading.entries:
        element = family(entry.key)
        if entry.kind in WHOLE and element not in ("N", "P", "K"):
            share = _as_element(entry, element) / factor
            found[element] = max(found.get(element, 0.0), share)
        elif entry.kind in WHOLE or entry.kind == "form":
            found.setdefault(element, entry.percent)
    return found


def _as_element(entry, element):
    """Return the share of an entry as the element. [%]"""
    if entry.key == element:
        return entry.percent
    try:
        pure = nutrient(element)
    except LookupError:
        return entry.percent
    return (
        pure.amount(dict([form_of(entry.key, entry.percent)])) * pure.molar_mass / 1000
    )


def _excepted(rule, text):
    """Return the word of a label that excepts it from the rule, or ""."""
    rows = [row for row in read_table(TABLE) if row["kind"] == "excepted"]
    words = [row["subject"] for row in rows if row["rule"] == rule]
    return next((word for word in words if word in text.casefold()), "")


def _too_little(subject, share, row, excepted):
    """Return the finding on a share below the least."""
    least = row.number("percent")
    memory = BY_MEMORY if row["how_known"] == "memory" else ""
    what = f"less than the {least:g} % at which it may be claimed{memory}"
    if excepted:
        what += f'; excepted, as the label says "{excepted}"'
    elif row["rule"] == "us":
        what += (
            "; shares for hydroponic or continuous liquid feed only are excepted, and the "
            "label does not say so"
        )
    verdict = "right" if excepted else "cannot tell"
    return _finding(f"{subject} {share:g} %", verdict, what, share, least, row)


def _straight(reading, micro):
    """Return the findings on a fertiliser of one micronutrient alone, in EU wording."""
    rows = {
        row["subject"]: row for row in read_table(TABLE) if row["kind"] == "straight"
    }
    if len(micro) != 1:
        return ()
    ((subject, share),) = micro.items()
    held = [e for e in reading.entries if e.kind in HELD]
    if not held:
        return () if reading.is_liquid else _kind(subject, share, rows["salt"])
    told = [sum(e.percent for e in held if bool(e.agent) == named) for named in (0, 1)]
    part = PERCENT * max(told) / share if share else 0.0
    asked = [_kind(subject, share, rows["chelate"])]
    asked.append(_kind(f"{subject} chelated", part, rows["chelated part"]))
    return sum(asked, ())


def _kind(subject, share, row):
    """Return the finding on what one kind of fertiliser must hold."""
    least = row.number("percent")
    of = "of it" if row["subject"] == "chelated part" else "by mass"
    asked = f"the rule for a micronutrient {row['subject']} asks {least:g} % {of}"
    if share >= least * (1 - SAME):
        return (
            _finding(
                subject,
                "right",
                f"{asked}, {printed(share)} % is told",
                share,
                least,
                row,
            ),
        )
    what = f"{asked}, {printed(share)} % is told; it may be of another kind"
    return (_finding(subject, "cannot tell", what, share, least, row),)


def _zeros(reading):
    """Return the finding on zeros that are printed in an analysis, in US wording."""
    if reading.basis != "us":
        return ()
    keys = [
        e.key for e in reading.entries if e.line and e.kind != "grade" and not e.percent
    ]
    if not keys:
        return ()
    what = f"0 % {', '.join(keys)} stands in the analysis; a rule forbids it{BY_MEMORY}"
    facts = {"number": 0.0, "rule": ZERO_RULE, "source_key": "aapfco-label"}
    return (Finding("zeros", "cannot tell", what, **facts),)


def _finding(subject, verdict, what, number, limit, row):
    facts = (number, limit, "note", RULE, row["source_key"])
    return Finding(subject, verdict, what, *facts)
