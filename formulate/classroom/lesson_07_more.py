"""Exercises of lesson 07 with meters: their scale, their cell, and what EC tells of a mixture."""

from formulate.classroom.lines import carried, line
from formulate.classroom.school_salts import SchoolSalt
from formulate.classroom.task import Slip, Task
from formulate.tables import read_table
from formulate.working import Working

__all__ = ["MORE"]

CELSIUS = 25.0
SALTS = {  # ions of a formula, and how many
    "sodium chloride": {"Na+": 1, "Cl-": 1},
    "potassium chloride": {"K+": 1, "Cl-": 1},
    "potassium nitrate": {"K+": 1, "NO3-": 1},
    "potassium sulfate": {"K+": 2, "SO4-2": 1},
    "ammonium sulfate": {"NH4+": 2, "SO4-2": 1},
    "calcium nitrate tetrahydrate": {"Ca+2": 1, "NO3-": 2},
    "magnesium nitrate hexahydrate": {"Mg+2": 1, "NO3-": 2},
}
ON_A_METER = (
    "sodium chloride",
    "potassium chloride",
    "potassium nitrate",
    "calcium nitrate tetrahydrate",
    "potassium sulfate",
)
APART = 0.05  # of what a meter calls ppm, so that the difference is seen
STANDARD = "ec-KCl-10"


def carries(ion):
    """Return what one mmol/L of an ion carries in the thinnest solution at 25 °C. [µS/cm]"""
    from formulate.chemistry.ionic_conductivity import carrier

    return round(carrier(ion, CELSIUS).limit, 1)


def salt_carries(name):
    """Return what one mmol/L of a salt carries, both its ions. [µS/cm]"""
    ions = SALTS[name].items()
    return round(sum(count * carries(ion) for ion, count in ions), 1)


def _scales():
    """Return the scales of meters by name. [ppm for each mS/cm]"""
    return {row["scale"]: row.number("factor") for row in read_table("meter_scales")}


def _salts_on_scales():
    """Return salts with scales on which the meter is far enough from the truth."""
    true = {
        name: SchoolSalt(name).molar_mass / salt_carries(name) for name in ON_A_METER
    }
    return [
        (name, scale)
        for name, ratio in true.items()
        for scale, factor in _scales().items()
        if abs(1000 * ratio / factor - 1) > APART
    ]


def _ppm_of_a_salt(lot):
    """How many mg/L of a salt are behind the ppm of a meter?"""
    name, scale = lot.one_of(_salts_on_scales())
    shown, factor, of = lot.between(30, 150, 1), _scales()[scale], SchoolSalt(name)
    read = line(
        "what it measured",
        "µS/cm",
        (shown, "ppm"),
        "÷",
        (factor, "ppm per mS/cm"),
        "×",
        (1000, "µS/cm per mS/cm"),
    )
    per_mmol = salt_carries(name)
    amount = line("salt", "mmol/L", carried(read), "÷", (per_mmol, "µS/cm per mmol/L"))
    last = line("its mass", "mg/L", carried(amount), "×", (of.molar_mass, "mg/mmol"))
    right = last.value
    slips = [
        Slip(shown, "That is what the meter calls ppm; how many mg/L are there?"),
        Slip(
            right * factor / 1000,
            "As if the reading were µS/cm: bring it back to EC by the scale first.",
        ),
        Slip(right * per_mmol / of.molar_mass, "Those are µS/cm; asked is the mass."),
        Slip(amount.value, "Those are mmol/L; asked are mg/L."),
    ]
    if of.dry_mass != of.molar_mass:
        slips.append(
            Slip(
                amount.value * of.dry_mass,
                "The crystal water is missing: the salt is weighed with it.",
            )
        )
    return Task(
        given={"salt": name, "scale": scale, "shown": shown, "each": per_mmol},
        question=f"A meter on the {scale} scale shows {factor:g} ppm for each mS/cm. In pure water with a little {of.printed} it "
        f"shows {shown} ppm. How many mg/L of the salt are there really? (In so thin a solution at 25 °C each mmol/L of this "
        f"salt conducts {per_mmol:g} µS/cm.)",
        solution=Working(f"{name} behind {shown} ppm", (read, amount, last)),
        unit="mg/L",
        units=("g/L",),
        within_percent=1.5,  # masses and the EC between are rounded
        slips=tuple(slips),
        hints=(
            "A meter measures EC; its ppm is the EC times the number of its scale.",
            "Back to µS/cm by the scale; then mmol/L by what one of them conducts.",
            f"Reading over the scale, times 1000, over {per_mmol:g}, times the molar mass of the salt.",
        ),
        remark="The same ppm of another salt is another mass. A scale is a convention; the salt it fits is seldom in the tank.",
    )


def _thinned_to_an_ec(lot):
    """How much water brings a tank to an EC?"""
    tank = lot.between(40, 400, 10)
    start, water = lot.between(2.2, 3.0, 0.01), lot.between(0.2, 0.6, 0.01)
    wanted = lot.between(1.6, 2.0, 0.01)
    over = line("too much", "mS/cm", (start, "mS/cm"), "−", (wanted, "mS/cm"))
    room = line(
        "room that a litre of tap water has", "mS/cm", (wanted, ""), "−", (water, "")
    )
    last = line("water", "L", (tank, "L"), "×", carried(over), "÷", carried(room))
    return Task(
        given={"tank": tank, "start": start, "water": water, "wanted": wanted},
        question=f"A tank holds {tank} L of feed with EC {start:.2f} mS/cm. It is thinned with tap water of EC {water:.2f} mS/cm; wanted "
        f"is {wanted:.2f} mS/cm. How many litres of water go in, as a first guess: as if EC went by shares?",
        solution=Working("Water for an EC", (over, room, last)),
        unit="L",
        units=("mL",),
        slips=(
            Slip(
                tank * (start / wanted - 1),
                "As if the water had no EC of its own: it has.",
            ),
            Slip(
                tank * over.value / (start - water),
                "So much feed would be taken out and replaced; here nothing leaves the tank.",
            ),
            Slip(
                tank + last.value,
                "That is all there is in the end; how much is poured?",
            ),
            Slip(
                tank * over.value / start,
                "That share of the old feed is no volume of water to add.",
            ),
        ),
        hints=(
            "Litres times EC of feed and of water add up, if EC goes by shares.",
            "tank × too much = water × room: how much is the feed above the wish, the water below it?",
            "Litres of the tank, times feed less wish, over wish less water.",
        ),
        remark="A first guess, a little too small: thinner feeds conduct better for each gram. Stir, measure, add the rest.",
    )


def _cell_constant(lot):
    """Which EC follows from the conductance of a cell?"""
    rows = {row["key"]: row for row in read_table("check_values")}
    known = rows[STANDARD].number("value")
    cell = lot.one_of((lot.between(0.4, 0.85, 0.001), lot.between(1.2, 1.6, 0.001)))
    first, second = round(known / cell, 3), lot.between(0.8, 3.5, 0.01)
    constant = line("cell constant", "1/cm", (known, "mS/cm"), "÷", (first, "mS"))
    last = line("EC of the feed", "mS/cm", (second, "mS"), "×", carried(constant))
    return Task(
        given={"known": known, "first": first, "second": second},
        question=f"Two wires in a glass tube make a cell. In potassium chloride of 0.01 mol/L ({known:g} mS/cm at 25 °C) the "
        f"instrument shows a conductance of {first:.3f} mS, in a feed of the same temperature {second:.2f} mS. Which EC has the feed?",
        solution=Working("EC from a cell", (constant, last)),
        unit="mS/cm",
        units=("uS/cm", "dS/m"),
        slips=(
            Slip(
                second,
                "That is the conductance of this cell; another cell would show another.",
            ),
            Slip(
                second / constant.value,
                "The cell constant the wrong way round: in the standard it must give the standard's EC.",
            ),
            Slip(constant.value, "That is the cell constant."),
            Slip(first * second, "Divide by what the cell shows in the standard."),
        ),
        hints=(
            "EC is conductance times a number that belongs to the cell alone.",
            "The standard tells that number: what it conducts over what the cell shows in it.",
            "Cell constant times the conductance in the feed.",
        ),
        remark="A dirty cell has another constant: that is why meters are set in a standard.",
    )


def _scale_of_a_meter(lot):
    """Which scale has a meter whose zero is off?"""
    factor = _scales()[lot.one_of(tuple(_scales()))]
    thin, strong = lot.between(0.25, 0.6, 0.01), lot.between(1.2, 1.8, 0.01)
    zero = lot.between(60, 90, 1)
    low, high = round(factor * thin + zero), round(factor * strong + zero)
    ppm = line("more ppm in the feed", "ppm", (high, "ppm"), "−", (low, "ppm"))
    more = line("more EC", "mS/cm", (strong, "mS/cm"), "−", (thin, "mS/cm"))
    last = line("scale", "", carried(ppm), "÷", carried(more))
    return Task(
        given={"thin": thin, "strong": strong, "low": low, "high": high},
        question=f"An old meter shows ppm; on which scale nobody knows, and its zero is off: everywhere it shows the same number too "
        f"much. In tap water it shows {low} ppm, in a feed {high} ppm. A good meter shows {thin:.2f} and {strong:.2f} mS/cm. "
        "How many ppm does the old one make of each mS/cm?",
        solution=Working("Scale of a meter", (ppm, more, last)),
        within_percent=1.5,  # both readings are rounded to 1 ppm
        slips=(
            Slip(high / strong, "The zero is in that quotient, too; take it out."),
            Slip(low / thin, "The zero is in that quotient, too; take it out."),
            Slip(
                (high / strong + low / thin) / 2,
                "A mean of both quotients still holds the zero.",
            ),
            Slip(high - low, "Those are ppm; for each mS/cm?"),
        ),
        hints=(
            "What is the same in both readings falls out of their difference.",
            "How many ppm more for how many mS/cm more?",
            "The difference of the ppm over the difference of the mS/cm; then look which usual scale is near.",
        ),
        remark="Usual are 500, 640 and 700. Without its scale a ppm of a meter means nothing.",
    )


def _water_in_the_drain(lot):
    """Which share of a drain is tap water?"""
    feed, drain = lot.between(1.8, 3.2, 0.01), lot.between(1.0, 1.6, 0.01)
    water = lot.between(0.2, 0.7, 0.01)
    lost = line("less than the feed", "mS/cm", (feed, "mS/cm"), "−", (drain, "mS/cm"))
    span = line("if it were all water", "mS/cm", (feed, ""), "−", (water, ""))
    last = line("share", "%", carried(lost), "÷", carried(span), "×", (100, "%"))
    return Task(
        given={"feed": feed, "drain": drain, "water": water},
        question=f"In a cool, damp night the plants take up next to nothing. The feed has EC {feed:.2f} mS/cm, but what runs out of the gutter has "
        f"{drain:.2f}: somewhere tap water of {water:.2f} mS/cm gets in. How many per cent of the drain are tap water, "
        "as if EC went by shares?",
        solution=Working("Tap water in the drain", (lost, span, last)),
        unit="%",
        slips=(
            Slip(100 - last.value, "That is the share of the feed."),
            Slip(
                100 * lost.value / feed,
                "As if the tap water had no EC of its own: it has.",
            ),
            Slip(100 * drain / feed, "That is one EC over the other, no share yet."),
            Slip(
                100 * lost.value / (drain - water),
                "That is water for each part of feed; asked is the share of the whole.",
            ),
        ),
        hints=(
            "If no water got in, the drain would have the EC of the feed; if only water, that of the tap.",
            "How far has the EC gone from the feed on the way to the tap?",
            "Feed less drain, over feed less tap, times a hundred.",
        ),
        remark="By day it goes the other way: plants drink more water than salts, and the drain is stronger than the feed.",
    )


MORE = (
    ("What a meter calls ppm", _ppm_of_a_salt),
    ("Thinned to an EC", _thinned_to_an_ec),
    ("The cell of a meter", _cell_constant),
    ("The scale of an old meter", _scale_of_a_meter),
    ("Water in the drain", _water_in_the_drain),
)
