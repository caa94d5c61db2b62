"""IPhreeqc as an oracle of solids: its phases as ours, ours as its, and what it lets form."""

import numpy as np
import phreeqc_oracle as oracle

from formulate.chemistry.solids import Mineral, mineral

OWN_NAMES = {"NH4+": "AmmH+"}  # in Amm.dat
ABSENT = ("brushite", "struvite", "newberyite", "syngenite")  # from Amm.dat


def phase_name(name):
    """Return the name of a solid of ours as a phase."""
    return name.title().replace(" ", "")


def phases_text(solids=ABSENT):
    """Return the block that gives the engine some solids and the constants with them."""
    lines = ["PHASES"]
    for solid in map(mineral, solids):
        numbers = " ".join(repr(a) for a in solid.log_k)
        name = phase_name(solid.name)
        lines += [name, f" {_reaction(solid)}", f" -analytic {numbers}"]
    return "\n".join([*lines, "END", ""])


def _reaction(solid):
    """Return the reaction of a solid, its formula first, as the engine writes it."""
    sides = {True: [], False: []}
    for species, count in solid.components:
        term = f"{abs(count):g} {OWN_NAMES.get(species, species)}"
        sides[count > 0].append(term)
    formula = solid.formula.replace("NH4", "AmmH")
    left = " + ".join([formula, *sides[False]])
    return f"{left} = {' + '.join(sides[True])}"


def minerals_of(name):
    """Return the phases of a database as our solids, as far as the model reaches."""
    known, found = oracle.constants_of(name), []
    masters = (known.hydrogen, known.hydroxide, *known.masters.values())
    species = {s.name for s in (*masters, *known.reactions)}
    phase, equation, given = None, None, {}
    for line in [*oracle._block(oracle.database(name), "PHASES"), "End"]:
        text = line.strip()
        if not line.startswith((" ", "\t")) and " = " not in line:
            if equation:
                found.append(_as_ours(phase, equation, given, species))
            phase, equation, given = text.split()[0], None, {}
        elif " = " in text and not equation:
            equation = text
        else:
            word, *rest = text.split()
            word = word.lstrip("-").lower()
            given["analytic" if word.startswith("anal") else word] = (
                rest  # the last one
            )
    return tuple(m for m in found if m)


def _as_ours(phase, equation, given, species):
    """Return one phase as our solid; None if a species of it is unknown to the model."""
    left, _, right = equation.partition(" = ")
    before, after = oracle._side(left), oracle._side(right)
    formula = next(iter(before))
    counts = {s: float(n) for s, n in after.items()}
    for other, number in before.items():
        if other != formula:
            counts[other] = counts.get(other, 0.0) - number
    if any(s not in species and s != "H2O" for s in counts) or "e-" in counts:
        return None
    numbers = tuple(oracle._coefficients(given))
    pairs = tuple(counts.items())
    return Mineral(phase, formula, pairs, numbers, "matters", "", "pq386-amm", "")


def stripped(forms, solids=ABSENT):
    """Return a database with the elements of some forms, and some solids."""
    return oracle.stripped("Amm.dat", forms) + phases_text(solids)


def equilibria_text(molalities, phases, *, celsius=25.0):
    """Return the input that lets phases form from solutions whose charge gives the pH."""
    text = oracle.solutions_text(molalities, celsius=celsius)
    count = len(next(iter(molalities.values())))
    parts = [text]
    for n in range(1, count + 1):
        rows = "\n".join(f" {phase} 0 0" for phase in phases)
        parts.append(f"USE solution {n}\nEQUILIBRIUM_PHASES {n}\n{rows}\nEND")
    return "\n".join(parts)


def equilibria(made, molalities, phases, terms, **given):
    """Return what the engine punches before and after: heading to two lists."""
    amounts = [f'EQUI("{phase}")' for phase in phases]
    text = equilibria_text(molalities, phases, **given)
    found = oracle.run(made, text, [*terms, *amounts])
    count = len(next(iter(molalities.values())))
    headings = [*terms, *phases]
    values = [np.array(column, float) for column in found.values()]
    return {
        heading: (column[:count], column[count:])
        for heading, column in zip(headings, values, strict=True)
    }
