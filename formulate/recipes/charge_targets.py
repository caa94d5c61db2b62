"""Targets told by charge: ratios of ions in percent of meq, or a table that one ion closes."""

from collections.abc import Mapping
from dataclasses import replace

from formulate.checks import checked_number
from formulate.errors import Faults, InputError, shortened
from formulate.notices import Notice
from formulate.recipes.charge_ratios import is_trace
from formulate.recipes.target import target
from formulate.stoichiometry.nutrients import form, nutrient
from formulate.stoichiometry.quantities import read_number, read_quantity
from formulate.stoichiometry.units import convert
from formulate.tables import recipe_rule
from formulate.working import printed

__all__ = [
    "charge_target_of",
    "closed_by_ammonium",
    "closed_by_ion",
    "target_from_ratios",
]

SIDES = {"cations": 1, "anions": -1}
SIGNS = {1: "cation", -1: "anion"}
RATIO_UNITS = ("%", "parts")
WHOLE = 100.0  # percent
NOISE = 1e-12  # share of what is added up: less is what rounding leaves
BY_RATIOS = ("cations", "anions", "total")
BY_CLOSING = ("wanted", "closing")
FACTS = ("unit", "traces", "limits", "weights", "priorities", "ammonium_share")
FACTS += ("urea_allowed", "name", "crop", "stage", "source_key", "how_known")


def target_from_ratios(
    cations, anions, *, total, unit="%", traces=None, limits=None, name="", **facts
):
    """
    Return a target from ratios of ions and a total.

    Of each side every ion is told as a percentage of the side's meq. Phosphate counts as
    H2PO4-, with one charge, as it mostly is below pH 6.5.

    Parameters
    ----------
    cations : mapping of str to float
        Cation to percent of the meq of all cations; together 100. [%]
    anions : mapping of str to float
        Anion to percent of the meq of all anions; together 100. [%]
    total : str
        Text with its unit: "20 meq/L" is the sum of each side, "30 mmol/L" the sum of all
        ions, as osmotic totals are given. [meq/L]
    unit : str
        "%", or "parts" where a side may sum to anything, such as 7:9:4.
    traces : mapping of str to float or str, or None
        Trace elements to wanted value, as in `target`. [mg/L]
    limits : mapping of str to str or pair, or None
        As in `target`. [mg/L]
    name : str
        How it is called.
    **facts : object
        Whatever else `target` takes.

    Returns
    -------
    Target
        The target; notices tell a side that was rounded and much ammonium.

    Raises
    ------
    InputError
        With every fault: shares that do not sum to 100, ions of the wrong side, a total
        without a unit.

    Examples
    --------
    >>> ratios = {"K": 35, "Ca": 45, "Mg": 20}, {"NO3": 60, "H2PO4": 5, "SO4": 35}
    >>> feed = target_from_ratios(*ratios, total="20 meq/L", traces={"Fe": "2 mg/L"})
    >>> {key: round(value, 3) for key, value in feed.wanted.items()}
    {'K': 7.0, 'Ca': 4.5, 'Mg': 2.0, 'NO3': 12.0, 'H2PO4': 1.0, 'SO4': 3.5, 'Fe': 0.036}
    """
    faults, shares, told = Faults("target from ratios"), {}, []
    for side, given in (("cations", cations), ("anions", anions)):
        read = {}
        with faults.collecting(side):
            try:
                _read_shares(given, SIDES[side], read)
                scale, notices = _closed_side(side, read, unit)
                told += notices
            finally:
                shares |= read
            shares |= {key: value * scale for key, value in read.items()}
    meq = 1.0
    with faults.collecting("total"):
        meq = _total(total, shares)
    further = traces if isinstance(traces, Mapping) else {}
    with faults.collecting("traces"):
        _traces(traces, shares)
    asked = {"limits": limits, "name": name, **facts}
    wanted = {key: _text(_mmol(key, meq * share)) for key, share in shares.items()}
    with faults.collecting():
        made = target({**wanted, **further}, **asked)
    faults.raise_if_any()
    return _with_notices(made, told)


def closed_by_ammonium(wanted, **given):
    """
    Return a target whose charges ammonium closes.

    Parameters
    ----------
    wanted : mapping of str to float, str or pair
        As in `closed_by_ion`, without ammonium. [mmol/L]
    **given : object
        Whatever else `closed_by_ion` takes.

    Returns
    -------
    Target
        The target, with NH4.

    Raises
    ------
    InputError
        With every fault; also if ammonium would come out negative.

    Examples
    --------
    >>> ions = {"NO3": 16.0, "P": 1.5, "SO4": 4.4, "K": 9.5, "Ca": 5.4, "Mg": 2.4}
    >>> round(closed_by_ammonium(ions).wanted["NH4"], 6)
    1.2
    """
    return closed_by_ion(wanted, closing="NH4", **given)


def closed_by_ion(
    wanted, *, closing, unit="mmol/L", traces=None, limits=None, name="", **facts
):
    """
    Return a target in which one ion makes the charges sum to nothing.

    Every form counts as its nominal ion, phosphate as H2PO4-. Trace elements are left out
    of the sums: they come with counter-ions of their own.

    Parameters
    ----------
    wanted : mapping of str to float, str or pair
        As in `target`, without the ion that closes; of a range the middle counts. [mmol/L]
    closing : str
        Key of the ion that closes, such as "NH4", "K" or "Cl".
    unit : str
        Unit of bare numbers.
    traces : mapping of str to float or str, or None
        Further wanted values, for those who keep trace elements apart. [mmol/L]
    limits : mapping of str to str or pair, or None
        As in `target`. [mmol/L]
    name : str
        How it is called.
    **facts : object
        Whatever else `target` takes.

    Returns
    -------
    Target
        The target, with the ion that closes; a notice tells much ammonium.

    Raises
    ------
    InputError
        With every fault; also if the ion would come out negative, with the number.

    Examples
    --------
    >>> closed_by_ion({"Ca": 2.0, "NO3": 3.0}, closing="Cl").wanted["Cl"]
    1.0
    """
    faults = Faults("target closed by an ion")
    ion, draft, asked = None, None, {"unit": unit, "limits": limits, "name": name}
    with faults.collecting("closing"):
        ion = _ion(closing)
    with faults.collecting():
        wanted = _mapping(wanted, "wanted")
        with faults.collecting("traces"):
            wanted |= _apart(_traces(traces, {}), wanted)
        if "alkalinity" in wanted:
            faults.add("alkalinity: give HCO3, which is an anion like the others")
        draft = target(_beside(wanted, ion), **asked, **facts)
    amount = 0.0
    if draft:
        with faults.collecting():
            amount = _closing_amount(draft.wanted, ion)
    faults.raise_if_any()
    wanted[ion.key] = _text(amount)
    return _with_notices(target(wanted, **asked, **facts), [])


def charge_target_of(entries):
    """
    Return a target from the entries of a file.

    Parameters
    ----------
    entries : mapping of str to object
        Either "cations", "anions" and "total", as in `target_from_ratios`, or "wanted" and
        "closing", as in `closed_by_ion`; also what both take besides.

    Returns
    -------
    Target
        The target.

    Raises
    ------
    InputError
        With every fault: entries that are missing, unknown or of both kinds.

    Examples
    --------
    >>> feed = charge_target_of({"wanted": {"Ca": 2.0, "NO3": 4.5}, "closing": "NH4"})
    >>> feed.wanted["NH4"]
    0.5
    """
    faults, made = Faults("target by charge"), None
    entries = _mapping(entries, "entries")
    kinds = [keys for keys in (BY_RATIOS, BY_CLOSING) if {*keys} & {*entries}]
    known = (*(kinds[0] if kinds else (*BY_RATIOS, *BY_CLOSING)), *FACTS)
    for key in entries:
        if key not in known:
            faults.add(
                f"{shortened(key)} does not belong here; known: {', '.join(known)}"
            )
    if not kinds:
        faults.add("give cations, anions and total, or wanted and closing")
    missing = [key for key in (kinds[0] if kinds else ()) if key not in entries]
    if missing:
        faults.add(f"{' and '.join(missing)} missing")
    given = {key: value for key, value in entries.items() if key in known}
    if kinds and not missing:
        with faults.collecting():
            call = target_from_ratios if kinds[0] == BY_RATIOS else closed_by_ion
            made = call(**given)
    faults.raise_if_any()
    return made


# --- ions and their shares -------------------------------------------------------------


def _mapping(given, what):
    """Return a mapping as a dict, or raise."""
    if not isinstance(given, Mapping) or not given:
        raise InputError(
            f"{what}: {shortened(given)} is no mapping, such as {{'K': 35}}"
        )
    return dict(given)


def _ion(key, sign=None):
    """Return the nutrient of one main ion; refuse sums, traces and the wrong side."""
    known = nutrient(key)
    if len(known.weights) > 1:
        parts = ", ".join(form(name).symbol for name in known.weights)
        raise InputError(f"counts several forms; give one of {parts}")
    (name,) = known.weights
    charge = form(name).nominal_charge
    if is_trace(name):
        raise InputError("is a trace and no part of the balance; give it under traces")
    if not charge:
        raise InputError("carries no charge; give it under traces")
    if known.ion_charge not in (None, charge):
        ion = nutrient(form(name).nominal_ion).key
        raise InputError(f"is counted with one charge, as {ion}; write {ion}")
    if sign and charge * sign < 0:
        raise InputError(f"is no {SIGNS[sign]}; give it with the {SIGNS[-sign]}s")
    return known


def _charge(known):
    """Return the nominal charge of one mole of the basis of a nutrient of one form."""
    ((name, weight),) = known.weights.items()
    return form(name).nominal_charge / weight


def _mmol(key, meq):
    """Return the mmol of a basis that make so many meq."""
    return meq / abs(_charge(nutrient(key)))


def _text(mmol):
    """Return an amount as text that reads back as the same number."""
    return f"{mmol!r} mmol/L"


def _read_shares(given, sign, found):
    """Put key to share of one side into `found`; every fault at once."""
    faults, seen = Faults(), {}
    for key, value in _mapping(given, "ratios").items():
        with faults.collecting(str(key)):
            known = _ion(key, sign)
            (name,) = known.weights
            if name in seen:
                raise InputError(
                    f"counts the same as {seen[name]}, which is given already"
                )
            seen[name] = known.key
            text = value.strip().removesuffix("%") if isinstance(value, str) else value
            found[known.key] = checked_number(read_number(text), "share", least=0)
    faults.raise_if_any()


def _closed_side(side, shares, unit):
    """Return what makes shares sum to 1, and what to tell of it."""
    if unit not in RATIO_UNITS:
        raise InputError(
            f"unit {shortened(unit)}: write one of {', '.join(RATIO_UNITS)}"
        )
    total = sum(shares.values())
    if not total:
        raise InputError("every share is 0")
    give, off = recipe_rule("ratio rounding").number("high"), total - WHOLE
    if unit == "%" and abs(off) > give:
        way = "over" if off > 0 else "short of"
        raise InputError(f"the shares sum to {total:g} %, {abs(off):g} {way} 100")
    if unit == "parts" or abs(off) <= NOISE * WHOLE:
        return 1 / total, []
    what = f"the {side} sum to {total:g} %; each was taken as its part of that sum"
    return 1 / total, [Notice(what, "note", total, WHOLE)]


def _total(total, shares):
    """Return the meq/L of each side for a total of charges or of ions."""
    kinds = ("charge_concentration", "amount_concentration")
    try:
        value, of_unit = read_quantity(total, *kinds)
    except InputError as error:
        what = "write '20 meq/L' for each side, or '30 mmol/L' for all ions together"
        raise InputError(f"{error}; {what}") from None
    value = checked_number(value, f"sum in {of_unit}", above=0)
    if of_unit.kind == kinds[0]:
        return convert(value, of_unit, "meq/L")
    ions = sum(_mmol(key, share) / _per_form(key) for key, share in shares.items())
    return convert(value, of_unit, "mmol/L") / ions if ions else 1.0


def _per_form(key):
    """Return moles of the basis per mole of ions: 0.5 for K2O."""
    return next(iter(nutrient(key).weights.values()))


def _traces(traces, shares):
    """Return further wanted values; refuse main ions, which belong to the ratios."""
    if traces is None:
        return {}
    faults, found = Faults(), _mapping(traces, "traces")
    held = {name for key in shares for name in nutrient(key).weights}
    for key in found:
        with faults.collecting(str(key)):
            names = nutrient(key).weights
            if held & {*names}:
                raise InputError("has its share in the ratios already")
            if any(form(n).nominal_charge and not is_trace(n) for n in names):
                raise InputError("is an ion of the balance; give it among the ions")
    faults.raise_if_any()
    return found


# --- what closes -----------------------------------------------------------------------


def _apart(traces, wanted):
    """Return traces; refuse those that stand among the ions as well."""
    faults = Faults()
    for key in traces:
        if key in wanted:
            faults.add(f"{key} stands among the ions as well; give it once")
    faults.raise_if_any()
    return traces


def _beside(wanted, ion):
    """Return a table with a place for the ion that closes; refuse one that names it."""
    if ion is None:
        return wanted
    for key in wanted:
        if isinstance(key, str) and key != "hardness" and _names(key, ion):
            raise InputError(
                f"{key} is given and is to close; leave it out of the table"
            )
    return {**wanted, ion.key: "1 mmol/L"}


def _names(key, ion):
    """Return whether a key of a table counts the ion that closes and no other form."""
    try:
        return {*nutrient(key).weights} == {*ion.weights}
    except LookupError:
        return False  # told by `target`


def _closing_amount(wanted, ion):
    """Return the mmol/L of the ion that closes the others; refuse a negative one."""
    faults, charges = Faults(), {}
    for key, value in wanted.items():
        known = nutrient(key)
        if ion is not None and known.key == ion.key:
            continue
        with faults.collecting(key):
            charges[key] = _counted_charge(known) * value
    faults.raise_if_any()
    if ion is None:
        return 0.0
    gap, size = sum(charges.values()), sum(map(abs, charges.values()))
    amount = -gap / _charge(ion)
    if abs(gap) <= NOISE * size:
        return 0.0
    if amount < 0:
        raise InputError(_refusal(ion, gap, amount, charges))
    return amount


def _counted_charge(known):
    """Return the charge per mmol of a wanted value; 0 of traces; refuse what has two."""
    if all(is_trace(name) for name in known.weights):
        return 0.0
    if len(known.weights) > 1:
        parts = ", ".join(form(name).symbol for name in known.weights)
        raise InputError(f"counts several forms of unlike charge; give apart: {parts}")
    return _charge(known)


def _refusal(ion, gap, amount, charges):
    """Return in words why an ion cannot close, by how much, and what to do."""
    sign = 1 if gap > 0 else -1
    more, less = SIGNS[sign], SIGNS[-sign]
    heavy = ", ".join(key for key, value in charges.items() if value * sign > 0)
    light = ", ".join(key for key, value in charges.items() if value * sign < 0)
    size = printed(abs(gap))
    return (
        f"{ion.key} would be {printed(amount)} mmol/L: without it the {more}s exceed the "
        f"{less}s by {size} meq/L; ask {size} meq/L less of {heavy} or more of "
        f"{light or f'the {less}s'}, or let one of the {less}s close"
    )


# --- what to tell ----------------------------------------------------------------------


def _with_notices(made, told):
    """Return a target that also tells what its making has to say."""
    forms = {next(iter(nutrient(key).weights)): key for key in made.wanted}
    if "phosphate" in forms:
        what = "phosphate is counted as H2PO4-, with one charge"
        told = [*told, Notice(what, "note")]
    told = [*told, *_ammonium_notices(made)]
    return replace(made, notices=(*made.notices, *told))


def _ammonium_notices(made):
    """Yield a caution where more of the nitrogen is ammonium than usual."""
    counted = {}
    for key, value in made.wanted.items():
        weights = nutrient(key).weights
        if len(weights) == 1:
            ((name, weight),) = weights.items()
            counted[name] = value / weight
    parts = nutrient("N").amount(counted)
    ammonium, usual = counted.get("ammonium", 0.0), recipe_rule("ammonium share")
    share, high = 100 * ammonium / parts if parts else 0.0, usual.number("high")
    if share > high:
        what = (
            f"ammonium is {share:.0f} % of the nitrogen, usual is up to {high:g} %; it "
            "is taken up before K and Ca, and the root zone turns acid: raise K, Ca or Mg, "
            "or lower the anions"
        )
        yield Notice(what, "caution", share, high, usual["source_key"])
