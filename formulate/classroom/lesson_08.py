"""Exercises of lesson 08: gypsum by hand, what falls out, what a wrong order locks up."""

from formulate.classroom.lesson_08_more import MORE, kept_apart
from formulate.classroom.lines import care, carried, line, ten_to
from formulate.classroom.school_salts import SchoolSalt, care_of, low_indices
from formulate.classroom.task import Option, Slip, Task
from formulate.stoichiometry.formula import molar_mass
from formulate.working import Working, printed

__all__ = ["EXERCISES"]

KELVIN = 298.15
MICRO = 6.0  # lg of (mmol/L)² in (mol/L)²
NITRATE, EPSOM = "calcium nitrate tetrahydrate", "magnesium sulfate heptahydrate"
GYPSUM, BRUSHITE = "CaSO4·2H2O", "CaHPO4·2H2O"
SEDIMENTS = {  # solid and element: feed in mg/L, the other element, what went wrong
    ("gypsum", "S"): ((40, 120, 1), "Ca", "two concentrates met in one jug"),
    ("gypsum", "Ca"): ((100, 200, 1), "S", "two concentrates met in one jug"),
    ("brushite", "P"): ((30, 60, 1), "Ca", "phosphate went in last, into hard water"),
}
FORMULAS = {"gypsum": GYPSUM, "brushite": BRUSHITE}
CALCIUM = {  # grams in a litre of concentrate
    NITRATE: (60, 120, 5),
    "calcium chloride dihydrate": (15, 40, 1),
}
SULFATES = {
    EPSOM: (20, 50, 1),
    "potassium sulfate": (20, 40, 1),
    "ammonium sulfate": (8, 20, 1),
}
PHOSPHATES = {
    "monopotassium phosphate": (10, 25, 1),
    "monoammonium phosphate": (8, 15, 1),
}
OTHERS = {
    "potassium nitrate": (20, 60, 1),
    "magnesium nitrate hexahydrate": (15, 50, 1),
}


def _gypsum_log_k():
    """Return the decadic logarithm of the solubility product of gypsum, of mol/L."""
    from formulate.chemistry.constants import log_k
    from formulate.chemistry.solids import mineral

    return round(log_k(mineral("gypsum").log_k, KELVIN), 2)


def _calcium_beside_epsom(lot):
    """How much calcium nitrate keeps beside Epsom salt?"""
    grams, gamma = lot.between(1.0, 5.0, 0.05), lot.between(0.36, 0.50, 0.01)
    epsom, nitrate, power = SchoolSalt(EPSOM), SchoolSalt(NITRATE), _gypsum_log_k()
    over = line("powers of ten above a (mmol/L)²", "", (MICRO, ""), "−", (-power, ""))
    product = ten_to(over.value, "solubility product", "(mmol/L)²")
    sulfate = line(
        "sulfate",
        "mmol/L",
        (grams, "g/L"),
        "÷",
        (epsom.molar_mass, "g/mol"),
        "×",
        (1000, "mmol/mol"),
    )
    calcium = line(
        "calcium that keeps beside it",
        "mmol/L",
        (product.value, "(mmol/L)²"),
        "÷",
        (gamma, ""),
        "÷",
        (gamma, ""),
        "÷",
        carried(sulfate),
    )
    last = line(
        "as calcium nitrate",
        "g/L",
        carried(calcium),
        "×",
        (nitrate.molar_mass, "g/mol"),
        "÷",
        (1000, "mmol/mol"),
    )
    right = last.value
    return Task(
        given={"epsom": grams, "gamma": gamma, "power": power},
        question=f"Gypsum falls when (γ × Ca) × (γ × SO₄) is more than 10^{printed(power, 3).replace('-', '−')} (mol/L)². A litre holds "
        f"{grams:.2f} g of {epsom.printed}; γ, the activity coefficient of both ions, is {gamma:.2f} there. Pairs are left out. "
        f"How many g/L of {nitrate.printed} can there be before gypsum falls?",
        solution=Working(
            "Calcium nitrate beside Epsom salt",
            (over, product, sulfate, calcium, last),
        ),
        unit="g/L",
        units=("mg/L",),
        slips=(
            Slip(right * gamma, "Both ions count for less: calcium and sulfate."),
            Slip(
                right * gamma**2,
                "That takes the concentrations as they are; the ions count for less.",
            ),
            Slip(
                right * epsom.dry_mass / epsom.molar_mass,
                "Epsom salt is weighed with its crystal water.",
            ),
            Slip(
                right * nitrate.dry_mass / nitrate.molar_mass,
                "The calcium nitrate asked for has crystal water.",
            ),
        ),
        hints=(
            "How many mol/L of sulfate are there, and how many of calcium may stand beside it?",
            "Solve the product for calcium: divide by the sulfate, and by γ once for each ion.",
            "10 to the power given, over γ twice, over the sulfate in mol/L; times the molar mass of calcium nitrate.",
        ),
        care=care_of(nitrate),
        remark="Pairs (CaSO₄, MgSO₄, dissolved) hold more of both back, so that really more keeps; an index counts them.",
    )


def _gypsum_that_falls(lot):
    """How much gypsum falls when two concentrates meet?"""
    strong, weak = lot.between(80, 150, 1), lot.between(30, 70, 1)
    litres, left = lot.between(0.2, 1.0, 0.05), lot.between(10.0, 25.0, 0.5)
    epsom, nitrate, gypsum = SchoolSalt(EPSOM), SchoolSalt(NITRATE), molar_mass(GYPSUM)
    poured = line(
        "sulfate poured",
        "mmol",
        (weak, "g/L"),
        "×",
        (litres, "L"),
        "÷",
        (epsom.molar_mass, "g/mol"),
        "×",
        (1000, "mmol/mol"),
    )
    stays = line("sulfate that stays", "mmol", (left, "mmol/L"), "×", (2 * litres, "L"))
    falls = line("sulfate that falls", "mmol", carried(poured), "−", carried(stays))
    last = line(
        "gypsum", "g", carried(falls), "×", (gypsum, "g/mol"), "÷", (1000, "mmol/mol")
    )
    calcium = strong * litres / nitrate.molar_mass * 1000
    each = gypsum / 1000
    return Task(
        given={"strong": strong, "weak": weak, "litres": litres, "left": left},
        question=f"Tank A holds {strong} g/L of {nitrate.printed}, tank B {weak} g/L of {epsom.printed}. By mistake {litres:g} L of A "
        f"and {litres:g} L of B are poured together. When the cloud has settled, the clear liquid still holds {left:g} mmol/L of "
        f"sulfate. How many grams of gypsum ({low_indices(GYPSUM)}) lie at the bottom? (Volumes add up.)",
        solution=Working("Gypsum that falls", (poured, stays, falls, last)),
        unit="g",
        units=("mg", "kg"),
        slips=(
            Slip(poured.value * each, "Some sulfate stays dissolved: it was measured."),
            Slip(
                (poured.value - stays.value / 2) * each,
                "What stays dissolved is in both volumes together.",
            ),
            Slip(
                (calcium - stays.value) * each,
                "There is more calcium than sulfate: which of them runs out?",
            ),
            Slip(
                falls.value * molar_mass("CaSO4") / 1000, "Gypsum takes up two waters."
            ),
        ),
        hints=(
            "Each sulfate that has left the liquid lies at the bottom with one calcium.",
            "How many mmol of sulfate were poured, and how many are still dissolved in the whole of it?",
            "Poured less left, in mmol, times the molar mass of gypsum with its two waters; then mg into g.",
        ),
        care=(*care("concentrates"), *care_of(nitrate)),
        remark="Filling up with water would dissolve it again, but slowly; the plants drink meanwhile.",
    )


def _locked_up(lot):
    """Which share of a nutrient lies in a sediment?"""
    solid, element = lot.one_of(tuple(SEDIMENTS))
    span, other, why = SEDIMENTS[solid, element]
    wanted, tank = lot.between(*span), lot.between(50, 250, 10)
    formula = FORMULAS[solid]
    whole, atom = molar_mass(formula), molar_mass(element)
    share = lot.between(12.0, 65.0, 0.1)
    grams = round(wanted * tank / 1000 * share / 100 * whole / atom, 2)
    meant = line(
        f"{element} meant to be in the tank",
        "g",
        (wanted, "mg/L"),
        "×",
        (tank, "L"),
        "÷",
        (1000, "mg/g"),
    )
    locked = line(
        f"{element} in the sediment",
        "g",
        (grams, "g"),
        "×",
        (atom, "g/mol"),
        "÷",
        (whole, "g/mol"),
    )
    last = line("share", "%", carried(locked), "÷", carried(meant), "×", (100, "%"))
    right = last.value
    dry = molar_mass(formula.partition("·")[0])
    return Task(
        given={
            "solid": solid,
            "element": element,
            "wanted": wanted,
            "tank": tank,
            "grams": grams,
        },
        question=f"A feed of {tank} L was to hold {wanted} mg/L of {element}, but {why}. The sediment, filtered off and dried in the air, "
        f"is {grams:.2f} g of {solid} ({low_indices(formula)}). How many per cent of the {element} are locked up in it?",
        solution=Working(f"{element} locked up", (meant, locked, last)),
        unit="%",
        slips=(
            Slip(
                right * whole / atom,
                f"That counts the sediment as if all were {element}.",
            ),
            Slip(right * whole / dry, "The sediment is weighed with its two waters."),
            Slip(100 - right, "That is what is left in the feed."),
            Slip(
                right * molar_mass(other) / atom,
                f"That is the mass of the {other} in it; asked is {element}.",
            ),
        ),
        hints=(
            f"How many grams of {element} were to be in the whole tank, and how many are in the sediment?",
            f"The sediment holds one {element} in each formula: molar mass over molar mass, waters included.",
            f"Grams of {element} in the sediment over grams of {element} meant, times a hundred.",
        ),
        remark="A meter for EC sees the loss; which nutrient it was, it does not tell.",
    )


def _two_tanks(lot):
    """Which salts may share a concentrate?"""
    kinds = (CALCIUM, SULFATES, PHOSPHATES, OTHERS)
    salts = tuple(lot.one_of(tuple(kind)) for kind in kinds)
    grams = tuple(
        lot.between(*kind[name]) for kind, name in zip(kinds, salts, strict=True)
    )
    splits = kept_apart(*salts)
    letters = dict(zip("ABCD", lot.some_of(range(4), 4), strict=True))
    lines = [
        line(f"{name}, of its {grams[n]} g/L", "mmol/L", *_moles(name, grams[n]))
        for n, name in enumerate(salts[:3])
    ]
    return Task(
        given={
            "grams": dict(zip(salts, grams, strict=True)),
            "splits": {letter: splits[n][0] for letter, n in letters.items()},
        },
        question=f"Concentrates a hundred times as strong as the feed are to hold {', '.join(salts[:3])} and {salts[3]}. Which split keeps?",
        table=(
            ("salt", "g in a litre of concentrate"),
            *((SchoolSalt(n).printed, g) for n, g in zip(salts, grams, strict=True)),
        ),
        solution=Working(
            "In mmol/L: of calcium and sulfate, or of calcium and phosphate, a feed keeps few, a concentrate hundreds",
            tuple(lines),
        ),
        options={
            letter: Option(splits[n][1], splits[n][2]) for letter, n in letters.items()
        },
        right=next(letter for letter, n in letters.items() if n == 0),
        hints=(
            "Which two ions make something that hardly dissolves?",
            "Calcium falls out with sulfate, and with phosphate. Where is the calcium?",
            "Look for the split in which the tank with calcium holds neither sulfate nor phosphate.",
        ),
        care=care_of(*(SchoolSalt(name) for name in salts)),
        remark="A salt that is in none of these solids may go into either tank: it is divided so that neither is too full.",
    )


def _moles(name, grams):
    """Return the terms that make mmol of a salt."""
    mass = SchoolSalt(name).molar_mass
    return (grams, "g/L"), "÷", (mass, "g/mol"), "×", (1000, "mmol/mol")


EXERCISES = (
    ("Calcium beside Epsom salt", _calcium_beside_epsom),
    ("Gypsum that falls", _gypsum_that_falls),
    ("Locked up", _locked_up),
    ("Two tanks", _two_tanks),
    *MORE,
)
