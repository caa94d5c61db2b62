"""Lines of arithmetic and words of care that the exercises of several lessons share."""

from formulate.stoichiometry.formula import molar_mass, parse_formula
from formulate.tables import read_table
from formulate.working import PowerStep, Quantity, RootStep, Step, printed

__all__ = ["care", "carried", "line", "root_of", "share_line", "ten_to"]

DIGITS = 5  # that a result keeps on its way to the next line


def line(words, answer_unit, *numbers):
    """
    Return a line of arithmetic.

    Parameters
    ----------
    words : str
        What is worked out.
    answer_unit : str
        Unit of the result.
    *numbers : float, tuple of float and str, or str
        Numbers, bare or with their unit, and the signs + − × ÷ between them. [-]

    Returns
    -------
    Step
        The line.

    Examples
    --------
    >>> print(line("salt per litre", "g/L", (12, "g"), "÷", (10, "L")))
    salt per litre: 12 g ÷ 10 L = 1.2000 g/L
    """
    return Step(words, tuple(_term(number) for number in numbers), answer_unit)


def _term(number):
    """Return a number as a quantity; a sign as it is."""
    if isinstance(number, str):
        return number
    return Quantity(*number) if isinstance(number, tuple) else Quantity(number)


def share_line(words, answer_unit, value, oxide, element):
    """
    Return the line that takes an element out of its oxide, as a label counts it.

    Parameters
    ----------
    words : str
        What is worked out.
    answer_unit : str
        Unit of the oxide's number and of the result.
    value : float
        How much of the oxide there is. [answer_unit]
    oxide : str
        Formula of the oxide.
    element : str
        Symbol of the element.

    Returns
    -------
    Step
        The line.

    Examples
    --------
    >>> print(share_line("K in the bag", "kg", 5.0, "K2O", "K"))
    K in the bag: 5 kg × 2 × 39.0983 g/mol ÷ 94.1956 g/mol = 4.1508 kg
    """
    count = int(parse_formula(oxide).atoms[element])
    masses = (molar_mass(element), "g/mol"), "÷", (molar_mass(oxide), "g/mol")
    return line(words, answer_unit, (value, answer_unit), "×", count, "×", *masses)


def carried(step):
    """
    Return what a line gives as the next line takes it: in the five digits in which it is printed.

    Parameters
    ----------
    step : Step
        The line.

    Returns
    -------
    tuple of float and str
        The number and its unit. [unit of the line]

    Examples
    --------
    >>> carried(line("a third", "g", (1, "g"), "÷", 3))
    (0.33333, 'g')
    """
    return float(printed(step.value, DIGITS)), step.unit


def ten_to(power, words, answer_unit=""):
    """
    Return a line that raises ten to a power, as a calculator does it.

    Parameters
    ----------
    power : float
        The power. [-]
    words : str
        What is worked out.
    answer_unit : str
        Unit of the result.

    Returns
    -------
    PowerStep
        The line.

    Examples
    --------
    >>> print(ten_to(-1, "share"))
    share: 10^-1 = 0.10000
    """
    return PowerStep(words, Quantity(power), answer_unit)


def root_of(square, words, answer_unit=""):
    """
    Return a line that takes a square root.

    Parameters
    ----------
    square : float
        The number whose root is taken. [-]
    words : str
        What is worked out.
    answer_unit : str
        Unit of the result.

    Returns
    -------
    RootStep
        The line.

    Examples
    --------
    >>> print(root_of(2.0, "together", "%"))
    together: √2 = 1.4142 %
    """
    return RootStep(words, Quantity(square), answer_unit)


def care(*keys):
    """
    Return cautions of the table of cautions.

    Parameters
    ----------
    *keys : str
        Their keys, such as "acid".

    Returns
    -------
    tuple of str
        Their texts.

    Examples
    --------
    >>> care("acid")[0].startswith("Add acid slowly to water")
    True
    """
    texts = {row["key"]: row["text"] for row in read_table("cautions")}
    return tuple(texts[key] for key in keys)
