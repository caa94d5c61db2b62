"""How strong a concentrate is, as people write it: 1:100, 1+99, 1 %."""

import re
from dataclasses import dataclass

from formulate.errors import InputError, shortened
from formulate.mixing.nearness import mixing_rule
from formulate.stoichiometry.quantities import read_number
from formulate.working import Shown

__all__ = ["Strength", "strength_of"]

PERCENT = 100.0
MOST = 10_000.0  # beyond this it is no concentrate


@dataclass(frozen=True)
class Strength(Shown):
    """
    How strong a concentrate is.

    Attributes
    ----------
    times : float
        Final volume over the volume of one concentrate in it: 100 for 1:100. [-]
    """

    times: float

    @property
    def as_ratio(self):
        """Return it as one part in so many of the final volume, such as "1:100"."""
        return f"1:{self.times:.4g}"

    @property
    def as_parts(self):
        """Return it as one part and so many parts of water, such as "1+99"."""
        return f"1+{self.times - 1:.4g}"

    @property
    def as_percent(self):
        """Return it as a share of the final volume, such as "1 %"."""
        return f"{PERCENT / self.times:.4g} %"

    @property
    def millilitres_a_litre(self):
        """Return what a litre of the final solution takes of each concentrate. [mL]"""
        return 1000.0 / self.times

    def __str__(self):
        dose = self.millilitres_a_litre
        return f"{self.as_ratio} ({self.as_parts}, {self.as_percent}, {dose:.4g} mL/L)"


def strength_of(text):
    """
    Return a strength as people write it.

    Parameters
    ----------
    text : str, float or Strength
        "1:100" (one part in 100 of the final volume), "1+99", "1 %", "10 mL/L", or 100.
        [-]

    Returns
    -------
    Strength
        The strength.

    Raises
    ------
    InputError
        If it is none, not above 1, or beyond what a concentrate can be.

    Examples
    --------
    >>> print(strength_of("1+99"))
    1:100 (1+99, 1 %, 10 mL/L)
    >>> strength_of("0.5 %").times
    200.0
    """
    if isinstance(text, Strength):
        return text
    plain = str(text).strip()
    marked = re.fullmatch(r"(\S+?)\s*([:+/])\s*(.+)", plain)
    if re.fullmatch(r".+%", plain):
        times = PERCENT / _above_nothing(plain[:-1], text)
    elif re.fullmatch(r"(?i).+ml\s*/\s*l", plain):
        times = 1000.0 / _above_nothing(re.split(r"(?i)ml", plain)[0], text)
    elif marked:
        part, rest = (_above_nothing(marked[n], text) for n in (1, 3))
        times = rest / part + (marked[2] == "+")
    else:
        times = _above_nothing(plain, text)
    if not 1 < times <= MOST:
        what = "write it like 1:100, 1+99, 1 % or 10 mL/L, with more water than concentrate"
        raise InputError(f"strength {shortened(text)}: {what}")
    return Strength(times)


def _above_nothing(plain, text):
    """Return a number above 0."""
    try:
        number = read_number(plain)
    except InputError:
        number = 0.0
    if number <= 0:
        what = "write it like 1:100, 1+99, 1 % or 10 mL/L"
        raise InputError(f"strength {shortened(text)}: {what}")
    return number


def usual_strength():
    """
    Return the usual strength of a concentrate.

    Returns
    -------
    Strength
        That of the table mixing_rules.

    Examples
    --------
    >>> usual_strength().as_ratio
    '1:100'
    """
    return Strength(mixing_rule("usual stock"))
