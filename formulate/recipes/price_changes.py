"""At which prices the cheapest recipe changes, one ingredient at a time.

While one price moves, the least cost is a concave line of straight pieces over it; the
slope of each piece is the amount used. A recipe stays the cheapest as long as its own line
touches that curve. Where it leaves it follows from intersecting lines and solving again,
which is exact however many recipes cost the same there.

Equation of where the cheapest recipe changes [lp-kkt-notes]::

    c1·x1 = c1·x2        the price at which two recipes cost the same; the slope is the amount used
"""

from dataclasses import dataclass

import numpy as np

from formulate.errors import InputError, NoConvergence, shortened
from formulate.recipes.cheapest import Cheapest
from formulate.recipes.least_cost import least_cost
from formulate.recipes.prices import checked_prices
from formulate.recipes.recipe import USED
from formulate.recipes.requirement import HARD, Requirement
from formulate.recipes.wishes import WITHIN
from formulate.working import Shown, printed

__all__ = ["PriceChange", "PriceChanges", "price_changes"]

SAME = 1e-9  # share of a cost: nearer than this is the same
SAME_AMOUNT = 1e-7  # share of an amount: nearer than this is the same
ROUNDS = 100
NEXT_TO_NOTHING = 1e-4  # share of a price below which nobody sells


@dataclass(frozen=True)
class PriceChange:
    """
    The prices of one ingredient between which the recipe stays the cheapest.

    Attributes
    ----------
    name : str
        The ingredient.
    price : float
        Its price now. [currency/kg]
    amount : float
        What the batch takes of it now. [g]
    unit : str
        "g" or "mL" of a stock.
    below : float or None
        Price below which more of it would be used, or it would come in; None if no price
        does it. [currency/kg]
    displaced : tuple of str
        Of what less would be used then.
    above : float or None
        Price above which less of it would be used; None if no price does it. [currency/kg]
    replaced_by : tuple of str
        Of what more would be used then.
    """

    name: str
    price: float
    amount: float
    unit: str
    below: float | None
    displaced: tuple
    above: float | None
    replaced_by: tuple

    def __str__(self):
        per = "kg" if self.unit == "g" else "L"
        used = f"{printed(self.amount)} {self.unit}" if self.amount else "not used"
        lines = [f"{self.name}: {printed(self.price)} per {per}, {used}"]
        more = "more of it" if self.amount else "it would come in"
        if self.below is None:
            lines.append(f"  {more}: at no price")
        else:
            of = f", in place of {', '.join(self.displaced)}" if self.displaced else ""
            lines.append(f"  {more}: below {printed(self.below)}{of}")
        if self.amount and self.above is None:
            lines.append("  less of it: at no price")
        elif self.amount:
            by = f", {', '.join(self.replaced_by)} in its place"
            by = by if self.replaced_by else ""
            lines.append(f"  less of it: above {printed(self.above)}{by}")
        return "\n".join(lines)


@dataclass(frozen=True, eq=False)
class PriceChanges(Shown):
    """
    The prices between which the cheapest recipe stays as it is, one moved at a time.

    Attributes
    ----------
    changes : tuple of PriceChange
        Each ingredient that may be used, in the order of the shelf.
    found : Cheapest
        The cheapest recipe.
    notices : tuple of Notice
        What to know.
    """

    changes: tuple
    found: Cheapest
    notices: tuple = ()

    def __iter__(self):
        return iter(self.changes)

    def rows(self):
        """
        Return the changes as rows.

        Returns
        -------
        tuple of tuple
            (name, price, amount, unit, below, displaced, above, replaced by); prices are
            None where none does it. [currency/kg]

        Examples
        --------
        >>> from formulate.ingredients.salts import salt
        >>> from formulate.recipes.cheapest import cheapest
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> bags = [salt("KNO3", price_per_kg=2)]
        >>> found = cheapest(solve(target({"K": 200}), bags, volume=10))
        >>> price_changes(found).rows()[0][4:]
        (None, (), None, ())
        """
        return tuple(
            (
                one.name,
                one.price,
                one.amount,
                one.unit,
                one.below,
                one.displaced,
                one.above,
                one.replaced_by,
            )
            for one in self.changes
        )

    def to_frame(self):
        """
        Return the changes as a table.

        Returns
        -------
        pandas.DataFrame
            One row per ingredient. [currency/kg]

        Examples
        --------
        >>> from formulate.ingredients.salts import salt
        >>> from formulate.recipes.cheapest import cheapest
        >>> from formulate.recipes.solve import solve
        >>> from formulate.recipes.target import target
        >>> bags = [salt("KNO3", price_per_kg=2)]
        >>> found = cheapest(solve(target({"K": 200}), bags, volume=10))
        >>> price_changes(found).to_frame().loc["KNO3", "price"]
        np.float64(2.0)
        """
        import pandas

        columns = ["price", "amount", "unit", "below", "displaced", "above", "instead"]
        rows = [
            (*row[1:5], ", ".join(row[5]), row[6], ", ".join(row[7]))
            for row in self.rows()
        ]
        names = [row[0] for row in self.rows()]
        return pandas.DataFrame(rows, index=names, columns=columns)

    def __str__(self):
        return "\n".join([*map(str, self.changes), *map(str, self.notices)])


def price_changes(found):
    """
    Return at which price of each ingredient the cheapest recipe would change.

    One price moves, all others stay. Rows for pH and EC stay as drawn at the recipe.

    Parameters
    ----------
    found : Cheapest
        The cheapest recipe.

    Returns
    -------
    PriceChanges
        For each ingredient that may be used: below which price more of it would be used,
        above which less, and what would change places with it.

    Raises
    ------
    InputError
        If it is no result of `cheapest`.

    Examples
    --------
    Nitrate from either bag, 70 g of its nitrogen in 1 kg of one, 175 g in 1 kg of the other:

    >>> from formulate.ingredients.ingredient import analysed
    >>> from formulate.recipes.cheapest import cheapest
    >>> from formulate.recipes.solve import solve
    >>> from formulate.recipes.target import target
    >>> weak = analysed("weak", {"NO3-N": 7}, price=1.0)
    >>> strong = analysed("strong", {"NO3-N": 17.5}, price=3.0)
    >>> found = cheapest(solve(target({"NO3-N": 100}), [weak, strong], volume=100))
    >>> [(c.name, c.below and round(c.below, 6), c.above and round(c.above, 6))
    ...  for c in price_changes(found)]
    [('weak', None, 1.2), ('strong', 2.5, None)]
    """
    if not isinstance(found, Cheapest):
        what = f"{shortened(found)} is no cheapest recipe; make one with cheapest"
        raise InputError(what)
    recipe = found.recipe
    prices = np.array(checked_prices(recipe), dtype=float)
    hard = tuple(row for row in recipe.requirements if row.kind == HARD)
    moving = _Moving(hard, prices, recipe.optimum.amounts)
    changes = tuple(
        _change(recipe, moving, place)
        for place, ingredient in enumerate(recipe.ingredients)
        if ingredient.price is not None
    )
    return PriceChanges(changes, found)


def _change(recipe, moving, place):
    """Return the prices of one ingredient at which the recipe changes."""
    ingredient, now = recipe.ingredients[place], moving.amounts
    below, more = moving.lower(place)
    above, less = moving.upper(place)
    return PriceChange(
        ingredient.name,
        float(ingredient.price),
        float(now[place]) * recipe.volume if now[place] > USED else 0.0,
        ingredient.measured_in,
        below,
        _names(recipe, now, more, place),
        above,
        _names(recipe, less, now, place),
    )


def _names(recipe, larger, smaller, place):
    """Return the names of which the first takes more than the second."""
    if larger is None or smaller is None:
        return ()
    least = np.maximum(SAME_AMOUNT * np.maximum(larger, smaller), USED)
    places = np.flatnonzero(larger - smaller > least)
    return tuple(recipe.ingredients[j].name for j in places if j != place)


# --- one price moving ------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Moving:
    """The cheapest amounts, and what is cheapest once one price has moved."""

    hard: tuple
    prices: np.ndarray
    amounts: np.ndarray

    def lower(self, place):
        """Return the price below which more is used, and the amounts then; or None."""
        price, other = self._followed(place, 0.0, self._at(place, 0.0))
        if price is not None and price < NEXT_TO_NOTHING * self.prices[place]:
            return None, None
        return price, other

    def upper(self, place):
        """Return the price above which less is used, and the amounts then; or None."""
        if self.amounts[place] <= USED:
            return None, None
        most = self._least_of(place)
        if most is None:
            return None, None
        meet = self._meeting(place, most)
        return self._followed(place, meet, self._at(place, meet), most)

    def _followed(self, place, price, other, before=None):
        """Return where the recipe's own line leaves the curve, coming from beyond it.

        From a price where others are cheaper, the line of those is followed to where it
        meets the recipe's own, and again, until nothing is cheaper there.
        """
        least = SAME * max(self._cost(place, self.prices[place], self.amounts), SAME)
        for _ in range(ROUNDS):
            own = self._cost(place, price, self.amounts)
            if self._cost(place, price, other) >= own - least:
                return (None, None) if before is None else (price, before)
            before, price = other, self._meeting(place, other)
            other = self._at(place, price)
        raise NoConvergence("the price at which a recipe changes was not found")

    def _meeting(self, place, other):
        """Return the price at which other amounts cost the same as the recipe's own."""
        now, apart = float(self.prices[place]), self.amounts[place] - other[place]
        rest = self._cost(place, 0.0, other) - self._cost(place, 0.0, self.amounts)
        if not apart:
            return now
        meet = float(1000 * rest / apart)
        return max(meet, now) if apart > 0 else min(max(meet, 0.0), now)

    def _cost(self, place, price, amounts):
        """Return what amounts cost at a price of one ingredient."""
        prices = self.prices.copy()
        prices[place] = price
        return float(prices @ amounts) / 1000

    def _at(self, place, price):
        """Return the cheapest amounts at a price of one ingredient."""
        prices = self.prices.copy()
        prices[place] = price
        return least_cost(self.hard, prices).amounts

    def _least_of(self, place):
        """Return the cheapest amounts with as little of it as there can be, or None."""
        own = np.zeros(len(self.prices))
        own[place] = 1000.0
        least = least_cost(self.hard, own).amounts[place]
        now = float(self.amounts[place])
        if least >= now * (1 - SAME_AMOUNT):
            return None
        room = least + SAME * now
        facts = {"high": room, "kind": HARD, "origin": WITHIN, "scale": now}
        cap = Requirement("as little as can be", tuple(own / 1000), **facts)
        return least_cost([*self.hard, cap], self.prices).amounts
