"""From the text that people typed in a job to the nouns it means."""

from dataclasses import replace

from formulate.checks import checked_number
from formulate.chemistry.waters import water, water_from_text
from formulate.claims.derivation import derive
from formulate.errors import Faults, InputError, shortened
from formulate.ingredients.labels import read_label
from formulate.ingredients.salts import acid, salt
from formulate.ingredients.shelf import Shelf
from formulate.ingredients.stock import blend, stock
from formulate.ingredients.water_report import with_pure_water
from formulate.recipes.charge_targets import charge_target_of
from formulate.recipes.target import published_target, target
from formulate.stoichiometry.quantities import read_quantity

__all__ = [
    "checked_text",
    "ingredient_of",
    "on_hand",
    "shelf_of",
    "target_of",
    "water_of",
]


def checked_text(value, what):
    """
    Return a value that must be text.

    Parameters
    ----------
    value : str
        The value.
    what : str
        What it is, for the message.

    Returns
    -------
    str
        The same.

    Raises
    ------
    InputError
        If it is something else.

    Examples
    --------
    >>> checked_text("Lindenhof", "title")
    'Lindenhof'
    """
    if not isinstance(value, str):
        raise InputError(f"{what}: {shortened(value)} is no text")
    return value


def target_of(entries, strength_percent=None):
    """
    Return the target that the entries of a job mean.

    Parameters
    ----------
    entries : mapping
        What stands under [target].
    strength_percent : float or None
        Share of it that is wanted; all of it if None. [%]

    Returns
    -------
    Target
        The target.

    Raises
    ------
    InputError
        With every fault.

    Examples
    --------
    >>> round(target_of({"wanted": {"N": 100}}, 50).wanted["N"], 3)
    3.57
    """
    faults, made, share = Faults(), None, None
    with faults.collecting():
        made = _whole_target_of(entries)
    with faults.collecting():
        if strength_percent is not None:
            share = checked_number(strength_percent, "strength_percent", above=0) / 100
    faults.raise_if_any()
    if share is None:
        return made
    from formulate.recipes.scaling import scaled

    return scaled(made, share)


def _whole_target_of(entries):
    if not entries:
        raise InputError('nothing wanted; write published = "..." or a [target.wanted]')
    entries = dict(entries)
    share = entries.pop("ammonium_share_percent", None)
    rules = {
        "ammonium_share": None
        if share is None
        else tuple(part / 100 for part in share),
        "urea_allowed": entries.pop("urea_allowed", False),
    }
    for key in ("limits", "weights"):
        rules[key] = dict(entries.pop(key, ()))
    rules["priorities"] = entries.pop("priorities", ())
    ways = [key for key in ("published", "wanted", "cations") if key in entries]
    if len(ways) != 1 and not ("anions" in entries and not ways):
        raise InputError(
            "give one of published, wanted, or cations with anions and their total"
        )
    for key in (key for key in TEXTS if key in entries):
        checked_text(entries[key], key)
    if "published" in entries:
        _refuse_rest(entries, ("published",), "a published target brings its own")
        return published_target(entries["published"], **rules)
    if any(key in entries for key in CHARGES):
        pairs = ("wanted", "cations", "anions", "traces")
        entries |= {key: dict(entries[key]) for key in pairs if key in entries}
        return charge_target_of(entries | {k: v for k, v in rules.items() if v})
    wanted, unit = dict(entries.pop("wanted")), entries.pop("unit", "mg/L")
    return target(wanted, unit=unit, **rules, **entries)


def _refuse_rest(entries, fitting, why):
    """Raise if anything was given that would be dropped."""
    rest = [key for key in entries if key not in fitting]
    if rest:
        raise InputError(f"{', '.join(rest)}: {why}; leave it out")


def water_of(entries):
    """
    Return the water that the entries of a job mean.

    Parameters
    ----------
    entries : mapping
        What stands under [water].

    Returns
    -------
    Water
        The water; pure if nothing is known of it. With "share_percent" the blend of so much
        of it with pure water.

    Raises
    ------
    InputError
        With every fault.

    Examples
    --------
    >>> water_of({"Ca": "40 mg/L", "name": "well"}).name
    'well'
    """
    entries, faults, made = dict(entries), Faults(), None
    share = entries.pop("share_percent", 100)
    with faults.collecting():
        made = _whole_water_of(entries)
    with faults.collecting():
        share = checked_number(share, "share_percent", least=0, most=100)
    faults.raise_if_any()
    return with_pure_water(made, share)


def _whole_water_of(entries):
    preset, name = entries.pop("preset", None), entries.pop("name", "")
    if isinstance(name, bool) or not isinstance(name, str | int | float):
        checked_text(name, "name")
    name = str(name)
    if preset is not None:
        _refuse_rest(entries, (), "a preset is a whole analysis")
        return water(preset, name=name)
    if "report" in entries:
        text, unit = entries.pop("report"), entries.pop("unit", None) or None
        _refuse_rest(entries, (), "a report is a whole analysis")
        return water_from_text(checked_text(text, "report"), name=name, unit=unit)
    return water(entries, name=name)


CHARGES = ("closing", "cations", "anions", "total", "traces")
TEXTS = ("published", "unit", "name", "crop", "stage", "closing", "total")
FITTING = {
    "label": ("label", "density", "by_sources"),
    "stock": ("stock", "stock_volume"),
    "blend": ("blend",),
    "acid": ("ingredient", "acid_percent", "density"),
    "salt": ("ingredient", "purity_percent"),
}
WAYS = ("ingredient", "label", "stock", "blend")
ALWAYS = ("name", "price_per_kg", "step", "on_hand", "use")


def ingredient_of(line):
    """
    Return the ingredient that one line of the shelf describes.

    Parameters
    ----------
    line : ShelfLine
        The line.

    Returns
    -------
    Ingredient
        The ingredient, with price and weighing step.

    Raises
    ------
    InputError
        With every fault.

    Examples
    --------
    >>> from formulate.jobs import ShelfLine
    >>> ingredient_of(ShelfLine(ingredient="KNO3", price_per_kg=2.5)).price
    2.5
    """
    checked_text(line.name, "name")
    ways = [word for word in WAYS if getattr(line, word)]
    if len(ways) != 1:
        raise InputError("give one of ingredient, label, stock or blend")
    is_acid = line.acid_percent is not None
    kind = {"ingredient": "acid" if is_acid else "salt"}.get(ways[0], ways[0])
    _refuse_rest(
        sorted(line.given), (*ALWAYS, *FITTING[kind]), f"does not belong to {kind}"
    )
    faults, facts, made = Faults(), {}, None
    with faults.collecting():
        made = _made(kind, line)
    with faults.collecting("price_per_kg"):
        if line.price_per_kg is not None:
            facts["price"] = checked_number(line.price_per_kg, "price", least=0)
    with faults.collecting("step"):
        if line.step:
            facts["weighing_step"] = _step(line.step, made)
    faults.raise_if_any()
    return replace(made, **facts)


def _step(text, made):
    """Return a weighing step in grams, of a liquid by volume in millilitres."""
    own = made.measured_in if made else "g"
    value, of_unit = read_quantity(text, "mass", "volume", default=own)
    checked_number(value, "weighing step", above=0)
    return made.amount_measured(value, of_unit) if made else value


def shelf_of(lines, made):
    """
    Return the shelf of lines and what they make, with what is on hand.

    Parameters
    ----------
    lines : iterable of ShelfLine
        The lines.
    made : iterable of Ingredient
        What each makes.

    Returns
    -------
    Shelf
        The shelf, in the order of the lines.

    Examples
    --------
    >>> from formulate.jobs import ShelfLine
    >>> lines = [ShelfLine(ingredient="KNO3", on_hand="2 kg")]
    >>> len(shelf_of(lines, map(ingredient_of, lines)))
    1
    """
    made = tuple(made)
    pairs = zip(lines, made, strict=True)
    there = {i.name: on_hand(line, i) for line, i in pairs if line.on_hand}
    return Shelf(made, there)


def on_hand(line, ingredient):
    """
    Return what is there of an ingredient.

    Parameters
    ----------
    line : ShelfLine
        Its line.
    ingredient : Ingredient or None
        What it makes; None if that is not known.

    Returns
    -------
    float
        Amount, millilitres of a stock. [g]

    Raises
    ------
    InputError
        If it is no mass and no volume.

    Examples
    --------
    >>> from formulate.jobs import ShelfLine
    >>> line = ShelfLine(ingredient="KNO3", on_hand="2 kg")
    >>> on_hand(line, ingredient_of(line))
    2000.0
    """
    value, of_unit = read_quantity(line.on_hand, "mass", "volume")
    checked_number(value, "what is there", least=0)
    return ingredient.amount_measured(value, of_unit) if ingredient else value


def _made(kind, line):
    """Return the ingredient of a line, its price and step still to come."""
    if kind == "salt":
        name = line.name or None
        return salt(line.ingredient, name=name, purity_percent=line.purity_percent)
    if kind == "acid":
        name, strength = line.name or None, line.acid_percent
        return acid(line.ingredient, name=name, percent=strength, density=line.density)
    if kind == "label":
        made = read_label(line.label, name=line.name, density=line.density)
        return derive(made).accepted(made.name) if line.by_sources else made
    if not line.name:
        raise InputError("a stock or blend needs a name")
    if kind == "stock":
        return stock(line.name, dict(line.stock), volume=line.stock_volume or "1 L")
    return blend(line.name, dict(line.blend))
