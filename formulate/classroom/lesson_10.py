"""Exercises of lesson 10: what a step of the balance leaves open, and how errors add up."""

from math import sqrt

from formulate.classroom.lesson_10_more import MORE
from formulate.classroom.lines import carried, line, root_of
from formulate.classroom.school_salts import SchoolSalt, care_of
from formulate.classroom.task import Slip, Task
from formulate.working import Working, printed

__all__ = ["EXERCISES"]

DECIMALS = {0.01: 2, 0.1: 1, 1: 0}  # step of a balance in g: decimals that it shows
SALTS = (
    "potassium nitrate",
    "magnesium sulfate heptahydrate",
    "monopotassium phosphate",
    "potassium sulfate",
)
TRACES = {  # what a litre of feed gets, mg of the salt: low, high, step
    "sodium molybdate dihydrate": (0.05, 0.25, 0.005),
    "copper sulfate pentahydrate": (0.3, 1.2, 0.01),
    "zinc sulfate heptahydrate": (0.5, 2.5, 0.01),
    "manganese sulfate monohydrate": (1.0, 4.0, 0.01),
}
POTASSIUM = ("potassium nitrate", "potassium sulfate", "monopotassium phosphate")
MG_IN_A_GRAM = 1000


def _half_a_step(lot):
    """How many per cent of a weight is half a step?"""
    step, salt = lot.one_of(tuple(DECIMALS)), lot.one_of(SALTS)
    decimals = DECIMALS[step]
    grams = round(lot.between(20, 400, 1) * step, decimals)
    half = line("half a step", "g", (step, "g"), "÷", 2)
    last = line("of the weight", "%", carried(half), "÷", (grams, "g"), "×", (100, "%"))
    return Task(
        given={"step": step, "salt": salt, "grams": grams},
        question=f"A balance has steps of {step:g} g. It shows {grams:.{decimals}f} g of {salt}. By how many per cent may the weight "
        "be off, either way, by its steps alone?",
        solution=Working("What a step leaves open", (half, last)),
        unit="%",
        slips=(
            Slip(2 * last.value, "A shown number is rounded: up or down, but how far?"),
            Slip(half.value, "Those are grams; asked are per cent of the weight."),
            Slip(grams / half.value, "Which of the two is the part, which the whole?"),
            Slip(last.value / 2, "Halved once too often."),
        ),
        hints=(
            "Between which two weights may the true one lie, if the balance rounds?",
            "It may be half a step more or less. Compare that with what is shown.",
            "Half a step, over the weight shown, times a hundred.",
        ),
        care=care_of(SchoolSalt(salt)),
        remark="Steps are the least of a balance's errors: a draught, a slope, a paper boat that was not weighed come on top.",
    )


def _least_litres(lot):
    """How large must a batch be so that a trace can be weighed?"""
    salt, step = lot.one_of(tuple(TRACES)), lot.one_of((0.01, 0.1))
    each, percent = lot.between(*TRACES[salt]), lot.one_of((0.5, 1, 2, 5))
    least = line(
        f"so that half a step is {percent:g} %",
        "g",
        (step, "g"),
        "÷",
        2,
        "÷",
        (percent, "%"),
        "×",
        (100, "%"),
    )
    last = line(
        "litres that take so much",
        "L",
        carried(least),
        "×",
        (MG_IN_A_GRAM, "mg/g"),
        "÷",
        (each, "mg/L"),
    )
    right = last.value
    return Task(
        given={"salt": salt, "step": step, "each": each, "percent": percent},
        question=f"A litre of feed gets {each:g} mg of {salt}. The balance has steps of {step:g} g, and half a step may be "
        f"{percent:g} % of the weight at most. For how many litres at least must one weigh at once?",
        solution=Working("Litres that can be weighed for", (least, last)),
        unit="L",
        units=("m3",),
        slips=(
            Slip(2 * right, "By a whole step? A balance rounds up or down."),
            Slip(right * percent / 100, "That is where half a step is all of it."),
            Slip(least.value, "Those are the grams; how many litres take them?"),
            Slip(
                right * (percent / 100) ** 2,
                "A small share of error asks for a large weight: multiply, or divide?",
            ),
        ),
        hints=(
            "First the least weight for which half a step is small enough.",
            f"Half a step is to be {percent:g} % of the weight. What is 100 %? Then see how many litres take it.",
            "Half a step over the share, in mg, over the mg that a litre gets.",
        ),
        care=care_of(SchoolSalt(salt)),
        remark="Few growers fill such a tank. So one weighs for many batches at once, dissolves it, and doses by volume: a stock.",
    )


def _two_errors(lot):
    """How far may a strength be off by weight and volume?"""
    step, jug = lot.one_of((0.1, 0.01)), lot.one_of((2, 5, 10))
    grams = round(lot.between(15, 50, 1) * step, DECIMALS[step])
    off = jug * lot.between(10, 30, 1)
    weight = line(
        "weight: half a step",
        "%",
        (step, "g"),
        "÷",
        2,
        "÷",
        (grams, "g"),
        "×",
        (100, "%"),
    )
    volume = line("volume", "%", (off, "mL"), "÷", (jug * 1000, "mL"), "×", (100, "%"))
    a, b = carried(weight), carried(volume)
    squares = line("squares added", "%²", a, "×", a, "+", b, "×", b)
    last = root_of(carried(squares)[0], "together", "%")
    return Task(
        given={"step": step, "jug": jug, "grams": grams, "off": off},
        question=f"{grams:.{DECIMALS[step]}f} g of a salt (balance with steps of {step:g} g) are made up to {jug} L in a jug whose mark "
        f"may be off by {off} mL either way. Neither error knows of the other. By how many per cent is the strength likely to be "
        "off: not at worst, but as the squares add up?",
        solution=Working("Two errors together", (weight, volume, squares, last)),
        unit="%",
        within_percent=1.5,  # the two errors between are rounded
        slips=(
            Slip(a[0] + b[0], "That is the worst case: both the same way."),
            Slip(squares.value, "Squares were added; a step is missing."),
            Slip(
                (a[0] + b[0]) / 2, "Errors are not averaged: two leave more than one."
            ),
            Slip(max(a[0], b[0]), "That is one of them; the other counts, too."),
            Slip(
                sqrt(4 * a[0] ** 2 + b[0] ** 2),
                "By a whole step of the balance? It rounds up or down.",
            ),
        ),
        hints=(
            "What has to be comparable first: grams and millilitres, or per cent of each?",
            "Each error in per cent of its own number. Then square both.",
            "Add the two squares of the per cents, then take the root.",
        ),
        remark="The root is little more than the larger one. Who wants less must better the larger one.",
    )


def _at_worst(lot):
    """By how much may the potassium be off at worst?"""
    step, tank = lot.one_of((0.1, 0.5, 1)), lot.between(10, 120, 1)
    salts = [SchoolSalt(name) for name in lot.some_of(POTASSIUM, 2)]
    grams = [
        round(round(lot.between(0.15, 0.5, 0.01) * tank / step) * step, 1)
        for _ in salts
    ]
    each = [float(printed(MG_IN_A_GRAM * salt.share("K"), 4)) for salt in salts]
    half = line("half a step", "g", (step, "g"), "÷", 2)
    parts = [
        line(
            f"{s.printed_formula}: in a litre",
            "mg/L",
            carried(half),
            "×",
            (e, "mg/g"),
            "÷",
            (tank, "L"),
        )
        for s, e in zip(salts, each, strict=True)
    ]
    last = line("both the same way", "mg/L", carried(parts[0]), "+", carried(parts[1]))
    first, second = (part.value for part in parts)
    has = sum(g * e for g, e in zip(grams, each, strict=True)) / tank
    return Task(
        given={
            "step": step,
            "tank": tank,
            "salts": tuple(s.name for s in salts),
            "grams": tuple(grams),
        },
        question=f"A tank of {tank} L gets the two salts of the table. The balance has steps of {step:g} g. By how many mg/L may the K "
        "be off at worst, by the steps of the balance?",
        solution=Working("Potassium at worst", (half, *parts, last)),
        unit="mg/L",
        units=("g/L", "ug/L"),
        within_percent=1.5,
        slips=(
            Slip(
                sqrt(first**2 + second**2),
                "That is what is likely; asked is the worst.",
            ),
            Slip(2 * last.value, "By a whole step? A balance rounds up or down."),
            Slip(max(first, second), "Both salts bring K, and both may be off."),
            Slip(last.value * tank, "That is in the whole tank; asked is a litre."),
            Slip(100 * last.value / has, "Those are per cent; asked are mg/L."),
        ),
        table=(
            ("salt", "g", "mg of K in a gram"),
            *(
                (s.printed, f"{g:g}", f"{e:g}")
                for s, g, e in zip(salts, grams, each, strict=True)
            ),
        ),
        hints=(
            "How many grams may each weight be off, and what is in them?",
            "At worst both weights are off the same way.",
            "Half a step, times the mg in a gram, over the litres; for each salt; then add.",
        ),
        care=care_of(*salts),
        remark="The weights themselves did not matter: half a step is half a step.",
    )


EXERCISES = (
    ("Half a step", _half_a_step),
    ("Litres to weigh for", _least_litres),
    ("Two errors together", _two_errors),
    ("At worst", _at_worst),
    *MORE,
)
