"""Does a water report agree with itself? Charges, conductivity, residue, hardness, odd pairs.

A single sample is never refused for its numbers: what does not fit is told, with the
arithmetic. Where a known slip would mend the balance, it is proposed.
"""

from functools import cache

from formulate.ingredients.report_amounts import check_row
from formulate.notices import Notice
from formulate.stoichiometry.nutrients import form
from formulate.stoichiometry.slips import explain_difference
from formulate.stoichiometry.units import convert
from formulate.tables import read_table
from formulate.working import printed

__all__ = ["check_water", "propose_slips"]

MAIN = (
    "calcium",
    "magnesium",
    "sodium",
    "potassium",
    "alkalinity",
    "chloride",
    "sulfate",
    "nitrate",
)
CHARGES = {
    "calcium": 2,
    "magnesium": 2,
    "sodium": 1,
    "potassium": 1,
    "ammonium": 1,
    "alkalinity": -1,
    "chloride": -1,
    "sulfate": -2,
    "nitrate": -1,
}
SLIP_SUBJECTS = {
    "alkalinity": "alkalinity",
    "carbonate_hardness": "alkalinity",
    "noncarbonate_hardness": "alkalinity",
    "bicarbonate": "HCO3",
}
MOST_PROPOSALS = 4
BALANCE_NOISE = 0.15  # %: rounding of the printed ions
LEAST_WORTH = 0.2  # meq/L: below this a ratio says nothing
LARGEST_NOISE = 0.2
MICRO = 1000.0  # µS/cm in a mS/cm


def check_water(water, told):
    """
    Return what does not agree in a report, and what it may be.

    Parameters
    ----------
    water : Water
        The water that the report makes.
    told : dict of str to Told
        Quantity to what the report tells of it.

    Returns
    -------
    tuple of Notice
        What to know; the proposals directly after the balance.

    Examples
    --------
    >>> from formulate.ingredients.report_amounts import Told
    >>> from formulate.ingredients.water import water
    >>> tap = water({"Ca": "1 mmol/L", "Mg": "3 mmol/L"})
    >>> told = {"calcium": Told(1.0), "magnesium": Told(3.0)}
    >>> [notice.what[:27] for notice in check_water(tap, told) if "Mg" in notice.what]
    ['more Mg (6.000 meq/L) than ']
    """
    found = [
        *_missing(water, told),
        *_balance(water, told),
        *_printed_sums(water, told),
    ]
    for check in (
        _against_ec,
        _dissolved_solids,
        _hardness,
        _alkalinity_parts,
        _carbonate,
        _softened,
        _odd_pairs,
    ):
        found += check(water, told)
    return tuple(found)


def _missing(water, told):
    """Yield what is not told at all, and the alkalinity that the charges would leave."""
    absent = [key for key in MAIN if key not in told]
    if absent and told:
        names = ", ".join(absent)
        yield Notice(f"not told, counted as 0: {names}")
    if "hardness" in told and {"calcium", "magnesium"} <= set(absent):
        meq = 2 * told["hardness"].amount
        what = (
            f"hardness {meq:.4g} meq/L without calcium or magnesium: it is not counted"
        )
        yield Notice(f"{what}; ask the laboratory for both", "caution")
    if "alkalinity" in absent and water.cations > water.anions:
        rest = water.cations - water.anions
        caco3 = convert(rest, "meq/L", "mg/L as CaCO3")
        what = (
            f"no alkalinity in the report: the charges would leave {rest:.3g} meq/L "
            f"({caco3:.3g} mg/L as CaCO3); it is not counted, measure it"
        )
        yield Notice(what, "caution", rest)


# --- the balance of the charges ---------------------------------------------------------


def _limit_of(anions):
    """Return the row of the balance check for a sum of anions, or None."""
    for row in read_table("water_checks"):
        if row["check"] == "charge balance" and (
            row.number("from_anions") <= anions < row.number("to_anions")
        ):
            return row
    return None


def _room(cations, anions):
    """Return how far the sums may lie apart, in meq/L."""
    row = _limit_of(anions)
    if row is None:
        return 0.0
    limit = row.number("limit")
    return limit if row["unit"] == "meq/L" else limit / 100 * (cations + anions)


def _balance(water, told):
    """Yield the notice on the balance and the slips that would mend it."""
    if "alkalinity" not in told and water.cations > water.anions:
        return  # the alkalinity is what is missing; it has been proposed
    outside = [n for n in water.notices if "out of balance" in n.what]
    yield from outside
    if outside:
        yield from propose_slips(water, told)


def propose_slips(water, told):
    """
    Return the slips that would bring a report into balance, nearest first.

    Parameters
    ----------
    water : Water
        A water whose charges do not balance.
    told : dict of str to Told
        Quantity to what its report tells.

    Returns
    -------
    tuple of Notice
        Proposals with their arithmetic; none if no single slip mends it.

    Examples
    --------
    >>> from formulate.ingredients.report_amounts import Told
    >>> from formulate.ingredients.water import water
    >>> propose_slips(water({"Ca": "2 mmol/L", "SO4": "2 mmol/L"}), {})
    ()
    """
    found = []
    difference = water.cations - water.anions
    for quantity, charge in CHARGES.items():
        known = told.get(quantity)
        if known is None or known.entry is None or not known.amount:
            continue
        meq = abs(charge) * known.amount
        wanted = meq - difference if charge > 0 else meq + difference
        if wanted > 0:
            sums = (water.cations, water.anions)
            found += _mending(known.entry, (meq, wanted), charge, sums)
    found.sort(key=lambda proposal: proposal[:2])
    return tuple(Notice(what, "note") for _, _, what in found[:MOST_PROPOSALS])


def _mending(entry, equivalents, charge, sums):
    """Yield (rank, misfit, words) of each slip of one entry that mends the balance."""
    meq, wanted = equivalents
    subject = _subject(entry)
    noise = min(_room(*_with(sums, charge, wanted - meq)) / wanted, LARGEST_NOISE)
    if noise <= 0:
        return
    expected = entry.value * wanted / meq
    own = _own_slips(subject)
    diagnosis = explain_difference(entry.value, expected, subject=subject, noise=noise)
    for candidate in diagnosis.candidates:
        slip = candidate.slips[0] if len(candidate.slips) == 1 else None
        if slip is None or slip.key not in own:
            continue
        cations, anions = _with(sums, charge, meq / slip.factor - meq)
        if abs(cations - anions) > _room(cations, anions):
            continue
        what = (
            f"perhaps {_words(slip)}: {entry.where}: {printed(entry.value)} {entry.unit} "
            f"÷ {printed(slip.factor, 5)} = {printed(entry.value / slip.factor)}; then "
            f"cations {cations:.2f}, anions {anions:.2f} meq/L. Ask the laboratory"
        )
        rank = ("basis", "unit", "power of ten").index(slip.kind)
        yield rank, abs(candidate.misfit), what


def _with(sums, charge, more):
    """Return the sums of cations and anions with more of one ion."""
    cations, anions = sums
    return (cations + more, anions) if charge > 0 else (cations, anions + more)


def _subject(entry):
    """Return the subject under which the slips of an entry stand."""
    if entry.quantity in SLIP_SUBJECTS:
        return SLIP_SUBJECTS[entry.quantity]
    return form(entry.quantity).symbol if entry.basis == "CaCO3" else entry.basis


@cache
def _own_slips(subject):
    """Return the keys of the slips that a report makes with a subject, and of ten."""
    rows = read_table("slips")
    own = {row["slip"] for row in rows if subject in row["subjects"].split()}
    kinds = {row["slip"]: row["kind"] for row in rows}
    return frozenset(k for k in own if kinds[k] in ("basis", "unit")) | {"ten"}


def _words(slip):
    """Return a slip in words, with the note of the table where it runs that way."""
    row = next(row for row in read_table("slips") if row["slip"] == slip.key)
    forward = slip.words == f"{row['written']} taken for {row['meant']}"
    return f"{row['note']} ({slip.words})" if forward and row["note"] else slip.words


def _printed_sums(water, told):
    """Yield what the printed sums and the printed balance say."""
    for quantity, sum_here in (
        ("cation_sum", water.cations),
        ("anion_sum", water.anions),
    ):
        if quantity not in told:
            continue
        printed_sum = told[quantity].amount
        name = quantity.replace("_", " ")
        share = check_row("told twice").number("limit") / 100
        agrees = abs(printed_sum - sum_here) <= share * max(printed_sum, sum_here)
        what = f"printed {name} {printed_sum:.4g} meq/L, from the ions {sum_here:.4g}"
        yield Notice(what, "note" if agrees else "caution", printed_sum, sum_here)
    if "ion_balance" in told and told["ion_balance"].entry.unit.kind == "mass_fraction":
        yield _printed_balance(water, told["ion_balance"])


def _printed_balance(water, known):
    """Return which convention a printed balance follows."""
    ours = water.balance_percent
    value, digits = (
        known.amount,
        known.entry.printed.replace(",", ".").partition(".")[2],
    )
    room = 0.5 * 10.0 ** -sum(c.isdigit() for c in digits) + BALANCE_NOISE
    conventions = (
        (ours, "(cations - anions)/(cations + anions)"),
        (2 * ours, "(cations - anions) over the mean of both [din-38402-62]"),
        (-ours, "(anions - cations)/(cations + anions)"),
        (-2 * ours, "(anions - cations) over the mean of both"),
        (abs(ours), "the amount of (cations - anions)/(cations + anions)"),
        (2 * abs(ours), "the amount of the difference over the mean of both"),
    )
    fitting = [words for number, words in conventions if abs(number - value) <= room]
    said = f"printed balance {value:g} %; here (cations - anions)/(cations + anions) = "
    said += f"{ours:.2f} %"
    if fitting:
        return Notice(f"{said}: the report prints {fitting[0]}", "note", value)
    why = (
        "it does not follow from the ions printed: one is not told, or a number is off"
    )
    return Notice(f"{said}: {why}", "caution", value)


# --- conductivity, residue, hardness ----------------------------------------------------


def _outside(value, row):
    return not row.number("low") <= value <= row.number("high")


def _against_ec(water, told):
    """Yield the sums of charges against the measured conductivity [sm-1030e]."""
    least = check_row("least EC for that check").number("limit")
    most = check_row("greatest EC for that check").number("limit")
    if water.ec is None or not least <= water.ec <= most or not water.solution.forms:
        return
    row = check_row("cation sum over EC")
    for name, total in (("cations", water.cations), ("anions", water.anions)):
        ratio = 100 * total / (water.ec * MICRO)
        if _outside(ratio, row):
            what = (
                f"{name} {total:.2f} meq/L against EC {water.ec:.4g} mS/cm: 100 × "
                f"{total:.2f} ÷ {water.ec * MICRO:.4g} = {ratio:.2f}, expected "
                f"{row['low']} to {row['high']}: check the {name}, or the EC and its "
                "temperature"
            )
            key = row["source_key"]
            yield Notice(what, "caution", ratio, row.number("high"), key)


def _dissolved_solids(water, told):
    """Yield the residue against the conductivity and against the sum of ions."""
    if "TDS" not in told:
        return
    solids = told["TDS"].amount
    if water.ec:
        ratio = solids / (water.ec * MICRO)
        row = check_row("TDS over EC")
        wide = check_row("TDS over EC in the wider guide")
        if _outside(ratio, row):
            severity = "caution" if _outside(ratio, wide) else "note"
            what = (
                f"TDS {solids:.4g} mg/L ÷ EC {water.ec * MICRO:.4g} µS/cm = {ratio:.2f}, "
                f"expected {row['low']} to {row['high']} (wider guide to {wide['high']})"
            )
            keys = f"{row['source_key']}; {wide['source_key']}"
            yield Notice(what, severity, ratio, row.number("high"), keys)
    if all(key in told for key in MAIN if key not in ("potassium", "nitrate")):
        yield from _against_sum(solids, _sum_of_ions(water))


def _sum_of_ions(water):
    """Return the residue that the ions would leave, in mg/L [sm-1030e]."""
    left = check_row("alkalinity left on drying").number("limit")
    alkalinity = convert(water.alkalinity, "meq/L", "mg/L as CaCO3")
    keys = ("Na", "K", "Ca", "Mg", "Cl", "SO4", "SiO2", "NO3", "F")
    return left * alkalinity + sum(water.solution.mg_l(key) for key in keys)


def _against_sum(solids, ions):
    row = check_row("TDS over sum of ions")
    ratio = solids / ions if ions else 1.0
    if not _outside(ratio, row):
        return
    apart = check_row("TDS apart from sum of ions").number("limit") / 100
    severity = "caution" if abs(ratio - 1) > apart else "note"
    what = (
        f"TDS {solids:.4g} mg/L ÷ sum of the ions {ions:.4g} mg/L = {ratio:.2f}, expected "
        f"{row['low']} to {row['high']}"
    )
    yield Notice(what, severity, ratio, row.number("high"), row["source_key"])


def _hardness(water, told):
    """Yield the printed hardness against calcium and magnesium."""
    if not {"hardness", "calcium", "magnesium"} <= set(told):
        return
    known = told["hardness"]
    here = told["calcium"].amount + told["magnesium"].amount
    if told["calcium"].entry is None or told["magnesium"].entry is None or not here:
        return
    row = check_row("hardness against Ca and Mg")
    apart = 100 * (known.amount / here - 1)
    if abs(apart) <= row.number("limit"):
        return
    caco3 = [
        convert(v, "mmol/L", "mg/L as CaCO3", of="hardness")
        for v in (known.amount, here)
    ]
    what = (
        f"hardness printed {caco3[0]:.4g} mg/L as CaCO3, from Ca and Mg {caco3[1]:.4g} "
        f"({apart:+.0f} %)"
    )
    why = ""
    if known.amount > 0:
        fits = explain_difference(known.amount, here, subject="hardness", noise=0.02)
        own = _own_slips("hardness")
        slips = [c.slips[0] for c in fits.candidates if len(c.slips) == 1]
        why = "".join(f"; perhaps {_words(s)}" for s in slips[:1] if s.key in own)
    yield Notice(what + why, "caution", caco3[0], caco3[1], row["source_key"])


def _alkalinity_parts(water, told):
    """Yield the alkalinity against bicarbonate and carbonate, where both are told."""
    known = told.get("alkalinity")
    if known is None or known.entry is None or "bicarbonate" not in told:
        return
    if known.entry is told["bicarbonate"].entry:
        return
    parts = [
        told[k].amount for k in ("bicarbonate", "carbonate", "hydroxide") if k in told
    ]
    row = check_row("alkalinity against its parts")
    total = sum(parts)
    if abs(known.amount - total) <= row.number("limit") / 100 * max(
        known.amount, total
    ):
        return
    what = (
        f"alkalinity {known.amount:.4g} meq/L, but bicarbonate and carbonate make "
        f"{total:.4g} meq/L; the alkalinity is taken"
    )
    if total > 0 and known.amount > 0:
        for value, other, entry in (
            (known.amount, total, known.entry),
            (total, known.amount, told["bicarbonate"].entry),
        ):
            fits = explain_difference(value, other, subject="alkalinity", noise=0.02)
            for candidate in fits.candidates[:1]:
                if len(candidate.slips) == 1 and candidate.slips[0].kind == "basis":
                    what += f"; perhaps in {entry.where}: {_words(candidate.slips[0])}"
    yield Notice(what, "caution", known.amount, total, row["source_key"])


# --- odd pairs --------------------------------------------------------------------------


def _carbonate(water, told):
    """Yield carbonate at a pH that has none, and carbonate hardness above the hardness."""
    row = check_row("carbonate from pH")
    for quantity in ("carbonate", "p_alkalinity"):
        known = told.get(quantity)
        if not known or not known.amount or water.ph is None:
            continue
        if water.ph < row.number("limit"):
            what = (
                f"{quantity.replace('_', '-')} {known.amount:.3g} meq/L at pH "
                f"{water.ph:g}: below pH {row['limit']} there is hardly any"
            )
            key = row["source_key"]
            yield Notice(what, "caution", water.ph, row.number("limit"), key)
    known = told.get("carbonate_hardness") or told.get("alkalinity")
    if known and "hardness" in told:
        total = 2 * told["hardness"].amount
        room = check_row("hardness against Ca and Mg").number("limit") / 100
        if known.amount > total * (1 + room) and known.amount > LEAST_WORTH:
            what = (
                f"alkalinity or carbonate hardness {known.amount:.3g} meq/L is above the "
                f"hardness {total:.3g} meq/L: softened water, or sodium bicarbonate in it"
            )
            yield Notice(what, "caution", known.amount, total)


def _softened(water, told):
    """Yield a notice if a water looks as if an ion exchanger had softened it."""
    sodium = told["sodium"].amount if "sodium" in told else 0.0
    pair = [2 * told[k].amount for k in ("calcium", "magnesium") if k in told]
    if not sodium or not pair or water.alkalinity is None or not water.cations:
        return
    share, hard = 100 * sodium / water.cations, 100 * sum(pair) / water.cations
    if (
        share >= check_row("softened: sodium").number("limit")
        and hard <= check_row("softened: hardness").number("limit")
        and water.alkalinity >= check_row("softened: alkalinity").number("limit")
    ):
        what = (
            f"sodium is {share:.0f} % of the cations, calcium and magnesium {hard:.0f} %, "
            f"alkalinity {water.alkalinity:.3g} meq/L: this looks like softened water "
            "(or sodium bicarbonate groundwater); take it before the softener"
        )
        yield Notice(what, "caution", share)


def _odd_pairs(water, told):
    """Yield pairs that seldom stand together in a clean water."""
    calcium, magnesium = told.get("calcium"), told.get("magnesium")
    if calcium and magnesium and magnesium.amount > calcium.amount:
        what = (
            f"more Mg ({printed(2 * magnesium.amount)} meq/L) than Ca "
            f"({printed(2 * calcium.amount)} meq/L): unusual; are they exchanged?"
        )
        yield Notice(what, "caution", magnesium.amount, calcium.amount)
    limit = check_row("ammonium with nitrite").number("limit")
    pair = [water.solution.mg_l(key) for key in ("NH4", "NO2")]
    if all(value > limit for value in pair):
        what = (
            f"ammonium {pair[0]:.2g} and nitrite {pair[1]:.2g} mg/L together: sewage, "
            "manure or unfinished nitrification; sample again"
        )
        yield Notice(what, "caution", pair[0], limit)
