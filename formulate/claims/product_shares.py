"""What a gram, a millilitre and a unit of money of a product bring of each nutrient."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from formulate.checks import checked_number
from formulate.claims.dose_margins import rounded_guarantee
from formulate.claims.named_sources import named_sources
from formulate.errors import (
    Faults,
    FormulateError,
    InputError,
    UnknownName,
    shortened,
)
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.labels import read_label
from formulate.ingredients.salts import as_ingredient
from formulate.working import Shown, printed

__all__ = [
    "MAIN_KEYS",
    "NITROGEN",
    "SHARE_KEYS",
    "NutrientShare",
    "is_fully_known",
    "product_shares",
    "read_products",
    "rounding_together",
]

NITROGEN = ("NO3-N", "NH4-N", "urea-N")
MAIN_KEYS = ("N", "P", "K", "Ca", "Mg", "S")
TRACES = ("Fe", "Mn", "Zn", "Cu", "B", "Mo")
SHARE_KEYS = ("N", *NITROGEN, *MAIN_KEYS[1:], "Cl", "Na", "Si", *TRACES)
MG_PER_PERCENT = 10.0  # mg in a gram
PER_GRAM = 1000.0  # mg in a gram, g in a kilogram
LEAST, MOST = 2, 20


@dataclass(frozen=True)
class NutrientShare(Shown):
    """
    What one product holds of one nutrient.

    Attributes
    ----------
    key : str
        Nutrient key.
    name : str
        The product.
    mg_per_gram : float or None
        Content; None of what is measured in mL and has no density. [mg/g]
    mg_per_ml : float or None
        Content; None where no density is known. [mg/mL]
    mg_for_money : float or None
        Content of what a unit of the currency buys, endless where it is free; None without
        a price. [mg/currency]
    gram_cost : float or None
        Price laid on a gram of this nutrient; None without a price or the nutrient.
        [currency/g]
    rounding : float
        Half the last printed digit of the guarantee, as a share of it; 0 for a compound. [-]
    told : bool
        Whether it is told at all: a label need not name what it does not guarantee, but
        what none of its named sources holds is not in it.
    """

    key: str
    name: str
    mg_per_gram: float | None
    mg_per_ml: float | None
    mg_for_money: float | None
    gram_cost: float | None
    rounding: float = 0.0
    told: bool = True

    @property
    def is_there(self):
        """Return whether the product brings it, as far as is told."""
        return bool(self.mg_per_gram or self.mg_per_ml)

    @property
    def content(self):
        """Return the content in words, on the basis that is known."""
        if not self.is_there:
            return "0" if self.told else "not told"
        if self.mg_per_gram is None:
            return f"{printed(self.mg_per_ml)}/mL"
        return printed(self.mg_per_gram)

    @property
    def kilogram_words(self):
        """Return what a kilogram of the nutrient costs, in words."""
        if self.mg_for_money is None:
            return "no price"
        return "-" if self.gram_cost is None else printed(PER_GRAM * self.gram_cost)

    def __str__(self):
        unit = "" if self.mg_per_gram is None else " mg/g"
        return f"{self.name}: {self.key} {self.content}{unit}, {self.kilogram_words}"


def product_shares(products):
    """
    Return what each product holds of each nutrient that any of them brings.

    Parameters
    ----------
    products : iterable of Ingredient
        The products.

    Returns
    -------
    tuple of NutrientShare
        By nutrient, then in the order of the products.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> bags = [salt("KNO3", price_per_kg=2.0), salt("K2SO4", price_per_kg=1.5)]
    >>> for share in product_shares(bags):
    ...     if share.key == "K":
    ...         print(share.name, round(share.mg_per_gram, 1), round(share.gram_cost, 5))
    KNO3 386.7 0.00517
    K2SO4 448.8 0.00334
    """
    products = tuple(products)
    keys = [key for key in SHARE_KEYS if any(one.amount(key) for one in products)]
    return tuple(_share(key, one) for key in keys for one in products)


def _share(key, one):
    """Return what one product holds of one nutrient."""
    held = MG_PER_PERCENT * one.percent(key)  # in a gram, or a millilitre
    in_gram, in_ml = held, None
    if one.measured_in == "mL":
        in_gram, in_ml = (held / one.density if one.density else None), held
        in_gram = in_gram if held else 0.0  # nothing is nothing on any basis
    elif one.density:
        in_ml = held * one.density
    for_money = gram_cost = None
    if one.price is not None:
        cost = one.cost(1.0)
        for_money = held / cost if cost else float("inf") * held if held else 0.0
        gram_cost = cost / (held / PER_GRAM) if held else None
    in_full = key in NITROGEN and one.amount("N")  # its forms make up the total
    told = bool(held or in_full or is_fully_known(one) or key in _ruled_out(one))
    rounding = rounded_guarantee(one, key) if held else 0.0
    return NutrientShare(
        key, one.name, in_gram, in_ml, for_money, gram_cost, rounding, told
    )


def _ruled_out(one):
    """Return the nutrients that none of the sources named on a label holds."""
    named = getattr(one.reading, "derived_from", ())
    faults = Faults()
    sources = named_sources(list(named), faults) if named else ()
    if not sources or faults.found:
        return ()
    materials = [each for source in sources for each in source.materials]
    return [key for key in SHARE_KEYS if not any(m.amount(key) for m in materials)]


def is_fully_known(ingredient):
    """
    Return whether a product's composition is known in full, as that of a salt.

    Parameters
    ----------
    ingredient : Ingredient
        A product.

    Returns
    -------
    bool
        Whether it is: a label or an analysis may leave something out.

    Examples
    --------
    >>> is_fully_known(as_ingredient("KNO3"))
    True
    """
    return ingredient.reading is None and not ingredient.analysis


def rounding_together(parts, key):
    """
    Return the rounding of the labels of several products, as a share of what they bring.

    Parameters
    ----------
    parts : sequence of (Ingredient, float)
        Each product with how much of it. [g]
    key : str
        Nutrient key.

    Returns
    -------
    float
        Share; 0 where nothing is brought. [-]

    Examples
    --------
    >>> rounding_together([(as_ingredient("KNO3"), 1.0)], "K")
    0.0
    """
    held = [(one, amount * one.amount(key)) for one, amount in parts]
    total = sum(amount for _, amount in held)
    rounded = sum(rounded_guarantee(one, key) * v for one, v in held if v)
    return rounded / total if total else 0.0


# --- reading -----------------------------------------------------------------------------------


def read_products(products, prices, faults):
    """
    Return products to be compared, each under its own name and with its price.

    Parameters
    ----------
    products : mapping of str to Ingredient or str, or iterable of them
        Name to product, salt, formula or the text of a label.
    prices : mapping of str to float, or None
        Name to price of a kilogram, or of a litre where it is measured in mL.
        [currency/kg]
    faults : Faults
        Where every fault is noted.

    Returns
    -------
    tuple of Ingredient
        Those that could be read.

    Examples
    --------
    >>> from formulate.errors import Faults
    >>> made = read_products({"A": "KNO3", "B": "urea"}, {"A": 2.0}, Faults())
    >>> [(one.name, one.price) for one in made]
    [('A', 2.0), ('B', None)]
    """
    found, names = {}, set()
    for place, (name, thing) in enumerate(_pairs(products, faults), 1):
        called = str(name or "").strip()
        with faults.collecting(f"product {called or place}"):
            made = _product(called, thing)
            called = called or made.name
            if called.casefold() in names:
                raise InputError(f"{shortened(called)} stands there twice; rename one")
            names.add(called.casefold())
            if made.price is not None:
                checked_number(made.price, "price per kg", least=0)
            found[called] = made.renamed(called)
    for name, given in _prices(prices, faults):
        with faults.collecting(f"price of {shortened(name)}"):
            price = checked_number(given, "price per kg", least=0)
            if name in found:
                found[name] = replace(found[name], price=price)
            elif name.casefold() not in names and found:
                raise UnknownName(f"no such product; there are {', '.join(found)}")
    return tuple(found.values())


def _pairs(products, faults):
    """Return (name or None, thing) of each product."""
    pairs = ()
    if isinstance(products, Mapping):
        pairs = tuple(products.items())
    elif isinstance(products, Iterable) and not isinstance(products, str):
        pairs = tuple((None, thing) for thing in products)
    if not LEAST <= len(pairs) <= MOST:
        faults.add(
            f"products: {len(pairs)} given; give {LEAST} to {MOST}, such as "
            "{'A': 'KNO3', 'B': 'urea'}"
        )
    return pairs[:MOST]


def _prices(prices, faults):
    """Return (name, price) of each price that was given apart."""
    if prices is None:
        return ()
    if not isinstance(prices, Mapping):
        faults.add(f"prices: {shortened(prices)}: give a mapping such as {{'A': 2.5}}")
        return ()
    return tuple((str(name).strip(), price) for name, price in prices.items())


def _product(name, thing):
    """Return a product from an ingredient, a name, a formula or the text of a label."""
    if isinstance(thing, Ingredient) or not isinstance(thing, str):
        return as_ingredient(thing)
    if "\n" not in thing.strip() and "%" not in thing:
        return as_ingredient(thing)
    try:
        return as_ingredient(thing)  # names such as nitric acid (67 %)
    except FormulateError:
        return read_label(thing, name=name)
