"""What a crop is to get: wanted values, their ranges, and whether they can exist together."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from formulate.checks import checked_number
from formulate.errors import Faults, InputError, UnknownName, shortened
from formulate.notices import Notice
from formulate.stoichiometry.charge import nominal_charge
from formulate.stoichiometry.nutrients import form, nutrient
from formulate.stoichiometry.quantities import read_number, read_quantity
from formulate.stoichiometry.slips import slips
from formulate.stoichiometry.units import CONCENTRATIONS, convert, unit
from formulate.tables import read_table
from formulate.working import Shown, printed, printed_mg_l

__all__ = ["Target", "published_target", "published_target_names", "target"]

MACROS = ("P", "K", "Ca", "Mg", "S")
FULL_SHARE = (0.0, 1.0)
MOST_MG_L = 1e6  # a kilogram in a litre
LEAST_MG_L = 1e-9  # a millionth of a microgram
ROUNDED = 0.005  # printed values are rounded; less than this is no contradiction


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
        Nutrient key to the range it was taken from, where it was one. [mmol/L]
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

    def __post_init__(self):
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
                line += f"  (middle of {low} to {high})"
            lines.append(line)
        return "\n".join([*lines, *map(str, self.notices)])


def target(
    wanted,
    *,
    unit="mg/L",
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
        Nutrient key to wanted value; a pair, or text such as "60-70", is a range of which
        the middle is taken; text may carry its own unit. [mg/L]
    unit : str
        Unit of bare numbers.
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
    if not isinstance(urea_allowed, bool):
        faults.add(f"urea_allowed: {shortened(urea_allowed)}; write True or False")
    faults.raise_if_any()
    names_urea = any("urea" in nutrient(key).weights and key != "N" for key in values)
    urea_allowed = urea_allowed or names_urea
    facts = {"crop": crop, "stage": stage, "source_key": source_key}
    made = Target(
        name, values, ranges, share, urea_allowed, how_known=how_known, **facts
    )
    return replace(made, notices=(*_charge_notices(made), *_origin_notices(made)))


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
        of_unit = unit(bare_unit, *CONCENTRATIONS)
        pair = value if isinstance(value, tuple | list) else (value, value)
        if len(pair) != 2:
            raise InputError(
                f"{shortened(value)} is neither a value nor a (low, high) pair"
            )
        low, high = (read_number(part) for part in pair)
    if not 0 <= low <= high:
        raise InputError(f"{low:g} to {high:g} {of_unit} is no range from 0 up")
    ends = tuple(convert(end, of_unit, "mmol/L", of=known) for end in (low, high))
    if ends[1] * known.molar_mass > MOST_MG_L:
        raise InputError(f"{high:g} {of_unit} is more than a litre can hold")
    if 0 < ends[1] * known.molar_mass < LEAST_MG_L:
        raise InputError(f"{high:g} {of_unit} is too little to weigh; write 0")
    return ends


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
        return _rule("ammonium share")
    if not isinstance(share, tuple | list) or len(share) != 2:
        raise InputError(
            f"{shortened(share)} is no (low, high) pair, such as (0, 0.15)"
        )
    low, high = (checked_number(part, "share", least=0, most=1) for part in share)
    if low > high:
        raise InputError(f"least {low:g} is above greatest {high:g}")
    return None if (low, high) == FULL_SHARE else (low, high)


def _rule(name):
    row = next(row for row in read_table("recipe_rules") if row["rule"] == name)
    return (row.number("low") / 100, row.number("high") / 100)


# --- can it exist? ---------------------------------------------------------------------


def _charges(values, share):
    """Return least and greatest sum of charges of wanted values, and the sum of both."""
    forms = {}
    nitrogen = 0.0
    for key, value in values.items():
        known = nutrient(key)
        if known.key == "N":
            nitrogen = value
            continue
        part, weight = max(
            known.weights.items(), key=lambda item: abs(form(item[0]).nominal_charge)
        )
        forms[part] = value / weight
    told = forms.get("nitrate", 0.0) + forms.get("nitrite", 0.0)
    told += forms.get("ammonium", 0.0) + 2 * forms.get("urea", 0.0)
    untold = max(nitrogen - told, 0.0)
    charge = nominal_charge(forms)
    size = sum(abs(form(part).nominal_charge * v) for part, v in forms.items()) + untold
    if "ammonium" in forms:
        return charge - untold, charge - untold, size
    if "nitrate" in forms:  # what is left of the nitrogen can only be ammonium
        return charge, charge + untold, size
    low, high = (min(part * nitrogen, untold) for part in share or FULL_SHARE)
    return charge - untold + 2 * low, charge - untold + 2 * high, size


def _is_complete(values):
    """Return whether a target names nitrogen and every other macronutrient."""
    forms = {part for key in values for part in nutrient(key).weights}
    others = {part for key in MACROS for part in nutrient(key).weights}
    return "nitrate" in forms and others <= forms


def _gap(values, share):
    """Return what is missing for a balance, positive if anions lack, and the size."""
    low, high, size = _charges(values, share)
    gap = low if low > 0 else high if high < 0 else 0.0
    return gap, size


def _charge_notices(made):
    """Yield what there is to say about the balance of a complete target."""
    if not _is_complete(made.wanted):
        return
    gap, size = _gap(made.wanted, made.ammonium_share)
    limit = next(
        row.number("limit") / 100
        for row in read_table("water_checks")
        if row["check"] == "charge balance" and row.number("from_anions") == 10
    )
    if abs(gap) <= limit * size:
        return
    who = f"the target {made.name!r}" if made.name else "the target"
    share = f"{abs(gap):.1f} meq/L, {100 * abs(gap) / size:.0f} % of all ions"
    if gap > 0:
        what = (
            f"{who} names too few anions for its cations ({share}); chloride or bicarbonate, "
            "or more sulfate or nitrate than wanted, will fill the gap"
        )
    else:
        what = f"{who} cannot balance: its anions have too few cations ({share})"
        what += "".join(
            f"; it would balance if {words}"
            for words in _mending_slips(made.wanted, made.ammonium_share)
        )
    yield Notice(what, "caution", gap, limit * size, "sm-1030e")


def _mending_slips(values, share):
    """Yield the slips that, undone in one value, let the target balance."""
    for key, value in values.items():
        for slip in slips(key):
            if (
                slip.kind != "basis"
                or slip.factor < 1
                or not slip.words.endswith(f"for {key}")
            ):
                continue
            gap, size = _gap({**values, key: value / slip.factor}, share)
            if abs(gap) <= 0.02 * size:
                mass = value * nutrient(key).molar_mass
                yield f"{key} {printed(mass, 3)} mg/L were {slip.words.split(' taken')[0]}"


def _origin_notices(made):
    """Yield what there is to say about parts, ranges and values from memory."""
    wanted = made.wanted
    parts = [key for key in ("NO3", "NO3-N", "NH4", "NH4-N", "urea-N") if key in wanted]
    told = sum(wanted[key] for key in parts)
    if "N" in wanted and told > wanted["N"] * (1 + ROUNDED):
        what = f"{' and '.join(parts)} together are more than N: both cannot be met"
        yield Notice(what, "caution", told, wanted["N"])
    if made.ranges:
        keys = ", ".join(made.ranges)
        yield Notice(f"given as a range, the middle is wanted: {keys}", "note")
    if made.how_known == "memory":
        yield Notice("the values of this target are quoted from memory", "note")


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


def published_target(key, *, ammonium_share=None, urea_allowed=False):
    """
    Return a published target.

    Parameters
    ----------
    key : str
        Key of the table of targets.
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
    row = next((row for row in read_table("targets") if row["key"] == key), None)
    if row is None:
        known = ", ".join(published_target_names())
        raise UnknownName(f"{shortened(key)} is no published target; there are {known}")
    wanted = {}
    for line in read_table("target_values"):
        if line["target"] == key:
            text = line["value"] or f"{line['low']}-{line['high']}"
            wanted[line["nutrient"]] = f"{text} {line['unit']}"
    made = target(
        wanted,
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
