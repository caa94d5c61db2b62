"""Arithmetic as a teacher writes it: steps with value, unit and source.

A step is written once, as numbers and signs; its result is worked out from them here, so
that the line on the board and the value the program uses cannot differ.
"""

import html
import math
from dataclasses import dataclass
from fractions import Fraction

__all__ = [
    "LogStep",
    "PowerStep",
    "Quantity",
    "RootStep",
    "Shown",
    "Step",
    "Working",
    "printed",
    "printed_mg_l",
    "printed_percent",
]

RESULT_DIGITS = 5
MOST_DIGITS = 17
SIGNS = ("+", "−", "×", "÷")


class Shown:
    """A noun that shows itself in a notebook as it does in a terminal."""

    def _repr_html_(self):
        return f"<pre>{html.escape(str(self))}</pre>"

    def _repr_pretty_(self, printer, cycle):
        printer.text("..." if cycle else str(self))


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

    def __post_init__(self):
        object.__setattr__(self, "value", float(self.value))


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
    """Return the exact value of numbers joined by + − × ÷, read as they are written."""
    total, product, sign, operator = Fraction(0), None, 1, "×"
    for term in terms:
        if isinstance(term, str):
            operator = term
            if term in "+−":
                total += sign * product
                product, sign = None, (1 if term == "+" else -1)
            continue
        number = Fraction(repr(float(term)))
        if product is None:
            product = number
        elif operator == "×":
            product *= number
        else:
            product /= number
    return total + sign * product


class _Line:
    """A line of arithmetic: how it is printed, so that the printed numbers give the printed result."""

    def written(self, known, digits):
        """
        Return the line without its words, its result, and whether it holds as printed.

        Parameters
        ----------
        known : mapping of (float, str) to str
            How values of earlier lines were printed, so that they stand here the same. [-]
        digits : int
            Significant digits of the result. [-]

        Returns
        -------
        line : str
            The arithmetic.
        result : str
            The result, without its unit.
        holds : bool
            Whether the printed numbers give the printed result.

        Examples
        --------
        >>> step = Step("", (Quantity(2.0, "g"), "÷", Quantity(3.0, "L")), "g/L")
        >>> step.written({}, 5)
        ('2 g ÷ 3 L = 0.66667 g/L', '0.66667', True)
        """
        return self._written(known, digits)

    def __str__(self):
        return _with_source(self, self.written({}, RESULT_DIGITS)[0])


@dataclass(frozen=True)
class Step(_Line):
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

    def __post_init__(self):
        for place, term in enumerate(self.terms):
            wanted = "a sign: + − × ÷" if place % 2 else "a quantity"
            is_sign = isinstance(term, str) and term in SIGNS
            if is_sign != bool(place % 2) or not (
                is_sign or isinstance(term, Quantity)
            ):
                raise ValueError(f"{self.text}: {term!r} stands where {wanted} belongs")
        if not len(self.terms) % 2:
            raise ValueError(f"{self.text}: a line ends with a quantity, not a sign")

    @property
    def value(self):
        """Return the result of the line, in `unit`."""
        terms = [t.value if isinstance(t, Quantity) else t for t in self.terms]
        return float(_evaluate(terms))

    @property
    def arithmetic(self):
        """Return the line without its words: as few digits as give the printed result."""
        return self.written({}, RESULT_DIGITS)[0]

    def _written(self, known, digits):
        """Return the line, its result, and whether it holds, as `written` tells."""
        numbers = [term for term in self.terms if isinstance(term, Quantity)]
        result = printed(self.value, digits)
        for more in range(RESULT_DIGITS, MOST_DIGITS + 1):
            shown = [_shown(number, known, more) for number in numbers]
            if holds := self._gives(shown, result):
                break
        texts = iter(shown)
        words = (
            f"{next(texts)} {term.unit}".strip() if isinstance(term, Quantity) else term
            for term in self.terms
        )
        line = f"{' '.join(words)} = {result} {self.unit}".strip()
        return line, result, holds

    def _gives(self, shown, result):
        """Return whether printed numbers give a printed result within its last digit."""
        texts = iter(shown)
        terms = [
            float(next(texts)) if isinstance(t, Quantity) else t for t in self.terms
        ]
        return abs(_evaluate(terms) - Fraction(result)) <= _half_last_digit(result)


class _OfOneNumber(_Line):
    """A line that takes a function of one number, with the care of a Step for its digits."""

    def _written(self, known, digits):
        """Return the line, its result, and whether it holds, as `written` tells."""
        result = printed(self.value, digits)
        for more in range(RESULT_DIGITS, MOST_DIGITS + 1):
            shown = _shown(self.number, known, more)
            again = Fraction(self._of(float(shown)))
            holds = abs(again - Fraction(result)) <= _half_last_digit(result)
            if holds:
                break
        line = self._line(f"{shown} {self.number.unit}".strip())
        return f"{line} = {result} {self.unit}".strip(), result, holds

    @property
    def value(self):
        """Return the result of the line, in `unit`."""
        return self._of(self.number.value)


@dataclass(frozen=True)
class LogStep(_OfOneNumber):
    """
    A line that takes minus the decadic logarithm of one number.

    Attributes
    ----------
    text : str
        What is worked out, in words.
    number : Quantity
        The number.
    shift : float
        What is added, for the unit of the number: 6 for micromoles where moles count. [-]
    source_key : str
        Where it comes from.
    unit : str
        Unit of the result; none.

    Examples
    --------
    >>> print(LogStep("pH", Quantity(0.8, "µmol/kg"), 6.0))
    pH: 6 − lg 0.8 µmol/kg = 6.0969
    """

    text: str
    number: Quantity
    shift: float = 0.0
    source_key: str = ""
    unit: str = ""

    def _of(self, number):
        return self.shift - math.log10(number)

    def _line(self, shown):
        return f"{self.shift:g} − lg {shown}"


@dataclass(frozen=True)
class PowerStep(_OfOneNumber):
    """
    A line that raises ten to a power: a LogStep turned round.

    Attributes
    ----------
    text : str
        What is worked out, in words.
    number : Quantity
        The power.
    unit : str
        Unit of the result.
    source_key : str
        Where it comes from.

    Examples
    --------
    >>> print(PowerStep("hydrogen ions", Quantity(0.2), "µmol/L"))
    hydrogen ions: 10^0.2 = 1.5849 µmol/L
    """

    text: str
    number: Quantity
    unit: str = ""
    source_key: str = ""

    def _of(self, number):
        return 10.0**number

    def _line(self, shown):
        return f"10^{shown}"


@dataclass(frozen=True)
class RootStep(_OfOneNumber):
    """
    A line that takes the square root of a number.

    Attributes
    ----------
    text : str
        What is worked out, in words.
    number : Quantity
        The number, not negative.
    unit : str
        Unit of the result.
    source_key : str
        Where it comes from.

    Examples
    --------
    >>> print(RootStep("both together", Quantity(2.0), "%"))
    both together: √2 = 1.4142 %
    """

    text: str
    number: Quantity
    unit: str = ""
    source_key: str = ""

    def _of(self, number):
        return math.sqrt(number)

    def _line(self, shown):
        return f"√{shown}"


def _with_source(step, line):
    """Return a line of arithmetic between its words and its source."""
    return f"{step.text}: {line}" + (
        f"  [{step.source_key}]" if step.source_key else ""
    )


def _shown(number, known, digits):
    """Return a number as text: exactly if it is short, else as it was printed before."""
    exact = repr(number.value).removesuffix(".0")
    if "e" not in exact and len(exact.strip("-").replace(".", "")) <= RESULT_DIGITS:
        return exact
    return known.get((number.value, number.unit)) or _shortest(number.value, digits)


def _half_last_digit(text):
    """Return half a unit of the last printed digit."""
    return Fraction(1, 2 * 10 ** len(text.partition(".")[2]))


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

    @property
    def lines(self):
        """Return each line as text; what one line gives, the next takes as printed."""
        for digits in range(RESULT_DIGITS, MOST_DIGITS + 1):
            known, lines, all_hold = {}, [], True
            for step in self.steps:
                line, result, holds = step.written(known, digits)
                known[step.value, step.unit] = result
                lines.append(_with_source(step, line))
                all_hold = all_hold and holds
            if all_hold:
                break
        return tuple(lines)

    def __str__(self):
        numbered = [f"  {number}. {line}" for number, line in enumerate(self.lines, 1)]
        return "\n".join([self.title, *numbered])

    def _repr_html_(self):
        items = "".join(f"<li>{html.escape(line)}</li>" for line in self.lines)
        return f"<p><b>{html.escape(self.title)}</b></p><ol>{items}</ol>"
