"""The data sheet of the class experiment: what pupils write down, read back and checked.

A sheet is a CSV file with three columns: what, setting, reading. Its first lines tell how it was done (the feed, the
acid, the sample); then come the readings of three experiments: dilution, titration, gypsum. No cell of the blank sheet
is one that a spreadsheet takes for a date or a time: a share is written "1 in 4", for 1/4 would become the first of April.
"""

import csv
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from types import MappingProxyType

from formulate.errors import Faults, FormulateError, shortened
from formulate.files import read_text
from formulate.ingredients.hazards import TOXIC_TRACES
from formulate.ingredients.salts import as_ingredient
from formulate.stoichiometry.quantities import read_number, read_quantity
from formulate.stoichiometry.units import house_value
from formulate.tables import rule_of

__all__ = ["ClassData", "data_sheet", "read_class_data"]

HEAD = ("what", "setting", "reading")
DELIMITERS = ";\t,"
STRONGEST = rule_of("class_rules", "strongest acid").number("value")  # mol/L
FEWEST = {"dilution": 3, "titration": 4, "gypsum": 2}
SEEN = {"clear": False, "cloudy": True}
ENDS = {"ec": (0.0, 50.0), "ph": (0.0, 14.0), "acid_ml": (0.0, 1000.0)}
BLANK = """\
# Data sheet of the class experiment. Fill in the third column with the decimal mark of your spreadsheet: comma or point.
# Class, date, room, thermometer:
# Pupils: goggles on. The teacher makes the acid (at most 0.1 mol/L) and the two stocks. No boric acid.
# dilution: EC in mS/cm. titration: acid poured in all, then the pH. gypsum: clear or cloudy.
what;setting;reading
feed;KNO3;0.60 g/L
feed;MgSO4·7H2O;0.25 g/L
sample;;100 mL
acid;HCl;0.1 mol/L
water temperature;;20 °C
dilution;1;
dilution;1 in 2;
dilution;1 in 4;
dilution;1 in 8;
dilution;1 in 16;
titration;0 mL;
titration;1 mL;
titration;2 mL;
titration;2.5 mL;
titration;3 mL;
titration;3.5 mL;
gypsum;2 g/L;
gypsum;5 g/L;
gypsum;10 g/L;
gypsum;20 g/L;
gypsum;40 g/L;
"""


@dataclass(frozen=True, eq=False)
class ClassData:
    """
    The readings of a class.

    Attributes
    ----------
    name : str
        Where they come from.
    invented : bool
        Whether the sheet says that its data are invented.
    feed : mapping of str to float
        Salt to its mass in a litre of the undiluted feed. [g/L]
    sample : float
        Tap water that was titrated. [mL]
    acid : str
        Formula of the acid, one proton.
    acid_strength : float
        Its strength. [mol/L]
    temperature : float
        Of the water. [°C]
    dilution : tuple of (float, float)
        Share of feed, and the EC read at 25 °C. [mS/cm]
    titration : tuple of (float, float)
        Acid added in all, and the pH read. [mL]
    gypsum : tuple of (float, bool)
        Calcium nitrate tetrahydrate and Epsom salt, of each so much in the mixture, and whether it clouded. [g/L]
    """

    name: str
    invented: bool
    feed: MappingProxyType
    sample: float
    acid: str
    acid_strength: float
    temperature: float
    dilution: tuple
    titration: tuple
    gypsum: tuple


def data_sheet():
    """
    Return a blank data sheet.

    Returns
    -------
    str
        The sheet as CSV; save it, print it or open it in a spreadsheet.

    Examples
    --------
    >>> "dilution;1 in 16;" in data_sheet()
    True
    """
    return BLANK


def read_class_data(path):
    """
    Return the readings of a class from its data sheet.

    Parameters
    ----------
    path : str or Path
        The sheet, a CSV file as `data_sheet()` begins it.

    Returns
    -------
    ClassData
        The readings, checked.

    Raises
    ------
    InputError
        With every fault of the sheet: what cannot be read, what is missing, an acid above 0.1 mol/L, a salt that is
        not for pupils to weigh.

    Examples
    --------
    >>> read_class_data("sheet.csv")
    Traceback (most recent call last):
        ...
    formulate.errors.InputError: 'sheet.csv': cannot be read (No such file or directory)
    """
    path = Path(path)
    text = read_text(path)
    faults, found = Faults(path.name), {}
    for number, cells in _rows(text):
        with faults.collecting(f"line {number}"):
            _take(found, cells)
    for missing in _missing(found):
        faults.add(missing)
    faults.raise_if_any()
    return ClassData(
        path.name,
        "INVENTED" in text,
        MappingProxyType(found["feed"]),
        found["sample"],
        found["acid"],
        found["acid_strength"],
        found.get("temperature", 25.0),
        *(tuple(sorted(found.get(part, ()))) for part in FEWEST),
    )


def _rows(text):
    """Yield number and cells of each line that holds something."""
    lines = [
        (number, line)
        for number, line in enumerate(text.splitlines(), 1)
        if line.strip(' \t;,"') and not line.lstrip(' \t"').startswith("#")
    ]
    delimiter = max(DELIMITERS, key=lines[0][1].count) if lines else ";"
    for number, line in lines:
        cells = [c.strip() for c in next(csv.reader([line], delimiter=delimiter))]
        cells += [""] * (3 - len(cells))
        if tuple(cell.casefold() for cell in cells[:3]) != HEAD:
            yield number, cells[:3]


def _take(found, cells):
    """Take one line of the sheet."""
    what, setting, reading = cells
    take = TAKERS.get(what.casefold())
    if take is None:
        raise FormulateError(
            f"{shortened(what)} is none of {', '.join(TAKERS)}; write one of these first"
        )
    if reading:
        take(found, setting, reading)


def _take_feed(found, setting, reading):
    made = as_ingredient(setting)
    if TOXIC_TRACES & set(made.hazards):
        raise FormulateError(f"{shortened(setting)} is not for pupils to weigh")
    feed = found.setdefault("feed", {})
    if setting in feed:
        raise FormulateError(f"{shortened(setting)} stands there twice")
    value, unit = read_quantity(reading, "mass_concentration", default="g/L")
    feed[setting] = house_value(value, unit) / 1000


def _take_sample(found, setting, reading):
    value, unit = read_quantity(reading, "volume", default="mL")
    found["sample"] = _within(
        house_value(value, unit) * 1000, 1, 10_000, "mL of sample"
    )


def _take_acid(found, setting, reading):
    value, unit = read_quantity(reading, "amount_concentration", default="mol/L")
    strength = house_value(value, unit) / 1000
    if setting not in ("HCl", "HNO3"):
        raise FormulateError(
            f"acid {shortened(setting)}: write HCl or HNO3, acids of one proton"
        )
    if not 0 < strength <= STRONGEST:
        raise FormulateError(
            f"acid of {shortened(reading)}: pupils handle more than 0 and at most {STRONGEST} mol/L; let the teacher dilute it"
        )
    found["acid"], found["acid_strength"] = setting, strength


def _take_temperature(found, setting, reading):
    value, unit = read_quantity(reading, "temperature", default="°C")
    found["temperature"] = _within(house_value(value, unit), 0, 50, "°C")


def _take_dilution(found, setting, reading):
    value, unit = read_quantity(reading, "conductivity", default="mS/cm")
    ec = _within(house_value(value, unit), *ENDS["ec"], "mS/cm")
    found.setdefault("dilution", []).append((_share(setting), ec))


def _take_titration(found, setting, reading):
    value, unit = read_quantity(setting, "volume", default="mL")
    poured = _within(house_value(value, unit) * 1000, *ENDS["acid_ml"], "mL of acid")
    ph = _within(read_number(reading), *ENDS["ph"], "of pH")
    found.setdefault("titration", []).append((poured, ph))


def _take_gypsum(found, setting, reading):
    value, unit = read_quantity(setting, "mass_concentration", default="g/L")
    if reading.casefold() not in SEEN:
        raise FormulateError(f"{shortened(reading)}: write clear or cloudy")
    grams = _within(house_value(value, unit) / 1000, 0, 500, "g/L")
    found.setdefault("gypsum", []).append((grams, SEEN[reading.casefold()]))


TAKERS = {
    "feed": _take_feed,
    "sample": _take_sample,
    "acid": _take_acid,
    "water temperature": _take_temperature,
    "dilution": _take_dilution,
    "titration": _take_titration,
    "gypsum": _take_gypsum,
}


def _share(text):
    """Return a share of feed: "1 in 4", "1/4", "0.25" or "25 %"."""
    plain = text.casefold().replace("in", "/").replace(" ", "")
    try:
        if plain.endswith("%"):
            share = read_number(plain[:-1]) / 100
        elif "/" in plain:
            share = float(Fraction(plain))
        else:
            share = read_number(plain)
    except (ValueError, ZeroDivisionError):
        share = 0.0
    if not 0 < share <= 1:
        raise FormulateError(
            f"dilution {shortened(text)}: write a share such as 1 in 4"
        )
    return share


def _within(value, low, high, what):
    if not low <= value <= high:
        raise FormulateError(f"{value:g} {what}: expected {low:g} to {high:g}")
    return value


def _missing(found):
    """Yield what a sheet lacks."""
    if not found.get("feed"):
        yield "no feed; write a line such as feed;KNO3;0.60 g/L"
    if "sample" not in found:
        yield "no sample; write a line such as sample;;100 mL"
    if "acid" not in found:
        yield "no acid; write a line such as acid;HCl;0.1 mol/L"
    for part, fewest in FEWEST.items():
        count = len(found.get(part, ()))
        if count and count < fewest:
            yield f"{part}: {count} readings; a fit needs at least {fewest}"
    if not any(found.get(part) for part in FEWEST):
        yield "no reading at all; fill in the third column"
