"""Does a water report agree with itself? Charges, conductivity, residue, hardness, odd pairs.

A single sample is never refused for its numbers: what does not fit is told, with the
arithmetic. Where a known slip would mend the balance, it is proposed.
"""

from formulate.ingredients.report_amounts import check_row
from formulate.ingredients.water_slips import own_slips, propose_slips, slip_words
from formulate.notices import Notice
from formulate.stoichiometry.slips import explain_difference
from formulate.stoichiometry.units import convert
from formulate.working import printed

__all__ = ["MAIN_ANIONS", "MAIN_CATIONS", "check_water", "water_told"]

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
MAIN_CATIONS = {"calcium", "magnesium", "sodium"}
MAIN_ANIONS = {"alkalinity", "chloride", "sulfate"}
BALANCE_NOISE = 0.15  # %: rounding of the printed ions
LEAST_WORTH = 0.2  # meq/L: below this a ratio says nothing
METER_SCALE = 0.5  # mg/L per µS/cm that a meter of the 500 scale shows
METER_NOISE = 0.006
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
    return tuple(notice for _, notice in water_told(water, told))


def water_told(water, told):
    """
    Return what is to be known of a report, each with the check that tells it.

    Parameters
    ----------
    water : Water
        The water that the report makes.
    told : dict of str to Told
        Quantity to what the report tells of it.

    Returns
    -------
    tuple of (str, Notice)
        Such as "balance of charges" with its notice.

    Examples
    --------
    >>> from formulate.ingredients.report_amounts import Told
    >>> from formulate.ingredients.water import water
    >>> tap = water({"Ca": "1 mmol/L", "Mg": "3 mmol/L"})
    >>> told = {"calcium": Told(1.0), "magnesium": Told(3.0)}
    >>> water_told(tap, told)[-1][0]
    'odd pairs'
    """
    checks = {
        "what is told": _missing,
        "balance of charges": _balance,
        "printed sums": _printed_sums,
        "conductivity": _against_ec,
        "dissolved solids": _dissolved_solids,
        "hardness": _hardness,
        "alkalinity": _alkalinity_parts,
        "carbonate": _carbonate,
        "softener": _softened,
        "odd pairs": _odd_pairs,
    }
    return tuple(
        (subject, notice)
        for subject, check in checks.items()
        for notice in check(water, told)
    )


def _missing(water, told):
    """Yield what is not told at all, and the alkalinity that the charges would leave."""
    absent = [key for key in MAIN if key not in told]
    if absent and told:
        names = ", ".join(absent)
        what = f"not told, counted as 0: {names}"
        yield Notice(f"{what}; the balance of the charges misses them")
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


def _balance(water, told):
    """Yield the notice on the balance and the slips that would mend it."""
    if "alkalinity" not in told and water.cations > water.anions:
        return  # the alkalinity is what is missing; it has been proposed
    if not water.cations or not water.anions:
        return  # one side is not told at all
    outside = [n for n in water.notices if "out of balance" in n.what]
    yield from outside
    if outside and set(told) >= MAIN_CATIONS | MAIN_ANIONS:
        yield from propose_slips(water, told)


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
    """Return which convention a printed balance follows.

    Equation of the balance by the mean of both sums [din-38402-62]::

        balance = 100 (C − A) / ((C + A)/2)        twice the one that divides by the sum
    """
    ours = water.balance_percent
    value, digits = (
        known.amount,
        known.entry.printed.replace(",", ".").partition(".")[2],
    )
    room = 0.5 * 10.0 ** -sum(c.isdigit() for c in digits) + BALANCE_NOISE
    by_sum, by_mean = "by the sum of both", "by the mean of both [din-38402-62]"
    conventions = (
        (ours, f"divides {by_sum}"),
        (2 * ours, f"divides {by_mean}"),
        (-ours, f"divides {by_sum}, sign turned round or left out"),
        (-2 * ours, f"divides {by_mean}, sign turned round or left out"),
    )
    fitting = [words for number, words in conventions if abs(number - value) <= room]
    said = f"printed balance {value:g} %; here (cations - anions)/(cations + anions) = "
    said += f"{ours:.2f} %"
    if len(fitting) > 1:
        return Notice(
            f"{said}: too small to tell how the report divides", "note", value
        )
    if fitting:
        return Notice(f"{said}: the report {fitting[0]}", "note", value)
    why = (
        "it does not follow from the ions printed: one is not told, or a number is off"
    )
    return Notice(f"{said}: {why}", "caution", value)


# --- conductivity, residue, hardness ----------------------------------------------------


def _outside(value, row):
    return not row.number("low") <= value <= row.number("high")


def _against_ec(water, told):
    """Yield the sums of charges against the measured conductivity [sm-1030e].

    Equation of the rule of sums over EC [sm-1030e]::

        0.9 ≤ 100 Σ meq/L / EC in µS/cm ≤ 1.1        for each side, EC 0.1 to 5 mS/cm
    """
    least = check_row("least EC for that check").number("limit")
    most = check_row("greatest EC for that check").number("limit")
    if water.ec is None or not least <= water.ec <= most or not water.solution.forms:
        return
    row = check_row("cation sum over EC")
    for name, total, needed in (
        ("cations", water.cations, MAIN_CATIONS),
        ("anions", water.anions, MAIN_ANIONS),
    ):
        if not needed <= set(told):
            continue
        ratio = 100 * total / (water.ec * MICRO)
        if _outside(ratio, row):
            what = (
                f"{name} {total:.2f} meq/L against EC {water.ec:.4g} mS/cm: 100 × "
                f"{total:.2f} ÷ {water.ec * MICRO:.4g} = {ratio:.3g}, expected "
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
            if abs(ratio - METER_SCALE) < METER_NOISE:
                what += "; it looks like a meter's reading on the 500 scale, no residue"
            keys = f"{row['source_key']}; {wide['source_key']}"
            yield Notice(what, severity, ratio, row.number("high"), keys)
    if all(key in told for key in MAIN if key not in ("potassium", "nitrate")):
        yield from _against_sum(solids, _sum_of_ions(water))


def _sum_of_ions(water):
    """Return the residue that the ions would leave, in mg/L [sm-1030e].

    Equation [sm-1030e]::

        residue = 0.6 alkalinity as CaCO3 + Na + K + Ca + Mg + Cl + SO4 + SiO2 + NO3 + F
    """
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
    """Yield the printed hardness against calcium and magnesium.

    Equation [sm-2340b]::

        hardness = Ca + Mg in mmol/L = (Ca + Mg) M(CaCO3) in mg/L as CaCO3
    """
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
        own = own_slips("hardness")
        slips = [c.slips[0] for c in fits.candidates if len(c.slips) == 1]
        why = "".join(f"; perhaps {slip_words(s)}" for s in slips[:1] if s.key in own)
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
                    what += (
                        f"; perhaps in {entry.where}: {slip_words(candidate.slips[0])}"
                    )
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
