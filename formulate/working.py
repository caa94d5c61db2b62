"""Arithmetic as a teacher writes it: steps with value, unit and source.

A step is written once, as numbers and signs; its result is worked out from them here, so
that the line on the board and the value the program uses cannot differ.
"""

import html
import math
from dataclasses import dataclass

__all__ = [
    "Quantity",
    "Shown",
    "Step",
    "Working",
    "printed",
    "printed_mg_l",
    "printed_percent",
]

RESULT_DIGITS = 5
MOST_DIGITS = 17


class Shown:
    """A noun that shows itself in a notebook as it does in a terminal."""

    def _repr_html_(self):
        return f"<pre>{html.escape(str(self))}</pre>"


@dataclass(frozen=True)
class Quantity:
    """
    A number in a line of arithmetic.

    Attributes
    ----------
    value : float
        The number, in `unit`. [-]
    unit : str
        Its unit, as it is to be printed; may be empty.
    """

    value: float
    unit: str = ""


def printed(value, digits=4):
    """
    Return a number as text with so many significant digits, without an exponent.

    Parameters
    ----------
    value : float
        The number. [-]
    digits : int
        Significant digits; digits before the decimal point are never cut. [-]

    Returns
    -------
    str
        The number; trailing zeros after the decimal point are kept only as digits ask.

    Examples
    --------
    >>> printed(156.73408), printed(0.0123456, 3), printed(20000.4, 3), printed(0)
    ('156.7', '0.0123', '20000', '0')
    """
    value = float(value)
    if value == 0:
        return "0"
    if not math.isfinite(value):
        return str(value)
    decimals = digits - 1 - math.floor(math.log10(abs(value)))
    text = f"{value:.{max(decimals, 0)}f}"
    if (
        decimals > 0
        and len(text.replace("-", "").replace(".", "").lstrip("0")) > digits
    ):
        text = f"{value:.{decimals - 1}f}"  # 9.9996 became 10.000
    return text if float(text) != 0 else "0"


def printed_mg_l(value):
    """
    Return a concentration as it is shown: four digits, three below 1 mg/L.

    Parameters
    ----------
    value : float
        Concentration. [mg/L]

    Returns
    -------
    str
        The number without its unit.

    Examples
    --------
    >>> printed_mg_l(159.94), printed_mg_l(0.05)
    ('159.9', '0.0500')
    """
    return printed(value, 4 if abs(value) >= 1 else 3)


def printed_percent(value):
    """
    Return a deviation with its sign and one decimal.

    Parameters
    ----------
    value : float
        Deviation. [%]

    Returns
    -------
    str
        The number with its unit.

    Examples
    --------
    >>> printed_percent(-3.78), printed_percent(-0.001)
    ('-3.8 %', '0.0 %')
    """
    text = f"{value:+.1f}"
    return "0.0 %" if float(text) == 0 else f"{text} %"


def _shortest(value, digits):
    """Return the number exactly if that is short, else with so many digits."""
    exact = repr(float(value)).removesuffix(".0")
    if "e" in exact:
        return printed(value, digits)
    return (
        exact
        if len(exact.replace(".", "").lstrip("-0")) <= digits
        else printed(value, digits)
    )


def _evaluate(terms):
    """Return the value of numbers joined by + - times and divided-by signs."""
    total, product, sign = 0.0, None, 1.0
    operator = "×"
    for term in terms:
        if isinstance(term, str):
            operator = term
            if term in "+−":
                total += sign * product
                product, sign = None, (1.0 if term == "+" else -1.0)
            continue
        if product is None:
            product = term
        elif operator == "×":
            product *= term
        else:
            product /= term
    return total + sign * product


@dataclass(frozen=True)
class Step:
    """
    One line of arithmetic.

    Attributes
    ----------
    text : str
        What is worked out, in words.
    terms : tuple of Quantity and str
        Quantities with the signs + − × ÷ between them.
    unit : str
        Unit of the result.
    source_key : str
        Where the numbers come from.

    Examples
    --------
    >>> grams, litres = Quantity(169.2, "g"), Quantity(200, "L")
    >>> step = Step("salt per litre", (grams, "÷", litres), "g/L")
    >>> step.value
    0.846
    >>> print(step)
    salt per litre: 169.2 g ÷ 200 L = 0.84600 g/L
    """

    text: str
    terms: tuple
    unit: str = ""
    source_key: str = ""

    @property
    def value(self):
        """Return the result of the line, in `unit`."""
        return _evaluate(
            [t.value if isinstance(t, Quantity) else t for t in self.terms]
        )

    @property
    def arithmetic(self):
        """Return the line without its words: as few digits as give the printed result."""
        result = printed(self.value, RESULT_DIGITS)
        for digits in range(RESULT_DIGITS, MOST_DIGITS + 1):
            shown = [
                (_shortest(t.value, digits), t.unit) if isinstance(t, Quantity) else t
                for t in self.terms
            ]
            again = _evaluate(
                [float(t[0]) if isinstance(t, tuple) else t for t in shown]
            )
            if abs(again - float(result)) <= _half_last_digit(result):
                break
        left = " ".join(
            f"{t[0]} {t[1]}".strip() if isinstance(t, tuple) else t for t in shown
        )
        return f"{left} = {result} {self.unit}".strip()

    def __str__(self):
        origin = f"  [{self.source_key}]" if self.source_key else ""
        return f"{self.text}: {self.arithmetic}{origin}"


def _half_last_digit(text):
    """Return half a unit of the last printed digit, with room for rounding in binary."""
    decimals = len(text.partition(".")[2])
    return 0.5 * 10.0**-decimals * (1 + 1e-9)


@dataclass(frozen=True)
class Working:
    """
    The arithmetic behind one result.

    Attributes
    ----------
    title : str
        What is worked out.
    steps : tuple of Step
        The lines, the last one giving the result.

    Examples
    --------
    >>> step = Step("phosphorus", (Quantity(2.0, "mmol/L"), "×", Quantity(30.974, "mg/mmol")), "mg/L")
    >>> working = Working("P in the solution", (step,))
    >>> working.value, working.unit
    (61.948, 'mg/L')
    >>> print(working)
    P in the solution
      1. phosphorus: 2 mmol/L × 30.974 mg/mmol = 61.948 mg/L
    """

    title: str
    steps: tuple

    @property
    def value(self):
        """Return the value of the last step."""
        return self.steps[-1].value

    @property
    def unit(self):
        """Return the unit of the last step."""
        return self.steps[-1].unit

    def __str__(self):
        lines = [f"  {number}. {step}" for number, step in enumerate(self.steps, 1)]
        return "\n".join([self.title, *lines])

    def _repr_html_(self):
        items = "".join(f"<li>{html.escape(str(step))}</li>" for step in self.steps)
        return f"<p><b>{html.escape(self.title)}</b></p><ol>{items}</ol>"
