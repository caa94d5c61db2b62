"""Shared lines of lesson 02, and its exercises about heated crystals and sulfate found by barium."""

from formulate.classroom.lines import line
from formulate.classroom.school_salts import SchoolSalt, low_indices
from formulate.classroom.task import Option, Slip, Task
from formulate.stoichiometry.formula import atomic_mass, molar_mass, parse_formula
from formulate.working import Working

__all__ = ["MORE"]

HEATED = (
    "magnesium sulfate heptahydrate",
    "copper sulfate pentahydrate",
    "zinc sulfate heptahydrate",
    "gypsum",
    "sodium carbonate decahydrate",
)
SULFATES = (
    "potassium sulfate",
    "ammonium sulfate",
    "potassium magnesium sulfate",
    "magnesium sulfate heptahydrate",
    "zinc sulfate heptahydrate",
    "manganese sulfate monohydrate",
)
WHITE_SULFATES = (  # their grams of BaSO4 from a gram are at least 4 % apart
    "potassium sulfate",
    "ammonium sulfate",
    "magnesium sulfate anhydrous",
    "magnesium sulfate monohydrate",
    "magnesium sulfate heptahydrate",
    "zinc sulfate heptahydrate",
)
WATER = "H2O"
BARYTE = "BaSO4"


def named(name):
    """Return a salt as a question says it."""
    return SchoolSalt(name).printed


def mass_line(formula):
    """Return the line that adds up a molar mass, its crystal water as water."""
    terms = []
    for symbol, count in parse_formula(formula.partition("·")[0]).atoms.items():
        terms += ["+", *([int(count), "×"] if count > 1 else []), atomic_mass(symbol)]
    waters = parse_formula(formula).water
    if waters:
        terms += ["+", int(waters), "×", molar_mass(WATER)]
    return line(f"molar mass of {low_indices(formula)}", "g/mol", *terms[1:])


def _crystal_water(lot):
    """How many waters left the crystal when it was heated?"""
    name = lot.one_of(HEATED)
    crucible, sample = lot.between(18.0, 34.0, 0.01), lot.between(4.0, 12.0, 0.01)
    off = lot.between(-0.01, 0.01, 0.01)  # g: a reading is a step off
    one = SchoolSalt(name)
    dry_formula = one.formula.partition("·")[0]
    before = round(crucible + sample, 2)
    after = round(crucible + sample * one.dry_mass / one.molar_mass + off, 2)
    water = line("water", "g", (before, "g"), "−", (after, "g"))
    dry = line("dry salt", "g", (after, "g"), "−", (crucible, "g"))
    mass = mass_line(dry_formula)
    n_water = line(
        "moles of water", "mol", (water.value, "g"), "÷", (molar_mass(WATER), "g/mol")
    )
    n_dry = line(
        "moles of dry salt", "mol", (dry.value, "g"), "÷", (mass.value, "g/mol")
    )
    last = line(
        "water per dry salt", "", (n_water.value, "mol"), "÷", (n_dry.value, "mol")
    )
    in_sample = n_water.value * mass.value / sample
    return Task(
        given={
            "salt": dry_formula,
            "crucible": crucible,
            "before": before,
            "after": after,
        },
        question=f"A hydrate of {low_indices(dry_formula)} is heated until two weighings agree; then it is dry. "
        "How many H₂O does one formula of the crystal hold? Give a whole number or a decimal.",
        solution=Working(
            "water of crystallisation", (water, dry, mass, n_water, n_dry, last)
        ),
        within_percent=2.5,  # the last step of the balance is worth up to 2.3 %
        slips=(
            Slip(
                water.value / dry.value,
                "That compares grams; a formula counts particles.",
            ),
            Slip(
                in_sample,
                "That takes the crystal for the dry salt: its mass still holds the water.",
            ),
            Slip(1 / last.value, "That is dry salt per water: the other way round."),
            Slip(
                n_water.value * mass.value / after,
                "The crucible was weighed with the salt: it is no salt.",
            ),
            *(
                Slip(
                    round(last.value) + more,
                    "A whole water is more than a rounding: look at your differences again.",
                )
                for more in (-1, 1)
            ),
        ),
        hints=(
            "What left the crucible, and what is still in it?",
            "Both masses to moles: water by its molar mass, the rest by that of the dry salt.",
            "Moles of water ÷ moles of dry salt. A reading is 0.01 g wide, so it need not come out whole.",
        ),
        table=(
            ("on the balance", "g"),
            ("crucible, empty", f"{crucible:.2f}"),
            ("crucible with crystals", f"{before:.2f}"),
            ("crucible after heating", f"{after:.2f}"),
        ),
        remark=f"A formula takes whole numbers: the nearest is {last.value:.0f}.",
        care=(
            "A crucible stays hot for long: tongs, goggles, a dry place to cool.",
            "Heat gently at first, crystals spit; keep the dust of the dry salt out of eyes and nose.",
        ),
    )


def _found_baryte(lot, one, sample):
    """Return the barium sulfate that a laboratory weighs from a sulfate. [g]"""
    recovery = lot.between(0.99, 1.004, 0.001)
    exact = sample * one.count("S") * molar_mass(BARYTE) / one.molar_mass
    return round(exact * recovery, 3)


def _sulfur_by_barium(lot):
    """How many per cent of a sample are sulfur?"""
    sample, name = lot.between(0.4, 1.2, 0.001), lot.one_of(SULFATES)
    found = _found_baryte(lot, SchoolSalt(name), sample)
    first = mass_line(BARYTE)
    terms = ((atomic_mass("S"), "g/mol"), "÷", (first.value, "g/mol"))
    sulfur = line("S in it", "g", (found, "g"), "×", *terms)
    last = line(
        "S in the sample", "%", (sulfur.value, "g"), "÷", (sample, "g"), "×", (100, "%")
    )
    sulfate = last.value * molar_mass("SO4") / atomic_mass("S")
    return Task(
        given={"sample": sample, "found": found},
        question=f"A laboratory dissolves {sample:.3f} g of a sulfate and adds barium chloride until nothing more falls "
        f"out. The barium sulfate, BaSO₄, weighs {found:.3f} g when washed and dry. How many per cent of the sample are "
        "sulfur, S?",
        solution=Working("sulfur by barium", (first, sulfur, last)),
        unit="%",
        units=("g/kg", "mg/kg"),
        slips=(
            Slip(sulfate, "That is the sulfate, SO₄; the question asks for S."),
            Slip(
                100 * found / sample,
                "That is barium sulfate per sample; most of it is barium and oxygen.",
            ),
            Slip(
                100 * sulfur.value / found,
                "That is the share of S in barium sulfate, whatever the sample.",
            ),
            Slip(
                100 * sulfur.value / found * sample / found,
                "Sample and barium sulfate have changed places.",
            ),
        ),
        hints=(
            "All the sulfur of the sample is now in the barium sulfate.",
            "One BaSO₄ holds one S: which part of its mass is that?",
            f"Grams of S = grams of BaSO₄ × {atomic_mass('S'):.2f} ÷ its molar mass; then per gram of what was dissolved.",
        ),
        remark="Barium that dissolves is a poison: this is work for a laboratory. Barium sulfate hardly dissolves.",
    )


def _unknown_jar(lot):
    """Which of four sulfates is in a jar?"""
    names, place = lot.some_of(WHITE_SULFATES, 4), lot.below(4)
    sample = lot.between(0.4, 1.2, 0.001)
    found = _found_baryte(lot, SchoolSalt(names[place]), sample)
    letters, salts = "ABCD", tuple(map(SchoolSalt, names))
    first = mass_line(BARYTE)
    due = (
        line(
            f"due from {low_indices(one.formula)}",
            "g/g",
            (first.value, "g/mol"),
            "÷",
            (round(one.molar_mass, 3), "g/mol"),
        )
        for one in salts
    )
    came = line("found from one gram", "g/g", (found, "g"), "÷", (sample, "g"))
    return Task(
        given={"names": names, "sample": sample, "found": found},
        question=f"A jar of a white salt has lost its label; it is one of the four below. A laboratory dissolves "
        f"{sample:.3f} g of it and finds {found:.3f} g of barium sulfate, BaSO₄ (washing and weighing may shift this by 1 %). "
        "Which salt is in the jar?",
        solution=Working("barium sulfate from one gram", (first, *due, came)),
        options={
            letter: Option(
                f"{one.name}, {low_indices(one.formula)}",
                _not_this(one, found / sample),
            )
            for letter, one in zip(letters, salts, strict=True)
        },
        right=letters[place],
        hints=(
            "Work out how much barium sulfate came from one gram of the salt.",
            f"One mole of each of these salts gives one mole of BaSO₄: {molar_mass(BARYTE):.1f} g.",
            "Divide that by the molar mass of each salt and compare with what was found from one gram.",
        ),
        remark="Barium that dissolves is a poison: this is work for a laboratory.",
    )


def _not_this(one, found):
    """Return why a jar does not hold a salt."""
    due = molar_mass(BARYTE) / one.molar_mass
    more = "more" if due > found else "less"
    return f"One gram of {low_indices(one.formula)} would give {due:.2f} g of BaSO₄, {more} than the {found:.2f} g found."


MORE = (
    ("How much water is in the crystal", _crystal_water),
    ("Sulfate by barium", _sulfur_by_barium),
    ("The jar without a label", _unknown_jar),
)
