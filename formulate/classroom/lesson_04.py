"""Exercises of lesson 04: what is already in the water."""

from formulate.classroom.lesson_04_more import (
    MORE,
    caco3_per_meq,
    ion_charge,
    ion_mass,
)
from formulate.classroom.lines import care, line
from formulate.classroom.school_salts import low_indices
from formulate.classroom.task import Slip, Task
from formulate.stoichiometry.formula import molar_mass
from formulate.stoichiometry.units import unit
from formulate.working import Working

__all__ = ["EXERCISES"]

IONS = {  # what a tap water holds of it, as reports print it: low, high, step
    "Ca": ("calcium", 30.0, 140.0, 0.5),
    "Mg": ("magnesium", 4.0, 40.0, 0.1),
    "SO4": ("sulfate", 12.0, 180.0, 0.5),
    "NO3": ("nitrate", 4.0, 48.0, 0.1),
    "HCO3": ("bicarbonate", 60.0, 380.0, 1.0),
    "NH4": ("ammonium", 0.2, 8.0, 0.01),
}
ELEMENTS = {"SO4": "S", "NO3": "N", "HCO3": "C", "NH4": "N"}


def _charge_of_an_ion(lot):
    """How many meq/L is an ion?"""
    key = lot.one_of(tuple(IONS))
    words, *span = IONS[key]
    printed_mg = lot.between(*span)
    mass, charge = ion_mass(key), ion_charge(key)
    amount = line("millimoles", "mmol/L", (printed_mg, "mg/L"), "÷", (mass, "mg/mmol"))
    charges = line(
        "each carries so many charges",
        "meq/L",
        (amount.value, "mmol/L"),
        "×",
        (charge, "meq/mmol"),
    )
    slips = [
        Slip(printed_mg * charge, "The mass of the ion has not been used yet."),
        Slip(
            printed_mg * mass / 1000, "Multiplied by the molar mass; is that the way?"
        ),
    ]
    if charge == 2:
        once = "Those are millimoles of the ion; each carries more than one charge."
        slips.append(Slip(amount.value, once))
        slips.append(Slip(amount.value / 2, "Divided by the charge; is that the way?"))
    else:
        slips.append(
            Slip(2 * amount.value, f"Look again how charged {low_indices(key)} is.")
        )
    if key in ELEMENTS:
        alone = charge * printed_mg / molar_mass(ELEMENTS[key])
        text = f"That takes the mg for mg of {ELEMENTS[key]} alone; the ion is heavier."
        slips.append(Slip(alone, text))
    return Task(
        given={"ion": key, "mg_l": printed_mg},
        question=f"A water report reads: {words} ({low_indices(key)}) {printed_mg:g} mg/L. "
        "How much charge is that, in meq/L?",
        solution=Working(f"{low_indices(key)} by its charge", (amount, charges)),
        unit="meq/L",
        units=("ueq/L",),
        slips=tuple(slips),
        hints=(
            "Mass to amount first, then amount to charge.",
            "Milligrams divided by the molar mass of the whole ion are millimoles.",
            "Add up the molar mass of all atoms of the ion, divide, then multiply by its charge number.",
        ),
        remark="A meq is a mmol of charge: only so can different ions be added.",
    )


def _hardness_in_degrees(lot):
    """How many German degrees do calcium and magnesium make?"""
    calcium = lot.between(25.0, 130.0, 0.5)
    magnesium = lot.between(5.0, 35.0, 0.1)
    lime, degree = molar_mass("CaO"), unit("German degree").factor
    per_degree = 10.0  # mg/L CaO: what the degree is by definition
    amount = line(
        "calcium and magnesium together",
        "mmol/L",
        (calcium, "mg/L"),
        "÷",
        (molar_mass("Ca"), "mg/mmol"),
        "+",
        (magnesium, "mg/L"),
        "÷",
        (molar_mass("Mg"), "mg/mmol"),
    )
    as_lime = line(
        "as if all of it were CaO",
        "mg/L CaO",
        (amount.value, "mmol/L"),
        "×",
        (lime, "mg/mmol"),
    )
    degrees = line(
        "a degree is ten of these",
        "°dH",
        (as_lime.value, "mg/L CaO"),
        "÷",
        (per_degree, "mg/L CaO per °dH"),
    )
    right, chalk = degrees.value, degrees.value * degree
    calcium_alone = calcium / molar_mass("Ca") * lime / per_degree
    as_calcium = (calcium + magnesium) / molar_mass("Ca") * lime / per_degree
    return Task(
        given={"calcium": calcium, "magnesium": magnesium},
        question=f"A report prints calcium {calcium:.1f} mg/L and magnesium {magnesium:.1f} mg/L, "
        "but no hardness. How many German degrees is it? (1 °dH counts as 10 mg/L CaO.)",
        solution=Working("Hardness in German degrees", (amount, as_lime, degrees)),
        unit="°dH",
        units=("French degree", "mg/L as CaCO3"),
        slips=(
            Slip(calcium_alone, "That is the calcium alone; another ion counts too."),
            Slip(chalk, "Those are mg/L as CaCO₃; asked are German degrees."),
            Slip(chalk / 10, "Those are French degrees (10 mg/L CaCO₃ each)."),
            Slip(as_calcium, "Masses cannot be added: magnesium is the lighter ion."),
            Slip(2 * right, "Counted by charge; a degree counts CaO by the millimole."),
        ),
        hints=(
            "Hardness counts particles, not milligrams: begin with the amounts.",
            "Add the millimoles of calcium and of magnesium; then pretend that all of it is CaO.",
            "Each ion over its own molar mass, add, times the molar mass of CaO; then mg/L CaO into degrees.",
        ),
        remark="There is no CaO in the water: a degree only counts as if. Soft is below 8.4 °dH, hard above 14 "
        "in German law (from memory).",
    )


def _alkalinity_by_titration(lot):
    """How alkaline is a tap water that takes so much acid?"""
    sample = lot.one_of((50.0, 100.0, 200.0))
    start = lot.between(0.6, 9.0, 0.05)
    used = lot.between(1.4, 6.0, 0.05) * sample / 100
    end = round(start + round(used / 0.05) * 0.05, 2)
    strength = 0.1
    volume = line("acid used", "mL", (end, "mL"), "−", (start, "mL"))
    acid = line(
        "millimoles of acid", "mmol", (volume.value, "mL"), "×", (strength, "mmol/mL")
    )
    per_litre = line(
        "in a litre of the water; a mmol of this acid takes up one meq",
        "meq/L",
        (acid.value, "mmol"),
        "÷",
        (sample, "mL"),
        "×",
        (1000.0, "mL/L"),
    )
    right = per_litre.value
    return Task(
        given={"sample": sample, "start": start, "end": end, "strength": strength},
        question=f"{sample:g} mL of tap water are titrated with hydrochloric acid, {strength:g} mol/L, until the "
        f"indicator turns at pH 4.3. The burette stood at {start:.2f} mL before and stands at {end:.2f} mL after. "
        "What is the alkalinity? (The small correction for the end point is left out.)",
        solution=Working("Alkalinity by titration", (volume, acid, per_litre)),
        unit="meq/L",
        units=("mg/L as CaCO3", "°dH"),
        slips=(
            Slip(
                end * strength / sample * 1000,
                "A burette is read twice: what had run out before does not count.",
            ),
            Slip(acid.value, "That is what the sample took; asked is a litre."),
            Slip(right / 2, "Halved: CaCO₃ takes two, but a meq is one charge."),
            Slip(
                right * caco3_per_meq(),
                "Those are mg/L as CaCO₃; write that unit, or go on to meq/L.",
            ),
        ),
        hints=(
            "How much acid has run out between the two readings?",
            "Millilitres times mol/L are millimoles. Each takes up one meq.",
            "Readings apart, times the strength, over the sample in litres.",
        ),
        care=care("eyes", "acid"),
        remark="Laboratories print it as acid capacity to pH 4.3 and take off 0.05 mmol/L: "
        "so many hydrogen ions are free at the end, 10 to the power of −4.3 mol/L.",
    )


def _nitrate_or_nitrogen(lot):
    """How much N is a nitrate, how much nitrate is an N?"""
    as_ion = lot.one_of((True, False))
    value = lot.between(4.0, 60.0, 0.1) if as_ion else lot.between(1.0, 30.0, 0.1)
    whose = lot.one_of(("the tap", "the well", "the cistern"))
    ion, nitrogen = ion_mass("NO3"), molar_mass("N")
    first, second = (ion, nitrogen) if as_ion else (nitrogen, ion)
    only = line(
        "one N in each ion",
        "mg/L",
        (value, "mg/L"),
        "÷",
        (first, "mg/mmol"),
        "×",
        (second, "mg/mmol"),
    )
    asked = "nitrogen (N)" if as_ion else "nitrate ion (NO₃⁻)"
    said = "nitrate as NO₃" if as_ion else "nitrate nitrogen, NO₃-N,"
    back = value * first / second
    oxygen = 3 * molar_mass("O")
    three = value * oxygen / ion if as_ion else value * oxygen / nitrogen
    third = value * first / second / 3 if as_ion else value * second / first / 3
    return Task(
        given={"as_ion": as_ion, "value": value, "whose": whose},
        question=f"The report of {whose} reads: {said} {value:.1f} mg/L. How many mg/L of {asked} is that?",
        solution=Working(f"From the report to {asked}", (only,)),
        unit="mg/L",
        units=("g/L", "ug/L"),
        slips=(
            Slip(value, "That is what the report prints; it counts the other thing."),
            Slip(back, "The other way round: which of the two is heavier?"),
            Slip(three, "That is the oxygen; look for the other part."),
            Slip(third, "There are three O in the ion, but how many N?"),
        ),
        hints=(
            "One of the two is a part of the other: will the number grow or shrink?",
            "A millimole of nitrate holds a millimole of nitrogen; only their masses differ.",
            "Divide by the molar mass of what is printed, multiply by that of what is asked.",
        ),
        remark="The limit of drinking water, 50 mg/L in Europe, counts the ion; feed charts count N. "
        "Mixed up, a recipe is off by a factor of 4.4.",
    )


def _sodium_after_a_softener(lot):
    """How much sodium does a softener leave?"""
    before = lot.between(12.0, 28.0, 0.1)
    after = lot.between(2.0, 7.0, 0.5)
    sodium = lot.between(6.0, 40.0, 0.5)
    chalk, mass = unit("German degree").factor, molar_mass("Na")
    per_degree = 10.0  # mg/L CaO: what the degree is by definition
    gone = line("hardness taken out", "°dH", (before, "°dH"), "−", (after, "°dH"))
    charge = line(
        "its charge",
        "meq/L",
        (gone.value, "°dH"),
        "×",
        (per_degree, "mg/L CaO per °dH"),
        "÷",
        (molar_mass("CaO"), "mg/mmol"),
        "×",
        (2, "meq/mmol"),
    )
    result = line(
        "so many sodium ions come, one for each charge, to those there were",
        "mg/L",
        (charge.value, "meq/L"),
        "×",
        (mass, "mg/meq"),
        "+",
        (sodium, "mg/L"),
    )
    come = charge.value * mass
    all_of_it = come * before / gone.value
    return Task(
        given={"before": before, "after": after, "sodium": sodium},
        question=f"The softener in the cellar exchanges calcium and magnesium for sodium. It brings the hardness from "
        f"{before:.1f} to {after:.1f} °dH; the water before it holds {sodium:.1f} mg/L of sodium. "
        "How many mg/L of sodium does the softened water hold? (1 °dH counts as 10 mg/L CaO.)",
        solution=Working("Sodium behind a softener", (gone, charge, result)),
        unit="mg/L",
        units=("g/L",),
        slips=(
            Slip(come / 2 + sodium, "Two charges leave with each calcium ion."),
            Slip(come, "There was sodium before; it is still there."),
            Slip(all_of_it + sodium, "Some of the hardness stays in the water."),
            Slip(
                gone.value * chalk + sodium,
                "Milligrams of CaCO₃ are not milligrams of sodium.",
            ),
        ),
        hints=(
            "What leaves and what comes carry the same charge.",
            "Degrees taken out into mmol/L, those into meq/L; as many meq/L of sodium come.",
            "Degrees to mg/L CaO, over the molar mass of CaO, times two, times the molar mass of sodium; "
            "then add what was there.",
        ),
        remark="Softening changes neither the alkalinity nor the number of charges. Water the plants "
        "from before the softener.",
    )


def _rain_for_an_alkalinity(lot):
    """How much rain water brings a tap water to a wanted alkalinity?"""
    chalk = lot.between(160, 350, 1)
    rain = lot.between(0.2, 0.5, 0.05)
    wanted = lot.between(1.0, 2.0, 0.1)
    tank = lot.between(100, 1000, 50)
    tap = line(
        "alkalinity of the tap",
        "meq/L",
        (chalk, "mg/L"),
        "÷",
        (caco3_per_meq(), "mg/meq"),
    )
    down = line(
        "it has to fall by", "meq/L", (tap.value, "meq/L"), "−", (wanted, "meq/L")
    )
    most = line(
        "all rain: it falls by", "meq/L", (tap.value, "meq/L"), "−", (rain, "meq/L")
    )
    litres = line(
        "rain in the tank",
        "L",
        (tank, "L"),
        "×",
        (down.value, "meq/L"),
        "÷",
        (most.value, "meq/L"),
    )
    return Task(
        given={"chalk": chalk, "rain": rain, "wanted": wanted, "tank": tank},
        question=f"The tap water has an alkalinity of {chalk} mg/L as CaCO₃, the rain in the concrete cistern "
        f"{rain:g} meq/L. A full tank of {tank} L is to have {wanted:g} meq/L. How many litres of it are rain?",
        solution=Working("Rain in the tank", (tap, down, most, litres)),
        unit="L",
        units=("mL", "m3"),
        slips=(
            Slip(tank - litres.value, "Those are the litres of tap water."),
            Slip(
                tank * down.value / tap.value,
                "This cistern is not free of alkalinity: it counts.",
            ),
            Slip(
                tank * down.value / (wanted - rain),
                "So much to a whole tank of tap water; but the tank holds both together.",
            ),
            Slip(
                tank * wanted / tap.value,
                "That share of the wanted in the tap tells roughly how much is tap.",
            ),
        ),
        hints=(
            "First bring both waters to one unit.",
            "What a litre of tap brings and what a litre of rain brings add up by their shares.",
            "The share of rain is how far the alkalinity has to fall, over how far it would fall if all were rain.",
        ),
        remark="Alkalinity mixes by shares; the pH does not.",
    )


EXERCISES = (
    ("The charge of an ion", _charge_of_an_ion),
    ("Hardness in degrees", _hardness_in_degrees),
    ("Alkalinity by titration", _alkalinity_by_titration),
    ("Nitrate or nitrogen", _nitrate_or_nitrogen),
    *MORE,
    ("Behind the softener", _sodium_after_a_softener),
    ("Rain for the tank", _rain_for_an_alkalinity),
)
