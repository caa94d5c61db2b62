"""What a slip does to several claimed numbers at once: the same slip moves all it touches.

A wrong gallon moves every number of a chart, an oxide printed for an element moves one
column, a forgotten hydrate moves what its salt brings.
"""

import math
from dataclasses import dataclass
from functools import cache
from itertools import combinations, permutations

from formulate.stoichiometry.slips import Slip, slips
from formulate.tables import read_table
from formulate.working import Shown

__all__ = ["METERS", "THROUGHOUT", "Move", "absent_hydrates", "moves_on"]

EVERYWHERE = {"any", "dose", "dilution", "liquid"}  # the dose, so all that it brings
METERS = {"EC", "TDS"}
RATIO = "usual ratio"  # rule of the table of charts
ONE_NUMBER = ("power of ten", "count")  # may befall a single number of a row as well
OXIDES = (
    "p2o5-as-p",
    "k2o-as-k",
    "cao-as-ca",
    "mgo-as-mg",
    "na2o-as-na",
    "so3-as-s",
    "sio2-as-si",
)
MILLIMOLES = tuple(
    f"mmol-as-mg-{name}"
    for name in (
        *("chloride", "sodium", "potassium", "bicarbonate", "nitrate", "nitrogen"),
        *("ammonium", "phosphorus", "dihydrogen-phosphate"),
        *("calcium", "magnesium", "sulfate", "sulfur"),
    )
)
EQUIVALENTS = (
    *MILLIMOLES[:-4],  # of one charge, so that both are one number
    *(f"meq-as-mg-{name}" for name in ("calcium", "magnesium", "sulfate", "sulfur")),
)
THROUGHOUT = {  # slip of a whole row: the slips it is made of, what is taken for what
    "all-oxides": (OXIDES, "oxides", "elements"),
    "all-millimoles": (MILLIMOLES, "mmol/L", "mg/L"),
    "all-equivalents": (EQUIVALENTS, "meq/L", "mg/L"),
}


@dataclass(frozen=True)
class Move(Shown):
    """
    A slip, and what it does to each claimed number.

    Attributes
    ----------
    slip : Slip
        The slip, in the direction in which it was made.
    scope : tuple of str
        The subjects it touches.
    effects : tuple of float
        What each number is multiplied by, as natural logarithm, in the order of the
        subjects. [-]
    touches_all : bool
        Whether it touches every number that was given.
    """

    slip: Slip
    scope: tuple
    effects: tuple
    touches_all: bool

    def __str__(self):
        return self.slip.words + (
            "" if self.touches_all else f" ({', '.join(self.scope)})"
        )


def moves_on(computed, *, ratio=None, density=None, shares=None):
    """
    Return every move that can befall some numbers.

    Parameters
    ----------
    computed : mapping of str to float
        Subject to the number that is right. [-]
    ratio : float or None
        The n of a dilution 1 : n. [-]
    density : float or None
        Density of a liquid; slips that need it are left out without. [kg/L]
    shares : mapping of str to mapping or None
        Slip of a hydrate to subject to the share of it that this salt brings; the whole
        if it is not told. [-]

    Returns
    -------
    tuple of Move
        Each with its effects; what would do nothing is left out.

    Examples
    --------
    >>> found = moves_on({"N": 150.0, "P": 50.0})
    >>> [str(move) for move in found if move.slip.key == "p2o5-as-p"][0]
    'P2O5 taken for P (P)'
    """
    subjects, found = tuple(computed), []
    for slip in slips(None, ratio=ratio, density=density):
        for scope in _scopes(slip, subjects):
            found.append(_move(slip, scope, subjects, (shares or {}).get(slip.key, {})))
    found += [*_ratios(subjects, ratio), *_throughout(subjects), *_places(computed)]
    kept = {(m.slip, m.effects): m for m in found if any(m.effects)}
    return tuple(kept.values())


@cache
def _words():
    """Return slip to the subjects that it can befall."""
    return {
        row["slip"]: frozenset(row["subjects"].split()) for row in read_table("slips")
    }


def _scopes(slip, subjects):
    """Return the sets of subjects that one slip may touch together."""
    words = _words()[slip.key]
    if words & EVERYWHERE:
        single = slip.kind in ONE_NUMBER and len(subjects) > 1
        return [subjects, *((s,) for s in subjects if single)]
    if "EC" in words:
        words = words | METERS
    touched = tuple(s for s in subjects if s in words)
    if not touched:
        return []
    alone = slip.kind in ("basis", "meter") and len(touched) > 1
    return [touched, *((s,) for s in touched if alone)]


def _move(slip, scope, subjects, shares):
    """Return a slip that touches some subjects, each by the share that it has of it."""
    effects = tuple(
        math.log1p(shares.get(s, 1.0) * (slip.factor - 1.0)) if s in scope else 0.0
        for s in subjects
    )
    return Move(slip, scope, effects, len(scope) == len(subjects))


def absent_hydrates(ingredients):
    """
    Return the shares of hydrates that nothing holds: none of any number is theirs.

    Parameters
    ----------
    ingredients : sequence of Ingredient
        What is dosed.

    Returns
    -------
    dict of str to dict
        Slip of a hydrate whose element none of them holds, to subject to 0. [-]

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> absent = absent_hydrates([as_ingredient("Ca(NO3)2·4H2O")])
    >>> "calcium-nitrate-hydrate" in absent, "magnesium-nitrate-hydrate" in absent
    (False, True)
    """
    found = {}
    for row in read_table("slips"):
        if row["kind"] != "hydrate":
            continue
        subjects = [word for word in row["subjects"].split() if word != "salt"]
        if not any(one.amount(subjects[0]) for one in ingredients):
            found[row["slip"]] = dict.fromkeys(subjects, 0.0)
    return found


def _ratios(subjects, ratio):
    """Yield the moves of a dilution done by another ratio that is in use."""
    for row in read_table("chart_rules") if ratio else ():
        usual = row.number("value")
        if row["rule"].startswith(RATIO) and usual != ratio:
            words = f"1:{usual:g} taken for 1:{ratio:g}"
            slip = Slip("other-ratio", words, "ratio", ratio / usual)
            yield _move(slip, subjects, subjects, {})


def _throughout(subjects):
    """Yield the moves of every column on another basis or unit than is said, and back."""
    known = {(slip.key, slip.words): slip for slip in slips()}
    for key, (members, written, meant) in THROUGHOUT.items():
        by_subject = {
            s: slip
            for (member, words), slip in known.items()
            for s in subjects
            if member in members
            and s in _words()[member]
            and _is_forward(member, words)
        }
        if len(by_subject) < 2:
            continue
        for sign, said in (
            (1, f"{written} taken for {meant} throughout"),
            (-1, f"{meant} taken for {written} throughout"),
        ):
            effects = tuple(
                sign * math.log(by_subject[s].factor) if s in by_subject else 0.0
                for s in subjects
            )
            kind = next(iter(by_subject.values())).kind
            slip = Slip(key, said, kind, math.exp(max(effects, key=abs)))
            whole = len(by_subject) == len(subjects)
            yield Move(slip, tuple(by_subject), effects, whole)


def _is_forward(key, words):
    """Return whether a slip runs as the table writes it."""
    return words.startswith(f"{_written()[key]} taken for ")


@cache
def _written():
    return {row["slip"]: row["written"] for row in read_table("slips")}


def _places(computed):
    """Return the moves of numbers that stand in each other's place."""
    logs = {s: math.log(value) for s, value in computed.items()}
    for one, other in permutations(logs, 2):
        by = {one: logs[other] - logs[one]}
        words = f"the number of {other} printed for {one}"
        yield _placed("another-number", words, by, logs)
    for one, other in combinations(logs, 2):
        by = {one: logs[other] - logs[one], other: logs[one] - logs[other]}
        yield _placed("exchanged", f"{one} and {other} exchanged", by, logs)


def _placed(key, words, by, logs):
    effects = tuple(by.get(s, 0.0) for s in logs)
    slip = Slip(key, words, "place", math.exp(max(by.values(), key=abs)))
    return Move(slip, tuple(by), effects, True)
