"""What kind of paper a text is: label, feed chart, assay, table of a book, water report."""

import csv
import re

from formulate.claims.assay_file import assay_kind
from formulate.claims.assay_table import table_of
from formulate.claims.published_table import table_kind
from formulate.errors import Faults, FormulateError, InputError
from formulate.ingredients.label_text import read_entries

__all__ = ["KINDS", "KIND_WORDS", "paper_kind"]

KINDS = ("label", "chart", "assay", "table", "water")
KIND_WORDS = {
    "label": "a label",
    "chart": "a feed chart",
    "assay": "an assay",
    "table": "a table",
    "water": "a water report",
    "dose": "a dose",
}
WEEKS = r"(weeks?|stages?|phases?|days?|wochen?|semaines?|semanas?|settimane?)\b.*"
PER_LITRE = r"(mg|mmol|µg|meq)\s*(/|per )\s*(l|L)\b"
WATERS = (
    r"alkalin|hardness|conductivity|bicarbonat|hydrogencarbonat|härte|leitfähig"
    r"|säurekapazität|duret|durez|conductivit|conductivid"
)
SHARE = "%"
DELIMITERS = ";\t,"
FEW_LINES = 12  # in which the headings of a chart are looked for


def paper_kind(text):
    """
    Return what a text is.

    Parameters
    ----------
    text : str
        A label, a feed chart, an assay, a table of a book or a water report.

    Returns
    -------
    str
        "label", "chart", "assay", "table" or "water".

    Raises
    ------
    InputError
        If it is none of these.

    Examples
    --------
    >>> paper_kind("Total Nitrogen (N) 46 %\\nDerived from: urea")
    'label'
    >>> paper_kind("week;A g/L;EC mS/cm\\n1;0,5;0,7\\n")
    'chart'
    """
    if not isinstance(text, str) or not text.strip():
        raise InputError("an empty paper; paste a label, a chart, an assay or a table")
    if _is_chart(text):
        return "chart"
    if assay_kind(text):
        return "assay"
    if table_kind(text):
        return "table"
    if _is_water(text):
        return "water"
    if _is_found(text):
        return "assay"
    if _is_label(text):
        return "label"
    raise InputError(
        "neither a label, a feed chart, an assay nor a table was recognised; say which it "
        f"is ({', '.join(KINDS)}), or look at its headings"
    )


def _is_chart(text):
    """Return whether a line begins with a word for weeks and has columns after it."""
    for line in text.splitlines()[:FEW_LINES]:
        for delimiter in DELIMITERS:
            cells = next(csv.reader([line], delimiter=delimiter), [])
            first = cells[0].strip("\ufeff \"'") if cells else ""
            if len(cells) > 1 and re.fullmatch(WEEKS, first, re.IGNORECASE):
                return True
    return False


def _is_water(text):
    """Return whether several words of water reports stand there, or mg/L and no share."""
    per_litre = len(re.findall(PER_LITRE, text))
    words = set(map(str.casefold, re.findall(WATERS, text, re.IGNORECASE)))
    in_water = per_litre > 1 or ("ppm" in text and words)
    return len(words) > 1 or (SHARE not in text and bool(in_water))


def _is_found(text):
    """Return whether it is a laboratory's table that names no guarantee."""
    try:
        table = table_of(text.removeprefix("\ufeff"), "assay")
    except InputError:
        return False
    return table is not None and not table.across


def _is_label(text):
    """Return whether shares stand there, or something guaranteed can be read."""
    if SHARE in text:
        return True  # what is wrong with it is told as of a label
    try:
        return bool(read_entries(text, Faults())[0].entries)
    except FormulateError:
        return False
