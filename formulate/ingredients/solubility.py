"""Handbook solubility of solids in water against temperature, for the solid as it is sold.

Handbooks print the waterless salt, most bags hold a hydrate, and tables differ in what they
count: mass percent of the saturated solution, grams per 100 g of water, mol per kg of
water. Everything is turned here into grams of the solid as sold per 100 g of added water;
its crystal water then counts as water. No entry does not mean that it dissolves well.
"""

from dataclasses import dataclass
from functools import cache

from formulate.checks import checked_number
from formulate.errors import FormulaError, InputError, MissingData, shortened
from formulate.notices import Notice
from formulate.stoichiometry.formula import molar_mass, parse_formula
from formulate.tables import cite, read_table
from formulate.working import Shown, printed

__all__ = ["Solubility", "solubility", "solubility_formulas"]

PERCENT = 100.0
COLDEST, HOTTEST = 0.0, 100.0  # °C: liquid water
WIDE = 0.05  # relative spread of sources worth telling
GRAMS_PER_LITRE = 10.0  # of g per 100 g, a litre of water taken as 1 kg


@dataclass(frozen=True)
class Solubility(Shown):
    """
    How much of a solid dissolves in water.

    Attributes
    ----------
    solid : str
        Formula of the solid that is weighed.
    temperature : float
        Temperature. [°C]
    per_100g_water : float
        Solid as sold that 100 g of added water take up. [g]
    low : float
        The same by the source that gives least. [g]
    high : float
        The same by the source that gives most. [g]
    mass_percent : float
        Waterless salt in the saturated solution. [%]
    basis : str
        What the table printed, and of which formula.
    table_range : tuple of float
        Lowest and highest temperature of the series used. [°C]
    source_key : str
        Where the value comes from.
    how_known : str
        "read" or "memory".
    note : str
        What the table says of the solid under the solution, and of other tables.
    notices : tuple of Notice
        Temperature outside the series, sources that differ, values from memory.
    """

    solid: str
    temperature: float
    per_100g_water: float
    low: float
    high: float
    mass_percent: float
    basis: str
    table_range: tuple
    source_key: str
    how_known: str
    note: str = ""
    notices: tuple = ()

    @property
    def per_litre_water(self):
        """Return grams of the solid that a litre (1 kg) of added water takes up. [g]"""
        return self.per_100g_water * GRAMS_PER_LITRE

    def __str__(self):
        grams = [printed(g, 3) for g in (self.per_100g_water, self.low, self.high)]
        spread = f" (sources {grams[1]} to {grams[2]})" if self.low < self.high else ""
        head = f"{self.solid}, {self.temperature:g} °C: {grams[0]} g per 100 g of water"
        lines = [f"{head}{spread}; {self.basis}; {cite(self.source_key)}"]
        return "\n".join([*lines, *filter(None, [self.note]), *map(str, self.notices)])


@dataclass(frozen=True)
class _Series:
    """One source's values for one salt: temperature to waterless mass percent."""

    formula: str
    basis: str
    source_key: str
    how_known: str
    note: str
    points: tuple  # (temperature, value, low, high)

    @property
    def range(self):
        """Return its lowest and highest temperature. [°C]"""
        return self.points[0][0], self.points[-1][0]

    def covers(self, temperature):
        """Return whether a temperature lies in its range."""
        low, high = self.range
        return low <= temperature <= high

    def distance(self, temperature):
        """Return how far a temperature lies outside its range. [°C]"""
        low, high = self.range
        return max(low - temperature, temperature - high, 0.0)

    def at(self, temperature, column=1):
        """Return the mass percent on the straight line between its neighbours. [%]"""
        low, high = self.range
        temperature = min(max(temperature, low), high)
        before = max(p for p in self.points if p[0] <= temperature)
        after = min(p for p in self.points if p[0] >= temperature)
        if before is after:
            return before[column]
        share = (temperature - before[0]) / (after[0] - before[0])
        return before[column] + share * (after[column] - before[column])


def _salt_of(formula):
    """Return what tells a salt from others, whatever its crystal water."""
    forms = parse_formula(formula).forms
    total = sum(forms.values())
    return tuple((key, round(forms[key] / total, 6)) for key in sorted(forms))


def _hydration(formula):
    """Return grams of a solid that hold one gram of its waterless salt.

    Equation [stoichiometry]::

        h = M / (M − n M(H2O))        n waters of crystallisation
    """
    read = parse_formula(formula)
    return read.molar_mass / (read.molar_mass - read.water * molar_mass("H2O"))


def _waterless_percent(formula, basis, value):
    """Return a printed value as waterless mass percent of the saturated solution."""
    if basis == "mass percent":
        return value / _hydration(formula)
    if basis == "mol per kg water":
        value = value * molar_mass(formula) / 10
    return PERCENT * value / _hydration(formula) / (PERCENT + value)


def _of_solid(formula, percent):
    """Return grams of a solid in 100 g of added water, from waterless mass percent.

    Equation of the solubility of a hydrate [stoichiometry]::

        S = 100 p h / (100 − p h)        p waterless mass percent, h as in _hydration
    """
    hydration = _hydration(formula)
    rest = PERCENT - percent * hydration
    return PERCENT * percent * hydration / rest if rest > 0 else None


@cache
def _series():
    """Return salt to its series, in the order of the table, and product CAS to formula."""
    found, products = {}, {}
    for row in read_table("solubility"):
        key = (row["formula"], row["basis"], row["source_key"], row["how_known"])
        found.setdefault(key, []).append(row)
        if row["product_cas"]:
            products[row["product_cas"]] = row["formula"]
    salts = {}
    for key, rows in found.items():
        points = sorted(_point(row) for row in rows)
        note = next((row["note"] for row in rows if row["note"]), "")
        salts.setdefault(_salt_of(key[0]), []).append(
            _Series(*key, note, tuple(points))
        )
    return salts, products


def _point(row):
    """Return temperature and waterless mass percent of a row: value, low, high."""
    value = row.number("value")
    cells = (row.number("low") or value, row.number("high") or value)
    formula, basis = row["formula"], row["basis"]
    percents = (_waterless_percent(formula, basis, v) for v in (value, *cells))
    return (row.number("temperature"), *percents)


def solubility_formulas():
    """
    Return the formulas that the table of solubilities holds.

    Returns
    -------
    tuple of str
        Formulas as printed in the sources; hydrates are computed from them.

    Examples
    --------
    >>> "KNO3" in solubility_formulas()
    True
    """
    return tuple(dict.fromkeys(row["formula"] for row in read_table("solubility")))


def _neutral(text):
    """Return the text of a formula that is no ion."""
    try:
        read = parse_formula(text)
    except FormulaError as error:
        what = "; for a name of the catalogue give salt(name)"
        raise InputError(*(f"{fault}{what}" for fault in error.faults)) from None
    if read.charge:
        raise InputError(f"{text} is an ion; a bag holds whole salts")
    return read.text


def _formula_of(solid):
    """Return the formula under which a solid is looked up."""
    if isinstance(solid, str):
        return _neutral(solid)
    if not hasattr(solid, "formula") or not hasattr(solid, "cas"):
        raise InputError(f"{shortened(solid)}: give an ingredient or a formula")
    if solid.is_liquid:
        raise InputError(f"{solid.name} is a liquid: it is dissolved already")
    formula = solid.formula or _series()[1].get(solid.cas)
    if not formula:
        what = "no single compound, so no table holds it; look up its parts"
        raise MissingData(f"{solid.name}: {what}")
    return formula


def _notices(series, temperature, low, high):
    """Return what to know about a value of the table."""
    first, last = series.range
    if not series.covers(temperature):
        spoken = f"at {first:g}" if first == last else f"from {first:g} to {last:g}"
        what = f"solubility of {series.formula} is known {spoken} °C, not at"
        yield Notice(
            f"{what} {temperature:g} °C; the nearest value is shown, and most solids "
            "dissolve less in the cold",
            "caution",
            number=temperature,
            limit=first if temperature < first else last,
            source_key=series.source_key,
        )
    if high > low * (1 + WIDE):
        what = f"sources differ by {PERCENT * (high / low - 1):.0f} %; stay below the least"
        yield Notice(what, "note", source_key=series.source_key)
    if series.how_known == "memory":
        yield Notice("from memory, not confirmed", "note", source_key=series.source_key)


def solubility(solid, temperature):
    """
    Return how much of a solid dissolves in pure water.

    The first source of the table that covers the temperature gives the value, on a
    straight line between its temperatures (of waterless mass percent); all that cover it
    give the spread. Outside every range the nearest value is returned with a notice.
    Other salts in the water that share an ion lower it; they are not counted here.

    Equation of the value between two temperatures [definition]::

        p = p1 + (p2 − p1) (t − t1)/(t2 − t1)        p waterless mass percent of the table

    Parameters
    ----------
    solid : Ingredient or str
        The solid as it is weighed, or its formula with its crystal water.
    temperature : float
        Temperature. [°C]

    Returns
    -------
    Solubility
        Grams of the solid as sold, spread of the sources, range and source.

    Raises
    ------
    MissingData
        If no table holds it (that does not mean that it dissolves), or if the solid melts
        in its own crystal water.
    InputError
        If it is a liquid, no formula, or the temperature is not that of liquid water.

    Examples
    --------
    >>> epsom = solubility("MgSO4·7H2O", 25)
    >>> round(epsom.per_100g_water, 1), round(epsom.mass_percent, 1)
    (116.7, 26.3)
    """
    temperature = checked_number(
        temperature, "temperature in °C", least=COLDEST, most=HOTTEST
    )
    formula = _formula_of(solid)
    known = (
        _series()[0].get(_salt_of(formula)) if parse_formula(formula).forms else None
    )
    if not known:
        raise MissingData(
            f"no solubility of {formula} in the table; that does not mean that it "
            "dissolves: try a little, or use a salt that is listed"
        )
    main = min(known, key=lambda series: series.distance(temperature))
    covering = [series for series in known if series.covers(temperature)] or [main]
    percents = [series.at(temperature, c) for series in covering for c in (1, 2, 3)]
    grams = [
        _of_solid(formula, p)
        for p in (main.at(temperature), min(percents), max(percents))
    ]
    if None in grams:
        raise MissingData(
            f"{formula} at {temperature:g} °C: it dissolves in its own crystal water, "
            "there is no limit to state"
        )
    return Solubility(
        formula,
        temperature,
        *grams,
        main.at(temperature),
        f"from {main.basis} of {main.formula}",
        main.range,
        main.source_key,
        main.how_known,
        main.note,
        tuple(_notices(main, temperature, grams[1], grams[2])),
    )
