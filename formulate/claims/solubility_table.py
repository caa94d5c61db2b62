"""A published table of solubilities against temperature, checked number by number.

A number is right if it lies within what the sources of `solubility.csv` say at its
temperature, some percent more allowed: such tables seldom agree better. Near a handbook's
value nothing can be told, for handbooks differ. A row that does not agree is held against the slips that are common: values one column off, the waterless salt
for the hydrate, a share of the solution printed as per water.
"""

from dataclasses import dataclass
from functools import cache

from formulate.checks import checked_number
from formulate.claims.finding import Finding
from formulate.claims.solubility_columns import (
    COLD,
    MASS_PERCENT,
    factor_of,
    solubility_columns,
    solubility_row,
)
from formulate.claims.table_check import TableCheck, left_out_notices, rule_of_table
from formulate.claims.table_reading import read_published
from formulate.claims.table_slips import digit_slips, other_hydrates
from formulate.errors import Faults, FormulateError, shortened
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.solubility import solubility
from formulate.notices import Notice
from formulate.tables import read_table, rule_of
from formulate.working import printed

__all__ = ["check_solubility_table"]

PERCENT = 100.0
MOST_ALLOWED = 30.0
UNITS = ("g/100 g", "g/L", MASS_PERCENT)
RULE = "handbook solubilities in pure water"
MOST_NAMED = 3
SOLUTION = "mass percent (per 100 g of solution)"
IN_LITRES = "mass percent × 10 (per kg of solution)"


@dataclass(frozen=True)
class _Guess:
    """One way in which the numbers of a row may have come about."""

    words: str  # empty if they are right
    values: tuple  # (low, high) in the unit of each cell, None where not known
    made: Ingredient


@dataclass(frozen=True, eq=False)
class _Judged:
    """A row with the ways that explain most of it."""

    row: object
    right: tuple  # of _Guess, one for each reading
    best: tuple  # of _Guess, those that explain most
    allowed: float

    def fits(self, guess, place):
        """Return whether a guess explains a number."""
        return _fits(self.row.cells[place].number, guess.values[place], self.allowed)


def check_solubility_table(path_or_text, *, rule=None, tolerance_percent=None):
    """
    Return every number of a table of solubilities, right or with what explains it.

    Parameters
    ----------
    path_or_text : str or Path
        A CSV file, or its text: a column of names or formulas, and a column for each
        temperature.
    rule : str or None
        "us" or "eu"; solubilities are the same by both.
    tolerance_percent : float or None
        How far a number may be off what the sources say; 5 if None. Up to 10 it cannot be
        told. [%]

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
    >>> text = "g/100 mL at 20 °C\\nsalt;solubility\\ncalcium nitrate tetrahydrate;129\\n"
    >>> print(check_solubility_table(text).not_right[0].what)
    129 printed, 373 to 444 g/100 mL of added water for calcium nitrate tetrahydrate: the number \
of the waterless salt or per volume of solution, not of added water
    """
    rule_of_table(rule)
    percent = tolerance_percent
    if percent is None:
        percent = rule_of("paper_rules", "sources differ").number("value")
    checked_number(percent, "tolerance in %", least=0, most=MOST_ALLOWED)
    faults = Faults()
    table = read_published(path_or_text, solubility_columns, faults)
    rows = _rows(table, faults)
    unit, assumed = _unit(rows, percent / PERCENT)
    judged = [_judged(row, unit, percent / PERCENT) for row in rows]
    findings = [finding for one in judged for finding in _findings(one, unit)]
    assumed += [
        f"the first column {shortened(column.heading)} names the materials"
        for column in table.columns
        if column.key == "assumed"
    ]
    if any(cell.temperatures == COLD for row in rows for cell in row.cells):
        assumed.append(f"cold water is {COLD[0]:g} to {COLD[1]:g} °C")
    return TableCheck(
        "solubility",
        table.name,
        table.columns,
        tuple(findings),
        (*left_out_notices(table), *_notices(rows)),
        tuple(assumed),
    )


def _rows(table, faults):
    """Return the rows of a table, or raise every fault of them."""
    outside = "\n".join(each.text for each in table.left_out)
    rows = [solubility_row(table, line, faults, outside) for line in table.lines]
    if not any(row.cells for row in rows) and not faults.found:
        faults.add("no number in any column that is known")
    faults.raise_if_any()
    return rows


def _unit(rows, allowed):
    """Return the unit of numbers that tell none, and what was assumed."""
    if all(cell.unit for row in rows for cell in row.cells):
        return "", []

    def right(unit):
        judged = [_judged(row, unit, allowed) for row in rows]
        return sum(
            _is_right(one, p) for one in judged for p in range(len(one.row.cells))
        )

    best = max(UNITS, key=right)
    return best, [f"no unit is told; most numbers agree in {best}"]


def _notices(rows):
    """Yield each material that stands twice."""
    seen = {}
    for row in rows:
        key = (row.name.casefold(), tuple(cell.place for cell in row.cells))
        if key in seen and row.name:
            yield Notice(
                f"lines {seen[key]} and {row.line} are both of {row.name}", "caution"
            )
        seen.setdefault(key, row.line)


# --- what may have been printed ------------------------------------------------------------


@cache
def _known(formula_or_made, temperature):
    """Return grams of a solid per 100 g of water: value, low, high, mass percent, source."""
    try:
        found = solubility(formula_or_made, temperature)
    except FormulateError:
        return None
    if not found.table_range[0] <= temperature <= found.table_range[1]:
        return None
    return found


def _per_water(made, temperatures, factor=1.0):
    """Return the range of a solubility per 100 g of added water, of other water too."""
    found = [_known(_solid(made), each) for each in dict.fromkeys(temperatures)]
    if not all(found):
        return None
    return min(f.low for f in found), max(f.high for f in found)


def _solid(made):
    return made.formula or made


def _in_solution(made, temperatures):
    """Return the range of grams of a solid in 100 g of the saturated solution."""
    grams = _per_water(made, temperatures)
    return grams and tuple(PERCENT * g / (PERCENT + g) for g in grams)


def _in_volume(made, temperatures):
    """Return grams in 100 mL of solution: between those in 100 g and no room for salt."""
    share = _in_solution(made, temperatures)
    found = [_known(_solid(made), each) for each in temperatures]
    if not share or not all(found):
        return None
    return share[0], share[1] / (1 - max(f.mass_percent for f in found) / PERCENT)


def _printed_in(values, unit, of_water=True):
    """Return values per 100 g of water in the unit of a cell."""
    if values is None:
        return None
    if unit == MASS_PERCENT:
        return (
            tuple(PERCENT * v / (PERCENT + v) for v in values) if of_water else values
        )
    return tuple(v / factor_of(unit) for v in values)


def _waterless(made):
    """Return the waterless salt of a hydrate, or None."""
    formula = made.formula
    cut = max(formula.rfind(sign) for sign in "·.•*")
    return formula[:cut] if made.crystal_water and cut > 0 else None


def _kinds(made):
    """Yield (words, function of temperatures, per water) of how a number may come about."""
    yield "", lambda t: _per_water(made, t), True
    dry = _waterless(made)
    if dry:
        yield "the number of the waterless salt", lambda t: _of_formula(dry, t), True
    for name, formula in _wetter(made):
        yield f"the number of {name}", lambda t, f=formula: _of_formula(f, t), True
    yield (
        f"{SOLUTION}, not per added water",
        lambda t: _in_solution(made, t),
        False,
    )
    if dry:
        words = f"the waterless salt, {SOLUTION}"
        yield words, lambda t: _share_of(dry, t), False
    yield (
        "per volume of solution, not of added water",
        lambda t: _in_volume(made, t),
        False,
    )
    for factor, words in ((10, "ten times too much"), (0.1, "a tenth of it")):
        yield words, lambda t, f=factor: _times(_per_water(made, t), f), True


def _times(values, factor):
    return values and tuple(v * factor for v in values)


def _of_formula(formula, temperatures):
    found = [_known(formula, each) for each in dict.fromkeys(temperatures)]
    return (
        (min(f.low for f in found), max(f.high for f in found)) if all(found) else None
    )


def _share_of(formula, temperatures):
    grams = _of_formula(formula, temperatures)
    return grams and tuple(PERCENT * g / (PERCENT + g) for g in grams)


def _wetter(made):
    """Return name and formula of the other hydrates in the catalogue."""
    from formulate.ingredients.salts import catalogue

    names = [name for name, _ in other_hydrates(made)] if made.formula else []
    entries = [catalogue()[n] for n in names if n in catalogue()]
    return [(e.name, e.formula) for e in entries if e.formula and e.crystal_water]


def _guesses(row, made, unit):
    """Yield the guesses for a row: right first, then the plainest."""
    temperatures = [cell.temperatures for cell in row.cells]
    units = [cell.unit or unit for cell in row.cells]

    def guess(words, values, of_water):
        ranges = [
            _printed_in(v, u, of_water) for v, u in zip(values, units, strict=True)
        ]
        return _Guess(words, tuple(ranges), made)

    for words, value, of_water in _kinds(made):
        if not of_water and COLD in temperatures:
            continue  # too wide a range to say so much
        is_per_litre = any(u != MASS_PERCENT and factor_of(u) < 1 for u in units)
        told = words.replace(SOLUTION, IN_LITRES) if is_per_litre else words
        yield guess(told, [value(t) for t in temperatures], of_water)
        if not words and len(temperatures) > 1:
            for side, moved in _moved(temperatures):
                yield guess(
                    f"the values stand one column too far {side}",
                    [t and _per_water(made, t) for t in moved],
                    True,
                )


def _moved(temperatures):
    """Return (side, temperatures) of values that were printed one column off."""
    first, last = temperatures[0], temperatures[-1]
    before = (max(first[0] - 10, 0.0), max(first[0] - 0.01, 0.0))
    after = (last[1], last[1] + 10)
    return (
        ("right", [before, *temperatures[:-1]]),
        ("left", [*temperatures[1:], after]),
    )


def _fits(number, values, allowed):
    """Return whether a printed number lies in a range, its rounding and more allowed."""
    if values is None:
        return False
    low = values[0] * (1 - allowed) - number.step
    return (
        low <= number.high and number.low <= values[1] * (1 + allowed) + number.step / 2
    )


def _judged(row, unit, allowed):
    """Return a row with what explains it best."""
    right, ranked = [], []
    for made in row.readings:
        for order, guess in enumerate(_guesses(row, made, unit)):
            held = sum(
                _fits(cell.number, values, allowed)
                for cell, values in zip(row.cells, guess.values, strict=True)
            )
            if order == 0:
                right.append(guess)
            ranked.append(((held, not guess.words, -order), guess))
    most = max((rank[:2] for rank, _ in ranked), default=None)
    best = [guess for rank, guess in ranked if rank[:2] == most and most[0]]
    return _Judged(row, tuple(right), tuple(best), allowed)


def _is_right(one, place):
    return any(one.fits(guess, place) for guess in one.right)


def _is_right_alone(one, place):
    """Return whether a number is right by itself, whatever explains its neighbours."""
    return len(one.right) == 1 and _is_right(one, place)


# --- findings ----------------------------------------------------------------------------


def _findings(one, unit):
    """Yield what a row tells: of its name first, then of each number."""
    row = one.row
    yield from row.told
    named = [guess for guess in one.best if not guess.words]
    if len(row.readings) > 1 and not row.told and row.cells:
        yield _of_name(one, named)
    for place, cell in enumerate(row.cells):
        yield _finding(one, place, cell.unit or unit, named)


def _of_name(one, named):
    """Return which material a name without its crystal water means."""
    row = one.row
    subject = f"line {row.line}, {row.name}"
    names = ", ".join(made.name for made in row.readings)
    head = f"the name means several materials ({names})"
    whole = [g for g in named if all(one.fits(g, p) for p in range(len(row.cells)))]
    facts = {"severity": "caution", "rule": RULE}
    if len(whole) == 1:
        what = f"{head}; only {whole[0].made.name} fits the numbers"
        return Finding(subject, "right", what, **facts)
    if whole:
        fit = " and ".join(guess.made.name for guess in whole[:MOST_NAMED])
        return Finding(
            subject, "cannot tell", f"{head}; {fit} fit: write which", **facts
        )
    return Finding(subject, "cannot tell", f"{head}; none fits all numbers", **facts)


def _finding(one, place, unit, named):
    """Return what a number is."""
    cell, row = one.row.cells[place], one.row
    subject, text = f"line {row.line}, {row.name}, {cell.place}", cell.number.text
    known_right = one.right if _is_right_alone(one, place) else named
    holding = [guess for guess in known_right if one.fits(guess, place)]
    guesses = holding or named or [g for g in one.right if g.values[place]]
    known = next((guess for guess in guesses if guess.values[place]), None)
    if known is None:
        what = f"{text} printed; no table at hand holds it at this temperature"
        return Finding(subject, "cannot tell", what, cell.number.value, rule=RULE)
    what = f"{text} printed, {_spoken(known.values[place], unit)} for {known.made.name}"
    facts = _facts(cell, known, place)
    whole = [g for g in named if all(one.fits(g, p) for p in range(len(row.cells)))]
    if holding and len(whole) > 1 and not row.told:
        names = " and ".join(guess.made.name for guess in whole[:MOST_NAMED])
        return Finding(
            subject, "cannot tell", f"{text} printed; it fits {names}", **facts
        )
    if holding:
        return Finding(subject, "right", what, **facts)
    slips = _explained(one, place, known)
    near = "" if _is_row_slip(one, place) else _near_handbook(one, place, unit)
    if near:
        what += "".join(f"; or {slip}" for slip in slips[:1])
        what = f"{what}; {near}"
        return Finding(subject, "cannot tell", what, severity="caution", **facts)
    if slips:
        told = " or ".join(slips[:2])
        return Finding(subject, "wrong", f"{what}: {told}", severity="serious", **facts)
    off = cell.number.value / facts["limit"] - 1
    what += f"; {off:+.0%} off, and no slip that is known explains it"
    others = [g for g in one.right if g is not known and g.values[place]]
    for guess in others[:MOST_NAMED]:
        what += f", nor {guess.made.name} ({_spoken(guess.values[place], unit)})"
    return Finding(subject, "wrong", what, severity="caution", **facts)


def _is_row_slip(one, place):
    """Return whether a slip explains a number and more of its row than its sources do."""
    fitting = [g for g in one.best if g.words and one.fits(g, place)]
    places = [p for p in range(len(one.row.cells)) if not _is_right_alone(one, p)]
    return any(sum(one.fits(g, p) for p in places) > 1 for g in fitting)


def _near_handbook(one, place, unit):
    """Return that handbooks differ as much as a number is off; "" if it is off more."""
    cell, rule = one.row.cells[place], rule_of("paper_rules", "handbooks differ")
    percent = rule.number("value")
    for guess in one.right:
        others = [
            (value, value) for value in _other_handbooks(guess.made, cell.temperatures)
        ]
        for values in filter(None, (guess.values[place], *_in_unit(others, unit))):
            if _fits(cell.number, values, percent / PERCENT):
                found = f"{_spoken(values, unit)} by a handbook"
                return f"handbooks differ, it is within {percent:g} % of {found}"
    return ""


def _in_unit(pairs, unit):
    """Return values per 100 g of water in a unit."""
    return [_printed_in(pair, unit) for pair in pairs]


def _other_handbooks(made, temperatures):
    """Yield what other handbooks print of a solid, in g per 100 g of water."""
    low, high = temperatures
    for row in read_table("handbook_solubility"):
        is_same = made.formula and row["formula"] == made.formula
        if is_same and low <= row.number("temperature") <= high:
            yield row.number("value")


def _facts(cell, known, place):
    """Return number, limit, rule and source of a finding."""
    found = _known(_solid(known.made), cell.temperatures[0])
    low, high = known.values[place]
    return {
        "number": cell.number.value,
        "limit": (low + high) / 2,
        "rule": RULE,
        "source_key": found.source_key if found else "",
    }


def _spoken(values, unit):
    """Return a range of solubilities with its unit."""
    low, high = (printed(value, 3) for value in values)
    ends = low if low == high else f"{low} to {high}"
    of_water = "" if unit == MASS_PERCENT else " of added water"
    return f"{ends} {unit}{of_water}"


def _explained(one, place, known):
    """Return the slips that explain a number, in words: those of the whole row first."""
    words = [g.words for g in one.best if g.words and one.fits(g, place)]
    if words:
        return list(dict.fromkeys(words))
    number, (low, high) = one.row.cells[place].number, known.values[place]
    middle = (low + high) / 2
    ends = (low / middle * (1 - one.allowed), high / middle * (1 + one.allowed))
    if one.row.cells[place].temperatures == COLD:
        return []
    found = [s for s in digit_slips(number, middle, *ends) if s.kind == "exchanged"]
    return [str(slip) for slip in found]
