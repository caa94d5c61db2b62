"""The same feed from single salts: what to weigh instead of a product, and how near it comes."""

from dataclasses import dataclass, field
from functools import cached_property

from formulate.claims.finding import Finding
from formulate.claims.product_shares import (
    NITROGEN,
    SHARE_KEYS,
    is_fully_known,
    rounding_together,
)
from formulate.errors import Faults, InputError
from formulate.ingredients.dissolve import dissolve, measured_amounts
from formulate.ingredients.salts import catalogue
from formulate.notices import Notice
from formulate.recipes.first_lines import ideal_line, is_plain_salt
from formulate.recipes.limits import counted, limit
from formulate.recipes.purchases import RESTRICTED
from formulate.recipes.recipe import Recipe
from formulate.recipes.requirements import uncalled_traces
from formulate.recipes.solve import checked_shelf, solve
from formulate.recipes.target import Target
from formulate.stoichiometry.formula import parse_formula
from formulate.stoichiometry.nutrients import form, nutrient
from formulate.stoichiometry.quantities import check_volume
from formulate.stoichiometry.solution import Solution
from formulate.tables import read_table, recipe_rule, rule_of
from formulate.working import Shown, printed, printed_mg_l, printed_percent

__all__ = ["SaltFeed", "common_salts", "feed_from_salts"]

PERCENT = 100.0
MET = 0.001  # share: what a recipe counts as met
BALLAST = ("Cl", "Na")  # no more than traces above the product; less is as good
ALWAYS_TOLD = (*NITROGEN[:2], "P", "K", "Ca", "Mg")
TRACE = 1e-9  # mg/L: less is rounding
LEAST_CHARGE = 0.05  # meq/L of unnamed ions that are worth a word
LISTED = 3  # names without a price
LEAST_SHOWN = 0.5e-4  # g: less of a salt is not listed
ALONE, SLOW = "alone", "slowly"  # as the catalogue tells of a tank, or of dissolving
MIDDLE_PH = (
    "exactly 6"  # of feeds: what leaves its charges open there is acid or alkali
)
RULE = "least squares of relative deviations from what the product's solution holds"


@dataclass(frozen=True, eq=False)
class SaltFeed(Shown):
    """
    A product's feed, made from single salts.

    Attributes
    ----------
    name : str
        The product, or the products together.
    parts : tuple of (Ingredient, float)
        The products with how much of each a batch takes. [g]
    solution : Solution
        What they bring, the water left out. [mmol/L]
    recipe : Recipe
        The salts that bring the same, for the same volume.
    """

    name: str
    parts: tuple
    solution: Solution = field(repr=False)
    recipe: Recipe = field(repr=False)

    @property
    def volume(self):
        """Return the volume of the batch. [L]"""
        return self.recipe.volume

    @property
    def amounts(self):
        """Return name of each salt to what a batch takes of it. [g]"""
        return {one.name: amount for one, amount in self.recipe.amounts}

    @property
    def cost(self):
        """Return what the product costs for the batch; None without a price. [currency]"""
        costs = [one.cost(amount) for one, amount in self.parts]
        return None if None in costs else float(sum(costs))

    @property
    def salts_cost(self):
        """Return what the salts cost for the batch; None without a price. [currency]"""
        return None if self.recipe.cost is None else float(self.recipe.cost)

    @property
    def dearer_percent(self):
        """Return how much dearer the salts are, less than 0 if cheaper; None if not known. [%]"""
        if self.salts_cost is None or not self.cost:
            return None
        return PERCENT * (self.salts_cost / self.cost - 1.0)

    @property
    def columns(self):
        """Return the names of the columns of `rows`."""
        return ("nutrient", "product mg/L", "salts mg/L", "off mg/L", "off %")

    def rows(self):
        """
        Return what the product and what the salts bring of each nutrient.

        Returns
        -------
        tuple of tuple
            Key, mg/L of both, by how much the salts are off in mg/L, and in % of what the
            product brings, None where that is none. [-]

        Examples
        --------
        >>> made = feed_from_salts({"KNO3": "1 g/L"}, salts=["KCl", "NH4NO3"])
        >>> [(row[0], round(row[1], 1)) for row in made.rows() if row[1]]
        [('N', 138.5), ('NO3-N', 138.5), ('K', 386.7)]
        """
        found = []
        for key in SHARE_KEYS:
            asked = float(self.solution.mg_l(key))
            there = float(self.recipe.solution.mg_l(key))
            if max(asked, there) > TRACE:
                off = there - asked
                percent = PERCENT * off / asked if asked > TRACE else None
                found.append((key, asked, there, off, percent))
        return tuple(found)

    def to_frame(self):
        """
        Return both feeds as a table.

        Returns
        -------
        pandas.DataFrame
            One row for each nutrient, units in the names of the columns. [-]

        Examples
        --------
        >>> made = feed_from_salts({"KNO3": "1 g/L"}, salts=["KNO3"])
        >>> made.to_frame().loc["K", "salts mg/L"].round(1)
        np.float64(386.7)
        """
        import pandas as pd

        made = pd.DataFrame(self.rows(), columns=list(self.columns))
        return made.set_index("nutrient")

    @cached_property
    def unmatched(self):
        """
        Return the rows of nutrients that the salts do not match.

        Off by more than 0.1 % and the rounding of the label; less chloride or sodium than
        in the product is no fault, nor are traces more.
        """
        return tuple(row for row in self.rows() if row[1] > TRACE and self._is_off(row))

    def _is_off(self, row):
        key, asked, _, off, _ = row
        if key in BALLAST and off <= _ballast_allowed():
            return False
        return abs(off) > max(MET, rounding_together(self.parts, key)) * asked

    @property
    def besides(self):
        """Return what the salts bring that the product does not tell: key to mg/L."""
        return {r[0]: r[2] for r in self.rows() if r[1] <= TRACE and r[0] != "N"}

    @cached_property
    def finding(self):
        """Return how near the salts come, and how much cheaper or dearer they are."""
        most = recipe_rule("miss").number("high")
        worst = max((abs(row[4]) for row in self.unmatched), default=0.0)
        verdict = "right" if worst <= most else "cannot tell"  # it claims nothing
        what = f"{self._near_words(worst, most)}{self._besides_words}{self.cost_words}"
        severity = "note" if verdict == "right" else "caution"
        subject = f"{self.name} from single salts"
        return Finding(
            subject, verdict, what, worst, most, severity, RULE, "definition"
        )

    def _near_words(self, worst, most):
        if not self.unmatched:
            return "the salts bring the same of every nutrient, beyond rounding no difference"
        listed = ", ".join(
            f"{key} {printed_mg_l(there)} instead of {printed_mg_l(asked)} mg/L "
            f"({printed_percent(percent)})"
            for key, asked, there, _, percent in self.unmatched
        )
        if worst <= most:
            return f"nearly the same, within {most:g} %: {listed}"
        return f"the salts at hand do not make the same: {listed}"

    @property
    def _besides_words(self):
        told = [f"{k} {printed_mg_l(v)} mg/L" for k, v in self.besides.items()]
        told += [
            f"{key} {printed_mg_l(off)} mg/L more"
            for key, asked, _, off, _ in self.rows()
            if key in BALLAST and asked > TRACE and 0 < MET * asked < off
            if off <= _ballast_allowed()
        ]
        return f"; besides they bring {', '.join(told)}" if told else ""

    @property
    def cost_words(self):
        """Return what both cost, in words that begin with a semicolon."""
        mine, salts = self.cost, self.salts_cost
        if mine is None or salts is None:
            lacking = [] if mine is not None else ["the product"]
            lacking += [i.name for i, _ in self.recipe.amounts if i.price is None]
            more = f" and {len(lacking) - LISTED} more" if len(lacking) > LISTED else ""
            listed = ", ".join(lacking[:LISTED])
            return f"; cost cannot be told: no price of {listed}{more}"
        told = f"; for {self.volume:g} L the salts cost {printed(salts)}, the product "
        off = self.dearer_percent
        if off is None:
            return f"{told}{printed(mine)}"
        if abs(off) <= PERCENT * MET:
            return f"{told}as much"
        side = "dearer" if off > 0 else "cheaper"
        return f"{told}{printed(mine)}: {abs(off):.1f} % {side}"

    @property
    def notices(self):
        """Return what was not compared, and ions that the label leaves unnamed."""
        found, open_charge = [], float(self.solution.unassigned_charge)
        aside = _not_compared(self.solution.forms)
        if aside:
            what = f"{self.name}: not compared with single salts: {', '.join(aside)}"
            found.append(Notice(what))
        if self.unmatched and abs(open_charge) > LEAST_CHARGE:
            which = "cations" if open_charge > 0 else "anions"
            what = (
                f"{self.name}: {printed(abs(open_charge), 3)} meq/L of {which} are not named "
                "by the label; single salts must bring some, so they cannot match the rest"
            )
            found.append(Notice(what, "note", open_charge, LEAST_CHARGE))
        return tuple(found)

    @property
    def weights_words(self):
        """Return what to weigh instead of the product, line by line."""
        took = ", ".join(
            f"{printed(amount)} {one.measured_in} {one.name}"
            for one, amount in self.parts
        )
        lines = [f"instead of {took} in {self.volume:g} L:"]
        lines += [
            f"{printed(amount):>9} {one.measured_in} {one.name}"
            for one, amount in self.recipe.amounts
            if amount > LEAST_SHOWN
        ]
        return "\n".join(lines)

    def __str__(self):
        told = (
            self.weights_words,
            f"{self.finding.subject}: {self.finding.what}",
            *self.notices,
        )
        return "\n".join(map(str, told))


def common_salts(forms, target):
    """
    Return the single salts of the catalogue that may stand for a product.

    Solid, neither acid nor alkali, not kept from sale, fit for a concentrate with others;
    the first hydrate of each. Urea, chelating agents, organic ions, and salts that bring
    main nutrients with sodium or chloride are there only where the product holds these;
    trace elements only where the target names them.

    Parameters
    ----------
    forms : iterable of str
        Forms that the product holds.
    target : Target
        What is wanted.

    Returns
    -------
    tuple of Ingredient
        The salts, in the order of the catalogue.

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> made = common_salts(["potassium", "nitrate"], target({"K": 200}))
    >>> {"potassium nitrate", "urea", "magnesium sulfate anhydrous"} & {s.name for s in made}
    {'potassium nitrate'}
    """
    held, found = set(forms), {}
    line = ideal_line(limit("pH", MIDDLE_PH), "low")
    for one in catalogue().values():
        told = (one.restricted == RESTRICTED, one.tank == ALONE, SLOW in one.note)
        if one.is_liquid or any(told) or not _is_asked(one, held, target):
            continue
        if not _moves_ph(one, line):
            salt = one.name
            if one.formula:
                salt = tuple(sorted(parse_formula(one.formula).forms.items()))
            found.setdefault(salt, one)
    return tuple(found.values())


def _is_asked(one, held, target):
    """Return whether an entry brings nothing that neither product nor target ask for."""
    forms = set(one.forms)
    guests = {f for f in forms if nutrient(form(f).symbol).group == "chelate"}
    guests |= forms & {"urea"}
    if is_plain_salt(one):
        guests |= forms & {"sodium", "chloride"}
    return guests <= held and not any(uncalled_traces(target, [one]))


def _moves_ph(one, line):
    """Return whether an entry leaves more than a tenth of its ions' charge open there."""
    most = recipe_rule("open charge").number("low") / PERCENT
    return abs(counted(line.weights, one)) > most * sum(one.forms.values())


def feed_from_salts(products, *, salts=None, volume=1.0):
    """
    Return the single salts that bring what products bring at a dose.

    What the solution of the products holds is the target: every nutrient by its form; of
    sodium and chloride no more than 5 mg/L above that; more counts little, so that nothing
    wanted is given up for traces of them. Nitrogen, phosphorus, potassium, calcium and
    magnesium that the products do not tell are counted as none; sulfur and the rest only
    where the composition is known, not where a label may leave it out.

    Parameters
    ----------
    products : mapping of Ingredient or str to float or str
        Product to how much of it, as in `dissolve`: grams of the batch, or text such as
        "1 g/L" or "5 mL/L". [g]
    salts : Shelf, iterable of Ingredient or str, or None
        What may be weighed instead; the common salts of the catalogue if None.
    volume : float or str
        Volume of the batch. [L]

    Returns
    -------
    SaltFeed
        Weights, what cannot be matched, costs and a finding.

    Raises
    ------
    InputError
        With every fault of products, salts and volume.

    Examples
    --------
    A bag of saltpetre and Epsom salt is as good as its parts:

    >>> from formulate.ingredients.salts import salt
    >>> from formulate.ingredients.stock import blend
    >>> bag = blend("bag", {"KNO3": 3, "MgSO4·7H2O": 1})
    >>> made = feed_from_salts({bag: "2 g/L"}, salts=["KNO3", "MgSO4·7H2O"], volume=10)
    >>> {name: round(grams, 6) for name, grams in made.amounts.items()}
    {'KNO3': 15.0, 'MgSO4·7H2O': 5.0}
    """
    faults, parts = Faults("feed from salts"), ()
    with faults.collecting():
        volume = check_volume(volume)
    with faults.collecting():
        parts = measured_amounts(products, 1.0 if faults.found else volume)
    shelf = () if salts is None else checked_shelf(salts, faults)
    if not faults.found and not any(amount > 0 for _, amount in parts):
        faults.add("nothing is dosed; give an amount such as '1 g/L'")
    faults.raise_if_any()
    parts = tuple((one, amount) for one, amount in parts if amount > 0)
    brought = dissolve(dict(parts), volume=volume)
    target = _target(parts, brought)
    if salts is None:
        shelf = common_salts(brought.forms, target)
    recipe = solve(target, shelf, volume=volume)
    return SaltFeed(" + ".join(one.name for one, _ in parts), parts, brought, recipe)


def _ballast_allowed():
    """Return how much sodium or chloride more than in a product is no fault. [mg/L]"""
    return rule_of("paper_rules", "ballast").number("value")


def _ballast_weight(key, scale):
    """Return the weight of what nobody asked for, for a row of another scale. [-]"""
    (row,) = (row for row in read_table("ceilings") if row["key"] == key)
    usual = row.number("scale") / nutrient(key).molar_mass
    return (row.number("unnamed_weight") * scale / usual) ** 2


def _target(parts, brought):
    """Return what the products bring, as a target."""
    exact = all(is_fully_known(one) for one, _ in parts)
    wanted, ranges, weights = {}, {}, {}
    for key in (*_compared(brought.forms), *ALWAYS_TOLD, *(["S"] if exact else [])):
        value = brought.mmol_l(key)
        wanted.setdefault(key, value)
        if key in BALLAST and value:
            most = value + _ballast_allowed() / nutrient(key).molar_mass
            wanted[key], ranges[key] = most / 2, (0.0, most)
            weights[key] = _ballast_weight(key, most / 2)
    if not any(value for key, value in wanted.items() if key not in BALLAST):
        names = ", ".join(one.name for one, _ in parts)
        what = f"{names} brings no nutrient beside sodium and chloride"
        raise InputError(f"feed from salts: {what}")
    urea = "urea" in brought.forms
    facts = {"weights": weights, "urea_allowed": urea}
    return Target("the product's feed", wanted, ranges, **facts)


def _compared(forms):
    """Return the keys of forms that are compared: nutrients and chelating agents."""
    keys = [
        key
        for key in SHARE_KEYS
        if key != "N" and set(nutrient(key).weights) & {*forms}
    ]
    agents = (form(f).symbol for f in forms)
    return (*keys, *(key for key in agents if nutrient(key).group == "chelate"))


def _not_compared(forms):
    """Return the symbols of forms that are not compared."""
    counted = {f for key in _compared(forms) for f in nutrient(key).weights}
    return [form(f).symbol for f, value in forms.items() if value and f not in counted]
