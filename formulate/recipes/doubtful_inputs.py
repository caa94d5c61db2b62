"""What is not known exactly of a batch: weights, contents, strengths, marks, the water.

Each input has a name that people understand and a range in which it may lie. A bound of
which nothing else is known counts as a rectangle, as likely anywhere between its ends;
what many small causes make counts as a bell with 95 of 100 within its range [jcgm-100].
"""

import re
from bisect import bisect
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from formulate.checks import checked_number
from formulate.errors import InputError, UnknownName, shortened
from formulate.ingredients.salts import as_ingredient
from formulate.stoichiometry.nutrients import nutrient
from formulate.tables import read_table, rule_of

__all__ = [
    "DoubtfulInput",
    "Sizes",
    "allowance",
    "content_inputs",
    "read_sizes",
    "scoop_range",
    "weighing_input",
]

EVERYTHING = "all"
POINT = {"water pH"}  # told in units of pH, not in percent
LIGANDS = {"edta", "dtpa", "eddha", "hbed", "citrate"}
METALS = ("Fe", "Mn", "Zn", "Cu", "Ca", "Mg", "Co", "Ni")
MOST_PH = 3.0
RANGE = re.compile(r"([\d.]+)(?:-([\d.]+))?")


@dataclass(frozen=True)
class DoubtfulInput:
    """
    One number that is not known exactly.

    Attributes
    ----------
    name : str
        What it is, such as "balance: KNO3", "volume" or "water analysis".
    part : str
        Which of several numbers under that name: a nutrient, an ion; or "".
    low : float
        Least deviation from what is counted: a share of it, or units of pH. [-]
    high : float
        Greatest deviation. [-]
    shape : str
        "even": anywhere between the ends alike; "bell": 95 of 100 between them.
    source_key : str
        Where the range comes from.

    Examples
    --------
    >>> DoubtfulInput("volume", "", -0.02, 0.02, "even").words
    'volume ± 2 %'
    """

    name: str
    part: str
    low: float
    high: float
    shape: str
    source_key: str = ""

    @property
    def words(self):
        """Return its name with its range."""
        factor, unit = (1, "") if self.name in POINT else (100, " %")
        what = f"{self.name} ({self.part})" if self.part else self.name
        low, high = factor * self.low, factor * self.high
        if abs(low + high) < 1e-9 * (high - low):
            return f"{what} ± {high:.2g}{unit}"
        return f"{what} {low:+.2g} to {high:+.2g}{unit}"


@dataclass(frozen=True)
class Sizes:
    """
    How far each input may be off: the table, and what a caller told instead.

    Attributes
    ----------
    told : mapping of str to float
        Name, kind (what stands before a colon) or "all" to a share, or units of pH. [-]

    Examples
    --------
    >>> Sizes({"all": 0.0, "volume": 0.01}).told_of("balance: KNO3")
    0.0
    """

    told: Mapping

    def told_of(self, name):
        """
        Return what a caller told of an input.

        Parameters
        ----------
        name : str
            Its name.

        Returns
        -------
        float or None
            A share, or units of pH; None if nothing was told. [-]

        Examples
        --------
        >>> Sizes({"balance": 0.02}).told_of("balance: KNO3")
        0.02
        """
        for word in (name, name.partition(":")[0], EVERYTHING):
            if word in self.told:
                return self.told[word]
        return None

    def input(self, name, *, part="", ends=None, source_key=""):
        """
        Return an input with its range: as told, else as given, else from the table.

        Parameters
        ----------
        name : str
            Its name.
        part : str
            Which of several numbers under that name.
        ends : (float, float) or None
            Least and greatest deviation, if they are known better than by the table. [-]
        source_key : str
            Where they come from.

        Returns
        -------
        DoubtfulInput
            The input.

        Examples
        --------
        >>> Sizes({}).input("volume").high
        0.02
        """
        row = rule_of("doubts", name.partition(":")[0])
        told = self.told_of(name)
        key = source_key or row["source_key"]
        if told is not None:
            ends, key = (-told, told), "definition"
        if ends is None:
            size = row.number("value") * (1.0 if row["dimension"] == "-" else 0.01)
            ends = (-size, size)
        return DoubtfulInput(name, part, *ends, row["shape"], key)


def read_sizes(doubts, names, faults):
    """
    Return what a caller told of inputs, checked.

    Parameters
    ----------
    doubts : mapping of str to float, or None
        Name or kind of an input to how far it may be off either way, in percent (of
        "water pH" in units of pH); "all" takes 0 only. [%]
    names : iterable of str
        Names of the inputs that there are.
    faults : Faults
        Where to note what is at fault.

    Returns
    -------
    Sizes
        Shares and units of pH.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> read_sizes({"volume": 1.0}, ["volume"], Faults()).told
    {'volume': 0.01}
    """
    found, kinds = {}, [row["rule"] for row in read_table("doubts")]
    if doubts is not None and not isinstance(doubts, Mapping):
        faults.add(f"doubts: {shortened(doubts)}: write a mapping: {{'volume': 2.0}}")
        return Sizes({})
    known = dict.fromkeys((EVERYTHING, *kinds, *names))
    for name, value in (doubts or {}).items():
        with faults.collecting(f"doubts: {shortened(name)[1:-1]}"):
            if name not in known:
                raise UnknownName(f"is no input; there are {', '.join(known)}")
            most = {EVERYTHING: 0.0, **dict.fromkeys(POINT, MOST_PH)}.get(name, 100.0)
            unit = "units of pH" if name in POINT else "%"
            size = checked_number(value, f"size in {unit}", least=0, most=most)
            found[name] = size if name in POINT else size / 100
    return Sizes(found)


# --- what is weighed -------------------------------------------------------------------


def weighing_input(ingredient, amount, step, sizes, *, where="", scooped=False):
    """
    Return the input that is the weight or the volume of an ingredient.

    Parameters
    ----------
    ingredient : Ingredient
        The ingredient.
    amount : float
        What is weighed or measured of it. [g]
    step : float or None
        Step of the balance or measure; None if none is known. [g]
    sizes : Sizes
        What a caller told.
    where : str
        Of what it is a part, if of a stock.
    scooped : bool
        Whether it is measured by a scoop instead.

    Returns
    -------
    DoubtfulInput or None
        The input; None if no step is known and nothing was told.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> weighing_input(salt("KNO3"), 5.0, 0.1, Sizes({})).words
    'balance: KNO3 ± 1 %'
    """
    tail = f"{ingredient.name} in {where}" if where else ingredient.name
    if scooped:
        ends, key = scoop_range(ingredient)
        return sizes.input(f"scoop: {tail}", ends=ends, source_key=key)
    name = f"{'measure' if ingredient.measured_in == 'mL' else 'balance'}: {tail}"
    if sizes.told_of(name) is not None:
        return sizes.input(name)
    if not step or not amount:
        return None
    half = rule_of("doubts", name.partition(":")[0]).number("value") * step / amount
    return sizes.input(name, ends=(-half, half))


def scoop_range(ingredient):
    """
    Return how far a level scoop of a solid may be off, by its bulk density.

    Parameters
    ----------
    ingredient : Ingredient
        The solid.

    Returns
    -------
    ends : (float, float) or None
        Least and greatest deviation from the middle; None if no density is known. [-]
    source_key : str
        Where the density comes from.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> ends, _ = scoop_range(salt("KNO3"))
    >>> round(ends[1], 3)  # 1.0 to 1.3 kg/L
    0.13
    """
    row = _bulk_rows().get(ingredient.formula) or _bulk_rows().get(ingredient.name)
    if row is None:
        return None, ""
    low, high = row.number("low"), row.number("high")
    half = (high - low) / (high + low)
    return (-half, half), row["source_key"]


@cache
def _bulk_rows():
    """Return material, and its formula where it has one, to its row."""
    found = {}
    for row in read_table("bulk_densities"):
        word = row["material"].partition(",")[0]
        found.setdefault(word, row)
        try:
            formula = as_ingredient(word).formula
        except (InputError, UnknownName):
            continue
        found.setdefault(formula or word, row)
    return found


# --- what an ingredient holds ----------------------------------------------------------


def allowance(key, percent):
    """
    Return by how much a content may stay below its guarantee.

    Parameters
    ----------
    key : str
        "N", "P2O5", "K2O" or the symbol of another nutrient.
    percent : float
        What is guaranteed. [%]

    Returns
    -------
    points : float
        The allowance, in points of percent. [%]
    source_key : str
        Where it comes from.

    Examples
    --------
    >>> allowance("K2O", 26)[0], round(allowance("Ca", 10)[0], 3)
    (1.27, 0.7)
    """
    if key in ("N", "P2O5", "K2O"):
        rows = read_table("label_allowances")
        points = _between(
            [(r.number("guarantee"), r.number(key)) for r in rows], percent
        )
        return points, rows[0]["source_key"]
    for row in read_table("trace_allowances"):
        if row["nutrient"] == key:
            points = row.number("points") + row.number("share") / 100 * percent
            return min(points, row.number("most")), row["source_key"]
    row = rule_of("doubts", "label")
    return row.number("value") / 100 * percent, row["source_key"]


def _between(pairs, at):
    """Return the value at a place between those of a table; its ends beyond them."""
    places = [place for place, _ in pairs]
    right = bisect(places, at)
    if right in (0, len(pairs)):
        return pairs[min(right, len(pairs) - 1)][1]
    (x0, y0), (x1, y1) = pairs[right - 1 : right + 1]
    return y0 + (y1 - y0) * (at - x0) / (x1 - x0)


def content_inputs(ingredient, sizes):
    """
    Return the inputs that are the content of an ingredient, by the form they move.

    Parameters
    ----------
    ingredient : Ingredient
        What is weighed; not a stock or a blend.
    sizes : Sizes
        What a caller told.

    Returns
    -------
    moves : mapping of str to tuple of (DoubtfulInput, float)
        Form to the inputs that move it, each with its share; "" stands for all forms and
        unnamed ions together. Empty if it is counted as pure. [-]

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> ((move, _),) = content_inputs(salt("KNO3"), Sizes({}))[""]
    >>> move.words
    'purity: KNO3 -1.5 to -0.2 %'
    """
    if not ingredient.formula:
        return _label_moves(ingredient, sizes)
    if LIGANDS & set(ingredient.forms):
        return {"": ((_chelate_input(ingredient, sizes), 1.0),)}
    counted = ingredient.purity_percent
    is_thin = ingredient.role == "acid" and counted < 100
    kind = "strength" if ingredient.is_liquid or is_thin else "purity"
    name = f"{kind}: {ingredient.name}"
    ends = _sold_range(ingredient.sold_purity, counted)
    if ends is None and counted == 100 and sizes.told_of(name) is None:
        return {}
    return {
        "": ((sizes.input(name, ends=ends, source_key=_key(ingredient, ends)), 1.0),)
    }


def _key(ingredient, ends):
    """Return where the range of a sold purity comes from."""
    return ingredient.source_key if ends else ""


def _sold_range(text, counted):
    """Return the range in which it is sold as shares of what is counted, or None."""
    match = RANGE.fullmatch(text.replace("–", "-").replace(" ", ""))
    if not match:
        return None
    low, high = float(match[1]), float(match[2] or 100)
    holds = counted == 100 or (match[2] and low <= counted <= high)
    if not holds or high <= low or high > 100:
        return None
    return low / counted - 1, high / counted - 1


def _chelate_input(ingredient, sizes):
    """Return the content of a chelate, which its label states by the metal."""
    key = next((key for key in METALS if ingredient.amount(key)), "")
    if not key:
        return sizes.input(f"purity: {ingredient.name}")
    return _label_input(ingredient, key, sizes)


def _label_input(ingredient, key, sizes):
    """Return one stated content of an ingredient."""
    percent = ingredient.percent(key)
    points, source_key = allowance(key, percent)
    half = min(points / percent, 1.0)
    facts = {"ends": (-half, half), "source_key": source_key}
    return sizes.input(f"label: {ingredient.name}", part=key, **facts)


@cache
def _stated_keys():
    """Return the nutrients that labels state, each with its forms."""
    traces = [row["nutrient"] for row in read_table("trace_allowances")]
    keys = ("N", "P2O5", "K2O", *traces, "Si", "F")
    return tuple((key, tuple(nutrient(key).weights)) for key in keys)


def _label_moves(ingredient, sizes):
    """Return what moves each form of a label: its own content, a ligand with its metals."""
    moves, metals = {}, []
    for key, forms in _stated_keys():
        if ingredient.percent(key) > 0:
            one = _label_input(ingredient, key, sizes)
            moves |= {form: ((one, 1.0),) for form in forms if form in ingredient.forms}
            metals += [(one, ingredient.amount(key))] if key in METALS[:4] else []
    total = sum(amount for _, amount in metals)
    for form in LIGANDS & set(ingredient.forms):
        if total:
            moves[form] = tuple((one, amount / total) for one, amount in metals)
    return moves
