"""Exercises of lesson 09: a leaflet and its slip, a gallon, an assay, the least sulfate, a chart, two bags."""

from formulate.classroom.lesson_09_more import MORE
from formulate.classroom.lines import carried, line, share_line
from formulate.classroom.task import Option, Slip, Task
from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.units import convert
from formulate.tables import read_table
from formulate.working import Working

__all__ = ["EXERCISES"]

OXIDES = {"P": ("P2O5", "P₂O₅", "phosphate"), "K": ("K2O", "K₂O", "potash")}
GALLONS = {"US gallon": "US gal", "imperial gallon": "imp gal"}
SACKS = (10, 15, 20, 25)  # kg
RATES = (0.05, 0.06, 0.07, 0.08, 0.09, 0.10, 0.11)  # EUR for 1 % of a kg
CALCIUM_NITRATE = 15.5  # % of N, the grade of the trade
ASSAYED = {  # least and greatest guarantee, all between two rows of the table
    "N": ("total nitrogen (N)", (11, 25, 2)),
    "K2O": ("potash (K₂O)", (11, 31, 2)),
}
SLIPS = {  # of a leaflet: in words, and what it would do
    "A": ("P₂O₅ is printed as P", "Then P alone would be too large, more than twice."),
    "B": ("K₂O is printed as K", "Then K alone would be too large, by a fifth."),
    "C": (
        "grams for a US gallon are taken as grams for a litre",
        "Then N, P and K would all be nearly four times too large.",
    ),
    "D": (
        "the US gallon is taken for an imperial one, which is larger",
        "Then N, P and K would all be too small by a sixth.",
    ),
    "E": (
        "none: the three claims are right",
        "At least one claim does not follow from the dose.",
    ),
}


def _gallon(name):
    """Return the litres of a gallon, as a jug shows them."""
    return round(convert(1.0, GALLONS[name], "L"), 3)


def _per_litre(dose, name="US gallon"):
    """Return the line from grams in a gallon to grams in a litre."""
    return line("in a litre", "g/L", (dose, "g"), "÷", (_gallon(name), "L"))


def _in_feed(key, percent, dose):
    """Return the line from per cent of a bag to mg/L of a feed."""
    ten = (10, "mg/g per %")
    return line(f"{key} in the feed", "mg/L", (percent, "%"), "×", ten, "×", dose)


# --- a leaflet -------------------------------------------------------------------------


def _elements_in_feed(grade, litre):
    """Return the lines for N, P and K that a dose brings."""
    lines = []
    for key, percent in zip("NPK", grade, strict=True):
        step = _in_feed(OXIDES[key][1] if key in OXIDES else key, percent, litre)
        lines.append(step)
        if key in OXIDES:
            lines.append(share_line(key, "mg/L", step.value, OXIDES[key][0], key))
    return lines


def _factors(letter):
    """Return how many times too large a slip makes N, P and K."""
    oxide = {s: molar_mass(o[0]) / (2 * molar_mass(s)) for s, o in OXIDES.items()}
    smaller = _gallon("US gallon") / _gallon("imperial gallon")
    return {
        "A": (1, oxide["P"], 1),
        "B": (1, 1, oxide["K"]),
        "C": (_gallon("US gallon"),) * 3,
        "D": (smaller,) * 3,
        "E": (1, 1, 1),
    }[letter]


def _leaflet_and_slip(lot):
    """Which slip explains what a leaflet claims?"""
    grade = lot.between(8, 22, 1), lot.between(6, 24, 1), lot.between(10, 34, 1)
    dose, right = lot.between(2.0, 6.0, 0.1), lot.one_of(tuple(SLIPS))
    litre = _per_litre(dose)
    lines = _elements_in_feed(grade, (litre.value, "g/L"))
    true = [lines[0].value, lines[2].value, lines[4].value]
    pairs = zip(true, _factors(right), strict=True)
    claimed = tuple(round(value * factor) for value, factor in pairs)
    ratios = [
        line(f"{key}: claimed, over what the dose gives", "", c, "÷", value)
        for key, c, value in zip("NPK", claimed, true, strict=True)
    ]
    return Task(
        given={"grade": grade, "dose": dose, "claimed": claimed},
        question=f"A bag reads {'-'.join(map(str, grade))} (N, P₂O₅, K₂O). A leaflet says: {dose:.1f} g in a US gallon ({_gallon('US gallon')} L) "
        f"give {claimed[0]} ppm N, {claimed[1]} ppm P and {claimed[2]} ppm K. (ppm: mg/L.) Which slip is in it?",
        solution=Working("the claims worked out again", (litre, *lines, *ratios)),
        options={
            letter: Option(text, "" if letter == right else says)
            for letter, (text, says) in SLIPS.items()
        },
        right=right,
        hints=(
            "Work out all three numbers, not one: a slip shows in what it leaves right.",
            "mg/L = per cent × 10 × g/L; for P and K the number of the grade counts an oxide.",
            "Divide each claim by yours. A wrong gallon turns all three the same way, an oxide only its own.",
        ),
    )


def _ppm_of_a_gallon(lot):
    """How many mg/L does a dose for a gallon bring?"""
    symbol, name = lot.one_of(tuple(OXIDES)), lot.one_of(tuple(GALLONS))
    oxide, written, word = OXIDES[symbol]
    percent = lot.between(5, 52, 1) if symbol == "P" else lot.between(8, 50, 1)
    dose = lot.between(1.5, 8.0, 0.1)
    litre = _per_litre(dose, name)
    counted = _in_feed(written, percent, (litre.value, "g/L"))
    last = share_line(f"{symbol} in the feed", "mg/L", counted.value, oxide, symbol)
    right, size = last.value, _gallon(name)
    (other,) = (_gallon(each) for each in GALLONS if each != name)
    return Task(
        given={"symbol": symbol, "gallon": name, "percent": percent, "dose": dose},
        question=f"A bag reads: {word} ({written}) {percent} %. Its leaflet says: {dose:.1f} g to the {name} ({size} L). How many "
        f"mg/L of {symbol} is that, counted as the element?",
        solution=Working(f"{symbol} in a litre", (litre, counted, last)),
        unit="mg/L",
        units=("g/L",),
        slips=(
            Slip(counted.value, f"That is {written}; asked is {symbol}."),
            Slip(right * size, "So much is in a gallon; asked is a litre."),
            Slip(right * size**2, "A litre is less than a gallon: multiply or divide?"),
            Slip(right * size / other, f"Which gallon? The leaflet means the {name}."),
            Slip(right / 2, f"One {written} holds two {symbol}: one is missing."),
        ),
        hints=(
            "Three things stand in the way: the gallon, the per cent, the oxide.",
            "Grams ÷ litres of the gallon is g/L; 1 % of a gram is 10 mg.",
            f"Then × 2 × molar mass of {symbol} ÷ molar mass of {written}.",
        ),
    )


# --- a laboratory ----------------------------------------------------------------------


def _allowed(key, guarantee):
    """Return the rows of the table of allowances around a guarantee, and the line for it."""
    rows = [
        (r.number("guarantee"), r.number(key)) for r in read_table("label_allowances")
    ]
    below = max(row for row in rows if row[0] <= guarantee)
    above = min(row for row in rows if row[0] >= guarantee)
    width = above[0] - below[0]
    step = line(
        "allowed, between two rows",
        "points",
        (below[1], "points"),
        "×",
        ((above[0] - guarantee) / width, "of the way"),
        "+",
        (above[1], "points"),
        "×",
        ((guarantee - below[0]) / width, "of the way"),
    )
    return [below, above], step


def _beyond_the_allowance(lot):
    """How far is a bag below its guarantee, beyond what is allowed?"""
    key = lot.one_of(tuple(ASSAYED))
    words, span = ASSAYED[key]
    guarantee = lot.between(*span)
    rows, allowed = _allowed(key, guarantee)
    missing = round(allowed.value + lot.between(0.3, 2.2, 0.05), 1)
    apart = lot.between(0.2, 0.9, 0.1)
    samples = (
        round(guarantee - missing - apart, 1),
        round(guarantee - missing + apart, 1),
    )
    points = [(value, "points") for value in samples]
    mean = line("mean", "points", points[0], "÷", 2, "+", points[1], "÷", 2)
    short = line(
        "short of the guarantee",
        "points",
        (guarantee, "points"),
        "−",
        (mean.value, "points"),
    )
    last = line(
        "beyond what is allowed",
        "points",
        (short.value, "points"),
        "−",
        (allowed.value, "points"),
    )
    return Task(
        given={"key": key, "guarantee": guarantee, "samples": samples},
        question=f"A label guarantees {guarantee} % of {words}. A laboratory found {samples[0]:.1f} and {samples[1]:.1f} % in two "
        "samples. The rule lets the mean of the samples lie below the guarantee by the points of per cent in the table; between two rows one goes "
        "in proportion. How many points is the bag below what the rule still allows?",
        solution=Working(
            "an assay against its guarantee", (mean, allowed, short, last)
        ),
        unit="",
        within=0.006,
        slips=_slips_of_assay(key, guarantee, rows, short.value, allowed.value, apart),
        hints=(
            "First the mean of what was found, then how many points it is short.",
            "Is the guarantee no row of the table, it lies between two: so does what is allowed.",
            "Guarantee − mean − what is allowed.",
        ),
        table=(
            ("guarantee %", "points allowed"),
            *((f"{each:g}", f"{number:.2f}") for each, number in rows),
        ),
        remark="The allowance is that of one rule of one place and year [fl-576-061]; the laboratory's own doubt comes on top. "
        "A calculation, no finding of law.",
    )


def _slips_of_assay(key, guarantee, rows, short, allowed, apart):
    """Return what goes wrong with an allowance."""
    right = short - allowed
    slips = [
        Slip(short, "So much is missing; part of that is allowed."),
        Slip(
            short + allowed,
            "What is allowed speaks for the bag: add it or take it off?",
        ),
        Slip(right + apart, "That is by the worse sample; this rule takes the mean."),
        Slip(right - apart, "That is by the better sample; this rule takes the mean."),
        Slip(
            100 * right / guarantee,
            "That is per cent of the guarantee; asked are points.",
        ),
    ]
    if key == "K2O":  # rows of N are too near to tell
        says = "That takes a row of the table; the guarantee lies between two."
        slips += [Slip(short - number, says) for _, number in rows]
    return tuple(slips)


# --- what a label does not say ---------------------------------------------------------


def _least_sulfate(lot):
    """How much sulfate must be in a bag at least?"""
    magnesium, ammonium = lot.between(0.5, 2.5, 0.1), lot.between(0.5, 3.0, 0.1)
    potash = lot.between(12, 26, 1)
    sulfate = (molar_mass("SO4"), "g/mol")
    by_mg = line(
        "SO₄ with the magnesium",
        "%",
        (magnesium, "%"),
        "×",
        sulfate,
        "÷",
        (molar_mass("Mg"), "g/mol"),
    )
    by_n = line(
        "SO₄ with the ammonium",
        "%",
        (ammonium, "%"),
        "×",
        sulfate,
        "÷",
        2,
        "÷",
        (molar_mass("N"), "g/mol"),
    )
    last = line("SO₄ at least", "%", (by_mg.value, "%"), "+", (by_n.value, "%"))
    right = last.value
    by_k = potash * molar_mass("SO4") / molar_mass("K2O")
    return Task(
        given={"magnesium": magnesium, "ammonium": ammonium, "potash": potash},
        question=f"A label guarantees at least {ammonium:.1f} % of ammoniacal nitrogen (N), {potash} % of potash (K₂O) and "
        f"{magnesium:.1f} % of magnesium (Mg). Derived from: potassium nitrate, potassium sulfate, ammonium sulfate, magnesium "
        "sulfate, monopotassium phosphate. No other salt is in it. How many per cent of sulfate, SO₄, are in the bag at least?",
        solution=Working("the least sulfate", (by_mg, by_n, last)),
        unit="%",
        units=("g/kg", "mg/g"),
        slips=(
            Slip(right + by_k, "Must the potassium come from potassium sulfate?"),
            Slip(by_mg.value, "Which salt besides has to be there?"),
            Slip(by_n.value, "Which salt besides has to be there?"),
            Slip(
                by_mg.value + 2 * by_n.value,
                "How many ammonium does one sulfate come with?",
            ),
            Slip(
                right * molar_mass("S") / molar_mass("SO4"),
                "That is counted as S; asked is SO₄.",
            ),
        ),
        hints=(
            "Which guarantees can only be kept with a sulfate, and which without?",
            "Magnesium has one source, ammonium has one; potassium has three, two of them without sulfate.",
            "One Mg comes with one SO₄, two NH₄ come with one. Per cent of the element ÷ its molar mass × molar mass of SO₄, then add.",
        ),
        remark="There may be more: the label leaves open how much potassium sulfate is in. Ask for the sulfur.",
    )


def _week_of_a_chart(lot):
    """How many mg/L of nitrogen does a week of a chart give?"""
    nitrogen, first = lot.between(5, 12, 1), lot.between(3.0, 6.0, 0.5)
    steps = [lot.between(1.0, 2.5, 0.1) for _ in range(3)]
    bag = tuple(round(first + sum(steps[:n]), 1) for n in range(4))
    ratio = lot.between(0.4, 0.7, 0.05)
    other = tuple(round(grams * ratio, 1) for grams in bag)
    week = lot.between(1, 4, 1)
    a, b = bag[week - 1], other[week - 1]
    tenth = "÷", (10, "L")
    dose = line("bag in a litre", "g/L", (a, "g"), *tenth)
    salt = line("calcium nitrate in a litre", "g/L", (b, "g"), *tenth)
    one = _in_feed("N of the bag", nitrogen, (dose.value, "g/L"))
    two = _in_feed("N of the calcium nitrate", CALCIUM_NITRATE, (salt.value, "g/L"))
    last = line("N", "mg/L", (one.value, "mg/L"), "+", (two.value, "mg/L"))
    beside = week - 2 if week == 4 else week
    return Task(
        given={"nitrogen": nitrogen, "bag": bag, "other": other, "week": week},
        question=f"A feed chart tells grams for 10 L of two products: a bag with {nitrogen} % N, and calcium nitrate with "
        f"{CALCIUM_NITRATE} % N. How many mg/L of nitrogen does week {week} give?",
        solution=Working(f"nitrogen of week {week}", (dose, salt, one, two, last)),
        unit="mg/L",
        units=("g/L",),
        slips=(
            Slip(one.value, "That is the bag alone."),
            Slip(two.value, "That is the calcium nitrate alone."),
            Slip(
                bag[beside] * nitrogen + other[beside] * CALCIUM_NITRATE,
                "That is another week.",
            ),
            Slip(
                (a + b) * (nitrogen + CALCIUM_NITRATE),
                "Per cent of two products do not add: each counts for its own grams.",
            ),
            Slip(
                (a + b) * (nitrogen + CALCIUM_NITRATE) / 2,
                "The mean of both per cents takes equal grams; these are not equal.",
            ),
        ),
        hints=(
            "Each product brings its own nitrogen; milligrams of both may be added.",
            "The chart tells 10 L: how many grams of each are in one?",
            "mg/L = g/L × per cent × 10, of each; then the sum.",
        ),
        table=(
            ("week", "bag, g in 10 L", "calcium nitrate, g in 10 L"),
            *((n + 1, f"{bag[n]:.1f}", f"{other[n]:.1f}") for n in range(4)),
        ),
    )


def _bag_bought(number, symbol, size, percent, price):
    """Return the lines from a bag to the price of a kilogram of its nutrient."""
    oxide, written, _ = OXIDES[symbol]
    name = f"bag {number}"
    held = line(f"{written} in {name}", "kg", (size, "kg"), "×", percent, "÷", 100)
    taken = share_line(f"{symbol} in {name}", "kg", held.value, oxide, symbol)
    words = f"a kilogram of {symbol} from {name}"
    paid = (price, "EUR"), "÷", carried(taken), "×", (1, "kg")
    return held, taken, line(words, "EUR", *paid)


def _two_bags(lot):
    """What does a kilogram of a nutrient cost in the cheaper of two bags?"""
    symbol = lot.one_of(tuple(OXIDES))
    _, written, word = OXIDES[symbol]
    sizes = lot.one_of(SACKS), lot.one_of(SACKS)
    percents = lot.between(8, 20, 1), lot.between(21, 45, 1)
    rates = lot.some_of(RATES, 2)
    prices = tuple(
        round(size * percent * rate / 0.5) * 0.5
        for size, percent, rate in zip(sizes, percents, rates, strict=True)
    )
    bags = [
        _bag_bought(n + 1, symbol, sizes[n], percents[n], prices[n]) for n in range(2)
    ]
    best = min(range(2), key=lambda n: bags[n][-1].value)
    held, taken, _ = bags[best]
    return Task(
        given={
            "symbol": symbol,
            "sizes": sizes,
            "percents": percents,
            "prices": prices,
        },
        question=f"Two bags are bought for their {word} only. What does a kilogram of {symbol}, counted as the element, cost in the bag in "
        "which it is cheaper?",
        solution=Working("two bags compared", (*bags[1 - best], *bags[best])),
        unit="EUR",
        units=("ct",),
        slips=(
            Slip(
                bags[1 - best][-1].value,
                "That is the other bag: in one of the two it costs less.",
            ),
            Slip(
                prices[best] / held.value,
                f"That is a kilogram of {written}; asked is {symbol}.",
            ),
            Slip(
                prices[best] / sizes[best],
                f"That is a kilogram of the bag; asked is {symbol}.",
            ),
            Slip(
                prices[best] / sizes[best] * taken.value / sizes[best],
                "What is paid for goes under the line: a poorer bag makes it dearer.",
            ),
        ),
        hints=(
            "How many kilograms of the element does each bag hold?",
            f"Bag × per cent ÷ 100 gives {written}; then its share of {symbol}, as in lesson 03.",
            "Price of the bag ÷ kilograms of the element, for both; the smaller one counts.",
        ),
        table=(
            ("bag", "kg", f"{written} %", "EUR"),
            *((n + 1, sizes[n], percents[n], f"{prices[n]:.2f}") for n in range(2)),
        ),
        remark="The price of a bag tells nothing until it is laid on what the plants take up.",
    )


GRADE, TORN, BALANCE = MORE
EXERCISES = (
    GRADE,
    TORN,
    ("A leaflet and its slip", _leaflet_and_slip),
    ("Parts per million of a gallon", _ppm_of_a_gallon),
    ("Beyond the allowance", _beyond_the_allowance),
    ("The least sulfate", _least_sulfate),
    ("A week of a chart", _week_of_a_chart),
    BALANCE,
    ("Two bags, one nutrient", _two_bags),
)
