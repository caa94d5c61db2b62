"""What a recipe must keep: at least, at most, within, ratios, and amounts of ingredients."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from formulate.checks import checked_number
from formulate.chemistry.acid_doses import check_wanted_ph
from formulate.errors import Faults, InputError, UnknownName, shortened
from formulate.recipes.meters import METERS, reading
from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.nutrients import form, form_names, nutrient
from formulate.stoichiometry.quantities import read_number
from formulate.stoichiometry.units import CONCENTRATIONS, convert, unit

__all__ = ["Limit", "amount_limit", "counted", "limit", "limits_of", "read_bounds"]

INF = math.inf
NOISE = 1e-12  # share of what is added up: less is what rounding leaves
PER_LITRE = ("mass_concentration", "dose")
RATIO_UNITS = {
    "": "",
    "g/g": "",
    "mg/mg": "",
    "mol/mol": "mol/mol",
    "meq/meq": "meq/meq",
}
WHOLE = {  # subjects that are no nutrient: unit they are kept in, kinds they are read in
    "alkalinity": ("meq/L", ("charge_concentration", "caco3")),
    "EC": ("mS/cm", ("conductivity",)),
    "salts": ("g/L", ("mass_concentration",)),
}
RANGE = re.compile(r"\s*(?:to|–|—|\.\.)\s*|(?<=[\w.])(?<![\d.][eE])\s*[-−]\s*(?=[\d.])")
SAYINGS = (
    (r"(?:at least|not below|>=|≥)\s*", (True, False)),
    (r"(?:at most|not above|up to|<=|≤)\s*", (False, True)),
    (r"(?:exactly|=)\s*", (True, True)),
)


@dataclass(frozen=True)
class Limit:
    """
    One thing that must hold of a recipe.

    Attributes
    ----------
    subject : str
        Nutrient key, "hardness", "alkalinity", "EC", "pH" (in balance with the air),
        "pH when mixed", "salts", a ratio such as "K:Ca", or the name of an ingredient.
    low : float
        Least value, in `unit`; minus infinity if none. [-]
    high : float
        Greatest value, in `unit`; infinity if none. [-]
    unit : str
        Unit of the bounds: mg/L (of hardness as CaCO3), meq/L, mS/cm, g/L, "mol/mol", g;
        "" is a ratio of masses.
    of_amount : bool
        Whether it is about an amount of an ingredient.
    """

    subject: str
    low: float = -INF
    high: float = INF
    unit: str = "mg/L"
    of_amount: bool = False

    @property
    def is_metered(self):
        """Return whether it is about what a meter shows: a pH or the EC."""
        return self.subject in METERS and not self.of_amount

    @property
    def sides(self):
        """Return "low", "high" or both: which bounds it has; one for an exact value."""
        if self.low == self.high:
            return ("low",)
        ends = (("low", self.low), ("high", self.high))
        return tuple(side for side, end in ends if math.isfinite(end))

    def named(self, side):
        """
        Return one side of it in words.

        Parameters
        ----------
        side : str
            "low" or "high".

        Returns
        -------
        str
            Words, such as "Na at most 50 mg/L".

        Examples
        --------
        >>> limit("Na", "at most 50 mg/L").named("high")
        'Na at most 50 mg/L'
        """
        bound, words = (
            (self.low, "at least") if side == "low" else (self.high, "at most")
        )
        if self.low == self.high:
            words = "exactly"
        return f"{self.subject} {words} {bound:.4g} {self.unit}".strip()

    def weights(self):
        """
        Return what each form counts for, in the unit of the bounds.

        Returns
        -------
        tuple of mapping of str to float
            One mapping; of a ratio two, above and below. The key "charge" stands for the
            unassigned charge. [-]

        Examples
        --------
        >>> limit("Ca", "at least 2 mmol/L").weights()
        ({'calcium': 40.078},)
        """
        return tuple(
            _weights(part.strip(), self.unit) for part in self.subject.split(":")
        )

    def value(self, solution):
        """
        Return what a solution has of it.

        Parameters
        ----------
        solution : Solution
            The solution.

        Returns
        -------
        float
            The value, in the unit of the bounds; infinity for a ratio to nothing, not a
            number if neither part is there. [-]

        Examples
        --------
        >>> from formulate.stoichiometry.solution import solution
        >>> held = limit("K:Ca", "1 to 2")
        >>> round(held.value(solution({"K": 4, "Ca": 2})), 3)
        1.951
        """
        if self.is_metered:
            return reading(self.subject, solution)
        held = [counted(weights, solution) for weights in self.weights()]
        if len(held) == 1:
            return held[0]
        if not any(held):
            return math.nan
        return held[0] / held[1] if held[1] else INF


def counted(weights, thing):
    """
    Return the weighted sum of the forms of a solution or an ingredient.

    Parameters
    ----------
    weights : mapping of str to float
        Form to what it counts for; "charge" for the unassigned charge. [-]
    thing : Solution or Ingredient
        What holds the forms.

    Returns
    -------
    float
        The sum. [-]

    Examples
    --------
    >>> from formulate.stoichiometry.solution import solution
    >>> counted({"calcium": 2.0}, solution({"Ca": 1.5}))
    3.0
    """
    terms = [weights.get("charge", 0.0) * thing.unassigned_charge]
    terms += [weights[key] * v for key, v in thing.forms.items() if key in weights]
    total = sum(terms)
    if len(terms) > 2 and abs(total) <= NOISE * sum(map(abs, terms)):
        return 0.0  # charges that cancel leave rounding
    return total


def _weights(subject, unit_name):
    """Return what each form counts for in one subject."""
    if subject == "alkalinity":
        forms = {
            k: float(form(k).nominal_charge) for k in form_names() if k != "carbonate"
        }
        return {"charge": 1.0, **{k: z for k, z in forms.items() if z}}
    if subject == "salts":
        return {k: molar_mass(form(k).nominal_ion) / 1000 for k in form_names()}
    known = nutrient(subject)
    factor = known.molar_mass
    if unit_name == "mol/mol":
        factor = 1.0
    if unit_name == "meq/meq":
        factor = abs(known.charge_per_amount())
    return {k: w * factor for k, w in known.weights.items()}


# --- reading ---------------------------------------------------------------------------


def read_bounds(text):
    """
    Return the bounds that a text states, and the unit behind them.

    Parameters
    ----------
    text : str
        Such as "at most 50 mg/L", "1.2 to 1.6", "exactly 3 g", "none".

    Returns
    -------
    low : float
        Least value; minus infinity if none. [-]
    high : float
        Greatest value; infinity if none. [-]
    unit : str
        What is written behind the number.

    Raises
    ------
    InputError
        If it states no bounds.

    Examples
    --------
    >>> read_bounds("at least 1,5 mmol/L"), read_bounds("60-70 mg/L")
    ((1.5, inf, 'mmol/L'), (60.0, 70.0, 'mg/L'))
    """
    plain = " ".join(str(text).split())
    if plain.casefold() in ("none", "never"):
        return 0.0, 0.0, ""
    for saying, sides in SAYINGS:
        match = re.match(saying, plain, re.IGNORECASE)
        if match:
            value, name = _number_and_rest(plain[match.end() :], text)
            return (value if sides[0] else -INF), (value if sides[1] else INF), name
    parts = RANGE.split(plain, maxsplit=1)
    if len(parts) != 2:
        raise InputError(
            f"{shortened(text)} is no limit; write at least 5, at most 5, 4 to 6, "
            "exactly 5 or none, with the unit"
        )
    (low, first), (high, name) = (_number_and_rest(part, text) for part in parts)
    if first and name and first != name:
        raise InputError(f"{shortened(text)}: two units; write one, behind the range")
    if low > high:
        raise InputError(f"least {low:g} is above greatest {high:g}")
    return low, high, name or first


def _number_and_rest(text, whole):
    match = re.match(r"\s*([+−-]?[\d.,]+(?:[eE][+-]?\d+)?)\s*(.*?)\s*$", text)
    if not match:
        raise InputError(
            f"{shortened(whole)} holds no number; write, for instance, at most 5 mg/L"
        )
    return checked_number(read_number(match[1]), "limit", least=0), match[2]


def _bounds(value):
    """Return bounds and unit of a text or a (low, high) pair, None being open."""
    if isinstance(value, str):
        return read_bounds(value)
    if not isinstance(value, tuple | list) or len(value) != 2:
        raise InputError(
            f"{shortened(value)} is neither a text such as 'at most 50 mg/L' nor a "
            "(low, high) pair"
        )
    faults, ends = Faults(), []
    for end, is_open in zip(value, (-INF, INF), strict=True):
        with faults.collecting():
            is_none = end is None or end == is_open
            ends.append(is_open if is_none else checked_number(end, "bound", least=0))
    faults.raise_if_any()
    low, high = ends
    if low == -INF and high == INF:
        raise InputError("neither a least nor a greatest value")
    if low > high:
        raise InputError(f"least {low:g} is above greatest {high:g}")
    return low, high, ""


def limit(subject, value, *, unit="mg/L"):
    """
    Return a limit on what a litre holds.

    Parameters
    ----------
    subject : str
        Nutrient key, "hardness", "alkalinity", "EC" (as mixed, at 25 °C), "pH" (in balance
        with the air), "pH when mixed", "salts" (mass of all ions), or a ratio such as
        "K:Ca" (of masses; write mol/mol or meq/meq behind the number for another).
    value : str or (float, float)
        Text such as "at most 50 mg/L", or (low, high) where None is open. [mg/L]
    unit : str
        Unit of bare numbers of a nutrient.

    Returns
    -------
    Limit
        The limit, in mg/L, meq/L (alkalinity), mS/cm (EC), g/L (salts), without a unit
        (pH) or as a ratio.

    Raises
    ------
    InputError
        If subject, numbers or unit cannot be read.

    Examples
    --------
    >>> print(limit("hardness", "at most 10 °dH").named("high"))
    hardness at most 178.5 mg/L as CaCO3
    """
    low, high, name = _bounds(value)
    if ":" in str(subject):
        return _ratio(subject, low, high, name)
    if subject in METERS and subject != "EC":
        return _ph_limit(subject, low, high, name)
    if subject in WHOLE:
        house, kinds = WHOLE[subject]
        low, high = (
            _converted(end, name or house, house, kinds) for end in (low, high)
        )
        return Limit(subject, low, high, house)
    try:
        known = nutrient(subject)
    except UnknownName as error:
        also = ", ".join(
            (*WHOLE, *(subject for subject in METERS if subject not in WHOLE))
        )
        raise UnknownName(f"{error}; or {also}, or a ratio such as K:Ca") from None
    ends = (
        _converted(end, name or unit, "mg/L", CONCENTRATIONS, of=known)
        for end in (low, high)
    )
    house = "mg/L as CaCO3" if known.key == "hardness" else "mg/L"
    return Limit(known.key, *ends, house)


def _ph_limit(subject, low, high, name):
    """Return the limit on a pH, which has no unit."""
    if name:
        raise InputError(f"unit {shortened(name)}: a pH has none")
    for end in (low, high):
        if math.isfinite(end):
            check_wanted_ph(end)
    return Limit(subject, low, high, "")


def _converted(value, from_unit, to_unit, kinds, of=None):
    """Return a bound in another unit; an open one stays open."""
    known = unit(from_unit, *kinds)
    return value if math.isinf(value) else convert(value, known, to_unit, of=of)


def _ratio(subject, low, high, name):
    """Return the limit on a ratio of two nutrients.

    Equation of a ratio as a straight row [definition]::

        low ≤ a/b ≤ high        a − low b ≥ 0, a − high b ≤ 0
    """
    parts = [part.strip() for part in str(subject).split(":")]
    faults, keys = Faults(), []
    if len(parts) != 2:
        faults.add("a ratio has two parts, such as K:Ca")
    for part in parts:
        with faults.collecting():
            keys.append(nutrient(part).key)
    if name not in RATIO_UNITS:
        faults.add(f"unit {shortened(name)} of a ratio: write mol/mol, meq/meq or none")
    faults.raise_if_any()
    if keys[0] == keys[1]:
        raise InputError(f"{subject} is always 1")
    if name == "meq/meq":
        for key in keys:
            nutrient(key).charge_per_amount()
    return Limit(":".join(keys), low, high, RATIO_UNITS[name])


def limits_of(values, *, unit="mg/L"):
    """
    Return the limits that a mapping states.

    Parameters
    ----------
    values : mapping of str to str or pair
        As in `limit`. [mg/L]
    unit : str
        Unit of bare numbers of nutrients.

    Returns
    -------
    tuple of Limit
        The limits.

    Raises
    ------
    InputError
        With every fault.

    Examples
    --------
    >>> [held.subject for held in limits_of({"Na": "at most 50", "K:Ca": "1 to 2"})]
    ['Na', 'K:Ca']
    """
    if not isinstance(values, Mapping):
        raise InputError(
            f"{shortened(values)}: write a mapping such as {{'Na': 'at most 50 mg/L'}}"
        )
    faults, found = Faults(), {}
    for subject, value in values.items():
        with faults.collecting(str(subject)):
            made = limit(subject, value, unit=unit)
            if made.subject in found:
                raise InputError(f"limits {made.subject} a second time; write it once")
            found[made.subject] = made
    faults.raise_if_any()
    return tuple(found.values())


def amount_limit(name, value, ingredient, volume):
    """
    Return a limit on how much of an ingredient goes into a batch.

    Parameters
    ----------
    name : str
        Name of the ingredient.
    value : str or (float, float)
        Text such as "at most 300 g", "exactly 40 g", "at most 0.5 g/L" or "none"; or
        (low, high) in grams, millilitres of a stock, where None is open. [g]
    ingredient : Ingredient
        The ingredient.
    volume : float
        Volume of the batch. [L]

    Returns
    -------
    Limit
        The limit, in grams or millilitres of the batch.

    Raises
    ------
    InputError
        If numbers or unit cannot be read.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> amount_limit("KNO3", "at most 0.5 g/L", salt("KNO3"), 40).high
    20.0
    """
    low, high, text = _bounds(value)
    of_unit = unit(text or ingredient.measured_in, "mass", "volume", *PER_LITRE)
    ends = (_in_batch(end, of_unit, ingredient, volume) for end in (low, high))
    return Limit(name, *ends, ingredient.measured_in, of_amount=True)


def _in_batch(value, of_unit, ingredient, volume):
    """Return a bound in grams or millilitres of a batch; an open one stays open."""
    if math.isinf(value):
        return value
    if of_unit.kind in PER_LITRE:
        measured_in = "mL" if of_unit.kind == "dose" else "mg"
        value = value * of_unit.factor * volume
        return ingredient.amount_measured(value, measured_in)
    return ingredient.amount_measured(value, of_unit)
