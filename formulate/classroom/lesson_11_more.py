"""Exercises of lesson 11, second part: equal prices, a bag fewer, the purse of a tank, a band, a credit."""

from formulate.classroom.lines import carried, line
from formulate.classroom.school_salts import SchoolSalt, care_of
from formulate.classroom.task import Slip, Task
from formulate.working import Working

__all__ = ["MORE"]

EQUAL = (  # two salts, the nutrient both are bought for, lowest and highest price of the first [EUR/kg]
    ("potassium nitrate", "potassium sulfate", "K", 1.6, 3.2),
    ("potassium sulfate", "monopotassium phosphate", "K", 1.2, 2.8),
    ("potassium chloride", "potassium sulfate", "K", 0.6, 1.4),
    ("magnesium sulfate heptahydrate", "magnesium sulfate monohydrate", "Mg", 0.6, 1.6),
    ("calcium nitrate tetrahydrate", "calcium chloride dihydrate", "Ca", 1.0, 2.4),
    ("monopotassium phosphate", "monoammonium phosphate", "P", 2.8, 5.2),
)


def _equal_price(lot):
    """At which price do two salts cost the same?"""
    one, two, element, low, high = lot.one_of(EQUAL)
    salts = [SchoolSalt(one), SchoolSalt(two)]
    size, other = lot.some_of((5, 10, 20, 25), 2)
    price = round(round(lot.between(low, high, 0.01) * size / 0.05) * 0.05, 2)
    held = [
        line(
            f"{element} in a kg of {s.printed_formula}",
            "kg",
            (1, "kg"),
            *s.holding(element),
        )
        for s in salts
    ]
    cost = line(
        f"a kilogram of {element} so far",
        "EUR/kg",
        (price, "EUR"),
        "÷",
        (size, "kg"),
        "÷",
        carried(held[0]),
    )
    worth = line(
        f"what {other} kg of the other are worth",
        "EUR",
        carried(cost),
        "×",
        carried(held[1]),
        "×",
        (other, "kg"),
    )
    plain = price / size * other
    ratio = salts[1].share(element) / salts[0].share(element)
    return Task(
        given={
            "salts": (one, two),
            "element": element,
            "sizes": (size, other),
            "price": price,
        },
        question=f"A bag of {size} kg of {salts[0].printed} costs {price:.2f} EUR. Another salt, {salts[1].printed}, "
        f"is sold in bags of {other} kg. Only the {element} counts.\n\nAt which price of this bag do both salts cost the same?",
        solution=Working("The price at which nothing is gained", (*held, cost, worth)),
        unit="EUR",
        units=("ct",),
        slips=(
            Slip(
                plain,
                f"That compares salt with salt; they hold different shares of {element}.",
            ),
            Slip(
                plain / ratio,
                f"The salt with more {element} in a kilogram may cost more, not less.",
            ),
            Slip(plain * ratio / other, "That is for one kilogram; the bag is asked."),
            Slip(plain * ratio * size / other, "That is for a bag of the first size."),
        ),
        hints=(
            "Two salts cost the same if a kilogram of the nutrient does.",
            f"What does a kilogram of {element} cost from the first bag?",
            "That price × the share of the nutrient in the other salt × the size of its bag.",
        ),
        remark="Below this price the other salt comes into the cheapest recipe, as far as nothing else it brings stands against it.",
    )


SHARED = (  # nutrient, the salts that bring it with lowest and highest [g/L]
    (
        "S",
        (
            ("potassium sulfate", 0.10, 0.35),
            ("magnesium sulfate heptahydrate", 0.25, 0.55),
        ),
    ),
    (
        "N",
        (
            ("calcium nitrate tetrahydrate", 0.50, 1.00),
            ("potassium nitrate", 0.20, 0.60),
            ("magnesium nitrate hexahydrate", 0.10, 0.30),
        ),
    ),
    (
        "K",
        (
            ("potassium nitrate", 0.20, 0.60),
            ("potassium sulfate", 0.08, 0.25),
            ("monopotassium phosphate", 0.10, 0.25),
        ),
    ),
    (
        "Ca",
        (
            ("calcium nitrate tetrahydrate", 0.40, 0.90),
            ("calcium chloride dihydrate", 0.06, 0.20),
        ),
    ),
)


def _one_bag_fewer(lot):
    """Which share of a nutrient is missing if one bag stays away?"""
    element, recipe = lot.one_of(SHARED)
    litres = lot.one_of((50, 80, 100, 150, 200, 250))
    grams = {
        name: round(lot.between(low, high, 0.005) * litres, 1)
        for name, low, high in recipe
    }
    gone = lot.one_of(tuple(grams))
    parts = {
        name: line(
            f"{element} from {SchoolSalt(name).printed_formula}",
            "g",
            (weight, "g"),
            *SchoolSalt(name).holding(element),
        )
        for name, weight in grams.items()
    }
    terms = [term for part in parts.values() for term in (carried(part), "+")]
    total = line("all", "g", *terms[:-1])
    share = line(
        "missing", "%", carried(parts[gone]), "÷", carried(total), "×", (100, "%")
    )
    lost, whole = parts[gone].value, total.value
    return Task(
        given={"element": element, "grams": grams, "gone": gone, "litres": litres},
        question=f"A recipe for {litres} L takes the salts of the table for its {element}; nothing else brings any. There is "
        f"room for one bag fewer, and {gone} stays away. The other weights remain.\n\n"
        f"How many per cent of the {element} are missing?",
        table=(
            ("salt", f"g in {litres} L"),
            *((SchoolSalt(n).printed, f"{g}") for n, g in grams.items()),
        ),
        solution=Working("What one bag brings", (*parts.values(), total, share)),
        unit="%",
        slips=(
            Slip(
                100 * grams[gone] / sum(grams.values()),
                f"That compares salts; they hold different shares of {element}.",
            ),
            Slip(100 * (whole - lost) / whole, "That is what remains."),
            Slip(
                100 * lost / (whole - lost),
                "Compare with what was there before, not with what is left.",
            ),
            Slip(
                lost / litres * 1000,
                "Those are mg/L; per cent of what was there are asked.",
            ),
        ),
        hints=(
            f"Count the {element} in each salt, in grams.",
            "Weight × atoms × molar mass of the atom ÷ molar mass of the salt, for every line of the table.",
            "What the missing bag brought ÷ what all of them brought together × 100 %.",
        ),
        care=care_of(*(SchoolSalt(name) for name in grams)),
        remark="The program weighs the others anew and gets a part of this back, at the price of other numbers.",
    )


PRICED = (  # salt, lowest and highest [g/L], lowest and highest price [EUR/kg]
    ("calcium nitrate tetrahydrate", 0.50, 1.00, 1.0, 2.4),
    ("potassium nitrate", 0.20, 0.60, 1.6, 3.2),
    ("monopotassium phosphate", 0.10, 0.25, 2.8, 5.2),
    ("magnesium sulfate heptahydrate", 0.20, 0.50, 0.6, 1.6),
    ("potassium sulfate", 0.05, 0.25, 1.2, 2.8),
)


def _cost_of_a_tank(lot):
    """What do 1000 L of a recipe cost?"""
    chosen, litres = (
        lot.some_of(PRICED, 3),
        lot.one_of((50, 60, 80, 120, 150, 200, 250)),
    )
    rows = {
        name: (
            round(lot.between(low, high, 0.01) * litres, 1),
            lot.between(cheap, dear, 0.05),
        )
        for name, low, high, cheap, dear in chosen
    }
    costs = [
        line(
            f"{name}", "EUR", (grams, "g"), "÷", (1000, "g/kg"), "×", (price, "EUR/kg")
        )
        for name, (grams, price) in rows.items()
    ]
    terms = [term for cost in costs for term in (carried(cost), "+")]
    batch = line(f"{litres} L", "EUR", *terms[:-1])
    tank = line("1000 L", "EUR", carried(batch), "÷", (litres, "L"), "×", (1000, "L"))
    mean = sum(price for _, price in rows.values()) / len(rows)
    weight = sum(grams for grams, _ in rows.values())
    return Task(
        given={"rows": rows, "litres": litres},
        question=f"A recipe for {litres} L stands in the table, with what a kilogram of each salt costs. "
        "What do 1000 L of this feed cost?",
        table=(
            ("salt", f"g in {litres} L", "EUR per kg"),
            *((n, f"{g}", f"{p:.2f}") for n, (g, p) in rows.items()),
        ),
        solution=Working("The purse of a tank", (*costs, batch, tank)),
        unit="EUR",
        units=("ct",),
        slips=(
            Slip(batch.value, "That is for the volume of the recipe."),
            Slip(
                weight * mean / litres,
                "A mean price counts all salts alike; each has a weight of its own.",
            ),
            Slip(
                tank.value - costs[-1].value / litres * 1000,
                "The last line of the table is forgotten.",
            ),
            Slip(batch.value * litres / 1000, "More litres cost more, not less."),
        ),
        hints=(
            "Each salt by itself: its weight in kg times its price.",
            "Add them up; that is for the litres of the table.",
            "Divide by the litres of the table, times 1000.",
        ),
    )


BANDED = (  # salt, nutrient, lowest and highest wanted [mg/L]
    ("calcium nitrate tetrahydrate", "Ca", 120, 200),
    ("calcium chloride dihydrate", "Ca", 120, 200),
    ("magnesium sulfate heptahydrate", "Mg", 30, 60),
    ("magnesium nitrate hexahydrate", "Mg", 30, 60),
    ("potassium sulfate", "S", 50, 90),
)


def _least_in_band(lot):
    """The least weight that a band of nearness allows."""
    name, element, low, high = lot.one_of(BANDED)
    salt, wanted = SchoolSalt(name), lot.between(low, high, 1)
    litres = lot.one_of((50, 80, 100, 150, 200, 250, 300, 400, 500))
    percent = lot.between(5, 10, 1)
    water = round(wanted * lot.between(0.35, 0.60, 0.01))
    least = line(
        "least that is allowed", "mg/L", (wanted, "mg/L"), "×", 100 - percent, "÷", 100
    )
    left = line(
        "without the water's part", "mg/L", carried(least), "−", (water, "mg/L")
    )
    weight = line(
        "the salt that brings it",
        "g",
        carried(left),
        "×",
        (litres, "L"),
        *salt.bringing(element),
        "÷",
        (1000, "mg/g"),
    )
    given = {
        "salt": name,
        "element": element,
        "wanted": wanted,
        "percent": percent,
        "water": water,
        "litres": litres,
    }
    return Task(
        given=given,
        question=f"{wanted} mg/L of {element} are wanted in {litres} L; up to {percent} % less is near enough. The water brings "
        f"{water} mg/L of it, {salt.printed} the rest.\n\nWhat is the least weight that keeps within the band?",
        solution=Working("The lower edge of the band", (least, left, weight)),
        unit="g",
        units=("kg", "mg"),
        slips=tuple(_slips_of_band(salt, given)),
        hints=(
            "Which is the lowest concentration that is still near enough?",
            "The water brings its part whether the band is wide or narrow: take it off.",
            "What is left × litres ÷ (atoms × molar mass of the atom) × molar mass of the salt.",
        ),
        care=care_of(salt),
        remark="The water helps: so many per cent less in the tank are more per cent less on the balance.",
    )


def _slips_of_band(salt, given):
    """Yield what goes wrong with a band and a water."""
    wanted, water, part = given["wanted"], given["water"], given["percent"] / 100
    litres, element = given["litres"], given["element"]

    def grams(mg_l):
        return mg_l * litres / 1000 / salt.share(element)

    yield Slip(grams(wanted - water), "That is the exact weight; the band allows less.")
    yield Slip(grams(wanted * (1 - part)), "The water brings some of it, too.")
    says = "The band is of what is wanted in all, not of what the salt brings."
    yield Slip(grams((wanted - water) * (1 - part)), says)
    says = "That is the upper edge of the band."
    yield Slip(grams(wanted * (1 + part) - water), says)
    left = (wanted * (1 - part) - water) * litres / 1000
    yield Slip(left, f"That is the {element}; the question asks for the salt.")


def _after_credit(lot):
    """What does potassium cost once its nitrogen is paid?"""
    nitrate, calcium = (
        SchoolSalt("potassium nitrate"),
        SchoolSalt("calcium nitrate tetrahydrate"),
    )
    price, other = lot.between(1.80, 3.20, 0.01), lot.between(0.90, 1.50, 0.01)
    paid = (other, "EUR/kg"), *calcium.bringing("N")
    worth = line("a kilogram of N from the other bag", "EUR/kg", *paid)
    held = line("N in a kilogram", "kg", (1, "kg"), *nitrate.holding("N"))
    spared = line("what it spares", "EUR/kg", carried(held), "×", carried(worth))
    rest = line("what is left", "EUR/kg", (price, "EUR/kg"), "−", carried(spared))
    cost = line("a kilogram of K", "EUR", carried(rest), *nitrate.bringing("K"))
    full = price / nitrate.share("K")
    return Task(
        given={"price": price, "other": other},
        question=f"A kilogram of {nitrate.printed} costs {price:.2f} EUR, one of {calcium.printed} {other:.2f} EUR. "
        f"Nitrogen is bought anyway: its worth is what a kilogram of N costs from {calcium.printed_formula}, whose whole price is laid on the N.\n\n"
        f"With the N paid for at this price, what does a kilogram of K from {nitrate.printed_formula} cost?",
        solution=Working("A nutrient after credit", (worth, held, spared, rest, cost)),
        unit="EUR",
        units=("ct", "EUR/kg"),
        within_percent=2.0,  # a difference of prices: rounding on the way counts several times
        slips=(
            Slip(full, "That lays the whole price on the K; its N has a worth, too."),
            Slip(
                rest.value,
                "That is what is left to pay of the salt; a kilogram of K is asked.",
            ),
            Slip(
                full - held.value * worth.value,
                "That credit belongs to a kilogram of the salt, and was taken off a kilogram of K.",
            ),
            Slip(
                (price - held.value * other) / nitrate.share("K"),
                "The worth is that of the N, not of the salt that brings it.",
            ),
        ),
        hints=(
            "First the worth of the nitrogen: what does a kilogram of N cost from the other bag?",
            "How much N comes with a kilogram of potassium nitrate? Take its worth off the price.",
            "What is left of the price ÷ share of K in the salt.",
        ),
        remark="Laid on one nutrient alone a price says little; what comes along must be wanted to count.",
    )


MORE = (
    ("The price at which two salts cost the same", _equal_price),
    ("One bag fewer", _one_bag_fewer),
    ("The purse of a tank", _cost_of_a_tank),
    ("The least that is near enough", _least_in_band),
    ("Once the nitrogen is paid", _after_credit),
)
