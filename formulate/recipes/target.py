"""What a crop is to get: wanted values, their ranges, and whether they can exist together."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from formulate.checks import checked_number
from formulate.errors import Faults, InputError, UnknownName, shortened
from formulate.notices import Notice
from formulate.recipes.limits import limits_of, read_bounds
from formulate.recipes.target_remarks import target_remarks
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.quantities import read_number, read_quantity
from formulate.stoichiometry.units import CONCENTRATIONS, convert
from formulate.stoichiometry.units import unit as as_unit
from formulate.tables import read_table, recipe_rule
from formulate.working import Shown, printed, printed_mg_l

__all__ = [
    "Target",
    "published_target",
    "published_target_names",
    "published_values",
    "target",
]

FULL_SHARE = (0.0, 1.0)
MOST_MG_L = 1e6  # a kilogram in a litre
LEAST_MG_L = 1e-9  # a millionth of a microgram


@dataclass(frozen=True, eq=False)
class Target(Shown):
    """
    What a solution is to hold.

    Attributes
    ----------
    name : str
        How it is called.
    wanted : mapping of str to float
        Nutrient key to wanted amount of its basis; 0 means as little as possible. [mmol/L]
    ranges : mapping of str to (float, float)
        Nutrient key to the range that was wanted, where it was one: anywhere in it is
        met, and `wanted` holds its middle. [mmol/L]
    ammonium_share : (float, float) or None
        Least and greatest share of ammonium in nitrogen; None if it is free. [-]
    urea_allowed : bool
        Whether urea may bring nitrogen.
    crop : str
        Crop.
    stage : str
        Stage of the crop.
    source_key : str
        Where the values come from.
    how_known : str
        "read", "memory" or "".
    notices : tuple of Notice
        What to know about the values themselves.
    limits : tuple of Limit
        What must hold, whatever else is wanted.
    weights : mapping of str to float
        Nutrient key to how much its squared deviation counts; 1 where none is told. [-]
    priorities : tuple of tuple of str
        Nutrient keys to be met first, then those next, then the rest.
    alkalinity : (float, float) or None
        Alkalinity wanted, where it is; twice the same for a point. [meq/L]
    """

    name: str
    wanted: Mapping
    ranges: Mapping
    ammonium_share: tuple | None = None
    urea_allowed: bool = False
    crop: str = ""
    stage: str = ""
    source_key: str = ""
    how_known: str = ""
    notices: tuple = ()
    limits: tuple = ()
    weights: Mapping = field(default_factory=dict)
    priorities: tuple = ()
    alkalinity: tuple | None = None

    def __post_init__(self):
        object.__setattr__(self, "weights", MappingProxyType(dict(self.weights)))
        object.__setattr__(self, "wanted", MappingProxyType(dict(self.wanted)))
        object.__setattr__(self, "ranges", MappingProxyType(dict(self.ranges)))

    def mg_l(self, key):
        """
        Return a wanted value as mass.

        Parameters
        ----------
        key : str
            Nutrient key that the target names.

        Returns
        -------
        float
            Wanted mass of the basis. [mg/L]

        Examples
        --------
        >>> round(target({"Ca": 4.5}, unit="mmol/L").mg_l("Ca"), 1)
        180.4
        """
        wanted = nutrient(key)
        return self.wanted[wanted.key] * wanted.molar_mass

    def __str__(self):
        lines = [self.name or "target"]
        for key in self.wanted:
            line = f"{key:>7} {printed_mg_l(self.mg_l(key)):>9} mg/L"
            if key in self.ranges:
                low, high = (
                    printed(v * nutrient(key).molar_mass, 3) for v in self.ranges[key]
                )
                line = f"{key:>7} {low:>9} to {high} mg/L"
            lines.append(line)
        if self.alkalinity:
            ends = " to ".join(printed(v, 3) for v in dict.fromkeys(self.alkalinity))
            lines.append(f"alkalinity {ends} meq/L")
        for held in self.limits:
            lines += [held.named(side) for side in held.sides]
        return "\n".join([*lines, *map(str, self.notices)])


def target(
    wanted,
    *,
    unit="mg/L",
    limits=None,
    weights=None,
    priorities=(),
    ammonium_share=None,
    urea_allowed=False,
    name="",
    crop="",
    stage="",
    source_key="",
    how_known="",
):
    """
    Return a target from wanted values.

    Parameters
    ----------
    wanted : mapping of str to float, str or pair
        Nutrient key, "hardness" or "alkalinity" to wanted value; a pair, or text such as
        "60-70", is a range, anywhere in which is as good; text may carry its own unit.
        [mg/L]
    unit : str
        Unit of bare numbers.
    limits : mapping of str to str or pair, or None
        What must hold: nutrient key, "hardness", "alkalinity", "EC", "pH",
        "salts" or a ratio such as "K:Ca" to text such as "at most 50 mg/L" or to a
        (low, high) pair. [mg/L]
    weights : mapping of str to float or None
        Nutrient key to how much its squared deviation counts; the others count 1. [-]
    priorities : sequence of sequence of str
        Nutrient keys to be met first, as well as can be; then those next; then the rest.
    ammonium_share : (float, float) or None
        Least and greatest share of ammonium in nitrogen. If None, 0 to 0.15, unless the
        target itself names ammonium; then it is free. [-]
    urea_allowed : bool
        Whether urea may bring nitrogen; plants without soil take it up poorly.
    name : str
        How it is called.
    crop : str
        Crop.
    stage : str
        Stage of the crop.
    source_key : str
        Where the values come from.
    how_known : str
        "read", "memory" or "".

    Returns
    -------
    Target
        The target; notices tell if its ions cannot balance.

    Raises
    ------
    InputError
        With every fault: unknown keys and units, negative values, one thing named twice.

    Examples
    --------
    >>> feed = target({"N": 150, "P": 31, "K": 200, "Ca": "150-200"})
    >>> round(feed.wanted["Ca"], 3), feed.ammonium_share
    (4.366, (0.0, 0.15))
    """
    faults, values, ranges = Faults("target"), {}, {}
    if not isinstance(wanted, Mapping) or not wanted:
        raise InputError(
            "target: nothing wanted; give a mapping such as {'N': 150, 'K': 200}"
        )
    wanted = dict(wanted)
    alkalinity = wanted.pop("alkalinity", None)
    for key, value in wanted.items():
        with faults.collecting(str(key)):
            known = nutrient(key)
            low, high = _wanted_range(value, unit, known)
            _refuse_double(known, values)
            values[known.key] = (low + high) / 2
            if high > low:
                ranges[known.key] = (low, high)
    with faults.collecting("ammonium share"):
        share = _ammonium_share(ammonium_share, values)
    with faults.collecting("alkalinity"):
        alkalinity = None if alkalinity is None else _alkalinity(alkalinity)
    with faults.collecting("limits"):
        limits = limits_of(limits or {}, unit=unit)
    with faults.collecting("weights"):
        weights = _weights(weights or {}, values)
    with faults.collecting("priorities"):
        priorities = _priorities(priorities, values)
    if not isinstance(urea_allowed, bool):
        faults.add(f"urea_allowed: {shortened(urea_allowed)}; write True or False")
    faults.raise_if_any()
    names_urea = any("urea" in nutrient(key).weights and key != "N" for key in values)
    urea_allowed = urea_allowed or names_urea
    facts = {"crop": crop, "stage": stage, "source_key": source_key}
    asked = {"limits": limits, "weights": weights, "priorities": priorities}
    asked["alkalinity"] = alkalinity
    made = Target(
        name, values, ranges, share, urea_allowed, how_known=how_known, **facts, **asked
    )
    return replace(made, notices=target_remarks(made))


def _wanted_range(value, bare_unit, known):
    """Return low and high in mmol/L; the same number twice for a point."""
    if isinstance(value, str):
        text = value.strip()
        for dash in ("–", "—", "−", " to "):
            text = text.replace(dash, "-")
        low, dash, high = (
            text.partition("-") if not text.startswith("-") else (text, "", "")
        )
        if dash and not low.rstrip().endswith(("e", "E")):
            high, of_unit = read_quantity(high, *CONCENTRATIONS, default=bare_unit)
            low = read_number(low)
        else:
            low, of_unit = read_quantity(text, *CONCENTRATIONS, default=bare_unit)
            high = low
    else:
        of_unit = as_unit(bare_unit, *CONCENTRATIONS)
        pair = value if isinstance(value, tuple | list) else (value, value)
        if len(pair) != 2:
            raise InputError(
                f"{shortened(value)} is neither a value nor a (low, high) pair"
            )
        low, high = (read_number(part) for part in pair)
    if not 0 <= low <= high:
        what = f"{low:g}" if low == high else f"{low:g} to {high:g}"
        raise InputError(f"{what} {of_unit}: write 0 or more, the least value first")
    ends = tuple(convert(end, of_unit, "mmol/L", of=known) for end in (low, high))
    if ends[1] * known.molar_mass > MOST_MG_L:
        raise InputError(f"{high:g} {of_unit} is more than a litre can hold")
    if 0 < ends[1] * known.molar_mass < LEAST_MG_L:
        raise InputError(f"{high:g} {of_unit} is too little to weigh; write 0")
    return ends


def _alkalinity(value):
    """Return the least and greatest alkalinity wanted in meq/L."""
    if not isinstance(value, str):
        raise InputError(
            f"{shortened(value)}: write it with its unit, such as '1 meq/L'"
        )
    kinds = ("charge_concentration", "caco3")
    try:
        low, high, name = read_bounds(value)
    except InputError:
        low, of_unit = read_quantity(value, *kinds)
        high, name = checked_number(low, "alkalinity", least=0), of_unit.name
    if math.inf in (-low, high):
        raise InputError(
            f"{shortened(value)}: write a value or a range, such as '0 to 1 meq/L', or "
            "set it as a limit"
        )
    return tuple(convert(end, as_unit(name, *kinds), "meq/L") for end in (low, high))


def _weights(weights, values):
    """Return the weights of wanted values, by key."""
    if not isinstance(weights, Mapping):
        raise InputError(f"{shortened(weights)}: write a mapping such as {{'Ca': 2}}")
    faults, found = Faults(), {}
    for key, value in weights.items():
        with faults.collecting(str(key)):
            known = _wanted_key(key, values)
            found[known] = checked_number(value, "weight", least=0, most=1e6)
    faults.raise_if_any()
    return found


def _priorities(priorities, values):
    """Return the groups of wanted keys, first to last."""
    if isinstance(priorities, str) or not isinstance(priorities, tuple | list):
        raise InputError(f"{shortened(priorities)}: write a list of lists of keys")
    faults, seen, groups = Faults(), set(), []
    for group in priorities:
        keys = []
        if not isinstance(group, str | tuple | list):
            faults.add(f"{shortened(group)}: write a key or a list of keys")
            continue
        for key in (group,) if isinstance(group, str) else group:
            with faults.collecting(str(key)):
                keys.append(_wanted_key(key, values))
                if keys[-1] in seen:
                    raise InputError("stands here twice")
                seen.add(keys[-1])
        groups.append(tuple(keys))
    faults.raise_if_any()
    return tuple(group for group in groups if group)


def _wanted_key(key, values):
    """Return the key of a wanted value; refuse one that is not wanted."""
    known = nutrient(key).key
    if known not in values:
        raise InputError(f"is not wanted here; wanted: {', '.join(values)}")
    return known


def _refuse_double(known, values):
    """Raise if another key of the target counts exactly the same forms."""
    for key in values:
        if set(nutrient(key).weights) == set(known.weights):
            raise InputError(f"counts the same as {key}, which is given already")


def _ammonium_share(share, values):
    """Return the share to keep, or None if the target itself says how much ammonium."""
    if share is None:
        names_ammonium = any(
            "ammonium" in nutrient(k).weights and k != "N" for k in values
        )
        wants_nitrogen = any(
            "nitrate" in nutrient(key).weights and value > 0
            for key, value in values.items()
        )
        if names_ammonium or not wants_nitrogen:
            return None
        row = recipe_rule("ammonium share")
        return (row.number("low") / 100, row.number("high") / 100)
    if not isinstance(share, tuple | list) or len(share) != 2:
        raise InputError(
            f"{shortened(share)} is no (low, high) pair, such as (0, 0.15)"
        )
    low, high = (checked_number(part, "share", least=0, most=1) for part in share)
    if low > high:
        raise InputError(f"least {low:g} is above greatest {high:g}")
    return None if (low, high) == FULL_SHARE else (low, high)


# --- published targets -----------------------------------------------------------------


def published_target_names():
    """
    Return the keys of the published targets.

    Returns
    -------
    tuple of str
        Keys, in the order of the table.

    Examples
    --------
    >>> "ufifas-tomato-1" in published_target_names()
    True
    """
    return tuple(row["key"] for row in read_table("targets"))


def published_values(key):
    """
    Return a published target as it would be typed.

    Parameters
    ----------
    key : str
        Key of the table of targets.

    Returns
    -------
    dict
        "name", "crop", "stage", "unit", and "wanted": pairs of nutrient key and value or
        range with its unit, as printed.

    Raises
    ------
    UnknownName
        If there is no such target; the message lists them.

    Examples
    --------
    >>> published_values("steiner-1984")["wanted"][0]
    ('N', '168 mg/L')
    """
    row = _published_row(key)
    wanted = []
    for line in read_table("target_values"):
        if line["target"] == key:
            text = line["value"] or f"{line['low']}-{line['high']}"
            wanted.append((line["nutrient"], f"{text} {line['unit']}"))
    facts = {"wanted": tuple(wanted), "unit": "mg/L"}
    told = {k: row[k] for k in ("name", "crop", "stage") if row[k]}
    return facts | told


def _published_row(key):
    """Return the row of a published target."""
    for row in read_table("targets"):
        if row["key"] == key:
            return row
    known = ", ".join(published_target_names())
    raise UnknownName(f"{shortened(key)} is no published target; there are {known}")


def published_target(
    key,
    *,
    limits=None,
    weights=None,
    priorities=(),
    ammonium_share=None,
    urea_allowed=False,
):
    """
    Return a published target.

    Parameters
    ----------
    key : str
        Key of the table of targets.
    limits : mapping of str to str or pair, or None
        As in `target`. [mg/L]
    weights : mapping of str to float or None
        As in `target`. [-]
    priorities : sequence of sequence of str
        As in `target`.
    ammonium_share : (float, float) or None
        As in `target`. [-]
    urea_allowed : bool
        As in `target`.

    Returns
    -------
    Target
        The target with its source.

    Raises
    ------
    UnknownName
        If there is no such target; the message lists them.

    Examples
    --------
    >>> round(published_target("steiner-1984").mg_l("Ca"), 1)
    180.0
    """
    row, wanted = _published_row(key), published_values(key)["wanted"]
    made = target(
        dict(wanted),
        limits=limits,
        weights=weights,
        priorities=priorities,
        ammonium_share=ammonium_share,
        urea_allowed=urea_allowed,
        name=row["name"],
        crop=row["crop"],
        stage=row["stage"],
        source_key=row["source_key"],
        how_known=row["how_known"],
    )
    if row["confidence"] != "low":
        return made
    what = f"this target is doubtful: {row['note'] or 'remembered unsurely'}"
    return replace(made, notices=(*made.notices, Notice(what, "caution")))
