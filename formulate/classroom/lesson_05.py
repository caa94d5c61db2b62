"""Exercises of lesson 05, first part: which weights give wanted numbers, salt by salt."""

from formulate.classroom.lesson_05_more import MORE
from formulate.classroom.lines import carried, line
from formulate.classroom.school_salts import SchoolSalt, care_of, low_indices, mass
from formulate.classroom.task import Slip, Task
from formulate.stoichiometry.formula import molar_mass
from formulate.working import Working

__all__ = ["EXERCISES"]

VOLUMES = (10, 20, 25, 40, 50, 60, 80, 100, 120, 150, 200, 250, 300, 400, 500)  # L

ONE_SALT = (  # salt, what it is taken for, lowest and highest wanted [mg/L], step
    ("potassium nitrate", "K", 60, 280, 5),
    ("potassium sulfate", "K", 60, 280, 5),
    ("magnesium sulfate heptahydrate", "Mg", 15, 60, 1),
    ("magnesium nitrate hexahydrate", "Mg", 15, 60, 1),
    ("calcium nitrate tetrahydrate", "Ca", 60, 200, 5),
    ("calcium chloride dihydrate", "Ca", 20, 90, 1),
    ("monopotassium phosphate", "P", 15, 60, 1),
)


def _one_salt(lot):
    """How much of one salt gives one number?"""
    name, element, low, high, step = lot.one_of(ONE_SALT)
    salt, wanted = SchoolSalt(name), lot.between(low, high, step)
    litres, each = lot.one_of(VOLUMES), SchoolSalt(name).count(element)
    needed = line(f"{element} in the tank", "mg", (wanted, "mg/L"), "×", (litres, "L"))
    amount = line("the same", "mmol", carried(needed), "÷", mass(element))
    salt_amount = line(
        f"{salt.printed_formula}, {each} {element} in each",
        "mmol",
        carried(amount),
        "÷",
        each,
    )
    weight = line(
        "its mass",
        "g",
        carried(salt_amount),
        "×",
        (salt.molar_mass, "g/mol"),
        "÷",
        (1000, "mg/g"),
    )
    return Task(
        given={"salt": name, "element": element, "wanted": wanted, "litres": litres},
        question=f"A tank of {litres} L is to hold {wanted} mg/L of {element}. "
        f"All of it comes from {salt.printed}; the water is pure. How much do you weigh?",
        solution=Working("the salt", (needed, amount, salt_amount, weight)),
        unit="g",
        units=("kg", "mg"),
        slips=_slips_of_one(salt, element, needed.value / 1000, litres, weight.value),
        hints=(
            "First the mass of the nutrient in the whole tank, then its amount in mmol.",
            "How many atoms of the nutrient are in one formula of the salt?",
            "Mass in the tank ÷ molar mass of the atom ÷ atoms in the formula × molar mass of the salt, "
            "crystal water included.",
        ),
        care=care_of(salt),
    )


def _slips_of_one(salt, element, nutrient, litres, right):
    """Return what goes wrong with one salt; the nutrient in the tank in g."""
    found = [
        Slip(nutrient, f"That is the {element}; the question asks for the salt."),
        Slip(right / litres, "That is for one litre."),
        Slip(
            nutrient * salt.share(element),
            "The salt is heavier than the nutrient in it: the share stands upside down.",
        ),
    ]
    if salt.count(element) > 1:
        found.append(
            Slip(
                right * salt.count(element),
                f"One formula holds more than one {element}.",
            )
        )
    if salt.dry_mass != salt.molar_mass:
        found.append(
            Slip(
                right * salt.dry_mass / salt.molar_mass,
                "The crystal water lies on the balance, too.",
            )
        )
    return tuple(found)


PAIRS = (  # two salts, two elements, wanted amounts of the salts [mmol/L]: lowest, highest
    ("monopotassium phosphate", "dipotassium phosphate", "P", "K", 0.3, 1.2),
    ("monoammonium phosphate", "diammonium phosphate", "P", "N", 0.3, 0.8),
    ("potassium sulfate", "potassium magnesium sulfate", "K", "S", 0.3, 0.9),
)


def _two_salts(lot):
    """Two salts, two numbers: solve for the first salt."""
    one, two, p, q, low, high = lot.one_of(PAIRS)
    first, second = SchoolSalt(one), SchoolSalt(two)
    x, y = (lot.between(low, high, 0.02) for _ in range(2))
    wanted = {
        element: round(
            (x * first.count(element) + y * second.count(element))
            * molar_mass(element),
            1,
        )
        for element in (p, q)
    }
    litres = lot.one_of(VOLUMES)
    a, b = (
        line(element, "mmol/L", (wanted[element], "mg/L"), "÷", mass(element))
        for element in (p, q)
    )
    (a1, a2), (b1, b2) = ([s.count(e) for s in (first, second)] for e in (p, q))
    both = a1 * b2 - a2 * b1
    alone = line(
        f"{b2} × {p} less {a2} × {q}: the second salt is gone",
        "mmol/L",
        carried(a),
        "×",
        b2,
        "−",
        carried(b),
        "×",
        a2,
    )
    amount = line(f"{first.printed_formula}", "mmol/L", carried(alone), "÷", both)
    weight = _weight(amount, first, litres)
    other = (a1 * b.value - b1 * a.value) / both * second.molar_mass * litres / 1000
    only = [n * first.molar_mass * litres / 1000 for n in (a.value / a1, b.value / b1)]
    return Task(
        given={"salts": (one, two), "wanted": wanted, "litres": litres},
        question=f"{litres} L of pure water are to hold exactly {wanted[p]} mg/L of {p} and {wanted[q]} mg/L of {q}. "
        f"On the shelf stand {first.printed} and {second.printed}; both bring {p} and {q}.\n\n"
        f"How much {first.printed_formula} do you weigh?",
        solution=Working("two rows, two salts", (a, b, alone, amount, weight)),
        unit="g",
        units=("kg", "mg"),
        within_percent=2.0,  # a small difference of large numbers: 31.0 for P moves it by half a per cent
        slips=(
            Slip(other, "That is the other salt."),
            Slip(
                only[0],
                f"That counts on this salt alone for {p}; the other brings some, too.",
            ),
            Slip(
                only[1],
                f"That counts on this salt alone for {q}; the other brings some, too.",
            ),
            Slip(weight.value / litres, "That is for one litre."),
        ),
        hints=(
            "Count in mmol/L: write one row for each wanted number, with x and y for the two salts.",
            f"The formulas give the rows: {_row(a1, a2)} = {p} and {_row(b1, b2)} = {q}, in mmol/L.",
            "Multiply the rows so that y has the same factor in both, subtract them, and only x is left.",
        ),
    )


def _row(first, second):
    """Return one side of an equation, such as x + 2 y."""
    return " + ".join(
        f"{n} {name}" if n > 1 else name for n, name in ((first, "x"), (second, "y"))
    )


def _weight(amount, salt, litres):
    """Return the line from mmol/L of a salt to its mass in the tank."""
    return line(
        f"in {litres} L",
        "g",
        carried(amount),
        "×",
        (salt.molar_mass, "g/mol"),
        "×",
        (litres, "L"),
        "÷",
        (1000, "mg/g"),
    )


ALONG = (  # salt, what it is taken for, what comes along, lowest and highest wanted [mg/L], step
    ("calcium nitrate tetrahydrate", "Ca", "N", 60, 200, 0.5),
    ("magnesium nitrate hexahydrate", "Mg", "N", 10, 60, 0.2),
    ("potassium sulfate", "K", "S", 60, 250, 0.5),
    ("magnesium sulfate heptahydrate", "Mg", "S", 10, 60, 0.2),
    ("potassium nitrate", "K", "N", 60, 280, 0.5),
    ("calcium chloride dihydrate", "Ca", "Cl", 20, 90, 0.2),
)
IONS = {"N": "NO3", "S": "SO4"}  # as what an element comes along


def _along(lot):
    """What does a salt bring besides?"""
    name, element, other, low, high, step = lot.one_of(ALONG)
    salt, wanted = SchoolSalt(name), lot.between(low, high, step)
    each, others = salt.count(element), salt.count(other)
    amount = line(element, "mmol/L", (wanted, "mg/L"), "÷", mass(element))
    along = line(
        f"{other}, {others} for every {each} {element}",
        "mmol/L",
        carried(amount),
        "×",
        others,
        "÷",
        each,
    )
    answer = line("its mass", "mg/L", carried(along), "×", mass(other))
    slips = [
        Slip(
            wanted, "Equal masses? Atoms are counted in mmol, and they differ in mass."
        ),
        Slip(
            wanted * others / each,
            "The atoms are counted, but not weighed: each kind has a mass of its own.",
        ),
    ]
    if others != each:
        slips += [
            Slip(
                answer.value * each / others,
                "Look at the small numbers of the formula.",
            ),
            Slip(
                answer.value * (each / others) ** 2,
                "The ratio of the formula stands upside down.",
            ),
        ]
    if other in IONS:
        slips.append(
            Slip(
                along.value * molar_mass(IONS[other]),
                f"That is the ion {low_indices(IONS[other])}; the question asks for {other}.",
            )
        )
    return Task(
        given={"salt": name, "elements": (element, other), "wanted": wanted},
        question=f"{wanted} mg/L of {element} are met with {salt.printed}. How much {other} comes along?",
        solution=Working("what comes along", (amount, along, answer)),
        unit="mg/L",
        units=("g/L",),
        slips=tuple(slips),
        hints=(
            "A salt never comes alone: its formula fixes the ratio of its ions.",
            "Go over mmol/L: the small numbers of the formula count atoms, not grams.",
            "Wanted ÷ molar mass of its atom × ratio of the atoms in the formula × molar mass of the other atom.",
        ),
        remark="Nobody asked for it, but it is there: it belongs in the row of that nutrient.",
    )


AFTER = (  # weighed for what, what it brings besides, second salt, wanted of the first [mg/L]
    ("monopotassium phosphate", "P", "K", "potassium nitrate", 20, 55),
    ("monopotassium phosphate", "P", "K", "potassium sulfate", 20, 55),
    ("magnesium sulfate heptahydrate", "Mg", "S", "potassium sulfate", 15, 45),
    ("calcium nitrate tetrahydrate", "Ca", "N", "potassium nitrate", 60, 140),
    ("magnesium nitrate hexahydrate", "Mg", "N", "potassium nitrate", 15, 50),
)


def _left_over(lot):
    """What is left for the second salt once the first is weighed?"""
    one, reason, element, two, low, high = lot.one_of(AFTER)
    first, second = SchoolSalt(one), SchoolSalt(two)
    litres = lot.one_of(VOLUMES)
    grams = round(lot.between(low, high, 1) * litres / 1000 / first.share(reason), 1)
    there = grams * first.share(element) / litres * 1000
    wanted = round(there / lot.between(0.25, 0.70, 0.01))
    brought = line(
        f"{element} from the {grams} g",
        "mg/L",
        (grams, "g"),
        *first.holding(element),
        "×",
        (1000, "mg/g"),
        "÷",
        (litres, "L"),
    )
    left = line("still to bring", "mg/L", (wanted, "mg/L"), "−", carried(brought))
    amount = line(
        f"{second.printed_formula}",
        "mmol/L",
        carried(left),
        "÷",
        mass(element),
        "÷",
        second.count(element),
    )
    weight = _weight(amount, second, litres)
    return Task(
        given={
            "salts": (one, two),
            "element": element,
            "grams": grams,
            "wanted": wanted,
            "litres": litres,
        },
        question=f"{grams} g of {first.printed} are dissolved in a tank of {litres} L, for their {reason}. "
        f"Wanted are also {wanted} mg/L of {element}, and the first salt brings some of it.\n\n"
        f"How much {second.printed} brings the rest?",
        solution=Working("order of calculation", (brought, left, amount, weight)),
        unit="g",
        units=("kg", "mg"),
        within_percent=1.5,  # a difference: its own rounding counts once more
        slips=tuple(
            _slips_of_rest(element, wanted, brought.value, weight.value, litres)
        ),
        hints=(
            "Order of calculation: the first salt lies in the tank already. What does it bring besides?",
            f"How many mg/L of {element} does the first salt bring? Take them off what is wanted.",
            f"What is left ÷ molar mass of {element} ÷ its atoms in the second salt × molar mass of that salt × litres.",
        ),
        care=care_of(first, second),
    )


def _slips_of_rest(element, wanted, brought, right, litres):
    """Yield what goes wrong with a rest; wanted and brought in mg/L."""
    scale = right / (wanted - brought)
    says = f"The {element} that is in the tank already is forgotten."
    yield Slip(scale * wanted, says)
    says = f"The {element} that is in the tank already was added to what is wanted."
    yield Slip(scale * (wanted + brought), says)
    says = f"That is the {element} still to bring; the question asks for the salt."
    yield Slip((wanted - brought) * litres / 1000, says)
    says = f"That would bring the {element} which is there already."
    yield Slip(scale * brought, says)


EXERCISES = (
    ("One salt for one number", _one_salt),
    ("Two salts, two numbers", _two_salts),
    ("What comes along", _along),
    ("What is left for the second salt", _left_over),
    *MORE,
)
