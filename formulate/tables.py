"""Reads the tables in data/ and tells where each number comes from."""

import csv
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType

from formulate.errors import InputError, MissingData

__all__ = [
    "Row",
    "Source",
    "checksum",
    "cite",
    "read_table",
    "recipe_rule",
    "rule_of",
    "source",
    "table_names",
]

DATA = Path(__file__).parent / "data"


@dataclass(frozen=True)
class Row:
    """
    One line of a table.

    Attributes
    ----------
    table : str
        Name of the table.
    line : int
        Line in its file, the header being line 1. [-]
    cells : mapping of str to str
        Column name to text, as it stands in the file.
    """

    table: str
    line: int
    cells: Mapping

    def __getitem__(self, column):
        try:
            return self.cells[column]
        except KeyError:
            raise MissingData(f"table {self.table} has no column {column!r}") from None

    def number(self, column):
        """
        Return a cell as a number.

        Parameters
        ----------
        column : str
            Name of the column.

        Returns
        -------
        float or None
            The number, or None where the cell is empty. [-]

        Raises
        ------
        InputError
            If the cell holds anything else.

        Examples
        --------
        >>> read_table("acid_densities")[0].number("density")
        1.4
        """
        text = self[column]
        if not text:
            return None
        try:
            return float(text)
        except ValueError:
            fault = (
                f"table {self.table}, line {self.line}, {column}: {text!r} is no number"
            )
            raise InputError(fault) from None


@dataclass(frozen=True)
class Source:
    """
    Where a value comes from.

    Attributes
    ----------
    key : str
        Short name used in every table.
    title : str
        What it is.
    author : str
        Who wrote it, where known.
    year : str
        When, where known.
    where : str
        Where it can be read.
    how_known : str
        "read", "memory" or "computed".
    """

    key: str
    title: str
    author: str
    year: str
    where: str
    how_known: str

    def __str__(self):
        who = ", ".join(part for part in (self.author, self.year) if part)
        text = f"{who}: {self.title}" if who else self.title
        return f"{text} (from memory)" if self.how_known == "memory" else text


@cache
def read_table(name):
    """
    Return the rows of a table of the package.

    Parameters
    ----------
    name : str
        Name of the table: the file name in `formulate/data` without its ending.

    Returns
    -------
    tuple of Row
        One row per line, in the order of the file.

    Raises
    ------
    MissingData
        If there is no such table.

    Examples
    --------
    >>> read_table("forms")[0]["form"]
    'nitrate'
    """
    path = DATA / f"{name}.csv"
    if name not in table_names():
        raise MissingData(f"no table {name!r}; there are {', '.join(table_names())}")
    with path.open(encoding="utf-8", newline="") as file:
        rows = csv.DictReader(file, strict=True)
        return tuple(
            Row(name, number, MappingProxyType(dict(cells)))
            for number, cells in enumerate(rows, 2)
        )


def rule_of(table, name):
    """
    Return one rule of a table of rules.

    Parameters
    ----------
    table : str
        Name of the table, whose first column is "rule".
    name : str
        Name of the rule, such as "first portion".

    Returns
    -------
    Row
        Its line.

    Raises
    ------
    MissingData
        If the table has no such rule.

    Examples
    --------
    >>> rule_of("acid_rules", "first portion").number("value")
    80.0
    """
    for row in read_table(table):
        if row["rule"] == name:
            return row
    raise MissingData(f"{name!r} is no rule of the table {table}")


def recipe_rule(name):
    """
    Return one rule of the table of recipe rules.

    Parameters
    ----------
    name : str
        Name of the rule, such as "miss".

    Returns
    -------
    Row
        Its line.

    Raises
    ------
    MissingData
        If the table has no such rule.

    Examples
    --------
    >>> recipe_rule("miss").number("high")
    5.0
    """
    return rule_of("recipe_rules", name)


def table_names():
    """
    Return the names of all tables of the package.

    Returns
    -------
    tuple of str
        Sorted names.

    Examples
    --------
    >>> "sources" in table_names()
    True
    """
    return tuple(sorted(path.stem for path in DATA.glob("*.csv")))


@cache
def _sources():
    columns = ("key", "title", "author", "year", "where", "how_known")
    rows = read_table("sources")
    return {row["key"]: Source(*(row[column] for column in columns)) for row in rows}


def source(key):
    """
    Return the record of one source key.

    Parameters
    ----------
    key : str
        Key as it stands in a column `source_key`.

    Returns
    -------
    Source
        The record.

    Raises
    ------
    MissingData
        If the key is in no line of the sources table.

    Examples
    --------
    >>> source("stoichiometry").how_known
    'computed'
    """
    try:
        return _sources()[key]
    except KeyError:
        raise MissingData(f"source key {key!r} is not in the sources table") from None


def cite(keys):
    """
    Return one or several source keys as readable text.

    Parameters
    ----------
    keys : str
        Keys, separated by semicolons.

    Returns
    -------
    str
        The records, separated by semicolons.

    Raises
    ------
    MissingData
        If a key is not known.

    Examples
    --------
    >>> cite("stoichiometry")
    'Computed from standard atomic masses'
    """
    return "; ".join(str(source(key.strip())) for key in keys.split(";") if key.strip())


@cache
def checksum():
    """
    Return a short checksum over all tables, to print on a sheet.

    Returns
    -------
    str
        The first twelve hexadecimal digits of a SHA-256 over the sorted files.

    Examples
    --------
    >>> len(checksum())
    12
    """
    digest = hashlib.sha256()
    for name in table_names():
        text = (DATA / f"{name}.csv").read_text(encoding="utf-8")
        digest.update(f"{name}\n{text}".encode())
    return digest.hexdigest()[:12]
