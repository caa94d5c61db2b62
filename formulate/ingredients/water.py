"""The water: a checked analysis, what it brings, and what was assumed to read it.

Bicarbonate in a report is alkalinity under another name, so both are read as alkalinity;
the inorganic carbon then follows from it and the pH.
"""

from dataclasses import dataclass, replace

from formulate.errors import Faults, InputError, UnknownName, shortened
from formulate.notices import Notice
from formulate.stoichiometry.charge import charge_at_ph, check_ph, mean_charge
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.quantities import read_number, read_quantity
from formulate.stoichiometry.solution import Solution, solution
from formulate.stoichiometry.units import convert, unit
from formulate.tables import read_table
from formulate.working import Shown

__all__ = ["Water", "preset_names", "water"]

PH_WORDS = ("ph", "ph value", "ph-value", "ph wert", "ph-wert")
EC_WORDS = ("ec", "conductivity", "electrical conductivity")
ALKALINITY_WORDS = (
    "alkalinity",
    "total alkalinity",
    "acid capacity",
    "carbonate hardness",
)
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
    """

    name: str
    solution: Solution
    ph: float | None = None
    ec: float | None = None
    alkalinity: float | None = None
    assumed: tuple = ()
    notices: tuple = ()
    source_key: str = ""

    @property
    def cations(self):
        """Return the sum of cations at the measured pH. [meq/L]"""
        forms = self.solution.forms
        return sum(max(self._charge(key), 0.0) * value for key, value in forms.items())

    @property
    def anions(self):
        """Return the sum of anions at the measured pH, without sign. [meq/L]"""
        forms = self.solution.forms
        return sum(max(-self._charge(key), 0.0) * value for key, value in forms.items())

    @property
    def balance_percent(self):
        """Return (cations - anions)/(cations + anions) in percent. [%]"""
        total = self.cations + self.anions
        return 100 * (self.cations - self.anions) / total if total else 0.0

    def _charge(self, key):
        if self.ph is None:
            return -1.0 if key == "carbonate" else mean_charge(key, NEUTRAL_PH)
        return mean_charge(key, self.ph)

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
    faults, assumed = Faults("water"), []
    readings = {"pH": ph, "EC": ec}
    ions, alkalinity = {}, {}
    for key, value in entries.items():
        with faults.collecting(str(key)):
            _sort_entry(str(key), value, unit, readings, ions, alkalinity, assumed)
    if len(alkalinity) > 1 and set(alkalinity) != {"HCO3", "CO3"}:
        faults.add(
            f"{' and '.join(alkalinity)} all tell the alkalinity; give one of them"
        )
    with faults.collecting("pH"):
        ph = None if readings["pH"] is None else check_ph(readings["pH"])
    faults.raise_if_any()
    if alkalinity:
        with faults.collecting("alkalinity"):
            ions["HCO3"] = _carbon(sum(alkalinity.values()), ph, assumed)
    with faults.collecting():
        made = solution(
            {key: f"{amount!r} mmol/L" for key, amount in ions.items()}, ph=ph
        )
    faults.raise_if_any()
    if ph is None and alkalinity:
        assumed.append("no pH given: alkalinity counted as bicarbonate")
    known = sum(alkalinity.values()) if alkalinity else None
    plain = Water(name, made, ph, readings["EC"], known, tuple(assumed), (), source_key)
    return replace(plain, notices=tuple(_balance_notices(plain)))


def _sort_entry(key, value, bare_unit, readings, ions, alkalinity, assumed):
    """Put one entry of an analysis where it belongs, in mmol/L or meq/L."""
    word = " ".join(key.split()).casefold()
    if word in PH_WORDS:
        readings["pH"] = read_number(value)
        return
    if word in EC_WORDS:
        number, of_unit = read_quantity(value, "conductivity", default="mS/cm")
        if number < 0:
            raise InputError(f"{number:g} is negative")
        readings["EC"] = number * of_unit.factor
        return
    text = str(value).strip()
    if text.startswith("<"):
        number, of_unit = read_quantity(text[1:], *_KINDS, default=bare_unit)
        assumed.append(f"{key}: printed {text}, counted as 0")
        number = 0.0
    elif isinstance(value, str):
        number, of_unit = read_quantity(text, *_KINDS, default=bare_unit)
    else:
        number, of_unit = read_number(value), unit(bare_unit, *_KINDS)
    if number < 0:
        raise InputError(f"{number:g} {of_unit} is negative")
    if word in ALKALINITY_WORDS:
        alkalinity[key] = _alkalinity(number, of_unit)
        return
    wanted = nutrient(key)
    if wanted.key in CARBON_CHARGES:
        charge = CARBON_CHARGES[wanted.key]
        alkalinity[wanted.key] = charge * convert(number, of_unit, "mmol/L", of=wanted)
        return
    if wanted.key == "Fe" and of_unit.kind == "mass_concentration":
        assumed.append("Fe: total iron counted as iron(III)")
    ions[key] = convert(number, of_unit, "mmol/L", of=wanted)


_KINDS = ("mass_concentration", "amount_concentration", "charge_concentration", "caco3")


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
    """Return the inorganic carbon that gives an alkalinity at a pH, in mmol/L."""
    if ph is None:
        return alkalinity
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


def _balance_notices(plain):
    """Yield a notice if the charges of an analysis do not balance."""
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
                f"the analysis is out of balance by {value:.2g} {row['unit']} "
                f"(cations {plain.cations:.2f}, anions {plain.anions:.2f} meq/L; "
                f"limit {limit:g} {row['unit']}): an ion is missing or a number is off"
            )
            yield Notice(what, "caution", value, limit, row["source_key"])


def _preset(text, name):
    """Return a water of the package."""
    word = " ".join(text.split()).casefold()
    for row in read_table("waters"):
        if word in (
            row["key"],
            *(alias.casefold() for alias in row["aliases"].split("|")),
        ):
            break
    else:
        known = ", ".join(preset_names())
        raise UnknownName(
            f"{shortened(text)} is no water of the package; there are {known}"
        )
    entries = {
        line["quantity"]: f"{line['value']} {line['unit']}".strip()
        for line in read_table("water_values")
        if line["water"] == row["key"]
    }
    made = water(entries, name=name or row["name"], source_key=row["source_key"])
    if not row["note"]:
        return made
    return replace(made, assumed=(*made.assumed, row["note"]))
