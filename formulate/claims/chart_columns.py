"""The headings of a chart: products with the unit of a dose, claims, and notes.

Nothing is guessed: a heading that is neither is a fault. Only a column whose cells are all
words is taken for a note, and that is told.
"""

import contextlib
import re
from dataclasses import dataclass

from formulate.claims.chart_products import asked_back, product_of, unknown_product
from formulate.claims.claim_reading import READINGS, read_claims
from formulate.claims.dose_measures import read_dose
from formulate.errors import Faults, FormulateError, InputError, shortened
from formulate.ingredients.ingredient import Ingredient
from formulate.stoichiometry.nutrients import nutrient

__all__ = [
    "ChartColumn",
    "chart_columns",
    "column_of",
    "dosed_cells",
    "measured_dose",
    "note_columns",
    "recognised",
]

NOTES = (
    *(
        "note",
        "notes",
        "remark",
        "remarks",
        "comment",
        "comments",
        "notiz",
        "bemerkung",
    ),
    *("stage", "stages", "phase", "period", "growth stage", "stadium", "date", "datum"),
    *("day", "days", "tag", "tage", "hour", "hours", "light hours", "hours of light"),
    *("light", "photoperiod", "stunden", "lichtstunden"),
)
BRACKETED = r"(.*\S)\s*[(\[]([^()\[\]]+)[)\]]"
ON_SCALE = r"(?:TDS)?[\s,]*\(?ppm\)?\s*[(\[]?\s*(500|640|700)(?:\s*scale)?\s*[)\]]?"
NO_PRODUCT = Ingredient("product", {}, dissolved=True)


@dataclass(frozen=True)
class ChartColumn:
    """
    What a column of a chart holds.

    Attributes
    ----------
    heading : str
        Its heading as written.
    kind : str
        "product", "claim" or "note".
    name : str
        The product, or the subject of the claim.
    unit : str
        Unit of bare numbers; empty if the heading says none.
    """

    heading: str
    kind: str
    name: str
    unit: str = ""


def recognised(cells, known):
    """
    Return how many cells of a line after the first are headings.

    Parameters
    ----------
    cells : sequence of str
        Cells of a line.
    known : mapping of str to Ingredient
        The products.

    Returns
    -------
    int
        How many; 0 if none is of a product. [-]

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> recognised(["week", "A g/L", "N ppm"], {"A": as_ingredient("KNO3")})
    2
    """
    found = []
    headings = (
        c for c in cells[1:] if re.search("[^\\W\\d]", c) or product_of(c, known)
    )
    for cell in headings:  # what has no letter and is no product is a number
        with contextlib.suppress(FormulateError):
            found.append(column_of(cell, known).kind)
    return len(found) if "product" in found else 0


def chart_columns(heading, number, known, notes, faults):
    """
    Return what each column after the first holds.

    Parameters
    ----------
    heading : sequence of str
        The line of headings.
    number : int
        Its line in the file. [-]
    known : mapping of str to Ingredient
        The products.
    notes : sequence of str
        Headings of columns whose cells are words.
    faults : Faults
        Where faults go.

    Returns
    -------
    list of ChartColumn or None
        One for each; None for one without heading.

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> known = {"A": as_ingredient("KNO3")}
    >>> [one.kind for one in chart_columns(["week", "A g/L", "N"], 1, known, (), Faults())]
    ['product', 'claim']
    """
    found = []
    for cell in heading[1:]:
        column = None
        with faults.collecting(f"line {number}, column {shortened(cell)}"):
            column = column_of(cell, known, notes) if cell else None
            names = [_own(one) for one in found if one and one.kind != "note"]
            if column and column.kind != "note" and _own(column) in names:
                raise InputError(f"{column.name} has a column already")
        found.append(column)
    if not any(one and one.kind == "product" for one in found) and not faults.found:
        faults.add(f"line {number}: no column of a product: {', '.join(known)}")
    return found


def _own(column):
    """Return what no other column may have: a scale of TDS has a column of its own."""
    return column.name, column.unit if column.name == "TDS" else ""


def note_columns(heading, lines, known):
    """
    Return the headings of columns that are notes: by their name, or all their cells words.

    Parameters
    ----------
    heading : sequence of str
        The line of headings.
    lines : sequence of sequence of str
        The cells of the weeks.
    known : mapping of str to Ingredient
        The products.

    Returns
    -------
    tuple of str
        The headings.

    Examples
    --------
    >>> note_columns(["week", "stage", "mood"], [["1", "veg", "calm"]], {})
    ('stage', 'mood')
    """
    found = []
    for place, cell in enumerate(heading[1:], 1):
        if not cell or product_of(cell, known):
            continue
        cells = [line[place] for line in lines if place < len(line) and line[place]]
        if cell.casefold() in NOTES or (_are_words(cells) and not _is_dosed(cell)):
            with contextlib.suppress(FormulateError):
                if column_of(cell, known).kind == "claim":
                    continue
            found.append(cell)
    return tuple(found)


def _are_words(cells):
    """Return whether cells are words without any digit, one at least."""
    return bool(cells) and all(re.fullmatch(r"[^\W\d][^\d]*", cell) for cell in cells)


def _is_dosed(cell):
    """Return whether a heading ends in the unit of a dose, as that of a product does."""
    words = cell.split()
    for count in range(1, len(words)):
        with contextlib.suppress(FormulateError):
            measured_dose(f"1 {' '.join(words[count:]).strip('()[]')}", NO_PRODUCT)
            return True
    return False


def dosed_cells(cells):
    """
    Return how many cells of a line after the first end in the unit of a dose.

    Parameters
    ----------
    cells : sequence of str
        Cells of a line.

    Returns
    -------
    int
        How many: it may be the line of headings though no product of it is known. [-]

    Examples
    --------
    >>> dosed_cells(["week", "Wonder mL/L"]), dosed_cells(["Spring", ""])
    (1, 0)
    """
    return sum(_is_dosed(cell) for cell in cells[1:])


def column_of(cell, known, notes=()):
    """
    Return what a heading says.

    Parameters
    ----------
    cell : str
        The heading.
    known : mapping of str to Ingredient
        The products.
    notes : sequence of str
        Headings of columns whose cells are words.

    Returns
    -------
    ChartColumn
        The column.

    Raises
    ------
    InputError
        If it is neither a product with a unit, nor a claim, nor a note.

    Examples
    --------
    >>> column_of("TDS ppm (700)", {}).unit
    'ppm (700 scale)'
    """
    if cell.casefold() in NOTES or cell in notes:
        return ChartColumn(cell, "note", cell)
    scaled = re.fullmatch(ON_SCALE, cell, re.IGNORECASE)
    if scaled:
        return ChartColumn(cell, "claim", "TDS", f"ppm ({scaled[1]} scale)")
    if re.fullmatch(r"(?:TDS\s*)?\(?ppm\)?", cell, re.IGNORECASE):
        what = "of which nutrient, or on which scale; write N ppm, or ppm (500)"
        raise InputError(f"{shortened(cell)}: {what}")
    bracketed = re.fullmatch(BRACKETED, cell)
    name = product_of(cell, known)
    if name:
        of_unit = cell[len(name) :].strip(" ,:;-–_").removeprefix("in ")
        of_unit = re.sub(r"^[(\[](.*)[)\]]$", r"\1", of_unit)
        return _product_column(cell, name, of_unit.strip(), known)
    name = bracketed[1] if bracketed else cell
    first, rest = re.fullmatch(r"([^\s(\[]*)\s*(.*)", cell).groups()
    of_unit = re.sub(r"^[(\[](.*)[)\]]$", r"\1", rest)
    return _claim_column(cell, first.strip(",:"), of_unit, name, known)


def _product_column(cell, name, of_unit, known):
    """Return the column of a product if its unit can be read."""
    if of_unit:
        measured_dose(f"1 {of_unit}", known[name])
    return ChartColumn(cell, "product", name, of_unit)


def _claim_column(cell, subject, of_unit, name, known):
    """Return the column of a claim; what is neither claim nor product is refused."""
    if subject.casefold() == "ph":
        return ChartColumn(cell, "claim", "pH")
    try:
        if subject.upper() not in READINGS:
            nutrient(subject)
    except FormulateError:
        raise InputError(unknown_product(name, known)) from None
    faults = Faults()
    read_claims({subject: f"1 {of_unit}" if of_unit else "1"}, faults)
    if faults.found and asked_back(name):
        raise InputError(asked_back(name))
    faults.raise_if_any()
    return ChartColumn(cell, "claim", subject, of_unit)


def measured_dose(text, ingredient):
    """
    Return a dose that says in how much water.

    Parameters
    ----------
    text : str
        The dose.
    ingredient : Ingredient
        The product.

    Returns
    -------
    MeasuredDose
        The dose.

    Raises
    ------
    InputError
        If it cannot be read, or does not say in how much water.

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> measured_dose("2 g/L", as_ingredient("KNO3")).amount
    '2.0 g/L'
    """
    try:
        return read_dose(text, ingredient)
    except FormulateError:
        read_dose(text, ingredient, volume=1.0)  # raises again unless that is all
    what = "does not say in how much water; write it like g/L"
    raise InputError(f"{shortened(text)} {what}")
