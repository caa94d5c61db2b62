"""What the columns of a table of salts hold, and which material each row names."""

import re
from dataclasses import dataclass

from formulate.claims.finding import Finding
from formulate.claims.printed_numbers import PrintedNumber, is_untold, printed_number
from formulate.claims.table_reading import TableColumn, cell_number
from formulate.claims.table_slips import is_same_salt
from formulate.errors import (
    AmbiguousName,
    FormulateError,
    InputError,
    shortened,
)
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.label_words import known_word
from formulate.ingredients.salts import as_ingredient, catalogue
from formulate.stoichiometry.nutrients import nutrient

__all__ = [
    "FORMULAS",
    "HYDRATES",
    "MOLAR_MASS",
    "NAMES",
    "SaltCell",
    "SaltRow",
    "row_material",
    "salt_columns",
    "salt_row",
]

MOLAR_MASS = "molar mass"
GRADE = ("N", "P2O5", "K2O")
NAMES = (
    r"(common |chemical |fertili[sz]er |trade )*"
    r"(salts?|materials?|fertili[sz]ers?|compounds?|products?|chemicals?|substances?|sources?"
    r"|carriers?|names?|reagents?|ingredients?|salze?|stoffe?|dünger|sels?|engrais|sal|sales"
    r"|abonos?|fertilizantes?|sali)( names?| materials?| salts?| sources?)*"
)
FORMULAS = (
    r"(chemical |molecular )?(formulas?|formulae|composition|formel|formule|fórmula)"
)
MASSES = r"((molar|molecular|formula|mol\.?)[ _-]*(mass|weight|wt\.?)|m\.?w\.?|fw|molmasse|m)\b.*"
HYDRATES = r"hydrates?|crystal water|water of crystalli[sz]ation|waters?|n ?H2O|H2O"
GRADES = r".*\b(grade|analysis)\b.*|n\s*[-–:]\s*p(2o5)?\s*[-–:]\s*k(2o)?\b.*|npk"
OTHERS = r"others?( nutrients?| elements?| percent| %)*"
ELEMENTS = r"(elements?|nutrients?)"
VALUES = (
    r"(percent|%|content|share|percentage|content,? (in )?%|amount,? %)( of element)?"
)
UNIT_WORDS = {
    "%",
    "percent",
    "pct",
    "w/w",
    "m/m",
    "mass",
    "weight",
    "wt",
    "by",
    "content",
}
UNIT_WORDS |= {
    "share",
    "in",
    "g/kg",
    "mg/kg",
    "ppm",
    "%w/w",
    "wt%",
    "percentage",
    "wt.%",
}
SCALES = (("g/kg", 0.1), ("mg/kg", 1e-4), ("ppm", 1e-4))
COUNTS = (
    "anhydr",
    "hemihydr",
    "monohydr",
    "dihydr",
    "trihydr",
    "tetrahydr",
    "pentahydr",
)
COUNTS += ("hexahydr", "heptahydr", "octahydr", "nonahydr", "decahydr")
WATERS = (0, 0.5, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10)
NAMED_SHARE = r"((?:\d+[.,]?\d*)(?:\s*[-–]\s*\d+[.,]?\d*)?)\s*%?\s*([A-Z][A-Za-z0-9]*)"
ONE_GRADE = r"([\d.,]+)\s*[-–:]\s*([\d.,]+)\s*[-–:]\s*([\d.,]+)(?:\s*[+\s,;(-]\s*(.*))?"


@dataclass(frozen=True)
class SaltCell:
    """
    One printed number of a salt.

    Attributes
    ----------
    place : str
        Column, as findings tell it.
    key : str
        Nutrient key, or "molar mass".
    number : PrintedNumber
        The number.
    scale : float
        What makes it a mass share in percent. [-]
    """

    place: str
    key: str
    number: PrintedNumber
    scale: float = 1.0


@dataclass(frozen=True, eq=False)
class SaltRow:
    """
    One row of a table of salts.

    Attributes
    ----------
    line : int
        Line in the file. [-]
    name : str
        The material as the table names it.
    cells : tuple of SaltCell
        Its numbers.
    readings : tuple of Ingredient
        What the name may mean; none if it is not known.
    told : tuple of Finding
        What the name and the formula tell by themselves.
    purity : PrintedNumber or None
        Purity as printed. [%]
    """

    line: int
    name: str
    cells: tuple[SaltCell, ...]
    readings: tuple[Ingredient, ...]
    told: tuple[Finding, ...] = ()
    purity: PrintedNumber | None = None


# --- headings ----------------------------------------------------------------------------


def salt_columns(cells, rule=None):
    """
    Return what headings of a table of salts say, or None if they are none.

    Parameters
    ----------
    cells : sequence of str
        Cells of a line.
    rule : str or None
        "us" or "eu": how bare words such as "phosphate" are read.

    Returns
    -------
    list of TableColumn or None
        One for each cell.

    Examples
    --------
    >>> [c.role for c in salt_columns(["Salt", "Formula", "N (%)", "price"])]
    ['name', 'formula', 'nutrient', 'left out']
    >>> salt_columns(["KNO3", "13.9"]) is None
    True
    """
    if any(re.fullmatch(r"[\d.,]+\s*%?", cell) for cell in cells):
        return None
    found = [_column(cell, rule) for cell in cells]
    roles = [column.role for column in found]
    counted = {"nutrient", "grade", "molar mass", "other"} & set(roles)
    if not counted and not {"element", "value"} <= set(roles):
        return None
    if not {"name", "formula"} & set(roles):
        if roles[0] not in ("left out", "no heading") or len(cells) < 2:
            return None
        found[0] = TableColumn(cells[0], "name", "assumed")
    return _once(found)


def _once(found):
    """Return the columns with a second column of one meaning left out."""
    seen, kept = set(), []
    for column in found:
        alone = column.role in ("name", "formula", "hydrate", "molar mass", "purity")
        again = alone and column.role in seen
        kept.append(TableColumn(column.heading, "left out") if again else column)
        seen.add(column.role)
    return kept


def _column(heading, rule):
    """Return what one heading says."""
    if not heading:
        return TableColumn(heading, "no heading")
    plain = (
        re.sub(r"[\[(]?\bg\s*(/|per )\s*mol[\])]?", "", heading)
        .replace("_", " ")
        .strip(" ,")
    )
    words = {
        "formula": FORMULAS,
        "molar mass": MASSES,
        "grade": GRADES,
        "other": OTHERS,
        "element": ELEMENTS,
        "value": VALUES,
        "hydrate": HYDRATES,
        "purity": r"purity.*",
        "name": NAMES,
    }
    for role, pattern in words.items():
        if re.fullmatch(pattern, plain, re.I):
            key = MOLAR_MASS if role == "molar mass" else ""
            return TableColumn(heading, role, key)
    key = _nutrient_key(heading, rule)
    scale = next((s for unit, s in SCALES if unit in heading.replace(" ", "")), 1.0)
    return TableColumn(
        heading, "nutrient" if key else "left out", key, scale if key else 1.0
    )


def _nutrient_key(heading, rule):
    """Return the nutrient key that a heading names, or ""."""
    inside = re.findall(r"(?:^|\s)[\[(]([^\[\]()]+)[\])]", heading)
    outside = re.sub(r"[\[(][^\[\]()]+[\])]", " ", heading)
    bare, inner = _without_units(outside), [_without_units(each) for each in inside]
    inner = [each for each in inner if each]
    tries = [f"{bare}-{each}" for each in inner if bare] + inner + [bare]
    for text in filter(None, tries):
        key = _known_key(text, rule)
        if key:
            return key
    return ""


def _without_units(text):
    plain = re.sub(r"%", " % ", text)
    words = [w for w in re.split(r"[\s,;:]+", plain) if w.casefold() not in UNIT_WORDS]
    return " ".join(words).strip(" -–,.")


def _known_key(text, rule):
    """Return the nutrient key of a word, or ""."""
    word = known_word(text) if rule else None
    if word and word.keys.get(rule):
        return word.keys[rule]
    try:
        return nutrient(text).key
    except FormulateError:
        word = known_word(text)
        keys = word.keys.get(rule or "us") if word else None
    try:
        return nutrient(keys).key if keys else ""
    except FormulateError:
        return ""


# --- rows --------------------------------------------------------------------------------


def salt_row(table, line, faults):
    """
    Return a row of a table of salts, its material looked up.

    Parameters
    ----------
    table : PublishedTable
        The table.
    line : PublishedLine
        The row.
    faults : Faults
        Where faults are noted by line and column.

    Returns
    -------
    SaltRow
        The row.

    Examples
    --------
    >>> from formulate.claims.table_reading import read_published
    >>> from formulate.errors import Faults
    >>> table = read_published("salt;grade\\nKNO3;13-0-46\\n", salt_columns)
    >>> [(c.key, c.number.value) for c in salt_row(table, table.lines[0], Faults()).cells]
    [('N', 13.0), ('P2O5', 0.0), ('K2O', 46.0)]
    """
    texts = dict.fromkeys(("name", "formula", "hydrate"), "")
    for column, cell in table.cells_of(line, *texts):
        texts[column.role] = "" if is_untold(cell) else cell
    cells = tuple(_cells(table, line, faults))
    name = texts["name"] or texts["formula"]
    if not name and cells:
        what = "numbers without a material; part merged cells, name it in each line"
        faults.add(f"line {line.number}, column 1: {what}")
    readings, told = row_material(texts, line.number) if name else ((), ())
    purity = [
        cell_number(c, t, line, faults) for c, t in table.cells_of(line, "purity")
    ]
    return SaltRow(line.number, name, cells, readings, told, next(iter(purity), None))


def _cells(table, line, faults):
    """Yield the numbers of a row."""
    pairs = table.cells_of(line, "nutrient", "molar mass")
    for column, cell in pairs:
        number = cell_number(column, cell, line, faults)
        if number:
            yield SaltCell(column.heading, column.key, number, column.scale)
    for column, cell in table.cells_of(line, "grade", "other"):
        if not is_untold(cell):
            with faults.collecting(
                f"line {line.number}, column {shortened(column.heading)}"
            ):
                yield from _grade(cell, column)
    yield from _long(table, line, faults)


def _grade(text, column):
    """Return the numbers of a grade such as 13-0-46, or of "22.7 P 28.7 K"."""
    found, rest = [], text
    grade = re.fullmatch(ONE_GRADE, text) if column.role == "grade" else None
    if column.role == "grade" and not grade:
        raise InputError(f"{shortened(text)} is no grade; write it like 13-0-46")
    if grade:
        *shares, rest = grade.groups()
        pairs = zip(GRADE, shares, strict=True)
        found = [SaltCell(f"{k} of {text}", k, printed_number(s)) for k, s in pairs]
    named = re.findall(NAMED_SHARE, rest or "")
    left = re.sub(NAMED_SHARE, "", rest or "").strip(" ,;+()%-")
    if left or (rest and not named):
        raise InputError(f"{shortened(rest)}: write it like 22.7 P 28.7 K")
    for share, key in named:
        found.append(
            SaltCell(f"{share} {key}", nutrient(key).key, printed_number(share))
        )
    return found


def _long(table, line, faults):
    """Yield the number of a row that names its element in a cell."""
    elements = table.cells_of(line, "element")
    for column, cell in table.cells_of(line, "value"):
        number = cell_number(column, cell, line, faults)
        if not number or not elements:
            continue
        element, text = elements[0]
        with faults.collecting(
            f"line {line.number}, column {shortened(element.heading)}"
        ):
            yield SaltCell(text, nutrient(text).key, number)


# --- materials ---------------------------------------------------------------------------


def row_material(texts, line):
    """
    Return what a row's name and formula may mean, and what they tell by themselves.

    Parameters
    ----------
    texts : mapping of str to str
        Cells called "name", "formula" and "hydrate"; empty where not told.
    line : int
        Line in the file. [-]

    Returns
    -------
    readings : tuple of Ingredient
        What the row may mean; none if it is not known.
    told : tuple of Finding
        That name and formula differ, or that neither is known.

    Examples
    --------
    >>> texts = {"name": "Epsom salt", "formula": "MgSO4", "hydrate": "7"}
    >>> [made.name for made in row_material(texts, 3)[0]]
    ['magnesium sulfate heptahydrate']
    """
    name, formula = texts["name"], texts["formula"]
    by_name = _readings_of_name(name)
    by_formula = _readings_of_formula(formula, texts["hydrate"], name)
    subject, rule = f"line {line}, {name or formula}", "name and formula of a row"
    if by_name and by_formula:
        return _agreed(by_name, by_formula, subject, rule)
    found = by_formula or by_name
    if found:
        return found, ()
    what = f"{shortened(name or formula)} is not known, so its numbers are not checked;"
    what += " write its formula, crystal water included"
    return (), (Finding(subject, "cannot tell", what, severity="caution", rule=rule),)


def _agreed(by_name, by_formula, subject, rule):
    """Return what name and formula both mean, or that they differ."""
    (made,) = by_formula
    same = [each for each in by_name if is_same_salt(each, made)]
    alike = [e for e in same if e.is_liquid or _has_same_water(e, made)]
    if alike and "100 %" in subject:
        return by_formula, ()
    if alike:
        is_left_open = len(alike) > 1 and all(each.is_liquid for each in alike)
        return (made, *alike) if is_left_open else tuple(alike), ()
    if not same and not all(each.formula for each in by_name):
        return by_formula, ()  # known by an analysis; the formula says more
    names = " or ".join(each.name for each in by_name)
    if same:
        what = f"the name means {names} and the formula is {made.formula}: they differ in water"
    else:
        what = f"the name means {names}, and {made.formula} is another compound"
    told = Finding(subject, "wrong", what, severity="caution", rule=rule)
    return (made, *by_name), (told,)


def _has_same_water(one, other):
    first, second = (
        each.crystal_water / sum(each.forms.values()) for each in (one, other)
    )
    return abs(first - second) < 1e-6


def _readings_of_formula(formula, hydrate, name):
    """Return the material of a formula with the crystal water of another column."""
    bracketed = re.fullmatch(r".*[(\[]([^\s]*[A-Z][^\s]*)[)\]]", name)
    text = formula or (bracketed[1] if bracketed and not _known(name) else "")
    if not text and not hydrate:
        return ()
    water = _waters(hydrate)
    base = text or next((e.formula for e in _readings_of_name(name)), "")
    if water is not None and base:
        base = re.sub(r"\s*[·.•*]\s*\d*\.?\d*\s*H2O$", "", base)
        base += f"·{water:g}H2O" if water else ""
    found = _known(base) if base else ()
    return found if len(found) == 1 and found[0].formula else ()


def _waters(text):
    """Return the count of crystal water that a cell tells, or None."""
    number = re.match(r"(\d+(?:[.,]5)?)", text)
    if number:
        return float(number[1].replace(",", "."))
    folded = text.casefold()
    found = [n for w, n in zip(COUNTS, WATERS, strict=True) if folded.startswith(w)]
    return found[0] if found else None


def _readings_of_name(name):
    """Return what a name may mean: as it is, then without what stands around it."""
    plain = re.sub(r"[*†‡§¹²³]+$", "", name).strip()
    outside = re.sub(r"\s*[(\[][^()\[\]]*[)\]]", "", plain).strip()
    fewer = re.sub(r"\b(chelate|pure|technical|soluble)\b", "", outside, flags=re.I)
    for text in dict.fromkeys((plain, outside, fewer.strip(" ,"))):
        found = _known(text) if text else ()
        if found:
            return found
    return ()


def _known(text):
    """Return the materials that a text may mean; none if it is not known."""
    try:
        return (as_ingredient(text),)
    except AmbiguousName as error:
        return tuple(
            catalogue()[each] for each in error.readings if each in catalogue()
        )
    except FormulateError:
        return ()
