"""Reads a laboratory's table as a spreadsheet saves it, and holds it against the guarantees.

One line for each nutrient, or one for each sample under headings that name nutrients. A
value without a place is a fault, told by line and column; what was not read is told.
"""

import re
from dataclasses import dataclass, replace
from pathlib import Path

from formulate.claims.assay import RULES, check_assay
from formulate.claims.assay_cells import (
    Value,
    doubt_of,
    heading_role,
    is_nutrient,
    language_words,
    nutrient_named,
    role_of,
    scale_of,
    unit_apart,
    value_of,
)
from formulate.claims.assay_guarantees import guaranteed_shares, reading_of_text
from formulate.claims.assay_table import (
    Page,
    setting_of,
    settings_of,
    sheet_of,
    table_of,
)
from formulate.claims.assay_values import unguaranteed
from formulate.errors import Faults, InputError, shortened
from formulate.files import read_text
from formulate.ingredients.label_amounts import SAME
from formulate.notices import Notice

__all__ = [
    "AssayFile",
    "AssayLine",
    "assay_kind",
    "check_assay_file",
    "read_assay_file",
]

NO_HEADINGS = "no headings; write a line such as nutrient;guaranteed;found;unit"


@dataclass(frozen=True)
class AssayLine:
    """
    What a laboratory's table says of one nutrient.

    Attributes
    ----------
    where : str
        Line in the file, or heading.
    name : str
        Nutrient key, or part of a nutrient such as "chelated Fe".
    guarantee : float or None
        What is guaranteed; None if the table does not say. [%]
    found : mapping of int to Value
        Sample, counted from 1, to what was found. [%]
    uncertainty : float
        How far each value may be off either way, in points of percent; 0 if not told. [%]
    method : str
        How it was analysed; "" if not told.
    """

    where: str
    name: str
    guarantee: float | None
    found: dict
    uncertainty: float = 0.0
    method: str = ""


@dataclass(frozen=True)
class AssayFile:
    """
    A laboratory's table as read.

    Attributes
    ----------
    name : str
        What to call it.
    lines : tuple of AssayLine
        One for each nutrient, in the order of the file.
    settings : mapping of str to str
        "rule", "form", "basis", "material" where the file tells them.
    said : tuple of Notice
        What was skipped, not read or taken for granted.
    """

    name: str
    lines: tuple
    settings: dict
    said: tuple = ()

    @property
    def guarantees(self):
        """Return nutrient to guarantee, where the file tells one. [%]"""
        told = (line for line in self.lines if line.guarantee is not None)
        return {line.name: line.guarantee for line in told}

    @property
    def uncertainty(self):
        """Return nutrient to uncertainty in points of percent, where told. [%]"""
        return {line.name: line.uncertainty for line in self.lines if line.uncertainty}

    @property
    def methods(self):
        """Return nutrient to method, where told."""
        return {line.name: line.method for line in self.lines if line.method}

    def samples(self, without=()):
        """
        Return what was found, sample by sample.

        Parameters
        ----------
        without : iterable of str
            Names to leave out.

        Returns
        -------
        tuple of dict
            Nutrient to percent, or to text such as "<0.01"; samples without a value are
            left out. [%]

        Examples
        --------
        >>> read_assay_file("nutrient;found 1;found 2\\nZn;0,04;<0,01\\n").samples()
        ({'Zn': 0.04}, {'Zn': '<0.01'})
        """
        made = {}
        for line in self.lines:
            for number, value in line.found.items() if line.name not in without else ():
                told = f"<{value.percent!r}" if value.below else value.percent
                made.setdefault(number, {})[line.name] = told
        return tuple(made[number] for number in sorted(made))


def read_assay_file(path_or_text, *, rule=None, basis=None):
    """
    Return a laboratory's table with every value read.

    Parameters
    ----------
    path_or_text : str or Path
        A CSV file, or its text where that has more than one line.
    rule : str or None
        "us" or "eu", for words that mean an oxide under one of them; None: as the file
        says, else "us".
    basis : str or None
        What a bare word means: "us", "eu" or "element"; None: as the file says, else no
        word may read two ways.

    Returns
    -------
    AssayFile
        Its lines, settings and what was not read.

    Raises
    ------
    InputError
        With every fault by line and column.

    Examples
    --------
    >>> file = read_assay_file("nutrient;guaranteed;found\\nN;10;9,6\\nZn mg/kg;500;480\\n")
    >>> file.guarantees, round(file.samples()[0]["Zn"], 6)
    ({'N': 10.0, 'Zn': 0.05}, 0.048)
    """
    text, name = _text_of(path_or_text)
    table = table_of(text, name)
    if table is None:
        raise InputError(f"{name}: {NO_HEADINGS}")
    page = Page(Faults(name), table.comma)
    settings = settings_of(table, page)
    sheet, told = sheet_of(table, page), basis or settings.get("basis")
    words = (
        told or _basis_of_words(*sheet, page),
        rule or settings.get("rule", RULES[0]),
    )
    lines = _lines(*sheet, words, page)
    if not lines and not page.faults.found:
        page.faults.add("no nutrient with a value or a guarantee")
    page.faults.raise_if_any()
    return AssayFile(name, tuple(lines), settings, page.said())


def check_assay_file(
    path_or_text,
    *,
    label=None,
    rule=None,
    form=None,
    basis=None,
    uncertainty=None,
    material=None,
):
    """
    Hold a laboratory's table against the guarantees that it tells, or those of a label.

    What is given here goes before what the file says.

    Parameters
    ----------
    path_or_text : str or Path
        A CSV file, or its text where that has more than one line.
    label : Ingredient, str, mapping of str to float, or None
        A fertiliser read from its label, the text of one or of guarantees, or nutrient key
        to guarantee; None: the file guarantees. [%]
    rule : str or None
        "us" or "eu"; "us" if nobody tells.
    form : str or None
        "solid" or "liquid"; as the label says, or "solid", if nobody tells.
    basis : str or None
        What a bare word means: "us", "eu" or "element".
    uncertainty : float or mapping of str to float, optional
        How far a value may be off either way, in points of percent. [%]
    material : str or None
        "triple superphosphate", which has a US allowance of its own for P2O5.

    Returns
    -------
    AssayReport
        A finding for each guaranteed nutrient; what was not read stands in its notices.

    Raises
    ------
    InputError
        With every fault, by line and column where it is the file's.

    Examples
    --------
    >>> report = check_assay_file("nutrient;guaranteed;found\\nN;10;9,4\\nZn;0,05;0,039\\n")
    >>> [finding.verdict for finding in report.findings]
    ['wrong', 'wrong']
    """
    file = read_assay_file(path_or_text, rule=rule, basis=basis)
    if isinstance(label, str):
        label = reading_of_text(label, basis)
    told = file.settings
    basis = basis or told.get("basis")
    promised = file.guarantees if label is None else label
    if label is None and not promised:
        raise InputError(
            f"{file.name}: no guarantee; add a column or line called guaranteed, or give "
            "label="
        )
    left = unguaranteed(promised, [line.name for line in file.lines], basis=basis)
    report = check_assay(
        promised,
        file.samples(without=left),
        rule=rule or told.get("rule", RULES[0]),
        form=form or told.get("form") or _form_of(label),
        basis=basis,
        uncertainty=uncertainty if uncertainty is not None else _doubts(file, left),
        material=material or told.get("material"),
    )
    said = (*report.said, *file.said, *_left_notice(left), *_unlike(file, label))
    return replace(report, said=said)


def _text_of(path_or_text):
    """Return the text of a file and what to call it."""
    if isinstance(path_or_text, str) and not path_or_text.strip():
        raise InputError("assay: empty; give a CSV of nutrients and what was found")
    if isinstance(path_or_text, str) and re.search(r"[\r\n]", path_or_text):
        return path_or_text.removeprefix("\ufeff"), "assay"
    if not isinstance(path_or_text, str | Path):
        raise InputError(f"assay: {shortened(path_or_text)}: give a file or its text")
    return read_text(path_or_text), Path(path_or_text).name


def _form_of(label):
    """Return whether a label says that the fertiliser is poured."""
    is_liquid = getattr(getattr(label, "reading", label), "is_liquid", False)
    return "liquid" if is_liquid else "solid"


def _doubts(file, left):
    """Return nutrient to uncertainty, of what is judged; None if none is told."""
    return {k: v for k, v in file.uncertainty.items() if k not in left} or None


def _left_notice(left):
    """Return, in a list, what was found and is guaranteed nowhere."""
    what = f"found and not guaranteed, so not judged: {', '.join(left)}"
    return [Notice(what)] if left else []


def _unlike(file, label):
    """Return, in a list, where the file's guarantees are not those of the label."""
    if label is None:
        return []
    shares = guaranteed_shares(label)
    unlike = [
        f"{key} {told:g} % in the file, {shares[key]:g} % on the label"
        for key, told in file.guarantees.items()
        if key in shares and abs(told - shares[key]) > SAME
    ]
    what = (
        f"the label was taken where the file guarantees otherwise: {'; '.join(unlike)}"
    )
    return [Notice(what, "caution")] if unlike else []


def assay_kind(text):
    """
    Return whether a text is a laboratory's table with guarantees.

    Parameters
    ----------
    text : str
        A text file.

    Returns
    -------
    bool
        True if it has headings of nutrients and something guaranteed, or a rule is named
        above them.

    Examples
    --------
    >>> assay_kind("nutrient,guaranteed,found\\nN,10,9.6\\n")
    True
    >>> assay_kind("parameter;result;unit\\nNa;12;mg/L\\n")
    False
    """
    try:
        table = table_of(text.removeprefix("\ufeff"), "assay")
    except InputError:
        return False
    if table is None:
        return False
    titles = [cells[0] for _, cells in table.rows] if table.across else table.heading
    has_guarantee = any(heading_role(title)[0] == "guaranteed" for title in titles)
    return has_guarantee or any(setting_of(cells) == "rule" for _, cells in table.above)


# --- lines and values ---------------------------------------------------------------------


def _lines(columns, rows, words, page):
    """Return one line for each nutrient, every fault noted."""
    made, seen = [], {}
    place = next(n for n, (role, _) in enumerate(columns) if role == "nutrient")
    for row in rows:
        filled = [cell for cell in row if cell.text and cell is not row[place]]
        name = _name(row[place], filled, words, seen, page)
        if name:
            made.append(_line(name, row[place], columns, row, page))
    kept = [line for line in made if line.found or line.guarantee is not None]
    page.others += [line.name for line in made if line not in kept]
    return kept


def _basis_of_words(columns, rows, page):
    """Return the basis that words of another language speak for, as they do on labels."""
    place = next(n for n, (role, _) in enumerate(columns) if role == "nutrient")
    names = [unit_apart(row[place].text)[0] for row in rows]
    spoken = language_words(names)
    if not spoken:
        return None
    page.foreign += spoken
    return "eu"


def _name(cell, filled, words, seen, page):
    """Return the nutrient of a line; "" where it has none, every fault noted."""
    word, _ = unit_apart(cell.text)
    if role_of(word) == "other":
        page.others.append(word)
        return ""
    if not word or (not filled and not is_nutrient(word)):
        if filled:
            what = "no nutrient; part merged cells, name it in each line"
            page.faults.add(f"{cell.where}: {what}")
        elif word:
            page.skipped.append(f"line {cell.line} {shortened(word)}")
        return ""
    with page.faults.collecting(cell.where):
        name = nutrient_named(word, *words)
        if name in seen:
            raise InputError(f"{name} stands in {seen[name]} already")
        seen[name] = cell.where
        return name
    return ""


def _line(name, word, columns, row, page):
    """Return what a line says of its nutrient."""
    pairs = list(zip(columns, row, strict=True))
    texts = {role: cell for (role, _), cell in pairs if role in ("unit", "method")}
    _, of_word = unit_apart(word.text)
    of_line = of_word or (texts["unit"].text if "unit" in texts else "")
    guarantee, found, doubts, number = None, {}, [], 0
    for (role, of_unit), cell in pairs:
        number += role == "found"
        if role not in ("guaranteed", "found") or _is_absent(cell, page):
            continue
        with page.faults.collecting(cell.where):
            value = value_of(cell.text, _scale(of_unit or of_line), page.comma)
            _note_assumed(name, cell, of_unit or of_line, page)
            if role == "found":
                found[number] = value
            else:
                guarantee = _guarantee(value, cell)
    for (role, of_unit), cell in pairs:
        if role == "uncertainty" and not _is_absent(cell, page):
            with page.faults.collecting(cell.where):
                doubts.append(_doubt(cell.text, of_unit, of_line, found, page))
    doubts += [value.doubt for value in found.values() if value.doubt is not None]
    method = texts["method"].text if "method" in texts else ""
    return AssayLine(
        word.where, name, guarantee, found, max(doubts, default=0.0), method
    )


def _scale(of_unit):
    """Return how many percent one of a unit is; percent where none is told."""
    return scale_of(of_unit) if of_unit else 1.0


def _is_absent(cell, page):
    """Return whether a cell says that there is no value."""
    is_absent = not cell.text or role_of(cell.text) == "none"
    if is_absent and cell.text.strip("-–—"):
        page.absent.append(f"{cell.where} {shortened(cell.text)}")
    return is_absent


def _note_assumed(name, cell, of_unit, page):
    """Note that percent was taken where nothing tells the unit."""
    if not of_unit and not re.search(r"[%/a-z]", cell.text.casefold()):
        page.assumed.append(name)


def _guarantee(value: Value, cell):
    """Return a guarantee, which is one number."""
    if value.below or value.doubt is not None:
        raise InputError(f"{shortened(cell.text)}: a guarantee is one number")
    return value.percent


def _doubt(text, of_unit, of_line, found, page):
    """Return an uncertainty in points of percent."""
    shares = [value.percent for value in found.values()]
    middle = sum(shares) / len(shares) if shares else 0.0
    if of_unit and text[-1:].isdigit():
        text = f"{text} {of_unit}"
    doubt = doubt_of(text, _scale(of_line), middle, page.comma)
    if doubt > middle > 0:
        what = f"more than was found; if it is {text} of the value, write % rel"
        raise InputError(f"{shortened(text)} is {what}")
    return doubt
