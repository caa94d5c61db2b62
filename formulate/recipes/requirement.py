"""One thing asked of a recipe, as a named linear row over the ingredients."""

import math
from dataclasses import dataclass

from formulate.checks import checked_number
from formulate.errors import Faults, InputError
from formulate.recipes.limits import Limit

__all__ = ["HARD", "WANTED", "Requirement"]

HARD, WANTED = "hard", "wanted"


@dataclass(frozen=True)
class Requirement:
    """
    One row over the ingredients.

    The row's value is `constant` plus the sum of coefficient times grams per litre. Wanted
    rows cost the square of (distance from [low, high] / scale) times weight; hard rows must
    hold.

    Attributes
    ----------
    name : str
        What is asked, in words.
    coefficients : tuple of float
        Value per gram (or millilitre) of each ingredient in a litre. [mmol/g]
    low : float
        Least value asked for; minus infinity if none. [mmol/L]
    high : float
        Greatest value asked for; infinity if none. [mmol/L]
    constant : float
        What the water brings. [mmol/L]
    unit : str
        Unit of the row's value.
    kind : str
        "hard" or "wanted".
    scale : float
        Deviation that counts as 1. [mmol/L]
    weight : float
        Factor on the squared deviation. [-]
    key : str
        Nutrient key it is about, if it is about one.
    origin : str
        Who asks: "target", "kept low", "ammonium share", "limit", "amount", "room", or
        whoever calls.
    limit : Limit or None
        The limit it is one side of.
    below : tuple of float
        Of a ratio, what each ingredient, and last the water, brings of its lower part. [-]
    """

    name: str
    coefficients: tuple
    low: float = -math.inf
    high: float = math.inf
    constant: float = 0.0
    unit: str = "mmol/L"
    kind: str = WANTED
    scale: float = 1.0
    weight: float = 1.0
    key: str = ""
    origin: str = "caller"
    limit: Limit | None = None
    below: tuple = ()

    def __post_init__(self):
        if not self._is_sound():
            self._check()

    @property
    def is_metered(self):
        """Whether it is a side of a limit on a pH or an EC."""
        return self.limit is not None and self.limit.is_metered

    def _is_sound(self):
        """Return whether all is plainly as it should be; nearly every row is."""
        if not isinstance(self.coefficients, tuple) or self.kind not in (HARD, WANTED):
            return False
        numbers = (*self.coefficients, self.constant, self.scale, self.weight)
        return (
            all(type(value) is float for value in (*numbers, self.low, self.high))
            and math.isfinite(sum(numbers))
            and self.scale > 0 <= self.weight
            and self.low <= self.high
            and (self.low, self.high) != (-math.inf, math.inf)
            and self.low < math.inf
            and self.high > -math.inf
        )

    def _check(self):
        """Raise with every fault of the row."""
        if self.kind not in (HARD, WANTED):
            raise InputError(
                f"{self.name}: kind {self.kind!r}; use {HARD!r} or {WANTED!r}"
            )
        faults = Faults(self.name)
        with faults.collecting():
            if not isinstance(self.coefficients, tuple | list):
                raise InputError("coefficients: write one number for each ingredient")
            for value in self.coefficients:
                if type(value) is not float or not math.isfinite(value):
                    checked_number(value, "coefficient")
        with faults.collecting():
            checked_number(self.constant, "what the water brings")
        with faults.collecting():
            checked_number(self.scale, "scale", above=0)
        with faults.collecting():
            checked_number(self.weight, "weight", least=0)
        with faults.collecting():
            self._check_bounds()
        faults.raise_if_any()

    def _check_bounds(self):
        """Raise if the bounds leave nothing between them, or bound nothing."""
        bounds = []
        for value, open_end in ((self.low, -math.inf), (self.high, math.inf)):
            is_open = isinstance(value, float) and value == open_end
            bounds.append(None if is_open else checked_number(value, "bound"))
        low, high = bounds
        if low is None and high is None:
            raise InputError("neither a least nor a greatest value")
        if low is not None and high is not None and low > high:
            raise InputError(f"least {low:g} is above greatest {high:g}")
