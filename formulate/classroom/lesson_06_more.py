"""Exercises of lesson 06 at the bench: acid made, titrated, poured, and what it brings."""

from formulate.classroom.lines import care, line, ten_to
from formulate.classroom.school_salts import low_indices
from formulate.classroom.task import Slip, Task
from formulate.stoichiometry.formula import molar_mass
from formulate.tables import read_table, rule_of
from formulate.working import Working

__all__ = ["MORE"]

ACIDS = {"HNO3": "nitric acid", "HCl": "hydrochloric acid"}  # one proton each
DILUTE = rule_of("class_rules", "strongest acid").number("value")  # mol/L
SAMPLES = {  # what is weighed: mass in g, carbonate in %, each low, high, step
    "dried eggshell": ((0.3, 0.45, 0.001), (88.0, 97.0, 0.1)),
    "garden lime": ((0.3, 0.45, 0.001), (78.0, 95.0, 0.1)),
    "chalky soil": ((2.0, 4.0, 0.01), (2.0, 6.0, 0.1)),
}
POURED = {"dried eggshell": 100.0, "garden lime": 100.0, "chalky soil": 50.0}  # mL
BRINGS = {  # acid: protons used near pH 6, nutrient, alkalinity taken up, what else is counted
    "HNO3": ("nitric acid", 1, "N", (0.5, 5.0, 0.05), "NO3"),
    "H3PO4": ("phosphoric acid", 1, "P", (0.3, 2.0, 0.05), "P2O5"),
    "H2SO4": ("sulfuric acid", 2, "S", (0.5, 5.0, 0.05), "SO4"),
}


def pk(form, step):
    """Return a pK of the table of acid constants."""
    rows = read_table("protonation")
    found = (r for r in rows if r["form"] == form and r["step"] == str(step))
    return next(found).number("pka")


def _back_titration(lot):
    """How much carbonate is in a sample, by the acid that is left?"""
    what = lot.one_of(tuple(SAMPLES))
    (grams, content), poured = SAMPLES[what], POURED[what]
    sample, percent = lot.between(*grams), lot.between(*content)
    chalk = molar_mass("CaCO3")
    used = percent / 100 * sample / chalk * 1000 * 2 / DILUTE
    back = round(round((poured - used) / 0.05) * 0.05, 2)
    taken = line(
        "acid that the sample took up", "mL", (poured, "mL"), "−", (back, "mL")
    )
    acid = line(
        "millimoles of acid", "mmol", (taken.value, "mL"), "×", (DILUTE, "mmol/mL")
    )
    carbonate = line(
        "each CaCO₃ takes two", "mmol", (acid.value, "mmol"), "÷", (2.0, "")
    )
    share = line(
        "its mass, of the mass of the sample",
        "%",
        (carbonate.value, "mmol"),
        "×",
        (chalk, "mg/mmol"),
        "÷",
        (sample, "g"),
        "÷",
        (10.0, "mg/g per %"),
    )
    right = share.value
    return Task(
        given={
            "what": what,
            "sample": sample,
            "poured": poured,
            "back": back,
            "strength": DILUTE,
        },
        question=f"{sample:g} g of {what} go into {poured:.1f} mL of hydrochloric acid, {DILUTE:g} mol/L, which is more "
        "than enough. Warmed, it gives off its carbon dioxide. What acid is left takes "
        f"{back:.2f} mL of sodium hydroxide, {DILUTE:g} mol/L. How much of the sample, in %, is CaCO₃?",
        solution=Working(f"Carbonate in {what}", (taken, acid, carbonate, share)),
        unit="%",
        units=("g/kg", "mg/g"),
        slips=(
            Slip(2 * right, "How much acid does one carbonate take?"),
            Slip(right / 2, "Halved once too often: one carbonate takes two of acid."),
            Slip(
                right * back / taken.value,
                "That counts the acid that was left; the sample took the rest.",
            ),
            Slip(
                right * poured / taken.value,
                "That counts all the acid poured; some of it was left.",
            ),
            Slip(right * molar_mass("Ca") / chalk, "That is the calcium alone."),
        ),
        hints=(
            "The alkali tells what the sample did not take.",
            "Both have the same strength, so their millilitres may be taken from each other.",
            "Millilitres taken up, times the strength, halved, times the molar mass of CaCO₃, over the mass of the sample.",
        ),
        care=care("eyes", "acid", "alkali"),
        remark="Back titration is for what dissolves slowly: with an excess it dissolves to the end.",
    )


def _acid_for_a_tank(lot):
    """How much acid brings a tank to a pH?"""
    alkalinity = lot.between(1.5, 6.0, 0.05)
    wanted = lot.between(5.6, 6.2, 0.1)
    tank = lot.between(50, 400, 25)
    strength = lot.one_of((0.5, 1.0, 2.0))
    pk1 = pk("carbonate", 1)
    over = line("pK less pH", "", (pk1, ""), "−", (wanted, ""))
    ratio = ten_to(over.value, "carbon dioxide to bicarbonate")
    both = line("both, if bicarbonate is 1", "", (1.0, ""), "+", (ratio.value, ""))
    share = line(
        "share that turns into carbon dioxide",
        "",
        (ratio.value, ""),
        "÷",
        (both.value, ""),
    )
    poured = line(
        "acid for the tank",
        "mL",
        (alkalinity, "mmol/L"),
        "×",
        (share.value, ""),
        "×",
        (tank, "L"),
        "÷",
        (strength, "mmol/mL"),
    )
    right, all_of_it = poured.value, alkalinity * tank / strength
    return Task(
        given={
            "alkalinity": alkalinity,
            "wanted": wanted,
            "tank": tank,
            "strength": strength,
        },
        question=f"A tank holds {tank} L of well water at pH 8.3: of its carbonate nearly all is bicarbonate, "
        f"{alkalinity:g} mmol/L. It is to have pH {wanted:.1f}, before any carbon dioxide escapes. How many mL of nitric acid, "
        f"{strength:g} mol/L, does the teacher pour? (pK of CO₂/HCO₃⁻: {pk1:g}. Free hydrogen ions need not be counted.)",
        solution=Working(
            f"Acid for pH {wanted:.1f}", (over, ratio, both, share, poured)
        ),
        unit="mL",
        units=("L",),
        within_percent=1.5,
        slips=(
            Slip(all_of_it, "That takes up all bicarbonate; at this pH some is left."),
            Slip(
                all_of_it - right,
                "That is the bicarbonate that stays: the other share.",
            ),
            Slip(right / tank, "That is for one litre."),
            Slip(
                right * strength**2,
                "Divide by the strength: a stronger acid needs less.",
            )
            if strength != 1
            else Slip(
                all_of_it * ratio.value,
                "That is carbon dioxide over bicarbonate, no share of both.",
            ),
        ),
        hints=(
            "An acid turns bicarbonate into carbon dioxide. What share of it has to turn?",
            "The ratio of carbon dioxide to bicarbonate is ten to the power of pK less pH.",
            "The share is ratio over one plus ratio. Times alkalinity, times litres, over the strength in mmol/mL.",
        ),
        care=care("eyes", "acid", "hypochlorite"),
        remark="The teacher pours four fifths of it first, stirs, waits, measures.",
    )


def _what_the_acid_brings(lot):
    """What nutrient comes with the acid?"""
    acid = lot.one_of(tuple(BRINGS))
    name, protons, key, span, other = BRINGS[acid]
    taken, tank = lot.between(*span), lot.between(50, 800, 25)
    words = {1: "one proton", 2: "two protons"}[protons]
    amount = line(
        f"the acid, {words} each",
        "mmol/L",
        (taken, "meq/L"),
        "÷",
        (protons, "meq/mmol"),
    )
    each = line(
        f"its {key}",
        "mg/L",
        (amount.value, "mmol/L"),
        "×",
        (molar_mass(key), "mg/mmol"),
    )
    brought = line(
        "in the tank",
        "g",
        (each.value, "mg/L"),
        "×",
        (tank, "L"),
        "÷",
        (1000.0, "mg/g"),
    )
    right, heavier = brought.value, molar_mass(other) / molar_mass(key)
    heavier = heavier / 2 if other == "P2O5" else heavier
    slips = [
        Slip(
            right * heavier, f"That is counted as {low_indices(other)}; asked is {key}."
        ),
        Slip(
            amount.value * molar_mass(acid) * tank / 1000,
            f"That is the mass of the whole acid; asked is its {key}.",
        ),
        Slip(
            right * protons / 3
            if acid == "H3PO4"
            else right * 2
            if protons == 2
            else right / 2,
            f"How many protons does {name} give up there?",
        ),
        Slip(each.value, "That is mg in a litre; asked are grams in the tank."),
    ]
    return Task(
        given={"acid": acid, "taken": taken, "tank": tank},
        question=f"{name.capitalize()} ({low_indices(acid)}) takes up {taken:g} meq/L of alkalinity in a tank of {tank} L, so that the water "
        f"comes to about pH 6. How many grams of {key} come with it? (Near pH 6 it gives {words}.)",
        solution=Working(f"{key} from {name}", (amount, each, brought)),
        unit="g",
        units=("mg", "kg"),
        slips=tuple(slips),
        hints=(
            "A meq of alkalinity takes one proton.",
            "How many mmol of the acid give so many protons? Each holds one atom of the nutrient.",
            f"Protons over protons for each acid, times the molar mass of {key}, times the litres; then mg into g.",
        ),
        care=care("eyes", "acid"),
        remark="What the acid brings has to leave the recipe elsewhere, or the plants get it twice.",
    )


def _acid_for_the_class(lot):
    """How much strong acid makes the dilute one of a class?"""
    rows = [r for r in read_table("acid_densities") if r["acid"] in ACIDS]
    row = lot.one_of(rows)
    pupils, each = lot.between(12, 32, 1), lot.between(20, 80, 5)
    percent, density = row.number("percent"), row.number("density")
    mass, name = molar_mass(row["acid"]), ACIDS[row["acid"]]
    volume = line(
        "for the class", "L", (pupils, ""), "×", (each, "mL"), "÷", (1000.0, "mL/L")
    )
    pure = line(
        "pure acid in it",
        "g",
        (volume.value, "L"),
        "×",
        (DILUTE, "mol/L"),
        "×",
        (mass, "g/mol"),
    )
    strong = line(
        f"of {percent:g} %",
        "g",
        (pure.value, "g"),
        "÷",
        (percent, "%"),
        "×",
        (100.0, "%"),
    )
    poured = line("as a volume", "mL", (strong.value, "g"), "÷", (density, "g/mL"))
    right = poured.value
    return Task(
        given={
            "acid": row["acid"],
            "percent": percent,
            "density": density,
            "pupils": pupils,
            "each": each,
            "strength": DILUTE,
        },
        question=f"Each of {pupils} pupils needs {each} mL of {name}, {DILUTE:g} mol/L. The teacher has {name} of {percent:g} % "
        f"by mass with a density of {density:g} g/mL. How many mL of it go into the measuring flask? "
        "(Water first, acid into it, made up to the mark when cold.)",
        solution=Working(
            f"{name.capitalize()} for a class", (volume, pure, strong, poured)
        ),
        unit="mL",
        units=("L",),
        slips=(
            Slip(
                strong.value,
                "Those are grams; a burette or cylinder shows millilitres.",
            ),
            Slip(
                right * percent / 100,
                "As if the acid in the bottle were pure: part of it is water.",
            ),
            Slip(
                strong.value * density,
                "Grams into millilitres: divide or multiply by the density?",
            ),
            Slip(right / pupils, "That is for one pupil."),
        ),
        hints=(
            "How much dilute acid does the class need in all, and how many moles are in it?",
            "Moles to grams of pure acid, then to grams of what is in the bottle, which is partly water.",
            "Litres times mol/L times molar mass; over the per cent, times a hundred; over the density.",
        ),
        care=care("eyes", "acid", "heat", "storing"),
        remark="Only the teacher does this, with goggles, gloves and apron. Pupils get the dilute acid.",
    )


MORE = (
    ("Back titration", _back_titration),
    ("Acid for the tank", _acid_for_a_tank),
    ("What the acid brings", _what_the_acid_brings),
    ("Acid for the class", _acid_for_the_class),
)
