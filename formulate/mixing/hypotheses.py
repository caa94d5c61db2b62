"""What may have gone wrong with a batch, and what it would then hold: one stack for all.

Each hypothesis says how much of each ingredient went in, what went in besides, into how
much of which water, or what the meter shows of a solution that is right.
"""

from dataclasses import dataclass
from itertools import permutations

import numpy as np

from formulate.chemistry.water_properties import check_temperature
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.salts import catalogue
from formulate.ingredients.water import Water
from formulate.ingredients.water import water as as_water
from formulate.mixing.batch import Batch
from formulate.stoichiometry.formula import parse_formula
from formulate.stoichiometry.solution import Solution
from formulate.tables import read_table, rule_of
from formulate.working import printed

__all__ = ["Hypothesis", "hypotheses", "meter_hypotheses", "mistake_rule", "mixed"]

PERCENT = 100.0


@dataclass(frozen=True, eq=False)
class Hypothesis:
    """
    One thing that may have happened.

    Attributes
    ----------
    kind : str
        Its line in the table of kinds of mistakes.
    first : Ingredient or None
        Which ingredient of the batch it is about.
    second : Ingredient or None
        What went in instead.
    shares : tuple of (int, float)
        Places of ingredients whose share is not 1, with the share. [-]
    added : tuple of (Ingredient, float)
        What went in besides. [g]
    filled : float
        Share of the volume that was filled. [-]
    water : Water or None
        The water that was used, if it is not that of the batch.
    shown : float
        What the meter shows as share of the EC. [-]
    text : str
        What happened, where no ingredient tells it.
    grams : float
        How much there is to do about it. [g]
    percent : float
        The same as a share. [%]
    litres : float
        Volume to fill up to. [L]
    """

    kind: str
    first: Ingredient | None = None
    second: Ingredient | None = None
    shares: tuple = ()
    added: tuple = ()
    filled: float = 1.0
    water: Water | None = None
    shown: float = 1.0
    text: str = ""
    grams: float = 0.0
    percent: float = 0.0
    litres: float = 0.0

    @property
    def words(self):
        """Return what happened."""
        return self._written("text")

    @property
    def what_to_do(self):
        """Return what to do if it happened."""
        return self._written("what_to_do")

    def _written(self, column):
        """Return a cell of the table of kinds with the names and amounts of this one."""
        liquid = self.first is not None and self.first.is_liquid
        rows = {row["kind"]: row for row in read_table("mistake_kinds")}
        row = rows.get(f"{self.kind} liquid" if liquid else "", rows[self.kind])
        poured = self.second if self.kind.endswith("acid") else self.first
        return row[column].format(
            first=self.first and self.first.name,
            second=self.second and self.second.name,
            text=self.text,
            grams=_measure(poured, self.grams),
            percent=printed(self.percent, 3),
            litres=printed(self.litres, 3),
        )


def _measure(ingredient, amount):
    """Return an amount as text, of a liquid in millilitres too."""
    if ingredient is None:
        return ""
    if ingredient.measured_in == "mL":
        return f"{printed(amount)} mL"
    volume = ingredient.millilitres(amount)
    return f"{printed(amount)} g" + (f" ({printed(volume, 3)} mL)" if volume else "")


def mistake_rule(name):
    """
    Return one number of the table of rules of mistakes.

    Parameters
    ----------
    name : str
        Name of the rule, such as "pH error".

    Returns
    -------
    float
        Its value, in the dimension that the table tells. [-]

    Examples
    --------
    >>> mistake_rule("pH error")
    0.05
    """
    return rule_of("mistake_rules", name).number("value")


def hypotheses(batch, *, others=(), waters=()):
    """
    Return what may have happened to a batch, the plainest first.

    Parameters
    ----------
    batch : Batch
        The batch as it was meant.
    others : iterable of Ingredient
        What else stands on the shelf and may have been taken for another.
    waters : iterable of Water
        Other waters at hand; pure water is always looked at.

    Returns
    -------
    tuple of Hypothesis
        "nothing" first.

    Examples
    --------
    >>> from formulate.mixing.batch import batch_of
    >>> found = hypotheses(batch_of({"KNO3": 10.0, "MgSO4·7H2O": 5.0}, volume=10))
    >>> [h.words for h in found[:3]]
    ['nothing is wrong', 'KNO3 was forgotten', 'MgSO4·7H2O was forgotten']
    """
    there = [(p, i, a) for p, (i, a) in enumerate(batch.amounts) if a > 0]
    found = [
        Hypothesis("nothing"),
        *(Hypothesis("forgotten", i, shares=((p, 0.0),), grams=a) for p, i, a in there),
        *(Hypothesis("doubled", i, shares=((p, 2.0),), grams=a) for p, i, a in there),
        *_instead(there, tuple(others)),
        *_exchanged(there),
        *_other_bags(there),
        *_volumes(batch),
        *_other_waters(batch, tuple(waters)),
    ]
    return tuple(h for h in found if _has_room(batch, h))


def _same(first, second):
    """Return whether two ingredients are the same material, whatever their names."""
    if first.formula or second.formula:
        return first.formula == second.formula
    near = mistake_rule("same analysis") / PERCENT
    return set(first.forms) == set(second.forms) and all(
        abs(second.forms[key] - v) <= near * v for key, v in first.forms.items()
    )


def _look_alike(first, second):
    """Return whether the table of look-alikes names two ingredients."""
    return any(
        _same(first, one) and _same(second, other)
        for row in read_table("look_alikes")
        for one, other in permutations(_pair(row))
    )


def _pair(row):
    """Return the two ingredients of a line of the table of look-alikes."""
    return catalogue()[row["first"]], catalogue()[row["second"]]


def _as_much(first, amount, second):
    """Return as much of another: the same weight of a solid, the same volume poured."""
    if not first.is_liquid:
        return amount
    return second.amount_measured(first.millilitres(amount), "mL")


def _may_replace(first, second):
    """Return whether one may be taken for the other: both weighed, or both poured."""
    if first.is_liquid != second.is_liquid or _same(first, second):
        return False
    return not second.is_liquid or second.millilitres(1.0) > 0


def _instead(there, others):
    """Yield each ingredient with what may have been taken for it."""
    rows = [_pair(row) for row in read_table("look_alikes")]
    own = [i for _, i, _ in there]
    for place, first, amount in there:
        alike = [b for row in rows for a, b in permutations(row) if _same(first, a)]
        taken = [next((i for i in own if _same(i, b)), b) for b in alike]
        seen = []
        for second in (*others, *taken):
            if any(_same(second, s) for s in seen) or not _may_replace(first, second):
                continue
            seen.append(second)
            added = ((second, _as_much(first, amount, second)),)
            changed = {"shares": ((place, 0.0),), "added": added, "grams": amount}
            yield Hypothesis("instead", first, second, **changed)


def _exchanged(there):
    """Yield each pair of look-alikes of the batch, each weighed for the other."""
    for n, (p, first, a) in enumerate(there):
        for q, second, b in there[n + 1 :]:
            if _may_replace(first, second) and _look_alike(first, second):
                added = (second, _as_much(first, a, second))
                shares, other = (
                    ((p, 0.0), (q, 0.0)),
                    (first, _as_much(second, b, first)),
                )
                changed = {"shares": shares, "added": (added, other)}
                yield Hypothesis("exchanged", first, second, **changed)


def _other_bags(there):
    """Yield each salt with other crystal water, each acid of other strength."""
    for place, first, amount in there:
        for second in _other_contents(first):
            weighed = _as_much(first, amount, second)
            key = max(first.forms, key=first.forms.get)
            ratio = second.forms[key] * weighed / (first.forms[key] * amount)
            words = ("stronger acid", "weaker acid")
            if not first.is_liquid:
                words = ("hydrate more", "hydrate less")
            kind = words[ratio < 1]
            right = weighed / ratio
            yield Hypothesis(
                kind,
                first,
                second,
                ((place, 0.0),),
                ((second, weighed),),
                grams=right if ratio > 1 else right - weighed,
                percent=PERCENT * (ratio - 1),
            )


def _other_contents(first):
    """Return what else the bag or bottle of a compound may hold by the catalogue."""
    if not first.formula:
        return []
    forms = dict(parse_formula(first.formula).forms)
    found = []
    for entry in catalogue().values():
        if not entry.formula or entry.is_liquid != first.is_liquid:
            continue
        if dict(parse_formula(entry.formula).forms) != forms:
            continue
        pour = first.is_liquid and entry.purity_percent != first.purity_percent
        if pour or (not first.is_liquid and entry.formula != first.formula):
            found.append(entry)
    return found


def _volumes(batch):
    """Yield the volumes that may have been filled by mistake."""
    for row in read_table("volume_slips"):
        filled = row.number("factor")
        kind = "too much water" if filled > 1 else "too little water"
        yield Hypothesis(
            kind,
            filled=filled,
            text=row["text"],
            percent=PERCENT * (filled - 1),
            litres=batch.volume,
        )


def _other_waters(batch, waters):
    """Yield pure water in place of a tap water, and the other waters at hand."""
    least = mistake_rule("hardly any salt")
    if batch.water.solution.cations() > least:
        waters = (as_water("pure"), *waters)
    for water in waters:
        name = water.name or "another water"
        text = f"the water was not the one assumed but {name}"
        yield Hypothesis("water", water=water, text=text)


def _has_room(batch, h):
    """Return whether the salts and liquids of a hypothesis fit into its volume."""
    shares = dict(h.shares)
    amounts = [(i, a * shares.get(p, 1.0)) for p, (i, a) in enumerate(batch.amounts)]
    amounts += h.added
    volume = h.filled * batch.volume
    poured = sum(i.millilitres(a) for i, a in amounts) / 1000
    solids = sum(a for i, a in amounts if not i.is_liquid)
    most = rule_of("dissolving_rules", "solids made up to").number("limit")
    return poured < volume and solids <= most * volume


def mixed(batch, found):
    """
    Return what the batch would hold by each hypothesis.

    Parameters
    ----------
    batch : Batch
        The batch as it was meant.
    found : sequence of Hypothesis
        What may have happened.

    Returns
    -------
    Solution
        A stack, one solution for each hypothesis. [mmol/L]

    Examples
    --------
    >>> from formulate.mixing.batch import batch_of
    >>> batch = batch_of({"KNO3": 10.1102}, volume=10)
    >>> made = mixed(batch, hypotheses(batch)[:3])
    >>> made.forms["potassium"].round(3).tolist()
    [10.0, 0.0, 20.0]
    """
    extra = {id(i): i for h in found for i, _ in h.added}
    column = {key: len(batch.amounts) + n for n, key in enumerate(extra)}
    amounts = (*batch.amounts, *((i, 1.0) for i in extra.values()))
    shares = np.zeros((len(found), len(amounts)))
    shares[:, : len(batch.amounts)] = 1.0
    for row, h in enumerate(found):
        for place, share in h.shares:
            shares[row, place] = share
        for ingredient, amount in h.added:
            shares[row, column[id(ingredient)]] += amount
    volume = batch.volume * np.array([h.filled for h in found])
    waters = [h.water or batch.water for h in found]
    parts = []
    for water in {id(w): w for w in waters}.values():
        rows = np.array([n for n, w in enumerate(waters) if w is water])
        wide = Batch(amounts, water, batch.volume, batch.temperature)
        litres = volume[rows] - shares[rows] @ wide.poured
        parts.append((rows, wide.mixtures(shares[rows], litres)))
    return _joined(parts, len(found))


def _joined(parts, size):
    """Return one stack of several, each with its places in it."""
    forms = dict.fromkeys(form for _, made in parts for form in made.forms)
    forms = {form: np.zeros(size) for form in forms}
    charge = np.zeros(size)
    for rows, made in parts:
        charge[rows] = made.unassigned_charge
        for form, values in made.forms.items():
            forms[form][rows] = values
    return Solution(forms, charge, parts[0][1].temperature)


def meter_hypotheses(display, *, temperature=None, uncompensated=1.0):
    """
    Return what a meter may show of a solution that is right.

    Parameters
    ----------
    display : float
        What the meter is believed to show for 1 mS/cm: 1, or 500 of a "ppm" scale. [-]
    temperature : float or None
        Temperature of the solution when it was read; None if it is not known. [°C]
    uncompensated : float
        EC at that temperature as share of the EC at 25 °C. [-]

    Returns
    -------
    tuple of Hypothesis
        Other displays, other scales and, if the temperature is known, no compensation.

    Examples
    --------
    >>> [round(h.shown, 2) for h in meter_hypotheses(500)[:3]]
    [0.0, 2.0, 0.02]
    """
    rows = read_table("meter_displays")
    believed = [r["text"] for r in rows if r.number("shown") == display]
    taken = believed[0] if believed else f"{display:g} for each mS/cm"
    found = [
        Hypothesis(
            "meter",
            shown=row.number("shown") / display,
            text=f"the meter shows {row['text']}, read as {taken}",
        )
        for row in rows
        if row.number("shown") != display
    ]
    if display == 1.0:
        found += _wrong_conversions()
    if temperature is not None:
        temperature = check_temperature(temperature)
        text = f"the meter does not compensate: it shows the EC at {temperature:g} °C"
        found.append(Hypothesis("meter", shown=uncompensated, text=text))
    return tuple(found)


def _wrong_conversions():
    """Yield mS/cm that were worked out from ppm by the factor of another meter."""
    scales = [(r["scale"], r.number("factor")) for r in read_table("meter_scales")]
    for (shown, a), (taken, b) in permutations(scales, 2):
        text = f"ppm of a meter on the {shown} scale were divided by {taken}"
        yield Hypothesis("meter", shown=a / b, text=text)
