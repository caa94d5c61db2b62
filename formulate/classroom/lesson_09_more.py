"""Exercises of lesson 09 with options: a grade without room, a torn label, a recipe out of balance."""

from math import floor

from formulate.classroom.lines import carried, line
from formulate.classroom.school_salts import SchoolSalt, low_indices
from formulate.classroom.task import Option, Task
from formulate.stoichiometry.formula import molar_mass, parse_formula
from formulate.working import Working

__all__ = ["MORE"]

LETTERS = "ABCD"
GRADE = ("N", "P2O5", "K2O")
WRITTEN = {"N": "N", "P2O5": "P₂O₅", "K2O": "K₂O", "CaO": "CaO", "MgO": "MgO"}
PAIRS = (  # what a bag is mixed of, with the number of the grade that each salt brings
    ("urea", "N", "potassium chloride", "K2O"),
    ("urea", "N", "potassium sulfate", "K2O"),
    ("urea", "N", "monopotassium phosphate", "P2O5"),
    ("ammonium sulfate", "N", "potassium chloride", "K2O"),
    ("ammonium sulfate", "N", "potassium sulfate", "K2O"),
    ("ammonium sulfate", "N", "monopotassium phosphate", "P2O5"),
)
ROOMY, CROWDED = (80.0, 97.0, 0.5), (111.0, 122.0, 0.5)  # g in 100 g
PURE, LEAST = 1.0, 0.98  # purity of a single salt
FAMILIES = {  # what is left of a torn label: its words, the salts that bring it
    "N": (
        "total nitrogen (N)",
        "urea",
        "ammonium nitrate",
        "ammonium sulfate",
        "ammonium chloride",
        "potassium nitrate",
        "monoammonium phosphate",
    ),
    "P2O5": (
        "phosphate (P₂O₅)",
        "monopotassium phosphate",
        "dipotassium phosphate",
        "monoammonium phosphate",
        "diammonium phosphate",
    ),
    "K2O": (
        "potash (K₂O)",
        "potassium nitrate",
        "potassium sulfate",
        "potassium chloride",
        "monopotassium phosphate",
    ),
    "Ca": (
        "calcium (Ca)",
        "calcium nitrate tetrahydrate",
        "calcium nitrate anhydrous",
        "calcium chloride dihydrate",
        "calcium chloride anhydrous",
        "gypsum",
    ),
    "Mg": (
        "magnesium (Mg)",
        "magnesium sulfate heptahydrate",
        "magnesium sulfate monohydrate",
        "magnesium sulfate anhydrous",
        "magnesium nitrate hexahydrate",
        "magnesium chloride hexahydrate",
    ),
}
FAMILIES["CaO"] = ("calcium oxide (CaO)", *FAMILIES["Ca"][1:])
FAMILIES["MgO"] = ("magnesium oxide (MgO)", *FAMILIES["Mg"][1:])
CHARGES = {"NO3-N": 1, "P": 1, "K": 1, "Ca": 2, "Mg": 2, "S": 2}
MISPRINTS = {  # letter: what is printed, as what it was counted, in words
    "A": ("S", "SO4", "sulfur: the number is that of sulfate, SO₄"),
    "B": ("K", "K2O", "potassium: the number is that of K₂O"),
    "C": ("Ca", "CaO", "calcium: the number is that of CaO"),
    "D": ("NO3-N", "NO3", "nitrate nitrogen: the number is that of nitrate, NO₃"),
}
RECIPE = {  # mg/L: least, greatest, step; the nitrate closes the balance
    "P": (30, 60, 1),
    "K": (180, 320, 1),
    "Ca": (120, 200, 1),
    "Mg": (25, 60, 1),
    "S": (40, 120, 1),
}
CATIONS, ANIONS = ("K", "Ca", "Mg"), ("NO3-N", "P", "S")
CLOSED, OPEN = 0.003, 0.012  # gap of the charges over all of them


def _symbol(counted):
    """Return the element that a label counts, and how many of it one unit holds."""
    atoms = parse_formula(counted).atoms
    symbol = next(key for key in atoms if key != "O")
    return symbol, int(atoms[symbol])


def _held(name, counted):
    """Return how much of what a label counts is in a gram of a salt. [g/g]"""
    symbol, count = _symbol(counted)
    salt = SchoolSalt(name)
    return salt.share(symbol) * molar_mass(counted) / (count * molar_mass(symbol))


# --- a grade without room --------------------------------------------------------------


def _bag(lot, pair, total):
    """Return a grade, rounded down as labels are, and what its salts weigh at least."""
    first, key, second, other = pair
    part = lot.between(0.35, 0.65, 0.01) * total
    grams = {first: part, second: total - part}
    grade = tuple(
        floor(sum(_held(name, each) * g for name, g in grams.items())) for each in GRADE
    )
    printed = dict(zip(GRADE, grade, strict=True))
    room = line(
        f"{'-'.join(map(str, grade))}",
        "g",
        (printed[key], "g"),
        "÷",
        (_held(first, key), "g/g"),
        "+",
        (printed[other], "g"),
        "÷",
        (_held(second, other), "g/g"),
    )
    return grade, room


def _grade_without_room(lot):
    """Which grade cannot be mixed of its salts?"""
    pairs, right = lot.some_of(PAIRS, len(LETTERS)), lot.one_of(LETTERS)
    bags = {}
    for letter, pair in zip(LETTERS, pairs, strict=True):
        span = CROWDED if letter == right else ROOMY
        bags[letter] = (pair, *_bag(lot, pair, lot.between(*span)))
    options = {
        letter: Option(
            f"{'-'.join(map(str, grade))} of {pair[0]} and {pair[2]}",
            ""
            if letter == right
            else f"It can be: its two salts weigh {room.value:.0f} g in 100 g.",
        )
        for letter, (pair, grade, room) in bags.items()
    }
    names = dict.fromkeys(n for pair in pairs for n in (pair[0], pair[2]))
    rooms = [bags[letter][2] for letter in (*LETTERS.replace(right, ""), right)]
    sums = {letter: sum(grade) for letter, (_, grade, _) in bags.items()}
    return Task(
        given={
            "bags": tuple((pair, grade) for pair, grade, _ in bags.values()),
            "right": right,
        },
        question=f"Four bags, {', '.join(option.words.split()[0] for option in options.values())}, are each mixed of two pure "
        "salts. The grades count N, P₂O₅ and K₂O in per cent, rounded down. One of the four cannot be. Which?",
        solution=Working("what the salts of 100 g weigh at least", tuple(rooms)),
        options=options,
        right=right,
        hints=(
            "In 100 g there is room for 100 g. How many grams of its two salts does each bag need?",
            "Grams of a salt = the number of the grade that only it brings ÷ what one gram of the salt holds.",
            "Each bag takes two divisions: nitrogen by the share in its nitrogen salt, and P₂O₅ or K₂O by that in the other. Add.",
        ),
        table=_shares(names),
        remark=f"The numbers of this grade add up to {sums[right]}, those of the others to "
        f"{', '.join(str(s) for letter, s in sums.items() if letter != right)}: that sum tells nothing.",
    )


def _shares(names):
    """Return the table of what pure salts hold, in per cent."""
    head = ("pure salt", *(f"{WRITTEN[key]} %" for key in GRADE))
    rows = [
        (
            name,
            *(f"{100 * _held(name, k):.1f}" if _held(name, k) else "" for k in GRADE),
        )
        for name in names
    ]
    return (head, *rows)


# --- a torn label ----------------------------------------------------------------------


def _fits(name, key, printed):
    """Return whether a salt of 98 to 100 % has a share that is printed so, rounded down."""
    pure = 100 * _held(name, key)
    return printed <= pure * PURE and pure * LEAST < printed + 0.1


def _torn_label(lot):
    """Which single salt fits one line of a label?"""
    key = lot.one_of(tuple(FAMILIES))
    words, *family = FAMILIES[key]
    true, purity = lot.one_of(family), lot.between(98.1, 99.9, 0.1)
    printed = floor(purity * _held(true, key) * 10) / 10
    others = [name for name in family if not _fits(name, key, printed)]
    names = lot.some_of((true, *lot.some_of(others, len(LETTERS) - 1)), len(LETTERS))
    right = LETTERS[names.index(true)]
    lines = [_held_line(name, key) for name in sorted(names, key=lambda n: n == true)]
    clean = line(
        f"purity, at least, if it is {true}",
        "%",
        (printed, "%"),
        "÷",
        carried(lines[-1]),
        "×",
        (100, "%"),
    )
    return Task(
        given={"key": key, "printed": printed, "names": names},
        question="A label is torn; one line can still be read:\n\n"
        f"{words} {printed:.1f} %\n\nIn the bag is a single salt of 98 to 100 % purity, and the share "
        "was rounded down to a tenth. Which salt?",
        solution=Working("what each salt holds when pure", (*lines, clean)),
        options={
            letter: Option(SchoolSalt(name).printed, _misses(name, key, printed))
            for letter, name in zip(LETTERS, names, strict=True)
        },
        right=right,
        hints=(
            "A salt cannot hold more than it does when pure, nor much less at 98 %.",
            "Work out the share in each salt from its formula, the crystal water included.",
            "100 × what the formula holds of it, counted as printed, ÷ molar mass; the printed share is 0 to 2 % below one of them.",
        ),
        remark="A bag that does not name its salt still tells it, if one number is exact enough. "
        "One number never proves it: another salt outside these four might fit as well.",
    )


def _held_line(name, key):
    """Return the line for what a pure salt holds of what the label counts."""
    salt, (symbol, count) = SchoolSalt(name), _symbol(key)
    return line(
        f"{WRITTEN.get(key, key)} in {salt.printed_formula}",
        "%",
        salt.count(symbol),
        "÷",
        count,
        "×",
        (molar_mass(key), "g/mol"),
        "÷",
        (salt.molar_mass, "g/mol"),
        "×",
        (100, "%"),
    )


def _misses(name, key, printed):
    """Return why a salt does not fit the line."""
    if _fits(name, key, printed):
        return ""
    pure = 100 * _held(name, key)
    if pure < printed:
        return f"Even pure it holds only {pure:.1f} %: less than is printed."
    return f"At 98 % it would still hold {LEAST * pure:.1f} %: more than is printed."


# --- a recipe out of balance -----------------------------------------------------------


def _meq(key, mg):
    """Return the line for the charge of a nutrient."""
    mass = molar_mass("N" if key == "NO3-N" else key)
    charge = CHARGES[key]
    return line(key, "meq/L", (mg, "mg/L"), "×", charge, "÷", (mass, "mg/mmol"))


def _ratio(key, counted):
    """Return how much larger the number is if it counts something else than the element."""
    symbol = "N" if key == "NO3-N" else key
    count = int(parse_formula(counted).atoms[symbol])
    return molar_mass(counted) / (count * molar_mass(symbol))


def _sums(printed):
    """Return the lines for both sums of charges."""
    made = []
    for word, keys in (("cations", CATIONS), ("anions", ANIONS)):
        terms = [t for k in keys for t in ("+", (_meq(k, printed[k]).value, "meq/L"))]
        made.append(line(f"{word}: {', '.join(keys)}", "meq/L", *terms[1:]))
    return made


def _gap(printed):
    """Return how far the charges are apart, over all of them. [-]"""
    plus, minus = (step.value for step in _sums(printed))
    return abs(plus - minus) / (plus + minus)


def _mended(printed, letter):
    """Return the recipe with one misprint taken back."""
    key, counted, _ = MISPRINTS[letter]
    return {**printed, key: printed[key] / _ratio(key, counted)}


def _recipe(lot):
    """Return a recipe in balance, in whole mg/L."""
    made = {key: lot.between(*span) for key, span in RECIPE.items()}
    plus = sum(_meq(key, made[key]).value for key in CATIONS)
    nitrate = plus - _meq("P", made["P"]).value - _meq("S", made["S"]).value
    return {"NO3-N": round(nitrate * molar_mass("N")), **made}


def _out_of_balance(lot):
    """Which nutrient of a printed recipe is misprinted?"""
    right = lot.one_of(tuple(MISPRINTS))
    true = _recipe(lot)
    key, counted, _ = MISPRINTS[right]
    printed = {**true, key: round(true[key] * _ratio(key, counted))}
    gaps = {letter: _gap(_mended(printed, letter)) for letter in MISPRINTS}
    proven = gaps[right] < CLOSED and all(
        gap > OPEN for letter, gap in gaps.items() if letter != right
    )
    lines = [_meq(each, mg) for each, mg in printed.items()]
    taken = line(
        f"{key}, if {printed[key]} mg/L count {low_indices(counted)}",
        "mg/L",
        (printed[key], "mg/L"),
        "÷",
        (_ratio(key, counted), ""),
    )
    return Task(
        given=printed,
        question="A reprinted page gives a recipe in mg/L: "
        f"{', '.join(f'{each} {mg}' for each, mg in printed.items())}. Nitrogen is there as NO₃⁻, phosphorus as H₂PO₄⁻, sulfur as "
        "SO₄²⁻; nothing else counts. These data cannot be: one number counts something else than it says. Which?",
        solution=Working(
            "charges of the printed recipe, then of the mended one",
            (*lines, *_sums(printed), taken, *_sums(_mended(printed, right))),
        ),
        options={
            letter: Option(words, "" if letter == right else _still(printed, letter))
            for letter, (_, _, words) in MISPRINTS.items()
        },
        right=right if proven else "",
        hints=(
            "A solution is neutral. Which sum is larger, that of the cations or that of the anions?",
            "meq/L = mg/L × charge ÷ molar mass; a number on the larger side has to become smaller.",
            "Try each misprint of that side: divide by the mass of what was counted over the mass of the element in it, and add up anew.",
        ),
        remark="The balance finds a misprint without the book it was copied from.",
    )


def _still(printed, letter):
    """Return what the charges are once a wrong misprint is taken back."""
    plus, minus = (step.value for step in _sums(_mended(printed, letter)))
    return f"Taken back, cations have {plus:.1f} and anions {minus:.1f} meq/L: still apart."


MORE = (
    ("A grade without room", _grade_without_room),
    ("A torn label", _torn_label),
    ("A recipe out of balance", _out_of_balance),
)
