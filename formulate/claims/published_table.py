"""A table of a book or a page, checked number by number: salts, factors or solubilities."""

from contextlib import suppress

from formulate.claims.factor_table import (
    check_factor_table,
    factor_columns,
    factor_equations,
)
from formulate.claims.salt_columns import row_material, salt_columns
from formulate.claims.salt_table import check_salt_table
from formulate.claims.solubility_columns import solubility_columns
from formulate.claims.solubility_table import check_solubility_table
from formulate.claims.table_check import rule_of_table
from formulate.claims.table_reading import TableColumn, read_published, table_text
from formulate.errors import Faults, FormulateError, InputError

__all__ = ["TABLE_KINDS", "check_table", "table_kind"]

TABLE_KINDS = ("salts", "factors", "solubility")
CHECKS = {
    "salts": check_salt_table,
    "factors": check_factor_table,
    "solubility": check_solubility_table,
}
COUNTED = {
    "salts": ("nutrient", "grade", "other", "molar mass", "value"),
    "factors": ("factor", "divisor", "over"),
    "solubility": ("degrees", "value"),
}
READERS = {
    "salts": salt_columns,
    "factors": factor_columns,
    "solubility": solubility_columns,
}
EXPECTED = (
    "salts (salt;N %;K2O %), factors (from;to;factor) or solubilities (salt;0 °C;20 °C)"
)


def table_kind(text):
    """
    Return which kind of table a text is; None if it is none that is known.

    Parameters
    ----------
    text : str
        Text of a table, with its headings.

    Returns
    -------
    str or None
        "salts", "factors" or "solubility".

    Examples
    --------
    >>> table_kind("salt;N %;K2O %\\nKNO3;13.9;46.6\\n"), table_kind("from,to,factor\\nK,K2O,1.2\\n")
    ('salts', 'factors')
    >>> table_kind("Dear reader,\\nno table here\\n") is None
    True
    """
    if not isinstance(text, str) or not text.strip():
        return None
    if factor_equations(text):
        return "factors"
    counts = {kind: _counted(text, kind) for kind in READERS}
    best = max(counts, key=counts.get)
    return best if counts[best] else None


def _counted(text, kind):
    """Return how many columns of numbers a text has as a table of a kind."""
    found = []

    def columns_of(cells):
        columns = READERS[kind](cells)
        if columns and not found:
            found.extend(columns)
        return columns

    with suppress(FormulateError):  # its faults are told by the check
        table = read_published(text + "\n", columns_of, Faults())
        if not _is_named(table):
            return 0
    return sum(column.role in COUNTED[kind] for column in found)


def _any_columns(cells):
    """Return columns of whatever stands in a line."""
    return [TableColumn(cell, "left out") for cell in cells]


def _is_named(table):
    """Return whether a column taken for that of the materials names any."""
    if all(column.key != "assumed" for column in table.columns):
        return True
    texts = {"formula": "", "hydrate": ""}
    return any(
        row_material({**texts, "name": line.cells[0]}, line.number)[0]
        for line in table.lines
    )


def check_table(path_or_text, *, rule=None, tolerance_percent=None):
    """
    Return every number of a published table, right or with what explains it.

    Parameters
    ----------
    path_or_text : str or Path
        A CSV file, or its text.
    rule : str or None
        "us" or "eu": how bare words such as "phosphate" in headings are read.
    tolerance_percent : float or None
        How far a number may be off beyond its rounding, of its own size; by the kind of
        table if None. [%]

    Returns
    -------
    TableCheck
        A finding for each number.

    Raises
    ------
    InputError
        With every fault by line and column, or if it is no table that is known.

    Examples
    --------
    >>> check_table("salt;N %;K2O %\\nKNO3;13,9;46,6\\n").verdict
    'right'
    """
    rule_of_table(rule)
    text, name = table_text(path_or_text)
    kind = table_kind(text)
    if kind is None:
        read_published(
            text + "\n", _any_columns, Faults()
        )  # raises what spoils its cells
        raise InputError(f"{name}: no table that is known; give one of {EXPECTED}")
    return CHECKS[kind](path_or_text, rule=rule, tolerance_percent=tolerance_percent)
