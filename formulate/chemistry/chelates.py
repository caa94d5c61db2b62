"""Which metal a chelating agent holds, and in which pH window it can be relied on.

A chelate is one ion that takes part in nothing else: a grower buys it as such, and within
its window of pH it stays so. Where several metals are there, the agent goes first to the
one it holds most firmly, as far as it lasts. What is left of it goes to the next.
"""

from functools import cache

from formulate.notices import Notice
from formulate.stoichiometry.nutrients import form
from formulate.tables import read_table

__all__ = ["AGENTS", "bound", "chelate_notices"]

AGENTS = ("edta", "dtpa", "eddha", "hbed")


@cache
def _metals(agent):
    """Return the metals that an agent holds, the firmest first."""
    rows = [row for row in read_table("chelates") if row["ligand"] == agent]
    rows.sort(key=lambda row: -row.number("log_k"))
    return tuple(row["metal"] for row in rows)


def bound(totals, least=min):
    """
    Return what the chelating agents hold, and what is left of everything.

    Parameters
    ----------
    totals : mapping of str to float or array
        Form to its total. [mmol/L]
    least : function
        Gives the smaller of two values: min, or numpy.minimum for arrays.

    Returns
    -------
    dict of str to float or array
        Forms with what is left of them, and chelates, such as "edta:iron_iii". [mmol/L]

    Examples
    --------
    >>> bound({"edta": 0.0625, "iron_iii": 0.03125, "calcium": 4.0})
    {'calcium': 3.96875, 'edta:iron_iii': 0.03125, 'edta:calcium': 0.03125}
    """
    left, held = dict(totals), {}
    for agent in (agent for agent in AGENTS if agent in totals):
        for metal in (metal for metal in _metals(agent) if metal in left):
            some = least(left[agent], left[metal])
            held[f"{agent}:{metal}"] = some
            left[agent], left[metal] = left[agent] - some, left[metal] - some
    found = {**left, **held}
    return {key: value for key, value in found.items() if _is_there(value)}


def _is_there(value):
    """Return whether anything is there of a value or of any of an array."""
    return value > 0 if isinstance(value, float) else bool((value > 0).any())


def chelate_notices(chelates, ph):
    """
    Return a notice for each chelate outside its window of pH.

    Parameters
    ----------
    chelates : iterable of str
        Chelates, such as "edta:iron_iii".
    ph : float
        The pH. [-]

    Returns
    -------
    list of Notice
        One for each that may fail, the spread of the sources in its words.

    Examples
    --------
    >>> print(chelate_notices(["edta:iron_iii"], 6.9)[0].what)
    iron(III) held by EDTA at pH 6.9: it holds to pH 6 to 6.5, by source; above that the iron is lost bit by bit. Keep the pH lower, or take a firmer chelate
    """
    rows = {f"{row['ligand']}:{row['metal']}": row for row in read_table("chelates")}
    found = []
    for key in chelates:
        row = rows[key]
        if not row["high_least"]:
            continue
        agent, metal = (form(part).name for part in key.split(":"))
        word, ends, sure, why = _outside(row, ph)
        if not word:
            continue
        span = (
            f"{ends[0]:g} to {ends[1]:g}, by source"
            if ends[0] < ends[1]
            else f"{ends[0]:g}"
        )
        what = (
            f"{metal} held by {agent} at pH {ph:.3g}: it holds {word} pH {span}; {why}"
        )
        severity = "caution" if sure else "note"
        found.append(Notice(what, severity, ph, ends[0], row["source_key"]))
    return found


def _outside(row, ph):
    """Return on which side of its window a chelate is, the ends, and whether all agree."""
    low = (row.number("low_least"), row.number("low_most"))
    high = (row.number("high_least"), row.number("high_most"))
    if ph > high[0]:
        metal = "iron" if row["metal"].startswith("iron") else form(row["metal"]).name
        why = (
            f"above that the {metal} is lost bit by bit. Keep the pH lower, or take a "
            "firmer chelate"
        )
        return "to", high, ph > high[1], why
    if ph < low[1]:
        return "from", low[::-1], ph < low[0], "strong acid breaks it up"
    return "", (), False, ""
