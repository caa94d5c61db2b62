"""What is claimed of a solution, read: mg/L of a nutrient on its basis, EC, TDS on a scale."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from formulate.checks import checked_number
from formulate.errors import FormulateError, InputError, shortened
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.quantities import read_quantity
from formulate.stoichiometry.units import CONCENTRATIONS, Unit, convert, unit
from formulate.tables import read_table
from formulate.working import printed

__all__ = ["READINGS", "Claim", "read_claims"]

READINGS = ("EC", "TDS")
HALF = 0.5
MOST_CLAIMS = 60
MOST = 1e7  # more than any liquid weighs in mg/L, than any reading shows
SCALED = r"(.*?)\s*(?:ppm|TDS)?\s*\(?\s*(500|640|700)(?:\s*scale)?\s*\)?"


@dataclass(frozen=True)
class Claim:
    """
    A claim, read.

    Attributes
    ----------
    subject : str
        Nutrient key, "EC" or "TDS".
    value : float
        What is claimed, in `unit`. [-]
    half : float
        Half a unit of its last printed digit, in `unit`. [-]
    unit : Unit
        mg/L, or a unit of conductivity.
    """

    subject: str
    value: float
    half: float
    unit: Unit

    @property
    def shown(self):
        """Return the claim as it is printed."""
        return f"{printed(self.value)} {self.unit}"


def read_claims(claims, faults):
    """
    Return the claims that were made of a solution.

    Parameters
    ----------
    claims : mapping of str to float or str
        Nutrient key to mg/L, or text with a unit; "EC" and "TDS" likewise. [mg/L]
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
    """Return one claim with half of its last printed digit."""
    if str(subject).strip().upper() in READINGS:
        subject = str(subject).strip().upper()
        number, of_unit = _reading(subject, value)
        return Claim(subject, _positive(number), _half_digit(value), of_unit)
    key = nutrient(subject).key
    number, of_unit = read_quantity(value, *CONCENTRATIONS, default="mg/L")
    in_mg = (convert(v, of_unit, "mg/L", of=key) for v in (number, _half_digit(value)))
    number, half = in_mg
    return Claim(key, _positive(number, least=0), half, unit("mg/L"))


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
