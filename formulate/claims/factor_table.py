"""A published table of conversion factors (K to K2O 1.2046), checked factor by factor.

The factor from A to B is r M(B) / M(A), r the moles of B in a mole of A. A factor is right
if it is rounded to the nearest, or cut, in its last digit, or if an older table of atomic
masses gives it; one that is a unit of its last digit off is right in all the others. What
is not is held against rounded atomic masses and the slips of printers.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from formulate.checks import checked_number
from formulate.claims.exact_factors import exact_factor, mass_by, meant_by, mole_ratio
from formulate.claims.finding import Finding
from formulate.claims.printed_numbers import PrintedNumber, printed_number
from formulate.claims.table_check import TableCheck, left_out_notices, rule_of_table
from formulate.claims.table_reading import (
    PublishedLine,
    TableColumn,
    cell_number,
    read_published,
    table_text,
)
from formulate.claims.table_slips import (
    TableSlip,
    best_slip,
    decimal_slips,
    digit_slips,
    fitting_slips,
    is_same_salt,
)
from formulate.errors import Faults, FormulateError, shortened
from formulate.ingredients.ingredient import from_formula
from formulate.ingredients.label_words import family
from formulate.ingredients.salts import catalogue
from formulate.notices import LeftOut, Notice
from formulate.stoichiometry.formula import atomic_mass, parse_formula
from formulate.stoichiometry.nutrients import nutrient_keys
from formulate.tables import read_table
from formulate.working import printed

__all__ = ["check_factor_table", "factor_columns", "factor_equations"]

PERCENT = 100.0
MOST_ALLOWED = 5.0
LAST_DIGIT = 1.1  # steps
OLDER = "older"  # tag of a mass that a table of atomic masses held
SMALL = 0.0005  # relative: a slip in the fourth digit
FROM = r"from|to convert|convert|known|given|a|have|if you have"
TO = r"to|into|wanted|b|want|to get|you want"
PAIR = r"(conversion|convert|pair|factor for|from .* to)s?"
FACTOR = r"(multiply( by)?|.*factor|times|x|×)"
DIVISOR = r"(divide( by)?|divisor|÷)"
NUMBER = r"(\d*[.,]?\d+)"
EQUATION = rf"(.{{1,40}}?)\s*([×x*÷/])\s*{NUMBER}\s*=\s*(.{{1,40}}?)\s*[.;]?"
NAMED = rf"(.{{1,40}}?)\s+(?:to|into|->|→)\s+(.{{1,40}}?)\s*[:;,=\t]\s*(?:[×x*]\s*)?{NUMBER}\s*"
ARROW = r"(.+?)\s*(?:\bto\b|\binto\b|->|→)\s*(.+)"
RULE = "molar masses and the rounding of each factor"
FACTS = {"rule": RULE, "source_key": "stoichiometry"}


@dataclass(frozen=True)
class _Factor:
    """A printed factor."""

    line: int
    start: str
    goal: str
    number: PrintedNumber
    is_divisor: bool = False

    @property
    def subject(self):
        """Return what findings call it."""
        return f"line {self.line}, {self.start} to {self.goal}"


def check_factor_table(path_or_text, *, rule=None, tolerance_percent=None):
    """
    Return every factor of a table of conversion factors, right or with what explains it.

    Parameters
    ----------
    path_or_text : str or Path
        A CSV file, or its text: columns from, to and factor, or headings like "K to K2O"
        over the factors, or lines like "P2O5 × 0.4364 = P".
    rule : str or None
        "us" or "eu"; factors are the same by both.
    tolerance_percent : float or None
        How far a factor may be off beyond its rounding, of its own size; 0 if None. [%]

    Returns
    -------
    TableCheck
        A finding for each factor, and for each factor with its reciprocal.

    Raises
    ------
    InputError
        With every fault by line and column.

    Examples
    --------
    >>> check = check_factor_table("from;to;factor\\nK;K2O;1.2051\\nK2O;K;0.8301\\n")
    >>> [finding.verdict for finding in check.findings]
    ['wrong', 'right', 'wrong']
    """
    rule_of_table(rule)
    if tolerance_percent is not None:
        checked_number(tolerance_percent, "tolerance in %", least=0, most=MOST_ALLOWED)
    allowed = (tolerance_percent or 0.0) / PERCENT
    name, columns, factors, notices = _read(path_or_text)
    findings = [_finding(each, factors, allowed) for each in factors]
    findings += _reciprocals(factors, allowed)
    return TableCheck(
        "factors", name, columns, tuple(findings), (*notices, *_alike(factors))
    )


# --- reading -----------------------------------------------------------------------------


def factor_columns(cells):
    """
    Return what headings of a table of factors say, or None if they are none.

    Parameters
    ----------
    cells : sequence of str
        Cells of a line.

    Returns
    -------
    list of TableColumn or None
        One for each cell.

    Examples
    --------
    >>> [c.role for c in factor_columns(["From", "To", "Multiply by"])]
    ['from', 'to', 'factor']
    """
    if any(re.fullmatch(r"[\d.,]+", cell) for cell in cells):
        return None
    found = [_column(cell) for cell in cells]
    roles = [column.role for column in found]
    numbers = {"factor", "divisor"} & set(roles)
    if "over" in roles and "from" not in roles:
        return found
    named = {"from", "to"} <= set(roles) or "pair" in roles
    if numbers and named:
        return [
            c if c.role != "over" else TableColumn(c.heading, "left out") for c in found
        ]
    return None


def _column(heading):
    plain = heading.replace("_", " ").strip(" :,")
    patterns = (("divisor", DIVISOR), ("factor", FACTOR), ("from", FROM), ("to", TO))
    for role, pattern in (*patterns, ("pair", PAIR)):
        if re.fullmatch(pattern, plain, re.I):
            return TableColumn(heading, role)
    pair = re.fullmatch(ARROW, plain)
    if pair and exact_factor(*pair.groups()):
        return TableColumn(heading, "over", plain)
    return TableColumn(heading, "left out" if heading else "no heading")


def factor_equations(text):
    """
    Return the factors that lines such as "P2O5 × 0.4364 = P" tell.

    Parameters
    ----------
    text : str
        Text of a table.

    Returns
    -------
    list of (int, str, str, str, bool)
        Line, from, to, number as printed, and whether it divides. [-]

    Examples
    --------
    >>> factor_equations("P2O5 × 0.4364 = P\\nK to K2O: 1.2046\\n")[1]
    (2, 'K', 'K2O', '1.2046', False)
    """
    found = []
    for number, line in enumerate(text.splitlines(), 1):
        plain = " ".join(line.replace('"', "").split(" ")).strip(" ;,\t")
        equation, named = re.fullmatch(EQUATION, plain), re.fullmatch(NAMED, plain)
        if equation:
            start, sign, value, goal = equation.groups()
            found.append((number, start.strip(), goal.strip(), value, sign in "÷/"))
        elif named:
            start, goal, value = named.groups()
            found.append((number, start.strip(), goal.strip(), value, False))
    return [each for each in found if exact_factor(each[1], each[2])]


def _read(path_or_text):
    """Return name, columns, factors and notices of a table or of lines of equations."""
    text, name = table_text(path_or_text)
    equations = factor_equations(text)
    if equations:
        numbers = {each[0] for each in equations}
        rest = [
            LeftOut(n, line.strip(), "no factor")
            for n, line in enumerate(text.splitlines(), 1)
            if line.strip() and n not in numbers
        ]
        notices = [
            Notice(f"line {e.line} is left out: {shortened(e.text)}, {e.why}")
            for e in rest
        ]
        made = [_Factor(n, a, b, printed_number(v), d) for n, a, b, v, d in equations]
        return name, (TableColumn("", "equation"),), made, notices
    faults = Faults()
    table = read_published(path_or_text, factor_columns, faults)
    made = [each for line in table.lines for each in _factors(table, line, faults)]
    if not made and not faults.found:
        faults.add("no factor in any row")
    faults.raise_if_any()
    return table.name, table.columns, made, left_out_notices(table)


def _factors(table, line: PublishedLine, faults) -> Iterable:
    """Yield the factors of a row."""
    named = {
        column.role: cell for column, cell in table.cells_of(line, "from", "to", "pair")
    }
    pair = re.fullmatch(ARROW, named.get("pair", ""))
    start, goal = (
        pair.groups() if pair else (named.get("from", ""), named.get("to", ""))
    )
    for column, cell in table.cells_of(line, "factor", "divisor", "over"):
        number = cell_number(column, cell, line, faults)
        if column.role == "over":
            start, goal = re.fullmatch(ARROW, column.key).groups()
        if number and not (start and goal):
            where = f"line {line.number}, column {shortened(column.heading)}"
            faults.add(f"{where}: {number.text} without from and to; name both")
        elif number:
            yield _Factor(line.number, start, goal, number, column.role == "divisor")


# --- findings ----------------------------------------------------------------------------


def _finding(each, factors, allowed):
    """Return what a factor is."""
    right = exact_factor(each.start, each.goal)
    right = 1 / right if right and each.is_divisor else right
    number = each.number
    if not right:
        what = f"{number.text} printed; {each.start} to {each.goal} is not known here"
        return Finding(each.subject, "cannot tell", what, number.value, **FACTS)
    what = f"{number.text} printed, {printed(right, 6)} by molar masses"
    facts = {"number": number.value, "limit": right, **FACTS}
    if number.holds(right, allowed * right):
        return Finding(each.subject, "right", what, **facts)
    if number.is_cut(right):
        return Finding(each.subject, "right", f"{what}, cut off", **facts)
    told = _nearly(each, right)
    if told:
        severity = "caution" if told.startswith("right in all") else "note"
        return Finding(
            each.subject, "right", f"{what}; {told}", severity=severity, **facts
        )
    off = number.value / right - 1
    slips = _slips(each, right, factors)
    told = (
        " or ".join(dict.fromkeys(map(str, slips[:2])))
        or "no slip that is known explains it"
    )
    severity = "caution" if abs(off) < SMALL else "serious"
    return Finding(
        each.subject,
        "wrong",
        f"{what}; {off:+.2%} off: {told}",
        severity=severity,
        **facts,
    )


def _nearly(each, right):
    """Return why a factor that today's masses do not give is right; "" if it is not."""
    number = each.number
    if abs(number.value / right - 1) < SMALL:
        for slip in _masses(each):
            is_older = slip.tag == OLDER
            if is_older and (number.holds(slip.value) or number.is_cut(slip.value)):
                return f"right with {slip}"
    if abs(number.value - right) > LAST_DIGIT * number.step:
        return ""
    decimals = len(re.split("[.,]", number.text)[-1])
    return f"right in all but the last digit, {right:.{decimals}f} is nearest"


def _slips(each, right, factors):
    """Return the slips that explain a factor, the plainest first."""
    number = each.number
    found = [
        TableSlip("basis", "the reciprocal, printed the other way round", 1 / right),
        *_from_printed(each, factors),
        *_from_rounded(right),
        *_other_goals(each),
        *_other_starts(each),
        *_hydrates(each, right),
        *decimal_slips(right),
    ]
    exact = [
        s
        for s in fitting_slips(number, found)
        if number.holds(s.value) or number.is_cut(s.value)
    ]
    choices = _masses(each)
    masses = [slip for slip in choices if number.holds(slip.value)]
    masses += [slip for slip in choices if number.is_cut(slip.value)]
    digits = digit_slips(number, right)
    return (*best_slip(exact), *masses[:1], *best_slip(digits))


def _from_printed(each, factors):
    """Yield the reciprocal of what the table prints for the way back."""
    for other in factors:
        back = (other.start, other.goal) == (each.goal, each.start)
        if back and other.is_divisor == each.is_divisor and _is_right(other):
            words = f"the reciprocal of the printed {other.number.text}"
            yield TableSlip("row", words, 1 / other.number.value)


def _is_right(each):
    """Return whether a factor is rounded or cut right."""
    right = exact_factor(each.start, each.goal)
    right = 1 / right if right and each.is_divisor else right
    return right and (each.number.holds(right) or each.number.is_cut(right))


def _from_rounded(right):
    """Yield the reciprocals of the way back, rounded to few digits."""
    for decimals in (1, 2):
        rounded = round(1 / right, decimals)
        if rounded and abs(rounded * right - 1) > SMALL / 2:
            words = f"the reciprocal of {rounded:g}, the way back rounded"
            yield TableSlip("row", words, 1 / rounded)


def _other_goals(each):
    """Yield the factors to the other bases of what is wanted."""
    own = exact_factor(each.start, each.goal)
    for key in nutrient_keys():
        value = exact_factor(each.start, key) if own and key != each.goal else 0
        if value and abs(value / own - 1) > SMALL:
            value = 1 / value if each.is_divisor else value
            yield TableSlip("column", f"the factor from {each.start} to {key}", value)


def _other_starts(each):
    """Yield the factors from the other bases of what is known."""
    own = exact_factor(each.start, each.goal)
    for key in sorted(nutrient_keys(), key=len):
        value = exact_factor(key, each.goal) if own and key != each.start else 0
        if value and abs(value / own - 1) > SMALL and _is_alike(key, each.start):
            value = 1 / value if each.is_divisor else value
            yield TableSlip("column", f"the factor from {key} to {each.goal}", value)


def _is_alike(key, start):
    """Return whether a nutrient key is what is known, told on another basis."""
    meant = meant_by(start)
    return bool(meant and meant[0]) and family(key) == family(meant[0])


def _hydrates(each, right):
    """Yield the factors of the other hydrates of a salt."""
    start = meant_by(each.start)
    if not start or start[0]:
        return
    try:
        made = from_formula(start[1])
    except FormulateError:
        return
    for entry in catalogue().values():
        if entry.formula and not entry.is_liquid and is_same_salt(made, entry):
            key = next(iter(made.forms))
            value = right * entry.forms[key] / made.forms[key]
            if abs(value / right - 1) > SMALL:
                yield TableSlip("hydrate", f"the factor of {entry.name}", value)


@cache
def _older():
    found = {}
    for row in read_table("older_masses"):
        found.setdefault(row["element"], []).append((row.number("mass"), row["when"]))
    return found


def _masses(each):
    """Return the factors by older or rounded atomic masses, the nearest to today's first."""
    ratio = mole_ratio(each.start, each.goal)
    if not ratio:
        return []
    moles, start, goal = ratio
    atoms = {**parse_formula(start).atoms, **parse_formula(goal).atoms}
    found = []
    for words, masses, tag in _mass_choices(atoms):
        both = (masses, masses, words, tag)
        lone = ({}, masses, f"{words} in {goal} alone", "")
        for below, above, told, of_table in (both, lone):
            value = moles * mass_by(goal, above) / mass_by(start, below)
            value = 1 / value if each.is_divisor else value
            found.append(TableSlip("mass", told, value, of_table))
    return found


def _mass_choices(atoms):
    """Yield words, atomic masses that were or are in use, and what they are from."""
    eras = {}
    for element in atoms:
        for mass, when in _older().get(element, ()):
            words = f"{element} taken as {mass:g} g/mol, an older mass ({when})"
            yield words, {element: mass}, OLDER
            eras.setdefault(when, {})[element] = mass
    for when, masses in eras.items():
        listed = ", ".join(f"{e} {mass:g}" for e, mass in masses.items())
        if len(masses) > 1:
            yield f"the atomic masses of {when} ({listed})", masses, OLDER
    for decimals in (1, 0):
        for element in atoms:
            mass = round(atomic_mass(element), decimals)
            yield f"{element} taken as {mass:g} g/mol", {element: mass}, ""
    for decimals, words in ((1, "one decimal"), (0, "whole numbers")):
        masses = {e: round(atomic_mass(e), decimals) for e in atoms}
        yield f"atomic masses rounded to {words}", masses, ""


def _reciprocals(factors, allowed):
    """Yield whether each two factors there and back are each other's reciprocal."""
    seen = {}
    for each in factors:
        key = (each.goal, each.start, each.is_divisor)
        if key in seen:
            yield _reciprocal(seen[key], each, allowed)
        seen.setdefault((each.start, each.goal, each.is_divisor), each)


def _reciprocal(one, other, allowed):
    """Return whether two factors are each other's reciprocal within their rounding."""
    first, second = one.number, other.number
    low = (first.low - first.step / 2) * (second.low - second.step / 2) * (1 - allowed)
    high = (first.high + first.step) * (second.high + second.step) * (1 + allowed)
    product = first.value * second.value
    subject = f"lines {one.line} and {other.line}, {one.start} to {one.goal} and back"
    what = f"{first.text} × {second.text} = {printed(product, 6)}"
    facts = {"number": product, "limit": 1.0, **FACTS}
    if low <= 1.0 <= high:
        return Finding(subject, "right", what, **facts)
    what += f"; the reciprocal of {second.text} is {printed(1 / second.value, 6)}"
    return Finding(subject, "wrong", what, severity="caution", **facts)


def _alike(factors):
    """Yield each conversion that is printed twice."""
    seen = {}
    for each in factors:
        key = (each.start.casefold(), each.goal.casefold())
        if key in seen:
            first = seen[key]
            what = f"lines {first.line} and {each.line} both tell {each.start} to {each.goal}"
            yield Notice(
                f"{what}: {first.number.text} and {each.number.text}", "caution"
            )
        seen.setdefault(key, each)
