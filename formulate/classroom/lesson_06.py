"""Exercises of lesson 06: pH as a logarithm, buffers, and what goes on with the acid."""

from math import e, log, log10

from formulate.classroom.lesson_06_more import DILUTE, MORE, pk
from formulate.classroom.lines import care, line, ten_to
from formulate.classroom.task import Slip, Task
from formulate.working import LogStep, Quantity, Working

__all__ = ["EXERCISES"]

MICRO = 6.0  # lg of micromoles in a mole
NEAR_PH = 0.05  # what a good meter of a school tells


def _minus_lg(words, micromoles):
    """Return the line that makes a pH of micromoles of hydrogen ions."""
    return LogStep(words, Quantity(micromoles, "µmol/L"), MICRO)


def _hydrogen_of_a_ph(lot):
    """How many hydrogen ions are in a tank?"""
    ph, tank = lot.between(5.0, 6.9, 0.01), lot.between(20, 400, 10)
    over = line(
        "so many powers of ten above a micromole", "", (MICRO, ""), "−", (ph, "")
    )
    each = ten_to(over.value, "hydrogen ions", "µmol/L")
    whole = line("in the tank", "µmol", (each.value, "µmol/L"), "×", (tank, "L"))
    return Task(
        given={"ph": ph, "tank": tank},
        question=f"A tank holds {tank} L of feed of pH {ph:.2f}. How many micromoles of hydrogen ions are free in it?",
        solution=Working("Hydrogen ions of a pH", (over, each, whole)),
        unit="umol",
        units=("mmol", "mol"),
        within_percent=2.0,
        slips=(
            Slip(each.value, "That is one litre; how many are in the tank?"),
            Slip(
                tank * ph, "A pH is a power of ten and cannot be multiplied by litres."
            ),
            Slip(
                1e6 * tank * e**-ph,
                "That is a power of e; the pH is a power of ten (key 10ˣ).",
            ),
            Slip(tank / each.value, "The sign: a high pH means few hydrogen ions."),
        ),
        hints=(
            "The pH is minus the power of ten of the hydrogen ions in mol/L.",
            "On the calculator: 10ˣ with x = minus the pH gives mol/L.",
            "Then into micromoles, six powers of ten, and times the litres of the tank.",
        ),
        remark="So few: far more acid was poured, and the buffers took it.",
    )


def _ph_of_a_dilute_acid(lot):
    """Which pH has acid in pure water?"""
    acid, water = lot.between(0.5, 12.0, 0.1), lot.between(1, 20, 1)
    amount = line(
        "hydrogen ions", "µmol", (acid, "mL"), "×", (DILUTE * 1000, "µmol/mL")
    )
    whole = line("volume", "L", (water, "L"), "+", (acid, "mL"), "÷", (1000.0, "mL/L"))
    each = line("in a litre", "µmol/L", (amount.value, "µmol"), "÷", (whole.value, "L"))
    last = _minus_lg("pH, with the six powers of ten of a micromole", each.value)
    right = last.value
    return Task(
        given={"acid": acid, "water": water, "strength": DILUTE},
        question=f"{acid:g} mL of nitric acid, {DILUTE:g} mol/L, go into {water} L of pure water, freshly boiled. Which pH?",
        solution=Working("pH of a dilute acid", (amount, whole, each, last)),
        within=NEAR_PH,
        slips=(
            Slip(right - 3, "Those are mmol: the pH counts mol in a litre."),
            Slip(right - 6, "Those are µmol: the pH counts mol in a litre."),
            Slip(-right, "The pH is minus the logarithm."),
            Slip(right * log(10), "That is the logarithm to e; the pH takes ten."),
            Slip(
                right - log10(whole.value),
                "So much acid is in the whole of it; the pH counts a litre.",
            )
            if water > 1
            else Slip(-log10(DILUTE), "That is the pH of the acid in the bottle."),
        ),
        hints=(
            "A strong acid gives all its hydrogen ions: how many moles are in those millilitres?",
            "Divide by the litres of the whole, then take the logarithm to ten.",
            "Millilitres times mol/L are mmol; a thousand of them are a mole; pH = −lg of mol/L.",
        ),
        care=care("eyes", "acid"),
        remark="The same acid in tap water hardly moves the pH: its bicarbonate takes the hydrogen ions.",
    )


def _two_acids_mixed(lot):
    """Which pH have two strong acids together?"""
    one, two = lot.between(2.0, 3.0, 0.05), lot.between(3.8, 5.0, 0.05)
    first, second = lot.between(50, 400, 10), lot.between(50, 400, 10)
    over = [
        line("powers of ten above a µmol/L", "", (MICRO, ""), "−", (p, ""))
        for p in (one, two)
    ]
    each = [ten_to(step.value, "hydrogen ions", "µmol/L") for step in over]
    mixed = line(
        "hydrogen ions of both, over the whole volume",
        "µmol/L",
        (each[0].value, "µmol/L"),
        "×",
        (first / (first + second), "of the volume"),
        "+",
        (each[1].value, "µmol/L"),
        "×",
        (second / (first + second), "of the volume"),
    )
    last = _minus_lg("pH", mixed.value)
    shares = first / (first + second)
    return Task(
        given={"one": one, "two": two, "first": first, "second": second},
        question=f"{first} mL of dilute nitric acid of pH {one:.2f} are mixed with {second} mL of dilute nitric acid of pH {two:.2f}. Which pH?",
        solution=Working(
            "pH of a mixture", (over[0], each[0], over[1], each[1], mixed, last)
        ),
        within=NEAR_PH,
        slips=(
            Slip((one + two) / 2, "A pH cannot be averaged: it is a logarithm."),
            Slip(
                shares * one + (1 - shares) * two,
                "By shares, yes, but not of the pH: it is a logarithm.",
            ),
            Slip(
                -log10(10**-one + 10**-two),
                "Added, but each was diluted by the other.",
            ),
            Slip(one + two, "A pH cannot be added: it is a logarithm."),
        ),
        hints=(
            "What may be averaged are hydrogen ions, not logarithms of them.",
            "Ten to the power of minus the pH gives mol/L of each; weight both by their volumes.",
            "Moles of both together, over the millilitres together, then minus the logarithm.",
        ),
        care=care("eyes", "acid"),
        remark="The more acid one decides nearly alone. With bicarbonate or phosphate in them not even this sum holds: "
        "alkalinity may be averaged, hydrogen ions are swallowed.",
    )


def _phosphate_at_a_ph(lot):
    """How much of the phosphate has lost its second proton?"""
    ph, total = lot.between(6.0, 7.9, 0.01), lot.between(0.5, 3.0, 0.05)
    pk2 = pk("phosphate", 2)
    over = line("pH less pK", "", (ph, ""), "−", (pk2, ""))
    ratio = ten_to(over.value, "HPO₄²⁻ to H₂PO₄⁻")
    both = line("both, if H₂PO₄⁻ is 1", "", (1.0, ""), "+", (ratio.value, ""))
    share = line("share of HPO₄²⁻", "", (ratio.value, ""), "÷", (both.value, ""))
    amount = line("HPO₄²⁻", "mmol/L", (total, "mmol/L"), "×", (share.value, ""))
    right = amount.value
    return Task(
        given={"ph": ph, "total": total},
        question=f"A feed of pH {ph:.2f} holds {total:g} mmol/L of phosphate, all of it H₂PO₄⁻ or HPO₄²⁻. "
        f"How many mmol/L are HPO₄²⁻? (pK of the pair: {pk2:.2f})",
        solution=Working("Phosphate at a pH", (over, ratio, both, share, amount)),
        unit="mmol/L",
        units=("umol/L",),
        within_percent=2.0,
        slips=(
            Slip(total - right, "That is the other ion of the pair."),
            Slip(total * ratio.value, "The ratio of both is no share of the whole."),
            Slip(
                total * e**over.value / (1 + e**over.value),
                "That is a power of e; take ten to the power of pH less pK.",
            ),
        ),
        hints=(
            "Henderson and Hasselbalch: pH = pK + lg of HPO₄²⁻ over H₂PO₄⁻.",
            "The ratio is ten to the power of pH less pK. Is the pH below the pK, there is less HPO₄²⁻.",
            "Ratio over one plus ratio is the share of HPO₄²⁻; times the whole phosphate.",
        ),
        remark="At the pK both are equal and the buffer is at its best. A feed of pH 5.8 stands far below it: "
        "its phosphate buffers little.",
    )


def _carbon_dioxide_leaves(lot):
    """Which pH has a water after its carbon dioxide has left?"""
    start = lot.between(5.6, 6.4, 0.01)
    before, after = lot.between(20, 150, 1), lot.between(1.0, 12.0, 0.1)
    left = line(
        "of the carbon dioxide is left", "", (after, "mg/L"), "÷", (before, "mg/L")
    )
    last = LogStep(
        "pH: at the same bicarbonate it moves by the logarithm",
        Quantity(left.value),
        start,
    )
    right = last.value
    rise = right - start
    return Task(
        given={"start": start, "before": before, "after": after},
        question=f"After acid, a tank has pH {start:.2f} and {before} mg/L of dissolved carbon dioxide. Overnight the air stone "
        f"brings it to {after:g} mg/L; the bicarbonate stays as it is. Which pH does the meter show in the morning?",
        solution=Working("pH after the night", (left, last)),
        within=NEAR_PH,
        slips=(
            Slip(
                start - rise,
                "Less carbon dioxide is less acid: which way does the pH go?",
            ),
            Slip(rise, "That is how far it moves; where does it end?"),
            Slip(
                start + rise * log(10), "That is the logarithm to e; the pH takes ten."
            ),
            Slip(
                start * before / after, "A pH cannot be multiplied: it is a logarithm."
            ),
        ),
        hints=(
            "pH = pK + lg of bicarbonate over carbon dioxide. What of it changes?",
            "The pH changes by the logarithm of how many times less carbon dioxide there is.",
            "Old carbon dioxide over new, its logarithm to ten, added to the pH of the evening.",
        ),
        remark="No alkali was poured, and the alkalinity is what it was. Ten times less carbon dioxide is one pH.",
    )


EXERCISES = (
    ("Hydrogen ions in a tank", _hydrogen_of_a_ph),
    ("pH of a dilute acid", _ph_of_a_dilute_acid),
    ("Two acids, one pH", _two_acids_mixed),
    ("Phosphate at a pH", _phosphate_at_a_ph),
    *MORE,
    ("The pH creeps back", _carbon_dioxide_leaves),
)
