"""IPhreeqc as an oracle of mixing: the steps of an order, before and after falling out."""

from dataclasses import replace

import numpy as np
import phreeqc_oracle as oracle
import solids_oracle
from test_speciation import per_kg

from formulate.chemistry.solids import mineral_names
from formulate.chemistry.speciation import speciate
from formulate.chemistry.waters import water
from formulate.mixing.nearness import Nearness
from formulate.mixing.sequence import simulate_mixing
from formulate.stoichiometry.charge import nominal_charge
from formulate.stoichiometry.solution import Solution

SOLIDS = ("gypsum", "brushite", "calcite", "struvite", "newberyite", "syngenite")
TAP = (
    "calcium",
    "magnesium",
    "potassium",
    "sodium",
    "ammonium",
    "nitrate",
    "chloride",
    "sulfate",
    "carbonate",
    "phosphate",
)
PH = '-LA("H+")'


def closed_water(name):
    """Return a water with its main ions only, sodium or chloride closing the charge."""
    tap = water(name or {})
    forms = {k: v for k, v in tap.solution.forms.items() if k in TAP}
    left = {k: v for k, v in tap.solution.forms.items() if k not in TAP}
    unnamed = tap.solution.unassigned_charge + nominal_charge(left)
    forms["sodium"] = forms.get("sodium", 0.0) + max(unnamed, 0.0)
    forms["chloride"] = forms.get("chloride", 0.0) + max(-unnamed, 0.0)
    return replace(tap, solution=Solution(forms, 0.0, 25.0))


def log_of(batch, *, own=True):
    """Return the log of a random batch by WATEQ, with the engine's constants if asked."""
    grams, volume, tap, share, order = batch
    given = {"water": closed_water(tap), "start_fraction": share, "activity": "wateq"}
    log = simulate_mixing(grams, order, volume=volume, temperature=25.0, **given)
    if own:
        return log
    solutions, known = log.near.state.solution, oracle.constants_of("Amm.dat")
    ammonium = replace(known.masters["ammonium"], name="NH4+")  # AmmH+ there
    known = replace(known, masters={**known.masters, "ammonium": ammonium})
    state = speciate(solutions, activity="wateq", constants=known)
    return replace(log, near=Nearness(state))


def theirs(log):
    """Return what the engine finds at each step: heading to values before and after."""
    state = log.near.state
    some = {f: v for f, v in per_kg(state).items() if np.any(v > 0)}
    for name in SOLIDS:
        for form in solids_oracle.mineral(name).forms:
            some.setdefault(form, np.full(state.strength.shape, 1e-12))
    own = [
        m
        for m in solids_oracle.minerals_of("Amm.dat")
        if m.name in ("Gypsum", "Calcite")
    ]
    database = oracle.stripped("Amm.dat", tuple(some))
    database += solids_oracle.phases_text([*solids_oracle.ABSENT, *own])
    phases = [solids_oracle.phase_name(name) for name in SOLIDS]
    terms = [PH, *(f'SI("{phase}")' for phase in phases)]
    return solids_oracle.equilibria(oracle.engine(database), some, phases, terms)


def differences(log):
    """
    Return how a log differs from the engine.

    pH before and after; the largest difference of an index; solids whose verdict differs
    where the engine's index is beyond 0.3; the largest relative difference of an amount
    where its index exceeds 1.
    """
    found, state, after = theirs(log), log.near.state, log.precipitation
    apart = [
        np.abs(np.asarray(ours) - found[PH][n]).max()
        for n, ours in enumerate((state.ph, after.ph))
    ]
    index, verdicts, amount = 0.0, [], 0.0
    for name in SOLIDS:
        phase = solids_oracle.phase_name(name)
        its = np.array(found[f'SI("{phase}")'][0])
        own = log.near.indices.get(name, np.full(its.shape, -np.inf))
        there = np.isfinite(own) & (its > -15)
        index = max(index, np.abs(own - its)[there].max(initial=0.0))
        differ = there & (np.abs(its) > 0.3) & ((own > 0) != (its > 0))
        verdicts += [name] * int(differ.sum())
        made = after.amounts.get(name, np.zeros(its.shape)) / state.water_kg_l
        formed = 1000 * np.array(found[phase][1])
        large = there & (its > 1) & (formed > 0)
        off = np.abs(made[large] / formed[large] - 1)
        amount = max(amount, off.max(initial=0.0))
    return {
        "ph": apart[0],
        "ph after": apart[1],
        "index": index,
        "verdicts": verdicts,
        "amount": amount,
        "strength": float(state.strength.max()),
    }


assert set(SOLIDS) <= set(mineral_names("matters"))
