"""What a laboratory found beside what is guaranteed, on the basis of the guarantee.

A value on another basis is converted only if its basis is told: P under P2O5 is the oldest
slip of all, and a guess would hide it. What is below detection is a range down to nothing.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from formulate.claims.allowances import same_nutrient, share_as
from formulate.claims.assay_guarantees import promises_of, share_in_percent
from formulate.claims.assay_names import named_part, nutrient_part
from formulate.errors import Faults, InputError, shortened
from formulate.ingredients.label_words import BASES
from formulate.notices import Notice

__all__ = ["Assayed", "read_assay", "unguaranteed"]

PERCENT = 100.0
ENDS = 2  # fit of a total to what is guaranteed as available: an upper end of it
GIVE_BASIS = 'or tell its basis: basis="element" takes every symbol as it is written'


@dataclass(frozen=True)
class Assayed:
    """
    One guaranteed nutrient, or a part of it, and what was found.

    Attributes
    ----------
    key : str
        Nutrient key of the guarantee.
    guarantee : float
        What is guaranteed. [%]
    values : tuple of float
        What was found, sample by sample; of what lies below detection the limit; empty if
        it was not analysed. [%]
    uncertainty : float
        How far each value may be off either way, in points of percent. [%]
    samples : tuple of int
        From which sample each value is, counted from 1. [-]
    below : tuple of bool
        Which values are upper ends only, the limit of detection or a total of what is
        guaranteed as available, and may be as little as 0; empty if none is.
    part : str
        Which part of the nutrient it is, such as "water-soluble"; "" for all of it.
    """

    key: str
    guarantee: float
    values: tuple = ()
    uncertainty: float = 0.0
    samples: tuple = ()
    below: tuple = ()
    part: str = ""

    @property
    def name(self):
        """Return the nutrient with its part, such as "chelated Fe"."""
        return named_part(self.key, self.part)

    @property
    def lows(self):
        """Return the least that each value may be: 0 below detection. [%]"""
        below = self.below or (False,) * len(self.values)
        return tuple(0.0 if b else v for b, v in zip(below, self.values, strict=True))

    @property
    def ends(self):
        """Return the least and the greatest mean that the values allow. [%]"""
        count = len(self.values)
        return sum(self.lows) / count, sum(self.values) / count

    @property
    def mean(self):
        """Return the mean of what was found; its middle if some lie below detection. [%]"""
        return sum(self.ends) / 2

    @property
    def nearest(self):
        """Return the mean that lies nearest to the guarantee. [%]"""
        low, high = self.ends
        return min(max(self.guarantee, low), high)

    @property
    def least(self):
        """Return the least that the mean may be, with the laboratory's doubt. [%]"""
        return self.ends[0] - self.uncertainty

    @property
    def most(self):
        """Return the most that the mean may be, with the laboratory's doubt. [%]"""
        return self.ends[1] + self.uncertainty

    @property
    def spread(self):
        """Return the greatest value less the least. [%]"""
        return max(self.values) - min(self.values)

    @property
    def unexplained(self):
        """Return how much more samples differ than twice the told uncertainty. [%]"""
        if not self.uncertainty or len(self.values) < 2:
            return 0.0
        apart = max(self.lows) - min(self.values)
        return max(apart - 2 * self.uncertainty, 0.0)


def read_assay(label_or_guarantees, samples, *, basis=None, uncertainty=None):
    """
    Return guarantees and laboratory values side by side.

    Parameters
    ----------
    label_or_guarantees : Ingredient, str or mapping of str to float
        A fertiliser read from its label, the text of one or of guarantees, or nutrient key
        to guarantee; a part is named, as in "chelated Fe". [%]
    samples : mapping or sequence of mapping
        Nutrient key to what was found, one mapping for each sample; in one mapping also a
        list of values. Text may carry a unit, or "<" where it is below detection. [%]
    basis : str or None
        What the laboratory's words mean: "us", "eu" or "element"; a symbol means itself.
        None: every value stands under the key that is guaranteed.
    uncertainty : float or mapping of str to float, optional
        How far a value may be off either way, in points of percent; of all or by key. [%]

    Returns
    -------
    lines : tuple of Assayed
        One for each guarantee, in its order; a part that a label tells only where it was
        analysed.
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
    promises = promises_of(label_or_guarantees, basis, faults, notices)
    place = _Place(promises, basis, notices)
    found = {name: [] for name in promises}
    for number, sample in enumerate(_listed(samples, faults), 1):
        _take_sample(found, sample, number, place, faults)
    doubts = _doubts(uncertainty, place, faults)
    if promises and not faults.found and not any(found.values()):
        faults.add("no value was found; give nutrient key to what was found in %")
    faults.raise_if_any()
    _tell_left_parts(promises, found, notices)
    lines = (
        _line(promise, found[name], doubts.get(name, 0.0))
        for name, promise in promises.items()
        if found[name] or not promise.may_be_left
    )
    return tuple(lines), tuple(dict.fromkeys(notices))


def _line(promise, found, doubt):
    """Return one nutrient of the assay."""
    numbers, values, below = zip(*found, strict=True) if found else ((), (), ())
    below = below if any(below) else ()
    key, part = promise.key, promise.part
    return Assayed(key, promise.percent, values, doubt, numbers, below, part)


def _tell_left_parts(promises, found, notices):
    """Tell which parts a label tells and nobody analysed."""
    left = [
        f"{name} {promise.percent:g} %"
        for name, promise in promises.items()
        if promise.may_be_left and not found[name]
    ]
    if left:
        what = f"parts of a nutrient are not held against values: {', '.join(left)}"
        how = "no value names the part; the whole is judged"
        notices.append(Notice(f"{what}; {how}"))


def _found_share(value):
    """Return a share that was found, and whether it is a limit of detection."""
    is_limit = isinstance(value, str) and value.lstrip().startswith("<")
    if is_limit:
        value = value.lstrip()[1:]
    share = share_in_percent(value, "found in %")
    if is_limit and not share:
        raise InputError("'<0': give the limit of detection")
    return share, is_limit


# --- samples ------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Place:
    """Finds the guarantee that a laboratory's word belongs to."""

    promises: Mapping
    basis: str | None
    notices: list

    def matching(self, key, part):
        """Return the guarantees that may be meant by a nutrient or its part."""
        near = [p for p in self.promises.values() if same_nutrient(key, p.key)]
        matching = [p for p in near if _same_part(part, p.part)]
        if not matching and _means_all(key, part):
            return [p for p in near if not p.part]
        return matching

    def find(self, word):
        """Return the guarantee, the key that the word means, and how well it fits."""
        key, part, sort = nutrient_part(word, self.basis)
        matching = self.matching(key, part)
        exact = [p for p in matching if p.key == key and p.part == part]
        if not matching:
            listed = ", ".join(self.promises) or "nothing"
            name = named_part(key, part)
            raise InputError(f"{name} is not guaranteed; guaranteed: {listed}")
        if len(matching) > 1 and not exact:
            listed = ", ".join(promise.name for promise in matching)
            raise InputError(f"{shortened(word)} may be {listed}: name it so")
        promise = (exact or matching)[0]
        if promise.key != key and self.basis is None:
            raise InputError(
                f"{key} was found and {promise.key} is guaranteed: give it as "
                f"{promise.key}, {GIVE_BASIS}"
            )
        return promise, key, _fit(promise, part, sort)

    def converted(self, promise, key, value):
        """Return a value on the basis of its guarantee."""
        if key == promise.key:
            return value
        self.notices.append(
            Notice(f"{key} of the laboratory was counted as {promise.key}")
        )
        return share_as(value, key, promise.key)


def unguaranteed(label_or_guarantees, words, *, basis=None):
    """
    Return the words of a laboratory that no guarantee speaks of.

    Parameters
    ----------
    label_or_guarantees : Ingredient, str or mapping of str to float
        A fertiliser read from its label, the text of one or of guarantees, or nutrient key
        to guarantee. [%]
    words : iterable of str
        Nutrient keys, or words such as "chelated iron".
    basis : str or None
        What a bare word means.

    Returns
    -------
    tuple of str
        Some of the words.

    Raises
    ------
    InputError
        If the guarantees cannot be read, or a word names no nutrient.

    Examples
    --------
    >>> unguaranteed({"P2O5": 5, "Fe": 0.1}, ["P", "chelated Fe", "Cu"])
    ('chelated Fe', 'Cu')
    """
    faults = Faults("assay")
    place = _Place(promises_of(label_or_guarantees, basis, faults, []), basis, [])
    faults.raise_if_any()
    named = {word: nutrient_part(word, basis)[:2] for word in words}
    return tuple(w for w, meant in named.items() if not place.matching(*meant))


def _same_part(part, promised):
    """Return whether a part that was found is the one promised; an agent may be untold."""
    if part == promised:
        return True
    one, other = part.partition(" by "), promised.partition(" by ")
    return one[0] == other[0] and not (one[2] and other[2])


def _means_all(key, part):
    """Return whether a part is what rules mean by the whole: available P, soluble K."""
    phosphate = same_nutrient(key, "P") and part == "available"
    return phosphate or (same_nutrient(key, "K") and part == "water-soluble")


def _fit(promise, part, sort):
    """Return how well a word fits its guarantee: the least number is the best."""
    if promise.sort == "available":
        return {"available": 0, "total": ENDS}.get(part or sort, 1)
    return 0 if part == promise.part else 1


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
    """Add the values of one sample to those found, the best fitting word of each."""
    taken = {}
    for word, value in sample.items():
        where = f"sample {number}: {shortened(word)}"
        several = value if isinstance(value, list | tuple) else [value]
        if not several:
            faults.add(f"{where}: no value")
        promise = key = None
        with faults.collecting(where):
            if place.promises:
                promise, key, fit = place.find(word)
            else:
                nutrient_part(word, place.basis)  # what was not read promises nothing
        read = []
        for count, one in enumerate(several):
            with faults.collecting(where):
                share, below = _found_share(one)
                if promise:
                    share = _counted(place, promise, key, share)
                    read.append((number + count, share, below or fit == ENDS))
        if promise:
            with faults.collecting(where):
                _keep_best(taken, promise.name, (fit, word, read), place.notices)
    for name, (_, _, read) in taken.items():
        found[name] += read


def _keep_best(taken, name, new, notices):
    """Keep the word that fits a guarantee best; two that fit alike are a fault."""
    old = taken.get(name)
    if old and old[0] == new[0]:
        raise InputError(f"{name} stands there twice, also as {old[1]}")
    better, worse = sorted([new, old], key=lambda each: each[0]) if old else (new, None)
    taken[name] = better
    if worse:
        what = f"{worse[1]} was not held against {name}, but {better[1]}"
        notices.append(Notice(what))
    elif new[0] == ENDS:
        what = f"{new[1]} was held against {name}, which is guaranteed as available"
        notices.append(Notice(f"{what}: an upper end of it only", "caution"))


def _counted(place, promise, key, share):
    """Return a share on the basis of its guarantee, unless it is more than everything."""
    share = place.converted(promise, key, share)
    if share > PERCENT:
        raise InputError(f"as {promise.key} it would be {share:.4g} %, more than 100")
    return share


def _doubts(uncertainty, place, faults):
    """Return name of a guarantee to the laboratory's uncertainty, every fault noted."""
    what = "uncertainty in points of percent"
    if uncertainty is None:
        return {}
    if not isinstance(uncertainty, Mapping):
        with faults.collecting():
            share = share_in_percent(uncertainty, what)
            return dict.fromkeys(place.promises, share)
        return {}
    made = {}
    for word, value in uncertainty.items():
        with faults.collecting(f"uncertainty of {shortened(word)}"):
            if not place.promises:
                continue
            promise, key, _ = place.find(word)
            points = place.converted(promise, key, share_in_percent(value, what))
            made[promise.name] = max(points, made.get(promise.name, 0.0))
    return made
