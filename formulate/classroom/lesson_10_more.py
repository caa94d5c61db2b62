"""Exercises of lesson 10: digits that may be printed, stocks for traces, which doubt is largest, moist salts."""

from math import ceil, floor, log10

from formulate.classroom.lines import carried, line
from formulate.classroom.school_salts import SchoolSalt, care_of
from formulate.classroom.task import Option, Slip, Task
from formulate.working import Working, printed

__all__ = ["MORE"]

CHOICES = "ABCD"
SHOWN = {  # mg/L in a feed: low, high, step
    "K": (120.0, 350.0, 0.01),
    "Ca": (80.0, 250.0, 0.01),
    "N": (60.0, 240.0, 0.01),
    "Mg": (25.0, 80.0, 0.01),
    "S": (30.0, 120.0, 0.01),
    "P": (25.0, 70.0, 0.01),
}
STOCKED = {  # salt: nutrient, wanted mg/L: low, high, step
    "manganese sulfate monohydrate": ("Mn", 0.3, 0.9, 0.05),
    "zinc sulfate heptahydrate": ("Zn", 0.1, 0.4, 0.01),
    "copper sulfate pentahydrate": ("Cu", 0.04, 0.2, 0.01),
    "sodium molybdate dihydrate": ("Mo", 0.03, 0.06, 0.005),
}
SOURCES = {
    "balance": "the steps of the balance",
    "purity": "the purity of the salt",
    "mark": "the mark of the tank",
    "mass": "the rounded molar mass",
}
BEST_PURITY = 99.8  # %, where the range of an invented bag ends
MOIST = ("calcium nitrate tetrahydrate", "magnesium nitrate hexahydrate")


def _written(value, doubt, place):
    """Return a value with its doubt, both to one decimal place; a doubt is never nothing."""
    unit = 10.0**place
    rounded, left = round(value / unit) * unit, round(doubt / unit) * unit
    left = left or ceil(doubt / unit) * unit
    return f"{rounded:.{max(-place, 0)}f} ± {left:.{max(-place, 0)}f} mg/L"


def _is_clear(doubt):
    """Return whether a doubt has a first digit that no rounding moves, and not in the tens."""
    first = doubt / 10.0 ** floor(log10(doubt))
    return 2 <= first <= 6.4 and doubt < 10  # of 20 nobody sees how many digits count


def _digits_that_may_be_printed(lot):
    """With how many digits may a number be printed?"""
    key = lot.one_of(tuple(SHOWN))
    value = lot.between(*SHOWN[key])
    percent = lot.one_of([n / 10 for n in range(10, 61) if _is_clear(value * n / 1000)])
    last = line(
        "the doubt", "mg/L", (value, "mg/L"), "×", (percent, "%"), "÷", (100, "%")
    )
    place = floor(log10(last.value))
    says = {
        place: "",
        place + 1: "That hides a digit that is known.",
        place - 1: "Its last digit is one that nobody knows.",
        place - 2: "Its last digits are some that nobody knows.",
    }
    mixed = lot.some_of(tuple(says), len(says))
    options = {
        letter: Option(_written(value, last.value, one), says[one])
        for letter, one in zip(CHOICES, mixed, strict=True)
    }
    return Task(
        given={"key": key, "value": value, "percent": percent},
        question=f"The program works out {value:.2f} mg/L of {key}. All errors together leave ± {percent:g} % of it open. A doubt is "
        "printed with one digit, the value to the same decimal place. Which line may stand on the sheet?",
        solution=Working("How large the doubt is; its first digit decides", (last,)),
        options=options,
        right=CHOICES[mixed.index(place)],
        hints=(
            "How many mg/L are those per cent?",
            "In which place does the first digit of the doubt stand: tens, units, tenths?",
            "Value times per cent, over a hundred; look where its first digit stands.",
        ),
        remark="Digits are a claim: 154.37 says that one knows the last 7. (A doubt that begins with 1 gets a second digit.)",
    )


def _millilitres_of_stock(lot):
    """How much of a stock brings a trace to a tank?"""
    of = lot.one_of(tuple(STOCKED))
    key, *span = STOCKED[of]
    wanted, tank = lot.between(*span), lot.between(50, 400, 10)
    grams, stock = lot.between(5.0, 25.0, 0.1), lot.one_of((500, 2000, 5000))
    salt = SchoolSalt(of)
    each = float(printed(1000 * salt.share(key), 4))
    strong = line(
        f"{key} in a mL of stock",
        "mg/mL",
        (grams, "g"),
        "×",
        (each, "mg/g"),
        "÷",
        (stock, "mL"),
    )
    needs = line(f"{key} for the tank", "mg", (wanted, "mg/L"), "×", (tank, "L"))
    last = line("of the stock", "mL", carried(needs), "÷", carried(strong))
    right = last.value
    return Task(
        given={
            "salt": of,
            "key": key,
            "wanted": wanted,
            "tank": tank,
            "grams": grams,
            "stock": stock,
        },
        question=f"{grams:g} g of {salt.printed} are dissolved and made up to {stock} mL of stock. A gram of the salt holds {each:g} mg "
        f"of {key}. A tank of {tank} L is to hold {wanted:g} mg/L of {key}. How many mL of the stock does it get?",
        solution=Working(f"Stock for {key}", (strong, needs, last)),
        unit="mL",
        units=("L",),
        slips=(
            Slip(right * each / 1000, f"As if the salt were all {key}."),
            Slip(right / tank, "That is for one litre."),
            Slip(needs.value * strong.value, "The stronger the stock, the less of it."),
            Slip(right * 1000 / stock, "As if the stock were one litre."),
            Slip(needs.value, f"Those are mg of {key}; asked are mL of stock."),
        ),
        hints=(
            "Two questions: how strong is the stock, and what does the tank need?",
            f"Strength of the stock in mg of {key} in a mL; need of the tank in mg.",
            "Wanted times litres, over (grams times mg in a gram, over the mL of stock).",
        ),
        care=care_of(salt),
        remark="Weighed alone, such a trace would be lost in the steps of the balance; the stock carries the error of one large weight.",
    )


def _sources_of(lot, main):
    """Return what is read of balance, bag and tank, so that one source leaves most open."""
    leaves = {
        one: lot.between(2.0, 4.0, 0.1) if one == main else lot.between(0.3, 1.2, 0.1)
        for one in ("balance", "purity", "mark")
    }
    step, tank = lot.one_of((0.01, 0.1, 1)), lot.one_of((20, 50, 100, 200))
    steps = round(50 / leaves["balance"])
    return {
        "step": step,
        "grams": round(steps * step, 2),
        "low": round(BEST_PURITY - 2 * leaves["purity"], 1),
        "tank": tank,
        "off": round(tank * leaves["mark"] / 100, 1),
    }


def _which_doubt_is_largest(lot):
    """Which source leaves the largest doubt of a strength?"""
    main, salt = (
        lot.one_of(("balance", "purity", "mark")),
        SchoolSalt("potassium nitrate"),
    )
    read, mass = _sources_of(lot, main), salt.molar_mass
    step, grams, low, tank, off = read.values()
    middle = (BEST_PURITY + low) / 2
    lines = {
        "balance": line(
            "balance", "%", (step, "g"), "÷", 2, "÷", (grams, "g"), "×", (100, "%")
        ),
        "purity": line(
            "purity, half of its range",
            "%",
            (BEST_PURITY, "%"),
            "−",
            (round(middle, 2), "%"),
        ),
        "mark": line("mark", "%", (off, "L"), "÷", (tank, "L"), "×", (100, "%")),
        "mass": line(
            "molar mass", "%", (0.05, "g/mol"), "÷", (mass, "g/mol"), "×", (100, "%")
        ),
    }
    mixed = lot.some_of(tuple(SOURCES), len(SOURCES))
    options = {
        letter: Option(
            SOURCES[one],
            ""
            if one == main
            else f"That leaves ± {printed(lines[one].value, 2)} %. Another one leaves more.",
        )
        for letter, one in zip(CHOICES, mixed, strict=True)
    }
    order = sorted(mixed, key=lambda one: one == main)
    return Task(
        given=read,
        question=f"A feed is made: {grams:g} g of {salt.printed} by a balance with steps of {step:g} g; the salt is sold as {low:g} to "
        f"{BEST_PURITY:g} % pure; the tank is filled to its mark at {tank} L, which may be off by {off:g} L either way; the molar mass is "
        f"taken as {mass:.1f} g/mol, rounded to one decimal. What leaves the largest doubt of the strength?",
        solution=Working(
            "Each by itself, either way; the largest last",
            tuple(lines[o] for o in order),
        ),
        options=options,
        right=CHOICES[mixed.index(main)],
        hints=(
            "They can be compared once all are per cent of their own number.",
            "Half a step of the weight; half of the range of purity; what the mark is off of the volume.",
            "Work out all of them in per cent, either way, and look for the largest.",
        ),
        care=care_of(salt),
        remark="Only the largest one is worth money. A better balance does not mend a bad mark.",
    )


def _moist_salt(lot):
    """How much must be weighed of a salt that took up water?"""
    salt, bag = SchoolSalt(lot.one_of(MOIST)), lot.one_of((5, 10, 25))
    now = round(bag * (1 + lot.between(0.025, 0.09, 0.001)), 2)
    grams = lot.between(30.0, 99.0, 0.1)
    share = line("of a gram, salt as it was", "", (bag, "kg"), "÷", (now, "kg"))
    last = line("of the moist salt", "g", (grams, "g"), "÷", carried(share))
    return Task(
        given={"salt": salt.name, "bag": bag, "now": now, "grams": grams},
        question=f"A bag of {bag} kg of {salt.name} has stood open in the glasshouse; nothing was taken from it, and its contents "
        f"weigh {now:g} kg now. The sheet asks for {grams:g} g of the salt as it was. How many grams of the moist salt hold as much?",
        solution=Working("Moist salt", (share, last)),
        unit="g",
        units=("kg",),
        within_percent=0.6,  # a few per cent are the whole question
        slips=(
            Slip(grams * bag / now, "Of the moist salt, does one need more or less?"),
            Slip(grams, "It holds water now that is no salt."),
            Slip(grams * (now - bag) / bag, "That is the water alone."),
        ),
        hints=(
            "The bag holds as much salt as before, and some water.",
            "How much of a gram of it is salt as it was?",
            "The sheet's grams, times the weight now, over the weight before.",
        ),
        care=care_of(salt),
        remark="A balance cannot see water. A closed bag costs less than any correction.",
    )


MORE = (
    ("Digits that may be printed", _digits_that_may_be_printed),
    ("Millilitres of stock", _millilitres_of_stock),
    ("Which doubt is largest", _which_doubt_is_largest),
    ("A moist salt", _moist_salt),
)
