"""Which iron on the shelf holds at a pH, how much of it to weigh, and what a gram costs.

Chelated iron holds within a window of pH on which sources differ; iron that nothing holds
falls out as hydroxide or phosphate above about pH 5.5. Each ingredient is judged alone:
neighbours in a batch may take a part of a chelating agent.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import accumulate
from types import MappingProxyType

from formulate.checks import checked_number
from formulate.chemistry.chelates import AGENTS, bound
from formulate.errors import Faults, InputError, shortened
from formulate.ingredients.ingredient import Ingredient
from formulate.notices import Notice, gravest_first
from formulate.stoichiometry.charge import check_ph
from formulate.stoichiometry.nutrients import form, nutrient
from formulate.stoichiometry.quantities import check_volume
from formulate.tables import read_table, rule_of
from formulate.working import Quantity, Shown, Step, Working, printed

__all__ = ["VERDICTS", "IronSource", "iron_sources", "iron_window"]

VERDICTS = ("holds", "sources differ", "held in part", "lost")  # best first
IRON = ("iron_iii", "iron_ii")
HOLDERS = (*AGENTS, "citrate")
NOISE = 1e-9  # share of the iron that rounding leaves over
PER_KG = 1000.0
DIGITS = 3  # of amounts and costs: a label gives no more
ORTHO_ORTHO = re.compile(r"\bo\s?[,-]\s?o\b|\bortho[\s,-]+ortho\b", re.IGNORECASE)
ADD = "an iron chelate (EDTA, DTPA, EDDHA, HBED) or ferrous sulfate"


@dataclass(frozen=True, eq=False)
class IronSource(Shown):
    """
    An ingredient that brings iron, judged at one pH.

    Attributes
    ----------
    ingredient : Ingredient
        What brings the iron.
    ph : float
        The pH at which it is judged. [-]
    iron : float
        Iron wanted in the batch. [mg/L]
    volume : float
        Volume of the batch. [L]
    chelates : mapping of str to float
        What holds the iron, such as "edta:iron_iii", to its share of the iron. [-]
    holds : str
        One of VERDICTS: "holds" by all sources, "sources differ", "held in part" where
        one part holds and another is lost, "lost" by all sources.
    words : str
        To which pH it holds, with the spread of the sources.
    low : float
        The pH to which it holds by every source. [-]
    high : float
        The pH to which it holds by the most hopeful source. [-]
    share_held : float
        Share of the iron that a chelating agent or citrate holds. [-]
    grams : float
        What brings the iron into the batch: grams, or mL if it is measured so. [g]
    cost : float or None
        Cost of that; None without a price. [currency]
    cost_per_gram : float or None
        Cost of a gram of iron; None without a price. [currency/g]
    brings : mapping of str to float
        Nutrient key to what the same amount brings beside iron, the most first; what a
        chelating agent consists of is no nutrient. [mg/L]
    currency : str
        Currency of the price, if the shelf tells it.
    notices : tuple of Notice
        What else to know.
    """

    ingredient: Ingredient
    ph: float
    iron: float
    volume: float
    chelates: Mapping
    holds: str
    words: str
    low: float
    high: float
    share_held: float
    grams: float
    cost: float | None
    cost_per_gram: float | None
    brings: Mapping
    currency: str = ""
    notices: tuple = ()

    def __post_init__(self):
        for name in ("chelates", "brings"):
            frozen = MappingProxyType(dict(getattr(self, name)))
            object.__setattr__(self, name, frozen)

    @property
    def parts(self):
        """Return what holds the iron, "none:" before what nothing holds, to its share. [-]"""
        return _parts(self.ingredient)

    @property
    def amount_text(self):
        """Return what to weigh or pour, with its unit."""
        return f"{printed(self.grams, DIGITS)} {self.ingredient.measured_in}"

    @property
    def cost_text(self):
        """Return what a gram of its iron costs, or that there is no price."""
        if self.cost_per_gram is None:
            return "no price"
        return f"{printed(self.cost_per_gram, DIGITS)} {self.currency}".strip()

    def row(self):
        """
        Return what is printed of it in a table.

        Returns
        -------
        tuple of str
            Name, verdict, words, amount with its unit, cost of a gram of iron. [-]

        Examples
        --------
        >>> from formulate.ingredients.salts import salt
        >>> bag = salt("Fe-EDTA", name="13 % Fe-EDTA", price_per_kg=20)
        >>> iron_sources([bag], 6.2, iron=2.0, volume=100)[0].row()[:3]
        ('13 % Fe-EDTA', 'sources differ', 'holds to pH 6.0 to 6.5, by source')
        """
        name = self.ingredient.name
        return (name, self.holds, self.words, self.amount_text, self.cost_text)

    def working(self):
        """
        Return the arithmetic of the amount, and of its cost if it has a price.

        Returns
        -------
        Working
            The lines.

        Examples
        --------
        >>> from formulate.ingredients.ingredient import analysed
        >>> bag = analysed("bag", {"Fe(III)": 13, "EDTA": 67})
        >>> (source,) = iron_sources([bag], 6.0, iron=2.0, volume=100)
        >>> round(source.working().value, 4), source.working().unit
        (1.5385, 'g')
        """
        unit = self.ingredient.measured_in
        word = "grams" if unit == "g" else "millilitres"
        terms = (
            Quantity(self.iron, "mg/L"),
            "×",
            Quantity(self.volume, "L"),
            "÷",
            Quantity(self.ingredient.amount("Fe"), f"mmol/{unit}"),
            "÷",
            Quantity(nutrient("Fe").molar_mass, "mg/mmol"),
        )
        steps = [Step(f"{word} of {self.ingredient.name}", terms, unit)]
        if self.cost is not None:
            steps.append(self._cost_step(terms))
        return Working(f"iron from {self.ingredient.name}", tuple(steps))

    def _cost_step(self, terms):
        unit, currency = self.ingredient.measured_in, self.currency or "currency"
        large = "kg" if unit == "g" else "L"
        price = Quantity(self.ingredient.price, f"{currency}/{large}")
        per = Quantity(PER_KG, f"{unit}/{large}")
        return Step("cost of that", (*terms, "×", price, "÷", per), currency)

    def __str__(self):
        name, holds, words, amount, cost = self.row()
        cost = cost if self.cost is None else f"{cost} a gram of iron"
        batch = f"{amount} for {self.iron:g} mg/L Fe in {self.volume:g} L"
        line = f"{name}: {holds} at pH {self.ph:.3g}; {words}; {batch}; {cost}"
        return "\n".join([line, *map(str, self.notices)])


def iron_sources(shelf, ph, *, iron, volume):
    """
    Return what brings iron on a shelf, what holds at a pH first, then by cost.

    What holds by all sources comes first, then where sources differ, then what holds in
    part, then what is lost; among equals the cheapest gram of iron, then what has no
    price, by name. A verdict counts if at least 80 % of the iron share it
    [eu-2021-1768]; the words tell of the rest. No iron is oxidised or reduced here.

    Parameters
    ----------
    shelf : Shelf or iterable of Ingredient
        The ingredients at hand.
    ph : float
        The pH of the solution. [-]
    iron : float
        Iron wanted. [mg/L]
    volume : float or str
        Final made-up volume. [L]

    Returns
    -------
    tuple of IronSource
        One for each ingredient that brings iron.

    Raises
    ------
    InputError
        With every fault: a pH, an amount or a volume that is none; no iron on the shelf.

    Examples
    --------
    >>> from formulate.ingredients.shelf import shelf
    >>> bags = shelf(["ferrous sulfate heptahydrate", "Fe-EDTA", "Fe-DTPA"])
    >>> for source in iron_sources(bags, 6.8, iron=2.0, volume=100):
    ...     print(source.ingredient.name, "-", source.holds, "-", source.amount_text)
    iron DTPA chelate (11 % Fe) - holds - 1.82 g
    ferrous sulfate heptahydrate - lost - 0.996 g
    iron EDTA chelate (13 % Fe) - lost - 1.54 g
    """
    faults, ingredients = Faults("iron_sources"), ()
    with faults.collecting():
        ph = _one_ph(ph)
    with faults.collecting():
        iron = checked_number(iron, "iron in mg/L", above=0)
    with faults.collecting():
        volume = check_volume(volume)
    with faults.collecting():
        ingredients = _with_iron(shelf)
    faults.raise_if_any()
    currency = getattr(shelf, "currency", "")
    found = [_judged(i, ph, iron, volume, currency) for i in ingredients]
    return tuple(sorted(found, key=_rank))


def _one_ph(ph):
    """Return one pH; each verdict belongs to one."""
    ph = check_ph(ph)
    if getattr(ph, "shape", ()):
        raise InputError("pH: give one number, not several")
    return ph


def _with_iron(shelf):
    """Return the ingredients that bring iron."""
    if not isinstance(shelf, Iterable) or isinstance(shelf, str | Mapping):
        raise InputError(f"{shortened(shelf)} is no shelf; give ingredients")
    faults, found = Faults(), {}
    for place, thing in enumerate(shelf, 1):
        if not isinstance(thing, Ingredient):
            what = f"ingredient {place}: {shortened(thing)} is no Ingredient"
            faults.add(f"{what}; make a shelf of names with shelf([...])")
        elif thing.name in found:
            faults.add(f"{thing.name} is there twice; rename one")
        else:
            found[thing.name] = thing
    sources = tuple(thing for thing in found.values() if thing.amount("Fe") > 0)
    if not sources and not faults.found:
        faults.add(f"nothing on the shelf brings iron; add {ADD}")
    faults.raise_if_any()
    return sources


def _rank(source):
    price, name = source.cost_per_gram, source.ingredient.name
    verdict = VERDICTS.index(source.holds)
    return verdict, price is None, price or 0.0, name.casefold(), name


def _judged(ingredient, ph, iron, volume, currency):
    """Return one ingredient with its verdict, its amount and its cost."""
    parts = _parts(ingredient)
    windows = {key: iron_window(key) for key in parts}
    chelates = {k: share for k, share in parts.items() if not k.startswith("none:")}
    iron_mg = ingredient.amount("Fe") * nutrient("Fe").molar_mass  # in 1 g or 1 mL
    grams = iron * volume / iron_mg
    per_unit = ingredient.cost(1.0)
    return IronSource(
        ingredient,
        ph,
        iron,
        volume,
        chelates,
        _verdict(parts, windows, ph),
        _words(parts, windows, ph),
        _end(parts, windows, "high_least"),
        _end(parts, windows, "high_most"),
        min(sum(chelates.values(), 0.0), 1.0),
        grams,
        ingredient.cost(grams),
        None if per_unit is None else per_unit / iron_mg * 1000,
        _brings(ingredient, iron / iron_mg),
        currency,
        _notices(ingredient, parts, windows),
    )


# --- what holds the iron ---------------------------------------------------------------


def _parts(ingredient):
    """Return what holds the iron, as "edta:iron_iii" or "none:iron_ii", to its share."""
    held = bound({key: float(amount) for key, amount in ingredient.forms.items()})
    citrate = held.get("citrate", 0.0)
    for metal in IRON:
        some = min(citrate, held.get(metal, 0.0))
        held[f"citrate:{metal}"] = some
        held[f"none:{metal}"] = held.get(metal, 0.0) - some
        citrate -= some
    keys = [f"{holder}:{metal}" for holder in (*HOLDERS, "none") for metal in IRON]
    total = ingredient.amount("Fe")
    shares = {key: held.get(key, 0.0) / total for key in keys}
    return {key: share for key, share in shares.items() if share > NOISE}


def iron_window(key):
    """
    Return the window of pH in which something holds iron.

    Parameters
    ----------
    key : str
        What holds which iron, such as "edta:iron_iii" or "none:iron_ii".

    Returns
    -------
    Row
        Its line of the tables: both ends by every source and by the most hopeful one.

    Examples
    --------
    >>> iron_window("edta:iron_iii").number("high_most")
    6.5
    """
    known = {f"{row['ligand']}:{row['metal']}": row for row in read_table("chelates")}
    own = _iron_windows().get(key)
    if own is None:
        return known[key]
    return known[own["judged_as"]] if own["judged_as"] else own


def _iron_windows():
    rows = read_table("iron_windows")
    return {f"{row['holder']}:{row['metal']}": row for row in rows}


def _least_share():
    """Return the share of the iron that a verdict is given by. [-]"""
    return rule_of("iron_rules", "held share").number("value") / 100 - NOISE


def _verdict(parts, windows, ph):
    """Return the verdict on all the iron."""
    by_all = by_any = 0.0
    for key, share in parts.items():
        by_all += share * _is_inside(windows[key], ph, "low_most", "high_least")
        by_any += share * _is_inside(windows[key], ph, "low_least", "high_most")
    enough = _least_share()
    if by_all >= enough:
        return "holds"
    if by_any >= enough:
        return "sources differ"
    return "lost" if by_any <= 1 - enough else "held in part"


def _is_inside(row, ph, low, high):
    low = row.number(low)
    return (low is None or low <= ph) and ph <= row.number(high)


def _end(parts, windows, column):
    """Return the highest pH at which enough of the iron still holds."""
    ends = [(windows[key].number(column), share) for key, share in parts.items()]
    ends.sort(reverse=True)
    together = accumulate(share for _, share in ends)
    least = _least_share()
    return next(end for (end, _), s in zip(ends, together, strict=True) if s >= least)


# --- words -----------------------------------------------------------------------------


def _words(parts, windows, ph):
    """Return to which pH each part of the iron holds."""
    told = []
    for key, share in sorted(parts.items(), key=lambda pair: -pair[1]):
        holder, row = key.partition(":")[0], windows[key]
        span = _span(row.number("high_least"), row.number("high_most"))
        by = "nothing" if holder == "none" else form(holder).name
        verb = "holds to" if holder in AGENTS else "usable to about"
        text = f"{verb} pH {span}"
        if holder not in AGENTS:
            text = f"held by {by}, {text}" if len(parts) == 1 else text
        if row["low_most"] and ph < row.number("low_most"):
            low = _span(row.number("low_least"), row.number("low_most"))
            text += f"; strong acid breaks it up below pH {low}"
        lead = "" if len(parts) == 1 else f"{100 * share:.0f} % held by {by}: "
        told.append(lead + text)
    return "; ".join(told)


def _span(least, most):
    """Return one end of a window, with its spread where sources differ."""
    return f"{least:.1f} to {most:.1f}, by source" if least < most else f"{least:.1f}"


def _brings(ingredient, grams):
    """Return what grams in a litre bring beside iron, the most first."""
    shown = {}
    for key in ingredient.forms:
        if key in IRON or key in HOLDERS:
            continue
        known = nutrient(form(key).symbol)
        shown[known.key] = ingredient.amount(known.key) * known.molar_mass * grams
    ranked = sorted(shown.items(), key=lambda pair: (-pair[1], pair[0]))
    return {key: value for key, value in ranked if value > 0}


def _notices(ingredient, parts, windows):
    """Return what else is to be known."""
    own = _iron_windows()
    rows = [own[key] for key in parts if key in own and own[key]["told"]]
    found = [Notice(row["told"], source_key=row["source_key"]) for row in rows]
    if "eddha:iron_iii" in parts:
        found += _isomer_notices(ingredient, windows["eddha:iron_iii"])
    for agent in _idle_agents(ingredient) if "none:iron_ii" in parts else ():
        what = (
            f"no constant is known here for iron(II) with {form(agent).name}: that iron "
            "is counted as held by nothing"
        )
        found.append(Notice(what, source_key="definition"))
    return gravest_first(found)


def _idle_agents(ingredient):
    """Return the agents for whose hold on iron(II) the table has no constant."""
    known = {(row["ligand"], row["metal"]) for row in read_table("chelates")}
    there = [agent for agent in AGENTS if ingredient.forms.get(agent)]
    return [agent for agent in there if (agent, "iron_ii") not in known]


def _isomer_notices(ingredient, row):
    """Return a notice if not all EDDHA is said to be the ortho-ortho isomer."""
    if _is_all_ortho(ingredient):
        return []
    span = _span(row.number("high_least"), row.number("high_most"))
    what = (
        f"only ortho-ortho EDDHA holds to pH {span} (literature, from memory), and "
        f"{ingredient.name} does not say that all of it is: read the label for [o,o]"
    )
    return [Notice(what, "caution", source_key="chelate-literature")]


def _is_all_ortho(ingredient):
    """Return whether all the EDDHA is said to be ortho-ortho, by its parts or its label."""
    parts = [part for part, amount in ingredient.parts if amount]
    parts = [part for part in parts if part.forms.get("eddha")]
    if parts:
        return all(_is_all_ortho(part) for part in parts)
    entries = getattr(ingredient.reading, "entries", ())
    held = [entry for entry in entries if str(entry.agent).upper() == "EDDHA"]
    if held:
        ortho = sum(e.percent for e in held if ORTHO_ORTHO.search(e.text))
        return ortho >= max(e.percent - e.half_digit for e in held)
    return bool(ORTHO_ORTHO.search(f"{ingredient.name} {ingredient.note}"))
