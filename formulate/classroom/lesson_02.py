"""Exercises of lesson 02: moles, masses, hydrates."""

from formulate.classroom.lesson_02_more import (
    MORE,
    WATER,
    mass_line,
    named,
)
from formulate.classroom.lines import line
from formulate.classroom.school_salts import SchoolSalt, care_of
from formulate.classroom.task import Slip, Task
from formulate.stoichiometry.formula import atomic_mass, molar_mass, parse_formula
from formulate.stoichiometry.notation import printed_ion
from formulate.stoichiometry.nutrients import form, nutrient
from formulate.working import Working

__all__ = ["EXERCISES"]

WEIGHED = (
    "calcium nitrate tetrahydrate",
    "calcium chloride dihydrate",
    "potassium nitrate",
    "potassium sulfate",
    "potassium chloride",
    "monopotassium phosphate",
    "monoammonium phosphate",
    "ammonium sulfate",
    "magnesium sulfate heptahydrate",
    "magnesium nitrate hexahydrate",
    "manganese sulfate monohydrate",
    "zinc sulfate heptahydrate",
    "copper sulfate pentahydrate",
    "ferrous sulfate heptahydrate",
)
TWO_BAGS = (  # the one in the recipe, the one on the shelf
    ("magnesium sulfate anhydrous", "magnesium sulfate heptahydrate"),
    ("magnesium sulfate monohydrate", "magnesium sulfate heptahydrate"),
    ("calcium nitrate anhydrous", "calcium nitrate tetrahydrate"),
    ("magnesium nitrate anhydrous", "magnesium nitrate hexahydrate"),
    ("calcium chloride anhydrous", "calcium chloride dihydrate"),
    ("copper sulfate anhydrous", "copper sulfate pentahydrate"),
    ("zinc sulfate monohydrate", "zinc sulfate heptahydrate"),
    ("manganese sulfate monohydrate", "manganese sulfate tetrahydrate"),
)
ELEMENTS = {"N", "P", "K", "Ca", "Mg", "S", "Mn", "Zn", "Cu", "Fe"}


def _ion(lot, formula):
    """Return an ion of a salt: how it is said, how many of a formula, its molar mass."""
    key, count = lot.one_of(tuple(parse_formula(formula).forms.items()))
    ion = form(key).nominal_ion
    return f"{form(key).name} ({printed_ion(ion)})", int(count), molar_mass(ion)


def _of_amount(lot):
    """What does an amount of a salt weigh?"""
    amount, name = lot.between(0.05, 0.8, 0.005), lot.one_of(WEIGHED)
    one = SchoolSalt(name)
    first = mass_line(one.formula)
    last = line("mass", "g", (amount, "mol"), "×", (first.value, "g/mol"))
    waters = parse_formula(one.formula).water
    atoms = parse_formula(one.formula).atoms
    slips = [
        Slip(first.value, "That is the mass of one mole; here is less than one."),
        Slip(
            first.value / amount, "That divides by the amount: less would weigh more."
        ),
    ]
    if len(atoms) < sum(atoms.values()):
        single = amount * sum(map(atomic_mass, atoms))
        slips.append(
            Slip(single, "Each kind of atom is counted once: read the indices.")
        )
    if waters:
        slips.append(
            Slip(amount * one.dry_mass, "The water in the crystal is left out.")
        )
    if waters > 1:
        lone = one.dry_mass + molar_mass(WATER)
        slips.append(Slip(amount * lone, "Only one water of the crystal is counted."))
    return Task(
        given={"amount": amount, "salt": name},
        question=f"What do {amount:.3f} mol of {named(name)} weigh?",
        solution=Working("mass of an amount", (first, last)),
        unit="g",
        units=("mg", "kg"),
        slips=tuple(slips),
        hints=(
            "First the mass of one mole: which atoms are in the formula, and how many of each?",
            "An index behind a bracket counts all that is inside it; what stands behind the dot is weighed too.",
            "Mass = amount × molar mass.",
        ),
    )


def _in_weighing(lot):
    """How many millimoles of an ion are in a weighing?"""
    mass, name = lot.between(1.0, 60.0, 0.1), lot.one_of(WEIGHED)
    one = SchoolSalt(name)
    ion, count, ion_mass = _ion(lot, one.formula)
    first = mass_line(one.formula)
    terms = ((mass, "g"), "÷", (first.value, "g/mol"), "×", (1000, "mmol/mol"))
    last = line(
        f"amount of {ion}", "mmol", *terms, *(["×", count] if count > 1 else [])
    )
    slips = [
        Slip(
            1000 * count * mass / ion_mass,
            "That takes all that is weighed for the ion.",
        ),
        Slip(
            mass * first.value,
            "That multiplies by the molar mass: heavier salts would hold more.",
        ),
    ]
    if count > 1:
        slips += [
            Slip(last.value / count, "One formula brings more than one of these ions."),
            Slip(1000 * mass / ion_mass, "That takes all that is weighed for the ion."),
        ]
    if "·" in one.formula:
        dry = 1000 * count * mass / one.dry_mass
        slips.append(
            Slip(dry, "The water in the crystal is left out, but it was weighed.")
        )
    else:
        half = last.value / 2 if count == 1 else last.value * 2
        slips.append(
            Slip(half, "Count again how many of these ions one formula holds.")
        )
    return Task(
        given={"mass": mass, "salt": name, "ion": ion, "count": count},
        question=f"On the balance lie {mass:.1f} g of {named(name)}. How many millimoles of {ion} do they bring?",
        solution=Working("amount of an ion", (first, last)),
        unit="mmol",
        units=("mol",),
        slips=tuple(slips),
        hints=(
            "How many moles of the whole salt are that, and how many of the ion are in one formula?",
            "Amount = mass ÷ molar mass of all that lies on the balance.",
            "Divide the grams by the molar mass, multiply by the number of these ions in the formula, then mol to mmol.",
        ),
        care=care_of(one),
    )


def _of_sack(lot):
    """How many per cent of a sack are an element?"""
    purity, name = lot.between(88.0, 97.0, 0.1), lot.one_of(WEIGHED)
    one = SchoolSalt(name)
    symbols = sorted(ELEMENTS & set(parse_formula(one.formula).atoms))
    symbol = lot.one_of(symbols)
    count, word = one.count(symbol), nutrient(symbol).name
    first = mass_line(one.formula)
    terms = (count, "×", (atomic_mass(symbol), "g/mol"), "÷", (first.value, "g/mol"))
    share = line(f"{symbol} in the pure salt", "%", *terms, "×", (100, "%"))
    last = line(f"{symbol} in the sack", "%", (share.value, "%"), "×", purity, "÷", 100)
    right = last.value
    slips = [
        Slip(share.value, "That is the pure salt; not all of the sack is salt."),
        Slip(
            share.value / purity * 100,
            "That divides by the purity: an impure sack would hold more.",
        ),
    ]
    if count > 1:
        slips.append(Slip(right / count, f"One formula holds more than one {symbol}."))
    else:
        slips.append(
            Slip(2 * right, f"Count again how many {symbol} one formula holds.")
        )
    if "·" in one.formula:
        dry = right * one.molar_mass / one.dry_mass
        slips.append(Slip(dry, "The water in the crystal is left out."))
    return Task(
        given={"purity": purity, "salt": name, "symbol": symbol},
        question=f"A sack of {named(name)} is {purity:.1f} % pure; the rest is moisture and sand. "
        f"How many per cent of the sack are {word}, {symbol}?",
        solution=Working(f"share of {symbol}", (first, share, last)),
        unit="%",
        units=("g/kg", "mg/kg"),
        slips=tuple(slips),
        hints=(
            "First the pure salt: which part of a mole's mass is this element?",
            "Share of the element = number of its atoms × its atomic mass ÷ molar mass.",
            "Only the pure part counts: multiply the share by the purity.",
        ),
    )


def _for_feed(lot):
    """How many grams give a wanted concentration?"""
    wanted, volume = lot.between(0.5, 8.0, 0.1), lot.one_of((5, 10, 20, 50, 100, 200))
    name = lot.one_of(WEIGHED[:10])
    one = SchoolSalt(name)
    ion, count, ion_mass = _ion(lot, one.formula)
    first = mass_line(one.formula)
    ions = line("ions in all", "mmol", (wanted, "mmol/L"), "×", (volume, "L"))
    terms = ((ions.value, "mmol"), "÷", (1000, "mmol/mol"), "×", (first.value, "g/mol"))
    last = line("salt", "g", *terms, *(["÷", count] if count > 1 else []))
    right = last.value
    slips = [
        Slip(right / volume, "That is enough for one litre."),
        Slip(
            ions.value * ion_mass / 1000,
            "That is the mass of the ion alone, without its partner.",
        ),
    ]
    if count > 1:
        slips.append(
            Slip(right * count, "One formula brings more than one of these ions.")
        )
        slips.append(
            Slip(
                right * count**2,
                "That multiplies by the ions of a formula: more ions, less salt.",
            )
        )
    else:
        parts = ions.value / first.value
        slips.append(
            Slip(
                parts,
                "That divides by the molar mass: heavy salts would need fewer grams.",
            )
        )
    if "·" in one.formula:
        dry = right * one.dry_mass / one.molar_mass
        slips.append(
            Slip(
                dry, "The water in the crystal is left out, but it must be weighed too."
            )
        )
    return Task(
        given={
            "wanted": wanted,
            "volume": volume,
            "salt": name,
            "ion": ion,
            "count": count,
        },
        question=f"{volume} L of feed are to hold {wanted:.1f} mmol/L of {ion}, all of it from {named(name)}. "
        "How many grams of the salt are weighed?",
        solution=Working("salt for a feed", (first, ions, last)),
        unit="g",
        units=("mg", "kg"),
        slips=tuple(slips),
        hints=(
            "How many millimoles of the ion are needed for the whole volume?",
            "How many of these ions does one formula bring? So many times less salt is needed.",
            "Grams = mmol/L × litres ÷ 1000 × molar mass ÷ ions in one formula.",
        ),
        care=care_of(one),
    )


def _wrong_bag(lot):
    """How much is missing if the heavier hydrate was weighed like the lighter one?"""
    mass, (asked, bag) = lot.between(2.0, 80.0, 0.1), lot.one_of(TWO_BAGS)
    light, heavy = SchoolSalt(asked), SchoolSalt(bag)
    first, second = mass_line(light.formula), mass_line(heavy.formula)
    moles = line("moles wanted", "mol", (mass, "g"), "÷", (first.value, "g/mol"))
    water = line(
        "water more in a mole of the bag",
        "g/mol",
        (second.value, "g/mol"),
        "−",
        (first.value, "g/mol"),
    )
    last = line("still missing", "g", (moles.value, "mol"), "×", (water.value, "g/mol"))
    brought = mass * first.value / second.value
    return Task(
        given={"mass": mass, "asked": asked, "bag": bag},
        question=f"A recipe asks for {mass:.1f} g of {named(asked)}. On the shelf is {named(bag)}. "
        f"A pupil weighs {mass:.1f} g of that and dissolves it.\n\n"
        "How many grams of the same bag are still to be added?",
        solution=Working("the missing grams", (first, second, moles, water, last)),
        unit="g",
        units=("mg", "kg"),
        slips=(
            Slip(
                mass + last.value,
                "That would be all of it from the start; some is in already.",
            ),
            Slip(
                mass - brought,
                "So much of the recipe's salt is missing; the bag holds more water.",
            ),
            Slip(brought, "That is how much of the recipe's salt is in already."),
        ),
        hints=(
            "The same number of moles is wanted, whatever water comes along.",
            "Moles of the recipe = mass ÷ its molar mass. What would they weigh from the bag?",
            "Needed of the bag = mass × molar mass in the bag ÷ molar mass in the recipe. Part of it is in already.",
        ),
        care=care_of(heavy),
    )


EXERCISES = (
    ("What an amount weighs", _of_amount),
    ("How many particles lie on the balance", _in_weighing),
    ("What part of the sack", _of_sack),
    ("Grams for a wanted concentration", _for_feed),
    ("The bag with more water", _wrong_bag),
    *MORE,
)
