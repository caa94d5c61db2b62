"""Goes through the lines of a water report: headings, rows of a table, lines of words.

What comes out is text still: which quantity a line tells, and which of its cells holds
the value. A line that is not read is kept with the reason, so that no number gets lost.
"""

import re
from dataclasses import dataclass, field, replace

from formulate.errors import Faults, InputError, shortened
from formulate.ingredients.report_cells import cells_in, may_start_value
from formulate.ingredients.report_headings import (
    VALUES,
    heading_in,
    split_cells,
    unit_heading,
)
from formulate.ingredients.report_words import (
    DEGREES,
    Wording,
    kinds_of,
    name_in_report,
    unit_in_report,
    word_meaning,
)
from formulate.stoichiometry.units import CONCENTRATIONS

__all__ = ["Found", "Lines", "add_row", "take_line"]

LEADERS = re.compile(r"(?:[.·•_]\s?){3,}|…+|[-–—]{3,}")
BULLET = re.compile(r"^\s*(?:[-–•*]\s+|\d{1,3}[.)]?\s+(?=[^\W\d]))")
COLUMNS = (*VALUES, "limit", "sample")  # columns of a heading in which numbers stand
NO_UNIT = ("1", "[-]", "(-)", "( - )")
IGNORED, SILENT = "known and not counted", "no measurement"
EMPTY, UNCLEAR = "no value", "not understood"


@dataclass
class Found:
    """
    A line whose quantity is known and whose numbers are still text.

    Attributes
    ----------
    line : int
        Line in the report. [-]
    word : str
        Its name as printed.
    said : Wording
        What the name means.
    cells : dict of str to Cell
        Role of a column to its value.
    own_unit : tuple of (Unit, str) or None
        Unit and species that stand in the line.
    far_unit : tuple of (Unit, str) or None
        Unit and species that a heading tells.
    far_words : str
        Where that heading stands.
    temperature : float or None
        Temperature that stands beside the unit. [°C]
    beside : list of str
        What else stands in the line.
    limit : str
        Limits that stand beside the value.
    """

    line: int
    word: str
    said: Wording
    cells: dict = field(default_factory=dict)
    own_unit: tuple | None = None
    far_unit: tuple | None = None
    far_words: str = ""
    temperature: float | None = None
    beside: list = field(default_factory=list)
    limit: str = ""


@dataclass
class Lines:
    """
    What is known while the lines of a report go by.

    Attributes
    ----------
    faults : Faults
        What cannot be read.
    heading : Heading or None
        The heading of the table that is being read.
    wide_units : list
        Units under the heading of a table that lies on its side.
    samples : int
        Lines of values read under such a heading. [-]
    far_unit : tuple of (Unit, str) or None
        Unit that the last heading told.
    far_words : str
        Where that heading stands.
    commas : bool
        Whether a comma parts cells, so that it marks no decimals.
    found : list of Found
        What was found.
    left_out : list of tuple
        (line, text, reason) of what was not read.
    """

    faults: Faults
    heading: object = None
    wide_units: list = field(default_factory=list)
    samples: int = 0
    far_unit: tuple | None = None
    far_words: str = ""
    commas: bool = False
    found: list = field(default_factory=list)
    left_out: list = field(default_factory=list)

    def leave(self, line, text, why):
        """
        Note a line that is not read, if it holds a number or a quantity.

        Parameters
        ----------
        line : int
            Line in the report. [-]
        text : str
            The line.
        why : str
            The reason.

        Examples
        --------
        >>> lines = Lines(Faults())
        >>> lines.leave(3, "Sample 12", SILENT)
        >>> lines.left_out
        [(3, 'Sample 12', 'no measurement')]
        """
        if why != SILENT or any(c.isdigit() for c in text):
            self.left_out.append((line, text.strip(), why))


def take_line(lines, number, text):
    """
    Read one line: a heading, a row of a table, or words.

    Parameters
    ----------
    lines : Lines
        What is known so far; it is added to.
    number : int
        Number of the line. [-]
    text : str
        The line.

    Examples
    --------
    >>> lines = Lines(Faults())
    >>> take_line(lines, 1, "Calcium (Ca) ....... 94,4 mg/l")
    >>> lines.found[0].cells["value"].number
    '94,4'
    """
    if not any(c.isalnum() for c in text):
        return
    heading = heading_in(text)
    if heading:
        lines.heading, lines.wide_units, lines.samples = heading, [], 0
        lines.commas = lines.commas or heading.delimiter == ","
        lines.leave(number, text, SILENT)
        return
    of_unit = unit_heading(text)
    if of_unit and not name_in_report(text):
        lines.far_unit = (of_unit, "")
        lines.far_words = f"from the heading in line {number}"
        return
    heading = lines.heading
    if heading and heading.delimiter.strip(" ") and heading.delimiter in text:
        _take_row(lines, number, text)
    elif heading and heading.wide and heading.delimiter == "  ":
        _take_wide(lines, number, split_cells(text, "  "))
    else:
        _take_words(lines, number, text)


# --- rows of a table -------------------------------------------------------------------


def _take_row(lines, number, text):
    """Read a row whose cells a delimiter parts."""
    heading = lines.heading
    cells = split_cells(text, heading.delimiter)
    if heading.wide:
        _take_wide(lines, number, cells)
        return
    row = list(zip(heading.roles, heading.titles, heading.units, cells, strict=False))
    word, said = _name_of_row(row)
    filled = any(cell for role, _, _, cell in row if role in (*VALUES, "sample"))
    if said is None or said.quantity == "other":
        why = IGNORED if said else UNCLEAR
        lines.leave(number, text, why if filled else SILENT)
    elif any(cells[len(heading.roles) :]):
        lines.faults.add(
            f"line {number}, {word}: {len(cells)} cells, but the heading has "
            f"{len(heading.roles)}; is it a decimal comma? {heading.delimiter!r} parts cells"
        )
    elif not filled:
        lines.leave(number, text, EMPTY)
    else:
        add_row(lines, number, word, said, row)


def _name_of_row(row):
    """Return the name of a row as printed and what it means."""
    parts = {role: cell for role, _, _, cell in reversed(row)}
    word, symbol = parts.get("parameter", ""), parts.get("symbol", "")
    said = name_in_report(word) or name_in_report(f"{word} ({symbol})")
    said = said or (None if word else name_in_report(symbol))
    basis = parts.get("basis", "").strip("-– ")
    if said and basis:
        said = name_in_report(f"{word} as {basis}") or name_in_report(f"{word} {basis}")
    return " ".join(filter(None, (word, symbol, basis))), said


def add_row(lines, number, word, said, row):
    """
    Note what a row tells, its value cells taken apart.

    Parameters
    ----------
    lines : Lines
        What is known so far; it is added to.
    number : int
        Number of the line. [-]
    word : str
        Its name as printed.
    said : Wording
        What the name means.
    row : list of tuple
        Role, title, unit of the title and text of each cell.

    Examples
    --------
    >>> lines = Lines(Faults())
    >>> row = [("value", "Result", None, "94.4 mg/L")]
    >>> add_row(lines, 2, "Calcium", name_in_report("Calcium"), row)
    >>> lines.found[0].cells["value"].unit.name
    'mg/L'
    """
    found = Found(number, word, said, {}, None, lines.far_unit, lines.far_words)
    sign = ""
    with lines.faults.collecting(f"line {number}, {word}"):
        _no_rivals(row)
        for role, title, measured, text in row:
            if role in (*VALUES, "sample", "also") and text:
                cell = _only_cell(text, said.quantity, found, role)
                _keep(
                    found, "value" if role == "sample" else role, cell, measured, title
                )
            elif role == "unit":
                _read_unit(found, text)
            elif role == "sign":
                sign = text
            elif role not in ("parameter", "symbol", "basis") and text:
                found.beside.append(f"{title}: {text}")
                found.far_unit = found.far_unit or measured
                if role == "limit":
                    found.limit = f"{found.limit} {text}".strip()
        _apply_sign(found, sign)
        lines.found.append(found)


def _no_rivals(row):
    """Raise if several columns look like results."""
    rivals = [title for role, title, _, text in row if role == "sample" and text]
    if len(rivals) > 1:
        names = " and ".join(shortened(title) for title in rivals)
        raise InputError(f"the columns {names} all look like results; keep one of them")


def _keep(found, role, cell, measured, title):
    """Keep the value of a column; its heading may tell the unit."""
    if cell is None:
        return
    if measured and role == "also":
        cell = replace(cell, unit=measured[0], species=measured[1])
    elif measured and role != "range":
        found.far_unit = measured
        found.far_words = f"from the heading {shortened(title)}"
    found.cells.setdefault(role, cell)


def _read_unit(found, text):
    """Read the cell of a unit column."""
    if not text or word_meaning("unmeasured", text) or text in NO_UNIT:
        return
    degrees = DEGREES.search(text)
    bare = DEGREES.sub(" ", text) if degrees and degrees.start() else text
    measured = unit_in_report(bare.strip(" ()"), found.said.quantity)
    if degrees and degrees.start():
        found.temperature = float(degrees.group(1).replace(",", "."))
    if measured is None and (kinds_of(found.said.quantity) or text[0].isdigit()):
        raise InputError(
            f"unit {shortened(text)} is not known; write for instance mg/L"
        )
    found.own_unit = measured


def _only_cell(text, quantity, found, role):
    """Return the one value of a cell; what stands behind it is kept beside."""
    text = "n/a" if text == "NA" else text
    if re.fullmatch(r"\d{1,3}(?: \d{3})+(?:[.,]\d+)?", text):
        text = text.replace(" ", "'")
    cells, rest = cells_in(text, quantity)
    if not cells and role == "range":
        found.beside.append(text)
        return None
    if not cells:
        raise InputError(f"{shortened(text)} is no value; write a number with its unit")
    if len(cells) > 1 and cells[0].sign not in ("nothing", "unmeasured"):
        raise InputError(f"{shortened(text)}: which number is the value? write one")
    found.beside += [cell.printed for cell in cells[1:]]
    if rest:
        found.beside.append(rest)
    return cells[0]


def _apply_sign(found, text):
    """Apply a qualifier column: "<" or "U" (looked for, not found)."""
    mark, cell = text.strip(), found.cells.get("value")
    if not mark:
        return
    below = mark in ("<", "U", "u", "ND") or word_meaning("nothing", mark)
    if below and cell is not None and cell.number:
        printed = f"{mark} {cell.printed}"
        found.cells["value"] = replace(cell, printed=printed, sign="<")
    else:
        found.beside.append(mark)


def _take_wide(lines, number, cells):
    """Read a line of a table that lies on its side: units, or the values of a sample."""
    heading = lines.heading
    measured = [unit_in_report(cell) if cell else None for cell in cells]
    numbers = any(re.match(r"\s*<?\s*\d", cell) for cell in cells)
    if sum(map(bool, measured)) > 1 and not numbers:
        lines.wide_units = measured
        return
    lines.samples += 1
    if lines.samples > 1 or any(cells[len(heading.roles) :]):
        what = "a second sample" if lines.samples > 1 else "more cells than names"
        lines.faults.add(f"line {number}: {what}; keep one line of values")
        return
    units = [*lines.wide_units, *([None] * len(cells))]
    beside = []
    wide = zip(heading.roles, heading.titles, units, cells, strict=False)
    for role, title, of_unit, cell in wide:
        said = name_in_report(title) if role == "quantity" else None
        if said is None or said.quantity == "other":
            beside.append(f"{title}: {cell}")
        elif cell:
            add_row(lines, number, title, said, [("value", title, of_unit, cell)])
    lines.leave(number, "; ".join(beside), SILENT)


# --- lines of words --------------------------------------------------------------------


def _take_words(lines, number, line):
    """Read a line of words: a name, then one or more values."""
    text = _spaced(line)
    starts = [
        m.start() for m in re.finditer(r"\S+", text) if may_start_value(m.group())
    ]
    for start in starts:
        word = " ".join(text[:start].strip(" :=.-–*|").split())
        said = name_in_report(word) if word else None
        if said is None:
            continue
        if said.quantity == "other":
            lines.leave(number, line, IGNORED)
            return
        wide = "  " if text[:start].endswith("  ") else ""
        if _add_words(lines, number, word, said, wide + text[start:]):
            return
    said = name_in_report(text.strip(" :=.-–*"))
    if said:
        lines.leave(number, line, EMPTY if said.unit else SILENT)
        return
    looks = any(_looks_measured(text[start:]) for start in starts)
    lines.leave(number, line, UNCLEAR if looks else SILENT)


def _spaced(line):
    """Return a line with its leaders, delimiters and glued signs parted by blanks."""
    text = LEADERS.sub("  = ", BULLET.sub("", line))
    text = re.sub(r"[\t;|]", "  ", text)
    text = re.sub(r",(?!\d)|(?<!\d),", "  ", text).replace('"', " ")
    text = re.sub(r"[:=](?=[\s<\d])", r" \g<0> ", text)
    return re.sub(r"\)(?=[\d<])", ") ", text)


def _looks_measured(text):
    """Return whether a number with a unit of a concentration begins a text."""
    try:
        cells, _ = cells_in(text)
    except InputError:
        return False
    return any(c.number and c.unit and c.unit.kind in CONCENTRATIONS for c in cells)


def _add_words(lines, number, word, said, text):
    """Note what stands behind a name; return whether it is a value at all."""
    with lines.faults.collecting(f"line {number}, {word}"):
        cells, rest = cells_in(text, said.quantity)
        if not cells or _is_condition(cells[0], said):
            return False
        found = Found(number, word, said, {}, None, lines.far_unit, lines.far_words)
        if rest:
            found.beside.append(rest)
        _place_all(found, cells, lines.heading)
        lines.found.append(found)
    return True


def _is_condition(cell, said):
    """Return whether a number belongs to the name: a temperature of a conductivity."""
    if cell.unit is None or cell.unit.kind != "temperature":
        return False
    return "temperature" not in kinds_of(said.quantity)


def _place_all(found, cells, heading):
    """Put the values of a line where the heading says, or where their units say."""
    told = [cell for cell in cells if cell.sign != "unmeasured"]
    roles = [role for role in heading.roles if role in COLUMNS] if heading else []
    spread = _spread(cells, len(roles))
    if len(told) < 2:
        found.cells["value"] = (told or cells)[0]
    elif roles and spread:
        for role, cell in zip(roles, spread, strict=True):
            _place(found, role, cell)
    elif told[0].sign == "nothing" or all(cell.unit for cell in told[:2]):
        found.cells["value"] = told[0]
        if told[0].sign != "nothing":
            found.cells["also"] = told[1]
        found.beside += [cell.printed for cell in told[1:]]
    elif told[0].unit:
        found.cells["value"] = told[0]
        found.beside += [cell.printed for cell in told[1:]]
    else:
        numbers = ", ".join(cell.printed for cell in told)
        what = f"{len(told)} numbers ({numbers}): which is the value? leave one"
        raise InputError(f"{what}, or write a heading over the columns")


def _spread(cells, wanted):
    """Return as many cells as there are columns, None for an empty one, or nothing."""
    if len(cells) == wanted:
        return cells
    if len(cells) == wanted + 1 and cells[0].sign == "unmeasured":
        return cells[1:]  # the dash stands for no unit
    spread = []
    for cell in cells:
        spread += [None, cell] if cell.gap else [cell]
    return spread if len(spread) == wanted else None


def _place(found, role, cell):
    """Put a value of a line of words into its column."""
    if cell is None or (cell.sign == "unmeasured" and role == "limit"):
        return
    if role == "limit":
        found.beside.append(f"limit: {cell.printed}")
        found.limit = f"{found.limit} {cell.printed}".strip()
    elif role == "sample":
        raise InputError("several columns look like results; keep one of them")
    else:
        found.cells[role] = cell
