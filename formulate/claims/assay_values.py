"""What a laboratory found beside what is guaranteed, on the basis of the guarantee.

A value on another basis is converted only if its basis is told: P under P2O5 is the oldest
slip of all, and a guess would hide it.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from formulate.checks import checked_number
from formulate.claims.allowances import same_nutrient, share_as
from formulate.errors import Faults, InputError, shortened
from formulate.ingredients.ingredient import Ingredient
from formulate.ingredients.label_items import segment
from formulate.ingredients.label_tokens import plain_line, tokens
from formulate.ingredients.label_words import BASES
from formulate.notices import Notice
from formulate.stoichiometry.nutrients import nutrient, nutrient_keys
from formulate.stoichiometry.quantities import read_quantity

__all__ = ["Assayed", "read_assay"]

PERCENT = 100.0
KINDS = (
    "available",
    "total",
    "form",
    "grade",
)  # of label entries, the first that is there
GIVE_BASIS = 'or tell its basis: basis="element" takes every symbol as it is written'


@dataclass(frozen=True)
class Assayed:
    """
    One guaranteed nutrient, and what was found of it.

    Attributes
    ----------
    key : str
        Nutrient key of the guarantee.
    guarantee : float
        What is guaranteed. [%]
    values : tuple of float
        What was found, sample by sample; empty if it was not analysed. [%]
    uncertainty : float
        How far each value may be off either way, in points of percent. [%]
    samples : tuple of int
        From which sample each value is, counted from 1. [-]
    """

    key: str
    guarantee: float
    values: tuple = ()
    uncertainty: float = 0.0
    samples: tuple = ()

    @property
    def mean(self):
        """Return the mean of what was found. [%]"""
        return sum(self.values) / len(self.values)

    @property
    def spread(self):
        """Return the greatest value less the least. [%]"""
        return max(self.values) - min(self.values)


def read_assay(label_or_guarantees, samples, *, basis=None, uncertainty=None):
    """
    Return guarantees and laboratory values side by side.

    Parameters
    ----------
    label_or_guarantees : Ingredient or mapping of str to float
        A fertiliser read from its label, or nutrient key to guarantee. [%]
    samples : mapping or sequence of mapping
        Nutrient key to what was found, one mapping for each sample; in one mapping also a
        list of values. [%]
    basis : str or None
        What the laboratory's words mean: "us", "eu" or "element"; a symbol means itself.
        None: every value stands under the key that is guaranteed.
    uncertainty : float or mapping of str to float, optional
        How far a value may be off either way, in points of percent; of all or by key. [%]

    Returns
    -------
    lines : tuple of Assayed
        One for each guarantee, in its order.
    notices : tuple of Notice
        What was converted or left out.

    Raises
    ------
    InputError
        With every fault.

    Examples
    --------
    >>> lines, _ = read_assay({"N": 10, "P2O5": 5}, [{"N": 9.6}, {"N": 9.8}])
    >>> round(lines[0].mean, 3), lines[1].values
    (9.7, ())
    """
    faults, notices = Faults("assay"), []
    if basis is not None and basis not in BASES:
        faults.add(f"basis {shortened(basis)}: give one of {', '.join(BASES)}")
        basis = None
    guarantees = _guarantees(label_or_guarantees, faults, notices)
    place = _Place(guarantees, basis, notices)
    found = {key: [] for key in guarantees}
    for number, sample in enumerate(_listed(samples, faults), 1):
        _take_sample(found, sample, number, place, faults)
    doubts = _doubts(uncertainty, place, faults)
    if guarantees and not faults.found and not any(found.values()):
        faults.add("no value was found; give nutrient key to what was found in %")
    faults.raise_if_any()
    lines = (_line(key, g, found[key], doubts) for key, g in guarantees.items())
    return tuple(lines), tuple(dict.fromkeys(notices))


def _line(key, guarantee, found, doubts):
    """Return one nutrient of the assay."""
    values = tuple(value for _, value in found)
    numbers = tuple(number for number, _ in found)
    return Assayed(key, guarantee, values, doubts.get(key, 0.0), numbers)


def _share(value, what):
    """Return a share in percent, given as a number or as text with its unit."""
    if isinstance(value, str):
        number, of_unit = read_quantity(value, "mass_fraction", default="%")
        value = number * of_unit.factor
    return checked_number(value, what, least=0, most=PERCENT)


# --- guarantees ---------------------------------------------------------------------------


def _guarantees(given, faults, notices):
    """Return nutrient key to guarantee, every fault noted."""
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
            key = nutrient(word).key
            if key in made:
                raise InputError(f"{key} is guaranteed twice")
            made[key] = 0.0  # so that its values are not called unguaranteed
            made[key] = _share(value, "guarantee in %")
    return made


def _of_label(label, faults, notices):
    """Return what a label guarantees."""
    entries = getattr(label.reading, "entries", ())
    best = {}
    for entry in entries:
        rank = _rank(entry)
        if rank < best.get(entry.key, (len(KINDS),))[0]:
            best[entry.key] = (rank, entry.percent)
    made = {key: percent for key, (_, percent) in best.items()}
    left = {f"{e.kind} {e.key}" for e in entries if e.kind not in KINDS}
    if left:
        what = f"parts of a nutrient are not held against values: {', '.join(sorted(left))}"
        notices.append(Notice(what))
    if getattr(label.reading, "share_of", "") == "w/v":
        what = (
            "the label counts grams in 100 mL; the laboratory's values must do so too, "
            "and the rules are written for percent by mass"
        )
        notices.append(Notice(what, "caution"))
    made = made or dict(label.analysis)
    if not made:
        faults.add(f"{label.name}: it guarantees nothing; give its guarantees in %")
    return made


def _rank(entry):
    """Return how well an entry of a label stands for its nutrient; the least is best."""
    if entry.kind not in KINDS or (entry.kind == "grade" and not entry.percent):
        return len(KINDS)
    return KINDS.index(entry.kind)


# --- samples ------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Place:
    """Finds the guarantee that a laboratory's word belongs to."""

    guarantees: Mapping
    basis: str | None
    notices: list

    def find(self, word):
        """Return the guaranteed key, and the key that the word means."""
        key = _meant(word, self.basis)
        if key in self.guarantees:
            return key, key
        near = [other for other in self.guarantees if same_nutrient(key, other)]
        if not near:
            listed = ", ".join(self.guarantees) or "nothing"
            raise InputError(f"{key} is not guaranteed; guaranteed: {listed}")
        if self.basis is None:
            raise InputError(
                f"{key} was found and {near[0]} is guaranteed: give it as {near[0]}, "
                f"{GIVE_BASIS}"
            )
        return near[0], key

    def converted(self, word, value):
        """Return the guaranteed key and the value on its basis."""
        key, meant = self.find(word)
        if key == meant:
            return key, value
        self.notices.append(Notice(f"{meant} of the laboratory was counted as {key}"))
        return key, share_as(value, meant, key)


def _meant(word, basis):
    """Return the nutrient key that a laboratory's word means."""
    if basis is None or word in nutrient_keys() or not isinstance(word, str):
        return nutrient(word).key
    items = segment(tokens(plain_line(word))).items
    if len(items) == 1 and not items[0].is_ion:
        return items[0].key(basis)
    return nutrient(word).key


def _listed(samples, faults):
    """Return the samples as a list of mappings, every fault noted."""
    many = [samples] if isinstance(samples, Mapping) else samples
    if not isinstance(many, list | tuple):
        faults.add(f"samples: {shortened(samples)} is no mapping and no list of them")
        return []
    if not many:
        faults.add("samples: there is none; give nutrient key to what was found")
    for number, sample in enumerate(many, 1):
        if not isinstance(sample, Mapping):
            faults.add(f"sample {number}: {shortened(sample)} is no mapping")
        elif not sample:
            faults.add(f"sample {number}: it is empty")
    return [sample if isinstance(sample, Mapping) else {} for sample in many]


def _take_sample(found, sample, number, place, faults):
    """Add the values of one sample to those found."""
    taken = {}
    for word, value in sample.items():
        where, key = f"sample {number}: {shortened(word)}", None
        several = value if isinstance(value, list | tuple) else [value]
        if not several:
            faults.add(f"{where}: no value")
        with faults.collecting(where):
            key, _ = place.find(word)
            if key in taken:
                raise InputError(f"{key} stands there twice, also as {taken[key]}")
            taken[key] = word
        for count, one in enumerate(several):
            with faults.collecting(where):
                share = _share(one, "found in %")
                if key is not None:
                    found[key].append((number + count, _counted(place, word, share)))


def _counted(place, word, share):
    """Return a share on the basis of its guarantee, unless it is more than everything."""
    key, share = place.converted(word, share)
    if share > PERCENT:
        raise InputError(f"as {key} it would be {share:.4g} %, more than 100")
    return share


def _doubts(uncertainty, place, faults):
    """Return guaranteed key to the laboratory's uncertainty, every fault noted."""
    what = "uncertainty in points of percent"
    if uncertainty is None:
        return {}
    if not isinstance(uncertainty, Mapping):
        with faults.collecting():
            share = _share(uncertainty, what)
            return dict.fromkeys(place.guarantees, share)
        return {}
    made = {}
    for word, value in uncertainty.items():
        with faults.collecting(f"uncertainty of {shortened(word)}"):
            key, share = place.converted(word, _share(value, what))
            made[key] = share
    return made
