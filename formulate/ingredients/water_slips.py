"""Which classic slip would bring a water report into balance?

A slip is proposed only where the charges are out of balance and it mends them; it is a
question to the laboratory and changes nothing.
"""

from functools import cache

from formulate.notices import Notice
from formulate.stoichiometry.nutrients import form
from formulate.stoichiometry.slips import explain_difference
from formulate.tables import read_table
from formulate.working import printed

__all__ = ["own_slips", "propose_slips", "slip_words"]

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
SUBJECTS = {
    "alkalinity": "alkalinity",
    "carbonate_hardness": "alkalinity",
    "noncarbonate_hardness": "alkalinity",
    "bicarbonate": "HCO3",
}
HARDNESSES = {  # unit of a report to what its numbers are called in the table of slips
    "mg/L as CaCO3": {"CaCO3", "mg/L CaCO3"},
    "German degree": {"German degrees"},
    "French degree": {"French degrees"},
    "grain/US gal": {"grains per US gallon"},
}
RANKS = {"basis": 0, "unit": 0, "power of ten": 1}  # the likelier kind of slip first
MOST_PROPOSALS = 4
LARGEST_NOISE = 0.2
FAR = 3  # times the limit: below that a decimal point out of place is no explanation


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
    found = [one for one in found if one[0] == found[0][0]]  # the likelier kind alone
    return tuple(Notice(what, "note") for _, _, what in found[:MOST_PROPOSALS])


def _mending(entry, equivalents, charge, sums):
    """Yield (rank, misfit, words) of each slip of one entry that mends the balance."""
    meq, wanted = equivalents
    subject = _subject(entry)
    noise = min(_room(*_with(sums, charge, wanted - meq)) / wanted, LARGEST_NOISE)
    if noise <= 0:
        return
    expected = entry.value * wanted / meq
    own = own_slips(subject)
    diagnosis = explain_difference(entry.value, expected, subject=subject, noise=noise)
    for candidate in diagnosis.candidates:
        slip = candidate.slips[0] if len(candidate.slips) == 1 else None
        if slip is None or slip.key not in own or not _runs_so(slip, entry):
            continue
        cations, anions = _with(sums, charge, meq / slip.factor - meq)
        apart = abs(sums[0] - sums[1])
        far = apart > FAR * _room(*sums)
        room = min(_room(cations, anions), apart / 2)
        if abs(cations - anions) > room or (slip.kind == "power of ten" and not far):
            continue
        what = (
            f"perhaps {slip_words(slip)}: {entry.where}: {printed(entry.value)} {entry.unit} "
            f"÷ {printed(slip.factor, 5)} = {printed(entry.value / slip.factor)}; then "
            f"cations {cations:.2f}, anions {anions:.2f} meq/L. Ask the laboratory"
        )
        yield RANKS[slip.kind], abs(candidate.misfit), what


def _runs_so(slip, entry):
    """Return whether a slip leads to what the entry says: "HCO3 taken for CaCO3"."""
    if slip.kind == "power of ten":
        return True
    basis = entry.basis or "CaCO3"
    labels = {
        "mass_concentration": {basis, "N" if basis.endswith("-N") else basis, "mg/L"},
        "caco3": HARDNESSES.get(entry.unit.name, set()),
        "charge_concentration": {"meq/L"},
        "amount_concentration": {"mmol/L of a divalent ion", "meq/L", "mmol/L"},
    }
    said = slip.words.partition(" taken for ")[2].split(" or ")
    return not labels[entry.unit.kind].isdisjoint(said)


def _with(sums, charge, more):
    """Return the sums of cations and anions with more of one ion."""
    cations, anions = sums
    return (cations + more, anions) if charge > 0 else (cations, anions + more)


def _subject(entry):
    """Return the subject under which the slips of an entry stand."""
    if entry.quantity in SUBJECTS:
        return SUBJECTS[entry.quantity]
    return form(entry.quantity).symbol if entry.basis == "CaCO3" else entry.basis


@cache
def own_slips(subject):
    """
    Return the slips that a report can make with a subject, and the factor of ten.

    Parameters
    ----------
    subject : str
        A nutrient key, "alkalinity" or "hardness".

    Returns
    -------
    frozenset of str
        Names of slips.

    Examples
    --------
    >>> "hco3-as-caco3" in own_slips("alkalinity")
    True
    """
    rows = read_table("slips")
    own = {row["slip"] for row in rows if subject in row["subjects"].split()}
    kinds = {row["slip"]: row["kind"] for row in rows}
    return frozenset(k for k in own if kinds[k] in ("basis", "unit")) | {"ten"}


def slip_words(slip):
    """
    Return a slip in words, with the note of the table where it runs that way.

    Parameters
    ----------
    slip : Slip
        The slip.

    Returns
    -------
    str
        Its words.

    Examples
    --------
    >>> from formulate.stoichiometry.slips import slips
    >>> [slip_words(slip) for slip in slips("Ca") if slip.key == "caco3-as-ca"][0]
    'hardness taken for calcium (CaCO3 taken for Ca)'
    """
    row = next(row for row in read_table("slips") if row["slip"] == slip.key)
    forward = slip.words == f"{row['written']} taken for {row['meant']}"
    return f"{row['note']} ({slip.words})" if forward and row["note"] else slip.words
