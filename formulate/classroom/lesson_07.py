"""Exercises of lesson 07: what a conductivity meter measures, of which ions, at which temperature."""

from formulate.classroom.lesson_07_more import MORE, carries, salt_carries
from formulate.classroom.lines import carried, line
from formulate.classroom.school_salts import SchoolSalt, care_of
from formulate.classroom.task import Option, Slip, Task
from formulate.tables import read_table
from formulate.working import Working

__all__ = ["EXERCISES"]

REFERENCE = 25.0  # °C
IONS = {"K+": "K⁺", "Ca+2": "Ca²⁺", "Mg+2": "Mg²⁺", "NO3-": "NO₃⁻", "SO4-2": "SO₄²⁻"}
DOUBLE = ("Ca+2", "Mg+2", "SO4-2")
LIGHT = ("sodium chloride", "potassium chloride", "ammonium sulfate")
HEAVY = ("calcium nitrate tetrahydrate", "magnesium nitrate hexahydrate")
MIDDLE = ("potassium nitrate", "potassium sulfate")
UREA = "urea"


def _per_degree():
    """Return what a solution conducts less for each degree, of what it does at 25 °C. [%]"""
    rows = {row["check"]: row for row in read_table("water_checks")}
    return rows["EC per degree"].number("limit")


def _cold_standard(lot):
    """What shows a meter that was set in a cold standard?"""
    cold, feed = lot.between(12.0, 22.0, 0.5), lot.between(0.8, 3.5, 0.01)
    slope = _per_degree()
    below = line("below 25 °C", "°C", (REFERENCE, "°C"), "−", (cold, "°C"))
    less = line(
        "so the bottle conducts, of what its label says",
        "",
        (1, ""),
        "−",
        (slope, "% per °C"),
        "×",
        carried(below),
        "÷",
        (100, "%"),
    )
    last = line("the meter shows", "mS/cm", (feed, "mS/cm"), "÷", carried(less))
    return Task(
        given={"cold": cold, "feed": feed, "slope": slope},
        question=f"A meter without temperature compensation stands in a bottle of standard that was fetched from the store: {cold:g} °C. For "
        f"each degree below 25 °C a solution conducts {slope:g} % (of what it conducts at 25 °C) less. A pupil turns the screw "
        "until the meter shows what the label says for 25 °C. "
        f"What does this meter then show in a feed of 25 °C whose true EC is {feed:.2f} mS/cm?",
        solution=Working("A meter set in a cold standard", (below, less, last)),
        unit="mS/cm",
        units=("uS/cm", "dS/m"),
        slips=(
            Slip(
                feed * less.value,
                "The cold bottle conducts less than its label says, and the screw made up for it. Up or down?",
            ),
            Slip(feed, "That is the true EC; but the screw was set in a cold bottle."),
            Slip(last.value - feed, "That is the error alone; what does it show?"),
            Slip(
                feed / (1 - slope * cold / 100),
                "Count the degrees below 25 °C, not those above freezing.",
            ),
        ),
        hints=(
            "What does the bottle conduct really, as a share of what its label says?",
            "The screw multiplies every reading by the same number: label over what the cold bottle conducts.",
            "The share is 1 less the per cent of a degree times the degrees below 25; the feed is divided by it.",
        ),
        remark="A meter with compensation, or a standard left to warm up beside the feed, has no such error.",
    )


def _ec_of_ions(lot):
    """Which EC have ions that do not hinder each other?"""
    amounts = {
        "K+": lot.between(0.5, 2.0, 0.05),
        "Ca+2": lot.between(0.3, 1.2, 0.05),
        "Mg+2": lot.between(0.2, 0.6, 0.05),
        "SO4-2": lot.between(0.1, 0.5, 0.05),
    }
    charge = amounts["K+"] + 2 * (amounts["Ca+2"] + amounts["Mg+2"] - amounts["SO4-2"])
    amounts["NO3-"] = round(charge, 2)
    each = {ion: carries(ion) for ion in IONS}
    terms = []
    for ion in IONS:
        number = (amounts[ion], "mmol/L")
        terms += ["+", number, "×", (each[ion], "µS/cm per mmol/L")]
    whole = line("all ions together", "µS/cm", *terms[1:])
    last = line(
        "in mS/cm", "mS/cm", (whole.value, "µS/cm"), "÷", (1000, "µS/cm per mS/cm")
    )
    right = last.value

    def summed(ions, factor=1.0):
        return sum(amounts[ion] * each[ion] * factor for ion in ions) / 1000

    halved = right - summed(DOUBLE, 0.5)
    return Task(
        given={**amounts, **{f"each {ion}": value for ion, value in each.items()}},
        question=f"A thin feed holds {amounts['K+']:g} mmol/L of potassium, and what else stands in the table. What would a meter show at 25 °C if the ions did not hinder each other?",
        table=(
            ("ion", "mmol/L", "µS/cm for each mmol/L"),
            *((IONS[i], f"{amounts[i]:g}", f"{each[i]:g}") for i in IONS),
        ),
        solution=Working("EC from the ions", (whole, last)),
        unit="mS/cm",
        units=("uS/cm", "dS/m"),
        slips=(
            Slip(
                right + summed(DOUBLE),
                "The table already counts that an ion is charged twice: for each mmol, not for each meq.",
            ),
            Slip(halved, "The table counts mmol: nothing is to be halved."),
            Slip(
                summed(("K+", "Ca+2", "Mg+2")),
                "Those are the cations alone; the anions carry as well.",
            ),
            Slip(
                summed(("NO3-", "SO4-2")),
                "Those are the anions alone; the cations carry as well.",
            ),
        ),
        hints=(
            "Every ion carries its part of the current, whatever its sign.",
            "For each ion: its mmol/L times what one mmol/L carries.",
            "Add the five products; they are µS/cm, and a thousand of them are a mS/cm.",
        ),
        remark="A meter shows less, some 5 to 20 % in a feed: ions of the other sign slow each other down, and some go in pairs "
        "(calcium and magnesium with sulfate). The sum is an upper bound.",
    )


def _bottles(lot):
    """Return four bottles: name, grams in a litre; the first conducts best."""
    whole = lot.between(0.5, 0.9, 0.01)  # mS/cm, of the best
    names = [lot.one_of(kind) for kind in (LIGHT, HEAVY, MIDDLE)]
    shares = (1.0, lot.between(0.7, 0.8, 0.01), lot.between(0.3, 0.7, 0.01))
    bottles = [
        (name, round(whole * share / _per_gram(name), 2))
        for name, share in zip(names, shares, strict=True)
    ]
    return [*bottles, (UREA, lot.between(0.2, 0.7, 0.01))]


def _per_gram(name):
    """Return what a gram of a salt in a litre conducts, in the thinnest solution. [mS/cm]"""
    return salt_carries(name) / SchoolSalt(name).molar_mass


def _bottle_line(name, grams):
    """Return the line that makes the EC of a bottle."""
    if name == UREA:
        return line(
            f"{name}: no ions", "mS/cm", (grams, "g/L"), "×", (0, "mS/cm per g/L")
        )
    numbers = (SchoolSalt(name).molar_mass, "g/mol"), (salt_carries(name), "mS/cm")
    return line(
        f"{name}, by what a mol/L of its ions carries",
        "mS/cm",
        (grams, "g/L"),
        "÷",
        numbers[0],
        "×",
        (numbers[1][0], "mS/cm per mol/L"),
    )


def _which_bottle(lot):
    """Which bottle conducts best?"""
    bottles = _bottles(lot)
    order = lot.some_of(range(4), 4)
    letters = dict(zip("ABCD", order, strict=True))
    says = (
        "",
        "It holds more grams than the others that conduct, but a meter does not count grams.",
        "Work out what its ions carry, and what those of the others do.",
        "Urea dissolves as whole molecules: no charges, no current.",
    )
    lines = [_bottle_line(*bottle) for bottle in reversed(bottles)]
    return Task(
        given={
            "bottles": tuple(bottles[place] for place in order),
            "best": bottles[0][0],
        },
        question=f"Four bottles, each one litre of pure water at 25 °C. {_told('A', bottles[letters['A']])}, {_told('B', bottles[letters['B']])}; C "
        "and D stand in the table, too. Which one shows the highest EC?",
        table=(
            ("bottle", "in a litre", "g/mol", "mS/cm for each mol/L"),
            *(_bottle_row(letter, *bottles[n]) for letter, n in letters.items()),
        ),
        solution=Working("EC of four bottles, the highest last", tuple(lines)),
        options={
            letter: Option(bottles[n][0], says[n]) for letter, n in letters.items()
        },
        right=next(letter for letter, n in letters.items() if n == 0),
        hints=(
            "A meter counts charges that move, not grams.",
            "Grams over molar mass are moles; moles times what a mole carries is the EC.",
            "For each bottle: the second column over the third, times the fourth. Is anything in it that makes no ions?",
        ),
        care=care_of(*(SchoolSalt(name) for name, _ in bottles if "nitrate" in name)),
        remark="The salt with light, fast ions wins. The four numbers are upper bounds; the order holds in real bottles, too.",
    )


def _told(letter, bottle):
    """Return in words what is in a bottle."""
    name, grams = bottle
    return f"{letter} holds {grams:.2f} g of {name}"


def _bottle_row(letter, name, grams):
    """Return what the table tells of a bottle."""
    per_mole = "0" if name == UREA else f"{salt_carries(name):g}"
    mass = f"{SchoolSalt(name).molar_mass:.2f}"
    return letter, f"{grams:.2f} g {name}", mass, per_mole


EXERCISES = (
    ("The cold standard", _cold_standard),
    ("EC from the ions", _ec_of_ions),
    ("Which bottle conducts best?", _which_bottle),
    *MORE,
)
