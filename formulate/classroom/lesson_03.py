"""Exercises of lesson 03: labels and oxides."""

from formulate.classroom.lesson_03_more import MORE
from formulate.classroom.lines import line, share_line
from formulate.classroom.task import Slip, Task
from formulate.stoichiometry.formula import molar_mass
from formulate.working import Quantity, Step, Working

__all__ = ["EXERCISES"]

PACKS = (5, 10, 15, 20, 25, 40)  # kg
SULFURS = {  # how sulfur is printed: its word, least and greatest share of a bag
    "S": ("sulfur, S", 2.0, 18.0),
    "SO3": ("sulfur trioxide, SO₃", 5.0, 45.0),
    "SO4": ("sulfate, SO₄", 6.0, 54.0),
}


def _potassium_of_potash(lot):
    """How much K is a label's K2O?"""
    potash = lot.between(4.0, 50.0, 0.1)
    phosphate = lot.between(2.0, 10.0, 0.1)
    oxide, metal = molar_mass("K2O"), molar_mass("K")
    step = Step(
        "K of the K₂O",
        (
            Quantity(potash, "%"),
            "×",
            Quantity(2),
            "×",
            Quantity(metal, "g/mol"),
            "÷",
            Quantity(oxide, "g/mol"),
        ),
        "%",
    )
    return Task(
        given={"potash": potash, "phosphate": phosphate},
        question=f"A label reads: phosphate (P₂O₅) {phosphate} %, soluble potash (K₂O) {potash} %. "
        "How much potassium, counted as K, is that?",
        solution=Working("K from K₂O", (step,)),
        unit="%",
        units=("g/kg", "mg/kg"),
        slips=(
            Slip(potash, "That is K₂O; the question asks for K."),
            Slip(
                potash * oxide / (2 * metal),
                "That is the other way round: K₂O is heavier than the K in it.",
            ),
            Slip(
                potash * metal / oxide,
                "One K₂O holds two K: one of them is missing.",
            ),
            Slip(
                potash * 2 * molar_mass("P") / molar_mass("P2O5"),
                "That is the share of P in P₂O₅; potash has a share of its own.",
            ),
            Slip(
                phosphate * 2 * metal / oxide,
                "That is the line of the phosphate: which one counts potassium?",
            ),
        ),
        hints=(
            "Potash is a way of counting; how many K are in one K₂O?",
            "The share of K in K₂O is the mass of its K over the mass of K₂O.",
            f"K₂O weighs 2 × {metal:.2f} + {molar_mass('O'):.2f} g/mol, its potassium 2 × {metal:.2f}. "
            "Divide, then multiply by the per cent.",
        ),
    )


def _phosphorus_in_bag(lot):
    """How many kilograms of P are in a bag?"""
    pack, phosphate = lot.one_of(PACKS), lot.between(3.0, 52.0, 0.1)
    oxide, element = molar_mass("P2O5"), molar_mass("P")
    counted = line("P₂O₅ in the bag", "kg", (pack, "kg"), "×", phosphate, "÷", 100)
    last = share_line("P in the bag", "kg", counted.value, "P2O5", "P")
    right = last.value
    return Task(
        given={"pack": pack, "phosphate": phosphate},
        question=f"A bag of {pack} kg reads: phosphate (P₂O₅) {phosphate} %. How many kilograms of phosphorus, counted "
        "as P, are in the bag?",
        solution=Working("P from P₂O₅", (counted, last)),
        unit="kg",
        units=("g",),
        slips=(
            Slip(counted.value, "That is P₂O₅; the question asks for P."),
            Slip(right / 2, "One P₂O₅ holds two P: one of them is missing."),
            Slip(
                counted.value * oxide / (2 * element),
                "That is the other way round: P₂O₅ is heavier than the P in it.",
            ),
            Slip(
                right / pack,
                "That is one kilogram of the bag, not all of it.",
            ),
        ),
        hints=(
            "First the kilograms that are counted as P₂O₅, then which part of them is P.",
            "The share of P in P₂O₅ is the mass of two P over the mass of P₂O₅.",
            f"P weighs {element:.2f} g/mol and O {molar_mass('O'):.2f} g/mol: less than half of P₂O₅ is P.",
        ),
    )


def _grade_in_feed(lot):
    """How many mg/L of an element does a dose of a graded bag bring?"""
    nitrogen, phosphate, potash = (
        lot.between(3, 14, 1),
        lot.between(3, 16, 1),
        lot.between(8, 30, 1),
    )
    volume = lot.one_of((20, 50, 100, 200))
    grams = round(volume * lot.between(0.4, 2.0, 0.1))
    symbol, oxide, percent, other = lot.one_of(
        (("P", "P2O5", phosphate, potash), ("K", "K2O", potash, phosphate))
    )
    dose = line("dose", "mg/L", (grams, "g"), "×", (1000, "mg/g"), "÷", (volume, "L"))
    counted = line(
        f"counted as {WRITTEN[oxide]}",
        "mg/L",
        (dose.value, "mg/L"),
        "×",
        percent,
        "÷",
        100,
    )
    last = share_line(symbol, "mg/L", counted.value, oxide, symbol)
    right = last.value
    return Task(
        given={
            "grade": (nitrogen, phosphate, potash),
            "grams": grams,
            "volume": volume,
            "symbol": symbol,
        },
        question=f"A bag reads {nitrogen}-{phosphate}-{potash} (N, P₂O₅, K₂O). {grams} g of it go into "
        f"{volume} L of feed. How many mg/L of {WORDS[symbol]}, counted as {symbol}, does that bring?",
        solution=Working(f"{symbol} in the feed", (dose, counted, last)),
        unit="mg/L",
        units=("g/L",),
        slips=(
            Slip(
                counted.value,
                f"That is {WRITTEN[oxide]}; the question asks for {symbol}.",
            ),
            Slip(
                right * nitrogen / percent,
                "That number of the grade is the nitrogen.",
            ),
            Slip(
                right * other / percent,
                "That number of the grade counts the other oxide.",
            ),
            Slip(
                right / 2, f"One {WRITTEN[oxide]} holds two {symbol}: one is missing."
            ),
            Slip(right * volume, "That is for all litres together; asked is one."),
        ),
        hints=(
            "Which of the three numbers is it, and what does it count?",
            "Milligrams of the bag in a litre, then the per cent of it, then from the oxide to the element.",
            "mg/L = grams × 1000 ÷ litres × per cent ÷ 100 × mass of the element in the oxide ÷ mass of the oxide.",
        ),
    )


def _nitrogen_in_feed(lot):
    """How many mg/L of nitrogen do three forms bring together?"""
    nitric = lot.between(2.0, 9.0, 0.1)
    ammoniacal = lot.between(1.0, 5.0, 0.1)
    ureic = lot.between(1.0, 6.0, 0.1)
    dose = lot.between(0.4, 2.0, 0.1)
    total = line(
        "N in the bag", "%", (nitric, "%"), "+", (ammoniacal, "%"), "+", (ureic, "%")
    )
    last = line(
        "N in the feed",
        "mg/L",
        (total.value, "%"),
        "×",
        (10, "mg/g per %"),
        "×",
        (dose, "g/L"),
    )
    of_ions = (
        nitric * molar_mass("N") / molar_mass("NO3")
        + ammoniacal * molar_mass("N") / molar_mass("NH4")
        + ureic * 2 * molar_mass("N") / molar_mass("CO(NH2)2")
    )
    return Task(
        given={
            "nitric": nitric,
            "ammoniacal": ammoniacal,
            "ureic": ureic,
            "dose": dose,
        },
        question="The label of a bag tells its nitrogen in three forms, each as N. "
        f"How many mg/L of nitrogen, N, does {dose:.1f} g/L of it bring in all?",
        solution=Working("nitrogen in the feed", (total, last)),
        unit="mg/L",
        units=("g/L",),
        slips=(
            Slip(10 * dose * nitric, "That is the nitric nitrogen alone."),
            Slip(
                10 * dose * (nitric + ammoniacal),
                "The ureic nitrogen is left out: the question asks for all of it.",
            ),
            Slip(
                10 * dose * of_ions,
                "That takes the lines for ions and urea; the label counts each as N already.",
            ),
            Slip(10 * total.value, "That is for one gram in a litre."),
        ),
        hints=(
            "What does each of the three lines count?",
            "All three lines count N, so they may be added as they stand.",
            "1 % of a solid is 10 mg in a gram; then grams in a litre.",
        ),
        table=(
            ("nitrogen (N)", "%"),
            ("nitric", f"{nitric:.1f}"),
            ("ammoniacal", f"{ammoniacal:.1f}"),
            ("ureic", f"{ureic:.1f}"),
        ),
    )


def _sulfur_as(lot):
    """How much is a bag's sulfur, counted another way?"""
    printed, asked = lot.some_of(tuple(SULFURS), 2)
    word, low, high = SULFURS[printed]
    share, dose = lot.between(low, high, 0.1), lot.between(0.4, 2.0, 0.1)
    (third,) = set(SULFURS) - {printed, asked}
    in_feed = line(
        f"{WRITTEN[printed]} in the feed",
        "mg/L",
        (share, "%"),
        "×",
        (10, "mg/g per %"),
        "×",
        (dose, "g/L"),
    )
    last = line(
        f"{WRITTEN[asked]} in the feed",
        "mg/L",
        (in_feed.value, "mg/L"),
        "×",
        (molar_mass(asked), "g/mol"),
        "÷",
        (molar_mass(printed), "g/mol"),
    )
    ratio = molar_mass(asked) / molar_mass(printed)
    return Task(
        given={"printed": printed, "asked": asked, "share": share, "dose": dose},
        question=f"A bag reads: {word}, {share:.1f} %. {dose:.1f} g/L of it go into a feed. The recipe counts "
        f"{SULFURS[asked][0]}. How many mg/L of that does the bag bring?",
        solution=Working(f"{WRITTEN[asked]} from {WRITTEN[printed]}", (in_feed, last)),
        unit="mg/L",
        units=("g/L",),
        slips=(
            Slip(
                in_feed.value,
                f"That is {WRITTEN[printed]}, as the bag has it; the recipe counts {WRITTEN[asked]}.",
            ),
            Slip(
                in_feed.value / ratio,
                "That is the other way round: the heavier way of counting gives the larger number.",
            ),
            Slip(
                in_feed.value * molar_mass(third) / molar_mass(printed),
                f"That is {WRITTEN[third]}; the recipe counts {WRITTEN[asked]}.",
            ),
            Slip(last.value / dose, "That is for one gram in a litre."),
        ),
        hints=(
            "The moles of sulfur are the same, whichever way they are counted.",
            "Each of S, SO₃ and SO₄ holds one S: only the mass that is counted with it differs.",
            "Multiply by the molar mass of what is asked and divide by that of what is printed.",
        ),
    )


def _other_label(lot):
    """How many grams of a bag labelled in elements replace one labelled in oxides?"""
    potash, element = lot.between(15, 45, 1), lot.between(12, 36, 1)
    grams = lot.between(20, 150, 5)
    counted = line("K₂O wanted", "g", (grams, "g"), "×", potash, "÷", 100)
    metal = share_line("K wanted", "g", counted.value, "K2O", "K")
    last = line("of the new bag", "g", (metal.value, "g"), "×", 100, "÷", element)
    share = 2 * molar_mass("K") / molar_mass("K2O")
    alike = grams * potash / element
    return Task(
        given={"potash": potash, "element": element, "grams": grams},
        question=f"A recipe takes {grams} g of a bag with {potash} % of potash, counted as K₂O. The new bag comes from a "
        f"country where labels count elements: {element} % of potassium, K. How many grams of the new bag bring as "
        "much potassium?",
        solution=Working("the same potassium", (counted, metal, last)),
        unit="g",
        units=("mg", "kg"),
        slips=(
            Slip(
                alike,
                "That takes both numbers for the same thing; one counts K₂O, one K.",
            ),
            Slip(
                alike / share,
                "The oxide was turned the wrong way: K₂O is heavier than its K.",
            ),
            Slip(
                grams * element / (potash * share),
                "That is the other way round: a richer bag needs fewer grams.",
            ),
            Slip(alike * share / 2, "One K₂O holds two K: one of them is missing."),
        ),
        hints=(
            "How much potassium, as K, did the old bag bring?",
            "Old bag: grams × per cent ÷ 100 gives K₂O; most of that, but not all, is K.",
            "Grams of K wanted, then ÷ per cent of K in the new bag × 100.",
        ),
    )


def _blended(lot):
    """What does the label of a blend of two bags say?"""
    first, second = lot.between(2.0, 24.0, 0.5), lot.between(1.0, 15.0, 0.5)
    low, high = lot.between(3, 15, 1), lot.between(22, 52, 1)
    poor = line("K₂O of the first", "kg", (first, "kg"), "×", low, "÷", 100)
    rich = line("K₂O of the second", "kg", (second, "kg"), "×", high, "÷", 100)
    both = line("blend", "kg", (first, "kg"), "+", (second, "kg"))
    oxide = line("K₂O in the blend", "kg", (poor.value, "kg"), "+", (rich.value, "kg"))
    last = line(
        "potash of the blend",
        "%",
        (oxide.value, "kg"),
        "÷",
        (both.value, "kg"),
        "×",
        (100, "%"),
    )
    return Task(
        given={"first": first, "second": second, "low": low, "high": high},
        question=f"{first:.1f} kg of a bag with {low} % of potash (K₂O) are mixed with {second:.1f} kg of a bag with "
        f"{high} %. What per cent of potash, still counted as K₂O, is right on the label of the blend?",
        solution=Working("potash of a blend", (poor, rich, both, oxide, last)),
        unit="%",
        units=("g/kg", "mg/kg"),
        slips=(
            Slip((low + high) / 2, "That takes equal parts; more of one bag went in."),
            Slip(
                low + high, "Shares of two bags do not add: the blend is heavier too."
            ),
            Slip(
                last.value * 2 * molar_mass("K") / molar_mass("K2O"),
                "That is K; this label counts K₂O.",
            ),
            Slip(
                (first * high + second * low) / (first + second),
                "The two bags have changed places.",
            ),
        ),
        hints=(
            "How many kilograms of K₂O does each bag bring?",
            "Kilograms may be added, per cent may not.",
            "K₂O of both bags ÷ kilograms of both bags × 100.",
        ),
    )


WORDS = {"P": "phosphorus", "K": "potassium"}
WRITTEN = {"P2O5": "P₂O₅", "K2O": "K₂O", "S": "S", "SO3": "SO₃", "SO4": "SO₄"}
EXERCISES = (
    ("Potash is not potassium", _potassium_of_potash),
    ("Phosphorus in the bag", _phosphorus_in_bag),
    ("From a grade to a litre", _grade_in_feed),
    ("Three forms of nitrogen", _nitrogen_in_feed),
    ("Sulfur, counted three ways", _sulfur_as),
    ("Two labels, one potassium", _other_label),
    ("The label of a blend", _blended),
    *MORE,
)
