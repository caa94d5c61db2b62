"""A published table of salts and their percentages, checked number by number.

Each number is held against the pure salt within the rounding it is printed with; what lies
below it agrees where all numbers of the row share one purity. What does not agree is held
against the slips that those who print tables make.
"""

from collections import Counter
from dataclasses import replace

from formulate.checks import checked_number
from formulate.claims.finding import Finding
from formulate.claims.salt_columns import MOLAR_MASS, salt_columns, salt_row
from formulate.claims.salt_fit import (
    chelate_between,
    fit_of,
    least_purity,
    older_masses,
    right_value,
    sold_as,
)
from formulate.claims.salt_judged import judged_row
from formulate.claims.table_check import (
    TableCheck,
    alike_notices,
    left_out_notices,
    rule_of_table,
)
from formulate.claims.table_reading import read_published
from formulate.claims.table_slips import (
    MAIN,
    TableSlip,
    basis_slips,
    best_slip,
    decimal_slips,
    digit_slips,
    fitting_slips,
    hydrate_slips,
    material_slips,
    other_key_slips,
    waterless_factor,
)
from formulate.errors import Faults, shortened
from formulate.ingredients.salts import catalogue
from formulate.notices import Notice
from formulate.working import printed

__all__ = ["check_salt_table"]

PERCENT = 100.0
MOST_ALLOWED = 5.0
FINE = 0.05  # steps below this are worked out, not measured
SURE_DIGITS = 3
OF_ONE = ("exchanged", "digit")  # slips of a lone number
MOST_NAMED = 3
SMALL = 0.02
RULE = "molar masses and the rounding of each number"
HIGH = "no bag of it holds so much; what a label guarantees is another material"
FACTS = {"rule": RULE, "source_key": "stoichiometry"}


def check_salt_table(path_or_text, *, rule=None, tolerance_percent=None):
    """
    Return every number of a table of salts, right or with what explains it.

    Parameters
    ----------
    path_or_text : str or Path
        A CSV file, or its text: a column of names or formulas, and columns of mass shares
        on any basis, grades such as 13-0-46, or molar masses.
    rule : str or None
        "us" or "eu": how bare words such as "phosphate" in headings are read.
    tolerance_percent : float or None
        How far a number may be off beyond its rounding, of its own size; 0.03 if None,
        which older atomic masses explain. [%]

    Returns
    -------
    TableCheck
        A finding for each number.

    Raises
    ------
    InputError
        With every fault by line and column.

    Examples
    --------
    >>> check = check_salt_table("salt;N %;K %\\nKNO3;13,85;46,58\\nurea;46,6;\\n")
    >>> print(check.not_right[0])
    line 2, KNO3, K %: wrong; 46,58 printed, 38.672 in KNO3: K2O printed as K
    """
    rule = rule_of_table(rule)
    if tolerance_percent is not None:
        tolerance_percent = checked_number(
            tolerance_percent, "tolerance in %", least=0, most=MOST_ALLOWED
        )
    allowed = (
        older_masses() if tolerance_percent is None else tolerance_percent
    ) / PERCENT
    faults = Faults()
    table = read_published(
        path_or_text, lambda cells: salt_columns(cells, rule), faults
    )
    rows = _rows(table, faults)
    judged = [judged_row(row, allowed) for row in rows]
    candidates = _candidates(judged)
    findings = [f for one in judged for f in _findings(one, candidates)]
    notices = [
        *left_out_notices(table),
        *alike_notices(table),
        *_whole_columns(judged, candidates),
    ]
    return TableCheck(
        "salts",
        table.name,
        table.columns,
        tuple(findings),
        tuple(notices),
        tuple(_assumed(table, judged)),
    )


# --- rows --------------------------------------------------------------------------------


def _rows(table, faults):
    """Return the rows of a table, or raise every fault of them."""
    rows = [salt_row(table, line, faults) for line in table.lines]
    if not any(row.cells for row in rows) and not faults.found:
        faults.add("no number in any column that is known")
    faults.raise_if_any()
    return rows


# --- slips -------------------------------------------------------------------------------


def _candidates(judged):
    """Return (row, cell) to the slips that explain a number, the best first."""
    found = {}
    for number, one in enumerate(judged):
        if not one.fits or one.is_open:
            continue
        for place, cell in enumerate(one.row.cells):
            if one.doubts(place):
                found[one.row.line, place] = _of_readings(one, cell, judged, number)
    return _ordered(judged, found)


def _ordered(judged, found):
    """Return the slips of each number: first what explains most of its row and column."""
    columns = {
        (one.row.line, place): cell.place
        for one in judged
        for place, cell in enumerate(one.row.cells)
    }
    by_row, by_column = Counter(), Counter()
    for place, slips in found.items():
        for kind, tag in {(s.kind, s.tag) for s in slips if s.kind not in OF_ONE}:
            by_row[place[0], kind, tag] += 1
            by_column[columns[place], kind, tag] += 1

    def counts(place, slips):
        return {
            (s.kind, s.tag): max(by_row[place[0], s.kind, s.tag], 1)
            + max(by_column[columns[place], s.kind, s.tag] - 1, 0)
            for s in slips
        }

    return {place: best_slip(s, counts(place, s)) for place, s in found.items()}


def _of_readings(one, cell, judged, number):
    """Return the slips by the material that fits best, else by the others of its name."""
    found = _slips(one, cell, judged, number)
    if found or len(one.fits) < 2:
        return found
    for fit in one.fits[1:]:
        for slip in _slips(replace(one, fits=(fit,)), cell, judged, number):
            found.append(replace(slip, words=f"{slip.words}, of {fit.made.name}"))
    return found


def _slips(one, cell, judged, number):
    """Return the slips that explain a number of a row."""
    fit, right = one.fits[0], right_value(one.made, cell.key)
    low, high = (fit.low, fit.high) if fit.agreeing and one.is_trusted else (1.0, 1.0)
    digits = cell.number.digits
    slips = [*_exchanged_rows(one, cell, judged)]
    slips += _row_slips(one, cell, judged, number) if digits >= SURE_DIGITS else []
    if cell.key == MOLAR_MASS:
        slips += _mass_slips(one.made, right, digits)
        low = high = 1.0
    else:
        keys = [c.key for c in one.row.cells if c.key not in (MOLAR_MASS, cell.key)]
        keys += [k for k in MAIN if k not in keys and digits >= SURE_DIGITS]
        slips += other_key_slips(one.made, cell.key, keys)
        if right > 0:
            slips += basis_slips(one.made, cell.key)
            slips += hydrate_slips(one.made, right, digits)
    if right:
        slips += decimal_slips(right)
    fitting = fitting_slips(cell.number, slips, low, high, cell.scale)
    if right:
        fitting += digit_slips(cell.number, right, low, high, cell.scale)
    return fitting or _last_slips(one, cell, right, slips)


def _last_slips(one, cell, right, slips):
    """Return what may explain a number that nothing plainer does."""
    number = cell.number
    if right and cell.key != MOLAR_MASS and number.digits >= SURE_DIGITS:
        others = material_slips(one.made, cell.key)
        return fitting_slips(number, others, scale=cell.scale)
    if right or not number.value:
        return []
    columns = [slip for slip in slips if slip.kind == "column"]
    found = fitting_slips(number, columns, least_purity(), 1.0, cell.scale)
    return [_of_grade(slip, number, cell.scale) for slip in found[:1]]


def _of_grade(slip, number, scale):
    """Return a slip of a number that is below that of the pure salt."""
    share = printed(PERCENT * number.value * scale / slip.value, 3)
    return replace(slip, words=f"{slip.words}, of a grade of {share} % purity")


def _mass_slips(made, right, digits):
    """Return the molar masses of the other hydrates."""
    shares = hydrate_slips(made, 1.0, digits)
    return [replace(slip, value=right / slip.value) for slip in shares]


def _row_slips(one, cell, judged, number):
    """Yield the numbers that other rows have in the column, the nearest rows first."""
    others = sorted(enumerate(judged), key=lambda pair: abs(pair[0] - number))
    for place, other in others:
        value = right_value(other.made, cell.key) if other.made else None
        if place != number and value and other.made is not one.made:
            words = f"the number of line {other.row.line}, {other.row.name}"
            yield TableSlip("row", words, value, str(place - number))


def _exchanged_rows(one, cell, judged):
    """Yield the numbers of rows that have the right one of this row instead of theirs."""
    right = (right_value(one.made, cell.key) or 0.0) / cell.scale
    for other in judged:
        if not right or other is one or not other.made or other.made is one.made:
            continue
        for place, held in enumerate(other.row.cells):
            value = right_value(other.made, held.key)
            is_exchanged = value and held.number.holds(right) and other.doubts(place)
            is_told = held.key == cell.key and cell.number.digits >= SURE_DIGITS
            if is_exchanged and not is_told:
                words = f"exchanged with line {other.row.line}, {other.row.name}"
                yield TableSlip("row", words, value, f"exchanged {other.row.line}")


# --- findings ----------------------------------------------------------------------------


def _findings(one, candidates):
    """Yield what a row tells: of its name first, then of each number."""
    row = one.row
    yield from row.told
    if not one.fits:
        yield from _unknown(row)
        return
    if len(row.readings) > 1 and not row.told:
        yield _of_name(one)
    for place, cell in enumerate(row.cells):
        subject = f"line {row.line}, {row.name}, {cell.place}"
        if _is_empty(one, cell):
            continue
        if one.is_open and not one.is_nought(cell):
            yield _open(one, cell, subject)
        elif cell.key == MOLAR_MASS and right_value(one.made, MOLAR_MASS) is None:
            what = f"{cell.number.text} printed; {one.made.name} has no one formula"
            yield Finding(subject, "cannot tell", what, **FACTS)
        elif not one.doubts(place):
            yield _right(one, cell, subject)
        else:
            yield _wrong(one, place, subject, candidates.get((row.line, place), ()))


def _is_empty(one, cell):
    """Return whether a number is the 0 of a grade for what the salt does not hold."""
    return (
        " of " in cell.place and not cell.number.high and not one.made.percent(cell.key)
    )


def _unknown(row):
    """Yield that the numbers of an unknown material cannot be told."""
    shares = [cell for cell in row.cells if cell.key != MOLAR_MASS]
    fits = [fit_of(made, shares) for made in catalogue().values() if made.formula]
    held = [
        fit.made.name
        for fit in fits
        if fit.is_pure
        and len(fit.agreeing) == len(shares)
        and all(fit.made.percent(c.key) > 0 for c in shares)
    ]
    more = f"; the row fits {' or '.join(held[:MOST_NAMED])}" if held and shares else ""
    for cell in row.cells:
        subject = f"line {row.line}, {row.name}, {cell.place}"
        what = f"{cell.number.text} printed, and the material is not known{more}"
        yield Finding(subject, "cannot tell", what, **FACTS)


def _of_name(one):
    """Return what a name that means several materials is found to mean."""
    row = one.row
    subject = f"line {row.line}, {row.name}"
    names = ", ".join(made.name for made in row.readings)
    head = f"the name means several materials ({names})"
    if not row.cells:
        return Finding(subject, "cannot tell", head, severity="caution", **FACTS)
    best = " or ".join(fit.made.name for fit in one.fits[:MOST_NAMED])
    if one.is_open and all(map(one.is_nought, row.cells)):
        what = f"{head}; what is printed holds for each of them"
        return Finding(subject, "right", what, severity="caution", **FACTS)
    if one.is_open:
        what = f"{head}; the numbers fit {best}: write which"
        return Finding(subject, "cannot tell", what, severity="caution", **FACTS)
    if len(one.fits) > 1 or any(one.doubts(p) for p in range(len(row.cells))):
        what = f"{head}; the numbers fit none of them, and {best} best"
        return Finding(subject, "cannot tell", what, severity="caution", **FACTS)
    what = f"{head}; only {best} fits the numbers"
    return Finding(subject, "right", what, severity="caution", **FACTS)


def _open(one, cell, subject):
    """Return that a number agrees with several materials."""
    names = " and ".join(fit.made.name for fit in one.fits[:MOST_NAMED])
    what = f"{cell.number.text} printed; it fits {names}"
    return Finding(subject, "cannot tell", what, cell.number.value, **FACTS)


def _right(one, cell, subject):
    """Return that a number is right, and why."""
    fit, number = one.fits[0], cell.number
    value = right_value(one.made, cell.key)
    right = value / cell.scale
    if cell.key != MOLAR_MASS and not one.made.formula:
        what = (
            f"{number.text} printed, {printed(right)} by the label of {one.made.name}"
        )
    elif one.grade and value and cell.key != MOLAR_MASS:
        what = f"as sold, grade {one.grade}; {number.text} printed, "
        is_pure = one.made.is_liquid or one.made.purity_percent == PERCENT
        what += f"{printed(right, 5)} in {'pure ' * is_pure}{one.made.name}"
    elif fit.is_pure or cell.key == MOLAR_MASS or not value:
        what = f"{number.text} printed, {printed(right, 5)} in pure {one.made.name}"
        what += _rounding(number, right)
    else:
        ends = dict.fromkeys(printed(end * PERCENT, 3) for end in (fit.low, fit.high))
        what = f"commercial of {' to '.join(ends)} % purity; {number.text} printed, "
        if fit.low < least_purity() - SMALL:
            what = f"as sold, {' to '.join(ends)} % of pure; {number.text} printed, "
        what += f"{printed(right, 5)} in pure {one.made.name}"
    return Finding(subject, "right", what, number.value, right, **FACTS)


def _rounding(number, right):
    """Return how a right number was rounded, where that needs a word."""
    if number.holds(right):
        is_high = number.low > right * (1 + SMALL)
        return f", rounded up by {number.low - right:.2g}: {HIGH}" if is_high else ""
    if number.is_cut(right):
        return ", cut off"
    is_pure = abs(number.value / right - 1) * PERCENT <= 2 * older_masses()
    return (
        ", as older atomic masses give it"
        if is_pure
        else ", and more in the pure compound"
    )


def _wrong(one, place, subject, slips):
    """Return that a number is wrong, or cannot be told, with what explains it."""
    cell, fit = one.row.cells[place], one.fits[0]
    value = right_value(one.made, cell.key)
    right, number = value / cell.scale, cell.number
    what = f"{number.text} printed, {printed(right, 5)} in {one.made.name}"
    facts = {**FACTS, "number": number.value, "limit": right}
    told = f": {_told(slips, number)}" if slips else ""
    between = "" if slips else chelate_between(one.made, cell)
    if between:
        what += f"; {between}"
        return Finding(subject, "cannot tell", what, severity="caution", **facts)
    is_below = place in fit.agreeing or _is_grade(cell, right, slips)
    is_below = is_below and cell.key != MOLAR_MASS
    if is_below and (not slips or number.step * cell.scale >= FINE):
        share = printed(PERCENT * number.value / right, 3)
        more = f", or{told[1:]}" if told else ""
        what += f": a grade of {share} % purity{more or ', or a misprint'}"
        return Finding(subject, "cannot tell", what, severity="caution", **facts)
    off = abs(number.value / right - 1) if right else 1.0
    severity = "serious" if off > SMALL else "caution"
    if slips and slips[0].kind not in ("water", "material"):
        return Finding(subject, "wrong", what + told, severity=severity, **facts)
    return _unexplained(one, cell, subject, what, facts, told)


def _is_grade(cell, right, slips):
    """Return whether a number of few digits may be what a bag is sold with."""
    share = (cell.number.high + cell.number.step / 2) / right if right else 0.0
    return (
        least_purity() <= share <= 1 and cell.number.digits < SURE_DIGITS and not slips
    )


def _told(slips, number):
    """Return the slips that explain a number: one, and others of few digits."""
    most = 1 if number.digits > SURE_DIGITS else MOST_NAMED
    same = [s for s in slips if s.kind == slips[0].kind or number.digits < SURE_DIGITS]
    return " or ".join(dict.fromkeys(str(slip) for slip in same[:most]))


def _unexplained(one, cell, subject, what, facts, told):
    """Return that a number is wrong and no slip of printers explains it."""
    right, value = facts["limit"], cell.number.low - cell.number.step
    shares = [cell for cell in one.row.cells if cell.key != MOLAR_MASS]
    sold = sold_as(one.made, shares)
    if sold:
        what += f": the row fits {sold}, which is not this formula; use the label"
        return Finding(subject, "wrong", what, severity="caution", **facts)
    if cell.key != MOLAR_MASS and value > right * waterless_factor(one.made):
        most = printed(right * waterless_factor(one.made), 5)
        what += (
            f"; more than it can hold without any water, {most}"
            if right
            else ": it holds none"
        )
        return Finding(subject, "impossible", what + told, severity="serious", **facts)
    if told:
        return Finding(subject, "wrong", what + told, severity="caution", **facts)
    off = cell.number.value / right - 1 if right else 0.0
    severity = "serious" if abs(off) > SMALL else "caution"
    what += f"; {off:+.1%} off, and no slip that is known explains it"
    return Finding(subject, "wrong", what, severity=severity, **facts)


# --- the whole table -----------------------------------------------------------------------


def _whole_columns(judged, candidates):
    """Yield the slips that explain most numbers of a column."""
    found, cells = Counter(), Counter()
    for one in judged:
        for place, cell in enumerate(one.row.cells):
            cells[cell.place] += 1
            slips = candidates.get((one.row.line, place), ())
            if slips and slips[0].kind in ("basis", "decimal"):
                found[cell.place, slips[0].words] += 1
    for (place, words), count in found.items():
        if count > 1 and 2 * count >= cells[place]:
            what = f"column {shortened(place)}: {words} in {count} of {cells[place]} numbers"
            yield Notice(what, "serious", source_key="stoichiometry")


def _assumed(table, judged):
    """Yield what had to be assumed to read a table."""
    for column in table.columns:
        if column.key == "assumed":
            yield f"the first column {shortened(column.heading)} names the materials"
        if column.role == "grade":
            yield f"column {shortened(column.heading)} is N-P2O5-K2O"
    for one in judged:
        if len(one.row.readings) > 1 and len(one.fits) == 1 and not one.row.told:
            yield f"line {one.row.line}: {one.row.name} is {one.made.name}"
