"""Lines of arithmetic and words of care that the exercises of several lessons share."""

from formulate.tables import read_table
from formulate.working import PowerStep, Quantity, Step

__all__ = ["care", "line", "ten_to"]


def line(words, answer_unit, *terms):
    """
    Return a line of arithmetic.

    Parameters
    ----------
    words : str
        What is worked out.
    answer_unit : str
        Unit of the result.
    *terms : tuple of (float, str), or str
        Numbers with their units, and the signs between them. [-]

    Returns
    -------
    Step
        The line.

    Examples
    --------
    >>> print(line("salt per litre", "g/L", (169.2, "g"), "÷", (200, "L")))
    salt per litre: 169.2 g ÷ 200 L = 0.84600 g/L
    """
    parts = tuple(t if isinstance(t, str) else Quantity(*t) for t in terms)
    return Step(words, parts, answer_unit)


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
