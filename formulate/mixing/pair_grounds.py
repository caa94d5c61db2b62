"""Why two ingredients keep together in a stock or do not: by chemistry, else by table.

Only what the second adds counts: a salt that does not dissolve by itself is no fault of
the pair. Each ground has its own word; the gravest is the verdict.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np

from formulate.chemistry.protons import places_of
from formulate.chemistry.risks import risk_level
from formulate.chemistry.solids import mineral
from formulate.errors import MissingData
from formulate.ingredients.hazards import is_meant
from formulate.ingredients.solubility import solubility
from formulate.mixing.pair_states import pair_limit, solid_edges, solid_levels
from formulate.stoichiometry.nutrients import form
from formulate.tables import read_table
from formulate.working import printed

__all__ = ["WORDS", "Ground", "gravest", "pair_grounds", "table_grounds"]

WORDS = ("compatible", "less soluble", "caution", "incompatible", "dangerous")
BY_LEVEL = ("compatible", "caution", "incompatible")
SALTS, CERTAIN, WATCH = "soluble salts", 3, 1
PPM, PERCENT = 1e6, 100.0
FALLS = 2  # level of what falls out


@dataclass(frozen=True)
class Ground:
    """
    One ground of a verdict.

    Attributes
    ----------
    word : str
        The verdict it asks for, one of `WORDS`, or "notice" for what is only told.
    what : str
        The solid, salt, gas, chelate or rule it is about.
    text : str
        A sentence.
    number : float or None
        Its index, share in %, pressure in atm or pH. [-]
    source_key : str
        Where the constant, the limit or the rule comes from.
    """

    word: str
    what: str
    text: str
    number: float | None
    source_key: str

    def __str__(self):
        return f"{self.text} [{self.source_key}]"


def gravest(grounds):
    """
    Return the gravest word of some grounds.

    Parameters
    ----------
    grounds : iterable of Ground
        The grounds.

    Returns
    -------
    str
        One of `WORDS`; "compatible" without a ground.

    Examples
    --------
    >>> gravest([])
    'compatible'
    """
    words = [ground.word for ground in grounds if ground.word in WORDS]
    return max(words, key=WORDS.index, default="compatible")


def pair_grounds(states, pair):
    """
    Return every ground on which a pair is judged, the gravest first.

    Parameters
    ----------
    states : PairStates
        The states.
    pair : int
        Which pair. [-]

    Returns
    -------
    tuple of Ground
        The grounds; none where nothing speaks against the pair.

    Examples
    --------
    >>> from formulate.ingredients.salts import salt
    >>> from formulate.mixing.pair_states import pair_states
    >>> two = [salt("CaCl2"), salt("MgSO4")]
    >>> pair_grounds(pair_states(two, [0.5, 0.2], 100.0, 20.0), 0)[0].what
    'gypsum'
    """
    both = [states.ingredients[place] for place in states.pairs[pair]]
    found = [
        *_solids(states, pair),
        *_salts(states, pair),
        *_gases(states, pair),
        *_chelates(states, pair),
        *_alone(states, pair),
        *table_grounds(*both),
    ]
    found.sort(key=lambda g: -WORDS.index(g.word) if g.word in WORDS else 1)
    return tuple(found)


# --- solids ----------------------------------------------------------------------------


def _solids(states, pair):
    """Yield what falls out of the two together, at their own pH or below pH 6."""
    row, first, second = states.row(pair)
    ph = float(states.state.ph[row])
    for name, index in states.indices.items():
        levels = solid_levels(name, index[[row, first, second]])
        if levels[0] > max(levels[1:]):
            yield _fallen(name, BY_LEVEL[levels[0]], float(index[row]), ph)
        if not levels[0]:
            yield from _once_less_acid(states, name, (row, first, second), ph)


def _fallen(name, word, index, ph):
    """Return the ground that a solid falls out at the stock's own pH."""
    can = "falls out" if word == "incompatible" else "may fall out"
    text = f"{name} {can}: index {index:+.2f} at the stock's pH {ph:.1f}"
    return Ground(word, name, f"{text}{_aged(name)}", index, _source(name))


def _aged(name):
    """Return what is to be known of a solid that only air brings about."""
    return ", once air has been at the iron" if name == "strengite" else ""


def _source(name):
    """Return the source of a constant, and of the edges of its words."""
    return mineral(name).source_key


def _once_less_acid(states, name, rows, ph):
    """Yield the ground that a stock is clear only while it is acid."""
    steps, row = states.acid_steps, rows[0]
    index, own = states.indices_held[name], float(states.indices[name][row])
    levels = solid_levels(name, index[:, rows])
    worse = (levels[:, 0] > levels[:, 1:].max(axis=1)) & (steps > ph)
    if not worse.any():
        return
    until = _clear_to(name, steps, index[:, row], int(worse.argmax()), (ph, own))
    falls = bool((levels[worse, 0] == FALLS).any())
    strong = falls and until <= pair_limit("strongly acid")
    clear = "clear only while strongly acid" if strong else "clear while acid"
    text = (
        f"{clear}, to about pH {until:.1f}: {name} has index {own:+.2f} at the stock's "
        f"pH {ph:.1f} and {float(index[-1, row]):+.2f} at pH {steps[-1]:g}"
    )
    word = "incompatible" if strong else "caution"
    yield Ground(word, name, f"{text}{_aged(name)}", own, _source(name))


def _clear_to(name, steps, index, place, own):
    """Return the pH to which a solid is no matter, on a straight line. [-]"""
    edge = solid_edges(name)[0]
    before = (steps[place - 1], index[place - 1]) if place else own
    if before[0] < own[0] or not np.isfinite(before[1]):
        before = own
    (low, less), (high, more) = before, (steps[place], index[place])
    share = (edge - less) / (more - less) if more > less else 1.0
    return float(low + min(max(share, 0.0), 1.0) * (high - low))


# --- soluble salts ---------------------------------------------------------------------


def _salts(states, pair):
    """Yield the salt that takes most of its solubility, if the pair is why."""
    row, first, second = states.row(pair)
    rise, least = pair_limit("rise of a share"), pair_limit("least share")
    shares = {}
    for salt, share in states.shares.items():
        alone = max(share[first], share[second])
        if share[row] < max(least, rise * alone):
            continue
        level = risk_level(SALTS, float(share[row]))
        if level >= WATCH or _is_sparing(salt, states.temperature):
            shares[salt] = float(share[row]), float(alone)
    if not shares:
        return
    salt = max(shares, key=lambda name: shares[name][0])
    share, alone = shares[salt]
    certain = risk_level(SALTS, share) == CERTAIN
    word = "incompatible" if certain else "less soluble"
    ends = "it crystallises" if certain else "it is what crystallises first"
    apart = f"at most {alone:.0f} % apart" if alone else "apart neither holds it"
    text = f"{salt} takes {share:.0f} % of its solubility, {apart}: {ends}"
    yield Ground(word, salt, text, share, "crc-solubility")


@cache
def _is_sparing(salt, temperature):
    """Return whether a salt dissolves so little that charts mark its shared ions."""
    try:
        known = solubility(salt, temperature)
    except MissingData:
        return False
    return known.per_100g_water < pair_limit("sparingly soluble")


# --- gases -----------------------------------------------------------------------------


def _gases(states, pair):
    """Yield the gases that the pair drives out."""
    ph = float(states.state.ph[states.row(pair)[0]])
    found = _driven_out(states, pair, "carbon dioxide gas", "gas that foams", 1.0)
    for value in found:
        text = f"carbon dioxide foams out: {printed(value, 2)} atm of it"
        source = mineral("carbon dioxide gas").source_key
        yield Ground("incompatible", "carbon dioxide", text, value, source)
    for value in _driven_out(states, pair, "ammonia gas", "ammonia to be smelt", PPM):
        over = f"{printed(value, 2)} ppm over the closed stock at pH {ph:.1f}"
        text, source = (
            f"ammonia gas comes off: {over}",
            mineral("ammonia gas").source_key,
        )
        yield Ground("caution", "ammonia", text, value / PPM, source)


def _driven_out(states, pair, gas, limit, factor):
    """Yield the pressure of a gas, if it is beyond a limit and the pair is why."""
    row, *alone = states.row(pair)
    pressure = factor * states.pressure(gas)
    most = pair_limit("rise of a gas") * pressure[alone].max()
    if pressure[row] > max(pair_limit(limit), most):
        yield float(pressure[row])


# --- chelates --------------------------------------------------------------------------


def _chelates(states, pair):
    """Yield each chelate that the pair takes out of the pH in which it holds."""
    row, *alone = states.row(pair)
    ph = np.asarray(states.state.ph)
    for line in read_table("chelates"):
        key = f"{line['ligand']}:{line['metal']}"
        if key not in states.state.chelates or not line["high_most"]:
            continue
        low, high = line.number("low_least"), line.number("high_most")
        there = _held(states.state, key) > 0
        for side, beyond in (("acid", low - ph), ("alkali", ph - high)):
            outside = np.maximum(0.0, beyond) * there
            word = _chelate_word(float(outside[row] - outside[alone].max()), side)
            name = f"{line['ligand'].upper()} with {form(line['metal']).name}"
            text = (
                f"{name} holds from pH {low:g} to {high:g}, the stock has {ph[row]:.1f}"
            )
            if word:
                yield Ground(word, key, text, float(ph[row]), line["source_key"])


def _chelate_word(more, side):
    """Return the word for so much more pH outside the window on one side; or nothing."""
    if more >= pair_limit(f"chelate lost to {side}"):
        return "incompatible"
    return "caution" if more >= pair_limit(f"chelate at its edge in {side}") else ""


def _held(state, key):
    """Return how much of a chelate each row holds. [mol/kg]"""
    (place,) = places_of(state.net, key)
    return np.broadcast_to(state.molalities[place], np.shape(state.ph))


# --- what does not dissolve by itself --------------------------------------------------


def _alone(states, pair):
    """Yield what one of the two does not do by itself: dissolve, or stay clear."""
    for place in states.pairs[pair]:
        name, share = states.ingredients[place].name, states.taken[place]
        head = f"{name} alone is not clear at this strength"
        indices = {n: float(index[place]) for n, index in states.indices.items()}
        solids = [n for n, i in indices.items() if solid_levels(n, i) == FALLS]
        for solid in solids:
            text = f"{head}: {solid} has index {indices[solid]:+.2f}"
            value, source = indices[solid], _source(solid)
            yield Ground("caution", f"{name} alone", text, value, source)
        if share > PERCENT and not solids:
            text = f"{head}: it takes {share:.0f} % of its solubility"
            yield Ground("caution", f"{name} alone", text, share, "crc-solubility")


# --- tables ----------------------------------------------------------------------------


@cache
def _rules():
    """Return the rules that are taken from tables: verdict and line of each."""
    found = [
        ("dangerous", row)
        for row in read_table("dangerous_pairs")
        if row["severity"] == "serious" and row["second"]
    ]
    for given in read_table("pair_rules"):
        key = "key" if given["in_table"] == "dangerous_pairs" else "rule"
        if given["verdict"] == "alone":
            continue
        (row,) = (r for r in read_table(given["in_table"]) if r[key] == given["rule"])
        found.append((given["verdict"], row))
    return tuple(found)


def table_grounds(first, second):
    """
    Return the grounds that no equilibrium knows, from the tables.

    Parameters
    ----------
    first : Ingredient
        One ingredient.
    second : Ingredient
        The other.

    Returns
    -------
    tuple of Ground
        The grounds.

    Examples
    --------
    >>> from formulate.ingredients.salts import as_ingredient
    >>> urea, acid = as_ingredient("urea"), as_ingredient("nitric acid (60 %)")
    >>> table_grounds(urea, acid)[0].word
    'dangerous'
    """
    found = []
    for word, row in _rules():
        for one, other in ((first, second), (second, first)):
            if is_meant(one, row["first"]) and is_meant(other, row["second"]):
                key = row["key"] if row.table == "dangerous_pairs" else row["rule"]
                found.append(Ground(word, key, row["text"], None, row["source_key"]))
                break
    return tuple(found)
