"""Reads the rows of a table in a water report: which cell holds the value, the unit, a limit.

What comes out is text still, cell by cell; a row that is not read is kept with the reason.
"""

import re
from dataclasses import dataclass, field, replace

from formulate.errors import Faults, InputError, shortened
from formulate.ingredients.report_cells import cells_in
from formulate.ingredients.report_headings import VALUES, split_cells
from formulate.ingredients.report_units import kinds_of, unit_in_report, word_meaning
from formulate.ingredients.report_words import DEGREES, Wording, name_in_report
from formulate.stoichiometry.units import CONCENTRATIONS

__all__ = ["Found", "Lines", "add_row", "take_row", "take_wide"]

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
    unit_text : str
        The cell of a unit column, as printed.
    far_unit : tuple of (Unit, str) or None
        Unit and species that a heading tells.
    far_words : str
        Where that heading stands.
    temperature : float or None
        Temperature that stands beside the unit. [°C]
    notes : list of str
        What was assumed to find it.
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
    unit_text: str = ""
    far_unit: tuple | None = None
    far_words: str = ""
    temperature: float | None = None
    notes: list = field(default_factory=list)
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


def take_row(lines, number, text, cells=None):
    """
    Read a row whose cells a delimiter parts.

    Parameters
    ----------
    lines : Lines
        What is known so far; it is added to.
    number : int
        Number of the line. [-]
    text : str
        The line.
    cells : list of str or None
        Its cells, where no delimiter parts them.

    Examples
    --------
    >>> from formulate.ingredients.report_headings import heading_in
    >>> lines = Lines(Faults(), heading_in("Parameter;Einheit;Messwert"))
    >>> take_row(lines, 2, "Calcium;mg/l;94,4")
    >>> lines.found[0].own_unit[0].name
    'mg/L'
    """
    heading = lines.heading
    cells = split_cells(text, heading.delimiter) if cells is None else cells
    if heading.wide:
        take_wide(lines, number, cells)
        return
    row = list(zip(heading.roles, heading.titles, heading.units, cells, strict=False))
    word, said = _name_of_row(row)
    filled = any(
        cell for role, _, _, cell in row if role in (*VALUES, "sample", "also")
    )
    if not word and _new_units(lines, number, cells):
        return
    if said is None or said.quantity == "other":
        why = IGNORED if said else UNCLEAR if _is_measured(row) else SILENT
        lines.leave(number, text, why if filled else SILENT)
    elif any(cells[len(heading.roles) :]):
        lines.faults.add(
            f"line {number}, {word}: {len(cells)} cells, but the heading has "
            f"{len(heading.roles)}; is it a decimal comma? {heading.delimiter!r} parts cells"
        )
    elif not filled:
        lines.leave(number, text, EMPTY if any(cells[1:]) else SILENT)
    else:
        shifted = _shifted(row, said)
        add_row(lines, number, word, said, shifted)
        if shifted is not row and lines.found and lines.found[-1].line == number:
            lines.found[-1].notes.append(
                "the empty unit cell had fallen out of the row"
            )


def _new_units(lines, number, cells):
    """Take the units of a row that holds nothing else for the rows below it."""
    told = [unit_in_report(cell) if cell else None for cell in cells]
    if not any(told) or sum(map(bool, told)) != sum(map(bool, cells)):
        return False
    heading, units, titles = lines.heading, [], []
    told += [None] * (len(heading.roles) - len(told))
    for old, title, new, cell in zip(
        heading.units, heading.titles, told, [*cells, *heading.titles], strict=False
    ):
        units.append(new or old)
        titles.append(cell if new else title)
    lines.heading = replace(heading, units=tuple(units), titles=tuple(titles))
    lines.leave(number, "; ".join(filter(None, cells)), SILENT)
    return True


def _is_measured(row):
    """Return whether the unit of a row is one of a concentration."""
    told = [measured for _, _, measured, _ in row]
    told += [
        unit_in_report(cell) for role, _, _, cell in row if role == "unit" and cell
    ]
    return any(measured and measured[0].kind in CONCENTRATIONS for measured in told)


def _shifted(row, said):
    """Return a row whose empty unit cell fell out, its cells back in their columns.

    Seen in tables of web pages: "pH-Wert | 7,61 | 6,5 bis 9,5 | |" under a heading
    "Parameter | Einheit | Messwert | Grenzwert". Only for what has no unit.
    """
    at = next((n for n, cell in enumerate(row) if cell[0] == "unit"), None)
    if said is None or kinds_of(said.quantity) or at is None or row[-1][3]:
        return row
    if not re.match(r"[<>]?\s?\d", row[at][3]):
        return row
    texts = [cell[3] for cell in row]
    texts = [*texts[:at], "", *texts[at:-1]]
    return [(*cell[:3], text) for cell, text in zip(row, texts, strict=True)]


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
    found = Found(number, word, said)
    found.far_unit, found.far_words = lines.far_unit, lines.far_words
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
            elif role == "parameter" and measured:
                found.far_unit = measured
                found.far_words = f"from the heading {shortened(title)}"
            elif role not in ("parameter", "symbol", "basis") and text:
                found.beside.append(f"{title}: {text}")
                if measured and not found.far_unit:
                    found.far_unit = measured
                    found.far_words = f"from the heading {shortened(title)}"
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
    if role in found.cells:
        raise InputError(f"two columns tell the {role}; keep one of them")
    found.cells[role] = cell


def _read_unit(found, text):
    """Read the cell of a unit column."""
    found.unit_text = text
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
    if re.fullmatch(r"\d[\d.,]*\s*U", text):  # looked for, not found
        text = f"<{text.removesuffix('U')}"
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


def take_wide(lines, number, cells):
    """
    Read a line of a table that lies on its side: units, or the values of a sample.

    Parameters
    ----------
    lines : Lines
        What is known so far; it is added to.
    number : int
        Number of the line. [-]
    cells : list of str
        The cells of the line.

    Examples
    --------
    >>> from formulate.ingredients.report_headings import heading_in
    >>> lines = Lines(Faults(), heading_in("Ca mg/L;Mg mg/L;pH"))
    >>> take_wide(lines, 2, ["94.4", "18.3", "7.4"])
    >>> [found.word for found in lines.found]
    ['Ca mg/L', 'Mg mg/L', 'pH']
    """
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
