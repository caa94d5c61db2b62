"""Exercises of lesson 09 worked out again with atomic weights typed here."""

from functools import partial
from math import floor

import lesson_checks
import pytest
from lesson_checks import (
    CA,
    CL,
    CLOSE,
    MG,
    OX,
    PUPILS,
    C,
    H,
    K,
    N,
    P,
    S,
    agrees,
    has_sets_for_a_school,
    keys,
)

pupils = partial(lesson_checks.pupils, "09")
is_slip = partial(lesson_checks.is_slip, form=".8f")

WATER, NITRATE, SULFATE = 2 * H + OX, N + 3 * OX, S + 4 * OX
OXIDES = {"P": ("P2O5", 2 * P + 5 * OX), "K": ("K2O", 2 * K + OX)}
ELEMENTS = {"P": P, "K": K}
US_GALLON, IMPERIAL_GALLON = 3.785, 4.546  # L; by definition 3.785411784 and 4.54609

PHOSPHATE = 2 * H + P + 4 * OX
AMMONIUM = N + 4 * H
SALTS = {  # molar mass; atoms of N, P, K, Ca, Mg
    "urea": (C + OX + 2 * (N + 2 * H), {"N": 2}),
    "ammonium nitrate": (AMMONIUM + NITRATE, {"N": 2}),
    "ammonium sulfate": (2 * AMMONIUM + SULFATE, {"N": 2}),
    "ammonium chloride": (AMMONIUM + CL, {"N": 1}),
    "potassium nitrate": (K + NITRATE, {"N": 1, "K": 1}),
    "potassium sulfate": (2 * K + SULFATE, {"K": 2}),
    "potassium chloride": (K + CL, {"K": 1}),
    "monopotassium phosphate": (K + PHOSPHATE, {"K": 1, "P": 1}),
    "dipotassium phosphate": (2 * K + PHOSPHATE - H, {"K": 2, "P": 1}),
    "monoammonium phosphate": (AMMONIUM + PHOSPHATE, {"N": 1, "P": 1}),
    "diammonium phosphate": (2 * AMMONIUM + PHOSPHATE - H, {"N": 2, "P": 1}),
    "calcium nitrate tetrahydrate": (CA + 2 * NITRATE + 4 * WATER, {"Ca": 1}),
    "calcium nitrate anhydrous": (CA + 2 * NITRATE, {"Ca": 1}),
    "calcium chloride dihydrate": (CA + 2 * CL + 2 * WATER, {"Ca": 1}),
    "calcium chloride anhydrous": (CA + 2 * CL, {"Ca": 1}),
    "gypsum": (CA + SULFATE + 2 * WATER, {"Ca": 1}),
    "magnesium sulfate heptahydrate": (MG + SULFATE + 7 * WATER, {"Mg": 1}),
    "magnesium sulfate monohydrate": (MG + SULFATE + WATER, {"Mg": 1}),
    "magnesium sulfate anhydrous": (MG + SULFATE, {"Mg": 1}),
    "magnesium nitrate hexahydrate": (MG + 2 * NITRATE + 6 * WATER, {"Mg": 1}),
    "magnesium chloride hexahydrate": (MG + 2 * CL + 6 * WATER, {"Mg": 1}),
}
COUNTED = {  # what a label counts: element, its mass for one atom of the element
    "N": ("N", N),
    "P2O5": ("P", P + 2.5 * OX),
    "K2O": ("K", K + OX / 2),
    "Ca": ("Ca", CA),
    "CaO": ("Ca", CA + OX),
    "Mg": ("Mg", MG),
    "MgO": ("Mg", MG + OX),
}


def held(name, counted):
    """Return what a gram of a salt holds, counted as a label does."""
    mass, atoms = SALTS[name]
    element, each = COUNTED[counted]
    return atoms.get(element, 0) * each / mass


def only_right(one, fits):
    """The letters that fit are the one that is called right; each other one is told why."""
    assert [letter for letter in one.task.options if fits(letter)] == [one.task.right]
    for letter in one.task.options:
        assert one.check(letter).verdict == (
            "right" if letter == one.task.right else "slip"
        )


@pytest.mark.parametrize("key", keys("09"))
def test_there_are_a_thousand_sets_of_numbers(key):
    has_sets_for_a_school(key)


# --- a grade without room --------------------------------------------------------------


def least_grams(pair, grade):
    """Return what two salts weigh that keep a grade: the first alone brings N."""
    first, key, second, other = pair
    printed = dict(zip(("N", "P2O5", "K2O"), grade, strict=True))
    assert key == "N"
    assert held(second, "N") == 0
    assert held(first, other) == 0
    return printed["N"] / held(first, "N") + printed[other] / held(second, other)


def test_one_grade_alone_has_no_room():
    modest = 0
    for one in pupils(1):
        bags = dict(zip("ABCD", one.task.given["bags"], strict=True))
        grams = {letter: least_grams(*bag) for letter, bag in bags.items()}
        only_right(one, lambda letter, grams=grams: grams[letter] > 100)
        assert grams[one.task.right] > 103
        assert all(g < 98 for letter, g in grams.items() if letter != one.task.right)
        for letter in set(bags) - {one.task.right}:
            assert f"weigh {grams[letter]:.0f} g" in one.check(letter).says
        sums = {letter: sum(grade) for letter, (_, grade) in bags.items()}
        modest += sums[one.task.right] < max(sums.values())
        assert sums[one.task.right] < 100
    assert modest > 0.3 * PUPILS  # the sum of the grade would mislead these


def test_a_grade_of_monopotassium_phosphate_keeps_its_potash():
    """K2O is printed rounded down, so what comes with the phosphate is enough, or nearly."""
    found = 0
    for one in pupils(1):
        for (_, _, second, _), (_, phosphate, potash) in one.task.given["bags"]:
            if second == "monopotassium phosphate":
                found += 1
                comes = (
                    phosphate * held(second, "K2O") / held(second, "P2O5")
                )  # of the printed P2O5, which is rounded down too
                assert comes - 1 < potash < comes + 0.7
    assert found > 10


# --- a torn label ----------------------------------------------------------------------


def test_one_salt_alone_fits_the_torn_label():
    for one in pupils(2):
        key, printed, names = (one.task.given[k] for k in ("key", "printed", "names"))
        shares = dict(zip("ABCD", (100 * held(n, key) for n in names), strict=True))

        def fits(letter, shares=shares, printed=printed):
            purities = [0.98 + 0.0001 * n for n in range(201)]
            found = [floor(shares[letter] * f * 10 + 1e-9) / 10 for f in purities]
            return any(abs(value - printed) < 1e-6 for value in found)

        only_right(one, fits)
        for letter, share in shares.items():
            if letter != one.task.right:
                word = "less than" if share < printed else "more than"
                assert word in one.check(letter).says
        assert f"{printed:.1f} %" in one.question


# --- a leaflet, a gallon ---------------------------------------------------------------


def test_one_slip_alone_explains_the_leaflet():
    oxide = {s: mass / (2 * ELEMENTS[s]) for s, (_, mass) in OXIDES.items()}
    times = {
        "A": (1, oxide["P"], 1),
        "B": (1, 1, oxide["K"]),
        "C": (US_GALLON,) * 3,
        "D": (US_GALLON / IMPERIAL_GALLON,) * 3,
        "E": (1, 1, 1),
    }
    for one in pupils(3):
        (n, p, k), dose, claimed = (
            one.task.given[key] for key in ("grade", "dose", "claimed")
        )
        litre = 10 * dose / US_GALLON
        true = (n * litre, p * litre / oxide["P"], k * litre / oxide["K"])

        def fits(letter, true=true, claimed=claimed):
            factors = zip(true, times[letter], claimed, strict=True)
            return all(abs(value * f - said) <= 0.51 for value, f, said in factors)

        only_right(one, fits)


def test_ppm_of_a_gallon():
    seen = set()
    for one in pupils(4):
        symbol, gallon, percent, dose = (
            one.task.given[k] for k in ("symbol", "gallon", "percent", "dose")
        )
        size = {"US gallon": US_GALLON, "imperial gallon": IMPERIAL_GALLON}[gallon]
        _, mass = OXIDES[symbol]
        counted = dose / size * percent * 10
        right = counted * 2 * ELEMENTS[symbol] / mass
        agrees(one, right)
        is_slip(one, counted, "asked is")
        is_slip(one, right * size, "in a gallon")
        is_slip(one, right / 2, "one is missing")
        is_slip(
            one,
            right * size / (US_GALLON + IMPERIAL_GALLON - size),
            "Which gallon",
        )
        seen.add((symbol, gallon))
    assert len(seen) == 4


def test_litres_of_the_gallons_are_those_of_the_definitions():
    """231 cubic inches of 2.54 cm; the imperial one 4.54609 L by law."""
    assert pytest.approx(231 * 2.54**3 / 1000, abs=0.0005) == US_GALLON
    assert pytest.approx(4.54609, abs=0.0005) == IMPERIAL_GALLON
    for one in pupils(4):
        assert f"({US_GALLON} L)" in one.question or f"({IMPERIAL_GALLON} L)" in (
            one.question
        )


# --- an assay --------------------------------------------------------------------------

# Florida Statutes 2014, section 576.061 (1)(b): guarantee, then what is allowed [fl-576-061]
N_ALLOWED = {
    10: 0.58,
    12: 0.61,
    14: 0.63,
    16: 0.67,
    18: 0.70,
    20: 0.73,
    22: 0.75,
    24: 0.78,
    26: 0.81,
}
K2O_ALLOWED = {
    10: 0.70,
    12: 0.79,
    14: 0.87,
    16: 0.94,
    18: 1.01,
    20: 1.08,
    22: 1.15,
    24: 1.21,
    26: 1.27,
    28: 1.33,
    30: 1.39,
    32: 1.44,
}


def test_beyond_the_allowance():
    for one in pupils(5):
        key, guarantee, (low, high) = (
            one.task.given[k] for k in ("key", "guarantee", "samples")
        )
        table = {"N": N_ALLOWED, "K2O": K2O_ALLOWED}[key]
        rows = table[guarantee - 1], table[guarantee + 1]
        allowed, short = sum(rows) / 2, guarantee - (low + high) / 2
        right = short - allowed
        assert one.task.answer == pytest.approx(right, abs=1e-6)
        assert one.check(f"{right:.2f}").right
        assert one.check(f"{right:.3f}").right
        assert right > 0.2
        assert low > 0
        is_slip(one, short, "part of that is allowed")
        is_slip(one, short + allowed, "add it or take it off")
        is_slip(one, guarantee - low - allowed, "worse sample")
        if key == "K2O":
            is_slip(one, short - rows[0], "between two")
        assert f"{rows[0]:.2f}" in str(one)


# --- sulfate, chart, balance, price ----------------------------------------------------


def test_least_sulfate():
    for one in pupils(6):
        magnesium, ammonium, potash = (
            one.task.given[k] for k in ("magnesium", "ammonium", "potash")
        )
        by_mg, by_n = magnesium / MG * SULFATE, ammonium / N / 2 * SULFATE
        agrees(one, by_mg + by_n)
        is_slip(one, by_mg, "Which salt besides")
        is_slip(one, by_mg + 2 * by_n, "How many ammonium")
        is_slip(one, (by_mg + by_n) * S / SULFATE, "counted as S")
        by_k = potash / OXIDES["K"][1] * SULFATE
        is_slip(one, by_mg + by_n + by_k, "Must the potassium")


def test_least_sulfate_stands_on_a_label_that_has_room():
    for one in pupils(6):
        magnesium, ammonium, potash = (
            one.task.given[k] for k in ("magnesium", "ammonium", "potash")
        )
        grams = (
            magnesium / 100 / held("magnesium sulfate heptahydrate", "Mg")
            + ammonium / 100 / held("ammonium sulfate", "N")
            + potash / 100 / held("potassium nitrate", "K2O")
        )
        assert grams < 1


def test_least_sulfate_is_what_the_program_finds_over_all_blends():
    from formulate.claims.derivation import derive

    for one in pupils(6)[:3]:
        given = one.task.given
        nitrate = given["potash"] * held("potassium nitrate", "N") / 2  # some of it
        nitric, ammonium = floor(nitrate) / 2, given["ammonium"]
        text = (
            f"Total Nitrogen (N) {nitric + ammonium:.1f}%\n"
            f"  {ammonium:.1f}% Ammoniacal Nitrogen\n  {nitric:.1f}% Nitrate Nitrogen\n"
            f"Soluble Potash (K2O) {given['potash']:.1f}%\n"
            f"Magnesium (Mg) {given['magnesium']:.1f}%\n"
            "Derived from: potassium nitrate, potassium sulfate, ammonium sulfate, "
            "magnesium sulfate, monopotassium phosphate."
        )
        assert derive(text).range_of("SO4").low == pytest.approx(
            one.task.answer, rel=CLOSE
        )


def test_week_of_a_chart():
    for one in pupils(7):
        nitrogen, bag, other, week = (
            one.task.given[k] for k in ("nitrogen", "bag", "other", "week")
        )
        a, b = bag[week - 1], other[week - 1]
        agrees(one, a * nitrogen + b * 15.5)  # g in 10 L × % is mg/L
        is_slip(one, a * nitrogen, "bag alone")
        is_slip(one, b * 15.5, "calcium nitrate alone")
        is_slip(one, (a + b) * (nitrogen + 15.5) / 2, "equal grams")
        assert list(bag) == sorted(bag)
        assert f"{a:.1f}" in str(one)


def test_one_misprint_alone_closes_the_balance():
    times = {
        "A": ("S", SULFATE / S),
        "B": ("K", (K + OX / 2) / K),
        "C": ("Ca", (CA + OX) / CA),
        "D": ("NO3-N", NITRATE / N),
    }
    for one in pupils(8):
        printed = dict(one.task.given)
        assert all(isinstance(value, int) and value > 0 for value in printed.values())

        def apart(letter, printed=printed):
            key, factor = times.get(letter, ("S", 1))
            mended = {**printed, key: printed[key] / factor}
            plus = mended["K"] / K + 2 * mended["Ca"] / CA + 2 * mended["Mg"] / MG
            minus = mended["NO3-N"] / N + mended["P"] / P + 2 * mended["S"] / S
            return abs(plus - minus)

        only_right(one, lambda letter, apart=apart: apart(letter) < 0.15)
        assert all(apart(x) > 0.3 for x in times if x != one.task.right)
        assert apart("") > 0.5  # as printed
        assert printed["NO3-N"] / (times["D"][1] if one.task.right == "D" else 1) > 60


def test_two_bags():
    dearer = 0
    for one in pupils(9):
        symbol, sizes, percents, prices = (
            one.task.given[k] for k in ("symbol", "sizes", "percents", "prices")
        )
        share = 2 * ELEMENTS[symbol] / OXIDES[symbol][1]
        bags = list(zip(sizes, percents, prices, strict=True))
        costs = [price / (size * p / 100 * share) for size, p, price in bags]
        agrees(one, min(costs))
        assert one.check(f"{100 * min(costs):.5g} ct").right
        is_slip(one, max(costs), "other bag")
        is_slip(one, min(costs) * share, "asked is")
        size, _, price = bags[costs.index(min(costs))]
        is_slip(one, price / size, "kilogram of the bag")
        kilograms = [price / size for size, _, price in bags]
        dearer += kilograms.index(min(kilograms)) != costs.index(min(costs))
    assert dearer > 0.2 * PUPILS  # the cheaper bag is not always the better buy
