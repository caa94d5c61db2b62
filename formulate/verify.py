"""Works out shipped check values on this machine and tells which agree.

Each line of `data/check_values.csv` holds a published number, its tolerance and its
source. The kind of the line picks the function below that works the same number out by
the public functions of the package; the published number never reaches it.
"""

import platform
from dataclasses import dataclass
from importlib.metadata import version

import formulate
from formulate.chemistry.conductivity import ec as conductivity_at_25
from formulate.chemistry.oxygen import oxygen_saturation
from formulate.chemistry.precipitation import precipitate
from formulate.chemistry.speciation import speciate
from formulate.errors import MissingData
from formulate.ingredients.dissolve import dissolve
from formulate.ingredients.ec_rules import rough_ec
from formulate.ingredients.labels import label
from formulate.ingredients.salts import acid, salt
from formulate.ingredients.solubility import solubility
from formulate.ingredients.stock import stock
from formulate.ingredients.water import preset_names, water
from formulate.recipes.solve import solve
from formulate.recipes.target import published_target
from formulate.stoichiometry.charge import mean_charge
from formulate.stoichiometry.formula import parse_formula
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.quantities import read_quantity
from formulate.stoichiometry.slips import slips
from formulate.stoichiometry.solution import Solution, solution
from formulate.stoichiometry.units import convert, grams_from_scoop, unit
from formulate.tables import checksum, cite, read_table
from formulate.working import Shown, printed

__all__ = ["Check", "report", "verify"]

TABLE = "check_values"
DIGITS = 6
BASES = ("us", "eu", "element")

EXCESS = 100.0  # mmol/L of a solid that cannot all dissolve


@dataclass(frozen=True)
class Check(Shown):
    """
    A published number beside the one worked out here.

    Attributes
    ----------
    key : str
        Key of the line in the table of check values.
    subject : str
        Under which heading it is counted.
    what : str
        What was worked out.
    published : float or None
        The published number, in `unit`; None if the line holds none. [-]
    unit : str
        Unit of both numbers.
    tolerance : float or None
        Greatest difference that counts as agreement, in `unit`. [-]
    computed : float or None
        The number worked out here, in `unit`; None if there was a fault. [-]
    source_key : str
        Where the published number comes from.
    how_known : str
        "read", "memory" or "computed".
    fault : str
        What went wrong, in words; empty if nothing did.
    """

    key: str
    subject: str
    what: str
    published: float | None
    unit: str
    tolerance: float | None
    computed: float | None
    source_key: str
    how_known: str
    fault: str = ""

    @property
    def share(self):
        """Return the difference as a share of the tolerance; infinite at a fault. [-]"""
        if self.fault or not self.tolerance or self.tolerance < 0:
            return float("inf")
        return abs(self.computed - self.published) / self.tolerance

    @property
    def agrees(self):
        """Return whether the numbers lie within the tolerance."""
        return self.share <= 1  # never so for a number that is none

    @property
    def source(self):
        """Return where the published number comes from, in words."""
        return cite(self.source_key)

    def __str__(self):
        memory = " (from memory)" if self.how_known == "memory" else ""
        verdict = "agrees" if self.agrees else "DISAGREES"
        head = f"{verdict}: {self.what}"
        if self.fault:
            return f"{head}: {self.fault} [{self.source_key}{memory}]"
        told = (
            f"published {self.published:.{DIGITS}g} ± {self.tolerance:.2g}",
            f"computed {printed(self.computed, DIGITS)} {self.unit}".rstrip(),
        )
        return f"{head}: {', '.join(told)} [{self.source_key}{memory}]"


def verify():
    """
    Return every shipped check, worked out on this machine.

    Returns
    -------
    tuple of Check
        One per line of the table, in its order. A check that cannot be worked out is a
        disagreement that says why.

    Examples
    --------
    >>> checks = verify()
    >>> len(checks) > 60, all(check.agrees for check in checks)
    (True, True)
    """
    return tuple(_checked(row) for row in read_table(TABLE))


def report(checks, *, every=False):
    """
    Return what agrees as text.

    Parameters
    ----------
    checks : sequence of Check
        As `verify` returns them.
    every : bool
        Whether each check is told, and not only those that disagree.

    Returns
    -------
    str
        Versions, a line per subject, the checks that disagree in full, and the total.

    Examples
    --------
    >>> print(report(verify()).splitlines()[-1].partition(";")[2].strip())
    all agree
    """
    lines = [_versions(), "", *_subject_lines(checks)]
    told = [check for check in checks if every or not check.agrees]
    if told:
        lines += ["", *map(_in_full, told)]
    return "\n".join([*lines, "", _total(checks)])


# --- what is told ----------------------------------------------------------------------


def _versions():
    """Return what the numbers rest on."""
    parts = [f"formulate {formulate.__version__}", f"tables {checksum()}"]
    parts += [f"Python {platform.python_version()}", f"numpy {version('numpy')}"]
    return ", ".join(parts)


def _subject_lines(checks):
    """Yield one line for each subject, in the order of the table."""
    width = max((len(check.subject) for check in checks), default=0)
    for subject in dict.fromkeys(check.subject for check in checks):
        found = [check for check in checks if check.subject == subject]
        agreeing = sum(check.agrees for check in found)
        memory = sum(check.how_known == "memory" for check in found)
        largest = f"largest difference {max(c.share for c in found):.0%} of tolerance"
        recalled = f"; {memory} from memory" if memory else ""
        counts = f"{agreeing:>3} of {len(found):>3} agree"
        yield f"{subject:<{width}}  {counts}, {largest}{recalled}"


def _in_full(check):
    """Return one check in one line, a disagreement with its source beneath."""
    return str(check) if check.agrees else f"{check}\n  {_source_words(check)}"


def _source_words(check):
    try:
        return check.source
    except MissingData as error:
        return str(error)


def _total(checks):
    """Return how many agree, and what to do if some do not."""
    off = sum(not check.agrees for check in checks)
    count = f"{len(checks)} checks"
    if not checks:
        return f"{count}; nothing was checked: install the package anew"
    if not off:
        return f"{count}; all agree"
    return f"{count}; {off} disagree: trust no number until it is known why"


# --- one line of the table -------------------------------------------------------------


def _checked(row):
    """Return one check; whatever goes wrong in it is told, and the others go on."""
    numbers, fault = dict.fromkeys(("value", "tolerance", "computed")), ""
    try:
        numbers |= {column: _needed(row, column) for column in ("value", "tolerance")}
        numbers["computed"] = float(_by_kind(row))
    except Exception as error:  # a verification that breaks off verifies nothing
        fault = f"{type(error).__name__}: {error}"
    return Check(
        key=row.cells.get("key", ""),
        subject=row.cells.get("subject", ""),
        what=row.cells.get("what", ""),
        published=numbers["value"],
        unit=row.cells.get("unit", ""),
        tolerance=numbers["tolerance"],
        computed=numbers["computed"],
        source_key=row.cells.get("source_key", ""),
        how_known=row.cells.get("how_known", ""),
        fault=fault,
    )


def _needed(row, column):
    number = row.number(column)
    if number is None:
        raise MissingData(f"table {row.table}, line {row.line}: no {column}")
    return number


def _by_kind(row):
    """Return the number that the kind of a line works out."""
    kind = row["kind"]
    if kind not in KINDS:
        raise MissingData(f"no kind of check {kind!r}; there are {', '.join(KINDS)}")
    return KINDS[kind](row["given"], row["asked"], row["unit"])


# --- the kinds: (given, asked, unit) to a number ---------------------------------------


def _parts(given):
    """Return "KNO3: 5 mL/L; KH2PO4: 1 mL/L" as names and amounts."""
    return [part.rpartition(": ")[::2] for part in given.split("; ")]


def _thing(text):
    """Return a label where a basis and a grade are given, else the text."""
    basis, _, rest = text.partition(" ")
    return _label(text) if basis in BASES and rest[:1].isdigit() else text


def _label(text):
    """Return the fertiliser of "us 15-0-0 calcium nitrate"."""
    basis, grade, *sources = text.split(" ", 2)
    return label(text, basis=basis, grade=grade, derived_from=tuple(sources))


def _told(liquid, key, to_unit):
    """Return how much of a nutrient a solution holds, in a unit."""
    return convert(liquid.mg_l(key), "mg/L", unit(to_unit), of=key)


def _ions(name):
    """Return the solution that a published target describes."""
    return solution(dict(published_target(name).wanted), unit="mmol/L")


def _recipe(given):
    """Return the recipe for a litre of "target from salt; salt"."""
    name, _, salts = given.partition(" from ")
    return solve(published_target(name), salts.split("; "), volume=1)


def _molar_mass(given, asked, to_unit):
    return parse_formula(given).molar_mass


def _percent(given, asked, to_unit):
    return salt(given).percent(asked)


def _acid(given, asked, to_unit):
    formula, percent, density = given.split("; ")
    bottle = acid(formula, percent=float(percent), density=float(density))
    litre = dissolve({bottle: "1000 mL/L"}, volume=1)
    return _told(litre, asked, to_unit)


def _factor(given, asked, to_unit):
    return solution({given: 1.0}, unit="mg/L").mg_l(asked)


def _conversion(given, asked, to_unit):
    number, from_unit = read_quantity(given)
    return convert(number, from_unit, to_unit, of=asked or None)


def _dissolved(given, asked, to_unit):
    amounts = {_thing(name): amount for name, amount in _parts(given)}
    return _told(dissolve(amounts, volume=1), asked, to_unit)


def _molar_stocks(given, asked, to_unit):
    amounts = {
        stock(f"1 mol/L {name}", {name: parse_formula(name).molar_mass}, volume=1): dose
        for name, dose in _parts(given)
    }
    return _told(dissolve(amounts, volume=1), asked, to_unit)


def _dose(given, asked, to_unit):
    ((name, wanted),) = _parts(given)
    number, of_unit = read_quantity(wanted)
    made = dissolve({_thing(name): f"1 {to_unit}"}, volume=1)
    return convert(number, of_unit, "mg/L") / made.mg_l(asked)


def _percent_of_label(given, asked, to_unit):
    return _label(given).percent(asked)


def _water(given, asked, to_unit):
    told = given if given in preset_names() else dict(_parts(given))
    if isinstance(told, dict):
        told = {key: float(number) for key, number in told.items()}
    tap = water(told)
    if asked == "hardness":
        return _told(tap.solution, asked, to_unit)
    sums = {
        "cations": tap.cations,
        "anions": tap.anions,
        "balance": tap.balance_percent,
    }
    return sums[asked]


def _target_sum(given, asked, to_unit):
    ions = _ions(given)
    return {"cations": ions.cations, "anions": ions.anions}[asked]()


def _charge_share(given, asked, to_unit):
    ions, positive = _ions(given), nutrient(asked).charge_per_amount() > 0
    return 100 * ions.meq_l(asked) / (ions.cations() if positive else ions.anions())


def _rough_ec(given, asked, to_unit):
    return convert(rough_ec(_ions(given)), "mS/cm", to_unit)


def _held(given):
    """Return "K: 10; Cl: 10" in mmol/L, exactly these ions, as a solution."""
    ions = solution({key: float(number) for key, number in _parts(given)})
    return Solution(ions.forms)


def _conductivity(given, asked, to_unit):
    return convert(conductivity_at_25(_held(given)), "mS/cm", to_unit)


def _ph(given, asked, to_unit):
    return speciate(_held(given)).ph


def _solved(given, asked, to_unit):
    return _told(_recipe(given).solution, asked, to_unit)


def _weighed(given, asked, to_unit):
    grams = _recipe(given).masses[asked]
    return convert(1000 * grams / parse_formula(asked).molar_mass, "mmol/L", to_unit)


def _solubility(given, asked, to_unit):
    solid, _, temperature = given.partition(" at ")
    degrees, of_unit = read_quantity(temperature)
    found = solubility(solid, convert(degrees, of_unit, "°C"))
    return convert(found.per_litre_water, "g", to_unit)


def _oxygen(given, asked, to_unit):
    return convert(oxygen_saturation(float(given)), "mg/L", to_unit)


def _gypsum(given, asked, to_unit):
    """Return how much gypsum dissolves in a litre of water at a temperature."""
    almost_pure = Solution({"calcium": 1e-9, "nitrate": 2e-9}, 0.0, float(given))
    found = precipitate(almost_pure, ["gypsum"], present={"gypsum": EXCESS})
    return convert(found.after.solution.mmol_l("Ca"), "mmol/L", to_unit)


def _dihydrogen(given, asked, to_unit):
    """Return the share of H2PO4- at pH 6 to 9, where HPO4-2 is all the rest."""
    return 100 * (2 + mean_charge("phosphate", float(given)))


def _slip(given, asked, to_unit):
    ((words, right),) = _parts(given)
    (factor,) = [slip.factor for slip in slips(asked) if slip.words == words]
    return float(right) * factor


def _scoop(given, asked, to_unit):
    scoop, material = given.split(" of ")
    number, of_unit = read_quantity(scoop)
    low, high = grams_from_scoop(number, of_unit, material)
    return convert({"least": low, "most": high}[asked], "g", to_unit)


KINDS = {
    "molar mass": _molar_mass,
    "salt": _percent,
    "acid": _acid,
    "factor": _factor,
    "conversion": _conversion,
    "dissolved": _dissolved,
    "molar stocks": _molar_stocks,
    "dose": _dose,
    "label": _percent_of_label,
    "water": _water,
    "target sum": _target_sum,
    "charge share": _charge_share,
    "rough EC": _rough_ec,
    "EC": _conductivity,
    "pH": _ph,
    "solved": _solved,
    "weighed": _weighed,
    "solubility": _solubility,
    "oxygen": _oxygen,
    "gypsum": _gypsum,
    "dihydrogen phosphate": _dihydrogen,
    "slip": _slip,
    "scoop": _scoop,
}
