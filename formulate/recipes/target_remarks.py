"""What to know about a target: whether its ions can balance, and where its values come from."""

from formulate.notices import Notice
from formulate.stoichiometry.charge import nominal_charge
from formulate.stoichiometry.nutrients import form, nutrient
from formulate.stoichiometry.slips import slips
from formulate.tables import read_table
from formulate.working import printed

__all__ = ["target_remarks"]

MACROS = ("P", "K", "Ca", "Mg", "S")
FULL_SHARE = (0.0, 1.0)
ROUNDED = 0.005  # printed values are rounded; less than this is no contradiction


def target_remarks(made):
    """
    Return what to know about a target.

    Parameters
    ----------
    made : Target
        The target.

    Returns
    -------
    tuple of Notice
        Whether its ions can balance, parts that exceed their whole, values from memory.

    Examples
    --------
    >>> from formulate.recipes.target import target
    >>> target_remarks(target({"N": 150, "NO3-N": 160}))[0].severity
    'caution'
    """
    return (*_charge_notices(made), *_origin_notices(made))


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
    if made.how_known == "memory":
        yield Notice("the values of this target are quoted from memory", "note")
