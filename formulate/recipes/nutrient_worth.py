"""What a gram of usable nutrient costs from each bag, alone and after what else it brings."""

from collections.abc import Iterable
from dataclasses import dataclass

from formulate.errors import Faults, InputError, UnknownName, shortened
from formulate.ingredients.shelf import COSTED, nutrient_costs
from formulate.notices import Notice
from formulate.recipes.solve import checked_shelf
from formulate.stoichiometry.nutrients import nutrient
from formulate.working import Shown, printed

__all__ = ["UsableCost", "UsableCosts", "usable_costs"]

WHOLE = "N"  # all nitrogen that a plant without soil uses, whatever its form
FORMS = ("NO3-N", "NH4-N")
UREA = "urea-N"


@dataclass(frozen=True)
class UsableCost:
    """
    What a gram of one nutrient costs from one ingredient.

    Attributes
    ----------
    key : str
        Nutrient key.
    name : str
        The ingredient.
    whole : float
        Cost of a gram if it bears the whole price. [currency/g]
    credited : float
        Cost of a gram after what else it brings of the nutrients asked for, each at what
        it costs where it is cheapest; never below 0. [currency/g]
    """

    key: str
    name: str
    whole: float
    credited: float


@dataclass(frozen=True, eq=False)
class UsableCosts(Shown):
    """
    What a gram of each nutrient costs from each priced ingredient.

    Attributes
    ----------
    costs : tuple of UsableCost
        In the order of the keys; of each the cheapest first, by the whole price.
    notices : tuple of Notice
        What has no price, whose urea was left out.
    """

    costs: tuple
    notices: tuple = ()

    def __iter__(self):
        return iter(self.costs)

    def rows(self):
        """
        Return the costs as rows.

        Returns
        -------
        tuple of tuple
            (nutrient key, ingredient name, whole cost, cost after credit). [currency/g]

        Examples
        --------
        >>> from formulate.ingredients.salts import salt
        >>> costs = usable_costs([salt("K2SO4", price_per_kg=1.0)], ["K"])
        >>> [(key, round(whole, 5)) for key, _, whole, _ in costs.rows()]
        [('K', 0.00223)]
        """
        return tuple((c.key, c.name, c.whole, c.credited) for c in self.costs)

    def to_frame(self):
        """
        Return the costs as a table.

        Returns
        -------
        pandas.DataFrame
            One row per nutrient and ingredient. [currency/g]

        Examples
        --------
        >>> from formulate.ingredients.salts import salt
        >>> usable_costs([salt("K2SO4", price_per_kg=1.0)], ["K"]).to_frame().shape
        (1, 4)
        """
        import pandas

        columns = ["nutrient", "ingredient", "whole", "credited"]
        return pandas.DataFrame(self.rows(), columns=columns)

    def __str__(self):
        lines = ["cost of a kilogram, and after credit for the rest"]
        for key, name, whole, credited in self.rows():
            first, second = (printed(1000 * cost) for cost in (whole, credited))
            lines.append(f"{key:>6} {first:>9} {second:>9}  {name}")
        return "\n".join([*lines, *map(str, self.notices)])


def usable_costs(ingredients, keys=("N", "P", "K"), *, urea=False):
    """
    Return what a gram of usable nutrient costs from each priced ingredient.

    Two figures compare bags. The first lays the whole price on one nutrient. The second
    takes off what else the bag brings of the nutrients asked for, at what a gram of these
    costs where it is cheapest on the shelf, by the first figure; where that is more than
    the price, the nutrient comes free.

    Parameters
    ----------
    ingredients : iterable of Ingredient or str
        A shelf.
    keys : iterable of str
        Nutrients to compare; "N" is nitrate and ammonium together.
    urea : bool
        Whether the nitrogen of urea counts as usable in "N": plants without soil take it
        up poorly.

    Returns
    -------
    UsableCosts
        The costs, cheapest first for each nutrient, and what was left out.

    Raises
    ------
    InputError
        With every fault: no ingredients, keys that are not known or count twice.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> bags = [salt("KNO3", price_per_kg=1.3), salt("KCl", price_per_kg=0.5)]
    >>> for key, name, whole, credited in usable_costs(bags, ["N", "K"]).rows():
    ...     print(key, name, round(whole, 5), round(credited, 5))
    N KNO3 0.00938 0.00672
    K KCl 0.00095 0.00095
    K KNO3 0.00336 0.0
    """
    shelf, keys = _checked(ingredients, keys, urea)
    priced = [i for i in shelf if i.price is not None]
    costs = {}
    for key, name, cost in nutrient_costs(priced):
        costs.setdefault(name, {})[key] = cost
    whole = {name: _whole(by_form, keys, urea) for name, by_form in costs.items()}
    cheapest = {
        key: min((own[key] for own in whole.values() if key in own), default=0.0)
        for key in keys
    }
    found = []
    for key in keys:
        of_key = [
            UsableCost(key, name, own[key], _credited(key, own, cheapest))
            for name, own in whole.items()
            if key in own
        ]
        found += sorted(of_key, key=lambda cost: cost.whole)
    return UsableCosts(tuple(found), tuple(_told(shelf, priced, keys, urea)))


def _checked(ingredients, keys, urea):
    """Return the shelf and the keys; every fault at once."""
    faults, names = Faults("usable costs"), []
    shelf = checked_shelf(ingredients, faults)
    if isinstance(keys, str) or not isinstance(keys, Iterable):
        faults.add(f"keys: {shortened(keys)}; give a list such as ['N', 'P', 'K']")
        keys = ()
    for key in keys:
        with faults.collecting():
            names.append(_known(key, names))
    if not names and not faults.found:
        faults.add("no nutrients to compare; give keys such as ['N', 'P', 'K']")
    if not isinstance(urea, bool):
        faults.add(f"urea: {shortened(urea)}; write True or False")
    faults.raise_if_any()
    return shelf, tuple(names)


def _known(key, before):
    """Return a key that costs can be laid on; one atom must not count twice."""
    if key not in (WHOLE, *COSTED):
        known = ", ".join((WHOLE, *COSTED))
        raise UnknownName(f"{shortened(key)}: no cost is laid on it; there are {known}")
    forms = set(nutrient(key).weights)
    for other in before:
        if forms & set(nutrient(other).weights):
            raise InputError(f"{key} and {other} count the same nutrient twice")
    return key


def _whole(by_form, keys, urea):
    """Return what a gram of each key costs if it bears the whole price.

    A price over grams: grams of several forms add up, so their costs add as reciprocals.
    """
    found = {}
    for key in keys:
        forms = (*FORMS, *((UREA,) if urea else ())) if key == WHOLE else (key,)
        costs = [by_form[form] for form in forms if form in by_form]
        if costs:
            found[key] = 0.0 if 0.0 in costs else 1 / sum(1 / cost for cost in costs)
    return found


def _credited(key, own, cheapest):
    """Return what is left to bear by a gram of one nutrient, never below 0.

    Costs of one bag stand to each other as grams do, the other way round.
    """
    others = (other for other in own if other != key and own[other])
    credit = sum(cheapest[other] / own[other] for other in others)
    return max(own[key] * (1 - credit), 0.0)


def _told(shelf, priced, keys, urea):
    """Yield what has no price, and whose urea was left out."""
    lacking = [i.name for i in shelf if i.price is None]
    if lacking:
        yield Notice(f"no price, so left out: {', '.join(lacking)}")
    names = [i.name for i in priced if "urea" in i.forms]
    if names and WHOLE in keys and not urea:
        what = "urea was left out of usable nitrogen, plants without soil take it up poorly"
        yield Notice(f"{what}: {', '.join(names)}")
    carried = [key for key in keys if not any(i.amount(key) for i in priced)]
    if carried:
        yield Notice(f"nothing with a price brings {', '.join(carried)}", "caution")
