"""The lines and headings of a laboratory's table: what stands above it, what each column holds.

Columns may name what was done (guaranteed, found, unit) and lines nutrients, or the other
way round; then the table is turned, and each cell keeps its place in the file.
"""

import csv
import re
from dataclasses import dataclass, field

from formulate.claims.allowances import MATERIALS, PRODUCTS
from formulate.claims.assay import RULES
from formulate.claims.assay_cells import (
    heading_role,
    is_nutrient,
    role_of,
    scale_of,
    unit_apart,
)
from formulate.errors import Faults, InputError, shortened
from formulate.ingredients.label_words import BASES
from formulate.notices import Notice

__all__ = ["Cell", "Page", "Table", "setting_of", "settings_of", "sheet_of", "table_of"]

MOST_LINES, MOST_COLUMNS = 500, 100
DELIMITERS = (";", "\t", ",")
SETTING = "setting "
CHOICES = {"rule": RULES, "form": PRODUCTS, "basis": BASES, "material": MATERIALS}
ONCE = ("nutrient", "guaranteed", "unit", "method")
READ = (*ONCE, "found", "uncertainty")


@dataclass(frozen=True)
class Table:
    """
    The lines of a file, parted at its headings.

    Attributes
    ----------
    above : list of tuple
        Line number and cells of each line above the headings.
    number : int
        Line of the headings. [-]
    heading : list of str
        The headings.
    rows : list of tuple
        Line number and cells of each line below them.
    across : bool
        Whether the headings name nutrients, and each line is a sample.
    comma : bool
        Whether a comma may be a decimal mark.
    """

    above: list
    number: int
    heading: list
    rows: list
    across: bool
    comma: bool


@dataclass(frozen=True)
class Cell:
    """
    One cell and its place in the file.

    Attributes
    ----------
    text : str
        What it holds.
    line : int
        Line in the file. [-]
    column : str
        Its heading, else its number.
    """

    text: str
    line: int
    column: str

    @property
    def where(self):
        """Return line and column in words."""
        return f"line {self.line}, column {self.column}"


@dataclass
class Page:
    """
    What is noted while a file is read.

    Attributes
    ----------
    faults : Faults
        Where faults go.
    comma : bool
        Whether a comma may be a decimal mark.
    skipped : list of str
        Lines that are not part of the table.
    unread : list of str
        Columns that are not read.
    others : list of str
        What is no nutrient, or neither found nor guaranteed.
    assumed : list of str
        Nutrients without a unit.
    absent : list of str
        Cells that say in words that nothing was analysed.
    foreign : list of str
        Words of other languages, which mean what they mean on labels.
    """

    faults: Faults
    comma: bool
    skipped: list = field(default_factory=list)
    unread: list = field(default_factory=list)
    others: list = field(default_factory=list)
    assumed: list = field(default_factory=list)
    absent: list = field(default_factory=list)
    foreign: list = field(default_factory=list)

    def said(self):
        """
        Return what to know of the reading.

        Returns
        -------
        tuple of Notice
            One for each kind of thing noted.

        Examples
        --------
        >>> Page(Faults(), True, unread=["analyst"]).said()[0].what
        'columns not read: analyst'
        """
        told = (
            ("skipped, not part of the table: {}", self.skipped),
            ("columns not read: {}", self.unread),
            ("no nutrients, not judged: {}", self.others),
            ("no unit is told, percent was taken: {}", self.assumed),
            (
                "taken as not analysed: {}; if it was looked for and not found, give the "
                "limit of detection, like < 0.01",
                self.absent,
            ),
            (
                "words were read as on labels of the EU, oxides under their bare names: {}; "
                "if the laboratory counts elements, write a line above: basis and element",
                self.foreign,
            ),
        )
        return tuple(
            Notice(what.format(", ".join(dict.fromkeys(items))))
            for what, items in told
            if items
        )


def table_of(text, name):
    """
    Return the table of a text under the delimiter that shows headings.

    Parameters
    ----------
    text : str
        A CSV text.
    name : str
        What to call it.

    Returns
    -------
    Table or None
        The table; None if no line is one of headings.

    Raises
    ------
    InputError
        If a quote does not end, or there is too much.

    Examples
    --------
    >>> table_of("sample;N;Zn\\nbag 1;9,6;0,05\\n", "assay").across
    True
    """
    lines = text.splitlines(keepends=True)
    first = next((line for line in lines if line.strip()), "")
    told = re.fullmatch(r"sep=([;,\t])", first.strip(" \r\n\"'"))
    for delimiter in (told[1],) if told else DELIMITERS:
        rows = _cells(lines, delimiter, name)[1 if told else 0 :]
        for place, (number, cells) in enumerate(rows):
            layout = _layout(cells, rows[place + 1 :])
            if layout:
                above, below = rows[:place], rows[place + 1 :]
                is_across, comma = layout == "across", delimiter != ","
                return Table(above, number, cells, below, is_across, comma)
    return None


def _cells(lines, delimiter, name):
    """Return (line number, cells) of each line that is not empty."""
    reader, found, first = csv.reader(lines, delimiter=delimiter, strict=True), [], 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                found.append((first, [" ".join(cell.split()) for cell in cells]))
            if len(found) > MOST_LINES or len(cells) > MOST_COLUMNS:
                most = f"{MOST_LINES} lines or {MOST_COLUMNS} columns"
                raise InputError(f"{name}: line {first}: more than {most}")
            first = reader.line_num + 1
    except csv.Error as error:
        what = f"line {first}: {error}; look at the quotes"
        raise InputError(f"{name}: {what}") from None
    return found


def _layout(cells, below):
    """Return "down" for headings of columns, "across" for nutrients, "" for neither."""
    roles = [heading_role(cell)[0] for cell in cells]
    has_values = {"guaranteed", "found"} & set(roles[1:])
    if has_values and ("nutrient" in roles or not cells[0]):
        return "down"
    named = [cell for cell in cells[1:] if cell]
    nutrients = [cell for cell in named if is_nutrient(unit_apart(cell)[0])]
    numbers = any(re.search(r"\d", cell) for _, line in below for cell in line[1:])
    is_first = not is_nutrient(unit_apart(cells[0])[0])
    return "across" if numbers and is_first and len(nutrients) * 2 > len(named) else ""


def setting_of(cells):
    """
    Return which setting a line tells.

    Parameters
    ----------
    cells : sequence of str
        The cells of a line.

    Returns
    -------
    str
        "rule", "form", "basis", "material"; "" if it is none.

    Examples
    --------
    >>> setting_of(["rule", "eu", ""])
    'rule'
    """
    role = role_of(cells[0])
    filled = [cell for cell in cells if cell]
    return role.removeprefix(SETTING) if role[:8] == SETTING and len(filled) < 3 else ""


def settings_of(table, page):
    """
    Return the settings that lines tell; other lines above the headings are skipped.

    Parameters
    ----------
    table : Table
        The table.
    page : Page
        Where faults and what is skipped are noted.

    Returns
    -------
    dict of str to str
        "rule", "form", "basis", "material" where they are told.

    Examples
    --------
    >>> table = table_of("rule;EU\\nnutrient;found\\nN;9,6\\n", "assay")
    >>> settings_of(table, Page(Faults(), True))
    {'rule': 'eu'}
    """
    found = {}
    for number, cells in (*table.above, *table.rows):
        key = setting_of(cells)
        if key:
            with page.faults.collecting(f"line {number}"):
                if key in found:
                    raise InputError(f"{key} is told twice")
                found[key] = _choice(key, " ".join(cells[1:]).strip(), page)
    page.skipped += [
        f"line {number} {shortened(' '.join(filter(None, cells)))}"
        for number, cells in table.above
        if not setting_of(cells)
    ]
    return {key: value for key, value in found.items() if value}


def _choice(key, text, page):
    """Return what a setting says, in small letters; "" for a material of no own rule."""
    plain = text.casefold()
    if plain in CHOICES[key]:
        return plain
    if key == "material" and plain:
        page.skipped.append(
            f"material {shortened(text)}, which has no allowance of its own"
        )
        return ""
    raise InputError(f"{key} {shortened(text)}: give one of {', '.join(CHOICES[key])}")


# --- columns and values ------------------------------------------------------------------


def sheet_of(table, page):
    """
    Return what each column holds, and the lines; what is told across is turned.

    Parameters
    ----------
    table : Table
        The table.
    page : Page
        Where faults and what is not read are noted.

    Returns
    -------
    columns : list of tuple of str
        Role and unit of each column.
    lines : list of list of Cell
        The cells of each nutrient.

    Examples
    --------
    >>> table = table_of("sample;N;Zn %\\nguaranteed;10;0,05\\nbag 1;9,6;0,05\\n", "assay")
    >>> columns, lines = sheet_of(table, Page(Faults(), True))
    >>> [role for role, _ in columns], [cell.text for cell in lines[1]]
    (['nutrient', 'guaranteed', 'found'], ['Zn %', '0,05', '0,05'])
    """
    rows = [(n, cells) for n, cells in table.rows if not setting_of(cells)]
    wide = max(map(len, [table.heading, *(cells for _, cells in rows)]))
    heading = _row(table.number, table.heading, wide, table)
    lines = [_row(number, cells, wide, table) for number, cells in rows]
    if not table.across:
        columns = [(cell, *heading_role(cell.text)) for cell in heading]
        if not heading[0].text:
            columns[0] = (heading[0], "nutrient", "")
        return _checked_columns(columns, lines, page), lines
    columns = [(heading[0], "nutrient", "")]
    for line in lines:
        role, of_unit = heading_role(line[0].text)
        columns.append((line[0], role or ("found" if line[0].text else ""), of_unit))
    turned = [[heading[n], *(line[n] for line in lines)] for n in range(1, wide)]
    return _checked_columns(columns, turned, page), turned


def _row(number, cells, wide, table):
    """Return the cells of a line with their places, filled up with empty ones."""
    titles = [*table.heading, *[""] * wide]
    return [
        Cell(text, number, shortened(titles[n]) if titles[n] else str(n + 1))
        for n, text in enumerate([*cells, *[""] * (wide - len(cells))])
    ]


def _checked_columns(columns, lines, page):
    """Return (role, unit) of each column; faults where values stand under no heading."""
    made = []
    for place, (title, role, of_unit) in enumerate(columns):
        cells = [line[place] for line in lines if line[place].text]
        if role in ONCE and role in [known for known, _ in made]:
            page.faults.add(f"{title.where}: {role} has a column already")
        if role not in READ:
            _note_unread(title, role, cells, page)
        if of_unit and of_unit != "% rel":
            with page.faults.collecting(title.where):
                scale_of(of_unit)
        made.append((role if role in READ else "", of_unit))
    return made


def _note_unread(title, role, cells, page):
    """Note a column that is not read: a fault if it may hold values."""
    values = [cell for cell in cells if re.fullmatch(r"[<\s]*[\d.,]+.*", cell.text)]
    if not title.text:
        for cell in cells:
            what = f"{shortened(cell.text)} stands under no heading"
            page.faults.add(
                f"{cell.where}: {what}; part merged cells, name each column"
            )
    elif values and role not in ("note", "other"):
        what = f"{shortened(title.text)} is no heading known; call it sample 1, or note"
        page.faults.add(f"{title.where}: {what}")
    elif cells:
        page.unread.append(title.text)
