"""Exercises of lesson 01: from a dose, a jug or a bag to what a tank needs and a litre holds."""

from formulate.classroom.lesson_01_more import MORE, TANKED, holds
from formulate.classroom.lines import carried, line
from formulate.classroom.school_salts import SchoolSalt, care_of
from formulate.classroom.task import Slip, Task
from formulate.stoichiometry.units import unit
from formulate.working import Working

__all__ = ["EXERCISES"]

JUGS = (500, 750, 1500, 2000, 2500)  # mL, as a school owns them
TRIED = (
    "magnesium sulfate heptahydrate",
    "potassium nitrate",
    "potassium sulfate",
    "calcium nitrate tetrahydrate",
)
THIN = {  # what a litre is to hold in full, and what the water brings: low, high, step
    "Ca": ((130, 200, 5), (15, 50, 1)),
    "Mg": ((36, 60, 1), (3.0, 15.0, 0.5)),
    "S": ((50, 90, 5), (5.0, 20.0, 0.5)),
}
STRENGTHS = {0.5: "half strength", 0.6: "60 % strength", 0.75: "three-quarter strength"}


def _dose_for_a_tank(lot):
    """How much of a fertiliser tops a tank up?"""
    dose, left = lot.between(4.0, 24.0, 0.5), lot.between(10, 50, 5)
    tank = lot.between(80, 400, 10)
    fresh = line("fresh feed", "L", (tank, "L"), "−", (left, "L"))
    last = line("for it", "g", (dose, "g"), "÷", (10, "L"), "×", carried(fresh))
    return Task(
        given={"dose": dose, "left": left, "tank": tank},
        question=f"The bag says: {dose:g} g in 10 L. The tank holds {tank} L when full; {left} L of this feed are still in it. "
        "It is filled up to the mark again. How many grams of the fertiliser go in?",
        solution=Working("Dose for a tank", (fresh, last)),
        unit="g",
        units=("kg",),
        slips=(
            Slip(dose * tank / 10, "Some of the tank is feed already."),
            Slip(10 * last.value, "The dose on the bag is not for one litre."),
            Slip(dose * left / 10, "That is what is in the feed that was left."),
            Slip(10 * fresh.value / dose, "Divided by the dose: which way round?"),
        ),
        hints=(
            "How much of what will be in the tank is new?",
            "Only the fresh litres need fertiliser. What does one litre of them need?",
            "Full less left over, times the grams on the bag, over the litres on the bag.",
        ),
        remark="It holds as long as what was left is as strong as it was made: plants drink more water than salts, or less. "
        "A meter tells (lesson 07).",
    )


def _grams_in_litres(lot):
    """How many mg/L are so many grams in a tank?"""
    of, key = lot.one_of(TANKED)
    grams, tank = lot.between(8.0, 90.0, 0.1), lot.between(50, 400, 10)
    salt, each = SchoolSalt(of), holds(of, key)
    in_all = line(f"{key} in it", "mg", (grams, "g"), "×", (each, "mg/g"))
    last = line(f"{key} in a litre", "mg/L", carried(in_all), "÷", (tank, "L"))
    return Task(
        given={"salt": of, "key": key, "grams": grams, "tank": tank},
        question=f"{grams:g} g of {salt.printed} are dissolved in pure water and made up to {tank} L. A gram of this salt holds "
        f"{each:g} mg of {key}. How many mg/L of {key} are in the feed?",
        solution=Working(f"{key} from {of}", (in_all, last)),
        unit="mg/L",
        units=("g/L",),
        slips=(
            Slip(1000 * grams / tank, f"That is the whole salt; asked is its {key}."),
            Slip(in_all.value, "That is what the whole tank holds; asked is a litre."),
            Slip(
                1e6 * grams / tank / each, f"The {key} is a part: less than the salt."
            ),
            Slip(grams * each * tank, "More water makes it thinner, not stronger."),
        ),
        hints=(
            "Only a part of the salt is the nutrient.",
            f"How many mg of {key} are in all those grams? The litres share them.",
            f"Grams, times the mg of {key} in a gram, over the litres.",
        ),
        care=care_of(salt),
        remark="Grams over litres, times what a gram holds: every number of a bench sheet is made so.",
    )


def _from_jug_to_tank(lot):
    """How much salt makes a tank as strong as a jug?"""
    salt, jug = lot.one_of(TRIED), lot.one_of(JUGS)
    grams, tank = lot.between(0.4, 3.0, 0.01), lot.between(20, 400, 5)
    litres = line("the jug", "L", (jug, "mL"), "÷", (1000, "mL/L"))
    jugs = line("so many jugs", "", (tank, "L"), "÷", carried(litres))
    last = line("salt for the tank", "g", (grams, "g"), "×", carried(jugs))
    return Task(
        given={"salt": salt, "jug": jug, "grams": grams, "tank": tank},
        question=f"In a jug of {jug} mL the class has made a trial: {grams:.2f} g of {salt}. A tank of {tank} L is to be as strong. "
        f"How many grams of {salt} does it need?",
        solution=Working("From jug to tank", (litres, jugs, last)),
        unit="g",
        units=("kg",),
        slips=(
            Slip(grams * tank, "As if the jug held one litre."),
            Slip(grams * tank * jug / 1000, "The jug: multiply by it, or divide?"),
            Slip(
                grams * tank / jug, "Litres over millilitres: bring both to one unit."
            ),
            Slip(grams * jug / 1000 / tank, "A tank needs more than a jug."),
        ),
        hints=(
            "How many such jugs fill the tank?",
            "Both volumes in litres; each jug takes the same grams.",
            "Litres of the tank over litres of the jug, times the grams of the trial.",
        ),
        care=care_of(SchoolSalt(salt)),
        remark="A slip of 0.01 g in the jug becomes grams in the tank: lesson 10.",
    )


def _ounces_per_gallons(lot):
    """How many grams does a tank need by an American chart?"""
    ounces, tank = lot.between(2.0, 24.0, 0.5), lot.between(40, 400, 10)
    ounce, gallon = unit("oz").factor, unit("US gal").factor
    other, fluid = unit("imp gal").factor, 1000 * unit("US fl oz").factor
    grams = line("so many grams", "g", (ounces, "oz"), "×", (ounce, "g/oz"))
    litres = line("in so many litres", "L", (100, "gal"), "×", (gallon, "L/gal"))
    each = line("in one litre", "g/L", carried(grams), "÷", carried(litres))
    last = line("in the tank", "g", carried(each), "×", (tank, "L"))
    right = last.value
    return Task(
        given={"ounces": ounces, "tank": tank},
        question=f"An American chart says: {ounces:g} oz for 100 US gallons. How many grams is that for a tank of {tank} L? "
        f"(1 oz = {ounce:.2f} g, 1 US gallon = {gallon:.3f} L)",
        solution=Working("Ounces for 100 US gallons", (grams, litres, each, last)),
        unit="g",
        units=("kg", "oz"),
        slips=(
            Slip(each.value, "Those are g/L: the strength. Asked is the whole tank."),
            Slip(grams.value * tank / 100, "As if a gallon were a litre."),
            Slip(right / ounce, "Those are ounces; asked are grams."),
            Slip(right * gallon / other, "Those are imperial gallons, a fifth larger."),
            Slip(
                right * fluid / ounce, "A fluid ounce is a volume; these are weighed."
            ),
        ),
        hints=(
            "First the strength in g/L, then the tank.",
            "Ounces into grams, gallons into litres; one over the other is g/L.",
            "Ounces times grams in an ounce, over 100 times the litres of a gallon, times the litres of the tank.",
        ),
        remark="1 oz in 100 US gallons is 75 mg/L, nearly: worth knowing by heart.",
    )


def _thinner_for_seedlings(lot):
    """How much do the salts bring to a thinner feed?"""
    key = lot.one_of(tuple(THIN))
    wanted, water = (lot.between(*span) for span in THIN[key])
    share = lot.one_of(tuple(STRENGTHS))
    thin = line("wanted now", "mg/L", (wanted, "mg/L"), "×", (share, ""))
    last = line("from the salts", "mg/L", carried(thin), "−", (water, "mg/L"))
    return Task(
        given={"key": key, "wanted": wanted, "water": water, "share": share},
        question=f"At full strength a litre is to hold {wanted:g} mg of {key}; the tap water brings {water:g} mg/L of it. Seedlings "
        f"get {STRENGTHS[share]}: that share of what the litre holds in full. How many mg/L of {key} do the salts bring now?",
        solution=Working(f"{key} for seedlings", (thin, last)),
        unit="mg/L",
        units=("g/L",),
        slips=(
            Slip(
                share * (wanted - water),
                "The salts are thinned there, but the tap brings what it always brings.",
            ),
            Slip(thin.value, "The water brings some of it."),
            Slip(wanted - water, "That is for the full strength."),
            Slip(thin.value + water, "What the water brings: add it, or take it off?"),
        ),
        hints=(
            "What is to be in the litre, and who brings it?",
            "Thin what is wanted, not what you weigh.",
            "Share times wanted, then take off what the water brings.",
        ),
        remark="Half of the salts is not half of the feed: the water counts in full. What it brings too much of stays too much.",
    )


EXERCISES = (
    ("Dose for a tank", _dose_for_a_tank),
    ("Grams in litres", _grams_in_litres),
    ("From jug to tank", _from_jug_to_tank),
    ("Ounces for 100 gallons", _ounces_per_gallons),
    ("Thinner for seedlings", _thinner_for_seedlings),
    *MORE,
)
