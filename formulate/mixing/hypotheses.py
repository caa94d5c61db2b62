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
WATER_FIRST = "share of water"  # not of the volume


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
    sour : tuple of Ingredient
        Acids and alkalis that the cure would bring once more.
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
    sour: tuple = ()

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
        rows = {row["kind"]: row for row in read_table("mistake_kinds")}
        row = rows[self.kind]
        if self.first is not None:
            row = rows.get(f"{self.kind} liquid", row) if self.first.is_liquid else row
            row = (
                rows.get(f"{self.kind} by meter", row) if _is_sour(self.first) else row
            )
        poured = self.second if self.kind.endswith("acid") else self.first
        return row[column].format(
            first=self.first and self.first.name,
            second=self.second and self.second.name,
            text=self.text,
            grams=_measure(poured, self.grams),
            percent=printed(self.percent, 3),
            litres=printed(self.litres, 3),
            by_meter=_by_meter(self.sour),
        )


def _is_sour(ingredient):
    """Return whether an ingredient is handled as an acid or an alkali."""
    return ingredient.role in ("acid", "alkali")


def _by_meter(sour):
    """Return how acids and alkalis go in once more; empty without any."""
    if not sour:
        return ""
    return (
        f"; {' and '.join(i.name for i in sour)} last: let air bubble through and measure before, and add "
        "by the meter in small portions, at most as much"
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


def hypotheses(batch, *, others=(), waters=(), start_fraction=None):
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
    start_fraction : float or None
        Share of the water that was in before anything else; three quarters and a quarter
        are always looked at. [-]

    Returns
    -------
    tuple of Hypothesis
        "nothing" first.

    Examples
    --------
    >>> from formulate.mixing.batch import batch_of
    >>> found = hypotheses(batch_of({"KNO3": 10.0, "MgSO4·7H2O": 5.0}, volume=10))
    >>> [h.words for h in found[:2]]
    ['nothing is wrong', 'topping up was forgotten (it stands at 7.50 L of 10.0 L)']
    """
    there = [(p, i, a) for p, (i, a) in enumerate(batch.amounts) if a > 0]
    low = tuple(_not_topped_up(batch, start_fraction))
    found = [
        Hypothesis("nothing"),
        *low,
        *(Hypothesis("forgotten", i, shares=((p, 0.0),), grams=a) for p, i, a in there),
        *_no_salts(there),
        *_doubled(there),
        *_instead(there, tuple(others)),
        *_exchanged(there),
        *_other_bags(there),
        *_volumes(batch, there, [h.filled for h in low]),
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


def _no_salts(there):
    """Yield that nothing went in, where this is not to forget the only ingredient."""
    if len(there) > 1:
        yield Hypothesis("no salts", shares=tuple((p, 0.0) for p, _, _ in there))


def _doubled(there):
    """Yield that each ingredient went in twice."""
    for place, i, amount in there:
        sour = _sour(there, but=i)
        shares = ((place, 2.0),)
        yield Hypothesis("doubled", i, shares=shares, grams=amount, sour=sour)


def _sour(there, but=None):
    """Return the acids and alkalis that are there, but one."""
    return tuple(i for _, i, _ in there if i is not but and _is_sour(i))


def _not_topped_up(batch, start_fraction):
    """Yield the batch with only the water first in; liquids stand on top of it."""
    rows = [r for r in read_table("volume_slips") if r["dimension"] == WATER_FIRST]
    shares, text = [row.number("factor") for row in rows], rows[0]["text"]
    if start_fraction is not None and not np.isclose(start_fraction, shares).any():
        shares.insert(0, start_fraction)
    for share in shares:
        stands = batch.volume - (1 - share) * batch.water_litres
        where = f"it stands at {printed(stands, 3)} L of {printed(batch.volume, 3)} L"
        given = {"filled": stands / batch.volume, "litres": batch.volume}
        yield Hypothesis("not topped up", text=f"{text} ({where})", **given)


def _volumes(batch, there, known):
    """Yield the volumes that may have been filled by mistake, but those known already."""
    for row in read_table("volume_slips"):
        filled = row.number("factor")
        if row["dimension"] == WATER_FIRST or np.isclose(filled, known).any():
            continue
        kind = "too much water" if filled > 1 else "too little water"
        yield Hypothesis(
            kind,
            filled=filled,
            text=row["text"],
            percent=PERCENT * (filled - 1),
            litres=batch.volume,
            sour=_sour(there),
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
    >>> made = mixed(batch, hypotheses(batch)[:4])
    >>> made.forms["potassium"].round(3).tolist()
    [10.0, 13.333, 40.0, 0.0]
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
