"""Exercises of lesson 11: what nearness, few bags, whole scoops and a lower price cost."""

from formulate.classroom.lesson_11_more import MORE
from formulate.classroom.lines import carried, line
from formulate.classroom.school_salts import SchoolSalt, care_of, mass
from formulate.classroom.task import Slip, Task
from formulate.stoichiometry.formula import molar_mass
from formulate.working import Working

__all__ = ["EXERCISES"]

BAGS = (  # salt, its nutrient, lowest and highest price [EUR/kg]
    ("potassium nitrate", "K", 1.6, 3.2),
    ("potassium nitrate", "N", 1.6, 3.2),
    ("potassium sulfate", "K", 1.2, 2.8),
    ("monopotassium phosphate", "P", 2.8, 5.2),
    ("magnesium sulfate heptahydrate", "Mg", 0.6, 1.6),
    ("magnesium nitrate hexahydrate", "Mg", 1.8, 3.6),
    ("calcium nitrate tetrahydrate", "Ca", 1.0, 2.4),
    ("calcium chloride dihydrate", "Ca", 0.8, 1.8),
)
SIZES = (5, 10, 20, 25)  # kg


def _price_of_bag(lot, low, high, size):
    """Return the price of a bag, in steps of 5 ct. [EUR]"""
    return round(round(lot.between(low, high, 0.01) * size / 0.05) * 0.05, 2)


def _price_of_nutrient(lot):
    """What does a kilogram of the nutrient cost?"""
    name, element, low, high = lot.one_of(BAGS)
    salt, size = SchoolSalt(name), lot.one_of(SIZES)
    price = _price_of_bag(lot, low, high, size)
    held = line(
        f"{element} in the bag",
        "kg",
        (size, "kg"),
        *salt.holding(element),
    )
    cost = line(f"a kilogram of {element}", "EUR", (price, "EUR"), "÷", carried(held))
    slips = [
        Slip(price / size, f"That is a kilogram of the salt, not of its {element}."),
        Slip(
            price / size * salt.share(element),
            f"There is less {element} than salt, so it must be dearer by the kilogram.",
        ),
        Slip(
            price / salt.share(element),
            "The size of the bag is forgotten.",
        ),
    ]
    if salt.count(element) > 1:
        says = f"One formula holds more than one {element}."
        slips.append(Slip(cost.value * salt.count(element), says))
    if salt.dry_mass != salt.molar_mass:
        says = "The crystal water is paid for, too: it belongs to the molar mass."
        slips.append(Slip(cost.value * salt.dry_mass / salt.molar_mass, says))
    return Task(
        given={"salt": name, "element": element, "size": size, "price": price},
        question=f"A bag of {size} kg of {salt.printed} costs {price:.2f} EUR. What does a kilogram of {element} cost, "
        "if the whole price is laid on it?",
        solution=Working("Price of a nutrient", (held, cost)),
        unit="EUR",
        units=("ct", "EUR/kg"),
        slips=tuple(slips),
        hints=(
            "A bag is bought by its weight, but the plants live on what is in it.",
            f"How many kilograms of {element} are in the whole bag? The formula tells the share.",
            "Price of the bag ÷ (size × atoms in the formula × molar mass of the atom ÷ molar mass of the salt).",
        ),
        remark="What else the salt brings has its worth, too; then the price of the one nutrient is lower.",
    )


def _with_chloride(lot):
    """Two sources of potassium, the cheap one with chloride, which has a limit."""
    cheap, dear = SchoolSalt("potassium chloride"), SchoolSalt("potassium sulfate")
    prices = lot.between(0.50, 0.90, 0.02), lot.between(1.90, 3.00, 0.02)
    wanted, litres = lot.between(160, 260, 5), lot.one_of((500, 1000, 2000, 5000))
    there, most = lot.between(15, 30, 1), lot.between(60, 100, 5)
    room = line("chloride that may come", "mg/L", (most, "mg/L"), "−", (there, "mg/L"))
    chloride = line(
        f"{cheap.printed_formula} that brings it",
        "mg/L",
        carried(room),
        *cheap.bringing("Cl"),
    )
    potassium = line(
        "K that comes with it", "mg/L", carried(room), "÷", mass("Cl"), "×", mass("K")
    )
    left = line("K still to bring", "mg/L", (wanted, "mg/L"), "−", carried(potassium))
    sulfate = line(
        f"{dear.printed_formula} that brings it",
        "mg/L",
        carried(left),
        *dear.bringing("K"),
    )
    paid = [
        _paid_for(salt, step, price, litres)
        for salt, step, price in zip(
            (cheap, dear), (chloride, sulfate), prices, strict=True
        )
    ]
    cost = line("both", "EUR", carried(paid[0]), "+", carried(paid[1]))
    given = {
        "prices": prices,
        "wanted": wanted,
        "litres": litres,
        "there": there,
        "most": most,
    }
    return Task(
        given=given,
        question=f"{wanted} mg/L of K are wanted in {litres} L. Two bags bring it: {cheap.printed} for {prices[0]:.2f} EUR per "
        f"kg and {dear.printed} for {prices[1]:.2f} EUR per kg. But chloride must stay at most {most} mg/L, and the water brings "
        f"{there} mg/L of it (and no K).\n\nWhat does the cheapest mixture of the two cost?",
        solution=Working(
            "Cheap up to the limit",
            (room, chloride, potassium, left, sulfate, *paid, cost),
        ),
        unit="EUR",
        units=("ct",),
        slips=tuple(_slips_of_chloride(cheap, dear, given)),
        hints=(
            "Take as much of the cheap salt as its side effect allows, and the rest from the other.",
            "How much chloride may still come, how much of the cheap salt is that, and how much K comes with it?",
            "Then the K that is left, as the dear salt; both salts in kg for the whole tank, each times its price.",
        ),
        remark="The limit is what costs here: one mg/L more of chloride would make the batch cheaper.",
    )


def _paid_for(salt, step, price, litres):
    """Return the line from mg/L of a salt to what it costs in the tank."""
    tank = (price, "EUR/kg"), "×", (litres, "L"), "÷", (1e6, "mg/kg")
    return line(
        f"{salt.printed_formula} for {litres} L", "EUR", carried(step), "×", *tank
    )


def _slips_of_chloride(cheap, dear, given):
    """Yield what goes wrong with a limit."""
    wanted, room = given["wanted"], given["most"] - given["there"]

    def paid(chloride):
        """Return what it costs with so much chloride. [EUR]"""
        k = chloride / molar_mass("Cl") * molar_mass("K")
        salts = chloride / cheap.share("Cl"), (wanted - k) / dear.share("K")
        costs = (p * mg for p, mg in zip(given["prices"], salts, strict=True))
        return sum(costs) * given["litres"] / 1e6

    alone = wanted / molar_mass("K") * molar_mass("Cl")
    yield Slip(paid(alone), "That is the cheap salt alone: too much chloride.")
    says = "That is the dear salt alone: there was room for some chloride."
    yield Slip(paid(0), says)
    yield Slip(paid(given["most"]), "The water has used up some of the limit already.")
    says = "The limit is on chloride, not on the salt that brings it."
    yield Slip(paid(room * cheap.share("Cl")), says)


SCOOPED = (
    "potassium nitrate",
    "potassium sulfate",
    "calcium nitrate tetrahydrate",
    "magnesium sulfate heptahydrate",
    "monopotassium phosphate",
)


def _scoops(lot):
    """How far off is a salt if only whole scoops are taken?"""
    salt, scoop = SchoolSalt(lot.one_of(SCOOPED)), lot.between(6.0, 14.0, 0.1)
    count, part = lot.between(2, 9, 1), lot.between(0.10, 0.42, 0.01)
    part = part if lot.below(2) else -part
    exact = round(scoop * (count + part), 1)
    level = line("exact", "scoops", (exact, "g"), "÷", (scoop, "g"))
    there = line(f"{count} whole scoops", "g", count, "×", (scoop, "g"))
    off = line("off by", "g", carried(there), "−", (exact, "g"))
    share = line("in per cent", "%", carried(off), "÷", (exact, "g"), "×", (100, "%"))
    beside = (count + (1 if part > 0 else -1)) * scoop
    return Task(
        given={"salt": salt.name, "exact": exact, "scoop": scoop},
        question=f"A recipe asks for {exact} g of {salt.printed}. The balance is broken, but there is a scoop that holds "
        f"{scoop} g of it when level. You take the nearest whole number of scoops.\n\n"
        "By how many per cent are the nutrients of this salt off? Too little is negative.",
        solution=Working("Whole scoops", (level, there, off, share)),
        unit="%",
        within=max(0.05, 0.02 * abs(share.value)),
        slips=(
            Slip((beside / exact - 1) * 100, "Another number of scoops lies nearer."),
            Slip(off.value, "Those are grams; per cent of what is needed are asked."),
            Slip(
                off.value / scoop * 100,
                "That is a part of one scoop; compare with all that is needed.",
            ),
            Slip(
                there.value / exact * 100,
                "That is what is reached; the question asks how far it is off.",
            ),
        ),
        hints=(
            "Divide the weight by what a scoop holds, and round to a whole number.",
            "How many grams is that too much or too little?",
            "Compare these grams with the exact weight. The nutrients are off by the same per cent as the salt.",
        ),
        care=care_of(salt),
        remark="Rounded together, the scoops of several salts correct each other.",
    )


EXERCISES = (
    ("What a kilogram of nutrient costs", _price_of_nutrient),
    ("Cheap, up to a limit", _with_chloride),
    ("Whole scoops", _scoops),
    *MORE,
)
