"""Exercises of lesson 08 with concentrates: how strong, how full, how cold, and what an injector does."""

from formulate.classroom.lines import carried, line
from formulate.classroom.school_salts import SchoolSalt, care_of
from formulate.classroom.task import Slip, Task
from formulate.ingredients.solubility import solubility
from formulate.working import Working

__all__ = ["MORE"]

STRENGTHS = (50, 100, 150, 200)
WANTED = {  # salt: nutrient, what a feed holds in mg/L
    "potassium nitrate": ("K", (80, 200, 1)),
    "calcium nitrate tetrahydrate": ("Ca", (80, 180, 1)),
    "magnesium sulfate heptahydrate": ("Mg", (20, 50, 0.5)),
    "monopotassium phosphate": ("P", (20, 50, 0.5)),
}
COOLED = ("potassium nitrate", "monopotassium phosphate", "potassium sulfate")
WARM, COLD = 20, 10  # °C: where it is made, the coldest night of the store
SHOWN = (0, COLD, WARM, 30)  # °C


def kept_apart(calcium, sulfate, phosphate, other):
    """Return four splits, the one that keeps first: first tank, words, what is wrong with it."""
    met = "In the first tank calcium meets {}: {} falls out of so strong a solution."
    both = met.format("sulfate and phosphate", "gypsum")
    splits = (
        ((calcium, other), ""),
        ((calcium, sulfate), met.format("sulfate", "gypsum")),
        ((calcium, phosphate), met.format("phosphate", "calcium phosphate")),
        ((calcium, sulfate, phosphate, other), f"{both} Twice the water is no help."),
    )
    rest = (calcium, sulfate, phosphate, other)
    return [(first, _split_words(first, rest), says) for first, says in splits]


def _split_words(first, salts):
    """Return a split in words."""
    second = [name for name in salts if name not in first]
    if not second:
        return "all four in one tank, with twice the water"
    return f"{' with '.join(first)}; {' with '.join(second)}"


def _grams_of_a_stock(lot):
    """How much salt goes into a concentrate?"""
    salt = lot.one_of(tuple(WANTED))
    key, span = WANTED[salt]
    of, wanted = SchoolSalt(salt), lot.between(*span)
    times, litres = lot.one_of(STRENGTHS), lot.between(2, 20, 1)
    feed = line(
        f"salt in a litre of feed, by its {key}",
        "mg/L",
        (wanted, "mg/L"),
        "÷",
        (of.share(key), f"g {key} per g"),
    )
    stock = line(
        "in a litre of concentrate",
        "g/L",
        carried(feed),
        "×",
        (times, ""),
        "÷",
        (1000, "mg/g"),
    )
    last = line("in all of it", "g", carried(stock), "×", (litres, "L"))
    right = last.value
    slips = [
        Slip(right / times, "That is a feed; the concentrate is stronger."),
        Slip(right * of.share(key), f"That is the {key} alone; the salt is weighed."),
        Slip(right / litres, "That is for one litre of concentrate."),
    ]
    if of.dry_mass != of.molar_mass:
        slips.append(
            Slip(right * of.dry_mass / of.molar_mass, "The crystal water is missing.")
        )
    return Task(
        given={"salt": salt, "wanted": wanted, "times": times, "litres": litres},
        question=f"A feed is to hold {wanted:g} mg/L of {key}, all of it from {of.printed}. How many grams of the salt go into {litres} L of "
        f"a concentrate 1:{times} (one part of it in {times} parts of feed)?",
        solution=Working(f"Concentrate 1:{times}", (feed, stock, last)),
        unit="g",
        units=("kg", "mg"),
        slips=tuple(slips),
        hints=(
            f"How many mg of the salt bring so much {key} into a litre of feed?",
            "A litre of concentrate makes as many litres of feed as its strength says.",
            f"mg/L of {key} over its share in the salt; times the strength, times the litres; mg into g.",
        ),
        care=care_of(of),
        remark="Made up to the volume, not poured into it: the salt takes room, too.",
    )


def _stock_for_a_tank(lot):
    """How much of each concentrate does a tank need?"""
    tank = lot.between(200, 1000, 10)
    rest = lot.between(20, 100, 5)
    times, percent = lot.one_of(STRENGTHS), lot.between(40, 90, 5)
    fresh = line("fresh feed", "L", (tank, "L"), "−", (rest, "L"))
    full = line("concentrate at full strength", "L", carried(fresh), "÷", (times, ""))
    last = line(
        "for seedlings", "L", carried(full), "×", (percent, "%"), "÷", (100, "%")
    )
    right = last.value
    return Task(
        given={"tank": tank, "rest": rest, "times": times, "percent": percent},
        question=f"A tank still holds {rest} L of feed at {percent} % of full strength, for seedlings. It is to be filled up to {tank} L with "
        f"the same. The concentrates A and B are 1:{times} for full strength. How many litres of A go in? (As many of B.)",
        solution=Working("Concentrate for a tank", (fresh, full, last)),
        unit="L",
        units=("mL",),
        slips=(
            Slip(
                right * tank / fresh.value,
                "What is in the tank already needs no concentrate.",
            ),
            Slip(full.value, "That is for full strength; seedlings get less."),
            Slip(2 * right, "A and B each; asked is A alone."),
            Slip(
                right / 2, "Do A and B share the strength, or has each its own salts?"
            ),
        ),
        hints=(
            "How many litres of feed are to be made?",
            "One part of each concentrate is in so many parts of feed of full strength.",
            "Litres to be made, over the strength, times the per cent.",
        ),
        remark="A into plenty of water, stirred; then B. Never one into the other.",
    )


def _injector(lot):
    """What does a feed hold when the injector is off?"""
    wanted, times = lot.between(100, 220, 1), lot.one_of(STRENGTHS)
    feed, off = lot.between(60, 300, 5), lot.between(8.0, 25.0, 0.5)
    taken = feed * 1000 / times * (1 + lot.one_of((-1, 1)) * off / 100)
    taken = round(taken / 5) * 5
    meant = line(
        "concentrate meant", "mL", (feed, "L"), "×", (1000, "mL/L"), "÷", (times, "")
    )
    share = line("of it was taken", "", (taken, "mL"), "÷", carried(meant))
    last = line("N in the feed", "mg/L", (wanted, "mg/L"), "×", carried(share))
    right = last.value
    return Task(
        given={"wanted": wanted, "times": times, "feed": feed, "taken": taken},
        question=f"An injector is set to 1:{times}, one part of concentrate in {times} parts of feed, and the concentrate is made so that the feed "
        f"holds {wanted} mg/L of N. While {feed} L of feed came out, the tank of concentrate lost {taken} mL. "
        "How many mg/L of N does the feed hold really?",
        solution=Working("A worn injector", (meant, share, last)),
        unit="mg/L",
        units=("g/L",),
        slips=(
            Slip(
                wanted / share.value, "More concentrate taken makes the feed stronger."
            ),
            Slip(wanted, "That is what was meant; the injector took something else."),
            Slip(abs(right - wanted), "That is how far it is off; what does it hold?"),
            Slip(
                feed * 1000 / taken,
                "That is the ratio it really has; asked is the nitrogen.",
            ),
        ),
        hints=(
            "How many mL should have been taken for so much feed?",
            "The feed is stronger or weaker by as much as the injector took more or less.",
            "mg/L meant, times mL taken, over mL that should have been.",
        ),
        remark="A bucket and a marked bottle test an injector; EC before and after tells the same.",
    )


def _cold_night(lot):
    """How much crystallises in a cold night?"""
    salt = lot.one_of(COOLED)
    of, water = SchoolSalt(salt), lot.between(10, 60, 1)
    limits = {t: round(solubility(of.formula, t).per_100g_water, 1) for t in SHOWN}
    share = lot.between(92, 98, 0.5)
    grams = round(water * limits[WARM] * share / 100) * 10
    keeps = line(
        f"keeps at {COLD} °C",
        "g",
        (limits[COLD], "g"),
        "×",
        (10, "per L"),
        "×",
        (water, "L"),
    )
    last = line("crystallises", "g", (grams, "g"), "−", carried(keeps))
    return Task(
        given={"salt": salt, "water": water, "grams": grams, "limits": limits[COLD]},
        question=f"{grams} g of {of.printed} were dissolved in {water} L of water at {WARM} °C. In a cold night the concentrate cools to {COLD} °C. "
        "How many grams crystallise? (A litre of water is 1000 g.)",
        table=(
            ("°C", f"g of {of.printed_formula} in 100 g of water"),
            *((t, f"{limits[t]:.1f}") for t in SHOWN),
        ),
        solution=Working(f"{salt} in a cold night", (keeps, last)),
        unit="g",
        units=("kg",),
        slips=(
            Slip(keeps.value, "That is what stays dissolved."),
            Slip(
                (limits[WARM] - limits[COLD]) * 10 * water,
                f"The concentrate was not full at {WARM} °C: start from what was dissolved.",
            ),
            Slip(
                grams - limits[0] * 10 * water,
                "That is a frost; look at the other line.",
            ),
            Slip(
                grams - limits[COLD] * water,
                "The table counts 100 g of water, not 1 L.",
            ),
        ),
        hints=(
            "How much of the salt can so much water hold in the cold?",
            "The table counts 100 g of water; a litre is ten of them.",
            f"Dissolved less what keeps at {COLD} °C: the number of the table times ten, times the litres.",
        ),
        care=care_of(of),
        remark="By morning the dose is too weak, and whoever does not look into the tank does not see why.",
    )


MORE = (
    ("Grams for a concentrate", _grams_of_a_stock),
    ("Concentrate for a tank", _stock_for_a_tank),
    ("A worn injector", _injector),
    ("A cold night", _cold_night),
)
