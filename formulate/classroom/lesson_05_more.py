"""Exercises of lesson 05, second part: what cannot be met, what comes nearest, what must close."""

from formulate.classroom.lines import carried, line
from formulate.classroom.school_salts import SchoolSalt, care_of, mass
from formulate.classroom.task import Option, Slip, Task
from formulate.stoichiometry.formula import molar_mass
from formulate.working import Working

__all__ = ["MORE"]

SHELVES = {  # three salts, the four numbers wanted, lowest and highest of each salt [mmol/L]
    "N": (
        (
            "monopotassium phosphate",
            "potassium nitrate",
            "calcium nitrate tetrahydrate",
        ),
        ("P", "K", "Ca", "N"),
        ((0.6, 1.6), (2.4, 5.0), (2.0, 4.5)),
    ),
    "S": (
        ("potassium nitrate", "potassium sulfate", "magnesium sulfate heptahydrate"),
        ("N", "K", "Mg", "S"),
        ((3.0, 8.0), (0.8, 1.6), (0.8, 2.0)),
    ),
    "K": (
        (
            "monopotassium phosphate",
            "potassium sulfate",
            "magnesium sulfate heptahydrate",
        ),
        ("P", "K", "Mg", "S"),
        ((1.0, 2.0), (0.8, 2.0), (0.6, 1.8)),
    ),
}
LETTERS = "ABCDE"
NONE = "none: all four can be met exactly"
FOR_SURE = 0.8  # of the bound: so far below it that no rounding matters


def _cannot_be_met(lot):
    """Which of four wanted numbers must be let go?"""
    culprit = lot.one_of(tuple(SHELVES))
    names, elements, ranges = SHELVES[culprit]
    salts = [SchoolSalt(name) for name in names]
    moles = [lot.between(low, high, 0.02) for low, high in ranges]
    brought = {
        e: sum(n * s.count(e) for n, s in zip(moles, salts, strict=True))
        for e in elements
    }
    conflict = lot.below(4) > 0
    if conflict:
        brought[culprit] = _too_little(culprit, brought, lot.between(0.30, 0.75, 0.01))
    wanted = {e: round(n * molar_mass(e), 1) for e, n in brought.items()}
    right = LETTERS[elements.index(culprit) if conflict else 4]
    return Task(
        given={"salts": names, "wanted": wanted},
        question=f"On the shelf stand only {', '.join(s.printed for s in salts[:2])} and {salts[2].printed}; "
        "the water is pure. Four numbers are wanted.\n\n"
        "Three of them are to be met exactly, whatever becomes of the fourth. Which one must be the fourth? "
        "(A difference under 1 % counts as met.)",
        table=(tuple(elements), tuple(f"{v} mg/L" for v in wanted.values())),
        solution=Working("row by row, in mmol/L", _rows_of(culprit, wanted)),
        hints=(
            "Turn the numbers into mmol/L. There are three salts, so three rows can be chosen; the fourth follows.",
            "Start with the row that only one salt serves; then take off what this salt brings to the others.",
            "Leave out one number after the other: which choice asks for no weight below zero?",
        ),
        options=_options(salts, elements, wanted, right),
        right=right,
        remark="Three unknowns answer three rows. A fourth is met only if it happens to be what the others bring.",
    )


def _too_little(culprit, brought, part):
    """Return so little of a nutrient that only letting it go helps. [mmol/L]"""
    if culprit == "N":
        return part * FOR_SURE * min(2 * brought["Ca"], brought["K"] - brought["P"])
    if culprit == "S":
        return part * FOR_SURE * min(brought["Mg"], (brought["K"] - brought["N"]) / 2)
    spare = 2 * (brought["S"] - brought["Mg"])
    return part * FOR_SURE * min(brought["P"], spare)


def _rows_of(culprit, wanted):
    """Return the lines to what the other three numbers make of the fourth. [mmol/L]"""
    steps = {e: line(e, "mmol/L", (v, "mg/L"), "÷", mass(e)) for e, v in wanted.items()}
    n = {e: carried(step) for e, step in steps.items()}
    ends = {
        "N": lambda: line(
            "N that follows: two for each Ca, one for each K without P",
            "mmol/L",
            2,
            "×",
            n["Ca"],
            "+",
            n["K"],
            "−",
            n["P"],
        ),
        "S": lambda: line(
            "S that follows: half of the K without N, one for each Mg",
            "mmol/L",
            n["K"],
            "÷",
            2,
            "−",
            n["N"],
            "÷",
            2,
            "+",
            n["Mg"],
        ),
        "K": lambda: line(
            "K that follows: one for each P, two for each S without Mg",
            "mmol/L",
            n["P"],
            "+",
            2,
            "×",
            n["S"],
            "−",
            2,
            "×",
            n["Mg"],
        ),
    }
    return (*steps.values(), ends[culprit]())


def _options(salts, elements, wanted, right):
    """Return the four numbers and "none", each wrong one with why it is not that."""
    found = {}
    for letter, element in zip(LETTERS, elements, strict=False):
        short = _below_zero(salts, [e for e in elements if e != element], wanted)
        says = (
            f"Without {element} the other three rows ask for less than nothing of {short}."
            if short
            else f"{element} can be met, and the other three with it: work out all four rows."
        )
        found[letter] = Option(element, "" if letter == right else says)
    says = "Let the first three numbers fix the three weights, then look what they bring of the fourth."
    found["E"] = Option(NONE, "" if right == "E" else says)
    return found


def _below_zero(salts, elements, wanted):
    """Return the formula of a salt whose amount is below zero if these rows hold; empty if none is."""
    from numpy.linalg import solve

    rows = [[salt.count(element) for salt in salts] for element in elements]
    amounts = solve(rows, [wanted[e] / molar_mass(e) for e in elements])
    least = amounts.argmin()
    return salts[least].printed_formula if amounts[least] < 0 else ""


RECIPES = (
    (
        ("calcium nitrate tetrahydrate", 0.60, 1.00),
        ("potassium nitrate", 0.30, 0.60),
        ("monopotassium phosphate", 0.12, 0.25),
        ("magnesium sulfate heptahydrate", 0.25, 0.50),
    ),
    (
        ("calcium nitrate tetrahydrate", 0.50, 0.90),
        ("potassium nitrate", 0.20, 0.50),
        ("monoammonium phosphate", 0.05, 0.15),
        ("potassium sulfate", 0.10, 0.30),
        ("magnesium sulfate heptahydrate", 0.25, 0.50),
    ),
)  # salts with lowest and highest [g/L]


def _scaled(lot):
    """The same feed in another volume and at another strength."""
    recipe = lot.one_of(RECIPES)
    old, new = lot.some_of((50, 60, 80, 100, 120, 150, 200, 250, 300, 400, 500), 2)
    strength = lot.between(40, 85, 5)
    grams = {
        name: round(lot.between(low, high, 0.01) * old, 1) for name, low, high in recipe
    }
    name = lot.one_of(tuple(grams))
    each = line(f"{name} in a litre", "g/L", (grams[name], "g"), "÷", (old, "L"))
    weaker = line(f"at {strength} %", "g/L", carried(each), "×", strength, "÷", 100)
    weight = line(f"in {new} L", "g", carried(weaker), "×", (new, "L"))
    right = weight.value
    return Task(
        given={
            "grams": grams,
            "salt": name,
            "old": old,
            "new": new,
            "strength": strength,
        },
        question=f"A recipe for {old} L stands in the table. For cuttings, {new} L are to be made at {strength} % of its "
        f"strength, in pure water. How much {name}?",
        table=(("salt", f"g in {old} L"), *((n, f"{g}") for n, g in grams.items())),
        solution=Working("another volume, another strength", (each, weaker, weight)),
        unit="g",
        units=("kg", "mg"),
        slips=(
            Slip(right * 100 / strength, "That is at full strength."),
            Slip(right * old / new, "That is weaker, but still for the old volume."),
            Slip(right * (old / new) ** 2, "Old and new volume have changed places."),
            Slip(right * (100 / strength) ** 2, "A weaker feed needs less, not more."),
        ),
        hints=(
            "The rows are straight lines: twice the water, twice the salt.",
            "Go over one litre: how many grams of this salt are in it, and how many at the new strength?",
            "Grams ÷ old litres × strength in per cent ÷ 100 × new litres.",
        ),
        care=care_of(*(SchoolSalt(n) for n in grams)),
        remark="All salts have the same factor, so the ratios stay. With a water that brings something this no longer holds.",
    )


NEAREST = (  # salt, its two nutrients, wanted of the first [mg/L]
    ("potassium nitrate", "K", "N", 100, 250),
    ("potassium sulfate", "K", "S", 80, 250),
    ("monopotassium phosphate", "P", "K", 20, 60),
    ("magnesium sulfate heptahydrate", "Mg", "S", 15, 60),
    ("calcium nitrate tetrahydrate", "Ca", "N", 60, 200),
)


def _nearest(lot):
    """The least sum of squares for one salt and two numbers."""
    name, p, q, low, high = lot.one_of(NEAREST)
    salt, litres = SchoolSalt(name), lot.one_of((10, 20, 25, 40, 50, 60, 80, 100))
    first = lot.between(low, high, 1)
    apart = lot.between(1.4, 2.2, 0.01)
    apart = apart if lot.below(2) else 1 / apart
    wanted = {p: first, q: round(first * salt.share(q) / salt.share(p) * apart, 1)}
    lines, rates = [], []
    for element in (p, q):
        held = line(
            f"{element} in a gram", "mg/g", (1000, "mg/g"), *salt.holding(element)
        )
        rate = line(
            f"a gram per litre meets of the {element}",
            "L/g",
            carried(held),
            "÷",
            (wanted[element], "mg/L"),
        )
        lines += [held, rate]
        rates.append(rate)
    a, b = map(carried, rates)
    total = line("a + b", "L/g", a, "+", b)
    squares = line("a² + b²", "L²/g²", a, "×", a, "+", b, "×", b)
    each = line("x", "g/L", carried(total), "÷", carried(squares))
    weight = line(f"in {litres} L", "g", carried(each), "×", (litres, "L"))
    exact = [litres / rate.value for rate in rates]
    return Task(
        given={"salt": name, "wanted": wanted, "litres": litres},
        question=f"One salt, two numbers: {salt.printed} is to bring {wanted[p]} mg/L of {p} and {wanted[q]} mg/L of {q} to "
        f"{litres} L of pure water. Both cannot be. With x g/L the misses, as shares of what is wanted, are a x − 1 and "
        f"b x − 1, where a and b are what 1 g/L meets of each number.\n\n"
        "The sum of their squares is least at x = (a + b) ÷ (a² + b²). How much salt is that for the tank?",
        solution=Working(
            "the nearest compromise", (*lines, total, squares, each, weight)
        ),
        unit="g",
        units=("kg", "mg"),
        slips=(
            Slip(exact[0], f"That meets {p} exactly and does not care for {q}."),
            Slip(exact[1], f"That meets {q} exactly and does not care for {p}."),
            Slip(
                sum(exact) / 2,
                "That is the mean of the two exact weights; the sum of squares is least elsewhere.",
            ),
            Slip(each.value, "That is for one litre."),
            Slip(
                litres / sum(rate.value for rate in rates),
                "The squares of a and b are added, not a and b squared together.",
            ),
        ),
        hints=(
            "How many mg of each nutrient does 1 g of the salt hold?",
            "Divide each by what is wanted of it: these are a and b, in litres per gram.",
            "Put a and b into the formula; the result is in g/L, the tank has more than one litre.",
        ),
        care=care_of(salt),
        remark="The program does the same with all salts and all rows at once.",
    )


LIMITED = (  # salt that is added, its nutrient, the other one, ratio at most, other wanted [mg/L], step
    ("potassium nitrate", "K", "Ca", (1.2, 2.2), (80, 180)),
    ("potassium sulfate", "K", "Ca", (1.2, 2.2), (80, 180)),
    ("potassium nitrate", "K", "Mg", (3.5, 6.0), (25, 55)),
    ("magnesium sulfate heptahydrate", "Mg", "Ca", (0.25, 0.50), (80, 180)),
)


def _largest(lot):
    """The largest weight that a ratio allows."""
    name, over, under, ratios, amounts = lot.one_of(LIMITED)
    salt, litres = SchoolSalt(name), lot.one_of((20, 25, 40, 50, 60, 80, 100, 150, 200))
    ratio, base = lot.between(*ratios, 0.05), lot.between(*amounts, 1)
    there = round(ratio * base * lot.between(0.20, 0.65, 0.01))
    most = line(f"{over} at most", "mg/L", ratio, "×", (base, "mg/L"))
    room = line("room for more", "mg/L", carried(most), "−", (there, "mg/L"))
    weight = line(
        f"the {salt.printed_formula} that brings it",
        "g",
        carried(room),
        "×",
        (litres, "L"),
        *salt.bringing(over),
        "÷",
        (1000, "mg/g"),
    )
    scale = weight.value / room.value
    moles = ratio * base / molar_mass(under) * molar_mass(over)
    return Task(
        given={
            "salt": name,
            "elements": (over, under),
            "ratio": ratio,
            "base": base,
            "there": there,
            "litres": litres,
        },
        question=f"A tank of {litres} L holds {base} mg/L of {under} and {there} mg/L of {over}. More {over} is wanted, but the "
        f"ratio {over}:{under} must stay at most {ratio}, counted in grams.\n\n"
        f"How much {salt.printed} may be added at most? (It adds no {under}, and the volume stays.)",
        solution=Working("as much as the ratio allows", (most, room, weight)),
        unit="g",
        units=("kg", "mg"),
        within_percent=1.5,  # a difference: its own rounding counts once more
        slips=(
            Slip(scale * most.value, f"The {over} that is there already is forgotten."),
            Slip(
                room.value * litres / 1000,
                f"That is the {over} that may come; the question asks for the salt.",
            ),
            Slip(
                scale * (moles - there),
                "That ratio counts atoms; this one counts grams.",
            ),
            Slip(weight.value / litres, "That is for one litre."),
        ),
        hints=(
            "A limit on a ratio is a straight line, too: multiply by what stands below.",
            f"{over} at most = ratio × {under}. How much of it is there already?",
            f"Room × litres ÷ atoms of {over} in the formula ÷ its molar mass × molar mass of the salt.",
        ),
        care=care_of(salt),
    )


CHARGES = {"K": 1, "Ca": 2, "Mg": 2, "N": -1, "P": -1, "S": -2}
IONS = {
    "K": "K⁺",
    "Ca": "Ca²⁺",
    "Mg": "Mg²⁺",
    "N": "NO₃⁻",
    "P": "H₂PO₄⁻",
    "S": "SO₄²⁻",
}
WHOLE = {"N": "NO3", "S": "SO4"}  # ions that are heavier than what is counted of them


def _missing_ion(lot):
    """The number that a target leaves out, from its charges."""
    missing = lot.one_of(("S", "N", "Ca", "K"))
    wanted = {e: v for e, v in _closed_target(lot).items() if e != missing}
    charges = {
        e: line(
            f"{e}, as {IONS[e]}",
            "meq/L",
            (v, "mg/L"),
            "÷",
            mass(e),
            "×",
            abs(CHARGES[e]),
        )
        for e, v in wanted.items()
    }
    cations, anions = (
        line(words, "meq/L", *_added(_of_sign(charges, sign)))
        for sign, words in ((1, "cations"), (-1, "anions"))
    )
    sides = (anions, cations) if CHARGES[missing] > 0 else (cations, anions)
    more, less = (carried(side) for side in sides)
    gap = line("missing", "meq/L", more, "−", less)
    numbers = carried(gap), "÷", abs(CHARGES[missing]), "×", mass(missing)
    answer = line(f"as {missing}", "mg/L", *numbers)
    rows = [(_told(e), f"{v}") for e, v in wanted.items()]
    return Task(
        given={"missing": missing, "wanted": wanted},
        question="A target names six ions, and one number cannot be read. The other five stand in the table; nothing else "
        f"carries charge.\n\nHow much {_told(missing)} must the sixth be, so that salts can meet the target at all?",
        table=(("ion", "mg/L"), *rows),
        solution=Working(
            "the charges close", (*charges.values(), cations, anions, gap, answer)
        ),
        unit="mg/L",
        units=("g/L",),
        within_percent=2.0,  # a difference of two sums
        slips=tuple(_slips_of_charge(missing, charges, gap.value)),
        hints=(
            "A solution is neutral: the charges of all cations are those of all anions.",
            "mg/L ÷ molar mass × charges gives meq/L. Add up each side.",
            "What one side lacks, in meq/L, ÷ charges of the missing ion × molar mass of its atom.",
        ),
        remark="Every salt is neutral, so this row holds for any shelf. What the charges lack, an ion fills that nobody named.",
    )


def _closed_target(lot):
    """Return a target whose charges close but for rounding. [mg/L]"""
    moles = {
        "K": lot.between(3.0, 7.0, 0.1),
        "Ca": lot.between(2.5, 4.5, 0.1),
        "Mg": lot.between(1.0, 2.0, 0.1),
    }
    phosphate = lot.between(0.8, 1.6, 0.1)
    left = sum(n * CHARGES[e] for e, n in moles.items()) - phosphate
    nitrate = left * lot.between(0.55, 0.75, 0.01)
    moles |= {"N": nitrate, "P": phosphate, "S": (left - nitrate) / 2}
    return {e: round(n * molar_mass(e), 1) for e, n in moles.items()}


def _told(element):
    """Return an element with the ion it is wanted as."""
    return f"{element} (as {IONS[element]})"


def _of_sign(charges, sign):
    """Return the charges of the cations, or of the anions."""
    return [carried(s) for e, s in charges.items() if CHARGES[e] * sign > 0]


def _slips_of_charge(missing, charges, gap):
    """Yield what goes wrong with charges; the gap in meq/L."""
    own, weight = CHARGES[missing], molar_mass(missing)
    atoms = sum(step.value / CHARGES[e] for e, step in charges.items())
    atoms = -atoms if own > 0 else atoms
    yield Slip(atoms * weight, "That balances atoms; it is charges that balance.")
    yield Slip(gap, "That is the charge in meq/L; asked are mg/L.")
    if abs(own) > 1:
        says = "So many charges: each of these ions carries two of them."
        yield Slip(gap * weight, says)
    if missing in WHOLE:
        says = f"That is the ion; the question asks for {missing}."
        yield Slip(gap / abs(own) * molar_mass(WHOLE[missing]), says)
    phosphate = charges["P"].value * (-1 if own > 0 else 1)
    says = "One anion is not counted: the phosphate."
    yield Slip((gap + phosphate) / abs(own) * weight, says)


def _added(numbers):
    """Return numbers with plus signs between them."""
    terms = [term for number in numbers for term in (number, "+")]
    return terms[:-1]


MORE = (
    ("What cannot be met", _cannot_be_met),
    ("Another volume, another strength", _scaled),
    ("The nearest compromise", _nearest),
    ("As much as a ratio allows", _largest),
    ("The missing ion", _missing_ion),
)
