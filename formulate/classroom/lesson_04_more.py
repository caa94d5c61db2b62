"""Shared lines of lesson 04, and its exercise about a report whose charges cannot be."""

from formulate.classroom.lines import line
from formulate.classroom.task import Option, Task
from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.nutrients import nutrient
from formulate.working import Working, printed

__all__ = ["MORE"]

ALKALINITY = "alkalinity"
REPORT = {  # of a hard tap water, so that the alkalinity comes out last: low, high, step
    "Ca": (55.0, 110.0, 0.5),
    "Mg": (7.0, 22.0, 0.1),
    "Na": (9.0, 35.0, 0.1),
    "K": (1.0, 5.0, 0.1),
    "Cl": (14.0, 45.0, 0.1),
    "SO4": (20.0, 60.0, 0.1),
    "NO3": (6.0, 30.0, 0.1),
}
CATIONS, ANIONS = ("Ca", "Mg", "Na", "K"), (ALKALINITY, "Cl", "SO4", "NO3")
WORDS = {
    "Ca": "Calcium (Ca)",
    "Mg": "Magnesium (Mg)",
    "Na": "Sodium (Na)",
    "K": "Potassium (K)",
    ALKALINITY: "Alkalinity as CaCO₃",
    "Cl": "Chloride (Cl)",
    "SO4": "Sulfate (SO₄)",
    "NO3": "Nitrate (NO₃)",
}
MISPRINTS = {  # key: line, what it counts in truth, what it was taken for, words
    "lime": ("Ca", "CaO", "Ca", "the calcium line counts lime, CaO"),
    "bicarbonate": (
        ALKALINITY,
        "2 HCO3",
        "CaCO3",
        "the alkalinity line counts bicarbonate, HCO₃",
    ),
    "sulfur": ("SO4", "S", "SO4", "the sulfate line counts sulfur, S"),
    "magnesia": ("Mg", "MgO", "Mg", "the magnesium line counts magnesia, MgO"),
    "sodium": (
        "Na",
        "10",
        "1",
        "in the sodium line the point is one place too far right",
    ),
    "chloride": (
        "Cl",
        "10",
        "1",
        "in the chloride line the point is one place too far right",
    ),
    "chalk": ("Ca", "CaCO3", "Ca", "the calcium line counts chalk, CaCO₃"),
}
BALANCED, UPSET = 0.015, 0.05  # of the sum of all charges
LEAST_ALKALINITY = 1.5  # meq/L
CHOICES = "ABCD"
WELLS = ("the tap", "the well", "the spring", "the old well", "the neighbour's well")


def ion_mass(key):
    """Return the molar mass of an ion, in mg/mmol."""
    return nutrient(key).molar_mass


def ion_charge(key):
    """Return the charge number of an ion, without sign."""
    return abs(nutrient(key).charge_per_amount())


def caco3_per_meq():
    """Return how many mg of CaCO3 a milliequivalent is."""
    return molar_mass("CaCO3") / 2


def _meq(key, printed_mg):
    """Return the charge of a line of a report. [meq/L]"""
    if key == ALKALINITY:
        return printed_mg / caco3_per_meq()
    return printed_mg * ion_charge(key) / ion_mass(key)


def _meq_terms(keys, lines):
    """Return the terms that add up the charges of some lines."""
    terms = []
    for key in keys:
        terms += ["+"] if terms else []
        terms.append((lines[key], "mg/L"))
        if key == ALKALINITY:
            terms += ["÷", (caco3_per_meq(), "mg/meq")]
        else:
            terms += [
                "÷",
                (ion_mass(key), "mg/mmol"),
                "×",
                (ion_charge(key), "meq/mmol"),
            ]
    return terms


def _times(misprint):
    """Return by what a misprint makes a number too large."""
    _, counted, taken_for, _ = MISPRINTS[misprint]
    if counted.isdigit():
        return float(counted)
    if misprint == "sulfur":
        return molar_mass("S") / ion_mass("SO4")
    if misprint == "bicarbonate":
        return 2 * ion_mass("HCO3") / molar_mass("CaCO3")
    return molar_mass(counted) / molar_mass(taken_for)


def _sums(lines):
    """Return the sums of cations and anions of a report. [meq/L]"""
    return tuple(sum(_meq(k, lines[k]) for k in side) for side in (CATIONS, ANIONS))


def _open(lines):
    """Return how far a report is from balance, as a share of all charges."""
    cations, anions = _sums(lines)
    return abs(cations - anions) / (cations + anions)


def _mended(lines, misprint):
    """Return the lines of a report with one misprint put right."""
    key = MISPRINTS[misprint][0]
    return {**lines, key: lines[key] / _times(misprint)}


def _these_cannot_be(lot):
    """Which misprint throws a report out of balance?"""
    whose = lot.one_of(WELLS)
    true = {key: lot.between(*span) for key, span in REPORT.items()}
    left = sum(_meq(k, true[k]) for k in CATIONS) - sum(
        _meq(k, true[k]) for k in ANIONS if k != ALKALINITY
    )
    true[ALKALINITY] = round(left * caco3_per_meq(), 1)
    able = [n for n in MISPRINTS if _shows(true, n)]
    made = lot.one_of(able)
    lines = _misprinted(true, made)
    wrong = [n for n in MISPRINTS if n != made and _open(_mended(lines, n)) > UPSET]
    others = lot.some_of(wrong, min(len(wrong), len(CHOICES) - 1))
    good = left >= LEAST_ALKALINITY and len(others) == len(CHOICES) - 1
    shown = lot.some_of((made, *others), 1 + len(others))
    options = {
        letter: Option(MISPRINTS[name][3], "" if name == made else _still(lines, name))
        for letter, name in zip(CHOICES, shown, strict=False)
    }
    return Task(
        given={
            **lines,
            "whose": whose,
            "choices": dict(zip(CHOICES, shown, strict=False)),
        },
        question=f"The table is the report of {whose}. Charges must balance; add up cations and anions "
        "in meq/L: here they do not. One line is misprinted. Which of these slips brings both sums together?",
        solution=_mending(lines, made),
        table=(
            ("", "mg/L"),
            *((WORDS[k], f"{lines[k]:.1f}") for k in (*CATIONS, *ANIONS)),
        ),
        options=options,
        right=CHOICES[shown.index(made)] if good else "",
        hints=(
            "Every line into meq/L: over the molar mass, times the charge. Which sum is the larger?",
            "Work out how many meq/L the sums lie apart, and which line could be off by just that.",
            "Put one line right after the other as the options say, and add up again.",
        ),
        remark="A balance shows that something is wrong; only the laboratory knows what. One mended line may "
        "hide two faults: ask.",
    )


def _misprinted(true, misprint):
    """Return the lines of a report with one of them misprinted."""
    key = MISPRINTS[misprint][0]
    return {**true, key: round(true[key] * _times(misprint), 1)}


def _shows(true, misprint):
    """Return whether a misprint upsets the balance, and putting it right mends it."""
    lines = _misprinted(true, misprint)
    return _open(lines) > UPSET and _open(_mended(lines, misprint)) < BALANCED


def _still(lines, misprint):
    """Return what is said to whoever chooses a misprint that mends nothing."""
    cations, anions = (printed(s, 3) for s in _sums(_mended(lines, misprint)))
    return f"Then there would be {cations} meq/L of cations and {anions} of anions: still apart."


def _mending(lines, made):
    """Return the working that finds a misprint."""
    key, mended = MISPRINTS[made][0], _mended(lines, made)
    side, name = (CATIONS, "cations") if key in CATIONS else (ANIONS, "anions")
    return Working(
        "Which line is misprinted",
        (
            line("cations as printed", "meq/L", *_meq_terms(CATIONS, lines)),
            line("anions as printed", "meq/L", *_meq_terms(ANIONS, lines)),
            line(
                f"{WORDS[key]} put right",
                "mg/L",
                (lines[key], "mg/L"),
                "÷",
                (_times(made), ""),
            ),
            line(
                f"{name} with it: now the sums agree",
                "meq/L",
                *_meq_terms(side, mended),
            ),
        ),
    )


MORE = (("These data cannot be", _these_cannot_be),)
