"""Goes through the lines of a water report: headings, rows of a table, lines of words.

What comes out is text still: which quantity a line tells, and which of its cells holds
the value. A line that is not read is kept with the reason, so that no number gets lost.
"""

import re

from formulate.errors import InputError, shortened
from formulate.ingredients.report_cells import cells_in, may_start_value
from formulate.ingredients.report_headings import (
    VALUES,
    glued_heading,
    heading_in,
    unit_heading,
)
from formulate.ingredients.report_rows import (
    EMPTY,
    IGNORED,
    SILENT,
    UNCLEAR,
    Found,
    take_row,
)
from formulate.ingredients.report_units import kinds_of, unit_in_report
from formulate.ingredients.report_words import name_in_report
from formulate.stoichiometry.units import CONCENTRATIONS

__all__ = ["take_line"]

LEADERS = re.compile(r"(?:[.·•_]\s?){3,}|…{2,}|(?<!\d)…|…(?!\d)|[-–—]{3,}")
BULLET = re.compile(r"^\s*(?:[-–•*]\s+|\d{1,3}[.)]?\s+(?=[^\W\d]))")
MOST_WORDS = 40
MOST_PAIRS = 20  # names with values in one line
MOST_TRIED = 3  # places at which a further value may begin
COLUMNS = (*VALUES, "limit", "sample")  # columns of a heading in which numbers stand


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
    >>> from formulate.errors import Faults
    >>> from formulate.ingredients.report_rows import Lines
    >>> lines = Lines(Faults())
    >>> take_line(lines, 1, "Calcium (Ca) ....... 94,4 mg/l")
    >>> lines.found[0].cells["value"].number
    '94,4'
    """
    if not any(c.isalnum() for c in text):
        return
    glued = glued_heading(text)
    if glued:
        lines.faults.add(
            f"line {number}: {shortened(glued)} is a heading run together, so its columns "
            "cannot be told apart; copy the table again, or as CSV"
        )
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
        take_row(lines, number, text)
    elif heading and heading.delimiter == "  " and _take_fixed(lines, number, text):
        return
    else:
        _take_words(lines, number, text)


def _take_fixed(lines, number, text):
    """Read a row whose columns stand under their headings; return whether it is one."""
    heading = lines.heading
    spans = [match.span() for match in re.finditer(r"\S+(?:\s\S+)*", text)]
    cells = [text[start:end] for start, end in spans]
    if heading.wide or len(cells) == len(heading.roles):
        take_row(lines, number, text, cells)
        return True
    middles = [(start + end) / 2 for start, end in spans]
    nearest = [
        min(range(len(heading.places)), key=lambda n: abs(heading.places[n] - middle))
        for middle in middles
    ]
    if len(cells) < 2 or nearest[0] or sorted(set(nearest)) != nearest:
        return False
    row = [""] * len(heading.roles)
    for place, cell in zip(nearest, cells, strict=True):
        row[place] = cell
    take_row(lines, number, text, row)
    return True


def _take_words(lines, number, line):
    """Read a line of words: a name, then one or more values; perhaps another name."""
    bullet = BULLET.match(line)
    text, mark = _spaced(line), bullet.group().strip(" -–•*") if bullet else ""
    for _ in range(MOST_PAIRS):
        before = len(lines.found)
        rest = _take_pair(lines, number, line, text)
        found = lines.found[-1] if len(lines.found) > before else None
        if mark and found:
            found.word, mark = f"{mark} {found.word}", ""
        if not rest or found is None or not _pair_begins(rest):
            return
        found.beside.remove(rest)  # a further quantity stands in the same line
        text = rest


def _take_pair(lines, number, line, text):
    """Read a name and its values; return what stands behind them."""
    for start in _starts(text):
        word = " ".join(text[:start].strip(" :=.-–*|").split())
        said = name_in_report(word) if word else None
        if said is None:
            continue
        if said.quantity == "other":
            lines.leave(number, line, IGNORED)
            return ""
        wide = "  " if text[:start].endswith("  ") else ""
        done, rest = _add_words(lines, number, word, said, wide + text[start:])
        if done:
            return rest
    said = name_in_report(text.strip(" :=.-–*"))
    if said:
        lines.leave(number, line, EMPTY if said.unit else SILENT)
    else:
        lines.leave(number, line, UNCLEAR if _looks_measured(text) else SILENT)
    return ""


def _starts(text):
    """Return the places of a line where a value may begin."""
    return [m.start() for m in re.finditer(r"\S+", text) if may_start_value(m.group())]


def _pair_begins(text):
    """Return whether a text begins with the name of a counted quantity and a value."""
    for start in _starts(text)[:MOST_TRIED]:
        said = name_in_report(text[:start].strip(" :=.-–*|"))
        if said is not None:
            return said.quantity != "other"
    return False


def _spaced(line):
    """Return a line with its leaders, delimiters and glued signs parted by blanks."""
    text = LEADERS.sub("  = ", BULLET.sub("", line))
    text = re.sub(r"[\t;|]", "  ", text)
    text = re.sub(r",(?!\d)|(?<!\d),", "  ", text).replace('"', " ")
    text = re.sub(r"[:=](?=[\s<\d])", r" \g<0> ", text)
    return re.sub(r"\)(?=[\d<])", ") ", text)


def _looks_measured(text):
    """Return whether a unit of a concentration stands in a line that holds a number."""
    if not any(c.isdigit() for c in text):
        return False
    told = [unit_in_report(word.strip("(),")) for word in text.split()[:MOST_WORDS]]
    return any(measured and measured[0].kind in CONCENTRATIONS for measured in told)


def _add_words(lines, number, word, said, text):
    """Note what stands behind a name; return whether it is a value, and the rest."""
    rest = ""
    with lines.faults.collecting(f"line {number}, {word}"):
        cells, rest = cells_in(text, said.quantity)
        if not cells or _is_condition(cells[0], said):
            return False, ""
        found = Found(number, word, said)
        found.far_unit, found.far_words = lines.far_unit, lines.far_words
        if rest:
            found.beside.append(rest)
        _place_all(found, cells, lines.heading)
        lines.found.append(found)
    return True, rest


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
    if roles and not spread:  # limits are what is left out where there is none
        roles = [role for role in roles if role != "limit"]
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
    dashes = [cells[0].sign == "unmeasured", cells[-1].sign == "unmeasured"]
    if len(cells) == wanted + 1 and sum(dashes) == 1:
        return cells[1:] if dashes[0] else cells[:-1]  # no unit, or a further column
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
