"""The kernel: which ions and pairs stand in equilibrium, in one solution or a block of them.

Per kg of water, with α the activity of a bare ion, h and w those of proton and water, every
species that forms from a cation, ν ligands, n protons and q waters has the molality

Equation of the law of mass action [iupac-m03725]::

    m = x α_cation α_ligand^ν      with      x = K h^n w^q / γ

and the balance of every cation and every ligand closes.

Equation of the mass balances [definition]::

    T_cation = α (1/γ + Σ x alone + Σ_ligands α_ligand Σ x)
    T_ligand = α (1/γ + Σ x alone + Σ_cations α_cation Σ x) + 2 α² Σ_cations α_cation Σ x₂

For given ligands each cation is explicit, and the reverse. One round is: activity
coefficients from the ionic strength, all x, some sweeps over the two balances, the amounts,
a new ionic strength. The charge f is 0 at the pH a solution takes; one Newton step in ln h
belongs to each round.

Equation of the charge balance [definition]::

    f = Q + [H+] − [OH-] + Σ n m          Q: charge of the totals as bare ions
"""

import numpy as np

from formulate.chemistry.activity import inverse_gammas
from formulate.chemistry.columns import arithmetic_of
from formulate.chemistry.feed import Balance
from formulate.chemistry.water_properties import coefficients

__all__ = ["equilibrate"]

FIRST_ROUNDS = 5  # before what has settled is set aside
MOST_ROUNDS = 400
NEAR_LEAST, NEAR_ROUNDS = 4, 20  # from a near state; then from the beginning
DAMPING = ((30, 1.0), (100, 0.5), (401, 0.2))  # up to a round, part of a step
SWEEPS = 3
TOLERANCE = 1e-9  # of all that is still to come
CLOSED, STILL = 5e-11, 1e-10  # to which the charge closes; of a ligand in a sweep
LARGEST_STEP = 3.0  # in ln h
LN_H_COUNTS = 0.1  # of its change: charge and mass close sooner than the pH
EARLY, FIRST_STEPS = 1, 3  # in the first rounds, so many steps at once
STEEPEST, FLATTEST = 0.15, -0.15  # ionic strength that comes out with what goes in
NOISE = 4e-16
START_LN_H = -14.0  # pH 6.1
START_SHARE = 0.87  # of the ionic strength without pairs
FASTEST, SLOWEST = 0.01, 0.9  # of a change against the one before
LOWEST_LN_H, HIGHEST_LN_H = -37.0, 5.0  # pH 16 to -2
DRIEST, STRONGEST, TINY = 0.01, 60.0, 1e-300  # activity of water; mol/kg
WATER_FALL = coefficients("water activity").fall  # kg/mol


def equilibrate(net, feed, model, start=None):
    """
    Return ions and pairs in equilibrium, of one solution or of a block.

    Parameters
    ----------
    net : Network
        The species.
    feed : Feed
        Totals, and either a charge or a pH.
    model : str
        Name of the activity model.
    start : Balance or None
        Where the rounds begin, of one solution; None means with every ion free.

    Returns
    -------
    Balance
        The amounts; `settled` is false where the rounds did not come to rest.

    Examples
    --------
    >>> from formulate.chemistry.constants import constants
    >>> from formulate.chemistry.feed import Feed
    >>> from formulate.chemistry.network import network
    >>> net = network(("sodium", "chloride"), 25.0, constants())
    >>> rest = equilibrate(net, Feed([0.01], [], [0.01], ln_h=-16.0), "wateq")
    >>> round(rest.strength, 6), rest.settled
    (0.01, True)
    """
    if start is not None:
        state = start
        for _ in range(NEAR_ROUNDS):
            state = _round(net, feed, model, state)
            if state.settled and state.rounds >= NEAR_LEAST:
                break
        if state.settled:
            return state
    state = _rounds(FIRST_ROUNDS, net, feed, model, _start(net, feed))
    if not isinstance(state.strength, np.ndarray):
        while not state.settled and state.rounds < MOST_ROUNDS:
            state = _round(net, feed, model, state)
        return state
    part, places = state, None  # None: every column is still worked on
    while part.rounds < MOST_ROUNDS and not part.settled.all():
        unsettled = ~part.settled
        if not unsettled.all():  # what has come to rest is set aside
            if places is None:
                places = np.arange(unsettled.size)
            else:
                state.putting(places, part)
            places = places[unsettled]
            feed, part = feed.taking(unsettled), part.taking(unsettled)
        part = _round(net, feed, model, part)
        state = part if places is None else state
    if places is not None:
        state.putting(places, part)
    return state


def _start(net, feed):
    """Return a first guess: every ion free, at the pH imposed or pH 6."""
    totals = [*feed.cations, *feed.ligands, *feed.inert]
    bare = net.species[2 : 2 + len(totals)]
    squares = [0.5 * s.charge**2 * t for s, t in zip(bare, totals, strict=True)]
    strength = START_SHARE * sum(squares, 0.5 * feed.unnamed)
    nothing = strength * 0.0
    ln_h = nothing + (START_LN_H if feed.ln_h is None else feed.ln_h)
    amounts = [nothing, nothing, *totals, *(nothing for _ in net.rows)]
    return Balance(
        amounts, [None for _ in net.ligands], ln_h, nothing, strength, (strength, None)
    )


def _rounds(count, net, feed, model, state):
    """Return where so many rounds lead."""
    for _ in range(count):
        state = _round(net, feed, model, state)
    return state


def _round(net, feed, model, state):
    """Return where one round leads.

    Equation of the activity of water [pq386-phreeqc]::

        a(H2O) = 1 − 0.017 Σ m        m of every dissolved species, mol per kg of water
    """
    of, damping = arithmetic_of(state.strength), _damping(state.rounds)
    inverse = inverse_gammas(net, model, state.strength, state.amounts)
    x = _conditional(net, inverse, state, of)
    cations, ligands, moved = _sweeps(net, feed, inverse, x, state, of)
    amounts = _amounts(net, feed, inverse, x, cations, ligands, state, of)
    strength, particles = _strength(net, feed, amounts)
    ln_water = of.log(of.most(1.0 - WATER_FALL * particles, DRIEST))
    change = abs(strength - state.strength) / (strength + TINY)
    ln_h, tolerance = state.ln_h, TOLERANCE
    if feed.charge is not None:
        steps = FIRST_STEPS if state.rounds < EARLY else 1
        step, left, slope, means = _step(net, feed, amounts, steps, of)
        ln_h = of.clip(ln_h + damping * step, LOWEST_LN_H, HIGHEST_LN_H)
        ligands = _followed(net, ligands, means, damping * step, of)
        change = of.most(change, LN_H_COUNTS * abs(step))
        tolerance = tolerance + LN_H_COUNTS * NOISE * feed.rough / slope
    new = _extrapolated(state, strength, of)
    if damping < 1.0:
        new = state.strength + damping * (new - state.strength)
    new = of.least(new, STRONGEST)
    before = (state.strength, strength)
    rate = of.clip(change / (state.change + TINY), FASTEST, SLOWEST)
    settled = change * rate / (1.0 - rate) <= tolerance  # what is still to come
    settled = settled & (moved <= STILL)
    if feed.charge is not None:
        settled = settled & (abs(left) <= CLOSED * (feed.rough + slope))
    results = (ln_h, ln_water, new, before, change, settled, state.rounds + 1)
    return Balance(amounts, ligands, *results)


def _damping(rounds):
    """Return which part of a step is taken: all of it, less where many did not settle."""
    return next(part for most, part in DAMPING if rounds < most)


def _conditional(net, inverse, state, of):
    """Return x of every species that forms: K h^n w^q / γ."""
    powers = [
        of.exp(n * state.ln_h + q * state.ln_water if q else n * state.ln_h)
        for n, q in net.powers
    ]
    first = net.first_row
    return [
        k * powers[power] * inverse[place]
        for place, (k, power) in enumerate(net.rows, first)
    ]


def _sweeps(net, feed, inverse, x, state, of):
    """Return the activities of the bare cations and ligands after some sweeps."""
    first = 2 + len(net.cations)
    own_cation = [
        sum([x[row] for row in rows], inverse[place])
        for place, rows in enumerate(net.alone_cation, 2)
    ]
    own_ligand = [
        sum([x[row] for row in rows], inverse[place])
        for place, rows in enumerate(net.alone_ligand, first)
    ]
    pairs = [_total(x, rows) for *_, rows in net.pairs]
    ligands = list(state.ligands)
    held, activity = _held(feed, state, of)
    for place, total in enumerate(feed.ligands):
        if place == held:
            ligands[place] = activity
        elif ligands[place] is None:
            ligands[place] = total / own_ligand[place]
    of_cations = tuple(zip(feed.cations, own_cation, net.of_cation, strict=True))
    of_ligands = [
        (
            place,
            feed.ligands[place],
            own,
            net.of_ligand[place],
            net.of_ligand_twice[place],
        )
        for place, own in enumerate(own_ligand)
        if place != held
    ]
    for _ in range(SWEEPS):
        before = list(ligands)
        powers = ligands + [ligands[j] * ligands[j] for j in net.squared]
        cations = [
            total / sum([pairs[p] * powers[j] for p, j in its], own)
            for total, own, its in of_cations
        ]
        for place, total, own, one, two in of_ligands:
            linear = sum([pairs[p] * cations[i] for p, i in one], own)
            if two:
                square = 2.0 * sum([pairs[p] * cations[i] for p, i in two])
                ligands[place] = _root(square, linear, total, of)
            else:
                ligands[place] = total / linear
    return cations, ligands, _moved(ligands, before, of)


def _total(values, places):
    """Return the sum of the values at some places, at least one."""
    first = values[places[0]]
    return sum([values[p] for p in places[1:]], first) if len(places) > 1 else first


def _held(feed, state, of):
    """Return the place and the activity of the ligand that the air holds, if it does."""
    if feed.held is None:
        return None, None
    place, protons, activity = feed.held
    return place, activity * of.exp(state.ln_water - protons * state.ln_h)


def _root(square, linear, total, of):
    """Return the α above 0 with square α² + linear α = total."""
    return 2.0 * total / (linear + of.sqrt(linear * linear + 4.0 * square * total))


def _amounts(net, feed, inverse, x, cations, ligands, state, of):
    """Return the molality of every species."""
    hydroxide = net.ion_product * of.exp(state.ln_water - state.ln_h)
    amounts = [of.exp(state.ln_h) * inverse[0], hydroxide * inverse[1]]
    for place, activity in enumerate((*cations, *ligands), 2):
        amounts.append(activity * inverse[place])
    amounts += feed.inert
    formed = [None] * len(net.rows)
    for rows_of, activities in (
        (net.alone_cation, cations),
        (net.alone_ligand, ligands),
    ):
        for rows, activity in zip(rows_of, activities, strict=True):
            for row in rows:
                formed[row] = x[row] * activity
    for i, j, count, rows in net.pairs:
        both = cations[i] * (ligands[j] if count == 1 else ligands[j] * ligands[j])
        for row in rows:
            formed[row] = x[row] * both
    return amounts + formed


def _strength(net, feed, amounts):
    """Return ionic strength and the sum of all dissolved species.

    Equation of the ionic strength [iupac-i03180]::

        I = ½ Σ m z²        every ion and charged pair; unnamed ions count once each
    """
    strength, particles = 0.5 * feed.unnamed, feed.unnamed
    for square, places in net.by_square:
        some = _total(amounts, places)
        strength = strength + 0.5 * square * some
        particles = particles + some
    return strength, particles


def _step(net, feed, amounts, count, of):
    """
    Return by how much ln h moves, the charge f before, its slope, and each mean of n.

    Newton's steps, with f = Q + [H+] − [OH-] + Σ n m and its slope, a sum of variances of
    n. Further steps let every family shift towards the new h with all else held.
    """
    families = _families(net, feed, amounts)
    left, slope, means = _charge(feed, amounts[0], amounts[1], families)
    step = of.clip(-left / slope, -LARGEST_STEP, LARGEST_STEP)
    for _ in range(count - 1):
        growth, shifted = of.exp(step), []
        for total, groups in families:
            some = [(n, m * of.exp(n * step)) for n, m in groups]
            if total is not None:  # conserved: what is shared out stays the same
                bare = total - sum([m for _, m in groups])
                share = total / (bare + sum([m for _, m in some]) + TINY)
                some = [(n, m * share) for n, m in some]
            shifted.append((total, some))
        ions = (amounts[0] * growth, amounts[1] / growth)
        charge, slope, _ = _charge(feed, *ions, shifted)
        step = step + of.clip(-charge / slope, -LARGEST_STEP, LARGEST_STEP)
    return step, left, slope, means


def _charge(feed, hydrogen, hydroxide, families):
    """Return the charge f, its slope with ln h, and the mean of n of every family."""
    charge, slope = feed.charge + hydrogen - hydroxide, hydrogen + hydroxide
    means = []
    for total, groups in families:
        first = second = 0.0
        for n, m in groups:
            of_one = n * m
            first = first + of_one
            second = second + n * of_one
        charge = charge + first
        means.append(None if total is None else first / (total + TINY))
        if total is not None:
            second = second - first * means[-1]
        slope = slope + second
    return charge, slope, means


def _families(net, feed, amounts):
    """Return, of all that meets protons, its total and its amounts by number of protons."""
    totals = (*feed.cations, *feed.ligands)
    held = None if feed.held is None else len(feed.cations) + feed.held[0]
    found = []
    for family, groups in net.families:
        sums = [(n, _total(amounts, places)) for n, places in groups]
        if family != held:
            found.append((totals[family], sums))
            continue
        shift = feed.held[1]  # not conserved: counted from the form that the air holds
        plain = net.without_protons[feed.held[0]]
        whole = [(0, _total(amounts, plain)), *sums]
        found.append((None, [(n - shift, m) for n, m in whole]))
    return found


def _followed(net, ligands, means, step, of):
    """Return ligands as the new h will leave them: ln α falls by the mean of n a step."""
    found, first = list(ligands), len(net.cations)
    for (family, _), mean in zip(net.families, means, strict=True):
        if family >= first and mean is not None:
            found[family - first] = ligands[family - first] * of.exp(-mean * step)
    return found


def _moved(now, before, of):
    """Return the largest relative change of any ligand."""
    largest = 0.0
    for new, old in zip(now, before, strict=True):
        largest = of.most(largest, abs(new - old) / (new + TINY))
    return largest


def _extrapolated(state, strength, of):
    """Return the ionic strength for the next round, on the line through the last two."""
    went_in, came_out = state.before
    if came_out is None:
        return strength
    apart = state.strength - went_in
    slope = (strength - came_out) / of.where(apart == 0, TINY, apart)
    slope = of.clip(slope, FLATTEST, STEEPEST)
    new = state.strength + (strength - state.strength) / (1.0 - slope)
    return of.where(new > 0, new, strength)
