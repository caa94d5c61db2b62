"""Exercises of lesson 01 about the water, the bag and its label, and a sheet with one wrong line."""

from formulate.classroom.lines import carried, line
from formulate.classroom.school_salts import SchoolSalt, care_of
from formulate.classroom.task import Option, Slip, Task
from formulate.working import Working, printed

__all__ = ["MORE"]

DIGITS = 4  # of what a gram holds, as a question prints it
TANKED = (  # salts that are weighed for a tank, with the nutrient that is asked for
    ("potassium nitrate", "K"),
    ("magnesium sulfate heptahydrate", "Mg"),
    ("monopotassium phosphate", "P"),
    ("potassium sulfate", "K"),
    ("calcium nitrate tetrahydrate", "Ca"),
)
BROUGHT = {  # nutrient that the tap brings: the salt it saves; mg/L: low, high, step
    "Ca": ("calcium nitrate tetrahydrate", 20.0, 110.0, 0.5),
    "Mg": ("magnesium sulfate heptahydrate", 3.0, 30.0, 0.1),
    "S": ("potassium sulfate", 3.0, 25.0, 0.1),
}
BAGS = {  # as an invented label states it: nutrient, %, wanted mg/L, water mg/L
    "calcium nitrate": ("Ca", (18.5, 19.5, 0.1), (120, 200, 5), (10, 60, 1)),
    "Epsom salt": ("Mg", (9.5, 9.9, 0.1), (36, 60, 1), (3.0, 15.0, 0.5)),
    "potassium sulfate": ("K", (41.0, 43.5, 0.1), (150, 300, 5), (10, 30, 1)),
    "magnesium nitrate": ("Mg", (9.0, 9.5, 0.1), (36, 60, 1), (3.0, 15.0, 0.5)),
}
CHOICES = "ABCD"
OFF = (0.5, 0.8, 0.9, 1.1, 1.25, 2.0)  # what the wrong line was multiplied by


def holds(salt, element):
    """Return how many mg of an element a gram of a salt holds, as a question prints it."""
    return float(printed(1000 * SchoolSalt(salt).share(element), DIGITS))


def _what_the_water_saves(lot):
    """How much salt would bring what the water brings?"""
    key = lot.one_of(tuple(BROUGHT))
    of, *span = BROUGHT[key]
    water, tank, each = lot.between(*span), lot.between(50, 500, 10), holds(of, key)
    in_all = line(f"{key} in the tank", "mg", (water, "mg/L"), "×", (tank, "L"))
    last = line(
        "the salt that holds as much", "g", carried(in_all), "÷", (each, "mg/g")
    )
    right, salt = last.value, SchoolSalt(of)
    return Task(
        given={"key": key, "water": water, "tank": tank},
        question=f"The tap water holds {water:g} mg/L of {key}. How many grams of {salt.printed} would have to be weighed to "
        f"bring as much {key} into a tank of {tank} L? (A gram of it holds {each:g} mg of {key}.)",
        solution=Working(f"What the water saves of {of}", (in_all, last)),
        unit="g",
        units=("kg", "mg"),
        slips=(
            Slip(in_all.value / 1000, f"That is the {key} alone; the salt holds more."),
            Slip(
                in_all.value / 1000 * each / 1000,
                f"A part of the salt is {key}: does one need more salt than {key}, or less?",
            ),
            Slip(right / tank, "That is for one litre."),
            Slip(water / each * 1000 / tank, "More litres hold more of it."),
        ),
        hints=(
            f"How much {key} is in the whole tank before any salt?",
            f"Each gram of the salt brings so many mg of {key}. How many grams make up all of it?",
            f"mg/L times litres, over the mg of {key} in a gram.",
        ),
        care=care_of(salt),
        remark="It is in the tank already: who does not count the water weighs it a second time.",
    )


def _how_long_a_bag_lasts(lot):
    """For how many days does a bag last?"""
    bag, grams = lot.one_of((1, 2, 5)), lot.between(18.0, 90.0, 0.1)
    batch, drunk = lot.between(100, 300, 10), lot.between(20, 90, 1)
    batches = line(
        "so many batches", "", (bag, "kg"), "×", (1000, "g/kg"), "÷", (grams, "g")
    )
    litres = line("so many litres", "L", carried(batches), "×", (batch, "L"))
    last = line("so many days", "day", carried(litres), "÷", (drunk, "L/day"))
    return Task(
        given={"bag": bag, "grams": grams, "batch": batch, "drunk": drunk},
        question=f"Each batch of {batch} L takes {grams:g} g of potassium nitrate. The plants drink {drunk} L a day. "
        f"For how many days does a bag of {bag} kg last?",
        solution=Working("How long a bag lasts", (batches, litres, last)),
        unit="day",
        units=("h",),
        slips=(
            Slip(batches.value, "Those are batches; each lasts longer than a day."),
            Slip(litres.value, "Those are litres; asked are days."),
            Slip(
                batches.value * drunk / batch,
                "The size of a batch and what is drunk of it: which divides which?",
            ),
            Slip(
                1000 * bag / grams / drunk,
                "That forgets how many litres a batch has.",
            ),
        ),
        hints=(
            "How many batches are in the bag?",
            "Batches into litres; then see how many of them go each day.",
            "Bag over batch, both in grams, times the litres of a batch, over the litres of a day.",
        ),
        care=care_of(SchoolSalt("potassium nitrate")),
        remark="Plants drink more on a bright day; a grower orders by the summer.",
    )


def _by_the_label(lot):
    """How much of a bag brings a wanted number, by its label?"""
    of = lot.one_of(tuple(BAGS))
    key, percent, target, tap = BAGS[of]
    percent, wanted, water = (lot.between(*span) for span in (percent, target, tap))
    tank = lot.between(50, 400, 10)
    short = line("to bring", "mg/L", (wanted, "mg/L"), "−", (water, "mg/L"))
    each = line("in a gram", "mg/g", (percent, "%"), "×", (10, "mg/g per %"))
    last = line("of the bag", "g", carried(short), "×", (tank, "L"), "÷", carried(each))
    right = last.value
    return Task(
        given={
            "bag": of,
            "key": key,
            "percent": percent,
            "wanted": wanted,
            "water": water,
            "tank": tank,
        },
        question=f"A litre is to hold {wanted:g} mg of {key}, of which the tap water brings {water:g} mg. The label on the bag of "
        f"{of} states {percent:g} % of {key}. How many grams go into a tank of {tank} L?",
        solution=Working(f"{key} by the label", (short, each, last)),
        unit="g",
        units=("kg",),
        slips=(
            Slip(right * wanted / short.value, "The water brings some of it."),
            Slip(
                right * percent / 100,
                f"That is the {key} alone; only a part of the bag is {key}.",
            ),
            Slip(right * (percent / 100) ** 2, "The share: multiply, or divide?"),
            Slip(right / tank, "That is for one litre."),
        ),
        hints=(
            "First: what do the salts have to bring to a litre?",
            f"One per cent of a gram is 10 mg. How many mg of {key} are in a gram of the bag?",
            "Wanted less water, times litres, over the mg in a gram.",
        ),
        care=care_of(
            *(SchoolSalt(n) for n in ("potassium nitrate",) if "nitrate" in of)
        ),
        remark="A label may count K as K₂O or P as P₂O₅. This one does not; lesson 03 is about those that do.",
    )


def _one_line_cannot_be(lot):
    """Which line of a bench sheet is wrong?"""
    tank, salts = lot.between(50, 400, 10), lot.some_of(TANKED, len(CHOICES))
    right, times = lot.one_of(CHOICES), lot.one_of(OFF)
    sheet = {}
    for letter, (of, key) in zip(CHOICES, salts, strict=True):
        grams, each = round(lot.between(0.1, 0.4, 0.001) * tank, 1), holds(of, key)
        made = grams * each / tank * (times if letter == right else 1.0)
        sheet[letter] = (of, key, grams, each, float(printed(made, 3)))
    check = {
        letter: line(
            f"{key} from {of}", "mg/L", (g, "g"), "×", (each, "mg/g"), "÷", (tank, "L")
        )
        for letter, (of, key, g, each, _) in sheet.items()
    }
    order = sorted(CHOICES, key=lambda letter: letter == right)
    return Task(
        given={"tank": tank, "sheet": tuple(sheet.values())},
        question=f"A pupil has made this bench sheet for {tank} L of pure water. One number in the last column cannot be. "
        "In which line?",
        solution=Working(
            "The sheet worked out again; the last line is the wrong one",
            tuple(check[letter] for letter in order),
        ),
        options={
            letter: Option(
                f"{key} from {of}",
                ""
                if letter == right
                else f"{g:g} g × {each:g} mg/g, over the litres: is it not what the sheet says?",
            )
            for letter, (of, key, g, each, _) in sheet.items()
        },
        right=right,
        table=(
            ("salt", "g", "nutrient", "mg in a gram", "mg/L"),
            *(
                (of, f"{g:g}", k, f"{e:g}", f"{m:g}")
                for of, k, g, e, m in sheet.values()
            ),
        ),
        hints=(
            "Work each line out again: grams, what a gram holds, litres.",
            "Rounding in the third digit is no fault; look for more.",
            "Grams times mg in a gram, over the litres, line by line.",
        ),
        care=care_of(*(SchoolSalt(of) for of, _ in salts)),
        remark="Working it out again by another person is the cheapest safety there is.",
    )


MORE = (
    ("What the water saves", _what_the_water_saves),
    ("How long a bag lasts", _how_long_a_bag_lasts),
    ("By the label", _by_the_label),
    ("One line cannot be", _one_line_cannot_be),
)
