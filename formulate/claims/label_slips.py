"""Which slip would explain a label that is wrong, or that fits no single material.

A label is held against what it says elsewhere itself, against its named sources, and against
the materials of the catalogue. Only single slips are looked for, and nothing is looked for
on a label that is right: what is told explains. A label that is refuted by nothing and
explained by a slip is left open.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from formulate.claims.blend_ranges import WHOLE
from formulate.claims.derivation_findings import EXCESS
from formulate.claims.finding import Finding
from formulate.claims.guarantees import RULES, guarantees_of
from formulate.claims.material_fit import fit_of, holds_agent
from formulate.claims.slip_blends import other_hydrates, ranges_left, which_hold
from formulate.claims.slip_moves import Move, moves_on
from formulate.claims.slip_search import SlipCandidate, SlipGroup, SlipSearch, explain
from formulate.claims.twice_told import DOUBT, LIMIT, twice_told
from formulate.errors import Faults, FormulateError
from formulate.ingredients.label_words import family
from formulate.ingredients.salts import as_ingredient, catalogue
from formulate.stoichiometry.nutrients import nutrient
from formulate.stoichiometry.slips import Slip
from formulate.tables import rule_of
from formulate.working import Shown

__all__ = ["LabelSlip", "label_slips"]

KINDS = ("basis", "density", "power of ten", "place")
KEYS = ("percent-for-mg-l",)  # of other kinds, that befall labels
NEVER = ("meq-as-mmol-2",)
BASIS = "basis"  # the kind of slip of oxides and elements
SUBJECT = "slip"
RULE = "a single slip must explain every number within rounding"
JUDGED = ("clear liquid", SUBJECT)  # is not explained by a slip of the label
SMALLEST = 1e-6  # %: less is rounding of the arithmetic
NARROW = 1.15  # the greatest over the least that a number may be, to be held against it
MOST_ELEMENTS, MOST_TOLD, MOST_HELD = 3, 4, 12
MANY = 6  # nutrients: of more, only neighbours on the label are taken for exchanged


@dataclass(frozen=True, eq=False)
class LabelSlip(Shown):
    """
    Slips that would explain some numbers of a label.

    Attributes
    ----------
    against : str
        What the numbers were held against, such as "potassium nitrate".
    search : SlipSearch
        The numbers, and the single slips that explain them all, in groups.
    """

    against: str
    search: SlipSearch

    @property
    def finding(self):
        """Return it as a finding; a label that a slip explains is not told to be right."""
        what = f"held against {self.against}: {self.search.groups[0]} would explain it"
        facts = {"severity": "caution", "rule": RULE, "source_key": "definition"}
        return Finding(SUBJECT, "cannot tell", what, **facts)

    def __str__(self):
        return self.finding.what


def label_slips(reading, derivation, findings, *, name="", density=None):
    """
    Return the slips that would explain what was found of a label.

    Parameters
    ----------
    reading : LabelReading
        What a label was read as.
    derivation : Derivation or None
        The blends of its named sources.
    findings : sequence of Finding
        What was found of it.
    name : str
        What the product is called; a material, if it is one.
    density : float or None
        Density of a liquid. [kg/L]

    Returns
    -------
    tuple of LabelSlip
        The plainest first; none on a label that is right, or where none explains it.

    Examples
    --------
    >>> from formulate.claims.label_check import check_label
    >>> bag = "Total Nitrogen (N) 13 %\\n 57.6 % Nitrate Nitrogen\\nSoluble Potash (K2O) 44 %"
    >>> print(check_label(bag, rule="us").slips[0])
    held against the total of nitrogen: NO3 taken for N would explain it
    """
    is_refuted = any(f.gravity > 1 for f in findings if f.subject not in JUDGED)
    found = _explained(twice_told(reading), density) if is_refuted else []
    told = {family(e.key) for e in reading.entries if e.percent and e.kind != "at most"}
    few = len(told) <= MOST_ELEMENTS
    if found:
        return tuple(found[:MOST_TOLD])
    if derivation is not None:
        held = _held(reading, derivation)
        is_odd = any(f.rule == EXCESS for f in findings)
        if is_refuted or is_odd or (few and not _holds(held)):
            found += _on_sources(held, density)
    elif is_refuted or (few and _fits_no_material(reading, findings)):
        found += _on_catalogue(reading, name, density)
    unique = {str(each): each for each in found}
    return tuple(unique.values())[:MOST_TOLD]


def _share(rule):
    """Return a rule of claims as a share. [-]"""
    return rule_of("claim_rules", rule).number("value") / WHOLE


def _fits_no_material(reading, findings):
    """Return whether a label names no source and its shares fit no material."""
    fits = [f.is_right for f in findings if f.subject == "material"]
    return not reading.derived_from and fits == [False]


def _explained(told, density):
    """Return the slips that explain pairs of numbers, each with what it is held against."""
    found = [LabelSlip(what, _single(pairs, density)) for what, pairs in told]
    return [each for each in found if each.search.groups]


def _single(pairs, density):
    """Return the single slips of labels that explain some numbers."""
    search = explain(pairs, density=density, most_slips=1)
    return replace(search, groups=tuple(filter(None, map(_of_labels, search.groups))))


def _of_labels(group):
    """Return a group without what does not befall labels, or None."""
    kept = tuple(c for c in group.candidates if c.moves and _befalls(c.moves[0]))
    return SlipGroup(kept) if kept else None


def _befalls(move):
    slip = move.slip
    return (slip.kind in KINDS or slip.key in KEYS) and slip.key not in NEVER


def _unsure(share, step, spread=0.0):
    """Return the relative uncertainty of a share against a number with some spread."""
    return min((spread + DOUBT + step / share) / LIMIT, 0.5)


# --- against named sources ----------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Held:
    """The guarantees of a label beside what its named sources hold."""

    made: tuple
    materials: tuple
    matrix: np.ndarray
    filler: float
    is_pure: bool
    against: str


def _held(reading, derivation):
    """Return the guarantees, each nutrient once, beside the named sources."""
    sums = {}
    for each in derivation.guarantees:
        told = each.percent > 0 and not each.is_upper
        if told and (each.kind != "grade" or each.key not in sums):
            sums[each.key] = each
    made, materials = tuple(sums.values()), derivation.materials
    matrix = np.array([[m.percent(g.key) for m in materials] for g in made]) / WHOLE
    alone = len(derivation.sources) == 1
    is_pure = alone and (not reading.is_liquid or materials[0].is_liquid)
    whole = WHOLE * _share("one source alone")
    filler = WHOLE - whole if is_pure else WHOLE
    names = materials[0].name if len(materials) == 1 else "the named sources"
    return _Held(made, materials, matrix, filler, is_pure, names)


def _holds(held):
    """Return whether some blend holds the guarantees and hardly more."""
    low, high = _limits(held.made)
    rows = held.matrix.any(axis=1) if held.made else []
    if not np.all(rows) or not len(rows):
        return not len(rows)
    return bool(which_hold(held.matrix, low[None], high[None], held.filler)[0])


def _on_sources(held, density):
    """Return the slips after which a blend of the named sources exists."""
    if not held.made:
        return []
    told = [*_left_out(held), *_moved(held, density)]
    explained = _explained([(held.against, pairs) for pairs in told], density)
    return [*explained, *_hydrates(held)]


def _limits(made):
    """Return the least and the greatest that some guarantees may truly be."""
    low = np.array([g.percent - 0.5 * g.step - DOUBT * g.percent for g in made])
    high = np.array([g.percent * (1 + _share("overage")) + g.step for g in made])
    return np.maximum(low, 0.0), high


def _left_out(held):
    """Yield the numbers of one nutrient against what the other guarantees leave for them."""
    made = held.made
    groups = [[i] for i in range(len(made))]
    for element in dict.fromkeys(family(g.key) for g in made):
        alike = [i for i, g in enumerate(made) if family(g.key) == element]
        groups += [alike] if len(alike) > 1 else []
    groups = [g for g in groups if held.is_pure or len(g) < len(made)]
    groups = [g for g in groups if held.matrix[g].any(axis=1).all()]
    if not groups:
        return
    found = ranges_left(held.matrix, *_limits(made), held.filler, groups)
    for places, ranges in zip(groups, found, strict=True):
        pairs = _pairs_left([made[i] for i in places], ranges, len(made))
        if pairs:
            yield pairs


def _pairs_left(made, ranges, many):
    """Return key to claimed and computed number of what was left out, or {}."""
    if len(ranges) < len(made):
        return {}
    pairs = {}
    for each, (low, high) in zip(made, ranges, strict=True):
        least = max(low, _share("not diluted") * high) if len(made) == many else low
        if least <= SMALLEST or high > NARROW * least:
            return {}
        unsure = _unsure(each.percent, each.step, 0.5 * math.log(high / least))
        pairs[each.key] = (each.percent, math.sqrt(least * high), unsure)
    return pairs


def _moved(held, density):
    """Yield all numbers as they would be without a slip of several, if a blend holds them."""
    made = held.made
    moves = moves_on({g.key: g.percent for g in made}, density=density)
    moves = [move for move in moves if _may_be_told(move, held.is_pure)]
    undone = [_undone(move) for move in moves if _are_near(move, made)]
    factors = np.exp(undone).reshape(-1, len(made))
    low, high = _limits(made)
    kept = which_hold(held.matrix, low * factors, high * factors, held.filler)
    for place in np.flatnonzero(kept):
        yield {
            g.key: (g.percent, g.percent * f, _unsure(g.percent, g.step))
            for g, f in zip(made, factors[place].tolist(), strict=True)
        }


def _may_be_told(move, is_pure):
    """Return whether a slip of several numbers shows in what the sources may hold.

    Where water may be added, what scales all numbers alike does not show.
    """
    if not _befalls(move) or move.slip.key == "another-number":
        return False
    several = sum(effect != 0 for effect in move.effects) > 1
    return several and (is_pure or len(set(move.effects)) > 1)


def _are_near(move, made):
    """Return whether numbers that stand in each other's place stand near on the label."""
    if move.slip.kind != "place" or len(made) <= MANY:
        return True
    keys = [each.key for each in made]
    one, other = (keys.index(key) for key in move.scope)
    return abs(one - other) == 1


def _undone(move):
    """Return what takes a slip back, as natural logarithms; an exchange undoes itself."""
    if move.slip.kind == "place":
        return move.effects
    return tuple(-effect for effect in move.effects)


def _hydrates(held):
    """Return the hydrates of named sources with which a blend exists."""
    swaps = [
        (column, material, other)
        for column, material in enumerate(held.materials)
        for other in other_hydrates(material)
    ]
    if not swaps:
        return []
    changed = np.repeat(held.matrix[None], len(swaps), axis=0)
    for place, (column, _, other) in enumerate(swaps):
        changed[place, :, column] = [other.percent(g.key) / WHOLE for g in held.made]
    low, high = (np.tile(limit, (len(swaps), 1)) for limit in _limits(held.made))
    found = []
    for place in np.flatnonzero(which_hold(changed, low, high, held.filler)):
        column, material, other = swaps[place]
        words = f"{other.name} taken for {material.name}"
        ratios = changed[place, :, column], held.matrix[:, column]
        found.append(LabelSlip(held.against, _hydrate(held.made, *ratios, words)))
    return found


def _hydrate(made, after, before, words):
    """Return the search whose one explanation is another hydrate of a source."""
    ratio = np.divide(after, before, out=np.ones(len(made)), where=before > 0)
    factor = float(ratio[np.argmax(np.abs(np.log(ratio)))])
    keys = [g.key for g in made]
    scope = tuple(key for key, r in zip(keys, ratio, strict=True) if r != 1)
    slip = Slip("other-hydrate", words, "hydrate", factor)
    move = Move(slip, scope, tuple(np.log(ratio).tolist()), len(scope) == len(made))
    factors = dict(zip(keys, ratio.tolist(), strict=True))
    group = SlipGroup((SlipCandidate((move,), factors, 0.0, 0.0),))
    pairs = {
        g.key: (g.percent, g.percent / factors[g.key], _unsure(g.percent, g.step))
        for g in made
    }
    return SlipSearch(pairs, (group,))


# --- against the catalogue ------------------------------------------------------------------------


def _on_catalogue(reading, name, density):
    """Return the slips after which a label fits one material, named or told by its shares."""
    faults = Faults()
    rule = reading.basis if reading.basis in RULES else RULES[0]
    made = guarantees_of(reading, rule, faults, density=density)
    shares = {g.key: g for g in made if g.percent > 0 and not g.is_upper}
    if not shares:
        return []
    named = _named(name)
    if named is None and len(shares) < 2:
        return []
    materials = [named] if named is not None else _alike(shares)
    told = []
    for material in materials[:MOST_HELD]:
        pairs = {
            key: (g.percent, material.percent(key), _unsure(g.percent, g.step))
            for key, g in shares.items()
            if material.percent(key) > 0
        }
        if len(pairs) == len(shares):
            told.append((material.name, pairs))
    found = _explained(told, density)
    found.sort(key=lambda each: each.search.groups[0].first.misfit)
    cut = list(_cut(shares, materials, density)) if len(shares) > 1 else []
    return [*found, *_explained(cut, density)]


def _cut(shares, materials, density):
    """Yield material and numbers as they would be without a slip, if one purity fits them.

    Oxides and elements only: where the purity is open too, other slips are seldom told apart
    from a blend. A chelate is told by its agent, not by its purity.
    """
    materials = [made for made in materials if not holds_agent(made)]
    printed = {key: g.percent for key, g in shares.items()}
    for move in moves_on(printed, density=density):
        if move.slip.kind != BASIS or not _befalls(move):
            continue
        factors = np.exp(_undone(move)).tolist()
        undone = [
            _without_slip(g, f) for g, f in zip(shares.values(), factors, strict=True)
        ]
        for material in materials:
            if fit_of(material, undone) is not None:
                yield (
                    material.name,
                    {
                        g.key: (g.percent, u.percent, _unsure(g.percent, g.step))
                        for g, u in zip(shares.values(), undone, strict=True)
                    },
                )


def _without_slip(each, factor):
    """Return a guarantee as it would be without a slip of this factor, which is rounded."""
    doubt = 2 * DOUBT * each.percent if factor != 1 else 0.0
    numbers = {"percent": each.percent * factor, "step": (each.step + doubt) * factor}
    return replace(each, **numbers)


def _named(name):
    """Return the material that a product is called, or None."""
    try:
        return as_ingredient(name) if name else None
    except (FormulateError, LookupError):
        return None


def _alike(shares):
    """Return the materials that hold just the elements that some shares name."""
    wanted = {family(key) for key in shares}
    return [
        made
        for made in catalogue().values()
        if all(made.percent(key) > 0 for key in shares)
        and _elements(made) <= wanted | {"Na", "Cl", "C", "S"}
    ]


def _elements(made):
    """Return the elements that the forms of a material are counted by."""
    keys = ("N", "P", "K", "Ca", "Mg", "S", "Fe", "Mn", "Zn", "Cu", "B", "Mo")
    return {key for key in keys if made.percent(nutrient(key).key) >= 1.0}
