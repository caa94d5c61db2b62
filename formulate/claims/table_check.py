"""What was found when a published table was worked out again, as one result."""

from collections import Counter
from dataclasses import dataclass

from formulate.claims.finding import gravest_finding
from formulate.errors import InputError, shortened
from formulate.notices import Notice
from formulate.working import Shown

__all__ = ["TableCheck", "alike_notices", "left_out_notices", "rule_of_table"]


@dataclass(frozen=True)
class TableCheck(Shown):
    """
    What was found when a published table was worked out again.

    Attributes
    ----------
    kind : str
        "salts", "factors" or "solubility".
    name : str
        What the table is called.
    columns : tuple of TableColumn
        What each column was read as.
    findings : tuple of Finding
        One for each number, in the order of the table.
    notices : tuple of Notice
        What was left out and what to know.
    assumed : tuple of str
        What had to be assumed to read it.
    """

    kind: str
    name: str
    columns: tuple
    findings: tuple
    notices: tuple = ()
    assumed: tuple = ()

    @property
    def verdict(self):
        """Return the verdict on the table: the gravest of all its numbers."""
        return gravest_finding(self.findings)

    @property
    def is_right(self):
        """Return whether every number is right."""
        return self.verdict == "right"

    @property
    def not_right(self):
        """Return the findings that are not "right", in the order of the table."""
        return tuple(finding for finding in self.findings if not finding.is_right)

    def rows(self):
        """
        Return what is shown: a row for each finding.

        Returns
        -------
        tuple of tuple of str
            Subject, verdict, number, limit, what, rule.

        Examples
        --------
        >>> TableCheck("salts", "table", (), ()).rows()
        ()
        """
        return tuple(finding.row() for finding in self.findings)

    def __str__(self):
        counts = Counter(finding.verdict for finding in self.findings)
        told = ", ".join(f"{count} {verdict}" for verdict, count in counts.items())
        lines = [f"{self.name} ({self.kind}): {self.verdict}; {told}"]
        lines += [f"- {finding}" for finding in self.not_right]
        lines += [f"- assumed: {text}" for text in self.assumed]
        return "\n".join([*lines, *(f"- {notice}" for notice in self.notices)])


def left_out_notices(table):
    """
    Return what of a table was left out, as notices.

    Parameters
    ----------
    table : PublishedTable
        The table.

    Returns
    -------
    list of Notice
        Lines, then columns.

    Examples
    --------
    >>> from formulate.claims.table_reading import PublishedTable, TableColumn
    >>> columns = (TableColumn("price", "left out"),)
    >>> print(left_out_notices(PublishedTable("table", 1, columns, ()))[0])
    note: column 'price' is left out: not known, so none of it is checked
    """
    found = [
        Notice(f"line {each.line} is left out: {shortened(each.text)}, {each.why}")
        for each in table.left_out
    ]
    for column in table.columns:
        if column.role == "left out":
            what = "is left out: not known, so none of it is checked"
            found.append(Notice(f"column {shortened(column.heading)} {what}"))
    return found


def alike_notices(table):
    """
    Return a notice for each row of a table that stands twice.

    Parameters
    ----------
    table : PublishedTable
        The table.

    Returns
    -------
    list of Notice
        One for each.

    Examples
    --------
    >>> from formulate.claims.table_reading import PublishedLine, PublishedTable
    >>> rows = (PublishedLine(2, ("KNO3",)), PublishedLine(3, ("KNO3",)))
    >>> print(alike_notices(PublishedTable("table", 1, (), rows))[0])
    caution: lines 2 and 3 are alike; one may stand for another
    """
    seen, found = {}, []
    for line in table.lines:
        key = tuple(cell.casefold() for cell in line.cells)
        if key in seen:
            what = f"lines {seen[key]} and {line.number} are alike"
            found.append(Notice(f"{what}; one may stand for another", "caution"))
        seen.setdefault(key, line.number)
    return found


def rule_of_table(rule):
    """
    Return a rule if it is one.

    Parameters
    ----------
    rule : str or None
        "us", "eu" or None.

    Returns
    -------
    str or None
        The same.

    Raises
    ------
    InputError
        If it is another.

    Examples
    --------
    >>> rule_of_table("us")
    'us'
    """
    if rule not in (None, "us", "eu"):
        raise InputError(f"rule: {shortened(rule)}: give 'us', 'eu' or nothing")
    return rule
