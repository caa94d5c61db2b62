"""IPhreeqc as an oracle: its database read into our constants, its answers read back.

Only for tests. The database is read here by its own rules (pq386-phreeqc): an analytic
expression replaces log_k and delta_h; an uncharged species without -gamma takes 0.1, a
charged one Davies; a reaction may be written from species formed before.
"""

import math
import re
from functools import cache
from pathlib import Path

import phreeqc

from formulate.chemistry.constants import Constants, Species
from formulate.chemistry.network import CATIONS

KILOCALORIE, ROOM, GAS = 4.184, 298.15, 8.314e-3 * math.log(10)
MASTERS = {
    "K+": "potassium",
    "Na+": "sodium",
    "AmmH+": "ammonium",
    "NH4+": "ammonium",
    "Ca+2": "calcium",
    "Mg+2": "magnesium",
    "Fe+2": "iron_ii",
    "Fe+3": "iron_iii",
    "Mn+2": "manganese",
    "Zn+2": "zinc",
    "Cu+2": "copper",
    "NO3-": "nitrate",
    "Cl-": "chloride",
    "SO4-2": "sulfate",
    "PO4-3": "phosphate",
    "CO3-2": "carbonate",
    "H3BO3": "borate",
    "H4SiO4": "silicate",
}
ELEMENTS = {
    "potassium": "K",
    "sodium": "Na",
    "ammonium": "Amm",
    "calcium": "Ca",
    "magnesium": "Mg",
    "iron_ii": "Fe(+2)",
    "iron_iii": "Fe(+3)",
    "manganese": "Mn(+2)",
    "zinc": "Zn",
    "copper": "Cu(+2)",
    "nitrate": "N(+5)",
    "chloride": "Cl",
    "sulfate": "S(6)",
    "phosphate": "P",
    "carbonate": "C(+4)",
    "borate": "B",
    "silicate": "Si",
}
KEPT_ALWAYS = ("H", "O", "E")


def database(name):
    """Return the text of a database that comes with the engine."""
    path = Path(phreeqc.__file__).parent / "databases" / name
    return path.read_text(encoding="utf-8", errors="replace")


def engine(text):
    """Return an engine with a database loaded."""
    made = phreeqc.Phreeqc()
    if made.LoadDatabaseString(text):
        raise RuntimeError(made.GetErrorString())
    return made


def _block(text, word):
    """Return the lines of one block of a database, without remarks."""
    lines, inside = [], False
    for line in text.splitlines():
        bare = line.partition("#")[0].rstrip()
        if re.fullmatch(r"[A-Z][A-Z_]+", bare):
            inside = bare == word
        elif inside and bare.strip():
            lines.append(bare)
    return lines


def _reactions(text):
    """Yield (equation, {keyword: rest}) for each species of a database."""
    equation, given = None, {}
    for line in _block(text, "SOLUTION_SPECIES"):
        for piece in line.split(";"):
            if " = " in piece:
                if equation:
                    yield equation, given
                equation, given = piece.strip(), {}
                continue
            word, _, rest = piece.strip().partition(" ")
            word, _, more = word.partition("\t")
            given[word.lstrip("-").lower()] = (more + " " + rest).split("#")[0].split()
    if equation:
        yield equation, given


def _side(text):
    """Return species to how many of it on one side of an equation."""
    counts = {}
    for term in text.split(" + "):
        number, _, name = term.strip().rpartition(" ")
        value = float(number or 1)
        counts[name] = counts.get(name, 0) + (int(value) if value % 1 == 0 else value)
    return counts


def _coefficients(given):
    """Return a1 to a6 of what a database gives."""
    for word in ("analytic", "analytical_expression", "analytical", "a_e"):
        if word in given:
            numbers = [float(v) for v in given[word]]
            return (numbers + [0.0] * 6)[:6]
    log_k = float(given.get("log_k", ["0"])[0])
    words = given.get("delta_h", ["0"])
    heat = float(words[0])
    if len(words) < 2 or words[1].lower().startswith("kcal"):
        heat *= KILOCALORIE if len(words) > 1 else 1.0
    return [log_k + heat / (GAS * ROOM), 0.0, -heat / GAS, 0.0, 0.0, 0.0]


def _charge(name):
    match = re.search(r"([+-])(\d*)$", name)
    return int(match[1] + (match[2] or "1")) if match else 0


def _behaviour(name, given):
    """Return model, size and slope of an activity coefficient."""
    numbers = [float(v) for v in given.get("gamma", [])]
    if not _charge(name):
        return {"model": "neutral", "slope": numbers[1] if numbers else 0.1}
    if not numbers:
        return {"model": "davies"}
    return {"model": "ion", "size": numbers[0], "slope": numbers[1]}


@cache
def constants_of(name):
    """Return the constants of a database, as far as the forms of the model reach."""
    known = {}  # species -> (counts of masters, H+ and H2O; coefficients)
    masters, made = {}, []
    for equation, given in _reactions(database(name)):
        left, _, right = equation.partition(" = ")
        before, after = _side(left), _side(right)
        if before == after:
            species = left.strip()
            known[species] = ({species: 1}, [0.0] * 6)
            if species in MASTERS:
                masters[MASTERS[species]] = Species(
                    species, _charge(species), **_behaviour(species, given)
                )
            elif species == "H+":
                hydrogen = Species("H+", 1, **_behaviour("H+", given))
            continue
        if "e-" in before or "e-" in after:
            if equation.replace(" ", "") == "Fe+2=Fe+3+e-":
                known["Fe+3"] = ({"Fe+3": 1}, [0.0] * 6)
                masters["iron_iii"] = Species("Fe+3", 3, **_behaviour("Fe+3", given))
            continue
        new = next(iter(after)) if "=" in equation else None
        counts, numbers = {}, _coefficients(given)
        if any(s not in known for s in before if s not in ("H2O", "H+")):
            continue
        for side, sign in ((before, 1), (after, -1)):
            for species, count in side.items():
                if species == new:
                    continue
                of, its = known.get(species, ({species: 1}, [0.0] * 6))
                numbers = [
                    a + sign * count * b for a, b in zip(numbers, its, strict=True)
                ]
                for part, number in of.items():
                    counts[part] = counts.get(part, 0) + sign * count * number
        if after.get(new) != 1:
            continue
        counts = {part: number for part, number in counts.items() if number}
        known[new] = (counts, numbers)
        made.append(_species(new, dict(counts), numbers, given))
    (hydroxide,) = (s for s in made if s and s.name == "OH-")
    rest = tuple(s for s in made if s and s.name != "OH-")
    return Constants(hydrogen, hydroxide, masters, rest)


def _species(name, counts, numbers, given):
    """Return a species of a database in our terms; None if the model has no place for it."""
    protons, waters = counts.pop("H+", 0), counts.pop("H2O", 0)
    if any(part not in MASTERS for part in counts):
        return None
    forms = {MASTERS[part]: number for part, number in counts.items()}
    cations = [form for form in forms if form in CATIONS]
    ligands = [form for form in forms if form not in CATIONS]
    if len(cations) > 1 or len(ligands) > 1 or any(forms[c] > 1 for c in cations):
        return None
    most = 2 if cations else 1
    if ligands and (forms[ligands[0]] > most or ligands == ["nitrate"]):
        return None
    return Species(
        name,
        _charge(name),
        cations[0] if cations else "",
        ligands[0] if ligands else "",
        forms[ligands[0]] if ligands else 0,
        protons,
        waters,
        tuple(numbers),
        **_behaviour(name, given),
    )


def stripped(name, forms):
    """Return a database with nothing in it but the elements of some forms."""
    text = database(name)
    elements = {ELEMENTS[form].partition("(")[0] for form in forms} | {*KEPT_ALWAYS}
    lines = ["SOLUTION_MASTER_SPECIES"]
    symbols = set()
    for line in _block(text, "SOLUTION_MASTER_SPECIES"):
        element = line.split()[0]
        if element.partition("(")[0] in elements and not re.search(
            r"^(N\((0|\+3)\)|C\(-4\)|S\(-2\)|Fe\(\+3\)|Mn\(\+3\)|Cu\(\+1\))$", element
        ):
            lines.append(line)
            symbols.add(line.split()[1])
    lines.append("SOLUTION_SPECIES")
    known = {*symbols, "H+", "H2O", "e-"}
    lines += ["e- = e-", "H2O = H2O"]
    for equation, block in _raw_species(text):
        left, _, right = equation.partition(" = ")
        before, after = _side(left), _side(right)
        redox = ("e-" in before or "e-" in after) and not (
            {"O2", "H2"} & {*before, *after}
            and {*before, *after} <= {"H2O", "H+", "e-", "O2", "H2"}
        )
        if redox or equation in ("e- = e-", "H2O = H2O"):
            continue
        if {*before} <= known and (before != after or {*before} <= known):
            known |= {*after}
            lines += [equation, *block]
    return "\n".join([*lines, ""])


def _raw_species(text):
    """Yield (equation, its lines) of a database."""
    equation, block = None, []
    for line in _block(text, "SOLUTION_SPECIES"):
        if " = " in line:
            if equation:
                yield equation, block
            equation, block = line.strip(), []
        else:
            block.append(line)
    if equation:
        yield equation, block


PUNCH = """
SELECTED_OUTPUT 1
 -reset false
USER_PUNCH 1
 -headings {headings}
 -start
 10 PUNCH {terms}
 -end
"""


def solutions_text(molalities, *, ph=None, celsius=25.0, first=1, charge=None):
    """
    Return the input for a stack of solutions, mmol per kg of water.

    molalities: form to sequence of mol/kg. ph: sequence, or None to let the charge give
    it. charge: element to take the charge up, if the pH is imposed.
    """
    count = len(next(iter(molalities.values())))
    parts = []
    for n in range(count):
        lines = [f"SOLUTION {first + n}", f" temp {celsius}", " units mol/kgw"]
        lines.append(f" pH {float(ph[n])!r}" if ph is not None else " pH 7 charge")
        for form, values in molalities.items():
            if values[n]:
                mark = " charge" if form == charge else ""
                lines.append(f" {ELEMENTS[form]} {float(values[n])!r}{mark}")
        parts.append("\n".join([*lines, "END"]))
    return "\n".join(parts)


def run(made, text, terms, headings=None):
    """Return what an engine punches for some input: heading to list of floats."""
    headings = headings or [f"v{n}" for n in range(len(terms))]
    head = PUNCH.format(headings=" ".join(headings), terms=", ".join(terms))
    made.SetSelectedOutputStringOn(False)
    if made.RunString(head + text):
        raise RuntimeError(made.GetErrorString()[:2000])
    warned = made.GetWarningString()
    if "not in database" in warned or "Could not find" in warned:
        raise RuntimeError(warned[:500])
    made.SetCurrentSelectedOutputUserNumber(1)
    found = made.GetSelectedOutput()
    return {key: list(found[key]) for key in headings}
