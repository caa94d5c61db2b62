"""A swap: one ingredient of a recipe replaced by another, and what becomes of the rest."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

from formulate.errors import Faults, FormulateError, InputError, UnknownName, shortened
from formulate.ingredients.dissolve import dissolve
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.salts import as_ingredient
from formulate.notices import Notice, gravest_first
from formulate.recipes.recipe import Recipe
from formulate.recipes.requirements import (
    brought,
    limit_rows,
    requirements_of,
    room_for_liquids,
)
from formulate.recipes.solve import solve
from formulate.stoichiometry.nutrients import nutrient_keys
from formulate.stoichiometry.solution import Solution
from formulate.tables import recipe_rule
from formulate.working import Shown, printed, printed_mg_l, printed_percent

__all__ = ["Swap", "swap"]

SAME = 1e-9  # share: nearer than this is the same


@dataclass(frozen=True, eq=False)
class Swap(Shown):
    """
    A recipe before and after one ingredient was replaced.

    Attributes
    ----------
    before : Recipe
        The recipe as it was.
    out : Ingredient
        What was taken off the shelf.
    into : tuple of Ingredient
        What took its place.
    after : Recipe
        The recipe solved again.
    told : tuple of Notice
        What could not be carried over.
    """

    before: Recipe
    out: Ingredient
    into: tuple
    after: Recipe
    told: tuple = ()

    def weights(self):
        """
        Return what is weighed before and after.

        Returns
        -------
        tuple of tuple
            (name, amount before, amount after, "g" or "mL") for the batch. [g]

        Examples
        --------
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
        >>> [(name, round(b, 2), round(a, 2)) for name, b, a, _ in
        ...  swap(recipe, "KNO3", "K2SO4").weights()]
        [('KNO3', 5.17, 0.0), ('K2SO4', 0.0, 4.46)]
        """
        both = (self.before, self.after)
        units = {i.name: i.measured_in for r in both for i, _ in r.amounts}
        was, now = ({i.name: amount for i, amount in r.amounts} for r in both)
        return tuple((n, was.get(n, 0.0), now.get(n, 0.0), u) for n, u in units.items())

    def rows(self):
        """
        Return the nutrients before and after.

        Returns
        -------
        tuple of tuple
            (key, wanted or None, before, after, after less before): what is wanted first,
            then what either recipe holds besides. [mg/L]

        Examples
        --------
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
        >>> [row[0] for row in swap(recipe, "KNO3", "K2SO4").rows()]
        ['K', 'NO3-N', 'S']
        """
        both = (self.before, self.after)
        wanted = {row[0]: row[1] for recipe in both for row in recipe.rows()}
        rows = []
        for key, asked in wanted.items():
            was, now = (recipe.solution.mg_l(key) for recipe in both)
            rows.append((key, asked, was, now, now - was))
        return tuple(rows)

    @cached_property
    def lost(self):
        """Return the wanted keys missed by more than the rule, and by more than before."""
        most, was, now = _most_missed(), _misses(self.before), _misses(self.after)
        worse = (key for key in now if abs(now[key]) > abs(was[key]) + SAME)
        return tuple(key for key in worse if abs(now[key]) > most * (1 + SAME))

    @cached_property
    def gained(self):
        """Return the wanted keys missed by more than the rule before, and not now."""
        most, was, now = _most_missed(), _misses(self.before), _misses(self.after)
        missed = (key for key in was if abs(was[key]) > most * (1 + SAME))
        return tuple(key for key in missed if abs(now[key]) <= most * (1 + SAME))

    @cached_property
    def besides(self):
        """Return (key, mg/L) of what the new ones bring and the old one did not."""
        names = {ingredient.name for ingredient in self.into}
        new = {i: amount for i, amount in self.after.amounts if i.name in names}
        if not new:
            return ()
        old = dissolve({self.out: 1.0}, volume=1)
        gone = {key for key, mass, _ in old.rows() if mass}
        rows = dissolve(new, volume=self.after.volume).rows()
        return tuple((key, mass) for key, mass, _ in rows if mass and key not in gone)

    @property
    def cost_change(self):
        """Return what the batch costs more, None if a price is missing. [currency]"""
        was, now = self.before.cost, self.after.cost
        return None if None in (was, now) else now - was

    @cached_property
    def notices(self):
        """Return what to know about the swap, the gravest first."""
        found = [*self._lost_notices(), *self._used_notices(), *self.told]
        if self.besides:
            names = (f"{key} {printed_mg_l(mass)} mg/L" for key, mass in self.besides)
            found.append(Notice(f"comes along: {', '.join(names)}"))
        return gravest_first([*found, *self._new_notices()])

    def _lost_notices(self):
        """Yield what can no longer be met, or that nothing is lost."""
        most, now = _most_missed(), _misses(self.after)
        for key in self.lost:
            off = printed_percent(100 * now[key])
            what = f"{_told(key, self.before, self.after)} ({off})"
            yield Notice(f"can no longer be matched: {what}", "caution", now[key], most)
        if not self.lost:
            rule = f"more than {100 * most:g} % that was not before"
            yield Notice(f"nothing lost: no wanted value is missed by {rule}")

    def _used_notices(self):
        """Yield which of the ingredients were not, or are not, used at all."""
        was, now = ({i.name for i, _ in r.amounts} for r in (self.before, self.after))
        if self.out.name not in was:
            yield Notice(f"{self.out.name} was not used before")
        for ingredient in self.into:
            if ingredient.name not in now:
                yield Notice(f"{ingredient.name} is not used: no amount of it helps")

    def _new_notices(self):
        """Yield what is graver than a note and was not so before; misses stand above."""
        before = {notice.what for notice in self.before.notices}
        missed = tuple(f"{key}: " for key in _misses(self.after))
        for notice in self.after.notices:
            is_new = notice.what not in before and not notice.what.startswith(missed)
            if is_new and notice.severity != "note":
                yield notice

    def to_frame(self):
        """
        Return the nutrients before and after as a table.

        Returns
        -------
        pandas.DataFrame
            One row per nutrient; columns "wanted", "before", "after", "change". [mg/L]

        Examples
        --------
        >>> from formulate.recipes.target import target
        >>> recipe = solve(target({"K": 200}), ["KNO3"], volume=10)
        >>> swap(recipe, "KNO3", "K2SO4").to_frame().loc["K", "after"].round(3)
        np.float64(200.0)
        """
        import pandas

        columns = ["wanted", "before", "after", "change"]
        rows = {row[0]: row[1:] for row in self.rows()}
        return pandas.DataFrame.from_dict(rows, orient="index", columns=columns)

    def __str__(self):
        names = " and ".join(ingredient.name for ingredient in self.into)
        lines = [f"{names} in place of {self.out.name}, {printed(self.after.volume)} L"]
        lines.append(f"{'before':>9} {'after':>9}")
        for name, was, now, unit in self.weights():
            lines.append(f"{printed(was):>9} {printed(now):>9} {unit} {name}")
        lines.append(f"{'':>9} {'wanted':>8} {'before':>8} {'after':>8}  mg/L")
        for key, *values, _ in self.rows():
            cells = ("" if v is None else printed_mg_l(v) for v in values)
            lines.append(f"{key:>9} " + " ".join(f"{cell:>8}" for cell in cells))
        if self.cost_change is not None:
            lines.append(f"cost of the batch changes by {self.cost_change:+.2f}")
        return "\n".join([*lines, *map(str, self.notices)])


def _most_missed():
    """Return the share by which a wanted value may be missed and count as matched."""
    return recipe_rule("miss").number("high") / 100


def _misses(recipe):
    """Return every wanted key to its miss, the alkalinity where one was wanted."""
    misses = dict(recipe.misses)
    if recipe.target.alkalinity is not None:
        misses["alkalinity"] = recipe.alkalinity_miss
    return misses


def _told(key, before, after):
    """Return what was wanted of a key, and what either recipe reaches."""
    if key == "alkalinity":
        values = (*dict.fromkeys(after.target.alkalinity),)
        was, now, unit = before.alkalinity_left, after.alkalinity_left, "meq/L"
    else:
        wanted, mass = after.target.wanted[key], after.target.mg_l(key)
        ends = dict.fromkeys(after.target.ranges.get(key, (wanted,)))
        values = [end / wanted * mass if wanted else 0.0 for end in ends]
        was, now, unit = before.solution.mg_l(key), after.solution.mg_l(key), "mg/L"
    asked = " to ".join(map(printed_mg_l, values))
    reached = f"{printed_mg_l(was)} before, {printed_mg_l(now)} now"
    return f"{key} {asked} {unit} wanted, {reached}"


def swap(recipe, out, into, *, amounts=None):
    """
    Return what becomes of a recipe if one ingredient is replaced.

    Target, water, volume and the rest of the shelf stay, and so do the amounts on hand of
    the rest. Limits of the target count for the new ones as for all others.

    Parameters
    ----------
    recipe : Recipe
        The recipe.
    out : str or Ingredient
        What is replaced.
    into : str, Ingredient or iterable of them
        What takes its place on the shelf; it may stand there already.
    amounts : mapping of str to str or pair, or None
        How much the batch may take, as in `solve`; of the new ones too. [g]

    Returns
    -------
    Swap
        The recipe before and after.

    Raises
    ------
    InputError
        With every fault: names that are not there, two of one name, urea that is barred.
    Infeasible
        If without the old one the limits cannot all hold.

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> feed = target({"NO3-N": 140, "K": 200, "Ca": 100})
    >>> recipe = solve(feed, ["Ca(NO3)2·4H2O", "KNO3"], volume=10)
    >>> change = swap(recipe, "KNO3", "KCl")
    >>> change.lost, [key for key, _ in change.besides]
    (('NO3-N', 'K', 'Ca'), ['Cl'])
    """
    if not isinstance(recipe, Recipe):
        raise InputError(f"swap: {shortened(recipe)} is no recipe; make one with solve")
    faults, gone = Faults("swap"), None
    shelf = (*recipe.ingredients, *recipe.barred)
    with faults.collecting():
        gone = _on_shelf(out, shelf)
    made = _new_ones(into, shelf, faults)
    for ingredient in made:
        if ingredient is gone:
            faults.add(f"{gone.name} cannot take its own place")
        if "urea" in ingredient.forms and not recipe.target.urea_allowed:
            faults.add(f"{ingredient.name} brings urea, which this target bars")
    faults.raise_if_any()
    rest = _replaced(shelf, gone, made)
    usable = [i for i in rest if not any(i is other for other in recipe.barred)]
    rows, told = _carried_over(recipe, gone, usable)
    given = {"volume": recipe.volume, "water": recipe.water, "requirements": rows}
    after = solve(recipe.target, rest, amounts=amounts, **given)
    return Swap(recipe, gone, tuple(made), after, told)


def _replaced(shelf, gone, made):
    """Return the shelf with the new ones where the old one stood."""
    place = next(j for j, i in enumerate(shelf) if i is gone)
    rest = [i for i in shelf if i is not gone]
    rest[place:place] = [i for i in made if not any(i is other for other in rest)]
    return rest


def _on_shelf(thing, shelf):
    """Return the ingredient of the shelf that a name or an ingredient means."""
    names = {ingredient.name: ingredient for ingredient in shelf}
    name = thing.name if isinstance(thing, Ingredient) else thing
    if isinstance(name, str) and name in names:
        return names[name]
    try:
        made = as_ingredient(thing)
    except FormulateError:
        made = None
    same = [i for i in shelf if made is not None and _is_the_same(i, made)]
    if len(same) != 1:
        what = f"{shortened(name)} is not on the shelf; there are {', '.join(names)}"
        raise UnknownName(what)
    return same[0]


def _is_the_same(first, second):
    """Return whether two ingredients are one substance in one state."""
    is_formula = bool(first.formula) and first.formula == second.formula
    return is_formula and first.is_liquid == second.is_liquid


def _new_ones(into, shelf, faults):
    """Return the new ingredients; one that is on the shelf stays the one it is."""
    is_one = isinstance(into, str | Ingredient) or not isinstance(into, Iterable)
    things, found = [into] if is_one else list(into), {}
    names = {ingredient.name: ingredient for ingredient in shelf}
    for thing in things:
        with faults.collecting():
            is_there = isinstance(thing, str) and thing in names
            made = names[thing] if is_there else as_ingredient(thing)
            there = names.get(made.name, made)
            if isinstance(thing, Ingredient) and there is not thing:
                raise InputError(f"{made.name} is on the shelf already; rename one")
            if made.name in found:
                raise InputError(f"{made.name} stands here twice")
            found[made.name] = there
    if not things:
        faults.add("nothing takes its place; name an ingredient")
    return list(found.values())


# --- rows that were asked for besides the target ----------------------------------------


def _carried_over(recipe, gone, usable):
    """Return the caller's rows and those of amounts over the new shelf, and what is lost."""
    there = {i.name for i in recipe.ingredients}
    new = [i for i in usable if i.name not in there]
    everything = (*recipe.ingredients, *new)
    places = [next(j for j, i in enumerate(everything) if i is one) for one in usable]
    leaving = [j for j, i in enumerate(recipe.ingredients) if i is gone]
    rows, told = [], []
    for row in _own_rows(recipe):
        if row.origin == "amount" and row.limit.subject == gone.name:
            what = f"{row.name} went with it; the new one has no such limit"
            told.append(Notice(what))
            continue
        wider = _known_wider(row, everything)
        if wider is None:
            wider = _wider(row, len(new))
            if new and any(row.coefficients[place] for place in leaving):
                names = ", ".join(i.name for i in new)
                what = f"{row.name}: {names} counts for nothing in it; check this"
                told.append(Notice(what, "caution"))
        rows.append(_picked(wider, places))
    return tuple(rows), tuple(dict.fromkeys(told))


def _own_rows(recipe):
    """Return the rows that neither target nor shelf made, nor the shares of waters."""
    tap = recipe.water.solution
    made = requirements_of(recipe.target, recipe.ingredients, tap, recipe.drawing)
    made = (*made, *room_for_liquids(recipe.ingredients))
    known = {(row.name, row.coefficients, row.origin) for row in made}
    rows = [
        row
        for row in recipe.requirements
        if row.origin != "within" and not row.is_metered
    ]
    return [r for r in rows if (r.name, r.coefficients, r.origin) not in known]


def _known_wider(row, everything):
    """Return a row over all ingredients, if what it is about tells what new ones count.

    It does where the old coefficients follow from its limit or its nutrient key.
    """
    nothing, before = Solution({}), len(row.coefficients)
    if row.limit is not None and not row.limit.of_amount:
        for other in limit_rows(row.limit, everything, nothing):
            if _alike(other.coefficients[:before], row.coefficients):
                below = (*other.below[:-1], row.below[-1]) if row.below else ()
                return replace(row, coefficients=other.coefficients, below=below)
    if row.key in nutrient_keys():
        counts, _ = brought(row.key, everything, nothing)
        if _alike(counts[:before], row.coefficients):
            return replace(row, coefficients=counts)
    return None


def _wider(row, count):
    """Return a row over more ingredients, which count for nothing in it."""
    zeros = (0.0,) * count
    below = (*row.below[:-1], *zeros, row.below[-1]) if row.below else ()
    return replace(row, coefficients=(*row.coefficients, *zeros), below=below)


def _picked(row, places):
    """Return a row over some of its ingredients, in their order."""
    coefficients = tuple(row.coefficients[place] for place in places)
    below = tuple(row.below[place] for place in (*places, -1)) if row.below else ()
    return replace(row, coefficients=coefficients, below=below)


def _alike(first, second):
    pairs = zip(first, second, strict=True)
    return all(abs(a - b) <= SAME * max(abs(a), abs(b)) for a, b in pairs)
