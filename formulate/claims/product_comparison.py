"""Products compared: what each gives for its mass and money, lacks for a target, and equals."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from formulate.claims.dose_measures import read_dose
from formulate.claims.feed_from_salts import common_salts, feed_from_salts
from formulate.claims.finding import gravest_finding
from formulate.claims.product_feed import dosed_feed, nearest_feed
from formulate.claims.product_shares import product_shares, read_products
from formulate.claims.product_words import (
    content_findings,
    money_findings,
    product_notices,
    target_finding,
)
from formulate.errors import Faults, FormulateError, InputError, shortened
from formulate.ingredients.dissolve import measured_amounts
from formulate.ingredients.water import Water
from formulate.ingredients.water import water as as_water
from formulate.notices import Notice, gravest_first
from formulate.recipes.nutrient_worth import usable_costs
from formulate.recipes.solve import checked_shelf
from formulate.recipes.target import Target, published_target
from formulate.recipes.target import target as as_target
from formulate.stoichiometry.quantities import check_volume
from formulate.working import Shown

__all__ = ["ProductComparison", "compare_products"]

TOGETHER = "together"


@dataclass(frozen=True, eq=False)
class ProductComparison(Shown):
    """
    Products beside each other.

    Attributes
    ----------
    products : tuple of Ingredient
        The products, each under its name in the comparison.
    shares : tuple of NutrientShare
        What a gram, a mL and a unit of money of each brings, by nutrient.
    feeds : tuple of ProductFeed
        Each product, or all together, at the dose asked for or nearest to the target; empty
        without a dose and a target.
    salt_feeds : tuple of SaltFeed
        The same feeds from single salts.
    target : Target or None
        What the feeds are held against.
    salts : tuple of Ingredient or None
        The single salts; the common ones of the catalogue if None.
    told : tuple of Notice
        What could not be worked out.
    """

    products: tuple
    shares: tuple = field(repr=False)
    feeds: tuple = ()
    salt_feeds: tuple = ()
    target: Target | None = None
    salts: tuple | None = None
    told: tuple = ()

    def share(self, key, name):
        """
        Return what one product holds of one nutrient.

        Parameters
        ----------
        key : str
            Nutrient key.
        name : str
            The product.

        Returns
        -------
        NutrientShare
            Its share.

        Raises
        ------
        InputError
            If no product brings it, or there is no such product.

        Examples
        --------
        >>> found = compare_products({"A": "KNO3", "B": "urea"})
        >>> round(found.share("N", "B").mg_per_gram)
        466
        """
        for share in self.shares:
            if (share.key, share.name) == (key, name):
                return share
        keys = ", ".join(dict.fromkeys(s.key for s in self.shares))
        names = ", ".join(one.name for one in self.products)
        what = f"{shortened(key)} of {shortened(name)}: there are {keys} of {names}"
        raise InputError(what)

    def usable(self, keys=("N", "P", "K"), *, urea=False):
        """
        Return the costs after what else a product brings, as `usable_costs` credits it.

        Parameters
        ----------
        keys : iterable of str
            Nutrients to compare.
        urea : bool
            Whether the nitrogen of urea counts as usable.

        Returns
        -------
        UsableCosts
            The costs. [currency/g]

        Examples
        --------
        >>> found = compare_products({"A": "KNO3", "B": "KCl"}, prices={"A": 1.3, "B": 0.5})
        >>> [cost.name for cost in found.usable(["K"])]
        ['B', 'A']
        """
        return usable_costs(self.products, keys, urea=urea)

    @cached_property
    def findings(self):
        """Return what the comparison comes to: contents, money, target, single salts."""
        held = [target_finding(feed) for feed in self.feeds if self.target]
        return (
            *content_findings(self.shares),
            *money_findings(self.shares),
            *held,
            *(made.finding for made in self.salt_feeds),
        )

    @property
    def verdict(self):
        """Return the gravest verdict of all findings; "right" is no praise of a product."""
        return gravest_finding(self.findings)

    @cached_property
    def notices(self):
        """Return what to know, the gravest first."""
        of_feeds = (
            Notice(f"{feed.name}: {notice.what}", notice.severity)
            for feed in self.feeds
            for notice in feed.ph.state.notices
        )
        of_salts = (notice for made in self.salt_feeds for notice in made.notices)
        known = product_notices(self.products, self.shares)
        return gravest_first((*self.told, *known, *of_feeds, *of_salts))

    def completed(self):
        """
        Return what single salts would have to be added to each feed, for a litre.

        Returns
        -------
        dict of str to Recipe
            Name of the feed to the recipe that holds its dose and adds salts.

        Raises
        ------
        Infeasible
            If the target's limits cannot hold with one of the doses.

        Examples
        --------
        >>> found = compare_products(
        ...     {"A": "KNO3", "B": "KCl"}, target={"K": 238.235}, salts=["K2SO4"],
        ...     dose={"A": "0.5 g/L"},
        ... )
        >>> recipe = found.completed()["A"]
        >>> {name: round(grams, 3) for name, grams in recipe.masses.items()}
        {'A': 0.5, 'K2SO4': 0.1}
        """
        if self.target is None:
            return {}
        forms = {f for one in self.products for f in one.forms}
        salts = self.salts
        if salts is None:
            salts = common_salts(forms, self.target)
        return {feed.name: feed.completed(salts) for feed in self.feeds}

    @property
    def columns(self):
        """Return the names of the columns of `rows`."""
        each = ("mg/g", "mg/mL", "mg per currency", "currency/g")
        names = (f"{one.name} {unit}" for one in self.products for unit in each)
        return ("nutrient", *names)

    def rows(self):
        """
        Return one row for each nutrient, as `columns` names them.

        Returns
        -------
        tuple of tuple
            Nutrient key, then of each product mg/g, mg/mL, mg for a unit of the currency
            and currency for a gram; None where it cannot be told. [-]

        Examples
        --------
        >>> found = compare_products({"A": "KNO3", "B": "urea"}, prices={"A": 2.0})
        >>> [(row[0], round(row[1], 1), round(row[3], 1), row[7]) for row in found.rows()][:1]
        [('N', 138.5, 69271.4, None)]
        """
        found = {}
        for s in self.shares:
            cells = (s.mg_per_gram, s.mg_per_ml, s.mg_for_money, s.gram_cost)
            found[s.key] = (*found.get(s.key, (s.key,)), *cells)
        return tuple(found.values())

    def to_frame(self):
        """
        Return the comparison as a table.

        Returns
        -------
        pandas.DataFrame
            One row for each nutrient, units in the names of the columns. [-]

        Examples
        --------
        >>> found = compare_products({"A": "KNO3", "B": "urea"})
        >>> found.to_frame().loc["N", "B mg/g"].round()
        np.float64(466.0)
        """
        import pandas as pd

        made = pd.DataFrame(self.rows(), columns=list(self.columns))
        return made.set_index("nutrient")

    def against_rows(self):
        """
        Return how each feed stands to the target.

        Returns
        -------
        tuple of tuple
            Feed, nutrient key, mg/L there, mg/L wanted, off in mg/L, off in %. [-]

        Examples
        --------
        >>> found = compare_products({"A": "KNO3", "B": "KCl"}, target={"K": 200})
        >>> [(row[0], round(row[2], 6)) for row in found.against_rows()][0]
        ('A', 200.0)
        """
        return tuple((feed.name, *row) for feed in self.feeds for row in feed.against)

    def __str__(self):
        lines = [f"{' / '.join(one.name for one in self.products)}, compared"]
        lines += self._table("mg in a gram", "content")
        if any(one.price is not None for one in self.products):
            lines += self._table("cost of a kilogram", "kilogram_words")
        lines += [f"- {finding.subject}: {finding.what}" for finding in self.findings]
        lines += list(map(str, self.feeds))
        lines += [made.weights_words for made in self.salt_feeds]
        return "\n".join([*lines, *map(str, self.notices)])

    def _table(self, heading, cell):
        """Return a table of one figure, nutrients down and products across."""
        names = [one.name for one in self.products]
        wide = max(11, *(len(name) + 1 for name in names))
        by_key = {}
        for share in self.shares:
            by_key.setdefault(share.key, []).append(getattr(share, cell))
        head = f"{heading:<19}{''.join(f'{name:>{wide}}' for name in names)}"
        rows = (
            f"{key:>19}{''.join(f'{text:>{wide}}' for text in cells)}"
            for key, cells in by_key.items()
        )
        return [head, *rows]


def compare_products(
    products,
    *,
    target=None,
    salts=None,
    volume=None,
    water=None,
    dose=None,
    prices=None,
):
    """
    Return products beside each other: contents, money, a target, and single salts.

    Parameters
    ----------
    products : mapping of str to Ingredient or str, or iterable of them
        Name to product: an ingredient, a name of the catalogue, a formula, or the printed
        text of a label; two or more.
    target : Target, str, mapping of str to float, or None
        What the feed is to hold, or the key of a published target. [mg/L]
    salts : Shelf, iterable of Ingredient or str, or None
        Single salts that may stand for the products; the common ones of the catalogue if
        None.
    volume : float, str or None
        Volume of the feed that is made from single salts; 1 L if None. [L]
    water : Water, str, mapping or None
        The water; pure if None.
    dose : str, mapping of str to float or str, or None
        "together" for the nearest dose of all products in one feed; a dose such as "1 g/L"
        for each; or name to dose. If None, or of a product left out of a mapping, the dose
        nearest to the target. [g/L]
    prices : mapping of str to float, or None
        Name to price of a kilogram, or of a litre where it is measured in mL; goes before
        the price that an ingredient has. [currency/kg]

    Returns
    -------
    ProductComparison
        Tables and findings; "right" says so where there is no difference beyond rounding.

    Raises
    ------
    InputError
        With every fault: fewer than two products, unknown names, one name twice, prices and
        doses that are none.

    Examples
    --------
    The school glasshouse is offered two bags. Both are to bring its tomatoes 200 mg/L of
    potassium; which is cheaper, and does either do it alone?

    >>> bags = {"saltpetre": "KNO3", "sulfate of potash": "K2SO4"}
    >>> prices = {"saltpetre": 2.0, "sulfate of potash": 1.5}
    >>> found = compare_products(bags, prices=prices, target={"K": 200, "N": 70})
    >>> for finding in found.findings:
    ...     if finding.subject.endswith(("K for the money", "the target")):
    ...         print(finding)
    K for the money: right; cheaper: sulfate of potash, which gives 54.7 % more for the money; \
a kilogram of K costs 3.343 from sulfate of potash, 5.172 from saltpetre
    saltpetre for the target: right; nearest at 0.5111 g/L; lacks K 2.357 mg/L (-1.2 %); \
too much N 0.806 mg/L (+1.2 %)
    sulfate of potash for the target: cannot tell; nearest at 0.4457 g/L; lacks N 70.00 mg/L (-100.0 %)
    """
    faults = Faults("compare products")
    made = read_products(products, prices, faults)
    with faults.collecting("target"):
        target = _target(target)
    if salts is not None:
        salts = checked_shelf(salts, faults)
    with faults.collecting():
        volume = 1.0 if volume is None else check_volume(volume)
    with faults.collecting("water"):
        water = water if isinstance(water, Water) else as_water(water or {})
    doses = _doses(dose, made, faults)
    if dose == TOGETHER and target is None:
        faults.add("dose 'together': give a target, which the dose is to come near to")
    faults.raise_if_any()
    feeds, told = _feeds(made, doses, dose == TOGETHER, water, target)
    salt_feeds = _salt_feeds(feeds, salts, volume, told)
    shares = product_shares(made)
    facts = (target, salts, tuple(told))
    return ProductComparison(made, shares, feeds, salt_feeds, *facts)


def _target(thing):
    """Return a target from itself, its key or wanted values."""
    if thing is None or isinstance(thing, Target):
        return thing
    return published_target(thing) if isinstance(thing, str) else as_target(thing)


def _doses(dose, products, faults):
    """Return name to amount in a litre, of the doses that were given."""
    if dose is None or dose == TOGETHER:
        return {}
    asked = dose if isinstance(dose, Mapping) else {o.name: dose for o in products}
    named = {one.name: one for one in products}
    found = {}
    for name, text in asked.items():
        with faults.collecting(f"dose of {shortened(name)}"):
            if name not in named:
                known = ", ".join(named)
                raise InputError(f"no such product; there are {known}")
            found[name] = _per_litre(named[name], text)
    return found


def _per_litre(one, text):
    """Return grams, or mL of what is measured so, in a litre."""
    read = read_dose(text, one, volume=1.0)
    ((_, amount),) = measured_amounts({one: read.amount}, read.litres)
    return amount / read.litres


def _feeds(products, doses, together, water, target):
    """Return the feeds, and notices of those that cannot be made."""
    groups = [products] if together else [(one,) for one in products]
    feeds, told = [], []
    for group in groups:
        names = " + ".join(one.name for one in group)
        try:
            if names in doses:
                feeds.append(dosed_feed([(group[0], doses[names])], water, target))
            elif target is not None:
                feeds.append(nearest_feed(group, water, target))
        except FormulateError as error:
            what = f"{names}: no dose can be worked out: {'; '.join(error.faults)}"
            told.append(Notice(what, "caution"))
    return tuple(feeds), told


def _salt_feeds(feeds, salts, volume, told):
    """Return the feeds from single salts; what cannot be made is added to the notices."""
    found = []
    for feed in feeds:
        amounts = {one: amount * volume for one, amount in feed.parts if amount}
        if not amounts:
            continue
        try:
            found.append(feed_from_salts(amounts, salts=salts, volume=volume))
        except FormulateError as error:
            what = f"{feed.name} from single salts: {'; '.join(error.faults)}"
            told.append(Notice(what, "caution"))
    return tuple(found)
