"""The water: a checked analysis, what it brings, and what was assumed to read it.

Bicarbonate in a report is alkalinity under another name, so both are read as alkalinity;
the inorganic carbon then follows from it and the pH.
"""

from dataclasses import dataclass, field, replace

from formulate.checks import checked_number
from formulate.errors import Faults, InputError, UnknownName, shortened
from formulate.notices import Notice
from formulate.stoichiometry.charge import charge_at_ph, check_ph, mean_charge
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.quantities import read_number, read_quantity
from formulate.stoichiometry.solution import Solution, solution
from formulate.stoichiometry.units import CONCENTRATIONS, convert, unit
from formulate.tables import read_table
from formulate.working import Shown, printed

__all__ = ["Water", "balance_notices", "preset_names", "preset_values", "water"]

PH_WORDS = ("ph", "ph value", "ph-value", "ph wert", "ph-wert")
EC_WORDS = ("ec", "conductivity", "electrical conductivity")
ALKALINITY_WORDS = (
    "alkalinity",
    "total alkalinity",
    "acid capacity",
    "carbonate hardness",
)
LARGEST_BARE_EC = 20.0  # mS/cm: no tap water; the number is in another unit
TITRATION_END = 4.3  # pH at which alkalinity is used up
CARBON_CHARGES = {"HCO3": 1, "CO3": 2}
NEUTRAL_PH = 7.0


@dataclass(frozen=True, eq=False)
class Water(Shown):
    """
    A water, as it comes from the tap.

    Attributes
    ----------
    name : str
        How it is called.
    solution : Solution
        What a litre holds. [mmol/L]
    ph : float or None
        Measured pH. [-]
    ec : float or None
        Measured conductivity at 25 °C. [mS/cm]
    alkalinity : float or None
        Alkalinity, if the analysis tells it. [meq/L]
    assumed : tuple of str
        What had to be assumed to read the analysis.
    notices : tuple of Notice
        What to know about it.
    source_key : str
        Where the analysis comes from.
    report : Report or None
        The report it was read from, entry by entry.
    parts : tuple of (Water, float)
        The waters it was blended from, each with its share; none for a water by itself. [-]
    """

    name: str
    solution: Solution
    ph: float | None = None
    ec: float | None = None
    alkalinity: float | None = None
    assumed: tuple = ()
    notices: tuple = ()
    source_key: str = ""
    report: object = None
    parts: tuple = ()

    @property
    def cations(self):
        """Return the sum of cations at the measured pH. [meq/L]"""
        return sum((charge for charge in self.charges if charge > 0), 0.0)

    @property
    def anions(self):
        """Return the sum of anions at the measured pH, without sign. [meq/L]"""
        return -sum((charge for charge in self.charges if charge < 0), -0.0)

    @property
    def balance_percent(self):
        """Return (cations - anions)/(cations + anions) in percent. [%]

        Equation [sm-1030e]::

            balance = 100 (C − A)/(C + A)        C, A sums of cations and anions
        """
        total = self.cations + self.anions
        return 100 * (self.cations - self.anions) / total if total else 0.0

    @property
    def charges(self):
        """Return the charges of the forms, in their order, at the measured pH. [meq/L]"""
        forms = self.solution.forms
        if self.ph is not None:
            return [mean_charge(key, self.ph) * v for key, v in forms.items()]
        carbon = forms.get("carbonate", 0.0)
        told = self.alkalinity is not None and carbon > 0
        nominal = {"carbonate": -self.alkalinity / carbon if told else -1.0}
        charges = {key: mean_charge(key, NEUTRAL_PH) for key in forms} | nominal
        return [charges[key] * v for key, v in forms.items()]

    def __str__(self):
        readings = [f"pH {self.ph:g}"] if self.ph is not None else []
        readings += [f"EC {self.ec:g} mS/cm"] if self.ec is not None else []
        if self.alkalinity is not None:
            readings.append(f"alkalinity {self.alkalinity:g} meq/L")
        head = ", ".join([self.name or "water", *readings])
        assumed = [f"assumed: {text}" for text in self.assumed]
        return "\n".join([head, str(self.solution), *assumed, *map(str, self.notices)])


def preset_names():
    """
    Return the names of the waters that come with the package.

    Returns
    -------
    tuple of str
        Names.

    Examples
    --------
    >>> "reverse-osmosis" in preset_names()
    True
    """
    return tuple(row["key"] for row in read_table("waters"))


def water(contents, *, name="", ph=None, ec=None, unit="mg/L", source_key=""):
    """
    Return a water from an analysis, or one of the package by name.

    Parameters
    ----------
    contents : mapping of str to float or str, or str
        What the analysis says: nutrient keys, "alkalinity", "pH", "EC"; values may carry
        their own unit, and "<0.05" counts as 0. Or a name such as "rain". [mg/L]
    name : str
        How it is called.
    ph : float or None
        Measured pH, if it does not stand in the analysis. [-]
    ec : float or None
        Measured conductivity at 25 °C. [mS/cm]
    unit : str
        Unit of bare numbers.
    source_key : str
        Where the analysis comes from.

    Returns
    -------
    Water
        The water, with what was assumed and what to know about it.

    Raises
    ------
    InputError
        With every fault of the analysis.
    UnknownName
        If there is no water of that name; the message lists them.

    Examples
    --------
    >>> tap = water({"Ca": 94.4, "Mg": 18.3, "alkalinity": "5.72 meq/L", "pH": 7.41})
    >>> round(tap.solution.mg_l("Ca"), 1), tap.ph
    (94.4, 7.41)
    """
    if isinstance(contents, str):
        return _preset(contents, name)
    try:
        entries = dict(contents)
    except (TypeError, ValueError):
        what = f"{shortened(contents)} is no analysis; give a mapping such as {{'Ca': '80 mg/L'}}"
        raise InputError(what) from None
    faults, found = Faults("water"), _Sorted()
    for key, value in (("pH", ph), ("EC", ec)):
        if value is not None:
            with faults.collecting(key):
                _sort_entry(key, value, unit, found)
    for key, value in entries.items():
        with faults.collecting(str(key)):
            _sort_entry(str(key), value, unit, found)
    if len(found.alkalinity) > 1 and set(found.alkalinity) != {"HCO3", "CO3"}:
        words = " and ".join(found.alkalinity)
        faults.add(f"{words} all tell the alkalinity; give one of them")
    faults.raise_if_any()
    return _water_of(found, name, source_key)


@dataclass
class _Sorted:
    """Entries of an analysis, each where it belongs, while they are being read."""

    readings: dict = field(default_factory=dict)
    ions: dict = field(default_factory=dict)
    alkalinity: dict = field(default_factory=dict)
    assumed: list = field(default_factory=list)


def _water_of(found, name, source_key):
    """Return the water that sorted entries make."""
    ph, alkalinity = found.readings.get("pH"), None
    ions = {key: f"{amount!r} mmol/L" for key, amount in found.ions.items()}
    if found.alkalinity:
        alkalinity = sum(found.alkalinity.values())
        carbon = _carbon(alkalinity, ph, found.assumed)
        ions["HCO3"] = f"{carbon!r} mmol/L"
    plain = Water(
        name,
        solution(ions, ph=ph),
        ph,
        found.readings.get("EC"),
        alkalinity,
        tuple(found.assumed),
        (),
        source_key,
    )
    return replace(plain, notices=tuple(balance_notices(plain)))


def _sort_entry(key, value, bare_unit, found):
    """Put one entry of an analysis where it belongs, in mmol/L or meq/L."""
    word = " ".join(key.split()).casefold()
    for reading, words in (("pH", PH_WORDS), ("EC", EC_WORDS)):
        if word in words:
            if reading in found.readings:
                raise InputError(f"{reading} is given already; give it once")
            read = check_ph(read_number(value)) if reading == "pH" else _read_ec(value)
            found.readings[reading] = read
            return
    number, of_unit = _read_concentration(key, value, bare_unit, found.assumed)
    if word in ALKALINITY_WORDS:
        found.alkalinity[key] = _alkalinity(number, of_unit)
        return
    try:
        wanted = nutrient(key)
    except UnknownName as error:
        what = f"{error.faults[0]}; also alkalinity, pH and EC"
        raise UnknownName(what) from None
    if wanted.key in CARBON_CHARGES:
        if wanted.key in found.alkalinity:
            raise InputError(f"{wanted.key} is given already; give it once")
        amount = convert(number, of_unit, "mmol/L", of=wanted)
        found.alkalinity[wanted.key] = CARBON_CHARGES[wanted.key] * amount
        return
    if wanted.key == "Fe":
        found.assumed.append("Fe: total iron counted as iron(III)")
    found.ions[key] = convert(number, of_unit, "mmol/L", of=wanted)


def _read_ec(value):
    """Return a conductivity in mS/cm; a large bare number does not say its unit."""
    number, of_unit = read_quantity(value, "conductivity", default="mS/cm")
    checked_number(number, "EC", least=0)
    is_bare = not isinstance(value, str) or value.strip()[-1:].isdigit()
    if is_bare and number > LARGEST_BARE_EC:
        raise InputError(f"{number:g} of what? write {number:g} uS/cm or its own unit")
    return number * of_unit.factor


def _read_concentration(key, value, bare_unit, assumed):
    """Return a number and its unit; "<0.05" counts as 0 and is noted."""
    if not isinstance(value, str):
        return checked_number(value, key, least=0), unit(bare_unit, *CONCENTRATIONS)
    text = value.strip()
    is_below = text.startswith("<")
    number, of_unit = read_quantity(
        text.lstrip("<"), *CONCENTRATIONS, default=bare_unit
    )
    if number < 0:
        raise InputError(f"{number:g} {of_unit} is negative")
    if is_below:
        assumed.append(f"{key}: printed {text}, counted as 0")
        number = 0.0
    return number, of_unit


def _alkalinity(number, of_unit):
    """Return alkalinity in meq/L; a bare mg/L does not say of what."""
    if of_unit.kind == "mass_concentration":
        raise InputError(
            f"{number:g} {of_unit} of what? write mg/L as CaCO3, meq/L, or HCO3"
        )
    if of_unit.kind == "amount_concentration":
        return (
            number * of_unit.factor
        )  # acid capacity: one millimole of acid is one meq
    return convert(number, of_unit, "meq/L")


def _carbon(alkalinity, ph, assumed):
    """Return the inorganic carbon that gives an alkalinity at a pH, in mmol/L.

    Equation [handbook-misc]::

        carbon = (alkalinity − [OH−] + [H+]) / −z        z mean charge of carbonate at the pH
    """
    if ph is None:
        assumed.append("no pH given: alkalinity counted as bicarbonate")
        return alkalinity
    if ph < TITRATION_END and alkalinity > 10 ** (3 - TITRATION_END):
        what = (
            f"at pH {ph:g} there is no alkalinity left, {alkalinity:g} meq/L is given"
        )
        raise InputError(f"{what}; one of the two is off")
    water_alone = -charge_at_ph({}, ph)
    carbon = (alkalinity - water_alone) / -mean_charge("carbonate", ph)
    if carbon < 0:
        raise InputError(
            f"pH {ph:g} alone gives more alkalinity than {alkalinity:g} meq/L"
        )
    assumed.append(
        "alkalinity counted as carbonate only; carbon from it and the pH at 25 °C"
    )
    return carbon


def balance_notices(plain):
    """
    Yield a notice if the charges of an analysis do not balance.

    Parameters
    ----------
    plain : Water
        The water.

    Yields
    ------
    Notice
        By how much, against the limit for so many anions.

    Examples
    --------
    >>> [n.severity for n in balance_notices(water({"Ca": 100}))]
    ['caution']
    """
    difference = plain.cations - plain.anions
    for row in read_table("water_checks"):
        if row["check"] != "charge balance":
            continue
        if not row.number("from_anions") <= plain.anions < row.number("to_anions"):
            continue
        value = difference if row["unit"] == "meq/L" else plain.balance_percent
        limit = row.number("limit")
        if abs(value) > limit:
            what = (
                f"the analysis is out of balance by {printed(value, 2)} {row['unit']} "
                f"(cations {plain.cations:.2f}, anions {plain.anions:.2f} meq/L; "
                f"limit {limit:g} {row['unit']}): an ion is missing or a number is off"
            )
            yield Notice(what, "caution", value, limit, row["source_key"])


def preset_values(text):
    """
    Return what the analysis of a water of the package says.

    Parameters
    ----------
    text : str
        Its key, or another name of it.

    Returns
    -------
    name : str
        How it is called.
    values : dict of str to str
        Quantity to value with its unit, as printed.

    Raises
    ------
    UnknownName
        If there is no water of that name; the message lists them.

    Examples
    --------
    >>> preset_values("hard")[1]["Ca"]
    '94.4 mg/L'
    """
    row = _preset_row(text)
    return row["name"], {
        line["quantity"]: f"{line['value']} {line['unit']}".strip()
        for line in read_table("water_values")
        if line["water"] == row["key"]
    }


def _preset_row(text):
    """Return the row of a water of the package."""
    word = " ".join(str(text).split()).casefold()
    for row in read_table("waters"):
        if word in (
            row["key"],
            *(alias.casefold() for alias in row["aliases"].split("|")),
        ):
            return row
    known = ", ".join(preset_names())
    raise UnknownName(
        f"{shortened(text)} is no water of the package; there are {known}"
    )


def _preset(text, name):
    """Return a water of the package."""
    row, (own_name, values) = _preset_row(text), preset_values(text)
    made = water(values, name=name or own_name, source_key=row["source_key"])
    if not row["note"]:
        return made
    return replace(made, assumed=(*made.assumed, row["note"]))
