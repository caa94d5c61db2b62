"""Takes a water report apart: from the lines of a text or CSV to quantities with values.

Every entry carries its line, its value in the unit that was printed, the basis on which
it counts, and what had to be assumed to read it. What is not read is listed with its line.
"""

import re
from dataclasses import dataclass, replace

from formulate.errors import Faults, InputError, shortened
from formulate.ingredients.report_cells import decimal_marks, number_in_report
from formulate.ingredients.report_lines import take_line
from formulate.ingredients.report_rows import EMPTY, Lines, add_row
from formulate.ingredients.report_units import kinds_of
from formulate.ingredients.report_words import DEGREES, name_in_report, on_basis
from formulate.notices import LeftOut
from formulate.stoichiometry.units import CONCENTRATIONS, Unit
from formulate.stoichiometry.units import unit as known_unit

__all__ = ["Entry", "Report", "read_report", "report_of_mapping"]

MOST_CHARACTERS = 300_000
MOST_LINES = 3000
LONGEST_LINE = 2000
HIDDEN = re.compile(r"[^\S\t]|[\x00-\x08\x0b-\x1f\x7f\u200b-\u200f\u2060\ufeff]")
WIDE_BLANK = re.compile(r"(?<=\d)[\u00a0\u2007\u2009\u202f](?=\d{3}(?!\d))")
HOUSE_CONDUCTIVITY = "mS/cm"
MEASURED = (*CONCENTRATIONS, "conductivity")
USUAL_UNITS = {  # where a report leaves the unit out as a matter of course
    "temperature": "°C",
    "ion_balance": "%",
    "cation_sum": "meq/L",
    "anion_sum": "meq/L",
}


@dataclass(frozen=True)
class Entry:
    """
    One quantity that a report tells.

    Attributes
    ----------
    line : int
        Line in the report, the first being 1. [-]
    word : str
        Its name as printed.
    quantity : str
        What it is: key of a form, or "alkalinity", "hardness", "pH", "EC" ...
    value : float
        The value in `unit`; 0 for what was looked for and not found. [-]
    unit : Unit or None
        Its unit; None for a pH.
    basis : str
        Nutrient key or formula on which it counts.
    assumed : bool
        Whether the basis was not told and the usual one is taken.
    low : float or None
        Least value, where a range is told. [-]
    high : float or None
        Greatest value, where a range or a reporting limit is told. [-]
    sign : str
        "<", ">", "nothing" (looked for, not found) or empty.
    temperature : float or None
        Temperature to which it belongs. [°C]
    printed : str
        The value as printed.
    beside : str
        What else stands in the line and was not used.
    limit : str
        Limits that are printed beside it.
    said : tuple of str
        What was assumed to read it.
    """

    line: int
    word: str
    quantity: str
    value: float
    unit: Unit | None = None
    basis: str = ""
    assumed: bool = False
    low: float | None = None
    high: float | None = None
    sign: str = ""
    temperature: float | None = None
    printed: str = ""
    beside: str = ""
    limit: str = ""
    said: tuple = ()

    @property
    def where(self):
        """Return the line and the name, to begin a message with."""
        return f"line {self.line}, {self.word}"


@dataclass(frozen=True)
class Report:
    """
    A report taken apart.

    Attributes
    ----------
    entries : tuple of Entry
        What was read, in the order of the lines.
    left_out : tuple of LeftOut
        The lines that hold a number or a quantity and were not read.
    """

    entries: tuple
    left_out: tuple = ()

    def entry(self, quantity):
        """
        Return the first entry of a quantity.

        Parameters
        ----------
        quantity : str
            Such as "calcium" or "EC".

        Returns
        -------
        Entry or None
            The entry; None if the report does not tell it.

        Examples
        --------
        >>> read_report("Calcium ..... 94,4 mg/l").entry("calcium").value
        94.4
        """
        return next((e for e in self.entries if e.quantity == quantity), None)


def read_report(text, *, unit=None, faults=None):
    """
    Take a water report apart.

    Parameters
    ----------
    text : str
        The report: lines of a text, or a CSV with a heading line.
    unit : str or None
        Unit of values that stand without one; None if every value must have one.
    faults : Faults or None
        Collects what cannot be read; if None, it is raised.

    Returns
    -------
    Report
        What was read, and what was left out.

    Raises
    ------
    InputError
        With every fault and its line.

    Examples
    --------
    >>> text = "Parameter;Einheit;Ergebnis\\nCalcium;mg/l;94,4\\nNitrit;mg/l;< 0,01"
    >>> [(entry.quantity, entry.value) for entry in read_report(text).entries]
    [('calcium', 94.4), ('nitrite', 0.0)]
    """
    defaults = [] if unit is None else [known_unit(unit, *MEASURED)]
    lines = Lines(Faults("water report") if faults is None else faults)
    for number, line in _lines(text):
        take_line(lines, number, line)
    report = _report(lines, defaults)
    if faults is None:
        lines.faults.raise_if_any()
    return report


def report_of_mapping(contents, *, unit="mg/L", faults=None):
    """
    Take an analysis apart that is given as names and values.

    Parameters
    ----------
    contents : mapping of str to float or str
        Name of a quantity to its value; text may carry its unit. [-]
    unit : str
        Unit of bare numbers; a bare conductivity is in mS/cm.
    faults : Faults or None
        Collects what cannot be read; if None, it is raised.

    Returns
    -------
    Report
        What was read; "line" is the place in the mapping.

    Raises
    ------
    InputError
        With every fault.

    Examples
    --------
    >>> report_of_mapping({"Nitrate-N": "3.7 mg/L"}).entries[0].basis
    'NO3-N'
    """
    defaults = [known_unit(name, *MEASURED) for name in (unit, HOUSE_CONDUCTIVITY)]
    lines = Lines(Faults("water report") if faults is None else faults)
    for number, (key, value) in enumerate(dict(contents).items(), 1):
        said = name_in_report(str(key))
        if said is None:
            lines.faults.add(f"{shortened(key)} is no quantity of a water report")
        elif isinstance(value, bool) or value is None:
            lines.faults.add(f"{shortened(key)}: {shortened(value)} is no value")
        elif said.quantity == "other":
            lines.leave(number, f"{key}: {value}", "known and not counted")
        else:
            row = [("value", str(key), None, str(value).strip()[:LONGEST_LINE])]
            add_row(lines, number, str(key), said, row)
    report = _report(lines, defaults)
    if faults is None:
        lines.faults.raise_if_any()
    return report


def _lines(text):
    """Yield (number, line) of a text, bounded, without signs that cannot be seen."""
    if not isinstance(text, str):
        raise InputError(f"water report: {shortened(text)} is no text")
    if len(text) > MOST_CHARACTERS:
        raise InputError(f"water report: longer than {MOST_CHARACTERS} characters")
    lines = re.split(r"\r\n|\r|\n", text.removeprefix("\ufeff"))
    if len(lines) > MOST_LINES:
        raise InputError(f"water report: more than {MOST_LINES} lines")
    for number, line in enumerate(lines, 1):
        if len(line) > LONGEST_LINE:
            what = f"line {number} is longer than {LONGEST_LINE} characters"
            raise InputError(f"water report: {what}")
        yield number, HIDDEN.sub(" ", WIDE_BLANK.sub("'", line))


def _report(lines, defaults):
    """Return the report, once every line is read and the decimal mark can be known."""
    cells = [cell for found in lines.found for cell in found.cells.values()]
    marks = decimal_marks(text for c in cells for text in (c.number, c.upper) if text)
    marks = frozenset(".") if lines.commas else marks
    entries, left_out = [], [LeftOut(*left) for left in lines.left_out]
    for found in lines.found:
        with lines.faults.collecting(f"line {found.line}, {found.word}"):
            told = list(_entries(found, marks, defaults, lines.commas))
            entries += told
            if not told:
                text = f"{found.word} {_printed(found)}"
                left_out.append(LeftOut(found.line, text, EMPTY))
    return Report(tuple(entries), tuple(sorted(left_out, key=lambda left: left.line)))


def _printed(found):
    """Return every text of a line but its name."""
    return "; ".join(filter(None, [_value_printed(found), *found.beside]))


def _value_printed(found):
    """Return the values of a line and its unit as printed."""
    order = sorted(found.cells, key=lambda role: role not in ("mean", "value"))
    cells = [found.cells[role].printed for role in order]
    return "; ".join(filter(None, [*cells, found.unit_text]))


def _entries(found, marks, defaults, commas):
    """Yield the entry of a line, and a second one where it is told in a second unit."""
    main = found.cells.get("mean") or found.cells.get("value")
    also = found.cells.get("also")
    if also is not None and (main is None or main.sign == "unmeasured"):
        found, main, also = _second(found, also), also, None
    if main is not None and main.sign == "unmeasured":
        return
    said = list(found.notes)
    value, low, high = _numbers(main, marks, commas, said)
    low, high = _bounds(found, marks, commas, said, low, high)
    if value is None:
        if low is None or high is None:
            return
        value = _middle(low, high, said)
    elif "mean" in found.cells:
        said.append("the mean is taken")
        if (low is not None and value < low) or (high is not None and value > high):
            what = f"the mean {value:g} lies outside its range"
            raise InputError(f"{what} ({low} to {high}); are columns exchanged?")
    yield _entry(found, main, (value, low, high), defaults, said)
    if also is not None and also.number:
        notes = []
        value, low, high = _numbers(also, marks, commas, notes)
        value = _middle(low, high, notes) if value is None else value
        second = _second(found, also)
        yield replace(_entry(second, also, (value, low, high), (), notes), beside="")


def _middle(low, high, said):
    said.append(f"from {low:g} to {high:g}: the middle is taken")
    return (low + high) / 2


def _second(found, cell):
    """Return a line whose value stands in the unit of its second column."""
    own = (cell.unit, cell.species) if cell.unit else None
    said = replace(found.said, unit=None)
    return replace(found, said=said, own_unit=own, cells={"value": cell})


def _entry(found, main, numbers, defaults, said):
    """Return an entry from its numbers, with its unit and basis."""
    value, low, high = numbers
    of_unit, wording = _unit_and_basis(found, main, defaults, said)
    return Entry(
        line=found.line,
        word=found.word,
        quantity=wording.quantity,
        value=value,
        unit=of_unit,
        basis=wording.basis,
        assumed=wording.assumed,
        low=low,
        high=high,
        sign=main.sign if main else "",
        temperature=_temperature(found),
        printed=_value_printed(found),
        beside="; ".join(found.beside),
        limit=found.limit,
        said=tuple(said),
    )


# --- numbers ---------------------------------------------------------------------------


def _number(text, marks, commas, said):
    """Return a number by the decimal mark of the report."""
    if (
        commas
        and "," in text
        and not re.fullmatch(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?", text)
    ):
        what = f"{shortened(text)}: a decimal comma where commas part the cells"
        raise InputError(f"{what}; write a point, or part the cells by ';'")
    value, note = number_in_report(text, marks)
    if note:
        said.append(note)
    return value


def _numbers(cell, marks, commas, said):
    """Return value, low and high of a cell; None where it does not tell them."""
    if cell is None:
        return None, None, None
    if cell.sign == "nothing":
        said.append(f"printed {cell.printed}: not detected, counted as 0")
        return 0.0, None, None
    value = _number(cell.number, marks, commas, said)
    if cell.upper:
        upper = _number(cell.upper, marks, commas, said)
        if upper < value:
            raise InputError(f"{shortened(cell.printed)} runs from more to less")
        return None, value, upper
    if cell.sign == "<":
        said.append(f"printed {cell.printed}, counted as 0")
        return 0.0, 0.0, value
    if cell.sign == ">":
        said.append(f"printed {cell.printed}: the true value may be higher")
    return value, None, None


def _bounds(found, marks, commas, said, low, high):
    """Return least and greatest value from their columns, else as they are."""
    for role in ("low", "high", "range"):
        cell = found.cells.get(role)
        if cell is None or cell.sign == "unmeasured":
            continue
        value, least, most = _numbers(cell, marks, commas, [])
        if role == "range":
            low, high = (least, most) if least is not None else (value, value)
        elif role == "low":
            low = value if least is None else least
        else:
            high = value if most is None else most
    if low is not None and high is not None and high < low:
        raise InputError(f"the least value {low:g} is above the greatest {high:g}")
    return low, high


# --- units -----------------------------------------------------------------------------


def _unit_and_basis(found, main, defaults, said):
    """Return the unit of a value and the wording with its basis."""
    wording = found.said
    own = (main.unit, main.species) if main and main.unit else None
    named = (wording.unit, "") if wording.unit else None
    given = [told for told in (own, found.own_unit, named) if told]
    if len({told[0] for told in given}) > 1:
        names = " and ".join(dict.fromkeys(str(told[0]) for told in given))
        raise InputError(f"two units, {names}; which one is it?")
    kinds = kinds_of(wording.quantity)
    if not given and found.far_unit and found.far_unit[0].kind in kinds:
        given = [found.far_unit]
        said.append(f"unit {found.far_unit[0]} {found.far_words}".strip())
    fitting = [default for default in defaults if default.kind in kinds]
    if not given and fitting:
        given = [(fitting[0], "")]
        said.append(f"no unit printed: {fitting[0]} taken")
    if not given and main and main.sign == "nothing":
        given = [(known_unit("mg/L"), "")]  # nothing of it, in whatever unit
    if not given and wording.quantity in USUAL_UNITS:
        given = [(known_unit(USUAL_UNITS[wording.quantity], *kinds), "")]
    if not kinds:
        return None, wording
    if not given:
        raise InputError(
            "no unit; write for instance mg/L, or give the unit of all values"
        )
    of_unit = given[0][0]
    if of_unit.kind not in kinds:
        wanted = " or ".join(kind.replace("_", " ") for kind in kinds)
        raise InputError(f"{of_unit} does not fit; {wanted} is needed")
    for species in filter(None, (told[1] for told in given)):
        wording = _based(wording, species)
    return of_unit, wording


def _based(wording, species):
    """Return a wording on the basis that stands with the unit."""
    based = on_basis(wording, species)
    if based is None:
        raise InputError(f"counted as {species}? that is another substance")
    told = wording.basis and not wording.assumed
    if told and based.basis != wording.basis and species == "CaCO3":
        return based
    usual = name_in_report(wording.quantity)
    if told and based.basis != wording.basis and usual and usual.basis != wording.basis:
        raise InputError(f"two bases, {wording.basis} and {based.basis}; which is it?")
    return based


def _temperature(found):
    """Return the temperature that stands in the name, the unit or behind the value."""
    if found.said.temperature is not None:
        return found.said.temperature
    if found.temperature is not None:
        return found.temperature
    match = DEGREES.match(found.beside[0].lstrip("( ")) if found.beside else None
    return float(match.group(1).replace(",", ".")) if match else None
