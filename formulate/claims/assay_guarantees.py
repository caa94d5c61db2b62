"""What a fertiliser guarantees that a laboratory can hold to account: wholes and parts.

A label's line such as "of which chelated" is a guarantee of its own, judged only where a
laboratory names the part; what is a part is in the whole all the same.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from formulate.checks import checked_number
from formulate.claims.assay_names import BEARING, named_part, nutrient_part, part_of
from formulate.errors import Faults, InputError, shortened
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.label_text import LabelReading, read_entries
from formulate.notices import Notice
from formulate.stoichiometry.quantities import read_quantity

__all__ = [
    "Promise",
    "guaranteed_shares",
    "promises_of",
    "reading_of_text",
    "share_in_percent",
]

PERCENT = 100.0
NO_GUARANTEE = "no guaranteed nutrient was found; give a label, or text such as N 10 %"
KINDS = ("available", "total", "form", "grade")  # entries that tell the whole


def share_in_percent(value, what):
    """
    Return a share, given as a number or as text with its unit.

    Parameters
    ----------
    value : float or str
        Such as 0.05 or "500 mg/kg". [%]
    what : str
        What it is, for the fault.

    Returns
    -------
    float
        The share. [%]

    Raises
    ------
    InputError
        If it is none, below 0 or above 100 %.

    Examples
    --------
    >>> round(share_in_percent("500 mg/kg", "found in %"), 6)
    0.05
    """
    if isinstance(value, str):
        number, of_unit = read_quantity(value, "mass_fraction", default="%")
        value = number * of_unit.factor
    return checked_number(value, what, least=0, most=PERCENT)


@dataclass(frozen=True)
class Promise:
    """
    One guarantee: of all of a nutrient, or of a part of it.

    Attributes
    ----------
    key : str
        Nutrient key.
    percent : float
        What is guaranteed. [%]
    part : str
        Which part it is, such as "water-soluble"; "" for all of it.
    sort : str
        Kind of the label's entry, such as "available"; "" if it is from no label.
    may_be_left : bool
        Whether it is judged only where a value names the part.
    """

    key: str
    percent: float
    part: str = ""
    sort: str = ""
    may_be_left: bool = False

    @property
    def name(self):
        """Return the nutrient with its part, such as "chelated Fe"."""
        return named_part(self.key, self.part)


def guaranteed_shares(label_or_guarantees, *, basis=None):
    """
    Return what is guaranteed, each under the name of its nutrient or part.

    Parameters
    ----------
    label_or_guarantees : Ingredient, str or mapping of str to float
        A fertiliser read from its label, the text of one or of guarantees, or nutrient key
        to guarantee. [%]
    basis : str or None
        What a bare word of a part means.

    Returns
    -------
    dict of str to float
        Name to guarantee. [%]

    Raises
    ------
    InputError
        With every fault.

    Examples
    --------
    >>> guaranteed_shares({"total nitrogen": 10, "chelated iron": "0.1 %"})
    {'N': 10.0, 'chelated Fe': 0.1}
    """
    faults = Faults("assay")
    promises = promises_of(label_or_guarantees, basis, faults, [])
    faults.raise_if_any()
    return {name: promise.percent for name, promise in promises.items()}


def promises_of(label_or_guarantees, basis, faults, notices):
    """
    Return the guarantees of a label, or of a mapping.

    Parameters
    ----------
    label_or_guarantees : Ingredient, str or mapping of str to float
        A fertiliser read from its label, the text of one or of guarantees, or nutrient key
        to guarantee. [%]
    basis : str or None
        What a bare word of a part means.
    faults : Faults
        Where faults go.
    notices : list of Notice
        What to know of it; new ones are added.

    Returns
    -------
    dict of str to Promise
        Name to guarantee.

    Examples
    --------
    >>> found = promises_of({"chelated Fe": 0.1}, None, Faults(), [])
    >>> found["chelated Fe"].part
    'chelated'
    """
    given = label_or_guarantees
    if isinstance(given, str):
        with faults.collecting("guarantees"):
            return _of_reading(reading_of_text(given, basis), notices)
        return {}
    if isinstance(given, LabelReading):
        return _of_reading(given, notices)
    if isinstance(given, Ingredient):
        return _of_label(given, faults, notices)
    if not isinstance(given, Mapping):
        what = f"{shortened(given)} is no label and no mapping such as {{'N': 10}}"
        faults.add(f"guarantees: {what}")
        return {}
    if not given:
        faults.add("guarantees: there is none; give nutrient key to percent")
    made = {}
    for word, value in given.items():
        with faults.collecting(f"guarantee of {shortened(word)}"):
            key, part, _ = nutrient_part(word, basis if part_of(word) else None)
            name = named_part(key, part)
            if name in made:
                raise InputError(f"{name} is guaranteed twice")
            # kept at once, so that its values are not called unguaranteed
            made[name] = Promise(key, 0.0, part)
            made[name] = Promise(key, share_in_percent(value, "guarantee in %"), part)
    return made


def reading_of_text(text, basis=None):
    """
    Return what the text of a label, or of guarantees, promises, as it was read.

    Which form the nitrogen has may be left open: a laboratory finds all of it.

    Parameters
    ----------
    text : str
        The text.
    basis : str or None
        "us" or "eu", where the text leaves open what its words mean.

    Returns
    -------
    LabelReading
        Its entries.

    Raises
    ------
    InputError
        With every fault of the text.

    Examples
    --------
    >>> [entry.key for entry in reading_of_text("N 10 %, Zn 0.05 %").entries]
    ['N', 'Zn']
    """
    for told in (None, basis) if basis in ("us", "eu") else (None,):
        faults = Faults()
        reading, _ = read_entries(text, faults, basis=told)
        if not faults.found and not reading.entries:
            faults.add(NO_GUARANTEE)
        if not faults.found:
            return reading
    faults.raise_if_any()
    return reading


def _of_label(label, faults, notices):
    """Return what a label guarantees: the wholes, then the parts that can be analysed."""
    made = _of_reading(label.reading, notices) if label.reading else {}
    made = made or {key: Promise(key, share) for key, share in label.analysis.items()}
    if not made:
        faults.add(f"{label.name}: it guarantees nothing; give its guarantees in %")
    return made


def _of_reading(reading, notices):
    """Return what the entries of a label promise."""
    entries = reading.entries
    made = _wholes(entries) | _parts(entries)
    left = {f"{e.kind} {e.key}" for e in entries if e.kind not in (*KINDS, *BEARING)}
    if left:
        what = f"not held against values: {', '.join(sorted(left))}"
        notices.append(Notice(f"parts of a nutrient are {what}"))
    if reading.share_of == "w/v":
        what = (
            "the label counts grams in 100 mL; the laboratory's values must do so too, "
            "and the rules are written for percent by mass"
        )
        notices.append(Notice(what, "caution"))
    return made


def _wholes(entries):
    """Return the entry that tells all of each nutrient; else what its parts add up to."""
    best = {}
    for entry in entries:
        rank = _rank(entry, entries)
        if rank < best.get(entry.key, (len(KINDS),))[0]:
            best[entry.key] = (rank, entry)
    made = {k: Promise(k, e.percent, sort=e.kind) for k, (_, e) in best.items()}
    for entry in entries:
        if entry.kind in BEARING and entry.key not in made:
            made[entry.key] = Promise(entry.key, _sum_of_parts(entry.key, entries))
    return made


def _rank(entry, entries):
    """Return how well an entry of a label stands for its nutrient; the least is best."""
    if entry.kind not in KINDS or (entry.kind == "grade" and not entry.percent):
        return len(KINDS)
    if entry.kind == "available" and _has_total(entry.key, entries):
        return len(KINDS)  # it is a part then
    return KINDS.index(entry.kind)


def _has_total(key, entries):
    """Return whether a label tells the total of a nutrient."""
    return any(e.key == key and e.kind == "total" for e in entries)


def _sum_of_parts(key, entries):
    """Return the least that a nutrient has whose parts alone are told. [%]"""
    parts = [e for e in entries if e.key == key and e.kind in BEARING]
    held = {e.agent: e.percent for e in parts if e.kind in ("chelated", "complexed")}
    return max([sum(held.values()), *(e.percent for e in parts)])


def _parts(entries):
    """Return the parts of nutrients that a laboratory can analyse by themselves."""
    made = {}
    for entry in entries:
        is_part = entry.kind in BEARING and (
            entry.kind != "available" or _has_total(entry.key, entries)
        )
        if is_part:
            part = BEARING[entry.kind].format(entry.agent).removesuffix(" by ")
            part = part.removesuffix(" by other")
            promise = Promise(entry.key, entry.percent, part, entry.kind, True)
            made[promise.name] = promise
    return made
