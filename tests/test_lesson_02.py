"""The exercises of lesson 02, each worked out again from its numbers, with masses typed here.

Atomic masses: IUPAC abridged standard atomic weights (CIAAW 2021, five figures), from memory. Formulas of the salts:
typed here as atoms and waters.
"""

from functools import partial

import lesson_checks
import pytest
from lesson_checks import agrees, has_sets_for_a_school, is_slip, keys

pupils = partial(lesson_checks.pupils, "02", called="class 9b,")

H, N, OXYGEN, NA, MG, P, S, CL = (
    1.008,
    14.007,
    15.999,
    22.990,
    24.305,
    30.974,
    32.06,
    35.45,
)
K, CA, MN, FE, CU, ZN, BA = 39.098, 40.078, 54.938, 55.845, 63.546, 65.38, 137.33
WATER, SO4, NO3 = 2 * H + OXYGEN, S + 4 * OXYGEN, N + 3 * OXYGEN
NH4, H2PO4 = N + 4 * H, 2 * H + P + 4 * OXYGEN
BARYTE = BA + SO4
SALTS = {  # mass of one formula without water; waters; atoms, for slips
    "calcium nitrate tetrahydrate": (CA + 2 * NO3, 4),
    "calcium nitrate anhydrous": (CA + 2 * NO3, 0),
    "calcium chloride dihydrate": (CA + 2 * CL, 2),
    "calcium chloride anhydrous": (CA + 2 * CL, 0),
    "potassium nitrate": (K + NO3, 0),
    "potassium sulfate": (2 * K + SO4, 0),
    "potassium chloride": (K + CL, 0),
    "monopotassium phosphate": (K + H2PO4, 0),
    "monoammonium phosphate": (NH4 + H2PO4, 0),
    "ammonium sulfate": (2 * NH4 + SO4, 0),
    "magnesium sulfate anhydrous": (MG + SO4, 0),
    "magnesium sulfate monohydrate": (MG + SO4, 1),
    "magnesium sulfate heptahydrate": (MG + SO4, 7),
    "magnesium nitrate anhydrous": (MG + 2 * NO3, 0),
    "magnesium nitrate hexahydrate": (MG + 2 * NO3, 6),
    "manganese sulfate monohydrate": (MN + SO4, 1),
    "manganese sulfate tetrahydrate": (MN + SO4, 4),
    "zinc sulfate monohydrate": (ZN + SO4, 1),
    "zinc sulfate heptahydrate": (ZN + SO4, 7),
    "copper sulfate anhydrous": (CU + SO4, 0),
    "copper sulfate pentahydrate": (CU + SO4, 5),
    "ferrous sulfate heptahydrate": (FE + SO4, 7),
    "potassium magnesium sulfate": (2 * K + 2 * MG + 3 * SO4, 0),
}
IONS = {  # word of the question: its mass, and in which salts there are two
    "calcium (Ca²⁺)": (CA, ()),
    "nitrate (NO₃⁻)": (
        NO3,
        ("calcium nitrate tetrahydrate", "magnesium nitrate hexahydrate"),
    ),
    "chloride (Cl⁻)": (CL, ("calcium chloride dihydrate",)),
    "potassium (K⁺)": (K, ("potassium sulfate",)),
    "ammonium (NH₄⁺)": (NH4, ("ammonium sulfate",)),
    "sulfate (SO₄²⁻)": (SO4, ()),
    "phosphate (H₂PO₄⁻)": (H2PO4, ()),
    "magnesium (Mg²⁺)": (MG, ()),
    "manganese (Mn²⁺)": (MN, ()),
    "zinc (Zn²⁺)": (ZN, ()),
    "copper (Cu²⁺)": (CU, ()),
    "iron(II) (Fe²⁺)": (FE, ()),
}
ELEMENTS = {
    "N": (
        N,
        (
            "calcium nitrate tetrahydrate",
            "magnesium nitrate hexahydrate",
            "ammonium sulfate",
        ),
    ),
    "P": (P, ()),
    "K": (K, ("potassium sulfate",)),
    "Ca": (CA, ()),
    "Mg": (MG, ()),
    "S": (S, ()),
    "Mn": (MN, ()),
    "Zn": (ZN, ()),
    "Cu": (CU, ()),
    "Fe": (FE, ()),
}
HEATED = {  # what the dry salt weighs, and the waters a handbook gives the crystal
    "MgSO4": (MG + SO4, 7),
    "CuSO4": (CU + SO4, 5),
    "ZnSO4": (ZN + SO4, 7),
    "CaSO4": (CA + SO4, 2),
    "Na2CO3": (2 * NA + 12.011 + 3 * OXYGEN, 10),
}


def dry(name):
    return SALTS[name][0]


def whole(name):
    mass, waters = SALTS[name]
    return mass + waters * WATER


def twice(name, word, table):
    return 2 if name in table[word][1] else 1


@pytest.mark.parametrize("key", keys("02"))
def test_pupils_have_numbers_of_their_own(key):
    has_sets_for_a_school(key)


def test_an_amount_weighs():
    for one in pupils(1):
        amount, name = one.task.given["amount"], one.task.given["salt"]
        agrees(one, amount * whole(name))
        is_slip(one, whole(name), "one mole")
        is_slip(one, whole(name) / amount, "divides")
        if SALTS[name][1]:
            is_slip(one, amount * dry(name), "water")
        if SALTS[name][1] > 1:
            is_slip(one, amount * (dry(name) + WATER), "Only one water")


def test_particles_on_the_balance():
    for one in pupils(2):
        mass, name, ion = (one.task.given[k] for k in ("mass", "salt", "ion"))
        count = twice(name, ion, IONS)
        agrees(one, 1000 * count * mass / whole(name))
        is_slip(one, 1000 * count * mass / IONS[ion][0], "for the ion")
        is_slip(one, mass * whole(name), "multiplies")
        if count == 2:
            is_slip(one, 1000 * mass / whole(name), "more than one")
            is_slip(one, 1000 * mass / IONS[ion][0], "for the ion")
        if SALTS[name][1]:
            is_slip(one, 1000 * count * mass / dry(name), "water")


def test_part_of_the_sack():
    for one in pupils(3):
        purity, name, symbol = (one.task.given[k] for k in ("purity", "salt", "symbol"))
        count = twice(name, symbol, ELEMENTS)
        pure = 100 * count * ELEMENTS[symbol][0] / whole(name)
        agrees(one, pure * purity / 100)
        is_slip(one, pure, "pure salt")
        is_slip(one, pure / purity * 100, "divides by the purity")
        if count == 2:
            is_slip(one, pure / 2 * purity / 100, "more than one")
        if SALTS[name][1]:
            is_slip(one, pure * purity / 100 * whole(name) / dry(name), "water")


def test_grams_for_a_concentration():
    for one in pupils(4):
        given = one.task.given
        name, ion = given["salt"], given["ion"]
        count = twice(name, ion, IONS)
        moles = given["wanted"] * given["volume"] / 1000
        agrees(one, moles / count * whole(name))
        is_slip(one, given["wanted"] / 1000 / count * whole(name), "one litre")
        is_slip(one, moles * IONS[ion][0], "ion alone")
        if count == 2:
            is_slip(one, moles * whole(name), "more than one")
        if SALTS[name][1]:
            is_slip(one, moles / count * dry(name), "water")


def test_bag_with_more_water():
    for one in pupils(5):
        mass, asked, bag = (one.task.given[k] for k in ("mass", "asked", "bag"))
        assert dry(asked) == dry(bag)
        assert SALTS[asked][1] < SALTS[bag][1]
        needed = mass / whole(asked) * whole(bag)
        agrees(one, needed - mass)
        is_slip(one, needed, "from the start")
        is_slip(one, mass * whole(asked) / whole(bag), "in already")
        is_slip(one, mass - mass * whole(asked) / whole(bag), "more water")


def test_crystal_water():
    for one in pupils(6):
        crucible, before, after = (
            one.task.given[k] for k in ("crucible", "before", "after")
        )
        mass, waters = HEATED[one.task.given["salt"]]
        found = ((before - after) / WATER) / ((after - crucible) / mass)
        agrees(one, found)
        assert one.check(waters).right  # the whole number that a handbook gives
        assert one.check(f"{found:.1f}").right
        is_slip(one, (before - after) / (after - crucible), "grams")
        is_slip(one, (before - after) / WATER / after * mass, "crucible")
        is_slip(
            one, (before - after) / WATER / (before - crucible) * mass, "still holds"
        )


def test_neighbouring_waters_are_refused():
    for one in pupils(6):
        waters = HEATED[one.task.given["salt"]][1]
        is_slip(one, waters - 1, "more than a rounding")
        is_slip(one, waters + 1, "more than a rounding")


def test_sulfur_by_barium():
    possible = [S / whole(name) for name in SALTS if "sulfate" in name]
    possible.append(3 * S / whole("potassium magnesium sulfate"))
    for one in pupils(7):
        sample, found = one.task.given["sample"], one.task.given["found"]
        share = found * S / BARYTE / sample
        agrees(one, 100 * share)
        assert min(abs(share / s - 1) for s in possible) < 0.013  # a salt that there is
        is_slip(one, 100 * found * SO4 / BARYTE / sample, "SO₄")
        is_slip(one, 100 * found / sample, "barium sulfate per sample")
        is_slip(one, 100 * S / BARYTE, "whatever the sample")


def test_jar_without_a_label():
    for one in pupils(8):
        names, sample, found = (one.task.given[k] for k in ("names", "sample", "found"))
        off = {
            letter: abs(found / sample / (BARYTE / whole(name)) - 1)
            for letter, name in zip("ABCD", names, strict=True)
        }
        within = [letter for letter in off if off[letter] < 0.0125]
        assert within == [one.task.answer]
        assert sorted(off.values())[1] > 0.03  # no other comes near
        for letter, option in one.task.options.items():
            assert names["ABCD".index(letter)] in option.words
            if letter != one.task.answer:
                is_slip(one, letter, "would give")


def test_all_jars_are_asked():
    assert {one.task.answer for one in pupils(8)} == set("ABCD")


def test_nitrates_come_with_their_caution():
    for number in (2, 4):
        for one in pupils(number):
            told = any("feed fire" in text for text in one.task.care)
            assert told == ("nitrate" in one.task.given["salt"])
