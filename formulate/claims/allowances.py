"""How far a laboratory may find a nutrient off its guarantee before a rule minds it.

Two rules are known: the investigational allowances of the United States, which look only at
what is missing, and the tolerances of the European Union, which look both ways. What of
them is known from memory only says so, no row is made up where a table ends, and what
another edition may say is told.
"""

import math
from dataclasses import dataclass

from formulate.checks import checked_number
from formulate.errors import Faults, InputError, MissingData, shortened
from formulate.recipes.doubtful_inputs import allowance
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import read_table, rule_of
from formulate.working import Shown

__all__ = [
    "MAIN",
    "MATERIALS",
    "PRODUCTS",
    "Allowance",
    "eu_tolerance",
    "same_nutrient",
    "share_as",
    "us_allowance",
]

PERCENT = 100.0
PRODUCTS = ("solid", "liquid")
MATERIALS = ("triple superphosphate",)  # with an allowance of their own
MAIN = ("N", "P2O5", "K2O")
NITROGEN = ("NO3-N", "NH4-N", "urea-N")


@dataclass(frozen=True)
class Allowance(Shown):
    """
    How far a nutrient may be off its guarantee, and by which rule.

    Attributes
    ----------
    key : str
        Nutrient key of the guarantee.
    guarantee : float
        What is guaranteed. [%]
    below : float
        How far it may stay below, in points of percent. [%]
    above : float
        How far it may go above, in points of percent; infinite if the rule does not look
        there. [%]
    rule : str
        Name of the rule.
    edition : str
        Which text of it.
    source_key : str
        Where it comes from.
    how_known : str
        "read" or "memory".
    doubt : str
        Why what lies beyond proves nothing, or "".
    sure_below : float
        How far below is right whatever the doubt, in points of percent. [%]
    note : str
        How it was found.
    other_edition : str
        What another edition may say, or "".

    Examples
    --------
    >>> print(us_allowance("Zn", 0.05))
    Zn 0.05 % guaranteed: 0.01 points below are allowed (read)
    """

    key: str
    guarantee: float
    below: float
    above: float
    rule: str
    edition: str
    source_key: str
    how_known: str
    doubt: str = ""
    sure_below: float = math.inf
    note: str = ""
    other_edition: str = ""

    @property
    def value(self):
        """Return how far it may stay below, in points of percent. [%]"""
        return self.below

    @property
    def low(self):
        """Return the least that may be found. [%]"""
        return self.guarantee - self.below

    @property
    def high(self):
        """Return the most that may be found; infinite if nothing is too much. [%]"""
        return self.guarantee + self.above

    @property
    def known(self):
        """Return in words how the allowance is known."""
        words = "from memory only" if self.how_known == "memory" else "read"
        return f"{words}, doubtful: {self.doubt}" if self.doubt else words

    def __str__(self):
        over = "" if math.isinf(self.above) else f", {_plain(self.above)} above"
        return (
            f"{self.key} {_plain(self.guarantee)} % guaranteed: {_plain(self.below)} "
            f"points below{over} are allowed ({self.known})"
        )


def _plain(value):
    """Return a percentage as text, without what floats add."""
    return f"{round(value, 6):.5g}"


def same_nutrient(key, other):
    """
    Return whether two keys count the same forms, each on its own basis.

    Parameters
    ----------
    key : str
        Nutrient key.
    other : str
        Another.

    Returns
    -------
    bool
        True for P and P2O5, False for N and NO3-N.

    Examples
    --------
    >>> same_nutrient("P", "P2O5"), same_nutrient("N", "NO3-N")
    (True, False)
    """
    return set(nutrient(key).weights) == set(nutrient(other).weights)


def share_as(percent, key, other):
    """
    Return a mass share on the basis of another key of the same nutrient.

    Parameters
    ----------
    percent : float
        Mass share. [%]
    key : str
        Nutrient key on which it stands.
    other : str
        Nutrient key on which it is wanted.

    Returns
    -------
    float
        The share, by molar masses. [%]

    Raises
    ------
    InputError
        If the keys do not count the same.

    Examples
    --------
    >>> round(share_as(4.364, "P", "P2O5"), 2)
    10.0
    """
    if not same_nutrient(key, other):
        raise InputError(f"{key} and {other} do not count the same nutrient")
    one, wanted = nutrient(key), nutrient(other)
    if one.key == wanted.key:
        return percent
    form = next(iter(one.weights))
    weighed = one.weights[form] * one.molar_mass
    return percent / weighed * wanted.weights[form] * wanted.molar_mass


def _checked(key, percent, what):
    """Return key and percent, or raise every fault of them."""
    faults, known, share = Faults(), None, None
    with faults.collecting():
        known = nutrient(key).key
    with faults.collecting(str(key)):
        share = checked_number(percent, what, least=0, most=PERCENT)
    faults.raise_if_any()
    return known, share


def _rule_key(key, keys, rule):
    """Return the key on which a rule is written."""
    for ruled in keys:
        if same_nutrient(key, ruled):
            return ruled
    raise MissingData(f"no allowance is known for {key} in the {rule}")


# --- United States ------------------------------------------------------------------------


def us_allowance(key, guarantee_percent, *, material=None):
    """
    Return how far a nutrient may stay below its guarantee in the United States.

    N, available P2O5 and K2O: a table, interpolated between its rows, the last of which
    holds for 32 % or more [fl-576-061]. Forms of nitrogen: 0.4, at most half of the
    guarantee [fl-576-061]. All others: a constant and a share of the guarantee, at most
    one point of percent [nh-agr-1105]. More than is guaranteed is never minded. A
    guarantee on another basis is held against the rule on the rule's own basis, by molar
    masses.

    Equation of the allowance in the United States [fl-576-061; nh-agr-1105]::

        N, P2O5, K2O: a1 + (a2 − a1) (g − g1)/(g2 − g1)        between two rows of the table
        a form of N: min(0.4, g/2)        others: min(points + share × g, 1)

    Parameters
    ----------
    key : str
        Nutrient key of the guarantee.
    guarantee_percent : float
        What is guaranteed. [%]
    material : str or None
        "triple superphosphate", which has an allowance of its own for P2O5.

    Returns
    -------
    Allowance
        The allowance in points of percent, with rule, edition, source and how it is known.

    Raises
    ------
    MissingData
        If no allowance is known: nutrients that no table names, such as Si.

    Examples
    --------
    >>> us_allowance("N", 10).value, round(us_allowance("K2O", 11).value, 3)
    (0.58, 0.745)
    """
    key, percent = _checked(key, guarantee_percent, "guarantee in %")
    if material is not None and material not in MATERIALS:
        raise InputError(
            f"material {shortened(material)}: give {MATERIALS[0]} or leave it out"
        )
    traces = {row["nutrient"]: row for row in read_table("trace_allowances")}
    rule = "US investigational allowances"
    ruled = _rule_key(key, (*MAIN, *NITROGEN, *traces), rule)
    counted = share_as(percent, key, ruled)
    if ruled in traces:
        found = _trace(counted, traces[ruled])
    elif ruled in NITROGEN:
        found = _nitrogen_form(ruled, counted)
    elif material and ruled == "P2O5":
        row = rule_of("allowance_limits", material)
        found = _words("us page") | {"below": row.number("value"), "note": material}
    else:
        found = _main(ruled, counted)
    return _made(key, percent, ruled, found)


def _words(rule):
    """Return the fields that name a rule."""
    row = rule_of("assay_rules", rule)
    return {
        "rule": row["name"],
        "edition": row["edition"],
        "source_key": row["source_key"],
        "how_known": row["how_known"],
        "above": math.inf,
    }


def _main(key, percent):
    """Return the allowance of N, P2O5 or K2O."""
    last = rule_of("allowance_limits", "last row").number("value")
    points, _ = allowance(key, percent)
    found = _words("us main") | {"below": points, "note": _row_note(percent)}
    if key == "N" or percent <= last:
        return found
    ends = rule_of("allowance_limits", f"{key} ends").number("value")
    if percent <= ends:
        what = (
            f"the association's own table has rows from {last:g} to {ends:g} % that were "
            "not read and may allow more"
        )
        return found | {"other_edition": what}
    doubt = f"above {ends:g} % the association of control officials is to be asked"
    return found | {"doubt": doubt, "sure_below": points}


def _nitrogen_form(key, percent):
    """Return the allowance of a form of nitrogen."""
    points = rule_of("allowance_limits", key).number("value")
    share = rule_of("allowance_limits", "nitrogen form at most").number("value")
    note = f"{points:g} points, at most {share:g} % of the guarantee"
    below = min(points, share / PERCENT * percent)
    return _words("us nitrogen") | {"below": below, "note": note}


def _row_note(percent):
    """Return whether a row stands in the table or was interpolated."""
    rows = [row.number("guarantee") for row in read_table("label_allowances")]
    if percent > rows[-1]:
        return f"the row for {rows[-1]:g} % or more"
    inside = percent > rows[0] and percent not in rows
    return "interpolated between two rows" if inside else "a row of the table"


def _trace(percent, row):
    """Return the allowance of a secondary nutrient or a micronutrient."""
    points, _ = allowance(row["nutrient"], percent)
    known = row["how_known"] == "read"
    note = (
        f"{row['points']} points and {row['share']} % of the guarantee, "
        f"at most {row['most']}"
    )
    found = _words("us trace" if known else "us nickel") | {
        "below": points,
        "note": note,
    }
    if known:
        return found
    return found | {"doubt": "not in the rule that was read", "sure_below": 0.0}


def _made(key, percent, ruled, found):
    """Return the allowance, on the basis of the guarantee."""
    facts = dict(found)
    for name in ("below", "above", "sure_below"):
        facts[name] = share_as(facts.get(name, math.inf), ruled, key)
    if ruled != key:
        facts["note"] += f"; the rule is written for {ruled}"
    facts["sure_below"] = min(facts["sure_below"], facts["below"])
    return Allowance(key, percent, **facts)


# --- European Union -----------------------------------------------------------------------


def eu_tolerance(key, declared_percent, *, form="solid"):
    """
    Return how far a nutrient may be off what is declared in the European Union.

    A share of what is declared, at most so many points of percent, both ways, for
    inorganic fertilisers [eu-2019-1009]. The whole table is known from memory.

    Equation [eu-2019-1009]::

        tolerance = min(share × declared, most points)

    Parameters
    ----------
    key : str
        Nutrient key of the declaration.
    declared_percent : float
        What is declared. [%]
    form : str
        "solid" or "liquid".

    Returns
    -------
    Allowance
        The tolerance in points of percent, with rule, edition, source and how it is known.

    Raises
    ------
    MissingData
        If no tolerance is known: forms of nitrogen, chloride.

    Examples
    --------
    >>> found = eu_tolerance("MgO", 3.0, form="solid")
    >>> found.below, found.above, found.how_known
    (1.5, 3.0, 'memory')
    """
    if form not in PRODUCTS:
        raise InputError(f"form {shortened(form)}: give one of {', '.join(PRODUCTS)}")
    key, percent = _checked(key, declared_percent, "declared in %")
    rows = [r for r in read_table("eu_tolerances") if form in r["product"].split()]
    keys = dict.fromkeys(k for row in rows for k in row["nutrients"].split())
    ruled = _rule_key(key, keys, "tolerances of EU 2019/1009 Annex III")
    counted = share_as(percent, key, ruled)
    lines = [row for row in rows if ruled in row["nutrients"].split()]
    row = next((r for r in lines if counted <= r.number("up_to")), lines[-1])
    found = _words("eu") | {
        "below": _capped(row, "below", counted),
        "above": _capped(row, "above", counted),
        "doubt": row["doubt"],
        "note": f"line: {row['case']}",
    }
    return _made(key, percent, ruled, found)


def _capped(row, side, percent):
    """Return a share of what is declared, at most so many points. [%]"""
    share, points = row.number(f"{side}_share"), row.number(f"{side}_points")
    part = math.inf if share is None else share / PERCENT * percent
    return min(part, math.inf if points is None else points)
