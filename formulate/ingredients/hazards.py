"""Hazards of what is handled: GHS statements, dangerous pairs, limits of sale, cautions.

No entry is not harmless: a substance without one is shown as "no data".
"""

from dataclasses import dataclass
from functools import cache

from formulate.checks import checked_number
from formulate.notices import Notice
from formulate.tables import read_table

__all__ = [
    "TOXIC_TRACES",
    "Caution",
    "HazardLabel",
    "Restriction",
    "cautions",
    "dangerous_pairs",
    "hazard_codes",
    "hazard_label",
    "hazard_text",
    "is_meant",
    "restrictions",
]

NONE = "none"
NO_DATA = "no data: treat as hazardous"
NOT_CLASSIFIED = "not classified as hazardous"
LEVELS = ("reported", "restricted")
SIGNALS = ("", "Warning", "Danger")
TOXIC_TRACES = {
    "H340",
    "H350",
    "H350i",
    "H360",
    "H360FD",
    "H360D",
    "H360F",
}  # not for pupils to weigh


@dataclass(frozen=True)
class Caution:
    """
    One sentence of care, to stand where the work is done.

    Attributes
    ----------
    text : str
        What to do or not to do.
    source_key : str
        Where it comes from.
    """

    text: str
    source_key: str

    def __str__(self):
        return self.text


@dataclass(frozen=True)
class HazardLabel:
    """
    What the label of a substance must say of its hazards.

    Attributes
    ----------
    codes : tuple of str
        GHS codes; ("none",) is not classified, () is no data.
    signal_word : str
        "Danger", "Warning" or "".
    pictograms : tuple of str
        The pictograms in words.
    source_key : str
        Where it comes from.
    how_known : str
        "read", "memory", or "" without data; "memory" if any part is.
    """

    codes: tuple = ()
    signal_word: str = ""
    pictograms: tuple = ()
    source_key: str = ""
    how_known: str = ""

    def __str__(self):
        words = ", ".join(self.pictograms)
        head = f"{self.signal_word} ({words}): " if self.signal_word else ""
        tail = " [from memory]" if self.how_known == "memory" else ""
        return head + hazard_text(self.codes) + tail


@dataclass(frozen=True)
class Restriction:
    """
    A place where the sale of a substance is restricted or reported.

    Attributes
    ----------
    substance : str
        Its name.
    place : str
        Where.
    level : str
        "restricted" (not sold to everybody) or "reported" (suspicious sales are).
    above_percent : float
        Mass share above which it holds. [%]
    source_key : str
        Where it comes from.
    how_known : str
        "read" or "memory".
    """

    substance: str
    place: str
    level: str
    above_percent: float
    source_key: str
    how_known: str

    def __str__(self):
        above = f" above {self.above_percent:g} %" if self.above_percent else ""
        tail = " [from memory]" if self.how_known == "memory" else ""
        what = f"{self.substance}{above}: sale {self.level} in some places"
        return f"{what} ({self.place}); ask locally{tail}"


@cache
def _rows_by_cas(table):
    """Return CAS number to its rows in a table."""
    found = {}
    for row in read_table(table):
        found.setdefault(row["cas"], []).append(row)
    return found


def _rows_of(table, cas):
    """Return the rows of a substance; none for what is no CAS number."""
    return _rows_by_cas(table).get(cas, []) if isinstance(cas, str) else []


def _hazard_rows(cas, percent):
    """Return the rows that hold for a strength: in doubt those of the next stronger."""
    rows = _rows_of("hazards", cas)
    if percent is None:
        return rows
    percent = checked_number(percent, "strength in %", above=0, most=100)
    limits = [(r.number("from_percent"), r.number("to_percent"), r) for r in rows]
    fitting = [
        row
        for low, high, row in limits
        if low is None or low <= percent <= (100 if high is None else high)
    ]
    stronger = [low for low, _, _ in limits if low is not None and low > percent]
    if fitting or not stronger:
        return fitting or rows
    return [row for low, _, row in limits if low == min(stronger)]


def hazard_codes(cas, percent=None):
    """
    Return the GHS codes listed for a substance.

    Where several strengths are listed, those of the strength are taken, or of the next
    stronger one listed. Without a strength the codes of all are returned: in doubt the
    stricter.

    Parameters
    ----------
    cas : str
        CAS number.
    percent : float or None
        Mass share of the substance in what is handled. [%]

    Returns
    -------
    tuple of str
        Codes; ("none",) if it is listed as not classified, () if there is no data.

    Examples
    --------
    >>> hazard_codes("7757-79-1"), hazard_codes("57-13-6"), hazard_codes("0-0-0")
    (('H272', 'H319'), ('none',), ())
    >>> hazard_codes("7647-01-0", percent=32)
    ('H290', 'H314', 'H335')
    """
    rows = _hazard_rows(cas, percent)
    return tuple(sorted({code for row in rows for code in row["codes"].split()}))


def hazard_label(cas, percent=None):
    """
    Return signal word, pictograms and statements of a substance.

    Parameters
    ----------
    cas : str
        CAS number.
    percent : float or None
        Mass share of the substance in what is handled. [%]

    Returns
    -------
    HazardLabel
        The label; its codes are () where there is no data.

    Examples
    --------
    >>> print(hazard_label("7757-79-1"))
    Warning (flame over circle, exclamation mark): May intensify fire; oxidizer (H272); \
Causes serious eye irritation (H319)
    >>> print(hazard_label("0-0-0"))
    no data: treat as hazardous
    """
    rows = _hazard_rows(cas, percent)
    if not rows:
        return HazardLabel()
    names = {row["pictogram"]: row["symbol"] for row in read_table("pictograms")}
    shown = sorted({sign for row in rows for sign in row["pictograms"].split()})
    known = {row["how_known"] for row in rows}
    return HazardLabel(
        hazard_codes(cas, percent),
        max((row["signal_word"] for row in rows), key=SIGNALS.index),
        tuple(names[sign] for sign in shown),
        "; ".join(dict.fromkeys(row["source_key"] for row in rows)),
        "memory" if "memory" in known else "read",
    )


@cache
def _texts():
    return {row["code"]: row["text"] for row in read_table("hazard_statements")}


def hazard_text(codes):
    """
    Return GHS codes as words.

    Parameters
    ----------
    codes : iterable of str
        Codes as `hazard_codes` returns them.

    Returns
    -------
    str
        The standard statements, or "no data", or "not classified as hazardous".

    Examples
    --------
    >>> hazard_text(("H319",))
    'Causes serious eye irritation (H319)'
    >>> hazard_text(())
    'no data: treat as hazardous'
    """
    codes = tuple(codes)
    if not codes:
        return NO_DATA
    if codes == (NONE,):
        return NOT_CLASSIFIED
    return "; ".join(
        f"{_texts().get(code, 'statement not listed')} ({code})" for code in codes
    )


def restrictions(cas, percent=None):
    """
    Return where the sale of a substance is restricted or reported.

    Laws differ from place to place and change: an empty answer permits nothing.

    Parameters
    ----------
    cas : str
        CAS number.
    percent : float or None
        Mass share of the substance; every entry is returned if None. [%]

    Returns
    -------
    tuple of Restriction
        The entries of the table that hold, the strictest first.

    Examples
    --------
    >>> print(restrictions("7757-79-1")[0])
    potassium nitrate: sale reported in some places (European Union); ask locally
    >>> {found.level for found in restrictions("7697-37-2", percent=2)}
    {'reported'}
    """
    if percent is not None:
        percent = checked_number(percent, "strength in %", above=0, most=100)
    found = [
        Restriction(
            row["substance"],
            row["place"],
            row["level"],
            row.number("above_percent"),
            row["source_key"],
            row["how_known"],
        )
        for row in _rows_of("restrictions", cas)
    ]
    holding = [r for r in found if percent is None or percent > r.above_percent]
    return tuple(sorted(holding, key=lambda r: LEVELS.index(r.level), reverse=True))


def cautions(ingredients):
    """
    Return the cautions for handling some ingredients.

    Parameters
    ----------
    ingredients : iterable of Ingredient
        What is weighed or poured.

    Returns
    -------
    tuple of Caution
        The cautions that always hold, then those for acids, alkalis, oxidisers and toxic
        traces among the ingredients.

    Examples
    --------
    >>> any("eye protection" in caution.text for caution in cautions([]))
    True
    """
    ingredients = tuple(ingredients)
    codes = {code for ingredient in ingredients for code in ingredient.hazards}
    uses = {ingredient.role for ingredient in ingredients}
    holds = {
        "always": True,
        "acid": "acid" in uses,
        "alkali": "alkali" in uses,
        "oxidiser": bool(codes & {"H271", "H272"}),
        "toxic trace": bool(codes & TOXIC_TRACES),
    }
    rows = [row for row in read_table("cautions") if holds[row["applies_when"]]]
    return tuple(Caution(row["text"], row["source_key"]) for row in rows)


def is_meant(ingredient, terms):
    """
    Return whether every term of a rule fits an ingredient.

    Parameters
    ----------
    ingredient : Ingredient
        The ingredient.
    terms : str
        Terms such as "role:acid", "form:a|b", "code:H272" or "!form:a"; none fit all.

    Returns
    -------
    bool
        Whether they fit.

    Examples
    --------
    >>> from formulate.ingredients.ingredient import from_formula
    >>> is_meant(from_formula("KNO3"), "form:nitrate !form:calcium")
    True
    """
    has = {
        "role": {ingredient.role},
        "form": {key for key, amount in ingredient.forms.items() if amount},
        "code": set(ingredient.hazards),
    }
    for term in terms.split():
        kind, _, names = term.removeprefix("!").partition(":")
        if bool(has[kind] & set(names.split("|"))) is term.startswith("!"):
            return False
    return True


def _names_in(ingredients, row):
    """Return the names that a rule is about, on each side; none where it does not hold."""
    first = [i for i in ingredients if is_meant(i, row["first"])]
    if not row["second"]:
        return [i.name for i in first], []
    second = [i for i in ingredients if is_meant(i, row["second"])]
    left = [i.name for i in first if any(j is not i for j in second)]
    right = [j.name for j in second if any(i is not j for i in first)]
    return left, right


def dangerous_pairs(ingredients):
    """
    Return what must not meet among some ingredients, and what none of them may meet.

    The rules are about what stands on the bench and in concentrates, not about a finished
    solution. A pair is told only if both stand there; what is never kept among the
    ingredients (bleach, fuel, metals) is told of each that must not meet it.

    Parameters
    ----------
    ingredients : iterable of Ingredient
        What stands on the bench.

    Returns
    -------
    tuple of Notice
        "serious": dangerous together; "caution": never with what is named, or falls out of
        concentrates; "note": dissolves less together. The most serious first.

    Examples
    --------
    >>> dangerous_pairs([])
    ()
    """
    ingredients = tuple(ingredients)
    found = []
    for row in read_table("dangerous_pairs"):
        first, second = _names_in(ingredients, row)
        if not first:
            continue
        names = ", ".join(dict.fromkeys(first))
        if second:
            names = f"{names} with {', '.join(dict.fromkeys(second))}"
        found.append(
            Notice(
                f"{names}: {row['text']}", row["severity"], source_key=row["source_key"]
            )
        )
    worst = ("serious", "caution", "note")
    return tuple(sorted(found, key=lambda notice: worst.index(notice.severity)))
