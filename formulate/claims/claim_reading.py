"""What is claimed of a solution, read: mg/L of a nutrient on its basis, EC, TDS on a scale, pH.

A claim is a number, a range such as 140-160, or a number with "about" at it.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from formulate.checks import checked_number
from formulate.errors import FormulateError, InputError, shortened
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.quantities import read_number, read_quantity
from formulate.stoichiometry.units import CONCENTRATIONS, Unit, convert, unit
from formulate.tables import read_table, rule_of
from formulate.working import printed

__all__ = ["ACIDITY", "READINGS", "Claim", "about_what", "read_claims"]

READINGS = ("EC", "TDS")
ACIDITY = "pH"
MOST_PH = 14.0
HALF, PERCENT = 0.5, 100.0
MOST_CLAIMS = 60
MOST = 1e7  # more than any liquid weighs in mg/L, than any reading shows
SCALED = r"(.*?)\s*(?:ppm|TDS)?\s*\(?\s*(500|640|700)(?:\s*scale)?\s*\)?"
ABOUT = r"\s*(?:about|around|approx(?:imately)?\b\.?|ca\b\.?|circa|etwa|~|≈)\s*(.+)"
AFTER = (
    r"(\s*[+\-\u2212]?[\d.,]+.*?)\s*(?:[(\[]\s*(?:approx(?:imately)?|about|ca|circa|etwa)\b\.?"
    r"\s*[)\]]|\b(?:approx(?:imately)?|circa)\b\.?)\s*(.*)"
)
PLAIN = r"\s*(\d+(?:[.,]\d+)?)(?![\d.,eE])"
RANGE = r"\s*([\d.,]+)\s*(?:[-–—]|\bto\b|\bbis\b)\s*([\d.,]+)\s*(.*)"


@dataclass(frozen=True)
class Claim:
    """
    A claim, read.

    Attributes
    ----------
    subject : str
        Nutrient key, "EC", "TDS" or "pH".
    value : float
        What is claimed, in `unit`; the middle of a range. [-]
    half : float
        How far the value may be off as it is printed: half a unit of its last digit, half
        of a range, or what "about" leaves open; in `unit`. [-]
    unit : Unit or None
        mg/L, or a unit of conductivity; None for a pH.
    cut : float
        How much further below it may be, its last digit being cut instead of rounded. [-]
    text : str
        The number as it is shown; empty for a plain one.
    as_printed : str
        The number as it is printed; empty if it is not one plain number.
    """

    subject: str
    value: float
    half: float
    unit: Unit | None
    cut: float = 0.0
    text: str = ""
    as_printed: str = ""

    @property
    def shown(self):
        """Return the claim as it is printed."""
        number = self.text or printed(self.value)
        return f"{ACIDITY} {number}" if self.unit is None else f"{number} {self.unit}"


def read_claims(claims, faults):
    """
    Return the claims that were made of a solution.

    Parameters
    ----------
    claims : mapping of str to float or str
        Nutrient key to mg/L, or text with a unit, a range or "about"; "EC", "TDS" and "pH"
        likewise. [mg/L]
    faults : Faults
        Where every fault is noted.

    Returns
    -------
    tuple of Claim
        Those that could be read.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> (claim,) = read_claims({"TDS": "1200 ppm (500)"}, Faults())
    >>> claim.value, claim.unit.name, claim.half
    (1200.0, 'ppm (500 scale)', 0.5)
    """
    if not isinstance(claims, Mapping) or not 0 < len(claims) <= MOST_CLAIMS:
        what = "give a mapping such as {'N': 150, 'EC': '1.8 mS/cm'}"
        faults.add(f"claims: {shortened(claims)}: {what}")
        return ()
    found = []
    for subject, value in claims.items():
        with faults.collecting(f"claim {shortened(subject)}"):
            found.append(_claim(subject, value))
    return tuple(found)


def _claim(subject, value):
    """Return one claim with how far it may be off as it is printed."""
    name = _subject(subject)
    said = about_what(value)
    is_about, said = said is not None, value if said is None else said
    parts = re.fullmatch(RANGE, str(said), re.DOTALL)
    if parts:
        low, high, words = parts.groups()
        ends = [_number(name, f"{end} {words}".strip()) for end in (low, high)]
        return _ranged(name, *ends, f"{low} to {high}")
    number, half, of_unit = _number(name, said)
    if not is_about:
        text = str(said).strip() if name == ACIDITY else ""
        plain = re.match(PLAIN, str(said))
        as_printed = plain[1] if plain and not isinstance(said, float) else ""
        return Claim(name, number, half, of_unit, half, text, as_printed)
    wide = rule_of("chart_rules", "about").number("value") / PERCENT * number
    return Claim(
        name, number, max(half, wide), of_unit, 0.0, f"about {printed(number)}"
    )


def about_what(value):
    """
    Return what a claim says beside "about", which stands before or after its number.

    Parameters
    ----------
    value : float or str
        The claim. [mg/L]

    Returns
    -------
    str or None
        The rest; None if it does not say "about". [mg/L]

    Examples
    --------
    >>> about_what("~139 ppm"), about_what("139 (approx.) ppm"), about_what("139")
    ('139 ppm', '139 ppm', None)
    """
    flags = re.IGNORECASE | re.DOTALL
    before = re.fullmatch(ABOUT, str(value), flags)
    if before:
        return before[1]
    after = re.fullmatch(AFTER, str(value), flags)
    return f"{after[1]} {after[2]}".strip() if after else None


def _subject(subject):
    """Return EC, TDS, pH or the key of a nutrient."""
    word = str(subject).strip()
    if word.upper() in READINGS:
        return word.upper()
    return ACIDITY if word.casefold() == ACIDITY.casefold() else nutrient(subject).key


def _ranged(name, low, high, text):
    """Return the claim of a range: anything between its ends, as they are printed."""
    (first, half, of_unit), (last, digit, _) = low, high
    if last < first:
        raise InputError(f"{text}: a range from more to less; write the less first")
    least = min(half, digit)  # 5.5-6 is as sharp as 5.5
    wide = (last - first) / 2 + least
    return Claim(name, (first + last) / 2, wide, of_unit, least, text)


def _number(name, value):
    """Return a number, half a unit of its last digit, and their unit."""
    if name in READINGS:
        number, of_unit = _reading(name, value)
        return _positive(number), _half_digit(value), of_unit
    if name == ACIDITY:
        number = value if isinstance(value, int | float) else read_number(str(value))
        what = "what is claimed as pH"
        number = checked_number(number, what, least=0, most=MOST_PH)
        return number, _half_digit(value), None
    if "%" in str(value):
        what = "no share of a solution; write mg/L (1 % of it would be 10 000 mg/L)"
        raise InputError(f"{shortened(value)}: {what}")
    number, of_unit = read_quantity(value, *CONCENTRATIONS, default="mg/L")
    in_mg = (convert(v, of_unit, "mg/L", of=name) for v in (number, _half_digit(value)))
    number, half = in_mg
    return _positive(number, least=0), half, unit("mg/L")


def _positive(number, **limits):
    return checked_number(
        number, "what is claimed", most=MOST, **(limits or {"above": 0})
    )


def _reading(subject, value):
    """Return number and unit of an EC or TDS."""
    scaled = re.fullmatch(SCALED, str(value).strip(), re.IGNORECASE)
    if scaled and re.search(r"\d", scaled[1]) and not isinstance(value, int | float):
        value = f"{scaled[1]} ppm ({scaled[2]} scale)"
    if subject == "EC":
        return read_quantity(value, "conductivity", default="mS/cm")
    try:
        number, of_unit = read_quantity(value, "conductivity")
    except FormulateError:
        of_unit = None
    if of_unit is None or "scale" not in of_unit.name:
        scales = ", ".join(row["scale"] for row in read_table("meter_scales"))
        what = f"write it with its scale ({scales}), such as 1200 ppm (500)"
        raise InputError(f"{shortened(value)}: {what}")
    return number, of_unit


def _half_digit(value):
    """Return half a unit of the last printed digit of a claim."""
    digits = re.match(r"\s*[+\-\u2212]?([\d.,]+)(?:[eE]([+-]?\d+))?", str(value))
    if isinstance(value, float):
        exponent = Decimal(repr(value)).normalize().as_tuple().exponent
        return HALF * 10.0 ** min(int(exponent), 0)
    tail = re.split("[.,]", digits[1] + ".")[1]
    return HALF * 10.0 ** (int(digits[2] or 0) - len(tail))
