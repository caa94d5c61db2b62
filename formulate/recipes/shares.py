"""Shares of waters: how much of each to take, what holds them back, and other shares beside."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

from formulate.checks import checked_number
from formulate.errors import Infeasible
from formulate.ingredients.dissolve import poured_litres
from formulate.ingredients.water_report import blend_waters
from formulate.notices import gravest_first
from formulate.recipes.recipe import Recipe
from formulate.recipes.solve import solve
from formulate.working import Shown, printed, printed_mg_l, printed_percent

__all__ = ["SharePoint", "WaterShare", "blend_of", "poured_share"]

LITRES_PER_M3 = 1000.0
NONE = 1e-8  # share of a water: less is none


@dataclass(frozen=True)
class SharePoint:
    """
    What one share of the first water comes to.

    Attributes
    ----------
    share : float
        Share of the first water. [-]
    miss : float or None
        Largest miss of a wanted value, with its sign; None where limits break. [-]
    key : str
        What is missed by so much.
    sodium_mg_l : float or None
        Sodium reached. [mg/L]
    chloride_mg_l : float or None
        Chloride reached. [mg/L]
    cost : float or None
        Cost of the batch, waters and salts; None if a price is missing. [currency]
    broken : tuple of str
        The limits that cannot be kept at this share.
    """

    share: float
    miss: float | None
    key: str
    sodium_mg_l: float | None
    chloride_mg_l: float | None
    cost: float | None
    broken: tuple = ()


@dataclass(frozen=True, eq=False)
class WaterShare(Shown):
    """
    How much of each water to take, and the recipe for their blend.

    Attributes
    ----------
    waters : mapping of str to Water
        The waters by name, the one to be used first before the others.
    shares : mapping of str to float
        Share of each in the water. [-]
    recipe : Recipe
        The recipe for the blend.
    shelf : object
        The shelf.
    held_back : tuple of str
        Rows without each of which the share would be greater, or the cost less; where only
        several together hold it back, these.
    prices : mapping of str to float, or None
        Price of each water. [currency/m3]
    amounts : mapping or None
        What the batch may take of each ingredient, as in `solve`. [g]
    least_cost : float or None
        Least cost of a batch whose wanted values are met; None without prices. [currency]
    told : tuple of Notice
        What to know about the shares.
    """

    waters: Mapping
    shares: Mapping
    recipe: Recipe
    shelf: object
    held_back: tuple = ()
    prices: Mapping | None = None
    amounts: Mapping | None = None
    least_cost: float | None = None
    told: tuple = ()

    def __post_init__(self):
        for name in ("waters", "shares"):
            frozen = MappingProxyType(dict(getattr(self, name)))
            object.__setattr__(self, name, frozen)

    @property
    def first(self):
        """Return the name of the water that is to be used first."""
        return next(iter(self.waters))

    @property
    def litres(self):
        """Return name to litres of each water for the batch; liquids take their room. [L]"""
        of_water = _of_water(self.recipe)
        return MappingProxyType({n: s * of_water for n, s in self.shares.items()})

    @property
    def cost(self):
        """Return the cost of waters and salts, None if a price is missing. [currency]"""
        return self._cost(self.recipe, self.shares)

    @cached_property
    def alone(self):
        """Return name to the recipe with that water alone, or to why there is none."""
        names = self.waters
        shares = {name: {n: float(n == name) for n in names} for name in names}
        found = {name: self._at(one) for name, one in shares.items()}
        return MappingProxyType(found)

    @cached_property
    def notices(self):
        """Return what to know about shares and recipe, the gravest first."""
        return gravest_first((*self.told, *self.recipe.notices))

    def _at(self, shares):
        """Return the recipe at other shares, or the error that says why there is none."""
        facts = {"volume": self.recipe.volume, "amounts": self.amounts}
        blend = blend_of(self.waters, shares)
        try:
            return solve(self.recipe.target, self.shelf, water=blend, **facts)
        except Infeasible as error:
            return error

    def _cost(self, recipe, shares):
        if self.prices is None or recipe.cost is None:
            return None
        per_m3 = sum(self.prices[name] * share for name, share in shares.items())
        return recipe.cost + per_m3 * _of_water(recipe) / LITRES_PER_M3

    def curve(self, points=11):
        """
        Return what every share of the first water comes to, from none of it to all.

        The nearest recipe at each share, whatever it misses. Of more than two waters the
        others share the rest as they do here, or evenly if the first is alone.

        Parameters
        ----------
        points : int
            How many shares, evenly spread. [-]

        Returns
        -------
        tuple of SharePoint
            One for each share, rising.

        Raises
        ------
        InputError
            If there are fewer than two points, or more than a thousand.

        Examples
        --------
        >>> from formulate.ingredients.water import water
        >>> from formulate.recipes.target import target
        >>> from formulate.recipes.water_share import share_of_water
        >>> wish = target({"K": 200}, limits={"Na": "at most 10 mg/L"})
        >>> tap = water({"Na": 20}, name="tap")
        >>> found = share_of_water(wish, ["KNO3"], volume=10, waters=[tap, "pure"])
        >>> [(p.share, p.sodium_mg_l, p.broken) for p in found.curve(3)]
        [(0.0, 0.0, ()), (0.5, 10.0, ()), (1.0, None, ('Na at most 10 mg/L',))]
        """
        points = int(checked_number(points, "points", least=2, most=1000))
        rest = sum(self.shares[name] for name in self.waters if name != self.first)
        parts = {
            name: self.shares[name] / rest if rest else 1 / (len(self.waters) - 1)
            for name in self.waters
            if name != self.first
        }
        found = []
        for place in range(points):
            share = place / (points - 1)
            others = {name: part * (1 - share) for name, part in parts.items()}
            shares = {self.first: share, **others}
            found.append(self._point(self._at(shares), shares))
        return tuple(found)

    def _point(self, recipe, shares):
        share = shares[self.first]
        if isinstance(recipe, Infeasible):
            return SharePoint(share, None, "", None, None, None, recipe.requirements)
        key, miss = _largest_miss(recipe)
        sodium, chloride = (recipe.solution.mg_l(k) for k in ("Na", "Cl"))
        cost = self._cost(recipe, shares)
        return SharePoint(share, miss, key, sodium, chloride, cost)

    def to_frame(self):
        """
        Return the blend beside each water alone as a table.

        Returns
        -------
        pandas.DataFrame
            One row for "blend" and one for each water alone; the share of each water and
            the "largest miss" in percent, "Na" and "Cl" in mg/L, "cost" of the batch; not
            a number where limits forbid a recipe or a price is missing. [-]

        Examples
        --------
        >>> from formulate.ingredients.water import water
        >>> from formulate.recipes.target import target
        >>> from formulate.recipes.water_share import share_of_water
        >>> wish = target({"K": 200}, limits={"Na": "at most 10 mg/L"})
        >>> tap = water({"Na": 20}, name="tap")
        >>> found = share_of_water(wish, ["KNO3"], volume=10, waters=[tap, "pure"])
        >>> found.to_frame().loc["blend", "tap"].round(3)
        np.float64(50.0)
        """
        import pandas

        columns = [*self.waters, "largest miss", "Na", "Cl", "cost"]
        return pandas.DataFrame.from_dict(
            dict(self._compared()), orient="index", columns=columns, dtype=float
        )

    def _compared(self):
        """Yield (name, [shares, miss, Na, Cl, cost]) of the blend and each water alone."""
        every = [("blend", self.recipe, self.shares)]
        for name, recipe in self.alone.items():
            every.append((name, recipe, {n: float(n == name) for n in self.waters}))
        for name, recipe, shares in every:
            point = self._point(recipe, shares)
            miss = None if point.miss is None else 100 * point.miss
            reached = [miss, point.sodium_mg_l, point.chloride_mg_l, point.cost]
            yield name, [*(100 * share for share in shares.values()), *reached]

    def __str__(self):
        lines = []
        for name, litres in self.litres.items():
            share = f"{100 * self.shares[name]:.1f} %"
            lines.append(f"{share:>8} {name}: {printed(litres)} L")
        if self.held_back:
            why = "dearer because of" if self.prices else "no more because of"
            lines.append(f"{why}: {', '.join(self.held_back)}")
        if self.cost is not None:
            lines.append(f"waters and salts cost {printed(self.cost, 3)}")
        lines.append(f"{'':>12} {'miss':>8} {'Na':>8} {'Cl':>8}  mg/L")
        for name, values in self._compared():
            lines.append(_line(name, values[len(self.waters) :]))
        return "\n".join([*lines, *map(str, self.told), "", str(self.recipe)])


def _line(name, values):
    """Return one line of the comparison."""
    miss, sodium, chloride, cost = values
    if miss is None:
        return f"{name:>12}: limits cannot be kept"
    told = "" if cost is None else f"  cost {printed(cost, 3)}"
    cells = (printed_percent(miss), printed_mg_l(sodium), printed_mg_l(chloride))
    return f"{name:>12} " + " ".join(f"{cell:>8}" for cell in cells) + told


def _largest_miss(recipe):
    """Return the key of the largest miss of a wanted value, and that miss."""
    misses = {"alkalinity": recipe.alkalinity_miss, **recipe.misses}
    key = max(misses, key=lambda name: abs(misses[name]))
    return (key, misses[key]) if misses[key] else ("", 0.0)


def _of_water(recipe):
    """Return the litres of water in a batch, liquids taken off."""
    return (1 - poured_share(recipe)) * recipe.volume


def poured_share(recipe):
    """
    Return the share of a recipe's volume that liquids take.

    Parameters
    ----------
    recipe : Recipe
        The recipe.

    Returns
    -------
    float
        Share of the volume. [-]

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> poured_share(solve(target({"K": 200}), ["KNO3"], volume=10))
    0.0
    """
    return poured_litres(recipe.amounts) / recipe.volume


def blend_of(waters, shares):
    """
    Return the blend of the waters that have a share; one alone stays as it is.

    Parameters
    ----------
    waters : mapping of str to Water
        Waters by name.
    shares : mapping of str to float
        Share of each. [-]

    Returns
    -------
    Water
        The blend, its shares in its name.

    Examples
    --------
    >>> from formulate.ingredients.water import water
    >>> waters = {"tap": water({"Na": 80}, name="tap"), "rain": water({}, name="rain")}
    >>> blend_of(waters, {"tap": 0.625, "rain": 0.375}).name
    '62.5 % tap and 37.5 % rain'
    """
    used = [(waters[name], share) for name, share in shares.items() if share > NONE]
    if len(used) == 1:
        return used[0][0]
    total = sum(share for _, share in used)
    parts = [f"{100 * share / total:.3g} % {one.name}" for one, share in used]
    return blend_waters(used, name=" and ".join(parts))
